"""The set-up sheet as PDF: never more than two pages, true to its scale, nothing smaller than 9 pt, and what must be told is told."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from functools import cache

import pytest

from firstoff.facts.fact import Fact, FactSet, Setting
from firstoff.sheets import paper_tools
from firstoff.sheets.setup_pdf import setup_sheet_pdf
from firstoff.sheets.sheet_facts import stamp, tool_rows
from firstoff.sheets.sheet_told import told_of
from firstoff.sheets.typst_paper import Paper
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer
from firstoff.verdict.words import ShopUnits
from tests.sheets import hand_built as made
from tests.sheets import hand_cut
from tests.sheets.pdf_reading import bare, drawn, letter_sizes, pages, sizes, words
from tests.sheets.test_terminal_page import BANNED, KINDS

PRINTED = datetime(2026, 5, 4, 15, 5)


def with_tools(count: int) -> Examination:
    one = made.overfull()
    return replace(one, case=made.case(one.facts, made.many_tools(count)))


ALL = {
    **KINDS,
    "nine tools": hand_cut.nine_tools,
    "waiting": hand_cut.unjudged,
    "sixty tools": lambda: with_tools(60),
}


BOTH = ("care", "nine tools", "inch")
"""Kinds that are looked at on either paper; the others on Letter, which is shorter."""


def papers(kind: str) -> list[Paper]:
    return list(Paper) if kind in BOTH else [Paper.LETTER]


def sheet(kind: str, paper: Paper = Paper.LETTER) -> bytes:
    return _sheet(kind, paper)


@cache
def _sheet(kind: str, paper: Paper) -> bytes:
    return setup_sheet_pdf(ALL[kind](), "Float cap", "Tarn bench mill", PRINTED, paper)


@pytest.mark.parametrize("kind", ALL)
def test_it_is_at_most_two_pages_in_letters_of_nine_points_at_least_within_its_margins(kind: str) -> None:
    for paper in papers(kind):
        pdf, (wide, high) = sheet(kind, paper), {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}[paper]
        assert 1 <= pages(pdf) <= 2, paper
        assert all(found == pytest.approx((wide, high), abs=0.01) for found in sizes(pdf))
        assert min(letter_sizes(pdf)) >= 8.99
        assert not BANNED.findall(words(pdf))
        for page in range(pages(pdf)):
            for box in drawn(pdf, page):
                assert box.left > (wide - 180) / 2 - 0.6, box
                assert box.right < (wide + 180) / 2 + 0.6, box
                assert box.top > 15 - 1, box
                assert box.bottom < high - 15 + 0.6, box


def test_what_must_be_told_is_told() -> None:
    found = made.some_care()
    text = words(sheet("care"))
    known = stamp(found.case.reading)
    for said in (
        "Float cap", known.mark, known.first, "25 lines", "program.nc",  # the stamp
        "Zero and offsets", "G54", "121.40", "88.10", "\u221296.55", "as set",
        "em6", "88.140(6)", "±0.10", "Look alike: em6 and em6-old. Read the shank.",
        "First cut of each tool", "halt after", "Z to go", "override", "restart",
        "firstoff restart \"Float cap\" --tool",
        "First run", "Stops, and what to do", "Line 15, M0", "TURN THE CLAMP",
        "What I am unsure of", "Cautions", "Door shut: the spindle starts at line 6, flood at line 8.",
        "This sheet is no safety function.", "set up by", "checked by", "date, time", "page 1 of 2",
    ):  # fmt: skip
        assert bare(said) in bare(text), said


def test_a_stop_prints_that_it_is_not_to_be_run_why_and_no_steps() -> None:
    assert made.every_kind().verdict is Answer.STOP
    first, text = words(sheet("every kind"), 0), words(sheet("every kind"))
    for said in ("Not to be run.", "Why not, and what to do", "Change H3 to H5, or say why.", "no safety function"):
        assert bare(said) in bare(first), said
    for page in range(pages(sheet("every kind"))):
        assert bare("Not to be run. Float cap: program.nc") in bare(words(sheet("every kind"), page))
    for said in ("First run", "First cut of each tool", "set up by", "as set"):
        assert bare(said) not in bare(text), said


def test_what_may_follow_from_a_wrong_length_is_only_named() -> None:
    """One cause in large letters; what its tool then meets in one list, as question and line; what another tool meets in full."""
    one = made.every_kind()
    told = told_of(one, "Float cap", "", PRINTED)
    assert [answered.question.id for answered in told.stopping] == ["tool", "travel", "power"]
    assert [answered.question.id for answered in told.following] == ["travel", "power"]
    text = bare(words(sheet("every kind")))
    assert pages(sheet("every kind")) == 1
    assert text.count(bare("Change H3 to H5, or say why.")) == 1
    for answered in told.following:
        assert bare(f"{answered.question.asks} Line {answered.places[0].place.line}.") in text
        assert bare(answered.do) not in text
    power = told.following[1]
    elsewhere = replace(power.places[0], place=replace(power.places[0].place, move=10))  # there another tool cuts
    assert one.case.moves.tool[10] != one.case.moves.tool[power.places[0].place.move]
    answers = tuple(replace(found, places=(elsewhere,)) if found is power else found for found in one.answers)
    apart = told_of(replace(one, answers=answers), "Float cap", "", PRINTED)
    assert [answered.question.id for answered in apart.following] == ["travel"]


def test_a_square_to_tick_is_as_wide_as_a_thumbnail_and_every_tool_has_one() -> None:
    def squares(page: int) -> int:
        boxes = drawn(sheet("care"), page)
        return sum(abs(box.wide - 5) < 0.01 and abs(box.high - 5) < 0.01 for box in boxes)

    told = told_of(made.some_care(), "Float cap", "", PRINTED)
    assert squares(0) == len(told.rows)
    assert squares(1) == len(told.runs) + len(told.steps) + len(told.stops)


def test_life_is_ruled_where_it_is_known_dotted_where_not_and_red_where_this_job_uses_it_up() -> None:
    one = tool_rows(made.case())[0]
    assert one.minutes is not None

    def life(**known: float) -> str:
        facts = {
            f"tools.{one.name}.{key}": Fact(f"tools.{one.name}.{key}", value, 1.0, "s") for key, value in known.items()
        }
        made_row = paper_tools.row(one, FactSet(facts, {}), ShopUnits(False), 11, True)
        return str(made_row["life"].svg)

    assert "stroke-dasharray" in life()
    plain = life(life=3600.0, used_up=60.0)
    assert 'class="used"' in plain
    assert "against" not in plain
    assert "against" in life(life=3600.0, used_up=3600.0 - one.minutes * 30)
    probe = FactSet({}, {f"tools.{one.name}.kind": Setting(f"tools.{one.name}.kind", "probe")})
    assert paper_tools.row(one, probe, ShopUnits(False), 11, True)["life"] == ""


def test_unjudged_prints_what_is_missing_in_the_place_of_the_verdict() -> None:
    text = words(sheet("care"), 0)
    assert "Missing: the spaces kept out." in text
    assert text.index("Unjudged.") < text.index("Missing:") < text.index("Zero and offsets")


def test_what_no_fact_says_is_named() -> None:
    text = bare(words(sheet("nothing known")))
    for said in (
        "not given",
        "no name",
        "not described",
        "not known",
        "can't say",
        "not given, so not drawn: the stock",
    ):
        assert bare(said) in text, said


def test_where_too_much_is_to_be_told_it_says_how_much_is_left_out() -> None:
    text = words(sheet("sixty tools"))
    assert re.search(r"And 4\d more tools: ", text)
    assert re.search(r"First cuts of .*: told in the examination\.", text)
    assert re.search(r"And \d+ more, the last at line \d+\.", text)
    assert "told in the examination." in words(sheet("overfull"), 0)


@pytest.mark.parametrize("kind", ["care", "nine tools", "inch"])
@pytest.mark.parametrize("paper", list(Paper))
def test_the_drawing_has_the_scale_that_is_written_beside_it(kind: str, paper: Paper) -> None:
    """The blank is 64 x 40 x 14.4 mm: its plan and its front view are measured on the paper."""
    told = re.search(r"drawing ([\d.]+):([\d.]+)", words(sheet(kind, paper), 0))
    assert told is not None
    scale = float(told[1]) / float(told[2])
    boxes = drawn(sheet(kind, paper), 0)
    for wide, high in ((64.0, 40.0), (64.0, 14.4)):
        found = [box for box in boxes if abs(box.wide - wide * scale) < 0.03 and abs(box.high - high * scale) < 0.03]
        assert found, (wide * scale, high * scale)


@pytest.mark.parametrize(("kind", "step"), [("care", 1.0), ("inch", 25.4 / 16)])
def test_the_rule_at_the_head_is_true_to_size(kind: str, step: float) -> None:
    boxes = drawn(sheet(kind), 0)
    ticks = [box for box in boxes if 3 < box.high < 4 and 177 < box.wide < 180.01]  # one path of all ticks
    lines = [box for box in boxes if abs(box.wide - 180) < 0.01 and box.high < 0.01]
    assert lines
    assert [box.wide for box in ticks] == [pytest.approx(int(180 / step) * step, abs=0.01)]


def test_inches_are_told_in_inches() -> None:
    text = words(sheet("inch"))
    for mm in (121.40, 88.10):
        assert f"{mm / 25.4:.4f}" in text
    assert "3.47008(24)" in text  # LF 88.140(6) mm
    assert "true inches" in text
    assert "121.40" not in text


def test_the_same_sheet_is_the_same_file_and_says_who_wrote_it() -> None:
    again = setup_sheet_pdf(made.some_care(), "Float cap", "Tarn bench mill", PRINTED, Paper.LETTER)
    assert again == sheet("care")
    assert b"/Keywords(firstoff:set-up-sheet)" in again
    assert b"/CreationDate(D:20260504150500" in again


def test_a_strangers_words_are_words() -> None:
    bad = '#panic("x") $a$ \\ "q" [b] *c* _d_ @e <f> // g /* h'
    facts = made.facts()
    settings = dict(facts.settings)
    paths = ("machine.name", "job.offset.G54.zero", "job.material", "job.holding.after_cut_free", "job.fixture.0.name")
    for path in paths:
        settings[path] = Setting(path, bad)
    known = FactSet(facts.facts, settings)
    case = made.case(known, replace(made.reading(text=(bad,) * 25), file=bad))
    answered = replace(made.counted_care(), why=bad, do=bad, places=())
    pdf = setup_sheet_pdf(Examination(case, known, (answered,), made.NOT_ASKED, None, ()), bad, "", PRINTED)
    assert pages(pdf) == 2
    assert bare(words(pdf)).count(bare(bad)) >= 7
