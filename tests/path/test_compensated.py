"""Cutter compensation: never nearer to the contour than the radius, the same on both sides, and nothing made up."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from firstoff.path.compensated import compensated
from firstoff.path.pieces import Pieces
from firstoff.path.placing import pieces_of
from firstoff.path.ways import settled, ways_of
from firstoff.program.control import Control
from firstoff.program.moves import Arcs, Flag, Kind, Moves
from firstoff.program.reading import Start, read_text
from tests.path.ways import NAN, TURN, arcs_of, beside, chain, contour, moves_of, starts_of, trace

SIDES = ("left", "right")
seeds = st.integers(0, 2**32 - 1)
radii = st.floats(0.05, 1.5)


def closed(points: np.ndarray, side: str, clearance: float = 4.0) -> tuple[Moves, Arcs]:
    """Once round a closed polygon f8[K, 2], beginning and ending in the middle of its last edge."""
    middle = (points[-1] + points[0]) / 2
    way = (points[0] - points[-1]) / np.linalg.norm(points[0] - points[-1])
    aside = np.array([-way[1], way[0]]) * (1 if side == "left" else -1) * clearance
    edges = [("line", *point, 0.0) for point in (*points, middle)]
    away = (*(middle + aside), 0.0)
    return contour(*edges, side=side, begin=away, lead=(*middle, 0.0), leave=away)


def convex(rng: np.random.Generator, corners: int) -> np.ndarray:
    """f8[K, 2] counter-clockwise, on an ellipse, edges not shorter than about 1 mm."""
    angle = np.sort(rng.uniform(0, TURN, corners))
    points = np.stack([20 * np.cos(angle), 12 * np.sin(angle)], axis=1)
    keep = np.linalg.norm(points - np.roll(points, -1, axis=0), axis=1) > 1
    return points[keep]


def star(rng: np.random.Generator, corners: int) -> np.ndarray:
    """f8[K, 2] counter-clockwise, with inside and outside corners, edges long against the radii used."""
    angle = np.linspace(0, TURN, corners, endpoint=False) + rng.uniform(-0.1, 0.1, corners)
    return (rng.uniform(14, 24, corners) * np.array([np.cos(angle), np.sin(angle)])).T


def gap(pieces: Pieces, moves: Moves, shape: shapely.Geometry) -> float:
    """Least distance of the tool's centre from a shape while compensation follows the contour."""
    return float(shapely.distance(shapely.points(trace(pieces, 2, len(moves) - 2)[:, :2]), shape).min())


@given(seeds, st.integers(4, 12), radii, st.sampled_from(SIDES))
@settings(deadline=None, max_examples=60)
def test_outside_a_convex_contour_the_cutter_keeps_its_radius(
    seed: int, corners: int, radius: float, side: str
) -> None:
    points = convex(np.random.default_rng(seed), corners)
    assume(len(points) >= 3)
    points = points if side == "right" else points[::-1]
    moves, arcs = closed(points, side)
    pieces = beside(moves, arcs, radius)
    assert pieces.unknown.size == 0
    assert gap(pieces, moves, shapely.Polygon(points)) == pytest.approx(radius, abs=1e-6)


@given(seeds, st.integers(5, 9), st.floats(0.05, 0.8), st.sampled_from(SIDES), st.booleans())
@settings(deadline=None, max_examples=60)
def test_beside_any_contour_the_cutter_keeps_its_radius(
    seed: int, corners: int, radius: float, side: str, turn_round: bool
) -> None:
    points = star(np.random.default_rng(seed), corners)
    points = points[::-1] if turn_round else points
    moves, arcs = closed(points, side)
    pieces = beside(moves, arcs, radius)
    assert pieces.unknown.size == 0
    assert gap(pieces, moves, shapely.LinearRing(points)) == pytest.approx(radius, abs=1e-6)
    real = ~pieces.ghost
    assert pieces.start_mm[real][1:] == pytest.approx(pieces.end_mm[real][:-1], abs=1e-9)


@given(seeds, st.integers(5, 9), st.floats(0.05, 0.8))
@settings(deadline=None, max_examples=30)
def test_left_is_right_in_the_mirror(seed: int, corners: int, radius: float) -> None:
    points = star(np.random.default_rng(seed), corners)
    left = beside(*closed(points, "left"), radius)
    right = beside(*closed(points * [1, -1], "right"), radius)
    for name in ("start_mm", "end_mm"):
        assert getattr(right, name) == pytest.approx(getattr(left, name) * [1, -1, 1], abs=1e-9)
    assert right.arcs.sweep_rad == pytest.approx(-left.arcs.sweep_rad)


