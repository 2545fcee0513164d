"""What leaves as JSON: the published records, versioned by their `schema` key (CONTRACTS, JSON). Adding keys keeps the number.

Lengths in mm, times in s, spindle speeds in 1/min, whatever the display; unknown is null; lines and columns start at 1; `u` is a
standard uncertainty.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answered, AnsweredPlace, Measure

Word = Literal["clear", "care", "unjudged", "stop"]


class Record(BaseModel):
    """A frozen record; a key that is not in the schema is a fault of ours."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class MeasureRecord(Record):
    """A number with its doubt; 95 % of the draws lie between low95 and high95."""

    value: float
    u: float
    unit: str
    low95: float
    high95: float


class PlaceRecord(Record):
    """A place in the program, worst first."""

    line: int
    text: str
    time_s: float | None
    at: tuple[float, float, float] | None
    """Programmed position, mm, in the work system `offset`."""
    offset: str
    demand: float | None
    what: str
    do: str


class DoubtRecord(Record):
    """A fact's share of the variance of demand − capacity."""

    fact: str
    share: float


class NeedRecord(Record):
    """A missing fact, where it is written and how to get it in two minutes."""

    fact: str
    where: str
    how: str


class QuestionRecord(Record):
    """One question with its answer."""

    id: str
    risk: Literal["machine", "tool", "part", "time"]
    question: str
    answer: Word
    demand: MeasureRecord | None
    capacity: MeasureRecord | None
    chance: float | None
    """That the worst place exceeds."""
    any: float | None
    """That any place exceeds: what the answer is judged by."""
    scale: Literal["ratio", "difference", "count"]
    places: tuple[PlaceRecord, ...]
    why: str
    do: str
    doubt: tuple[DoubtRecord, ...]
    needs: tuple[NeedRecord, ...]
    notes: tuple[str, ...]
    leaned: tuple[str, ...]
    nonlinear: bool


class NotAskedRecord(Record):
    """A question nobody asked, or that this version cannot put."""

    id: str
    why: str


class TimeRecord(Record):
    """Seconds by what they go to."""

    total: float
    cutting: float
    rapid: float
    changes: float
    dwell: float


class NextRecord(Record):
    """What to measure next."""

    fact: str
    how: str
    minutes: float
    questions: tuple[str, ...]
    doubt_removed: float


class ProgramRecord(Record):
    """The program that was examined."""

    file: str
    sha256: str
    lines: int
    blocks: int


class RisksRecord(Record):
    """One answer a risk."""

    machine: Word
    tool: Word
    part: Word
    time: Word


class ExaminationRecord(Record):
    """`firstoff examine --json`."""

    schema_: Literal["firstoff.examination/1"] = "firstoff.examination/1"
    program: ProgramRecord
    machine: str | None
    verdict: Word
    risks: RisksRecord
    questions: tuple[QuestionRecord, ...]
    not_asked: tuple[NotAskedRecord, ...]
    time_s: TimeRecord | None
    next: tuple[NextRecord, ...]

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        populate_by_name=True,
        alias_generator=lambda name: "schema" if name == "schema_" else name,
    )


def examination_record(examination: Examination) -> ExaminationRecord:
    """The published record of an examination."""
    reading = examination.case.reading
    name = examination.facts.settings.get("machine.name")
    risks = {risk.value: answer.value for risk, answer in examination.risks.items()}
    time = examination.time
    return ExaminationRecord(
        program=ProgramRecord(file=reading.file, sha256=reading.sha256, lines=reading.lines, blocks=reading.blocks),
        machine=str(name.value) if name is not None else None,
        verdict=examination.verdict.value,
        risks=RisksRecord.model_validate(risks),
        questions=tuple(_question(answered) for answered in examination.answers),
        not_asked=tuple(NotAskedRecord(id=each.id, why=each.why) for each in examination.not_asked),
        time_s=None
        if time is None
        else TimeRecord(
            total=time.total, cutting=time.cutting, rapid=time.rapid, changes=time.changes, dwell=time.dwell
        ),
        next=tuple(
            NextRecord(
                fact=each.fact,
                how=each.how,
                minutes=each.minutes,
                questions=each.questions,
                doubt_removed=each.doubt_removed,
            )
            for each in examination.next
        ),
    )


def _question(answered: Answered) -> QuestionRecord:
    return QuestionRecord(
        id=answered.question.id,
        risk=answered.question.risk.value,
        question=answered.question.asks,
        answer=answered.answer.value,
        demand=_measure(answered.demand),
        capacity=_measure(answered.capacity),
        chance=answered.chance,
        any=answered.any_chance,
        scale=answered.scale.value,
        places=tuple(_place(place) for place in answered.places),
        why=answered.why,
        do=answered.do,
        doubt=tuple(DoubtRecord(fact=each.fact, share=each.share) for each in answered.doubt),
        needs=tuple(NeedRecord(fact=each.fact, where=each.where, how=each.how) for each in answered.needs),
        notes=answered.notes,
        leaned=answered.leaned,
        nonlinear=answered.nonlinear,
    )


def _measure(measure: Measure | None) -> MeasureRecord | None:
    if measure is None:
        return None
    return MeasureRecord(
        value=measure.value, u=measure.u, unit=measure.unit, low95=measure.low95, high95=measure.high95
    )


def _place(place: AnsweredPlace) -> PlaceRecord:
    return PlaceRecord(
        line=place.place.line,
        text=place.text,
        time_s=place.time_s,
        at=place.place.at,
        offset=place.place.offset,
        demand=place.demand,
        what=place.what,
        do=place.do,
    )
