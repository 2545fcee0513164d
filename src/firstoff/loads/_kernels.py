"""The fast layer of loads: what every engaged station costs, sums over windows of time, and arrays for pictures.

The turn is cut into 180 *places* of 2 degrees, numbered the way an edge runs through them: place 0 begins where an edge enters the front
half of the cutter, place 89 ends where it leaves it. An edge with helix stands at place p at the bottom of the straight part and at
p - lag·z above it. What one edge feels is spread over the places of its *bottom*; sums over all edges and the search for peaks then need no
slices along the axis, and a helix shifts load between places but adds none.

Frame: x along the way seen from above, y to its left, z up; forces are those on the part. Symbols: c chip of an even cutter, mm; b length of
edge in material, mm; r radius, mm; t, e cutting and edge force per length of edge, N/mm.

With run-out one edge, the *worst*, cuts more than the others; what it leaves them they share evenly. `law` f8[L, 8] holds forces of one edge
by chip, row u for c = top·(u/(L - 1))²: see its columns below. Arrays marked "filled" are outputs.
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

# Columns of `law`: cutting force and edge force of the mean edge, its derivative to mc; the same of the worst edge and its derivative to
# the logarithm of run-out; cutting force without run-out and its derivative to mc.
MEAN, MEAN_EDGE, MEAN_MC, WORST, WORST_MC, WORST_RUN, PLAIN, PLAIN_MC = range(8)

# Columns of `tool`: edges, places of lag per mm of height, height and radius of the straight part's lower end, radius of the flat end,
# greatest chip of `law`, edge force of an edge that cuts, sense of turning (+1 clockwise seen from above), way of the helix (+1 lifts).
EDGES, LAG, STRAIGHT_Z, STRAIGHT_R, END_R, TOP, EDGE_FORCE, SENSE, HAND = range(9)

# Columns of `ratio`: radial and axial force over tangential, of the cutting force and of the edge force.
RADIAL, RADIAL_EDGE, AXIAL, AXIAL_EDGE = range(4)

# Columns of `out`; see `station_loads`.
TORQUE, TORQUE_MC, TORQUE_EDGE, FORCE_X, FORCE_Y, FORCE_Z, PEAK_TORQUE, PEAK_FORCE, PEAK_LEVER, PEAK_MC = range(10)
WALL, WALL_LEVER, WALL_RADIAL, WALL_MC, WALL_RUN, WALL_EDGE, MOST, AREA, LIFT_AXIAL = range(10, 19)
COLUMNS = 19

LEFT, RIGHT = 1, 2
"""Bits of `making`."""
LEAST_SHARE = 1e-6
"""n·f below which an edge slides along and cuts nothing."""
NEAR_TANGENT = 30
"""Places from the tangent (60 degrees) within which the material beside the wall that is made is looked for."""


@njit(cache=True, nogil=True)
def _law_at(law: Floats, top: float, c: float, upright: float, found: Floats) -> None:
    """Row of `law` at chip c, between its form with run-out (upright = 1) and without (0). Filled: found f8[6], columns 0 .. 5."""
    last = law.shape[0] - 1
    x = math.sqrt(c / top) * last if c < top else last * 1.0
    row = min(int(x), last - 1)
    part = x - row
    for k in range(6):
        found[k] = law[row, k] + part * (law[row + 1, k] - law[row, k])
    if upright < 1.0:
        cut = law[row, PLAIN] + part * (law[row + 1, PLAIN] - law[row, PLAIN])
        by_mc = law[row, PLAIN_MC] + part * (law[row + 1, PLAIN_MC] - law[row, PLAIN_MC])
        other = 1.0 - upright
        found[MEAN] = upright * found[MEAN] + other * cut
        found[WORST] = upright * found[WORST] + other * cut
        found[MEAN_MC] = upright * found[MEAN_MC] + other * by_mc
        found[WORST_MC] = upright * found[WORST_MC] + other * by_mc
        found[WORST_RUN] *= upright


@njit(cache=True, nogil=True)
def _radius_at(profile: Floats, z: float) -> float:
    """Radius of the profile f8[P, 2] (height, radius), heights never falling."""
    last = profile.shape[0] - 1
    if z <= profile[0, 0]:
        return float(profile[0, 1])
    for i in range(last):
        if z <= profile[i + 1, 0]:
            span = profile[i + 1, 0] - profile[i, 0]
            if span <= 0.0:
                continue
            return float(profile[i, 1] + (z - profile[i, 0]) / span * (profile[i + 1, 1] - profile[i, 1]))
    return float(profile[last, 1])


@njit(cache=True, nogil=True)
def _spread(one: Floats, at: float, t: float, x: float, y: float) -> None:
    """Add torque and force of one edge to the two places that a bottom position lies between. `one` f8[3, places]."""
    place = math.floor(at)
    part = at - place
    one[0, place] += (1.0 - part) * t
    one[1, place] += (1.0 - part) * x
    one[2, place] += (1.0 - part) * y
    one[0, place + 1] += part * t
    one[1, place + 1] += part * x
    one[2, place + 1] += part * y


@njit(cache=True, nogil=True)
def _range_add(
    rate: Floats, one: Floats, place: int, reach: float, height: float, t: float, x: float, y: float
) -> None:
    """Spread what a straight edge feels per mm of height at one place over the bottom positions at which it stands there.

    `reach` = lag · height, in places. `one` takes the ends, `rate` (differences, summed up later) the even middle.
    """
    if reach <= 0.5:
        one[0, place] += t * height
        one[1, place] += x * height
        one[2, place] += y * height
        return
    step = height / reach  # mm of height per place
    whole = math.floor(reach + 0.5)  # places after the first that are reached, the last one in part
    first = 0.5 * step
    one[0, place] += t * first
    one[1, place] += x * first
    one[2, place] += y * first
    if whole > 1:
        rate[0, place + 1] += t * step
        rate[1, place + 1] += x * step
        rate[2, place + 1] += y * step
        rate[0, place + whole] -= t * step
        rate[1, place + whole] -= x * step
        rate[2, place + whole] -= y * step
    end = (reach - (whole - 0.5)) * step
    one[0, place + whole] += t * end
    one[1, place + whole] += x * end
    one[2, place + whole] += y * end


@njit(cache=True, nogil=True)
def _fold(rate: Floats, one: Floats, pad: int, used: int, folded: Floats) -> None:
    """One edge's load over the places of a whole turn. Filled: folded f8[3, TURN]; `rate` and `one` are cleared."""
    folded[:, :] = 0.0
    for k in range(3):
        run = 0.0
        for i in range(used):
            run += rate[k, i]
            folded[k, (i - pad) % TURN] += run + one[k, i]
            rate[k, i] = 0.0
            one[k, i] = 0.0


