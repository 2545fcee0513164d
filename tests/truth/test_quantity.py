"""The notation of quantities and the units of a shop, against the GUM, CODATA and a general library."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from scipy import constants

from firstoff.facts.quantity import Kind, Said, format_quantity, read_quantity
from firstoff.facts.units import unit_factor

GUM = "JCGM 100:2008 (GUM), {} (from memory)"
MASS_G = (100.02147, 0.00035)
"""The GUM's worked statement of a 100 g standard: 100,021 47 g with a combined standard uncertainty of 0,35 mg."""


@pytest.mark.parametrize(
    ("check", "text", "what"),
    [
        ("quantity-gum-digits", "100.02147(35) mm", "digits of the uncertainty refer to the last digits of the value"),
        ("quantity-gum-unit", "100.02147(0.00035) mm", "uncertainty in brackets expressed in the unit of the value"),
        ("quantity-gum-groups", "100.021\u2009470(350) mm", "the same with digit groups and one more digit"),
    ],
)
def test_concise_notation(truth: Callable[..., None], check: str, text: str, what: str) -> None:
    quantity = read_quantity(text, Kind("length"))
    assert quantity.value == MASS_G[0]
    truth(check, what, GUM.format("7.2.2"), MASS_G[1], quantity.u, 1e-15)


def test_two_digits_are_written(truth: Callable[..., None]) -> None:
    assert format_quantity(*MASS_G, "g") == "100.02147(35) g"
    rounded = format_quantity(10.05762, 0.027, "ohm")
    assert rounded == "10.058(27) ohm"
    what = "10.057 62 ohm with u = 27 mohm is rounded to 10.058 ohm"
    truth("quantity-gum-rounding", what, GUM.format("7.2.6"), 10.058, float(rounded.partition("(")[0]), 1e-12)
    assert format_quantity(0.0, 28.05, "kHz") == "0(28) kHz"


def test_rectangular_distribution(truth: Callable[..., None]) -> None:
    """A handbook's expansion of copper, 16.52e-6 with an error of not more than 0.40e-6: u = 0.23e-6."""
    quantity = read_quantity("16.52e-6", Kind("ratio"), Said(half_width=0.40e-6))
    what = "half-width 0.40e-6 of a rectangular distribution"
    truth("quantity-gum-rectangular", what, GUM.format("4.3.7, example 1"), 0.23e-6, quantity.u, 0.005e-6)


def test_codata(truth: Callable[..., None]) -> None:
    """CODATA 2022 prints the fine-structure constant as 7.297 352 5643(11)e-3."""
    value, _, u = constants.physical_constants["fine-structure constant"]
    quantity = read_quantity("7.2973525643(11)e-3", Kind("ratio"))
    source = "CODATA 2022 recommended values (NIST), as carried by scipy.constants"
    truth("quantity-codata-value", "fine-structure constant in concise notation", source, value, quantity.value, 1e-15)
    truth("quantity-codata-u", "its standard uncertainty", source, u, quantity.u, 1e-17)
    assert format_quantity(value, u, "") == "0.0072973525643(11)"


@pytest.mark.parametrize(
    ("check", "unit", "dimension", "expected"),
    [
        ("unit-inch", "in", "length", constants.inch * 1e3),
        ("unit-thou", "thou", "length", constants.mil * 1e3),
        ("unit-foot", "ft", "length", constants.foot * 1e3),
        ("unit-lbf", "lbf", "force", constants.pound_force),
        ("unit-kgf", "kgf", "force", constants.kilogram_force),
        ("unit-psi", "psi", "pressure", constants.psi * 1e-6),
        ("unit-bar", "bar", "pressure", constants.bar * 1e-6),
        ("unit-hp", "hp", "power", constants.hp),
        ("unit-degree", "deg", "angle", constants.degree),
        ("unit-arcmin", "arcmin", "angle", constants.arcmin),
        ("unit-rpm", "rpm", "rate", 1 / constants.minute),
        ("unit-ipm", "in/min", "speed", constants.inch * 1e3 / constants.minute),
    ],
)
def test_units(truth: Callable[..., None], check: str, unit: str, dimension: str, expected: float) -> None:
    got = unit_factor(unit, dimension, unit)
    truth(check, f"1 {unit} in internal units", "scipy.constants (NIST SP 811)", expected, got, 1e-12 * expected)


def test_metric_horsepower(truth: Callable[..., None]) -> None:
    expected = 75 * constants.kilogram_force
    got = unit_factor("PS", "power", "PS")
    truth("unit-ps", "1 PS = 75 kgf m/s, in W", "DIN 66036 (from memory)", expected, got, 1e-12 * expected)
    assert math.isclose(unit_factor("Nm", "torque", "Nm"), 1000)
