"""The blocks of a set-up sheet: each is a piece of HTML with the height it takes on paper, so that a sheet never runs onto a second page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from firstoff.facts.fact import Fact
from firstoff.sheets.paper_text import BOLD, SERIF, SMALL, fitted, height_of, short, width_of
from firstoff.sheets.scale_svg import INK, mark_svg
from firstoff.sheets.sheet_facts import StopRow, Zero
from firstoff.sheets.wording import RISKS, Headline, first_words, lead, minus
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer, Answered
from firstoff.verdict.words import MM_PER_INCH, ShopUnits, listed

COLUMN = 180.0
"""Width of the sheet's column on A4 (15 mm margins) and on Letter, mm."""
HEADING = 7.4
"""A section's name with its rule, mm."""


@dataclass(frozen=True, slots=True)
class Block:
    """Part of a sheet and the height it takes, mm."""

    html: str
    height: float


def heading(words: str) -> str:
    return f"<h2>{escape(words)}</h2>"


# --- head ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Cell:
    """One fact of the title block: `program` says that it is text of the program; `keep` ends it and is never cut off."""

    name: str
    value: str
    program: bool = False
    keep: str = ""


def title_block(title: str, printed: str, cells: Sequence[Cell], first_block: Cell) -> Block:
    """What the sheet is of, and the program's stamp, in rows of three. `cells` are eight: the first block, which is compared letter by
    letter, is the seventh where it has room there, else it has a row of its own."""
    room = CELLS[0] - CELL_NAME
    inside = len(first_block.value) * MONO_MM <= room
    rows = [*cells[:6], *([first_block] if inside else []), *cells[6:]]
    parts = [f"<div>{_cell(cell, CELLS[number % 3] - CELL_NAME)}</div>" for number, cell in enumerate(rows)]
    if not inside:
        parts.append(f'<div class="broad">{_cell(first_block, sum(CELLS) + 2 * CELL_GAP - CELL_NAME)}</div>')
    tall = CELL_ROW * (3 if inside else 4)
    return Block(
        f'<header><h1>{escape(short(title, 40))}</h1><p class="kind">Set-up sheet, {escape(printed)}</p></header>'
        f'<div class="cells" style="height:{tall + 0.6:g}mm">{"".join(parts)}</div>',
        9.5 + tall + 0.6,
    )


def _cell(cell: Cell, room: float) -> str:
    tag = "code" if cell.program else "b"
    kept = width_of(cell.keep, SMALL) * BOLD
    said = fitted(cell.value, room, MONO_MM) if cell.program else fitted(cell.value, room - kept, wider=BOLD)
    return f"<span>{escape(cell.name)}</span> <{tag}>{escape(said + cell.keep)}</{tag}>"


CELLS, CELL_GAP, CELL_NAME, CELL_ROW = (70.0, 55.0, 51.0), 2.0, 17.8, 4.8
"""Columns of the title block, mm, the gap between them, the room that a cell's name takes, and the height of a row."""
MONO_MM = 1.92
"""Advance of program text in the widest of its fallback fonts."""


