"""How far a tool and what carries it give way: springs in series between the edge and the frame, at best estimates.

The tool is a rod held in its holder, in sections of one diameter each; the fluted part counts as a rod of `core_ratio` (about 0.8) of the
cutting diameter (Kops & Vo, CIRP Annals 39 (1990) 93, from memory). For two sections this is F·(L1³/(3·E·I1) + (L³ - L1³)/(3·E·I2)), the
stepped cantilever of textbooks. Holder and spindle are springs at the nose; frame likewise (receptances in series, quasi-static).

Range: forces well below the first mode of what bends. Two published rules for fluted tools (the above; Kivanc & Budak, IJMTM 44 (2004)
1151, from memory) part by 11 to 20 % for a plain end mill and by half for a necked one: `core_ratio` carries that doubt.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.facts.assembly import Assembly
from firstoff.facts.fact import FactSet
from firstoff.program.moves import Floats

LEVERS = 33
"""Heights along the edge at which a tool's compliance is tabulated."""
SPRINGS = ("machine.frame.stiffness", "machine.spindle.stiffness")


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of the rod up to `top_mm` above the tip."""

    top_mm: float
    diameter_mm: float


def rod_compliance(sections: Sequence[Section], modulus: float, lever_mm: float = 0.0) -> float:
    """mm/N at the place of a push `lever_mm` above the tip: sum of (x1³ - x0³)/(3·E·I) over the sections, x from the push to the holder.

    `sections` from the tip upward, the last ends in the holder; modulus in N/mm². A push at or above the holder bends nothing.
    """
    total, below = 0.0, 0.0
    for section in sections:
        above = max(section.top_mm - lever_mm, below)
        total += (above**3 - below**3) / (3.0 * modulus * math.pi * section.diameter_mm**4 / 64.0)
        below = above
    return total


def rod_stress(force_n: float, lever_mm: float, section: Section) -> float:
    """N/mm²: bending stress of a round section at `section.top_mm` above the tip, from a side force `lever_mm` above it."""
    return 32.0 * force_n * max(section.top_mm - lever_mm, 0.0) / (math.pi * section.diameter_mm**3)


def sections_of(
    assembly: Assembly, core_ratio: float, neck: tuple[float, float] | None = None
) -> tuple[Section, ...] | None:
    """The rod of an assembly: fluted part, neck (diameter, end) if it has one, shank. None if the overhang is not known."""
    out = assembly.overhang_mm
    if out is None:
        return None
    flutes = min(assembly.usable_mm if assembly.usable_mm is not None else out, out)
    found = [Section(flutes, core_ratio * assembly.diameter_mm)]
    if neck is not None:
        found.append(Section(min(max(neck[1], flutes), out), neck[0]))
    found.append(Section(out, assembly.shank_mm))
    return tuple(found)


def compliance_by_height(assembly: Assembly, facts: FactSet) -> tuple[Floats, Floats] | None:
    """f8[LEVERS] heights above the tip and f8[LEVERS] mm/N there of tool, holder, spindle and frame together; None where a fact of the
    tool or its holder is not known. For pictures: springs that nobody knows count as rigid."""
    known = facts.facts
    core, modulus, holder = (
        known.get(f"tools.{assembly.name}.{one}") for one in ("core_ratio", "modulus", "holder_stiffness")
    )
    if core is None or modulus is None or holder is None:
        return None
    narrow, ends = known.get(f"tools.{assembly.name}.DN"), known.get(f"tools.{assembly.name}.LU")
    neck = (narrow.value, ends.value) if narrow is not None and ends is not None else None
    sections = sections_of(assembly, core.value, neck)
    if sections is None:
        return None
    carried = 1.0 / holder.value + sum(1.0 / known[path].value for path in SPRINGS if path in known)
    heights = np.linspace(0.0, sections[0].top_mm, LEVERS)
    return heights, np.array([rod_compliance(sections, modulus.value, height) + carried for height in heights.tolist()])


def plate_compliance(
    height_mm: float,
    thick_mm: float,
    breadth_mm: float,
    modulus: float,
    poisson: float = 0.3,
    push_mm: float | None = None,
) -> float:
    """mm/N at the top of a thin wall pushed `push_mm` above its foot (at its top where nothing is said): a plate held along its foot, of
    which `breadth_mm` bears the push.

    a²·(3·h - a)·(1 - ν²)/(6·E·I), I = b·t³/12, a the height of the push: h³/3 for one at the top (textbooks, cantilever with a force
    along it). A push far from the ends of a long wall is borne by about twice its height: 0.168·F·h²/D at the
    push (Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 1959, from memory) is that of b = 1.98·h.
    """
    at = height_mm if push_mm is None else min(push_mm, height_mm)
    return at**2 * (3.0 * height_mm - at) * (1.0 - poisson**2) / (6.0 * modulus * breadth_mm * thick_mm**3 / 12.0)
