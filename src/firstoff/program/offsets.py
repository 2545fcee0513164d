"""What changes numbers without motion: work systems, shifts, tool lengths, registers (NISTIR 6556, 3.5.5, 3.5.11, 3.5.13, 3.5.18)."""

from __future__ import annotations

from firstoff.program.blocks import Word
from firstoff.program.frames import Offset, Place
from firstoff.program.moves import NO_LENGTH, NO_TOOL, Base, What
from firstoff.program.reader import ALL_AXES, START_SYSTEM, Reader
from firstoff.program.words import AXIS_LETTERS, LENGTH, LETTERS, SYSTEM, UNVEILS, VEILS, Order

SYSTEM_CODES = (540, 550, 560, 570, 580, 590, 591, 592, 593)
MOST_REGISTER = 9999


def length_offset(reader: Reader, order: Order) -> None:
    """G43, G43.1, G49."""
    code = order.g.get(LENGTH)
    if code is None:
        return
    state, origins = reader.state, reader.origins
    word = order.code_words[code]
    register = _length_register(reader, order, word) if code == 430 else NO_LENGTH
    origins.length_mm = 0.0
    origins.unknown_length = False
    if code == 431:
        if "Z" in order.values:
            origins.length_mm = reader.length(order, "Z")
            del order.values["Z"], order.words["Z"]
        else:
            reader.fault(word, "G43.1 names no length: Z is missing", loses=True)
            origins.unknown_length = True
    if register is None:
        origins.unknown_length = True
        register = NO_LENGTH
    if register in state.written_registers:
        reader.fault(
            word, f"H{register} was written by G10 in this program: the length it holds is not followed", loses=True
        )
        origins.unknown_length = True
    state.length = register if register > 0 else NO_LENGTH
    if code == 430 and reader.control.answer("g43_acts") == "with next Z":
        state.z_waits = 1
    reader.record.event(What.LENGTH, reader.line, register)
    reader.refresh(told=True)


def _length_register(reader: Reader, order: Order, word: Word) -> int | None:
    """H of G43; None, with a problem, where it cannot be told."""
    value = order.take("H")
    if value is not None:
        return _register(reader, order.word_of("H"), value)
    rule = reader.control.answer("h_missing")
    if rule == "zero":
        return 0
    if rule == "tool number" and reader.state.tool != NO_TOOL:
        return reader.state.tool
    if rule is None:
        what = "G43 without H: some controls take the tool's number, some no length at all, some stop; write H"
        reader.depends(word, what, "h_missing", loses=True)
    else:
        reader.fault(word, "G43 without H: write the register of the tool length", loses=True)
    return None


def _register(reader: Reader, word: Word | None, value: float) -> int | None:
    number = round(value)
    if abs(value - number) > 1e-4 or not 0 <= number <= MOST_REGISTER:
        reader.fault(word, f"a register is a whole number from 0 to {MOST_REGISTER}", loses=True)
        return None
    return number


def work_system(reader: Reader, order: Order) -> None:
    """G54 to G59.3."""
    code = order.g.get(SYSTEM)
    if code is None:
        return
    state = reader.state
    if state.comp != 40:
        what = "no change of work system while radius compensation is on: write G40 first"
        reader.fault(order.code_words[code], what)
    state.system = Base(SYSTEM_CODES.index(code) + 1)
    state.veil.discard(START_SYSTEM)
    reader.record.event(What.OFFSET_USED, reader.line, state.system)
    reader.refresh()


def veils(reader: Reader, order: Order) -> None:
    """Modes that change what axis words mean and are not followed: everything is lost until they end and X, Y, Z are given."""
    state = reader.state
    codes = [*order.veils, *order.g.values()]
    ended = {VEILS[veil] for code in codes for veil in UNVEILS.get(code, ())}
    if ended & state.veil:
        state.veil -= ended
        reader.refresh(told=True)
    for code in order.veils:
        if code in VEILS:
            word = order.code_words[code]
            what = (
                f"{VEILS[code]} is not followed: positions are not judged until it ends and every axis is given again"
            )
            reader.fault(word, what, loses=True)
            state.veil.add(VEILS[code])
            order.broken = True
            reader.refresh(told=True)
            reader.lose(ALL_AXES)


