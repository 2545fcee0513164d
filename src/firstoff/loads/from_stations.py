"""From the numbers of stations to candidates: value of each quantity, and its exponent in every fact."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.loads import _kernels as kernels
from firstoff.loads.candidates import Station
from firstoff.loads.clock import Times
from firstoff.loads.constants import moved, worst_chip
from firstoff.loads.cut_loads import Candidate, Quantity
from firstoff.loads.drilling import CHISEL
from firstoff.loads.tooling import DRILL, TAP, Tooling, loads_at
from firstoff.motion.timeline import Timeline
from firstoff.program.moves import Floats, Ints
from firstoff.removal.profile import frozen
from firstoff.removal.swept import Engagement

STEP = 1e-4
"""Relative step by which a fact is moved to find its exponent."""
WIDE_STEP = 0.05
"""The same for run-out: which edges cut at all changes in jumps, so its exponent is a mean over a tenth of it."""
MILLED = (Quantity.TORQUE, Quantity.POWER, Quantity.BENDING, Quantity.FORCE, Quantity.THRUST, Quantity.LIFT)
DRILLED = (Quantity.TORQUE, Quantity.POWER, Quantity.DRILL_THRUST, Quantity.THRUST)
TAPPED = (Quantity.TAP_TORQUE, Quantity.POWER)
Exponents = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Chunk:
    """Engaged stations of one stretch out of one chunk: `rows` of `engagement`, and one row each in the other arrays."""

    engagement: Engagement
    rows: NDArray[np.intp]
    move: Ints
    times: Times
    chip_mm: Floats
    """Feed per edge at the likely feed."""
    out: Floats
    """f8[K, COLUMNS] of `_kernels.station_loads`."""
    thick_mm: Floats
    """Thickest chip, at the quickest feed and with run-out."""
    thin_mm: Floats
    """Thickest chip of an even cutter, at the slowest feed."""


def values_of(tooling: Tooling, out: Floats) -> dict[Quantity, tuple[Floats, Floats]]:
    """Value of each quantity of force at stations, and d ln(value)/d mc (that of the mean torque stands for all)."""
    torque = out[:, kernels.TORQUE]
    slope = _over(out[:, kernels.TORQUE_MC], torque)
    peak = out[:, kernels.PEAK_TORQUE]
    power = 2.0 * math.pi * abs(tooling.turns_per_s) * torque * 1e-3
    down = np.maximum(-out[:, kernels.FORCE_Z], 0.0)
    if tooling.kind == TAP:
        return {Quantity.TAP_TORQUE: (peak, slope), Quantity.POWER: (power, slope)}
    if tooling.kind == DRILL:
        whole = CHISEL * down
        thrust = {Quantity.DRILL_THRUST: (whole, slope), Quantity.THRUST: (whole, slope)}
        return {Quantity.TORQUE: (peak, slope), Quantity.POWER: (power, slope), **thrust}
    bend = out[:, kernels.PEAK_FORCE]
    return {
        Quantity.TORQUE: (peak, slope),
        Quantity.POWER: (power, slope),
        Quantity.BENDING: (bend, slope),
        Quantity.FORCE: (np.hypot(out[:, kernels.FORCE_X], out[:, kernels.FORCE_Y]), slope),
        Quantity.THRUST: (down, slope),
        Quantity.LIFT: (np.maximum(out[:, kernels.FORCE_Z], 0.0), slope),
    }


def quantities_of(kind: str) -> tuple[Quantity, ...]:
    """What forces a kind of tool is asked for."""
    return {TAP: TAPPED, DRILL: DRILLED}.get(kind, MILLED)


def _over(part: Floats, whole: Floats) -> Floats:
    return np.divide(part, whole, out=np.zeros_like(whole), where=whole != 0.0)


@dataclass(frozen=True, slots=True)
class Close:
    """Some rows of a chunk looked at closely."""

    tooling: Tooling
    chunk: Chunk
    timeline: Timeline
    rows: NDArray[np.intp]
    """Of the chunk, in order."""
    out: Floats
    """f8[rows, COLUMNS], deep."""
    exponents: dict[Quantity, list[tuple[Exponents, float]]]
    """By quantity, for each of `rows`: exponents of all facts, and that of the feed."""

    def stations(self, quantity: Quantity, chosen: NDArray[np.intp]) -> list[Station]:
        """Chosen rows as they may become candidates of a quantity."""
        value, slope = values_of(self.tooling, self.out)[quantity]
        bends = quantity is Quantity.BENDING
        found = []
        for row, own in zip(chosen.tolist(), np.searchsorted(self.rows, chosen).tolist(), strict=True):
            lever = float(self.out[own, kernels.LEVER]) if bends else 0.0
            known, by_feed = self.exponents[quantity][own]
            feed = self.timeline.mean_feed_likely
            found.append(station_of(self.chunk, row, float(value[own]), float(slope[own]), lever, known, by_feed, feed))
        return found


def closely(tooling: Tooling, chunk: Chunk, rows: NDArray[np.intp], timeline: Timeline) -> Close:
    """Look closely at rows of a chunk. For its exponents each fact, and the feed, is moved a little and the stations are reckoned anew:
    exact to first order, run-out included."""
    own, chip = chunk.rows[rows], chunk.chip_mm[rows]
    constants = tooling.constants
    deep = loads_at(tooling, constants, own, chunk.engagement, chip, deep=True)
    base = _logs(tooling, deep)

    def with_value(name: str, value: float) -> dict[Quantity, Floats]:
        return _logs(tooling, loads_at(tooling, moved(constants, name, value), own, chunk.engagement, chip))

    found: dict[Quantity, list[dict[str, float]]] = {
        quantity: [{} for _ in rows] for quantity in quantities_of(tooling.kind)
    }
    for name in ("mc", "radial_ratio", "axial_ratio", "edge_force"):
        value = float(getattr(constants, name))
        if name in tooling.paths and value != 0.0:
            _note(found, name, base, with_value(name, value * (1.0 + STEP)), math.log1p(STEP))
    run_out = constants.run_out_mm
    if "run_out_mm" in tooling.paths and run_out != 0.0:
        less, more = (with_value("run_out_mm", run_out * factor) for factor in (1.0 - WIDE_STEP, 1.0 + WIDE_STEP))
        _note(found, "run_out_mm", less, more, math.log((1.0 + WIDE_STEP) / (1.0 - WIDE_STEP)))
    faster = loads_at(tooling, constants, own, chunk.engagement, chip * (1.0 + STEP))
    _note(found, "feed", base, _logs(tooling, faster), math.log1p(STEP))
    exponents = {quantity: [_named(tooling, each) for each in of_rows] for quantity, of_rows in found.items()}
    return Close(tooling, chunk, timeline, rows, deep, exponents)


def _logs(tooling: Tooling, out: Floats) -> dict[Quantity, Floats]:
    with np.errstate(divide="ignore"):
        return {quantity: np.log(value) for quantity, (value, _) in values_of(tooling, out).items()}


def _note(
    found: dict[Quantity, list[dict[str, float]]],
    name: str,
    base: dict[Quantity, Floats],
    new: dict[Quantity, Floats],
    step: float,
) -> None:
    """Note the exponent of one fact, whose logarithm was moved by `step` between two reckonings."""
    for quantity, logs in new.items():
        for row, (before, after) in enumerate(zip(base[quantity].tolist(), logs.tolist(), strict=True)):
            if math.isfinite(before) and math.isfinite(after):
                found[quantity][row][name] = (after - before) / step


def _named(tooling: Tooling, exponents: dict[str, float]) -> tuple[Exponents, float]:
    feed = exponents.pop("feed", 1.0)
    whole = {"kc": 1.0 - exponents.get("edge_force", 0.0), "model_factor": 1.0, "wear_factor": 1.0, **exponents}
    return tuple((tooling.paths[name], value) for name, value in whole.items() if name in tooling.paths and value), feed


def thick_exponents(tooling: Tooling, chip_mm: float) -> tuple[Exponents, float]:
    """Exponents of the thickest chip where an even cutter would cut `chip_mm`: of run-out, and of the feed."""
    constants = tooling.constants
    run_out = constants.run_out_mm
    if run_out == 0.0 or tooling.edges == 1 or chip_mm <= 0.0 or "run_out_mm" not in tooling.paths:
        return (), 1.0
    now, more = (
        float(worst_chip(np.array([chip_mm]), tooling.edges, run_out * factor)[0]) for factor in (1.0, 1.0 + STEP)
    )
    exponent = math.log(more / now) / math.log1p(STEP)
    return ((tooling.paths["run_out_mm"], exponent),) if exponent else (), 1.0 - exponent


def station_of(
    chunk: Chunk,
    row: int,
    value: float,
    slope: float,
    lever_mm: float,
    exponents: Exponents,
    feed_exponent: float,
    feed: Floats,
) -> Station:
    """One row of a chunk as it may become a candidate; `feed` f8[N] is what its value was reckoned at."""
    from_chunk, own = chunk.engagement, int(chunk.rows[row])
    stations, out = from_chunk.stations, chunk.out
    move = int(chunk.move[row])
    return Station(
        move,
        triple(stations.tip_mm[own]),
        triple(stations.way[own]),
        float(feed[move]),
        float(chunk.thick_mm[row]),
        float(from_chunk.axial_mm[own]),
        float(from_chunk.radial_mm[own]),
        lever_mm,
        triple(out[row, kernels.FORCE_X : kernels.FORCE_Z + 1]),
        value,
        slope,
        exponents,
        feed_exponent,
    )


def triple(row: NDArray[np.floating]) -> tuple[float, float, float]:
    """Three numbers of an array row."""
    x, y, z = (float(value) for value in row)
    return x, y, z


def candidate_of(station: Station, turns_per_s: float) -> Candidate:
    """A station as questions see it."""
    return Candidate(
        station.move, station.tip_mm, station.value, station.exponents, abs(turns_per_s), station.feed_mm_per_s,
        station.chip_mm, station.axial_mm, station.radial_mm, station.lever_mm, station.way, station.force_n,
        station.feed_exponent,
    )  # fmt: skip


# --- walls and floors: kept a move, because only the end shows which still stand --------------------------------------------

# Columns: move, value, lever, derivatives to ln(radial ratio), ln(axial ratio), mc, ln(run-out), part of edge forces; then the station.
MOVE, VALUE, LEVER, RADIAL, AXIAL, BY_MC, BY_RUN, BY_EDGE, FEED, CHIP, DEEP, WIDE = range(12)
TIP, WAY, PUSH = slice(12, 15), slice(15, 18), slice(18, 21)
MADE = 21
WALL_BITS, FLOOR_BIT = 3, 4


def made_rows(chunk: Chunk) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows of a chunk that matter for walls, and for floors: of each move that with the greatest force away from the surface, and that with
    the greatest towards it."""
    making = chunk.engagement.making[chunk.rows]
    walls = _extremes(chunk.move, chunk.out[:, kernels.WALL], (making & WALL_BITS) != 0)
    return walls, _extremes(chunk.move, -chunk.out[:, kernels.FORCE_Z], (making & FLOOR_BIT) != 0)


