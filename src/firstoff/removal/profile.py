"""The cutting edge of an assembly as removal sees it: how high the tool stands over its tip at each distance from the axis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Assembly, Part
from firstoff.program.moves import Floats, Ints
from firstoff.removal import _kernels as kernels
from firstoff.removal.swept import RINGS

Kind = TypeVar("Kind", bound=np.generic)

SAME_MM = 1e-9
"""Closer than this two radii or heights of a profile are one."""
FINE_MM = 2e-4
"""How true the table of heights by the square of the radius is, where it is used."""
SLIVER_MM = 0.01
"""What an edge meets at its flank and that comes to lie less than this within it does not count as standing above the edge: cells beside a
wall that the same tool has just cut, left there by chords of arcs, steps of stations and the third decimal of a program. Passes are laid no
closer (common practice), so it does not add up to anything. How near neck and shank come is asked on its own."""
SLIVER_SHARE = 0.05
"""Nor is more than this part of a radius a sliver (ours; it only matters below 0.4 mm across)."""
HULL = 257
"""Places of an end that the lines below it are laid to."""
FLAT_RINGS = 4
"""Rings of the end face that lie on its flat part where a tool has a flat and a sloped part."""


@dataclass(frozen=True, slots=True)
class Cutter:
    """The lower side of an edge turned about the axis: z over the tip at radius r, between knots by straight lines.

    z never falls outward: what lies in a hollow of the end is cut by what stands lower and farther out, so a hollow is taken as filled.
    Two knots of one radius are an upright step. The last knot lies at the greatest radius.
    """

    r_mm: Floats
    """f8[K], from 0, never falls."""
    z_mm: Floats
    """f8[K]"""
    flat_mm: float
    """Radius of the flat end: 0 for a ball or a point."""
    side_from_mm: float
    """Height where the sloped part ends and the straight upright side begins."""
    usable_mm: float | None
    """APMX; None where the shop does not know."""
    edge_top_mm: float
    """Highest place that is drawn as edge."""
    dead_mm: float

    @property
    def radius_mm(self) -> float:
        return float(self.r_mm[-1])

    @property
    def side_top_mm(self) -> float:
        """Up to where side samples count: APMX, or what is drawn as edge where APMX is not known."""
        return self.edge_top_mm if self.usable_mm is None else self.usable_mm

    def along_mm(self) -> Floats:
        """f8[K] way along the profile from the end of the flat part to each knot (0 on the flat)."""
        ways = np.hypot(np.diff(self.r_mm), np.diff(self.z_mm))
        ways[: self._flat_knots()] = 0.0
        return np.concatenate([[0.0], np.cumsum(ways)])

    def _flat_knots(self) -> int:
        return int(np.searchsorted(self.z_mm, SAME_MM, side="right")) - 1

    def radius_at_mm(self, height: float | Floats) -> Floats:
        """Greatest radius of the edge at or below a height over the tip."""
        z = np.asarray(height, dtype=np.float64)
        # An upright step has two knots of one radius, a flat two of one height: the outer one of the flat counts.
        rising = np.append(np.diff(self.z_mm) > SAME_MM, True)
        return np.asarray(np.interp(z, self.z_mm[rising], self.r_mm[rising]))


def slice_radii(cutter: Cutter, slope_z_mm: Floats) -> Floats:
    """f8[SLICES + 1] radius of the sloped part at each of the heights that part its slices (`Engagement.slope_z_mm`)."""
    return cutter.radius_at_mm(slope_z_mm)


def ring_radii(cutter: Cutter, slope_top_mm: float) -> Floats:
    """f8[RINGS + 1] radii that part the rings of `Engagement.end`; `slope_top_mm` is the last of `slope_z_mm`.

    A flat end has its rings on the flat. A ball or a point has them out to the radius that is engaged. A tool with both has
    `FLAT_RINGS` on the flat and the others on its sloped part.
    """
    if cutter.side_from_mm <= SAME_MM:
        return np.linspace(0.0, cutter.radius_mm, RINGS + 1)
    reach = float(cutter.radius_at_mm(slope_top_mm))
    if cutter.flat_mm <= SAME_MM:
        return np.linspace(0.0, reach, RINGS + 1)
    inner = np.linspace(0.0, cutter.flat_mm, FLAT_RINGS + 1)
    outer = np.linspace(cutter.flat_mm, max(reach, cutter.flat_mm), RINGS - FLAT_RINGS + 1)
    return np.concatenate([inner, outer[1:]])


def cutter(assembly: Assembly) -> Cutter:
    """The cutting edge of an assembly."""
    edges = [one for one in assembly.segments if one.part is Part.EDGE]
    if not edges:
        raise ValueError(f"the assembly {assembly.name!r} has no edge")
    numbers = np.array([[one.r0_mm, one.z0_mm, one.r1_mm, one.z1_mm] for one in edges])
    if not np.isfinite(numbers).all() or numbers[:, [0, 2]].max() <= SAME_MM:
        raise ValueError(f"the edge of the assembly {assembly.name!r} is not a profile: {numbers.tolist()}")
    r, z = _lower_side(numbers)
    flat = float(r[z <= z[0] + SAME_MM].max())
    usable = assembly.usable_mm
    top = float(numbers[:, [1, 3]].max())
    return Cutter(r, z, flat, float(z[-1]), usable, top, assembly.dead_radius_mm)


def _lower_side(segments: Floats) -> tuple[Floats, Floats]:
    """Knots (r, z) of the lowest edge at or beyond each radius, from the axis outward."""
    radii = np.unique(np.round(np.concatenate([[0.0], segments[:, 0], segments[:, 2]]), 9))
    outward: list[tuple[float, float]] = []  # from the rim inward
    lowest = math.inf
    ends = np.vstack([segments[:, :2], segments[:, 2:]])
    for inner, outer in zip(radii[-2::-1], radii[:0:-1], strict=True):
        lowest = min(lowest, float(ends[np.abs(ends[:, 0] - outer) <= SAME_MM, 1].min(initial=math.inf)))
        spans = [pair for one in segments if (pair := _span(one, inner, outer)) is not None]
        z_in, z_out = min(spans, key=lambda pair: (pair[0] + pair[1], pair)) if spans else (lowest, lowest)
        outward += _not_above(float(inner), float(outer), z_in, z_out, lowest)
        lowest = min(lowest, z_in, z_out)
    knots = outward[::-1]
    kept = [one for n, one in enumerate(knots) if n == 0 or math.dist(one, knots[n - 1]) > SAME_MM]
    return np.array([r for r, _ in kept]), np.array([z for _, z in kept])


def _span(segment: Floats, inner: float, outer: float) -> tuple[float, float] | None:
    """Heights of a straight stretch at two radii that it spans; None if it does not."""
    (r0, z0), (r1, z1) = sorted([(segment[0], segment[1]), (segment[2], segment[3])])
    if r1 - r0 <= SAME_MM or r0 > inner + SAME_MM or r1 < outer - SAME_MM:
        return None
    slope = (z1 - z0) / (r1 - r0)
    return float(z0 + slope * (inner - r0)), float(z0 + slope * (outer - r0))


def _not_above(inner: float, outer: float, z_in: float, z_out: float, lowest: float) -> list[tuple[float, float]]:
    """Knots from outside inward of a stretch, nowhere above what is lowest farther out."""
    limit = min(lowest, z_out)
    if z_in >= limit:
        return [(outer, limit), (inner, limit)]
    if z_out <= lowest:
        return [(outer, z_out), (inner, z_in)]
    crossing = inner + (outer - inner) * (lowest - z_in) / (z_out - z_in)
    return [(outer, lowest), (crossing, lowest), (inner, z_in)]


@dataclass(frozen=True, slots=True)
class Tables:
    """All cutters of a sweep as the kernels read them; see `_kernels` for the columns. Read-only."""

    cutters: Floats
    fine: NDArray[np.float32]
    """f4[cutters, FINE, 2]: height over the tip at the square of a radius, and how much it grows to the next."""
    under: NDArray[np.float32]
    """f4[cutters, 2, LINES]: heights at the axis, and growth by the square of the radius (cells), of straight lines of which the highest
    bounds from below what an end cuts."""
    knots: Floats
    first: Ints
    side_at: Floats
    """f8[cutters, SIDE_SAMPLES, 5]: where the side samples lie ahead of and left of the axis, in cells, the y that bound each, and how far
    ahead the edge itself is there."""


def tables(cutters: Sequence[Cutter], cell_mm: float) -> Tables:
    """Tables of cutters for cells of one size; lengths across in cells, heights in mm."""
    rows = np.zeros((max(len(cutters), 1), kernels.CUTTER_COLUMNS))
    knots: list[Floats] = [np.zeros((1, 4))]
    first = np.zeros((len(rows), kernels.BINS), dtype=np.int32)
    side_at = np.zeros((len(rows), kernels.SIDE_SAMPLES, 5))
    fine = np.zeros((len(rows), kernels.FINE, 2), dtype=np.float32)
    under = np.zeros((len(rows), 2, kernels.LINES), dtype=np.float32)
    begin = 1
    for n, one in enumerate(cutters):
        part = _knots(one, cell_mm)
        end = begin + len(part)
        rows[n, kernels.RADIUS] = one.radius_mm / cell_mm
        rows[n, kernels.FLAT] = one.flat_mm / cell_mm
        rows[n, kernels.SIDE_FROM] = one.side_from_mm
        rows[n, kernels.SIDE_TOP] = one.side_top_mm
        rows[n, kernels.USABLE] = math.nan if one.usable_mm is None else one.usable_mm
        rows[n, kernels.DEAD] = one.dead_mm / cell_mm
        rows[n, kernels.FIRST_KNOT], rows[n, kernels.LAST_KNOT] = begin, end - 1
        rows[n, kernels.SCALE] = kernels.BINS / (one.radius_mm / cell_mm)
        starts = np.arange(kernels.BINS) / rows[n, kernels.SCALE]
        first[n] = begin + np.maximum(np.searchsorted(part[:, 0], starts) - 1, 0)
        side_at[n] = _side_samples(one.radius_mm / cell_mm)
        fine[n], rows[n, kernels.FINE_FROM], rows[n, kernels.FINE_TO] = _fine(part)
        under[n] = _under(part)
        rows[n, kernels.FINE_SCALE] = kernels.FINE / part[-1, 0] ** 2
        rows[n, kernels.BOWL] = _bowl(part)
        sliver = min(SLIVER_MM, SLIVER_SHARE * one.radius_mm) / cell_mm
        rows[n, kernels.STANDS_IN] = one.radius_mm / cell_mm - sliver
        knots.append(part)
        begin = end
    return Tables(
        frozen(rows), frozen(fine), frozen(under), frozen(np.concatenate(knots)), frozen(first), frozen(side_at)
    )


def _knots(one: Cutter, cell_mm: float) -> Floats:
    """f8[K, 4]: radius in cells, height in mm, way along the slope in mm, slope to the next knot in mm a cell."""
    r = one.r_mm / cell_mm
    run = np.diff(r)
    slope = np.divide(np.diff(one.z_mm), run, out=np.zeros_like(run), where=run > SAME_MM)
    return np.column_stack([r, one.z_mm, one.along_mm(), np.append(slope, 0.0)])


def _fine(knots: Floats) -> tuple[NDArray[np.float32], float, float]:
    """Heights over equal stretches of the square of the radius, and the squares between which they are true to `FINE_MM`: a ball is
    straight there but for its rim, a cone but for its tip."""
    squares = np.linspace(0.0, knots[-1, 0] ** 2, kernels.FINE + 1)
    at = np.interp(np.sqrt(squares), knots[:, 0], knots[:, 1])
    table = np.column_stack([at[:-1], np.diff(at)]).astype(np.float32)
    tried = np.concatenate([squares[:-1] + np.diff(squares) * part for part in (0.1, 0.25, 0.5, 0.75, 0.9)])
    tried = np.concatenate([tried, knots[:-1, 0] ** 2])
    n = np.minimum((tried / squares[1]).astype(np.int64), kernels.FINE - 1)
    got = table[n, 0] + (tried / squares[1] - n) * table[n, 1]
    off = np.abs(got - np.interp(np.sqrt(tried), knots[:, 0], knots[:, 1])) > FINE_MM
    # The longest run of stretches that are true.
    bad = np.unique(np.concatenate([[-1, kernels.FINE - 1], n[off]]))
    longest = int(np.argmax(np.diff(bad)))
    return table, float(squares[bad[longest] + 1]), float(squares[bad[longest + 1]])


def _under(knots: Floats) -> NDArray[np.float32]:
    """f4[2, LINES] lines below the end over the square of the radius: edges of its lower hull, at even ways along it; half of what counts as
    cut above it, which is more than single precision is off by."""
    radii = np.linspace(0.0, knots[-1, 0], HULL)
    hull = _lower_hull(radii**2, np.interp(radii, knots[:, 0], knots[:, 1]))
    way = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(np.sqrt(hull[:, 0])), np.diff(hull[:, 1])))])
    after = np.searchsorted(way, way[-1] * (np.arange(kernels.LINES) + 0.5) / kernels.LINES)
    growth = (hull[after, 1] - hull[after - 1, 1]) / (hull[after, 0] - hull[after - 1, 0])
    at_axis = hull[after, 1] - growth * hull[after, 0]
    tried = np.union1d(np.linspace(0.0, knots[-1, 0], kernels.FINE), knots[:, 0])
    highest = (at_axis + growth * tried[:, None] ** 2).max(axis=1)
    lowest = knots[np.searchsorted(knots[:, 0], tried), 1]  # of an upright step its foot
    over = float((highest - np.minimum(np.interp(tried, knots[:, 0], knots[:, 1]), lowest)).max())
    return np.stack([at_axis - max(over, 0.0) + 0.5 * kernels.LEAST, growth]).astype(np.float32)


def _lower_hull(x: Floats, y: Floats) -> Floats:
    """f8[K, 2] corners of the greatest convex line below the points, x rising."""
    hull: list[tuple[float, float]] = []
    for point in zip(x.tolist(), y.tolist(), strict=True):
        while len(hull) > 1 and _lies_over(hull[-2], hull[-1], point):
            hull.pop()
        hull.append(point)
    return np.array(hull)


def _lies_over(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    return (b[0] - a[0]) * (c[1] - a[1]) <= (c[0] - a[0]) * (b[1] - a[1])


def _bowl(knots: Floats) -> float:
    """Least growth of the height over growth of r²/2, mm a square cell: 1/R for a ball, 0 where an end is flat."""
    run, rise = np.diff(knots[:, 0]), np.diff(knots[:, 1])
    outer = knots[1:, 0]
    ratio = np.divide(rise, run * outer, out=np.full(run.shape, np.inf), where=run > SAME_MM)
    return float(ratio.min(initial=0.0 if not run.size else np.inf))


def _side_samples(radius: float) -> Floats:
    """Samples on the ring one cell ahead, angle from the lateral place: on the circle itself the cutter's own last step has already
    cleared the cells beside it, and an angle taken on the ring would be too small."""
    edges = radius * np.sin(np.linspace(-math.pi / 2, math.pi / 2, kernels.SIDE_SAMPLES + 1))
    middle = np.linspace(-math.pi / 2, math.pi / 2, 2 * kernels.SIDE_SAMPLES + 1)[1::2]
    y = radius * np.sin(middle)
    x = np.sqrt((radius + kernels.PUSH) ** 2 - y**2)
    return np.column_stack([x, y, edges[:-1], edges[1:], radius * np.cos(middle)])


def frozen(array: NDArray[Kind]) -> NDArray[Kind]:
    """The array, C-contiguous and read-only: kernels take no other kind."""
    array = np.ascontiguousarray(array).view()
    array.setflags(write=False)
    return array
