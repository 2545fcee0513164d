"""Whether a tool is whole, seated and the one that is meant, told from its length: the window that a length check may use.

What is compared is how much shorter the tool is than its reference length. A whole tool is shorter by its wear at most; the
check doubts that by the readings of both measurements and by what the machine has grown in between. From the two chances that a
shop allows, a false alarm and a missed break, follow the limit and the least break that is surely seen. The decision has three
outcomes: near the limit, and where repeats disagree, nobody can tell (guard bands of ISO 14253-1:2017, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from scipy.special import ndtr, ndtri, stdtrit

from firstoff.facts.fact import Fact, Leaning

FALSE_ALARM, MISSED = 1e-4, 1e-3
"""Chances that a whole tool alarms and that a break passes, a check (common practice: a false alarm costs minutes, a missed break
costs the next tool)."""
GUARD = 1.645
"""Standard uncertainties between a limit and a reading that proves anything: 95 % on one side (ISO 14253-1:2017, from memory)."""
SPREAD_CHANCE = 1e-3
"""Chance that repeats of a sound setter part by more than the limit of their spread."""


class Drift(StrEnum):
    """How thermal change enters."""

    SPREAD = "spread"
    """Anywhere within ± its half width alike: u = a/√3 (GUM 4.3.7), added in squares."""
    WORST = "worst"
    """Always at its half width, against us."""


class Outcome(StrEnum):
    """What a length check can find."""

    INTACT = "intact"
    BROKEN = "broken"
    CANNOT_TELL = "cannot tell"


class Why(StrEnum):
    """What the outcome of a check rests on."""

    KEPT = "its length is kept"
    SHORTER = "shorter by more than the limit"
    LONGER = "longer by more than the limit: another tool, a chip on the setter or in the taper, or not seated"
    NEAR = "too near the limit"
    SPREAD = "its readings part by more than those of a sound setter"
    NO_READING = "the setter gave no reading: no trip, or one before the window"


@dataclass(frozen=True, slots=True)
class Setter:
    """The tool setter as far as repeats and warmth go; its own calibration cancels between reference and check."""

    repeatability_mm: float
    """Standard deviation of one reading."""
    df: float = math.inf
    """Degrees of freedom of that."""
    drift_mm: float = 0.0
    """Half width of the thermal change of a measured length since the reference."""
    readings: int = 1
    """Readings averaged at a check."""

    @property
    def u_check_mm(self) -> float:
        return self.repeatability_mm / math.sqrt(self.readings)


@dataclass(frozen=True, slots=True)
class LengthWindow:
    """How much shorter than its reference a tool may be found. Lengths in mm."""

    expected_mm: float
    """The reference: LF."""
    u_reference_mm: float
    setter: Setter
    wear_mm: float
    """Most that it may lose and still be whole."""
    sigma_mm: float
    """Standard uncertainty of the difference between two measurements, without drift taken at its worst."""
    df: float
    limit_mm: float
    """T: shorter, or longer, by more is no whole tool of this name."""
    surely_seen_mm: float
    """b_min: a break that takes this much is missed with the allowed chance."""
    false_alarm: float
    missed: float
    drift: Drift

    @property
    def low_mm(self) -> float:
        """Least length that passes."""
        return self.expected_mm - self.limit_mm

    @property
    def high_mm(self) -> float:
        """Greatest length that passes."""
        return self.expected_mm + self.limit_mm


@dataclass(frozen=True, slots=True)
class Checked:
    """One check of a length."""

    outcome: Outcome
    shorter_mm: float
    """How much shorter than the reference it was found (NaN without a reading); negative = longer."""
    u_mm: float
    within: float
    """Chance that it really is no shorter and no longer than the limit (JCGM 106:2012, 7.2)."""
    spread_mm: float
    """Greatest less least reading."""
    guard_mm: float
    """How far from the limit a reading must be to prove anything."""
    why: Why


def length_window(
    expected_mm: float,
    u_reference_mm: float,
    setter: Setter,
    wear_mm: float,
    *,
    false_alarm: float = FALSE_ALARM,
    missed: float = MISSED,
    drift: Drift = Drift.SPREAD,
    df_reference: float = math.inf,
) -> LengthWindow:
    """The window of one tool: T = w + z_fa·σ and b_min = T + z_miss·σ, with σ² = u_ref² + s²/n + a²/3; or drift at its worst, added
    outright to both.

    Gaussian sums, with Student's factors where the standard deviations rest on few readings (GUM G.4). Raises `ValueError` for
    negative lengths or chances that are not between 0 and a half.
    """
    if min(u_reference_mm, setter.repeatability_mm, setter.drift_mm, wear_mm) < 0 or setter.readings < 1:
        raise ValueError("a doubt, a drift or a wear is below zero, or no reading is averaged")
    if not (0 < false_alarm < 0.5 and 0 < missed < 0.5):
        raise ValueError(f"false_alarm={false_alarm:g}, missed={missed:g} must lie between 0 and 0.5")
    parts = [(u_reference_mm, df_reference), (setter.u_check_mm, setter.df)]
    outright = setter.drift_mm if drift is Drift.WORST else 0.0
    if drift is Drift.SPREAD:
        parts.append((setter.drift_mm / math.sqrt(3), math.inf))
    sigma, df = _combined(parts)
    limit = wear_mm + outright + _factor(false_alarm, df) * sigma
    seen = limit + outright + _factor(missed, df) * sigma
    return LengthWindow(
        expected_mm, u_reference_mm, setter, wear_mm, sigma, df, limit, seen, false_alarm, missed, drift
    )  # fmt: skip


def _combined(parts: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Root of the sum of squares, and its degrees of freedom (Welch-Satterthwaite, GUM G.4.1), truncated as GUM G.4 asks."""
    sigma = math.hypot(*(u for u, _ in parts))
    if sigma == 0.0:
        return 0.0, math.inf
    spent = sum((u / sigma) ** 4 / df for u, df in parts)
    return sigma, max(math.floor(1 / spent + 1e-9), 1) if spent > 0 else math.inf


