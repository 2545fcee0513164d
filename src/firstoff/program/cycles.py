"""Canned cycles, worked out into the moves they are made of (NISTIR 6556, 3.5.16, and common practice where it is silent)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from firstoff.program._kernels import SAID_DISTANCE, SAID_FEED_MODE, SAID_PLANE, SAID_RETURN
from firstoff.program.moves import PLANE_AXES, Flag, Kind, What
from firstoff.program.moving import dwell_seconds, feed_of
from firstoff.program.reader import Reader
from firstoff.program.state import Cycle
from firstoff.program.words import AXIS_LETTERS, CENTRE_LETTERS, Order

PECK_BACK_OFF_MM = 0.254
"""Back-off of G73 and re-entry gap of G83 where the control states none (0.01 in; 0.1 to 0.25 mm are usual: reference nc-language 7)."""
MOST_PECKS = 10_000
MOST_REPEATS = 9999
SAME_MM = 1e-9
DWELLS = frozenset({760, 820, 860, 880, 890})
"""Cycles with a dwell P at the bottom."""
SHIFTED = frozenset({760, 870})
"""Cycles that move aside by I J K."""
TAPS = {840: 1, 740: -1}
"""Direction in which the spindle must turn before a tapping cycle."""

CYCLE, UNSURE = int(Flag.CYCLE), int(Flag.UNSURE)
"""Plain numbers: joining members of an enumeration costs more than the rest of a move."""
Target = dict[int, tuple[float, int]]
"""Axis -> (coordinate, frame)."""


@dataclass(frozen=True, slots=True)
class Levels:
    """Heights of a hole along the normal, all in `frame`."""

    clear: float
    """The R plane."""
    bottom: float
    back: float
    """Where the tool returns to."""
    frame: int
    flags: int
    back_unknown: bool


@dataclass(slots=True)
class Hole:
    """One hole under way: the moves made along the normal and in the plane."""

    reader: Reader
    order: Order
    normal: int
    levels: Levels
    parent: int
    feed: float
    feed_flags: int

    def rapid(self, height: float, spindle: float | None = None) -> None:
        """Rapid along the normal, if it goes anywhere."""
        state = self.reader.state
        if state.position(self.normal) != height or state.axis_frame(self.normal) != self.levels.frame:
            self._go(Kind.RAPID, {self.normal: (height, self.levels.frame)}, None, 0, spindle)

    def feed_to(self, height: float, kind: Kind = Kind.FEED, spindle: float | None = None) -> None:
        self._go(kind, {self.normal: (height, self.levels.frame)}, self.feed, self.feed_flags, spindle)

    def across(self, target: Target, spindle: float | None = None) -> None:
        """Rapid in the plane, if it goes anywhere."""
        state = self.reader.state
        if any(at != (state.position(axis), state.axis_frame(axis)) for axis, at in target.items()):
            self._go(Kind.RAPID, target, None, 0, spindle)

    def dwell(self, seconds: float | None) -> None:
        if seconds:
            self._go(Kind.DWELL, {}, seconds, 0, None)

    def _go(self, kind: Kind, target: Target, feed: float | None, flags: int, spindle: float | None) -> None:
        reader = self.reader
        here, stands = reader.here(), reader.stands()
        settled = 0
        for axis, (coordinate, frame) in target.items():
            here[axis], stands[axis] = coordinate, frame
            settled |= (frame == reader.state.frame) << axis
        flags |= CYCLE | self.levels.flags | self.order.flags
        reader.move(kind, here, stands, settled, feed=feed, flags=flags, parent=self.parent, spindle=spindle)


def cycle(reader: Reader, order: Order, code: int) -> None:
    """A block in which a canned cycle is active and an axis is named."""
    state = reader.state
    normal = PLANE_AXES[state.plane][2]
    reader.rely(SAID_DISTANCE | SAID_PLANE | SAID_FEED_MODE | SAID_RETURN)
    _begin(reader, code, normal)
    for axis in range(3):
        reader.express(axis)
    flags = 0 if _allowed(reader, order, code) else UNSURE
    named = _keep_words(reader, order, code, normal)
    repeats = _repeats(reader, order)
    levels = None
    if repeats is not None and _complete(reader, order, code, normal):
        levels = _levels(reader, order, normal, named, flags)
    if levels is None or repeats is None:
        reader.lose(order.axes() | 1 << normal)
        order.used.update("XYZ")
        return
    steps = {
        axis: reader.length(order, letter)
        for axis, letter in enumerate(AXIS_LETTERS)
        if axis != normal and letter in order.values
    }
    seconds = _seconds(reader, order, code)
    feed, how = _feed(reader, order, code)
    for _ in range(repeats):
        hole = Hole(reader, order, normal, levels, state.holes, feed, how)
        state.holes += 1
        _approach(hole, steps)
        _WAYS[code](hole, seconds)
    if levels.back_unknown or code == 880:
        reader.lose(1 << normal)


# --- the words ---


def _begin(reader: Reader, code: int, normal: int) -> None:
    """A series of cycles begins, or another cycle takes over in it."""
    state = reader.state
    if state.cycle.code == 0:
        state.cycle = Cycle(code, {}, state.position(normal), state.axis_frame(normal))
    elif state.cycle.code != code:
        words = {letter: value for letter, value in state.cycle.words.items() if letter == "R"}
        state.cycle = Cycle(code, words, state.cycle.initial, state.cycle.initial_frame)


def _keep_words(reader: Reader, order: Order, code: int, normal: int) -> bool:
    """Keep what sticks; whether a height was named."""
    sticky = reader.state.cycle.words
    depth = AXIS_LETTERS[normal]
    for letter in (depth, "R", "Q"):
        if letter in order.values:
            sticky[letter] = reader.length(order, letter)
    if code in SHIFTED:
        sticky.update({letter: reader.length(order, letter) for letter in CENTRE_LETTERS if letter in order.values})
    if "P" in order.values and (code in DWELLS or not reader.control.report):
        sticky["P"] = order.take("P") or 0.0
        if code not in DWELLS:
            what = f"P is no word of {_name(code)} by the report: it is ignored; G82, G86 and G89 dwell"
            reader.note("P in a cycle", order.word_of("P"), what)
    if "Q" in order.values and code not in (730, 830, 760):
        order.used.discard("Q")
    return depth in order.values or "R" in order.values


def _allowed(reader: Reader, order: Order, code: int) -> bool:
    """Whether the cycle may run in the present state; complains if not."""
    state, word = reader.state, order.code_words.get(code) or order.block.words[0]
    before = len(reader.findings.problems)
    if state.comp != 40:
        reader.fault(word, "no canned cycle while radius compensation is on: write G40 first")
    if state.feed_mode == 93:
        reader.fault(word, "no canned cycle in inverse time (G93)")
    if code in TAPS and state.turning != TAPS[code]:
        way = "clockwise (M3)" if TAPS[code] == 1 else "counter-clockwise (M4)"
        reader.fault(word, f"{_name(code)} taps, but the spindle does not turn {way}")
    if code in (860, 870, 880) and state.turning == 0:
        reader.fault(word, f"{_name(code)} stops and restarts the spindle, which does not turn")
    return len(reader.findings.problems) == before


def _complete(reader: Reader, order: Order, code: int, normal: int) -> bool:
    """Whether the cycle has the words it needs; complains if not."""
    sticky = reader.state.cycle.words
    word = order.code_words.get(code) or order.block.words[0]
    depth = AXIS_LETTERS[normal]
    if code == 870 and not reader.control.report:
        reader.fault(
            word, "G87 bores from below with words that differ from control to control: it is not followed", loses=True
        )
        return False
    if "K" in order.values and code not in SHIFTED and not reader.control.report:
        order.used.add("K")
        reader.fault(
            order.word_of("K"), "K in a cycle: some controls repeat by it, others ignore it; write L", loses=True
        )
        return False
    missing = [letter for letter in (depth, "R") if letter not in sticky]
    if code in (730, 830) and "Q" not in sticky:
        missing.append("Q")
    if code == 870:
        missing += [letter for letter in CENTRE_LETTERS if letter not in sticky]
    if missing:
        reader.fault(
            word,
            f"{_name(code)} has no {' and no '.join(missing)}, and none is left from a former block of it",
            loses=True,
        )
        return False
    if code in (730, 830) and sticky["Q"] <= 0.0:
        reader.fault(order.word_of("Q") or word, "Q must be positive: it is the depth of one peck", loses=True)
        return False
    if code in (820, 890) and "P" not in sticky and reader.control.report:
        reader.fault(word, f"{_name(code)} has no P, the time at the bottom")
    return True


def _repeats(reader: Reader, order: Order) -> int | None:
    """How often the cycle is made: L, 1 if it is not there; None where it is wrong."""
    value = order.take("L")
    if value is None:
        return 1
    word = order.word_of("L")
    count = round(value)
    if count == 0 and value == 0.0 and reader.control.answer("repeat_zero") == "store":
        reader.note("L0", word, "L0 keeps the cycle's words and drills nothing, as most controls have it")
        return 0
    if abs(value - count) > 1e-4 or not 1 <= count <= MOST_REPEATS:
        reader.fault(word, f"L must be a whole number from 1 to {MOST_REPEATS}", loses=True)
        return None
    return count


def _seconds(reader: Reader, order: Order, code: int) -> float | None:
    value = reader.state.cycle.words.get("P")
    return None if value is None or code not in DWELLS else dwell_seconds(reader, order, value)


def _feed(reader: Reader, order: Order, code: int) -> tuple[float, int]:
    """Feed along the normal; of a tap also where F is its lead."""
    state = reader.state
    feed, how = feed_of(reader, order, math.nan)
    if code in TAPS and state.feed_mode == 94 and reader.control.answer("tap_feed") == "lead":
        return state.f * state.unit * abs(state.spindle), Flag.PER_REV
    return feed, how


# --- the heights ---


def _levels(reader: Reader, order: Order, normal: int, named: bool, flags: int) -> Levels | None:
    """R plane, bottom and return height; None, with a problem, where they cannot be told."""
    state, sticky = reader.state, reader.state.cycle.words
    kept = state.cycle.levels
    depth = AXIS_LETTERS[normal]
    if state.distance == 90 or (kept is not None and not named and not reader.control.report):
        clear, bottom, frame = sticky["R"], sticky[depth], state.frame
        if kept is not None and not named and not reader.control.report:
            clear, bottom, frame = kept
    else:
        foot, frame = state.cycle.initial, state.cycle.initial_frame
        if reader.control.report:
            foot, frame = state.position(normal), state.axis_frame(normal)
        clear = foot + sticky["R"]
        bottom = clear + sticky[depth]
    if math.isnan(clear):
        reader.fault(order.block.words[0], "R counts from a height that is not known here", loses=True)
        return None
    state.cycle.levels = (clear, bottom, frame)
    if bottom > clear:
        word = order.word_of(depth) or order.word_of("R") or order.block.words[0]
        what = f"the bottom of the hole ({bottom / state.unit:g}) lies above its R plane ({clear / state.unit:g})"
        reader.fault(word, what)
        flags |= UNSURE
    back = _back(reader, order, normal, clear, frame)
    return Levels(clear, bottom, clear if back is None else back, frame, flags, back is None)


def _back(reader: Reader, order: Order, normal: int, clear: float, frame: int) -> float | None:
    """Height to return to: R (G99), or where the series of cycles began if that is higher (G98)."""
    state = reader.state
    if state.return_mode == 99:
        return clear
    apart = reader.origins.apart(normal, state.cycle.initial_frame, frame, by_start=True)
    initial = math.nan if apart is None else state.cycle.initial + apart
    if math.isnan(initial):
        what = (
            "G98 returns to the height before the cycle, which is not known here: write G99, or give that height first"
        )
        reader.fault(order.block.words[0], what, loses=True)
        return None
    return max(initial, clear)


# --- the moves ---


def _approach(hole: Hole, steps: dict[int, float]) -> None:
    """Up to the R plane if below it, over the hole, down to the R plane."""
    state = hole.reader.state
    target: Target = {}
    for axis, value in steps.items():
        if state.distance == 90:
            target[axis] = value, state.frame
        else:
            target[axis] = state.position(axis) + value, state.axis_frame(axis)
    same = state.axis_frame(hole.normal) == hole.levels.frame
    if same and state.position(hole.normal) < hole.levels.clear:
        hole.rapid(hole.levels.clear)
    hole.across(target)
    hole.rapid(hole.levels.clear)


def _drill(hole: Hole, seconds: float | None) -> None:
    """G81, G82."""
    hole.feed_to(hole.levels.bottom)
    hole.dwell(seconds)
    hole.rapid(hole.levels.back)


def _peck(hole: Hole, _seconds: float | None) -> None:
    """G83: out of the hole between pecks. G73: a short way back only."""
    reader, levels = hole.reader, hole.levels
    depth = reader.state.cycle.words["Q"]
    through = reader.state.cycle.code == 830
    gap = reader.control.answer("peck_back_off")
    off = float(gap) if isinstance(gap, float | int) else PECK_BACK_OFF_MM
    deep = levels.clear - levels.bottom
    pecks = math.ceil(deep / depth - SAME_MM) if depth * MOST_PECKS >= deep else 1
    if depth * MOST_PECKS < deep:
        reader.fault(hole.order.word_of("Q"), f"Q makes more than {MOST_PECKS} pecks, which is no drilling")
    if pecks > 1 and not isinstance(gap, float | int):
        what = f"the back-off of a peck is a setting of the control: {PECK_BACK_OFF_MM} mm are taken"
        reader.note("peck back-off", hole.order.block.words[0], what)
    out = levels.clear
    if through and pecks > 1 and reader.control.answer("g83_return") == "clear Z":
        out = levels.back
    for number in range(1, pecks):
        reached = levels.clear - number * depth
        hole.feed_to(reached)
        if through:
            hole.rapid(out)
        hole.rapid(min(reached + off, out))
    hole.feed_to(levels.bottom)
    hole.rapid(levels.back)


def _tap(hole: Hole, _seconds: float | None) -> None:
    """G84, G74: in with the spindle one way, out with it the other."""
    speed = hole.reader.state.spindle
    hole.feed_to(hole.levels.bottom, Kind.TAP, speed)
    hole.feed_to(_fed_out(hole), Kind.TAP, -speed)
    hole.rapid(hole.levels.back)


def _bore(hole: Hole, seconds: float | None) -> None:
    """G85, G89: feed in, feed out."""
    hole.feed_to(hole.levels.bottom)
    hole.dwell(seconds)
    hole.feed_to(_fed_out(hole))
    hole.rapid(hole.levels.back)


def _fed_out(hole: Hole) -> float:
    """Height up to which a cycle feeds out: all the way by the report, to the R plane by custom."""
    return hole.levels.back if hole.reader.control.report else hole.levels.clear


def _bore_stopped(hole: Hole, seconds: float | None) -> None:
    """G86: feed in, spindle stops, rapid out, spindle goes on."""
    hole.feed_to(hole.levels.bottom)
    hole.dwell(seconds)
    hole.reader.spindle_event(stopped=True)
    hole.rapid(hole.levels.back, 0.0)
    hole.reader.spindle_event()


def _bore_by_hand(hole: Hole, seconds: float | None) -> None:
    """G88: feed in, spindle stops, the program stops and the operator takes the tool out."""
    reader = hole.reader
    hole.feed_to(hole.levels.bottom)
    hole.dwell(seconds)
    hole.reader.spindle_event(stopped=True)
    reader.record.event(What.STOP, reader.line, 0)
    reader.state.stopped = True
    reader.spindle_event()
    what = "G88 lets the operator take the tool out by hand: where it stands afterwards is not in the program"
    reader.fault(hole.order.block.words[0], what, loses=True)


def _bore_fine(hole: Hole, seconds: float | None) -> None:
    """G76: feed in, spindle stops turned to one side, the tool moves off the wall, rapid out, and back."""
    state = hole.reader.state
    hole.feed_to(hole.levels.bottom)
    hole.dwell(seconds)
    hole.reader.spindle_event(stopped=True)
    home = _in_plane(hole)
    shift = {axis: state.cycle.words.get(CENTRE_LETTERS[axis], 0.0) for axis in home}
    if not any(shift.values()):
        what = "G76 moves off the wall in a direction that is a setting of the control: this move is left out"
        hole.reader.note("G76 shift", hole.order.block.words[0], what)
    hole.across({axis: (at + shift[axis], frame) for axis, (at, frame) in home.items()}, 0.0)
    hole.rapid(hole.levels.back, 0.0)
    hole.across(home, 0.0)
    hole.reader.spindle_event()


def _bore_back(hole: Hole, _seconds: float | None) -> None:
    """G87 of the report: through the hole to one side, counterbore from below up to K (NISTIR 6556, 3.5.16.8)."""
    state, words = hole.reader.state, hole.reader.state.cycle.words
    home = _in_plane(hole)
    aside = {axis: (at + words[CENTRE_LETTERS[axis]], frame) for axis, (at, frame) in home.items()}
    top = words[CENTRE_LETTERS[hole.normal]]
    hole.across(aside)
    hole.reader.spindle_event(stopped=True)
    hole.rapid(hole.levels.bottom, 0.0)
    hole.across(home, 0.0)
    hole.reader.spindle_event()
    hole.feed_to(top if state.distance == 90 else hole.levels.bottom + top)
    hole.feed_to(hole.levels.bottom)
    hole.reader.spindle_event(stopped=True)
    hole.across(aside, 0.0)
    hole.rapid(hole.levels.back, 0.0)
    hole.across(home, 0.0)
    hole.reader.spindle_event()


def _in_plane(hole: Hole) -> Target:
    state = hole.reader.state
    return {axis: (state.position(axis), state.axis_frame(axis)) for axis in range(3) if axis != hole.normal}


def _name(code: int) -> str:
    return f"G{code // 10}"


_WAYS: dict[int, Callable[[Hole, float | None], None]] = {
    730: _peck,
    740: _tap,
    760: _bore_fine,
    810: _drill,
    820: _drill,
    830: _peck,
    840: _tap,
    850: _bore,
    860: _bore_stopped,
    870: _bore_back,
    880: _bore_by_hand,
    890: _bore,
}
