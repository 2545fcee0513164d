"""Forms add, cancel and keep their gradient."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.fact import Fact, FactSet
from firstoff.verdict.forms import Form, Scale, greatest
from firstoff.verdict.judge import Draws

paths = st.sampled_from(["a", "b", "c"])
forms = st.builds(
    lambda const, terms: Form(const, tuple(terms.items())),
    st.floats(-100, 100),
    st.dictionaries(paths, st.floats(-3, 3).filter(lambda f: f != 0), max_size=3),
)
VALUES = {"a": 1.5, "b": -2.0, "c": 7.0}


@given(forms, forms)
def test_a_sum_of_forms_is_the_form_of_the_sum(one: Form, two: Form) -> None:
    assert abs((one + two).at(VALUES.__getitem__) - one.at(VALUES.__getitem__) - two.at(VALUES.__getitem__)) < 1e-9
    assert abs((one - two).at(VALUES.__getitem__) - one.at(VALUES.__getitem__) + two.at(VALUES.__getitem__)) < 1e-9


@given(forms)
def test_a_fact_held_against_itself_leaves_no_doubt(one: Form) -> None:
    assert (one - one).terms == ()


DRAWS = Draws(FactSet({path: Fact(path, value, 2.0, "mm") for path, value in VALUES.items()}))


@given(st.lists(forms, min_size=1, max_size=3), forms)
def test_the_greatest_is_the_greatest_in_every_draw(some: list[Form], more: Form) -> None:
    """By NumPy's maximum of their own draws; a form added and a sign changed afterwards say the same."""
    drawn = [DRAWS.of(form, Scale.DIFFERENCE) for form in some]
    found = greatest(*some)
    assert found.at(VALUES.__getitem__) == some[0].at(VALUES.__getitem__)
    assert DRAWS.of(found, Scale.DIFFERENCE) == pytest.approx(np.max(drawn, axis=0), abs=1e-9)
    both = np.max(drawn, axis=0) + DRAWS.of(more, Scale.DIFFERENCE)
    assert DRAWS.of(found + more, Scale.DIFFERENCE) == pytest.approx(both, abs=1e-9)
    assert DRAWS.of(-(more + found), Scale.DIFFERENCE) == pytest.approx(-both, abs=1e-9)


def test_two_that_may_each_be_another_are_not_added() -> None:
    either = greatest(Form(0.0, (("a", 1.0),)), Form(1.0))
    with pytest.raises(ValueError, match="each may be another"):
        either + either
    with pytest.raises(ValueError, match="another one already"):
        either.unless(Form(1.0), Form(2.0))
