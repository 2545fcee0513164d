"""Calls: which text a called number means, and the calls that are running."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from firstoff.program.sources import Entry, NotSupplied, Source, Sources

DEEPEST = {"call": 8, "macro-call": 4, "o-call": 10}
"""Calls within calls that the most patient control allows (manuals: 4 or 8, 4 levels of locals, 10; reference nc-language 12)."""
MOST_REPEATS = 9999
"""Highest L (common practice: four digits)."""
SPLIT = 10_000
"""P above four digits may carry the count in front: P0051234 = five times O1234 (from memory)."""


class Cursor(NamedTuple):
    """A line (from 1) of a source (number in `Sources.all`)."""

    source: int
    line: int


@dataclass(slots=True)
class Frame:
    """One call that is running; the lowest is the main program."""

    verb: str
    label: str
    call: Cursor
    """Where it was called."""
    first: Cursor
    """Where each pass begins."""
    left: int = 0
    """Passes still to be made after this one."""
    counts: dict[int, int] = field(default_factory=dict)
    """Line of a repeat -> passes still to be made."""


class Found(NamedTuple):
    """What a call's P means."""

    entry: Entry
    number: int
    repeats: int
    """1, unless the leading digits of P said otherwise."""


def find_program(sources: Sources, number: int, caller: Source, may_carry_count: bool) -> Found:
    """Where the program that P names begins. On some controls the digits in front of the last four are the repeats.

    Raises `NotSupplied` where it is not there, there twice, or P may be read both ways.
    """
    refusal: NotSupplied | None = None
    whole_number: Entry | None = None
    try:
        whole_number = sources.program(number, caller)
    except NotSupplied as error:
        refusal = error
    count, short = divmod(number, SPLIT)
    if not count or not may_carry_count:
        if whole_number is None:
            raise refusal or NotSupplied(f"O{number} is not supplied")
        return Found(whole_number, number, 1)
    try:
        counted: Entry | None = sources.program(short, caller)
    except NotSupplied:
        counted = None
    if whole_number is not None and counted is not None:
        raise NotSupplied(f"P{number} is O{number}, or {count} times O{short}: both are there; write P{short} L{count}")
    if whole_number is not None:
        return Found(whole_number, number, 1)
    if counted is None:
        raise refusal or NotSupplied(f"O{number} is not supplied")
    return Found(counted, short, count)
