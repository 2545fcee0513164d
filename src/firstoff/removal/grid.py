"""Choosing the grid that stock is followed on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from firstoff.facts.assembly import Assembly
from firstoff.program.moves import Floats
from firstoff.removal.field import Grid

FINE = 30
"""Cells across the smallest milling cutter: its width of cut is then known to 1/60 of its diameter."""
COARSE = 20
"""Fewer cells across a cutter than this say little of how it stands in the stock."""
CUSP_MM = 0.0025
"""Greatest height of what the flank of a cutter may leave standing between two stations: a quarter of what counts as a sliver
(`profile.SLIVER_MM`). Widths, angles and torques come out as well as from stations in every cell (docs/exactness.md)."""
LARGE_CELLS = 2.0
"""Cells between stations from which on a cutter is stepped by its own size."""
FINEST_MM = 0.02
MOST_CELLS = 6_000_000
SHIFT = (3.0 - math.sqrt(5.0)) / 2.0
"""Part of a cell (0.382, the golden section) by which the stock's low faces lie inside the first cell.

Programs and blanks are drawn in tenths of a millimetre. Were the faces on the cells' borders, a wall in the middle of the blank could run
through the centres of a whole row of cells, and a slot would come out a cell too narrow or too wide on both sides. The size of the cell is
taken so that each side of the blank is a whole number of cells (as nearly as two sides allow): what the first row has too much the last has
too little, and the blank keeps its volume without any weighing of its edge rows.
"""
MARGIN = 1
"""Empty cells round the stock, so that what stands at its face has a neighbour."""
ROUNDING = 1e-3
NARROWER = 0.96
"""The cell may be made smaller by up to this much, so that it divides both sides."""


def choose_grid(
    low_mm: Sequence[float],
    high_mm: Sequence[float],
    assemblies: Iterable[Assembly],
    *,
    finest_wanted_mm: float | None = None,
    most_cells: int = MOST_CELLS,
    coarser: float = 1.0,
) -> Grid:
    """A grid over a blank from `low_mm` to `high_mm` (X, Y, Z; work frame) for the tools that cut it.

    `finest_wanted_mm` is the finest place that a question needs to tell (a tolerance of form); `coarser` multiplies the size of the cell,
    for passes that only look for contact.
    """
    sides = [float(high_mm[k] - low_mm[k]) for k in (0, 1)]
    if not (all(map(math.isfinite, (*low_mm, *high_mm))) and min(sides) > 0):
        raise ValueError(f"the blank has no extent: {tuple(low_mm)} to {tuple(high_mm)}")
    wanted, why = _wanted(list(assemblies), finest_wanted_mm)
    wanted *= coarser
    if coarser != 1.0:
        why += f", {coarser:g} times coarser for this pass"
    least = math.sqrt(sides[0] * sides[1] / most_cells)
    if least > NARROWER * wanted:
        why += f"; made coarser, because {wanted:.3g} mm would need more than {most_cells / 1e6:g} million cells"
        wanted = least / NARROWER
    cell = _dividing(sides, wanted)
    shifts = [_shift(side / cell) for side in sides]
    x0, y0 = (low_mm[k] - (shifts[k] + MARGIN) * cell for k in (0, 1))
    columns, rows = (
        math.ceil(round(side / cell + shift, 6)) + 2 * MARGIN for side, shift in zip(sides, shifts, strict=True)
    )
    return Grid(float(x0), float(y0), cell, columns, rows, float(high_mm[2]), f"cells of {cell:.3f} mm: {why}")


def step_mm(cell_mm: float, diameter_mm: float, radius_mm: Floats | float = math.inf) -> Floats:
    """Greatest way at feed between two stations of a cutter on a line, or on arcs of a radius. It is a cell for the smallest cutters, whose
    worst station is known no better than from one in each cell."""
    curved = 2.0 / diameter_mm + 1.0 / np.asarray(radius_mm, dtype=np.float64)
    step = np.sqrt(8.0 * CUSP_MM / curved)
    spaced: Floats = np.where(step < LARGE_CELLS * cell_mm, cell_mm, step)
    return spaced


def _wanted(assemblies: list[Assembly], finest_mm: float | None) -> tuple[float, str]:
    """Size of the cell that tools and tolerances ask for, and why."""
    mills = [one for one in assemblies if one.kind != "drill"] or assemblies
    if not mills:
        return 0.1, "no tool's shape is known, so a tenth of a millimetre is taken"
    smallest = min(mills, key=lambda one: one.diameter_mm)
    wanted = smallest.diameter_mm / FINE
    why = f"1/{FINE} of the smallest cutter that cuts ({smallest.name}, {smallest.diameter_mm:g} mm)"
    if finest_mm is not None and finest_mm < wanted:
        wanted, why = finest_mm, f"as fine as the tolerance of {finest_mm:g} mm asks for"
    if wanted < FINEST_MM:
        wanted = FINEST_MM
        few = smallest.diameter_mm / wanted < COARSE
        why += f"; kept at {FINEST_MM:g} mm, finer is not followed" + (
            f", which is fewer than {COARSE} cells across {smallest.name}" if few else ""
        )
    return wanted, why


def _dividing(sides: Sequence[float], wanted: float) -> float:
    """A size a little below `wanted` of which both sides are nearly whole multiples."""
    least = math.ceil(sides[0] / wanted)
    counts = range(least, max(math.floor(sides[0] / (NARROWER * wanted)), least) + 1)
    sizes = [sides[0] / n for n in counts]
    return min(sizes, key=lambda size: abs(sides[1] / size - round(sides[1] / size)))


def _shift(cells: float) -> float:
    """Part of a cell by which a side of so many cells is shifted: `SHIFT`, or less where the side is more than whole cells by so much that
    one centre too many would lie inside."""
    over = cells - round(cells)
    return SHIFT if over <= 0.5 - SHIFT - ROUNDING else max(0.5 - ROUNDING - over, 0.0)
