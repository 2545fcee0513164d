"""The grid: how fine, why, and where it lies."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.removal.grid import FINE, FINEST_MM, MOST_CELLS, choose_grid
from tests.removal import cutting as by

sides = st.floats(5.0, 300.0)


@given(sides, sides, st.floats(0.5, 25.0), st.floats(-200, 200))
@settings(deadline=None)
def test_the_grid_covers_the_blank_and_keeps_its_area(x: float, y: float, diameter: float, corner: float) -> None:
    grid = choose_grid(
        (corner, -corner, -10.0), (corner + x, y - corner, 2.0), [by.flat(diameter), by.cone(59, 0.0, 0.4, "drill")]
    )
    wanted = max(diameter / FINE, FINEST_MM)
    assert grid.rows * grid.columns <= MOST_CELLS * 1.02 + 10_000
    assert grid.cell_mm <= max(wanted, math.sqrt(x * y / MOST_CELLS) / 0.95)
    assert grid.cell_mm >= 0.95 * min(wanted, x) or x / wanted < 25
    a, b = by.centres(grid)
    inside = [np.count_nonzero((a >= corner) & (a < corner + x)), np.count_nonzero((b >= -corner) & (b < y - corner))]
    assert a[0] < corner < a[inside[0]] + grid.cell_mm
    assert a[-1] > corner + x > a[-1] - 3 * grid.cell_mm
    # Whole cells within a small part of one on the first side, within half a cell on the other.
    assert inside[0] * grid.cell_mm == pytest.approx(x, abs=1e-6 * x)
    assert inside[1] * grid.cell_mm == pytest.approx(y, abs=0.5 * grid.cell_mm + 1e-9)
    assert grid.z0_mm == 2.0


def test_both_sides_of_most_blanks_come_out_within_a_tenth_of_a_cell() -> None:
    rng = np.random.default_rng(3)
    off = []
    for x, y in rng.uniform(20, 200, (60, 2)):
        grid = choose_grid((0, 0, 0), (x, y, 1), [by.flat(4.0)])
        off.append(abs(y / grid.cell_mm - round(y / grid.cell_mm)))
    assert np.quantile(off, 0.9) < 0.1


@pytest.mark.parametrize(
    ("diameter", "size", "says"),
    [
        (6.0, 50.0, "1/30 of the smallest cutter"),
        (0.3, 10.0, "fewer than 20 cells"),
        (0.5, 10.0, "kept at 0.02 mm"),
        (1.0, 200.0, "6 million"),
    ],
)
def test_the_grid_says_why(diameter: float, size: float, says: str) -> None:
    assert says in choose_grid((0, 0, -5), (size, size, 0), [by.flat(20.0), by.flat(diameter)]).why


def test_drills_do_not_ask_for_fine_cells_and_a_tolerance_does() -> None:
    low, high, tools = (0, 0, -5), (50, 40, 0), [by.flat(8.0), by.cone(59, 0.0, 1.0, "drill")]
    assert choose_grid(low, high, tools).cell_mm > 0.19
    finer = choose_grid(low, high, tools, finest_wanted_mm=0.08)
    assert finer.cell_mm <= 0.08
    assert "tolerance of 0.08 mm" in finer.why
    assert choose_grid(low, high, tools, coarser=3.0).cell_mm > 0.57


def test_a_blank_without_extent_is_our_fault() -> None:
    with pytest.raises(ValueError, match="no extent"):
        choose_grid((0, 0, 0), (0, 10, 1), [by.flat()])
