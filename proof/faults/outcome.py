"""What a run comes to, line by line, and in what a faulty one differs from the clean one.

An outcome is told by *aspects*. `differences` says for each aspect at which lines of the faulty program it is another, or worse, than in
the clean one; a line is compared with the line that it was before the mistake was put in.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from proof.faults.bench import Bench, Box, Cutter, Mill
from proof.faults.replay import replay
from proof.faults.steps import Step, Trace
from proof.faults.stock import LEAST_MM3, Stock

HARMS = ("rapid", "obstacle", "body", "flute", "dead", "below", "travel", "zone")
"""Depths in mm; worse by more than `WORSE_MM` counts."""
WORSE_MM = 0.2
ASIDE_MM = 0.05
"""Ways that part by less are one."""
MUCH = 1.4
"""Feeds and volumes that differ by this factor differ."""
SHAPE_MM = 0.4
AT_SPEED = 0.9
LONG_WAIT_S = 30.0
DEEP_HOLE = 4.0
"""Diameters that a drill may go down in one go (common practice: pecks from three to four on)."""


@dataclass(slots=True)
class AtLine:
    """What one line of a program does."""

    way: list[tuple[float, ...]] = field(default_factory=list)
    """Rapid or not, start, end, centre and angle of each step."""
    tool: str = ""
    volume: float = 0.0
    harms: dict[str, float] = field(default_factory=dict)
    spindle: str = ""
    """What is wrong with the spindle while it cuts."""
    feed: float = 0.0
    """Where it cuts, mm/min; 0 where it does not."""
    dry: bool = False
    """Cuts without coolant."""
    wait: float = 0.0
    hole: float = 0.0
    """Diameters of material that a drilling cycle goes down in one go."""
    freed: bool = False


NOTHING = AtLine()
Bit = tuple[float, ...]
"""One step: whether at rapid, start, end, centre, angle."""


@dataclass(slots=True)
class Run:
    """A program run through its work."""

    trace: Trace
    lines: dict[int, AtLine]
    top: NDArray[np.float64]
    """Heights of the finished work; what is scrap is told as level."""
    maker: NDArray[np.int32]

    def at(self, line: int | None) -> AtLine:
        return NOTHING if line is None else self.lines.get(line, NOTHING)


def run(program: Sequence[str], bench: Bench, really: dict[int, Cutter] | None = None, frame: Box | None = None) -> Run:
    """Replay a program and let it cut."""
    trace = replay(list(program), bench, really)
    stock = Stock(bench, frame)
    lines: dict[int, AtLine] = {}
    clock = _Clock(bench.mill)
    for step in trace.steps:
        line = lines.setdefault(step.line, AtLine())
        told = stock.take(step)
        _way(line, step)
        for name in ("rapid", "obstacle", "body", "flute", "dead", "below"):
            _worse(line, name, getattr(told, name))
        _worse(line, "travel", _overrun(step, bench.mill))
        _worse(line, "zone", _in_zone(step, bench.mill))
        line.freed |= told.freed
        wrong = clock.wrong(step)
        if told.volume > LEAST_MM3 and step.kind == "feed":
            line.volume += told.volume
            line.spindle = line.spindle or wrong
            line.feed = max(line.feed, step.state.feed)
            line.dry |= not step.state.coolant
            if step.peck and step.state.cutter is not None:
                deep = min(step.peck, told.deep)
                line.hole = max(line.hole, deep / (2 * step.state.cutter.radius))
        clock.go_on(step)
    part = np.hypot(stock.x[None, :], stock.y[:, None]) < bench.work.part
    return Run(trace, lines, np.where(part, stock.top, 0.0), stock.maker)


def _way(line: AtLine, step: Step) -> None:
    if step.kind == "dwell":
        line.wait += step.seconds
    elif step.kind == "change":
        line.tool = step.state.cutter.name if step.state.cutter is not None else ""
    else:
        about = (*step.centre, step.sweep) if step.centre is not None else (0.0, 0.0, 0.0)
        line.way.append((float(step.kind == "rapid"), *step.start, *step.end, *about))


def _worse(line: AtLine, name: str, value: float) -> None:
    if value > 0:
        line.harms[name] = max(line.harms.get(name, 0.0), value)


class _Clock:
    """Whether the spindle does what a cut needs."""

    def __init__(self, mill: Mill) -> None:
        self.mill = mill
        self.was = self.now = 0.0
        self.since = math.inf

    def wrong(self, step: Step) -> str:
        """What is wrong with the spindle at the start of a step; empty if nothing is."""
        speed, cutter = step.state.spindle, step.state.cutter
        if speed != self.now and not (math.isnan(speed) and math.isnan(self.now)):
            self.was, self.now, self.since = self.now, speed, 0.0
        if speed == 0:
            return "off"
        if math.isnan(speed):
            return "at no speed"
        if speed < 0:
            return "backwards"
        low, high = self.mill.speed
        if speed > min(high, cutter.top_speed if cutter is not None else high) * 1.001:
            return "too fast"
        if speed < low * 0.999:
            return "too slow"
        needs = self.mill.run_up * min(1.0, abs(speed - self.was) / speed) if not math.isnan(self.was) else 0.0
        return "not at speed" if self.since < AT_SPEED * needs and needs > 0.1 * self.mill.run_up else ""

    def go_on(self, step: Step) -> None:
        self.since += step.seconds


def _overrun(step: Step, mill: Mill) -> float:
    past = [0.0]
    for low_high, one, two in zip(mill.travel, *step.gauge, strict=True):
        past += [low_high[0] - min(one, two), max(one, two) - low_high[1]]
    return max(past) if max(past) > WORSE_MM else 0.0


def _in_zone(step: Step, mill: Mill) -> float:
    """How deep tool, holder or nose get into a kept-out space; changes of tool may."""
    if step.kind not in ("rapid", "feed"):
        return 0.0
    deepest, (one, two) = 0.0, step.gauge
    discs = list(mill.nose)
    cutter = step.state.cutter
    if cutter is not None:
        discs += [(max(cutter.radius, cutter.shank), -cutter.length)]
        discs += [(radius, bottom - cutter.length) for radius, bottom in cutter.discs()]
    reach = max(radius for radius, _ in discs)
    for _, box in mill.zones:
        if any(max(a, b) + reach < low for a, b, (low, _) in zip(one[:2], two[:2], box[:2], strict=True)):
            continue
        if any(min(a, b) - reach > high for a, b, (_, high) in zip(one[:2], two[:2], box[:2], strict=True)):
            continue
        t = np.linspace(0.0, 1.0, 60)
        x, y, z = (a + t * (b - a) for a, b in zip(one, two, strict=True))
        for radius, bottom in discs:
            out_x = np.maximum(np.maximum(box[0][0] - x, x - box[0][1]), 0.0)
            out_y = np.maximum(np.maximum(box[1][0] - y, y - box[1][1]), 0.0)
            into = np.where(z + bottom < box[2][1], radius - np.hypot(out_x, out_y), 0.0)
            deepest = max(deepest, float(into.max()))
    return deepest if deepest > WORSE_MM else 0.0


# --- differences --------------------------------------------------------------------------------------------------------


def differences(clean: Run, faulty: Run, origin: Sequence[int | None]) -> dict[str, list[int]]:
    """Aspect -> lines of the faulty program, ascending. `origin[n]`: the line that line n + 1 was, None where it is new."""
    found: dict[str, list[int]] = {}

    def note(aspect: str, line: int) -> None:
        found.setdefault(aspect, []).append(line)

    last = _last_line(faulty, len(origin))
    for line in range(1, last + 1):
        before, after = clean.at(origin[line - 1]), faulty.at(line)
        for aspect in _changed(before, after):
            note(aspect, line)
    if faulty.trace.alarm is not None and clean.trace.alarm is None:
        note("alarm", faulty.trace.alarm[0])
    elif faulty.trace.ended != clean.trace.ended or faulty.trace.left_on != clean.trace.left_on:
        note("end", last)
    for aspect, one in (("stop", faulty.trace.stops), ("written", faulty.trace.written)):
        for line in one:
            if origin[line - 1] is None or origin[line - 1] not in getattr(clean.trace, _LISTS[aspect]):
                note(aspect, line)
    for line in _shape_lines(clean, faulty, origin):
        note("shape", line)
    return found


_LISTS: Mapping[str, str] = {"stop": "stops", "written": "written"}


def _last_line(faulty: Run, lines: int) -> int:
    """The last line that was run."""
    if faulty.trace.alarm is not None:
        return max(faulty.trace.alarm[0] - 1, 0)
    return lines


def _changed(before: AtLine, after: AtLine) -> list[str]:
    found = []
    found += _other_way(before.way, after.way)
    if before.tool != after.tool:
        found.append("tool")
    found += [harm for harm in HARMS if after.harms.get(harm, 0.0) > before.harms.get(harm, 0.0) + WORSE_MM]
    if after.spindle and after.spindle != before.spindle:
        found.append("spindle")
    if before.feed and after.feed and not 1 / MUCH < after.feed / before.feed < MUCH:
        found.append("feed")
    if after.dry and after.volume and not (before.dry and before.volume):
        found.append("dry")
    if after.wait > before.wait + LONG_WAIT_S:
        found.append("wait")
    if after.hole > DEEP_HOLE >= before.hole:
        found.append("hole")
    if after.freed and not before.freed:
        found.append("freed")
    if before.volume > 10 * LEAST_MM3 and after.volume < 0.1 * before.volume:
        found.append("air")
    if after.volume > MUCH * before.volume + 1.0:
        found.append("more")
    return found


WAYS = ("way", "way down", "way at feed")


def _other_way(before: list[Bit], after: list[Bit]) -> list[str]:
    """Whether the tool goes another way; whether it changes its height otherwise, and whether it does so at feed."""
    if _same(before, after):
        return []
    found = ["way"]
    if not _same([bit for bit in before if bit[3] != bit[6]], [bit for bit in after if bit[3] != bit[6]]):
        found.append("way down")
    if not _same([bit for bit in before if not bit[0]], [bit for bit in after if not bit[0]]):
        found.append("way at feed")
    return found


def _same(one: list[Bit], two: list[Bit]) -> bool:
    if len(one) != len(two):
        return False
    return all(
        a == b or bool(np.allclose(a, b, rtol=0, atol=ASIDE_MM, equal_nan=True)) for a, b in zip(one, two, strict=True)
    )


def _shape_lines(clean: Run, faulty: Run, origin: Sequence[int | None]) -> list[int]:
    """Lines that cut what they did not cut before, and lines that no longer cut what they did, where the finished work is another one."""
    off = np.maximum(faulty.top, -1e3) - np.maximum(clean.top, -1e3)
    now = {was: line for line, was in enumerate(origin, 1) if was is not None}
    lines = {int(line) for line in np.unique(faulty.maker[_patches(off < -SHAPE_MM)])}
    lines |= {now.get(int(was), 0) for was in np.unique(clean.maker[_patches(off > SHAPE_MM)])}
    return sorted(lines - {0})


def differs_in_shape(clean: Run, faulty: Run) -> bool:
    """Whether the finished work is another one."""
    off = np.maximum(faulty.top, -1e3) - np.maximum(clean.top, -1e3)
    return bool(_patches(np.abs(off) > SHAPE_MM).any())


def _patches(off: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Patches of two cells by two at least: no edge that fell into the next cell."""
    return np.asarray(ndimage.binary_opening(off, np.ones((2, 2))), np.bool_)


def begins(run_: Run, line: int) -> int:
    """The line with which a cut begins: the first at feed since the last rapid, for a line at feed; else the line itself."""
    first = line
    for number in sorted(run_.lines, reverse=True):
        if number > line:
            continue
        ways = run_.lines[number].way
        if not ways or any(bit[0] for bit in ways):
            if ways:
                break
            continue
        first = number
    return first
