"""What is kept of examinations and runs, and what earlier runs say of a job."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from math import hypot
from pathlib import Path

from sqlalchemy.engine import Connection

from firstoff.book.kept import KeptExamination, RunSaid
from firstoff.book.notes import Note, read_note
from firstoff.book.opening import Book
from firstoff.book.reading import entry_at, list_examinations, runs
from firstoff.book.writing import add, content_text, keep
from firstoff.changer.crib_edits import broke, used
from firstoff.errors import Fault, InputError
from firstoff.facts.change import Stated, all_stated
from firstoff.facts.job import Given, Job
from firstoff.verdict.examination import Examination
from firstoff.verdict.words import listed
from firstoff.workflows import Prepared, Tell, prepare
from firstoff.workflows.book import Noticed, ShopBook, noticed, shop_book, units_of
from firstoff.workflows.crib import do
from firstoff.workflows.keeping import kept_fields

ALIKE = 2.0
"""Standard uncertainties within which two measurements of one thing agree."""
_OF_TOOL = ("DC", "RE", "ZEFP", "OHX", "held_in", "holder")
"""What of a tool must be the same for a run to speak for the next: the cutter, its stick-out and what holds it."""


@dataclass(frozen=True, slots=True)
class Kept:
    """An examination that was kept: where, and what the book had to say meanwhile."""

    number: int
    noticed: Noticed
    runs: tuple[RunSaid, ...]
    """Oldest first."""


def keep_examination(
    prepared: Prepared,
    examination: Examination,
    argument: str | Path,
    given: Given | None = None,
    base: str | None = None,
) -> Kept | None:
    """Keep an examination in the book of its shop; None where there is no shop. Raises `InputError` where the book cannot be used."""
    folder = prepared.job.shop.folder
    if folder is None:
        return None
    kept = kept_fields(prepared, examination, argument, given, base)
    shop = shop_book(folder)
    with shop.book.writing() as connection:
        found = noticed(connection, shop)
        number = put_examination(connection, shop.book, kept)
        said = runs_of(connection, shop.book, kept.job, kept.program_sha256, prepared.job)
    return Kept(number, found, said)


def put_examination(connection: Connection, book: Book, kept: KeptExamination) -> int:
    """Add an examination; its contents are kept once, however often they come."""
    body = {
        "job": kept.job,
        "argument": kept.argument,
        "given": kept.given,
        "program_sha256": kept.program_sha256,
        "files": kept.files,
        "leaned": keep(connection, kept.leaned),
        "present": keep(connection, sorted(kept.present)),
        "record": keep(connection, kept.record),
    }
    return add(connection, book, "examination", body, at=kept.at).number


# ---- runs ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Ran:
    """A run as it was noted."""

    number: int
    job: str
    note: Note
    tool: str | None
    minutes: Mapping[str, float]
    """Minutes that each tool cut, where the program has been examined."""
    noticed: Noticed
    runs: tuple[RunSaid, ...]
    """All runs of the job, this one last."""
    remarks: tuple[str, ...] = ()
    """What the crib says of it: an edge at the end of its life, a tool that is suspect now."""


def note_run(
    argument: str | Path, text: str, *, shop: Path | None = None, now: datetime | None = None, tell: Tell
) -> Ran:
    """Keep one line on a run with the program's stamp and the facts of the day. Raises `InputError` where job or book cannot be used."""
    if not text.strip():
        raise InputError(Fault("the note is empty", "", 'one line, such as "good" or "rang in the corners"'))
    prepared = prepare(argument, shop=shop, now=now, tell=tell)
    job = prepared.job
    here = shop_book(job.shop.folder, Path(argument))
    note = read_note(text, inch=units_of(here.folder).inch)
    name = job.program.name if job.bare else job.name
    with here.book.writing() as connection:
        found = noticed(connection, here)
        number, tool, minutes = put_run(connection, here.book, prepared, note, prepared.now)
        said = runs_of(connection, here.book, name, prepared.reading.sha256, job)
    return Ran(
        number,
        name,
        note,
        tool,
        minutes,
        found,
        said,
        _crib_told(here, job, note, tool, minutes, prepared.reading.lines),
    )


def _odd(job: Job, note: Note, lines: int) -> list[str]:
    """What a note names that this job does not have: it is kept all the same, and may be a slip."""
    odd = []
    if note.tool is not None and note.tool not in job.tools:
        odd.append(f"This job names no T{note.tool}.")
    if note.line is not None and note.line > lines:
        odd.append(f"Its program has {lines} lines, none of them {note.line}.")
    return odd


