"""Motion against closed forms of kinematics, published tables of ramps, and a general optimiser that finds the quickest motion itself."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from firstoff.motion.plan import plan_motion
from firstoff.motion.sample import sample
from firstoff.motion.timeline import MotionLimits
from firstoff.path.track import Track
from tests.motion.oracles import quickest_by_acceleration, quickest_by_jerk
from tests.motion.paths import limits, track

Truth = Callable[..., None]
KINEMATICS = "closed form of jerk-limited motion rest to rest, derived in the project's notes 9.4 and checked there by integration"
OPTIMISER = (
    "quickest motion found by linear programs, scipy.optimize.linprog (HiGHS; Virtanen et al., Nature Methods 17, 2020)"
)


def line(way: float, feed: float, accel: float, jerk: float) -> tuple[Track, MotionLimits]:
    return track([(way, 0, 0)], feed=feed), limits(feed, accel, jerk)


def speed_midway(one: Track, by: MotionLimits) -> float:
    """Speed along the path when half its time is over."""
    return float(sample(one, by, np.array([plan_motion(one, by).total_likely_s / 2])).speed[0])


# --- rest to rest ----------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("check", "way", "feed", "accel", "jerk", "seconds", "tolerance"),
    [
        ("motion-rest-full", 300, 500, 5000, 1e5, 0.75, 1e-6),
        ("motion-rest-speed-just-reached", 75, 500, 5000, 1e5, 0.30, 1e-6),
        ("motion-rest-acceleration-just-reached", 25, 500, 5000, 1e5, 0.20, 1e-6),
        ("motion-rest-jerk-only", 1, 500, 5000, 1e5, 0.068399, 1e-6),
        ("motion-rest-acceleration-never-reached", 50, 100, 5000, 1e4, 0.70, 1e-6),
    ],
)
def test_time_from_rest_to_rest(truth: Truth, check, way, feed, accel, jerk, seconds, tolerance) -> None:
    got = plan_motion(*line(way, feed, accel, jerk)).total_likely_s
    truth(
        check,
        f"time of {way} mm at {feed} mm/s, {accel} mm/s², {jerk:g} mm/s³",
        KINEMATICS,
        seconds,
        got,
        tolerance,
        "s",
    )


@pytest.mark.parametrize(
    ("check", "way", "speed", "tolerance"),
    [("motion-peak-boundary", 25, 250.0, 1e-6), ("motion-peak-jerk-only", 1, 29.240, 5e-4)],
)
def test_peak_speed_from_rest_to_rest(truth: Truth, check: str, way: float, speed: float, tolerance: float) -> None:
    one, by = line(way, 500, 5000, 1e5)
    half = plan_motion(one, by).total_likely_s / 2
    got = float(sample(one, by, np.array([half])).speed[0])
    truth(check, f"peak speed of {way} mm, 5000 mm/s², 1e5 mm/s³", KINEMATICS, speed, got, tolerance, "mm/s")


@pytest.mark.parametrize(("jerk", "way"), [(4000, 0.5), (8000, 0.375)])
def test_way_of_a_ramp(truth: Truth, jerk: float, way: float) -> None:
    """Where a line begun at rest reaches 10 mm/s."""
    one, by = track([(5, 0, 0)], feed=10), limits(10, 200, jerk)
    when = 10 / 200 + 200 / jerk
    found = sample(one, by, np.array([when]))
    assert found.speed[0] == pytest.approx(10)
    source = (
        "way of a ramp, (v0 + v1)/2 · (Δv/a + a/j), derived in the project's notes 9.3; agrees with published test data"
    )
    truth(
        f"motion-ramp-{jerk}",
        f"way from 0 to 10 mm/s at 200 mm/s², {jerk} mm/s³",
        source,
        way,
        float(found.at_mm[0, 0]),
        1e-6,
        "mm",
    )


def test_a_block_by_numerical_integration(truth: Truth) -> None:
    """Jerk switched where kinematics says, integrated by a general solver: it arrives where the block ends."""
    way, feed, accel, jerk = 20.0, 150.0, 3000.0, 8e4
    seconds = plan_motion(*line(way, feed, accel, jerk)).total_likely_s
    t1, t2 = accel / jerk, feed / accel  # jerk time, and start of easing
    edges = np.array([0.0, t1, t2, t1 + t2, seconds - t1 - t2, seconds - t2, seconds - t1, seconds])
    signs = (1, 0, -1, 0, -1, 0, 1)
    state = np.zeros(3)
    for begin, end, sign in zip(edges[:-1], edges[1:], signs, strict=True):
        state = solve_ivp(lambda _t, y, j=sign * jerk: [y[1], y[2], j], (begin, end), state, rtol=1e-10, atol=1e-12).y[
            :, -1
        ]
    assert state[1] == pytest.approx(0, abs=1e-6)
    source = "integration of the jerk by scipy.integrate.solve_ivp (Runge-Kutta 4(5), Dormand and Prince 1980)"
    truth(
        "motion-integrated", "way after the planned time of a block of 20 mm", source, way, float(state[0]), 1e-6, "mm"
    )


# --- corners, arcs, look-ahead -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("inside", "feed_per_min"), [(90, 659.21), (135, 1478), (170, 6864)])
def test_speed_at_a_corner(truth: Truth, inside: int, feed_per_min: float) -> None:
    turn = math.radians(180 - inside)
    one = track([(200, 0, 0), (200 + 200 * math.cos(turn), 200 * math.sin(turn), 0)], feed=500)
    by = limits(500, 5000, np.inf)
    got = float(sample(one, by, plan_motion(one, by).start_s[2:3]).speed[0]) * 60
    source = (
        "arc within 0.01 mm of a corner, R = δ·sin(θ/2)/(1 - sin(θ/2)), v = √(aR), derived in the project's notes 9.3"
    )
    what = f"speed at a corner of {inside}° with 5000 mm/s²"
    truth(f"motion-corner-{inside}", what, source, feed_per_min, got, 1.0 if inside > 90 else 0.01, "mm/min")


def test_speed_on_a_circle(truth: Truth) -> None:
    """Entered along its tangent, so that nothing else holds it."""
    one = track([(40, 0, 0), (40, 10, 0), (0, 10, 0)], feed=500, arcs={1: (40, 5, 17, 5, math.pi, 0)})
    by = limits(500, 2000, np.inf)
    start = plan_motion(one, by).start_s
    got = float(sample(one, by, np.array([(start[2] + start[3]) / 2])).speed[0])
    source = "v = √(a·R), the project's notes 9.3; any textbook of mechanics"
    truth("motion-circle", "greatest speed on a circle of 5 mm with 2000 mm/s²", source, 100.0, got, 1e-6, "mm/s")


def blocks_on_a_line(size: float, count: int) -> np.ndarray:
    return np.column_stack([np.arange(1, count + 1) * size, np.zeros(count), np.zeros(count)])


STOPPING = "stopping distance ½·v·t from v = 10 m/min, t = v/a + a/j, or 2·√(v/j) where v·j < a², derived in the project's notes 9.3, 9.4"
TEN_M_PER_MIN = 10_000 / 60


@pytest.mark.parametrize(
    ("check", "jerk", "way"),
    [
        ("motion-look-ahead", 2e5, 4.8611),  # ½·v·(v/a + a/j)
        # The notes give 6.944 mm for 1e5 mm/s³, with t = v/a + a/j; but there v·j < a², 5000 mm/s² is never reached, and it is 6.804.
        ("motion-look-ahead-jerk-only", 1e5, 6.8041),
    ],
)
def test_look_ahead_covers_the_stopping_distance(truth: Truth, check: str, jerk: float, way: float) -> None:
    """The smallest look-ahead at which blocks of 0.1 mm are run at 10 m/min, and the speed at which one block is enough to stop."""
    one = track(blocks_on_a_line(0.1, 1000), feed=TEN_M_PER_MIN)
    whole = math.ceil(way / 0.1)
    tried = list(range(whole - 2, whole + 2))
    reached = [speed_midway(one, limits(500, 5000, jerk, ahead=n)) >= TEN_M_PER_MIN * (1 - 1e-9) for n in tried]
    assert reached == sorted(reached)
    what = f"blocks of 0.1 mm to look ahead with 5000 mm/s², {jerk:g} mm/s³"
    truth(f"{check}-blocks", what, STOPPING, whole, tried[reached.index(True)], 0)
    one = track([(50.0, 0, 0), (50 + way, 0, 0), (110, 0, 0), (200, 0, 0)], feed=500)
    by = limits(500, 5000, jerk, ahead=1)
    speed = float(sample(one, by, plan_motion(one, by).start_s[2:3]).speed[0])
    truth(f"{check}-speed", f"speed at which {way} mm are enough to stop", STOPPING, TEN_M_PER_MIN, speed, 0.01, "mm/s")


def test_block_rate_for_the_feed(truth: Truth) -> None:
    one = track(blocks_on_a_line(0.1, 1000), feed=TEN_M_PER_MIN)
    speed = speed_midway(one, limits(500, 5000, 1e5, rate=1000.0))
    truth(
        "motion-block-rate",
        "blocks a second that 10 m/min in blocks of 0.1 mm asks for",
        "division of the feed by the block's length; the project's notes 9.3",
        1667,
        1000 * TEN_M_PER_MIN / speed,
        0.5,
        "1/s",
    )


# --- the quickest motion there is, found another way -----------------------------------------------------------------------------------------


def corner_speed(turn: float, accel: float, tolerance: float, half: float) -> float:
    """Greatest speed at a corner in a plane whose axes are alike."""
    inside = math.sin((math.pi - turn) / 2)
    return math.sqrt(accel * min(tolerance * inside / (1 - inside), half / math.tan(turn / 2)))


def test_quickest_zigzag_by_acceleration(truth: Truth) -> None:
    """Lines with corners of 40° to 140°, speed and acceleration limited."""
    turns = np.radians([40, -140, 90, 60, -75])
    sizes = [8.0, 3.0, 1.0, 6.0, 0.4, 5.0]
    headings = np.concatenate([[0.0], np.cumsum(turns)])
    ends = np.cumsum(
        [[size * math.cos(h), size * math.sin(h), 0.0] for size, h in zip(sizes, headings, strict=True)], axis=0
    )
    got = plan_motion(
        track(ends, feed=90), MotionLimits((90,) * 3, (3000,) * 3, (math.inf,) * 3, 0.02, 100, 1e9)
    ).total_likely_s
    # Axes alike: along a line at angle h the axes together give more than one of them.
    along = [3000 / max(abs(math.cos(h)), abs(math.sin(h))) for h in headings]
    fastest = [min(90.0, 90 / max(abs(math.cos(h)), abs(math.sin(h)))) for h in headings]
    joints = []
    for k, turn in enumerate(turns):
        angles = headings[k] + np.linspace(0, turn, 721)
        across = 3000 / np.maximum(np.abs(np.sin(angles)), np.abs(np.cos(angles))).max()
        joints.append(corner_speed(abs(turn), across, 0.02, min(sizes[k], sizes[k + 1]) / 2))
    best = quickest_by_acceleration([(s, v, a, 0.0) for s, v, a in zip(sizes, fastest, along, strict=True)], joints)
    truth("motion-quickest-zigzag", "time of a zigzag, acceleration limited", OPTIMISER, best, got, 0.01 * best, "s")


@pytest.mark.parametrize(
    ("check", "radius", "feed"), [("motion-quickest-fillet", 5.0, 500.0), ("motion-quickest-fillet-fed", 2.0, 60.0)]
)
def test_quickest_fillet_by_acceleration(truth: Truth, check: str, radius: float, feed: float) -> None:
    """Line, tangent arc, line."""
    ends = [(10, 0, 0), (10 + radius, radius, 0), (10 + radius, radius + 10, 0)]
    one = track(ends, feed=feed, arcs={1: (10, radius, 17, radius, math.pi / 2, 0)})
    got = plan_motion(one, limits(500, 3000, np.inf)).total_likely_s
    arc = radius * math.pi / 2
    best = quickest_by_acceleration(
        [(10, feed, 3000, 0), (arc, feed, 3000, radius), (10, feed, 3000, 0)], [math.inf, math.inf]
    )
    truth(
        check,
        f"time of a fillet of {radius} mm at {feed} mm/s, acceleration limited",
        OPTIMISER,
        best,
        got,
        0.01 * best,
        "s",
    )


@pytest.mark.parametrize(
    ("check", "feed", "part"),
    [
        # A circle begun and ended at rest. At a feed well below its fastest (122 mm/s) the plan is within 1 %.
        ("motion-quickest-circle-fed", 80.0, 0.01),
        # Where v²/r alone limits it, the plan divides acceleration in four bands of speed: slower by 3 %, known.
        ("motion-quickest-circle", 500.0, 0.035),
    ],
)
def test_quickest_circle_by_acceleration(truth: Truth, check: str, feed: float, part: float) -> None:
    one = track([(5, 0, 0)], start=(5, 0, 0), feed=feed, arcs={0: (0, 0, 17, 5, 2 * math.pi, 0)})
    got = plan_motion(one, limits(500, 3000, np.inf)).total_likely_s
    best = quickest_by_acceleration([(10 * math.pi, feed, 3000, 5.0)], [])
    assert got >= best * (1 - 1e-3)  # never quicker than can be
    truth(check, f"time of a circle of 5 mm from rest to rest at {feed} mm/s", OPTIMISER, best, got, part * best, "s")


@pytest.mark.parametrize(
    ("check", "lengths", "speeds", "accel", "jerk", "part"),
    [
        ("motion-quickest-jerk", [1.0], [500.0], 5000, 1e5, 0.01),
        ("motion-quickest-feed-steps", [10.0, 10.0, 10.0], [20.0, 60.0, 30.0], 3000, 8e4, 0.01),
        # Short sections: the plan has no acceleration where a lower feed ends, the quickest motion a little. Slower by up to 2 %, known.
        ("motion-quickest-short-feed-steps", [2.0, 2.0, 2.0], [20.0, 60.0, 30.0], 3000, 8e4, 0.02),
    ],
)
def test_quickest_line_by_jerk(truth: Truth, check, lengths, speeds, accel, jerk, part) -> None:
    """Lines of sections with their own feed, jerk limited."""
    ends = [(x, 0, 0) for x in np.cumsum(lengths)]
    line = plan_motion(track(ends, feed=speeds), limits(1000, accel, jerk))
    best = quickest_by_jerk(lengths, speeds, accel, jerk, line.move_s[1:])
    what = f"time of {lengths} mm at {speeds} mm/s, jerk limited"
    truth(check, what, OPTIMISER, best, line.total_likely_s, part * best, "s")
