"""Following tools through a field: every cell by hand, what is kept whatever the order and number of threads, and what each move is told."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.errors import Interrupted
from firstoff.facts.assembly import Assembly
from firstoff.path.pieces import Stations
from firstoff.removal import sweep as room
from firstoff.removal.field import LEAST_CUT_MM, NOTHING, Field
from firstoff.removal.profile import cutter, tables
from firstoff.removal.sweep import sweep
from firstoff.removal.swept import Engagement, PerMove, Swept
from tests.motion import twin
from tests.removal import cutting as by

TOOLS = {1: by.flat(), 2: by.ball(4.0), 3: by.bull(5.0, 1.0), 4: by.cone(45, 0.4, 5.0), 5: by.flat(4.0, dead=0.8)}
LEFT, RIGHT, FLOOR = 1, 2, 4


def run(
    field: Field, *parts: Stations, tools: dict[int, Assembly] = TOOLS, threads: int = 1
) -> tuple[Swept, list[Engagement]]:
    told: list[Engagement] = []
    moves = 1 + max(int(one.move.max()) for one in parts)
    return sweep(field, parts, tools, moves, engagement=told.append, threads=threads), told


def wandering(seed: int, moves: int = 18, numbers: tuple[int, ...] = (1, 2, 3, 4, 5), step: float = 0.25) -> Stations:
    """A way in and out of a small block, with tools in turn, some moves at rapid."""
    rng = np.random.default_rng(seed)
    parts, at = [], rng.uniform((-3, -3, -3), (15, 12, 2))
    for k in range(moves):
        to = rng.uniform((-3, -3, -4.5), (15, 12, 1))
        if k % 3 == 2:
            to[:2] = at[:2]  # straight up or down
        number = numbers[(k // 3) % len(numbers)]
        parts.append(
            by.along(tuple(at), tuple(to), step=step, number=number, first_move=k, rapid=[0] if k % 5 == 4 else [])
        )
        at = to
    return by.joined(*parts)


def cut_by_hand(field: Field, way: Stations) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(heights, makers, volume of each station), by looking at every cell for every station."""
    grid, bottom = field.grid, field.bottom_mm - field.grid.z0_mm
    x, y = by.centres(grid)
    top, maker, volume = field.top.copy(), np.full(field.top.shape, -1), np.zeros(len(way))
    for s in range(len(way)):
        if way.ghost[s] or int(way.tool[s]) not in TOOLS:
            continue
        one, (u, v, z) = cutter(TOOLS[int(way.tool[s])]), way.tip_mm[s]
        r = np.hypot(y[:, None] - v, x - u)
        # Where an upright step has two heights the lower one counts; a flat end reaches its own rim.
        level = np.interp(r, one.r_mm, one.z_mm)
        level = (z - grid.z0_mm + np.where(r <= one.flat_mm, 0.0, level)).astype(np.float32)
        through = level <= bottom + LEAST_CUT_MM
        floor = np.where(through, np.float64(bottom), level.astype(np.float64))
        cuts = (r <= one.radius_mm) & (top - floor > LEAST_CUT_MM)
        volume[s] = (top.astype(np.float64) - floor)[cuts].sum() * grid.cell_mm**2
        top[cuts] = np.where(through, NOTHING, level)[cuts]
        maker[cuts] = way.move[s]
    return top, maker, volume


@pytest.mark.parametrize("seed", range(6))
def test_every_cell_by_hand(seed: int) -> None:
    field, way = by.block((0, 0, -4), (12, 9, 0.5), 0.25), wandering(seed)
    top, maker, volume = cut_by_hand(field, way)
    swept, told = run(field, way)
    standing = (top > NOTHING) & (swept.after.top > NOTHING)
    assert (standing == (top > NOTHING)).mean() > 0.9995
    assert (
        np.abs(swept.after.top - top)[standing].max() < 5e-4
    )  # twice the table of heights, and what is too little to count
    assert (swept.maker == maker).mean() > 0.995  # moves that part by less than that may each be the last
    assert swept.moves.volume_mm3 == pytest.approx(np.bincount(way.move, volume, 18), abs=2e-3)
    assert sum(one.volume_mm3.sum() for one in told) == pytest.approx(volume[~way.rapid].sum(), rel=1e-4)


@pytest.mark.parametrize("seed", range(4))
def test_volume_is_kept(seed: int) -> None:
    field = by.block((0, 0, -4), (40, 30, 0.5), 0.2)
    swept, _ = run(field, wandering(seed, 30))
    taken = by.volume_left(field) - by.volume_left(swept.after)
    assert swept.moves.volume_mm3.sum() == pytest.approx(taken, rel=1e-9)


