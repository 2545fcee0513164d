"""What every part of interpreting works with: the state, the origins, the record and the findings of one reading."""

from __future__ import annotations

import math
from collections.abc import Sequence

from firstoff.program import _kernels as k
from firstoff.program.blocks import Assignment, Jump, Word
from firstoff.program.control import Control
from firstoff.program.findings import Findings
from firstoff.program.frames import ROTARY, UNKNOWN_ROW, Origins
from firstoff.program.moves import SYSTEM_NAMES, Base, Kind, ModalState, What
from firstoff.program.parameters import Parameters
from firstoff.program.record import Record
from firstoff.program.state import Start, State
from firstoff.program.words import AXIS_LETTERS, Order

ALL_AXES = 7
LEAST_INCREMENT = {20: 0.0001}
"""Program units that 1 without a point means on controls that count least increments; 0.001 but for inch (common practice)."""
LEAST_INCREMENT_MM = 0.001
REPORT_ARC_TOLERANCE_MM = {20: 0.0002 * 25.4, 21: 0.002, 0: 0.002}
"""Greatest difference of start and end radius by units (NISTIR 6556, 3.5.3.2)."""
START_SYSTEM = "the work system used last, which the program does not name"
"""Veil until a system is named, where the control starts in the one it used last."""
COMMENT_LINES = 5
"""How far from a stop its comments are looked for."""
ROUNDING_MM = 1e-7
"""Slack for sums of numbers that are exact in the program."""


