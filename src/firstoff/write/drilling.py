"""Holes: drilled by cycles, or bored by a helix with a milling tool."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstoff.write.blocks import Arc, Block, Blocks, Drill, Point, Rapid, ReturnTo
from firstoff.write.refusal import Refusal
from firstoff.write.tooling import Cut, Heights, Tool, check_ground, come_down, go_up, levels


@dataclass(frozen=True, slots=True)
class Holes:
    """Holes of the drill's diameter down to `bottom_z_mm` (the tip of the drill). With `peck_mm` chips are cleared each peck."""

    at: tuple[Point, ...]
    top_z_mm: float
    bottom_z_mm: float
    peck_mm: float | None = None
    return_to: ReturnTo = ReturnTo.START
    """START: between two holes the tool rises to the safe height."""


@dataclass(frozen=True, slots=True)
class Bore:
    """A round hole of `diameter_mm`, milled. `open_mm`: diameter of a hole that is there already."""

    centre: Point
    diameter_mm: float
    top_z_mm: float
    bottom_z_mm: float
    turn_mm: float
    """Greatest depth of one turn."""
    open_mm: float = 0.0


def drill(what: Holes, tool: Tool, cut: Cut, heights: Heights) -> Blocks:
    """G81, or G83 with pecks. Feeds at `plunge_mm_per_min`. Raises `InputError` if it cannot be drilled."""
    refusal = Refusal("drill")
    check_ground(refusal, tool, cut, heights, what.top_z_mm, what.bottom_z_mm)
    refusal.unless(bool(what.at), "no hole", "0 holes", "one or more")
    refusal.unless(
        all(math.isfinite(v) for hole in what.at for v in hole), "a hole has no place", str(what.at), "numbers"
    )
    refusal.unless(
        len(set(what.at)) == len(what.at), "a hole is drilled twice", f"{len(what.at)} holes", "each place once"
    )
    if what.peck_mm is not None:
        refusal.positive(peck_mm=what.peck_mm)
    refusal.settle()
    cycle = Drill(
        holes=what.at,
        start_z_mm=heights.safe_z_mm,
        approach_z_mm=heights.approach_z_mm,
        z_mm=what.bottom_z_mm,
        feed_mm_per_min=cut.plunge_mm_per_min,
        peck_mm=what.peck_mm,
        return_to=what.return_to,
    )
    return (Rapid(z_mm=heights.safe_z_mm), cycle, go_up(heights))


def bore(what: Bore, tool: Tool, cut: Cut, heights: Heights) -> Blocks:
    """Down a helix (counter-clockwise: climb milling with a clockwise spindle), once around flat, back to the middle by a half turn.

    Tip path: the circle of radius (diameter of hole - diameter of tool)/2. Raises `InputError` if it cannot be cut.
    """
    refusal = Refusal("bore")
    check_ground(refusal, tool, cut, heights, what.top_z_mm, what.bottom_z_mm)
    refusal.positive(diameter_mm=what.diameter_mm, turn_mm=what.turn_mm)
    refusal.not_negative(open_mm=what.open_mm)
    refusal.unless(
        what.diameter_mm > tool.diameter_mm,
        "the hole is not larger than the tool",
        f"{what.diameter_mm:g} mm",
        f"more than {tool.diameter_mm:g} mm",
    )
    widest = 2 * tool.diameter_mm + what.open_mm
    refusal.at_most(
        "a post would stand in the middle", what.diameter_mm, widest, "twice the tool's diameter and what is open"
    )
    refusal.settle()
    radius = (what.diameter_mm - tool.diameter_mm) / 2
    (x, y), feed = what.centre, cut.feed_mm_per_min
    start_z = min(heights.approach_z_mm, what.top_z_mm + what.turn_mm)
    right = (x + radius, y)
    blocks: list[Block] = [*come_down(x, y, start_z, cut, heights)]
    blocks.append(Arc(feed, *right, x + radius / 2, y, clockwise=False))
    blocks += [Arc(feed, *right, x, y, False, z) for z in levels(start_z, what.bottom_z_mm, what.turn_mm)]
    blocks.append(Arc(feed, *right, x, y, clockwise=False))
    blocks.append(Arc(feed, x, y, x + radius / 2, y, clockwise=False))
    blocks.append(go_up(heights))
    return tuple(blocks)
