"""The fast layer of removal: following tools through a field of heights, tile by tile.

Lengths across are in cells, told from the grid's corner; heights are mm told from the top of the stock. Column 0 of a cell's place is along
X. A *station* is a place of the tip, a *pair* a station that reaches a tile. Each tile is worked by one thread in program order, and what
a pair finds is written where no other pair writes, so the answer does not hang on the number of threads. "Filled" arrays are outputs.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Bytes = NDArray[np.uint8]
Words = NDArray[np.uint64]

NOTHING = np.float32(-1e6)  # height of a cell without stock: `field.NOTHING`
LEAST = 1e-4  # mm, less is rounding: `field.LEAST_CUT_MM`
ANGLES, SLICES, RINGS = 90, 8, 6  # as in `swept`

TILE = 192  # cells along the side of a tile
BLOCK = 8  # cells along the side of a block, whose highest cell is kept
BINS = 64  # stretches of a cutter's radius, each with its first knot
FINE = 2048  # stretches of the square of a cutter's radius, each taken as straight
SIDE_SAMPLES = 2 * ANGLES  # two samples a bin along the upright side
PUSH = 0.71  # cells: half a diagonal, the farthest that a place lies from the centre of its cell
BEYOND = 0.75  # cells outside the edge at which a wall must stand to be one
LINES = 4  # straight lines that bound an end from below
WORD = 8  # marks looked at together
NOT_SAMPLED = 2  # mark of a cell that is cut through: no sample of the edge counts there
NEARBY = 2.0  # cells: a sample farther than this from all that is cut meets nothing
STEEP = 3.0  # rise over run from which a slope is sampled like an upright side
AROUND = 1.0  # cells: samples along a slice lie no closer than this
BIN = math.pi / ANGLES  # angle of one bin
BEND_OVER = 8.0  # cells of way back that its bend is told from: chords of an arc are then a bend, not corners
BEND_STATIONS = 64  # stations back that are looked at for it
CORNER = math.tan(math.radians(20.0))  # of a turn between two stations: from here it is a corner
DOWN = -1e-6  # a way whose vertical part is below this goes down

# Columns of `cutters`, one row a cutter.
(
    RADIUS,
    FLAT,
    SIDE_FROM,
    SIDE_TOP,
    USABLE,
    DEAD,
    FIRST_KNOT,
    LAST_KNOT,
    SCALE,
    FINE_FROM,
    FINE_TO,
    FINE_SCALE,
    BOWL,
    STANDS_IN,
) = range(14)
CUTTER_COLUMNS = 14
# Columns of `seen`, one row a station: place across, height of the tip, highest stock under it (a bound), reach of the cut, how much the way
# bends to the left (radians a cell).
U, V, Z, HIGH, REACH, BEND = range(6)
SEEN = 6
# Bits of `marks`, one a station.
RAPID, GHOST, FOLLOWS = 1, 2, 4  # FOLLOWS: the same cutter stood and cut one station before
UNSAMPLED = 8  # nobody asks how the edge stands in stock before it cuts
# Columns of `found`, one row a pair.
# INNER_TOP is the highest of what was cut within STANDS_IN of the way (`profile.SLIVER_MM`).
# RIGHT_MOST and LEFT_MOST bound the samples of the edge that stand in stock, CUT_RIGHT and CUT_LEFT the centres of the cells that are cut.
VOLUME, SWEPT, TOP, LOW, DEAD_DEPTH, RIGHT_MOST, LEFT_MOST, INNER_TOP, CUT_RIGHT, CUT_LEFT = range(10)
FOUND = 10
# Bits of `sides`, one a pair.
CUTS_RIGHT, CUTS_LEFT, BEYOND_RIGHT, BEYOND_LEFT, FLOOR = 1, 2, 4, 8, 16
# `Engagement.making`
WALL_LEFT, WALL_RIGHT, MAKES_FLOOR = 1, 2, 4
# Columns of `grid`.
CELL, BOTTOM = range(2)
# Columns of `each`, one row a station: what all its pairs found together.
EACH_VOLUME, EACH_SWEPT, EACH_TOP, EACH_LOW, EACH_DEAD, EACH_WIDTH, EACH_BESIDE, EACH_INNER_TOP, EACH_ACROSS = range(9)
EACH = 9
# The running window over which volume and swept area are held against each other.
RUN_WAY, RUN_VOLUME, RUN_SWEPT, RUN_CUTTER, LEAST_WAY, LEAST_VOLUME, WORST = range(7)
WINDOW = 7


# --- the edge ---------------------------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def _height(r: float, c: int, cutters: Floats, knots: Floats, first: Ints) -> float:
    """Height of the edge over the tip at a radius within it."""
    b = int(r * cutters[c, SCALE])
    n = first[c, min(b, BINS - 1)]
    last = int(cutters[c, LAST_KNOT])
    while n + 1 < last and knots[n + 1, 0] < r:
        n += 1
    return float(knots[n, 1] + (r - knots[n, 0]) * knots[n, 3])


@njit(cache=True, nogil=True)
def _surface(square: float, c: int, cutters: Floats, fine: Singles, knots: Floats, first: Ints) -> float:
    """Height of the edge over the tip by the square of the radius: without a root where the table is true to `profile.FINE_MM`."""
    if cutters[c, FINE_FROM] <= square < cutters[c, FINE_TO]:
        x = square * cutters[c, FINE_SCALE]
        n = int(x)
        return float(fine[c, n, 0] + (x - n) * fine[c, n, 1])
    return _height(math.sqrt(square), c, cutters, knots, first)


@njit(cache=True, nogil=True)
def _reach(height: float, c: int, cutters: Floats, knots: Floats) -> float:
    """Greatest radius at which the edge lies no higher than `height` over the tip (0 or more)."""
    n, last = int(cutters[c, FIRST_KNOT]), int(cutters[c, LAST_KNOT])
    if height >= knots[last, 1]:
        return float(cutters[c, RADIUS])
    while n < last and knots[n + 1, 1] <= height:
        n += 1
    return float(knots[n, 0] + (height - knots[n, 1]) / knots[n, 3] if knots[n, 3] > 0.0 else knots[n, 0])


@njit(cache=True, nogil=True)
def _along(height: float, c: int, cutters: Floats, knots: Floats) -> float:
    """Way along the slope from the end of the flat part up to a height over the tip."""
    n, last = int(cutters[c, FIRST_KNOT]), int(cutters[c, LAST_KNOT])
    while n < last and knots[n + 1, 1] <= height:
        n += 1
    if n == last:
        return float(knots[last, 2])
    part = (height - knots[n, 1]) / (knots[n + 1, 1] - knots[n, 1])
    return float(knots[n, 2] + part * (knots[n + 1, 2] - knots[n, 2]))


@njit(cache=True, nogil=True)
def _knot_before(way: float, n: int, c: int, cutters: Floats, knots: Floats) -> int:
    """The knot, from knot n on, after which a way along the slope ends."""
    last = int(cutters[c, LAST_KNOT])
    while n + 1 < last and knots[n + 1, 2] <= way:
        n += 1
    return n


@njit(cache=True, nogil=True)
def _place(way: float, n: int, knots: Floats) -> tuple[float, float]:
    """Radius and height of the slope at a way along it that ends after knot n."""
    long = knots[n + 1, 2] - knots[n, 2]
    part = min((way - knots[n, 2]) / long, 1.0) if long > 0.0 else 0.0
    return knots[n, 0] + part * (knots[n + 1, 0] - knots[n, 0]), knots[n, 1] + part * (knots[n + 1, 1] - knots[n, 1])


@njit(cache=True, nogil=True)
def slices(height: float, c: int, cell: float, cutters: Floats, knots: Floats, out: Floats) -> None:
    """Filled: out f8[2·SLICES + 1, 2], (radius, height) of the sloped part at equal ways along it, bounds of the slices in even rows, their
    middles in odd ones. Equal ways, not equal heights: a skin over a ball then falls into all slices.

    They end where stock stands `height` over the tip. Only slices narrower than a cell go on for half a cell: a sample is judged at the
    centre of its cell, and those just inside the surface of the stock lose what those just outside gain.
    """
    top = _along(min(height, cutters[c, SIDE_FROM]), c, cutters, knots)
    begin = int(cutters[c, FIRST_KNOT])
    low_end = top * (SLICES - 1) / SLICES
    inner, low = _place(low_end, _knot_before(low_end, begin, c, cutters, knots), knots)
    outer, high = _place(top, _knot_before(top, begin, c, cutters, knots), knots)
    wide = outer - inner
    if wide < 1.0 and height < cutters[c, SIDE_FROM] and high - low <= STEEP * wide * cell:
        more = min(math.ceil(0.5 / wide), SLICES // 2)
        top = min(top * SLICES / (SLICES - more), _along(cutters[c, SIDE_FROM], c, cutters, knots))
    n = begin
    for k in range(2 * SLICES + 1):
        way = top * k / (2 * SLICES)
        n = _knot_before(way, n, c, cutters, knots)
        out[k, 0], out[k, 1] = _place(way, n, knots)


# --- looking ahead ----------------------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def highest_of_blocks(
    top: Singles, first_row: int, end_row: int, first_column: int, end_column: int, blocks: Singles
) -> None:
    """Filled: blocks f4[⌈rows/BLOCK⌉, ⌈columns/BLOCK⌉], the highest cell of each block between those rows and columns (multiples of
    BLOCK, or the end of the field)."""
    for bi in range(first_row // BLOCK, (end_row + BLOCK - 1) // BLOCK):
        for bj in range(first_column // BLOCK, (end_column + BLOCK - 1) // BLOCK):
            most = NOTHING
            for i in range(bi * BLOCK, min((bi + 1) * BLOCK, end_row)):
                for j in range(bj * BLOCK, min((bj + 1) * BLOCK, end_column)):
                    most = max(most, top[i, j])
            blocks[bi, bj] = most


@njit(cache=True, nogil=True)
def _highest_under(u: float, v: float, radius: float, blocks: Singles) -> float:
    """Highest stock in any block that a disc touches."""
    most = float(NOTHING)
    rows, columns = blocks.shape
    for bi in range(max(math.floor((v - radius) / BLOCK), 0), min(math.floor((v + radius) / BLOCK), rows - 1) + 1):
        low, high = bi * BLOCK + 0.5 - v, bi * BLOCK + BLOCK - 0.5 - v
        near = max(max(low, -high), 0.0)
        if near > radius:
            continue
        half = math.sqrt(radius * radius - near * near)
        begin = max(math.floor((u - half) / BLOCK), 0)
        for bj in range(begin, min(math.floor((u + half) / BLOCK), columns - 1) + 1):
            most = max(most, float(blocks[bi, bj]))
    return most


@njit(cache=True, nogil=True)
def _lower_blocks(
    u: float, v: float, z: float, reach: float, c: int, cutters: Floats, fine: Singles, knots: Floats, first: Ints, blocks: Singles,
) -> None:  # fmt: skip
    """Lower the blocks that lie wholly under a cutter to the highest that it leaves there."""
    flat, table, fine_to, fine_scale = cutters[c, FLAT] ** 2, fine[c], cutters[c, FINE_TO], cutters[c, FINE_SCALE]
    fine_from = cutters[c, FINE_FROM]
    rows, columns = blocks.shape
    for bi in range(max(math.floor((v - reach) / BLOCK), 0), min(math.floor((v + reach) / BLOCK), rows - 1) + 1):
        far = max(abs(bi * BLOCK + 0.5 - v), abs(bi * BLOCK + BLOCK - 0.5 - v))
        if far > reach:
            continue
        half = math.sqrt(reach * reach - far * far)
        begin = max(math.ceil((u - half - 0.5) / BLOCK), 0)
        for bj in range(begin, min(math.floor((u + half + 0.5) / BLOCK), columns)):
            if blocks[bi, bj] <= z:
                continue
            aside = max(abs(bj * BLOCK + 0.5 - u), abs(bj * BLOCK + BLOCK - 0.5 - u))
            square = min(far * far + aside * aside, cutters[c, RADIUS] ** 2)
            left = z + LEAST  # a height is stored in single precision and may round upward
            if square > flat and fine_from <= square < fine_to:  # the same as `_surface`
                n = int(square * fine_scale)
                left += float(table[n, 0] + (square * fine_scale - n) * table[n, 1])
            elif square > flat:
                left += _height(math.sqrt(square), c, cutters, knots, first)
            blocks[bi, bj] = min(blocks[bi, bj], np.float32(left))


@njit(cache=True, nogil=True)
def look_ahead(
    cutter: Ints, marks: Bytes, cutters: Floats, fine: Singles, knots: Floats, first: Ints, blocks: Singles, seen: Floats,
    necks: Floats,
) -> None:  # fmt: skip
    """The highest stock that each station can meet, found on blocks in program order: a bound that is never too low, so that stations in
    air cost nothing and slices of a slope fit what is engaged.

    cutter i4[M] row of `cutters` or -1; marks u1[M] RAPID and GHOST. blocks: highest cell of each block before the first station; lowered.
    seen f8[M, SEEN] with U, V, Z given; filled: HIGH (NOTHING where it meets none), REACH; necks f8[cutters] as in `work_tile`. FOLLOWS is set in `marks`.
    """
    for s in range(cutter.size):
        c = cutter[s]
        seen[s, HIGH], seen[s, REACH] = float(NOTHING), 0.0
        if c < 0 or marks[s] & GHOST:
            continue
        u, v, z = seen[s, U], seen[s, V], seen[s, Z]
        if s > 0 and cutter[s - 1] == c and not marks[s - 1] & GHOST:
            marks[s] |= FOLLOWS
        high = _highest_under(u, v, cutters[c, RADIUS], blocks)
        if high <= z + LEAST:
            continue
        reach = _reach(high - z, c, cutters, knots)
        seen[s, HIGH], seen[s, REACH] = high, reach
        clears = (
            cutters[c, RADIUS] if necks[c] < 0.0 else necks[c]
        )  # beyond its neck an undercutting edge leaves what stands over it
        _lower_blocks(u, v, z, clears, c, cutters, fine, knots, first, blocks)


@njit(cache=True, nogil=True)
def bends(way: Singles, step: Singles, cutter: Ints, cell: float, before: int, seen: Floats) -> None:
    """How much the way of each station bends: its turns since it was `BEND_OVER` cells back, or since its last corner.

    way f4[before + M, 3], step f4[before + M], cutter i4[before + M]: the stations, after the last BEND_STATIONS of those before them (so
    that it makes no difference where a chunk begins). Filled: BEND of seen f8[M, SEEN].
    """
    turn = np.zeros(step.size)  # before each station; a corner is no bend
    for s in range(1, step.size):
        ax, ay, bx, by = float(way[s - 1, 0]), float(way[s - 1, 1]), float(way[s, 0]), float(way[s, 1])
        aside, ahead = ax * by - ay * bx, ax * bx + ay * by
        if cutter[s - 1] != cutter[s] or ahead <= 0.0 or abs(aside) > ahead * CORNER:
            turn[s] = math.inf
        elif aside != 0.0:
            turn[s] = math.atan2(aside, ahead)
    for s in range(before, step.size):
        turned, gone, at = 0.0, 0.0, s
        while at > 0 and s - at < BEND_STATIONS and gone < BEND_OVER and turn[at] < math.inf:
            turned += turn[at]
            gone += step[at] / cell
            at -= 1
        seen[s - before, BEND] = turned / gone if gone > 0.0 else 0.0


@njit(cache=True, nogil=True)
def _met_at(along: float, cosine: float, y: float, bend: float) -> tuple[float, float]:
    """Where (ahead, left) a place of the edge, now at (cosine, y), comes when the tool has gone on by `along` on its way. Near its flanks an
    edge is looked at several cells ahead; on a bend the wall beside is not straight so far."""
    if bend == 0.0:
        return cosine + along, y
    turn = bend * along
    c, s = 1.0 - 0.5 * turn * turn, turn - turn * turn * turn / 6.0
    return along * (1.0 - turn * turn / 6.0) + cosine * c - y * s, 0.5 * along * turn + cosine * s + y * c


@njit(cache=True, nogil=True)
def _off_way(ahead: float, aside: float, bend: float) -> float:
    """How far to the left of a bending way a place lies."""
    if bend == 0.0:
        return aside
    away = math.sqrt(ahead * ahead + (1.0 / bend - aside) ** 2)
    return (abs(1.0 / bend) - away) * (1.0 if bend > 0.0 else -1.0)


@njit(cache=True, nogil=True)
def _flank_from(radius: float, bend: float) -> float:
    """How far aside a place of an edge lies from which its cell may be one that the edge passes by."""
    return radius - PUSH * (1.0 + radius * abs(bend))


@njit(cache=True, nogil=True)
def _cell_met(lateral: float, radius: float, bend: float, u: float, v: float, wx: float, wy: float) -> tuple[int, int]:
    """Row and column of the cell that a place of an upright edge meets next, `lateral` to the left of the axis.

    It is looked for so far ahead that the tool's own last step has not cleared it. A cell whose centre the edge passes by is the wall
    beside, which may stand higher since long: then the next one inside counts.
    """
    i, j = 0, 0
    passes = (
        radius if bend == 0.0 else radius - 0.15
    )  # how a way bends is known a little less well than how it goes on straight
    for _ in range(8):
        cosine = math.sqrt(max(radius * radius - lateral * lateral, 0.0))
        x, y = _met_at(math.sqrt((radius + PUSH) ** 2 - lateral * lateral) - cosine, cosine, lateral, bend)
        j, i = math.floor(u + x * wx - y * wy), math.floor(v + x * wy + y * wx)
        if abs(lateral) <= _flank_from(radius, bend):
            break
        off = _off_way((j + 0.5 - u) * wx + (i + 0.5 - v) * wy, (i + 0.5 - v) * wx - (j + 0.5 - u) * wy, bend)
        if abs(off) <= passes:
            break
        lateral -= math.copysign(max(abs(off) - passes, 0.1) + 0.2, lateral)
    return i, j


# --- stations into tiles ------------------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def _reaches(u: float, v: float, reach: float, ti: int, tj: int) -> bool:
    """Whether a disc touches a tile."""
    aside = max(max(tj * TILE - u, u - (tj + 1) * TILE), 0.0)
    away = max(max(ti * TILE - v, v - (ti + 1) * TILE), 0.0)
    return aside * aside + away * away <= reach * reach


@njit(cache=True, nogil=True)
def pair_up(seen: Floats, tile_rows: int, tile_columns: int, filling: bool, starts: Longs, stations: Ints) -> None:
    """Lists of the stations that reach each tile, in order.

    First with filling=False: starts i8[tiles + 1] is filled with where each list begins. Then with filling=True: stations i4[starts[-1]] is
    filled (and starts left as they were).
    """
    if not filling:
        starts[:] = 0
    at = starts.copy()
    for s in range(seen.shape[0]):
        if seen[s, HIGH] <= seen[s, Z] + LEAST:
            continue
        u, v, reach = seen[s, U], seen[s, V], seen[s, REACH] + 2.0  # samples look a cell and more beyond
        for ti in range(max(math.floor((v - reach) / TILE), 0), min(math.floor((v + reach) / TILE), tile_rows - 1) + 1):
            for tj in range(
                max(math.floor((u - reach) / TILE), 0),
                min(math.floor((u + reach) / TILE), tile_columns - 1) + 1,
            ):
                if not _reaches(u, v, reach, ti, tj):
                    continue
                tile = ti * tile_columns + tj
                if filling:
                    stations[at[tile]] = s
                    at[tile] += 1
                else:
                    starts[tile + 1] += 1
    if not filling:
        for tile in range(tile_rows * tile_columns):
            starts[tile + 1] += starts[tile]


# --- engagement ---------------------------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def _sample_side(
    u: float, v: float, z: float, wx: float, wy: float, bend: float, c: int, box: Longs, top: Singles, bottom: float, cell: float, cutters: Floats,
    side_at: Floats, side: Singles, found: Floats,
) -> int:  # fmt: skip
    """Heights of stock along the upright side, just ahead of it; returns bits of `sides`."""
    bits = 0
    top_row, end_row, left, right = box[0], box[1], box[2], box[3]
    right_most, left_most = math.inf, -math.inf
    low = max(cutters[c, SIDE_FROM], bottom - z)
    radius = cutters[c, RADIUS]
    flank = _flank_from(radius, bend)
    most = cutters[c, SIDE_TOP]
    area = 0.0
    for k in range(SIDE_SAMPLES):
        x, y = _met_at(side_at[c, k, 0] - side_at[c, k, 4], side_at[c, k, 4], side_at[c, k, 1], bend)
        j, i = math.floor(u + x * wx - y * wy), math.floor(v + x * wy + y * wx)
        if abs(side_at[c, k, 1]) > flank:
            i, j = _cell_met(side_at[c, k, 1], radius, bend, u, v, wx, wy)
        if i < top_row or i >= end_row or j < left or j >= right:
            continue
        stands = min(float(top[i, j]) - z, most) - low
        if stands <= LEAST:
            continue
        side[k] = stands
        area += stands * (side_at[c, k, 3] - side_at[c, k, 2])
        right_most, left_most = min(right_most, side_at[c, k, 2]), max(left_most, side_at[c, k, 3])
        if k < 4:
            bits |= CUTS_RIGHT
        elif k >= SIDE_SAMPLES - 4:
            bits |= CUTS_LEFT
    found[SWEPT] += area * cell
    found[RIGHT_MOST], found[LEFT_MOST] = min(found[RIGHT_MOST], right_most), max(found[LEFT_MOST], left_most)
    return bits


@njit(cache=True, nogil=True)
def _away(u: float, v: float, box: Longs) -> float:
    """How far a place lies outside a tile (0 inside), along the axis where it is farther."""
    return float(max(box[2] - u, u - box[3], box[0] - v, v - box[1], 0.0))


@njit(cache=True, nogil=True)
def _sample_slope(
    u: float, v: float, z: float, wx: float, wy: float, bend: float, flat_way: float, wz: float, c: int, box: Longs, top: Singles, bottom: float,
    cell: float, cutters: Floats, compass: Floats, parts: Floats, over: Bytes, met: Floats, slope: Singles, found: Floats,
) -> int:  # fmt: skip
    """Shares of the slices of the sloped part that stand in stock; returns bits of `sides`.

    A gentle slope is compared with the stock at the centre of the sample's cell, where the tool's own last step has left its mark truly;
    a steep one is looked at a cell ahead, as the upright side is. `over` and `met`: as `_list_over` leaves them.
    """
    bits = 0
    top_row, end_row, left, right = box[0], box[1], box[2], box[3]
    swept, right_most, left_most = 0.0, math.inf, -math.inf
    widest = cutters[c, RADIUS] ** 2
    for k in range(SLICES):
        r, low, mid, high = parts[2 * k + 1, 0], parts[2 * k, 1], parts[2 * k + 1, 1], parts[2 * k + 2, 1]
        if _away(u, v, box) > r + 1.5:
            continue
        run, rise = (parts[2 * k + 2, 0] - parts[2 * k, 0]) * cell, high - low
        if rise <= 0.0:
            continue
        steep = rise > STEEP * run
        # Where bins are narrower than a cell, one sample serves several of them.
        together = min(max(int(AROUND / max(r * BIN, 1e-9)), 1), ANGLES)
        for begin in range(0, ANGLES, together):
            stop = min(begin + together, ANGLES)
            ahead = rise * compass[ANGLES + begin + stop, 0] * flat_way - run * wz
            if ahead <= 0.0:
                continue
            y, x = r * compass[ANGLES + begin + stop, 1], r * compass[ANGLES + begin + stop, 0]
            if y < met[0] - NEARBY or y > met[1] + NEARBY or x > met[2] + NEARBY:
                continue
            if steep:
                i, j = _cell_met(y, r, bend, u, v, wx, wy)
            else:
                j, i = math.floor(u + x * wx - y * wy), math.floor(v + x * wy + y * wx)
            if i < top_row or i >= end_row or j < left or j >= right:
                continue
            share = 0.0
            if steep:
                stock = float(top[i, j]) - z
                if stock > LEAST:
                    share = min(max((min(stock, high) - max(low, bottom - z)) / rise, 0.0), 1.0)
            elif over[i - top_row, j - left]:
                share = 1.0 if over[i - top_row, j - left] != NOT_SAMPLED else 0.0
            elif (j + 0.5 - u) ** 2 + (
                i + 0.5 - v
            ) ** 2 > widest:  # a place of the rim whose cell has its centre outside
                share = 1.0 if float(top[i, j]) - z - mid > LEAST and mid > bottom - z else 0.0
            if share <= 0.0:
                continue
            for a in range(begin, stop):
                slope[k, a] = share
            swept += share * r * cell * (stop - begin) * BIN * ahead
            right_most, left_most = (
                min(right_most, r * compass[ANGLES + 2 * begin, 1]),
                max(left_most, r * compass[ANGLES + 2 * stop, 1]),
            )
            if steep and begin < 2:
                bits |= CUTS_RIGHT
            if steep and stop > ANGLES - 2:
                bits |= CUTS_LEFT
    found[SWEPT] += swept
    found[RIGHT_MOST], found[LEFT_MOST] = min(found[RIGHT_MOST], right_most), max(found[LEFT_MOST], left_most)
    return bits


@njit(cache=True, nogil=True)
def _sample_end(
    u: float, v: float, z: float, wx: float, wy: float, flat_way: float, wz: float, c: int, box: Longs, top: Singles, bottom: float,
    cell: float, cutters: Floats, fine: Singles, knots: Floats, first: Ints, compass: Floats, rings: Floats, end: Singles, found: Floats,
) -> None:  # fmt: skip
    """Shares of the end face that stand in stock under a tool that goes down: the flat all round, what slopes only behind (the front
    half is in the slices)."""
    widest, flat = cutters[c, RADIUS] ** 2, cutters[c, FLAT]
    top_row, end_row, left, right = box[0], box[1], box[2], box[3]
    table, fine_to, fine_scale = fine[c], cutters[c, FINE_TO], cutters[c, FINE_SCALE]
    fine_from = cutters[c, FINE_FROM]
    swept, right_most, left_most = 0.0, math.inf, -math.inf
    for k in range(RINGS):
        r, run = 0.5 * (rings[k, 0] + rings[k + 1, 0]), (rings[k + 1, 0] - rings[k, 0]) * cell
        rise = rings[k + 1, 1] - rings[k, 1]
        if run <= 0.0 or _away(u, v, box) > r + 1.0:
            continue
        together = min(max(int(AROUND / max(r * BIN, 1e-9)), 1), ANGLES // 2)
        for begin in range(0, 2 * ANGLES, together):
            stop = min(begin + together, 2 * ANGLES)
            cosine, sine = compass[begin + stop, 0], compass[begin + stop, 1]
            ahead = rise * cosine * flat_way - run * wz
            if ahead <= 0.0 or (cosine > 0.0 and r > flat):
                continue
            x, y = r * cosine, r * sine
            j, i = math.floor(u + x * wx - y * wy), math.floor(v + x * wy + y * wx)
            if i < top_row or i >= end_row or j < left or j >= right:
                continue
            square = min((j + 0.5 - u) ** 2 + (i + 0.5 - v) ** 2, widest)
            surface = 0.0
            if r > flat and fine_from <= square < fine_to:  # the same as `_surface`
                n = int(square * fine_scale)
                surface = float(table[n, 0] + (square * fine_scale - n) * table[n, 1])
            elif r > flat:
                surface = _height(math.sqrt(square), c, cutters, knots, first)
            if float(top[i, j]) - z - surface <= LEAST or surface <= bottom - z:
                continue
            for a in range(begin, stop):
                end[k, a] = 1.0
            swept += r * cell * (stop - begin) * BIN * ahead
            right_most, left_most = min(right_most, y), max(left_most, y)
    found[SWEPT] += swept
    found[RIGHT_MOST], found[LEFT_MOST] = min(found[RIGHT_MOST], right_most), max(found[LEFT_MOST], left_most)


@njit(cache=True, nogil=True)
def _stands_beyond(u: float, v: float, z: float, wx: float, wy: float, reach: float, box: Longs, top: Singles) -> int:
    """Whether stock stands just outside the edge at its right and left: bits of `sides`."""
    bits = 0
    for side in range(2):
        y = (reach + BEYOND) * (1.0 if side else -1.0)
        j, i = math.floor(u - y * wy), math.floor(v + y * wx)
        if i < box[0] or i >= box[1] or j < box[2] or j >= box[3]:
            continue
        if float(top[i, j]) > z + LEAST:
            bits |= BEYOND_LEFT if side else BEYOND_RIGHT
    return bits


# --- the cut ------------------------------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def _span(u: float, half: float, low: int, high: int) -> tuple[int, int]:
    """First and end column of the cells whose centres lie within `half` of u, between two columns."""
    return max(math.ceil(u - half - 0.5), low), min(math.floor(u + half - 0.5) + 1, high)


@njit(cache=True, nogil=True)
def _stands_in(aside: float, away: float, wx: float, wy: float, level: bool, bend: float, inner: float) -> bool:
    """Whether a cell stands no farther than `inner` from the way of the axis, or from the axis itself where it goes straight down. Every cell
    that is met ahead is met at the rim; what counts is how far within the flank it comes to lie."""
    if not level:
        return aside * aside + away * away <= inner * inner
    return abs(_off_way(aside * wx + away * wy, away * wx - aside * wy, bend)) <= inner


@njit(cache=True, nogil=True)
def _cut_flat(
    u: float, v: float, z: float, bu: float, bv: float, follows: bool, radius: float, inner: float, wx: float, wy: float, level_way: bool,
    bend: float, box: Longs, bottom: float, move: int, top: Singles, maker: Ints, pushed: Singles, found: Floats,
) -> int:  # fmt: skip
    """Cut with a flat end. If the same cutter stood at (bu, bv) one station before and no higher, what its disc covered there is cut
    already, and only the crescent is left."""
    bits = 0
    volume, highest, lowest, within = 0.0, float(NOTHING), math.inf, float(NOTHING)
    right_most, left_most = math.inf, -math.inf
    level = np.float32(z)
    through = z <= bottom + LEAST
    left = NOTHING if through else level
    floor = bottom if through else float(level)
    least = floor + LEAST
    for i in range(max(math.ceil(v - radius - 0.5), box[0]), min(math.floor(v + radius - 0.5) + 1, box[1])):
        away = i + 0.5 - v
        square = radius * radius - away * away
        if square < 0.0:
            continue
        begin, end = _span(u, math.sqrt(square), box[2], box[3])
        done, undone = end, end
        if follows:
            before = radius * radius - (i + 0.5 - bv) ** 2
            if before >= 0.0:
                done, undone = _span(bu, math.sqrt(before), box[2], box[3])
                done, undone = min(done, end), max(undone, begin)
        for part in range(2):
            for j in range(begin if part == 0 else undone, done if part == 0 else end):
                stock = float(top[i, j])
                if stock <= least:
                    continue
                top[i, j] = left
                maker[i, j] = move
                if pushed.size > 1:
                    pushed[i, j] = 0.0
                volume += stock - floor
                highest = max(highest, stock)
                lowest = floor
                beside = away * wx - (j + 0.5 - u) * wy
                right_most, left_most = min(right_most, beside), max(left_most, beside)
                if stock > within and _stands_in(j + 0.5 - u, away, wx, wy, level_way, bend, inner):
                    within = stock
    if volume > 0.0 and not through:
        bits = FLOOR
    found[VOLUME] += volume
    found[TOP], found[LOW] = max(found[TOP], highest), min(found[LOW], lowest)
    found[INNER_TOP] = max(found[INNER_TOP], within)
    found[CUT_RIGHT], found[CUT_LEFT] = right_most, left_most
    return bits


@njit(cache=True, nogil=True)
def _mark_over(
    u: float, v: float, z: float, bu: float, bv: float, bz: float, follows: bool, reach: float, c: int, box: Longs, cutters: Floats,
    under: Singles, ramp: Singles, top: Singles, words: Words, over: Bytes, at: Longs,
) -> None:  # fmt: skip
    """Mark the cells that stand over an end of any shape: none that it cuts is left out, few others are marked (beyond its rim too).

    If the same cutter stood at (bu, bv, bz) one station before, it left nothing to take behind it. Heights rise outward, so a cell nearer
    the former axis was cut at least as deep, if the tip has not gone down since. If it has, by d: the height grows at least with
    BOWL·r²/2, and with the squares of both radii parting by more than 2·d/BOWL the former cut was still the deeper one.

    under f4[cutters, 2, LINES] as in `profile.Tables`; ramp f4[TILE]: 0.5, 1.5, .. Filled: over u1[TILE, TILE] between the rows and columns
    of the tile at i8[4] (first and end row, first and end column, columns in whole words); words: the same marks eight at a time.

    The loop over a row holds nothing but sums of singles, so that several cells are looked at in one step of the processor.
    """
    at[0], at[1] = max(math.ceil(v - reach - 0.5) - box[0], 0), min(math.floor(v + reach - 0.5) + 1, box[1]) - box[0]
    begin, end = _span(u, reach, box[2], box[3])
    at[2] = (begin - box[2]) // WORD * WORD
    at[3] = max((end - box[2] + WORD - 1) // WORD * WORD, at[2])
    # What lies ahead: aside·du + away·dv > ahead.
    du, dv, ahead = u - bu, v - bv, -math.inf
    if follows and du * du + dv * dv > 0.0:
        fallen = max(bz - z, 0.0)
        if fallen <= 0.0:
            ahead = -0.5 * (du * du + dv * dv)
        elif cutters[c, BOWL] > 0.0:
            ahead = -0.5 * (du * du + dv * dv) - fallen / cutters[c, BOWL]
    tip = np.float32(z)
    a0, a1, a2, a3 = under[c, 0, 0], under[c, 0, 1], under[c, 0, 2], under[c, 0, 3]
    b0, b1, b2, b3 = under[c, 1, 0], under[c, 1, 1], under[c, 1, 2], under[c, 1, 3]
    for a in range(at[0], at[1]):
        for word in range(at[2] // WORD, at[3] // WORD):
            words[a, word] = 0
        away = a + box[0] + 0.5 - v
        square = reach * reach - away * away
        if square < 0.0:
            continue
        begin, end = _span(u, math.sqrt(square), box[2], box[3])
        if ahead > -math.inf:
            rest = ahead - away * dv
            if du > 0.0:
                begin = max(begin, math.floor(min(max(u + rest / du - 0.5, -1e6), 1e6)))
            elif du < 0.0:
                end = min(end, math.ceil(min(max(u + rest / du - 0.5, -1e6), 1e6)) + 1)
            elif rest >= 0.0:
                continue
        if end <= begin:
            continue
        begin = box[2] + (begin - box[2]) // WORD * WORD
        end = min(box[2] + (end - box[2] + WORD - 1) // WORD * WORD, box[3])
        stock, marked = top[a + box[0], begin:end], over[a, begin - box[2] : end - box[2]]
        off, aside2 = np.float32(begin - u), np.float32(away * away)
        for k in range(stock.size):
            aside = ramp[k] + off
            r2 = aside * aside + aside2
            up = stock[k] - tip
            marked[k] = (up > a0 + b0 * r2) & (up > a1 + b1 * r2) & (up > a2 + b2 * r2) & (up > a3 + b3 * r2)


@njit(cache=True, nogil=True)
def _list_over(
    u: float, v: float, z: float, wx: float, wy: float, c: int, box: Longs, bottom: float, cutters: Floats, fine: Singles, knots: Floats,
    first: Ints, top: Singles, words: Words, at: Longs, over: Bytes, cells: Ints, levels: Singles, met: Floats,
) -> int:  # fmt: skip
    """What an end of any shape cuts of the cells that `_mark_over` has marked; returns how many.

    words: `over` eight at a time. Changed: over, 0 where nothing is cut after all, NOT_SAMPLED where a cell is cut through. Filled: cells
    i4[., 2], row and column; levels f4[.], the height that is left; met f8[3]: least and greatest place to the left of the way, and the
    greatest ahead, of the centres of these cells.
    """
    table, fine_from, fine_to, fine_scale = fine[c], cutters[c, FINE_FROM], cutters[c, FINE_TO], cutters[c, FINE_SCALE]
    flat, widest, count = cutters[c, FLAT] ** 2, cutters[c, RADIUS] ** 2, 0
    right_most, left_most, farthest = math.inf, -math.inf, -math.inf
    for a in range(at[0], at[1]):
        away = a + box[0] + 0.5 - v
        for word in range(at[2] // WORD, at[3] // WORD):
            if words[a, word] == 0:
                continue
            for b in range(word * WORD, (word + 1) * WORD):
                if over[a, b] == 0:
                    continue
                aside = b + box[2] + 0.5 - u
                square = away * away + aside * aside
                # The same as `_surface`: a call that hands on arrays costs ten times as much as the sum.
                if square <= flat:
                    rise = 0.0
                elif fine_from <= square < fine_to:
                    x = square * fine_scale
                    n = int(x)
                    rise = float(table[n, 0] + (x - n) * table[n, 1])
                elif square <= widest:
                    rise = _height(math.sqrt(square), c, cutters, knots, first)
                else:
                    over[a, b] = 0
                    continue
                stock, level = float(top[a + box[0], b + box[2]]), np.float32(z + rise)
                through = float(level) <= bottom + LEAST
                floor = bottom if through else float(level)
                if stock - float(level) <= LEAST or stock - floor <= LEAST:
                    over[a, b] = 0
                    continue
                if through:
                    over[a, b] = NOT_SAMPLED
                cells[count, 0], cells[count, 1], levels[count] = a + box[0], b + box[2], NOTHING if through else level
                count += 1
                ahead, beside = aside * wx + away * wy, away * wx - aside * wy
                right_most, left_most, farthest = min(right_most, beside), max(left_most, beside), max(farthest, ahead)
    met[0], met[1], met[2] = right_most, left_most, farthest
    return count


@njit(cache=True, nogil=True)
def _cut_shaped(
    u: float, v: float, c: int, going_down: bool, wx: float, wy: float, level_way: bool, bend: float, bottom: float, move: int, cutters: Floats,
    count: int, cells: Ints, levels: Singles, top: Singles, maker: Ints, pushed: Singles, found: Floats,
) -> int:  # fmt: skip
    """Cut with any end the `count` cells of a list (`_list_over`).

    pushed f4[rows, columns] (of size 1 where no tool has a dead centre): how deep the dead centre of a tool pressed since an edge cut there.
    """
    bits = 0
    volume, highest, lowest, within = 0.0, float(NOTHING), math.inf, float(NOTHING)
    inner, flat, dead = cutters[c, STANDS_IN], cutters[c, FLAT] ** 2, cutters[c, DEAD] ** 2
    for n in range(count):
        i, j, level = cells[n, 0], cells[n, 1], levels[n]
        away, aside, stock = i + 0.5 - v, j + 0.5 - u, float(top[i, j])
        through = level == NOTHING
        floor = bottom if through else float(level)
        top[i, j] = level
        maker[i, j] = move
        volume += stock - floor
        highest = max(highest, stock)
        lowest = min(lowest, floor)
        if stock > within and _stands_in(aside, away, wx, wy, level_way, bend, inner):
            within = stock
        square = away * away + aside * aside
        if square <= flat and not through:
            bits = FLOOR
        if pushed.size > 1:
            if square >= dead:
                pushed[i, j] = 0.0
            elif going_down:
                pushed[i, j] += np.float32(stock - floor)
                found[DEAD_DEPTH] = max(found[DEAD_DEPTH], float(pushed[i, j]))
    found[VOLUME] += volume
    found[TOP], found[LOW] = max(found[TOP], highest), min(found[LOW], lowest)
    found[INNER_TOP] = max(found[INNER_TOP], within)
    return bits


@njit(cache=True, nogil=True)
def work_tile(
    tile: int, tile_columns: int, starts: Longs, stations: Ints, seen: Floats, way: Singles, marks: Bytes, cutter: Ints, move: Ints,
    grid: Floats, cutters: Floats, fine: Singles, knots: Floats, first: Ints, side_at: Floats, compass: Floats, top: Singles, maker: Ints, pushed: Singles,
    blocks: Singles, side: Singles, slope: Singles, end: Singles, found: Floats, sides: Bytes, probe_starts: Longs, probes: Ints,
    tip: Floats, former: Floats, what: Ints, place: Floats, profiles: Floats, body_parts: Floats, touch: float, coarse: Singles,
    near: Floats, grown: Floats, necks: Floats, bounds: Floats, under: Singles, ramp: Singles, counts: Bytes, spans: Singles,
) -> int:  # fmt: skip
    """Take the stations that reach one tile through it, in order: what stands before each edge, then the cut. Before a station cuts, the
    bodies that come by then are held against what still stands (`pair_up_probes`, `probe_tile`).

    way f4[M, 3]; grid f8[2]; compass f8[4·ANGLES + 1, 2]: cosine and sine of bounds and middles of bins, from -180 degrees. Changed: top f4[rows, columns], maker
    i4[rows, columns], pushed; blocks of this tile brought up to date. Filled: side f4[M, SIDE_SAMPLES], slope f4[M, SLICES, ANGLES],
    end f4[M, RINGS, 2·ANGLES] (rows of stations; all 0 before), found f8[P, FOUND] and sides u1[P] (rows of pairs).

    necks f8[cutters] (-1 = it does not undercut) and bounds as in `_cut_under`; under and ramp as in `_mark_over`; counts u1[TILE, TILE] and spans f4[TILE, TILE, GAPS, 2] the
    hollows of this tile (`_subtract`), both empty where it has none and nobody undercuts there. Returns the status of `_subtract`.
    """
    status = 0
    ti, tj = tile // tile_columns, tile % tile_columns
    box = np.empty(4, np.int64)
    box[0], box[1] = ti * TILE, min((ti + 1) * TILE, top.shape[0])
    box[2], box[3] = tj * TILE, min((tj + 1) * TILE, top.shape[1])
    cell, bottom = grid[CELL], grid[BOTTOM]
    parts = np.empty((2 * SLICES + 1, 2))
    rings = np.empty((RINGS + 1, 2))
    over, at, met, count = np.zeros((TILE, TILE), np.uint8), np.zeros(4, np.int64), np.zeros(3), 0
    words, cells, levels = over.view(np.uint64), np.empty((TILE * TILE, 2), np.int32), np.empty(TILE * TILE, np.float32)
    one, q, probes_end = np.zeros(NEAR), probe_starts[tile], probe_starts[tile + 1]
    for p in range(starts[tile], starts[tile + 1]):
        s = stations[p]
        while q < probes_end and what[probes[q], AFTER] <= s:
            r = probes[q]
            _probe_station(
                top, maker, coarse, box, place, profiles, body_parts, tip[r], former[r], move[r], what[r], touch, near, grown, one,
                counts, spans,
            )  # fmt: skip
            q += 1
        c = cutter[s]
        u, v, z, reach = seen[s, U], seen[s, V], seen[s, Z], seen[s, REACH]
        wz = float(way[s, 2])
        flat_way = math.sqrt(float(way[s, 0]) ** 2 + float(way[s, 1]) ** 2)
        wx, wy = 1.0, 0.0  # a way straight down has no front: angles are told from X
        if flat_way > 1e-9:
            wx, wy = way[s, 0] / flat_way, way[s, 1] / flat_way
        found[p, :] = 0.0
        found[p, TOP], found[p, LOW], found[p, INNER_TOP] = float(NOTHING), math.inf, float(NOTHING)
        found[p, RIGHT_MOST], found[p, LEFT_MOST] = math.inf, -math.inf
        found[p, CUT_RIGHT], found[p, CUT_LEFT] = math.inf, -math.inf
        bits = 0
        follows = marks[s] & FOLLOWS != 0
        bu, bv, bz = (seen[s - 1, U], seen[s - 1, V], seen[s - 1, Z]) if follows else (u, v, z)
        flat_end = cutters[c, SIDE_FROM] <= 0.0 and (cutters[c, DEAD] <= 0.0 or wz >= DOWN)
        if necks[c] < 0.0 and not flat_end:
            _mark_over(u, v, z, bu, bv, bz, follows, reach, c, box, cutters, under, ramp, top, words, over, at)
            count = _list_over(
                u, v, z, wx, wy, c, box, bottom, cutters, fine, knots, first, top, words, at, over, cells, levels, met
            )
        if not marks[s] & (RAPID | UNSAMPLED):
            stands = seen[s, HIGH] - z
            if necks[c] >= 0.0:
                if flat_way > 1e-9:
                    bits |= _sample_under(
                        u, v, z, wx, wy, c, box, top, bottom, cutters, side_at, counts, spans, side[s], found[p]
                    )
            elif flat_way > 1e-9 and stands > cutters[c, SIDE_FROM]:
                bits |= _sample_side(
                    u, v, z, wx, wy, seen[s, BEND], c, box, top, bottom, cell, cutters, side_at, side[s], found[p]
                )
                found[p, SWEPT] *= flat_way
            if cutters[c, SIDE_FROM] > 0.0 and necks[c] < 0.0:
                slices(stands, c, cell, cutters, knots, parts)
                bits |= _sample_slope(
                    u, v, z, wx, wy, seen[s, BEND], flat_way, wz, c, box, top, bottom, cell, cutters, compass, parts, over, met, slope[s],
                    found[p],
                )  # fmt: skip
            if wz < DOWN:
                ring_bounds(
                    parts[2 * SLICES, 1] if cutters[c, SIDE_FROM] > 0.0 else stands, c, cutters, knots, first, rings
                )
                _sample_end(
                    u, v, z, wx, wy, flat_way, wz, c, box, top, bottom, cell, cutters, fine, knots, first, compass, rings, end[s], found[p],
                )  # fmt: skip
        if not marks[s] & RAPID:
            bits |= _stands_beyond(u, v, z, wx, wy, reach, box, top)
        if necks[c] >= 0.0:
            status = max(
                status,
                _cut_under(
                    u,
                    v,
                    z,
                    wx,
                    wy,
                    c,
                    box,
                    bottom,
                    move[s],
                    cutters,
                    necks,
                    bounds,
                    top,
                    maker,
                    counts,
                    spans,
                    found[p],
                ),
            )
            found[p, INNER_TOP] = found[p, TOP]  # what stands over an undercutting edge stands over its neck
        elif flat_end:
            crescent = follows and bz <= z
            bits |= _cut_flat(
                u, v, z, bu, bv, crescent, cutters[c, RADIUS], cutters[c, STANDS_IN], wx, wy, flat_way > 1e-9, seen[s, BEND], box,
                bottom, move[s], top, maker, pushed, found[p],
            )  # fmt: skip
        else:
            bits |= _cut_shaped(
                u, v, c, wz < DOWN, wx, wy, flat_way > 1e-9, seen[s, BEND], bottom, move[s], cutters, count, cells, levels, top, maker,
                pushed, found[p],
            )  # fmt: skip
            found[p, CUT_RIGHT], found[p, CUT_LEFT] = met[0], met[1]
        if counts.size and necks[c] < 0.0:
            _fall_into_hollows(u, v, cutters[c, RADIUS], box, bottom, top, counts, spans, found[p])
        found[p, VOLUME] *= cell * cell
        sides[p] = bits
    while q < probes_end:
        r = probes[q]
        _probe_station(
            top, maker, coarse, box, place, profiles, body_parts, tip[r], former[r], move[r], what[r], touch, near, grown, one,
            counts, spans,
        )  # fmt: skip
        q += 1
    highest_of_blocks(top, box[0], box[1], box[2], box[3], blocks)
    return status


@njit(cache=True, nogil=True)
def ring_bounds(height: float, c: int, cutters: Floats, knots: Floats, first: Ints, out: Floats) -> None:
    """Filled: out f8[RINGS + 1, 2], (radius, height over the tip) of the bounds of the rings of the end face: `profile.ring_radii`."""
    flat, radius = cutters[c, FLAT], cutters[c, RADIUS]
    inner = RINGS if cutters[c, SIDE_FROM] <= 0.0 else (4 if flat > 0.0 else 0)
    reach = radius if inner == RINGS else max(_reach(min(height, cutters[c, SIDE_FROM]), c, cutters, knots), flat)
    for k in range(RINGS + 1):
        if k <= inner:
            out[k, 0] = (flat if inner else 0.0) * k / max(inner, 1)
        else:
            out[k, 0] = flat + (reach - flat) * (k - inner) / (RINGS - inner)
        out[k, 1] = 0.0 if out[k, 0] <= flat else _height(out[k, 0], c, cutters, knots, first)


# --- what all pairs found together --------------------------------------------------------------------------------------------------------


@njit(cache=True, nogil=True)
def gather(
    stations: Ints, found: Floats, sides: Bytes, seen: Floats, cutter: Ints, cutters: Floats, knots: Floats, grid: Floats,
    each: Floats, making: Bytes, slope_z: Singles,
) -> None:  # fmt: skip
    """Join the pairs of each station. Filled: each f8[M, EACH], making u1[M], slope_z f4[M, SLICES + 1] (rows of stations that cut)."""
    count = cutter.size
    spread = np.empty((count, 4))
    spread[:, 0], spread[:, 1], spread[:, 2], spread[:, 3] = math.inf, -math.inf, math.inf, -math.inf
    each[:, :] = 0.0
    each[:, EACH_TOP], each[:, EACH_LOW], each[:, EACH_INNER_TOP] = float(NOTHING), math.inf, float(NOTHING)
    making[:] = 0
    for p in range(stations.size):
        s = stations[p]
        each[s, EACH_VOLUME] += found[p, VOLUME]
        each[s, EACH_SWEPT] += found[p, SWEPT]
        each[s, EACH_TOP] = max(each[s, EACH_TOP], found[p, TOP])
        each[s, EACH_INNER_TOP] = max(each[s, EACH_INNER_TOP], found[p, INNER_TOP])
        each[s, EACH_LOW] = min(each[s, EACH_LOW], found[p, LOW])
        each[s, EACH_DEAD] = max(each[s, EACH_DEAD], found[p, DEAD_DEPTH])
        spread[s, 0] = min(spread[s, 0], found[p, RIGHT_MOST])
        spread[s, 1] = max(spread[s, 1], found[p, LEFT_MOST])
        spread[s, 2], spread[s, 3] = min(spread[s, 2], found[p, CUT_RIGHT]), max(spread[s, 3], found[p, CUT_LEFT])
        making[s] |= sides[p]
    parts = np.empty((2 * SLICES + 1, 2))
    for s in range(count):
        bits, c = making[s], cutter[s]
        making[s] = 0
        each[s, EACH_BESIDE] = 1.0 if bits & (BEYOND_LEFT | BEYOND_RIGHT) else 0.0
        if each[s, EACH_VOLUME] <= 0.0:
            each[s, EACH_SWEPT] = 0.0
            continue
        each[s, EACH_WIDTH] = max(spread[s, 1] - spread[s, 0], 0.0) * grid[CELL]
        each[s, EACH_ACROSS] = (spread[s, 3] - spread[s, 2] + 1.0) * grid[CELL]
        if bits & CUTS_LEFT and bits & BEYOND_LEFT:
            making[s] |= WALL_LEFT
        if bits & CUTS_RIGHT and bits & BEYOND_RIGHT:
            making[s] |= WALL_RIGHT
        if bits & FLOOR:
            making[s] |= MAKES_FLOOR
        if cutters[c, SIDE_FROM] > 0.0:
            slices(seen[s, HIGH] - seen[s, Z], c, grid[CELL], cutters, knots, parts)
            for k in range(SLICES + 1):
                slope_z[s, k] = parts[2 * k, 1]


@njit(cache=True, nogil=True)
def tally(
    move: Ints, marks: Bytes, cutter: Ints, cutters: Floats, step: Singles, seen: Floats, each: Floats, grid: Floats,
    volume: Floats, extremes: Singles, shares: Floats, window: Floats, necks: Floats,
) -> None:  # fmt: skip
    """Add stations to their moves, and hold volume against swept area over windows of way.

    Changed: volume f8[N]; extremes f4[N, 7]: axial, radial, above the usable edge, dead depth, lowest (told from the top of the stock,
    NaN at first), axial without slivers at the rim, width of the cells cut; shares f8[N, 3]: way, way on which it cut, way on which stock stood just beside the edge; window f8[WINDOW].
    """
    bottom = grid[BOTTOM]
    for s in range(move.size):
        m, c = move[s], cutter[s]
        if marks[s] & GHOST:
            continue
        shares[m, 0] += step[s]
        shares[m, 2] += step[s] * each[s, EACH_BESIDE]
        if c < 0 or each[s, EACH_VOLUME] <= 0.0:
            continue
        shares[m, 1] += step[s]
        volume[m] += each[s, EACH_VOLUME]
        z = seen[s, Z]
        axial = each[s, EACH_TOP] - max(z, bottom)
        extremes[m, 0] = max(extremes[m, 0], np.float32(axial))
        extremes[m, 1] = max(extremes[m, 1], np.float32(each[s, EACH_WIDTH]))
        extremes[m, 5] = max(extremes[m, 5], np.float32(each[s, EACH_INNER_TOP] - max(z, bottom)))
        extremes[m, 6] = max(extremes[m, 6], np.float32(each[s, EACH_ACROSS]))
        if not marks[s] & RAPID:
            above = each[s, EACH_INNER_TOP] - z - cutters[c, USABLE]  # NaN where it is not known, and stays so
            if not above <= 0.0:
                extremes[m, 2] = np.float32(above) if not extremes[m, 2] > above else extremes[m, 2]
            extremes[m, 3] = max(extremes[m, 3], np.float32(each[s, EACH_DEAD]))
            # What undercuts is sampled too coarsely to be weighed.
            if necks[c] < 0.0 and not marks[s] & UNSAMPLED:
                _weigh(c, float(step[s]), each[s, EACH_VOLUME], each[s, EACH_SWEPT] * step[s], window)
        if not extremes[m, 4] <= each[s, EACH_LOW]:
            extremes[m, 4] = np.float32(each[s, EACH_LOW])


@njit(cache=True, nogil=True)
def _weigh(c: int, step: float, volume: float, swept: float, window: Floats) -> None:
    """Add a station to the running window; where that is long enough and took enough for the cells to be many, note how far volume and
    swept area part, and begin anew."""
    if window[RUN_CUTTER] != c:
        window[:RUN_CUTTER], window[RUN_CUTTER] = 0.0, c
    window[RUN_WAY] += step
    window[RUN_VOLUME] += volume
    window[RUN_SWEPT] += swept
    if window[RUN_WAY] >= window[LEAST_WAY] and window[RUN_VOLUME] >= window[LEAST_VOLUME]:
        window[WORST] = max(window[WORST], abs(window[RUN_VOLUME] - window[RUN_SWEPT]) / window[RUN_VOLUME])
        window[:RUN_CUTTER] = 0.0


@njit(cache=True, nogil=True)
def halve_samples(rows: Longs, side: Singles, tallest: Floats, out: Singles) -> None:
    """The two samples of each bin together, none taller than what its station took. rows i8[K] of side f4[M, SIDE_SAMPLES] and of tallest
    f8[M]; filled: out f4[K, ANGLES].

    Samples look a little ahead. Where a way ends in a corner of a pocket, on a wall that stands as high as the levels before left it, they
    see that wall, and the tool never comes to it.
    """
    for n in range(rows.size):
        most = np.float32(tallest[rows[n]])
        for k in range(ANGLES):
            both = np.float32(0.5) * (min(side[rows[n], 2 * k], most) + min(side[rows[n], 2 * k + 1], most))
            out[n, k] = both


@njit(cache=True, nogil=True)
def lower_slices(rows: Longs, above: Floats, slope_z: Singles, slope: Singles) -> None:
    """Nothing in slices of the sloped part that begin above what their station took, for the same reason. rows i8[K] of above f8[M] (height
    of that over the tip), slope_z f4[M, SLICES + 1] and slope f4[M, SLICES, ANGLES], which is changed."""
    for n in range(rows.size):
        for k in range(SLICES):
            if slope_z[rows[n], k] >= above[rows[n]]:
                slope[rows[n], k] = 0.0


@njit(cache=True, nogil=True)
def clear_rows(rows: Longs, side: Singles, slope: Singles, end: Singles, slope_z: Singles) -> None:
    """Nothing for stations that cut nothing: a sample may have looked at a wall beside. slope and end have one row where no station has any."""
    for n in range(rows.size):
        side[rows[n]], slope_z[rows[n]] = 0.0, 0.0
        if slope.shape[0] > 1:
            slope[rows[n]] = 0.0
        if end.shape[0] > 1:
            end[rows[n]] = 0.0


# --- contact: how near a body comes to the field ------------------------------------------------------------------------------------------

MOST_MOVES = (
    5  # moves kept for each part of a tool where several touch, worst first; where none does, only the nearest is
)
FIRST = MOST_MOVES  # the row after them: the first move of the program that touches, where one does
KEPT_ROWS = MOST_MOVES + 1
PARTS = 5  # parts of a body: `facts.assembly.Part`
PROBED_AT_FEED, PROBED_AT_RAPID = 1, 2  # bits of what is asked about a part, and of how a station is made
PROBED_DOWN = 6  # at rapid straight down: asked like any rapid, kept apart, because it ends in air that the next line feeds through
WAYS = 3  # the three ways of being made
NO_GAP = 1e9
SAME = 1e-9  # mm: places nearer than this are one
# Columns of `near`: gaps of the body as it is, shrunk and grown; move; tip; the cell that is nearest and its height; whether the gap is
# parted upward, and whether the cell is still as the blank was. The last
# three are only for the work: something was kept at this station, stations so far, height that nothing in the tile stands over.
(
    GAP,
    SHRUNK,
    GROWN,
    MOVE,
    TIP_X,
    TIP_Y,
    TIP_Z,
    CELL_ROW,
    CELL_COLUMN,
    CELL_HEIGHT,
    UPWARD,
    FRESH,
    KEPT,
    COUNT,
    HIGHEST,
) = range(15)
NEAR = 15
AGAIN = 64.0  # stations after which the highest place of a tile is looked up again
# Columns of `parts`, one row for each part of each body: greatest radius (-1 = no such part), lowest height over the tip, its rows in
# `slopes` from .. to, when it is asked about.
PART_REACH, PART_BOTTOM, PART_FIRST, PART_END, PART_ASKED = range(5)
PART_COLUMNS = 5
# Columns of `slopes`: radius and height at the lower and the upper end, height where the solid ends.
LOW_R, LOW_Z, HIGH_R, HIGH_Z, SOLID_TO = range(5)
# Columns of `what`, one row a station: body, how it is made, stretch (of one tool, from call to call), first station whose cut may stand.
BODY, MADE, STRETCH, AFTER = range(4)
# Columns of `place`: corner and cell of the grid, Z that heights are told from, how far material reaches beyond a centre on average; mm.
CORNER_X, CORNER_Y, CELL_MM, TOP_Z, BEYOND_CENTRE = range(5)


@njit(cache=True, nogil=True)
def _body_gap(slopes: Floats, begin: int, end: int, aside: float, above: float, below: float) -> tuple[float, bool]:
    """Signed gap of a part of a body to a column `aside` from the axis with the tip `above` its top, `below` its lower end (-NO_GAP where it
    has none); whether it is parted along Z."""
    least, upward = NO_GAP, False
    for k in range(begin, end):
        side, up = aside - slopes[k, LOW_R], above + slopes[k, LOW_Z]
        wider = slopes[k, HIGH_R] - slopes[k, LOW_R]
        if side > up and wider > 0.0:  # the gap of the place on the slope where both are equal, or of its upper end
            part = min(1.0, (side - up) / (wider + slopes[k, HIGH_Z] - slopes[k, LOW_Z]))
            side -= part * wider
            up += part * (slopes[k, HIGH_Z] - slopes[k, LOW_Z])
        up = max(up, below - slopes[k, SOLID_TO])
        gap = max(side, up)
        if gap < least:
            least, upward = gap, up >= side
    return least, upward


@njit(cache=True, nogil=True)
def _cell_gap(
    i: int, j: int, box: Longs, slopes: Floats, begin: int, end: int, aside: float, low_z: float, high_z: float, top: Singles,
    counts: Bytes, spans: Singles,
) -> tuple[float, bool, float]:  # fmt: skip
    """Signed gap to all that stands in a cell while the tip lies anywhere from low_z to high_z, whether it is parted along Z, and the height
    of what is nearest."""
    height = float(top[i, j])
    hollows = counts[i - box[0], j - box[2]] if counts.size else 0
    if hollows == 0:
        gap, upward = _body_gap(slopes, begin, end, aside, low_z - height, -NO_GAP)
        return gap, upward, height
    least, parted, nearest = NO_GAP, False, height
    for n in range(hollows + 1):
        below = float(spans[i - box[0], j - box[2], n, 1]) - high_z if n < hollows else -NO_GAP
        gap, upward = _body_gap(slopes, begin, end, aside, low_z - height, below)
        if gap < least:
            least, parted, nearest = gap, upward, height
        if n < hollows:
            height = float(spans[i - box[0], j - box[2], n, 0])
    return least, parted, nearest


@njit(cache=True, nogil=True)
def _aside(x: float, y: float, tip: Floats, former: Floats) -> float:
    """Distance across of a point from the way between two places."""
    from_x, from_y = former[0], former[1]
    way_x, way_y = tip[0] - from_x, tip[1] - from_y
    length = way_x * way_x + way_y * way_y
    if length > 0.0:
        part = min(1.0, max(0.0, ((x - from_x) * way_x + (y - from_y) * way_y) / length))
        from_x += part * way_x
        from_y += part * way_y
    return math.sqrt((x - from_x) ** 2 + (y - from_y) ** 2)


@njit(cache=True, nogil=True)
def _wanted_below(near: Floats, move: int, touch: float) -> float:
    """The gap below which another place matters: nearer than the nearest; where that one touches already, every other move that touches
    matters too, until MOST_MOVES are kept."""
    wanted: float = near[0, GAP]
    if wanted >= touch:
        return wanted
    wanted = min(touch, near[MOST_MOVES - 1, GAP])
    for k in range(MOST_MOVES):
        if near[k, MOVE] == move:
            wanted = near[k, GAP]
    return wanted


@njit(cache=True, nogil=True)
def _keep(near: Floats, one: Floats, touch: float) -> None:
    """Put a place that is wanted into the sorted list of one part: one row a move. The first move that touches is kept whatever comes."""
    if one[GAP] < touch and (near[FIRST, MOVE] < 0.0 or one[MOVE] <= near[FIRST, MOVE]):
        near[FIRST, :] = one
    at = 0 if near[0, GAP] >= touch else MOST_MOVES - 1
    for k in range(MOST_MOVES):
        if near[k, MOVE] == one[MOVE]:
            at = k
            break
    while at > 0 and near[at - 1, GAP] > one[GAP]:
        near[at, :] = near[at - 1, :]
        at -= 1
    near[at, :] = one


@njit(cache=True, nogil=True)
def _block_height(top: Singles, coarse: Singles, bi: int, bj: int) -> float:
    """The highest cell of a block as it is now; `coarse` is lowered to it."""
    most = NOTHING
    for i in range(bi * BLOCK, min(top.shape[0], (bi + 1) * BLOCK)):
        for j in range(bj * BLOCK, min(top.shape[1], (bj + 1) * BLOCK)):
            most = max(most, top[i, j])
    coarse[bi, bj] = most
    return float(most)


@njit(cache=True, nogil=True)
def _beside(centre: float, last: float, low: float, high: float) -> float:
    """How far the way between low and high stays from a row of cell centres, on one axis."""
    return max(0.0, centre - high, low - last)


@njit(cache=True, nogil=True)
def _fresh(i: int, j: int, upward: bool, place: Floats, tip: Floats, maker: Ints) -> float:
    """1 where the face that is nearest is the blank's own: nobody has cut the cell, nor, where the gap is sideways, the one before it."""
    if maker[i, j] >= 0:
        return 0.0
    away_x = tip[0] - place[CORNER_X] - (j + 0.5) * place[CELL_MM]
    away_y = tip[1] - place[CORNER_Y] - (i + 0.5) * place[CELL_MM]
    away = math.sqrt(away_x * away_x + away_y * away_y)
    if not upward and away > 0.0:
        i += math.floor(away_y / away + 0.5)
        j += math.floor(away_x / away + 0.5)
        if 0 <= i < maker.shape[0] and 0 <= j < maker.shape[1] and maker[i, j] >= 0:
            return 0.0
    return 1.0