@njit(cache=True, nogil=True)
def _sum_edges(worst: Floats, mean: Floats, edges: int, uneven: bool, total: Floats) -> int:
    """Load of all edges by the place of the worst. Filled: total f8[3, TURN]; returns how many places differ."""
    pitch = TURN / edges
    places = TURN if uneven else math.ceil(pitch - 1e-9)
    for k in range(3):
        for p in range(places):
            load = worst[k, p]
            for j in range(1, edges):
                q = p + int(j * pitch + 0.5)
                load += mean[k, q - TURN if q >= TURN else q]
            total[k, p] = load
    return places


# --- one station -------------------------------------------------------------------------------------------------------

# Columns of `part`, one row a piece of edge in material: place it stands in, height of its lower end and its extent (0 = a point), cosine
# and sine of its direction, cutting force of the worst edge and of each other, edge force of each other, derivatives (worst, others: mc; worst: run-out),
# horizontal outward force over tangential (cutting, edge), the radial share of it; edge force of the worst; radius it stands at.
AT, LOW, TALL, COS, SIN, CUT_W, CUT_O, EDGE_O, MC_W, MC_O, RUN_W, OUT, OUT_EDGE, OUT_RADIAL, EDGE_W, ARM = range(16)
PARTS = 16

# Sums over one station: of torque (value, derivative to mc, edge part), of the mean force, greatest n·f, area.
S_TORQUE, S_MC, S_EDGE, S_X, S_Y, S_Z, S_MOST, S_AREA, S_AXIAL = range(9)


