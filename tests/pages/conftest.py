"""A shop behind its door, asked without a browser."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from firstoff.demo.lay_out import lay_out
from firstoff.pages.app import make_app
from firstoff.pages.door import Door, names_of

ADDRESS = "http://localhost:7318"
JOBS = ("cable-clip", "logger-lid", "vent-plug", "lid-wrong-length")


def lay(folder: Path) -> Path:
    """A demo shop with a few jobs, its card filled in now."""
    lay_out(folder, datetime.now())
    for job in (folder / "jobs").iterdir():
        if job.name not in JOBS:
            shutil.rmtree(job)
    return folder


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return lay(tmp_path / "shop")


@pytest.fixture
def client(shop: Path) -> Iterator[TestClient]:
    """Asks as this computer does."""
    app = make_app(shop, Door(names_of([], 7318)))
    with TestClient(app, base_url=ADDRESS, follow_redirects=False) as asked:
        yield asked


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """One shop and one process that examines, for tests that leave the shop's files alone: both take seconds to begin."""
    door = Door(names_of([], 7318))
    door.asked.most = 10**6
    app = make_app(lay(tmp_path_factory.mktemp("shared") / "shop"), door)
    with TestClient(app, base_url=ADDRESS, follow_redirects=False) as asked:
        yield asked
