"""Samples of a long program against plans of the whole."""

from __future__ import annotations

import numpy as np
import pytest

from firstoff.motion import sampling
from firstoff.motion.plan import plan_of
from firstoff.motion.summary import time_sensitivity
from firstoff.motion.timeline import MotionLimits
from firstoff.path.track import Track
from tests.motion.paths import limits, track

BLOCKS = 40_000
"""More than the windows of these tests hold."""


@pytest.fixture(autouse=True)
def fewer_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sampling, "WINDOWS", 20)
    monkeypatch.setattr(sampling, "COUNTED", 1000)


def raster(blocks: int) -> Track:
    x = np.full(blocks, 0.05)
    x *= np.where(np.arange(blocks) // 1000 % 2 == 0, 1.0, -1.0)
    y = np.where(np.arange(blocks) % 1000 == 500, 0.3, 0.0)
    z = np.diff(np.sin(np.arange(blocks + 1) / 37.0))
    return track(np.cumsum(np.column_stack([x, y, z]), axis=0), feed=60)


def both(one: Track, by: MotionLimits, monkeypatch: pytest.MonkeyPatch) -> tuple[dict[str, tuple[float, float]], ...]:
    found = []
    for least in (0, 10**9):
        monkeypatch.setattr(sampling, "SAMPLED_FROM", least)
        found.append({name: (each.total, each.cutting) for name, each in time_sensitivity(plan_of(one, by)).items()})
    return tuple(found)


@pytest.mark.parametrize("rate", [400.0, 5000.0])
def test_samples_tell_what_whole_plans_tell(rate: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """To three standard errors."""
    some, whole = both(raster(BLOCKS), limits(200, 1500, 8e4, ahead=40, rate=rate), monkeypatch)
    assert some.keys() == whole.keys()
    for name, slopes in whole.items():
        assert some[name] == pytest.approx(slopes, abs=3 * sampling.SAMPLE_U)
    assert some != whole  # samples were asked


def test_a_program_of_unlike_parts_is_planned_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    """A few moves that hang on acceleration take much of the time: windows part too far."""
    corners = np.tile([[0.9, 0.0, 0.0], [0.0, 0.9, 0.0]], (1200, 1))
    steps = np.concatenate([np.tile([[0.05, 0.0, 0.0]], (BLOCKS, 1)), corners])
    some, whole = both(
        track(np.cumsum(steps, axis=0), feed=60), limits(200, 300, 8e4, ahead=40, rate=4000.0), monkeypatch
    )
    assert some == whole


def test_limits_that_nobody_asks_for_are_not_planned() -> None:
    found = time_sensitivity(
        plan_of(track([(1, 0, 0)], feed=500), limits(500, 5000, 1e5)), wanted={"machine.axis.x.accel"}
    )
    assert list(found) == ["machine.axis.x.accel"]
