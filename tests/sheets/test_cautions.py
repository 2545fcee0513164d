"""Cautions: what starts where, what a switch must stand at, and how high rapids pass only where that was judged."""

from __future__ import annotations

from dataclasses import replace

import pytest

from firstoff.facts.fact import FactSet, Setting
from firstoff.program.moves import Event, What
from firstoff.sheets.cautions import RAPIDS, cautions
from firstoff.sheets.sheet_picture import setting_of_sheet
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer
from firstoff.verdict.questions.rapid_contact import QUESTION
from tests.sheets import hand_built as made


def told(found: Examination) -> str:
    return " ".join(cautions(found, setting_of_sheet(found)))


def with_events(*events: Event) -> Examination:
    one = made.some_care()
    read = made.reading()
    return replace(one, case=made.case(one.facts, replace(read, events=(*read.events, *events))))


def rapids(answer: Answer) -> Examination:
    one = made.all_clear()
    asked = replace(made.clear_room(), question=QUESTION, answer=answer)
    return Examination(one.case, one.facts, (asked,), made.NOT_ASKED, None, ())


def test_how_high_rapids_pass_is_only_told_where_that_is_clear() -> None:
    assert QUESTION.id == RAPIDS
    # the program's line 14 goes sideways at Z 25 by rapid; the blank ends at Z 0.4 and the jaws at -6
    assert "By the program rapids pass 24.6 mm above what stands highest." in told(rapids(Answer.CLEAR))
    for answer in (Answer.CARE, Answer.UNJUDGED):
        assert "rapids" not in told(rapids(answer)).lower()


def test_what_starts_where() -> None:
    assert "Door shut: the spindle starts at line 6, flood at line 8." in told(made.some_care())


@pytest.mark.parametrize(
    ("number", "said"), [(1, "as run: block-delete switch off"), (0, "as skipped: block-delete switch on")]
)
def test_a_switch_must_stand_as_the_program_was_read(number: int, said: str) -> None:
    found = told(with_events(*(Event(What.BLOCK_DELETE, 3, line, number) for line in (11, 12, 12))))
    assert f"Lines 11 and 12 with a slash were examined {said}." in found


def test_locked_overrides_are_told() -> None:
    assert "Line 9 (M49)" in told(with_events(Event(What.OVERRIDE, 3, 9, 49, 0.0)))
    assert "M49" not in told(with_events(Event(What.OVERRIDE, 3, 9, 48, 1.0)))


def test_changes_by_hand_are_told() -> None:
    one = made.some_care()
    by_hand = Setting("machine.control.m6", "by hand")
    known = FactSet(one.facts.facts, {**one.facts.settings, by_hand.path: by_hand})
    found = replace(one, facts=known, case=made.case(known))
    assert "Tools are put in by hand: only while the spindle stands" in told(found)
    assert "by hand" not in told(one)
