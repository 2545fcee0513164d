"""Machine: does anything enter the rack, the setter or another kept-out space?"""

from __future__ import annotations

import numpy as np

from firstoff.facts.fact import Leaning
from firstoff.verdict.body import body
from firstoff.verdict.boxes import Box, Gap, box_of
from firstoff.verdict.case import Case, gauge_form, known_base, lost
from firstoff.verdict.forms import Form, Scale, exact
from firstoff.verdict.needs import need
from firstoff.verdict.passing import nearest_passes, place_moves
from firstoff.verdict.question import Check, Finding, Limit, Need, Question, Risk

QUESTION = Question("keep_out", Risk.MACHINE, "Does anything enter the rack, the setter or another kept-out space?")
NO_ZONES = (
    "Write each kept-out space as a [[zone]] with its box in machine coordinates; if there is none, write zone = []."
)
DOG_LEG = (
    "A dog-leg rapid would touch, a straight one would not. Rapid a long way in X and Y at once and watch which it is."
)


def find(case: Case, facts: Leaning) -> Finding:
    """Tool, holder and nose of every move against every zone, in the machine frame."""
    zones = zone_names(facts)
    if not zones:
        if facts.setting_if_known("machine.zone") is None:
            return Finding((), (need("machine.zone", NO_ZONES), *lost(case)))
        return Finding((Check(Scale.DIFFERENCE, "mm", (), (), "The machine has no kept-out space."),))

    def gauge(row: int, axis: int) -> Form | None:
        return gauge_form(case, facts, row, axis) if known_base(int(case.reading.frames.base[row, axis])) else None

    placed = place_moves(case, gauge)
    straight = facts.setting_if_known("machine.control.rapid_path") == "straight"
    boxes = [box for zone in zones if (box := box_of(facts, f"machine.zone.{zone}.box", zone)) is not None]
    limits: list[Limit] = []
    needs: list[Need] = [*lost(case)]
    for tool in np.unique(case.moves.tool[case.moving & case.with_tool]).tolist():
        discs = body(facts, tool)
        if discs is None:
            continue
        chosen = case.moving & case.sure & case.with_tool & (case.moves.tool == tool)
        for box in boxes:
            passes = nearest_passes(case, placed, chosen, discs, box, straight)
            limits += [_limit(case, box, move, disc.name, gap) for move, disc, gap in passes]
            if any(gap.straight_only for _, _, gap in passes):
                needs.append(need("machine.control.rapid_path", DOG_LEG))
    nearest = min((limit.capacity.const - _best(case, limit) for limit in limits), default=0.0)
    clear = f"The nearest kept-out space stays {case.units.length(nearest)} away."
    return Finding((Check(Scale.DIFFERENCE, "mm", tuple(limits), (), clear),), tuple(dict.fromkeys(needs)))


def zone_names(facts: Leaning) -> list[str]:
    """Names of the kept-out spaces, in the order they are written."""
    return list(dict.fromkeys(path.split(".")[2] for path in facts.facts.under("machine.zone.")))


def _best(case: Case, limit: Limit) -> float:
    return limit.demand.at(lambda path: case.facts.facts[path].value)


def _limit(case: Case, box: Box, move: int, part: str, gap: Gap) -> Limit:
    place = case.place(move)
    if gap.value_mm < 0:
        what = f"Line {place.line}: the {part} enters {box.name} by {case.units.length(-gap.value_mm)}."
    else:
        what = f"Line {place.line}: the {part} passes {box.name} at {case.units.length(gap.value_mm)}."
    do = f"Retract above {box.name} before this move, or move the work zero away from it."
    return Limit(place, -gap.form, exact(0.0), what, do)
