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
TILE_CELLS = 48
"""Feet of walls are taken together over squares of this many cells, to look only at passes that come by."""


def makers_of_walls(
    swept: Swept, top: NDArray[np.float32], edges: Ints, ways: Ways, assemblies: Mapping[int, Assembly], made: NDArray[np.uint8]
) -> Floats:  # fmt: skip
    """Adds the makers of upper depths to `made` u1[N] (in place; bits as of `find_walls`). Returns f8[N, 3, 2], the least and greatest X, Y and
    Z of the walls that each move made, work frame; NaN where it made none."""
    count, grid = len(ways.tool), swept.after.grid
    box = np.tile([np.inf, -np.inf], (count, 3))
    if len(edges):
        frame = frozen(np.array([grid.x0_mm, grid.y0_mm, grid.cell_mm, swept.after.bottom_mm - grid.z0_mm]))
        radius, straight = _edges_of(ways.tool, assemblies)
        axial, low = swept.moves.axial_mm.astype(np.float64), ways.tip_mm + grid.z0_mm
        passes = np.flatnonzero((swept.moves.volume_mm3 > 0) & np.isfinite(low) & (radius > 0)).astype(np.int32)
        bounds = _bounds(ways, passes)
        for mine in _by_tile(edges, grid.columns):
            rows, columns = mine[:, 0], mine[:, 1]
            x = grid.x0_mm + grid.cell_mm * np.array([columns.min(), columns.max() + 1])
            y = grid.y0_mm + grid.cell_mm * np.array([rows.min(), rows.max() + 1])
            out = radius[passes] + grid.cell_mm
            near = (bounds[:, 0] - out <= x[1]) & (bounds[:, 1] + out >= x[0])
            near &= (bounds[:, 2] - out <= y[1]) & (bounds[:, 3] + out >= y[0])
            by = frozen(passes[near][::-1])
            kernels.find_makers(
                top, frozen(swept.maker), frame, float(grid.z0_mm), frozen(mine), by, *ways.lines, radius, straight, frozen(axial), frozen(low),
                SAME_REACH_MM, LEAST_CUT_MM, made, box,
            )  # fmt: skip
    return np.where(np.isfinite(box), box, np.nan).reshape(count, 3, 2)


def _edges_of(tool: Ints, assemblies: Mapping[int, Assembly]) -> tuple[Floats, Floats]:
    """Radius of the upright part of the edge, and the height where it begins, by move; 0 where the tool is not known."""
    radius, straight = np.zeros(tool.size), np.zeros(tool.size)
    for number, one in assemblies.items():
        edge, mine = cutter(one), tool == number
        radius[mine], straight[mine] = edge.radius_mm, edge.side_from_mm
    return frozen(radius), frozen(straight)


def _bounds(ways: Ways, passes: Ints) -> Floats:
    """f8[P, 4] least and greatest X and Y of the ways of some moves; of arcs, those of their whole circles."""
    low, high = np.minimum(ways.start, ways.end)[:, :2], np.maximum(ways.start, ways.end)[:, :2]
    bent = np.flatnonzero(ways.arc >= 0)
    if bent.size:
        centre = ways.centre[ways.arc[bent]]
        round_mm = np.linalg.norm(ways.start[bent, :2] - centre, axis=1)[:, None]
        low[bent], high[bent] = np.minimum(low[bent], centre - round_mm), np.maximum(high[bent], centre + round_mm)
    begins = ways.first[:-1][passes]
    if not begins.size:
        return np.empty((0, 4))
    ends = ways.first[1:][passes]
    cuts = np.column_stack([begins, ends]).ravel()
    inside = cuts < len(low)
    padded = [np.vstack([one, one[-1:]]) for one in (low, high)]
    least = np.minimum.reduceat(padded[0], np.where(inside, cuts, len(low)))[::2]
    most = np.maximum.reduceat(padded[1], np.where(inside, cuts, len(low)))[::2]
    return np.column_stack([least[:, 0], most[:, 0], least[:, 1], most[:, 1]])


def _by_tile(edges: Ints, columns: int) -> list[Ints]:
    """The feet of walls, square by square."""
    tile = (edges[:, 0] // TILE_CELLS).astype(np.int64) * (columns // TILE_CELLS + 1) + edges[:, 1] // TILE_CELLS
    order = np.argsort(tile, kind="stable")
    return np.split(edges[order], np.flatnonzero(np.diff(tile[order])) + 1)
