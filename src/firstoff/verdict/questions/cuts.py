"""Tool: does each tool cut the part?"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Leaning
from firstoff.program.moves import Floats
from firstoff.removal.swept import FirstCut, Swept
from firstoff.verdict.bites import LEAST_S, Depths, bite_mm2, calls_of, depths, told_s, usual_bite, with_top
from firstoff.verdict.blank_file import turned_faces
from firstoff.verdict.broken import after_a_break
from firstoff.verdict.case import Case, below_safe_height
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Scale, log_exact, of
from firstoff.verdict.passes import Pass, in_air, passes_of, under_top
from firstoff.verdict.question import Answer, Check, Counted, Finding, Limit, Question, Risk
from firstoff.verdict.questions.tool import used_tools
from firstoff.verdict.stretches import cut_program, tool_words
from firstoff.verdict.tools import spindle_tool
from firstoff.verdict.words import count, listed

QUESTION = Question("cuts", Risk.TOOL, "Does each tool cut the part?")
AIR_SHARE = "machine.practice.air_share"
FIRST_BITE = "machine.practice.first_bite"
LEAST_SHARE = 1e-3
"""A share of time in air below this is none."""
TURNED = ("drill", "tap")
"""Kinds whose cut is as deep and as wide as their hole."""
ALONG = 0.25
"""Part of a move's way beside stock from which it goes along it; entries and ways across are less."""
WRONG_ZERO = (
    "Check the zero and the length of this tool, and the blank's size; a line from another program may also do it."
)


def find(case: Case, facts: Leaning) -> Finding:
    """First contact of each tool, what it removes, its time in air, and what an unseen break would leave for the tools after it."""
    told, needs = cut_program(case, facts)
    if told is None:
        return Finding((), tuple(needs))
    nothing: list[Counted] = []
    air: list[Limit] = []
    bites: list[Limit] = []
    below, down, seconds = below_safe_height(case, facts), depths(case), told_s(case)
    names = {tool: name for tool in used_tools(case) if (name := spindle_tool(facts, tool)) is not None}
    for tool, name in names.items():
        nothing += _removes(case, facts, told, tool, name, below)
        nothing += _passes_in_air(case, told, tool, name, down)
        air += _in_air(case, facts, told, tool, name, seconds)
        bites += _first_bites(case, facts, told, tool, name, down, seconds)
    broken, notes = after_a_break(case, facts, told, names)
    turned, turned_notes = turned_faces(told)
    checks = (
        Check(Scale.COUNT, "", (), tuple(nothing), _clear(case, facts, told, names)),
        Check(
            Scale.RATIO, "", tuple(air), (), _air_words(air), at_most=Answer.CARE
        ),  # air costs time, and nothing else
        Check(Scale.DIFFERENCE, "mm²", tuple(bites), ()),
        Check(Scale.COUNT, "", (), (*broken, *turned)),
    )
    return Finding(checks, tuple(dict.fromkeys(needs)), (*turned_notes, *notes))


def _removes(
    case: Case, facts: Leaning, told: Followed, tool: int, name: str, below: NDArray[np.bool_]
) -> list[Counted]:
    """Each time a tool is called and feeds it must take something away, from the smallest blank too: one that takes nothing at all has
    a wrong length, a wrong zero or a blank that is too low, and whatever follows it meets what it left."""
    found = []
    for first, last in calls_of(case, tool):
        here = np.zeros(len(case.moves), dtype=bool)
        here[first : last + 1] = case.feeding[first : last + 1]
        if bool(here.any()) and not _takes(told.smallest, here):
            along = below & here & _along_stock(told.likely)
            if bool(along.any()) and facts.setting_if_known(f"tools.{name}.kind") == "tap":
                found.append(_no_thread(case, tool_words(name, tool), along))
            elif bool(along.any()):
                found.append(_too_little(case, told, tool_words(name, tool), along))
            else:
                found.append(_empty(case, tool_words(name, tool), here, below & here, _takes(told.likely, here)))
    return found


def _passes_in_air(case: Case, told: Followed, tool: int, name: str, down: Depths) -> list[Counted]:
    """Of a call that cuts: the passes that meet nothing. They waste time, or the blank is lower there than the program takes it to be."""
    met = (told.likely.moves.volume_mm3 > 0) | _along_stock(told.likely)
    under = under_top(case, told.likely.before.grid.z0_mm)
    found = []
    for first, last in calls_of(case, tool):
        passes = passes_of(case, first, last)
        empty = in_air(case, passes, down, under, met)
        if empty and len(empty) < len(passes) and bool((told.likely.moves.volume_mm3[first : last + 1] > 0).any()):
            found.append(_some_in_air(case, tool_words(name, tool), passes, empty))
    return found


def _some_in_air(case: Case, who: str, passes: tuple[Pass, ...], empty: tuple[Pass, ...]) -> Counted:
    place = case.place(empty[0].first)
    lines = listed([str(line) for line in dict.fromkeys(int(case.moves.line[one.first]) for one in empty)], 3)
    these = "this one" if len(empty) == 1 else f"{len(empty)} (from {'lines' if ' ' in lines else 'line'} {lines} on)"
    what = f"Line {place.line}: of {len(passes)} passes of {who}, {these} cut{'s' * (len(empty) == 1)} nothing but air."
    do = "Look whether something should stand there: the blank may be lower, or the zero higher, than meant; else leave the pass out."
    return Counted(place, what, do, Answer.CARE)


