"""Tool assemblies as the rows that contact is found with.

A row is one slope of the profile: at height z(s) above the tip the body is as wide as r(s), both linear in s from 0 to 1, and never
narrower higher up. Under a cell `d` from the axis whose material reaches up to `h` (told from the tip), the signed gap of the row is

    least over s of  max(d − r(s), z(s) − h)

negative = inside by as much, sideways or upward, whichever is less to get out of it. A disc is a row of one point, a cone a row of two, so
tapers and balls need no steps. A stretch that grows narrower upward (the upper face of a tee) counts by its lower end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Assembly, Part
from firstoff.program.moves import Floats
from firstoff.removal import _kernels as k

PARTS = len(Part)
SAME_MM = 1e-6
"""Radii and heights of a profile closer than this are one."""
RUBS_MM = 0.02
"""A shank wider than its edge by less than this is as wide as the edge: shanks are ground to h6 (8 µm at 6 mm, ISO 286-2, from memory), edges
a little below their size. It rubs in its own cut, and how deep that may be is a question of the flute, not a contact."""


@dataclass(frozen=True, slots=True)
class Bodies:
    """Bodies of several assemblies, as the kernels read them (`_kernels` names the columns).

    `slopes` f8[S, 5]: r0, z0, r1, z1 and the height up to which the row is solid. `parts` f8[B·PARTS, 5]: one row for each part of each body.
    `slim` bool[B·PARTS]: a neck or shank that runs in what its own edge clears. `undercuts` bool[B]. `behind_mm` f8[B]: how far behind the probe the cut stays at feed, so that what stands before a neck is seen before
    the edge takes it away.
    """

    slopes: Floats
    parts: Floats
    slim: NDArray[np.bool_]
    undercuts: NDArray[np.bool_]
    behind_mm: Floats


def bodies_of(assemblies: Sequence[Assembly], edge_at_feed: bool = False) -> Bodies:
    """Rows of all assemblies.

    Edges are asked about at rapid (where `edge_at_feed`, always: a fixture is not to be cut), everything wider than the edge always. A
    slim neck or shank is asked about only where the edge below it is not, and nothing but a touch is: what stands before the edge higher
    than it cuts is driven into the neck. How near its own walls are is no gap that anything passes: the edge has made them.
    """
    slopes: list[tuple[float, ...]] = []
    parts = np.zeros((max(len(assemblies), 1) * PARTS, k.PART_COLUMNS))
    parts[:, k.PART_REACH] = -1.0
    slim = np.zeros(len(parts), np.bool_)
    behind = np.zeros(len(assemblies))
    for body, assembly in enumerate(assemblies):
        edge = edge_radius(assembly)
        for part in Part:
            mine = part_rows(assembly, part)
            if not mine:
                continue
            reach, bottom = max(row[2] for row in mine), min(row[1] for row in mine)
            at = body * PARTS + part
            slim[at] = part in (Part.NECK, Part.SHANK) and reach <= edge + RUBS_MM
            at_feed = edge_at_feed if part is Part.EDGE else not (slim[at] and edge_at_feed)
            at_rapid = not slim[at] or assembly.undercuts
            asked = k.PROBED_AT_FEED * at_feed + k.PROBED_AT_RAPID * at_rapid
            parts[at] = reach, bottom, len(slopes), len(slopes) + len(mine), asked
            slopes += mine
            if slim[at]:
                behind[body] = max(behind[body], edge - min(row[2] for row in mine))
    undercuts = np.array([assembly.undercuts for assembly in assemblies], np.bool_)
    table = np.array(slopes, np.float64).reshape(-1, 5)
    for array in (table, parts, slim, undercuts, behind):
        array.setflags(write=False)
    return Bodies(table, parts, slim, undercuts, behind)


def part_rows(assembly: Assembly, part: Part) -> list[tuple[float, ...]]:
    """Rows (r0, z0, r1, z1, top) of one part, without those that another one of it holds within."""
    rows: list[tuple[float, ...]] = []
    for segment in assembly.segments:
        if segment.part is not part:
            continue
        r0, z0, r1, z1 = segment.r0_mm, segment.z0_mm, segment.r1_mm, segment.z1_mm
        if r1 < r0 - SAME_MM:
            if z1 <= z0 + SAME_MM:
                continue  # a level upper face: the stretch below it is as wide
            r1 = r0
        if z1 <= z0 + SAME_MM:
            r0, z0, z1 = r1, min(z0, z1), max(z0, z1)  # a level lower face (or a hollow one) is the disc it ends in
        if r1 <= r0 + SAME_MM:
            rows.append((r1, z0, r1, z0, z1))
        else:
            rows.append((r0, z0, r1, z1, z1))
    return _needed(rows)


def edge_radius(assembly: Assembly) -> float:
    """Widest radius of the edge, mm; half of DC where the profile has no edge."""
    edges = [max(one.r0_mm, one.r1_mm) for one in assembly.segments if one.part is Part.EDGE]
    return max(edges, default=assembly.diameter_mm / 2)


def _needed(rows: list[tuple[float, ...]]) -> list[tuple[float, ...]]:
    """Joins a disc with the disc right above it where that is no wider; a tee keeps its neck apart because solids above it end."""
    kept: list[tuple[float, ...]] = []
    for row in rows:
        if kept:
            r0, z0, r1, z1, top = kept[-1]
            disc = r0 == r1 and row[0] == row[2]
            if disc and abs(row[2] - r1) <= SAME_MM and abs(row[1] - top) <= SAME_MM:
                kept[-1] = (r0, z0, r1, z1, row[4])
                continue
        kept.append(row)
    return kept
