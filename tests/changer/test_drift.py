"""How measured lengths have gone."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.changer.drift import DAYS_A_MONTH, LEAST_DAYS, MOST_DOUBT_MM, Measured, length_drift, straight_line

START = datetime(2026, 1, 1, 8)


def row(*points: tuple[float, float], u: float = 0.002) -> list[Measured]:
    return [Measured(START + timedelta(days=day), length, u) for day, length in points]


@given(
    st.lists(st.integers(0, 400), min_size=2, max_size=8, unique=True),
    st.floats(-1e-3, 1e-3),
    st.floats(20, 100),
)
def test_a_straight_line_is_found_whatever_the_days(days: list[int], a_day: float, length: float) -> None:
    line = straight_line(sorted(row(*((float(day), length + a_day * day) for day in days)), key=lambda one: one.at))
    assert line is not None
    assert line.slope_mm == pytest.approx(a_day * DAYS_A_MONTH, abs=1e-8)
    assert line.tells == (abs(a_day * DAYS_A_MONTH) > 1.96 * line.u_mm * 1.00002) or abs(a_day) < 1e-9


@given(
    st.lists(st.tuples(st.integers(0, 400), st.floats(60, 61)), max_size=8),
    st.lists(st.integers(0, 400), max_size=3),
    st.floats(0.01, 0.5),
)
def test_no_slope_is_told_across_a_step_a_grip_or_too_little_time(
    points: list[tuple[int, float]], anew: list[int], step: float
) -> None:
    records = row(*((float(day), length) for day, length in points))
    moments = [START + timedelta(days=day) for day in anew]
    drift = length_drift(records, moments, step)
    assert [*drift.earlier, *drift.points] == sorted(records, key=lambda one: one.at)
    assert all(abs(b.length_mm - a.length_mm) <= step for a, b in pairwise(drift.points))
    if drift.slope_mm is not None:
        assert drift.points[-1].at - drift.points[0].at >= timedelta(days=LEAST_DAYS)
        assert drift.u_mm is not None
        assert drift.u_mm <= MOST_DOUBT_MM
        assert not any(drift.points[0].at < at <= drift.points[-1].at for at in moments)
    assert not (drift.too_close and drift.slope_mm is not None)


def test_a_step_that_nobody_told_begins_anew() -> None:
    drift = length_drift(row((0, 70.0), (30, 69.998), (60, 69.558), (90, 69.556)))
    assert [len(drift.earlier), len(drift.points)] == [2, 2]
    assert drift.anew_mm == pytest.approx(-0.44)
    assert drift.slope_mm == pytest.approx(-0.002 / 30 * DAYS_A_MONTH)
    assert length_drift(row((0, 70.0), (30, 69.95)), most_step_mm=0.02).anew_mm == pytest.approx(-0.05)
    assert length_drift(row((0, 70.0), (30, 69.95))).anew_mm is None


def test_points_too_close_or_too_doubtful_tell_no_slope() -> None:
    for drift in (length_drift(row((0, 70.0), (13, 69.95))), length_drift(row((0, 70.0), (30, 69.95), u=0.2))):
        assert (drift.slope_mm, drift.tells, drift.too_close) == (None, False, True)
    assert length_drift(row((0, 70.0), (14, 69.95))).tells


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
