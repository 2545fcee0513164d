"""How to prove a program on the machine, step by step, from what the program itself does: nothing here replaces watching it."""

from __future__ import annotations

import math

import numpy as np

from firstoff.program.moves import NO_LENGTH, Base
from firstoff.sheets.around_part import shapes_in_files
from firstoff.sheets.first_contacts import Contact, contacts, top_doubt
from firstoff.sheets.sheet_facts import Zero, reach, registers, tool_rows
from firstoff.sheets.standing import over_blank, running_at
from firstoff.sheets.tool_runs import FIRST_CUT, knobs_of, spoken
from firstoff.sheets.tool_tables import alike_words
from firstoff.sheets.wording import amount
from firstoff.verdict.case import Case
from firstoff.verdict.followed import Followed
from firstoff.verdict.positions import offset_path, register_length
from firstoff.verdict.tools import spindle_tool
from firstoff.verdict.words import MM_PER_INCH, listed

ABOVE_ALL_MM = 5.0
"""In a dry run the deepest cut passes this far above whatever stands highest (common practice)."""
LIFT_STEP_MM, LIFT_STEP_IN = 5.0, 0.25
"""The lift is a round figure in the shop's own unit, so that it is put in and taken out without a slip."""
APART_MM = 0.5
"""Nobody sets a zero to a plan; one that lies further off than this is another seat, another edge or a slip (common practice)."""
BAR_PER_N_MM2 = 10.0
HIGHEST = "job.around.highest_around"
MOST_REGISTERS = 14
MOST_TOLD = 6
"""Tools that are named one by one in a step."""


def proof_run(case: Case, zeros: list[Zero], unsettled: str = "") -> list[str]:
    """The steps, in order, each a few short sentences. `unsettled` names what the machine's risk still waits for: that comes first."""
    found = contacts(case)
    steps = [
        *([f"Not before this is settled: {unsettled}. Then examine again and print a new sheet."] if unsettled else []),
        _today_step(case),
        f"Stamp, {case.reading.lines} lines, first and last block as in the control.",
        *_tools_steps(case),
        *_zero_steps(case, zeros),
        *_dry_run(case, zeros),
    ]
    if found:
        steps += [*_first_contacts(case, found), _first_cuts(case, found)]
    return [*steps, "Spindle stands: measure, write it below, then unclamp."]


def _today_step(case: Case) -> str:
    """The machine itself, with what today's card says."""
    facts = case.facts.facts
    warm, air = facts.get("machine.today.warm"), facts.get("machine.today.air")
    warmed = f" ({warm.value / 60:.0f} min)" if warm is not None else ""
    bar = f" ({amount(air.value * BAR_PER_N_MM2, 0, 'bar')})" if air is not None else ""
    return f"Axes homed, spindle warm{warmed}, air on{bar}."


def _tools_steps(case: Case) -> list[str]:
    """Pockets and lengths, ticked in the table; then registers that hold something else than the length of their own tool."""
    rows = tool_rows(case)
    unmeasured = [row.name or f"T{row.number}" for row in rows if row.window_mm is None]
    lengths = {row.registers.split()[0]: row.length for row in rows if row.registers}
    told = []
    for one in registers(case):
        own = lengths.get(one.name)
        if one.radius is None and own is not None and own.value == one.value:
            continue  # H holds the LF that the table tells
        radius = (
            f" (radius {one.radius / (MM_PER_INCH if case.units.inch else 1):.4f})" if one.radius is not None else ""
        )
        told.append(f"{one.name}\u00a0{_register(case, one.value)}{radius}")
    reads = "H in the control as LF" if lengths else ""
    alike = alike_words(rows)
    steps = [
        f"Tick each tool: in its pocket{', ' + reads if reads else ''}.{f' Measure first: {listed(unmeasured, 4)}.' if unmeasured else ''}"
        f"{f' Look alike: {alike}.' if alike else ''}"
    ]
    if told:
        steps.append(f"The control's tool table reads {listed(told, MOST_REGISTERS)}.")
    return steps


def _register(case: Case, mm: float | None) -> str:
    if mm is None:
        return "not known"
    return f"{mm / MM_PER_INCH:.4f}" if case.units.inch else f"{mm:.3f}"


