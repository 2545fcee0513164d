"""Facts of one fit: their draws go together, each keeps its own distribution, and their doubt is told once."""

from __future__ import annotations

import math

import GTC
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal

from firstoff.facts.derived import with_derived
from firstoff.facts.fact import Evidence, Fact, FactGroup, FactSet, Setting, Shape
from firstoff.verdict.draws import COUNT, draw, draw_one, lower_triangle, summed_variance
from firstoff.verdict.forms import Form, Scale
from firstoff.verdict.judge import Draws, budget

SAMPLING = 3 / math.sqrt(COUNT)
"""Three standard uncertainties of a correlation, or relative of a spread, that is estimated from the draws (a little over)."""


def pair(correlation: float, *more: Fact, first: Fact | None = None, second: Fact | None = None) -> FactSet:
    a = first or Fact("a", 10.0, 2.0, "mm")
    b = second or Fact("b", 5.0, 1.0, "mm")
    group = FactGroup((a.path, b.path), ((1.0, correlation), (correlation, 1.0)))
    return FactSet({fact.path: fact for fact in (a, b, *more)}, {}, (group,))


def form(**factors: float) -> Form:
    return Form(0.0, tuple(factors.items()))


correlations = st.floats(-1.0, 1.0)


# ---- draws ---------------------------------------------------------------------------------------------------------


@given(
    correlations,
    st.sampled_from(list(Shape)),
    st.sampled_from([math.inf, 3.0, 9.0]),
)
def test_each_fact_keeps_its_own_draws_whatever_its_shape(correlation: float, shape: Shape, df: float) -> None:
    known = pair(correlation, second=Fact("b", 5.0, 1.0, "mm", df, shape))
    assert (draw(known, "a") == draw_one(known.facts["a"])).all()  # the first keeps even their order
    assert (np.sort(draw(known, "b")) == np.sort(draw_one(known.facts["b"]))).all()


@given(correlations)
def test_normal_draws_are_correlated_as_said(correlation: float) -> None:
    known = pair(correlation)
    found = np.corrcoef(draw(known, "a"), draw(known, "b"))[0, 1]
    assert found == pytest.approx(correlation, abs=SAMPLING * (1 - correlation**2) + 1e-3)


@given(correlations)
def test_scores_of_other_shapes_are_correlated_as_said(correlation: float) -> None:
    known = pair(
        correlation,
        first=Fact("a", 10.0, 6.0, "1", shape=Shape.LOGNORMAL),
        second=Fact("b", 5.0, 1.0, "mm", 4.0),
    )
    # Of two Gaussian scores the rank correlation is 6/pi * asin(rho/2) (Pearson 1907; from memory).
    ranks = [np.argsort(np.argsort(draw(known, path))) for path in "ab"]
    expected = 6 / math.pi * math.asin(correlation / 2)
    assert np.corrcoef(*ranks)[0, 1] == pytest.approx(expected, abs=SAMPLING)


def test_uncorrelated_facts_of_a_group_are_drawn_as_if_alone() -> None:
    known = pair(0.0)
    for path in "ab":
        assert (draw(known, path) == draw_one(known.facts[path])).all()
    alone = FactSet(known.facts)
    assert (
        Draws(known).of(form(a=1.0, b=2.0), Scale.DIFFERENCE).tobytes()
        == Draws(alone).of(form(a=1.0, b=2.0), Scale.DIFFERENCE).tobytes()
    )


def test_three_facts_against_a_general_sampler() -> None:
    correlation = ((1.0, 0.8, -0.3), (0.8, 1.0, 0.1), (-0.3, 0.1, 1.0))
    known = FactSet(
        {name: Fact(name, 1.0, u, "mm") for name, u in (("a", 2.0), ("b", 1.0), ("c", 3.0))},
        {},
        (FactGroup(("a", "b", "c"), correlation),),
    )
    u = np.array([2.0, 1.0, 3.0])
    sampled = multivariate_normal([1.0, 1.0, 1.0], np.array(correlation) * np.outer(u, u), seed=11).rvs(400_000)
    factors = np.array([1.0, -2.0, 0.5])
    drawn = Draws(known).of(form(a=1.0, b=-2.0, c=0.5), Scale.DIFFERENCE)
    other = sampled @ factors
    assert drawn.std() == pytest.approx(other.std(), rel=SAMPLING)
    for share in (0.025, 0.5, 0.975):
        assert np.quantile(drawn, share) == pytest.approx(np.quantile(other, share), abs=2 * SAMPLING * other.std())


