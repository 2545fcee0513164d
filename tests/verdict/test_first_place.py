"""The first place that is not clear, beside the worst: by its property on limits that stand for many moves, and in whole examinations."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.facts.fact import Fact, FactSet
from firstoff.verdict.examination import Examination
from firstoff.verdict.first_place import least_excess
from firstoff.verdict.forms import Form, Scale, exact, of
from firstoff.verdict.judge import Draws, judge, thresholds
from firstoff.verdict.question import Along, Answer, Check, Counted, Finding, Limit, Need, Place, Question, Risk
from tests.verdict.conftest import PROGRAM, swap

Examine = Callable[..., Examination]
MACHINE = Question("travel", Risk.MACHINE, "Does it fit?")
CONTACT = Question("rapid_contact", Risk.MACHINE, "Does it touch?")
KNOWN = FactSet({"a": Fact("a", 0.0, 1.0, "mm")})
DRAWS = Draws(KNOWN)


def line_of(text: str) -> int:
    return PROGRAM.splitlines().index(text) + 1


def past(exceeds: float, clearance: bool, question: Question) -> bool:
    """A place judged by itself, from its own draws."""
    limits, excess = thresholds(question, KNOWN), DRAWS.of(of(KNOWN.facts["a"]) + exceeds, Scale.DIFFERENCE)
    by_chance = float(np.mean(excess > 0)) > limits.care_above
    return by_chance or (clearance and -float(np.quantile(excess, 0.975)) < limits.clear_at_mm)


def stands_for(exceeds: list[float]) -> Limit:
    """One limit for moves that exceed by so much, move k in line 10 + k."""
    worst = int(np.argmax(exceeds))
    less = max(exceeds) - np.array(exceeds)
    along = Along(np.arange(len(exceeds)), less, lambda move: Place(10 + move, move))
    form: Form = of(KNOWN.facts["a"]) + exceeds[worst]
    return Limit(Place(10 + worst, worst), form, exact(0.0), f"Line {10 + worst}.", "", lambda: along)


@given(st.lists(st.floats(-9, 4), min_size=1, max_size=12), st.booleans())
@settings(deadline=None, max_examples=100)
def test_it_is_past_the_limit_none_before_it_is_and_it_is_no_later_than_the_worst(
    exceeds: list[float], clearance: bool
) -> None:
    question = CONTACT if clearance else MACHINE
    check = Check(Scale.DIFFERENCE, "mm", (stands_for(exceeds),), clearance=clearance)
    told = judge(question, Finding((check,)), KNOWN.leaning(), DRAWS, lambda _: ("", None))
    by_itself = [past(one, clearance, question) for one in exceeds]
    if told.answer is Answer.CLEAR:
        assert told.first is None
        assert not any(by_itself)
        return
    worst = told.places[0].place.line
    first = told.first.place.line if told.first is not None else worst
    assert first <= worst
    assert not any(by_itself[: first - 10])
    assert by_itself[first - 10] or first == worst  # of the worst the chance of its own form may be the finer one


@given(st.lists(st.floats(-5, 5), min_size=1, max_size=300), st.floats(0, 0.999))
@settings(deadline=None, max_examples=100)
def test_what_may_be_taken_off_is_exact_to_the_draw(draws: list[float], chance: float) -> None:
    excess = np.array(draws)
    least = least_excess(excess, chance)
    assert np.mean(excess - np.nextafter(least, -np.inf) > 0) > chance
    assert not np.mean(excess - least > 0) > chance


def test_of_several_checks_and_of_what_is_counted_it_is_the_first_that_is_not_clear() -> None:
    counted = Counted(Place(7), "Line 7: odd.", "Mend it.", Answer.CARE)
    fine = Counted(Place(3), "Line 3: fine.", "", Answer.CLEAR)
    checks = (
        Check(Scale.DIFFERENCE, "mm", (stands_for([-9.0, 1.0, 4.0]),)),
        Check(Scale.COUNT, "", (), (counted, fine)),
    )
    told = judge(MACHINE, Finding(checks), KNOWN.leaning(), DRAWS, lambda _: ("", None))
    assert told.places[0].place.line == 12
    assert told.first is not None
    assert (told.first.place.line, told.first.what) == (7, "Line 7: odd.")

    def order_of(place: Place) -> float:
        return {7: 9.0, 11: 1.0, 12: 2.0}[place.line]

    later = judge(MACHINE, Finding(checks), KNOWN.leaning(), DRAWS, lambda _: ("", None), order_of)
    assert later.first is not None
    assert later.first.place.line == 11  # the program comes to it before line 7


def test_what_an_earlier_cut_left_rightly_is_not_where_it_begins() -> None:
    left = Limit(Place(4, 0), exact(9.0), exact(0.0), "Line 4: left.", "", begins=False)
    check = Check(Scale.DIFFERENCE, "mm", (left, stands_for([1.0, 3.0])))
    told = judge(MACHINE, Finding((check,)), KNOWN.leaning(), DRAWS, lambda _: ("", None))
    assert told.places[0].place.line == 4
    assert told.first is not None
    assert told.first.place.line == 10


def test_where_a_fact_is_missing_it_is_the_line_that_needs_it_first() -> None:
    need = Need("job.offset.G55.at.x", "job.toml", "Touch off.")
    at = (Counted(Place(13), "Line 13: here it is needed first.", "Touch off.", Answer.UNJUDGED),)
    told = judge(MACHINE, Finding((), (need,)), KNOWN.leaning(), DRAWS, lambda _: ("G55", None), needed_at=at)
    assert told.answer is Answer.UNJUDGED
    assert told.first is not None
    assert (told.first.place.line, told.first.text) == (13, "G55")


# --- whole examinations -----------------------------------------------------------------------------------------------------


def test_the_first_move_past_the_end_of_the_travel(examine: Examine) -> None:
    told = examine(["travel"], program=swap("G1 X50 F2000", "G1 X50 F2000\nX230\nX40\nX260\nX50")).answer("travel")
    at = line_of("G1 X50 F2000")
    assert told.places[0].place.line == at + 3
    assert told.first is not None
    assert told.first.place.line == at + 1


def test_no_first_place_where_all_is_clear_or_the_worst_is_the_first(examine: Examine) -> None:
    assert all(one.first is None for one in examine().answers if one.answer is Answer.CLEAR)
    told = examine(["travel"], program=swap("G1 X50 F2000", "G1 X50 F2000\nX260\nX230\nX50")).answer("travel")
    assert told.answer is Answer.STOP
    assert told.first is None


@pytest.mark.parametrize("question", ["travel", "below", "rapid_contact"])
def test_an_offset_that_nobody_gave_is_told_at_the_first_line_that_moves_by_it(examine: Examine, question: str) -> None:
    told = examine([question], program=swap("G54\n", "G55\n")).answer(question)
    assert told.answer is Answer.UNJUDGED
    assert told.first is not None
    assert told.first.place.line in (line_of("G0 X-5 Y-5"), line_of("G43 H1 Z10"))


def test_the_first_cut_that_is_deeper_than_the_edge_is_long(examine: Examine) -> None:
    def deep(text: str) -> str:
        return text.replace("G1 Z-2 F800", "G1 Z-7.5 F800").replace("G1 X-5\n", "G1 Z-8.5\nG1 X-5\n")

    told = examine(["reach"], tools=swap('APMX = "14 mm"', 'APMX = "7 mm"'), program=deep)
    answered = told.answer("reach")
    assert answered.answer is Answer.STOP
    assert answered.places[0].place.line > line_of("G1 Y30")
    assert answered.first is not None
    assert answered.first.place.line == line_of("G1 Y30")
