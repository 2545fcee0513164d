"""Edges that are wider than what carries them, and the hollows that they leave under standing stock.

A field is the height of the highest material in each cell. Where a tee or a lollipop has passed under it, or a shape from a file overhangs, the
hollows below that height are kept beside it, in those tiles only: at most `_kernels.GAPS` in a cell, and one more than that is a fault, never
a hollow forgotten.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.errors import Fault, InputError
from firstoff.facts.assembly import Assembly, Part, Segment
from firstoff.program.moves import Floats
from firstoff.removal import _kernels as k
from firstoff.removal.field import Field, Grid

SAME_MM = 1e-9


@dataclass(frozen=True, slots=True)
class Unders:
    """By row of cutter: `necks` f8[C], cells, radius within which everything over the edge is cleared, -1 for a tool that does not undercut;
    `bounds` f8[C, UNDER + 1, 2], lower and upper side of the edge over the tip, mm, at equal steps of the square of its radius."""

    necks: Floats
    bounds: Floats


def unders_of(assemblies: Sequence[Assembly], cell_mm: float) -> Unders:
    """The undercutting edges among the tools of a sweep."""
    count = max(len(assemblies), 1)
    necks, bounds = np.full(count, -1.0), np.zeros((count, k.UNDER + 1, 2))
    for row, assembly in enumerate(assemblies):
        if assembly.undercuts:
            edge = [one for one in assembly.segments if one.part is Part.EDGE]
            radius = max(max(one.r0_mm, one.r1_mm) for one in edge)
            radii = radius * np.sqrt(np.linspace(0.0, 1.0, k.UNDER + 1))
            necks[row] = neck_radius(assembly) / cell_mm
            bounds[row] = sides_at(edge, radii)
    for array in (necks, bounds):
        array.setflags(write=False)
    return Unders(necks, bounds)


def neck_radius(assembly: Assembly) -> float:
    """Least radius of what stands over the edge before the body grows wider again, mm."""
    last = max(n for n, one in enumerate(assembly.segments) if one.part is Part.EDGE)
    least = assembly.segments[last].r1_mm
    for one in assembly.segments[last + 1 :]:
        if one.r1_mm > least + SAME_MM:
            break
        least = min(least, one.r1_mm)
    return least


def sides_at(edge: Sequence[Segment], radii: Floats) -> Floats:
    """f8[K, 2]: lowest and highest place of the edge at each radius, mm over the tip."""
    sides = np.empty((radii.size, 2))
    last = edge[-1]
    for n, radius in enumerate(radii):
        heights = [height for one in edge for height in _heights(one, float(radius))]
        heights += [last.z1_mm] if radius <= last.r1_mm + SAME_MM else []  # where the edge ends the body goes on
        sides[n] = min(heights, default=math.nan), max(heights, default=math.nan)
    return sides


def _heights(one: Segment, radius: float) -> tuple[float, ...]:
    """Heights at which a stretch is at a radius: none, one, or both ends of an upright one."""
    low, high = sorted((one.r0_mm, one.r1_mm))
    if not low - SAME_MM <= radius <= high + SAME_MM:
        return ()
    if high - low <= SAME_MM:
        return one.z0_mm, one.z1_mm
    part = min(max((radius - one.r0_mm) / (one.r1_mm - one.r0_mm), 0.0), 1.0)
    return (one.z0_mm + part * (one.z1_mm - one.z0_mm),)


@dataclass(frozen=True, slots=True)
class Hollow:
    """The hollows of one tile, changed in place: `counts` u1[TILE, TILE], `spans` f4[TILE, TILE, GAPS, 2] (see `_kernels._subtract`)."""

    counts: NDArray[np.uint8]
    spans: NDArray[np.float32]


NONE = Hollow(np.zeros((0, 0), np.uint8), np.zeros((0, 0, 0, 0), np.float32))
"""Of a tile that has none: the kernel takes its plain way."""


def no_hollows() -> Hollow:
    """Room for the hollows of one tile."""
    return Hollow(np.zeros((k.TILE, k.TILE), np.uint8), np.zeros((k.TILE, k.TILE, k.GAPS, 2), np.float32))


def hollows_of(field: Field) -> dict[int, Hollow]:
    """The hollows of a field, by tile. Raises `InputError` where a cell has more than are kept."""
    tiles: dict[int, Hollow] = {}
    along = -(-field.grid.columns // k.TILE)
    order = np.lexsort((-field.gaps[:, 3], field.gaps[:, 1], field.gaps[:, 0]))
    for row, column, low, high in field.gaps[order].tolist():
        i, j = int(row), int(column)
        one = tiles.setdefault(i // k.TILE * along + j // k.TILE, no_hollows())
        a, b = i % k.TILE, j % k.TILE
        if one.counts[a, b] == k.GAPS:
            raise too_many(field.grid, i, j)
        one.spans[a, b, one.counts[a, b]] = low, high
        one.counts[a, b] += 1
    return tiles


def gaps_of(tiles: dict[int, Hollow], grid: Grid) -> Floats:
    """f8[K, 4]: row, column, low, high of all hollows, by row and column, the lowest first."""
    found = [np.zeros((0, 4))]
    along = -(-grid.columns // k.TILE)
    for tile, one in sorted(tiles.items()):
        a, b = np.nonzero(one.counts)
        each = one.counts[a, b]
        a, b = np.repeat(a, each), np.repeat(b, each)
        n = np.arange(a.size) - np.repeat(np.cumsum(each, dtype=np.int64) - each, each)
        rows, columns = a + tile // along * k.TILE, b + tile % along * k.TILE
        found.append(np.column_stack([rows, columns, one.spans[a, b, n].astype(np.float64)]))
    gaps: Floats = np.concatenate(found)
    return gaps[np.lexsort((gaps[:, 2], gaps[:, 1], gaps[:, 0]))]


def too_many(grid: Grid, row: int, column: int) -> InputError:
    """The fault of a cell with more hollows over one another than are kept."""
    x = grid.x0_mm + (column + 0.5) * grid.cell_mm
    y = grid.y0_mm + (row + 0.5) * grid.cell_mm
    return InputError(
        Fault(
            "has more hollows over one another than are followed",
            f"at X {x:.2f}, Y {y:.2f} mm",
            f"at most {k.GAPS} in one place",
            do="Examine the job up to the undercut, or take fewer passes under one another.",
        )
    )
