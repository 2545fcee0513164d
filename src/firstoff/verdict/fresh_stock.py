"""Rapids that go near or below the top of the stock, sorted without following the stock: free or solid for certain, or not settled."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Leaning
from firstoff.verdict.case import Case
from firstoff.verdict.tools import spindle_tool, tool_radius

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


def in_own_hole(case: Case, down: NDArray[np.intp]) -> NDArray[np.bool_]:
    """bool[M]: rapids straight down to where the same tool has fed at the same place, as deep or deeper, before.

    Such a rapid goes through what this tool has made itself: the re-entry of a peck, the second pass of a slot.
    """
    moves = case.moves
    own = np.zeros(len(down), dtype=bool)
    if not len(down):
        return own
    places = _place_keys(case, down)
    feeds = np.flatnonzero(case.feeding & np.isin(places, places[down]))
    lowest: dict[tuple[int, int], list[tuple[int, float]]] = {}
    for feed in feeds.tolist():
        before = lowest.setdefault((int(places[feed]), int(moves.tool[feed])), [])
        before.append((feed, min(float(moves.end_mm[feed, 2]), before[-1][1] if before else np.inf)))
    for index, move in enumerate(down.tolist()):
        fed = lowest.get((int(places[move]), int(moves.tool[move])), [])
        earlier = bisect_left(fed, (move, -np.inf)) - 1
        own[index] = earlier >= 0 and fed[earlier][1] <= moves.end_mm[move, 2] + SAME_PLACE_MM
    return own


def _place_keys(case: Case, down: NDArray[np.intp]) -> NDArray[np.int64]:
    """i8[N]: one number for each X, Y and frame row that moves `down` may end at, so that equal places are found without comparing all with
    all; -1 elsewhere. Few moves share an X and a Y with them, and only those are sorted."""
    moves = case.moves
    grid = np.nan_to_num(np.round(moves.end_mm[:, :2] / SAME_PLACE_MM), nan=-1.0).astype(np.int64)
    near = np.flatnonzero(np.isin(grid[:, 0], grid[down, 0]) & np.isin(grid[:, 1], grid[down, 1]))
    _, keys = np.unique(np.column_stack([grid[near], moves.frame[near]]), axis=0, return_inverse=True)
    places = np.full(len(moves), -1, dtype=np.int64)
    places[near] = keys.ravel()
    return places


def sort_low_rapids(
    case: Case, facts: Leaning, low: NDArray[np.intp], tool: int, blank_xy: tuple[float, float, float, float]
) -> LowRapids:
    """Sort rapids whose tool overlaps the blank.

    Solid: the axis ends inside the blank and no cut before it, at or below its height, came as near as the two radii together.
    """
    name = spindle_tool(facts, tool)
    radius = (tool_radius(facts, name) if name else None) or 0.0
    apart = radius + _widest(case, facts)
    x_low, x_high, y_low, y_high = blank_xy
    solid: list[int] = []
    unsettled: list[int] = [int(move) for move in low[MOST_LOOKED_AT:]]
    for move in low[:MOST_LOOKED_AT].tolist():
        x, y, z = (float(value) for value in case.moves.end_mm[move])
        inside = x_low <= x <= x_high and y_low <= y <= y_high
        (solid if inside and _nearest_cut(case, move, x, y, z) > apart else unsettled).append(move)
    return LowRapids(tuple(solid), tuple(sorted(unsettled)))


def _widest(case: Case, facts: Leaning) -> float:
    """Greatest radius of the tools that cut anything, mm."""
    names = {spindle_tool(facts, int(tool)) for tool in np.unique(case.moves.tool[case.feeding])}
    return max((tool_radius(facts, name) or 0.0 for name in names if name), default=0.0)


def _nearest_cut(case: Case, move: int, x: float, y: float, z: float) -> float:
    """Distance in X Y to the rectangle of any cut before this move at or below Z."""
    before = np.flatnonzero(case.feeding[:move] & (case.low_mm[:move, 2] <= z + SAME_PLACE_MM))
    if not before.size:
        return np.inf
    starts = case.moves.end_mm[np.maximum(before - 1, 0), :2]
    low, high = np.fmin(case.low_mm[before, :2], starts), np.fmax(case.high_mm[before, :2], starts)
    point = np.array([x, y])
    away = np.linalg.norm(np.maximum(np.maximum(low - point, point - high), 0.0), axis=1)
    return float(np.nanmin(away, initial=np.inf))
