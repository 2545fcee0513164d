"""Removal against exact shapes: polygons by a general geometry library, solids by a general mesh library, and closed forms."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from shapely import LineString, Polygon, box, contains_xy

from firstoff.facts.assembly import Assembly
from firstoff.path.pieces import Stations
from firstoff.removal.field import Field
from firstoff.removal.profile import cutter
from firstoff.removal.sweep import sweep
from firstoff.removal.swept import Engagement, Swept
from tests.removal import cutting as by

Truth = Callable[..., None]
POLYGONS = "the same way on exact polygons by shapely (Gillies et al., GEOS)"
SOLIDS = "union of the convex hulls of the tool at both ends of each step, taken from the blank by manifold3d (Lalish), 96 sides of equal area"
FORM = "closed form, elementary geometry"
DIAMETER, RADIUS, DEPTH = 6.0, 3.0, 2.0
CELL = DIAMETER / 60
POSES = 5
QUADRANT = 64
ROUND_RADIUS = RADIUS / math.sqrt(math.sin(math.pi / (2 * QUADRANT)) / (math.pi / (2 * QUADRANT)))
"""A buffer is a polygon inside the circle: this radius gives it the circle's area."""


class Pose:
    """A frame at random on the grid."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng(seed)
        turn = rng.uniform(0, 2 * math.pi)
        self.ahead = np.array([math.cos(turn), math.sin(turn)])
        self.aside = np.array([-self.ahead[1], self.ahead[0]])
        self.origin = rng.uniform(-0.5, 0.5, 2)

    def at(self, x: float, y: float, z: float = -DEPTH) -> by.Place:
        u, v = self.origin + x * self.ahead + y * self.aside
        return float(u), float(v), z


def follow(field: Field, tool: Assembly, *parts: Stations) -> tuple[Swept, list[Engagement]]:
    told: list[Engagement] = []
    moves = 1 + max(int(one.move.max()) for one in parts)
    return sweep(field, parts, {1: tool}, moves, engagement=told.append), told


def rows_of(told: list[Engagement], move: int) -> dict[str, np.ndarray]:
    """What the stations of one move were told."""
    names = ("side_mm", "volume_mm3", "radial_mm", "axial_mm")
    kept = [one.stations.move == move for one in told]
    rows = {
        name: np.concatenate([getattr(one, name)[mask] for one, mask in zip(told, kept, strict=True)]) for name in names
    }
    for name in ("tip_mm", "step_mm"):
        rows[name] = np.concatenate([getattr(one.stations, name)[mask] for one, mask in zip(told, kept, strict=True)])
    rows["swept_mm3"] = np.concatenate(
        [by.swept_mm3(one, by.flat(DIAMETER))[mask] for one, mask in zip(told, kept, strict=True)]
    )
    return rows


# --- a straight pass beside a straight edge, at random pose -----------------------------------------------------------------------------


@cache
def side_pass(share: float) -> dict[str, np.ndarray]:
    """Rows of passes of a width (share of the diameter) beside an edge that the tool cut before, over poses; 12 mm in the middle."""
    width = share * DIAMETER
    found: list[dict[str, np.ndarray]] = []
    for seed in range(POSES):
        pose, field = Pose(seed), by.block((-10, -10, -4), (10, 10, 0), CELL)
        way = [pose.at(-22, -RADIUS)]
        for k in range(7):  # clears all that lies right of its left edge
            far = 22 if k % 2 == 0 else -22
            way += [pose.at(far, -RADIUS - 2.5 * k), pose.at(far, -RADIUS - 2.5 * (k + 1))]
        away = [pose.at(40, -40), pose.at(-22, -40), pose.at(-22, -RADIUS + width)]
        way += [*away, pose.at(22, -RADIUS + width)]
        _, told = follow(field, by.flat(DIAMETER), by.along(*way, step=CELL))
        rows = rows_of(told, len(way) - 2)
        inner = np.abs((rows["tip_mm"][:, :2] - pose.origin) @ pose.ahead) < 6.0
        found.append({name: array[inner] for name, array in rows.items()})
    return {name: np.concatenate([one[name] for one in found]) for name in found[0]}


SHARES = (0.1, 0.25, 0.5, 0.75, 0.9)


@pytest.mark.parametrize("share", SHARES)
def test_engagement_beside_an_edge(truth: Truth, share: float) -> None:
    rows, width = side_pass(share), share * DIAMETER
    name, pass_ = f"{round(100 * share)}", f"a pass of {share:g} D, {DIAMETER:g} mm flat, D/60, {POSES} random poses"
    engaged = (rows["side_mm"] / DEPTH).sum(axis=1) * 2.0
    exact = math.degrees(math.acos(1.0 - 2.0 * share))
    rms = math.sqrt(((engaged - exact) ** 2).mean())
    truth(
        f"removal-angle-{name}",
        f"rms off the engaged angle, {pass_}",
        f"{FORM}: arccos(1 - 2·ae/D)",
        0.0,
        rms,
        1.0,
        "°",
    )
    truth(
        f"removal-angle-mean-{name}",
        f"mean engaged angle, {pass_}",
        f"{FORM}: arccos(1 - 2·ae/D)",
        exact,
        engaged.mean(),
        0.25,
        "°",
    )
    truth(f"removal-width-{name}", f"mean width of cut, {pass_}", FORM, width, rows["radial_mm"].mean(), CELL / 4, "mm")
    rms = math.sqrt(((rows["radial_mm"] - width) ** 2).mean())
    truth(f"removal-width-rms-{name}", f"rms off the width of cut, {pass_}", FORM, 0.0, rms, CELL / 2, "mm")
    window = round(5.0 / CELL)
    swept = rows["swept_mm3"][: len(rows["swept_mm3"]) // window * window].reshape(-1, window).sum(axis=1)
    way = rows["step_mm"][: len(rows["step_mm"]) // window * window].reshape(-1, window).sum(axis=1)
    worst = float(np.abs(swept / (way * width * DEPTH) - 1.0).max())
    truth(f"removal-area-{name}", f"worst chip area over 5 mm, {pass_}", FORM, 0.0, worst, 0.03)


TANGENT = 60.0
"""Where an edge of the stock lies nearly along the flank the angle at which it is met hangs on nothing; chips are thin there."""


def test_engagement_along_a_bend(truth: Truth) -> None:
    """A tool that winds into a block: each station's front arc against what polygons say still stands there."""
    off, widths = [], []
    for seed in range(3):
        pose, field = Pose(20 + seed), by.block((-12, -12, -4), (12, 12, 0), CELL)
        x = np.arange(-18, 14, CELL)
        tips = np.array([pose.at(one, 1.5 * math.sin(one / 3.0) - 4.0) for one in x])
        back = np.array([pose.at(one, 1.0 * math.sin(one / 2.5) + 0.2) for one in x])
        first, second = by.through(tips), by.through(back, first_move=1)
        _, told = follow(field, by.flat(DIAMETER), first, second)
        stood: Any = Polygon(box(-12, -12, 12, 12)).difference(
            LineString(tips[:, :2]).buffer(ROUND_RADIUS, quad_segs=QUADRANT)
        )
        rows = rows_of(told, 1)
        ways = np.concatenate([one.stations.way[one.stations.move == 1] for one in told])
        for k in range(5, len(rows["tip_mm"]) - 5, 4):
            tip, way = rows["tip_mm"][k, :2], ways[k, :2]
            if np.abs(tip).max() > 12.0 - RADIUS - 3 * CELL:
                continue  # at the blank's faces: what is told there is met up to a cell later
            cut = stood.difference(
                LineString(back[: np.argmin(np.linalg.norm(back[:, :2] - tip, axis=1)), :2]).buffer(
                    ROUND_RADIUS, quad_segs=QUADRANT
                )
            )
            angle = np.radians(np.arange(-90, 90, 0.1) + 0.05)
            front = RADIUS * (1.0 + 1e-4) * np.column_stack([np.cos(angle), np.sin(angle)])
            places = tip + front[:, :1] * way + front[:, 1:] * np.array([-way[1], way[0]])
            inside = contains_xy(cut, places[:, 0], places[:, 1])
            edges = np.degrees(angle[np.flatnonzero(np.diff(inside))])
            if not inside.any() or (np.abs(edges) > TANGENT).any():
                continue
            off.append((rows["side_mm"][k] / DEPTH).sum() * 2.0 - inside.sum() * 0.1)
            widths.append(rows["radial_mm"][k] - RADIUS * np.ptp(np.sin(angle[inside])))
    assert len(off) > 60
    what = "a winding pass beside a winding pass, 6 mm flat, D/60, 3 random poses"
    truth(
        "removal-bend-angle",
        f"rms off the engaged angle, {what}",
        POLYGONS,
        0.0,
        math.sqrt(np.mean(np.square(off))),
        1.0,
        "°",
    )
    truth(
        "removal-bend-angle-mean", f"mean off the engaged angle, {what}", POLYGONS, 0.0, float(np.mean(off)), 0.3, "°"
    )
    truth(
        "removal-bend-width",
        f"rms off the width of cut, {what}",
        POLYGONS,
        0.0,
        math.sqrt(np.mean(np.square(widths))),
        CELL / 2,
        "mm",
    )


