"""Blocks to text: the one place that knows how a program is spelt.

Legal to the letter of the report (NISTIR 6556) and by custom alike: G80 on a line of its own, a point in every coordinate, words once a
block, one M a block, no motion beside M5 or M9, both in-plane words in every arc, `%` first and last, M30 or M2 at the end.
"""

from __future__ import annotations

import math
import textwrap
import unicodedata
from collections.abc import Iterable

from firstoff.errors import Fault, InputError
from firstoff.write.blocks import (
    Arc,
    Block,
    Change,
    Coolant,
    CoolantTo,
    Drill,
    Dwell,
    Halt,
    LengthOn,
    Line,
    Rapid,
    Remark,
    ReturnTo,
    SafeStart,
    Side,
    SpindleOff,
    SpindleOn,
    WorkSystem,
)
from firstoff.write.language import RE_ENTRY_MM, Language

REMARK_WIDTH = 72
"""Characters of a comment line; many displays show no more."""
MESSAGE_WIDTH = 200
"""Characters of an operator message: one block, and a block holds 256 at most (NISTIR 6556, 3.3)."""
SAME_POINT_MM = 1e-9
"""Start and end of an arc nearer than this are one point: a full turn."""
COMPENSATION = {Side.LEFT: "G41", Side.RIGHT: "G42", Side.OFF: "G40"}
COOLANT = {Coolant.OFF: "M9", Coolant.MIST: "M7", Coolant.FLOOD: "M8"}
SPELLINGS = {"µ": "u", "Ø": "D", "ø": "D", "°": " deg", "×": "x", "·": " ", "–": "-", "−": "-", "ß": "ss"}
"""What stands in a comment for signs that a control may not know."""


def text_of(blocks: Iterable[Block], language: Language) -> str:
    """The program text, from `%` to `%`, with the end code. Raises `InputError` for what this control cannot be told."""
    writer = _Writer(language.checked())
    for block in blocks:
        writer.write(block)
    writer.line(language.ends_with)
    return "\n".join(["%", *writer.lines, "%"]) + "\n"


def lines_of(blocks: Iterable[Block], language: Language) -> list[str]:
    """The lines of a part of a program, without beginning and end."""
    writer = _Writer(language.checked())
    for block in blocks:
        writer.write(block)
    return writer.lines


def plain_text(text: str) -> str:
    """ASCII for a comment: brackets become square, accents fall off, control characters become spaces."""
    for sign, spelling in SPELLINGS.items():
        text = text.replace(sign, spelling)
    ascii_only = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    spaced = "".join(" " if ord(letter) < 32 or ord(letter) == 127 else letter for letter in ascii_only)
    return " ".join(spaced.replace("(", "[").replace(")", "]").replace("%", " percent").split())


def spell(value: float, digits: int) -> str:
    """A number with its point, without needless zeros and never as minus zero: 10 -> ``10.0``."""
    text = f"{value:.{digits}f}".rstrip("0")
    text = text + "0" if text.endswith(".") else text
    return "0.0" if text == "-0.0" else text


