"""The set-up sheet: one self-contained page that is taped to the enclosure. White, ink and one red; it survives a grey copier.

It prints on one page of A4 or Letter: the blocks' heights are added up, the picture takes what is left, and lists say how much they leave out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from html import escape
from importlib import resources

from firstoff.sheets import sheet_blocks as blocks
from firstoff.sheets.open_doubts import doubt_blocks, least_height
from firstoff.sheets.paper_marks import DEFS_MM
from firstoff.sheets.paper_text import height_of, short
from firstoff.sheets.plan_and_front import draw_setting
from firstoff.sheets.scale_svg import DEFS, STYLE
from firstoff.sheets.sheet_blocks import Block, Cell
from firstoff.sheets.sheet_picture import setting_of_sheet
from firstoff.sheets.sheet_told import Titled, Told, told_of
from firstoff.sheets.tool_tables import run_table, tool_table
from firstoff.sheets.wording import headline
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer
from firstoff.verdict.words import count, listed

PAGE = 251.0
"""Height that may be planned, mm. Letter less two margins of 15 mm is 249.4, A4 is 267; planned heights lie a few mm above those that a browser sets."""
LEFT, RIGHT = 121.0, 53.0
"""Widths of the two columns, mm, with 6 between them."""
HALF = 87.0
"""Width of either column where they are equal."""
MOST_TOOLS, LEAST_TOOLS, LEAST_RUNS = 12, 3, 1
LEAST_PICTURE, SMALLEST_PICTURE, MOST_PICTURE = 42.0, 36.0, 112.0
"""Room for the picture, mm: asked for, the least in which it can still be read, and the most it is given."""
BETWEEN = 3.0
"""Between two bands of the page, mm."""
MOST_CAPTION = 150
"""Letters under the picture."""


@dataclass(frozen=True, slots=True)
class Tightness:
    """How much may be told where there is too much to tell: letters of sentence, act and holding, stops, and the least picture, mm."""

    sentence: int
    act: int
    holding: int
    stops: int
    picture: float


TIGHTNESS = (
    Tightness(150, 170, 280, 4, LEAST_PICTURE),
    Tightness(130, 130, 200, 3, SMALLEST_PICTURE),
    Tightness(110, 110, 150, 2, SMALLEST_PICTURE),
    Tightness(90, 90, 120, 1, 0.0),
)
"""The first that leaves room for picture and zero is used."""


@dataclass(frozen=True, slots=True)
class _Layout:
    """The bands under the head, and the room that is left between them."""

    verdict: Block
    side: list[Block]
    tables: Block
    bottom: Block
    free: float


def setup_sheet_html(examination: Examination, job_title: str, shop_name: str, printed: datetime) -> str:
    """The sheet as one HTML page with nothing outside it. `shop_name` may be empty; `printed` is told on the sheet."""
    told = told_of(examination, job_title, shop_name, printed)
    head = _head(told.head)
    sign = blocks.sign_off() if not told.stopped else Block("", 0.0)
    taken = head.height + sign.height + blocks.head_rule("", False).height + 2 * BETWEEN
    layout = _layout(told, PAGE - taken)
    middle, scale = _middle(examination, layout.side, min(layout.free, MOST_PICTURE))
    rule = blocks.head_rule(scale, examination.case.units.inch)
    bands = (head, rule, layout.verdict, middle, layout.tables, layout.bottom, sign)
    return _page(f"{job_title}: set-up sheet", "".join(part.html for part in bands), examination.verdict)


def _layout(told: Told, room: float) -> _Layout:
    """The least tight of the layouts that leave room for a picture; holding stands under the zeros where there is room beside it."""
    layout: _Layout | None = None
    for tight in TIGHTNESS:
        for above in (True, False):
            layout, need = _try(told, room, tight, above)
            if layout.free >= need:
                return layout
    assert layout is not None
    return layout


def _try(told: Told, room: float, tight: Tightness, above: bool) -> tuple[_Layout, float]:
    """One layout, and the room that it needs between its bands. `above`: holding stands under the zeros, not at the bottom."""
    examination = told.examination
    verdict = blocks.verdict_block(examination, headline(examination), told.missing, (tight.sentence, tight.act))
    held = blocks.words_block("Holding", told.holding, RIGHT, tight.holding)
    zero = blocks.zero_block(told.zeros, examination.case.units, RIGHT)
    side = [zero, held] if above else [zero]
    bottom = _bottom(told, tight, above)
    need = max(tight.picture, sum(part.height for part in side) + least_height(examination, RIGHT))
    tables, whole = _tables(told, room - verdict.height - bottom.height - need)
    free = room - verdict.height - bottom.height - tables.height
    return _Layout(verdict, side, tables, bottom, free), need if whole else math.inf


def _page(title: str, body: str, verdict: Answer) -> str:
    style = (resources.files("firstoff.sheets") / "sheet.css").read_text(encoding="utf-8")
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"/>'
        '<meta name="generator" content="firstoff:set-up-sheet"/>'
        '<meta name="viewport" content="width=device-width, initial-scale=1"/>'
        f"<title>{escape(title)}</title><style>{style}{STYLE}</style></head>"
        f'<body class="sheet-{verdict.value}">{DEFS}{DEFS_MM}<main>{body}</main></body></html>\n'
    )


# --- bands -----------------------------------------------------------------------------------------------------------


def _head(told: Titled) -> Block:
    known = told.stamp
    cells = (
        Cell("machine", told.machine),
        Cell("program", known.file, keep=f", {count(known.lines, 'line')}"),
        Cell("stamp", known.mark),
        Cell("stock", told.stock),
        Cell("time", told.time),
        Cell("last block", known.last, program=True),
        Cell("first move", told.first_move, program=True),
        Cell("last move", told.last_move, program=True),
    )
    return blocks.title_block(told.title, told.printed_words, cells, Cell("first block", known.first, program=True))


def _tables(told: Told, room: float) -> tuple[Block, bool]:
    """Tools and what their calls do, as many of each as there is room for; whether that is all of them."""
    tools, runs = min(len(told.rows), MOST_TOOLS), min(len(told.runs), MOST_TOOLS)
    units, tick = told.examination.case.units, not told.stopped
    while True:
        table = _stacked([tool_table(told.rows, tools, units, tick), run_table(told.runs, runs, units)])
        if table.height <= room or (runs <= LEAST_RUNS and tools <= LEAST_TOOLS):
            return table, tools == min(len(told.rows), MOST_TOOLS) and runs == min(len(told.runs), MOST_TOOLS)
        if runs > LEAST_TOOLS or tools <= LEAST_TOOLS:
            runs -= 1
        else:
            tools -= 1


def _middle(examination: Examination, side: list[Block], tall: float) -> tuple[Block, str]:
    """Picture at the left; zero, holding and doubts at the right, as far as there is room."""
    case, setting = examination.case, setting_of_sheet(examination)
    caption = short(setting.caption, MOST_CAPTION)
    under = height_of(caption, LEFT) + 0.5 if caption else 0.0
    picture = draw_setting(setting, LEFT, tall - under, case.units) if tall >= SMALLEST_PICTURE else None
    parts = [*side, *doubt_blocks(examination, tall - sum(part.height for part in side), RIGHT)]
    right = "".join(part.html for part in parts)
    if picture is not None:
        left = picture.svg + (f'<p class="caption">{escape(caption)}</p>' if caption else "")
        wide = picture.height_mm + under
    else:
        nothing = setting.stock is None and setting.cut is None and not setting.around
        words = f"No picture. Not given: {listed(list(setting.missing))}." if nothing else "No room here for a picture."
        left, wide = f'<p class="quiet">{escape(words)}</p>', height_of(words, LEFT)
    html = f'<section class="two"><div class="wide">{left}</div><div class="narrow">{right}</div></section>'
    return Block(html, max(sum(part.height for part in parts), wide)), picture.scale if picture else ""


def _bottom(told: Told, tight: Tightness, holding_above: bool) -> Block:
    """First run, or why not; holding where it stands nowhere else, stops and the caution."""
    width = RIGHT if told.stopped else HALF
    held = [] if holding_above else [blocks.words_block("Holding", told.holding, width, tight.holding)]
    right = [*held, blocks.stops_block(told.stops, tight.stops, width, not told.stopped)]
    safety = blocks.safety_block(width)
    if told.stopped:
        why = blocks.reasons_block(told.stopping, LEFT)
        columns = _columns(why, _stacked([*right, safety]), "wide", "narrow")
        return Block(f'<div class="last">{columns.html}</div>', columns.height)
    splits = range(1, len(told.steps) + 1)
    ways = [_halves(told.steps, split, right, safety, left) for split in splits for left in (False, True)]
    return min(ways, key=lambda one: one.height)


def _halves(steps: list[str], split: int, right: list[Block], safety: Block, safety_left: bool) -> Block:
    """The steps in two columns, the rest under the second; the caution under whichever is shorter."""
    first, second = [blocks.steps_block(steps[:split], HALF)], [blocks.steps_block(steps[split:], HALF), *right]
    (first if safety_left else second).append(safety)
    columns = _columns(_stacked(first), _stacked(second), "half", "half")
    return Block(
        f'<div class="last">{blocks.heading("First run")}</div>{columns.html}', columns.height + blocks.HEADING
    )


def _stacked(parts: list[Block]) -> Block:
    return Block("".join(part.html for part in parts), sum(part.height for part in parts))


def _columns(left: Block, right: Block, *names: str) -> Block:
    inside = f'<div class="{names[0]}">{left.html}</div><div class="{names[1]}">{right.html}</div>'
    return Block(f'<section class="two">{inside}</section>', max(left.height, right.height) + 0.5)
