"""Contact with what stands still: fixtures, the rack, the setter. Nothing is taken from them, so boxes and upright cylinders are held against
every straight way exactly, arcs in chords; any other shape is a field every touched cell of which counts as covered."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Assembly
from firstoff.path.pieces import Pieces
from firstoff.path.stations import stations
from firstoff.program.moves import PLANE_AXES, Floats, Ints
from firstoff.removal import _kernels as k
from firstoff.removal.contact import (
    CAP_MM,
    COVERED,
    Asked,
    Nearest,
    Point,
    ask,
    field_contacts,
    listed_contacts,
    nothing_near,
    place_of,
)
from firstoff.removal.field import LEAST_CUT_MM, NOTHING, Field, Grid
from firstoff.removal.shape import Shape
from firstoff.removal.stock import BoxBlank, CylinderBlank, frozen_field
from firstoff.removal.swept import Contact

LEAVES_MM = 0.002
"""How far a chord may leave its arc: a tenth of the finest cell."""
CELL_MM = 0.25
"""Cell of the field that stands for a shape from a file: it is known to half a cell's diagonal then."""
MOST_CELLS = 2_000_000
Standing = BoxBlank | CylinderBlank | Shape | Field


def static_contacts(
    pieces: Pieces,
    assemblies: Mapping[int, Assembly],
    fixtures: Mapping[str, Standing],
    cap_mm: float = CAP_MM,
) -> tuple[Contact, ...]:
    """How near every part of every tool comes to each fixture, at feed and at rapid; the edge at feed too.

    Like contacts with the stock: one for each stretch of a tool, part and kind of move, the worst few moves where several touch. A `Field`
    must have every touched cell covered up to the highest point in it (`covered_field`).
    """
    if not fixtures:
        return ()
    asked = ask(pieces, assemblies, edge_at_feed=True)
    found: list[Contact] = []
    ways = _straight_ways(pieces, asked)
    for name, told in fixtures.items():
        standing = covered_field(told) if isinstance(told, Shape) else told
        if isinstance(standing, Field):
            step = standing.grid.cell_mm
            found += field_contacts(stations(pieces, step), asked, standing, name, cap_mm, COVERED)
        else:
            found += _exact(asked, ways, standing, name, cap_mm)
    return tuple(found)


def top_of(standing: Standing) -> float:
    """Z of its highest point."""
    if isinstance(standing, Field):
        return standing.grid.z0_mm + float(standing.top.max())
    return standing.high_mm[2] if isinstance(standing, Shape) else standing.extent.z_high


def covered_field(shape: Shape, cell_mm: float = CELL_MM) -> Field:
    """A shape as heights: every cell that it touches is covered up to the highest point that it has there, however thin it is.

    It counts as solid below that; what it leaves open under itself is not seen.
    """
    low, high = np.array(shape.low_mm), np.array(shape.high_mm)
    sides = high - low
    cell = max(cell_mm, float(np.sqrt(max(sides[0] * sides[1], 0.0) / MOST_CELLS)))
    columns, rows = (int(np.ceil(side / cell)) + 2 for side in sides[:2])
    why = f"cells of {cell:.3g} mm for a shape that stands still"
    grid = Grid(float(low[0]) - cell, float(low[1]) - cell, cell, columns, rows, float(high[2]), why)
    top = np.full((rows, columns), NOTHING, np.float32)
    k.cover_triangles(shape.triangles, place_of(grid, COVERED), top)
    return frozen_field(grid, top, float(low[2]))


def _exact(
    asked: Asked, ways: tuple[Floats, Floats, Ints, Ints], standing: BoxBlank | CylinderBlank, name: str, cap: float
) -> tuple[Contact, ...]:
    nearest = nothing_near(asked, -LEAST_CUT_MM, cap)
    box = standing.extent
    radius = standing.radius_mm if isinstance(standing, CylinderBlank) else 0.0
    solid = np.array([box.x_low, box.x_high, box.y_low, box.y_high, radius, box.z_high])
    solid.setflags(write=False)
    k.probe_solid(*ways, asked.bodies.slopes, asked.bodies.parts, solid, -LEAST_CUT_MM, nearest.near)
    # What chords leave of arcs is all the doubt there is.
    nearest.near[:, :, k.SHRUNK] = nearest.near[:, :, k.GAP] + LEAVES_MM
    nearest.near[:, :, k.GROWN] = nearest.near[:, :, k.GAP] - LEAVES_MM
    exact = Nearest(nearest.near, nearest.near[:, 0, k.GROWN].copy())
    return listed_contacts(asked, exact, _at, name)


def _at(place: Floats) -> Point:
    return float(place[k.CELL_COLUMN]), float(place[k.CELL_ROW]), float(place[k.CELL_HEIGHT])


def _straight_ways(pieces: Pieces, asked: Asked) -> tuple[Floats, Floats, Ints, Ints]:
    """(start f8[L, 3], end f8[L, 3], move i4[L], what i4[L, 4]) of all pieces, arcs in chords."""
    chords = _chords(pieces)
    row = np.repeat(np.arange(len(pieces)), chords)
    nth = np.arange(row.size) - np.repeat(np.cumsum(chords) - chords, chords)
    start, end = pieces.start_mm[row], pieces.end_mm[row]
    arcs = np.flatnonzero(pieces.arc[row] >= 0)
    if arcs.size:
        parts = nth[arcs] / chords[row[arcs]], (nth[arcs] + 1) / chords[row[arcs]]
        start[arcs], end[arcs] = (_on_arcs(pieces, row[arcs], part) for part in parts)
    what = np.zeros((row.size, 4), np.int32)
    what[:, k.BODY], what[:, k.MADE] = asked.body[row], asked.made[row]
    what[:, k.STRETCH] = asked.stretch[row]
    told = (start, end, np.ascontiguousarray(pieces.move[row]), what)
    for array in told:
        array.setflags(write=False)
    return told


def _chords(pieces: Pieces) -> NDArray[np.int64]:
    """i8[P]: straight ways that stand for each piece."""
    count = np.ones(len(pieces), np.int64)
    rows = np.flatnonzero(pieces.arc >= 0)
    arc = pieces.arc[rows]
    radius = np.maximum(pieces.arcs.radius_mm[arc], LEAVES_MM)
    turn = 2.0 * np.arccos(1.0 - LEAVES_MM / radius)
    count[rows] = np.maximum(np.ceil(np.abs(pieces.arcs.sweep_rad[arc]) / turn), 1)
    return count


def _on_arcs(pieces: Pieces, row: NDArray[np.intp], part: Floats) -> Floats:
    """f8[K, 3]: the place at a part of the way along arcs; the radius goes evenly from that of the start to that of the end."""
    arc = pieces.arc[row]
    place = np.empty((row.size, 3))
    for plane, (first, second, normal) in PLANE_AXES.items():
        here = pieces.arcs.plane[arc] == plane
        centre = pieces.arcs.centre_mm[arc[here]]
        begin, end = (points[row[here]][:, [first, second]] - centre for points in (pieces.start_mm, pieces.end_mm))
        radius = np.hypot(*begin.T) + part[here] * (np.hypot(*end.T) - np.hypot(*begin.T))
        angle = np.arctan2(end[:, 1], end[:, 0]) - (1.0 - part[here]) * pieces.arcs.sweep_rad[arc[here]]
        place[here, first] = centre[:, 0] + radius * np.cos(angle)
        place[here, second] = centre[:, 1] + radius * np.sin(angle)
        low, high = pieces.start_mm[row[here], normal], pieces.end_mm[row[here], normal]
        place[here, normal] = low + part[here] * (high - low)
    return place
