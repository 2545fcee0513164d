"""Everything that a set-up sheet asks of an examination, once, however the sheet is then set: as a page for a browser, or as a PDF."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from firstoff.sheets.last_cut import last_cut_words
from firstoff.sheets.proof_run import proof_run
from firstoff.sheets.sheet_facts import (
    Stamp,
    StopRow,
    ToolRow,
    Zero,
    holding_words,
    stamp,
    stock_words,
    stop_rows,
    tool_rows,
    zeros,
)
from firstoff.sheets.tool_runs import Run, tool_runs
from firstoff.sheets.wording import TOPICS, clock, in_order, missing_names
from firstoff.verdict.case import Case
from firstoff.verdict.examination import FOLLOWS_FROM_LENGTHS, Examination
from firstoff.verdict.question import Answer, Answered, Risk
from firstoff.verdict.words import listed

CAUSE = "tool"
"""The question whether the right tool and length are called."""
MOST_HOW = 90
"""Letters of a way to settle something that are told with it; a longer one stands in the examination."""


@dataclass(frozen=True, slots=True)
class Titled:
    """What stands at the head of a sheet."""

    title: str
    machine: str
    stamp: Stamp
    stock: str
    time: str
    first_move: str
    last_move: str
    """Line number and text."""
    printed: datetime

    @property
    def printed_words(self) -> str:
        return f"{self.printed.day} {self.printed:%b %Y %H:%M}"


@dataclass(frozen=True, slots=True)
class Told:
    """The rest. A sheet of a stop has no calls of tools and no steps: it must not be run."""

    examination: Examination
    head: Titled
    zeros: list[Zero]
    holding: str
    missing: list[str]
    """The facts that stand between this job and an answer."""
    rows: list[ToolRow]
    runs: list[Run]
    steps: list[str]
    stops: list[StopRow]
    """Where the program waits."""
    stopping: list[Answered]
    """Why it must not be run."""
    following: list[Answered]
    """Those of them that may follow from the first: a wrong tool or length, that is the cause of what its tool then meets."""

    @property
    def stopped(self) -> bool:
        return self.examination.verdict is Answer.STOP


def told_of(examination: Examination, job_title: str, shop_name: str, printed: datetime) -> Told:
    """Ask it. `shop_name` may be empty; `printed` is told on the sheet."""
    case = examination.case
    stopped = examination.verdict is Answer.STOP
    found = zeros(case)
    held = holding_words(examination.facts, case.units, last_cut_words(case))
    stopping = [answered for answered in in_order(examination.answers) if answered.answer is Answer.STOP]
    return Told(
        examination,
        _titled(examination, job_title, shop_name, printed),
        found,
        held or "How the part is held is not written down.",
        missing_names(need for answered in examination.answers for need in answered.needs),
        tool_rows(case),
        [] if stopped else tool_runs(case),
        [] if stopped else proof_run(case, found, _unsettled(examination)),
        stop_rows(case),
        stopping,
        _following(case, stopping),
    )


def _following(case: Case, stopping: list[Answered]) -> list[Answered]:
    """Where a tool or a length is wrong, everything else that this tool meets was judged at a place where it should not be."""
    wrong = next((one for one in stopping if one.question.id == CAUSE and one.places), None)
    if wrong is None:
        return []
    tool = _tool_at(case, wrong)
    others = [one for one in stopping if one is not wrong]
    return [
        one for one in others
        if one.question.id in FOLLOWS_FROM_LENGTHS or (tool is not None and _tool_at(case, one) == tool)
    ]  # fmt: skip


def _tool_at(case: Case, answered: Answered) -> int | None:
    """The tool in the spindle at its worst place; None where that is not told."""
    if not answered.places:
        return None
    place, moves = answered.places[0].place, case.moves
    move = place.move if place.move >= 0 else int(np.searchsorted(moves.line, place.line))
    return int(moves.tool[move]) if move < len(moves) else None


def _titled(examination: Examination, title: str, shop_name: str, printed: datetime) -> Titled:
    case = examination.case
    machine = examination.facts.settings.get("machine.name")
    name = str(machine.value) if machine is not None else shop_name
    return Titled(
        title,
        name or "not described",
        stamp(case.reading),
        stock_words(examination.facts, case.units) or "not given",
        _time(examination),
        *_ends(case),
        printed,
    )


def _time(examination: Examination) -> str:
    if examination.time is not None:
        return clock(examination.time.total)
    line = examination.case.timeline
    if line is not None and np.isfinite([line.total_low_s, line.total_high_s]).all():
        return f"{clock(line.total_low_s)} to {clock(line.total_high_s)}"
    return "can't say"


def _ends(case: Case) -> tuple[str, str]:
    """The first and the last move, each its line number and text."""
    moves, text = case.reading.moves, case.reading.text
    going = np.flatnonzero(case.moving)

    def told(move: int) -> str:
        line = int(moves.line[move])
        return f"{line}: {text[line - 1].strip() if 0 < line <= len(text) else ''}"

    return (told(int(going[0])), told(int(going[-1]))) if going.size else ("none", "none")


def _unsettled(examination: Examination) -> str:
    """What the machine's risk waits for, and how to get it; empty where it is judged."""
    if examination.risks[Risk.MACHINE] is not Answer.UNJUDGED:
        return ""
    open_ones = [
        answered
        for answered in examination.answers
        if answered.question.risk is Risk.MACHINE and answered.answer is Answer.UNJUDGED
    ]
    needs = [need for answered in open_ones for need in answered.needs]
    names = missing_names(needs) or [TOPICS.get(answered.question.id, answered.question.id) for answered in open_ones]
    how = f" ({needs[0].how.rstrip('.')})" if needs and len(names) == 1 and len(needs[0].how) < MOST_HOW else ""
    return (listed(names, 5) or "the machine's risk") + how
