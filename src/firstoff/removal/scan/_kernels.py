"""The fast layer of shapes and surfaces: triangles into columns of cells, cells into regions, and who made what of them.

A column is the upright line through a cell's centre. Edges are crossed by a half-open rule on sums whose order does not depend on which
triangle owns the edge, so two triangles that share an edge never both take a column on it, and never both miss it.

Symbols: x, y, z mm; c cell size; r row, k column; m move; heights above the grid's level. `frame` f8[4] is x0, y0, c and the height of the
bottom. The way of move m is `first` i8[N + 1] (its lines and arcs are rows first[m] .. first[m + 1] - 1 of `start`, `end` f8[P, 3] and `arc`
i4[P]) and, for arcs in X Y, `centre` f8[A, 2], `sweep` f8[A]. Arrays marked "filled" are outputs; arrays marked "changed" are both.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Signs = NDArray[np.int8]
Bytes = NDArray[np.uint8]

# What `sort_cells` finds in a cell.
UNMADE, FLOOR, SLOPE = range(3)
# Bits of what `find_walls` finds of a move.
WALL, LEFT, RIGHT = 1, 2, 4
# Numbers of the nearest place of a way: where it is, the way of travel there, the square of how far it is in X Y.
NEAR_X, NEAR_Y, NEAR_Z, NEAR_WX, NEAR_WY, NEAR_WZ, NEAR_FAR, NEAR = range(8)
SLICES = 48
"""Parts that the height of a wall is told in."""
SIDE_X, SIDE_Y = (1, -1, 0, 0), (0, 0, 1, -1)
"""The four neighbours of a cell."""
ASIDE = 0.5
"""A side is told left from right, and a step sideways from one along the way, where it is within 60 degrees of square to the way."""

# Numbers that `solve_columns` fills into `told`.
ODD, MIXED, GAPS, ROW_LOW, ROW_HIGH, COLUMN_LOW, COLUMN_HIGH, TOLD = range(8)


# --- triangles into columns --------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def _span(t: Floats, y: float, span: Floats) -> bool:
    """Where the row at y crosses a triangle f8[3, 3]: filled span = x, z at the left end, x, z at the right. False if it does not."""
    found = 0
    for i in range(3):
        a, b = i, (i + 1) % 3
        if t[a, 1] > t[b, 1]:
            a, b = b, a
        if t[a, 1] <= y < t[b, 1]:
            part = (y - t[a, 1]) / (t[b, 1] - t[a, 1])
            x = t[a, 0] + part * (t[b, 0] - t[a, 0])
            z = t[a, 2] + part * (t[b, 2] - t[a, 2])
            if found == 1 and x < span[0]:
                span[2], span[3] = span[0], span[1]
                span[0], span[1] = x, z
            else:
                span[2 * found], span[2 * found + 1] = x, z
            found += 1
    return found == 2


@njit(cache=True, nogil=True)
def _first(low: float, start: float, c: float, count: int) -> int:
    """Number of the first centre at or beyond `low`, from 0 to count."""
    place = math.ceil((low - start) / c - 0.5) - 1.0
    n = int(min(max(place, 0.0), float(count)))
    while n < count and start + (n + 0.5) * c < low:
        n += 1
    return n


@njit(cache=True, nogil=True)
def count_crossings(triangles: Floats, x0: float, y0: float, c: float, change: Ints) -> int:
    """How many triangles each column crosses, as differences along rows: filled change i4[rows, columns + 1].

    triangles f8[K, 3, 3]. Returns the number of all crossings.
    """
    rows, columns = change.shape[0], change.shape[1] - 1
    span = np.empty(4)
    change[:, :] = 0
    total = 0
    for n in range(triangles.shape[0]):
        t = triangles[n]
        top = max(t[0, 1], t[1, 1], t[2, 1])
        r = _first(min(t[0, 1], t[1, 1], t[2, 1]), y0, c, rows)
        while r < rows and y0 + (r + 0.5) * c < top:
            if _span(t, y0 + (r + 0.5) * c, span):
                k = _first(span[0], x0, c, columns)
                end = _first(span[2], x0, c, columns)
                if end > k:
                    change[r, k] += 1
                    change[r, end] -= 1
                    total += end - k
            r += 1
    return total


@njit(cache=True, nogil=True)
def cross_columns(
    triangles: Floats, x0: float, y0: float, z0: float, c: float, start: Longs, used: Ints, z: Singles, up: Signs
) -> None:
    """Heights and facing of all crossings, by column.

    start i8[rows, columns] first crossing of each column. Filled: used i4[rows, columns] (crossings written), z f4[total] above z0,
    up i1[total] (1 faces up, -1 down).
    """
    rows, columns = used.shape
    span = np.empty(4)
    used[:, :] = 0
    for n in range(triangles.shape[0]):
        t = triangles[n]
        turn = (t[1, 0] - t[0, 0]) * (t[2, 1] - t[0, 1]) - (t[1, 1] - t[0, 1]) * (t[2, 0] - t[0, 0])
        facing = 1 if turn > 0.0 else -1
        top = max(t[0, 1], t[1, 1], t[2, 1])
        r = _first(min(t[0, 1], t[1, 1], t[2, 1]), y0, c, rows)
        while r < rows and y0 + (r + 0.5) * c < top:
            if _span(t, y0 + (r + 0.5) * c, span):
                k = _first(span[0], x0, c, columns)
                wide = span[2] - span[0]
                while k < columns and x0 + (k + 0.5) * c < span[2]:
                    part = (x0 + (k + 0.5) * c - span[0]) / wide
                    place = start[r, k] + used[r, k]
                    z[place] = span[1] + part * (span[3] - span[1]) - z0
                    up[place] = facing
                    used[r, k] += 1
                    k += 1
            r += 1


@njit(cache=True, nogil=True)
def _sort(z: Singles, up: Signs, first: int, count: int) -> None:
    """A column's crossings by height, in place."""
    for i in range(first + 1, first + count):
        height, facing = z[i], up[i]
        j = i - 1
        while j >= first and z[j] > height:
            z[j + 1], up[j + 1] = z[j], up[j]
            j -= 1
        z[j + 1], up[j + 1] = height, facing


