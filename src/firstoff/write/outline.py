"""Closed outlines of straight lines and arcs, and outlines beside them at a distance."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstoff.errors import Fault, InputError
from firstoff.write.blocks import Point

TOUCH_MM = 1e-7
"""Points nearer than this are one point."""


@dataclass(frozen=True, slots=True)
class Edge:
    """One piece of an outline: straight if `centre` is None, else an arc about it. A whole circle ends where it starts."""

    start: Point
    end: Point
    centre: Point | None = None
    clockwise: bool = False

    @property
    def radius_mm(self) -> float:
        """Of an arc; infinite for a straight edge."""
        return math.inf if self.centre is None else math.dist(self.start, self.centre)

    @property
    def sweep_rad(self) -> float:
        """Signed angle of an arc, counter-clockwise positive, a full turn where it ends at its start; 0 for a straight edge."""
        if self.centre is None:
            return 0.0
        turn = _angle(self.centre, self.end) - _angle(self.centre, self.start)
        turn %= 2 * math.pi
        if math.dist(self.start, self.end) < TOUCH_MM:
            turn = 0.0
        if self.clockwise:
            return turn - 2 * math.pi
        return turn if turn > 0 else 2 * math.pi

    @property
    def length_mm(self) -> float:
        if self.centre is None:
            return math.dist(self.start, self.end)
        return self.radius_mm * abs(self.sweep_rad)

    def at(self, part: float) -> Point:
        """The point at `part` (0 to 1) of the way."""
        if self.centre is None:
            (x, y), (to_x, to_y) = self.start, self.end
            return (x + part * (to_x - x), y + part * (to_y - y))
        angle = _angle(self.centre, self.start) + part * self.sweep_rad
        return (
            self.centre[0] + self.radius_mm * math.cos(angle),
            self.centre[1] + self.radius_mm * math.sin(angle),
        )

    def heading(self, part: float) -> float:
        """Direction of travel there, rad from +X."""
        if self.centre is None:
            return _angle(self.start, self.end)
        return _angle(self.centre, self.at(part)) + math.copysign(math.pi / 2, self.sweep_rad)

    def backwards(self) -> Edge:
        return Edge(self.end, self.start, self.centre, not self.clockwise)

    def distance_mm(self, point: Point) -> float:
        """Shortest distance from `point` to the edge."""
        if self.centre is None:
            along = (self.end[0] - self.start[0], self.end[1] - self.start[1])
            square = along[0] ** 2 + along[1] ** 2
            t = ((point[0] - self.start[0]) * along[0] + (point[1] - self.start[1]) * along[1]) / square
            return math.dist(point, self.at(min(1.0, max(0.0, t))))
        turned = _angle(self.centre, point) - _angle(self.centre, self.start)
        turned = turned % (2 * math.pi) if self.sweep_rad > 0 else -(-turned % (2 * math.pi))
        if abs(turned) <= abs(self.sweep_rad):
            return abs(math.dist(point, self.centre) - self.radius_mm)
        return min(math.dist(point, self.start), math.dist(point, self.end))


@dataclass(frozen=True, slots=True)
class Outline:
    """Edges that follow each other and close."""

    edges: tuple[Edge, ...]

    @property
    def area_mm2(self) -> float:
        """Signed: positive if the outline runs counter-clockwise."""
        total = 0.0
        for edge in self.edges:
            (x1, y1), (x2, y2) = edge.start, edge.end
            total += (x1 * y2 - x2 * y1) / 2
            if edge.centre is not None:  # plus the segment between chord and arc
                sweep = edge.sweep_rad
                total += edge.radius_mm**2 * (sweep - math.sin(sweep)) / 2
        return total

    def backwards(self) -> Outline:
        return Outline(tuple(edge.backwards() for edge in reversed(self.edges)))

    def turned(self, clockwise: bool) -> Outline:
        """The same outline, run the way asked for."""
        return self if (self.area_mm2 < 0) == clockwise else self.backwards()

    def distance_mm(self, point: Point) -> float:
        """Shortest distance from `point` to the outline."""
        return min(edge.distance_mm(point) for edge in self.edges)

    def started_at_middle_of(self, number: int) -> Outline:
        """The same outline, beginning half-way along edge `number`."""
        edge = self.edges[number]
        middle = edge.at(0.5)
        first = Edge(middle, edge.end, edge.centre, edge.clockwise)
        last = Edge(edge.start, middle, edge.centre, edge.clockwise)
        return Outline((first, *self.edges[number + 1 :], *self.edges[:number], last))

    def longest_straight(self) -> int:
        """Number of the longest straight edge, or of the longest edge if none is straight."""
        straight = [i for i, edge in enumerate(self.edges) if edge.centre is None]
        return max(straight or range(len(self.edges)), key=lambda i: self.edges[i].length_mm)


def rectangle(low: Point, high: Point, corner_radius_mm: float = 0.0) -> Outline:
    """Counter-clockwise from its lower edge. Raises `InputError` if the radius does not fit."""
    (x0, y0), (x1, y1), r = low, high, corner_radius_mm
    fits = min(x1 - x0, y1 - y0) / 2
    if not (x1 > x0 and y1 > y0):
        size = f"{x1 - x0:g} by {y1 - y0:g} mm"
        raise InputError(Fault("a rectangle has no size", size, "both sides above zero"))
    if not 0 <= r <= fits + TOUCH_MM:
        raise InputError(Fault("corner_radius_mm does not fit the rectangle", f"{r:g} mm", f"0 to {fits:g} mm"))
    sides = [
        ((x0 + r, y0), (x1 - r, y0)),
        ((x1, y0 + r), (x1, y1 - r)),
        ((x1 - r, y1), (x0 + r, y1)),
        ((x0, y1 - r), (x0, y0 + r)),
    ]
    centres = [(x1 - r, y0 + r), (x1 - r, y1 - r), (x0 + r, y1 - r), (x0 + r, y0 + r)]
    edges: list[Edge] = []
    for number, (start, end) in enumerate(sides):
        if math.dist(start, end) > TOUCH_MM:
            edges.append(Edge(start, end))
        if r > 0:
            edges.append(Edge(end, sides[(number + 1) % 4][0], centres[number]))
    return Outline(tuple(edges))


def circle(centre: Point, diameter_mm: float) -> Outline:
    """Counter-clockwise, as two half turns from its right end."""
    if not diameter_mm > 0:
        raise InputError(Fault("a circle has no size", f"diameter {diameter_mm:g} mm", "above zero"))
    right = (centre[0] + diameter_mm / 2, centre[1])
    left = (centre[0] - diameter_mm / 2, centre[1])
    return Outline((Edge(right, left, centre), Edge(left, right, centre)))


def beside(outline: Outline, distance_mm: float) -> Outline:
    """The outline at `distance_mm` to the left of the travel (to the right if negative).

    Outer corners get an arc, so every point keeps the distance. Raises `InputError` where the outline is too narrow: an inner corner, or
    an inner arc smaller than the distance. Two edges that do not follow each other are not looked at: see `Outline.distance_mm`.
    """
    if distance_mm == 0:
        return outline
    moved = [_moved(edge, distance_mm) for edge in outline.edges]
    edges: list[Edge] = []
    for number, edge in enumerate(moved):
        edges.append(edge)
        after = moved[(number + 1) % len(moved)]
        if math.dist(edge.end, after.start) > TOUCH_MM:
            corner = outline.edges[number].end
            turn = _turn(outline.edges[number].heading(1.0), outline.edges[(number + 1) % len(moved)].heading(0.0))
            if turn * distance_mm > 0:  # turning towards the side the outline is moved to
                raise InputError(
                    Fault(
                        f"an inner corner at X{corner[0]:g} Y{corner[1]:g} cannot be cut",
                        "radius 0 mm",
                        f"a radius of at least {abs(distance_mm):g} mm",
                    )
                )
            edges.append(Edge(edge.end, after.start, corner, clockwise=turn < 0))
    return Outline(tuple(edges))


def _moved(edge: Edge, distance_mm: float) -> Edge:
    if edge.centre is None:
        heading = edge.heading(0.0)
        dx, dy = -math.sin(heading) * distance_mm, math.cos(heading) * distance_mm
        return Edge((edge.start[0] + dx, edge.start[1] + dy), (edge.end[0] + dx, edge.end[1] + dy))
    # The left of a counter-clockwise arc is its inside.
    radius = edge.radius_mm + (distance_mm if edge.clockwise else -distance_mm)
    if radius < TOUCH_MM:
        x, y = edge.centre
        raise InputError(
            Fault(
                f"an inner arc about X{x:g} Y{y:g} cannot be cut",
                f"radius {edge.radius_mm:g} mm",
                f"more than {abs(distance_mm):g} mm, or a smaller tool",
            )
        )
    scale = radius / edge.radius_mm
    centre = edge.centre

    def scaled(point: Point) -> Point:
        return (centre[0] + scale * (point[0] - centre[0]), centre[1] + scale * (point[1] - centre[1]))

    return Edge(scaled(edge.start), scaled(edge.end), centre, edge.clockwise)


def _turn(before: float, after: float) -> float:
    """Signed turn between two headings, -π to π."""
    return (after - before + math.pi) % (2 * math.pi) - math.pi


def _angle(origin: Point, point: Point) -> float:
    return math.atan2(point[1] - origin[1], point[0] - origin[0])
