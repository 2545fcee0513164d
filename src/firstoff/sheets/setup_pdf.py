"""The set-up sheet as PDF: what is set up on the first page, what is then done on the second, and one page where both have room there.

The template tells how high its bands are; the picture takes what they leave, and where they leave too little, less is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from firstoff.sheets import paper_tools
from firstoff.sheets import sheet_blocks as blocks
from firstoff.sheets.cautions import cautions
from firstoff.sheets.open_doubts import open_answers
from firstoff.sheets.paper_text import short
from firstoff.sheets.plan_and_front import draw_setting
from firstoff.sheets.scale_svg import mark_svg
from firstoff.sheets.sheet_facts import StopRow, Zero
from firstoff.sheets.sheet_picture import Setting, setting_of_sheet
from firstoff.sheets.sheet_told import MOST_HOW, Told, told_of
from firstoff.sheets.tool_runs import Run, called
from firstoff.sheets.tool_tables import RUN_HEADS, alike_words, run_cells
from firstoff.sheets.typst_paper import Document, Drawing, Paper, Typeset
from firstoff.sheets.wording import RISKS, Headline, first_words, headline, in_order, lead, minus, without_paths
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer, Answered
from firstoff.verdict.words import ShopUnits, count, listed

MARK = "firstoff:set-up-sheet"
TEMPLATE = "setup_sheet.typ"
LEFT = 125.0
"""Width of the picture's column, mm."""
RULE = 56.0
"""Width of the rule of a doubt, mm: a third of the column less the gaps."""
BETWEEN = 5.0
"""Between two bands, mm."""
MOST_WIDER, GAPS, MOST_TALLER = 4.0, 6, 3.0
"""What bands may stand further apart where the page has room, mm, and among how many it is shared; then what a row of the tools may be taller."""
MOST_PICTURE, GOOD_PICTURE, FAIR_PICTURE, LEAST_PICTURE = 150.0, 72.0, 54.0, 42.0
"""Height of the picture, mm: at most; so much that both halves may stand on one page; that of a sheet which is not run; and the least in
which it can be read."""
RUN_WIDE = (8.0, 12.0, 14.0, 13.0, 12.5, 12.0, 21.5, 16.0, 11.5, 17.0, 19.0, 17.5)
TICK_WIDE = 9.0
"""Widths of the columns of the table of first cuts, mm; with the box to tick they fill the column of 180."""
LARGEST, SMALLEST, LETTER = 26.0, 16.0, 0.185
"""Letters of the job's name, pt: at most and at least; and the width of one, mm for each pt of its size."""
NAME_ROOM = 61.0
"""Beside the title block, mm."""
WITHOUT_PICTURE = 5
"""From this tightness on there may be no picture: zero and holding then stand side by side."""
SLACK = 0.5
"""Left free on a page, mm: heights are told one by one and set together."""
SIGN = ("set up by", "checked by", "first size, as measured", "date, time")
ANY_SCALE = "1:10.0"
"""Stands for the scale until the picture is drawn."""
FOLLOWS = "May follow from it, so mend it first"
LAST_WORDS = "Mend it, examine it again, and print a new sheet. Take this one off the machine."


@dataclass(frozen=True, slots=True)
class SetUp:
    """How much is told of what is set up: tools, doubts with their rules and all doubts; letters of a sentence, of a cell at the head, of a
    block of the program, of a tool's name, of a note."""

    tools: int
    ruled: int
    doubts: int
    sentence: int
    cell: int
    block: int
    name: int
    note: int
    speeds: bool = False
    """Whether each tool is told with its spindle speeds and feeds."""


@dataclass(frozen=True, slots=True)
class Work:
    """How much is told of what is then done: calls, stops, cautions, reasons not to run it; letters of a step and of what to do at a stop."""

    runs: int
    stops: int
    cautions: int
    reasons: int
    step: int
    stop: int


@dataclass(frozen=True, slots=True)
class Amount:
    """How much is told, and the size of the letters, pt."""

    set_up: SetUp
    work: Work
    size: float
    aside: bool = False
    """Where it is not to be run: zero and holding stand beside the reasons, and the cautions beside the picture."""


