"""Fields made larger or smaller, and laid on another grid, where a blank is known by its heights alone."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import Floats
from firstoff.removal.field import LEAST_CUT_MM, NOTHING, Field, Grid, Heights

Cells = NDArray[np.intp]


def moved_faces(
    top: Heights,
    gaps: Floats,
    bottom: float,
    cell_mm: float,
    sides_mm: tuple[float, float, float, float],
    ends_mm: tuple[float, float],
) -> tuple[Heights, Floats, float]:
    """Heights, hollows and bottom (all above one level) with the faces moved outward, negative inward.

    `sides_mm` x low, x high, y low, y high; `ends_mm` z low, z high. Sideways whole cells count, always at least what is asked: a
    larger field holds the true one, a smaller one lies in it. Growing sideways closes hollows, upward and
    downward narrows them; shrinking sideways does not widen them.
    """
    z_low, z_high = ends_mm
    top = _sideways(top, [_whole_cells(mm, cell_mm) for mm in sides_mm])
    top = np.where(top > NOTHING, top + np.float32(z_high), NOTHING).astype(np.float32)
    if any(mm > 0 for mm in sides_mm):
        gaps = gaps[:0]
    under = gaps[:, 2] <= bottom + LEAST_CUT_MM
    low = np.where(under, bottom - z_low, gaps[:, 2] + z_high)
    gaps = np.column_stack([gaps[:, :2], low, gaps[:, 3] - z_low])
    return _tidy(top, gaps, bottom - z_low)


def laid_on(field: Field, grid: Grid, shift_mm: tuple[float, float, float]) -> tuple[Heights, Floats, float]:
    """A field moved by `shift_mm` and read at the centres of another grid: heights, hollows and bottom above that grid's level.

    A centre takes the height of the old cell it lies in; where the grids are one, nothing changes but the level.
    """
    old = field.grid
    rows = _old_cells(grid.y0_mm - shift_mm[1] - old.y0_mm, grid.cell_mm, grid.rows, old.cell_mm)
    columns = _old_cells(grid.x0_mm - shift_mm[0] - old.x0_mm, grid.cell_mm, grid.columns, old.cell_mm)
    inside = _in(rows, old.rows)[:, None] & _in(columns, old.columns)
    rise = old.z0_mm + shift_mm[2] - grid.z0_mm
    read = field.top[np.clip(rows, 0, old.rows - 1)[:, None], np.clip(columns, 0, old.columns - 1)]
    top = np.where(inside & (read > NOTHING), read + np.float32(rise), NOTHING).astype(np.float32)
    gaps = _gaps_at(field.gaps, rows, columns, old)
    gaps[:, 2:] += rise
    return top, gaps, field.bottom_mm + shift_mm[2] - grid.z0_mm


def settled(field: Field) -> Field:
    """The same field where a cut went into hollows: what stood over them is gone, and so are they."""
    if not len(field.gaps):
        return field
    top, gaps, _ = _tidy(field.top.copy(), field.gaps, field.bottom_mm - field.grid.z0_mm)
    gaps = np.ascontiguousarray(gaps[np.lexsort((gaps[:, 2], gaps[:, 1], gaps[:, 0]))])
    for array in (top, gaps):
        array.setflags(write=False)
    return Field(field.grid, top, field.bottom_mm, gaps)


def _whole_cells(mm: float, cell_mm: float) -> int:
    cells = math.ceil(abs(mm) / cell_mm - 1e-9)
    return cells if mm > 0 else -cells


def _sideways(top: Heights, cells: list[int]) -> Heights:
    """Each side moved by whole cells: outward by the largest height within reach, inward by the smallest (nothing, beyond the grid)."""
    x_low, x_high, y_low, y_high = cells
    for axis, low, high in ((1, x_low, x_high), (0, y_low, y_high)):
        out = top
        for side, count in ((-1, low), (1, high)):
            out = _reached(out, axis, side, count)
        top = out
    return top


def _reached(top: Heights, axis: int, side: int, count: int) -> Heights:
    """One side of one axis: cells up to |count| away towards the body (count > 0) or towards its outside (count < 0) decide."""
    out = top.copy()
    outward = side if count > 0 else -side
    for step in range(1, abs(count) + 1):
        shifted = np.full_like(top, NOTHING)
        here, there = [slice(None)] * 2, [slice(None)] * 2
        here[axis], there[axis] = slice(step, None), slice(None, -step)
        if outward < 0:
            here, there = there, here
        shifted[tuple(here)] = top[tuple(there)]
        (np.maximum if count > 0 else np.minimum)(out, shifted, out=out)
    return out


def _tidy(top: Heights, gaps: Floats, bottom: float) -> tuple[Heights, Floats, float]:
    """A top that came to lie in a hollow falls to its floor; hollows above a top, or closed, are gone."""
    gaps = gaps[gaps[:, 3] - gaps[:, 2] > LEAST_CUT_MM]
    at = gaps[:, 0].astype(np.intp), gaps[:, 1].astype(np.intp)
    floor = gaps[:, 2].astype(np.float32)
    while (fallen := (top[at] <= gaps[:, 3] + LEAST_CUT_MM) & (top[at] > floor)).any():
        np.minimum.at(top, (at[0][fallen], at[1][fallen]), floor[fallen])
    top = np.where(top > bottom + LEAST_CUT_MM, top, NOTHING).astype(np.float32)
    return top, gaps[gaps[:, 3] < top[at]], bottom


def _old_cells(offset: float, cell: float, count: int, old_cell: float) -> Cells:
    """Old cell that each new centre lies in; centres that should coincide are not parted by rounding."""
    place = (offset + cell * (np.arange(count, dtype=np.float64) + 0.5)) / old_cell
    return np.floor(np.round(place, 9)).astype(np.intp)


def _in(cells: Cells, count: int) -> NDArray[np.bool_]:
    inside: NDArray[np.bool_] = (cells >= 0) & (cells < count)
    return inside


def _gaps_at(gaps: Floats, rows: Cells, columns: Cells, old: Grid) -> Floats:
    """The hollows of the old cells that new cells read, as rows of new cells (sorted by row and column)."""
    if not len(gaps):
        return np.zeros((0, 4))
    keys = (gaps[:, 0] * old.columns + gaps[:, 1]).astype(np.intp)
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    new_rows, new_columns = np.flatnonzero(_in(rows, old.rows)), np.flatnonzero(_in(columns, old.columns))
    wanted = (rows[new_rows][:, None] * old.columns + columns[new_columns]).ravel()
    first, last = np.searchsorted(keys, wanted, "left"), np.searchsorted(keys, wanted, "right")
    held = np.flatnonzero(last > first)
    each = np.repeat(held, (last - first)[held])
    nth = np.arange(each.size) - np.repeat(np.cumsum((last - first)[held]) - (last - first)[held], (last - first)[held])
    which = order[first[each] + nth]
    return np.column_stack(
        [new_rows[each // max(new_columns.size, 1)], new_columns[each % max(new_columns.size, 1)], gaps[which, 2:]]
    )
