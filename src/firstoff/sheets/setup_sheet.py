"""The set-up sheet: one self-contained page that is taped to the enclosure. White, ink and one red; it survives a grey copier.

It prints on one page of A4 or Letter: the blocks' heights are added up, the picture takes what is left, and lists say how much they leave out.
"""

from __future__ import annotations

from datetime import datetime
from html import escape
from importlib import resources

import numpy as np

from firstoff.sheets import sheet_blocks as blocks
from firstoff.sheets.proof_run import proof_run
from firstoff.sheets.scale_svg import DEFS
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
from firstoff.sheets.sheet_picture import DEFS_MM, Picture, draw_setting, setting_of
from firstoff.sheets.wording import ORDER, RISKS, clock, fact_name, headline, in_order
from firstoff.verdict.case import Case
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer, Answered
from firstoff.verdict.words import listed

PAGE = 247.0
"""Height that may be filled, mm: Letter less two margins of 15 mm is 249.4, A4 is 267."""
LEFT, RIGHT = 121.0, 53.0
"""Widths of the two columns, mm, with 6 between them."""
MOST_TOOLS, LEAST_TOOLS = 12, 3
MOST_STOPS = 4
LEAST_PICTURE, MOST_PICTURE = 46.0, 112.0
BETWEEN = 3.0
"""Between two bands of the page, mm."""


def setup_sheet_html(examination: Examination, job_title: str, shop_name: str, printed: datetime) -> str:
    """The sheet as one HTML page with nothing outside it. `shop_name` may be empty; `printed` is told on the sheet."""
    head = _head(examination, job_title, shop_name, printed)
    verdict = blocks.verdict_block(examination, headline(examination), _missing(examination))
    bottom = _bottom(examination)
    sign = blocks.sign_off() if examination.verdict is not Answer.STOP else Block("", 0.0)
    rule_height = blocks.head_rule("", False).height
    free = PAGE - head.height - rule_height - verdict.height - bottom.height - sign.height - 2 * BETWEEN
    table = _tools(tool_rows(examination.case), free, examination)
    middle, scale = _middle(examination, min(free - table.height, MOST_PICTURE))
    rule = blocks.head_rule(scale, examination.case.units.inch)
    body = "".join(part.html for part in (head, rule, verdict, middle, table, bottom, sign))
    return _page(f"{job_title}: set-up sheet", body, examination.verdict)


def _page(title: str, body: str, verdict: Answer) -> str:
    style = (resources.files("firstoff.sheets") / "sheet.css").read_text(encoding="utf-8")
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"/>'
        '<meta name="viewport" content="width=device-width, initial-scale=1"/>'
        f"<title>{escape(title)}</title><style>{style}</style></head>"
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
        ("lines", f"{known.lines}, {known.blocks} blocks run", False),
        ("stock", stock_words(examination.facts, case.units) or "not given", False),
        ("time", _time(examination), False),
        ("mark", known.mark, False),
        ("first block", known.first, True),
        ("last", known.last, True),
        ("printed", f"{printed.day} {printed:%b %Y %H:%M}", False),
        ("first move", first, True),
        ("last", last, True),
        ("ends by", case.reading.final.ended_by, False),
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
    """What stands between this job and an answer: missing facts first, then the risks that nobody looks at yet."""
    needs: dict[str, None] = {}
    for answered in examination.answers:
        for need in answered.needs:
            needs[fact_name(need.fact)] = None
    asked = {answered.question.risk for answered in examination.answers}
    blind = [f"every question about the {risk.value}" for risk in RISKS if risk not in asked]
    return [*needs, *blind]


def _tools(rows: list[ToolRow], free: float, examination: Examination) -> Block:
    """As many tools as leave room for the picture."""
    shown = min(len(rows), MOST_TOOLS)
    while True:
        table = blocks.tool_table(rows, shown, examination.case.units)
        if shown <= LEAST_TOOLS or free - table.height >= LEAST_PICTURE:
            return table
        shown -= 1


def _middle(examination: Examination, tall: float) -> tuple[Block, str]:
    """Picture at the left; zero and doubts at the right, as far as there is room."""
    case, used = examination.case, zeros(examination.case)
    setting = setting_of(examination.facts, reach(case), case.stock_system())
    picture = draw_setting(setting, LEFT, tall - 8.5, case.units)
    parts = [blocks.zero_block(used, case.units, RIGHT)]
    parts += _doubts(examination, tall - sum(part.height for part in parts))
    right = "".join(part.html for part in parts)
    left = _picture(picture, setting.missing)
    height = max(sum(part.height for part in parts), picture.height_mm + 8.5 if picture else 10.0)
    html = f'<section class="two"><div class="wide">{left}</div><div class="narrow">{right}</div></section>'
    return Block(html, height), picture.scale if picture else ""


def _picture(picture: Picture | None, missing: tuple[str, ...]) -> str:
    if picture is None:
        return f'<p class="quiet">Nothing to draw: not given are {escape(listed(list(missing)))}.</p>'
    told = [picture.legend] if picture.legend else []
    if missing:
        told.append(f"not given, so not drawn: {listed(list(missing))}")
    told.append("dashed: path of the tool's centre")
    return f'{picture.svg}<p class="caption">{escape(blocks.short("; ".join(told), 150))}</p>'


def _doubts(examination: Examination, room: float) -> list[Block]:
    """The answers that are not clear, worst first, as many as there is room for; how many more there are is said."""
    open_ones = [answered for answered in in_order(examination.answers) if answered.answer is not Answer.CLEAR]
    if not open_ones or room < blocks.HEADING + 10:
        return []
    found = [Block(blocks.heading("What I am unsure of"), blocks.HEADING)]
    ruled = sorted(open_ones, key=lambda one: (ORDER.index(one.answer), one.demand is None))
    left = room - blocks.HEADING - 4.5
    shown = 0
    for answered in ruled:
        block = blocks.doubt_block(examination, answered, RIGHT)
        if block.height > left:
            continue
        found.append(block)
        left -= block.height
        shown += 1
    if shown < len(ruled):
        more = (
            f"and {len(ruled) - shown} more in the examination"
            if shown
            else f"{len(ruled)} answers, all in the examination"
        )
        found.append(Block(f"<p>{more}</p>", 4.5))
    return found


def _bottom(examination: Examination) -> Block:
    """First run, or why not; holding, stops and the caution."""
    case = examination.case
    if examination.verdict is Answer.STOP:
        left = blocks.reasons_block(_stopping(examination), LEFT)
    else:
        left = blocks.steps_block("First run", proof_run(case, zeros(case)), LEFT)
    held = holding_words(examination.facts, case.units)
    right = [
        blocks.words_block("Holding", held or "How the part is held is not written down.", RIGHT),
        blocks.stops_block(stop_rows(case), MOST_STOPS, RIGHT),
        blocks.safety_block(RIGHT),
    ]
    html = f'<section class="two last"><div class="wide">{left.html}</div><div class="narrow">{"".join(part.html for part in right)}</div></section>'
    return Block(html, max(left.height, sum(part.height for part in right)) + 1.0)


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
