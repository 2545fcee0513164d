"""Plan and front view: to scale, with what stands around the part, and no two names on top of each other."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.fact import Fact, FactSet, Setting
from firstoff.sheets.around_part import jaws_of, shapes_in_files, solids_of
from firstoff.sheets.paper_marks import Dimension, letters_mm
from firstoff.sheets.plan_and_front import SCALES, Picture, draw_setting
from firstoff.sheets.sheet_facts import Reach, reach
from firstoff.sheets.sheet_picture import Setting as Set
from firstoff.sheets.sheet_picture import setting_of, with_cuts
from firstoff.verdict.words import ShopUnits
from tests.sheets import hand_built as made
from tests.sheets import hand_cut

MM = ShopUnits(False)
NOWHERE = Reach(None, None, None)


def given_(*rows: tuple[str, float], **settings: object) -> FactSet:
    facts = {path: Fact(path, value, 0.05, "mm") for path, value in rows}
    return FactSet(
        facts, {path.replace("__", "."): Setting(path.replace("__", "."), value) for path, value in settings.items()}
    )


def box_of(prefix: str, *ends: float) -> tuple[tuple[str, float], ...]:
    names = [f"{prefix}.{axis}.{end}" for axis in "xyz" for end in ("low", "high")]
    return tuple(zip(names, ends, strict=True))


def nut(number: int, x: float, diameter: float = 9.0) -> tuple[tuple[str, float], ...]:
    stem = f"job.fixture.{number}.cylinder"
    return ((f"{stem}.diameter", diameter), (f"{stem}.x", x), (f"{stem}.z.low", 0.0), (f"{stem}.z.high", 6.0))


STOCK = box_of("job.stock.box", -30.0, 30.0, -24.0, 24.0, -9.0, 0.0)


def drawn(setting: Set, units: ShopUnits = MM) -> tuple[Picture, ET.Element, float]:
    picture = draw_setting(setting, 121.0, 90.0, units)
    assert picture is not None
    scale = next(scale for scale, name in SCALES if name == picture.scale)
    return picture, ET.fromstring(picture.svg), scale


def notes(root: ET.Element) -> list[tuple[str, float, float, float]]:
    """(words, left, baseline, width) of each note."""
    found = []
    for one in root.iter("text"):
        words = one.text or ""
        start = float(one.get("x", 0)) - {"start": 0.0, "middle": 0.5, "end": 1.0}[
            one.get("text-anchor", "start")
        ] * letters_mm(words)
        found.append((words, start, float(one.get("y", 0)), letters_mm(words)))
    return found


def test_boxes_and_cylinders_stand_around_and_files_are_named():
    facts = given_(
        *STOCK, *box_of("job.fixture.0.box", -46.0, -24.0, -7.0, 7.0, 0.0, 4.0), *nut(1, -34.0),
        job__fixture__0__name="left clamp", job__fixture__2__stl="stop.stl", job__fixture__2__name="stop",
    )  # fmt: skip
    clamp, one = solids_of(facts)
    assert (clamp.name, clamp.round, clamp.top) == ("left clamp", False, 4.0)
    assert (one.round, one.box) == (True, ((-38.5, -29.5), (-4.5, 4.5), (0.0, 6.0)))
    assert shapes_in_files(facts) == ("stop",)
    setting = setting_of(facts, NOWHERE, "G54")
    assert setting.missing == ("how far cuts go (no move has both a zero and a length)",)
    assert "not drawn, shape in a file: stop" in setting.caption
    _, root, scale = drawn(setting)
    (circle,) = [one for one in root.iter("circle") if one.get("fill") == "#ffffff" and one.get("r") != "2.0"]
    assert float(circle.get("r", 0)) == pytest.approx(4.5 * scale, abs=0.01)
    rects = [float(one.get("width", 0)) for one in root.iter("rect")]
    for wide in (60.0, 22.0):
        assert any(width == pytest.approx(wide * scale, abs=0.02) for width in rects)


def test_a_number_stands_where_nothing_higher_covers_it():
    facts = given_(*STOCK, *box_of("job.fixture.0.box", -46.0, -24.0, -7.0, 7.0, 0.0, 4.0), *nut(1, -35.0))
    _, root, _ = drawn(setting_of(facts, NOWHERE, "G54"))
    first = next(one for one in notes(root) if one[0] == "1")
    second = next(one for one in notes(root) if one[0] == "2")
    assert abs(first[1] - second[1]) > letters_mm("1")


def test_jaws_are_drawn_only_where_it_is_told_which_way_they_lie():
    grip = (("job.holding.grip_height", 6.0), ("job.holding.jaw_width", 60.0))
    vice = given_(*STOCK, *grip, job__holding__kind="vice")
    setting = setting_of(vice, NOWHERE, "G54")
    assert setting.jaws is not None
    assert (setting.jaws.along, setting.jaws.top) == (0, -3.0)
    assert "what holds it" not in setting.missing
    across = given_(*STOCK, grip[0], ("job.holding.jaw_width", 48.0), job__holding__kind="vice")
    jaws = setting_of(across, NOWHERE, "G54").jaws
    assert jaws is not None
    assert jaws.along == 1
    square = ((-24.0, 24.0), (-24.0, 24.0), (-9.0, 0.0))
    assert jaws_of(across, square, False) is None  # both sides are as long
    assert (
        jaws_of(
            given_(*STOCK, grip[0], ("job.holding.jaw_width", 40.0), job__holding__kind="vice"), setting.stock, False
        )
        is None
    )
    assert jaws_of(vice, setting.stock, True) is None
    assert jaws_of(given_(*STOCK, *grip, job__holding__kind="clamps"), setting.stock, False) is None


def test_tape_stands_nowhere_so_nothing_is_missing():
    assert "what holds it" not in setting_of(given_(*STOCK, job__holding__kind="tape"), NOWHERE, "G54").missing
    assert "what holds it" in setting_of(given_(*STOCK, job__holding__kind="clamps"), NOWHERE, "G54").missing


def test_a_followed_stock_adds_what_is_left_and_where_each_tool_begins():
    case = hand_cut.examination().case
    plain = setting_of(case.facts, reach(case), "G54")
    setting = with_cuts(plain, case)
    assert setting.outline is not None
    assert setting.first == (("T3", -2.0, 5.0), ("T5", 20.0, 20.0))
    _, root, scale = drawn(setting)
    words = [one[0] for one in notes(root)]
    assert words.count("T3") == words.count("T5") == 1
    dots = [one for one in root.iter("circle") if one.get("r") == "0.6"]
    assert len(dots) == 2
    xs = [float(dot.get("cx", 0)) for dot in dots]
    assert xs[1] - xs[0] == pytest.approx(22.0 * scale, abs=0.02)
    assert "way of the tool's centre" not in setting.caption
    assert "way of the tool's centre" in plain.caption
    stopped = with_cuts(setting_of(case.facts, reach(case), "G54", depth=False), case)
    assert (stopped.outline, stopped.first) == (None, ())


def test_a_blank_that_no_fact_draws_is_drawn_as_it_was_followed():
    case = hand_cut.examination().case
    without = FactSet(
        {path: fact for path, fact in case.facts.facts.items() if ".stock." not in path}, case.facts.settings
    )
    bare = replace(case, facts=without)
    setting = with_cuts(setting_of(without, reach(bare), "G54"), bare)
    assert setting.stock is not None
    assert setting.stock[0] == pytest.approx((0.0, 64.0), abs=0.5)
    assert len(setting.blank) == 1
    assert 'fill-rule="evenodd"' in drawn(setting)[0].svg


def test_a_level_far_off_is_told_and_not_drawn():
    near = replace(setting_of(given_(*STOCK), NOWHERE, "G54"), allowed=-12.0, highest=-30.0)
    _, root, scale = drawn(near)
    words = [one[0] for one in notes(root)]
    assert "limit Z −12" in words
    assert "all around up to Z −30" in words
    assert sum(one.get("class") == "beyond" for one in root.iter("polygon")) == 1
    assert scale == 1.0  # the far level takes no room


@given(
    st.lists(st.tuples(st.floats(-30, 30), st.floats(-24, 24)), min_size=1, max_size=6),
    st.sampled_from([MM, ShopUnits(True)]),
)
def test_names_of_first_cuts_keep_apart(places, units):
    setting = setting_of(given_(*STOCK), NOWHERE, "G54")
    setting = replace(setting, first=tuple((f"T{n + 1}", x, y) for n, (x, y) in enumerate(places)))
    _, root, scale = drawn(setting, units)
    named = [one for one in notes(root) if re.fullmatch(r"T\d(?:, T\d)*|G54", one[0])]
    assert sum(one[0].count("T") for one in named) == len(places)
    apart = all(abs(a[0] - b[0]) + abs(a[1] - b[1]) > 14 / scale for a, b in combinations(places, 2))
    if apart and all(abs(x) + abs(y) > 14 / scale for x, y in places):
        for a, b in combinations(named, 2):
            sideways = a[1] + a[3] <= b[1] + 0.01 or b[1] + b[3] <= a[1] + 0.01
            assert sideways or abs(a[2] - b[2]) > 2.4, (a, b)


@given(st.floats(0.5, 60.0), st.floats(0.5, 60.0), st.booleans(), st.sampled_from(["8", "12.3", "0.079", "101.25"]))
def test_no_dimension_line_runs_through_its_figure(start, long, upright, words):
    size = (
        Dimension(start, 5.0, start, 5.0 + long, words) if upright else Dimension(start, 5.0, start + long, 5.0, words)
    )
    root = ET.fromstring(f"<svg>{size.svg}</svg>")
    ((_, left, base, wide),) = notes(root)
    for one in root.iter("line"):
        x1, y1, x2, y2 = (float(one.get(key, 0)) for key in ("x1", "y1", "x2", "y2"))
        beside = max(x1, x2) < left + 0.01 or min(x1, x2) > left + wide - 0.01
        assert beside or max(y1, y2) < base - 2.5 or min(y1, y2) > base, (x1, y1, x2, y2)


@given(st.floats(1.0, 9.0), st.sampled_from(["vice", "clamps"]))
def test_the_name_of_the_zero_stands_on_no_dashed_line_no_dimension_and_no_jaw(past, held):
    """The way of the tool's centre runs round the blank, as far out as a tool is wide."""
    grip = (("job.holding.grip_height", 6.0), ("job.holding.jaw_width", 64.0))
    facts = given_(*box_of("job.stock.box", -2.0, 62.0, -2.0, 42.0, -12.0, 0.3), *grip, job__holding__kind=held)
    cut = ((-2 - past, 62 + past), (-2 - past, 42 + past), (-3.0, 0.0))
    picture = draw_setting(setting_of(facts, Reach(cut, 12.0, 3.0), "G54"), 121.0, 200.0, MM)
    assert picture is not None
    root = ET.fromstring(picture.svg)
    ((_, left, base, wide),) = [one for one in notes(root) if one[0] == "G54"]
    assert sum(one[0] == "jaw" for one in notes(root)) == (2 if held == "vice" else 0)
    (dashed,) = [one for one in root.iter("rect") if one.get("stroke-dasharray")]
    x0, y0, x1, y1 = corners(dashed)
    inside = x0 < left and left + wide < x1 and y0 < base - 2.4 and base < y1
    outside = left + wide < x0 or left > x1 or base < y0 or base - 2.4 > y1
    assert inside or outside
    for words, other, line, broad in notes(root):
        if words != "G54":
            assert left + wide <= other or other + broad <= left or abs(base - line) > 2.4, words


