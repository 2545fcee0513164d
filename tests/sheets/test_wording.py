"""How answers are put into words: one place for terminal and sheet."""

from __future__ import annotations

from dataclasses import replace

import pytest

from firstoff.sheets.wording import (
    amount,
    answer_line,
    clock,
    doubt_words,
    fact_name,
    grouped_needs,
    headline,
    is_fact,
    lead,
    minus,
    odds_of,
    removed_words,
    tally,
    without_paths,
)
from firstoff.verdict.forms import Form, exact
from firstoff.verdict.question import Answered, Limit, Need, Place, Share
from tests.sheets import hand_built as made


@pytest.mark.parametrize(
    ("value", "u", "unit", "text"),
    [
        (14.2, 4.6, "µm", "14.2(46) µm"),
        (0.8, 0.05, "mm", "0.80(5) mm"),
        (21.0, 0.3, "mm", "21.0(3) mm"),
        (-128.034999, 0.0, "mm", "\u2212128 mm"),
        (1.25, 0.0, "", "1.25"),
        (30000.0, 0.0, "1/min", "30000 1/min"),
        (0.0, 0.0, "mm", "0 mm"),
    ],
)
def test_values_are_told_to_what_their_doubt_allows(value, u, unit, text):
    assert amount(value, u, unit) == text


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("tools.em6.LF", "length of em6"),
        ("machine.axis.x.travel.high", "X travel, high end"),
        ("job.offset.G54.at.z", "G54 zero in Z"),
        ("machine.control.after_g80", "control: bare axis words after G80"),
        ("machine.control.own_m_codes.52", "what M52 does"),
        ("job.tools.0", "the tool in the spindle (this program calls none)"),
        ("machine.today.air", "today's card: air"),
        ("job.fixture.0.box.x.low", "fixture 1"),
        ("tools.em6.APMX", "APMX of em6"),
        ("line 12", "line 12"),
        ("tools.em6.OHX and 3 more", "stick-out of em6 and 3 more"),
    ],
)
def test_facts_have_names_that_a_shop_uses(path, name):
    assert fact_name(path) == name


def test_whose_the_doubt_is_and_where_it_comes_from():
    facts = made.facts()
    assert doubt_words(made.room_care(), facts) == "Doubt: mostly top of the stock, measured."
    lonely = replace(made.part_care(), doubt=(Share("tools.dr25.LF", 1.0),))
    assert doubt_words(lonely, facts) == "Doubt: all from length of dr25, assumed."
    assert doubt_words(made.counted_stop(), facts) == ""
    bent = replace(made.room_care(), nonlinear=True)
    assert "not linear" in doubt_words(bent, facts)


def test_the_answer_line_says_why_in_a_few_words():
    facts = made.facts()
    assert answer_line(made.part_care(), facts) == "care, 1 in 10: it goes over"
    assert answer_line(made.room_care(), facts) == "care, little room left"
    assert answer_line(made.difference_stop(), facts) == "stop, certain: it runs out"
    assert answer_line(made.clear_room(), facts) == "clear, under 1 in 1000"
    assert answer_line(made.counted_stop(), facts) == "stop, 1 found"
    assert answer_line(made.unjudged_no_stop(), facts) == "unjudged, a fact is missing"


def test_the_headline_is_the_worst_answer():
    assert headline(made.every_kind()).sentence.startswith("Line 19: T5 is in the spindle but H3 is called.")
    assert headline(made.every_kind()).act == "Change H3 to H5, or say why."
    assert headline(made.every_kind()).line == 19
    assert headline(made.some_care()).sentence == "Missing: the spaces kept out. 1 answer waits for it."
    care = headline(
        made.examination(made.part_care(), *made.all_clear().answers)
    ).sentence  # the estimate keeps to its limit, the doubt does not
    assert care.endswith(" µm: 1 in 10 that it goes over."), care
    assert headline(made.all_clear()).sentence == "All 5 answers are clear."


def test_a_cause_is_told_before_what_follows_from_it():
    both = made.examination(made.difference_stop(), made.counted_stop())
    assert headline(both).line == 19


def test_risks_that_nobody_looks_at_are_named_before_what_needs_care():
    only = made.examination(made.clear_count(), made.room_care(), made.clear_ratio())
    assert headline(only).sentence.startswith(
        "Machine: care. Time: clear. Whether tool and part stand it, this version cannot say. Line 9:"
    )
    clear = made.examination(made.clear_count(), made.clear_ratio())
    assert (
        headline(clear).sentence == "Machine and time: clear. Whether tool and part stand it, this version cannot say."
    )
    assert headline(clear).act == "Judge those two by eye, and run the first part as the set-up sheet says."


def test_a_path_is_told_by_its_name_in_every_sentence_and_only_facts_can_be_measured():
    assert without_paths("Look: tools.em15.LF is short.") == "Look: length of em15 is short."
    assert without_paths("See job.toml and program.nc:12.") == "See job.toml and program.nc:12."
    assert is_fact("tools.em6.OHX and 3 more")
    assert not is_fact("line 850 (G53)")
    assert not is_fact("where the machine stands at the start")


def test_what_is_missing_is_said_by_name_and_a_lost_position_by_its_line():
    needs = (Need("tools.em15.LF", "tools.toml LF", "Measure it."),)
    asked = replace(made.unjudged_nothing(), why="I can't say: tools.em15.LF is missing.", needs=needs)
    assert lead(asked)[0] == "I can't say. Missing: length of em15."
    lost = replace(asked, why="I can't say: line 22 is missing.", needs=(Need("line 22", "program.nc:22", "See."),))
    assert lead(lost)[0] == "I can't say. From line 22 on the position is not certain."


def test_a_chance_is_told_beside_the_scale_never_in_the_sentence():
    said = replace(made.part_care(), places=(), why="Wall 1: 14 µm. Chance that it goes over: certain.")
    assert lead(said)[0] == "Wall 1: 14 µm."


def test_a_short_run_up_is_not_at_speed_and_a_low_speed_too_slow():
    def spindle(unit: str) -> Answered:
        base = made.part_care()
        measure = replace(base.demand, unit=unit) if base.demand else None
        limit = Limit(Place(3), Form(0.0, (("machine.spindle.speed.low", 1.0),)), exact(2000.0), "Line 3: slow.", "")
        question = replace(base.question, id="spindle")
        return replace(base, question=question, demand=measure, margins=(limit,), why="Line 3: slow.", any_chance=1.0)

    assert odds_of(spindle("s")) == "certain: not at speed"
    assert odds_of(spindle("1/min")) == "certain: too slow"


def test_what_one_look_settles_is_asked_once():
    where, how = "machine.toml [axis.*] travel", "Jog to both ends."
    needs = tuple(Need(f"machine.axis.{axis}.travel.{end}", where, how) for axis in "xy" for end in ("low", "high"))
    assert grouped_needs(replace(made.unjudged_nothing(), needs=needs)) == [("X travel and Y travel", where, how)]


def test_small_words():
    assert tally(made.every_kind()) == "3 stop, 4 care, 3 unjudged, 4 clear"
    assert [clock(seconds) for seconds in (4.2, 42, 1420, 7300)] == ["4.2 s", "42 s", "23 min 40 s", "2 h 01 min"]
    assert [removed_words(share) for share in (1.0, 0.9, 0.7, 0.5, 0.1)] == [
        "all of the doubt", "nearly all of the doubt", "most of the doubt", "half of the doubt", "part of the doubt",
    ]  # fmt: skip
    assert minus("Z -15.3 mm, em6-old, lid-2, -.5") == "Z \u221215.3 mm, em6-old, lid-2, \u2212.5"
