"""The verdict's sums and draws against the GUM and its supplement 1."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from firstoff.facts.fact import Fact, FactSet, Shape
from firstoff.verdict.draws import COUNT
from firstoff.verdict.forms import Form, Scale, exact, of
from firstoff.verdict.judge import Draws, budget, judge
from firstoff.verdict.question import Check, Finding, Limit, Place, Question, Risk

Truth = Callable[..., None]
GUM = "JCGM 100:2008 (GUM)"
SUPPLEMENT = "JCGM 101:2008 (GUM supplement 1)"


def known(*facts: Fact) -> FactSet:
    return FactSet({fact.path: fact for fact in facts})


def total(facts: FactSet) -> Form:
    form = Form(0.0)
    for fact in facts.facts.values():
        form += of(fact)
    return form


def test_effective_degrees_of_freedom(truth: Truth) -> None:
    # Three relative uncertainties of one product: u 0.25, 0.57, 0.82 % with 10, 5 and 15 readings.
    facts = known(Fact("a", 100.0, 0.25, "1", 9), Fact("b", 100.0, 0.57, "1", 4), Fact("c", 100.0, 0.82, "1", 14))
    form = Form(0.0, tuple((path, 1.0) for path in facts.facts))
    _, u, df = budget(form, Scale.RATIO, Draws(facts))
    source = f"{GUM}, G.4.1 example, values as in the reference notes (stored)"
    truth("gum-g41-u", "combined relative uncertainty", source, 1.03, 100 * u, 0.005, "%")
    truth("gum-g41-df", "effective degrees of freedom", source, 19.0, df, 0.06)


@pytest.mark.parametrize(("df", "expected"), [(2, 4.30), (4, 2.78), (8, 2.31), (20, 2.09), (math.inf, 1.96)])
def test_half_width_of_the_95_percent_band(df: float, expected: float, truth: Truth) -> None:
    facts = known(Fact("a", 0.0, 1.0, "mm", df))
    finding = Finding((Check(Scale.DIFFERENCE, "mm", (Limit(Place(1), total(facts), exact(99.0), "", ""),)),))
    question = Question("travel", Risk.MACHINE, "Does it fit?")
    answered = judge(question, finding, facts.leaning(), Draws(facts), lambda _: ("", None))
    assert answered.demand is not None
    half = (answered.demand.high95 - answered.demand.low95) / 2
    name = "inf" if math.isinf(df) else str(int(df))
    what = f"half-width of the 95 % band of a reading with {name} degrees of freedom"
    truth(f"gum-t-{name}", what, f"{GUM}, Table G.2", expected, half, 0.02 * expected, "u")


def drawn(facts: FactSet) -> np.ndarray:
    return Draws(facts).of(total(facts), Scale.DIFFERENCE)


def test_sum_of_four_normals(truth: Truth) -> None:
    facts = known(*(Fact(f"x{n}", 0.0, 1.0, "mm") for n in range(4)))
    values = drawn(facts)
    source = f"{SUPPLEMENT}, 9.2.2 (from memory)"
    # 4000 draws: u of an estimated standard deviation is 1.1 %, of a 97.5 % point 2 %; three of each are allowed.
    truth("jcgm101-922-u", "sum of four N(0, 1): u", source, 2.00, values.std(), 0.066)
    truth("jcgm101-922-95", "the same: 97.5 % point", source, 3.92, np.quantile(values, 0.975), 0.24)


def test_sum_of_four_rectangles(truth: Truth) -> None:
    facts = known(*(Fact(f"x{n}", 0.0, 1.0, "mm", shape=Shape.UNIFORM) for n in range(4)))
    values = drawn(facts)
    end = 2 * math.sqrt(3) * (2 - (3 / 5) ** 0.25)
    source = f"{SUPPLEMENT}, 9.2.3: 2 root 3 (2 - (3/5)^(1/4)) (from memory)"
    truth(
        "jcgm101-923-95", "sum of four rectangles of u = 1: 97.5 % point", source, end, np.quantile(values, 0.975), 0.20
    )


def test_one_wide_rectangle_is_not_linear_and_said_so(truth: Truth) -> None:
    wide = [Fact(f"x{n}", 0.0, 10.0 if n == 3 else 1.0, "mm", shape=Shape.UNIFORM) for n in range(4)]
    facts = known(*wide)
    values = drawn(facts)
    source = f"{SUPPLEMENT}, 9.2.4 (from memory)"
    truth("jcgm101-924-u", "three rectangles of u = 1 and one of 10: u", source, 10.1, values.std(), 0.1)
    truth(
        "jcgm101-924-95",
        "the same: 97.5 % point (first order says 19.9)",
        source,
        17.0,
        np.quantile(values, 0.975),
        0.5,
    )
    finding = Finding((Check(Scale.DIFFERENCE, "mm", (Limit(Place(1), total(facts), exact(99.0), "", ""),)),))
    answered = judge(
        Question("travel", Risk.MACHINE, "?"), finding, facts.leaning(), Draws(facts), lambda _: ("", None)
    )
    assert answered.nonlinear
    assert len(values) == COUNT