@njit(cache=True, nogil=True)
def solve_columns(
    start: Longs, used: Ints, z: Singles, up: Signs, bottom: float, least: float, top: Singles, told: Longs
) -> None:
    """Sort each column's crossings and find the top of what is solid.

    Changed: z, up (sorted). Filled: top f4[rows, columns] (kept where a column crosses nothing), told i8[TOLD]: columns crossed an odd
    number of times and where they lie, columns whose facings do not match, hollows thicker than `least` (`fill_gaps` writes them).
    A stretch is solid if it lies within any body by facing (bodies may overlap); where facings do not match, if it lies within an odd
    number of faces.
    """
    told[:] = 0
    told[ROW_LOW], told[COLUMN_LOW] = used.shape[0], used.shape[1]
    for r in range(used.shape[0]):
        for k in range(used.shape[1]):
            count = used[r, k]
            if count == 0:
                continue
            first = start[r, k]
            _sort(z, up, first, count)
            if count % 2 == 1:
                told[ODD] += 1
                told[ROW_LOW], told[ROW_HIGH] = min(told[ROW_LOW], r), max(told[ROW_HIGH], r)
                told[COLUMN_LOW], told[COLUMN_HIGH] = min(told[COLUMN_LOW], k), max(told[COLUMN_HIGH], k)
                continue
            balance = 0
            for i in range(first, first + count):
                balance += up[i]
            if balance != 0:
                told[MIXED] += 1
                for i in range(count):
                    up[first + i] = -1 if i % 2 == 0 else 1
            depth, end = 0, bottom
            for i in range(first, first + count):
                if depth == 0 and z[i] - end > least:
                    told[GAPS] += 1
                depth += up[i]
                if depth == 0:
                    end = z[i]
            top[r, k] = end


@njit(cache=True, nogil=True)
def fill_gaps(start: Longs, used: Ints, z: Singles, up: Signs, bottom: float, least: float, gaps: Floats) -> int:
    """The hollows that `solve_columns` counted: filled gaps f8[GAPS, 4] (row, column, low, high). Returns how many."""
    n = 0
    for r in range(used.shape[0]):
        for k in range(used.shape[1]):
            first = start[r, k]
            depth, end = 0, bottom
            for i in range(first, first + used[r, k]):
                if depth == 0 and z[i] - end > least:
                    gaps[n, 0], gaps[n, 1], gaps[n, 2], gaps[n, 3] = r, k, end, z[i]
                    n += 1
                depth += up[i]
                if depth == 0:
                    end = z[i]
    return n


