"""The set-up sheet: whole, self-contained, escaped, honest about what is missing, and one page on either paper."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from firstoff.facts.fact import FactSet, Setting
from firstoff.program.moves import What
from firstoff.sheets.first_contacts import calls
from firstoff.sheets.paper_text import SMALL, height_of, lines_of
from firstoff.sheets.proof_run import head_room, lift, proof_run
from firstoff.sheets.setup_sheet import setup_sheet_html
from firstoff.sheets.sheet_facts import (
    length_window,
    registers,
    stamp,
    stop_rows,
    tool_rows,
    with_doubt,
    zeros,
)
from firstoff.sheets.standing import over_blank
from firstoff.sheets.tool_runs import Knob
from firstoff.verdict.examination import Examination
from tests.sheets import hand_built as made
from tests.sheets import hand_cut
from tests.sheets.test_terminal_page import BANNED, KINDS

PRINTED = datetime(2026, 5, 4, 15, 5)


def sheet(examination: Examination, title: str = "Float cap") -> str:
    return setup_sheet_html(examination, title, "Tarn bench mill", PRINTED)


def tree(html: str) -> ET.Element:
    return ET.fromstring(html.removeprefix("<!DOCTYPE html>"))


def words(html: str) -> str:
    body = tree(html).find("body")
    assert body is not None
    return " ".join(" ".join(body.itertext()).split())


@pytest.mark.parametrize("kind", KINDS)
def test_it_is_well_formed_and_stands_alone(kind):
    html = sheet(KINDS[kind]())
    root = tree(html)
    assert root.get("lang") == "en"
    assert not re.search(r"https?:|//|\bsrc=|\bhref=|@import|<script", html.replace("src: local", ""))
    assert not BANNED.findall(words(html))


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_smaller_than_nine_points(kind):
    html = sheet(KINDS[kind]())
    assert all(float(size) >= 9 for size in re.findall(r"([\d.]+)pt", html))
    assert "font-size: 3.175px" in html  # 9 pt where a unit of the drawing is a millimetre
    assert SMALL == 9.0


def test_every_text_of_a_stranger_is_escaped():
    bad = '<script>alert("x")</script>&amp;\'"'
    reading = made.reading(text=(*(bad for _ in range(25)),))
    facts = made.facts()
    settings = dict(facts.settings)
    for path in (
        "machine.name",
        "job.offset.G54.zero",
        "job.material",
        "job.holding.after_cut_free",
        "job.fixture.0.name",
    ):
        settings[path] = Setting(path, bad)
    known = FactSet(facts.facts, settings)
    case = made.case(known, replace(reading, file=bad))
    answered = replace(made.counted_care(), why=bad, do=bad, places=())
    html = sheet(Examination(case, known, (answered,), made.NOT_ASKED, None, ()), bad)
    assert "<script" not in html
    assert "alert" in words(html)


def test_the_stamp_holds_file_lines_first_and_last_block_and_a_short_mark():
    known = stamp(made.reading())
    assert (known.file, known.lines, known.first, known.last) == (
        "program.nc",
        25,
        "G21 G17 G90 G94 G40 G49 G80",
        "M30",
    )
    assert re.fullmatch(r"[0-9a-f]{4} [0-9a-f]{4}", known.mark)
    assert known.mark in words(sheet(made.some_care()))


def test_a_stop_prints_that_it_is_not_to_be_run_and_no_steps():
    text = words(sheet(made.every_kind()))
    assert "Not to be run." in text
    assert "Why not, and what to do" in text
    assert "Change H3 to H5, or say why." in text
    assert "First run" not in text
    assert "set up by" not in text


def test_unjudged_prints_what_is_missing_in_the_place_of_the_verdict():
    text = words(sheet(made.some_care()))
    assert "Unjudged. Missing: the spaces kept out. 1 answer waits for it." in text


def test_what_no_fact_says_is_not_drawn_but_named():
    text = words(sheet(made.nothing_known()))
    for said in (
        "not given",
        "no name",
        "not described",
        "not known",
        "can't say",
        "How the part is held is not written down.",
    ):
        assert said in text
    assert "not given, so not drawn: the stock and what holds it" in text
    assert "121.40" not in text


def test_the_safety_sentence_is_framed_on_every_sheet():
    for make in KINDS.values():
        frames = [one for one in tree(sheet(make())).iter("p") if one.get("class") == "safety"]
        assert len(frames) == 1
        assert frames[0].text is not None
        assert frames[0].text.startswith("This sheet is no safety function.")


def test_offsets_are_planned_with_blanks_beside_them():
    root = tree(sheet(made.some_care()))
    cells = [one for one in root.iter("td") if one.get("class") == "blank"]
    assert len(cells) == 3
    text = words(sheet(made.some_care()))
    for said in ("X 121.40", "Y 88.10", "Z \u221296.55", "top, front left corner"):
        assert said in text


def test_an_inch_shop_gets_inches_and_a_rule_in_inches():
    text = words(sheet(made.inch_shop()))
    for said in ("true inches", "4.7795", "2.52", "raise G54 by 0.75 in"):
        assert said in text


# --- what the sheet is made of ---------------------------------------------------------------------------------------


def test_tools_are_told_as_the_program_calls_them():
    first, second = tool_rows(made.case())
    assert (first.number, first.pocket, first.name, first.registers, first.alike) == (3, "3", "em6", "H3", ("em6-old",))
    assert first.words == "Ø5.99 flat, 3 edges"
    assert first.minutes == pytest.approx(8 * 2 / 60)
    assert second.words == "Ø2.5 drill"
    assert second.window_mm is None  # its length is assumed: measure it


def test_the_length_window_is_wide_enough_for_its_own_doubt():
    facts = made.facts().facts
    assert length_window(facts["tools.em6.LF"]) == pytest.approx(0.10)
    assert length_window(replace(facts["tools.em6.LF"], u=0.2)) == pytest.approx(0.6)
    assert length_window(None) is None


def test_the_dry_run_is_raised_over_all_that_stands_or_refused_where_z_ends():
    case = made.case()
    assert lift(case) == 20.0  # 0.4 of stock + 12 deep + 5 clear = 17.4, in steps of 5
    room = head_room(case, zeros(case))
    assert room == pytest.approx(-(25 + 92.4 - 96.55))
    refused = [step for step in proof_run(case, zeros(case)) if "Z has no room to raise G54 by 20 mm" in step]
    assert len(refused) == 1
    assert "rapids lowest, door shut, hand on feed hold" in refused[0]
    facts = made.facts()
    low = facts.with_values({"job.offset.G54.at.z": -140.0})
    steps = proof_run(made.case(low), zeros(made.case(low)))
    up = next(
        number
        for number, step in enumerate(steps)
        if step.startswith("Air run, no blank in: G54 Z \u2212120.00 (as set plus 20 mm)")
    )
    assert (
        steps[up + 1] == "G54 Z back to \u2212140.00, or as set. Read it off the screen."
    )  # a box of its own: once, by its figure


def test_a_fixture_whose_height_nobody_knows_leaves_no_lift():
    facts = made.facts()
    drawn = replace(facts, settings={**facts.settings, "job.fixture.1.stl": Setting("job.fixture.1.stl", "clamp.stl")})
    assert lift(made.case(drawn)) == 20.0
    without = {path: fact for path, fact in drawn.facts.items() if path != "job.around.highest_around"}
    assert lift(made.case(replace(drawn, facts=without))) is None
    assert lift(made.case(replace(facts, facts=without))) == 20.0


def test_nobody_is_sent_under_a_running_cutter():
    case = made.case()
    steps = proof_run(case, zeros(case))
    (at,) = [number for number, step in enumerate(steps) if "single block" in step]
    assert steps[at] == (
        "Each tool: single block, rapids lowest, door shut, to its halt line; start the next block, hold at once. "
        "Gap (±0.8 mm; T3 beside the blank) and Z to go (just less) as told? Else stop."
    )
    assert steps[at + 1] == (
        "Spindle and coolant run there: off, and standing, before anything goes under the tool; then on again."
    )
    assert steps[at + 2] == "First cuts at 25 % feed override, hand on feed hold."
    quiet = replace(case.reading, events=tuple(one for one in case.reading.events if one.what is not What.COOLANT))
    assert "Spindle runs there: off, and standing, before anything goes under the tool; then on again." in proof_run(
        made.case(read=quiet), []
    )
    assert not any("gauge it" in step.lower() for step in steps)


def test_first_cuts_are_no_slower_than_edges_stand(monkeypatch):
    case = hand_cut.examination().case
    assert "First cuts at 25 % feed override, hand on feed hold." in proof_run(case, [])
    monkeypatch.setattr("firstoff.sheets.proof_run.knobs_of", lambda _: {3: Knob(40, 130), 5: Knob(fixed=True)})
    assert "First cuts at 25 % feed override (T3 40 %), hand on feed hold." in proof_run(case, [])


def test_over_or_beside_the_blank_is_told_by_the_edge_not_the_axis():
    case = made.case()  # the blank is X0..64 Y0..40; move 3 ends at X-10 Y5
    assert over_blank(case, 3, 9.9) is False
    assert over_blank(case, 3, 10.1) is True
    assert over_blank(case, 3, None) is None
    without = FactSet({path: fact for path, fact in made.facts().facts.items() if ".stock." not in path}, {})
    assert over_blank(made.case(without), 3, 3.0) is None


def test_touching_off_tells_what_the_screen_shows_and_asks_for_no_fine_plan():
    case = made.case()
    (step,) = [step for step in proof_run(case, zeros(case)) if step.startswith("Touch off")]
    length = made.facts().facts["tools.em6.LF"].value
    assert f"T3 on zero reads machine Z \u2212{96.55 - length:.2f}." in step
    assert "More than 0.5 mm off: find out why." in step


def test_an_unjudged_machine_comes_before_the_first_run():
    case = made.case()
    assert proof_run(case, zeros(case), "length of em15")[0].startswith("Not before this is settled: length of em15.")
    text = words(sheet(made.some_care()))
    assert text.index("Not before this is settled: the spaces kept out") < text.index("Axes homed")
    assert "Not before" not in words(sheet(made.all_clear()))


def test_a_stop_tells_what_turns_and_flows():
    text = list(made.PROGRAM)
    text[14] = "M0"
    read = made.reading(text=tuple(text))
    events = tuple(replace(event, text="") for event in read.events)
    (row,) = stop_rows(made.case(read=replace(read, events=events)))
    assert (row.words, row.runs) == ("", "spindle at 24000")  # M9 stands on the line before
    root = tree(sheet(Examination(made.case(read=replace(read, events=events)), made.facts(), (), (), None, ())))
    assert any(one.get("class") == "write" for one in root.iter("p"))


def test_speed_feed_restart_and_registers_stand_in_the_tables():
    case = made.case()
    first, second = tool_rows(case)
    assert (first.speeds, first.feeds, second.feeds) == ((24000.0, 24000.0), (600.0, 2400.0), (300.0, 300.0))
    assert [call.change for call in calls(case)] == [5, 16]
    assert [one.name for one in registers(case)] == ["H3", "H5"]
    known = {one.name: one.value for one in registers(case)}
    assert known["H3"] == made.facts().facts["tools.em6.LF"].value


def test_a_sheet_that_must_not_be_run_has_nothing_to_tick_and_tells_no_depth():
    html = sheet(made.every_kind())
    assert not [one for one in tree(html).iter("td") if one.get("class") == "in"]
    assert "deepest" not in words(html)
    assert "deepest" in words(sheet(made.all_clear()))


def test_values_with_doubt_are_told_as_they_are_spoken():
    assert with_doubt(2200.0, 500.0, "N") == "2.2 ± 0.5 kN"
    assert with_doubt(800.0, 300.0, "N") == "800 ± 300 N"
    assert with_doubt(0.15, 0.04, "") == "0.15 ± 0.04"
    assert with_doubt(2.0, 0.0, "kN") == "2 kN"


def test_a_stop_says_what_the_line_above_it_says():
    text = list(made.PROGRAM)
    text[13] = "(MSG, TURN THE CLAMP ROUND)"
    text[14] = "M0"
    reading = made.reading(text=tuple(text))
    events = tuple(replace(event, text="") for event in reading.events)
    (row,) = stop_rows(made.case(read=replace(reading, events=events)))
    assert (row.line, row.code, row.words, row.stands) == (15, "M0", "TURN THE CLAMP ROUND", "at Z\u00a025\u00a0mm")


def test_heights_are_never_less_than_the_words_need():
    assert lines_of("one two", 100, 9) == 1
    assert lines_of("W" * 200, 50, 9) >= 12
    assert height_of("a " * 400, 53) > height_of("a " * 200, 53) > height_of("a", 53)


# --- printed ---------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def page(browser: Any) -> Iterator[Any]:
    """One page of a real browser."""
    opened = browser.new_page()
    yield opened
    opened.close()


PRINTS = {
    **KINDS,
    "followed": hand_cut.examination,
    "followed, inch": lambda: hand_cut.examination(inch=True),
    "unjudged": hand_cut.unjudged,
    "nine tools": hand_cut.nine_tools,
}


@pytest.mark.parametrize("kind", PRINTS)
def test_it_prints_on_exactly_one_page_of_a4_and_of_letter(page, kind):
    page.set_content(sheet(PRINTS[kind]()))
    for paper in ("A4", "Letter"):
        pdf = page.pdf(format=paper, prefer_css_page_size=False)
        assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) == 1, paper


OUTSIDE = """() => {
  const column = document.querySelector("main").getBoundingClientRect();
  const found = [];
  for (const part of document.querySelectorAll("main *")) {
    const box = part.getBoundingClientRect();
    const cut = getComputedStyle(part).overflow !== "visible" && part.scrollWidth > part.clientWidth + 1;
    if (box.right > column.right + 1 || box.left < column.left - 1 || (cut && !(part instanceof SVGElement)))
      found.push(part.tagName + ": " + part.textContent.slice(0, 60));
  }
  return found;
}"""


@pytest.mark.parametrize("kind", PRINTS)
def test_nothing_sticks_out_of_the_column_or_is_cut_off_in_silence(page, kind):
    page.set_content(sheet(PRINTS[kind]()))
    page.emulate_media(media="print")
    assert page.evaluate(OUTSIDE) == []


CROWDED = """() => {
  const found = [], cells = [...document.querySelectorAll(".tools td, .tools th, .runs td, .runs th, .cells div, .risks span")];
  const inked = cells.map((cell) => { const range = document.createRange(); range.selectNodeContents(cell); return range.getBoundingClientRect(); });
  for (let n = 1; n < cells.length; n++) {
    const same = cells[n].parentNode === cells[n - 1].parentNode && Math.abs(inked[n].top - inked[n - 1].top) < 8;
    if (same && inked[n].left < inked[n - 1].right + 1.5 && inked[n].width && inked[n - 1].width)
      found.push(cells[n - 1].textContent + " | " + cells[n].textContent);
  }
  return found;
}"""


@pytest.mark.parametrize("kind", PRINTS)
def test_no_two_cells_run_together(page, kind):
    page.set_content(sheet(PRINTS[kind]()))
    page.emulate_media(media="print")
    assert page.evaluate(CROWDED) == []
