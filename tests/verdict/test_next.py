"""What to measure next: what it names is what settles the most, and what it promises is what happens."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist

import pytest

from firstoff import workflows
from firstoff.facts.fact import Fact, FactSet, Shape
from firstoff.verdict.forms import Scale, exact, log_exact, of
from firstoff.verdict.judge import Draws, judge
from firstoff.verdict.needs import trial_for
from firstoff.verdict.next import measure_next, narrowed
from firstoff.verdict.question import Answer, Check, Counted, Finding, Limit, Place, Question, Risk

from .conftest import NOW, Examine, swap


def test_nothing_is_proposed_where_everything_is_clear(examine: Examine) -> None:
    assert examine().next == ()


def test_a_fact_that_blocks_most_questions_a_minute_comes_first(examine: Examine) -> None:
    no_length = swap('LF = { value = "64.150(6) mm", evidence = "measured", df = 9 }\n', "")
    examination = examine(tools=no_length, machine=swap("pockets_seen = true\n", ""))
    blocked = {one.question.id for one in examination.answers if one.answer is Answer.UNJUDGED}
    first = examination.next[0]
    assert first.fact == "tools.em6.LF"
    assert set(first.questions) == blocked - {"today"}
    assert [proposal.settles / proposal.minutes for proposal in examination.next] == sorted(
        (proposal.settles / proposal.minutes for proposal in examination.next), reverse=True
    )


def test_measuring_what_is_named_settles_what_it_says(examine: Examine) -> None:
    no_length = swap('LF = { value = "64.150(6) mm", evidence = "measured", df = 9 }\n', "")
    named = examine(tools=no_length).next[0]
    after = examine()
    assert all(after.answer(question).answer is Answer.CLEAR for question in named.questions)


def test_a_doubt_is_named_by_its_share_and_narrowing_it_takes_away_what_is_promised(examine: Examine, shop) -> None:  # type: ignore[no-untyped-def]
    # X ends 0.35 mm before its travel, whose end is 1 mm in doubt; the offset is 0.2 mm in doubt.
    prepared = workflows.prepare(shop(job=swap('"100.00(2) mm"', '"250.65(20) mm"')), now=NOW)
    before = workflows.judge(prepared)
    travel = before.answer("travel")
    assert travel.answer is not Answer.CLEAR
    softened = FactSet(
        {
            **prepared.job.facts.facts,
            "machine.judgement.travel.stop_above": Fact("machine.judgement.travel.stop_above", 0.9, 0.0, "1"),
        },
        prepared.job.facts.settings,
    )
    cared = workflows.judge(prepared, softened)
    assert cared.answer("travel").answer is Answer.CARE
    proposal = cared.next[0]
    largest = max(cared.answer("travel").doubt, key=lambda share: share.share)
    assert proposal.fact == largest.fact
    reach = trial_for(largest.fact).reach
    narrowed = {**softened.facts, largest.fact: replace(softened.facts[largest.fact], u=reach)}
    after = workflows.judge(prepared, FactSet(narrowed, softened.settings)).answer("travel")
    old, new = cared.answer("travel").demand, after.demand
    assert old is not None
    assert new is not None
    # Few degrees of freedom count by how much they widen the band, so bands are compared, not standard uncertainties.
    narrower = (new.high95 - new.low95) / (old.high95 - old.low95)
    assert 1 - narrower**2 == pytest.approx(proposal.doubt_removed, abs=0.02)


def test_what_is_told_in_factors_is_worked_out_in_factors() -> None:
    """A floor lies off by places, which may be negative, and is pushed by factors: the worse of the two has its own scale."""
    zero = Fact("job.offset.G54.at.z", -100.0, 0.001, "mm")
    force = Fact("materials.bar.kc", 900.0, 200.0, "N/mm²", shape=Shape.LOGNORMAL)
    known = FactSet({fact.path: fact for fact in (zero, force)})
    off = Limit(Place(1), of(zero) + 100.0, exact(0.1), "off", "")
    push = Limit(Place(1), of(force), log_exact(1000.0), "pushed", "")
    finding = Finding((Check(Scale.DIFFERENCE, "mm", (off,)), Check(Scale.RATIO, "N", (push,))))
    leaning = known.leaning()
    answered = judge(Question("size", Risk.PART, "?"), finding, leaning, Draws(known), lambda place: ("", None))
    assert (answered.answer, answered.scale, answered.margins) == (Answer.CARE, Scale.RATIO, (push, off))
    assert [proposal.fact for proposal in measure_next((answered,), known)] == [force.path]


def test_what_is_only_counted_is_narrowed_by_nothing() -> None:
    length = Fact("tools.em6.LF", -1.0, 0.5, "mm")
    known = FactSet({length.path: length})
    counted = Counted(Place(1), "worn", "look", Answer.CARE)
    gap = Limit(Place(1), of(length) - 50.0, exact(0.0), "gap", "")
    finding = Finding((Check(Scale.DIFFERENCE, "mm", (gap,)), Check(Scale.COUNT, "", (), (counted,))))
    answered = judge(Question("x", Risk.PART, "?"), finding, known.leaning(), Draws(known), lambda place: ("", None))
    assert answered.scale is Scale.COUNT
    assert measure_next((answered,), known) == ()


def in_care(facts: tuple[Fact, ...], *limits: Limit):  # type: ignore[no-untyped-def]
    known = FactSet({fact.path: fact for fact in facts})
    finding = Finding((Check(Scale.DIFFERENCE, "mm", limits),))
    ask = Question("size", Risk.PART, "?")
    answered = judge(ask, finding, known.leaning(), Draws(known), lambda place: ("", None))
    assert answered.answer is Answer.CARE
    return measure_next((answered,), known), answered, known


def test_how_it_stands_after_a_trial_is_told_before_it() -> None:
    """By hand: two lengths, 0.04 and 0.003 mm in doubt; the trial leaves of the first what it reaches, and the second as it is."""
    length, zero = Fact("tools.em6.LF", 10.0, 0.04, "mm"), Fact("job.offset.G54.at.z", 1.0, 0.003, "mm")
    limit = Limit(Place(1), of(length) + of(zero) - 11.0, exact(0.05), "off", "")
    proposals, answered, known = in_care((length, zero), limit)
    then = narrowed(next(one for one in proposals if one.fact == length.path), answered, known)
    left = (trial_for(length.path).reach ** 2 + 0.003**2) ** 0.5
    assert then is not None
    assert then.demand == pytest.approx(left / (0.04**2 + 0.003**2) ** 0.5)
    assert then.capacity == 1.0
    assert then.chance == pytest.approx(NormalDist().cdf(-0.05 / left), abs=1e-9)


def test_no_chance_is_told_where_another_doubt_stays() -> None:
    length, other = Fact("tools.em6.LF", 10.0, 0.04, "mm"), Fact("job.feature.1.tol", 0.1, 0.03, "mm")
    narrowing = Limit(Place(1), of(length) - 10.0, exact(0.05), "off", "")
    staying = Limit(Place(2), exact(0.05), of(other), "off too", "")
    proposals, answered, known = in_care((length, other), narrowing, staying)
    told = [narrowed(proposal, answered, known) for proposal in proposals]
    assert [one.chance for one in told if one is not None] in ([None], [None, None])
