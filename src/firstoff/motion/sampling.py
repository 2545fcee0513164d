"""What the time of a long program hangs on, asked of samples of it.

How one move follows a limit is settled by the moves around it: those it brakes for and those it comes up from. So windows of moves, with
others before and after them that are planned and not counted, tell the same as the whole program does there. Two things are tried before
they are believed: planned alone, the windows must take the time that they take in the whole plan; and the sum over windows must be known to
`SAMPLE_U`, by how far the windows part from one another (the standard error of a ratio estimate: Cochran, Sampling Techniques, 3rd ed.
1977, section 6.4; from memory). If either fails, the whole program is planned each time.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from firstoff.motion.plan import LimitedPath, Plan, Shape, controls, path_of, run, total_seconds
from firstoff.motion.timeline import MotionLimits
from firstoff.program.moves import Floats

WORTH_A_THREAD = 20_000
"""Moves from which a plan takes longer than starting a thread for it."""
SAMPLED_FROM = 200_000
"""Moves from which on samples are asked: fewer are planned in tenths of a second."""
WINDOWS = 40
COUNTED = 1500
"""Moves of each window that count."""
AROUND = 400
"""Moves planned before and after them, or three times what the control looks ahead."""
SAME_TIME = 1e-3
"""Part by which the time of the windows planned alone may differ from that in the whole plan."""
SAMPLE_U = 0.01
"""Greatest standard error of an exponent. A limit known to 20 % then adds 0.2 % to the doubt of the time at most."""

Kind = TypeVar("Kind", bound=np.generic)
Told = TypeVar("Told")
Moved = tuple[str, MotionLimits, MotionLimits, float]
"""Path of a limit's fact, all limits with it lowered and raised, ratio of the two."""


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """How time follows a limit: d ln(time) / d ln(limit), of the whole program and of its cutting. Never positive for a limit; for a
    pause it is its share of the time."""

    total: float
    cutting: float


@dataclass(frozen=True, slots=True)
class _Sample:
    """Some moves of a shape; `window` i8[K] the window each counts for, -1 = none; `cutting` bool[K]."""

    shape: Shape
    rows: NDArray[np.intp]
    window: NDArray[np.int64]
    cutting: NDArray[np.bool_]


def in_pairs(ask: Callable[[Moved], Told], moved: Sequence[Moved], size: int) -> list[Told]:
    """Two plans at a time, which hold no lock; one after the other where starting threads takes longer than the plans."""
    if size < WORTH_A_THREAD:
        return [ask(one) for one in moved]
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(ask, moved))


def sampled(plan: Plan, cutting: NDArray[np.bool_], moved: Sequence[Moved]) -> dict[str, Sensitivity] | None:
    """How time follows each limit, by samples; None where the program is short, has arcs, or samples do not tell enough."""
    shape, limits = plan.shape, plan.limits
    if shape.moving.size < SAMPLED_FROM or len(shape.arcs):  # arcs settle their tiers section by section
        return None
    sample = _sample(shape, cutting, limits)
    if sample is None:
        return None
    path = path_of(sample.shape, limits)
    alone = np.diff(run(sample.shape, path, controls(limits)[0]).end_s, prepend=0.0)
    whole = np.diff(plan.likely.end_s, prepend=0.0)
    counts = sample.window >= 0
    there = whole[sample.rows]
    if abs(float(alone[counts].sum() / there[counts].sum()) - 1.0) > SAME_TIME:
        return None
    moving, fixed = float(whole.sum()), total_seconds(shape, plan.likely) - float(whole.sum())
    found = {}
    slopes = in_pairs(lambda one: _slopes(sample, path, counts, one), moved, sample.rows.size)
    for (name, *_), ((total, total_u), (cut, cut_u)) in zip(moved, slopes, strict=True):
        if max(total_u, cut_u) > SAMPLE_U:
            return None
        # Pauses and dwells follow no limit.
        found[name] = Sensitivity(total * moving / (moving + fixed), cut)
    return found


def _slopes(
    sample: _Sample, path: LimitedPath, counts: NDArray[np.bool_], one: Moved
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Slope and standard error, of all moves that count and of those that cut."""
    name, lower, upper, ratio = one
    kept = name.startswith("machine.control.")  # the path itself does not hang on the control
    below, above = (
        np.diff(run(sample.shape, path if kept else path_of(sample.shape, each), controls(each)[0]).end_s, prepend=0.0)
        for each in (lower, upper)
    )
    whole, cut = (
        _ratio(sample.window[chosen], below[chosen], above[chosen], ratio)
        for chosen in (counts, counts & sample.cutting)
    )
    return whole, cut


def _sample(shape: Shape, cutting: NDArray[np.bool_], limits: MotionLimits) -> _Sample | None:
    """Windows spread evenly over the moves, each with what is planned around it, from rest to rest; None where they would overlap."""
    around = max(AROUND, 3 * (controls(limits)[0].look_ahead or 0))
    count, wide = shape.moving.size, COUNTED + 2 * around
    if count < WINDOWS * wide:
        return None
    begins = np.linspace(around, count - COUNTED - around, WINDOWS).astype(np.intp)
    within = np.arange(wide)
    rows = (begins[:, None] - around + within).ravel()
    window = np.where((within >= around) & (within < around + COUNTED), np.arange(begins.size)[:, None], -1).ravel()
    stop = shape.stop[rows].copy()
    stop[::wide] = True
    part = replace(
        shape,
        moving=_sealed(shape.moving[rows]),
        step_mm=_sealed(shape.step_mm.take(rows, axis=0)),
        end_mm=_sealed(shape.end_mm.take(rows, axis=0)),
        arc=_sealed(shape.arc[rows]),
        sense=_sealed(shape.sense[rows]),
        stop=_sealed(stop),
        commanded=_sealed(shape.commanded[rows]),
    )
    return _Sample(part, rows, window, cutting[rows])


def _ratio(window: NDArray[np.int64], below: Floats, above: Floats, ratio: float) -> tuple[float, float]:
    """Logarithmic slope of time by a limit over all windows, and its standard error."""
    a, b = (np.bincount(window, one, WINDOWS) for one in (below, above))
    if not a.sum() > 0.0:
        return 0.0, 0.0
    slope = b.sum() / a.sum()
    used = int(np.count_nonzero(a))
    if used < 2:
        return 0.0, math.inf
    apart = (b - slope * a)[a > 0.0]
    u = math.sqrt(used / (used - 1) * float(np.sum(apart**2))) / float(a.sum())
    return math.log(slope) / math.log(ratio), u / math.log(ratio)


def _sealed(array: NDArray[Kind]) -> NDArray[Kind]:
    array = np.ascontiguousarray(array)
    array.setflags(write=False)
    return array
