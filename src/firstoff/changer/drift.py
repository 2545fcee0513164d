"""How a tool's measured length has gone: the readings of one edge in one grip, and how fast they move."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
from scipy.special import ndtri, stdtrit

DAYS_A_MONTH = 365.2425 / 12
SECONDS_A_DAY = 86400.0
TELLS_FROM = 0.95
"""Confidence from which a drift is told from none."""
LEAST_DAYS = 14.0
"""Lengths that span less tell no wear: warmth and seating move a tool from day to day by as much (common practice)."""
MOST_DOUBT_MM = 0.2
"""A slope that is doubtful by more, a month, is none: small cutters are worn out by less (common practice)."""
MOST_STEP_MM = 0.1
"""A step from one length to the next, where nobody says how much a tool may wear: more is another edge or another grip (common practice)."""


@dataclass(frozen=True, slots=True)
class Measured:
    """One measured length."""

    at: datetime
    length_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True)
class Line:
    """The straight line through lengths."""

    slope_mm: float
    """A month."""
    u_mm: float
    df: float
    tells: bool
    middle: datetime
    level_mm: float


@dataclass(frozen=True, slots=True)
class LengthDrift:
    """Lengths of one edge in one grip, and the straight line through them."""

    points: tuple[Measured, ...]
    """Oldest first; all of one grip and one edge."""
    earlier: tuple[Measured, ...]
    """Of grips and edges before: shown, never joined to the others."""
    slope_mm: float | None
    """A month; None with fewer than two points, all of one moment, or too few and too close together to tell one."""
    u_mm: float | None
    df: float
    tells: bool
    """Whether the slope differs from none at `TELLS_FROM`."""
    middle: datetime | None
    level_mm: float | None
    """Length on the line at `middle`."""
    too_close: bool = False
    """Several points, that span too little time or scatter too much for a slope."""
    anew_mm: float | None = None
    """By how much longer (or, negative, shorter) the first point is than the last one before it, where only that step tells that another edge
    or another grip begins; None where somebody said so, or nothing is before."""

    @property
    def step_mm(self) -> float | None:
        """Greatest change from one measurement to the next."""
        return max((abs(b.length_mm - a.length_mm) for a, b in pairwise(self.points)), default=None)


def length_drift(
    records: Sequence[Measured], anew: Sequence[datetime] = (), most_step_mm: float = MOST_STEP_MM
) -> LengthDrift:
    """The drift since the last moment in `anew` (a new grip, a new edge, a break) that a record follows, or since the last step between two
    records of more than `most_step_mm`: that is no wear. The line is `straight_line`; none is told from points that span less than
    `LEAST_DAYS`, or whose slope is doubtful by more than `MOST_DOUBT_MM` a month."""
    ordered = sorted(records, key=lambda one: one.at)
    last = max((at for at in anew if any(one.at >= at for one in ordered)), default=None)
    since = next((n for n, one in enumerate(ordered) if last is None or one.at >= last), 0)
    steps = [
        n for n in range(since + 1, len(ordered)) if abs(ordered[n].length_mm - ordered[n - 1].length_mm) > most_step_mm
    ]
    first = steps[-1] if steps else since
    points, earlier = tuple(ordered[first:]), tuple(ordered[:first])
    anew_mm = points[0].length_mm - earlier[-1].length_mm if steps else None
    line = straight_line(points)
    if line is None:
        return LengthDrift(points, earlier, None, None, 0.0, False, None, None, anew_mm=anew_mm)
    if points[-1].at - points[0].at < timedelta(days=LEAST_DAYS) or line.u_mm > MOST_DOUBT_MM:
        return LengthDrift(points, earlier, None, None, 0.0, False, None, None, too_close=True, anew_mm=anew_mm)
    return LengthDrift(
        points, earlier, line.slope_mm, line.u_mm, line.df, line.tells, line.middle, line.level_mm, anew_mm=anew_mm
    )


def straight_line(points: Sequence[Measured]) -> Line | None:
    """The line through points, oldest first, by weighted least squares, weights 1/u² (an exact record weighs as the best of the others); where
    the points scatter by more than they should (chi² above its degrees of freedom), the doubt of the slope is widened by that much (Birge
    1932, from memory). None with fewer than two points, or all of one moment."""
    days = np.array([(one.at - points[0].at).total_seconds() / SECONDS_A_DAY for one in points])
    if len(points) < 2 or np.ptp(days) == 0.0:
        return None
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
    return Line(
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
