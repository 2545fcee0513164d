"""Following tools through a field of heights: who cuts what, how much, and how each edge stands in the stock before it cuts."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from firstoff.errors import Interrupted
from firstoff.facts.assembly import Assembly
from firstoff.path.pieces import Stations
from firstoff.program.moves import Floats, Ints
from firstoff.removal import _kernels as kernels
from firstoff.removal import contact, undercut
from firstoff.removal.contact import Asked, Nearest, Probes
from firstoff.removal.field import NOTHING, Field, Heights
from firstoff.removal.profile import SAME_MM, cutter, frozen, tables
from firstoff.removal.swept import ANGLES, RINGS, SLICES, Engagement, FirstCut, PerMove, Swept
from firstoff.removal.undercut import Hollow

WINDOW_MM = 5.0
"""Least way over which volume and swept area are held against each other: below it the steps of the grid are all there is."""
SHAPED_AT_ONCE = 7_000
"""Stations of one part where a sloped edge or the end face is sampled. Each array then stays below 32 MB, which the C library keeps and
hands out again: above that every part would take fresh pages from the system, and the pages cost more than the work."""
PLAIN_AT_ONCE = 16_000
"""Stations of one part where only upright sides are sampled."""
WINDOW_CELLS = 4
"""A window goes on until it took at least as much as a cut so many cells wide and deep takes in `WINDOW_MM`: of less, the grid says
little, and the difference is of no weight."""
MOSTLY = 0.5
"""Share of a part that must cut for its arrays to be handed on whole, rows of air and all; else the rows that cut are copied."""

Tell = Callable[[int], None]


def _silent(_stations: int) -> None:
    return None


def sweep(
    before: Field,
    chunks: Iterable[Stations],
    assemblies: Mapping[int, Assembly],
    move_count: int,
    *,
    engagement: Callable[[Engagement], None] | None = None,
    asked: Asked | None = None,
    sampled: bool = True,
    threads: int = 2,
    tell: Tell = _silent,
    cancelled: Callable[[], bool] = lambda: False,
) -> Swept:
    """Follow the stations, in order, through a blank.

    `assemblies` by T number; moves of other tools are `Swept.unfollowed` where they come below the blank's top. `engagement` is called with
    the stations at feed that cut, part by part, in order. `asked` (`contact.ask`): bodies held against the stock on the way; without it
    no contact is looked for. Not `sampled`: no edge is held against stock before it cuts, for a sweep of which nobody asks radial depths
    nor the residual (both are NaN then; a first cut is as wide as its cells); all else is the same to the bit. `tell` hears how many stations
    are done. `cancelled` is asked between parts and tiles: `Interrupted` is raised then. The answer is the same for any number of threads.
    """
    if engagement is not None and not sampled:
        raise ValueError("engagement is told only by a sweep that samples it")
    run = _Run(before, assemblies, move_count, engagement, asked, sampled, cancelled)
    done = 0
    with ThreadPoolExecutor(max(threads, 1)) as pool:
        for chunk in chunks:
            for part in run.parts(chunk):
                run.follow(part, pool)
                done += len(part)
                tell(done)
    return run.swept()


class _Run:
    """A sweep under way: the stock as it stands now, and what was found so far."""

    def __init__(
        self,
        before: Field,
        assemblies: Mapping[int, Assembly],
        move_count: int,
        engagement: Callable[[Engagement], None] | None,
        asked: Asked | None,
        sampled: bool,
        cancelled: Callable[[], bool],
    ) -> None:
        grid = before.grid
        if before.top.shape != (grid.rows, grid.columns) or before.top.dtype != np.float32:
            raise ValueError(f"heights {before.top.shape} of {before.top.dtype} do not fit their grid")
        self.before, self.engagement, self.sampled, self.cancelled = before, engagement, sampled, cancelled
        self.numbers = {number: row for row, number in enumerate(sorted(assemblies))}
        self.cutters = [cutter(assemblies[number]) for number in self.numbers]
        self.unders = undercut.unders_of([assemblies[number] for number in self.numbers], grid.cell_mm)
        self.hollows = undercut.hollows_of(before)
        self.tables = tables(self.cutters, grid.cell_mm)
        self.top = np.array(before.top, dtype=np.float32, order="C")
        self.maker = np.full(self.top.shape, -1, dtype=np.int32)
        dead = any(one.dead_mm > 0 for one in self.cutters)
        self.pushed = np.zeros(self.top.shape if dead else (1, 1), dtype=np.float32)
        self.tile_rows, self.tile_columns = (math.ceil(n / kernels.TILE) for n in self.top.shape)
        self.blocks = np.zeros([math.ceil(n / kernels.BLOCK) for n in self.top.shape], dtype=np.float32)
        kernels.highest_of_blocks(self.top, 0, grid.rows, 0, grid.columns, self.blocks)
        self.highest = float(self.top.max(initial=float(NOTHING)))
        self.grid = frozen(np.array([grid.cell_mm, before.bottom_mm - grid.z0_mm]))
        self.compass = frozen(_compass())
        self.volume = np.zeros(move_count)
        self.extremes = np.zeros((move_count, 7), dtype=np.float32)
        self.extremes[:, 4] = np.nan
        self.shares = np.zeros((move_count, 3))
        self.window = np.zeros(kernels.WINDOW)
        self.window[kernels.RUN_CUTTER] = -1
        self.window[kernels.LEAST_WAY] = WINDOW_MM
        self.window[kernels.LEAST_VOLUME] = WINDOW_MM * (WINDOW_CELLS * grid.cell_mm) ** 2
        self.tail = (np.zeros((0, 3), np.float32), np.zeros(0, np.float32), np.zeros(0, np.int32))
        self.calls = _Calls(grid.z0_mm, sampled)
        self.unfollowed: set[int] = set()
        self.asked = contact.nothing_asked() if asked is None else asked
        self.place, self.touch = contact.place_of(grid), contact.touch_mm(grid)
        self.nearest = contact.nothing_near(self.asked, self.touch)

    # --- parts --------------------------------------------------------------------------------------------------------------------------

    def parts(self, chunk: Stations) -> Iterator[Stations]:
        """The chunk in parts whose engagement fits in memory."""
        if not len(chunk):
            return
        if not (np.isfinite(chunk.tip_mm).all() and np.isfinite(chunk.way).all()):
            raise ValueError("a station of the path has no place")
        rows = self._rows(chunk.tool)
        sloped = np.array([one.side_from_mm > SAME_MM for one in self.cutters] + [False])[rows]
        down = chunk.way[:, 2] < kernels.DOWN
        part = np.floor(np.cumsum(np.where(sloped | down, 1.0 / SHAPED_AT_ONCE, 1.0 / PLAIN_AT_ONCE)) * (1.0 - 1e-9))
        cuts = np.flatnonzero(np.diff(part)) + 1
        for begin, end in zip([0, *cuts.tolist()], [*cuts.tolist(), len(chunk)], strict=True):
            yield _rows_of(chunk, slice(begin, end))

    def _rows(self, tool: Ints) -> Ints:
        """Row of each tool's cutter; -1 where its shape is not known."""
        found, inverse = np.unique(tool, return_inverse=True)
        rows = np.array([self.numbers.get(int(number), -1) for number in found], dtype=np.int32)
        return np.ascontiguousarray(rows[inverse])

    def follow(self, part: Stations, pool: ThreadPoolExecutor) -> None:
        """Take one part through the stock."""
        if self.cancelled():
            raise Interrupted
        grid, shape = self.before.grid, self.tables
        row = frozen(self._rows(part.tool))
        self._note_unfollowed(part, row)
        marks = (part.rapid * kernels.RAPID + part.ghost * kernels.GHOST).astype(np.uint8)
        marks |= np.uint8(0 if self.sampled else kernels.UNSAMPLED)
        seen = np.zeros((len(part), kernels.SEEN))
        seen[:, kernels.U] = (part.tip_mm[:, 0] - grid.x0_mm) / grid.cell_mm
        seen[:, kernels.V] = (part.tip_mm[:, 1] - grid.y0_mm) / grid.cell_mm
        seen[:, kernels.Z] = part.tip_mm[:, 2] - grid.z0_mm
        self._note_bends(part, row, seen)
        coarse = self.blocks.copy()  # as the cells stand now: looking ahead lowers the blocks
        probes = contact.probes_of(self.asked, part, grid, coarse, self.nearest)
        kernels.look_ahead(
            row, marks, shape.cutters, shape.fine, shape.knots, shape.first, self.blocks, seen, self.unders.necks
        )
        pairs, shaped = self._pairs(frozen(seen)), self._shaped(row, part)
        work = _work(part, row, frozen(marks), frozen(seen), pairs, shaped, probes, coarse)
        contact.join(self.nearest, probes, self._work(work, pool), self.touch)
        self._reckon(work)

    def _note_bends(self, part: Stations, row: Ints, seen: Floats) -> None:
        """How the way bends at each station, with the last stations of the former part in mind."""
        before = len(self.tail[1])
        way, step, rows = (np.concatenate(both) for both in zip(self.tail, (part.way, part.step_mm, row), strict=True))
        kernels.bends(frozen(way), frozen(step), frozen(rows), self.before.grid.cell_mm, before, seen)
        keep = kernels.BEND_STATIONS + 1
        self.tail = (way[-keep:], step[-keep:], rows[-keep:])

    def _shaped(self, row: Ints, part: Stations) -> tuple[bool, bool]:
        """Whether any station of a part has a sloped edge to be sampled, and whether any goes down."""
        if not self.sampled:
            return False, False
        sloped = any(self.cutters[k].side_from_mm > SAME_MM for k in np.unique(row).tolist() if k >= 0)
        return sloped, bool((part.way[:, 2] < kernels.DOWN).any())

    def _note_unfollowed(self, part: Stations, row: Ints) -> None:
        low = part.tip_mm[:, 2] - self.before.grid.z0_mm < self.highest
        lost = (row < 0) & low & ~part.ghost
        self.unfollowed.update(np.unique(part.move[lost]).tolist())

    def _pairs(self, seen: Floats) -> tuple[NDArray[np.int64], Ints]:
        """(starts, stations): the stations of each tile, tile after tile."""
        starts = np.zeros(self.tile_rows * self.tile_columns + 1, dtype=np.int64)
        none = np.zeros(0, dtype=np.int32)
        kernels.pair_up(seen, self.tile_rows, self.tile_columns, False, starts, none)
        stations = np.zeros(int(starts[-1]), dtype=np.int32)
        kernels.pair_up(seen, self.tile_rows, self.tile_columns, True, starts, stations)
        return starts, stations

    def _work(self, work: _Work, pool: ThreadPoolExecutor) -> list[Nearest]:
        """Work the tiles of a part, the longest list first; what bodies came near to there."""
        lengths = np.diff(work.starts) + np.diff(work.probes.starts)
        order = np.argsort(-lengths, kind="stable")
        jobs = [pool.submit(self._tile, int(tile), work) for tile in order[lengths[order] > 0]]
        try:
            return [job.result() for job in jobs]
        finally:
            for job in jobs:
                job.cancel()

    def _tile(self, tile: int, work: _Work) -> Nearest:
        if self.cancelled():
            raise Interrupted
        part, shape, probes = work.part, self.tables, work.probes
        nearest = contact.local_nearest(self.nearest, probes)
        hollow = self._hollow(tile, work)
        full = kernels.work_tile(
            tile, self.tile_columns, work.starts, work.stations, work.seen, frozen(part.way), work.marks, work.row,
            frozen(part.move), self.grid, shape.cutters, shape.fine, shape.knots, shape.first, shape.side_at, self.compass, self.top, self.maker,
            self.pushed, self.blocks, work.side, work.slope, work.end, work.found, work.sides, probes.starts, probes.stations,
            frozen(part.tip_mm), probes.former_mm, probes.what, self.place, self.asked.bodies.slopes, self.asked.bodies.parts,
            self.touch, work.coarse, nearest.near, nearest.grown, self.unders.necks, self.unders.bounds, shape.under, _RAMP,
            hollow.counts, hollow.spans,
        )  # fmt: skip
        if full:
            raise undercut.too_many(self.before.grid, *divmod(full - 1, self.before.grid.columns))
        return nearest

    def _hollow(self, tile: int, work: _Work) -> Hollow:
        """The hollows of a tile; room for them if a tool comes that leaves some."""
        here = work.row[work.stations[work.starts[tile] : work.starts[tile + 1]]]
        if tile not in self.hollows and (self.unders.necks[here] >= 0).any():
            self.hollows[tile] = undercut.no_hollows()
        return self.hollows.get(tile, undercut.NONE)

    # --- what came of it ----------------------------------------------------------------------------------------------------------------

    def _reckon(self, work: _Work) -> None:
        """Add what a part found to the moves and calls, and hand on its engagement."""
        part, shape = work.part, self.tables
        each = np.zeros((len(part), kernels.EACH))
        making = np.zeros(len(part), dtype=np.uint8)
        slope_z = np.zeros((len(part), SLICES + 1), dtype=np.float32)
        kernels.gather(
            work.stations, frozen(work.found), frozen(work.sides), work.seen, work.row, shape.cutters, shape.knots, self.grid,
            each, making, slope_z,
        )  # fmt: skip
        kernels.tally(
            frozen(part.move), work.marks, work.row, shape.cutters, frozen(part.step_mm), work.seen, frozen(each), self.grid,
            self.volume, self.extremes, self.shares, self.window, self.unders.necks,
        )  # fmt: skip
        axial = np.maximum(
            each[:, kernels.EACH_TOP] - np.maximum(work.seen[:, kernels.Z], self.grid[kernels.BOTTOM]), 0.0
        )
        cuts = each[:, kernels.EACH_VOLUME] > 0
        self.calls.note(part, cuts, axial, each)
        if self.engagement is not None:
            at_feed = cuts & ~part.rapid
            if at_feed.any():
                self.engagement(_engagement(work, at_feed, each, axial, making, slope_z, self._straight_from(work)))

    def _share(self, column: int) -> NDArray[np.float32]:
        """f4[N] part of the way of each move."""
        whole = self.shares[:, 0]
        part = np.divide(self.shares[:, column], whole, out=np.zeros(whole.size), where=whole > 0)
        return frozen(part.astype(np.float32))

    def _straight_from(self, work: _Work) -> Floats:
        """f8[M] height over the tip from which the straight edge of a station's tool may stand in stock."""
        slope = np.append(self.tables.cutters[:, kernels.SIDE_FROM], 0.0)[work.row]
        under = self.grid[kernels.BOTTOM] - work.seen[:, kernels.Z]
        lowest: Floats = np.maximum(slope, under)
        return lowest

    def swept(self) -> Swept:
        """Everything found, frozen."""
        grid = self.before.grid
        extremes = self.extremes
        moves = PerMove(
            frozen(self.volume),
            frozen(extremes[:, 0]),
            frozen(extremes[:, 1] if self.sampled else np.full(len(extremes), np.nan, np.float32)),
            frozen(extremes[:, 2]),
            frozen(extremes[:, 3]),
            frozen((extremes[:, 4].astype(np.float64) + grid.z0_mm).astype(np.float32)),
            self._share(1),
            self._share(2),
            frozen(extremes[:, 5]),
            frozen(extremes[:, 6]),
        )
        after = Field(grid, frozen(self.top), self.before.bottom_mm, frozen(undercut.gaps_of(self.hollows, grid)))
        return Swept(
            self.before,
            after,
            frozen(self.maker),
            moves,
            contact.contacts_of(self.asked, self.nearest, grid),
            tuple(self.calls.found),
            float(self.window[kernels.WORST]) if self.sampled else math.nan,
            tuple(sorted(self.unfollowed)),
        )