def _along_stock(swept: Swept) -> NDArray[np.bool_]:
    """bool[N]: moves that go along stock so near that the grid cannot tell whether they take a little of it or miss it."""
    beside = swept.moves.beside_share
    near: NDArray[np.bool_] = np.zeros(swept.moves.volume_mm3.size, np.bool_) if beside is None else beside >= ALONG
    return near & ~(swept.moves.volume_mm3 > 0)


def _too_little(case: Case, told: Followed, who: str, along: NDArray[np.bool_]) -> Counted:
    """A finishing or a spring pass: what it leaves is made, but how much it takes is finer than the stock is followed."""
    place, cell = case.place(int(np.argmax(along))), told.likely.before.grid.cell_mm
    what = (
        f"Line {place.line}: {who} goes along what stands there, and takes less than {case.units.length(cell)} of it: what it "
        "cuts there is too little to be followed."
    )
    return Counted(place, what, "Watch whether it throws chips all along, and measure the first part.", Answer.CARE)


def _no_thread(case: Case, who: str, along: NDArray[np.bool_]) -> Counted:
    """A tap in a hole that is as wide as itself, within a cell: a core hole is narrower by about the pitch (ISO 261 and 724, from memory)."""
    place = case.place(int(np.argmax(along)))
    what = f"Line {place.line}: the hole that {who} taps is as wide as the tap itself: it cuts no thread."
    do = "Drill the core hole with a drill that is thinner than the tap by its pitch; check the T numbers of both."
    return Counted(place, what, do, Answer.STOP)


def _takes(swept: Swept, moves: NDArray[np.bool_]) -> bool:
    return bool((swept.moves.volume_mm3[moves] > 0).any())


def _empty(case: Case, who: str, here: NDArray[np.bool_], below: NDArray[np.bool_], likely: bool) -> Counted:
    low = bool(below.any())
    place = case.place(int(np.argmax(below if low else here)))
    if likely:
        what = f"Line {place.line}: {who} cuts nothing if the blank is as small as it may be."
        return Counted(place, what, "Measure the blank, or let the cut go further into it.", Answer.CARE)
    how = "feeds below the top of the stock and" if low else "never comes down to the stock: it"
    what = f"Line {place.line}: {who} {how} takes nothing away, from here to where it is put back."
    return Counted(place, what, WRONG_ZERO, Answer.STOP)


def _in_air(case: Case, facts: Leaning, told: Followed, tool: int, name: str, seconds: Floats) -> list[Limit]:
    """The share of its time at feed, as commanded, that a tool spends in air. One that cuts nothing at all is told elsewhere."""
    mine = np.flatnonzero(case.feeding & (case.moves.tool == tool))
    own = seconds[mine]
    cutting = float(np.sum(own * told.likely.moves.cut_share[mine]))
    rule = facts.number(AIR_SHARE)
    share = 1.0 - cutting / max(float(own.sum()), cutting, LEAST_S)
    if cutting <= 0 or share < LEAST_SHARE or rule is None:
        return []
    place = case.place(int(mine[0]))
    what = f"From line {place.line} on {tool_words(name, tool)} is in air for {share:.0%} of its time at feed."
    return [Limit(place, log_exact(share), of(rule), what, f"{WRONG_ZERO} If all is as meant, shorten the ways in.")]


def _first_bites(
    case: Case, facts: Leaning, told: Followed, tool: int, name: str, down: Depths, seconds: Floats
) -> list[Limit]:
    """The first cut after each call against the usual one until the next. What goes straight down first is the rule of plunging's to judge."""
    rule = facts.number(FIRST_BITE)
    likely, largest = bite_mm2(told.likely.moves), bite_mm2(told.largest.moves)
    plunging = down.plunging
    limits = []
    for first in _first_cuts(told, tool):
        usual = usual_bite(case, told, first, seconds)
        if plunging[first.move] or usual is None or rule is None:
            continue
        place = case.place(first.move)
        demand = with_top(facts, float(likely[first.move]), float(largest[first.move]))
        times = float(likely[first.move]) / usual
        what = (
            f"Line {place.line}: the first bite of {tool_words(name, tool)} is {_size(case, told, first)}, "
            f"{times:.1f} times its usual one."
        )
        do = "Measure the blank where it goes in, or let it begin outside and come in by degrees."
        limits.append(Limit(place, demand, of(rule, usual), what, do))
    return limits


def _first_cuts(told: Followed, tool: int) -> list[FirstCut]:
    """First cuts of a tool in the likely blank; in the largest, where it only cuts there."""
    likely = [first for first in told.likely.first_cuts if first.tool == tool]
    return likely or [first for first in told.largest.first_cuts if first.tool == tool]


def _size(case: Case, told: Followed, first: FirstCut) -> str:
    moves = told.likely.moves
    axial, radial = float(moves.axial_mm[first.move]), float(moves.radial_mm[first.move])
    return f"{case.units.length(axial)} deep and {case.units.length(radial)} wide"


def _clear(case: Case, facts: Leaning, told: Followed, names: dict[int, str]) -> str:
    said = []
    for tool, name in names.items():
        firsts = _first_cuts(told, tool)
        if firsts:
            line = int(case.moves.line[firsts[0].move])
            turned = facts.setting_if_known(f"tools.{name}.kind") in TURNED
            size = "" if turned else f", {_size(case, told, firsts[0])}"
            said.append(f"{tool_words(name, tool)} first at line {line}{size}")
    return f"{count(len(said), 'tool')} cut: {listed(said)}." if len(said) > 1 else "".join(f"{one}." for one in said)


def _air_words(limits: list[Limit]) -> str:
    most = max((math.exp(limit.demand.const) for limit in limits), default=None)
    return "" if most is None else f"None is in air for more than {most:.0%} of its time at feed."
