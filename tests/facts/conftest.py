"""A full shop to break: the starter with every example line made real."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from firstoff.facts.starter import new_shop

TOML_FILES = ("machine.toml", "tools.toml", "materials.toml", "jobs/first/job.toml")


def uncommented(text: str) -> str:
    """Every line that begins with # and no space is an example, ready to use."""
    return re.sub(r"^#(?=\S)", "", text, flags=re.MULTILINE)


def fill(folder: Path) -> Path:
    new_shop(folder)
    for name in TOML_FILES:
        path = folder / name
        path.write_text(uncommented(path.read_text()))
    return folder


@pytest.fixture
def full_shop(tmp_path: Path) -> Path:
    """Folder of a shop in which every key of the starter holds a value."""
    return fill(tmp_path / "shop")


@pytest.fixture(autouse=True)
def _no_shop_around(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("FIRSTOFF_SHOP", raising=False)
    monkeypatch.chdir(tmp_path)
