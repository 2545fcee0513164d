"""Whatever the text: no exception, and no word that silently goes missing."""

from __future__ import annotations

import random
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.errors import InputError
from firstoff.program.control import Control
from firstoff.program.moves import NOTE, Kind, Reading
from firstoff.program.reading import read_text

PROGRAMS = Path(__file__).resolve().parents[3] / "shared" / "programs"
SEED = 20260504
PLACES = 500

FACE = """%
O0100 (FACE AND CHAMFER OF A LOGGER LID)
G21 G17 G90 G94 G98 G40 G49 G80
G54
T2 M6
G0 X-12.5 Y4.0 S9000 M3
G43 H2 Z25.
M8
G0 Z2.5
G1 Z-0.3 F350.
X76.5 F900.
G3 X76.5 Y12. I0. J4.
G1 X-12.5
G2 X-12.5 Y20. R4.
G1 X76.5
G0 Z25.
M9
M5
M30
%
"""
HOLES = """(FOUR HOLES FOR THE LOGGER'S FEET)
G21 G17 G90 G94 G40 G49 G80
T5 M6
S4200 M3
G54 G0 X5. Y5.
G43 H5 Z20.
M7
G98 G81 X5. Y5. Z-6.5 R2. F120.
X59.
Y35.
X5.
G80
G0 Z20. M9
M5
M30
"""
RELIEF = """G20 G17 G90 G94
N10 T1 M6
N20 S12000 M3
N30 G54 G0 X0.1 Y0.1
N40 G43 H1 Z0.5
N50 G1 Z-0.02 F8.
N60 G91 X0.25 F20.
N70 Y0.25
N80 X-0.25 Y-0.125
N90 G90 X0.1 Y0.1
N100 G0 Z0.5
N110 M5
N120 M2
"""
OWN = {"face": FACE, "holes": HOLES, "relief": RELIEF}


def read(text: str | bytes) -> Reading | None:
    """None where the text is refused as no text at all."""
    try:
        return read_text(text, "changed.nc", Control.of())
    except InputError as refusal:
        if not all(fault.what and fault.file == "changed.nc" for fault in refusal.faults):
            pytest.fail("a refusal must say what and where")
        return None


def changed_texts(text: str, places: int, seed: int) -> list[tuple[str, str]]:
    """One character deleted, doubled or replaced, at `places` places."""
    chance = random.Random(seed)
    letters = sorted(set(text) | set("GXYZIJRFM0159.-+ ()/;%#[]:O\n"))
    changes = []
    for _ in range(places):
        at = chance.randrange(len(text))
        how = chance.choice(["delete", "double", "replace"])
        with_ = {"delete": "", "double": text[at] * 2, "replace": chance.choice(letters)}[how]
        changes.append((f"{how} {text[at]!r} at {at} -> {with_!r}", text[:at] + with_ + text[at + 1 :]))
    return changes


# --- a second, much simpler reader of clean programs, to know which words must have counted ------------------------------

WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")
KNOWN = {
    "G": {
        0,
        1,
        2,
        3,
        9,
        15,
        17,
        18,
        19,
        20,
        21,
        40,
        43,
        49,
        50,
        *range(54, 60),
        61,
        64,
        67,
        69,
        80,
        81,
        90,
        91,
        94,
        97,
        98,
        99,
    },
    "M": {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 13, 14, 19, 29, 30, 48, 49, 60},
}


def replay(text: str) -> list[tuple[float, float, float]] | None:
    """Position after every line that names X, Y or Z (mm); None where the text holds what this reader has never heard of."""
    at, unit, absolute, motion, initial = [0.0, 0.0, 0.0], 1.0, True, -1, None
    ends: list[tuple[float, float, float]] = []
    r_plane = 0.0
    for number, raw in enumerate(text.split("\n")):
        line = re.sub(r"\([^()]*\)", "", raw).split(";")[0]
        line = re.sub(r"\s", "", line).upper()
        line = re.sub(r"^[O:]\d+$|^N\d+|^%$", "", line)
        words = WORD.findall(line)
        if "".join(letter + value for letter, value in words) != line or number > 10_000:
            return None
        if any(letter in "LPQABCDKE" for letter, _ in words):
            return None
        codes = [float(value) for letter, value in words if letter == "G"]
        if any(code not in KNOWN["G"] for code in codes) or any(
            float(v) not in KNOWN["M"] for k, v in words if k == "M"
        ):
            return None
        unit = 25.4 if 20.0 in codes else 1.0 if 21.0 in codes else unit
        absolute = True if 90.0 in codes else False if 91.0 in codes else absolute
        for code in codes:
            if code in (0, 1, 2, 3, 80, 81):
                initial = at[2] if code == 81 and motion != 81 else initial
                motion = int(code)
        axes = {letter: float(value) * unit for letter, value in words if letter in "XYZ"}
        r_plane = next((float(value) * unit for letter, value in words if letter == "R"), r_plane)
        for axis, letter in enumerate("XYZ"):
            if letter in axes and not (letter == "Z" and motion == 81):
                at[axis] = axes[letter] if absolute else at[axis] + axes[letter]
        if motion == 81 and axes:
            at[2] = max(initial if initial is not None else at[2], r_plane) if 99.0 not in codes else r_plane
        if axes:
            ends.append((at[0], at[1], at[2]))
        if any(letter == "M" and float(value) in (2, 30) for letter, value in words):
            break
    return ends


