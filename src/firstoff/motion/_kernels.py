"""The fast layer of motion: from moves to the speed along the path, and the time of every move.

A *path* is what is left of a program when moves that go nowhere are taken out. A *joint* lies between two moves. Speed along the path is
planned in *stretches*: between two *hard* joints the path bends so little that the machine carries its acceleration through; at a hard
joint the acceleration is nil. A stretch is one arc, or lines that follow each other smoothly.

In a stretch with the limits A and J (the least of its lines), speed obeys three curves, all in closed form:

    rise    jerk +J until the acceleration is A, then A        how a place of low speed is left
    ease    jerk -J until the acceleration is nil              how a speed is arrived at
    hold    no acceleration

Forward from its start, a stretch is a chain of *pieces*: each a rise that, where a cap lies ahead, eases off as late as it can so as to pass
the cap at its own speed. The same backward from the end. Between two joints that are caps for both, the two chains are bridged by one
ease that touches both: the highest speed whose jerk stays within J. Nothing in this depends on how a line is cut into blocks.

Symbols: s place mm, v speed mm/s, a acceleration mm/s2, u a speed aimed at, A, J limits; t times. Arrays marked "filled" are outputs.
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

# Reasons: the numbers of `timeline.LimitedBy` (a test holds them together).
NOTHING, FEED, ACCELERATION, JERK, CORNER, ARC, BLOCK_RATE, LOOK_AHEAD = range(8)

# Columns of `bend`, the arc of a move (all 0 for a line).
RADIUS, COSINE, AXIAL_ACCEL, AXIAL_JERK, FASTEST = range(5)

STRAIGHT = 5e-7
"""Half the turn (its sine) below which two lines are one: over 100 mm that is 0.1 µm, below what any machine resolves."""
SOFT = math.sin(math.radians(7.5))
"""Half the turn (its sine) up to which acceleration is carried through a joint of two lines: at a turn of 15 degrees an axis then feels
a step of at most a quarter of the acceleration, spread over the rounded corner. Chords of a curve turn less than this."""
SAME_CIRCLE = 1e-3
"""Relative difference of radius, and half the turn, up to which two arcs are one: rounded coordinates differ by that much."""
HELD = 0.9
"""Part of an arc's fastest speed above which speed is held but not changed: there, little of the acceleration is left for it (at 0.9
it is 59 % of it)."""
TANGENT_SHARE = 0.8
"""Part of the jerk that its turning leaves an arc, given to changes of speed; the square root of the rest is 0.6, for the
cross term 3·v·a/r."""
ROUNDS = 60
"""Most steps of any root search; they end long before by their tolerance."""
CLOSE = 1e-12
"""Relative tolerance of root searches in place and speed: well above what a float holds, far below what shows in a time."""
FITS = 1e-7
"""Part of a hop's way, and mm, by which ramps may miss it: below what any machine resolves, far above rounding."""
LEAST_LIMIT = 1e-300
"""Stands for nil in a division whose dividend is nil."""
SAME_SPEED = 1e-9
"""Relative difference below which two caps are one; splitting a line moves caps by about 1e-11."""


# --- one rise, one ease ------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def rise_to(u: float, v: float, a: float, A: float, J: float) -> tuple[float, float, float, float]:
    """Times of jerk, constant acceleration and easing, and the way (mm), from (v, a) to u at no acceleration.

    With a = 0 the way is (v + u)/2 times the time: the ramp of reference 9.3 and 9.4.
    """
    top2 = J * (u - v) + 0.5 * a * a
    top = math.sqrt(top2) if top2 > a * a else a
    if top <= A:
        t1 = (top - a) / J
        t3 = top / J
        v2 = v + t1 * (a + 0.5 * J * t1)
        return t1, 0.0, t3, t1 * (v + t1 * (0.5 * a + J * t1 / 6.0)) + t3 * (v2 + top * t3 / 3.0)
    t1 = (A - a) / J
    t3 = A / J
    v1 = v + t1 * (a + 0.5 * J * t1)
    v2 = u - 0.5 * A * t3
    t2 = (v2 - v1) / A
    way = t1 * (v + t1 * (0.5 * a + J * t1 / 6.0)) + 0.5 * (v1 + v2) * t2 + t3 * (v2 + A * t3 / 3.0)
    return t1, t2, t3, way


@njit(cache=True, nogil=True)
def rise_until(u: float, v: float, a: float, A: float, J: float) -> tuple[float, float, float]:
    """Times of jerk and constant acceleration, and the way, until a rise from (v, a) has the speed u (still accelerating)."""
    end2 = a * a + 2.0 * J * (u - v)
    end = math.sqrt(end2) if end2 > 0.0 else 0.0
    if end <= A:
        t1 = (end - a) / J
        return t1, 0.0, t1 * (v + t1 * (0.5 * a + J * t1 / 6.0))
    t1 = (A - a) / J
    v1 = v + t1 * (a + 0.5 * J * t1)
    t2 = (u - v1) / A
    return t1, t2, t1 * (v + t1 * (0.5 * a + J * t1 / 6.0)) + 0.5 * (v1 + u) * t2


@njit(cache=True, nogil=True)
def reach(v: float, way: float, A: float, J: float) -> float:
    """Highest speed that a ramp from v (no acceleration at either end) reaches within a way."""
    if way <= 0.0:
        return v
    q = way * math.sqrt(J)
    p = 2.0 * v  # the root y of y³ + p·y = q is sqrt(u - v) while A is not reached
    y = q ** (1.0 / 3.0)
    if p * y > q:
        y = q / p
    for _ in range(ROUNDS):  # Newton from above a convex rising function: falls to the root
        step = (y * (y * y + p) - q) / (3.0 * y * y + p)
        y -= step
        if step <= CLOSE * y:
            break
    if y * y * J <= A * A:
        return float(v + y * y)
    half = 0.5 * A * A / J
    return float(math.sqrt((v - half) ** 2 + 2.0 * A * way) - half)


