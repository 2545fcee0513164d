"""Quantities: text to value and back, default doubts, shapes, and everything that must be refused."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.errors import InputError
from firstoff.facts.fact import Evidence, Shape
from firstoff.facts.quantity import Kind, Quantity, Said, format_quantity, read_quantity, read_range, read_said
from firstoff.facts.units import COMMON_UNITS, DIMENSIONS, MET_MOST, to_unit, unit_factor

PLACE = Kind("length", "place")
SIZE = Kind("length", "size", 0.0)
TURNS = Kind("rate", "rate", 0.0, 10_000.0)
STRESS = Kind("stress", "other", 0.0)
RATIO = Kind("ratio")


def fault_of(text: object, kind: Kind = PLACE, said: Said | None = None) -> str:
    with pytest.raises(InputError) as caught:
        read_quantity(text, kind, said or Said())
    assert len(caught.value.faults) == 1
    return str(caught.value)


def read_or_refused(text: str) -> Quantity | None:
    """The quantity, or None if it was refused with one fault that says what is allowed; anything else is a failure."""
    try:
        return read_quantity(text, PLACE)
    except InputError as error:
        (fault,) = error.faults
        if not (fault.allowed or fault.do):
            pytest.fail(f"{fault} does not say what to do")
        return None


# ---- the notation --------------------------------------------------------------------------------------------------

decimals = st.decimals(min_value=-9999, max_value=9999, allow_nan=False, places=3)


@given(decimals, st.integers(1, 999))
def test_bracket_counts_in_the_last_place(value: Decimal, digits: int) -> None:
    quantity = read_quantity(f"{value:f}({digits}) mm", PLACE)
    assert quantity.value == float(value)
    assert quantity.u == pytest.approx(digits / 1000, rel=1e-12)
    assert quantity.stated


@given(decimals, st.integers(1, 999), st.integers(-6, 1))
def test_power_scales_value_and_doubt_alike(value: Decimal, digits: int, power: int) -> None:
    quantity = read_quantity(f"{value:f}({digits})e{power} mm", PLACE)
    assert quantity.value == pytest.approx(float(value) * 10.0**power, rel=1e-12)
    assert quantity.u == pytest.approx(digits * 10.0 ** (power - 3), rel=1e-12)


@given(decimals, st.integers(1, 99))
def test_bracket_with_a_point_is_in_the_unit_of_the_value(value: Decimal, digits: int) -> None:
    assert read_quantity(f"{value:f}({digits / 1000:.3f}) mm", PLACE) == read_quantity(f"{value:f}({digits}) mm", PLACE)


@given(st.floats(-5e4, 5e4), st.floats(1e-6, 1e4))
def test_what_is_written_is_read_back(value: float, u: float) -> None:
    text = format_quantity(value, u, "mm")
    quantity = read_quantity(text, PLACE)
    half_a_place = 0.5 * 10.0 ** (math.floor(math.log10(u)) - 1)
    assert abs(quantity.value - value) <= 10.1 * half_a_place  # a u of 9.96 rounds up to 10, one place further left
    assert quantity.u == pytest.approx(u, rel=0.051)
    assert format_quantity(quantity.value, quantity.u, "mm") == text


@given(st.floats(1e-5, 1e5))
def test_written_doubt_has_two_digits(u: float) -> None:
    text = format_quantity(12345.678, u, "mm")
    bracket = text[text.index("(") + 1 : text.index(")")]
    assert len(bracket.rstrip("0")) <= 2
    assert len(bracket) >= 2


@pytest.mark.parametrize(
    ("value", "u", "unit", "text"),
    [
        (14.23, 4.61, "µm", "14.2(46) µm"),
        (0.8, 0.05, "mm", "0.800(50) mm"),
        (30000, 150, "1/min", "30000(150) 1/min"),
        (1234.5, 0.0996, "mm", "1234.50(10) mm"),
        (123456, 1234, "N", "123500(1200) N"),
        (-0.171, 0.0029, "", "-0.1710(29)"),
        (5, 0, "mm", "5 mm"),
        (math.nan, 1, "mm", "unknown mm"),
        (1, math.nan, "mm", "unknown mm"),
    ],
)
def test_written_form(value: float, u: float, unit: str, text: str) -> None:
    assert format_quantity(value, u, unit) == text


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_with_one_fault(text: str) -> None:
    quantity = read_or_refused(text)
    assert quantity is None or (math.isfinite(quantity.value) and quantity.u > 0)


@given(st.from_regex(r"[+-]?[0-9.]{1,5}(\([0-9.]{1,3}\))?(e-?[0-9]{1,2})? ?(1/)?[a-zA-Z%µ^*/ 2]{0,6}", fullmatch=True))
def test_almost_quantities_are_read_or_refused(text: str) -> None:
    quantity = read_or_refused(text)
    assert quantity is None or abs(quantity.value) <= DIMENSIONS["length"].greatest


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1 in", 25.4),
        ("0.5in", 12.7),
        ("3 µm", 0.003),
        ("3 μm", 0.003),
        ("3 um", 0.003),
        ("30\u202f000.5 mm", 30000.5),
        ("\u22125 mm", -5.0),
        ("+5 mm", 5.0),
        (".5 mm", 0.5),
        ("5. mm", 5.0),
        ("2 ft", 609.6),
        ("4 thou", 0.1016),
    ],
)
def test_spellings_of_lengths(text: str, value: float) -> None:
    assert read_quantity(text, PLACE).value == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize("unit", ["1/min", "rpm", "/min", "rev/min", "r/min", "min^-1", "min**-1"])
def test_spindle_speeds_are_turns(unit: str) -> None:
    assert read_quantity(f"30000 {unit}", TURNS).value == 500.0
    assert read_quantity(f"30000(150) {unit}", TURNS).u == 2.5


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("14 m/min", "speed", 14000 / 60),
        ("100 in/min", "speed", 2540 / 60),
        ("3.1 m/s^2", "acceleration", 3100),
        ("3.1 m/s²", "acceleration", 3100),
        ("80 m/s^3", "jerk", 80000),
        ("1.1 kW", "power", 1100),
        ("0.44 N m", "torque", 440),
        ("0.44 Nm", "torque", 440),
        ("0.44 N·m", "torque", 440),
        ("9 N/µm", "stiffness", 9000),
        ("900 N/mm^2", "stress", 900),
        ("900 MPa", "stress", 900),
        ("6 bar", "pressure", 0.6),
        ("38 deg", "angle", math.radians(38)),
        ("38°", "angle", math.radians(38)),
        ("40 %", "ratio", 0.4),
        ("0.25", "ratio", 0.25),
        ("25 min", "time", 1500),
        ("4 cm^2", "area", 400),
        ("40", "count", 40),
    ],
)
def test_internal_units(text: str, dimension: str, value: float) -> None:
    quantity = read_quantity(text, Kind(dimension))
    assert quantity.value == pytest.approx(value, rel=1e-14)
    assert quantity.unit == DIMENSIONS[dimension].internal


@pytest.mark.parametrize("unit", COMMON_UNITS)
def test_every_offered_unit_is_known_and_turns_back(unit: str) -> None:
    fitting = []
    for name in DIMENSIONS:
        try:
            unit_factor(unit, name, unit)
        except InputError:
            continue
        fitting.append(name)
        quantity = read_quantity(f"3 {unit}", Kind(name))
        assert to_unit(quantity.value, name, unit) == pytest.approx(3, rel=1e-14)
    assert fitting, f"{unit} fits no dimension"


def test_every_example_is_what_it_says() -> None:
    for name, dimension in DIMENSIONS.items():
        for example in dimension.example.split(", or "):
            assert read_quantity(example, Kind(name)).value > 0


# ---- refusals ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("5", PLACE, "the unit is missing"),
        (5, PLACE, "the unit is missing"),
        (5.5, PLACE, "the unit is missing"),
        ("12 kg", PLACE, '"kg" is a mass, not a length'),
        ("12 N", PLACE, '"N" is a force, not a length'),
        ("12 rpm", PLACE, "not a length"),
        ("8 deg", RATIO, "does not fit"),
        ("8 rev", RATIO, "does not fit"),
        ("400 Hz", TURNS, "write 1/min"),
        ("24000", TURNS, "the unit is missing"),
        ("12 mmm", PLACE, 'nearest: "mm"'),
        ("12 MM", PLACE, 'nearest: "mm"'),
        ("12 mi", PLACE, 'nearest: "mil"'),
        ("12 mi", Kind("time"), 'nearest: "min"'),
        ("3000 1/mim", TURNS, 'nearest: "1/min"'),
        ("14 m/mn", Kind("speed"), 'nearest: "m/min"'),
        ("1/min", TURNS, "no number before the unit"),
        ("", PLACE, "there is no number"),
        ("mm", PLACE, "there is no number"),
        ("nan mm", PLACE, "there is no number"),
        ("inf mm", PLACE, "there is no number"),
        (math.nan, RATIO, "not a number"),
        (math.inf, RATIO, "not a number"),
        (True, RATIO, "must be a quantity"),
        (None, PLACE, "must be a quantity"),
        ([1], PLACE, "must be a quantity"),
        ("1e99 mm", PLACE, "no such number"),
        ("1e400 mm", PLACE, "no such number"),
        ("1" * 50 + " mm", PLACE, "no such number"),
        ("1000 km", PLACE, "beyond anything"),
        ("14,2 mm", PLACE, "Write a point"),
        ("5 ± 1 mm", PLACE, "in brackets"),
        ("5 +/- 1 mm", PLACE, "in brackets"),
        ("30 000 1/min", TURNS, "Write 30000"),
        ("5 6 mm", PLACE, "two numbers"),
        ("5 (2) mm", PLACE, "bracket"),
        ("5(2 mm", PLACE, "bracket"),
        ("5() mm", PLACE, "bracket"),
        ("5(0) mm", PLACE, "nothing in the world is known exactly"),
        ("5.0(900) mm", SIZE, "18 times the value"),
        ("-5 mm", SIZE, "impossible"),
        ("0 mm", SIZE, "impossible"),
        ("5 mm; import os", PLACE, "not known"),
        ("5 mm**9", PLACE, "not known"),
        ("5 __class__", PLACE, "not known"),
    ],
)
def test_refused(text: object, kind: Kind, words: str) -> None:
    message = fault_of(text, kind)
    assert words in message
    assert "Allowed: " in message


def test_refusal_shows_the_value_and_what_is_allowed() -> None:
    message = fault_of("14 kg", Kind("speed", "rate", 0.0))
    assert message == '"kg" is a mass, not a feed or speed: 14 kg. Allowed: a feed or speed such as "14 m/min"'


# ---- doubt ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "kind", "assumed", "plate"),
    [  # CONTRACTS, Quantity: lengths and positions 0.5 / 0.1 mm, speeds, feeds, powers 5 / 3 %, everything else 25 / 10 %
        ("200 mm", PLACE, 0.5, 0.1),
        ("-200 mm", PLACE, 0.5, 0.1),
        ("0 mm", PLACE, 0.5, 0.1),
        ("80 mm", SIZE, 0.5, 0.1),
        ("0.4 mm", SIZE, 0.1, 0.04),  # half a millimetre on a 0.4 mm cutter would be nonsense
        ("24000 1/min", TURNS, 20.0, 12.0),
        ("12 m/min", Kind("speed", "rate", 0.0), 10.0, 6.0),
        ("1 kW", Kind("power", "rate", 0.0), 50.0, 30.0),
        ("4 s", Kind("time", "other", 0.0), 1.0, 0.4),
        ("900 N/mm^2", STRESS, 225.0, 90.0),
        ("0.2", Kind("ratio", "other", 0.0), 0.05, 0.02),
        ("40 deg", Kind("angle", "angle"), math.radians(3), math.radians(1)),
        ("0 deg", Kind("angle", "angle"), math.radians(1), math.radians(0.5)),
        ("8 µm", Kind("length", "fine", 0.0), 0.002, 0.001),
        ("40", Kind("count", "other", 0.0), 0.0, 0.0),
    ],
)
def test_default_doubt(text: str, kind: Kind, assumed: float, plate: float) -> None:
    plain = read_quantity(text, kind)
    assert plain.evidence is Evidence.ASSUMED
    assert not plain.stated
    assert plain.u == pytest.approx(assumed, rel=1e-12)
    assert read_quantity(text, kind, Said(evidence=Evidence.PLATE)).u == pytest.approx(plate, rel=1e-12)


def test_handbook_constants_keep_a_quarter() -> None:
    assert read_quantity("900 N/mm^2", STRESS, Said(evidence=Evidence.HANDBOOK)).u == 225.0


@pytest.mark.parametrize("evidence", [Evidence.MEASURED, Evidence.LEARNED])
def test_who_measured_says_how_well(evidence: Evidence) -> None:
    assert f'evidence "{evidence}" without an uncertainty' in fault_of("5 mm", PLACE, Said(evidence=evidence))
    assert read_quantity("5.00(2) mm", PLACE, Said(evidence=evidence)).u == 0.02


def test_what_the_shop_sets_is_exact() -> None:
    assert read_quantity("5 mm", PLACE, Said(evidence=Evidence.SET)).u == 0
    asked = Kind("length", "size", 0.0, exact=True)
    assert read_quantity("8 µm", asked).u == 0
    assert read_quantity("8 µm", asked).evidence is Evidence.SET
    assert "has no doubt" in fault_of("8(1) µm", asked)
    assert "has no doubt" in fault_of("5(1) mm", PLACE, Said(evidence=Evidence.SET))


@pytest.mark.parametrize(
    ("u", "expected"), [("5 %", 10.0), ("0.2 mm", 0.2), ("20 µm", 0.02), ("1 ‰", 0.2), ("1000 ppm", 0.2)]
)
def test_u_as_share_or_quantity(u: str, expected: float) -> None:
    quantity = read_quantity("200 mm", PLACE, Said(u=u))
    assert quantity.u == pytest.approx(expected, rel=1e-12)
    assert quantity.stated


@pytest.mark.parametrize(
    "u", ["5 s", "5", 5, "-5 %", "-1 mm", "0 %", "0 mm", "nan", "5(1) mm", "", "abc", True, [], "1e9 m"]
)
def test_u_that_cannot_be(u: object) -> None:
    assert "u" in fault_of("200 mm", PLACE, Said(u=u))


def test_u_of_a_ratio_needs_no_unit() -> None:
    assert read_quantity("0.25", RATIO, Said(u=0.05)).u == 0.05


def test_u_stated_twice() -> None:
    assert "stated twice" in fault_of("200(1) mm", PLACE, Said(u="5 %"))


def test_half_width_is_uniform() -> None:
    quantity = read_quantity("200 mm", PLACE, Said(half_width="3 mm"))
    assert quantity.u == pytest.approx(3 / math.sqrt(3))
    assert quantity.shape is Shape.UNIFORM
    assert "half_width does not go" in fault_of("200 mm", PLACE, Said(half_width="3 mm", shape=Shape.NORMAL))


@given(st.floats(0.01, 1e4), st.floats(0.001, 1.9))
def test_wide_positive_facts_are_lognormal(value: float, share: float) -> None:
    text, u = f"{value:.9f} mm", f"{share * 100:.9f} %"
    quantity = read_quantity(text, SIZE, Said(u=u))
    assert (quantity.shape is Shape.LOGNORMAL) == (quantity.u > 0.15 * quantity.value)
    assert read_quantity(text, PLACE, Said(u=u)).shape is Shape.NORMAL
    assert read_quantity(text, SIZE, Said(u=u, shape=Shape.NORMAL)).shape is Shape.NORMAL


def test_lognormal_needs_a_value_above_zero() -> None:
    assert "above zero" in fault_of("-5(1) mm", PLACE, Said(shape=Shape.LOGNORMAL))


# ---- ranges and tables ---------------------------------------------------------------------------------------------


@given(st.integers(-999, 998), st.integers(1, 999))
def test_range_is_two_quantities(low: int, step: int) -> None:
    full = read_range(f"{low}(1) mm .. {low + step}(2) mm", PLACE)
    assert (full.low.value, full.high.value, full.low.u, full.high.u) == (low, low + step, 1, 2)
    short = read_range(f"{low}(1)..{low + step}(2) mm", PLACE)
    assert short == full


@pytest.mark.parametrize(
    "text", ["5 mm", 5, "5 mm ..", ".. 5 mm", "9 mm .. 5 mm", "5 mm .. 5 mm", "0 s .. 5 mm", "a .. b"]
)
def test_range_that_is_none(text: object) -> None:
    with pytest.raises(InputError) as caught:
        read_range(text, PLACE)
    assert caught.value.faults[0].allowed


def test_all_faults_of_a_table_together() -> None:
    with pytest.raises(InputError) as caught:
        read_said(
            {"evidence": "guess", "df": 0, "shape": "flat", "on": "soon", "note": 3, "u": "1 mm", "half_width": "1 mm"}
        )
    assert len(caught.value.faults) == 6
    assert all(fault.allowed for fault in caught.value.faults)


@pytest.mark.parametrize(("dimension", "unit"), [(one, unit) for one, units in MET_MOST.items() for unit in units])
def test_the_units_met_most_are_what_the_unit_library_says(
    dimension: str, unit: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = unit_factor(unit, dimension, unit)
    monkeypatch.setitem(MET_MOST, dimension, {})
    assert unit_factor(unit, dimension, unit) == told