# --- volumes -------------------------------------------------------------------------------------------------------------------------------


def slot_volume(seed: int, cell: float) -> tuple[float, float, float]:
    """(taken, exact, wall area) of a slot with round ends at random pose."""
    pose = Pose(seed)
    field = by.block((-8, -8, -4), (8, 8, 0), cell)
    ends = [pose.at(-3.5, 0.0, 1.0), pose.at(-3.5, 0.0), pose.at(3.5, 0.0)]
    swept, _ = follow(field, by.flat(DIAMETER), by.along(*ends, step=cell))
    exact = (7.0 * DIAMETER + math.pi * RADIUS**2) * DEPTH
    return float(swept.moves.volume_mm3.sum()), exact, (14.0 + 2 * math.pi * RADIUS) * DEPTH


def test_slots_at_random_pose(truth: Truth) -> None:
    found = np.array([slot_volume(seed, CELL) for seed in range(12)])
    off = np.abs(found[:, 0] - found[:, 1])
    what = "a slot with round ends, 6 mm flat, D/60, 12 random poses"
    truth("removal-slot", f"worst volume, {what}", FORM, 0.0, float((off / found[:, 1]).max()), 0.005)
    truth(
        "removal-slot-wall",
        f"worst volume over cell times wall area, {what}",
        FORM,
        0.0,
        float((off / (CELL * found[:, 2])).max()),
        0.5,
    )


