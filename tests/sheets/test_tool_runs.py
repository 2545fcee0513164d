"""What each call of a tool does: override, minutes, and the table that tells it."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from firstoff.sheets.tool_runs import FIRST_CUT, Knob, knobs_of, tool_runs
from firstoff.sheets.tool_tables import alike_words, run_table, tool_table
from firstoff.verdict.override import override_bands
from firstoff.verdict.questions.chip import QUESTION
from firstoff.verdict.stretches import cut_program, with_loads
from firstoff.verdict.words import ShopUnits
from tests.sheets import hand_built as made
from tests.sheets import hand_cut
from tests.sheets.test_setup_sheet import tool_rows

MM = ShopUnits(False)


@pytest.mark.parametrize(
    ("knob", "words", "first_cut"),
    [
        (Knob(35, 200), "35–200 %", 35),
        (Knob(10, 130), "10–130 %", FIRST_CUT),
        (Knob(5, 20), "5–20 %", 20),
        (Knob(60, 40), "none fits", None),
        (Knob(None, 0), "none fits", None),
        (Knob(110, None), "from 110 %", 100),
        (Knob(115, 200), "115–200 %", 100),
        (Knob(None, 80), "to 80 %", FIRST_CUT),
        (Knob(), "any", FIRST_CUT),
        (Knob(judged=False), "not known", FIRST_CUT),
        (Knob(fixed=True), "100 % only", None),
    ],
)
def test_an_override_in_words(knob, words, first_cut):
    assert (knob.words, knob.first_cut) == (words, first_cut)


def test_sheet_and_answer_take_their_band_from_one_source():
    case = hand_cut.examination().case
    facts = case.facts.leaning()
    told, needs = cut_program(case, facts)
    assert told is not None
    (band,) = override_bands(facts, QUESTION, with_loads(case, facts, told, needs))
    knob = knobs_of(case)[3]
    assert band.high is not None
    assert (knob.low, knob.high) == (band.low, round(band.high * 100))


def test_a_tool_of_which_a_part_is_not_known_has_no_band():
    case = hand_cut.examination().case
    assert 5 not in knobs_of(case)  # dr25: its stretch lacks a fact
    whole = case.followed
    assert whole.loads is not None
    more = replace(whole.loads.stretches[1], tool=3, name="em6", first_move=7, last_move=7)
    loads = replace(whole.loads, stretches=(*whole.loads.stretches, more))
    assert knobs_of(replace(case, followed=replace(whole, loads=loads))) == {}
    assert knobs_of(made.case()) == {}


def test_minutes_are_those_of_the_call_with_its_own_change():
    case = hand_cut.examination().case
    first, second = tool_runs(case)
    assert (first.cutting_min, first.whole_min) == (pytest.approx(0.1), pytest.approx(8 * 2 / 60))
    assert case.timeline is not None
    pauses = case.timeline.pause_s.copy()
    pauses[1], pauses[9] = 30.0, 12.0  # before the first move of each
    waiting = replace(case, timeline=replace(case.timeline, pause_s=pauses))
    assert [run.whole_min for run in tool_runs(waiting)] == [
        pytest.approx((16 + 30) / 60),
        pytest.approx((10 + 12) / 60),
    ]
    assert tool_runs(made.case(timed=False))[0].whole_min is None
    assert tool_runs(made.case())[0].cutting_min is None
    assert second.cutting_min == pytest.approx(2 / 60)


def cells(html: str, number: int) -> list[str]:
    row = list(ET.fromstring(f"<div>{html}</div>").iter("tr"))[number]
    return ["".join(cell.itertext()) for cell in row]


def test_the_table_tells_first_cut_halt_gap_and_way_to_go():
    case = hand_cut.examination().case
    block = run_table(tool_runs(case), 2, MM)
    assert cells(block.html, 1) == [
        "T3",
        "5",
        "11",
        "−2.0",
        "5.0",
        "0.4",
        "4.4 × 6.0",
        "9",
        "1.6",
        "6.0",
        knobs_of(case)[3].words,
        "0.1 of 0.3",
        "",
    ]
    assert cells(block.html, 2)[:10] == ["T5", "16", "20", "20.0", "20.0", "0", "12.0 × 2.5", "19", "25.0", "37.0"]
    inch = run_table(tool_runs(case), 2, ShopUnits(True))
    assert cells(inch.html, 1)[3:10] == ["−0.079", "0.197", "0.016", "0.173 × 0.236", "9", "0.063", "0.236"]


def test_what_is_not_known_is_said_and_what_has_no_room_is_named():
    runs = tool_runs(made.case())
    assert cells(run_table(runs, 2, MM).html, 1)[3:7] == ["–", "–", "0.4", "not known"]
    assert "First cuts of T5: told in the examination." in run_table(runs, 1, MM).html
    none = replace(runs[0], call=replace(runs[0].call, contact=None))
    assert cells(run_table([none], 1, MM).html, 1)[2:4] == ["none", "–"]
    assert run_table([], 0, MM).height == 0.0


def test_look_alikes_are_named_once_and_not_without_end():
    rows = tool_rows(made.case())
    assert alike_words(rows) == "em6 and em6-old"
    many = [replace(rows[0], name=f"a{n}", alike=(f"b{n}", f"c{n}", f"d{n}")) for n in range(5)]
    assert alike_words(many) == "a0, b0, c0 and 1 more; a1, b1, c1 and 1 more; a2, b2, c2 and 1 more; and 2 more"
    assert alike_words([replace(rows[1], alike=())]) == ""
    assert "Read the shank" in tool_table(rows, 2, MM, tick=False).html
    assert "Read the shank" not in tool_table(rows, 2, MM).html  # a step of the first run says it
