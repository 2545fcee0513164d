"""What the cells of the stock leave open of a cut: how wide it is, and with that its force and its thickest chip.

A wall stands where the cells say to half a cell either way, so the width of a cut is known to `cell/√12` (a uniform error). The mean cutting
force goes with the width to the power 1 - mc/2 (swept area in proportion to it, mean chip to its root), the
edge force with the arc and so with its root; peaks go with less, and have the same here. The chip at the edge of the cut is fz·sin φ with
R·(1 - cos φ) the width, so its error is that of the width times cos φ/(R·sin² φ); bins of 2 degrees add their own.

Below a few cells of width the samples along the edge miss part of what is really taken away. Over windows of `WINDOW_MM` of way the loads are
then scaled up to the volume that went, which cells count without bias; they are never scaled down. The truth lies between the two, evenly as
far as anybody knows: that range is a doubt beside the width's, about the upper end. A cut
thinner than a cell may go through no cell's centre at all: of that nothing is seen here.

What is taken away is known better than any width, because cells count it without bias; how long a tool is in the cut is known worse, because
it meets stock with slivers thinner than a cell, and leaves it so: a sliver of width w is as long as √(D·w). Both are facts too, for answers
that hang on a volume or a time themselves. Their laws follow from that, their sizes are taken from what `docs/exactness.md` finds on five grids.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.loads import _kernels as kernels
from firstoff.program.moves import Floats, Ints
from firstoff.removal.swept import ANGLES

WIDTH = "following.width"
"""Path of the fact that carries the grid's doubt of widths: 1, known to a tenth. Loads have it to the power of what theirs is."""
WIDTH_LOG_U = 0.1
VOLUME = "following.volume"
"""The same of volumes that are taken away."""
VOLUME_CELLS = 0.3
"""Standard uncertainty of the logarithm of a volume, in cells over the cutter's diameter: 1 % on the package's own grid (D/30)."""
TIME = "following.time"
"""The same of time in the cut."""
TIME_ENDS = 0.8
"""Standard uncertainty of the way in the cut, both ends, in √(diameter · cell)."""
WINDOW_MM = 5.0
"""Of way at least: the volume of one station varies by a tenth to a third in a steady cut."""
MOST_SCALED = 10.0
"""Loads are never scaled up by more: beyond that next to nothing was seen of the cut."""
MOST_DOUBT = 2.0
"""Of a logarithm: a factor of 7 either way is as good as not known, and larger ones say no more."""
BIN_U = math.pi / ANGLES / math.sqrt(12.0)
"""Standard uncertainty of an angle that is known to its bin, rad."""
LEAST_MM = 1e-6
LEAST_STEP_MM = 1e-3
"""Steps are stored in single precision: a way this much shorter is as long."""

SCALED = np.array(
    [
        kernels.TORQUE, kernels.TORQUE_MC, kernels.TORQUE_EDGE, kernels.FORCE_X, kernels.FORCE_Y, kernels.FORCE_Z, kernels.LIFT_AXIAL,
        kernels.PEAK_TORQUE, kernels.PEAK_FORCE, kernels.PEAK_MC, kernels.WALL, kernels.WALL_RADIAL, kernels.WALL_MC, kernels.WALL_RUN,
        kernels.WALL_EDGE, kernels.AREA,
    ]
)  # fmt: skip
"""Columns of `station_loads` that go with the length of edge in material."""


@dataclass(frozen=True, slots=True)
class Conserved:
    """f8[K] each, one row a station: by how much its load falls short in sums over time, and alone (1 where it does not); mean area of what its
    window takes away, mm²."""

    whole: Floats
    alone: Floats
    area_mm2: Floats

    def where(self, chosen: NDArray[np.bool_]) -> Conserved:
        """Some of the stations."""
        return Conserved(self.whole[chosen], self.alone[chosen], self.area_mm2[chosen])


