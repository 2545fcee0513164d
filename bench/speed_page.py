"""docs/speed.md: the rows of the bench, and for each stage of the million blocks how far from a limit it is."""

from __future__ import annotations

import os
import platform
from typing import Any

BLOCKS, BYTES = 1_000_000, 30_000_000
STATIONS = 1_000_000
SAMPLES = 8 * 90
"""Samples of a sloped edge at a station: slices times directions."""
CHECKED_NS = 1.0
"""What a step of a few dependent instructions costs on a core of about 3 GHz, ns (ours, to have a measure): a byte looked at, a sample held
against a cell."""

LIMITS: tuple[tuple[str, float | None, str, str], ...] = (
    ("read", BYTES * CHECKED_NS * 1e-9, "each byte of the program looked at once",
     "several bytes at a time; it would not be noticed in the whole"),
    ("motion and what time hangs on", BLOCKS * 3 * 20 * CHECKED_NS * 1e-9, "three passes over the blocks, some 20 steps a block",
     "one plan for all questions of time; today samples of the program are planned anew for each fact that time hangs on"),
    ("place", None, "", "it is small already"),
    ("... tiles: cut, engagement, contact", 2 * STATIONS * SAMPLES * CHECKED_NS * 1e-9,
     "each sample of each station held against one cell, in two sweeps",
     "fewer samples where little of the ball is engaged, or the two blanks swept together, which share every place and way"),
    ("sweep, all of its thread but tiles and loads", None, "", "station arrays of one part kept and filled again instead of made anew"),
    ("... loads of stations", STATIONS * 180 * 2 * 3 * CHECKED_NS * 1e-9, "pieces and places of a turn gone through three times a station",
     "stations whose engagement is that of the one before reckoned once; samples in whole bins allow that only on level ground"),
    ("loads, but stations", None, "", "one table of candidates for all quantities instead of one each"),
    ("surfaces", None, "", "walls and floors looked for only where a question asks"),
    ("questions", None, "", "draws shared by all questions of one kind"),
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
        f"measurements: {CHECKED_NS:g} ns for a step that hangs on the one before. Memory is not what holds it down: heights and makers are "
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
