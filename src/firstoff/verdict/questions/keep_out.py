"""Machine: does anything enter the rack, the setter or another kept-out space?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Leaning
from firstoff.program.moves import NO_TOOL, Kind
from firstoff.verdict.body import Body, body, nose_discs
from firstoff.verdict.boxes import Box, Disc, box_of
from firstoff.verdict.case import Case, best
from firstoff.verdict.forms import Scale, exact
from firstoff.verdict.needs import need
from firstoff.verdict.passing import Pass, Passes, Placed, nearest_passes, place_moves
from firstoff.verdict.positions import gauge_in_machine
from firstoff.verdict.question import Check, Finding, Limit, Need, Question, Risk

QUESTION = Question("keep_out", Risk.MACHINE, "Does anything enter the rack, the setter or another kept-out space?")
NO_ZONES = (
    "Write each kept-out space as a [[zone]] with its box in machine coordinates; if there is none, write zone = []."
)
RAPID_PATH = "machine.control.rapid_path"
DOG_LEG = (
    "A dog-leg rapid would touch, a straight one would not. Rapid a long way in X and Y at once and watch which it is."
)


def find(case: Case, facts: Leaning) -> Finding:
    """Tool, holder and nose of every move against every zone, in the machine frame."""
    zones = zone_names(facts)
    if not zones:
        if facts.setting_if_known("machine.zone") is None:
            return Finding((), (need("machine.zone", NO_ZONES), *case.lost))
        return Finding((Check(Scale.DIFFERENCE, "mm", (), (), "The machine has no kept-out space."),))
    boxes = [box for zone in zones if (box := box_of(facts, f"machine.zone.{zone}.box", zone)) is not None]
    limits: list[Limit] = []
    needs: list[Need] = [*case.lost]
    for tool in np.unique(case.moves.tool[case.moving]).tolist():
        mine = case.moving & case.sure & (case.moves.tool == tool)
        placed = place_moves(case, lambda row, axis, tool=tool: gauge_in_machine(case, facts, row, axis, tool))  # type: ignore[misc]
        if tool == NO_TOOL and not bool((mine & case.with_tool).all()):
            # Before the first change only the nose is known to be there.
            limits += _past(case, facts, placed, mine & ~case.with_tool, nose_discs(facts), boxes, needs)
            mine = mine & case.with_tool
        solid = body(facts, tool) if bool(mine.any()) else None
        if solid is not None:
            limits += _past(case, facts, placed, mine, (solid.tool, *solid.above), boxes, needs)
            needs += holder_needs(case, facts, placed, mine, solid, boxes)
    gap = min((-best(facts.facts, limit.demand) for limit in limits), default=0.0)
    clear = (
        f"The nearest kept-out space stays {case.units.length(gap)} away." if limits else "Nothing was held against it."
    )
    return Finding((Check(Scale.DIFFERENCE, "mm", tuple(limits), (), clear),), tuple(dict.fromkeys(needs)))


def zone_names(facts: Leaning) -> list[str]:
    """Names of the kept-out spaces, in the order they are written."""
    return list(dict.fromkeys(path.split(".")[2] for path in facts.facts.under("machine.zone.")))


def rapid_path(facts: Leaning) -> str | None:
    """The way a rapid takes, if the machine says."""
    word = facts.setting_if_known(RAPID_PATH)
    return word if isinstance(word, str) else None


def passes_and_needs(case: Case, passes: Passes, box: Box) -> list[Need]:
    """What the passes of one box hang on."""
    needs = [need(RAPID_PATH, DOG_LEG)] if passes.path_decides else []
    if passes.unplaced:
        line = int(case.moves.line[passes.unplaced[0]])
        how = f"Line {line}: nobody can know where this move goes past {box.name}: name every axis before it."
        needs.append(Need(f"where line {line} goes", f"{case.reading.file}:{line}", how))
    return needs


def holder_needs(
    case: Case, facts: Leaning, placed: Placed, mine: NDArray[np.bool_], solid: Body, boxes: list[Box] | tuple[Box, ...]
) -> list[Need]:
    """Where the holder is not known: whether a body as wide as the nose, from the tip up, would touch."""
    if solid.stand_in is None:
        return []
    for box in boxes:
        passes = nearest_passes(case, placed, mine, [solid.stand_in], box, rapid_path(facts))
        if passes.unplaced or any(each.gap_mm <= 0 for each in passes.nearest[:1]):
            return [need(path) for path in solid.asks_for]
    return []


def _past(
    case: Case,
    facts: Leaning,
    placed: Placed,
    mine: NDArray[np.bool_],
    discs: tuple[Disc, ...],
    boxes: list[Box],
    needs: list[Need],
) -> list[Limit]:
    limits = []
    for box in boxes:
        passes = nearest_passes(case, placed, mine, discs, box, rapid_path(facts))
        needs += passes_and_needs(case, passes, box)
        limits += [_limit(case, box, each) for each in passes.nearest]
    return limits


def _limit(case: Case, box: Box, each: Pass) -> Limit:
    place, part = case.place(each.move), each.disc.name
    if each.gap_mm < 0:
        what = f"Line {place.line}: the {part} enters {box.name} by {case.units.length(-each.gap_mm)}."
    else:
        what = f"Line {place.line}: the {part} passes {box.name} at {case.units.length(each.gap_mm)}."
    bare = case.moves.kind[each.move] in (Kind.MACHINE, Kind.HOME)
    away = "name another machine position in this line" if bare else "shift the part away from it and touch off again"
    do = f"Keep clear of {box.name}: retract before this move if the tool is then short enough, put the tool away first, or {away}."
    return Limit(place, -each.gap, exact(0.0), what, do, each.along)
