"""How to prove a program on the machine, step by step, from what the program itself does: nothing here replaces watching it."""

from __future__ import annotations

import math

import numpy as np

from firstoff.program.moves import NO_LENGTH, Base
from firstoff.sheets.sheet_facts import Contact, Halt, Zero, contacts, reach, registers, stock_top, tool_rows
from firstoff.sheets.standing import over_blank, running_at, running_words
from firstoff.sheets.wording import amount
from firstoff.verdict.case import Case
from firstoff.verdict.positions import offset_path, register_length
from firstoff.verdict.words import MM_PER_INCH, listed

ABOVE_ALL_MM = 5.0
"""In a dry run the deepest cut passes this far above whatever stands highest (common practice)."""
LIFT_STEP_MM, LIFT_STEP_IN = 5.0, 0.25
"""The lift is a round figure in the shop's own unit, so that it is put in and taken out without a slip."""
APART_MM = 0.5
"""Nobody sets a zero to a plan; one that lies further off than this is another seat, another edge or a slip (common practice)."""
BAR_PER_N_MM2 = 10.0
MOST_REGISTERS = 14
MOST_CONTACTS = 4


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
        steps += [_first_contact(case, found[0]), _first_cuts(case, found)]
    return [*steps, "Spindle stands, then measure the first size before you unclamp. Write it below."]


def _today_step(case: Case) -> str:
    """The machine itself, with what today's card says."""
    facts = case.facts.facts
    warm, air = facts.get("machine.today.warm"), facts.get("machine.today.air")
    said = [f"{warm.value / 60:.0f} min warm"] if warm is not None else []
    if air is not None:
        said.append(f"air {amount(air.value * BAR_PER_N_MM2, 0, 'bar')}")
    card = f" (today's card: {listed(said)})" if said else ""
    return f"Axes homed, spindle warmed up, air on{card}."


def _tools_steps(case: Case) -> list[str]:
    unmeasured = [row.name or f"T{row.number}" for row in tool_rows(case) if row.window_mm is None]
    words = "Every tool in its pocket as in the table. Tick it."
    steps = [f"{words} Measure first: {listed(unmeasured, 4)}." if unmeasured else words]
    lengths = {row.registers.split()[0]: row.length for row in tool_rows(case) if row.registers}
    told = []
    for one in registers(case):
        own = lengths.get(one.name)
        if one.radius is None and own is not None and own.value == one.value:
            continue  # H holds the LF that the table tells
        radius = (
            f" (radius {one.radius / (MM_PER_INCH if case.units.inch else 1):.4f})" if one.radius is not None else ""
        )
        told.append(f"{one.name}\u00a0{_register(case, one.value)}{radius}")
    if lengths:
        also = f"; {listed(told, MOST_REGISTERS)}" if told else ""
        steps.append(f"In the control's tool table H reads as LF{also}.")
    elif told:
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
        reads = f" With {seen[0]} on zero, machine Z reads {_planned(case, seen[1])}." if seen else ""
        if all(fact is not None for fact in zero.at):
            steps.append(
                f"Touch off {zero.name} and write it down.{reads} More than {apart} from planned: find out why, examine again."
            )
        else:
            steps.append(
                f"Touch off {zero.name} and write it down: nobody gave a planned position. Examine again with it."
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
            return _called(row.number) if row.number >= 0 else row.name, z.value + row.length.value
    return None


def lift(case: Case) -> float | None:
    """How far, mm, work zero must be raised so that nothing is cut; None where nobody says how high things stand."""
    cut = reach(case).cut
    tops = [
        fact.value
        for path, fact in case.facts.facts.items()
        if path in ("job.around.highest_around", "job.stock.box.z.high", "job.stock.cylinder.z.high")
        or (path.startswith("job.fixture.") and path.endswith(".box.z.high"))
    ]
    if cut is None or not tops:
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
        f"{lifted} for the air run (as set plus {up}), no blank in; {care}.{also}",
        f"{back.replace(' Z ', ' Z back to ')}, or to the figure as set. Read it off the screen.",
    ]


