"""Step: the doubt of two lengths, worked out by hand, against the tolerance of a step."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from firstoff.facts.fact import Fact
from firstoff.loads.cut_loads import Quantity
from firstoff.removal.swept import Floor, Meeting
from firstoff.verdict.case import Case
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import step

from .synthetic import ask, candidate, case_of, followed_case, move_of, number, stretch

Shop = Callable[..., Path]
FIRST_UM, SECOND_UM = 6.0, 6.0
"""Standard uncertainties of both lengths in the small shop."""


def floors(case: Case, apart_mm: float = 0.0) -> tuple[Floor, Floor]:
    """A floor of T1 and one of T2 (its drill's bottom stands in for a second cutter)."""
    one, two = move_of(case, "G1 Y30"), move_of(case, "X40")
    return Floor(1, -2.0 + apart_mm, 300.0, one, (20.0, 10.0)), Floor(2, -2.0, 200.0, two, (30.0, 10.0))


def stepped(
    shop: Shop, tol_um: float, *more: Fact, apart_mm: float = 0.0, size: float | None = None, push: float = 0.0
) -> Case:
    given = [number("job.feature.0.tol", tol_um / 1000), number("machine.frame.stiffness", 5e3, unit="N/mm"), *more]
    if size is not None:
        given.append(number("job.feature.0.size", size))
    case = case_of(shop(), *given, words={"job.feature.0.what": "step in the floor"})
    first, second = floors(case, apart_mm)
    found = {Quantity.FLOOR: (candidate(case, first.move, push),)} if push else {}
    stretches = (stretch(case, 1, "em6", found | {Quantity.FORCE: (candidate(case, first.move, 10.0),)}),)
    surfaces = {"floors": (first, second), "meetings": (Meeting(first, second, 18.0),) if apart_mm == 0.0 else ()}
    return followed_case(case, surfaces=surfaces, stretches=stretches)


def test_not_asked_without_a_step_but_floors_that_meet_are_told(shop: Shop) -> None:
    case = case_of(shop())
    assert ask(step, followed_case(case))[0].not_asked == "no step with a tolerance among the features"
    first, second = floors(case)
    finding, _ = ask(step, followed_case(case, surfaces={"meetings": (Meeting(first, second, 18.0),)}))
    assert "T1 and T2 meet" in finding.not_asked
    assert "18.0 mm" in finding.not_asked


def test_two_lengths_bring_the_doubt_of_both(shop: Shop) -> None:
    answered = ask(step, stepped(shop, 40.0))[1]
    assert answered.answer is Answer.CLEAR
    assert answered.demand is not None
    assert answered.demand.value == pytest.approx(0.0, abs=1e-9)
    assert answered.demand.u == pytest.approx(math.hypot(FIRST_UM, SECOND_UM), rel=1e-6)
    # Both hang on one work zero: its doubt, five times as large, drops out.
    assert {share.fact for share in answered.doubt} == {"tools.em6.LF", "tools.dr3.LF"}


@pytest.mark.parametrize(("tol_um", "expected"), [(40.0, Answer.CLEAR), (14.0, Answer.CARE), (4.0, Answer.STOP)])
def test_the_tighter_the_step_the_worse_the_answer(shop: Shop, tol_um: float, expected: Answer) -> None:
    """8.5 µm of doubt in all: 40 µm is nearly five of it; 14 µm is passed one way in 20 to 40; 4 µm more often than not."""
    answered = ask(step, stepped(shop, tol_um))[1]
    assert answered.answer is expected, (answered.any_chance, answered.why)
    if expected is not Answer.CLEAR:
        assert answered.places
        assert "setter" in answered.do


def test_a_cut_that_lifts_one_tool_raises_its_floor(shop: Shop) -> None:
    # 40 N on 5 N/µm: 8 µm higher.
    finding, _ = ask(step, stepped(shop, 60.0, push=40.0))
    at_best = {"tools.em6.LF": 64.15, "tools.dr3.LF": 71.02, "machine.frame.stiffness": 5e3}
    values = [limit.demand.at(at_best.__getitem__) for limit in finding.checks[0].limits]
    assert values == [pytest.approx(8.0), pytest.approx(-8.0)]
    assert "higher" in finding.checks[0].limits[0].what


def test_a_step_with_a_size_is_held_against_half_of_its_tolerance(shop: Shop) -> None:
    case = stepped(shop, 40.0, apart_mm=0.51, size=0.5)
    answered = ask(step, case)[1]
    assert answered.capacity is not None
    assert answered.capacity.value == pytest.approx(20.0)
    assert answered.demand is not None
    assert answered.demand.value == pytest.approx(10.0)
    other = stepped(shop, 40.0, apart_mm=3.0, size=0.5)
    assert "no two tools" in ask(step, other)[0].not_asked


def test_without_a_length_nobody_can_say(shop: Shop) -> None:
    case = stepped(shop, 40.0)
    answered = ask(step, replace(case, facts=case.facts.without("tools.dr3.LF")))[1]
    assert answered.answer is Answer.UNJUDGED
    assert [need.fact for need in answered.needs] == ["tools.dr3.LF"]
