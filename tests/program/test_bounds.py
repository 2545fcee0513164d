"""Reach and length of moves, held against points walked along them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.program.bounds import by_frame, lengths_of_moves, reach_of_moves, rows_of, starts_of_moves
from firstoff.program.moves import PLANE_AXES, Arcs, Kind, Moves

angles = st.floats(-math.pi, math.pi)
sweeps = st.floats(0.01, 4 * math.pi).flatmap(lambda s: st.sampled_from([s, -s]))
STEPS = 4000


def moves_of(ends: list[list[float]], kinds: list[Kind], arcs: list[int], frames: list[int] | None = None) -> Moves:
    n = len(ends)
    frame = np.zeros((n, 3), np.int16) if frames is None else np.repeat(np.array(frames, np.int16)[:, None], 3, axis=1)
    return Moves(
        kind=np.array(kinds, np.uint8),
        end_mm=np.array(ends, float),
        frame=frame,
        arc=np.array(arcs, np.int32),
        feed_mm_per_s=np.ones(n),
        spindle_per_s=np.ones(n),
        tool=np.zeros(n, np.int32),
        comp_register=np.full(n, -1, np.int32),
        flags=np.zeros(n, np.uint16),
        line=np.arange(1, n + 1, dtype=np.int32),
        parent=np.full(n, -1, np.int32),
    )


@given(st.sampled_from([17, 18, 19]), angles, sweeps, st.floats(0.1, 50), st.floats(-5, 5))
def test_arcs_reach_as_far_as_the_points_on_them(
    plane: int, start: float, sweep: float, radius: float, rise: float
) -> None:
    first, second, normal = PLANE_AXES[plane]
    centre = (3.0, -2.0)
    walked = np.zeros((STEPS + 1, 3))
    turned = start + sweep * np.linspace(0, 1, STEPS + 1)
    walked[:, first] = centre[0] + radius * np.cos(turned)
    walked[:, second] = centre[1] + radius * np.sin(turned)
    walked[:, normal] = rise * np.linspace(0, 1, STEPS + 1)
    moves = moves_of([list(walked[0]), list(walked[-1])], [Kind.RAPID, Kind.ARC], [-1, 0])
    arcs = Arcs(
        np.array([centre]), np.array([plane], np.uint8), np.array([radius]), np.array([sweep]), np.array([rise])
    )
    low, high = reach_of_moves(moves, arcs)
    sagitta = radius * (1 - math.cos(sweep / STEPS / 2)) + 1e-9
    assert np.all(np.min(low, axis=0) <= walked.min(axis=0) + 1e-9)
    assert np.all(np.min(low, axis=0) >= walked.min(axis=0) - sagitta)
    assert np.all(np.max(high, axis=0) >= walked.max(axis=0) - 1e-9)
    assert np.all(np.max(high, axis=0) <= walked.max(axis=0) + sagitta)
    walked_length = float(np.linalg.norm(np.diff(walked, axis=0), axis=1).sum())
    assert lengths_of_moves(moves, arcs)[1] == pytest.approx(walked_length, rel=1e-4)


def test_a_start_is_known_only_in_the_same_frame() -> None:
    no_arcs = Arcs(np.zeros((0, 2)), np.zeros(0, np.uint8), np.zeros(0), np.zeros(0), np.zeros(0))
    moves = moves_of([[0, 0, 0], [3, 4, 0], [3, 4, 0], [1, 1, 1]], [Kind.RAPID, Kind.FEED, Kind.DWELL, Kind.FEED], [-1] * 4, [0, 0, 0, 1])  # fmt: skip
    starts = starts_of_moves(moves)
    assert np.isnan(starts[0]).all()
    assert list(starts[1]) == [0, 0, 0]
    assert np.isnan(starts[3]).all()
    lengths = lengths_of_moves(moves, no_arcs)
    assert lengths[1] == 5.0
    assert lengths[2] == 0.0
    assert np.isnan(lengths[3])


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(0, 400)), max_size=8))
def test_what_frames_say_run_by_run_is_what_they_say_move_by_move(runs: list[tuple[int, int]]) -> None:
    """Short runs are looked up move by move, long ones run by run."""
    frames = [row for row, count in runs for _ in range(count)]
    moves = moves_of([[0.0, 0.0, 0.0]] * len(frames), [Kind.FEED] * len(frames), [-1] * len(frames), frames)
    if len(moves):
        frame = moves.frame.copy()
        frame[len(frames) // 2 :, 2] = (frame[len(frames) // 2 :, 2] + 1) % 3  # an axis may change alone
        moves = replace(moves, frame=frame)
    else:
        moves = replace(moves, frame=np.zeros((0, 3), np.int16), end_mm=np.zeros((0, 3)))
    table = np.arange(9.0).reshape(3, 3)
    told = by_frame(table, moves)
    assert told.shape == (len(frames), 3)
    assert np.array_equal(told, table[moves.frame, np.arange(3)])


@given(st.lists(st.integers(0, 20), unique=True).map(sorted))
def test_rows_that_follow_one_another_are_the_rows_asked_for(rows: list[int]) -> None:
    array = np.arange(63.0).reshape(21, 3)
    assert np.array_equal(rows_of(array, np.array(rows, np.intp)), array[np.array(rows, np.intp)])
