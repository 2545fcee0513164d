"""Small tools, paths and fields for the tests of contact."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from firstoff.facts.assembly import Assembly, Part, Segment
from firstoff.path.pieces import Pieces
from firstoff.program.moves import Arcs
from firstoff.removal.field import Grid

NO_ARCS = Arcs(np.empty((0, 2)), np.empty(0, np.uint8), np.empty(0), np.empty(0), np.empty(0))
Point = tuple[float, float, float]


def profile(*points: tuple[float, float, Part]) -> tuple[Segment, ...]:
    """Segments from the axis at the tip through (r, z); the part belongs to the stretch that ends there."""
    segments, before = [], (0.0, 0.0)
    for r, z, part in points:
        segments.append(Segment(part, *before, r, z))
        before = (r, z)
    return tuple(segments)


def assembly(
    segments: tuple[Segment, ...], diameter: float, kind: str = "flat", usable: float | None = None
) -> Assembly:
    return Assembly("mill", kind, segments, diameter, 0.0, usable, 2, 0.0, None, None, diameter, 0.0)


def flat_mill(
    radius: float = 3.0,
    flute: float = 8.0,
    shank: float = 3.0,
    overhang: float = 20.0,
    holder: float = 10.0,
    nose_at: float = 45.0,
    nose: float = 30.0,
) -> Assembly:
    """A flat end mill with shank, holder and nose."""
    e, s, h, n = Part.EDGE, Part.SHANK, Part.HOLDER, Part.NOSE
    segments = profile(
        (radius, 0.0, e),
        (radius, flute, e),
        (shank, flute, s),
        (shank, overhang, s),
        (holder, overhang, h),
        (holder, nose_at, h),
        (nose, nose_at, n),
        (nose, nose_at + 30.0, n),
    )
    return assembly(segments, 2 * radius, usable=flute)


def lines(*way: tuple[Point, bool], start: Point, tool: int = 1, first_move: int = 0, ghost: bool = False) -> Pieces:
    """Straight pieces from point to point, one move each; each (end, made at rapid)."""
    ends = np.array([end for end, _ in way], np.float64).reshape(-1, 3)
    starts = np.vstack([np.array([start]), ends[:-1]])
    count = len(ends)
    arrays = (
        np.arange(first_move, first_move + count, dtype=np.int32),
        np.full(count, tool, np.int32),
        starts,
        ends,
        np.full(count, -1, np.int32),
    )
    rapid, ghosts = np.array([rapid for _, rapid in way], np.bool_), np.full(count, ghost)
    for array in (*arrays, rapid, ghosts):
        array.setflags(write=False)
    return Pieces(*arrays, NO_ARCS, rapid, ghosts, np.empty(0, np.int32))


def joined(pieces: Sequence[Pieces]) -> Pieces:
    """One program of several stretches."""

    def together(name: str) -> np.ndarray:
        array = np.concatenate([getattr(one, name) for one in pieces])
        array.setflags(write=False)
        return array

    names = ("move", "tool", "start_mm", "end_mm", "arc")
    return Pieces(*(together(n) for n in names), NO_ARCS, together("rapid"), together("ghost"), np.empty(0, np.int32))


def grid(cell: float, columns: int, rows: int, x0: float = 0.0, y0: float = 0.0, z0: float = 0.0) -> Grid:
    return Grid(x0, y0, cell, columns, rows, z0)
