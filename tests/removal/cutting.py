"""Tools, paths and blanks for the tests of cutting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from firstoff.facts.assembly import CHORD_MM, Assembly, Part, Segment
from firstoff.path.pieces import Stations
from firstoff.program.moves import Floats
from firstoff.removal.field import NOTHING, Field, Grid
from firstoff.removal.grid import SHIFT
from firstoff.removal.profile import Cutter, cutter, ring_radii, slice_radii
from firstoff.removal.swept import ANGLES, Engagement

Place = tuple[float, float, float]
BIN = math.pi / ANGLES
FRONT = (np.arange(ANGLES) + 0.5) * BIN - math.pi / 2
ROUND = (np.arange(2 * ANGLES) + 0.5) * BIN - math.pi


def edge(*points: tuple[float, float]) -> tuple[Segment, ...]:
    """An edge from the tip on the axis through (r, z)."""
    ends = [(0.0, 0.0), *points]
    return tuple(Segment(Part.EDGE, *ends[k], *ends[k + 1]) for k in range(len(points)))


def tool(
    kind: str, points: Sequence[tuple[float, float]], diameter: float, usable: float | None, dead: float = 0.0
) -> Assembly:
    return Assembly(kind, kind, edge(*points), diameter, 0.0, usable, 2, 0.0, None, None, diameter, dead)


def flat(diameter: float = 6.0, usable: float | None = 12.0, dead: float = 0.0) -> Assembly:
    return tool("flat", [(diameter / 2, 0.0), (diameter / 2, 12.0)], diameter, usable, dead)


def bull(diameter: float = 6.0, corner: float = 1.0, kind: str = "bull") -> Assembly:
    """Chords of a corner, inside the metal as assemblies have them."""
    count = max(math.ceil(0.5 * math.pi / math.acos(1.0 - CHORD_MM / corner) / 2.0), 2)
    turns = [0.5 * math.pi * k / count for k in range(count + 1)]
    flat_r = diameter / 2 - corner
    points = [(flat_r + corner * math.sin(a), corner * (1.0 - math.cos(a))) for a in turns]
    return tool(kind, [*points[(0 if flat_r > 0 else 1) :], (diameter / 2, 12.0)], diameter, 12.0)


def ball(diameter: float = 6.0) -> Assembly:
    return bull(diameter, diameter / 2, "ball")


def cone(half_angle: float, tip: float = 0.2, diameter: float = 6.0, kind: str = "chamfer") -> Assembly:
    """A flat tip of a diameter (0 = a point), then a straight slope at an angle from the axis, degrees."""
    high = (diameter - tip) / 2 / math.tan(math.radians(half_angle))
    points = [(tip / 2, 0.0)] if tip > 0 else []
    return tool(kind, [*points, (diameter / 2, high), (diameter / 2, high + 12.0)], diameter, high + 12.0)


def along(
    *points: Place,
    step: float = 0.1,
    number: int = 1,
    first_move: int = 0,
    rapid: Sequence[int] = (),
    ghost: Sequence[int] = (),
) -> Stations:
    """Stations along straight moves between points; moves whose index (from 0) stands in `rapid` or `ghost` are such."""
    ends = np.asarray(points, dtype=np.float64)
    parts = []
    for move, (begin, end) in enumerate(pairwise(ends)):
        long = float(np.linalg.norm(end - begin))
        count = max(math.ceil(long / step - 1e-9), 1)
        tips = begin + (end - begin) * (np.arange(1, count + 1) / count)[:, None]
        parts.append(
            (np.full(count, move), tips, np.tile((end - begin) / long, (count, 1)), np.full(count, long / count))
        )
    index, tips, ways, steps = (np.concatenate(one) for one in zip(*parts, strict=True))
    return stations(index + first_move, tips, ways, steps, number, np.isin(index, rapid), np.isin(index, ghost))


def through(tips: Floats, number: int = 1, first_move: int = 0) -> Stations:
    """Stations at given places, all of one move; the first is where it starts and is left out."""
    steps = np.diff(tips, axis=0)
    long = np.linalg.norm(steps, axis=1)
    nobody = np.zeros(len(steps), np.bool_)
    return stations(np.full(len(steps), first_move), tips[1:], steps / long[:, None], long, number, nobody, nobody)


def stations(
    move: np.ndarray, tips: Floats, ways: Floats, steps: Floats, number: int, rapid: np.ndarray, ghost: np.ndarray
) -> Stations:
    rows = move.astype(np.int32)
    tools = np.full(len(rows), number, np.int32)
    return Stations(rows, rows, tips, ways.astype(np.float32), steps.astype(np.float32), tools, rapid, ghost)


def joined(*parts: Stations) -> Stations:
    names = Stations.__dataclass_fields__
    return Stations(**{name: np.concatenate([getattr(one, name) for one in parts]) for name in names})


def split(whole: Stations, size: int) -> list[Stations]:
    names = Stations.__dataclass_fields__
    return [
        Stations(**{name: getattr(whole, name)[k : k + size] for name in names}) for k in range(0, len(whole), size)
    ]


def block(low: Place, high: Place, cell: float, shift: float = SHIFT) -> Field:
    """A box on cells of one size; its low faces lie a part of a cell inside the first cells."""
    columns, rows = (math.ceil((high[k] - low[k]) / cell) + 2 for k in (0, 1))
    grid = Grid(low[0] - shift * cell, low[1] - shift * cell, cell, columns, rows, high[2])
    x, y = centres(grid)
    inside = ((y >= low[1]) & (y < high[1]))[:, None] & (x >= low[0]) & (x < high[0])
    return Field(grid, np.where(inside, np.float32(0.0), NOTHING), low[2], np.zeros((0, 4)))


def centres(grid: Grid) -> tuple[Floats, Floats]:
    return (
        grid.x0_mm + grid.cell_mm * (np.arange(grid.columns) + 0.5),
        grid.y0_mm + grid.cell_mm * (np.arange(grid.rows) + 0.5),
    )


def volume_left(field: Field) -> float:
    """What stands in the cells, mm³."""
    bottom = field.bottom_mm - field.grid.z0_mm
    return float(np.maximum(field.top.astype(np.float64) - bottom, 0.0).sum()) * field.grid.cell_mm**2


def swept_mm3(told: Engagement, tool: Assembly) -> Floats:
    """f8[M]: area that the edge sweeps at each station times the step, by the meaning of `Engagement`'s arrays."""
    one, way = cutter(tool), told.stations.way.astype(np.float64)
    across, down = np.hypot(way[:, 0], way[:, 1]), -way[:, 2]
    area = one.radius_mm * BIN * across * (told.side_mm * np.cos(FRONT)).sum(axis=1)
    for row in range(len(area)):
        area[row] += _sloped(told, one, row, across[row], down[row])
    return np.asarray(area * told.stations.step_mm)


def _sloped(told: Engagement, one: Cutter, row: int, across: float, down: float) -> float:
    area, z = 0.0, told.slope_z_mm[row].astype(np.float64)
    if one.side_from_mm > 0:
        area += _facing(told.slope[row], slice_radii(one, z), z, FRONT, across, down)
    if down > 0:
        r = ring_radii(one, float(z[-1]))
        area += _facing(told.end[row], r, np.interp(r, one.r_mm, one.z_mm), ROUND, across, down)
    return area


def _facing(share: np.ndarray, r: Floats, z: Floats, angle: Floats, across: float, down: float) -> float:
    """Area of rings of a cone seen along the way, the part that faces it."""
    middle = 0.5 * (r[1:] + r[:-1])[:, None]
    ahead = np.diff(z)[:, None] * np.cos(angle) * across + np.diff(r)[:, None] * down
    return float((share * middle * BIN * np.maximum(ahead, 0.0)).sum())
