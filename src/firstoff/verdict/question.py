"""What a question is, what it finds, and what it answers.

A question looks at the case and hands back a `Finding`: limits (a demand held against a capacity at a place), things counted, and what it
would need to know. `judge` turns a finding into an `Answered`; no question knows thresholds or draws.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import Floats
from firstoff.verdict.forms import Form, Scale


class Answer(StrEnum):
    """What a question can answer; the order is that of DESIGN: clear < care < unjudged < stop."""

    CLEAR = "clear"
    CARE = "care"
    UNJUDGED = "unjudged"
    STOP = "stop"

    @property
    def rank(self) -> int:
        return list(Answer).index(self)


def worst(answers: list[Answer]) -> Answer:
    """The worst of several answers; clear if there are none."""
    return max(answers, key=lambda answer: answer.rank, default=Answer.CLEAR)


class Risk(StrEnum):
    """What a question is about."""

    MACHINE = "machine"
    TOOL = "tool"
    PART = "part"
    TIME = "time"


@dataclass(frozen=True, slots=True)
class Question:
    """The question itself."""

    id: str
    risk: Risk
    asks: str
    """In plain words; yes is good."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where in the program."""

    line: int
    move: int = -1
    at: tuple[float, float, float] | None = None
    """Programmed position in mm, in the active work system."""
    offset: str = ""


@dataclass(frozen=True, slots=True)
class Along:
    """The moves that one limit stands for, itself among them: it is the worst of them, and they share its doubt."""

    moves: NDArray[np.intp]
    """In program order."""
    less: Floats
    """How much less each exceeds than the limit does, at best estimates and on its scale; 0 for the limit's own move."""
    place: Callable[[int], Place]
    """The place of a move."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A demand held against a capacity at one place. Exceeded where demand − capacity > 0 (in logarithms for a ratio)."""

    place: Place
    demand: Form
    capacity: Form
    what: str
    """One sentence: what happens here and by how much."""
    do: str
    """What to do about it."""
    along: Callable[[], Along] | None = field(default=None, repr=False, compare=False)
    """Worked out only where the limit is not clear; None: it stands for nobody else."""
    begins: bool = True
    """Whether what is wrong may begin at its place: not where an earlier cut left rightly what a later one should have taken."""


@dataclass(frozen=True, slots=True)
class Counted:
    """Something found that should not be there."""

    place: Place
    what: str
    do: str
    severity: Answer
    fact: str = ""
    """The fact that would settle it, where one would."""


@dataclass(frozen=True, slots=True)
class Check:
    """One part of a question with its own scale; the question's answer is its worst check's."""

    scale: Scale
    unit: str
    limits: tuple[Limit, ...] = ()
    counted: tuple[Counted, ...] = ()
    clear: str = ""
    """Said when this check is clear: by how much, and what was not looked at."""
    clearance: bool = False
    """Answered by a clearance in mm after its doubt, not only by a chance."""
    at_most: Answer = Answer.STOP
    """The worst answer that it gives however likely it is exceeded: what wastes time or wears an edge stops no job."""


@dataclass(frozen=True, slots=True)
class Need:
    """A fact that is missing: where it is written and how to get it in two minutes."""

    fact: str
    where: str
    how: str


@dataclass(frozen=True, slots=True)
class Finding:
    """What a question found before anybody judged it."""

    checks: tuple[Check, ...] = ()
    needs: tuple[Need, ...] = ()
    notes: tuple[str, ...] = ()
    """What was not looked at, or read by custom."""
    not_asked: str = ""
    """Why this question was not asked at all; then nothing else counts."""


@dataclass(frozen=True, slots=True)
class Measure:
    """A number with its doubt; `low95`..`high95` hold 95 % of the draws."""

    value: float
    u: float
    unit: str
    low95: float
    high95: float


@dataclass(frozen=True, slots=True)
class AnsweredPlace:
    """A place with what was found there; worst first."""

    place: Place
    text: str
    """The program line as written."""
    time_s: float | None
    demand: float | None
    what: str
    do: str
    answer: Answer


@dataclass(frozen=True, slots=True)
class Share:
    """The part of the variance of (demand − capacity) that one fact brings."""

    fact: str
    share: float


@dataclass(frozen=True, slots=True)
class Answered:
    """One question with its answer."""

    question: Question
    answer: Answer
    scale: Scale
    demand: Measure | None
    capacity: Measure | None
    chance: float | None
    """That the worst place exceeds."""
    any_chance: float | None
    """That any place exceeds: what the answer is judged by."""
    places: tuple[AnsweredPlace, ...]
    """Worst first."""
    why: str
    do: str
    doubt: tuple[Share, ...] = ()
    needs: tuple[Need, ...] = ()
    notes: tuple[str, ...] = ()
    leaned: tuple[str, ...] = ()
    """Fact paths this answer leaned on; the recheck lives on it."""
    needed: tuple[str, ...] = ()
    """Those of them that it cannot do without."""
    margins: tuple[Limit, ...] = field(default=(), repr=False)
    """The limits near the worst, for "measure next"; those of the check that is told stand first."""
    by_clearance: bool = False
    """The worst check was judged by the clearance that is left, not only by a chance."""
    settled_by: tuple[str, ...] = ()
    """Facts that would settle what was only counted: a length that is assumed, a card that is stale."""
    nonlinear: bool = False
    """First-order uncertainty and the draws differ by more than a tenth: the draws are shown."""
    first: AnsweredPlace | None = None
    """The first place of the program that is not clear, where that is another line than the worst."""
