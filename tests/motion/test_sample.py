"""The motion itself, sampled and differentiated: no limit may be broken by more than a hundredth."""

from __future__ import annotations

import math

import numpy as np
import pytest

from firstoff.motion.plan import plan_motion
from firstoff.motion.sample import sample
from firstoff.motion.timeline import MotionLimits
from firstoff.path.track import Track
from firstoff.program.moves import PLANE_AXES, Base, Kind
from tests.motion.paths import limits, random_limits, random_lines, random_track, track

BREACH = 1.01
PATHS = 200
STEP_S = 5e-5
"""Between the samples that are differentiated: third differences of positions then keep 4 digits of any jerk here."""
STRAIGHT = 1e-4
"""Turn in radians below which two moves make no corner that this test's arc cosine could resolve."""
SOFT = math.radians(15)
"""Turn up to which acceleration is carried through a joint (see `plan`)."""


def path_and_limits(seed: int) -> tuple[Track, MotionLimits]:
    rng = np.random.default_rng(seed)
    moves = int(rng.integers(3, 60))
    kind = seed % 4  # half of the paths have arcs
    one = random_track(rng, moves) if kind < 2 else random_lines(rng, moves, 0.05 if kind == 2 else 0.5)
    by = random_limits(rng, full=seed % 8 == 7)
    return one, by


def differences(one: Track, by: MotionLimits, times: np.ndarray) -> tuple[np.ndarray, ...]:
    """Velocity, acceleration and jerk of each axis by differences of sampled positions, wherever four samples in a row lie in one
    move and in one phase."""
    four = [sample(one, by, times + k * STEP_S) for k in range(4)]
    same = (four[0].move == four[3].move) & (four[0].phase == four[3].phase) & (four[0].phase >= 0)
    p0, p1, p2, p3 = (each.at_mm[same] for each in four)
    return (p2 - p1) / STEP_S, (p3 - p2 - p1 + p0) / (2 * STEP_S**2), (p3 - 3 * p2 + 3 * p1 - p0) / STEP_S**3


