"""Tool: has the spindle the torque at that speed?"""

from __future__ import annotations

import math

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.verdict.case import Case
from firstoff.verdict.forms import Form, Scale
from firstoff.verdict.load_forms import demand_of, log_best, worst_of
from firstoff.verdict.question import Check, Finding, Limit, Question, Risk
from firstoff.verdict.spindle_curve import beyond, rated_curve, torque_at, turns_evenly
from firstoff.verdict.stretches import asked, cut_program, doubts_of, tool_words, with_loads
from firstoff.verdict.words import newton_metres
from firstoff.verdict.words import speed as speed_words

QUESTION = Question("torque", Risk.TOOL, "Has the spindle the torque at that speed?")
LN_NM = math.log(1000.0)
"""N·mm in one N·m, as a logarithm."""
PEAK = (
    "The peak of each turn was held against what the spindle holds for ever. Where [spindle] inertia is known, only what its rotor does not "
    "even out is."
)
TURNING = (Quantity.TORQUE, Quantity.TAP_TORQUE)


def find(case: Case, facts: Leaning) -> Finding:
    """The torque that the drive must give against that of the power curve at the speed: the peak within a turn, or the mean of a turn
    where the rotor is known to be heavy enough to carry it over."""
    told, needs = cut_program(case, facts)
    if told is None:
        return Finding((), tuple(needs))
    stretches = with_loads(case, facts, told, needs)
    points = rated_curve(facts) if stretches else ()
    limits: list[Limit] = []
    uneven = False
    for stretch in stretches:
        even = turns_evenly(facts, stretch)
        uneven |= not even
        for each in asked(case, stretch, needs, *((Quantity.POWER,) if even else TURNING)):
            speed = abs(each.turns_per_s)
            capacity, demand = torque_at(points, speed), demand_of(each, facts)
            if demand is not None and capacity is not None:
                torque = _mean_torque(demand, speed) if even else demand
                limits.append(_limit(case, facts, stretch, each, torque, capacity))
            elif points and capacity is None:
                needs.append(beyond(points, speed, int(case.moves.line[each.move])))
    check = Check(Scale.RATIO, "N·m", tuple(limits), (), _clear(facts, limits))
    notes = (PEAK, *doubts_of(stretches)) if limits and uneven else doubts_of(stretches)
    return Finding((check,), tuple(dict.fromkeys(needs)), notes)


def _mean_torque(power: Form, turns_per_s: float) -> Form:
    """ln(W) to ln(N·mm) at a speed."""
    return power - math.log(2 * math.pi * turns_per_s) + LN_NM


def _limit(case: Case, facts: Leaning, stretch: Stretch, each: Candidate, demand: Form, capacity: Form) -> Limit:
    place = case.place(each.move)
    needs, has = log_best(demand, facts), log_best(capacity, facts)
    what = (
        f"Line {place.line}: {tool_words(stretch.name, stretch.tool)} needs up to {newton_metres(needs)} of the {newton_metres(has)} "
        f"that the spindle has at {speed_words(each.turns_per_s)}, {case.units.length(each.axial_mm)} deep and "
        f"{case.units.length(each.radial_mm)} wide."
    )
    do = "Take less depth, width or feed here, or a speed at which the spindle has more torque."
    return Limit(place, demand - LN_NM, capacity - LN_NM, what, do)


def _clear(facts: Leaning, limits: list[Limit]) -> str:
    worst = worst_of(limits, facts)
    if worst is None:
        return ""
    needs, has = log_best(worst.demand, facts), log_best(worst.capacity, facts)
    return (
        f"The hardest cut (line {worst.place.line}) needs {newton_metres(needs * 1e3)} of {newton_metres(has * 1e3)}."
    )