def test_what_cannot_go_together_is_refused() -> None:
    impossible = FactGroup(("a", "b", "c"), ((1.0, 0.9, -0.9), (0.9, 1.0, 0.9), (-0.9, 0.9, 1.0)))
    with pytest.raises(ValueError, match="no facts can go together"):
        lower_triangle(impossible)


# ---- budget --------------------------------------------------------------------------------------------------------


@given(correlations, st.floats(-3, 3), st.floats(-3, 3), st.sampled_from([math.inf, 5.0]))
def test_the_budget_is_that_of_the_correlated_sum(correlation: float, first: float, second: float, df: float) -> None:
    known = pair(
        correlation,
        Fact("c", 0.0, 0.5, "mm", 8.0),
        first=Fact("a", 10.0, 2.0, "mm", df),
        second=Fact("b", 5.0, 1.0, "mm"),
    )
    shares, u, found_df = budget(Form(0.0, (("a", first), ("b", second), ("c", 1.0))), Scale.DIFFERENCE, Draws(known))
    own = (2 * first) ** 2 + second**2 + 2 * correlation * 2 * first * second
    assert u**2 == pytest.approx(own + 0.25, rel=1e-9, abs=1e-12)
    assert sum(share.share for share in shares) == pytest.approx(1.0, abs=1e-9)
    assert [share.share for share in shares] == sorted((share.share for share in shares), reverse=True)
    told = {share.fact: share.share for share in shares}
    assert set(told) <= {"a", "b", "c"}
    assert not {"a", "b"} <= set(told) or not (first and second)  # two facts of one fit are told once
    assert found_df >= 4.9
    drawn = Draws(known).of(Form(0.0, (("a", first), ("b", second), ("c", 1.0))), Scale.DIFFERENCE)
    if math.isinf(df):
        assert drawn.std() == pytest.approx(u * math.sqrt(1 + 0.25 / u**2 * (8 / 6 - 1)), rel=2 * SAMPLING)


@given(
    correlations,
    st.floats(0.1, 3),
    st.floats(-3, -0.1),
    st.floats(0.1, 3),
    st.sampled_from([math.inf, 5.0]),
    st.sampled_from([math.inf, 3.0, 8.5]),
)
def test_the_budget_is_what_a_general_library_finds(
    correlation: float, one: float, two: float, three: float, df: float, other_df: float
) -> None:
    """GTC (general purpose, its own types of uncertain numbers and degrees of freedom): ensembles and correlated numbers beside a free one."""
    known = pair(
        correlation,
        Fact("c", 0.0, 0.5, "mm", other_df),
        first=Fact("a", 10.0, 2.0, "mm", df),
        second=Fact("b", 5.0, 1.0, "mm", df),
    )
    if math.isinf(df):
        a, b = (GTC.ureal(0.0, u, label=name, independent=False) for u, name in ((2.0, "a"), (1.0, "b")))
    else:
        a, b = GTC.multiple_ureal([0.0, 0.0], [2.0, 1.0], df)
    GTC.set_correlation(correlation, a, b)
    together = one * a + two * b
    total = together + three * GTC.ureal(0.0, 0.5, other_df)
    shares, u, found_df = budget(form(a=one, b=two, c=three), Scale.DIFFERENCE, Draws(known))
    assert u == pytest.approx(GTC.uncertainty(total), rel=1e-6)
    assert found_df == pytest.approx(GTC.dof(total), rel=1e-6)
    told = {share.fact: share.share for share in shares}
    assert told["a"] == pytest.approx(GTC.variance(together) / GTC.variance(total), abs=1e-6)


def test_a_group_is_told_under_the_first_of_it() -> None:
    known = pair(0.9, Fact("c", 0.0, 1.0, "mm"))
    shares, u, df = budget(form(c=1.0, b=1.0, a=1.0), Scale.DIFFERENCE, Draws(known))
    assert u**2 == pytest.approx(4 + 1 + 3.6 + 1)
    assert [(share.fact, share.share) for share in shares] == [
        ("a", pytest.approx(8.6 / 9.6)),
        ("c", pytest.approx(1 / 9.6)),
    ]
    assert math.isinf(df)


def test_facts_that_cancel_leave_no_doubt() -> None:
    known = pair(1.0)
    assert budget(form(a=1.0, b=-2.0), Scale.DIFFERENCE, Draws(known)) == ((), 0.0, math.inf)
    drawn = Draws(known).of(form(a=1.0, b=-2.0), Scale.DIFFERENCE)
    assert drawn.std() < 0.01


