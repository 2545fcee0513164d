"""A plain control, written for this study alone: from program text to executed steps. It knows the words that the clean programs use and
those that the mistakes bring in; everything else is an alarm, at which it stops."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from proof.faults.bench import Bench, Cutter, Point
from proof.faults.beside import AlarmAt, compensate
from proof.faults.steps import Flat, State, Step, Trace, turned
from proof.faults.words import Alarm, words_of

CHANGE_S = 12.0
BACK_OFF = 0.3
"""Height over the last depth at which a peck feeds on."""
AXES = "XYZ"
NEEDS_FEED = (1, 2, 3, 81, 83)


@dataclass(slots=True)
class Modes:
    """All that a control remembers from block to block."""

    at: list[float]
    """Gauge point in the machine frame."""
    motion: int = -1
    plane: int = 17
    inch: bool = False
    incremental: bool = False
    per_turn: bool = False
    system: int = 54
    shift: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    length: float = 0.0
    side: int = 0
    register: int = 0
    feed: float = math.nan
    speed: float = math.nan
    turning: int = 0
    coolant: bool = False
    next_pocket: int = 0
    pocket: int = 0
    cycle: dict[str, float] = field(default_factory=dict)
    initial: float = math.nan
    back_to_initial: bool = True


def replay(lines: list[str], bench: Bench, really: dict[int, Cutter] | None = None) -> Trace:
    """Run a program. `really`: tools that stand in the pockets, where the shop's list is wrong about them."""
    control = _Control(bench, really or bench.pockets)
    for number, line in enumerate(lines, 1):
        try:
            if control.run(number, line):
                break
        except Alarm as alarm:
            control.trace.alarm = (number, str(alarm))
            break
    return control.finished()


