"""The motion plan at a million blocks, in the three ways a program can be held down."""

from __future__ import annotations

import time

import numpy as np

from firstoff.motion.plan import controls, path_of, plan_motion, run, shape_of
from firstoff.motion.timeline import MotionLimits
from firstoff.path.track import Track, place
from firstoff.program.moves import Arcs, Base, Frames, Kind, Moves

REPEATS = 3
BLOCK_MM = 0.032


def wavy_raster(blocks: int, feed_mm_per_s: float) -> Track:
    """Rows of 80 mm over a wavy surface in blocks of 0.032 mm, coordinates rounded to 0.001 mm as a post writes them."""
    way = np.arange(blocks + 1) * BLOCK_MM
    x = np.mod(way, 160.0)
    z = 0.5 * np.sin(0.7 * way) + 0.15 * np.sin(2.1 * way)
    ends = np.round(np.column_stack([np.where(x > 80, 160 - x, x), 0.3 * np.floor(way / 80), z]), 3)
    count = blocks + 1
    none = np.full(count, -1, np.int32)
    moves = Moves(
        np.full(count, int(Kind.FEED), np.uint8),
        ends,
        np.zeros((count, 3), np.int16),
        none,
        np.full(count, feed_mm_per_s),
        np.full(count, 300.0),
        none,
        none,
        np.zeros(count, np.uint16),
        np.arange(1, count + 1, dtype=np.int32),
        none,
    )
    machine = np.full((1, 3), int(Base.MACHINE), np.int16)
    frames = Frames(machine, np.zeros((1, 3)), np.array([-1], np.int32), np.zeros(1, np.int16))
    nothing = np.zeros(0)
    return place(moves, Arcs(np.zeros((0, 2)), np.zeros(0, np.uint8), nothing, nothing, nothing), frames, {}, {})


def limits(tolerance_mm: float | None, look_ahead: int | None, block_rate_per_s: float | None) -> MotionLimits:
    return MotionLimits(
        (230, 230, 100), (3100, 3100, 2000), (8e4, 8e4, 8e4), tolerance_mm, look_ahead, block_rate_per_s
    )


def rows(blocks: int = 1_000_000) -> list[tuple[str, str]]:
    """(what, figure) of the plan: the whole of it, and one kernel run as a sensitivity needs it."""
    found = []
    for name, feed, by in (
        ("held by its feed", 30.0, limits(0.01, 200, 1e5)),
        ("held by its corners", 200.0, limits(0.01, 100_000, 1e9)),
        ("held by the block rate", 200.0, limits(0.01, 20, 1000.0)),
        ("nothing known of the control: three plans", 200.0, limits(None, None, None)),
    ):
        track = wavy_raster(blocks, feed)
        shape = shape_of(track)
        path = path_of(shape, by)
        once = _best(lambda shape=shape, path=path, by=by: run(shape, path, controls(by)[0]))  # type: ignore[misc]
        whole = _best(lambda track=track, by=by: plan_motion(track, by))  # type: ignore[misc]
        found.append((f"motion of {blocks:,} blocks, {name}", f"{whole:.2f} s, one run {once:.2f} s"))
    return found


def _best(work: object) -> float:
    times = []
    for _ in range(REPEATS):
        began = time.perf_counter()
        work()  # type: ignore[operator]
        times.append(time.perf_counter() - began)
    return min(times)


if __name__ == "__main__":
    for what, figure in rows():
        print(f"{what:<75} {figure}")
