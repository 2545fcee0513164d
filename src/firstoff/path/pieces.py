"""The way of the tip through the stock: lines and arcs in program order, in the work frame that stock and fixtures are written in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import Arcs, Floats, Ints


@dataclass(frozen=True, slots=True)
class Pieces:
    """One row a line or arc; all arrays read-only and C-contiguous. A move may have none (a dwell), one, or several (compensation
    that goes round a corner, a dog-leg)."""

    move: Ints
    """i4[P] row of `Moves`; never falls."""
    tool: Ints
    """i4[P] T number, or `NO_TOOL`."""
    start_mm: Floats
    """f8[P, 3]"""
    end_mm: Floats
    """f8[P, 3]"""
    arc: Ints
    """i4[P] row of `arcs`, or -1."""
    arcs: Arcs
    """Centres in the work frame of the stock."""
    rapid: NDArray[np.bool_]
    """bool[P]: made at rapid."""
    ghost: NDArray[np.bool_]
    """bool[P]: a way that this rapid may take instead (per-axis dog-leg, where `[control]` does not say): looked at for contact, takes
    nothing away."""
    unknown: Ints
    """i4[K] moves that go somewhere and could not be placed (a coordinate is not known)."""

    def __len__(self) -> int:
        return int(self.move.size)


@dataclass(frozen=True, slots=True)
class Stations:
    """Places of the tip along the pieces, at most one step apart: one chunk of them, in order. The first station of a piece lies one
    step beyond its start (the start is the end of the piece before)."""

    piece: Ints
    """i4[M]"""
    move: Ints
    """i4[M]"""
    tip_mm: Floats
    """f8[M, 3]"""
    way: NDArray[np.float32]
    """f4[M, 3] unit vector of travel at the station (of the tangent, on an arc)."""
    step_mm: NDArray[np.float32]
    """f4[M] way since the former station."""
    tool: Ints
    """i4[M] T number."""
    rapid: NDArray[np.bool_]
    """bool[M]"""
    ghost: NDArray[np.bool_]
    """bool[M]"""

    def __len__(self) -> int:
        return int(self.move.size)