def head_rule(scale: str, inch: bool) -> Block:
    """A rule over the column, graduated so that the print can be checked with a steel rule."""
    step, whole, unit = (25.4 / 16, 16, "true inches") if inch else (1.0, 10, "true millimetres")
    ticks, numerals = [], []
    for number in range(int(COLUMN / step) + 1):
        at = number * step
        tall = 3.4 if number % whole == 0 else 2.4 if number % (whole // 2) == 0 else 1.5
        ticks.append(f"M{at:.3f} 0.3 V{0.3 + tall:.2f}")
        figure = number // whole if inch else number
        if number % whole == 0 and (inch or number in (0, 50, 100)) and at < COLUMN - 62:
            numerals.append(f'<text class="note" x="{max(at, 0.9):.2f}" y="6.8" text-anchor="middle">{figure}</text>')
    told = f"{unit}; drawing {scale}" if scale else unit
    return Block(
        f'<svg class="rule" aria-hidden="true" viewBox="0 0 {COLUMN:g} 7.4" style="width:{COLUMN:g}mm;height:7.4mm">'
        f'<path d="M0 0.3 H{COLUMN:g}" stroke="{INK}" stroke-width="0.45"/>'
        f'<path d="{" ".join(ticks)}" stroke="{INK}" stroke-width="0.2" fill="none"/>{"".join(numerals)}'
        f'<text class="note" x="{COLUMN:g}" y="6.8" text-anchor="end">{escape(told)}</text></svg>',
        9.0,
    )


def verdict_block(
    examination: Examination, headline: Headline, missing: Sequence[str], letters: tuple[int, int]
) -> Block:
    """Mark, word, the sentence and the act, and the four answers. `letters` bounds sentence and act."""
    verdict = examination.verdict
    word = {Answer.STOP: "Not to be run."}.get(verdict, f"{verdict.value.capitalize()}.")
    wide = COLUMN - MARK_MM - 2 * VERDICT_GAP - (STOP_WORD if verdict is Answer.STOP else WORD)
    sentence, act = short(headline.sentence, letters[0]), short(headline.act, letters[1])
    if verdict is Answer.UNJUDGED and missing:
        sentence = short(f"Missing: {listed(list(missing), 7)}.", letters[0] + 30)
        act = short(headline.waits or headline.sentence, letters[1])
    tall = height_of(sentence, wide, 13, BOLD * SERIF) + height_of(act, wide, 10.5, SERIF) + 6.6
    risks = "".join(
        f"<span>{mark_svg(examination.risks[risk], 4)} {risk.value} <b>{examination.risks[risk].value}</b></span>"
        for risk in RISKS
    )
    return Block(
        f'<section class="verdict {verdict.value}">{mark_svg(verdict, MARK_MM)}<p class="word">{escape(word)}</p>'
        f'<div><p class="sentence">{escape(sentence)}</p><p class="act">{escape(act)}</p><p class="risks">{risks}</p></div></section>',
        max(tall, MARK_MM) + 2.5,
    )


MARK_MM, VERDICT_GAP, WORD, STOP_WORD = 13.0, 4.0, 34.0, 47.0
"""The verdict's mark, the room beside it, and its word: that of a stop is longer."""


# --- right column ----------------------------------------------------------------------------------------------------


def zero_block(zeros: list[Zero], units: ShopUnits, width: float) -> Block:
    """Each work zero in words and in machine coordinates, with blanks for what is really set."""
    if not zeros:
        return Block(
            heading("Zero and offsets") + "<p>The program names no work zero.</p>", HEADING + height_of("x" * 36, width)
        )
    parts, tall = [heading("Zero and offsets")], HEADING
    for zero in zeros[:2]:
        rows = "".join(
            f'<tr><th>{axis}</th><td>{planned(fact, units)}</td><td class="blank"></td></tr>'
            for axis, fact in zip("XYZ", zero.at, strict=True)
        )
        parts.append(
            f'<table class="zero"><tr><th>{escape(zero.name)}</th><td>planned</td><td>as set</td></tr>{rows}</table>'
        )
        words = short(zero.words, 90) if zero.words else "where it lies was not written down"
        parts.append(f"<p>{escape(words)}</p>")
        tall += 4.4 + 3 * 5.0 + height_of(words, width) + 1.2
    if len(zeros) > 2:
        more = f"and {listed([zero.name for zero in zeros[2:]], 7)}"
        parts.append(f"<p>{escape(more)}</p>")
        tall += height_of(more, width)
    return Block("".join(parts), tall)


def planned(fact: Fact | None, units: ShopUnits) -> str:
    if fact is None:
        return "not given"
    value = fact.value / MM_PER_INCH if units.inch else fact.value
    return f"{value:.{4 if units.inch else 2}f}".replace("-", "\u2212")


def words_block(name: str, words: str, width: float, letters: int) -> Block:
    """A heading with one paragraph."""
    said = short(words, letters)
    return Block(heading(name) + f"<p>{escape(said)}</p>", HEADING + height_of(said, width) + 1.2)


# --- bottom ----------------------------------------------------------------------------------------------------------

STEP_LETTERS = 340
RESTART = "To go on from a tool: firstoff restart."
SAFETY = "This sheet is no safety function. The machine's own stop circuit, door and interlocks come first."


def steps_block(steps: Sequence[str], width: float) -> Block:
    """Steps with a square to tick before each."""
    items = "".join(f"<li><i></i><span>{escape(short(step, STEP_LETTERS))}</span></li>" for step in steps)
    tall = sum(max(height_of(short(step, STEP_LETTERS), width - 7), 4.2) + 0.9 for step in steps)
    return Block(f'<ul class="steps">{items}</ul>', tall)


def reasons_block(stops: Sequence[Answered], width: float) -> Block:
    """Why it must not be run: each stop, and what to do about it."""
    parts, tall = [heading("Why not, and what to do")], HEADING
    for answered in stops[:6]:
        begins = "" if answered.first is None else f" {first_words(answered.first)}"
        what, act = short(lead(answered)[0], 220) + begins, short(minus(answered.do), 160)
        parts.append(
            f'<div class="reason">{mark_svg(Answer.STOP, 4)}<div><p><b>{escape(what)}</b></p><p>{escape(act)}</p></div></div>'
        )
        tall += height_of(what, width - 7, SMALL, BOLD) + height_of(act, width - 7) + 2.2
    if len(stops) > 6:
        parts.append(f"<p>and {len(stops) - 6} more</p>")
        tall += 4.2
    last = "Mend it, examine it again, and print a new sheet. Take this one off the machine."
    parts.append(f"<p>{last}</p>")
    return Block("".join(parts), tall + height_of(last, width))


def stops_block(stops: Sequence[StopRow], most: int, width: float, runs: bool) -> Block:
    """Where the program waits and what to do there, with a line to write on where the program does not say; how to go on from a tool on
    a sheet that is run."""
    if not stops:
        none = "No programmed stops." + (f" {RESTART}" if runs else "")
        return Block(f'<p class="none">{none}</p>', height_of(none, width) + 1.4)
    parts, tall = [heading("Stops, and what to do")], HEADING
    inner = width - 7
    for stop in stops[:most]:
        where = f"Line {stop.line}, {stop.code}" + (f", {stop.stands}" if stop.stands else "")
        said = short(stop.words, 110)
        told = f"<p>{escape(said)}</p>" if said else '<p class="write"></p>'
        if stop.runs:
            on = f"Stops with the {stop.runs}."
            told = f"<p>{escape(on)}</p>{told}"
            tall += height_of(on, inner)
        parts.append(f'<div class="stop-at"><i></i><div><p><b>{escape(where)}</b></p>{told}</div></div>')
        tall += height_of(where, inner, SMALL, BOLD) + (height_of(said, inner) if said else 5.8) + 1.2
    if len(stops) > most:
        more = f"and {len(stops) - most} more, the last at line {stops[-1].line}"
        parts.append(f"<p>{more}</p>")
        tall += height_of(more, width)
    if runs:
        parts.append(f"<p>{RESTART}</p>")
        tall += height_of(RESTART, width)
    return Block("".join(parts), tall)


def safety_block(width: float) -> Block:
    """The framed sentence."""
    return Block(f'<p class="safety">{SAFETY}</p>', height_of(SAFETY, width - 6) + 5.4)


def sign_off() -> Block:
    """Lines to sign."""
    names = ("set up by", "checked by", "first size, as measured", "date, time")
    return Block(f"<footer>{''.join(f'<span>{name}</span>' for name in names)}</footer>", 11.2)
