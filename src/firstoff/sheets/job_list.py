"""Several examinations on one page: a line or two each, worst first to the eye, and the place that settles it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.console import Console
from rich.text import Text

from firstoff.sheets.glyphs import ACCENT, PLAIN, QUIET, SAYS, STRONG
from firstoff.sheets.page import MARGIN, Page, padded
from firstoff.sheets.wording import TOPICS, headline, in_order, lead
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer
from firstoff.verdict.words import listed

MARK, WORD = 5, 11
"""Cells for the mark and for the answer word."""
STYLE = {
    Answer.STOP: ACCENT + STRONG,
    Answer.CARE: ACCENT + STRONG,
    Answer.UNJUDGED: STRONG,
    Answer.CLEAR: PLAIN,
}


@dataclass(frozen=True, slots=True)
class JobLine:
    """One job: its name, what was found, and a remark (its story, its twin)."""

    name: str
    examination: Examination
    remark: str = ""


def asked_answer(examination: Examination) -> Answer:
    """The worst of the answers that were given: what a person wants to see first in a list. Risks nobody looked at do not count."""
    return max((one.answer for one in examination.answers), key=lambda answer: answer.rank, default=Answer.UNJUDGED)


def print_jobs(title: str, jobs: Sequence[JobLine], console: Console, below: Sequence[str] = ()) -> None:
    """Print a list of jobs, in the order given; then the sentences of `below`."""
    page = Page(console)
    page.heading(title)
    for job in jobs:
        _job(page, job)
    page.gap()
    for sentence in below:
        page.say(sentence, MARGIN, SAYS)
    page.show()


def _job(page: Page, job: JobLine) -> None:
    answer = job.examination.verdict
    page.gap()
    first = Text(" " * MARGIN)
    first.append_text(Text(f"{page.glyphs.marks[answer]} ", style=STYLE[answer]))
    head = padded(first, MARGIN + MARK)
    head.append_text(padded(page.text(answer.value, STYLE[answer]), WORD))
    head.append_text(page.text(job.name, STRONG))
    page.put(head)
    indent = MARGIN + MARK + WORD
    if job.remark:
        page.say(job.remark, indent, QUIET)
    page.say(_found(job.examination), indent)


def _found(examination: Examination) -> str:
    """What was found; where only risks that nobody looked at are unjudged, how far the rest goes."""
    answer = asked_answer(examination)
    far = f"{answer.value.capitalize()} as far as asked." if examination.verdict is not answer else ""
    if answer is Answer.CLEAR:
        return far or "All that was asked is clear."
    found = [one for one in in_order(examination.answers) if one.answer is answer]
    if not found:
        return "Nothing was asked."
    said = headline(examination).sentence if not far else lead(found[0])[0]
    others = [TOPICS.get(one.question.id, one.question.id) for one in found[1:]]
    also = f" Also {answer.value}: {listed(others)}." if others else ""
    return f"{far} {said}{also}".strip()
