"""What an override does to loads, and what gives way under a push."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from firstoff.loads.cut_loads import Quantity, Stretch
from firstoff.loads.deflection import compliance_by_height, plate_compliance, sections_of
from tests.loads import by_hand
from tests.loads.test_accumulate import FACTS, LINE_MM, added, in_lines, lines


def stretch(feed: float = 20.0, run_out: float = 0.0) -> Stretch:
    facts = by_hand.facts(edge_radius=(0.005, 0.002), min_chip_ratio=(0.3, 0.1), run_out=(run_out, 0.0))
    moves = lines(1, feed=feed)
    work = by_hand.work_of(moves, by_hand.timeline_of(moves, [LINE_MM]), by_hand.flat(helix=30), facts)
    return added(work, in_lines(moves, by_hand.arc_side(5.0, 0.0, 180.0))).stretches[0]


def test_the_exponent_of_the_feed_is_what_an_override_does() -> None:
    """Turned up by what its exponent says, a load reaches what was aimed at: reckoned anew at that feed."""
    at_best = stretch()
    for quantity in (Quantity.TORQUE, Quantity.POWER, Quantity.BENDING, Quantity.CHIP, Quantity.LIFT, Quantity.FORCE):
        for run_out in (0.0, 0.004):
            told = at_best if run_out == 0.0 else stretch(run_out=run_out)
            worst = told.candidates[quantity][0]
            factor = 1.1 ** (1 / worst.feed_exponent)
            faster = stretch(20.0 * factor, run_out).candidates[quantity][0]
            assert faster.value == pytest.approx(1.1 * worst.value, rel=2e-3 if run_out == 0.0 else 1.5e-2)


def test_a_tool_gives_way_less_the_higher_it_is_pushed() -> None:
    found = compliance_by_height(by_hand.flat(), FACTS)
    assert found is not None
    heights, compliance = found
    assert np.all(np.diff(compliance) < 0)
    assert compliance[-1] > 1 / 12e3
    assert compliance_by_height(by_hand.flat(), FACTS.without(f"tools.{by_hand.NAME}.modulus")) is None
    assert compliance_by_height(replace(by_hand.flat(), overhang_mm=None), FACTS) is None
    assert heights[0] == 0.0


def test_a_neck_is_a_section_of_its_own() -> None:
    plain, necked = sections_of(by_hand.flat(), 0.8), sections_of(by_hand.flat(), 0.8, (4.0, 22.0))
    assert plain is not None
    assert necked is not None
    assert [section.top_mm for section in plain] == [20.0, 25.0]
    assert [section.top_mm for section in necked] == [20.0, 22.0, 25.0]


def test_a_thin_wall_goes_with_the_cube_of_height_over_thickness() -> None:
    base = plate_compliance(10.0, 1.0, 20.0, 70e3)
    assert plate_compliance(20.0, 1.0, 20.0, 70e3) == pytest.approx(8 * base)
    assert plate_compliance(10.0, 0.5, 20.0, 70e3) == pytest.approx(8 * base)
