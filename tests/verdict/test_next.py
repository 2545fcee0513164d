"""What to measure next: what it names is what settles the most, and what it promises is what happens."""

from __future__ import annotations

from dataclasses import replace

import pytest

from firstoff import workflows
from firstoff.facts.fact import Fact, FactSet
from firstoff.verdict.needs import trial_for
from firstoff.verdict.question import Answer

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
