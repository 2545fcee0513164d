"""Is the coolant that a material asks for on while it is cut: at first contact, and again after every stop?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Leaning
from firstoff.program.moves import Flag, What
from firstoff.verdict.case import Case
from firstoff.verdict.question import Answer, Counted
from firstoff.verdict.stretches import tool_words
from firstoff.verdict.tools import spindle_tool
from firstoff.verdict.words import listed

DRY = "dry"
STOPS = (What.STOP, What.OPTIONAL_STOP)
BY_WORD = {"flood": "M8", "mist": "M7", "air": "M7"}
"""M7 opens mist or air, whichever is fitted (common practice)."""


def material(facts: Leaning) -> str | None:
    """The job's material, needed."""
    name = facts.setting("job.material")
    return name if isinstance(name, str) else None


def off_while_cutting(case: Case, facts: Leaning, cuts: NDArray[np.bool_]) -> list[Counted]:
    """The places from which a tool cuts with nothing on that serves; `cuts` bool[N] are the moves that take something away."""
    name = material(facts)
    serves = facts.setting(f"materials.{name}.coolant") if name is not None else None
    if name is None or not isinstance(serves, tuple):
        return []
    moves = np.flatnonzero(cuts)
    wrong = ~_served(case, moves, serves)
    if not bool(wrong.any()):
        return []
    welds = facts.setting_if_known(f"materials.{name}.welds_to_edge")
    found = []
    for number in np.flatnonzero(wrong).tolist():
        since = _since(case, moves, wrong, number)
        if since is not None:
            found.append(_counted(case, facts, int(moves[number]), since, name, serves, welds == "yes"))
    return found


def _served(case: Case, moves: NDArray[np.intp], serves: tuple[str, ...]) -> NDArray[np.bool_]:
    flags = case.moves.flags[moves]
    flood, mist = (flags & Flag.FLOOD) != 0, (flags & Flag.MIST) != 0
    served = flood & ("flood" in serves)
    served |= mist & ("mist" in serves or "air" in serves)
    served |= ~flood & ~mist & (DRY in serves)
    result: NDArray[np.bool_] = served
    return result


def _since(case: Case, moves: NDArray[np.intp], wrong: NDArray[np.bool_], number: int) -> str | None:
    """Why this cut is the first to be told: a tool meets the stock, a stop came before it, the coolant went off; None if it is not."""
    move = int(moves[number])
    before = int(moves[number - 1]) if number else -1
    if before < 0 or case.moves.tool[before] != case.moves.tool[move]:
        return "meets the stock"
    stops = [event.line for event in case.reading.events if event.what in STOPS and before < event.before <= move]
    if stops:
        return f"cuts on after the stop at line {stops[-1]}"
    return None if wrong[number - 1] else "cuts on"


def _counted(
    case: Case, facts: Leaning, move: int, since: str, name: str, serves: tuple[str, ...], welds: bool
) -> Counted:
    place, tool = case.place(move), int(case.moves.tool[move])
    who = tool_words(spindle_tool(facts, tool) or "the tool", tool)
    dry = not case.moves.flags[move] & (Flag.FLOOD | Flag.MIST)
    state = "with no coolant on" if dry else "with a coolant on that does not serve"
    sticks = ", whose chips weld to the edge" if welds and dry else ""
    what = f"Line {place.line}: {who} {since} {state}; {name}{sticks} asks for {listed(list(serves))}."
    word = next((BY_WORD[one] for one in serves if one in BY_WORD), None)
    do = f"Write {word} before line {place.line}." if word else f"Write M9 before line {place.line}."
    return Counted(place, what, do, Answer.STOP if welds and dry else Answer.CARE)