def conserved(move: Ints, step_mm: Floats, area_mm2: Floats, volume_mm3: Floats) -> Conserved:
    """Loads of stations, in order, against the volume that they took. Samples that see a cell at some stations and none at others make the
    sum short, not those stations: each is scaled up to the mean of its window, and no further."""
    window = _windows(move, step_mm)
    count = int(window[-1]) + 1 if window.size else 0
    swept = np.bincount(window, weights=area_mm2 * step_mm, minlength=count)
    taken = np.bincount(window, weights=volume_mm3, minlength=count)
    short = np.divide(taken, swept, out=np.ones(count), where=swept > 0.0)
    whole: Floats = np.clip(short, 1.0, MOST_SCALED)[window]
    gone = np.bincount(window, weights=step_mm, minlength=count)
    mean = np.divide(taken, gone, out=np.zeros(count), where=gone > 0.0)[window]
    alone = np.divide(mean, area_mm2, out=np.ones(area_mm2.size), where=area_mm2 > 0.0)
    return Conserved(whole, np.clip(alone, 1.0, whole), mean)


def _windows(move: Ints, step_mm: Floats) -> NDArray[np.int64]:
    """i8[K] window of each station: of one move where that is long enough, of short ones together. What is left over joins the one before."""
    if not move.size:
        return np.empty(0, dtype=np.int64)
    of_move = np.cumsum(np.diff(move, prepend=move[0]) != 0)
    long_enough = np.bincount(of_move, weights=step_mm)[of_move] >= WINDOW_MM - LEAST_STEP_MM
    own = np.where(long_enough, of_move, -1)
    run = np.cumsum(np.diff(own, prepend=own[0]) != 0)
    length = np.bincount(run, weights=step_mm)
    within = np.cumsum(step_mm) - (np.cumsum(length) - length)[run]
    windows = np.maximum(((length + LEAST_STEP_MM) / WINDOW_MM).astype(np.int64), 1)
    part = np.clip((within / WINDOW_MM).astype(np.int64), 0, windows[run] - 1)
    return np.asarray((np.cumsum(windows) - windows)[run] + part)


def power_of_width(mc: float, edge_share: Floats) -> Floats:
    """f8[K]: power of the width that stations' forces go with; `edge_share` f8[K] of edge forces in them."""
    return (1.0 - mc / 2.0) * (1.0 - edge_share) + 0.5 * edge_share


def width_doubt(
    cell_mm: float, area_mm2: Floats, axial_mm: Floats, radial_mm: Floats, scale: Floats, power: Floats
) -> Floats:
    """f8[K]: standard uncertainty of the logarithm of stations' forces. Area seen along the way, over its depth,
    is the mean width of a cut: a station's own, or that of its window where that is greater, which is known better."""
    deep = axial_mm > LEAST_MM
    wide = np.where(deep, area_mm2 / np.where(deep, axial_mm, 1.0), radial_mm)
    own = power * cell_mm / math.sqrt(12.0) / np.maximum(wide, LEAST_MM)
    doubt = np.hypot(own, np.log(scale) / math.sqrt(12.0))
    return np.asarray(np.where(scale < MOST_SCALED, np.minimum(doubt, MOST_DOUBT), MOST_DOUBT))


def chip_doubt(cell_mm: float, radius_mm: float, share: Floats) -> Floats:
    """f8[K]: standard uncertainty of the logarithm of stations' thickest chip; `share` f8[K] is its n·f."""
    sine = np.clip(share, 1e-3, 1.0)
    cosine = np.sqrt(1.0 - sine**2)
    angle = np.hypot(cell_mm / math.sqrt(12.0) / (radius_mm * sine), BIN_U)
    return np.asarray(np.minimum(angle * cosine / sine, MOST_DOUBT))


def as_exponent(doubt: Floats) -> Floats:
    """The power of `WIDTH` that has this doubt."""
    return doubt / math.sqrt(math.log1p(WIDTH_LOG_U**2))


def volume_power(cell_mm: float, diameter_mm: float) -> float:
    """The power of `VOLUME` that a volume goes with which a cutter took away."""
    return float(as_exponent(np.array(min(VOLUME_CELLS * cell_mm / diameter_mm, MOST_DOUBT))))


def time_power(cell_mm: float, diameter_mm: float, way_mm: float) -> float:
    """The power of `TIME` that the time goes with which a cutter is in the cut over a way."""
    missed = TIME_ENDS * math.sqrt(diameter_mm * cell_mm)
    return float(as_exponent(np.array(min(missed / max(way_mm, LEAST_MM), MOST_DOUBT))))


def scaled(out: Floats, scale: Floats) -> Floats:
    """The numbers of stations with their edges lengthened by `scale` f8[K]; changes `out`."""
    out[:, SCALED] *= scale[:, None]
    return out
