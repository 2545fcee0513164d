"""The set-up sheet as PDF: what is set up on the first page, what is then done on the second, and one page where both have room there.

The template tells how high its bands are; the picture takes what they leave, and where they leave too little, less is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from firstoff.sheets import sheet_blocks as blocks
from firstoff.sheets.cautions import cautions
from firstoff.sheets.open_doubts import open_answers
from firstoff.sheets.paper_text import short
from firstoff.sheets.plan_and_front import Picture, draw_setting
from firstoff.sheets.scale_svg import mark_svg
from firstoff.sheets.sheet_facts import StopRow, ToolRow, Zero
from firstoff.sheets.sheet_picture import Setting, setting_of_sheet
from firstoff.sheets.sheet_told import Told, told_of
from firstoff.sheets.tool_runs import Run, called
from firstoff.sheets.tool_tables import RUN_HEADS, alike_words, run_cells, tool_cells, tool_heads
from firstoff.sheets.typst_paper import Document, Drawing, Paper, Typeset
from firstoff.sheets.wording import RISKS, Headline, first_words, headline, lead, minus
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer
from firstoff.verdict.words import ShopUnits, count, listed

MARK = "firstoff:set-up-sheet"
TEMPLATE = "setup_sheet.typ"
LEFT = 121.0
"""Width of the picture's column, mm."""
RULE = 56.0
"""Width of the rule of a doubt, mm: a third of the column less the gaps."""
BETWEEN = 5.0
"""Between two bands, mm."""
MOST_WIDER, GAPS = 4.0, 6
"""What bands may stand further apart where the page has room, mm, and among how many it is shared."""
MOST_PICTURE, GOOD_PICTURE, LEAST_PICTURE = 125.0, 72.0, 42.0
"""Height of the picture, mm: at most; so much that both halves may stand on one page; and the least in which it can be read."""
TOOL_WIDE = (11.5, 8.5, 22.0, 38.0, 15.0, 20.0, 13.0, 12.5, 15.0, 18.0)
RUN_WIDE = (8.0, 12.0, 14.0, 13.0, 12.5, 12.0, 21.5, 16.0, 11.5, 17.0, 19.0, 17.5)
TICK_WIDE = 9.0
"""Widths of the columns of both tables, mm; with the box to tick they fill the column of 180."""
LETTERS = (15, 30, 9)
"""Of a tool's name, of what it looks like and of its registers: these are cut, numbers never are."""
MOST_ENDS, MOST_CELL = 130, 60
"""Letters of a block that is compared with the control, and of a cell at the head."""
SIGN = ("set up by", "checked by", "first size, as measured", "date, time")
LAST_WORDS = "Mend it, examine it again, and print a new sheet. Take this one off the machine."


@dataclass(frozen=True, slots=True)
class Amount:
    """How much is told: tools, calls, doubts with their rules and all doubts, stops, cautions; letters of a sentence and of a step; and
    the size of the letters, pt; and reasons not to run it."""

    tools: int
    runs: int
    ruled: int
    doubts: int
    stops: int
    cautions: int
    sentence: int
    step: int
    size: float
    reasons: int


AMOUNTS = (
    Amount(24, 24, 6, 9, 10, 6, 320, 400, 12.0, 12),
    Amount(24, 24, 6, 9, 10, 6, 320, 400, 11.0, 12),
    Amount(24, 24, 6, 9, 10, 6, 320, 400, 10.0, 12),
    Amount(24, 24, 3, 6, 8, 5, 240, 400, 10.0, 9),
    Amount(20, 20, 3, 3, 6, 4, 200, 340, 10.0, 7),
    Amount(16, 16, 0, 3, 4, 3, 160, 280, 10.0, 5),
    Amount(12, 12, 0, 0, 3, 2, 130, 220, 10.0, 4),
    Amount(8, 6, 0, 0, 2, 1, 100, 160, 10.0, 3),
)
"""The first that leaves room is used; the last has room on any paper."""


def setup_sheet_pdf(
    examination: Examination, job_title: str, shop_name: str, printed: datetime, paper: Paper = Paper.A4
) -> bytes:
    """The sheet, at most two pages, in the units of the examination's case. `shop_name` may be empty; `printed` is told on the sheet."""
    typeset, data = setup_sheet(examination, job_title, shop_name, printed, paper)
    return typeset.pdf(data)


