"""Each job of the demo shop against what `docs/demo.md` said of it, and the page's table of all answers against real examinations."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from firstoff.demo import lay_out
from firstoff.demo.good import GOOD
from firstoff.demo.lay_out import MISTAKES
from firstoff.demo.table import BEGIN, END, put_into, table
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import ALL
from firstoff.workflows import examine_job

from .conftest import NOW, DemoShop

PAGE = Path(__file__).parents[2] / "docs" / "demo.md"
NAMES = [plan.name for plan in GOOD] + [mistake.name for mistake in MISTAKES]


@pytest.mark.parametrize("name", NAMES)
def test_each_job_is_answered_as_the_list_says(shop: DemoShop, name: str) -> None:
    found = shop[name]
    for question, answer in shop.plans[name].expected.items():
        assert found.answers[question] == answer, found.said(question)


@pytest.mark.parametrize("name", [mistake.name for mistake in MISTAKES])
def test_a_twin_is_no_stop_and_answers_better(shop: DemoShop, name: str) -> None:
    plan = shop.plans[name]
    assert plan.twin is not None
    twin, found = shop[plan.twin], shop[name]
    assert "stop" not in twin.answers.values()
    for question in plan.expected:
        assert Answer(twin.answers[question]).rank < Answer(found.answers[question]).rank, twin.said(question)


@pytest.mark.parametrize("name", [m.name for m in MISTAKES if "stop" in m.expected.values()])
def test_a_mistake_that_can_hurt_stops_the_whole_job(shop: DemoShop, name: str) -> None:
    assert shop[name].verdict == "stop"


@pytest.mark.parametrize("name", NAMES)
def test_the_answer_points_at_the_mistake_or_after_it(shop: DemoShop, name: str) -> None:
    plan = shop.plans[name]
    for question, answer in plan.expected.items():
        if plan.mistake_line is not None and answer in ("stop", "care"):
            assert shop[name].worst_line(question) >= plan.mistake_line, shop[name].said(question)


@pytest.mark.parametrize("name", ["logger-lid", "cable-clip", "clamp-ring"])
def test_a_good_job_is_clear_in_everything_that_it_asks(shop: DemoShop, name: str) -> None:
    assert shop[name].verdict == "clear"
    assert shop[name].answers == dict(shop.plans[name].expected)


def test_every_question_is_clear_somewhere_and_not_clear_somewhere(shop: DemoShop) -> None:
    answers = [shop[name].answers for name in NAMES]
    good = [shop[plan.name].answers for plan in GOOD]
    for question, _ in ALL:
        assert any(one.get(question.id) == "clear" for one in good), question.id
        assert any(one.get(question.id, "clear") != "clear" for one in answers), question.id


def test_the_page_has_the_answers_of_all_jobs(shop: DemoShop) -> None:
    page = PAGE.read_text(encoding="utf-8")
    written = table((name, shop[name].answers) for name in NAMES)
    assert put_into(page, written) == page, "run python -m firstoff.demo.table docs/demo.md"


def test_the_record_of_every_job_keeps_to_its_schema(shop: DemoShop) -> None:
    schema = json.loads((PAGE.parent / "schema" / "examination-1.json").read_text())
    for name in NAMES:
        jsonschema.validate(shop[name].told, schema)


def test_a_table_names_every_job_and_every_question_once() -> None:
    written = table([("one", {"travel": "stop", "feed": "clear"}), ("two", {"size": "unjudged", "chip": "care"})])
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in written.splitlines() if line]
    heads = [row for row in rows if row[0] in ("Machine", "Tool", "Part and time")]
    assert sorted(cell for row in heads for cell in row[1:]) == sorted(question.id for question, _ in ALL)
    told = {row[0]: row for row in rows}  # the last table counts: part and time
    assert told["one"][heads[2].index("feed")] == "·"
    assert told["two"][heads[2].index("size")] == "U"
    assert rows[2][heads[0].index("travel")] == "S"
    assert put_into(f"a{BEGIN}old{END}b", "new") == f"a{BEGIN}\nnew\n{END}b"


def test_measuring_the_new_tool_settles_what_was_open(shop: DemoShop, tmp_path: Path) -> None:
    lay_out(tmp_path / "shop", NOW)
    tools = tmp_path / "shop" / "tools.toml"
    measured = 'centre_cutting = true\nLF = { value = "65.20(5) mm", evidence = "measured" }\n'
    head, tail = tools.read_text().split("[tool.em15]")
    tools.write_text(head + "[tool.em15]" + tail.replace("centre_cutting = true\n", measured, 1))
    after = examine_job(tmp_path / "shop" / "jobs" / "vent-plug", now=NOW)
    open_before = {name for name, answer in shop["vent-plug"].answers.items() if answer == "unjudged"}
    assert open_before >= {"tool", "travel", "below", "cuts", "torque", "holding"}
    assert {a.question.id: str(a.answer) for a in after.answers if a.answer is not Answer.CLEAR} == {}
