"""Tool: has the spindle the torque at that speed?"""

from __future__ import annotations

import math

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.verdict.case import Case
from firstoff.verdict.forms import Form, Scale
from firstoff.verdict.load_forms import demand_of, log_best, worst_of
from firstoff.verdict.near import straight_down
from firstoff.verdict.question import Check, Finding, Limit, Question, Risk
from firstoff.verdict.spindle_curve import (
    Holds,
    beyond,
    in_doubt,
    mean_torque,
    rated_curve,
    torque_now,
    turns_evenly,
    unevenness,
)
from firstoff.verdict.stretches import (
    asked,
    candidates,
    cut_program,
    doubts_of,
    drills,
    taps,
    tool_words,
    with_less,
    with_loads,
)
from firstoff.verdict.words import newton_metres
from firstoff.verdict.words import speed as speed_words

QUESTION = Question("torque", Risk.TOOL, "Has the spindle the torque at that speed?")
LN_NM = math.log(1000.0)
"""N·mm in one N·m, as a logarithm."""
PEAK = (
    "At these speeds the rotor does not even out a turn, so the peak of each was held against what the spindle holds; [spindle] inertia tells "
    "how much it evens out."
)
TURNING = (Quantity.TORQUE, Quantity.TAP_TORQUE)


def find(case: Case, facts: Leaning) -> Finding:
    """The torque that the drive must give against that of the power curve at the speed: the peak within a turn, or the mean of a turn
    where the rotor is heavy enough to carry it over."""
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
        found = asked(case, stretch, needs, *((Quantity.POWER,) if even else TURNING))
        for each in map(mean_torque, found) if even else found:
            speed = abs(each.turns_per_s)
            capacity, demand = torque_now(facts, speed), _either(facts, stretch, each, even)
            if demand is not None and capacity is not None:
                limits.append(_limit(case, facts, stretch, each, demand, capacity))
            elif points and capacity is None:
                needs.append(beyond(points, speed, int(case.moves.line[each.move])))
    check = Check(Scale.RATIO, "N·m", tuple(limits), (), _clear(facts, limits))
    notes = (PEAK, *doubts_of(stretches)) if limits and uneven else doubts_of(stretches)
    return Finding((check,), tuple(dict.fromkeys(needs)), notes)


def _either(facts: Leaning, stretch: Stretch, each: Candidate, even: bool) -> Form | None:
    """The logarithm of one of the torques, peak or mean; where it is in doubt which of them the drive feels, with the other of the same move
    (of the stretch, where that move has none)."""
    demand, uneven = demand_of(each, facts), unevenness(facts, stretch)
    if demand is None or uneven is None or not in_doubt(facts, uneven):
        return demand
    others = (
        list(candidates(stretch, *TURNING)) if even else list(map(mean_torque, candidates(stretch, Quantity.POWER)))
    )
    same = [other for other in others if other.move == each.move]
    other = max(same or others, key=lambda one: one.value, default=None)
    instead = None if other is None else demand_of(other, facts)
    return demand if instead is None else demand.unless(uneven if even else -uneven, instead)


def _limit(case: Case, facts: Leaning, stretch: Stretch, each: Candidate, demand: Form, capacity: Holds) -> Limit:
    place = case.place(each.move)
    needs, has = log_best(demand, facts), log_best(capacity.form, facts)
    what = (
        f"Line {place.line}: {tool_words(stretch.name, stretch.tool)}{_cut(case, stretch, each)} needs up to "
        f"{newton_metres(needs)}, and the spindle has {newton_metres(has)} at {speed_words(each.turns_per_s)}{capacity.words}."
    )
    do = f"{with_less(stretch)}, or take a speed at which the spindle has more torque."
    return Limit(place, demand - LN_NM, capacity.form - LN_NM, what, do)


def _cut(case: Case, stretch: Stretch, each: Candidate) -> str:
    """How the tool stands in the material, where that is something to change."""
    if drills(stretch) or taps(stretch):
        return ""
    if straight_down(case, each.move):
        return ", going straight down,"
    return f", {case.units.length(each.axial_mm)} deep and {case.units.length(each.radial_mm)} wide,"


def _clear(facts: Leaning, limits: list[Limit]) -> str:
    worst = worst_of(limits, facts)
    if worst is None:
        return ""
    needs, has = log_best(worst.demand, facts), log_best(worst.capacity, facts)
    return (
        f"The hardest cut (line {worst.place.line}) needs {newton_metres(needs * 1e3)} of {newton_metres(has * 1e3)}."
    )
