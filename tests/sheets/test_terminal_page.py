"""What is printed: never wider than the terminal, the same with and without colour, and in words that a shop uses."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from firstoff.errors import Fault, InputError
from firstoff.sheets.glyphs import ASCII, DRAWN
from firstoff.sheets.page import NARROWEST
from firstoff.sheets.terminal import print_examination, print_faults
from firstoff.sheets.wording import grouped_needs
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer
from tests.sheets import hand_built as made

KINDS = {
    "every kind": made.every_kind,
    "clear": made.all_clear,
    "care": made.some_care,
    "nothing known": made.nothing_known,
    "inch": made.inch_shop,
    "overfull": made.overfull,
}
BANNED = re.compile(r"\b(?:safe|OK|okay|error|warning|failed|fail)\b|!|\d\s?% chance", re.IGNORECASE)
"""LOOK 10: words that no answer uses."""


class Output(io.StringIO):
    """A terminal's file that says which characters it takes."""

    def __init__(self, encoding: str) -> None:
        super().__init__()
        self._encoding = encoding

    @property
    def encoding(self) -> str:
        return self._encoding


def printed(examination: Examination, width: int, *, colour: bool = False, encoding: str = "utf-8") -> str:
    file = Output(encoding)
    console = Console(
        file=file, width=width, force_terminal=colour, color_system="truecolor" if colour else None, no_color=not colour
    )
    print_examination(examination, console, "Float cap")
    return file.getvalue()


def plain(text: str) -> str:
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("width", [40, 60, 80, 100, 120, 200])
def test_no_line_is_longer_than_the_terminal(kind, width):
    for line in printed(KINDS[kind](), width).splitlines():
        assert cell_len(line) <= width, line


@pytest.mark.parametrize("kind", KINDS)
def test_colour_changes_no_word(kind):
    examination = KINDS[kind]()
    for width in (80, 120):
        coloured = printed(examination, width, colour=True)
        assert "\x1b[" in coloured
        assert [line.rstrip() for line in plain(coloured).splitlines()] == [
            line.rstrip() for line in printed(examination, width).splitlines()
        ]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_a_terminal_that_cannot_draw_gets_plain_characters(kind, encoding):
    text = printed(KINDS[kind](), 80, encoding=encoding)
    assert text.isascii()
    assert all(len(line) <= 80 for line in text.splitlines())


@pytest.mark.parametrize("kind", KINDS)
def test_no_banned_word_is_ours(kind):
    assert not BANNED.findall(printed(KINDS[kind](), 80))


def test_the_accent_is_the_only_colour_and_marks_care_and_stop_alone():
    coloured = printed(made.every_kind(), 80, colour=True)
    colours = set(re.findall(r"\x1b\[(?:\d+;)*(3[0-7]|4[0-7]|38;[^m]*|48;[^m]*|9[0-7])m", coloured))
    assert colours == {"31"}
    clear = printed(made.examination(made.clear_count(), made.clear_room(), made.clear_ratio()), 80, colour=True)
    assert not re.search(r"\x1b\[[0-9;]*31m", clear)


@pytest.mark.parametrize("width", [80, 120])
def test_all_end_stops_stand_in_one_column(width):
    lines = printed(made.every_kind(), width).splitlines()
    columns = {line.index(foot) for line in lines for foot in "┸╂" if foot in line}
    assert len(columns) == 1


def test_the_verdict_comes_first_and_names_every_risk():
    lines = printed(made.every_kind(), 80).splitlines()
    assert "Stop." in lines[3]
    assert any("machine [×] stop" in line and "time (✓) clear" in line for line in lines[:12])
    text = printed(made.every_kind(), 80)
    assert text.index("Stop.") < text.index("Questions:") < text.index("Measure next")


def test_questions_are_listed_worst_first():
    text = printed(made.every_kind(), 120)
    order = [text.index(asks) for asks in ("Is every tool", "Will walls", "Does anything enter", "Did I understand")]
    assert order == sorted(order)


