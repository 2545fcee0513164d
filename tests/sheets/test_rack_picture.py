"""The rack's picture: to scale, hanging from the gauge line, each kind to be told from the others; the two small rules under a pocket."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.assembly import Part, Segment
from firstoff.sheets.rack_picture import GAUGE_Y, MOST_TALL, Gauge, Hung, Pocket, gauge_of, pocket_svg, rule_svg
from firstoff.sheets.rack_scales import HALF, STOP_SHARE, WIDE, LifeShown, WindowShown, life_svg, window_svg

lengths = st.floats(5.0, 300.0)
radii = st.floats(0.2, 40.0)


def tool(
    length: float = 70.0, radius: float = 3.0, kind: str = "flat", measured: bool = True, helix: float = 0.5
) -> Hung:
    """An edge of 10 mm (or half its length), a shank, a holder 20 mm across."""
    edge, out = min(10.0, length / 3), min(25.0, length / 1.5)
    return Hung(
        kind,
        (
            Segment(Part.EDGE, 0.0, 0.0, radius, 0.0),
            Segment(Part.EDGE, radius, 0.0, radius, edge),
            Segment(Part.SHANK, radius, edge, radius, out),
            Segment(Part.HOLDER, radius, out, 10.0, out),
            Segment(Part.HOLDER, 10.0, out, 10.0, length),
        ),
        length,
        measured,
        helix,
        2,
        None,
    )


def drawn(one: Pocket, gauge: Gauge) -> ElementTree.Element:
    return ElementTree.fromstring(pocket_svg(one, gauge, 7))


def paths(svg: ElementTree.Element, name: str) -> list[str]:
    return [one.attrib["d"] for one in svg.iter("path") if one.attrib.get("class", "").split(" ")[0] == name]


def numbers(path: str) -> list[float]:
    return [float(one) for one in re.findall(r"-?\d+(?:\.\d+)?", path)]


@given(st.lists(st.tuples(lengths, radii), min_size=1, max_size=24), st.floats(95.0, 180.0))
def test_one_scale_holds_the_longest_and_the_widest(sizes: list[tuple[float, float]], column: float) -> None:
    tools = [tool(length, radius) for length, radius in sizes]
    gauge = gauge_of([*tools, None], column)
    assert gauge.depth_mm >= max(one.top_mm for one in tools)
    assert gauge.depth_mm * gauge.px_per_mm <= MOST_TALL + 1e-9
    assert max(2 * one.radius_mm for one in tools) * gauge.px_per_mm <= column


@given(lengths, radii)
def test_the_tip_hangs_its_length_below_the_gauge_line_as_wide_as_it_is(length: float, radius: float) -> None:
    one = tool(length, radius)
    gauge = gauge_of([one], 130.0)
    svg = drawn(Pocket("3", one, True), gauge)
    (edge,) = paths(svg, "turned-edge")
    xs, ys = numbers(edge)[::2], numbers(edge)[1::2]
    assert max(ys) == pytest.approx(GAUGE_Y + length * gauge.px_per_mm, abs=0.02)
    assert max(xs) == pytest.approx(radius * gauge.px_per_mm, abs=0.01)
    assert min(xs) == pytest.approx(-max(xs))
    (holder,) = paths(svg, "turned-holder")
    assert numbers(holder)[1] == pytest.approx(GAUGE_Y, abs=0.01)


def test_twice_the_scale_is_twice_the_picture() -> None:
    one = tool()
    small, big = (paths(drawn(Pocket("1", one, True), Gauge(scale, 80.0)), "turned-shank")[0] for scale in (1.5, 3.0))
    for a, b in zip(numbers(small), numbers(big), strict=True):
        assert b == pytest.approx(2 * a, abs=0.02) or b - GAUGE_Y == pytest.approx(2 * (a - GAUGE_Y), abs=0.02)


def test_kinds_are_told_from_each_other_by_what_is_on_their_edge() -> None:
    gauge = Gauge(3.0, 80.0)
    seen = {
        kind: pocket_svg(Pocket("1", tool(kind=kind, helix=helix), True), gauge, 7).partition("rack-flutes")[2]
        for kind, helix in (
            ("flat", 0.6),
            ("drill", 0.5),
            ("chamfer", 0.0),
            ("tap", 0.0),
            ("bull", 0.0),
            ("probe", 0.0),
        )
    }
    assert seen["probe"] == ""
    assert len(set(seen.values())) == len(seen)


def test_what_nobody_measured_is_dashed_and_what_is_away_a_ghost() -> None:
    gauge = Gauge(3.0, 80.0)
    assert "rack-assumed" in pocket_svg(Pocket("1", tool(measured=False), True), gauge, 1)
    assert "rack-tip-open" in pocket_svg(Pocket("1", tool(measured=False), True), gauge, 1)
    assert "rack-away" in pocket_svg(Pocket("1", tool(), True, away=True), gauge, 1)
    assert "rack-assumed" not in pocket_svg(Pocket("1", tool(), True), gauge, 1)


def test_empty_and_not_described_are_said_and_dotted() -> None:
    gauge = Gauge(3.0, 80.0)
    for pocket, words in (
        (Pocket("1", None, False), "empty"),
        (Pocket("1", None, True, unknown="no <length>"), "no &lt;length&gt;"),
    ):
        text = pocket_svg(pocket, gauge, 1)
        assert words in text
        assert "rack-empty" in text
        assert "turned-" not in text


def test_nothing_forks_what_is_in_the_spindle() -> None:
    gauge = Gauge(3.0, 80.0)
    assert paths(drawn(Pocket("spindle", tool(), True), gauge), "rack-fork") == []
    assert len(paths(drawn(Pocket("4", tool(), True), gauge), "rack-fork")) == 2


def test_the_rule_has_a_numeral_every_twenty_and_zero_at_the_gauge_line() -> None:
    gauge = Gauge(2.5, 90.0)
    svg = ElementTree.fromstring(rule_svg(gauge))
    figures = [(one.text, float(one.attrib["y"])) for one in svg.iter("text") if one.attrib["class"] == "rack-figure"]
    assert [text for text, _ in figures] == ["0", "20", "40", "60", "80"]
    assert figures[1][1] - figures[0][1] == pytest.approx(50.0)
    assert figures[0][1] - 4 == pytest.approx(GAUGE_Y)


# --- the two rules ----------------------------------------------------------------------------------------------------


@given(st.floats(0.005, 0.5), st.floats(-1.1, 1.1))
def test_a_reading_stands_where_it_lies_between_the_stops(limit: float, share: float) -> None:
    svg = ElementTree.fromstring(window_svg(WindowShown(limit, share * limit, limit / 20, False), "a", "b", "label"))
    (stem,) = (one for one in svg.iter("path") if one.attrib.get("class") == "stem")
    at = numbers(stem.attrib["d"])[0]
    assert at == pytest.approx(WIDE / 2 + share * STOP_SHARE * HALF, abs=0.06)
    posts = [numbers(one.attrib["d"])[0] for one in svg.iter("path") if one.attrib.get("class") == "post"]
    assert (posts[0] <= at + 0.1) == (share >= -1.005)
    assert (at <= posts[1] + 0.1) == (share <= 1.005)


@pytest.mark.parametrize("share", [-9.0, 9.0])
def test_a_reading_beyond_the_rule_is_an_arrow_towards_its_side(share: float) -> None:
    text = window_svg(WindowShown(0.05, 0.05 * share, 0.001, True), "a", "b", "label")
    assert 'class="off"' in text
    assert 'class="pointer"' not in text
    head = numbers(text[text.index("off-head") :].partition("/>")[0].partition("M")[2])[0]
    assert (head > WIDE / 2) == (share > 0)


def test_a_window_that_nobody_knows_has_no_stops_and_no_numerals() -> None:
    for shown in (WindowShown(None, None, 0.0, False), WindowShown(None, 0.0, 0.0, False)):
        text = window_svg(shown, "-1", "+1", "label")
        assert "post" not in text
        assert "figure" not in text
    assert "stroke-dasharray" in window_svg(WindowShown(None, None, 0.0, False), "", "", "label")


@given(st.floats(0.0, 2000.0), st.floats(60.0, 1000.0), st.floats(0.0, 200.0))
def test_what_is_used_of_a_life_is_as_long_as_its_share(used: float, life: float, u: float) -> None:
    svg = ElementTree.fromstring(life_svg(LifeShown(used, 0.0, life, u, False), "label"))
    (post,) = (numbers(one.attrib["d"])[0] for one in svg.iter("path") if one.attrib.get("class") == "post")
    (bar,) = (float(one.attrib["width"]) for one in svg.iter("rect") if one.attrib.get("class") == "used")
    room = WIDE - 12
    assert bar == pytest.approx(min(used / life * (post - 6.0), room), abs=0.11)
    for one in svg.iter():
        for value in numbers(one.attrib.get("d", "") + one.attrib.get("points", "")):
            assert math.isfinite(value)
            assert -20 <= value <= WIDE + 1


def test_a_life_that_nobody_knows_is_dotted() -> None:
    text = life_svg(LifeShown(None, 0.0, None, 0.0, False), "Life: life not known")
    assert "stroke-dasharray" in text
    assert "post" not in text
