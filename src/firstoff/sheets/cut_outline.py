"""Outlines of the followed stock, as thin lines of a drawing: what stands at each level seen from above, and its height seen from the front.

A line is true to half a cell of the grid that is drawn (the one that was followed, or every second, third ... cell of it).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from firstoff.removal.field import NOTHING, Field
from firstoff.removal.swept import Surfaces

Line = NDArray[np.float64]
"""f8[K, 2] corners of a line, mm; a loop ends where it begins."""
Mask = NDArray[np.bool_]
MOST_CELLS = 400
"""Cells drawn along the longer side: finer than a print can show at these sizes."""
MOST_LEVELS = 6
UNDER_MM = 0.06
"""A level is cut this far under its floor, so that the floor itself lies above the cut."""
APART_MM = 0.1
"""Two floors nearer than this are one level."""
LEAST_MM2 = 2.0
"""Floors smaller than this have no line of their own."""
SMOOTH = 0.55
"""Steps of a slanted line in the grid are evened out within this part of a cell."""


@dataclass(frozen=True, slots=True)
class Outline:
    """`plan`: loops seen from above. `front`: (X, Z) of what is seen from the front, highest first; `hidden`: (X, Z) of hollows behind it."""

    plan: tuple[Line, ...]
    front: tuple[Line, ...]
    hidden: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class _Heights:
    """Heights f8[rows, columns] in the work frame, NaN where there is nothing, with the place of the first cell's middle."""

    top: NDArray[np.float64]
    x0: float
    y0: float
    cell: float


def outline_of(before: Field, after: Field, surfaces: Surfaces) -> Outline:
    """The lines of what is left."""
    heights, blank = _heights(after), ~np.isnan(_heights(before).top)
    if not np.isfinite(heights.top).any():
        return Outline((), (), ())
    loops: list[Line] = []
    for level in _levels(heights, surfaces):
        loops += loops_of(np.nan_to_num(heights.top, nan=-np.inf) > level, heights.x0, heights.y0, heights.cell)
    front, hidden = _from_the_front(heights, blank, after.bottom_mm)
    return Outline(tuple(loops), front, hidden)


def blank_outline(before: Field) -> tuple[Line, ...]:
    """The loops round the blank, whatever its shape."""
    heights = _heights(before)
    return tuple(loops_of(~np.isnan(heights.top), heights.x0, heights.y0, heights.cell))


