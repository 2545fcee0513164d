"""How measured lengths have gone."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.changer.drift import DAYS_A_MONTH, Measured, length_drift

START = datetime(2026, 1, 1, 8)


def row(*points: tuple[float, float], u: float = 0.002) -> list[Measured]:
    return [Measured(START + timedelta(days=day), length, u) for day, length in points]


@given(
    st.lists(st.integers(0, 400), min_size=2, max_size=8, unique=True),
    st.floats(-1e-3, 1e-3),
    st.floats(20, 100),
)
def test_a_straight_line_is_found_whatever_the_days(days: list[int], a_day: float, length: float) -> None:
    drift = length_drift(row(*((float(day), length + a_day * day) for day in days)))
    assert drift.slope_mm == pytest.approx(a_day * DAYS_A_MONTH, abs=1e-8)
    assert drift.tells == (abs(a_day * DAYS_A_MONTH) > 1.96 * (drift.u_mm or 0.0) * 1.00002) or abs(a_day) < 1e-9
    assert [one.at for one in drift.points] == sorted(one.at for one in drift.points)


def test_a_new_grip_begins_anew() -> None:
    records = row((0, 70.0), (30, 69.99), (60, 71.0), (90, 71.001))
    drift = length_drift(records, [START + timedelta(days=45)])
    assert [len(drift.earlier), len(drift.points)] == [2, 2]
    assert drift.slope_mm == pytest.approx(0.001 / 30 * DAYS_A_MONTH)
    assert not drift.tells
    later = length_drift(records, [START + timedelta(days=45), START + timedelta(days=300)])
    assert later.points == drift.points  # nothing has been measured since the last grip


def test_two_points_or_none_tell_no_line() -> None:
    for records in ([], row((0, 70.0)), row((3, 70.0), (3, 70.1))):
        drift = length_drift(records)
        assert (drift.slope_mm, drift.u_mm, drift.tells) == (None, None, False)


def test_points_that_scatter_widen_the_doubt() -> None:
    calm = length_drift(row((0, 70.0), (30, 70.001), (60, 69.999), (90, 70.0)))
    wild = length_drift(row((0, 70.0), (30, 70.05), (60, 69.95), (90, 70.0)))
    assert (calm.df, wild.df) == (math.inf, 2)
    assert (wild.u_mm or 0.0) > 10 * (calm.u_mm or 0.0)


def test_a_record_that_claims_no_doubt_weighs_as_the_best_of_the_others() -> None:
    points = row((0, 70.0), (30, 70.01), (60, 70.02))
    exact = [Measured(points[0].at, points[0].length_mm, 0.0), *points[1:]]
    assert length_drift(exact).slope_mm == pytest.approx(length_drift(points).slope_mm)