def test_volume_gets_better_with_finer_cells(truth: Truth) -> None:
    cells = np.array([0.4, 0.2, 0.1])
    rms = [
        math.sqrt(
            np.mean([(one[0] / one[1] - 1.0) ** 2 for one in (slot_volume(100 + seed, cell) for seed in range(30))])
        )
        for cell in cells
    ]
    slope = float(np.polyfit(np.log(cells), np.log(rms), 1)[0])
    source = "cells counted by their centres at random pose: error of an area falls at least with the cell (Kendall 1948; from memory)"
    truth(
        "removal-order",
        "slope of ln(rms error of volume) over ln(cell), 30 random poses each of D/15, D/30, D/60",
        source,
        1.5,
        slope,
        0.8,
    )


@pytest.mark.parametrize(("low", "high", "check"), [((-6, -5), (7, 6), "pocket"), ((-9, -8.4), (3, 2), "open-pocket")])
def test_pockets(truth: Truth, low: tuple[float, float], high: tuple[float, float], check: str) -> None:
    """Rings from outside in, at random pose, partly off the blank's edge."""
    pose, field = Pose(7), by.block((-8, -8, -4), (8, 8, 0), CELL)
    way: list[by.Place] = []
    for inset in np.arange(0.0, 6.0, 2.0):
        (a, b), (c, d) = (np.array(low) + RADIUS + inset, np.array(high) - RADIUS - inset)
        if a > c or b > d:
            break
        way += [pose.at(a, b), pose.at(c, b), pose.at(c, d), pose.at(a, d), pose.at(a, b)]
    way = [one for k, one in enumerate(way) if k == 0 or one != way[k - 1]]
    swept, _ = follow(field, by.flat(DIAMETER), by.along(*way, step=CELL))
    area: Any = (
        LineString([one[:2] for one in way]).buffer(ROUND_RADIUS, quad_segs=QUADRANT).intersection(box(-8, -8, 8, 8))
    )
    wall = area.length * DEPTH
    got = float(swept.moves.volume_mm3.sum())
    truth(
        f"removal-{check}",
        "volume of a pocket cut in rings, 6 mm flat, D/60",
        POLYGONS,
        area.area * DEPTH,
        got,
        0.5 * CELL * wall,
        "mm³",
    )


