"""One tool at one speed in one material, as the load kernels want it; or what is missing for that."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Assembly
from firstoff.facts.fact import FactSet
from firstoff.loads import _kernels as kernels
from firstoff.loads.constants import NEEDED, Constants, constants_of, fact_paths, law_table
from firstoff.loads.drilling import HOLE_FACTS, TAP_FLUTES, as_drill, tap_loads
from firstoff.loads.edge_shape import EdgeShape, edge_shape
from firstoff.program.moves import Floats
from firstoff.removal.profile import FLAT_RINGS, SAME_MM, frozen
from firstoff.removal.swept import RINGS, Engagement

LAW_STEP = 1.25
"""Tables of forces by chip end at powers of this: stretches share them."""
DRILL, TAP = "drill", "tap"
THREADS = 2
ROWS_A_PART = 4000
"""Stations that one thread reckons at a time."""


@dataclass(frozen=True, slots=True)
class Tooling:
    """A tool in the spindle with all that its loads hang on."""

    name: str
    assembly: Assembly
    shape: EdgeShape
    edges: int
    turns_per_s: float
    """Signed, clockwise positive."""
    constants: Constants
    paths: dict[str, str]
    """Field of `Constants`, or `helix` -> path of its fact, of those that are facts here."""
    top_mm: float
    """Greatest feed per edge of the stretch, mm."""
    pitch_mm: float = 0.0
    """Of a tap."""

    @property
    def kind(self) -> str:
        return self.assembly.kind

    @property
    def per_edge(self) -> float:
        """Feed per edge, mm, of 1 mm/s."""
        return 1.0 / (self.edges * abs(self.turns_per_s))

    @property
    def clockwise(self) -> bool:
        return self.turns_per_s > 0.0

    def with_helix(self, factor: float) -> Tooling:
        """The same with its helix angle times a factor: its edges lag by the tangent."""
        helix = abs(self.assembly.helix_rad)
        lag = self.shape.lag_rad_per_mm * math.tan(factor * helix) / math.tan(helix) if helix else 0.0
        return replace(self, shape=replace(self.shape, lag_rad_per_mm=lag))


def tooling_of(
    assembly: Assembly, turns_per_s: float, top_feed_mm_per_s: float, material: str | None, facts: FactSet
) -> tuple[Tooling | None, tuple[str, ...]]:
    """The tooling, or None with the paths of the facts that are missing. The speed must be known and not 0."""
    hole = assembly.kind in (DRILL, TAP)
    edges = assembly.edges or (TAP_FLUTES if assembly.kind == TAP else None)
    missing = [] if edges else [f"tools.{assembly.name}.ZEFP"]
    pitch = facts.facts.get(f"tools.{assembly.name}.TP")
    if assembly.kind == TAP and pitch is None:
        missing.append(f"tools.{assembly.name}.TP")
    constants, lacking = constants_of(assembly.name, material, facts, ("kc", "mc") if hole else NEEDED)
    missing += lacking
    if missing or constants is None or edges is None:
        return None, tuple(missing)
    all_paths = fact_paths(assembly.name, material or "").items()
    paths = {name: path for name, path in all_paths if path in facts.facts and (not hole or name in HOLE_FACTS)}
    helix = f"tools.{assembly.name}.FHA"
    if helix in facts.facts and not hole and assembly.helix_rad > 0.0:  # no logarithm of a left-hand one
        paths["helix"] = helix
    return Tooling(
        assembly.name,
        assembly,
        edge_shape(assembly),
        edges,
        turns_per_s,
        as_drill(constants) if hole else constants,
        paths,
        top_feed_mm_per_s / (edges * abs(turns_per_s)),
        pitch.value if pitch is not None else 0.0,
    ), ()


def loads_at(
    tooling: Tooling,
    constants: Constants,
    rows: NDArray[np.intp],
    engagement: Engagement,
    chip_mm: Floats,
    deep: bool = False,
) -> Floats:
    """f8[K, COLUMNS] of the stations `rows` of a chunk, at these constants and feeds per edge f8[K]; columns as in
    `_kernels.station_loads`, those that it calls deep only if asked for."""
    if tooling.kind == TAP:
        climb = engagement.stations.way[rows, 2].astype(np.float64)
        return tap_loads(constants, tooling.pitch_mm, tooling.assembly.diameter_mm, tooling.edges, climb)
    shape = tooling.shape
    lag = shape.lag_rad_per_mm / kernels.PLACE
    top = _top(tooling.top_mm)
    sloped = shape.straight_z_mm > SAME_MM
    tool = np.array(
        [
            tooling.edges,
            lag,
            shape.straight_z_mm,
            shape.straight_r_mm,
            shape.end_r_mm,
            top,
            constants.edge_force * constants.factor,
            1.0 if tooling.clockwise else -1.0,
            -1.0 if tooling.assembly.helix_rad < 0.0 else 1.0,
            RINGS if not sloped else FLAT_RINGS if shape.end_r_mm > SAME_MM else 0,
        ]
    )
    highest = float(engagement.side_mm.max(initial=0.0))
    above = max(0.0, float(engagement.slope_z_mm.max(initial=0.0)) - shape.straight_z_mm)
    room = 2 * kernels.TURN + int(lag * (shape.straight_z_mm + highest + above)) + 16
    out = np.empty((rows.size, kernels.COLUMNS))
    given = (
        engagement.stations.way, engagement.side_mm, engagement.slope, engagement.slope_z_mm, engagement.end, engagement.making,
    )  # fmt: skip
    law, ratios, columns = _law(constants, tooling.edges, top), frozen(constants.ratios()), frozen(tool)

    def reckon(part: slice) -> int:
        whole, chips = frozen(rows[part].astype(np.int64)), frozen(chip_mm[part])
        return kernels.station_loads(whole, *given, chips, shape.profile, law, columns, ratios, room, deep, out[part])

    parts = [slice(begin, begin + ROWS_A_PART) for begin in range(0, rows.size, ROWS_A_PART)]
    if len(parts) > 1:  # each part fills its own rows, so the order does not matter
        with ThreadPoolExecutor(THREADS) as pool:
            statuses = list(pool.map(reckon, parts))
    else:
        statuses = [reckon(part) for part in parts]
    if any(statuses):
        raise RuntimeError(f"loads of {tooling.name}: {room} places are too few for its edge (status {min(statuses)})")
    return out


def _top(chip_mm: float) -> float:
    return float(LAW_STEP ** math.ceil(math.log(max(chip_mm, 1e-6)) / math.log(LAW_STEP)))


@lru_cache(maxsize=256)
def _law(constants: Constants, edges: int, top_mm: float) -> Floats:
    return frozen(law_table(constants, edges, top_mm))
