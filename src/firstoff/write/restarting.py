"""Restart from a chosen tool: everything that the program had said by then is said again, then its own text goes on.

The restart is read back and every cut of it held against the program's own: what would differ is refused, not written.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.errors import Fault, InputError
from firstoff.program.control import Control
from firstoff.program.moves import (
    DEPENDS,
    FAULT,
    NO_LENGTH,
    SYSTEM_NAMES,
    Base,
    Event,
    Flag,
    Floats,
    Ints,
    Kind,
    Reading,
    What,
)
from firstoff.program.reading import NOWHERE, Start, read_text
from firstoff.write.blocks import (
    Block,
    Change,
    Coolant,
    CoolantTo,
    Dwell,
    LengthOn,
    Rapid,
    Remark,
    SafeStart,
    SpindleOff,
    SpindleOn,
    WorkSystem,
)
from firstoff.write.language import Language
from firstoff.write.refusal import Refusal
from firstoff.write.text import lines_of

Bools = NDArray[np.bool_]

CHANGE_ALONE = re.compile(r"/?\s*(N\d+\s*)?((T\s*\d+|M\s*0*6)\s*)+", re.IGNORECASE)
"""A line that only selects and changes the tool; anything else on it would be lost by a restart after it."""
COMMENT = re.compile(r"\([^)]*\)|;.*")
FLOW = re.compile(r"#|\bM\s*9[789]\b|\bG\s*6[567]\b|\b[O:]\s*[\d<]|WHILE|GOTO", re.IGNORECASE)
"""Parameters, calls and jumps: a text that has them cannot be entered in its middle."""
FEED_KINDS = (Kind.FEED, Kind.ARC, Kind.TAP)
LASTING = np.uint16(0xFFFF & ~int(Flag.RESTORED))
"""Flags that say what is in force; the other one marks a first move after a change."""
SAME_MM = 1e-9
"""Both readings come from the same characters: they agree to the last bit but for sums of increments."""


@dataclass(frozen=True, slots=True)
class Restart:
    """Where to go on: with the `use`-th use (from 1) of T`tool`; `run_up_s` is waited for after the spindle's start."""

    tool: int
    use: int = 1
    run_up_s: float = 0.0


def restart(reading: Reading, where: Restart, language: Language, control: Control, start: Start = NOWHERE) -> str:
    """A program that begins with the chosen tool; `control` and `start` are those that `reading` was read with.

    Raises `InputError` if the program is not wholly understood, does not use the tool, or hangs on something that a new beginning cannot
    say again: shifts, compensation, incremental mode, rewritten offsets, parameters, calls.
    """
    change = _change(reading, where)
    _check(reading, change)
    rest = np.arange(change.before, len(reading.moves), dtype=np.int32)
    blocks = _preamble(reading, change, rest[rest < _next_change(reading, change)], where)
    feed = _feed_line(reading, rest)
    head = ["%", *lines_of(blocks, language), *feed]
    body = list(reading.text[change.line :])
    text = "\n".join([*head, *body, *([] if any(line.strip() == "%" for line in body) else ["%"])]) + "\n"
    _hold_against(reading, read_text(text, reading.file, control, start), change, len(head))
    return text


def _change(reading: Reading, where: Restart) -> Event:
    changes = [event for event in reading.events if event.what is What.TOOL_CHANGE]
    mine = [event for event in changes if event.number == where.tool]
    if 0 < where.use <= len(mine):
        return mine[where.use - 1]
    known = ", ".join(f"T{event.number} (line {event.line})" for event in changes) or "none"
    wanted = f"T{where.tool}" if where.use == 1 else f"T{where.tool}, use {where.use}"
    raise InputError(Fault("the program does not change to this tool", wanted, known, reading.file))


