"""What one block does: its words carried out in the order of NISTIR 6556, Table 8."""

from __future__ import annotations

from firstoff.program import arcs, cycles, miscellaneous, modes, moving, offsets
from firstoff.program.blocks import Block, Word
from firstoff.program.frames import ROTARY
from firstoff.program.moves import NO_LENGTH, Flag, What
from firstoff.program.reader import ALL_AXES, START_SYSTEM, Reader
from firstoff.program.sorting import assign, sort
from firstoff.program.state import Cycle
from firstoff.program.words import (
    AXIS_LETTERS,
    CENTRE_LETTERS,
    CYCLE,
    MOTION,
    ROTARY_LETTERS,
    Order,
)


def interpret(reader: Reader, block: Block, broken: bool) -> None:
    """Do what one block says; `broken` blocks were not understood as text, so nothing in them moves."""
    if block.message:
        reader.record.event(What.MESSAGE, reader.line, text=block.message)
    if block.words or block.assignments or block.jump is not None or broken:
        reader.state.blocks += 1
    if not block.words and not broken:
        assign(reader, block.assignments)
        return
    order = sort(reader, block, broken)
    late = bool(order.m) and miscellaneous.stops_late(reader, order)
    if order.g or order.has("FST"):
        miscellaneous.feed_mode(reader, order)
        miscellaneous.feed(reader, order)
        miscellaneous.speed(reader, order)
    if order.m or "T" in order.values:
        miscellaneous.tool(reader, order)
        miscellaneous.functions(reader, order, late)
    if order.once or order.veils or order.g or "D" in order.values:
        _set_modes(reader, order)
    if order.broken:
        reader.lose(ALL_AXES)
    else:
        _once(reader, order)
        _motion(reader, order)
    if late:
        miscellaneous.spindle(reader, order)
        miscellaneous.coolant(reader, order)
    if order.m:
        miscellaneous.stop(reader, order)
    if not order.broken:
        _unused(reader, order)


def _set_modes(reader: Reader, order: Order) -> None:
    if 40 in order.once:
        moving.dwell(reader, order)
    modes.plane(reader, order)
    modes.units(reader, order)
    modes.compensation(reader, order)
    offsets.veils(reader, order)
    offsets.length_offset(reader, order)
    offsets.work_system(reader, order)
    modes.path_mode(reader, order)
    modes.distance(reader, order)
    modes.return_mode(reader, order)


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
    if START_SYSTEM in state.veil and order.has(AXIS_LETTERS) and not reader.start_asked:
        reader.start_asked = True
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
    elif code in (20, 30) and order.has(CENTRE_LETTERS + "R"):
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
        _without_code(reader, order)
    else:
        cycles.cycle(reader, order, code)


def _without_code(reader: Reader, order: Order) -> None:
    """Axis words before any motion code: by custom a control starts in G0 or G1, so only the kind of motion is not known."""
    what = "axis words before any motion code: write G0 or G1"
    if reader.control.report:
        reader.fault(_first_axis(order), what, loses=True)
        reader.lose(order.axes())
        order.used.update(AXIS_LETTERS)
        return
    reader.fault(_first_axis(order), f"{what}; what the control starts in decides whether this is a rapid")
    order.flags |= Flag.UNSURE
    moving.straight(reader, order, 0)


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