@given(seeds, st.integers(5, 9), st.floats(0.05, 0.8), st.sampled_from(SIDES))
@settings(deadline=None, max_examples=30)
def test_a_negative_radius_is_the_other_side(seed: int, corners: int, radius: float, side: str) -> None:
    """NISTIR 6556, B.4."""
    points = star(np.random.default_rng(seed), corners)
    one = beside(*closed(points, side), radius)
    other = beside(*closed(points, SIDES[side == "left"], clearance=-4.0), -radius)
    assert np.array_equal(one.start_mm, other.start_mm)
    assert np.array_equal(one.end_mm, other.end_mm)


@pytest.mark.parametrize("sweep", [TURN, -TURN])
@pytest.mark.parametrize("side", SIDES)
def test_round_a_circle(sweep: float, side: str) -> None:
    """Counter-clockwise with the cutter on the left goes round inside."""
    inside = (sweep > 0) == (side == "left")
    begin = (1.0, 0.0, 0.0) if inside else (12.0, 0.0, 0.0)
    circle = ("arc", 17, 0.0, 0.0, sweep, 0.0)
    moves, arcs = contour(circle, side=side, begin=begin, lead=(5.0, 0, 0), leave=begin)
    pieces = beside(moves, arcs, 1.5)
    points = trace(pieces, 2, 2)
    assert np.hypot(points[:, 0], points[:, 1]) == pytest.approx(3.5 if inside else 6.5)
    assert pieces.arcs.sweep_rad[pieces.arc[pieces.arc >= 0]] == pytest.approx([sweep])
    assert pieces.unknown.size == 0


def slot(turn: int, rise: float = 0.0) -> list[tuple]:
    """Round a slot 20 mm between centres and 8 mm wide, from the middle of its lower side; `turn` 1 is counter-clockwise."""
    lower, far = -4.0 * turn, 4.0 * turn
    return [
        ("line", 10.0, lower, 0.0),
        ("arc", 17, 10.0, 0.0, turn * math.pi, rise),
        ("line", -10.0, far, 2 * rise),
        ("arc", 17, -10.0, 0.0, turn * math.pi, rise),
        ("line", 0.0, lower, 4 * rise),
    ]


@pytest.mark.parametrize("turn", [1, -1])
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("radius", [0.5, 3.0, 4.0])
def test_round_a_slot(turn: int, side: str, radius: float) -> None:
    """Tangent arcs and lines: no corners at all, and the heights as programmed."""
    inside = (turn > 0) == (side == "left")
    begin = (0.0, (0.3 if inside else -9.0) * turn, 0.0)
    moves, arcs = contour(*slot(turn, -0.5), side=side, begin=begin, lead=(0, -4.0 * turn, 0), leave=(*begin[:2], -2.0))
    pieces = beside(moves, arcs, radius)
    assert pieces.unknown.size == 0
    points = trace(pieces, 2, len(moves) - 2)
    axis = shapely.LineString([(-10, 0), (10, 0)])
    expected = 4.0 - radius if inside else 4.0 + radius
    assert shapely.distance(shapely.points(points[:, :2]), axis) == pytest.approx(expected, abs=1e-6)
    assert pieces.end_mm[:, 2].tolist() == [
        end for end, m in zip(moves.end_mm[:, 2], range(9), strict=False) if m in pieces.move
    ]


turns = st.floats(-1.2, 1.2)
senses = st.sampled_from([1, -1])


@given(st.floats(0.2, 3.0), turns, turns, st.floats(0.4, 1.2), st.sampled_from(SIDES), senses, senses)
@settings(deadline=None, max_examples=60)
def test_corners_of_lines_and_arcs(
    radius: float, tilt: float, second_tilt: float, sweep: float, side: str, sense: int, second: int
) -> None:
    """A line, an arc, another arc and a line that meet at any angle: the cutter touches what it follows and overlaps no neighbour."""
    moves, arcs = bent(tilt, second_tilt, sweep, side, sense, second)
    pieces = beside(moves, arcs, radius)
    plain = dataclasses.replace(moves, flags=moves.flags * 0, comp_register=moves.comp_register * 0 - 1)
    programmed = beside(plain, arcs, 0.0)
    made = [move for move in range(2, 6) if move not in pieces.unknown]
    assert made
    assert radius > 1 or not pieces.unknown.size
    for move in made:
        tips = shapely.points(trace(pieces, move, move, 40)[:, :2])
        own = shapely.LineString(trace(programmed, move, move, 2000)[:, :2])
        around = shapely.LineString(trace(programmed, max(move - 1, 2), min(move + 1, 5), 2000)[:, :2])
        assert shapely.distance(tips, own).max() <= radius + 1e-6
        assert shapely.distance(tips, around).min() >= radius - 1e-6


