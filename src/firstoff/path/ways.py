"""The way of each move in the work frame of the stock: its ends, and the arc between them if it is one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import PLANE_AXES, Arcs, Floats, Ints, Kind, Moves

Bools = NDArray[np.bool_]
Rows = NDArray[np.intp]

OFF_ARC_MM = 0.5
"""An arc whose start or end lies farther than this from its circle is not followed: the widest tolerance that a reading accepts."""
NOWHERE_MM = 1e-9
"""A shorter way is none."""

AXES = np.zeros((20, 3), np.intp)
"""Axis numbers (first, second, normal) by plane number."""
for _plane, _numbers in PLANE_AXES.items():
    AXES[_plane] = _numbers


@dataclass(frozen=True, slots=True)
class Ways:
    """One row a move: `start` and `end` f8[N, 3] (NaN where not known), `arc` i4[N] row of `arcs` or -1. Every arc has a row of its own
    and its centre lies in the work frame."""

    start: Floats
    end: Floats
    arc: Ints
    arcs: Arcs


def ways_of(moves: Moves, arcs: Arcs, start_mm: Floats, end_mm: Floats) -> Ways:
    """Ways as programmed. An arc's centre is shifted by as much as its end is."""
    start, end = np.array(start_mm, float).reshape(-1, 3), np.array(end_mm, float).reshape(-1, 3)
    rows = np.flatnonzero(moves.arc >= 0)
    old = moves.arc[rows]
    plane = arcs.plane[old]
    centre = arcs.centre_mm[old].reshape(-1, 2) + in_plane(end[rows] - moves.end_mm[rows], plane)
    number = np.full(len(moves), -1, np.int32)
    number[rows] = np.arange(rows.size, dtype=np.int32)
    return Ways(start, end, number, Arcs(centre, plane, arcs.radius_mm[old], arcs.sweep_rad[old], arcs.rise_mm[old]))


def in_plane(points: Floats, plane: NDArray[np.uint8]) -> Floats:
    """f8[K, 2]: points f8[K, 3] in the first and second axis of their planes."""
    return np.take_along_axis(points, AXES[plane][:, :2], axis=1)


def settled(ways: Ways) -> tuple[Ways, Rows]:
    """Ways whose arcs lead from their start to their end exactly, and the moves whose arcs do not (not even within tolerance)."""
    rows = np.flatnonzero(ways.arc >= 0)
    if rows.size == 0:
        return ways, rows
    arcs = ways.arcs
    out, back = (in_plane(points[rows], arcs.plane) - arcs.centre_mm for points in (ways.start, ways.end))
    angle0, angle1 = np.arctan2(out[:, 1], out[:, 0]), np.arctan2(back[:, 1], back[:, 0])
    begin = angle1 - arcs.sweep_rad
    miss = np.hypot(out[:, 0] - arcs.radius_mm * np.cos(begin), out[:, 1] - arcs.radius_mm * np.sin(begin))
    miss = np.maximum(miss, np.abs(np.hypot(back[:, 0], back[:, 1]) - arcs.radius_mm))
    normal = AXES[arcs.plane][:, 2]
    climb = ways.end[rows, normal] - ways.start[rows, normal]
    miss = np.maximum(miss, np.abs(climb - arcs.rise_mm))
    near = miss <= OFF_ARC_MM
    more = (angle1 - angle0 - arcs.sweep_rad + np.pi) % (2 * np.pi) - np.pi
    sweep = np.where(near, arcs.sweep_rad + more, arcs.sweep_rad)
    rise = np.where(near, climb, arcs.rise_mm)
    true = Arcs(arcs.centre_mm, arcs.plane, np.where(near, np.hypot(out[:, 0], out[:, 1]), arcs.radius_mm), sweep, rise)
    return Ways(ways.start, ways.end, ways.arc, true), rows[~near]


def goes_somewhere(moves: Moves, ways: Ways) -> Bools:
    """bool[N]: the move goes, or may go, somewhere."""
    step = ways.end - ways.start
    goes = np.asarray((np.abs(step) > NOWHERE_MM).any(axis=1))
    lost = np.flatnonzero(np.isnan(step).any(axis=1))
    if lost.size:
        goes[lost] |= ~_stays(moves, step, lost)
    goes |= moves.arc >= 0
    goes &= moves.kind != Kind.DWELL
    return goes


def _stays(moves: Moves, step: Floats, rows: Rows) -> Bools:
    """bool[K]: each axis of the move keeps a place that nobody knows, for it was not named again."""
    before = np.maximum(rows - 1, 0)
    number, former = moves.end_mm[rows], moves.end_mm[before]
    same = (number == former) | (np.isnan(number) & np.isnan(former))
    same &= (moves.frame[rows] == moves.frame[before]) & (rows > 0)[:, None]
    quiet: Bools = (np.isfinite(step[rows]) | same).all(axis=1)
    return quiet
