"""When the tip is at each station, and for how long the station speaks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.motion.timeline import Timeline
from firstoff.path.pieces import Pieces, Stations
from firstoff.path.stations import lengths_of_pieces
from firstoff.program.moves import PLANE_AXES, Floats, Ints

SLACK_MM = 1e-5
"""Steps are stored as float32: a station that lies this near to the start of its piece begins there."""


@dataclass(frozen=True, slots=True)
class Times:
    """One row a station: f8 begin and length of its time; i4 first of the moves that it speaks for (short blocks share one); f8 mm/s along
    the programmed path: the mean of it, and the greater speed of its two ends (None where only the mean of each move is known)."""

    begin_s: Floats
    span_s: Floats
    since: Ints
    mean: Floats | None = None
    fastest: Floats | None = None

    def where(self, chosen: NDArray[np.bool_]) -> Times:
        """Some of the stations."""
        mean, fastest = (None if one is None else one[chosen] for one in (self.mean, self.fastest))
        return Times(self.begin_s[chosen], self.span_s[chosen], self.since[chosen], mean, fastest)


class Clock:
    """Knows the time at every place of the pieces: a move is gone along as its plan says, or evenly where only its mean feed is known."""

    def __init__(self, timeline: Timeline, pieces: Pieces) -> None:
        self.timeline, self.pieces = timeline, pieces
        length = np.where(pieces.ghost, 0.0, lengths_of_pieces(pieces)) if len(pieces) else np.empty(0)
        self.start_mm = np.concatenate([[0.0], np.cumsum(length)])
        """f8[P + 1] way before each piece, over the whole program."""
        moves = timeline.move_s.size
        self.whole_mm = np.bincount(pieces.move, weights=length, minlength=moves)
        first = np.searchsorted(pieces.move, pieces.move, side="left")
        self.before_mm = self.start_mm[:-1] - self.start_mm[first]
        """f8[P] way of the same move before each piece."""

    def times(self, stations: Stations) -> Times:
        """Times of stations at feed, in order; none of them may be a ghost."""
        piece = stations.piece
        within = self._within(piece, stations.tip_mm)
        step = stations.step_mm.astype(np.float64)
        end, speed = self._at(piece, within)
        at = self.start_mm[piece] + within - step
        begun = np.clip(np.searchsorted(self.start_mm, at + SLACK_MM, side="right") - 1, 0, len(self.pieces) - 1)
        begun = np.where(step <= within + SLACK_MM, piece, np.minimum(begun, piece))
        begin, before = self._at(begun, np.maximum(at - self.start_mm[begun], 0.0))
        span = np.maximum(end - begin, 0.0)
        if speed is None or before is None or self.timeline.profile is None:
            return Times(begin, span, self.pieces.move[begun])
        fastest: Floats = np.maximum(speed, before)
        move = self.pieces.move[piece]
        # A control leads the programmed path in time; a compensated one is longer or shorter, and gone along in the same time.
        programmed = _over(step * self.timeline.profile.length_mm[move], np.asarray(self.whole_mm[move]))
        mean = np.where(span > 0.0, _over(programmed, span), fastest)
        return Times(begin, span, self.pieces.move[begun], mean, fastest)

    def _at(self, piece: NDArray[np.integer], within: Floats) -> tuple[Floats, Floats | None]:
        """Time at a way along pieces, and the speed along the programmed path there."""
        move = self.pieces.move[piece]
        whole = self.whole_mm[move]
        share = _over(self.before_mm[piece] + within, whole)
        share, profile = np.clip(share, 0.0, 1.0), self.timeline.profile
        if profile is None:
            return self.timeline.start_s[move] + share * self.timeline.move_s[move], None
        since, speed = profile.at(move, share)
        return self.timeline.start_s[move] + since, speed

    def _within(self, piece: Ints, tip_mm: Floats) -> Floats:
        """f8[K] way of the tip from the start of its piece."""
        pieces = self.pieces
        way: Floats = np.linalg.norm(tip_mm - pieces.start_mm[piece], axis=1)
        rows = np.flatnonzero(pieces.arc[piece] >= 0)
        if rows.size:
            of = piece[rows]
            way[rows] = _turned(pieces, of, tip_mm[rows]) * (self.start_mm[of + 1] - self.start_mm[of])
        return way


def _over(part: Floats, whole: NDArray[np.floating]) -> Floats:
    share: Floats = np.divide(part, whole, out=np.zeros(whole.size), where=whole > 0.0)
    return share


def _turned(pieces: Pieces, piece: Ints, tip_mm: Floats) -> Floats:
    """f8[K] share of its arc that the tip has gone; a station lies beyond the start of its piece, so a full turn is one, not none."""
    arcs, row = pieces.arcs, pieces.arc[piece]
    axes = np.zeros((20, 3), dtype=np.intp)
    for plane, numbers in PLANE_AXES.items():
        axes[plane] = numbers
    in_plane = axes[arcs.plane[row]]
    each = np.arange(row.size)

    def angle(points: Floats) -> Floats:
        x, y = (points[each, in_plane[:, k]] - arcs.centre_mm[row, k] for k in range(2))
        found: Floats = np.arctan2(y, x)
        return found

    sweep = arcs.sweep_rad[row]
    start = pieces.start_mm[piece]
    turn = 2.0 * math.pi
    gone = np.mod((angle(tip_mm) - angle(start)) * np.sign(sweep), turn)
    gone = np.where(gone < 1e-9, turn, gone)
    rise = arcs.rise_mm[row]
    climbed = tip_mm[each, in_plane[:, 2]] - start[each, in_plane[:, 2]]
    by_rise = np.divide(climbed, rise, out=np.zeros(row.size), where=rise != 0.0) * np.abs(sweep)
    gone += turn * np.maximum(np.round((by_rise - gone) / turn), 0.0)
    share: Floats = np.clip(gone / np.maximum(np.abs(sweep), 1e-12), 0.0, 1.0)
    return share
