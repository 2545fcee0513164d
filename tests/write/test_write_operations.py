"""Operations: extents in closed form, tangency, what is cleared and what is not, held against a general library for plane geometry."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box, unary_union

from firstoff.errors import InputError
from firstoff.write.blocks import Arc, Blocks, Drill, Line, Rapid, Side
from firstoff.write.contouring import Chamfer, Contour, chamfer, contour
from firstoff.write.drilling import Bore, Holes, bore, drill
from firstoff.write.facing import Face, face
from firstoff.write.outline import Edge, Outline, beside, circle, rectangle
from firstoff.write.pocketing import Pocket, Slot, Trochoid, pocket, slot
from firstoff.write.tooling import Cut, Heights, Tool, levels, parts

from .tracing import Step, extents, trace

EM6 = Tool(2, "em6", 6.0)
FACE16 = Tool(1, "face16", 16.0)
CUT = Cut(1200.0, 300.0)
HEIGHTS = Heights(12.0, 3.0)
ROUND = 64
"""Segments of a quarter circle in the general library: its circles are then small by 0.00008 of the radius."""


def swept(steps: list[Step], radius: float, below: float) -> Polygon:
    """All that a round tool has passed over while feeding at or below a height."""
    lines = [
        LineString([p[:2] for p in step.points(0.1)])
        if math.dist(step.start[:2], step.end[:2]) + abs(step.sweep) > 1e-9
        else Point(step.end[:2])
        for step in steps
        if step.kind != "rapid" and max(step.start[2], step.end[2]) <= below + 1e-9
    ]
    return unary_union([line.buffer(radius, quad_segs=ROUND) for line in lines])


def joined_smoothly(steps: list[Step], tolerance_rad: float = 1e-6) -> bool:
    """Whether each feed move leaves the one before it in the same direction, seen from above."""
    for before, after in itertools.pairwise(steps):
        if "rapid" in (before.kind, after.kind):
            continue
        leaving, taking = before.direction(1.0), after.direction(0.0)
        if (0.0, 0.0) in (leaving, taking):
            continue
        cross = leaving[0] * taking[1] - leaving[1] * taking[0]
        if abs(cross) > tolerance_rad or leaving[0] * taking[0] + leaving[1] * taking[1] < 0:
            return False
    return True


def check_manners(blocks: Blocks, bottom: float, heights: Heights = HEIGHTS) -> list[Step]:
    """What every operation owes: it starts and ends at the safe height, rapids neither across below it nor down into anything, and
    nothing goes below the bottom."""
    steps = trace(blocks)
    assert steps[0].end[2] == steps[-1].end[2] == heights.safe_z_mm
    for step in steps:
        assert step.end[2] >= bottom - 1e-9 or math.isnan(step.end[2])
        if step.kind != "rapid":
            continue
        assert step.end[2] >= heights.approach_z_mm
        if step.start[:2] != step.end[:2] and not math.isnan(step.start[0]):
            assert min(step.start[2], step.end[2]) == heights.safe_z_mm
    deepest = min(step.end[2] for step in steps if step.kind != "rapid")
    assert deepest == pytest.approx(bottom, abs=1e-12)
    return steps


# --- levels ---


@given(st.floats(-5, 50), st.floats(0.01, 40), st.floats(0.05, 10))
def test_levels_are_even_and_end_at_the_bottom(top: float, depth: float, step: float) -> None:
    found = levels(top, top - depth, step)
    assert found[-1] == top - depth
    gaps = [a - b for a, b in itertools.pairwise((top, *found))]
    assert max(gaps) <= step * (1 + 1e-5)
    assert max(gaps) - min(gaps) < 1e-9
    assert len(found) == parts(depth, step)


# --- face ---


@given(st.floats(5, 80), st.floats(5, 60), st.floats(1, 15.9), st.booleans())
@settings(max_examples=30)
def test_facing_covers_its_rectangle_and_keeps_its_extents(
    width: float, depth: float, step_over: float, one_way: bool
) -> None:
    what = Face(0, width, 0, depth, 0.4, 0.0, 0.25, step_over, beside_mm=1.5, one_way=one_way)
    steps = check_manners(face(what, FACE16, CUT, HEIGHTS), 0.0)
    rows = parts(depth + 1.5, step_over)
    (x, y, _) = extents(steps)
    assert x == pytest.approx((-8 - 1.5, width + 8 + 1.5))
    assert y == pytest.approx((-8 + (depth + 1.5) / rows, depth + 1.5 - 8))
    assert swept(steps, 8.0 + 1e-6, 0.0).buffer(0.001).contains(box(0, 0, width, depth))


def test_one_way_facing_climbs_in_every_pass() -> None:
    steps = trace(face(Face(0, 30, 0, 40, 0.3, 0, 1, 8, one_way=True), FACE16, CUT, HEIGHTS))
    passes = [step for step in steps if step.kind == "feed" and abs(step.end[0] - step.start[0]) > 20]
    assert len(passes) == 6
    assert all(
        step.end[0] < step.start[0] for step in passes
    )  # uncut side at the right: down-milling with a clockwise spindle


# --- trochoids ---


def test_a_slot_is_cleared_to_its_width_and_no_farther() -> None:
    what = Slot((2, 1), (22, 11), 9.0, 0.0, -4.0)
    steps = check_manners(slot(what, Trochoid(0.7, 0.4, 5.0), EM6, CUT, HEIGHTS), -4.0)
    cleared = swept(steps, 3.0, -4.0)
    wanted = LineString([what.start, what.end]).buffer(4.5, quad_segs=ROUND)
    assert cleared.difference(wanted.buffer(0.002)).area < 1e-6
    assert wanted.difference(cleared).area < 0.02 * wanted.area
    # only the scallops between two circles stay: s²/8R' high at most, R' = the wall's radius of curvature in the sweep
    assert wanted.buffer(-0.03).difference(cleared).area < 1e-6
    assert joined_smoothly([step for step in steps if step.kind != "rapid"])


def deepest_bite(steps: list[Step], bottom: float) -> float:
    """How far the tool's rim ever reaches beyond what it has cleared at the bottom, once the entry's flat turn is done."""
    level = [step for step in steps if step.kind != "rapid" and step.start[2] == step.end[2] == bottom]
    cleared = LineString([p[:2] for p in level[0].points(0.05)]).buffer(3.0, quad_segs=ROUND)
    worst = 0.0
    for step in level[1:]:
        now = LineString([p[:2] for p in step.points(0.05)]).buffer(3.0, quad_segs=ROUND)
        fresh = now.difference(cleared)
        for part in getattr(fresh, "geoms", [fresh]):
            if not part.is_empty:
                worst = max(worst, max(cleared.distance(Point(c)) for c in part.exterior.coords))
        cleared = cleared.union(now)
    return worst


@pytest.mark.parametrize("width", [10.0, 24.0])
@pytest.mark.parametrize("length", [0.0, 9.0])
def test_each_circle_of_a_trochoid_bites_no_more_than_a_step(width: float, length: float) -> None:
    how = Trochoid(0.8, 0.4, 5.0)
    steps = check_manners(slot(Slot((0, 0), (length, 0), width, 0.0, -3.0), how, EM6, CUT, HEIGHTS), -3.0)
    assert deepest_bite(steps, -3.0) <= how.step_mm + 0.01
    helix = [step for step in steps if step.kind == "arc" and step.end[2] < step.start[2]]
    assert max(step.radius for step in helix) < EM6.radius_mm  # no post in its middle
    wanted = LineString([(-1e-6, 0), (length, 0)]).buffer(width / 2, quad_segs=ROUND)
    assert wanted.buffer(-0.06).difference(swept(steps, 3.0, -3.0)).area < 1e-6


@given(st.floats(14, 50), st.floats(14, 50), st.floats(0, 0.5), st.floats(0.4, 2.5), st.floats(1.15, 2.2))
@settings(max_examples=15, deadline=None)
def test_a_pocket_is_cleared_but_for_its_corners(
    width: float, depth: float, allowance: float, step: float, lane: float
) -> None:
    what = Pocket(-3, width - 3, 5, depth + 5, 0.0, -3.0, allowance, lane_mm=lane * 6.0)
    steps = check_manners(pocket(what, Trochoid(step, 0.5, 4.0), EM6, CUT, HEIGHTS), -3.0)
    left = box(-3 + allowance, 5 + allowance, width - 3 - allowance, depth + 5 - allowance)
    cleared = swept(steps, 3.0, -3.0)
    assert cleared.difference(left.buffer(0.002)).area < 1e-6
    corner_radius = min(lane * 6.0, min(width, depth) - 2 * allowance) / 2
    rounded = (
        left.buffer(-corner_radius).buffer(corner_radius, quad_segs=ROUND)
        if corner_radius * 2 < min(width, depth) - 2 * allowance
        else None
    )
    scallop = corner_radius - math.sqrt(corner_radius**2 - (step / 2) ** 2)
    assert rounded is None or rounded.buffer(-scallop - 0.01).difference(cleared).area < 1e-4
    (x, y, z) = extents(steps)
    reach = 3.0 + allowance
    assert x == pytest.approx((-3 + reach, width - 3 - reach))
    assert y == pytest.approx((5 + reach, depth + 5 - reach))
    assert z[0] == -3.0
    assert joined_smoothly([s for s in steps if s.kind != "rapid"], 1e-5)


def test_a_deep_pocket_goes_down_by_levels_and_by_turns() -> None:
    steps = check_manners(pocket(Pocket(0, 20, 0, 16, 0, -9), Trochoid(0.8, 0.5, 4.0), EM6, CUT, HEIGHTS), -9.0)
    helix = [step for step in steps if step.kind == "arc" and step.end[2] < step.start[2]]
    assert max(step.start[2] - step.end[2] for step in helix) <= 0.5 + 1e-9
    flat = {round(step.end[2], 6) for step in steps if step.kind == "arc" and step.end[2] == step.start[2]}
    assert flat == {-3.0, -6.0, -9.0}
    assert all(step.radius <= 0.45 * 6.0 for step in helix)  # no post in the middle


# --- outlines ---


@given(st.floats(8, 60), st.floats(8, 60), st.floats(0.5, 3.9), st.floats(0.1, 6))
@settings(max_examples=30)
def test_a_rectangle_grows_as_a_general_library_says(width: float, depth: float, radius: float, away: float) -> None:
    drawn = rectangle((1, 2), (1 + width, 2 + depth), radius)
    grown = beside(drawn, -away)  # counter-clockwise: its right is outside
    exact = width * depth - (4 - math.pi) * radius**2
    assert drawn.area_mm2 == pytest.approx(exact)
    # Steiner's formula for a convex body grown by d: area + perimeter·d + π·d²
    perimeter = 2 * (width + depth) - (8 - 2 * math.pi) * radius
    assert grown.area_mm2 == pytest.approx(exact + perimeter * away + math.pi * away**2)
    assert drawn.backwards().area_mm2 == pytest.approx(-exact)


def test_a_sharp_outer_corner_gets_an_arc_and_a_sharp_inner_one_is_refused() -> None:
    square = rectangle((0, 0), (10, 10))
    assert beside(square, -3).area_mm2 == pytest.approx(100 + 40 * 3 + math.pi * 9)
    with pytest.raises(InputError, match="inner corner"):
        beside(square, 3)


def test_distance_to_an_outline_agrees_with_a_general_library() -> None:
    drawn = rectangle((0, 0), (30, 18), 5)
    ring = LineString([p for edge in drawn.edges for p in (edge.at(k / 400) for k in range(401))])
    for x, y in itertools.product(range(-10, 41, 5), range(-10, 31, 4)):
        assert drawn.distance_mm((x, y)) == pytest.approx(ring.distance(Point(x, y)), abs=2e-4)


# --- contour ---


shapes = st.sampled_from([rectangle((0, 0), (40, 25), 4), rectangle((0, 0), (30, 30)), circle((12, 9), 26)])


@given(shapes, st.booleans(), st.floats(0, 0.5), st.floats(0.5, 4), st.floats(0, 3))
@settings(max_examples=30, deadline=None)
def test_a_contour_touches_its_outline_and_never_enters(
    shape: Outline, climb: bool, allowance: float, radius: float, line: float
) -> None:
    what = Contour(shape, 0.0, -5.0, 2.0, radius, line, climb=climb, allowance_mm=allowance)
    steps = check_manners(contour(what, EM6, CUT, HEIGHTS), -5.0)
    around = [step for step in steps if step.kind != "rapid" and step.start[2] == step.end[2]]
    nearest = min(shape.distance_mm(p[:2]) for step in around for p in step.points(0.5))
    assert nearest == pytest.approx(3.0 + allowance, abs=1e-9)
    assert joined_smoothly([step for step in steps if step.kind != "rapid"])
    # three levels, each: straight in, arc in, the outline from the middle of its longest edge, arc out, straight out
    assert len([step for step in steps if step.kind == "feed" and step.end[2] != step.start[2]]) == 3


def test_climb_keeps_the_part_at_the_right_hand() -> None:
    for inside in (False, True):
        for climb in (False, True):
            shape = rectangle((0, 0), (40, 30), 4)
            what = Contour(shape, 0, -2, 2, 2, inside=inside, climb=climb)
            steps = [step for step in trace(contour(what, EM6, CUT, HEIGHTS)) if step.kind == "feed"]
            along = max(steps, key=lambda step: math.dist(step.start[:2], step.end[:2]))
            x, y, _ = along.at(0.5)
            (dx, dy) = along.direction(0.5)
            right = (x + 3.5 * dy, y - 3.5 * dx)  # beyond the wall, if the wall is at the right hand
            is_material = Polygon([(0, 0), (40, 0), (40, 30), (0, 30)]).contains(Point(right)) != inside
            assert is_material == climb


def test_an_inside_contour_keeps_to_the_inside() -> None:
    shape = rectangle((0, 0), (36, 22), 3.5)
    steps = check_manners(contour(Contour(shape, 0, -4, 4, 2.0, 1.0, inside=True), EM6, CUT, HEIGHTS), -4)
    (x, y, _) = extents(steps)
    assert x == pytest.approx((3, 33))
    assert y == pytest.approx((3, 19))
    with pytest.raises(InputError, match="inner arc"):
        contour(Contour(rectangle((0, 0), (36, 22), 2.5), 0, -4, 4, 2.0, inside=True), EM6, CUT, HEIGHTS)
    with pytest.raises(InputError, match="lead would cut another wall"):
        contour(Contour(shape, 0, -4, 4, 12.0, 5.0, inside=True), EM6, CUT, HEIGHTS)


def test_a_pocket_narrower_than_the_tool_cannot_be_contoured() -> None:
    narrow = Outline(
        (
            Edge((0, 0), (20, 0)),
            Edge((20, 0), (20, 5), (20, 2.5)),
            Edge((20, 5), (0, 5)),
            Edge((0, 5), (0, 0), (0, 2.5)),
        )
    )
    with pytest.raises(InputError):
        contour(Contour(narrow, 0, -1, 1, 0.2, 0.0, inside=True), EM6, CUT, HEIGHTS)


def test_edges_that_are_no_neighbours_are_looked_at_too() -> None:
    # a peanut: two round pockets of radius 10, joined smoothly by a neck 4 mm wide between two arcs of radius 3; every arc alone can be
    # moved by the tool's 3 mm, the two sides of the neck cannot
    x, y = 12 - 120 / 13, 50 / 13
    right = Edge((x, -y), (x, y), (12, 0))
    left = Edge((-x, y), (-x, -y), (-12, 0))
    top = Edge((x, y), (-x, y), (0, 5), clockwise=True)
    bottom = Edge((-x, -y), (x, -y), (0, -5), clockwise=True)
    peanut = Outline((right, top, left, bottom))
    with pytest.raises(InputError, match="does not fit"):
        contour(Contour(peanut, 0, -1, 1, 1.0, 0.5, inside=True), EM6, CUT, HEIGHTS)
    contour(Contour(peanut, 0, -1, 1, 1.0, 0.5, inside=True), Tool(3, "em3", 3.0), CUT, HEIGHTS)


def test_compensation_writes_the_drawing_and_switches_on_a_straight_lead() -> None:
    shape = rectangle((0, 0), (40, 25), 4)
    blocks = contour(Contour(shape, 0, -4, 4, 4.0, 3.5, compensated=True), EM6, CUT, HEIGHTS)
    steps = check_manners(blocks, -4)
    switched = [block for block in blocks if isinstance(block, Line) and block.side is not None]
    assert [block.side for block in switched] == [Side.LEFT, Side.OFF]
    assert switched[0].register == 2
    cutting = [step for step in steps if step.kind != "rapid" and step.start[2] == step.end[2]]
    assert min(shape.distance_mm(p[:2]) for step in cutting for p in step.points(0.5)) < 1e-9
    assert joined_smoothly([step for step in steps if step.kind != "rapid"])
    on_line = cutting[0]
    assert math.dist(on_line.start, on_line.end) >= EM6.radius_mm
    with pytest.raises(InputError, match="lead_radius_mm"):
        contour(Contour(shape, 0, -4, 4, 3.0, 3.5, compensated=True), EM6, CUT, HEIGHTS)
    with pytest.raises(InputError, match="lead_line_mm"):
        contour(Contour(shape, 0, -4, 4, 4.0, 2.0, compensated=True), EM6, CUT, HEIGHTS)


# --- chamfer ---


@given(st.sampled_from([60.0, 90.0, 120.0]), st.floats(0.1, 0.8), st.floats(0, 0.4), st.floats(0, 0.6))
def test_the_flank_meets_the_wall_at_the_lower_edge_of_the_chamfer(
    angle: float, width: float, tip: float, below: float
) -> None:
    shape = rectangle((0, 0), (40, 25), 4)
    what = Chamfer(shape, 0.0, width, angle, tip_diameter_mm=tip, tip_below_mm=below)
    steps = check_manners(chamfer(what, EM6, CUT, HEIGHTS), what.tip_z_mm)
    cutting = [step for step in steps if step.kind != "rapid" and step.start[2] == step.end[2]]
    reach = min(shape.distance_mm(p[:2]) for step in cutting for p in step.points(0.5))
    slope = math.tan(math.radians(angle / 2))
    # the tool's radius at a height above its tip is tip/2 + height·tan(half the included angle)
    lower_edge = -width / slope
    assert tip / 2 + (lower_edge - what.tip_z_mm) * slope == pytest.approx(reach)
    assert tip / 2 + (0.0 - what.tip_z_mm) * slope == pytest.approx(reach + width)


def test_a_chamfer_wider_than_the_flank_is_refused() -> None:
    with pytest.raises(InputError, match="flank"):
        chamfer(Chamfer(circle((0, 0), 20), 0, 2.8), EM6, CUT, HEIGHTS)


# --- holes ---


def test_a_bore_is_round_and_on_size() -> None:
    steps = check_manners(bore(Bore((5, 7), 9.0, 0.0, -6.3, 0.5), EM6, CUT, HEIGHTS), -6.3)
    wanted = Point(5, 7).buffer(4.5, quad_segs=ROUND)
    cleared = swept(steps, 3.0, -6.3)
    assert cleared.symmetric_difference(wanted).area < 0.003 * wanted.area
    helix = [step for step in steps if step.kind == "arc" and step.end[2] < step.start[2]]
    assert max(step.start[2] - step.end[2] for step in helix) <= 0.5 + 1e-9
    assert joined_smoothly([step for step in steps if step.kind != "rapid"])
    (x, y, _) = extents(steps)
    assert x == pytest.approx((3.5, 6.5))
    assert y == pytest.approx((5.5, 8.5))


def test_a_bore_leaves_no_post_unless_it_is_open() -> None:
    with pytest.raises(InputError, match="post"):
        bore(Bore((0, 0), 13.0, 0, -5, 0.5), EM6, CUT, HEIGHTS)
    bore(Bore((0, 0), 13.0, 0, -5, 0.5, open_mm=1.0), EM6, CUT, HEIGHTS)


def test_drilling_keeps_its_places_in_one_cycle() -> None:
    blocks = drill(Holes(((1, 2), (3, 4)), 0.0, -6.0, peck_mm=2.0), Tool(5, "d", 2.5), CUT, HEIGHTS)
    cycles = [block for block in blocks if isinstance(block, Drill)]
    assert cycles == [Drill(((1, 2), (3, 4)), 12.0, 3.0, -6.0, 300.0, 2.0)]
    assert blocks[0] == blocks[-1] == Rapid(z_mm=12.0)


# --- what cannot be cut ---

SHAPE = rectangle((0, 0), (20, 20), 4)
HOW = Trochoid(0.5, 0.4, 4.0)
IMPOSSIBLE = {
    "pocket smaller than the tool": lambda: pocket(Pocket(0, 5, 0, 20, 0, -1), HOW, EM6, CUT, HEIGHTS),
    "pocket smaller by its allowance": lambda: pocket(Pocket(0, 7, 0, 20, 0, -1, 0.5), HOW, EM6, CUT, HEIGHTS),
    "slot as wide as the tool": lambda: slot(Slot((0, 0), (9, 0), 6.0, 0, -1), HOW, EM6, CUT, HEIGHTS),
    "negative feed": lambda: bore(Bore((0, 0), 9, 0, -1, 0.5), EM6, Cut(-1200, 300), HEIGHTS),
    "feed that is no number": lambda: bore(Bore((0, 0), 9, 0, -1, 0.5), EM6, Cut(math.nan, 300), HEIGHTS),
    "plunge of nothing": lambda: face(Face(0, 9, 0, 9, 1, 0, 1, 5), FACE16, Cut(100, 0), HEIGHTS),
    "stepover above the diameter": lambda: face(Face(0, 9, 0, 9, 1, 0, 1, 16.5), FACE16, CUT, HEIGHTS),
    "trochoid step above the radius": lambda: slot(
        Slot((0, 0), (9, 0), 9.0, 0, -1), Trochoid(3.5, 0.5, 2), EM6, CUT, HEIGHTS
    ),
    "step down of nothing": lambda: face(Face(0, 9, 0, 9, 1, 0, 0, 5), FACE16, CUT, HEIGHTS),
    "bottom above the top": lambda: bore(Bore((0, 0), 9, 0, 1, 0.5), EM6, CUT, HEIGHTS),
    "approach inside the material": lambda: bore(Bore((0, 0), 9, 4, -1, 0.5), EM6, CUT, HEIGHTS),
    "safe height below the approach": lambda: bore(Bore((0, 0), 9, 0, -1, 0.5), EM6, CUT, Heights(1, 3)),
    "hole as large as the tool": lambda: bore(Bore((0, 0), 6, 0, -1, 0.5), EM6, CUT, HEIGHTS),
    "no hole at all": lambda: drill(Holes((), 0, -1), EM6, CUT, HEIGHTS),
    "one hole twice": lambda: drill(Holes(((1, 1), (1, 1)), 0, -1), EM6, CUT, HEIGHTS),
    "negative peck": lambda: drill(Holes(((1, 1),), 0, -1, -0.5), EM6, CUT, HEIGHTS),
    "tool without a diameter": lambda: drill(Holes(((1, 1),), 0, -1), Tool(1, "x", 0.0), CUT, HEIGHTS),
    "corner radius too large": lambda: rectangle((0, 0), (10, 10), 6),
    "rectangle without a size": lambda: rectangle((0, 0), (0, 10)),
    "circle without a size": lambda: circle((0, 0), 0),
    "negative allowance": lambda: contour(Contour(SHAPE, 0, -1, 1, 2, allowance_mm=-0.1), EM6, CUT, HEIGHTS),
    "lead of nothing": lambda: contour(Contour(SHAPE, 0, -1, 1, 0), EM6, CUT, HEIGHTS),
    "chamfer of half a turn": lambda: chamfer(Chamfer(SHAPE, 0, 0.3, 180), EM6, CUT, HEIGHTS),
}


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_what_cannot_be_cut_is_refused_with_value_and_limit(name: str) -> None:
    with pytest.raises(InputError) as raised:
        IMPOSSIBLE[name]()
    assert all(fault.what and fault.value and fault.allowed for fault in raised.value.faults)


def test_all_faults_of_one_operation_are_told_together() -> None:
    with pytest.raises(InputError) as raised:
        face(Face(0, 9, 0, 9, 1, 0, -1, 20), FACE16, Cut(-5, 0), HEIGHTS)
    assert len(raised.value.faults) == 4


def test_arcs_know_their_way_round() -> None:
    blocks = bore(Bore((0, 0), 9.0, 0.0, -1.0, 0.5), EM6, CUT, HEIGHTS)
    assert all(not block.clockwise for block in blocks if isinstance(block, Arc))  # inside, climb, clockwise spindle
