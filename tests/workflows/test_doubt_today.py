"""Whose doubt carries most of today's."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.workflows.doubt_today import CLEAR_WEIGHS, carriers, doubt_shares, weight


def question(answer: str, chance: float | None, **shares: float) -> dict[str, Any]:
    return {
        "answer": answer,
        "any": chance,
        "doubt": [{"fact": fact, "share": share} for fact, share in shares.items()],
    }


def test_a_question_of_care_outweighs_a_clear_one() -> None:
    record = {"questions": [question("care", 0.2, a=1.0), question("clear", 0.001, b=1.0)]}
    shares = doubt_shares([record])
    # 1 for care; a clear one at 1 in 1 000 stands half way from 1 in a million to certain: 0.2 · 0.5
    assert shares == pytest.approx({"a": 1 / 1.1, "b": 0.1 / 1.1})
    assert list(shares) == ["a", "b"]


def test_what_has_no_chance_has_no_doubt_either() -> None:
    assert doubt_shares([{"questions": [question("unjudged", None, a=1.0), question("clear", 0.0, b=1.0)]}]) == {}
    assert doubt_shares([]) == {}


def test_doubts_of_several_jobs_add_up() -> None:
    records = [{"questions": [question("stop", 0.9, a=0.75, b=0.25)]}, {"questions": [question("care", 0.1, b=1.0)]}]
    assert doubt_shares(records) == pytest.approx({"b": 1.25 / 2, "a": 0.75 / 2})


def test_only_what_comes_near_the_first_is_named_beside_it() -> None:
    assert carriers({"a": 0.5, "b": 0.3, "c": 0.2}) == ("a", "b")
    assert carriers({"a": 0.25, "b": 0.25, "c": 0.25, "d": 0.25}) == ("a", "b", "c")
    assert carriers({}) == ()


@given(chance=st.floats(1e-300, 1.0), other=st.floats(1e-300, 1.0))
def test_a_clear_answer_weighs_less_the_less_likely_it_is_wrong(chance: float, other: float) -> None:
    low, high = sorted((chance, other))
    assert 0 <= weight("clear", low) <= weight("clear", high) <= CLEAR_WEIGHS < weight("care", low)


@given(
    st.lists(
        st.tuples(st.sampled_from(("care", "clear", "stop")), st.floats(1e-5, 1.0), st.floats(0.01, 1.0)), min_size=1
    )
)
def test_shares_make_one_whole(said: list[tuple[str, float, float]]) -> None:
    record = {
        "questions": [
            question(answer, chance, **{f"f{number % 3}": share}) for number, (answer, chance, share) in enumerate(said)
        ]
    }
    assert math.fsum(doubt_shares([record]).values()) == pytest.approx(1.0)
