"""The clamp ring as its drawing has it, as a closed STL: what the program is held against."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay

Floats = NDArray[np.float64]

OUTER_MM, HIGH_MM, CHAMFER_MM = 40.0, 8.0, 0.4
BOLTS_MM, BOLT_CIRCLE_MM, BOLTS = 4.2, 29.0, 3
SIDES = 120
"""Straight sides of the large circles: 0.007 mm beside the true one at most."""
BOLT_SIDES = 36
TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("colour", "<u2")])


def ring_stl(bore_mm: float = 18.0) -> bytes:
    """A binary STL in the work frame of the job: zero in the middle, at the bottom."""
    bores = [_circle(bore_mm / 2, SIDES), *(_circle(BOLTS_MM / 2, BOLT_SIDES, *at) for at in _bolts())]
    foot, brow = _circle(OUTER_MM / 2, SIDES), _circle(OUTER_MM / 2 - CHAMFER_MM, SIDES)
    faces = [
        _level([foot, *bores], 0.0, up=False),
        _level([brow, *bores], HIGH_MM, up=True),
        _band(foot, 0.0, foot, HIGH_MM - CHAMFER_MM),
        _band(foot, HIGH_MM - CHAMFER_MM, brow, HIGH_MM),
        *(_band(hole[::-1], 0.0, hole[::-1], HIGH_MM) for hole in bores),
    ]
    triangles = np.concatenate(faces)
    rows = np.zeros(len(triangles), TRIANGLE)
    rows["corners"] = triangles
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    rows["normal"] = across / np.linalg.norm(across, axis=1, keepdims=True)
    return b"Ring of the cable clamp, mm".ljust(80) + len(rows).to_bytes(4, "little") + rows.tobytes()


def _bolts() -> list[tuple[float, float]]:
    turns = [2 * math.pi * number / BOLTS for number in range(BOLTS)]
    return [(BOLT_CIRCLE_MM / 2 * math.cos(turn), BOLT_CIRCLE_MM / 2 * math.sin(turn)) for turn in turns]


def _circle(radius: float, sides: int, x: float = 0.0, y: float = 0.0) -> Floats:
    """f8[sides, 2], counter-clockwise."""
    turn = 2 * math.pi * np.arange(sides) / sides
    points: Floats = np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn)])
    return points


def _level(rims: list[Floats], z: float, *, up: bool) -> Floats:
    """f8[K, 3, 3] a level face inside the first rim and outside the others. The sides of every rim are far shorter than the way to the
    next rim, so that all of them are sides of Delaunay's triangles."""
    points = np.concatenate(rims)
    rim = np.repeat(np.arange(len(rims)), [len(one) for one in rims])
    corners = Delaunay(points).simplices
    # A triangle with all its corners on one inner rim lies in the hole.
    inside = ~((rim[corners] == rim[corners][:, :1]).all(axis=1) & (rim[corners][:, 0] > 0))
    plan = points[corners[inside]]
    first, second = plan[:, 1] - plan[:, 0], plan[:, 2] - plan[:, 0]
    turned = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0] < 0
    plan[turned == up] = plan[turned == up][:, ::-1]
    face: Floats = np.concatenate([plan, np.full((*plan.shape[:2], 1), z)], axis=2)
    return face


def _band(low: Floats, low_z: float, high: Floats, high_z: float) -> Floats:
    """f8[K, 3, 3] the wall between two rims with equal corners; counter-clockwise rims face outward."""
    a = np.column_stack([low, np.full(len(low), low_z)])
    d = np.column_stack([high, np.full(len(high), high_z)])
    b, c = np.roll(a, -1, axis=0), np.roll(d, -1, axis=0)
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
