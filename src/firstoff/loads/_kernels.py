"""The fast layer of loads: what every engaged station costs, sums over windows of time, and arrays for pictures.

The turn is cut into 180 *places* of 2 degrees, numbered the way an edge runs through them: place 0 begins where an edge enters the front
half of the cutter, place 89 ends where it leaves it. An edge with helix stands at place p at the bottom of the straight part and at
p - lag·z above it. What one edge feels is spread over the places of its *bottom*; sums over all edges and the search for peaks then need no
slices along the axis, and a helix shifts load between places but adds none.

With run-out one edge, the *worst*, cuts more than the others; what it leaves them they share evenly. `law` f8[L, 8] holds forces of one edge
per mm of its length by c, the chip that an even cutter would have: row u for c = top·(u/(L - 1))².

Frame: x along the way seen from above, y to its left, z up; forces are those on the part. Symbols: c chip, mm; b length of edge in
material, mm; r radius, mm; n normal of the edge, f unit vector of the way. Arrays marked "filled" are outputs. Single precision is widened
by np.float64: the compiler leaves float() of it single.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Floats4 = NDArray[np.float32]
Ints = NDArray[np.int64]
Ints4 = NDArray[np.int32]
Bytes1 = NDArray[np.int8]

TURN = 180
"""Places of a turn."""
HALF = 90
"""Places of its front half: `removal.swept.ANGLES`."""
PLACE = 2.0 * math.pi / TURN

# Columns of `law`: cutting force and edge force of the mean edge, its derivative to mc; cutting force of the worst edge, its derivatives to
# mc and to ln(run-out); cutting force without run-out and its derivative to mc.
MEAN, MEAN_EDGE, MEAN_MC, WORST, WORST_MC, WORST_RUN, PLAIN, PLAIN_MC = range(8)

# `tool`: edges, places of lag per mm of height, height and radius of the straight part's lower end, radius of the flat end, greatest chip of
# `law`, edge force of an edge that cuts, sense of turning (+1 clockwise seen from above), way of the helix (+1 lifts), rings of the end face
# that lie on its flat.
EDGES, LAG, STRAIGHT_Z, STRAIGHT_R, END_R, TOP, EDGE_FORCE, SENSE, HAND, FLAT_RINGS = range(10)

# `ratio`: radial and axial force over tangential, of the cutting force and of the edge force.
RADIAL, RADIAL_EDGE, AXIAL, AXIAL_EDGE = range(4)

# Columns of `out`; see `station_loads`.
TORQUE, TORQUE_MC, TORQUE_EDGE, FORCE_X, FORCE_Y, FORCE_Z, LIFT_AXIAL, PEAK_TORQUE, PEAK_FORCE, LEVER, PEAK_MC = range(
    11
)
WALL, WALL_RADIAL, WALL_MC, WALL_RUN, WALL_EDGE, WALL_LEVER, MOST, AREA = range(11, 19)
COLUMNS = 19

LEFT, RIGHT = 1, 2
"""Bits of `making`."""
LEAST_SHARE = 1e-6
"""n·f below which an edge slides along and cuts nothing."""
NEAR_TANGENT = 30
"""Places from the tangent (60 degrees) within which the material beside the wall that is made is looked for."""

DIRECTION = np.stack(
    [np.cos((np.arange(TURN) + 0.5) * PLACE - math.pi), np.sin((np.arange(TURN) + 0.5) * PLACE - math.pi)], axis=1
)
"""f8[TURN, 2]: cosine and sine of the middle of each bin of `Engagement.end`, from -180 degrees."""
WIDE = np.stack(
    [
        np.cos((np.arange(HALF // 2) + 0.5) * 2 * PLACE - math.pi / 2),
        np.sin((np.arange(HALF // 2) + 0.5) * 2 * PLACE - math.pi / 2),
    ],
    axis=1,
)
"""f8[HALF / 2, 2]: the same of pairs of bins of the front half, from -90 degrees."""
_MIDDLES = (np.arange(TURN // 2) + 0.5) * 2 * PLACE - math.pi
BEHIND = np.stack([np.cos(_MIDDLES), np.sin(_MIDDLES)], axis=1)
"""f8[TURN / 2, 2]: the same of pairs of bins of the whole turn, from -180 degrees."""


@njit(cache=True, nogil=True)
def _radius_at(profile: Floats, z: float) -> float:
    """Radius of the profile f8[P, 2] (height, radius), heights never falling."""
    last = profile.shape[0] - 1
    low, high = 0, last
    if z <= profile[0, 0]:
        return float(profile[0, 1])
    if z >= profile[last, 0]:
        return float(profile[last, 1])
    while high - low > 1:
        middle = (low + high) // 2
        if profile[middle, 0] < z:
            low = middle
        else:
            high = middle
    span = profile[high, 0] - profile[low, 0]
    return float(profile[low, 1] + (z - profile[low, 0]) / span * (profile[high, 1] - profile[low, 1]))


@njit(cache=True, nogil=True)
def _height_at(profile: Floats, r: float) -> float:
    """Height of the profile at a radius, for a profile whose radii never fall."""
    last = profile.shape[0] - 1
    if r <= profile[0, 1]:
        return float(profile[0, 0])
    for i in range(last):
        if r <= profile[i + 1, 1]:
            span = profile[i + 1, 1] - profile[i, 1]
            return float(profile[i, 0] + (r - profile[i, 1]) / span * (profile[i + 1, 0] - profile[i, 0]))
    return float(profile[last, 0])


# --- what one edge feels, by the place of its bottom --------------------------------------------------------------------------

# Columns of `one` and `rate` f8[places, LOADS]: torque, force along and across of the worst edge, and of each other.
W_TORQUE, W_X, W_Y, O_TORQUE, O_X, O_Y = range(6)
LOADS = 6


@njit(cache=True, nogil=True)
def _fold(rate: Floats, one: Floats, pad: int, first: int, used: int, folded: Floats) -> None:
    """One edge's load over the places of a whole turn, from what was laid into `first` .. `used` - 1. Filled: folded f8[TURN, LOADS];
    `rate` and `one` are cleared."""
    folded[:, :] = 0.0
    place = (first - pad) % TURN
    for i in range(first, used):
        for k in range(LOADS):
            folded[place, k] += rate[i, k] + one[i, k]
            rate[i + 1, k] += rate[i, k]
            rate[i, k] = 0.0
            one[i, k] = 0.0
        place = place + 1 if place + 1 < TURN else 0
    for k in range(LOADS):
        rate[used, k] = 0.0


@njit(cache=True, nogil=True)
def _sum_edges(folded: Floats, edges: int, total: Floats) -> None:
    """Load of all edges by the place of the worst; of the worst alone for one edge. Filled: total f8[TURN, 3]."""
    for p in range(TURN):
        for k in range(3):
            total[p, k] = folded[p, k]
    for j in range(1, edges):
        shift = int(j * TURN / edges + 0.5)
        for p in range(TURN - shift):
            for k in range(3):
                total[p, k] += folded[p + shift, k + 3]
        for p in range(TURN - shift, TURN):
            for k in range(3):
                total[p, k] += folded[p + shift - TURN, k + 3]


# --- pieces of edge in material ----------------------------------------------------------------------------------------------

# Columns of `table` f8[pieces, TABLE]: place, direction, height of the lower end and extent (0 = a point), length and radius, radial and
# downward part of the normal, whether force drags along it (not on a flat end), n·f, places it is wide (bins in pairs).
T_PLACE, T_COS, T_SIN, T_LOW, T_TALL, T_LENGTH, T_RADIUS, T_UPRIGHT, T_LEVEL, T_AXIAL, T_SHARE, T_WIDTH = range(12)
TABLE = 12

# Columns of `part` f8[pieces, PARTS], kept where a moment of the turn is looked at closely: place, height of the lower end and extent,
# direction; cutting force of the worst edge and of each other, edge force of both, derivatives (mc: worst, other; run-out: worst);
# horizontal outward force over tangential (cutting, edge) and the radial part of it.
AT, LOW, TALL, COS, SIN, CUT_W, CUT_O, EDGE_W, EDGE_O, MC_W, MC_O, RUN_W, OUT, OUT_EDGE, OUT_RADIAL = range(15)
PARTS = 15

# Sums over one station, f8[SUMS]: torque, its derivative to mc and edge part, force x, y, z, axial part of z, tangential force and its
# moment about the tip, greatest n·f, area.
S_TORQUE, S_MC, S_EDGE, S_X, S_Y, S_Z, S_AXIAL, S_FORCE, S_MOMENT, S_MOST, S_AREA = range(11)
SUMS = 11


@njit(cache=True, nogil=True)
def _side_pieces(side: Floats4, flat: float, tool: Floats, table: Floats) -> int:
    """Pieces of the straight edge in material; returns how many."""
    count, low, radius, clockwise = 0, tool[STRAIGHT_Z], tool[STRAIGHT_R], tool[SENSE] > 0.0
    for k in range(HALF):
        height, share = np.float64(side[k]), flat * DIRECTION[k + HALF // 2, 0]
        if height <= 0.0 or share < LEAST_SHARE:
            continue
        table[count, T_PLACE] = HALF - 1 - k if clockwise else k
        table[count, T_COS], table[count, T_SIN] = DIRECTION[k + HALF // 2, 0], DIRECTION[k + HALF // 2, 1]
        table[count, T_LOW], table[count, T_TALL], table[count, T_LENGTH], table[count, T_RADIUS] = (
            low,
            height,
            height,
            radius,
        )
        table[count, T_UPRIGHT], table[count, T_LEVEL], table[count, T_AXIAL] = 1.0, 0.0, 1.0
        table[count, T_SHARE], table[count, T_WIDTH] = share, 1.0
        count += 1
    return count


@njit(cache=True, nogil=True)
def _slope_pieces(
    slope: Floats4, slope_z: Floats4, profile: Floats, flat: float, climb: float, tool: Floats, table: Floats, count: int
) -> int:  # fmt: skip
    """Pieces of the sloped edge in material; returns how many there are now.

    Each slice counts as the chord of the profile between its heights. Two slices and two bins make one piece: its normal times length is the
    sum of theirs, and so is the area that it sweeps.
    """
    clockwise = tool[SENSE] > 0.0
    for s in range(0, slope.shape[0], 2):
        z0, z1, z2 = np.float64(slope_z[s]), np.float64(slope_z[s + 1]), np.float64(slope_z[s + 2])
        if z2 <= z0:
            continue
        r0, r1, r2 = _radius_at(profile, z0), _radius_at(profile, z1), _radius_at(profile, z2)
        low_long, high_long = math.sqrt((z1 - z0) ** 2 + (r1 - r0) ** 2), math.sqrt((z2 - z1) ** 2 + (r2 - r1) ** 2)
        for k in range(HALF // 2):
            low = 0.5 * (np.float64(slope[s, 2 * k]) + np.float64(slope[s, 2 * k + 1]))
            high = 0.5 * (np.float64(slope[s + 1, 2 * k]) + np.float64(slope[s + 1, 2 * k + 1]))
            if low + high <= 0.0:
                continue
            low_sweeps = low * (flat * WIDE[k, 0] * (z1 - z0) - climb * (r1 - r0))  # length times n·f
            high_sweeps = high * (flat * WIDE[k, 0] * (z2 - z1) - climb * (r2 - r1))
            low *= low_sweeps >= LEAST_SHARE * low_long
            high *= high_sweeps >= LEAST_SHARE * high_long
            length = low * low_long + high * high_long
            if length <= 0.0:
                continue
            low_sweeps, high_sweeps = max(low_sweeps, 0.0), max(high_sweeps, 0.0)
            sweeps = low_sweeps + high_sweeps
            table[count, T_PLACE] = HALF - 2 - 2 * k if clockwise else 2 * k
            table[count, T_COS], table[count, T_SIN] = WIDE[k, 0], WIDE[k, 1]
            table[count, T_LOW] = 0.5 * (low * low_long * (z0 + z1) + high * high_long * (z1 + z2)) / length
            table[count, T_TALL], table[count, T_LENGTH], table[count, T_WIDTH] = 0.0, length, 2.0
            table[count, T_RADIUS] = 0.5 * (low_sweeps * (r0 + r1) + high_sweeps * (r1 + r2)) / sweeps
            table[count, T_UPRIGHT] = (low * (z1 - z0) + high * (z2 - z1)) / length
            table[count, T_LEVEL] = (low * (r1 - r0) + high * (r2 - r1)) / length
            table[count, T_AXIAL], table[count, T_SHARE] = 1.0, sweeps / length
            count += 1
    return count


@njit(cache=True, nogil=True)
def _end_pieces(
    end: Floats4, reach: float, profile: Floats, flat: float, climb: float, tool: Floats, table: Floats, count: int
) -> int:  # fmt: skip
    """Pieces of the end face's edges in material where the tool goes down: of the flat all round, its rings together, and of what slopes
    behind the axis, ring by ring; bins in pairs. Returns how many there are now.

    Rings as `removal.profile.ring_radii` parts them; `reach`: radius to which the slope is engaged.
    """
    rings, inner = end.shape[0], int(tool[FLAT_RINGS])
    wide = tool[END_R] / inner if inner > 0 else 0.0
    if -climb >= LEAST_SHARE:
        for k in range(TURN // 2):
            length, moment = 0.0, 0.0
            for ring in range(inner):
                piece = 0.5 * (np.float64(end[ring, 2 * k]) + np.float64(end[ring, 2 * k + 1])) * wide
                length += piece
                moment += piece * (ring + 0.5) * wide
            if length > 0.0:
                _end_piece(table, count, k, tool[SENSE] > 0.0, 0.0, length, moment / length, 0.0, 1.0, -climb)
                count += 1
    if inner == rings:
        return count
    wide = (max(reach, tool[END_R]) - tool[END_R]) / (rings - inner)
    for ring in range(inner, rings):
        r0 = tool[END_R] + wide * (ring - inner)
        r1 = r0 + wide
        rise, height = _height_at(profile, r1) - _height_at(profile, r0), _height_at(profile, 0.5 * (r0 + r1))
        length = math.sqrt(wide * wide + rise * rise)
        if length <= 0.0:
            continue
        upright, level = rise / length, wide / length
        for k in range(TURN // 2):
            in_stock = 0.5 * (np.float64(end[ring, 2 * k]) + np.float64(end[ring, 2 * k + 1]))
            share = flat * BEHIND[k, 0] * upright - climb * level
            if in_stock > 0.0 and share >= LEAST_SHARE:
                _end_piece(
                    table,
                    count,
                    k,
                    tool[SENSE] > 0.0,
                    height,
                    in_stock * length,
                    0.5 * (r0 + r1),
                    upright,
                    level,
                    share,
                )
                count += 1
    return count


@njit(cache=True, nogil=True)
def _end_piece(
    table: Floats, row: int, k: int, clockwise: bool, height: float, length: float, radius: float, upright: float, level: float, share: float
) -> None:  # fmt: skip
    """Fill one row of the pieces for the pair k of bins of `Engagement.end`."""
    place = HALF + HALF // 2 - 2 - 2 * k if clockwise else 2 * k - HALF // 2
    table[row, T_PLACE] = place if place >= 0 else place + TURN
    table[row, T_COS], table[row, T_SIN] = BEHIND[k, 0], BEHIND[k, 1]
    table[row, T_LOW], table[row, T_TALL], table[row, T_LENGTH], table[row, T_RADIUS] = height, 0.0, length, radius
    table[row, T_UPRIGHT], table[row, T_LEVEL], table[row, T_AXIAL] = upright, level, 1.0 if upright > 0.0 else 0.0
    table[row, T_SHARE], table[row, T_WIDTH] = share, 2.0


@njit(cache=True, nogil=True)
def _add_up(
    table: Floats, count: int, chip: float, law: Floats, tool: Floats, ratio: Floats, load: Floats, sums: Floats
) -> None:  # fmt: skip
    """Forces of all pieces. Filled: sums f8[SUMS] over them, load f8[count, LOADS] what the worst edge and each other feel there.

    Everything is in one loop: calls with this many arrays cost more than the sums.
    """
    edges, sense, top, hand = tool[EDGES], tool[SENSE], tool[TOP], tool[HAND]
    last, alone, others = law.shape[0] - 1, tool[EDGES] < 2.0, max(tool[EDGES] - 1.0, 1.0)
    torque, torque_mc, torque_edge, force, moment, most, area = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    fx, fy, fz, axial_z = 0.0, 0.0, 0.0, 0.0
    for i in range(count):
        b, r, width = table[i, T_LENGTH], table[i, T_RADIUS], table[i, T_WIDTH]
        upright, level, share = table[i, T_UPRIGHT], table[i, T_LEVEL], table[i, T_SHARE]
        cosine, sine = table[i, T_COS], table[i, T_SIN]
        # forces by chip
        c = chip * share
        x = math.sqrt(c / top) * last if c < top else last * 1.0
        row = min(int(x), last - 1)
        up = min(
            (x * x - row * row) / (2.0 * row + 1.0), 1.0
        )  # evenly in c, so that force in proportion to chip is exact
        down = 1.0 - up
        cut = (down * law[row, MEAN] + up * law[row + 1, MEAN]) * b
        edge = (down * law[row, MEAN_EDGE] + up * law[row + 1, MEAN_EDGE]) * b
        by_mc = (down * law[row, MEAN_MC] + up * law[row + 1, MEAN_MC]) * b
        cut_w = (down * law[row, WORST] + up * law[row + 1, WORST]) * b
        if upright < 1.0:
            plain = (down * law[row, PLAIN] + up * law[row + 1, PLAIN]) * b
            plain_mc = (down * law[row, PLAIN_MC] + up * law[row + 1, PLAIN_MC]) * b
            cut += (1.0 - upright) * (plain - cut)
            by_mc += (1.0 - upright) * (plain_mc - by_mc)
            cut_w += (1.0 - upright) * (plain - cut_w)
        edge_w = tool[EDGE_FORCE] * b
        cut_o = 0.0 if alone else max(0.0, (edges * cut - cut_w) / others)
        edge_o = 0.0 if alone else max(0.0, (edges * edge - edge_w) / others)
        # sums over the turn
        drag = table[i, T_AXIAL] * hand
        out = ratio[RADIAL] * upright + ratio[AXIAL] * level * drag
        out_edge = ratio[RADIAL_EDGE] * upright + ratio[AXIAL_EDGE] * level * drag
        both, outward = (cut + edge) * width, (out * cut + out_edge * edge) * width
        torque += both * r
        torque_mc += by_mc * r * width
        torque_edge += edge * r * width
        fx += sense * sine * both + cosine * outward
        fy += sine * outward - sense * cosine * both
        dragged = drag * upright * (ratio[AXIAL] * cut + ratio[AXIAL_EDGE] * edge) * width
        axial_z += dragged
        fz += dragged - level * (ratio[RADIAL] * cut + ratio[RADIAL_EDGE] * edge) * width
        force += both
        moment += both * (table[i, T_LOW] + 0.5 * table[i, T_TALL])
        most = max(most, share)
        area += b * r * share * width
        # one edge at this place
        both, outward = cut_w + edge_w, out * cut_w + out_edge * edge_w
        load[i, W_TORQUE], load[i, W_X] = both * r, sense * sine * both + cosine * outward
        load[i, W_Y] = sine * outward - sense * cosine * both
        both, outward = cut_o + edge_o, out * cut_o + out_edge * edge_o
        load[i, O_TORQUE], load[i, O_X] = both * r, sense * sine * both + cosine * outward
        load[i, O_Y] = sine * outward - sense * cosine * both
    sums[S_TORQUE], sums[S_MC], sums[S_EDGE], sums[S_X], sums[S_Y], sums[S_Z] = (
        torque,
        torque_mc,
        torque_edge,
        fx,
        fy,
        fz,
    )
    sums[S_AXIAL], sums[S_FORCE], sums[S_MOMENT], sums[S_MOST], sums[S_AREA] = (
        axial_z,
        force,
        moment,
        most,
        area * PLACE,
    )


@njit(cache=True, nogil=True)
def _lay_out(
    table: Floats, count: int, load: Floats, tool: Floats, pad: int, rate: Floats, one: Floats, span: Ints
) -> None:
    """Spread what one edge feels at each piece over the places of its bottom. Filled: span i8[2], first place used and end of them.

    A straight piece stands at one place while its bottom runs through lag · height further ones: `one` takes the two ends of that, `rate`
    (differences, summed up later) the even middle. A point stands there while its bottom lies between two places.
    """
    lag, low, high = tool[LAG], one.shape[0], 0
    for i in range(count):
        first, reach, after = int(table[i, T_PLACE]) + pad, lag * table[i, T_TALL], 0.0
        if table[i, T_TALL] <= 0.0:
            stands = first + lag * (table[i, T_LOW] - tool[STRAIGHT_Z])
            first = int(stands)
            after = stands - first
        for place in range(first, first + int(table[i, T_WIDTH])):
            end, at_end, at_start = place + 1, after, 1.0 - after
            if reach > 0.5:
                step = 1.0 / reach
                end = place + int(reach + 0.5)  # the last place that is reached, in part
                at_end, at_start = (reach - (end - place - 0.5)) * step, 0.5 * step
                for k in range(LOADS):
                    rate[place + 1, k] += step * load[i, k]
                    rate[end, k] -= step * load[i, k]
            for k in range(LOADS):
                one[place, k] += at_start * load[i, k]
                one[end, k] += at_end * load[i, k]
            low, high = min(low, place), max(high, end + 1)
    span[0], span[1] = low, high


@njit(cache=True, nogil=True)
def _keep_parts(table: Floats, count: int, chip: float, law: Floats, tool: Floats, ratio: Floats, part: Floats) -> int:
    """Filled: part f8[rows, PARTS], one row for each place of each piece; returns how many."""
    rows, edges, last = 0, tool[EDGES], law.shape[0] - 1
    others = max(edges - 1.0, 1.0)
    found = np.zeros(8)
    for i in range(count):
        b, upright = table[i, T_LENGTH], table[i, T_UPRIGHT]
        c = chip * table[i, T_SHARE]
        x = math.sqrt(c / tool[TOP]) * last if c < tool[TOP] else last * 1.0
        row = min(int(x), last - 1)
        up = min((x * x - row * row) / (2.0 * row + 1.0), 1.0)
        for k in range(8):
            found[k] = ((1.0 - up) * law[row, k] + up * law[row + 1, k]) * b
        cut = upright * found[MEAN] + (1.0 - upright) * found[PLAIN]
        cut_w = upright * found[WORST] + (1.0 - upright) * found[PLAIN]
        by_mc = upright * found[MEAN_MC] + (1.0 - upright) * found[PLAIN_MC]
        worst_mc = upright * found[WORST_MC] + (1.0 - upright) * found[PLAIN_MC]
        edge_w = tool[EDGE_FORCE] * b
        drag = table[i, T_AXIAL] * tool[HAND] * table[i, T_LEVEL]
        for w in range(int(table[i, T_WIDTH])):
            part[rows, AT], part[rows, LOW], part[rows, TALL] = table[i, T_PLACE] + w, table[i, T_LOW], table[i, T_TALL]
            part[rows, COS], part[rows, SIN] = table[i, T_COS], table[i, T_SIN]
            part[rows, CUT_W], part[rows, EDGE_W], part[rows, MC_W] = cut_w, edge_w, worst_mc
            part[rows, CUT_O], part[rows, EDGE_O], part[rows, MC_O] = 0.0, 0.0, 0.0
            if edges > 1.0:
                part[rows, CUT_O] = max(0.0, (edges * cut - cut_w) / others)
                part[rows, EDGE_O] = max(0.0, (edges * found[MEAN_EDGE] - edge_w) / others)
                part[rows, MC_O] = (edges * by_mc - worst_mc) / others
            part[rows, RUN_W] = found[WORST_RUN] * upright
            part[rows, OUT] = ratio[RADIAL] * upright + ratio[AXIAL] * drag
            part[rows, OUT_EDGE] = ratio[RADIAL_EDGE] * upright + ratio[AXIAL_EDGE] * drag
            part[rows, OUT_RADIAL] = ratio[RADIAL] * upright
            rows += 1
    return rows


# --- one moment of the turn ----------------------------------------------------------------------------------------------------

# Sums at one moment along a direction, f8[6]: force, its radial part, derivatives to mc and ln(run-out), edge part, moment about the tip.
M_FORCE, M_RADIAL, M_MC, M_RUN, M_EDGE, M_MOMENT = range(6)


@njit(cache=True, nogil=True)
def _at_moment(
    part: Floats, rows: int, tool: Floats, pad: int, place: int, ux: float, uy: float, moment: Floats
) -> None:
    """What all edges do along the unit direction u while the worst stands at `place`. Filled: moment f8[6].

    Pieces count as `_lay_out` lays them out, so that the sum is its.
    """
    moment[:] = 0.0
    edges, lag = int(tool[EDGES]), tool[LAG]
    for j in range(edges):
        at = place + int(j * TURN / edges + 0.5)
        if at >= TURN:
            at -= TURN
        for i in range(rows):
            if part[i, TALL] > 0.0:
                reach = lag * part[i, TALL]
                behind = at - int(part[i, AT])
                if behind < 0:
                    behind += TURN
                while behind <= reach + 0.5:
                    low, high = 0.0, part[i, TALL]
                    if reach > 0.5:
                        low, high = max(0.0, (behind - 0.5) / lag), min(high, (behind + 0.5) / lag)
                    elif behind > 0:
                        break
                    if high > low:
                        share = (high - low) / part[i, TALL]
                        _moment_of(
                            part, i, j == 0, share, part[i, LOW] + 0.5 * (low + high), tool[SENSE], ux, uy, moment
                        )
                    behind += TURN
            else:
                stands = part[i, AT] + pad + lag * (part[i, LOW] - tool[STRAIGHT_Z])
                first = math.floor(stands)
                after = stands - first
                first = (first - pad) % TURN
                if first == at:
                    _moment_of(part, i, j == 0, 1.0 - after, part[i, LOW], tool[SENSE], ux, uy, moment)
                elif (first + 1) % TURN == at:
                    _moment_of(part, i, j == 0, after, part[i, LOW], tool[SENSE], ux, uy, moment)


@njit(cache=True, nogil=True)
def _moment_of(
    part: Floats, i: int, worst: bool, share: float, z: float, sense: float, ux: float, uy: float, moment: Floats
) -> None:
    """Add a share of piece i to the sums at one moment."""
    cut = part[i, CUT_W] if worst else part[i, CUT_O]
    edge = part[i, EDGE_W] if worst else part[i, EDGE_O]
    by_mc = part[i, MC_W] if worst else part[i, MC_O]
    along = sense * (part[i, SIN] * ux - part[i, COS] * uy)
    outward = part[i, COS] * ux + part[i, SIN] * uy
    cut_way = along + part[i, OUT] * outward
    edge_way = along + part[i, OUT_EDGE] * outward
    force = cut * cut_way + edge * edge_way
    moment[M_FORCE] += share * force
    moment[M_MOMENT] += share * force * z
    moment[M_RADIAL] += share * part[i, OUT_RADIAL] * outward * (cut + edge)
    moment[M_MC] += share * by_mc * cut_way
    moment[M_EDGE] += share * edge * edge_way
    if worst:
        moment[M_RUN] += share * part[i, RUN_W] * cut_way


@njit(cache=True, nogil=True)
def _wall_heights(side: Floats4, slope: Floats4, slope_z: Floats4, left: bool, tool: Floats, heights: Floats) -> bool:
    """Heights over which an edge makes the wall on one side: those in material nearest to the tangent. Filled: heights f8[2]."""
    sloped = slope_z[slope.shape[0]] > slope_z[0]
    for near in range(NEAR_TANGENT):
        k = HALF - 1 - near if left else near
        low, high = math.inf, -math.inf
        if side[k] > 0.0:
            low, high = tool[STRAIGHT_Z], tool[STRAIGHT_Z] + np.float64(side[k])
        if sloped:
            for s in range(slope.shape[0]):
                if slope[s, k] > 0.0:
                    middle = 0.5 * (np.float64(slope_z[s]) + np.float64(slope_z[s + 1]))
                    low, high = min(low, middle), max(high, middle)
        if high >= low:
            heights[0], heights[1] = low, high
            return True
    return False


@njit(cache=True, nogil=True)
def _wall_place(total: Floats, tool: Floats, left: bool, heights: Floats) -> int:
    """Place of the worst edge at which the force across the wall is greatest, of those at which it makes the wall."""
    tangent = 0 if left == (tool[SENSE] > 0.0) else HALF - 1
    first = tangent + math.floor(tool[LAG] * (heights[0] - tool[STRAIGHT_Z]) + 0.5)
    last = tangent + math.floor(tool[LAG] * (heights[1] - tool[STRAIGHT_Z]) + 0.5)
    best, where = -1.0, first % TURN
    for place in range(first, min(last, first + TURN - 1) + 1):
        force = abs(total[place % TURN, 2])
        if force > best:
            best, where = force, place % TURN
    return int(where)


@njit(cache=True, nogil=True)
def _wall(
    left: bool, side: Floats4, slope: Floats4, slope_z: Floats4, total: Floats, tool: Floats, pad: int, deep: bool, part: Floats,
    pieces: int, heights: Floats, moment: Floats, out: Floats,
) -> None:  # fmt: skip
    """Force away from the wall on one side while it is made, if it is greater than what `out` f8[COLUMNS] holds for the other side."""
    if not _wall_heights(side, slope, slope_z, left, tool, heights):
        return
    sign = 1.0 if left else -1.0
    place = _wall_place(total, tool, left, heights)
    force = sign * total[place, 2]
    if abs(force) <= abs(out[WALL]):
        return
    out[WALL], out[WALL_LEVER] = force, out[LEVER]
    if deep:
        _at_moment(part, pieces, tool, pad, place, 0.0, sign, moment)
        out[WALL_RADIAL], out[WALL_MC], out[WALL_RUN], out[WALL_EDGE] = (
            moment[M_RADIAL],
            moment[M_MC],
            moment[M_RUN],
            moment[M_EDGE],
        )
        low, high = heights[0], tool[STRAIGHT_Z] + max(0.0, np.float64(side.max()))
        out[WALL_LEVER] = (
            min(max(moment[M_MOMENT] / moment[M_FORCE], low), max(low, high)) if moment[M_FORCE] != 0.0 else low
        )


@njit(cache=True, nogil=True)
def station_loads(
    rows: Ints, way: Floats4, side: Floats4, slope: Floats4, slope_z: Floats4, end: Floats4, making: Bytes1, chip: Floats, profile: Floats,
    law: Floats, tool: Floats, ratio: Floats, room: int, deep: bool, out: Floats,
) -> int:  # fmt: skip
    """What cutting costs at the stations `rows` i8[K] of a chunk, all of one tool at one speed.

    The chunk's arrays are those of `removal.swept.Engagement`; chip f8[K] feed per edge, mm; profile f8[P, 2]; `room` places that one edge
    may be spread over; `deep`: look closely at the peak and at the wall. Filled: out f8[K, COLUMNS]

    TORQUE, TORQUE_MC, TORQUE_EDGE   mean torque, its derivative to mc, the part of it that edge forces make, N·mm
    FORCE_X, _Y, _Z, LIFT_AXIAL      mean force on the part, work axes, N; part of _Z that drag along the edges makes
    PEAK_TORQUE, PEAK_FORCE          greatest torque and side force of a turn
    LEVER                            height that the side force acts at (the mean height of cutting unless `deep`)
    PEAK_MC                          derivative of the peak force to mc (deep)
    WALL                             force away from the wall where it is made, N
    WALL_RADIAL, _MC, _RUN, _EDGE, _LEVER   its radial part, derivatives to mc and to ln(run-out), part of edge forces, lever (deep)
    MOST                             greatest n·f of an edge in material
    AREA                             area swept, seen along the way, mm²

    Returns 0, or -1 if `room` is too small (a fault of ours).
    """
    pad, slices = int(tool[LAG] * tool[STRAIGHT_Z]) + 2, slope.shape[1]
    most_pieces = HALF + slices * HALF // 4 + end.shape[1] * TURN // 2
    table, load, part = (
        np.empty((most_pieces, TABLE)),
        np.empty((most_pieces, LOADS)),
        np.empty((2 * most_pieces, PARTS)),
    )
    rate, one, span = np.zeros((room, LOADS)), np.zeros((room, LOADS)), np.zeros(2, np.int64)
    folded, total = np.zeros((TURN, LOADS)), np.zeros((TURN, 3))
    sums, moment, heights = np.zeros(SUMS), np.zeros(6), np.zeros(2)
    tallest = (room - TURN - pad - 8.0) / tool[LAG] if tool[LAG] > 0.0 else math.inf
    for n in range(rows.shape[0]):
        i = rows[n]
        mine = out[n]
        mine[:] = 0.0
        flat, climb = math.sqrt(np.float64(way[i, 0]) ** 2 + np.float64(way[i, 1]) ** 2), np.float64(way[i, 2])
        if max(np.float64(side[i].max()), np.float64(slope_z[i, slices]) - tool[STRAIGHT_Z]) > tallest:
            return -1
        count = _side_pieces(side[i], flat, tool, table)
        count = _slope_pieces(slope[i], slope_z[i], profile, flat, climb, tool, table, count)
        if climb < -LEAST_SHARE:
            reach = _radius_at(profile, np.float64(slope_z[i, slices]))
            count = _end_pieces(end[i], reach, profile, flat, climb, tool, table, count)
        if count == 0:
            continue
        _add_up(table, count, chip[n], law, tool, ratio, load, sums)
        x, y = (np.float64(way[i, 0]) / flat, np.float64(way[i, 1]) / flat) if flat > LEAST_SHARE else (1.0, 0.0)
        _means(sums, x, y, tool[EDGES] / TURN, mine)
        _lay_out(table, count, load, tool, pad, rate, one, span)
        _fold(rate, one, pad, span[0], span[1], folded)
        meet = (span[1] - span[0]) * tool[EDGES] > TURN  # more than one edge may stand in material
        _sum_edges(folded, int(tool[EDGES]) if meet else 1, total)
        best = _peaks(total, mine)
        pieces = 0
        if deep:
            pieces = _keep_parts(table, count, chip[n], law, tool, ratio, part)
            peak = mine[PEAK_FORCE]
            if peak > 0.0:
                _at_moment(part, pieces, tool, pad, best, total[best, 1] / peak, total[best, 2] / peak, moment)
                mine[LEVER], mine[PEAK_MC] = moment[M_MOMENT] / peak, moment[M_MC]
        if making[i] & LEFT:
            _wall(True, side[i], slope[i], slope_z[i], total, tool, pad, deep, part, pieces, heights, moment, mine)
        if making[i] & RIGHT:
            _wall(False, side[i], slope[i], slope_z[i], total, tool, pad, deep, part, pieces, heights, moment, mine)
    return 0


@njit(cache=True, nogil=True)
def _means(sums: Floats, x: float, y: float, scale: float, mine: Floats) -> None:
    """Means over a turn from the sums of a station whose way is (x, y) seen from above. Filled: their columns of `out`."""
    mine[TORQUE], mine[TORQUE_MC], mine[TORQUE_EDGE] = sums[S_TORQUE] * scale, sums[S_MC] * scale, sums[S_EDGE] * scale
    mine[FORCE_X] = (x * sums[S_X] - y * sums[S_Y]) * scale
    mine[FORCE_Y] = (y * sums[S_X] + x * sums[S_Y]) * scale
    mine[FORCE_Z], mine[LIFT_AXIAL] = sums[S_Z] * scale, sums[S_AXIAL] * scale
    mine[MOST], mine[AREA] = sums[S_MOST], sums[S_AREA]
    mine[LEVER] = sums[S_MOMENT] / sums[S_FORCE] if sums[S_FORCE] > 0.0 else 0.0


@njit(cache=True, nogil=True)
def _peaks(total: Floats, mine: Floats) -> int:
    """Place of the greatest side force. Filled: the greatest torque and side force, in their columns of `out`."""
    best, most, highest = 0, -1.0, 0.0
    for p in range(TURN):
        highest = max(highest, total[p, 0])
        square = total[p, 1] ** 2 + total[p, 2] ** 2
        if square > most:
            best, most = p, square
    mine[PEAK_TORQUE], mine[PEAK_FORCE] = highest, math.sqrt(most)
    return best


# --- many stations in order ----------------------------------------------------------------------------------------------

# Columns of `state`, carried from chunk to chunk: seconds of the rubbing run under way, the longest so far, of all rubbing, of cutting.
RUN_S, LONGEST_S, RUB_S, CUT_S = range(4)

# Columns of `seen`, what pictures and moves show of a station.
SEEN_POWER, SEEN_FORCE, SEEN_CHIP, SEEN_BEND = range(4)


@njit(cache=True, nogil=True)
def gather(
    move: Ints4, since: Ints4, begin_s: Floats, span_s: Floats, seen: Floats4, thin: Floats, least: float, log_first: float, log_step: float,
    bin_s: float, per_move: Floats4, high: Floats4, thin_s: Floats, thin_row: Ints, state: Floats,
) -> int:  # fmt: skip
    """Add engaged stations, in order, to what is kept of all of them.

    move, since i4[K]: the station speaks for moves since .. move. begin_s, span_s f8[K] time; seen f4[K, 4]; thin f8[K] largest chip of a
    turn at the slowest feed, mm; `least` chip that still cuts (0: not known). Filled or added to: per_move f4[N, 4] and high f4[B, 4]
    greatest of each; thin_s f8[H] seconds by ln(thin), thin_row i8[H] the row of the longest station in each (-1: none of this chunk);
    state f8[4]. Returns 0.
    """
    bins, sorts = high.shape[0], thin_s.shape[0]
    for i in range(move.shape[0]):
        for m in range(since[i], move[i] + 1):
            for k in range(4):
                if seen[i, k] > per_move[m, k] or per_move[m, k] != per_move[m, k]:
                    per_move[m, k] = seen[i, k]
        if bins > 0:
            first = min(max(int(begin_s[i] / bin_s), 0), bins - 1)
            last = min(max(int((begin_s[i] + span_s[i]) / bin_s), first), bins - 1)
            for b in range(first, last + 1):
                for k in range(4):
                    if seen[i, k] > high[b, k]:
                        high[b, k] = seen[i, k]
        state[CUT_S] += span_s[i]
        if thin[i] > 0.0:
            h = min(max(int((math.log(thin[i]) - log_first) / log_step), 0), sorts - 1)
            thin_s[h] += span_s[i]
            if thin_row[h] < 0 or span_s[i] > span_s[thin_row[h]]:
                thin_row[h] = i
        if thin[i] < least:
            state[RUN_S] += span_s[i]
            state[RUB_S] += span_s[i]
            state[LONGEST_S] = max(state[LONGEST_S], state[RUN_S])
        else:
            state[RUN_S] = 0.0
    return 0


@njit(cache=True, nogil=True)
def extremes_by_move(move: Ints4, value: Floats, chosen: Bytes1, rows: Ints) -> int:
    """Rows of the greatest and of the least value of each run of one move, among those chosen. Filled: rows i8[2K]; returns how many."""
    count, i, total = 0, 0, move.shape[0]
    while i < total:
        most, least = -1, -1
        j = i
        while j < total and move[j] == move[i]:
            if chosen[j]:
                if most < 0 or value[j] > value[most]:
                    most = j
                if least < 0 or value[j] < value[least]:
                    least = j
            j += 1
        if most >= 0 and value[most] > 0.0:
            rows[count] = most
            count += 1
        if least >= 0 and value[least] < 0.0:
            rows[count] = least
            count += 1
        i = j
    return count


@njit(cache=True, nogil=True)
def busiest_window(
    begin_s: Floats, span_s: Floats, load: Floats, window_s: float, first_s: float, end_s: float, best: Floats
) -> int:
    """Greatest integral of a load over any window of one length within first_s .. end_s, exactly.

    begin_s, span_s f8[K]: spans in order that do not overlap; load f8[K] is constant on each and 0 elsewhere. The integral over a sliding
    window is linear between the moments at which one of its ends meets an end of a span, so only those are looked at: one pass with
    each end leading. Filled: best f8[2], integral and start. Returns 0.
    """
    count = begin_s.shape[0]
    best[0], best[1] = 0.0, first_s
    for lead in range(4):
        at, sum_left, left, sum_right, right = 0, 0.0, 0, 0.0, 0
        for at in range(count):
            edge = begin_s[at] if lead % 2 == 0 else begin_s[at] + span_s[at]
            start = edge if lead < 2 else edge - window_s
            start = max(first_s, min(start, end_s - window_s))
            while left < count and begin_s[left] + span_s[left] <= start:
                sum_left += load[left] * span_s[left]
                left += 1
            while right < count and begin_s[right] + span_s[right] <= start + window_s:
                sum_right += load[right] * span_s[right]
                right += 1
            low, high = sum_left, sum_right
            if left < count and begin_s[left] < start:
                low += load[left] * (start - begin_s[left])
            if right < count and begin_s[right] < start + window_s:
                high += load[right] * (start + window_s - begin_s[right])
            if high - low > best[0]:
                best[0], best[1] = high - low, start
    return 0


KERNELS: tuple[Any, ...] = (station_loads, gather, extremes_by_move, busiest_window)
"""What other modules call; a test counts that each is compiled for one kind of arrays only."""
