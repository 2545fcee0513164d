"""The blocks of a set-up sheet: each is a piece of HTML with the height it takes on paper, so that a sheet never runs onto a second page.

Heights are estimated for the widest of the fallback fonts; with the sheet's own narrower ones less is used, never more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from firstoff.facts.fact import Fact
from firstoff.sheets.held import says, scale_of
from firstoff.sheets.scale import SHEET, Case
from firstoff.sheets.scale_svg import HEIGHT, INK, mark_svg, scale_svg
from firstoff.sheets.sheet_facts import StopRow, ToolRow, Zero
from firstoff.sheets.wording import (
    RISKS,
    TOPICS,
    Headline,
    amount,
    answer_line,
    doubt_words,
    lead,
    minus,
    missing_names,
)
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer, Answered
from firstoff.verdict.words import MM_PER_INCH, ShopUnits, count, listed

COLUMN = 180.0
"""Width of the sheet's column on A4 (15 mm margins) and on Letter, mm."""
PX = 25.4 / 96
"""A CSS px in mm."""
PT = 25.4 / 72
NARROW = {
    " ": 0.318,
    **dict.fromkeys("ijl'|", 0.28),
    **dict.fromkeys("ft.,:;()[]-/", 0.37),
    **dict.fromkeys("rs", 0.47),
}
BROAD = {**dict.fromkeys("mwMW@%", 0.97), **dict.fromkeys("GOQNDH", 0.77)}
SET = 0.93
"""Lines as browsers break them over the widths above: seventeen lines of a first run were planned as twenty."""
USUAL = 0.565
"""Advances in em, a little over the usual fallback fonts (Arial and its metric twins, 0.556); the sheet's own take a tenth less."""
BOLD, SERIF = 1.08, 0.88
"""How much wider bold letters run than those, and serif ones (Times and its metric twins)."""
LEADING = 1.25
SMALL = 9.0
"""pt; nothing is smaller."""
HEADING = 7.4
"""A section's name with its rule, mm."""


@dataclass(frozen=True, slots=True)
class Block:
    """Part of a sheet and the height it takes, mm."""

    html: str
    height: float


def width_of(words: str, pt: float) -> float:
    """Width of words in one line, mm."""
    return SET * sum(NARROW.get(letter) or BROAD.get(letter) or USUAL for letter in words) * pt * PT


def lines_of(words: str, width_mm: float, pt: float) -> int:
    """Lines that words take in a column."""
    lines, at, space = 1, 0.0, NARROW[" "] * pt * PT
    for word in words.split():
        wide = width_of(word, pt)
        if at > 0 and at + space + wide > width_mm:
            lines, at = lines + 1, 0.0
        at += wide + (space if at > 0 else 0.0)
        if at > width_mm:  # a word longer than the column is broken
            lines, at = lines + int(at / width_mm), at % width_mm
    return lines


def height_of(words: str, width_mm: float, pt: float = SMALL, wider: float = 1.0) -> float:
    """Height of a paragraph, mm; `wider` for bold or serif letters."""
    return lines_of(words, width_mm / wider, pt) * pt * PT * LEADING


def short(words: str, letters: int) -> str:
    """Words cut to a number of letters, with a sign that they were."""
    clean = " ".join("".join(letter if letter.isprintable() else " " for letter in words).split())
    return clean if len(clean) <= letters else clean[: letters - 1].rstrip() + "…"


def heading(words: str) -> str:
    return f"<h2>{escape(words)}</h2>"


# --- head ------------------------------------------------------------------------------------------------------------


def title_block(title: str, cells: Sequence[tuple[str, str, bool]]) -> Block:
    """What the sheet is of, and the program's stamp: cells (name, value, whether it is program text) in three columns."""
    parts = []
    for number, (name, value, program) in enumerate(cells):
        tag, wide = "code" if program else "b", number == WIDE_CELL
        letters = WIDE_LETTERS if wide else TITLE_LETTERS[number % 3] - (CODE_WIDER if program else 0)
        shown = f"<span>{escape(name)}</span> <{tag}>{escape(short(value, letters))}</{tag}>"
        parts.append(f'<div class="broad">{shown}</div>' if wide else f"<div>{shown}</div>")
    return Block(
        f'<header><h1>{escape(short(title, 44))}</h1><p class="kind">Set-up sheet</p></header><div class="cells">{"".join(parts)}</div>',
        29.3,
    )


