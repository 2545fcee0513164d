"""Part: will two tools agree in Z?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Quantity, Stretch
from firstoff.removal.swept import Floor
from firstoff.verdict.bending import as_length, axial_spring, in_series
from firstoff.verdict.case import Case, best
from firstoff.verdict.features import Toleranced, nothing_to_judge, toleranced
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form, Scale, of
from firstoff.verdict.load_forms import log_form
from firstoff.verdict.positions import tip_in_work
from firstoff.verdict.question import Check, Finding, Limit, Question, Risk
from firstoff.verdict.stretches import candidates, cut_program, doubts_of, tool_words, with_loads
from firstoff.verdict.tools import spindle_tool

QUESTION = Question("step", Risk.PART, "Will two tools agree in Z?")
UM = 1000.0
NOT_LOOKED_AT = "Heat between the two tools, how well each seats again, and tilt of the spindle were not looked at."
DO = "Measure both tools again in one go on the setter, or make both floors with one tool."


@dataclass(frozen=True, slots=True)
class Pair:
    """Two floors that must lie at one height, or one `apart_mm` above the other (first over second)."""

    first: Floor
    second: Floor
    apart_mm: float


def find(case: Case, facts: Leaning) -> Finding:
    """The difference of two tips with the doubt of both lengths, and what the cut lifts each, against the tolerance of a step.

    A step with a size lies within half of its tolerance on either side; two floors meant as one lie inside a zone as wide as it.
    """
    features = toleranced(facts, "step")
    told, needs = cut_program(case, facts)
    if not features:
        return nothing_to_judge(facts, _why_not(case, told))
    if told is None:
        return Finding((), tuple(needs))
    stretches = with_loads(case, facts, told, needs)
    limits: list[Limit] = []
    for feature in features:
        for pair in pairs_of(told, feature):
            limits += _limits(case, facts, feature, pair, stretches)
    if not limits and not needs and not facts.missing:
        names = ", ".join(feature.what for feature in features)
        return Finding(not_asked=f"no two tools make floors that meet for: {names}")
    check = Check(Scale.DIFFERENCE, "µm", tuple(limits), (), _clear(case, facts, limits))
    return Finding((check,), tuple(needs), (NOT_LOOKED_AT, *doubts_of(stretches)))


def _why_not(case: Case, told: Followed | None) -> str:
    """Floors of two tools that meet with nobody asking are worth a word."""
    meetings = told.surfaces.meetings if told is not None else ()
    if not meetings:
        return "no step with a tolerance among the features"
    longest = max(meetings, key=lambda meeting: meeting.along_mm)
    line = int(case.moves.line[longest.second.move])
    first, second = (f"T{floor.tool}" for floor in (longest.first, longest.second))
    return (
        f"no step with a tolerance among the features; {first} and {second} meet in one floor at line {line}, "
        f"along {case.units.length(longest.along_mm)}"
    )


def pairs_of(told: Followed, feature: Toleranced) -> Iterator[Pair]:
    """Floors that meet at one height; or, for a step with a size, two floors of different calls that lie that far apart."""
    if feature.size is None or feature.size.value <= 0:
        for meeting in told.surfaces.meetings:
            if feature.made_by(meeting.first.tool) or feature.made_by(meeting.second.tool):
                yield Pair(meeting.first, meeting.second, 0.0)
        return
    floors, size = told.surfaces.floors, feature.size.value
    for high in floors:
        for low in floors:
            near = abs(high.z_mm - low.z_mm - size) <= max(feature.tol.value, NEAR_MM)
            if near and high.tool != low.tool and (feature.made_by(high.tool) or feature.made_by(low.tool)):
                yield Pair(high, low, size)


NEAR_MM = 0.05
"""A step whose size the program misses by no more than this is that step: by more, it is another."""


def _limits(case: Case, facts: Leaning, feature: Toleranced, pair: Pair, stretches: Sequence[Stretch]) -> list[Limit]:
    """The first floor too high, and too low, over the second."""
    heights = [_height(case, facts, floor, stretches) for floor in (pair.first, pair.second)]
    if heights[0] is None or heights[1] is None:
        return []
    off = heights[0] - heights[1] - pair.apart_mm
    share = 1.0 if pair.apart_mm == 0.0 else 0.5
    later = max(pair.first, pair.second, key=lambda floor: floor.move)
    place, value = case.place(later.move), best(facts.facts, off)
    first, second = (_who(facts, floor) for floor in (pair.first, pair.second))
    side = "higher" if value >= 0 else "lower"
    over = f" than {case.units.length(pair.apart_mm)} over" if pair.apart_mm else " than"
    what = (
        f"Line {place.line}: the floor of {first} likely lies {case.units.fine(abs(value))} {side}{over} that of {second}, give or take "
        f"the doubt of both lengths; {case.units.fine(share * feature.tol.value)} are allowed."
    )
    allowed = of(feature.tol, share * UM)
    return [Limit(place, off.scaled(sign * UM), allowed, what, DO) for sign in (1.0, -1.0)]


def _height(case: Case, facts: Leaning, floor: Floor, stretches: Sequence[Stretch]) -> Form | None:
    """Height of a floor as it comes out: that of the tip, lifted by what the cut pushes it up."""
    tip = tip_in_work(case, facts, int(case.moves.frame[floor.move, 2]), floor.tool)
    if tip is None:
        return None
    height = tip - best(facts.facts, tip) + floor.z_mm
    pushes = [
        candidate
        for stretch in stretches
        if stretch.first_move <= floor.move <= stretch.last_move
        for candidate in candidates(stretch, Quantity.FLOOR)
    ]
    if not pushes:
        return height
    most = max(pushes, key=lambda candidate: abs(candidate.value))
    spring, force = axial_spring(facts), log_form(abs(most.value), most.exponents, facts)
    if spring is None or force is None:
        return height if spring is not None else None
    return height + as_length(force + in_series((spring,), facts), facts).scaled(math.copysign(1.0, most.value))


def _who(facts: Leaning, floor: Floor) -> str:
    return tool_words(spindle_tool(facts, floor.tool) or "?", floor.tool)


def _clear(case: Case, facts: Leaning, limits: Sequence[Limit]) -> str:
    off = max((abs(best(facts.facts, limit.demand)) for limit in limits), default=0.0) / UM
    return f"Floors that meet differ by {case.units.fine(off)} at most, with the doubt of both lengths inside the tolerance."