def ends_by_line(reading: Reading) -> list[tuple[float, float, float]]:
    """Position after every line that moved."""
    line = reading.moves.line
    last = np.flatnonzero(np.append(line[1:] != line[:-1], True))  # no line of these programs runs twice in a row
    moved = [row for row in last if reading.moves.kind[row] != Kind.DWELL]
    return [tuple(reading.moves.end_mm[row].tolist()) for row in moved]


@pytest.mark.parametrize("name", OWN)
def test_the_simple_reader_agrees_on_the_clean_programs(name: str) -> None:
    reading = read(OWN[name])
    assert reading is not None
    assert [problem for problem in reading.problems if problem.kind != NOTE] == []
    expected = replay(OWN[name])
    assert expected is not None
    got = ends_by_line(reading)
    assert np.allclose(got, expected)


def test_one_changed_character_never_raises_and_never_loses_a_word() -> None:
    per_program = PLACES // len(OWN) + 1
    judged, beyond = 0, []
    for name, text in OWN.items():
        for what, changed in changed_texts(text, per_program, SEED):
            reading = read(changed)
            if reading is None or any(problem.kind != NOTE for problem in reading.problems):
                continue
            expected = replay(changed)
            if expected is None:
                beyond.append(f"{name}: {what}")
                continue
            got = ends_by_line(reading)
            assert len(got) == len(expected), f"{name}: {what}"
            assert np.allclose(got, expected, atol=1e-9), f"{name}: {what}"
            judged += 1
    assert judged > PLACES // 4, "most changes inside numbers and comments leave a legal program"
    assert len(beyond) <= judged // 50, "legal, but more than the simple reader knows"


@pytest.mark.skipif(not PROGRAMS.is_dir(), reason="the real programs are not here")
def test_one_changed_character_of_real_programs_never_raises() -> None:
    names = sorted(path for path in PROGRAMS.glob("*.nc") if path.stat().st_size < 40_000)
    for path in names:
        text = path.read_text()
        for what, changed in changed_texts(text, PLACES // len(names) + 1, SEED):
            reading = read(changed)
            assert reading is None or reading.lines > 0, f"{path.name}: {what}"


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes(data: bytes) -> None:
    read(data)


@settings(max_examples=300, deadline=None)
@given(st.text(alphabet="GMXYZIJKRFSTPQLDHNOABC0123456789.-+ ()[]#=*/<>;%\n:UWEIFTHENDOGOTOWHILEsubcall", max_size=120))
def test_any_text_of_the_languages_letters(text: str) -> None:
    read(text)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.sampled_from([
            "G0 X1 Y1 Z1", "G1 X2 F100", "G2 X3 I1", "G3 Y1 R-5", "G81 X1 Z-1 R1", "G73 Z-2 R1 Q0.5", "G76 X1 Z-3 R1 Q1", "G87 X1 Z-1 R1 I1 J1 K1",
            "G88 Z-1 R1", "G74 Z-1 R1", "G84 X1 Z-1 R1 L3", "G91", "G90", "G18", "G19", "G17", "G20", "G21", "G92 X0", "G92.2", "G92.3",
            "G10 L2 P1 X1", "G10 L20 P0 Z0", "G10 L1 P1 Z5", "G28", "G30 Z1", "G53 Z0", "G43 H1", "G43.1 Z2", "G49", "G41 D1", "G40", "G68 R9",
            "G69", "G16", "G51 X1", "G54.1 P2", "G54", "G55", "M3 S100", "M6", "T1", "M98 P10 L2", "O10", "M99", "M30", "#1=#1+1", "#1=0",
            "WHILE[#1LT3]DO1", "END1", "IF[#1GT2]GOTO5", "N5", "GOTO 5", "G65 P10 A1", "o1 sub", "o1 endsub", "o1 call", "G93", "G95", "G94",
            "G38.2 Z-9 F1", "G31 X5", "A5", "M0 (turn the part)", "G52 X1", "G96 S1", "G4 P1", "G4 X1", "G61", "G9", "/G0 X9", "%", "G99", "G98",
        ]),
        max_size=30,
    )
)  # fmt: skip
def test_any_order_of_blocks(lines: list[str]) -> None:
    reading = read("\n".join([*lines, "M30"]))
    assert reading is not None
    unsure = (reading.frames.base[reading.moves.frame, np.arange(3)] == 31).any(axis=1)
    assert not (unsure & ((reading.moves.flags & 256) == 0)).any(), "what stands nowhere known is never trusted"
    assert all(problem.what and problem.kind in ("fault", "depends", "note") for problem in reading.problems)
