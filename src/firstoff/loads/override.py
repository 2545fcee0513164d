"""The feed override a stretch can take: down to where its edges rub, up to where chip, torque, power or bending is at its limit."""

from __future__ import annotations

import math
from collections.abc import Mapping

from firstoff.loads.cut_loads import Candidate, Quantity, Stretch

HIGHEST = 10.0
"""An override that may be higher than this is not limited by what was looked at."""
FLATTEST = 0.05
"""A load that goes with less than this power of the feed is not brought down by it: no override helps."""


def override_band(
    stretch: Stretch, limits: Mapping[Quantity, float], least_chip_mm: float | None = None
) -> tuple[float | None, float | None]:
    """(lowest, highest) factor on the feed commanded; None where nothing limits it.

    `limits`: what chip, torque, power, bending, ... may be at most, in the units of `Quantity`, with whatever margin the caller wants in
    them. `least_chip_mm`: below it edges rub; that of the stretch where not given. Each load goes with the power of the feed that its
    candidate states, to first order. A band whose lower end lies above its upper end is handed back as it is: no override suits.
    """
    least = stretch.least_chip_mm if least_chip_mm is None else least_chip_mm
    thin = stretch.candidates.get(Quantity.THIN, ())
    lows = [(least / one.value) for one in thin if least is not None and one.value > 0.0]
    highs = [
        factor
        for quantity, limit in limits.items()
        for one in stretch.candidates.get(quantity, ())
        if (factor := _factor(one, limit)) is not None
    ]
    highest = min(highs, default=math.inf)
    return max(lows, default=None), None if highest > HIGHEST else highest


def _factor(candidate: Candidate, limit: float) -> float | None:
    """Factor on the feed that brings a load to its limit; None if the feed does not move it."""
    value = abs(candidate.value)
    if not (value > 0.0 and limit > 0.0) or candidate.feed_exponent < FLATTEST:
        return None
    return float((limit / value) ** (1.0 / candidate.feed_exponent))