def bent(tilt: float, second_tilt: float, sweep: float, side: str, sense: int, second: int) -> tuple[Moves, Arcs]:
    """20 mm along X, an arc of 8 mm and one of 9 mm, each turned against what comes before it, and 15 mm straight on."""
    way = tilt + sense * sweep
    one = (
        "arc",
        17,
        10 + 8 * math.cos(tilt + sense * math.pi / 2),
        8 * math.sin(tilt + sense * math.pi / 2),
        sense * sweep,
        0,
    )
    x, y, _ = chain(("line", 10, 0, 0), one)[0].end_mm[-1]
    at = way + second_tilt + second * math.pi / 2
    two = ("arc", 17, x + 9 * math.cos(at), y + 9 * math.sin(at), second * 0.6, 0)
    x, y, _ = chain(("line", 10, 0, 0), one, two)[0].end_mm[-1]
    way += second_tilt + second * 0.6 - 0.3
    last = ("line", x + 15 * math.cos(way), y + 15 * math.sin(way), 0)
    aside = 4.0 if side == "left" else -4.0
    return contour(
        ("line", 10, 0, 0), one, two, last, side=side, begin=(-10, aside, 0), lead=(-10, 0, 0), leave=(90, 90, 0)
    )


def test_an_inside_corner_by_hand() -> None:
    """Nc case S62: D 1.0, along X to (10, 0), then along Y on the left: the centre turns at (9.5, 0.5)."""
    moves, arcs = contour(
        ("line", 10, 0, 0), ("line", 10, 10, 0), side="left", begin=(-2, 0, 0), lead=(0, 0, 0), leave=(5, 12, 0)
    )
    pieces = beside(moves, arcs, 0.5)
    assert pieces.end_mm[2] == pytest.approx((9.5, 0.5, 0))
    assert len(pieces) == 5


def nearly_round(sign: int) -> tuple[list[tuple], np.ndarray]:
    """15 mm along X into a corner of 0.6 rad, and from there almost round a circle of 8 mm; the circle's centre."""
    centre = np.array([10 - 8 * math.sin(0.6), sign * 8 * math.cos(0.6)])
    return [("line", 10, 0, 0), ("arc", 17, *centre, sign * 5.5, 0)], centre


@pytest.mark.parametrize(("side", "sign"), [("left", 1), ("right", -1)])
def test_of_two_crossings_the_one_at_the_corner_counts(side: str, sign: int) -> None:
    """The line beside the contour crosses the circle inside it twice."""
    way, centre = nearly_round(sign)
    moves, arcs = contour(*way, side=side, begin=(-5, 5 * sign, 0), lead=(-5, 0, 0), leave=(5, sign, 0))
    pieces = beside(moves, arcs, 1.0)
    half = math.sqrt(49 - (abs(centre[1]) - 1) ** 2)
    assert pieces.end_mm[2] == pytest.approx((centre[0] + half, sign, 0))
    assert abs(pieces.arcs.sweep_rad[0]) < 5.5


def test_a_crossing_before_the_line_begins_does_not_count() -> None:
    """Almost round a circle outside, then 0.6 rad away from it. Where the line is too short for the crossing ahead, the one behind is none."""
    x, y = 8 * math.sin(0.4), 8 * math.cos(0.4)
    way = math.atan2(y, x) + 5.5 - math.pi / 2 - 5.5 + 0.6
    for length, refused in ((3.0, []), (0.1, [2, 3, 4])):
        begin = 8 * np.exp(1j * (math.atan2(y, x) + 5.5))
        out = begin * 1.5
        round_it = ("arc", 17, 0, 0, -5.5, 0)
        away = ("line", x + length * math.cos(way), y + length * math.sin(way), 0)
        moves, arcs = contour(
            round_it,
            away,
            side="left",
            begin=(out.real, out.imag, 0),
            lead=(begin.real, begin.imag, 0),
            leave=(0, 30, 0),
        )
        assert beside(moves, arcs, 1.0).unknown.tolist() == refused


