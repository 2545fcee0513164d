"""The closed skin of a field as triangles: every cell a square prism, level areas and walls merged to rectangles.

Rectangles of different sizes lie side by side, so each takes up the corners of its neighbours that lie on its sides; then every edge
belongs to two triangles. Two things that would put four triangles on one edge are parted by less than any shop can tell: where two
prisms touch along an upright edge only, the top corner of one is moved by a few nanometres to hundredths of a
micrometre; and where the underside of a hollow has just the
height of a level face, it goes to the next number that a file of this kind can hold.

A *corner* is a place of the grid of borders: i along X from 0 to the columns, j along Y from 0 to the rows, and a level, the number of a
height in a sorted table. Round a corner lie the cells a (j-1, i-1), b (j-1, i), c (j, i-1), d (j, i), numbered 0 to 3.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import Floats
from firstoff.removal.field import NOTHING, Field, Grid
from firstoff.removal.growing import settled

Longs = NDArray[np.int64]
Bools = NDArray[np.bool_]
Singles = NDArray[np.float32]

NOTCH = 4.0
"""By how many steps of single precision, at the farthest coordinate, a corner is moved where two prisms would touch along an edge."""
A, B, C, D = range(4)
TO_X, TO_Y = np.array([-1, 1, -1, 1]), np.array([-1, -1, 1, 1])
"""Where the middle of each cell lies from the corner."""


@dataclass(frozen=True, slots=True)
class _Solid:
    """What is solid, by levels. `level` i8[rows + 2, columns + 2] of each column's top, 0 (the bottom) where nothing stands or beyond the
    grid; `hollow` the same shape: columns with gaps; `gaps` i8[K, 4] (row, column counted from the padded edge, low, high level);
    `z` f4[L] height of each level."""

    level: Longs
    hollow: Bools
    gaps: Longs
    z: Singles


@dataclass(frozen=True, slots=True)
class _Rectangles:
    """Rectangles of one facing: level ones (u = X, v = Y), walls along Y (u = Y, v = Z) or along X (u = X, v = Z).

    `at` i8[N] the level, i or j that they lie on; `u`, `v` i8[N, 2] from, to; `flip` bool[N]: seen from outside, u to v turns clockwise.
    `solid`, `empty` i8[N, 4] the cell round each corner (u0 v0, u1 v0, u1 v1, u0 v1) that is solid, and that is not (-1 for level ones).
    """

    kind: str
    at: Longs
    u: Longs
    v: Longs
    flip: Bools
    solid: Longs
    empty: Longs


def triangles_of(field: Field) -> Singles:
    """f4[K, 3, 3] the closed skin of what stands in a field, work frame, counter-clockwise seen from outside."""
    solid = _levels(settled(field))
    faces = (_level_faces(solid), _walls(solid, along_y=True), _walls(solid, along_y=False))
    notches = _notches(solid)
    return _triangles(faces, notches, solid, field.grid)


def _levels(field: Field) -> _Solid:
    grid = field.grid
    z0, bottom = grid.z0_mm, np.float32(field.bottom_mm)
    stands = field.top > np.float32(max(field.bottom_mm - z0, float(NOTHING)))
    top = np.where(stands, _written(field.top, z0), bottom)
    low, high = _written(field.gaps[:, 2], z0), _written(field.gaps[:, 3], z0)
    low = np.maximum(low, bottom)
    ups = np.unique(np.concatenate([top.ravel(), low]))
    ups = ups[ups > bottom]
    while (same := np.isin(high, ups)).any():
        high[same] = np.nextafter(high[same], np.float32(np.inf))
    z = np.unique(np.concatenate([[bottom], ups, high]).astype(np.float32))
    level = np.zeros((grid.rows + 2, grid.columns + 2), np.int64)
    level[1:-1, 1:-1] = np.searchsorted(z, np.maximum(top, bottom))
    cells = field.gaps[:, :2].astype(np.int64) + 1
    hollow = np.zeros(level.shape, np.bool_)
    hollow[cells[:, 0], cells[:, 1]] = True
    gaps = np.column_stack([cells, np.searchsorted(z, low), np.searchsorted(z, high)])
    return _Solid(level, hollow, gaps, z)


def _written(heights: NDArray[np.floating], z0: float) -> Singles:
    """Heights above the grid's level as they are written: nanometres are not told apart from rounding."""
    return np.round(heights.astype(np.float64) + z0, 6).astype(np.float32)


