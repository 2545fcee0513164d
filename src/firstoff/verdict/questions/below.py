"""Machine: does anything cut deeper than is allowed?"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Leaning
from firstoff.verdict.case import Case, best, tip_groups
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Scale, exact, of
from firstoff.verdict.positions import tip_in_work
from firstoff.verdict.question import Along, Check, Finding, Limit, Question, Risk
from firstoff.verdict.stock_frame import stock_frame_needs
from firstoff.verdict.tools import spindle_tool

QUESTION = Question("below", Risk.MACHINE, "Does anything cut deeper or wider than is allowed?")
NOT_FOLLOWED = "Wider than allowed was not looked at: that needs the stock to be followed."
SIDEWAYS = "Sideways only a drawn fixture or a target part says what is too wide: the questions about contact and target hold it against them."


def find(case: Case, facts: Leaning) -> Finding:
    """The lowest tip of each tool in each frame against `[around] allowed_below`, whether it takes anything away there or not."""
    allowed = facts.number("job.around.allowed_below")
    told = case.followed if isinstance(case.followed, Followed) else None
    limits: list[Limit] = []
    for row, tool, moves in tip_groups(case, case.moving & case.sure & case.with_tool):
        tip = tip_in_work(case, facts, row, tool)
        if tip is None or allowed is None:
            continue
        move = int(moves[np.argmin(case.low_mm[moves, 2])])
        height = tip + float(case.low_mm[move, 2])
        beyond = of(allowed) - height
        deep = best(facts.facts, beyond)
        place, name = case.place(move), spindle_tool(facts, tool)
        at = case.units.length(best(facts.facts, height))
        verb = _verb(told, move)
        if deep > 0:
            what = f"Line {place.line}: {name} {verb} to Z {at}, {case.units.length(deep)} deeper than the {case.units.length(allowed.value)} allowed."
        else:
            what = f"Line {place.line}: {name} {verb} to Z {at}, {case.units.length(-deep)} above the lowest allowed."
        do = "Look at the length called and at the Z of this line. If the depth is meant, change allowed_below; else make this line shallower."
        limits.append(Limit(place, beyond, exact(0.0), what, do, _all_of(case, moves, move)))
    nearest = min((-best(facts.facts, limit.demand) for limit in limits), default=0.0)
    clear = (
        "" if not limits else f"The deepest tip stays {case.units.length(max(nearest, 0.0))} above the lowest allowed."
    )
    return Finding(
        (Check(Scale.DIFFERENCE, "mm", tuple(limits), (), clear),),
        (*case.lost, *stock_frame_needs(case, facts)),
        (SIDEWAYS if told is not None else NOT_FOLLOWED,),
    )


def _all_of(case: Case, moves: NDArray[np.intp], lowest: int) -> Callable[[], Along]:
    """Every move of one tool in one frame row."""
    z = case.low_mm[:, 2]
    return lambda: case.along(moves, -z[moves], float(-z[lowest]))


def _verb(told: Followed | None, move: int) -> str:
    """Whether the move takes anything away: what goes deep beside the stock meets what the stock lies on, and nothing else."""
    if told is None:
        return "goes"
    return "cuts" if told.likely.moves.cut_share[move] > 0 else "goes, cutting nothing,"