SIZES = (12.0, 11.0, 10.0)
"""Tried first: letters as large as they have room."""
SET_UPS = (
    SetUp(24, 6, 9, 320, 60, 130, 22, 200, True),
    SetUp(24, 6, 9, 320, 60, 130, 22, 200),
    SetUp(24, 3, 6, 240, 40, 90, 22, 160),
    SetUp(20, 3, 3, 180, 28, 64, 11, 120),
    SetUp(16, 0, 3, 140, 24, 64, 11, 100),
    SetUp(14, 0, 0, 110, 20, 32, 11, 90),
    SetUp(10, 0, 0, 110, 20, 32, 11, 90),
    SetUp(6, 0, 0, 80, 16, 32, 11, 90),
)
STOPPED = (SET_UPS[0], SET_UPS[1], SetUp(24, 0, 0, 320, 60, 130, 22, 200))
"""Tried too for a sheet that is not to be run."""
WORKS = (
    Work(24, 10, 6, 12, 400, 120),
    Work(24, 8, 5, 9, 400, 100),
    Work(20, 6, 4, 7, 340, 80),
    Work(14, 4, 3, 5, 280, 60),
    Work(8, 3, 2, 4, 220, 40),
    Work(4, 2, 1, 3, 140, 30),
)
"""Told in small letters, each by itself tightened until its page has room for it; the last always has."""


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
    tried: list[tuple[dict[str, Any], Room]] = []
    for amount in _amounts(told.stopped):
        data = _data(told, setting, amount)
        room = _room(typeset.measured({**data, "only_sizes": True}, "sizes"), paper, told.stopped, _drawable(setting))
        if room.for_work and room.for_picture:
            tried.append((data, room))
            if _liked(room) or not told.stopped:
                break
    if not tried:
        return typeset, _tightened(typeset, told, setting, paper)
    liked, whole = ([one for one in tried if fits(one[1])] for fits in (_liked, lambda room: room.one_page))
    data, room = (liked or whole or tried)[0]
    return typeset, _with_picture(data, setting, room, told)


def _liked(room: Room) -> bool:
    """One page, and on it a picture that is no thumbnail."""
    return room.one_page and room.picture >= FAIR_PICTURE


def _amounts(stopped: bool) -> list[Amount]:
    """Tried first, all in letters as large as they have room; what is not run has one page, be its letters smaller and its doubts only named."""
    whole = [Amount(SET_UPS[0], WORKS[0], size) for size in SIZES]
    return [*whole, *(Amount(one, WORKS[0], SIZES[-1], True) for one in STOPPED)] if stopped else whole


def _tightened(typeset: Typeset, told: Told, setting: Setting, paper: Paper) -> dict[str, Any]:
    """In small letters, with as little left out on either page as it takes."""
    first, second = 0, 0
    while True:
        data = _data(told, setting, Amount(SET_UPS[first], WORKS[second], SIZES[-1]))
        room = _room(typeset.measured({**data, "only_sizes": True}, "sizes"), paper, told.stopped, _drawable(setting))
        tighter_first = not room.for_set_up if first >= WITHOUT_PICTURE else not room.for_picture
        tighter = first + (tighter_first or (told.stopped and not room.for_work)), second + (not room.for_work)
        kept = min(tighter[0], len(SET_UPS) - 1), min(tighter[1], len(WORKS) - 1)
        if kept == (first, second):
            return _with_picture(data, setting, room, told)
        first, second = kept


@dataclass(frozen=True, slots=True)
class Room:
    """What two pages have room for: the picture's height in mm, whether that is enough, all else of the set-up, and the work."""

    picture: float
    side: float
    """Height of what stands beside it, less what stands under it."""
    for_picture: bool
    for_set_up: bool
    for_work: bool
    one_page: bool
    runs: float
    """Height of the table of first cuts: it stands on the first page where that has room left."""


def _room(sizes: dict[str, float], paper: Paper, stopped: bool, drawable: bool) -> Room:
    """The picture stands on the first page, but on the second where the first says why not to run it."""
    under = BETWEEN + sizes["tools"] + (sizes["doubts"] + BETWEEN if sizes["doubts"] else 0.0)
    head, work = sizes["head"] + BETWEEN, sizes["work"] + (sizes["sign"] + BETWEEN if sizes["sign"] else 0.0)
    least = max(LEAST_PICTURE + sizes["caption"], sizes["side"]) if drawable else sizes["flat"]
    beside = sizes["side"] - sizes["caption"]
    one = paper.room_mm - SLACK - under - head - BETWEEN - work
    good = least if stopped or not drawable else max(GOOD_PICTURE + sizes["caption"], sizes["side"])
    if one >= good:
        return Room(one - sizes["caption"], beside, True, True, True, True, 0.0)
    free, other = paper.room_mm - under - SLACK, work
    free, other = (free, head + other) if stopped else (free - head, other)
    enough = free >= least
    for_work = other <= paper.room_mm - SLACK
    return Room(free - sizes["caption"], beside, enough, free >= sizes["flat"], for_work, False, sizes["runs"])


