"""`firstoff recheck --json`: lengths in mm, times in s; unknown is null."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

from firstoff.book.moved import Held, Margin, Moved, QuestionMoved
from firstoff.book.rechecked import Fastest, Recheck, Rechecked
from firstoff.facts.change import Change

Word = Literal["clear", "care", "unjudged", "stop"]
Told = Literal["clear", "care", "unjudged", "stop", "not asked"]


class RecheckPart(BaseModel):
    """A frozen part of a record; a key that is not in the schema is a fault of ours."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class ChangeRecord(RecheckPart):
    """A fact that is not what it was; null where it is not stated. A fact is told as in `firstoff fact --json`."""

    path: str
    old: dict[str, Any] | None
    new: dict[str, Any] | None


class CauseRecord(ChangeRecord):
    """A changed fact that a moved answer leans on."""

    moves: float | None
    """By how many standard uncertainties of the answer's margin it moves it, to first order; null where its share is not known."""


class HeldRecord(RecheckPart):
    """A demand against a capacity at the worst place."""

    demand: float | None
    capacity: float | None
    unit: str
    chance: float | None
    """That any place exceeds."""


class MovedQuestionRecord(RecheckPart):
    """A question whose answer is not what it was."""

    id: str
    risk: Literal["machine", "tool", "part", "time"]
    was: Told
    now: Told
    worse: bool
    before: HeldRecord
    after: HeldRecord
    line: int | None
    text: str
    why: str
    do: str
    causes: tuple[CauseRecord, ...]


class MarginRecord(RecheckPart):
    """Capacity over demand of the tightest question that holds them as a ratio."""

    question: str
    left: float


class MarginPairRecord(RecheckPart):
    """Of one risk, then and now."""

    risk: Literal["machine", "tool", "part", "time"]
    was: MarginRecord | None
    now: MarginRecord | None


class RiskPairRecord(RecheckPart):
    """The answer of one risk, then and now, without the question *today*."""

    risk: Literal["machine", "tool", "part", "time"]
    was: Word
    now: Word


class LeftRecord(RecheckPart):
    """Capacity over demand of one question that holds them as a ratio, then and now."""

    question: str
    was: float
    now: float


class ChanceRecord(RecheckPart):
    """Chance that any place of one question exceeds, then and now."""

    question: str
    was: float
    now: float


class MovedRecord(RecheckPart):
    """One job, then and now."""

    was: Word
    now: Word
    risks: tuple[RiskPairRecord, ...]
    questions: tuple[MovedQuestionRecord, ...]
    left: tuple[LeftRecord, ...]
    chances: tuple[ChanceRecord, ...]
    margins: tuple[MarginPairRecord, ...]
    """The tightest of each risk."""
    time_was_s: float | None
    time_now_s: float | None
    """With the feeds as written."""


class FastestRecord(RecheckPart):
    """The shortest time that feed overrides alone give."""

    time_s: float | None
    overrides_percent: dict[str, int]
    held_by: tuple[str, ...]


class RecheckedJobRecord(RecheckPart):
    """One job of the book."""

    job: str
    examination: int
    """Entry of the book that was rechecked."""
    at: datetime
    runs: int
    """In the last year."""
    verdict: Word
    stands: bool
    examined_again: bool
    changes: tuple[ChangeRecord, ...]
    """Facts leaned on that differ; with a what-if, all facts of the job that it makes others."""
    files: tuple[str, ...]
    """Files that differ."""
    moved: MovedRecord | None
    """Null where it was not examined again."""
    fastest_was: FastestRecord | None
    fastest_now: FastestRecord | None
    fault: str


class RecheckRecord(RecheckPart):
    """`firstoff recheck --json`. With a what-if, *was* is the shop as it stands, *now* the shop as it would be."""

    schema_: Literal["firstoff.recheck/1"] = "firstoff.recheck/1"
    what_if: str
    answer: Word
    """The worst of the answers that got worse; clear where all stand."""
    jobs: tuple[RecheckedJobRecord, ...]
    unasked: tuple[str, ...]
    """Facts of the what-if that no job asks for."""
    bought_as_written_s: float | None
    """Seconds a year, each job as often as it ran in the last one; negative: it costs."""
    bought_turned_up_s: float | None

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        populate_by_name=True,
        alias_generator=lambda name: "schema" if name == "schema_" else name,
    )


def recheck_record(found: Recheck) -> RecheckRecord:
    """The published record of a recheck."""
    return RecheckRecord.model_validate(
        {
            "what_if": found.what_if,
            "answer": found.answer,
            "jobs": [_job(job) for job in found.jobs],
            "unasked": found.unasked,
            "bought_as_written_s": found.bought_s(False),
            "bought_turned_up_s": found.bought_s(True),
        }
    )


def _job(job: Rechecked) -> dict[str, Any]:
    reason = job.reason
    return {
        "job": job.job,
        "examination": job.number,
        "at": job.at,
        "runs": job.runs,
        "verdict": job.verdict,
        "stands": job.stands,
        "examined_again": job.anew,
        "changes": [] if reason is None else [_change(one) for one in reason.changes],
        "files": () if reason is None else reason.files,
        "moved": None if job.moved is None else _moved(job.moved),
        "fastest_was": None if job.fastest is None else _fastest(job.fastest[0]),
        "fastest_now": None if job.fastest is None else _fastest(job.fastest[1]),
        "fault": job.fault,
    }


def _moved(moved: Moved) -> dict[str, Any]:
    return {
        "was": moved.verdict[0],
        "now": moved.verdict[1],
        "risks": [{"risk": risk, "was": was, "now": now} for risk, (was, now) in moved.risks.items()],
        "questions": [_question(one) for one in moved.questions],
        "left": [{"question": name, "was": was, "now": now} for name, (was, now) in moved.left.items()],
        "chances": [{"question": name, "was": was, "now": now} for name, (was, now) in moved.chances.items()],
        "margins": [
            {"risk": risk, "was": _margin(was), "now": _margin(now)} for risk, (was, now) in moved.margins.items()
        ],
        "time_was_s": moved.time_s[0],
        "time_now_s": moved.time_s[1],
    }


def _question(one: QuestionMoved) -> dict[str, Any]:
    return {
        "id": one.id,
        "risk": one.risk,
        "was": one.was,
        "now": one.now,
        "worse": one.worse,
        "before": _held(one.before),
        "after": _held(one.after),
        "line": one.line or None,
        "text": one.text,
        "why": one.why,
        "do": one.do,
        "causes": [{**_change(cause.change), "moves": cause.moves} for cause in one.causes],
    }


def _held(held: Held) -> dict[str, Any]:
    return {"demand": held.demand, "capacity": held.capacity, "unit": held.unit, "chance": held.chance}


def _margin(margin: Margin | None) -> dict[str, Any] | None:
    return None if margin is None else {"question": margin.question, "left": margin.left}


def _change(change: Change) -> dict[str, Any]:
    return {"path": change.path, "old": change.old, "new": change.new}


def _fastest(fastest: Fastest) -> dict[str, Any]:
    return {"time_s": fastest.time_s, "overrides_percent": dict(fastest.overrides), "held_by": fastest.held_by}