# --- solids --------------------------------------------------------------------------------------------------------------------------------

SIDES = 96


def solid(tool: Assembly) -> Any:
    """The tool as a mesh: its edge turned about the axis, 20 mm high."""
    m3 = pytest.importorskip("manifold3d")
    one = cutter(tool)
    wider = 1.0 / math.sqrt(math.sin(2 * math.pi / SIDES) / (2 * math.pi / SIDES))
    points = [(0.0, 0.0), *zip(one.r_mm * wider, one.z_mm, strict=True), (one.radius_mm * wider, 20.0), (0.0, 20.0)]
    kept = [p for k, p in enumerate(points) if k == 0 or math.dist(p, points[k - 1]) > 1e-9]
    return m3.Manifold.revolve(m3.CrossSection([kept]), SIDES)


def taken_by_solids(tool: Assembly, tips: np.ndarray, low: by.Place, high: by.Place) -> float:
    """Volume that a tool takes from a block on straight steps between places."""
    m3 = pytest.importorskip("manifold3d")
    body = solid(tool)
    block = m3.Manifold.cube([high[k] - low[k] for k in range(3)]).translate(low)
    steps = [m3.Manifold.batch_hull([body.translate(list(a)), body.translate(list(b))]) for a, b in pairwise(tips)]
    cut = m3.Manifold.batch_boolean([*steps], m3.OpType.Add)
    return float((block ^ cut).volume())


def dense(tips: np.ndarray, step: float) -> np.ndarray:
    parts = [tips[:1]]
    for a, b in pairwise(tips):
        count = max(math.ceil(float(np.linalg.norm(b - a)) / step), 1)
        parts.append(a + (b - a) * (np.arange(1, count + 1) / count)[:, None])
    return np.concatenate(parts)


def circle(radius: float, z: Callable[[np.ndarray], np.ndarray], turns: float, per_turn: int) -> np.ndarray:
    angle = np.linspace(0, 2 * math.pi * turns, int(per_turn * turns) + 1)
    return np.column_stack([0.3 + radius * np.cos(angle), -0.2 + radius * np.sin(angle), z(angle)])


