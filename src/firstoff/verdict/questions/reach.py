"""Tool: is the flute long enough, and does it cut on its centre where it plunges?"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from firstoff.facts.assembly import Part, cuts_on_centre
from firstoff.facts.fact import Fact, Leaning
from firstoff.program.moves import Floats
from firstoff.removal.swept import Contact, PerMove
from firstoff.verdict.bites import Depths, cut_moves, depths, with_top
from firstoff.verdict.case import Case, best
from firstoff.verdict.chip_rules import cutter_of, deepest_hole, holes, with_volume
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form, Scale, of
from firstoff.verdict.question import Along, Answer, Check, Counted, Finding, Limit, Question, Risk
from firstoff.verdict.questions.tool import used_tools
from firstoff.verdict.stretches import cut_program, tool_words
from firstoff.verdict.tools import spindle_tool

QUESTION = Question("reach", Risk.TOOL, "Long enough flute, centre-cutting where it plunges?")
RUBS_OFF_MM = 0.1
"""A disc of material thinner than this under a centre that does not cut gives way before the tool does (common practice)."""
IN_LINE_MM = 0.05
"""A neck or shank no more than this wider than the edge is as wide: it rubs along the walls that the edge makes, and goes nowhere."""
EDGE_ALL_THE_WAY = ("tee", "lollipop", "profile")
"""Kinds whose edge ends where its shape does: what is above it is neck or shank, and met as such."""


def find(case: Case, facts: Leaning) -> Finding:
    """The deepest cut of each tool against its usable depth, dead centres that go down into material, necks and shanks that rub."""
    told, needs = cut_program(case, facts)
    if told is None:
        return Finding((), tuple(needs))
    limits: list[Limit] = []
    counted: list[Counted] = []
    down = depths(case)
    for tool in used_tools(case):
        name = spindle_tool(facts, tool)
        if name is None or not cut_moves(case, told.largest.moves, tool).size:
            continue
        limits += _depth(case, facts, told, tool, name, down)
        counted += _centre(case, facts, told, tool, name, down)
        counted += _rubbing(case, told, tool, name)
        counted += _upward(case, facts, told, tool, name, down)
        if f"tools.{name}.DMM" in told.body_missing:
            facts.number(f"tools.{name}.DMM")
    checks = (
        Check(Scale.DIFFERENCE, "mm", tuple(limits), (), _clear(case, facts, limits)),
        Check(Scale.COUNT, "", (), tuple(counted), "Nothing goes down on a centre that does not cut."),
    )
    return Finding(checks, tuple(dict.fromkeys(needs)))


def _depth(case: Case, facts: Leaning, told: Followed, tool: int, name: str, down: Depths) -> list[Limit]:
    """The height of material along the edge where it is greatest, against APMX."""
    if facts.setting_if_known(f"tools.{name}.kind") in EDGE_ALL_THE_WAY and not facts.facts.has(f"tools.{name}.APMX"):
        return []
    usable = facts.number(f"tools.{name}.APMX")
    if usable is None:
        return []
    worst, demand, along = _deepest(case, facts, told, tool, usable, down)
    if facts.setting_if_known(f"tools.{name}.kind") in EDGE_ALL_THE_WAY and best(facts.facts, demand) <= usable.value:
        return []  # such an edge cuts with all its height, and ends there: what stands higher meets the neck
    place = case.place(worst)
    deep, reach = case.units.length(best(facts.facts, demand)), case.units.length(usable.value)
    what = f"Line {place.line}: {tool_words(name, tool)} cuts {deep} deep; its edge is {reach} long."
    do = "Take the depth in more passes, or a tool with a longer edge: above it the neck rubs and chips jam."
    return [Limit(place, demand, of(usable), what, do, along)]


def _deepest(
    case: Case, facts: Leaning, told: Followed, tool: int, usable: Fact, down: Depths
) -> tuple[int, Form, Callable[[], Along]]:
    """(move, depth, how deep all the others cut) of the deepest cut: along the side of the tool, or down a hole that it makes."""
    moves = cut_moves(case, told.largest.moves, tool)
    likely, largest = (_standing(swept.moves, usable.value) for swept in (told.likely, told.largest))
    worst = int(moves[np.argmax(largest[moves])])
    cutter = cutter_of(case, facts, tool, told.largest, down)
    hole = deepest_hole(case, cutter) if cutter is not None else None
    deep = largest[moves].astype(np.float64)
    if cutter is None or hole is None or hole[0] <= largest[worst]:
        form = with_top(facts, float(likely[worst]), float(largest[worst]))
        return worst, form, lambda: case.along(moves, deep, float(largest[worst]))

    def along() -> Along:
        begins = {one.moves[0]: sum(one.length_mm) for one in holes(case, cutter)}
        return case.along(moves, np.maximum(deep, [begins.get(move, 0.0) for move in moves.tolist()]), hole[0])

    return hole[1], with_volume(facts, cutter, hole[0]), along


def _standing(moves: PerMove, usable_mm: float) -> Floats:
    """f8[N] height above the tip up to which material stood at the tool: the depth of cut, or what lay above the edge too. Slivers at the
    rim are left out: of them the grid tells nothing, and what neck and shank rub along is asked on its own."""
    over = np.nan_to_num(moves.above_flute_mm.astype(np.float64))
    deep = moves.axial_mm if moves.standing_mm is None else moves.standing_mm
    return np.where(over > 0, usable_mm + over, deep)


def _centre(case: Case, facts: Leaning, told: Followed, tool: int, name: str, depths_down: Depths) -> list[Counted]:
    """Where a dead middle goes down into material: first, first by enough to stop, first straight down (a helix too narrow is another
    mistake than a plunge), and deepest."""
    moves = cut_moves(case, told.largest.moves, tool)
    dead = told.largest.moves.dead_mm
    down = moves[dead[moves] > 0]
    if not down.size:
        return []
    kind = facts.setting_if_known(f"tools.{name}.kind")
    if cuts_on_centre(facts, name, str(kind)) is None:
        facts.setting(f"tools.{name}.centre_cutting")
        return []
    facts.setting(f"tools.{name}.centre_cutting")
    found = []
    deepest = int(down[np.argmax(dead[down])])
    first_to_stop = int(down[np.argmax(dead[down] > RUBS_OFF_MM)])
    straight = down[depths_down.plunging[down]][:1].tolist()
    for move in dict.fromkeys((int(down[0]), first_to_stop, *straight, deepest)):
        place, depth = case.place(move), float(dead[move])
        what = (
            f"Line {place.line}: {tool_words(name, tool)} goes down {case.units.length(depth)} into material with its middle, "
            "which does not cut."
        )
        do = "Go in by a ramp or a helix wider than its dead middle, drill first, or take a tool that cuts on its centre."
        found.append(Counted(place, what, do, Answer.STOP if depth > RUBS_OFF_MM else Answer.CARE))
    return found


def _upward(case: Case, facts: Leaning, told: Followed, tool: int, name: str, down: Depths) -> list[Counted]:
    """Feeds up through what stands over an undercutting edge: out of a groove such a tool goes the way it came in."""
    if facts.setting_if_known(f"tools.{name}.kind") not in EDGE_ALL_THE_WAY:
        return []
    rise = -down.fall_mm
    moves = [move for move in cut_moves(case, told.likely.moves, tool).tolist() if rise[move] > down.across_mm[move]]
    if not moves:
        return []
    place = case.place(moves[0])
    what = f"Line {place.line}: {tool_words(name, tool)} goes up through the stock that stands over its edge."
    return [Counted(place, what, "Go out sideways, the way it came in, before going up.", Answer.STOP)]


def _rubbing(case: Case, told: Followed, tool: int, name: str) -> list[Counted]:
    """Neck and shank at feed: into the stock where they are wider than the edge, along its walls where they are as wide."""
    at_feed = [one for one in told.largest.contacts if one.tool == tool and _above_the_edge(one)]
    if not at_feed:
        return []
    nearest = min(at_feed, key=lambda one: one.gap_mm)
    first = min(at_feed, key=lambda one: one.move)
    return [found for one in dict.fromkeys((nearest, first)) for found in _rubs(case, one, tool_words(name, tool))]


def _rubs(case: Case, nearest: Contact, who: str) -> list[Counted]:
    place = case.place(nearest.move)
    part = "neck" if nearest.part is Part.NECK else "shank"
    doubt = 2 * nearest.u_grid_mm
    if nearest.gap_mm < -max(doubt, IN_LINE_MM):
        what = f"Line {place.line}: the {part} of {who} goes {case.units.length(-nearest.gap_mm)} into the stock."
        do = "Take a tool with a longer edge or a slimmer neck, or open the way above it first."
        return [Counted(place, what, do, Answer.STOP)]
    if nearest.gap_mm < doubt:
        what = f"Line {place.line}: the {part} of {who} rubs along the stock above its edge."
        do = "Take a tool whose neck is ground back, or leave a little more on the wall above."
        return [Counted(place, what, do, Answer.CARE)]
    return []


def _above_the_edge(one: Contact) -> bool:
    return not one.rapid and one.part in (Part.NECK, Part.SHANK) and one.against == "stock"


def _clear(case: Case, facts: Leaning, limits: list[Limit]) -> str:
    if not limits:
        return ""
    least = min(limits, key=lambda limit: best(facts.facts, limit.capacity - limit.demand))
    left = case.units.length(best(facts.facts, least.capacity - least.demand))
    return f"Every edge is at least {left} longer than its deepest cut (line {least.place.line})."
