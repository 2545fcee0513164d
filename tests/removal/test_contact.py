"""Contact: the kernel against looking at every cell, the bracket against exact shapes, and what is asked of which move."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, contains_xy, distance, points

from firstoff.facts.assembly import Assembly, Part
from firstoff.path.pieces import Pieces
from firstoff.path.stations import stations
from firstoff.removal import _kernels as kernels
from firstoff.removal import contact as c
from firstoff.removal.bodies import bodies_of, part_rows
from firstoff.removal.field import NOTHING, Field, Grid
from firstoff.removal.refining import hangs_on_grid, refined
from firstoff.removal.stock import BoxBlank, Extent, field_of, frozen_field
from firstoff.removal.sweep import sweep
from firstoff.removal.swept import Contact, Swept
from tests.motion import twin
from tests.removal import bodies_by_hand as hand


def found(pieces: Pieces, tool: Assembly, field: Field, step: float, cap: float = c.CAP_MM) -> list[Contact]:
    asked = c.ask(pieces, {1: tool})
    return list(c.field_contacts(stations(pieces, step, chunk=7), asked, field, "stock", cap))


def of_part(contacts: list[Contact], part: Part, rapid: bool) -> list[Contact]:
    return [one for one in contacts if one.part is part and one.rapid is rapid]


# ---- every cell looked at -------------------------------------------------------------------------------------------


DISCS_MM = 0.01
"""What is left between a slope and the discs that the oracle makes of it."""


def _gap_of_profile(tool: Assembly, part: Part, aside: np.ndarray, above: np.ndarray) -> np.ndarray:
    """The gap by its definition, the profile cut into very many discs."""
    least = np.full(aside.shape, np.inf)
    for r0, z0, r1, z1, _ in part_rows(tool, part):
        for share in np.linspace(0.0, 1.0, 1 if r0 == r1 else 400):
            r, z = r0 + share * (r1 - r0), z0 + share * (z1 - z0)
            least = np.minimum(least, np.maximum(aside - r, above + z))
    return least


def _by_hand(pieces: Pieces, tool: Assembly, field: Field, step: float) -> dict[tuple[Part, int], tuple[float, float]]:
    """(least gap, least gap of the grown and swept body) of each part and way of going, from every cell at every station."""
    grid, bodies, made = field.grid, bodies_of([tool]), c.ask(pieces, {1: tool}).made
    x = grid.x0_mm + (np.arange(grid.columns) + 0.5) * grid.cell_mm
    y = grid.y0_mm + (np.arange(grid.rows) + 0.5) * grid.cell_mm
    height = field.top.astype(np.float64) + grid.z0_mm
    least: dict[tuple[Part, int], tuple[float, float]] = {}
    for chunk in stations(pieces, step):
        for i in range(len(chunk)):
            tip, rapid = chunk.tip_mm[i], bool(chunk.rapid[i])
            if not made[chunk.piece[i]]:
                continue  # straight up: it was held against where it comes from
            former = tip - chunk.way[i].astype(np.float64) * float(chunk.step_mm[i])
            line = LineString([former[:2], tip[:2]]) if np.linalg.norm((tip - former)[:2]) > 1e-9 else Point(tip[:2])
            aside = np.hypot(y[:, None] - tip[1], x - tip[0]) - grid.cell_mm / 2
            away = distance(line, points(*np.meshgrid(x, y)))
            swept = away - grid.cell_mm / 2 - grid.half_diagonal_mm
            for part in Part:
                asked = kernels.PROBED_AT_RAPID if rapid else kernels.PROBED_AT_FEED
                cap = c.touch_mm(grid) if bodies.slim[part] else c.CAP_MM
                if not int(bodies.parts[part, kernels.PART_ASKED]) & asked:
                    continue
                gap = float(_gap_of_profile(tool, part, aside, tip[2] - height).min())
                grown = float(_gap_of_profile(tool, part, swept, min(tip[2], former[2]) - height).min())
                key = part, int(made[chunk.piece[i]])
                before = least.get(key, (cap, cap))
                least[key] = (min(before[0], gap), min(before[1], grown))
    return least


mills = st.sampled_from(
    [
        hand.flat_mill(1.0, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0),
        hand.flat_mill(0.5, 2.0, 0.5, 2.5, 1.2, 4.0, 1.5),
        hand.assembly(
            hand.profile((1.0, 1.0, Part.EDGE), (1.0, 2.0, Part.EDGE), (2.0, 3.5, Part.SHANK)), 2.0, "tapered"
        ),
    ]
)
coordinates = st.floats(-2.0, 9.0)
ways = st.lists(
    st.tuples(st.tuples(coordinates, coordinates, st.floats(-3.0, 3.0)), st.booleans()), min_size=1, max_size=3
)


@given(mills, ways, st.integers(0, 2**31))
@settings(deadline=None, max_examples=40)
def test_nothing_is_passed_over(tool: Assembly, way: list[tuple[hand.Point, bool]], seed: int) -> None:
    rng = np.random.default_rng(seed)
    grid = hand.grid(0.4, 19, 18, z0=1.0)
    top = np.where(rng.random((18, 19)) < 0.3, NOTHING, -6.0 * rng.random((18, 19)) ** 4).astype(np.float32)
    field = frozen_field(grid, top, -9.0)
    pieces = hand.lines(*way, start=(-2.0, 3.0, 3.0))
    made = dict(zip(pieces.move.tolist(), c.ask(pieces, {1: tool}).made.tolist(), strict=True))
    told = {(one.part, made[one.move]): one for one in reversed(found(pieces, tool, field, 0.4))}
    for key, (gap, grown) in _by_hand(pieces, tool, field, 0.4).items():
        cap = c.touch_mm(grid) if bodies_of([tool]).slim[key[0]] else c.CAP_MM
        if gap < cap - DISCS_MM:
            assert told[key].gap_mm == pytest.approx(gap, abs=DISCS_MM)
            assert told[key].gap_mm - told[key].u_grid_mm * math.sqrt(3) <= grown + DISCS_MM
        elif gap > cap + DISCS_MM:
            assert key not in told


# ---- the bracket against exact shapes ------------------------------------------------------------------------------


def _wall(grid: Grid, angle: float, offset: float, height: float) -> Field:
    """Material on one side of a straight upright wall: cells whose centre lies within."""
    x = grid.x0_mm + (np.arange(grid.columns) + 0.5) * grid.cell_mm
    y = grid.y0_mm + (np.arange(grid.rows) + 0.5) * grid.cell_mm
    away = x * math.cos(angle) + y[:, None] * math.sin(angle)
    return frozen_field(grid, np.where(away > offset, np.float32(height - grid.z0_mm), NOTHING), -50.0)


@given(
    st.floats(0, 2 * math.pi),
    st.floats(-0.45, 0.45),
    st.tuples(st.floats(0, 1), st.floats(0, 1)),
    st.floats(0, 2 * math.pi),
    st.booleans(),
)
@settings(deadline=None, max_examples=150)
def test_the_bracket_holds_the_true_gap_to_a_wall(
    angle: float, gap: float, shift: tuple[float, float], heading: float, rapid: bool
) -> None:
    """A disc of 5 mm passes a wall; the exact gap is a point's distance to a line. A move ends 3 mm below the wall's top."""
    grid = hand.grid(0.25, 80, 80, -10.0 + shift[0], -10.0 + shift[1])
    field = _wall(grid, angle, 5.0 + gap, 0.0)
    tool = hand.flat_mill(0.5, 1.0, 0.5, 2.0, 5.0, 40.0, 6.0)
    end = np.array([0.0, 0.0, -5.0])
    start = end - 3.0 * np.array([math.cos(heading), math.sin(heading), 0.0])
    truth = gap - max(0.0, -3.0 * math.cos(heading - angle))  # it may come nearer at its start than at its end
    [told] = of_part(found(hand.lines((tuple(end), rapid), start=tuple(start)), tool, field, 0.25), Part.HOLDER, rapid)
    truth = min(gap, gap + 3.0 * math.cos(heading - angle))
    half = told.u_grid_mm * math.sqrt(3)
    if truth > -3.0 + grid.half_diagonal_mm:
        assert not told.upward
        assert told.gap_mm - half <= truth + 1e-6
        if truth == gap:
            assert told.gap_mm + half >= truth - 1e-6
    if truth >= 0:
        assert c.certain(told) is not c.Certainty.HIT
    if truth <= 0:
        assert c.certain(told) is not c.Certainty.CLEAR


@given(st.floats(0, 2 * math.pi), st.floats(3.0, 8.0), st.tuples(st.floats(0, 1), st.floats(0, 1)), st.integers(3, 6))
@settings(deadline=None, max_examples=60)
def test_the_bracket_holds_the_true_gap_to_a_post(
    angle: float, away: float, shift: tuple[float, float], corners: int
) -> None:
    """A disc of 4 mm comes down beside a post with corners; the exact gap is shapely's distance."""
    at = (away * math.cos(angle), away * math.sin(angle))
    post = Polygon(
        [(at[0] + 1.3 * math.cos(t), at[1] + 1.3 * math.sin(t)) for t in 2 * math.pi * np.arange(corners) / corners]
    )
    grid = hand.grid(0.2, 110, 110, -11.0 + shift[0], -11.0 + shift[1])
    x, y = (c0 + (np.arange(110) + 0.5) * 0.2 for c0 in (grid.x0_mm, grid.y0_mm))
    inside = contains_xy(post, *np.meshgrid(x, y))
    field = frozen_field(grid, np.where(inside, np.float32(0.0), NOTHING), -50.0)
    tool = hand.flat_mill(0.5, 1.0, 0.5, 2.0, 4.0, 40.0, 4.0)
    told = of_part(
        found(hand.lines(((0.0, 0.0, -20.0), True), start=(0.0, 0.0, 9.0)), tool, field, 0.2), Part.HOLDER, True
    )
    truth = post.distance(Point(0, 0)) - 4.0
    if truth > 0:
        assert not told or c.certain(told[0]) is not c.Certainty.HIT
    if truth < 0:
        assert told
        assert c.certain(told[0]) is not c.Certainty.CLEAR
        if post.boundary.distance(Point(0, 0)) < 4.0 - 1.5 * grid.cell_mm and post.area > 1:
            assert c.certain(told[0]) is c.Certainty.HIT


