"""Loads at the feed that is reached where the edge cuts, not at the mean of its move."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from firstoff.loads.accumulate import Loads, Work
from firstoff.loads.cut_loads import CutLoads, Quantity
from firstoff.motion.plan import plan_motion
from firstoff.motion.timeline import Timeline
from firstoff.path.pieces import Stations
from tests.loads import by_hand
from tests.motion.paths import limits
from tests.motion.paths import track as track_of

FEED, LONG, ACCEL, TURNS = 10_000 / 60, 39.0, 580.0, 400.0
"""A long move that never reaches its feed: the top is sqrt(580·39) = 150.4 mm/s, the mean half of it and a bit."""
MC, KC, AT = 0.25, 900.0, 0.05


def timeline(profile: bool = True) -> Timeline:
    whole = plan_motion(track_of([(LONG, 0.0, 0.0)], feed=FEED), limits(feed=500.0, accel=ACCEL, jerk=math.inf))
    told = whole.profile
    assert told is not None
    own = replace(told, place_mm=told.place_mm[1:], length_mm=told.length_mm[1:], begun_s=told.begun_s[1:])
    each = {name: getattr(whole, name)[1:] for name in ("mean_feed_low", "mean_feed_likely", "mean_feed_high", "limited_by", "move_s", "untimed")}  # fmt: skip
    start, pause = whole.start_s[1:], whole.pause_s[1:]
    return replace(whole, start_s=start, pause_s=pause, profile=own if profile else None, **each)


def slot(told: Timeline) -> CutLoads:
    """A slot 4 mm deep along the whole move, in steps of 0.1 mm."""
    moves = by_hand.moves_of([(LONG, 0.0, 0.0)], FEED, TURNS)
    made = by_hand.engagement_of([0] * 390, side=by_hand.arc_side(4.0, 0.0, 180.0), step=0.1, axial=4.0, radial=6.0)
    at = made.stations
    tip = np.column_stack([(np.arange(390) + 1) * 0.1, np.zeros(390), np.zeros(390)])
    made = replace(made, stations=Stations(at.piece, at.move, tip, at.way, at.step_mm, at.tool, at.rapid, at.ghost))
    facts = by_hand.facts(kc=(KC, 0.0), mc=(MC, 0.0), at=AT)
    loads = Loads(Work(moves, told, by_hand.pieces_of(moves), {1: by_hand.flat()}, facts, by_hand.MATERIAL))
    loads.add(made)
    return loads.finish(None)


def mean_torque(feed: float) -> float:
    """N·mm of a slot: edges·ap·R/2π · ∫ kc·h^(1-mc)·at^mc dφ, with ∫ sin^p from the beta function."""
    power = 1.0 - MC
    integral = math.sqrt(math.pi) * math.gamma((power + 1) / 2) / math.gamma(power / 2 + 1)
    per_edge = feed / (2 * TURNS)
    return 2 * 4.0 * 3.0 / (2 * math.pi) * KC * per_edge * (per_edge / AT) ** -MC * integral


def test_a_long_move_that_accelerates_and_brakes() -> None:
    found = slot(timeline()).stretches[0].candidates
    top = math.sqrt(ACCEL * LONG)
    mean = LONG / (2 * top / ACCEL)
    assert mean == pytest.approx(top / 2)
    torque = found[Quantity.POWER][0].value * 1e3 / (2 * math.pi * TURNS)
    assert torque == pytest.approx(mean_torque(top), rel=0.01)
    assert torque > 1.5 * mean_torque(mean)
    assert found[Quantity.CHIP][0].value == pytest.approx(top / (2 * TURNS), rel=2e-3)
    for quantity in (Quantity.TORQUE, Quantity.POWER, Quantity.BENDING, Quantity.FORCE, Quantity.CHIP):
        worst = found[quantity][0]
        assert worst.feed_mm_per_s == pytest.approx(top, rel=0.01), quantity
        assert worst.tip_mm[0] == pytest.approx(LONG / 2, abs=1.0), quantity


def test_work_over_a_ramp_is_work_by_volume() -> None:
    """With mc = 0 what is spent over the move is kc times volume whatever the speeds: time and feed of stations belong together."""
    told = timeline()
    moves = by_hand.moves_of([(LONG, 0.0, 0.0)], FEED, TURNS)
    made = by_hand.engagement_of([0] * 390, side=by_hand.arc_side(4.0, 0.0, 180.0), step=0.1)
    at = made.stations
    tip = np.column_stack([(np.arange(390) + 1) * 0.1, np.zeros(390), np.zeros(390)])
    made = replace(made, stations=Stations(at.piece, at.move, tip, at.way, at.step_mm, at.tool, at.rapid, at.ghost))
    facts = by_hand.facts(kc=(KC, 0.0), mc=(0.0, 0.0))
    loads = Loads(Work(moves, told, by_hand.pieces_of(moves), {1: by_hand.flat()}, facts, by_hand.MATERIAL))
    loads.add(made)
    duty = loads.finish(None).duties[-1]
    work = duty.mean_power_w * 1e3 * min(duty.window_s, float(told.start_s[-1]))
    assert work == pytest.approx(KC * 6.0 * 4.0 * LONG, rel=0.01)


def test_without_a_profile_peaks_are_at_the_quickest_and_time_at_the_mean() -> None:
    bare, whole = slot(timeline(profile=False)), slot(timeline())
    for quantity in (Quantity.TORQUE, Quantity.POWER, Quantity.BENDING, Quantity.FORCE):
        worst = bare.stretches[0].candidates[quantity][0]
        assert worst.feed_mm_per_s == pytest.approx(FEED)
        assert worst.value >= whole.stretches[0].candidates[quantity][0].value
    assert bare.duties[-1].mean_power_w < bare.stretches[0].candidates[Quantity.POWER][0].value / 1.5
