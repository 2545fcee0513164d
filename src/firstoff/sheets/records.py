"""What leaves as JSON: the published records, versioned by their `schema` key (CONTRACTS, JSON). Adding keys keeps the number.

Lengths in mm, times in s, spindle speeds in 1/min, whatever the display; unknown is null; lines and columns start at 1; `u` is a
standard uncertainty.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict

from firstoff.book.kept import RunSaid
from firstoff.program.moves import NOTE, Problem, Reading
from firstoff.program.summary import (
    Compensated,
    OffsetWritten,
    Plunges,
    RapidBelow,
    Remark,
    Stop,
    Summary,
    Time,
    ToolUse,
)
from firstoff.sheets.cut_record import CutRecord, cut_record
from firstoff.sheets.recheck_record import RecheckRecord
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
    first: PlaceRecord | None
    """The first place of the program that is not clear, where that is another line than the worst."""
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
    nearer: tuple[str, ...] = ()
    """Questions that need it and still something else."""


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


class RunRecord(Record):
    """What was noted after one run."""

    at: str
    """Local time, ISO 8601."""
    outcome: Literal["good", "rang", "size", "broke", "stopped", "other"]
    note: str
    alike: bool
    """Program, tools, stick-outs and stock were what they are now."""


class RunsRecord(Record):
    """Earlier runs of the job, as the shop's book has them, oldest first."""

    well_alike: int
    """Good runs with program, tools, stick-outs and stock as they are now."""
    well_otherwise: int
    noted: tuple[RunRecord, ...]


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
    cut: CutRecord | None = None
    """What following the program through its stock found; null where it was not followed."""
    runs: RunsRecord | None = None
    """Null where no book was asked."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        populate_by_name=True,
        alias_generator=lambda name: "schema" if name == "schema_" else name,
    )


class MovesRecord(Record):
    """Executed blocks that name X, Y or Z; a cycle counts once a hole; home and G53 blocks are left out."""

    rapid: int
    feed: int
    arc: int
    dwell: int
    cycle_holes: int


class ExtentsRecord(Record):
    """Tip path in the active offset, arc bulges and cycle bottoms included, compensation not."""

    unit: str
    x: tuple[float, float] | None
    y: tuple[float, float] | None
    z: tuple[float, float] | None


class ToolRecord(Record):
    """One tool as the program uses it."""

    number: int | None
    line: int
    speeds: tuple[float | None, ...]
    lengths: tuple[int, ...]
    radii: tuple[int, ...]
    feeds_per_min: tuple[float, float] | None
    deepest_z: float | None
    plunges: Plunges
    first_move: str | None
    coolant_at_first_feed: str | None
    holes: int


class ProblemRecord(Record):
    """Something that was not read for certain."""

    line: int
    column: int
    text: str
    what: str
    kind: Literal["fault", "depends", "note"]
    fact: str


class EndRecord(Record):
    """Where the program ends, in the active offset and the file's unit; null after home or anything not understood."""

    x: float | None
    y: float | None
    z: float | None


class ReadRecord(Record):
    """`firstoff read --json`."""

    schema_: Literal["firstoff.read/1"] = "firstoff.read/1"
    file: str
    sha256: str
    lines: int
    blocks: int
    units: Literal["mm", "inch", "not stated"]
    moves: MovesRecord
    extents: ExtentsRecord
    tools: tuple[ToolRecord, ...]
    offsets: tuple[str, ...]
    problems: tuple[ProblemRecord, ...]
    end: EndRecord
    understood: bool
    offsets_written: tuple[OffsetWritten, ...]
    stops: tuple[Stop, ...]
    rapids_below_zero: tuple[RapidBelow, ...]
    compensated: tuple[Compensated, ...]
    left_on: tuple[str, ...]
    ended_by: str
    time: Time | None
    remarks: tuple[Remark, ...]

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        populate_by_name=True,
        alias_generator=lambda name: "schema" if name == "schema_" else name,
    )


def read_record(reading: Reading, summary: Summary) -> ReadRecord:
    """The published record of a reading."""
    counts, extents = summary.counts, summary.extents
    x, y, z = summary.end
    units: Literal["mm", "inch", "not stated"] = (
        "mm" if summary.units == "mm" else "inch" if summary.units == "inch" else "not stated"
    )
    return ReadRecord(
        file=summary.file,
        sha256=reading.sha256,
        lines=summary.lines,
        blocks=summary.blocks,
        units=units,
        moves=MovesRecord(
            rapid=counts.rapid, feed=counts.feed, arc=counts.arc, dwell=counts.dwell, cycle_holes=counts.cycle_holes
        ),
        extents=ExtentsRecord(unit=extents.unit, x=extents.x, y=extents.y, z=extents.z),
        tools=tuple(_tool(use) for use in summary.tools),
        offsets=summary.offsets_used,
        problems=tuple(_problem(problem) for problem in reading.problems),
        end=EndRecord(x=x, y=y, z=z),
        understood=all(problem.kind == NOTE for problem in reading.problems),
        offsets_written=summary.offsets_written,
        stops=summary.stops,
        rapids_below_zero=summary.rapids_below_zero,
        compensated=summary.compensated,
        left_on=summary.left_on,
        ended_by=summary.ended_by,
        time=summary.time,
        remarks=summary.remarks,
    )


def _tool(use: ToolUse) -> ToolRecord:
    first = use.first_move
    return ToolRecord(
        number=use.number,
        line=use.line,
        speeds=use.speeds_per_min,
        lengths=use.lengths,
        radii=use.radii,
        feeds_per_min=use.feeds_per_min,
        deepest_z=use.deepest_z,
        plunges=use.plunges,
        first_move=None if first is None else f"{first.kind} at line {first.line}",
        coolant_at_first_feed=use.coolant_at_first_feed,
        holes=use.holes,
    )


def _problem(problem: Problem) -> ProblemRecord:
    kind: Literal["fault", "depends", "note"] = (
        "note" if problem.kind == NOTE else "depends" if problem.kind == "depends" else "fault"
    )
    return ProblemRecord(
        line=problem.line, column=problem.column, text=problem.text, what=problem.what, kind=kind, fact=problem.fact
    )


def examination_record(examination: Examination, runs: Sequence[RunSaid] | None = None) -> ExaminationRecord:
    """The published record of an examination; with earlier runs where a book was asked."""
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
                nearer=each.nearer,
            )
            for each in examination.next
        ),
        cut=cut_record(examination),
        runs=None if runs is None else _runs(runs),
    )


def _runs(said: Sequence[RunSaid]) -> RunsRecord:
    well = [one for one in said if one.run.outcome == "good"]
    same = sum(one.alike for one in well)
    noted = tuple(
        RunRecord.model_validate(
            {"at": one.run.at.isoformat(), "outcome": one.run.outcome, "note": one.run.note, "alike": one.alike}
        )
        for one in said
    )
    return RunsRecord(well_alike=same, well_otherwise=len(well) - same, noted=noted)


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
        first=None if answered.first is None else _place(answered.first),
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


SCHEMAS: dict[str, type[BaseModel]] = {
    "examination-1": ExaminationRecord,
    "read-1": ReadRecord,
    "recheck-1": RecheckRecord,
}
"""File name under `docs/schema/` -> record."""


def schema_text(name: str) -> str:
    """The JSON schema of a published record, as it stands in `docs/schema/`."""
    schema = SCHEMAS[name].model_json_schema(by_alias=True, mode="serialization")
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":  # python -m firstoff.sheets.records FOLDER
    for stem in SCHEMAS:
        (Path(sys.argv[1]) / f"{stem}.json").write_text(schema_text(stem), encoding="utf-8")