def test_the_doubt_of_a_sideways_gap_is_the_cell_over_root_6() -> None:
    field = _wall(hand.grid(0.2, 60, 60, -6.03, -6.07), 0.0, 4.5, 0.0)
    tool = hand.flat_mill(0.5, 1.0, 0.5, 2.0, 4.0, 40.0, 4.0)
    [told] = of_part(
        found(hand.lines(((0.0, 0.0, -20.0), True), start=(0.0, 0.0, 9.0)), tool, field, 0.2), Part.HOLDER, True
    )
    assert told.u_grid_mm == pytest.approx(0.2 / math.sqrt(6), rel=1e-9)
    assert told.gap_mm == pytest.approx(0.5, abs=0.15)


def test_the_grid_brings_no_doubt_to_a_gap_over_a_level_top() -> None:
    field = frozen_field(hand.grid(0.3, 70, 70, -10.0, -10.0), np.zeros((70, 70), np.float32), -50.0)
    [told, *_] = of_part(
        found(hand.lines(((5.0, 0.0, 1.25), True), start=(0.0, 0.0, 1.25)), hand.flat_mill(), field, 0.3),
        Part.EDGE,
        True,
    )
    assert told.gap_mm == pytest.approx(1.25)
    assert told.upward
    assert told.u_grid_mm == pytest.approx(0.0)