def test_an_arc_may_lose_much_of_its_ends() -> None:
    for side, sign in (("left", 1), ("right", -1)):
        assert not beside(*bent(1.1 * sign, 0.9 * sign, 1.2, side, sign, sign), 2.5).unknown.size


def test_a_slight_bend_behind_a_tight_arc_costs_no_depth() -> None:
    """An arc a hundredth larger than the cutter, then a line that bends away by a few milliradians."""
    arc = ("arc", 17, 10, 3.01, 1.0, 0)
    x, y, _ = chain(("line", 10, 0, 0), arc)[0].end_mm[-1]
    bend = 1.0 - 0.005
    line = ("line", x + 9 * math.cos(bend), y + 9 * math.sin(bend), 0)
    moves, arcs = contour(("line", 10, 0, 0), arc, line, side="left", begin=(0, 5, 0), lead=(0, 0, 0), leave=(5, 40, 0))
    pieces = beside(moves, arcs, 3.0)
    tips = trace(pieces, 2, 4)[:, :2]
    near = tips[np.hypot(tips[:, 0] - 10, tips[:, 1] - 3.01) < 0.1]
    assert np.hypot(near[:, 0] - 10, near[:, 1] - 3.01).max() > 0.009
    plain = dataclasses.replace(moves, flags=moves.flags * 0, comp_register=moves.comp_register * 0 - 1)
    shape = shapely.LineString(trace(beside(plain, arcs, 0.0), 2, 4, 5000)[:, :2])
    assert shapely.distance(shapely.points(tips), shape).min() >= 3.0 - 1e-6


def test_an_outside_corner_is_rolled_round_at_the_height_of_the_corner() -> None:
    moves, arcs = contour(
        ("line", 10, 0, -1), ("line", 10, 10, -3), side="right", begin=(0, -5, 0), lead=(0, 0, 0), leave=(20, 10, 0)
    )
    pieces = beside(moves, arcs, 2.0)
    (corner,) = np.flatnonzero(pieces.arc >= 0)
    assert pieces.start_mm[corner] == pytest.approx((10, -2, -1))
    assert pieces.end_mm[corner] == pytest.approx((12, 0, -1))
    assert pieces.arcs.sweep_rad[pieces.arc[corner]] == pytest.approx(math.pi / 2)
    assert pieces.move[corner] == 3
    assert pieces.end_mm[corner + 1] == pytest.approx((12, 10, -3))


def test_a_way_back_is_rolled_round() -> None:
    """Along a line and back on its other side: half a circle round its end."""
    for side, turn in (("left", -1), ("right", 1)):
        moves, arcs = contour(
            ("line", 10, 0, 0),
            ("line", 0, 0, 0),
            side=side,
            begin=(0, -5 * turn, 0),
            lead=(0, 0, 0),
            leave=(0, 9 * turn, 0),
        )
        pieces = beside(moves, arcs, 1.0)
        (corner,) = np.flatnonzero(pieces.arc >= 0)
        assert pieces.arcs.sweep_rad[pieces.arc[corner]] == pytest.approx(turn * math.pi)
        assert pieces.end_mm[corner] == pytest.approx((10, turn, 0))


# --- leading in and out ---------------------------------------------------------------------------------------------------


@given(st.floats(-2.9, 2.9), st.floats(0.2, 3.0), st.sampled_from(SIDES))
@settings(deadline=None)
def test_the_way_in_ends_at_right_angles_to_the_next_move(angle: float, radius: float, side: str) -> None:
    nine = (9 * math.cos(angle), 9 * math.sin(angle), 0.0)
    moves, arcs = contour(("line", *nine), side=side, begin=(-5, 0, 0), lead=(0, 0, 0), leave=(-5, 0, 0))
    pieces = beside(moves, arcs, radius)
    aside = pieces.end_mm[1]
    assert np.linalg.norm(aside) == pytest.approx(radius)
    assert float(aside @ np.array(nine)) == pytest.approx(0, abs=1e-9)
    assert pieces.end_mm[2] == pytest.approx(aside + nine)
    assert pieces.start_mm[3] == pytest.approx(aside + nine)
    assert pieces.end_mm[3] == pytest.approx((-5, 0, 0))
    assert len(pieces) == 4