@njit(cache=True, nogil=True)
def top_between(v0: float, v1: float, way: float, A: float, J: float) -> float:
    """Top speed of a ramp up from v0 and a ramp down to v1 that together fill a way; at least the higher of the two."""
    fast, slow = max(v0, v1), min(v0, v1)
    if fast == slow:
        return reach(fast, 0.5 * way, A, J)
    low, high, root = fast, math.inf, math.sqrt(J)
    y = math.sqrt(
        max(reach(fast, 0.5 * way, A, J) - fast, 0.0)
    )  # y = sqrt(u - fast), in which the ways are smooth at u = fast
    for _ in range(ROUNDS):
        u = fast + y * y
        f, slope = -way, 0.0
        for v in (fast, slow):
            rise = u - v
            if rise * J <= A * A:
                x = y if v == fast else math.sqrt(rise)
                t, dt = 2.0 * x / root, (2.0 / root if v == fast else 2.0 * y / (root * x))
            else:
                t, dt = rise / A + A / J, 2.0 * y / A
            f += 0.5 * (v + u) * t
            slope += y * t + 0.5 * (v + u) * dt
        if f > 0.0:
            high = min(high, u)
        else:
            low = max(low, u)
        if abs(f) <= CLOSE * way:
            break
        y -= f / slope
        if not (y >= 0.0 and low <= fast + y * y <= high):
            y = (
                math.sqrt(max(0.5 * (low + high), fast) - fast)
                if high < math.inf
                else 2.0 * math.sqrt(low - fast) + 1e-3
            )
        if high < math.inf and high - low <= CLOSE * high:
            break
    return fast + y * y


@njit(cache=True, nogil=True)
def reach_rising(v: float, a: float, way: float, high: float, A: float, J: float) -> float:
    """As `reach`, from a rise that is under way at (v, a); the answer lies between easing at once and `high`."""
    if a == 0.0:
        return min(reach(v, way, A, J), high)
    low = v + 0.5 * a * a / J
    f_low = rise_to(low, v, a, A, J)[3] - way
    f_high = rise_to(high, v, a, A, J)[3] - way
    if f_high <= 0.0:
        return high
    for _ in range(ROUNDS):  # regula falsi, Illinois
        u = (low * f_high - high * f_low) / (f_high - f_low)
        f = rise_to(u, v, a, A, J)[3] - way
        if abs(f) <= CLOSE * way or high - low <= CLOSE * high:
            return u
        if f < 0.0:
            low, f_low = u, f
            f_high *= 0.5
        else:
            high, f_high = u, f
            f_low *= 0.5
    return low


@njit(cache=True, nogil=True)
def _place_of_speed(w: float, u: float, v: float, a: float, A: float, J: float) -> float:
    """Way after which a rise from (v, a), eased from the speed w on, has the speed u."""
    way = rise_until(w, v, a, A, J)[2]
    top = min(math.sqrt(max(a * a + 2.0 * J * (w - v), 0.0)), A)
    t = (top - math.sqrt(max(top * top - 2.0 * J * (u - w), 0.0))) / J
    return way + t * (w + t * (0.5 * top - J * t / 6.0))


@njit(cache=True, nogil=True)
def pass_at(u: float, way: float, v: float, a: float, A: float, J: float) -> tuple[float, float, float, float]:
    """Ease off a rise from (v, a) as late as may be, so as to pass a place with the speed u, still accelerating.

    Returns the times of jerk, constant acceleration and easing, and the acceleration at the place.
    """
    top2 = min(J * (u - v) + 0.5 * a * a, A * A)
    low = max(v + (top2 - a * a) / (2.0 * J), v) if top2 < A * A else max(u - 0.5 * A * A / J, v)
    high = u
    f_low = _place_of_speed(low, u, v, a, A, J) - way
    f_high = _place_of_speed(high, u, v, a, A, J) - way
    w = low if f_low <= 0.0 else high
    if f_low > 0.0 > f_high:
        for _ in range(ROUNDS):
            w = (low * f_high - high * f_low) / (f_high - f_low)
            f = _place_of_speed(w, u, v, a, A, J) - way
            if abs(f) <= CLOSE * way or high - low <= CLOSE * high:
                break
            if f > 0.0:
                low, f_low = w, f
                f_high *= 0.5
            else:
                high, f_high = w, f
                f_low *= 0.5
    t1, t2, _ = rise_until(w, v, a, A, J)
    top = min(math.sqrt(max(a * a + 2.0 * J * (w - v), 0.0)), A)
    end = math.sqrt(max(top * top - 2.0 * J * (u - w), 0.0))
    return t1, t2, (top - end) / J, end


@njit(cache=True, nogil=True)
def time_of_way(way: float, v: float, a: float, j: float, longest: float) -> float:
    """Time after which a motion of constant jerk has gone a way, within a phase that lasts `longest`."""
    if a == 0.0 and j == 0.0:
        return min(way / v, longest) if v > 0.0 else longest
    rate = v + math.sqrt(max(v * v + 2.0 * a * way, 0.0))
    t = 2.0 * way / rate if rate > 0.0 else 0.5 * longest
    if j == 0.0:
        return min(t, longest)
    low, high = 0.0, longest
    t = min(max(t, low), high)
    for _ in range(ROUNDS):
        f = t * (v + t * (0.5 * a + t * j / 6.0)) - way
        if f > 0.0:
            high = t
        else:
            low = t
        slope = v + t * (a + 0.5 * t * j)
        new = t - f / slope if slope > 0.0 else 0.5 * (low + high)
        if not low <= new <= high:
            new = 0.5 * (low + high)
        if abs(new - t) <= 4e-16 * longest or abs(f) <= 1e-15 * way:
            return new
        t = new
    return t


