"""When the tip is at each station, and for how long the station speaks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.motion.timeline import Timeline
from firstoff.program.moves import Floats, Ints


@dataclass(frozen=True, slots=True)
class Times:
    """One row a station: f8 begin and length of its time; i4 first of the moves that it speaks for (short blocks share one)."""

    begin_s: Floats
    span_s: Floats
    since: Ints

    def where(self, chosen: NDArray[np.bool_]) -> Times:
        """Some of the stations."""
        return Times(self.begin_s[chosen], self.span_s[chosen], self.since[chosen])


@dataclass(slots=True)
class Clock:
    """Goes along the stations in program order."""

    timeline: Timeline
    move: int = -1
    way_mm: float = 0.0
    """Way of that move that former chunks went."""
    until_s: float = 0.0

    def read(self, move: Ints, step_mm: NDArray[np.float32]) -> Times:
        """Times of the next stations (move of each and way since the former one), which must hold no ghosts."""
        step = step_mm.astype(np.float64)
        if not move.size:
            return Times(np.empty(0), np.empty(0), np.empty(0, dtype=np.int32))
        told = self.timeline
        feed = told.mean_feed_likely[move]
        gone = np.cumsum(step)
        new = np.concatenate([[True], move[1:] != move[:-1]])
        first = np.flatnonzero(new)
        before = gone[first] - step[first]
        if int(move[0]) == self.move:
            before[0] -= self.way_mm
        within = gone - np.repeat(before, np.diff(np.append(first, move.size)))
        moving = feed > 0.0
        took = np.divide(within, feed, out=np.zeros(move.size), where=moving)
        end = np.maximum.accumulate(np.maximum(told.start_s[move] + np.minimum(took, told.move_s[move]), self.until_s))
        former = np.concatenate([[self.until_s], end[:-1]])
        span = np.minimum(np.divide(step, feed, out=np.zeros(move.size), where=moving), end - former)
        own = feed * told.move_s[move]
        last = np.concatenate([[self.move], move[:-1]])
        since = np.where(step > own * (1.0 + 1e-6) + 1e-9, np.maximum(last + 1, 0), move).astype(np.int32)
        since = np.minimum(since, move)
        self.move, self.until_s = int(move[-1]), float(end[-1])
        self.way_mm = float(within[-1])
        return Times(end - span, span, since)
