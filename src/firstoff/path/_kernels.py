"""The fast layer of the path: directions, lengths and corners of moves, and what the axes allow along them.

A *path* is what is left of a program when moves that go nowhere are taken out. A *joint* lies between two moves: joint i before move i. At a
*hard* joint the path bends too much for acceleration to be carried through it. Arrays marked "filled" are outputs.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bytes = NDArray[np.uint8]
Bools = NDArray[np.bool_]

# Columns of `bend`, the arc of a move (all 0 for a line); a table of `motion._kernels` too (a test holds them together).
RADIUS, COSINE, AXIAL_ACCEL, AXIAL_JERK, FASTEST = range(5)

STRAIGHT = 5e-7
"""Half the turn (its sine) below which two lines are one: over 100 mm that is 0.1 µm, below what any machine resolves."""
SOFT = math.sin(math.radians(7.5))
"""Half the turn (its sine) up to which acceleration is carried through a joint of two lines: at a turn of 15 degrees an axis then feels
a step of at most a quarter of the acceleration, spread over the rounded corner. Chords of a curve turn less than this."""
SAME_CIRCLE = 1e-3
"""Relative difference of radius, and half the turn, up to which two arcs are one: rounded coordinates differ by that much."""


@njit(cache=True, nogil=True)
def _most_sine(start: float, end: float) -> float:
    """Greatest |sin| between two angles."""
    low, high = min(start, end), max(start, end)
    if math.floor((high - 0.5 * math.pi) / math.pi) != math.floor((low - 0.5 * math.pi) / math.pi):
        return 1.0
    return max(abs(math.sin(low)), abs(math.sin(high)))


@njit(cache=True, nogil=True)
def shape_lines(
    step: Floats, arc: Ints, limits: Floats, tangents: Floats, length: Floats, most: Floats, bend: Floats
) -> None:
    """Length, direction and axis limits of lines.

    step f8[M, 3], arc i8[M] (-1 = line), limits f8[3, 3] (rows speed, acceleration, jerk of the axes). Filled: tangents f8[M, 6]
    (directions at start and end), length f8[M], most f8[M, 3] (greatest speed, acceleration, jerk along the move), bend f8[M, 5].
    """
    for i in range(step.shape[0]):
        if arc[i] >= 0:
            continue
        way = math.sqrt(step[i, 0] ** 2 + step[i, 1] ** 2 + step[i, 2] ** 2)
        length[i] = way
        most[i, :] = math.inf
        bend[i, :] = 0.0
        for axis in range(3):
            part = step[i, axis] / way
            tangents[i, axis], tangents[i, axis + 3] = part, part
            if part != 0.0:
                for row in range(3):
                    most[i, row] = min(most[i, row], limits[row, axis] / abs(part))


@njit(cache=True, nogil=True)
def shape_arcs(
    end: Floats, arc: Ints, arcs: Floats, limits: Floats, tangents: Floats, length: Floats, most: Floats, bend: Floats
) -> None:
    """The same for arcs. end f8[M, 3] in the frame of the arc's centre; arcs f8[A, 8]: centre (2), first, second and normal axis,
    radius, sweep, rise. Acceleration and jerk of an arc are those of the weaker axis of its plane, for it turns through both."""
    for i in range(end.shape[0]):
        row = arc[i]
        if row < 0:
            continue
        first, second, normal = int(arcs[row, 2]), int(arcs[row, 3]), int(arcs[row, 4])
        radius, sweep, rise = arcs[row, 5], arcs[row, 6], arcs[row, 7]
        around = radius * abs(sweep)
        way = math.hypot(around, rise)
        length[i] = way
        cosine = around / way
        angle1 = math.atan2(end[i, second] - arcs[row, 1], end[i, first] - arcs[row, 0])
        angle0 = angle1 - sweep
        sense = 1.0 if sweep >= 0.0 else -1.0
        for at, angle in ((0, angle0), (3, angle1)):
            tangents[i, at + first] = -sense * math.sin(angle) * cosine
            tangents[i, at + second] = sense * math.cos(angle) * cosine
            tangents[i, at + normal] = rise / way
        speed = limits[0, first] / (_most_sine(angle0, angle1) * cosine)
        speed = min(speed, limits[0, second] / (_most_sine(angle0 + 0.5 * math.pi, angle1 + 0.5 * math.pi) * cosine))
        sine = abs(rise) / way
        bend[i, AXIAL_ACCEL], bend[i, AXIAL_JERK] = math.inf, math.inf
        if sine > 0.0:
            speed = min(speed, limits[0, normal] / sine)
            bend[i, AXIAL_ACCEL] = limits[1, normal] / sine
            bend[i, AXIAL_JERK] = limits[2, normal] / sine
        most[i, 0] = speed
        most[i, 1] = min(limits[1, first], limits[1, second])
        most[i, 2] = min(limits[2, first], limits[2, second])
        bend[i, RADIUS], bend[i, COSINE] = radius, cosine
        bend[i, FASTEST] = min(math.sqrt(most[i, 1] * radius), (most[i, 2] * radius * radius) ** (1.0 / 3.0)) / cosine


@njit(cache=True, nogil=True)
def shape_joints(
    tangents: Floats, length: Floats, bend: Floats, sense: Ints, stop: Bools, accel: Floats, joints: Floats, hard: Bytes
) -> None:
    """Corners between moves.

    sense i8[M]: 0 for a line, else plane number with the sign of the sweep. stop bool[M]: at rest before the move. Filled: joints
    f8[M, 4] (sine and cosine of half the turn, acceleration across the corner, shorter straight run beside it), hard u1[M + 1].
    """
    count = length.shape[0]
    run = 0.0
    for i in range(
        count
    ):  # joints[:, 3] holds the straight run that ends at the joint until the way back adds the other side
        half_sine, half_cosine, across = 0.0, 1.0, math.inf
        lines, arcs = False, False
        if i > 0 and not stop[i]:
            half_sine, half_cosine, across = _corner(tangents, i, accel)
            lines = sense[i - 1] == 0 and sense[i] == 0
            if sense[i] != 0 and sense[i - 1] == sense[i]:
                differs = abs(bend[i, RADIUS] - bend[i - 1, RADIUS])
                arcs = differs <= SAME_CIRCLE * bend[i, RADIUS] and half_sine <= SAME_CIRCLE
        joints[i, 0], joints[i, 1], joints[i, 2], joints[i, 3] = half_sine, half_cosine, across, run
        hard[i] = 0 if arcs or (lines and half_sine <= SOFT) else 1
        run = run + length[i] if lines and half_sine <= STRAIGHT else length[i]
    hard[count] = 1
    run = 0.0
    for i in range(count - 1, -1, -1):
        straight = i + 1 < count and not stop[i + 1] and sense[i] == 0 and sense[i + 1] == 0
        run = run + length[i] if straight and joints[i + 1, 0] <= STRAIGHT else length[i]
        joints[i, 3] = min(joints[i, 3], run)


@njit(cache=True, nogil=True)
def _corner(tangents: Floats, i: int, accel: Floats) -> tuple[float, float, float]:
    """Sine and cosine of half the turn before move i, and the acceleration that the axes give all through the turn.

    While the direction turns, the acceleration points along the normal; axis k takes |n_k| of it, most where the direction's own
    component k is nil, else at one end of the turn.
    """
    less, more = 0.0, 0.0
    for axis in range(3):
        less += (tangents[i, axis] - tangents[i - 1, axis + 3]) ** 2
        more += (tangents[i, axis] + tangents[i - 1, axis + 3]) ** 2
    half_sine, half_cosine = 0.5 * math.sqrt(less), 0.5 * math.sqrt(more)
    sine = 2.0 * half_sine * half_cosine
    if sine <= 0.0:
        return half_sine, half_cosine, math.inf
    cosine = half_cosine * half_cosine - half_sine * half_sine
    across = math.inf
    for axis in range(3):
        d0, d1 = tangents[i - 1, axis + 3], tangents[i, axis]
        n0, n1 = (d1 - cosine * d0) / sine, (cosine * d1 - d0) / sine
        part = math.sqrt(d0 * d0 + n0 * n0) if d0 * d1 < 0.0 else max(abs(n0), abs(n1))
        if part > 0.0:
            across = min(across, accel[axis] / part)
    return half_sine, half_cosine, across


KERNELS: tuple[Any, ...] = (shape_lines, shape_arcs, shape_joints)
"""What other rooms call; a test counts that each is compiled for one kind of arrays only."""
