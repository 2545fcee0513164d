"""The plan: what must hold for any path, and what stands in the way of speed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.motion import plan
from firstoff.motion.plan import plan_motion, unknown_facts
from firstoff.motion.timeline import LimitedBy, MotionLimits, Pause
from firstoff.path.track import Track
from firstoff.program.moves import Flag, Kind
from tests.motion.paths import limits, random_limits, random_lines, random_track, reverse, track

ROUNDING = 1e-9
"""Relative difference of times that is rounding; see `_kernels.SLACK`."""
ARCS = 1e-3
"""The same where there are arcs: a band of speed whose edge moves past the speed of a joint adds a small ramp (see `plan`). Measured: 3e-4
in one of 20,000 random cases, nothing in the others."""
seeds = st.integers(0, 2**32 - 1)


def seconds(one: Track, by: MotionLimits) -> float:
    return plan_motion(one, by).total_likely_s


def any_track(rng: np.random.Generator) -> Track:
    moves = int(rng.integers(2, 40))
    if rng.random() < 0.5:
        return random_track(rng, moves)
    return random_lines(rng, moves, float(rng.choice([0.01, 0.05, 0.3, 1.0])))


# --- what holds for any path --------------------------------------------------------------------------------------------------


@given(
    seeds,
    st.sampled_from(["max_feed_mm_per_s", "accel_mm_per_s2", "jerk_mm_per_s3"]),
    st.integers(0, 2),
    st.floats(1.0001, 4),
)
@settings(deadline=None)
def test_no_limit_of_an_axis_that_rises_makes_it_slower(seed: int, field: str, axis: int, factor: float) -> None:
    rng = np.random.default_rng(seed)
    one, by = any_track(rng), random_limits(rng, full=bool(rng.random() < 0.5))
    raised = list(getattr(by, field))
    raised[axis] *= factor
    slack = ARCS if len(one.arcs.plane) else ROUNDING
    assert seconds(one, replace(by, **{field: tuple(raised)})) <= seconds(one, by) * (1 + slack)


@given(seeds, st.floats(1.0001, 4), st.integers(1, 30))
@settings(deadline=None)
def test_no_limit_of_the_control_that_rises_makes_it_slower(seed: int, factor: float, blocks: int) -> None:
    rng = np.random.default_rng(seed)
    one, by = any_track(rng), random_limits(rng, full=True)
    now = seconds(one, by)
    assert by.corner_tolerance_mm is not None
    assert by.look_ahead is not None
    assert by.block_rate_per_s is not None
    for raised in (
        replace(by, corner_tolerance_mm=by.corner_tolerance_mm * factor),
        replace(by, look_ahead=by.look_ahead + blocks),
        replace(by, block_rate_per_s=by.block_rate_per_s * factor),
    ):
        assert seconds(one, raised) <= now * (1 + (ARCS if len(one.arcs.plane) else ROUNDING))


@given(seeds)
@settings(deadline=None)
def test_the_way_back_takes_as_long(seed: int) -> None:
    """Without look-ahead, which knows only one direction."""
    rng = np.random.default_rng(seed)
    one, by = any_track(rng), random_limits(rng)
    assert seconds(reverse(one), by) == pytest.approx(seconds(one, by), rel=1e-8)


@given(st.integers(2, 400), seeds, st.floats(1, 500), st.floats(0.1, 300), st.floats(100, 1e4), st.floats(1e3, 1e6))
@settings(deadline=None)
def test_cutting_a_line_into_blocks_keeps_its_time(
    blocks: int, seed: int, feed: float, way: float, accel: float, jerk: float
) -> None:
    rng = np.random.default_rng(seed)
    direction = rng.normal(size=3)
    cuts = np.sort(rng.uniform(0, 1, blocks - 1))
    cuts = cuts[np.diff(cuts, append=2.0) > 1e-6]  # blocks shorter than rounding of coordinates have no direction
    ends = np.append(cuts, 1.0)[:, None] * way * direction / np.linalg.norm(direction)
    by = limits(feed, accel, jerk)
    assert seconds(track(ends, feed=feed), by) == pytest.approx(seconds(track(ends[-1:], feed=feed), by), rel=ROUNDING)


@given(seeds)
@settings(deadline=None)
def test_cutting_every_line_of_a_path_keeps_its_time(seed: int) -> None:
    """Corners included: the straight run beside a corner counts, not the block."""
    rng = np.random.default_rng(seed)
    one, by = random_lines(rng, int(rng.integers(2, 12)), float(rng.choice([0.05, 1.0]))), random_limits(rng)
    ends, feeds = [], []
    for move in range(1, len(one.moves)):
        parts = np.sort(rng.uniform(0.05, 0.95, int(rng.integers(0, 4))))
        parts = np.append(parts[np.diff(parts, append=1.0) > 0.01], 1.0)
        ends += [one.start_mm[move] + part * one.step_mm[move] for part in parts]
        feeds += [one.moves.feed_mm_per_s[move]] * len(parts)
    assert seconds(track(ends, feed=feeds), by) == pytest.approx(seconds(one, by), rel=1e-7)


def test_cutting_an_arc_into_arcs_keeps_its_time() -> None:
    by, radius = limits(500, 3000, 8e4), 12.0
    for feed in (40.0, 1e9):
        whole = track([(radius, 0, 0)], start=(radius, 0, 0), feed=feed, arcs={0: (0, 0, 17, radius, 2 * math.pi, 0)})
        angles = np.array([0.3, 2.0, 3.3, 6.0, 2 * math.pi])
        ends = np.column_stack([radius * np.cos(angles), radius * np.sin(angles), 0 * angles])
        arcs = {k: (0.0, 0.0, 17, radius, float(turn), 0.0) for k, turn in enumerate(np.diff(angles, prepend=0.0))}
        assert seconds(track(ends, start=(radius, 0, 0), feed=feed, arcs=arcs), by) == pytest.approx(
            seconds(whole, by), rel=1e-9
        )


def scaled(one: Track, by: MotionLimits, way: float, time: float) -> tuple[Track, MotionLimits]:
    """The same motion on a path `way` times as long, in `time` times the time."""
    moves, arcs = one.moves, one.arcs
    feeds = moves.feed_mm_per_s[1:] * way / time
    rows = {
        move - 1: (
            *(arcs.centre_mm[row] * way),
            int(arcs.plane[row]),
            arcs.radius_mm[row] * way,
            arcs.sweep_rad[row],
            arcs.rise_mm[row] * way,
        )
        for move in range(1, len(moves))
        if (row := moves.arc[move]) >= 0
    }
    path = track(moves.end_mm[1:] * way, start=moves.end_mm[0] * way, feed=feeds, arcs=rows)
    assert by.corner_tolerance_mm is not None
    return path, limits(
        np.array(by.max_feed_mm_per_s) * way / time,
        np.array(by.accel_mm_per_s2) * way / time**2,
        np.array(by.jerk_mm_per_s3) * way / time**3,
        by.corner_tolerance_mm * way,
    )


@given(seeds, st.floats(0.2, 5), st.floats(0.2, 5))
@settings(deadline=None)
def test_time_scales_as_dimensions_say(seed: int, way: float, time: float) -> None:
    rng = np.random.default_rng(seed)
    one, by = any_track(rng), random_limits(rng)
    assert seconds(*scaled(one, by, way, time)) == pytest.approx(time * seconds(one, by), rel=1e-6)


@given(seeds)
@settings(deadline=None)
def test_the_path_may_be_turned_where_axes_are_alike(seed: int) -> None:
    """Turning a path by a quarter and mirroring it changes nothing."""
    rng = np.random.default_rng(seed)
    one = random_lines(rng, 15, 0.3)
    by = limits(200, 3000, 8e4)
    turned = one.moves.end_mm[1:, [1, 2, 0]] * np.array([1, -1, 1])
    assert seconds(track(turned, feed=one.moves.feed_mm_per_s[1:]), by) == pytest.approx(seconds(one, by), rel=ROUNDING)


@given(seeds)
@settings(deadline=None)
def test_no_move_is_faster_than_it_is_told(seed: int) -> None:
    rng = np.random.default_rng(seed)
    one = any_track(rng)
    line = plan_motion(one, random_limits(rng, full=True))
    assert np.all(line.mean_feed_likely[1:] <= one.moves.feed_mm_per_s[1:] * (1 + ROUNDING))
    assert np.all(np.diff(line.start_s) >= 0)
    assert line.start_s[-1] == pytest.approx(line.total_likely_s)
    assert np.all(line.mean_feed_likely[1:] * line.move_s[1:] == pytest.approx(one.length_mm[1:]))


# --- rests ------------------------------------------------------------------------------------------------------------------------


def rest_to_rest(way: float, feed: float, accel: float, jerk: float) -> float:
    """Reference 9.4."""
    time = feed / accel + accel / jerk if feed * jerk >= accel**2 else 2 * math.sqrt(feed / jerk)
    if way >= feed * time:
        return way / feed + time
    if way >= 2 * accel**3 / jerk**2:
        return accel / jerk + math.sqrt((accel / jerk) ** 2 + 4 * way / accel)
    return (32 * way / jerk) ** (1 / 3)


@given(st.floats(1e-3, 1e3), st.floats(1, 500), st.floats(100, 1e4), st.floats(1e3, 1e6))
@settings(deadline=None)
def test_one_block_is_the_closed_form(way: float, feed: float, accel: float, jerk: float) -> None:
    got = seconds(track([(0, way, 0)], feed=feed), limits(1e4, accel, jerk))
    assert got == pytest.approx(rest_to_rest(way, feed, accel, jerk), rel=1e-9)


def collinear(kinds: list[int], flags: list[int] | None = None) -> Track:
    ends = [(10.0 * (k + 1), 0, 0) for k in range(len(kinds))]
    return track(ends, feed=50, kind=kinds, flags=flags)


STRAIGHT_ON = rest_to_rest(20, 50, 3000, 8e4)
STOPPED = 2 * rest_to_rest(10, 50, 3000, 8e4)


@pytest.mark.parametrize(
    ("kinds", "flags", "rests"),
    [
        ([Kind.FEED, Kind.FEED], [0, 0], False),
        ([Kind.FEED, Kind.FEED], [Flag.EXACT_STOP, 0], True),
        ([Kind.FEED, Kind.FEED], [0, Flag.EXACT_STOP], False),
        ([Kind.FEED, Kind.TAP], [0, 0], True),
        ([Kind.TAP, Kind.TAP], [0, 0], True),
        ([Kind.PROBE, Kind.PROBE], [0, 0], True),
        ([Kind.FEED, Kind.MACHINE], [0, Flag.FEEDING], False),
        ([Kind.FEED, Kind.MACHINE], [0, 0], True),
        ([Kind.RAPID, Kind.RAPID], [0, 0], False),
        ([Kind.RAPID, Kind.MACHINE], [0, 0], False),
        ([Kind.RAPID, Kind.FEED], [0, 0], True),
        ([Kind.FEED, Kind.RAPID], [0, 0], True),
        ([Kind.HOME, Kind.HOME], [0, 0], True),
    ],
)
def test_where_the_machine_rests(kinds: list[int], flags: list[int], rests: bool) -> None:
    got = seconds(collinear([int(kind) for kind in kinds], flags), limits(50, 3000, 8e4))
    assert got == pytest.approx(STOPPED if rests else STRAIGHT_ON, rel=1e-9)


def test_a_dwell_takes_its_seconds_and_a_rest() -> None:
    one = track([(10, 0, 0), (10, 0, 0), (20, 0, 0)], feed=[50, 0.7, 50], kind=[Kind.FEED, Kind.DWELL, Kind.FEED])
    line = plan_motion(one, limits(50, 3000, 8e4))
    assert line.total_likely_s == pytest.approx(STOPPED + 0.7)
    assert line.move_s[2] == pytest.approx(0.7)
    assert line.mean_feed_likely[2] == 0


def test_pauses_stand_before_their_move() -> None:
    one, by = collinear([Kind.FEED, Kind.FEED]), limits(50, 3000, 8e4)
    line = plan_motion(one, by, [Pause(2, 9.0), (2, 2.5, "run-up"), (3, 4.0)])
    assert line.total_likely_s == pytest.approx(STOPPED + 15.5)
    assert line.pause_s == pytest.approx([0, 0, 11.5, 4.0])
    assert line.start_s[2] == pytest.approx(STOPPED / 2 + 11.5)
    assert line.start_s[3] == pytest.approx(line.total_likely_s)
    assert plan_motion(one, by, [(2, 0.0)]).total_likely_s == pytest.approx(STOPPED)


def test_a_move_that_goes_nowhere_neither_takes_time_nor_stops() -> None:
    one = track([(10, 0, 0), (10, 0, 0), (20, 0, 0)], feed=50)
    line = plan_motion(one, limits(50, 3000, 8e4))
    assert line.total_likely_s == pytest.approx(STRAIGHT_ON)
    assert not line.untimed.any()


def test_a_way_that_is_only_rounding_still_divides_its_length() -> None:
    line = plan_motion(one := track([(10, 0, 0), (10 + 1e-12, 0, 0), (20, 0, 0)], feed=50), limits(50, 3000, 8e4))
    assert line.total_likely_s == pytest.approx(STRAIGHT_ON)
    assert np.all(one.length_mm[1:] / line.mean_feed_likely[1:] < 1)


def test_turning_back_stops_whatever_the_tolerance() -> None:
    one = track([(10, 0, 0), (0, 0, 0)], feed=50)
    assert seconds(one, limits(50, 3000, 8e4, tolerance=1.0)) == pytest.approx(STOPPED)


def test_tolerance_nought_stops_at_every_corner_but_not_on_a_straight() -> None:
    by = limits(50, 3000, 8e4, tolerance=0.0)
    assert seconds(track([(10, 0, 0), (10, 10, 0)], feed=50), by) == pytest.approx(STOPPED)
    assert seconds(track([(10, 0, 0), (20, 0, 0)], feed=50), by) == pytest.approx(STRAIGHT_ON)


def test_what_is_not_known_takes_no_time_and_is_marked() -> None:
    one = track([(10, 0, 0), (math.nan, 0, 0), (20, 0, 0), (30, 0, 0), (30, 0, 5)], feed=[50, 50, 50, math.nan, 50])
    line = plan_motion(one, limits(50, 3000, 8e4))
    assert line.untimed.tolist() == [False, False, True, True, True, False]
    assert line.move_s[2:5].tolist() == [0, 0, 0]
    assert np.isfinite(line.start_s).all()
    assert line.total_likely_s == pytest.approx(STOPPED / 2 + rest_to_rest(5, 50, 3000, 8e4))


def test_a_program_without_moves_takes_no_time() -> None:
    assert plan_motion(track(np.zeros((0, 3))), limits(), [(0, 3.0)]).total_likely_s == 3.0


def test_a_rapid_is_as_fast_as_its_slowest_axis() -> None:
    line = plan_motion(track([(1000, 500, 0)], kind=[Kind.RAPID], feed=1), limits([200, 60, 50], 1e5, np.inf))
    assert line.mean_feed_likely[1] == pytest.approx(math.hypot(120, 60), rel=0.01)  # Y at 60 mm/s
    assert line.limited_by[1] == LimitedBy.NOTHING


# --- what stands in the way ---------------------------------------------------------------------------------------------------------


def test_a_helix_turns_with_its_plane_and_climbs_with_its_axis() -> None:
    """A weak Z holds down a steep helix and leaves a flat one alone."""
    by = limits([400, 400, 10], [3000, 3000, 500], np.inf)
    flat = track([(5, 0, -0.1)], start=(5, 0, 0), feed=60, arcs={0: (0, 0, 17, 5, 12 * math.pi, -0.1)})
    steep = track([(5, 0, -100)], start=(5, 0, 0), feed=60, arcs={0: (0, 0, 17, 5, 12 * math.pi, -100)})
    assert plan_motion(flat, by).limited_by[1] == LimitedBy.NOTHING
    line = plan_motion(steep, by)
    assert line.limited_by[1] == LimitedBy.FEED
    assert 100 / line.move_s[1] == pytest.approx(10, rel=0.02)


def test_look_ahead_of_one_block_can_stop_at_every_joint() -> None:
    blocks = np.column_stack([np.arange(1, 401) * 0.05, np.zeros(400), np.zeros(400)])
    line = plan_motion(track(blocks, feed=100), limits(200, 3000, 8e4, ahead=1))
    speed = (0.05**2 * 8e4) ** (1 / 3)  # a ramp of jerk alone that fills one block
    assert line.mean_feed_likely[200] == pytest.approx(speed, rel=0.05)
    assert line.limited_by[200] == LimitedBy.LOOK_AHEAD


def test_blocks_come_no_faster_than_the_control_plans_them() -> None:
    blocks = np.column_stack([np.arange(1, 2001) * 0.05, np.zeros(2000), np.zeros(2000)])
    line = plan_motion(track(blocks, feed=100), limits(200, 3000, 8e4, rate=400.0))
    assert line.mean_feed_likely[1000] == pytest.approx(20)
    assert line.limited_by[1000] == LimitedBy.BLOCK_RATE
    assert line.total_likely_s >= 2000 / 400


def test_the_buffer_evens_out_short_blocks_among_long_ones() -> None:
    size = np.where(np.arange(400) % 10 == 0, 0.01, 1.0)
    ends = np.column_stack([np.cumsum(size), np.zeros(400), np.zeros(400)])
    by = limits(200, 3000, 8e4, rate=200.0)
    assert seconds(track(ends, feed=100), replace(by, look_ahead=21)) < 0.8 * seconds(
        track(ends, feed=100), replace(by, look_ahead=2)
    )


@pytest.mark.parametrize(
    ("one", "by", "why"),
    [
        (track([(100, 0, 0)], feed=50), limits(200, 3000, 8e4), LimitedBy.NOTHING),
        (track([(100, 0, 0)], feed=50), limits(20, 3000, 8e4), LimitedBy.FEED),
        (track([(10, 0, 0)], feed=150), limits(200, 300, 8e4), LimitedBy.ACCELERATION),
        (track([(0.1, 0, 0)], feed=150), limits(200, 30000, 8e4), LimitedBy.JERK),
        (track([(k % 2, k, 0) for k in range(9)], feed=150), limits(200, 3000, 8e4), LimitedBy.CORNER),
        (
            track([(2, 0, 0)], start=(2, 0, 0), feed=150, arcs={0: (0, 0, 17, 2, 40.0, 0)}),
            limits(200, 3000, 8e6),
            LimitedBy.ARC,
        ),
    ],
)
def test_what_holds_a_move_down_is_named(one: Track, by: MotionLimits, why: LimitedBy) -> None:
    line = plan_motion(one, by)
    assert LimitedBy(int(line.limited_by[len(one.moves) // 2])) == why


# --- the bracket ----------------------------------------------------------------------------------------------------------------------


@given(seeds, st.sets(st.sampled_from(["corner_tolerance_mm", "look_ahead", "block_rate_per_s"])))
@settings(max_examples=30, deadline=None)
def test_what_is_unknown_opens_a_bracket(seed: int, unknown: set[str]) -> None:
    rng = np.random.default_rng(seed)
    one, by = any_track(rng), random_limits(rng, full=True)
    hidden = replace(by, **dict.fromkeys(unknown))
    line = plan_motion(one, hidden)
    assert {path.rsplit(".", 1)[1] for path in line.bracketed_by} == {
        name.removesuffix("_mm").removesuffix("_per_s") for name in unknown
    }
    assert line.bracketed_by == unknown_facts(hidden)
    assert line.total_low_s <= line.total_likely_s <= line.total_high_s
    assert np.all(line.mean_feed_low <= line.mean_feed_likely)
    assert np.all(line.mean_feed_likely <= line.mean_feed_high)
    if not unknown:
        assert line.total_low_s == line.total_high_s
        assert np.array_equal(line.mean_feed_low, line.mean_feed_high)
        return
    known = seconds(one, by)  # any control lies between the slowest and the quickest that the plan thinks of
    assert line.total_low_s <= known * (1 + ROUNDING)
    slowest = by.corner_tolerance_mm >= plan.WORST_TOLERANCE_MM and by.block_rate_per_s >= plan.WORST_BLOCK_RATE  # type: ignore[operator]
    if slowest:
        assert known <= line.total_high_s * (1 + ROUNDING)


def test_the_likely_plan_of_an_unknown_control_is_not_the_ideal_one() -> None:
    blocks = np.column_stack([np.arange(1, 2001) * 0.03, np.zeros(2000), np.zeros(2000)])
    line = plan_motion(track(blocks, feed=100), limits(200, 3000, 8e4, tolerance=None, ahead=None, rate=None))
    assert line.total_low_s < 0.7 * line.total_likely_s < 0.7 * line.total_high_s


# --- bad input ------------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("by", "words"),
    [
        (limits(feed=[100, 0, 100]), "max_feed_mm_per_s=0.0 of Y must be greater than 0"),
        (limits(accel=math.nan), "accel_mm_per_s2=nan of X"),
        (limits(jerk=[1, 1, -1]), "jerk_mm_per_s3=-1.0 of Z"),
        (limits(tolerance=-0.01), "corner_tolerance_mm=-0.01 must be 0 or more"),
        (limits(ahead=0), "look_ahead=0 must be 1 block or more"),
        (limits(rate=0.0), "block_rate_per_s=0.0 must be greater than 0"),
    ],
)
def test_limits_that_cannot_be_are_refused(by: MotionLimits, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        plan_motion(track([(1, 0, 0)]), by)


@pytest.mark.parametrize("pause", [(5, 1.0), (-1, 1.0), (1, -1.0), (1, math.nan)])
def test_pauses_that_cannot_be_are_refused(pause: tuple[int, float]) -> None:
    with pytest.raises(ValueError, match="must be 0 s or more"):
        plan_motion(track([(1, 0, 0)]), limits(), [pause])


def test_an_axis_that_does_not_move_may_be_boundless() -> None:
    inf = math.inf
    got = seconds(track([(0, 10, 0)], feed=50), limits([inf, 200, inf], [inf, 3000, inf], [inf, 8e4, inf]))
    assert got == pytest.approx(STOPPED / 2)
    assert seconds(
        track([(10, 0, 0)], feed=50), limits([inf, 200, inf], [inf, 3000, inf], [inf, 8e4, inf])
    ) == pytest.approx(0.2)
