"""Machine: is every tool the one that is meant?"""

from __future__ import annotations

import math

import numpy as np

from firstoff.changer.length_window import alike, window_of
from firstoff.facts.fact import Evidence, Fact, Leaning
from firstoff.program.moves import NO_LENGTH, NO_TOOL, Base, Event, What
from firstoff.verdict.case import Case, unread
from firstoff.verdict.forms import Scale
from firstoff.verdict.positions import touched_with
from firstoff.verdict.probes import probes_misused
from firstoff.verdict.question import Answer, Check, Counted, Finding, Place, Question, Risk
from firstoff.verdict.tools import loaded_tool, meant_tool, register_tool, spindle_tool
from firstoff.verdict.words import count, listed

QUESTION = Question("tool", Risk.MACHINE, "Is every tool the one that is meant?")
DOUBTS = 2.0
"""Standard uncertainties by which length and stick-out must disagree before anything is said."""
OTHER_HOLDER_MM = 15.0
"""A re-grip moves a tool by less than this (common practice); where the length is longer by more, the holder's steps were not told up to the
gauge line. Where it is shorter by more, stick-out and steps would end inside of the spindle: one of the three was written wrongly."""
ALIKE_MM = 0.2
"""Diameters closer than this look the same in a rack at arm's length (common practice)."""


def find(case: Case, facts: Leaning) -> Finding:
    """Meant, loaded and measured tools must agree, and each length called must be that of the tool in the spindle."""
    numbers = used_tools(case)
    counted: list[Counted] = []
    notes: list[str] = []
    for number in numbers:
        counted += _in_pocket(case, facts, number)
        counted += _measured(case, facts, number)
        notes += _look_alikes(facts, number)
    counted += _lengths(case, facts)
    counted += probes_misused(case, facts, moved_tools(case))
    notes += _alike_in_length(case, facts, numbers)
    clear = f"{count(len(numbers), 'tool')} as meant, each with its own length."
    return Finding((Check(Scale.COUNT, "", (), tuple(counted), clear),), unread(case), tuple(notes))


def used_tools(case: Case) -> list[int]:
    """T numbers that move anything at feed, in the order of use; `NO_TOOL` if the program names none."""
    tools = case.moves.tool[case.feeding]
    _, first = np.unique(tools, return_index=True)
    return [int(tools[index]) for index in sorted(first)]


def moved_tools(case: Case) -> list[int]:
    """T numbers that are moved or changed to at all, a probe's among them; `NO_TOOL` if the program names none."""
    called = [event.number for event in case.reading.events if event.what is What.TOOL_CHANGE]
    return list(dict.fromkeys((*called, *np.unique(case.moves.tool[case.moving]).tolist())))


def first_line(case: Case, number: int) -> int:
    """Line of the change to a tool, else of its first move."""
    for event in case.reading.events:
        if event.what is What.TOOL_CHANGE and event.number == number:
            return event.line
    moves = np.flatnonzero(case.moves.tool == number)
    return int(case.moves.line[moves[0]]) if moves.size else 1


def _in_pocket(case: Case, facts: Leaning, number: int) -> list[Counted]:
    if number == NO_TOOL:
        return [] if spindle_tool(facts, number) is not None else [_none_called(case)]
    place = Place(first_line(case, number))
    meant = meant_tool(facts, number)
    owner = "register" if facts.setting_if_known("machine.control.t_means") == "register" else "pocket"
    if facts.setting(f"tools.{owner}.{number}.tool") is None or meant is None:
        return []
    loaded = loaded_tool(facts, number)
    if loaded == meant:
        return []
    what = f"Line {place.line}: T{number} is meant to be {meant}, but {owner} {number} holds {loaded}."
    do = f"Put {meant} into {owner} {number}, or correct the list that is wrong."
    sisters = facts.setting_if_known(f"tools.{meant}.sister")
    if isinstance(sisters, tuple) and loaded in sisters:
        do = f"{loaded} may stand in for {meant}: write it at {number} in [tools] of the job and examine that, or put {meant} in."
    return [Counted(place, what, do, Answer.STOP)]


def _none_called(case: Case) -> Counted:
    feeds = np.flatnonzero(case.feeding & (case.moves.tool == NO_TOOL))
    place = case.place(int(feeds[0]))
    what = f"Line {place.line}: it feeds before any tool has been called into the spindle."
    do = "Write T and M6 before this line, or say in job.toml [tools] which tool is in: 0 = its name."
    return Counted(place, what, do, Answer.UNJUDGED)


