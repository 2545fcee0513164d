"""Lengths over time as a drawing, and the crib as a page."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from xml.etree import ElementTree

import pytest

from firstoff.changer.drift import Measured, length_drift
from firstoff.changer.length_window import LengthWindow, Setter, length_window
from firstoff.sheets.crib_list import drift_words
from firstoff.sheets.length_chart import length_chart
from firstoff.verdict.words import ShopUnits

START = datetime(2026, 1, 10, 9)
MM, INCH = ShopUnits(False), ShopUnits(True)


def records(*lengths: float, u: float = 0.001) -> list[Measured]:
    return [Measured(START + timedelta(days=30 * n), length, u) for n, length in enumerate(lengths)]


def drawn(
    window: LengthWindow | None, *lengths: float, grip: int | None = None, units: ShopUnits = MM
) -> ElementTree.Element:
    anew = [] if grip is None else [START + timedelta(days=30 * grip - 1)]
    svg = length_chart(length_drift(records(*lengths), anew), window, units, 87, 40, "lengths of em6")
    return ElementTree.fromstring(svg)


def test_every_length_of_this_grip_is_a_solid_point_inside_the_drawing() -> None:
    chart = drawn(None, 70.0, 69.998, 69.997, 69.994)
    dots = [one for one in chart.iter("circle") if one.get("fill") == "#101418"]
    assert len(dots) == 4
    xs, ys = ([float(one.get(key, "nan")) for one in dots] for key in ("cx", "cy"))
    assert xs == sorted(xs)
    assert ys == sorted(ys)  # shorter is lower on paper
    assert all(0 < x < 87 and 0 < y < 40 for x, y in zip(xs, ys, strict=True))


def test_stops_are_hatched_where_they_are_near_and_left_out_where_they_are_far() -> None:
    near = length_window(70.0, 0.001, Setter(0.002), 0.005)
    assert len(list(drawn(near, 70.0, 69.99).iter("rect"))) == 2
    far = length_window(70.0, 0.1, Setter(0.1), 0.5)
    assert not list(drawn(far, 70.0, 69.999).iter("rect"))


def test_a_drift_that_is_not_told_is_a_broken_line() -> None:
    told, not_told = drawn(None, 70.0, 69.99, 69.98, 69.97), drawn(None, 70.0, 70.001, 69.999, 70.0)
    assert not [one for one in told.iter("line") if one.get("stroke-dasharray")]
    assert [one for one in not_told.iter("line") if one.get("stroke-dasharray")]


def test_one_length_draws_nothing() -> None:
    assert length_chart(length_drift(records(70.0)), None, MM, 87, 40, "") == ""


@pytest.mark.parametrize("units", [MM, INCH])
def test_numerals_are_few_and_the_unit_is_the_shops(units: ShopUnits) -> None:
    words = [one.text or "" for one in drawn(None, 70.0, 69.98, 69.985, units=units).iter("text")]
    assert ("thou" if units.inch else "µm") in words
    numerals = [one for one in words if re.fullmatch(r"−?\d+(\.\d+)?", one)]
    assert 2 <= len(numerals) <= 7
    assert "0" in numerals


def test_the_sentence_says_which_way_and_how_surely() -> None:
    falling = length_drift(records(70.0, 69.99, 69.98, 69.97))
    assert re.fullmatch(
        r"em6 gets shorter by 10\.\d+\(\d+\) µm a month, from 4 lengths\.", drift_words("em6", falling, MM)
    )
    assert "thou a month" in drift_words("em6", falling, INCH)
    assert drift_words("em6", length_drift(records(70.0, 70.0005)), MM).startswith(
        "em6: no drift that its 2 lengths can tell"
    )
    assert "two of different days tell a drift" in drift_words("em6", length_drift(records(70.0)), MM)
    near = length_drift([Measured(START + timedelta(days=n), 70.0 - 0.01 * n, 0.001) for n in range(3)])
    assert drift_words("em6", near, MM) == "em6: 3 lengths in 2 days, too few, too close together to tell a drift."
    stepped = drift_words("em6", length_drift(records(70.0, 69.56, 69.56)), MM)
    assert "It begins anew on 9 Feb 2026: 440 µm shorter" in stepped
    assert "gets shorter" not in stepped
