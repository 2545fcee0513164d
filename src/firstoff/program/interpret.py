"""What one block does: its words carried out in the order of NISTIR 6556, Table 8."""

from __future__ import annotations

import math
import re

from firstoff.program import _kernels as k
from firstoff.program import arcs, cycles, moving, offsets
from firstoff.program.blocks import Block, Word
from firstoff.program.control import STILL, path_of
from firstoff.program.findings import Findings
from firstoff.program.frames import ROTARY
from firstoff.program.modal import modal_state
from firstoff.program.moves import NO_LENGTH, NO_TOOL, Flag, What
from firstoff.program.reader import ALL_AXES, START_SYSTEM, Reader
from firstoff.program.sorting import known_m, sort
from firstoff.program.state import Cycle
from firstoff.program.words import (
    ARC_MODE,
    AXIS_LETTERS,
    CENTRE_LETTERS,
    COMP,
    CYCLE,
    DISTANCE,
    FEED_MODE,
    LENGTH,
    MOTION,
    PATH,
    PLANE,
    RETURN,
    ROTARY_LETTERS,
    UNITS,
    Order,
)

MOST_TOOL = 99_999_999
TURNED = re.compile(r"\b(?:flip|turn(?: the| it)? (?:part|over|piece|stock)|turn over|re-?zero|re-?set zero|set zero|zero again|new zero|touch off|second side|other side|side 2)", re.IGNORECASE)  # fmt: skip
"""Words in the comments at a stop that say the part or its zero is moved by hand."""


def interpret(reader: Reader, block: Block, broken: bool) -> None:
    """Do what one block says; `broken` blocks were not understood as text, so nothing in them moves."""
    if block.message:
        reader.record.event(What.MESSAGE, reader.line, text=block.message)
    if block.words or block.assignments or block.jump is not None or broken:
        reader.state.blocks += 1
    if not block.words and not block.assignments and not broken:
        return
    order = sort(reader, block, broken)
    late = _stops_late(reader, order)
    _feed_mode(reader, order)
    _feed(reader, order)
    _speed(reader, order)
    _tool(reader, order)
    if not late:
        _spindle(reader, order)
        _coolant(reader, order)
    _overrides(reader, order)
    _own_codes(reader, order)
    if 40 in order.once:
        moving.dwell(reader, order)
    _plane(reader, order)
    _units(reader, order)
    _compensation(reader, order)
    offsets.veils(reader, order)
    offsets.length_offset(reader, order)
    offsets.work_system(reader, order)
    _path_mode(reader, order)
    _distance(reader, order)
    _return_mode(reader, order)
    if order.broken:
        reader.lose(ALL_AXES)
    else:
        _once(reader, order)
        _motion(reader, order)
    if late:
        _spindle(reader, order)
        _coolant(reader, order)
    _stop(reader, order)
    if not order.broken:
        _unused(reader, order)


# --- feed, speed, tool ---


def _feed_mode(reader: Reader, order: Order) -> None:
    code = order.g.get(FEED_MODE)
    if code is None:
        return
    state = reader.state
    state.stated |= k.SAID_FEED_MODE
    if code // 10 != state.feed_mode:
        state.feed_mode = code // 10
        state.forget_feed(f"{order.code_words[code].text} changed what it counts")


def _feed(reader: Reader, order: Order) -> None:
    value = order.take("F")
    if value is None:
        return
    state = reader.state
    word = order.word_of("F")
    if value < 0.0:
        reader.fault(word, "a negative feed")
        return
    unit = order.g.get(UNITS)
    if unit is not None and state.units_stated and state.units != unit // 10:
        reader.fault(
            word,
            "F in a block that changes the unit: controls differ in which unit it counts; write the unit in the block before",
        )
    if unit is None:
        reader.ask_units(order, "F")
    state.f = value
    state.feed = value * state.unit / 60.0 if state.feed_mode == 94 else math.nan


def _speed(reader: Reader, order: Order) -> None:
    value = order.take("S")
    if value is None:
        return
    state = reader.state
    if value < 0.0:
        reader.fault(order.word_of("S"), "a negative spindle speed: the direction is M3 or M4, S is 0 or more")
        return
    if order.g.get("speed mode") == 960:
        reader.fault(
            order.code_words[960], "constant surface speed (G96) is for lathes: the spindle speed is not known"
        )
        value = math.nan
    changed = value != state.s
    state.s = value
    state.turn(state.turning)
    if changed and state.turning:
        reader.spindle_event()


