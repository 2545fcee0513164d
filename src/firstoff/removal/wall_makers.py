"""Who made each wall that stands, over its whole height: of a wall cut in several depths every one of them.

The heights tell only who cut the foot. Above it stands what the passes before left that reached as far, where the last one did not cut any
more: its edge goes along there, too, but had nothing to take. How far a pass reaches is told by its own way and radius, not by cells, so a
pass that left a hundredth for the next is no maker.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Assembly
from firstoff.program.moves import Floats, Ints
from firstoff.removal.field import LEAST_CUT_MM
from firstoff.removal.profile import cutter, frozen
from firstoff.removal.scan import _kernels as kernels
from firstoff.removal.swept import Swept
from firstoff.removal.ways import Ways

SAME_REACH_MM = 0.02
"""Passes that end closer than this to one wall end at it: less than any allowance that is left on purpose (common practice: 0.05 mm up)."""
RUN = 256
"""Passes whose bounds are looked at together first."""
TILE_CELLS = 48
"""Feet of walls are taken together over squares of this many cells, to look only at passes that come by."""


def makers_of_walls(
    swept: Swept, top: NDArray[np.float32], edges: Ints, ways: Ways, assemblies: Mapping[int, Assembly], made: NDArray[np.uint8]
) -> Floats:  # fmt: skip
    """Adds the makers of upper depths to `made` u1[N] (in place; bits as of `find_walls`). Returns f8[N, 3, 2], the least and greatest X, Y and
    Z of the walls that each move made, work frame; NaN where it made none."""
    count, grid = len(ways.tool), swept.after.grid
    box = np.empty((count, 6))
    box[:, ::2], box[:, 1::2] = np.inf, -np.inf
    if len(edges):
        frame = frozen(np.array([grid.x0_mm, grid.y0_mm, grid.cell_mm, swept.after.bottom_mm - grid.z0_mm]))
        radius, straight = _edges_of(ways.tool, assemblies)
        axial, low = swept.moves.axial_mm.astype(np.float64), ways.tip_mm + grid.z0_mm
        passes = np.flatnonzero((swept.moves.volume_mm3 > 0) & np.isfinite(low) & (radius > 0)).astype(np.int32)
        near = _Near(_bounds(ways, passes, radius[passes] + grid.cell_mm))
        for mine in _by_tile(edges, grid.columns):
            rows, columns = mine[:, 0], mine[:, 1]
            x = grid.x0_mm + grid.cell_mm * np.array([columns.min(), columns.max() + 1])
            y = grid.y0_mm + grid.cell_mm * np.array([rows.min(), rows.max() + 1])
            by = frozen(passes[near.to(x, y)][::-1])
            kernels.find_makers(
                top, frozen(swept.maker), frame, float(grid.z0_mm), frozen(mine), by, *ways.lines, radius, straight, frozen(axial), frozen(low),
                SAME_REACH_MM, LEAST_CUT_MM, made, box,
            )  # fmt: skip
    box[np.isinf(box[:, 0])] = np.nan
    return box.reshape(count, 3, 2)


def _edges_of(tool: Ints, assemblies: Mapping[int, Assembly]) -> tuple[Floats, Floats]:
    """Radius of the upright part of the edge, and the height where it begins, by move; 0 where the tool is not known."""
    radius, straight = np.zeros(tool.size), np.zeros(tool.size)
    for number, one in assemblies.items():
        edge, mine = cutter(one), tool == number
        radius[mine], straight[mine] = edge.radius_mm, edge.side_from_mm
    return frozen(radius), frozen(straight)


class _Near:
    """Finds the rectangles that touch another one: those of whole runs are looked at first."""

    def __init__(self, bounds: Floats) -> None:
        self.bounds, begins = bounds, np.arange(0, len(bounds), RUN)
        least, most = np.minimum.reduceat(bounds, begins), np.maximum.reduceat(bounds, begins)
        self.runs = np.column_stack([least[:, 0], most[:, 1], least[:, 2], most[:, 3]]) if begins.size else bounds

    def to(self, x: Floats, y: Floats) -> NDArray[np.intp]:
        """Numbers of the rectangles that reach into one from x[0] to x[1] and from y[0] to y[1]."""
        runs = np.flatnonzero(_touch(self.runs, x, y))
        rows = (runs[:, None] * RUN + np.arange(RUN)).ravel()
        rows = rows[rows < len(self.bounds)]
        return rows[_touch(self.bounds.take(rows, axis=0), x, y)]


def _touch(bounds: Floats, x: Floats, y: Floats) -> NDArray[np.bool_]:
    along = (bounds[:, 0] <= x[1]) & (bounds[:, 1] >= x[0])
    touches: NDArray[np.bool_] = along & (bounds[:, 2] <= y[1]) & (bounds[:, 3] >= y[0])
    return touches


def _bounds(ways: Ways, passes: Ints, out: Floats) -> Floats:
    """f8[P, 4] least and greatest X and Y of the ways of some moves, `out` f8[P] further out; of arcs, those of their whole circles."""
    goes, bent = np.diff(ways.first) > 0, np.flatnonzero(ways.arc >= 0)
    begins, row = ways.first[:-1][goes], (np.cumsum(goes) - 1)[passes]
    centre = ways.centre[ways.arc[bent]]
    round_mm = np.linalg.norm(ways.start[bent, :2] - centre, axis=1)
    found = np.empty((passes.size, 4))
    for axis in range(2):
        ends = ways.start[:, axis], ways.end[:, axis]
        low, high = np.minimum(*ends), np.maximum(*ends)
        low[bent] = np.minimum(low[bent], centre[:, axis] - round_mm)
        high[bent] = np.maximum(high[bent], centre[:, axis] + round_mm)
        found[:, 2 * axis] = np.minimum.reduceat(low, begins)[row] - out
        found[:, 2 * axis + 1] = np.maximum.reduceat(high, begins)[row] + out
    return found


def _by_tile(edges: Ints, columns: int) -> list[Ints]:
    """The feet of walls, square by square."""
    tile = (edges[:, 0] // TILE_CELLS).astype(np.int64) * (columns // TILE_CELLS + 1) + edges[:, 1] // TILE_CELLS
    order = np.argsort(tile, kind="stable")
    return np.split(edges[order], np.flatnonzero(np.diff(tile[order])) + 1)
