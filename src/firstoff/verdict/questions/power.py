"""Tool: has the spindle the power at that speed?"""

from __future__ import annotations

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.verdict.case import Case
from firstoff.verdict.forms import Form, Scale
from firstoff.verdict.load_forms import demand_of, log_best, worst_of
from firstoff.verdict.question import Check, Finding, Limit, Question, Risk
from firstoff.verdict.spindle_curve import NO_LOAD, Holds, beyond, curve, power_at, power_now, rated_curve
from firstoff.verdict.stretches import asked, cut_program, doubts_of, tool_words, with_less, with_loads
from firstoff.verdict.words import speed, watts

QUESTION = Question("power", Risk.TOOL, "Has the spindle the power at that speed?")


def find(case: Case, facts: Leaning) -> Finding:
    """The highest mean power of a turn, at the tool, against what the spindle gives for a moment at that speed."""
    told, needs = cut_program(case, facts)
    if told is None:
        return Finding((), tuple(needs))
    stretches = with_loads(case, facts, told, needs)
    points = rated_curve(facts) if stretches else ()
    limits: list[Limit] = []
    for stretch in stretches:
        for each in asked(case, stretch, needs, Quantity.POWER):
            capacity = power_now(facts, abs(each.turns_per_s))
            demand = demand_of(each, facts)
            if capacity is not None and demand is not None:
                limits.append(_limit(case, facts, stretch, each, demand, capacity))
            elif points and capacity is None:
                needs.append(beyond(points, abs(each.turns_per_s), int(case.moves.line[each.move])))
    check = Check(Scale.RATIO, "W", tuple(limits), (), _clear(facts, limits))
    return Finding((check,), tuple(dict.fromkeys(needs)), (*_turning_alone(facts, stretches), *doubts_of(stretches)))


def _limit(case: Case, facts: Leaning, stretch: Stretch, each: Candidate, demand: Form, capacity: Holds) -> Limit:
    place = case.place(each.move)
    what = (
        f"Line {place.line}: {tool_words(stretch.name, stretch.tool)} needs {watts(each.value)} at the tool, and the spindle "
        f"has {watts(log_best(capacity.form, facts))} at {speed(each.turns_per_s)}{capacity.words}."
    )
    do = f"{with_less(stretch)}, or take a speed at which the spindle has more power."
    return Limit(place, demand, capacity.form, what, do)


def _turning_alone(facts: Leaning, stretches: list[Stretch]) -> tuple[str, ...]:
    """What the spindle takes to turn at all: in the rating already, which is told at the tool, but not in what the supply must give."""
    points = curve(facts, NO_LOAD)
    known = [power for stretch in stretches if (power := power_at(points, stretch.turns_per_s)) is not None]
    if not known:
        return ()
    most = max(log_best(power, facts) for power in known)
    return (
        f"To turn alone the spindle takes up to {watts(most)} more; the curve is told at the tool, so that is in it already.",
    )


def _clear(facts: Leaning, limits: list[Limit]) -> str:
    worst = worst_of(limits, facts)
    if worst is None:
        return ""
    needs, has = log_best(worst.demand, facts), log_best(worst.capacity, facts)
    return f"The hardest cut (line {worst.place.line}) needs {watts(needs)} of {watts(has)} at the tool."
