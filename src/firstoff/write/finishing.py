"""Ball finishing of a curved surface: rows of contact points, each row as few straight moves as a tolerance allows."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from firstoff.write.blocks import Block, Blocks, Line, Point
from firstoff.write.refusal import Refusal
from firstoff.write.tooling import Cut, Heights, Tool, check_ground, come_down, go_up, parts

Point3 = tuple[float, float, float]

GRID = 33
"""Places along each side at which the surface's curvature is looked at."""
NUDGE_MM = 1e-4
"""Half-width of the difference that yields second derivatives."""
FIRST_PIECE_PER_RADIUS = 1.0
"""Longest piece that a row is judged by, over the ball's radius: three places inside each find any wave the ball can follow."""
MOST_HALVINGS = 14
"""A row's piece is halved at most so often."""
STEEPEST = 20.0
"""Slope (87°) beyond which rows seen from above say nothing any more."""


@dataclass(frozen=True, slots=True)
class Surface:
    """z(x, y) and its slopes ∂z/∂x, ∂z/∂y, in mm; smooth where it is cut."""

    height: Callable[[float, float], float]
    slope: Callable[[float, float], tuple[float, float]]


def dome(centre: Point, top_z_mm: float, radius_mm: float) -> Surface:
    """The cap of a sphere; outside of its equator it has no height (NaN)."""

    def under(x: float, y: float) -> float:
        square = radius_mm**2 - (x - centre[0]) ** 2 - (y - centre[1]) ** 2
        return math.sqrt(square) if square > 0 else math.nan

    def height(x: float, y: float) -> float:
        return top_z_mm - radius_mm + under(x, y)

    def slope(x: float, y: float) -> tuple[float, float]:
        z = under(x, y)
        return (-(x - centre[0]) / z, -(y - centre[1]) / z)

    return Surface(height, slope)


@dataclass(frozen=True, slots=True)
class BallFinish:
    """`surface` over the rectangle of contact points; no tip below `bottom_z_mm`."""

    surface: Surface
    low_x_mm: float
    high_x_mm: float
    low_y_mm: float
    high_y_mm: float
    bottom_z_mm: float
    tolerance_mm: float
    """Greatest distance of the written path from the true one."""
    cusp_mm: float
    """Greatest height left between two rows."""


def ball_finish(what: BallFinish, tool: Tool, cut: Cut, heights: Heights) -> Blocks:
    """Rows along X, to and fro, the first at low Y; from row to row along the surface. Raises `InputError` if it cannot be cut.

    The tip stands where a ball of the tool's radius touches: contact + R·n − R·ẑ with n the surface's unit normal.
    """
    _check(what, tool)
    rows = parts(what.high_y_mm - what.low_y_mm, step_over_mm(what, tool.radius_mm))
    path: list[Point3] = []
    for row in range(rows + 1):
        y = what.low_y_mm + (what.high_y_mm - what.low_y_mm) * row / rows
        x_from, x_to = (what.low_x_mm, what.high_x_mm) if row % 2 == 0 else (what.high_x_mm, what.low_x_mm)
        if path:
            before = what.low_y_mm + (what.high_y_mm - what.low_y_mm) * (row - 1) / rows
            path += _follow(what, tool.radius_mm, (x_from, before), (x_from, y))
        else:
            path.append(tip_at(what.surface, tool.radius_mm, x_from, y))
        path += _follow(what, tool.radius_mm, (x_from, y), (x_to, y))
    lowest, highest = min(p[2] for p in path), max(p[2] for p in path)
    refusal = Refusal("ball finishing")
    refusal.unless(
        lowest >= what.bottom_z_mm - 1e-9,
        "the tip would go below the bottom",
        f"{lowest:.4f} mm",
        f"{what.bottom_z_mm:g} mm or above",
    )
    check_ground(refusal, tool, cut, heights, highest, what.bottom_z_mm)
    refusal.settle()
    blocks: list[Block] = [*come_down(*path[0], cut, heights)]
    blocks += [Line(cut.feed_mm_per_min, *point) for point in path[1:]]
    return (*blocks, go_up(heights))


def tip_at(surface: Surface, radius_mm: float, x: float, y: float) -> Point3:
    """Tip of a ball that touches the surface at (x, y)."""
    zx, zy = surface.slope(x, y)
    stretch = math.sqrt(1 + zx * zx + zy * zy)
    away = radius_mm / stretch
    return (x - away * zx, y - away * zy, surface.height(x, y) + away - radius_mm)


def step_over_mm(what: BallFinish, radius_mm: float) -> float:
    """Distance of rows, seen from above, that leaves cusps of `cusp_mm` at most.

    On a flat the cusp between two balls a step s apart is R − √(R² − s²/4). Across a convex surface of radius ρ the two are in effect one
    ball of radius R·ρ/(R + ρ) on a flat; on a slope the rows lie farther apart than they look.
    """
    least = math.inf
    for x, y, curvature, zy in _looked_at(what):
        del x, y
        effective = 1 / (1 / radius_mm + max(0.0, curvature))
        cusp = min(what.cusp_mm, effective)
        least = min(least, 2 * math.sqrt(cusp * (2 * effective - cusp)) / math.sqrt(1 + zy * zy))
    return least


