"""The kernel and Python read the same program to the same result, bit for bit."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.program.control import Control
from firstoff.program.moves import Reading
from firstoff.program.reading import read_program, read_text

PROGRAMS = Path(__file__).resolve().parents[3] / "shared" / "programs"


def same(fast: Reading, slow: Reading) -> None:
    for name in ("moves", "arcs", "frames"):
        for field in fields(getattr(fast, name)):
            a, b = (getattr(getattr(reading, name), field.name) for reading in (fast, slow))
            assert a.dtype == b.dtype, field.name
            assert a.tobytes() == b.tobytes(), f"{name}.{field.name} differs at {np.flatnonzero(a != b)[:5]}"
    for name in ("blocks", "events", "problems", "units", "sha256", "control_used", "parameters"):
        assert repr(getattr(fast, name)) == repr(getattr(slow, name)), name  # repr: NaN equals NaN
    assert repr(fast.final) == repr(slow.final)
    assert repr(fast.end_mm) == repr(slow.end_mm)


def read_both(text: str | bytes, **said: str | float) -> Reading:
    readings = []
    for fast in (True, False):
        control = Control.of(None, said.get("base", "plain"))  # type: ignore[arg-type]
        control.said.update({key: value for key, value in said.items() if key != "base"})
        readings.append(read_text(text, "both.nc", control, fast=fast))
    same(*readings)
    return readings[0]


number = st.one_of(
    st.decimals(-300, 300, allow_nan=False, places=4).map(str),
    st.integers(-999, 999).map(str),
    st.sampled_from(["0.", "-.5", "+3.", "007.50", "1.23456789012345", "0.1234567890123456", "-0", "1e5", "", "1.2.3"]),
)
small = st.decimals(-20, 20, allow_nan=False, places=3).map(str)
blank = st.sampled_from(["", " ", "  ", "\t"])


@st.composite
def word(draw: st.DrawFn, letters: str, values: st.SearchStrategy[str] = number) -> str:
    letter = draw(st.sampled_from(letters))
    letter = letter.lower() if draw(st.booleans()) else letter
    return letter + draw(blank) + draw(values)


@st.composite
def plain_line(draw: st.DrawFn) -> str:
    """Mostly legal: codes, axes, feeds, arcs, comments."""
    parts = []
    if draw(st.integers(0, 3)) == 0:
        parts.append(f"N{draw(st.integers(0, 9999999))}")
    code = draw(
        st.sampled_from(
            ["", "", "", "G0", "G1", "G01", "G1.0", "G90", "G91", "G17", "G18", "G19", "G94", "G21", "G2", "G3", "G02"]
        )
    )
    parts.append(code)
    parts += [letter + draw(small) for letter in draw(st.sampled_from(["", "X", "Y", "Z", "XY", "XYZ", "YZ", "XZ"]))]
    if draw(st.integers(0, 2)) == 0:
        parts += [letter + draw(small) for letter in draw(st.sampled_from(["I", "IJ", "R", "JK", "IK", "IJK", "RI"]))]
    if draw(st.integers(0, 3)) == 0:
        parts.append(f"F{draw(st.integers(0, 900))}")
    if draw(st.integers(0, 5)) == 0:
        parts.insert(
            draw(st.integers(0, len(parts))),
            draw(st.sampled_from(["(a note)", "( X9 )", "(MSG, stop here)", "(unclosed", "; rest", "(a (b) c)"])),
        )
    return draw(blank).join(parts)


ODD_LINES = [
    "G20", "G21", "S1000 M3", "M5", "S2000", "S2000", "T1 M6", "G43 H1", "G49", "G55", "G54", "G92 X1 Y2", "G92.1", "G52 X3", "G53 G0 Z0",
    "G28", "G91 G28 Z0", "G81 X1 Y2 Z-3 R1 F50", "G98 G83 X5 Z-9 R2 Q3", "G80", "G68 X0 Y0 R30", "G69", "G41 D1", "G40", "M8", "M9",
    "G4 P1", "G93", "G95", "G94 F90", "/G0 X5", "#1=2", "G0 X#1", "G1 X[1+2]", "M0", "A90", "G38.2 Z-5 F30", "M31", "G61", "G64", "%",
    "G10 L2 P1 X5", "G10 L20 P1 X0", "G90.1", "G91.1", "M98 P5", "G1 X1 X2", "G43.1 Z3", "G9 G1 X3", "M99", "", "   ", "N5", "M30",
]  # fmt: skip


@st.composite
def program(draw: st.DrawFn) -> str:
    line = st.one_of(plain_line(), plain_line(), plain_line(), st.sampled_from(ODD_LINES))
    lines = draw(st.lists(line, max_size=25))
    head = draw(st.sampled_from([[], ["G21 G90 G94 G17 G0 X0 Y0 Z5 F100"], ["G20 G90 G1 X0 Y0 Z1 F10"], ["%"]]))
    end = draw(st.sampled_from(["\n", "\r\n"]))
    return end.join([*head, *lines, draw(st.sampled_from(["M30", "", "M2\n"]))])


@settings(max_examples=400, deadline=None)
@given(text=program(), base=st.sampled_from(["plain", "rs274ngc"]))
def test_any_program_reads_the_same_both_ways(text: str, base: str) -> None:
    if text.strip():
        read_both(text, base=base)


@settings(max_examples=100, deadline=None)
@given(text=program())
def test_least_increments_and_answers_change_nothing_about_that(text: str) -> None:
    if text.strip():
        read_both(
            text, whole_numbers="least increment", units_at_start="inch", arc_tolerance=0.02, g43_acts="with next Z"
        )


def test_a_unit_that_the_machine_starts_in_is_stated_by_its_first_word_both_ways() -> None:
    """F was given in inches, and G20 said so: after G21 it counts no more."""
    told = read_both("F5\nG20\nX1\nG21\nG1 X2\nM30", units_at_start="inch")
    assert any("no feed was given" in problem.what for problem in told.problems)


@settings(max_examples=200, deadline=None)
@given(st.lists(word("XYZIJKRFSNGTPQHDMABCO"), min_size=1, max_size=6).map(" ".join))
def test_a_single_line_of_any_words_reads_the_same_both_ways(line: str) -> None:
    read_both(f"G21 G90 G0 X0 Y0 Z0 F50\n{line}\nG1 X1 Y1 Z1\n")


@pytest.mark.parametrize("name", sorted(path.name for path in PROGRAMS.glob("*.nc")) if PROGRAMS.is_dir() else [])
@pytest.mark.parametrize("base", ["plain", "rs274ngc"])
def test_real_programs_read_the_same_both_ways(name: str, base: str) -> None:
    if base == "rs274ngc" and name.startswith("11"):
        pytest.skip("the long one is read in one base: it takes seconds without the kernel")
    same(*(read_program(PROGRAMS / name, Control.of(None, base), fast=fast) for fast in (True, False)))


def test_columns_grow_without_losing_rows() -> None:
    lines = [
        "G21 G90 G17 G0 X0 Y0 Z0 F100",
        *[f"G2 X{10 + (i % 2)} Y0 I{0.5 if i % 2 else -0.5} J0" for i in range(500)],
        "M30",
    ]
    reading = read_both("\n".join(lines))
    assert len(reading.moves) == 501
    assert reading.moves.line.tolist() == list(range(1, 502))
    assert all(
        not column.flags.writeable for column in (reading.moves.end_mm, reading.arcs.sweep_rad, reading.frames.base)
    )
