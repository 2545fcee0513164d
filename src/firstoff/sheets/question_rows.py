"""The questions on the page of an examination: one row each, worst first, that opens on places, needs, notes and whose the doubt is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from firstoff.facts.fact import FactSet
from firstoff.sheets.evidence_stamps import stamp_svg
from firstoff.sheets.held import says, scale_of
from firstoff.sheets.html_text import html
from firstoff.sheets.scale import SHEET, Case, Held
from firstoff.sheets.scale_svg import mark_svg, scale_svg
from firstoff.sheets.shared_doubt import SharedDoubt, own_doubt, without_notes
from firstoff.sheets.versions import Stood
from firstoff.sheets.wording import (
    TOPICS,
    amount,
    answer_line,
    clock,
    fact_name,
    first_words,
    grouped_needs,
    in_order,
    is_fact,
    lead,
    minus,
    without_paths,
)
from firstoff.verdict.examination import Examination
from firstoff.verdict.judge import thresholds
from firstoff.verdict.question import Answer, Answered, AnsweredPlace, Share
from firstoff.verdict.words import odds

RULE = 232.0
"""Inner width of every scale, px: all end stops stand in one plumb line."""
MOST_PHRASE = 40
"""Letters that a scale has room for."""
MOST_NEEDS = 2
"""Missing facts that are named before a row is opened."""
LEAST_SHARE = 0.005
"""Smaller shares of the doubt are not listed."""
NOT_ASKED = Stood("not asked", "not asked", None)
OPENS = (
    '<svg class="q-open" viewBox="0 0 10 16" width="10" height="16" aria-hidden="true"><path d="M2 2L8 8L2 14"/></svg>'
)


@dataclass(frozen=True, slots=True)
class Said:
    """What is said once for all and not again in each row."""

    doubt: SharedDoubt | None
    notes: tuple[str, ...]


def question_rows(examination: Examination, said: Said, before: Mapping[str, Stood] | None = None) -> str:
    """All questions, as a list. `before`: how they stood earlier; each rule then has both pointers, and answers that moved stand open."""
    rows, acts = [], set[str]()
    for answered in in_order(examination.answers):
        act = _act(answered)
        stood = None if before is None else before.get(answered.question.id, NOT_ASKED)
        told = "" if act in acts else act
        rows.append(_row(examination, without_notes(answered, said.notes), said.doubt, told, stood))
        acts |= {act} if answered.answer is Answer.UNJUDGED else set()
    return f'<ol class="q-list">{"".join(rows)}{_not_asked(examination)}</ol>'


def _row(
    examination: Examination, answered: Answered, shared: SharedDoubt | None, act: str, stood: Stood | None
) -> str:
    answer, question = answered.answer, answered.question
    place = answered.places[0].place.line if answered.places else None
    line = f' data-line="{place}"' if place is not None else ""
    moved = stood is not None and stood.answer != answer.value
    was = f'<span class="q-was">was {html(stood.said)}</span>' if stood is not None and moved else ""
    return (
        f'<li class="q q-{answer.value}{" q-moved" if moved else ""}" id="q-{question.id}"{line}><details{" open" if moved else ""}><summary>{mark_svg(answer, 24, "px")}'
        f'<span class="q-said"><h3>{html(question.asks)}</h3>{_said(examination, answered, shared, act)}</span>'
        f'<span class="q-held"><span class="q-answer">{_answer(answered, examination.facts)}</span>{was}{_scale(examination, answered, None if stood is None else stood.held)}</span>{OPENS}</summary>'
        f'<div class="q-more">{_more(examination, answered)}</div></details></li>'
    )


def _answer(answered: Answered, facts: FactSet) -> str:
    """The answer's word first, by itself."""
    word = answered.answer.value
    return f"<b>{word}</b>{html(answer_line(answered, facts).removeprefix(word))}"


def _scale(examination: Examination, answered: Answered, before: Held | None) -> str:
    units, facts = examination.case.units, examination.facts
    drawing = scale_of(answered, facts, units, RULE, SHEET, before)
    if drawing.case is Case.COUNT or (drawing.case is Case.NOTHING and answered.answer is not Answer.UNJUDGED):
        return ""
    if len(drawing.phrase) > MOST_PHRASE:
        drawing = replace(drawing, phrase=drawing.phrase[:MOST_PHRASE].rsplit(" ", 1)[0] + " …")
    return scale_svg(drawing, SHEET.margin, says(answered, facts, units, before))


def _said(examination: Examination, answered: Answered, shared: SharedDoubt | None, act: str) -> str:
    """What is seen before a row is opened: what was found, where, whose the doubt is, and what to do."""
    what, place = lead(answered)
    parts = [f'<span class="q-what">{html(what)}</span>' if what else ""]
    if answered.answer is Answer.CLEAR:
        return "".join(parts)
    if place is not None and place.text.strip():
        parts.append(_code(place))
    if answered.answer is not Answer.UNJUDGED:
        doubt = own_doubt(answered, examination.facts, shared)
        parts.append(f'<span class="q-doubt">{html(doubt)}</span>' if doubt else "")
    parts.append(f'<span class="q-act">{html(act)}</span>' if act and act not in what else "")
    return "".join(parts)


