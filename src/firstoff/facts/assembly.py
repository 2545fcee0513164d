"""One tool with what carries it, as a body turned about the spindle axis: the only tool geometry that removal, loads and contact know."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import IntEnum
from itertools import pairwise

from firstoff.facts.fact import FactSet, Leaning
from firstoff.facts.profile import Point, cone_end, corner_end, disc_end, globe_end


class Part(IntEnum):
    """What a stretch of the profile is."""

    EDGE = 0
    NECK = 1
    SHANK = 2
    HOLDER = 3
    NOSE = 4


@dataclass(frozen=True, slots=True)
class Segment:
    """A straight stretch of the profile, from (r0, z0) to (r1, z1); heights from the tip upward, mm."""

    part: Part
    r0_mm: float
    z0_mm: float
    r1_mm: float
    z1_mm: float


@dataclass(frozen=True, slots=True)
class Assembly:
    """A tool at best estimates. `segments` run from the axis at the tip outward and upward to the top of the nose; curved edges (ball,
    corner radius, lollipop) are chords that leave the true curve by at most `CHORD_MM`, always inside the material side."""

    name: str
    kind: str
    segments: tuple[Segment, ...]
    diameter_mm: float
    """DC."""
    corner_mm: float
    """RE; half of DC for a ball."""
    usable_mm: float | None
    """APMX: height up to which the edge cuts; None where the shop does not know."""
    edges: int | None
    """ZEFP; None where the shop does not know."""
    helix_rad: float
    """FHA; 0 where not known (the mean does not hang on it)."""
    length_mm: float | None
    """LF."""
    overhang_mm: float | None
    """OHX."""
    shank_mm: float
    """DMM; DC where not known."""
    dead_radius_mm: float
    """Radius round the axis inside which nothing cuts: 0 if centre cutting."""
    body_missing: tuple[str, ...] = ()
    """Facts without which the body above the cutting end is not whole (OHX, holder, LF, DMM, nose): what nobody has described cannot be
    clear of anything."""

    @property
    def undercuts(self) -> bool:
        """Whether the edge is wider somewhere than above it: what it passes under stays standing."""
        if self.kind == "profile":
            drawn = (one for one in self.segments if one.part is Part.EDGE and one.z0_mm < (self.usable_mm or 0.0))
            return any(one.r1_mm < one.r0_mm for one in drawn)
        return self.kind in ("tee", "lollipop")


CHORD_MM = 0.002
"""Greatest distance between a curved edge and its chords: a tenth of the finest cell that stock is followed on."""

DEAD_SHARE = 0.6
"""Part of the diameter inside which a tool that does not cut on its centre is taken not to cut, where nobody measured it (common
practice: the gap between the end teeth of such cutters)."""
FAR_MM = 1000.0
"""Height of a shank whose overhang and length nobody knows: beyond any machine."""
NOSE = "machine.spindle.nose"


def assembly_of(
    facts: FactSet, name: str, nose: bool = True
) -> tuple[Assembly | None, tuple[str, ...], tuple[str, ...]]:
    """The assembly of a tool, the facts that it cannot do without, and those of them that are missing (then there is no assembly)."""
    leaning = facts.leaning()
    made = leaned_assembly(leaning, name, nose)
    return made, tuple(leaning.needed), tuple(leaning.missing)


def leaned_assembly(facts: Leaning, name: str, nose: bool = True) -> Assembly | None:
    """The same, with every fact that shapes it recorded in `facts`: needed ones, missing ones, and those that it uses where known."""
    own = facts.facts.leaning()
    made = _assembly(own, name, nose)
    facts.leaned.update(own.leaned)
    facts.needed.update(own.needed)
    facts.missing.update(own.missing)
    return made


def _assembly(facts: Leaning, name: str, nose: bool) -> Assembly | None:
    sizes = _sizes(facts, name)
    end = _end(facts, sizes) if sizes is not None else None
    if sizes is None or end is None or facts.missing:
        return None
    if sizes.usable is None and sizes.kind in ("lollipop", "profile", PROBE):
        sizes = replace(sizes, usable=end[-1][1])  # the drawn end is the edge
    spindle = _steps(facts, NOSE) if nose else []
    body = _body(facts, sizes, end)
    if sizes.length is not None:
        body += _stack(spindle, sizes.length, Part.NOSE)
    edges, helix = facts.setting_if_known(sizes.path("ZEFP")), facts.number_if_known(sizes.path("FHA"))
    return Assembly(
        name=name,
        kind=sizes.kind,
        segments=tuple(_segments(end, body, sizes.usable)),
        diameter_mm=2 * sizes.radius,
        corner_mm=sizes.corner,
        usable_mm=sizes.usable,
        edges=edges if isinstance(edges, int) else None,
        helix_rad=helix.value if helix is not None else 0.0,
        length_mm=sizes.length,
        overhang_mm=sizes.overhang,
        shank_mm=2 * sizes.shank,
        dead_radius_mm=_dead_radius(facts, sizes),
        body_missing=_body_missing(facts, sizes, nose and not spindle),
    )


def cuts_on_centre(facts: Leaning, name: str, kind: str) -> bool | None:
    """Whether a tool cuts on its own axis: as the shop says; a drill does, a tap and a tee do not; else None: nobody knows."""
    said = facts.setting_if_known(f"tools.{name}.centre_cutting")
    if isinstance(said, bool):
        return said
    return {"drill": True, "tap": False, "tee": False}.get(kind)


# ---- sizes ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Sizes:
    """What the facts say of one tool, mm and rad; radii, not diameters."""

    name: str
    kind: str
    radius: float
    corner: float
    half_angle: float
    """Of the wall or the point, from the axis; 0 = upright."""
    shank: float
    neck: float | None
    neck_end: float | None
    """LU: where the shank begins."""
    usable: float | None
    overhang: float | None
    length: float | None

    def path(self, symbol: str) -> str:
        return f"tools.{self.name}.{symbol}"

    @property
    def stem_top(self) -> float:
        """Where the holder begins, or the nose if there is none; far up if nobody knows."""
        return min((top for top in (self.overhang, self.length) if top is not None), default=FAR_MM)


def _sizes(facts: Leaning, name: str) -> _Sizes | None:
    """None if the kind or the diameter is missing; other missing facts are only recorded."""

    def known(symbol: str) -> float | None:
        fact = facts.number_if_known(f"tools.{name}.{symbol}")
        return None if fact is None else fact.value

    kind, diameter = facts.setting(f"tools.{name}.kind"), facts.number(f"tools.{name}.DC")
    if not isinstance(kind, str) or diameter is None:
        return None
    for symbol in _NEEDED.get(kind, ()):
        facts.number(f"tools.{name}.{symbol}")
    radius, shank, neck = diameter.value / 2, known("DMM"), known("DN")
    usable, neck_end = (None, known("stylus")) if kind == PROBE else (known("APMX"), known("LU"))
    shank_radius = shank / 2 if shank is not None else radius
    if neck is not None and neck_end is None and neck / 2 < shank_radius:
        facts.number(f"tools.{name}.LU")  # a neck ends somewhere, and the shank above it is what touches
    if shank_radius > radius and usable is None and neck_end is None and kind not in _SHAPED:
        facts.number(f"tools.{name}.APMX")  # the shank is wider than the edge: where it begins matters
    corner = radius if kind in ("ball", "lollipop", PROBE) else min(known("RE") or 0.0, radius)
    return _Sizes(
        name=name,
        kind=kind,
        radius=radius,
        corner=corner,
        half_angle=_half_angle(facts, name, kind),
        shank=shank_radius,
        neck=neck / 2 if neck is not None else None,
        neck_end=neck_end,
        usable=usable,
        overhang=known("OHX"),
        length=known("LF"),
    )


_NEEDED = {
    "bull": ("RE",),
    "drill": ("SIG",),
    "tapered": ("KAPR",),
    "tee": ("DN", "APMX"),
    "lollipop": ("DN",),
    "probe": ("DN", "stylus"),
}
"""What each kind needs beside its diameter; a chamfer cutter needs SIG or KAPR."""
PROBE = "probe"
"""Kind of an assembly that never cuts; its ball stands where others have an edge."""


_SHAPED = ("tapered", "lollipop", "profile", PROBE)
"""Kinds whose edge ends where its shape does, if APMX is not known."""


def _half_angle(facts: Leaning, name: str, kind: str) -> float:
    """KAPR lies between the edge and the plane across the axis, SIG between the two sides of a point."""
    if kind not in ("drill", "chamfer", "tapered"):
        return 0.0
    lead = facts.number_if_known(f"tools.{name}.KAPR") if kind != "drill" else None
    if lead is not None:
        return math.pi / 2 - lead.value
    point = facts.number(f"tools.{name}.SIG") if kind != "tapered" else None
    return point.value / 2 if point is not None else 0.0


def _dead_radius(facts: Leaning, sizes: _Sizes) -> float:
    if cuts_on_centre(facts, sizes.name, sizes.kind):
        return 0.0
    measured = facts.number_if_known(sizes.path("dead_diameter"))
    return min(measured.value / 2 if measured is not None else DEAD_SHARE * sizes.radius, sizes.radius)


def _body_missing(facts: Leaning, sizes: _Sizes, no_nose: bool) -> tuple[str, ...]:
    missing = [sizes.path(symbol) for symbol, size in (("OHX", sizes.overhang), ("LF", sizes.length)) if size is None]
    in_a_holder = sizes.overhang is not None and (sizes.length is None or sizes.overhang < sizes.length)
    if in_a_holder and not facts.facts.has(sizes.path("holder.0.diameter")):
        missing.append(sizes.path("holder"))
    shank_from = max(sizes.usable or 0.0, sizes.neck_end or 0.0)
    if not facts.facts.has(sizes.path("DMM")) and shank_from < sizes.stem_top:
        missing.append(sizes.path("DMM"))  # it is drawn as wide as the edge, and may be wider
    return (*missing, *((NOSE,) if no_nose else ()))


# ---- outline -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Part of the body above the cutting end: a cylinder, or a cone that begins as wide as `radius`, up to `top`."""

    part: Part
    radius: float
    top: float
    lean: float = 0.0
    """tan of the angle that its wall leans outward by."""


