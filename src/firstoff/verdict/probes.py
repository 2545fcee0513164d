"""A probe in the spindle: it must never turn, and never be fed through what it is to touch."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import PROBE
from firstoff.facts.fact import Leaning
from firstoff.program.moves import Kind, What
from firstoff.verdict.case import Case
from firstoff.verdict.followed import Followed
from firstoff.verdict.question import Answer, Counted, Place
from firstoff.verdict.tools import spindle_tool

PUSHED = (Kind.FEED, Kind.ARC, Kind.TAP, Kind.RAPID)
"""Moves that do not end at a touch."""
LEAST_MM3 = 1e-6
"""Less than a cell of any grid: a rounding, no cut."""


def probes_misused(case: Case, facts: Leaning, numbers: list[int]) -> list[Counted]:
    """What a program does with probes that it must not, for the T numbers that it uses."""
    counted = []
    for number in numbers:
        name = _probe_at(facts, number)
        if name is not None:
            counted += _turned(case, number, name) + _pushed(case, number, name)
    return counted


def _probe_at(facts: Leaning, number: int) -> str | None:
    """The probe that stands where T points; a T that nobody has said the tool of is no need of this question."""
    apart = facts.facts.leaning()
    name = spindle_tool(apart, number)
    if name is None:
        return None
    kind = apart.setting_if_known(f"tools.{name}.kind")
    facts.leaned.update(apart.leaned)
    return name if kind == PROBE else None


def with_a_probe(case: Case, facts: Leaning) -> NDArray[np.bool_]:
    """bool[N]: moves made with a probe in the spindle."""
    found = np.zeros(len(case.moves), dtype=bool)
    for number in np.unique(case.moves.tool[case.feeding]).tolist():
        if _probe_at(facts, number) is not None:
            found |= case.moves.tool == number
    return found


def _turned(case: Case, number: int, name: str) -> list[Counted]:
    """The first place where the spindle turns, or may turn, with the probe in it."""
    turning = np.flatnonzero((case.moves.tool == number) & ~(case.moves.spindle_per_s == 0))
    lines = [case.place(int(turning[0]))] if turning.size else []
    lines += [Place(line) for line in _switched_on(case, number)]
    if not lines:
        return []
    place = min(lines, key=lambda one: one.line) if len(lines) > 1 else lines[0]
    what = f"Line {place.line}: the spindle turns with the probe {name} in it; its stylus and its cable end there."
    do = f"Write M5 before T{number} is called, and no S with M3 until the probe is out again."
    return [Counted(place, what, do, Answer.STOP)]


def _switched_on(case: Case, number: int) -> list[int]:
    """Lines that switch the spindle on while T is in it, whether anything moves meanwhile or not."""
    lines, inside = [], False
    for event in case.reading.events:
        if event.what is What.TOOL_CHANGE:
            inside = event.number == number
        elif event.what is What.SPINDLE and inside and event.value != 0:
            lines.append(event.line)
    return lines


def _pushed(case: Case, number: int, name: str) -> list[Counted]:
    """The first move that does not end at a touch and goes through the blank as it is thought to be; nothing where it was not followed: the
    questions of contact then say what is missing."""
    told = case.followed
    if not isinstance(told, Followed):
        return []
    through = told.likely.moves.volume_mm3 > LEAST_MM3
    mine = np.flatnonzero(through & np.isin(case.moves.kind, PUSHED) & (case.moves.tool == number))
    if not mine.size:
        return []
    place = case.place(int(mine[0]))
    what = f"Line {place.line}: the probe {name} is fed through the stock."
    do = "Go round or above the stock, and touch it only with G38.2, which ends at the touch."
    return [Counted(place, what, do, Answer.STOP)]