def _check(reading: Reading, change: Event) -> None:
    refusal = Refusal("restart")
    line = reading.text[change.line - 1]
    for problem in reading.problems:
        known = problem.kind not in (FAULT, DEPENDS)
        refusal.unless(
            known, f"line {problem.line} is not understood: {problem.what}", problem.text, "a program without doubt"
        )
    alone = CHANGE_ALONE.fullmatch(COMMENT.sub("", line).strip()) is not None
    refusal.unless(
        alone, f"line {change.line} does more than change the tool", line.strip(), "T and M6 on a line of their own"
    )
    for number, text in enumerate(reading.text, 1):
        flows = FLOW.search(COMMENT.sub("", text)) is not None
        refusal.unless(not flows, f"line {number} calls, jumps or counts", text.strip(), "plain blocks only")
    for event in reading.events:
        if event.line > change.line:
            break
        wrote = event.what in (What.OFFSET_WRITTEN, What.TABLE_WRITTEN, What.PROBE)
        refusal.unless(
            not wrote, f"line {event.line} writes offsets or probes before that tool", "", "nothing of the kind"
        )
    refusal.settle()


def _preamble(reading: Reading, change: Event, mine: Ints, where: Restart) -> tuple[Block, ...]:
    """Everything up to the first move of the tool, at safe Z over its first place."""
    moves, frames = reading.moves, reading.frames
    cuts = mine[np.isin(moves.kind[mine], FEED_KINDS)]
    placed = mine[_in_system(reading, mine, 0) & _in_system(reading, mine, 1) & (moves.kind[mine] != Kind.DWELL)]
    refusal = Refusal("restart")
    refusal.unless(
        bool(cuts.size and placed.size), f"T{where.tool} cuts nothing after line {change.line}", "", "a tool that cuts"
    )
    refusal.settle()
    first, row = int(cuts[0]), int(moves.frame[cuts[0], 2])
    speeds = moves.spindle_per_s[cuts]
    turns = bool((np.isfinite(speeds) & (speeds != 0)).any())
    refusal.unless(turns, "the spindle stands still at every cut", f"line {moves.line[first]}", "S and M3")
    refusal.unless(
        not np.any(frames.shift_mm[row]), "a shift (G92, G52) is in force", f"line {moves.line[first]}", "none"
    )
    refusal.settle()
    blocks: list[Block] = [Remark(f"RESTART FROM T{where.tool}, LINE {change.line} OF {reading.file}")]
    blocks += [SafeStart(), Rapid(z_mm=0.0, machine=True), CoolantTo(Coolant.OFF), SpindleOff(), Change(where.tool)]
    blocks.append(WorkSystem(SYSTEM_NAMES[int(frames.system[row]) - 1]))
    if (
        np.isfinite(speeds[0]) and speeds[0] != 0
    ):  # else the tool first goes down with the spindle off: a check of its height
        blocks.append(SpindleOn(abs(float(speeds[0])) * 60, float(speeds[0]) > 0))
        blocks += [Dwell(where.run_up_s)] if where.run_up_s > 0 else []
    blocks.append(Rapid(float(moves.end_mm[placed[0], 0]), float(moves.end_mm[placed[0], 1])))
    register = int(frames.length[row])
    if register != NO_LENGTH:
        blocks.append(LengthOn(register, _safe_z(reading, mine, register)))
    coolant = _coolant(int(moves.flags[first]))
    return tuple(blocks) if coolant is Coolant.OFF else (*blocks, CoolantTo(coolant))


def _next_change(reading: Reading, change: Event) -> int:
    """Index of the first move made with another tool."""
    later = [event.before for event in reading.events if event.what is What.TOOL_CHANGE and event.line > change.line]
    return min(later, default=len(reading.moves))


def _in_system(reading: Reading, chosen: Ints, axis: int) -> Bools:
    """bool[M]: the axis was last named in a work system."""
    base = reading.frames.base[reading.moves.frame[chosen, axis], axis]
    inside: Bools = (base >= Base.G54) & (base <= Base.G59_3)
    return inside


def _safe_z(reading: Reading, mine: Ints, register: int) -> float:
    """The highest Z that the tool itself goes to in the work system, with its own length."""
    own = reading.frames.length[reading.moves.frame[mine, 2]] == register
    return float(np.nanmax(reading.moves.end_mm[mine[own & _in_system(reading, mine, 2)], 2]))


def _coolant(flags: int) -> Coolant:
    if flags & Flag.FLOOD:
        return Coolant.FLOOD
    return Coolant.MIST if flags & Flag.MIST else Coolant.OFF


