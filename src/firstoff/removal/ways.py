"""The way of each move as surfaces ask for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.path.pieces import Pieces
from firstoff.program.moves import Floats, Ints
from firstoff.removal.contact import stretches_of
from firstoff.removal.profile import frozen


@dataclass(frozen=True, slots=True)
class Ways:
    """The way of each move as the kernels read it; see `scan._kernels`. `tip_mm` f8[N] lowest height of the tip above the grid's level,
    `stretch` i4[N] which call of a tool it belongs to, `tool` i4[N]."""

    first: NDArray[np.int64]
    start: Floats
    end: Floats
    arc: Ints
    centre: Floats
    sweep: Floats
    tip_mm: Floats
    stretch: Ints
    tool: Ints

    @property
    def lines(self) -> tuple[NDArray[np.int64], Floats, Floats, Ints, Floats, Floats]:
        return self.first, self.start, self.end, self.arc, self.centre, self.sweep


def ways_of(pieces: Pieces, move_count: int, z0_mm: float) -> Ways:
    """The lines and arcs of each move; ghosts and arcs outside X Y are left out or taken as their chords."""
    real = np.flatnonzero(~pieces.ghost) if pieces.ghost.any() else slice(None)
    move, arc = pieces.move[real], pieces.arc[real]
    first = np.zeros(move_count + 1, np.int64)
    np.cumsum(np.bincount(move, minlength=move_count), out=first[1:])
    start, end = pieces.start_mm[real], pieces.end_mm[real]
    if pieces.arcs.plane.size:
        arc = np.where((arc >= 0) & (pieces.arcs.plane[np.maximum(arc, 0)] == 17), arc, -1)
    centre, sweep = pieces.arcs.centre_mm, pieces.arcs.sweep_rad
    if not sweep.size:
        centre, sweep = np.zeros((1, 2)), np.zeros(1)
    tip, stretch, tool = np.full(move_count, np.nan), *(np.full(move_count, -1, np.int32) for _ in range(2))
    begins = first[:-1][np.diff(first) > 0]
    moving = move[begins]
    if begins.size:
        tip[moving] = np.minimum.reduceat(np.minimum(start[:, 2], end[:, 2]), begins) - z0_mm
        stretch[moving] = stretches_of(pieces)[0][real][begins]
        tool[moving] = pieces.tool[real][begins]
    return Ways(
        frozen(first), frozen(start), frozen(end), frozen(arc.astype(np.int32)), frozen(centre), frozen(sweep), frozen(tip),
        frozen(stretch), frozen(tool),
    )  # fmt: skip
