"""The cutting constants of one tool in one material, from facts, and the forces of an edge by its chip.

Force of one edge per length of it:  kc · h · (h/at)^-mc + edge force  (Kienzle 1952, stated at a chip thickness inside its data; Altintas,
Manufacturing Automation, 2nd ed., ch. 2 for the edge force), times wear and the material's model factor. Across the edge acts
`radial_ratio` of it along the edge's normal, and `axial_ratio` of it along the edge, upward where the helix lifts chips.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from firstoff.facts.fact import FactSet
from firstoff.program.moves import Floats

ROWS = 1025
"""Rows of a table of forces by chip, evenly spaced in the root of the chip: interpolation then errs by less than 1e-4 of the force above a
thousandth of its greatest chip."""
PHASES = 24
"""Ways in which the edges can stand to the direction of run-out that are looked at, between those in which two edges stand alike."""
WORST_PHASES = 240
"""The same where the worst is looked for."""
LEAST_CHIP_MM = 1e-9


@dataclass(frozen=True, slots=True)
class Constants:
    """Numbers of one tool in one material at best estimates."""

    kc: float
    """N/mm² at the chip thickness `at_mm`."""
    mc: float
    at_mm: float
    radial_ratio: float
    axial_ratio: float
    edge_force: float = 0.0
    """N/mm"""
    model_factor: float = 1.0
    wear_factor: float = 1.0
    run_out_mm: float = 0.0
    """As an indicator reads it: twice the way by which the axis is off."""
    radial_edge_ratio: float | None = None
    """Radial over tangential edge force; None = as for the cutting force."""
    axial_edge_ratio: float | None = None

    @property
    def factor(self) -> float:
        return self.model_factor * self.wear_factor

    def ratios(self) -> Floats:
        """f8[4] as the kernels want them: radial, radial edge, axial, axial edge."""
        radial = self.radial_ratio if self.radial_edge_ratio is None else self.radial_edge_ratio
        axial = self.axial_ratio if self.axial_edge_ratio is None else self.axial_edge_ratio
        return np.array([self.radial_ratio, radial, self.axial_ratio, axial])


def fact_paths(tool: str, material: str) -> dict[str, str]:
    """Field of `Constants` -> path of its fact, for all that may carry doubt."""
    return {
        "kc": f"materials.{material}.kc",
        "mc": f"materials.{material}.mc",
        "radial_ratio": f"materials.{material}.radial_ratio",
        "axial_ratio": f"materials.{material}.axial_ratio",
        "edge_force": f"materials.{material}.edge_force",
        "model_factor": f"materials.{material}.model_factor",
        "wear_factor": f"tools.{tool}.wear_factor",
        "run_out_mm": f"tools.{tool}.run_out",
    }


NEEDED = ("kc", "mc", "radial_ratio", "axial_ratio")
"""Without these nothing is known of a force; the others are 0 or 1 where the shop does not say."""
_DEFAULTS = {
    "radial_ratio": 0.0,
    "axial_ratio": 0.0,
    "edge_force": 0.0,
    "model_factor": 1.0,
    "wear_factor": 1.0,
    "run_out_mm": 0.0,
}


def constants_of(
    tool: str, material: str | None, facts: FactSet, needed: tuple[str, ...] = NEEDED
) -> tuple[Constants | None, tuple[str, ...]]:
    """The constants, or None with the paths of the facts that are missing. A ratio that is not needed and not known is 0."""
    if material is None:
        return None, ("job.material",)
    paths = fact_paths(tool, material)
    missing = [paths[name] for name in needed if paths[name] not in facts.facts]
    at = facts.facts.get(f"{paths['kc']}.at")
    if at is None and paths["kc"] not in missing:
        missing.append(f"{paths['kc']}.at")
    if missing or at is None:
        return None, tuple(missing)
    values = {name: facts.facts[path].value if path in facts.facts else _DEFAULTS[name] for name, path in paths.items()}
    return Constants(at_mm=at.value, **values), ()


# --- run-out ---------------------------------------------------------------------------------------------------------------


def shared_chips(chip_mm: Floats, edges: int, run_out_mm: float, phase: float) -> Floats:
    """f8[edges, K]: what each edge cuts where an even cutter would cut `chip_mm`, with its axis off by half the indicator reading.

    Edge j stands out by ρ·cos(phase + 2πj/edges) and takes what the edges before it left: the least, over the m edges before, of
    m·chip + the difference in radius, and nothing where that is negative. The sum over one turn is edges·chip, always.
    """
    out = 0.5 * run_out_mm * np.cos(phase + 2.0 * math.pi * np.arange(edges) / edges)
    chips = np.empty((edges, chip_mm.size))
    for j in range(edges):
        left = [m * chip_mm + out[j] - out[(j - m) % edges] for m in range(1, edges + 1)]
        chips[j] = np.maximum(np.min(left, axis=0), 0.0)
    return chips


def worst_chip(chip_mm: Floats, edges: int, run_out_mm: float) -> Floats:
    """f8[K]: thickest chip of any edge, the edges standing as badly as they can.

    From `APART` times the offset of the axis on, every edge cuts at each pass, and the worst stands out before the one ahead of it by the
    chord 2ρ·sin(π/edges); below, it is read from a table by chip over ρ.
    """
    offset = 0.5 * run_out_mm
    if edges == 1 or offset == 0.0:
        return np.asarray(chip_mm, dtype=float)
    ratios, worst = _worst_by_ratio(edges)
    below = offset * np.interp(chip_mm / offset, ratios, worst)
    return np.where(chip_mm >= APART * offset, chip_mm + 2.0 * offset * math.sin(math.pi / edges), below)


APART = 4.0
"""Two edges differ by at most twice the offset, so no edge reaches back past the one before it where the chip is twice that."""


@lru_cache(maxsize=64)
def _worst_by_ratio(edges: int) -> tuple[Floats, Floats]:
    """Chips over the offset of the axis, and the thickest chip of any edge over it."""
    ratios = APART * np.linspace(0.0, 1.0, 4 * ROWS) ** 2
    off = 2.0 * math.pi / edges / WORST_PHASES
    shared = (shared_chips(ratios, edges, 2.0, off * k).max(axis=0) for k in range(WORST_PHASES))
    worst = np.zeros(ratios.size)
    for one in shared:
        worst = np.maximum(worst, one)
    return ratios, worst


# --- forces by chip --------------------------------------------------------------------------------------------------------


def law_table(constants: Constants, edges: int, top_mm: float) -> Floats:
    """f8[ROWS, 8] for the kernels: force of an edge per mm by the chip an even cutter would have, up to `top_mm`.

    Columns: mean cutting force of all edges, mean edge force, mean derivative to mc; of the edge that cuts most: cutting force, its
    derivatives to mc and to ln(run-out); cutting force without run-out and its derivative to mc.
    """
    chip = top_mm * np.linspace(0.0, 1.0, ROWS) ** 2
    law = np.empty((ROWS, 8))
    plain, plain_mc = _cut(chip, constants)
    law[:, 6], law[:, 7] = plain, plain_mc
    edge_force = constants.edge_force * constants.factor
    if edges == 1 or constants.run_out_mm == 0.0:
        law[:, 0], law[:, 1], law[:, 2] = plain, edge_force, plain_mc
        law[:, 3], law[:, 4], law[:, 5] = plain, plain_mc, 0.0
        return law
    law[:, :3] = 0.0
    off = 2.0 * math.pi / edges / PHASES
    for k in range(PHASES):
        for own in shared_chips(chip, edges, constants.run_out_mm, off * (k + 0.5)):
            cut, by_mc = _cut(own, constants)
            law[:, 0] += cut / (edges * PHASES)
            law[:, 1] += edge_force * (own > LEAST_CHIP_MM) / (edges * PHASES)
            law[:, 2] += by_mc / (edges * PHASES)
    law[:, 3], law[:, 4] = _cut(worst_chip(chip, edges, constants.run_out_mm), constants)
    step = 1e-3
    more, less = (_cut(worst_chip(chip, edges, constants.run_out_mm * (1 + s)), constants)[0] for s in (step, -step))
    law[:, 5] = (more - less) / (2 * step)
    return law


def _cut(chip: Floats, constants: Constants) -> tuple[Floats, Floats]:
    """Cutting force per mm of edge and its derivative to mc."""
    ratio = np.maximum(chip, LEAST_CHIP_MM) / constants.at_mm
    force = constants.kc * constants.factor * chip * ratio**-constants.mc
    return force, -force * np.log(ratio)


def moved(constants: Constants, name: str, value: float) -> Constants:
    """The same constants with another value for one of them."""
    return replace(constants, **{name: value})
