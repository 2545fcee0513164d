"""A shop really served, and pages of it in a real Chromium: at the end of every test nothing may have gone wrong on its page.

Screenshots are written where FIRSTOFF_SHOTS names a folder.
"""

from __future__ import annotations

import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import uvicorn

from firstoff.pages.app import make_app
from firstoff.pages.door import Door, names_of

DESKTOP, TABLET, PHONE = (1440, 900), (1180, 820), (414, 896)
BOTH = [(size, theme) for size in (DESKTOP, TABLET) for theme in ("light", "dark")]
BOTH_NAMES = ["desktop-paper", "desktop-night", "tablet-paper", "tablet-night"]


@dataclass
class Open:
    """A page and what went wrong on it."""

    page: Any
    address: str
    troubles: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def go(self, path: str) -> None:
        self.page.goto(self.address + path)

    def job(self, name: str) -> None:
        """Open a job and wait until everything on its page is there."""
        self.go(f"/jobs/{name}")
        self.page.wait_for_selector("body[data-ready]", timeout=60_000)

    def shot(self, name: str) -> None:
        folder = os.environ.get("FIRSTOFF_SHOTS")
        if folder:
            self.page.screenshot(path=f"{folder}/{name}.png")


@contextmanager
def served_at(shop: Path) -> Iterator[tuple[Path, str]]:
    """A shop that is really served, on a free port, and its address."""
    heard = socket.socket()
    heard.bind(("127.0.0.1", 0))
    port = heard.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(make_app(shop, Door(names_of([], port))), log_level="error"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [heard]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.05)
    yield shop, f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(10)


def serious(page: Any) -> list[str]:
    """Findings of axe that are serious or critical."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page).response["violations"]
    return [
        f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in found if one["impact"] in ("serious", "critical")
    ]


def too_wide(page: Any) -> bool:
    """Whether a page is wider than its window."""
    width, window = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
    return bool(width > window)