def _extremes(move: Ints, value: Floats, chosen: NDArray[np.bool_]) -> NDArray[np.intp]:
    found = np.empty(2 * move.size, dtype=np.int64)
    count = kernels.extremes_by_move(frozen(move), frozen(value), frozen(chosen.astype(np.int8)), found)
    return np.sort(found[:count])


def wall_table(tooling: Tooling, chunk: Chunk, chosen: NDArray[np.intp], timeline: Timeline) -> NDArray[np.float32]:
    """f4[K, MADE] of chosen rows that make a wall."""
    out = loads_at(tooling, tooling.constants, chunk.rows[chosen], chunk.engagement, chunk.chip_mm[chosen], deep=True)
    table = _made(chunk, chosen, out[:, kernels.WALL], timeline)
    for column, source in (
        (RADIAL, kernels.WALL_RADIAL), (BY_MC, kernels.WALL_MC), (BY_RUN, kernels.WALL_RUN), (BY_EDGE, kernels.WALL_EDGE),
        (LEVER, kernels.WALL_LEVER),
    ):  # fmt: skip
        table[:, column] = out[:, source]
    return table


def floor_table(tooling: Tooling, chunk: Chunk, chosen: NDArray[np.intp], timeline: Timeline) -> NDArray[np.float32]:
    """f4[K, MADE] of chosen rows that make a floor; their derivatives to mc and edge force go as the torque's."""
    out = chunk.out[chosen]
    value, torque = -out[:, kernels.FORCE_Z], out[:, kernels.TORQUE]
    table = _made(chunk, chosen, value, timeline)
    table[:, AXIAL] = -out[:, kernels.LIFT_AXIAL]
    table[:, RADIAL] = value + out[:, kernels.LIFT_AXIAL]
    table[:, BY_MC] = value * _over(out[:, kernels.TORQUE_MC], torque)
    table[:, BY_EDGE] = value * _over(out[:, kernels.TORQUE_EDGE], torque)
    run_out = tooling.constants.run_out_mm
    if run_out > 0.0:
        own, chip = chunk.rows[chosen], chunk.chip_mm[chosen]
        less, more = (
            -loads_at(tooling, moved(tooling.constants, "run_out_mm", run_out * factor), own, chunk.engagement, chip)
            for factor in (1.0 - WIDE_STEP, 1.0 + WIDE_STEP)
        )
        table[:, BY_RUN] = (more - less)[:, kernels.FORCE_Z] / math.log((1.0 + WIDE_STEP) / (1.0 - WIDE_STEP))
    return table


