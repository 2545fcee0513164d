"""Contact with fixtures: exact gaps against shapely, shapes thinner than a cell, arcs, and the bracket of covered cells."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box

from firstoff.facts.assembly import Part
from firstoff.path.pieces import Pieces
from firstoff.program.moves import Arcs
from firstoff.removal import contact as c
from firstoff.removal.shape import Shape
from firstoff.removal.standing import LEAVES_MM, covered_field, static_contacts
from firstoff.removal.stock import BoxBlank, CylinderBlank, Extent
from firstoff.removal.swept import Contact
from tests.removal import bodies_by_hand as hand

CLAMP = BoxBlank(Extent(10.0, 22.0, -4.0, 5.0, -20.0, 3.0))
POST = CylinderBlank(12.0, -3.0, 4.0, -20.0, 3.0)
FOOTPRINT = {"clamp": box(10.0, -4.0, 22.0, 5.0), "post": Point(12.0, -3.0).buffer(4.0, quad_segs=256)}
tool = hand.flat_mill(2.0, 6.0, 2.0, 12.0, 7.0, 30.0, 20.0)


def least(contacts: tuple[Contact, ...], name: str, part: Part) -> float:
    gaps = [one.gap_mm for one in contacts if one.against == name and one.part is part]
    return min(gaps, default=c.CAP_MM)


def _by_looking(way: LineString, heights: tuple[float, float], radius: float, bottom: float, name: str) -> float:
    """The least over 20000 places on the way of the greater of sideways and upward gap."""
    parts = np.linspace(0.0, 1.0, 20001)
    points = np.array(way.coords)
    x, y = (points[0, n] + parts * (points[1, n] - points[0, n]) for n in (0, 1))
    z = heights[0] + parts * (heights[1] - heights[0])
    if name == "clamp":
        aside = np.hypot(
            np.maximum(np.maximum(10.0 - x, x - 22.0), 0.0), np.maximum(np.maximum(-4.0 - y, y - 5.0), 0.0)
        )
    else:
        aside = np.maximum(np.hypot(x - 12.0, y + 3.0) - 4.0, 0.0)
    return float(np.maximum(aside - radius, z + bottom - 3.0).min())


places = st.tuples(st.floats(-15, 40), st.floats(-20, 20), st.floats(-12, 9))


@given(places, places, st.booleans())
@settings(deadline=None, max_examples=60)
def test_a_straight_way_is_measured_exactly(start: hand.Point, end: hand.Point, rapid: bool) -> None:
    found = static_contacts(hand.lines((end, rapid), start=start), {1: tool}, {"clamp": CLAMP, "post": POST})
    way = LineString([start[:2], end[:2]])
    for name in FOOTPRINT:
        for part, radius, bottom in ((Part.EDGE, 2.0, 0.0), (Part.HOLDER, 7.0, 12.0), (Part.NOSE, 20.0, 30.0)):
            truth = min(c.CAP_MM, _by_looking(way, (start[2], end[2]), radius, bottom, name))
            assert least(found, name, part) == pytest.approx(truth, abs=2e-3)


@given(places, places)
@settings(deadline=None, max_examples=40)
def test_a_level_way_is_as_far_as_shapely_says(start: hand.Point, end: hand.Point) -> None:
    low = -11.0
    found = static_contacts(
        hand.lines(((*end[:2], low), False), start=(*start[:2], low)), {1: tool}, {"clamp": CLAMP, "post": POST}
    )
    way = LineString([start[:2], end[:2]])
    for name, footprint in FOOTPRINT.items():
        truth = way.distance(footprint) - 2.0
        if truth < c.CAP_MM:
            assert least(found, name, Part.EDGE) == pytest.approx(truth, abs=1e-3)
        if truth > 1e-3:
            assert not [one for one in found if one.against == name and one.part is Part.EDGE and one.gap_mm < 0]


def circle(centre: tuple[float, float], radius: float, z: float, sweep: float, rise: float = 0.0) -> Pieces:
    start = np.array([[centre[0] + radius, centre[1], z]])
    end = np.array([[centre[0] + radius * math.cos(sweep), centre[1] + radius * math.sin(sweep), z + rise]])
    arcs = Arcs(np.array([centre]), np.array([17], np.uint8), np.array([radius]), np.array([sweep]), np.array([rise]))
    one, none = np.zeros(1, np.int32), np.zeros(1, np.bool_)
    return Pieces(one, one + 1, start, end, one, arcs, none, none, np.empty(0, np.int32))


@given(st.floats(3, 14), st.floats(-2 * math.pi, 2 * math.pi).filter(lambda sweep: abs(sweep) > 0.1))
@settings(deadline=None, max_examples=40)
def test_arcs_are_followed(radius: float, sweep: float) -> None:
    found = static_contacts(circle((0.0, 12.0), radius, -5.0, sweep), {1: tool}, {"clamp": CLAMP, "post": POST})
    angles = np.linspace(0.0, sweep, 4001)
    way = LineString(np.column_stack([radius * np.cos(angles), 12.0 + radius * np.sin(angles)]))
    for name, footprint in FOOTPRINT.items():
        truth = min(c.CAP_MM, way.distance(footprint) - 2.0)
        assert least(found, name, Part.EDGE) == pytest.approx(truth, abs=LEAVES_MM + 1e-3)


def prism(outline: list[tuple[float, float]], low: float, high: float) -> Shape:
    """A convex upright body."""
    n = len(outline)
    foot, head = ([(*point, z) for point in outline] for z in (low, high))
    faces = [[head[0], head[k], head[k + 1]] for k in range(1, n - 1)]
    faces += [[foot[0], foot[k + 1], foot[k]] for k in range(1, n - 1)]
    for k in range(n):
        a, b = k, (k + 1) % n
        faces += [[foot[a], foot[b], head[b]], [foot[a], head[b], head[a]]]
    triangles = np.array(faces)
    triangles.setflags(write=False)
    return Shape("blade", triangles, "")


def blade(angle: float, at: tuple[float, float], thick: float = 0.05, long: float = 8.0) -> list[tuple[float, float]]:
    along, across = (math.cos(angle), math.sin(angle)), (-math.sin(angle), math.cos(angle))
    corners = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return [tuple(at[n] + u * long / 2 * along[n] + v * thick / 2 * across[n] for n in (0, 1)) for u, v in corners]  # type: ignore[misc]


@given(st.floats(0, math.pi), st.floats(-3, 3), st.floats(0.2, 5.0), st.booleans())
@settings(deadline=None, max_examples=60)
def test_a_fixture_thinner_than_a_cell_is_not_missed(angle: float, x: float, y: float, rapid: bool) -> None:
    """A blade of 0.05 mm on cells of 0.25 mm, passed by on a straight way."""
    outline = blade(angle, (x, y))
    way = LineString([(-20.0, 0.0), (20.0, 0.0)])
    found = static_contacts(
        hand.lines(((20.0, 0.0, -5.0), rapid), start=(-20.0, 0.0, -5.0)),
        {1: tool},
        {"blade": prism(outline, -20.0, 3.0)},
    )
    truth = way.distance(Polygon(outline)) - 2.0
    told = [one for one in found if one.part is Part.EDGE]
    if truth < c.CAP_MM - 0.25:
        assert told
        assert abs(told[0].gap_mm - truth) <= told[0].u_grid_mm * math.sqrt(3) + 1e-6
    for one in told:
        if truth < 0:
            assert c.certain(one) is not c.Certainty.CLEAR
        if truth > 0:
            assert c.certain(one) is not c.Certainty.HIT
    if truth < -0.4:
        assert c.certain(told[0]) is c.Certainty.HIT


@given(st.floats(0, math.pi), st.tuples(st.floats(-3, 3), st.floats(-3, 3)), st.floats(0.01, 5.0))
@settings(deadline=None, max_examples=40)
def test_exactly_the_touched_cells_are_covered(angle: float, at: tuple[float, float], thick: float) -> None:
    outline = blade(angle, at, thick)
    field = covered_field(prism(outline, -4.0, 1.5), 0.5)
    body = Polygon(outline)
    for row in range(field.grid.rows):
        for column in range(field.grid.columns):
            x, y = field.grid.x0_mm + 0.5 * column, field.grid.y0_mm + 0.5 * row
            away = body.distance(box(x, y, x + 0.5, y + 0.5))
            if away > 1e-6:
                assert field.top[row, column] < -1e5
            elif body.intersection(box(x, y, x + 0.5, y + 0.5)).area > 1e-9:
                assert field.top[row, column] == pytest.approx(0.0, abs=1e-5)


def test_a_slope_counts_with_its_highest_point_in_each_cell() -> None:
    wedge = Shape(
        "wedge", np.array([[[0.0, 0.0, 0.0], [4.0, 0.0, 4.0], [4.0, 3.0, 4.0]], [[0.0, 0.0, 0.0], [4.0, 3.0, 4.0], [0.0, 3.0, 0.0]]]), ""
    )  # fmt: skip
    wedge.triangles.setflags(write=False)
    field = covered_field(wedge, 0.5)
    inside = field.top[2, 1:9]  # cells begin one cell before the shape
    assert inside + 4.0 == pytest.approx(np.arange(1, 9) * 0.5, abs=1e-5)


def test_the_edge_at_feed_may_not_cut_a_fixture() -> None:
    found = static_contacts(hand.lines(((30.0, 0.0, 1.0), False), start=(-10.0, 0.0, 1.0)), {1: tool}, {"clamp": CLAMP})
    [one] = [one for one in found if one.part is Part.EDGE]
    assert c.certain(one) is c.Certainty.HIT
    assert one.gap_mm == pytest.approx(-2.0)
    assert not one.fresh
    assert one.against == "clamp"
