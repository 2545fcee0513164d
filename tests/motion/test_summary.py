"""What a timeline says about cutting, and what its time hangs on."""

from __future__ import annotations

import math

import numpy as np
import pytest

from firstoff.motion.plan import plan_motion, plan_of
from firstoff.motion.summary import cutting_time, pauses_of, slow_runs, time_sensitivity
from firstoff.motion.timeline import LimitedBy, MotionLimits, Pause
from firstoff.program.moves import Event, Flag, Kind, What
from tests.motion.paths import limits, random_limits, random_track, track


def test_cutting_is_told_by_tool_without_rapids_and_dwells() -> None:
    one = track(
        [(100, 0, 0), (100, 50, 0), (100, 50, 0), (0, 50, 0), (0, 0, 0)],
        feed=[1, 50, 3, 100, 50],
        kind=[Kind.RAPID, Kind.FEED, Kind.DWELL, Kind.FEED, Kind.MACHINE],
        flags=[0, 0, 0, 0, Flag.FEEDING],
        tool=[4, 4, 4, 2, 4],
    )
    line = plan_motion(one, limits(200, 3000, 8e4))
    found = cutting_time(line, one)
    assert found.commanded_s == pytest.approx(1 + 1 + 1)
    assert [(tool.tool, tool.commanded_s) for tool in found.tools] == [(4, pytest.approx(2)), (2, pytest.approx(1))]
    assert found.reached_s == pytest.approx(line.move_s[[2, 4, 5]].sum())
    assert sum(tool.reached_s for tool in found.tools) == pytest.approx(found.reached_s)
    assert found.reached_s > found.commanded_s
    assert found.quickest_s == pytest.approx(found.reached_s)
    assert found.slowest_s == pytest.approx(found.reached_s)


def test_unknown_control_parts_quickest_and_slowest() -> None:
    one = random_track(np.random.default_rng(3), 40)
    line = plan_motion(one, limits(200, 3000, 8e4, tolerance=None, ahead=None, rate=None))
    found = cutting_time(line, one)
    assert found.quickest_s < found.reached_s < found.slowest_s


def test_moves_without_a_time_are_left_out() -> None:
    one = track([(100, 0, 0), (math.nan, 0, 0), (20, 0, 0), (30, 0, 0)], feed=50)
    found = cutting_time(plan_motion(one, limits(200, 3000, 8e4)), one)
    assert found.commanded_s == pytest.approx(2 + 0.2)


def test_nothing_cut_is_nought() -> None:
    one = track([(100, 0, 0)], kind=[Kind.RAPID])
    found = cutting_time(plan_motion(one, limits(200, 3000, 8e4)), one)
    assert (found.commanded_s, found.reached_s, found.tools) == (0.0, 0.0, ())


def test_slow_runs_come_worst_first_with_their_reason() -> None:
    ends = [(100, 0, 0), (100, 1, 0), (200, 1, 0), (200, 1.2, 0), (300, 1.2, 0)]
    one = track(ends, feed=150)
    line = plan_motion(one, limits(200, 3000, 8e4))
    slow = slow_runs(line, one, 3)
    assert len(slow) == 3
    lost = [run.lost_s for run in slow]
    assert lost == pytest.approx(sorted(lost, reverse=True))
    worst = slow[0]
    here = slice(worst.first, worst.last + 1)
    assert worst.lost_s == pytest.approx((line.move_s[here] - one.length_mm[here] / 150).sum())
    assert worst.commanded_mm_per_s == pytest.approx(150)
    assert worst.reached_mm_per_s == pytest.approx(one.length_mm[here].sum() / line.move_s[here].sum())
    assert {run.why for run in slow} <= {LimitedBy.CORNER, LimitedBy.ACCELERATION, LimitedBy.JERK}
    quick = track([(1000, 0, 0)], feed=10)
    assert slow_runs(plan_motion(quick, limits(200, 3000, 8e4)), quick) == ()


def test_a_line_in_a_thousand_blocks_is_one_slow_place_that_outranks_a_slower_single_move() -> None:
    """One long line of 0.05 at a block rate of 100 1/s goes 5 mm/s; a short move beside it loses more than any one block."""
    chords = [(0.05 * (n + 1), 0.0, 0.0) for n in range(1000)]
    one = track([*chords, (50, 2, 0), (60, 2, 0)], feed=50)
    line = plan_motion(one, limits(200, 3000, 8e4, ahead=20, rate=100.0))
    slow = slow_runs(line, one)
    worst = slow[0]
    assert worst.why is LimitedBy.BLOCK_RATE
    assert worst.blocks > 950
    assert worst.last - worst.first + 1 == worst.blocks
    assert worst.reached_mm_per_s == pytest.approx(5.0, rel=0.02)
    assert worst.lost_s == pytest.approx(0.05 * worst.blocks * (1 / 5 - 1 / 50), rel=0.02)
    assert max(run.lost_s / run.blocks for run in slow[1:]) > worst.lost_s / worst.blocks


@pytest.mark.parametrize("seed", range(8))
def test_slow_runs_lose_what_their_moves_lose_and_share_none(seed: int) -> None:
    one = random_track(np.random.default_rng(seed), 60)
    line = plan_motion(one, random_limits(np.random.default_rng(seed + 100)))
    runs = slow_runs(line, one, 1000)
    moves = [move for run in runs for move in range(run.first, run.last + 1)]
    assert len(moves) == len(set(moves)) == sum(run.blocks for run in runs)
    told = cutting_time(line, one)
    quick = line.limited_by == LimitedBy.NOTHING
    lost = line.move_s[moves] - one.length_mm[moves] / one.moves.feed_mm_per_s[moves]
    assert sum(run.lost_s for run in runs) == pytest.approx(float(lost.sum()))
    assert not quick[moves].any()
    assert sum(run.lost_s for run in runs) <= told.reached_s


