"""The page of an examination: whole, self-contained, every question with its answer, readable by eye, by ear and on any width."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from firstoff import workflows
from firstoff.errors import InputError
from firstoff.removal.shape import read_shape
from firstoff.sheets.examination_page import PAGE_MARK, TOKENS, examination_html
from firstoff.sheets.html_text import html
from firstoff.sheets.page_parts import tools_table
from firstoff.verdict.question import Question, Risk
from tests.sheets import hand_built as made
from tests.sheets import hand_followed
from tests.sheets.test_terminal_page import BANNED
from tests.sheets.test_terminal_page import KINDS as NOT_FOLLOWED

KINDS = {**NOT_FOLLOWED, "followed": hand_followed.examination}
VOID = {"meta", "br", "hr", "img", "input", "link"}
MOST_BYTES = 1_500_000
"""Of a page, however long the program: it opens at once on a tablet."""


class Page(HTMLParser):
    """The elements of a page in order, each with its attributes and its text; tags that do not close are found."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None], list[str]]] = []
        self.open: list[int] = []
        self.feed(text)
        self.close()
        assert not self.open, [self.elements[number][0] for number in self.open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs), []))
        if tag not in VOID:
            self.open.append(len(self.elements) - 1)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs), []))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, tag
        assert self.elements[self.open[-1]][0] == tag, (self.elements[self.open[-1]], tag)
        self.open.pop()

    def handle_data(self, data: str) -> None:
        for number in self.open:
            self.elements[number][2].append(data)

    def all(self, tag: str) -> list[tuple[dict[str, str | None], str]]:
        return [(attrs, " ".join(" ".join(text).split())) for name, attrs, text in self.elements if name == tag]

    def words(self) -> str:
        """Everything that is said, without the header."""
        return self.all("main")[0][1]


def page_of(kind: str) -> str:
    return examination_html(KINDS[kind](), "Float cap")


@pytest.mark.parametrize("kind", KINDS)
def test_it_parses_and_stands_alone(kind):
    text = page_of(kind)
    page = Page(text)
    assert page.all("html")[0][0]["lang"] == "en"
    assert PAGE_MARK in text[:4000]
    assert not re.search(r"https?:|\bsrc=|@import|//[a-z]", text.replace("src: local", ""), re.IGNORECASE)
    for _, attrs, _ in page.elements:
        link = attrs.get("href")
        assert link is None or link.startswith(("#", "data:image/png;base64,")), link
    assert set(re.findall(r"url\(([^)]*)\)", text)) <= {"#wall"}
    targets = {attrs["href"] for attrs, _ in page.all("a")}
    assert {f"#{attrs.get('id')}" for _, attrs, _ in page.elements} >= targets


@pytest.mark.parametrize("kind", KINDS)
def test_every_question_stands_there_with_its_answer_and_the_rest_as_not_asked(kind):
    examination = KINDS[kind]()
    page = Page(page_of(kind))
    rows = [(attrs.get("id"), attrs.get("class"), text) for attrs, text in page.all("li")]
    for answered in examination.answers:
        name, word = f"q-{answered.question.id}", answered.answer.value
        assert any((one, part) == (name, f"q q-{word}") and word in text for one, part, text in rows), name
    told = {attrs.get("id") for attrs, _ in page.all("span")}
    assert {f"q-{one.id}" for one in examination.not_asked} <= told
    order = [
        str(attrs["class"]).removeprefix("q q-")
        for attrs, _ in page.all("li")
        if str(attrs.get("class")).startswith("q q-")
    ]
    assert order == sorted(order, key=["stop", "care", "unjudged", "clear"].index)


