"""Paths and limits for the tests of motion: a track from corner points, and random paths of lines and arcs."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from firstoff.motion.timeline import MotionLimits
from firstoff.path.track import Track, place
from firstoff.program.moves import PLANE_AXES, Arcs, Base, Frames, Kind, Moves

Arc = tuple[float, float, int, float, float, float]
"""Centre (2), plane, radius, sweep, rise."""
BOUNDLESS_AHEAD = 100_000
BOUNDLESS_RATE = 1e9


def limits(
    feed: float | Sequence[float] = 500.0,
    accel: float | Sequence[float] = 5000.0,
    jerk: float | Sequence[float] = 1e5,
    tolerance: float | None = 0.01,
    ahead: int | None = BOUNDLESS_AHEAD,
    rate: float | None = BOUNDLESS_RATE,
) -> MotionLimits:
    """Limits, one number for all axes or three; look-ahead and block rate so large that they do not act."""

    def three(value: float | Sequence[float]) -> tuple[float, float, float]:
        x, y, z = np.broadcast_to(np.asarray(value, float), 3)
        return float(x), float(y), float(z)

    return MotionLimits(three(feed), three(accel), three(jerk), tolerance, ahead, rate)


def track(
    ends: Sequence[Sequence[float]] | np.ndarray,
    start: Sequence[float] = (0.0, 0.0, 0.0),
    feed: float | Sequence[float] | np.ndarray = 1e9,
    kind: Sequence[int] | np.ndarray | None = None,
    flags: Sequence[int] | np.ndarray | None = None,
    arcs: dict[int, Arc] | None = None,
    tool: Sequence[int] | np.ndarray | None = None,
    base: Base = Base.MACHINE,
) -> Track:
    """A track in machine coordinates, or in those of a `base` nobody knows. `arcs`: move -> (centre 1, centre 2, plane, radius, sweep, rise). A dwell of nought stands in
    front, at `start`, so that the first move has a start."""
    points = np.vstack([np.asarray(start, float)[None], np.asarray(ends, float).reshape(-1, 3)])
    count = len(points)
    arcs = arcs or {}
    rows = np.full(count, -1, np.int32)
    for row, move in enumerate(sorted(arcs)):
        rows[move + 1] = row
    table = np.array([arcs[move] for move in sorted(arcs)], float).reshape(-1, 6)
    kinds = np.full(count, int(Kind.FEED), np.uint8)
    kinds[rows >= 0] = int(Kind.ARC)
    if kind is not None:
        kinds[1:] = np.asarray(kind)
    kinds[0] = int(Kind.DWELL)
    feeds = np.concatenate([[0.0], np.broadcast_to(np.asarray(feed, float), count - 1)])
    given = np.zeros(count, np.uint16)
    if flags is not None:
        given[1:] = np.asarray(flags)
    tools = np.full(count, 1, np.int32)
    if tool is not None:
        tools[1:] = np.asarray(tool)
    moves = Moves(
        kinds,
        points,
        np.zeros((count, 3), np.int16),
        rows,
        feeds,
        np.full(count, 100.0),
        tools,
        np.full(count, -1, np.int32),
        given,
        np.arange(1, count + 1, dtype=np.int32),
        np.full(count, -1, np.int32),
    )
    frames = Frames(
        np.full((1, 3), int(base), np.int16), np.zeros((1, 3)), np.array([-1], np.int32), np.zeros(1, np.int16)
    )
    found = Arcs(
        np.ascontiguousarray(table[:, :2]),
        table[:, 2].astype(np.uint8),
        table[:, 3].copy(),
        table[:, 4].copy(),
        table[:, 5].copy(),
    )
    return place(moves, found, frames, {}, {})


def random_track(rng: np.random.Generator, moves: int) -> Track:
    """Lines and arcs in all planes, tangent or not, long and short, with feeds from slow to boundless."""
    at = rng.uniform(0, 50, 3)
    start = at.copy()
    direction = rng.normal(size=3)
    ends, feeds = [], []
    arcs: dict[int, Arc] = {}
    scale = 10 ** rng.uniform(-1.5, 1.2)
    bend = rng.choice([0.02, 0.2, 1.0])
    for number in range(moves):
        size = scale * 10 ** rng.uniform(-0.7, 0.7)
        direction = direction / np.linalg.norm(direction)
        if rng.random() < 0.35:
            plane = int(rng.choice([17, 18, 19]))
            first, second, normal = PLANE_AXES[plane]
            radius, sweep = size, float(rng.choice([-1, 1]) * rng.uniform(0.1, 2 * math.pi))
            heading = math.atan2(direction[second], direction[first]) if rng.random() < 0.6 else rng.uniform(0, 6.28)
            angle0 = heading - math.copysign(math.pi / 2, sweep)
            centre1 = at[first] - radius * math.cos(angle0)
            centre2 = at[second] - radius * math.sin(angle0)
            rise = 0.0 if rng.random() < 0.6 else float(rng.normal() * 0.3 * size)
            at = at.copy()
            at[first] = centre1 + radius * math.cos(angle0 + sweep)
            at[second] = centre2 + radius * math.sin(angle0 + sweep)
            at[normal] += rise
            arcs[number] = (centre1, centre2, plane, radius, sweep, rise)
            direction = np.zeros(3)
            direction[first] = -math.copysign(1, sweep) * math.sin(angle0 + sweep)
            direction[second] = math.copysign(1, sweep) * math.cos(angle0 + sweep)
        else:
            if rng.random() < 0.8:
                direction = direction + bend * rng.normal(size=3)
            direction = direction / np.linalg.norm(direction)
            at = at + size * direction
        ends.append(at.copy())
        feeds.append(float(10 ** rng.uniform(0.5, 3)) if rng.random() < 0.3 or not feeds else feeds[-1])
    return track(ends, start=start, feed=feeds, arcs=arcs)


def random_lines(rng: np.random.Generator, moves: int, bend: float) -> Track:
    """Lines that turn by about `bend` radians, with changing feeds: at small bends they are one smooth stretch."""
    direction, at = rng.normal(size=3), np.zeros(3)
    scale = 10 ** rng.uniform(-1.5, 1.2)
    ends, feeds = [], []
    for _ in range(moves):
        direction = direction + bend * rng.normal(size=3)
        direction = direction / np.linalg.norm(direction)
        at = at + scale * 10 ** rng.uniform(-0.7, 0.7) * direction
        ends.append(at)
        feeds.append(float(10 ** rng.uniform(0.5, 3)) if not feeds or rng.random() < 0.3 else feeds[-1])
    return track(ends, feed=feeds)


def random_limits(rng: np.random.Generator, full: bool = False) -> MotionLimits:
    """Limits of all axes apart; with `full`, look-ahead and block rate act too."""
    return limits(
        rng.uniform(50, 400, 3),
        rng.uniform(500, 6000, 3),
        10 ** rng.uniform(4, 6, 3),
        float(rng.choice([0.0005, 0.002, 0.01, 0.1])),
        int(rng.choice([1, 3, 20])) if full else BOUNDLESS_AHEAD,
        float(10 ** rng.uniform(1.5, 4)) if full else BOUNDLESS_RATE,
    )


def reverse(one: Track) -> Track:
    """The same path from its end to its start."""
    moves, arcs = one.moves, one.arcs
    last = len(moves) - 1
    rows: dict[int, Arc] = {}
    for move in range(1, last + 1):
        row = moves.arc[move]
        if row >= 0:
            centre = arcs.centre_mm[row]
            turn = -arcs.sweep_rad[row], -arcs.rise_mm[row]
            rows[last - move] = (centre[0], centre[1], int(arcs.plane[row]), arcs.radius_mm[row], *turn)
    return track(moves.end_mm[last - 1 :: -1], start=moves.end_mm[last], feed=moves.feed_mm_per_s[:0:-1], arcs=rows)
