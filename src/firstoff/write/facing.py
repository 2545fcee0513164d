"""Facing: parallel passes over a rectangle, each beginning and ending beside the material."""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.write.blocks import Block, Blocks, Line, Rapid
from firstoff.write.refusal import Refusal
from firstoff.write.tooling import Cut, Heights, Tool, check_ground, come_down, go_up, levels, parts


@dataclass(frozen=True, slots=True)
class Face:
    """The rectangle `low_x_mm` .. `high_x_mm` by `low_y_mm` .. `high_y_mm`, from `top_z_mm` down to `bottom_z_mm`."""

    low_x_mm: float
    high_x_mm: float
    low_y_mm: float
    high_y_mm: float
    top_z_mm: float
    bottom_z_mm: float
    step_down_mm: float
    step_over_mm: float
    beside_mm: float = 1.0
    """How far the cutting edge is off the material at both ends of a pass, and past its far side at the last one."""
    one_way: bool = False
    """Every pass climb milling (with a clockwise spindle); else to and fro."""


def face(what: Face, tool: Tool, cut: Cut, heights: Heights) -> Blocks:
    """Passes along X, the first at low Y. Raises `InputError` if it cannot be cut.

    Tip path: X from `low_x - r - beside` to `high_x + r + beside`, Y from `low_y - r + step` to `high_y - r + beside`.
    """
    _check(what, tool, cut, heights)
    left = what.low_x_mm - tool.radius_mm - what.beside_mm
    right = what.high_x_mm + tool.radius_mm + what.beside_mm
    rows = pass_rows(what, tool)
    blocks: list[Block] = []
    for z in levels(what.top_z_mm, what.bottom_z_mm, what.step_down_mm):
        # Feeding towards -X has the uncut side at its right: climb milling.
        blocks += come_down(right, rows[0], z, cut, heights)
        at_right = True
        for number, y in enumerate(rows):
            if number and what.one_way:
                blocks += [go_up(heights), Rapid(x_mm=right, y_mm=y), Rapid(z_mm=heights.approach_z_mm)]
                blocks.append(Line(cut.plunge_mm_per_min, z_mm=z))
            elif number:
                blocks.append(Line(cut.feed_mm_per_min, y_mm=y))
            goes_left = at_right or what.one_way
            blocks.append(Line(cut.feed_mm_per_min, x_mm=left if goes_left else right))
            at_right = not goes_left
        blocks.append(go_up(heights))
    return tuple(blocks)


def pass_rows(what: Face, tool: Tool) -> tuple[float, ...]:
    """Y of each pass: even steps, none wider than `step_over_mm`; the last one reaches `beside_mm` past the far side."""
    width = what.high_y_mm - what.low_y_mm + what.beside_mm
    count = parts(width, what.step_over_mm)
    return tuple(what.low_y_mm - tool.radius_mm + width * k / count for k in range(1, count + 1))


def _check(what: Face, tool: Tool, cut: Cut, heights: Heights) -> None:
    refusal = Refusal("face")
    check_ground(refusal, tool, cut, heights, what.top_z_mm, what.bottom_z_mm)
    refusal.positive(
        step_down_mm=what.step_down_mm,
        step_over_mm=what.step_over_mm,
        beside_mm=what.beside_mm,
        width_x_mm=what.high_x_mm - what.low_x_mm,
        width_y_mm=what.high_y_mm - what.low_y_mm,
    )
    refusal.at_most("step_over_mm leaves ridges", what.step_over_mm, tool.diameter_mm, "the tool's diameter")
    refusal.settle()
