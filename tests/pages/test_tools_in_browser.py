"""The tools' page in a real browser: both themes, desktop and tablet; a tool is chosen by hand and by keys; acts, today and tables answer
in place. Screenshots are written where FIRSTOFF_SHOTS names a folder.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from firstoff.workflows.crib import the_crib

from .browser import BOTH, BOTH_NAMES, PHONE, Open, serious, served_at, too_wide
from .test_tools_page import MAPPING
from .tools_shop import lay_tools


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    """A shop with many tools, really served."""
    with served_at(lay_tools(tmp_path_factory.mktemp("served") / "shop")) as found:
        yield found


@pytest.mark.parametrize("opened", BOTH[::3], indirect=True, ids=BOTH_NAMES[::3])
def test_the_room_shows_and_axe_finds_nothing_serious(opened: Open, request: pytest.FixtureRequest) -> None:
    name = request.node.callspec.id
    opened.go("/tools?tool=em6&act=grip&job=cable-clip&job=logger-lid")
    opened.shot(f"tools-{name}")
    assert serious(opened.page) == []
    assert not too_wide(opened.page)
    columns = {round(box["x"]) for box in (one.bounding_box() for one in opened.page.locator(".rack-place").all())}
    assert len(columns) == (9 if name.startswith("desktop") else 7)
    cut = opened.page.evaluate("""() => [...document.querySelectorAll('.rack-cell > span')]
        .filter((one) => one.scrollWidth > one.clientWidth + 1 && one.clientWidth).map((one) => one.textContent)""")
    assert cut == []
    for part, words in (("chosen", "acts"), ("chosen-facts", "facts"), ("today", "today")):
        opened.page.evaluate(
            f"document.getElementById('{part}').scrollIntoView({{block: 'start', behavior: 'instant'}})"
        )
        opened.shot(f"tools-{words}-{name}")
    opened.page.evaluate("scrollTo({top: 1e6, behavior: 'instant'})")
    opened.shot(f"tools-end-{name}")


@pytest.mark.parametrize("opened", [(PHONE, "light")], indirect=True)
def test_a_narrow_window_has_three_pockets_in_a_row(opened: Open) -> None:
    opened.go("/tools")
    opened.shot("tools-narrow")
    assert not too_wide(opened.page)


@pytest.mark.parametrize("opened", [((1180, 820), "light")], indirect=True)
def test_what_a_finger_touches_is_large_enough(opened: Open) -> None:
    opened.go("/tools?tool=em6&act=length")
    small = opened.page.evaluate("""() => [...document.querySelectorAll('main button, main summary, main a, main input:not([type=checkbox]):not([type=file]):not([type=hidden]), main select, .tick')]
        .filter((one) => one.offsetParent && one.getBoundingClientRect().height < 47.5).map((one) => one.outerHTML.slice(0, 90))""")
    assert small == []


def test_a_tool_is_chosen_by_a_click_and_by_keys(opened: Open) -> None:
    opened.go("/tools")
    page = opened.page
    page.click("a.rack-cell[data-choose-tool=cone3]")
    page.wait_for_selector("#chosen[data-tool=cone3]")
    assert page.get_attribute("a.rack-cell[aria-current]", "data-choose-tool") == "cone3"
    assert page.is_visible("[id='tools.cone3.KAPR']")
    assert page.url.endswith("/tools?tool=cone3")
    page.focus("a.rack-cell[data-choose-tool=cone3]")
    page.keyboard.press("ArrowLeft")
    page.wait_for_selector("#chosen[data-tool=globe4]")
    assert page.evaluate("document.activeElement.dataset.chooseTool") == "globe4"


def test_a_chosen_tool_is_there_within_a_tenth_of_a_second_once_it_was_near(opened: Open) -> None:
    opened.go("/tools")
    page = opened.page
    page.hover("a.rack-cell[data-choose-tool=ch90]")
    page.wait_for_timeout(600)
    took = page.evaluate("""() => new Promise((done) => {
        const begun = performance.now();
        new MutationObserver(() => { if (document.querySelector('#chosen[data-tool=ch90]')) done(performance.now() - begun); })
            .observe(document.querySelector('main'), { childList: true, subtree: true });
        document.querySelector('a.rack-cell[data-choose-tool=ch90]').click();
    })""")
    assert took < 100


def test_readings_that_cannot_be_say_so_in_place_and_are_kept(opened: Open, served: tuple[Path, str]) -> None:
    opened.go("/tools")
    page = opened.page
    page.click("a.rack-cell[data-choose-tool=em15]")
    page.wait_for_selector("#chosen[data-tool=em15]")
    page.click("[data-act=length] summary")
    page.fill("[data-act=length] [name=readings]", "64.31 64.9")
    page.click("[data-act=length] .act-strong")
    page.wait_for_selector("[data-act=length] .act-refused")
    assert "part by" in page.inner_text("[data-act=length] .act-said")
    assert page.input_value("[data-act=length] [name=readings]") == "64.31 64.9"
    opened.shot("tools-refused")
    opened.troubles.clear()  # the browser reports the refusal itself
    page.fill("[data-act=length] [name=readings]", "64.310 64.312 64.311")
    page.click("[data-act=length] .act-strong")
    page.wait_for_selector("text=Length 64.311")
    assert "64.311" in page.inner_text("a.rack-cell[data-choose-tool=em15] .rack-length")


def test_only_checking_says_what_it_finds_and_changes_nothing(opened: Open, served: tuple[Path, str]) -> None:
    before = (served[0] / "tools.toml").read_bytes()
    opened.go("/tools?tool=face16&act=length")
    page = opened.page
    page.fill("[data-act=length] [name=readings]", "61.1")
    page.click("text=Only check it")
    page.wait_for_selector("text=Broken: shorter by more than the limit")
    opened.shot("tools-checked")
    assert (served[0] / "tools.toml").read_bytes() == before


def test_a_tool_is_moved_and_what_must_be_known_is_said(opened: Open, served: tuple[Path, str]) -> None:
    opened.go("/tools?tool=face16")
    page = opened.page
    page.click("[data-act=load] summary")
    page.select_option("[data-act=load] [name=pocket]", "23")
    page.click("[data-act=load] .act-strong")
    page.wait_for_selector(".chosen-where:has-text('in pocket 23')")
    item = the_crib(served[0]).item("face16")
    assert item is not None
    assert item.pocket == 23
    page.click("[data-act=grip] summary")
    page.click("[data-act=grip] .act-strong")
    page.wait_for_selector(".act-done:has-text('Void now')")
    opened.shot("tools-gripped")


def test_today_is_said_and_done_in_place(opened: Open, served: tuple[Path, str]) -> None:
    opened.go("/tools")
    page = opened.page
    page.click("text=Say what to load")
    page.wait_for_selector("#today .act-said:has-text('Choose a job first')")
    page.check("#today input[value=cable-clip]")
    page.click("text=Say what to load")
    page.wait_for_selector(".day-said")
    assert page.is_checked("#today input[value=cable-clip]")
    assert "fly40 out of pocket 15" in page.inner_text(".day-said")
    page.evaluate("document.querySelector('.day-said').scrollIntoView({block: 'center', behavior: 'instant'})")
    opened.shot("tools-day")
    page.click("text=fly40 is out")
    page.wait_for_url("**/tools?*tool=fly40*")
    page.wait_for_selector(".day-said")
    assert "fly40" not in page.inner_text(".day-said")
    item = the_crib(served[0]).item("fly40")
    assert item is not None
    assert item.place == "bench"
    assert page.is_checked("#today input[value=cable-clip]")


def test_the_controls_table_is_held_against_the_shop_in_place(opened: Open, tmp_path: Path) -> None:
    how, table = tmp_path / "how.toml", tmp_path / "rack.tbl"
    how.write_bytes(MAPPING)
    table.write_text("T1 P1 Z61.204 D16.0\nT2 P2 Z70.9 D5.991\nT3 P9 Z69.861 D2.995\n")
    opened.go("/tools")
    page = opened.page
    page.set_input_files("[name=mapping]", str(how))
    assert page.inner_text(".file:has([name=mapping]) .file-name") == "how.toml"
    page.click("text=Hold them against the shop")
    page.wait_for_selector("#control .act-refused")
    assert "no table" in page.inner_text("#control .act-said")
    opened.troubles.clear()  # the browser reports the refusal itself
    page.set_input_files("[name=tools]", str(table))
    page.click("text=Hold them against the shop")
    page.wait_for_selector(".held-said")
    assert "too deep" in page.inner_text(".held")
    assert page.inner_text(".file:has([name=mapping]) .file-name") == "how.toml"
    page.evaluate("document.getElementById('control').scrollIntoView({block: 'start', behavior: 'instant'})")
    opened.shot("tools-control")
