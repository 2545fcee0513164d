"""Drills and taps: thrust and torque, from the forms that handbooks give.

A drill's lips are edges like any other: each cuts chips of fz·sin(SIG/2), so that a full drill needs kc·f·D²/8 of torque, and pushes with
half of its tangential force along its normal: 0.5·kc·f·(D/2)·sin(SIG/2) of thrust (tool makers' drilling handbooks, from memory). Its
chisel edge squeezes rather than cuts and adds about half as much thrust again (common practice; Oxford & Shaw 1957, from memory, find
2.24 times torque over diameter for thrust, a third more than the lips alone).

A tap's torque is kc·P²·D/8: a thread of area P²/4 cut at the radius D/2, with kc at the thickness that each tooth of its lead takes
(tool makers' threading handbooks, from memory). It does not hang on the feed: the pitch is what it advances.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from firstoff.loads import _kernels as kernels
from firstoff.loads.constants import Constants
from firstoff.program.moves import Floats

LIP_PUSH = 0.5
"""Force along the normal of a drill's lip over its tangential force."""
CHISEL = 1.5
"""Thrust of a whole drill over that of its lips."""
LEAD_THREADS = 2.5
"""Threads of a tap's lead, over which its teeth share the depth (form C of taps: two to three; from memory)."""
TAP_FLUTES = 3
"""Flutes of a tap whose number nobody says (common practice)."""
THREAD_DEPTH = 0.5413
"""Depth of a metric nut thread over its pitch (ISO 68-1: 5/8 of the height 0.866·P; from memory)."""
LEADS_ALIKE = 0.01
"""Feed a turn and pitch that differ by less than this part are the same: floating holders and spindles give way by more."""


def as_drill(constants: Constants) -> Constants:
    """Constants of a drill: its lips push as drills do, its run-out makes the hole wide and not the chip, and its point drags nothing up."""
    return replace(constants, radial_ratio=LIP_PUSH, axial_ratio=0.0, run_out_mm=0.0)


HOLE_FACTS = ("kc", "mc", "edge_force", "model_factor", "wear_factor")
"""Fields of `Constants` that a drill's and a tap's loads hang on."""


def tap_chip_mm(pitch_mm: float, flutes: int) -> float:
    """Chip of each tooth of a tap's lead, mm: the depth of the thread shared by the teeth that make it, seen along their normal."""
    return THREAD_DEPTH * pitch_mm / (LEAD_THREADS * flutes)


def tap_torque_nmm(constants: Constants, pitch_mm: float, diameter_mm: float, flutes: int) -> float:
    """Torque of a tap, N·mm: kc·P²·D/8 (see above)."""
    h = tap_chip_mm(pitch_mm, flutes)
    kc = constants.kc * (h / constants.at_mm) ** -constants.mc + constants.edge_force / h
    return float(constants.factor * kc * pitch_mm**2 * diameter_mm / 8.0)


def tap_loads(constants: Constants, pitch_mm: float, diameter_mm: float, flutes: int, climb: Floats) -> Floats:
    """f8[K, COLUMNS] as of `_kernels.station_loads`: the same torque wherever the tap goes down (`climb` f8[K] below 0) and cuts."""
    out = np.zeros((climb.size, kernels.COLUMNS))
    down = climb < 0.0
    h = tap_chip_mm(pitch_mm, flutes)
    torque = tap_torque_nmm(constants, pitch_mm, diameter_mm, flutes)
    edge = constants.factor * constants.edge_force / h * pitch_mm**2 * diameter_mm / 8.0
    out[down, kernels.TORQUE] = out[down, kernels.PEAK_TORQUE] = torque
    out[down, kernels.TORQUE_MC] = -(torque - edge) * math.log(h / constants.at_mm)
    out[down, kernels.TORQUE_EDGE] = edge
    return out


def lead_is_off(feed_mm_per_s: float, turns_per_s: float, pitch_mm: float) -> bool:
    """Whether a tap is fed by something else than its pitch a turn: it then strips its thread or breaks, whatever its torque."""
    return not abs(feed_mm_per_s - abs(turns_per_s) * pitch_mm) <= LEADS_ALIKE * abs(turns_per_s) * pitch_mm