@given(st.floats(-50, 50), st.floats(-50, 50), st.floats(-50, 50))
@settings(deadline=None, max_examples=20)
def test_moving_everything_moves_no_gap(x: float, y: float, z: float) -> None:
    rng = np.random.default_rng(3)
    top = -5.0 * rng.random((30, 30)).astype(np.float32)
    way: list[tuple[hand.Point, bool]] = [((4.0, 5.0, -2.0), True), ((9.0, 2.0, -3.0), False)]
    tool = hand.flat_mill(1.0, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0)

    def told(dx: float, dy: float, dz: float) -> list[Contact]:
        field = frozen_field(hand.grid(0.4, 30, 30, dx, dy, dz), top, -9.0)
        moved: list[tuple[hand.Point, bool]] = [((p[0] + dx, p[1] + dy, p[2] + dz), rapid) for p, rapid in way]
        return found(hand.lines(*moved, start=(dx, dy, 3.0 + dz)), tool, field, 0.4)

    for here, there in zip(told(0.0, 0.0, 0.0), told(x, y, z), strict=True):
        assert here.gap_mm == pytest.approx(there.gap_mm, abs=1e-6)
        assert here.u_grid_mm == pytest.approx(there.u_grid_mm, abs=1e-6)
        assert (here.move, here.part, here.upward) == (there.move, there.part, there.upward)