@njit(cache=True, nogil=True)
def _probe_cell(
    i: int, j: int, top: Singles, maker: Ints, box: Longs, place: Floats, slopes: Floats, begin: int, end: int, tip: Floats,
    former: Floats, move: int, touch: float, wanted: float, near: Floats, grown: Floats, key: int, one: Floats, counts: Bytes,
    spans: Singles,
) -> float:  # fmt: skip
    """Hold one cell against a part; returns the gap that is wanted from now on.

    Material reaches beyond the centre that stands for it (`contact`): the body as it is comes nearer by BEYOND_CENTRE. The grown body
    goes all the way from the former station, at all heights between the two.
    """
    half, round_by = place[BEYOND_CENTRE], math.sqrt(0.5) * place[CELL_MM]
    x, y = place[CORNER_X] + (j + 0.5) * place[CELL_MM], place[CORNER_Y] + (i + 0.5) * place[CELL_MM]
    low_z, high_z = min(tip[2], former[2]) - place[TOP_Z], max(tip[2], former[2]) - place[TOP_Z]
    z = tip[2] - place[TOP_Z]
    swept = _aside(x, y, tip, former) - half - round_by
    one[GROWN], _, _ = _cell_gap(i, j, box, slopes, begin, end, swept, low_z, high_z, top, counts, spans)
    grown[key] = min(grown[key], one[GROWN])
    aside = math.sqrt((x - tip[0]) ** 2 + (y - tip[1]) ** 2) - half
    one[GAP], upward, one[CELL_HEIGHT] = _cell_gap(i, j, box, slopes, begin, end, aside, z, z, top, counts, spans)
    if one[GAP] >= wanted:
        return wanted
    one[SHRUNK], _, _ = _cell_gap(i, j, box, slopes, begin, end, aside + round_by, z, z, top, counts, spans)
    one[MOVE] = move
    one[TIP_X], one[TIP_Y], one[TIP_Z] = tip[0], tip[1], tip[2]
    one[CELL_ROW], one[CELL_COLUMN] = i, j
    one[UPWARD], one[FRESH] = 1.0 if upward else 0.0, _fresh(i, j, upward, place, tip, maker)
    one[KEPT] = 1.0
    _keep(near[key], one, touch)
    return _wanted_below(near[key], move, touch)