def _measured(case: Case, facts: Leaning, number: int) -> list[Counted]:
    name = spindle_tool(facts, number)
    if name is None:
        return []
    place = Place(first_line(case, number))
    counted = []
    length = facts.number(f"tools.{name}.LF")
    if length is not None and length.evidence is Evidence.ASSUMED:
        what = f"The length of {name} is assumed ({case.units.length(length.value)}), not measured."
        do = f"Measure {name} on the setter before the first run."
        counted.append(Counted(place, what, do, Answer.CARE, f"tools.{name}.LF"))
    if facts.setting_if_known(f"tools.{name}.condition") == "suspect":
        what = f"{name} is marked suspect."
        counted.append(Counted(place, what, "Look at its edges under a loupe, or put in a new one.", Answer.CARE))
    return counted + _gripped_anew(case, facts, name, _length_called(case, facts, number, name) or place)


def _length_called(case: Case, facts: Leaning, number: int, name: str) -> Place | None:
    """The first move with the length of a tool in force: whatever is wrong with the length begins there."""
    registers = case.reading.frames.length
    own = [one for one in np.unique(registers).tolist() if one != NO_LENGTH and register_tool(facts, one) == name]
    moves = np.flatnonzero(np.isin(registers, own)[case.moves.frame[:, 2]] & (case.moves.tool == number))
    return case.place(int(moves[0])) if moves.size else None


def _gripped_anew(case: Case, facts: Leaning, name: str, place: Place) -> list[Counted]:
    """Length and stick-out must part by as much as the holder is high; else one of them is from before the tool was last gripped."""
    length, overhang = (facts.number_if_known(f"tools.{name}.{key}") for key in ("LF", "OHX"))
    steps = holder_heights(facts, name)
    if length is None or overhang is None or not steps:
        return []
    apart = length.value - overhang.value - sum(step.value for step in steps)
    doubt = math.hypot(length.u, overhang.u, *(step.u for step in steps))
    if abs(apart) <= DOUBTS * doubt or apart > OTHER_HOLDER_MM:
        return []
    high = case.units.length(sum(step.value for step in steps))
    why = (
        "it has been gripped anew since one of them"
        if abs(apart) <= OTHER_HOLDER_MM
        else "one of the three is written wrongly"
    )
    what = (
        f"{name} stands out {case.units.length(overhang.value)} of a holder {high} high, which makes its length {case.units.length(abs(apart))} "
        f"{'less' if apart > 0 else 'more'} than the {case.units.length(length.value)} that were measured: {why}."
    )
    do = f"Measure length and stick-out of {name} again, and write both on the same day."
    return [Counted(place, what, do, Answer.CARE, f"tools.{name}.OHX")]


def holder_heights(facts: Leaning, name: str) -> list[Fact]:
    """Heights of the holder's steps, from the tool's end up to the gauge line."""
    found: list[Fact] = []
    while (step := facts.number_if_known(f"tools.{name}.holder.{len(found)}.length")) is not None:
        found.append(step)
    return found


def _lengths(case: Case, facts: Leaning) -> list[Counted]:
    """Each length register in force while a tool feeds must hold that tool's length."""
    frames, moves = case.reading.frames, case.moves
    rows = moves.frame[:, 2]
    base = frames.base[rows, 2]
    asked = case.feeding & (base != Base.G28) & (base != Base.G30)  # a height counted from home asks no length
    any_length = bool((frames.length != NO_LENGTH).any())
    numbers = np.flatnonzero(asked)
    tool, row = moves.tool[numbers], rows[numbers]
    changes = (tool[1:] != tool[:-1]) | (row[1:] != row[:-1])
    numbers = numbers[np.flatnonzero(np.append(numbers.size > 0, changes))]  # between two changes all are alike
    row = rows[numbers]
    triples = np.stack([moves.tool[numbers], frames.length[row], frames.system[row]], axis=1)
    found, first = np.unique(triples, axis=0, return_index=True)
    counted = []
    for (tool, register, system), index in zip(found.tolist(), first.tolist(), strict=True):
        place = Place(int(moves.line[numbers[index]]))
        touched = touched_with(facts, system)
        if register == NO_LENGTH:
            if touched is None or spindle_tool(facts, tool) != touched:
                counted.append(_no_length(place, tool, any_length))
        elif touched is not None:
            counted.append(_length_twice(place, register, touched))
        elif tool != NO_TOOL:
            counted += _other_length(case, facts, int(numbers[index]), tool, register)
    return counted


