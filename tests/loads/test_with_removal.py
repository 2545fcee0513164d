"""Loads of real engagement: what the sweep hands over, against the volume that it took away by itself."""

from __future__ import annotations

import math

import numpy as np
import pytest

from firstoff.facts.assembly import Assembly
from firstoff.loads.accumulate import Loads, Work
from firstoff.loads.cut_loads import CutLoads, Quantity
from firstoff.path.stations import stations
from firstoff.removal.field import Grid
from firstoff.removal.grid import choose_grid
from firstoff.removal.stock import BoxBlank, Extent, field_of
from firstoff.removal.sweep import sweep
from firstoff.removal.swept import Swept
from tests.loads import by_hand

KC = 1000.0
FACTS = by_hand.facts(kc=(KC, 0.0), mc=(0.0, 0.0))
BOX = Extent(0.0, 40.0, 0.0, 30.0, -12.0, 0.0)


def cut(assembly: Assembly, points: list[tuple[float, float, float]], feed: float = 20.0, turns: float = 400.0) -> tuple[CutLoads, Swept]:  # fmt: skip
    """A tool led along straight lines through a box."""
    moves = by_hand.moves_of(points[1:], feed, turns)
    lengths = np.linalg.norm(np.diff(np.array(points), axis=0), axis=1)
    pieces = by_hand.pieces_of(moves, points[0])
    grid: Grid = choose_grid((BOX.x_low, BOX.y_low, BOX.z_low), (BOX.x_high, BOX.y_high, BOX.z_high), [assembly])
    loads = Loads(Work(moves, by_hand.timeline_of(moves, lengths), pieces, {1: assembly}, FACTS, by_hand.MATERIAL))
    way = stations(pieces, grid.cell_mm, dz_mm=0.25 * grid.cell_mm)
    swept = sweep(field_of(BoxBlank(BOX), grid), way, {1: assembly}, len(moves), engagement=loads.add)
    return loads.finish(None), swept


def work_mj(found: CutLoads) -> float:
    """Energy of the whole program, N·mm: the mean power over the longest window is over all of its time."""
    duty = found.duties[-1]
    return duty.mean_power_w * 1e3 * float(found.overview.time_s[-1] + found.overview.time_s[1])


ANGLE = math.radians(23.0)
PATHS = {
    "slot": [(-5.0, 11.3, -4.0), (45.0, 14.9, -4.0)],
    "side": [(-5.0, -1.1, -6.0), (45.0, -0.9, -6.0)],
    "ramp": [(8.0, 11.3, 0.5), (32.0, 14.9, -2.5)],
    "plunge": [(20.0, 15.0, 1.0), (20.0, 15.0, -3.0)],
}


@pytest.mark.parametrize("way", list(PATHS))
@pytest.mark.parametrize("kind", ["flat", "ball", "bull"])
def test_work_is_force_by_volume_taken_away(kind: str, way: str) -> None:
    """With one cutting force and no edge force: two rooms, two ways, one number. They part by what the sweep's own check finds at most."""
    assembly = {"flat": by_hand.flat(helix=30, edges=3), "ball": by_hand.ball(helix=30), "bull": by_hand.bull()}[kind]
    found, swept = cut(assembly, PATHS[way])
    volume = float(swept.moves.volume_mm3.sum())
    off = work_mj(found) / (KC * volume) - 1
    print(f"{kind}, {way}: work over kc times volume {off:+.2%}; sweep's own residual {swept.residual:.2%}")
    assert abs(off) <= max(swept.residual, 0.03)
    assert found.residual == pytest.approx(abs(off), abs=2e-3)


def test_up_and_down_milling_are_told_apart() -> None:
    """The same cut in the other direction of feed: stock on the left of a clockwise cutter is cut up, and its chip starts at nothing."""
    out = {}
    for name, points in (
        ("up", [(45.0, 31.8, -6.0), (-5.0, 31.8, -6.0)]),
        ("down", [(-5.0, 31.8, -6.0), (45.0, 31.8, -6.0)]),
    ):
        found, _ = cut(by_hand.flat(helix=30, edges=2), points)
        middle = found.stretches[0].candidates[Quantity.FORCE][0]
        out[name] = middle.force_n, math.copysign(1.0, middle.way[0])
    across = {name: force[1] for name, (force, _) in out.items()}
    along = {name: force[0] * way for name, (force, way) in out.items()}
    assert abs(across["up"]) < abs(across["down"])
    assert along["up"] > along["down"]  # up-milling is pushed back by the stock, down-milling is drawn on


def test_chips_and_times_of_a_slot() -> None:
    found, _ = cut(by_hand.flat(helix=30, edges=2), PATHS["slot"])
    stretch = found.stretches[0]
    assert stretch.candidates[Quantity.CHIP][0].value == pytest.approx(20.0 / 800.0, rel=2e-3)
    assert stretch.cutting_s == pytest.approx(43.0 / 20.0, rel=0.05)
    assert stretch.volume_mm3 == pytest.approx(6.0 * 4.0 * 40.2, rel=0.03)
    torque = found.stretches[0].candidates[Quantity.POWER][0].value * 1e3 / (2 * math.pi * 400)
    assert torque == pytest.approx(KC * (20.0 / 400.0) * 4.0 * 6.0 / (2 * math.pi), rel=0.02)
