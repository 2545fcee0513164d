"""Arcs and helices in three planes, in centre and radius format (NISTIR 6556, 3.5.3)."""

from __future__ import annotations

import math

import numpy as np

from firstoff.program import _kernels as k
from firstoff.program.moves import PLANE_AXES, Flag, Floats, Kind
from firstoff.program.moving import feed_of, targets
from firstoff.program.reader import Reader
from firstoff.program.words import AXIS_LETTERS, CENTRE_LETTERS, Order

WIDEST_TOLERANCE_MM = 0.5
"""Above this no control accepts that an arc misses its end (0.5 mm, 0.05 in: reference nc-language 6)."""


def arc(reader: Reader, order: Order, code: int) -> None:
    """G2 and G3."""
    state = reader.state
    first, second, normal = PLANE_AXES[state.plane]
    ends = [axis for axis in (first, second) if AXIS_LETTERS[axis] in order.values]
    centres = [axis for axis in (first, second) if CENTRE_LETTERS[axis] in order.values]
    reader.rely(k.SAID_DISTANCE | k.SAID_PLANE | k.SAID_FEED_MODE)
    if not _may_be_bare(reader, order, ends, centres):
        reader.lose(order.axes())
        order.used.update("XYZIJKRP")
        return
    target, stands, settled = targets(reader, order)
    start = _start(reader, order, stands, (first, second))
    flags = order.flags
    geometry: Floats = np.full(5, math.nan)
    turn = 1.0 if code == 30 else -1.0
    turns = _turns(reader, order)
    solved = start is not None and _solve(reader, order, start, (target[first], target[second]), turn, geometry)
    if solved and turns is not None:
        geometry[k.SWEEP] += turn * 2.0 * math.pi * (turns - 1)
    else:
        flags |= Flag.UNSURE
    if math.isnan(geometry[k.SWEEP]) or not _wrong_plane_words(reader, order, CENTRE_LETTERS[normal]):
        flags |= Flag.UNSURE
    order.used.update("IJKR" if reader.control.report else "IJKRP")
    rise = _rise(reader, order, target, stands, normal)
    path = math.hypot(geometry[k.RADIUS] * geometry[k.SWEEP], rise)
    feed, how = feed_of(reader, order, path)
    row = reader.record.arc(geometry, rise)
    reader.move(Kind.ARC, target, stands, settled, arc=row, feed=feed, flags=flags | how)


def _may_be_bare(reader: Reader, order: Order, ends: list[int], centres: list[int]) -> bool:
    """Whether the block says enough to be an arc; a bare full circle (`G2 I5`) hangs on the control."""
    word = order.block.words[0]
    first, second, _ = PLANE_AXES[reader.state.plane]
    names = f"{AXIS_LETTERS[first]} and {AXIS_LETTERS[second]}"
    if ends:
        return True
    if "R" in order.values or not centres:
        reader.fault(word, f"an arc without {names}: its end is missing", loses=True)
        return False
    if reader.control.answer("full_circle_bare") != "accept":
        reader.fault(word, f"an arc without {names}: this control takes no full circle without its end", loses=True)
        return False
    reader.note(
        "bare circle",
        word,
        f"a full circle without {names}, which the report does not allow, is taken as custom has it",
    )
    return True


def _start(reader: Reader, order: Order, stands: list[int], plane: tuple[int, int]) -> tuple[float, float] | None:  # fmt: skip
    """Start point in the frames of the end; None, with a problem, where it cannot be told there."""
    state = reader.state
    for axis in plane:
        if stands[axis] != state.axis_frame(axis) and not reader.express(axis):
            if not state.lost >> axis & 1:
                why, fact = reader.lost_where(axis)
                what = f"the arc begins at a place that is not known in the present coordinates: {why}"
                column, text = order.block.words[0].column, order.block.words[0].text
                if fact:
                    reader.findings.depends_on(fact, reader.line, column, text, reader.where + what)
                else:
                    reader.fault(order.block.words[0], what)
            return None
    start = state.position(plane[0]), state.position(plane[1])
    return None if math.isnan(start[0]) or math.isnan(start[1]) else start


def _solve(reader: Reader, order: Order, start: tuple[float, float], end: tuple[float, float], turn: float, out: Floats) -> bool:  # fmt: skip
    """Fill `out` as the kernel's arc functions do; False where the arc is not sure (a problem says why)."""
    if "R" in order.values:
        return _by_radius(reader, order, start, end, turn, out)
    return _by_centre(reader, order, start, end, turn, out)


