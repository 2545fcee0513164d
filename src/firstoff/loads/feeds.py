"""The feeds that loads are reckoned at: of a timeline only the mean of each move is known, and a chip is as thick as the feed at its place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstoff.motion.plan import NEARLY_CAPPED, REACHED
from firstoff.motion.timeline import LimitedBy, Timeline
from firstoff.program.moves import Floats, Moves

CAPPED = (int(LimitedBy.FEED), int(LimitedBy.ARC), int(LimitedBy.BLOCK_RATE))
"""Reasons that hold the whole move down, not its ends."""
RAMPS = 2.0
"""Greatest over mean speed of a move, at most: a ramp has the mean of its ends, and the lower end is no less than nothing."""


@dataclass(frozen=True, slots=True)
class Feeds:
    """f8[N] mm/s each: the slowest a move may be on the mean, what it likely runs at, the quickest that it may run at anywhere."""

    slow: Floats
    likely: Floats
    quick: Floats


def feeds_of(moves: Moves, timeline: Timeline) -> Feeds:
    """Where a move as good as reaches its commanded feed, that is what it runs at between its ends. The quick end is a bound."""
    commanded = np.where(moves.feed_mm_per_s > 0.0, moves.feed_mm_per_s, np.inf)
    mean = timeline.mean_feed_likely
    reached = (mean >= REACHED * commanded) & (mean > 0.0)
    likely = np.where(reached, np.maximum(commanded, mean), mean)
    capped = np.isin(timeline.limited_by, CAPPED)
    ahead = np.where(capped, 1.0 / NEARLY_CAPPED, RAMPS) * timeline.mean_feed_high
    quick = np.maximum(np.minimum(commanded, ahead), timeline.mean_feed_high)
    return Feeds(timeline.mean_feed_low, likely, np.maximum(quick, likely))
