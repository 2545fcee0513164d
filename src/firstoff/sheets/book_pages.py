"""What the book knows, on a terminal: one fact with its past, the facts in a list, what was examined."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Protocol

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from firstoff.book.kept import KeptRun, KeptTrial, Listed, Past
from firstoff.book.verifying import Verified
from firstoff.facts.change import Change, Stated, stated
from firstoff.facts.fact import Fact, Setting
from firstoff.sheets.fact_words import age_words, date_words, evidence_words, fact_words
from firstoff.sheets.glyphs import ACCENT, PLAIN, QUIET, SAYS, STRONG
from firstoff.sheets.job_list import STYLE
from firstoff.sheets.page import MARGIN, Page, padded
from firstoff.sheets.wording import minus
from firstoff.verdict.question import Answer
from firstoff.verdict.words import ShopUnits, count, duration, part, two_figures

DATE, VALUE = 13, 22
"""Cells of a date and of a value in a table."""
WIDE_AT = 0.15
"""Share from which a doubt is marked: from there a positive fact is drawn log-normal."""
HOW = {"first": "first seen", "set": "set", "by hand": "in the file"}


class Shown(Protocol):
    """One fact as it is now and as it was (`workflows.facts.FactShown`)."""

    @property
    def path(self) -> str: ...
    @property
    def now(self) -> Fact | Setting | None: ...
    @property
    def past(self) -> tuple[Past, ...]: ...
    @property
    def trials(self) -> tuple[KeptTrial, ...]: ...


class Line(Protocol):
    """One fact in a list (`workflows.facts.FactLine`)."""

    @property
    def fact(self) -> Fact: ...
    @property
    def since(self) -> datetime | None: ...
    @property
    def age_days(self) -> float | None: ...
    @property
    def width(self) -> float | None: ...


def print_facts(shown: Sequence[Shown], units: ShopUnits, console: Console) -> None:
    """Each fact with what it is, where it stands, and what it was."""
    page = Page(console)
    for one in shown:
        _fact(page, one, units)
    page.show()


def _fact(page: Page, one: Shown, units: ShopUnits) -> None:
    said = None if one.now is None else stated(one.now)
    page.heading(one.path)
    if said is None or one.now is None:
        page.say("Nobody states it any more.", style=SAYS)
    else:
        evidence = evidence_words(said)
        page.say(fact_words(one.path, said, units) + (f", {evidence}" if evidence else "") + ".", style=SAYS + STRONG)
        note = said.get("note", "")
        page.say(f"{one.now.where}{'  ' if note else ''}{note}", style=QUIET)
    if one.past:
        page.gap()
    for past in reversed(one.past):
        line = padded(page.text(date_words(past.at), QUIET), DATE)
        value = "taken out" if past.new is None else fact_words(one.path, past.new, units)
        line.append_text(padded(page.text(value, STRONG), VALUE))
        evidence = "" if past.new is None or "setting" in past.new else f"{past.new['evidence']}, "
        why = f": {past.why}" if past.why else ""
        line.append_text(page.text(f"{evidence}{HOW[past.how]} by {past.who}{why}"))
        page.say(line, MARGIN + 2)
    for trial in reversed(one.trials):
        readings = " ".join(minus(f"{value:g}") for value in trial.readings)
        page.say(
            f"{date_words(trial.at)}: {count(len(trial.readings), 'reading')}, {readings} {trial.unit}",
            MARGIN + 2,
            QUIET,
        )


def print_fact_list(lines: Sequence[Line], by: str, of_all: int, units: ShopUnits, console: Console) -> None:
    """The facts, a line each, in the order given; `of_all` there are."""
    page = Page(console)
    several = f"{len(lines)} of {of_all} facts" if len(lines) < of_all else count(of_all, "fact")
    page.heading(f"{several} with a doubt, {_ORDER[by]} first" if lines else "No fact with a doubt is stated yet")
    width = max((cell_len(line.fact.path) for line in lines), default=0) + 2
    for line in lines:
        row = padded(page.text(age_words(line.age_days), QUIET), DATE)
        wide = line.width is not None and line.width >= WIDE_AT
        row.append_text(padded(page.text(_share(line.width), ACCENT if wide else PLAIN), 8))
        row.append_text(padded(page.text(line.fact.evidence.value), 10))
        row.append_text(padded(page.text(line.fact.path, STRONG), min(width, 40)))
        row.append_text(page.text(fact_words(line.fact.path, stated(line.fact), units)))
        page.say(row)
    page.show()


_ORDER = {"age": "oldest", "doubt": "widest", "evidence": "never measured"}


def _share(width: float | None) -> str:
    if width is None:
        return ""
    return f"{two_figures(width * 100)} %" if width < 0.1 else part(width).replace("%", " %")


def print_changes(changed: Sequence[tuple[str, Change]], title: str, units: ShopUnits, console: Console) -> None:
    """What a fact was and is, a line each."""
    page = Page(console)
    page.say(title, style=SAYS)
    for job, change in changed[:MOST_CHANGES]:
        name = f"{job}: {change.path}" if job else change.path
        old, new = (fact_words(change.path, said, units) for said in (change.old, change.new))
        if old == new and change.old is not None and change.new is not None:
            old, new = (_closely(said) for said in (change.old, change.new))
        page.say(f"{name}: {old}, now {new}", MARGIN + 2)
    if len(changed) > MOST_CHANGES:
        page.say(f"and {len(changed) - MOST_CHANGES} more; firstoff fact PATH tells each.", MARGIN + 2, QUIET)
    page.show()


MOST_CHANGES = 12


def _closely(said: Stated) -> str:
    """A fact with all that may differ where its usual words do not."""
    if "setting" in said:
        return str(said["setting"])
    on = f", {date_words(datetime.fromisoformat(said['on']))}" if said["on"] else ", no date"
    return minus(f"{said['value']:.7g} with {said['u']:.3g} {said['unit']} ({evidence_words(said)}{on})")


def print_examinations(found: Sequence[Listed], console: Console) -> None:
    """What was examined, newest first, a line each: day, answer, answers by risk, time, job."""
    page = Page(console)
    page.heading(f"Examined, newest first: {len(found)}" if found else "Nothing has been examined yet")
    for one in found:
        answer = Answer(one.verdict)
        row = padded(page.text(f"{one.number:>6}", QUIET), 8)
        row.append_text(padded(page.text(f"{date_words(one.at)} {one.at:%H:%M}", QUIET), DATE + 6))
        row.append_text(page.text(f"{page.glyphs.marks[answer]} ", STYLE[answer]))
        row.append_text(padded(page.text(one.verdict, STYLE[answer]), 10))
        row.append_text(padded(page.text("" if one.time_s is None else duration(one.time_s)), 10))
        row.append_text(page.text(one.job, STRONG))
        page.put(Text(" " * MARGIN), row)
    page.show()


def print_runs(found: Sequence[KeptRun], console: Console) -> None:
    """What was noted after runs, newest first."""
    page = Page(console)
    page.heading(f"{count(len(found), 'run')} noted" if found else "No run has been noted yet")
    for one in reversed(found):
        row = padded(page.text(date_words(one.at), QUIET), DATE)
        row.append_text(padded(page.text(one.job, STRONG), VALUE))
        row.append_text(page.text(one.note))
        page.say(row)
    page.show()


def print_verified(found: Verified, place: str, console: Console) -> None:
    """Whether the book is whole."""
    page = Page(console)
    about = f"{count(found.entries, 'entry', 'entries')} and {count(found.contents, 'content')} in {place}"
    if not found.faults:
        page.say(f"The book is whole: {about}.", style=SAYS)
        page.say(f"Stamp of its last entry: {found.last or 'none yet'}", style=QUIET)
    else:
        page.say(f"The book is damaged: {about}.", style=SAYS + STRONG)
        for fault in found.faults:
            page.say(fault, 3, first=Text(" - "))
        page.say(
            "Put back your last copy (firstoff book copy makes one); what can still be read comes out with firstoff book export."
        )
    page.show()


def print_sentences(sentences: Sequence[str], console: Console) -> None:
    """Sentences, each on lines of its own, no wider than the page."""
    page = Page(console)
    for number, sentence in enumerate(sentences):
        page.say(sentence, MARGIN if number == 0 else MARGIN + 2)
    page.show()
