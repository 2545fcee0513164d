"""From the numbers of stations to rows of candidates: value of each quantity, and its exponent in every fact."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.loads import _kernels as kernels
from firstoff.loads import candidates as columns
from firstoff.loads.candidates import FIELDS, Table
from firstoff.loads.clock import Times
from firstoff.loads.constants import moved, worst_chip
from firstoff.loads.cut_loads import Quantity
from firstoff.loads.drilling import CHISEL
from firstoff.loads.feeds import Feeds
from firstoff.loads.grid_doubt import scaled
from firstoff.loads.tooling import DRILL, TAP, Tooling, loads_at
from firstoff.program.moves import Floats, Ints
from firstoff.removal.profile import frozen
from firstoff.removal.swept import Engagement

STEP = 1e-4
"""Relative step by which a fact is moved to find its exponent."""
WIDE_STEP = 0.05
"""The same for run-out and helix: which edges cut at all, and at once, changes in jumps, so their exponents are means over a tenth of them."""
WIDE_SPAN = math.log((1.0 + WIDE_STEP) / (1.0 - WIDE_STEP))
STEEPEST = 50.0
"""Greatest exponent of a force on a wall or a floor (ours): a rest of parts that cancel counts as a fiftieth of the greater of them at least, so
that a doubt in mm, value times exponent, is never lost with the value. Whether a logarithm says anything of it is for who asks."""
MILLED = (Quantity.TORQUE, Quantity.POWER, Quantity.BENDING, Quantity.FORCE, Quantity.THRUST, Quantity.LIFT)
DRILLED = (Quantity.TORQUE, Quantity.POWER, Quantity.DRILL_THRUST, Quantity.THRUST)
TAPPED = (Quantity.TAP_TORQUE, Quantity.POWER)
WALL_BITS, FLOOR_BIT = 3, 4
WIDTH_COLUMN = columns.EXPONENTS.start + FIELDS.index("width")


@dataclass(frozen=True, slots=True)
class Chunk:
    """Engaged stations of one stretch out of one chunk: `rows` of `engagement`, and one row each in the other arrays."""

    engagement: Engagement
    rows: NDArray[np.intp]
    move: Ints
    times: Times
    feeds: Feeds
    out: Floats
    """f8[K, COLUMNS] of `_kernels.station_loads`, at the likely feed and scaled."""
    whole: Floats
    scale: Floats
    """By how much sums over time fall short of the volume taken away, and what `out` was scaled by for it (`grid_doubt.conserved`)."""
    doubt: Floats
    """Powers of `grid_doubt.WIDTH` that forces go with, and the thickest chip."""
    chip_doubt: Floats
    thick_mm: Floats
    """Thickest chip, at the quickest feed and with run-out."""
    thin_mm: Floats
    """Thickest chip of an even cutter, at the slowest feed."""


def quantities_of(kind: str) -> tuple[Quantity, ...]:
    """What forces a kind of tool is asked for."""
    return {TAP: TAPPED, DRILL: DRILLED}.get(kind, MILLED)


def values_of(tooling: Tooling, out: Floats) -> dict[Quantity, Floats]:
    """Value of each quantity of force at stations.

    What drags the part up and what pushes it down at the same time (a chamfer, a ball) hang on two ratios that nobody knows well: their
    difference may be of either sign, so neither is taken off the other.
    """
    torque, peak = out[:, kernels.TORQUE], out[:, kernels.PEAK_TORQUE]
    power = 2.0 * math.pi * abs(tooling.turns_per_s) * torque * 1e-3
    drag = out[:, kernels.LIFT_AXIAL]
    down = drag - out[:, kernels.FORCE_Z] + np.maximum(-drag, 0.0)
    if tooling.kind == TAP:
        return {Quantity.TAP_TORQUE: peak, Quantity.POWER: power}
    if tooling.kind == DRILL:
        whole = CHISEL * down
        return {Quantity.TORQUE: peak, Quantity.POWER: power, Quantity.DRILL_THRUST: whole, Quantity.THRUST: whole}
    return {
        Quantity.TORQUE: peak,
        Quantity.POWER: power,
        Quantity.BENDING: out[:, kernels.PEAK_FORCE],
        Quantity.FORCE: np.hypot(out[:, kernels.FORCE_X], out[:, kernels.FORCE_Y]),
        Quantity.THRUST: down,
        Quantity.LIFT: np.maximum(drag, 0.0),
    }


def at_peak_feed(tooling: Tooling, chunk: Chunk) -> Floats:
    """f8[K]: by how much the loads of stations grow from their likely feed to their peak feed, near enough to choose among them."""
    return np.asarray(_over(chunk.feeds.peak, chunk.feeds.likely) ** (1.0 - tooling.constants.mc))


def pushed_and_bent(tooling: Tooling, chunk: Chunk, gives: tuple[Floats, Floats] | None) -> tuple[Floats, Floats]:
    """f8[K] N and mm of stations, for pictures: peak side force and the bend that it causes (NaN where `gives`, the compliance by height, is
    not known). A drill is pushed along its axis and bent by nothing that could be reckoned: its lips balance and its hole guides it."""
    if tooling.kind == DRILL:
        return values_of(tooling, chunk.out)[Quantity.DRILL_THRUST], np.zeros(len(chunk.out))
    force = chunk.out[:, kernels.PEAK_FORCE]
    if gives is None:
        return force, np.full(force.size, np.nan)
    return force, force * np.interp(chunk.out[:, kernels.LEVER], *gives)


def slope_of(out: Floats) -> Floats:
    """d ln(mean torque) / d mc of stations: stands for that of all their forces when the hull is looked for."""
    return _over(out[:, kernels.TORQUE_MC], out[:, kernels.TORQUE])


def _over(part: Floats, whole: Floats) -> Floats:
    return np.divide(part, whole, out=np.zeros_like(whole), where=whole != 0.0)


def stations_of(chunk: Chunk, rows: NDArray[np.intp], value: Floats, feed: Floats) -> Table:
    """f8[rows, COLUMNS]: rows of a chunk with their values f8[rows], exponents still 0; `feed` f8[K] is what stations are reckoned at."""
    own, move, engagement = chunk.rows[rows], chunk.move[rows], chunk.engagement
    table = np.zeros((rows.size, columns.COLUMNS))
    table[:, columns.MOVE], table[:, columns.VALUE] = move, value
    table[:, columns.FEED], table[:, columns.CHIP], table[:, columns.BY_FEED] = feed[rows], chunk.thick_mm[rows], 1.0
    table[:, columns.DEEP], table[:, columns.WIDE] = engagement.axial_mm[own], engagement.radial_mm[own]
    table[:, columns.TIP], table[:, columns.WAY] = engagement.stations.tip_mm[own], engagement.stations.way[own]
    table[:, WIDTH_COLUMN] = chunk.doubt[rows]
    table[:, columns.PUSH] = chunk.out[rows, kernels.FORCE_X : kernels.FORCE_Z + 1]
    return table


def loads_of_rows(tooling: Tooling, chunk: Chunk, wanted: dict[Quantity, NDArray[np.intp]]) -> dict[Quantity, Table]:
    """The wanted rows of a chunk, looked at closely, at their peak feed. For their exponents each fact, and the feed, is moved a little and
    the stations are reckoned anew: exact to first order, run-out included."""
    rows = np.unique(np.concatenate(list(wanted.values())))
    if not rows.size:
        return {}
    own, chip, constants = chunk.rows[rows], chunk.feeds.peak[rows] * tooling.per_edge, tooling.constants

    def logs(name: str, factor: float) -> dict[Quantity, Floats]:
        told = moved(constants, name, float(getattr(constants, name)) * factor)
        return _logs(values_of(tooling, scaled(loads_at(tooling, told, own, chunk.engagement, chip), scale)))

    def leaned(factor: float) -> dict[Quantity, Floats]:
        other = tooling.with_helix(factor)
        return _logs(values_of(other, scaled(loads_at(other, constants, own, chunk.engagement, chip), scale)))

    scale = chunk.scale[rows]
    deep = scaled(loads_at(tooling, constants, own, chunk.engagement, chip, deep=True), scale)
    values, base = values_of(tooling, deep), _logs(values_of(tooling, deep))
    quicker = loads_at(tooling, constants, own, chunk.engagement, chip * (1.0 + STEP))
    faster = _logs(values_of(tooling, scaled(quicker, scale)))
    leans = [name for name in FIELDS if name in tooling.paths and getattr(constants, name, 0.0) != 0.0]
    exponents = {quantity: np.zeros((rows.size, len(FIELDS))) for quantity in wanted}
    for name in leans:
        if name in ("mc", "radial_ratio", "axial_ratio", "edge_force"):
            _note(exponents, name, base, logs(name, 1.0 + STEP), math.log1p(STEP))
        elif name == "run_out_mm":
            _note(exponents, name, logs(name, 1.0 - WIDE_STEP), logs(name, 1.0 + WIDE_STEP), WIDE_SPAN)
    if "helix" in tooling.paths:
        _note(exponents, "helix", leaned(1.0 - WIDE_STEP), leaned(1.0 + WIDE_STEP), WIDE_SPAN)
    found = {}
    for quantity, chosen in wanted.items():
        at = np.searchsorted(rows, chosen)
        table = stations_of(chunk, chosen, values[quantity][at], chunk.feeds.peak)
        table[:, columns.SLOPE] = slope_of(deep)[at]
        table[:, columns.LEVER] = deep[at, kernels.LEVER] if quantity is Quantity.BENDING else 0.0
        table[:, columns.BY_FEED] = (_apart(base[quantity], faster[quantity]) / math.log1p(STEP))[at]
        table[:, columns.EXPONENTS] = _whole(exponents[quantity][at])
        table[:, WIDTH_COLUMN] = chunk.doubt[chosen]
        found[quantity] = table
    return found


def _logs(values: dict[Quantity, Floats]) -> dict[Quantity, Floats]:
    with np.errstate(divide="ignore"):
        return {quantity: np.log(value) for quantity, value in values.items()}


def _apart(before: Floats, after: Floats) -> Floats:
    known = np.isfinite(before) & np.isfinite(after)
    return np.subtract(after, before, out=np.zeros_like(before), where=known)


def _note(
    exponents: dict[Quantity, Floats],
    name: str,
    less: dict[Quantity, Floats],
    more: dict[Quantity, Floats],
    span: float,
) -> None:
    """Note the exponents of one fact, whose logarithm was moved by `span` between two reckonings."""
    for quantity, table in exponents.items():
        table[:, FIELDS.index(name)] = _apart(less[quantity], more[quantity]) / span


def _whole(exponents: Floats) -> Floats:
    """With those of what all forces share: kc and the edge force make them together, wear and the model's factor make them all."""
    exponents[:, FIELDS.index("kc")] = 1.0 - exponents[:, FIELDS.index("edge_force")]
    exponents[:, FIELDS.index("model_factor")] = exponents[:, FIELDS.index("wear_factor")] = 1.0
    return exponents


