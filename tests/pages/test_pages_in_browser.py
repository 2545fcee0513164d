"""The pages in a real browser: every room, both themes, desktop and tablet; the linked views; drop, forms, keys; axe.

Screenshots are written where FIRSTOFF_SHOTS names a folder.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from firstoff.pages import jobs
from tests.workflows.test_by_itself import OURS

from .browser import BOTH, BOTH_NAMES, PHONE, Open, serious, too_wide

ROOMS = ("jobs", "machine", "tools", "history", "numbers")
WHOLE = ".picture[data-drawn=smooth]"
"""While a hand moves, the picture is rough; soon after it is whole."""
WITH_AXE = ("desktop-paper", "tablet-night")
"""Both themes and both sizes; what axe looks at is a matter of theme and of markup."""


@pytest.mark.parametrize("opened", BOTH, indirect=True, ids=BOTH_NAMES)
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
        assert not too_wide(opened.page), room


@pytest.mark.parametrize("opened", [(PHONE, "light")], indirect=True)
def test_a_narrow_window_has_one_column(opened: Open) -> None:
    opened.job("cable-clip")
    opened.shot("job-narrow")
    assert not too_wide(opened.page)


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
    page.wait_for_selector(WHOLE)
    before = page.locator(".picture canvas").screenshot()
    box = page.locator(".picture canvas").bounding_box()
    page.mouse.move(box["x"] + 150, box["y"] + 100)
    page.mouse.down()
    page.mouse.move(box["x"] + 260, box["y"] + 130, steps=4)
    page.mouse.up()
    page.wait_for_selector(WHOLE)
    assert page.locator(".picture canvas").screenshot() != before
    assert page.get_attribute("[data-view=corner]", "aria-pressed") == "false"
    page.focus(".picture")
    page.wait_for_selector(WHOLE)
    turned = page.locator(".picture canvas").screenshot()
    page.keyboard.press("ArrowRight")
    page.wait_for_selector(WHOLE)
    assert page.locator(".picture canvas").screenshot() != turned
    page.keyboard.press("ArrowLeft")
    page.wait_for_selector(WHOLE)
    assert page.locator(".picture canvas").screenshot() == turned  # nothing else changed it


LABELS = """() => [...document.querySelectorAll('.picture-words .name, .picture-words .moment, .picture-words .callout')].map((one) => {
  const { left, top, right, bottom } = one.getBoundingClientRect(); return [left, top, right, bottom]; })"""


def test_the_tool_stands_in_what_it_meets_and_two_lines_say_so(opened: Open) -> None:
    opened.job("lid-wrong-length")
    page = opened.page
    page.click("button[data-go-line]")  # the change of length; the contact comes two lines later
    page.click('.program-line[data-n="44"]')
    page.wait_for_selector(WHOLE)
    opened.shot("picture-contact")
    assert page.inner_text(".picture-words .callout") == "Edge of em6 meets the stock\n3.0 mm into it, at rapid"
    assert page.inner_text(".picture-words .moment") == "line 44, T2"
    frame = page.locator(".picture").bounding_box()
    labels = page.evaluate(LABELS)
    assert len(labels) >= 4
    for k, (left, top, right, bottom) in enumerate(labels):
        assert left >= frame["x"]
        assert right <= frame["x"] + frame["width"]
        assert top >= frame["y"]
        assert bottom <= frame["y"] + frame["height"]
        for one in labels[:k]:
            assert right <= one[0] or left >= one[2] or bottom <= one[1] or top >= one[3], "words lie on words"


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


def drop(opened: Open, text: str, name: str) -> None:
    """Drop a file on the page."""
    made = "([text, name]) => { const data = new DataTransfer(); data.items.add(new File([text], name)); return data; }"
    opened.page.dispatch_event("body", "drop", {"dataTransfer": opened.page.evaluate_handle(made, [text, name])})


def test_a_dropped_version_is_held_against_the_job(opened: Open, served: tuple[Path, str]) -> None:
    opened.job("cable-clip")
    page = opened.page
    text = (served[0] / "jobs/cable-clip/program.nc").read_text()
    drop(opened, text.replace("S18000", "S29000").replace("S24000", "S29000"), "clip-2.nc")
    page.wait_for_selector("h1:has-text('clip-2.nc')", timeout=60_000)
    page.wait_for_selector("body[data-ready]", timeout=60_000)
    assert "/examined/" in page.url
    assert [one.split()[0] for one in page.locator(".a-verdict b").all_inner_texts()] == ["Clear.", "Stop."]
    assert page.locator(".q-moved details[open]").count() > 0
    assert page.locator(".scale .earlier").count() > 0
    opened.shot("two-versions")
    place = page.locator(".a-come button").first
    line = place.inner_text()
    place.click()
    assert page.inner_text(".program-at").startswith(f"line {line} of")


def test_an_examination_tells_each_answer_and_is_stopped_from_its_page(opened: Open) -> None:
    opened.job("logger-lid")
    page = opened.page
    kept = page.request.get(f"{opened.address}/api/book/examinations").json()
    page.click("text=Examine again")
    page.wait_for_selector(".j-list .j")
    opened.shot("examining")
    # Asked for at once: between two questions of ours a row may move from one list to the other.
    assert page.evaluate("document.querySelectorAll('.j-list .j, [data-waits]').length") == 25
    page.click("text=Stop the examination")
    page.wait_for_selector("text=Nothing of this examination is kept.")
    assert page.request.get(f"{opened.address}/api/book/examinations").json() == kept
    opened.go("/jobs/logger-lid")
    page.wait_for_selector("body[data-ready]", timeout=60_000)  # what was found before is still there


def test_a_program_by_itself_is_dropped_told_of_and_examined(opened: Open, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs, "FEW", 2)
    opened.go("/jobs")
    page = opened.page
    page.click("[data-only=clear], [data-only='not examined']")
    assert page.locator(".job-row:visible").count() < page.locator(".job-row").count()
    page.click("[data-only='']")
    page.fill(".job-search input", "CLIP")
    assert page.locator(".job-row:visible .job-name").all_inner_texts() == ["cable-clip"]
    assert serious(page) == []
    drop(opened, OURS, "strange.nc")
    page.wait_for_selector("text=What is this program?")
    page.fill("#stock", "bx 1..2")
    page.select_option("[id='tool.3']", "em6")
    opened.troubles.clear()
    page.click("text=Examine it by itself")
    page.wait_for_selector("#no-stock")
    opened.troubles.clear()  # the browser reports the refusal itself
    assert page.evaluate("document.activeElement.id") == "stock"
    assert page.input_value("#stock") == "bx 1..2"
    assert page.input_value("[id='tool.3']") == "em6"
    assert serious(page) == []
    opened.shot("program-refused")
    page.fill("#stock", "box 0..80 0..50 -12..0 mm")
    page.click("text=Examine it by itself")
    page.wait_for_selector("body[data-ready]", timeout=60_000)
    assert page.inner_text("h1") == "strange.nc"
    assert page.is_visible("text=Say more about it")


def test_a_fact_that_cannot_be_says_so_in_its_row_and_loses_nothing(opened: Open) -> None:
    opened.go("/machine")
    page = opened.page
    row = "[id='machine.axis.x.max_feed']"
    page.click(f"{row} summary")
    page.fill(f"{row} [name=value]", "11 mm")
    page.wait_for_selector(f"{row} .fact-refused")  # while it is typed
    page.fill(f"{row} [name=value]", "10.4 m/min")
    page.wait_for_selector(f"{row} .fact-said:has-text('Read as 10400')")
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
    page.click("button[data-evidence=assumed]")
    assert not page.is_visible(row)
    page.click("button[data-evidence=assumed]")
    assert "10\u202f500" in page.inner_text(f"{row} .f-value")


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
