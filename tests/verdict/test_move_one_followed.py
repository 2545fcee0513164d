"""Move one fact by a tenth of its u and follow the stock again: the margin moves as the fact's stated share of the doubt says."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from firstoff import workflows
from firstoff.loads.grid_doubt import WIDTH
from firstoff.verdict.blank_in_loads import LOG_U, beside
from firstoff.verdict.forms import Scale
from firstoff.verdict.question import Answered

from .conftest import NOW, swap
from .test_move_one import excess, u_of

TENTH = 0.1
"""Exponents are the first order: a small step keeps to it, and is large against the rounding of heights."""
SLOPE = 0.06
"""Run-out and edge force bend the logarithm within a tenth of their u by a few hundredths."""
BENT = 0.2
"""What a face of the blank does to a load is told by the two standard uncertainties up to the largest blank: steeper at its foot."""
SHORT = ("tools", 'APMX = "14 mm"\nDMM = "6 mm"\nOHX = "24.0(3) mm"', 'APMX = "4 mm"\nDMM = "6 mm"\nOHX = "5.0(3) mm"')
"""A short tool, so that the holder comes near the stock."""
LONG = ("program", "G1 X50 F2000", "G1 X50 F130")
"""Cuts that go on for longer than a minute, so that they are held against what the spindle keeps up. At F100 two windows are equally hard
and the worst of them changes within the step."""
CASES = (
    ("torque", None),
    ("power", None),
    ("chip", None),
    ("strength", None),
    ("holding", None),
    ("body_contact", SHORT),
    ("reach", SHORT),
    ("duty", LONG),
    ("chips_out", None),
)


@pytest.mark.parametrize(("question", "spoilt"), CASES, ids=[question for question, _ in CASES])
def test_the_margin_follows_each_fact_by_its_share(
    question: str, spoilt: tuple[str, str, str] | None, shop: Callable[..., Path]
) -> None:
    job = shop() if spoilt is None else shop(**{spoilt[0]: swap(spoilt[1], spoilt[2])})
    prepared = workflows.prepare(job, now=NOW)
    facts = prepared.job.facts
    whole = workflows.judge(prepared, only=[question])
    before = whole.answer(question)
    assert before.margins, before.why
    form = before.margins[0].demand - before.margins[0].capacity
    factors = dict(form.terms)
    shares = [share for share in before.doubt if share.share >= 0.02 and share.fact in facts.facts]
    assert shares, before.doubt
    for share in shares:
        fact = facts.facts[share.fact]
        step = TENTH * u_of(whole.facts.facts[share.fact], before)
        moved = fact.value * math.exp(step) if before.scale is Scale.RATIO else fact.value + step
        other = workflows.judge(prepared, facts.with_values({share.fact: moved}), [question])
        after = other.answer(question)
        at = place_of(after, before)
        change = excess_of(after, at, other) - excess(before, whole.facts)
        if share.fact in factors:
            assert change == pytest.approx(factors[share.fact] * step, rel=SLOPE, abs=1e-4), share.fact
        else:  # a face of the blank, which loads go with through the fact beside it
            told = factors[beside(share.fact)] * LOG_U * (moved - fact.value) / fact.u
            # Another side makes another grid, and with it another sample of the same width.
            cells = 0.0 if ".z." in share.fact else 2 * factors[WIDTH] * LOG_U
            assert change == pytest.approx(told, rel=BENT, abs=cells + 1e-4), share.fact


def place_of(after: Answered, before: Answered) -> int:
    """The margin after the step that speaks of what was worst before it."""
    worst = before.margins[0]
    same = [
        number
        for number, limit in enumerate(after.margins)
        if limit.place.move == worst.place.move
        and dict(limit.demand.terms).keys() == dict(worst.demand.terms).keys()
        and same_window(limit.what, worst.what)
    ]
    return same[0] if same else 0


def same_window(one: str, other: str) -> bool:
    """Sums over time are told of a load and a length of time: those of other lengths begin at the same move and hang on the same facts."""
    return "the spindle holds" not in one or one.split(" is ")[0] == other.split(" is ")[0]


def excess_of(answered: Answered, at: int, examination: workflows.Examination) -> float:
    """Demand less capacity of one margin at best estimates."""
    from firstoff.verdict.judge import Draws

    limit = answered.margins[at]
    return Draws(examination.facts).best(limit.demand - limit.capacity, answered.scale)
