"""How near the parts of each tool come to the stock: a signed gap for every part, with the bracket that the grid leaves.

The body is held against the heights as they stand when it comes there. A cell is stock where its centre is, so material reaches up to a
cell beyond the outermost centres (and √2 cells at a corner): the body as it is comes half a cell nearer than centres say, which is right on
average, and the bracket around it is half a cell's diagonal either way. The body shrunk by that proves a contact if it hits, the body grown
by it proves that there is none if it misses; what lies between is the doubt of the gap (half width / √3: c/√6 where it is parted sideways).

At rapid everything is held against the stock before the rapid, not station by station: else each station would see only the step that the
last one left. At feed the cut stays a little behind, so that what stands before a neck is seen before the edge takes it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Assembly, Part
from firstoff.path.pieces import Pieces, Stations
from firstoff.program.moves import Floats, Ints
from firstoff.removal import _kernels as k
from firstoff.removal.bodies import Bodies, bodies_of
from firstoff.removal.field import LEAST_CUT_MM, Field, Grid, Heights
from firstoff.removal.swept import Contact

CAP_MM = 4.0
"""A gap wider than this is not asked about, unless who asks needs wider ones."""
SAME_PLACE_MM = 0.002
"""X and Y closer than the rounding of a program's third decimal are the same place."""
BEHIND_CELLS = 3.0
"""The cut stays this many cells behind the probe at feed: a front that is really there then stands further into the body than the bracket."""
CORNER_CELLS = 0.5 * math.sqrt(2.0) - 0.5
"""Cells that the corner of a block of material can reach beyond the bracket."""
SAMPLED, COVERED = 0.5, 0.0
"""Cells that material reaches on average beyond the outermost centres: where cells hold the height at their centre, and where every cell that
is touched at all counts as covered (then the centre is as likely within as without)."""
STOCK = "stock"
T = TypeVar("T", bound=np.generic)
PARTS = len(Part)
Point = tuple[float, float, float]


class Certainty(StrEnum):
    """What a gap and its bracket prove."""

    HIT = "hit"
    CLEAR = "clear"
    WITHIN_GRID = "within the grid"