def _tool(reader: Reader, order: Order) -> None:
    state = reader.state
    value = order.take("T")
    if value is not None:
        number = round(value)
        word = order.word_of("T")
        if abs(value - number) > 1e-4 or not 0 <= number <= MOST_TOOL:
            reader.fault(word, "T is a whole number, 0 or more")
        else:
            state.selected_tool = number
            reader.record.event(What.TOOL_SELECT, reader.line, number)
            if 6 not in order.m and reader.control.answer("t_alone") == "changes":
                _change(reader)
    if 6 in order.m and reader.control.answer("m6") != "ignored":
        if state.selected_tool is None:
            reader.fault(order.m_words[6], "M6 changes to the tool that T named last, and none was named")
        _change(reader)


def _change(reader: Reader) -> None:
    """The tool change stops the spindle and leaves everything else (NISTIR 6556, 3.6.3)."""
    state = reader.state
    state.tool = NO_TOOL if state.selected_tool is None else state.selected_tool
    if state.turning:
        state.turn(0)
        reader.spindle_event()
    state.restore = 1
    reader.record.event(What.TOOL_CHANGE, reader.line, state.tool)


def _spindle(reader: Reader, order: Order) -> None:
    state = reader.state
    for code, direction in ((3, 1), (4, -1), (5, 0), (13, 1), (14, -1), (19, 0)):
        if code in order.m and (code < 13 or code in known_m(reader)):
            state.turn(direction)
            reader.spindle_event()
            if code >= 13:
                what = {
                    13: "M13 is taken as M3 and M8",
                    14: "M14 is taken as M4 and M8",
                    19: "M19 stops the spindle turned to one side",
                }
                reader.note(f"M{code}", order.m_words[code], f"{what[code]}, as custom has it")


def _coolant(reader: Reader, order: Order) -> None:
    state = reader.state
    before = state.flags
    known = known_m(reader)
    if 9 in order.m:
        state.flag(Flag.MIST | Flag.FLOOD, on=False)
    if 7 in order.m:
        state.flag(Flag.MIST, on=True)
    if 8 in order.m or ((13 in order.m or 14 in order.m) and 13 in known):
        state.flag(Flag.FLOOD, on=True)
    if state.flags != before or 9 in order.m:
        reader.record.event(What.COOLANT, reader.line, state.flags & (Flag.MIST | Flag.FLOOD))


def _stops_late(reader: Reader, order: Order) -> bool:
    """Whether M5 and M9 of a block act after its motion; asked only where the answer changes a cut."""
    if not order.has(AXIS_LETTERS) or not {5, 9, 19} & set(order.m):
        return False
    state = reader.state
    motion = order.g.get(MOTION, order.g.get(CYCLE, state.motion))
    rapid = motion == 0 or any(code in order.once for code in (40, 100, 520, 920, 280, 300))
    cut = (state.turning != 0 and 5 in order.m) or (bool(state.flags & (Flag.MIST | Flag.FLOOD)) and 9 in order.m)
    way = reader.control.answer("m5_when") if cut else "before"
    if way is None and not rapid:
        word = order.m_words[5 if 5 in order.m else 9]
        what = f"{word.text} in a block that cuts: some controls stop before the motion, some after it; write it in a block of its own"
        reader.depends(word, what, "m5_when")
    return way == "after"


def _overrides(reader: Reader, order: Order) -> None:
    for code in (48, 49):
        if code in order.m:
            reader.state.flag(Flag.NO_OVERRIDE, on=code == 49)
            reader.record.event(What.OVERRIDE, reader.line, 0, float(code == 48))


def _own_codes(reader: Reader, order: Order) -> None:
    """M codes of the builder: only the machine can say what they do."""
    known = known_m(reader)
    for code in order.m:
        if code in known:
            if code == 29:
                reader.note(
                    "M29", order.m_words[29], "M29 is taken as the code before a tapping cycle, as custom has it"
                )
            continue
        word = order.m_words[code]
        words = reader.control.own_code(code)
        if words is not None:
            reader.record.event(What.OWN_CODE, reader.line, code, text=words)
        if words is not None and (words == STILL or "move" not in words.lower()):
            continue
        what = f"{word.text} is the builder's own code and may move an axis: say what it does in [control] own_m_codes"
        if words is not None:
            what = f'{word.text} moves something by its own account ("{words}"): positions after it are not known'
        column, text = word.column, word.text
        fact = path_of(f"own_m_codes.{code}")
        reader.findings.depends_on(fact, reader.line, column, text, reader.where + what, loses=True)
        reader.lose(ALL_AXES)