# --- arcs ----------------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def arc_limits(u: float, A: float, J: float, bend: Floats) -> tuple[float, float]:
    """Acceleration and jerk along an arc that no speed up to u exhausts, whatever way the axes lie.

    In the plane of the arc, a point with speed v and acceleration a along it feels the acceleration (a, v²/r) and the jerk
    (j - v³/r², 3·v·a/r) along and across; both vectors are kept within what the weaker axis gives.
    """
    r, cosine = bend[RADIUS], bend[COSINE]
    v = u * cosine
    turning = min(v * v * v / (r * r * J), 1.0)
    share = TANGENT_SHARE * (1.0 - turning)
    if (
        9.0 * turning < 1.0
    ):  # a ramp of jerk J up to v never exceeds sqrt(J·v), so the cross term is at most 3·sqrt(turning)
        share = max(share, math.sqrt(1.0 - 9.0 * turning) - turning)
    inward = v * v / r
    accel = math.sqrt(max(A * A - inward * inward, 0.0))
    if v > 0.0:
        cross = math.sqrt(max(1.0 - (turning + share) ** 2, 0.0))
        if turning > 0.0:
            accel = min(accel, cross * J * r / (3.0 * v))
    return min(accel / cosine, bend[AXIAL_ACCEL]), min(share * J / cosine, bend[AXIAL_JERK])


@njit(cache=True, nogil=True)
def ramp_on_arc(low: float, high: float, A: float, J: float, bend: Floats) -> tuple[float, float]:
    """(time, way) of a ramp between two speeds on an arc, at the limits of its higher speed; inf where it cannot be made."""
    if high <= low:
        return 0.0, 0.0
    accel, jerk = arc_limits(high, A, J, bend)
    if accel <= 0.0 or jerk <= 0.0:
        return math.inf, math.inf
    t1, t2, t3, way = rise_to(high, low, 0.0, accel, jerk)
    return t1 + t2 + t3, way


@njit(cache=True, nogil=True)
def reach_on_arc(v: float, way: float, cap: float, A: float, J: float, bend: Floats) -> float:
    """Highest speed up to `cap` that a ramp from v reaches within a way on an arc."""
    if cap <= v:
        return cap
    high = min(cap, HELD * bend[FASTEST])
    if high <= v:
        return v
    if ramp_on_arc(v, high, A, J, bend)[1] <= way:
        return float(high)
    low = v
    for _ in range(ROUNDS):
        u = 0.5 * (low + high)
        if ramp_on_arc(v, u, A, J, bend)[1] <= way:
            low = u
        else:
            high = u
        if high - low <= CLOSE * high:
            break
    return low


@njit(cache=True, nogil=True)
def _time_on_arc(u: float, v0: float, v1: float, length: float, A: float, J: float, bend: Floats) -> float:
    """Time of an arc with the top speed u, inf where the ramps do not fit."""
    up_time, up = ramp_on_arc(v0, u, A, J, bend)
    down_time, down = ramp_on_arc(v1, u, A, J, bend)
    rest = length - up - down
    if rest < -1e-12 * length:
        return math.inf
    return up_time + down_time + max(rest, 0.0) / u if u > 0.0 else math.inf


@njit(cache=True, nogil=True)
def top_on_arc(v0: float, v1: float, cap: float, length: float, A: float, J: float, bend: Floats) -> float:
    """The top speed between v0 and v1 that makes an arc quickest. Above HELD a higher top can cost more than it brings."""
    low = max(v0, v1)
    high = cap
    if _time_on_arc(high, v0, v1, length, A, J, bend) == math.inf:  # lower it until it fits
        fits = low
        for _ in range(ROUNDS):
            u = 0.5 * (fits + high)
            if _time_on_arc(u, v0, v1, length, A, J, bend) < math.inf:
                fits = u
            else:
                high = u
            if high - fits <= CLOSE * high:
                break
        high = fits
    if high <= HELD * bend[FASTEST] or high <= low:
        return high
    golden = 0.6180339887498949
    left, right = low, high
    x1, x2 = right - golden * (right - left), left + golden * (right - left)
    f1 = _time_on_arc(x1, v0, v1, length, A, J, bend)
    f2 = _time_on_arc(x2, v0, v1, length, A, J, bend)
    for _ in range(ROUNDS):
        if f1 <= f2:
            right, x2, f2 = x2, x1, f1
            x1 = right - golden * (right - left)
            f1 = _time_on_arc(x1, v0, v1, length, A, J, bend)
        else:
            left, x1, f1 = x1, x2, f2
            x2 = left + golden * (right - left)
            f2 = _time_on_arc(x2, v0, v1, length, A, J, bend)
        if right - left <= 1e-9 * high:
            break
    best = 0.5 * (left + right)
    for u in (low, high):
        if _time_on_arc(u, v0, v1, length, A, J, bend) <= _time_on_arc(best, v0, v1, length, A, J, bend):
            best = u
    return best


# --- the shape of the path -------------------------------------------------------------------------------------------------


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
        for row in range(3):
            most[i, row] = math.inf
        for column in range(5):
            bend[i, column] = 0.0
        for axis in range(3):
            part = step[i, axis] / way
            tangents[i, axis] = part
            tangents[i, axis + 3] = part
            if part != 0.0:
                for row in range(3):
                    most[i, row] = min(most[i, row], limits[row, axis] / abs(part))


@njit(cache=True, nogil=True)
def shape_arcs(
    end: Floats, arc: Ints, arcs: Floats, limits: Floats, tangents: Floats, length: Floats, most: Floats, bend: Floats
) -> None:
    """The same for arcs. end f8[M, 3] in the frame of the arc's centre; arcs f8[A, 8]: centre (2), first, second and normal axis,
    radius, sweep, rise. The limits of an arc are those of the weaker axis of its plane, for it turns through both."""
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
        most[i, 1] = min(limits[1, first], limits[1, second])
        most[i, 2] = min(limits[2, first], limits[2, second])
        bend[i, RADIUS], bend[i, COSINE] = radius, cosine
        bend[i, FASTEST] = min(math.sqrt(most[i, 1] * radius), (most[i, 2] * radius * radius) ** (1.0 / 3.0)) / cosine
        most[i, 0] = speed