def same(one: Engagement, other: Engagement) -> bool:
    names = [field.name for field in fields(Engagement) if field.name != "stations"]
    return all(np.array_equal(getattr(one, name), getattr(other, name)) for name in names)


PER_MOVE = tuple(one.name for one in fields(PerMove))


@pytest.mark.parametrize("seed", range(3))
def test_two_threads_are_one_bit_for_bit(seed: int) -> None:
    field = by.block((0, 0, -4), (40, 30, 0.5), 0.1)  # several tiles
    way = by.joined(
        *(replace(wandering(seed + k, 12), move=np.full(len(wandering(seed + k, 12)), k, np.int32)) for k in range(3))
    )
    way = replace(way, tip_mm=way.tip_mm * np.array([2.5, 2.5, 1.0]))
    one, told = run(field, way, threads=1)
    two, told_by_two = run(field, way, threads=2)
    for name in PER_MOVE:
        assert np.array_equal(getattr(one.moves, name), getattr(two.moves, name), equal_nan=True), name
    assert np.array_equal(one.after.top, two.after.top)
    assert np.array_equal(one.maker, two.maker)
    assert (one.first_cuts, one.residual) == (two.first_cuts, two.residual)
    assert len(told) == len(told_by_two)
    assert all(same(a, b) for a, b in zip(told, told_by_two, strict=True))


@pytest.mark.parametrize("seed", range(4))
def test_without_samples_all_but_widths_is_the_same_to_the_bit(seed: int) -> None:
    field, way = by.block((0, 0, -4), (12, 9, 0.5), 0.25), wandering(seed)
    whole = sweep(field, [way], TOOLS, 1 + int(way.move.max()))
    bare = sweep(field, [way], TOOLS, 1 + int(way.move.max()), sampled=False)
    for one in fields(PerMove):
        if one.name != "radial_mm":
            assert np.array_equal(getattr(whole.moves, one.name), getattr(bare.moves, one.name), equal_nan=True), (
                one.name
            )
    assert np.array_equal(whole.after.top, bare.after.top)
    assert np.array_equal(whole.maker, bare.maker)
    assert np.array_equal(whole.after.gaps, bare.after.gaps)
    assert whole.unfollowed == bare.unfollowed
    nowhere = [replace(one, radial_mm=0.0) for one in bare.first_cuts]
    assert nowhere == [replace(one, radial_mm=0.0) for one in whole.first_cuts]
    # Nobody takes a width that was not looked for as one of nothing.
    assert np.isnan(bare.moves.radial_mm).all()
    assert math.isnan(bare.residual)
    assert whole.moves.radial_mm.max() > 0.0


def test_engagement_is_not_told_without_samples() -> None:
    field, way = by.block((0, 0, -4), (12, 9, 0.5), 0.25), wandering(0)
    with pytest.raises(ValueError, match="that samples it"):
        sweep(field, [way], TOOLS, 1 + int(way.move.max()), engagement=lambda _: None, sampled=False)


@given(st.integers(0, 50), st.integers(5, 90))
@settings(deadline=None, max_examples=10)
def test_chunks_change_nothing_but_where_slices_lie(seed: int, size: int) -> None:
    field, way = by.block((0, 0, -4), (12, 9, 0.5), 0.25), wandering(seed)
    whole, told = run(field, way)
    parts, told_by_parts = run(field, *by.split(way, size))
    assert np.array_equal(whole.after.top, parts.after.top)
    assert np.array_equal(whole.maker, parts.maker)
    assert whole.moves.volume_mm3 == pytest.approx(parts.moves.volume_mm3, rel=1e-12)
    assert [one.move for one in whole.first_cuts] == [one.move for one in parts.first_cuts]
    sides = [np.concatenate([one.side_mm[one.volume_mm3 > 0] for one in run_]) for run_ in (told, told_by_parts)]
    assert np.array_equal(*sides)


