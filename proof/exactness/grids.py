"""Thirty random poses on five grids: a pass beside a wall and a body past one, against closed forms and exact polygons.

A flat tool first clears what lies right of a straight edge, then takes a pass of known width along it. Both lie at a random place and angle
on the cells, so that no row of cells is ever in line with the wall.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.integrate import quad
from shapely import LineString, Polygon, box

from firstoff.facts.assembly import Part
from firstoff.loads import _kernels as loads
from firstoff.loads import grid_doubt
from firstoff.loads.tooling import loads_at, tooling_of
from firstoff.path.stations import stations
from firstoff.removal import contact
from firstoff.removal.field import NOTHING
from firstoff.removal.grid import step_mm
from firstoff.removal.stock import frozen_field
from firstoff.removal.sweep import sweep
from firstoff.removal.swept import Engagement
from tests.loads import by_hand
from tests.removal import bodies_by_hand
from tests.removal import cutting as by

Floats = NDArray[np.float64]

DIAMETER, RADIUS, DEPTH, SHARE = 6.0, 3.0, 2.0, 0.25
WIDTH = SHARE * DIAMETER
CELLS = (DIAMETER / 15, DIAMETER / 21, DIAMETER / 30, DIAMETER / 42, DIAMETER / 60)
"""Thirty cells across the smallest cutter is what the package takes by itself."""
OWN = 2
POSES = 30
HALF_BLOCK = 8.0
INNER = 4.0
"""Stations this near the middle are looked at for widths, angles and torques: elsewhere the tool goes in or out."""
QUADRANT = 256
FINE_MM = 0.01
FEED, TURNS, EDGES, KC, MC = 20.0, 400.0, 2, 900.0, 0.25
"""mm/s, 1/s; N/mm² at a chip of 0.05 mm."""
FACTS = by_hand.facts(kc=(KC, 0.0), mc=(MC, 0.0), run_out=(0.0, 0.0))


@dataclass(frozen=True, slots=True)
class Errors:
    """What one pose on one grid is off by: relative for volume and torque, mm, degrees, seconds; some quantities at many stations."""

    volume: Floats
    width: Floats
    angle: Floats
    gap: Floats
    torque: Floats
    time: Floats


NAMES = ("volume", "width", "angle", "gap", "torque", "time")
WORDS = {
    "volume": ("volume of a pass", "%", 100.0),
    "width": ("lateral depth (width of cut)", "mm", 1.0),
    "angle": ("engagement angle", "°", 1.0),
    "gap": ("contact gap, sideways", "mm", 1.0),
    "torque": ("mean torque of a turn", "%", 100.0),
    "time": ("time in the cut", "s", 1.0),
}
"""What it is, its unit, and how many of these one is."""


class Pose:
    """A frame at random on the grid."""

    def __init__(self, seed: int) -> None:
        generator = np.random.default_rng((20261126, seed))
        turn = generator.uniform(0, 2 * math.pi)
        self.ahead = np.array([math.cos(turn), math.sin(turn)])
        self.aside = np.array([-self.ahead[1], self.ahead[0]])
        self.origin = generator.uniform(-0.5, 0.5, 2)
        self.turn = float(turn)
        self.shift = generator.uniform(0, 1, 2)
        self.gap = float(generator.uniform(0.05, 0.5))

    def at(self, x: float, y: float, z: float = -DEPTH) -> by.Place:
        u, v = self.origin + x * self.ahead + y * self.aside
        return float(u), float(v), z


def errors(seed: int, cell: float) -> Errors:
    """One pose on one grid."""
    pose = Pose(seed)
    way = [pose.at(-18, -RADIUS)]
    for k in range(6):  # clears all that lies right of its left edge
        far = 18 if k % 2 == 0 else -18
        way += [pose.at(far, -RADIUS - 2.5 * k), pose.at(far, -RADIUS - 2.5 * (k + 1))]
    way += [pose.at(40, -40), pose.at(-18, -40), pose.at(-18, -RADIUS + WIDTH), pose.at(18, -RADIUS + WIDTH)]
    corner = (HALF_BLOCK, HALF_BLOCK, 0.0)
    field = by.block((-HALF_BLOCK, -HALF_BLOCK, -4.0), corner, cell, shift=float(pose.shift[0]))
    told: list[Engagement] = []
    tool = by_hand.flat(DIAMETER, edges=EDGES)
    sweep(field, [by.along(*way, step=float(step_mm(cell, DIAMETER)))], {1: tool}, len(way), engagement=told.append)
    last = len(way) - 2
    mine = [(one, np.flatnonzero(one.stations.move == last)) for one in told]
    area, length = exact_pass([one[:2] for one in way])
    taken = sum(float(one.volume_mm3[rows].sum()) for one, rows in mine)
    cut_mm = sum(float(one.stations.step_mm[rows][one.volume_mm3[rows] > 0].sum()) for one, rows in mine)
    inner = [(one, rows[_inside(one, rows, pose)]) for one, rows in mine]
    exact_angle = math.degrees(math.acos(1.0 - 2.0 * SHARE))
    angle = np.concatenate([one.side_mm[rows].sum(axis=1) / DEPTH * 2.0 for one, rows in inner])
    width = np.concatenate([one.radial_mm[rows].astype(np.float64) for one, rows in inner])
    return Errors(
        np.array([taken / (area * DEPTH) - 1.0]),
        width - WIDTH,
        angle - exact_angle,
        np.array([gap_off(pose, cell)]),
        np.concatenate([torques(one, rows) for one, rows in inner]) / exact_torque() - 1.0,
        np.array([(cut_mm - length) / FEED]),
    )


def _inside(one: Engagement, rows: NDArray[np.intp], pose: Pose) -> NDArray[np.bool_]:
    near: NDArray[np.bool_] = np.abs((one.stations.tip_mm[rows, :2] - pose.origin) @ pose.ahead) < INNER
    return near


def exact_pass(way: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """(area that the last move takes, length of its way on which it cuts), by polygons (shapely; GEOS)."""
    wider = RADIUS / math.sqrt(math.sin(math.pi / (2 * QUADRANT)) / (math.pi / (2 * QUADRANT)))
    block = box(-HALF_BLOCK, -HALF_BLOCK, HALF_BLOCK, HALF_BLOCK)
    cleared = LineString(way[:-1]).buffer(wider, quad_segs=QUADRANT)
    stood: Polygon = block.difference(cleared)
    taken = stood.intersection(LineString(way[-2:]).buffer(wider, quad_segs=QUADRANT))
    # A place is cut when the front of the tool first comes to it: so far along as it lies, less half the chord of the tool there.
    start, end = (np.asarray(place) for place in way[-2:])
    ahead = (end - start) / np.linalg.norm(end - start)
    border = shapely.get_coordinates(taken.segmentize(FINE_MM)) - start
    aside = border @ np.array([-ahead[1], ahead[0]])
    met = border @ ahead - np.sqrt(np.maximum(RADIUS**2 - aside**2, 0.0))
    return float(taken.area), float(met.max() - met.min())


def torques(one: Engagement, rows: NDArray[np.intp]) -> Floats:
    """f8[K] mean torque of a turn at stations, as the package has it, N·mm."""
    tooling, missing = tooling_of(by_hand.flat(DIAMETER, edges=EDGES), TURNS, FEED, by_hand.MATERIAL, FACTS)
    if tooling is None:
        raise ValueError(f"the tool of the study lacks {missing}")
    chips = np.full(rows.size, FEED / (EDGES * TURNS))
    found: Floats = loads_at(tooling, tooling.constants, rows, one, chips)[:, loads.TORQUE]
    return found


def exact_torque() -> float:
    """Mean over a turn of N edges: N/(2π) · ∫ R·b·kc·h^(1-mc)·0.05^mc dφ, h = fz·sin φ, from 0 to the engaged angle (Kienzle 1952)."""
    chip = FEED / (EDGES * TURNS)
    last = math.acos(1.0 - 2.0 * SHARE)
    one, _ = quad(lambda phi: (chip * math.sin(phi)) ** (1.0 - MC), 0.0, last)
    return EDGES / (2 * math.pi) * RADIUS * DEPTH * KC * math.pow(0.05, MC) * float(one)


HOLDER = 5.0


def gap_off(pose: Pose, cell: float) -> float:
    """A body of 5 mm radius goes along an upright wall at a known gap; what the grid makes of it, less that, mm."""
    count = math.ceil(24.0 / cell)
    grid = bodies_by_hand.grid(cell, count, count, -12.0 + cell * pose.shift[0], -12.0 + cell * pose.shift[1])
    x = grid.x0_mm + (np.arange(count) + 0.5) * cell
    y = grid.y0_mm + (np.arange(count) + 0.5) * cell
    away = x * pose.aside[0] + y[:, None] * pose.aside[1]
    top = np.where(away > HOLDER + pose.gap, np.float32(0.0 - grid.z0_mm), NOTHING)
    field = frozen_field(grid, top, -50.0)
    tool = bodies_by_hand.flat_mill(0.5, 1.0, 0.5, 2.0, HOLDER, 40.0, 6.0)
    ends = [tuple(float(v) for v in (*(sign * 3.0 * pose.ahead), -5.0)) for sign in (-1.0, 1.0)]
    pieces = bodies_by_hand.lines((ends[1], False), start=ends[0])  # type: ignore[arg-type]
    asked = contact.ask(pieces, {1: tool})
    found = contact.field_contacts(stations(pieces, cell), asked, field, "stock", contact.CAP_MM)
    return min(float(one.gap_mm) for one in found if one.part is Part.HOLDER) - pose.gap


@dataclass(frozen=True, slots=True)
class Row:
    """One quantity on five grids."""

    name: str
    rms: tuple[float, ...]
    mean: float
    """Mean error on the package's own grid (D/30)."""
    slope: float
    """Of ln(rms) over ln(cell)."""
    stated: float | None
    """Standard uncertainty that the package states for it on its own grid (D/30)."""


