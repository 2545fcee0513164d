"""The speed at every place of the likely plan, for whoever needs it along a move and not only its mean.

The square of the speed is linear in the way wherever the acceleration is constant, so the plan's phases become knots (way, speed², time);
phases with jerk that bend away from that are cut into `PARTS` of equal time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import Floats

PARTS = 8
SHORT_MM = 0.02
"""A phase over a way below this stays one piece: no cell of any grid is smaller."""
BENDS = 0.005
"""Part of its own greatest speed that a phase of one piece may be off in its middle."""
MOST_MOVES = 50_000
"""Programs with more moves keep their mean feeds only: a million blocks have four million phases, and such blocks are shorter than a cell."""


@dataclass(frozen=True, slots=True)
class Profile:
    """Arrays f8[N], one row a move: way before it, its length, time before it (pauses left out); f8[K] knots: way, speed squared, time."""

    place_mm: Floats
    length_mm: Floats
    begun_s: Floats
    way_mm: Floats
    square: Floats
    time_s: Floats

    def at(self, move: NDArray[np.integer], share: Floats) -> tuple[Floats, Floats]:
        """f8[K] seconds since the move began and f8[K] mm/s at a share 0..1 of its way; 0 for a move that goes nowhere."""
        way = self.place_mm[move] + share * self.length_mm[move]
        speed: Floats = np.sqrt(np.interp(way, self.way_mm, self.square))
        row = np.clip(np.searchsorted(self.way_mm, way, side="right") - 1, 0, max(self.way_mm.size - 2, 0))
        from_v, to_v = np.sqrt(self.square[row]), np.sqrt(self.square[row + 1])
        gone, whole = way - self.way_mm[row], self.way_mm[row + 1] - self.way_mm[row]
        # As under constant acceleration, stretched to the time that the piece really takes.
        part = _over(gone * (from_v + to_v), whole * (from_v + speed))
        since = self.time_s[row] + np.clip(part, 0.0, 1.0) * (self.time_s[row + 1] - self.time_s[row])
        goes = self.length_mm[move] > 0.0
        return np.where(goes, np.maximum(since - self.begun_s[move], 0.0), 0.0), np.where(goes, speed, 0.0)


def profile_of(
    count: int, moving: NDArray[np.int64], place_mm: Floats, length_mm: Floats, end_s: Floats, phases: Floats
) -> Profile | None:
    """The profile of a plan of `count` moves, of which the `moving` f8[M] go somewhere: way before each of them f8[M + 1], length and end f8[M];
    phases f8[P, 5] time, place, speed, acceleration and jerk at the start of each. None of a plan without phases."""
    if not len(phases):
        return None
    place, length, begun = np.zeros(count), np.zeros(count), np.zeros(count)
    place[moving], length[moving] = place_mm[:-1], length_mm
    begun[moving] = np.concatenate([[0.0], end_s[:-1]])
    time, at, speed, push, jerk = phases.T
    lasts = np.diff(time, append=end_s[-1])
    ways = np.diff(at, append=place_mm[-1])
    parts = np.where((ways > SHORT_MM) & _bends(lasts, ways, speed, push, jerk), PARTS, 1)
    of = np.repeat(np.arange(len(phases)), parts)
    number = np.arange(of.size) - np.repeat(np.cumsum(parts) - parts, parts)
    t = lasts[of] * number / parts[of]
    way = at[of] + t * (speed[of] + t * (push[of] / 2 + t * jerk[of] / 6))
    velocity = np.maximum(speed[of] + t * (push[of] + t * jerk[of] / 2), 0.0)
    made = (
        place, length, begun, np.maximum.accumulate(np.append(way, place_mm[-1])), np.append(velocity, 0.0) ** 2, np.append(time[of] + t, end_s[-1]),
    )  # fmt: skip
    for array in made:
        array.setflags(write=False)
    return Profile(*made)


def _bends(lasts: Floats, ways: Floats, speed: Floats, push: Floats, jerk: Floats) -> NDArray[np.bool_]:
    """bool[P]: whether speed² is too far from linear in the way, half-way through the phase."""

    def speed_at(t: Floats) -> Floats:
        found: Floats = np.maximum(speed + t * (push + t * jerk / 2), 0.0)
        return found

    half, last = 0.5 * lasts, speed_at(lasts)
    way = half * (speed + half * (push / 2 + half * jerk / 6))
    straight = np.sqrt(speed**2 + _over(way, ways) * (last**2 - speed**2))
    off: NDArray[np.bool_] = np.abs(straight - speed_at(half)) > BENDS * np.maximum(speed, last)
    return off


def _over(part: Floats, whole: Floats) -> Floats:
    return np.divide(part, whole, out=np.zeros_like(whole), where=whole > 0.0)
