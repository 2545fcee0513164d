"""From engagement, chunk by chunk, to what cutting costs.

    loads = Loads(work)                 # moves, timeline, pieces, tools, facts
    for engagement in ...:              # in program order
        loads.add(engagement)
    cut_loads = loads.finish(surfaces)

Forces, torques and powers are at the feed that is likely reached at each station; the thickest chip is at the quickest, the thinnest at the
slowest (`firstoff.loads.feeds`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Assembly
from firstoff.facts.fact import FactSet
from firstoff.loads import _kernels as kernels
from firstoff.loads import candidates as columns
from firstoff.loads import from_stations as stations_to
from firstoff.loads.candidates import KEPT, Pool, Table, candidate_of, select
from firstoff.loads.clock import Clock, Times
from firstoff.loads.constants import worst_chip
from firstoff.loads.cut_loads import Candidate, CutLoads, Overview, Quantity, Stretch
from firstoff.loads.deflection import compliance_by_height
from firstoff.loads.drilling import lead_is_off
from firstoff.loads.duty import Spell, Turning, duties_of, joined
from firstoff.loads.feeds import Feeds, feeds_at, feeds_of
from firstoff.loads.from_stations import Chunk
from firstoff.loads.grid_doubt import (
    WIDTH,
    Conserved,
    as_exponent,
    chip_doubt,
    conserved,
    power_of_width,
    scaled,
    width_doubt,
)
from firstoff.loads.stretches import Span, fed, fed_seconds, spans_of
from firstoff.loads.tooling import DRILL, TAP, Tooling, loads_at, tooling_of
from firstoff.motion.summary import CUTTING
from firstoff.motion.timeline import Timeline
from firstoff.path.pieces import Pieces
from firstoff.program.moves import Floats, Ints, Moves
from firstoff.removal.profile import frozen
from firstoff.removal.swept import Engagement, Surfaces

MOST_BINS = 4000
SORTS = 256
"""Sorts of chips by thickness, evenly in the logarithm."""
THINNEST_MM, THICKEST_MM = 1e-6, 10.0
SORT_STEP = math.log(THICKEST_MM / THINNEST_MM) / SORTS
RUB_SHARE = 0.1
"""The thin end of a stretch: a tenth of its cutting time is thinner. A single station at a corner is no rubbing (common practice)."""
STANDARD_WINDOWS_S = (1.0, 10.0, 60.0, 600.0)
FAR_BELOW = 5.0
"""A chip this many times thinner than the one that the constants are stated at lies outside what they were measured on."""
SEEN = ("power_w", "force_n", "chip_mm", "bend_mm")
"""Names of the columns that `_kernels.gather` keeps, as pictures know them."""


@dataclass(frozen=True, slots=True)
class Work:
    """What loads are reckoned for."""

    moves: Moves
    timeline: Timeline
    pieces: Pieces
    """That the stations are of."""
    assemblies: Mapping[int, Assembly]
    """By T."""
    facts: FactSet
    material: str | None
    windows_s: tuple[float, ...] = STANDARD_WINDOWS_S
    """Lengths of the windows over which the spindle's duty is summed; add the maker's."""
    cell_mm: float = 0.0
    """Size of the cells that the engagement was sampled on; 0 = it is exact."""
    made: bool = True
    """Whether anybody asks what pushes the walls and floors that are made: the look at each of them costs more than all else."""


@dataclass(slots=True)
class _Open:
    """A stretch while the program is followed."""

    number: int
    span: Span
    name: str
    tooling: Tooling | None
    missing: tuple[str, ...]
    least_chip_mm: float | None
    pools: dict[Quantity, Pool]
    gives: tuple[Floats, Floats] | None = None
    """Compliance of tool and what carries it by height above the tip; None where not known."""
    thin_s: Floats = field(default_factory=lambda: np.zeros(SORTS))
    thin: dict[int, tuple[float, Floats]] = field(default_factory=dict)
    """Sort of chip -> seconds of its longest station, and the row of it."""
    state: Floats = field(default_factory=lambda: np.zeros(4))
    volume_mm3: float = 0.0
    swept_mm3: float = 0.0
    torque_s: float = 0.0
    log_chip_s: float = 0.0
    """Sums over time of torque, and of torque · (mean ln(h/at)) of the edges."""
    walls: list[NDArray[np.float32]] = field(default_factory=list)
    floors: list[NDArray[np.float32]] = field(default_factory=list)


class Loads:
    """Adds up what cutting costs, chunk by chunk."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self.spans, self.stretch_of = spans_of(work.moves)
        self.feeds = feeds_of(work.moves, work.timeline)
        self.clock = Clock(work.timeline, work.pieces)
        self.open = [_opened(number, span, work, self.feeds) for number, span in enumerate(self.spans)]
        count = len(work.moves)
        self.per_move = np.zeros((count, len(SEEN)), dtype=np.float32)
        self.end_s = float(work.timeline.start_s[-1]) if count else 0.0
        bins = MOST_BINS if self.end_s > 0.0 else 0
        self.bin_s = self.end_s / bins if bins else 1.0
        self.high = np.zeros((bins, len(SEEN)), dtype=np.float32)
        self.spells: list[Spell] = []

    def add(self, engagement: Engagement) -> None:
        """Take in the next stations at feed, in program order."""
        stations = engagement.stations
        times = self.clock.times(stations)
        of = np.where(stations.rapid | stations.ghost, -1, self.stretch_of[stations.move])
        for number in np.unique(of[of >= 0]).tolist():
            here = of == number
            self._add_to(self.open[number], engagement, np.flatnonzero(here), times.where(here))

    def _add_to(self, stretch: _Open, engagement: Engagement, rows: NDArray[np.intp], times: Times) -> None:
        """Add stations of one stretch; those whose edges stand in nothing are air."""
        taken = engagement.volume_mm3[rows]
        stretch.volume_mm3 += float(taken.sum())
        tooling = stretch.tooling
        if tooling is None:
            self.per_move[engagement.stations.move[rows[taken > 0.0]]] = np.nan
            stretch.state[kernels.CUT_S] += float(times.span_s[taken > 0.0].sum())
            return
        step = engagement.stations.step_mm[rows].astype(np.float64)
        feeds = feeds_at(self.feeds, self.work.timeline, engagement.stations.move[rows], times)
        out = loads_at(tooling, tooling.constants, rows, engagement, feeds.likely * tooling.per_edge)
        cuts = out[:, kernels.TORQUE] > 0.0
        if not cuts.any():
            return
        stretch.swept_mm3 += float(np.sum(out[:, kernels.AREA] * step))
        kept = self._conserved(tooling, engagement.stations.move[rows], step, out[:, kernels.AREA], taken).where(cuts)
        rows, times, feeds = rows[cuts], times.where(cuts), feeds.where(cuts)
        out = scaled(out[cuts], kept.alone)
        most = out[:, kernels.MOST] * tooling.per_edge
        thick = worst_chip(feeds.quick * most, tooling.edges, tooling.constants.run_out_mm)
        doubts = self._doubts_of_width(tooling, engagement, rows, out, kept)
        move = engagement.stations.move[rows]
        chunk = Chunk(
            engagement, rows, move, times, feeds, out, kept.whole, kept.alone, *doubts, thick, feeds.slow * most
        )
        stretch.torque_s += float(np.sum(out[:, kernels.TORQUE] * times.span_s))
        stretch.log_chip_s -= float(np.sum(out[:, kernels.TORQUE_MC] * times.span_s))
        self._gather(stretch, tooling, chunk)
        self._keep(stretch, tooling, chunk)

    def _conserved(
        self, tooling: Tooling, move: Ints, step_mm: Floats, area_mm2: Floats, taken_mm3: Floats
    ) -> Conserved:
        """As `grid_doubt.conserved`. What a drill stands in is known: its point, not the width of a cut."""
        if not self.work.cell_mm or tooling.kind in (DRILL, TAP):
            return Conserved(np.ones(move.size), np.ones(move.size), area_mm2)
        return conserved(move, step_mm, area_mm2, taken_mm3)

    def _doubts_of_width(
        self, tooling: Tooling, engagement: Engagement, rows: NDArray[np.intp], out: Floats, kept: Conserved
    ) -> tuple[Floats, Floats]:
        """Of forces and of the thickest chip, as powers of the grid's fact."""
        if not self.work.cell_mm or tooling.kind in (DRILL, TAP):
            return np.zeros(rows.size), np.zeros(rows.size)
        deep, wide = (one[rows].astype(np.float64) for one in (engagement.axial_mm, engagement.radial_mm))
        cell, area = self.work.cell_mm, np.maximum(out[:, kernels.AREA], kept.area_mm2)
        power = power_of_width(tooling.constants.mc, out[:, kernels.TORQUE_EDGE] / out[:, kernels.TORQUE])
        force = width_doubt(cell, area, deep, wide, kept.whole, power)
        return as_exponent(force), as_exponent(chip_doubt(cell, tooling.shape.straight_r_mm, out[:, kernels.MOST]))

    def _gather(self, stretch: _Open, tooling: Tooling, chunk: Chunk) -> None:
        out, times = chunk.out, chunk.times
        torque = out[:, kernels.TORQUE]
        power = 2.0 * math.pi * abs(tooling.turns_per_s) * torque * 1e-3
        force, bend = stations_to.pushed_and_bent(tooling, chunk, stretch.gives)
        higher = stations_to.at_peak_feed(tooling, chunk)
        shown = [power * higher, force * higher, chunk.thick_mm, bend * higher]
        seen = frozen(np.column_stack(shown).astype(np.float32))
        longest = np.full(SORTS, -1, dtype=np.int64)
        kernels.gather(
            frozen(chunk.move), frozen(times.since), frozen(times.begin_s), frozen(times.span_s), seen, frozen(chunk.thin_mm),
            stretch.least_chip_mm or 0.0,
            math.log(THINNEST_MM), SORT_STEP, self.bin_s, self.per_move, self.high, stretch.thin_s, longest, stretch.state,
        )  # fmt: skip
        rows = longest[longest >= 0]
        new = stations_to.stations_of(chunk, rows, chunk.thin_mm[rows], chunk.feeds.slow)
        new[:, stations_to.WIDTH_COLUMN] = chunk.chip_doubt[rows]
        for sort, seconds, row in zip(
            np.flatnonzero(longest >= 0).tolist(), times.span_s[rows].tolist(), new, strict=True
        ):
            if sort not in stretch.thin or seconds > stretch.thin[sort][0]:
                stretch.thin[sort] = seconds, row
        self.spells.append(
            Spell(
                times.begin_s,
                times.span_s.astype(np.float32),
                (power * chunk.whole / chunk.scale).astype(np.float32),
                (out[:, kernels.TORQUE_MC] / torque).astype(np.float32),
                (out[:, kernels.TORQUE_EDGE] / torque).astype(np.float32),
                chunk.doubt.astype(np.float32),
                np.full(torque.size, stretch.number, dtype=np.int32),
                chunk.move,
            )
        )

    def _keep(self, stretch: _Open, tooling: Tooling, chunk: Chunk) -> None:
        """Keep the chunk's stations that may be the worst of something: they alone are looked at closely."""
        slope = stations_to.slope_of(chunk.out)
        higher = stations_to.at_peak_feed(tooling, chunk)
        wanted = {
            quantity: stretch.pools[quantity].wants(value * higher, slope, chunk.move)
            for quantity, value in stations_to.values_of(tooling, chunk.out).items()
        }
        for quantity, table in stations_to.loads_of_rows(tooling, chunk, wanted).items():
            stretch.pools[quantity].take(table)
        thick = stretch.pools[Quantity.CHIP]
        rows = thick.wants(chunk.thick_mm, np.zeros(chunk.thick_mm.size), chunk.move)
        thick.take(stations_to.chips_of_rows(tooling, chunk, rows))
        if tooling.kind in (DRILL, TAP) or not self.work.made:
            return
        walls, floors = stations_to.made_rows(chunk)
        if walls.size:
            stretch.walls.append(stations_to.walls_of_rows(tooling, chunk, walls).astype(np.float32))
        if floors.size:
            stretch.floors.append(stations_to.floors_of_rows(tooling, chunk, floors).astype(np.float32))

    def finish(self, surfaces: Surfaces | None) -> CutLoads:
        """Everything, once the last chunk is in. Without `surfaces` no wall and no floor is a candidate."""
        stretches = tuple(self._finished(stretch, surfaces) for stretch in self.open)
        turning = [_turning(stretch) for stretch in self.open]
        duties = duties_of(joined(self.spells), self.work.windows_s, self.end_s, turning)
        milled = [stretch for stretch in self.open if stretch.tooling and stretch.tooling.kind != TAP]
        swept, taken = (sum(getattr(one, name) for one in milled) for name in ("swept_mm3", "volume_mm3"))
        power, force, chip, _ = (np.ascontiguousarray(column) for column in self.per_move.T)
        residual = abs(swept / taken - 1.0) if taken > 0.0 else 0.0
        return CutLoads(stretches, duties, self._overview(), force, power, chip, residual)

    def _finished(self, stretch: _Open, surfaces: Surfaces | None) -> Stretch:
        span, state, tooling = stretch.span, stretch.state, stretch.tooling
        cutting = float(state[kernels.CUT_S])
        candidates: dict[Quantity, tuple[Candidate, ...]] = {}
        if tooling is not None:
            tables = {quantity: pool.kept() for quantity, pool in stretch.pools.items()}
            tables[Quantity.THIN] = _thin_end(stretch)
            if surfaces is not None:
                tables[Quantity.WALL] = _standing(stretch.walls, surfaces.wall_moves)
                tables[Quantity.FLOOR] = _standing(stretch.floors, surfaces.floor_moves)
            for quantity, table in tables.items():
                if len(table):
                    candidates[quantity] = tuple(candidate_of(row, span.turns_per_s, tooling.paths) for row in table)
        fed_s = fed_seconds(span, self.work.moves, self.work.timeline)
        return Stretch(
            span.tool, stretch.name, span.first, span.last, abs(span.turns_per_s), cutting, max(0.0, fed_s - cutting),
            float(state[kernels.RUB_S]), float(state[kernels.LONGEST_S]), stretch.least_chip_mm, stretch.volume_mm3,
            candidates, stretch.missing, (*_doubts(stretch), *self._off_lead(stretch)),
        )  # fmt: skip

    def _off_lead(self, stretch: _Open) -> tuple[str, ...]:
        """Where a tap is fed by something else than its pitch a turn."""
        tooling, span, moves = stretch.tooling, stretch.span, self.work.moves
        if tooling is None or tooling.kind != TAP or not stretch.volume_mm3 > 0.0:
            return ()
        for move in range(span.first, span.last + 1):
            feed = float(moves.feed_mm_per_s[move])
            cuts = moves.kind[move] in CUTTING and self.per_move[move, 0] > 0.0
            if cuts and lead_is_off(feed, tooling.turns_per_s, tooling.pitch_mm):
                per_turn = feed / abs(tooling.turns_per_s)
                return (
                    f"Line {int(moves.line[move])} feeds the tap {per_turn:.4g} mm a turn and its pitch is {tooling.pitch_mm:.4g} mm: "
                    "whatever its torque, that strips the thread or breaks it.",
                )
        return ()

    def _overview(self) -> Overview:
        told, moves = self.work.timeline, self.work.moves
        bins = self.high.shape[0]
        begin = np.arange(bins) * self.bin_s
        move = np.clip(
            np.searchsorted(told.start_s, begin + 0.5 * self.bin_s, side="right") - 1, 0, max(len(moves) - 1, 0)
        )
        high = {name: np.ascontiguousarray(self.high[:, k]) for k, name in enumerate(SEEN)}
        for stretch in self.open:
            names = (
                SEEN
                if stretch.tooling is None
                else ("bend_mm",)
                if stretch.gives is None and stretch.tooling.kind != DRILL
                else ()
            )
            until = told.start_s[stretch.span.last + 1]
            for name in names:  # not known is not nothing
                high[name][(begin + self.bin_s > told.start_s[stretch.span.first]) & (begin < until)] = np.nan
        reached, commanded = told.mean_feed_likely, np.where(fed(moves), np.nan_to_num(moves.feed_mm_per_s), 0.0)
        low: dict[str, NDArray[np.float32]] = {}
        for name, per_move in (("feed_mm_per_s", reached), ("commanded_mm_per_s", commanded)):
            high[name], low[name] = _spread(told.start_s, per_move, bins, self.bin_s)
        if not bins:
            move = np.empty(0, dtype=np.intp)
        return Overview(begin.astype(np.float32), moves.line[move], moves.tool[move], high, low)


