"""What the book hands out: frozen records of what happened, as they were kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from firstoff.facts.change import Stated


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the book. Entries are only ever added; each carries the stamp of the one before."""

    number: int
    utc: str
    """ISO 8601, UTC, to the second, as it was written."""
    shop: str
    """Name of the machine; one book may serve several."""
    kind: str
    """facts, trial, examination or run."""
    who: str
    why: str
    body: Mapping[str, Any]
    before: str
    """Stamp of the entry before; empty for the first."""
    sha256: str

    @property
    def at(self) -> datetime:
        """The same moment in local time, without a zone."""
        return datetime.fromisoformat(self.utc.removesuffix("Z") + "+00:00").astimezone().replace(tzinfo=None)


@dataclass(frozen=True, slots=True)
class Moment:
    """That something happened, in a word."""

    number: int
    """Of its entry."""
    at: datetime
    kind: str
    """facts, trial, examination or run."""
    word: str
    """The verdict of an examination, the outcome of a run; else empty."""


@dataclass(frozen=True, slots=True)
class KeptExamination:
    """One examination as it was kept, with all that tells whether it still holds."""

    number: int
    """Of its entry."""
    at: datetime
    job: str
    """The job's name, or the file of a bare program."""
    argument: str
    """What to hand to `examine` to do it again: relative to the shop folder where the job lies in it."""
    given: Mapping[str, Any]
    """The fields of `facts.job.Given` for a bare program; empty for a job."""
    program_sha256: str
    leaned: Mapping[str, Stated]
    """The facts it leaned on, with what they said."""
    present: frozenset[str]
    """Paths of all facts that were there, leaned on or not."""
    files: Mapping[str, str]
    """Stamps of the other files it read (subprograms, shapes, the job before), by path relative to the job's folder."""
    record: Mapping[str, Any]
    """`firstoff.examination/1`, as published."""


@dataclass(frozen=True, slots=True)
class Past:
    """What a fact was from some moment on."""

    entry: int
    at: datetime
    who: str
    how: str
    """first, set or by hand."""
    why: str
    old: Stated | None
    new: Stated | None


@dataclass(frozen=True, slots=True)
class Listed:
    """One kept examination in a list."""

    number: int
    at: datetime
    job: str
    program_sha256: str
    verdict: str
    risks: Mapping[str, str]
    time_s: float | None


@dataclass(frozen=True, slots=True)
class KeptRun:
    """What was noted after a run."""

    number: int
    at: datetime
    who: str
    job: str
    program_sha256: str
    outcome: str
    note: str
    tool: str | None
    line: int | None
    off_mm: float | None
    feature: str | None
    facts: str
    """Stamp of all that was known of job and shop on that day."""


@dataclass(frozen=True, slots=True)
class RunSaid:
    """One earlier run of a job; `alike` where program, tools, stick-outs and stock were what they are now."""

    run: KeptRun
    alike: bool


@dataclass(frozen=True, slots=True)
class KeptTrial:
    """Readings of one fact, and what was made of them."""

    number: int
    at: datetime
    path: str
    unit: str
    readings: tuple[float, ...]
    mean: float
    u: float
    df: float | None
