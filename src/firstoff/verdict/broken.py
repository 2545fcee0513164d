"""What an unseen break of one tool would leave for the tools after it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.facts.fact import Leaning
from firstoff.program.moves import Event, What
from firstoff.removal.swept import Contact, Swept
from firstoff.verdict.bites import bite_mm2, cut_moves
from firstoff.verdict.case import Case
from firstoff.verdict.followed import Followed
from firstoff.verdict.question import Answer, Counted
from firstoff.verdict.stretches import tool_words

WORTH_SAYING = 2.0
"""A bite this many times the one that is meant is worth a note: below it the coarser grid of these sweeps may be what shows."""
FAR_LARGER = 5.0
"""Beyond this many times what it is given elsewhere a bite breaks the tool that takes it, if the tool before it is suspect (common
practice)."""
SEEN_AT = (What.STOP, What.OPTIONAL_STOP, What.PROBE)
NOT_LOOKED_AT = (
    "What a tool that breaks unseen would leave for the next was not looked at: the program is too long for that."
)
LOOK = "Stop (M0) after {who} and look at it, or measure its length, before the next tool goes in."


def after_a_break(
    case: Case, facts: Leaning, told: Followed, names: Mapping[int, str]
) -> tuple[list[Counted], tuple[str, ...]]:
    """(what needs care, notes), for each tool that may break unseen: which later tool meets what it leaves, and where.

    A tool breaks rarely, so a larger bite of a later one is a note. Care is for what that rarity does not excuse: a rapid into the
    stock, material above the edge, a far larger bite after a tool that is marked suspect.
    """
    counted: list[Counted] = []
    notes: list[str] = [NOT_LOOKED_AT] if len(names) > 1 and not told.without else []
    for tool, swept in told.without.items():
        if tool not in names:
            continue
        for later in names:
            if later == tool or _seen_between(case, tool, later):
                continue
            care = _rapids(case, told, swept, names, tool, later) or _above_edge(case, told, swept, names, tool, later)
            bite = _bite(case, told, swept, later)
            if care:
                counted.append(care)
            elif bite is not None:
                suspect = facts.setting_if_known(f"tools.{names[tool]}.condition") == "suspect"
                found = _told(case, names, tool, later, *bite, suspect=suspect)
                (counted if isinstance(found, Counted) else notes).append(found)  # type: ignore[arg-type]
    return counted, tuple(notes)


def _seen_between(case: Case, tool: int, later: int) -> bool:
    """Whether somebody looks, or a probe feels, between the last cut of one tool and the first move of the other."""
    mine, next_one = np.flatnonzero(case.moves.tool == tool), np.flatnonzero(case.moves.tool == later)
    after = next_one[next_one > mine[0]] if mine.size else next_one
    if not after.size:
        return True  # it is never called after this one: nothing to meet
    last = int(mine[mine < after[0]][-1])
    return any(_between(event, last, int(after[0])) for event in case.reading.events)


def _between(event: Event, last: int, first: int) -> bool:
    return event.what in SEEN_AT and last < event.before <= first


def _rapids(
    case: Case, told: Followed, swept: Swept, names: Mapping[int, str], tool: int, later: int
) -> Counted | None:
    """A rapid of the later tool that goes into what was left, and into nothing if all is well."""

    def into(one: Contact) -> bool:
        return one.rapid and one.tool == later and one.against == "stock" and one.gap_mm < -2 * one.u_grid_mm

    meant = {one.move for one in told.likely.contacts if one.rapid and one.gap_mm < 0}
    hits = [one for one in swept.contacts if into(one) and one.move not in meant]
    if not hits:
        return None
    place = case.place(min(one.move for one in hits))
    who = tool_words(names[tool], tool)
    what = (
        f"Line {place.line}: if {who} breaks unseen, {tool_words(names[later], later)} goes at rapid into what it left."
    )
    return Counted(place, what, LOOK.format(who=who), Answer.CARE)


def _above_edge(
    case: Case, told: Followed, swept: Swept, names: Mapping[int, str], tool: int, later: int
) -> Counted | None:
    """Material that the later tool would meet above its usable edge."""
    moves = cut_moves(case, swept.moves, later)
    meant = np.nan_to_num(told.likely.moves.above_flute_mm[moves]) > 0
    over = np.where(meant, 0.0, np.nan_to_num(swept.moves.above_flute_mm[moves]))
    cell = swept.after.grid.cell_mm
    if not bool((over > cell).any()):
        return None
    place = case.place(int(moves[int(np.argmax(over > cell))]))
    who = tool_words(names[tool], tool)
    what = (
        f"Line {place.line}: if {who} breaks unseen, {tool_words(names[later], later)} meets what it left "
        f"{case.units.length(float(over.max()))} above its cutting edge."
    )
    return Counted(place, what, LOOK.format(who=who), Answer.CARE)


def _bite(case: Case, told: Followed, swept: Swept, later: int) -> tuple[int, float, float] | None:
    """(move, bite after the break over the tool's greatest bite without it, depth in mm) where it is first worth saying."""
    moves = cut_moves(case, swept.moves, later)
    most = float(bite_mm2(told.likely.moves)[cut_moves(case, told.likely.moves, later)].max(initial=0.0))
    if not moves.size or most <= 0:
        return None
    times = bite_mm2(swept.moves)[moves] / most
    if times.max() < WORTH_SAYING:
        return None
    first = int(moves[int(np.argmax(times >= WORTH_SAYING))])
    return first, float(times.max()), float(swept.moves.axial_mm[first])


def _told(
    case: Case, names: Mapping[int, str], tool: int, later: int, move: int, times: float, axial: float, suspect: bool
) -> Counted | str:
    place, who, next_one = case.place(move), tool_words(names[tool], tool), tool_words(names[later], later)
    what = (
        f"Line {place.line}: if {who} breaks unseen, {next_one} meets what it left, {case.units.length(axial)} deep, "
        f"{times:.1f} times its largest bite."
    )
    if suspect and times >= FAR_LARGER:
        return Counted(place, what, LOOK.format(who=who), Answer.CARE, f"tools.{names[tool]}.condition")
    return what