@dataclass(frozen=True, slots=True)
class _Work:
    """One part of the path and the arrays that its tiles fill."""

    part: Stations
    row: Ints
    marks: NDArray[np.uint8]
    seen: Floats
    starts: NDArray[np.int64]
    stations: Ints
    side: NDArray[np.float32]
    slope: NDArray[np.float32]
    end: NDArray[np.float32]
    found: Floats
    sides: NDArray[np.uint8]
    probes: Probes
    coarse: Heights
    sloped: bool
    down: bool


def _work(
    part: Stations,
    row: Ints,
    marks: NDArray[np.uint8],
    seen: Floats,
    pairs: tuple[NDArray[np.int64], Ints],
    shaped: tuple[bool, bool],
    probes: Probes,
    coarse: Heights,
) -> _Work:
    count, (starts, stations), (sloped, down) = len(part), pairs, shaped
    return _Work(
        part,
        row,
        marks,
        seen,
        frozen(starts),
        frozen(stations),
        np.zeros((count, kernels.SIDE_SAMPLES), dtype=np.float32),
        np.zeros((count if sloped else 1, SLICES, ANGLES), dtype=np.float32),
        np.zeros((count if down else 1, RINGS, 2 * ANGLES), dtype=np.float32),
        np.zeros((stations.size, kernels.FOUND)),
        np.zeros(stations.size, dtype=np.uint8),
        probes,
        coarse,
        sloped,
        down,
    )