# --- level faces -------------------------------------------------------------------------------------------------------


def _level_faces(solid: _Solid) -> _Rectangles:
    rows, columns = np.nonzero(solid.level > 0)
    tops = np.column_stack([rows, columns, solid.level[rows, columns]])
    floors = solid.gaps[solid.gaps[:, 2] > 0][:, :3]
    standing = tops.copy()
    standing[:, 2] = 0
    open_below = np.zeros(solid.level.shape, np.bool_)
    under = solid.gaps[solid.gaps[:, 2] == 0]
    open_below[under[:, 0], under[:, 1]] = True
    bottoms = standing[~open_below[rows, columns]]
    ceilings = solid.gaps[:, [0, 1, 3]]
    upward = np.concatenate([_merged(tops, False), _merged(floors, True)])
    downward = np.concatenate([_merged(bottoms, False), _merged(ceilings, True)])
    both = np.concatenate([upward, downward])
    corners = np.tile([D, C, A, B], (len(both), 1))
    return _Rectangles(
        "level",
        both[:, 4],
        both[:, 2:4],
        both[:, :2],
        np.arange(len(both)) >= len(upward),
        corners,
        np.full_like(corners, -1),
    )


def _merged(cells: Longs, layers: bool) -> Longs:
    """i8[N, 5] (row from, to, column from, to, level; without the padding) of cells (row, column, level) that come along rows, or, with
    `layers`, in any order and several a column. Runs along a row, then equal runs of rows that follow each other; or down columns, if that
    makes fewer."""
    if not len(cells):
        return np.zeros((0, 5), np.int64)
    turned = cells[:, [1, 0, 2]]
    across, down = (_runs(one[_order(one, layers)]) for one in (cells, turned))
    return across if len(across) <= len(down) else down[:, [2, 3, 0, 1, 4]]


def _order(cells: Longs, layers: bool) -> Longs:
    return np.lexsort((cells[:, 1], cells[:, 0], cells[:, 2]) if layers else (cells[:, 1], cells[:, 0]))


def _runs(cells: Longs) -> Longs:
    """Rectangles of cells that come in runs along rows; see `_merged`."""
    row, column, level = cells.T
    breaks = (np.diff(row) != 0) | (np.diff(column) != 1) | (np.diff(level) != 0)
    first = np.concatenate([[0], np.flatnonzero(breaks) + 1])
    last = np.concatenate([first[1:], [len(cells)]]) - 1
    runs = np.column_stack([row[first], column[first], column[last] + 1, level[first]])
    runs = runs[np.lexsort((runs[:, 0], runs[:, 3], runs[:, 2], runs[:, 1]))]
    breaks = (np.diff(runs[:, 1:], axis=0) != 0).any(axis=1) | (np.diff(runs[:, 0]) != 1)
    first = np.concatenate([[0], np.flatnonzero(breaks) + 1])
    last = np.concatenate([first[1:], [len(runs)]]) - 1
    ends = np.column_stack([runs[first, 0], runs[last, 0] + 1, runs[first, 1], runs[first, 2]]) - 1
    return np.column_stack([ends, runs[first, 3]])


# --- walls -------------------------------------------------------------------------------------------------------------


def _walls(solid: _Solid, along_y: bool) -> _Rectangles:
    """Upright faces between neighbours: along Y between columns, or along X between rows."""
    level = solid.level.T if along_y else solid.level
    hollow = solid.hollow.T if along_y else solid.hollow
    gaps = solid.gaps[:, [1, 0, 2, 3]] if along_y else solid.gaps
    one, other = level[:-1], level[1:]
    plain = (one != other) & ~hollow[:-1] & ~hollow[1:]
    line, place = np.nonzero(plain)
    low, high = np.minimum(one, other)[plain], np.maximum(one, other)[plain]
    simple = np.column_stack([line, low, high, (one > other)[plain], place])
    walls = np.concatenate([_joined_walls(simple), _joined_walls(_hollow_walls(level, hollow, gaps))])
    first = walls[:, 3] > 0  # solid on the side of the lower column or row
    before, after = (
        (np.array([C, A, A, C]), np.array([D, B, B, D]))
        if along_y
        else (np.array([B, A, A, B]), np.array([D, C, C, D]))
    )
    return _Rectangles(
        "along y" if along_y else "along x",
        walls[:, 0],
        walls[:, 4:6] - 1,
        walls[:, 1:3],
        ~first if along_y else first,
        np.where(first[:, None], before, after),
        np.where(first[:, None], after, before),
    )


