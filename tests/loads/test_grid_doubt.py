"""Thin cuts on the cells of the stock, at random poses: force, power and chip against the closed form, within what is said of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from firstoff.loads import candidates as columns
from firstoff.loads.accumulate import Loads, Work
from firstoff.loads.candidates import FIELDS
from firstoff.loads.cut_loads import Quantity
from firstoff.loads.duty import joined
from firstoff.loads.grid_doubt import WIDTH_LOG_U, as_exponent, chip_doubt, conserved, power_of_width, width_doubt
from firstoff.path.stations import stations
from firstoff.removal.grid import choose_grid
from firstoff.removal.stock import BoxBlank, Extent, field_of
from firstoff.removal.sweep import sweep
from tests.loads import by_hand

DEEP, FEED, TURNS, EDGES, R, LONG = 2.0, 20.0, 400.0, 2, 3.0, 5.0
BOX = Extent(0.0, 30.0, 0.0, 16.0, -4.0, 0.0)
KC, MC, AT = 900.0, 0.25, 0.05
FACTS = by_hand.facts(kc=(KC, 0.0), mc=(MC, 0.0), at=AT)
STEADY = 4
"""Number of the move that is looked at: the middle of a pass."""
ONE_U = math.sqrt(math.log1p(WIDTH_LOG_U**2))


@dataclass(frozen=True)
class Cut:
    """Logarithms of what was found over the closed form, and the standard uncertainties that are stated."""

    mean: float
    u_mean: float
    worst: float
    u_worst: float
    chip: float
    u_chip: float


def mean_torque(wide: float) -> float:
    """Edges·ap·R/2π times the integral of kc·h^(1-mc)·at^mc over the arc of contact (W8's mean, for a Kienzle law)."""
    arc = np.linspace(0.0, math.acos(1.0 - wide / R), 20001)
    force = KC * AT**MC * (FEED / TURNS / EDGES * np.sin(arc)) ** (1.0 - MC)
    return float(EDGES / (2 * math.pi) * DEEP * R * np.trapezoid(force, arc))


def thin_cut(cells: float, seed: int, aligned: bool = False) -> tuple[Loads, float]:
    """A slot, and beside it a pass that is `cells` cells wide, in any direction or along the cells. Returns the loads and the width."""
    rng = np.random.default_rng(seed)
    tool = by_hand.flat(helix=30)
    grid = choose_grid((BOX.x_low, BOX.y_low, BOX.z_low), (BOX.x_high, BOX.y_high, BOX.z_high), [tool])
    wide, angle = cells * grid.cell_mm, 0.5 * math.pi * (seed % 4) if aligned else rng.uniform(0.0, 2.0 * math.pi)
    way = np.array([math.cos(angle), math.sin(angle)])
    left = np.array([-way[1], way[0]])
    middle = np.array([15.0, 8.0]) + rng.uniform(-0.5, 0.5, 2)
    begin, end, half = middle - 5.5 * way, middle + 5.5 * way, way * LONG / 2
    aside = middle - left * wide
    at = [(*begin, 2.0), (*begin, -DEEP), (*end, -DEEP), (*(end - left * wide), -DEEP), (*(aside + half), -DEEP), (*(aside - half), -DEEP)]  # fmt: skip
    points = [tuple(map(float, one)) for one in at]
    moves = by_hand.moves_of(points[1:], FEED, TURNS)
    pieces, length = by_hand.pieces_of(moves, points[0]), np.linalg.norm(np.diff(np.array(points), axis=0), axis=1)
    line = by_hand.timeline_of(moves, length)
    loads = Loads(Work(moves, line, pieces, {1: tool}, FACTS, by_hand.MATERIAL, cell_mm=grid.cell_mm))
    led = stations(pieces, grid.cell_mm, dz_mm=0.25 * grid.cell_mm)
    sweep(field_of(BoxBlank(BOX), grid), led, {1: tool}, len(moves), engagement=loads.add)
    return loads, wide


def found(cells: float, seed: int, aligned: bool = False) -> Cut | None:
    """None where no station saw anything of the cut."""
    loads, wide = thin_cut(cells, seed, aligned)
    spell = joined(loads.spells)
    mine = spell.move == STEADY
    work = spell.power_w[mine] * spell.span_s[mine]
    if not work.size:
        return None
    torque, chip = mean_torque(wide), FEED / TURNS / EDGES * math.sin(math.acos(1.0 - wide / R))
    rows = []
    for quantity in (Quantity.POWER, Quantity.CHIP):
        table = loads.open[0].pools[quantity].table
        table = table[table[:, columns.MOVE] == STEADY]
        rows.append(table[np.argmax(table[:, columns.VALUE])])
    (power, u_power), (thick, u_chip) = ((row[columns.VALUE], row[columns.EXPONENTS][FIELDS.index("width")] * ONE_U) for row in rows)  # fmt: skip
    turning = 1e3 / (2 * math.pi * TURNS)
    mean = float(work.sum()) / (LONG / FEED) * turning
    u_mean = float((work * spell.by_width[mine]).sum() / work.sum()) * ONE_U
    return Cut(math.log(mean / torque), u_mean, math.log(power * turning / torque), u_power, math.log(thick / chip), u_chip)  # fmt: skip


@pytest.mark.parametrize("cells", [0.3, 0.6, 1.0, 1.7, 3.0])
def test_thin_cuts_are_covered_by_what_is_said_of_them(cells: float) -> None:
    """The closed form lies within two standard uncertainties of the mean over the pass, and not above its worst station and thickest chip by more."""
    seen = [cut for seed in range(8) if (cut := found(cells, seed)) is not None]
    assert len(seen) >= (4 if cells < 1.0 else 8)
    for cut in seen:
        print(f"{cells} cells: mean {math.exp(cut.mean):.2f} (u {cut.u_mean:.2f}), worst {math.exp(cut.worst):.2f} (u {cut.u_worst:.2f}), "
              f"chip {math.exp(cut.chip):.2f} (u {cut.u_chip:.2f})")  # fmt: skip
        assert abs(cut.mean) <= 2 * cut.u_mean
        assert (
            -2 * cut.u_worst <= cut.worst <= 2.5 * cut.u_worst
        )  # the greatest of many samples: too much rather than too little
        assert cut.chip >= -2 * cut.u_chip
        assert cut.chip <= max(
            2 * cut.u_chip, 0.5
        )  # told too thick, never too thin, by a bin of 2 degrees and the cell beside
    means = [cut.mean for cut in seen]
    assert abs(float(np.median(means))) < (0.05 if cells >= 1.0 else 0.5)


@pytest.mark.parametrize("cells", [1.0, 1.5, 2.5])
def test_cuts_along_the_cells_are_covered_too(cells: float) -> None:
    """Every station then sees the same rows of cells: half a row too much or too little all along."""
    for seed in range(8):
        cut = found(cells, seed, aligned=True)
        assert cut is not None
        assert -2 * cut.u_mean <= cut.mean <= 2.5 * cut.u_mean
        assert -2 * cut.u_worst <= cut.worst <= 2.5 * cut.u_worst
        assert cut.chip >= -2 * cut.u_chip


def test_the_power_of_the_width_is_that_of_the_closed_form() -> None:
    step = 1e-4
    power = math.log(mean_torque(0.2 * (1 + step)) / mean_torque(0.2)) / math.log1p(step)
    assert float(power_of_width(MC, np.zeros(1))[0]) == pytest.approx(power, abs=0.02)


def test_wide_cuts_are_known_to_a_few_hundredths() -> None:
    one = np.ones(1)
    assert width_doubt(0.2, 12.0 * one, 2.0 * one, 6.0 * one, one, one)[0] == pytest.approx(0.2 / math.sqrt(12) / 6)
    assert chip_doubt(0.2, 3.0, one)[0] == 0.0
    assert as_exponent(np.array([ONE_U]))[0] == pytest.approx(1.0)


def test_loads_are_scaled_up_to_the_volume_and_never_down() -> None:
    """A 5 mm window of which half the samples saw the cut; one in which they saw too much; and short moves, which share a window."""
    move = np.repeat([0, 1, 2, 3], [50, 50, 20, 20]).astype(np.int32)
    step = np.full(140, 0.1)
    area = np.where(np.arange(140) % 2 == 0, 1.0, 0.0)
    area[50:] = 2.0
    volume = np.where(np.arange(140) < 100, 0.1, 0.4)
    kept = conserved(move, step, area, volume)
    whole, alone = kept.whole, kept.alone
    assert whole[:50] == pytest.approx(2.0)
    assert alone[:50:2] == pytest.approx(1.0)  # the mean of the window is what these stations saw themselves
    assert whole[50:100] == pytest.approx(1.0)
    assert whole[100:] == pytest.approx(2.0)
    assert alone[100:] == pytest.approx(2.0)
