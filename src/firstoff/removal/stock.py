"""The blank as heights over a grid: a box, a cylinder, a shape read from a file, or what an earlier job left.

A blank is what the job says it is; how much larger or smaller it may be is put on by `grown`, so that questions of contact can be asked of
the largest blank and questions of grip and clean-up of the smallest.
"""

from __future__ import annotations

import math
from dataclasses import astuple, dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import Floats
from firstoff.removal.field import LEAST_CUT_MM, NOTHING, Field, Grid, Heights
from firstoff.removal.growing import laid_on, moved_faces, settled
from firstoff.removal.profile import frozen
from firstoff.removal.scan.columns import columns_of
from firstoff.removal.shape import Shape


@dataclass(frozen=True, slots=True)
class Extent:
    """A box along the axes, work frame, mm."""

    x_low: float
    x_high: float
    y_low: float
    y_high: float
    z_low: float
    z_high: float

    def outward(self, by: Faces) -> Extent:
        """Every face moved outward; faces that would pass each other meet in the middle."""
        pairs: list[float] = []
        for low, high, more_low, more_high in (
            (self.x_low, self.x_high, by.x_low, by.x_high),
            (self.y_low, self.y_high, by.y_low, by.y_high),
            (self.z_low, self.z_high, by.z_low, by.z_high),
        ):
            ends = (low - more_low, high + more_high)
            pairs += ends if ends[0] <= ends[1] else (0.5 * sum(ends),) * 2
        return Extent(*pairs)


@dataclass(frozen=True, slots=True)
class Faces:
    """How far each face is moved outward, mm; negative inward."""

    x_low: float = 0.0
    x_high: float = 0.0
    y_low: float = 0.0
    y_high: float = 0.0
    z_low: float = 0.0
    z_high: float = 0.0

    def plus(self, other: Faces) -> Faces:
        return Faces(*(one + more for one, more in zip(astuple(self), astuple(other), strict=True)))

    @property
    def side(self) -> float:
        """The one number for a round side: the largest of the four, by amount."""
        return max((self.x_low, self.x_high, self.y_low, self.y_high), key=abs)


NOT_MOVED = Faces()
ROUNDING = 1e-9
"""Share of a cell's area below which a sum of floats is nil."""


def all_faces(mm: float) -> Faces:
    """Every face by the same amount."""
    return Faces(mm, mm, mm, mm, mm, mm)


@dataclass(frozen=True, slots=True)
class BoxBlank:
    """A box along the axes."""

    extent: Extent


@dataclass(frozen=True, slots=True)
class CylinderBlank:
    """Round, axis along Z."""

    x_mm: float
    y_mm: float
    radius_mm: float
    z_low_mm: float
    z_high_mm: float

    @property
    def extent(self) -> Extent:
        x, y, r = self.x_mm, self.y_mm, self.radius_mm
        return Extent(x - r, x + r, y - r, y + r, self.z_low_mm, self.z_high_mm)


@dataclass(frozen=True, slots=True)
class ShapeBlank:
    """A shape from a file, where it stands in the work frame, with its faces moved by `by`."""

    shape: Shape
    by: Faces = NOT_MOVED

    @property
    def extent(self) -> Extent:
        low, high = self.shape.low_mm, self.shape.high_mm
        return Extent(low[0], high[0], low[1], high[1], low[2], high[2]).outward(self.by)


@dataclass(frozen=True, slots=True)
class LeftBlank:
    """What an earlier job left, moved by `shift_mm` from that job's work frame into this one's, with its faces moved by `by`. Where the
    two grids differ its walls are known to half an old cell's diagonal; add that to `by` where it counts."""

    field: Field
    shift_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    by: Faces = NOT_MOVED

    @property
    def extent(self) -> Extent:
        grid, (x, y, z) = self.field.grid, self.shift_mm
        rows, columns = np.nonzero(self.field.top > NOTHING)
        if not rows.size:
            return Extent(x, x, y, y, z, z)
        x_low, x_high = (grid.x0_mm + x + grid.cell_mm * int(k) for k in (columns.min(), columns.max() + 1))
        y_low, y_high = (grid.y0_mm + y + grid.cell_mm * int(k) for k in (rows.min(), rows.max() + 1))
        top = grid.z0_mm + float(self.field.top.max())
        return Extent(x_low, x_high, y_low, y_high, self.field.bottom_mm + z, top + z).outward(self.by)


Blank = BoxBlank | CylinderBlank | ShapeBlank | LeftBlank


