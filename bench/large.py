"""Large programs of our own, examined whole: finishing a dome with a ball of 6 mm, pocketing with a flat mill of 3 mm, on cells of 0.1 mm."""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

CELL_MM = 0.1
TOOLS = """
[tool.bench-ball]
kind = "ball"
DC   = { value = "5.996(4) mm", evidence = "measured", df = 5 }
ZEFP = 2
APMX = "12 mm"
DMM  = { value = "6.000(5) mm", evidence = "plate" }
OHX  = "24.0(3) mm"
LF   = { value = "72.650(6) mm", evidence = "measured", df = 9 }
centre_cutting = true
edge_radius = { value = "5(1) µm", evidence = "plate" }
run_out   = { value = "5(1) µm", evidence = "measured" }
condition = "used"
material  = "carbide"
max_speed = "42000 1/min"
holder    = [["16 mm", "28 mm"], ["22 mm", "23 mm"]]

[tool.bench-flat]
kind = "flat"
DC   = { value = "2.996(4) mm", evidence = "measured", df = 5 }
ZEFP = 2
APMX = "8 mm"
FHA  = "30 deg"
DMM  = { value = "3.000(5) mm", evidence = "plate" }
OHX  = "20.0(3) mm"
LF   = { value = "69.940(6) mm", evidence = "measured", df = 9 }
centre_cutting = true
edge_radius = { value = "3(1) µm", evidence = "plate" }
run_out   = { value = "4(1) µm", evidence = "measured" }
condition = "used"
material  = "carbide"
holder    = [["16 mm", "26 mm"], ["22 mm", "23 mm"]]
"""
TOOL_OF = {6.0: "bench-ball", 3.0: "bench-flat"}
LEVEL_MM, STEP_OVER_MM, POCKET_BLOCK_MM = 0.5, 1.2, 0.1
LONG, WIDE = 96.0, 66.0


def ring(inset: float, block_mm: float) -> NDArray[np.float64]:
    """f8[N, 2] places round a rectangle of LONG x WIDE, `inset` within it, a block apart, from a corner and back to it."""
    a, b = LONG - 2 * inset, WIDE - 2 * inset
    corners = np.array([[inset, inset], [inset + a, inset], [inset + a, inset + b], [inset, inset + b], [inset, inset]])
    sides = []
    for begin, end in pairwise(corners):
        count = max(round(float(np.linalg.norm(end - begin)) / block_mm), 1)
        sides.append(begin + (end - begin) * (np.arange(1, count + 1) / count)[:, None])
    return np.concatenate(sides)


def pocketing(blocks: int) -> bytes:
    """Pockets cleared level after level, rings from the middle outward, until there are `blocks` of them."""
    lines = ["%", "G21 G90 G17 G94", "G54", "T8 M6", "S24000 M3", "G4 P5", "G0 G43 H8 Z20", "M8"]
    insets = np.arange(WIDE / 2 - 1.0, 1.5, -STEP_OVER_MM)
    rings = [ring(float(inset), POCKET_BLOCK_MM) for inset in insets]
    left, level = blocks, 0
    while left > 0:
        level += 1
        z = -LEVEL_MM * level
        first = rings[0][-1]
        lines += [f"G0 X{first[0]:.3f} Y{first[1]:.3f}", "Z1", f"G1 Z{z:.3f} F400", "F2000"]
        for places in rings:
            lines += [f"X{x:.3f} Y{y:.3f}" for x, y in places[: max(left, 0)].tolist()]
            left -= len(places)
        lines += ["G0 Z20"]
    return "\n".join([*lines, "M5", "M30", "%", ""]).encode()


@dataclass(frozen=True)
class Large:
    """A job that is laid out, and how many blocks and metres it has."""

    folder: Path
    blocks: int
    metres: float
    diameter_mm: float