@njit(cache=True, nogil=True)
def shape_joints(
    tangents: Floats, length: Floats, bend: Floats, sense: Ints, stop: Bools, accel: Floats, joints: Floats, hard: Bytes
) -> None:
    """Corners between moves: joint i lies before move i.

    sense i8[M]: 0 for a line, else plane number with the sign of the sweep. stop bool[M]: at rest before the move. Filled: joints
    f8[M, 4] (sine and cosine of half the turn, acceleration across the corner, shorter straight run beside it), hard u1[M + 1].
    """
    count = length.shape[0]
    run = 0.0
    for i in range(
        count
    ):  # joints[:, 3] holds the straight run that ends at the joint until the way back adds the other side
        half_sine, half_cosine, across = 0.0, 1.0, math.inf
        if i > 0 and not stop[i]:
            half_sine, half_cosine, across = _corner(tangents, i, accel)
        joints[i, 0], joints[i, 1], joints[i, 2], joints[i, 3] = half_sine, half_cosine, across, run
        lines = i > 0 and sense[i - 1] == 0 and sense[i] == 0
        arcs = i > 0 and sense[i] != 0 and sense[i - 1] == sense[i]
        if arcs:
            r0, r1 = bend[i - 1, RADIUS], bend[i, RADIUS]
            arcs = abs(r1 - r0) <= SAME_CIRCLE * r1 and half_sine <= SAME_CIRCLE
        hard[i] = 1 if stop[i] or not ((lines and half_sine <= SOFT) or arcs) else 0
        run = run + length[i] if lines and not stop[i] and half_sine <= STRAIGHT else length[i]
    hard[0], hard[count] = 1, 1
    run = 0.0
    for i in range(count - 1, -1, -1):
        straight = (
            i + 1 < count and not stop[i + 1] and sense[i] == 0 and sense[i + 1] == 0 and joints[i + 1, 0] <= STRAIGHT
        )
        run = run + length[i] if straight else length[i]
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
def share_limits(hard: Bytes, most: Floats, bend: Floats, shared: Floats, bends: Floats) -> None:
    """Acceleration and jerk of each stretch, the least of its moves. Filled: shared f8[M, 2], bends f8[M, 5] (as `bend`)."""
    count = most.shape[0]
    first = 0
    while first < count:
        last = first + 1
        while last < count and hard[last] == 0:
            last += 1
        A, J = math.inf, math.inf
        least = np.full(5, math.inf)
        for i in range(first, last):
            A, J = min(A, most[i, 1]), min(J, most[i, 2])
            for column in range(5):
                least[column] = min(least[column], bend[i, column])
        for i in range(first, last):
            shared[i, 0], shared[i, 1] = A, J
            bends[i, :] = least
        first = last


# --- caps -------------------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def cap_moves(
    length: Floats, commanded: Floats, most: Floats, bend: Floats, rate: float, half: int, cap: Floats, why: Bytes
) -> None:
    """Greatest speed of each move and what sets it.

    rate: blocks a second (inf = boundless), averaged over `half` blocks on either side, but never slower than the block's own
    length in the time of one block. Filled: cap f8[M], why u1[M].
    """
    count = length.shape[0]
    low, high, around = 0, 0, 0.0
    for i in range(count):
        cap[i], why[i] = commanded[i], NOTHING
        if most[i, 0] < cap[i]:
            cap[i], why[i] = most[i, 0], FEED
        if bend[i, RADIUS] > 0.0 and bend[i, FASTEST] < cap[i]:
            cap[i], why[i] = bend[i, FASTEST], ARC
        if rate < math.inf:
            while high < count and high <= i + half:
                around += length[high]
                high += 1
            while low < i - half:
                around -= length[low]
                low += 1
            planned = rate * max(length[i], around / (high - low))
            if planned < cap[i]:
                cap[i], why[i] = planned, BLOCK_RATE


@njit(cache=True, nogil=True)
def cap_joints(
    joints: Floats,
    stop: Bools,
    place: Floats,
    shared: Floats,
    bend: Floats,
    cap: Floats,
    tolerance: float,
    ahead: int,
    at_joint: Floats,
    why: Bytes,
) -> None:
    """Greatest speed at each joint and what sets it.

    place f8[M + 1]: way along the path before each move. A corner is rounded by `tolerance` on a radius R that takes at most half
    of the shorter straight run beside it, at v = sqrt(a·R). With `ahead` blocks planned, it must be possible to come to rest at
    their end (0 = boundless) from no acceleration, unless the path rests before it anyway. Filled: at_joint f8[M + 1], why u1[M + 1].
    """
    count = cap.shape[0]
    at_joint[0], at_joint[count], why[0], why[count] = 0.0, 0.0, NOTHING, NOTHING
    rest = count  # where the path next comes to rest by itself
    for i in range(count - 1, 0, -1):
        if stop[i]:
            at_joint[i], why[i] = 0.0, NOTHING
            rest = i
            continue
        u, reason = min(cap[i - 1], cap[i]), NOTHING
        half_sine, half_cosine = joints[i, 0], joints[i, 1]
        if half_sine > STRAIGHT:
            radius = 0.5 * joints[i, 3] * half_cosine / half_sine
            if tolerance < math.inf:  # 1 - cos = sin²/(1 + cos), without cancelling
                radius = min(radius, tolerance * half_cosine * (1.0 + half_cosine) / (half_sine * half_sine))
            corner = math.sqrt(joints[i, 2] * radius) if radius > 0.0 else 0.0
            if corner < u:
                u, reason = corner, CORNER
        if 0 < ahead < rest - i:
            A = min(shared[i - 1, 0], shared[i, 0])
            J = min(shared[i - 1, 1], shared[i, 1])
            if (
                bend[i, RADIUS] > 0.0 or bend[i - 1, RADIUS] > 0.0
            ):  # what an arc leaves for stopping at 0.84 of its fastest speed
                A, J = A * math.sqrt(0.5), J * 0.5
            seen = reach(0.0, place[i + ahead] - place[i], A, J)
            if seen < u:
                u, reason = seen, LOOK_AHEAD
        at_joint[i], why[i] = u, reason


