"""What a written program is made of: frozen blocks that mean one thing each, in mm, mm/min, 1/min and s.

Operations yield blocks; only `firstoff.write.text` knows how a control wants them spelt. Every position is absolute, in the active work
system, unless the block says `machine`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Point = tuple[float, float]
"""X and Y in mm."""


class Side(StrEnum):
    """Cutter radius compensation: the side of the path on which the tool runs, looking along the feed."""

    LEFT = "left"  # G41
    RIGHT = "right"  # G42
    OFF = "off"  # G40


class Coolant(StrEnum):
    """What cools and clears the chips."""

    OFF = "off"
    MIST = "mist"
    FLOOD = "flood"


class ReturnTo(StrEnum):
    """Where a drilling cycle stays between two holes."""

    START = "start height"  # G98
    APPROACH = "approach height"  # G99


@dataclass(frozen=True, slots=True)
class Rapid:
    """G0; an axis that is None stays. `machine`: in machine coordinates (G53), for this block only."""

    x_mm: float | None = None
    y_mm: float | None = None
    z_mm: float | None = None
    machine: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """G1. `side` switches compensation on or off during this move; `register` is its D, needed with LEFT and RIGHT."""

    feed_mm_per_min: float
    x_mm: float | None = None
    y_mm: float | None = None
    z_mm: float | None = None
    side: Side | None = None
    register: int | None = None


@dataclass(frozen=True, slots=True)
class Arc:
    """G2 or G3 in the XY plane about (`centre_x_mm`, `centre_y_mm`); with `z_mm` a helix of at most one turn.

    Where the end is the start, it is a full turn.
    """

    feed_mm_per_min: float
    x_mm: float
    y_mm: float
    centre_x_mm: float
    centre_y_mm: float
    clockwise: bool
    z_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Drill:
    """A drilling cycle over `holes` from `approach_z_mm` (R) down to `z_mm`; with `peck_mm` it clears the chips each peck (G83).

    `start_z_mm` is the height the tool stands at before the cycle, to which it comes back with `ReturnTo.START`.
    """

    holes: tuple[Point, ...]
    start_z_mm: float
    approach_z_mm: float
    z_mm: float
    feed_mm_per_min: float
    peck_mm: float | None = None
    return_to: ReturnTo = ReturnTo.START


@dataclass(frozen=True, slots=True)
class Dwell:
    """G4."""

    seconds: float


@dataclass(frozen=True, slots=True)
class SpindleOn:
    """S with M3 or M4."""

    speed_per_min: float
    clockwise: bool = True


@dataclass(frozen=True, slots=True)
class SpindleOff:
    """M5."""


@dataclass(frozen=True, slots=True)
class CoolantTo:
    """M7, M8 or M9."""

    coolant: Coolant


@dataclass(frozen=True, slots=True)
class Change:
    """T and M6."""

    number: int


@dataclass(frozen=True, slots=True)
class LengthOn:
    """G43 with the H register `register`, moving at once to `z_mm`."""

    register: int
    z_mm: float


@dataclass(frozen=True, slots=True)
class SafeStart:
    """Unit, plane, path mode, absolute coordinates, feed a minute; compensation, length offset and cycles off."""


@dataclass(frozen=True, slots=True)
class WorkSystem:
    """G54 and its kind, absolute."""

    system: str


@dataclass(frozen=True, slots=True)
class Halt:
    """M0, or M1 if `optional`, after telling the operator why."""

    message: str
    optional: bool = False


@dataclass(frozen=True, slots=True)
class Remark:
    """A comment; may be longer than a line."""

    text: str


Block = (
    Rapid
    | Line
    | Arc
    | Drill
    | Dwell
    | SpindleOn
    | SpindleOff
    | CoolantTo
    | Change
    | LengthOn
    | SafeStart
    | WorkSystem
    | Halt
    | Remark
)
"""Anything a program is made of."""

Blocks = tuple[Block, ...]
