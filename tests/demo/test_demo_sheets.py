"""The set-up sheets of the demo shop's good jobs, printed by a real browser: one page of either paper, nothing cut off."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from firstoff.sheets.setup_pdf import setup_sheet_pdf
from firstoff.sheets.setup_sheet import setup_sheet_html
from firstoff.sheets.typst_paper import Paper
from tests.sheets.pdf_reading import pages, words

from .conftest import NOW, DemoShop

JOBS = ("cable-clip", "clamp-ring", "logger-lid", "sensor-cap", "vent-plug", "lid-air-blast", "cap-low-traverse")


@pytest.fixture(scope="module")
def page(browser: Any) -> Iterator[Any]:
    """One page of a real browser."""
    opened = browser.new_page()
    yield opened
    opened.close()


CUT = """() => [...document.querySelectorAll("td, th, .cells div")].filter((part) => part.scrollWidth > part.clientWidth + 1)
  .map((part) => part.textContent)"""


@pytest.mark.parametrize("name", JOBS)
def test_a_demo_jobs_sheet_is_one_page_of_a4_and_of_letter(shop: DemoShop, page: Any, name: str) -> None:
    page.set_content(setup_sheet_html(shop.whole(name), name, "demo", NOW))
    for paper in ("A4", "Letter"):
        assert len(re.findall(rb"/Type\s*/Page\b(?!s)", page.pdf(format=paper))) == 1, paper
    page.emulate_media(media="print")
    assert page.evaluate(CUT) == []
    assert page.evaluate("document.querySelectorAll('svg.picture').length") == 1


@pytest.mark.parametrize("name", JOBS)
def test_a_demo_jobs_pdf_is_at_most_two_pages_and_leaves_nothing_out(shop: DemoShop, name: str) -> None:
    for paper in Paper:
        pdf = setup_sheet_pdf(shop.whole(name), name, "demo", NOW, paper)
        assert pages(pdf) <= 2, paper
        assert not re.search(r"more tool|told in the examination|No room here", words(pdf)), paper