def test_jaws_have_their_names_unless_the_drawing_is_larger_without():
    grip = (("job.holding.grip_height", 6.0), ("job.holding.jaw_width", 60.0))
    setting = setting_of(given_(*STOCK, *grip, job__holding__kind="vice"), NOWHERE, "G54")
    seen = {}
    for high in range(60, 121):
        picture = draw_setting(setting, 121.0, float(high), MM)
        assert picture is not None
        assert picture.height_mm <= high
        names = picture.svg.count(">jaw<")
        seen.setdefault(picture.scale, names)
        assert names >= seen[picture.scale]  # with more room at the same scale they are named
    assert list(seen.values())[:2] == [0, 0]
    assert names == 2


def corners(rect: ET.Element) -> tuple[float, float, float, float]:
    x, y, wide, tall = (float(rect.get(key, 0)) for key in ("x", "y", "width", "height"))
    return x, y, x + wide, y + tall


def test_every_note_stays_on_the_paper():
    for kind in (made.all_clear, made.inch_shop, hand_cut.examination, made.nothing_known):
        case = kind().case
        setting = with_cuts(setting_of(case.facts, reach(case), "G54"), case)
        picture = draw_setting(setting, 121.0, 70.0, case.units)
        if picture is None:
            continue
        for words, left, baseline, wide in notes(ET.fromstring(picture.svg)):
            assert left >= -0.5, words
            assert left + wide <= 121.5, words
            assert baseline <= picture.height_mm + 1.5, words
