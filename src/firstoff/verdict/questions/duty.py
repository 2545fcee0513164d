"""Tool: can the spindle keep it up for that long?"""

from __future__ import annotations

import math

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Duty, Stretch
from firstoff.verdict.case import Case
from firstoff.verdict.forms import Scale
from firstoff.verdict.load_forms import log_best, mean_power_of, rms_torque_of, worst_of
from firstoff.verdict.question import Check, Finding, Limit, Need, Question, Risk
from firstoff.verdict.spindle_curve import ALWAYS, Holds, beyond, power_over, rated_curve, torque_over
from firstoff.verdict.stretches import cut_program, doubts_of, with_loads
from firstoff.verdict.words import duration, newton_metres, part, watts

QUESTION = Question("duty", Risk.TOOL, "Can the spindle keep it up for that long?")
LN_NM = math.log(1000.0)
SHORTEST_S = 60.0
"""Shorter than this nothing warms that was not warm (common practice): without a rating for short times they are for the questions of
torque and power, which hold every moment against what lasts for ever."""
PAUSE = "Slow the long cuts down, or leave the spindle turning in air for a while between them (G4)."

NO_WINDOWS = "The loads were not added up over time: watch the spindle's load meter."


def find(case: Case, facts: Leaning) -> Finding:
    """Over each length of time, the greatest mean power and root mean square torque against what the spindle holds for so long."""
    told, needs = cut_program(case, facts)
    if told is None:
        return Finding((), tuple(needs))
    stretches = with_loads(case, facts, told, needs)
    if not stretches:
        return Finding((), tuple(needs))
    points = rated_curve(facts)
    duties = () if told.loads is None else told.loads.duties
    if not any(duty.window_s >= SHORTEST_S for duty in duties):
        needs.append(Need("how long each cut takes", case.reading.file, NO_WINDOWS))
    torques: list[Limit] = []
    powers: list[Limit] = []
    for duty in duties:
        for stretch in _within(case, stretches, duty):
            torque = torque_over(facts, stretch.turns_per_s, duty.window_s)
            power = power_over(facts, stretch.turns_per_s, duty.window_s)
            if torque is None or power is None:
                if points:
                    needs.append(beyond(points, stretch.turns_per_s, int(case.moves.line[stretch.first_move])))
                continue
            if duty.window_s < SHORTEST_S and ALWAYS in (torque.rating, power.rating):
                continue
            torques += _torque(case, facts, duty, torque)
            powers += _power(case, facts, duty, power)
    checks = (
        Check(Scale.RATIO, "N·m", tuple(torques), (), _clear(facts, torques, "torque")),
        Check(Scale.RATIO, "W", tuple(powers), (), _clear(facts, powers, "power")),
    )
    return Finding(checks, tuple(dict.fromkeys(needs)), doubts_of(stretches))


def _within(case: Case, stretches: list[Stretch], duty: Duty) -> list[Stretch]:
    """The stretches of which something lies in the window; all where no time is known. The spindle must hold it at each of their speeds."""
    line = case.timeline
    end_s = duty.start_s + duty.window_s
    found = [
        stretch
        for stretch in stretches
        if line is None
        or (line.start_s[stretch.first_move] < end_s and line.start_s[stretch.last_move + 1] > duty.start_s)
    ]
    by_speed = {stretch.turns_per_s: stretch for stretch in reversed(found or stretches)}
    return list(by_speed.values())


def _torque(case: Case, facts: Leaning, duty: Duty, holds: Holds) -> list[Limit]:
    demand = rms_torque_of(duty, facts)
    if demand is None:
        return []
    place, has = case.place(duty.torque_move), log_best(holds.form, facts)
    what = (
        f"From line {place.line} on, over {duration(duty.window_s)}, the torque is {newton_metres(duty.rms_torque_nmm)} (root mean square); "
        f"the spindle holds {newton_metres(has)} for so long ({holds.rating})."
    )
    return [Limit(place, demand - LN_NM, holds.form - LN_NM, what, PAUSE)]


def _power(case: Case, facts: Leaning, duty: Duty, holds: Holds) -> list[Limit]:
    demand = mean_power_of(duty, facts)
    if demand is None:
        return []
    place, has = case.place(duty.move), log_best(holds.form, facts)
    what = (
        f"From line {place.line} on, over {duration(duty.window_s)}, the mean power at the tool is {watts(duty.mean_power_w)}; "
        f"the spindle holds {watts(has)} for so long ({holds.rating})."
    )
    return [Limit(place, demand, holds.form, what, PAUSE)]


def _clear(facts: Leaning, limits: list[Limit], noun: str) -> str:
    worst = worst_of(limits, facts)
    if worst is None:
        return ""
    share = log_best(worst.demand - worst.capacity, facts)
    return f"At the hardest time (from line {worst.place.line} on) the {noun} is {part(share)} of what the spindle holds for so long."
