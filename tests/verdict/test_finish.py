"""Finish: marks against the closed forms of the reference notes, and what no geometry tells."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.fact import Fact, Shape
from firstoff.loads.cut_loads import Quantity
from firstoff.verdict.case import Case
from firstoff.verdict.marks import corner_mark, ridge, wall_mark
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import finish

from .conftest import PROGRAM
from .synthetic import ask, candidate, case_of, followed_case, mask, move_of, number, stretch

Shop = Callable[..., Path]
ROUGHER = number("machine.practice.roughness", 1.0, unit="1")
"""Exactly what geometry says: the closed forms are tested, not the rule of the trade."""

# Reference notes on cutting, section 4 [C: computed there], mm.
RIDGES = [(3.0, 0.3, 3.7523e-3), (3.0, 0.5, 10.4348e-3), (1.5, 0.2, 3.3370e-3), (0.5, 0.1, 2.5063e-3)]
WALLS = [(6.0, 0.05, 0.10417e-3), (10.0, 0.1, 0.25e-3), (10.0, 0.3, 2.25e-3)]


@pytest.mark.parametrize(("radius", "step", "height"), RIDGES)
def test_a_ridge_is_as_high_as_the_notes_say(radius: float, step: float, height: float) -> None:
    assert float(ridge(np.array([step]), radius)[0]) == pytest.approx(height, rel=2e-5)


@pytest.mark.parametrize(("diameter", "feed", "height"), WALLS)
def test_a_mark_of_the_feed_is_as_deep_as_the_notes_say(diameter: float, feed: float, height: float) -> None:
    assert float(wall_mark(np.array([feed]), diameter)[0]) == pytest.approx(height, rel=1e-4)


def test_a_round_corner_marks_as_in_turning() -> None:
    # f 0.2 mm, r 0.8 mm: 6.25 µm (reference notes, section 4; tool maker's turning handbook, found).
    assert float(corner_mark(np.array([0.2]), 0.8)[0]) == pytest.approx(6.25e-3)


@given(radius=st.floats(0.2, 10), share=st.floats(0.001, 1.99))
def test_two_circles_meet_where_the_ridge_is(radius: float, share: float) -> None:
    """The height of the point in which two circles, one step apart, cross: found by halving."""
    step = radius * share
    low, high = 0.0, radius
    for _ in range(80):
        middle = (low + high) / 2
        inside = math.hypot(step / 2, radius - middle) > radius
        low, high = (middle, high) if inside else (low, middle)
    assert float(ridge(np.array([step]), radius)[0]) == pytest.approx(low, rel=1e-9, abs=1e-12)


# --- the question ------------------------------------------------------------------------------------------------------------


def finished(shop: Shop, rz_um: float, *more: Fact, words: dict[str, object] | None = None, **surfaces: object) -> Case:
    case = case_of(shop(), number("job.ask.finish_rz", rz_um / 1000), ROUGHER, *more, words=words)
    return followed_case(
        case, surfaces={key: value(case) if callable(value) else value for key, value in surfaces.items()}
    )


def outline(case: Case) -> np.ndarray:
    return mask(case, *(move_of(case, text) for text in ("G1 X50 F2000", "G1 Y30", "G1 X-5", "G1 Y-5")))


def test_without_a_roughness_nobody_asks(shop: Shop) -> None:
    assert ask(finish, case_of(shop()))[0].not_asked == "no finish_rz asked"


def test_a_wall_is_marked_by_the_feed_a_turn(shop: Shop) -> None:
    # 2000 mm/min at 20 000 1/min feed 0.1 mm a turn: 0.1²/(4·5.99) mm.
    answered = ask(finish, finished(shop, 2.0, wall_moves=outline))[1]
    assert answered.answer is Answer.CLEAR, (answered.why, answered.needs)
    assert answered.demand is not None
    assert answered.demand.value == pytest.approx(0.1**2 / (4 * 5.99) * 1000)
    assert ask(finish, finished(shop, 0.3, wall_moves=outline))[1].answer is Answer.STOP


def test_a_sharp_corner_on_a_floor_cannot_be_judged(shop: Shop) -> None:
    answered = ask(finish, finished(shop, 20.0, floor_moves=outline))[1]
    assert answered.answer is Answer.UNJUDGED
    assert "square" in answered.why
    round_corner = ask(finish, finished(shop, 20.0, number("tools.em6.RE", 0.5), floor_moves=outline))[1]
    assert round_corner.answer is Answer.CLEAR
    assert round_corner.demand is not None
    assert round_corner.demand.value == pytest.approx(0.1**2 / (8 * 0.5) * 1000)


def test_floors_may_be_asked_for_alone_or_otherwise_than_walls(shop: Shop) -> None:
    corner = number("tools.em6.RE", 0.5)
    floor_only = case_of(shop(), number("job.ask.finish_floor_rz", 0.001), ROUGHER, corner)
    both = {"wall_moves": outline(floor_only), "floor_moves": outline(floor_only)}
    answered = ask(finish, followed_case(floor_only, surfaces=both))[1]
    assert answered.answer is Answer.STOP
    assert "floor" in answered.why
    rougher_floor = finished(
        shop, 1.0, corner, number("job.ask.finish_floor_rz", 0.004), wall_moves=outline, floor_moves=outline
    )
    assert ask(finish, rougher_floor)[1].answer is Answer.CLEAR


def test_a_ball_leaves_ridges_between_its_passes(shop: Shop) -> None:
    move_steps: dict[str, float] = {"G1 Y30": 0.4}

    def steps(case: Case) -> np.ndarray:
        found = np.zeros(len(case.moves), np.float32)
        for text, step in move_steps.items():
            found[move_of(case, text)] = step
        return found

    ball = {"tools.em6.kind": "ball"}
    case = finished(shop, 6.0, words=ball, cusp_moves=lambda c: mask(c, move_of(c, "G1 Y30")), cusp_mm=steps)
    answered = ask(finish, case)[1]
    expected = 2.995 - math.sqrt(2.995**2 - 0.2**2)
    assert answered.demand is not None
    assert answered.demand.value == pytest.approx(expected * 1000, rel=1e-4)
    assert answered.answer is Answer.STOP
    assert "side step" in answered.do
    for step, answer in ((0.3, Answer.STOP), (0.6, Answer.CLEAR)):
        # A corner of 0.25 mm: passes 0.3 mm apart leave a ridge, fillets 0.6 mm apart do not touch each other.
        move_steps["G1 Y30"] = step
        corner = number("tools.em6.RE", 0.25)
        bull = finished(shop, 6.0, corner, cusp_moves=lambda c: mask(c, move_of(c, "G1 Y30")), cusp_mm=steps)
        assert ask(finish, bull)[1].answer is answer
    move_steps["G1 Y30"] = 0.3
    entry = finished(
        shop, 6.0, corner, cusp_moves=lambda c: np.isin(c.moves.kind, (1, 2)) & (c.moves.tool == 1), cusp_mm=steps
    )
    assert (
        ask(finish, entry)[1].answer is Answer.CLEAR
    )  # one of five slopes: a corner or an entry, no surface made in passes
    flat = finished(shop, 6.0, cusp_moves=lambda c: mask(c, move_of(c, "G1 Y30")), cusp_mm=steps)
    assert ask(finish, flat)[1].answer is Answer.UNJUDGED


def test_drilled_walls_are_told_as_not_looked_at(shop: Shop) -> None:
    case = finished(shop, 2.0, wall_moves=lambda c: mask(c, move_of(c, "X40")))
    finding, _ = ask(finish, case)
    assert any("holes" in note for note in finding.notes)
    assert not finding.checks[0].limits


def test_what_is_found_rougher_than_geometry_carries_the_doubt(shop: Shop) -> None:
    rule = number("machine.practice.roughness", 1.5, 0.4, "1", Shape.LOGNORMAL)
    case = case_of(shop(), number("job.ask.finish_rz", 0.0007), rule)
    answered = ask(finish, followed_case(case, surfaces={"wall_moves": outline(case)}))[1]
    assert answered.answer is Answer.CARE
    assert answered.doubt[0].fact == "machine.practice.roughness"
    assert (
        ask(finish, replace(case, facts=case.facts.without("machine.practice.roughness")))[1].answer is Answer.UNJUDGED
    )


def test_a_wall_made_in_two_depths_shows_the_step_of_the_bend(shop: Shop) -> None:
    soft = [number(path, value, unit="") for path, value in (
        ("machine.spindle.stiffness", 9e3), ("machine.frame.stiffness", 5e3), ("tools.em6.holder_stiffness", 12e3),
        ("tools.em6.modulus", 580e3), ("tools.em6.core_ratio", 0.8))]  # fmt: skip
    once = "G1 X50 F2000\nG1 Y30\nG1 X-5\nG1 Y-5\n"
    folder = shop(program=lambda text: text.replace(once, once + "G1 Z-4 F800\n" + once))
    case = case_of(folder, number("job.ask.finish_rz", 0.004), ROUGHER, *soft)
    upper, lower = move_of(case, "G1 Y30", 1), move_of(case, "G1 Y30", 2)
    wall = candidate(case, lower, 15.0, lever_mm=1.0, way=(0.0, 1.0, 0.0))
    made = (stretch(case, 1, "em6", {Quantity.WALL: (wall,)}),)
    walls = {"wall_moves": mask(case, lower)}  # only the deepest pass of a wall is told as its maker
    one = followed_case(case, surfaces=walls, stretches=made, lowest_mm={lower: -4.0})
    assert ask(finish, one)[1].answer is Answer.CLEAR
    two = followed_case(case, surfaces=walls, stretches=made, lowest_mm={upper: -2.0, lower: -4.0})
    answered = ask(finish, two)[1]
    assert answered.answer is Answer.CARE  # only how large it can be is known
    assert "several depths" in answered.why


def test_a_helix_into_a_bore_is_no_depth_of_its_own(shop: Shop) -> None:
    """Down a helix and once round level: one depth. Down twice and round twice: two."""
    soft = [number(path, value, unit="") for path, value in (
        ("machine.spindle.stiffness", 9e3), ("machine.frame.stiffness", 5e3), ("tools.em6.holder_stiffness", 12e3),
        ("tools.em6.modulus", 580e3), ("tools.em6.core_ratio", 0.8))]  # fmt: skip
    once = "G1 X50 F2000\nG1 Y30\nG1 X-5\nG1 Y-5\n"
    bore = "G0 X22 Y15\nG1 Z{0} F800\nG2 X22 Y15 Z{1} I3 J0\nG2 X22 Y15 Z{2} I3 J0\nG2 X22 Y15 I3 J0\n"
    for text, answer in (
        (bore.format(0, -1, -2), Answer.CLEAR),
        (bore.format(0, -1, -2) + bore.format(-2, -3, -4), Answer.CARE),
    ):
        folder = shop(program=lambda old, text=text: old.replace("G1 Z-2 F800\n" + once, text))
        case = case_of(folder, number("job.ask.finish_rz", 0.004), ROUGHER, *soft)
        arcs = np.flatnonzero(case.moves.arc >= 0)
        wall = candidate(case, int(arcs[-1]), 15.0, lever_mm=1.0, way=(0.0, 1.0, 0.0))
        made = (stretch(case, 1, "em6", {Quantity.WALL: (wall,)}),)
        lowest = {int(move): float(case.moves.end_mm[move, 2]) for move in arcs}
        one = followed_case(case, surfaces={"wall_moves": mask(case, *arcs.tolist())}, stretches=made, lowest_mm=lowest)
        assert ask(finish, one)[1].answer is answer


def test_a_cut_at_no_known_speed_is_not_clear(shop: Shop) -> None:
    folder = shop(program=lambda text: PROGRAM.replace("S20000 M3", "M3"))
    case = case_of(folder, number("job.ask.finish_rz", 0.05), ROUGHER)
    answered = ask(finish, followed_case(case, surfaces={"wall_moves": outline(case)}))[1]
    assert answered.answer is Answer.UNJUDGED
