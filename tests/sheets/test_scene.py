"""The way that a browser is sent: bounded, and worst margins survive."""

from __future__ import annotations

import json
import struct

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from firstoff.sheets.scene import JUMP, RAPID, Way, packed, thinned, tool_numbers, way_points

from . import hand_followed


def way_of(marks: list[int], steps: list[float]) -> Way:
    count = len(marks)
    at = np.zeros((count, 3), dtype="<f4")
    at[:, 0] = np.cumsum(steps)
    lines = np.arange(1, count + 1, dtype="<u4")
    tools = np.array([k // 40 % 3 for k in range(count)], dtype="u1")
    return Way(
        at, np.arange(count, dtype="<f4"), lines, np.array(marks, dtype="u1"), tools, np.arange(count, dtype="<i4")
    )


MARKS = st.lists(st.sampled_from([0, 1, 2, 3, 4, RAPID, RAPID | 3, JUMP, JUMP | RAPID]), min_size=2, max_size=300)


@given(MARKS, st.integers(2, 40), st.data())
def test_a_thinned_way_keeps_ends_jumps_order_and_worst_margins(
    marks: list[int], most: int, data: st.DataObject
) -> None:
    steps = data.draw(st.lists(st.floats(0.01, 3.0), min_size=len(marks), max_size=len(marks)))
    way = way_of(marks, steps)
    thin = thinned(way, most)
    assert set(thin.line.tolist()) <= set(way.line.tolist())
    assert (np.diff(thin.line.astype(int)) > 0).all()
    assert thin.line[-1] == way.line[-1]
    jumps = way.line[(way.mark & JUMP) > 0]
    assert set(jumps.tolist()) <= set(thin.line.tolist())
    assert ((thin.mark & JUMP) > 0).sum() == jumps.size
    assert (thin.mark & 7).max() == (way.mark & 7).max()
    assert thin.tool.tolist() == [way.tool[line - 1] for line in thin.line.tolist()]
    assert thin.move.tolist() == [line - 1 for line in thin.line.tolist()]
    starts = np.r_[0, thin.line[:-1]]
    for first, last, mark in zip(starts.tolist(), thin.line.tolist(), thin.mark.tolist(), strict=True):
        assert mark & 7 == max(marks[first:last][k] & 7 for k in range(last - first))
        assert len(set(way.tool[first:last].tolist())) == 1  # no stretch stands for two tools


def test_a_long_way_is_bounded_and_a_short_one_is_left_alone() -> None:
    long = way_of([0] * 50_000, [0.1] * 50_000)
    long = Way(*(getattr(long, name) for name in ("at", "time_s", "line", "mark")), np.zeros(50_000, "u1"), long.move)
    assert thinned(long, 1000).mark.size <= 1001
    short = way_of([0, 3, 0], [1.0, 1.0, 1.0])
    assert thinned(short, 3) is short


def test_each_point_names_the_row_of_the_tool_that_makes_its_move() -> None:
    whole = hand_followed.examination()
    way, called = way_points(whole), whole.case.moves.tool
    assert way.move.size
    numbers = tool_numbers(called)
    assert [numbers[row] for row in way.tool.tolist()] == called[way.move].tolist()
    assert (whole.case.moves.line[way.move] == way.line).all()


def test_the_block_is_read_back_as_it_was_packed() -> None:
    arrays = {"mark": np.array([1, 2, 3], dtype="u1"), "time": np.array([0.5, 1.5], dtype="<f4")}
    block = packed({"zero": "G54"}, arrays)
    (size,) = struct.unpack("<I", block[:4])
    head = json.loads(block[4 : 4 + size])
    assert head["zero"] == "G54"
    assert [one["name"] for one in head["arrays"]] == ["mark", "time"]
    assert np.frombuffer(block, "u1", 3, 4 + size).tolist() == [1, 2, 3]
    assert np.frombuffer(block, "<f4", 2, 4 + size + 4).tolist() == [0.5, 1.5]