CUT_SHORT = ("broke", "stopped")
"""Outcomes of which nobody knows how long each edge cut."""


def _crib_told(
    shop: ShopBook, job: Job, note: Note, tool: str | None, minutes: Mapping[str, float], lines: int
) -> tuple[str, ...]:
    """Tell the crib what the run did to its tools: minutes of their edges, and which one broke. The note itself is kept already."""
    known = set(job.shop.tool_names)
    remarks = _odd(job, note, lines)
    try:
        if note.outcome == "broke" and tool in known and tool is not None:
            broken = partial(broke, name=tool, on=date.today(), why=f"{job.name}: {note.text}")
            remarks += do(shop, broken, why=note.text).remarks
        cut = {name: one for name, one in minutes.items() if one > 0 and name in known}
        if note.outcome not in CUT_SHORT and cut:
            remarks += do(shop, partial(used, minutes=cut), why=f"{job.name} ran").remarks
            told = listed([f"{name} {one:.1f}" for name, one in cut.items()], 6)
            remarks.append(f"Minutes cut, added in tools.toml: {told}.")
    except InputError as error:
        remarks += [f"The crib was not told: {fault}" for fault in error.faults]
    return tuple(remarks)


def put_run(
    connection: Connection, book: Book, prepared: Prepared, note: Note, at: datetime, *, by: str | None = None
) -> tuple[int, str | None, Mapping[str, float]]:
    """Add a run; returns its entry, the tool that the note names, and the minutes that each tool cut."""
    job, sha = prepared.job, prepared.reading.sha256
    name = job.program.name if job.bare else job.name
    tool = None if note.tool is None else job.tools.get(note.tool)
    minutes = _minutes(connection, book, name, sha)
    body = {
        "job": name,
        "program_sha256": sha,
        "outcome": note.outcome,
        "note": note.text,
        "tool": tool,
        "line": note.line,
        "off_mm": note.off_mm,
        "feature": note.feature,
        "minutes": minutes,
        "facts": keep(connection, all_stated(job.facts)),
    }
    return add(connection, book, "run", body, at=at, by=by).number, tool, minutes


def _minutes(connection: Connection, book: Book, job: str, sha: str) -> dict[str, float]:
    """Minutes that each tool cuts in a program, as its newest examination reckoned; nothing where none was kept."""
    for kept in list_examinations(connection, book, job):
        if kept.program_sha256 != sha:
            continue
        record = json.loads(content_text(connection, entry_at(connection, book, kept.number).body["record"]))
        tools = (record["cut"] or {"tools": ()})["tools"]
        return {one["name"]: one["cutting_s"] / 60 for one in tools if one["name"] and one["cutting_s"] is not None}
    return {}


def runs_of(connection: Connection, book: Book, name: str, sha: str, job: Job) -> tuple[RunSaid, ...]:
    """All runs of a job, and which of them were made with what it would be made with now."""
    now = all_stated(job.facts)
    asked = tuple(dict.fromkeys(job.tools.values()))
    then: dict[str, Mapping[str, Stated]] = {}
    said = []
    for run in runs(connection, book, name):
        if run.facts not in then:
            then[run.facts] = json.loads(content_text(connection, run.facts))
        said.append(RunSaid(run, run.program_sha256 == sha and alike(then[run.facts], now, asked)))
    return tuple(said)


def alike(then: Mapping[str, Stated], now: Mapping[str, Stated], tools: tuple[str, ...]) -> bool:
    """Whether tools, stick-outs and stock are the same, as far as they were measured."""

    def asked(path: str) -> bool:
        return (
            path.startswith("job.stock.")
            or path == "job.material"
            or any(
                path == f"tools.{tool}.{key}" or path.startswith(f"tools.{tool}.{key}.")
                for tool in tools
                for key in _OF_TOOL
            )
        )

    paths = {path for path in (*then, *now) if asked(path)}
    return all(_agree(then.get(path), now.get(path)) for path in paths)


def _agree(then: Stated | None, now: Stated | None) -> bool:
    if then is None or now is None or "setting" in then or "setting" in now:
        return then == now
    gap: float = abs(then["value"] - now["value"])
    return gap <= ALIKE * hypot(then["u"], now["u"])


def try_to_keep(
    prepared: Prepared, examination: Examination, argument: str | Path, given: Given | None, base: str | None
) -> Kept | InputError | None:
    """`keep_examination`, whose failure must not cost the answer: it is handed back instead of raised."""
    try:
        return keep_examination(prepared, examination, argument, given, base)
    except InputError as error:
        return error
