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
    ORDER,
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
MOST_OPEN = 6
"""Answers that moved and stand open: more would be a book."""
NOT_ASKED = Stood("not asked", "not asked", None)
OPENS = (
    '<svg class="q-open" viewBox="0 0 10 16" width="10" height="16" aria-hidden="true"><path d="M2 2L8 8L2 14"/></svg>'
)


KEY = (
    '<p class="q-key" aria-hidden="true"><svg width="11" height="12" viewBox="-5 0 10 12"><path class="key-pointer" d="M-4.8 2H4.8L0 9.4Z"/></svg>demand against'
    '<svg width="18" height="14" viewBox="0 0 18 14"><rect x="2" y="1.5" width="16" height="11" fill="url(#wall)"/><path class="key-post" d="M2 0V13"/></svg>end stop</p>'
    '<p class="q-key-chance" aria-hidden="true">chance it fails</p>'
)
"""What the drawings of a row are."""
ROOM_LEFT = " left"
ASKED_IN_SHORT = {
    "keep_out": "Do the kept-out spaces stay free?",
    "rapid_contact": "Do all rapids pass clear?",
    "body_contact": "Do holder and nose touch nothing?",
    "below": "Is nothing cut too deep or wide?",
    "spindle": "Is the spindle on and at speed?",
    "leftovers": "Does it run through, leaving nothing on?",
    "reach": "Is every flute long enough?",
    "torque": "Has the spindle the torque?",
    "power": "Has the spindle the power?",
    "duty": "Can the spindle keep it up?",
    "chip": "Is the chip of the right thickness?",
    "strength": "Does every tool bear its cut?",
    "chips_out": "Do the chips get away?",
    "holding": "Does the part stay where it is held?",
    "path_kept": "Is the programmed path kept?",
    "target": "Is the target part met?",
    "feed": "Is the feed reached?",
}
"""By question: so short that it fits into one line, and yes is good. The whole question stands in the opened row."""


@dataclass(frozen=True, slots=True)
class Said:
    """What is said once for all and not again in each row."""

    doubt: SharedDoubt | None
    notes: tuple[str, ...]


def question_heads(examination: Examination) -> str:
    """What stands over the list: how many of each answer, what a scale holds against what, and what the chance is of."""
    numbers = {answer: sum(one.answer is answer for one in examination.answers) for answer in ORDER}
    tally = "".join(
        f"<li>{mark_svg(answer, 16, 'px')}<span><b>{number}</b> {answer.value}</span></li>"
        for answer, number in numbers.items()
        if number
    )
    return f'<ul class="tally" aria-label="All answers">{tally}</ul>{KEY}'


def question_rows(examination: Examination, said: Said, before: Mapping[str, Stood] | None = None) -> str:
    """All questions, as a list. `before`: how they stood earlier; each rule then has both pointers, and answers that moved stand open."""
    rows, acts = [], set[str]()
    answers = in_order(examination.answers)
    stands = {one.question.id: None if before is None else before.get(one.question.id, NOT_ASKED) for one in answers}
    moved = [one.question.id for one in answers if _moved(one, stands[one.question.id])]
    clear = [answered for answered in answers if answered.answer is Answer.CLEAR]
    for answered in answers:
        if clear and answered is clear[0] and answered is not answers[0]:
            rows.append(_fold(clear))
        act = _act(answered)
        name, told = answered.question.id, "" if act in acts else act
        row = _row(examination, without_notes(answered, said.notes), said.doubt, told, stands[name])
        rows.append(row.replace("<details>", "<details open>", 1) if name in moved[:MOST_OPEN] else row)
        acts |= {act} if answered.answer is Answer.UNJUDGED else set()
    return f'<ol class="q-list">{"".join(rows)}{_not_asked(examination)}</ol>'


def _moved(answered: Answered, stood: Stood | None) -> bool:
    return stood is not None and stood.answer != answered.answer.value


def _fold(clear: list[Answered]) -> str:
    """Stands for all that is clear where a page is too small for them; it opens them."""
    topics = ", ".join(TOPICS.get(answered.question.id, answered.question.id) for answered in clear)
    return (
        f'<li class="q-fold"><button type="button" aria-expanded="false">{mark_svg(Answer.CLEAR, 24, "px")}'
        f"<b>{len(clear)} clear</b><span>{html(topics)}</span>{OPENS}</button></li>"
    )


