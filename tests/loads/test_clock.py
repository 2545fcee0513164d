"""The time at every place of the pieces."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.loads.clock import Clock
from firstoff.path.pieces import Pieces
from firstoff.path.stations import lengths_of_pieces, stations
from firstoff.program.moves import Arcs
from tests.loads import by_hand


def clock_of(pieces: Pieces, moves: int, feed: float = 10.0) -> tuple[Clock, np.ndarray]:
    length = np.bincount(pieces.move, weights=np.where(pieces.ghost, 0, lengths_of_pieces(pieces)), minlength=moves)
    made = by_hand.moves_of([(float(n), 0, 0) for n in range(moves)], feed)
    return Clock(by_hand.timeline_of(made, length), pieces), length


@given(st.lists(st.floats(0.02, 3.0), min_size=1, max_size=30), st.sampled_from([0.05, 0.1, 0.7]))
@settings(deadline=None, max_examples=40)
def test_stations_on_lines_fill_the_time_of_their_moves(steps: list[float], step: float) -> None:
    """However blocks share stations, their spans follow one another and sum up to the whole time."""
    ends = [(x, 0.0, 0.0) for x in np.cumsum(steps)]
    moves = by_hand.moves_of(ends, 10.0)
    pieces = by_hand.pieces_of(moves)
    clock, length = clock_of(pieces, len(ends))
    made = next(stations(pieces, step))
    times = clock.times(made)
    assert times.span_s.sum() == pytest.approx(length.sum() / 10.0, rel=1e-6)
    assert times.begin_s[1:] == pytest.approx((times.begin_s + times.span_s)[:-1], abs=1e-6)
    assert times.begin_s == pytest.approx((made.tip_mm[:, 0] - made.step_mm) / 10.0, abs=1e-5)
    assert np.all(times.since <= made.move)
    spoken = np.concatenate([np.arange(a, b + 1) for a, b in zip(times.since, made.move, strict=True)])
    assert set(spoken.tolist()) == set(range(len(ends)))


@pytest.mark.parametrize("turns", [0.3, 1.0, 2.6])
@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_stations_on_an_arc_or_a_helix(turns: float, sense: float) -> None:
    sweep, rise, radius = sense * turns * 2 * math.pi, -3.0, 4.0
    end = (radius * math.cos(sweep), radius * math.sin(sweep), rise)
    arcs = Arcs(np.zeros((1, 2)), np.array([17], np.uint8), np.array([radius]), np.array([sweep]), np.array([rise]))
    one = np.zeros(1, np.int32)
    flag = np.zeros(1, bool)
    pieces = Pieces(
        one, one + 1, np.array([[radius, 0.0, 0.0]]), np.array([end]), one, arcs, flag, flag, np.empty(0, np.int32)
    )
    clock, length = clock_of(pieces, 1)
    made = next(stations(pieces, 0.2))
    times = clock.times(made)
    assert times.span_s.sum() == pytest.approx(length[0] / 10.0, rel=1e-6)
    assert np.all(times.span_s > 0)
    assert times.begin_s + times.span_s == pytest.approx(np.cumsum(made.step_mm) / 10.0, rel=1e-4)


def test_ghosts_take_no_time() -> None:
    moves = by_hand.moves_of([(5.0, 0, 0), (10.0, 0, 0)], 10.0)
    pieces = by_hand.pieces_of(moves)
    doubled = Pieces(
        np.array([0, 1, 1], np.int32), np.ones(3, np.int32), pieces.start_mm[[0, 1, 1]], pieces.end_mm[[0, 1, 1]],
        np.full(3, -1, np.int32), pieces.arcs, np.zeros(3, bool), np.array([False, True, False]), pieces.unknown,
    )  # fmt: skip
    clock, _ = clock_of(doubled, 2)
    made = next(stations(replace(doubled), 0.5))
    real = made.piece != 1
    kept = replace(made, **{name: getattr(made, name)[real] for name in type(made).__slots__})
    times = clock.times(kept)
    assert times.span_s.sum() == pytest.approx(1.0, rel=1e-6)
    assert float((times.begin_s + times.span_s).max()) == pytest.approx(1.0)
