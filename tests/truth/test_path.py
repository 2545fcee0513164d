"""The way beside a contour against polygons grown and shrunk by a general geometry library."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from tests.path.ways import beside, contour, trace

SOURCE = "shapely (BSD), buffer of polygons, round joins, 256 chords a quarter turn; an independent computation"
CHORD = 1 - math.cos(math.pi / 4 / 256)
"""What the library's chords leave of the radius of a round join."""

NOTCHED = np.array([[0, 0], [40, 0], [40, 18], [26, 18], [24, 9], [15, 11], [13, 25], [0, 22], [6, 12]], float)
"""Counter-clockwise, with sharp and blunt corners of both kinds."""


def polygon_path(points: np.ndarray, side: str, radius: float) -> np.ndarray:
    """f8[M, 2] the centre's way once round, from the middle of the last edge."""
    middle = (points[-1] + points[0]) / 2
    way = (points[0] - points[-1]) / np.linalg.norm(points[0] - points[-1])
    away = (*(middle + 4 * np.array([-way[1], way[0]]) * (1 if side == "left" else -1)), 0.0)
    edges = [("line", *point, 0.0) for point in (*points, middle)]
    moves, arcs = contour(*edges, side=side, begin=away, lead=(*middle, 0.0), leave=away)
    pieces = beside(moves, arcs, radius)
    assert pieces.unknown.size == 0
    return trace(pieces, 2, len(moves) - 2, 2000)[:, :2]


def slot_path(radius: float) -> np.ndarray:
    """f8[M, 2] the centre's way inside a bent slot 10 mm wide: arcs round its ends, and a concave and a convex arc along it."""
    pieces = [
        ("arc", 17, 0, 0, math.pi / 2, 0),
        ("arc", 17, 0, 20, math.pi, 0),
        ("arc", 17, 0, 0, -math.pi / 2, 0),
        ("arc", 17, 20, 0, math.pi, 0),
    ]
    moves, arcs = contour(*pieces, side="left", begin=(20, 0.5, 0), lead=(25, 0, 0), leave=(20, 0.5, 0))
    found = beside(moves, arcs, radius)
    assert found.unknown.size == 0
    return trace(found, 2, len(moves) - 2, 2000)[:, :2]


@pytest.mark.parametrize(
    ("check", "side", "radius", "reverse"),
    [
        ("comp-outside-polygon", "right", 1.5, False),
        ("comp-outside-polygon-clockwise", "left", 2.0, True),
        ("comp-inside-polygon", "left", 1.5, False),
        ("comp-inside-polygon-clockwise", "right", 2.0, True),
    ],
)
def test_round_a_notched_plate(truth, check: str, side: str, radius: float, reverse: bool) -> None:
    points = NOTCHED[::-1] if reverse else NOTCHED
    outside = (side == "right") != reverse
    grown = shapely.Polygon(points).buffer(radius if outside else -radius, quad_segs=256)
    ours = polygon_path(points, side, radius)
    way = shapely.LineString(ours)
    apart = max(
        float(shapely.distance(shapely.points(ours), grown.exterior).max()),
        float(shapely.distance(shapely.points(shapely.get_coordinates(grown.exterior)), way).max()),
    )
    what = f"farthest apart: cutter's way {'round' if outside else 'inside'} a plate of 9 corners, R {radius} mm, and the library's outline"
    truth(check, what, SOURCE, 0.0, apart, radius * CHORD + 1e-6, "mm")
    truth(
        f"{check}-length", f"length of that way, R {radius} mm", SOURCE, grown.exterior.length, way.length, 2e-4, "mm"
    )


def test_inside_a_bent_slot(truth) -> None:
    radius = 3.0
    angle = np.linspace(0, math.pi / 2, 4001)
    spine = shapely.LineString(20 * np.stack([np.cos(angle), np.sin(angle)], axis=1))
    shrunk = spine.buffer(5.0 - radius, quad_segs=256)
    ours = slot_path(radius)
    way = shapely.LineString(ours)
    apart = max(
        float(shapely.distance(shapely.points(ours), shrunk.exterior).max()),
        float(shapely.distance(shapely.points(shapely.get_coordinates(shrunk.exterior)), way).max()),
    )
    truth("comp-inside-bent-slot", "farthest apart: cutter's way inside a bent slot of arcs, R 3 mm, and the library's outline", SOURCE, 0.0, apart, 2 * CHORD + 1e-6, "mm")  # fmt: skip
    truth(
        "comp-inside-bent-slot-area",
        "area inside that way",
        SOURCE,
        shrunk.area,
        shapely.Polygon(ours).area,
        1e-3,
        "mm²",
    )