UP = np.array([0.0, 0.0, 1.0])
LINE = np.array([[-14.0, -4.1, -0.6], [14.0, 3.2, -0.6]])
JOBS: dict[str, tuple[Assembly, np.ndarray, float, str]] = {
    "ball-level": (by.ball(), LINE, 0.005, "a ball of 6 mm, 0.6 mm deep, at an angle"),
    "ball-up": (by.ball(), LINE + np.outer([-3.4, 2.6], UP), 0.005, "a ball of 6 mm up a slope of 14°"),
    "ball-down": (by.ball(), LINE + np.outer([2.6, -3.4], UP), 0.005, "a ball of 6 mm down a slope of 14°"),
    "bull-ramp": (
        by.bull(),
        LINE + np.outer([0.5, -2.0], UP),
        0.005,
        "a mill of 6 mm with 1 mm corners down a ramp of 6°",
    ),
    "chamfer": (
        by.cone(45),
        np.array([[-12.0, -7.0, -1.4], [12.0, -9.0, -1.4]]),
        0.01,
        "a chamfer of 90° along an edge, at an angle",
    ),
    "taper": (
        by.cone(5, 2.0),
        LINE + np.outer([-2.0, -2.0], UP),
        0.01,
        "a taper of 5° with a tip of 2 mm, 2.6 mm deep",
    ),
    "arc": (
        by.flat(),
        np.vstack([[4.3, -0.2, 1.0], circle(4.0, lambda a: np.full(a.shape, -1.5), 0.8, 80)]),
        0.005,
        "a flat mill of 6 mm straight down, then on an arc of 4 mm",
    ),
    "helix": (
        by.flat(),
        circle(2.5, lambda a: 0.3 - 0.4 * a / math.pi, 2.0, 48),
        0.005,
        "a flat mill of 6 mm down a helix of 2.5 mm",
    ),
    "ball-helix": (
        by.ball(),
        circle(2.5, lambda a: 0.3 - 0.4 * a / math.pi, 1.2, 40),
        0.005,
        "a ball of 6 mm down a helix of 2.5 mm",
    ),
    "plunge": (
        by.bull(),
        np.array([[0.23, 0.11, 1.0], [0.23, 0.11, -3.0]]),
        0.005,
        "a mill of 6 mm with 1 mm corners straight down",
    ),
    "drill": (
        by.cone(59, 0.0, 5.0, "drill"),
        np.array([[0.23, 0.11, 1.0], [0.23, 0.11, -3.5]]),
        0.005,
        "a drill of 5 mm, 118°, straight down",
    ),
}


@pytest.mark.parametrize("job", JOBS)
def test_volume_and_swept_area_against_solids(truth: Truth, job: str) -> None:
    tool, tips, part, what = JOBS[job]
    low, high, cell = (-10.0, -9.0, -5.0), (10.0, 9.0, 0.0), 0.1
    exact = taken_by_solids(tool, tips, low, high)
    swept, told = follow(by.block(low, high, cell, shift=0.0), tool, by.through(dense(tips, cell)))
    got = float(swept.moves.volume_mm3.sum())
    truth(f"removal-solid-{job}", f"volume taken by {what}, cells of 0.1 mm", SOLIDS, exact, got, part * exact, "mm³")
    area = sum(float(by.swept_mm3(one, tool).sum()) for one in told)
    truth(
        f"removal-swept-{job}",
        f"area swept times step of {what}, cells of 0.1 mm",
        SOLIDS,
        exact,
        area,
        0.03 * exact,
        "mm³",
    )


@pytest.mark.parametrize("depth", [0.2, 1.0, 3.0, 4.5])
def test_ball_in_a_slot(truth: Truth, depth: float) -> None:
    pose = Pose(3)
    tool, field = by.ball(), by.block((-10, -10, -6), (10, 10, 0), 0.1)
    _, told = follow(field, tool, by.along(pose.at(-16, 0, -depth), pose.at(16, 0, -depth)))
    inner = [np.abs((one.stations.tip_mm[:, :2] - pose.origin) @ pose.ahead) < 5 for one in told]
    area = np.concatenate(
        [(by.swept_mm3(one, tool) / one.stations.step_mm)[mask] for one, mask in zip(told, inner, strict=True)]
    )
    chord = max(RADIUS - depth, 0.0)
    exact = (
        RADIUS**2 * math.acos(chord / RADIUS)
        - chord * math.sqrt(RADIUS**2 - chord**2)
        + 2 * RADIUS * max(depth - RADIUS, 0.0)
    )
    truth(
        f"removal-ball-slot-{depth:g}",
        f"mean chip area of a ball of 6 mm, {depth:g} mm deep, at random pose",
        f"{FORM}: segment of a circle",
        exact,
        area.mean(),
        0.03 * exact,
        "mm²",
    )
