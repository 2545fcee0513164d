"""What a proposal would do to a question that it narrows: dashed how it stands now, solid how it would stand then."""

from __future__ import annotations

from dataclasses import replace

from firstoff.sheets.held import held_of, says, scale_of
from firstoff.sheets.html_text import html
from firstoff.sheets.scale import SHEET, Case
from firstoff.sheets.scale_svg import scale_svg
from firstoff.sheets.wording import TOPICS
from firstoff.verdict.examination import Examination
from firstoff.verdict.judge import thresholds
from firstoff.verdict.next import Proposal, narrowed
from firstoff.verdict.question import Answer, Answered, Measure
from firstoff.verdict.words import odds

RULE = 164.0
"""Inner width, px: that of the card beside the program."""


def next_scale(examination: Examination, proposal: Proposal) -> str:
    """The drawing with its words; empty where nothing of it can be told."""
    facts, asked = examination.facts, {answered.question.id: answered for answered in examination.answers}
    all_then = [(name, narrowed(proposal, asked[name], facts)) for name in proposal.questions if name in asked]
    known = sorted(
        (one for one in all_then if one[1] is not None), key=lambda one: one[1] is None or one[1].chance is None
    )
    name, then = known[0] if known else ("", None)
    if then is None or asked[name].any_chance is None:
        return ""
    answered = asked[name]
    told = _told(answered, then.demand, then.capacity, then.chance, examination)
    before = held_of(answered, facts, examination.case.units)
    drawing = scale_of(told, facts, examination.case.units, RULE, SHEET, before)
    if drawing.case is not Case.HELD or drawing.earlier is None:
        return ""
    words = f"{TOPICS.get(name, name)} if it measures as believed. {says(told, facts, examination.case.units, before)}"
    chance = f"then {odds(then.chance)}" if then.chance is not None else "then"
    return (
        f'{scale_svg(drawing, SHEET.margin, words)}<p class="next-key"><span>{html(TOPICS.get(name, name))}</span><span class="key-now">now {odds(answered.any_chance)}</span>'
        f'<span class="key-then">{html(chance)}, if it measures as believed</span></p>'
    )


def _told(
    answered: Answered, demand: float, capacity: float, chance: float | None, examination: Examination
) -> Answered:
    """The answer as it would stand then."""
    clear = chance is not None and chance <= thresholds(answered.question, examination.facts).care_above
    return replace(
        answered,
        answer=Answer.CLEAR if clear else answered.answer,
        demand=_narrow(answered.demand, demand),
        capacity=_narrow(answered.capacity, capacity),
        any_chance=chance,
    )


def _narrow(measure: Measure | None, part: float) -> Measure | None:
    if measure is None:
        return None
    value = measure.value
    low, high = (value + part * (end - value) for end in (measure.low95, measure.high95))
    return replace(measure, u=part * measure.u, low95=low, high95=high)
