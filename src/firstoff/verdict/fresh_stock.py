"""Rapids that go below the top of the stock, sorted without following the stock: free for certain, solid for certain, or not settled."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Leaning
from firstoff.verdict.case import Case, spindle_tool, tool_radius

SAME_PLACE_MM = 0.002
"""X and Y closer than the rounding of a program's third decimal are the same place."""
MOST_LOOKED_AT = 400
"""Low rapids looked at one by one; a program with more leaves the rest unsettled, which is never clear."""


@dataclass(frozen=True, slots=True)
class LowRapids:
    """Moves by what can be said of them."""

    solid: tuple[int, ...]
    """End inside the blank where no cut before came near: they meet stock that nobody has cut."""
    unsettled: tuple[int, ...]
    """Other cuts were made near: only the stock as cut could tell."""


def sort_low_rapids(
    case: Case,
    facts: Leaning,
    low: NDArray[np.intp],
    down: NDArray[np.bool_],
    tool: int,
    blank_xy: tuple[float, float, float, float],
) -> LowRapids:
    """Sort rapids whose tool overlaps the blank. `down` bool[M] marks those that go straight down.

    Free: straight down to where the same tool has fed at the same place before (its own hole, its own slot).
    Solid: the axis ends inside the blank and no cut before it, at or below its height, came as near as the two radii together.
    """
    name = spindle_tool(facts, tool)
    radius = (tool_radius(facts, name) if name else None) or 0.0
    apart = radius + _widest(case, facts)
    x_low, x_high, y_low, y_high = blank_xy
    solid: list[int] = []
    unsettled: list[int] = [int(move) for move in low[MOST_LOOKED_AT:]]
    for move, straight in zip(low[:MOST_LOOKED_AT].tolist(), down[:MOST_LOOKED_AT].tolist(), strict=True):
        x, y, z = (float(value) for value in case.moves.end_mm[move])
        nearest, own = _nearest_cuts(case, move, x, y, z)
        if straight and own <= SAME_PLACE_MM:
            continue
        inside = x_low <= x <= x_high and y_low <= y <= y_high
        (solid if inside and nearest > apart else unsettled).append(move)
    return LowRapids(tuple(solid), tuple(sorted(unsettled)))


def _widest(case: Case, facts: Leaning) -> float:
    """Greatest radius of the tools that cut anything, mm."""
    names = {spindle_tool(facts, int(tool)) for tool in np.unique(case.moves.tool[case.feeding])}
    return max((tool_radius(facts, name) or 0.0 for name in names if name), default=0.0)


def _nearest_cuts(case: Case, move: int, x: float, y: float, z: float) -> tuple[float, float]:
    """Distance in X Y to the rectangle of any cut before this move at or below Z, and to the end of one by the same tool."""
    moves = case.moves
    before = np.flatnonzero(case.feeding[:move] & (case.low_mm[:move, 2] <= z + SAME_PLACE_MM))
    if not before.size:
        return np.inf, np.inf
    starts = moves.end_mm[np.maximum(before - 1, 0), :2]
    low, high = np.fmin(case.low_mm[before, :2], starts), np.fmax(case.high_mm[before, :2], starts)
    point = np.array([x, y])
    away = np.linalg.norm(np.maximum(np.maximum(low - point, point - high), 0.0), axis=1)
    mine = moves.tool[before] == moves.tool[move]
    at_end = np.linalg.norm(moves.end_mm[before[mine], :2] - point, axis=1)
    return float(np.nanmin(away, initial=np.inf)), float(np.nanmin(at_end, initial=np.inf))
