"""What a replay hands on: executed steps with the state of the machine at each, and how the program ended."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from proof.faults.bench import Cutter, Point

Flat = tuple[float, float]


@dataclass(frozen=True, slots=True)
class State:
    """What is on while a step runs. `spindle` in 1/min, minus for M4, 0 off, NaN on at a speed never given; `feed` mm/min."""

    pocket: int
    """The pocket whose tool is in the spindle; 0 for none."""
    cutter: Cutter | None
    spindle: float
    feed: float
    coolant: bool


@dataclass(slots=True)
class Step:
    """One straight or circular move, dwell or change. `start` and `end`: tip over the work; `gauge`: its ends in the machine frame."""

    line: int
    kind: str
    """rapid, feed, dwell or change."""
    start: Point
    end: Point
    gauge: tuple[Point, Point]
    state: State
    centre: Flat | None = None
    sweep: float = 0.0
    """Signed angle of an arc in XY, rad."""
    seconds: float = 0.0
    side: int = 0
    """1 left of the path (G41), −1 right, 0 on it."""
    register: int = 0
    peck: float = 0.0
    """Depth fed in one go by a drilling cycle, 0 elsewhere."""

    @property
    def across(self) -> bool:
        return self.kind in ("rapid", "feed") and (
            self.centre is not None or math.dist(self.start[:2], self.end[:2]) > 1e-6
        )

    def length(self) -> float:
        """Way of the tip, mm."""
        if self.centre is None:
            return math.dist(self.start, self.end)
        radius = math.dist(self.start[:2], self.centre)
        return math.hypot(radius * self.sweep, self.end[2] - self.start[2])


@dataclass(slots=True)
class Trace:
    """All steps of a run in order, and what else it did, by line."""

    steps: list[Step] = field(default_factory=list)
    alarm: tuple[int, str] | None = None
    """The line at which the control stops, and why."""
    stops: list[int] = field(default_factory=list)
    written: list[int] = field(default_factory=list)
    """Lines that write an offset or shift one."""
    ended: str = ""
    """M30 or M2, "text end", or "alarm"."""
    left_on: dict[str, str] = field(default_factory=dict)
    """Spindle, coolant, distance, side and shift before the end."""


def turned(start: Flat, end: Flat, centre: Flat, clockwise: bool) -> float:
    """Signed angle from `start` to `end` about `centre`; a full turn where they are one place."""
    turn = math.atan2(end[1] - centre[1], end[0] - centre[0]) - math.atan2(start[1] - centre[1], start[0] - centre[0])
    turn %= 2 * math.pi
    if math.dist(start, end) < 1e-6:
        turn = 0.0
    if clockwise:
        return turn - 2 * math.pi
    return turn if turn > 0 else 2 * math.pi
