"""Marks and rules in characters, once for terminals that can draw and once in plain ASCII."""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass

from rich.cells import cell_len
from rich.style import Style
from rich.text import Text

from firstoff.sheets.scale import Case, ScaleDrawing, Size
from firstoff.verdict.question import Answer

ACCENT = Style(color="red")
"""The one accent: against you. The terminal's own red, so that it reads on its own ground."""
STRONG = Style(bold=True)
QUIET = Style(dim=True)
SAYS = Style(italic=True)
PLAIN = Style()


@dataclass(frozen=True, slots=True)
class Glyphs:
    """The characters of one kind of terminal."""

    marks: dict[Answer, str]
    """Three cells each: four outlines, used for nothing else."""
    large: dict[Answer, tuple[str, ...]]
    """The same outlines, four rows of eight cells."""
    hump: str
    """Heights of the band, low to high."""
    pointer: str
    open_pointer: str
    dotted: str
    post: str
    post_foot: str
    post_foot_tick: str
    wall: str
    overlap: str
    beyond: str
    arrow: str
    base: str
    broken: str
    tick: str
    rule: str
    rule_tick: str
    gutter: str
    caret: str
    act: str
    cut: str


DRAWN = Glyphs(
    marks={Answer.CLEAR: "(✓)", Answer.CARE: "<◆>", Answer.STOP: "[×]", Answer.UNJUDGED: "{?}"},
    large={
        Answer.CLEAR: (" ╭────╮ ", " │  ╱ │ ", " │╲╱  │ ", " ╰────╯ "),
        Answer.CARE: ("   ╱╲   ", "  ╱  ╲  ", "  ◥██◤  ", "   ◥◤   "),
        Answer.STOP: (" ┏━━━━┓ ", " ┃ ╲╱ ┃ ", " ┃ ╱╲ ┃ ", " ┗━━━━┛ "),
        Answer.UNJUDGED: (" ╭╌╌╌╌╮ ", " ┆ ?  ┆ ", " ┆    ┆ ", " ╰╌╌╌╌╯ "),
    },
    hump="▁▂▃▄▅",
    pointer="▼",
    open_pointer="▽",
    dotted="┈",
    post="┃",
    post_foot="┸",
    post_foot_tick="╂",
    wall="╱",
    overlap="╳",
    beyond="╍",
    arrow="►",
    base="─",
    broken="╌",
    tick="┬",
    rule="─",
    rule_tick="┬",
    gutter="▏",
    caret="▲",
    act="→ ",
    cut="…",
)
ASCII = Glyphs(
    marks={Answer.CLEAR: "(v)", Answer.CARE: "<->", Answer.STOP: "[X]", Answer.UNJUDGED: "{?}"},
    large={
        Answer.CLEAR: (" .----. ", " |  / | ", " |\\/  | ", " '----' "),
        Answer.CARE: ("   /\\   ", "  /  \\  ", "  \\##/  ", "   \\/   "),
        Answer.STOP: (" +----+ ", " | \\/ | ", " | /\\ | ", " +----+ "),
        Answer.UNJUDGED: (" . - -. ", " : ?  : ", " :    : ", " '- - ' "),
    },
    hump=".:==#",
    pointer="V",
    open_pointer="v",
    dotted=".",
    post="|",
    post_foot="|",
    post_foot_tick="|",
    wall="/",
    overlap="X",
    beyond="=",
    arrow=">",
    base="-",
    broken="-",
    tick="+",
    rule="-",
    rule_tick="+",
    gutter="|",
    caret="^",
    act="-> ",
    cut="...",
)

_IN_ASCII = {
    "\u2212": "-", "–": "-", "—": "-", "µ": "u", "μ": "u", "·": "*", "×": "x", "±": "+/-", "Ø": "dia ", "°": " deg", "²": "2", "³": "3",
    "…": "...", "’": "'", "‘": "'", "“": '"', "”": '"', "→": "->", "\u202f": " ", "\u00a0": " ",
}  # fmt: skip


def glyphs_for(encoding: str) -> Glyphs:
    """The characters that an encoding can carry."""
    return DRAWN if encoding.lower().replace("_", "-").startswith(("utf-8", "utf8", "utf-16", "utf-32")) else ASCII


def tidy(text: str, encoding: str) -> str:
    """Text as this terminal can show it: no control characters (a program may hold any), no characters it cannot encode."""
    return _in_letters(text, glyphs_for(encoding) is DRAWN)


def _in_letters(text: str, drawn: bool) -> str:
    out = []
    for letter in text.expandtabs(4):
        if unicodedata.category(letter)[0] == "C" and letter != "\n":
            out.append("\N{REPLACEMENT CHARACTER}" if drawn else "?")
        elif drawn:
            out.append(letter)
        elif letter in _IN_ASCII:
            out.append(_IN_ASCII[letter])
        else:
            out.append(letter if letter.isascii() else "?")
    return "".join(out)


def cropped(text: str, width: int, glyphs: Glyphs) -> str:
    """Text cut to `width` cells, with a sign that it was."""
    if cell_len(text) <= width:
        return text
    kept = ""
    for letter in text:
        if cell_len(kept + letter + glyphs.cut) > width:
            break
        kept += letter
    return kept + glyphs.cut


# --- the ruled scale -------------------------------------------------------------------------------------------------