def grown(blank: Blank, by: Faces) -> Blank:
    """The same blank with its faces moved outward (negative: inward): the largest or smallest that its doubt allows."""
    if isinstance(blank, BoxBlank):
        return BoxBlank(blank.extent.outward(by))
    if isinstance(blank, CylinderBlank):
        return _grown_cylinder(blank, by)
    return replace(blank, by=blank.by.plus(by))


def _grown_cylinder(blank: CylinderBlank, by: Faces) -> CylinderBlank:
    moved = blank.extent.outward(by)
    radius = max(blank.radius_mm + by.side, 0.0)
    return replace(blank, radius_mm=radius, z_low_mm=moved.z_low, z_high_mm=moved.z_high)


def field_of(blank: Blank, grid: Grid) -> Field:
    """Heights of the blank at the centres of the grid's cells; what lies outside the grid is not there."""
    if isinstance(blank, BoxBlank):
        return field_of_box(blank, grid)
    if isinstance(blank, CylinderBlank):
        return field_of_cylinder(blank, grid)
    if isinstance(blank, ShapeBlank):
        return field_of_shape(blank, grid)
    return field_of_left(blank, grid)


def field_of_box(blank: BoxBlank, grid: Grid) -> Field:
    """A box: a cell is stock if its centre lies in it."""
    box = blank.extent
    inside = _within(_centres_y(grid), box.y_low, box.y_high)[:, None] & _within(
        _centres_x(grid), box.x_low, box.x_high
    )
    return _upright(inside, box.z_low, box.z_high, grid)


def field_of_cylinder(blank: CylinderBlank, grid: Grid) -> Field:
    """A cylinder: a cell is stock if its centre lies in it."""
    away = np.hypot(_centres_y(grid)[:, None] - blank.y_mm, _centres_x(grid) - blank.x_mm)
    return _upright(away < blank.radius_mm, blank.z_low_mm, blank.z_high_mm, grid)


def field_of_shape(blank: ShapeBlank, grid: Grid) -> Field:
    """A shape, hollows under overhangs included. Raises `InputError` if it is not closed."""
    scanned = columns_of(blank.shape, grid)
    field = _with_faces(scanned.top, scanned.gaps, scanned.bottom_mm - grid.z0_mm, blank.by, grid)
    return replace(field, unmatched=scanned.unmatched)


def field_of_left(blank: LeftBlank, grid: Grid) -> Field:
    """What an earlier job left, to the last bit where its grid lies cell on cell with this one."""
    return _with_faces(*laid_on(blank.field, grid, blank.shift_mm), blank.by, grid)


def cover_of(blank: Blank, grid: Grid) -> NDArray[np.float32]:
    """f4[rows, columns]: area that each cell stands for, in cells, so that heights times cover is the blank's true volume.

    A cell whose centre lies inside counts with what is covered of it; what is covered of a cell whose centre lies outside is given to its
    neighbour inwards. 1 within, about 0.5 to 1.5 along an edge, 0 outside. A shape or what a job left counts whole cells.
    """
    if isinstance(blank, ShapeBlank | LeftBlank):
        return (field_of(blank, grid).top > NOTHING).astype("f4")
    if isinstance(blank, BoxBlank):
        box = blank.extent
        across = _cover_along(grid.x0_mm, grid.cell_mm, grid.columns, box.x_low, box.x_high)
        return np.outer(_cover_along(grid.y0_mm, grid.cell_mm, grid.rows, box.y_low, box.y_high), across).astype("f4")
    return _cover_of_circle(blank, grid)


def volume_mm3(field: Field, cover: NDArray[np.float32] | None = None) -> float:
    """Volume of what the field holds; with `cover`, edges count with the area they truly have."""
    field = settled(field)
    bottom = field.bottom_mm - field.grid.z0_mm
    heights = np.maximum(field.top.astype(np.float64) - bottom, 0.0)
    weight = np.ones(1) if cover is None else cover.astype(np.float64)
    solid = float((heights * weight).sum())
    if len(field.gaps):
        rows, columns = field.gaps[:, 0].astype(np.intp), field.gaps[:, 1].astype(np.intp)
        at = weight[rows, columns] if cover is not None else 1.0
        solid -= float(((field.gaps[:, 3] - field.gaps[:, 2]) * at).sum())
    return solid * field.grid.cell_mm**2


def frozen_field(grid: Grid, top: Heights, bottom_mm: float, gaps: Floats | None = None) -> Field:
    """A field whose arrays are C-contiguous and read-only."""
    hollows = np.zeros((0, 4)) if gaps is None else np.asarray(gaps, dtype=np.float64)
    return Field(grid, frozen(np.asarray(top, dtype=np.float32)), bottom_mm, frozen(hollows))