def setup_sheet(
    examination: Examination, job_title: str, shop_name: str, printed: datetime, paper: Paper
) -> tuple[Typeset, dict[str, Any]]:
    """The sheet and the data that it is set with."""
    told, setting = told_of(examination, job_title, shop_name, printed), setting_of_sheet(examination)
    typeset = Typeset(TEMPLATE, Document(f"{short(job_title, 60)}: set-up sheet", MARK, printed, paper))
    data: dict[str, Any] = {}
    for amount in AMOUNTS:
        data = _data(told, setting, amount)
        sizes = typeset.measured(data, "sizes")
        room, on_one = _room(sizes, paper, told.stopped)
        last = amount is AMOUNTS[-1]
        if room is None or (room < LEAST_PICTURE and not last):
            continue
        data |= _picture(setting, min(room, MOST_PICTURE), told) | {"break": not on_one}
        if not on_one:
            data["wider"] = min(MOST_WIDER, max(room - max(data["tall"], sizes["side"]), 0.0) / GAPS)
        if typeset.measured(data, "sizes")["pages"] <= 2:
            break
    return typeset, data


def _room(sizes: dict[str, float], paper: Paper, stopped: bool) -> tuple[float | None, bool]:
    """(height left for the picture, mm, whether both halves stand on one page); None where either half has no room on its page. The picture
    is on the first page, but on the second where the first says why not to run it."""
    least = sizes["side"] - sizes["caption"]
    under = sizes["caption"] + BETWEEN + sizes["tools"] + (sizes["doubts"] + BETWEEN if sizes["doubts"] else 0.0)
    head, work = sizes["head"] + BETWEEN, sizes["work"] + (sizes["sign"] + BETWEEN if sizes["sign"] else 0.0)
    free = paper.room_mm - under
    one = free - head - BETWEEN - work
    if one >= max(GOOD_PICTURE, least):
        return one, True
    free, other = (free, head + work) if stopped else (free - head, work)
    return (None if other > paper.room_mm or free < least else free), False


# --- what the template is given --------------------------------------------------------------------------------------


def _data(told: Told, setting: Setting, amount: Amount) -> dict[str, Any]:
    case, head = told.examination.case, told.head
    known = head.stamp
    return {
        "title": short(head.title, 48),
        "kind": f"Set-up sheet, {head.printed_words}",
        "foot": f"{short(head.title, 30)}: {short(known.file, 40)}, {count(known.lines, 'line')}, stamp {known.mark}",
        "cells": [
            ("machine", short(head.machine, MOST_CELL)),
            ("program", f"{short(known.file, MOST_CELL)}, {count(known.lines, 'line')}"),
            ("stamp", known.mark),
            ("stock", short(head.stock, MOST_CELL)),
            ("time", head.time),
            ("units", "inch" if case.units.inch else "millimetres"),
        ],
        "ends": [
            (name, short(block, MOST_ENDS))
            for name, block in (
                ("first block", known.first),
                ("last block", known.last),
                ("first move", head.first_move),
                ("last move", head.last_move),
            )
        ],
        "rule": Drawing(blocks.head_rule("", case.units.inch).html),
        "verdict": _verdict(told, amount),
        "stopped": told.stopped,
        "picture": "",
        "caption": short(setting.caption, 200),
        "no_picture": _no_picture(setting),
        **_zeros(told.zeros, case.units),
        "holding": short(told.holding, amount.sentence),
        **_doubts(told.examination, amount),
        "rule_wide": RULE,
        "tools": _tools(told.rows, amount.tools, case.units, not told.stopped),
        "runs": _runs(told, amount.runs),
        "steps": [short(step, amount.step) for step in told.steps],
        "reasons": _reasons(told, amount.reasons),
        "last_words": LAST_WORDS,
        **_stops(told.stops, amount.stops),
        "cautions": [short(words, 200) for words in cautions(case, setting)[: amount.cautions]],
        "safety": blocks.SAFETY,
        "sign": SIGN,
        "between": BETWEEN,
        "size": amount.size,
        "break": True,
    }


def _verdict(told: Told, amount: Amount) -> dict[str, Any]:
    examination, said = told.examination, headline(told.examination)
    answer = examination.verdict
    return {
        "answer": answer.value,
        "mark": Drawing(mark_svg(answer, 14)),
        "word": "Not to be run." if told.stopped else f"{answer.value.capitalize()}.",
        "sentence": short(said.sentence, amount.sentence),
        "act": short(_act(told, said), amount.sentence),
        "risks": [
            (Drawing(mark_svg(examination.risks[risk], 4)), risk.value, examination.risks[risk].value) for risk in RISKS
        ],
    }


def _act(told: Told, said: Headline) -> str:
    """What to do; what is missing where nothing can be said without it."""
    if told.examination.verdict is Answer.UNJUDGED and told.missing:
        return f"Missing: {listed(told.missing, 7)}."
    return said.act


def _picture(setting: Setting, room: float, told: Told) -> dict[str, Any]:
    """The set-up at the largest scale that fits, and the head rule that says which."""
    units = told.examination.case.units
    drawn: Picture | None = draw_setting(setting, LEFT, room, units) if room > 0 else None
    scale = drawn.scale if drawn is not None else ""
    return {
        "picture": Drawing(drawn.svg) if drawn is not None else "",
        "tall": drawn.height_mm if drawn is not None else 0.0,
        "rule": Drawing(blocks.head_rule(scale, units.inch).html),
    }