def test_pauses_come_from_events() -> None:
    events = (
        Event(What.TOOL_CHANGE, 0, 1, number=1),
        Event(What.SPINDLE, 0, 2, value=300.0),
        Event(What.SPINDLE, 3, 5, value=400.0),
        Event(What.STOP, 4, 6),
        Event(What.SPINDLE, 5, 7, value=0.0),
        Event(What.SPINDLE, 6, 8, value=-100.0),
        Event(What.TOOL_CHANGE, 7, 9, number=2),
        Event(What.SPINDLE, 7, 10, value=math.nan),
        Event(What.COOLANT, 7, 10, number=2),
    )
    by = MotionLimits((1, 1, 1), (1, 1, 1), (1, 1, 1), 0.01, 1, 1.0, change_time_s=9.0, run_up_s=2.4)
    assert pauses_of(events, by) == (
        Pause(0, 9.0, "change"),
        Pause(0, 2.4, "run-up"),
        Pause(4, 0.0, "stop"),
        Pause(6, 2.4, "run-up"),
        Pause(7, 9.0, "change"),
        Pause(7, 2.4, "run-up"),
    )


# --- sensitivity: exponents known by dimensional analysis -----------------------------------------------------------------------------


def test_a_short_move_follows_jerk_to_the_third_root() -> None:
    """T = (32 D/J)^(1/3), reference 9.4."""
    found = time_sensitivity(plan_of(track([(1, 0, 0)], feed=500), limits(500, 5000, 1e5)))
    assert found["machine.axis.x.jerk"].total == pytest.approx(-1 / 3, abs=0.01)
    assert found["machine.axis.x.accel"].total == 0
    assert found["machine.axis.y.jerk"].total == 0


def test_without_jerk_a_short_move_follows_acceleration_to_the_root() -> None:
    found = time_sensitivity(plan_of(track([(1, 0, 0)], feed=500), limits(500, 5000, np.inf)))
    assert found["machine.axis.x.accel"].total == pytest.approx(-0.5, abs=0.01)
    assert "machine.axis.x.jerk" not in found


def test_a_long_rapid_follows_the_axis_speed() -> None:
    found = time_sensitivity(plan_of(track([(0, 1e5, 0)], kind=[Kind.RAPID]), limits(200, 5000, 1e5)))
    assert found["machine.axis.y.max_feed"].total == pytest.approx(-1, abs=0.02)
    assert found["machine.axis.y.max_feed"].cutting == 0


def test_the_exponents_of_one_path_add_up_as_dimensions_say() -> None:
    """Where every feed is boundless, T(way, v, a, j): time scales with s⁻¹ in v, s⁻² in a, s⁻³ in j, so n_v + 2·n_a + 3·n_j = -1."""
    one = track([(10, 0, 0), (10, 20, 0), (10, 20, -3), (11, 20, -3)], feed=1e9)
    found = time_sensitivity(plan_of(one, limits(200, 3000, 8e4)))
    weights = {"max_feed": 1, "accel": 2, "jerk": 3}
    total = sum(weights[name.rsplit(".", 1)[1]] * one.total for name, one in found.items() if ".axis." in name)
    assert total == pytest.approx(-1, abs=0.02)


def test_block_rate_and_look_ahead_are_found_where_they_act() -> None:
    blocks = np.column_stack([np.arange(1, 2001) * 0.05, np.zeros(2000), np.zeros(2000)])
    slow = time_sensitivity(plan_of(track(blocks, feed=100), limits(200, 3000, 8e4, rate=400.0)))
    assert slow["machine.control.block_rate"].total == pytest.approx(-1, abs=0.02)
    blind = time_sensitivity(plan_of(track(blocks, feed=100), limits(200, 3000, 8e4, ahead=2)))
    assert blind["machine.control.look_ahead"].total == pytest.approx(-2 / 3, abs=0.05)  # v = (way²·J)^(1/3)
    assert blind["machine.control.block_rate"].total == 0


def test_pauses_have_their_share() -> None:
    one = track([(100, 0, 0), (200, 0, 0)], feed=50)
    by = limits(200, 3000, 8e4)
    still = plan_motion(one, by, [(2, 0.0)]).total_likely_s
    found = time_sensitivity(plan_of(one, by, [(2, 3.0), (2, 1.0, "run-up"), (1, 2.0, "change"), (2, 0.0, "stop")]))
    assert found["machine.changer.change_time"].total == pytest.approx(5 / (still + 6))
    assert found["machine.spindle.run_up"].total == pytest.approx(1 / (still + 6))


@pytest.mark.parametrize("seed", range(6))
def test_no_exponent_of_a_limit_is_positive(seed: int) -> None:
    rng = np.random.default_rng(seed)
    one, by = random_track(rng, 25), random_limits(rng, full=True)
    found = time_sensitivity(plan_of(one, by))
    assert set(found) == {f"machine.axis.{axis}.{name}" for axis in "xyz" for name in ("max_feed", "accel", "jerk")} | {
        "machine.control.corner_tolerance",
        "machine.control.look_ahead",
        "machine.control.block_rate",
    }
    assert all(each.total <= 1e-6 for each in found.values())


def test_what_is_unknown_has_no_exponent_but_a_bracket() -> None:
    found = time_sensitivity(plan_of(track([(1, 0, 0)], feed=10), limits(tolerance=None, ahead=None, rate=None)))
    assert not any("control" in name for name in found)
