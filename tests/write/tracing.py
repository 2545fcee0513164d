"""Walks along written blocks and says where the tip goes: slow, plain, and independent of how text is spelt or read."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from firstoff.write.blocks import Arc, Block, Drill, LengthOn, Line, Rapid, ReturnTo

Point3 = tuple[float, float, float]


@dataclass(frozen=True)
class Step:
    """One move from `start` to `end`; `centre` and `sweep` (signed, rad) for an arc. NaN where nobody knows yet."""

    kind: str  # rapid, feed, arc
    start: Point3
    end: Point3
    centre: tuple[float, float] | None = None
    sweep: float = 0.0

    @property
    def radius(self) -> float:
        assert self.centre is not None
        return math.dist(self.start[:2], self.centre)

    def points(self, most_mm: float = 0.05) -> list[Point3]:
        """Points along the move, ends included."""
        length = math.dist(self.start, self.end)
        if self.centre is not None:
            length = math.hypot(self.radius * self.sweep, self.end[2] - self.start[2])
        count = max(1, math.ceil(length / most_mm))
        return [self.at(k / count) for k in range(count + 1)]

    def at(self, part: float) -> Point3:
        z = self.start[2] + part * (self.end[2] - self.start[2])
        if self.centre is None:
            return (
                self.start[0] + part * (self.end[0] - self.start[0]),
                self.start[1] + part * (self.end[1] - self.start[1]),
                z,
            )
        angle = math.atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0]) + part * self.sweep
        return (self.centre[0] + self.radius * math.cos(angle), self.centre[1] + self.radius * math.sin(angle), z)

    def direction(self, part: float) -> tuple[float, float]:
        """Unit direction seen from above; (0, 0) for a move straight up or down."""
        if self.centre is None:
            dx, dy = self.end[0] - self.start[0], self.end[1] - self.start[1]
            length = math.hypot(dx, dy)
            return (dx / length, dy / length) if length > 1e-12 else (0.0, 0.0)
        x, y, _ = self.at(part)
        sign = math.copysign(1.0, self.sweep)
        return (-sign * (y - self.centre[1]) / self.radius, sign * (x - self.centre[0]) / self.radius)


def trace(blocks: Iterable[Block]) -> list[Step]:
    """All moves in the work frame; machine moves and cycles only set what is known afterwards (cycles: see `holes`)."""
    return list(_walk(blocks))


def _walk(blocks: Iterable[Block]) -> Iterator[Step]:
    at = [math.nan, math.nan, math.nan]
    for block in blocks:
        start = (at[0], at[1], at[2])
        if isinstance(block, Rapid) and block.machine:
            for axis, value in enumerate((block.x_mm, block.y_mm, block.z_mm)):
                at[axis] = at[axis] if value is None else math.nan
        elif isinstance(block, (Rapid, Line)):
            at = [
                old if new is None else new for old, new in zip(at, (block.x_mm, block.y_mm, block.z_mm), strict=True)
            ]
            yield Step("rapid" if isinstance(block, Rapid) else "feed", start, (at[0], at[1], at[2]))
        elif isinstance(block, Arc):
            at = [block.x_mm, block.y_mm, at[2] if block.z_mm is None else block.z_mm]
            centre = (block.centre_x_mm, block.centre_y_mm)
            yield Step("arc", start, (at[0], at[1], at[2]), centre, _sweep(block, start, centre))
        elif isinstance(block, LengthOn):
            at[2] = block.z_mm
            yield Step("rapid", start, (at[0], at[1], at[2]))
        elif isinstance(block, Drill):
            at = [*block.holes[-1], block.start_z_mm if block.return_to is ReturnTo.START else block.approach_z_mm]


def _sweep(block: Arc, start: Point3, centre: tuple[float, float]) -> float:
    angles = [math.atan2(y - centre[1], x - centre[0]) for x, y in (start[:2], (block.x_mm, block.y_mm))]
    turn = (angles[1] - angles[0]) % (2 * math.pi)
    if math.dist(start[:2], (block.x_mm, block.y_mm)) < 1e-9:
        turn = 2 * math.pi
        return -turn if block.clockwise else turn
    return turn - 2 * math.pi if block.clockwise else turn


def extents(steps: Iterable[Step], kinds: tuple[str, ...] = ("feed", "arc")) -> tuple[tuple[float, float], ...]:
    """((low, high) of X, Y, Z) over the moves of these kinds, arcs' bulges included to 1e-6 by their quarter points."""
    points: list[Point3] = []
    for step in steps:
        if step.kind not in kinds:
            continue
        points += [step.start, step.end]
        if step.centre is not None:
            points += [step.at(part) for part in _quarters(step)]
    return tuple(
        (
            min(p[axis] for p in points if not math.isnan(p[axis])),
            max(p[axis] for p in points if not math.isnan(p[axis])),
        )
        for axis in range(3)
    )


def _quarters(step: Step) -> list[float]:
    assert step.centre is not None
    first = math.atan2(step.start[1] - step.centre[1], step.start[0] - step.centre[0])
    parts = []
    for k in range(-12, 13):
        part = (k * math.pi / 2 - first) / step.sweep
        if 0 <= part <= 1:
            parts.append(part)
    return parts
