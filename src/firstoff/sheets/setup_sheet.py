"""The set-up sheet: one self-contained page that is taped to the enclosure. White, ink and one red; it survives a grey copier.

It prints on one page of A4 or Letter: the blocks' heights are added up, the picture takes what is left, and lists say how much they leave out.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from html import escape
from importlib import resources

import numpy as np

from firstoff.sheets import sheet_blocks as blocks
from firstoff.sheets.proof_run import proof_run
from firstoff.sheets.scale_svg import DEFS, STYLE
from firstoff.sheets.sheet_blocks import Block
from firstoff.sheets.sheet_facts import (
    ToolRow,
    holding_words,
    reach,
    stamp,
    stock_words,
    stop_rows,
    tool_rows,
    zeros,
)
from firstoff.sheets.sheet_picture import DEFS_MM, Setting, draw_setting, setting_of
from firstoff.sheets.wording import ORDER, TOPICS, clock, headline, in_order, missing_names
from firstoff.verdict.case import Case
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer, Answered, Risk
from firstoff.verdict.words import listed

PAGE = 250.0
"""Height that may be planned, mm. Letter less two margins of 15 mm is 249.4, A4 is 267; planned heights lie a few mm above those that a browser sets."""
LEFT, RIGHT = 121.0, 53.0
"""Widths of the two columns, mm, with 6 between them."""
HALF = 87.0
"""Width of either column where they are equal."""
MOST_TOOLS, LEAST_TOOLS = 12, 3
LEAST_PICTURE, SMALLEST_PICTURE, MOST_PICTURE = 42.0, 36.0, 112.0
"""Room for the picture, mm: asked for, the least in which it can still be read, and the most it is given."""
MOST_HOW = 90
"""Letters of a way to settle something that are told with it; a longer one stands in the examination."""
MORE = 9.0
"""Room, mm, for the names of answers that have no room themselves."""
BETWEEN = 3.0
"""Between two bands of the page, mm."""


@dataclass(frozen=True, slots=True)
class Tightness:
    """How much may be told where there is too much to tell: letters of sentence, act and holding, stops, and the least picture, mm."""

    sentence: int
    act: int
    holding: int
    stops: int
    picture: float


TIGHTNESS = (
    Tightness(150, 170, 200, 4, LEAST_PICTURE),
    Tightness(130, 130, 160, 3, SMALLEST_PICTURE),
    Tightness(110, 110, 120, 2, SMALLEST_PICTURE),
    Tightness(90, 90, 120, 1, 0.0),
)
"""The first that leaves room for picture and zero is used."""


def setup_sheet_html(examination: Examination, job_title: str, shop_name: str, printed: datetime) -> str:
    """The sheet as one HTML page with nothing outside it. `shop_name` may be empty; `printed` is told on the sheet."""
    head = _head(examination, job_title, shop_name, printed)
    sign = blocks.sign_off() if examination.verdict is not Answer.STOP else Block("", 0.0)
    rows, fixed = (
        tool_rows(examination.case),
        head.height + sign.height + blocks.head_rule("", False).height + 2 * BETWEEN,
    )
    zero = blocks.zero_block(zeros(examination.case), examination.case.units, RIGHT)
    verdict = bottom = table = Block("", 0.0)
    free = 0.0
    for tight in TIGHTNESS:
        verdict = blocks.verdict_block(
            examination, headline(examination), _missing(examination), (tight.sentence, tight.act)
        )
        bottom = _bottom(examination, tight)
        need = max(tight.picture, zero.height)
        table, shown = _tools(rows, PAGE - fixed - verdict.height - bottom.height - need, examination)
        free = PAGE - fixed - verdict.height - bottom.height - table.height
        if free >= need and shown == min(len(rows), MOST_TOOLS):
            break
    middle, scale = _middle(examination, zero, min(free, MOST_PICTURE))
    rule = blocks.head_rule(scale, examination.case.units.inch)
    body = "".join(part.html for part in (head, rule, verdict, middle, table, bottom, sign))
    return _page(f"{job_title}: set-up sheet", body, examination.verdict)


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


def _head(examination: Examination, title: str, shop_name: str, printed: datetime) -> Block:
    case, known = examination.case, stamp(examination.case.reading)
    machine = examination.facts.settings.get("machine.name")
    name = str(machine.value) if machine is not None else shop_name
    first, last = _ends(case)
    cells = (
        ("machine", name or "not described", False),
        ("program", known.file, False),
        ("lines", f"{known.lines}, {known.blocks} run", False),
        ("stock", stock_words(examination.facts, case.units) or "not given", False),
        ("time", _time(examination), False),
        ("stamp", known.mark, False),
        ("first move", first, True),
        ("last move", last, True),
        ("printed", f"{printed.day} {printed:%b %Y %H:%M}", False),
        ("first block", known.first, True),
        ("last block", known.last, True),
    )
    return blocks.title_block(title, cells)


def _time(examination: Examination) -> str:
    if examination.time is not None:
        return clock(examination.time.total)
    line = examination.case.timeline
    if line is not None and np.isfinite([line.total_low_s, line.total_high_s]).all():
        return f"{clock(line.total_low_s)} to {clock(line.total_high_s)}"
    return "can't say"


def _missing(examination: Examination) -> list[str]:
    """The facts that stand between this job and an answer."""
    return missing_names(need for answered in examination.answers for need in answered.needs)


def _tools(rows: list[ToolRow], room: float, examination: Examination) -> tuple[Block, int]:
    """As many tools as there is room for, and how many."""
    shown = min(len(rows), MOST_TOOLS)
    while True:
        table = blocks.tool_table(rows, shown, examination.case.units, examination.verdict is not Answer.STOP)
        if shown <= LEAST_TOOLS or table.height <= room:
            return table, shown
        shown -= 1


def _middle(examination: Examination, zero: Block, tall: float) -> tuple[Block, str]:
    """Picture at the left; zero and doubts at the right, as far as there is room."""
    case = examination.case
    setting = setting_of(examination.facts, reach(case), case.stock_system(), examination.verdict is not Answer.STOP)
    caption = _caption(setting)
    under = blocks.height_of(caption, LEFT) + 0.5
    picture = draw_setting(setting, LEFT, tall - under, case.units) if tall >= SMALLEST_PICTURE else None
    parts = [zero, *_doubts(examination, tall - zero.height)]
    right = "".join(part.html for part in parts)
    if picture is not None:
        left, wide = f'{picture.svg}<p class="caption">{escape(caption)}</p>', picture.height_mm + under
    else:
        nothing = setting.stock is None and setting.cut is None and not setting.around
        told = f"No picture. Not given: {listed(list(setting.missing))}." if nothing else "No room here for a picture."
        left, wide = f'<p class="quiet">{escape(told)}</p>', blocks.height_of(told, LEFT)
    html = f'<section class="two"><div class="wide">{left}</div><div class="narrow">{right}</div></section>'
    return Block(html, max(sum(part.height for part in parts), wide)), picture.scale if picture else ""


def _caption(setting: Setting) -> str:
    """What the numbers and the dashes in the picture are, and what was not given."""
    told = [", ".join(f"{number} {name}" for number, (name, _) in enumerate(setting.around, 1))]
    if setting.missing:
        told.append(f"not given, so not drawn: {listed(list(setting.missing))}")
    told.append(
        "dashed: path of the tool's centre, rapids"
        if setting.depth
        else "dashed: path of the tool's centre; depths are not told"
    )
    return blocks.short("; ".join(part for part in told if part), 150)


def _doubts(examination: Examination, room: float) -> list[Block]:
    """The answers that are not clear, worst first, as many as there is room for; how many more there are is said."""
    told = (Answer.CLEAR, Answer.STOP)  # a stop is told where the sheet says why it must not be run
    open_ones = [answered for answered in in_order(examination.answers) if answered.answer not in told]
    if not open_ones or room < blocks.HEADING + 10:
        return []
    found = [Block(blocks.heading("What I am unsure of"), blocks.HEADING)]
    ruled = sorted(open_ones, key=lambda one: (ORDER.index(one.answer), one.demand is None))
    left = room - blocks.HEADING - MORE
    shown = 0
    left_out: list[Answered] = []
    for answered in ruled:
        block = blocks.doubt_block(examination, answered, RIGHT)
        if block.height > left:
            left_out.append(answered)
            continue
        found.append(block)
        left -= block.height
        shown += 1
    if shown < len(ruled):
        more = (
            f"also {listed([TOPICS.get(one.question.id, one.question.id) for one in left_out], 5)}"
            if shown
            else f"{listed([TOPICS.get(one.question.id, one.question.id) for one in ruled], 9)}: told in the examination"
        )
        found.append(Block(f"<p>{escape(more)}</p>", blocks.height_of(more, RIGHT)))
    return found


def _bottom(examination: Examination, tight: Tightness) -> Block:
    """First run, or why not; holding, stops and the caution."""
    case = examination.case
    stopped = examination.verdict is Answer.STOP
    width = RIGHT if stopped else HALF
    held = holding_words(examination.facts, case.units) or "How the part is held is not written down."
    right = [
        blocks.words_block("Holding", held, width, tight.holding),
        blocks.stops_block(stop_rows(case), tight.stops, width),
        blocks.safety_block(width),
    ]
    if stopped:
        return _columns(blocks.reasons_block(_stopping(examination), LEFT), _stacked(right), "wide", "narrow")
    steps = proof_run(case, zeros(case), _unsettled(examination))
    return min((_halves(steps, split, right) for split in range(1, len(steps) + 1)), key=lambda block: block.height)


def _halves(steps: list[str], split: int, right: list[Block]) -> Block:
    """The steps in two columns, what holds the part under the second."""
    rest = [blocks.steps_block("First run, continued", steps[split:], HALF)] if steps[split:] else []
    return _columns(blocks.steps_block("First run", steps[:split], HALF), _stacked([*rest, *right]), "half", "half")


def _stacked(parts: list[Block]) -> Block:
    return Block("".join(part.html for part in parts), sum(part.height for part in parts))


def _columns(left: Block, right: Block, *names: str) -> Block:
    inside = f'<div class="{names[0]}">{left.html}</div><div class="{names[1]}">{right.html}</div>'
    return Block(f'<section class="two last">{inside}</section>', max(left.height, right.height) + 0.5)


def _unsettled(examination: Examination) -> str:
    """What the machine's risk waits for, and how to get it; empty where it is judged."""
    if examination.risks[Risk.MACHINE] is not Answer.UNJUDGED:
        return ""
    open_ones = [
        answered
        for answered in examination.answers
        if answered.question.risk is Risk.MACHINE and answered.answer is Answer.UNJUDGED
    ]
    needs = [need for answered in open_ones for need in answered.needs]
    names = missing_names(needs) or [TOPICS.get(answered.question.id, answered.question.id) for answered in open_ones]
    how = f" ({needs[0].how.rstrip('.')})" if needs and len(names) == 1 and len(needs[0].how) < MOST_HOW else ""
    return (listed(names, 5) or "the machine's risk") + how


def _stopping(examination: Examination) -> list[Answered]:
    return [answered for answered in in_order(examination.answers) if answered.answer is Answer.STOP]


def _ends(case: Case) -> tuple[str, str]:
    """The first and the last move, each its line number and text; empty where nothing moves."""
    moves, text = case.reading.moves, case.reading.text
    going = np.flatnonzero(case.moving)

    def told(move: int) -> str:
        line = int(moves.line[move])
        return f"{line}: {text[line - 1].strip() if 0 < line <= len(text) else ''}"

    return (told(int(going[0])), told(int(going[-1]))) if going.size else ("none", "none")
