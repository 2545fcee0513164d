"""Target: what was found against the band, and what the blank lacks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from firstoff import workflows
from firstoff.removal.target import Deviation, TargetCheck
from firstoff.verdict.case import Case
from firstoff.verdict.followed import Followed
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import target
from tests.removal import solids

from .conftest import NOW
from .synthetic import ask, case_of, followed_case, mask, move_of, number

Shop = Callable[..., Path]
NOTHING_OFF = Deviation(0.0, 0.0, (0.0, 0.0, 0.0), -1)
TO_SIZE = TargetCheck(NOTHING_OFF, NOTHING_OFF, 0.1, 1500.0, 0.0, 0.0, 0.0)


def held(
    shop: Shop, band: float, check: TargetCheck, small: TargetCheck | None = None, floors: tuple[str, ...] = ()
) -> Case:
    case = case_of(shop(), number("job.ask.target_band", band), words={"job.target": "part.stl"})
    case = followed_case(case, surfaces={"floor_moves": mask(case, *(move_of(case, text) for text in floors))})
    assert isinstance(case.followed, Followed)
    return replace(case, followed=replace(case.followed, target=check, small_target=small or check))


def off(case_move: int, by: float, area: float = 20.0) -> Deviation:
    return Deviation(by, area, (20.0, 10.0, -2.0), case_move)


def moved(shop: Shop) -> int:
    return move_of(case_of(shop()), "G1 Y30")


def test_without_a_target_nobody_asks(shop: Shop) -> None:
    assert ask(target, case_of(shop()))[0].not_asked == "no target part given"


def test_a_part_to_size_is_clear_by_how_much(shop: Shop) -> None:
    check = replace(TO_SIZE, left=off(moved(shop), 0.04), under_mm=2.0, hidden_mm2=30.0)
    finding, answered = ask(target, held(shop, 0.2, check))
    assert answered.answer is Answer.CLEAR, answered.why
    assert "0.04 mm left standing" in answered.why
    assert any("2.0 mm of the blank stay" in note for note in finding.notes)
    assert any("overhangs" in note for note in finding.notes)
    rest = ask(target, held(shop, 0.2, replace(TO_SIZE, rest_mm2=30.0)))[0]
    assert any("30 mm² of the blank stand" in note for note in rest.notes)


@pytest.mark.parametrize(("side", "words"), [("too_deep", "cut too deep"), ("left", "left standing")])
def test_either_side_of_the_band_is_a_stop_at_the_line_that_made_it(shop: Shop, side: str, words: str) -> None:
    move = moved(shop)
    check = replace(TO_SIZE, **{side: off(move, 0.5)})
    case = held(shop, 0.2, check)
    answered = ask(target, case)[1]
    assert answered.answer is Answer.STOP
    assert words in answered.why
    assert answered.places[0].place.line == int(case.moves.line[move])
    assert answered.demand is not None
    assert answered.demand.value == pytest.approx(0.5)


def test_the_doubt_of_a_length_joins_and_has_the_sign_of_its_side(shop: Shop) -> None:
    """A longer tool cuts deeper and leaves less: the same draws, the other way."""
    check = replace(TO_SIZE, too_deep=off(moved(shop), 0.1), left=off(moved(shop), 0.1))
    finding, _ = ask(target, held(shop, 0.2, check))
    deep, left = (dict(limit.demand.terms) for limit in finding.checks[0].limits)
    assert deep["tools.em6.LF"] == -left["tools.em6.LF"] == 1.0


def test_floors_that_are_right_on_paper_are_as_doubtful_as_their_tool(shop: Shop) -> None:
    answered = ask(target, held(shop, 0.2, TO_SIZE, floors=("G1 Y30",)))[1]
    assert answered.answer is Answer.CLEAR
    tight = replace(TO_SIZE, edge_mm=0.01)
    answered = ask(target, held(shop, 0.03, tight, floors=("G1 Y30",)))[1]
    assert answered.answer is Answer.CARE  # the zero alone is doubted by as much as the band
    assert "doubtful" in answered.why


def test_a_band_finer_than_the_cells_leaves_walls_unjudged(shop: Shop) -> None:
    answered = ask(target, held(shop, 0.06, TO_SIZE))[1]
    assert answered.answer is Answer.UNJUDGED
    assert "band" in answered.do


def test_a_blank_that_is_too_small_is_a_stop_and_one_that_may_be_is_care(shop: Shop) -> None:
    short = replace(TO_SIZE, under_mm=-0.5)
    assert ask(target, held(shop, 0.2, short))[1].answer is Answer.STOP
    answered = ask(target, held(shop, 0.2, TO_SIZE, short))[1]
    assert answered.answer is Answer.CARE
    assert "small as it may be" in answered.why
    gap = replace(TO_SIZE, too_deep=off(-1, 0.6))
    assert ask(target, held(shop, 0.2, TO_SIZE, gap))[1].answer is Answer.CARE


def test_what_no_tool_reaches_is_told_without_a_line(shop: Shop) -> None:
    answered = ask(target, held(shop, 0.2, replace(TO_SIZE, left=off(-1, 3.0))))[1]
    assert answered.answer is Answer.STOP
    assert answered.why.startswith("Where no tool cuts")


def test_without_a_band_nobody_can_say(shop: Shop) -> None:
    case = held(shop, 0.2, TO_SIZE)
    answered = ask(target, replace(case, facts=case.facts.without("job.ask.target_band")))[1]
    assert answered.answer is Answer.UNJUDGED
    assert [need.fact for need in answered.needs] == ["job.ask.target_band"]


@pytest.mark.parametrize(("top", "answer"), [(-2.0, Answer.CLEAR), (-3.0, Answer.STOP)])
def test_a_whole_job_against_its_target(shop: Shop, top: float, answer: Answer) -> None:
    """Two sides of the small shop's plate are cut down to −2; the rest of it reaches the blank's top. The smallest blank lacks 0.6 mm at each
    side, seen to a cell of 0.2: the band lies beyond both."""
    folder = shop(
        program=lambda text: text[: text.index("T2 M6")] + "M30\n%\n",
        job=lambda text: (
            text.replace('program = "program.nc"', 'program = "program.nc"\ntarget = "part.stl"')
            + '[ask]\ntarget_band = "0.9 mm"\n'
        ),
    )
    blocks = [((-1, -1, -10), (51, 31, top)), ((-1, -1, -10), (47, 27, 0.2))]
    (folder / "part.stl").write_bytes(solids.binary(np.concatenate([solids.block(*one) for one in blocks])))
    answered = workflows.examine_job(folder, now=NOW).answer("target")
    assert answered.answer is answer, (answered.why, answered.needs)
