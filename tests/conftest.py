"""Two workers share one run: kernels are compiled once, and the longest tests begin first."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from .once import compile_kernels_once

FIRST_HALF = ("removal", "demo", "proof", "loads")
"""Rooms that the first worker begins with: it compiles the kernels of removal, most of all that is compiled."""
SECOND_HALF = (
    *("program", "motion", "path", "facts", "write", "changer", "book", "sheets", "journeys", "verdict", "workflows"),
    *("pages", "regression", "truth"),
)
"""Rooms of the second: none of the first ones needs those kernels, so that it has work until they are there; the last have short tests alone, so
that neither worker waits long for the other."""
LONG = ("test_hidden_machines", "test_false_clears", "test_false_clears_in_stock", "test_demo_asked")


def pytest_configure() -> None:
    settings.register_profile("no clock", deadline=None)  # on a busy machine the clock says nothing of a test
    settings.load_profile("no clock")
    if os.environ.get("PYTEST_XDIST_WORKER"):
        compile_kernels_once()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A run that is dealt out (`--dist worksteal`) gives each of two workers one half of the list, and steals from the end."""
    if not os.environ.get("PYTEST_XDIST_WORKER"):
        return
    rooms = (*FIRST_HALF, *SECOND_HALF)

    def turn(item: pytest.Item) -> tuple[int, int]:
        room = item.path.relative_to(Path(__file__).parent).parts[0]
        name = item.path.stem
        return rooms.index(room) if room in rooms else len(rooms), LONG.index(name) if name in LONG else len(LONG)

    items.sort(key=turn)
    begun = sum(turn(item)[0] < len(FIRST_HALF) for item in items)
    filled = len(items) // 2 - begun
    if filled > 0:  # short ones from the end of the second half fill up the first
        items[:] = [*items[:begun], *items[-filled:], *items[begun:-filled]]


@pytest.fixture(scope="session")
def shared_folder(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """A folder that all workers of a run see."""
    base = tmp_path_factory.getbasetemp()
    return base if worker_id == "master" else base.parent


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One real browser for all that is looked at in a run; in CI there must be one."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("chromium is not installed")
        pytest.skip("chromium is not installed")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        flags = ["--no-sandbox", "--use-gl=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist"]
        started = playwright.chromium.launch(executable_path=found, args=flags)
        yield started
        started.close()
