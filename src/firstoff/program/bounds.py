"""How far each move reaches and how long it is, from programmed coordinates alone."""

from __future__ import annotations

from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import PLANE_AXES, Arcs, Floats, Kind, Moves

Bools = NDArray[np.bool_]
Value = TypeVar("Value", bound=np.generic)

TURN = 2 * np.pi
LONG_RUNS = 100
"""Moves a run of one frame, on average, from which on runs are gone through one by one."""


def reach_of_moves(moves: Moves, arcs: Arcs) -> tuple[Floats, Floats]:
    """Lowest and highest programmed coordinate f8[N, 3] of each move's end and of the bulge of its arc.

    A move's start belongs to the move before. NaN where the end is not known.
    """
    low, high = moves.end_mm.copy(), moves.end_mm.copy()
    rows = np.flatnonzero(moves.arc >= 0)
    for plane, (first, second, _) in PLANE_AXES.items():
        here = rows[arcs.plane[moves.arc[rows]] == plane]
        arc = moves.arc[here]
        centre, radius, sweep = arcs.centre_mm[arc], arcs.radius_mm[arc], arcs.sweep_rad[arc]
        end = np.arctan2(moves.end_mm[here, second] - centre[:, 1], moves.end_mm[here, first] - centre[:, 0])
        for quadrant in range(4):
            passed = _passes(end - sweep, sweep, quadrant * np.pi / 2)
            axis, part = ((first, 0), (second, 1))[quadrant % 2]
            at = here[passed]
            if quadrant < 2:
                high[at, axis] = np.fmax(high[at, axis], centre[passed, part] + radius[passed])
            else:
                low[at, axis] = np.fmin(low[at, axis], centre[passed, part] - radius[passed])
    return low, high


def starts_of_moves(moves: Moves) -> Floats:
    """f8[N, 3]: where each move begins, in the frame in which it ends; NaN where the two frames differ or nobody knows."""
    start = np.empty_like(moves.end_mm)
    start[:1], start[1:] = np.nan, moves.end_mm[:-1]
    start[1:][moves.frame[1:] != moves.frame[:-1]] = np.nan
    return start


def by_frame(table: NDArray[Value], moves: Moves) -> NDArray[Value]:
    """[N, 3]: what `table` [K, 3] says of each axis of each move by the row of its frame. Frames change seldom: run by run."""
    if not len(moves):
        return np.empty((0, 3), table.dtype)
    begins = np.unique(np.flatnonzero(moves.frame[1:].ravel() != moves.frame[:-1].ravel()) // 3 + 1)
    if begins.size * LONG_RUNS > len(moves):
        return table[moves.frame, np.arange(3)]
    told = np.empty((len(moves), 3), table.dtype)
    for first, end in pairwise([0, *begins.tolist(), len(moves)]):
        for axis in range(3):  # a row of three spread over all at once is ten times slower
            told[first:end, axis] = table[moves.frame[first, axis], axis]
    return told


def rows_of(array: NDArray[Value], rows: NDArray[np.intp]) -> NDArray[Value]:
    """`array[rows]` for rising rows; where they follow one another nothing is copied."""
    if rows.size and rows[-1] - rows[0] + 1 == rows.size:
        return array[rows[0] : rows[-1] + 1]
    return array.take(rows, axis=0)


def lengths_of_moves(moves: Moves, arcs: Arcs) -> Floats:
    """f8[N] length of path in mm, arcs and helices true; 0 for a dwell, NaN where the start is not known."""
    return path_length(moves, arcs, moves.end_mm - starts_of_moves(moves))


def path_length(moves: Moves, arcs: Arcs, step_mm: Floats) -> Floats:
    """f8[N] path length in mm for steps f8[N, 3]; a helix is its true length √((R·sweep)² + rise²), NaN where its step is not known."""
    x, y, z = step_mm.T
    length: Floats = np.sqrt(x * x + y * y + z * z)
    is_arc = moves.arc >= 0
    rows = moves.arc[is_arc]
    true = np.hypot(arcs.radius_mm[rows] * arcs.sweep_rad[rows], arcs.rise_mm[rows])
    length[is_arc] = np.where(np.isnan(length[is_arc]), np.nan, true)
    length[moves.kind == Kind.DWELL] = 0.0
    return length


def _passes(start: Floats, sweep: Floats, angle: float) -> Bools:
    """Whether an arc from `start` over `sweep` passes `angle` (radians)."""
    ahead = np.where(sweep >= 0, (angle - start) % TURN, (start - angle) % TURN)
    passed: Bools = ahead <= np.abs(sweep)
    return passed
