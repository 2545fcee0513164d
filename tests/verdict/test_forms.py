"""Forms add, cancel and keep their gradient."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from firstoff.verdict.forms import Form

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
