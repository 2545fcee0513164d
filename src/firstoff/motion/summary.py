"""What a timeline says about cutting: time at the feed commanded and at the feed reached, where time is lost, and what it hangs on."""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstoff.motion.plan import (
    BLOCK_RATE,
    CORNER_TOLERANCE,
    LOOK_AHEAD,
    LimitedPath,
    Plan,
    Shape,
    controls,
    path_of,
    run,
    total_seconds,
)
from firstoff.motion.sampling import Moved, Sensitivity, in_pairs, sampled
from firstoff.motion.timeline import LimitedBy, MotionLimits, Pause, Timeline
from firstoff.path.track import Track
from firstoff.program.moves import Event, Flag, Floats, Kind, What

CUTTING = (Kind.FEED, Kind.ARC, Kind.TAP)
"""Kinds of moves made at feed in the work; so is a G53 move made at feed."""
STEP = 0.01
"""Part by which a limit is raised and lowered to find how time follows it: small against every doubt, large against rounding."""
CHANGE_TIME = "machine.changer.change_time"
RUN_UP = "machine.spindle.run_up"
_PAUSE_FACTS = {"change": CHANGE_TIME, "run-up": RUN_UP}


@dataclass(frozen=True, slots=True)
class ToolTime:
    """Seconds that one tool cuts: at the feeds commanded, and at those reached."""

    tool: int
    commanded_s: float
    reached_s: float


@dataclass(frozen=True, slots=True)
class CuttingTime:
    """Seconds of cutting, in all and by tool in the order of first use. `quickest_s` and `slowest_s` part where facts are unknown."""

    commanded_s: float
    reached_s: float
    quickest_s: float
    slowest_s: float
    tools: tuple[ToolTime, ...]


@dataclass(frozen=True, slots=True)
class SlowRun:
    """Consecutive cutting moves of one tool that take longer than their commanded feeds say, all for one reason: one place, however many
    blocks it is written in. Feeds are means over the way of the run."""

    first: int
    last: int
    """First and last move."""
    blocks: int
    lost_s: float
    reached_mm_per_s: float
    commanded_mm_per_s: float
    why: LimitedBy
    """The reason of most of its time lost; one of a kind (`_KIN`) holds all of it."""


def cutting_time(timeline: Timeline, track: Track) -> CuttingTime:
    """Time of all cutting moves that have a time."""
    cuts = _cuts(timeline, track)
    length = track.length_mm[cuts]
    commanded = length / track.moves.feed_mm_per_s[cuts]
    reached = timeline.move_s[cuts]
    tool = track.moves.tool[cuts]
    _, first = np.unique(tool, return_index=True)
    tools = tuple(
        ToolTime(int(number), float(commanded[tool == number].sum()), float(reached[tool == number].sum()))
        for number in tool[np.sort(first)]
    )
    quickest, slowest = (
        float((length / feed[cuts]).sum()) for feed in (timeline.mean_feed_high, timeline.mean_feed_low)
    )
    return CuttingTime(float(commanded.sum()), float(reached.sum()), quickest, slowest, tools)


def slow_runs(timeline: Timeline, track: Track, most: int = 5) -> tuple[SlowRun, ...]:
    """The runs of cutting moves that lose most time against their commanded feeds, worst first; of equal ones the earlier first."""
    cuts = _cuts(timeline, track)
    why, tool = timeline.limited_by[cuts], track.moves.tool[cuts]
    kin = np.array([_KIN[LimitedBy(number)] for number in range(len(LimitedBy))])[why]
    told, taken = track.length_mm[cuts] / track.moves.feed_mm_per_s[cuts], timeline.move_s[cuts]
    if not cuts.size:
        return ()
    apart = (np.diff(cuts) > 1) | (np.diff(kin) != 0) | (np.diff(tool) != 0)
    starts = np.flatnonzero(np.concatenate([[True], apart]))
    ends = np.append(starts[1:], cuts.size)
    lost = np.add.reduceat(taken - told, starts)
    order = np.lexsort((starts, -np.round(lost, 3)))  # what differs by less than a ms only differs by rounding
    slow = order[(lost[order] > 0.0) & (why[starts[order]] != LimitedBy.NOTHING)][:most]
    return tuple(
        _slow_run(slice(int(starts[k]), int(ends[k])), cuts, track.length_mm[cuts], told, taken, why)
        for k in slow.tolist()
    )


_KIN = {reason: LimitedBy.ACCELERATION if reason is LimitedBy.JERK else reason for reason in LimitedBy}
"""Reasons that count as one: acceleration comes no faster than jerk lets it."""


def _slow_run(
    here: slice, cuts: NDArray[np.intp], length: Floats, told: Floats, taken: Floats, why: NDArray[np.uint8]
) -> SlowRun:
    moves, way = cuts[here], float(length[here].sum())
    by_reason = np.bincount(why[here], weights=np.maximum(taken[here] - told[here], 0.0))
    return SlowRun(
        int(moves[0]),
        int(moves[-1]),
        int(moves.size),
        float((taken[here] - told[here]).sum()),
        way / float(taken[here].sum()),
        way / float(told[here].sum()),
        LimitedBy(int(np.argmax(by_reason))),
    )


def _cuts(timeline: Timeline, track: Track) -> NDArray[np.intp]:
    """Numbers of the cutting moves that have a way and a time."""
    return np.flatnonzero(_cutting(track) & (timeline.mean_feed_likely > 0))