def _made(chunk: Chunk, chosen: NDArray[np.intp], value: Floats, timeline: Timeline) -> NDArray[np.float32]:
    own, move, engagement = chunk.rows[chosen], chunk.move[chosen], chunk.engagement
    table = np.zeros((chosen.size, MADE), dtype=np.float32)
    table[:, MOVE], table[:, VALUE] = move, value
    table[:, FEED], table[:, CHIP] = timeline.mean_feed_likely[move], chunk.thick_mm[chosen]
    table[:, DEEP], table[:, WIDE] = engagement.axial_mm[own], engagement.radial_mm[own]
    table[:, TIP], table[:, WAY] = engagement.stations.tip_mm[own], engagement.stations.way[own]
    table[:, PUSH] = chunk.out[chosen, kernels.FORCE_X : kernels.FORCE_Z + 1]
    return table


def made_candidate(row: NDArray[np.floating], tooling: Tooling) -> Candidate:
    """A row of `made_rows` as a candidate. Its value keeps its sign; its exponents are those of its magnitude."""
    value = float(row[VALUE])
    constants = tooling.constants
    by_edge = float(row[BY_EDGE]) / value
    exponents = {
        "kc": 1.0 - by_edge,
        "model_factor": 1.0,
        "wear_factor": 1.0,
        "mc": float(row[BY_MC]) / value * constants.mc,
        "radial_ratio": float(row[RADIAL]) / value,
        "axial_ratio": float(row[AXIAL]) / value,
        "edge_force": by_edge,
        "run_out_mm": float(row[BY_RUN]) / value,
    }
    named = tuple((tooling.paths[name], part) for name, part in exponents.items() if name in tooling.paths and part)
    return Candidate(
        int(row[MOVE]), triple(row[TIP]), value, named, abs(tooling.turns_per_s), float(row[FEED]), float(row[CHIP]),
        float(row[DEEP]), float(row[WIDE]), float(row[LEVER]), triple(row[WAY]), triple(row[PUSH]),
        (1.0 - constants.mc) * (1.0 - by_edge),
    )  # fmt: skip
