"""The same sweep three times: our removal, stations on the same cells with NumPy windows, and mesh booleans; time a move, and errors. Ours once
as the product sweeps, engagement and all, on its own stations; once cutting alone, station by station as NumPy does.

2000 short moves of a flat mill in a blank, at random directions and depths. Mesh booleans take the hull of the tool at both ends of a move
from the stock; they do the first 200 moves, and their cylinder of 256 sides has the circle's area, so that they are the volume the other
two are held against.
"""

from __future__ import annotations

import math
import time
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Assembly, Part, Segment
from firstoff.path.pieces import Stations
from firstoff.removal.field import NOTHING, Field, Grid
from firstoff.removal.grid import step_mm
from firstoff.removal.sweep import sweep

MOVES, BY_SOLIDS = 2000, 200
RADIUS, CELL = 3.0, 0.1
LONG, WIDE, HIGH = 60.0, 40.0, 10.0
SIDES = 256
SHIFT = 0.3819660112501051
"""Part of a cell by which the grid lies off the blank, so that no face falls on a row of cells."""

Points = NDArray[np.float64]


def tips(count: int) -> Points:
    """f8[count + 1, 3]: a walk inside the blank whose depth changes slowly."""
    dice = np.random.default_rng(20261126)
    places = np.empty((count + 1, 3))
    places[0] = LONG / 2, WIDE / 2, -1.0
    way = 0.0
    for k in range(count):
        way += dice.normal(0.0, 0.5)
        step = dice.uniform(0.3, 1.5) * np.array([math.cos(way), math.sin(way)])
        to = places[k, :2] + step
        outside = (to < 4.0) | (to > np.array([LONG, WIDE]) - 4.0)
        to = np.where(outside, places[k, :2] - step, to)
        places[k + 1] = *to, max(-8.0, min(-0.5, places[k, 2] + dice.normal(0.0, 0.05)))
    return places


def blank() -> Field:
    columns, rows = round(LONG / CELL) + 2, round(WIDE / CELL) + 2
    grid = Grid(-SHIFT * CELL, -SHIFT * CELL, CELL, columns, rows, 0.0)
    x, y = grid.x0_mm + (np.arange(columns) + 0.5) * CELL, grid.y0_mm + (np.arange(rows) + 0.5) * CELL
    inside = ((y > 0) & (y < WIDE))[:, None] & ((x > 0) & (x < LONG))
    return Field(grid, np.where(inside, np.float32(0.0), NOTHING), -HIGH, np.zeros((0, 4)))


def mill() -> Assembly:
    edge = (Segment(Part.EDGE, 0.0, 0.0, RADIUS, 0.0), Segment(Part.EDGE, RADIUS, 0.0, RADIUS, 20.0))
    return Assembly("em6", "flat", edge, 2 * RADIUS, 0.0, 20.0, 2, 0.0, None, None, 2 * RADIUS, 0.0)


def stations(places: Points, step: float = CELL) -> Stations:
    """Stations at most a step apart along straight moves."""
    parts = []
    for move, (begin, end) in enumerate(pairwise(places)):
        long = float(np.linalg.norm(end - begin))
        count = max(math.ceil(long / step - 1e-9), 1)
        part = (np.arange(1, count + 1) / count)[:, None]
        way = np.tile((end - begin) / long, (count, 1))
        parts.append((np.full(count, move), begin + (end - begin) * part, way, np.full(count, long / count)))
    move, at, way, step = (np.concatenate(one) for one in zip(*parts, strict=True))
    rows, nobody = move.astype(np.int32), np.zeros(len(move), np.bool_)
    tools = np.ones(len(move), np.int32)
    return Stations(rows, rows, at, way.astype(np.float32), step.astype(np.float32), tools, nobody, nobody)


