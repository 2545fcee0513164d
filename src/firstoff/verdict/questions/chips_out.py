"""Tool: can the chips get away, and is coolant on at contact and after every stop?"""

from __future__ import annotations

from firstoff.facts.fact import Leaning
from firstoff.verdict.bites import depths
from firstoff.verdict.case import Case
from firstoff.verdict.chip_rules import Ruled, cutter_of, drilling, helices, plunges, ramps, slots
from firstoff.verdict.coolant import off_while_cutting
from firstoff.verdict.forms import Scale
from firstoff.verdict.load_forms import log_best, worst_of
from firstoff.verdict.question import Check, Counted, Finding, Limit, Question, Risk
from firstoff.verdict.questions.tool import used_tools
from firstoff.verdict.stretches import cut_program

QUESTION = Question("chips_out", Risk.TOOL, "Can the chips get away, is coolant on at contact and after every stop?")
LEAST = ("helix_least",)
"""Rules that a cut must reach, not stay below."""
NOT_LOOKED_AT = "These are rules of the trade with wide doubt, not sums. Whether the jet meets the edge, and chips that lie in a pocket, were not looked at."


def find(case: Case, facts: Leaning) -> Finding:
    """Slots, plunges, ramps, helices and holes against the rules of the trade; coolant at every cut."""
    told, needs = cut_program(case, facts)
    if told is None:
        return Finding((), tuple(needs))
    down = depths(case)
    ruled: list[Ruled] = []
    counted: list[Counted] = []
    for tool in used_tools(case):
        cutter = cutter_of(case, facts, tool, told.likely, down)
        if cutter is None:
            continue
        kind = facts.setting(f"tools.{cutter.name}.kind")
        if kind == "drill":
            ruled += drilling(case, facts, cutter)
        elif kind is not None and kind != "tap":
            narrow, pins = helices(case, facts, cutter)
            ruled += slots(case, facts, cutter) + plunges(case, facts, cutter) + ramps(case, facts, cutter) + narrow
            counted += pins
    dry = off_while_cutting(case, facts, case.feeding & (told.likely.moves.volume_mm3 > 0))
    wet = "The coolant asked for is on at every cut."
    checks = (*_by_rule(facts, ruled), Check(Scale.COUNT, "", (), (*counted, *dry), wet))
    return Finding(checks, tuple(dict.fromkeys(needs)), (NOT_LOOKED_AT,))


def _by_rule(facts: Leaning, ruled: list[Ruled]) -> list[Check]:
    """A check for each rule: rules have nothing to do with each other, and each alone says whether a cut is care."""
    worst = worst_of((one.limit for one in ruled), facts)
    found = []
    for rule in dict.fromkeys(one.rule for one in ruled):
        limits = tuple(one.limit for one in ruled if one.rule == rule)
        unit = "°" if rule == "ramp_angle" else "× diameter"
        nearest = _nearest(facts, worst, unit, rule in LEAST) if worst is not None and worst in limits else ""
        found.append(Check(Scale.RATIO, unit, limits, (), nearest))
    return found


def _nearest(facts: Leaning, worst: Limit, unit: str, least: bool) -> str:
    cut, rule = (worst.capacity, worst.demand) if least else (worst.demand, worst.capacity)
    has, jams = log_best(cut, facts), log_best(rule, facts)
    return (
        f"Nearest to its rule is line {worst.place.line} with {has:.1f} {unit}; at {jams:.1f} as many go wrong as well."
    )
