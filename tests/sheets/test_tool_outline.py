"""The tool in the picture is the tool that was judged, and ends where nobody described it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.assembly import Part, assembly_of
from firstoff.facts.fact import Evidence, Fact, FactSet, Setting
from firstoff.sheets.tool_outline import Outline, outline_of, part_span

WHOLE = {"DC": 6.0, "DMM": 6.0, "APMX": 13.0, "OHX": 22.0, "LF": 71.0, "RE": 0.2, "FHA": 0.6}
NOSE = {"machine.spindle.nose.0.diameter": 58.0, "machine.spindle.nose.0.length": 40.0}
HOLDER = {"tools.em.holder.0.diameter": 20.0, "tools.em.holder.0.length": 28.0}


def shop(sizes: dict[str, float], more: dict[str, float], kind: str = "bull") -> FactSet:
    numbers = {f"tools.em.{symbol}": value for symbol, value in sizes.items()} | more
    facts = {path: Fact(path, value, 0.01, "mm", Evidence.MEASURED) for path, value in numbers.items()}
    words = {"tools.em.kind": kind, "job.tools.2": "em", "tools.em.ZEFP": 3}
    return FactSet(facts, {path: Setting(path, word) for path, word in words.items()})


def drawn(facts: FactSet) -> Outline:
    found = outline_of(facts, 2)
    assert found is not None
    return found


def top(outline: Outline) -> float:
    return max(one.z1_mm for one in outline.segments)


@given(
    st.floats(1.0, 12.0), st.floats(0.2, 1.0), st.floats(0.2, 0.9), st.floats(5.0, 60.0), st.sampled_from(["flat", "ball", "bull"])
)  # fmt: skip
def test_a_tool_that_is_described_is_drawn_as_it_was_judged(
    diameter: float, neck: float, edge: float, out: float, kind: str
) -> None:
    sizes = WHOLE | {"DC": diameter, "DMM": diameter / neck, "APMX": edge * out, "OHX": out, "LF": out + 30.0}
    facts = shop(sizes, NOSE | HOLDER, kind)
    judged, _, _ = assembly_of(facts, "em")
    assert judged is not None
    assert drawn(facts).segments == judged.segments
    assert not drawn(facts).goes_on


@pytest.mark.parametrize(
    ("missing", "ends_at", "parts"),
    [
        ("OHX", 13.0, {Part.EDGE}),
        ("DMM", 13.0, {Part.EDGE}),
        ("holder", 22.0, {Part.EDGE, Part.SHANK}),
        ("LF", 50.0, {Part.EDGE, Part.SHANK, Part.HOLDER}),
        ("nose", 71.0, {Part.EDGE, Part.SHANK, Part.HOLDER}),
    ],
)
def test_what_is_missing_is_left_out_and_the_rest_is_cut_off_there(
    missing: str, ends_at: float, parts: set[Part]
) -> None:
    sizes = {symbol: value for symbol, value in WHOLE.items() if symbol != missing}
    more = (NOSE if missing != "nose" else {}) | (HOLDER if missing != "holder" else {})
    outline = drawn(shop(sizes, more))
    assert top(outline) == pytest.approx(ends_at)
    assert {one.part for one in outline.segments} == parts
    assert outline.goes_on


def test_nothing_is_drawn_of_a_tool_whose_diameter_or_name_nobody_knows() -> None:
    assert outline_of(shop({"LF": 71.0, "RE": 0.2}, NOSE), 2) is None
    assert outline_of(shop(WHOLE, NOSE), 9) is None


def test_edges_wind_only_where_their_helix_is_known() -> None:
    assert (drawn(shop(WHOLE, NOSE)).edges, drawn(shop(WHOLE, NOSE)).helix_rad) == (3, 0.6)
    assert drawn(shop({one: v for one, v in WHOLE.items() if one != "FHA"}, NOSE)).edges == 0


def test_a_part_lies_between_its_lowest_and_its_highest() -> None:
    outline = drawn(shop(WHOLE, NOSE | HOLDER))
    assert part_span(outline, Part.SHANK) == (13.0, 22.0)
    assert part_span(outline, Part.NECK) is None
    assert math.isclose(part_span(outline, Part.HOLDER)[1], 71.0)  # type: ignore[index]