def _by_radius(reader: Reader, order: Order, start: tuple[float, float], end: tuple[float, float], turn: float, out: Floats) -> bool:  # fmt: skip
    word = order.word_of("R")
    if order.has(CENTRE_LETTERS):
        reader.fault(word, "R and a centre in one block: controls differ in which counts; leave one")
        return False
    radius = reader.length(order, "R")
    status = k.arc_by_radius(*start, *end, radius, turn, out)
    if status == k.SAME_POINT:
        out[:] = math.nan
        reader.fault(word, "an arc by radius whose end is its start: no centre can be found; write I J K")
        return False
    if status == k.NO_RADIUS:
        out[:] = math.nan
        reader.fault(word, "an arc of no radius")
        return False
    if status == k.SHORT and out[k.MISS] > reader.state.arc_tolerance:
        what = f"R is {out[k.MISS]:.4g} mm shorter than half the way to the end: the arc cannot reach it"
        reader.fault(word, what)
        return False
    if status == k.SHORT:
        what = "R is shorter than half the way to the end by less than the arc tolerance: taken as a half circle about the middle"
        reader.note("short R", word, what)
    return True


def _by_centre(reader: Reader, order: Order, start: tuple[float, float], end: tuple[float, float], turn: float, out: Floats) -> bool:  # fmt: skip
    state = reader.state
    first, second, _ = PLANE_AXES[state.plane]
    letters = CENTRE_LETTERS[first], CENTRE_LETTERS[second]
    word = order.word_of(letters[0]) or order.word_of(letters[1]) or order.block.words[0]
    if not order.has("".join(letters)):
        reader.fault(
            word, f"an arc without R and without {letters[0]} and {letters[1]}, the centre words of this plane"
        )
        return False
    absolute = state.arc_centres == "absolute"
    if absolute and not all(letter in order.values for letter in letters):
        reader.fault(word, f"absolute arc centres (G90.1) need both {letters[0]} and {letters[1]}")
        return False
    words = [reader.length(order, letter) if letter in order.values else 0.0 for letter in letters]
    centre = (words[0], words[1]) if absolute else (start[0] + words[0], start[1] + words[1])
    status = k.arc_by_centre(*start, *end, *centre, turn, out)
    if status == k.NO_RADIUS:
        out[:] = math.nan
        reader.fault(word, "an arc whose centre is its start: no radius")
        return False
    if out[k.MISS] <= state.arc_tolerance:
        return True
    return _missed(reader, order, start, end, words, out)


def _missed(reader: Reader, order: Order, start: tuple[float, float], end: tuple[float, float], words: list[float], out: Floats) -> bool:  # fmt: skip
    """The radii at start and end differ by more than every control forgives."""
    state = reader.state
    word = next(order.words[letter] for letter in CENTRE_LETTERS if letter in order.values)
    other = np.zeros(5)
    if state.arc_centres == "absolute":
        k.arc_by_centre(*start, *end, start[0] + words[0], start[1] + words[1], 1.0, other)
    else:
        k.arc_by_centre(*start, *end, words[0], words[1], 1.0, other)
    miss = f"the radii at start and end differ by {out[k.MISS]:.4g} mm"
    if other[k.MISS] <= state.arc_tolerance < other[k.RADIUS] and not state.arc_centres_stated:
        what = f"{miss} here; read as {'incremental' if state.arc_centres == 'absolute' else 'absolute'} centres it would fit"
        reader.depends(word, what, "arc_centres")
        return False
    stated = reader.control.answer("arc_tolerance") is not None
    if reader.control.report or stated or out[k.MISS] > WIDEST_TOLERANCE_MM:
        reader.fault(word, f"{miss}; {state.arc_tolerance:.4g} mm are allowed: check end and centre")
    else:
        reader.depends(
            word, f"{miss}: more than {state.arc_tolerance:.4g} mm, which some controls refuse", "arc_tolerance"
        )
    return False


def _wrong_plane_words(reader: Reader, order: Order, letter: str) -> bool:
    """Whether a centre word along the plane's normal, if there is one, does no harm."""
    if letter not in order.values:
        return True
    word = order.word_of(letter)
    if order.values[letter] == 0.0 and not reader.control.report:
        reader.note("centre of another plane", word, f"{letter}0 belongs to another plane and is ignored")
        return True
    reader.fault(word, f"{letter} is no centre word of this plane: controls ignore it or stop")
    return False


def _turns(reader: Reader, order: Order) -> int | None:
    """P turns of a helix, as controls derived from the report have it; None where P is no such number."""
    if reader.control.report or "P" not in order.values:
        return 1
    value = order.values["P"]
    turns = round(value)
    if turns < 1 or abs(value - turns) > 1e-4:
        reader.fault(order.word_of("P"), f"P{value:g} turns: a whole number from 1 on")
        return None
    if turns > 1:
        reader.note("turns", order.word_of("P"), "P in an arc is taken as the number of turns")
    return turns


def _rise(reader: Reader, order: Order, target: list[float], stands: list[int], normal: int) -> float:
    if AXIS_LETTERS[normal] not in order.values:
        return 0.0
    if stands[normal] != reader.state.axis_frame(normal) and not reader.express(normal):
        return math.nan
    return target[normal] - reader.state.position(normal)