@njit(cache=True, nogil=True)
def _add_part(
    part: Floats, row: int, place: int, cosine: float, sine: float, low: float, tall: float, b: float, moment: float,
    upright: float, level: float, share: float, found: Floats, tool: Floats, ratio: Floats, axial: float, sums: Floats,
) -> None:  # fmt: skip
    """Lay down one piece of edge of length b (moment b·r) and add it to the sums of the station.

    upright, level: radial and downward parts of its normal; share: n·f; axial: 1 if force drags along it, 0 for the flat end.
    """
    edges = tool[EDGES]
    cut, edge = found[MEAN] * b, found[MEAN_EDGE] * b
    worst, edge_w = found[WORST] * b, tool[EDGE_FORCE] * b
    others = edges - 1.0
    drag = axial * tool[HAND]
    out = ratio[RADIAL] * upright + ratio[AXIAL] * level * drag
    out_edge = ratio[RADIAL_EDGE] * upright + ratio[AXIAL_EDGE] * level * drag
    part[row, AT], part[row, LOW], part[row, TALL], part[row, ARM] = place, low, tall, moment / b
    part[row, COS], part[row, SIN] = cosine, sine
    part[row, CUT_W], part[row, EDGE_W] = worst, edge_w
    part[row, MC_W], part[row, RUN_W] = found[WORST_MC] * b, found[WORST_RUN] * b
    if others > 0.0:
        part[row, CUT_O] = max(0.0, (edges * cut - worst) / others)
        part[row, EDGE_O] = max(0.0, (edges * edge - edge_w) / others)
        part[row, MC_O] = (edges * found[MEAN_MC] * b - part[row, MC_W]) / others
    else:
        part[row, CUT_O], part[row, EDGE_O], part[row, MC_O] = 0.0, 0.0, 0.0
    part[row, OUT], part[row, OUT_EDGE], part[row, OUT_RADIAL] = out, out_edge, ratio[RADIAL] * upright
    both = cut + edge
    outward = out * cut + out_edge * edge
    sums[S_TORQUE] += both * part[row, ARM]
    sums[S_MC] += found[MEAN_MC] * moment
    sums[S_EDGE] += found[MEAN_EDGE] * moment
    sums[S_X] += tool[SENSE] * sine * both + cosine * outward
    sums[S_Y] += -tool[SENSE] * cosine * both + sine * outward
    dragged = drag * upright * (ratio[AXIAL] * cut + ratio[AXIAL_EDGE] * edge)
    sums[S_AXIAL] += dragged
    sums[S_Z] += dragged - level * (ratio[RADIAL] * cut + ratio[RADIAL_EDGE] * edge)
    sums[S_MOST] = max(sums[S_MOST], share)
    sums[S_AREA] += moment * share * PLACE


@njit(cache=True, nogil=True)
def _side_parts(
    side: Floats4,
    flat: float,
    chip: float,
    law: Floats,
    tool: Floats,
    ratio: Floats,
    found: Floats,
    part: Floats,
    sums: Floats,
) -> int:
    """Pieces of the straight edge in material; returns how many."""
    rows = 0
    radius, clockwise = tool[STRAIGHT_R], tool[SENSE] > 0.0
    for k in range(HALF):
        height = float(side[k])
        if height <= 0.0:
            continue
        angle = (k + 0.5) * PLACE - 0.5 * math.pi
        cosine, sine = math.cos(angle), math.sin(angle)
        share = flat * cosine
        if share < LEAST_SHARE:
            continue
        _law_at(law, tool[TOP], chip * share, 1.0, found)
        place = HALF - 1 - k if clockwise else k
        _add_part(
            part, rows, place, cosine, sine, tool[STRAIGHT_Z], height, height, height * radius, 1.0, 0.0, share, found, tool, ratio,
            1.0, sums,
        )  # fmt: skip
        rows += 1
    return rows


@njit(cache=True, nogil=True)
def _slope_parts(
    slope: Floats4, slope_z: Floats4, profile: Floats, flat: float, climb: float, chip: float, law: Floats, tool: Floats,
    ratio: Floats, found: Floats, part: Floats, rows: int, sums: Floats,
) -> int:  # fmt: skip
    """Pieces of the sloped edge in material, each slice as the chord of the profile between its heights; returns how many there are now."""
    clockwise = tool[SENSE] > 0.0
    for s in range(slope.shape[0]):
        low, high = float(slope_z[s]), float(slope_z[s + 1])
        if high <= low:
            continue
        r0, r1 = _radius_at(profile, low), _radius_at(profile, high)
        length = math.hypot(high - low, r1 - r0)
        upright, level = (high - low) / length, (r1 - r0) / length
        middle, radius = 0.5 * (low + high), 0.5 * (r0 + r1)
        for k in range(HALF):
            in_stock = float(slope[s, k])
            if in_stock <= 0.0:
                continue
            angle = (k + 0.5) * PLACE - 0.5 * math.pi
            cosine, sine = math.cos(angle), math.sin(angle)
            share = flat * cosine * upright - climb * level
            if share < LEAST_SHARE:
                continue
            _law_at(law, tool[TOP], chip * share, upright, found)
            b = in_stock * length
            place = HALF - 1 - k if clockwise else k
            _add_part(
                part,
                rows,
                place,
                cosine,
                sine,
                middle,
                0.0,
                b,
                b * radius,
                upright,
                level,
                share,
                found,
                tool,
                ratio,
                1.0,
                sums,
            )
            rows += 1
    return rows


