"""Sheets as PDF, as a person asks for them."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

from firstoff.demo import lay_out
from tests.sheets.pdf_reading import bare, pages, sizes, words

from .conftest import Run


def test_a_set_up_sheet_in_another_paper_and_other_units(firstoff: Run, tmp_path: Path) -> None:
    lay_out(tmp_path / "shop", datetime.now())
    ask = ("sheet", "cable-clip", "--shop", "shop", "--pdf", "clip.pdf")
    done = firstoff(*ask, "--html", "clip.html")
    assert done.returncode == 0
    assert "Clear. Sheet written to clip.html and clip.pdf." in done.stderr
    pdf = (tmp_path / "clip.pdf").read_bytes()
    assert pages(pdf) <= 2
    assert sizes(pdf)[0][0] < 210.1
    assert "112.20" in words(pdf)
    assert "<html" in (tmp_path / "clip.html").read_text()
    again = firstoff(*ask, "--paper", "letter", "--units", "inch", "--json")  # over the one that we wrote
    assert again.returncode == 0
    assert json.loads(again.stdout)["verdict"] == "clear"
    pdf = (tmp_path / "clip.pdf").read_bytes()
    assert round(sizes(pdf)[0][0], 1) == 215.9
    assert f"{112.20 / 25.4:.4f}" in words(pdf)
    assert "112.20" not in words(pdf)


def test_nothing_is_written_over_what_is_not_ours(firstoff: Run, tmp_path: Path) -> None:
    lay_out(tmp_path / "shop", datetime.now())
    mine = b"%PDF-1.4\n% my drawing, firstoff:set-up-sheet in a remark\n%%EOF\n"
    (tmp_path / "mine.pdf").write_bytes(mine)
    for ask in (
        ("sheet", "cable-clip", "--shop", "shop", "--pdf", "mine.pdf"),
        ("crib", "list", "--shop", "shop", "--pdf", "mine.pdf"),
        ("crib", "labels", "mine.pdf", "--shop", "shop"),
    ):
        done = firstoff(*ask)
        assert done.returncode == 2, ask
        assert "mine.pdf" in done.stderr
        assert (tmp_path / "mine.pdf").read_bytes() == mine
    assert firstoff("sheet", "cable-clip", "--shop", "shop").returncode == 2
    assert firstoff("sheet", "cable-clip", "--shop", "shop", "--pdf", "no/such.pdf").returncode == 2


def test_the_crib_on_paper(firstoff: Run, tmp_path: Path) -> None:
    lay_out(tmp_path / "shop", datetime.now())
    for _ in range(2):  # the second over the first
        done = firstoff("crib", "list", "--shop", "shop", "--pdf", "list.pdf", "--paper", "letter")
        assert done.returncode == 0
        assert "Tool list written to list.pdf." in done.stderr
    text = bare(words((tmp_path / "list.pdf").read_bytes()))
    assert bare("passes from 71.252 mm to 71.378 mm") in text
    told = firstoff("crib", "labels", "labels.pdf", "--shop", "shop", "--json")
    assert json.loads(told.stdout) == {"schema": "firstoff.crib-labels/1", "written": "labels.pdf", "labels": 12}
    assert "em6-stub" in words((tmp_path / "labels.pdf").read_bytes())
