"""Moves held against boxes run by run: the same answers as all moves at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from firstoff.verdict import passing
from firstoff.verdict.examination import Examination
from tests.verdict.conftest import swap


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("at", ['"100.00(2) mm", "80.00(2) mm"', '"100.00(2) mm", "215.00(2) mm"'])
def test_run_by_run_is_all_at_once(
    seed: int, at: str, examine: Callable[..., Examination], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Far from the rack and near it; with arcs, rapids and an axis that is not named before it moves."""
    generator = np.random.default_rng(seed)
    places = generator.uniform((-5, -5, -2), (60, 40, 10), (120, 3))
    lines = [f"G{generator.integers(0, 2)} X{x:.3f} Y{y:.3f} Z{z:.3f}" for x, y, z in places]
    lines.insert(60, "G91 G2 X4 I2 J0\nG90")
    changes = {
        "program": swap("G1 X50 F2000", "\n".join(["G1 X50 F2000", *lines])),
        "job": swap('"100.00(2) mm", "80.00(2) mm"', at),
    }
    whole = examine(**changes)
    for name, value in (("RUN", 4), ("FIRST_RUNS", 1), ("MANY", 0)):
        monkeypatch.setattr(passing, name, value)
    by_runs = examine(**changes)
    assert len(whole.answers) == len(by_runs.answers)
    for one, other in zip(whole.answers, by_runs.answers, strict=True):
        assert repr(one) == repr(other)