class _Row:
    """Cells from one margin left of the rule to one margin right of it, each with a style."""

    def __init__(self, width: int) -> None:
        self.cells = [" "] * (width + 3)
        self.styles = [PLAIN] * (width + 3)

    def put(self, at: float, text: str, style: Style = PLAIN) -> None:
        for number, letter in enumerate(text):
            cell = round(at) + 1 + number
            if 0 <= cell < len(self.cells):
                self.cells[cell], self.styles[cell] = letter, style

    def text(self) -> Text:
        row = Text(end="", no_wrap=True)
        for letter, style in zip(self.cells, self.styles, strict=True):
            row.append(letter, style)
        return row


def scale_rows(drawing: ScaleDrawing, glyphs: Glyphs) -> list[Text]:
    """The rows of a scale, each `width` + 3 cells wide: what stands on the rule, the rule, the numerals. None for a count."""
    width = round(drawing.width)
    if drawing.case is Case.COUNT:
        return []
    above, rule, numerals = _Row(width), _Row(width), _Row(width)
    if drawing.case is Case.NOTHING:
        above.put(0, cropped(_in_letters(drawing.phrase, glyphs is DRAWN), width + 2, glyphs), QUIET)
        rule.put(0, (glyphs.broken + (" " if glyphs is ASCII else glyphs.broken)) * (width // 2) + glyphs.broken, QUIET)
        return [above.text(), rule.text()]
    _rule(drawing, glyphs, rule)
    for numeral in drawing.numerals:
        numerals.put(numeral.left, _in_letters(numeral.text, glyphs is DRAWN), QUIET)
    numerals.put(drawing.unit_left, _in_letters(drawing.unit, glyphs is DRAWN), QUIET)
    _wall(drawing, glyphs, above)
    _band(drawing, glyphs, above)
    _post(drawing, glyphs, above, rule)
    _pointer(drawing, glyphs, above)
    return [above.text(), rule.text(), numerals.text()]


def _rule(drawing: ScaleDrawing, glyphs: Glyphs, row: _Row) -> None:
    row.put(0, glyphs.base * (round(drawing.end) + 1))
    for tick in drawing.ticks:
        if tick.size is Size.MAJOR:
            row.put(tick.at, glyphs.tick)


def _post(drawing: ScaleDrawing, glyphs: Glyphs, above: _Row, rule: _Row) -> None:
    if drawing.stop is None:
        return
    above.put(drawing.stop, glyphs.post, STRONG)
    on_tick = any(round(tick.at) == round(drawing.stop) for tick in drawing.ticks)
    rule.put(drawing.stop, glyphs.post_foot_tick if on_tick else glyphs.post_foot, STRONG)


def _wall(drawing: ScaleDrawing, glyphs: Glyphs, row: _Row) -> None:
    """Full hatch where the stop has surely been passed, every second cell where that is in doubt."""
    if drawing.stop is None or drawing.slope is None:
        return
    begins, sure = round(drawing.slope[0]), round(drawing.slope[1])
    for at in range(begins, round(drawing.end) + 1):
        if at > sure or (at - round(drawing.stop)) % 2 == 0 or begins == sure:
            row.put(at, glyphs.wall, QUIET)


def _band(drawing: ScaleDrawing, glyphs: Glyphs, row: _Row) -> None:
    if drawing.band is None:
        return
    low, high = round(drawing.band[0]), round(drawing.band[1])
    middle = drawing.pointer if drawing.pointer is not None else drawing.end
    overlap = drawing.overlap
    for at in range(low, high + 1):
        half = (middle - drawing.band[0]) if at <= middle else (drawing.band[1] - middle)
        t = 2.0 * abs(at - middle) / max(half, 0.5)
        if t > 2.0 + 1e-9:
            continue
        height = max(0.0, (math.exp(-t * t / 2) - math.exp(-2.0)) / (1 - math.exp(-2.0)))
        letter = (
            glyphs.dotted if drawing.open else glyphs.hump[min(int(height * len(glyphs.hump)), len(glyphs.hump) - 1)]
        )
        if overlap is not None and round(overlap[0]) <= at <= round(overlap[1]) and high > low:
            row.put(at, glyphs.overlap, ACCENT + STRONG if drawing.accent else PLAIN)
        else:
            row.put(at, letter)


def _pointer(drawing: ScaleDrawing, glyphs: Glyphs, row: _Row) -> None:
    style = ACCENT + STRONG if drawing.accent else STRONG
    if drawing.off:
        begins = max(round(drawing.end) - 3, round(drawing.stop or 0) + 1)
        row.put(begins, glyphs.beyond * (round(drawing.end) - begins) + glyphs.arrow, style)
    if drawing.phrase:
        _phrase(drawing, glyphs, row)
    if drawing.pointer is not None:
        row.put(drawing.pointer, glyphs.open_pointer if drawing.open else glyphs.pointer, style)


def _phrase(drawing: ScaleDrawing, glyphs: Glyphs, row: _Row) -> None:
    """The phrase that names what is missing: in the place where it would stand."""
    end = round(drawing.end)
    if drawing.case is Case.NO_DEMAND and drawing.stop is not None:
        row.put(0, glyphs.dotted * (round(drawing.stop) - 1), QUIET)
        row.put(1, f" {drawing.phrase} ", QUIET)
        return
    if drawing.pointer is not None:
        begins = round(drawing.pointer) + 2
        room = end + 2 - begins
        phrase = drawing.phrase if len(drawing.phrase) >= room - 1 else f" {drawing.phrase} "
        before = max(0, (room - len(phrase)) // 2)
        row.put(begins, glyphs.dotted * before + phrase + glyphs.dotted * (room - before - len(phrase)), QUIET)
