"""Machine: did I understand every word?"""

from __future__ import annotations

import numpy as np

from firstoff.facts.fact import Leaning
from firstoff.program.moves import DEPENDS, FAULT, NOTE
from firstoff.verdict.case import Case
from firstoff.verdict.forms import Scale
from firstoff.verdict.needs import need
from firstoff.verdict.question import Answer, Check, Counted, Finding, Need, Place, Question, Risk
from firstoff.verdict.tools import register_tool
from firstoff.verdict.words import count

QUESTION = Question("understood", Risk.MACHINE, "Did I understand every word?")
MOST_NEEDS = 5
RADIUS = "tools.register.D"
"""How the reader names a radius register whose value it would need."""


def find(case: Case, facts: Leaning) -> Finding:
    """Every fault and every double reading counts; what was read by custom is noted."""
    for path in case.reading.control_used:
        facts.setting_if_known(path)
    taken = _radii(case, facts)
    counted: list[Counted] = []
    needs: dict[str, Need] = {}
    for problem in case.reading.problems:
        if problem.kind == NOTE:
            continue
        place = Place(problem.line)
        counted.append(Counted(place, f"Line {problem.line}: {problem.what}", "", Answer.UNJUDGED))
        if problem.fact.startswith(RADIUS) and facts.missing:
            continue  # the tool's diameter is named as missing: it is what the register would hold
        if problem.kind == DEPENDS and problem.fact:
            needs.setdefault(problem.fact, need(problem.fact))
        elif problem.kind == FAULT:
            name = f"line {problem.line}"
            needs.setdefault(name, Need(name, f"{case.reading.file}:{problem.line}", problem.what))
    notes = taken + tuple(f"Line {p.line}: {p.what}" for p in case.reading.problems if p.kind == NOTE)
    blocks = count(case.reading.blocks, "block")
    clear = f"All {case.reading.lines} lines read, {blocks} run."
    return Finding((Check(Scale.COUNT, "", (), tuple(counted), clear),), tuple(needs.values())[:MOST_NEEDS], notes)


def _radii(case: Case, facts: Leaning) -> tuple[str, ...]:
    """Compensation leans on what the D registers hold: taken to be the diameters of their tools, and told so."""
    taken = []
    for register in np.unique(case.moves.comp_register).tolist():
        name = register_tool(facts, register) if register > 0 else None
        diameter = facts.number(f"tools.{name}.DC") if name is not None else None
        if diameter is not None:
            size = case.units.length(diameter.value)
            taken.append(f"D{register} is taken to hold the diameter of {name}, {size}: look at the control's table.")
    return tuple(taken)