@pytest.mark.parametrize("kind", KINDS)
def test_every_drawing_has_words_or_hides_from_readers(kind):
    page = Page(page_of(kind))
    for attrs, _ in page.all("svg"):
        assert attrs.get("aria-hidden") == "true" or attrs.get("aria-label") or attrs.get("class") in ("lane-svg", None)
    for name, attrs, _ in page.elements:
        if attrs.get("role") == "img":
            assert len(attrs.get("aria-label") or "") > 5, name
    levels = [int(name[1]) for name, _, _ in page.elements if re.fullmatch(r"h[1-6]", name)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert all(text for attrs, text in page.all("button"))


@pytest.mark.parametrize("kind", KINDS)
def test_its_words_are_those_of_the_shop(kind):
    page = Page(page_of(kind))
    words = page.words()
    assert not BANNED.findall(words)
    assert "This page is no safety function" in words
    for risk in ("machine", "tool", "part", "time"):
        assert re.search(rf"{risk} (clear|care|unjudged|stop)", words)


def test_the_verdict_says_first_what_is_worst_and_what_to_do():
    words = Page(page_of("every kind")).words()
    assert (
        words.index("Stop.") < words.index("H3 is called") < words.index("Change H3 to H5") < words.index("Questions")
    )


def test_what_all_forces_hang_on_is_said_once():
    words = Page(page_of("followed")).words()
    assert words.count("All forces hang on") == 1
    assert words.count("chips thinner than the data") == 1
    assert "Doubt: mostly cutting force" not in words


def test_an_opened_row_tells_places_needs_notes_and_shares():
    page = Page(page_of("followed"))
    rows = {attrs["id"]: text for attrs, text in page.all("li") if (attrs.get("id") or "").startswith("q-")}
    assert "Places, worst first" in rows["q-power"]
    assert "cutting force of al-6082 handbook 900(180) N/mm² 80 %" in rows["q-power"]
    assert "Care above a chance of 1 in 20, stop above 1 in 3" in rows["q-power"]
    assert "Missing APMX of em6 tools.toml APMX Read it off the tool or its packet." in rows["q-reach"]
    assert "read the shank before it goes" in rows["q-tool"]


def test_lanes_name_peak_doubt_and_limit():
    words = Page(page_of("followed")).words()
    assert "power 300(67) W of 600 W" in words
    assert re.search(r"thickest chip 40\S* µm of 50 µm", words)
    assert "T5 (dr25) 20 2.0 s not known: ZEFP of dr25" in words


def test_no_override_is_told_for_a_tool_of_which_a_part_is_not_known():
    examination = hand_followed.examination()
    told = examination.case.followed
    em6, unknown = told.loads.stretches
    whole = replace(told, loads=replace(told.loads, stretches=(em6,)))
    part = replace(told, loads=replace(told.loads, stretches=(em6, replace(unknown, tool=em6.tool))))
    rows = []
    for one in (whole, part):
        asked = replace(
            hand_followed.power_care(), question=Question("chip", Risk.TOOL, "Neither rubbing nor too thick?")
        )
        case = replace(examination.case, followed=one)
        rows.append(
            tools_table(replace(examination, case=case, answers=(*examination.answers, asked))).split("<tr>")[2]
        )
    assert "up to 85\u00a0%" in rows[0]  # 0.05 over 0.04 mm less 1.64 times ln u = 0.22, in steps of 5
    assert "%" not in rows[1]
    assert "not known" in rows[1]


def test_without_loads_the_page_says_what_is_missing():
    words = Page(page_of("care")).words()
    assert "what the cuts cost is not known" in words
    assert "so no margin is known" in words


def test_a_name_cannot_become_part_of_the_page():
    examination = hand_followed.examination()
    reading = replace(examination.case.reading, file='a"><script>alert(1)</script>.nc')
    text = examination_html(replace(examination, case=replace(examination.case, reading=reading)), "<b>job</b>")
    assert text.count("<script>") == 1
    assert "<b>job</b>" not in text


def test_a_figure_stays_with_its_unit():
    assert (
        html("14.2(46) µm of 20 mm, 24000 1/min, 3 in a row")
        == "14.2(46)\u00a0µm of 20\u00a0mm, 24000\u00a01/min, 3\u00a0in a row"
    )
    assert html("5 tools & 3 minutes") == "5 tools &amp; 3 minutes"


def test_a_long_program_makes_no_large_page():
    text = examination_html(hand_followed.long_program(100_000), "long")
    assert len(text.encode()) < MOST_BYTES
    assert "Path of 99999 moves by margin" in text


# --- colours ---------------------------------------------------------------------------------------------------------


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, W3C Recommendation 2023, 'relative luminance')."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("column", [1, 2], ids=["paper", "night"])
def test_words_and_strokes_stand_out(column):
    token = {row[0]: row[column] for row in TOKENS}
    for words in ("ink", "ink2", "ink3", "accent"):
        for ground in ("paper", "sheet", "wash"):
            assert contrast(token[words], token[ground]) >= 4.5, (words, ground)
    assert contrast(token["ink"], token["accent-wash"]) >= 4.5
    assert contrast(token["on-accent"], token["accent"]) >= 4.5
    for stroke in ("m0", "m1", "m2", "m3"):
        assert contrast(token[stroke], token["sheet"]) >= 3.0, stroke
        assert contrast(token[stroke], token["stock"]) >= 2.9, stroke  # width carries it there (LOOK, 2)


# --- written ---------------------------------------------------------------------------------------------------------


