"""The pages in a real browser: every room, both themes, desktop and tablet; the linked views; drop, forms, keys; axe.

Screenshots are written where FIRSTOFF_SHOTS names a folder.
"""

from __future__ import annotations

import os
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from firstoff.pages.app import make_app
from firstoff.pages.door import Door, names_of

from .conftest import lay

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DESKTOP, TABLET, PHONE = (1440, 900), (1180, 820), (414, 896)
ROOMS = ("jobs", "machine", "tools", "history", "numbers")


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


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    """A shop that is really served, on a free port."""
    shop = lay(tmp_path_factory.mktemp("served") / "shop")
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


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    if CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail("chromium is not installed")
        pytest.skip("chromium is not installed")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        flags = ["--no-sandbox", "--use-gl=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist"]
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=flags)
        yield started
        started.close()


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


WITH_AXE = ("desktop-paper", "tablet-night")
"""Both themes and both sizes; what axe looks at is a matter of theme and of markup."""
BOTH = [(size, theme) for size in (DESKTOP, TABLET) for theme in ("light", "dark")]


@pytest.mark.parametrize(
    "opened", BOTH, indirect=True, ids=["desktop-paper", "desktop-night", "tablet-paper", "tablet-night"]
)
def test_every_room_shows_and_axe_finds_nothing_serious(opened: Open, request: pytest.FixtureRequest) -> None:
    name = request.node.callspec.id
    for room in (*ROOMS, "jobs/logger-lid"):
        if "/" in room:
            opened.job("logger-lid")
        else:
            opened.go(f"/{room}")
        opened.shot(f"{room.replace('/', '-')}-{name}")
        if name in WITH_AXE:
            assert serious(opened.page) == [], room
        wide = opened.page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
        assert wide[0] <= wide[1], f"{room} is wider than its window"


