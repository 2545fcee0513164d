"""A line of text taken apart: what stands between the characters and the meaning.

`language.parse_line` makes a `Block` of any line; `interpret` gives its words their meaning; `flow` decides which line comes next.
Lines of plain words (letter and number only) never come here: the byte kernel reads them.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Expression:
    """A value that has to be worked out: the instruction list that `expressions.evaluate` runs, and its text."""

    code: tuple[object, ...]
    text: str


Value = float | Expression


@dataclass(frozen=True, slots=True)
class Word:
    """One letter with its value, as written at `column` (from 1)."""

    letter: str
    value: Value
    column: int
    text: str
    pointed: bool
    """Whether the number was written with a decimal point (matters where whole numbers count least increments)."""


@dataclass(frozen=True, slots=True)
class Assignment:
    """`#target = value`; the target may itself be worked out (`##1`, `#[1+2]`, `#<name>`)."""

    target: Value | str
    value: Value
    column: int
    text: str


@dataclass(frozen=True, slots=True)
class Jump:
    """A line that decides where the program goes on.

    verb: ``program`` (O1234, :1234), ``call`` (M98, M97), ``macro-call`` (G65), ``o-call`` (o100 call), ``return`` (M99, return), ``if``, ``elseif``, ``else``, ``endif``, ``if-goto``,
    ``if-then``, ``goto``, ``while``, ``endwhile``, ``do``, ``repeat``, ``endrepeat``, ``break``, ``continue``, ``sub``, ``endsub``, ``unknown`` (a jump that was not understood: a fault says why).
    """

    verb: str
    label: Value | str | None = None
    """Program number or name, block number, or loop number."""
    condition: Value | None = None
    arguments: tuple[tuple[int, Value], ...] = ()
    """(parameter number, value) pairs of a call with arguments."""
    repeats: Value | None = None
    then: Assignment | None = None
    same_file: bool = False
    """M97: a block number of this file, not a program number."""
    column: int = 1


@dataclass(frozen=True, slots=True)
class Block:
    """One line of a program. Words keep the order in which they were written."""

    line: int
    deletable: bool
    number: int | None
    """The N word."""
    words: tuple[Word, ...]
    assignments: tuple[Assignment, ...]
    jump: Jump | None
    message: str
    """Text of a comment that begins with MSG, else empty."""
    comment: str
    """All comment text of the line, for notes about re-zeroing at a stop."""
    percent: bool = False
    """The line is a lone %."""
