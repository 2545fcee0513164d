"""The speed at every place of a plan, against closed forms and against the plan sampled in time."""

from __future__ import annotations

import math

import numpy as np
import pytest

from firstoff.motion.plan import plan_motion
from firstoff.motion.profile import SHORT_MM
from firstoff.motion.sample import sample
from tests.motion.paths import limits, track
from tests.motion.test_sample import path_and_limits


def test_a_line_that_accelerates_and_brakes() -> None:
    """39 mm at 167 mm/s commanded with 1 m/s² and no jerk limit: v = sqrt(2·a·s) up to the middle, and back."""
    line = plan_motion(track([(39.0, 0.0, 0.0)], feed=10_000 / 60), limits(feed=500.0, accel=1000.0, jerk=math.inf))
    assert line.profile is not None
    share = np.linspace(0.0, 1.0, 79)
    _, speed = line.profile.at(np.ones(79, np.int64), share)
    from_end = np.minimum(share, 1 - share) * 39.0
    assert speed == pytest.approx(np.minimum(np.sqrt(2 * 1000.0 * from_end), 10_000 / 60), rel=1e-4, abs=1e-2)
    since, _ = line.profile.at(np.ones(79, np.int64), share)
    assert since[-1] == pytest.approx(line.move_s[1], rel=1e-5)
    assert since[20] == pytest.approx(math.sqrt(2 * 39.0 * share[20] / 1000.0), rel=1e-4)


@pytest.mark.parametrize("seed", range(24))
def test_the_profile_is_the_plan(seed: int) -> None:
    """Place and speed of samples in time, told again by place: what is left is phases shorter than a cell, beside rest."""
    one, by = path_and_limits(seed)
    line = plan_motion(one, by)
    assert line.profile is not None
    rng = np.random.default_rng(seed)
    times = rng.uniform(0, line.total_likely_s, 300)
    told = sample(one, by, times)
    chosen = (told.phase >= 0) & (line.profile.length_mm[told.move] > 20 * SHORT_MM)
    chosen &= one.moves.arc[told.move] < 0
    move, speed = told.move[chosen], told.speed[chosen]
    share = np.linalg.norm(told.at_mm[chosen] - one.start_mm[move], axis=1) / one.length_mm[move]
    since, found = line.profile.at(move, share)
    greatest = np.maximum(line.mean_feed_likely[move], speed)
    assert np.all(np.abs(found - speed) <= 0.06 * greatest), float((np.abs(found - speed) / greatest).max())
    assert since == pytest.approx((times - line.start_s[told.move])[chosen], abs=1e-3)


def test_nobody_goes_nowhere_fast() -> None:
    line = plan_motion(track([(1.0, 0.0, 0.0), (1.0, 0.0, 0.0)], feed=10.0), limits())
    assert line.profile is not None
    since, speed = line.profile.at(np.array([0, 2]), np.array([0.5, 1.0]))
    assert since.tolist() == [0.0, 0.0]
    assert speed.tolist() == [0.0, 0.0]