class Reader:
    """One reading under way."""

    def __init__(self, control: Control, start: Start, rows: int = 0) -> None:
        self.control = control
        self.start = start
        self.state = State()
        self.origins = Origins(start)
        self.findings = Findings()
        self.record = Record(self.state, rows)
        self.parameters = Parameters.of(control)
        for number, value in start.parameters.items():
            self.parameters.give(number, value)
        self.text: tuple[str, ...] = ()
        """Lines of the main text."""
        self.end_mm: tuple[float | None, float | None, float | None] | None = None
        self.before_end: ModalState | None = None
        self.start_asked = False
        """That the program names no work system is on record."""
        self.unit_moves = 0
        """Moves made before a unit was stated, where one was stated later."""
        self.where = ""
        """File and line of a subprogram in another file, put before what is said about it."""
        self._begin()

    def _begin(self) -> None:
        state, origins = self.state, self.origins
        state.whole[k.PLAIN] = not self.control.report
        # looked at without asking: it is asked, and counts as used, only where a number has no point
        state.whole[k.LEAST] = self.control.said.get("whole_numbers") == "least increment"
        unit = self.control.answer("units_at_start")
        state.set_units({"mm": 21, "inch": 20}.get(str(unit), 0))
        base = Base.START if self.start.position_mm is None else Base.MACHINE
        row = origins.row_of_base(base, Base.G54)
        for axis in range(3):
            state.stand(axis, 0.0 if self.start.position_mm is None else self.start.position_mm[axis], row)
        if self.control.answer("wcs_at_start") != "G54":
            state.veil.add(START_SYSTEM)
        self.refresh(told=True)
        self.set_arc_tolerance()

    # --- telling ---

    @property
    def line(self) -> int:
        """Line of the main text that is being run."""
        return self.state.spoken_line or self.state.line

    def fault(self, at: Word | Assignment | Jump | None, what: str, loses: bool = False) -> None:
        column, text = _place(at)
        self.findings.fault(self.line, column, text, self.where + what, loses)

    def depends(self, at: Word | Assignment | Jump | None, what: str, key: str, loses: bool = False) -> None:
        column, text = _place(at)
        self.findings.depends(self.line, column, text, self.where + what, key, loses)

    def note(self, kind: str, at: Word | Assignment | Jump | None, what: str) -> None:
        column, text = _place(at)
        self.findings.note(kind, self.line, column, text, self.where + what)

    # --- lengths ---

    def length(self, order: Order, letter: str) -> float:
        """The number of a length word in mm (or the file's own unit where none is stated)."""
        value = order.take(letter) or 0.0
        self.ask_units(order, letter)
        word = order.word_of(letter)
        if word is not None and not word.pointed and self.control.answer("whole_numbers") == "least increment":
            if self.state.units == 20:
                return value * LEAST_INCREMENT[20] * self.state.unit
            return value * LEAST_INCREMENT_MM
        return value * self.state.unit

    def ask_units(self, order: Order, letter: str) -> None:
        """Put on record that a length is read before any unit is stated."""
        if self.state.units == 0 and not self.state.units_asked:
            self.state.units_asked = 1
            what = "no unit is stated before this length: write G21 (mm) or G20 (inch) first, or say what the control starts in"
            self.depends(order.word_of(letter), what, "units_at_start")

    def set_arc_tolerance(self) -> None:
        """mm below which no control minds that an arc's end and start radius differ."""
        stated = self.control.answer("arc_tolerance")
        units = self.state.units
        tolerance = float(stated) if isinstance(stated, float | int) else REPORT_ARC_TOLERANCE_MM[units]
        self.state.arc_tolerance = tolerance + ROUNDING_MM

    # --- positions ---

    def refresh(self, told: bool = False) -> None:
        """Take over the frame that the origins make now; axes whose coordinate in it is certain are told in it.

        An axis whose origin is not known is lost with it; `told` = the caller has said why.
        """
        state, origins = self.state, self.origins
        row = origins.active(state)
        number = origins.row(row)
        state.frame = number
        state.blind = sum(1 << axis for axis in range(3) if row.places[axis].base == Base.UNKNOWN)
        if state.veil:
            state.blind = ALL_AXES
        for axis in range(3):
            apart = origins.apart(axis, state.axis_frame(axis), number, by_start=False)
            if apart is not None:
                state.stand(axis, state.position(axis) + apart, number)
        new = state.blind & ~state.lost
        if new and not told:
            what = f"the origin of {_names(new)} in {SYSTEM_NAMES[state.system - 1]} is not known: it was set from a place that is not"
            self.fault(None, what, loses=True)
        if START_SYSTEM in state.veil and not self.start_asked:
            return  # told and lost with the first axis word, if no system is named before it
        if new and state.veil == {ROTARY}:
            state.lost |= new  # the machine knows where it stands, but not where the part is
        elif new:
            self.lose(new)

    def express(self, axis: int) -> bool:
        """Tell the axis's coordinate in the frame in force, with the numbers of `Start` if need be; False if nobody knows."""
        state = self.state
        apart = self.origins.apart(axis, state.axis_frame(axis), state.frame, by_start=True)
        if apart is None:
            return False
        state.stand(axis, state.position(axis) + apart, state.frame)
        return True

    def lose(self, axes: int) -> None:
        """These axes stand where nobody knows, until they are given absolutely. Whoever calls this tells why."""
        state = self.state
        for axis in range(3):
            if axes >> axis & 1:
                state.stand(axis, math.nan, UNKNOWN_ROW)
        state.lost |= axes

    def lose_for_good(self, why: str) -> None:
        """Nothing is certain from here to the end."""
        self.state.veil.add(why)
        self.refresh(told=True)
        self.lose(ALL_AXES)

    def settle(self, axes: int) -> None:
        """These axes were given absolutely: they are certain again, unless nothing can make them so."""
        state = self.state
        if not state.lost:
            return
        state.lost = (state.lost & ~axes) | (state.blind & axes)
        if not state.lost:
            self.findings.found(self.line)

    def lost_where(self, axis: int) -> tuple[str, str]:
        """Why the place of an axis cannot be told in the frame in force: (words, path of the fact that would tell it)."""
        base = self.origins.at(self.state.axis_frame(axis), axis).base
        letter = AXIS_LETTERS[axis]
        if base == Base.START:
            return f"{letter} was never given before", ""
        if base == Base.UNKNOWN:
            return f"{letter} is not known here", ""
        if Base.G54 <= base <= Base.G59_3:
            name = SYSTEM_NAMES[base - 1]
            return f"{letter} was last given in {name}, or with another length offset", f"job.offset.{name}"
        return f"{letter} was last given in machine coordinates", f"job.offset.{SYSTEM_NAMES[self.state.system - 1]}"

    def rely(self, bits: int) -> None:
        """Note what a block relies on that the program never stated."""
        need = bits & ~self.state.stated
        if need and not self.state.relied:
            self.state.relied_line = self.line
        self.state.relied |= need

    def keep_end(self) -> None:
        """Keep where the axes stand, in the system in force and the program's unit."""
        end: list[float | None] = []
        for axis in range(3):
            sure = not self.state.lost >> axis & 1 and self.express(axis)
            end.append(self.state.position(axis) / self.state.unit if sure else None)
        self.end_mm = (end[0], end[1], end[2])

    def around(self, line: int) -> str:
        """Comment lines just above and below a line of the main text."""
        near = []
        for step in (-1, 1):
            at = line + step
            while 1 <= at <= len(self.text) and abs(at - line) <= COMMENT_LINES:
                text = self.text[at - 1].strip()
                if text and not text.startswith(("(", ";")):
                    break
                near.append(text)
                at += step
        return " ".join(near)

    # --- moves ---

    def move(
        self,
        kind: Kind,
        target: Sequence[float],
        stands: Sequence[int],
        settled: int = 0,
        arc: int = -1,
        feed: float | None = None,
        flags: int = 0,
        parent: int = -1,
        spindle: float | None = None,
    ) -> None:
        """Write a move to `target` (three coordinates in the frames `stands`); `settled` are the axes given absolutely."""
        state = self.state
        now = state.flags | int(flags)
        if state.lost:
            now |= k.UNSURE
            self.settle(settled)
        if state.restore:
            now |= k.RESTORED
            state.restore = 0
        for axis in range(3):
            state.stand(axis, target[axis], stands[axis])
        self.record.move(
            kind,
            arc,
            state.feed if feed is None else feed,
            state.spindle if spindle is None else spindle,
            now,
            self.line,
            parent,
        )

    def spindle_event(self, stopped: bool = False) -> None:
        """Put the spindle's state among the events: number 3 or 4 as it turns, 0 stopped."""
        turning = 0 if stopped else self.state.turning
        value = self.state.spindle if turning else 0.0
        self.record.event(What.SPINDLE, self.line, {1: 3, -1: 4, 0: 0}[turning], value)

    def here(self) -> list[float]:
        return [self.state.position(axis) for axis in range(3)]

    def stands(self) -> list[int]:
        return [self.state.axis_frame(axis) for axis in range(3)]


def _names(axes: int) -> str:
    return " ".join(letter for axis, letter in enumerate(AXIS_LETTERS) if axes >> axis & 1)


def _place(at: Word | Assignment | Jump | None) -> tuple[int, str]:
    if at is None:
        return 1, ""
    return at.column, "" if isinstance(at, Jump) else at.text