def _end(facts: Leaning, sizes: _Sizes) -> list[Point] | None:
    """The cutting end up to where its wall goes on straight; None if a fact it needs is missing."""
    neck = min(sizes.neck or sizes.radius, sizes.radius)
    if sizes.kind == "profile":
        return _drawn(facts, sizes.path("profile"))
    if sizes.kind in ("drill", "chamfer"):
        return cone_end(sizes.radius, sizes.half_angle) if sizes.half_angle > 0 else None
    if sizes.kind in ("lollipop", PROBE):
        return globe_end(sizes.radius, neck, CHORD_MM)
    if sizes.kind == "tee":
        if sizes.usable is None:
            return None
        return disc_end(sizes.radius, min(sizes.corner, sizes.usable / 2), sizes.usable, neck, CHORD_MM)
    return corner_end(sizes.radius, sizes.corner, sizes.half_angle, CHORD_MM)


def _drawn(facts: Leaning, path: str) -> list[Point] | None:
    """The rows of a drawn profile, begun on the axis; needed."""
    if facts.number(f"{path}.0.r") is None:
        return None
    points: list[Point] = []
    while (r := facts.number_if_known(f"{path}.{len(points)}.r")) is not None:
        z = facts.number_if_known(f"{path}.{len(points)}.z")
        points.append((r.value, max(z.value if z is not None else 0.0, points[-1][1] if points else 0.0)))
    return [(0.0, 0.0), *([(points[0][0], 0.0)] if points[0][1] > 0 else []), *points]