# --- a stretch: chains of pieces ---------------------------------------------------------------------------------------------
# A chain is f8[n, 6] (place, v, a at the start of each piece; times of jerk, constant acceleration and easing until the next piece,
# -1 where the piece does not ease into the next) and joint i8[n] at which each piece starts. `mark` u1 at a joint: 0 the chain is below
# its cap, PASSED at the cap while rising, HELD_AT at the cap without acceleration.

PLACE, SPEED, RISING, JERKING, STEADY, EASING = range(6)
PASSED, HELD_AT = 1, 2


@njit(cache=True, nogil=True)
def _start_piece(chain: Floats, joint: Ints, n: int, at: int, s: float, v: float, a: float) -> int:
    chain[n, PLACE], chain[n, SPEED], chain[n, RISING], chain[n, EASING] = s, v, a, -1.0
    joint[n] = at
    return n + 1


@njit(cache=True, nogil=True)
def chain_up(
    s: Floats, cap: Floats, count: int, start: float, A: float, J: float, chain: Floats, joint: Ints, mark: Bytes
) -> int:
    """The quickest way forward through the joints 0..count of a stretch, seen from its start.

    s f8[count + 1] places, cap f8[count + 1]. Filled: chain, joint, mark. Returns the number of pieces.
    """
    n = _start_piece(chain, joint, 0, 0, s[0], start, 0.0)
    mark[0] = HELD_AT
    for k in range(1, count):
        u = cap[k]
        mark[k] = 0
        p = n - 1
        if u >= chain[p, SPEED]:
            if rise_until(u, chain[p, SPEED], chain[p, RISING], A, J)[2] >= s[k] - chain[p, PLACE]:
                continue
        while True:  # the piece that can be eased so as to meet this cap
            v, a, way = chain[p, SPEED], chain[p, RISING], s[k] - chain[p, PLACE]
            lowest = v + 0.5 * a * a / J
            if (u >= lowest and rise_to(u, v, a, A, J)[3] <= way) or (a == 0.0 and u <= v):
                n = _start_piece(chain, joint, n, k, s[k], u, 0.0)
                mark[k] = HELD_AT
                break
            if u >= lowest or (u >= v and _place_of_speed(v, u, v, a, A, J) >= way):
                for q in range(p + 1, n):
                    mark[joint[q]] = 0  # now passed below its cap
                n = p + 1
                t1, t2, t3, end = pass_at(u, way, v, a, A, J)
                chain[p, JERKING], chain[p, STEADY], chain[p, EASING] = t1, t2, t3
                n = _start_piece(chain, joint, n, k, s[k], u, end)
                mark[k] = PASSED
                break
            p -= 1
    mark[count] = HELD_AT
    return n


@njit(cache=True, nogil=True)
def end_of_chain(chain: Floats, n: int, s: float, u: float, A: float, J: float) -> float:
    """Highest speed up to u that a chain has at the place s without acceleration."""
    p = n - 1
    while True:
        v, a, way = chain[p, SPEED], chain[p, RISING], s - chain[p, PLACE]
        lowest = v + 0.5 * a * a / J
        if u <= v and a == 0.0:
            return u
        if u >= lowest:
            if rise_to(u, v, a, A, J)[3] <= way:
                return u
            if rise_to(lowest, v, a, A, J)[3] <= way:
                return reach_rising(v, a, way, u, A, J)
        p -= 1


@njit(cache=True, nogil=True)
def _speed_on(chain: Floats, joint: Ints, n: int, k: int, s: float, A: float, J: float) -> float:
    """Speed of a chain at joint k (place s), which it passes below its cap."""
    p = np.searchsorted(joint[:n], k, side="right") - 1
    v, a, way = chain[p, SPEED], chain[p, RISING], s - chain[p, PLACE]
    t1 = (A - a) / J
    t2 = math.inf
    if chain[p, EASING] >= 0.0:
        t1, t2 = chain[p, JERKING], chain[p, STEADY]
    first = t1 * (v + t1 * (0.5 * a + J * t1 / 6.0))
    if way <= first:
        t = time_of_way(way, v, a, J, t1)
        return float(v + t * (a + 0.5 * J * t))
    v, a, way = v + t1 * (a + 0.5 * J * t1), a + J * t1, way - first
    if t2 == math.inf or way <= t2 * (v + 0.5 * a * t2):
        return math.sqrt(v * v + 2.0 * a * way)
    way -= t2 * (v + 0.5 * a * t2)
    v += a * t2
    t = time_of_way(way, v, a, -J, chain[p, EASING])
    return float(v + t * (a - 0.5 * J * t))


@njit(cache=True, nogil=True)
def meet(
    up: Floats, p: int, down: Floats, q: int, length: float, first: int, last: int, A: float, J: float
) -> tuple[int, int, float]:
    """Bridge two chains by one ease that touches both: the pieces it touches, and its top speed.

    `down` is the chain from the end, in places counted from there; pieces p and q are those on either side of the crossing, `first`
    and `last` the ones to stop at.
    """
    while True:
        low_p = up[p, SPEED] + 0.5 * up[p, RISING] ** 2 / J
        low_q = down[q, SPEED] + 0.5 * down[q, RISING] ** 2 / J
        low = max(low_p, low_q)
        if _gap(low, up, p, down, q, length, A, J) < 0.0:
            if low_p >= low_q and p > first:
                p -= 1
                continue
            if q > last:
                q -= 1
                continue
            if p > first:
                p -= 1
                continue
            return p, q, low  # the ramp fits exactly; what is missing is rounding
        break
    if up[p, RISING] == 0.0 and down[q, RISING] == 0.0:
        return p, q, top_between(up[p, SPEED], down[q, SPEED], length - up[p, PLACE] - down[q, PLACE], A, J)
    high = max(2.0 * low, 1e-6)
    while _gap(high, up, p, down, q, length, A, J) > 0.0:
        low, high = high, 2.0 * high
    f_low = _gap(low, up, p, down, q, length, A, J)
    f_high = _gap(high, up, p, down, q, length, A, J)
    for _ in range(ROUNDS):
        u = (low * f_high - high * f_low) / (f_high - f_low)
        if not low <= u <= high:
            u = 0.5 * (low + high)
        f = _gap(u, up, p, down, q, length, A, J)
        if abs(f) <= CLOSE * length or high - low <= CLOSE * high:
            return p, q, u
        if f > 0.0:
            low, f_low = u, f
            f_high *= 0.5
        else:
            high, f_high = u, f
            f_low *= 0.5
    return p, q, low


