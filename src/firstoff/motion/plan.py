"""From a track and the machine's limits to a timeline.

What the plan takes for granted, where a control could do otherwise:

- between rapid and feed, before and after a tap, a probing move, a homing leg, a dwell and a pause, the machine comes to rest;
- a rapid goes straight, as fast as its slowest axis allows; so do homing legs and G53 moves unless they are made at feed;
- where no exact stop is called for, a corner is passed at the speed at which an arc within the corner tolerance, touching both sides and
  no longer than half the shorter of them, can be followed with the axes' acceleration. The path itself is not rounded here: speed
  jumps in direction at such a corner, by what that arc would turn;
- acceleration is nil where the path turns by more than 15 degrees and where a line and an arc meet; between such places it is limited
  by the weakest direction of the stretch. Where a line and an arc meet along their tangent, v²/r comes at once: no stop is made for it;
- a cap that is touched while speed rises or falls is touched without acceleration if there is room for it;
- a control with n blocks of look-ahead can always stop within the next n blocks, and one that plans r blocks a second never runs
  more than r blocks a second, averaged over its look-ahead.

What follows: cutting a line into blocks changes nothing, the way back takes as long (without look-ahead), and no limit that rises makes a
program slower; only where arcs change speed may their bands (`ARC_TIERS`) cost up to 0.03 % against that.

Sources: reference 9.3 and 9.4 (derivations); the look-ahead and block-rate rules are common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from firstoff.motion import _kernels as kernels
from firstoff.motion.profile import MOST_MOVES, profile_of
from firstoff.motion.timeline import LimitedBy, MotionLimits, Timeline
from firstoff.path import _kernels as path_kernels
from firstoff.path.track import Track
from firstoff.program.bounds import rows_of
from firstoff.program.moves import PLANE_AXES, Flag, Floats, Kind

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Bytes = NDArray[np.uint8]
Array = TypeVar("Array", bound=NDArray[Any])
Pauses = Sequence[tuple[int, float] | tuple[int, float, str]]

JERK_TIME_S = 1e-9
"""Stands for "no jerk limit": acceleration is there after this time. Too short to show in any sum of times."""
BOUNDLESS_SPEED = 1e7
"""mm/s that stand for no limit, a thousand times what machines do; the next line likewise in mm/s²."""
BOUNDLESS_ACCEL = 1e9
NOWHERE_MM = 1e-9
"""Ways below this are none: rounding of coordinates leaves them."""
REACHED = 0.95
"""A move whose mean feed is this part of the commanded one counts as reached: what a feed is good for is known no better."""
NEARLY_CAPPED = 0.9
"""A move whose mean feed is this part of its own cap is held down by the cap, not by its ends."""

BANDS = 4
ARC_TIERS = ((0.6, 0.8, 0.9, 0.97), (0.95,) * BANDS, (0.8,) * BANDS, (0.6,) * BANDS)
"""Ways to divide an arc's speeds into bands, as parts of its fastest speed. In each band a change of speed has what turning at the band's
upper end leaves of acceleration and jerk, and begins and ends without acceleration; above the last band speed is only held. Many bands
suit acceleration, few suit jerk."""

LOOK_AHEAD = "machine.control.look_ahead"
BLOCK_RATE = "machine.control.block_rate"
CORNER_TOLERANCE = "machine.control.corner_tolerance"

WORST_LOOK_AHEAD = 1
"""A control that knows only the block it runs: none can know less."""
LIKELY_LOOK_AHEAD = 20
"""Small controls plan ten to thirty blocks ahead (common practice)."""
WORST_BLOCK_RATE = 100.0
"""1/s: text over a serial line of 38 400 baud, 3840 characters a second, at some 38 characters a block. The slowest link still met."""
LIKELY_BLOCK_RATE = 1000.0
"""1/s: one block in each cycle of a control that plans every millisecond (common practice)."""
BOUNDLESS_BUFFER = 1000
"""Blocks over which a known block rate is averaged where look-ahead is boundless."""
WORST_TOLERANCE_MM = 0.001
"""A corner cannot be kept better than by the least increment of coordinates, so that much every control rounds anyway."""
LIKELY_TOLERANCE_MM = 0.01
"""What a shop that wants hundredths asks for (common practice)."""

RAPID, FEED, TAP, PROBE, HOME, PAUSE = range(6)
"""Classes of moves; the machine rests where the class changes."""
_CLASS = {
    Kind.RAPID: RAPID,
    Kind.FEED: FEED,
    Kind.ARC: FEED,
    Kind.DWELL: PAUSE,
    Kind.PROBE: PROBE,
    Kind.TAP: TAP,
    Kind.HOME: HOME,
    Kind.MACHINE: RAPID,
}
_RESTING = (TAP, PROBE, HOME)
"""Classes that begin and end at rest even among their own."""


@dataclass(frozen=True, slots=True)
class Shape:
    """The path of a program, apart from limits: the moves that go somewhere, and where the machine rests between them."""

    track: Track
    moving: Ints
    """i8[M] numbers of the moves that go somewhere and are timed."""
    step_mm: Floats
    end_mm: Floats
    arc: Ints
    arcs: Floats
    """f8[A, 8]: centre (2), first, second and normal axis, radius, sweep, rise."""
    sense: Ints
    """i8[M]: 0 for a line, else the plane with the sign of the sweep."""
    stop: Bools
    """bool[M]: at rest before the move."""
    commanded: Floats
    """f8[M] mm/s, inf for rapids."""
    move_s: Floats
    """f8[N]: seconds of dwells; 0 elsewhere."""
    pause_s: Floats
    untimed: Bools


@dataclass(frozen=True, slots=True)
class Control:
    """One way the control may be: nothing unknown."""

    tolerance_mm: float
    look_ahead: int
    """0 = boundless."""
    block_rate_per_s: float


@dataclass(frozen=True, slots=True)
class LimitedPath:
    """The path with what the axes allow along it, ready for any control; arrays as the kernels of `path` tell."""

    length: Floats
    place: Floats
    """f8[M + 1] mm along the path before each move, and at its end."""
    tangents: Floats
    most: Floats
    bend: Floats
    joints: Floats
    hard: Bytes


@dataclass(frozen=True, slots=True)
class Run:
    """One plan: `end_s` f8[M] end of each moving move, pauses left out; `cap` f8[M] its greatest speed and `why_cap` u1[M] what sets it;
    `why` u1[M] what keeps its ramps down; `phases` f8[P, 5] time, place, speed, acceleration and jerk at the start of each phase."""

    end_s: Floats
    cap: Floats
    why_cap: Bytes
    why: Bytes
    phases: Floats


@dataclass(frozen=True, slots=True)
class Plan:
    """The likely plan of a program, with what it was made of."""

    limits: MotionLimits
    pauses: Pauses
    shape: Shape
    path: LimitedPath
    likely: Run


def plan_of(track: Track, limits: MotionLimits, pauses: Pauses = ()) -> Plan:
    """Plan the motion of a program as it likely is.

    `pauses`: (number of the move before which the machine stands still, seconds[, kind]); 0 s is a stop of unknown length. Raises
    ValueError where a limit is not a positive number.
    """
    _check(limits)
    shape = shape_of(track, pauses)
    path = path_of(shape, limits)
    likely = run(shape, path, controls(limits)[0], phases=shape.moving.size <= MOST_MOVES)
    return Plan(limits, pauses, shape, path, likely)


def plan_motion(track: Track, limits: MotionLimits, pauses: Pauses = ()) -> Timeline:
    """The timeline of `plan_of` at once."""
    return timeline_of(plan_of(track, limits, pauses))


def timeline_of(plan: Plan) -> Timeline:
    """When each move begins and how fast it is. Unknown limits of the control open a bracket, by plans of their own: see `Timeline`."""
    ends = [run(plan.shape, plan.path, control) for control in controls(plan.limits)[1:]]
    return _timeline(plan.shape, plan.path, plan.likely, ends, unknown_facts(plan.limits))


def unknown_facts(limits: MotionLimits) -> tuple[str, ...]:
    """Paths of the facts about the control that are not known."""
    known = {
        CORNER_TOLERANCE: limits.corner_tolerance_mm,
        LOOK_AHEAD: limits.look_ahead,
        BLOCK_RATE: limits.block_rate_per_s,
    }
    return tuple(path for path, value in known.items() if value is None)


def controls(limits: MotionLimits) -> tuple[Control, ...]:
    """The control as it likely is; where something is unknown also at its slowest and at its quickest."""
    if not unknown_facts(limits):
        return (_control(limits, LIKELY_TOLERANCE_MM, LIKELY_LOOK_AHEAD, LIKELY_BLOCK_RATE),)
    return (
        _control(limits, LIKELY_TOLERANCE_MM, LIKELY_LOOK_AHEAD, LIKELY_BLOCK_RATE),
        _control(limits, WORST_TOLERANCE_MM, WORST_LOOK_AHEAD, WORST_BLOCK_RATE),
        _control(limits, math.inf, 0, math.inf),
    )


def _control(limits: MotionLimits, tolerance_mm: float, look_ahead: int, block_rate_per_s: float) -> Control:
    known = limits.corner_tolerance_mm, limits.look_ahead, limits.block_rate_per_s
    return Control(
        tolerance_mm if known[0] is None else known[0],
        look_ahead if known[1] is None else known[1],
        block_rate_per_s if known[2] is None else known[2],
    )


def _check(limits: MotionLimits) -> None:
    for name in ("max_feed_mm_per_s", "accel_mm_per_s2", "jerk_mm_per_s3"):
        for axis, value in zip("XYZ", getattr(limits, name), strict=True):
            if not value > 0:
                raise ValueError(f"{name}={value} of {axis} must be greater than 0")
    tolerance, ahead, rate = limits.corner_tolerance_mm, limits.look_ahead, limits.block_rate_per_s
    if tolerance is not None and not tolerance >= 0:
        raise ValueError(f"corner_tolerance_mm={tolerance} must be 0 or more")
    if ahead is not None and not ahead >= 1:
        raise ValueError(f"look_ahead={ahead} must be 1 block or more")
    if rate is not None and not rate > 0:
        raise ValueError(f"block_rate_per_s={rate} must be greater than 0")


# --- the path ----------------------------------------------------------------------------------------------------------------


def shape_of(track: Track, pauses: Pauses = ()) -> Shape:
    """Take out of a program what goes nowhere, and keep where the machine rests for it."""
    moves = track.moves
    kind = np.array([_CLASS[Kind(k)] for k in range(len(Kind))], np.uint8)[moves.kind]
    kind[(moves.kind == Kind.MACHINE) & ((moves.flags & Flag.FEEDING) != 0)] = FEED
    feeding = (kind == FEED) | (kind == TAP) | (kind == PROBE)
    dwell = kind == PAUSE
    seconds = np.where(dwell, moves.feed_mm_per_s, 0.0)
    fed = np.isfinite(moves.feed_mm_per_s) & (moves.feed_mm_per_s > 0)
    known = np.where(dwell, np.isfinite(seconds), np.isfinite(track.length_mm) & (fed | ~feeding))
    goes = ~dwell & known & (track.length_mm > NOWHERE_MM)
    # A move that is known to go nowhere needs no feed.
    untimed = ~known & ~(~dwell & (track.length_mm <= NOWHERE_MM))
    pause = _pause_seconds(pauses, len(moves))
    moving = np.flatnonzero(goes)
    arc = moves.arc[moving].astype(np.int64)
    table = _arc_table(track)
    plane = track.arcs.plane.astype(np.int64)[arc] if len(track.arcs.plane) else np.zeros(arc.size, np.int64)
    turn = np.sign(np.nan_to_num(table[arc, 6])).astype(np.int64) if len(table) else np.zeros(arc.size, np.int64)
    return Shape(
        track,
        moving,
        _read_only(rows_of(track.step_mm, moving)),
        _read_only(rows_of(moves.end_mm, moving)),
        _read_only(arc),
        _read_only(table),
        _read_only(np.where(arc >= 0, plane * np.where(turn < 0, -1, 1), 0)),
        _read_only(_stops(track, kind, moving, dwell | untimed, pauses)),
        _read_only(np.where(feeding, moves.feed_mm_per_s, np.inf)[moving]),
        np.where(dwell & known, np.maximum(seconds, 0.0), 0.0),
        pause,
        untimed,
    )


def _pause_seconds(pauses: Pauses, count: int) -> Floats:
    seconds = np.zeros(count + 1)
    for pause in pauses:
        before, length = pause[0], pause[1]
        if not 0 <= before <= count or not length >= 0:
            raise ValueError(
                f"pause of {length} s before move {before} must be 0 s or more, before one of {count} moves"
            )
        seconds[before] += length
    return seconds


def _stops(track: Track, kind: Bytes, moving: Ints, breaks: Bools, pauses: Pauses) -> Bools:
    """Where the machine rests before a moving move, for whatever stands between it and the moving move before."""
    count = len(track.moves)
    resting = np.zeros(count + 1, np.int64)  # something rests between move i - 1 and move i
    resting[:-1] += breaks
    resting[1:] += breaks
    resting[1:] += (track.moves.flags & Flag.EXACT_STOP) != 0
    for pause in pauses:
        resting[pause[0]] += 1
    total = np.cumsum(resting)
    stop = np.ones(moving.size, np.bool_)
    if moving.size > 1:
        former, later = moving[:-1], moving[1:]
        stop[1:] = (total[later] > total[former]) | (kind[former] != kind[later]) | np.isin(kind[later], _RESTING)
    return stop


def _arc_table(track: Track) -> Floats:
    arcs = track.arcs
    axes = np.zeros((20, 3))
    for plane, numbers in PLANE_AXES.items():
        axes[plane] = numbers
    return np.column_stack(
        [arcs.centre_mm.reshape(-1, 2), axes[arcs.plane], arcs.radius_mm, arcs.sweep_rad, arcs.rise_mm]
    )


def axis_limits(limits: MotionLimits) -> Floats:
    """f8[3, 3]: rows speed, acceleration, jerk; what is boundless becomes so large that no sum of times shows it."""
    speed = np.minimum(limits.max_feed_mm_per_s, BOUNDLESS_SPEED)
    accel = np.minimum(limits.accel_mm_per_s2, BOUNDLESS_ACCEL)
    jerk = np.minimum(limits.jerk_mm_per_s3, accel / JERK_TIME_S)
    return np.vstack([speed, accel, jerk])


def path_of(shape: Shape, limits: MotionLimits) -> LimitedPath:
    """The path with the limits of the axes along it."""
    count = shape.moving.size
    axes = _read_only(axis_limits(limits))
    tangents, length, most = np.empty((count, 6)), np.empty(count), np.empty((count, 3))
    bend, joints, hard = np.zeros((count, 5)), np.empty((count, 4)), np.ones(count + 1, np.uint8)
    if count:
        path_kernels.shape_lines(shape.step_mm, shape.arc, axes, tangents, length, most, bend)
        if len(shape.arcs):
            path_kernels.shape_arcs(shape.end_mm, shape.arc, shape.arcs, axes, tangents, length, most, bend)
        _freeze(tangents, length, most, bend)
        path_kernels.shape_joints(tangents, length, bend, shape.sense, shape.stop, axes[1], joints, hard)
    place = np.concatenate([[0.0], np.cumsum(length)])
    _freeze(place, joints, hard)
    return LimitedPath(length, place, tangents, most, bend, joints, hard)


def run(shape: Shape, path: LimitedPath, control: Control, phases: bool = False) -> Run:
    """Plan once for one control. With `phases`, the plan is also kept as phases of constant jerk.

    How an arc shares its acceleration between turning and speeding up is settled for each section between rests: the one of
    `ARC_TIERS` that makes it quickest is taken.
    """
    if not shape.moving.size:
        return Run(np.zeros(0), np.zeros(0), np.zeros(0, np.uint8), np.zeros(0, np.uint8), np.empty((0, 5)))
    tiers = np.array(ARC_TIERS)
    if not len(shape.arcs):
        return _run(shape, path, control, tiers[:1], phases)
    section = np.cumsum(shape.stop) - 1
    ends = np.flatnonzero(np.append(shape.stop[1:], True))
    trials = [
        _run(shape, path, control, one[None].repeat(shape.moving.size, axis=0), False).end_s[ends] for one in tiers
    ]
    best = np.argmin([np.diff(one, prepend=0.0) for one in trials], axis=0)
    return _run(shape, path, control, tiers[best][section], phases)


def _run(shape: Shape, path: LimitedPath, control: Control, tiers: Floats, phases: bool) -> Run:
    count = path.length.size
    shared, hold, bands = np.empty((count, 2)), np.empty(count), np.empty((len(shape.arcs), tiers.shape[1], 3))
    kernels.share_limits(
        path.hard, path.most, path.bend, shape.arc, shape.commanded, _read_only(tiers), shared, hold, bands
    )
    cap, why_cap = np.empty(count), np.empty(count, np.uint8)
    buffer = control.look_ahead or BOUNDLESS_BUFFER
    rate = control.block_rate_per_s
    kernels.cap_moves(path.place, shape.commanded, path.most, path.bend, rate, buffer, cap, why_cap)
    _freeze(shared, hold, bands, cap, why_cap)
    at_joint, why_joint = np.empty(count + 1), np.empty(count + 1, np.uint8)
    ahead, tolerance = control.look_ahead, control.tolerance_mm
    kernels.cap_joints(path.joints, shape.stop, path.place, shared, cap, tolerance, ahead, at_joint, why_joint)
    _freeze(at_joint, why_joint)
    inputs = path.place, path.hard, shape.arc, shared, hold, bands, cap, at_joint, why_joint
    end_s, why, kept = np.empty(count), np.empty(count, np.uint8), np.empty((0, 5))
    most = kernels.plan_path(*inputs, end_s, why, kept)
    if most < 0:
        raise RuntimeError("a ramp was planned that does not fit its way")
    if phases:
        kept = np.empty((most + BANDS * 6 * len(shape.arcs), 5))
        kept = kept[: kernels.plan_path(*inputs, end_s, why, kept)]
    return Run(end_s, cap, why_cap, why, kept)


# --- the timeline ----------------------------------------------------------------------------------------------------------------


def _timeline(shape: Shape, path: LimitedPath, likely: Run, ends: list[Run], bracketed_by: tuple[str, ...]) -> Timeline:
    feeds = [mean_feed(shape, path, one) for one in (likely, *ends)]
    totals = [total_seconds(shape, one) for one in (likely, *ends)]
    low, high = np.minimum.reduce(feeds), np.maximum.reduce(feeds)
    move_s = _move_seconds(shape, likely)
    start = np.concatenate([[0.0], np.cumsum(move_s)]) + np.cumsum(shape.pause_s)
    return Timeline(
        start_s=_read_only(start),
        mean_feed_low=_read_only(low),
        mean_feed_likely=_read_only(feeds[0]),
        mean_feed_high=_read_only(high),
        limited_by=_read_only(_limited_by(shape, path, likely, feeds[0])),
        total_low_s=min(totals),
        total_likely_s=totals[0],
        total_high_s=max(totals),
        bracketed_by=bracketed_by,
        move_s=_read_only(move_s),
        pause_s=_read_only(shape.pause_s),
        untimed=_read_only(shape.untimed),
        profile=profile_of(len(shape.move_s), shape.moving, path.place, path.length, likely.end_s, likely.phases),
    )


def _move_seconds(shape: Shape, one: Run) -> Floats:
    seconds = shape.move_s.copy()
    seconds[shape.moving] = np.diff(one.end_s, prepend=0.0)
    return seconds


def total_seconds(shape: Shape, one: Run) -> float:
    """Time of the whole program, pauses and dwells included."""
    moving = float(one.end_s[-1]) if one.end_s.size else 0.0
    return moving + float(shape.move_s.sum()) + float(shape.pause_s.sum())


def mean_feed(shape: Shape, path: LimitedPath, one: Run) -> Floats:
    """f8[N] mm/s, 0 where a move has no way or no time. A way that is only rounding keeps its commanded feed: it divides lengths."""
    moves, length = shape.track.moves, shape.track.length_mm
    rounding = (length > 0) & (length <= NOWHERE_MM) & (moves.feed_mm_per_s > 0)
    feed = np.where(rounding, moves.feed_mm_per_s, 0.0)
    feed[shape.moving] = path.length / np.diff(one.end_s, prepend=0.0)
    return feed


def _limited_by(shape: Shape, path: LimitedPath, one: Run, feed: Floats) -> Bytes:
    """What keeps each move down: nothing, its own cap, or the slower end of the ramps it is part of."""
    reached = feed[shape.moving]
    commanded = np.minimum(shape.commanded, np.where(np.isinf(shape.commanded), path.most[:, 0], np.inf))
    by_cap = (one.why_cap != LimitedBy.NOTHING) & (reached >= NEARLY_CAPPED * one.cap)
    why = np.where(by_cap, one.why_cap, one.why)
    limited = np.zeros(feed.size, np.uint8)
    limited[shape.moving] = np.where(reached >= REACHED * commanded, LimitedBy.NOTHING, why)
    return limited


def _freeze(*arrays: NDArray[Any]) -> None:
    for array in arrays:
        array.setflags(write=False)


def _read_only(array: Array) -> Array:
    kept = np.ascontiguousarray(array)
    kept.setflags(write=False)
    return kept  # type: ignore[return-value]