def _body(facts: Leaning, sizes: _Sizes, end: list[Point]) -> list[_Stretch]:
    """Everything above the cutting end, up to the nose."""
    width, height = end[-1]
    top = max(sizes.stem_top, height)
    stretches = []
    lean = math.tan(sizes.half_angle) if sizes.kind == "tapered" else 0.0
    edge_top = min(max(_edge_top(sizes, width, height, lean, top), height), top)
    if edge_top > height:
        stretches.append(_Stretch(Part.EDGE, width, edge_top, lean))
    width += lean * (edge_top - height)
    shank_from = min(max(sizes.neck_end or 0.0, edge_top), top)
    if shank_from > edge_top:
        stretches.append(_Stretch(Part.NECK, min(sizes.neck or width, width), shank_from))
    if shank_from < top:
        stretches.append(_Stretch(Part.SHANK, sizes.shank, top))
    if sizes.overhang is None:
        return stretches
    return [*stretches, *_holder(facts, sizes, top)]


def _edge_top(sizes: _Sizes, width: float, height: float, lean: float, top: float) -> float:
    """Where the edge ends: at APMX; not known, as high as it can be at all."""
    if sizes.kind in ("tee", "lollipop", PROBE):
        return height
    if sizes.usable is not None:
        return sizes.usable
    if lean > 0 and sizes.shank > width:
        return height + (sizes.shank - width) / lean
    return sizes.neck_end if sizes.neck_end is not None else top


