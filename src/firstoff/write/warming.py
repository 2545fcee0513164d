"""Spindle warm-up: rising speeds, each held for a while, the axes strolling between two corners meanwhile."""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.write.blocks import (
    Block,
    Blocks,
    Change,
    Coolant,
    CoolantTo,
    Dwell,
    Halt,
    Rapid,
    Remark,
    SafeStart,
    SpindleOff,
    SpindleOn,
)
from firstoff.write.refusal import Refusal
from firstoff.write.tooling import parts

STROLL_EVERY_S = 20.0
"""Longest wait between two strolls: grease and screws want movement as well (common practice)."""

Corner = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class WarmUp:
    """`steps`: (speed in 1/min, minutes). `corners`: machine positions between which the axes move, Z up while they do; None = they rest.

    `tool_number`: what is in the spindle, since many spindles must not turn with nothing gripped; None leaves it as it is.
    """

    steps: tuple[tuple[float, float], ...]
    corners: tuple[Corner, Corner] | None = None
    tool_number: int | None = None
    clockwise: bool = True


def warm_up(what: WarmUp) -> Blocks:
    """A whole program. Lasts the steps' minutes and the strolls; cuts nothing, ends with the spindle off and Z up."""
    _check(what)
    blocks: list[Block] = [Remark("SPINDLE WARM-UP"), SafeStart(), Rapid(z_mm=0.0, machine=True)]
    blocks += [CoolantTo(Coolant.OFF), SpindleOff()]
    blocks.append(Halt("Warm-up: table clear, door shut, spindle gripping a tool or plug?"))
    if what.tool_number is not None:
        blocks.append(Change(what.tool_number))
    for speed, minutes in what.steps:
        blocks.append(SpindleOn(speed, what.clockwise))
        rests = parts(minutes * 60, STROLL_EVERY_S)
        for rest in range(rests):
            blocks.append(Dwell(minutes * 60 / rests))
            blocks += _stroll(what, rest)
    return (*blocks, Rapid(z_mm=0.0, machine=True), SpindleOff())


def _stroll(what: WarmUp, rest: int) -> Blocks:
    """To the other corner with Z up, then Z down to that corner's height and up again."""
    if what.corners is None:
        return ()
    x, y, z = what.corners[rest % 2]
    return (Rapid(x_mm=x, y_mm=y, machine=True), Rapid(z_mm=z, machine=True), Rapid(z_mm=0.0, machine=True))


def _check(what: WarmUp) -> None:
    refusal = Refusal("warm-up")
    refusal.unless(bool(what.steps), "no speed to warm up at", "0 steps", "one or more")
    for speed, minutes in what.steps:
        refusal.positive(speed_per_min=speed, minutes=minutes)
    for corner in what.corners or ():
        refusal.finite(x=corner[0], y=corner[1], z=corner[2])
        refusal.unless(corner[2] <= 0, "a corner lies above machine Z zero", f"{corner[2]:g} mm", "0 mm or below")
    refusal.settle()