# ---- on the way through the stock ----------------------------------------------------------------------------------


BLANK = BoxBlank(Extent(0.0, 40.0, 0.0, 24.0, -40.0, 0.0))


def block(cell: float = 0.2, width: float = 40.0, depth: float = 24.0, z_low: float = -40.0) -> Field:
    """A blank of 40 × 24 mm with its top at 0 and its corner at 0, 0; the grid is a little off, as grids are."""
    columns, rows = math.ceil(width / cell) + 3, math.ceil(depth / cell) + 3
    grid = hand.grid(cell, columns, rows, -1.382 * cell, -1.382 * cell)
    x = grid.x0_mm + (np.arange(columns) + 0.5) * cell
    y = grid.y0_mm + (np.arange(rows) + 0.5) * cell
    inside = ((y > 0) & (y < depth))[:, None] & (x > 0) & (x < width)
    return frozen_field(grid, np.where(inside, np.float32(0.0), NOTHING), z_low)


def followed(pieces: Pieces, tools: dict[int, Assembly], field: Field, threads: int = 1, chunk: int = 100_000) -> Swept:
    count = int(pieces.move.max()) + 1
    step = field.grid.cell_mm
    return sweep(field, stations(pieces, step, chunk=chunk), tools, count, asked=c.ask(pieces, tools), threads=threads)


def touching(swept: Swept) -> list[tuple[int, Part, bool]]:
    return [(one.move, one.part, one.rapid) for one in swept.contacts if c.certain(one) is c.Certainty.HIT]


def test_a_rapid_touches_in_the_midst_of_its_way() -> None:
    """Both ends are in air beside the block; between them the tool goes 2 mm deep through it."""
    way = [((-6.0, 12.0, -2.0), True), ((46.0, 12.0, -2.0), True), ((46.0, 12.0, 20.0), True)]
    swept = followed(hand.lines(*way, start=(-6.0, 12.0, 20.0)), {1: hand.flat_mill()}, block())
    assert touching(swept) == [(1, Part.EDGE, True)]
    one = min((one for one in swept.contacts if one.part is Part.EDGE), key=lambda one: one.gap_mm)
    assert one.gap_mm == pytest.approx(-2.0, abs=1e-6)
    assert one.upward
    assert one.fresh


def test_a_rapid_touches_on_a_diagonal() -> None:
    """From above one side to below the other: an edge of the block is met, neither end is inside."""
    way = [((46.0, 12.0, 3.0 - 26.0 * 4.5 / 21.5), True), ((46.0, 12.0, 20.0), True)]
    swept = followed(hand.lines(*way, start=(20.0, 12.0, 3.0)), {1: hand.flat_mill()}, block())
    assert touching(swept) == [(0, Part.EDGE, True)]
    [one] = [one for one in swept.contacts if one.part is Part.EDGE]
    # The block ends at X 40. With the axis at 41.5 the tip is 1.5 below its top, and its edge stands 3 − 1.5 inside: there it is deepest.
    assert one.gap_mm == pytest.approx(-1.5, abs=0.2)


def test_the_dog_leg_of_a_rapid_is_looked_at_and_cuts_nothing() -> None:
    straight = hand.lines(((46.0, 30.0, -2.0), True), start=(-6.0, 30.0, -2.0))
    leg = hand.lines(((20.0, 12.0, -2.0), True), ((46.0, 30.0, -2.0), True), start=(-6.0, 30.0, -2.0), ghost=True)
    leg = replace(leg, move=hand.lines(((0.0, 0.0, 0.0), True), ((0.0, 0.0, 0.0), True), start=(0, 0, 0)).move * 0)
    swept = followed(hand.joined([straight, leg]), {1: hand.flat_mill()}, block())
    assert touching(swept) == [(0, Part.EDGE, True)]
    assert np.array_equal(swept.before.top, swept.after.top)


