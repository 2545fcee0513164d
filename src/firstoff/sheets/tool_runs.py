"""What each call of a tool does: where it first cuts, how far the feed override may be turned, how long it takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstoff.program.moves import NO_TOOL
from firstoff.sheets.first_contacts import Call, calls
from firstoff.verdict.case import Case
from firstoff.verdict.followed import Followed
from firstoff.verdict.override import FED_BY_PITCH, Band, override_bands
from firstoff.verdict.questions.chip import QUESTION
from firstoff.verdict.stretches import cut_program, with_loads
from firstoff.verdict.tools import spindle_tool

FULL = 100
"""%"""
FIRST_CUT = 25
"""The override, in %, that a first cut is made at where nothing rubs there (common practice)."""


@dataclass(frozen=True, slots=True)
class Knob:
    """The feed override that a tool can take, in %: None where nothing limits it. `judged` is False where its loads are not known."""

    low: int | None = None
    high: int | None = None
    judged: bool = True
    fixed: bool = False
    """A tap is fed by its pitch: no override acts."""

    @property
    def fits(self) -> bool:
        """Whether there is any override that it can take."""
        return self.high is None or max(self.low or 0, 1) <= self.high

    @property
    def first_cut(self) -> int | None:
        """Where to set it for a first cut: a quarter, or as far up as keeps it from rubbing, but never above what is written or what it
        can take; None where nothing fits or nothing can be set."""
        if self.fixed or not self.fits:
            return None
        return min(max(FIRST_CUT, self.low or 0), FULL, self.high if self.high is not None else FULL)

    @property
    def words(self) -> str:
        """``35–200 %``"""
        if self.fixed:
            return f"{FULL} % only"
        if not self.judged:
            return "not known"
        if not self.fits:
            return "none fits"
        if self.low is not None and self.high is not None:
            return f"{self.low}–{self.high} %"
        if self.low is not None:
            return f"from {self.low} %"
        return f"to {self.high} %" if self.high is not None else "any"


@dataclass(frozen=True, slots=True)
class Run:
    """One call of a tool with all that is told of it."""

    call: Call
    knob: Knob
    cutting_min: float | None
    """Minutes in which it takes something away; None where nobody knows."""
    whole_min: float | None
    """From its change to the next, the change included."""

    @property
    def tool(self) -> int:
        return self.call.tool


def tool_runs(case: Case) -> list[Run]:
    """Every call of a tool that feeds, in program order."""
    knobs = knobs_of(case)
    return [
        Run(call, knobs.get(call.tool, Knob(judged=False)), _cutting(case, call), _whole(case, call))
        for call in calls(case)
    ]


def knobs_of(case: Case) -> dict[int, Knob]:
    """The band of each T: that of the question on chips, from the same source, so that sheet and answer say the same."""
    facts = case.facts.leaning()
    told, needs = cut_program(case, facts)
    if told is None:
        return {}
    stretches = with_loads(case, facts, told, needs)
    judged = {stretch.tool for stretch in stretches}
    for stretch in told.loads.stretches if told.loads is not None else ():
        if stretch not in stretches and _cuts(told, stretch.first_move, stretch.last_move):
            judged.discard(stretch.tool)  # a part of it is not known: no band for the rest of it
    found = {band.tool: _knob(band) for band in override_bands(facts, QUESTION, stretches) if band.tool in judged}
    for tool in judged - set(found):
        kind = facts.setting_if_known(f"tools.{spindle_tool(facts, tool)}.kind")
        if kind == FED_BY_PITCH:
            found[tool] = Knob(fixed=True)
    return found


def _knob(band: Band) -> Knob:
    low, high = (None if end is None else round(end * FULL) for end in (band.low, band.high))
    return Knob(low, high)


def _cuts(told: Followed, first: int, last: int) -> bool:
    return bool((told.likely.moves.volume_mm3[first : last + 1] > 0).any())


def _cutting(case: Case, call: Call) -> float | None:
    told = case.followed
    if not isinstance(told, Followed) or told.loads is None:
        return None
    mine = [one for one in told.loads.stretches if call.first <= one.first_move <= call.last]
    return sum(one.cutting_s for one in mine) / 60


def _whole(case: Case, call: Call) -> float | None:
    line = case.timeline
    if line is None or line.bracketed_by:
        return None
    mine = slice(call.first, call.last + 1)
    spent = float(line.move_s[mine].sum() + line.pause_s[mine].sum())  # the pause before its first move is its change
    return spent / 60 if np.isfinite(spent) else None


def called(tool: int) -> str:
    """``T3``, in a table; a program that calls no tool has none to name."""
    return "–" if tool == NO_TOOL else f"T{tool}"


def spoken(tool: int) -> str:
    """The same in a sentence."""
    return "the tool" if tool == NO_TOOL else f"T{tool}"