def chips_of_rows(tooling: Tooling, chunk: Chunk, rows: NDArray[np.intp]) -> Table:
    """Rows of a chunk by their thickest chip, at the quickest feed: it hangs on run-out, and on the feed with what is left of 1."""
    table = stations_of(chunk, rows, chunk.thick_mm[rows], chunk.feeds.quick)
    table[:, WIDTH_COLUMN] = chunk.chip_doubt[rows]
    run_out = tooling.constants.run_out_mm
    if rows.size and run_out > 0.0 and tooling.edges > 1:
        even = chunk.feeds.quick[rows] * tooling.per_edge * chunk.out[rows, kernels.MOST]
        more = worst_chip(even, tooling.edges, run_out * (1.0 + STEP))
        exponent = np.log(more / chunk.thick_mm[rows]) / math.log1p(STEP)
        table[:, columns.EXPONENTS.start + FIELDS.index("run_out_mm")] = exponent
        table[:, columns.BY_FEED] = 1.0 - exponent
    return table


# --- walls and floors: kept by move, because only the end shows which still stand ------------------------------------------


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


def walls_of_rows(tooling: Tooling, chunk: Chunk, rows: NDArray[np.intp]) -> Table:
    """Rows that make a wall. Values keep their sign, exponents are those of the magnitude."""
    chip = chunk.feeds.likely[rows] * tooling.per_edge
    out = loads_at(tooling, tooling.constants, chunk.rows[rows], chunk.engagement, chip, deep=True)
    scaled(out, chunk.scale[rows])
    table = stations_of(chunk, rows, out[:, kernels.WALL], chunk.feeds.likely)
    table[:, columns.LEVER] = out[:, kernels.WALL_LEVER]
    parts = {
        "mc": out[:, kernels.WALL_MC] * tooling.constants.mc,
        "radial_ratio": out[:, kernels.WALL_RADIAL],
        "edge_force": out[:, kernels.WALL_EDGE],
        "run_out_mm": out[:, kernels.WALL_RUN],
    }
    if "helix" in tooling.paths:
        less, more = (
            _wall_at(tooling.with_helix(factor), chunk, rows) for factor in (1.0 - WIDE_STEP, 1.0 + WIDE_STEP)
        )
        parts["helix"] = (more - less) / WIDE_SPAN
    return _with_parts(table, parts, tooling.constants.mc)


