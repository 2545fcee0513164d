"""Compile the kernels before any test is timed."""

from __future__ import annotations

import numpy as np
import pytest

from firstoff.motion.plan import plan_motion
from tests.motion.paths import limits, random_track


@pytest.fixture(scope="session", autouse=True)
def _compiled() -> None:
    plan_motion(random_track(np.random.default_rng(0), 10), limits())