class _Control:
    def __init__(self, bench: Bench, really: dict[int, Cutter]) -> None:
        self.bench, self.really = bench, really
        self.zeros = dict(bench.work.zeros)
        self.modes = Modes(list(bench.mill.home))
        self.trace = Trace()
        self.number = 0

    # --- one block ----------------------------------------------------------------------------------------------------

    def run(self, number: int, line: str) -> bool:
        """Whether the program ends here."""
        self.number = number
        found, _ = words_of(line)
        gs = {value for letter, value in found if letter == "G"}
        ms = {int(value) for letter, value in found if letter == "M"}
        told = {letter: value for letter, value in found if letter not in "GMN"}
        self._rates(gs, told)
        if "T" in told:
            self.modes.next_pocket = int(told["T"])
        if 6 in ms:
            self._change()
        self._switch(ms)
        self._frames(gs, told)
        if 4 in gs:
            self._wait(told)
        elif 10 in gs:
            self._write(told)
        elif 92 in gs or 92.1 in gs:
            self._shift(told, 92 in gs)
        elif 28 in gs:
            self._home(told)
        else:
            self._move(gs, told)
        if 5 in ms:
            self.modes.turning = 0
        if 9 in ms:
            self.modes.coolant = False
        if ms & {0, 1}:
            self.trace.stops.append(number)
        if ms & {2, 30}:
            self._note_left_on()
            self.trace.ended = "program end"
            return True
        return False

    def _rates(self, gs: set[float], told: dict[str, float]) -> None:
        modes = self.modes
        if 20 in gs or 21 in gs:
            modes.inch = 20 in gs
        if 93 in gs:
            raise Alarm("inverse time is not replayed")
        if 94 in gs or 95 in gs:
            modes.per_turn = 95 in gs
        if "F" in told:
            modes.feed = told["F"] * self.unit
        if "S" in told:
            modes.speed = told["S"]

    @property
    def unit(self) -> float:
        return 25.4 if self.modes.inch else 1.0

    def _change(self) -> None:
        modes = self.modes
        if modes.next_pocket not in self.really:
            raise Alarm(f"pocket {modes.next_pocket} is empty")
        modes.turning, modes.coolant = 0, False
        was = list(modes.at)
        modes.at[2] = 0.0
        modes.pocket = modes.next_pocket
        self._add(Step(self.number, "change", self._tip(was), self._tip(modes.at), self._gauge(was), self.state))
        self.trace.steps[-1].seconds = CHANGE_S

    def _switch(self, ms: set[int]) -> None:
        if 3 in ms or 4 in ms:
            self.modes.turning = 1 if 3 in ms else -1
        if ms & {7, 8}:
            self.modes.coolant = True

    def _frames(self, gs: set[float], told: dict[str, float]) -> None:
        modes = self.modes
        for g in gs:
            if g in (17, 18, 19):
                modes.plane = int(g)
            elif g in (90, 91):
                modes.incremental = g == 91
            elif 54 <= g <= 59:
                if int(g) not in self.zeros:
                    raise Alarm(f"nobody knows where G{g:g} lies")
                modes.system = int(g)
            elif g in (98, 99):
                modes.back_to_initial = g == 98
            elif g in (41, 42):
                if "D" not in told and not modes.register:
                    raise Alarm("compensation without D")
                modes.side, modes.register = (1 if g == 41 else -1), int(told.get("D", modes.register))
            elif g == 40:
                modes.side = 0
            elif g == 49:
                modes.length = 0.0
        if 43 in gs:
            self._length(told)

    def _length(self, told: dict[str, float]) -> None:
        """H names the register that holds the length measured for the tool of that pocket."""
        if "H" not in told:
            raise Alarm("G43 without H")
        register = int(told["H"])
        if register and register not in self.bench.pockets:
            raise Alarm(f"H{register} was never measured")
        self.modes.length = self.bench.pockets[register].length if register else 0.0

    # --- what is not a move -------------------------------------------------------------------------------------------

    def _wait(self, told: dict[str, float]) -> None:
        if "P" not in told:
            raise Alarm("a dwell without P")
        at = self._tip(self.modes.at)
        self._add(Step(self.number, "dwell", at, at, self._gauge(self.modes.at), self.state, seconds=told["P"]))

    def _write(self, told: dict[str, float]) -> None:
        base = 53 + int(told.get("P", 1))
        old = self.zeros.get(base, (0.0, 0.0, 0.0))
        x, y, z = (told[axis] * self.unit if axis in told else was for axis, was in zip(AXES, old, strict=True))
        self.zeros[base] = (x, y, z)
        self.trace.written.append(self.number)

    def _shift(self, told: dict[str, float], on: bool) -> None:
        for axis, letter in enumerate(AXES):
            if not on:
                self.modes.shift[axis] = 0.0
            elif letter in told:
                self.modes.shift[axis] += self._programmed(axis) - told[letter] * self.unit
        self.trace.written.append(self.number)

    def _home(self, told: dict[str, float]) -> None:
        """Through the place named, then home, on the axes named (all at once if none)."""
        named = [axis for axis in AXES if axis in told] or list(AXES)
        if any(axis in told for axis in AXES):
            self._go("rapid", self._target(told))
        to = list(self.modes.at)
        for axis in named:
            to[AXES.index(axis)] = self.bench.mill.home[AXES.index(axis)]
        self._go("rapid", to)

    # --- moves --------------------------------------------------------------------------------------------------------

    def _move(self, gs: set[float], told: dict[str, float]) -> None:
        modes = self.modes
        if 80 in gs:
            modes.motion = -1
        for g in (0, 1, 2, 3, 81, 83):
            if g in gs:
                if g > 80 and modes.motion not in (81, 83):
                    modes.initial, modes.cycle = self._programmed(2), {}
                modes.motion = g
        named = {letter: told[letter] for letter in told if letter in "XYZIJKRQ"}
        if not named:
            return
        if 53 in gs:
            to = [
                told[letter] * self.unit if letter in told else was for letter, was in zip(AXES, modes.at, strict=True)
            ]
            self._go("rapid" if modes.motion == 0 else "feed", to)
            return
        if modes.motion < 0:
            raise Alarm("axis words without a motion")
        if modes.motion in NEEDS_FEED and not self.state.feed > 0:
            raise Alarm("no feed was ever given")
        if modes.motion > 80:
            self._drill(named)
        elif modes.motion in (2, 3):
            self._arc(named, modes.motion == 2)
        else:
            self._go("rapid" if modes.motion == 0 else "feed", self._target(named))

    def _arc(self, told: dict[str, float], clockwise: bool) -> None:
        if self.modes.plane != 17 or "K" in told:
            raise Alarm("the words of this arc do not lie in its plane")
        if "I" not in told and "J" not in told:
            raise Alarm("an arc without a centre")
        now, to = self._tip(self.modes.at), self._target(told)
        end = self._tip(to)
        centre = (now[0] + told.get("I", 0.0) * self.unit, now[1] + told.get("J", 0.0) * self.unit)
        if abs(math.dist(now[:2], centre) - math.dist(end[:2], centre)) > self.bench.mill.arc_slack:
            raise Alarm("the two radii of an arc differ")
        self._go("feed", to, centre, turned(now[:2], end[:2], centre, clockwise))

    def _drill(self, told: dict[str, float]) -> None:
        modes, cycle = self.modes, self.modes.cycle
        cycle |= {letter: told[letter] * self.unit for letter in "ZRQ" if letter in told}
        if "Z" not in cycle or "R" not in cycle:
            raise Alarm("a cycle without Z or R")
        if modes.motion == 83 and not cycle.get("Q", 0.0) > 0:
            raise Alarm("G83 without Q")
        start = self._programmed(2)
        approach = start + cycle["R"] if modes.incremental else cycle["R"]
        bottom = approach + cycle["Z"] if modes.incremental else cycle["Z"]
        if bottom > approach:
            raise Alarm("the bottom of a cycle lies over R")
        if start < approach:
            self._to_z("rapid", approach)
        self._go("rapid", self._target({letter: told[letter] for letter in "XY" if letter in told}))
        self._to_z("rapid", approach)
        peck = cycle["Q"] if modes.motion == 83 else approach - bottom
        depth = approach
        while depth > bottom + 1e-9:
            if depth < approach:
                self._to_z("rapid", depth + BACK_OFF)
            depth = max(bottom, depth - peck)
            self._to_z("feed", depth)
            self.trace.steps[-1].peck = peck
            self._to_z("rapid", approach)
        if modes.back_to_initial:
            self._to_z("rapid", max(modes.initial, approach))

    def _to_z(self, kind: str, z: float) -> None:
        self._go(kind, [*self.modes.at[:2], z + self._base(2)])

    # --- frames -------------------------------------------------------------------------------------------------------

    def _base(self, axis: int) -> float:
        """Machine place of programmed zero."""
        modes = self.modes
        return self.zeros[modes.system][axis] + modes.shift[axis] + (modes.length if axis == 2 else 0.0)

    def _programmed(self, axis: int) -> float:
        return self.modes.at[axis] - self._base(axis)

    def _target(self, told: dict[str, float]) -> list[float]:
        to = list(self.modes.at)
        for axis, letter in enumerate(AXES):
            if letter in told:
                value = told[letter] * self.unit
                to[axis] = to[axis] + value if self.modes.incremental else value + self._base(axis)
        return to

    def _gauge(self, was: list[float]) -> tuple[Point, Point]:
        return (was[0], was[1], was[2]), (self.modes.at[0], self.modes.at[1], self.modes.at[2])

    def _tip(self, gauge: list[float]) -> Point:
        """Tip of the tool that really is in the spindle, over the work."""
        x, y, z = self.bench.work.zeros[54]
        cutter = self.state.cutter
        return gauge[0] - x, gauge[1] - y, gauge[2] - z - (cutter.length if cutter is not None else 0.0)

    @property
    def state(self) -> State:
        modes = self.modes
        speed = modes.speed * modes.turning if modes.turning else 0.0
        feed = modes.feed * abs(speed) if modes.per_turn else modes.feed
        return State(modes.pocket, self.really.get(modes.pocket), speed, feed, modes.coolant)

    # --- steps --------------------------------------------------------------------------------------------------------

    def _go(self, kind: str, to: list[float], centre: Flat | None = None, sweep: float = 0.0) -> None:
        was = list(self.modes.at)
        if math.dist(was, to) < 1e-9 and centre is None:
            return
        self.modes.at = list(to)
        state, side = self.state, self.modes.side
        step = Step(self.number, kind, self._tip(was), self._tip(to), self._gauge(was), state, centre, sweep, 0.0, side)
        step.register = self.modes.register if side else 0
        self._add(step)

    def _add(self, step: Step) -> None:
        self.trace.steps.append(step)

    def _note_left_on(self) -> None:
        modes = self.modes
        self.trace.left_on = {
            "spindle": "on" if modes.turning else "off",
            "coolant": "on" if modes.coolant else "off",
            "distance": "incremental" if modes.incremental else "absolute",
            "side": "on" if modes.side else "off",
            "shift": "on" if any(modes.shift) else "off",
            "zeros": "as told" if self.zeros == self.bench.work.zeros else "written",
            "tip": "high" if modes.at[2] > self.bench.mill.home[2] - 1.0 else "low",
        }

    def finished(self) -> Trace:
        trace = self.trace
        if trace.alarm is None and not trace.ended:
            self._note_left_on()
            trace.ended = "text end"
        try:
            trace.steps = compensate(trace.steps, self._radius)
        except AlarmAt as alarm:
            if trace.alarm is None or alarm.line < trace.alarm[0]:
                trace.alarm = (alarm.line, alarm.why)
        if trace.alarm is not None:
            trace.ended = "alarm"
            trace.steps = [one for one in trace.steps if one.line < trace.alarm[0]]
        trace.steps = [part for one in trace.steps for part in self._parts(one)]
        for one in trace.steps:
            one.seconds = one.seconds or self._seconds(one)
        return trace

    def _radius(self, register: int) -> float | None:
        cutter = self.bench.pockets.get(register)
        return None if cutter is None else cutter.radius

    def _parts(self, step: Step) -> list[Step]:
        """A dog-leg rapid as the straight bits that it is made of: every axis at its own speed until it is there."""
        if step.kind != "rapid" or not self.bench.mill.dog_leg:
            return [step]
        way = [b - a for a, b in zip(step.start, step.end, strict=True)]
        takes = [abs(w) / speed for w, speed in zip(way, self.bench.mill.rapid, strict=True)]
        moments = sorted({t for t in takes if t > 1e-9})
        parts, was = [], 0.0
        for moment in moments:
            ends = [_along(step.start, way, takes, t) for t in (was, moment)]
            gauge = [_along(step.gauge[0], way, takes, t) for t in (was, moment)]
            parts.append(replace(step, start=ends[0], end=ends[1], gauge=(gauge[0], gauge[1])))
            was = moment
        return parts

    def _seconds(self, step: Step) -> float:
        if step.kind == "rapid":
            ways = [abs(b - a) for a, b in zip(step.start, step.end, strict=True)]
            return max(way / speed for way, speed in zip(ways, self.bench.mill.rapid, strict=True))
        return step.length() / (step.state.feed / 60) if step.kind == "feed" else 0.0


def _along(start: Point, way: list[float], takes: list[float], t: float) -> Point:
    x, y, z = (
        s + w * (1.0 if takes_it <= t else t / takes_it) for s, w, takes_it in zip(start, way, takes, strict=True)
    )
    return x, y, z