def _length_twice(place: Place, register: int, touched: str) -> Counted:
    what = f"Line {place.line}: the zero was set with the tip of {touched}, and H{register} adds a length to it again."
    return Counted(
        place,
        what,
        "Drop G43 from the program, or set the zero with the gauge line and drop touched_with.",
        Answer.STOP,
    )


def _no_length(place: Place, tool: int, others_have_one: bool) -> Counted:
    who = f"T{tool}" if tool != NO_TOOL else "the tool"
    what = f"Line {place.line}: {who} feeds with no length offset, so the gauge line, not the tip, follows the program."
    do = (
        "Add G43 with this tool's H before its first move down, or say that the work zero was set with this tool's tip."
    )
    return Counted(place, what, do, Answer.STOP if others_have_one else Answer.CARE)


def _other_length(case: Case, facts: Leaning, move: int, tool: int, register: int) -> list[Counted]:
    own, called = spindle_tool(facts, tool), register_tool(facts, register)
    if own is None or called is None or own == called:
        return []
    own_length = facts.number_if_known(f"tools.{own}.LF")
    called_length = facts.number_if_known(f"tools.{called}.LF")
    effect = ""
    if own_length and called_length:
        longer = called_length.value - own_length.value
        size, way = ("longer", "high") if longer > 0 else ("shorter", "deep")
        effect = f" H{register} is {case.units.length(abs(longer))} {size}, so the tip would go that much too {way}."
    change, length = _last(case, What.TOOL_CHANGE, move), _last(case, What.LENGTH, move)
    if length is None or (change is not None and length.before < change.before):
        since = f" since T{tool} came in at line {change.line}" if change is not None else ""
        place = Place(change.line if change is not None else int(case.moves.line[move]))
        what = f"Line {place.line}: no G43{since}; H{register} is still in force.{effect}"
        return [Counted(place, what, f"Write G43 H{tool} before the first move down of T{tool}.", Answer.STOP)]
    place = Place(length.line)
    what = f"Line {place.line}: T{tool} is in the spindle but H{register} is called.{effect}"
    return [Counted(place, what, f"Change H{register} to H{tool}, or say why.", Answer.STOP)]


def _last(case: Case, what: What, move: int) -> Event | None:
    """The last event of a kind before a move."""
    earlier = [event for event in case.reading.events if event.what is what and event.before <= move]
    return earlier[-1] if earlier else None


def _look_alikes(facts: Leaning, number: int) -> list[str]:
    name = spindle_tool(facts, number)
    if name is None:
        return []
    alike = look_alikes(facts, name)
    return [f"{name} looks like {listed(alike)}: read the shank before it goes into the pocket."] if alike else []


def _alike_in_length(case: Case, facts: Leaning, numbers: list[int]) -> list[str]:
    """Loaded tools that the length check cannot tell from a tool of this program; nothing where the setter is not described."""
    if facts.setting_if_known("tools.setter.readings") is None and not facts.facts.has("tools.setter.repeatability"):
        return []
    own = [name for number in numbers if (name := spindle_tool(facts, number)) is not None]
    loaded = [
        str(facts.facts.settings[path].value) for path in facts.facts.under("tools.pocket.") if path.endswith(".tool")
    ]
    windows = {}
    for name in dict.fromkeys((*own, *loaded)):
        apart = facts.facts.leaning()  # a window that is not known is no need of this question
        window = window_of(apart, name)
        facts.leaned.update(apart.leaned)
        if window is not None:
            windows[name] = window
    return [
        f"The length check cannot tell {pair.first} from {pair.second}: {case.units.fine(pair.apart_mm)} apart, and it needs "
        f"{case.units.fine(pair.needed_mm)}."
        for pair in alike(windows)
        if pair.first in own or pair.second in own
    ]


def look_alikes(facts: Leaning, name: str) -> list[str]:
    """Other tools in pockets of the same kind and nearly the same diameter."""
    own = facts.number_if_known(f"tools.{name}.DC")
    kind = facts.setting_if_known(f"tools.{name}.kind")
    if own is None:
        return []
    alike = []
    for path in facts.facts.under("tools.pocket."):
        if not path.endswith(".tool"):
            continue
        other = facts.facts.settings[path].value
        diameter = facts.facts.facts.get(f"tools.{other}.DC")
        other_kind = facts.facts.settings.get(f"tools.{other}.kind")
        same_kind = other_kind is not None and other_kind.value == kind
        if other != name and same_kind and diameter is not None and abs(diameter.value - own.value) < ALIKE_MM:
            alike.append(str(other))
    return alike