def _wall_at(tooling: Tooling, chunk: Chunk, rows: NDArray[np.intp]) -> Floats:
    """f8[rows] N: force on the wall, of a tool that differs a little."""
    chip = chunk.feeds.likely[rows] * tooling.per_edge
    out = loads_at(tooling, tooling.constants, chunk.rows[rows], chunk.engagement, chip)
    return scaled(out, chunk.scale[rows])[:, kernels.WALL]


def floors_of_rows(tooling: Tooling, chunk: Chunk, rows: NDArray[np.intp]) -> Table:
    """Rows that make a floor, as walls; what mc and edge force do to their force is what they do to the torque. What run-out does to the mean
    force along the axis is left out: its exponent stays below a tenth."""
    out, constants = chunk.out[rows], tooling.constants
    value, torque = -out[:, kernels.FORCE_Z], out[:, kernels.TORQUE]
    table = stations_of(chunk, rows, value, chunk.feeds.likely)
    parts = {
        "mc": value * _over(out[:, kernels.TORQUE_MC], torque) * constants.mc,
        "radial_ratio": value + out[:, kernels.LIFT_AXIAL],
        "axial_ratio": -out[:, kernels.LIFT_AXIAL],
        "edge_force": value * _over(out[:, kernels.TORQUE_EDGE], torque),
    }
    return _with_parts(table, parts, constants.mc)


def _with_parts(table: Table, parts: dict[str, Floats], mc: float) -> Table:
    """The exponents of rows from the parts of their values: d value / d ln(fact).

    A value that is what two parts leave of each other may as well be nothing, or turn its sign. It counts as so much that none of its exponents
    is greater than `STEEPEST`.
    """
    greatest = np.max([np.abs(part) for part in parts.values()], axis=0, initial=0.0)
    value = table[:, columns.VALUE]
    value[:] = np.copysign(np.maximum(np.abs(value), greatest / STEEPEST), value)
    exponents = np.zeros((len(table), len(FIELDS)))
    for name, part in parts.items():
        exponents[:, FIELDS.index(name)] = _over(part, value)
    exponents[:, FIELDS.index("width")] = table[:, WIDTH_COLUMN]
    table[:, columns.EXPONENTS] = _whole(exponents)
    table[:, columns.SLOPE] = exponents[:, FIELDS.index("mc")] / mc if mc else 0.0
    table[:, columns.BY_FEED] = (1.0 - mc) * (1.0 - exponents[:, FIELDS.index("edge_force")])
    return table