@given(st.floats(-2.9, 2.9), st.floats(0.2, 3.0), st.sampled_from(SIDES))
@settings(deadline=None)
def test_the_reports_way_in_touches_the_circle_round_the_point(angle: float, radius: float, side: str) -> None:
    """NISTIR 6556, B.5: a right triangle of start, programmed point and centre; outside corners are rolled round from there."""
    nine = np.array([9 * math.cos(angle), 9 * math.sin(angle), 0.0])
    moves, arcs = contour(("line", *nine), side=side, begin=(-5, 0, 0), lead=(0, 0, 0), leave=(-5, 0, 0))
    pieces = beside(moves, arcs, radius, base="rs274ngc", comp_corner="fault")
    sign = 1 if side == "left" else -1
    lift = math.asin(radius / 5)
    turn = math.remainder((angle - sign * lift) * sign, TURN)
    assume(abs(turn) > 0.011)  # nearly straight on: no corner
    if turn > 0.01:
        assert pieces.unknown.tolist()[:2] == [1, 2], "an inside corner is refused"
        return
    centre, start = pieces.end_mm[1], pieces.start_mm[1]
    assert np.linalg.norm(centre) == pytest.approx(radius, abs=1e-5)
    assert float((centre - start) @ centre) == pytest.approx(0, abs=1e-4)
    assert sign * centre[1] > 0
    assert pieces.end_mm[-2] == pytest.approx(nine + sign * radius * np.array([-nine[1], nine[0], 0]) / 9)


def test_moves_in_z_stay_beside_the_contour_until_the_next_move_in_the_plane() -> None:
    moves, arcs = contour(
        ("line", 0, 0, -3), ("line", 10, 0, -3), ("line", 10, 0, -6), ("line", 10, 10, -6), ("line", 10, 10, 5),
        side="right", begin=(0, -5, 0), lead=(0, 0, 0), leave=(30, 30, 5),
    )  # fmt: skip
    off = moves.flags.copy()
    off[6] = 0  # the last retreat after G40
    moves = dataclasses.replace(moves, flags=off, comp_register=np.where(off, 1, -1).astype(np.int32))
    pieces = beside(moves, arcs, 2.0)
    by_move = {int(m): (pieces.start_mm[i].tolist(), pieces.end_mm[i].tolist()) for i, m in enumerate(pieces.move)}
    assert by_move[2] == ([0, -2, 0], [0, -2, -3])
    assert by_move[4] == ([10, -2, -3], [10, -2, -6])
    assert by_move[5] == ([12, 0, -6], [12, 10, -6])
    assert by_move[6] == ([12, 10, -6], [12, 10, 5])
    assert by_move[7] == ([12, 10, 5], [30, 30, 5])
    corner = int(np.flatnonzero(pieces.arc >= 0)[0])
    assert pieces.start_mm[corner].tolist() == [10, -2, -6]


def test_a_run_that_follows_at_once_begins_where_the_cutter_stands() -> None:
    """From the left of one contour to the right of the next, with no move in between."""
    moves, arcs = contour(
        ("line", 10, 0, 0), ("line", 20, 5, 0), ("line", 30, 5, 0), side="left", begin=(0, 5, 0), lead=(0, 0, 0), leave=(30, 9, 0)
    )  # fmt: skip
    flags = moves.flags.copy()
    flags[3:5] = int(Flag.COMP_RIGHT)
    pieces = beside(dataclasses.replace(moves, flags=flags), arcs, 1.0)
    assert pieces.end_mm[:, :2].tolist() == [
        pytest.approx(p) for p in [(0, 5), (0, 1), (10, 1), (20, 4), (30, 4), (30, 9)]
    ]
    assert pieces.start_mm[3].tolist() == pieces.end_mm[2].tolist()


# --- refused --------------------------------------------------------------------------------------------------------------


def unknown_of(*pieces: tuple, side: str, radius: float, begin=(0.0, 5.0, 0.0), **how) -> list[int]:
    moves, arcs = contour(*pieces, side=side, begin=begin, lead=(0, 0, 0), leave=(40, 40, 0))
    return beside(moves, arcs, radius, **how).unknown.tolist()


