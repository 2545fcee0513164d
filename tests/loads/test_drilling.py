"""Drills and taps through the accumulator, and the forms that they rest on."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from firstoff.facts.fact import Fact, FactSet
from firstoff.loads.accumulate import Loads, Work
from firstoff.loads.constants import Constants
from firstoff.loads.cut_loads import CutLoads, Quantity
from firstoff.loads.drilling import CHISEL, lead_is_off, tap_chip_mm, tap_torque_nmm
from tests.loads import by_hand

DEPTH = 10.0
HOLE_FACTS = by_hand.facts(wear_factor=(1.2, 0.1))


def hole(assembly, feed: float, turns: float, facts: FactSet = HOLE_FACTS, engaged: bool = True) -> CutLoads:
    """One hole straight down, and up again."""
    moves = by_hand.moves_of([(0, 0, -DEPTH), (0, 0, 0)], feed, turns)
    work = Work(moves, by_hand.timeline_of(moves, [DEPTH, DEPTH]), by_hand.pieces_of(moves), {1: assembly}, facts, by_hand.MATERIAL)  # fmt: skip
    loads = Loads(work)
    end = np.ones((6, 180), np.float32)
    if assembly.kind == "drill":
        end[:, 45:135] = 0.0
    tall = assembly.segments[0].z1_mm
    made = by_hand.engagement_of(
        np.zeros(50, int), (0, 0, -1), step=DEPTH / 50, end=end, volume=math.pi * 9 * DEPTH / 50,
        slope=np.ones((8, 90)) if tall > 0 else None, slope_z=np.linspace(0, tall, 9) if tall > 0 else None,
    )  # fmt: skip
    loads.add(made)
    return loads.finish(None)


def test_a_drill_has_thrust_torque_power_and_chips() -> None:
    found = hole(by_hand.drill(), feed=6.0, turns=50.0).stretches[0].candidates
    assert set(found) == {
        Quantity.TORQUE,
        Quantity.POWER,
        Quantity.DRILL_THRUST,
        Quantity.THRUST,
        Quantity.CHIP,
        Quantity.THIN,
    }
    torque, power = found[Quantity.TORQUE][0], found[Quantity.POWER][0]
    chip = 0.06 * math.sin(math.radians(59))
    kc = 900 * 1.2 * (chip / 0.05) ** -0.25
    assert torque.value == pytest.approx(kc * 0.12 * 36 / 8, rel=0.01)
    assert power.value == pytest.approx(2 * math.pi * 50 * torque.value / 1000, rel=0.01)
    lips = 0.5 * kc * 3 * 0.12 * math.sin(math.radians(59))
    assert found[Quantity.DRILL_THRUST][0].value == pytest.approx(CHISEL * lips, rel=0.01)
    assert found[Quantity.CHIP][0].value == pytest.approx(chip, rel=1e-3)
    paths = {path.rsplit(".", 1)[1] for path, _ in torque.exponents}
    assert paths == {"kc", "mc", "wear_factor"}


def test_a_drill_needs_no_ratios() -> None:
    facts = HOLE_FACTS.without(f"materials.{by_hand.MATERIAL}.radial_ratio").without(
        f"materials.{by_hand.MATERIAL}.axial_ratio"
    )
    assert hole(by_hand.drill(), 6.0, 50.0, facts).stretches[0].missing == ()


def with_pitch(pitch: float = 1.0) -> FactSet:
    path = f"tools.{by_hand.NAME}.TP"
    return FactSet({**HOLE_FACTS.facts, path: Fact(path, pitch, 0.0, "mm")})


def test_a_tap_needs_its_pitch_and_no_feed() -> None:
    assert hole(by_hand.tap(), 10.0, 10.0).stretches[0].missing == (f"tools.{by_hand.NAME}.TP",)
    found = {feed: hole(by_hand.tap(), feed, 10.0, with_pitch()).stretches[0] for feed in (10.0, 5.0)}
    for stretch in found.values():
        assert set(stretch.candidates) == {Quantity.TAP_TORQUE, Quantity.POWER}
        torque = stretch.candidates[Quantity.TAP_TORQUE][0]
        expected = tap_torque_nmm(Constants(900.0, 0.25, 0.05, 0, 0, wear_factor=1.2), 1.0, 6.0, 3)
        assert torque.value == pytest.approx(expected)
        assert torque.feed_exponent == 0.0
        assert stretch.rubbing_s == 0.0
    chip = tap_chip_mm(1.0, 3)
    exponent = dict(found[10.0].candidates[Quantity.TAP_TORQUE][0].exponents)[f"materials.{by_hand.MATERIAL}.mc"]
    assert exponent == pytest.approx(-0.25 * math.log(chip / 0.05), rel=1e-3)


def test_a_pitch_that_the_feed_does_not_follow_is_told() -> None:
    right = hole(by_hand.tap(), 10.0, 10.0, with_pitch()).stretches[0]
    wrong = hole(by_hand.tap(), 10.5, 10.0, with_pitch()).stretches[0]
    assert not any("pitch" in doubt for doubt in right.doubts)
    assert any("pitch" in doubt for doubt in wrong.doubts)
    assert not lead_is_off(10.0, -10.0, 1.0)
    assert lead_is_off(0.0, 10.0, 1.0)
    assert lead_is_off(math.nan, 10.0, 1.0)


def test_run_out_of_a_drill_is_no_matter_of_its_chip() -> None:
    path = f"tools.{by_hand.NAME}.run_out"
    facts = FactSet({**HOLE_FACTS.facts, path: Fact(path, 0.02, 0.01, "mm")})
    with_it, without = (hole(by_hand.drill(), 6.0, 50.0, told).stretches[0].candidates for told in (facts, HOLE_FACTS))
    assert with_it[Quantity.TORQUE][0].value == without[Quantity.TORQUE][0].value
    assert with_it[Quantity.CHIP][0].value == without[Quantity.CHIP][0].value


def test_a_drill_of_unknown_edges_is_missing_them() -> None:
    assert hole(replace(by_hand.drill(), edges=None), 6.0, 50.0).stretches[0].missing == (f"tools.{by_hand.NAME}.ZEFP",)
