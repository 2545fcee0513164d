"""The fast layer of motion: from a path and its limits to the speed along it, and the time of every move.

Speed is planned in *stretches*: between two *hard* joints the path bends so little that the machine carries its acceleration through; at a
hard joint the acceleration is nil. A stretch is one arc, or lines that follow each other smoothly. In a stretch with the limits A and J
(the least of its lines), speed obeys three curves, all in closed form:

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

# Columns of `bend`, the arc of a move (all 0 for a line): those of `path._kernels` (a test holds them together).
RADIUS, COSINE, AXIAL_ACCEL, AXIAL_JERK, FASTEST = range(5)

STRAIGHT = 5e-7
"""Half the turn (its sine) below which a joint is no corner; as in `path._kernels`."""
TANGENT_SHARE = 0.8
"""Part of the jerk that its turning leaves an arc, given to changes of speed; the root of the rest of the square, 0.6, goes to the cross
term 3·v·a/r."""
ROUNDS = 60
"""Most steps of any root search; they end long before by their tolerance."""
FLOAT = 4e-16
"""Relative width at which a bracket holds no further float."""
CLOSE = 1e-12
"""Relative tolerance of root searches in place: well above what a float holds, far below what shows in a time."""
SLACK = 1e-9
"""Part of its way by which a ramp that was planned to fit exactly may miss it."""
FITS = 1e-4
"""mm by which ramps may miss their way before it counts as a fault of ours: a speed rounded to a float moves the end of the smallest
ramps by some 1e-5 mm, and no machine resolves 1e-4 mm."""
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
def rise_until(u: float, v: float, a: float, A: float, J: float) -> float:
    """Way until a rise from (v, a) has the speed u, still accelerating."""
    end2 = a * a + 2.0 * J * (u - v)
    end = math.sqrt(end2) if end2 > 0.0 else 0.0
    t = (min(end, A) - a) / J
    way = t * (v + t * (0.5 * a + J * t / 6.0))
    if end <= A:
        return way
    v1 = v + t * (a + 0.5 * J * t)
    return float(way + 0.5 * (u * u - v1 * v1) / A)


@njit(cache=True, nogil=True)
def reach(v: float, way: float, A: float, J: float) -> float:
    """Highest speed that a ramp from v (no acceleration at either end) reaches within a way."""
    if way <= 0.0:
        return v
    q = way * math.sqrt(J)
    p = 2.0 * v  # the root y of y³ + p·y = q is sqrt(u - v) while A is not reached
    y = float(q ** (1.0 / 3.0))
    if p * y > q:
        y = q / p
    for _ in range(ROUNDS):  # Newton from above a convex rising function: falls to the root
        step = (y * (y * y + p) - q) / (3.0 * y * y + p)
        y -= step
        if step <= CLOSE * y:
            break
    if y * y * J <= A * A:
        return v + y * y
    half = 0.5 * A * A / J
    return float(math.sqrt((v - half) ** 2 + 2.0 * A * way) - half)


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
        if abs(f) <= CLOSE * way:
            return u
        if high - low <= FLOAT * high:
            break
        if f < 0.0:
            low, f_low = u, f
            f_high *= 0.5
        else:
            high, f_high = u, f
            f_low *= 0.5
    return low


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
        if abs(f) <= CLOSE * way or high - low <= FLOAT * low:
            break
        y -= f / slope
        if not (y >= 0.0 and low <= fast + y * y <= high):
            y = (
                math.sqrt(max(0.5 * (low + high) - fast, 0.0))
                if high < math.inf
                else 2.0 * math.sqrt(low - fast) + 1e-3
            )
    return fast + y * y


@njit(cache=True, nogil=True)
def eased(end: float, u: float, v: float, a: float, A: float, J: float) -> tuple[float, float, float, float, float]:
    """Rise from (v, a), eased so as to arrive at the speed u with the acceleration `end`: times, way, and d(way)/d(end)."""
    top2 = 0.5 * (end * end + a * a) + J * (u - v)
    if top2 <= A * A:
        top = math.sqrt(max(top2, a * a))
        slope = 0.5 * end / top if top > 0.0 else 0.0  # d(top)/d(end)
        t1, t3 = (top - a) / J, (top - end) / J
        w = v + t1 * (a + 0.5 * J * t1)
        way = t1 * (v + t1 * (0.5 * a + J * t1 / 6.0)) + t3 * (w + t3 * (0.5 * top - J * t3 / 6.0))
        turn = (w + t3 * top) * slope / J + u * (slope - 1.0) / J + 0.5 * t3 * t3 * slope
        return t1, 0.0, t3, way, turn
    t1, t3 = (A - a) / J, (A - end) / J
    v1, w = v + t1 * (a + 0.5 * J * t1), u - 0.5 * (A * A - end * end) / J
    t2 = (w - v1) / A
    way = t1 * (v + t1 * (0.5 * a + J * t1 / 6.0)) + 0.5 * (v1 + w) * t2 + t3 * (w + t3 * (0.5 * A - J * t3 / 6.0))
    return t1, t2, t3, way, (w * end / A - u + t3 * end) / J


@njit(cache=True, nogil=True)
def pass_at(u: float, way: float, v: float, a: float, A: float, J: float) -> tuple[float, float, float, float]:
    """Ease off a rise from (v, a) as late as may be, so as to pass a place with the speed u, still accelerating.

    Returns the times of jerk, constant acceleration and easing, and the acceleration at the place.
    """
    low, high = (
        0.0,
        min(math.sqrt(a * a + 2.0 * J * (u - v)), A),
    )  # of the acceleration at the place: eased fully, not at all
    if J * (u - v) + 0.5 * a * a < a * a:  # eased at once it is still there
        low = math.sqrt(max(a * a - 2.0 * J * (u - v), 0.0))
    f_low, f_high = eased(low, u, v, a, A, J)[3] - way, eased(high, u, v, a, A, J)[3] - way
    end = low if f_low <= 0.0 else high
    if f_low > 0.0 > f_high:
        end = (low * f_high - high * f_low) / (f_high - f_low)
        for _ in range(ROUNDS):  # Newton, kept in its bracket
            _, _, _, there, slope = eased(end, u, v, a, A, J)
            f = there - way
            if f > 0.0:
                low = end
            else:
                high = end
            if abs(f) <= CLOSE * way or high - low <= FLOAT * high:
                break
            end = end - f / slope if slope < 0.0 else 0.5 * (low + high)
            if not low < end < high:
                end = 0.5 * (low + high)
    t1, t2, t3, _, _ = eased(end, u, v, a, A, J)
    return t1, t2, t3, end


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
        if abs(new - t) <= FLOAT * longest or abs(f) <= CLOSE * way:
            return new
        t = new
    return t


# --- limits and caps along the path --------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def arc_limits(tier: float, A: float, J: float, bend: Floats) -> tuple[float, float]:
    """Acceleration and jerk along an arc at any speed up to `tier` times its fastest, whatever way the axes lie.

    In the plane of the arc, a point with speed v and acceleration a along it feels the acceleration (a, v²/r) and the jerk
    (j - v³/r², 3·v·a/r) along and across; both vectors are kept within A and J, what the weaker axis gives. The fastest speed is where
    v²/r = A or v³/r² = J; below `tier` of it v²/r is at most tier²·A, and v³/r² at most tier³·J. Neither a higher A nor a
    higher J makes an answer smaller.
    """
    turning = tier * tier * tier
    share = TANGENT_SHARE * (1.0 - turning)
    if (
        9.0 * turning < 1.0
    ):  # a ramp of jerk J up to v never exceeds sqrt(J·v), so the cross term is at most 3·sqrt(turning)
        share = max(share, math.sqrt(1.0 - 9.0 * turning) - turning)
    cross = math.sqrt(1.0 - (turning + share) ** 2)
    fastest = (J * bend[RADIUS] * bend[RADIUS]) ** (1.0 / 3.0)
    accel = min(math.sqrt(1.0 - tier * turning) * A, cross * J * bend[RADIUS] / (3.0 * tier * fastest))
    return min(accel / bend[COSINE], bend[AXIAL_ACCEL]), min(share * J / bend[COSINE], bend[AXIAL_JERK])


@njit(cache=True, nogil=True)
def share_limits(
    hard: Bytes,
    most: Floats,
    bend: Floats,
    arc: Ints,
    commanded: Floats,
    tiers: Floats,
    shared: Floats,
    hold: Floats,
    bands: Floats,
) -> None:
    """Acceleration and jerk of each stretch, the least of its moves.

    arc i8[M]: row of `bands` for an arc, -1 for a line. tiers f8[M, B]: rising parts of an arc's fastest speed; between two of them it has the
    limits of the upper one, and above the last its speed is only held. Filled: shared f8[M, 2] (for an arc, of its last band), hold
    f8[M] speed above which speed is only held (inf for lines), bands f8[K, B, 3] greatest speed, acceleration, jerk of each band.
    """
    count = most.shape[0]
    first = 0
    while first < count:
        last = first + 1
        while last < count and hard[last] == 0:
            last += 1
        A, J, changed = math.inf, math.inf, math.inf
        for i in range(first, last):
            accel, jerk = most[i, 1], most[i, 2]
            if arc[i] >= 0:
                for b in range(tiers.shape[1]):
                    part = min(tiers[i, b], commanded[i] / bend[i, FASTEST])
                    accel, jerk = arc_limits(part, most[i, 1], most[i, 2], bend[i])
                    band = bands[arc[i], b]
                    band[0], band[1], band[2] = part * bend[i, FASTEST], accel, jerk
                changed = min(changed, bands[arc[i], tiers.shape[1] - 1, 0])
            A, J = min(A, accel), min(J, jerk)
        for i in range(first, last):
            shared[i, 0], shared[i, 1], hold[i] = A, J, changed
        first = last


@njit(cache=True, nogil=True)
def cap_moves(
    place: Floats, commanded: Floats, most: Floats, bend: Floats, rate: float, buffer: int, cap: Floats, why: Bytes
) -> None:
    """Greatest speed of each move and what sets it.

    place f8[M + 1] way before each move. rate: blocks a second (inf = boundless), averaged over as many blocks around the move as help
    it most, at most `buffer`. Filled: cap f8[M], why u1[M].
    """
    count = cap.shape[0]
    for i in range(count):
        cap[i], why[i] = commanded[i], NOTHING
        if most[i, 0] < cap[i]:
            cap[i], why[i] = most[i, 0], FEED
        if bend[i, RADIUS] > 0.0 and bend[i, FASTEST] < cap[i]:
            cap[i], why[i] = bend[i, FASTEST], ARC
        if rate * (place[i + 1] - place[i]) >= cap[i]:
            continue
        planned, half = rate * (place[i + 1] - place[i]), 1
        while 2 * half + 1 <= buffer:
            low, high = max(i - half, 0), min(i + half + 1, count)
            planned = max(planned, rate * (place[high] - place[low]) / (high - low))
            half *= 2
        if planned < cap[i]:
            cap[i], why[i] = planned, BLOCK_RATE


@njit(cache=True, nogil=True)
def cap_joints(
    joints: Floats,
    stop: Bools,
    place: Floats,
    shared: Floats,
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
            seen = reach(0.0, place[i + ahead] - place[i], A, J)
            if seen < u:
                u, reason = seen, LOOK_AHEAD
        at_joint[i], why[i] = u, reason


@njit(cache=True, nogil=True)
def gather_segments(
    hard: Bytes, arc: Ints, cap: Floats, at_joint: Floats, seg_last: Ints, seg_cap: Floats, stretch: Ints
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
        if hard[i] or arc[i] >= 0:  # an arc that cannot be joined to the one before it is a stretch of its own
            stretch[stretches] = segments
            stretches += 1
        seg_last[segments], seg_cap[segments] = i, cap[i]
        segments += 1
    stretch[stretches] = segments
    return stretches


# --- a stretch: chains of pieces ---------------------------------------------------------------------------------------------
# A side of a stretch of n segments, seen from its start or its end: (s f8[n + 1] places and cap f8[n + 1] speeds of its joints, chain
# f8[n + B, 8], joint i8[n + B], mark u1[n + B]). A row of `chain` is a piece: place, v, a at its start; times of jerk, constant
# acceleration and easing until the next piece (easing -1 where it does not ease into the next); A, J. `joint`: where each piece starts.
# `mark` of a joint: 0 the chain passes below its cap, PASSED at the cap while rising, HELD_AT at the cap without acceleration.

Side = tuple[Floats, Floats, Floats, Ints, Bytes]
PLACE, SPEED, RISING, JERKING, STEADY, EASING, ACCEL, JERKED = range(8)
PASSED, HELD_AT = 1, 2


@njit(cache=True, nogil=True)
def _start_piece(chain: Floats, joint: Ints, n: int, at: int, s: float, v: float, a: float, A: float, J: float) -> int:
    chain[n, PLACE], chain[n, SPEED], chain[n, RISING], chain[n, EASING] = s, v, a, -1.0
    chain[n, ACCEL], chain[n, JERKED] = A, J
    joint[n] = at
    return n + 1


@njit(cache=True, nogil=True)
def _lay_out(
    first: int, n: int, place: Floats, seg_last: Ints, seg_cap: Floats, at_joint: Floats, backward: bool, side: Side
) -> None:
    """Fill places and caps of a side (caps of its ends are not used)."""
    s, cap = side[0], side[1]
    start = place[seg_last[first - 1] + 1] if first > 0 else 0.0
    length = place[seg_last[first + n - 1] + 1] - start
    for k in range(n + 1):
        j = n - k if backward else k
        way = place[seg_last[first + k - 1] + 1] - start if k > 0 else 0.0
        s[j] = length - way if backward else way
        cap[j] = 0.0
        if 0 < k < n:
            cap[j] = min(at_joint[seg_last[first + k - 1] + 1], min(seg_cap[first + k - 1], seg_cap[first + k]))


@njit(cache=True, nogil=True)
def chain_up(side: Side, count: int, start: float, A: float, J: float) -> int:
    """The quickest way through `count` segments, seen from one end, at which the speed is `start`. Returns the number of pieces."""
    s, cap, chain, joint, mark = side
    n = _start_piece(chain, joint, 0, 0, s[0], start, 0.0, A, J)
    mark[0], mark[count] = HELD_AT, HELD_AT
    for k in range(1, count):
        u, p = cap[k], n - 1
        mark[k] = 0
        while True:  # find the piece that can be eased so as to meet this cap
            v, a, way = chain[p, SPEED], chain[p, RISING], s[k] - chain[p, PLACE]
            lowest = v + 0.5 * a * a / J
            if (a == 0.0 and u <= v) or (u >= lowest and rise_to(u, v, a, A, J)[3] <= way):
                n = _start_piece(chain, joint, n, k, s[k], u, 0.0, A, J)
                mark[k] = HELD_AT
                break
            if p == n - 1 and u >= v and rise_until(u, v, a, A, J) >= way:
                break  # the rise passes below the cap
            if u >= lowest or (u >= v and eased(math.sqrt(a * a - 2.0 * J * (u - v)), u, v, a, A, J)[3] >= way):
                for q in range(p + 1, n):
                    mark[joint[q]] = 0  # now passed below its cap
                t1, t2, t3, end = pass_at(u, way, v, a, A, J)
                chain[p, JERKING], chain[p, STEADY], chain[p, EASING] = t1, t2, t3
                n = _start_piece(chain, joint, p + 1, k, s[k], u, end, A, J)
                mark[k] = PASSED
                break
            p -= 1
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
def _speed_at(side: Side, n: int, k: int, A: float, J: float) -> float:
    """Speed of a chain of n pieces at joint k, which it passes below its cap."""
    s, _, chain, joint, _ = side
    p = np.searchsorted(joint[:n], k, side="right") - 1
    v, a, way = chain[p, SPEED], chain[p, RISING], s[k] - chain[p, PLACE]
    t1, t2 = (A - a) / J, math.inf
    if chain[p, EASING] >= 0.0:
        t1, t2 = chain[p, JERKING], chain[p, STEADY]
    first = t1 * (v + t1 * (0.5 * a + J * t1 / 6.0))
    if way <= first:
        t = time_of_way(way, v, a, J, t1)
        return float(v + t * (a + 0.5 * J * t))
    v, a, way = v + t1 * (a + 0.5 * J * t1), a + J * t1, way - first
    if t2 == math.inf or way <= t2 * (v + 0.5 * a * t2):
        return float(math.sqrt(v * v + 2.0 * a * way))
    way -= t2 * (v + 0.5 * a * t2)
    v += a * t2
    t = time_of_way(way, v, a, -J, chain[p, EASING])
    return float(v + t * (a - 0.5 * J * t))


@njit(cache=True, nogil=True)
def _crossing(
    left: int, right: int, wide: int, up: Side, n_up: int, down: Side, n_down: int, A: float, J: float
) -> int:
    """The joint before the segment in which the chain from the start begins to exceed the one from the end."""
    low, high = left, right
    while high - low > 1:
        mid = (low + high) // 2
        capped_up, capped_down = up[4][mid], down[4][wide - mid]
        if capped_up == 0 and capped_down == 0:
            beyond = _speed_at(down, n_down, wide - mid, A, J) < _speed_at(up, n_up, mid, A, J)
        else:
            beyond = capped_down == 0 or (capped_up != 0 and capped_down == PASSED)
        if beyond:
            high = mid
        else:
            low = mid
    return low


@njit(cache=True, nogil=True)
def _gap(u: float, up: Floats, p: int, down: Floats, q: int, length: float, A: float, J: float) -> float:
    """Way left at the top speed u between the ramp up from piece p and the ramp down to piece q."""
    ahead = up[p, PLACE] + rise_to(u, up[p, SPEED], up[p, RISING], A, J)[3]
    return float(length - ahead - down[q, PLACE] - rise_to(u, down[q, SPEED], down[q, RISING], A, J)[3])


@njit(cache=True, nogil=True)
def _lowest_top(piece: Floats, J: float) -> float:
    """Speed of a piece that is eased at once."""
    return float(piece[SPEED] + 0.5 * piece[RISING] ** 2 / J)


@njit(cache=True, nogil=True)
def meet(
    up: Floats, p: int, down: Floats, q: int, length: float, base_p: int, base_q: int, A: float, J: float
) -> tuple[int, int, float]:
    """Bridge two chains by one ease that touches both: the pieces it touches, and its top speed.

    `down` is the chain from the end, in places counted from there; pieces p and q are those at the crossing, base_p and base_q the ones
    to stop at.
    """
    while True:
        low_p, low_q = _lowest_top(up[p], J), _lowest_top(down[q], J)
        low = max(low_p, low_q)
        f_low = _gap(low, up, p, down, q, length, A, J)
        if f_low >= -SLACK * length:
            break
        if p > base_p and (low_p >= low_q or q == base_q):
            p -= 1
        elif q > base_q:
            q -= 1
        else:
            break
    if f_low <= 0.0:
        return p, q, low  # the ramp fits exactly; what is missing is rounding
    if up[p, RISING] == 0.0 and down[q, RISING] == 0.0:
        return p, q, top_between(up[p, SPEED], down[q, SPEED], length - up[p, PLACE] - down[q, PLACE], A, J)
    high = max(2.0 * low, 1e-6)
    f_high = _gap(high, up, p, down, q, length, A, J)
    while f_high > 0.0:
        low, f_low = high, f_high
        high *= 2.0
        f_high = _gap(high, up, p, down, q, length, A, J)
    for _ in range(ROUNDS):
        u = (low * f_high - high * f_low) / (f_high - f_low)
        if not low <= u <= high:
            u = 0.5 * (low + high)
        f = _gap(u, up, p, down, q, length, A, J)
        if abs(f) <= CLOSE * length:
            return p, q, u
        if high - low <= FLOAT * high:
            break
        if f > 0.0:
            low, f_low = u, f
            f_high *= 0.5
        else:
            high, f_high = u, f
            f_low *= 0.5
    return p, q, low


# --- an arc: bands of speed -----------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def reach_on_arc(v: float, way: float, bands: Floats) -> float:
    """Highest speed that ramps from v, one a band, reach within a way."""
    for b in range(bands.shape[0]):
        if bands[b, 0] > v:
            whole = rise_to(bands[b, 0], v, 0.0, bands[b, 1], bands[b, 2])[3]
            if whole > way:
                return reach(v, way, bands[b, 1], bands[b, 2])
            v, way = bands[b, 0], way - whole
    return v


@njit(cache=True, nogil=True)
def top_on_arc(v0: float, v1: float, way: float, most: float, bands: Floats) -> float:
    """Top speed up to `most` of ramps up from v0 and down to v1 that fill a way at most."""
    fast, slow = max(v0, v1), min(v0, v1)
    for b in range(bands.shape[0]):
        A, J, top = bands[b, 1], bands[b, 2], min(bands[b, 0], most)
        if top <= slow:
            continue
        if top <= fast:
            way -= rise_to(top, slow, 0.0, A, J)[3]
            slow = top
            continue
        both = rise_to(top, slow, 0.0, A, J)[3] + rise_to(top, fast, 0.0, A, J)[3]
        if both > way:
            if rise_to(fast, slow, 0.0, A, J)[3] >= way:
                return fast
            return float(min(top_between(slow, fast, way, A, J), top))
        slow, fast, way = top, top, way - both
    return fast


@njit(cache=True, nogil=True)
def chain_on_arc(v: float, top: float, bands: Floats, chain: Floats, joint: Ints) -> int:
    """Ramps from v to the top, one a band, as pieces of a chain. Returns their number."""
    n, s = 0, 0.0
    for b in range(bands.shape[0]):
        u = min(bands[b, 0], top)
        if u > v or (n == 0 and b == bands.shape[0] - 1):
            n = _start_piece(chain, joint, n, 0, s, v, 0.0, bands[b, 1], bands[b, 2])
            t1, t2, t3, way = rise_to(max(u, v), v, 0.0, bands[b, 1], bands[b, 2])
            chain[n - 1, JERKING], chain[n - 1, STEADY], chain[n - 1, EASING] = t1, t2, t3
            v, s = max(u, v), s + way
    return n


# --- playing phases of constant jerk ------------------------------------------------------------------------------------------
# A tape: (now f8[5] time, place, speed, acceleration, 1 if the acceleration has been A; at i8[3] next move to end, phases, room for
# them; ends f8[M] place at which each move ends; time f8[M], filled; phases f8[P, 5], filled).

Tape = tuple[Floats, Ints, Floats, Floats, Floats]
TIME, WHERE, FAST, PUSH, FULL_PUSH = range(5)
MOVE, PHASES, ROOM = range(3)


@njit(cache=True, nogil=True)
def _play(span: float, j: float, last: int, tape: Tape) -> None:
    """Run one phase, and set the time of every move before `last` that ends in it."""
    if span <= 0.0:
        return
    now, at, ends, time, phases = tape
    t, s, v, a = now[TIME], now[WHERE], now[FAST], now[PUSH]
    way = span * (v + span * (0.5 * a + span * j / 6.0))
    while at[MOVE] < last and ends[at[MOVE]] <= s + way:
        time[at[MOVE]] = t + time_of_way(ends[at[MOVE]] - s, v, a, j, span)
        at[MOVE] += 1
    if at[PHASES] < at[ROOM]:
        row = phases[at[PHASES]]
        row[0], row[1], row[2], row[3], row[4] = t, s, v, a, j
    at[PHASES] += 1
    now[TIME], now[WHERE] = t + span, s + way
    now[FAST] = max(v + span * (a + 0.5 * span * j), 0.0)
    now[PUSH] = a + span * j


@njit(cache=True, nogil=True)
def _play_chain(chain: Floats, base: int, q: int, u: float, down: bool, last: int, tape: Tape) -> None:
    """Pieces `base` to q of a chain, the last one eased to u. A chain seen from the end runs backward in time, which turns the order
    but leaves each jerk as it is."""
    now = tape[0]
    for n in range(q - base + 1):
        k = q - n if down else base + n
        t1, t2, t3, J = chain[k, JERKING], chain[k, STEADY], chain[k, EASING], chain[k, JERKED]
        if k == q:
            t1, t2, t3, _ = rise_to(u, chain[k, SPEED], chain[k, RISING], chain[k, ACCEL], J)
        if t2 > 0.0:
            now[FULL_PUSH] = 1.0
        _play(t3 if down else t1, -J if down else J, last, tape)
        _play(t2, 0.0, last, tape)
        _play(t1 if down else t3, J if down else -J, last, tape)
    now[FAST], now[PUSH] = (chain[base, SPEED] if down else u), 0.0


@njit(cache=True, nogil=True)
def _play_hop(
    up: Floats, base_p: int, p: int, down: Floats, base_q: int, q: int, top: float, end: float, final: int, tape: Tape
) -> bool:
    """Play up to the top, along it and down to the joint at which move `final` ends; the stretch ends at the place `end`.

    Returns whether the ramps fit.
    """
    now, at, ends, time, _ = tape
    now[FULL_PUSH] = 0.0
    t1, t2, t3, way = rise_to(top, down[q, SPEED], down[q, RISING], down[q, ACCEL], down[q, JERKED])
    rest = end - down[q, PLACE] - way
    if (
        at[MOVE] == final and at[ROOM] == 0 and base_p == p and base_q == q
    ):  # one move, one ramp each way: only their times matter
        now[TIME] += t1 + t2 + t3
        now[FULL_PUSH] = t2
        t1, t2, t3, way = rise_to(top, up[p, SPEED], 0.0, up[p, ACCEL], up[p, JERKED])
        rest -= now[WHERE] + way
        now[TIME] += t1 + t2 + t3 + (max(rest, 0.0) / top if top > 0.0 else 0.0)
        now[FULL_PUSH] += t2
        now[FAST], now[PUSH] = down[q, SPEED], 0.0
        at[PHASES] += 7  # at most
    else:
        _play_chain(up, base_p, p, top, False, final, tape)
        rest -= now[WHERE]
        if rest > 0.0 and top > 0.0:
            _play(rest / top, 0.0, final, tape)
        _play_chain(down, base_q, q, top, True, final, tape)
    while at[MOVE] <= final:  # the last move, and what rounding left over
        time[at[MOVE]] = now[TIME]
        at[MOVE] += 1
    now[WHERE] = ends[final]
    return bool(rest >= -FITS)


# --- the plan -------------------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def _new_side(n: int) -> Side:
    return np.empty(n), np.empty(n), np.empty((n, 8)), np.empty(n, np.int64), np.empty(n, np.uint8)


@njit(cache=True, nogil=True)
def settle_knots(
    stretch: Ints,
    seg_last: Ints,
    seg_cap: Floats,
    place: Floats,
    arc: Ints,
    shared: Floats,
    bands: Floats,
    at_joint: Floats,
    side: Side,
    knot: Floats,
) -> None:
    """Speeds at the hard joints: forward what can be reached from rest, backward what can be stopped from. Filled: knot."""
    stretches = knot.shape[0] - 1
    knot[0] = 0.0
    for n in range(stretches):
        after = stretch[n + 1]
        knot[n + 1] = min(at_joint[seg_last[after - 1] + 1], seg_cap[after - 1])
        if n + 1 < stretches:
            knot[n + 1] = min(knot[n + 1], seg_cap[after])
    for turn in range(2 * stretches):
        backward = turn >= stretches
        n = 2 * stretches - 1 - turn if backward else turn
        here, there = (n + 1, n) if backward else (n, n + 1)
        v, u = knot[here], knot[there]
        first, wide = stretch[n], stretch[n + 1] - stretch[n]
        begin = seg_last[first - 1] + 1 if first > 0 else 0
        A, J, length = shared[begin, 0], shared[begin, 1], place[seg_last[first + wide - 1] + 1] - place[begin]
        if wide > 1:
            _lay_out(first, wide, place, seg_last, seg_cap, at_joint, backward, side)
            pieces = chain_up(side, wide, v, A, J)
            u = end_of_chain(side[2], pieces, length, u, A, J)
        elif u > v and arc[begin] >= 0:
            u = min(u, reach_on_arc(v, length, bands[arc[begin]]))
        elif u > v:
            u = min(u, reach(v, length, A, J))
        knot[there] = u


@njit(cache=True, nogil=True)
def _reason(why_left: int, v_left: float, why_right: int, v_right: float, full_push: float) -> int:
    """What the slower end of a hop says; an end that the program itself slows leaves it to the ramp."""
    why = why_left
    if v_right < v_left or (v_right == v_left and why_right > why_left):
        why = why_right
    if why == NOTHING:
        why = ACCELERATION if full_push > 0.0 else JERK
    return why


@njit(cache=True, nogil=True)
def _play_stretch(
    first: int,
    wide: int,
    seg_last: Ints,
    seg_cap: Floats,
    up: Side,
    n_up: int,
    down: Side,
    n_down: int,
    A: float,
    J: float,
    end: float,
    length: float,
    why_joint: Bytes,
    why: Bytes,
    tape: Tape,
) -> bool:
    """Play a stretch hop by hop, from one joint that caps both its chains to the next."""
    fits, left, base_p = True, 0, 0
    now, at = tape[0], tape[1]
    while left < wide:
        right = left + 1
        while right < wide and not (up[4][right] == HELD_AT and down[4][wide - right] == HELD_AT):
            right += 1
        base_q = int(np.searchsorted(down[3][:n_down], wide - right)) if wide > 1 else 0
        p, q = base_p, base_q
        if right - left == 1:
            most = top = seg_cap[first + left]
            if _gap(most, up[2], p, down[2], q, length, A, J) < 0.0:
                p, q, top = meet(up[2], p, down[2], q, length, p, q, A, J)
                top = min(top, most)
        else:
            cross = _crossing(left, right, wide, up, n_up, down, n_down, A, J)
            p = int(np.searchsorted(up[3][:n_up], cross, side="right") - 1)
            q = int(np.searchsorted(down[3][:n_down], wide - cross - 1, side="right") - 1)
            p, q, top = meet(up[2], p, down[2], q, length, base_p, base_q, A, J)
            apex = up[2][p, PLACE] + rise_to(top, up[2][p, SPEED], up[2][p, RISING], A, J)[3]
            seg = int(np.searchsorted(up[0][: wide + 1], apex, side="right") - 1)
            most = seg_cap[first + min(max(seg, left), right - 1)]
            if top > most:  # hold at the cap of the segment it lies in
                top = most
                while p > base_p and _lowest_top(up[2][p], J) > top:
                    p -= 1
                while q > base_q and _lowest_top(down[2][q], J) > top:
                    q -= 1
        final, begin = seg_last[first + right - 1], at[MOVE]
        fits &= _play_hop(up[2], base_p, p, down[2], base_q, q, top, end, final, tape)
        v_left, v_right = up[2][base_p, SPEED], down[2][base_q, SPEED]
        why[begin : final + 1] = _reason(why_joint[begin], v_left, why_joint[final + 1], v_right, now[FULL_PUSH])
        left = right
        if left < wide:
            base_p = int(np.searchsorted(up[3][:n_up], left))
    return fits


@njit(cache=True, nogil=True)
def _play_arc(
    v0: float, v1: float, cap: float, hold: float, bands: Floats, up: Side, down: Side, end: float, length: float, final: int, tape: Tape
) -> bool:  # fmt: skip
    """Play an arc between two speeds."""
    top = max(v0, v1)
    if top < min(cap, hold):
        top = top_on_arc(v0, v1, length, min(cap, hold), bands)
    p = chain_on_arc(v0, top, bands, up[2], up[3]) - 1
    q = chain_on_arc(v1, top, bands, down[2], down[3]) - 1
    return _play_hop(up[2], 0, p, down[2], 0, q, top, end, final, tape)


@njit(cache=True, nogil=True)
def plan_path(
    place: Floats,
    hard: Bytes,
    arc: Ints,
    shared: Floats,
    hold: Floats,
    bands: Floats,
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
    Returns the number of phases (if P = 0, the most there can be), or -1 if ramps were planned that do not fit (a fault of ours).
    """
    count = cap.shape[0]
    seg_last, seg_cap, stretch = np.empty(count, np.int64), np.empty(count), np.empty(count + 1, np.int64)
    stretches = gather_segments(hard, arc, cap, at_joint, seg_last, seg_cap, stretch)
    widest = 1
    for n in range(stretches):
        widest = max(widest, stretch[n + 1] - stretch[n])
    room = widest + bands.shape[1] + 1
    knot, up, down = np.empty(stretches + 1), _new_side(room), _new_side(room)
    settle_knots(stretch, seg_last, seg_cap, place, arc, shared, bands, at_joint, up, knot)
    tape = np.zeros(5), np.zeros(3, np.int64), place[1:], time, phases
    now, at = tape[0], tape[1]
    at[ROOM] = phases.shape[0]
    fits = True
    for n in range(stretches):
        first, wide = stretch[n], stretch[n + 1] - stretch[n]
        begin, last = (seg_last[first - 1] + 1 if first > 0 else 0), seg_last[first + wide - 1]
        A, J, end = shared[begin, 0], shared[begin, 1], place[last + 1]
        length, v0, v1 = end - place[begin], knot[n], knot[n + 1]
        if arc[begin] >= 0:
            fits &= _play_arc(v0, v1, seg_cap[first], hold[begin], bands[arc[begin]], up, down, end, length, last, tape)
            why[begin : last + 1] = _reason(why_joint[begin], v0, why_joint[last + 1], v1, now[FULL_PUSH])
            continue
        n_up = _start_piece(up[2], up[3], 0, 0, 0.0, v0, 0.0, A, J)
        n_down = _start_piece(down[2], down[3], 0, 0, 0.0, v1, 0.0, A, J)
        if wide > 1:
            _lay_out(first, wide, place, seg_last, seg_cap, at_joint, True, down)
            n_down = chain_up(down, wide, v1, A, J)
            _lay_out(first, wide, place, seg_last, seg_cap, at_joint, False, up)
            n_up = chain_up(up, wide, v0, A, J)
        fits &= _play_stretch(
            first, wide, seg_last, seg_cap, up, n_up, down, n_down, A, J, end, length, why_joint, why, tape
        )
    return int(at[PHASES]) if fits else -1


KERNELS: tuple[Any, ...] = (share_limits, cap_moves, cap_joints, plan_path)
"""What `plan` calls; a test counts that each is compiled for one kind of arrays only."""
