"""What is no program text, and what a text may not hold: cut-off files, second programs, conflict marks, wrong encodings."""

from __future__ import annotations

from pathlib import Path

import pytest

from firstoff.errors import InputError
from firstoff.program.control import Control
from firstoff.program.moves import DEPENDS, FAULT, NOTE, Reading
from firstoff.program.reading import read_program, read_text
from tests.program.reading_of import faults, read, told

PLAIN = "G21 G90 G17 G94\nG54 G0 X1 Y1 Z1\nM30\n"


def bytes_read(data: bytes) -> Reading:
    return read_text(data, "file.nc", Control.of())


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b" \r\n\t\n", "empty"),
        (PLAIN.encode("utf-16"), "UTF-16"),
        (PLAIN.encode("utf-16-le"), "UTF-16"),
        (PLAIN.encode("utf-16-be"), "UTF-16"),
        (b"G0 X1\nG0 \0X2\n", "zero byte"),
        (PLAIN.replace("\n", "\r").encode(), "CR alone"),
    ],
)
def test_what_is_no_text_is_refused_with_one_clear_fault(data: bytes, words: str) -> None:
    with pytest.raises(InputError) as refusal:
        bytes_read(data)
    (fault,) = refusal.value.faults
    assert words in str(fault)
    assert str(fault).startswith("file.nc")


def test_a_zero_byte_is_named_by_line() -> None:
    with pytest.raises(InputError, match=r"file\.nc:2: .* byte 10"):
        bytes_read(b"G0 X1\nG0 \0X2\n")


def test_a_missing_file_is_an_input_error(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="check the name"):
        read_program(tmp_path / "none.nc", Control.of())
    with pytest.raises(InputError):
        read_program(tmp_path, Control.of())


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"\xef\xbb\xbf" + PLAIN.encode(), "byte-order mark"),
        (("(Ø6 fr\u00e4ser)\n" + PLAIN).encode(), "read as UTF-8"),
        (("(\u00d86 fr\u00e4ser)\n" + PLAIN).encode("latin-1"), "read as Latin-1"),
        (b"G21\rG0 Z5\n" + PLAIN.encode(), "CR alone"),
    ],
)
def test_what_a_control_may_stumble_over_is_noted(data: bytes, words: str) -> None:
    reading = bytes_read(data)
    assert words in told(reading)
    assert not faults(reading)
    assert reading.end_mm == (1.0, 1.0, 1.0)


def test_line_ends_do_not_matter() -> None:
    unix, dos = bytes_read(PLAIN.encode()), bytes_read(PLAIN.replace("\n", "\r\n").encode())
    bare = bytes_read(PLAIN.rstrip("\n").encode())
    assert unix.text == dos.text == bare.text
    assert unix.moves.line.tolist() == dos.moves.line.tolist() == bare.moves.line.tolist() == [2]
    assert unix.lines == 3
    assert unix.sha256 != dos.sha256, "the stamp is that of the bytes"


HEAD = "G21 G90 G17 G94 G54"


def test_a_text_without_an_end() -> None:
    assert "ends without M2, M30" in told(read(HEAD, "G0 X1"))
    assert not faults(read(HEAD, "G0 X1"))
    assert [p.kind for p in faults(read(HEAD, "G0 X1", base="rs274ngc", file_end="fault"))] == [FAULT]
    assert not faults(read("%", HEAD, "G0 X1", "%", base="rs274ngc", file_end="fault"))
    assert read("%", HEAD, "G0 X1", "%").final.ended_by == "%"


@pytest.mark.parametrize("last", ["G1 X", "G1 X1 Y", "G1 X1 Y[1+", "(half a comm", "G1 X1 Y-"])
def test_a_text_cut_off_in_mid_line(last: str) -> None:
    reading = read_text("\n".join([HEAD, "G0 X1 Y1 Z1", last]), "cut.nc", Control.of())
    assert "probably cut off" in told(reading)
    assert all(p.judged_again_from == 0 for p in faults(reading) if "cut off" not in p.what)


def test_subprograms_behind_the_end_are_fine() -> None:
    text = [HEAD, "M98 P20", "M30", "O20", "G0 X1", "M99"]
    assert not faults(read(*text))
    assert not [p for p in read(*text).problems if "behind" in p.what]
    uncalled = read(HEAD, "G0 X1", "M30", "O20", "G0 X1", "M99")
    assert not faults(uncalled)
    assert "O20 stands behind the end and is never called" in told(uncalled)