# --- regions -----------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def _root(parent: Ints, n: int) -> int:
    while parent[n] != n:
        parent[n] = parent[parent[n]]
        n = parent[n]
    return n


@njit(cache=True, nogil=True)
def label_equal(key: Ints, parent: Ints, label: Ints) -> int:
    """Regions of cells that touch by a side and have the same key; cells with a key below 0 belong to none.

    key i4[rows, columns]; parent i4[cells + 1] is work space. Filled: label i4[rows, columns], from 1 by the first cell in order, 0 = none.
    Returns how many.
    """
    used = 0
    for r in range(key.shape[0]):
        for k in range(key.shape[1]):
            label[r, k] = 0
            if key[r, k] < 0:
                continue
            above = label[r - 1, k] if r > 0 and key[r - 1, k] == key[r, k] else 0
            before = label[r, k - 1] if k > 0 and key[r, k - 1] == key[r, k] else 0
            if above == 0 and before == 0:
                used += 1
                parent[used] = used
                label[r, k] = used
            elif above == 0 or before == 0:
                label[r, k] = above + before
            else:
                one, other = _root(parent, above), _root(parent, before)
                parent[max(one, other)] = min(one, other)
                label[r, k] = min(one, other)
    count = 0
    for n in range(1, used + 1):  # what a label hangs on comes before it, and has its number by then
        if parent[n] == n:
            count += 1
            parent[n] = -count
        else:
            parent[n] = parent[parent[n]]
    for r in range(key.shape[0]):
        for k in range(key.shape[1]):
            if label[r, k] > 0:
                label[r, k] = -parent[label[r, k]]
    return count


@njit(cache=True, nogil=True)
def find_middles(label: Ints, left: Longs, cell: Longs) -> None:
    """For each label the cell (numbered along rows) that half of its cells come before. Changed: left i8[L + 1], how many do. Filled: cell
    i8[L + 1], -1 where a label has none."""
    cell[:] = -1
    columns = label.shape[1]
    for r in range(label.shape[0]):
        for k in range(columns):
            n = label[r, k]
            if left[n] == 0:
                cell[n] = r * columns + k
            left[n] -= 1


@njit(cache=True, nogil=True)
def find_parting(order: Longs, maker: Ints, pieces: int, node: Ints, parent: Ints, only: Ints, freed: Ints) -> None:
    """The move that parted each piece from another, found by putting cells that were cut through back, last cut first.

    order i8[M] cells (numbered along rows) in that order; maker i4[rows, columns]. Changed: node i4[rows, columns] (piece of each cell from
    0, -1 = nothing stands there), parent and only i4[pieces + M] are work space. Filled: freed i4[pieces], -1 = never parted.
    """
    rows, columns = maker.shape
    for n in range(parent.shape[0]):
        parent[n] = n
        only[n] = n if n < pieces else -1
    freed[:] = -1
    for i in range(order.shape[0]):
        r, k = order[i] // columns, order[i] % columns
        mine = pieces + i
        node[r, k] = mine
        for side in range(4):
            a, b = r + SIDE_Y[side], k + SIDE_X[side]
            if a < 0 or b < 0 or a >= rows or b >= columns or node[a, b] < 0:
                continue
            one, other = _root(parent, mine), _root(parent, node[a, b])
            if one == other:
                continue
            parent[other] = one
            if only[other] == -1:
                continue
            if only[one] == -1:
                only[one] = only[other]
                continue
            for piece in (only[one], only[other]):
                if piece >= 0:
                    freed[piece] = maker[r, k]
            only[one] = -2


# --- who made what -----------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def sort_cells(
    top: Singles,
    maker: Ints,
    tip: Floats,
    level: Bytes,
    least: float,
    bottom: float,
    kind: Bytes,
    floors: Bytes,
    slopes: Bytes,
) -> None:
    """What each cell is part of.

    tip f8[N] lowest height of the tip of each move; level u1[N] whether its tool has a flat end. Filled: kind u1[rows, columns]. Changed:
    floors and slopes u1[N], 1 where such a surface of the move stands.
    """
    for r in range(top.shape[0]):
        for k in range(top.shape[1]):
            m = maker[r, k]
            kind[r, k] = UNMADE
            if m < 0 or top[r, k] <= bottom + least:
                continue
            if level[m] == 1 and abs(top[r, k] - tip[m]) <= 2.0 * least:
                kind[r, k] = FLOOR
                floors[m] = 1
            else:
                kind[r, k] = SLOPE
                slopes[m] = 1