def certain(contact: Contact) -> Certainty:
    """Whether the shrunk body hits, the grown one misses, or neither; corners of material count as far as they can reach."""
    half = contact.u_grid_mm * math.sqrt(3.0)
    if contact.gap_mm + half < -LEAST_CUT_MM:
        return Certainty.HIT
    corner = 0.0 if contact.upward else half * CORNER_CELLS * math.sqrt(2.0)
    return Certainty.CLEAR if contact.gap_mm - half - corner > 0.0 else Certainty.WITHIN_GRID


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked along the pieces. `stretch` i4[P] (from one call of a tool to the next), `made` i4[P] (`_kernels.PROBED_AT_…`, 0 where
    nothing is asked), `body` i4[P] row of `bodies` (0 where the tool has none), `tools`: T of each stretch."""

    bodies: Bodies
    stretch: Ints
    made: Ints
    body: Ints
    tools: tuple[int, ...]
    only_touch: NDArray[np.bool_]
    """bool[stretches·PARTS]: of this part nothing but a touch is asked (`Bodies.slim`)."""
    cap_mm: float = CAP_MM
    """Gaps wider than this are not asked about."""


@dataclass(frozen=True, slots=True)
class Nearest:
    """The nearest places so far, changed in place: `near` f8[K, KEPT_ROWS, NEAR] and `grown` f8[K]; see `_kernels`."""

    near: Floats
    grown: Floats


@dataclass(frozen=True, slots=True)
class Probes:
    """The probes of one part of the path, M stations: `former_mm` f8[M, 3] the places one step before, `what` i4[M, 4], the stations of tile
    t in stations[starts[t] : starts[t + 1]]; `keys`: the rows of `Nearest` that its stretches have."""

    former_mm: Floats
    what: Ints
    starts: NDArray[np.int64]
    stations: Ints
    keys: slice


def ask(
    pieces: Pieces, assemblies: Mapping[int, Assembly], edge_at_feed: bool = False, cap_mm: float = CAP_MM
) -> Asked:
    """What is asked of each piece; tools without an assembly are not looked at (the sweep names them).

    Straight up nothing can be met that was not met below, as long as the tool does not undercut. Nor at rapid down a way that the same
    tool has fed before. `edge_at_feed`: the edge is asked about at feed too (fixtures).
    """
    order = sorted(assemblies)
    bodies = bodies_of([assemblies[tool] for tool in order], edge_at_feed)
    rows = {tool: row for row, tool in enumerate(order)}
    tools, inverse = np.unique(pieces.tool, return_inverse=True)
    table = np.array([rows.get(int(tool), -1) for tool in tools] or [-1], np.int32)
    body = table[inverse.ravel()]
    stretch, called = stretches_of(pieces)
    made = np.where(pieces.rapid | pieces.ghost, k.PROBED_AT_RAPID, k.PROBED_AT_FEED).astype(np.int32)
    made[pieces.rapid & ~pieces.ghost & _straight_down(pieces)] = k.PROBED_DOWN
    made[(body < 0) | _goes_free(pieces, stretch, body, bodies)] = 0
    begins = np.flatnonzero(np.diff(stretch, prepend=-1))
    rows_of = (np.maximum(body[begins], 0)[:, None] * PARTS + np.arange(PARTS)).ravel()
    return Asked(bodies, stretch, made, np.maximum(body, 0), called, bodies.slim[rows_of], cap_mm)


def nothing_asked() -> Asked:
    """For a sweep that looks for no contact."""
    none = np.empty(0, np.int32)
    return Asked(bodies_of([]), none, none, none, (), np.zeros(0, np.bool_))


def stretches_of(pieces: Pieces) -> tuple[Ints, tuple[int, ...]]:
    """i4[P] number of the stretch of each piece, and the T of each stretch."""
    if not len(pieces):
        return np.empty(0, np.int32), ()
    changes = np.flatnonzero(np.diff(pieces.tool)) + 1
    starts = np.zeros(len(pieces), np.int32)
    starts[changes] = 1
    called = (int(pieces.tool[0]), *(int(tool) for tool in pieces.tool[changes]))
    return np.cumsum(starts, dtype=np.int32), called


def _straight_down(pieces: Pieces) -> NDArray[np.bool_]:
    """bool[P]: along Z alone, downward."""
    delta = pieces.end_mm - pieces.start_mm
    down: NDArray[np.bool_] = (np.abs(delta[:, :2]) <= SAME_PLACE_MM).all(axis=1) & (delta[:, 2] < 0) & (pieces.arc < 0)
    return down


def _goes_free(pieces: Pieces, stretch: Ints, body: Ints, bodies: Bodies) -> NDArray[np.bool_]:
    """bool[P]: straight up, or at rapid down the tool's own hole; never for a tool that undercuts."""
    delta = pieces.end_mm - pieces.start_mm
    upright = (pieces.arc < 0) & (np.abs(delta[:, :2]) <= SAME_PLACE_MM).all(axis=1)
    if bodies.undercuts.size:
        upright &= (body >= 0) & ~bodies.undercuts[np.maximum(body, 0)]
    begins = np.ones(len(pieces), np.bool_)
    begins[1:] = np.diff(stretch) != 0  # a tool may be called in the midst of the stock
    down = np.flatnonzero(upright & (delta[:, 2] < 0) & pieces.rapid & ~pieces.ghost & ~begins)
    free: NDArray[np.bool_] = upright & (delta[:, 2] >= 0) & ~begins
    free[down[_in_own_hole(pieces, stretch, down)]] = True
    return free


