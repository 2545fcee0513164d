"""The length check of a tool against hand calculations with the normal integral's tables, guard bands and capability standards."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta

import numpy as np
import pytest

from firstoff.changer.crib_edits import mean_length
from firstoff.changer.drift import DAYS_A_MONTH, Measured, straight_line
from firstoff.changer.length_window import (
    Drift,
    Setter,
    against_limit,
    chance_within,
    length_window,
    spread_limit,
)

Truth = Callable[..., None]
TABLE = (
    "T = w + z·σ with the tabled points of the normal integral, z(1e-4) = 3.7190 and z(1e-3) = 3.0902 (Abramowitz & Stegun, "
    "Handbook of Mathematical Functions, 1964, table 26.6, from memory), summed by hand"
)
GUIDE = "JCGM 106:2012, 7.2 and example 1 (breakdown voltage), from memory"

ROWS = (
    (0.002, 0.010, 0.00643, 0.0439, 0.0638),
    (0.002, 0.030, 0.01755, 0.0853, 0.1395),
    (0.005, 0.010, 0.00913, 0.0539, 0.0822),
    (0.010, 0.030, 0.02236, 0.1032, 0.1723),
)


@pytest.mark.parametrize("row", range(len(ROWS)))
def test_limit_and_least_break(truth: Truth, row: int) -> None:
    repeats, drift, sigma, limit, seen = ROWS[row]
    window = length_window(70.0, repeats, Setter(repeats, drift_mm=drift), 0.020)
    what = f"length check, s = {repeats * 1e3:g} µm, drift ±{drift * 1e3:g} µm, wear 20 µm"
    truth(f"window-{row}-sigma", f"{what}: σ", TABLE, sigma, window.sigma_mm, 6e-6, "mm")
    truth(f"window-{row}-limit", f"{what}: limit", TABLE, limit, window.limit_mm, 6e-5, "mm")
    truth(
        f"window-{row}-seen", f"{what}: least break that is surely seen", TABLE, seen, window.surely_seen_mm, 6e-5, "mm"
    )


def test_drift_at_its_worst(truth: Truth) -> None:
    window = length_window(70.0, 0.002, Setter(0.002, drift_mm=0.010), 0.020, drift=Drift.WORST)
    limit = 0.020 + 0.010 + 3.7190 * math.sqrt(2) * 0.002
    truth("window-worst-limit", "the same with drift at its worst: limit", TABLE, limit, window.limit_mm, 1e-6, "mm")
    seen = limit + 0.010 + 3.0902 * math.sqrt(2) * 0.002
    truth("window-worst-seen", "the same: least break that is seen", TABLE, seen, window.surely_seen_mm, 1e-6, "mm")


def test_false_alarm_of_a_wider_limit(truth: Truth) -> None:
    """At T = 0.05 the example's chance of a false alarm is 1.5e-6; turned round, that chance must give back the limit."""
    window = length_window(70.0, 0.002, Setter(0.002, drift_mm=0.010), 0.020, false_alarm=1.5e-6)
    truth("window-wide-limit", "limit at a false alarm of 1.5e-6", TABLE, 0.05, window.limit_mm, 6e-5, "mm")


def test_few_readings_widen_by_students_factor(truth: Truth) -> None:
    """All doubt from one standard deviation of 4 degrees of freedom: the factor is that of the t table."""
    window = length_window(70.0, 0.0, Setter(0.002, df=4), 0.0, false_alarm=0.005, missed=0.025)
    source = "JCGM 100:2008, table G.2: t(4) = 4.60 (99 %) and 2.78 (95 %)"
    truth("window-few-limit", "limit in s at a false alarm of 0.5 %, 4 df", source, 4.60, window.limit_mm / 0.002, 5e-3)
    got = (window.surely_seen_mm - window.limit_mm) / 0.002
    truth("window-few-seen", "what a missed break of 2.5 % adds, in s", source, 2.78, got, 5e-3)