def _set_z(case: Case, zero: Zero, up_mm: float) -> str:
    """``G54 Z -143.20``; where nobody planned it, in words."""
    z = zero.at[2]
    if z is None:
        return f"{zero.name} Z as set" + (f" plus {_length(case, up_mm)}" if up_mm else "")
    return f"{zero.name} Z {_planned(case, z.value + up_mm)}"


def _planned(case: Case, mm: float) -> str:
    return (f"{mm / MM_PER_INCH:.4f}" if case.units.inch else f"{mm:.2f}").replace("-", "\u2212")


def _first_contact(case: Case, contact: Contact) -> str:
    """Halt ahead of the first cut and hold the distance to go against what the eye sees; no hand goes under a running tool."""
    name, halt = _called(contact.tool), contact.halt
    begin = f"{name}: single block, rapids lowest, door shut, to line"
    if halt is None:
        return f"{begin} {contact.line}: it goes to Z {_z(case, contact.to_z)}. Watch the distance to go; nothing goes under the tool."
    reads = f" Distance to go must read Z {_z(case, halt.next_down)}." if halt.next_down is not None else ""
    over, gap = _over(case, contact, halt)
    check = "To check the gap" if gap else "To put anything under it"
    running = running_at(case, halt.move)
    stop = [
        word
        for word, on in (("coolant off", running.coolant), ("spindle stop, wait till it stands", running.per_min))
        if on
    ]
    runs = running_words(running, with_lines=True)
    first = f"{runs[0].upper()}{runs[1:]}. " if runs else ""
    act = f" {first}{check}: feed hold{''.join(f', {word}' for word in stop)}"
    again = {0: "", 1: "; start it again before you go on", 2: "; start both again before you go on"}[len(stop)]
    return f"{begin} {halt.line} ({over}).{reads}{act}{again}."


def _over(case: Case, contact: Contact, halt: Halt) -> tuple[str, bool]:
    """(where the tip stands, whether there is a gap to the blank under it)."""
    at = " ".join(
        f"{axis}{_z(case, value)}" for axis, value in zip("XY", (halt.x, halt.y), strict=True) if math.isfinite(value)
    )
    rows = [row for row in tool_rows(case) if row.number == contact.tool]
    diameter = case.facts.facts.get(f"tools.{rows[0].name}.DC") if rows else None
    over = over_blank(case, halt.move, diameter.value / 2 if diameter else None)
    top = stock_top(case.facts)
    if over is None or top is None:
        return f"{at}, Z {_z(case, halt.z)}; over or beside the blank I can't say", False
    if not over:
        return f"{at}, beside the blank", False
    return f"{at}, over the blank, {_length(case, halt.z - top)} above it", True


def _first_cuts(case: Case, found: list[Contact]) -> str:
    words = f"Line {found[0].line} at a quarter of the feed, hand on feed hold."
    later = []
    for one in found[1:]:
        look = f" (halt after {one.halt.line}, Z {_z(case, one.halt.z)})" if one.halt is not None else ""
        later.append(f"{_called(one.tool)} at {one.line}{look}")
    if not later:
        return words
    more = f"; and {len(later) - MOST_CONTACTS} more" if len(later) > MOST_CONTACTS else ""
    return f"{words} The same with {'; '.join(later[:MOST_CONTACTS])}{more}."


def _called(tool: int) -> str:
    return f"T{tool}" if tool >= 0 else "First cut"


def _length(case: Case, mm: float) -> str:
    if case.units.inch:
        return amount(round(mm / MM_PER_INCH, 3), 0, "in")
    return amount(round(mm, 2), 0, "mm")


def _z(case: Case, mm: float) -> str:
    return amount(round(mm / MM_PER_INCH, 4) if case.units.inch else round(mm, 3), 0, "")
