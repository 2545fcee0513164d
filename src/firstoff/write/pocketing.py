"""Slots and rectangular pockets by trochoids: a small bite all the way, however deep the wall.

The tool circles counter-clockwise (climb milling with a clockwise spindle) while the centre of the circles, the *guide*, moves on by one step
a turn. Circle and step join tangentially: the step leaves and meets the circle at its right-hand point, where the circle runs along the guide.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from firstoff.write.blocks import Arc, Block, Blocks, Line, Point
from firstoff.write.refusal import Refusal
from firstoff.write.tooling import Cut, Heights, Tool, check_ground, come_down, go_up, levels, parts

LANE_OVERLAP = 0.6
"""Guides of neighbouring lanes are at most this part of a lane's width apart: their corners (√2 as far) still overlap."""
LANE_PER_DIAMETER = 1.5
"""Width of a lane, if not given, over the tool's diameter (common practice: 1.3 to 2)."""
HELIX_PER_DIAMETER = 0.45
"""Greatest radius of the entry helix over the tool's diameter: below one half, so that no post is left in its middle."""
STRAIGHT = 1e-9
"""Two directions of a guide nearer than this (rad) are one."""


@dataclass(frozen=True, slots=True)
class Trochoid:
    """`step_mm`: how far the guide moves on with each circle, so the widest bite. `helix_step_mm`: depth of one turn of the entry."""

    step_mm: float
    helix_step_mm: float
    step_down_mm: float
    """Greatest depth of one level."""


@dataclass(frozen=True, slots=True)
class Slot:
    """A slot with round ends, `width_mm` wide; `start` and `end` are the centres of its ends (the same point: a round pocket)."""

    start: Point
    end: Point
    width_mm: float
    top_z_mm: float
    bottom_z_mm: float


@dataclass(frozen=True, slots=True)
class Pocket:
    """A rectangle to be cleared, `wall_allowance_mm` short of its walls; the corners keep the radius of a lane."""

    low_x_mm: float
    high_x_mm: float
    low_y_mm: float
    high_y_mm: float
    top_z_mm: float
    bottom_z_mm: float
    wall_allowance_mm: float = 0.0
    lane_mm: float | None = None
    """Width of one trochoidal lane; `LANE_PER_DIAMETER` tool diameters if None, the pocket's width if that is less."""


def slot(what: Slot, how: Trochoid, tool: Tool, cut: Cut, heights: Heights) -> Blocks:
    """A slot by trochoids, entered by a helix at `start`. Raises `InputError` if it cannot be cut.

    Tip path: the circle of radius (width - diameter)/2 along the centre line, Z down to `bottom_z_mm`.
    """
    refusal = Refusal("trochoidal slot")
    _check_trochoid(refusal, what.width_mm, how, tool)
    check_ground(refusal, tool, cut, heights, what.top_z_mm, what.bottom_z_mm)
    refusal.settle()
    guide = (what.start,) if math.dist(what.start, what.end) < STRAIGHT else (what.start, what.end)
    orbit = (what.width_mm - tool.diameter_mm) / 2
    return _clear((guide, orbit), what.top_z_mm, what.bottom_z_mm, how, tool, cut, heights)


def pocket(what: Pocket, how: Trochoid, tool: Tool, cut: Cut, heights: Heights) -> Blocks:
    """A rectangular pocket by trochoidal lanes, from its middle outwards. Raises `InputError` if it cannot be cut.

    Tip path: X and Y to the walls less allowance and tool radius, Z down to `bottom_z_mm`.
    """
    refusal = Refusal("trochoidal pocket")
    width = min(what.high_x_mm - what.low_x_mm, what.high_y_mm - what.low_y_mm) - 2 * what.wall_allowance_mm
    lane = min(width, what.lane_mm if what.lane_mm is not None else LANE_PER_DIAMETER * tool.diameter_mm)
    refusal.not_negative(wall_allowance_mm=what.wall_allowance_mm)
    refusal.unless(
        width > tool.diameter_mm,
        "the pocket, less its allowance, is smaller than the tool",
        f"{width:g} mm",
        f"more than {tool.diameter_mm:g} mm",
    )
    _check_trochoid(refusal, lane, how, tool)
    check_ground(refusal, tool, cut, heights, what.top_z_mm, what.bottom_z_mm)
    refusal.settle()
    orbit = (lane - tool.diameter_mm) / 2
    return _clear((pocket_guide(what, lane), orbit), what.top_z_mm, what.bottom_z_mm, how, tool, cut, heights)


def pocket_guide(what: Pocket, lane_mm: float) -> tuple[Point, ...]:
    """Corners of the guide: the middle line, then rectangles clockwise around it, each a lane's overlap farther out.

    Clockwise, so that the way on of each circle lies on the inner side, where nothing is left to cut.
    """
    inset = what.wall_allowance_mm + lane_mm / 2
    half_x = (what.high_x_mm - what.low_x_mm) / 2 - inset
    half_y = (what.high_y_mm - what.low_y_mm) / 2 - inset
    middle = ((what.low_x_mm + what.high_x_mm) / 2, (what.low_y_mm + what.high_y_mm) / 2)
    least = min(half_x, half_y)
    rings = 0 if least < STRAIGHT else parts(least, LANE_OVERLAP * lane_mm)
    corners: list[Point] = [(half_x - least, half_y - least), (least - half_x, least - half_y)]
    for ring in range(1, rings + 1):
        out = least * (1 - ring / rings)
        x, y = half_x - out, half_y - out
        if half_x >= half_y:  # the middle line lies along X and ended at its left
            corners += [(-x, 0.0), (-x, y), (x, y), (x, -y), (-x, -y), (-x, 0.0)]
        else:  # along Y, ended at its bottom
            corners += [(0.0, -y), (-x, -y), (-x, y), (x, y), (x, -y), (0.0, -y)]
    placed = [(middle[0] + x, middle[1] + y) for x, y in corners]
    return tuple(p for i, p in enumerate(placed) if i == 0 or math.dist(p, placed[i - 1]) > STRAIGHT)


