"""The byte kernel against plain Python: numbers against float(), the compiled functions against themselves uncompiled."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.program import _kernels as k
from firstoff.program import language
from firstoff.program.control import Control
from firstoff.program.moves import PLANE_AXES, Flag, Kind
from firstoff.program.record import Record
from firstoff.program.state import State


def frozen(text: str) -> np.ndarray:
    return np.frombuffer(text.encode(), np.uint8)


def run(text: str, function: object, rows: int = 64) -> tuple[int, State, Record]:
    state = State()
    state.set_units(21)
    state.whole[k.PLAIN] = 1
    state.real[k.ARC_TOLERANCE] = 0.002
    record = Record(state, rows)
    status = function(frozen(text), state.whole, state.real, record.moves, record.arcs)  # type: ignore[operator]
    return int(status), state, record


@settings(deadline=None)
@given(st.from_regex(r"[+-]?([0-9]{1,9}(\.[0-9]{0,6})?|\.[0-9]{1,15})", fullmatch=True))
def test_a_number_is_the_double_nearest_to_its_text(text: str) -> None:
    value, at, before, after = k.scan_number(frozen(text), 0, len(text))
    assert value == float(text)
    assert at == len(text)
    assert before + max(after, 0) == sum(c.isdigit() for c in text)
    assert (after >= 0) is ("." in text)
    assert math.copysign(1.0, value) == 1.0 or value < 0.0  # no minus before zero


@pytest.mark.parametrize("text", ["", "+", "-.", ".", "1234567890123456", "0.0000000000000001", "x"])
def test_what_is_no_number_is_left_to_python(text: str) -> None:
    assert k.scan_number(frozen(text or " "), 0, len(text))[1] == -1


LINES = ["G1 X1 Y-2.5 F300", "N10 g0 z 5", "(c) X1", "X1 X2", "G2 X3 Y4 I1 J0", "", "  ", "G5 X1", "M3", "X0. 12", "; c", "X1 ; c", "G91 G18", "S100", "X1(a(b))", "N1.5"]  # fmt: skip


@given(st.one_of(st.sampled_from(LINES), st.text(alphabet="GXYZIJKRFSN0123456789.-+ ();\t/%#[]aé", max_size=40)))
@settings(deadline=None)
def test_a_line_is_taken_apart_alike_compiled_or_not(line: str) -> None:
    results = []
    for function in (k.scan_line, k.scan_line.py_func):
        words, values = np.zeros(7, np.int64), np.zeros(26)
        text = frozen(line + "\nX9")
        following = function(text, 0, len(text), 1, words, values)
        seen = [(words >> 0).tolist(), [values[at] for at in range(26) if words[0] >> at & 1]]
        results.append((following, seen if following >= 0 else None))
    assert results[0] == results[1]


PROGRAMS = [
    "G0 X1 Y2 Z3\nG1 X2 F100\nY5\nG2 X3 Y6 I1 J0\nG3 X2 R1.5\nG91 X1\nG90 G18 G2 X3 Z4 K1 I0\n",
    "G1 F60 X1\nX2\nM3\nX3\n",
    "X1\n",
    "G0 X1\nG2 X5 Y0 I2 J0 F10\n",
    "N5 G90 G0 X-1.5\n\n(comment)\nG1 Z-1 F20 (deep)\n G1 X0 Y0 ; home\nG2 X1 Y1 R5\nX1 Y1 R5",
]


@pytest.mark.parametrize("text", PROGRAMS)
@pytest.mark.parametrize("rows", [64, 2])
def test_a_program_runs_alike_compiled_or_not(text: str, rows: int) -> None:
    (status, state, record), (slow_status, slow_state, slow_record) = (
        run(text, f, rows) for f in (k.read_plain, k.read_plain.py_func)
    )
    assert status == slow_status
    assert state.whole.tolist() == slow_state.whole.tolist()
    assert np.array_equal(state.real, slow_state.real, equal_nan=True)
    for name in ("frozen_moves", "frozen_arcs"):
        fast, slow = getattr(record, name)(), getattr(slow_record, name)()
        for field in fast.__slots__:
            assert getattr(fast, field).tobytes() == getattr(slow, field).tobytes(), field


def test_the_kernel_stops_before_it_writes_past_the_end() -> None:
    text = "G0 X1\n" + "X2\nX3\n" * 200
    status, state, record = run(text, k.read_plain)
    assert status == k.FULL
    assert state.moves == len(record.moves[0]) == 64
    record.grow()
    status = k.read_plain(frozen(text), state.whole, state.real, record.moves, record.arcs)
    assert status == k.FULL
    assert state.moves == 128
    assert record.moves[1][:66, 0].tolist() == [1.0, *[2.0, 3.0] * 32, 2.0]


def test_an_odd_line_changes_nothing() -> None:
    status, state, record = run("G0 X1\nG91 G2 X5 Y5 I9 J9 F100\n", k.read_plain)
    assert status == k.ODD
    assert (state.line, state.moves, state.distance, state.motion) == (2, 1, 90, 0)
    assert math.isnan(state.feed)
    assert record.frozen_moves().line.tolist() == [1]


@pytest.mark.parametrize("name", ["read_plain", "scan_line", "scan_number", "arc_by_centre", "arc_by_radius"])
def test_each_kernel_is_compiled_once(name: str) -> None:
    run(PROGRAMS[0], k.read_plain)
    assert len(getattr(k, name).signatures) <= 1


def test_numbers_shared_with_other_modules_agree() -> None:
    assert Flag.UNSURE == k.UNSURE
    assert Flag.RESTORED == k.RESTORED
    assert Flag.COMP_LEFT | Flag.COMP_RIGHT == k.COMPENSATED
    assert (Kind.RAPID, Kind.FEED, Kind.ARC) == (k.RAPID, k.STRAIGHT, k.ARC)
    assert {plane: k._plane_axes.py_func(plane) for plane in PLANE_AXES} == PLANE_AXES
    assert (k.LONGEST_LINE, k.LONGEST_N, k.LONGEST_PLAIN_N) == (
        language.LONGEST_LINE,
        language.LONGEST_NUMBER,
        language.LONGEST_CUSTOM_NUMBER,
    )
    assert Control.of().report is False


coordinate = st.floats(-100, 100).map(lambda value: round(value, 4))


@given(*[coordinate] * 4, st.floats(0.01, 200), st.sampled_from([1.0, -1.0]), st.booleans())
@settings(deadline=None)
def test_arcs_by_radius_meet_both_ends_and_turn_the_right_way(s1: float, s2: float, e1: float, e2: float, r: float, turn: float, long: bool) -> None:  # fmt: skip
    chord = math.hypot(e1 - s1, e2 - s2)
    out = np.zeros(5)
    status = k.arc_by_radius(s1, s2, e1, e2, -r if long else r, turn, out)
    if status != k.FITS:
        assert status == (k.SAME_POINT if chord <= k.SAME_PLACE_MM else k.SHORT)
        return
    for x, y in ((s1, s2), (e1, e2)):
        assert math.isclose(math.hypot(x - out[0], y - out[1]), r, rel_tol=1e-6, abs_tol=1e-6)
    assert math.copysign(1.0, out[k.SWEEP]) == turn
    wide = bool(abs(out[k.SWEEP]) > math.pi)
    assert wide is long or math.isclose(abs(out[k.SWEEP]), math.pi, abs_tol=1e-3)
    # turning the start about the centre by the sweep leads to the end
    angle = math.atan2(s2 - out[1], s1 - out[0]) + out[k.SWEEP]
    assert math.isclose(out[0] + r * math.cos(angle), e1, abs_tol=1e-4)
    assert math.isclose(out[1] + r * math.sin(angle), e2, abs_tol=1e-4)
    # and the same arc by its centre has the same sweep
    again = np.zeros(5)
    assert k.arc_by_centre(s1, s2, e1, e2, out[0], out[1], turn, again) == k.FITS
    assert math.isclose(again[k.SWEEP], out[k.SWEEP], abs_tol=1e-4)


@given(*[coordinate] * 6)
@settings(deadline=None)
def test_both_turns_about_one_centre_make_a_full_circle(
    s1: float, s2: float, e1: float, e2: float, c1: float, c2: float
) -> None:
    one, other = np.zeros(5), np.zeros(5)
    left = k.arc_by_centre(s1, s2, e1, e2, c1, c2, 1.0, one)
    right = k.arc_by_centre(s1, s2, e1, e2, c1, c2, -1.0, other)
    assert left == right
    if (
        left == k.FITS
        and math.hypot(e1 - s1, e2 - s2) > 1e-3
        and one[k.SWEEP] < 2 * math.pi
        and other[k.SWEEP] > -2 * math.pi
    ):
        assert math.isclose(one[k.SWEEP] - other[k.SWEEP], 2 * math.pi)