@njit(cache=True, nogil=True)
def _nearest_on_line(x: float, y: float, start: Floats, end: Floats, p: int, near: Floats) -> None:
    """Filled: near f8[NEAR] of line p; of an upright one, its lower end."""
    x0, y0, z0 = start[p, 0], start[p, 1], start[p, 2]
    dx, dy, dz = end[p, 0] - x0, end[p, 1] - y0, end[p, 2] - z0
    flat = dx * dx + dy * dy
    part = 0.0
    if flat > 0.0:
        part = min(max(((x - x0) * dx + (y - y0) * dy) / flat, 0.0), 1.0)
    elif dz < 0.0:
        part = 1.0
    way = flat + dz * dz
    scale = 1.0 / math.sqrt(way) if way > 0.0 else 0.0
    near[NEAR_X], near[NEAR_Y], near[NEAR_Z] = x0 + part * dx, y0 + part * dy, z0 + part * dz
    near[NEAR_WX], near[NEAR_WY], near[NEAR_WZ] = dx * scale, dy * scale, dz * scale
    near[NEAR_FAR] = (x - near[NEAR_X]) ** 2 + (y - near[NEAR_Y]) ** 2


@njit(cache=True, nogil=True)
def _nearest_on_arc(x: float, y: float, a: Floats, b: Floats, cx: float, cy: float, sweep: float, near: Floats) -> None:
    """Filled: near f8[NEAR] of an arc or helix about (cx, cy); of several turns, the lowest."""
    radius = math.hypot(a[0] - cx, a[1] - cy)
    begin = math.atan2(a[1] - cy, a[0] - cx)
    turn = 1.0 if sweep > 0.0 else -1.0
    whole, span = 2.0 * math.pi, abs(sweep)
    angle = (turn * (math.atan2(y - cy, x - cx) - begin)) % whole
    if angle > span:
        angle = span if angle - span < whole - angle else 0.0
    elif b[2] < a[2]:
        angle += whole * math.floor((span - angle) / whole)
    at = begin + turn * angle
    rise = b[2] - a[2]
    near[NEAR_X], near[NEAR_Y] = cx + radius * math.cos(at), cy + radius * math.sin(at)
    near[NEAR_Z] = a[2] + rise * (angle / span if span > 0.0 else 0.0)
    way = math.hypot(radius * span, rise)
    flat = turn * radius * span / way if way > 0.0 else 0.0
    near[NEAR_WX], near[NEAR_WY] = -math.sin(at) * flat, math.cos(at) * flat
    near[NEAR_WZ] = rise / way if way > 0.0 else 0.0
    near[NEAR_FAR] = (x - near[NEAR_X]) ** 2 + (y - near[NEAR_Y]) ** 2


@njit(cache=True, nogil=True)
def _nearest(
    m: int, x: float, y: float, first: Longs, start: Floats, end: Floats, arc: Ints, centre: Floats, sweep: Floats,
    work: Floats, near: Floats,
) -> bool:  # fmt: skip
    """Filled: near f8[NEAR], the place of move m that is nearest to (x, y), seen from above. False if the move has no way."""
    found = False
    for p in range(first[m], first[m + 1]):
        if arc[p] >= 0:
            _nearest_on_arc(x, y, start[p], end[p], centre[arc[p], 0], centre[arc[p], 1], sweep[arc[p]], work)
        else:
            _nearest_on_line(x, y, start, end, p, work)
        if not found or work[NEAR_FAR] < near[NEAR_FAR]:
            near[:] = work
        found = True
    return found


