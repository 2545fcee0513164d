"""Where the offsets of two moves that meet at an inside corner cross."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstoff.path.ways import Bools, Rows
from firstoff.program.moves import Floats

TURN = 2.0 * np.pi
ROUNDING_MM = 1e-9
A_HAIR_RAD = 1e-4
"""A point this little before the start of an arc lies before it, not once round it."""


@dataclass(frozen=True, slots=True)
class Curves:
    """Lines and arcs in a plane, one row each: `start`, `end` f8[K, 2], unit tangents `way_out` (at the start) and `way_in` (at the end)
    f8[K, 2], and for arcs `centre` f8[K, 2], `radius` f8[K] (inf for a line), `sweep` f8[K] (0 for a line; signed, radians)."""

    start: Floats
    end: Floats
    way_out: Floats
    way_in: Floats
    centre: Floats
    radius: Floats
    sweep: Floats

    def __len__(self) -> int:
        return int(self.radius.size)

    @property
    def curved(self) -> Bools:
        return np.isfinite(self.radius)

    @property
    def span(self) -> Floats:
        """f8[K] mm: length in the plane."""
        length: Floats = np.linalg.norm(self.end - self.start, axis=1)
        return np.where(self.curved, np.where(self.curved, self.radius, 0.0) * np.abs(self.sweep), length)

    def at(self, rows: Rows) -> Curves:
        """Some of the rows."""
        return Curves(*(getattr(self, name)[rows] for name in self.__slots__))


def crossings(before: Curves, after: Curves) -> tuple[Floats, Floats, Floats]:
    """(point f8[K, 2], way cut off the end of `before` f8[K], way cut off the start of `after` f8[K]), the crossing next to the corner;
    NaN where the two do not cross."""
    points = np.full((2, len(before), 2), np.nan)
    a, b = before.curved, after.curved
    with np.errstate(invalid="ignore", divide="ignore"):
        for which, found in ((~a & ~b, _lines), (~a & b, _line_and_arc), (a & ~b, _arc_and_line), (a & b, _arcs)):
            rows = np.flatnonzero(which)
            if rows.size:
                points[:, rows] = found(before.at(rows), after.at(rows))
        cut_before = np.stack([cut_at_end(before, one) for one in points])
        cut_after = np.stack([cut_at_start(after, one) for one in points])
        reached = (cut_before >= -ROUNDING_MM) & (cut_before <= before.span + ROUNDING_MM)
        reached &= (cut_after >= -ROUNDING_MM) & (cut_after <= after.span + ROUNDING_MM)
    cost = np.where(reached, cut_before + cut_after, np.inf)
    pick, every = np.argmin(cost, axis=0), np.arange(len(before))
    none = ~np.isfinite(cost[pick, every])
    point, first, second = points[pick, every], cut_before[pick, every], cut_after[pick, every]
    point[none], first[none], second[none] = np.nan, np.nan, np.nan
    return point, first, second


def cut_at_start(curves: Curves, points: Floats, most_back: float = A_HAIR_RAD) -> Floats:
    """f8[K] mm: way along each curve from its start to a point on it; round an arc less than once, or `most_back` radians backward."""
    along = ((points - curves.start) * curves.way_out).sum(axis=1)
    return _round_the_arcs(along, curves, curves.start, points, most_back)


def cut_at_end(curves: Curves, points: Floats, most_back: float = A_HAIR_RAD) -> Floats:
    """f8[K] mm: way along each curve from a point on it to its end."""
    along = ((curves.end - points) * curves.way_in).sum(axis=1)
    return _round_the_arcs(along, curves, points, curves.end, most_back)


def _round_the_arcs(along: Floats, curves: Curves, first: Floats, second: Floats, most_back: float) -> Floats:
    """`along` with the way of arcs put in its place."""
    rows = np.flatnonzero(curves.curved)
    one, other = first[rows] - curves.centre[rows], second[rows] - curves.centre[rows]
    turned = np.arctan2(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0], (one * other).sum(axis=1))
    turned = (turned * np.sign(curves.sweep[rows])) % TURN
    turned = np.where(turned > TURN - most_back, turned - TURN, turned)
    along[rows] = turned * curves.radius[rows]
    return along


def _lines(a: Curves, b: Curves) -> Floats:
    across = a.way_in[:, 0] * b.way_out[:, 1] - a.way_in[:, 1] * b.way_out[:, 0]
    gap = a.end - b.start
    back = (gap[:, 0] * b.way_out[:, 1] - gap[:, 1] * b.way_out[:, 0]) / across
    point = a.end - back[:, None] * a.way_in
    return np.stack([point, point])


def _line_and_arc(a: Curves, b: Curves) -> Floats:
    return _line_and_circle(a.end, a.way_in, b)


def _arc_and_line(a: Curves, b: Curves) -> Floats:
    return _line_and_circle(b.start, b.way_out, a)


def _line_and_circle(point: Floats, way: Floats, circle: Curves) -> Floats:
    ray = point - circle.centre
    along = (ray * way).sum(axis=1)
    root = np.sqrt(along * along - (ray * ray).sum(axis=1) + circle.radius**2)
    return np.stack([point + (-along + sign * root)[:, None] * way for sign in (1.0, -1.0)])


def _arcs(a: Curves, b: Curves) -> Floats:
    between = b.centre - a.centre
    distance = np.linalg.norm(between, axis=1)
    along = (distance**2 + a.radius**2 - b.radius**2) / (2.0 * distance)
    aside = np.sqrt(a.radius**2 - along * along)
    way = between / distance[:, None]
    foot = a.centre + along[:, None] * way
    left = np.stack([-way[:, 1], way[:, 0]], axis=1)
    return np.stack([foot + sign * aside[:, None] * left for sign in (1.0, -1.0)])
