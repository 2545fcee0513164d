"""The profile of a tool with what carries it: what holds for every tool first, then one check for each shape."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.assembly import (
    CHORD_MM,
    FAR_MM,
    Assembly,
    Part,
    Segment,
    assembly_of,
    cuts_on_centre,
    leaned_assembly,
)
from firstoff.facts.fact import Fact, FactSet, Setting

ROUND = 1e-9
"""Rounding of sines and tangents on sizes up to some hundred mm."""


def facts(kind: str | None = "flat", nose: bool = True, **sizes: object) -> FactSet:
    """A tool ``t``: numbers as facts in mm or rad, everything else as settings; `holder` and `profile` as rows."""
    numbers: dict[str, Fact] = {}
    settings = {} if kind is None else {"tools.t.kind": Setting("tools.t.kind", kind)}
    rows = {"tools.t.holder": sizes.pop("holder", []), "machine.spindle.nose": [(60.0, 40.0)] if nose else []}
    for prefix, steps in rows.items():
        for n, (diameter, length) in enumerate(steps):  # type: ignore[attr-defined]
            for column, value in (("diameter", diameter), ("length", length)):
                numbers[f"{prefix}.{n}.{column}"] = Fact(f"{prefix}.{n}.{column}", value, 0.1, "mm")
    for n, (r, z) in enumerate(sizes.pop("profile", [])):  # type: ignore[attr-defined]
        for column, value in (("r", r), ("z", z)):
            numbers[f"tools.t.profile.{n}.{column}"] = Fact(f"tools.t.profile.{n}.{column}", value, 0.1, "mm")
    for symbol, value in sizes.items():
        path = f"tools.t.{symbol}"
        if isinstance(value, float):
            numbers[path] = Fact(path, value, 0.01, "mm")
        else:
            settings[path] = Setting(path, value)  # type: ignore[arg-type]
    return FactSet(numbers, settings)


def made(kind: str = "flat", **sizes: object) -> Assembly:
    assembly, _, missing = assembly_of(facts(kind, **sizes), "t")
    assert assembly is not None, missing
    return assembly


def radius_at(assembly: Assembly, z: float, part: Part | None = None) -> float:
    """The greatest radius at a height."""
    found = []
    for one in assembly.segments:
        if one.z0_mm <= z <= one.z1_mm and (part is None or one.part is part):
            share = (z - one.z0_mm) / (one.z1_mm - one.z0_mm) if one.z1_mm > one.z0_mm else 1.0
            found.append(one.r0_mm + share * (one.r1_mm - one.r0_mm))
    return max(found)


def volume(segments: tuple[Segment, ...]) -> float:
    """Of the body of revolution under the segments: frustums of cones."""
    return sum(math.pi / 3 * (s.z1_mm - s.z0_mm) * (s.r0_mm**2 + s.r0_mm * s.r1_mm + s.r1_mm**2) for s in segments)


# ---- every tool ----------------------------------------------------------------------------------------------------

KINDS = ("flat", "bull", "ball", "tapered", "chamfer", "drill", "tap", "tee", "lollipop")
diameters = st.floats(0.2, 40.0)
maybe = st.none() | st.floats(0.5, 80.0)


@st.composite
def tools(draw: st.DrawFn) -> dict[str, object]:
    diameter = draw(diameters)
    sizes: dict[str, object] = {
        "kind": draw(st.sampled_from(KINDS)),
        "DC": diameter,
        "RE": draw(st.floats(0.0, 0.5)) * diameter,
        "APMX": draw(st.floats(0.05, 4.0)) * diameter,
        "SIG": draw(st.floats(math.radians(20), math.pi)),
        "KAPR": draw(st.floats(math.radians(50), math.pi / 2)),
        "DN": draw(st.floats(0.1, 0.95)) * diameter,
    }
    if sizes["kind"] == "chamfer":
        del sizes["KAPR"]
    for symbol in ("DMM", "LU", "OHX", "LF"):
        size = draw(maybe)
        if size is not None:
            sizes[symbol] = size
    sizes["holder"] = draw(st.lists(st.tuples(st.floats(5.0, 60.0), st.floats(1.0, 50.0)), max_size=3))
    return sizes


@given(tools())
def test_segments_run_from_the_tip_upward_and_hang_together(sizes: dict[str, object]) -> None:
    assembly, needed, missing = assembly_of(facts(**sizes), "t")  # type: ignore[arg-type]
    if assembly is None:
        assert missing
        assert not set(missing) & set(needed)
        return
    first = assembly.segments[0]
    assert (first.r0_mm, first.z0_mm) == (0.0, 0.0)
    for below, above in pairwise(assembly.segments):
        assert (below.r1_mm, below.z1_mm) == (above.r0_mm, above.z0_mm)
        assert below.part <= above.part
    for one in assembly.segments:
        assert one.z1_mm >= one.z0_mm
        assert (one.r0_mm, one.z0_mm) != (one.r1_mm, one.z1_mm)
        assert min(one.r0_mm, one.r1_mm) >= 0
        if one.part is Part.EDGE and not (assembly.undercuts or assembly.kind == "tapered"):
            assert one.r1_mm >= one.r0_mm or one.z1_mm == one.z0_mm


@given(tools())
def test_nothing_is_wider_than_what_is_said(sizes: dict[str, object]) -> None:
    assembly, _, _ = assembly_of(facts(**sizes), "t")  # type: ignore[arg-type]
    if assembly is None or assembly.kind == "tapered":
        return
    steps = [0.0, *(diameter for diameter, _ in sizes["holder"])]  # type: ignore[attr-defined]
    allowed = {
        Part.EDGE: assembly.diameter_mm,
        Part.NECK: assembly.diameter_mm,
        Part.SHANK: assembly.shank_mm,
        Part.HOLDER: max(steps),
        Part.NOSE: 60.0,
    }
    for one in assembly.segments:
        widest_below = assembly.diameter_mm if one.r1_mm < one.r0_mm else 0.0
        assert max(one.r0_mm, one.r1_mm) <= max(allowed[one.part], widest_below) / 2 + ROUND


@given(tools())
def test_no_edge_above_what_is_usable(sizes: dict[str, object]) -> None:
    assembly, _, _ = assembly_of(facts(**sizes), "t")  # type: ignore[arg-type]
    if assembly is None:
        return
    tops = [one.z1_mm for one in assembly.segments if one.part is Part.EDGE]
    assert assembly.usable_mm is not None
    assert max(tops) <= assembly.usable_mm + ROUND


@given(diameters, st.floats(0.0, 1.0), st.floats(0.0, math.radians(40)))
def test_round_corners_stay_within_a_chord_of_the_circle_and_inside_it(
    diameter: float, part: float, lean: float
) -> None:
    radius, corner = diameter / 2, part * diameter / 2
    if corner < 1e-3:
        return
    assembly = made("tapered", DC=diameter, RE=corner, KAPR=math.pi / 2 - lean, APMX=3 * diameter)
    for one in assembly.segments:
        if one.part is not Part.EDGE or one.z1_mm > corner * (1 - math.sin(lean)) + ROUND or one.z1_mm == 0.0:
            continue
        for share in (0.0, 0.5, 1.0):
            r = one.r0_mm + share * (one.r1_mm - one.r0_mm) - (radius - corner)
            z = one.z0_mm + share * (one.z1_mm - one.z0_mm) - corner
            assert corner - CHORD_MM - ROUND <= math.hypot(r, z) <= corner + ROUND


@given(diameters, st.floats(0.0, 1.0))
def test_the_underside_of_a_ball_is_the_sphere_within_a_chord(diameter: float, where: float) -> None:
    radius = diameter / 2
    assembly = made("ball", DC=diameter, APMX=2 * diameter)
    r = where * radius
    lowest = min(
        one.z0_mm + (r - one.r0_mm) / (one.r1_mm - one.r0_mm) * (one.z1_mm - one.z0_mm)
        for one in assembly.segments
        if one.part is Part.EDGE and one.r0_mm <= r <= one.r1_mm and one.r1_mm > one.r0_mm
    )
    # The chord is within CHORD_MM square to the sphere; near the equator, height is no measure of that.
    true = math.hypot(r, radius - lowest)
    assert lowest <= radius + ROUND
    assert radius - CHORD_MM - ROUND <= true <= radius + ROUND


# ---- each shape ----------------------------------------------------------------------------------------------------


def test_a_flat_with_neither_corner_nor_neck() -> None:
    assembly = made(DC=6.0, DMM=6.0, APMX=13.0, OHX=22.0, LF=70.0, holder=[(20.0, 28.0), (30.0, 20.0)])
    assert assembly.segments == (
        Segment(Part.EDGE, 0.0, 0.0, 3.0, 0.0),
        Segment(Part.EDGE, 3.0, 0.0, 3.0, 13.0),
        Segment(Part.SHANK, 3.0, 13.0, 3.0, 22.0),
        Segment(Part.HOLDER, 3.0, 22.0, 10.0, 22.0),
        Segment(Part.HOLDER, 10.0, 22.0, 10.0, 50.0),
        Segment(Part.HOLDER, 10.0, 50.0, 15.0, 50.0),
        Segment(Part.HOLDER, 15.0, 50.0, 15.0, 70.0),
        Segment(Part.NOSE, 15.0, 70.0, 30.0, 70.0),
        Segment(Part.NOSE, 30.0, 70.0, 30.0, 110.0),
    )
    assert (assembly.corner_mm, assembly.usable_mm, assembly.length_mm, assembly.overhang_mm) == (0.0, 13.0, 70.0, 22.0)
    assert (assembly.edges, assembly.helix_rad, assembly.body_missing) == (None, 0.0, ())
    assert not assembly.undercuts


def test_without_the_nose_it_ends_at_the_gauge_line() -> None:
    sizes = {"DC": 6.0, "APMX": 13.0, "OHX": 22.0, "LF": 70.0, "holder": [(20.0, 28.0)]}
    assembly, _, _ = assembly_of(facts(**sizes), "t", nose=False)  # type: ignore[arg-type]
    assert assembly is not None
    assert {one.part for one in assembly.segments} == {Part.EDGE, Part.SHANK, Part.HOLDER}
    assert assembly.segments[-1].z1_mm == 70.0  # the last step reaches up to the gauge line


def test_a_wide_shank_begins_at_the_usable_depth_or_where_the_neck_ends() -> None:
    assembly = made(DC=1.5, DMM=3.0, APMX=4.5, OHX=16.0)
    assert Segment(Part.SHANK, 0.75, 4.5, 1.5, 4.5) in assembly.segments
    assembly = made(DC=1.5, DMM=3.0, APMX=4.5, OHX=16.0, DN=1.4, LU=10.0)
    assert Segment(Part.EDGE, 0.75, 4.5, 0.7, 4.5) in assembly.segments  # the top of the edge, above it the neck
    assert Segment(Part.NECK, 0.7, 4.5, 0.7, 10.0) in assembly.segments
    assert Segment(Part.SHANK, 0.7, 10.0, 1.5, 10.0) in assembly.segments


def test_an_edge_of_unknown_depth_runs_up_to_the_holder() -> None:
    assembly = made(DC=6.0, DMM=6.0, OHX=22.0, holder=[(20.0, 28.0)])
    assert assembly.usable_mm is None
    assert Segment(Part.EDGE, 3.0, 0.0, 3.0, 22.0) in assembly.segments


def test_what_nobody_described_is_named_as_missing_from_the_body() -> None:
    assert made(DC=6.0).body_missing == ("tools.t.OHX", "tools.t.LF", "tools.t.DMM")
    assert made(DC=6.0).segments[-1].z1_mm == FAR_MM
    assert made(DC=6.0, DMM=6.0, OHX=20.0).body_missing == ("tools.t.LF", "tools.t.holder")
    assert made(DC=6.0, DMM=6.0, OHX=20.0, LF=60.0).body_missing == ("tools.t.holder",)
    assert made(DC=6.0, DMM=6.0, OHX=20.0, LF=20.0).body_missing == ()  # gripped by the spindle itself
    assert made(DC=6.0, DMM=6.0, OHX=20.0, LF=20.0, nose=False).body_missing == ("machine.spindle.nose",)


def test_a_shank_that_nobody_measured_may_be_wider_than_its_edge() -> None:
    assert made(DC=1.0, APMX=3.0, OHX=20.0, LF=20.0).body_missing == ("tools.t.DMM",)
    assert made(DC=1.0, APMX=20.0, OHX=20.0, LF=20.0).body_missing == ()  # there is none


def test_a_drill_has_its_point_and_a_chamfer_cutter_its_cone() -> None:
    assembly = made("drill", DC=6.0, SIG=math.radians(118), APMX=30.0)
    # Height of the point: 3 mm / tan 59 deg = 1.803 mm; "0.3 D" is the shop's rule for 118 deg (common practice).
    assert assembly.segments[0].z1_mm == pytest.approx(1.803, abs=1e-3)
    assert assembly.dead_radius_mm == 0.0
    assembly = made("chamfer", DC=6.0, SIG=math.radians(90), APMX=3.0)
    assert (assembly.segments[0].r1_mm, assembly.segments[0].z1_mm) == pytest.approx((3.0, 3.0))
    by_lead = made("chamfer", DC=6.0, KAPR=math.radians(60), APMX=6.0)
    assert by_lead.segments[0].z1_mm == pytest.approx(3.0 * math.tan(math.radians(60)))


def test_a_taper_leans_by_the_complement_of_its_cutting_edge_angle() -> None:
    assembly = made("tapered", DC=2.0, RE=1.0, KAPR=math.radians(85), APMX=20.0, DMM=6.0)
    wall = next(one for one in assembly.segments if one.part is Part.EDGE and one.z1_mm == 20.0)
    lean = math.radians(5)
    assert (wall.r1_mm - wall.r0_mm) / (wall.z1_mm - wall.z0_mm) == pytest.approx(math.tan(lean))
    # A ball of 1 mm that its cone touches: the cone's distance from the ball's centre is the radius.
    r, z = wall.r1_mm, wall.z1_mm - 1.0
    assert r * math.cos(lean) - z * math.sin(lean) == pytest.approx(1.0)
    unknown = made("tapered", DC=2.0, RE=1.0, KAPR=math.radians(85), DMM=6.0, OHX=60.0)
    assert max(one.r1_mm for one in unknown.segments if one.part is Part.EDGE) == pytest.approx(3.0)


@given(diameters, st.floats(0.1, 0.9), st.floats(0.05, 2.0))
def test_a_tee_is_a_disc_on_a_neck(diameter: float, neck: float, height: float) -> None:
    assembly = made("tee", DC=diameter, DN=neck * diameter, APMX=height, LU=height + 5.0, OHX=40.0, DMM=6.0)
    assert assembly.undercuts
    edge = tuple(one for one in assembly.segments if one.part is Part.EDGE)
    assert volume(edge) == pytest.approx(math.pi * diameter**2 / 4 * height)
    assert radius_at(assembly, height + 2.5) == pytest.approx(neck * diameter / 2)
    assert assembly.dead_radius_mm > 0


@given(st.floats(1.0, 40.0), st.floats(0.1, 0.9))
def test_a_lollipop_is_a_ball_on_a_neck(diameter: float, share: float) -> None:
    assembly = made("lollipop", DC=diameter, DN=share * diameter, LU=3 * diameter, OHX=80.0)
    assert assembly.undercuts
    radius, edge = diameter / 2, tuple(one for one in assembly.segments if one.part is Part.EDGE)
    top = radius + math.sqrt(radius**2 - (share * radius) ** 2)
    assert edge[-1].z1_mm == pytest.approx(top)
    assert edge[-1].r1_mm == pytest.approx(share * radius)
    # Volume of a spherical cap of height h: pi h^2 (3 R - h) / 3.
    true = math.pi * top**2 * (3 * radius - top) / 3
    assert true - 4 * math.pi * radius**2 * CHORD_MM <= volume(edge) <= true * (1 + ROUND)


def test_a_drawn_profile_is_taken_as_drawn() -> None:
    assembly = made("profile", DC=8.0, profile=[(2.0, 0.0), (4.0, 1.0), (3.0, 4.0)], DMM=6.0, OHX=20.0)
    assert assembly.segments[:3] == (
        Segment(Part.EDGE, 0.0, 0.0, 2.0, 0.0),
        Segment(Part.EDGE, 2.0, 0.0, 4.0, 1.0),
        Segment(Part.EDGE, 4.0, 1.0, 3.0, 4.0),
    )
    assert assembly.usable_mm == 4.0
    assert assembly.undercuts
    assert not made("profile", DC=8.0, profile=[(2.0, 0.0), (4.0, 1.0), (4.0, 4.0)], DMM=6.0).undercuts
    assert made("profile", DC=8.0, profile=[(4.0, 0.0), (4.0, 1.0), (2.0, 1.0), (2.0, 9.0)]).undercuts


def test_a_ball_is_no_edge_above_its_usable_depth() -> None:
    assembly = made("ball", DC=6.0, APMX=1.0, DMM=6.0, OHX=20.0)
    assert max(one.z1_mm for one in assembly.segments if one.part is Part.EDGE) == pytest.approx(1.0)
    assert radius_at(assembly, 3.0, Part.NECK) == pytest.approx(3.0, abs=CHORD_MM)


# ---- what it needs -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "sizes", "missing"),
    [
        (None, {}, ("kind", "DC")),
        ("flat", {}, ("DC",)),
        ("bull", {"DC": 6.0}, ("RE",)),
        ("drill", {"DC": 6.0}, ("SIG",)),
        ("chamfer", {"DC": 6.0}, ("SIG",)),
        ("tapered", {"DC": 6.0}, ("KAPR",)),
        ("tee", {"DC": 6.0}, ("DN", "APMX")),
        ("tee", {"DC": 6.0, "DN": 3.0, "APMX": 2.0}, ("LU",)),
        ("lollipop", {"DC": 6.0}, ("DN",)),
        ("profile", {"DC": 6.0}, ("profile.0.r",)),
        ("flat", {"DC": 1.5, "DMM": 3.0}, ("APMX",)),
        ("flat", {"DC": 3.0, "DMM": 3.0, "DN": 2.8, "APMX": 4.0}, ("LU",)),
    ],
)
def test_each_kind_names_what_it_cannot_do_without(
    kind: str | None, sizes: dict[str, float], missing: tuple[str, ...]
) -> None:
    known = facts(kind, **sizes)
    assembly, _, named = assembly_of(known, "t")
    assert assembly is None
    assert named == tuple(f"tools.t.{symbol}" for symbol in missing)
    twice = known.leaning()
    assert leaned_assembly(twice, "t") is None
    assert leaned_assembly(twice, "t") is None  # asked again, it is still missing
    assert tuple(twice.missing) == named


def test_a_flat_needs_two_facts_and_leans_on_all_it_knows() -> None:
    known = facts(DC=6.0, DMM=6.0, APMX=13.0, OHX=22.0, LF=70.0, holder=[(20.0, 48.0)])
    _, needed, missing = assembly_of(known, "t")
    assert needed == ("tools.t.kind", "tools.t.DC")
    assert missing == ()
    leaning = known.leaning()
    leaned_assembly(leaning, "t")
    assert set(leaning.leaned) == {*known.facts, *known.settings}


def test_the_dead_centre() -> None:
    assert made(DC=10.0, centre_cutting=True).dead_radius_mm == 0.0
    assert made(DC=10.0, centre_cutting=False).dead_radius_mm == 3.0
    assert made(DC=10.0).dead_radius_mm == 3.0  # not known: as if it did not cut there
    assert made(DC=10.0, centre_cutting=False, dead_diameter=2.0).dead_radius_mm == 1.0
    for kind, cuts in (("flat", None), ("ball", None), ("drill", True), ("tap", False), ("tee", False)):
        assert cuts_on_centre(facts(kind, DC=6.0).leaning(), "t", kind) is cuts
    assert cuts_on_centre(facts("drill", DC=6.0, centre_cutting=False).leaning(), "t", "drill") is False
