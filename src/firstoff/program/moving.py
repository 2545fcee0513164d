"""Straight motion: rapids, feeds, probing, machine coordinates, home, and the feed at which things move."""

from __future__ import annotations

import math

from firstoff.program._kernels import SAID_DISTANCE, SAID_FEED_MODE
from firstoff.program.blocks import Word
from firstoff.program.moves import NO_LENGTH, Base, Flag, Kind, What
from firstoff.program.reader import ALL_AXES, Reader
from firstoff.program.words import AXIS_LETTERS, LETTERS, Order

NEAREST_PROBE_MM = 0.254
"""A probe target nearer than this is an error by the report (NISTIR 6556, 3.5.9.1)."""
HOME_BASES = {280: Base.G28, 300: Base.G30}


def targets(reader: Reader, order: Order) -> tuple[list[float], list[int], int]:
    """Where the axis words lead: coordinates, the frame of each, and the bits of the axes given absolutely."""
    state = reader.state
    target, stands, settled = reader.here(), reader.stands(), 0
    for letter, axis in LETTERS.items():
        if letter not in order.values:
            continue
        value = reader.length(order, letter)
        if state.distance == 90:
            target[axis] = value
            stands[axis] = state.frame
            settled |= 1 << axis
        else:
            target[axis] = target[axis] + value
            if axis == 2 and state.z_waits:
                stands[axis] = state.frame
        if axis == 2:
            state.z_waits = 0
    return target, stands, settled


def feed_of(reader: Reader, order: Order, path_mm: float) -> tuple[float, int]:
    """Feed of a cutting move in mm/s and the flags that say how it was given; complains where there is none."""
    state = reader.state
    if state.feed_mode == 93:
        value = order.values.get("F")
        if value is None:
            what = "inverse time (G93): every block that cuts needs its own F"
            reader.fault(_motion_word(order), what)
            return math.nan, Flag.INVERSE_TIME
        return path_mm * value / 60.0, Flag.INVERSE_TIME
    reader.rely(SAID_FEED_MODE)
    if state.f == 0.0:
        reader.fault(order.word_of("F") or _motion_word(order), "the feed is zero: nothing would move")
    elif math.isnan(state.f) and not state.feed_asked:
        state.feed_asked = 1
        since = f" since {state.feed_gone}" if state.feed_gone else ""
        what = f"no feed was given before this block{since}: write F"
        if reader.control.report:
            reader.note("no feed", _motion_word(order), what)
        else:
            reader.fault(_motion_word(order), what)
    if state.feed_mode == 95:
        return state.f * state.unit * abs(state.spindle), Flag.PER_REV
    return state.feed, 0


def apart_mm(reader: Reader, target: list[float], stands: list[int]) -> float:
    """Straight distance from where the axes stand; NaN where an axis changes to a frame that cannot be compared."""
    total = 0.0
    for axis in range(3):
        if stands[axis] != reader.state.axis_frame(axis) and not reader.express(axis):
            return math.nan
        total += (target[axis] - reader.state.position(axis)) ** 2
    return math.sqrt(total)


def straight(reader: Reader, order: Order, code: int) -> None:
    """G0 and G1."""
    reader.rely(SAID_DISTANCE)
    target, stands, settled = targets(reader, order)
    if code == 0:
        reader.move(Kind.RAPID, target, stands, settled, flags=order.flags)
        return
    path = apart_mm(reader, target, stands) if reader.state.feed_mode == 93 else 0.0
    feed, flags = feed_of(reader, order, path)
    reader.move(Kind.FEED, target, stands, settled, feed=feed, flags=flags | order.flags)


def probe(reader: Reader, order: Order) -> None:
    """G38.x and G31: the end is only known to lie between start and target, so the axes that move are lost."""
    state = reader.state
    word = _motion_word(order)
    if not order.axes():
        reader.fault(word, "a probing move needs a target: X, Y or Z")
        return
    if state.comp != 40:
        reader.fault(word, "no probing while radius compensation is on: write G40 first")
    if state.feed_mode == 93:
        reader.fault(word, "no probing in inverse time (G93)")
    reader.rely(SAID_DISTANCE)
    target, stands, settled = targets(reader, order)
    if reader.control.report and apart_mm(reader, target, stands) < NEAREST_PROBE_MM:
        reader.fault(word, f"the target of the probe is less than {NEAREST_PROBE_MM} mm away")
    feed, flags = feed_of(reader, order, 0.0)
    reader.record.event(What.PROBE, reader.line)
    reader.move(Kind.PROBE, target, stands, settled, feed=feed, flags=flags | order.flags)
    what = (
        "where a probing move ends is known only when it runs: give the axes it moves absolutely before relying on them"
    )
    column, text = (word.column, word.text) if word else (1, "")
    # no fact of the shop could settle it: only the run does
    reader.findings.depends_on("", reader.line, column, text, reader.where + what, loses=True)
    reader.lose(order.axes())


