"""The job page as it is laid out: what is seen at once on a desktop, what a tablet folds, and the order on a narrow window."""

from __future__ import annotations

import pytest

from .browser import DESKTOP, PHONE, TABLET, Open, serious, too_wide

AT_ONCE = (".verdict-word", ".picture", "#along", ".program", "#next > :nth-child(2)")
"""What is seen without scrolling: the top of each."""
SMALL_TEXT = """() => {
  const numerals = "svg text, .time-rule span, .picture-words *, .lane-now";
  const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT), found = new Set();
  while (walk.nextNode()) {
    const part = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || part.closest(".visually, .picture") || !part.checkVisibility({ visibilityProperty: true })) continue;
    if (parseFloat(getComputedStyle(part).fontSize) < (part.matches(numerals) ? 13 : 14.5)) found.add(`${part.tagName}.${part.className} ${walk.currentNode.data.slice(0, 20)}`);
  }
  return [...found];
}"""
"""Words on a tablet that are smaller than 14.5 px, numerals than 13 (LOOK, 2)."""


def top(opened: Open, part: str) -> float:
    box = opened.page.locator(f"{part} >> nth=0").bounding_box()
    assert box is not None, part
    return float(box["y"])


@pytest.mark.parametrize("opened", [(DESKTOP, "light")], indirect=True)
def test_a_desktop_shows_verdict_questions_picture_time_and_program_at_once(opened: Open) -> None:
    for job in ("lid-wrong-length", "vent-plug", "logger-lid"):
        opened.job(job)
        opened.shot(f"job-at-once-{job}")
        for part in AT_ONCE:
            assert top(opened, part) < DESKTOP[1] - 60, (job, part)
        posts = opened.page.eval_on_selector_all(".q .post", "all => all.map((one) => one.getBoundingClientRect().x)")
        seen = opened.page.eval_on_selector_all(
            ".q .post", f"all => all.filter((one) => one.getBoundingClientRect().y < {DESKTOP[1]}).length"
        )
        assert seen >= 3, job
        assert max(posts) - min(posts) < 1, job  # all end stops in one plumb line


@pytest.mark.parametrize("opened", [(DESKTOP, "light")], indirect=True)
def test_the_verdict_stays_as_one_line_when_it_has_gone_out_of_sight(opened: Open) -> None:
    opened.job("lid-wrong-length")
    page = opened.page
    assert not page.is_visible(".verdict-line")
    page.evaluate("scrollTo(0, 700)")
    page.wait_for_selector(".verdict-line.here")
    assert page.locator(".verdict-line").bounding_box() == pytest.approx(
        {"x": 0, "y": 0, "width": DESKTOP[0], "height": 49.5}, abs=2
    )
    assert "Stop." in page.inner_text(".verdict-line")
    page.click(".verdict-line [data-go-line]")
    line = page.get_attribute(".verdict-line [data-go-line]", "data-go-line")
    assert page.inner_text(".program-at").startswith(f"line {line} of")


@pytest.mark.parametrize("opened", [(TABLET, "light")], indirect=True)
def test_a_tablet_has_a_pane_that_changes_a_fold_and_the_moment_in_thumb_reach(opened: Open) -> None:
    opened.job("lid-wrong-length")
    page = opened.page
    opened.shot("job-tablet")
    assert page.evaluate(SMALL_TEXT) == []
    assert page.is_visible(".picture")
    page.focus("#tab-picture")
    page.keyboard.press("ArrowRight")
    assert page.get_attribute("#tab-program", "aria-selected") == "true"
    assert page.get_attribute("#program", "role") == "tabpanel"
    assert page.is_visible(".program-line.at")
    assert not page.is_visible(".picture")
    page.click("#tab-next")
    assert page.is_visible("#next .next")
    assert page.locator("#tab-next").bounding_box()["height"] >= 48
    assert not page.is_visible(".q-clear")
    page.click(".q-fold button")
    assert page.get_attribute(".q-fold button", "aria-expanded") == "true"
    assert page.locator(".q-clear").first.is_visible()
    before = page.inner_text(".program-at")
    page.focus(".thumb [role=slider]")
    for key in ("End", "ArrowLeft", "PageDown"):
        page.keyboard.press(key)
        told = page.inner_text(".thumb .index-told")
        assert page.inner_text(".program-at") != before
        before = page.inner_text(".program-at")
        assert told.endswith(before.partition(" of")[0])
        assert "nearest limit" in (page.get_attribute(".thumb [role=slider]", "aria-valuetext") or "")
    grip = page.locator(".thumb .index-grip").bounding_box()
    assert grip["width"] >= 48
    assert grip["height"] >= 48
    page.mouse.move(grip["x"] + 24, grip["y"] + 24)
    page.mouse.down()
    page.mouse.move(300, grip["y"] + 24, steps=3)
    page.mouse.up()
    assert page.inner_text(".program-at") != before
    assert serious(page) == []
    assert not too_wide(page)


@pytest.mark.parametrize("opened", [(PHONE, "light")], indirect=True)
def test_a_narrow_window_reads_from_the_verdict_to_the_program(opened: Open) -> None:
    opened.job("lid-wrong-length")
    opened.shot("job-narrow")
    assert not too_wide(opened.page)
    tops = [top(opened, part) for part in (".verdict-word", "#questions", "#next", "#picture", "#along", "#program")]
    assert tops == sorted(tops)