def _cutting(track: Track) -> NDArray[np.bool_]:
    moves = track.moves
    fed = (moves.kind == Kind.MACHINE) & ((moves.flags & Flag.FEEDING) != 0)
    cutting: NDArray[np.bool_] = np.isin(moves.kind, [int(kind) for kind in CUTTING]) | fed
    return cutting


def pauses_of(events: Iterable[Event], limits: MotionLimits) -> tuple[Pause, ...]:
    """Pauses that a program's events bring: tool changes, the spindle's run-up from rest, and stops (0 s: how long a person takes is
    not planned). That the control waits for the run-up is common practice."""
    pauses = []
    turning = 0.0
    for event in events:
        if event.what is What.TOOL_CHANGE:
            pauses.append(Pause(event.before, limits.change_time_s, "change"))
            turning = 0.0
        elif event.what is What.SPINDLE:
            if event.value != 0.0 and turning == 0.0:
                pauses.append(Pause(event.before, limits.run_up_s, "run-up"))
            turning = event.value
        elif event.what in (What.STOP, What.OPTIONAL_STOP):
            pauses.append(Pause(event.before, 0.0, "stop"))
    return tuple(pauses)


def time_sensitivity(plan: Plan, wanted: Container[str] | None = None) -> Mapping[str, Sensitivity]:
    """How the likely plan's time follows each known limit, by the path of its fact: one plan above and one below.

    Where two axes limit alike, each has half of what both would do. Unknown limits are left out: what they do is the timeline's
    bracket. So are limits without bound, and limits that are not `wanted` (None: all are). Where a limit does not act the answer is 0.
    A long program is asked by samples of it (`sampling`), if those tell enough.
    """
    shape, track = plan.shape, plan.shape.track
    now, cutting = total_seconds(shape, plan.likely), _cutting(track)[shape.moving]
    moved = [one for one in _moved(plan.limits) if wanted is None or one[0] in wanted]
    found = sampled(plan, cutting, moved)
    if found is None:
        slopes = in_pairs(lambda one: _slopes(shape, plan.path, cutting, one), moved, len(track.moves))
        found = {one[0]: Sensitivity(*each) for one, each in zip(moved, slopes, strict=True)}
    for kind, name in _PAUSE_FACTS.items():
        seconds = sum(pause[1] for pause in plan.pauses if (pause[2] if len(pause) > 2 else "change") == kind)
        if seconds > 0.0:
            found[name] = Sensitivity(seconds / now, 0.0)
    return found


def _slopes(shape: Shape, path: LimitedPath, cutting: NDArray[np.bool_], one: Moved) -> tuple[float, float]:
    name, lower, upper, ratio = one
    kept = name.startswith("machine.control.")  # the path itself does not hang on the control
    below, above = (_seconds(shape, path if kept else path_of(shape, each), cutting, each) for each in (lower, upper))
    whole, cut = (math.log(b / a) / math.log(ratio) if a > 0 else 0.0 for a, b in zip(below, above, strict=True))
    return whole, cut


def _seconds(shape: Shape, path: LimitedPath, cutting: NDArray[np.bool_], limits: MotionLimits) -> tuple[float, float]:
    """Time of the whole program and of its cutting, likely plan."""
    one = run(shape, path, controls(limits)[0])
    return total_seconds(shape, one), float(np.diff(one.end_s, prepend=0.0)[cutting].sum())


def _moved(limits: MotionLimits) -> Iterable[Moved]:
    """Each known limit lowered and raised by `STEP`: path of its fact, all limits twice, ratio of the two."""
    ratio = (1 + STEP) / (1 - STEP)
    for axis, letter in enumerate("xyz"):
        for name, values in _ROWS.items():
            row = values(limits)
            if math.isfinite(row[axis]):
                lower, upper = (_with_axis(limits, name, axis, row[axis] * factor) for factor in (1 - STEP, 1 + STEP))
                yield f"machine.axis.{letter}.{name}", lower, upper, ratio
    tolerance, ahead, rate = limits.corner_tolerance_mm, limits.look_ahead, limits.block_rate_per_s
    if tolerance:
        lower, upper = (replace(limits, corner_tolerance_mm=tolerance * factor) for factor in (1 - STEP, 1 + STEP))
        yield CORNER_TOLERANCE, lower, upper, ratio
    if ahead is not None:
        step = max(1, round(ahead * STEP))  # whole blocks only, and one at least
        fewer, more = max(ahead - step, 1), ahead + step
        yield LOOK_AHEAD, replace(limits, look_ahead=fewer), replace(limits, look_ahead=more), more / fewer
    if rate is not None and math.isfinite(rate):
        lower, upper = (replace(limits, block_rate_per_s=rate * factor) for factor in (1 - STEP, 1 + STEP))
        yield BLOCK_RATE, lower, upper, ratio


_ROWS: dict[str, Callable[[MotionLimits], tuple[float, float, float]]] = {
    "max_feed": lambda limits: limits.max_feed_mm_per_s,
    "accel": lambda limits: limits.accel_mm_per_s2,
    "jerk": lambda limits: limits.jerk_mm_per_s3,
}


def _with_axis(limits: MotionLimits, name: str, axis: int, value: float) -> MotionLimits:
    x, y, z = (value if k == axis else old for k, old in enumerate(_ROWS[name](limits)))
    if name == "max_feed":
        return replace(limits, max_feed_mm_per_s=(x, y, z))
    return replace(limits, accel_mm_per_s2=(x, y, z)) if name == "accel" else replace(limits, jerk_mm_per_s3=(x, y, z))