def _looked_at(what: BallFinish) -> list[tuple[float, float, float, float]]:
    """x, y, curvature across the rows (convex positive, 1/mm) and slope across, over a grid."""
    found = []
    for x in np.linspace(what.low_x_mm, what.high_x_mm, GRID):
        for y in np.linspace(what.low_y_mm, what.high_y_mm, GRID):
            _, zy = what.surface.slope(float(x), float(y))
            _, _, zyy = _second(what.surface, float(x), float(y))
            found.append((float(x), float(y), -zyy / (1 + zy * zy) ** 1.5, zy))
    return found


def _second(surface: Surface, x: float, y: float) -> tuple[float, float, float]:
    """∂²z/∂x², ∂²z/∂x∂y, ∂²z/∂y² by central differences of the slopes."""
    right, left = surface.slope(x + NUDGE_MM, y), surface.slope(x - NUDGE_MM, y)
    up, down = surface.slope(x, y + NUDGE_MM), surface.slope(x, y - NUDGE_MM)
    across = (right[1] - left[1] + up[0] - down[0]) / 2
    return ((right[0] - left[0]) / (2 * NUDGE_MM), across / (2 * NUDGE_MM), (up[1] - down[1]) / (2 * NUDGE_MM))


def _deepest_hollow(surface: Surface, x: float, y: float) -> float:
    """Greatest upward principal curvature, 1/mm: eigenvalues of the second fundamental form in the first (any text on surfaces)."""
    zx, zy = surface.slope(x, y)
    zxx, zxy, zyy = _second(surface, x, y)
    first = np.array([[1 + zx * zx, zx * zy], [zx * zy, 1 + zy * zy]])
    second = np.array([[zxx, zxy], [zxy, zyy]]) / math.sqrt(1 + zx * zx + zy * zy)
    return float(np.max(np.linalg.eigvals(np.linalg.solve(first, second)).real))


def _follow(what: BallFinish, radius: float, start: Point, end: Point) -> list[Point3]:
    """Tips from `start` (left out) to `end`, contact points on a straight line seen from above."""
    count = parts(math.dist(start, end), FIRST_PIECE_PER_RADIUS * radius)
    tips = {t: _between(what, radius, start, end, t) for t in (k / count for k in range(count + 1))}
    pieces = sorted(tips)
    path: list[Point3] = []
    for low, high in itertools.pairwise(pieces):
        path += _piece(what, radius, (start, end), (low, tips[low]), (high, tips[high]), MOST_HALVINGS)
    return path


def _piece(
    what: BallFinish,
    radius: float,
    line: tuple[Point, Point],
    low: tuple[float, Point3],
    high: tuple[float, Point3],
    halvings: int,
) -> list[Point3]:
    middle = (low[0] + high[0]) / 2
    inner = [_between(what, radius, *line, low[0] + part * (high[0] - low[0])) for part in (0.25, 0.5, 0.75)]
    if halvings == 0 or all(_off_chord(low[1], high[1], tip) <= what.tolerance_mm for tip in inner):
        return [high[1]]
    half = (middle, inner[1])
    return [*_piece(what, radius, line, low, half, halvings - 1), *_piece(what, radius, line, half, high, halvings - 1)]


def _between(what: BallFinish, radius: float, start: Point, end: Point, part: float) -> Point3:
    x, y = start[0] + part * (end[0] - start[0]), start[1] + part * (end[1] - start[1])
    return tip_at(what.surface, radius, x, y)


def _off_chord(start: Point3, end: Point3, point: Point3) -> float:
    """Distance of `point` from the straight move."""
    chord = [b - a for a, b in zip(start, end, strict=True)]
    to = [b - a for a, b in zip(start, point, strict=True)]
    square = sum(c * c for c in chord)
    if square == 0.0:
        return math.dist(start, point)
    t = min(1.0, max(0.0, sum(a * b for a, b in zip(chord, to, strict=True)) / square))
    return math.dist(point, [a + t * c for a, c in zip(start, chord, strict=True)])


def _check(what: BallFinish, tool: Tool) -> None:
    refusal = Refusal("ball finishing")
    refusal.positive(
        tolerance_mm=what.tolerance_mm,
        cusp_mm=what.cusp_mm,
        width_x_mm=what.high_x_mm - what.low_x_mm,
        width_y_mm=what.high_y_mm - what.low_y_mm,
        diameter_mm=tool.diameter_mm,
    )
    refusal.at_most(
        "cusp_mm: rows would lie farther apart than the tool is wide", what.cusp_mm, tool.radius_mm, "its radius"
    )
    refusal.settle()
    for x in np.linspace(what.low_x_mm, what.high_x_mm, GRID):
        for y in np.linspace(what.low_y_mm, what.high_y_mm, GRID):
            place = f"X{x:.3f} Y{y:.3f}"
            slope = max(abs(s) for s in what.surface.slope(float(x), float(y)))
            refusal.unless(
                slope <= STEEPEST, f"the surface is too steep or ends at {place}", f"slope {slope:g}", f"{STEEPEST:g}"
            )
            refusal.settle()
            hollow = _deepest_hollow(what.surface, float(x), float(y))
            least = 1 / hollow if hollow > 0 else math.inf
            refusal.unless(
                tool.radius_mm <= least,
                f"the ball does not fit into the hollow at {place}",
                f"radius {tool.radius_mm:g} mm",
                f"at most {least:.3f} mm",
            )
            refusal.settle()
