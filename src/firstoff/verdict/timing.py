"""From motion facts to a timeline, and to what cutting costs in time, with its gradient."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from firstoff.facts.fact import FactSet
from firstoff.motion.plan import plan_motion
from firstoff.motion.timeline import MotionLimits, Timeline
from firstoff.path.track import Track
from firstoff.program.moves import Reading, What
from firstoff.verdict.case import AXES, FEED_KINDS, Cutting

BLOCK_RATE = "machine.control.block_rate"
LOOK_AHEAD = "machine.control.look_ahead"
CORNER = "machine.control.corner_tolerance"
STEP = 0.02
"""Part by which a limit is moved to find how the time follows it: small against every u, large against rounding."""
MOST_SLOW = 20


@dataclass(frozen=True, slots=True)
class Timing:
    """The timeline of a program with what it says about cutting; `missing` names the motion facts that are not known."""

    timeline: Timeline | None
    cutting: Cutting | None
    missing: tuple[str, ...]


def needed_paths(used_axes: tuple[int, ...]) -> tuple[str, ...]:
    """Motion facts without which no feed can be planned, for the axes that a program moves."""
    return tuple(f"machine.axis.{AXES[axis]}.{limit}" for axis in used_axes for limit in ("max_feed", "accel", "jerk"))


def motion_limits(facts: FactSet, used_axes: tuple[int, ...]) -> MotionLimits:
    """Limits at best estimates; an axis that does not move gets boundless ones; unknown control facts are None."""

    def value(path: str) -> float | None:
        fact = facts.facts.get(path)
        return None if fact is None else fact.value

    def axes(limit: str) -> tuple[float, float, float]:
        known = [value(f"machine.axis.{AXES[axis]}.{limit}") if axis in used_axes else None for axis in range(3)]
        x, y, z = (math.inf if one is None else one for one in known)
        return x, y, z

    look_ahead = value(LOOK_AHEAD)
    return MotionLimits(
        axes("max_feed"),
        axes("accel"),
        axes("jerk"),
        value(CORNER),
        None if look_ahead is None else round(look_ahead),
        value(BLOCK_RATE),
        value("machine.changer.change_time") or 0.0,
        value("machine.spindle.run_up") or 0.0,
    )


def time_program(reading: Reading, track: Track, facts: FactSet) -> Timing:
    """Plan the motion of a program and find what its cutting time hangs on."""
    used = used_axes(track)
    missing = tuple(path for path in needed_paths(used) if path not in facts.facts)
    if missing or not used:
        return Timing(None, None, missing)
    limits = motion_limits(facts, used)
    timeline = plan_motion(track, limits, pauses(reading, limits))
    return Timing(timeline, _cutting(track, timeline, facts, used), ())


def used_axes(track: Track) -> tuple[int, ...]:
    """Axes that move at all."""
    moved = np.nan_to_num(np.abs(track.end_mm - track.start_mm), nan=0.0) > 0
    arcs = np.flatnonzero(track.moves.arc >= 0)
    used = {axis for axis in range(3) if bool(moved[:, axis].any())}
    if arcs.size:
        planes = set(track.arcs.plane[track.moves.arc[arcs]].tolist())
        for plane, axes in ((17, (0, 1)), (18, (2, 0)), (19, (1, 2))):
            used |= set(axes) if plane in planes else set()
    return tuple(sorted(used))


def pauses(reading: Reading, limits: MotionLimits) -> tuple[tuple[int, float], ...]:
    """(move before which the program waits, seconds) of tool changes; a stop waits for a person, and nobody can plan that."""
    return tuple((event.before, limits.change_time_s) for event in reading.events if event.what is What.TOOL_CHANGE)


def _cutting(track: Track, timeline: Timeline, facts: FactSet, used: tuple[int, ...]) -> Cutting | None:
    commanded, reached, quickest, slowest = cutting_seconds(track, timeline)
    if commanded <= 0:
        return None
    exponents = []
    for path in (*needed_paths(used), BLOCK_RATE, CORNER):
        fact = facts.facts.get(path)
        if fact is None:
            continue
        if fact.u == 0.0 or fact.value <= 0:
            exponents.append((path, 0.0))  # leaned on, but without doubt: its gradient moves nothing
            continue
        up, down = (
            _reached(track, motion_limits(facts.with_values({path: fact.value * factor}), used))
            for factor in (1 + STEP, 1 - STEP)
        )
        exponents.append((path, math.log(up / down) / math.log((1 + STEP) / (1 - STEP))))
    if facts.facts.get(LOOK_AHEAD) is not None:
        exponents.append((LOOK_AHEAD, 0.0))
    return Cutting(
        commanded, reached, quickest, slowest, tuple(exponents), _slow_moves(track, timeline), timeline.bracketed_by
    )


def _reached(track: Track, limits: MotionLimits) -> float:
    return cutting_seconds(track, plan_motion(track, limits, ()))[1]


def cutting_seconds(track: Track, timeline: Timeline) -> tuple[float, float, float, float]:
    """Seconds of cutting as commanded, as reached, in the quickest and in the slowest plan."""
    cuts = _timed_cuts(track)
    length = track.length_mm[cuts]
    commanded = float(np.sum(length / track.moves.feed_mm_per_s[cuts]))
    feeds = (timeline.mean_feed_likely, timeline.mean_feed_high, timeline.mean_feed_low)
    reached, quickest, slowest = (float(np.sum(length / feed[cuts])) for feed in feeds)
    return commanded, reached, quickest, slowest


def _timed_cuts(track: Track) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    feeding = np.isin(track.moves.kind, [int(kind) for kind in FEED_KINDS])
    timed = feeding & (track.length_mm > 0) & (np.nan_to_num(track.moves.feed_mm_per_s) > 0)
    return np.flatnonzero(timed)


def _slow_moves(track: Track, timeline: Timeline) -> tuple[tuple[int, float], ...]:
    cuts = _timed_cuts(track)
    lost = track.length_mm[cuts] * (1 / timeline.mean_feed_likely[cuts] - 1 / track.moves.feed_mm_per_s[cuts])
    order = np.argsort(-lost, kind="stable")[:MOST_SLOW]
    return tuple((int(cuts[index]), float(lost[index])) for index in order if lost[index] > 0)
