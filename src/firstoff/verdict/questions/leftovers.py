"""Machine: what does the program stop at, change, and leave on?"""

from __future__ import annotations

import numpy as np

from firstoff.facts.fact import Leaning
from firstoff.program.moves import SYSTEM_NAMES, Base, Event, Kind, Moves, Reading, What
from firstoff.verdict.case import Case, below_safe_height, unread
from firstoff.verdict.forms import Scale
from firstoff.verdict.question import Answer, Check, Counted, Finding, Place, Question, Risk

QUESTION = Question("leftovers", Risk.MACHINE, "What does the program stop at, change, and leave on?")


def find(case: Case, facts: Leaning) -> Finding:
    """Stops, offsets written and states left on; nothing here needs a fact."""
    reading = case.reading
    counted = (
        _stops(reading)
        + _written(reading)
        + _reversed(reading)
        + _at_depth(case, facts)
        + _left_on(reading)
        + _first_moves(case)
    )
    clear = "Nothing stops it, nothing is written, nothing is left on."
    return Finding((Check(Scale.COUNT, "", (), tuple(counted), clear),), unread(case))


def _stops(reading: Reading) -> list[Counted]:
    found = []
    for event in reading.events:
        if event.what is What.STOP:
            running = _running(reading, event)
            what = f"Line {event.line}: the program stops (M{event.number}){running}."
            do = event.text or "Know what to do at this stop before you start: the sheet has a line for it."
            if running:
                do = f"Write M5 M9 before this line, and S, M3 and a dwell after it. {event.text}".strip()
            found.append(Counted(Place(event.line), what, do, Answer.CARE))
        elif event.what is What.OPTIONAL_STOP:
            what = f"Line {event.line}: the program stops if the optional stop switch is on."
            found.append(Counted(Place(event.line), what, "Decide on the switch before you start.", Answer.CARE))
    return found


def _running(reading: Reading, stop: Event) -> str:
    """What still turns or flows while a person stands at the machine."""
    spindle = [
        event
        for event in reading.events
        if event.what is What.SPINDLE and event.before <= stop.before and event.line <= stop.line
    ]
    coolant = [
        event
        for event in reading.events
        if event.what is What.COOLANT and event.before <= stop.before and event.line <= stop.line
    ]
    on = []
    if spindle and spindle[-1].value != 0:
        on.append("the spindle turning")
    if coolant and coolant[-1].number:
        on.append("coolant on")
    return f" with {' and '.join(on)}" if on else ""


def _reversed(reading: Reading) -> list[Counted]:
    """M4 while M3 turns (or the other way): where a stop is meant, M5 is the word."""
    found = []
    before = 0.0
    for event in reading.events:
        if event.what is not What.SPINDLE:
            continue
        if before * event.value < 0:
            what = f"Line {event.line}: the spindle is reversed while it turns."
            found.append(
                Counted(
                    Place(event.line),
                    what,
                    "If a stop is meant, write M5; if not, write M5 and a dwell before it.",
                    Answer.STOP,
                )
            )
        before = 0.0 if event.value != event.value else event.value
    return found


def _at_depth(case: Case, facts: Leaning) -> list[Counted]:
    """The end, or a change of tool, with the tip still below whatever stands highest."""
    found = []
    low = below_safe_height(case, facts)
    for event in case.reading.events:
        last = event.before - 1
        if event.what not in (What.END, What.TOOL_CHANGE) or last < 0:
            continue
        if low[last] and case.sure[last]:
            name = "ends" if event.what is What.END else "changes the tool"
            place = Place(event.line)
            what = f"Line {event.line}: the program {name} with the tool still down in the work."
            found.append(
                Counted(place, what, "Retract first; what the control does with Z here is its own.", Answer.CARE)
            )
    return found


def _written(reading: Reading) -> list[Counted]:
    found = []
    for event in reading.events:
        place = Place(event.line)
        if event.what is What.OFFSET_WRITTEN:
            what = f"Line {event.line}: the program rewrites {_system(event)}; the next job finds it changed."
            found.append(Counted(place, what, "Write down the old value, and set it again afterwards.", Answer.CARE))
        elif event.what is What.TABLE_WRITTEN:
            what = f"Line {event.line}: the program rewrites line {event.number} of the tool table."
            found.append(Counted(place, what, "Measure that tool again before the next job.", Answer.CARE))
        elif event.what is What.PROBE:
            what = f"Line {event.line}: the program probes; what follows depends on what it finds."
            found.append(Counted(place, what, "Run it at low override with a hand on the stop.", Answer.CARE))
    return found


def _system(event: Event) -> str:
    return SYSTEM_NAMES[event.number - 1] if Base.G54 <= event.number <= Base.G59_3 else "a work system"


def _compensated_from(moves: Moves) -> Place | None:
    """Where the compensation begins that the last move still has."""
    off = np.flatnonzero(moves.comp_register < 0)
    move = int(off[-1]) + 1 if off.size else 0
    return Place(int(moves.line[move]), move) if move < len(moves) else None


def _left_on(reading: Reading) -> list[Counted]:
    state, last = reading.before_end, Place(max(1, _last_line(reading)))
    found = []

    def left(on: bool, what: str, do: str, severity: Answer = Answer.CARE, place: Place = last) -> None:
        if on:
            found.append(Counted(place, what, do, severity))

    left(
        reading.final.ended_by == "text end",
        "The text ends without M2 or M30.",
        "Check that the file is whole; add M30.",
    )
    stays = reading.final.spindle != "off"
    left(
        state.spindle != "off",
        "The spindle is left turning at the end.",
        "Add M5 before the end.",
        Answer.STOP if stays else Answer.CARE,
    )
    left(state.coolant != "off", "Coolant is left on at the end.", "Add M9 before the end.")
    left(
        state.distance == "G91",
        "Incremental mode (G91) is left on at the end.",
        "Add G90; the next program may not say it.",
    )
    begins = _compensated_from(reading.moves) or last
    left(
        state.comp != "G40",
        f"Line {begins.line}: the cutter compensation that begins here is left on at the end.",
        "Add G40 with a move away from the part.",
        Answer.STOP,
        place=begins,
    )
    left(not state.overrides, "The overrides are left locked (M49).", "Add M48.")
    shifts = [event.line for event in reading.events if event.what is What.SHIFT and event.value]
    line = shifts[-1] if shifts else last.line
    left(
        state.shift_left,
        f"Line {line}: this shift (G92 or G52) is still in force at the end.",
        "Add G92.1 (or G52 X0 Y0 Z0): the next job starts shifted.",
        place=Place(line),
    )
    return found


def _last_line(reading: Reading) -> int:
    return int(reading.moves.line[-1]) if len(reading.moves) else 1


def _first_moves(case: Case) -> list[Counted]:
    """A first move sideways at a height that nobody knows: at the start and after a change of tool."""
    reading, found = case.reading, []
    moves = reading.moves
    for index in range(len(moves)):
        if moves.kind[index] == Kind.DWELL:
            continue
        frames = reading.frames.base[moves.frame[index], [0, 1, 2]]
        sideways = frames[0] != Base.START and (frames[2] == Base.START or index == 0)
        changed = any(event.what is What.TOOL_CHANGE and event.before <= index for event in reading.events)
        if sideways and not changed:
            line = int(moves.line[index])
            what = f"Line {line}: the first move goes sideways at whatever height the tool stands."
            found.append(
                Counted(
                    Place(line), what, "Jog Z up before you start, or begin the program with G53 G0 Z0.", Answer.CARE
                )
            )
        break
    return found