def machine(reader: Reader, order: Order) -> None:
    """G53: a straight move in machine coordinates, for one block."""
    state = reader.state
    word = order.code_words[530]
    order.consumed = True
    motion = state.motion
    if state.comp != 40:
        reader.fault(word, "no G53 while radius compensation is on: write G40 first")
    if motion not in (0, 10):
        reader.fault(word, "G53 needs G0 or G1 in force", loses=True)
        reader.lose(order.axes())
        _use_axes(order)
        return
    if not order.axes():
        if order.g.get("length offset") != 490:
            reader.note("bare G53", word, "G53 without an axis word does nothing")
        return
    if state.distance == 91 and not reader.control.report:
        reader.fault(word, "G53 while G91 is in force: controls differ; write G90 in the block", loses=True)
        reader.lose(order.axes())
        _use_axes(order)
        return
    kept = state.length != NO_LENGTH and reader.control.answer("g53_length") == "kept"
    row = reader.origins.row_of_base(Base.MACHINE, state.system, state.length if kept else NO_LENGTH)
    target, stands = reader.here(), reader.stands()
    for letter, axis in LETTERS.items():
        if letter in order.values:
            target[axis] = reader.length(order, letter)
            stands[axis] = row
    if motion == 0:
        reader.move(Kind.MACHINE, target, stands, order.axes(), flags=order.flags)
        return
    feed, flags = feed_of(reader, order, math.nan)
    reader.move(Kind.MACHINE, target, stands, order.axes(), feed=feed, flags=flags | order.flags | Flag.FEEDING)


def home(reader: Reader, order: Order, code: int) -> None:
    """G28 and G30: rapid to the programmed point, then to the stored home (NISTIR 6556, 3.5.8)."""
    state = reader.state
    word = order.code_words[code]
    order.consumed = True
    if state.comp != 40:
        reader.fault(word, f"no {word.text} while radius compensation is on: write G40 first")
    place = order.take("P") if code == 300 else None
    if place not in (None, 2.0):
        reader.fault(word, f"G30 P{place:g}: where this home lies is not known here", loses=True)
        reader.lose(order.axes() or ALL_AXES)
        _use_axes(order)
        return
    named = order.axes()
    if not named:
        _bare_home(reader, order, code)
        return
    reader.rely(SAID_DISTANCE)
    target, stands, settled = targets(reader, order)
    if settled and not reader.control.report:
        letters = " ".join(order.words[letter].text for letter in AXIS_LETTERS if letter in order.words)
        what = f"{word.text} in absolute mode first rapids to the programmed point: {letters}, and only then goes home (usual: G91 {word.text} Z0)"
        reader.note("absolute home", word, what)
    if _moved(reader, target, stands):
        reader.move(Kind.RAPID, target, stands, settled, flags=order.flags)
    all_axes = named != ALL_AXES and reader.control.answer("g28_axes") == "all"
    _go_home(reader, ALL_AXES if all_axes else named, code, order)


def _bare_home(reader: Reader, order: Order, code: int) -> None:
    word = order.code_words[code]
    way = reader.control.answer("g28_bare")
    if way == "direct":
        _go_home(reader, ALL_AXES, code, order)
    elif way is None:
        what = f"{word.text} without an axis word: some controls move every axis home, some do nothing; write G91 {word.text} Z0"
        reader.depends(word, what, "g28_bare", loses=True)
        reader.lose(ALL_AXES)


def _go_home(reader: Reader, axes: int, code: int, order: Order) -> None:
    row = reader.origins.row_of_base(HOME_BASES[code], reader.state.system)
    target, stands = reader.here(), reader.stands()
    for axis in range(3):
        if axes >> axis & 1:
            target[axis] = 0.0
            stands[axis] = row
    reader.move(Kind.HOME, target, stands, axes, flags=order.flags)


def dwell(reader: Reader, order: Order) -> None:
    """G4 P."""
    word = order.code_words[40]
    order.consumed = True
    if order.has("XYZ"):
        reader.fault(word, "G4 with an axis word: what it means there differs; write P")
        _use_axes(order)
    value = order.take("P")
    if value is None:
        if "X" not in order.values:
            reader.fault(word, "G4 names no time: P is missing")
        return
    seconds = dwell_seconds(reader, order, value)
    if seconds is not None:
        reader.move(Kind.DWELL, reader.here(), reader.stands(), feed=seconds, flags=order.flags)


def dwell_seconds(reader: Reader, order: Order, value: float) -> float | None:
    """Seconds that P of G4 or of a cycle means; NaN where the control does not say, None where it is wrong."""
    word = order.word_of("P")
    if value < 0.0:
        reader.fault(word, "a negative dwell")
        return None
    if value == 0.0:
        return 0.0
    unit = reader.control.answer("dwell_p")
    if unit is None:
        what = f"P{value:g} is seconds on some controls, milliseconds on others"
        reader.depends(word, what, "dwell_p")
        return math.nan
    return value if unit == "s" else value / 1000.0


def _use_axes(order: Order) -> None:
    order.used.update(AXIS_LETTERS)


def _motion_word(order: Order) -> Word | None:
    return next(iter(order.block.words), None)


def _moved(reader: Reader, target: list[float], stands: list[int]) -> bool:
    """Whether a move to `target` goes anywhere."""
    here, frames = reader.here(), reader.stands()
    return stands != frames or any(
        a != b and not (math.isnan(a) and math.isnan(b)) for a, b in zip(target, here, strict=True)
    )