def _zero_steps(case: Case, zeros: list[Zero]) -> list[str]:
    apart = "0.020 in" if case.units.inch else f"{APART_MM:g} mm"
    steps = []
    for zero in zeros[:2]:
        seen = _machine_z_on_zero(case, zero)
        reads = f" {seen[0]} on zero reads machine Z {_planned(case, seen[1])}." if seen else ""
        if all(fact is not None for fact in zero.at):
            steps.append(f"Touch off {zero.name}, write it down.{reads} More than {apart} off: find out why.")
        else:
            steps.append(
                f"Touch off {zero.name}, write it down: nobody gave a planned position. Examine again with it."
            )
    return steps


def _machine_z_on_zero(case: Case, zero: Zero) -> tuple[str, float] | None:
    """(tool, machine Z of the gauge point, mm) when that tool's tip touches work zero: the one number that the screen shows then."""
    z = zero.at[2]
    if z is None:
        return None
    touched = case.facts.settings.get(f"job.offset.{zero.name}.touched_with")
    if touched is not None:
        return str(touched.value), z.value
    for row in tool_rows(case):
        if row.length is not None:
            return spoken(row.number) if row.number >= 0 else row.name, z.value + row.length.value
    return None


def lift(case: Case) -> float | None:
    """How far, mm, work zero must be raised so that nothing is cut; None where nobody says how high things stand."""
    cut, facts = reach(case).cut, case.facts
    tops = [
        fact.value
        for path, fact in facts.facts.items()
        if path in (HIGHEST, "job.stock.box.z.high", "job.stock.cylinder.z.high")
        or (path.startswith("job.fixture.") and path.endswith(".z.high"))
    ]
    if isinstance(case.followed, Followed):
        tops.append(case.followed.likely.before.grid.z0_mm)  # the top of a blank of any shape
    if cut is None or not tops or (shapes_in_files(facts) and HIGHEST not in facts.facts):
        return None
    step = LIFT_STEP_IN * MM_PER_INCH if case.units.inch else LIFT_STEP_MM
    return math.ceil((max(tops) - cut[2][0] + ABOVE_ALL_MM) / step) * step


def head_room(case: Case, zeros: list[Zero]) -> float | None:
    """How far, mm, the highest move of the program stays below the end of Z travel; None where a fact is missing."""
    end = case.facts.facts.get("machine.axis.z.travel.high")
    if end is None or not zeros:
        return None
    leaning, frames, moves = case.facts.leaning(), case.reading.frames, case.moves
    highest = -math.inf
    for row in np.unique(moves.frame[case.moving, 2]).tolist():
        base = int(frames.base[row, 2])
        offset = case.facts.facts.get(offset_path(base, 2)) if Base.G54 <= base <= Base.G59_3 else None
        if offset is None:
            continue
        register = int(frames.length[row])
        length = register_length(leaning, register) if register != NO_LENGTH else None
        if register != NO_LENGTH and length is None:
            return None
        tops = case.high_mm[(moves.frame[:, 2] == row) & case.moving, 2]
        if np.isfinite(tops).any():
            own = (
                float(np.nanmax(tops))
                + float(frames.shift_mm[row, 2])
                + offset.value
                + (length.value if length else 0.0)
            )
            highest = max(highest, own)
    return end.value - highest if math.isfinite(highest) else None


def _dry_run(case: Case, zeros: list[Zero]) -> list[str]:
    """Up in one box and down in another, with the figures that the screen must show: taking a lift out twice is a crash."""
    raised, room = lift(case), head_room(case, zeros)
    names = listed([zero.name for zero in zeros], 3) or "work zero"
    care = "rapids lowest, door shut, hand on feed hold"
    if raised is None:
        return [
            f"Air run without the blank, {care}: how high things stand, or how deep cuts go, is not known, so no lift is told."
        ]
    up = _length(case, raised)
    if room is not None and room < raised:
        return [f"Air run without the blank, {care}. Z has no room to raise {names} by {up}: leave it as set."]
    also = "" if room is not None else " Jog first: does Z go so high?"
    lifted = listed([_set_z(case, zero, raised) for zero in zeros], 3)
    back = listed([_set_z(case, zero, 0.0) for zero in zeros], 3)
    return [
        f"Air run, no blank in: {lifted} (as set plus {up}), {care}.{also}",
        f"{back.replace(' Z ', ' Z back to ')}, or as set. Read it off the screen.",
    ]


