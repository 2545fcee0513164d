"""Time: is the feed reached, and how long does it take?"""

from __future__ import annotations

import math

import numpy as np

from firstoff.facts.fact import Leaning
from firstoff.program.moves import Kind, What
from firstoff.verdict.case import Case, Cutting, lost
from firstoff.verdict.forms import Form, Scale, log_exact
from firstoff.verdict.question import Answer, Check, Counted, Finding, Limit, Need, Place, Question, Risk
from firstoff.verdict.words import duration

QUESTION = Question("feed", Risk.TIME, "Is the feed reached, and how long does it take?")
SLOWER_BY = 1.25
"""Cutting may take this many times as long as the feeds commanded say before it is worth a word: chips thin in the same proportion, and
a fifth less lies inside the band that cutting data are given in (common practice)."""
MOST_SLOW = 5
LONGEST_WAIT_S = 60.0
"""A dwell beyond this is worth a word: spindles are at speed and probes still long before (common practice)."""


def find(case: Case, facts: Leaning) -> Finding:
    """Cutting time at the feed reached over cutting time at the feed commanded; a bracket where a control fact is not known."""
    for path in case.timeline_missing:
        facts.number(path)
    if any(event.what is What.TOOL_CHANGE for event in case.reading.events):
        facts.number("machine.changer.change_time")
    needs = [*lost(case), *_no_feed(case)]
    cutting = case.cutting
    if cutting is None:
        return Finding((), tuple(needs))
    for path in cutting.bracketed_by:
        facts.number(path)
    form = Form(math.log(cutting.reached_s / cutting.commanded_s))
    for path, exponent in cutting.exponents:
        fact = facts.number(path)
        if fact is not None and exponent != 0.0:
            form += Form(-exponent * math.log(fact.value), ((path, exponent),))
    limits = [_limit(case, cutting, move, form) for move, _ in cutting.slow[:MOST_SLOW]] or [
        Limit(Place(0), form, log_exact(SLOWER_BY), _words(cutting), "")
    ]
    checks = (
        Check(Scale.RATIO, "", tuple(limits), (), _words(cutting)),
        Check(Scale.COUNT, "", (), tuple(_long_waits(case))),
    )
    return Finding(checks, tuple(needs), _notes(cutting))


def _long_waits(case: Case) -> list[Counted]:
    """Dwells so long that their unit may have been meant otherwise."""
    waits = np.flatnonzero((case.moves.kind == Kind.DWELL) & (np.nan_to_num(case.moves.feed_mm_per_s) > LONGEST_WAIT_S))
    found = []
    for move in waits.tolist():
        place, wait = case.place(move), duration(float(case.moves.feed_mm_per_s[move]))
        what = f"Line {place.line}: the program waits {wait}."
        do = "If P was meant in the other unit (seconds, milliseconds), mend it; see dwell_p in [control]."
        found.append(Counted(place, what, do, Answer.CARE))
    return found


def _no_feed(case: Case) -> list[Need]:
    """Cuts at a feed that was never given take as long as the control likes."""
    without = np.flatnonzero(case.feeding & ~(np.nan_to_num(case.moves.feed_mm_per_s) > 0))
    if not without.size:
        return []
    line = int(case.moves.line[without[0]])
    return [
        Need(
            f"line {line} (its feed)",
            f"{case.reading.file}:{line}",
            f"Line {line} cuts at a feed that was never given: add F.",
        )
    ]


def _limit(case: Case, cutting: Cutting, move: int, form: Form) -> Limit:
    place = case.place(move)
    do = "Longer blocks, larger corner radii or a lower commanded feed; a higher acceleration helps where corners are the limit."
    return Limit(place, form, log_exact(SLOWER_BY), f"{_words(cutting)} Line {place.line} loses most.", do)


def _words(cutting: Cutting) -> str:
    part = cutting.commanded_s / cutting.reached_s
    return f"Cutting takes {duration(cutting.reached_s)}; the feeds commanded say {duration(cutting.commanded_s)} ({part:.0%} of the feed is reached)."


def _notes(cutting: Cutting) -> tuple[str, ...]:
    if not cutting.bracketed_by:
        return ()
    return (
        f"Between {duration(cutting.quickest_s)} and {duration(cutting.slowest_s)} of cutting, by what the control can plan.",
    )
