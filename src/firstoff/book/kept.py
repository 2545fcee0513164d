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
    at: datetime
    """Local time without a zone, to the second."""
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
