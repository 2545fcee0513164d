"""A sample of `make exactness`: errors fall with the cells, solids agree, and a wrong figure would be seen."""

from __future__ import annotations

import math

import numpy as np
import pytest

from proof.exactness import __main__ as page
from proof.exactness import grids, motion, solids


def test_errors_fall_with_the_cells() -> None:
    rows = {row.name: row for row in grids.study(4, (grids.CELLS[0], grids.CELLS[2], grids.CELLS[4]))}
    assert set(rows) == set(grids.NAMES)
    for name in ("width", "angle", "gap", "torque"):
        assert rows[name].slope > 0.6, name
    for name in grids.NAMES:
        stated = rows[name].stated
        assert stated is not None, name
        assert rows[name].rms[1] < 1.3 * stated, name


def test_the_exact_pass_is_a_rectangle_where_it_is_one() -> None:
    """Square to the block: 16 mm long, as wide as told. The front of the tool is half a chord ahead of its middle when it first touches, and its
    flank, level with the middle, is the last to leave."""
    way = [(-18.0, -3.0), (18.0, -3.0), (18.0, -3.0 + grids.WIDTH)]
    area, length = grids.exact_pass(
        [*way[:2], (40.0, -40.0), (-18.0, -40.0), (-18.0, -3 + grids.WIDTH), (18.0, -3 + grids.WIDTH)]
    )
    side = 2 * grids.HALF_BLOCK
    assert area == pytest.approx(side * grids.WIDTH, rel=1e-4)
    chord = math.sqrt(grids.RADIUS**2 - (grids.RADIUS - grids.WIDTH) ** 2)
    assert length == pytest.approx(side + chord, rel=1e-3)


def test_the_exact_torque_is_that_of_small_steps() -> None:
    phi = (np.arange(200_000) + 0.5) / 200_000 * math.acos(1 - 2 * grids.SHARE)
    chip = grids.FEED / (grids.EDGES * grids.TURNS) * np.sin(phi)
    force = grids.KC * chip * (chip / 0.05) ** -grids.MC * grids.DEPTH
    by_steps = grids.EDGES * grids.RADIUS * float(force.mean()) * math.acos(1 - 2 * grids.SHARE) / (2 * math.pi)
    assert grids.exact_torque() == pytest.approx(by_steps, rel=1e-4)


def test_solids_agree() -> None:
    for one in solids.study(2, cell=0.3):
        assert abs(one.off) < 0.03
        assert abs(one.depth_mm) < 0.1 * 0.3


def test_a_plan_is_its_own_integral_and_no_slower_than_the_quickest() -> None:
    one = motion.integrated(0)
    assert one.end_off_mm == pytest.approx(0.0, abs=1e-5)
    zigzag = motion.by_acceleration(0)
    assert -0.01 < zigzag.slower < 0.02


def test_the_page_says_what_was_found() -> None:
    rows = [grids.Row(name, (0.4, 0.3, 0.2, 0.15, 0.1), -0.01, 1.0, 0.25) for name in grids.NAMES]
    moved = [motion.Moved("integration", "", 1.0, None, 1e-8, 1e-7), motion.Moved("line", "one", 1.01, 1.0)]
    text = page.page(rows, [solids.Solid("flat", 6, 100.0, 101.0, 50.0, 0.02)], moved, 30)
    assert (
        "| lateral depth (width of cut) | 0.4 mm | 0.3 mm | 0.2 mm | 0.15 mm | 0.1 mm | 1.00 | met | -0.01 mm | 0.25 mm | 0.80 |"
        in text
    )
    assert "| flat | 6 | 100.00 | 101.00 | +1.00 % | +20.0 µm | 2.0 % |" in text
    assert "| line | one | 1.0100 | 1.0000 | +1.00 % |" in text
    assert page.plot(rows).startswith("<svg")
