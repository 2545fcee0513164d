"""Triangles of solids made up for the tests: blocks, steps, wedges, in any place and facing."""

from __future__ import annotations

import struct

import numpy as np

from firstoff.program.moves import Floats

FACES = (
    (0, 2, 1),
    (0, 3, 2),
    (4, 5, 6),
    (4, 6, 7),
    (0, 1, 5),
    (0, 5, 4),
    (1, 2, 6),
    (1, 6, 5),
    (2, 3, 7),
    (2, 7, 6),
    (3, 0, 4),
    (3, 4, 7),
)


def block(low: tuple[float, float, float], high: tuple[float, float, float]) -> Floats:
    """f8[12, 3, 3] a box, facing outward."""
    (a, b, c), (d, e, f) = low, high
    corners = np.array([[a, b, c], [d, b, c], [d, e, c], [a, e, c], [a, b, f], [d, b, f], [d, e, f], [a, e, f]], float)
    return corners[np.array(FACES)]


def inside_out(triangles: Floats) -> Floats:
    return np.ascontiguousarray(triangles[:, ::-1])


def turned(triangles: Floats, angles: tuple[float, float, float]) -> Floats:
    """Turned about X, then Y, then Z."""
    matrix = np.eye(3)
    for axis, angle in enumerate(angles):
        i, j = (axis + 1) % 3, (axis + 2) % 3
        one = np.eye(3)
        one[i, i] = one[j, j] = np.cos(angle)
        one[i, j], one[j, i] = -np.sin(angle), np.sin(angle)
        matrix = one @ matrix
    return triangles @ matrix.T


def binary(triangles: Floats, head: bytes = b"made up") -> bytes:
    rows = [head.ljust(80)[:80] + struct.pack("<I", len(triangles))]
    rows += [struct.pack("<12fH", 0, 0, 0, *corners.ravel(), 0) for corners in triangles.astype(np.float32)]
    return b"".join(rows)


def text(triangles: Floats, newline: str = "\n") -> bytes:
    lines = ["solid made up"]
    for corners in triangles:
        lines += ["  facet normal 0 0 0", "    outer loop"]
        lines += [f"      vertex {float(x)!r} {float(y)!r} {float(z):.17e}" for x, y, z in corners]
        lines += ["    endloop", "  endfacet"]
    return newline.join([*lines, "endsolid made up", ""]).encode()


def solid_lengths(triangles: Floats, x: float, y: float) -> list[float]:
    """Heights at which the upright line at (x, y) passes through faces, found by solving for each triangle's own coordinates."""
    heights = []
    for a, b, c in triangles:
        matrix = np.column_stack([(b - a)[:2], (c - a)[:2]])
        if abs(np.linalg.det(matrix)) < 1e-12:
            continue
        s, t = np.linalg.solve(matrix, np.array([x, y]) - a[:2])
        if s >= 0 and t >= 0 and s + t <= 1:
            heights.append(float(a[2] + s * (b - a)[2] + t * (c - a)[2]))
    return sorted(heights)