def test_a_contact_is_marked_once() -> None:
    """The second rapid goes where the first has gone; a third one beside it touches anew."""
    there, back = ((46.0, 12.0, -2.0), True), ((-6.0, 12.0, -2.0), True)
    beside = [((-6.0, 16.0, -2.0), True), ((46.0, 16.0, -2.0), True)]
    pieces = hand.lines(back, there, back, *beside, start=(-6.0, 12.0, 20.0))
    assert touching(followed(pieces, {1: hand.flat_mill()}, block())) == [(1, Part.EDGE, True), (4, Part.EDGE, True)]


def test_the_shank_alone_touches() -> None:
    """A shank of 8 mm on an edge of 6 mm, at the side of the block, 10 mm deep: the flute ends 8 mm over the tip."""
    tool = hand.flat_mill(shank=4.0)
    way = [((-8.0, -3.0, -10.0), False), ((20.0, -3.0, -10.0), False)]
    swept = followed(hand.lines(*way, start=(-20.0, -3.0, -10.0)), {1: tool}, block())
    assert touching(swept) == [(1, Part.SHANK, False)]
    [one] = [one for one in swept.contacts if c.certain(one) is c.Certainty.HIT]
    assert one.gap_mm == pytest.approx(-1.0, abs=0.15)
    assert not one.upward


def test_the_nose_alone_touches() -> None:
    """The edge stays 10 mm beside the block, the holder too; the nose above is wider."""
    tool = hand.flat_mill(nose_at=25.0, nose=30.0)
    way = [((-14.0, 12.0, -26.0), False), ((-14.0, 20.0, -26.0), False)]
    swept = followed(hand.lines(*way, start=(-40.0, 12.0, -26.0)), {1: tool}, block())
    assert {part for _, part, _ in touching(swept)} == {Part.NOSE}
    worst = min(swept.contacts, key=lambda one: one.gap_mm)
    assert worst.gap_mm == pytest.approx(-1.0, abs=1e-6)
    assert worst.upward
    assert [one.part for one in swept.contacts if one.part is Part.HOLDER]  # it passes at 4 mm and less


def peck(depths: list[float], x: float = 10.0, y: float = 10.0) -> list[tuple[hand.Point, bool]]:
    way: list[tuple[hand.Point, bool]] = [((x, y, 2.0), True)]
    for n, depth in enumerate(depths):
        if n:
            way.append(((x, y, depths[n - 1] + 0.5), True))
        way += [((x, y, depth), False), ((x, y, 2.0), True)]
    return way


def drill(radius: float = 1.5) -> Assembly:
    e = Part.EDGE
    segments = hand.profile((radius, radius * 0.6, e), (radius, 30.0, e), (radius, 60.0, Part.SHANK))
    return hand.assembly(segments, 2 * radius, "drill")


def test_a_peck_comes_back_through_its_own_hole() -> None:
    swept = followed(hand.lines(*peck([-3.0, -6.0, -9.0]), start=(10.0, 10.0, 20.0)), {1: drill()}, block(0.1))
    assert all(c.certain(one) is c.Certainty.CLEAR for one in swept.contacts)
    [one] = [one for one in swept.contacts if one.rapid]
    assert one.gap_mm == pytest.approx(2.0)  # over the top, on the way to the hole


def test_a_rapid_down_where_nothing_was_drilled_touches() -> None:
    way = [*peck([-3.0, -6.0]), ((10.0, 10.0, -8.0), True), ((10.0, 10.0, 2.0), True), ((20.0, 10.0, 2.0), True)]
    way += [((20.0, 10.0, -1.0), True)]
    swept = followed(hand.lines(*way, start=(10.0, 10.0, 20.0)), {1: drill()}, block(0.1))
    assert touching(swept) == [(6, Part.EDGE, True), (9, Part.EDGE, True)]
    # A cell 2 mm over the point gets out of the cone (0.6 high, 1 wide) by 2/1.6 sideways or upward.
    assert min(one.gap_mm for one in swept.contacts if one.move == 6) == pytest.approx(-2.0 / 1.6, abs=0.05)


