"""Moves taken apart into pieces: every move is placed or listed, rapids go every way that they may."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.path.placing import pieces_of
from firstoff.program.moves import PLANE_AXES, Flag, Kind
from tests.path.ways import (
    NAN,
    TURN,
    arcs_of,
    chain,
    moves_of,
    placed,
    points_of,
    random_chain,
    random_pieces,
    starts_of,
)

seeds = st.integers(0, 2**32 - 1)


@given(seeds, st.sampled_from(["straight", "dog-leg", None]))
@settings(deadline=None, max_examples=40)
def test_real_pieces_follow_each_other_without_a_gap(seed: int, rapid_path: str | None) -> None:
    pieces = random_pieces(np.random.default_rng(seed), 40, rapid_path=rapid_path)
    real = ~pieces.ghost
    assert np.array_equal(pieces.start_mm[real][1:], pieces.end_mm[real][:-1])
    assert (np.diff(pieces.move) >= 0).all()
    assert pieces.unknown.size == 0
    assert np.unique(pieces.move).size == 40


@given(seeds)
@settings(deadline=None, max_examples=40)
def test_ghosts_leave_and_arrive_with_their_rapid_and_each_leg_leaves_an_axis_at_rest(seed: int) -> None:
    rng = np.random.default_rng(seed)
    moves, arcs = random_chain(rng, 30)
    moves = dataclasses.replace(moves, kind=np.where(moves.arc < 0, int(Kind.RAPID), moves.kind).astype(np.uint8))
    speeds = rng.uniform(10, 300, 3)
    pieces = placed(moves, arcs, rapid_path=None, rapid_mm_per_s=tuple(speeds))
    for move in np.unique(pieces.move[pieces.ghost]).tolist():
        legs = np.flatnonzero((pieces.move == move) & pieces.ghost)
        (straight,) = np.flatnonzero((pieces.move == move) & ~pieces.ghost)
        assert legs.max() < straight, "a ghost looks at the stock before the rapid itself meets it"
        assert np.array_equal(pieces.start_mm[legs[0]], pieces.start_mm[straight])
        assert np.array_equal(pieces.end_mm[legs[-1]], pieces.end_mm[straight])
        assert np.array_equal(pieces.start_mm[legs[1:]], pieces.end_mm[legs[:-1]])
        ways = pieces.end_mm[legs] - pieces.start_mm[legs]
        moving = np.abs(ways) > 1e-9
        assert (np.diff(moving.sum(axis=1)) < 0).all(), "on each leg fewer axes run than before"
        for way, on in zip(ways, moving, strict=True):
            seconds = np.abs(way[on]) / speeds[on]
            assert seconds == pytest.approx(seconds[0], rel=1e-6, abs=1e-10)
    assert pieces.rapid[pieces.ghost].all()


def test_a_dog_leg_by_hand() -> None:
    """100 mm in X and 30 in Y at equal speeds: 45 degrees to (30, 30), then along X."""
    moves = moves_of([[100, 30, 0]], kind=[Kind.RAPID])
    legs = placed(moves, rapid_path="dog-leg")
    assert legs.end_mm == pytest.approx(np.array([[30.0, 30, 0], [100, 30, 0]]))
    assert not legs.ghost.any()
    assert legs.rapid.all()
    slow_x = placed(moves, rapid_path="dog-leg", rapid_mm_per_s=(100, 10, 100))
    assert slow_x.end_mm == pytest.approx(np.array([[100, 10, 0], [100.0, 30, 0]]))


@pytest.mark.parametrize("end", [[5, 0, 0], [0, 0, -5], [4, -4, 0], [3, 3, 3]])
def test_where_both_ways_are_one_there_is_no_ghost(end: list[float]) -> None:
    assert len(placed(moves_of([end], kind=[Kind.RAPID]), rapid_path=None)) == 1


def test_what_goes_at_rapid_and_what_does_not() -> None:
    kinds = [Kind.RAPID, Kind.FEED, Kind.PROBE, Kind.TAP, Kind.HOME, Kind.MACHINE, Kind.MACHINE, Kind.DWELL]
    flags = [0, 0, 0, 0, 0, 0, Flag.FEEDING, 0]
    pieces = placed(moves_of([[i + 1, 0, 0] for i in range(7)] + [[7, 0, 0]], kind=kinds, flags=flags))
    assert pieces.rapid.tolist() == [True, False, False, False, True, True, False]
    assert pieces.move.tolist() == list(range(7))


def test_moves_to_or_from_nowhere_known_are_listed() -> None:
    ends = np.array([[1, 2, NAN], [1, 2, 3], [4, 2, 3], [4, 2, 3], [NAN, 2, 3], [5, 2, 3], [6, 2, 3]])
    pieces = pieces_of(moves_of(ends), arcs_of(), starts_of(moves_of(ends)), ends, rapid_path=None, radii_mm={})
    assert pieces.unknown.tolist() == [0, 1, 4, 5]
    assert pieces.move.tolist() == [2, 6]
    assert pieces.start_mm[1].tolist() == [5, 2, 3]


def test_a_move_that_leaves_an_unknown_axis_alone_goes_nowhere() -> None:
    """A block that names again what stands already: wherever Z is, it does not go."""
    ends = [[NAN, NAN, NAN], [1, 2, NAN], [1, 2, NAN]]
    assert placed(moves_of(ends)).unknown.tolist() == [0, 1]
    other_frame = moves_of(ends, frame=[[0] * 3, [0] * 3, [0, 0, 1]])
    assert placed(other_frame).unknown.tolist() == [0, 1, 2]


def test_moves_that_go_nowhere_and_dwells_make_no_piece() -> None:
    moves = moves_of([[1, 0, 0], [1, 0, 0], [1, 0, 0], [2, 0, 0]], kind=[Kind.FEED, Kind.FEED, Kind.DWELL, Kind.FEED])
    pieces = placed(moves)
    assert pieces.move.tolist() == [0, 3]
    assert pieces.unknown.size == 0


@given(seeds, st.tuples(*[st.floats(-200, 200)] * 3))
@settings(deadline=None, max_examples=40)
def test_a_shift_of_the_work_frame_shifts_everything(seed: int, shift: tuple[float, float, float]) -> None:
    moves, arcs = random_chain(np.random.default_rng(seed), 20)
    here = placed(moves, arcs)
    there = pieces_of(
        moves, arcs, starts_of(moves, (0, 0, 0)) + shift, moves.end_mm + shift, rapid_path="straight", radii_mm={}
    )
    assert there.unknown.size == 0
    assert there.start_mm == pytest.approx(here.start_mm + shift)
    assert there.arcs.sweep_rad == pytest.approx(here.arcs.sweep_rad, abs=1e-6)
    for row in np.flatnonzero(here.arc >= 0).tolist():
        assert points_of(there, row) == pytest.approx(points_of(here, row) + shift, abs=1e-6)


def test_a_full_circle_stays_one() -> None:
    for turns in (1, -1, 3, -2.5):
        moves, arcs = chain(("line", 5, 0, 0), ("arc", 17, 0, 0, turns * TURN, -1.0))
        pieces = placed(moves, arcs)
        assert pieces.arcs.sweep_rad == pytest.approx([turns * TURN])
        assert pieces.arcs.rise_mm == pytest.approx([-1])


def test_a_rounded_arc_leads_from_its_start_to_its_end() -> None:
    """Ends written to a hundredth: the sweep is settled so that nothing jumps."""
    moves = moves_of([[5, 0, 0], [3.54, 3.53, 0]], kind=[Kind.FEED, Kind.ARC], arc=[-1, 0])
    pieces = placed(moves, arcs_of((0, 0, 17, 5.0, math.pi / 4, 0)))
    assert pieces.unknown.size == 0
    turned = math.atan2(3.53, 3.54)
    assert pieces.arcs.sweep_rad == pytest.approx([turned])


@pytest.mark.parametrize("begin", [(5.6, 0, 0), (4.9, 1.2, 0), (5, 0, 0.7)])
def test_an_arc_that_does_not_begin_where_it_should_is_listed(begin: tuple[float, float, float]) -> None:
    moves = moves_of([[0, 5, 0]], kind=[Kind.ARC], arc=[0])
    pieces = placed(moves, arcs_of((0, 0, 17, 5.0, math.pi / 2, 0)), begin=begin)
    assert pieces.unknown.tolist() == [0]
    assert len(pieces) == 0


def test_arcs_in_all_planes_end_where_their_points_do() -> None:
    for plane in PLANE_AXES:
        pieces = placed(*chain(("line", 1, 2, 3), ("arc", plane, 4, 4, 2.0, 1.0)))
        assert points_of(pieces, 1)[-1] == pytest.approx(pieces.end_mm[1])


def test_pieces_are_read_only() -> None:
    pieces = random_pieces(np.random.default_rng(1), 20)
    arrays = [getattr(pieces, field.name) for field in dataclasses.fields(pieces) if field.name != "arcs"]
    arrays += [getattr(pieces.arcs, field.name) for field in dataclasses.fields(pieces.arcs)]
    for array in arrays:
        assert not array.flags.writeable
        assert array.flags.c_contiguous
    assert [a.dtype.str[1:] for a in arrays] == [
        "i4",
        "i4",
        "f8",
        "f8",
        "i4",
        "b1",
        "b1",
        "i4",
        "f8",
        "u1",
        "f8",
        "f8",
        "f8",
    ]


def test_words_and_speeds_that_mean_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="rapid_path=diagonal"):
        placed(moves_of([[1, 0, 0]]), rapid_path="diagonal")
    with pytest.raises(ValueError, match="rapid_mm_per_s"):
        placed(moves_of([[1, 0, 0]]), rapid_mm_per_s=(1, 0, 1))
