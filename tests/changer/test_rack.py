"""Who fits beside whom in the rack."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon
from shapely.ops import unary_union

from firstoff.changer.rack import Body, Fit, Rack, Stand, beside, fit_into, free_pockets, misfits, rack_of
from firstoff.facts.fact import Fact, FactSet, Setting

PITCH = 24.0


def steps(*rows: tuple[float, float]) -> tuple[tuple[float, float, float, float], ...]:
    """A body of cylinders of (diameter, length) from the gauge line downward."""
    found, top = [], 0.0
    for diameter, length in rows:
        found.append((diameter / 2, top - length, diameter / 2, top))
        top -= length
    return tuple(found)


def rack(*tools: tuple[str, tuple[tuple[float, float], ...]], gap: float | None = 1.0, pitch: float = PITCH) -> Rack:
    held = {number: name for number, (name, _) in enumerate(tools, 1)}
    return Rack(
        pockets=(*held, len(held) + 1),
        held=held,
        stands={n: Stand(300.0, pitch * n, -100.0, 0.1) for n in (*held, len(held) + 1)},
        bodies={name: Body(name, steps(*rows), 0.05) for name, rows in tools},
        gap_mm=gap,
        in_spindle=None,
    )


SLIM, WIDE = ((22.0, 40.0), (6.0, 30.0)), ((26.0, 30.0), (16.0, 40.0))


def test_a_wide_holder_is_refused_with_its_numbers() -> None:
    made = rack(("slim", SLIM), ("wide", WIDE))
    (pair,) = misfits(made)
    assert pair.fit is Fit.CLASHES
    assert (pair.apart_mm, pair.radius_mm, pair.other_radius_mm) == (PITCH, 11.0, 13.0)
    assert pair.room_mm == pytest.approx(0.0)
    assert fit_into(made, "wide", 3) == ()  # two pitches from the slim one
    (told,) = fit_into(made, "wide", 2)
    assert (told.pocket, told.other_pocket, told.other_tool) == (2, 1, "slim")
    assert free_pockets(made, "wide") == (3,)
    assert free_pockets(made) == (3,)


def test_a_wide_cutter_below_a_slim_holder_counts() -> None:
    """A face mill wider than any holder meets its neighbour where both have body."""
    face = ((20.0, 30.0), (40.0, 10.0))
    low = rack(("face", face), ("long", ((20.0, 60.0),)))
    assert misfits(low)[0].room_mm == pytest.approx(PITCH - 20 - 10)
    short = rack(("face", face), ("short", ((20.0, 29.0),)))
    assert misfits(short) == ()


def test_room_within_doubt_is_not_told_where_no_gap_is_asked() -> None:
    made = rack(("one", SLIM), ("two", SLIM), gap=None, pitch=22.1)
    assert [pair.fit for pair in misfits(made)] == [Fit.CANNOT_TELL]
    assert misfits(rack(("one", SLIM), ("two", SLIM), gap=0.05, pitch=22.1)) == ()
    assert [pair.fit for pair in misfits(rack(("one", SLIM), ("two", SLIM), gap=None, pitch=21.9))] == [Fit.CLASHES]


rows = st.lists(st.tuples(st.floats(2, 40), st.floats(1, 40)), min_size=1, max_size=4).map(tuple)


@settings(deadline=None, max_examples=40)
@given(rows, rows, st.floats(-20, 20), st.floats(3, 45))
def test_room_is_that_of_two_outlines_pushed_together(
    first: tuple[tuple[float, float], ...], second: tuple[tuple[float, float], ...], drop: float, apart: float
) -> None:
    """Another way: the sections through both axes as polygons, held apart by shapely; bodies of revolution touch in that plane first."""
    made = rack(("a", first), ("b", second), gap=None)
    stands = {1: Stand(0.0, 0.0, 0.0, 0.0), 2: Stand(0.6 * apart, 0.8 * apart, drop, 0.0)}
    made = Rack(
        made.pockets[:2], made.held, stands, {n: Body(n, b.outline, 0.0) for n, b in made.bodies.items()}, None, None
    )
    pair = beside(made, (1, "a"), (2, "b"))
    assert pair is not None
    left, right = (
        unary_union([Polygon([(-r, z0), (r, z0), (r, z1), (-r, z1)]) for r, z0, _, z1 in made.bodies[name].outline])
        for name in "ab"
    )
    right = affinity.translate(right, pair.apart_mm, drop)
    overlaps = left.intersection(right).area > 1e-6
    assert math.isclose(pair.apart_mm, apart)
    if overlaps:
        assert pair.fit is Fit.CLASHES
    elif pair.fit is Fit.CLASHES:  # told a little early where two steps meet at one height exactly
        assert left.distance(right) < 1e-6


def described(gap: str | None = None) -> FactSet:
    said: dict[str, float] = {}
    words: dict[str, str] = {"tools.in_spindle": "b"}
    for name, diameter in (("a", 22.0), ("b", 30.0)):
        at = f"tools.{name}."
        said |= {f"{at}DC": 6.0, f"{at}DMM": 6.0, f"{at}APMX": 10.0, f"{at}OHX": 20.0, f"{at}LF": 70.0}
        said |= {f"{at}holder.0.diameter": diameter, f"{at}holder.0.length": 50.0}
        words[f"{at}kind"] = "flat"
    for number, name in ((1, "a"), (2, "b"), (4, "")):
        at = f"tools.pocket.{number}."
        said |= {f"{at}at.x": 300.0, f"{at}at.y": 25.0 * number, f"{at}at.z": -100.0}
        if name:
            words[f"{at}tool"] = name
    facts = {path: Fact(path, value, 0.1, "mm") for path, value in said.items()}
    return FactSet(facts, {path: Setting(path, word) for path, word in words.items()})


def test_the_rack_of_a_shop() -> None:
    made = rack_of(described())
    assert made.pockets == (1, 2, 4)
    assert made.held == {1: "a", 2: "b"}  # the pocket of the tool in the spindle waits for it
    assert made.in_spindle == "b"
    assert free_pockets(made) == (4,)
    assert made.pocket_of("b") == 2
    (pair,) = misfits(made)
    assert (pair.radius_mm, pair.other_radius_mm, pair.room_mm) == (11.0, 15.0, -1.0)
    assert -150 <= pair.height_mm <= -100


def test_what_is_not_known_is_named() -> None:
    made = rack_of(described().without("tools.b.holder").without("tools.pocket.1.at"))
    assert made.missing == {"b": ("tools.b.holder",), "pocket 1": ("tools.pocket.1.at",)}
    assert misfits(made) == ()
    assert beside(made, (1, "a"), (2, "b")) is None
