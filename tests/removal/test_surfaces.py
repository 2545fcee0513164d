"""What is left at the end: walls, floors and slopes with their makers, thin walls, pieces and what parted them, clean-up."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from firstoff.facts.assembly import Assembly, Part
from firstoff.path.pieces import Pieces
from firstoff.path.stations import stations
from firstoff.program.moves import Arcs
from firstoff.removal import bodies_left, surfaces, wall_makers
from firstoff.removal.bodies_left import pieces_left, regions
from firstoff.removal.field import NOTHING, Field, Grid
from firstoff.removal.scan import _kernels as kernels
from firstoff.removal.stock import BoxBlank, Extent, Faces, field_of, frozen_field, grown
from firstoff.removal.surfaces import surfaces_of, untouched_top_mm2
from firstoff.removal.sweep import sweep
from firstoff.removal.swept import Surfaces, Swept
from firstoff.removal.ways import ways_of
from tests.motion.twin import plain
from tests.removal import bodies_by_hand as hand

BLANK = BoxBlank(Extent(0, 40, 0, 30, -8, 0.4))
CELL = 0.2
GRID = Grid(-0.0764 - CELL, -0.0764 - CELL, CELL, 203, 153, 0.4)
WIDE, NARROW = hand.flat_mill(radius=6.0, shank=6.0), hand.flat_mill(radius=2.0, shank=2.0)
Way = list[tuple[hand.Point, bool]]


def ball_mill(radius: float) -> Assembly:
    angles = np.linspace(0, math.pi / 2, 46)[1:]
    curve = [(radius * math.sin(a), radius * (1 - math.cos(a)), Part.EDGE) for a in angles]
    return hand.assembly(hand.profile(*curve, (radius, 20.0, Part.EDGE)), 2 * radius, "ball")


TOOLS = {1: WIDE, 2: NARROW, 3: NARROW, 4: ball_mill(2.0)}


def level(z: float, *points: tuple[float, float]) -> Way:
    """At rapid over the first point, down, and level along the others, up again."""
    x, y = points[0]
    end = points[-1]
    return [
        ((x, y, 20.0), True),
        *(((px, py, z), False) for px, py in points),
        ((*end, 20.0), True),
    ]


def program(*calls: tuple[int, Way]) -> Pieces:
    parts, move = [], 0
    for tool, way in calls:
        parts.append(hand.lines(*way, start=(0.0, 0.0, 20.0), tool=tool, first_move=move))
        move += len(way)
    return hand.joined(parts)


def followed(pieces: Pieces, field: Field | None = None) -> Swept:
    field = field_of(BLANK, GRID) if field is None else field
    return sweep(field, stations(pieces, field.grid.cell_mm), TOOLS, len(pieces), threads=1)


def read(*calls: tuple[int, Way]) -> Surfaces:
    pieces = program(*calls)
    return surfaces_of(followed(pieces), pieces, TOOLS, len(pieces))


def facing(z: float, step: float = 10.0, end: float = 33.0) -> Way:
    ways: Way = [((-8.0, 2.0, 20.0), True), ((-8.0, 2.0, z), False)]
    y, ahead = 2.0, True
    while y < end:
        ways += [((48.0 if ahead else -8.0, y, z), False), ((48.0 if ahead else -8.0, y + step, z), False)]
        y, ahead = y + step, not ahead
    return [*ways, ((0.0, 0.0, 20.0), True)]


# --- who made what -----------------------------------------------------------------------------------------------------


def test_a_slot_has_a_floor_and_walls_on_both_sides() -> None:
    found = read((2, level(-3.0, (10.0, 15.0), (30.0, 15.0))))
    assert found.floor_moves.tolist() == [False, True, True, False]
    assert found.wall_moves.tolist() == [False, True, True, False]
    assert found.wall_side is not None
    assert found.wall_side.tolist()[2:] == [3, 0]
    assert not found.cusp_moves.any()
    (floor,) = found.floors
    assert floor.z_mm == pytest.approx(-3.0, abs=1e-6)
    assert floor.area_mm2 == pytest.approx(20 * 4 + math.pi * 4, rel=0.02)
    assert floor.tool == 2
    assert abs(floor.at_mm[1] - 15) < 2


@pytest.mark.parametrize(("y", "side"), [(28.5, 2), (1.5, 1)])
@pytest.mark.parametrize("back", [False, True])
def test_a_shoulder_stands_on_one_side(y: float, side: int, back: bool) -> None:
    """Along the back edge of the blank towards +X the part is to the right of the way."""
    ends = [(-4.0, y), (44.0, y)][:: -1 if back else 1]
    found = read((2, level(-3.0, *ends)))
    assert found.wall_side is not None
    assert found.wall_side[2] == (3 - side if back else side)


def test_what_is_cut_away_again_has_made_nothing() -> None:
    slot = level(-1.0, (10.0, 15.0), (30.0, 15.0))
    found = read((2, slot), (1, level(-3.0, (6.0, 15.0), (34.0, 15.0))))
    assert not (found.floor_moves[: len(slot)] | found.wall_moves[: len(slot)]).any()
    assert found.floor_moves[len(slot) + 2]


def test_an_arc_tells_its_sides_too() -> None:
    """Counter-clockwise round a boss: the boss is on the left, the rest of the blank on the right."""
    arcs = Arcs(
        np.array([[20.0, 15.0]]), np.array([17], np.uint8), np.array([8.0]), np.array([2 * math.pi]), np.zeros(1)
    )
    pieces = hand.lines(((28.0, 15.0, -3.0), False), ((28.0, 15.0, -3.0), False), start=(28.0, 15.0, 20.0), tool=2)
    pieces = replace(pieces, arc=np.array([-1, 0], np.int32), arcs=arcs)
    found = surfaces_of(followed(pieces), pieces, TOOLS, 2)
    assert found.wall_side is not None
    assert found.wall_side[1] == 3
    inner = followed(pieces)
    boss = np.zeros(inner.after.top.shape, np.bool_)
    boss[70:82, 95:107] = True  # take the boss away: only the right side is left
    gone = replace(
        inner,
        after=frozen_field(GRID, np.where(boss | _within(20.0, 15.0, 8.5), np.float32(-3.4), inner.after.top), -8),
    )
    found = surfaces_of(gone, pieces, TOOLS, 2)
    assert found.wall_side is not None
    assert found.wall_side[1] == 2


def _within(x: float, y: float, radius: float) -> np.ndarray:
    rows, columns = np.indices((GRID.rows, GRID.columns))
    px, py = GRID.x0_mm + (columns + 0.5) * CELL, GRID.y0_mm + (rows + 0.5) * CELL
    return np.asarray(np.hypot(px - x, py - y) < radius)


@pytest.mark.parametrize("step", [0.8, 1.2])
@pytest.mark.parametrize("slope", [0.0, 0.5])
def test_a_ball_leaves_cusps_as_far_apart_as_its_passes(step: float, slope: float) -> None:
    """Passes along X, side by side on a plane that rises along Y: the step is told along the surface."""
    ways: Way = []
    for n in range(12):
        y = 8.0 + n * step
        z = -7.4 + slope * (y - 8.0)
        ends = [(10.0, y, z), (30.0, y, z)][:: 1 if n % 2 else -1]
        ways += [(ends[0], False), (ends[1], False)]
    ways += [((20.0, 15.0, 20.0), True)]
    pieces = program((4, ways))
    found = surfaces_of(followed(pieces), pieces, TOOLS, len(pieces))
    passes = np.arange(3, 22, 2)
    assert found.cusp_moves[passes].all()
    assert not found.floor_moves.any()
    assert found.cusp_mm[passes] == pytest.approx(step * math.hypot(1, slope), rel=0.02)


def test_one_pass_of_a_ball_has_no_step() -> None:
    found = read((4, level(-1.0, (10.0, 15.0), (20.0, 15.0), (30.0, 15.0))))
    assert found.cusp_moves.any()
    assert not found.cusp_mm.any()


def rings(*ways: tuple[float, float]) -> Way:
    """Round a square of 12 mm at an offset, once for each (z, offset of the tip's way from the square)."""
    found: Way = []
    for z, off in ways:
        h = 6.0 + off
        corners = [(20 - h, 15 - h), (20 + h, 15 - h), (20 + h, 15 + h), (20 - h, 15 + h), (20 - h, 15 - h)]
        found += level(z, *corners)
    return found


def of_ring(found: Surfaces, nth: int) -> list[bool]:
    """Whether walls stand of the four sides of a ring from 0; each has seven moves."""
    return found.wall_moves[7 * nth + 2 : 7 * nth + 6].tolist()


def test_a_wall_cut_in_depths_was_made_by_all_of_them() -> None:
    found = read((2, rings((-2.0, 2.0), (-4.0, 2.0), (-6.0, 2.0))))
    for nth in range(3):
        assert of_ring(found, nth) == [True] * 4
    assert found.walls_mm is not None
    low, high = np.nanmin(found.walls_mm[..., 0], axis=0), np.nanmax(found.walls_mm[..., 1], axis=0)
    # The outer wall of the groove, 4 mm round a square of 12 mm.
    assert low.tolist() == pytest.approx([10.0, 5.0, -6.0], abs=0.3)
    assert high.tolist() == pytest.approx([30.0, 25.0, 0.4], abs=0.3)


def test_a_pass_that_leaves_something_or_is_cut_again_makes_no_wall() -> None:
    left = read((2, rings((-2.0, 2.3), (-2.0, 2.0))))  # the outer wall is of the first alone
    assert left.wall_side is not None
    assert left.wall_side[2:6].tolist() == [2] * 4
    assert left.wall_side[9:13].tolist() == [1] * 4
    again = read(
        (2, rings((-2.0, 2.3), (-4.0, 2.3), (-4.0, 2.0)))
    )  # the last takes the inner wall over its whole height
    assert again.wall_side is not None
    assert again.wall_side[16:20].tolist() == [1] * 4
    assert again.wall_side[2:6].tolist() == again.wall_side[9:13].tolist() == [2] * 4


def test_two_tools_that_reach_one_wall_made_it_together() -> None:
    found = read((2, rings((-2.0, 2.0))), (1, rings((-1.0, 6.0))), (3, rings((-5.0, 2.0))))
    assert of_ring(found, 0) == of_ring(found, 1) == of_ring(found, 2) == [True] * 4
    shallow = read((2, rings((-2.0, 2.0))), (1, rings((-3.0, 6.0))), (3, rings((-5.0, 2.0))))
    assert of_ring(shallow, 0) == [False] * 4  # the wide one took all of it again... where it had anything to take


def test_slivers_of_scrap_have_no_walls() -> None:
    """A strip of 1 mm between two through cuts, and a slug of 8 mm that may be the part for all that anybody knows."""
    strip = [*level(-9.0, (10.0, -5.0), (10.0, 35.0)), *level(-9.0, (15.0, -5.0), (15.0, 35.0))]
    found = read((2, strip))
    assert len(found.pieces) == 3
    assert not found.thin_walls
    assert found.wall_side is not None
    assert (found.wall_side[2], found.wall_side[6]) == (1, 2)
    slug = read((2, square(-9.0, 6.0)))
    assert slug.wall_side is not None
    assert (slug.wall_side[2:6] == 3).all()


# --- floors that meet --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("apart", "meet"), [(0.0, True), (0.015, True), (0.05, False)])
def test_floors_of_two_tools_at_one_height_meet(apart: float, meet: bool) -> None:
    found = read((2, level(-3.0, (10.0, 15.0), (20.0, 15.0))), (3, level(-3.0 + apart, (20.0, 15.0), (30.0, 15.0))))
    assert len(found.floors) == 2
    assert len(found.meetings) == (1 if meet else 0)
    for meeting in found.meetings:
        assert {meeting.first.tool, meeting.second.tool} == {2, 3}
        assert meeting.along_mm == pytest.approx(2 * math.pi, rel=0.2)  # half the rim of the first tool's end


def test_a_tool_called_twice_meets_itself_and_once_does_not() -> None:
    one, other = level(-3.0, (10.0, 15.0), (20.0, 15.0)), level(-3.0, (20.0, 15.0), (30.0, 15.0))
    assert len(read((2, one), (1, level(0.0, (-20.0, 0.0), (-20.0, 1.0))), (2, other)).meetings) == 1
    whole = read((2, [*one, *other]))
    assert (len(whole.meetings), len(whole.floors)) == (0, 1)


def test_a_straight_border_is_as_long_as_it_is() -> None:
    found = read((2, level(-3.0, (-4.0, 12.0), (44.0, 12.0))), (3, level(-3.0, (-4.0, 15.0), (44.0, 15.0))))
    (meeting,) = found.meetings
    assert meeting.along_mm == pytest.approx(40.0, rel=0.06)


# --- thin walls --------------------------------------------------------------------------------------------------------


@given(st.floats(0.8, 2.4), st.floats(0, math.pi), st.floats(0, 0.2))
@settings(deadline=None, max_examples=25)
def test_a_thin_wall_is_as_thick_as_it_was_left(thick: float, angle: float, shift: float) -> None:
    """Two slots side by side at any angle; the material between them stands 6 mm high."""
    field = field_of(BLANK, GRID)
    rows, columns = np.indices(field.top.shape)
    x, y = GRID.x0_mm + (columns + 0.5) * CELL - 20 - shift, GRID.y0_mm + (rows + 0.5) * CELL - 15
    along, aside = x * math.cos(angle) + y * math.sin(angle), y * math.cos(angle) - x * math.sin(angle)
    cut = (np.abs(along) < 6) & (np.abs(aside) > thick / 2) & (np.abs(aside) < thick / 2 + 3)
    swept = made_up(np.where(cut, np.float32(-6), field.top), np.where(cut, np.where(aside > 0, 1, 2), -1))
    (wall,) = surfaces_of(swept, *NO_WAY).thin_walls
    assert wall.thickness_mm == pytest.approx(thick, abs=CELL)
    assert wall.height_mm == pytest.approx(6.0, abs=1e-5)
    assert wall.length_mm == pytest.approx(12.0, abs=1.5)
    assert wall.move == 2
    assert math.hypot(wall.at_mm[0] - 20 - shift, wall.at_mm[1] - 15) < 6.5


NOWHERE = program((2, [((0.0, 0.0, 20.0), True)] * 3))
NO_WAY = (NOWHERE, TOOLS, 3)


def made_up(top: np.ndarray, maker: np.ndarray, before: Field | None = None) -> Swept:
    """A sweep with the heights and makers that are given."""
    start = followed(NOWHERE, before)
    field = frozen_field(start.after.grid, top.astype(np.float32), start.after.bottom_mm)
    return replace(start, after=field, maker=np.ascontiguousarray(maker, dtype=np.int32))


def test_thick_low_and_uncut_walls_are_not_thin() -> None:
    field = field_of(BLANK, GRID)
    columns = np.arange(GRID.columns)[None, :] * CELL + GRID.x0_mm + 0 * field.top
    inside = field.top > NOTHING

    def walls(thick: float, deep: float, maker: int = 1) -> int:
        cut = inside & ((np.abs(columns - 15) < 3) | (np.abs(columns - 21 - thick) < 3))
        swept = made_up(np.where(cut, np.float32(-deep), field.top), np.where(cut, maker, -1))
        return len(surfaces_of(swept, *NO_WAY).thin_walls)

    assert walls(2.0, 6.0) == 1
    assert walls(3.4, 7.0) == 0
    assert walls(2.0, 3.0) == 0
    assert walls(0.4, 0.9) == 0
    assert walls(2.0, 6.0, maker=-1) == 0


def test_a_corner_is_no_thin_wall_and_the_blanks_own_side_is_one_face_of_one() -> None:
    field = field_of(BLANK, GRID)
    rows, columns = np.indices(field.top.shape) * CELL
    corner = (field.top > NOTHING) & ((rows > 15) | (columns > 20))
    swept = made_up(np.where(corner, np.float32(-7), field.top), np.where(corner, 1, -1))
    assert surfaces_of(swept, *NO_WAY).thin_walls == ()
    inner = (field.top > NOTHING) & (np.abs(rows - 15) < 8) & (columns > 2.0) & (columns < 20)
    swept = made_up(np.where(inner, np.float32(-7), field.top), np.where(inner, 2, -1))
    (wall,) = surfaces_of(swept, *NO_WAY).thin_walls
    assert wall.thickness_mm == pytest.approx(1.8, abs=0.2)
    assert wall.move == 2


# --- pieces ------------------------------------------------------------------------------------------------------------


def square(z: float, half: float) -> Way:
    x, y = 20.0, 15.0
    corners = [
        (x - half, y - half),
        (x + half, y - half),
        (x + half, y + half),
        (x - half, y + half),
        (x - half, y - half),
    ]
    return level(z, *corners)


def test_a_slug_is_parted_by_the_move_that_closes_the_cut() -> None:
    cut = square(-9.0, 8.0)
    found = read((2, cut))
    part, slug = found.pieces
    assert slug.volume_mm3 == pytest.approx(12 * 12 * 8.4, rel=0.04)
    assert slug.held_area_mm2 == pytest.approx(144, rel=0.04)
    assert part.freed_by == slug.freed_by == 5
    assert (part.at_rim, slug.at_rim) == (True, False)
    assert (part.lowest_mm, slug.lowest_mm) == (-8.0, -8.0)
    assert math.hypot(slug.at_mm[0] - 20, slug.at_mm[1] - 15) < 9


def test_widening_the_cut_later_frees_nothing_again() -> None:
    cut = square(-9.0, 8.0)
    found = read((2, [*cut, *square(-9.0, 7.0)]))
    assert len(found.pieces) == 2
    assert found.pieces[1].freed_by == 5


def test_a_skin_or_an_open_cut_frees_nothing() -> None:
    for cut in (square(-7.8, 8.0), square(-9.0, 8.0)[:-2]):
        (piece,) = read((2, cut)).pieces
        assert piece.at_rim
        assert piece.freed_by == -1


def test_nothing_left_is_no_piece_and_crumbs_are_none() -> None:
    grid = Grid(0, 0, 0.5, 8, 8, 0.0)
    top = np.full((8, 8), NOTHING, np.float32)
    maker = np.zeros((8, 8), np.int32)
    assert pieces_left(frozen_field(grid, top, -2.0), maker) == ()
    top[1, 1] = top[4:7, 4:7] = 0.0
    (piece,) = pieces_left(frozen_field(grid, top, -2.0), maker)
    assert piece.volume_mm3 == pytest.approx(9 * 0.25 * 2)


def _parted_by_hand(solid: np.ndarray, maker: np.ndarray) -> list[int]:
    """For each piece the last move before which it still hung on another, found by laying every move back in turn."""
    label, count = ndimage.label(solid)
    freed = [-1] * count
    for move in sorted(set(maker[~solid & (maker >= 0)].tolist())):
        whole, _ = ndimage.label(solid | (~solid & (maker >= move)))
        homes = [whole[label == piece + 1][0] for piece in range(count)]
        for piece in range(count):
            if homes.count(homes[piece]) > 1:
                freed[piece] = move
    return freed


@given(st.integers(0, 2**32 - 1))
@settings(deadline=None, max_examples=40)
def test_parting_is_what_laying_cuts_back_shows(seed: int) -> None:
    rng = np.random.default_rng(seed)
    solid = rng.random((14, 17)) < rng.uniform(0.3, 0.7)
    maker = rng.integers(-1, 12, solid.shape).astype(np.int32)
    grid = Grid(0, 0, 1.0, 17, 14, 0.0)
    found = pieces_left(frozen_field(grid, np.where(solid, np.float32(0), NOTHING), -3.0), maker)
    label, count = ndimage.label(solid)
    assert len(found) == count
    wanted = _parted_by_hand(solid, maker)
    for piece in found:
        row, column = int(piece.at_mm[1]), int(piece.at_mm[0])
        assert piece.volume_mm3 == pytest.approx(3.0 * (label == label[row, column]).sum())
        assert piece.freed_by == wanted[label[row, column] - 1]


@given(st.integers(0, 2**32 - 1))
@settings(deadline=None, max_examples=30)
def test_regions_are_those_of_a_general_library(seed: int) -> None:
    rng = np.random.default_rng(seed)
    key = rng.integers(-1, 3, (13, 19)).astype(np.int32)
    label, count = regions(key)
    assert count == sum(ndimage.label(key == one)[1] for one in range(3))
    for one in range(3):
        theirs, _ = ndimage.label(key == one)
        pairs = set(zip(label[key == one].tolist(), theirs[key == one].tolist(), strict=True))
        assert len(pairs) == len({a for a, _ in pairs}) == len({b for _, b in pairs})
    assert not label[key < 0].any()


def test_bodies_over_one_another_are_two_pieces_unless_something_joins_them() -> None:
    grid = Grid(0, 0, 1.0, 9, 7, 0.0)
    top = np.zeros((7, 9), np.float32)
    gaps = np.array([[r, k, -4.0, -2.0] for r in range(7) for k in range(9)])
    maker = np.full((7, 9), -1, np.int32)
    lid, base = pieces_left(frozen_field(grid, top, -7.0, gaps), maker)[::-1]
    assert (lid.volume_mm3, base.volume_mm3) == (63 * 2, 63 * 3)
    assert (lid.lowest_mm, base.lowest_mm) == (-2.0, -7.0)
    assert (lid.held_area_mm2, base.held_area_mm2) == (0.0, 63.0)
    (joined,) = pieces_left(frozen_field(grid, top, -7.0, gaps[1:]), maker)
    assert joined.volume_mm3 == 63 * 5 + 2
    cut = top.copy()
    cut[:, 4] = -3.0  # a cut into the hollow: what stood over it is gone
    left, right, base = pieces_left(frozen_field(grid, cut, -7.0, gaps), maker)[::-1]
    assert (left.volume_mm3, right.volume_mm3, base.volume_mm3) == (28 * 2, 28 * 2, 63 * 3)


# --- clean-up ----------------------------------------------------------------------------------------------------------


def untouched(way: Way, by: Faces | None = None, tool: int = 1) -> float:
    pieces = program((tool, way))
    field = field_of(grown(BLANK, by or Faces()), GRID)
    return untouched_top_mm2(followed(pieces, field), pieces, TOOLS)


def test_facing_cleans_up_and_a_low_blank_is_missed() -> None:
    assert untouched(facing(0.0)) == 0.0
    assert untouched(facing(0.0), Faces(z_high=-0.5)) == pytest.approx(40 * 30, rel=0.02)


def test_strips_between_the_passes_are_told() -> None:
    assert untouched(facing(0.0, step=12.6)) == pytest.approx(2 * 0.6 * 40, rel=0.25)


def test_a_pocket_or_a_contour_is_no_facing() -> None:
    assert untouched(square(0.0, 8.0)) == 0.0
    around = level(-0.5, (-6.0, -6.0), (46.0, -6.0), (46.0, 36.0), (-6.0, 36.0), (-6.0, -6.0))
    assert untouched(around) == 0.0
    assert untouched(facing(-5.0)) == 0.0
    assert untouched(level(0.0, (10.0, 15.0), (30.0, 15.0)), tool=4) == 0.0


# --- the kernels -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_compiled_is_plain(seed: int) -> None:
    rng = np.random.default_rng(seed)
    grid = Grid(0, 0, 0.5, 26, 22, 0.0)
    field = frozen_field(grid, np.zeros((22, 26), np.float32), -6.0)
    ways: Way = []
    for _ in range(5):
        z = float(rng.choice([-2.0, -4.0, -7.0]))
        ends = [(*rng.uniform(0, 12, 2), z + (rng.random() < 0.3) * 0.7) for _ in range(2)]
        ways += [(end, False) for end in ends]
    pieces = program((2, ways), (4, ways[::-1]))
    swept = followed(pieces, field)
    fast = surfaces_of(swept, pieces, TOOLS, len(pieces))
    with pytest.MonkeyPatch.context() as patch:
        slow_kernels = plain(kernels)
        for module in (surfaces, bodies_left, wall_makers):
            patch.setattr(module, "kernels", slow_kernels)
        slow = surfaces_of(swept, pieces, TOOLS, len(pieces))
    for name in ("wall_moves", "floor_moves", "cusp_moves", "cusp_mm", "wall_side"):
        assert np.array_equal(getattr(fast, name), getattr(slow, name)), name
    assert np.array_equal(fast.walls_mm, slow.walls_mm, equal_nan=True)
    assert (fast.floors, fast.meetings, fast.pieces) == (slow.floors, slow.meetings, slow.pieces)
    assert fast.thin_walls == slow.thin_walls
    for kernel in kernels.KERNELS:
        assert len(kernel.signatures) <= 1


def test_ways_leave_ghosts_out_and_hold_the_lowest_tip() -> None:
    pieces = program((2, [((1.0, 0.0, 5.0), True), ((1.0, 0.0, -2.0), False), ((9.0, 0.0, -1.0), False)]))
    pieces = replace(pieces, ghost=np.array([True, False, False]))
    ways = ways_of(pieces, 4, 0.4)
    assert ways.first.tolist() == [0, 0, 1, 2, 2]
    assert ways.tip_mm[1:3].tolist() == pytest.approx([-2.4, -2.4])
    assert np.isnan(ways.tip_mm[[0, 3]]).all()
    assert ways.tool.tolist() == [-1, 2, 2, -1]


def test_a_lid_that_an_undercut_parts_is_freed_by_the_last_undercut() -> None:
    grid = Grid(0, 0, 1.0, 9, 7, 0.0)
    whole = frozen_field(grid, np.zeros((7, 9), np.float32), -7.0)
    gaps = np.array([[r, k, -4.0, -2.0] for r in range(7) for k in range(9)])
    parted = pieces_left(frozen_field(grid, whole.top, -7.0, gaps), np.full((7, 9), -1, np.int32))
    assert [piece.freed_by for piece in bodies_left.parted_by_undercut(parted, whole, 12)] == [12, 12]
    assert bodies_left.parted_by_undercut(parted, whole, -1) == parted
    two = frozen_field(grid, whole.top, -7.0, gaps)
    assert bodies_left.parted_by_undercut(parted, two, 12) == parted