TITLE_LETTERS = (22, 20, 18)
"""Letters that a value may have in each column of the title block."""
CODE_WIDER = 3
WIDE_CELL, WIDE_LETTERS = 9, 44
"""The first block is compared letter by letter: it has two columns."""


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
    wide = COLUMN - 68
    word = {Answer.STOP: "Not to be run."}.get(verdict, f"{verdict.value.capitalize()}.")
    sentence, act = short(headline.sentence, letters[0]), short(headline.act, letters[1])
    if verdict is Answer.UNJUDGED and missing:
        act = short(f"Missing: {listed(list(missing), 7)}.", letters[1] + 30)
    tall = height_of(sentence, wide, 13, BOLD * SERIF) + height_of(act, wide, 10.5, SERIF) + 0.4
    risks = "".join(
        f"<span>{mark_svg(examination.risks[risk], 4)} {risk.value} <b>{examination.risks[risk].value}</b></span>"
        for risk in RISKS
    )
    return Block(
        f'<section class="verdict {verdict.value}">{mark_svg(verdict, 13)}<p class="word">{escape(word)}</p>'
        f'<div><p class="sentence">{escape(sentence)}</p><p class="act">{escape(act)}</p></div></section>'
        f'<p class="risks">{risks}</p>',
        max(tall, 15.0 if verdict is not Answer.STOP else 20.0) + 8.5,
    )


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
            f'<tr><th>{axis}</th><td>{_planned(fact, units)}</td><td class="blank"></td></tr>'
            for axis, fact in zip("XYZ", zero.at, strict=True)
        )
        parts.append(
            f'<table class="zero"><tr><th>{escape(zero.name)}</th><td>planned</td><td>as set</td></tr>{rows}</table>'
        )
        words = short(zero.words, 90) if zero.words else "where it lies was not written down"
        parts.append(f"<p>{escape(words)}</p>")
        tall += 4.6 + 3 * 5.4 + height_of(words, width) + 1.2
    if len(zeros) > 2:
        more = f"and {listed([zero.name for zero in zeros[2:]], 7)}"
        parts.append(f"<p>{escape(more)}</p>")
        tall += height_of(more, width)
    return Block("".join(parts), tall)


def _planned(fact: Fact | None, units: ShopUnits) -> str:
    if fact is None:
        return "not given"
    value = fact.value / MM_PER_INCH if units.inch else fact.value
    return f"{value:.{4 if units.inch else 2}f}".replace("-", "\u2212")


def words_block(name: str, words: str, width: float, letters: int) -> Block:
    """A heading with one paragraph."""
    said = short(words, letters)
    return Block(heading(name) + f"<p>{escape(said)}</p>", HEADING + height_of(said, width) + 1.2)


def doubt_block(examination: Examination, answered: Answered, width: float) -> Block:
    """One answer that is not clear: its scale, what is held against what, and whose the doubt is."""
    units, facts = examination.case.units, examination.facts
    margin = SHEET.margin
    drawing = scale_of(answered, facts, units, width / PX - 2 * margin - 1, SHEET)
    ruled = drawing.case not in (Case.COUNT, Case.NOTHING)
    svg = scale_svg(drawing, margin, says(answered, facts, units)) if ruled else ""
    topic = TOPICS.get(answered.question.id, answered.question.id)
    title = f"{topic}: {answer_line(answered, facts)}"
    told = short((doubt_words(answered, facts) if svg and not answered.needs else "") or _lead(answered), 120)
    tall = height_of(f"xxx{title}", width, SMALL, BOLD) + (HEIGHT * PX if svg else 0.0) + height_of(told, width) + 2.0
    return Block(
        f'<div class="doubt"><p class="asks">{mark_svg(answered.answer, 3.6)} <b>{escape(title)}</b></p>{svg}<p class="told">{escape(told)}</p></div>',
        tall,
    )


def _lead(answered: Answered) -> str:
    """What was found; of what is missing, its name."""
    if answered.needs and answered.answer is Answer.UNJUDGED:
        return f"Missing: {listed(missing_names(answered.needs), 3)}."
    return lead(answered)[0]


# --- tools -----------------------------------------------------------------------------------------------------------

TOOL_ROW, TOOL_HEAD = 5.1, 5.9


def tool_table(rows: list[ToolRow], shown: int, units: ShopUnits, tick: bool = True) -> Block:
    """The tools in the order of use, with a box to tick for each (none on a sheet that must not be run)."""
    if not rows:
        return Block('<p class="quiet">The program cuts with no tool that I could follow.</p>', 6.0)
    unit = "in" if units.inch else "mm"
    head = (
        f"<tr><th>pocket</th><th>T</th><th>name</th><th>looks ({unit})</th><th>out OHX</th><th>length LF</th>"
        f"<th>window</th><th>H, D</th><th>S</th><th>F</th><th>restart</th><th>runs, min</th>{'<th>in</th>' if tick else ''}</tr>"
    )
    body = "".join(_tool_row(row, units, tick) for row in rows[:shown])
    notes, tall = [], 0.0
    if len(rows) > shown:
        notes.append(
            f"And {count(len(rows) - shown, 'more tool')}: {listed([row.name or f'T{row.number}' for row in rows[shown:]], 8)}."
        )
    alike = {tuple(sorted((row.name, *row.alike))): None for row in rows if row.alike}
    if alike:
        notes.append("Look alike: " + "; ".join(" and ".join(names) for names in list(alike)[:4]) + ". Read the shank.")
    for note in notes:
        tall += height_of(short(note, 125), COLUMN) + 1.0
    told = "".join(f'<p class="under">{escape(short(note, 125))}</p>' for note in notes)
    return Block(
        f'<table class="tools">{head}{body}</table>{told}', TOOL_HEAD + min(shown, len(rows)) * TOOL_ROW + tall + 0.5
    )