def _with_picture(data: dict[str, Any], setting: Setting, room: Room, told: Told) -> dict[str, Any]:
    """The set-up at the largest scale that fits, and the head rule that says which; bands wider apart where room is left."""
    units = told.examination.case.units
    drawn = draw_setting(setting, LEFT, min(room.picture, MOST_PICTURE), units) if room.for_picture else None
    made: dict[str, Any] = {"break": not room.one_page}
    if drawn is not None:
        made |= {
            "picture": Drawing(drawn.svg),
            "rule": Drawing(blocks.head_rule(drawn.scale, units.inch).html),
            "caption": data["caption"].replace(ANY_SCALE, drawn.scale),
        }
        if not room.one_page:
            spare = room.picture - max(drawn.height_mm, room.side)
            made["runs_first"] = not told.stopped and bool(room.runs) and spare >= room.runs + BETWEEN
            spare -= room.runs + BETWEEN if made["runs_first"] else 0.0
            gaps = GAPS + made["runs_first"]
            made["wider"] = min(MOST_WIDER, max(spare, 0.0) / gaps)
            spare -= made["wider"] * gaps
            made["taller"] = min(MOST_TALLER, max(spare, 0.0) / max(len(data["tools"]["rows"]), 1))
    return data | made


# --- what the template is given --------------------------------------------------------------------------------------


