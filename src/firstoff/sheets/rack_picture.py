"""The rack from the front: each tool to scale, hanging from the gauge line against an upright rule in mm; one drawing a pocket.

Tools are drawn from their own facts (`facts.assembly`); pockets are set apart so that what stands under them can be read, so only what hangs
is to scale, never the distance between two pockets. Only turned parts are shaded. What nobody measured is dashed, what is not there dotted.
All in CSS px, centred on the tool's axis by a nested drawing at half the width: a drawing takes whatever width its column has.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from firstoff.facts.assembly import Part, Segment, assembly_of
from firstoff.facts.fact import FactSet
from firstoff.sheets.html_text import html

NUMBER_Y, RAIL_Y, RAIL_TALL, GAUGE_Y, BELOW = 15.0, 24.0, 8.0, 38.0, 10.0
"""Number, rail and gauge line from the top; room under the rule."""
MOST_PX_PER_MM = 3.1
MOST_TALL = 262.0
"""Of what hangs, px: with what stands below it a rack is seen as a whole on a screen of 900."""
RULE_MAJOR, RULE_HALF, RULE_MINOR = 20, 10, 2
EMPTY_MM = (22.0, 34.0)
"""Width and depth of the sign for an empty pocket."""
CURVE = 10
"""Points of the front half of a flute."""
SIGN_HELIX = {"drill": math.radians(28)}
"""Drawn where nobody states the helix: a sign for flutes, no measure."""
SPINDLE = "spindle"
"""Stands for a number over what is in the spindle: nothing forks it there."""
FAR_MM = 1000.0
"""A body that goes on farther than this is not described."""


@dataclass(frozen=True, slots=True)
class Hung:
    """What hangs in a pocket, heights from the tip upward, mm."""

    kind: str
    segments: tuple[Segment, ...]
    top_mm: float
    """Of the gauge line over the tip."""
    measured: bool
    """Whether LF is known; else the top is where the described holder ends."""
    helix_rad: float
    edges: int
    pitch_mm: float | None
    """Of a thread."""

    @property
    def radius_mm(self) -> float:
        return max(max(one.r0_mm, one.r1_mm) for one in self.segments)


def hung(facts: FactSet, tool: str) -> Hung | None:
    """A tool as it hangs; None where nobody knows its shape, or neither its length nor what carries it."""
    made, _, _ = assembly_of(facts, tool, nose=False)
    if made is None or not made.segments:
        return None
    top = made.length_mm if made.length_mm is not None else max(one.z1_mm for one in made.segments)
    if not 0 < top < FAR_MM:
        return None
    kept = tuple(one for one in made.segments if one.z0_mm < top)
    pitch = facts.facts.get(f"tools.{tool}.TP")
    return Hung(
        made.kind,
        kept,
        top,
        made.length_mm is not None,
        made.helix_rad or SIGN_HELIX.get(made.kind, 0.0),
        made.edges or 2,
        pitch.value if pitch is not None else None,
    )


@dataclass(frozen=True, slots=True)
class Gauge:
    """One scale for a whole rack."""

    px_per_mm: float
    depth_mm: float
    """Of the upright rule."""

    @property
    def tall(self) -> float:
        return GAUGE_Y + self.depth_mm * self.px_per_mm + BELOW

    def y(self, below_mm: float) -> float:
        """Of a place so far below the gauge line."""
        return GAUGE_Y + below_mm * self.px_per_mm


def gauge_of(tools: Iterable[Hung | None], column_px: float) -> Gauge:
    """The greatest scale at which all of them fit: the longest the height, the widest its column."""
    known = [one for one in tools if one is not None]
    longest = max((one.top_mm for one in known), default=60.0)
    depth = RULE_HALF * math.ceil((longest + 1.0) / RULE_HALF)
    widest = max((2 * one.radius_mm for one in known), default=EMPTY_MM[0])
    return Gauge(min(MOST_PX_PER_MM, MOST_TALL / depth, 0.86 * column_px / max(widest, EMPTY_MM[0])), depth)


@dataclass(frozen=True, slots=True)
class Pocket:
    """What is drawn of one pocket."""

    head: str
    """Its number, or ``spindle``."""
    tool: Hung | None
    held: bool
    """A tool stands in it, whether or not its shape is known."""
    away: bool = False
    """Its tool is in the spindle: the pocket waits for it."""
    unknown: str = "not described"
    """Said in its place where its shape or its length is not known."""
    misfit: str = ""
    """``clashes`` or ``cannot tell`` where the next pocket's tool does not surely fit beside this one's."""


def pocket_svg(one: Pocket, gauge: Gauge, serial: int) -> str:
    """The drawing of one pocket, as wide as its column. `serial` tells it from the others of the page."""
    parts = [_hairlines(gauge), _rail(one)]
    middle = [f'<text class="rack-number" x="0" y="{NUMBER_Y:g}" text-anchor="middle">{html(one.head)}</text>']
    radius = one.tool.radius_mm if one.tool is not None else EMPTY_MM[0] / 2
    if one.head != SPINDLE:
        middle.append(_fork(radius * gauge.px_per_mm))
    if one.tool is not None:
        middle.append(_tool(one, one.tool, gauge, serial))
    else:
        middle.append(_missing(gauge, one.unknown if one.held else "empty"))
    parts.append(f'<svg x="50%" overflow="visible">{"".join(middle)}</svg>')
    if one.misfit:
        parts.append(f'<svg x="100%" overflow="visible">{_misfit(one.misfit, gauge)}</svg>')
    return f'<svg class="rack-drawing" aria-hidden="true" width="100%" height="{gauge.tall:.0f}">{"".join(parts)}</svg>'


def rule_svg(gauge: Gauge) -> str:
    """The upright rule in mm; 0 is the gauge line."""
    parts = ['<text class="rack-unit" x="44" y="15" text-anchor="end">mm</text>']
    for mark in range(0, int(gauge.depth_mm) + 1, RULE_MINOR):
        y = gauge.y(mark)
        long = 9.0 if mark % RULE_MAJOR == 0 else 6.5 if mark % RULE_HALF == 0 else 4.0
        parts.append(f'<path class="rack-tick" d="M44 {y:.1f}h-{long:g}"/>')
        if mark % RULE_MAJOR == 0:
            parts.append(f'<text class="rack-figure" x="31" y="{y + 4:.1f}" text-anchor="end">{mark}</text>')
    return (
        f'<svg class="rack-rule" aria-hidden="true" width="46" height="{gauge.tall:.0f}">'
        f'<path class="rack-tick" d="M44 {gauge.y(0):.1f}V{gauge.y(gauge.depth_mm):.1f}"/>{"".join(parts)}</svg>'
    )


DEFS = (
    '<svg class="defs" width="0" height="0" aria-hidden="true"><defs>'
    + "".join(
        f'<linearGradient id="turned-{name}">'
        + "".join(f'<stop class="turned-{stop}" offset="{at}"/>' for at, stop in stops)
        + "</linearGradient>"
        for name, stops in (
            ("holder", ((0, "mid"), (0.26, "light"), (0.5, "mid"), (1, "dark"))),
            ("shank", ((0, "mid"), (0.3, "light"), (1, "dark"))),
            ("edge", ((0, "dark"), (0.3, "mid"), (1, "deep"))),
        )
    )
    + '<pattern id="wall-mm" width="1.1" height="1.1" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<rect class="hatch-ground" width="1.1" height="1.1"/><line class="hatch" x1="0" y1="0" x2="0" y2="1.1" stroke-width="0.4"/></pattern>'
    + "</defs></svg>"
)
"""Put once into a page: the shades of turned parts, and the hatch for the chart of lengths, in the colours of the page."""


# --- parts ------------------------------------------------------------------------------------------------------------


def _hairlines(gauge: Gauge) -> str:
    marks = range(RULE_MAJOR, int(gauge.depth_mm) + 1, RULE_MAJOR)
    return "".join(
        f'<line class="rack-hair" x1="0" x2="100%" y1="{gauge.y(mark):.1f}" y2="{gauge.y(mark):.1f}"/>'
        for mark in marks
    )


def _rail(one: Pocket) -> str:
    name = "rack-nose" if one.head == SPINDLE else "rack-rail"
    return f'<rect class="{name}" x="0" y="{RAIL_Y:g}" width="101%" height="{RAIL_TALL:g}"/>'


def _fork(radius: float) -> str:
    """The fork that holds a tool: two arms from the rail, hooked inward under the gauge line."""
    arm, bottom = radius + 8, GAUGE_Y + 8
    return "".join(
        f'<path class="rack-fork" d="M{side * arm:.1f} {RAIL_Y + RAIL_TALL:g}V{bottom:g}H{side * (radius + 2.5):.1f}"/>'
        for side in (-1, 1)
    )


def _missing(gauge: Gauge, words: str) -> str:
    half, deep = EMPTY_MM[0] / 2 * gauge.px_per_mm, EMPTY_MM[1] * gauge.px_per_mm
    top, y = GAUGE_Y, GAUGE_Y + 0.55 * deep
    return (
        f'<path class="rack-empty" d="M{-half:.1f} {top:g}v{deep - 6:.1f}q0 6 6 6h{2 * half - 12:.1f}q6 0 6 -6v{-(deep - 6):.1f}"/>'
        f'<text class="rack-said rack-said-on" x="0" y="{y:.1f}" text-anchor="middle">{html(words)}</text>'
    )


def _misfit(fit: str, gauge: Gauge) -> str:
    """Between two pockets: two arrowheads that press on a line."""
    y = gauge.y(0.22 * gauge.depth_mm)
    name = "rack-clash" if fit == "clashes" else "rack-near"
    return (
        f'<g class="{name}"><path class="rack-line" d="M0 {GAUGE_Y + 12:g}V{gauge.y(0.45 * gauge.depth_mm):.1f}"/>'
        f'<path class="rack-head" d="M-3 {y:.1f}l-8 -4.5v9zM3 {y:.1f}l8 -4.5v9z"/></g>'
    )


def _tool(one: Pocket, tool: Hung, gauge: Gauge, serial: int) -> str:
    edge = [segment for segment in tool.segments if segment.part is Part.EDGE]
    drawn = [_turned(segment, tool, gauge) for segment in tool.segments if segment.part is not Part.EDGE]
    drawn.append(_edge(edge, tool, gauge, serial) if edge else "")
    tip = gauge.y(tool.top_mm)
    left = -tool.radius_mm * gauge.px_per_mm
    near = edge[0].r1_mm * gauge.px_per_mm if edge else 0.0
    mark = (
        f'<path class="rack-tip{"" if tool.measured else " rack-tip-open"}" d="M{left:.1f} {tip:.1f}H{-near - 3:.1f}"/>'
    )
    state = "rack-tool rack-away" if one.away else "rack-tool" if tool.measured else "rack-tool rack-assumed"
    said = f'<text class="rack-said rack-said-on" x="0" y="{gauge.y(0.3 * tool.top_mm):.1f}" text-anchor="middle">away</text>'
    return f'<g class="{state}">{"".join(reversed(drawn))}{said if one.away else ""}</g>{mark}'


def _turned(one: Segment, tool: Hung, gauge: Gauge) -> str:
    """One stretch of the body, mirrored about the axis."""
    if one.z0_mm >= one.z1_mm:
        return ""
    s, high = gauge.px_per_mm, min(one.z1_mm, tool.top_mm)
    low_y, high_y = gauge.y(tool.top_mm - one.z0_mm), gauge.y(tool.top_mm - high)
    r0, r1 = one.r0_mm * s, one.r1_mm * s
    name = "turned-holder" if one.part is Part.HOLDER else "turned-shank"
    return f'<path class="{name}" d="M{-r1:.2f} {high_y:.2f}H{r1:.2f}L{r0:.2f} {low_y:.2f}H{-r0:.2f}Z"/>'


def _edge(edge: Sequence[Segment], tool: Hung, gauge: Gauge, serial: int) -> str:
    """The cutting end: its outline, and in it what tells its kind."""
    right = [(edge[0].r0_mm, edge[0].z0_mm), *((one.r1_mm, one.z1_mm) for one in edge)]
    outline = _path([*right, *((-r, z) for r, z in reversed(right))], tool, gauge) + "Z"
    lines = _flutes(tool, edge)
    name = f"rack-cut-{serial}"
    inside = "".join(f'<path d="{_path(one, tool, gauge)}"/>' for one in lines)
    kind = "turned-ball" if tool.kind == "probe" else "turned-edge"
    flutes = f'<g class="rack-flutes" clip-path="url(#{name})">{inside}</g>' if inside and tool.measured else ""
    return f'<clipPath id="{name}"><path d="{outline}"/></clipPath><path class="{kind}" d="{outline}"/>{flutes}'


Line = list[tuple[float, float]]


def _path(points: Sequence[tuple[float, float]], tool: Hung, gauge: Gauge) -> str:
    return "M" + "L".join(f"{x * gauge.px_per_mm:.2f} {gauge.y(tool.top_mm - z):.2f}" for x, z in points)


def _flutes(tool: Hung, edge: Sequence[Segment]) -> list[Line]:
    """Lines on the cutting end, (x, z) in mm from the axis and the tip."""
    radius = max(max(one.r0_mm, one.r1_mm) for one in edge)
    top = max(one.z1_mm for one in edge)
    if tool.kind == "probe" or radius <= 0 or top <= 0:
        return []
    if tool.kind == "chamfer":
        return [[(share * radius, top), (0.0, 0.0)] for share in (-0.35, 0.35)]
    if tool.kind == "tap":
        step = max(tool.pitch_mm or 0.25 * radius, 0.12 * radius)
        return [[(-radius, z), (radius, z + step / 2)] for z in _steps(0.0, top, step)]
    if tool.helix_rad < math.radians(3):
        return [[(x * radius, 0.0), (x * radius, top)] for x in _straight(tool.edges)]
    lead = 2 * math.pi * radius / math.tan(tool.helix_rad)
    each = lead / max(tool.edges, 1)
    starts = _steps(-lead, top + lead / 4, each)
    angles = [math.pi * (n / CURVE - 0.5) for n in range(CURVE + 1)]
    return [[(radius * math.sin(a), z + lead * a / (2 * math.pi)) for a in angles] for z in starts]


def _straight(edges: int) -> list[float]:
    """Where straight edges that face us lie, as shares of the radius."""
    angles = [2 * math.pi * n / max(edges, 1) for n in range(max(edges, 1))]
    return [math.sin(angle) for angle in angles if math.cos(angle) > 0.05]


def _steps(low: float, high: float, step: float) -> list[float]:
    """Places from `low` to `high`; so many at most that lines do not run into one."""
    count = min(math.ceil((high - low) / step), 80)
    return [low + n * step for n in range(count + 1)]


def corners(one: Hung) -> list[tuple[float, float]]:
    """Radius and depth below the gauge line of every corner of what is drawn; for checks of the scale."""
    found = [(one.segments[0].r0_mm, one.top_mm - one.segments[0].z0_mm)]
    found += [(segment.r1_mm, one.top_mm - min(segment.z1_mm, one.top_mm)) for segment in one.segments]
    return [low for low, high in pairwise([*found, (-1.0, -1.0)]) if low != high]
