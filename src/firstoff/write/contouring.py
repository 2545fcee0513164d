"""Contours around or inside a closed outline, with tangential arcs in and out, and chamfers along its upper edge."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstoff.write.blocks import Arc, Block, Blocks, Line, Point, Side
from firstoff.write.outline import Edge, Outline, beside
from firstoff.write.refusal import Refusal
from firstoff.write.tooling import Cut, Heights, Tool, check_ground, come_down, go_up, levels

LEAD_PARTS = 16
"""Places along a lead at which its distance from the part is looked at."""
LEAD_CUTS_MM = 1e-6
"""A lead nearer to the part than the tool's radius by more than this would cut it."""


@dataclass(frozen=True, slots=True)
class Contour:
    """`outline` as the drawing has it; the tool runs outside of it, or inside if `inside`.

    The lead is a straight bit of `lead_line_mm` and a quarter turn of `lead_radius_mm` that meets the outline tangentially.
    """

    outline: Outline
    top_z_mm: float
    bottom_z_mm: float
    step_down_mm: float
    lead_radius_mm: float
    lead_line_mm: float = 1.0
    inside: bool = False
    climb: bool = True
    """Climb milling with a clockwise spindle."""
    compensated: bool = False
    """The program holds the outline and the control adds the tool's radius (G41, G42); else the program holds the tool's path."""
    allowance_mm: float = 0.0
    """Left standing on the wall."""


@dataclass(frozen=True, slots=True)
class Chamfer:
    """A chamfer of `width_mm` (seen from above) along the upper outer edge of `outline`, by a tool with `included_angle_deg`.

    `tip_below_mm`: how far the tool's tip stands below the chamfer, so that its weak point does not cut.
    """

    outline: Outline
    top_z_mm: float
    width_mm: float
    included_angle_deg: float = 90.0
    tip_diameter_mm: float = 0.0
    tip_below_mm: float = 0.5
    lead_radius_mm: float = 2.0
    lead_line_mm: float = 1.0
    climb: bool = True

    @property
    def depth_mm(self) -> float:
        """Height of the chamfer."""
        return self.width_mm / math.tan(math.radians(self.included_angle_deg / 2))

    @property
    def tip_z_mm(self) -> float:
        return self.top_z_mm - self.depth_mm - self.tip_below_mm

    @property
    def tip_radius_mm(self) -> float:
        """Distance of the tool's axis from the wall: the tool's radius at the chamfer's lower edge."""
        return self.tip_diameter_mm / 2 + self.tip_below_mm * math.tan(math.radians(self.included_angle_deg / 2))


def contour(what: Contour, tool: Tool, cut: Cut, heights: Heights) -> Blocks:
    """Once around at each level. Raises `InputError` if it cannot be cut.

    Tip path without compensation: the outline `tool radius + allowance` beside the drawing's, leads included.
    """
    refusal = Refusal("contour")
    check_ground(refusal, tool, cut, heights, what.top_z_mm, what.bottom_z_mm)
    refusal.positive(step_down_mm=what.step_down_mm, lead_radius_mm=what.lead_radius_mm)
    refusal.not_negative(lead_line_mm=what.lead_line_mm, allowance_mm=what.allowance_mm)
    if what.compensated:
        least = "the tool's radius"
        refusal.unless(
            what.lead_radius_mm > tool.radius_mm,
            "lead_radius_mm is too small for compensation",
            f"{what.lead_radius_mm:g} mm",
            f"more than {tool.radius_mm:g} mm ({least})",
        )
        refusal.unless(
            what.lead_line_mm >= tool.radius_mm,
            "lead_line_mm is too short to switch compensation on",
            f"{what.lead_line_mm:g} mm",
            f"at least {tool.radius_mm:g} mm ({least})",
        )
    refusal.settle()
    depths = levels(what.top_z_mm, what.bottom_z_mm, what.step_down_mm)
    shape = _Shape(what.outline, what.inside, what.climb, what.lead_radius_mm, what.lead_line_mm)
    return _run(shape, tool.radius_mm + what.allowance_mm, what.compensated, depths, tool, cut, heights)


def chamfer(what: Chamfer, tool: Tool, cut: Cut, heights: Heights) -> Blocks:
    """Once around the outside. Raises `InputError` if the tool's flank is too short for it.

    Tip path: the outline `tip_radius_mm` outside of the drawing's, Z at `tip_z_mm`.
    """
    refusal = Refusal("chamfer")
    refusal.positive(width_mm=what.width_mm, lead_radius_mm=what.lead_radius_mm)
    refusal.not_negative(
        tip_below_mm=what.tip_below_mm, tip_diameter_mm=what.tip_diameter_mm, lead_line_mm=what.lead_line_mm
    )
    refusal.unless(
        0 < what.included_angle_deg < 180,
        "included_angle_deg",
        f"{what.included_angle_deg:g}°",
        "above 0° and below 180°",
    )
    refusal.settle()
    check_ground(refusal, tool, cut, heights, what.top_z_mm, what.tip_z_mm)
    refusal.at_most(
        "the chamfer is wider than the tool's flank",
        what.tip_radius_mm + what.width_mm,
        tool.radius_mm,
        "the tool's radius",
    )
    refusal.settle()
    shape = _Shape(what.outline, False, what.climb, what.lead_radius_mm, what.lead_line_mm)
    return _run(shape, what.tip_radius_mm, False, (what.tip_z_mm,), tool, cut, heights)


