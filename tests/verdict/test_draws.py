"""The joint draws: each column keeps its distribution, its independence and its memory."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.fact import Fact, Shape
from firstoff.verdict.draws import COUNT, draw_one


def fact(
    path: str = "a.b", value: float = 10.0, u: float = 2.0, df: float = math.inf, shape: Shape = Shape.NORMAL
) -> Fact:
    return Fact(path, value, u, "mm", df, shape)


@given(st.floats(-1e3, 1e3), st.floats(1e-3, 1e3))
def test_normal_draws_have_the_mean_and_spread_of_the_fact(value: float, u: float) -> None:
    drawn = draw_one(fact(value=value, u=u))
    assert abs(drawn.mean() - value) < 0.01 * u
    assert drawn.std() == pytest.approx(u, rel=0.01)


def test_few_degrees_of_freedom_widen_the_draws_as_student_says() -> None:
    # t(0.975, 4) = 2.776, Fisher & Yates, Statistical Tables, 1963, table III (from memory)
    drawn = draw_one(fact(df=4.0))
    assert np.quantile(drawn, 0.975) == pytest.approx(10 + 2.776 * 2.0, rel=0.02)


def test_lognormal_draws_keep_the_median_and_never_touch_zero() -> None:
    drawn = draw_one(fact(value=10.0, u=6.0, shape=Shape.LOGNORMAL))
    assert drawn.min() > 0
    assert np.median(drawn) == pytest.approx(10.0, rel=0.01)
    assert np.log(drawn).std() == pytest.approx(math.sqrt(math.log1p(0.36)), rel=0.01)


def test_two_readings_of_a_doubtful_fact_draw_numbers_and_no_infinity() -> None:
    drawn = draw_one(Fact("machine.frame.stiffness.x", 6.0, 2.0, "N/mm", df=1.0, shape=Shape.LOGNORMAL))
    assert np.isfinite(drawn).all()
    assert (drawn >= 0).all()
    assert np.median(drawn) == pytest.approx(6.0, rel=0.02)


def test_uniform_draws_stay_inside_root_three_u() -> None:
    drawn = draw_one(fact(shape=Shape.UNIFORM))
    assert abs(drawn - 10.0).max() <= math.sqrt(3) * 2.0
    assert drawn.std() == pytest.approx(2.0, rel=0.01)


def test_an_exact_fact_is_the_same_in_every_draw() -> None:
    assert set(draw_one(fact(u=0.0))) == {10.0}


def test_paths_are_independent_and_each_remembers_its_own_stream() -> None:
    first, second = draw_one(fact("one")), draw_one(fact("two"))
    assert abs(np.corrcoef(first, second)[0, 1]) < 4 / math.sqrt(COUNT)
    assert (draw_one(fact("one")) == first).all()