def _with_faces(top: Heights, gaps: Floats, bottom: float, by: Faces, grid: Grid) -> Field:
    if by != NOT_MOVED:
        sides, ends = (by.x_low, by.x_high, by.y_low, by.y_high), (by.z_low, by.z_high)
        top, gaps, bottom = moved_faces(top, gaps, bottom, grid.cell_mm, sides, ends)
    return frozen_field(grid, top, bottom + grid.z0_mm, gaps)


def _centres_x(grid: Grid) -> Floats:
    centres: Floats = grid.x0_mm + grid.cell_mm * (np.arange(grid.columns, dtype=np.float64) + 0.5)
    return centres


def _centres_y(grid: Grid) -> Floats:
    centres: Floats = grid.y0_mm + grid.cell_mm * (np.arange(grid.rows, dtype=np.float64) + 0.5)
    return centres


def _within(places: Floats, low: float, high: float) -> NDArray[np.bool_]:
    inside: NDArray[np.bool_] = (places >= low) & (places < high)
    return inside


def _upright(inside: NDArray[np.bool_], low: float, high: float, grid: Grid) -> Field:
    top = np.where(inside & (high - low > LEAST_CUT_MM), np.float32(high - grid.z0_mm), NOTHING)
    return frozen_field(grid, top, low)


def _cover_along(start: float, cell: float, count: int, low: float, high: float) -> Floats:
    """f8[count]: covered length of each cell of one axis, in cells, given to the cells whose centre lies inside."""
    edges = np.clip(start + cell * np.arange(count + 1, dtype=np.float64), low, high)
    covered: Floats = np.diff(edges) / cell
    inside = np.flatnonzero(_within(start + cell * (np.arange(count, dtype=np.float64) + 0.5), low, high))
    if not inside.size:
        return np.zeros(count)
    first, last = inside[0], inside[-1]
    covered[first] += covered[:first].sum()
    covered[last] += covered[last + 1 :].sum()
    covered[:first] = 0.0
    covered[last + 1 :] = 0.0
    return covered


def _cover_of_circle(blank: CylinderBlank, grid: Grid) -> NDArray[np.float32]:
    if blank.radius_mm <= 0.0:
        return np.zeros((grid.rows, grid.columns), "f4")
    x = (grid.x0_mm + grid.cell_mm * np.arange(grid.columns + 1, dtype=np.float64) - blank.x_mm) / blank.radius_mm
    y = (grid.y0_mm + grid.cell_mm * np.arange(grid.rows + 1, dtype=np.float64) - blank.y_mm) / blank.radius_mm
    corners = _area_left_below(x[None, :], y[:, None])
    covered = np.diff(np.diff(corners, axis=0), axis=1) * (blank.radius_mm / grid.cell_mm) ** 2
    dx, dy = _centres_x(grid) - blank.x_mm, _centres_y(grid) - blank.y_mm
    away = np.hypot(dy[:, None], dx)
    rows, columns = np.nonzero((covered > ROUNDING) & (away >= blank.radius_mm))
    given = covered[rows, columns]
    covered[rows, columns] = 0.0
    inward = away[rows, columns]
    to_row = np.clip(rows - np.rint(dy[rows] / inward).astype(np.intp), 0, grid.rows - 1)
    to_column = np.clip(columns - np.rint(dx[columns] / inward).astype(np.intp), 0, grid.columns - 1)
    np.add.at(covered, (to_row, to_column), given)
    return np.where(covered > ROUNDING, covered, 0.0).astype("f4")


def _area_left_below(x: Floats, y: Floats) -> Floats:
    """Area of the unit circle's part with X up to `x` and Y up to `y`: the integral over X of √(1−X²) and the nearer of |y| and it."""
    x, y = np.clip(x, -1.0, 1.0), np.clip(y, -1.0, 1.0)
    level = np.abs(y)
    turn = np.sqrt(1.0 - level**2)
    straight = level * (np.clip(x, -turn, turn) + turn)
    bent = _half_circle(np.minimum(x, -turn)) + 0.25 * math.pi + _half_circle(np.maximum(x, turn)) - _half_circle(turn)
    area: Floats = _half_circle(x) + 0.25 * math.pi + np.sign(y) * (straight + bent)
    return area


def _half_circle(x: Floats) -> Floats:
    """Integral of √(1−X²) from 0 to x."""
    area: Floats = 0.5 * (x * np.sqrt(1.0 - x**2) + np.arcsin(x))
    return area
