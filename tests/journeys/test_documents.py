"""Documents that cannot drift: schemas, the page of facts, the README's figures and commands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from firstoff.sheets.records import SCHEMAS, schema_text

from .conftest import Run

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_published_schema_is_the_record(name: str) -> None:
    assert (ROOT / "docs/schema" / f"{name}.json").read_text(encoding="utf-8") == schema_text(name)


def test_every_command_in_the_readme_exists(firstoff: Run) -> None:
    told = set(re.findall(r"`firstoff (\w+)", (ROOT / "README.md").read_text()))
    known = set(re.findall(r"^\s{2}(\w+)\s", firstoff("--help").stdout, re.MULTILINE))
    assert told
    assert told <= known


def test_the_readme_shows_no_placeholder_and_names_only_pages_that_exist() -> None:
    text = (ROOT / "README.md").read_text()
    assert not re.findall(r"@[A-Z]+@", text)
    for page in re.findall(r"`(docs/[\w./-]+)`", text):
        assert (ROOT / page).exists(), page


def test_the_truth_page_holds_every_check_of_the_list() -> None:
    page = (ROOT / "docs/truth.md").read_text()
    for check in (ROOT / "tests/truth/checks.txt").read_text().split():
        assert f"| {check} |" in page, f"{check}: run make truth"