@pytest.mark.parametrize("seed", range(4))
def test_compiled_is_plain(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same sums in the same order; only roots of two libraries may differ in the last place."""
    field, way = by.block((0, 0, -4), (12, 9, 0.5), 0.25), wandering(seed, 12, step=0.6)
    assert field.top.size <= 60 * 60
    swept, told = run(field, way)
    monkeypatch.setattr(room, "kernels", twin.plain(room.kernels))
    slow, told_slow = run(field, way)
    assert slow.after.top == pytest.approx(swept.after.top, abs=1e-6)
    assert np.array_equal(slow.maker, swept.maker)
    for name in PER_MOVE:
        assert getattr(slow.moves, name) == pytest.approx(getattr(swept.moves, name), abs=1e-5, nan_ok=True)
    assert slow.residual == pytest.approx(swept.residual, abs=1e-6)  # numpy multiplies in single precision there
    for one, other in zip(told, told_slow, strict=True):
        for name in ("side_mm", "slope", "slope_z_mm", "end", "volume_mm3", "axial_mm", "radial_mm", "making"):
            assert getattr(other, name) == pytest.approx(getattr(one, name), abs=1e-5), name


def test_each_kernel_is_compiled_for_one_kind_of_arrays() -> None:
    run(by.block((0, 0, -4), (12, 9, 0.5), 0.25), wandering(1))
    run(by.block((0, 0, -4), (12, 9, 0.5), 0.25), wandering(2, numbers=(1,)))
    names = (
        "highest_of_blocks",
        "look_ahead",
        "pair_up",
        "work_tile",
        "gather",
        "tally",
        "halve_samples",
        "lower_slices",
        "clear_rows",
    )
    for name in names:
        assert len(getattr(room.kernels, name).signatures) <= 1, name


# --- the same job turned, moved and mirrored ----------------------------------------------------------------------------------------------


def loop(tool: int = 1, z: float = -2.0) -> Stations:
    """In from the side, round a loop, out."""
    turn = np.linspace(0, 2 * math.pi, 80)
    ring = [(8.3 + 3 * math.sin(a), 9.1 - 3 * math.cos(a), z) for a in turn]
    return by.joined(
        by.along((8.0, -5.0, z), *ring, step=0.1, number=tool),
        by.along(ring[-1], (20.0, 6.0, z), step=0.1, number=tool, first_move=90),
    )


def moved(way: Stations, by_matrix: np.ndarray, shift: tuple[float, float]) -> Stations:
    whole = np.eye(3)
    whole[:2, :2] = by_matrix
    return replace(
        way, tip_mm=way.tip_mm @ whole.T + np.array([*shift, 0.0]), way=(way.way @ whole.T).astype(np.float32)
    )


@pytest.mark.parametrize("tool", [1, 2, 3])
@pytest.mark.parametrize(
    ("matrix", "shift", "mirrored"),
    [
        ([[0, -1], [1, 0]], (16.0, 0.0), False),  # a quarter turn
        ([[1, 0], [0, 1]], (0.013, 0.027), False),  # against the grid by parts of a cell
        ([[-1, 0], [0, 1]], (16.0, 0.0), True),
    ],
)
def test_a_job_turned_moved_or_mirrored_cuts_alike(
    tool: int, matrix: list[list[int]], shift: tuple[float, float], mirrored: bool
) -> None:
    cell = 0.1
    field, way = by.block((0, 0, -4), (16, 16, 0), cell), loop(tool)
    first, told = run(field, way)
    second, told_moved = run(field, moved(way, np.array(matrix, float), shift))
    a, b = told[0], told_moved[0]
    size = cutter(TOOLS[tool]).radius_mm
    wall = 2.0 * 2 * a.stations.step_mm.sum()  # both sides of its way, 2 mm deep
    assert abs(first.moves.volume_mm3.sum() - second.moves.volume_mm3.sum()) < cell / math.sqrt(12) * wall * 0.2
    assert abs(a.radial_mm.mean() - b.radial_mm.mean()) < 0.3 * cell
    area, other = (by.swept_mm3(one, TOOLS[tool]).sum() for one in (a, b))
    assert area == pytest.approx(other, rel=0.02)
    across = b.side_mm[:, ::-1] if mirrored else b.side_mm
    assert np.abs(a.side_mm.mean(axis=0) - across.mean(axis=0)).max() < 0.12 * max(a.side_mm.mean(), 0.1) + 0.1 / size


# --- what stations and moves are told -----------------------------------------------------------------------------------------------------


def middle(told: list[Engagement], move: int = 0) -> dict[str, np.ndarray]:
    """The row half-way along a move."""
    whole = {
        name: np.concatenate([getattr(one, name) for one in told])
        for name in ("side_mm", "slope", "end", "axial_mm", "radial_mm", "making")
    }
    moves = np.concatenate([one.stations.move for one in told])
    row = np.flatnonzero(moves == move)
    return {name: array[row[len(row) // 2]] for name, array in whole.items()}


def test_a_slot() -> None:
    field = by.block((0, 0, -5), (30, 20, 0), 0.1)
    swept, told = run(field, by.along((-4.0, 10.03, -2.0), (34.0, 10.03, -2.0)))
    one = middle(told)
    assert one["side_mm"] == pytest.approx(np.full(90, 2.0))
    assert (one["axial_mm"], one["radial_mm"]) == pytest.approx((2.0, 6.0), abs=1e-6)
    assert int(one["making"]) == LEFT | RIGHT | FLOOR
    assert not told[0].slope.any()
    assert not told[0].end.any()
    assert swept.moves.cut_share[0] == pytest.approx(33 / 38, abs=0.015)
    assert swept.moves.lowest_mm[0] == pytest.approx(-2.0)
    (first,) = swept.first_cuts
    assert (first.tool, first.called_by, first.move) == (1, 0, 0)
    assert first.height_mm == pytest.approx(0.0)
    assert first.tip_mm[0] == pytest.approx(-3.0, abs=0.15)


def test_walls_lie_where_they_are_made() -> None:
    """Climbing along the low edge in +X: the stock is on the left."""
    field = by.block((0, 0, -5), (30, 20, 0), 0.1)
    swept, told = run(
        field,
        by.along(
            (-4.0, -2.0, -2.0),
            (34.0, -2.0, -2.0),
            (34.0, 30.0, 5.0),
            (-4.0, 22.4, 5.0),
            (-4.0, 22.4, -2.0),
            (34.0, 22.4, -2.0),
        ),
    )
    left, right = middle(told, 0), middle(told, 4)
    assert (int(left["making"]), int(right["making"])) == (LEFT | FLOOR, RIGHT | FLOOR)
    assert left["radial_mm"] == pytest.approx(1.0, abs=0.1)
    assert right["radial_mm"] == pytest.approx(0.6, abs=0.1)
    assert not left["side_mm"][: math.floor(90 - 0.5 * math.degrees(math.acos(2 / 3)) - 3)].any()
    assert left["side_mm"][-20:] == pytest.approx(np.full(20, 2.0))
    assert right["side_mm"][:15] == pytest.approx(np.full(15, 2.0))
    assert swept.moves.radial_mm[1] == 0


def test_a_pass_that_takes_nothing_tells_nothing() -> None:
    field, way = by.block((0, 0, -5), (30, 20, 0), 0.1), ((-4.0, 10.0, -2.0), (34.0, 10.0, -2.0), (-4.0, 10.0, -2.0))
    swept, told = run(field, by.along(*way))
    assert swept.moves.volume_mm3[1] == 0
    assert np.isnan(swept.moves.lowest_mm[1])
    again = [one for one in told if (one.stations.move == 1).any()]
    for one in again:
        rows = one.stations.move == 1
        assert not any(
            getattr(one, name)[rows].any()
            for name in ("side_mm", "slope", "end", "volume_mm3", "axial_mm", "radial_mm", "making")
        )


def test_straight_down_engages_the_whole_end() -> None:
    field = by.block((0, 0, -5), (20, 20, 0), 0.1)
    swept, told = run(field, by.along((10.0, 10.0, 1.0), (10.0, 10.0, -2.0)))
    one = middle(told)
    assert one["end"].all()
    assert not one["side_mm"].any()
    assert one["radial_mm"] == pytest.approx(6.0, abs=0.6)
    assert swept.residual < 0.02


def test_through_the_bottom_only_stock_counts() -> None:
    field = by.block((0, 0, -3), (30, 20, 0), 0.1)
    swept, told = run(field, by.along((-4.0, 10.03, -4.0), (34.0, 10.03, -4.0)))
    one = middle(told)
    assert one["side_mm"] == pytest.approx(np.full(90, 3.0))
    assert one["axial_mm"] == pytest.approx(3.0)
    assert int(one["making"]) == LEFT | RIGHT  # no floor is left
    assert (swept.after.top[100, 50], swept.moves.lowest_mm[0]) == (NOTHING, pytest.approx(-3.0))
    assert swept.moves.volume_mm3[0] == pytest.approx(30 * 6 * 3, rel=0.02)


def test_ghosts_and_tools_without_a_shape_cut_nothing() -> None:
    field = by.block((0, 0, -3), (30, 20, 0), 0.2)
    ghost = by.along((-4.0, 10.0, -2.0), (34.0, 10.0, -2.0), rapid=[0], ghost=[0])
    unknown = by.joined(
        by.along((34.0, 10.0, 2.0), (-4.0, 10.0, 2.0), number=9, first_move=1),
        by.along((-4.0, 10.0, 2.0), (-4.0, 10.0, -1.0), (34.0, 10.0, -1.0), number=9, first_move=2),
    )
    swept, told = run(field, ghost, unknown)
    assert np.array_equal(swept.after.top, field.top)
    assert told == []
    assert swept.unfollowed == (2, 3)  # the move over the top of the stock takes nothing, whatever it is


def test_a_rapid_takes_away_and_tells_no_engagement() -> None:
    field = by.block((0, 0, -3), (30, 20, 0), 0.2)
    swept, told = run(field, by.along((-4.0, 10.0, -2.0), (34.0, 10.0, -2.0), rapid=[0]))
    assert swept.moves.volume_mm3[0] > 300
    assert swept.first_cuts[0].move == 0
    assert told == []


def test_a_tool_called_twice_cuts_first_twice() -> None:
    field = by.block((0, 0, -5), (30, 20, 0), 0.2)
    parts = [
        by.along(
            (-4.0, 5.0 + 3 * k, 2.0),
            (-4.0, 5.0 + 3 * k, -1.0 - k),
            (34.0, 5.0 + 3 * k, -1.0 - k),
            number=number,
            first_move=2 * k,
        )
        for k, number in enumerate((1, 5, 1))
    ]
    swept, _ = run(field, *parts)
    assert [(one.tool, one.called_by, one.move) for one in swept.first_cuts] == [(1, 0, 1), (5, 2, 3), (1, 4, 5)]
    assert [one.axial_mm for one in swept.first_cuts] == pytest.approx([1.0, 2.0, 3.0])


@pytest.mark.parametrize(("usable", "above"), [(1.5, 0.5), (3.0, 0.0), (None, math.nan)])
def test_material_above_the_usable_edge(usable: float | None, above: float) -> None:
    field = by.block((0, 0, -5), (30, 20, 0), 0.2)
    swept, told = run(field, by.along((-4.0, 10.0, -2.0), (34.0, 10.0, -2.0)), tools={1: by.flat(usable=usable)})
    assert swept.moves.above_flute_mm[0] == pytest.approx(above, nan_ok=True, abs=1e-6)
    assert middle(told)["side_mm"].max() == pytest.approx(2.0 if usable is None else min(usable, 2.0))


def circling(radius: float, down: float, turns: float) -> Stations:
    angle = np.linspace(0, 2 * math.pi * turns, int(40 * turns) + 1)
    tips = np.column_stack(
        [10 + radius * np.cos(angle), 10 + radius * np.sin(angle), 0.05 - down * angle / (2 * math.pi * turns)]
    )
    return by.through(tips, number=5)


def test_the_dead_centre() -> None:
    """Straight down and in circles smaller than the dead centre it presses all the way; wider circles and gentle ramps cut it free."""
    field = by.block((0, 0, -5), (20, 20, 0), 0.1)
    down, _ = run(field, by.along((10.0, 10.0, 1.0), (10.0, 10.0, -2.0), number=5))
    assert down.moves.dead_mm[0] == pytest.approx(2.0, abs=1e-3)
    small, _ = run(field, circling(0.4, 2.0, 8))
    assert small.moves.dead_mm[0] == pytest.approx(1.95, abs=0.1)
    wide, _ = run(field, circling(1.6, 2.0, 8))
    assert wide.moves.dead_mm[0] < 0.2
    ramp, _ = run(field, by.along((5.0, 10.0, 0.0), (15.0, 10.0, -0.5), number=5))
    assert (
        0 < ramp.moves.dead_mm[0] == pytest.approx(1.6 * 0.05, abs=0.02)
    )  # what its dead centre's diameter falls on the ramp
    whole, _ = run(field, by.along((10.0, 10.0, 1.0), (10.0, 10.0, -2.0), number=1))
    assert whole.moves.dead_mm[0] == 0


# --- the run itself -----------------------------------------------------------------------------------------------------------------------


def test_it_tells_how_far_it_is_and_stops_when_asked() -> None:
    field, way = by.block((0, 0, -4), (12, 9, 0.5), 0.25), by.split(wandering(0), 50)
    heard: list[int] = []
    sweep(field, way, TOOLS, 18, tell=heard.append)
    assert heard == np.cumsum([len(one) for one in way]).tolist()
    with pytest.raises(Interrupted):
        sweep(field, way, TOOLS, 18, tell=heard.append, cancelled=lambda: len(heard) > len(way) + 2)


def test_parts_stay_small(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "SHAPED_AT_ONCE", 40)
    monkeypatch.setattr(room, "PLAIN_AT_ONCE", 70)
    field = by.block((0, 0, -4), (12, 9, 0.5), 0.25)
    ball, flat = (
        by.along((-3.0, 4.0, -1.0), (16.0, 4.0, -1.0), step=0.1, number=2),
        by.along((-3.0, 6.0, -1.0), (16.0, 6.0, -1.0), step=0.1),
    )
    sizes: list[int] = []
    for way in (ball, flat):
        heard = [0]
        sweep(field, [way], TOOLS, 1, tell=heard.append)
        sizes.append(int(np.diff(heard).max()))
    assert sizes == [pytest.approx(40, abs=1), pytest.approx(70, abs=1)]


def test_a_place_that_is_not_known_is_our_fault() -> None:
    way = by.along((0.0, 0.0, 0.0), (1.0, 0.0, 0.0))
    with pytest.raises(ValueError, match="no place"):
        run(by.block((0, 0, -4), (12, 9, 0.5), 0.25), replace(way, tip_mm=way.tip_mm * math.nan))


# --- flanks: a wall that the tool only passes by -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("slant", [0.0, 0.13])
def test_a_slot_in_levels_meets_only_its_own_level(slant: float) -> None:
    """The walls beside were cut before, higher up; at the flanks they must not count."""
    field = by.block((0, 0, -8), (30, 20, 0), 0.1)
    ends = [(-4.0, 8.03 - 4.0 * slant), (34.0, 8.03 + 34.0 * slant)]
    way = [(*ends[(k + end) % 2], -0.5 * k) for k in range(1, 7) for end in (0, 1)]
    _, told = run(field, by.along(*way))
    rows = np.concatenate([one.side_mm[one.stations.move == len(way) - 2] for one in told])
    inner = rows[len(rows) // 3 : -len(rows) // 3]
    assert inner.mean(axis=0) == pytest.approx(np.full(90, 0.5), abs=0.03)


def test_a_bore_in_turns_meets_only_what_lies_ahead() -> None:
    """Down a helix: no station meets more than the rise of one turn."""
    angle = np.linspace(0, 2 * math.pi * 6, 1440)
    tips = np.column_stack([10 + 2.5 * np.cos(angle), 10 + 2.5 * np.sin(angle), 0.2 - 0.5 * angle / (2 * math.pi)])
    field = by.block((0, 0, -6), (20, 20, 0), 0.1)
    swept, told = run(field, by.through(tips))
    deep = np.concatenate([one.side_mm[one.stations.tip_mm[:, 2] < -1.5] for one in told])
    assert (deep > 0.55).mean() < 1e-3  # the wall beside stands up to 2.8 mm high
    assert swept.residual < 0.03


def test_a_sliver_at_the_rim_does_not_stand_above_the_edge() -> None:
    """A wall is cut in two levels by the same mill, the second pass a hair nearer: of its upper level only cells at the very rim are left."""
    field = by.block((0, 0, -6), (30, 20, 0), 0.1)
    tools = {1: by.flat(usable=3.0)}

    def two_levels(nearer: float) -> tuple[Swept, float]:
        ways = [(10.0, -2.0), (10.0 + nearer, -4.0)]
        parts = [by.along((-4.0, y, z), (34.0, y, z), first_move=k) for k, (y, z) in enumerate(ways)]
        swept, _ = run(field, *parts, tools=tools)
        assert swept.moves.standing_mm is not None
        return swept, float(swept.moves.standing_mm[1])

    for nearer in (0.0, 0.002, 0.009):
        swept, standing = two_levels(nearer)
        assert swept.moves.above_flute_mm[1] == 0.0
        assert standing == pytest.approx(2.0, abs=1e-5)
    for nearer in (0.2, 0.5):  # some centre of a cell lies in it
        swept, standing = two_levels(nearer)
        assert swept.moves.above_flute_mm[1] == pytest.approx(1.0, abs=1e-5)
        assert standing == pytest.approx(4.0, abs=1e-5)


@pytest.mark.parametrize("diameter", [0.2, 1.0, 6.0])
def test_a_sliver_is_never_much_of_a_small_mill(diameter: float) -> None:
    within = tables([cutter(by.flat(diameter))], 0.02).cutters[0, room.kernels.STANDS_IN] * 0.02
    assert diameter / 2 - within <= min(0.01, 0.025 * diameter) + 1e-9
    assert within < diameter / 2
