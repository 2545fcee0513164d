"""Forms of loads, the spindle's curves, and stress in a tool: against closed forms, and by properties that must hold whatever the numbers."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.fact import Fact, FactSet
from firstoff.loads.cut_loads import Candidate
from firstoff.verdict.forms import Scale
from firstoff.verdict.judge import Draws
from firstoff.verdict.load_forms import demand_of, linearised, log_best, log_form
from firstoff.verdict.spindle_curve import curve, power_at, power_over, torque_at, torque_over
from firstoff.verdict.tool_stress import bending, twisting

from .synthetic import number

POSITIVE = st.floats(0.01, 1e4)
EXPONENT = st.floats(-2.0, 2.0)


def facts_of(*facts: Fact) -> FactSet:
    return FactSet({fact.path: fact for fact in facts})


def candidate(value: float, exponents: tuple[tuple[str, float], ...] = (), lever_mm: float = 0.0) -> Candidate:
    return Candidate(0, (0.0, 0.0, 0.0), value, exponents, 400.0, 20.0, 0.02, 1.0, 1.0, lever_mm)


@given(value=POSITIVE, first=POSITIVE, second=POSITIVE, e=EXPONENT, f=EXPONENT, by=st.floats(0.5, 2.0))
def test_a_candidate_is_its_value_and_moves_by_its_exponents(
    value: float, first: float, second: float, e: float, f: float, by: float
) -> None:
    told = facts_of(number("a", first, 0.1 * first), number("b", second, 0.1 * second))
    leaning = told.leaning()
    form = demand_of(candidate(value, (("a", e), ("b", f))), leaning)
    assert form is not None
    assert log_best(form, leaning) == pytest.approx(value, rel=1e-9)
    moved = Draws(told.with_values({"a": first * by})).best(form, Scale.RATIO)
    assert moved == pytest.approx(math.log(value) + e * math.log(by), abs=1e-9)
    assert set(leaning.needed) == {"a", "b"}


def test_what_has_no_logarithm_is_no_form() -> None:
    leaning = facts_of(number("a", 1.0)).leaning()
    assert log_form(0.0, (), leaning) is None
    assert log_form(-3.0, (), leaning) is None
    assert log_form(math.nan, (), leaning) is None
    assert log_form(4e-14, (("a", 1.0),), leaning) is None  # what rounding leaves of forces that cancel
    assert log_form(3e-6, (("a", -17753.0),), leaning) is None
    assert log_form(1.0, (("gone", 1.0),), leaning) is None
    assert list(leaning.missing) == ["gone"]


@given(a=POSITIVE, b=POSITIVE, e=EXPONENT, f=EXPONENT)
def test_a_product_of_powers_is_found_exactly(a: float, b: float, e: float, f: float) -> None:
    leaning = facts_of(number("a", a, 0.1 * a), number("b", b, 0.1 * b)).leaning()
    form = linearised(lambda of: 3.0 * of["a"] ** e * of["b"] ** f, ("a", "b"), leaning)
    assert form is not None
    found = dict(form.terms)
    assert found.get("a", 0.0) == pytest.approx(e, abs=1e-6)
    assert found.get("b", 0.0) == pytest.approx(f, abs=1e-6)


def spindle(*points: tuple[float, float], path: str = "machine.spindle.power_s1") -> tuple[Fact, ...]:
    """Curve of (1/min, W)."""
    return tuple(
        fact
        for index, (speed, power) in enumerate(points)
        for fact in (
            number(f"{path}.{index}.speed", speed / 60, 0.0, "1/s"),
            number(f"{path}.{index}.power", power, 0.03 * power, "W"),
        )
    )


@pytest.mark.parametrize(
    ("speed", "power", "torque_nm"), [(24000, 2200.0, 0.8754), (24000, 3000.0, 1.1937), (18000, 3000.0, 1.5915)]
)
def test_torque_is_power_over_two_pi_n(speed: int, power: float, torque_nm: float) -> None:
    """T = P/(2πn): values computed apart for the reference notes, section 8."""
    leaning = facts_of(*spindle((speed, power))).leaning()
    form = torque_at(curve(leaning, "machine.spindle.power_s1"), speed / 60)
    assert form is not None
    assert log_best(form, leaning) / 1000 == pytest.approx(torque_nm, abs=5e-5)


def test_below_the_base_speed_torque_is_constant_and_above_it_power() -> None:
    """Constant V/f below the base speed: power in proportion to speed (reference notes, section 8)."""
    leaning = facts_of(*spindle((4000, 200.0), (24000, 1200.0), (36000, 1200.0))).leaning()
    points = curve(leaning, "machine.spindle.power_s1")
    torques = [torque_at(points, speed / 60) for speed in (4000, 9000, 17000, 24000)]
    assert {round(log_best(form, leaning), 6) for form in torques if form is not None} == {477.464829}
    power = power_at(points, 30000 / 60)
    assert power is not None
    assert log_best(power, leaning) == pytest.approx(1200.0)


@given(low=st.floats(50.0, 2000.0), high=st.floats(50.0, 2000.0), part=st.floats(0.0, 1.0), by=st.floats(0.8, 1.25))
def test_between_two_readings_power_lies_between_them_and_scales_with_them(
    low: float, high: float, part: float, by: float
) -> None:
    told = facts_of(*spindle((6000, low), (24000, high)))
    leaning = told.leaning()
    form = power_at(curve(leaning, "machine.spindle.power_s1"), (6000 + part * 18000) / 60)
    assert form is not None
    assert min(low, high) * (1 - 1e-9) <= log_best(form, leaning) <= max(low, high) * (1 + 1e-9)
    assert sum(exponent for _, exponent in form.terms) == pytest.approx(1.0)


@pytest.mark.parametrize("speed", [5999.0, 24001.0, 0.0, math.nan])
def test_beyond_the_readings_there_is_no_power(speed: float) -> None:
    leaning = facts_of(*spindle((6000, 300.0), (24000, 900.0))).leaning()
    assert power_at(curve(leaning, "machine.spindle.power_s1"), speed / 60) is None


def rated(s1: float, s6: float, share: float = 0.4, cycle: float = 600.0) -> tuple[Fact, ...]:
    s6_points = spindle((24000, s6), path="machine.spindle.power_s6")
    duty = (
        number("machine.spindle.power_s6.on_share", share, 0.0, "1"),
        number("machine.spindle.power_s6.cycle", cycle, 0.0, "s"),
    )
    return (*spindle((24000, s1)), *s6_points, *duty)


def test_over_its_own_cycle_a_duty_rating_warms_as_much_as_the_lasting_one() -> None:
    """Windings warm with the square of the torque: P(S6) = P(S1)/√share warms alike (reference notes, section 8: 1.58 for 40 %)."""
    leaning = facts_of(*rated(1000.0, 1000.0 / math.sqrt(0.4))).leaning()
    held, always = torque_over(leaning, 400.0, 600.0), torque_over(leaning, 400.0, 3600.0)
    assert held is not None
    assert always is not None
    assert log_best(held.form, leaning) == pytest.approx(log_best(always.form, leaning))
    assert always.rating == "S1"


@given(first=st.floats(1.0, 4000.0), second=st.floats(1.0, 4000.0), s6=st.floats(900.0, 2000.0))
def test_a_longer_window_never_holds_more_and_never_less_than_for_ever(first: float, second: float, s6: float) -> None:
    leaning = facts_of(*rated(1000.0, s6)).leaning()
    short, long = sorted((first, second))
    for over in (power_over, torque_over):
        a, b = over(leaning, 400.0, short), over(leaning, 400.0, long)
        assert a is not None
        assert b is not None
        assert log_best(a.form, leaning) >= log_best(b.form, leaning) * (1 - 1e-12)
    power = power_over(leaning, 400.0, long)
    assert power is not None
    assert log_best(power.form, leaning) >= 1000.0 * (1 - 1e-9)


def mill(**sizes: float) -> FactSet:
    known = {"DC": 6.0, "core_ratio": 0.8, "APMX": 15.0, "OHX": 25.0, "DMM": 6.0, **sizes}
    return facts_of(*(number(f"tools.em.{symbol}", value, 0.01 * value) for symbol, value in known.items()))


def test_bending_stress_is_moment_over_section_modulus() -> None:
    """σ = M·c/I of a round rod (beam theory), here at the end of the flutes: M = 100 N · (15 − 3) mm, d = 4.8 mm."""
    leaning = mill().leaning()
    stress = bending(candidate(100.0, lever_mm=3.0), "em", leaning)
    moment, d = 100.0 * 12.0, 4.8
    assert stress is not None
    assert stress.value == pytest.approx(moment * (d / 2) / (math.pi * d**4 / 64))
    assert stress.words == "at the end of its flutes"
    assert log_best(stress.form, leaning) == pytest.approx(stress.value)
    exponents = dict(stress.form.terms)
    assert exponents["tools.em.DC"] == pytest.approx(-3.0, abs=1e-6)
    assert exponents["tools.em.core_ratio"] == pytest.approx(-3.0, abs=1e-6)
    assert exponents["tools.em.APMX"] == pytest.approx(15.0 / 12.0, abs=1e-6)


def test_the_weakest_section_counts() -> None:
    stick_out = bending(candidate(100.0, lever_mm=3.0), "em", mill(OHX=60.0).leaning())
    necked = bending(candidate(100.0, lever_mm=3.0), "em", mill(DN=3.0, LU=20.0).leaning())
    assert stick_out is not None
    assert necked is not None
    assert stick_out.words == "at the holder"
    assert stick_out.value == pytest.approx(100.0 * 57.0 * 32 / (math.pi * 6.0**3))
    assert necked.words == "at the end of its neck"
    assert necked.value == pytest.approx(100.0 * 17.0 * 32 / (math.pi * 3.0**3))


@given(force=POSITIVE, lever=st.floats(0.0, 10.0), out=st.floats(20.0, 60.0), more=st.floats(1.01, 1.5))
def test_more_force_or_overhang_never_means_less_stress(force: float, lever: float, out: float, more: float) -> None:
    plain = bending(candidate(force, lever_mm=lever), "em", mill(OHX=out).leaning())
    harder = bending(candidate(force * more, lever_mm=lever), "em", mill(OHX=out).leaning())
    longer = bending(candidate(force, lever_mm=lever), "em", mill(OHX=out * more).leaning())
    assert plain is not None
    assert harder is not None
    assert longer is not None
    assert harder.value == pytest.approx(more * plain.value)
    assert longer.value >= plain.value * (1 - 1e-12)


def test_twisting_is_shear_by_von_mises() -> None:
    """τ = T·c/J of a round rod, held against bending by √3 (beam theory; von Mises)."""
    stress = twisting(candidate(80.0), "em", mill(DC=3.0).leaning())
    d = 2.4
    assert stress is not None
    assert stress.value == pytest.approx(math.sqrt(3.0) * 80.0 * (d / 2) / (math.pi * d**4 / 32))