def shift(reader: Reader, order: Order, code: int) -> None:
    """G92 and its family, G52."""
    state, origins = reader.state, reader.origins
    word = order.code_words[code]
    if state.comp != 40 and code != 520:
        reader.fault(word, f"no {word.text} while radius compensation is on: write G40 first")
    if code == 921:
        origins.g92 = [Offset(), Offset(), Offset()]
        origins.g92_kept = None
    elif code == 922:
        if any(offset.acts for offset in origins.g92):
            origins.g92_kept = origins.g92
        origins.g92 = [Offset(), Offset(), Offset()]
    elif code == 923:
        if origins.g92_kept is not None:
            origins.g92, origins.g92_kept = origins.g92_kept, None
    else:
        order.consumed = True
        if not order.axes():
            _without_axes(reader, order, code)
            return
        for letter, axis in LETTERS.items():
            if letter in order.values:
                value = reader.length(order, letter)
                if code == 520:
                    origins.g52[axis] = value
                elif not origins.set_g92(state, axis, value):
                    what = f"G92 sets {letter} from a place that is not known: every later {letter} hangs on it"
                    reader.fault(order.word_of(letter), what, loses=True)
        if code == 520 and reader.control.answer("g52_scope") == "current":
            origins.g52_system = state.system
    acts = any(offset.acts for offset in origins.g92) if code != 520 else any(origins.g52)
    reader.record.event(What.SHIFT, reader.line, code // 10, float(acts))
    reader.refresh(told=True)


def _without_axes(reader: Reader, order: Order, code: int) -> None:
    word = order.code_words[code]
    if code == 920 and "S" in order.values:
        reader.fault(word, "G92 with S limits the spindle on some controls; here it shifts axes, and none is named")
    else:
        reader.fault(word, f"{word.text} names no axis")


def tables(reader: Reader, order: Order) -> None:
    """G10: the program writes an origin or a tool register."""
    word = order.code_words[100]
    order.consumed = True
    kind, number = order.take("L"), order.take("P")
    if kind in (2.0, 20.0) and not (reader.control.report and kind == 20.0):
        _write_system(reader, order, kind, number)
        return
    if kind in (1.0, 10.0, 11.0, 12.0, 13.0) and not reader.control.report:
        register = -1 if number is None else round(number)
        what = (
            f"G10 L{kind:g} writes a tool register: controls differ in what; the register is not followed from here on"
        )
        reader.fault(word, what)
        reader.state.written_registers.add(register)
        reader.record.event(What.TABLE_WRITTEN, reader.line, register)
        order.used.update("XYZRQIJK")
        if register == reader.state.length:
            reader.origins.unknown_length = True
            reader.refresh()
        return
    allowed = "L2" if reader.control.report else "L2, L20, L1, L10 to L13"
    reader.fault(
        word, f"G10 {'L' + format(kind, 'g') if kind is not None else 'without L'}: {allowed} can be read", loses=True
    )
    reader.lose(ALL_AXES)
    order.used.update("XYZRQIJK")


def _write_system(reader: Reader, order: Order, kind: float, number: float | None) -> None:
    state, origins = reader.state, reader.origins
    word = order.code_words[100]
    lowest = 1 if reader.control.report else 0
    index = round(number) if number is not None and abs(number - round(number)) <= 1e-4 else -1
    if not lowest <= index <= 9:
        reader.fault(
            order.word_of("P") or word, f"P must be {lowest} to 9: the work system that is written", loses=True
        )
        reader.lose(ALL_AXES)
        order.used.update("XYZ")
        return
    system = Base(index) if index else state.system
    for letter, axis in LETTERS.items():
        if letter not in order.values:
            continue
        value = reader.length(order, letter)
        if kind == 20.0:
            if not origins.set_here(state, system, axis, value):
                what = f"the origin of {letter} is set from a place that is not known: every later {letter} in this system hangs on it"
                reader.fault(order.word_of(letter), what, loses=True)
        elif state.distance == 91 and not reader.control.report:
            origins.write(system, axis, Place(Base.UNKNOWN))
            what = "G10 L2 in G91 adds on some controls and replaces on others: write G90 first"
            reader.fault(order.word_of(letter), what, loses=True)
        else:
            origins.write(system, axis, Place(Base.MACHINE, value))
    if order.has("R"):
        order.used.add("R")
        reader.fault(order.word_of("R"), "R turns a work system on some controls: it is not followed", loses=True)
        reader.lose_for_good("a turned work system")
    named = "".join(letter for letter in AXIS_LETTERS if letter in order.values)
    reader.record.event(What.OFFSET_WRITTEN, reader.line, system, text=named)
    reader.refresh(told=True)


def end(reader: Reader) -> None:
    """What M2 and M30 do to origins: G92 as by G92.2, G54 (NISTIR 6556, 3.6.1)."""
    state, origins = reader.state, reader.origins
    if any(offset.acts for offset in origins.g92):
        origins.g92_kept = origins.g92
        origins.g92 = [Offset(), Offset(), Offset()]
    state.system = Base.G54
    reader.refresh(told=True)
