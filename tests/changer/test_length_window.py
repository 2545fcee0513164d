"""What a length check answers, whatever the setter, the tool and the readings."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.changer.length_window import (
    Drift,
    LengthWindow,
    Outcome,
    Setter,
    Why,
    alike,
    check_length,
    length_window,
    window_of,
)
from firstoff.facts.fact import Fact, FactSet, Setting

MM = st.floats(1e-4, 0.05)
windows = st.builds(
    lambda s, a, w, n, drift, u: length_window(70.0, u, Setter(s, drift_mm=a, readings=n), w, drift=drift),
    MM,
    MM,
    MM,
    st.integers(1, 5),
    st.sampled_from(Drift),
    MM,
)


@given(windows, st.floats(-0.5, 0.5))
def test_what_is_far_from_the_limit_is_told_and_what_is_near_is_not(window: LengthWindow, shorter: float) -> None:
    found = check_length(window, [70.0 - shorter])
    if abs(shorter) < window.limit_mm - found.guard_mm - 1e-9:
        assert (found.outcome, found.why) == (Outcome.INTACT, Why.KEPT)
    elif abs(shorter) > window.limit_mm + found.guard_mm + 1e-9:
        assert found.outcome is (Outcome.BROKEN if shorter > 0 else Outcome.CANNOT_TELL)
        assert found.why is (Why.SHORTER if shorter > 0 else Why.LONGER)
    elif abs(abs(shorter) - window.limit_mm) < found.guard_mm - 1e-9:
        assert (found.outcome, found.why) == (Outcome.CANNOT_TELL, Why.NEAR)
    assert found.outcome is not Outcome.INTACT or found.within > 0.9


@given(windows, MM)
def test_more_doubt_never_narrows_the_window(window: LengthWindow, more: float) -> None:
    setter = window.setter
    wider = [
        length_window(70.0, window.u_reference_mm + more, setter, window.wear_mm, drift=window.drift),
        length_window(70.0, window.u_reference_mm, setter, window.wear_mm + more, drift=window.drift),
        length_window(
            70.0,
            window.u_reference_mm,
            Setter(setter.repeatability_mm + more, drift_mm=setter.drift_mm, readings=setter.readings),
            window.wear_mm,
            drift=window.drift,
        ),
    ]
    for one in wider:
        assert one.limit_mm > window.limit_mm
        assert one.surely_seen_mm > window.surely_seen_mm
    assert window.limit_mm < window.surely_seen_mm


@pytest.mark.parametrize("readings", [[], [math.nan], [70.0, math.inf]])
def test_without_a_reading_nobody_can_tell(readings: list[float]) -> None:
    found = check_length(length_window(70.0, 0.002, Setter(0.002), 0.02), readings)
    assert (found.outcome, found.why) == (Outcome.CANNOT_TELL, Why.NO_READING)


def test_repeats_that_part_say_nothing() -> None:
    window = length_window(70.0, 0.002, Setter(0.002, drift_mm=0.01), 0.02)
    assert check_length(window, [69.999, 70.001, 70.0]).outcome is Outcome.INTACT
    found = check_length(window, [69.98, 70.02, 70.0])
    assert (found.outcome, found.why) == (Outcome.CANNOT_TELL, Why.SPREAD)
    broken = check_length(window, [68.995, 69.0, 69.0])
    assert broken.outcome is Outcome.BROKEN
    assert broken.shorter_mm == pytest.approx(1.0, abs=0.01)


def test_impossible_figures_are_refused() -> None:
    with pytest.raises(ValueError, match="below zero"):
        length_window(70.0, -0.001, Setter(0.002), 0.02)
    with pytest.raises(ValueError, match=r"false_alarm=0\.7"):
        length_window(70.0, 0.001, Setter(0.002), 0.02, false_alarm=0.7)


@given(st.dictionaries(st.sampled_from("abcdef"), windows, min_size=2, max_size=5), st.data())
def test_tools_that_are_named_alike_are_those_that_a_check_would_let_pass(
    tools: dict[str, LengthWindow], data: st.DataObject
) -> None:
    moved = {
        name: length_window(
            data.draw(st.floats(60, 60.5)), one.u_reference_mm, one.setter, one.wear_mm, drift=one.drift
        )
        for name, one in tools.items()
    }
    named = {(pair.first, pair.second) for pair in alike(moved)}
    for first in moved:
        for second in moved:
            if first >= second:
                continue
            told = (first, second) in named or (second, first) in named
            # The second worn as far as it may be, in the first's place: whatever a check lets pass must have been named.
            for worn in (0.0, moved[second].wear_mm):
                found = check_length(moved[first], [moved[second].expected_mm - worn])
                assert told or found.outcome is not Outcome.INTACT
    assert named == {(pair.first, pair.second) for pair in alike(dict(moved.items()))}


def test_a_shop_gives_its_window_or_names_what_is_missing() -> None:
    said = {
        "tools.em6.LF": Fact("tools.em6.LF", 71.3, 0.002, "mm"),
        "tools.em6.wear_allowed": Fact("tools.em6.wear_allowed", 0.02, 0.0, "mm"),
        "tools.setter.repeatability": Fact("tools.setter.repeatability", 0.002, 0.0, "mm"),
        "tools.setter.drift": Fact("tools.setter.drift", 0.01, 0.0, "mm"),
    }
    facts = FactSet(said, {"tools.setter.readings": Setting("tools.setter.readings", 1)})
    window = window_of(facts.leaning(), "em6")
    assert window is not None
    assert window.limit_mm == pytest.approx(0.04391, abs=5e-6)
    for path in said:
        leaning = facts.without(path).leaning()
        assert window_of(leaning, "em6") is None
        assert tuple(leaning.missing) == (path,)


def test_a_doubted_repeatability_counts_as_few_readings() -> None:
    """A standard deviation known to 50 % has 2 degrees of freedom (GUM G.4.2): its window is far wider."""
    facts = FactSet(
        {
            "tools.em6.LF": Fact("tools.em6.LF", 71.3, 0.002, "mm"),
            "tools.em6.wear_allowed": Fact("tools.em6.wear_allowed", 0.02, 0.0, "mm"),
            "tools.setter.repeatability": Fact("tools.setter.repeatability", 0.010, 0.005, "mm"),
            "tools.setter.drift": Fact("tools.setter.drift", 0.0, 0.0, "mm"),
        }
    )
    window = window_of(facts.leaning(), "em6")
    assert window is not None
    assert window.df == 2
    assert window.limit_mm > 0.02 + 10 * window.sigma_mm
