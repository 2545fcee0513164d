"""docs/speed.md: the rows of the bench, and for each stage of the million blocks how far from a limit it is."""

from __future__ import annotations

import os
import platform
from typing import Any

BLOCKS, BYTES = 1_000_000, 24_000_000
STATIONS = 140_000
"""Of 32 m in blocks of 0.032 mm, seven or eight of them to a station of a ball of 6 mm."""
CELLS_UNDER, CELLS_CUT = 1_450, 300
"""Cells under the front half of the ball at a station, and those that it lowers, of 0.1 mm (counted on this program)."""
PIECES = 200
"""Pieces of edge in stock at a station."""
STEP_NS = 1.0
"""What a step of a few instructions costs on a core of about 3 GHz, ns (ours, to have a measure)."""
LOOKED_AT_NS = 0.15
"""What a cell costs that is held against a bound eight at a time, ns."""

LIMITS: tuple[tuple[str, float | None, str, str], ...] = (
    ("read", BYTES * STEP_NS * 1e-9, "each byte of the program looked at once",
     "several bytes at a time, and lines that are not made into text one by one"),
    ("motion and what time hangs on", BLOCKS * 3 * 20 * STEP_NS * 1e-9, "three passes over the blocks, some 20 steps a block",
     "arrays of the whole program kept and filled again; it runs alone, before the sweep that needs no times could begin"),
    ("place", None, "", "rapids placed only where somebody asks for them"),
    ("... tiles: cut, engagement, contact", 2 * STATIONS * (CELLS_UNDER * LOOKED_AT_NS + CELLS_CUT * 2 * STEP_NS) * 1e-9,
     "cells under the ball looked at once, those that it lowers twice, in two sweeps",
     "the two blanks swept together: they share every place and way, and most heights"),
    ("sweep, all of its thread but tiles", None, "", "station arrays of one part kept and filled again instead of made anew"),
    ("... loads of stations", STATIONS * PIECES * 4 * STEP_NS * 1e-9, "each piece of edge in stock gone through four times",
     "pieces taken eight at a time, which their table by rows prevents"),
    ("loads, but stations", None, "", "stations that cannot be the worst of anything refused before they are sorted"),
    ("surfaces", None, "", "steps between cells looked for by rows, on both cores"),
    ("questions", None, "", "moves placed once for the four questions that place them all; questions side by side"),
)  # fmt: skip


def page(rows: list[tuple[str, str]], million: dict[str, Any], copied_gb: float) -> str:
    """The whole page."""
    lines = [
        "# How fast it is",
        "",
        "Written by `python bench/run.py docs/speed.md`; figures of one run, best of three where a row is short. Other work on the machine makes "
        "wall times longer than they need be: compare CPU times.",
        "",
        f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}. A plain copy of an array reads and writes "
        f"{copied_gb:.1f} GB a second here.",
        "",
        "| what | figure |",
        "|---|---:|",
        *(f"| {what} | {figure} |" for what, figure in rows),
        "",
        "## A million blocks, stage by stage",
        "",
        f"{million['cpu_s']:.1f} s of CPU time in {million['wall_s']:.1f} s, {million['mb']:.0f} MB at most. The limits are rough sums, not "
        f"measurements: {STEP_NS:g} ns for a step of a few instructions. Memory is not what holds it down: heights and makers are "
        "8 bytes a cell and stay in the cache tile by tile, and the arrays of one part of the way are 40 MB.",
        "",
        "| stage | CPU s | limit, s | of what | what the next factor of two would take |",
        "|---|---:|---:|---|---|",
    ]
    for stage, limit, of, more in LIMITS:
        took = million["stages"].get(stage)
        if took is None:
            continue
        least = "" if limit is None else f"{limit:.2f} ({took / limit:.0f} x)"
        lines.append(f"| {stage.removeprefix('... ')} | {took:.2f} | {least} | {of} | {more} |")
    rest = million["cpu_s"] - sum(million["stages"].values())
    lines += [f"| all else | {rest:.2f} | | | |", ""]
    return "\n".join(lines)