_RAMP = frozen(np.arange(kernels.TILE, dtype=np.float32) + np.float32(0.5))
# Handed on where nothing of the kind was sampled; nobody writes them, so they cost no memory.
_NO_SLOPE = frozen(np.zeros((PLAIN_AT_ONCE, SLICES, ANGLES), dtype=np.float32))
_NO_END = frozen(np.zeros((PLAIN_AT_ONCE, RINGS, 2 * ANGLES), dtype=np.float32))


class _Calls:
    """Where each tool first takes anything away after it was called."""

    def __init__(self, z0_mm: float, sampled: bool) -> None:
        self.z0_mm, self.sampled = z0_mm, sampled
        self.tool: int | None = None
        self.called_by = -1
        self.waiting = False
        self.found: list[FirstCut] = []

    def note(self, part: Stations, cuts: NDArray[np.bool_], axial: Floats, each: Floats) -> None:
        tools = part.tool
        changes = (np.flatnonzero(np.diff(tools)) + 1).tolist()
        for begin, end in zip([0, *changes], [*changes, len(part)], strict=True):
            if int(tools[begin]) != self.tool:
                self.tool, self.called_by, self.waiting = int(tools[begin]), int(part.move[begin]), True
            if not self.waiting:
                continue
            where = np.flatnonzero(cuts[begin:end])
            if where.size:
                self._first(part, begin + int(where[0]), axial, each)
                self.waiting = False

    def _first(self, part: Stations, s: int, axial: Floats, each: Floats) -> None:
        x, y, z = (float(one) for one in part.tip_mm[s])
        height = float(each[s, kernels.EACH_TOP]) + self.z0_mm
        width = float(each[s, kernels.EACH_WIDTH if self.sampled else kernels.EACH_ACROSS])
        self.found.append(
            FirstCut(int(part.tool[s]), self.called_by, int(part.move[s]), (x, y, z), float(axial[s]), width, height)
        )


