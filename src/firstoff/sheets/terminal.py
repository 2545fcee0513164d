"""An examination on a terminal: the verdict first, then every question on its ruled scale, then what to measure next."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from firstoff.errors import InputError
from firstoff.sheets.glyphs import ACCENT, PLAIN, QUIET, SAYS, STRONG, scale_rows
from firstoff.sheets.held import scale_of
from firstoff.sheets.page import MARGIN, Page, padded
from firstoff.sheets.read_page import print_read
from firstoff.sheets.scale import CELLS, Case
from firstoff.sheets.shared_doubt import SharedDoubt, own_doubt, shared_doubt, shared_notes, without_notes
from firstoff.sheets.wording import (
    RISKS,
    TOPICS,
    answer_line,
    fact_name,
    first_words,
    grouped_needs,
    headline,
    in_order,
    is_fact,
    lead,
    minus,
    not_asked_groups,
    not_looked_at,
    removed_words,
    tally,
    time_words,
    without_paths,
)
from firstoff.verdict.examination import Examination
from firstoff.verdict.next import Proposal
from firstoff.verdict.question import Answer, Answered, AnsweredPlace
from firstoff.verdict.words import count, listed

__all__ = ["print_examination", "print_faults", "print_read"]

MARK = 5
"""Cells for a mark and the space round it."""
SCALE_SHARE, SCALE_LEAST, SCALE_MOST = 0.38, 27, 48
"""Share of the width that scales take, and its bounds in cells."""
SIDE_BY_SIDE_FROM = 68
"""Narrower pages set the scale under the words."""
MOST_PLACES = 3
MOST_NOTES = 3
MOST_NEEDS = 4
WORD_STYLE = {
    Answer.STOP: ACCENT + STRONG,
    Answer.CARE: ACCENT + STRONG,
    Answer.UNJUDGED: STRONG,
    Answer.CLEAR: PLAIN,
}


def print_examination(examination: Examination, console: Console, title: str, runs: Sequence[str] = ()) -> None:
    """Print an examination; nothing is wider than the console, and nothing needs colour to be understood. `runs` says what earlier runs tell."""
    page = Page(console)
    _head(page, examination, title)
    shared = shared_doubt(examination)
    _verdict(page, examination)
    if shared is not None:
        page.gap()
        page.say(shared.sentence, style=SAYS)
    if runs:
        page.gap()
    for sentence in runs:
        page.say(sentence)
    _questions(page, examination, shared)
    _foot(page, examination)
    _measure_next(page, examination)
    page.show()


def print_faults(error: InputError, console: Console) -> None:
    """Print what cannot be used, each fault with its place, its value, what is allowed and what to do."""
    page = Page(console)
    number = len(error.faults)
    page.say(f"{count(number, 'thing')} in the input cannot be used.", style=STRONG)
    place = None
    for fault in error.faults:
        where = fault.file + (f":{fault.line}" if fault.line else "")
        if where and where != place:
            page.gap()
            page.say(where, style=STRONG)
        place = where
        page.say(_sentence(fault.what), 3, first=Text(" - "))
        if fault.value:
            page.say(fault.value, 13, PLAIN, page.text("   written  ", QUIET))
        if fault.allowed:
            page.say(fault.allowed, 13, PLAIN, page.text("   allowed  ", QUIET))
        if fault.do:
            page.say(fault.do, 13, SAYS, page.text("   do", QUIET))
    page.show()


def _sentence(words: str) -> str:
    text = words.strip()
    return text + ("" if text.endswith((".", "?")) else ".")


# --- head and verdict ------------------------------------------------------------------------------------------------


def _head(page: Page, examination: Examination, title: str) -> None:
    reading = examination.case.reading
    machine = examination.facts.settings.get("machine.name")
    described = any(path.startswith("machine.") for path in (*examination.facts.facts, *examination.facts.settings))
    unnamed = "machine without a name" if described else "no machine described"
    name = page.text(str(machine.value) if machine is not None else unnamed, QUIET)
    file = reading.file.replace("\\", "/").rsplit("/", 1)[-1]
    about = f"{'' if title in (file, reading.file) else file + ', '}{count(reading.lines, 'line')}, {count(reading.blocks, 'block')} run"
    first = Text(" " * MARGIN)
    first.append_text(Text(page.crop(file if title == reading.file else title, page.width // 2), style=STRONG))
    first.append_text(page.text(f"  {about}", QUIET))
    if cell_len(first.plain) + cell_len(name.plain) + 3 <= page.width:
        first.append(" " * (page.width - cell_len(first.plain) - cell_len(name.plain)))
        first.append_text(name)
        page.put(first)
    else:
        page.say(first, 0)
        page.say(name, MARGIN)
    page.edge()
    page.gap()


def _verdict(page: Page, examination: Examination) -> None:
    verdict = examination.verdict
    said = headline(examination)
    word = page.text(f"{verdict.value.capitalize()}.", WORD_STYLE[verdict] + STRONG)
    mark = [Text(row, style=WORD_STYLE[verdict], end="") for row in page.glyphs.large[verdict]]
    indent = 10
    room = page.width - indent
    left = [word, *page.wrapped(page.text(said.sentence, STRONG), room), *page.wrapped(page.text(said.act, SAYS), room)]
    for number in range(max(len(mark), len(left))):
        line = padded(mark[number] if number < len(mark) else Text(""), indent)
        if number < len(left):
            line.append_text(left[number])
        page.put(line)
    page.gap()
    _risks(page, examination)


def _risks(page: Page, examination: Examination) -> None:
    """The four answers, one a risk."""
    parts = []
    for risk, answer in ((risk, examination.risks[risk]) for risk in RISKS):
        part = page.text(f"{risk.value} ")
        part.append_text(Text(f"{page.glyphs.marks[answer]} {answer.value}", style=WORD_STYLE[answer]))
        parts.append(part)
    wide = sum(cell_len(part.plain) for part in parts)
    between = min(6, (page.width - MARGIN - wide) // (len(parts) - 1))
    if between < 2:
        for part in parts:
            page.put(Text(" " * MARGIN), part)
        return
    line = Text(" " * MARGIN)
    for number, part in enumerate(parts):
        line.append_text(part)
        line.append(" " * (between if number + 1 < len(parts) else 0))
    page.put(line)


# --- questions -------------------------------------------------------------------------------------------------------


def _questions(page: Page, examination: Examination, shared: SharedDoubt | None) -> None:
    glyphs = page.glyphs
    key = Text(f"{glyphs.pointer} demand   {glyphs.post}{glyphs.wall * 3} end stop", style=QUIET)
    page.heading(f"Questions: {tally(examination)}", key)
    ordered = in_order(examination.answers)
    said, missing = shared_notes(examination), set[Missing]()
    for number, answered in enumerate(ordered):
        if number and answered.answer is Answer.CLEAR and ordered[number - 1].answer is not Answer.CLEAR:
            page.put(Text(" " * MARGIN), Text(glyphs.rule * (page.width - MARGIN)))
        elif number:
            page.gap()
        _question(page, examination, without_notes(answered, said), shared, missing)


def _scale_width(page: Page) -> int:
    if page.width < SIDE_BY_SIDE_FROM:
        return min(SCALE_MOST, page.width - MARGIN - MARK)
    return max(SCALE_LEAST, min(SCALE_MOST, round(page.width * SCALE_SHARE)))


Missing = tuple[str, str, str]
"""What is missing, where it is written, how to get it."""


def _question(
    page: Page, examination: Examination, answered: Answered, shared: SharedDoubt | None, missing: set[Missing]
) -> None:
    """Mark, question and what was found at the left; answer and scale at the right; places and acts below. `missing`: told before, and told
    once."""
    answer, clear = answered.answer, answered.answer is Answer.CLEAR
    what, place = lead(answered)
    cells = _scale_width(page)
    side = page.width >= SIDE_BY_SIDE_FROM
    indent = MARGIN + MARK
    room = page.width - indent - 2 - cells if side else page.width - indent
    asks = page.wrapped(page.text(answered.question.asks, PLAIN if clear else STRONG), room)
    left = page.wrapped(page.text(what, QUIET if clear else PLAIN), room)
    if not clear:
        code, shown = _lead_code(page, place, room)
        left += code
        if answer is not Answer.UNJUDGED:
            left += page.wrapped(page.text(own_doubt(answered, examination.facts, shared), QUIET), room)
    right = page.wrapped(page.text(answer_line(answered, examination.facts), WORD_STYLE[answer]), cells)
    drawing = scale_of(answered, examination.facts, examination.case.units, cells - 3, CELLS)
    if (
        drawing.case is not Case.NOTHING or answer is Answer.UNJUDGED
    ):  # an empty rule says nothing that the words do not
        right += scale_rows(drawing, page.glyphs)
    mark = Text(" " * MARGIN + page.glyphs.marks[answer], style=WORD_STYLE[answer])
    if side:
        page.beside(mark, indent, asks + left, right, room)
    else:
        page.beside(mark, indent, asks + right + left, [], room)
    if not clear:
        _below(page, answered, indent, shown, missing)
    _notes(page, answered, indent)


def _lead_code(page: Page, place: AnsweredPlace | None, room: int) -> tuple[list[Text], AnsweredPlace | None]:
    """The program line of the place that the answer speaks of, under the words if it fits there, and the place if so."""
    if place is None or not place.text.strip():
        return [], None
    code = page.code(place.place.line, place.text, page.width)
    return ([code], place) if cell_len(code.plain) <= room else ([], None)


def _below(page: Page, answered: Answered, indent: int, shown: AnsweredPlace | None, missing: set[Missing]) -> None:
    told = [place for place in answered.places if place.answer is not Answer.CLEAR]
    said = set(_sentences(answered.why))
    for place in told[:MOST_PLACES]:
        if place is shown:
            continue
        unsaid = [sentence for sentence in _sentences(place.what) if sentence not in said]
        if unsaid:
            page.say(minus(without_paths(" ".join(unsaid))), indent)
        said.update(unsaid)
        if place.text.strip():
            page.put(Text(" " * indent), page.code(place.place.line, place.text, page.width - indent))
    more = len(told) - MOST_PLACES
    if more > 0:
        page.say(f"and {more} more", indent + 7, QUIET)
    groups = grouped_needs(answered)
    news = [group for group in groups if group not in missing]
    missing.update(groups)
    if news or not groups:
        _first(page, answered, indent)
    acts = list(dict.fromkeys([answered.do, *(place.do for place in told[:MOST_PLACES])]))
    needed_ways = {need.how for need in answered.needs}
    for act in acts:
        if act and act not in needed_ways:
            page.say(minus(without_paths(act)), indent + len(page.glyphs.act), SAYS, _lead(indent, page.glyphs.act))
    for names, where, how in news[:MOST_NEEDS]:
        page.say(f"{names}: {where}", indent + 9, PLAIN, _lead(indent, "missing  "))
        if how not in answered.why:
            page.say(without_paths(how), indent + 9, SAYS)
    if len(news) > MOST_NEEDS:
        page.say("and " + "; ".join(names for names, _, _ in news[MOST_NEEDS:]), indent + 9, QUIET)


def _first(page: Page, answered: Answered, indent: int) -> None:
    """Where it begins, with the line as written unless that stands above."""
    first = answered.first
    if first is None:
        return
    page.say(first_words(first), indent)
    if first not in answered.places and first.text.strip():
        page.put(Text(" " * indent), page.code(first.place.line, first.text, page.width - indent))


def _sentences(words: str) -> list[str]:
    """Sentences, so that none is said twice under one question."""
    return [sentence for sentence in re.split(r"(?<=[.?]) ", words) if sentence]


def _lead(indent: int, words: str) -> Text:
    return Text(" " * indent + words, style=QUIET)


def _notes(page: Page, answered: Answered, indent: int) -> None:
    for note in answered.notes[:MOST_NOTES]:
        page.say(without_paths(note), indent, QUIET)
    if len(answered.notes) > MOST_NOTES:
        page.say(f"and {count(len(answered.notes) - MOST_NOTES, 'more note')}", indent, QUIET)


# --- foot ------------------------------------------------------------------------------------------------------------


def _foot(page: Page, examination: Examination) -> None:
    page.heading("Time")
    page.say(time_words(examination))
    for note in shared_notes(examination):
        page.gap()
        page.say(without_paths(note), style=QUIET)
    unseen, unasked = not_looked_at(examination.not_asked), not_asked_groups(examination.not_asked)
    if unseen:
        page.gap()
        page.say("Not looked at in this version: " + "; ".join(unseen) + ".", style=QUIET)
    if unasked:
        page.gap()
        page.say("Not asked: " + "; ".join(unasked) + ".", style=QUIET)


def _measure_next(page: Page, examination: Examination) -> None:
    proposals = [proposal for proposal in examination.next if is_fact(proposal.fact)]  # a line cannot be measured
    if not proposals:
        page.gap()
        return
    page.heading("Measure next")
    for number, proposal in enumerate(proposals):
        if number:
            page.gap()
        _proposal(page, proposal, number + 1)
    page.gap()


def _proposal(page: Page, proposal: Proposal, number: int) -> None:
    first = page.text(fact_name(proposal.fact), STRONG)
    first.append_text(page.text(f", {proposal.minutes:.0f} min", PLAIN))
    page.say(first, 4, first=Text(f" {number}", style=STRONG))
    page.say(proposal.how, 4, SAYS)
    topics = listed([TOPICS.get(name, name) for name in proposal.questions])
    if topics and proposal.doubt_removed >= 0.995:
        page.say(f"Answers: {topics}.", 4, QUIET)
    nearer = listed([TOPICS.get(name, name) for name in proposal.nearer])
    if nearer:
        page.say(f"Brings nearer (something else is missing too): {nearer}.", 4, QUIET)
    if topics and proposal.doubt_removed < 0.995:
        page.say(f"Takes away {removed_words(proposal.doubt_removed)} of: {topics}.", 4, QUIET)