@pytest.mark.parametrize(
    "lines",
    [
        (HEAD, "G0 X1", "M30", HEAD, "G0 X2", "M30"),
        ("O1", HEAD, "G0 X1", "M30", "O2", HEAD, "G0 X2", "M30"),
        ("%", HEAD, "G0 X1", "M30", "%", "%", HEAD, "G0 X2", "M30", "%"),
        ("O1", HEAD, "G0 X1", "O2", "G0 X2", "M30"),
        (HEAD, "G0 X1", "O2", "G0 X2", "M30"),
    ],
)
def test_two_programs_in_one_file(lines: tuple[str, ...]) -> None:
    reading = read(*lines)
    assert faults(reading), reading.problems
    assert any("second program" in p.what or "runs on into" in p.what for p in faults(reading))


def test_a_jump_over_an_end_is_no_second_program() -> None:
    reading = read(HEAD, "#1=1", "IF[#1EQ1]GOTO9", "M30", "N9 G0 X1", "M30", macro_family="macro")
    assert not faults(reading)
    assert reading.end_mm[0] == 1.0


def test_conflict_marks_stop_trust_until_everything_is_given_again() -> None:
    reading = read(
        HEAD, "G0 X0 Y0 Z5", "<<<<<<< ours", "G0 X1", "=======", "G0 X2", ">>>>>>> theirs", "G0 X3 Y3 Z3", "X4", "M30"
    )
    assert [(p.line, p.judged_again_from) for p in faults(reading)] == [(3, 8), (5, 8), (7, 8)]
    assert all("version control" in p.what for p in faults(reading))
    assert not reading.moves.flags[-1] & 256


def test_code_behind_a_semicolon_is_not_taken_for_a_comment() -> None:
    assert "looks like code" in told(read(HEAD, "G0 X1 ; Y2", "M30"))
    for harmless in ("G0 X1 ; rough", "G0 X1 ; T1 drill", "; G0 X1", "G0 X1 (;Y2)", "G0 X1;"):
        assert not faults(read(HEAD, harmless, "M30")), harmless


def test_notes_and_questions_are_told_once_with_a_count() -> None:
    reading = read(HEAD, "G0 X0 Y0", *["G1 F50", "G4 P1"] * 40, "M30")
    notes = [p for p in reading.problems if "sets the mode only" in p.what]
    assert len(notes) == 1
    assert notes[0].kind == NOTE
    assert "(40 times, first here)" in notes[0].what
    asked = read_text("G21\n" + "G4 P1\n" * 30 + "M30\n", "a", Control.of())
    assert [(p.kind, p.fact) for p in faults(asked)] == [(DEPENDS, "machine.control.dwell_p")]
    assert "(30 times" in faults(asked)[0].what


def test_a_flood_of_faults_is_counted_not_listed() -> None:
    reading = read_text("G21\n" + "Q!\n" * 5000, "a", Control.of())
    assert len(reading.problems) < 1100
    assert "more problems from here on" in told(reading)


def test_problems_come_in_the_order_of_the_text_with_line_and_column() -> None:
    reading = read(HEAD, "G0 X1 U5", "  G1 X2 X3 F50", "M30")
    assert [(p.line, p.column, p.text) for p in faults(reading)] == [(2, 7, "U5"), (3, 9, "X3")]


@pytest.mark.parametrize(
    "loop",
    [
        ("N1 G0 X1", "GOTO 1"), ("WHILE[1EQ1]DO1", "G91 G0 X1", "END1"), ("O5", "M98 P5"), ("#1=0", "N1 #1=#1+1", "IF[#1GT0]GOTO1"),
        ("o9 sub", "o9 call", "o9 endsub", "o9 call"), ("M98 P7", "M30", "O7", "M98 P8", "M99", "O8", "M98 P7", "M99"),
    ],
)  # fmt: skip
def test_what_never_ends_is_told_not_run(loop: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("firstoff.program.flow.MOST_STEPS", 3000)
    reading = read(HEAD, *loop, "M30")
    assert faults(reading)
    assert faults(reading)[0].judged_again_from == 0


def test_a_loop_does_not_hide_a_second_program() -> None:
    loop = ("#1=0", "WHILE[#1LT2]DO1", "#1=#1+1", "END1")
    assert any("second program" in p.what for p in faults(read(HEAD, *loop, "M30", HEAD, "G0 X2", "M30")))
    untaken = read(HEAD, "#1=0", "IF[#1EQ1]GOTO9", "M30", "N9 G0 X1", "M30", macro_family="macro")
    assert not faults(untaken), "an alarm branch behind the end that this run never took"
