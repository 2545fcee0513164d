"""The feeds that loads are reckoned at.

Where the timeline kept the speed along each move (`motion.profile`), a station has the feed that is reached there: its way over its time.
Of longer programs only the mean of each move is known. Peaks are then at the quickest that a move may run at anywhere within it, which is
too much for most of its way and never too little; power over time is at the mean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.loads.clock import Times
from firstoff.motion.plan import NEARLY_CAPPED, REACHED
from firstoff.motion.timeline import LimitedBy, Timeline
from firstoff.program.moves import Floats, Ints, Moves

CAPPED = (int(LimitedBy.FEED), int(LimitedBy.ARC), int(LimitedBy.BLOCK_RATE))
"""Reasons that hold the whole move down, not its ends."""
RAMPS = 3.0
"""Greatest over mean speed of a move, at most: a ramp that begins at rest with a limited jerk goes with the square of the time, and the mean
of that is a third."""


@dataclass(frozen=True, slots=True)
class Feeds:
    """f8[N] mm/s each, one row a move or a station: the slowest it may be, what it likely is, that of the likely plan that peaks are
    reckoned at, and the quickest that it may be."""

    slow: Floats
    likely: Floats
    peak: Floats
    quick: Floats

    def where(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> Feeds:
        """Some of the rows."""
        return Feeds(self.slow[chosen], self.likely[chosen], self.peak[chosen], self.quick[chosen])


def feeds_of(moves: Moves, timeline: Timeline) -> Feeds:
    """By move, from the means alone. Where a move as good as reaches its commanded feed, that is what it runs at between its ends."""
    commanded = np.where(moves.feed_mm_per_s > 0.0, moves.feed_mm_per_s, np.inf)
    mean = timeline.mean_feed_likely
    reached = (mean >= REACHED * commanded) & (mean > 0.0)
    likely = np.where(reached, np.maximum(commanded, mean), mean)
    ahead = np.where(np.isin(timeline.limited_by, CAPPED), 1.0 / NEARLY_CAPPED, RAMPS)
    peak, quick = (np.maximum(np.minimum(commanded, ahead * most), most) for most in (mean, timeline.mean_feed_high))
    return Feeds(timeline.mean_feed_low, likely, np.maximum(peak, likely), np.maximum(quick, likely))


def feeds_at(by_move: Feeds, timeline: Timeline, move: Ints, times: Times) -> Feeds:
    """By station. Unknown limits of the control open a bracket: its ends stay those of the whole move, as parts of its mean or beyond."""
    own = by_move.where(move.astype(np.intp))
    if times.mean is None or times.fastest is None:
        return own
    mean, low, high = timeline.mean_feed_likely[move], timeline.mean_feed_low[move], timeline.mean_feed_high[move]
    slower = np.divide(low, mean, out=np.ones(mean.size), where=mean > 0.0)
    most = np.maximum(own.quick, times.fastest)
    here = np.minimum(times.mean, most)  # rounding of a very short time makes no feed
    return Feeds(
        here * np.minimum(slower, 1.0), here, here, np.where(high > mean, most, np.maximum(here, times.fastest))
    )
