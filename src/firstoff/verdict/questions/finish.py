"""Part: will the finish be good enough?"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Fact, Leaning
from firstoff.removal.swept import Surfaces
from firstoff.verdict.case import Case
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form, Scale, of
from firstoff.verdict.marks import Finisher, Mark, bend_on_wall, finisher_of, in_depths, marks_of
from firstoff.verdict.question import Answer, Check, Counted, Finding, Limit, Need, Question, Risk
from firstoff.verdict.stretches import cut_program, tool_words, with_loads
from firstoff.verdict.tools import spindle_tool

QUESTION = Question("finish", Risk.PART, "Will the finish be good enough?")
ASKED, ASKED_OF_FLOORS = "job.ask.finish_rz", "job.ask.finish_floor_rz"
ROUGHER = "machine.practice.roughness"
"""How much rougher a surface is found than geometry alone makes it."""
LN_UM = math.log(1000.0)
HOLE_KINDS = ("drill", "tap")
STEP_SHARE = 0.5
"""Part of the roughness asked from which a step that may be there is worth a word."""
NOT_LOOKED_AT = "Torn material, chips that weld to the edge, vibration and worn edges were not looked at."


def find(case: Case, facts: Leaning) -> Finding:
    """Marks on the surface that still stands at the end, against the roughness asked of walls and slopes, and of floors."""
    if facts.number_if_known(ASKED) is None and facts.number_if_known(ASKED_OF_FLOORS) is None:
        return Finding(not_asked="no finish_rz asked")
    known = {path: facts.number(path) for path in (ASKED, ASKED_OF_FLOORS) if path in facts.facts.facts}
    asked, of_floors, rougher = known.get(ASKED), known.get(ASKED_OF_FLOORS, known.get(ASKED)), facts.number(ROUGHER)
    told, needs = cut_program(case, facts)
    if told is None or rougher is None:
        return Finding((), tuple(needs))
    surfaces = told.surfaces
    walls = (surfaces.wall_moves | surfaces.cusp_moves) & (asked is not None)
    stands = walls | (surfaces.floor_moves & (of_floors is not None))
    limits: list[Limit] = []
    counted: list[Counted] = []
    notes = [NOT_LOOKED_AT]
    for tool in np.unique(case.moves.tool[stands]).tolist():
        name = spindle_tool(facts, tool)
        if name is not None and facts.setting_if_known(f"tools.{name}.kind") in HOLE_KINDS:
            notes.append(f"The holes that {tool_words(name, tool)} makes were not looked at.")
            continue
        by = finisher_of(case, facts, tool, name) if name is not None else None
        if by is None:
            continue
        for mark in marks_of(case, facts, by, surfaces):
            allowed = of_floors if mark.floor else asked
            limits += [_limit(case, facts, by, mark, allowed, rougher)] if allowed is not None else []
        counted += _unknown(case, by, surfaces, stands)
        counted += _steps(case, facts, by, told, asked, needs) if asked is not None else []
    checks = (
        Check(Scale.RATIO, "µm", tuple(limits), (), _clear(case, facts, limits)),
        Check(Scale.COUNT, "", (), tuple(counted)),
    )
    return Finding(checks, tuple(needs), tuple(notes))


def _steps(case: Case, facts: Leaning, by: Finisher, told: Followed, asked: Fact, needs: list[Need]) -> list[Counted]:
    """Steps on walls that are made in several depths: only how large they can be is known, so they are care at most."""
    walls = told.surfaces.wall_moves & (case.moves.tool == by.tool)
    if not in_depths(case, walls, told.likely.moves.lowest_mm):
        return []
    bend = bend_on_wall(facts, by, with_loads(case, facts, told, needs))
    if bend is None or bend[1] < asked.value * STEP_SHARE:
        return []
    place = case.place(bend[0])
    what = (
        f"Line {place.line}: {tool_words(by.name, by.tool)} makes its wall in several depths and gives way by "
        f"{case.units.fine(bend[1])}: steps up to that may show where they meet; Rz {case.units.fine(asked.value)} is asked."
    )
    return [
        Counted(
            place, what, "Take the wall once more over its whole height, or leave less for the last cut.", Answer.CARE
        )
    ]


def _limit(case: Case, facts: Leaning, by: Finisher, mark: Mark, asked: Fact, rougher: Fact) -> Limit:
    demand, place = mark.depth + of(rougher), case.place(mark.move)
    what = (
        f"Line {place.line}: {tool_words(by.name, by.tool)} leaves {case.units.fine(_depth(facts, mark.depth))} by geometry ({mark.words}), "
        f"likely {case.units.fine(_depth(facts, demand))} as found; Rz {case.units.fine(asked.value)} is asked."
    )
    return Limit(place, demand + LN_UM, of(asked) + LN_UM, what, mark.do)


def _depth(facts: Leaning, log_mm: Form) -> float:
    return math.exp(log_mm.at(lambda path: math.log(facts.facts.facts[path].value)))


def _unknown(case: Case, by: Finisher, surfaces: Surfaces, stands: NDArray[np.bool_]) -> list[Counted]:
    """Surfaces whose marks no geometry tells: level ones under a sharp corner, sloped ones under it, and cuts at no known feed a turn."""
    mine = stands & (case.moves.tool == by.tool)
    found = []

    def ask(where: NDArray[np.bool_], what: str, do: str) -> None:
        moves = np.flatnonzero(mine & where)
        if moves.size:
            place = case.place(int(moves[0]))
            found.append(Counted(place, f"Line {place.line}: {what}", do, Answer.UNJUDGED))

    if by.round_by is None:
        level = (
            f"{by.name} has a sharp corner: how deep its end marks a floor hangs on how square the spindle stands and how far each edge "
            "runs out along the axis, and nobody knows either."
        )
        sloped = f"the steps that the sharp corner of {by.name} leaves on a slope are not worked out."
        ask(
            surfaces.floor_moves,
            level,
            "Cut one floor at this feed and look at it, or finish it with a tool whose RE is known.",
        )
        ask(surfaces.cusp_moves & (surfaces.cusp_mm > 0), sloped, "Finish slopes with a ball or a round corner.")
    ask(np.isnan(by.per_turn_mm), f"{by.name} cuts at no known feed a turn.", "Give S and F before this line.")
    return found


def _clear(case: Case, facts: Leaning, limits: list[Limit]) -> str:
    if not limits:
        return "Nothing that a milling cutter left has marks that geometry tells."
    worst = max(limits, key=lambda limit: _depth(facts, limit.demand - limit.capacity))
    depth, asked = (case.units.fine(_depth(facts, form - LN_UM)) for form in (worst.demand, worst.capacity))
    return f"The deepest mark is likely {depth} of the {asked} asked."