def by_windows(field: Field, chunk: Stations) -> Points:
    """f8[moves]: volume each move takes; a window of cells round each station, cut with NumPy."""
    grid, top = field.grid, field.top.copy()
    x, y = grid.x0_mm + (np.arange(grid.columns) + 0.5) * CELL, grid.y0_mm + (np.arange(grid.rows) + 0.5) * CELL
    taken = np.zeros(int(chunk.move.max()) + 1)
    for move, (u, v, z) in zip(chunk.move.tolist(), chunk.tip_mm.tolist(), strict=True):
        a, b = int((u - RADIUS - grid.x0_mm) / CELL), int((u + RADIUS - grid.x0_mm) / CELL) + 1
        c, d = int((v - RADIUS - grid.y0_mm) / CELL), int((v + RADIUS - grid.y0_mm) / CELL) + 1
        window = top[c:d, a:b]
        cut = ((x[a:b] - u) ** 2 + (y[c:d, None] - v) ** 2 <= RADIUS**2) & (window > z)
        taken[move] += float((window[cut].astype(np.float64) - z).sum()) * CELL**2
        window[cut] = z
    return taken


def by_solids(places: Points) -> Points:
    """f8[moves]: volume each move takes by mesh booleans (manifold3d)."""
    import manifold3d as m3

    wider = RADIUS / math.sqrt(math.sin(2 * math.pi / SIDES) / (2 * math.pi / SIDES))
    body: Any = m3.Manifold.cylinder(20.0, wider, wider, SIDES)
    stock: Any = m3.Manifold.cube([LONG, WIDE, HIGH]).translate([0.0, 0.0, -HIGH])
    left, taken = float(stock.volume()), []
    for begin, end in pairwise(places):
        stock = stock - m3.Manifold.batch_hull([body.translate(begin.tolist()), body.translate(end.tolist())])
        now = float(stock.volume())
        taken.append(left - now)
        left = now
    return np.array(taken)


def timed(work: Any) -> tuple[float, Any]:
    began = time.perf_counter()
    found = work()
    return time.perf_counter() - began, found


def best(work: Any) -> tuple[float, Any]:
    """Shortest of five runs; the first compiles."""
    work()
    return min((timed(work) for _ in range(5)), key=lambda one: one[0])


def rows() -> list[tuple[str, str]]:
    """Rows of the bench."""
    places, field, tool = tips(MOVES), blank(), mill()
    chunk, spaced = stations(places), stations(places, float(step_mm(CELL, 2 * RADIUS)))
    ours_s, swept = best(lambda: sweep(field, [spaced], {1: tool}, MOVES))
    alone_s, _ = best(lambda: sweep(field, [chunk], {1: tool}, MOVES, sampled=False))
    windows_s, by_window = timed(lambda: by_windows(field, chunk))
    solids_s, exact = timed(lambda: by_solids(places[: BY_SOLIDS + 1]))
    ours = np.asarray(swept.moves.volume_mm3, dtype=np.float64)
    whole = float(exact.sum())

    def off(found: Points) -> str:
        error = found[:BY_SOLIDS] - exact
        return (
            f"{100 * (float(found[:BY_SOLIDS].sum()) / whole - 1):+.2f} %, {float(np.sqrt(np.mean(error**2))):.3f} mm³"
        )

    ours_a_move, solids_a_move = ours_s / MOVES, solids_s / BY_SOLIDS
    return [
        (f"removal and engagement of {MOVES:,} moves of a flat mill of 6 mm, cells 0.1 mm", f"{1000 * ours_s:.1f} ms"),
        (f"... mesh booleans / ours, a move (the first {BY_SOLIDS})", f"{solids_a_move / ours_a_move:.0f} x"),
        ("... windowed NumPy, which only cuts, in every cell / ours", f"{windows_s / ours_s:.0f} x"),
        ("... windowed NumPy / ours where it only cuts as well, at the same stations", f"{windows_s / alone_s:.0f} x"),
        ("... volume of ours against mesh booleans: all, rms a move", off(ours)),
        ("... volume of windowed NumPy against mesh booleans: all, rms a move", off(by_window)),
        (f"... for comparison, mean volume a move {whole / BY_SOLIDS:.2f} mm³", ""),
    ]


if __name__ == "__main__":
    for what, figure in rows():
        print(f"{what:<80} {figure}")