def stated_u(name: str, cell: float) -> float | None:
    """What the package states as the grid's doubt; None where no answer states one for it."""
    if name == "width":
        return cell / math.sqrt(12.0)
    if name == "gap":
        return cell / math.sqrt(6.0)
    if name == "torque":
        return (1.0 - MC / 2.0) * cell / math.sqrt(12.0) / WIDTH
    if name == "angle":  # of the chip at the end of the cut, which goes with the angle as its cotangent
        last = math.acos(1.0 - 2.0 * SHARE)
        chip = float(grid_doubt.chip_doubt(cell, RADIUS, np.array([math.sin(last)]))[0])
        return math.degrees(chip * math.tan(last))
    if name == "volume":
        return grid_doubt.volume_power(cell, DIAMETER) * math.sqrt(math.log1p(grid_doubt.WIDTH_LOG_U**2))
    if name == "time":
        way = 2 * HALF_BLOCK
        power = grid_doubt.time_power(cell, DIAMETER, way)
        return power * math.sqrt(math.log1p(grid_doubt.WIDTH_LOG_U**2)) * way / FEED
    return None


def study(poses: int = POSES, cells: Sequence[float] = CELLS) -> list[Row]:
    """All quantities, over all poses, on each grid."""
    squares: dict[str, list[float]] = {name: [] for name in NAMES}
    means: dict[str, float] = dict.fromkeys(NAMES, math.nan)
    for cell in cells:
        found = [errors(seed, cell) for seed in range(poses)]
        for name in NAMES:
            off = np.concatenate([getattr(one, name) for one in found])
            squares[name].append(math.sqrt(float(np.mean(off**2))))
            if cell == CELLS[OWN]:
                means[name] = float(off.mean())
    rows = []
    for name in NAMES:
        slope = float(np.polyfit(np.log(cells), np.log(squares[name]), 1)[0])
        rows.append(Row(name, tuple(squares[name]), means[name], slope, stated_u(name, CELLS[OWN])))
    return rows