def _joined_walls(walls: Longs) -> Longs:
    """i8[N, 6] (line, low, high, side, from, to) of walls of one cell (line, low, high, side, place), in order of place within a line."""
    if not len(walls):
        return np.zeros((0, 6), np.int64)
    breaks = (np.diff(walls[:, :4], axis=0) != 0).any(axis=1) | (np.diff(walls[:, 4]) != 1)
    first = np.concatenate([[0], np.flatnonzero(breaks) + 1])
    last = np.concatenate([first[1:], [len(walls)]]) - 1
    return np.column_stack([walls[first], walls[last, 4] + 1])


def _hollow_walls(level: Longs, hollow: Bools, gaps: Longs) -> Longs:
    """Walls of one cell where one of two neighbours has hollows: what is solid in one and not in the other."""
    line, place = np.nonzero(hollow[:-1] | hollow[1:])
    if not line.size:
        return np.zeros((0, 5), np.int64)
    pair = np.arange(line.size)
    parts = []
    for step, weight in ((0, 1), (1, -1)):
        for which, height, change in _ends(level, gaps, line + step, place):
            parts.append(np.column_stack([pair[which], height, weight * change]))
    events = np.concatenate(parts)
    events = events[np.lexsort((events[:, 1], events[:, 0]))]
    balance = np.cumsum(events[:, 2])  # nil between pairs
    real = np.flatnonzero((balance[:-1] != 0) & (events[:-1, 1] < events[1:, 1]))
    owner = events[real, 0]
    walls = np.column_stack([line[owner], events[real, 1], events[real + 1, 1], balance[real] > 0, place[owner]])
    return walls[np.lexsort((walls[:, 4], walls[:, 3], walls[:, 2], walls[:, 1], walls[:, 0]))]


def _ends(level: Longs, gaps: Longs, row: Longs, column: Longs) -> list[tuple[Longs, Longs, Longs]]:
    """(which of the columns asked, level, +1 where solid begins and -1 where it ends), level by level upward."""
    top = level[row, column]
    stands = np.flatnonzero(top > 0)
    ones = np.ones(stands.size, np.int64)
    found = [(stands, np.zeros(stands.size, np.int64), ones), (stands, top[stands], -ones)]
    width = level.shape[1]
    key = gaps[:, 0] * width + gaps[:, 1]
    order = np.argsort(key, kind="stable")
    first, last = (np.searchsorted(key[order], row * width + column, side) for side in ("left", "right"))
    for nth in range(int((last - first).max(initial=0))):
        which = np.flatnonzero(first + nth < last)
        gap = gaps[order[(first + nth)[which]]]
        found += [(which, gap[:, 2], -np.ones(which.size, np.int64)), (which, gap[:, 3], np.ones(which.size, np.int64))]
    return found


# --- edges that prisms would share -------------------------------------------------------------------------------------


def _notches(solid: _Solid) -> Longs:
    """i8[N, 5] (i, j, level, cell, 1 if that cell is the empty one): corners to be moved towards a cell, because below them two cells are
    solid that touch at the corner only. Moved are the faces of the solid that ends there, or of the hollow that ends there."""
    level = solid.level
    a, b, c, d = level[:-1, :-1], level[:-1, 1:], level[1:, :-1], level[1:, 1:]
    near = solid.hollow[:-1, :-1] | solid.hollow[:-1, 1:] | solid.hollow[1:, :-1] | solid.hollow[1:, 1:]
    found = [_notches_by_hollows(solid, near)]
    for one, other, third, fourth, cells in ((a, d, b, c, (A, D)), (b, c, a, d, (B, C))):
        end = np.minimum(one, other)
        j, i = np.nonzero((end > np.maximum(third, fourth)) & ~near)
        owner = np.where(one[j, i] <= other[j, i], *cells)
        found.append(np.column_stack([i, j, end[j, i], owner, np.zeros_like(i)]))
    return np.concatenate(found)


