"""Outlines of cutting ends as points (radius, height above the tip), mm: straight where the edge is straight, chords where it is round.

Every point lies on the true outline and every round stretch bulges outward, so that the chords lie inside the tool: what is cut by them
is cut for certain, and at most `chord_mm` more is.
"""

from __future__ import annotations

import math

Point = tuple[float, float]


def corner_end(radius: float, corner: float, half_angle: float, chord_mm: float) -> list[Point]:
    """A flat bottom, a round corner, and the place where the wall goes on: flat, bull, ball (`corner` = `radius`), tapered.

    The wall leans outward by `half_angle` (rad, from the axis). The corner is a circle round (`radius` − `corner`, `corner`), so that a
    ball stays a ball under any taper; with a taper `radius` is where the circle, not the wall, would be widest.
    """
    if corner <= 0:
        return [(0.0, 0.0), (radius, 0.0)]
    return [(0.0, 0.0), *arc(radius - corner, corner, corner, -math.pi / 2, -half_angle, chord_mm)]


def cone_end(radius: float, half_angle: float) -> list[Point]:
    """A point on the axis: drill, chamfer. `half_angle` is half of SIG; a half turn of SIG is a flat end."""
    return [(0.0, 0.0), (radius, max(radius / math.tan(half_angle), 0.0))]


def disc_end(radius: float, corner: float, height: float, neck: float, chord_mm: float) -> list[Point]:
    """A disc that is wider than its neck, corners alike above and below: tee."""
    below = corner_end(radius, corner, 0.0, chord_mm)
    if corner <= 0:
        return [*below, (radius, height), (neck, height)]
    above = arc(radius - corner, height - corner, corner, 0.0, math.pi / 2, chord_mm)
    return [*below, *above, (min(neck, radius - corner), height)]


def globe_end(radius: float, neck: float, chord_mm: float) -> list[Point]:
    """A ball up to where its neck meets it: lollipop."""
    return arc(0.0, radius, radius, -math.pi / 2, math.acos(neck / radius), chord_mm)


def arc(r: float, z: float, radius: float, first: float, last: float, chord_mm: float) -> list[Point]:
    """Points on a circle round (r, z), from the angle `first` to `last` (rad, 0 = outward, counter-clockwise), both ends among them.

    The height of a chord's arc is radius·(1 − cos(step/2)).
    """
    widest = 2 * math.acos(max(1 - chord_mm / radius, 0.0))
    steps = max(math.ceil((last - first) / widest - 1e-9), 1)
    points = []
    for number in range(steps + 1):
        angle = first + (last - first) * number / steps
        points.append((r + radius * math.cos(angle), z + radius * math.sin(angle)))
    # Sines of whole quarters leave 1e-16: the ends are known better than that.
    if first == -math.pi / 2:
        points[0] = (r, z - radius)
    if last == 0.0:
        points[-1] = (r + radius, z)
    return points
