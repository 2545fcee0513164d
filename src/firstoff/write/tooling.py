"""The tool, its cutting data and the heights that every operation is given."""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.write.blocks import Block, Coolant, Line, Rapid
from firstoff.write.refusal import Refusal


@dataclass(frozen=True, slots=True)
class Tool:
    """A tool as a program knows it: T, H, D and the diameter that cuts."""

    number: int
    name: str
    diameter_mm: float
    length_register: int | None = None
    """H; the tool number if None."""
    radius_register: int | None = None
    """D; the tool number if None."""

    @property
    def radius_mm(self) -> float:
        return self.diameter_mm / 2

    @property
    def h(self) -> int:
        return self.number if self.length_register is None else self.length_register

    @property
    def d(self) -> int:
        return self.number if self.radius_register is None else self.radius_register


@dataclass(frozen=True, slots=True)
class Cut:
    """Feeds of the tool's centre: along the path, and straight down."""

    feed_mm_per_min: float
    plunge_mm_per_min: float


@dataclass(frozen=True, slots=True)
class Heights:
    """`safe_z_mm`: over everything, for rapids across. `approach_z_mm`: where a rapid down ends and the feed begins."""

    safe_z_mm: float
    approach_z_mm: float


@dataclass(frozen=True, slots=True)
class Spindle:
    """Speed and direction; `run_up_s` is waited for before the tool comes down."""

    speed_per_min: float
    run_up_s: float
    clockwise: bool = True
    coolant: Coolant = Coolant.OFF


def levels(top_z_mm: float, bottom_z_mm: float, step_mm: float) -> tuple[float, ...]:
    """Even depths below `top_z_mm`, none deeper than `step_mm` below the one before; the last is exactly `bottom_z_mm`."""
    depth = top_z_mm - bottom_z_mm
    count = parts(depth, step_mm)
    return tuple(bottom_z_mm if k == count else top_z_mm - depth * k / count for k in range(1, count + 1))


def parts(length: float, step: float) -> int:
    """Number of equal parts, none longer than `step`; a rounding error of a millionth makes no extra part."""
    whole = int(length / step)
    return max(1, whole if length <= whole * step * (1 + 1e-6) else whole + 1)


def check_ground(refusal: Refusal, tool: Tool, cut: Cut, heights: Heights, top_z_mm: float, bottom_z_mm: float) -> None:
    """What every operation needs: a tool, feeds, a bottom below the top, and heights in order."""
    refusal.positive(
        diameter_mm=tool.diameter_mm, feed_mm_per_min=cut.feed_mm_per_min, plunge_mm_per_min=cut.plunge_mm_per_min
    )
    refusal.finite(safe_z_mm=heights.safe_z_mm, approach_z_mm=heights.approach_z_mm)
    refusal.finite(top_z_mm=top_z_mm, bottom_z_mm=bottom_z_mm)
    refusal.unless(
        bottom_z_mm < top_z_mm,
        "nothing to cut: the bottom is not below the top",
        f"{bottom_z_mm:g} mm",
        f"below {top_z_mm:g} mm",
    )
    refusal.unless(
        heights.approach_z_mm > top_z_mm,
        "approach_z_mm must lie above the material",
        f"{heights.approach_z_mm:g} mm",
        f"above {top_z_mm:g} mm",
    )
    refusal.unless(
        heights.safe_z_mm >= heights.approach_z_mm,
        "safe_z_mm must not lie below approach_z_mm",
        f"{heights.safe_z_mm:g} mm",
        f"{heights.approach_z_mm:g} mm or more",
    )


def come_down(x_mm: float, y_mm: float, z_mm: float, cut: Cut, heights: Heights) -> tuple[Block, ...]:
    """Across at the safe height, down to the approach height, then at the plunge feed to `z_mm`."""
    return (
        Rapid(z_mm=heights.safe_z_mm),
        Rapid(x_mm=x_mm, y_mm=y_mm),
        Rapid(z_mm=heights.approach_z_mm),
        Line(cut.plunge_mm_per_min, z_mm=z_mm),
    )


def go_up(heights: Heights) -> Block:
    """Straight up to the safe height."""
    return Rapid(z_mm=heights.safe_z_mm)
