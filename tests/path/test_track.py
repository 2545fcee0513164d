"""Placing moves in the machine: positions, steps, lengths and bounds."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.path.track import origin_table, place
from firstoff.program.bounds import path_length, reach_of_moves
from firstoff.program.moves import PLANE_AXES, Arcs, Base, Frames, Kind, Moves

NAN = math.nan


def moves_of(ends, frame=None, kind=None, arc=None) -> Moves:
    """Moves with programmed ends; `frame` i2[N, 3], else all in row 0."""
    ends = np.asarray(ends, float).reshape(-1, 3)
    count = len(ends)
    frames = np.zeros((count, 3), np.int16) if frame is None else np.asarray(frame, np.int16)
    ints = np.full(count, -1, np.int32)
    return Moves(
        np.full(count, int(Kind.FEED), np.uint8) if kind is None else np.asarray(kind, np.uint8),
        ends,
        frames,
        ints.copy() if arc is None else np.asarray(arc, np.int32),
        np.full(count, 10.0),
        np.zeros(count),
        ints.copy(),
        ints.copy(),
        np.zeros(count, np.uint16),
        np.arange(1, count + 1, dtype=np.int32),
        ints.copy(),
    )


def frames_of(*rows: tuple[tuple[int, int, int], tuple[float, float, float], int]) -> Frames:
    bases, shifts, lengths = zip(*rows, strict=True)
    return Frames(
        np.array(bases, np.int16), np.array(shifts, float), np.array(lengths, np.int32), np.zeros(len(rows), np.int16)
    )


NO_ARCS = Arcs(np.zeros((0, 2)), np.zeros(0, np.uint8), np.zeros(0), np.zeros(0), np.zeros(0))
MACHINE = frames_of(((0, 0, 0), (0.0, 0.0, 0.0), -1))
G54 = (Base.G54,) * 3
G55 = (Base.G55,) * 3


def arcs_of(*rows: tuple[float, float, int, float, float, float]) -> Arcs:
    table = np.array(rows, float)
    return Arcs(
        table[:, :2].copy(), table[:, 2].astype(np.uint8), table[:, 3].copy(), table[:, 4].copy(), table[:, 5].copy()
    )


# --- place ----------------------------------------------------------------------------------------------------------------


def test_offset_shift_and_length_add_up() -> None:
    frames = frames_of((G54, (1.0, 2.0, 3.0), 7))
    track = place(moves_of([[10, 20, 30], [11, 20, 30]]), NO_ARCS, frames, {Base.G54: (100, 200, 300)}, {7: 50.0})
    assert track.end_mm[0] == pytest.approx([111, 222, 383])
    assert track.start_mm[1] == pytest.approx([111, 222, 383])
    assert track.step_mm[1] == pytest.approx([1, 0, 0])
    assert track.length_mm[1] == pytest.approx(1)


def test_where_the_machine_stands_at_first_is_not_known() -> None:
    track = place(moves_of([[1, 2, 3]]), NO_ARCS, MACHINE, {}, {})
    assert np.isnan(track.start_mm).all()
    assert np.isnan(track.length_mm).all()
    assert track.end_mm[0] == pytest.approx([1, 2, 3])


def test_an_axis_that_is_not_named_stands_where_its_own_frame_put_it() -> None:
    """After G55, a block that names only X leaves Y where G54 put it."""
    frames = frames_of((G54, (0.0, 0.0, 0.0), -1), (G55, (0.0, 0.0, 0.0), -1))
    moves = moves_of([[5, 5, 5], [6, 5, 5]], frame=[[0, 0, 0], [1, 0, 0]])
    origins = {Base.G54: (0, 0, 0), Base.G55: (1000, 1000, 1000)}
    track = place(moves, NO_ARCS, frames, origins, {})
    assert track.end_mm[1] == pytest.approx([1006, 5, 5])
    assert track.step_mm[1] == pytest.approx([1001, 0, 0])


def test_unknown_origin_leaves_positions_open_but_not_steps() -> None:
    frames = frames_of((G54, (0.0, 0.0, 0.0), -1), (G54, (2.0, 0.0, 0.0), -1))
    moves = moves_of([[0, 0, 0], [3, 4, 0], [3, 4, 0], [4, 4, 0]], frame=[[0] * 3, [0] * 3, [1, 0, 0], [1, 0, 0]])
    track = place(moves, NO_ARCS, frames, {}, {})
    assert np.isnan(track.end_mm).all()
    assert track.length_mm[1:] == pytest.approx([5, 2, 1])


def test_step_between_two_unknown_origins_is_not_known() -> None:
    frames = frames_of((G54, (0.0, 0.0, 0.0), -1), (G55, (0.0, 0.0, 0.0), -1))
    moves = moves_of([[0, 0, 0], [1, 0, 0]], frame=[[0] * 3, [1, 0, 0]])
    track = place(moves, NO_ARCS, frames, {Base.G54: (0, 0, 0)}, {})
    assert np.isnan(track.step_mm[1, 0])
    assert track.step_mm[1, 1:] == pytest.approx([0, 0])
    assert np.isnan(track.length_mm[1])


def test_step_in_z_needs_the_same_length() -> None:
    frames = frames_of((G54, (0.0, 0.0, 0.0), 1), (G54, (0.0, 0.0, 0.0), 2))
    moves = moves_of([[0, 0, 0], [0, 0, -1], [0, 0, -2]], frame=[[0] * 3, [0] * 3, [0, 0, 1]])
    track = place(moves, NO_ARCS, frames, {Base.G54: (0, 0, 0)}, {1: 80.0})
    assert track.length_mm[1] == pytest.approx(1)
    assert np.isnan(track.length_mm[2])
    known = place(moves, NO_ARCS, frames, {Base.G54: (0, 0, 0)}, {1: 80.0, 2: 81.5})
    assert known.step_mm[2, 2] == pytest.approx(-1 + 1.5)


def test_lost_position_is_never_a_step_but_an_unnamed_axis_stays() -> None:
    frames = frames_of(((Base.UNKNOWN,) * 3, (0.0, 0.0, 0.0), -1), (G54, (0.0, 0.0, 0.0), -1))
    moves = moves_of([[NAN, NAN, NAN], [0, NAN, NAN], [2, NAN, NAN]], frame=[[0] * 3, [1, 0, 0], [1, 0, 0]])
    track = place(moves, NO_ARCS, frames, {Base.G54: (0, 0, 0)}, {})
    assert np.isnan(track.length_mm[1])
    assert track.length_mm[2] == pytest.approx(2)
    moved = place(moves_of([[1, 0, 0], [2, 0, 0]], frame=[[0] * 3, [0] * 3]), NO_ARCS, frames, {}, {})
    assert np.isnan(moved.length_mm[1])


def test_a_program_without_moves_is_placed() -> None:
    track = place(moves_of(np.zeros((0, 3))), NO_ARCS, MACHINE, {}, {})
    assert track.start_mm.shape == track.end_mm.shape == (0, 3)


def test_arrays_are_handed_on_read_only() -> None:
    track = place(moves_of([[1, 2, 3], [4, 5, 6]]), NO_ARCS, MACHINE, {}, {})
    for array in (track.start_mm, track.end_mm, track.step_mm, track.length_mm):
        assert not array.flags.writeable
        assert array.flags.c_contiguous


def test_origin_table_knows_the_machine_and_nothing_it_was_not_told() -> None:
    frames = frames_of(((Base.MACHINE, Base.G54, Base.G28), (1.0, 2.0, 3.0), -1))
    table = origin_table(frames, {Base.G54: (10, 20, 30)}, {})
    assert table[0, :2] == pytest.approx([1, 22])
    assert np.isnan(table[0, 2])


# --- length ---------------------------------------------------------------------------------------------------------------


@given(
    st.sampled_from([17, 18, 19]),
    st.floats(0.001, 500),
    st.floats(-15, 15).filter(lambda sweep: abs(sweep) > 1e-3),
    st.floats(-50, 50),
    st.floats(-7, 7),
)
def test_length_of_a_helix_is_that_of_its_points(
    plane: int, radius: float, sweep: float, rise: float, start: float
) -> None:
    points = helix(plane, (3.0, -4.0), radius, start, sweep, rise, 20_001)
    chords = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    moves = moves_of([points[0], points[-1]], kind=[Kind.FEED, Kind.ARC], arc=[-1, 0])
    length = path_length(
        moves, arcs_of((3.0, -4.0, plane, radius, sweep, rise)), np.vstack([np.full(3, NAN), points[-1] - points[0]])
    )
    assert length[1] == pytest.approx(chords, rel=1e-7)


def test_a_dwell_has_no_length_and_an_unknown_arc_none_either() -> None:
    moves = moves_of([[0, 0, 0], [0, 0, 0], [1, 0, 0]], kind=[Kind.FEED, Kind.DWELL, Kind.ARC], arc=[-1, -1, 0])
    length = path_length(moves, arcs_of((0.5, 0, 17, 0.5, math.pi, 0)), np.array([[NAN] * 3, [0] * 3, [NAN, 0, 0]]))
    assert np.isnan(length[0])
    assert length[1] == 0
    assert np.isnan(length[2])


# --- bounds ---------------------------------------------------------------------------------------------------------------


def helix(
    plane: int, centre: tuple[float, float], radius: float, start: float, sweep: float, rise: float, count: int
) -> np.ndarray:
    first, second, normal = PLANE_AXES[plane]
    part = np.linspace(0, 1, count)
    points = np.zeros((count, 3))
    points[:, first] = centre[0] + radius * np.cos(start + sweep * part)
    points[:, second] = centre[1] + radius * np.sin(start + sweep * part)
    points[:, normal] = 1.5 + rise * part
    return points


@given(
    st.sampled_from([17, 18, 19]),
    st.tuples(st.floats(-20, 20), st.floats(-20, 20)),
    st.floats(0.01, 50),
    st.floats(-7, 7),
    st.floats(-14, 14).filter(lambda sweep: abs(sweep) > 1e-3),
    st.floats(-5, 5),
)
def test_bounds_of_an_arc_are_those_of_its_points(plane, centre, radius, start, sweep, rise) -> None:
    points = helix(plane, centre, radius, start, sweep, rise, 4001)
    moves = moves_of([points[0], points[-1]], kind=[Kind.FEED, Kind.ARC], arc=[-1, 0])
    low, high = (
        bound(one, points[0])
        for bound, one in zip(
            (np.fmin, np.fmax), reach_of_moves(moves, arcs_of((*centre, plane, radius, sweep, rise))), strict=True
        )
    )
    sagitta = radius * (sweep / 4000) ** 2 / 8 + 1e-9 * radius  # what the sampled points cut off
    assert np.all(low[1] <= points.min(axis=0) + 1e-9 * radius)
    assert np.all(high[1] >= points.max(axis=0) - 1e-9 * radius)
    assert low[1] == pytest.approx(points.min(axis=0), abs=sagitta + 1e-9)
    assert high[1] == pytest.approx(points.max(axis=0), abs=sagitta + 1e-9)


def test_full_circle_reaches_all_four_sides() -> None:
    moves = moves_of([[5, 0, 0], [5, 0, 0]], kind=[Kind.FEED, Kind.ARC], arc=[-1, 0])
    low, high = reach_of_moves(moves, arcs_of((0, 0, 17, 5, -2 * math.pi, 0)))
    assert low[1] == pytest.approx([-5, -5, 0])
    assert high[1] == pytest.approx([5, 5, 0])