class _Writer:
    """Keeps what the control would know at this line, so that only what changes is written."""

    def __init__(self, language: Language) -> None:
        self.lines: list[str] = []
        self._language = language
        self._number = 0
        self._motion = ""
        self._feed = ""
        self._text: dict[str, str] = {}  # last word of each axis in the work system, as written
        self._true: dict[str, float] = {}  # the same in mm, before rounding

    def line(self, text: str, numbered: bool = True) -> None:
        if self._language.numbered and numbered:
            self._number = self._number % 99990 + 10  # the report knows five digits (3.3.1)
            text = f"N{self._number} {text}"
        self.lines.append(text)

    def write(self, block: Block) -> None:
        match block:
            case Rapid():
                self._rapid(block)
            case Line():
                self._line(block)
            case Arc():
                self._arc(block)
            case Drill():
                self._drill(block)
            case Dwell():
                self._dwell(block.seconds)
            case SpindleOn():
                self.line(f"S{round(block.speed_per_min)} {'M3' if block.clockwise else 'M4'}")
            case SpindleOff():
                self.line("M5")
            case CoolantTo():
                self.line(COOLANT[block.coolant])
            case Change():
                self.line(f"T{block.number} M6")
                self._forget()
            case LengthOn():
                self._text["Z"], self._true["Z"] = self._spell(block.z_mm), block.z_mm
                self._motion = "G0"
                self.line(f"G0 G43 Z{self._text['Z']} H{block.register}")
            case SafeStart():
                self._safe_start()
            case WorkSystem():
                self.line(f"{block.system} G90")
                self._forget()
            case Halt():
                for part in textwrap.wrap(plain_text(block.message), MESSAGE_WIDTH):
                    self.line(f"(MSG, {part})", numbered=False)
                self.line("M1" if block.optional else "M0")
            case Remark():
                for part in textwrap.wrap(plain_text(block.text), REMARK_WIDTH):
                    self.line(f"({part})", numbered=False)

    # --- motion ---

    def _rapid(self, block: Rapid) -> None:
        wanted = {"X": block.x_mm, "Y": block.y_mm, "Z": block.z_mm}
        if block.machine:
            words = [f"{axis}{self._spell(value)}" for axis, value in wanted.items() if value is not None]
            self.line(" ".join(["G53 G0", *words]))
            self._motion = "G0"
            for axis, value in wanted.items():
                if value is not None:
                    self._text.pop(axis, None)
                    self._true.pop(axis, None)
            return
        words = self._axes(wanted)
        if words:
            self.line(" ".join([*self._mode("G0"), *words]))

    def _line(self, block: Line) -> None:
        forced = block.side is not None  # a compensation word without a move has another meaning on every control
        words = self._axes({"X": block.x_mm, "Y": block.y_mm, "Z": block.z_mm}, forced)
        if not words:
            return
        if forced:
            self._motion = ""  # said in full: whoever looks for the lead finds it
        head = self._mode("G1")
        if block.side is not None:
            head.append(COMPENSATION[block.side])
            if block.side is not Side.OFF:
                words.append(f"D{block.register}")
        self.line(" ".join([*head, *words, *self._feed_word(block.feed_mm_per_min)]))

    def _arc(self, block: Arc) -> None:
        start = (self._true["X"], self._true["Y"])
        full_turn = math.dist(start, (block.x_mm, block.y_mm)) < SAME_POINT_MM
        start_text = (self._text["X"], self._text["Y"])
        end_text = (self._spell(block.x_mm), self._spell(block.y_mm))
        if not full_turn and start_text == end_text:  # so short that rounding would make a full turn of it
            self._line(Line(block.feed_mm_per_min, z_mm=block.z_mm))
            return
        offset = self._centre_offset(block, start_text, end_text)
        rise = self._axes({"Z": block.z_mm})
        self._keep("X", end_text[0], block.x_mm)
        self._keep("Y", end_text[1], block.y_mm)
        centre = [f"I{spell(offset[0], self._language.digits)}", f"J{spell(offset[1], self._language.digits)}"]
        words = [f"X{end_text[0]}", f"Y{end_text[1]}", *rise, *centre]
        mode = self._mode("G2" if block.clockwise else "G3")
        self.line(" ".join([*mode, *words, *self._feed_word(block.feed_mm_per_min)]))

    def _centre_offset(self, block: Arc, start_text: tuple[str, str], end_text: tuple[str, str]) -> tuple[float, float]:
        """I and J in the program's unit, as written: of the roundings next to the true centre the one whose two radii agree best.

        Controls hold both radii against each other (NISTIR 6556, 3.5.3.2), and the ends are rounded too.
        """
        unit, last_place = self._language.mm_per_unit, 10.0**-self._language.digits
        start = (float(start_text[0]), float(start_text[1]))
        end = (float(end_text[0]), float(end_text[1]))
        centre = (block.centre_x_mm / unit - start[0], block.centre_y_mm / unit - start[1])
        best, least = centre, math.inf
        for di in (0, -1, 1):
            for dj in (0, -1, 1):
                i = round(round(centre[0], self._language.digits) + di * last_place, self._language.digits)
                j = round(round(centre[1], self._language.digits) + dj * last_place, self._language.digits)
                gap = abs(math.hypot(i, j) - math.dist((start[0] + i, start[1] + j), end))
                if gap < least - last_place / 100:
                    best, least = (i, j), gap
        return best

    def _drill(self, block: Drill) -> None:
        if block.peck_mm is not None and not self._language.canned_pecks:
            self._pecks_written_out(block)
            return
        self._rapid(Rapid(z_mm=block.start_z_mm))
        self._rapid(Rapid(*block.holes[0]))
        code = "G81" if block.peck_mm is None else "G83"
        back = "G98" if block.return_to is ReturnTo.START else "G99"
        for number, (x, y) in enumerate(block.holes):
            words = [f"X{self._spell(x)}", f"Y{self._spell(y)}"]
            if number == 0:
                words += [f"Z{self._spell(block.z_mm)}", f"R{self._spell(block.approach_z_mm)}"]
                words += [f"Q{self._spell(block.peck_mm)}"] if block.peck_mm is not None else []
                words = [code, back, *words, f"F{self._spell_feed(block.feed_mm_per_min)}"]
            self.line(" ".join(words))
            self._keep("X", self._spell(x), x)
            self._keep("Y", self._spell(y), y)
        self.line("G80")
        self._motion, self._feed = "", ""
        self._text.pop("Z", None)
        self._true.pop("Z", None)

    def _pecks_written_out(self, block: Drill) -> None:
        peck = block.peck_mm or math.inf
        for x, y in block.holes:
            back = block.start_z_mm if block.return_to is ReturnTo.START else block.approach_z_mm
            self._rapid(Rapid(x_mm=x, y_mm=y))
            self._rapid(Rapid(z_mm=block.approach_z_mm))
            z = block.approach_z_mm
            while z > block.z_mm:
                z = max(z - peck, block.z_mm)
                self._line(Line(block.feed_mm_per_min, z_mm=z))
                self._rapid(Rapid(z_mm=block.approach_z_mm if z > block.z_mm else back))
                if z > block.z_mm and z + RE_ENTRY_MM < block.approach_z_mm:
                    self._rapid(Rapid(z_mm=z + RE_ENTRY_MM))

    def _dwell(self, seconds: float) -> None:
        if self._language.dwell_unit is None:
            raise InputError(
                Fault(
                    "a dwell cannot be written: nobody said what P of G4 counts",
                    f"{seconds:g} s",
                    '[control] dwell_p = "s" or "ms" in machine.toml',
                )
            )
        factor = 1000.0 if self._language.dwell_unit == "ms" else 1.0
        self.line(f"G4 P{spell(seconds * factor, 3)}")

    def _safe_start(self) -> None:
        units = "G20" if self._language.units == "inch" else "G21"
        mode = [self._language.path_mode] if self._language.path_mode else []
        self.line(" ".join([units, "G17", "G40", "G49", "G90", "G94", *mode]))
        self.line("G80")
        self._forget()

    # --- words ---

    def _spell(self, value_mm: float) -> str:
        return spell(value_mm / self._language.mm_per_unit, self._language.digits)

    def _spell_feed(self, feed_mm_per_min: float) -> str:
        text = spell(feed_mm_per_min / self._language.mm_per_unit, 2)
        if float(text) == 0.0:
            raise InputError(
                Fault("the feed is too small to be written", f"{feed_mm_per_min:g} mm/min", "0.01 or more")
            )
        return text

    def _feed_word(self, feed_mm_per_min: float) -> list[str]:
        text = self._spell_feed(feed_mm_per_min)
        if text == self._feed:
            return []
        self._feed = text
        return [f"F{text}"]

    def _mode(self, code: str) -> list[str]:
        if code == self._motion:
            return []
        self._motion = code
        return [code]

    def _axes(self, wanted: dict[str, float | None], forced: bool = False) -> list[str]:
        """Words of the axes that really move."""
        words = []
        for axis, value in wanted.items():
            if value is None:
                continue
            text = self._spell(value)
            if forced or text != self._text.get(axis):
                words.append(axis + text)
            self._keep(axis, text, value)
        return words

    def _keep(self, axis: str, text: str, value_mm: float) -> None:
        self._text[axis], self._true[axis] = text, value_mm

    def _forget(self) -> None:
        """After a change of tool or system nothing is taken for granted."""
        self._motion, self._feed = "", ""
        self._text.clear()
        self._true.clear()