def _factor(chance: float, df: float) -> float:
    """Standard uncertainties that one side exceeds with a chance."""
    return -float(ndtri(chance) if math.isinf(df) else stdtrit(df, chance))


def window_of(facts: Leaning, name: str, drift: Drift = Drift.SPREAD) -> LengthWindow | None:
    """The window of a shop's tool from its length, its allowed wear and the setter; None where one of them is missing (`facts`
    records which)."""
    length = facts.number(f"tools.{name}.LF")
    wear = facts.number(f"tools.{name}.wear_allowed")
    setter = setter_of(facts)
    if length is None or wear is None or setter is None:
        return None
    return length_window(
        length.value, length.u, setter, wear.value + 2 * wear.u, drift=drift, df_reference=length.df
    )  # fmt: skip


def setter_of(facts: Leaning) -> Setter | None:
    """The shop's setter; None where repeatability or drift is missing. One reading where nobody says how many are averaged."""
    repeats = facts.number("tools.setter.repeatability")
    drift = facts.number("tools.setter.drift")
    readings = facts.setting_if_known("tools.setter.readings")
    if repeats is None or drift is None:
        return None
    averaged = readings if isinstance(readings, int) else 1
    return Setter(repeats.value, _df_of(repeats), drift.value + 2 * drift.u, averaged)


def _df_of(spread: Fact) -> float:
    """Degrees of freedom of a standard deviation: as stated, else from its own doubt, ½(u/s)⁻² (GUM G.4.2)."""
    if math.isfinite(spread.df) or spread.u <= 0:
        return spread.df
    return max(0.5 * (spread.value / spread.u) ** 2, 1.0)


def spread_limit(setter: Setter, readings: int) -> float:
    """Greatest spread, max − min, of so many repeats with a sound setter: the range of as many normal readings, mm."""
    if readings < 2:
        return math.inf
    from scipy import stats  # half a second to import, and only a check of several readings needs it

    return float(stats.studentized_range.isf(SPREAD_CHANCE, readings, setter.df)) * setter.repeatability_mm


