"""Moves and pieces to test with, built in the work frame: what is programmed is where the tip goes."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

import numpy as np

from firstoff.path.pieces import Pieces
from firstoff.path.placing import pieces_of
from firstoff.program.moves import PLANE_AXES, Arcs, Flag, Kind, Moves

NAN = math.nan
TURN = 2 * math.pi


def moves_of(ends, *, kind=None, arc=None, tool=None, flags=None, register=None, frame=None) -> Moves:
    """Moves with programmed ends f8[N, 3]; feed moves of T1 unless told otherwise."""
    ends = np.array(ends, float).reshape(-1, 3)
    count = len(ends)

    def column(values, default, dtype):
        return np.full(count, default, dtype) if values is None else np.array(values, dtype)

    return Moves(
        column(kind, int(Kind.FEED), np.uint8),
        ends,
        np.zeros((count, 3), np.int16) if frame is None else np.array(frame, np.int16),
        column(arc, -1, np.int32),
        np.full(count, 10.0),
        np.full(count, 100.0),
        column(tool, 1, np.int32),
        column(register, -1, np.int32),
        column(flags, 0, np.uint16),
        np.arange(1, count + 1, dtype=np.int32),
        np.full(count, -1, np.int32),
    )


def arcs_of(*rows: tuple[float, float, int, float, float, float]) -> Arcs:
    """Rows of (centre, centre, plane, radius, sweep, rise)."""
    table = np.array(rows, float).reshape(-1, 6)
    return Arcs(
        table[:, :2].copy(), table[:, 2].astype(np.uint8), table[:, 3].copy(), table[:, 4].copy(), table[:, 5].copy()
    )


def starts_of(moves: Moves, begin: Sequence[float] = (NAN, NAN, NAN)) -> np.ndarray:
    """f8[N, 3]: each move starts where the one before ended, the first at `begin`."""
    return np.vstack([np.array([begin], float), moves.end_mm[:-1]]) if len(moves) else moves.end_mm.copy()


def placed(moves: Moves, arcs: Arcs | None = None, begin: Sequence[float] = (0.0, 0.0, 0.0), **how) -> Pieces:
    """Pieces of moves whose work frame is the one they are programmed in."""
    how = {"rapid_path": "straight", "radii_mm": {}} | how
    return pieces_of(moves, arcs_of() if arcs is None else arcs, starts_of(moves, begin), moves.end_mm, **how)


def chain(*pieces: tuple) -> tuple[Moves, Arcs]:
    """Moves from ("line", x, y, z) and ("arc", plane, centre, centre, sweep, rise), starting at the origin."""
    at, ends, kind, arc, rows = np.zeros(3), [], [], [], []
    for what, *numbers in pieces:
        if what == "line":
            at = np.array(numbers, float)
            kind.append(int(Kind.FEED))
            arc.append(-1)
        else:
            plane, c0, c1, sweep, rise = numbers
            first, second, normal = PLANE_AXES[plane]
            radius = math.hypot(at[first] - c0, at[second] - c1)
            angle = math.atan2(at[second] - c1, at[first] - c0) + sweep
            at = at.copy()
            at[first], at[second] = c0 + radius * math.cos(angle), c1 + radius * math.sin(angle)
            at[normal] += rise
            kind.append(int(Kind.ARC))
            arc.append(len(rows))
            rows.append((c0, c1, plane, radius, sweep, rise))
        ends.append(at)
    return moves_of(ends, kind=kind, arc=arc), arcs_of(*rows)


def random_chain(rng: np.random.Generator, count: int, size: float = 3.0) -> tuple[Moves, Arcs]:
    """Lines, arcs and helices in all planes, many of them short."""
    at, pieces = np.zeros(3), []
    for _ in range(count):
        scale = size * 10 ** rng.uniform(-3, 0)
        if rng.random() < 0.6:
            at = at + rng.normal(0, scale, 3)
            pieces.append(("line", *at))
        else:
            plane = int(rng.choice([17, 18, 19]))
            first, second, _ = PLANE_AXES[plane]
            c = at[[first, second]] + rng.normal(0, scale, 2)
            sweep = rng.uniform(0.05, 7) * rng.choice([-1, 1])
            pieces.append(("arc", plane, *c, sweep, rng.choice([0.0, rng.normal(0, scale)])))
            at = chain(*pieces)[0].end_mm[-1]
    return chain(*pieces)


def random_pieces(rng: np.random.Generator, count: int, **how) -> Pieces:
    """Pieces of a random chain, some of them at rapid, some as ghosts, of two tools."""
    moves, arcs = random_chain(rng, count)
    rapid = (rng.random(count) < 0.2) & (moves.arc < 0)
    moves = dataclasses.replace(
        moves,
        kind=np.where(rapid, int(Kind.RAPID), moves.kind).astype(np.uint8),
        tool=np.sort(rng.integers(1, 3, count)).astype(np.int32),
    )
    return placed(moves, arcs, **({"rapid_path": None} | how))


def points_of(pieces: Pieces, row: int, count: int = 50) -> np.ndarray:
    """f8[count, 3] points along one piece, from its start to its end, written without the kernels."""
    part = np.linspace(0, 1, count)[:, None]
    points = pieces.start_mm[row] + part * (pieces.end_mm[row] - pieces.start_mm[row])
    arc = int(pieces.arc[row])
    if arc >= 0:
        first, second, _ = PLANE_AXES[int(pieces.arcs.plane[arc])]
        centre = pieces.arcs.centre_mm[arc]
        ray = complex(*(pieces.start_mm[row][[first, second]] - centre))
        turned = ray * np.exp(1j * part[:, 0] * pieces.arcs.sweep_rad[arc])
        points[:, first], points[:, second] = centre[0] + turned.real, centre[1] + turned.imag
    return points


def contour(
    *pieces: tuple, side: str, begin: Sequence[float], lead: Sequence[float], leave: Sequence[float]
) -> tuple[Moves, Arcs]:
    """Under compensation on the `left` or `right`: rapid to `begin`, straight in to `lead`, `pieces` as in `chain`, straight out to
    `leave` with compensation off. D1 is in force."""
    moves, arcs = chain(("line", *begin), ("line", *lead), *pieces, ("line", *leave))
    flags, register = np.zeros(len(moves), np.uint16), np.full(len(moves), -1, np.int32)
    flags[1:-1], register[1:-1] = int(Flag.COMP_LEFT if side == "left" else Flag.COMP_RIGHT), 1
    kind = moves.kind.copy()
    kind[0] = int(Kind.RAPID)
    return dataclasses.replace(moves, flags=flags, comp_register=register, kind=kind), arcs


def beside(moves: Moves, arcs: Arcs, radius: float, **how) -> Pieces:
    """Pieces with compensation made by `radius` in D1, inside corners crossed."""
    return placed(moves, arcs, **({"radii_mm": {1: radius}, "comp_corner": "intersect"} | how))


def trace(pieces: Pieces, first: int, last: int, count: int = 200) -> np.ndarray:
    """f8[M, 3]: points along the pieces of moves `first` to `last`."""
    rows = np.flatnonzero((pieces.move >= first) & (pieces.move <= last))
    return np.vstack([points_of(pieces, row, count if pieces.arc[row] >= 0 else 20) for row in rows.tolist()])
