"""A shape laid on a grid: what is solid in the upright line through each cell's centre."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstoff.errors import Fault, InputError
from firstoff.program.moves import Floats
from firstoff.removal.field import LEAST_CUT_MM, NOTHING, Grid, Heights
from firstoff.removal.scan import _kernels as kernels
from firstoff.removal.shape import Shape

MOST_CROSSINGS = 200_000_000
"""Crossings of faces and columns held in memory at most (1 GB): a closed body has two a column, a thousand leaves of it would not pass."""


@dataclass(frozen=True, slots=True)
class Columns:
    """`top` f4[rows, columns] above the grid's level, `NOTHING` where nothing stands; `gaps` f8[K, 4] (row, column, low, high) by row and
    column, hollows between `bottom_mm` and the top, those under the lowest face included. `unmatched`: columns whose faces do not face
    alternately out of and into bodies; there, every second stretch was taken as solid."""

    top: Heights
    gaps: Floats
    bottom_mm: float
    unmatched: int


def columns_of(shape: Shape, grid: Grid) -> Columns:
    """Scan triangles into columns. Raises `InputError` "is not closed" where a column passes through an odd number of faces."""
    place = (shape.triangles, float(grid.x0_mm), float(grid.y0_mm))
    z0, cell = float(grid.z0_mm), float(grid.cell_mm)
    change = np.empty((grid.rows, grid.columns + 1), np.int32)
    total = kernels.count_crossings(*place, cell, change)
    if total > MOST_CROSSINGS:
        raise InputError(
            Fault(
                "has too many faces over one another", f"{total} in {grid.rows * grid.columns} cells", file=shape.name
            )
        )
    counts = np.cumsum(change[:, :-1], axis=1, dtype=np.int64)
    start = (np.cumsum(counts) - counts.ravel()).reshape(counts.shape)
    used = np.empty(counts.shape, np.int32)
    z, up = np.empty(total, np.float32), np.empty(total, np.int8)
    kernels.cross_columns(*place, z0, cell, start, used, z, up)
    bottom = shape.low_mm[2]
    top = np.full(counts.shape, NOTHING, np.float32)
    told = np.empty(kernels.TOLD, np.int64)
    level = (bottom - z0, LEAST_CUT_MM)
    kernels.solve_columns(start, used, z, up, *level, top, told)
    if told[kernels.ODD]:
        raise _not_closed(shape, grid, told.tolist())
    gaps = np.empty((int(told[kernels.GAPS]), 4))
    kernels.fill_gaps(start, used, z, up, *level, gaps)
    return Columns(top, gaps, bottom, int(told[kernels.MIXED]))


def _not_closed(shape: Shape, grid: Grid, told: list[int]) -> InputError:
    def ends(start: float, low: int, high: int) -> str:
        return f"{start + grid.cell_mm * low:.2f} .. {start + grid.cell_mm * (high + 1):.2f}"

    across = ends(grid.x0_mm, told[kernels.COLUMN_LOW], told[kernels.COLUMN_HIGH])
    along = ends(grid.y0_mm, told[kernels.ROW_LOW], told[kernels.ROW_HIGH])
    count, crossed = told[kernels.ODD], grid.rows * grid.columns
    value = f"{count} of {crossed} upright lines pass through an odd number of faces, X {across} mm, Y {along} mm"
    do = "Close the body where it was drawn and write the file again."
    return InputError(Fault("is not closed", value, "bodies without holes in their skin", shape.name, do=do))
