"""Every fact of every good demo job taken away, one after the other: exactly the questions that name it say "I can't say"."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from firstoff import workflows
from firstoff.demo.lay_out import lay_out
from firstoff.demo.mistakes import GOOD
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer

NOW = datetime(2026, 9, 14, 7, 40)
READ_WITH = ("machine.control.", "job.tools.", "tools.pocket.", "tools.register.")
"""Facts that the reading itself leans on: they are taken away in files, in tests/verdict/test_remove_one.py."""
LISTED = ("machine.zone.", "job.fixture.")
"""Elements of lists: one fewer is a statement of its own, and a part of one alone cannot be written."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("remove") / "shop"
    lay_out(folder, NOW)
    return folder


@pytest.mark.parametrize("name", [plan.name for plan in GOOD])
def test_every_fact_taken_away_moves_exactly_the_questions_that_name_it(name: str, shop: Path) -> None:
    prepared = workflows.prepare(shop / "jobs" / name, now=NOW)
    facts = prepared.job.facts
    whole = workflows.judge(prepared)
    leaned = {path for one in whole.answers for path in one.leaned if not path.startswith((*READ_WITH, *LISTED))}
    assert len(leaned) > 30
    for path in sorted(leaned):
        check(path, whole, workflows.judge(prepared, facts.without(path)))


def check(path: str, whole: Examination, after: Examination) -> None:
    for before, now in zip(whole.answers, after.answers, strict=True):
        named = any(path == need.fact for need in now.needs)
        if path in before.needed:
            assert named, f"{before.question.id} needed {path} and does not name it: {now.needs}"
        if named:
            assert now.answer in (Answer.UNJUDGED, Answer.STOP), (path, before.question.id)
        elif path not in before.leaned:
            assert now.answer is before.answer, (path, before.question.id, now.why)
