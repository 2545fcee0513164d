"""The machine's envelope: to scale, with a job in it, and names that do not cross."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.fact import Fact, FactSet, Setting
from firstoff.sheets.around_part import Solid
from firstoff.sheets.envelope import LEFT, RIGHT, TOP, WIDE, envelope_svg
from firstoff.sheets.envelope_job import JobIn, past_end
from firstoff.verdict.words import ShopUnits

X, Y, Z = (0.0, 240.0), (0.0, 160.0), (-100.0, 0.0)
PER = (WIDE - LEFT - RIGHT) / 240.0
"""Px per mm of a machine that is 240 mm wide: 2."""
JOB = JobIn(
    "lid",
    {"G54": (60.0, 40.0, -90.0)},
    ((60.0, 100.0), (40.0, 70.0), (-100.0, -90.0)),
    False,
    (),
    None,
    ((50.0, 110.0), (30.0, 80.0), (-96.0, -70.0)),
    -75.0,
)


def machine(**more: float) -> FactSet:
    ends = {f"machine.axis.{axis}.travel.{end}": value for axis, span in zip("xyz", (X, Y, Z), strict=True) for end, value in zip(("low", "high"), span, strict=True)}  # fmt: skip
    told = ends | {path.replace("__", "."): value for path, value in more.items()}
    return FactSet({path: Fact(path, value, 0.0, "mm") for path, value in told.items()}, {})


def drawn(svg: str, kind: str) -> list[list[float]]:
    """The numbers of each closed path of a kind."""
    return [
        [float(one) for one in re.findall(r"-?[\d.]+", path)]
        for path in re.findall(rf'<path class="{kind}" d="([^"]*)"', svg)
    ]


def test_the_reach_is_drawn_where_it_is() -> None:
    assert PER == 2.0
    plan, side = drawn(envelope_svg(machine(), JOB), "reach")
    # plan: X 50 and 110 at 46 + 2x; Y 80 and 30 at 13 + 2(160 - y)
    assert plan == [146.0, 173.0, 266.0, 273.0, 146.0]
    x0, top, x1, low, _ = side
    assert (x0, x1) == (146.0, 266.0)  # X is aligned in both
    assert low - top == pytest.approx(2 * 26.0)  # Z -96 to -70
    assert top - TOP > 2 * 70.0


def test_blank_and_zero_are_to_scale() -> None:
    svg = envelope_svg(machine(), JOB)
    assert '<rect class="stock" x="166.0" y="193.0" width="80.0" height="60.0"/>' in svg
    assert '<circle class="zero-ground" cx="166.0" cy="253.0"' in svg
    assert ">G54<" in svg
    assert "rapids above this, Z \u221275.0\xa0mm" in svg


def test_a_reach_past_the_end_of_travel_is_against_you() -> None:
    beyond = replace(JOB, reach=((50.0, 241.0), (30.0, 80.0), (-96.0, -70.0)))
    assert past_end(beyond, (X, Y, None))
    assert not past_end(JOB, (X, Y, None))
    svg = envelope_svg(machine(), beyond)
    assert svg.count("reach against") == 2
    assert "past the end" in svg


def test_what_is_not_known_is_said_and_not_drawn() -> None:
    known = {path: fact for path, fact in machine().facts.items() if ".z." not in path}
    assert "Z is missing" in envelope_svg(FactSet(known, {}))
    svg = envelope_svg(machine(), replace(JOB, reach=None, rapid_z=None))
    assert 'class="reach"' not in svg
    assert "lid: reach not known" in svg


def test_pockets_stand_as_they_are_filled() -> None:
    facts = machine(
        tools__pocket__1__at__x=200.0,
        tools__pocket__1__at__y=20.0,
        tools__pocket__2__at__x=200.0,
        tools__pocket__2__at__y=60.0,
    )
    full = "tools.pocket.2.tool"
    svg = envelope_svg(FactSet(dict(facts.facts), {full: Setting(full, "em6")}))
    assert re.findall(r'class="pocket (\w+)" r="7.5" cx="([\d.]+)" cy="([\d.]+)"', svg) == [
        ("empty", "446.0", "293.0"),
        ("filled", "446.0", "213.0"),
    ]


def test_an_inch_shop_has_inches_on_its_rules() -> None:
    svg = envelope_svg(machine(), JOB, ShopUnits(True))
    assert "X in" in svg
    assert re.findall(r'<text class="figure" x="[\d.]+" y="[\d.]+">([^<]*)<', svg)[:3] == ["0", "2", "4"]


@given(
    st.lists(
        st.tuples(st.floats(5.0, 200.0), st.floats(5.0, 140.0), st.floats(4.0, 30.0), st.floats(4.0, 15.0)),
        min_size=1,
        max_size=5,
    )
)
def test_no_leader_crosses_another(boxes: list[tuple[float, float, float, float]]) -> None:
    solids = tuple(
        Solid(f"clamp {number}", ((x, x + wide), (y, y + deep), (-95.0, -80.0)))
        for number, (x, y, wide, deep) in enumerate(boxes)
    )
    plan = envelope_svg(machine(), replace(JOB, solids=solids)).split("Side</h3>")[0]
    names = [
        (float(x), float(y), anchor)
        for anchor, x, y in re.findall(r'<text class="said" text-anchor="(\w+)" x="([\d.]+)" y="([\d.]+)"', plan)
    ]
    for one, other in combinations(names, 2):
        if one[2] == other[2]:
            assert abs(one[1] - other[1]) > 15.0
    ends = {
        anchor: [(line[1], line[3]) for line in drawn(plan, "leader") if (line[2] > line[0]) == (anchor == "start")]
        for anchor in ("start", "end")
    }
    for lines in ends.values():
        for (from_1, to_1), (from_2, to_2) in combinations(lines, 2):
            assert (from_1 - from_2) * (to_1 - to_2) >= -0.2  # in the order of what they name
