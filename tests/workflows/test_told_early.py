"""Answers that are told while an examination still goes on: the same, and the examination is what it would have been."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path

import pytest

from firstoff.demo.lay_out import lay_out
from firstoff.facts.heard import HeardFacts
from firstoff.facts.job import load_job
from firstoff.facts.shop import load_shop
from firstoff.sheets.judged_rows import judged, waiting
from firstoff.sheets.records import examination_record
from firstoff.verdict.case import Case
from firstoff.verdict.question import Answered
from firstoff.verdict.questions import UNFOLLOWED
from firstoff.workflows import judge, prepare_job

JOBS = ("cable-clip", "vent-plug", "lid-incremental")
"""One that is followed, one that cannot be, one that stops."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("told") / "shop"
    lay_out(folder, datetime.now())
    for job in (folder / "jobs").iterdir():
        if job.name not in JOBS:
            shutil.rmtree(job)
    return folder


@pytest.mark.parametrize("name", JOBS)
def test_what_is_told_early_is_the_answer_and_changes_nothing(shop: Path, name: str) -> None:
    known, now = load_shop(shop), datetime.now()
    quiet, told = (prepare_job(load_job(shop / "jobs" / name, known), now=now) for _ in range(2))
    heard: list[Answered] = []
    rows = []

    def hear(answered: Answered, case: Case) -> None:
        heard.append(answered)
        rows.append(judged(answered, case))

    alone, listened = judge(quiet), judge(told, hear=hear)
    assert examination_record(listened) == examination_record(alone)
    assert isinstance(quiet.job.facts, HeardFacts)
    assert isinstance(told.job.facts, HeardFacts)
    assert told.job.facts.asked == quiet.job.facts.asked  # else a recheck would lean on who was listening
    assert len({one.question.id for one in heard}) == len(heard)  # each once
    early = {one.question.id for one in heard[: len(UNFOLLOWED & {one.question.id for one in heard})]}
    assert early <= UNFOLLOWED
    for one in heard:
        final = listened.answer(one.question.id)
        assert (one.answer, one.demand, one.capacity, one.any_chance) == (
            final.answer,
            final.demand,
            final.capacity,
            final.any_chance,
        )
    assert {one.id for one in rows} == {one.question.id for one in listened.answers} <= {one for one, _ in waiting()}


def test_a_row_says_what_was_found_and_escapes_it(shop: Path) -> None:
    prepared = prepare_job(load_job(shop / "jobs/lid-incremental", load_shop(shop)))
    rows = {}
    judge(prepared, hear=lambda answered, case: rows.update({answered.question.id: judged(answered, case)}))
    stop = next(one for one in rows.values() if one.answer == "stop")
    assert "<b>stop</b>" in stop.html
    assert 'class="q-code"' in stop.html
    assert "<script" not in "".join(one.html for one in rows.values())