def _row(
    examination: Examination, answered: Answered, shared: SharedDoubt | None, act: str, stood: Stood | None
) -> str:
    answer, question = answered.answer, answered.question
    place = looked_at(answered)
    line = f' data-line="{place}"' if place is not None else ""
    was = f'<span class="q-was">was {html(stood.said)}</span>' if stood is not None and _moved(answered, stood) else ""
    return (
        f'<li class="q q-{answer.value}{" q-moved" if was else ""}" id="q-{question.id}"{line}><details><summary>{mark_svg(answer, 24, "px")}'
        f'<span class="q-said"><h3>{html(ASKED_IN_SHORT.get(question.id, question.asks))}</h3>{_why(examination, answered, shared)}{was}</span>'
        f'<span class="q-answer"><b class="q-word">{answer.value}</b>{_chance(answered, examination.facts)}</span>'
        f'<span class="q-held">{_scale(examination, answered, None if stood is None else stood.held)}</span>{OPENS}{_first(answered, act)}</summary>'
        f'<div class="q-more">{_more(examination, answered)}</div></details></li>'
    )


def looked_at(answered: Answered) -> int | None:
    """The line that an answer is shown at: its worst place, or where something is missing the first line that needs it."""
    first = answered.first if answered.answer is Answer.UNJUDGED else None
    place = first or next(iter(answered.places), None)
    return None if place is None else place.place.line


def _chance(answered: Answered, facts: FactSet) -> str:
    """The chance in words and what it is a chance of, or what stands for it."""
    told = answer_line(answered, facts).removeprefix(answered.answer.value).removeprefix(", ")
    chance, _, of_what = told.partition(": ")
    if answered.answer is Answer.UNJUDGED:
        chance, of_what = "cannot say", told
    elif told.endswith(ROOM_LEFT):
        chance, of_what = told.removesuffix(ROOM_LEFT), "is left"
    small = f'<span class="q-goes">{html(of_what)}</span>' if of_what else ""
    return f'<span class="q-chance"><b>{html(chance)}</b>{small}</span>' if chance else ""


def _why(examination: Examination, answered: Answered, shared: SharedDoubt | None) -> str:
    """What was found and whose the doubt is: two lines of it are seen before a row is opened."""
    what, _ = lead(answered)
    parts = [f'<span class="q-what">{html(what)}</span>'] if what else []
    if answered.answer not in (Answer.CLEAR, Answer.UNJUDGED):
        doubt = own_doubt(answered, examination.facts, shared)
        parts += [f'<span class="q-doubt">{html(doubt)}</span>'] if doubt else []
    return f'<span class="q-why">{"".join(parts)}</span>' if parts else ""


def _first(answered: Answered, act: str) -> str:
    """What is seen first of an opened row, and on paper: the line itself and what to do."""
    what, place = lead(answered)
    parts = []
    if answered.answer is not Answer.CLEAR and place is not None and place.text.strip():
        parts.append(_code(place))
    if act and act not in what and answered.answer is not Answer.CLEAR:
        parts.append(f'<span class="q-act">{html(act)}</span>')
    return f'<span class="q-first">{"".join(parts)}</span>' if parts else ""


def _scale(examination: Examination, answered: Answered, before: Held | None) -> str:
    units, facts = examination.case.units, examination.facts
    drawing = scale_of(answered, facts, units, RULE, SHEET, before)
    if drawing.case is Case.COUNT or (drawing.case is Case.NOTHING and answered.answer is not Answer.UNJUDGED):
        return ""
    if len(drawing.phrase) > MOST_PHRASE:
        drawing = replace(drawing, phrase=drawing.phrase[:MOST_PHRASE].rsplit(" ", 1)[0] + " …")
    return scale_svg(drawing, SHEET.margin, says(answered, facts, units, before))


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
    short = answered.question.id in ASKED_IN_SHORT
    parts = [
        f'<p class="q-asks">{html(answered.question.asks)}</p>' if short else "",
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
