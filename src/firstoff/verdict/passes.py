"""Passes: what one tool does between two rapids, and which of them cut air while others of the same tool cut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import NO_LENGTH
from firstoff.verdict.bites import Depths
from firstoff.verdict.case import Case

Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Pass:
    """Moves `first` .. `last`, all at feed: from one rapid to the next. All moves of a canned cycle at one hole are one pass."""

    first: int
    last: int
    hole: bool
    """Made by a canned cycle."""


def passes_of(case: Case, first: int, last: int) -> tuple[Pass, ...]:
    """The passes among the moves `first` .. `last`, in program order."""
    fed = np.flatnonzero(case.feeding[first : last + 1]) + first
    if not fed.size:
        return ()
    hole = case.moves.parent[fed]
    same_hole = (hole[1:] >= 0) & (hole[1:] == hole[:-1])
    apart = np.flatnonzero(((np.diff(fed) > 1) & ~same_hole) | (hole[1:] != hole[:-1])) + 1
    starts, ends = np.append(0, apart), np.append(apart - 1, fed.size - 1)
    return tuple(Pass(int(fed[a]), int(fed[b]), bool(hole[a] >= 0)) for a, b in zip(starts, ends, strict=True))


def under_top(case: Case, top_mm: float) -> Bools:
    """bool[N]: moves that are not surely above a height in the stock's frame, by their programmed Z; in any other frame nobody knows."""
    frames, rows = case.reading.frames, case.moves.frame[:, 2]
    plain = (frames.base[rows, 2] == case.stock_base) & (frames.length[rows] != NO_LENGTH)
    above = plain & (case.low_mm[:, 2] + frames.shift_mm[rows, 2] >= top_mm)
    under: Bools = ~above
    return under


def in_air(case: Case, passes: tuple[Pass, ...], down: Depths, under: Bools, met: Bools) -> tuple[Pass, ...]:
    """The passes that are meant to cut and meet nothing: `under` bool[N] tells the moves that are not surely above the stock, `met`
    bool[N] those that take something away or go along what stands there."""
    return tuple(
        one
        for one in passes
        if not bool(met[one.first : one.last + 1].any())
        and _meant(case, slice(one.first, one.last + 1), down, under, one.hole)
    )


def _meant(case: Case, here: slice, down: Depths, under: Bools, hole: bool) -> bool:
    """Whether a pass is meant to cut: any canned cycle, what goes down or across lower than the top of the stock, what comes down at feed
    and then goes across, and what goes across with radius compensation or in an arc (nobody writes either for a way of its own through air: common
    practice). What only comes down above the stock, to be looked at or to go on at rapid, is not."""
    fed = case.feeding[here]
    falls, crosses = fed & (np.nan_to_num(down.fall_mm[here]) > 0), fed & (np.nan_to_num(down.across_mm[here]) > 0)
    shaped = (case.moves.comp_register[here] >= 0) | (case.moves.arc[here] >= 0)
    low = bool((under[here] & (falls | crosses)).any()) or bool((crosses & shaped).any())
    return hole or low or (bool(falls.any()) and bool(crosses[int(np.argmax(falls)) :].any()))