def test_a_register_that_nobody_knows_leaves_the_run_and_its_way_out_open() -> None:
    assert unknown_of(("line", 10, 0, 0), ("line", 10, 0, 3), side="left", radius=1.0, radii_mm={2: 1.0}) == [
        1,
        2,
        3,
        4,
    ]


def test_an_inside_arc_smaller_than_the_cutter_is_refused() -> None:
    fillet = [("line", 10, 0, 0), ("arc", 17, 10, 2.0, math.pi / 2, 0), ("line", 12, 20, 0)]
    assert unknown_of(*fillet, side="left", radius=2.5) == [3]
    assert unknown_of(*fillet, side="left", radius=2.0) == []
    assert unknown_of(*fillet, side="right", radius=2.5, begin=(0, -5.0, 0)) == []


def test_an_inside_corner_with_a_side_too_short_is_refused() -> None:
    """A slot of 3 mm between two walls: a cutter of 4 mm does not get in."""
    groove = [("line", 10, 0, 0), ("line", 10, 3, 0), ("line", 0, 3, 0)]
    assert unknown_of(*groove, side="left", radius=2.0) == [2, 3, 4, 5]
    assert unknown_of(*groove, side="left", radius=1.4) == []


def test_an_inside_corner_is_refused_where_the_control_does_not_cross() -> None:
    corner = [("line", 10, 0, 0), ("line", 10, 10, 0), ("line", 20, 10, 0)]
    for word in ("fault", None):
        assert unknown_of(*corner, side="left", radius=1.0, comp_corner=word) == [2, 3]
    assert unknown_of(*corner, side="left", radius=1.0) == []


def test_a_way_in_that_is_too_short_or_an_arc_is_refused() -> None:
    assert unknown_of(("line", 10, 0, 0), side="left", radius=5.5) == [1]
    assert unknown_of(("line", 10, 0, 0), side="left", radius=4.5) == []
    moves, arcs = chain(("line", 0, 10, 0), ("arc", 17, 0, 5, math.pi / 2, 0), ("line", -5, -9, 0), ("line", 20, 20, 0))
    flags = np.array([0, Flag.COMP_LEFT, Flag.COMP_LEFT, 0], np.uint16)
    moves = dataclasses.replace(moves, flags=flags, comp_register=np.where(flags, 1, -1).astype(np.int32))
    assert beside(moves, arcs, 1.0).unknown.tolist() == [1]


def test_a_way_out_on_an_arc_is_not_followed() -> None:
    moves, arcs = contour(("line", 10, 0, 0), side="left", begin=(0, 5, 0), lead=(0, 0, 0), leave=(0, 0, 0))
    moves = dataclasses.replace(moves, kind=np.array([0, 1, 1, 2], np.uint8), arc=np.array([-1, -1, -1, 0], np.int32))
    arcs = Arcs(np.array([[5.0, 0.0]]), np.array([17], np.uint8), np.array([5.0]), np.array([math.pi]), np.zeros(1))
    assert beside(moves, arcs, 1.0).unknown.tolist() == [3]


def test_an_arc_that_does_not_begin_on_its_circle_is_refused_under_compensation_too() -> None:
    moves, arcs = contour(("arc", 17, 5, 0, math.pi, 0), side="left", begin=(5, 0, 0), lead=(10, 0, 0), leave=(5, 0, 0))
    begin = moves.end_mm.copy()
    begin[1] = (10.6, 0, 0)
    assert beside(dataclasses.replace(moves, end_mm=begin), arcs, 1.0).unknown.tolist() == [2]


def test_positions_that_are_not_known_stay_so() -> None:
    ends = [[0, NAN, 0], [0, 0, 0], [10, 0, 0], [10, 10, 0]]
    moves = moves_of(ends, flags=[0, 8, 8, 0], register=[-1, 1, 1, -1])
    assert beside(moves, arcs_of(), 1.0).unknown.tolist() == [0, 1]


def test_what_may_not_be_compensated_is_refused() -> None:
    moves, arcs = contour(
        ("line", 10, 0, 0), ("line", 20, 0, 0), side="left", begin=(0, 5, 0), lead=(0, 0, 0), leave=(30, 5, 0)
    )
    kind = moves.kind.copy()
    kind[3] = int(Kind.PROBE)
    assert beside(dataclasses.replace(moves, kind=kind), arcs, 1.0).unknown.tolist() == [3, 4]