def test_variance_of_a_sum_is_the_plain_one_without_groups() -> None:
    known = FactSet(pair(0.5).facts)
    assert summed_variance(known, {"a": 0.3, "b": -0.7}) == 0.3**2 + 0.7**2


# ---- groups travel with their facts ----------------------------------------------------------------------------------


def test_a_group_follows_its_facts() -> None:
    known = pair(0.5)
    assert known.with_values({"a": 3.0}).groups == known.groups
    assert known.without("c").groups == known.groups
    assert known.without("a").groups == ()
    three = FactGroup(("a", "b", "c"), ((1.0, 0.1, 0.2), (0.1, 1.0, 0.3), (0.2, 0.3, 1.0)))
    assert three.only({"a", "c"}) == FactGroup(("a", "c"), ((1.0, 0.2), (0.2, 1.0)))


# ---- kc and mc -----------------------------------------------------------------------------------------------------


def constants(kc: float, u_kc: float, mc: float, u_mc: float, correlation: float, at_mm: float) -> FactSet:
    """A job's facts with kc stated at `at_mm` and mc, both lognormal; `u_kc` is the spread of ln kc, `u_mc` that of mc·ln mc."""
    spread_kc, spread_mc = kc * math.sqrt(math.expm1(u_kc**2)), mc * math.sqrt(math.expm1((u_mc / mc) ** 2))
    told = (
        Fact("materials.m.kc", kc, spread_kc, "N/mm²", shape=Shape.LOGNORMAL, evidence=Evidence.MEASURED),
        Fact("materials.m.mc", mc, spread_mc, "1", shape=Shape.LOGNORMAL, evidence=Evidence.MEASURED),
        Fact("materials.m.kc.at", at_mm, 0.0, "mm"),
        Fact("materials.m.kc_mc_correlation", correlation, 0.0, "1", evidence=Evidence.SET),
    )
    return with_derived(FactSet({fact.path: fact for fact in told}, {"job.material": Setting("job.material", "m")}))


def force_at(facts: FactSet, h_mm: float) -> Form:
    """ln kc(h) = ln kc − mc·ln(h/at), to first order in ln mc, as the loads write it."""
    mc, at = facts.facts["materials.m.mc"].value, facts.facts["materials.m.kc.at"].value
    return Form(0.0, (("materials.m.kc", 1.0), ("materials.m.mc", -mc * math.log(h_mm / at))))


@given(st.floats(0.002, 0.5), st.floats(0.02, 0.12), st.floats(0.05, 0.4), st.floats(-0.9, 0.9))
def test_a_pair_restated_at_another_chip_is_the_same_pair(h: float, u_mc: float, u_kc: float, rho: float) -> None:
    """NUMERICS 1.3.1. The fit is stated at 0.05 mm; at 1 mm the same fit has another kc, another spread, another correlation."""
    mc, shift = 0.25, math.log(1.0 / 0.05)
    inside = constants(1000.0, u_kc, mc, u_mc, rho, 0.05)
    variance = u_kc**2 + (shift * u_mc) ** 2 - 2 * shift * rho * u_kc * u_mc
    together = (rho * u_kc * u_mc - shift * u_mc**2) / (math.sqrt(variance) * u_mc)
    far = constants(1000.0 * math.exp(-mc * shift), math.sqrt(variance), mc, u_mc, together, 1.0)
    _, u_inside, _ = budget(force_at(inside, h), Scale.RATIO, Draws(inside))
    _, u_far, _ = budget(force_at(far, h), Scale.RATIO, Draws(far))
    assert u_far == pytest.approx(u_inside, rel=1e-6, abs=1e-9)


def test_a_pair_taken_apart_is_less_certain_than_it_is() -> None:
    """Stated at 1 mm, kc and mc of one fit go together by nearly 1; taken for independent, kc at 0.01 mm gains doubt."""
    u_kc, u_mc, shift = 0.30, 0.07, math.log(1.0 / 0.05)
    variance = u_kc**2 + (shift * u_mc) ** 2
    together = -shift * u_mc / math.sqrt(variance)
    kept = constants(473.0, math.sqrt(variance), 0.25, u_mc, together, 1.0)
    apart = constants(473.0, math.sqrt(variance), 0.25, u_mc, 0.0, 1.0)
    assert kept.groups
    assert not apart.groups
    drawn = {
        name: Draws(one).of(force_at(one, 0.01), Scale.RATIO).std() for name, one in (("kept", kept), ("apart", apart))
    }
    truth = math.hypot(u_kc, u_mc * math.log(0.05 / 0.01))
    assert drawn["kept"] == pytest.approx(truth, rel=0.05)
    assert drawn["apart"] > 1.4 * truth