def _tool_row(row: ToolRow, units: ShopUnits, tick: bool) -> str:
    cells = (
        ("pocket", row.pocket or "?"),
        ("t", f"T{row.number}" if row.number >= 0 else "–"),
        ("name", short(row.name or "no name", 9)),
        ("looks", short(row.words or "not described", 19)),
        ("plain", _fact(row.stick_out, units)),
        ("number", _fact(row.length, units)),
        ("plain", "none" if row.window_mm is None else f"±{_plain(row.window_mm, units)}"),
        ("plain", short(row.registers or "none", 8)),
        ("plain", _between(row.speeds, 1.0, 0)),
        ("plain", _between(row.feeds, 1 / MM_PER_INCH if units.inch else 1.0, 1 if units.inch else 0)),
        ("plain", short(", ".join(str(line) for line in row.starts) or "–", 8)),
        ("plain", "–" if row.minutes is None else f"{row.minutes:.1f}"),
    )
    inside = "".join(f'<td class="{name}">{escape(text)}</td>' for name, text in cells)
    box = '<td class="in"><i></i></td>' if tick else ""
    return f"<tr>{inside}{box}</tr>"


def _between(span: tuple[float, float] | None, factor: float, decimals: int) -> str:
    if span is None:
        return "–"
    low, high = (f"{value * factor:.{decimals}f}" for value in span)
    return low if low == high else f"{low}–{high}"


def _fact(fact: Fact | None, units: ShopUnits) -> str:
    if fact is None:
        return "not known"
    factor = 1 / MM_PER_INCH if units.inch else 1.0
    return amount(fact.value * factor, fact.u * factor, "")


def _plain(mm: float, units: ShopUnits) -> str:
    return f"{mm / MM_PER_INCH:.3f}" if units.inch else f"{mm:.2f}"


# --- bottom ----------------------------------------------------------------------------------------------------------

STEP_LETTERS = 340
SAFETY = "This sheet is no safety function. The machine's own stop circuit, door and interlocks come first."


def steps_block(name: str, steps: Sequence[str], width: float) -> Block:
    """Steps with a square to tick before each."""
    items = "".join(f"<li><i></i><span>{escape(short(step, STEP_LETTERS))}</span></li>" for step in steps)
    tall = sum(max(height_of(short(step, STEP_LETTERS), width - 7), 4.2) + 1.1 for step in steps)
    return Block(f'{heading(name)}<ul class="steps">{items}</ul>', HEADING + tall)


def reasons_block(stops: Sequence[Answered], width: float) -> Block:
    """Why it must not be run: each stop, and what to do about it."""
    parts, tall = [heading("Why not, and what to do")], HEADING
    for answered in stops[:6]:
        what, act = short(_lead(answered), 220), short(minus(answered.do), 160)
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


def stops_block(stops: Sequence[StopRow], most: int, width: float) -> Block:
    """Where the program waits and what to do there, with a line to write on where the program does not say."""
    if not stops:
        return Block(heading("Stops") + "<p>No programmed stops.</p>", HEADING + 5.0)
    parts, tall = [heading("Stops, and what to do")], HEADING
    inner = width - 7
    for stop in stops[:most]:
        where = f"Line {stop.line}, {stop.code}" + (f", {stop.stands}" if stop.stands else "")
        said = short(stop.words, 110)
        told = f"<p>{escape(said)}</p>" if said else '<p class="write"></p>'
        if stop.runs:
            runs = f"Stops with the {stop.runs}."
            told = f"<p>{escape(runs)}</p>{told}"
            tall += height_of(runs, inner)
        parts.append(f'<div class="stop-at"><i></i><div><p><b>{escape(where)}</b></p>{told}</div></div>')
        tall += height_of(where, inner, SMALL, BOLD) + (height_of(said, inner) if said else 5.8) + 1.2
    if len(stops) > most:
        more = f"and {len(stops) - most} more, the last at line {stops[-1].line}"
        parts.append(f"<p>{more}</p>")
        tall += height_of(more, width)
    return Block("".join(parts), tall)


def safety_block(width: float) -> Block:
    """The framed sentence."""
    return Block(f'<p class="safety">{SAFETY}</p>', height_of(SAFETY, width - 6) + 5.4)


def sign_off() -> Block:
    """Lines to sign."""
    names = ("set up by", "checked by", "first size, as measured", "date, time")
    return Block(f"<footer>{''.join(f'<span>{name}</span>' for name in names)}</footer>", 13.0)
