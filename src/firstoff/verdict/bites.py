"""Bites: how deep and how wide each move cuts, from the sweeps through the likely, the largest and the smallest blank."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Fact, Leaning
from firstoff.program.bounds import lengths_of_moves, starts_of_moves
from firstoff.program.moves import Floats
from firstoff.removal.swept import FirstCut, PerMove
from firstoff.verdict.blank import DOUBTS
from firstoff.verdict.case import STOCK_FACES, STOCK_TOPS, Case
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form


def cut_moves(case: Case, moves: PerMove, tool: int) -> NDArray[np.intp]:
    """The moves of a tool at feed that take something away."""
    return np.flatnonzero(case.feeding & (case.moves.tool == tool) & (moves.volume_mm3 > 0))


def calls_of(case: Case, tool: int) -> list[tuple[int, int]]:
    """(first, last) move of each unbroken run of moves with a tool in the spindle."""
    mine = np.flatnonzero(case.moves.tool == tool)
    breaks = np.flatnonzero(np.diff(mine) > 1)
    starts, ends = np.append(0, breaks + 1), np.append(breaks, mine.size - 1)
    return [(int(mine[a]), int(mine[b])) for a, b in zip(starts, ends, strict=True)] if mine.size else []


def bite_mm2(moves: PerMove) -> Floats:
    """f8[N] depth times width of each move's cut: the cross-section of what stands before the cutter, by the cells that it takes, so that
    sweeps can be compared."""
    area: Floats = moves.axial_mm.astype(np.float64) * moves.compared_mm
    return area


@dataclass(frozen=True, slots=True)
class Depths:
    """How far down each move of a program goes against the way it came in: `fall_mm` f8[N] downward, `across_mm` f8[N] sideways."""

    fall_mm: Floats
    across_mm: Floats

    @property
    def plunging(self) -> NDArray[np.bool_]:
        """bool[N]: straight down."""
        straight: NDArray[np.bool_] = (self.fall_mm > 0) & (self.across_mm <= STRAIGHT * self.fall_mm)
        return straight


LEAST_S = 1e-6
"""Moves whose time is not known weigh next to nothing."""
STRAIGHT = 1e-3
"""Sideways over down below which a move goes straight down: rounding of a program's coordinates."""


def depths(case: Case) -> Depths:
    """Way down and across of each move; NaN where its start is not known in its own frame. An arc's way across is along the arc."""
    fall: Floats = (starts_of_moves(case.moves) - case.moves.end_mm)[:, 2]
    length = lengths_of_moves(case.moves, case.reading.arcs)
    return Depths(fall, np.sqrt(np.maximum(length**2 - fall**2, 0.0)))


def with_top(facts: Leaning, likely: float, largest: float) -> Form:
    """A depth of the likely blank that grows with its top, by what the sweep through the largest blank shows."""
    top = _top(facts)
    if top is None or top.u == 0.0 or largest <= likely:
        return Form(max(likely, largest))
    slope = (largest - likely) / (DOUBTS * top.u)
    return Form(likely - slope * top.value, ((top.path, slope),))


def _top(facts: Leaning) -> Fact | None:
    tops = (facts.number_if_known(path) for path in (*STOCK_TOPS, STOCK_FACES))
    return next((top for top in tops if top is not None), None)


def told_s(case: Case) -> Floats:
    """f8[N] seconds that each move takes at the feed commanded; 0 where no feed is known."""
    feed = np.nan_to_num(case.moves.feed_mm_per_s)
    length = np.nan_to_num(lengths_of_moves(case.moves, case.reading.arcs))
    seconds: Floats = np.divide(length, feed, out=np.zeros(len(case.moves)), where=case.feeding & (feed > 0))
    return seconds


def usual_bite(case: Case, told: Followed, first: FirstCut, seconds: Floats) -> float | None:
    """The median cross-section of a tool's cuts from one call to the next, by the time they take (`seconds` f8[N]), mm²; None if it cuts
    nothing."""
    run = next((run for run in calls_of(case, first.tool) if run[0] <= first.move <= run[1]), (first.move, first.move))
    moves = cut_moves(case, told.likely.moves, first.tool)
    moves = moves[(moves >= run[0]) & (moves <= run[1])]
    area = bite_mm2(told.likely.moves)[moves]
    moves, area = moves[area > 0], area[area > 0]
    if not moves.size:
        return None
    weight = seconds[moves]
    order = np.argsort(area, kind="stable")
    gone = np.cumsum(np.maximum(weight[order], LEAST_S))
    return float(area[order][int(np.searchsorted(gone, gone[-1] / 2))])