def check_length(window: LengthWindow, readings_mm: Sequence[float]) -> Checked:
    """What the readings of one check say: intact within the limit less the guard, broken beyond it with the guard, and between them, or
    without a reading, or where repeats part by too much, cannot tell. Longer beyond the limit is no break and no whole tool."""
    readings = [float(value) for value in readings_mm]
    if not readings or not all(math.isfinite(value) for value in readings):
        return Checked(Outcome.CANNOT_TELL, math.nan, math.nan, math.nan, math.nan, math.nan, Why.NO_READING)
    setter = window.setter
    shorter = window.expected_mm - math.fsum(readings) / len(readings)
    others = max(window.sigma_mm**2 - setter.u_check_mm**2, 0.0)
    u = math.sqrt(others + setter.repeatability_mm**2 / len(readings))
    within = chance_within(-window.limit_mm, window.limit_mm, shorter, u)
    guard = GUARD * u + (setter.drift_mm if window.drift is Drift.WORST else 0.0)
    apart = max(readings) - min(readings)
    kept = against_limit(abs(shorter), window.limit_mm, guard)
    if apart > spread_limit(setter, len(readings)):
        outcome, why = Outcome.CANNOT_TELL, Why.SPREAD
    elif kept is None:
        outcome, why = Outcome.CANNOT_TELL, Why.NEAR
    elif kept:
        outcome, why = Outcome.INTACT, Why.KEPT
    elif shorter < 0:
        outcome, why = Outcome.CANNOT_TELL, Why.LONGER
    else:
        outcome, why = Outcome.BROKEN, Why.SHORTER
    return Checked(outcome, shorter, u, within, apart, guard, why)


def against_limit(value: float, limit: float, guard: float) -> bool | None:
    """Whether a value surely keeps an upper limit (True), surely does not (False), or nobody can tell (None): the limit less the expanded
    uncertainty proves the one, with it added the other (ISO 14253-1:2017, from memory)."""
    if value <= limit - guard:
        return True
    return False if value > limit + guard else None


def chance_within(low: float, high: float, value: float, u: float) -> float:
    """Chance that the true value lies in low..high, for a Gaussian doubt (JCGM 106:2012, 7.2, from memory)."""
    if u <= 0:
        return 1.0 if low <= value <= high else 0.0
    return float(ndtr((high - value) / u) - ndtr((low - value) / u))


# --- tools that cannot be told apart ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Alike:
    """Two tools whose lengths the check cannot tell apart: the one in the other's place would pass."""

    first: str
    second: str
    apart_mm: float
    needed_mm: float
    """How far apart they would have to be."""


def alike(windows: Mapping[str, LengthWindow]) -> tuple[Alike, ...]:
    """Pairs of tools, nearest first, that either may stand in the other's place and not be noticed with the allowed chance.

    The stranger is taken as worn as it may be where that brings it nearer, and brings the doubt of its own length.
    """
    found = []
    for first, second in combinations(windows, 2):
        apart = abs(windows[first].expected_mm - windows[second].expected_mm)
        needed = max(_to_tell(windows[first], windows[second]), _to_tell(windows[second], windows[first]))
        if apart < needed:
            found.append(Alike(first, second, apart, needed))
    return tuple(sorted(found, key=lambda pair: pair.apart_mm))


def _to_tell(meant: LengthWindow, other: LengthWindow) -> float:
    """How far another tool's length must be from that of the meant one for its check to notice it."""
    longer = other.expected_mm >= meant.expected_mm
    sigma = math.hypot(meant.sigma_mm, other.u_reference_mm)
    outright = meant.setter.drift_mm if meant.drift is Drift.WORST else 0.0
    worn = other.wear_mm if longer else 0.0
    return meant.limit_mm + outright + _factor(meant.missed, meant.df) * sigma + worn
