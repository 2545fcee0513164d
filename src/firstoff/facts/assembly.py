"""One tool with what carries it, as a body turned about the spindle axis: the only tool geometry that removal, loads and contact know."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class Part(IntEnum):
    """What a stretch of the profile is."""

    EDGE = 0
    NECK = 1
    SHANK = 2
    HOLDER = 3
    NOSE = 4


@dataclass(frozen=True, slots=True)
class Segment:
    """A straight stretch of the profile, from (r0, z0) to (r1, z1); heights from the tip upward, mm."""

    part: Part
    r0_mm: float
    z0_mm: float
    r1_mm: float
    z1_mm: float


@dataclass(frozen=True, slots=True)
class Assembly:
    """A tool at best estimates. `segments` run from the axis at the tip outward and upward to the top of the nose; curved edges (ball,
    corner radius, lollipop) are chords that leave the true curve by at most `CHORD_MM`, always inside the material side."""

    name: str
    kind: str
    segments: tuple[Segment, ...]
    diameter_mm: float
    """DC."""
    corner_mm: float
    """RE; half of DC for a ball."""
    usable_mm: float | None
    """APMX: height up to which the edge cuts; None where the shop does not know."""
    edges: int | None
    """ZEFP; None where the shop does not know."""
    helix_rad: float
    """FHA; 0 where not known (the mean does not hang on it)."""
    length_mm: float | None
    """LF."""
    overhang_mm: float | None
    """OHX."""
    shank_mm: float
    """DMM; DC where not known."""
    dead_radius_mm: float
    """Radius round the axis inside which nothing cuts: 0 if centre cutting."""

    @property
    def undercuts(self) -> bool:
        """Whether the edge is wider somewhere than above it: what it passes under stays standing."""
        return self.kind in ("tee", "lollipop")


CHORD_MM = 0.002
"""Greatest distance between a curved edge and its chords: a tenth of the finest cell that stock is followed on."""
