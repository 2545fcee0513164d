"""The fast layer of shapes and regions: triangles into columns of cells, and cells into regions.

A column is the upright line through a cell's centre. Edges are crossed by a half-open rule on sums whose order does not depend on which
triangle owns the edge, so two triangles that share an edge never both take a column on it, and never both miss it.

Symbols: x, y, z mm; c cell size; r row, k column. Arrays marked "filled" are outputs; arrays marked "changed" are both.
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


KERNELS: tuple[Any, ...] = (count_crossings, cross_columns, solve_columns, fill_gaps)