def _engagement(
    work: _Work, cuts: NDArray[np.bool_], each: Floats, axial: Floats, making: NDArray[np.uint8], slope_z: NDArray[np.float32],
    straight_from: Floats,
) -> Engagement:  # fmt: skip
    """What the edges met at the stations that cut at feed; where most of them do, all stations are told, with nothing for the others."""
    whole = cuts.mean() >= MOSTLY
    above = np.where(cuts, each[:, kernels.EACH_TOP] - work.seen[:, kernels.Z], 0.0)  # what was taken, over the tip
    rows: slice | NDArray[np.intp] = slice(None) if whole else np.flatnonzero(cuts)
    if work.sloped:
        kernels.lower_slices(frozen(np.flatnonzero(cuts)), frozen(above), frozen(slope_z), work.slope)
    slope = work.slope[rows] if work.sloped else _NO_SLOPE[: len(cuts) if whole else int(cuts.sum())]
    end = work.end[rows] if work.down else _NO_END[: len(cuts) if whole else int(cuts.sum())]
    side = np.zeros((len(slope), ANGLES), dtype=np.float32)
    told = frozen(np.flatnonzero(cuts) if not whole else np.arange(len(cuts)))
    kernels.halve_samples(told, frozen(work.side), frozen(np.maximum(above - straight_from, 0.0)), side)
    volume, width = each[:, kernels.EACH_VOLUME], each[:, kernels.EACH_WIDTH]
    if whole and not cuts.all():
        kernels.clear_rows(frozen(np.flatnonzero(~cuts)), side, work.slope, work.end, slope_z)
        volume, axial, width, making = (np.where(cuts, one, 0) for one in (volume, axial, width, making))
    return Engagement(
        _rows_of(work.part, rows),
        frozen(side),
        frozen(slope),
        frozen(slope_z[rows]),
        frozen(end),
        frozen(volume[rows]),
        frozen(axial[rows].astype(np.float32)),
        frozen(width[rows].astype(np.float32)),
        frozen(making[rows].astype(np.int8)),
    )


def _rows_of(stations: Stations, rows: slice | NDArray[np.intp]) -> Stations:
    columns = {one.name: frozen(getattr(stations, one.name)[rows]) for one in fields(Stations)}
    return Stations(**columns)


def _compass() -> Floats:
    """f8[4·ANGLES + 1, 2]: cosine and sine of the bounds and middles of bins round the whole turn, from −180 degrees."""
    angles = np.linspace(-math.pi, math.pi, 4 * ANGLES + 1)
    return np.column_stack([np.cos(angles), np.sin(angles)])
