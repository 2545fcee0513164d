"""Feed, speed, tool, and the M words: what ISO 6983 calls feed, spindle-speed, tool and miscellaneous functions."""

from __future__ import annotations

import math
import re

from firstoff.program import _kernels as k
from firstoff.program import offsets
from firstoff.program.control import STILL, path_of
from firstoff.program.modal import modal_state
from firstoff.program.moves import NO_TOOL, Flag, What
from firstoff.program.reader import ALL_AXES, Reader
from firstoff.program.sorting import known_m
from firstoff.program.state import Cycle
from firstoff.program.words import AXIS_LETTERS, CYCLE, FEED_MODE, MOTION, UNITS, Order

MOST_TOOL = 99_999_999
TURNED = re.compile(r"\b(?:flip|turn(?: the| it)? (?:part|over|piece|stock)|turn over|re-?zero|re-?set zero|set zero|zero again|new zero|touch off|second side|other side|side 2)", re.IGNORECASE)  # fmt: skip
"""Words in the comments at a stop that say the part or its zero is moved by hand."""


# --- feed, speed, tool ---


def feed_mode(reader: Reader, order: Order) -> None:
    code = order.g.get(FEED_MODE)
    if code is None:
        return
    state = reader.state
    state.stated |= k.SAID_FEED_MODE
    if code // 10 != state.feed_mode:
        state.feed_mode = code // 10
        state.forget_feed(f"{order.code_words[code].text} changed what it counts")


def feed(reader: Reader, order: Order) -> None:
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


def speed(reader: Reader, order: Order) -> None:
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
    if changed and state.turning and not {3, 4, 5, 13, 14, 19} & set(order.m):
        reader.spindle_event()


def tool(reader: Reader, order: Order) -> None:
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


def functions(reader: Reader, order: Order, late: bool) -> None:
    """M words that act before the motion of their block; `late` = the spindle and coolant act after it."""
    if not late:
        spindle(reader, order)
        coolant(reader, order)
    overrides(reader, order)
    own_codes(reader, order)


def spindle(reader: Reader, order: Order) -> None:
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


def coolant(reader: Reader, order: Order) -> None:
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


def stops_late(reader: Reader, order: Order) -> bool:
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


def overrides(reader: Reader, order: Order) -> None:
    for code in (48, 49):
        if code in order.m:
            reader.state.flag(Flag.NO_OVERRIDE, on=code == 49)
            reader.record.event(What.OVERRIDE, reader.line, 0, float(code == 48))


def own_codes(reader: Reader, order: Order) -> None:
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
        if words is not None and words.lower().startswith(STILL):
            continue
        what = f"{word.text} is the builder's own code and may move an axis: say what it does in [control] own_m_codes"
        if words is not None:
            what = f'{word.text} is said to do "{words}": positions after it are not known (begin with "{STILL}" if no axis moves)'
        column, text = word.column, word.text
        fact = path_of(f"own_m_codes.{code}")
        reader.findings.depends_on(fact, reader.line, column, text, reader.where + what, loses=True)
        reader.lose(ALL_AXES)


# --- stops and the end ---


def stop(reader: Reader, order: Order) -> None:
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
    reader.fault(word, what, loses=True)
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
