"""`make bench`: the reader, the motion plan and whole examinations, with ratios from one run. Figures, never verdicts.

`python bench/run.py docs/speed.md` writes the page too, `python bench/run.py FILE.json` the rows.
"""

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
from typing import Any

import against
import interrupt
import large
import numpy as np
import progress
import speed_page

import book
import motion
from firstoff import workflows
from firstoff.demo.lay_out import lay_out
from firstoff.motion.plan import plan_motion
from firstoff.motion.timeline import MotionLimits
from firstoff.path.track import place
from firstoff.program.control import Control
from firstoff.program.reading import read_text

REPEATS = 3
Taken = dict[str, Any]


def best_of(work: Callable[[], object]) -> float:
    """Shortest of a few runs, s: the one that other work on the machine disturbed least."""
    times = []
    for _ in range(REPEATS):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def raster(blocks: int, metres: float | None = None) -> bytes:
    """A finishing raster over a dome, one short block after the other: 120 x 80 mm, as a post would write it; as long as its blocks make it,
    or `metres` of way."""
    n = blocks
    rows = max(1, round(math.sqrt(n / 1.5) if metres is None else metres / 0.12))
    across = n // rows
    x = np.linspace(0.0, 120.0, across)
    lines = [
        "%",
        "G21 G90 G17 G94",
        "G54",
        "T7 M6",
        "S18000 M3",
        "G4 P5",
        "G0 G43 H7 Z20",
        "X0 Y0",
        "M8",
        "G1 Z0 F2000",
    ]
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


def examination_rows() -> tuple[list[tuple[str, str]], Taken]:
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
        more, million = large_rows(folder, command[:4])
        rows += more
        help_command = [sys.executable, "-m", "firstoff.cli", "--help"]
        shown = best_of(lambda: subprocess.run(help_command, check=True, capture_output=True))
        rows.append(("`firstoff --help`, whole process", f"{shown:.2f} s"))
        cold = {**os.environ, "NUMBA_CACHE_DIR": str(Path(name) / "cache")}
        took, silent = progress.watched(command[:-1], cold)
        rows.append(("the same job, first run after install: kernels compile", f"{took:.1f} s"))
        rows.append(("... longest without anything new on the terminal", f"{silent:.1f} s"))
    return rows, million


MILLION = """program = "program.nc"
material = "al-6082"
[tools]
7 = "bench-ball"
8 = "bench-flat"
[offset.G54]
at = ["60.00(2) mm", "70.00(2) mm", "-150.00(2) mm"]
[stock]
box = ["-3.0(1) mm .. 123.0(1) mm", "-3.0(1) mm .. 83.0(1) mm", "-20.0(1) mm .. 0.4(1) mm"]
[around]
highest_around = "-10 mm"
allowed_below = "-19 mm"
[holding]
kind = "vice"
force = "4.0(5) kN"
friction = "0.15(4)"
grip_height = "8 mm"
jaw_width = "100 mm"
after_cut_free = "nothing is cut free"
"""


def large_rows(folder: Path, command: list[str]) -> tuple[list[tuple[str, str]], Taken]:
    """Large programs whole, and how soon an interrupt of the million blocks is obeyed."""
    bench = large.Bench(folder, MILLION, raster)
    bench.tool_up()
    found, million = large.rows(bench)
    job = str(folder / "jobs" / "begun-250000")
    began = time.perf_counter()
    subprocess.run([*command, job, "--json"], check=False, capture_output=True)
    took = time.perf_counter() - began
    return [*found, *interrupt.rows([*command, job, "--json"], folder, took, 6)], million


def main() -> None:
    """`--large`: only the large programs."""
    # What pip installs has its bytecode beside it. Where a shell forbids writing it, every start would compile the source of all modules anew.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    to = [Path(one) for one in sys.argv[1:] if one != "--large"]
    copied = large.bandwidth_gb_per_s()
    rows = [("a plain copy of an array reads and writes, a second", f"{copied:.1f} GB")]
    if "--large" in sys.argv:
        with tempfile.TemporaryDirectory() as name:
            lay_out(Path(name) / "shop", datetime.now())
            whole, million = large_rows(Path(name) / "shop", [sys.executable, "-m", "firstoff.cli", "examine"])
        rows += whole
    else:
        whole, million = examination_rows()
        rows += [*reading_rows(), *motion_rows(), *motion.rows(), *against.rows(), *book.rows(), *whole]
    width = max(len(what) for what, _ in rows)
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}; best of {REPEATS}")
    for what, figure in rows:
        print(f"{what:<{width}}  {figure:>9}")
    for one in to:
        text = speed_page.page(rows, million, copied) if one.suffix == ".md" else json.dumps(dict(rows), indent=1)
        one.write_text(text + "\n" if one.suffix != ".md" else text)


if __name__ == "__main__":
    main()
