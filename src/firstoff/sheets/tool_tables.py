"""The two tables of a set-up sheet: who each tool is, to be ticked at the rack; and what each call of it does, to be ticked at its first cut."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from firstoff.facts.fact import Fact
from firstoff.sheets.first_contacts import Contact
from firstoff.sheets.paper_text import height_of, short
from firstoff.sheets.sheet_blocks import COLUMN, Block
from firstoff.sheets.sheet_facts import ToolRow
from firstoff.sheets.tool_runs import Run, called
from firstoff.sheets.wording import amount
from firstoff.verdict.words import MM_PER_INCH, ShopUnits, count, listed

RUN_HEADS = (
    "T", "restart", "first cut", "at X", "Y", "on Z", "deep × wide", "halt after", "gap", "Z to go", "override", "cuts, min",
)  # fmt: skip
"""Of the table of calls."""
NAME_LETTERS, LOOKS_LETTERS, REGISTERS_LETTERS = 9, 25, 8
"""Letters of a tool's name, of what it looks like and of its registers in the HTML sheet's narrow columns."""
ROW, HEAD = 4.6, 5.2
NOTE_LETTERS = 115
"""One line under a table."""
NONE = "–"
MOST_ALIKE, MOST_GROUPS = 3, 3
"""Names in a group of tools that look alike, and such groups."""
LEAST_BITE_MM = 0.005
LONG_MIN = 10.0
"""From here on tenths of a minute say nothing."""


def tool_table(rows: Sequence[ToolRow], shown: int, units: ShopUnits, tick: bool = True) -> Block:
    """The tools in the order of use, with a box to tick for each (none on a sheet that must not be run)."""
    if not rows:
        return Block('<p class="quiet">The program cuts with no tool that I could follow.</p>', 6.0)
    names = tool_heads(units)
    body = "".join(_tool_row(row, units, tick) for row in rows[:shown])
    notes = []
    if len(rows) > shown:
        left_out = [row.name or called(row.number) for row in rows[shown:]]
        notes.append(f"And {count(len(rows) - shown, 'more tool')}: {listed(left_out, 6)}.")
    if not tick and (alike := alike_words(rows)):
        notes.append(f"Look alike: {alike}. Read the shank.")
    return _table("tools", names, "in" if tick else "", body, min(shown, len(rows)), notes)


def alike_words(rows: Sequence[ToolRow]) -> str:
    """``em6 and em6-stub; em3 and em3-long``; empty where none look alike."""
    alike = {tuple(sorted((row.name, *row.alike))): None for row in rows if row.alike}
    groups = [listed(list(names), MOST_ALIKE) for names in alike]
    more = f"; and {len(groups) - MOST_GROUPS} more" if len(groups) > MOST_GROUPS else ""
    return "; ".join(groups[:MOST_GROUPS]) + more


def run_table(runs: Sequence[Run], shown: int, units: ShopUnits) -> Block:
    """What each call does, in the order of the program, with a box to tick when gap and distance to go were as told."""
    if not runs or shown == 0:
        return Block("", 0.0)
    body = "".join(_run_row(run, units) for run in runs[:shown])
    notes = []
    if len(runs) > shown:
        others = listed([called(run.tool) for run in runs[shown:]], 8)
        notes.append(f"First cuts of {others}: told in the examination.")
    return _table("runs", RUN_HEADS, "seen", body, min(shown, len(runs)), notes)


def _table(part: str, names: Sequence[str], tick: str, body: str, rows: int, notes: Sequence[str]) -> Block:
    heads = "".join(f"<th>{escape(name)}</th>" for name in (*names, *([tick] if tick else [])))
    told = "".join(f'<p class="under">{escape(short(note, NOTE_LETTERS))}</p>' for note in notes)
    tall = (
        HEAD
        + rows * ROW
        + 0.5
        + (2.0 if part == "runs" else 0.0)
        + sum(height_of(short(note, NOTE_LETTERS), COLUMN) + 0.8 for note in notes)
    )
    return Block(f'<table class="{part}"><tr>{heads}</tr>{body}</table>{told}', tall)


def _row(cells: Sequence[tuple[str, str]], tick: bool) -> str:
    inside = "".join(f'<td class="{name}">{escape(text)}</td>' for name, text in cells)
    box = '<td class="in"><i></i></td>' if tick else ""
    return f"<tr>{inside}{box}</tr>"


# --- who each tool is ------------------------------------------------------------------------------------------------


def tool_heads(units: ShopUnits) -> tuple[str, ...]:
    """Names of the columns of `tool_cells`."""
    unit = "in" if units.inch else "mm"
    return "pocket", "T", "name", f"looks ({unit})", "out OHX", "length LF", "window", "H, D", "S", "F"


def _tool_row(row: ToolRow, units: ShopUnits, tick: bool) -> str:
    return _row(tool_cells(row, units, (NAME_LETTERS, LOOKS_LETTERS, REGISTERS_LETTERS)), tick)


def tool_cells(row: ToolRow, units: ShopUnits, letters: tuple[int, int, int]) -> tuple[tuple[str, str], ...]:
    """(part, words) of each column; `letters` bounds name, looks and registers."""
    return (
        ("pocket", row.pocket or "?"),
        ("t", called(row.number)),
        ("name", short(row.name or "no name", letters[0])),
        ("looks", short(row.words.replace(" in ", " ", 1) if units.inch else row.words, letters[1]) or "not described"),
        ("plain", _fact(row.stick_out, units)),
        ("number", _fact(row.length, units)),
        ("plain", "none" if row.window_mm is None else f"±{_plain(row.window_mm, units)}"),
        ("plain", short(row.registers or "none", letters[2])),
        ("plain", _between(row.speeds, 1.0, 0)),
        ("plain", _between(row.feeds, 1 / MM_PER_INCH if units.inch else 1.0, 1 if units.inch else 0)),
    )


def _between(span: tuple[float, float] | None, factor: float, decimals: int) -> str:
    if span is None:
        return NONE
    low, high = (f"{value * factor:.{decimals}f}" for value in span)
    return low if low == high else f"{low}–{high}"


def _fact(fact: Fact | None, units: ShopUnits) -> str:
    if fact is None:
        return "not known"
    factor = 1 / MM_PER_INCH if units.inch else 1.0
    return amount(fact.value * factor, fact.u * factor, "")


def _plain(mm: float, units: ShopUnits) -> str:
    return f"{mm / MM_PER_INCH:.3f}" if units.inch else f"{mm:.2f}"


# --- what each call does ---------------------------------------------------------------------------------------------


def _run_row(run: Run, units: ShopUnits) -> str:
    return _row(run_cells(run, units), tick=True)


def run_cells(run: Run, units: ShopUnits) -> tuple[tuple[str, str], ...]:
    """(part, words) of each column of `RUN_HEADS`."""
    contact = run.call.contact
    change = run.call.change
    return (
        ("t", called(run.tool)),
        ("plain", str(change) if change is not None else NONE),
        *_contact_cells(contact, units),
        ("number" if run.knob.judged else "plain", run.knob.words),
        ("plain", minutes(run)),
    )


def _contact_cells(contact: Contact | None, units: ShopUnits) -> tuple[tuple[str, str], ...]:
    """Line, X, Y, surface, bite; then halt, gap and the way that is to go."""
    if contact is None:
        return (("plain", "none"), *(("plain", NONE) for _ in range(7)))
    meeting, halt = contact.meeting, contact.halt
    return (
        ("number", str(contact.line)),
        ("plain", NONE if meeting is None else coarse(meeting.x, units)),
        ("plain", NONE if meeting is None else coarse(meeting.y, units)),
        ("plain", NONE if contact.surface is None else coarse(contact.surface, units)),
        ("plain", "not known" if meeting is None else f"{_bite(meeting.deep, units)} × {_bite(meeting.wide, units)}"),
        ("number", NONE if halt is None else str(halt.line)),
        ("number", NONE if contact.gap is None else coarse(contact.gap, units)),
        ("number", NONE if halt is None or halt.to_go is None else coarse(halt.to_go, units) + " to R" * halt.cycle),
    )


def coarse(mm: float, units: ShopUnits) -> str:
    """A place as it is compared by eye, or read off a screen: tenths of a mm, hundredths of an inch, and finer where it is told finer."""
    value, least = (mm / MM_PER_INCH, 2) if units.inch else (mm, 1)
    text = f"{round(value, least + 1):.{least + 1}f}"
    text = text[:-1] if text.endswith("0") else text
    return "0" if float(text) == 0 else text.replace("-", "\u2212")


def _bite(mm: float, units: ShopUnits) -> str:
    if mm < LEAST_BITE_MM:
        return "0"
    return f"{mm / MM_PER_INCH:.3f}" if units.inch else f"{mm:.2f}" if mm < 1 else f"{mm:.1f}"


def minutes(run: Run) -> str:
    """``1.6 of 3.6``: cutting, of all that the call takes."""
    if run.whole_min is None:
        return NONE
    digits = 1 if run.whole_min < LONG_MIN else 0
    whole = f"{run.whole_min:.{digits}f}"
    return whole if run.cutting_min is None else f"{run.cutting_min:.{digits}f} of {whole}"