def _notches_by_hollows(solid: _Solid, near: Bools) -> Longs:
    j, i = np.nonzero(near)
    parts = []
    for cell, (dj, di) in enumerate(((0, 0), (0, 1), (1, 0), (1, 1))):
        for which, height, change in _ends(solid.level, solid.gaps, j + dj, i + di):
            parts.append(np.column_stack([which, height, change << cell, np.full(which.size, cell)]))
    events = np.concatenate(parts) if parts else np.zeros((0, 4), np.int64)
    events = events[np.lexsort((events[:, 1], events[:, 0]))]
    state = np.cumsum(events[:, 2])
    lonely = np.isin(state[:-1], (0b1001, 0b0110)) & (events[:-1, 1] < events[1:, 1])
    ends = events[np.flatnonzero(lonely) + 1]
    return np.column_stack([i[ends[:, 0]], j[ends[:, 0]], ends[:, 1], ends[:, 3], ends[:, 2] > 0])


# --- triangles ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Numbers:
    """Numbers of corners: `rows`, `columns` of cells and `levels`, so that (level, j, i) has the number (level·(rows + 1) + j)·(columns +
    1) + i. Moved corners have the same number plus `moved`."""

    rows: int
    columns: int
    levels: int

    @property
    def moved(self) -> int:
        return self.levels * (self.rows + 1) * (self.columns + 1)

    def of(self, level: Longs, j: Longs, i: Longs) -> Longs:
        return (level * (self.rows + 1) + j) * (self.columns + 1) + i

    def along(self, axis: str, number: Longs) -> Longs:
        """Numbers by which the corners of one line along X, Y or Z follow each other."""
        if axis == "x":
            return number
        level, j, i = self.parts(number)
        if axis == "y":
            return (level * (self.columns + 1) + i) * (self.rows + 1) + j
        return (j * (self.columns + 1) + i) * self.levels + level

    def parts(self, number: Longs) -> tuple[Longs, Longs, Longs]:
        rest, i = np.divmod(number, self.columns + 1)
        level, j = np.divmod(rest, self.rows + 1)
        return level, j, i


def _triangles(faces: tuple[_Rectangles, ...], notches: Longs, solid: _Solid, grid: Grid) -> Singles:
    numbers = _Numbers(grid.rows, grid.columns, solid.z.size)
    order = np.argsort(numbers.of(notches[:, 2], notches[:, 1], notches[:, 0]), kind="stable")
    notches = notches[order]
    notched = numbers.of(notches[:, 2], notches[:, 1], notches[:, 0])
    corners = [_corners(one, numbers) for one in faces]
    taken = [_moved(one, each, notches, notched) for one, each in zip(faces, corners, strict=True)]
    still = np.unique(np.concatenate([each[~moved] for each, moved in zip(corners, taken, strict=True)]))
    parts = []
    for one, each, moved in zip(faces, corners, taken, strict=True):
        told = np.where(moved, each + numbers.moved, each)
        parts.append(_fans(told, _between(one, each, still, numbers), one.flip))
    places, which = np.unique(np.concatenate(parts), return_inverse=True)
    return _places(places, notches, notched, numbers, solid.z, grid)[which.reshape(-1, 3)]


def _corners(faces: _Rectangles, numbers: _Numbers) -> Longs:
    """i8[N, 4] numbers of the corners u0 v0, u1 v0, u1 v1, u0 v1."""
    u, v = faces.u[:, [0, 1, 1, 0]], faces.v[:, [0, 0, 1, 1]]
    at = np.broadcast_to(faces.at[:, None], u.shape)
    if faces.kind == "level":
        return numbers.of(at, v, u)
    return numbers.of(v, u, at) if faces.kind == "along y" else numbers.of(v, at, u)


def _moved(faces: _Rectangles, corners: Longs, notches: Longs, notched: Longs) -> Bools:
    """bool[N, 4]: corners that this face takes from their place."""
    if not notched.size:
        return np.zeros(corners.shape, np.bool_)
    row = np.minimum(np.searchsorted(notched, corners), notched.size - 1)
    owner, hollow = notches[row, 3], notches[row, 4] > 0
    if faces.kind == "level":
        mine = (faces.solid == owner) & (hollow == faces.flip[:, None])
    else:
        mine = np.where(hollow, faces.empty, faces.solid) == owner
    moved: Bools = (notched[row] == corners) & mine
    return moved


