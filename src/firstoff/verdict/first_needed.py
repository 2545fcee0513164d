"""Where a program first needs a fact that is missing: the line that calls the work system, the tool, or is not understood itself."""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np

from firstoff.program.moves import SYSTEM_NAMES
from firstoff.verdict.case import AXES, Case
from firstoff.verdict.question import Answer, Counted, Need, Place
from firstoff.verdict.tools import spindle_tool

_OFFSET = re.compile(r"job\.offset\.(?P<name>G\d+(\.\d)?)\.at\.(?P<axis>[xyz])")
_TOOL = re.compile(r"job\.tools\.(?P<number>\d+)|tools\.(?P<name>.+)\.[A-Za-z_]+")


def first_needed(case: Case, needs: Iterable[Need]) -> tuple[Counted, ...]:
    """For each missing fact whose first use can be told, that place, unjudged."""
    found = {}
    for need in needs:
        place = _place(case, need)
        if place is not None:
            what = f"Line {place.line}: here {need.fact} is needed first."
            found[place.line] = Counted(place, what, need.how, Answer.UNJUDGED)
    return tuple(found.values())


def _place(case: Case, need: Need) -> Place | None:
    file, _, line = need.where.rpartition(":")
    if file == case.reading.file and line.isdecimal():
        return Place(int(line))
    offset, tool = _OFFSET.fullmatch(need.fact), _TOOL.fullmatch(need.fact)
    if offset is not None:
        axis = AXES.index(offset["axis"])
        based = case.reading.frames.base[:, axis] == SYSTEM_NAMES.index(offset["name"]) + 1
        return _first(case, case.moving & based[case.moves.frame[:, axis]])
    if tool is not None and tool["number"] is not None:
        return _first(case, case.with_tool & (case.moves.tool == int(tool["number"])))
    if tool is not None:
        leaning = case.facts.leaning()
        mine = [one for one in np.unique(case.moves.tool).tolist() if spindle_tool(leaning, one) == tool["name"]]
        return _first(case, case.with_tool & np.isin(case.moves.tool, mine))
    return None


def _first(case: Case, mask: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Place | None:
    return case.place(int(np.argmax(mask))) if bool(mask.any()) else None
