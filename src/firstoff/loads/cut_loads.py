"""What cutting costs, in the shape that questions read: candidates for the worst, sums over windows of time, and arrays for pictures."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray


class Quantity(StrEnum):
    """What a candidate is the worst of; internal units."""

    TORQUE = "torque"
    """Peak torque at the spindle while cutting, N·mm."""
    POWER = "power"
    """Mean power at the tool over a turn, W (no-load power not included)."""
    BENDING = "bending"
    """Peak resultant side force on the edge, N, with its lever in `Candidate.lever_mm` above the tip."""
    FORCE = "force"
    """Mean resultant force of a turn in the plane, N: what the frame and the holding feel."""
    THRUST = "thrust"
    """Mean axial force on the part downward, N: what level and sloped edges push along their normals; of drills too. Drag that lifts at the
    same time is not taken off."""
    LIFT = "lift"
    """Mean axial force on the part upward, out of what holds it, N: drag along helical edges. What they push down at the same time is not
    taken off. `Candidate.force_n` has the net force."""
    WALL = "wall"
    """Force on the tool across the wall, N, positive away from it (material is left), negative into it (too much is taken), at the turn's
    moment and height where the edge makes the wall; only of moves whose wall still stands at the end, with the greatest of either sign.
    Exponents are those of its magnitude."""
    FLOOR = "floor"
    """Mean axial force on the tool, N, positive away from the floor, of moves whose floor still stands at the end; signs as of walls."""
    CHIP = "chip"
    """Thickest chip, mm: with run-out, and at the quickest feed that the move may reach anywhere (`firstoff.loads.feeds`)."""
    THIN = "thin"
    """Largest chip of a turn of an even cutter, mm, at the slowest feed, where it is thin: a tenth of the cutting time has a thinner one.
    One candidate a stretch. Without run-out, which thickens one chip and leaves less to the other edges."""
    DRILL_THRUST = "drill thrust"
    """Thrust of a drill with its chisel edge, N; the same as its THRUST."""
    TAP_TORQUE = "tap torque"
    """Torque of a tap, N·mm."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """One station that can be the worst of its quantity in some draw of the facts.

    In logarithms the quantity is linear in them to first order: ln value + Σ exponent · (ln fact − ln best estimate of fact). A path
    that stands in `exponents` is leaned on. Facts that are zero or exact may be left out.
    """

    move: int
    tip_mm: tuple[float, float, float]
    value: float
    exponents: tuple[tuple[str, float], ...]
    turns_per_s: float
    feed_mm_per_s: float
    chip_mm: float
    """Largest chip there."""
    axial_mm: float
    radial_mm: float
    lever_mm: float = 0.0
    """Height above the tip at which the force acts."""
    way: tuple[float, float, float] = (0.0, 0.0, 0.0)
    force_n: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Mean force on the part in work axes."""
    feed_exponent: float = 1.0
    """d ln value / d ln feed: what an override does to it, to first order."""


@dataclass(frozen=True, slots=True)
class Duty:
    """The greatest sums over any window of one length."""

    window_s: float
    mean_power_w: float
    rms_torque_nmm: float
    start_s: float
    move: int
    exponents: tuple[tuple[str, float], ...]
    """Of the mean power."""
    torque_start_s: float
    """Start of the window of greatest torque, which need not be that of greatest power."""
    torque_move: int
    """The move that brings most of it."""
    torque_exponents: tuple[tuple[str, float], ...]
    """Of the root mean square torque."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """One tool at one speed from its call to the next, in program order."""

    tool: int
    name: str
    first_move: int
    last_move: int
    turns_per_s: float
    cutting_s: float
    """At feed and taking something away."""
    air_s: float
    """At feed, taking nothing away."""
    rubbing_s: float
    """Cutting with the largest chip of the turn below the least that cuts, at best estimates; the longest run of it is
    `longest_rub_s`."""
    longest_rub_s: float
    least_chip_mm: float | None
    """h_min = k·edge radius; None where the edge radius is not known."""
    volume_mm3: float
    candidates: dict[Quantity, tuple[Candidate, ...]]
    missing: tuple[str, ...]
    """Facts without which its loads are not known (edges, material constants), by path; with a space in it where the program does not say
    something (``line 12 (its speed)``, ``line 12 (its feed)``) or nobody described the tool (``tool T3``). `candidates` is then empty."""
    doubts: tuple[str, ...] = ()
    """In words: model used outside its data, only the top candidates kept, …"""


@dataclass(frozen=True, slots=True)
class Overview:
    """For plots: the program in at most 4000 bins along its time. All f4[B]; `low` and `high` are least and greatest in the bin."""

    time_s: NDArray[np.float32]
    """Start of each bin."""
    line: NDArray[np.int32]
    tool: NDArray[np.int32]
    high: dict[str, NDArray[np.float32]]
    """By name: ``power_w``, ``force_n`` (of a drill its thrust), ``bend_mm`` (of a drill 0: its two lips push against each other and its hole
    guides it, so nothing bends it that could be reckoned), ``chip_mm``, ``feed_mm_per_s``, ``commanded_mm_per_s``."""
    low: dict[str, NDArray[np.float32]]


@dataclass(frozen=True, slots=True)
class CutLoads:
    """Everything that cutting costs."""

    stretches: tuple[Stretch, ...]
    duties: tuple[Duty, ...]
    overview: Overview
    force_n: NDArray[np.float32]
    """f4[N] peak side force of each move, of a drill its thrust; 0 where it cuts nothing, NaN where not known."""
    power_w: NDArray[np.float32]
    """f4[N]"""
    chip_mm: NDArray[np.float32]
    """f4[N]"""
    residual: float
    """Of work against kc × volume: what quantising costs."""