def _data(told: Told, setting: Setting, amount: Amount) -> dict[str, Any]:
    case, head, set_up, work = told.examination.case, told.head, amount.set_up, amount.work
    known = head.stamp
    return {
        "title": short(head.title, 48),
        "title_size": min(max(NAME_ROOM / LETTER / max(len(short(head.title, 48)), 1), SMALLEST), LARGEST),
        "kind": f"Set-up sheet, in {'inches' if case.units.inch else 'millimetres'}",
        "foot": f"{short(head.title, 30)}: {short(known.file, 40)}, {count(known.lines, 'line')}, stamp {known.mark}",
        "foot_strong": "Not to be run." if told.stopped else "",
        "cells": [
            ("machine", short(head.machine, set_up.cell)),
            ("program", f"{short(known.file, set_up.cell)}, {count(known.lines, 'line')}"),
            ("stock", short(head.stock, set_up.cell)),
            ("stamp", known.mark),
            ("time", head.time),
            ("printed", head.printed_words),
        ],
        "ends": [
            (name, short(block, set_up.block))
            for name, block in (
                ("first block", known.first),
                ("last block", known.last),
                ("first move", head.first_move),
                ("last move", head.last_move),
            )
        ],
        "rule": Drawing(blocks.head_rule("", case.units.inch).html),
        "verdict": _verdict(told, set_up),
        "stopped": told.stopped,
        "aside": amount.aside,
        "picture": "",
        "caption": _caption(told, setting, set_up.note, ANY_SCALE),
        "no_picture": _no_picture(setting),
        **_zeros(told.zeros, case.units, set_up.note // 2 + 10),
        "holding": short(told.holding, set_up.sentence),
        **_doubts(told.examination, set_up),
        "rule_wide": RULE,
        "tools": _tools(told, set_up),
        "runs": _runs(told, work.runs),
        "steps": [short(step, work.step) for step in told.steps],
        "reasons": _reasons(told, work.reasons),
        "following": [_follows(one) for one in told.following[: work.reasons]],
        "follows": FOLLOWS,
        "last_words": LAST_WORDS,
        **_stops(told.stops, work),
        "cautions": [short(words, 200) for words in cautions(told.examination, setting)[: work.cautions]],
        "safety": blocks.SAFETY,
        "sign": SIGN,
        "between": BETWEEN,
        "size": amount.size,
        "break": True,
    }


def _verdict(told: Told, amount: SetUp) -> dict[str, Any]:
    examination, said = told.examination, headline(told.examination)
    answer = examination.verdict
    sentence, act = _first_words(told, said)
    return {
        "answer": answer.value,
        "mark": Drawing(mark_svg(answer, 14)),
        "word": "Not to be run." if told.stopped else f"{answer.value.capitalize()}.",
        "sentence": short(sentence, amount.sentence),
        "act": short(act, amount.sentence),
        "risks": [
            (Drawing(mark_svg(examination.risks[risk], 4)), risk.value, examination.risks[risk].value) for risk in RISKS
        ],
    }


def _first_words(told: Told, said: Headline) -> tuple[str, str]:
    """The sentence in large letters and what stands under it; what is missing comes first where nothing can be said without it."""
    if told.examination.verdict is Answer.UNJUDGED and told.missing:
        needs = [
            need for one in in_order(told.examination.answers) if one.answer is Answer.UNJUDGED for need in one.needs
        ]
        plain = len(told.missing) == 1 and bool(needs) and len(needs[0].how) < MOST_HOW
        how = f" {without_paths(needs[0].how)}" if plain else ""
        return f"Missing: {listed(told.missing, 7)}.", f"{said.waits or said.sentence}{how}"
    first = told.stopping[0].first if told.stopping else None
    return said.sentence + ("" if first is None else f" {first_words(first)}"), said.act


def _caption(told: Told, setting: Setting, letters: int, scale: str) -> str:
    """What the numbers are; and the scale where the picture may stand on another page than the rule at the head."""
    scale = f"scale {scale}" if told.stopped and _drawable(setting) else ""
    return "; ".join(part for part in (scale, short(setting.caption, letters)) if part)


def _no_picture(setting: Setting) -> str:
    if _drawable(setting):
        return "No room here for a picture."
    return f"No picture. Not given: {listed(list(setting.missing))}."


def _drawable(setting: Setting) -> bool:
    return setting.stock is not None or setting.cut is not None or bool(setting.around)


def _zeros(zeros: list[Zero], units: ShopUnits, letters: int) -> dict[str, Any]:
    told = [
        {
            "name": zero.name,
            "rows": [(axis, blocks.planned(fact, units)) for axis, fact in zip("XYZ", zero.at, strict=True)],
            "words": short(zero.words, letters) if zero.words else "Where it lies was not written down.",
        }
        for zero in zeros[:2]
    ]
    more = f"And {listed([zero.name for zero in zeros[2:]], 7)}: told in the examination." if len(zeros) > 2 else ""
    return {"zeros": told, "more_zeros": more}


def _doubts(examination: Examination, amount: SetUp) -> dict[str, Any]:
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
    names = f"{'also ' if amount.doubts else ''}{listed(left_out, 9)}"
    more = f"{names[:1].upper()}{names[1:]}: told in the examination." if left_out else ""
    return {"doubts": told[: amount.doubts], "more_doubts": more}


def _tools(told: Told, amount: SetUp) -> dict[str, Any]:
    rows, units, tick = told.rows, told.examination.case.units, not told.stopped
    notes, most = [], amount.tools
    if len(rows) > most:
        left_out = [row.name or called(row.number) for row in rows[most:]]
        notes.append(short(f"And {count(len(rows) - most, 'more tool')}: {listed(left_out, 8)}.", amount.note))
    facts = told.examination.facts
    return {
        "heads": paper_tools.heads(units, tick),
        "wide": paper_tools.widths(tick),
        "rows": [paper_tools.row(one, facts, units, amount.name, amount.speeds) for one in rows[:most]],
        "tick": tick,
        "notes": notes,
        "alike": f"Look alike: {short(alike, amount.note)}. Read the shank." if (alike := alike_words(rows)) else "",
    }


def _runs(told: Told, most: int) -> dict[str, Any]:
    runs: list[Run] = told.runs
    notes = []
    if len(runs) > most:
        notes.append(f"First cuts of {listed([called(run.tool) for run in runs[most:]], 8)}: told in the examination.")
    if runs:
        notes.append(
            f"To go on from a tool at its restart line: firstoff restart {_quoted(told.head.title)} --tool {_example(runs)} --out FILE; "
            "examine what it writes before it runs."
        )
    cells = [[words for _, words in run_cells(run, told.examination.case.units)] for run in runs[:most]]
    return _table([*RUN_HEADS], cells, RUN_WIDE, notes, "seen")


def _quoted(job: str) -> str:
    return f'"{short(job, 30)}"' if " " in job else short(job, 30)


def _example(runs: list[Run]) -> str:
    """A tool to show with."""
    return next((str(run.tool) for run in runs if run.tool >= 0 and run.call.change is not None), "T")


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
    """Why it must not be run, beside what the verdict's own sentence says: each stop, and what to do about it."""
    others = [one for one in told.stopping[1:] if one not in told.following]
    found = [
        {
            "what": short(lead(one)[0], 240) + ("" if one.first is None else f" {first_words(one.first)}"),
            "act": short(minus(one.do), 220),
        }
        for one in others[:most]
    ]
    if len(others) > most:
        found.append({"what": f"And {len(others) - most} more.", "act": "All stand in the examination."})
    return found


def _follows(one: Answered) -> str:
    """The question, and the line it is worst at."""
    place = lead(one)[1] or (one.places[0] if one.places else None)
    return one.question.asks + (f" Line {place.place.line}." if place is not None else "")


def _stops(stops: list[StopRow], amount: Work) -> dict[str, Any]:
    most = amount.stops
    told = [
        {
            "where": f"Line {stop.line}, {stop.code}" + (f", {stop.stands}" if stop.stands else ""),
            "runs": f"Stops with the {stop.runs}." if stop.runs else "",
            "said": short(stop.words, amount.stop),
        }
        for stop in stops[:most]
    ]
    more = f"And {len(stops) - most} more, the last at line {stops[-1].line}." if len(stops) > most else ""
    return {"stops": told, "more_stops": more}
