"""The desk: one examination after the other, how far it is, and what it tells meanwhile."""

from __future__ import annotations

import json
import time

import pytest
from fastapi.testclient import TestClient

from firstoff.pages.desk import Work
from firstoff.sheets.judged_rows import Judged
from firstoff.verdict.questions import UNFOLLOWED


def test_nobody_says_how_long_it_takes_before_it_can_be_said() -> None:
    work = Work(1, "lid", None, began=time.monotonic())
    work.went("reading the program", 0.05, 0.0)
    assert work.left_s is None
    now = time.monotonic()
    work.went("following the stock", 0.1, now - 10.0)
    assert work.left_s is None  # nothing of the long part is done yet
    work.went("following the stock", 0.4, now)
    assert work.left_s == pytest.approx(10.0 * 0.6 / 0.3, rel=0.05)


def test_a_question_that_is_told_twice_counts_once() -> None:
    work = Work(1, "lid", None, told=[Judged("travel", "care", "a"), Judged("tool", "clear", "b")])
    work.told.append(Judged("travel", "stop", "c"))
    assert {name: one.answer for name, one in work.judged.items()} == {"travel": "stop", "tool": "clear"}


def test_questions_come_as_they_are_judged_and_the_record_agrees(shared: TestClient) -> None:
    number = shared.post("/api/jobs/logger-lid/examination").json()["number"]
    events = shared.get(f"/examined/{number}/progress").text.strip().split("\n\n")
    told = [json.loads(one.partition("data: ")[2]) for one in events]
    assert told[-1]["state"] == "done"
    heard = {one["id"]: one["answer"] for one in told if "id" in one}
    assert UNFOLLOWED & set(heard)
    assert any("stage" in one and one["stage"] == "following the stock" for one in told)
    record = shared.get(f"/api/examinations/{number}/record").json()
    final = {one["id"]: one["answer"] for one in record["questions"]}
    assert {name: final[name] for name in heard} == heard
    answers = shared.get(f"/api/examinations/{number}").json()["answers"]
    assert {one["id"]: one["answer"] for one in answers} == final


def test_what_is_stopped_is_kept_nowhere_and_its_page_says_so(shared: TestClient) -> None:
    before = shared.get("/api/book/examinations").json()
    number = shared.post("/api/jobs/logger-lid/examination").json()["number"]
    work = shared.app.state.desk.work(number)  # type: ignore[attr-defined]
    stopped = shared.post(f"/examined/{number}/stop")
    assert (stopped.status_code, stopped.headers["location"]) == (303, f"/examined/{number}")
    assert work.done.wait(20)
    assert work.state == "stopped"
    assert work.view is None
    assert "Nothing of this examination is kept." in shared.get(f"/examined/{number}").text
    assert shared.get(f"/api/examinations/{number}/record").status_code == 404
    assert shared.get("/api/book/examinations").json() == before
    again = shared.post(f"/examined/{number}/again").headers["location"]
    assert again != f"/examined/{number}"
    assert shared.app.state.desk.work(int(again.rsplit("/", 1)[1])).done.wait(60)  # type: ignore[attr-defined]