# --- modes ---


def _plane(reader: Reader, order: Order) -> None:
    code = order.g.get(PLANE)
    if code is None:
        return
    state = reader.state
    state.stated |= k.SAID_PLANE
    if state.comp != 40 and code != 170:
        reader.fault(order.code_words[code], "no other plane than G17 while radius compensation is on: write G40 first")
    if code // 10 != state.plane and state.cycle.code:
        state.cycle = Cycle()  # heights kept for one plane mean nothing in another
    state.plane = code // 10


def _units(reader: Reader, order: Order) -> None:
    code = order.g.get(UNITS)
    if code is None:
        return
    state = reader.state
    if state.comp != 40 and code // 10 != state.units:
        reader.fault(order.code_words[code], "no change of unit while radius compensation is on: write G40 first")
    late = state.units == 0 and bool(state.units_asked)
    changed = code // 10 != state.units
    if changed and state.units_stated and "F" not in order.values and not reader.control.report:
        state.forget_feed(f"{order.code_words[code].text} changed the unit")  # the report keeps the number (3.5.7)
    state.units_stated = True
    state.set_units(code // 10)
    if changed:
        reader.set_arc_tolerance()
    if late and state.moves:
        reader.unit_moves = state.moves
        reader.findings.loses_by(Findings.depends_key(path_of("units_at_start")))
        reader.lose(ALL_AXES)


def _compensation(reader: Reader, order: Order) -> None:
    code = order.g.get(COMP)
    state = reader.state
    value = order.take("D")
    if code is None:
        if value is not None:
            _bare_d(reader, order, value)
        return
    if code == 400:
        if state.comp != 40:
            reader.record.event(What.COMPENSATION, reader.line, 40)
        state.comp, state.comp_register = 40, -1
        state.flag(Flag.COMP_LEFT | Flag.COMP_RIGHT, on=False)
        if value is not None:
            _bare_d(reader, order, value)
        return
    word = order.code_words[code]
    if state.plane != 17:
        reader.fault(word, "radius compensation works in the XY plane only: write G17 first")
    register = _d_register(reader, order, value)
    if state.comp != 40:
        same = state.comp == code // 10 and register == state.comp_register
        if same and not reader.control.report:
            reader.note(
                "comp again", word, "radius compensation is switched on again while it is on: an error by the report"
            )
        else:
            reader.fault(word, "radius compensation is on already: write G40 before changing its side or register")
    if register is None:
        reader.fault(word, f"{word.text} names no register: write D")
        register = -1
    state.comp, state.comp_register = code // 10, register
    state.flag(Flag.COMP_LEFT | Flag.COMP_RIGHT, on=False)
    state.flag(Flag.COMP_LEFT if code == 410 else Flag.COMP_RIGHT, on=True)
    reader.record.event(What.COMPENSATION, reader.line, code // 10, float(register))
    if register in state.written_registers:
        reader.fault(word, f"D{register} was written by G10 in this program: the radius it holds is not followed")


def _d_register(reader: Reader, order: Order, value: float | None) -> int | None:
    state = reader.state
    if value is not None:
        number = round(value)
        if abs(value - number) > 1e-4 or number < 0:
            reader.fault(order.word_of("D"), "a register is a whole number from 0 on")
            return None
        state.d_register = number
        return number
    if state.d_register is not None and not reader.control.report:
        return state.d_register
    return None if state.tool == NO_TOOL else state.tool


def _bare_d(reader: Reader, order: Order, value: float) -> None:
    word = order.word_of("D")
    beside = order.g.get(LENGTH) == 430 or 6 in order.m
    if reader.control.report or not beside or (word is not None and word.pointed):
        reader.fault(word, "D without G41 or G42")
        return
    reader.note(
        "D alone", word, "D beside the tool's length or change is kept for the next G41 or G42, as custom has it"
    )
    reader.state.d_register = round(value) if math.isfinite(value) else None


def _path_mode(reader: Reader, order: Order) -> None:
    code = order.g.get(PATH)
    if 90 in order.once:
        order.flags |= Flag.EXACT_STOP
    if code is None:
        return
    state = reader.state
    state.flag(Flag.EXACT_STOP, on=code != 640)
    state.path_mode = {610: "G61", 611: "G61.1", 640: "G64"}[code]
    if code == 640 and not reader.control.report:
        state.path_mode += "".join(f" {letter}{order.take(letter):g}" for letter in "PQ" if letter in order.values)


def _distance(reader: Reader, order: Order) -> None:
    state = reader.state
    code = order.g.get(DISTANCE)
    if code is not None:
        state.stated |= k.SAID_DISTANCE
        state.distance = code // 10
    mode = order.g.get(ARC_MODE)
    if mode is not None:
        state.arc_centres = "absolute" if mode == 901 else "incremental"
        state.arc_centres_stated = True
    # the kernel reads incremental centres only
    state.whole[k.ABSOLUTE_CENTRES] = state.arc_centres == "absolute"


def _return_mode(reader: Reader, order: Order) -> None:
    code = order.g.get(RETURN)
    if code is not None:
        reader.state.stated |= k.SAID_RETURN
        reader.state.return_mode = code // 10


# --- motion ---


def _once(reader: Reader, order: Order) -> None:
    for code in order.once:
        if code == 100:
            offsets.tables(reader, order)
        elif code in (280, 300):
            moving.home(reader, order, code)
        elif code in (520, 920, 921, 922, 923):
            offsets.shift(reader, order, code)
    if order.veils and order.has(AXIS_LETTERS) and 501 in order.veils:
        order.consumed = True  # G50.1 X0 names the mirror that ends
        order.used.update(AXIS_LETTERS)


def _motion(reader: Reader, order: Order) -> None:
    state = reader.state
    before = state.motion
    code = _motion_code(reader, order)
    if order.consumed:
        order.used.update(AXIS_LETTERS)
        return
    if START_SYSTEM in state.veil and order.has(AXIS_LETTERS) and not state.lost:
        reader.depends(order.block.words[0], "the program names no work system, and the control starts in the one used last: write G54", "wcs_at_start", loses=True)  # fmt: skip
        reader.lose(ALL_AXES)
    if order.has(ROTARY_LETTERS):
        _rotary(reader, order)
    if 530 in order.once:
        moving.machine(reader, order)
        return
    explicit = order.g.get(MOTION, order.g.get(CYCLE, 800)) != 800
    if order.has(AXIS_LETTERS):
        _move(reader, order, code)
    elif code in (20, 30) and order.has(CENTRE_LETTERS):
        arcs.arc(reader, order, code)
    elif explicit:
        _no_axis(reader, order, code)
    if code == 310:
        state.motion = before


def _motion_code(reader: Reader, order: Order) -> int:
    """The motion in force for this block, and after it."""
    state = reader.state
    motion, cycle = order.g.get(MOTION), order.g.get(CYCLE)
    code = motion if motion is not None else cycle
    if code is None:
        return state.motion
    state.motion = code
    if code in (0, 10):
        state.last_straight = code
    if not 730 <= code <= 890 or code == 800:
        state.cycle = Cycle()
    return code


def _move(reader: Reader, order: Order, code: int) -> None:
    """A block that names X, Y or Z and moves by `code`."""
    if code in (0, 10):
        moving.straight(reader, order, code)
    elif code in (20, 30):
        arcs.arc(reader, order, code)
    elif code in (310, 382, 383, 384, 385):
        moving.probe(reader, order)
    elif code == 800:
        _after_g80(reader, order)
    elif code < 0:
        reader.fault(_first_axis(order), "axis words before any motion code: write G0 or G1", loses=True)
        reader.lose(order.axes())
        order.used.update(AXIS_LETTERS)
    else:
        cycles.cycle(reader, order, code)


def _after_g80(reader: Reader, order: Order) -> None:
    way = reader.control.answer("after_g80")
    word = _first_axis(order)
    if way in ("rapid", "last motion"):
        moving.straight(reader, order, 0 if way == "rapid" else reader.state.last_straight)
        return
    what = "axis words while G80 is in force, which ends all motion"
    if way == "fault":
        reader.fault(word, f"{what}: write G0 or G1", loses=True)
        reader.lose(order.axes())
        order.used.update(AXIS_LETTERS)
        return
    reader.depends(
        word, f"{what}: some controls stop, some rapid, some go on as before the cycle; write G0 or G1", "after_g80"
    )
    order.flags |= Flag.UNSURE
    moving.straight(reader, order, 0)


def _no_axis(reader: Reader, order: Order, code: int) -> None:
    """A motion code without an axis word."""
    word = order.code_words.get(code) or order.block.words[0]
    if code in (310, 382, 383, 384, 385):
        moving.probe(reader, order)
    elif code >= 730 or reader.control.report:
        reader.fault(word, f"{word.text} without X, Y or Z: all axis words are missing")
    else:
        reader.note(
            "bare motion",
            word,
            f"{word.text} without an axis word sets the mode only: an error by the report, usual elsewhere",
        )


def _rotary(reader: Reader, order: Order) -> None:
    for letter in ROTARY_LETTERS:
        if letter in order.values:
            order.used.add(letter)
            if ROTARY not in reader.state.veil:
                what = f"{letter} turns a rotary axis: where the part is afterwards is not followed, nothing after this is judged"
                reader.fault(order.word_of(letter), what, loses=True)
    reader.state.veil.add(ROTARY)
    reader.refresh(told=True)


def _first_axis(order: Order) -> Word | None:
    return next((order.words[letter] for letter in AXIS_LETTERS if letter in order.words), None)


# --- stops and the end ---


def _stop(reader: Reader, order: Order) -> None:
    state = reader.state
    for code in order.m:
        if code in (0, 60):
            state.stopped = True
            reader.record.event(What.STOP, reader.line, code, text=order.block.comment)
            _by_hand(reader, order, code)
        elif code == 1:
            state.stopped = True
            reader.record.event(What.OPTIONAL_STOP, reader.line, 1, text=order.block.comment)
            _by_hand(reader, order, code)
        elif code in (2, 30):
            end(reader, f"M{code}", code)


def _by_hand(reader: Reader, order: Order, code: int) -> None:
    """A stop at which the part is turned or zero set again: what follows belongs to another set-up."""
    found = TURNED.search(order.block.comment) or TURNED.search(reader.around(reader.line))
    if found is None:
        return
    word = order.m_words[code]
    what = f'the comments at this stop ("{found[0]}") speak of moving the part or its zero by hand: examine what follows as a program of its own'
    reader.findings.depends_on(
        "set-up after the stop", reader.line, word.column, word.text, reader.where + what, loses=True
    )
    reader.lose_for_good("a part moved by hand")


def end(reader: Reader, by: str, number: int) -> None:
    """M2, M30 and what ends a program like them (NISTIR 6556, 3.6.1)."""
    state = reader.state
    reader.record.event(What.END, reader.line, number)
    reader.keep_end()
    state.ended_by = by
    reader.before_end = modal_state(reader)  # what the program itself left on, before the control tidies up
    offsets.end(reader)
    state.plane, state.distance, state.motion = 17, 90, 10
    if state.feed_mode != 94:
        state.feed_mode = 94
    state.comp, state.comp_register = 40, -1
    state.flag(Flag.COMP_LEFT | Flag.COMP_RIGHT | Flag.MIST | Flag.FLOOD | Flag.NO_OVERRIDE, on=False)
    state.turn(0)
    state.cycle = Cycle()


def _unused(reader: Reader, order: Order) -> None:
    """Words that nothing in their block uses."""
    for letter, word in order.words.items():
        if letter in order.used:
            continue
        what = f"nothing in this block uses {letter}: {_use_of(letter)}"
        moves = letter in "IJKR" and order.has(AXIS_LETTERS)
        reader.fault(word, what, loses=moves)
        if moves:
            reader.lose(order.axes())
        if letter == "H" and reader.state.length != NO_LENGTH:
            reader.fault(word, "H while a length offset is on: some controls change the length at once", loses=True)
            reader.lose(4)


def _use_of(letter: str) -> str:
    uses = {
        "H": "it belongs to G43",
        "P": "it belongs to G4, G10 and cycles",
        "Q": "it belongs to G73 and G83",
        "L": "it belongs to cycles, calls and G10",
        "R": "it belongs to arcs and cycles",
        **dict.fromkeys("ABC", "rotary axes are not followed"),
        **dict.fromkeys("IJK", "it belongs to arcs"),
    }
    return uses.get(letter, "take it out, or write the code it belongs to")
