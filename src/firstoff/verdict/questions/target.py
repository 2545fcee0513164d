"""Part: too deep, or left standing, against the target part?"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from firstoff.facts.fact import Fact, Leaning
from firstoff.verdict.case import Case, best
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form, Scale, of
from firstoff.verdict.positions import tip_in_work
from firstoff.verdict.question import Along, Answer, Check, Counted, Finding, Limit, Need, Place, Question, Risk
from firstoff.verdict.stretches import cut_program, tool_words
from firstoff.verdict.tools import spindle_tool

if TYPE_CHECKING:
    from firstoff.removal.target import Deviation, TargetCheck

QUESTION = Question("target", Risk.PART, "Too deep or left standing against the target part?")
TARGET, BAND = "job.target", "job.ask.target_band"
WORTH_MM2 = 0.5
"""Areas below this are said by place alone."""
SKIN_MM = 0.01
"""Less than this under the target is nothing that stays."""
AS_PROGRAMMED = (
    "Held against the target is the part as programmed, with the doubt of the lengths; what gives way, run-out and diameters were not "
    "looked at here, nor undersides and hollows."
)


def find(case: Case, facts: Leaning) -> Finding:
    """The greatest deviations of the finished stock on either side of the target against the band; what the blank lacks."""
    if facts.setting_if_known(TARGET) is None:
        return Finding(not_asked="no target part given")
    facts.setting(TARGET)
    band = facts.number(BAND)
    told, needs = cut_program(case, facts)
    if told is None or band is None:
        return Finding((), tuple(needs))
    if told.target is None or told.small_target is None:
        how = "The stock was followed without its target: examine the job anew."
        return Finding((), (*needs, Need("the stock against its target", "job.toml target", how)))
    limits = _deviations(case, facts, told.target, band) + _by_tool(case, facts, told, band)
    counted = _lacking(case, told.target, told.small_target, band) + _unseen(case, told.target, band)
    checks = (
        Check(Scale.DIFFERENCE, "mm", tuple(limits), (), _clear(case, told.target, band)),
        Check(Scale.COUNT, "", (), tuple(counted)),
    )
    return Finding(checks, tuple(needs), (AS_PROGRAMMED, *_notes(case, told.target)))


def _deviations(case: Case, facts: Leaning, check: TargetCheck, band: Fact) -> list[Limit]:
    """The worst place on either side, with the doubt of the tool that made it."""
    limits = []
    for off, sign, words, do in (
        (
            check.too_deep,
            -1.0,
            "cut too deep",
            "Look at the Z and the length of this line, and at the side that its tool cuts on.",
        ),
        (check.left, 1.0, "left standing", "Add a pass here, or take a smaller tool into the corner."),
    ):
        if off.largest_mm <= 0 or (sign < 0 and off.move < 0):
            continue  # what the blank lacks nobody cut
        place = case.place(off.move) if off.move >= 0 else Place(0)
        doubt = _tip_doubt(case, facts, off.move) if off.move >= 0 else Form(0.0)
        who = f"Line {place.line}: " if off.move >= 0 else "Where no tool cuts: "
        what = (
            f"{who}{case.units.length(off.largest_mm)} {words} at {_at(case, off)}{_over(off)}; "
            f"{case.units.length(band.value)} are allowed."
        )
        demand = doubt.scaled(sign) + off.largest_mm
        limits.append(Limit(place, demand, of(band), what, do, _all_of(case, off), off.begins))
    return limits


def _all_of(case: Case, off: Deviation) -> Callable[[], Along] | None:
    """Every move that cut too deep, or beside what it left standing."""
    return (lambda: case.along(off.moves.astype(np.intp), off.each_mm, off.largest_mm)) if off.moves.size else None


def _by_tool(case: Case, facts: Leaning, told: Followed, band: Fact) -> list[Limit]:
    """Each tool that made a floor, as if its floors were right in the program: the doubt of its length alone may pass the band."""
    limits = []
    floors = told.surfaces.floor_moves
    for tool in np.unique(case.moves.tool[floors]).tolist():
        move = int(np.flatnonzero(floors & (case.moves.tool == tool))[0])
        doubt, place = _tip_doubt(case, facts, move), case.place(move)
        name = tool_words(spindle_tool(facts, tool) or "?", tool)
        what = f"Line {place.line}: the floors of {name} are as doubtful as its length and the zero; {case.units.length(band.value)} are allowed."
        do = f"Measure the length of {name} and the zero again."
        limits += [Limit(place, doubt.scaled(sign), of(band), what, do) for sign in (1.0, -1.0)]
    return limits


def _tip_doubt(case: Case, facts: Leaning, move: int) -> Form:
    """How much higher than believed a move's tip may be: zero at best estimates."""
    tip = tip_in_work(case, facts, int(case.moves.frame[move, 2]), int(case.moves.tool[move]))
    return Form(0.0) if tip is None else tip - best(facts.facts, tip)


def _lacking(case: Case, check: TargetCheck, small: TargetCheck, band: Fact) -> list[Counted]:
    """Where the blank has too little for the target: as it likely is, or as small as it may be."""
    found = []
    for one, severity, size in ((check, Answer.STOP, ""), (small, Answer.CARE, ", if it is as small as it may be")):
        short = [
            (-one.under_mm, "under the blank's bottom"),
            (one.beside_mm, "beside the blank"),
            (one.too_deep.largest_mm if one.too_deep.move < 0 else 0.0, "out of the blank"),
        ]
        most, where = max(short)
        if most > band.value:
            what = f"The target reaches {case.units.length(most)} {where}{size}."
            found.append(Counted(Place(0), what, "Take a larger blank, or move the zero.", severity))
            break
    return found


def _unseen(case: Case, check: TargetCheck, band: Fact) -> list[Counted]:
    """A band finer than the cells that walls are seen on."""
    if check.edge_mm <= band.value:
        return []
    cell = case.units.length(check.edge_mm)
    what = f"Walls and edges are seen to {cell} only, and the band is {case.units.length(band.value)}."
    do = f"Ask for a band of {cell} or more, and give the walls that matter as [[feature]] with their tolerances."
    return [Counted(Place(0), what, do, Answer.UNJUDGED, BAND)]


def _notes(case: Case, check: TargetCheck) -> list[str]:
    notes = []
    if check.hidden_mm2 > WORTH_MM2:
        notes.append(f"{check.hidden_mm2:.0f} mm² of the target lie under overhangs, where nothing was compared.")
    if check.rest_mm2 > WORTH_MM2:
        notes.append(
            f"Beside its outline {check.rest_mm2:.0f} mm² of the blank stand that no cut has parted from its rim: left to a later clamping."
        )
    if check.under_mm > SKIN_MM:
        notes.append(f"{case.units.length(check.under_mm)} of the blank stay under the target's lowest place.")
    return notes


def _at(case: Case, off: Deviation) -> str:
    return " ".join(f"{axis}{case.units.length(value)}" for axis, value in zip("XYZ", off.at_mm, strict=True))


def _over(off: Deviation) -> str:
    return f", over {off.area_mm2:.0f} mm²" if off.area_mm2 > WORTH_MM2 else ""


def _clear(case: Case, check: TargetCheck, band: Fact) -> str:
    deep, left = (case.units.length(one.largest_mm) for one in (check.too_deep, check.left))
    return f"At most {deep} too deep and {left} left standing; {case.units.length(band.value)} are allowed."
