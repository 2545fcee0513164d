"""The finished stock against a target part: what is off comes out as far off as it was made, on the side and at the move that made it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.errors import InputError
from firstoff.removal import target as target_module
from firstoff.removal.field import NOTHING, Field, Grid
from firstoff.removal.scan import _kernels as kernels
from firstoff.removal.shape import Shape, shape_of_triangles
from firstoff.removal.stock import BoxBlank, Extent, field_of, frozen_field
from firstoff.removal.swept import PerMove, Swept
from firstoff.removal.target import TargetCheck, check_target
from tests.motion.twin import plain
from tests.removal import solids

CELL = 0.2
GRID = Grid(-0.0764 - CELL, -0.0764 - CELL, CELL, 203, 153, 0.4)
BLANK = field_of(BoxBlank(Extent(0, 40, 0, 30, -8, 0.4)), GRID)
BAND = 0.05
NO_MOVES = PerMove(*(np.zeros(0) for _ in range(7)))  # type: ignore[arg-type]


def part(*blocks: tuple[tuple[float, float, float], tuple[float, float, float]]) -> Shape:
    return shape_of_triangles(np.concatenate([solids.block(*one) for one in blocks]), "part.stl")


PLATE = part(((0, 0, -8), (40, 30, 0)))
POCKETED = part(((0, 0, -8), (40, 30, -4)), ((0, 0, -8), (10, 30, 0)), ((30, 0, -8), (40, 30, 0)))
"""A slot from 10 to 30 in X, 4 deep."""


def cut(*cuts: tuple[float, float, float, int], before: Field = BLANK) -> Swept:
    """Slots along Y from x to x, down to z, by move; centres decide, as they do in a sweep."""
    x = GRID.x0_mm + (np.arange(GRID.columns) + 0.5) * CELL
    top, maker = before.top.copy(), np.full(before.top.shape, -1, np.int32)
    for low, high, z, move in cuts:
        lowered = ((x > low) & (x < high))[None, :] & (top > z - GRID.z0_mm)
        top[lowered] = z - GRID.z0_mm if z > before.bottom_mm else NOTHING
        maker[lowered] = move
    after = frozen_field(GRID, top, before.bottom_mm)
    return Swept(before, after, maker, NO_MOVES, (), (), 0.0, ())


def checked(swept: Swept, target: Shape = POCKETED) -> TargetCheck:
    return check_target(swept, target, BAND)


FACED = (-1.0, 41.0, 0.0, 1)


def test_a_part_to_size_is_to_size() -> None:
    found = checked(cut(FACED, (10, 30, -4, 2)))
    for one in (found.too_deep, found.left):
        assert one.largest_mm < 1e-4
        assert one.area_mm2 == 0
    assert found.edge_mm == CELL
    assert (found.under_mm, found.beside_mm, found.hidden_mm2) == (0, 0, 0)
    assert 40 * 30 <= found.compared_mm2 <= 42 * 32


@given(st.floats(-2, 2).filter(lambda off: abs(off) > 0.06))
@settings(deadline=None, max_examples=20)
def test_a_floor_is_off_by_what_it_was_cut(off: float) -> None:
    found = checked(cut(FACED, (10, 30, -4 + off, 2)))
    wrong, right = (found.left, found.too_deep) if off > 0 else (found.too_deep, found.left)
    assert wrong.largest_mm == pytest.approx(abs(off), abs=1e-5)
    assert wrong.area_mm2 == pytest.approx(
        20 * 30, rel=0.25
    )  # beside a wall what is off sideways by less than the band is none
    assert wrong.move == 2
    assert 10 < wrong.at_mm[0] < 30
    assert wrong.at_mm[2] == pytest.approx(-4 + off, abs=1e-5)
    assert right.largest_mm < 1e-4


@given(st.floats(-0.9, 0.9))
@settings(deadline=None, max_examples=25)
def test_a_wall_is_off_by_its_way_sideways_not_by_its_height(off: float) -> None:
    """Within a cell nothing is told; beyond it the distance, to a cell."""
    found = checked(cut(FACED, (10, 30 + off, -4, 2)))
    wrong, right = (found.too_deep, found.left) if off > 0 else (found.left, found.too_deep)
    assert wrong.largest_mm == pytest.approx(abs(off), abs=CELL) or wrong.largest_mm < 1e-4
    assert wrong.largest_mm < 1e-4 or abs(off) > 0.5 * CELL
    assert wrong.largest_mm > 0 or abs(off) < 2 * CELL
    assert right.largest_mm < 1e-4
    if wrong.area_mm2:
        assert wrong.move == 2  # that cut it, or cut the floor beside it and should have stood nearer
        assert wrong.moves.tolist() == [2]
        assert wrong.at_mm[0] == pytest.approx(30 + off / 2, abs=0.5)


@pytest.mark.parametrize("shift", [0.0, 0.07, 0.13])
def test_within_a_cell_walls_are_not_seen_to_be_off(shift: float) -> None:
    found = checked(cut(FACED, (10 - shift, 30 + shift, -4, 2)))
    assert found.too_deep.area_mm2 == found.left.area_mm2 == 0


def test_a_slope_forgives_nothing() -> None:
    """A ramp of 45 degrees, cut 0.1 mm too deep all over."""
    corners = np.array(
        [[0, 0, -8], [40, 0, -8], [40, 30, -8], [0, 30, -8], [0, 0, -7.5], [40, 0, -7.5], [40, 30, 0], [0, 30, 0]],
        float,
    )
    corners[6:, 2] = -7.5 + 30 * 0.2
    ramp = shape_of_triangles(corners[np.array(solids.FACES)], "ramp.stl")
    y = GRID.y0_mm + (np.arange(GRID.rows) + 0.5) * CELL
    height = np.where(BLANK.top > NOTHING, (-7.5 + 0.2 * y - 0.1 - 0.4)[:, None], NOTHING).astype(np.float32)
    made = Swept(BLANK, frozen_field(GRID, height, -8), np.full(height.shape, 3, np.int32), NO_MOVES, (), (), 0.0, ())
    found = check_target(made, ramp, BAND)
    assert found.too_deep.largest_mm == pytest.approx(0.1, abs=1e-3)
    assert found.too_deep.area_mm2 > 0.95 * 40 * 30
    assert found.left.area_mm2 == 0


def test_a_blank_that_is_too_low_is_nobodys_cut() -> None:
    low = field_of(BoxBlank(Extent(0, 40, 0, 30, -8, -0.3)), GRID)
    found = checked(cut(FACED, (10, 30, -4, 2), before=low))
    assert found.too_deep.largest_mm == pytest.approx(0.3, abs=1e-5)
    assert found.too_deep.move == -1


def test_what_stands_far_beside_the_part_is_none_of_it() -> None:
    """The part is the middle of the blank; the rest stands 2 mm away, then 0.5 mm away, then hangs on by a skin, then is not parted at all."""
    middle = part(((15, 0, -8), (25, 30, 0)))
    clean = checked(cut(FACED, (13, 15, -9, 2), (25, 27, -9, 3)), middle)
    assert clean.left.area_mm2 == clean.too_deep.area_mm2 == 0
    close = checked(cut(FACED, (14.5, 15, -9, 2), (25, 27, -9, 3)), middle)
    assert close.left.largest_mm > 0.5
    skin = checked(cut(FACED, (13, 15, -7.8, 2), (25, 27, -9, 3)), middle)
    assert skin.left.area_mm2 == 0
    assert skin.rest_mm2 == pytest.approx(0.8 * 30, rel=0.05)  # 1 mm beside one side, less the cell of the edge
    whole = checked(cut(FACED), middle)
    assert whole.left.area_mm2 == 0
    assert whole.rest_mm2 == pytest.approx(
        2 * 0.8 * 30, rel=0.05
    )  # a later clamping parts it, or nobody: it is told as a note


ISLAND = part(((12, 8, -8), (28, 22, 0)))
"""A part within the blank on all sides."""


def ring_round(inner_mm: float, low_z: float = -9.0, foot_mm: float = 0.0, foot_z: float = -5.0) -> Swept:
    """A cut 4 mm wide right round the island, `inner_mm` off its outline; its inner `foot_mm` end at `foot_z` already."""
    x = GRID.x0_mm + (np.arange(GRID.columns) + 0.5) * CELL
    y = GRID.y0_mm + (np.arange(GRID.rows) + 0.5) * CELL
    away = np.maximum(np.maximum(12 - x, x - 28)[None, :], np.maximum(8 - y, y - 22)[:, None])
    faced = cut(FACED)
    top, maker = faced.after.top.copy(), faced.maker.copy()
    for low, high, z in ((inner_mm, inner_mm + foot_mm, foot_z), (inner_mm + foot_mm, inner_mm + 4, low_z)):
        here = (away > low) & (away < high)
        top[here], maker[here] = (z - GRID.z0_mm if z > -8 else NOTHING), 2
    return Swept(BLANK, frozen_field(GRID, top, -8), maker, NO_MOVES, (), (), 0.0, ())


def test_what_a_cut_has_parted_from_the_rest_is_left_standing_on_the_part() -> None:
    assert checked(ring_round(0.0), ISLAND).left.area_mm2 == 0
    for too_big in (0.6, 3.0):  # the cut runs along the wrong side, too
        assert checked(ring_round(too_big), ISLAND).left.largest_mm > 0.5
    foot = checked(ring_round(0.0, foot_mm=0.8), ISLAND)  # the last cut went down to -5 only
    assert foot.left.largest_mm > 0.5
    assert foot.rest_mm2 == 0


def test_a_first_clamping_leaves_what_is_round_the_part_to_a_later_one() -> None:
    """Nothing but the top is faced; the part, its outline and the half of a groove round it are for later."""
    assert checked(cut(FACED), ISLAND).left.area_mm2 == 0
    half = checked(ring_round(0.0, low_z=-4.0), ISLAND)
    assert half.left.area_mm2 == 0
    assert half.rest_mm2 > 30


def test_reaches_under_and_beside_and_hollows_are_told() -> None:
    high = checked(cut(FACED), part(((0, 0, -6), (40, 30, 0))))
    assert high.under_mm == pytest.approx(2)
    deep = checked(cut(FACED), part(((0, 0, -9), (40, 30, 0))))
    assert deep.under_mm == pytest.approx(-1)
    wide = checked(cut(FACED), part(((0, 0, -8), (45, 30, 0))))
    assert wide.beside_mm == pytest.approx(45 - (GRID.x0_mm + GRID.columns * CELL), abs=1e-4)
    bridge = checked(
        cut(FACED), part(((0, 0, -8), (10, 30, 0)), ((10, 0, -4), (30, 30, 0)), ((30, 0, -8), (40, 30, 0)))
    )
    assert bridge.hidden_mm2 == pytest.approx(20 * 30, rel=0.02)
    assert bridge.left.area_mm2 == 0


def test_a_target_that_is_not_closed_is_refused() -> None:
    lidless = shape_of_triangles(np.delete(solids.block((0, 0, -8), (40, 30, 0)), [2, 3], axis=0), "part.stl")
    with pytest.raises(InputError, match=r"part.stl: is not closed"):
        checked(cut(FACED), lidless)


@pytest.mark.parametrize("seed", range(3))
def test_compiled_is_plain(seed: int) -> None:
    rng = np.random.default_rng(seed)
    grid = Grid(0, 0, 0.5, 20, 18, 0.0)
    top = -np.abs(rng.normal(2, 1, (18, 20))).astype(np.float32)
    after = frozen_field(grid, top, -8)
    swept = Swept(after, after, rng.integers(-1, 9, top.shape).astype(np.int32), NO_MOVES, (), (), 0.0, ())
    target = part(((1, 1, -8), (8, 7, -2)), ((3, 2, -8), (6, 5, -1)))
    fast = check_target(swept, target, BAND)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(target_module, "kernels", plain(kernels))
        slow = check_target(swept, target, BAND)
    assert fast == slow
    assert len(kernels.find_aside.signatures) <= 1