def test_simulated_checks_alarm_as_often_as_allowed(truth: Truth) -> None:
    """Another way: a million checks drawn with rectangular drift, at chances that a million can show."""
    generator = np.random.default_rng(7)
    many = 1_000_000
    window = length_window(70.0, 0.005, Setter(0.005, drift_mm=0.004), 0.020, false_alarm=0.02, missed=0.01)
    noise = generator.normal(0, 0.005, many) - generator.normal(0, 0.005, many) + generator.uniform(-0.004, 0.004, many)
    source = "one million checks drawn with NumPy, rectangular drift"
    alarms = float(np.mean(0.020 + noise > window.limit_mm))
    truth("window-drawn-alarm", "share of false alarms", source, 0.02, alarms, 6e-4)
    missed = float(np.mean(window.surely_seen_mm + noise <= window.limit_mm))
    truth("window-drawn-missed", "share of missed breaks", source, 0.01, missed, 6e-4)


def test_spread_of_repeats(truth: Truth) -> None:
    """Repeats of a sound setter pass the limit of their spread once in a thousand."""
    generator = np.random.default_rng(5)
    ranges = np.ptp(generator.normal(0, 1, (400_000, 5)), axis=1)
    limit = spread_limit(Setter(1.0), 5)
    got = float(np.mean(ranges > limit))
    truth(
        "window-spread",
        "share of five repeats beyond the limit of their spread",
        "400 000 samples drawn with NumPy",
        1e-3,
        got,
        1.6e-4,
    )
    source = "Abramowitz & Stegun 1964, table 26.6 (from memory): z(0.0005) = 3.2905, times root 2 for a difference"
    two = math.sqrt(2) * 3.2905
    truth(
        "window-spread-two", "limit of the spread of two repeats, in σ", source, two, spread_limit(Setter(1.0), 2), 1e-3
    )


def test_guard_bands(truth: Truth) -> None:
    source = (
        "ISO 14253-1:2017 (from memory): limits drawn in, and widened, by U; worked by hand for 0.025 with U = 0.006"
    )
    said = {True: 1.0, None: 0.0, False: -1.0}
    for name, value, expected in (("conforms", 0.0165, 1.0), ("undecided", 0.022, 0.0), ("fails", 0.033, -1.0)):
        truth(
            f"guard-{name}",
            f"{value} against 0.025, U = 0.006",
            source,
            expected,
            said[against_limit(value, 0.025, 0.006)],
            0,
        )
    truth(
        "guard-chance",
        "-5.47 V, u 0.05 V, limit -5.40 V",
        GUIDE,
        0.9192,
        chance_within(-math.inf, -5.40, -5.47, 0.05),
        5e-5,
    )
    truth("guard-two-u", "guard band of 2 u", GUIDE, 0.97725, chance_within(-math.inf, 0.0, -2.0, 1.0), 5e-6)
    truth(
        "guard-two-sided",
        "9.98..10.02, 10.018, u 0.002",
        GUIDE,
        0.8413,
        chance_within(9.98, 10.02, 10.018, 0.002),
        5e-5,
    )


def test_drift_is_the_line_of_the_guide(truth: Truth) -> None:
    """GUM H.3: eleven thermometer corrections; temperature stands for the day, the correction for the length."""
    t = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
    b = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)
    start = datetime(2026, 1, 1)
    # Doubts far below the scatter: the scatter itself then gives the doubt of the slope, as in the example.
    records = [Measured(start + timedelta(days=day), value, 1e-6) for day, value in zip(t, b, strict=True)]
    drift = straight_line(records)
    assert drift is not None
    source = "JCGM 100:2008, H.3 (from memory; full digits by NumPy)"
    truth("drift-slope", "slope of the calibration line", source, 0.00218270, drift.slope_mm / DAYS_A_MONTH, 5e-8)
    truth("drift-u", "its standard uncertainty", source, 0.000667939, drift.u_mm / DAYS_A_MONTH, 5e-9)
    truth("drift-df", "degrees of freedom", source, 9, drift.df, 0)


def test_a_length_from_readings_is_the_mean_of_the_guide(truth: Truth) -> None:
    text = (
        "96.90 98.18 98.25 98.61 99.03 99.49 99.56 99.74 99.89 100.07 100.33 100.42 100.68 100.95 101.11 101.20 101.57 101.84 "
        "102.36 102.72"
    )
    mean = mean_length([float(one) for one in text.split()], None)
    source = "JCGM 100:2008, 4.4.3: twenty readings"
    truth("readings-mean", "mean of twenty readings", source, 100.145, mean.mean_mm, 5e-4)
    truth("readings-u", "its standard uncertainty", source, 0.333, mean.u_mm, 5e-4)
    truth("readings-df", "degrees of freedom", source, 19, mean.df, 0)