@njit(cache=True, nogil=True)
def find_walls(
    top: Singles, maker: Ints, frame: Floats, drop: float, first: Longs, start: Floats, end: Floats, arc: Ints, centre: Floats,
    sweep: Floats, made: Bytes, edges: Ints,
) -> int:  # fmt: skip
    """Cells at the foot of walls: a neighbour stands higher by `drop` or more, and somebody cut the foot.

    Changed: made u1[N], bits of `WALL`, `LEFT`, `RIGHT` (of the way that made it). Filled, if there is room: edges i4[E, 3] (row, column
    of the foot, number of the side that the wall lies on). Returns how many edges there are.
    """
    rows, columns = top.shape
    near, work = np.empty(NEAR), np.empty(NEAR)
    x0, y0, c, bottom = frame
    count = 0
    for r in range(rows):
        for k in range(columns):
            m = maker[r, k]
            if m < 0:
                continue
            foot = max(float(top[r, k]), bottom)
            for side in range(4):
                a, b = r + SIDE_Y[side], k + SIDE_X[side]
                if a < 0 or b < 0 or a >= rows or b >= columns or top[a, b] - foot < drop:
                    continue
                if count < edges.shape[0]:
                    edges[count, 0], edges[count, 1], edges[count, 2] = r, k, side
                elif edges.shape[0] == 0:
                    made[m] |= WALL
                    x, y = x0 + (k + 0.5) * c, y0 + (r + 0.5) * c
                    if _nearest(m, x, y, first, start, end, arc, centre, sweep, work, near):
                        across = near[NEAR_WX] * (a - r) - near[NEAR_WY] * (b - k)
                        if across > ASIDE:
                            made[m] |= LEFT
                        elif across < -ASIDE:
                            made[m] |= RIGHT
                count += 1
    return count


@njit(cache=True, nogil=True)
def find_makers(
    top: Singles, maker: Ints, frame: Floats, z0: float, edges: Ints, passes: Ints, first: Longs, start: Floats, end: Floats, arc: Ints,
    centre: Floats, sweep: Floats, radius: Floats, straight: Floats, axial: Floats, low: Floats, reach: float, least: float, made: Bytes,
    box: Floats,
) -> None:  # fmt: skip
    """Who made the walls over some feet, from top to bottom: each pass that reached as far as the one that cut the foot, over the height
    that it cut and that no later one cut again.

    edges i4[E, 3] as of `find_walls`; passes i4[P] moves that may have come by, last first. By move, f8[N]: radius of the upright part of its
    edge, height over the tip where that begins, depth of cut along the axis, lowest Z of the tip. `reach`: passes that end this far
    apart end at one wall. `least`: what is lower stands no taller. `z0`: the grid's level. Changed: made u1[N] as of `find_walls`; box
    f8[N, 6], least and greatest X, Y and Z of the walls that each move made.
    """
    near, work = np.empty(NEAR), np.empty(NEAR)
    x0, y0, c, bottom = frame
    for e in range(edges.shape[0]):
        r, k, side = edges[e, 0], edges[e, 1], edges[e, 2]
        m = maker[r, k]
        a, b = r + SIDE_Y[side], k + SIDE_X[side]
        foot, high = max(float(top[r, k]), bottom) + z0, float(top[a, b]) + z0
        x, y = x0 + (k + 0.5) * c, y0 + (r + 0.5) * c
        wall_x, wall_y = x0 + (k + 0.5 + 0.5 * (b - k)) * c, y0 + (r + 0.5 + 0.5 * (a - r)) * c
        _widen(box, m, wall_x, wall_y, foot, high)
        if not _nearest(m, x, y, first, start, end, arc, centre, sweep, work, near):
            continue
        own = radius[m] - math.sqrt(near[NEAR_FAR]) - reach
        bare = (1 << SLICES) - 1
        for p in range(passes.shape[0]):
            n = passes[p]
            if low[n] + straight[n] > high - least:
                continue
            if not _nearest(n, x, y, first, start, end, arc, centre, sweep, work, near):
                continue
            if radius[n] - math.sqrt(near[NEAR_FAR]) < own or near[NEAR_Z] + straight[n] > high - least:
                continue
            mine = 0
            for i in range(SLICES):
                h = foot + (i + 0.5) * (high - foot) / SLICES
                if near[NEAR_Z] - least <= h and h <= near[NEAR_Z] + axial[n] + least:
                    mine |= 1 << i
            if mine & bare == 0:
                continue
            bare &= ~mine
            made[n] |= WALL
            across = near[NEAR_WX] * (a - r) - near[NEAR_WY] * (b - k)
            if across > ASIDE:
                made[n] |= LEFT
            elif across < -ASIDE:
                made[n] |= RIGHT
            _widen(box, n, wall_x, wall_y, foot, high)
            if bare == 0:
                break


@njit(cache=True, nogil=True)
def _widen(box: Floats, m: int, x: float, y: float, low: float, high: float) -> None:
    """Changed: box f8[N, 6], that of move m so that it holds an upright line."""
    box[m, 0], box[m, 1] = min(box[m, 0], x), max(box[m, 1], x)
    box[m, 2], box[m, 3] = min(box[m, 2], y), max(box[m, 3], y)
    box[m, 4], box[m, 5] = min(box[m, 4], low), max(box[m, 5], high)


