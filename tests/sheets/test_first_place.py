"""Where it begins is told beside where it is worst: in the terminal, on the page, in the record; nothing where that is one line."""

from __future__ import annotations

import json
from dataclasses import replace

from firstoff.sheets.examination_page import examination_html
from firstoff.sheets.records import examination_record
from firstoff.verdict.question import Answer, AnsweredPlace, Place
from tests.sheets import hand_built as made
from tests.sheets.test_terminal_page import printed

FIRST = AnsweredPlace(Place(4, 1), "G1 X-7.5", 3.0, None, "Line 4: past the limit here already.", "", Answer.CARE)


def test_it_is_told_everywhere_with_its_line_as_written() -> None:
    told = made.examination(replace(made.room_care(), first=FIRST))
    text = printed(told, 80)
    assert "First at line 4." in text
    assert "G1 X-7.5" in text
    page = examination_html(told, "plate")
    assert "First at line 4." in page
    assert "G1 X-7.5" in page
    record = json.loads(examination_record(told).model_dump_json(by_alias=True))
    assert record["questions"][0]["first"]["line"] == 4


def test_a_place_that_stands_there_already_has_its_code_once() -> None:
    answered = made.room_care()
    text = printed(made.examination(replace(answered, first=answered.places[-1])), 80)
    code = answered.places[-1].text.strip()
    assert f"First at line {answered.places[-1].place.line}." in text
    assert text.count(code) == 1


def test_nothing_is_said_where_the_worst_place_is_the_first() -> None:
    told = made.examination(made.room_care())
    assert "First at" not in printed(told, 80)
    assert "First at" not in examination_html(told, "plate")
    assert json.loads(examination_record(told).model_dump_json(by_alias=True))["questions"][0]["first"] is None
