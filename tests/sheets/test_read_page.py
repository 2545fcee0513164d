"""`firstoff read` for a person: what a program does, and each problem with a caret under its column."""

from __future__ import annotations

import pytest
from rich.cells import cell_len
from rich.console import Console

from firstoff.program.moves import Problem
from firstoff.program.summary import summarise
from firstoff.sheets.records import read_record
from firstoff.sheets.terminal import print_read
from tests.sheets import hand_built as made
from tests.sheets.test_terminal_page import BANNED, Output

PROBLEMS = (
    Problem(11, 6, "F2400.", "No such thing. Allowed: F followed by a number.", "fault"),
    Problem(15, 4, "(TURN THE CLAMP)", "Two readings of this.", "depends", "machine.control.after_g80"),
    Problem(13, 1, "X-10.", "X goes where it came from.", "note"),
)


def shown(width: int, problems: tuple[Problem, ...] = PROBLEMS, *, lines: bool = True, encoding: str = "utf-8") -> str:
    reading = made.reading(problems=problems)
    file = Output(encoding)
    text = reading.text if lines else ()
    print_read(read_record(reading, summarise(reading)), Console(file=file, width=width, no_color=True), text)
    return file.getvalue()


@pytest.mark.parametrize("width", [40, 60, 80, 120])
@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
def test_it_keeps_its_width_and_its_words(width, encoding):
    text = shown(width, encoding=encoding)
    assert all(cell_len(line) <= width for line in text.splitlines())
    assert not BANNED.findall(text)
    assert encoding != "ascii" or text.isascii()


def test_the_caret_stands_under_the_column():
    lines = shown(80).splitlines()
    at = next(number for number, line in enumerate(lines) if "X64. F2400." in line)
    assert lines[at + 1].index("▲") == lines[at].index("F2400.")


def test_the_caret_of_a_far_column_stays_on_the_page():
    reading = made.reading(
        text=("G1 " + "X1. " * 100 + "Q9",), problems=(Problem(1, 404, "Q9", "Not known.", "fault"),)
    )
    file = Output("utf-8")
    print_read(read_record(reading, summarise(reading)), Console(file=file, width=80, no_color=True), reading.text)
    lines = file.getvalue().splitlines()
    at = next(number for number, line in enumerate(lines) if "▲" in line)
    assert lines[at - 1][lines[at].index("▲") :].startswith("Q9")


def test_without_the_text_the_words_themselves_are_shown_and_no_caret():
    text = shown(80, lines=False)
    assert "    11 ▏ F2400." in text
    assert "▲" not in text


def test_it_says_what_is_not_understood_first_and_what_would_settle_it():
    text = " ".join(shown(80).split())
    assert "2 places that I can't read for certain, the first at line 11, column 6." in text
    assert "control: bare axis words after G80 would settle it (machine.control.after_g80)" in text
    assert "line 11, column 6: No such thing." not in text  # line and caret stand above the words


def test_one_problem_found_many_times_is_told_once_with_a_count():
    many = tuple(Problem(line, 1, "X", "The same again.", "note") for line in (9, 10, 11))
    text = " ".join(shown(80, many).split())
    assert text.count("The same again.") == 1
    assert "The same again. (3 times, first here)" in text


def test_it_tells_tools_stops_zero_and_end():
    text = " ".join(shown(100, ()).split())
    for words in (
        "Every word understood.",
        "T3 line 5 H3 S24000 cw F600 to F2400 deepest Z −4",
        "line 15 M0 (TURN THE CLAMP)",
        "zero G54",
        "left on nothing",
        "by M30",
    ):
        assert words in text