def _no_picture(setting: Setting) -> str:
    nothing = setting.stock is None and setting.cut is None and not setting.around
    return f"No picture. Not given: {listed(list(setting.missing))}." if nothing else "No room here for a picture."


def _zeros(zeros: list[Zero], units: ShopUnits) -> dict[str, Any]:
    told = [
        {
            "name": zero.name,
            "rows": [(axis, blocks.planned(fact, units)) for axis, fact in zip("XYZ", zero.at, strict=True)],
            "words": short(zero.words, 110) if zero.words else "Where it lies was not written down.",
        }
        for zero in zeros[:2]
    ]
    more = f"And {listed([zero.name for zero in zeros[2:]], 7)}: told in the examination." if len(zeros) > 2 else ""
    return {"zeros": told, "more_zeros": more}


def _doubts(examination: Examination, amount: Amount) -> dict[str, Any]:
    single, waiting = open_answers(examination, RULE)
    told: list[dict[str, Any]] = [
        {
            "mark": Drawing(mark_svg(one.answer, 4)),
            "title": one.title,
            "rule": Drawing(one.rule) if number < amount.ruled else "",
            "told": one.told,
        }
        for number, one in enumerate(single)
    ]
    told += [
        {"mark": Drawing(mark_svg(Answer.UNJUDGED, 4)), "title": one.title, "rule": "", "told": short(one.told(9), 160)}
        for one in waiting
    ]
    left_out = [*(one.topic for one in single), *(one.name for one in waiting)][amount.doubts :]
    more = f"{'Also ' if amount.doubts else ''}{listed(left_out, 9)}: told in the examination." if left_out else ""
    return {"doubts": told[: amount.doubts], "more_doubts": more}


def _tools(rows: list[ToolRow], most: int, units: ShopUnits, tick: bool) -> dict[str, Any]:
    notes = []
    if len(rows) > most:
        left_out = [row.name or called(row.number) for row in rows[most:]]
        notes.append(f"And {count(len(rows) - most, 'more tool')}: {listed(left_out, 8)}.")
    if alike := alike_words(rows):
        notes.append(f"Look alike: {short(alike, 140)}. Read the shank.")
    cells = [[words for _, words in tool_cells(row, units, LETTERS)] for row in rows[:most]]
    return _table([*tool_heads(units)], cells, TOOL_WIDE, notes, "in" if tick else "")


def _runs(told: Told, most: int) -> dict[str, Any]:
    runs: list[Run] = told.runs
    notes = []
    if len(runs) > most:
        notes.append(f"First cuts of {listed([called(run.tool) for run in runs[most:]], 8)}: told in the examination.")
    if runs:
        notes.append(
            f"To go on from a tool, T3 say, at its restart line: firstoff restart {short(told.head.title, 30)} --tool 3 --out FILE, "
            "and examine that before it runs."
        )
    cells = [[words for _, words in run_cells(run, told.examination.case.units)] for run in runs[:most]]
    return _table([*RUN_HEADS], cells, RUN_WIDE, notes, "seen")


def _table(
    heads: list[str], cells: list[list[str]], wide: tuple[float, ...], notes: list[str], tick: str
) -> dict[str, Any]:
    """With a box to tick in each row where the last column has a name."""
    room = 180.0 - TICK_WIDE - (0.0 if tick else -TICK_WIDE)
    factor = room / sum(wide)
    return {
        "heads": [*heads, *([tick] if tick else [])],
        "rows": [[*row, *([None] if tick else [])] for row in cells],
        "wide": [one * factor for one in wide] + ([TICK_WIDE] if tick else []),
        "notes": notes,
    }


def _reasons(told: Told, most: int) -> list[dict[str, str]]:
    """Why it must not be run: each stop, and what to do about it."""
    found = [
        {
            "what": short(lead(one)[0], 240) + ("" if one.first is None else f" {first_words(one.first)}"),
            "act": short(minus(one.do), 220),
        }
        for one in told.stopping[:most]
    ]
    if len(told.stopping) > most:
        found.append({"what": f"And {len(told.stopping) - most} more.", "act": "All stand in the examination."})
    return found


def _stops(stops: list[StopRow], most: int) -> dict[str, Any]:
    told = [
        {
            "where": f"Line {stop.line}, {stop.code}" + (f", {stop.stands}" if stop.stands else ""),
            "runs": f"Stops with the {stop.runs}." if stop.runs else "",
            "said": short(stop.words, 120),
        }
        for stop in stops[:most]
    ]
    more = f"And {len(stops) - most} more, the last at line {stops[-1].line}." if len(stops) > most else ""
    return {"stops": told, "more_stops": more}