def helix_down(
    centre: Point, radius_mm: float, from_z_mm: float, to_z_mm: float, turn_mm: float, feed_mm_per_min: float
) -> Blocks:
    """Counter-clockwise turns from the point right below `centre` (-Y), none deeper than `turn_mm`, and one flat turn at the bottom."""
    here = (centre[0], centre[1] - radius_mm)
    depths = (*levels(from_z_mm, to_z_mm, turn_mm), None)
    return tuple(Arc(feed_mm_per_min, *here, *centre, clockwise=False, z_mm=z) for z in depths)


def _clear(
    lane: tuple[tuple[Point, ...], float],
    top_z_mm: float,
    bottom_z_mm: float,
    how: Trochoid,
    tool: Tool,
    cut: Cut,
    heights: Heights,
) -> Blocks:
    guide, orbit = lane
    blocks: list[Block] = []
    entry = min(orbit, HELIX_PER_DIAMETER * tool.diameter_mm)
    centre = guide[0]
    above = top_z_mm
    for z in levels(top_z_mm, bottom_z_mm, how.step_down_mm):
        # The helix begins a turn above the material, or above the level cut before.
        start_z = min(heights.approach_z_mm, above + how.helix_step_mm)
        blocks += come_down(centre[0], centre[1] - entry, start_z, cut, heights)
        blocks += helix_down(centre, entry, start_z, z, how.helix_step_mm, cut.plunge_mm_per_min)
        blocks += _widen(centre, entry, orbit, how.step_mm, cut)
        blocks += _trochoids(guide, orbit, how.step_mm, cut)
        blocks.append(go_up(heights))
        above = z
    return tuple(blocks)


def _widen(centre: Point, entry: float, orbit: float, step: float, cut: Cut) -> Blocks:
    """Half turns from the entry's circle out to the orbit, each at most half a step wider, ending below the centre.

    Half a turn about a shifted centre leaves the former half turn tangentially.
    """
    if orbit - entry < STRAIGHT:
        return ()
    count = 2 * parts(orbit - entry, step)
    blocks: list[Block] = []
    for half in range(1, count + 1):
        before = entry + (orbit - entry) * (half - 1) / count
        after = entry + (orbit - entry) * half / count
        sign = 1 if half % 2 else -1  # first half turn ends above the centre
        y_end = centre[1] + sign * after
        blocks.append(
            Arc(cut.feed_mm_per_min, centre[0], y_end, centre[0], centre[1] + sign * (after - before) / 2, False)
        )
    blocks.append(Arc(cut.feed_mm_per_min, centre[0], centre[1] - orbit, *centre, clockwise=False))
    return tuple(blocks)


def _trochoids(guide: tuple[Point, ...], orbit: float, step: float, cut: Cut) -> Blocks:
    """Circles along the guide from its first corner to its last; starts and ends at a right-hand point."""
    blocks: list[Block] = []
    heading = 0.0  # the entry ends below the centre, which is the right-hand point for a guide along +X
    for start, end in itertools.pairwise(guide):
        wanted = math.atan2(end[1] - start[1], end[0] - start[0])
        turn = (wanted - heading) % (2 * math.pi)
        if STRAIGHT < turn < 2 * math.pi - STRAIGHT:
            blocks.append(Arc(cut.feed_mm_per_min, *_right_of(start, wanted, orbit), *start, clockwise=False))
        heading = wanted
        count = parts(math.dist(start, end), step)
        for k in range(1, count + 1):
            t = k / count
            centre = (start[0] + t * (end[0] - start[0]), start[1] + t * (end[1] - start[1])) if k < count else end
            here = _right_of(centre, heading, orbit)
            blocks.append(Line(cut.feed_mm_per_min, *here))
            blocks.append(Arc(cut.feed_mm_per_min, *here, *centre, clockwise=False))
    return tuple(blocks)


def _right_of(centre: Point, heading: float, radius: float) -> Point:
    """The point of a circle at the right hand of one who walks along `heading`; counter-clockwise motion runs along it there."""
    return (centre[0] + radius * math.sin(heading), centre[1] - radius * math.cos(heading))


def _check_trochoid(refusal: Refusal, width_mm: float, how: Trochoid, tool: Tool) -> None:
    refusal.positive(step_mm=how.step_mm, helix_step_mm=how.helix_step_mm, step_down_mm=how.step_down_mm)
    refusal.at_most("step_mm is more than the tool can clear", how.step_mm, tool.radius_mm, "half the tool's diameter")
    refusal.unless(
        width_mm > tool.diameter_mm,
        "the tool does not fit with room to circle",
        f"width {width_mm:g} mm",
        f"more than the tool's {tool.diameter_mm:g} mm",
    )
