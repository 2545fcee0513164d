"""What a program does, on a terminal: understood or not first, then tools, stops, offsets, leftovers, and each problem under its column."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from firstoff.sheets.glyphs import ACCENT, PLAIN, QUIET, SAYS, STRONG
from firstoff.sheets.page import MARGIN, Page, padded
from firstoff.sheets.records import ProblemRecord, ReadRecord, ToolRecord
from firstoff.sheets.wording import clock, fact_name, is_fact, without_paths
from firstoff.verdict.question import Answer
from firstoff.verdict.words import MM_PER_INCH, count, listed

MOST_PROBLEMS = 20
MOST_LINES = 8
"""Lines named in one list; the rest is counted."""
INDENT = 7
WORDS = {"fault": "not understood", "depends": "two readings", "note": "read by custom"}


def print_read(record: ReadRecord, console: Console, lines: Sequence[str] = ()) -> None:
    """Print what a program does. `lines` is the program's text, for the whole line over a problem's caret."""
    page = Page(console)
    _head(page, record)
    _understood(page, record)
    _moves(page, record)
    _tools(page, record)
    _lists(page, record)
    _remarks(page, record)
    _problems(page, record, lines)
    page.gap()
    page.show()


# --- numbers in the program's own unit -------------------------------------------------------------------------------


def _unit(record: ReadRecord) -> tuple[str, float]:
    """(name, factor from the record's lengths)."""
    if record.units == "inch":
        return "in", 1 / MM_PER_INCH
    return ("mm" if record.units == "mm" else "units"), 1.0


def _length(record: ReadRecord, value: float) -> str:
    """A length in four decimals of an inch or three of a mm at most: what the program itself can say."""
    unit, factor = _unit(record)
    text = f"{value * factor:.{4 if unit == 'in' else 3}f}".rstrip("0").rstrip(".")
    return ("0" if text in ("-0", "") else text).replace("-", "\u2212")


def _span(record: ReadRecord, span: tuple[float, float] | None) -> str:
    if span is None:
        return "not known"
    low, high = (_length(record, value) for value in span)
    return low if low == high else f"{low} to {high}"


# --- sections --------------------------------------------------------------------------------------------------------


def _head(page: Page, record: ReadRecord) -> None:
    file = record.file.replace("\\", "/").rsplit("/", 1)[-1]
    first = Text(" " * MARGIN)
    first.append_text(Text(page.crop(file, page.width // 2), style=STRONG))
    about = f"  {count(record.lines, 'line')}, {count(record.blocks, 'block')} run, {'unit ' if record.units == 'not stated' else ''}{record.units}"
    first.append_text(page.text(about, QUIET))
    page.say(first, MARGIN) if cell_len(first.plain) > page.width else page.put(first)
    page.edge()
    page.gap()


def _understood(page: Page, record: ReadRecord) -> None:
    open_ones = sorted(
        (problem for problem in record.problems if problem.kind != "note"), key=lambda one: (one.line, one.column)
    )
    answer = Answer.CLEAR if record.understood else Answer.UNJUDGED
    if record.understood:
        words = "Every word understood."
    else:
        first = open_ones[0] if open_ones else None
        where = f", the first at line {first.line}, column {first.column}" if first else ""
        words = f"{count(len(open_ones), 'place')} that I can't read for certain{where}."
        words = words[0].upper() + words[1:]
    page.say(page.text(words, STRONG), MARGIN + 5, first=Text(f" {page.glyphs.marks[answer]}", style=STRONG))


def _moves(page: Page, record: ReadRecord) -> None:
    moves, extents = record.moves, record.extents
    parts = [
        count(number, one, many)
        for number, one, many in (
            (moves.feed, "feed move", "feed moves"),
            (moves.arc, "arc", "arcs"),
            (moves.rapid, "rapid", "rapids"),
            (moves.cycle_holes, "hole in cycles", "holes in cycles"),
            (moves.dwell, "dwell", "dwells"),
        )
        if number
    ]
    page.gap()
    page.say(f"{listed(parts, 9)}." if parts else "Nothing moves.", MARGIN + 5)
    unit, _ = _unit(record)
    reach = f"X {_span(record, extents.x)}   Y {_span(record, extents.y)}   Z {_span(record, extents.z)}   {unit}"
    page.say(reach, MARGIN + 5)
    page.say("That is the tip's path; compensation is not counted.", MARGIN + 5, QUIET)
    if record.time is not None and record.time.feed_s + record.time.dwell_s > 0:
        without = record.time.moves_without
        short = f" {count(without, 'feed move')} without a feed or a length count as nothing." if without else ""
        told = clock(record.time.feed_s + record.time.dwell_s)
        page.say(f"At least {told} at the feeds commanded; rapids and tool changes need a machine.{short}", MARGIN + 5)


def _tools(page: Page, record: ReadRecord) -> None:
    if not record.tools:
        return
    page.heading("Tools, in the order of use")
    for number, tool in enumerate(record.tools):
        if number:
            page.gap()
        name = f"T{tool.number}" if tool.number is not None else "no T"
        page.say(_tool_first(page, record, tool), INDENT, first=Text(f" {name}", style=STRONG))
        for words in _tool_more(record, tool):
            page.say(words, INDENT, QUIET)


def _tool_first(page: Page, record: ReadRecord, tool: ToolRecord) -> Text:
    registers = " ".join([*(f"H{h}" for h in tool.lengths), *(f"D{d}" for d in tool.radii)])
    deepest = "never feeds" if tool.deepest_z is None else f"deepest Z {_length(record, tool.deepest_z)}"
    cells = [
        (page.text(f"line {tool.line}", QUIET), 12),
        (page.text(registers or "no H", PLAIN), 9),
        (page.text(_speeds(tool)), 18),
        (page.text(_feeds(record, tool)), 16),
        (page.text(deepest), 0),
    ]
    line = Text("")
    for text, wide in cells:
        line.append_text(padded(text, wide))
        if wide and not line.plain.endswith(" "):
            line.append("  ")
    return line


def _speeds(tool: ToolRecord) -> str:
    if not tool.speeds:
        return "no cut"
    told = []
    for speed in tool.speeds:
        if speed is None:
            told.append("S never given")
        elif speed == 0:
            told.append("spindle off")
        else:
            told.append(f"S{abs(speed):.0f} {'cw' if speed > 0 else 'ccw'}")
    return listed(told, 3)


def _feeds(record: ReadRecord, tool: ToolRecord) -> str:
    if tool.feeds_per_min is None:
        return "no F"
    low, high = (_length(record, value) for value in tool.feeds_per_min)
    return f"F{low}" if low == high else f"F{low} to F{high}"


def _tool_more(record: ReadRecord, tool: ToolRecord) -> list[str]:
    parts = []
    if tool.first_move:
        parts.append(f"first move: {tool.first_move}")
    if tool.coolant_at_first_feed is not None:
        parts.append(f"coolant at the first cut: {tool.coolant_at_first_feed}")
    if tool.plunges.count and tool.plunges.deepest is not None:
        deepest = f"to Z {_length(record, tool.plunges.deepest)} at line {tool.plunges.line}"
        parts.append(f"{count(tool.plunges.count, 'straight plunge')}, deepest {deepest}")
    if tool.holes:
        parts.append(count(tool.holes, "hole"))
    return ["; ".join(parts)] if parts else []


def _lists(page: Page, record: ReadRecord) -> None:
    """Stops, offsets, what is low, what is left: each in one line, and a plain word where there is none."""
    page.heading("Stops, offsets and the end")
    stops = [f"line {stop.line} {stop.code}{f' ({stop.comment})' if stop.comment else ''}" for stop in record.stops]
    below = [f"line {rapid.line} (Z {_length(record, rapid.z)})" for rapid in record.rapids_below_zero]
    comps = [
        f"{one.side} D{one.register} from line {one.on_line}"
        + (f" to {one.off_line}" if one.off_line else ", never off")
        for one in record.compensated
    ]
    _row(page, "stops", listed(stops, MOST_LINES) or "none")
    _row(page, "zero", listed(list(record.offsets), MOST_LINES) or "none named")
    _row(
        page,
        "rewrites",
        listed([f"{one.what} at line {one.line}" for one in record.offsets_written], MOST_LINES) or "nothing",
    )
    _row(page, "rapids below zero", listed(below, MOST_LINES) or "none")
    if comps:
        _row(page, "compensation", listed(comps, MOST_LINES))
    _row(page, "left on", listed(list(record.left_on), MOST_LINES) or "nothing")
    ends = [
        f"{axis} {_length(record, value)}" for axis, value in zip("XYZ", _end(record), strict=True) if value is not None
    ]
    _row(page, "ends", f"by {record.ended_by}" + (f" at {' '.join(ends)}" if ends else ", position not known"))


def _end(record: ReadRecord) -> tuple[float | None, float | None, float | None]:
    """The end is in the file's own unit; everything else here is in mm."""
    factor = MM_PER_INCH if record.units == "inch" else 1.0
    x, y, z = record.end.x, record.end.y, record.end.z
    return (
        None if x is None else x * factor,
        None if y is None else y * factor,
        None if z is None else z * factor,
    )


def _row(page: Page, name: str, words: str) -> None:
    page.say(words, 20, first=page.text(f" {name}", QUIET))


def _remarks(page: Page, record: ReadRecord) -> None:
    if not record.remarks:
        return
    page.heading("What a careful reader would say")
    for remark in record.remarks:
        page.say(remark.what, 12, first=page.text(f" line {remark.line}" if remark.line else "", QUIET))


def _problems(page: Page, record: ReadRecord, lines: Sequence[str]) -> None:
    if not record.problems:
        return
    page.heading("Read with a doubt" if record.understood else "Not read for certain")
    order = {"fault": 0, "depends": 1, "note": 2}
    ordered = sorted(record.problems, key=lambda problem: (order[problem.kind], problem.line, problem.column))
    same: dict[tuple[str, str, str], list[ProblemRecord]] = {}
    for problem in ordered:
        same.setdefault((problem.kind, problem.what, problem.fact or ""), []).append(problem)
    folded = list(same.values())
    for number, alike in enumerate(folded[:MOST_PROBLEMS]):
        if number:
            page.gap()
        _problem(page, alike[0], len(alike), lines)
    if len(folded) > MOST_PROBLEMS:
        page.gap()
        page.say(f"and {len(folded) - MOST_PROBLEMS} more kinds; --json lists them all.", style=QUIET)


def _problem(page: Page, problem: ProblemRecord, times: int, lines: Sequence[str]) -> None:
    """The line, a caret under the column, what is wrong, how often, and what would settle it."""
    whole = lines[problem.line - 1] if 0 < problem.line <= len(lines) else ""
    begin = problem.column - 1
    text = whole or problem.text
    if text.strip():
        page.put(*_code(page, problem.line, text, begin if whole else 0))
    if whole.strip():
        at = 10 + begin - _cut_off(begin, page.width - 10)
        page.put(Text(" " * at), Text(page.glyphs.caret, style=ACCENT if problem.kind == "fault" else STRONG))
    # Line and caret stand above already where the program's text is at hand.
    where = "" if whole.strip() else f", line {problem.line}, column {problem.column}"
    often = f" ({times} times, first here)" if times > 1 else ""
    words = f"{WORDS[problem.kind]}{where}: {without_paths(problem.what)}{often}"
    page.say(words, INDENT, PLAIN if problem.kind != "note" else QUIET)
    if problem.fact:
        settles = page.text(f"{fact_name(problem.fact)} would settle it", SAYS)
        settles.append_text(page.text(f" ({problem.fact})" if is_fact(problem.fact) else "", QUIET))
        page.say(settles, INDENT)


def _cut_off(begin: int, room: int) -> int:
    """How many characters are left out at the front so that the caret's place is on the page."""
    return max(0, begin - room * 2 // 3)


def _code(page: Page, line: int, text: str, begin: int) -> tuple[Text, Text]:
    room = page.width - 10
    shown = text.replace("\t", " ")[_cut_off(begin, room) :]
    return Text(f" {line:>6} {page.glyphs.gutter} "[-10:], style=QUIET), Text(page.crop(shown, room), style=STRONG)