def _in_own_hole(pieces: Pieces, stretch: Ints, down: NDArray[np.intp]) -> NDArray[np.bool_]:
    """bool[D]: the same stretch of the tool has fed at the same place as deep or deeper before."""
    if not down.size:
        return np.zeros(0, np.bool_)
    feeds = np.flatnonzero(~pieces.rapid & ~pieces.ghost)
    points = np.concatenate([pieces.end_mm[feeds], pieces.start_mm[feeds], pieces.end_mm[down]])
    order = np.concatenate([feeds, feeds, down])
    asks = np.arange(len(points)) >= 2 * len(feeds)
    places = _place_keys(points, stretch[order])
    there = np.isin(places, places[asks])
    points, order, asks = points[there], order[there], asks[there]
    _, place = np.unique(places[there], return_inverse=True)
    heights, height = np.unique(points[:, 2], return_inverse=True)
    highest = len(heights)
    # Each place lies below all places before it, so that the lowest so far never looks into another place.
    level = place.ravel() * (highest + 1)
    by = np.lexsort((order, place.ravel()))
    lowest = np.empty(len(points), np.int64)
    lowest[by] = np.minimum.accumulate((np.where(asks, highest, height.ravel()) - level)[by])
    fed = np.append(heights, np.inf)[(lowest + level)[asks]]
    own: NDArray[np.bool_] = fed <= pieces.end_mm[down, 2] + SAME_PLACE_MM
    return own


def _place_keys(points: Floats, stretch: Ints) -> NDArray[np.int64]:
    """i8[K]: one number for each X, Y and stretch (a machine is less than 33 m wide and calls less than 8000 tools)."""
    across = np.clip(np.round(points[:, :2] / SAME_PLACE_MM), -(2**24), 2**24).astype(np.int64) + 2**24
    keys: NDArray[np.int64] = (stretch.astype(np.int64) << 50) + (across[:, 0] << 25) + across[:, 1]
    return keys


def nothing_near(asked: Asked, touch: float, cap_mm: float | None = None) -> Nearest:
    """Room for the nearest places of every part in every stretch; only what is nearer than `cap_mm` (else that of `asked`) is wanted, or
    than `touch`."""
    caps = np.repeat(np.where(asked.only_touch, touch, asked.cap_mm if cap_mm is None else cap_mm), k.WAYS)
    near = np.zeros((len(caps), k.KEPT_ROWS, k.NEAR))
    near[:, :, k.GAP], near[:, :, k.MOVE] = k.NO_GAP, -1.0
    near[:, 0, k.GAP] = caps
    return Nearest(near, caps)


def touch_mm(grid: Grid) -> float:
    """Below this gap a place touches for certain, however it is parted."""
    return -grid.half_diagonal_mm - LEAST_CUT_MM


def place_of(grid: Grid, beyond_cells: float = SAMPLED) -> Floats:
    """f8[5]: corner, cell and top of the grid, as the kernels want it, and how far material reaches beyond the centre of a cell."""
    return _frozen(np.array([grid.x0_mm, grid.y0_mm, grid.cell_mm, grid.z0_mm, beyond_cells * grid.cell_mm]))


