"""Tool: can the chips get away, and is coolant on at contact and after every stop?"""

from __future__ import annotations

from firstoff.facts.fact import Leaning
from firstoff.removal.swept import PerMove
from firstoff.verdict.bites import Depths, cut_moves, depths
from firstoff.verdict.case import Case
from firstoff.verdict.chip_rules import Cutter, drilling, helices, plunges, ramps, slots
from firstoff.verdict.coolant import off_while_cutting
from firstoff.verdict.forms import Scale
from firstoff.verdict.load_forms import log_best, worst_of
from firstoff.verdict.question import Check, Counted, Finding, Limit, Question, Risk
from firstoff.verdict.questions.tool import used_tools
from firstoff.verdict.stretches import cut_program
from firstoff.verdict.tools import spindle_tool

QUESTION = Question("chips_out", Risk.TOOL, "Can the chips get away, is coolant on at contact and after every stop?")
NOT_LOOKED_AT = "These are rules of the trade with wide doubt, not sums. Whether the jet meets the edge, and chips that lie in a pocket, were not looked at."


def find(case: Case, facts: Leaning) -> Finding:
    """Slots, plunges, ramps, helices and holes against the rules of the trade; coolant at every cut."""
    told, needs = cut_program(case, facts)
    if told is None:
        return Finding((), tuple(needs))
    down = depths(case)
    lengths: list[Limit] = []
    angles: list[Limit] = []
    widths: list[Limit] = []
    counted: list[Counted] = []
    for tool in used_tools(case):
        cutter = _cutter(case, facts, tool, told.likely.moves, down)
        if cutter is None:
            continue
        kind = facts.setting_if_known(f"tools.{cutter.name}.kind")
        if kind == "drill":
            lengths += drilling(case, facts, cutter)
        elif kind != "tap":
            lengths += slots(case, facts, cutter) + plunges(case, facts, cutter)
            angles += ramps(case, facts, cutter)
            narrow, pins = helices(case, facts, cutter)
            widths += narrow
            counted += pins
    dry = off_while_cutting(case, facts, case.feeding & (told.likely.moves.volume_mm3 > 0))
    checks = (
        Check(Scale.RATIO, "× diameter", tuple(lengths), (), _nearest(facts, lengths)),
        Check(Scale.RATIO, "°", tuple(angles), (), _steepest(facts, angles)),
        Check(Scale.RATIO, "× diameter", tuple(widths), ()),
        Check(Scale.COUNT, "", (), (*counted, *dry), "The coolant asked for is on at every cut."),
    )
    return Finding(checks, tuple(dict.fromkeys(needs)), (NOT_LOOKED_AT,))


def _cutter(case: Case, facts: Leaning, tool: int, cut: PerMove, down: Depths) -> Cutter | None:
    name = spindle_tool(facts, tool)
    if name is None or not cut_moves(case, cut, tool).size:
        return None
    diameter = facts.number(f"tools.{name}.DC")
    through = facts.setting_if_known(f"tools.{name}.coolant_through") is True
    return None if diameter is None else Cutter(tool, name, diameter, cut, down, through)


def _nearest(facts: Leaning, limits: list[Limit]) -> str:
    worst = worst_of(limits, facts)
    if worst is None:
        return ""
    asks, bears = log_best(worst.demand, facts), log_best(worst.capacity, facts)
    return (
        f"Nearest to its rule: {asks:.1f} diameters at line {worst.place.line}, where about {bears:.1f} begin to jam."
    )


def _steepest(facts: Leaning, limits: list[Limit]) -> str:
    worst = worst_of(limits, facts)
    return "" if worst is None else f"The steepest ramp goes down at {log_best(worst.demand, facts):.1f}°."