def _opened(number: int, span: Span, work: Work, feeds: Feeds) -> _Open:
    assembly = work.assemblies.get(span.tool)
    here = slice(span.first, span.last + 1)
    if assembly is None:
        return _Open(number, span, f"T{span.tool}", None, (f"tool T{span.tool}",), None, {})
    missing = _unsaid(span, work)
    tooling: Tooling | None = None
    if not missing:
        top = float(
            max(
                np.max(np.nan_to_num(work.moves.feed_mm_per_s[here]), initial=0.0),
                np.max(feeds.peak[here], initial=0.0),
            )
        )
        tooling, missing = tooling_of(assembly, span.turns_per_s, top, work.material, work.facts)
        if tooling is not None and work.cell_mm:
            tooling = replace(tooling, paths={**tooling.paths, "width": WIDTH})
    facts = work.facts.facts
    radius = facts.get(f"tools.{assembly.name}.edge_radius")
    ratio = facts.get(f"materials.{work.material}.min_chip_ratio")
    least = radius.value * ratio.value if radius and ratio else None
    mc = facts.get(f"materials.{work.material}.mc")
    pools = {quantity: Pool(mc.u if mc else 0.0) for quantity in stations_to.quantities_of(assembly.kind)}
    pools[Quantity.CHIP] = Pool(0.0)
    least = None if assembly.kind == TAP else least
    gives = compliance_by_height(assembly, work.facts)
    return _Open(number, span, assembly.name, tooling, missing, least, pools, gives)


