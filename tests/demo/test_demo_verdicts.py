"""Each job of the demo shop against what `docs/demo.md` said of it before the questions were written."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from firstoff.demo import JobPlan, lay_out
from firstoff.demo.mistakes import GOOD, MISTAKES
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer
from firstoff.workflows import examine_job

NOW = datetime(2026, 9, 14, 7, 40, 12)
NAMES = [plan.name for plan in GOOD] + [mistake.name for mistake in MISTAKES]


class Examined:
    """The demo shop with each job examined once, when first asked for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.plans = {plan.name: plan for plan in lay_out(folder, NOW)}
        self._found: dict[str, Examination] = {}

    def __getitem__(self, name: str) -> Examination:
        if name not in self._found:
            self._found[name] = examine_job(self.folder / "jobs" / name, now=NOW + timedelta(minutes=20))
        return self._found[name]


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Examined:
    return Examined(tmp_path_factory.mktemp("verdicts") / "shop")


def said(examination: Examination, question: str) -> str:
    found = examination.answer(question)
    return f"{found.answer}: {found.why}"


@pytest.mark.parametrize("name", NAMES)
def test_each_job_is_answered_as_the_list_says(shop: Examined, name: str) -> None:
    plan, examination = shop.plans[name], shop[name]
    for question, answer in plan.expected.items():
        assert examination.answer(question).answer == answer, said(examination, question)


@pytest.mark.parametrize("name", [mistake.name for mistake in MISTAKES])
def test_a_twin_is_no_stop_and_answers_better(shop: Examined, name: str) -> None:
    plan = shop.plans[name]
    assert plan.twin is not None
    twin = shop[plan.twin]
    assert [a.question.id for a in twin.answers if a.answer is Answer.STOP] == []
    for question in plan.expected:
        assert twin.answer(question).answer.rank < shop[name].answer(question).answer.rank, said(twin, question)


@pytest.mark.parametrize("name", [m.name for m in MISTAKES if "stop" in m.expected.values()])
def test_a_mistake_that_can_hurt_stops_the_whole_job(shop: Examined, name: str) -> None:
    assert shop[name].verdict is Answer.STOP


@pytest.mark.parametrize("name", NAMES)
def test_the_answer_points_at_the_mistake_or_after_it(shop: Examined, name: str) -> None:
    plan: JobPlan = shop.plans[name]
    for question, answer in plan.expected.items():
        if plan.mistake_line is None or answer not in ("stop", "care"):
            continue
        worst = shop[name].answer(question).places[0]
        assert worst.place.line >= plan.mistake_line, said(shop[name], question)


def test_the_good_lid_is_clear_in_everything_that_can_be_asked_yet(shop: Examined) -> None:
    assert {a.question.id: str(a.answer) for a in shop["logger-lid"].answers} == dict(GOOD[0].expected)


def test_measuring_the_new_tool_settles_what_was_open(shop: Examined, tmp_path: Path) -> None:
    lay_out(tmp_path / "shop", NOW)
    tools = tmp_path / "shop" / "tools.toml"
    measured = 'centre_cutting = true\nLF = { value = "65.2(1) mm", evidence = "measured" }\n'
    head, tail = tools.read_text().split("[tool.em15]")
    tools.write_text(head + "[tool.em15]" + tail.replace("centre_cutting = true\n", measured, 1))
    after = examine_job(tmp_path / "shop" / "jobs" / "vent-plug", now=NOW)
    open_before = {a.question.id for a in shop["vent-plug"].answers if a.answer is Answer.UNJUDGED}
    assert open_before >= {"tool", "travel", "below"}
    assert {a.question.id for a in after.answers if a.answer is Answer.UNJUDGED} == set()


def test_a_card_of_yesterday_is_no_card(shop: Examined) -> None:
    late = examine_job(shop.folder / "jobs" / "logger-lid", now=NOW + timedelta(days=1))
    assert late.answer("today").answer is Answer.UNJUDGED
