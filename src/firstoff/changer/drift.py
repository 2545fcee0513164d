"""How a tool's measured length has gone: the readings of one grip, and how fast they move."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np
from scipy.special import ndtri, stdtrit

DAYS_A_MONTH = 365.2425 / 12
SECONDS_A_DAY = 86400.0
TELLS_FROM = 0.95
"""Confidence from which a drift is told from none."""


@dataclass(frozen=True, slots=True)
class Measured:
    """One measured length."""

    at: datetime
    length_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True)
class LengthDrift:
    """Lengths since the last grip, and the straight line through them."""

    points: tuple[Measured, ...]
    """Oldest first; all of one grip."""
    earlier: tuple[Measured, ...]
    """Of grips before: shown, never joined to the others."""
    slope_mm: float | None
    """A month; None with fewer than two points, or all of one moment."""
    u_mm: float | None
    df: float
    tells: bool
    """Whether the slope differs from none at `TELLS_FROM`."""
    middle: datetime | None
    level_mm: float | None
    """Length on the line at `middle`."""

    @property
    def step_mm(self) -> float | None:
        """Greatest change from one measurement to the next."""
        return max((abs(b.length_mm - a.length_mm) for a, b in pairwise(self.points)), default=None)


def length_drift(records: Sequence[Measured], gripped_anew: Sequence[datetime] = ()) -> LengthDrift:
    """The drift since the last moment in `gripped_anew` that a record follows: weighted least squares, weights 1/u² (an exact record
    weighs as the best of the others); where the points scatter by more than they should (chi² above its degrees of freedom), the doubt of the
    slope is widened by that much (Birge 1932, from memory)."""
    ordered = sorted(records, key=lambda one: one.at)
    last = max((at for at in gripped_anew if any(one.at >= at for one in ordered)), default=None)
    points = tuple(one for one in ordered if last is None or one.at >= last)
    earlier = tuple(one for one in ordered if last is not None and one.at < last)
    days = np.array([(one.at - points[0].at).total_seconds() / SECONDS_A_DAY for one in points])
    if len(points) < 2 or np.ptp(days) == 0.0:
        return LengthDrift(points, earlier, None, None, 0.0, False, None, None)
    u = _weighable([one.u_mm for one in points])
    weight = 1.0 / u**2
    lengths = np.array([one.length_mm for one in points])
    middle, level = (float(np.average(values, weights=weight)) for values in (days, lengths))
    spread = float(np.sum(weight * (days - middle) ** 2))
    slope = float(np.sum(weight * (days - middle) * (lengths - level))) / spread
    df = len(points) - 2
    chi2 = float(np.sum(weight * (lengths - level - slope * (days - middle)) ** 2))
    widened = max(1.0, math.sqrt(chi2 / df)) if df > 0 else 1.0
    u_slope = widened / math.sqrt(spread)
    beyond = (1 - TELLS_FROM) / 2
    factor = -float(stdtrit(df, beyond) if widened > 1.0 else ndtri(beyond))
    at = points[0].at + (points[-1].at - points[0].at) * (middle / float(np.ptp(days)))
    return LengthDrift(
        points,
        earlier,
        slope * DAYS_A_MONTH,
        u_slope * DAYS_A_MONTH,
        float(df) if widened > 1.0 else math.inf,
        bool(abs(slope) > factor * u_slope),
        at,
        level,
    )


def _weighable(u_mm: Sequence[float]) -> np.ndarray:
    """Doubts to weigh by; what claims none counts as the best of the others."""
    known = [u for u in u_mm if u > 0]
    least = min(known, default=1.0)
    return np.array([u if u > 0 else least for u in u_mm])