@njit(cache=True, nogil=True)
def _goes_on(m: int, n: int, first: Longs, start: Floats, end: Floats, arc: Ints) -> bool:
    """Whether n is the line after m, or before it, and goes the same way to within 60 degrees: they meet end to end, not side by side."""
    if abs(m - n) != 1 or first[m + 1] - first[m] != 1 or first[n + 1] - first[n] != 1:
        return False
    p, q = first[m], first[n]
    if arc[p] >= 0 or arc[q] >= 0:
        return False
    dot = a = b = 0.0
    for axis in range(3):
        one, other = end[p, axis] - start[p, axis], end[q, axis] - start[q, axis]
        dot, a, b = dot + one * other, a + one * one, b + other * other
    return dot > 0.0 and dot * dot > 0.25 * a * b


@njit(cache=True, nogil=True)
def count_steps(maker: Ints, kind: Bytes) -> int:
    """How many numbers `find_steps` may find."""
    count = 0
    for r in range(maker.shape[0]):
        for k in range(maker.shape[1]):
            if kind[r, k] == SLOPE:
                if k + 1 < maker.shape[1] and kind[r, k + 1] == SLOPE and maker[r, k + 1] != maker[r, k]:
                    count += 2
                if r + 1 < maker.shape[0] and kind[r + 1, k] == SLOPE and maker[r + 1, k] != maker[r, k]:
                    count += 2
    return count


@njit(cache=True, nogil=True)
def find_steps(
    top: Singles, maker: Ints, kind: Bytes, frame: Floats, drop: float, stretch: Ints, first: Longs, start: Floats, end: Floats,
    arc: Ints, centre: Floats, sweep: Floats, of: Ints, step: Singles,
) -> int:  # fmt: skip
    """Steps sideways between two ways whose surfaces meet: from the nearest place of one to that of the other.

    stretch i4[N]: only ways of one call of a tool are neighbours. Filled: of i4[K] move, step f4[K] mm, room for `count_steps`. Returns how
    many there are.
    """
    near, other, work = np.empty(NEAR), np.empty(NEAR), np.empty(NEAR)
    x0, y0, c, _ = frame
    count = 0
    for r in range(top.shape[0]):
        for k in range(top.shape[1]):
            if kind[r, k] != SLOPE:
                continue
            m = maker[r, k]
            for side in range(2):
                a, b = r + side, k + 1 - side
                if a >= top.shape[0] or b >= top.shape[1] or kind[a, b] != SLOPE or maker[a, b] == m:
                    continue
                n = maker[a, b]
                if stretch[m] != stretch[n] or abs(top[a, b] - top[r, k]) >= drop:
                    continue
                if _goes_on(m, n, first, start, end, arc):
                    continue
                x, y = x0 + 0.5 * (k + b + 1) * c, y0 + 0.5 * (r + a + 1) * c
                if not _nearest(m, x, y, first, start, end, arc, centre, sweep, work, near):
                    continue
                if not _nearest(n, x, y, first, start, end, arc, centre, sweep, work, other):
                    continue
                dx, dy, dz = other[0] - near[0], other[1] - near[1], other[2] - near[2]
                far = math.sqrt(dx * dx + dy * dy + dz * dz)
                along = max(
                    abs(dx * near[NEAR_WX] + dy * near[NEAR_WY] + dz * near[NEAR_WZ]),
                    abs(dx * other[NEAR_WX] + dy * other[NEAR_WY] + dz * other[NEAR_WZ]),
                )
                if far > 0.0 and along <= ASIDE * far:
                    of[count], of[count + 1] = m, n
                    step[count], step[count + 1] = far, far
                    count += 2
    return count


# --- thin walls --------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def _inward(top: Singles, r: float, k: float, level: float, reach: int, way: Floats) -> bool:
    """Filled: way f8[2] (x, y), unit vector from a border (r, k in cells) to the middle of what is higher than `level` around it."""
    x = y = 0.0
    for a in range(max(int(r) - reach, 0), min(int(r) + reach + 1, top.shape[0])):
        for b in range(max(int(k) - reach, 0), min(int(k) + reach + 1, top.shape[1])):
            dx, dy = b + 0.5 - k, a + 0.5 - r
            if dx * dx + dy * dy <= reach * reach:
                weight = 1.0 if top[a, b] > level else -1.0
                x, y = x + weight * dx, y + weight * dy
    long = math.hypot(x, y)
    if long <= 0.0:
        return False
    way[0], way[1] = x / long, y / long
    return True


