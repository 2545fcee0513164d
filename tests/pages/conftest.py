"""A shop behind its door, asked without a browser and in one."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from firstoff.demo.lay_out import lay_out
from firstoff.pages.app import make_app
from firstoff.pages.door import Door, names_of

from .browser import DESKTOP, Open, served_at

ADDRESS = "http://localhost:7318"
JOBS = ("cable-clip", "logger-lid", "vent-plug", "lid-wrong-length")


def lay(folder: Path) -> Path:
    """A demo shop with a few jobs, its card filled in now."""
    lay_out(folder, datetime.now())
    for job in (folder / "jobs").iterdir():
        if job.name not in JOBS:
            shutil.rmtree(job)
    return folder


@pytest.fixture(scope="session")
def laid_out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shop that others are copied from: laying it out with a year behind it takes longer than most tests."""
    return lay(tmp_path_factory.mktemp("laid-out") / "shop")


@pytest.fixture
def shop(laid_out: Path, tmp_path: Path) -> Path:
    """A shop of a test's own."""
    return Path(shutil.copytree(laid_out, tmp_path / "shop"))


@pytest.fixture
def client(shop: Path) -> Iterator[TestClient]:
    """Asks as this computer does."""
    app = make_app(shop, Door(names_of([], 7318)))
    with TestClient(app, base_url=ADDRESS, follow_redirects=False) as asked:
        yield asked


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """One shop and one process that examines, for tests that leave the shop's files alone: both take seconds to begin."""
    door = Door(names_of([], 7318))
    door.asked.most = 10**6
    app = make_app(lay(tmp_path_factory.mktemp("shared") / "shop"), door)
    with TestClient(app, base_url=ADDRESS, follow_redirects=False) as asked:
        yield asked


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    """A shop that is really served: its folder and its address. Tests may change its files, each its own."""
    with served_at(lay(tmp_path_factory.mktemp("served") / "shop")) as found:
        yield found


@pytest.fixture
def opened(browser: Any, served: tuple[Path, str], request: pytest.FixtureRequest) -> Iterator[Open]:
    """A page of (size, theme); at the end nothing may have gone wrong on it, and nothing may have been asked of anyone else."""
    size, theme = getattr(request, "param", (DESKTOP, "light"))
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=theme)
    found = Open(context.new_page(), served[1])
    found.page.on("pageerror", lambda error: found.troubles.append(str(error)))
    found.page.on("console", lambda said: found.troubles.append(said.text) if said.type == "error" else None)
    found.page.on("request", lambda asked: found.asked.append(asked.url))
    yield found
    context.close()
    assert found.troubles == []
    assert [url for url in found.asked if not url.startswith((served[1], "data:", "blob:"))] == []
