"""Feed: what is written in a thousand blocks is one place, told by what it costs."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from firstoff.motion.summary import SlowRun
from firstoff.motion.timeline import LimitedBy
from firstoff.verdict.case import Case, Cutting
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import feed

from .conftest import Examine, swap
from .synthetic import ask, case_of

Shop = Callable[..., Path]


def slow_case(folder: Path, reached_s: float, *runs: SlowRun) -> Case:
    """The small shop's case whose cutting should take 60 s, and takes longer in some runs."""
    case = case_of(folder)
    return replace(case, cutting=Cutting(60.0, reached_s, reached_s, reached_s, (), runs, ()))


def run_of(case: Case, first: int, blocks: int, lost_s: float, why: LimitedBy = LimitedBy.BLOCK_RATE) -> SlowRun:
    last = min(first + blocks - 1, len(case.moves) - 1)
    return SlowRun(first, last, blocks, lost_s, 10.0, 25.0, why)


def test_a_run_is_one_place_told_with_its_lines_blocks_and_feeds(shop: Shop) -> None:
    case = case_of(shop())
    run = run_of(case, 3, 3, 30.0)
    case = replace(case, cutting=Cutting(60.0, 90.0, 90.0, 90.0, (), (run,), ()))
    _, told = ask(feed, case)
    first, last = int(case.moves.line[run.first]), int(case.moves.line[run.last])
    assert told.answer is Answer.CARE
    assert told.why.startswith(
        f"Lines {first} to {last} (3 blocks) reach 600 mm/min of the 1500 mm/min asked and lose 30 s, because the control works off no "
        "more blocks a second; all cutting takes 1.50 times as long as asked (1.5 min for 60 s; 1.25 times is worth a word)."
    )
    assert [place.place.line for place in told.places] == [first]


def test_each_place_is_judged_as_if_the_worse_ones_were_mended(shop: Shop) -> None:
    case = case_of(shop())
    runs = (run_of(case, 6, 2, 20.0), run_of(case, 3, 1, 10.0), run_of(case, 4, 1, 0.02, LimitedBy.JERK))
    case = replace(case, cutting=Cutting(60.0, 90.1, 90.1, 90.1, (), runs, ()))
    _, told = ask(feed, case)
    assert [place.place.move for place in told.places] == [6, 3, 4]
    assert [place.demand for place in told.places] == pytest.approx([90.1 / 60, 70.1 / 60, 60.1 / 60])
    assert [place.answer for place in told.places] == [Answer.CARE, Answer.CLEAR, Answer.CLEAR]
    assert "loses less than 0.1 s" in told.places[2].what
    assert told.demand is not None
    assert math.isclose(told.demand.value, 90.1 / 60)


def test_no_slow_run_is_clear_and_says_how_long_it_takes(shop: Shop) -> None:
    _, told = ask(feed, slow_case(shop(), 60.0))
    assert told.answer is Answer.CLEAR
    assert "100% of the feed is reached" in told.why


@pytest.mark.parametrize("why", list(LimitedBy))
def test_every_reason_has_its_words(shop: Shop, why: LimitedBy) -> None:
    case = case_of(shop())
    case = replace(case, cutting=Cutting(60.0, 90.0, 90.0, 90.0, (), (run_of(case, 3, 1, 30.0, why),), ()))
    _, told = ask(feed, case)
    assert " because " in told.why
    assert told.do


def test_a_feed_beyond_what_an_axis_goes_is_care_at_its_first_line(examine: Examine) -> None:
    program = swap("G1 X50 F2000\nG1 Y30", "G1 X50 F2000\nG1 Y30 F11000\nG1 Y0 F12000\nG1 Y30 F2000")
    told = examine(["feed"], program=program).answer("feed")
    worst = next(place for place in told.places if "12000 mm/min are asked" in place.what)
    assert "Y goes 10000 mm/min at most" in worst.what
    assert told.answer is Answer.CARE
    assert told.first is not None
    assert told.first.place.line == worst.place.line - 1
    assert examine(["feed"]).answer("feed").answer is Answer.CLEAR


@pytest.mark.parametrize(("arc", "expected"), [("G3 X60 Y30 I5 J0", Answer.CARE), ("G3 X55 Y25 I5 J0", Answer.CLEAR)])
def test_half_a_turn_asks_its_whole_feed_of_each_axis(examine: Examine, arc: str, expected: Answer) -> None:
    program = swap("G1 Y30\n", f"G1 Y30\n{arc} F10500\nG1 X50 Y30 F2000\n")
    told = examine(["feed"], program=program).answer("feed")
    beyond = [place for place in told.places if "are asked, and" in place.what]
    assert bool(beyond) == (expected is Answer.CARE)
