"""The finished stock held against the target part: where it was cut too deep, and where something was left standing.

Both are heights at the centres of the same cells, seen from above. A difference counts by what is shorter: upward or downward to the
target's height, or sideways to a place where the target is that high (or that low); so a wall that is 0.3 mm off is off by 0.3 mm and
not by its height. At *edges*, where the target changes by more than two cells' height from cell to cell, any height that it has within the
eight cells around is right: a wall is not seen to be off by less than a cell. Elsewhere nothing is forgiven.

Compared is what lies within the target's outline and up to `AROUND_MM` beside it. What stands farther off is no business of the part: the
rest of the blank, a slug in a window. Beside the outline that alone is left standing *on the part* which a cut has parted from the rest of
the blank: what hangs together with the blank's rim at its own height is left to a later clamping, or to what parts the job's skin or
tabs. Undersides are not seen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from firstoff.program.moves import Floats, Ints
from firstoff.removal.field import LEAST_CUT_MM, NOTHING, Grid, Heights
from firstoff.removal.growing import settled
from firstoff.removal.profile import frozen
from firstoff.removal.scan import _kernels as kernels
from firstoff.removal.scan.columns import columns_of
from firstoff.removal.shape import Shape
from firstoff.removal.swept import Swept

AROUND_MM = 1.0
AROUND_CELLS = 3
STEEP_CELLS = 2.0
"""Change from cell to cell, in cells, from which on the target has an edge or a wall there: 63 degrees."""
MOST_ASIDE_CELLS = 25
"""A wall that is farther off than this or `AROUND_MM` is told by the height that is missing or too much."""


@dataclass(frozen=True, slots=True)
class Deviation:
    """The greatest one on one side of the target, and the area (seen from above) on which the band is passed. `at_mm` on the finished
    surface, work frame; `move` cut there last, or beside what it left standing; -1 = nobody did."""

    largest_mm: float
    area_mm2: float
    at_mm: tuple[float, float, float]
    move: int
    begins: bool = True
    """Whether that move may be at fault: not one that left rightly what a later cut should have taken."""
    moves: Ints = field(default_factory=lambda: np.empty(0, np.int32), repr=False, compare=False)
    """Every move that may be at fault where the band is passed, in program order, and by how much at most."""
    each_mm: Floats = field(default_factory=lambda: np.empty(0), repr=False, compare=False)


@dataclass(frozen=True, slots=True)
class TargetCheck:
    """`too_deep` counts places where the blank had too little, too (`move` is -1 there)."""

    too_deep: Deviation
    left: Deviation
    edge_mm: float
    """How far walls and edges may be off unseen: one cell."""
    compared_mm2: float
    hidden_mm2: float
    """Area where the target has hollows under overhangs, or an underside above its lowest place: nothing is said of them."""
    under_mm: float
    """What stays under the target's lowest place, between it and the blank's bottom; negative: the target reaches below the blank."""
    beside_mm: float
    """How far the target reaches sideways beyond the grid that the stock is followed on; 0 if it does not."""
    rest_mm2: float = 0.0
    """Area beside the outline on which the rest of the blank stands higher than the target, by more than the band."""


def check_target(swept: Swept, target: Shape, band_mm: float) -> TargetCheck:
    """Hold the finished stock against a target in the same work frame; `band_mm` is how far it may lie off on either side. Raises
    `InputError` if the target is not closed."""
    after = settled(swept.after)
    grid = after.grid
    base = np.float32(after.bottom_mm - grid.z0_mm)
    scanned = columns_of(target, grid)
    wanted = np.where(scanned.top > NOTHING, np.maximum(scanned.top, base), base)
    found = np.where(after.top > NOTHING, np.maximum(after.top, base), base)
    compared = _compared(scanned.top > NOTHING, grid)
    lowest, highest = _forgiven(wanted, grid.cell_mm)
    deep = np.where(compared, np.minimum(found - lowest, 0), 0)
    left = np.where(compared, np.maximum(found - highest, 0), 0)
    rest = _rest_of_blank(found, left > band_mm, scanned.top > NOTHING, swept.before.top > NOTHING, grid, band_mm)
    left = np.where(rest, 0, left)
    held = _Held(frozen(found), frozen(wanted), float(base), float(band_mm), grid)
    hollow = np.unique(scanned.gaps[:, :2], axis=0)
    return TargetCheck(
        held.deviation(deep, swept.maker, swept.maker),
        held.deviation(left, swept.maker, _beside_left(found, left > band_mm, swept.maker, grid)),
        grid.cell_mm,
        float(np.count_nonzero(compared)) * grid.cell_mm**2,
        len(hollow) * grid.cell_mm**2,
        scanned.bottom_mm - after.bottom_mm,
        _beside(target, grid),
        float(np.count_nonzero(rest)) * grid.cell_mm**2,
    )


@dataclass(frozen=True, slots=True)
class _Held:
    """Two surfaces held against each other: f4[rows, columns] above the grid's level; `base_mm`, the blank's bottom, where nothing stands."""

    found: Heights
    wanted: Heights
    base_mm: float
    band_mm: float
    grid: Grid

    def deviation(self, off: NDArray[np.float32], maker: Ints, fault: Ints) -> Deviation:
        """What `off` comes to (upward; all of one sign), sideways considered where it passes the band; `maker`: who cut each cell last,
        `fault`: whose fault it may be that it stands as it does."""
        rows, columns = np.nonzero(np.abs(off) > self.band_mm)
        if not rows.size:
            row, column = np.unravel_index(int(np.argmax(np.abs(off))), off.shape)
            return self._told(float(abs(off[row, column])), 0.0, int(row), int(column), maker, fault)
        upward = off[rows, columns]
        cells = np.column_stack([rows, columns]).astype(np.int32)
        nearest = np.empty(rows.size, np.float32)
        asked = frozen(cells), frozen(upward), *_steps_aside(self.grid.cell_mm)
        kernels.find_aside(self.found, self.wanted, *asked, self.band_mm, self.base_mm, nearest)
        worst = int(np.argmax(nearest))
        area = float(np.count_nonzero(nearest > self.band_mm)) * self.grid.cell_mm**2
        told = self._told(float(nearest[worst]), area, int(rows[worst]), int(columns[worst]), maker, fault)
        moves, mine = np.unique(fault[rows, columns], return_inverse=True)
        most = np.zeros(moves.size)
        np.maximum.at(most, mine.ravel(), nearest)
        return replace(told, moves=frozen(moves[moves >= 0]), each_mm=frozen(most[moves >= 0]))

    def _told(self, largest: float, area: float, row: int, column: int, maker: Ints, fault: Ints) -> Deviation:
        grid = self.grid
        x, y = grid.x0_mm + (column + 0.5) * grid.cell_mm, grid.y0_mm + (row + 0.5) * grid.cell_mm
        z = float(self.found[row, column]) + grid.z0_mm
        begun = int(fault[row, column])
        return Deviation(largest, area, (x, y, z), begun if begun >= 0 else int(maker[row, column]), begun >= 0)


def _compared(inside: NDArray[np.bool_], grid: Grid) -> NDArray[np.bool_]:
    """bool[rows, columns]: within the outline of the target or a little beside it."""
    if not inside.any():
        return inside
    around = max(AROUND_MM, AROUND_CELLS * grid.cell_mm)
    near: NDArray[np.bool_] = ndimage.distance_transform_edt(~inside) * grid.cell_mm <= around
    return near


def _rest_of_blank(
    found: Heights, left: NDArray[np.bool_], inside: NDArray[np.bool_], stock: NDArray[np.bool_], grid: Grid, band_mm: float
) -> NDArray[np.bool_]:  # fmt: skip
    """bool[rows, columns]: places of `left` outside of the target's outline that are the rest of the blank, not material on the part. They
    hang together with the blank's rim through ground as high as they are, and no lower ground is near them: a wall that is too big stands
    beside the cut that made it."""
    outside = ~inside
    beside = left & outside
    if not beside.any():
        return beside
    rim = outside & stock & ~ndimage.binary_erosion(stock)
    step = max(STEEP_CELLS * grid.cell_mm, band_mm)
    low = ndimage.minimum_filter(np.where(outside & stock, found, np.inf), 2 * math.ceil(AROUND_MM / grid.cell_mm) + 1)
    asked = beside & (low >= found - step)
    level = np.floor(found / step)
    rest = np.zeros_like(beside)
    for one in np.unique(level[asked]).tolist():
        label, _ = ndimage.label(outside & (level >= one - 1))
        joined = np.unique(label[rim & (label > 0)])
        rest |= asked & (level == one) & np.isin(label, joined)
    return rest


def _forgiven(wanted: Heights, cell_mm: float) -> tuple[Heights, Heights]:
    """Least and greatest height that is right in each cell: those of the eight around at edges, elsewhere the target's own."""
    lowest, highest = ndimage.minimum_filter(wanted, 3), ndimage.maximum_filter(wanted, 3)
    edge = _jumps(wanted, STEEP_CELLS * cell_mm)
    return np.where(edge, lowest, wanted), np.where(edge, highest, wanted)