def _act(answered: Answered) -> str:
    """What to do: where facts are missing, how to get them."""
    needs = grouped_needs(answered)
    if needs and answered.answer is Answer.UNJUDGED:
        return " ".join(dict.fromkeys(minus(without_paths(how)) for _, _, how in needs[:MOST_NEEDS]))
    return minus(without_paths(answered.do)) if answered.do else ""


def _code(place: AnsweredPlace) -> str:
    return f'<code class="q-code"><span>{place.place.line}</span>{html(place.text.strip())}</code>'


# --- opened ----------------------------------------------------------------------------------------------------------


def _more(examination: Examination, answered: Answered) -> str:
    parts = [
        _places(answered),
        _needs(answered),
        _budget(answered, examination.facts),
        _notes(answered),
        _judged_by(examination, answered),
    ]
    return "".join(parts)


def _places(answered: Answered) -> str:
    if not answered.places:
        return ""
    rows = []
    for place in answered.places:
        when = clock(place.time_s) if place.time_s is not None and math.isfinite(place.time_s) else ""
        own = place.do and place.do != answered.do and place.answer is not Answer.CLEAR
        act = minus(without_paths(place.do)) if own else ""
        rows.append(
            f'<tr data-line="{place.place.line}"><td class="number">{place.place.line}</td><td>{mark_svg(place.answer, 16, "px")} {place.answer.value}</td>'
            f'<td class="number">{html(when)}</td><td>{_code(place) if place.text.strip() else ""}'
            f"<p>{html(minus(without_paths(place.what)))}</p>{f'<p class=q-act>{html(act)}</p>' if act else ''}</td></tr>"
        )
    first = answered.first
    code = _code(first) if first is not None and first not in answered.places and first.text.strip() else ""
    begins = "" if first is None else f"<p>{html(first_words(first))}{code}</p>"
    head = "<tr><th>line</th><th>answer</th><th>at</th><th>what</th></tr>"
    return f'<h4>Places, worst first</h4>{begins}<table class="q-places">{head}{"".join(rows)}</table>'


def _needs(answered: Answered) -> str:
    groups = grouped_needs(answered)
    if not groups:
        return ""
    rows = "".join(
        f"<dt>{html(names)}</dt><dd><span>{html(where)}</span> {html(minus(without_paths(how)))}</dd>"
        for names, where, how in groups
    )
    return f"<h4>Missing</h4><dl>{rows}</dl>"


def _budget(answered: Answered, facts: FactSet) -> str:
    """Each fact with its share of the doubt: of the variance of what is held against the limit."""
    shares = sorted((one for one in answered.doubt if one.share >= LEAST_SHARE), key=lambda one: -one.share)
    if not shares:
        return ""
    rows = "".join(_share(share, facts) for share in shares)
    return f'<h4>Whose the doubt is</h4><table class="q-budget"><tr><th>fact</th><th>evidence</th><th>its value</th><th>share of the doubt</th></tr>{rows}</table>'


def _share(share: Share, facts: FactSet) -> str:
    fact = facts.facts.get(share.fact)
    name = fact_name(share.fact) if is_fact(share.fact) else "the grid that stock is followed on"
    evidence = f"{stamp_svg(fact.evidence)} {fact.evidence.value}" if fact is not None else ""
    value = amount(fact.value, fact.u, "" if fact.unit == "1" else fact.unit) if fact is not None else ""
    part = max(share.share, 0.0)
    return (
        f'<tr><td>{html(name)}</td><td class="evidence">{evidence}</td><td class="number">{html(value)}</td>'
        f'<td><span class="share"><i style="width:{min(part, 1.0):.1%}"></i></span> {part * 100:.0f} %</td></tr>'
    )


def _notes(answered: Answered) -> str:
    if not answered.notes:
        return ""
    return f"<h4>Notes</h4><ul>{''.join(f'<li>{html(without_paths(note))}</li>' for note in answered.notes)}</ul>"


def _judged_by(examination: Examination, answered: Answered) -> str:
    """Where care and stop begin for this question."""
    risk = answered.question.risk.value
    if answered.scale.value == "count":
        return f'<p class="q-risk">At risk: {risk}. Yes or no, nothing is weighed.</p>'
    limits = thresholds(answered.question, examination.facts)
    stop = f", stop above {odds(limits.stop_above)}" if math.isfinite(limits.stop_above) else ", never stop"
    room = (
        f" Room left after its doubt: clear from {examination.case.units.length(limits.clear_at_mm)}, stop below {examination.case.units.length(limits.stop_below_mm)}."
        if answered.by_clearance
        else ""
    )
    return f'<p class="q-risk">At risk: {risk}. Care above a chance of {odds(limits.care_above)}{stop}.{room}</p>'


def _not_asked(examination: Examination) -> str:
    """Listed last and never counted: a quiet line for each reason."""
    groups: dict[str, list[str]] = {}
    for one in examination.not_asked:
        topic = f'<span id="q-{html(one.id)}">{html(TOPICS.get(one.id, one.id))}</span>'
        groups.setdefault(one.why.rstrip("."), []).append(topic)
    lines = [
        f"<p><b>Not asked</b>: {', '.join(topics)} ({html(without_paths(why))}).</p>" for why, topics in groups.items()
    ]
    return f'<li class="q-not-asked">{"".join(lines)}</li>' if lines else ""
