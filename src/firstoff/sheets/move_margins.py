"""How near each move comes to a limit: ample, less, care, stop, or not known. It is what the path is coloured and widened by.

Loads are held move by move against the limits of their tool's stretch: each move of it in proportion to the load that the demand grows with. Places that answers name count as they were answered there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from firstoff.loads.cut_loads import CutLoads
from firstoff.program.moves import Floats
from firstoff.sheets.stretch_limits import Held, held_limits
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.verdict.judge import Thresholds, thresholds
from firstoff.verdict.question import Answer, Answered


class Margin(IntEnum):
    """What there is left, worst last."""

    AMPLE = 0
    LESS = 1
    NOT_KNOWN = 2
    CARE = 3
    STOP = 4


LESS_ABOVE = 0.001
"""Chance that a move passes a limit from which the margin is no longer ample: finer chances are never told."""
DRIVEN_BY = {"torque": "force_n", "power": "power_w", "strength": "force_n", "chip": "chip_mm"}
"""Which load of each move the demand of a question grows with: torque and stress go with the side force as long as the tool is one."""
NEAR_THE_WAY = ("travel", "keep_out", "rapid_contact", "body_contact", "below")
"""Questions that may speak of a rapid."""
ON_THE_WAY = (
    *NEAR_THE_WAY, "cuts", "reach", "torque", "power", "chip", "strength", "chips_out", "holding", "size", "step", "path_kept", "finish", "target",
)  # fmt: skip
"""Questions whose places lie on the path; the others speak of words, tools and states."""


def margins_of(examination: Examination, rapid: NDArray[np.bool_]) -> NDArray[np.int8]:
    """i1[N] the `Margin` of each move. `rapid` bool[N]: made at rapid."""
    case = examination.case
    levels = np.zeros(len(case.moves), dtype=np.int8)
    told = case.followed
    loads = told.loads if isinstance(told, Followed) else None
    if loads is None:
        levels[case.feeding] = Margin.NOT_KNOWN
    else:
        levels = _by_loads(examination, loads, case.feeding)
    for answered in examination.answers:
        if answered.question.id in ON_THE_WAY:
            _raise_at_places(levels, answered, rapid)
    return levels


def _by_loads(examination: Examination, loads: CutLoads, feeding: NDArray[np.bool_]) -> NDArray[np.int8]:
    """Every move against the limits of its stretch; not known where it cuts and nothing is held against it."""
    count = len(loads.force_n)
    levels, known = np.zeros(count, dtype=np.int8), np.zeros(count, dtype=np.bool_)
    asked = {answered.question.id: answered.question for answered in examination.answers}
    for rows, held, part in _held_parts(examination, loads):
        if held.question in asked:
            limits = thresholds(asked[held.question], examination.facts)
            levels[rows] = np.maximum(levels[rows], _levels(held, part, limits))
            known[rows] |= np.isfinite(part)
    cuts = feeding & ~(loads.force_n == 0)
    levels[cuts & ~known] = Margin.NOT_KNOWN
    return levels


def _held_parts(examination: Examination, loads: CutLoads) -> Iterator[tuple[slice, Held, Floats]]:
    """For each stretch and each of its limits: its moves, what comes nearest to the limit, and every move's load as a part of that."""
    for stretch in loads.stretches:
        rows = slice(stretch.first_move, stretch.last_move + 1)
        for name, held in held_limits(stretch, examination.facts).items():
            load = np.asarray(getattr(loads, DRIVEN_BY[name]), dtype=np.float64)
            at_limit = float(load[held.move])
            if math.isfinite(at_limit) and at_limit > 0:
                yield rows, held, load[rows] / at_limit


def shares_of(examination: Examination) -> NDArray[np.float32]:
    """f4[N] the greatest share that each move uses of any limit of its stretch, at best estimates: 0 where it cuts nothing, NaN where it
    cuts and its load is not known or nothing is held against it."""
    case = examination.case
    shares = np.zeros(len(case.moves), dtype=np.float32)
    told = case.followed
    loads = told.loads if isinstance(told, Followed) else None
    if loads is None:
        shares[case.feeding] = np.nan
        return shares
    known = np.zeros(shares.size, dtype=np.bool_)
    for rows, held, part in _held_parts(examination, loads):
        finite = np.isfinite(part)
        shares[rows] = np.maximum(shares[rows], np.where(finite, part, 0.0) * math.exp(held.log_share))
        known[rows] |= finite
    shares[case.feeding & ~(loads.force_n == 0) & ~known] = np.nan
    return shares


def _levels(held: Held, part: Floats, limits: Thresholds) -> NDArray[np.int8]:
    """Levels of moves whose load is a `part` of that of the move that comes nearest to the limit; those of no load are ample."""
    level = np.zeros(part.size, dtype=np.int8)
    cuts = np.isfinite(part) & (part > 0)
    over = held.log_share + np.log(part[cuts])
    chance = ndtr(over / held.log_u) if held.log_u > 0 else (over > 0).astype(np.float64)
    of_cuts = np.zeros(over.size, dtype=np.int8)
    of_cuts[chance > LESS_ABOVE] = Margin.LESS
    of_cuts[chance > limits.care_above] = Margin.CARE
    of_cuts[chance > limits.stop_above] = Margin.STOP
    level[cuts] = of_cuts
    return level


def _raise_at_places(levels: NDArray[np.int8], answered: Answered, rapid: NDArray[np.bool_]) -> None:
    for place in answered.places:
        move = place.place.move
        level = {Answer.CARE: Margin.CARE, Answer.STOP: Margin.STOP}.get(place.answer)
        if level is None or not 0 <= move < levels.size:
            continue
        if rapid[move] and answered.question.id not in NEAR_THE_WAY:
            continue  # it speaks of what comes after
        levels[move] = max(int(levels[move]), int(level))
