"""`make bench`: the reader, the motion plan and whole examinations, with ratios from one run. Figures, never verdicts."""

from __future__ import annotations

import json
import math
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import numpy as np

import motion
from firstoff import workflows
from firstoff.demo.lay_out import lay_out
from firstoff.motion.plan import plan_motion
from firstoff.motion.timeline import MotionLimits
from firstoff.path.track import place
from firstoff.program.control import Control
from firstoff.program.reading import read_text

REPEATS = 3


def best_of(work: Callable[[], object]) -> float:
    """Shortest of a few runs, s: the one that other work on the machine disturbed least."""
    times = []
    for _ in range(REPEATS):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def raster(blocks: int) -> bytes:
    """A finishing raster over a dome, one short block after the other: 120 x 80 mm, as a post would write it."""
    n = blocks
    rows = max(1, round(math.sqrt(n / 1.5)))
    across = n // rows
    x = np.linspace(0.0, 120.0, across)
    lines = ["%", "G21 G90 G17 G94", "G54", "T1 M6", "S18000 M3", "G0 G43 H1 Z20", "X0 Y0", "G1 Z0 F2000"]
    for row in range(rows):
        y = 80.0 * row / max(rows - 1, 1)
        way = x if row % 2 == 0 else x[::-1]
        z = 4.0 * np.exp(-((way - 60.0) ** 2 + (y - 40.0) ** 2) / 900.0) - 4.0
        lines += [f"X{a:.3f} Y{y:.3f} Z{b:.3f}" for a, b in zip(way.tolist(), z.tolist(), strict=True)]
    lines += ["G0 Z20", "M5", "M30", "%", ""]
    return "\n".join(lines).encode()


def reading_rows() -> list[tuple[str, str]]:
    rows = []
    control = Control.of(None, "plain")
    read_text(raster(2000), "warm.nc", control)
    fast = {}
    for blocks in (125_000, 250_000, 500_000, 1_000_000):
        text = raster(blocks)
        fast[blocks] = best_of(lambda text=text: read_text(text, "raster.nc", control))  # type: ignore[misc]
        rows.append((f"read {blocks:,} plain blocks ({len(text) / 1e6:.1f} MB)", f"{fast[blocks]:.2f} s"))
    slope = np.polyfit(np.log(list(fast)), np.log(list(fast.values())), 1)[0]
    rows.append(("growth of reading: slope of log time over log blocks", f"{slope:.2f}"))
    small = raster(20_000)
    slow = best_of(lambda: read_text(small, "raster.nc", control, fast=False))
    quick = best_of(lambda: read_text(small, "raster.nc", control))
    rows.append(("20,000 blocks: Python for every line / kernels", f"{slow / quick:.0f} x"))
    return rows


def motion_rows() -> list[tuple[str, str]]:
    control = Control.of(None, "plain")
    limits = MotionLimits((200.0, 200.0, 120.0), (3000.0, 3000.0, 2000.0), (6e4, 6e4, 6e4), 0.02, 60, 1500.0)
    rows = []
    taken = {}
    for blocks in (125_000, 1_000_000):
        reading = read_text(raster(blocks), "raster.nc", control)
        track = place(reading.moves, reading.arcs, reading.frames, {1: (0.0, 0.0, 0.0)}, {1: 0.0})
        plan_motion(track, limits, ())
        taken[blocks] = best_of(lambda track=track: plan_motion(track, limits, ()))  # type: ignore[misc]
        rows.append((f"motion plan of {blocks:,} blocks", f"{taken[blocks]:.2f} s"))
    slope = math.log(taken[1_000_000] / taken[125_000]) / math.log(8)
    rows.append(("growth of the motion plan", f"{slope:.2f}"))
    return rows


def examination_rows() -> list[tuple[str, str]]:
    rows = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "shop"
        now = datetime.now()
        lay_out(folder, now)
        job = folder / "jobs" / "logger-lid"
        prepared = workflows.prepare(job, now=now)
        workflows.judge(prepared)
        rows.append(("judge the demo job, program read", f"{1000 * best_of(lambda: workflows.judge(prepared)):.0f} ms"))
        command = [sys.executable, "-m", "firstoff.cli", "examine", str(job), "--json"]
        whole = best_of(lambda: subprocess.run(command, check=False, capture_output=True))
        rows.append(("`firstoff examine` of the demo job, warm, whole process", f"{whole:.2f} s"))
        (folder / "million.nc").write_bytes(raster(1_000_000))
        million = [*command[:4], str(folder / "million.nc"), "--shop", str(folder), "--json"]
        began = time.perf_counter()
        subprocess.run(million, check=False, capture_output=True)
        rows.append(("`firstoff examine` of 1,000,000 blocks, whole process", f"{time.perf_counter() - began:.2f} s"))
        help_command = [sys.executable, "-m", "firstoff.cli", "--help"]
        shown = best_of(lambda: subprocess.run(help_command, check=True, capture_output=True))
        rows.append(("`firstoff --help`, whole process", f"{shown:.2f} s"))
        cold = {**os.environ, "NUMBA_CACHE_DIR": str(Path(name) / "cache")}
        began = time.perf_counter()
        subprocess.run(command, check=False, capture_output=True, env=cold)
        rows.append(("the same, first run after install: kernels compile", f"{time.perf_counter() - began:.1f} s"))
    return rows


def main() -> None:
    rows = reading_rows() + motion_rows() + motion.rows() + examination_rows()
    width = max(len(what) for what, _ in rows)
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}; best of {REPEATS}")
    for what, figure in rows:
        print(f"{what:<{width}}  {figure:>9}")
    if len(sys.argv) > 1:
        Path(sys.argv[1]).write_text(json.dumps(dict(rows), indent=1) + "\n")


if __name__ == "__main__":
    main()