def serious(page: Any) -> list[str]:
    """Findings of axe that are serious or critical."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page).response["violations"]
    return [
        f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in found if one["impact"] in ("serious", "critical")
    ]


@pytest.mark.parametrize("opened", [(PHONE, "light")], indirect=True)
def test_a_narrow_window_has_one_column(opened: Open) -> None:
    opened.job("cable-clip")
    opened.shot("job-narrow")
    wide = opened.page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
    assert wide[0] <= wide[1]


def test_line_moment_and_place_point_at_each_other(opened: Open) -> None:
    opened.job("lid-wrong-length")
    page = opened.page
    page.click("button[data-go-line]")
    line = page.get_attribute("button[data-go-line]", "data-go-line")
    assert page.inner_text(".program-at").startswith(f"line {line} of")
    assert page.get_attribute(".program-line.at", "data-n") == line
    assert page.is_visible(".lanes-index")
    assert page.is_visible(".picture-words .moment")
    page.click(".program-line >> nth=3")
    chosen = page.get_attribute(".program-line.at", "data-n")
    assert chosen != line
    assert page.inner_text(".program-at").startswith(f"line {chosen} of")
    lane = page.locator(".lane-plot >> nth=0")
    lane.scroll_into_view_if_needed()
    box = lane.bounding_box()
    page.mouse.click(box["x"] + 0.7 * box["width"], box["y"] + 20)
    moved = page.get_attribute(".program-line.at", "data-n")
    assert int(moved) > int(chosen)
    assert f"line {moved}" in page.inner_text(".picture-words .moment")


def test_a_click_on_the_path_finds_its_line(opened: Open) -> None:
    opened.job("logger-lid")
    page = opened.page
    page.click("[data-view=plan]")
    box = page.locator(".picture canvas").bounding_box()
    before = page.inner_text(".program-at")
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2 - 8)
    assert page.inner_text(".program-at") != before


def test_the_picture_is_turned_by_dragging_and_by_keys(opened: Open) -> None:
    opened.job("logger-lid")
    page = opened.page
    assert page.get_attribute("[data-view=corner]", "aria-pressed") == "true"
    before = page.locator(".picture canvas").screenshot()
    box = page.locator(".picture canvas").bounding_box()
    page.mouse.move(box["x"] + 150, box["y"] + 100)
    page.mouse.down()
    page.mouse.move(box["x"] + 260, box["y"] + 130, steps=4)
    page.mouse.up()
    page.wait_for_timeout(150)
    assert page.locator(".picture canvas").screenshot() != before
    assert page.get_attribute("[data-view=corner]", "aria-pressed") == "false"
    page.focus(".picture")
    turned = page.locator(".picture canvas").screenshot()
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(150)
    assert page.locator(".picture canvas").screenshot() != turned


def test_questions_are_walked_and_opened_by_keys_alone(opened: Open) -> None:
    opened.job("lid-wrong-length")
    page = opened.page
    page.focus(".q summary >> nth=0")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.closest('details').open")
    before = page.inner_text(".program-at")
    page.keyboard.press("]")
    assert page.inner_text(".program-at") != before


def test_the_theme_is_chosen_and_remembered(opened: Open) -> None:
    opened.go("/jobs")
    page = opened.page
    page.click("[data-choose=night]")
    night = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    page.reload()
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == night
    page.keyboard.press("t")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") != night


def test_a_dropped_program_is_examined_with_progress(opened: Open, served: tuple[Path, str], tmp_path: Path) -> None:
    opened.job("cable-clip")
    page = opened.page
    program = tmp_path / "clip-2.nc"
    program.write_bytes((served[0] / "jobs/cable-clip/program.nc").read_bytes())
    data = page.evaluate_handle(
        "([text]) => { const data = new DataTransfer(); data.items.add(new File([text], 'clip-2.nc')); return data; }",
        [program.read_text()],
    )
    page.dispatch_event("body", "drop", {"dataTransfer": data})
    page.wait_for_selector("h1:has-text('clip-2.nc')", timeout=60_000)
    page.wait_for_selector("body[data-ready]")
    assert "/examined/" in page.url


def test_an_examination_is_stopped_from_its_page(opened: Open) -> None:
    opened.job("logger-lid")
    opened.page.click("text=Examine again")
    opened.page.wait_for_selector(".examining")
    opened.shot("examining")
    opened.page.click("text=Stop the examination")
    opened.page.wait_for_url("**/jobs")


def test_a_fact_that_cannot_be_says_so_in_its_row_and_loses_nothing(opened: Open) -> None:
    opened.go("/machine")
    page = opened.page
    row = "[id='machine.axis.x.max_feed']"
    page.click(f"{row} summary")
    page.fill(f"{row} [name=value]", "11 mm")
    opened.troubles.clear()
    page.click(f"{row} button[type=submit]")
    page.wait_for_selector(f"{row} .fact-refused")
    assert "11 mm" in page.inner_text(f"{row} .fact-said")
    assert page.input_value(f"{row} [name=value]") == "11 mm"
    opened.shot("fact-refused")
    opened.troubles.clear()  # the browser reports the refusal itself
    page.fill(f"{row} [name=value]", "10.5 m/min")
    page.fill(f"{row} [name=why]", "a browser tries it")
    page.click(f"{row} button[type=submit]")
    page.wait_for_selector("text=a browser tries it")
    assert "10500" in page.inner_text(f"{row} .f-value")


def test_a_run_is_noted_and_said_again(opened: Open) -> None:
    opened.job("cable-clip")
    page = opened.page
    page.click("[data-note=good]")
    page.click("text=Keep the note")
    page.wait_for_selector("h1")
    page.click("text=Examine again")
    page.wait_for_selector("body[data-ready]", timeout=60_000)
    assert "It has run well" in page.inner_text(".ran-before")


def test_what_is_missing_is_told_not_drawn(opened: Open) -> None:
    opened.job("vent-plug")
    opened.shot("job-unjudged")
    assert "Unjudged." in opened.page.inner_text(".verdict-word")
    assert opened.page.is_visible("#next ol.next li")
