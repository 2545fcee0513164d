"""Which stations can be the worst of their stretch: found chunk by chunk, kept few, as rows of one table.

A force is, in logarithms, ln D = ln g - mc·(a mean of ln(h/at)) + what all stations share. Whatever mc turns out to be, only stations on
the hull of (ln D, d ln D/d mc) can be the worst. Where run-out, an edge force or another ratio enters, that holds to first order only, so
the largest by value are kept too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from firstoff.loads.cut_loads import Candidate
from firstoff.program.moves import Floats

POOL = 200
"""Stations kept of a quantity while the program is followed."""
KEPT = 40
"""Candidates that are handed on."""
REACH = 4.0
"""Standard uncertainties of mc within which every worst station is kept."""
LOOKS = 33
"""Values of mc between them that are looked at."""

FIELDS = (
    "kc",
    "mc",
    "radial_ratio",
    "axial_ratio",
    "edge_force",
    "model_factor",
    "wear_factor",
    "run_out_mm",
    "helix",
    "width",
)
"""Fields of `Constants` that a load has exponents in; `helix` is the tool's angle, `width` the grid's doubt (`loads.grid_doubt`)."""
# Columns of a table of stations: what a candidate is made of. SLOPE is d ln|value| / d mc; BY_FEED the exponent of the feed.
MOVE, VALUE, SLOPE, LEVER, FEED, CHIP, DEEP, WIDE, BY_FEED = range(9)
TIP, WAY, PUSH = slice(9, 12), slice(12, 15), slice(15, 18)
EXPONENTS = slice(18, 18 + len(FIELDS))
COLUMNS = 18 + len(FIELDS)
Table = NDArray[np.float64]
"""f8[K, COLUMNS]"""


@dataclass(slots=True)
class Pool:
    """The stations of one stretch that may be the worst of one quantity, so far."""

    u_mc: float
    table: Table = field(default_factory=lambda: np.empty((0, COLUMNS)))
    crowded: bool = False
    """More stations lay near the top than could be kept."""

    def wants(self, value: Floats, slope: Floats, move: NDArray[np.int32]) -> NDArray[np.intp]:
        """Which of new stations would be taken in."""
        own = len(self.table)
        both = np.concatenate([self.table[:, VALUE], value])
        slopes = np.concatenate([self.table[:, SLOPE], slope])
        moves = np.concatenate([self.table[:, MOVE].astype(np.int64), move])
        chosen = select(both, slopes, moves, self.u_mc, POOL)
        return np.sort(chosen[chosen >= own]) - own

    def take(self, table: Table) -> None:
        """Take new stations in and let go of what can no longer be worst."""
        both = np.concatenate([self.table, table])
        chosen = select(both[:, VALUE], both[:, SLOPE], both[:, MOVE].astype(np.int64), self.u_mc, POOL)
        self.crowded |= chosen.size >= POOL
        self.table = both[chosen]

    def kept(self) -> Table:
        """The stations of candidates, worst first."""
        table = self.table
        chosen = select(table[:, VALUE], table[:, SLOPE], table[:, MOVE].astype(np.int64), self.u_mc, KEPT)
        return table[chosen[np.argsort(-table[chosen, VALUE], kind="stable")]]


def select(value: Floats, slope: Floats, move: NDArray[np.int64], u_mc: float, most: int) -> NDArray[np.intp]:
    """Rows that can be the worst for some mc within `REACH` u, then the largest by value of other moves, `most` in all."""
    usable = np.flatnonzero(np.isfinite(value) & (value > 0.0))
    if not usable.size:
        return usable
    log = np.log(value[usable])
    tilt = slope[usable]
    reach = REACH * u_mc
    near = np.flatnonzero(log >= log.max() - reach * (tilt.max() - tilt.min()))  # no other can come up to the top
    shifts = np.linspace(-reach, reach, LOOKS) if reach > 0.0 and near.size > 1 else np.zeros(1)
    first = [int(near[int(np.argmax(log[near] + shift * tilt[near]))]) for shift in shifts.tolist()]
    hull = usable[np.unique(first)]
    room = most - hull.size
    if room <= 0:
        return hull[:most]
    return np.concatenate([hull, _largest(usable, log, move, set(move[hull].tolist()), room)])


def _largest(
    usable: NDArray[np.intp], log: Floats, move: NDArray[np.int64], taken: set[int], room: int
) -> NDArray[np.intp]:
    """The largest station of each of the `room` moves with the largest, of moves that are not taken."""
    free = np.flatnonzero(~np.isin(move[usable], list(taken))) if taken else np.arange(usable.size)
    few = MANY * room
    top = free[np.argpartition(-log[free], few)[:few]] if free.size > few else free
    best = _one_a_move(top, log, move[usable])
    if best.size < room and top.size < free.size:  # the top lies in few moves
        best = _one_a_move(free, log, move[usable])
    return usable[best[np.argsort(-log[best], kind="stable")[:room]]]


MANY = 16
"""Stations that are looked at first for each that is wanted."""


def _one_a_move(rows: NDArray[np.intp], log: Floats, move: NDArray[np.int64]) -> NDArray[np.intp]:
    """Of rows, the largest of each move."""
    order: NDArray[np.intp] = rows[np.lexsort((-log[rows], move[rows]))]
    first = np.concatenate([[True], np.diff(move[order]) != 0]) if order.size else np.empty(0, dtype=bool)
    found: NDArray[np.intp] = order[first]
    return found


def candidate_of(row: Floats, turns_per_s: float, paths: Mapping[str, str]) -> Candidate:
    """A station as questions see it; `paths`: field -> path of its fact, of those that are facts."""
    move, value, _, lever, feed, chip, deep, wide, by_feed = (float(number) for number in row[:9])
    exponents = tuple(
        (paths[name], exponent)
        for name, exponent in zip(FIELDS, row[EXPONENTS].tolist(), strict=True)
        if name in paths and exponent != 0.0
    )
    return Candidate(
        int(move), _three(row[TIP]), value, exponents, abs(turns_per_s), feed, chip, deep, wide, lever, _three(row[WAY]),
        _three(row[PUSH]), by_feed,
    )  # fmt: skip


def _three(row: Floats) -> tuple[float, float, float]:
    x, y, z = row.tolist()
    return x, y, z
