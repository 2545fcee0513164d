"""How to prove a program on the machine, step by step, from what the program itself does: nothing here replaces watching it."""

from __future__ import annotations

import math

import numpy as np

from firstoff.program.moves import NO_LENGTH, Base
from firstoff.sheets.sheet_facts import Contact, Zero, contacts, reach, stock_top, tool_rows
from firstoff.sheets.wording import amount
from firstoff.verdict.case import AXES, Case, offset_path, register_length
from firstoff.verdict.words import MM_PER_INCH, listed

ABOVE_ALL_MM = 5.0
"""In a dry run the deepest cut passes this far above whatever stands highest (common practice)."""
LIFT_STEP_MM, LIFT_STEP_IN = 5.0, 0.25
"""The lift is a round figure in the shop's own unit, so that it is put in and taken out without a slip."""
AGREE_U = 3.0
AGREE_LEAST_MM = 0.05
"""A zero set again agrees with the planned one within three standard uncertainties, never asked finer than an edge can be felt."""
MOST_CONTACTS = 4


def proof_run(case: Case, zeros: list[Zero]) -> list[str]:
    """The steps, in order, each one sentence or two."""
    found = contacts(case)
    steps = [
        f"Control and stamp agree: {case.reading.lines} lines, first and last block.",
        _tools_step(case),
        *_zero_steps(case, zeros),
        _dry_run(case, zeros),
    ]
    if found:
        steps += [_first_contact(case, found[0]), _first_cuts(case, found)]
    return [*steps, "Measure the first size before you unclamp. Write it below."]


def _tools_step(case: Case) -> str:
    unmeasured = [row.name or f"T{row.number}" for row in tool_rows(case) if row.window_mm is None]
    words = "Every tool as in the table. Tick it."
    return f"{words} Measure first: {listed(unmeasured, 4)}." if unmeasured else words


def _zero_steps(case: Case, zeros: list[Zero]) -> list[str]:
    steps = []
    for zero in zeros[:2]:
        known = [fact for fact in zero.at if fact is not None]
        within = max([AGREE_LEAST_MM, *(AGREE_U * fact.u for fact in known)])
        if len(known) == len(AXES):
            steps.append(f"Set {zero.name}: within {_length(case, within)} of the plan in X, Y and Z.")
        else:
            steps.append(f"Set {zero.name} and write it down: nobody gave a planned position.")
    return steps


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


def _dry_run(case: Case, zeros: list[Zero]) -> str:
    raised, room = lift(case), head_room(case, zeros)
    names = listed([zero.name for zero in zeros], 3) or "work zero"
    if raised is None:
        return "Dry run without the blank: how high things stand, or how deep cuts go, is not known."
    up = _length(case, raised)
    if room is not None and room < raised:
        return f"Dry run without the blank: Z has no room to raise {names} by {up}."
    also = "" if room is not None else " Try by hand first whether Z goes so high."
    return f"Dry run with {names} raised {up} in Z. Then take the {up} out again.{also}"


def _first_contact(case: Case, contact: Contact) -> str:
    """Halt ahead of the first cut and hold the distance to go against what the eye sees."""
    name, halt, top = _called(contact.tool), contact.halt, stock_top(case.facts)
    if halt is None:
        return f"{name}, single block to line {contact.line}: it goes to Z {_z(case, contact.to_z)}. Watch the distance to go."
    stands = f"Z {_z(case, halt.z)}"
    if top is not None:
        stands += f", {_length(case, halt.z - top)} above the stock"
    check = f" Distance to go next: Z {_length(case, halt.next_down)}." if halt.next_down is not None else ""
    return f"{name}, single block, slow rapids, to line {halt.line}. Gauge it: the tip is at {stands}.{check}"


def _first_cuts(case: Case, found: list[Contact]) -> str:
    words = f"Line {found[0].line} at a quarter of the feed, a hand on the feed hold."
    later = []
    for one in found[1:]:
        look = f", look after {one.halt.line} at Z {_z(case, one.halt.z)}" if one.halt is not None else ""
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