def _beside_left(found: Heights, left: NDArray[np.bool_], maker: Ints, grid: Grid) -> Ints:
    """i4[rows, columns]: who cut each cell last; of what was left standing, who cut the lower ground that begins within reach beside it: that
    cut should have stood nearer. −1 where no such ground is near: what stands there an earlier cut left, rightly."""
    if not left.any():
        return maker
    away, (rows, columns) = ndimage.distance_transform_edt(left, return_indices=True)
    near = away * grid.cell_mm <= max(AROUND_MM, AROUND_CELLS * grid.cell_mm)
    lower = found[rows, columns] < found - LEAST_CUT_MM
    beside: Ints = np.where(left, np.where(near & lower, maker[rows, columns], -1), maker).astype(np.int32)
    return beside


def _jumps(wanted: Heights, steep: float) -> NDArray[np.bool_]:
    """Cells one of whose eight neighbours is higher or lower by more than `steep`."""
    jump = np.zeros(wanted.shape, np.bool_)
    for here, there in (
        (np.s_[:, 1:], np.s_[:, :-1]),
        (np.s_[1:], np.s_[:-1]),
        (np.s_[1:, 1:], np.s_[:-1, :-1]),
        (np.s_[1:, :-1], np.s_[:-1, 1:]),
    ):
        high = np.abs(wanted[here] - wanted[there]) > steep
        jump[here] |= high
        jump[there] |= high
    return jump


def _steps_aside(cell_mm: float) -> tuple[Ints, NDArray[np.float32]]:
    """Steps i4[M, 2] to all cells within reach, nearest first, and how far they are, f4[M] mm."""
    reach = min(max(math.ceil(AROUND_MM / cell_mm), AROUND_CELLS), MOST_ASIDE_CELLS)
    rows, columns = np.indices((2 * reach + 1, 2 * reach + 1)) - reach
    away: Floats = np.hypot(rows, columns).ravel()
    order = np.argsort(away, kind="stable")
    order = order[(away[order] > 0) & (away[order] <= reach)]
    steps = np.column_stack([rows.ravel(), columns.ravel()])[order].astype(np.int32)
    return frozen(steps), frozen((away[order] * cell_mm).astype(np.float32))


def _beside(target: Shape, grid: Grid) -> float:
    low, high = target.low_mm, target.high_mm
    x_high, y_high = grid.x0_mm + grid.columns * grid.cell_mm, grid.y0_mm + grid.rows * grid.cell_mm
    most = max(grid.x0_mm - low[0], grid.y0_mm - low[1], high[0] - x_high, high[1] - y_high)
    return most if most > LEAST_CUT_MM else 0.0