def _unsaid(span: Span, work: Work) -> tuple[str, ...]:
    """What the program itself does not say of a stretch: its speed, or a feed."""
    line = work.moves.line
    here = slice(span.first, span.last + 1)
    if not abs(span.turns_per_s) > 0.0:
        return (f"line {int(line[span.first])} (its speed)",)
    placed = np.zeros(len(work.moves), dtype=bool)  # a move that nobody can place cuts nothing that is followed
    placed[work.pieces.move] = True
    untimed = np.flatnonzero((work.timeline.untimed & fed(work.moves) & placed)[here])
    return (f"line {int(line[span.first + untimed[0]])} (its feed)",) if untimed.size else ()


def _turning(stretch: _Open) -> Turning:
    tooling = stretch.tooling
    if tooling is None:
        return Turning(1.0, {}, 0.0)
    return Turning(abs(tooling.turns_per_s), tooling.paths, tooling.constants.mc)


def _thin_end(stretch: _Open) -> Table:
    """The station whose chip is such that `RUB_SHARE` of the cutting time has a thinner one."""
    sorts = np.flatnonzero(stretch.thin_s > 0.0)
    if not sorts.size:
        return np.empty((0, columns.COLUMNS))
    share = np.cumsum(stretch.thin_s[sorts]) / stretch.thin_s.sum()
    return stretch.thin[int(sorts[int(np.searchsorted(share, RUB_SHARE))])][1][None]