def test_a_page_is_written_whole_and_only_over_its_own_kind(tmp_path):
    file = tmp_path / "page.html"
    workflows.write_examination(hand_followed.examination(), file, "Float cap")
    first = file.read_text(encoding="utf-8")
    workflows.refuse_taken(file)
    workflows.write_examination(hand_followed.examination(), file)
    assert "<h1>Float cap</h1>" in first
    assert "<h1>program.nc</h1>" in file.read_text(encoding="utf-8")
    other = tmp_path / "mine.html"
    other.write_text("<html>mine</html>")
    for write in (lambda: workflows.refuse_taken(other), lambda: workflows.write_examination(made.all_clear(), other)):
        with pytest.raises(InputError, match="did not write"):
            write()
    assert other.read_text() == "<html>mine</html>"


def test_the_finished_stock_is_written_where_it_is_known(tmp_path):
    file = tmp_path / "left.stl"
    examination = hand_followed.examination()
    workflows.write_stock(examination, file)
    assert len(read_shape(file).triangles) > 20
    with pytest.raises(InputError, match="no finished stock"):
        workflows.write_stock(made.some_care(), tmp_path / "none.stl")
    assert not (tmp_path / "none.stl").exists()


# --- seen ------------------------------------------------------------------------------------------------------------

OUTSIDE = """() => {
  const wide = document.documentElement.clientWidth, found = [];
  for (const part of document.querySelectorAll("body *")) {
    const box = part.getBoundingClientRect(), style = getComputedStyle(part);
    if (!box.width || part.closest(".wide, .plan-svg, .q-more, .defs") || style.visibility === "hidden") continue;
    const inPlace = part instanceof SVGElement || part.closest(".lane-plot, .brackets, .time-rule");
    if (!inPlace && (box.right > wide + 1 || box.left < -1)) found.push("outside: " + part.tagName + "." + part.className);
    if (!inPlace && part.scrollWidth > part.clientWidth + 1 && style.overflowX !== "visible" && !part.matches(".head-shop"))
      found.push("cut: " + part.tagName + "." + part.className);
  }
  return found;
}"""


@pytest.mark.parametrize("width", [1440, 1280, 1000, 700, 390])
def test_nothing_sticks_out_or_is_cut_off(browser, width):
    page = browser.new_page(viewport={"width": width, "height": 900})
    for kind in ("followed", "overfull", "nothing known"):
        page.set_content(page_of(kind))
        assert page.evaluate(OUTSIDE) == [], kind
        assert page.evaluate("document.documentElement.scrollWidth") <= width, kind
    page.close()


def test_the_theme_follows_the_system_until_the_switch_is_used(browser):
    context = browser.new_context(color_scheme="dark")
    page = context.new_page()
    page.set_content(page_of("followed"))
    ground = "getComputedStyle(document.documentElement).backgroundColor"
    night = page.evaluate(ground)
    page.get_by_role("button", name="Paper").click()
    paper = page.evaluate(ground)
    page.keyboard.press("t")
    assert (night, paper, page.evaluate(ground)) == ("rgb(20, 24, 26)", "rgb(243, 244, 240)", night)
    context.close()


def test_keys_walk_the_questions_and_open_them(browser):
    page = browser.new_page()
    page.set_content(page_of("followed"))
    page.locator(".q summary").first.focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    opened = page.evaluate("[...document.querySelectorAll('.q')].map(row => row.querySelector('details').open)")
    assert opened.index(True) == 1
    assert opened.count(True) == 1
    page.close()


def test_pointing_at_a_lane_tells_line_and_loads(browser):
    page = browser.new_page(viewport={"width": 1440, "height": 900})
    page.set_content(page_of("followed"))
    plot = page.locator(".lane-plot").first
    plot.scroll_into_view_if_needed()
    plot.hover(position={"x": plot.bounding_box()["width"] * 0.45, "y": 20})
    told = page.locator(".lanes-read").inner_text()
    assert re.match(r"0:12, line 12, T3: power 150 W, side force 40 N", told), told
    page.close()


def test_without_its_script_everything_can_be_read(browser):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.set_content(page_of("followed"))
    page.locator("#q-power summary").click()
    assert "Whose the doubt is" in page.locator("#q-power").inner_text()
    assert not page.locator(".themes").is_visible()
    context.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_on_white_whatever_the_theme(browser, paper):
    context = browser.new_context(color_scheme="dark")
    page = context.new_page()
    page.set_content(page_of("followed"))
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    pages = len(re.findall(rb"/Type\s*/Page\b(?!s)", page.pdf(format=paper)))
    assert 2 <= pages <= 6
    context.close()


def test_the_hand_built_followed_program_has_one_of_every_kind():
    told = {answered.question.id for answered in hand_followed.examination().answers}
    assert told >= {"power", "torque", "rapid_contact", "size", "reach", "feed"}
