"""Moves taken apart into lines and arcs over the stock: the way of the tip, with what a rapid may do instead."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.path.pieces import Pieces
from firstoff.path.ways import NOWHERE_MM, Bools, Rows, Ways, goes_somewhere, settled, ways_of
from firstoff.program.moves import Arcs, Flag, Floats, Kind, Moves

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
    rapid_mm_per_s: Sequence[float] = EQUAL_SPEEDS,
) -> Pieces:
    """The pieces of all moves, in order.

    `start_mm`, `end_mm` f8[N, 3]: tip of each move in the work frame of the stock, NaN where nobody knows; arc centres follow the ends.
    `rapid_path`: ``straight``, ``dog-leg``, or None where nobody says: then the dog-leg comes as ghost pieces, *before* the straight
    piece, so that it meets the stock as the move finds it. On a dog-leg each axis runs at its own `rapid_mm_per_s` until it arrives
    (only their ratios matter; equal where not given). `radii_mm`: cutter radius by D register, negative on the other side.

    A move whose start or end is not known is listed in `unknown` and makes no piece; so is an arc that does not begin or end on its
    circle. Raises `ValueError` for another `rapid_path` and for speeds that are not greater than 0.
    """
    speeds = np.asarray(rapid_mm_per_s, float)
    if rapid_path not in RAPID_PATHS:
        raise ValueError(f"rapid_path={rapid_path} must be straight, dog-leg or None")
    if speeds.shape != (3,) or not ((speeds > 0) & np.isfinite(speeds)).all():
        raise ValueError(f"rapid_mm_per_s={tuple(rapid_mm_per_s)} must be three speeds greater than 0")
    ways, off_arc = settled(ways_of(moves, arcs, start_mm, end_mm))
    known = np.asarray((np.isfinite(ways.start) & np.isfinite(ways.end)).all(axis=1))
    known[off_arc] = False
    known &= ~np.isin(
        moves.comp_register,
        [number for number in np.unique(moves.comp_register).tolist() if number >= 0 and radii_mm.get(number) != 0.0],
    )
    goes = goes_somewhere(moves, ways)
    rows = np.flatnonzero(goes & known)
    rapid = made_at_rapid(moves)
    legs = dog_legs(ways, rows[rapid[rows]], speeds) if rapid_path != "straight" else None
    if legs is not None and rapid_path == "dog-leg":
        rows = rows[~np.isin(rows, legs.move)]
    return _joined(moves, ways, rows, legs, rapid, rapid_path is None, np.flatnonzero(goes & ~known))


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


def _joined(
    moves: Moves, ways: Ways, rows: Rows, legs: Lines | None, rapid: Bools, legs_are_ghosts: bool, unknown: Rows
) -> Pieces:
    """Pieces of `rows` and of `legs`, those of a move side by side, its legs first."""
    move, start, end, arc = rows, ways.start[rows], ways.end[rows], ways.arc[rows]
    ghost = np.zeros(rows.size, np.bool_)
    if legs is not None and legs.move.size:
        move = np.concatenate([legs.move, rows])
        start, end = np.concatenate([legs.start, start]), np.concatenate([legs.end, end])
        arc = np.concatenate([np.full(legs.move.size, -1, np.int32), arc])
        ghost = np.concatenate([np.full(legs.move.size, legs_are_ghosts), ghost])
        order = np.argsort(move, kind="stable")
        move, start, end, arc, ghost = move[order], start[order], end[order], arc[order], ghost[order]
    arcs = ways.arcs
    centre = np.ascontiguousarray(arcs.centre_mm)
    pieces = Pieces(
        move.astype(np.int32),
        moves.tool[move],
        start,
        end,
        arc,
        Arcs(centre, arcs.plane, arcs.radius_mm, arcs.sweep_rad, arcs.rise_mm),
        rapid[move],
        ghost,
        unknown.astype(np.int32),
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
        *(centre, arcs.plane, arcs.radius_mm, arcs.sweep_rad, arcs.rise_mm),
    ):
        array.setflags(write=False)
    return pieces
