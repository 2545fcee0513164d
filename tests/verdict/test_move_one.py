"""Move one fact by one u: the margin moves as the fact's stated share of the doubt says."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from firstoff import workflows
from firstoff.verdict.draws import log_u
from firstoff.verdict.forms import Scale
from firstoff.verdict.judge import Draws
from firstoff.verdict.question import Answered

from .conftest import NOW, swap

# Spoilt so that the worst place of each question is far worse than the next: it stays the worst when a fact moves.
SPOILT = {
    "travel": ("job", '"100.00(2) mm"', '"260.00(2) mm"'),
    "keep_out": ("job", '"100.00(2) mm"', '"215.00(2) mm"'),
    "below": ("program", "G1 Z-2 F800", "G1 Z-16 F800"),
    "rapid_contact": ("program", "G1 Y-5\nG0 Z10", "G1 Y-5\nG0 Z0.8"),
    "spindle": ("program", "S20000 M3", "S34000 M3"),
    "feed": ("machine", '"2.0(1) m/s^2"', '"0.05(1) m/s^2"'),
}
IN_WORK = ("rapid_contact", "below")
REGISTERS = ("job.offset.", "tools.em6.LF", "tools.dr3.LF")
LINEAR = 1e-6
"""Forms are linear: nothing but rounding lies between the move and its share."""
FEED = 0.12
"""Cutting time is linearised in logarithms; a fact here carries up to 20 %, and the second order of that is what is left."""


@pytest.mark.parametrize("question", SPOILT)
def test_moving_a_fact_by_one_u_moves_the_margin_by_its_share(question: str, shop: Callable[..., Path]) -> None:
    file, old, new = SPOILT[question]
    prepared = workflows.prepare(shop(**{file: swap(old, new)}), now=NOW)
    facts = prepared.job.facts
    before = workflows.judge(prepared, only=[question]).answer(question)
    assert before.doubt, "a question without doubt tests nothing"
    assert sum(share.share for share in before.doubt) == pytest.approx(1.0, abs=0.01)
    form = before.margins[0].demand - before.margins[0].capacity
    factors = dict(form.terms)
    total = math.sqrt(sum((factors[path] * u_of(facts.facts[path], before)) ** 2 for path in factors))
    for share in before.doubt:
        if share.share < 0.01:
            continue
        fact = facts.facts[share.fact]
        up = 1.0 if factors[share.fact] > 0 else -1.0
        moved = fact.value * math.exp(up * log_u(fact)) if before.scale is Scale.RATIO else fact.value + up * fact.u
        after = workflows.judge(prepared, facts.with_values({share.fact: moved}), [question]).answer(question)
        if question in IN_WORK and share.fact.startswith(REGISTERS):
            # What is written is what the control's register holds: only the thing itself is elsewhere than written.
            after = before
        step = excess(after, facts.with_values({share.fact: moved})) - excess(before, facts)
        tolerance = FEED if question == "feed" else LINEAR
        assert step == pytest.approx(math.sqrt(share.share) * total, rel=tolerance, abs=LINEAR), share.fact


def u_of(fact: object, answered: Answered) -> float:
    return log_u(fact) if answered.scale is Scale.RATIO else fact.u  # type: ignore[arg-type, attr-defined]


def excess(answered: Answered, facts: object) -> float:
    limit = answered.margins[0]
    return Draws(facts).best(limit.demand - limit.capacity, answered.scale)  # type: ignore[arg-type]