def _holder(facts: Leaning, sizes: _Sizes, bottom: float) -> list[_Stretch]:
    """The holder from the overhang up to the gauge line, where its length is known; what nobody described is as wide as the last step."""
    steps = _stack(_steps(facts, sizes.path("holder")), bottom, Part.HOLDER)
    if sizes.length is None or sizes.length <= bottom:
        return steps if sizes.length is None else []
    kept = [
        step for step, below in zip(steps, [bottom, *(one.top for one in steps)], strict=False) if below < sizes.length
    ]
    if not kept:
        return [_Stretch(Part.SHANK, sizes.shank, sizes.length)]
    return [*kept[:-1], replace(kept[-1], top=sizes.length)]


def _steps(facts: Leaning, prefix: str) -> list[tuple[float, float]]:
    """Rows of (radius, length) of a holder or a nose; empty where nobody described it."""
    steps: list[tuple[float, float]] = []
    while (diameter := facts.number_if_known(f"{prefix}.{len(steps)}.diameter")) is not None:
        length = facts.number_if_known(f"{prefix}.{len(steps)}.length")
        steps.append((diameter.value / 2, length.value if length is not None else FAR_MM))
    return steps


def _stack(steps: list[tuple[float, float]], bottom: float, part: Part) -> list[_Stretch]:
    stretches = []
    for radius, length in steps:
        bottom += length
        stretches.append(_Stretch(part, radius, bottom))
    return stretches


def _segments(end: list[Point], body: list[_Stretch], usable: float | None) -> Iterator[Segment]:
    """The outline as segments. A step outward belongs to what is above it, a step inward to what is below it."""
    for low, high in pairwise(end):
        yield from _edge(low, high, usable)
    r, z = end[-1]
    part = Part.EDGE if usable is None or z <= usable else Part.NECK
    for stretch in body:
        if stretch.radius != r:
            yield Segment(stretch.part if stretch.radius > r else part, r, z, stretch.radius, z)
        part, r = stretch.part, stretch.radius
        wide = r + stretch.lean * (stretch.top - z)
        if stretch.top > z:
            yield Segment(part, r, z, wide, stretch.top)
        r, z = wide, max(z, stretch.top)


def _edge(low: Point, high: Point, usable: float | None) -> Iterator[Segment]:
    """One stretch of the cutting end; above what is usable it is no edge."""
    if low == high:
        return
    if usable is None or high[1] <= usable:
        yield Segment(Part.EDGE, *low, *high)
    elif low[1] >= usable:
        yield Segment(Part.NECK, *low, *high)
    else:
        share = (usable - low[1]) / (high[1] - low[1])
        middle = (low[0] + share * (high[0] - low[0]), usable)
        yield Segment(Part.EDGE, *low, *middle)
        yield Segment(Part.NECK, *middle, *high)