def test_another_tools_hole_is_no_own_hole() -> None:
    """A wider drill at rapid into a narrow hole meets its wall, one of the same size does not for certain."""
    first = hand.lines(*peck([-6.0]), start=(10.0, 10.0, 20.0))
    then = hand.lines(((10.0, 10.0, -4.0), True), start=(10.0, 10.0, 20.0), tool=2, first_move=10)
    pieces = hand.joined([first, then])
    wide = followed(pieces, {1: drill(), 2: drill(2.0)}, block(0.1))
    assert touching(wide) == [(10, Part.EDGE, True)]
    assert min(one.gap_mm for one in wide.contacts if one.tool == 2) == pytest.approx(-0.5, abs=0.11)
    same = followed(pieces, {1: drill(), 2: drill()}, block(0.1))
    [one] = [one for one in same.contacts if one.tool == 2]
    assert c.certain(one) is c.Certainty.WITHIN_GRID


def slot(depths: list[float]) -> Pieces:
    """A slot along X in levels, entered from the side."""
    way: list[tuple[hand.Point, bool]] = []
    for depth in depths:
        way += [
            ((-6.0, 12.0, depth), True),
            ((30.0, 12.0, depth), False),
            ((30.0, 12.0, 5.0), True),
            ((-6.0, 12.0, 5.0), True),
        ]
    return hand.lines(*way, start=(-6.0, 12.0, 5.0))


def necked(neck: float) -> Assembly:
    e, n, h = Part.EDGE, Part.NECK, Part.HOLDER
    points = ((3.0, 0.0, e), (3.0, 5.0, e), (neck, 5.0, n), (neck, 25.0, n), (8.0, 25.0, h), (8.0, 50.0, h))
    return hand.assembly(hand.profile(*points), 6.0, usable=5.0)


@pytest.mark.parametrize("neck", [2.0, 2.8, 3.0])
def test_what_stands_before_the_neck_touches_it(neck: float) -> None:
    """A slot of 8 mm in one pass with an edge of 5 mm: the neck is driven into it. In levels of 4 mm it is not."""
    assert touching(followed(slot([-8.0]), {1: necked(neck)}, block())) == [(1, Part.NECK, False)]
    levels = followed(slot([-4.0, -8.0]), {1: necked(neck)}, block())
    assert not [one for one in levels.contacts if one.part is Part.NECK]  # its own walls are no matter


def test_a_retract_meets_no_wall_that_the_tool_has_made() -> None:
    levels = followed(slot([-2.0, -4.0]), {1: hand.flat_mill()}, block())
    assert not touching(levels)
    assert min(one.gap_mm for one in levels.contacts) > -0.5 * 0.2 - 1e-6


@pytest.mark.parametrize("chunk", [100_000, 37])
def test_two_threads_tell_what_one_tells(chunk: int) -> None:
    way = [
        ((-6.0, 12.0, -2.0), True),
        ((46.0, 14.0, -2.0), True),
        ((46.0, 20.0, -9.0), False),
        ((-6.0, 3.0, -12.0), False),
    ]
    way += [((30.0, 30.0, 1.0), True), ((3.0, 3.0, -3.0), True)]
    pieces = hand.lines(*way, start=(-6.0, 12.0, 20.0))
    tools = {1: hand.flat_mill(shank=4.0, overhang=9.0)}
    one, two = (followed(pieces, tools, block(), threads, chunk).contacts for threads in (1, 2))
    assert one == two
    assert len(one) > 3


