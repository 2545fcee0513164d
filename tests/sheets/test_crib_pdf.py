"""The tool list and the labels as PDF."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import datetime

import pytest

from firstoff.changer.crib import Crib, crib_of
from firstoff.sheets.labels_pdf import ACROSS, HIGH, labels_pdf
from firstoff.sheets.tool_list_pdf import tool_list_pdf
from firstoff.sheets.typst_paper import Paper
from firstoff.verdict.words import ShopUnits
from tests.sheets import hand_built as made
from tests.sheets.pdf_reading import bare, drawn, letter_sizes, pages, sizes, words

NOW = datetime(2026, 5, 4, 15, 5)
MM, INCH = ShopUnits(False), ShopUnits(True)


@pytest.fixture(scope="module")
def crib() -> Crib:
    return crib_of(made.facts())


def many(crib: Crib, count: int) -> Crib:
    return replace(
        crib, items=tuple(replace(crib.items[0], name=f"tool-with-a-long-name-{n}", pocket=n) for n in range(count))
    )


@pytest.mark.parametrize("paper", list(Paper))
def test_the_list_tells_every_tool_with_its_length(crib: Crib, paper: Paper) -> None:
    pdf = tool_list_pdf(crib, "Tarn bench mill", MM, NOW, paper)
    text = bare(words(pdf))
    assert sizes(pdf) == [pytest.approx(paper.size_mm, abs=0.01)]
    for said in ("Tarn bench mill", "Tool list", "length LF", *(item.name for item in crib.items)):
        assert bare(said) in text, said
    assert "88.1400(60)mm" in text
    assert "3.47008(24)in" in bare(words(tool_list_pdf(crib, "Tarn bench mill", INCH, NOW, paper)))
    assert min(letter_sizes(pdf)) >= 8.99


def test_a_long_list_runs_on_with_its_heads(crib: Crib) -> None:
    pdf = tool_list_pdf(many(crib, 60), "Mill", MM, NOW)
    assert pages(pdf) > 1
    for page in range(pages(pdf)):
        assert "length LF" in words(pdf, page)
        assert f"page {page + 1} of {pages(pdf)}" in words(pdf, page)
    text = bare(words(pdf))
    assert all(f"pocket{n}tool-with-a-long-name-{n}88.1400(60)mm" in text for n in range(60))


@pytest.mark.parametrize("paper", list(Paper))
def test_labels_are_as_large_as_they_say_and_stand_inside_the_paper(crib: Crib, paper: Paper) -> None:
    pdf = labels_pdf(many(crib, 25), MM, NOW, paper)
    text = bare(words(pdf))
    assert text.count("88.1400(60)mm") == 25
    assert text.count("measured") == 25
    wide, high = paper.size_mm
    for page in range(pages(pdf)):
        boxes = drawn(pdf, page)
        assert min(box.left for box in boxes) > (wide - 180) / 2 - 0.5
        assert max(box.right for box in boxes) < (wide + 180) / 2 + 0.5
        assert max(box.bottom for box in boxes) < high - 15 + 0.5
        across = sorted({round(box.left, 1) for box in boxes if box.wide < 0.01 and box.high > HIGH - 0.1})
        assert len(across) == ACROSS + 1
        assert all(after - before == pytest.approx(60, abs=0.15) for before, after in itertools.pairwise(across))


def test_what_was_never_measured_is_a_line_to_write_on(crib: Crib) -> None:
    item = next(one for one in crib.items if one.name == "em6")
    void = replace(crib, items=(replace(item, length=None, stick_out=None),))
    whole = replace(crib, items=(item,))
    assert "88.14" in words(labels_pdf(whole, MM, NOW))
    assert "88.14" not in words(labels_pdf(void, MM, NOW))
    lines = [
        sum(box.high < 0.01 and 20 < box.wide < 50 for box in drawn(labels_pdf(one, MM, NOW), 0))
        for one in (whole, void)
    ]
    assert lines[1] == lines[0] + 3  # LF, when it was measured, stick-out


def test_a_strangers_words_are_words(crib: Crib) -> None:
    bad = '#panic() $a$ "q"'
    item = replace(crib.items[0], name=bad, place=bad, pocket=None, holder=bad)
    one = replace(crib, items=(item,))
    assert bare(bad) in bare(words(labels_pdf(one, MM, NOW)))
    assert bare(bad) in bare(words(tool_list_pdf(one, bad, MM, NOW)))
