"""The fast layer of the path: directions, lengths and corners of moves, what the axes allow along them, and stations along pieces.

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
Ints4 = NDArray[np.int32]
Floats4 = NDArray[np.float32]

# Columns of `bend`, the arc of a move (all 0 for a line); a table of `motion._kernels` too (a test holds them together).
RADIUS, COSINE, AXIAL_ACCEL, AXIAL_JERK, FASTEST = range(5)

STRAIGHT = 5e-7
"""Half the turn (its sine) below which two lines are one: over 100 mm that is 0.1 µm, below what any machine resolves."""
SOFT = math.sin(math.radians(7.5))
"""Half the turn (its sine) up to which acceleration is carried through a joint of two lines: at a turn of 15 degrees an axis then feels
a step of at most a quarter of the acceleration, spread over the rounded corner. Chords of a curve turn less than this."""
SAME_CIRCLE = 1e-3
"""Relative difference of radius, and half the turn, up to which two arcs are one: rounded coordinates differ by that much."""

SPARE = 1.05
"""A step may be this much longer than asked: a block that is a hair too long is not cut in two."""
SAGITTA = 0.1
"""How far stations on an arc may leave it as chords, of a step."""
VALLEY = 0.01
"""A vertex this much (of a step) below both its neighbours is never passed over."""
STRAIGHT_ON = 2.0 * math.asin(SOFT)
"""Turn (15 degrees) up to which short pieces may share a station: the vertex passed over then lies within 7 % of a step of the chord."""


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


@njit(cache=True, nogil=True)
def _arc_at(
    start: Floats, end: Floats, i: int, centre: Floats, plane: Bytes, row: int
) -> tuple[int, float, float, float]:
    """(first axis of the plane, radius at the start, radius at the end, angle of the end) of piece i, an arc."""
    first = (17 - int(plane[row])) % 3
    second = (first + 1) % 3
    x0, y0 = start[i, first] - centre[row, 0], start[i, second] - centre[row, 1]
    x1, y1 = end[i, first] - centre[row, 0], end[i, second] - centre[row, 1]
    return first, math.sqrt(x0 * x0 + y0 * y0), math.sqrt(x1 * x1 + y1 * y1), math.atan2(y1, x1)


@njit(cache=True, nogil=True)
def _heading(
    start: Floats, end: Floats, i: int, arc: Ints4, centre: Floats, plane: Bytes, sweep: Floats, rise: Floats, out: Floats
) -> tuple[float, float, float]:  # fmt: skip
    """Length of piece i, its radius (inf for a line) and the greatest |sin| of its ramp. Filled: out f8[6], directions at both ends."""
    row = arc[i]
    if row < 0:
        x, y, z = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1], end[i, 2] - start[i, 2]
        length = math.sqrt(x * x + y * y + z * z)
        if length > 0.0:
            out[0], out[1], out[2] = x / length, y / length, z / length
            out[3], out[4], out[5] = out[0], out[1], out[2]
        return length, math.inf, abs(out[2])
    first, r0, r1, angle1 = _arc_at(start, end, i, centre, plane, row)
    second, normal = (first + 1) % 3, (first + 2) % 3
    radius = 0.5 * (r0 + r1)
    around = radius * sweep[row]
    length = math.sqrt(around * around + rise[row] * rise[row])
    if length > 0.0:
        along, up = around / length, rise[row] / length
        angle0 = angle1 - sweep[row]
        out[first], out[second], out[normal] = -math.sin(angle0) * along, math.cos(angle0) * along, up
        out[first + 3], out[second + 3], out[normal + 3] = -math.sin(angle1) * along, math.cos(angle1) * along, up
    return length, max(r0, r1), abs(out[2]) if normal == 2 else 1.0


@njit(cache=True, nogil=True)
def _spacing(radius: float, climb: float, rapid: bool, step: float, dz: float) -> float:
    """Greatest way between stations of one piece; `climb` is the greatest |sin| of its ramp."""
    if rapid:
        return step
    most = step
    if radius < math.inf:
        most = min(step, max(math.sqrt(8.0 * radius * SAGITTA * step), SAGITTA * step))
    if climb * most * SPARE > dz:
        most = dz / (climb * SPARE)
    return most


@njit(cache=True, nogil=True)
def count_stations(
    start: Floats, end: Floats, arc: Ints4, centre: Floats, plane: Bytes, sweep: Floats, rise: Floats, tool: Ints4,
    rapid: Bools, ghost: Bools, wanted: Bools, dz: Floats, step: Floats, straight: Floats, count: Ints,
    lag: Floats,
) -> int:  # fmt: skip
    """How many stations each piece gets; returns their sum.

    Short pieces that go the same way share one station, at the end of the last of them. Pieces that are not `wanted` bool[P] get none.
    step f8[P]: greatest way between stations; dz f8[P]: greatest change of height; straight f8[P]: cosine of the greatest turn over which pieces
    share one. Filled: count i8[P], lag f8[P] (way since the last station at its start).
    """
    total = 0
    here, after, group = np.zeros(6), np.zeros(6), np.zeros(3)
    pieces = start.shape[0]
    length, most = 0.0, 0.0
    if pieces > 0:
        length, radius, climb = _heading(start, end, 0, arc, centre, plane, sweep, rise, here)
        most = _spacing(radius, climb, rapid[0], step[0], dz[0])
    since, least, low = 0.0, 0.0, 0.0
    for i in range(pieces):
        next_length, next_most = 0.0, 0.0
        if i + 1 < pieces:
            next_length, radius, climb = _heading(start, end, i + 1, arc, centre, plane, sweep, rise, after)
            next_most = _spacing(radius, climb, rapid[i + 1], step[i + 1], dz[i + 1])
        count[i], lag[i] = 0, since
        if wanted[i] and length > 0.0:
            if since == 0.0:
                group[0], group[1], group[2] = here[0], here[1], here[2]
                least, low = most, start[i, 2]
            least = min(least, most)
            number = max(1, math.ceil((since + length) / (least * SPARE) - 1e-9))
            shared = number == 1 and i + 1 < pieces and wanted[i + 1] and next_length > 0.0
            if shared:
                shared = since + length + next_length <= SPARE * min(least, next_most)
            if shared:
                shared = tool[i] == tool[i + 1] and rapid[i] == rapid[i + 1] and ghost[i] == ghost[i + 1]
            if shared:
                gap, out, back = 0.0, 0.0, 0.0
                for axis in range(3):
                    gap += abs(start[i + 1, axis] - end[i, axis])
                    out += group[axis] * after[axis]
                    back += group[axis] * after[axis + 3]
                valley = min(low, end[i + 1, 2]) - end[i, 2] > VALLEY * step[i]
                shared = gap <= 1e-9 and out >= straight[i] and back >= straight[i] and not valley
            if shared:
                since += length
            else:
                count[i] = number
                total += number
                since = 0.0
        here, after = after, here
        length, most = next_length, next_most
    return total


@njit(cache=True, nogil=True)
def fill_stations(
    start: Floats, end: Floats, arc: Ints4, centre: Floats, plane: Bytes, sweep: Floats, rise: Floats, count: Ints,
    lag: Floats, piece: int, within: int, of: Ints4, tip: Floats, way: Floats4, step: Floats4,
) -> tuple[int, int]:  # fmt: skip
    """Stations from number `within` of piece `piece` on, as many as the filled arrays hold; returns where the next ones begin.

    Filled: of i4[M] (the piece), tip f8[M, 3], way f4[M, 3] unit vectors, step f4[M] (way since the former station).
    """
    heading = np.zeros(6)
    at, room = 0, of.shape[0]
    while at < room:
        if within >= count[piece]:
            piece, within = piece + 1, 0
            continue
        row, number = arc[piece], count[piece]
        length, _, _ = _heading(start, end, piece, arc, centre, plane, sweep, rise, heading)
        first, r0, r1, angle1 = 0, 0.0, 0.0, 0.0
        if row >= 0:
            first, r0, r1, angle1 = _arc_at(start, end, piece, centre, plane, row)
        second, normal = (first + 1) % 3, (first + 2) % 3
        while within < number and at < room:
            part = (within + 1) / number
            last = within + 1 == number
            of[at] = piece
            step[at] = length / number + (lag[piece] if within == 0 else 0.0)
            for axis in range(3):
                tip[at, axis] = (
                    end[piece, axis] if last else start[piece, axis] + part * (end[piece, axis] - start[piece, axis])
                )
                way[at, axis] = heading[axis + 3]
            if row >= 0 and not last:
                angle = angle1 - (1.0 - part) * sweep[row]
                cosine, sine = math.cos(angle), math.sin(angle)
                radius = r0 + part * (r1 - r0)
                along = 0.5 * (r0 + r1) * sweep[row] / length
                tip[at, first], tip[at, second] = centre[row, 0] + radius * cosine, centre[row, 1] + radius * sine
                way[at, first], way[at, second], way[at, normal] = -sine * along, cosine * along, rise[row] / length
            within += 1
            at += 1
    return piece, within


KERNELS: tuple[Any, ...] = (shape_lines, shape_arcs, shape_joints, count_stations, fill_stations)
"""What other rooms call; a test counts that each is compiled for one kind of arrays only."""