def test_outside_corners_are_named_because_controls_differ_there() -> None:
    moves, arcs = contour(
        ("line", 10, 0, 0), ("line", 10, -9, 0), side="left", begin=(0, 5, 0), lead=(0, 0, 0), leave=(30, 5, 0)
    )
    ways, _ = settled(ways_of(moves, arcs, starts_of(moves, (0, 0, 0)), moves.end_mm))
    assert compensated(moves, ways, {1: 1.0}, "intersect").corners.move.tolist() == [3]
    plain = dataclasses.replace(moves, flags=moves.flags * 0)
    assert compensated(plain, ways, {}, None).ways is ways


def test_a_program_read_from_text() -> None:
    """Nc case S62 as a program: the corner is crossed, the retreat stays aside, the way out starts there."""
    text = "G21 G90 G17 G0 X-2 Y0 Z5\nG1 Z-1 F200\nG41 D1 X0\nX10\nY10\nG0 Z5\nG40 X20 Y20\nM2\n"
    reading = read_text(text, "corner.nc", Control(), Start(diameters_mm={1: 1.0}))
    moves, arcs = reading.moves, reading.arcs
    pieces = pieces_of(
        moves, arcs, starts_of(moves), moves.end_mm, rapid_path="straight", radii_mm={1: 0.5}, comp_corner="intersect"
    )
    assert pieces.unknown.tolist() == [0]
    assert pieces.end_mm.tolist() == [
        pytest.approx(end)
        for end in [(-2, 0, -1), (0, 0.5, -1), (9.5, 0.5, -1), (9.5, 10, -1), (9.5, 10, 5), (20, 20, 5)]
    ]


@given(seeds, radii)
@settings(deadline=None, max_examples=40)
def test_tangent_arcs_whose_numbers_were_rounded_are_followed_all_the_same(seed: int, radius: float) -> None:
    """Drawn tangent and printed to the fourth decimal of an inch, two arcs may turn inward by a hair without crossing."""
    rng = np.random.default_rng(seed)
    step = 25.4e-4
    centre = np.array([0.0, 0.0])
    first, second = rng.uniform(6, 12), rng.uniform(4, 8)
    at = rng.uniform(0, TURN)
    meet = centre + first * np.array([math.cos(at), math.sin(at)])
    other = centre + (first - second) * np.array(
        [math.cos(at), math.sin(at)]
    )  # touches from inside, turns the same way
    begin = centre + first * np.array([math.cos(at - 1.0), math.sin(at - 1.0)])
    finish = other + second * np.array([math.cos(at + 1.0), math.sin(at + 1.0)])
    begin, meet, finish, centre, other = (np.round(one / step) * step for one in (begin, meet, finish, centre, other))
    lead = begin + 5 * np.array([math.sin(at - 1.0), -math.cos(at - 1.0)])
    leave = finish + 5 * np.array([-math.sin(at + 1.0), math.cos(at + 1.0)])
    text = f"""G21 G17 G90 G94
G0 X{lead[0] - 20:.6f} Y{lead[1] - 20:.6f} Z0
G1 X{lead[0]:.6f} Y{lead[1]:.6f} F500
G41 D1 G1 X{begin[0]:.6f} Y{begin[1]:.6f}
G3 X{meet[0]:.6f} Y{meet[1]:.6f} I{centre[0] - begin[0]:.6f} J{centre[1] - begin[1]:.6f}
G3 X{finish[0]:.6f} Y{finish[1]:.6f} I{other[0] - meet[0]:.6f} J{other[1] - meet[1]:.6f}
G1 X{leave[0]:.6f} Y{leave[1]:.6f}
G40 G1 X{leave[0] + 20:.6f} Y{leave[1] + 20:.6f}
M30
"""
    reading = read_text(text, "arcs.nc", Control(), Start(diameters_mm={1: 2 * radius}))
    starts = starts_of(reading.moves)
    pieces = pieces_of(
        reading.moves,
        reading.arcs,
        starts,
        reading.moves.end_mm,
        rapid_path="straight",
        radii_mm={1: radius},
        comp_corner="intersect",
    )
    assert not [move for move in pieces.unknown.tolist() if move > 0]
    on_arcs = trace(pieces, 3, 4)
    near = np.minimum(
        np.abs(np.linalg.norm(on_arcs[:, :2] - centre, axis=1) - (first - radius)),
        np.abs(np.linalg.norm(on_arcs[:, :2] - other, axis=1) - (second - radius)),
    )
    assert near.max() < 0.02
