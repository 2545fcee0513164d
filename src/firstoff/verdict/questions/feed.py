"""Time: is the feed reached, and how long does it take?"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Leaning
from firstoff.motion.summary import SlowRun
from firstoff.motion.timeline import LimitedBy
from firstoff.program.moves import PLANE_AXES, Floats, Kind, What
from firstoff.verdict.case import AXES, Case, Cutting
from firstoff.verdict.forms import Form, Scale, log_exact, of
from firstoff.verdict.question import Along, Answer, Check, Counted, Finding, Limit, Need, Place, Question, Risk
from firstoff.verdict.words import duration

QUESTION = Question("feed", Risk.TIME, "Is the feed reached, and how long does it take?")
SLOWER_BY = 1.25
"""Cutting may take this many times as long as the feeds commanded say before it is worth a word: chips thin in the same proportion, and
a fifth less lies inside the band that cutting data are given in (common practice)."""
MOST_SLOW = 5
LEAST_TOLD_S = 0.1
LONGEST_WAIT_S = 60.0
"""A dwell beyond this is worth a word: spindles are at speed and probes still long before (common practice)."""


def find(case: Case, facts: Leaning) -> Finding:
    """Cutting time at the feed reached over cutting time at the feed commanded; a bracket where a control fact is not known."""
    for path in case.timeline_missing:
        facts.number(path)
    if any(event.what is What.TOOL_CHANGE for event in case.reading.events):
        facts.number("machine.changer.change_time")
    needs = [*case.lost, *_no_feed(case)]
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
    limits = _limits(case, cutting, form) or [Limit(Place(0), form, log_exact(SLOWER_BY), _words(cutting), "")]
    checks = (
        Check(Scale.RATIO, "", tuple(limits), (), _words(cutting)),
        Check(Scale.COUNT, "", (), tuple(_long_waits(case))),
        Check(Scale.RATIO, "", tuple(_beyond_axes(case, facts))),
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


def _beyond_axes(case: Case, facts: Leaning) -> list[Limit]:
    """The cut that asks most of each axis, where that is more than it goes: controls then go slower or stop with an alarm (common practice),
    and a zero too many looks like this."""
    limits = []
    known = [facts.number_if_known(f"machine.axis.{name}.max_feed") for name in AXES]
    least = min((fact.value for fact in known if fact is not None), default=math.inf)
    asked = np.nan_to_num(case.moves.feed_mm_per_s)
    cuts = np.isin(case.moves.kind, [int(Kind.FEED), int(Kind.ARC)])
    moves = np.flatnonzero(case.feeding & case.sure & (asked > least) & cuts)
    moves = moves[moves > 0]
    share = _shares(case, moves)
    for axis, fact in enumerate(known):
        goes = asked[moves] * share[:, axis]
        if fact is None or not goes.size or goes.max() <= fact.value:
            continue
        worst = int(np.argmax(goes))
        place, speed = case.place(int(moves[worst])), case.units.feed
        what = (
            f"Line {place.line}: {speed(float(asked[moves[worst]]))} are asked, and {AXES[axis].upper()} goes {speed(fact.value)} at most: "
            "the control goes slower, or stops with an alarm."
        )
        faster = goes > 0
        along = _all_of(case, moves[faster], np.log(goes[faster]))
        limits.append(
            Limit(place, log_exact(float(goes[worst])) - of(fact), log_exact(1.0), what, _WHY[LimitedBy.FEED][1], along)
        )
    return limits


def _shares(case: Case, moves: NDArray[np.intp]) -> Floats:
    """f8[K, 3]: the greatest part of its feed that each axis must go on the way of a move; of an arc below half a turn nothing is said."""
    way = case.moves.end_mm[moves] - case.moves.end_mm[moves - 1]
    same = case.moves.frame[moves] == case.moves.frame[moves - 1]
    way = np.where(same & np.isfinite(way), way, 0.0)
    share: Floats = np.abs(way) / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
    arcs = case.reading.arcs
    for k in np.flatnonzero(case.moves.kind[moves] == Kind.ARC).tolist():
        row = int(case.moves.arc[moves[k]])
        round_mm, rise_mm = arcs.radius_mm[row] * abs(arcs.sweep_rad[row]), arcs.rise_mm[row]
        share[k] = 0.0
        if abs(arcs.sweep_rad[row]) >= math.pi - 1e-6:  # half a turn has each of its axes alone in some place
            share[k, list(PLANE_AXES[int(arcs.plane[row])][:2])] = round_mm / math.hypot(round_mm, rise_mm)
    return share


def _all_of(case: Case, moves: NDArray[np.intp], logs: Floats) -> Callable[[], Along]:
    return lambda: case.along(moves, logs, float(logs.max()))


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


def _limits(case: Case, cutting: Cutting, form: Form) -> list[Limit]:
    """A limit for each slow run, worst first: how long the whole of cutting takes, once the runs before it are mended."""
    limits = []
    left = cutting.reached_s
    for run in cutting.slow[:MOST_SLOW]:
        limits.append(_limit(case, run, form + math.log(left / cutting.reached_s)))
        left -= run.lost_s
    if limits:
        limits[0] = replace(limits[0], what=f"{limits[0].what[:-1]}; {_in_all(cutting)}")
    return limits


def _limit(case: Case, run: SlowRun, form: Form) -> Limit:
    """One run of moves held down by one reason."""
    place, units = case.place(run.first), case.units
    last = int(case.moves.line[run.last])
    where = f"Line {place.line}" if last == place.line else f"Lines {place.line} to {last}"
    blocks = f" ({run.blocks} blocks)" if run.blocks > 1 else ""
    why, do = _WHY[run.why]
    many = run.blocks > 1
    lost = duration(run.lost_s) if run.lost_s >= LEAST_TOLD_S else f"less than {LEAST_TOLD_S:g} s"
    what = (
        f"{where}{blocks} {'reach' if many else 'reaches'} {units.feed(run.reached_mm_per_s)} of the "
        f"{units.feed(run.commanded_mm_per_s)} asked and {'lose' if many else 'loses'} {lost}, because {why}."
    )
    return Limit(place, form, log_exact(SLOWER_BY), what, do)


_RAMPS = "Longer moves, rounder corners or a lower feed lose less; no change is needed where the time does not matter."
_CORNERS = "Round the corners, cut what was curved into fewer pieces, or ask for a lower feed there."
_BLOCKS = "Let the program's maker write arcs, or longer lines within the tolerance asked; else ask for the feed that is reached."
_WHY: dict[LimitedBy, tuple[str, str]] = {
    LimitedBy.NOTHING: ("the axes must come up to feed and down again", _RAMPS),
    LimitedBy.FEED: (
        "an axis goes no faster",
        "Ask for a feed that every axis can go, and look whether this F was meant.",
    ),
    LimitedBy.ACCELERATION: ("the moves are too short to come up to feed", _RAMPS),
    LimitedBy.JERK: ("the moves are too short to come up to feed", _RAMPS),
    LimitedBy.CORNER: ("corners may not be cut by more than the control is told", _CORNERS),
    LimitedBy.ARC: ("the axes cannot turn so tight at that feed", "Ask for a lower feed in the arc, or make it wider."),
    LimitedBy.BLOCK_RATE: ("the control works off no more blocks a second", _BLOCKS),
    LimitedBy.LOOK_AHEAD: ("the control must be able to stop within the blocks that it sees ahead", _BLOCKS),
}
"""Why a run is slow, and what to do about it."""


def _in_all(cutting: Cutting) -> str:
    times = cutting.reached_s / cutting.commanded_s
    return (
        f"all cutting takes {times:.2f} times as long as asked ({duration(cutting.reached_s)} for {duration(cutting.commanded_s)}; "
        f"{SLOWER_BY:g} times is worth a word)."
    )


def _words(cutting: Cutting) -> str:
    part = cutting.commanded_s / cutting.reached_s
    return f"Cutting takes {duration(cutting.reached_s)}; the feeds commanded say {duration(cutting.commanded_s)} ({part:.0%} of the feed is reached)."


def _notes(cutting: Cutting) -> tuple[str, ...]:
    if not cutting.bracketed_by:
        return ()
    return (
        f"Between {duration(cutting.quickest_s)} and {duration(cutting.slowest_s)} of cutting, by what the control can plan.",
    )