@njit(cache=True, nogil=True)
def find_thin(
    top: Singles, maker: Ints, edges: Ints, frame: Floats, most: float, slender: float, least: float, reach: int, thick: Singles, high: Singles,
    by: Ints, at: Floats, thin: Bytes,
) -> None:  # fmt: skip
    """From the foot of each wall through the material, square to the wall, to the foot of a wall on its other side.

    Thin is what is at most `most` mm thick and, on both sides, at least `slender` times as high and `least` mm high. `reach`: cells round a
    place that tell which way is square. Filled: thick, high f4[E] (0 = none found), by i4[E] (the later of the two moves), at f8[E, 2]
    (middle, in cells). Changed: thin u1[rows, columns], 1 on the way through.
    """
    rows, columns = top.shape
    way, back = np.empty(2), np.empty(2)
    c, bottom = frame[2], frame[3]
    for e in range(edges.shape[0]):
        thick[e], high[e], by[e] = 0.0, 0.0, -1
        r, k, side = edges[e, 0], edges[e, 1], edges[e, 2]
        sy, sx = SIDE_Y[side], SIDE_X[side]
        foot = max(float(top[r, k]), bottom)
        crest = float(top[r + sy, k + sx])
        y, x = r + 0.5 + 0.5 * sy, k + 0.5 + 0.5 * sx
        if not _inward(top, y, x, 0.5 * (foot + crest), reach, way) or way[0] * sx + way[1] * sy < ASIDE:
            continue
        for i in range(int(4.0 * most / c) + 1):
            far = (0.25 * i + 0.125) * c
            a, b = math.floor(y + way[1] * far / c), math.floor(x + way[0] * far / c)
            if a < 0 or b < 0 or a >= rows or b >= columns:
                break
            across = far - 0.125 * c
            if a == r and b == k:
                continue
            there = max(float(top[a, b]), bottom)
            lower = max(there, foot)
            if across <= 0.0 or crest - lower < max(slender * across, least):
                crest = min(crest, float(top[a, b]))
                continue
            ey, ex = y + way[1] * across / c, x + way[0] * across / c
            if not _inward(top, ey, ex, 0.5 * (there + crest), reach, back):
                break
            if way[0] * back[0] + way[1] * back[1] > -ASIDE:
                break
            thick[e], high[e] = across, crest - lower
            by[e] = max(maker[r, k], maker[a, b])
            at[e, 0], at[e, 1] = 0.5 * (x + ex), 0.5 * (y + ey)
            for j in range(i):
                far = (0.25 * j + 0.125) * c
                thin[math.floor(y + way[1] * far / c), math.floor(x + way[0] * far / c)] = 1
            thin[r, k] = 0
            break


# --- two surfaces ------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def find_aside(
    found: Singles, wanted: Singles, cells: Ints, off: Singles, steps: Ints, away: Singles, band: float, outside: float, nearest: Singles
) -> None:  # fmt: skip
    """How far the found surface lies off the wanted one in each of the cells i4[F, 2]: `off` f4[F] upward (below 0: too deep), or sideways
    to the nearest cell where the wanted one is as high (as low), to within the band; `outside` is its height beyond the grid.

    steps i4[M, 2], away f4[M] mm, nearest first. Filled: nearest f4[F].
    """
    rows, columns = found.shape
    for n in range(cells.shape[0]):
        r, k = cells[n, 0], cells[n, 1]
        nearest[n] = abs(off[n])
        for i in range(steps.shape[0]):
            if away[i] >= nearest[n]:
                break
            a, b = r + steps[i, 0], k + steps[i, 1]
            height = outside
            if 0 <= a < rows and 0 <= b < columns:
                height = float(wanted[a, b])
            higher = height - float(found[r, k])
            if (off[n] > 0.0 and higher >= -band) or (off[n] < 0.0 and higher <= band):
                nearest[n] = away[i]
                break


KERNELS: tuple[Any, ...] = (
    count_crossings,
    cross_columns,
    solve_columns,
    fill_gaps,
    label_equal,
    find_middles,
    find_parting,
    sort_cells,
    find_walls,
    find_makers,
    count_steps,
    find_steps,
    find_thin,
    find_aside,
)
