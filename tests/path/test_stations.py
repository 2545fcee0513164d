"""Stations: they lie on their pieces, add up to the way, and miss no corner."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.path import _kernels as kernels
from firstoff.path.pieces import Pieces, Stations
from firstoff.path.stations import Window, lengths_of_pieces, stations, stations_of_pieces
from firstoff.program.moves import PLANE_AXES
from tests.motion import twin
from tests.path.ways import TURN, chain, moves_of, placed, points_of, random_pieces

FIELDS = tuple(field.name for field in dataclasses.fields(Stations))
seeds = st.integers(0, 2**32 - 1)
steps = st.sampled_from([0.02, 0.1, 0.37, 2.0])


def whole(pieces: Pieces, step: float, **how) -> Stations:
    """All chunks in one."""
    chunks = list(stations(pieces, step, **how))
    empty = list(stations(placed(moves_of([[1.0, 0, 0]])), 5.0))
    return Stations(*(np.concatenate([getattr(one, name) for one in chunks or [empty[0]]]) for name in FIELDS))


def line(*points: tuple[float, float, float]) -> Pieces:
    return placed(moves_of(points))


@given(seeds, steps)
@settings(deadline=None, max_examples=40)
def test_steps_add_up_to_the_way(seed: int, step: float) -> None:
    pieces = random_pieces(np.random.default_rng(seed), 40)
    found = whole(pieces, step)
    assert found.step_mm.sum(dtype=float) == pytest.approx(lengths_of_pieces(pieces).sum(), rel=1e-6)
    assert found.step_mm.max() <= 1.05 * step * (1 + 1e-6)


@given(seeds, steps)
@settings(deadline=None, max_examples=40)
def test_every_station_lies_on_its_piece(seed: int, step: float) -> None:
    pieces = random_pieces(np.random.default_rng(seed), 40)
    found = whole(pieces, step)
    for row in np.unique(found.piece).tolist():
        tips = found.tip_mm[found.piece == row]
        start, end, arc = pieces.start_mm[row], pieces.end_mm[row], int(pieces.arc[row])
        if arc < 0:
            way = end - start
            part = (tips - start) @ way / (way @ way)
            assert np.linalg.norm(start + part[:, None] * way - tips, axis=1).max() < 1e-9
            assert ((part > 0) & (part < 1 + 1e-9)).all()
            continue
        first, second, normal = PLANE_AXES[int(pieces.arcs.plane[arc])]
        centre, sweep, rise = pieces.arcs.centre_mm[arc], pieces.arcs.sweep_rad[arc], pieces.arcs.rise_mm[arc]
        ray = tips[:, [first, second]] - centre
        assert np.hypot(*ray.T) == pytest.approx(pieces.arcs.radius_mm[arc], abs=1e-9)
        begin = start[[first, second]] - centre
        turned = np.arctan2(ray[:, 1], ray[:, 0]) - math.atan2(begin[1], begin[0])
        part = (tips[:, normal] - start[normal]) / rise if rise else None
        if part is not None:  # the height tells how far round the helix it is
            assert np.abs(np.exp(1j * turned) - np.exp(1j * part * sweep)).max() < 1e-6


@given(seeds, steps)
@settings(deadline=None, max_examples=25)
def test_no_point_of_the_way_is_farther_than_half_a_step_from_a_station(seed: int, step: float) -> None:
    """Measured along the way, so nearer still through the air; starts of runs have no station of their own."""
    pieces = random_pieces(np.random.default_rng(seed), 25, rapid_path="straight")
    found = whole(pieces, step)
    tips = np.vstack([pieces.start_mm[:1], found.tip_mm])
    for row in range(len(pieces)):
        points = points_of(pieces, row)
        gap = np.linalg.norm(points[:, None] - tips[None], axis=2).min(axis=1)
        assert gap.max() <= 0.525 * step * (1 + 1e-6)


@given(seeds, st.sampled_from([1, 2, 7, 1000]))
@settings(deadline=None, max_examples=20)
def test_the_size_of_chunks_changes_nothing(seed: int, chunk: int) -> None:
    pieces = random_pieces(np.random.default_rng(seed), 30)
    one, other = whole(pieces, 0.2), whole(pieces, 0.2, chunk=chunk)
    assert all(len(part) <= chunk for part in stations(pieces, 0.2, chunk=chunk))
    for name in FIELDS:
        assert np.array_equal(getattr(one, name), getattr(other, name)), name


@given(st.integers(1, 60), st.floats(0.5, 40), steps, seeds)
@settings(deadline=None, max_examples=60)
def test_a_line_in_many_blocks_keeps_its_stations_within_a_step(
    blocks: int, size: float, step: float, seed: int
) -> None:
    end = np.array([size, 0.3 * size, -0.2 * size])
    cuts = np.sort(np.append(np.random.default_rng(seed).uniform(0, 1, blocks - 1), 1.0))
    plain, cut = whole(line(tuple(end)), step), whole(line(*(tuple(part * end) for part in cuts)), step)
    one, other = (tips.tip_mm @ end / np.linalg.norm(end) for tips in (plain, cut))
    for here, there in ((one, other), (other, one)):
        after = np.clip(np.searchsorted(there, here), 1, max(len(there) - 1, 1))
        gap = np.minimum(np.abs(here - there[after - 1]), np.abs(here - there[np.minimum(after, len(there) - 1)]))
        assert gap.max() <= 1.05 * step
    assert cut.tip_mm[-1] == pytest.approx(end)
    assert len(cut) <= 2 * len(plain) + 1


@given(seeds, steps)
@settings(deadline=None, max_examples=25)
def test_the_way_is_a_unit_vector_along_the_tangent(seed: int, step: float) -> None:
    pieces = random_pieces(np.random.default_rng(seed), 30)
    found = whole(pieces, step)
    assert np.linalg.norm(found.way, axis=1) == pytest.approx(1.0, abs=1e-6)
    for row in np.unique(found.piece).tolist():
        fine = points_of(pieces, row, 4001)
        for at in np.flatnonzero(found.piece == row)[::5]:
            near = int(np.clip(np.linalg.norm(fine - found.tip_mm[at], axis=1).argmin(), 1, 3999))
            chord = fine[near + 1] - fine[near - 1]
            turn = abs(float(pieces.arcs.sweep_rad[pieces.arc[row]])) / 1000 if pieces.arc[row] >= 0 else 0.0
            if (
                pieces.arc[row] < 0
                or abs(pieces.arcs.sweep_rad[pieces.arc[row]]) < TURN
                or pieces.arcs.rise_mm[pieces.arc[row]]
            ):
                assert found.way[at] @ chord / np.linalg.norm(chord) >= math.cos(turn) - 1e-6


def test_a_block_a_hair_too_long_is_not_cut_in_two() -> None:
    points = [(0.1003 * (i + 1), 0.0, 0.0) for i in range(100)]
    assert len(whole(line(*points), 0.1)) == 100
    assert len(whole(line(*[(0.106 * (i + 1), 0.0, 0.0) for i in range(100)]), 0.1)) == 200


def test_short_blocks_share_stations() -> None:
    found = whole(line(*[(0.03 * (i + 1), 0.0, 0.0) for i in range(300)]), 0.1)
    assert len(found) == 100
    assert found.tip_mm[-1] == pytest.approx((9.0, 0, 0))


def test_the_deepest_point_of_a_short_dip_is_kept() -> None:
    """5 degrees down and up again: too flat to be a corner, deep enough to matter."""
    points = [(1.0, 0, 0), (1.04, 0, -0.003), (1.08, 0, 0.0), (2.0, 0, 0)]
    assert whole(line(*points), 0.1).tip_mm[:, 2].min() == -0.003


def test_a_corner_of_short_blocks_is_kept() -> None:
    points = [(1.0, 0, 0), (1.02, 0, 0), (1.02, 0.02, 0), (1.02, 1.0, 0)]
    tips = whole(line(*points), 0.1).tip_mm
    assert (np.linalg.norm(tips - (1.02, 0, 0), axis=1) < 1e-12).any()


def test_tool_rapid_and_ghost_part_stations() -> None:
    """Blocks of a hundredth of a step would share one, were they alike."""
    pieces = line(*[(0.001 * (i + 1), 0.0, 0.0) for i in range(8)])
    mixed = dataclasses.replace(
        pieces,
        tool=np.array([1, 1, 2, 2, 2, 2, 2, 2], np.int32),
        rapid=np.array([0, 0, 0, 0, 1, 1, 1, 1], bool),
        ghost=np.array([0, 0, 0, 0, 0, 0, 1, 1], bool),
    )
    assert whole(pieces, 0.1).piece.tolist() == [7]
    found = whole(mixed, 0.1)
    assert found.piece.tolist() == [1, 3, 5, 7]
    assert found.tool.tolist() == [1, 2, 2, 2]
    assert found.rapid.tolist() == [False, False, True, True]
    assert found.ghost.tolist() == [False, False, False, True]
    assert found.step_mm == pytest.approx([0.002] * 4, rel=1e-6)


def test_a_jump_between_pieces_is_no_way() -> None:
    pieces = line((0.01, 0, 0), (0.02, 0, 0))
    aside = np.array([[0.0, 0, 0], [0, 5, 0]])
    apart = dataclasses.replace(pieces, start_mm=pieces.start_mm + aside, end_mm=pieces.end_mm + aside)
    assert whole(apart, 0.1).step_mm == pytest.approx([0.01, 0.01])


def test_chords_of_an_arc_stay_near_it() -> None:
    for radius in (0.05, 0.2, 1.0, 30.0):
        pieces = placed(*chain(("line", radius, 0, 0), ("arc", 17, 0, 0, TURN, -1.0)))
        tips = whole(pieces, 0.1).tip_mm
        tips = tips[tips[:, 2] < 0]
        chord = np.linalg.norm(np.diff(tips[:, :2], axis=0), axis=1).max()
        assert radius - math.sqrt(radius**2 - chord**2 / 4) <= 0.1 * 0.1 * 1.05**2 + 1e-9


def test_height_between_stations_is_bounded_where_asked() -> None:
    pieces = placed(*chain(("line", 5, 0, -0.5), ("line", 5, 0, -3), ("line", 9, 0, -3), ("arc", 18, -3, 11, 2, 0.5)))
    plain, fine = whole(pieces, 0.5), whole(pieces, 0.5, dz_mm=0.01)
    assert np.abs(np.diff(plain.tip_mm[:, 2])).max() > 0.1
    assert np.abs(np.diff(fine.tip_mm[:, 2])).max() <= 0.01 + 1e-9
    only = whole(pieces, 0.5, dz_mm=np.array([0.01, math.inf, math.inf, math.inf]))
    counts = [np.bincount(one.piece, minlength=4).tolist() for one in (plain, fine, only)]
    assert counts[2] == [counts[1][0], *counts[0][1:]]


def test_an_upright_arc_counts_as_steep_even_where_it_begins_level() -> None:
    pieces = placed(*chain(("line", 5, 0, 0), ("arc", 18, 5, 5, math.pi / 2, 0)))
    assert np.abs(np.diff(whole(pieces, 0.5, dz_mm=0.01).tip_mm[:, 2])).max() <= 0.01 + 1e-9


def test_a_short_arc_that_turns_much_shares_no_station_with_the_line_before_it() -> None:
    pieces = placed(*chain(("line", 1, 0, 0), ("line", 1.02, 0, 0), ("arc", 17, 1.02, 0.05, 0.8, 0)))
    assert [pieces.end_mm[1].tolist() in whole(pieces, 0.1).tip_mm.tolist(), len(whole(pieces, 0.1))] == [True, 12]


def test_a_helix_of_hardly_any_radius_takes_no_more_stations_than_ten_a_step() -> None:
    pieces = placed(*chain(("line", 1, 0, 0), ("arc", 17, 1 - 1e-9, 0, TURN, -1.0)))
    assert 90 <= stations_of_pieces(pieces, 0.1)[1] <= 100


def test_rapids_may_take_longer_steps() -> None:
    pieces = dataclasses.replace(line((10, 0, 0), (20, 0, 0)), rapid=np.array([True, False]))
    assert stations_of_pieces(pieces, 0.1, rapid_step_mm=1.0).tolist() == [10, 96]


def test_a_window_leaves_out_what_lies_outside() -> None:
    rng = np.random.default_rng(8)
    pieces = random_pieces(rng, 200)
    window = Window(-1.0, 2.0, 0.0, 3.0, margin_mm=0.5)
    some, every = whole(pieces, 0.2, window=window), whole(pieces, 0.2)
    near = (
        (every.tip_mm[:, 0] > -1.5)
        & (every.tip_mm[:, 0] < 2.5)
        & (every.tip_mm[:, 1] > -0.5)
        & (every.tip_mm[:, 1] < 3.5)
    )
    assert 0 < len(some) < len(every)
    assert {tuple(tip) for tip in every.tip_mm[near]} <= {tuple(tip) for tip in some.tip_mm}


def test_an_arc_that_only_bulges_into_a_window_counts() -> None:
    pieces = placed(*chain(("line", 0, -5, 0), ("arc", 17, 0, 0, math.pi, 0)))
    assert stations_of_pieces(pieces, 0.1, window=Window(4.8, 5.5, -1, 1))[1] > 0
    assert stations_of_pieces(pieces, 0.1, window=Window(5.2, 5.5, -1, 1)).tolist() == [0, 0]


def test_the_last_move_that_counts_can_be_named() -> None:
    pieces = random_pieces(np.random.default_rng(2), 30)
    some, every = whole(pieces, 0.2, until_move=11), whole(pieces, 0.2)
    assert some.move.max() <= 11
    assert np.array_equal(some.tip_mm[:-1], every.tip_mm[: len(some) - 1])


def test_no_pieces_no_stations() -> None:
    assert list(stations(placed(moves_of(np.zeros((0, 3)))), 0.1)) == []


@pytest.mark.parametrize(
    ("how", "name"),
    [
        ({"step_mm": 0.0}, "step_mm"),
        ({"step_mm": math.nan}, "step_mm"),
        ({"step_mm": 0.1, "rapid_step_mm": -1}, "rapid_step_mm"),
        ({"step_mm": 0.1, "dz_mm": 0.0}, "dz_mm"),
        ({"step_mm": 0.1, "dz_mm": np.ones(3)}, "dz_mm"),
        ({"step_mm": 0.1, "turn_rad": 0.0}, "turn_rad"),
        ({"step_mm": math.inf}, "step_mm"),
        ({"step_mm": np.ones(3)}, "step_mm"),
        ({"step_mm": 0.1, "chunk": 0}, "chunk"),
    ],
)
def test_steps_that_lead_nowhere_are_refused(how: dict, name: str) -> None:
    with pytest.raises(ValueError, match=name):
        stations(line((1, 0, 0)), **how)


def test_each_piece_has_its_own_step() -> None:
    """A line of 3 mm in steps of 0.1 (29, for a step may be 5 % longer), then one round a corner in steps of 0.3."""
    found = whole(line((3, 0, 0), (3, 3, 0)), np.array([0.1, 0.3]))
    assert np.bincount(found.piece).tolist() == [29, 10]


def test_pieces_share_a_station_only_where_they_turn_little() -> None:
    """Chords of 0.1 mm round a circle of 2 mm turn by 0.05 each: in steps of 0.5 mm five share a station, but no two if no more is asked."""
    angle = np.arange(1, 61) * 0.05
    circle = line(*[(2 * math.sin(a), 2 - 2 * math.cos(a), 0.0) for a in angle.tolist()])
    assert len(whole(circle, 0.5)) == 12
    assert len(whole(circle, 0.5, turn_rad=0.01)) == 60


def test_chunks_are_read_only() -> None:
    for one in stations(line((1, 0, 0)), 0.1):
        for name in FIELDS:
            assert not getattr(one, name).flags.writeable
            assert getattr(one, name).flags.c_contiguous


def test_compiled_and_plain_kernels_agree() -> None:
    plain = twin.plain_path()
    rng = np.random.default_rng(3)
    for _ in range(5):
        pieces = random_pieces(rng, 12)
        size, arcs = len(pieces), pieces.arcs
        way = (pieces.start_mm, pieces.end_mm, pieces.arc, arcs.centre_mm, arcs.plane, arcs.sweep_rad, arcs.rise_mm)
        given = (pieces.tool, pieces.rapid, pieces.ghost, rng.random(size) < 0.9)
        given = (*given, rng.uniform(0.01, 1, size), rng.uniform(0.2, 0.8, size), np.cos(rng.uniform(0.02, 0.3, size)))
        for array in given:
            array.setflags(write=False)
        filled = []
        for module in (kernels, plain):
            count, lag = np.zeros(size, np.int64), np.zeros(size)
            total = module.count_stations(*way, *given, count, lag)
            assert total == count.sum()
            count.setflags(write=False)
            lag.setflags(write=False)
            out = (
                np.zeros(total, np.int32),
                np.zeros((total, 3)),
                np.zeros((total, 3), np.float32),
                np.zeros(total, np.float32),
            )
            end = module.fill_stations(*way, count, lag, 0, 0, *out)
            filled.append((count, lag, *out, np.array(end)))
        for one, other in zip(*filled, strict=True):
            assert one == pytest.approx(other, abs=1e-6 if one.dtype == np.float32 else 1e-12)
    for kernel in (kernels.count_stations, kernels.fill_stations):
        assert len(kernel.signatures) == 1