def probes_of(asked: Asked, stations: Stations, grid: Grid, blocks: Heights, nearest: Nearest) -> Probes:
    """The stations that have to be probed, tile by tile. `blocks` f4: the highest cell of each block now."""
    if not asked.tools:
        return _no_probes(blocks)
    stretch = asked.stretch[stations.piece]
    first, last = (int(stretch[0]), int(stretch[-1])) if len(stations) else (0, -1)
    keys = slice(first * PARTS * k.WAYS, (last + 1) * PARTS * k.WAYS)
    what = np.empty((len(stations), 4), np.int32)
    what[:, k.BODY] = asked.body[stations.piece]
    what[:, k.MADE] = asked.made[stations.piece]
    what[:, k.STRETCH] = stretch - first
    what[:, k.AFTER] = _after(stations, stretch, asked.bodies.behind_mm, asked.body[stations.piece], grid.cell_mm)
    former = _frozen(stations.tip_mm - stations.way.astype(np.float64) * stations.step_mm[:, None].astype(np.float64))
    heights = _frozen(highest_of(blocks, k.TILE // k.BLOCK))
    starts = np.zeros(heights.size + 1, np.int64)
    told = (
        stations.tip_mm, former, stations.move, _frozen(what), asked.bodies.parts, place_of(grid), heights, grid.rows, grid.columns,
        touch_mm(grid), _frozen(nearest.near[keys].copy()), _frozen(nearest.grown[keys].copy()),
    )  # fmt: skip
    k.pair_up_probes(*told, False, starts, np.empty(0, np.int32))
    listed = np.empty(int(starts[-1]), np.int32)
    k.pair_up_probes(*told, True, starts, listed)
    return Probes(former, what, _frozen(starts), _frozen(listed), keys)


def _no_probes(blocks: Heights) -> Probes:
    tiles = math.prod(-(-size // (k.TILE // k.BLOCK)) for size in blocks.shape)
    starts, none = _frozen(np.zeros(tiles + 1, np.int64)), _frozen(np.empty(0, np.int32))
    return Probes(_frozen(np.empty((0, 3))), _frozen(np.empty((0, 4), np.int32)), starts, none, slice(0, 0))


def _after(stations: Stations, stretch: Ints, behind_mm: Floats, body: Ints, cell_mm: float) -> Ints:
    """i4[M]: the first station whose cut may still stand when the station is probed."""
    count = len(stations)
    if not count or not behind_mm.size:
        return np.zeros(count, np.int32)
    at_rapid = stations.rapid | stations.ghost
    new = np.ones(count, np.bool_)
    new[1:] = np.diff(stretch) != 0
    new[1:] |= np.diff(at_rapid.astype(np.int8)) != 0
    new[1:] |= at_rapid[1:] & (np.diff(stations.move) != 0)
    begins = np.maximum.accumulate(np.where(new, np.arange(count), 0))
    way = np.cumsum(stations.step_mm, dtype=np.float64)
    lag = np.searchsorted(way, way - behind_mm[body] - BEHIND_CELLS * cell_mm)
    return np.where(at_rapid, begins, np.maximum(begins, lag)).astype(np.int32)


def local_nearest(nearest: Nearest, probes: Probes) -> Nearest:
    """A copy for one tile: what is known when the part of the path begins, of the stretches it holds."""
    return Nearest(nearest.near[probes.keys].copy(), nearest.grown[probes.keys].copy())


def join(nearest: Nearest, probes: Probes, tiles: Sequence[Nearest], touch: float) -> None:
    """Bring what the tiles found into `nearest`: the same for any number of threads."""
    if not tiles:
        return
    near, grown = nearest.near[probes.keys], nearest.grown[probes.keys]
    for key in range(len(grown)):
        changed = [one.near[key] for one in tiles if not np.array_equal(one.near[key], near[key])]
        if changed:
            near[key] = _worst(np.concatenate([near[key], *changed]), touch)
    np.minimum(grown, np.min([one.grown for one in tiles], axis=0), out=grown)


def _worst(places: Floats, touch: float) -> Floats:
    """The nearest place, and of each other move that touches its nearest, worst first; the first move that touches."""
    # Of places that are equally near (a level top, tile after tile) the one that is so for certain.
    by = np.lexsort([places[:, one] for one in (k.CELL_COLUMN, k.CELL_ROW, k.MOVE, k.SHRUNK, k.GAP)])
    kept = np.zeros((k.KEPT_ROWS, k.NEAR))
    kept[:, k.GAP], kept[:, k.MOVE] = k.NO_GAP, -1.0
    moves: set[float] = set()
    for place in places[by]:
        if len(moves) == k.MOST_MOVES or (moves and place[k.GAP] >= touch):
            break
        if place[k.MOVE] not in moves:
            kept[len(moves)] = place
            moves.add(float(place[k.MOVE]))
    touching = places[by][(places[by, k.MOVE] >= 0) & (places[by, k.GAP] < touch)]
    if len(touching):
        kept[k.FIRST] = touching[np.argmin(touching[:, k.MOVE])]  # of one move the nearest stands first
    return kept


def contacts_of(asked: Asked, nearest: Nearest, grid: Grid, against: str = STOCK) -> tuple[Contact, ...]:
    """Everything that came nearer than the cap, stretch by stretch; of one part the worst first, and last the first of the program that
    touches, where it is none of the worst."""

    def at(place: Floats) -> Point:
        x = grid.x0_mm + (float(place[k.CELL_COLUMN]) + 0.5) * grid.cell_mm
        y = grid.y0_mm + (float(place[k.CELL_ROW]) + 0.5) * grid.cell_mm
        return x, y, float(place[k.CELL_HEIGHT]) + grid.z0_mm

    return listed_contacts(asked, nearest, at, against)


def listed_contacts(asked: Asked, nearest: Nearest, at: Callable[[Floats], Point], against: str) -> tuple[Contact, ...]:
    """The places of `nearest` as contacts; `at` tells where a place lies."""
    found = []
    for key in range(len(nearest.grown)):
        stretch, part, at_rapid = key // (PARTS * k.WAYS), key // k.WAYS % PARTS, key % k.WAYS > 0
        moves = nearest.near[key, : k.MOST_MOVES, k.MOVE]
        for rank, place in enumerate(nearest.near[key]):
            if place[k.MOVE] >= 0 and not (rank == k.FIRST and place[k.MOVE] in moves):
                least = float(nearest.grown[key]) if rank == 0 else float(place[k.GROWN])
                found.append(_contact(place, least, asked.tools[stretch], Part(part), at_rapid, at(place), against))
    return tuple(found)


def _contact(place: Floats, least: float, tool: int, part: Part, at_rapid: bool, at: Point, against: str) -> Contact:
    gap = float(place[k.GAP])
    half = max(gap - least, float(place[k.SHRUNK]) - gap)
    tip = (float(place[k.TIP_X]), float(place[k.TIP_Y]), float(place[k.TIP_Z]))
    fresh = bool(place[k.FRESH]) and against == STOCK
    return Contact(
        int(place[k.MOVE]), tool, part, against, gap, half / math.sqrt(3.0), bool(place[k.UPWARD]), fresh, at_rapid, tip, at
    )  # fmt: skip


def field_contacts(
    chunks: Iterable[Stations],
    asked: Asked,
    field: Field,
    against: str,
    cap_mm: float = CAP_MM,
    beyond_cells: float = SAMPLED,
) -> tuple[Contact, ...]:
    """Contacts of bodies with a field that nothing is taken from: the finished part, or (`beyond_cells` COVERED) a fixture every touched cell
    of which counts as covered."""
    nearest = nothing_near(asked, touch_mm(field.grid), cap_mm)
    blocks = highest_of(field.top, k.BLOCK)
    maker = _frozen(np.full(field.top.shape, -1, np.int32))
    place, touch = place_of(field.grid, beyond_cells), touch_mm(field.grid)
    for part in chunks:
        probes = probes_of(asked, part, field.grid, blocks, nearest)
        found = []
        for tile in np.flatnonzero(np.diff(probes.starts)).tolist():
            mine = local_nearest(nearest, probes)
            k.probe_tile(
                tile, probes.starts, probes.stations, part.tip_mm, probes.former_mm, part.move, probes.what, place,
                asked.bodies.slopes, asked.bodies.parts, touch, field.top, maker, blocks, mine.near, mine.grown,
            )  # fmt: skip
            found.append(mine)
        join(nearest, probes, found, touch)
    return contacts_of(asked, nearest, field.grid, against)


def highest_of(heights: Heights, side: int) -> Heights:
    """f4: the highest of each square of `side` cells (or blocks) a side."""
    rows, columns = (np.arange(0, size, side) for size in heights.shape)
    highest: Heights = np.maximum.reduceat(np.maximum.reduceat(heights, rows, axis=0), columns, axis=1)
    return np.ascontiguousarray(highest)


def _frozen(array: NDArray[T]) -> NDArray[T]:
    array = np.ascontiguousarray(array)
    array.setflags(write=False)
    return array