@njit(cache=True, nogil=True)
def _gap(u: float, up: Floats, p: int, down: Floats, q: int, length: float, A: float, J: float) -> float:
    """Way left at the top speed u between the ramp up from piece p and the ramp down to piece q."""
    ahead = up[p, PLACE] + rise_to(u, up[p, SPEED], up[p, RISING], A, J)[3]
    return float(length - ahead - down[q, PLACE] - rise_to(u, down[q, SPEED], down[q, RISING], A, J)[3])


# --- playing phases of constant jerk ------------------------------------------------------------------------------------------
# `now` f8[5]: time, place, speed, acceleration, 1 if the acceleration has been A; `at` i8[3]: next move to end, phases, room for them.

TIME, WHERE, FAST, PUSH, FULL_PUSH = range(5)


@njit(cache=True, nogil=True)
def _play(span: float, j: float, now: Floats, at: Ints, last: int, ends: Floats, time: Floats, phases: Floats) -> None:
    """Run one phase, and set the time of every move that ends in it."""
    if span <= 0.0:
        return
    t, s, v, a = now[TIME], now[WHERE], now[FAST], now[PUSH]
    way = span * (v + span * (0.5 * a + span * j / 6.0))
    while at[0] < last and ends[at[0]] <= s + way:
        time[at[0]] = t + time_of_way(ends[at[0]] - s, v, a, j, span)
        at[0] += 1
    if at[1] < at[2]:
        row = at[1]
        phases[row, 0], phases[row, 1], phases[row, 2], phases[row, 3], phases[row, 4] = t, s, v, a, j
    at[1] += 1
    now[TIME], now[WHERE] = t + span, s + way
    now[FAST] = max(v + span * (a + 0.5 * span * j), 0.0)
    now[PUSH] = a + span * j


@njit(cache=True, nogil=True)
def _play_up(
    chain: Floats,
    p: int,
    q: int,
    u: float,
    A: float,
    J: float,
    now: Floats,
    at: Ints,
    last: int,
    ends: Floats,
    time: Floats,
    phases: Floats,
) -> None:
    """Pieces p to q of a chain, the last one eased to u."""
    for k in range(p, q + 1):
        t1, t2, t3 = chain[k, JERKING], chain[k, STEADY], chain[k, EASING]
        if k == q:
            t1, t2, t3, _ = rise_to(u, chain[k, SPEED], chain[k, RISING], A, J)
        if t2 > 0.0:
            now[FULL_PUSH] = 1.0
        _play(t1, J, now, at, last, ends, time, phases)
        _play(t2, 0.0, now, at, last, ends, time, phases)
        _play(t3, -J, now, at, last, ends, time, phases)
    now[FAST], now[PUSH] = u, 0.0


@njit(cache=True, nogil=True)
def _play_down(
    chain: Floats,
    p: int,
    q: int,
    u: float,
    A: float,
    J: float,
    now: Floats,
    at: Ints,
    last: int,
    ends: Floats,
    time: Floats,
    phases: Floats,
) -> None:
    """Pieces q to p of a chain that is seen from the end, from u on: time runs backward in it, which leaves the jerk as it is."""
    for k in range(q, p - 1, -1):
        t1, t2, t3 = chain[k, JERKING], chain[k, STEADY], chain[k, EASING]
        if k == q:
            t1, t2, t3, _ = rise_to(u, chain[k, SPEED], chain[k, RISING], A, J)
        if t2 > 0.0:
            now[FULL_PUSH] = 1.0
        _play(t3, -J, now, at, last, ends, time, phases)
        _play(t2, 0.0, now, at, last, ends, time, phases)
        _play(t1, J, now, at, last, ends, time, phases)
    now[FAST], now[PUSH] = chain[p, SPEED], 0.0


# --- the plan -------------------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def gather_segments(
    hard: Bytes, sense: Ints, cap: Floats, at_joint: Floats, seg_last: Ints, seg_cap: Floats, stretch: Ints
) -> int:
    """Join moves of one cap whose joint caps nothing into segments, and count the segments of each stretch.

    Filled: seg_last i8[M] last move of each segment, seg_cap f8[M], stretch i8[M + 1] first segment of each stretch and the end.
    Returns the number of stretches.
    """
    stretches, segments = 0, 0
    for i in range(cap.shape[0]):
        if not hard[i]:
            former = seg_cap[segments - 1]
            least = min(cap[i], former)
            if abs(cap[i] - former) <= SAME_SPEED * cap[i] and at_joint[i] >= least * (1.0 - SAME_SPEED):
                seg_last[segments - 1], seg_cap[segments - 1] = i, least
                continue
        if hard[i] or sense[i] != 0:  # an arc that cannot be joined to the one before it is a stretch of its own
            stretch[stretches] = segments
            stretches += 1
        seg_last[segments], seg_cap[segments] = i, cap[i]
        segments += 1
    stretch[stretches] = segments
    return stretches


@njit(cache=True, nogil=True)
def _lay_out(
    first: int,
    n: int,
    place: Floats,
    seg_last: Ints,
    seg_cap: Floats,
    at_joint: Floats,
    backward: bool,
    s: Floats,
    caps: Floats,
) -> None:
    """Places and caps of the n + 1 joints of a stretch, counted from its start or from its end (caps of its ends are not used)."""
    start = place[seg_last[first - 1] + 1] if first > 0 else 0.0
    length = place[seg_last[first + n - 1] + 1] - start
    for k in range(n + 1):
        j = n - k if backward else k
        way = place[seg_last[first + k - 1] + 1] - start if k > 0 else 0.0
        s[j] = length - way if backward else way
        caps[j] = 0.0
        if 0 < k < n:
            caps[j] = min(at_joint[seg_last[first + k - 1] + 1], min(seg_cap[first + k - 1], seg_cap[first + k]))


