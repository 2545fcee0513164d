"""The stock as heights over a grid of square cells, and what is known of how true it is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Heights = NDArray[np.float32]

NOTHING = np.float32(-1e6)
"""Height of a cell where there is no stock, mm."""
LEAST_CUT_MM = 1e-4
"""Less than this is rounding, not a cut and not a contact."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells of one size. Cell (row, column) covers y0 + row·cell .. + cell in Y and x0 + column·cell .. + cell in X; a height holds at
    its centre. The corner is off the program's own numbers by an irrational part of a cell, so that no wall lies along cells for long."""

    x0_mm: float
    y0_mm: float
    cell_mm: float
    columns: int
    rows: int
    z0_mm: float
    """Z that stored heights are told from (the top of the stock): float32 then resolves nanometres."""
    why: str = ""
    """Why this size of cell, in words for the answer."""

    @property
    def half_diagonal_mm(self) -> float:
        return self.cell_mm * math.sqrt(0.5)


@dataclass(frozen=True, slots=True)
class Field:
    """Heights f4[rows, columns] over `grid`, mm above `grid.z0_mm` (so 0 or less); `NOTHING` where there is no stock.

    `bottom_mm` is the work-frame Z that nothing of it lies below. `gaps` are the hollows under overhangs: (row, column, low, high)
    f8[K, 4] in the same heights, for stock that a tee or an STL left. `unmatched`: columns of a shape from a file whose faces do not face
    alternately out of and into it; there every second stretch was taken as solid.
    """

    grid: Grid
    top: Heights
    bottom_mm: float
    gaps: NDArray[np.float64]
    unmatched: int = 0
