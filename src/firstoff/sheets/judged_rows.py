"""Questions as they are judged, for the page of an examination that still goes on: a row each, with what was found and not yet what to do."""

from __future__ import annotations

from dataclasses import dataclass, replace

from firstoff.facts.fact import FactSet
from firstoff.sheets.held import says, scale_of
from firstoff.sheets.html_text import html
from firstoff.sheets.scale import SHEET, Case
from firstoff.sheets.scale_svg import mark_svg, scale_svg
from firstoff.sheets.wording import answer_line, lead
from firstoff.verdict.case import Case as Examined
from firstoff.verdict.question import Answered
from firstoff.verdict.questions import ALL

RULE = 232.0
"""Inner width of every scale, px."""


@dataclass(frozen=True, slots=True)
class Judged:
    """One question that was judged while the others wait."""

    id: str
    answer: str
    html: str


def waiting() -> tuple[tuple[str, str], ...]:
    """(id, as it is asked) of every question, in the order in which they are put."""
    return tuple((question.id, question.asks) for question, _ in ALL)


def judged(answered: Answered, case: Examined) -> Judged:
    """What is told of one answer at once. Advice is left out: another answer may change it."""
    word = answered.answer.value
    facts = _plain(case.facts)
    what, place = lead(answered)
    code = ""
    if place is not None and place.text.strip() and word != "clear":
        code = f'<code class="q-code"><span>{place.place.line}</span>{html(place.text.strip())}</code>'
    said = html(answer_line(answered, facts).removeprefix(word))
    row = (
        f'{mark_svg(answered.answer, 24, "px")}<div class="j-said"><h3>{html(answered.question.asks)}</h3>'
        f"{f'<p>{html(what)}</p>' if what else ''}{code}</div>"
        f'<div class="j-held"><p class="q-answer"><b>{word}</b>{said}</p>{_scale(answered, case, facts)}</div>'
    )
    return Judged(answered.question.id, word, row)


def _scale(answered: Answered, case: Examined, facts: FactSet) -> str:
    drawing = scale_of(answered, facts, case.units, RULE, SHEET)
    if drawing.case in (Case.COUNT, Case.NOTHING):
        return ""
    return scale_svg(replace(drawing, phrase=drawing.phrase[:40]), SHEET.margin, says(answered, facts, case.units))


def _plain(facts: FactSet) -> FactSet:
    """Facts that do not note who asks: what is shown must not change what is kept."""
    known, settings = facts.unasked()
    return FactSet(known, settings, facts.groups)
