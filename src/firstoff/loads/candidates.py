"""Which stations can be the worst of their stretch: found chunk by chunk, kept few.

A force is, in logarithms, ln D = ln g - mc·(a mean of ln(h/at)) + what all stations share. Whatever mc turns out to be, only stations on
the hull of (ln D, d ln D/d mc) can be the worst. Where run-out, an edge force or another ratio enters, that holds to first order only, so
the largest by value are kept too.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import Floats

POOL = 200
"""Stations kept of a quantity while the program is followed."""
KEPT = 40
"""Candidates that are handed on."""
REACH = 4.0
"""Standard uncertainties of mc within which every worst station is kept."""
LOOKS = 33
"""Values of mc between them that are looked at."""


@dataclass(frozen=True, slots=True)
class Station:
    """What a candidate will be made of."""

    move: int
    tip_mm: tuple[float, float, float]
    way: tuple[float, float, float]
    feed_mm_per_s: float
    chip_mm: float
    axial_mm: float
    radial_mm: float
    lever_mm: float
    force_n: tuple[float, float, float]
    value: float
    slope: float
    """d ln(value) / d mc"""
    exponents: tuple[tuple[str, float], ...]
    feed_exponent: float


@dataclass(slots=True)
class Pool:
    """The stations of one stretch that may be the worst of one quantity, so far."""

    u_mc: float
    stations: list[Station] = field(default_factory=list)
    crowded: bool = False
    """More stations lay near the top than could be kept."""

    def wants(self, value: Floats, slope: Floats, move: NDArray[np.int32]) -> NDArray[np.intp]:
        """Which of new stations would be taken in."""
        own = len(self.stations)
        both = np.concatenate([[station.value for station in self.stations], value])
        slopes = np.concatenate([[station.slope for station in self.stations], slope])
        moves = np.concatenate([np.array([station.move for station in self.stations], dtype=np.int64), move])
        chosen = np.array(select(both, slopes, moves, self.u_mc, POOL), dtype=np.intp)
        return np.sort(chosen[chosen >= own]) - own

    def take(self, stations: list[Station]) -> None:
        """Take new stations in and let go of what can no longer be worst."""
        if not stations:
            return
        both = self.stations + stations
        value = np.array([station.value for station in both])
        slope = np.array([station.slope for station in both])
        move = np.array([station.move for station in both])
        chosen = select(value, slope, move, self.u_mc, POOL)
        self.crowded |= len(chosen) == POOL
        self.stations = [both[k] for k in chosen]

    def kept(self) -> list[Station]:
        """The candidates, worst first."""
        if not self.stations:
            return []
        value = np.array([station.value for station in self.stations])
        slope = np.array([station.slope for station in self.stations])
        move = np.array([station.move for station in self.stations])
        chosen = select(value, slope, move, self.u_mc, KEPT)
        return sorted((self.stations[k] for k in chosen), key=lambda station: -station.value)


def select(value: Floats, slope: Floats, move: NDArray[np.int_], u_mc: float, most: int) -> list[int]:
    """Rows that can be the worst for some mc within `REACH` u, then the largest by value of other moves, `most` in all."""
    usable = np.flatnonzero(np.isfinite(value) & (value > 0.0))
    if not usable.size:
        return []
    log = np.log(value[usable])
    chosen: dict[int, None] = {}
    moves: set[int] = set()
    for shift in np.linspace(-REACH * u_mc, REACH * u_mc, LOOKS if u_mc > 0.0 else 1).tolist():
        row = int(usable[int(np.argmax(log + shift * slope[usable]))])
        chosen[row] = None
        moves.add(int(move[row]))
    order = usable[np.argsort(-log, kind="stable")]
    _, first = np.unique(move[order], return_index=True)
    for row in order[np.sort(first)].tolist():
        if len(chosen) >= most:
            break
        if int(move[row]) not in moves:
            chosen[row] = None
            moves.add(int(move[row]))
    return list(chosen)
