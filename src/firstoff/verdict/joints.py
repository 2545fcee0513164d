"""Where one feed move meets the next without a stop: how sharply the path turns there, and how long the shorter side is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.program.bounds import lengths_of_moves, starts_of_moves
from firstoff.program.moves import PLANE_AXES, Flag, Floats, Reading
from firstoff.verdict.case import FEED_KINDS, Case

NOWHERE_MM = 1e-9
"""Ways below this are none: rounding of coordinates leaves them."""


@dataclass(frozen=True, slots=True)
class Joints:
    """One row a joint, in program order: `before` and `after` i8[J] are the moves that meet, `turn_rad` f8[J] the angle the path turns
    by, `left` bool[J] whether it turns to the left seen from above, `shorter_mm` f8[J] the length of the shorter of the two, `lines` bool[J]
    whether both are straight."""

    before: NDArray[np.intp]
    after: NDArray[np.intp]
    turn_rad: Floats
    left: NDArray[np.bool_]
    shorter_mm: Floats
    lines: NDArray[np.bool_]

    def where(self, mask: NDArray[np.bool_]) -> Joints:
        """Some of the joints."""
        return Joints(
            self.before[mask],
            self.after[mask],
            self.turn_rad[mask],
            self.left[mask],
            self.shorter_mm[mask],
            self.lines[mask],
        )


def feed_joints(case: Case) -> Joints:
    """Joints of feed moves that follow one another directly in one frame, where no exact stop (G61, G9) is called for."""
    moves = case.moves
    start, end, length = tangents(case.reading)
    goes = np.isin(moves.kind, [int(kind) for kind in FEED_KINDS]) & case.sure & (length > NOWHERE_MM)
    stops = (moves.flags & Flag.EXACT_STOP) != 0
    meets = goes[:-1] & goes[1:] & ~stops[:-1] & np.all(moves.frame[:-1] == moves.frame[1:], axis=1)
    meets &= moves.tool[:-1] == moves.tool[1:]
    before = np.flatnonzero(meets)
    after = before + 1
    one, other = end[before], start[after]
    half = (
        np.linalg.norm(other - one, axis=1) / 2
    )  # sine of half the turn: true for the smallest turns, where a cosine is not
    straight = moves.arc < 0
    return Joints(
        before,
        after,
        2 * np.arcsin(np.minimum(half, 1.0)),
        one[:, 0] * other[:, 1] > one[:, 1] * other[:, 0],
        np.minimum(length[before], length[after]),
        straight[before] & straight[after],
    )


def tangents(reading: Reading) -> tuple[Floats, Floats, Floats]:
    """Unit direction at the start f8[N, 3] and at the end f8[N, 3] of each move, and its length f8[N]; NaN where its start is not known
    in its own frame."""
    moves, arcs = reading.moves, reading.arcs
    delta = moves.end_mm - starts_of_moves(moves)
    length = lengths_of_moves(moves, arcs)
    first = np.divide(delta, length[:, None], out=np.zeros_like(delta), where=length[:, None] > NOWHERE_MM)
    last = first.copy()
    rows = np.flatnonzero(moves.arc >= 0)
    for plane, (a, b, normal) in PLANE_AXES.items():
        here = rows[arcs.plane[moves.arc[rows]] == plane]
        arc = moves.arc[here]
        sweep, rise = arcs.sweep_rad[arc], arcs.rise_mm[arc]
        out = moves.end_mm[here][:, (a, b)] - arcs.centre_mm[arc]
        at_start = _turned(out, -sweep)
        for direction, radius in ((first, at_start), (last, out)):
            way = np.zeros((here.size, 3))
            way[:, a], way[:, b] = -radius[:, 1] * sweep, radius[:, 0] * sweep
            way[:, normal] = rise
            direction[here] = way / np.maximum(np.linalg.norm(way, axis=1), NOWHERE_MM)[:, None]
    return first, last, length


def _turned(points: Floats, angle: Floats) -> Floats:
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.column_stack([cosine * points[:, 0] - sine * points[:, 1], sine * points[:, 0] + cosine * points[:, 1]])
