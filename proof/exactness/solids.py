"""Twenty random programs against solids: what a tool takes from a block, by mesh booleans of a general library."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import manifold3d
import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Assembly
from firstoff.removal.profile import cutter
from firstoff.removal.sweep import sweep
from tests.removal import cutting as by

Floats = NDArray[np.float64]

SEED = 20261129
PROGRAMS = 20
SIDES = 128
"""Of the mesh of a tool; its radius is such that it has the area of the circle."""
LOW, HIGH = (-10.0, -9.0, -5.0), (10.0, 9.0, 0.0)
CELL = 0.2
"""A thirtieth of the tools' 6 mm, as the package takes it."""
TOOLS = {"flat": by.flat(), "ball": by.ball(), "bull": by.bull(), "taper": by.cone(5, 2.0), "chamfer": by.cone(45)}


@dataclass(frozen=True, slots=True)
class Solid:
    """One program: volumes in mm³, the area of the block's faces that it leaves in mm², and what the sweep says of itself."""

    kind: str
    moves: int
    exact: float
    found: float
    wall_mm2: float
    residual: float

    @property
    def off(self) -> float:
        return self.found / self.exact - 1.0

    @property
    def depth_mm(self) -> float:
        """The error as a layer over all that was cut."""
        return (self.found - self.exact) / self.wall_mm2


def program(number: int) -> tuple[str, Floats]:
    """(kind of tool, f8[M + 1, 3] places of the tip): straight moves up, down and along, in and over the block."""
    generator = np.random.default_rng((SEED, number))
    kind = list(TOOLS)[number % len(TOOLS)]
    count = int(generator.integers(6, 13))
    deepest = -2.5 if kind != "chamfer" else -1.5
    places = generator.uniform((-11, -10, deepest), (11, 10, -0.2), (count + 1, 3))
    places[0, 2] = 2.0
    return kind, places


def mesh(tool: Assembly) -> Any:
    """The tool as a solid: its edge turned about the axis, 20 mm high."""
    one = cutter(tool)
    wider = 1.0 / math.sqrt(math.sin(2 * math.pi / SIDES) / (2 * math.pi / SIDES))
    points = [(0.0, 0.0), *zip(one.r_mm * wider, one.z_mm, strict=True), (one.radius_mm * wider, 20.0), (0.0, 20.0)]
    kept = [point for k, point in enumerate(points) if k == 0 or math.dist(point, points[k - 1]) > 1e-9]
    return manifold3d.Manifold.revolve(manifold3d.CrossSection([kept]), SIDES)


def by_solids(tool: Assembly, places: Floats) -> tuple[float, float]:
    """(volume taken, area of the surface that was cut). The hull of a convex tool at both ends of a move is all that it sweeps."""
    body = mesh(tool)
    block = manifold3d.Manifold.cube([HIGH[k] - LOW[k] for k in range(3)]).translate(LOW)
    swept = [
        manifold3d.Manifold.batch_hull([body.translate(a.tolist()), body.translate(b.tolist())])
        for a, b in pairwise(places)
    ]
    taken = block ^ manifold3d.Manifold.batch_boolean(swept, manifold3d.OpType.Add)
    left = block - manifold3d.Manifold.batch_boolean(swept, manifold3d.OpType.Add)
    # Faces of what is left: the block's own, less those gone, and the cut surface, which `taken` has as well.
    cut = (float(left.surface_area()) + float(taken.surface_area()) - float(block.surface_area())) / 2.0
    return float(taken.volume()), cut


def study(programs: int = PROGRAMS, cell: float = CELL) -> list[Solid]:
    """Each program both ways."""
    rows = []
    for number in range(programs):
        kind, places = program(number)
        exact, wall = by_solids(TOOLS[kind], places)
        way = by.along(*[(float(x), float(y), float(z)) for x, y, z in places], step=cell)
        swept = sweep(by.block(LOW, HIGH, cell), [way], {1: TOOLS[kind]}, len(places) - 1)
        found = float(swept.moves.volume_mm3.sum())
        rows.append(Solid(kind, len(places) - 1, exact, found, wall, swept.residual))
    return rows
