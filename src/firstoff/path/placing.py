"""Moves taken apart into lines and arcs over the stock: the way of the tip, with what a rapid may do instead."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.path.compensated import Corners, compensated
from firstoff.path.pieces import Pieces
from firstoff.path.ways import NOWHERE_MM, Bools, Rows, Ways, goes_somewhere, settled, ways_of
from firstoff.program.moves import Arcs, Flag, Floats, Ints, Kind, Moves

AT_RAPID = (Kind.RAPID, Kind.HOME, Kind.MACHINE)
"""Kinds that are made at rapid unless `Flag.FEEDING` says otherwise."""
RAPID_PATHS = ("straight", "dog-leg", None)
EQUAL_SPEEDS = (1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True)
class Lines:
    """Straight pieces of moves `move` i8[K]: `start`, `end` f8[K, 3]."""

    move: Rows
    start: Floats
    end: Floats


def pieces_of(
    moves: Moves,
    arcs: Arcs,
    start_mm: Floats,
    end_mm: Floats,
    *,
    rapid_path: str | None,
    radii_mm: Mapping[int, float],
    comp_corner: str | None = None,
    base: str = "plain",
    rapid_mm_per_s: Sequence[float] = EQUAL_SPEEDS,
) -> Pieces:
    """The pieces of all moves, in order.

    `start_mm`, `end_mm` f8[N, 3]: tip of each move in the work frame of the stock, NaN where nobody knows; arc centres follow the ends.
    `rapid_path`: ``straight``, ``dog-leg``, or None where nobody says: then the dog-leg comes as ghost pieces, *before* the straight
    piece, so that it meets the stock as the move finds it. On a dog-leg each axis runs at its own `rapid_mm_per_s` until it arrives
    (only their ratios matter; equal where not given). Moves under cutter compensation go where the tool's centre goes: `radii_mm` by D
    register, `comp_corner` and `base` as `[control]` has them (see `firstoff.path.compensated`).

    A move whose start or end is not known is listed in `unknown` and makes no piece; so is an arc that does not begin or end on its
    circle, and a move whose compensation cannot be made. Raises `ValueError` for another `rapid_path` and for speeds that are not greater than 0.
    """
    speeds = np.asarray(rapid_mm_per_s, float)
    if rapid_path not in RAPID_PATHS:
        raise ValueError(f"rapid_path={rapid_path} must be straight, dog-leg or None")
    if speeds.shape != (3,) or not ((speeds > 0) & np.isfinite(speeds)).all():
        raise ValueError(f"rapid_mm_per_s={tuple(rapid_mm_per_s)} must be three speeds greater than 0")
    programmed, off_arc = settled(ways_of(moves, arcs, start_mm, end_mm))
    made = compensated(moves, programmed, radii_mm, comp_corner, base)
    ways, off_after = settled(made.ways)
    known = np.asarray((np.isfinite(ways.start) & np.isfinite(ways.end)).all(axis=1))
    known[off_arc] = known[off_after] = known[made.refused] = False
    goes = goes_somewhere(moves, ways)
    rows = np.flatnonzero(goes & known)
    rapid = made_at_rapid(moves)
    legs = dog_legs(ways, rows[rapid[rows]], speeds) if rapid_path != "straight" else None
    if legs is not None and rapid_path == "dog-leg":
        rows = rows[~np.isin(rows, legs.move)]
    blocks = [_main(ways, rows)]
    if made.corners.move.size:
        blocks.insert(0, _rolling(made.corners, len(ways.arcs.radius_mm)))
    if legs is not None and legs.move.size:
        blocks.insert(0, _legs(legs, rapid_path is None))
    all_arcs = _together(ways.arcs, made.corners.arcs)
    return _in_order(moves, blocks, all_arcs, rapid, np.flatnonzero(goes & ~known))


def made_at_rapid(moves: Moves) -> Bools:
    """bool[N]: rapids, homing legs and G53 moves that are not made at feed."""
    rapid: Bools = np.isin(moves.kind, [int(kind) for kind in AT_RAPID]) & ((moves.flags & Flag.FEEDING) == 0)
    return rapid


def dog_legs(ways: Ways, rows: Rows, speeds: Floats) -> Lines:
    """Legs of those moves that do not go straight when each axis runs at its own speed until it arrives."""
    start, end = ways.start[rows], ways.end[rows]
    way = end - start
    times = np.abs(way) / speeds
    longest = times.max(axis=1, initial=0.0)
    bent = ((times > 0) & (times < longest[:, None] * (1 - 1e-12))).any(axis=1)
    rows, start, end, way, times = rows[bent], start[bent], end[bent], way[bent], times[bent]
    points = [start]
    for at in np.sort(times, axis=1).T:
        gone = np.sign(way) * speeds * at[:, None]
        points.append(np.where(times <= at[:, None], end, start + gone))
    stack = np.stack(points, axis=1)
    begin, finish = stack[:, :-1].reshape(-1, 3), stack[:, 1:].reshape(-1, 3)
    real = (np.abs(finish - begin) > NOWHERE_MM).any(axis=1)
    return Lines(np.repeat(rows, 3)[real], begin[real], finish[real])


@dataclass(frozen=True, slots=True)
class _Block:
    """Pieces of one sort: `move`, `start`, `end`, `arc`, `ghost` as in `Pieces`."""

    move: Rows
    start: Floats
    end: Floats
    arc: Ints
    ghost: Bools


def _main(ways: Ways, rows: Rows) -> _Block:
    return _Block(rows, ways.start[rows], ways.end[rows], ways.arc[rows], np.zeros(rows.size, np.bool_))


def _legs(legs: Lines, ghosts: bool) -> _Block:
    size = legs.move.size
    return _Block(legs.move, legs.start, legs.end, np.full(size, -1, np.int32), np.full(size, ghosts))


def _rolling(corners: Corners, first_arc: int) -> _Block:
    size = corners.move.size
    numbers = first_arc + np.arange(size, dtype=np.int32)
    return _Block(corners.move, corners.start, corners.end, numbers, np.zeros(size, np.bool_))


def _together(arcs: Arcs, more: Arcs) -> Arcs:
    return Arcs(
        np.concatenate([arcs.centre_mm, more.centre_mm]),
        np.concatenate([arcs.plane, more.plane]),
        np.concatenate([arcs.radius_mm, more.radius_mm]),
        np.concatenate([arcs.sweep_rad, more.sweep_rad]),
        np.concatenate([arcs.rise_mm, more.rise_mm]),
    )


def _in_order(moves: Moves, blocks: list[_Block], arcs: Arcs, rapid: Bools, unknown: Rows) -> Pieces:
    """The pieces of all blocks by move; those of one move in the order of the blocks."""
    move, start, end, arc, ghost = blocks[0].move, blocks[0].start, blocks[0].end, blocks[0].arc, blocks[0].ghost
    if len(blocks) > 1:
        move = np.concatenate([block.move for block in blocks])
        order = np.argsort(move, kind="stable")
        move = move[order]
        start, end = (
            np.concatenate(all_)[order] for all_ in zip(*((one.start, one.end) for one in blocks), strict=True)
        )
        arc, ghost = (
            np.concatenate([one.arc for one in blocks])[order],
            np.concatenate([one.ghost for one in blocks])[order],
        )
    pieces = Pieces(
        move.astype(np.int32), moves.tool[move], start, end, arc, arcs, rapid[move], ghost, unknown.astype(np.int32)
    )
    for array in (
        *(
            pieces.move,
            pieces.tool,
            pieces.start_mm,
            pieces.end_mm,
            pieces.arc,
            pieces.rapid,
            pieces.ghost,
            pieces.unknown,
        ),
        *(arcs.centre_mm, arcs.plane, arcs.radius_mm, arcs.sweep_rad, arcs.rise_mm),
    ):
        array.setflags(write=False)
    return pieces
