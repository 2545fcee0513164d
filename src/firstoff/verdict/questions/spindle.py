"""Machine: is the spindle on, the right way, in range, and at speed at first contact?"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Fact, Leaning
from firstoff.program.moves import NO_TOOL, Event, Kind, What
from firstoff.verdict.case import STOCK_TOPS, Case, below_safe_height, stock_top_mm, unread
from firstoff.verdict.forms import Form, Scale, exact, log_exact, of
from firstoff.verdict.probes import with_a_probe
from firstoff.verdict.question import Answer, Check, Counted, Finding, Limit, Question, Risk
from firstoff.verdict.tools import spindle_tool
from firstoff.verdict.words import duration, speed

QUESTION = Question(
    "spindle", Risk.MACHINE, "Is the spindle on, the right way, in range, and at speed at first contact?"
)
SAME_SPEED = 1e-9
"""Rounding of turns a minute to turns a second."""
CHANGE_WORTH_WAITING = 0.1
"""A change of speed by less than this part of it needs no wait: the motor is there within a turn or two (common practice)."""


def find(case: Case, facts: Leaning) -> Finding:
    """On and right-handed at every cut; each speed between lowest and highest; run-up done at the first cut."""
    cutting = below_safe_height(case, facts) & ~with_a_probe(case, facts)  # what must not turn needs no spindle on
    counted = _off(case, cutting) + _wrong_way(case, facts, cutting & (case.moves.kind != Kind.TAP)) + _probing(case)
    speeds = _range(case, facts, cutting)
    waits = _run_up(case, facts, cutting)
    if (counted or waits) and stock_top_mm(case, facts) is None:
        # Without the blank every feed may be a cut or may not: neither stop nor clear.
        facts.number(STOCK_TOPS[0])
        counted = [replace(item, severity=Answer.UNJUDGED) for item in counted]
        waits = []
    checks = (
        Check(Scale.COUNT, "", (), tuple(counted), "On and turning the right way at every cut."),
        Check(Scale.RATIO, "1/min", tuple(speeds), (), "Every speed is inside the spindle's range." if speeds else ""),
        Check(Scale.DIFFERENCE, "s", tuple(waits), (), "At speed before each first cut." if waits else ""),
    )
    return Finding(checks, unread(case))


def _off(case: Case, cutting: NDArray[np.bool_]) -> list[Counted]:
    moves = case.moves
    stopped = cutting & (moves.spindle_per_s == 0)
    unset = cutting & np.isnan(moves.spindle_per_s)
    counted = []
    for mask, state in ((stopped, "stands still"), (unset, "turns at a speed that was never given")):
        for first, length in _stretches(mask):
            place = case.place(first)
            if state == "stands still" and _touch_off(case, first, length):
                what = f"Line {place.line}: the tool goes down at feed with the spindle off; it looks like a touch-off."
                counted.append(
                    Counted(place, what, "Be ready with the feed override; say M3 first if it is a cut.", Answer.CARE)
                )
                continue
            what = f"Line {place.line}: the tool feeds into the work while the spindle {state}."
            do = (
                f"Add S and M3 before line {place.line}."
                if state == "stands still"
                else f"Add an S word before line {place.line}."
            )
            counted.append(Counted(place, what, do, Answer.STOP))
    return counted


def _touch_off(case: Case, first: int, length: int) -> bool:
    """One single move straight down at feed, then nothing at feed until spindle or tool is switched: a tool set against the work."""
    moves = case.moves
    if length != 1 or first == 0 or moves.kind[first] != Kind.FEED or moves.parent[first] >= 0:
        return False
    down = moves.end_mm[first] - moves.end_mm[first - 1]
    if not (np.isfinite(down).all() and down[0] == 0 and down[1] == 0 and down[2] < 0):
        return False
    later = np.flatnonzero(case.feeding[first + 1 :])
    next_feed = first + 1 + int(later[0]) if later.size else len(moves)
    switches = (What.SPINDLE, What.STOP, What.TOOL_CHANGE)
    return any(first < event.before <= next_feed and event.what in switches for event in case.reading.events)


def _probing(case: Case) -> list[Counted]:
    """A probe is never driven into the part with the spindle turning."""
    turning = (case.moves.kind == Kind.PROBE) & ~(case.moves.spindle_per_s == 0)
    return [
        Counted(
            case.place(first),
            f"Line {case.place(first).line}: the program probes while the spindle turns.",
            "Add M5 and wait for the spindle before the probing move.",
            Answer.STOP,
        )
        for first, _ in _stretches(turning)
    ]


def _wrong_way(case: Case, facts: Leaning, cutting: NDArray[np.bool_]) -> list[Counted]:
    ways = facts.setting("machine.spindle.directions")
    counted = []
    for first, _ in _stretches(cutting & (case.moves.spindle_per_s < 0)):
        place = case.place(first)
        able = isinstance(ways, tuple) and "ccw" in ways
        what = f"Line {place.line}: the spindle turns backwards (M4) while the tool feeds."
        more = "" if able or ways is None else " This spindle only turns clockwise."
        counted.append(Counted(place, what + more, "Change M4 to M3; M4 only cuts with a left-hand tool.", Answer.STOP))
    return counted


def _range(case: Case, facts: Leaning, cutting: NDArray[np.bool_]) -> list[Limit]:
    low, high = facts.number("machine.spindle.speed.low"), facts.number("machine.spindle.speed.high")
    limits: list[Limit] = []
    turning = cutting & np.isfinite(case.moves.spindle_per_s) & (case.moves.spindle_per_s != 0)
    if not bool(turning.any()):
        return limits
    called = np.abs(case.moves.spindle_per_s)
    for tool in np.unique(case.moves.tool[turning]).tolist():
        mine = np.flatnonzero(turning & (case.moves.tool == tool))
        fastest, slowest = int(mine[np.argmax(called[mine])]), int(mine[np.argmin(called[mine])])
        if high is not None:
            limits.append(_too_fast(case, fastest, called[fastest], high, "the spindle's highest"))
        if low is not None:
            limits.append(_too_slow(case, slowest, called[slowest], low))
        name = spindle_tool(facts, tool) if tool != NO_TOOL else None
        rated = facts.number_if_known(f"tools.{name}.max_speed") if name else None
        if rated is not None:
            limits.append(_too_fast(case, fastest, called[fastest], rated, f"the highest {name} is made for"))
    return limits


def _too_fast(case: Case, move: int, called: float, high: Fact, whose: str) -> Limit:
    place = case.place(move)
    over = "above" if called > high.value * (1 + SAME_SPEED) else "within"
    what = f"Line {place.line}: S asks {speed(called)}, {over} {whose} of {speed(high.value)}."
    do = f"Write at most S{high.value * 60:.0f} and lower the feed in the same proportion."
    # The order and the limit are read off one scale: an order at or below the limit has no doubt to fear.
    limit = of(high) if called > high.value * (1 + SAME_SPEED) else log_exact(max(high.value, called))
    return Limit(place, _per_min(log_exact(called)), _per_min(limit), what, do)


def _too_slow(case: Case, move: int, called: float, low: Fact) -> Limit:
    place = case.place(move)
    side = "below" if called < low.value * (1 - SAME_SPEED) else "not below"
    what = f"Line {place.line}: S asks {speed(called)}, {side} the spindle's lowest of {speed(low.value)}."
    do = f"Write at least S{low.value * 60:.0f} or take a smaller tool."
    limit = of(low) if called < low.value * (1 - SAME_SPEED) else log_exact(min(low.value, called))
    return Limit(place, _per_min(limit), _per_min(log_exact(called)), what, do)


def _per_min(form: Form) -> Form:
    """Turns a second to turns a minute, in logarithms."""
    return form + math.log(60.0)


def _run_up(case: Case, facts: Leaning, cutting: NDArray[np.bool_]) -> list[Limit]:
    """Time from each start or change of speed to the next cut, held against its part of the run-up."""
    run_up = facts.number("machine.spindle.run_up")
    if run_up is None:
        return []
    limits = []
    for event, part, cut in _changes(case, cutting):
        waited, sure = _time_between(case, event.before, cut)
        needed = of(run_up, part)
        takes, doubt = run_up.value * part, run_up.u * part
        if not sure and waited < takes + 2 * doubt:
            facts.setting("machine.control.dwell_p")
            continue
        place = case.place(cut)
        short = takes - waited
        verb = "is not yet at speed" if short > 0 else "is at speed"
        since = f"{duration(waited)} after line {event.line}"
        what = f"Line {place.line}: the spindle {verb} at the next cut: {since}, which needs {duration(takes)}."
        wait = math.ceil(max(short, 0.0) + 2 * doubt + 0.5)
        do = f'Dwell {wait} s after line {event.line}; if the control waits for the speed by itself, write run_up = "0 s".'
        limits.append(Limit(place, needed, exact(waited), what, do))
    return limits


def _changes(case: Case, cutting: NDArray[np.bool_]) -> list[tuple[Event, float, int]]:
    """(event, part of a full run-up, next cut) for each start and each change of speed or way that a cut follows under power.

    A full run-up is from rest to the speed called; a change needs its part of that, a reversal needs both ways.
    """
    cuts = np.flatnonzero(cutting)
    events = [event for event in case.reading.events if event.what is What.SPINDLE]
    found = []
    before = 0.0
    for number, event in enumerate(events):
        now = event.value
        changed = abs(now - before) / abs(now) if now != 0 and np.isfinite(now) and np.isfinite(before) else 1.0
        before = now
        until = events[number + 1].before if number + 1 < len(events) else len(case.moves)
        later = cuts[np.searchsorted(cuts, event.before) : np.searchsorted(cuts, until)]
        if now != 0 and later.size and changed > CHANGE_WORTH_WAITING:
            found.append((event, float(changed), int(later[0])))
    return found


def _time_between(case: Case, start: int, cut: int) -> tuple[float, bool]:
    """(least seconds from the start of one move to the start of another, whether every dwell between them is understood).

    Moves count at their quickest plan: what the control may not be held to gives no time to a spindle. Where the motion facts are
    missing only the dwells are sure.
    """
    dwelling = case.moves.kind[start:cut] == Kind.DWELL
    dwells = case.moves.feed_mm_per_s[start:cut][dwelling]
    waited = float(np.nansum(dwells))
    line = case.timeline
    if line is not None:
        likely, quickest = line.mean_feed_likely[start:cut], line.mean_feed_high[start:cut]
        faster = np.divide(likely, quickest, out=np.ones(cut - start), where=quickest > 0)
        waited += float(np.sum((line.move_s[start:cut] * faster)[~dwelling]))
    return waited, bool(np.isfinite(dwells).all())


def _stretches(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """(first index, length) of each unbroken stretch of True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return [(int(a), int(b - a)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