@dataclass(frozen=True, slots=True)
class _Shape:
    outline: Outline
    inside: bool
    climb: bool
    lead_radius: float
    lead_line: float


def _run(
    shape: _Shape, distance: float, compensated: bool, depths: tuple[float, ...], tool: Tool, cut: Cut, heights: Heights
) -> Blocks:
    # Climb milling keeps the part at the right hand: clockwise around it, counter-clockwise inside it.
    clockwise = shape.climb != shape.inside
    side = Side.LEFT if shape.climb else Side.RIGHT
    sign = 1.0 if shape.climb else -1.0
    drawn = shape.outline.turned(clockwise)
    tool_path = beside(drawn, sign * distance)  # raises where the tool does not fit, compensated or not
    path = drawn if compensated else tool_path
    path = path.started_at_middle_of(path.longest_straight())
    at, heading = path.edges[0].start, path.edges[0].heading(0.0)
    lead_in, lead_out = _leads(at, heading, sign, shape.lead_radius, shape.lead_line)
    _check_leads((*lead_in, *lead_out), drawn, distance, (at, heading, sign) if compensated else None)
    _check_fits(tool_path, drawn, distance)
    switch_on = (side, tool.d) if compensated else (None, None)
    switch_off = Side.OFF if compensated else None
    blocks: list[Block] = []
    for z in depths:
        blocks += come_down(*lead_in[0].start, z, cut, heights)
        blocks.append(Line(cut.feed_mm_per_min, *lead_in[0].end, side=switch_on[0], register=switch_on[1]))
        blocks += [_block(edge, cut) for edge in (*lead_in[1:], *path.edges, *lead_out[:-1])]
        blocks.append(Line(cut.feed_mm_per_min, *lead_out[-1].end, side=switch_off))
        blocks.append(go_up(heights))
    return tuple(blocks)


def _leads(
    at: Point, heading: float, sign: float, radius: float, line: float
) -> tuple[tuple[Edge, Edge], tuple[Edge, Edge]]:
    """Straight bit and quarter turn in, quarter turn and straight bit out; `sign` +1: they lie at the left of the path."""
    u = (math.cos(heading), math.sin(heading))
    m = (-sign * u[1], sign * u[0])

    def point(along: float, away: float) -> Point:
        return (at[0] + along * u[0] + away * m[0], at[1] + along * u[1] + away * m[1])

    centre = point(0.0, radius)
    clockwise = sign < 0
    start, end = point(-radius, radius), point(radius, radius)
    lead_in = (Edge(point(-radius, radius + line), start), Edge(start, at, centre, clockwise))
    lead_out = (Edge(at, end, centre, clockwise), Edge(end, point(radius, radius + line)))
    return lead_in, lead_out


def _check_leads(
    leads: tuple[Edge, ...], drawn: Outline, distance: float, compensated: tuple[Point, float, float] | None
) -> None:
    """The tool's centre must keep its distance from the whole outline on its way in and out.

    With compensation the leads are the drawing's; the centre runs a quarter turn smaller by the tool's radius, joined to where the
    straight bits begin and end.
    """
    if compensated is not None:
        at, heading, sign = compensated
        beside_at = (at[0] - sign * distance * math.sin(heading), at[1] + sign * distance * math.cos(heading))
        radius = leads[1].radius_mm - distance
        (_, arc_in), (arc_out, _) = _leads(beside_at, heading, sign, radius, 0.0)
        leads = (Edge(leads[0].start, arc_in.start), arc_in, arc_out, Edge(arc_out.end, leads[-1].end))
    refusal = Refusal("contour")
    nearest = min(drawn.distance_mm(lead.at(k / LEAD_PARTS)) for lead in leads for k in range(LEAD_PARTS + 1))
    refusal.unless(
        nearest >= distance - LEAD_CUTS_MM,
        "the lead would cut another wall of the part",
        f"{nearest:.3f} mm from the outline",
        f"at least {distance:g} mm: a smaller lead_radius_mm or lead_line_mm",
    )
    refusal.settle()


def _check_fits(path: Outline, drawn: Outline, distance: float) -> None:
    """The tool's path must keep its distance everywhere, also from edges that are no neighbours (a gap too narrow)."""
    refusal = Refusal("contour")
    points = [edge.at(k / LEAD_PARTS) for edge in path.edges for k in range(LEAD_PARTS + 1)]
    worst = min(points, key=drawn.distance_mm)
    nearest = drawn.distance_mm(worst)
    refusal.unless(
        nearest >= distance - LEAD_CUTS_MM,
        f"the tool does not fit at X{worst[0]:.3f} Y{worst[1]:.3f}",
        f"{nearest:.3f} mm from the outline",
        f"at least {distance:g} mm",
    )
    refusal.settle()


def _block(edge: Edge, cut: Cut) -> Block:
    if edge.centre is None:
        return Line(cut.feed_mm_per_min, *edge.end)
    return Arc(cut.feed_mm_per_min, *edge.end, *edge.centre, clockwise=edge.clockwise)