def _heights(field: Field) -> _Heights:
    grid = field.grid
    step = max(1, -(-max(grid.rows, grid.columns) // MOST_CELLS))
    at = step // 2
    top = field.top[at::step, at::step].astype(np.float64)
    top = np.where(top > NOTHING / 2, top + grid.z0_mm, np.nan)
    middle = (at + 0.5) * grid.cell_mm
    return _Heights(np.pad(top, 1, constant_values=np.nan), grid.x0_mm + middle - step * grid.cell_mm,
                    grid.y0_mm + middle - step * grid.cell_mm, grid.cell_mm * step)  # fmt: skip


def _levels(heights: _Heights, surfaces: Surfaces) -> list[float]:
    """Heights to cut at, highest first: just under the highest ground, under each floor, and over nothing at all."""
    floors = sorted((floor.z_mm for floor in surfaces.floors if floor.area_mm2 >= LEAST_MM2), reverse=True)
    wanted = [float(np.nanmax(heights.top)), *floors]
    levels: list[float] = []
    for z in sorted(wanted, reverse=True):
        if not levels or levels[-1] - (z - UNDER_MM) > APART_MM:
            levels.append(z - UNDER_MM)
    return [*levels[: MOST_LEVELS - 1], -1e9]


# --- loops round a region --------------------------------------------------------------------------------------------


def loops_of(inside: Mask, x0: float, y0: float, cell: float) -> list[Line]:
    """Loops round the cells of bool[rows, columns], which must touch no border; (`x0`, `y0`) is the middle of the first cell."""
    following = _borders(inside)
    loops = []
    while following:
        start, ends = next(iter(following.items()))
        line, at = [start], ends[0]
        _take(following, start, at)
        while at != start:
            line.append(at)
            ends = following[at]
            step = _turn(line[-2], at, ends)
            _take(following, at, step)
            at = step
        corners = np.array(line, dtype=np.float64)
        middles = (corners + np.roll(corners, -1, axis=0)) / 2  # of the cells' edges: halves every step
        row, column = middles[:, 0], middles[:, 1]
        points = np.column_stack([x0 + (column - 0.5) * cell, y0 + (row - 0.5) * cell])
        away = points - points.mean(axis=0)
        points = np.roll(points, -int(np.argmax(np.hypot(away[:, 0], away[:, 1]))), axis=0)  # a corner, if it has any
        loops.append(simplified(np.vstack([points, points[:1]]), SMOOTH * cell))
    return [loop for loop in loops if len(loop) > 3]


Corner = tuple[int, int]


def _borders(inside: Mask) -> dict[Corner, list[Corner]]:
    """Edges between inside and outside as steps from corner to corner (row, column), the inside on their left."""
    found: dict[Corner, list[Corner]] = {}
    rows, columns = np.nonzero(inside[1:, :] != inside[:-1, :])
    for r, c, up in zip((rows + 1).tolist(), columns.tolist(), inside[1:, :][rows, columns].tolist(), strict=True):
        a, b = (r, c), (r, c + 1)
        found.setdefault(a if up else b, []).append(b if up else a)
    rows, columns = np.nonzero(inside[:, 1:] != inside[:, :-1])
    for r, c, right in zip(rows.tolist(), (columns + 1).tolist(), inside[:, 1:][rows, columns].tolist(), strict=True):
        a, b = (r, c), (r + 1, c)
        found.setdefault(b if right else a, []).append(a if right else b)
    return found


def _take(following: dict[Corner, list[Corner]], start: Corner, end: Corner) -> None:
    following[start].remove(end)
    if not following[start]:
        del following[start]


def _turn(before: Corner, at: Corner, ends: list[Corner]) -> Corner:
    """Where two loops touch in a corner, the way to the left: each keeps to its own cells."""
    if len(ends) == 1:
        return ends[0]
    way = (at[0] - before[0], at[1] - before[1])
    left = (at[0] + way[1], at[1] - way[0])
    return left if left in ends else ends[0]


def simplified(points: Line, within: float) -> Line:
    """A line with as few corners as stay within a distance of it (Ramer 1972, Douglas and Peucker 1973)."""
    keep = np.zeros(len(points), dtype=bool)
    keep[[0, -1]] = True
    waiting = [(0, len(points) - 1)]
    while waiting:
        first, last = waiting.pop()
        if last - first < 2:
            continue
        away = _distance(points[first + 1 : last], points[first], points[last])
        worst = int(np.argmax(away))
        if away[worst] > within:
            middle = first + 1 + worst
            keep[middle] = True
            waiting += [(first, middle), (middle, last)]
    return points[keep]


def _distance(points: Line, a: Line, b: Line) -> NDArray[np.float64]:
    """Of each point from the stretch between two."""
    way, off = b - a, points - a
    long = float(way @ way)
    along = np.clip(off @ way / long, 0.0, 1.0) if long > 0.0 else np.zeros(len(points))
    left = off - along[:, None] * way
    far: NDArray[np.float64] = np.hypot(left[:, 0], left[:, 1])
    return far


# --- seen from the front ---------------------------------------------------------------------------------------------


def _from_the_front(heights: _Heights, blank: Mask, bottom: float) -> tuple[tuple[Line, ...], tuple[Line, ...]]:
    top = heights.top
    there = np.isfinite(top).any(axis=0)
    highest = np.where(there, np.max(np.where(np.isfinite(top), top, -np.inf), axis=0), np.nan)
    left = np.where(np.isnan(top), bottom, top)  # what was cut through lies open down to the bottom
    hollow = _hollows(left, blank)
    lowest = np.min(np.where(hollow, left, np.inf), axis=0)
    lowest = np.where(np.isfinite(lowest) & (lowest < np.nan_to_num(highest, nan=-np.inf) - APART_MM), lowest, np.nan)
    rim = highest
    return _profiles(heights, highest, bottom), _hidden(heights, lowest, rim)


def _hollows(left: NDArray[np.float64], blank: Mask) -> Mask:
    """Cells below the highest ground that no way through such cells leads out of: pockets, slots that are closed, holes."""
    ground = float(np.max(left[blank])) if blank.any() else 0.0
    open_ = ~blank | (left < ground - APART_MM)
    labels, _ = ndimage.label(open_)
    outside = np.unique(labels[~blank])
    hollow: Mask = open_ & ~np.isin(labels, outside)
    return hollow


def _profiles(heights: _Heights, z: NDArray[np.float64], ends: float) -> tuple[Line, ...]:
    """Lines along X through the known heights, each down to `ends` at both sides."""
    return tuple(_profile(heights, z, first, last, (ends, ends)) for first, last in _runs(np.isfinite(z)))


def _hidden(heights: _Heights, lowest: NDArray[np.float64], rim: NDArray[np.float64]) -> tuple[Line, ...]:
    """The same through the floors of hollows, each up to the rim at both sides."""
    runs = _runs(np.isfinite(lowest))
    return tuple(
        _profile(heights, lowest, first, last, (float(rim[first]), float(rim[last - 1]))) for first, last in runs
    )


def _profile(heights: _Heights, z: NDArray[np.float64], first: int, last: int, ends: tuple[float, float]) -> Line:
    """Columns `first` .. `last` as a line of steps, with its two ends."""
    edges = heights.x0 + heights.cell * (np.arange(first, last + 1, dtype=np.float64) - 0.5)
    x = np.repeat(edges, 2)
    return simplified(np.column_stack([x, [ends[0], *np.repeat(z[first:last], 2), ends[1]]]), SMOOTH * heights.cell)


def _runs(known: Mask) -> Iterable[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], known.astype(np.int8), [0]])))
    return zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