@njit(cache=True, nogil=True)
def settle_knots(
    stretches: int,
    stretch: Ints,
    seg_last: Ints,
    seg_cap: Floats,
    place: Floats,
    sense: Ints,
    shared: Floats,
    bends: Floats,
    at_joint: Floats,
    widest: int,
    knot: Floats,
) -> None:
    """Speeds at the hard joints: forward what can be reached from rest, backward what can be stopped from. Filled: knot."""
    s, caps = np.empty(widest + 1), np.empty(widest + 1)
    chain, joint, mark = np.empty((widest + 1, 6)), np.empty(widest + 1, np.int64), np.empty(widest + 1, np.uint8)
    knot[0] = 0.0
    for n in range(stretches):
        after = stretch[n + 1]
        knot[n + 1] = min(at_joint[seg_last[after - 1] + 1], seg_cap[after - 1])
        if n + 1 < stretches:
            knot[n + 1] = min(knot[n + 1], seg_cap[after])
    for way in range(2):
        for k in range(stretches):
            n = k if way == 0 else stretches - 1 - k
            here, there = (n, n + 1) if way == 0 else (n + 1, n)
            v, u = knot[here], knot[there]
            first, wide = stretch[n], stretch[n + 1] - stretch[n]
            if u <= v and wide == 1:
                continue
            begin = seg_last[first - 1] + 1 if first > 0 else 0
            A, J, length = shared[begin, 0], shared[begin, 1], place[seg_last[first + wide - 1] + 1] - place[begin]
            if sense[begin] != 0:
                u = reach_on_arc(v, length, u, A, J, bends[begin])
            elif wide == 1:
                u = min(u, reach(v, length, A, J))
            else:
                _lay_out(first, wide, place, seg_last, seg_cap, at_joint, way == 1, s, caps)
                pieces = chain_up(s, caps, wide, v, A, J, chain, joint, mark)
                u = end_of_chain(chain, pieces, s[wide], u, A, J)
            knot[there] = u


@njit(cache=True, nogil=True)
def _crossing(
    left: int,
    right: int,
    wide: int,
    up: Floats,
    at_up: Ints,
    mark_up: Bytes,
    s_up: Floats,
    n_up: int,
    down: Floats,
    at_down: Ints,
    mark_down: Bytes,
    s_down: Floats,
    n_down: int,
    A: float,
    J: float,
) -> int:
    """The joint before the segment in which the chain from the start begins to exceed the one from the end."""
    low, high = left, right
    while high - low > 1:
        mid = (low + high) // 2
        other = wide - mid
        capped_up, capped_down = mark_up[mid], mark_down[other]
        if capped_up == 0 and capped_down == 0:
            beyond = _speed_on(down, at_down, n_down, other, s_down[other], A, J) < _speed_on(
                up, at_up, n_up, mid, s_up[mid], A, J
            )
        else:
            beyond = capped_down == 0 or (capped_up != 0 and capped_down == PASSED)
        if beyond:
            high = mid
        else:
            low = mid
    return low


@njit(cache=True, nogil=True)
def _under_cap(
    up: Floats, p: int, down: Floats, q: int, base_p: int, base_q: int, top: float, most: float, J: float
) -> tuple[int, int, float]:
    """Lower a bridge to the cap of the segment it lies in."""
    if top <= most:
        return p, q, top
    while p > base_p and up[p, SPEED] + 0.5 * up[p, RISING] ** 2 / J > most:
        p -= 1
    while q > base_q and down[q, SPEED] + 0.5 * down[q, RISING] ** 2 / J > most:
        q -= 1
    return p, q, most


@njit(cache=True, nogil=True)
def _play_hop(
    up: Floats,
    base_p: int,
    p: int,
    down: Floats,
    base_q: int,
    q: int,
    top: float,
    A: float,
    J: float,
    end: float,
    now: Floats,
    at: Ints,
    final: int,
    ends: Floats,
    time: Floats,
    phases: Floats,
) -> bool:
    """Play up to the top, along it and down to the joint at which move `final` ends, `end` before the end of the stretch's way.

    Returns whether the ramps fit.
    """
    now[FULL_PUSH] = 0.0
    begun = now[WHERE]
    if (
        at[0] == final and at[2] == 0 and base_p == p and base_q == q
    ):  # one move, one ramp each way: only their times are asked for
        up1, up2, up3, up_way = rise_to(top, up[p, SPEED], 0.0, A, J)
        down1, down2, down3, down_way = rise_to(top, down[q, SPEED], 0.0, A, J)
        rest = ends[final] - begun - up_way - down_way
        now[TIME] += up1 + up2 + up3 + down1 + down2 + down3 + (max(rest, 0.0) / top if top > 0.0 else 0.0)
        now[WHERE], time[final], at[0] = ends[final], now[TIME], final + 1
        now[FAST], now[PUSH] = down[q, SPEED], 0.0
        if up2 + down2 > 0.0:
            now[FULL_PUSH] = 1.0
        at[1] += 7  # at most
        return bool(rest >= -FITS * (ends[final] - begun) - FITS)
    _play_up(up, base_p, p, top, A, J, now, at, final, ends, time, phases)
    down_way = down[q, PLACE] + rise_to(top, down[q, SPEED], down[q, RISING], A, J)[3]
    rest = end - down_way - now[WHERE]
    if rest > 0.0 and top > 0.0:
        _play(rest / top, 0.0, now, at, final, ends, time, phases)
    _play_down(down, base_q, q, top, A, J, now, at, final, ends, time, phases)
    while at[0] <= final:  # the last move, and what rounding left over
        time[at[0]] = now[TIME]
        at[0] += 1
    now[WHERE] = ends[final]
    return bool(rest >= -FITS * (ends[final] - begun) - FITS)