def _feed_line(reading: Reading, rest: Ints) -> list[str]:
    """F of the first cut, in the program's unit: the tool may live on the feed of the one before."""
    moves = reading.moves
    cuts = rest[np.isin(moves.kind[rest], FEED_KINDS)]
    feed = float(moves.feed_mm_per_s[cuts[0]]) * 60
    timed = int(moves.flags[cuts[0]]) & (Flag.INVERSE_TIME | Flag.PER_REV)
    if timed or not np.isfinite(feed):
        return []
    return [f"F{round(feed / (25.4 if reading.units == 'inch' else 1.0), 4)}"]


def _hold_against(old: Reading, new: Reading, change: Event, head: int) -> None:
    """Every move after the change must come out as it did; before an axis is named again it stands where the preamble put it."""
    refusal = Refusal("restart")
    for problem in new.problems:
        known = problem.kind not in (FAULT, DEPENDS)
        refusal.unless(
            known, f"the restart's line {problem.line} would not be understood: {problem.what}", problem.text, ""
        )
    refusal.settle()
    first = np.arange(change.before, len(old.moves), dtype=np.int32)
    second = np.flatnonzero(new.moves.line > head).astype(np.int32)
    same = len(first) == len(second)
    differs = _first_difference(old, new, first, second) if same else int(first[0]) if len(first) else 0
    if not same or differs >= 0:
        line = int(old.moves.line[differs])
        what = f"line {line} hangs on something said before the tool change, which a restart cannot say again"
        refusal.unless(
            False,
            what,
            old.text[line - 1].strip(),
            "every tool's section says its own modes (G90, G0 or G1, G17, G98 or G99)",
        )
    refusal.settle()


def _first_difference(old: Reading, new: Reading, first: Ints, second: Ints) -> int:
    """Index in the old reading of the first move that comes out otherwise, or -1."""
    a, b = old.moves, new.moves
    cutting = np.isin(a.kind[first], FEED_KINDS)
    wrong = (a.kind[first] != b.kind[second]) | (a.tool[first] != b.tool[second])
    wrong |= a.line[first] - a.line[first[0]] != b.line[second] - b.line[second[0]]
    wrong |= cutting & ~_close(a.feed_mm_per_s[first], b.feed_mm_per_s[second])
    wrong |= cutting & ~_close(a.spindle_per_s[first], b.spindle_per_s[second])
    wrong |= cutting & ((a.flags[first] & LASTING) != (b.flags[second] & LASTING))
    wrong |= a.comp_register[first] != b.comp_register[second]
    stands = (a.kind[first] == Kind.DWELL) & (b.kind[second] == Kind.DWELL)
    for axis in range(3):
        old_row, new_row = a.frame[first, axis], b.frame[second, axis]
        same = old.frames.base[old_row, axis] == new.frames.base[new_row, axis]
        if axis == 2:
            same &= old.frames.length[old_row] == new.frames.length[new_row]
        # An axis counts from where both are told in one frame, and at every cut; until then it stands where the preamble put it.
        told = ~stands & same & _in_system(old, first, axis)
        due = ~stands & (cutting | np.logical_or.accumulate(told))
        wrong |= due & ~(same & _close(a.end_mm[first, axis], b.end_mm[second, axis]))
    wrong |= ~_same_arcs(old, new, first, second)
    found = np.flatnonzero(wrong)
    return int(first[found[0]]) if found.size else -1


def _same_arcs(old: Reading, new: Reading, first: Ints, second: Ints) -> Bools:
    rows, others = old.moves.arc[first], new.moves.arc[second]
    same: Bools = (rows >= 0) == (others >= 0)
    both = (rows >= 0) & (others >= 0)
    a, b, left, right = old.arcs, new.arcs, rows[both], others[both]
    same[both] &= _close(a.sweep_rad[left], b.sweep_rad[right]) & _close(a.rise_mm[left], b.rise_mm[right])
    same[both] &= (a.plane[left] == b.plane[right]) & _close(a.centre_mm[left], b.centre_mm[right]).all(axis=1)
    return same


def _close(one: Floats, other: Floats) -> Bools:
    close: Bools = np.isclose(one, other, rtol=0, atol=SAME_MM, equal_nan=True)
    return close
