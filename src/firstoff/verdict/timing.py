"""From motion facts to a timeline, and to what cutting costs in time, with its gradient."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from firstoff.facts.fact import FactSet
from firstoff.motion.plan import Plan, plan_of, timeline_of
from firstoff.motion.summary import cutting_time, pauses_of, slow_runs, time_sensitivity
from firstoff.motion.timeline import MotionLimits, Pause, Timeline
from firstoff.path.track import Track
from firstoff.program.moves import Reading
from firstoff.verdict.case import AXES, Cutting

BLOCK_RATE = "machine.control.block_rate"
LOOK_AHEAD = "machine.control.look_ahead"
CORNER = "machine.control.corner_tolerance"
MOST_SLOW = 20


@dataclass(frozen=True, slots=True)
class Timing:
    """The motion of a program as planned; `missing` names the motion facts that are not known."""

    timeline: Timeline | None
    missing: tuple[str, ...]
    plan: Plan | None = None
    used: tuple[int, ...] = ()
    """Axes that move at all."""


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
    """Plan the motion of a program."""
    used = used_axes(track)
    missing = tuple(path for path in needed_paths(used) if path not in facts.facts)
    if missing or not used:
        return Timing(None, missing)
    limits = motion_limits(facts, used)
    plan = plan_of(track, limits, pauses(reading, limits))
    return Timing(timeline_of(plan), (), plan, used)


def used_axes(track: Track) -> tuple[int, ...]:
    """Axes that move at all."""
    arcs = np.flatnonzero(track.moves.arc >= 0)
    used = {axis for axis, step in enumerate(track.step_mm.T) if bool(((step != 0) & ~np.isnan(step)).any())}
    if arcs.size:
        planes = set(track.arcs.plane[track.moves.arc[arcs]].tolist())
        for plane, axes in ((17, (0, 1)), (18, (2, 0)), (19, (1, 2))):
            used |= set(axes) if plane in planes else set()
    return tuple(sorted(used))


def pauses(reading: Reading, limits: MotionLimits) -> tuple[Pause, ...]:
    """Tool changes, and stops of no length: how long a person takes is not planned. Whether the control waits for the spindle is a
    question of its own, so its run-up is no pause here."""
    return tuple(pause for pause in pauses_of(reading.events, limits) if pause.kind != "run-up")


def cutting_of(timing: Timing, facts: FactSet) -> Cutting | None:
    """What cutting costs in time, and what that hangs on. Samples of a long program are planned anew for it, so it takes its time."""
    if timing.plan is None or timing.timeline is None:
        return None
    plan, timeline, used, track = timing.plan, timing.timeline, timing.used, timing.plan.shape.track
    time = cutting_time(timeline, track)
    if time.commanded_s <= 0:
        return None
    known = [path for path in (*needed_paths(used), BLOCK_RATE, CORNER, LOOK_AHEAD) if path in facts.facts]
    # A fact without doubt is leaned on, but its gradient moves nothing: no plan is made for it.
    doubted = {path for path in known if facts.facts[path].u > 0}
    gradient = time_sensitivity(plan, doubted) if doubted else {}
    exponents = tuple((path, gradient[path].cutting if path in gradient else 0.0) for path in known)
    slow = slow_runs(timeline, track, MOST_SLOW)
    return Cutting(
        time.commanded_s, time.reached_s, time.quickest_s, time.slowest_s, exponents, slow, timeline.bracketed_by
    )