@njit(cache=True, nogil=True)
def plan_path(
    place: Floats,
    hard: Bytes,
    sense: Ints,
    shared: Floats,
    bends: Floats,
    cap: Floats,
    at_joint: Floats,
    why_joint: Bytes,
    time: Floats,
    why: Bytes,
    phases: Floats,
) -> int:
    """Times at which the moves of a path end, from rest to rest.

    place f8[M + 1] way before each move; the rest as filled above. Filled: time f8[M] end of each move, why u1[M] what keeps its
    ramps down, phases f8[P, 5] (time, place, speed, acceleration, jerk at the start of each phase of constant jerk; none if P = 0).
    Returns the number of phases, which may be more than P, or -1 if ramps were planned that do not fit (a fault of ours).
    """
    count = cap.shape[0]
    seg_last, seg_cap, stretch = np.empty(count, np.int64), np.empty(count), np.empty(count + 1, np.int64)
    stretches = gather_segments(hard, sense, cap, at_joint, seg_last, seg_cap, stretch)
    widest = 1
    for n in range(stretches):
        widest = max(widest, stretch[n + 1] - stretch[n])
    knot = np.empty(stretches + 1)
    settle_knots(stretches, stretch, seg_last, seg_cap, place, sense, shared, bends, at_joint, widest, knot)
    s_up, s_down, caps = np.empty(widest + 1), np.empty(widest + 1), np.empty(widest + 1)
    up, down = np.empty((widest + 1, 6)), np.empty((widest + 1, 6))
    at_up, at_down = np.empty(widest + 1, np.int64), np.empty(widest + 1, np.int64)
    mark_up, mark_down = np.empty(widest + 1, np.uint8), np.empty(widest + 1, np.uint8)
    now, at, ends = np.zeros(5), np.zeros(3, np.int64), place[1:]
    at[2] = phases.shape[0]
    fits = True
    for n in range(stretches):
        first, wide = stretch[n], stretch[n + 1] - stretch[n]
        begin, last = (seg_last[first - 1] + 1 if first > 0 else 0), seg_last[first + wide - 1]
        A, J, length = shared[begin, 0], shared[begin, 1], place[last + 1] - place[begin]
        n_up = _start_piece(up, at_up, 0, 0, 0.0, knot[n], 0.0)
        n_down = _start_piece(down, at_down, 0, 0, 0.0, knot[n + 1], 0.0)
        if wide > 1:
            _lay_out(first, wide, place, seg_last, seg_cap, at_joint, True, s_down, caps)
            n_down = chain_up(s_down, caps, wide, knot[n + 1], A, J, down, at_down, mark_down)
            _lay_out(first, wide, place, seg_last, seg_cap, at_joint, False, s_up, caps)
            n_up = chain_up(s_up, caps, wide, knot[n], A, J, up, at_up, mark_up)
        left, base_p = 0, 0
        while left < wide:  # from one joint that caps both chains to the next
            right = left + 1
            while right < wide and not (mark_up[right] == HELD_AT and mark_down[wide - right] == HELD_AT):
                right += 1
            base_q = int(np.searchsorted(at_down[:n_down], wide - right)) if wide > 1 else 0
            p, q, seg = base_p, base_q, first + left
            if right - left > 1:
                seg = _crossing(
                    left, right, wide, up, at_up, mark_up, s_up, n_up, down, at_down, mark_down, s_down, n_down, A, J
                )
                p = int(np.searchsorted(at_up[:n_up], seg, side="right") - 1)
                q = int(np.searchsorted(at_down[:n_down], wide - seg - 1, side="right") - 1)
            if sense[begin] != 0:
                top = top_on_arc(
                    knot[n], knot[n + 1], min(seg_cap[first], bends[begin, FASTEST]), length, A, J, bends[begin]
                )
                A, J = arc_limits(top, A, J, bends[begin])
                A, J = max(A, LEAST_LIMIT), max(J, LEAST_LIMIT)  # nil at the fastest speed, where no ramp is planned
            elif right - left == 1 and _gap(seg_cap[seg], up, p, down, q, length, A, J) >= 0.0:
                top = seg_cap[seg]
            else:
                p, q, top = meet(up, p, down, q, length, base_p, base_q, A, J)
                if right - left > 1:
                    apex = up[p, PLACE] + rise_to(top, up[p, SPEED], up[p, RISING], A, J)[3]
                    seg = np.searchsorted(s_up[: wide + 1], apex, side="right") - 1
                    seg = first + min(max(seg, left), right - 1)
                p, q, top = _under_cap(up, p, down, q, base_p, base_q, top, seg_cap[seg], J)
            final, start_move = seg_last[first + right - 1], at[0]
            fits &= _play_hop(
                up, base_p, p, down, base_q, q, top, A, J, place[begin] + length, now, at, final, ends, time, phases
            )
            reason = _reason(why_joint[start_move], up[base_p, SPEED], why_joint[final + 1], down[base_q, SPEED], now)
            why[start_move : final + 1] = reason
            left = right
            if left < wide:
                base_p = int(np.searchsorted(at_up[:n_up], left))
                now[FAST], now[PUSH] = up[base_p, SPEED], 0.0
    return int(at[1]) if fits else -1


@njit(cache=True, nogil=True)
def _reason(why_left: int, v_left: float, why_right: int, v_right: float, now: Floats) -> int:
    """What the slower end of a hop says; an end that the program itself slows leaves it to the ramp."""
    why = why_left
    if v_right < v_left or (v_right == v_left and why_right > why_left):
        why = why_right
    if why == NOTHING:
        why = ACCELERATION if now[FULL_PUSH] > 0.0 else JERK
    return why


KERNELS: tuple[Any, ...] = (shape_lines, shape_arcs, shape_joints, share_limits, cap_moves, cap_joints, plan_path)
"""What `plan` calls; a test counts that each is compiled for one kind of arrays only."""