# ---- looked at again -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gap", [-0.06, -0.03, 0.02, 0.09])
def test_finer_cells_settle_what_hangs_on_the_grid(gap: float) -> None:
    """A wall cut by one tool is passed at rapid by another one whose axis is `gap` further off than its radius."""
    first = hand.lines(
        ((-6.0, 0.0, -5.0), True), ((50.0, 0.0, -5.0), False), ((50.0, 0.0, 9.0), True), start=(-6.0, 0.0, 9.0)
    )
    y = 3.0 - 2.0 - gap  # the first tool leaves a wall at Y 3
    then = hand.lines(((30.0, y, 9.0), True), ((30.0, y, -4.0), True), start=(30.0, y, 20.0), tool=2, first_move=3)
    pieces, tools = hand.joined([first, then]), {1: hand.flat_mill(), 2: hand.flat_mill(2.0, 8.0, 2.0)}
    field = block(0.3)
    coarse = followed(pieces, tools, field).contacts
    [was] = [one for one in coarse if one.tool == 2 and one.part is Part.EDGE]
    assert c.certain(was) is c.Certainty.WITHIN_GRID
    fine = refined(coarse, (0.0,), lambda grid: field_of(BLANK, grid), field.grid, pieces, tools)
    [now] = [one for one in fine if one.tool == 2 and one.part is Part.EDGE]
    half = now.u_grid_mm * math.sqrt(3)
    assert half == pytest.approx(was.u_grid_mm * math.sqrt(3) / 4, rel=1e-6)
    assert abs(now.gap_mm - gap) <= half
    assert not now.fresh  # the top beside the wall is the blank's, the wall is not
    assert [one for one in fine if one.tool != 2] == [
        one for one in coarse if one.tool != 2 and not hangs_on_grid(one, (0.0,))
    ]


def test_only_so_many_are_looked_at_again() -> None:
    pieces = hand.lines(((46.0, 12.0, 1.0), True), start=(-6.0, 12.0, 1.0))
    tools = {1: hand.flat_mill()}
    coarse = followed(pieces, tools, block(0.3)).contacts
    told = tuple(replace(one, gap_mm=0.0, u_grid_mm=0.1) for one in coarse for _ in range(3))
    again = refined(told, (0.0,), lambda grid: field_of(BLANK, grid), block(0.3).grid, pieces, tools, most=2)
    assert sum(one != was for one, was in zip(again, told, strict=True)) == 2


# ---- the kernels ---------------------------------------------------------------------------------------------------


def test_compiled_and_plain_tell_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(11)
    field = frozen_field(hand.grid(0.5, 14, 13), (-4.0 * rng.random((13, 14)) ** 3).astype(np.float32), -9.0)
    pieces = hand.lines(((5.0, 4.0, -2.0), True), ((2.0, 6.0, -2.5), False), start=(-2.0, 3.0, 1.0))
    tool = hand.flat_mill(0.8, 1.0, 1.2, 2.0, 2.5, 3.0, 4.0)
    compiled = found(pieces, tool, field, 0.5)
    monkeypatch.setattr(c, "k", twin.plain(kernels))
    assert found(pieces, tool, field, 0.5) == compiled
    assert len(compiled) > 4


def test_each_kernel_is_compiled_for_one_kind_of_arrays() -> None:
    followed(hand.lines(((46.0, 12.0, -2.0), True), start=(-6.0, 12.0, -2.0)), {1: hand.flat_mill()}, block())
    found(hand.lines(((4.0, 4.0, 1.0), True), start=(0.0, 0.0, 1.0)), hand.flat_mill(), block(1.0), 0.5)
    for kernel in (
        kernels.pair_up_probes,
        kernels.probe_tile,
        kernels.probe_solid,
        kernels.cover_triangles,
        kernels.work_tile,
    ):
        assert len(kernel.signatures) <= 1, kernel.__name__


def test_a_way_down_to_the_stock_hides_no_way_past_it() -> None:
    """Down to 0.5 mm over the block, then past its side 1.5 mm away: the nearer one is meant to end there, the other is told as well."""
    way = [
        ((20.0, 12.0, 0.5), True),
        ((20.0, 12.0, 20.0), True),
        ((-4.5, 12.0, 20.0), True),
        ((-4.5, 12.0, -2.0), True),
    ]
    way += [((-4.5, 18.0, -2.0), True)]
    swept = followed(hand.lines(*way, start=(20.0, 12.0, 20.0)), {1: hand.flat_mill()}, block())
    told = {one.move: one.gap_mm for one in swept.contacts if one.part is Part.EDGE and one.rapid}
    assert told[0] == pytest.approx(0.5, abs=0.01)
    assert told[4] == pytest.approx(1.5, abs=0.1)