@njit(cache=True, nogil=True)
def _settle(
    top: Singles, maker: Ints, coarse: Singles, box: Longs, span: tuple[int, int, int, int], place: Floats, slopes: Floats, part: Floats,
    tip: Floats, kept: Floats, counts: Bytes, spans: Singles,
) -> None:  # fmt: skip
    """Find the least gap of the shrunk body at a station that was just kept, and, of cells that are equally near, the one which that is of:
    over a level top not the first one under the rim."""
    cell, half, round_by = place[CELL_MM], place[BEYOND_CENTRE], math.sqrt(0.5) * place[CELL_MM]
    z = tip[2] - place[TOP_Z]
    begin, end = int(part[PART_FIRST]), int(part[PART_END])
    i0, i1, j0, j1 = span
    bottom, rim = (
        part[PART_BOTTOM],
        part[PART_REACH] + half - round_by,
    )  # no cell whose centre is farther than the rim is less than 0 away
    for bi in range(i0 // BLOCK, (i1 - 1) // BLOCK + 1):
        y = place[CORNER_Y] + (bi * BLOCK + 0.5) * cell
        away = _beside(y, y + (BLOCK - 1) * cell, tip[1], tip[1])
        for bj in range(j0 // BLOCK, (j1 - 1) // BLOCK + 1):
            if z - float(coarse[bi, bj]) + bottom >= kept[SHRUNK]:
                continue
            x = place[CORNER_X] + (bj * BLOCK + 0.5) * cell
            aside = _beside(x, x + (BLOCK - 1) * cell, tip[0], tip[0])
            far = rim + kept[SHRUNK] + SAME  # a hair more than rounding
            if far < 0.0 or aside * aside + away * away >= far * far:
                continue
            for i in range(max(i0, bi * BLOCK), min(i1, (bi + 1) * BLOCK)):
                for j in range(max(j0, bj * BLOCK), min(j1, (bj + 1) * BLOCK)):
                    if z - float(top[i, j]) + bottom >= kept[SHRUNK]:
                        continue
                    x1, y1 = place[CORNER_X] + (j + 0.5) * cell, place[CORNER_Y] + (i + 0.5) * cell
                    beside = math.sqrt((x1 - tip[0]) ** 2 + (y1 - tip[1]) ** 2) - half
                    shrunk, _, _ = _cell_gap(i, j, box, slopes, begin, end, beside + round_by, z, z, top, counts, spans)
                    if shrunk < kept[SHRUNK]:
                        kept[SHRUNK] = shrunk
                        gap, upward, height = _cell_gap(i, j, box, slopes, begin, end, beside, z, z, top, counts, spans)
                        if gap <= kept[GAP]:
                            kept[CELL_ROW], kept[CELL_COLUMN], kept[CELL_HEIGHT] = i, j, height
                            kept[UPWARD] = 1.0 if upward else 0.0
                            kept[FRESH] = _fresh(i, j, upward, place, tip, maker)


@njit(cache=True, nogil=True)
def _matters(
    slopes: Floats, begin: int, end: int, own: float, above: float, wanted: float, swept: float, swept_above: float, grown: float
) -> bool:  # fmt: skip
    """Whether a block can be nearer to the body than is `wanted`, or to the grown body than is known: gaps never fall with the distance
    aside nor with the height above. A tool that rises was deeper at the former station: what its grown body met there the body as it is
    cannot meet here."""
    gap, _ = _body_gap(slopes, begin, end, own, above, -NO_GAP)
    if gap < wanted:
        return True
    gap, _ = _body_gap(slopes, begin, end, swept, swept_above, -NO_GAP)
    return gap < grown


@njit(cache=True, nogil=True)
def _foretaste(
    top: Singles, coarse: Singles, box: Longs, place: Floats, slopes: Floats, part: Floats, tip: Floats, former: Floats, wanted: float,
    grown: Floats, key: int, counts: Bytes, spans: Singles,
) -> float:  # fmt: skip
    """A gap that is surely come to in this tile: of one cell on each of eight rays from the axis outward, the first block on it that stands
    high enough to matter. Returns the gap below which, or at which, a place matters.

    A wide body deep in stock meets cells from its rim inward, each a little nearer than the one before; what is known from the middle
    first passes them over. What is kept is the same: the first cell, in order of rows, of the least gap.
    """
    cell, half, round_by = place[CELL_MM], place[BEYOND_CENTRE], math.sqrt(0.5) * place[CELL_MM]
    low_z, high_z = min(tip[2], former[2]) - place[TOP_Z], max(tip[2], former[2]) - place[TOP_Z]
    z, bottom, begin, end = tip[2] - place[TOP_Z], part[PART_BOTTOM], int(part[PART_FIRST]), int(part[PART_END])
    middle_i = int(min(max(math.floor((tip[1] - place[CORNER_Y]) / cell), box[0]), box[1] - 1))
    middle_j = int(min(max(math.floor((tip[0] - place[CORNER_X]) / cell), box[2]), box[3] - 1))
    most = int(part[PART_REACH] / cell) // BLOCK + 1
    for ray in range(9):
        down, right = ray // 3 - 1, ray % 3 - 1
        for n in range(most if ray != 4 else 1):
            i, j = middle_i + down * n * BLOCK, middle_j + right * n * BLOCK
            if i < box[0] or i >= box[1] or j < box[2] or j >= box[3]:
                break
            if (
                low_z - float(coarse[i // BLOCK, j // BLOCK]) + bottom >= wanted
                or low_z - float(top[i, j]) + bottom >= wanted
            ):
                continue
            x, y = place[CORNER_X] + (j + 0.5) * cell, place[CORNER_Y] + (i + 0.5) * cell
            swept = _aside(x, y, tip, former) - half - round_by
            gap, _, _ = _cell_gap(i, j, box, slopes, begin, end, swept, low_z, high_z, top, counts, spans)
            grown[key] = min(grown[key], gap)
            aside = math.sqrt((x - tip[0]) ** 2 + (y - tip[1]) ** 2) - half
            gap, _, _ = _cell_gap(i, j, box, slopes, begin, end, aside, z, z, top, counts, spans)
            if gap < wanted:
                wanted = np.nextafter(gap, NO_GAP)
                break
    return wanted


@njit(cache=True, nogil=True)
def _probe_part(
    top: Singles, maker: Ints, coarse: Singles, box: Longs, place: Floats, slopes: Floats, part: Floats, tip: Floats, former: Floats,
    move: int, touch: float, near: Floats, grown: Floats, key: int, one: Floats, counts: Bytes, spans: Singles,
) -> None:  # fmt: skip
    """The cells of one tile held against one part at one station.

    Blocks are passed over where neither their highest cell nor their nearest corner can be nearer than what is known.
    """
    cell, corner_x, corner_y = place[CELL_MM], place[CORNER_X], place[CORNER_Y]
    reach = part[PART_REACH] + (0.5 + math.sqrt(0.5)) * cell
    low_x, high_x, low_y, high_y = (
        min(tip[0], former[0]),
        max(tip[0], former[0]),
        min(tip[1], former[1]),
        max(tip[1], former[1]),
    )
    z, low, bottom = tip[2] - place[TOP_Z], min(tip[2], former[2]) - place[TOP_Z], part[PART_BOTTOM]
    wanted = _wanted_below(near[key], move, touch)
    begin, end = int(part[PART_FIRST]), int(part[PART_END])
    half, round_by = place[BEYOND_CENTRE], math.sqrt(0.5) * cell
    one[KEPT] = 0.0
    if wanted <= touch or grown[key] <= touch:
        wanted = _foretaste(top, coarse, box, place, slopes, part, tip, former, wanted, grown, key, counts, spans)
    far = reach + max(wanted, grown[key])
    j0 = max(box[2], math.floor((low_x - far - corner_x) / cell))
    j1 = min(box[3], math.floor((high_x + far - corner_x) / cell) + 1)
    i0 = max(box[0], math.floor((low_y - far - corner_y) / cell))
    i1 = min(box[1], math.floor((high_y + far - corner_y) / cell) + 1)
    for bi in range(i0 // BLOCK, (i1 - 1) // BLOCK + 1):
        y = corner_y + (bi * BLOCK + 0.5) * cell
        away, own_away = (
            _beside(y, y + (BLOCK - 1) * cell, low_y, high_y),
            _beside(y, y + (BLOCK - 1) * cell, tip[1], tip[1]),
        )
        for bj in range(j0 // BLOCK, (j1 - 1) // BLOCK + 1):
            high = float(coarse[bi, bj])
            if z - high + bottom >= wanted and low - high + bottom >= grown[key]:
                continue
            x = corner_x + (bj * BLOCK + 0.5) * cell
            aside = _beside(x, x + (BLOCK - 1) * cell, low_x, high_x)
            swept = math.sqrt(aside * aside + away * away) - half - round_by - SAME
            aside = _beside(x, x + (BLOCK - 1) * cell, tip[0], tip[0])
            own = math.sqrt(aside * aside + own_away * own_away) - half - SAME
            if not _matters(slopes, begin, end, own, z - high, wanted, swept, low - high, grown[key]):
                continue
            high = _block_height(top, coarse, bi, bj)
            if not _matters(slopes, begin, end, own, z - high, wanted, swept, low - high, grown[key]):
                continue
            for i in range(max(i0, bi * BLOCK), min(i1, (bi + 1) * BLOCK)):
                for j in range(max(j0, bj * BLOCK), min(j1, (bj + 1) * BLOCK)):
                    height = float(top[i, j])
                    if z - height + bottom >= wanted and low - height + bottom >= grown[key]:
                        continue
                    wanted = _probe_cell(
                        i, j, top, maker, box, place, slopes, begin, end, tip, former, move, touch, wanted,
                        near, grown, key, one, counts, spans,
                    )  # fmt: skip
    for n in range(MOST_MOVES):
        if one[KEPT] > 0.0 and near[key, n, MOVE] == move:
            _settle(top, maker, coarse, box, (i0, i1, j0, j1), place, slopes, part, tip, near[key, n], counts, spans)
            if near[key, FIRST, MOVE] == move:
                near[key, FIRST, :] = near[key, n, :]


@njit(cache=True, nogil=True)
def _tile_height(coarse: Singles, box: Longs) -> float:
    """Nothing in a tile is higher."""
    most = NOTHING
    for bi in range(box[0] // BLOCK, (box[1] - 1) // BLOCK + 1):
        for bj in range(box[2] // BLOCK, (box[3] - 1) // BLOCK + 1):
            most = max(most, coarse[bi, bj])
    return float(most)


@njit(cache=True, nogil=True)
def _key(stretch: int, part: int, made: int) -> int:
    return (stretch * PARTS + part) * WAYS + (0 if made == PROBED_AT_FEED else 1 if made == PROBED_AT_RAPID else 2)


@njit(cache=True, nogil=True)
def _probe_station(
    top: Singles, maker: Ints, coarse: Singles, box: Longs, place: Floats, slopes: Floats, parts: Floats, tip: Floats, former: Floats,
    move: int, what: Ints, touch: float, near: Floats, grown: Floats, one: Floats, counts: Bytes, spans: Singles,
) -> None:  # fmt: skip
    """The cells of one tile held against every part of a body that is asked about at one station."""
    if one[COUNT] % AGAIN == 0.0:
        one[HIGHEST] = _tile_height(coarse, box)
    one[COUNT] += 1.0
    low = min(tip[2], former[2]) - place[TOP_Z] - one[HIGHEST]
    for n in range(PARTS):
        of = what[BODY] * PARTS + n
        if parts[of, PART_REACH] >= 0.0 and int(parts[of, PART_ASKED]) & what[MADE]:
            key = _key(what[STRETCH], n, what[MADE])
            if low + parts[of, PART_BOTTOM] < max(grown[key], _wanted_below(near[key], move, touch)):
                _probe_part(
                    top, maker, coarse, box, place, slopes, parts[of], tip, former, move, touch, near, grown, key, one, counts, spans
                )  # fmt: skip


@njit(cache=True, nogil=True)
def pair_up_probes(
    tip: Floats, former: Floats, move: Ints, what: Ints, parts: Floats, place: Floats, heights: Singles, rows: int, columns: int,
    touch: float, near: Floats, grown: Floats, filling: bool, starts: Longs, stations: Ints,
) -> None:  # fmt: skip
    """Lists of the stations to be probed in each tile, in order: those where a part that is asked about could come nearer to the tile's
    highest cell than what is known. Usually there are none.

    tip, former f8[M, 3]: this station and the one before, mm; what i4[M, 4]; heights f4[tile rows, tile columns]: highest cell of each tile;
    rows, columns: cells of the field; near f8[K, KEPT_ROWS, NEAR] and grown f8[K] as known before. starts and stations as in `pair_up`.
    """
    side, cell = TILE * place[CELL_MM], place[CELL_MM]
    more = (0.5 + math.sqrt(0.5)) * cell
    if not filling:
        starts[:] = 0
    at = starts.copy()
    for s in range(move.size):
        if what[s, MADE] == 0:
            continue
        low_x, high_x = min(tip[s, 0], former[s, 0]), max(tip[s, 0], former[s, 0])
        low_y, high_y = min(tip[s, 1], former[s, 1]), max(tip[s, 1], former[s, 1])
        low_z = min(tip[s, 2], former[s, 2]) - place[TOP_Z]
        for n in range(PARTS):
            of = what[s, BODY] * PARTS + n
            if parts[of, PART_REACH] < 0.0 or not int(parts[of, PART_ASKED]) & what[s, MADE]:
                continue
            key = _key(what[s, STRETCH], n, what[s, MADE])
            wanted = max(grown[key], _wanted_below(near[key], move[s], touch))
            reach = parts[of, PART_REACH] + more
            far = reach + wanted
            for ti in range(
                max(0, math.floor((low_y - far - place[CORNER_Y]) / side)),
                min(heights.shape[0], math.floor((high_y + far - place[CORNER_Y]) / side) + 1),
            ):
                y = place[CORNER_Y] + ti * side
                away = _beside(y, place[CORNER_Y] + min(rows * cell, (ti + 1) * side), low_y, high_y)
                for tj in range(
                    max(0, math.floor((low_x - far - place[CORNER_X]) / side)),
                    min(heights.shape[1], math.floor((high_x + far - place[CORNER_X]) / side) + 1),
                ):
                    if low_z + parts[of, PART_BOTTOM] - heights[ti, tj] >= wanted:
                        continue
                    x = place[CORNER_X] + tj * side
                    aside = _beside(x, place[CORNER_X] + min(columns * cell, (tj + 1) * side), low_x, high_x)
                    tile = ti * heights.shape[1] + tj
                    if math.sqrt(aside * aside + away * away) - reach >= wanted:
                        continue
                    # The parts of one station come one after the other: it is in the list already if it is the last there.
                    if filling:
                        if at[tile] == starts[tile] or stations[at[tile] - 1] != s:
                            stations[at[tile]] = s
                            at[tile] += 1
                    elif at[tile] != s + 1:
                        at[tile] = s + 1
                        starts[tile + 1] += 1
    if not filling:
        for tile in range(heights.size):
            starts[tile + 1] += starts[tile]


@njit(cache=True, nogil=True)
def probe_tile(
    tile: int, starts: Longs, stations: Ints, tip: Floats, former: Floats, move: Ints, what: Ints, place: Floats, slopes: Floats,
    parts: Floats, touch: float, top: Singles, maker: Ints, coarse: Singles, near: Floats, grown: Floats,
) -> None:  # fmt: skip
    """Probe the stations listed for one tile of a field that nothing is taken from."""
    box, one = np.empty(4, np.int64), np.zeros(NEAR)
    counts, spans = np.zeros((0, 0), np.uint8), np.zeros((0, 0, 0, 0), np.float32)
    tile_columns = (top.shape[1] + TILE - 1) // TILE
    ti, tj = tile // tile_columns, tile % tile_columns
    box[0], box[1] = ti * TILE, min((ti + 1) * TILE, top.shape[0])
    box[2], box[3] = tj * TILE, min((tj + 1) * TILE, top.shape[1])
    for p in range(starts[tile], starts[tile + 1]):
        s = stations[p]
        _probe_station(
            top, maker, coarse, box, place, slopes, parts, tip[s], former[s], move[s], what[s], touch, near, grown, one, counts, spans
        )  # fmt: skip


# --- contact with what stands still -------------------------------------------------------------------------------------------------------

ROUND = 4  # column of `solid` f8[6]: x low, x high, y low, y high, radius (0 = a box), top
SOLID_TOP = 5
HALVINGS = 48  # of a way, by the golden section: to 1e-10 of it
GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0


@njit(cache=True, nogil=True)
def _beside_solid(x: float, y: float, solid: Floats) -> float:
    """Distance across of a point from a box or an upright cylinder; 0 over it."""
    away_x, away_y = max(0.0, solid[0] - x, x - solid[1]), max(0.0, solid[2] - y, y - solid[3])
    if solid[ROUND] > 0.0:
        away_x, away_y = x - 0.5 * (solid[0] + solid[1]), y - 0.5 * (solid[2] + solid[3])
    aside: float = math.sqrt(away_x * away_x + away_y * away_y) - solid[ROUND]
    return max(0.0, aside)


@njit(cache=True, nogil=True)
def _gap_on_way(
    part: float, n: int, start: Floats, end: Floats, slopes: Floats, k: int, solid: Floats
) -> tuple[float, bool]:
    """Gap of one slope of a body at a part of way n."""
    x, y = start[n, 0] + part * (end[n, 0] - start[n, 0]), start[n, 1] + part * (end[n, 1] - start[n, 1])
    above = start[n, 2] + part * (end[n, 2] - start[n, 2]) - solid[SOLID_TOP]
    return _body_gap(slopes, k, k + 1, _beside_solid(x, y, solid), above, -NO_GAP)


@njit(cache=True, nogil=True)
def _nearest_on_way(n: int, start: Floats, end: Floats, slopes: Floats, k: int, solid: Floats) -> float:
    """The part of a straight way where a slope comes nearest: the gap is convex along it, because the solid is."""
    low, high = 0.0, 1.0
    a, b = high - GOLDEN, low + GOLDEN
    gap_a, _ = _gap_on_way(a, n, start, end, slopes, k, solid)
    gap_b, _ = _gap_on_way(b, n, start, end, slopes, k, solid)
    for _ in range(HALVINGS):
        if gap_a <= gap_b:
            high, b, gap_b = b, a, gap_a
            a = high - GOLDEN * (high - low)
            gap_a, _ = _gap_on_way(a, n, start, end, slopes, k, solid)
        else:
            low, a, gap_a = a, b, gap_b
            b = low + GOLDEN * (high - low)
            gap_b, _ = _gap_on_way(b, n, start, end, slopes, k, solid)
    best, least = 0.0, NO_GAP
    for part in (0.0, 0.5 * (low + high), 1.0):  # the ends are hit to the last bit only if they are asked
        gap, _ = _gap_on_way(part, n, start, end, slopes, k, solid)
        if gap < least:
            best, least = part, gap
    return best


@njit(cache=True, nogil=True)
def probe_solid(
    start: Floats, end: Floats, move: Ints, what: Ints, slopes: Floats, parts: Floats, solid: Floats, touch: float, near: Floats,
) -> None:  # fmt: skip
    """Hold every part that is asked about against one box or upright cylinder on all of its straight ways, exactly.

    start, end f8[L, 3]; what i4[L, 4]: BODY, MADE, STRETCH. Changed: near f8[K, KEPT_ROWS, NEAR], with x and y of the nearest place of the
    solid in CELL_COLUMN and CELL_ROW, mm.
    """
    one = np.zeros(NEAR)
    for n in range(move.size):
        if what[n, MADE] == 0:
            continue
        away_x = max(0.0, solid[0] - max(start[n, 0], end[n, 0]), min(start[n, 0], end[n, 0]) - solid[1])
        away_y = max(0.0, solid[2] - max(start[n, 1], end[n, 1]), min(start[n, 1], end[n, 1]) - solid[3])
        aside, above = math.sqrt(away_x * away_x + away_y * away_y), min(start[n, 2], end[n, 2]) - solid[SOLID_TOP]
        for p in range(PARTS):
            of = what[n, BODY] * PARTS + p
            if parts[of, PART_REACH] < 0.0 or not int(parts[of, PART_ASKED]) & what[n, MADE]:
                continue
            key = _key(what[n, STRETCH], p, what[n, MADE])
            for k in range(int(parts[of, PART_FIRST]), int(parts[of, PART_END])):
                wanted = _wanted_below(near[key], move[n], touch)
                if max(aside - slopes[k, HIGH_R], above + slopes[k, LOW_Z]) >= wanted:
                    continue
                part = _nearest_on_way(n, start, end, slopes, k, solid)
                one[GAP], upward = _gap_on_way(part, n, start, end, slopes, k, solid)
                if one[GAP] >= wanted:
                    continue
                one[SHRUNK], one[GROWN], one[MOVE], one[UPWARD] = one[GAP], one[GAP], move[n], 1.0 if upward else 0.0
                for axis in range(3):
                    one[TIP_X + axis] = start[n, axis] + part * (end[n, axis] - start[n, axis])
                x, y = min(max(one[TIP_X], solid[0]), solid[1]), min(max(one[TIP_Y], solid[2]), solid[3])
                if solid[ROUND] > 0.0:
                    middle_x, middle_y = 0.5 * (solid[0] + solid[1]), 0.5 * (solid[2] + solid[3])
                    away = math.sqrt((one[TIP_X] - middle_x) ** 2 + (one[TIP_Y] - middle_y) ** 2)
                    share = min(1.0, solid[ROUND] / away) if away > 0.0 else 0.0
                    x, y = middle_x + share * (one[TIP_X] - middle_x), middle_y + share * (one[TIP_Y] - middle_y)
                one[CELL_COLUMN], one[CELL_ROW], one[CELL_HEIGHT] = x, y, solid[SOLID_TOP]
                _keep(near[key], one, touch)


@njit(cache=True, nogil=True)
def _clip(points: Floats, count: int, axis: int, level: float, keep_above: bool, out: Floats) -> int:
    """What of a convex outline lies on one side of a level of one axis, the level itself included; filled: out, returns its corners."""
    found = 0
    for n in range(count):
        a, b = points[n], points[(n + 1) % count]
        in_a = a[axis] >= level if keep_above else a[axis] <= level
        in_b = b[axis] >= level if keep_above else b[axis] <= level
        if in_a:
            out[found, :] = a
            found += 1
        if in_a != in_b:
            part = (level - a[axis]) / (b[axis] - a[axis])
            for k in range(3):
                out[found, k] = a[k] + part * (b[k] - a[k])
            out[found, axis] = level
            found += 1
    return found


@njit(cache=True, nogil=True)
def cover_triangles(triangles: Floats, place: Floats, top: Singles) -> None:
    """Raise every cell that a triangle touches to the highest point that the triangle has in it.

    triangles f8[K, 3, 3] (corner, axis), mm; those outside the grid are passed over. Changed: top f4[rows, columns].
    """
    rows, columns = top.shape
    cell = place[CELL_MM]
    a, b, c = np.empty((9, 3)), np.empty((9, 3)), np.empty((9, 3))
    for t in range(triangles.shape[0]):
        low_y, high_y = triangles[t, :, 1].min(), triangles[t, :, 1].max()
        for i in range(
            max(0, math.ceil((low_y - place[CORNER_Y]) / cell) - 1),
            min(rows, math.floor((high_y - place[CORNER_Y]) / cell) + 1),
        ):
            y = place[CORNER_Y] + i * cell
            a[:3] = triangles[t]
            count = _clip(b, _clip(a, 3, 1, y, True, b), 1, y + cell, False, c)
            if count == 0:
                continue
            low_x, high_x = c[:count, 0].min(), c[:count, 0].max()
            for j in range(
                max(0, math.ceil((low_x - place[CORNER_X]) / cell) - 1),
                min(columns, math.floor((high_x - place[CORNER_X]) / cell) + 1),
            ):
                x = place[CORNER_X] + j * cell
                corners = _clip(a, _clip(c, count, 0, x, True, a), 0, x + cell, False, b)
                for n in range(corners):
                    top[i, j] = max(top[i, j], np.float32(b[n, 2] - place[TOP_Z]))


# --- hollows: what an undercutting edge leaves standing over itself -----------------------------------------------------------------------

GAPS = 6  # hollows kept in one cell at most
UNDER = 512  # stretches of the square of an undercutting edge's radius


@njit(cache=True, nogil=True)
def _subtract(
    i: int, j: int, low: float, high: float, box: Longs, bottom: float, move: int, top: Singles, maker: Ints, counts: Bytes,
    spans: Singles, found: Floats,
) -> int:  # fmt: skip
    """Take what stands in a cell between two heights.

    counts u1[TILE, TILE] hollows under the top of each cell of the tile, spans f4[TILE, TILE, GAPS, 2] their lower and upper ends, the highest
    hollow first. Returns 0; or, where one hollow too many would be needed (nothing is taken then), 1 + the number of the cell along rows.
    """
    a, b = i - box[0], j - box[2]
    stock, hollows = float(top[i, j]), int(counts[a, b])
    low, high = max(low, bottom), min(high, stock)
    taken = high - low
    for n in range(hollows):
        taken -= max(0.0, min(high, float(spans[a, b, n, 1])) - max(low, float(spans[a, b, n, 0])))
    if taken <= LEAST:
        return 0
    opens = high >= stock - LEAST
    begin, kept = low, 0
    room = np.empty((GAPS + 1, 2))
    for n in range(hollows):
        foot, head = float(spans[a, b, n, 0]), float(spans[a, b, n, 1])
        if head < low - LEAST or foot > high + LEAST:
            room[kept, 0], room[kept, 1] = foot, head
            kept += 1
        else:  # the two become one
            begin, high = min(begin, foot), max(high, head)
    if opens:
        gone = begin <= bottom + LEAST
        top[i, j] = NOTHING if gone else np.float32(begin)
        maker[i, j] = move
    else:
        at = kept
        while at > 0 and room[at - 1, 1] < high:
            room[at, 0], room[at, 1] = room[at - 1, 0], room[at - 1, 1]
            at -= 1
        room[at, 0], room[at, 1] = begin, high
        kept += 1
        if kept > GAPS:
            full: int = i * top.shape[1] + j + 1
            return full
    for n in range(kept):
        spans[a, b, n, 0], spans[a, b, n, 1] = room[n, 0], room[n, 1]
    counts[a, b] = kept
    found[VOLUME] += taken
    found[TOP] = max(found[TOP], min(high, stock))
    found[LOW] = min(found[LOW], low)
    return 0


@njit(cache=True, nogil=True)
def _cut_under(
    u: float, v: float, z: float, wx: float, wy: float, c: int, box: Longs, bottom: float, move: int, cutters: Floats, necks: Floats, bounds: Floats,
    top: Singles, maker: Ints, counts: Bytes, spans: Singles, found: Floats,
) -> int:  # fmt: skip
    """Cut with an edge that is wider than what carries it: all that stands over it within the neck (necks f8[cutters], cells), outside it only
    what lies between the lower and the upper side of the edge (bounds f8[cutters, UNDER + 1, 2], mm over the tip, at equal steps of the square
    of the radius). Returns the status of `_subtract`."""
    status = 0
    radius, neck = cutters[c, RADIUS], necks[c]
    scale = UNDER / (radius * radius)
    for i in range(max(math.ceil(v - radius - 0.5), box[0]), min(math.floor(v + radius - 0.5) + 1, box[1])):
        away = i + 0.5 - v
        half = radius * radius - away * away
        if half < 0.0:
            continue
        begin, end = _span(u, math.sqrt(half), box[2], box[3])
        for j in range(begin, end):
            square = min(away * away + (j + 0.5 - u) ** 2, radius * radius)
            n = min(int(square * scale), UNDER - 1)
            part = square * scale - n
            low = z + bounds[c, n, 0] + part * (bounds[c, n + 1, 0] - bounds[c, n, 0])
            if float(top[i, j]) - low <= LEAST:
                continue
            high = NO_GAP
            if square > neck * neck:
                high = z + bounds[c, n, 1] + part * (bounds[c, n + 1, 1] - bounds[c, n, 1])
            before = found[VOLUME]
            status = max(status, _subtract(i, j, low, high, box, bottom, move, top, maker, counts, spans, found))
            if found[VOLUME] > before:
                beside = away * wx - (j + 0.5 - u) * wy
                found[CUT_RIGHT], found[CUT_LEFT] = min(found[CUT_RIGHT], beside), max(found[CUT_LEFT], beside)
    return status


@njit(cache=True, nogil=True)
def _fall_into_hollows(
    u: float,
    v: float,
    radius: float,
    box: Longs,
    bottom: float,
    top: Singles,
    counts: Bytes,
    spans: Singles,
    found: Floats,
) -> None:
    """After a cut from above: a cell cut down into a hollow falls to the hollow's floor, and what was hollow was no volume."""
    for i in range(max(math.ceil(v - radius - 0.5), box[0]), min(math.floor(v + radius - 0.5) + 1, box[1])):
        half = radius * radius - (i + 0.5 - v) ** 2
        if half < 0.0:
            continue
        begin, end = _span(u, math.sqrt(half), box[2], box[3])
        for j in range(begin, end):
            a, b = i - box[0], j - box[2]
            hollows, gone = int(counts[a, b]), 0
            while gone < hollows and float(top[i, j]) <= float(spans[a, b, gone, 1]) + LEAST:
                foot, head = float(spans[a, b, gone, 0]), float(spans[a, b, gone, 1])
                floor = max(float(top[i, j]), bottom)
                found[VOLUME] -= max(0.0, head - max(floor, foot))
                if floor > foot:
                    top[i, j] = NOTHING if foot <= bottom + LEAST else np.float32(foot)
                gone += 1
            if gone:
                for n in range(gone, hollows):
                    spans[a, b, n - gone, 0], spans[a, b, n - gone, 1] = spans[a, b, n, 0], spans[a, b, n, 1]
                counts[a, b] = hollows - gone


@njit(cache=True, nogil=True)
def _sample_under(
    u: float, v: float, z: float, wx: float, wy: float, c: int, box: Longs, top: Singles, bottom: float, cutters: Floats, side_at: Floats,
    counts: Bytes, spans: Singles, side: Singles, found: Floats,
) -> int:  # fmt: skip
    """Material ahead of an undercutting edge, from the tip to the top of the edge, hollows left out; returns bits of `sides`. Its slope counts
    as upright."""
    bits = 0
    low, high = max(z, bottom), z + cutters[c, SIDE_TOP]
    for k in range(SIDE_SAMPLES):
        x, y = side_at[c, k, 0], side_at[c, k, 1]
        j, i = math.floor(u + x * wx - y * wy), math.floor(v + x * wy + y * wx)
        if i < box[0] or i >= box[1] or j < box[2] or j >= box[3]:
            continue
        upper = min(float(top[i, j]), high)
        stands = upper - low
        for n in range(int(counts[i - box[0], j - box[2]])):
            head, foot = float(spans[i - box[0], j - box[2], n, 1]), float(spans[i - box[0], j - box[2], n, 0])
            stands -= max(0.0, min(upper, head) - max(low, foot))
        if stands <= LEAST:
            continue
        side[k] = stands
        found[RIGHT_MOST] = min(found[RIGHT_MOST], side_at[c, k, 2])
        found[LEFT_MOST] = max(found[LEFT_MOST], side_at[c, k, 3])
        if k < 4:
            bits |= CUTS_RIGHT
        elif k >= SIDE_SAMPLES - 4:
            bits |= CUTS_LEFT
    return bits


KERNELS: tuple[Any, ...] = (
    slices,
    ring_bounds,
    highest_of_blocks,
    look_ahead,
    bends,
    pair_up,
    work_tile,
    gather,
    tally,
    halve_samples,
    lower_slices,
    clear_rows,
    pair_up_probes,
    probe_tile,
    probe_solid,
    cover_triangles,
)