def _set_z(case: Case, zero: Zero, up_mm: float) -> str:
    """``G54 Z -143.20``; where nobody planned it, in words."""
    z = zero.at[2]
    if z is None:
        return f"{zero.name} Z as set" + (f" plus {_length(case, up_mm)}" if up_mm else "")
    return f"{zero.name} Z {_planned(case, z.value + up_mm)}"


def _planned(case: Case, mm: float) -> str:
    return (f"{mm / MM_PER_INCH:.4f}" if case.units.inch else f"{mm:.2f}").replace("-", "\u2212")


def _first_contacts(case: Case, found: list[Contact]) -> list[str]:
    """Halt ahead of each first cut and hold two numbers against the table; no hand goes under a running tool."""
    halted = [contact for contact in found if contact.halt is not None]
    without = list(dict.fromkeys(spoken(contact.tool) for contact in found if contact.halt is None))
    steps = []
    if halted:
        doubt, beside = top_doubt(case), _beside(case, halted)
        known = [f"±{_length(case, doubt)}"] if doubt is not None else []
        known += [f"{listed(beside, MOST_TOLD)} beside the blank"] if beside else []
        good = f" ({'; '.join(known)})" if known else ""
        steps.append(
            "Each tool: single block, rapids lowest, door shut, to its halt line; start the next block, hold at once. "
            f"Gap{good} and Z to go (just less) as told? Else stop."
        )
        steps += _under_the_tool(case, halted)
    if without:
        who = listed(without, MOST_TOLD)
        steps.append(
            f"{who[:1].upper()}{who[1:]}: no line before the first cut surely ends clear of the blank. Watch the distance to go; nothing "
            "goes under the tool."
        )
    return steps


def _beside(case: Case, halted: list[Contact]) -> list[str]:
    """Tools that stand beside the blank at their halts: there the gap is seen level with its top."""
    found = []
    for contact in halted:
        name = spindle_tool(case.facts.leaning(), contact.tool)
        diameter = case.facts.facts.get(f"tools.{name}.DC")
        halt = contact.halt
        if halt is not None and over_blank(case, halt.move, diameter.value / 2 if diameter else None) is False:
            found.append(spoken(contact.tool))
    return list(dict.fromkeys(found))


def _under_the_tool(case: Case, halted: list[Contact]) -> list[str]:
    """What turns and flows at the halts, and how to stop it before anything goes under the tool."""
    running = [running_at(case, contact.halt.move) for contact in halted if contact.halt is not None]
    turns, flows = [one.per_min != 0 for one in running], [bool(one.coolant) for one in running]
    names = [name for name, here in (("spindle", turns), ("coolant", flows)) if any(here)]
    if not names:
        return []
    may = "" if all(turns) and (not any(flows) or all(flows)) else "may "
    run = "run" if may or len(names) > 1 else "runs"
    both = f"{listed(names).capitalize()} {may}{run} there"
    standing = ", and standing," if any(turns) else ""
    return [f"{both}: off{standing} before anything goes under the tool; then on again."]


def _first_cuts(case: Case, found: list[Contact]) -> str:
    """The feed of first cuts: a quarter, but never so little that the edge rubs, where that is known."""
    knobs = knobs_of(case)
    tools = list(dict.fromkeys(contact.tool for contact in found))
    settings = {tool: knobs[tool].first_cut for tool in tools if tool in knobs}
    other = [f"{spoken(tool)} {at} %" for tool, at in settings.items() if at is not None and at != FIRST_CUT]
    apart = f" ({', '.join(other[:MOST_TOLD])})" if other else ""
    return f"First cuts at {FIRST_CUT} % feed override{apart}, hand on feed hold."


def _length(case: Case, mm: float) -> str:
    if case.units.inch:
        return amount(round(mm / MM_PER_INCH, 3), 0, "in")
    return amount(round(mm, 2), 0, "mm")


def _z(case: Case, mm: float) -> str:
    return amount(round(mm / MM_PER_INCH, 4) if case.units.inch else round(mm, 3), 0, "")