def test_an_answer_tells_what_where_how_much_and_what_to_do():
    text = " ".join(printed(made.examination(made.part_care()), 120).split())
    for words in (
        "Will walls and floors be on size?",
        "care, 1 in 10: it goes over",
        "14.2(46) µm",
        "12 ▏ Y20.",
        "Take the last pass twice.",
    ):
        assert words in text
    assert "Doubt: stick-out of em6, measured" in text


def test_unjudged_names_the_fact_its_place_and_the_way_to_get_it():
    text = " ".join(printed(made.examination(made.unjudged_nothing()), 80).split())
    assert "I can't say. Missing: the spaces kept out." in text
    assert "machine.toml [[zone]]" in text
    assert "Write each kept-out space as a [[zone]]" in text


def test_a_chance_is_never_finer_than_one_in_a_thousand():
    assert "under 1 in 1000" in printed(made.examination(made.clear_room()), 80)
    assert not re.search(r"1 in \d{5,}", printed(made.every_kind(), 80))


def test_what_was_not_asked_and_how_long_it_takes_are_told_quietly():
    text = " ".join(printed(made.every_kind(), 80).split())
    assert "Takes 23 min 40 s: cutting 19 min 40 s" in text
    assert "Not looked at in this version: tool: what each tool cuts, reach of the tools" in text
    missing = " ".join(printed(made.nothing_known(), 80).split())
    assert "How long it takes I can't say: missing X acceleration." in missing


def test_program_text_cannot_move_the_cursor_or_break_a_line():
    nasty = "G1 X1 (\x1b[2J\x1b[31m\r\n\x07\u202e\t日本語) [bold]not markup[/bold]"
    place = replace(made.counted_stop().places[0], text=nasty)
    text = printed(made.examination(replace(made.counted_stop(), places=(place,))), 80)
    assert "\x1b" not in text
    assert "\x07" not in text
    assert "\u202e" not in text
    assert "[bold]not" in text
    assert all(cell_len(line) <= 80 for line in text.splitlines())


@settings(max_examples=60, deadline=None)
@given(
    st.text(max_size=120), st.text(max_size=300), st.sampled_from([40, 80, 120]), st.sampled_from(["utf-8", "ascii"])
)
def test_whatever_is_said_the_page_keeps_its_width(code, words, width, encoding):
    place = replace(made.room_care().places[0], text=code, what=words, do=words)
    answered = replace(made.room_care(), why=words, do=words, places=(place,))
    text = printed(made.examination(answered), width, encoding=encoding)
    assert all(cell_len(line) <= max(width, NARROWEST) for line in text.splitlines())
    assert encoding != "ascii" or text.isascii()


def test_marks_have_four_outlines_in_both_alphabets():
    for glyphs in (DRAWN, ASCII):
        assert len({glyphs.marks[answer][0] for answer in Answer}) == len(Answer)
        assert all(cell_len(mark) == 3 for mark in glyphs.marks.values())
        assert all(cell_len(row) == 8 for rows in glyphs.large.values() for row in rows)


def test_faults_are_told_by_file_with_what_is_allowed_and_what_to_do():
    file = Output("utf-8")
    first = Fault("max_feed has the wrong dimension", '"14 mm"', 'a speed such as "14 m/min"', "machine.toml", 12)
    second = Fault("no such job", "lid-opp1", "nearest: lid-op1", do="Write the name of a folder under jobs/.")
    print_faults(InputError(first, second), Console(file=file, width=60, no_color=True))
    text = file.getvalue()
    assert "2 things in the input cannot be used." in text
    assert "machine.toml:12" in text
    assert 'written   "14 mm"' in text
    assert 'allowed   a speed such as "14 m/min"' in text
    assert "Write the name of a folder under jobs/." in text
    assert not BANNED.findall(text)
    assert all(cell_len(line) <= 60 for line in text.splitlines())


def test_how_to_get_what_is_missing_is_told_once() -> None:
    examination = made.nothing_known()
    asked = next(one for one in examination.answers if grouped_needs(one))
    twice = replace(
        examination,
        answers=(
            asked,
            *(
                replace(one, needs=asked.needs, answer=Answer.UNJUDGED)
                for one in examination.answers
                if one is not asked
            ),
        ),
    )
    told = printed(twice, 200)
    for names, where, _ in grouped_needs(asked):
        assert told.count(f"missing  {names}: {where}") == 1