@pytest.mark.parametrize("batch", range(8))
def test_no_axis_breaks_a_limit(batch: int) -> None:
    """Speed, acceleration and jerk of each axis, on lines and arcs, away from corners."""
    checked = 0
    for seed in range(batch * PATHS // 8, (batch + 1) * PATHS // 8):
        one, by = path_and_limits(seed)
        line = plan_motion(one, by)
        rng = np.random.default_rng(seed)
        times = rng.uniform(0, line.total_likely_s, 600)
        velocity, acceleration, jerk = differences(one, by, times)
        checked += len(velocity)
        for got, limit in (
            (velocity, by.max_feed_mm_per_s),
            (acceleration, by.accel_mm_per_s2),
            (jerk, by.jerk_mm_per_s3),
        ):
            assert np.all(np.abs(got) <= BREACH * np.array(limit)), seed
    assert checked > 8000


def turn_of(one: Track, move: int, by: MotionLimits) -> tuple[float, float, float]:
    """Turn before a move, radius of its rounding, and the acceleration the axes give while an arc of it is followed."""
    ends = []
    for which, part in ((move - 1, 1.0), (move, 0.0)):
        ends.append(direction(one, which, part))
    out, into = ends
    turn = math.acos(float(np.clip(out @ into, -1, 1)))
    if turn < STRAIGHT:
        return turn, math.inf, math.inf
    inside = math.pi - turn
    half = 0.5 * min(straight_run(one, move - 1, -1), straight_run(one, move, 1))
    assert by.corner_tolerance_mm is not None
    radius = min(by.corner_tolerance_mm * math.sin(inside / 2) / (1 - math.sin(inside / 2)), half / math.tan(turn / 2))
    across = into - (into @ out) * out
    across = across / np.linalg.norm(across)
    angles = np.linspace(0, turn, 181)[:, None]
    normals = np.abs(-np.sin(angles) * out + np.cos(angles) * across)
    return turn, radius, float((np.array(by.accel_mm_per_s2) / np.maximum(normals, 1e-12)).min())


def straight_run(one: Track, move: int, way: int) -> float:
    """Length of the lines that go straight on from a move, backward or forward."""
    length = float(one.length_mm[move])
    arc = one.moves.arc
    while 1 <= move + way < len(one.moves) and arc[move] < 0 and arc[move + way] < 0:
        if np.linalg.norm(direction(one, move, 0.0) - direction(one, move + way, 0.0)) > 1e-6:
            break
        move += way
        length += float(one.length_mm[move])
    return length


def direction(one: Track, move: int, part: float) -> np.ndarray:
    row = one.moves.arc[move]
    if row < 0:
        return one.step_mm[move] / one.length_mm[move]
    first, second, normal = PLANE_AXES[int(one.arcs.plane[row])]
    centre, sweep = one.arcs.centre_mm[row], one.arcs.sweep_rad[row]
    at = one.end_mm[move] if part == 1.0 else one.start_mm[move]
    angle = math.atan2(at[second] - centre[1], at[first] - centre[0])
    found = np.zeros(3)
    found[first], found[second] = -sweep * math.sin(angle), sweep * math.cos(angle)
    found *= one.arcs.radius_mm[row]
    found[normal] = one.arcs.rise_mm[row]
    return found / np.linalg.norm(found)


def test_a_corner_is_passed_no_faster_than_its_rounding_can_be_followed() -> None:
    """The step in velocity at a corner stands for an arc within the tolerance; on it v²/R must be there. At a sharp corner, and where
    an arc begins or ends, there is no acceleration along the path."""
    corners = 0
    for seed in range(0, PATHS, 2):
        one, by = path_and_limits(seed)
        line = plan_motion(one, by)
        inner = np.arange(2, len(one.moves))
        at_joint = sample(one, by, line.start_s[inner])
        for move, speed, push in zip(inner, at_joint.speed, at_joint.push, strict=True):
            turn, radius, accel = turn_of(one, int(move), by)
            arcs = one.moves.arc[move - 1] >= 0 or one.moves.arc[move] >= 0
            corners += turn >= STRAIGHT
            assert speed**2 / radius <= BREACH * accel, (seed, move)
            if turn > SOFT or (arcs and turn > 1e-3):
                assert abs(push) <= 1e-3 * max(by.accel_mm_per_s2), (seed, move)
    assert corners > 500


@pytest.mark.parametrize("seed", range(0, 40, 3))
def test_speed_is_the_slope_of_position(seed: int) -> None:
    one, by = path_and_limits(seed)
    times = np.linspace(0, plan_motion(one, by).total_likely_s, 500)[1:-1]
    before, now, after = (sample(one, by, times + shift) for shift in (-1e-6, 0.0, 1e-6))
    same = (before.move == after.move) & (before.phase == after.phase)
    slope = (after.at_mm - before.at_mm) / 2e-6
    assert np.allclose(slope[same], now.velocity[same], atol=1e-4 * max(by.max_feed_mm_per_s))


@pytest.mark.parametrize("seed", range(0, 40, 3))
def test_moves_end_where_and_when_the_timeline_says(seed: int) -> None:
    one, by = path_and_limits(seed)
    line = plan_motion(one, by)
    at = sample(one, by, line.start_s[2:] - 1e-9)
    assert np.allclose(at.at_mm, one.end_mm[1:], atol=1e-5)


def test_the_machine_rests_in_pauses_and_after_the_end() -> None:
    one = track([(10, 0, 0), (10, 0, 0), (20, 0, 0)], feed=[50, 0.5, 50], kind=[Kind.FEED, Kind.DWELL, Kind.FEED])
    by = limits(50, 3000, 8e4)
    line = plan_motion(one, by, [(3, 2.0)])
    times = np.array(
        [0.0, line.start_s[2] + 0.25, line.start_s[3] - 1.0, line.start_s[3] + 0.02, line.total_likely_s + 1]
    )
    found = sample(one, by, times, [(3, 2.0)])
    assert found.speed[[1, 2, 4]] == pytest.approx(0)
    assert found.at_mm[:, 0] == pytest.approx([0, 10, 10, found.at_mm[3, 0], 20])
    assert 10 < found.at_mm[3, 0] < 20
    assert found.move.tolist() == [1, 2, 3, 3, 4]


def test_an_unknown_offset_leaves_positions_open_but_not_speeds() -> None:
    one = track([(10, 0, 0), (20, 0, 0)], feed=50, base=Base.G54)
    found = sample(one, limits(50, 3000, 8e4), np.array([0.1]))
    assert found.velocity[0] == pytest.approx([50, 0, 0])
    assert np.isnan(found.at_mm[0, 0])