@dataclass(frozen=True)
class Bench:
    """A shop, its rack with the tools of the bench in it, and what a job file of it says."""

    shop: Path
    job: str
    raster: Callable[[int, float], bytes]

    def tool_up(self) -> None:
        """Put the ball into pocket 7 and the flat mill into pocket 8: the tool in the spindle is the one in the rack, not what a job hopes for."""
        file = self.shop / "tools.toml"
        text = file.read_text()
        for number, name in ((7, "bench-ball"), (8, "bench-flat")):
            text, found = re.subn(rf'(number = {number}\ntool = )"[^"]*"', rf'\1"{name}"', text)
            if found != 1:
                raise ValueError(f"pocket {number} of {file} is not there")
        file.write_text(text + TOOLS)

    def finishing(self, blocks: int, metres: float) -> Large:
        return self._laid(f"finish-{blocks}-{metres:.0f}", self.raster(blocks, metres), blocks, metres, 6.0)

    def begun(self, blocks: int) -> Large:
        """The first so many blocks of the finishing of a million over 32 m: the same work for each of them."""
        lines = self.raster(1_000_000, 32.0).split(b"\n")
        head = next(n for n, line in enumerate(lines) if line.startswith(b"X") and b"Z" in line)
        way = [line for line in lines[head:] if line.startswith(b"X")]
        text = b"\n".join([*lines[:head], *way[:blocks], b"G0 Z20", b"M5", b"M30", b"%", b""])
        return self._laid(f"begun-{blocks}", text, blocks, blocks * 32.0 / 1e6, 6.0)

    def pocketing(self, blocks: int) -> Large:
        metres = blocks * POCKET_BLOCK_MM / 1000
        return self._laid(f"pocket-{blocks}", pocketing(blocks), blocks, metres, 3.0)

    def _laid(self, name: str, program: bytes, blocks: int, metres: float, diameter: float) -> Large:
        folder = self.shop / "jobs" / name
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "job.toml").write_text(self.job)
        (folder / "program.nc").write_bytes(program)
        return Large(folder, blocks, metres, diameter)

    def examined(self, large: Large) -> dict[str, Any]:
        """What `bench/whole.py` tells of it."""
        script, warm = Path(__file__).with_name("whole.py"), self.shop / "jobs" / "logger-lid"
        command = [sys.executable, str(script), str(large.folder), str(warm), str(CELL_MM), str(large.diameter_mm)]
        told: dict[str, Any] = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
        if abs(told["cell_mm"] / CELL_MM - 1.0) > 0.05 or told["tools"] != [TOOL_OF[large.diameter_mm]]:
            raise ValueError(
                f"{large.folder.name} was followed with {told['tools']} on cells of {told['cell_mm']:.3f} mm"
            )
        return told


def rows(bench: Bench) -> tuple[list[tuple[str, str]], dict[str, Any]]:
    """Rows of the bench, and what the million blocks took stage by stage."""
    found: list[tuple[str, str]] = []
    taken: dict[int, dict[str, Any]] = {}
    for blocks in (125_000, 250_000, 500_000, 1_000_000):
        large = bench.begun(blocks)
        taken[blocks] = bench.examined(large)
        what = f"examine {blocks:,} blocks, {large.metres:.0f} m, ball 6 mm, cells 0.1 mm"
        found.append((what, _told(taken[blocks])))
    slope = np.polyfit(np.log(list(taken)), np.log([one["cpu_s"] for one in taken.values()]), 1)[0]
    found.append(("... growth: slope of log CPU time over log blocks", f"{slope:.2f}"))
    million = taken[1_000_000]
    found.append(("... most memory, a million blocks", f"{million['mb']:.0f} MB"))
    for block_mm in (0.03, 0.1, 0.3):
        large = bench.finishing(round(8000 / block_mm), 8.0)
        told = bench.examined(large)
        rate = f"{large.metres / told['wall_s']:.1f} m/s, {large.blocks / told['wall_s'] / 1000:.0f} k/s"
        found.append((f"... 8 m in blocks of {block_mm:g} mm: way and blocks a second of wall time", rate))
    pocket = bench.examined(bench.pocketing(250_000))
    found.append(("examine 250,000 blocks of pocketing, 25 m, flat 3 mm, cells 0.1 mm", _told(pocket)))
    return found, million


def _told(one: dict[str, Any]) -> str:
    return f"{one['wall_s']:.1f} s ({one['cpu_s']:.1f} s CPU)"


def bandwidth_gb_per_s(megabytes: int = 256) -> float:
    """What a plain copy of an array reads and writes a second, best of five, GB/s."""
    source = np.ones(megabytes * 2**20 // 8)
    to, best = np.empty_like(source), math.inf
    for _ in range(5):
        began = time.perf_counter()
        np.copyto(to, source)
        best = min(best, time.perf_counter() - began)
    return 2 * source.nbytes / best / 1e9
