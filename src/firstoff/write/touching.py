"""Touch-the-stock check: before the first cut the tool stands a known gap above a known point of the stock, and a person looks.

A wrong offset, a wrong length or a blank of the wrong height shows here while nothing turns and nothing has been touched.
"""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.write.blocks import Block, Blocks, Halt, LengthOn, Line, Rapid, SpindleOff
from firstoff.write.refusal import Refusal
from firstoff.write.tooling import Tool

SLOW_MM_PER_MIN = 300.0
"""Feed of the last bit down: slow enough for a hand on the feed hold."""
SLOW_FROM_MM = 10.0
"""Height above the gap at which the rapid ends."""
LEAST_GAP_MM = 0.5
"""Below this a blank a little too high would be touched; the tool must never touch (common practice: a 10 mm gauge block)."""


@dataclass(frozen=True, slots=True)
class TouchCheck:
    """`gap_mm` between tool tip and `stock_top_z_mm` over the point (`x_mm`, `y_mm`); `stock_doubt_mm` is how much higher the stock
    may be."""

    x_mm: float
    y_mm: float
    stock_top_z_mm: float
    gap_mm: float = 10.0
    stock_doubt_mm: float = 0.0


def touch_blocks(check: TouchCheck, tool: Tool, safe_z_mm: float) -> Blocks:
    """Down to the gap with the spindle off, a stop with words for the operator, up again to the safe height.

    Raises `InputError` if the gap could be eaten up by the doubt of the stock.
    """
    _check(check, safe_z_mm)
    z = check.stock_top_z_mm + check.gap_mm
    question = (
        f"T{tool.number} {tool.name} must stand {check.gap_mm:g} mm above the stock at X{check.x_mm:g} Y{check.y_mm:g}. "
        "Measure the gap. If it is wrong, stop here"
    )
    blocks: list[Block] = [SpindleOff(), Rapid(x_mm=check.x_mm, y_mm=check.y_mm), LengthOn(tool.h, safe_z_mm)]
    if z + SLOW_FROM_MM < safe_z_mm:
        blocks.append(Rapid(z_mm=z + SLOW_FROM_MM))
    return (
        *blocks,
        Line(SLOW_MM_PER_MIN, z_mm=z),
        Halt(question),
        Rapid(z_mm=safe_z_mm),
        Rapid(z_mm=0.0, machine=True),
    )


def _check(check: TouchCheck, safe_z_mm: float) -> None:
    refusal = Refusal("touch check")
    refusal.finite(x_mm=check.x_mm, y_mm=check.y_mm, stock_top_z_mm=check.stock_top_z_mm)
    refusal.not_negative(stock_doubt_mm=check.stock_doubt_mm)
    refusal.positive(gap_mm=check.gap_mm)
    least = LEAST_GAP_MM + check.stock_doubt_mm
    refusal.unless(
        check.gap_mm >= least,
        "the tool could touch the stock",
        f"gap {check.gap_mm:g} mm",
        f"at least {least:g} mm ({LEAST_GAP_MM:g} mm and the doubt of the stock)",
    )
    z = check.stock_top_z_mm + check.gap_mm
    refusal.unless(safe_z_mm > z, "the safe height must lie above the gap", f"{safe_z_mm:g} mm", f"above {z:g} mm")
    refusal.settle()
