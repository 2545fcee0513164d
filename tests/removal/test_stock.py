"""Blanks: their volume with and without the true area of their edges, and how they grow and shrink."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.removal.field import NOTHING, Grid
from firstoff.removal.stock import (
    NOT_MOVED,
    BoxBlank,
    CylinderBlank,
    Extent,
    Faces,
    all_faces,
    cover_of,
    field_of,
    grown,
    volume_mm3,
)

shifts = st.floats(0, 1)
sizes = st.floats(2, 18)


def grid_round(x_shift: float = 0.31, y_shift: float = 0.72, cell: float = 0.25, z0: float = 0.4) -> Grid:
    return Grid(-4 - x_shift, -4 - y_shift, cell, 120, 112, z0)


@given(shifts, shifts, sizes, sizes, st.floats(1, 20))
@settings(deadline=None)
def test_a_box_weighs_what_it_is(x_shift: float, y_shift: float, wide: float, deep: float, high: float) -> None:
    grid = grid_round(x_shift, y_shift)
    blank = BoxBlank(Extent(0, wide, 0, deep, 0.4 - high, 0.4))
    field, cover = field_of(blank, grid), cover_of(blank, grid)
    assert volume_mm3(field, cover) == pytest.approx(wide * deep * high, rel=1e-6)
    assert (
        abs(volume_mm3(field) - wide * deep * high)
        <= 0.5 * grid.cell_mm * 2 * (wide + deep) * high + high * grid.cell_mm**2
    )
    assert np.array_equal(cover > 0, field.top > NOTHING)


@given(shifts, shifts, st.floats(0.8, 9), st.floats(1, 20))
@settings(deadline=None)
def test_a_cylinder_weighs_what_it_is(x_shift: float, y_shift: float, radius: float, high: float) -> None:
    grid = grid_round(x_shift, y_shift)
    blank = CylinderBlank(9.3, 8.2, radius, 0.4 - high, 0.4)
    field, cover = field_of(blank, grid), cover_of(blank, grid)
    assert volume_mm3(field, cover) == pytest.approx(math.pi * radius**2 * high, rel=1e-6)
    assert not cover[field.top == NOTHING].any()
    assert cover.max() < 2.5


@given(sizes, sizes, st.floats(-3, 3))
@settings(deadline=None)
def test_a_grown_blank_holds_the_blank(wide: float, deep: float, by: float) -> None:
    grid = grid_round()
    for blank in (BoxBlank(Extent(0, wide, 0, deep, -6, 0.4)), CylinderBlank(9, 9, 0.5 * wide, -6, 0.4)):
        one, other = field_of(blank, grid), field_of(grown(blank, all_faces(by)), grid)
        small, large = (one, other) if by >= 0 else (other, one)
        assert (large.top >= small.top).all()
        assert large.bottom_mm <= small.bottom_mm
        assert grown(blank, NOT_MOVED) == blank


def test_faces_that_would_pass_each_other_leave_nothing() -> None:
    for blank in (BoxBlank(Extent(0, 2, 0, 8, -6, 0.4)), CylinderBlank(4, 4, 1, -6, 0.4)):
        gone = grown(blank, all_faces(-2))
        assert (field_of(gone, grid_round()).top == NOTHING).all()
        assert volume_mm3(field_of(gone, grid_round()), cover_of(gone, grid_round())) == 0


def test_each_face_moves_alone() -> None:
    blank = grown(BoxBlank(Extent(0, 8, 0, 6, -5, 0)), Faces(x_high=1, z_low=2, y_low=-1))
    assert blank.extent == Extent(0, 9, 1, 6, -7, 0)


def test_heights_are_told_from_the_grids_level_and_cannot_be_written() -> None:
    field = field_of(BoxBlank(Extent(0, 8, 0, 6, -5, 0.9)), grid_round(z0=0.4))
    assert field.top.max() == np.float32(0.5)
    assert field.bottom_mm == -5
    assert field.top.dtype == np.float32
    assert not field.top.flags.writeable
    with pytest.raises(ValueError, match="read-only"):
        field.top[0, 0] = 1
