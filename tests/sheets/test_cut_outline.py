"""Outlines of what is left, against shapes whose outline is known and against a general library of plane shapes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import unary_union

from firstoff.removal.field import NOTHING, Field, Grid
from firstoff.removal.swept import Floor
from firstoff.sheets.cut_outline import MOST_CELLS, SMOOTH, blank_outline, loops_of, outline_of, simplified
from tests.sheets import hand_cut, hand_followed

masks = arrays(np.bool_, st.tuples(st.integers(3, 9), st.integers(3, 9)))


def field(top: np.ndarray, cell: float, bottom: float = -10.0) -> Field:
    return Field(
        Grid(0.0, 0.0, cell, top.shape[1], top.shape[0], 0.0), top.astype(np.float32), bottom, np.zeros((0, 4))
    )


def surfaces(*floors: float):
    told = hand_followed.followed(hand_cut.made.reading()).surfaces
    return replace(told, floors=tuple(Floor(1, z, 50.0, 0, (0.0, 0.0)) for z in floors))


def middles(shape: tuple[int, int], cell: float) -> tuple[np.ndarray, np.ndarray]:
    return np.meshgrid((np.arange(shape[1]) + 0.5) * cell, (np.arange(shape[0]) + 0.5) * cell)


@given(masks)
def test_every_border_is_walked_once_and_every_loop_closes(inside):
    padded = np.pad(inside, 1)
    loops = loops_of(padded, 0.0, 0.0, 1.0)
    for loop in loops:
        assert (loop[0] == loop[-1]).all()
    whole = unary_union([box(c - 0.5, r - 0.5, c + 0.5, r + 0.5) for r, c in zip(*np.nonzero(padded), strict=True)])
    for loop in loops:  # a line through the middles of borders, evened out, never leaves them by more than this
        assert all(whole.boundary.distance(Point(*place)) <= 0.36 + SMOOTH for place in loop)


def test_cells_that_touch_in_a_corner_are_two():
    inside = np.zeros((8, 8), dtype=bool)
    inside[1:4, 1:4] = inside[4:7, 4:7] = True
    first, second = loops_of(inside, 0.0, 0.0, 1.0)
    assert Polygon(first).area == pytest.approx(Polygon(second).area)
    assert not Polygon(first).overlaps(Polygon(second))


@pytest.mark.parametrize("cell", [0.07, 0.1, 0.25])
def test_a_disc_and_a_rectangle_are_true_to_half_a_cell(cell):
    shape = (int(30 / cell), int(40 / cell))
    x, y = middles(shape, cell)
    disc = loops_of(np.hypot(x - 20, y - 15) < 9.0, cell / 2, cell / 2, cell)
    assert len(disc) == 1
    away = np.hypot(disc[0][:, 0] - 20, disc[0][:, 1] - 15)
    assert np.abs(away - 9.0).max() <= (0.5 + SMOOTH) * cell
    assert Polygon(disc[0]).area == pytest.approx(math.pi * 81, rel=cell / 9)
    (rectangle,) = loops_of((x > 5) & (x < 35) & (y > 4) & (y < 26), cell / 2, cell / 2, cell)
    assert Polygon(rectangle).area == pytest.approx(30 * 22, abs=52 * 2 * cell)
    assert Polygon(rectangle).bounds == pytest.approx((5, 4, 35, 26), abs=cell)
    assert len(rectangle) <= 9  # four corners, each cut off by half a cell at most, and the first again


@given(
    arrays(np.int64, st.tuples(st.integers(3, 40), st.just(2)), elements=st.integers(-5000, 5000)), st.floats(0.01, 5)
)
def test_a_simplified_line_stays_within_its_distance(hundredths, within):
    points = hundredths / 100  # lengths below a nanometre overflow the library that this is held against
    kept = simplified(points, within)
    assert (kept[0] == points[0]).all()
    assert (kept[-1] == points[-1]).all()
    line = LineString(kept) if len(kept) > 1 and not (kept == kept[0]).all() else Point(*kept[0])
    assert max(line.distance(Point(*place)) for place in points) <= within + 1e-6


def test_floors_walls_and_holes_have_their_lines():
    top = np.full((300, 400), 0.0)
    x, y = middles(top.shape, 0.1)
    before = field(top.copy(), 0.1)
    top[(x > 10) & (x < 25) & (y > 8) & (y < 20)] = -3.0
    top[np.hypot(x - 32, y - 15) < 2.0] = NOTHING
    found = outline_of(before, field(top, 0.1), surfaces(0.0, -3.0))
    shapes = sorted({tuple(np.round(Polygon(loop).bounds, 0)) for loop in found.plan})
    assert shapes == [(0.0, 0.0, 40.0, 30.0), (10.0, 8.0, 25.0, 20.0), (30.0, 13.0, 34.0, 17.0)]


def test_from_the_front_the_highest_is_seen_and_hollows_are_dashed():
    top = np.full((300, 400), 0.0)
    x, y = middles(top.shape, 0.1)
    top[x > 30] = -4.0  # a shelf through the whole width: seen from the front
    top[(x > 5) & (x < 15) & (y > 8) & (y < 20)] = -3.0  # a pocket: hidden
    top[np.hypot(x - 22, y - 15) < 2.0] = NOTHING  # a hole through it: hidden, down to the bottom
    found = outline_of(field(np.zeros((300, 400)), 0.1), field(top, 0.1), surfaces(0.0, -3.0, -4.0))
    (front,) = found.front
    assert front[:, 1].max() == 0.0
    assert front[:, 1].min() == -10.0
    shelf = front[(front[:, 1] == -4.0)]
    assert shelf[:, 0].min() == pytest.approx(30.0, abs=0.1)
    pocket, hole = found.hidden
    assert (pocket[:, 1].min(), hole[:, 1].min()) == (-3.0, -10.0)
    assert (hole[:, 0].min(), hole[:, 0].max()) == (pytest.approx(20, abs=0.1), pytest.approx(24, abs=0.1))


def test_a_blank_of_any_shape_has_its_outline():
    x, y = middles((200, 200), 0.2)
    (loop,) = blank_outline(field(np.where(x + y < 30, 0.0, NOTHING), 0.2))
    assert Polygon(loop).area == pytest.approx(450, rel=0.02)
    assert outline_of(field(np.full((9, 9), NOTHING), 1.0), field(np.full((9, 9), NOTHING), 1.0), surfaces()).plan == ()


def test_a_fine_grid_is_drawn_no_finer_than_a_print_can_show():
    x, y = middles((1500, 1500), 0.02)
    (loop, *_) = blank_outline(field(np.where(np.hypot(x - 15, y - 15) < 14, 0.0, NOTHING), 0.02))
    assert len(loop) < MOST_CELLS
    assert np.abs(np.hypot(loop[:, 0] - 15, loop[:, 1] - 15) - 14).max() < 1500 / MOST_CELLS * 0.02 * 1.3
