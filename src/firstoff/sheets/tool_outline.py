"""The tool as the turned picture draws it: the outline that was held against stock and fixtures, as far up as facts describe it.

What is drawn is what was judged (`facts.assembly`, which removal, loads and contact know too). Where the judge has to take something for
granted, as a shank as wide as its edge or a holder as wide as the nose, the drawing ends instead.
"""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.facts.assembly import FAR_MM, NOSE, Assembly, Part, Segment, leaned_assembly
from firstoff.facts.fact import FactSet
from firstoff.verdict.tools import spindle_tool


@dataclass(frozen=True, slots=True)
class Outline:
    """The described part of one tool with what carries it."""

    number: int
    """T."""
    name: str
    segments: tuple[Segment, ...]
    goes_on: bool
    """Whether more of it stands above, and nobody described it: it is drawn cut off there."""
    edges: int = 0
    helix_rad: float = 0.0
    """0 edges where nobody said how many or how they wind: none are drawn then."""


def outline_of(facts: FactSet, number: int) -> Outline | None:
    """What is known of the tool that is in the spindle when T `number` was called; None where not even its cutting end is."""
    leaning = facts.leaning()
    name = spindle_tool(leaning, number)
    made = leaned_assembly(leaning, name) if name is not None else None
    if name is None or made is None or not made.segments:
        return None
    top = described_mm(made)
    highest = max(one.z1_mm for one in made.segments)
    kept = tuple(_below(one, top) for one in made.segments if one.z0_mm < top or one.z1_mm <= top)
    goes_on = top < highest or made.length_mm is None or NOSE in made.body_missing
    edges = made.edges if made.edges is not None and facts.has(f"tools.{name}.FHA") else 0
    return Outline(number, name, kept, goes_on, edges, made.helix_rad) if kept else None


def described_mm(made: Assembly) -> float:
    """Height over the tip up to which facts say what the tool is like."""
    missing = {path.rsplit(".", 1)[-1] for path in made.body_missing}
    tops = [FAR_MM]
    edge = max((one.z1_mm for one in made.segments if one.part in (Part.EDGE, Part.NECK)), default=0.0)
    if "DMM" in missing:
        tops.append(edge)
    if "OHX" in missing:  # nor is it known how far up an edge without APMX goes: as high as it is wide says what it is
        tops.append(edge if made.usable_mm is not None else min(edge, made.diameter_mm))
    if "holder" in missing and made.overhang_mm is not None:
        tops.append(made.overhang_mm)
    return min(tops)


def _below(one: Segment, top: float) -> Segment:
    """The stretch up to `top`."""
    if one.z1_mm <= top:
        return one
    share = (top - one.z0_mm) / (one.z1_mm - one.z0_mm)
    return Segment(one.part, one.r0_mm, one.z0_mm, one.r0_mm + share * (one.r1_mm - one.r0_mm), top)


def part_span(outline: Outline, part: Part) -> tuple[float, float] | None:
    """Lowest and highest of one part over the tip; None where it has none."""
    mine = [one for one in outline.segments if one.part is part]
    return (min(one.z0_mm for one in mine), max(one.z1_mm for one in mine)) if mine else None