def _standing(made: list[NDArray[np.float32]], stands: NDArray[np.bool_]) -> Table:
    """The greatest forces of moves whose surface still stands, away from it and towards it, worst first."""
    if not made:
        return np.empty((0, columns.COLUMNS))
    table = np.concatenate([one[stands[one[:, columns.MOVE].astype(np.intp)]] for one in made])
    value, slope = (table[:, column].astype(np.float64) for column in (columns.VALUE, columns.SLOPE))
    move = table[:, columns.MOVE].astype(np.int64)
    rows = np.concatenate([select(sign * value, slope, move, 0.0, KEPT // 2) for sign in (1.0, -1.0)])
    worst_first = rows[np.argsort(-np.abs(value[rows]), kind="stable")]
    return np.asarray(table[worst_first], dtype=np.float64)


def _doubts(stretch: _Open) -> tuple[str, ...]:
    if stretch.tooling is None:
        return ()
    told = []
    constants = stretch.tooling.constants
    if stretch.torque_s > 0.0:
        chip = constants.at_mm * math.exp(stretch.log_chip_s / stretch.torque_s)
        if chip < constants.at_mm / FAR_BELOW:
            told.append(
                f"Its chips are about {chip * 1e3:.2g} µm thick; the cutting constants are stated at "
                f"{constants.at_mm * 1e3:.3g} µm and are carried down to there by their exponent alone."
            )
    leans = constants.run_out_mm > 0.0 or constants.edge_force > 0.0
    if leans and any(pool.crowded for pool in stretch.pools.values()):
        told.append("With run-out or edge forces only the greatest loads were kept, not all that could become worst.")
    if stretch.volume_mm3 > 0.0 and stretch.swept_mm3 > 0.0:
        off = stretch.swept_mm3 / stretch.volume_mm3 - 1.0
        if abs(off) > 0.1:
            told.append(f"Area swept and volume taken away differ by {off:+.0%}: the cells are coarse for these cuts.")
    return tuple(told)


def _spread(start_s: Floats, value: Floats, bins: int, bin_s: float) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Greatest and least of a value per move in each bin of time; of the move under way where none begins in it."""
    high, low = np.full(bins, -np.inf), np.full(bins, np.inf)
    if not bins:
        return high.astype(np.float32), low.astype(np.float32)
    lasts = np.diff(start_s) > 0.0
    value, begin = value[lasts], start_s[:-1][lasts]
    edges = np.arange(bins) * bin_s
    under_way = np.clip(np.searchsorted(begin, edges, side="right") - 1, 0, None)
    np.maximum(high, value[under_way], out=high)
    np.minimum(low, value[under_way], out=low)
    which = np.minimum((begin / bin_s).astype(np.intp), bins - 1)
    np.maximum.at(high, which, value)
    np.minimum.at(low, which, value)
    return high.astype(np.float32), low.astype(np.float32)
