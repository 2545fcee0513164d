"""Modes that a block sets without moving: plane, units, radius compensation, path control, distances, cycle return."""

from __future__ import annotations

from firstoff.program import _kernels as k
from firstoff.program.control import path_of
from firstoff.program.findings import Findings
from firstoff.program.moves import NO_TOOL, Flag, What
from firstoff.program.offsets import MOST_REGISTER
from firstoff.program.reader import ALL_AXES, Reader
from firstoff.program.state import Cycle
from firstoff.program.words import ARC_MODE, COMP, DISTANCE, LENGTH, PATH, PLANE, RETURN, UNITS, Order

# --- modes ---


def plane(reader: Reader, order: Order) -> None:
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


def units(reader: Reader, order: Order) -> None:
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
    state.units_stated = 1
    state.set_units(code // 10)
    if changed:
        reader.set_arc_tolerance()
    if late and state.moves:
        reader.unit_moves = state.moves
        reader.findings.loses_by(Findings.depends_key(path_of("units_at_start")))
        reader.lose(ALL_AXES)


def compensation(reader: Reader, order: Order) -> None:
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
        if abs(value - number) > 1e-4 or not 0 <= number <= MOST_REGISTER:
            reader.fault(order.word_of("D"), f"a register is a whole number from 0 to {MOST_REGISTER}")
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
    _d_register(reader, order, value)


def path_mode(reader: Reader, order: Order) -> None:
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


def distance(reader: Reader, order: Order) -> None:
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


def return_mode(reader: Reader, order: Order) -> None:
    code = order.g.get(RETURN)
    if code is not None:
        reader.state.stated |= k.SAID_RETURN
        reader.state.return_mode = code // 10