@njit(cache=True, nogil=True)
def _end_parts(
    end: Floats4,
    climb: float,
    chip: float,
    law: Floats,
    tool: Floats,
    ratio: Floats,
    found: Floats,
    part: Floats,
    rows: int,
    sums: Floats,
) -> int:
    """Pieces of the flat end's edges in material where the tool goes down; returns how many there are now."""
    share = -climb
    if share < LEAST_SHARE or tool[END_R] <= 0.0:
        return rows
    _law_at(law, tool[TOP], chip * share, 0.0, found)
    width = tool[END_R] / end.shape[0]
    clockwise = tool[SENSE] > 0.0
    for k in range(TURN):
        b, moment = 0.0, 0.0
        for ring in range(end.shape[0]):
            piece = float(end[ring, k]) * width
            b += piece
            moment += piece * (ring + 0.5) * width
        if b <= 0.0:
            continue
        angle = (k + 0.5) * PLACE - math.pi
        place = (HALF + HALF // 2 - 1 - k) % TURN if clockwise else (k - HALF // 2) % TURN
        _add_part(
            part,
            rows,
            place,
            math.cos(angle),
            math.sin(angle),
            0.0,
            0.0,
            b,
            moment,
            0.0,
            1.0,
            share,
            found,
            tool,
            ratio,
            0.0,
            sums,
        )
        rows += 1
    return rows


@njit(cache=True, nogil=True)
def _lay_out(part: Floats, rows: int, tool: Floats, pad: int, others: bool, rate: Floats, one: Floats) -> int:
    """Spread all pieces over the bottom positions of the worst edge, or of each other edge; returns how many places are used."""
    used = 0
    cut, edge = (CUT_O, EDGE_O) if others else (CUT_W, EDGE_W)
    for i in range(rows):
        t = part[i, cut] + part[i, edge]
        outward = part[i, OUT] * part[i, cut] + part[i, OUT_EDGE] * part[i, edge]
        x = tool[SENSE] * part[i, SIN] * t + part[i, COS] * outward
        y = -tool[SENSE] * part[i, COS] * t + part[i, SIN] * outward
        torque = t * part[i, ARM]
        place = int(part[i, AT]) + pad
        if part[i, TALL] > 0.0:
            reach = tool[LAG] * part[i, TALL]
            tall = part[i, TALL]
            _range_add(rate, one, place, reach, tall, torque / tall, x / tall, y / tall)
            used = max(used, place + int(reach + 0.5) + 2)
        else:
            shift = tool[LAG] * (part[i, LOW] - tool[STRAIGHT_Z])
            _spread(one, place + shift, torque, x, y)
            used = max(used, int(place + shift) + 2)
    return used


# Sums at one moment along a direction: cutting and edge force, the radial part of it, derivatives, moment about the tip.
M_FORCE, M_RADIAL, M_MC, M_RUN, M_EDGE, M_MOMENT = range(6)


@njit(cache=True, nogil=True)
def _at_moment(
    part: Floats, rows: int, tool: Floats, pad: int, place: int, ux: float, uy: float, moment: Floats
) -> None:
    """What all edges do along the unit direction u while the worst stands at `place`. Filled: moment f8[6].

    Pieces are found as `_range_add` and `_spread` lay them out, so that the sum is theirs.
    """
    moment[:] = 0.0
    edges, lag = int(tool[EDGES]), tool[LAG]
    for j in range(edges):
        at = (place + int(j * (TURN / edges) + 0.5)) % TURN
        for i in range(rows):
            if part[i, TALL] > 0.0:
                reach = lag * part[i, TALL]
                behind = (at - int(part[i, AT])) % TURN
                while behind <= reach + 0.5:
                    if reach <= 0.5:
                        low, high = 0.0, part[i, TALL]
                        if behind > 0:
                            break
                    else:
                        low, high = max(0.0, (behind - 0.5) / lag), min(part[i, TALL], (behind + 0.5) / lag)
                    if high > low:
                        share = (high - low) / part[i, TALL]
                        _moment_of(
                            part, i, j == 0, share, part[i, LOW] + 0.5 * (low + high), tool[SENSE], ux, uy, moment
                        )
                    behind += TURN
            else:
                stands = part[i, AT] + lag * (part[i, LOW] - tool[STRAIGHT_Z]) + pad
                first = math.floor(stands)
                after = stands - first
                if (first - pad) % TURN == at:
                    _moment_of(part, i, j == 0, 1.0 - after, part[i, LOW], tool[SENSE], ux, uy, moment)
                elif (first + 1 - pad) % TURN == at:
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
def _wall_heights(part: Floats, rows: int, left: bool, clockwise: bool, heights: Floats) -> bool:
    """Heights over which an edge makes the wall on one side: those in material nearest to the tangent. Filled: heights f8[2]."""
    from_start = left == clockwise  # an edge of a clockwise cutter enters on the left
    nearest = NEAR_TANGENT
    for i in range(rows):
        place = int(part[i, AT])
        if place < HALF:
            nearest = min(nearest, place if from_start else HALF - 1 - place)
    if nearest >= NEAR_TANGENT:
        return False
    heights[0], heights[1] = math.inf, -math.inf
    for i in range(rows):
        place = int(part[i, AT])
        if place < HALF and (place if from_start else HALF - 1 - place) <= nearest + 1:
            heights[0] = min(heights[0], part[i, LOW])
            heights[1] = max(heights[1], part[i, LOW] + part[i, TALL])
    return bool(heights[1] >= heights[0])


@njit(cache=True, nogil=True)
def _wall(
    part: Floats,
    rows: int,
    tool: Floats,
    pad: int,
    total: Floats,
    places: int,
    left: bool,
    heights: Floats,
    moment: Floats,
    out: Floats,
) -> None:
    """Force away from the wall on one side while it is made, if it is greater than what `out` holds for the other side."""
    clockwise = tool[SENSE] > 0.0
    if not _wall_heights(part, rows, left, clockwise, heights):
        return
    tangent = 0 if left == clockwise else HALF - 1
    sign = 1.0 if left else -1.0
    first = tangent + math.floor(tool[LAG] * (heights[0] - tool[STRAIGHT_Z]) + 0.5)
    last = tangent + math.floor(tool[LAG] * (heights[1] - tool[STRAIGHT_Z]) + 0.5)
    best, where = -1.0, first
    for place in range(first, min(last, first + TURN - 1) + 1):
        force = abs(total[2, _same_place(place % TURN, places, int(tool[EDGES]))])
        if force > best:
            best, where = force, place % TURN
    if best <= abs(out[WALL]):
        return
    _at_moment(part, rows, tool, pad, where, 0.0, sign, moment)
    out[WALL] = moment[M_FORCE]
    out[WALL_LEVER] = moment[M_MOMENT] / moment[M_FORCE] if moment[M_FORCE] != 0.0 else heights[0]
    out[WALL_RADIAL], out[WALL_MC] = moment[M_RADIAL], moment[M_MC]
    out[WALL_RUN], out[WALL_EDGE] = moment[M_RUN], moment[M_EDGE]


@njit(cache=True, nogil=True)
def _same_place(place: int, places: int, edges: int) -> int:
    """The place below `places` at which the load is the same, for a cutter whose edges are alike."""
    if places == TURN:
        return place
    turn = int(place * edges / TURN)
    back = place - int(turn * (TURN / edges) + 0.5)
    return min(max(back, 0), places - 1)


@njit(cache=True, nogil=True)
def station_loads(
    rows: Ints, way: Floats4, side: Floats4, slope: Floats4, slope_z: Floats4, end: Floats4, making: Bytes1, chip: Floats, profile: Floats,
    law: Floats, tool: Floats, ratio: Floats, room: int, out: Floats,
) -> int:  # fmt: skip
    """What cutting costs at the stations `rows` i8[K] of a chunk, all of one tool at one speed.

    The chunk's arrays are those of `removal.swept.Engagement`; chip f8[K] feed per edge, mm; profile f8[P, 2]; `room` places that one edge
    may be spread over. Filled: out f8[K, COLUMNS]

    TORQUE, TORQUE_MC, TORQUE_EDGE   mean torque, its derivative to mc, the part of it that edge forces make, N·mm
    FORCE_X, _Y, _Z                  mean force on the part, work axes, N
    PEAK_TORQUE                      greatest torque of a turn
    PEAK_FORCE, _LEVER, _MC          greatest side force of a turn, N; height it acts at; its derivative to mc
    WALL, _LEVER, _RADIAL, _MC, _RUN, _EDGE   force away from the wall where it is made, and its parts: radial share, derivatives to mc
                                     and to ln(run-out), part of edge forces
    MOST                             greatest n·f of an edge in material
    AREA                             area swept, seen along the way, mm²
    LIFT_AXIAL                       part of FORCE_Z that drag along the edges makes

    Returns 0, or -1 if `room` was too small (a fault of ours).
    """
    edges = int(tool[EDGES])
    pad = int(tool[LAG] * tool[STRAIGHT_Z]) + 2
    part, found, sums = np.empty((HALF + TURN + slope.shape[1] * HALF, PARTS)), np.zeros(6), np.zeros(9)
    rate, one = np.zeros((3, room)), np.zeros((3, room))
    worst, mean, total = np.zeros((3, TURN)), np.zeros((3, TURN)), np.zeros((3, TURN))
    moment, heights = np.zeros(6), np.zeros(2)
    uneven = edges > 1
    for n in range(rows.shape[0]):
        i = rows[n]
        out[n, :] = 0.0
        sums[:] = 0.0
        flat, climb = math.hypot(way[i, 0], way[i, 1]), float(way[i, 2])
        count = _side_parts(side[i], flat, chip[n], law, tool, ratio, found, part, sums)
        count = _slope_parts(
            slope[i], slope_z[i], profile, flat, climb, chip[n], law, tool, ratio, found, part, count, sums
        )
        if climb < 0.0:
            count = _end_parts(end[i], climb, chip[n], law, tool, ratio, found, part, count, sums)
        if count == 0:
            continue
        x, y = (way[i, 0] / flat, way[i, 1] / flat) if flat > 0.0 else (1.0, 0.0)
        scale = tool[EDGES] / TURN
        out[n, TORQUE], out[n, TORQUE_MC], out[n, TORQUE_EDGE] = (
            sums[S_TORQUE] * scale,
            sums[S_MC] * scale,
            sums[S_EDGE] * scale,
        )
        out[n, FORCE_X] = (x * sums[S_X] - y * sums[S_Y]) * scale
        out[n, FORCE_Y] = (y * sums[S_X] + x * sums[S_Y]) * scale
        out[n, FORCE_Z], out[n, LIFT_AXIAL] = sums[S_Z] * scale, sums[S_AXIAL] * scale
        out[n, MOST], out[n, AREA] = sums[S_MOST], sums[S_AREA]
        used = _lay_out(part, count, tool, pad, False, rate, one)
        if used > room:
            return -1
        _fold(rate, one, pad, used, worst)
        if uneven:
            used = _lay_out(part, count, tool, pad, True, rate, one)
            _fold(rate, one, pad, used, mean)
        places = _sum_edges(worst, mean, edges, uneven, total)
        best = 0
        for p in range(places):
            out[n, PEAK_TORQUE] = max(out[n, PEAK_TORQUE], total[0, p])
            if total[1, p] ** 2 + total[2, p] ** 2 > total[1, best] ** 2 + total[2, best] ** 2:
                best = p
        peak = math.hypot(total[1, best], total[2, best])
        out[n, PEAK_FORCE] = peak
        if peak > 0.0:
            _at_moment(part, count, tool, pad, best, total[1, best] / peak, total[2, best] / peak, moment)
            out[n, PEAK_LEVER], out[n, PEAK_MC] = moment[M_MOMENT] / peak, moment[M_MC]
        if making[i] & LEFT:
            _wall(part, count, tool, pad, total, places, True, heights, moment, out[n])
        if making[i] & RIGHT:
            _wall(part, count, tool, pad, total, places, False, heights, moment, out[n])
    return 0


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
