"""What an engagement costs, reckoned otherwise than the kernels do: thin discs of the cutter, turned in small steps, every edge on its own.

No table of forces, no places, no sharing out: plain sums in NumPy, in the frame of the way (x along, y left, z up).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from firstoff.loads.constants import Constants, shared_chips
from firstoff.removal.swept import ANGLES


@dataclass(frozen=True)
class Turn:
    """One turn in steps: torque f8[T], force on the part f8[T, 3], moment of the side force about the tip f8[T, 2]."""

    torque: np.ndarray
    force: np.ndarray
    moment: np.ndarray

    @property
    def peak(self) -> float:
        return float(np.hypot(self.force[:, 0], self.force[:, 1]).max())


def edge_forces(constants: Constants, chip: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Cutting and edge force per mm of edge."""
    safe = np.maximum(chip, 1e-12)
    cut = constants.factor * constants.kc * safe * (safe / constants.at_mm) ** -constants.mc
    cuts = chip > 1e-9
    return np.where(cuts, cut, 0.0), np.where(cuts, constants.factor * constants.edge_force, 0.0)


def turn_flat(
    side: np.ndarray, radius: float, edges: int, helix: float, fz: float, constants: Constants, clockwise: bool = True, steps: int = 720, discs: int = 60,
    phase: float = 0.0,
) -> Turn:  # fmt: skip
    """A flat cutter going along, `side` f8[ANGLES] the height of material in each direction; the edge at angle ψ at the bottom lags behind
    higher up. Helix in degrees; `phase`: how the edges stand to the run-out."""
    sense = 1.0 if clockwise else -1.0
    highest = float(side.max())
    z = (np.arange(discs) + 0.5) * highest / discs
    dz = highest / discs
    turned = (np.arange(steps) + 0.5) * 2 * math.pi / steps
    torque, force, moment = np.zeros(steps), np.zeros((steps, 3)), np.zeros((steps, 2))
    for j in range(edges):
        for height in z:
            # a clockwise edge goes to smaller angles; what lags stands at greater ones
            psi = -sense * (turned - j * 2 * math.pi / edges - height * math.tan(math.radians(helix)) / radius)
            psi = (psi + math.pi) % (2 * math.pi) - math.pi
            bin_of = np.floor((psi + math.pi / 2) / (math.pi / ANGLES)).astype(int)
            ahead = (bin_of >= 0) & (bin_of < ANGLES)
            stands = ahead & (side[np.clip(bin_of, 0, ANGLES - 1)] > height)
            share = np.where(stands, np.cos(psi), 0.0)
            chip = shared_chips(fz * share, edges, constants.run_out_mm, phase)[j]
            cut, edge = edge_forces(constants, np.where(stands, chip, 0.0))
            tangential = (cut + edge) * dz
            ratios = constants.ratios()
            outward = (ratios[0] * cut + ratios[1] * edge) * dz
            x = sense * np.sin(psi) * tangential + np.cos(psi) * outward
            y = -sense * np.cos(psi) * tangential + np.sin(psi) * outward
            torque += tangential * radius
            force += np.column_stack([x, y, (ratios[2] * cut + ratios[3] * edge) * dz])
            moment += np.column_stack([x, y]) * height
    return Turn(torque, force, moment)