AXES = {"level": ("x", "y"), "along y": ("y", "z"), "along x": ("x", "z")}
"""The axes that u and v of a rectangle run along."""


def _between(faces: _Rectangles, corners: Longs, still: Longs, numbers: _Numbers) -> list[tuple[Longs, Longs, Longs]]:
    """For each of the four sides in turn (first, count, order): order[first : first + count] are the corners that lie on it, along its
    axis; the third and fourth side are gone along against it. `still`: the numbers of all corners in their place, sorted."""
    sorted_by = {}
    for axis in AXES[faces.kind]:
        keys = numbers.along(axis, still)
        order = np.argsort(keys, kind="stable")
        sorted_by[axis] = keys[order], still[order]
    u, v = AXES[faces.kind]
    found = []
    for axis, begin, end in ((u, 0, 1), (v, 1, 2), (u, 3, 2), (v, 0, 3)):
        keys, order = sorted_by[axis]
        first = np.searchsorted(keys, numbers.along(axis, corners[:, begin]), "right")
        last = np.searchsorted(keys, numbers.along(axis, corners[:, end]), "left")
        found.append((first, last - first, order))
    return found


def _fans(corners: Longs, sides: list[tuple[Longs, Longs, Longs]], flip: Bools) -> Longs:
    """i8[K, 3] triangles of rectangles with more corners on their sides, none of them with its three corners on one side.

    Going round, p is the first corner after the second of the rectangle, q the last before its fourth. The first side is fanned from p,
    the last from q, what lies between p and q from the first corner: two triangles fewer than there are corners.
    """
    counts = np.column_stack([count for _, count, _ in sides])
    size = 4 + counts.sum(axis=1)
    start = np.cumsum(size) - size
    place = np.concatenate([np.zeros((len(size), 1), np.int64), np.cumsum(counts + 1, axis=1)[:, :3]], axis=1)
    round_it = np.empty(int(size.sum()), np.int64)
    for side, (first, count, order) in enumerate(sides):
        round_it[start + place[:, side]] = corners[:, side]
        owner = np.repeat(np.arange(len(size)), count)
        nth = np.arange(owner.size) - np.repeat(np.cumsum(count) - count, count)
        source = first[owner] + (nth if side < 2 else count[owner] - 1 - nth)
        round_it[start[owner] + place[owner, side] + 1 + nth] = order[source]
    owner = np.repeat(np.arange(len(size)), size)
    here = np.arange(owner.size) - start[owner]
    after = np.where(here + 1 == size[owner], 0, here + 1)
    p, q = place[owner, 1] + 1, place[owner, 3] - 1
    apex = np.where(here < place[owner, 1], p, np.where(here >= place[owner, 3], q, 0))
    real = (here != place[owner, 1]) & (here != q)
    owner, here, after, apex = owner[real], here[real], after[real], apex[real]
    one, other = np.where(flip[owner], after, here), np.where(flip[owner], here, after)
    return np.column_stack([round_it[start[owner] + nth] for nth in (one, other, apex)])


def _places(corners: Longs, notches: Longs, notched: Longs, numbers: _Numbers, z: Singles, grid: Grid) -> Singles:
    """f4[V, 3] where the corners lie."""
    moved = corners >= numbers.moved
    level, j, i = numbers.parts(np.where(moved, corners - numbers.moved, corners))
    x, y = grid.x0_mm + grid.cell_mm * i, grid.y0_mm + grid.cell_mm * j
    if moved.any():
        cell = notches[np.searchsorted(notched, corners[moved] - numbers.moved), 3]
        step = NOTCH * float(np.spacing(np.float32(max(np.abs(x).max(), np.abs(y).max()))))
        x[moved] += step * TO_X[cell]
        y[moved] += step * TO_Y[cell]
    return np.column_stack([x, y, z[level]]).astype(np.float32)


def volume_of(triangles: NDArray[np.floating]) -> float:
    """Volume inside a closed skin, mm³ (divergence theorem)."""
    from_middle: Floats = triangles.astype(np.float64) - triangles.astype(np.float64).mean(axis=(0, 1))
    a, b, c = from_middle[:, 0], from_middle[:, 1], from_middle[:, 2]
    return float((a * np.cross(b, c)).sum() / 6.0)
