"""Canned cycles worked out into moves: NISTIR 6556, 3.5.16 and App. C.3, and custom where the report is silent."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.program.moves import Flag, Kind, Reading, What
from firstoff.program.reading import Start
from tests.program.reading_of import events, faults, read, told

HEAD = "G21 G17 G90 G94 G40 G49 G80"
AT_ZERO = Start((0.0, 0.0, 0.0), dict.fromkeys(range(1, 10), (0.0, 0.0, 0.0)))


def moves(reading: Reading, axes: str = "xyz") -> list[tuple[object, ...]]:
    """Kind and end of every move made by a cycle."""
    inside = np.flatnonzero(reading.moves.parent >= 0)
    columns = ["xyz".index(axis) for axis in axes]
    return [
        (Kind(reading.moves.kind[row]).name.lower(), *(round(v, 9) for v in reading.moves.end_mm[row, columns]))
        for row in inside
    ]


def heights(reading: Reading) -> list[tuple[object, ...]]:
    return moves(reading, "z")


def test_examples_of_the_report() -> None:
    """NISTIR 6556, 3.5.16.2, examples 1 and 2 (incremental, three repeats): the numbers from memory."""
    reading = read(
        "G21 G17 G94", "G90 G0 X1 Y2 Z3", "G90 G81 G98 X4 Y5 Z1.5 R2.8 F60", "M2", base="rs274ngc", start=AT_ZERO
    )
    assert moves(reading) == [("rapid", 4, 5, 3), ("rapid", 4, 5, 2.8), ("feed", 4, 5, 1.5), ("rapid", 4, 5, 3)]
    reading = read(
        "G21 G17 G94", "G90 G0 X1 Y2 Z3", "G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3 F60", "M2", base="rs274ngc", start=AT_ZERO
    )
    assert moves(reading) == [
        ("rapid", 1, 2, 4.8), ("rapid", 5, 7, 4.8), ("feed", 5, 7, 4.2), ("rapid", 5, 7, 4.8), ("rapid", 9, 12, 4.8), ("feed", 9, 12, 4.2),
        ("rapid", 9, 12, 4.8), ("rapid", 13, 17, 4.8), ("feed", 13, 17, 4.2), ("rapid", 13, 17, 4.8),
    ]  # fmt: skip
    assert reading.moves.parent[reading.moves.parent >= 0].tolist() == [0] * 4 + [1] * 3 + [2] * 3


@pytest.mark.parametrize(
    ("plane", "axes", "block"), [("G17", "xyz", "X1 Y2 Z-3"), ("G18", "zxy", "Z1 X2 Y-3"), ("G19", "yzx", "Y1 Z2 X-3")]
)
def test_cycles_act_along_the_normal_of_the_plane(plane: str, axes: str, block: str) -> None:
    reading = read(HEAD, "G0 X0 Y0 Z0", f"{plane} G81 G98 {block} R-1 F60", "M30", start=AT_ZERO)
    assert moves(reading, axes) == [("rapid", 1, 2, 0), ("rapid", 1, 2, -1), ("feed", 1, 2, -3), ("rapid", 1, 2, 0)]


def test_g83_leaves_the_hole_between_pecks() -> None:
    reading = read(HEAD, "G0 X0 Y0 Z10", "G98 G83 X1 Y1 Z-5 R1 Q2 F60", "M30", start=AT_ZERO)
    assert heights(reading) == [
        ("rapid", 10), ("rapid", 1), ("feed", -1), ("rapid", 1), ("rapid", -0.8), ("feed", -3), ("rapid", 1), ("rapid", -2.8), ("feed", -5), ("rapid", 10),
    ]  # fmt: skip
    higher = read(HEAD, "G0 X0 Y0 Z10", "G98 G83 X1 Y1 Z-5 R1 Q4 F60", "M30", start=AT_ZERO, g83_return="clear Z")
    assert ("rapid", 10) in heights(higher)[3:4]
    assert "machine.control.g83_return" in higher.control_used
    report = read(HEAD, "G0 X0 Y0 Z10", "G98 G83 X1 Y1 Z-5 R1 Q4 F60", "M2", start=AT_ZERO, base="rs274ngc")
    assert heights(report)[3] == ("rapid", 10)


def test_g73_only_breaks_the_chip() -> None:
    reading = read(HEAD, "G0 X0 Y0 Z10", "G99 G73 X1 Y1 Z-5 R1 Q2.5 F60", "M30", start=AT_ZERO)
    assert heights(reading) == [
        ("rapid", 10),
        ("rapid", 1),
        ("feed", -1.5),
        ("rapid", -1.3),
        ("feed", -4),
        ("rapid", -3.8),
        ("feed", -5),
        ("rapid", 1),
    ]


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 400), st.integers(1, 400), st.sampled_from(["G73", "G83"]))
def test_pecks_add_up_to_the_hole_and_never_leave_a_sliver(depth: int, peck: int, code: str) -> None:
    bottom, each = 1 - depth / 10, peck / 10
    reading = read(HEAD, "G0 X0 Y0 Z10", f"{code} X1 Y1 Z{bottom:.1f} R1 Q{each:.1f} F60", "M30", start=AT_ZERO)
    fed = [height for kind, height in heights(reading) if kind == "feed"]
    assert len(fed) == math.ceil(depth / peck)
    assert all(a > b for a, b in zip([1.0, *fed], fed, strict=False))
    assert fed[-1] == pytest.approx(bottom)
    assert max(a - b for a, b in zip([1.0, *fed], fed, strict=False)) <= each + 1e-9


def test_dwell_at_the_bottom_in_seconds_or_unknown() -> None:
    reading = read(HEAD, "G0 X0 Y0 Z5", "G82 X1 Y1 Z-1 R1 P0.25 F60", "X2", "M30", start=AT_ZERO)
    assert heights(reading)[2:4] == [("feed", -1), ("dwell", -1)]
    assert reading.moves.feed_mm_per_s[reading.moves.kind == Kind.DWELL].tolist() == [0.25, 0.25]
    milliseconds = read(HEAD, "G0 X0 Y0 Z5", "G89 X1 Y1 Z-1 R1 P250 F60", "M30", start=AT_ZERO, dwell_p="ms")
    assert milliseconds.moves.feed_mm_per_s[milliseconds.moves.kind == Kind.DWELL].tolist() == [0.25]


def test_taps_turn_back_on_the_way_out() -> None:
    reading = read(
        HEAD, "S300 M3", "G0 X0 Y0 Z5", "G84 X1 Y1 Z-4 R1 F150", "G80", "M4", "G74 X2 Y1 Z-4 R1", "M30", start=AT_ZERO
    )
    tap = reading.moves.kind == Kind.TAP
    assert reading.moves.end_mm[tap, 2].tolist() == [-4, 1, -4, 1]
    assert reading.moves.spindle_per_s[tap].tolist() == [5, -5, -5, 5]
    assert reading.moves.feed_mm_per_s[tap].tolist() == [2.5] * 4
    lead = read(HEAD, "S300 M3", "G0 X0 Y0 Z5", "G84 X1 Y1 Z-4 R1 F0.5", "M30", start=AT_ZERO, tap_feed="lead")
    assert lead.moves.feed_mm_per_s[lead.moves.kind == Kind.TAP].tolist() == [2.5, 2.5]
    per_rev = read(HEAD, "S300 M3", "G0 X0 Y0 Z5", "G95 G84 X1 Y1 Z-4 R1 F0.5", "M30", start=AT_ZERO)
    assert per_rev.moves.feed_mm_per_s[per_rev.moves.kind == Kind.TAP].tolist() == [2.5, 2.5]
    assert per_rev.moves.flags[per_rev.moves.kind == Kind.TAP][0] & Flag.PER_REV
    assert "does not turn counter-clockwise" in told(
        read(HEAD, "S300 M3", "G0 Z5", "G74 X1 Y1 Z-4 R1 F150", "M30", start=AT_ZERO)
    )


def test_boring_cycles_stop_and_feed_as_they_should() -> None:
    bored = read(HEAD, "S300 M3", "G0 X0 Y0 Z5", "G85 X1 Y1 Z-4 R1 F60", "M30", start=AT_ZERO)
    assert heights(bored)[2:] == [("feed", -4), ("feed", 1), ("rapid", 5)]
    letter = read(HEAD, "S300 M3", "G0 X0 Y0 Z5", "G85 X1 Y1 Z-4 R1 F60", "M2", start=AT_ZERO, base="rs274ngc")
    assert heights(letter)[2:] == [("feed", -4), ("feed", 5)]
    stopped = read(HEAD, "S300 M3", "G0 X0 Y0 Z5", "G86 X1 Y1 Z-4 R1 F60", "M30", start=AT_ZERO)
    assert stopped.moves.spindle_per_s.tolist() == [5, 5, 5, 5, 0]
    assert [event.number for event in events(stopped, What.SPINDLE)] == [3, 0, 3]
    fine = read(HEAD, "S300 M3", "G0 X0 Y0 Z5", "G76 X1 Y1 Z-4 R1 I0.2 F60", "M30", start=AT_ZERO)
    assert moves(fine)[2:] == [("feed", 1, 1, -4), ("rapid", 1.2, 1, -4), ("rapid", 1.2, 1, 5), ("rapid", 1, 1, 5)]
    by_hand = read(HEAD, "S300 M3", "G0 X0 Y0 Z5", "G88 X1 Y1 Z-4 R1 F60", "G0 X0", "Z5", "M30", start=AT_ZERO)
    assert by_hand.final.stopped
    assert faults(by_hand)[0].judged_again_from == 6
    assert "G86 stops and restarts" in told(read(HEAD, "G0 X0 Y0 Z5", "G86 X1 Y1 Z-4 R1 F60", "M30", start=AT_ZERO))


def test_back_boring_of_the_report() -> None:
    """NISTIR 6556, 3.5.16.8, the twelve steps (from memory)."""
    reading = read(
        "G21 G17 G94 S500 M3",
        "G90 G0 X0 Y0 Z5",
        "G87 X1 Y1 Z-6 R1 I0.5 J0 K-4 F60",
        "M2",
        base="rs274ngc",
        start=AT_ZERO,
    )
    assert not faults(reading)
    assert moves(reading) == [
        ("rapid", 1, 1, 5), ("rapid", 1, 1, 1), ("rapid", 1.5, 1, 1), ("rapid", 1.5, 1, -6), ("rapid", 1, 1, -6), ("feed", 1, 1, -4), ("feed", 1, 1, -6),
        ("rapid", 1.5, 1, -6), ("rapid", 1.5, 1, 5), ("rapid", 1, 1, 5),
    ]  # fmt: skip
    refused = read(HEAD, "S500 M3", "G0 X0 Y0 Z5", "G87 X1 Y1 Z-6 R1 Q0.5 F60", "M30", start=AT_ZERO)
    assert "G87 bores from below" in told(refused)
    assert not (refused.moves.parent >= 0).any()


def test_initial_level_is_that_before_the_series() -> None:
    reading = read(
        HEAD, "G0 X0 Y0 Z8", "G99 G81 X1 Y1 Z-1 R2 F60", "X2", "G98 X3", "G83 X4 Z-1 Q9", "G0 X5", "M30", start=AT_ZERO
    )
    ends = [reading.moves.end_mm[np.flatnonzero(reading.moves.parent == hole)[-1], 2] for hole in range(4)]
    assert ends == [2, 2, 8, 8]


def test_incremental_series_counts_r_from_the_same_height() -> None:
    """By custom R counts from the height before the series; by the report from where the axis stands."""
    block = ["G0 X0 Y0 Z10", "G91 G99 G81 X1 R-8 Z-3 F60", "X1", "X1"]
    custom = read(HEAD, *block, "M30", start=AT_ZERO)
    assert [height for kind, height in heights(custom) if kind == "feed"] == [-1, -1, -1]
    report = read("G21 G17 G90 G94", *block, "M2", start=AT_ZERO, base="rs274ngc")
    assert [height for kind, height in heights(report) if kind == "feed"] == [-1, -9, -17]


def test_repeats_step_on_in_g91_only() -> None:
    reading = read(HEAD, "G0 X0 Y0 Z5", "G91 G81 X2 Y1 R-4 Z-3 L3 F60", "M30", start=AT_ZERO)
    cut = reading.moves.kind == Kind.FEED
    assert reading.moves.end_mm[cut].tolist() == [[2, 1, -2], [4, 2, -2], [6, 3, -2]]
    assert reading.end_mm == (6.0, 3.0, 5.0)
    stays = read(HEAD, "G0 X0 Y0 Z5", "G81 X2 Y1 R1 Z-3 L3 F60", "M30", start=AT_ZERO)
    assert stays.moves.end_mm[stays.moves.kind == Kind.FEED].tolist() == [[2, 1, -3]] * 3


@pytest.mark.parametrize(
    ("block", "words"),
    [
        ("G81 X1 Y1 Z-1 F60", "no R"), ("G83 X1 Y1 Z-1 R1 F60", "no Q"), ("G81 X1 Y1 Z-1 R1 L1.5 F60", "L must be"), ("G81 X1 Z-1 R1 K3 F60", "K in a cycle"),
        ("G81 X1 Y1 Z-1 R1 Q1 F60", "nothing in this block uses Q"), ("G41 D1 G1 X50 F60\nG81 X1 Y1 Z-1 R1", "no canned cycle while radius"), ("G81 R1 F60", "all axis words are missing"),
        ("G82 X1 Y1 Z-1 R1 P-1 F60", "a negative dwell"), ("G83 X1 Y1 Z-9 R1 Q0.0005 F60", "no drilling"), ("G81 X1 Z5 R1 F60", "lies above its R plane"),
    ],
)  # fmt: skip
def test_what_a_cycle_cannot_do_without(block: str, words: str) -> None:
    reading = read(
        HEAD, "G0 X0 Y0 Z5", *block.split("\n"), "M30", start=Start((0.0, 0.0, 0.0), AT_ZERO.origins_mm, {}, {1: 6.0})
    )
    assert words in told(reading)
    assert faults(reading)


def test_a_return_height_that_nobody_knows_is_not_made_up() -> None:
    reading = read(HEAD, "G98 G81 X1 Y1 Z-1 R1 F60", "G0 X2", "Z5", "X3", "M30")
    assert "G98 returns to the height before the cycle" in told(reading)
    assert faults(reading)[0].judged_again_from == 4
    assert not faults(read(HEAD, "G99 G81 X1 Y1 Z-1 R1 F60", "M30"))


def test_moves_of_a_cycle_carry_its_flag_and_hole() -> None:
    reading = read(HEAD, "G0 X0 Y0 Z5", "G81 X1 Y1 Z-1 R1 F60", "X2 Y2", "G80", "G0 X3", "M30", start=AT_ZERO)
    inside = reading.moves.parent >= 0
    assert ((reading.moves.flags & Flag.CYCLE) > 0).tolist() == inside.tolist()
    assert sorted(set(reading.moves.parent.tolist())) == [-1, 0, 1]
    assert reading.final.motion == "G1"
