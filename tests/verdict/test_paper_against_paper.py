"""What the shop's own papers say against each other: a tool gripped anew, a part never cut free, a cut before any tool was called."""

from __future__ import annotations

import pytest

from firstoff.verdict.question import Answer

from .conftest import Examine, swap

OHX = 'OHX = "24.0(3) mm"'


@pytest.mark.parametrize(
    ("overhang", "expected"), [("18.0(3)", Answer.CARE), ("30.0(3)", Answer.CARE), ("24.6(3)", Answer.CLEAR)]
)
def test_a_tool_gripped_anew_shows_in_length_and_stick_out(examine: Examine, overhang: str, expected: Answer) -> None:
    """40 mm of holder and 24 mm of stick-out make 64 mm; 64.15 mm were measured."""
    answered = examine(["tool"], tools=swap(OHX, f'OHX = "{overhang} mm"')).answer("tool")
    assert answered.answer is expected, answered.why
    assert ("gripped anew" in answered.why) == (expected is Answer.CARE)


def test_a_holder_not_told_up_to_the_gauge_line_says_nothing_of_grip(examine: Examine) -> None:
    lower = swap('holder = [["16 mm", "20 mm"], ["25 mm", "20 mm"]]', 'holder = [["16 mm", "20 mm"]]')
    assert examine(["tool"], tools=lower).answer("tool").answer is Answer.CLEAR


def test_a_part_that_is_never_cut_free_is_told_where_something_should_hold_it(examine: Examine) -> None:
    words = swap('"nothing is cut free"', '"tape"')
    answered = examine(["holding"], job=words).answer("holding")
    assert answered.answer is Answer.CARE
    assert "up to the last cut nothing is" in answered.why
    assert answered.places[0].place.line == 28


def test_a_cut_before_any_tool_was_called_has_its_line(examine: Examine) -> None:
    answered = examine(["tool"], program=swap("T1 M6\n", "")).answer("tool")
    assert answered.answer is Answer.UNJUDGED
    assert any("Line 11: it feeds before any tool" in place.what for place in answered.places)


def test_a_length_that_would_end_inside_of_the_spindle_is_written_wrongly(examine: Examine) -> None:
    told = examine(["tool"], tools=swap('LF = { value = "64.150(6) mm"', 'LF = { value = "46.150(6) mm"')).answer(
        "tool"
    )
    assert told.answer is Answer.CARE
    assert "one of the three is written wrongly" in " ".join(place.what for place in told.places)
