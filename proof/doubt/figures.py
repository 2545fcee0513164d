"""Figures of a study: how often the band holds the truth, and whether what is called likely comes true as often."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta, chi2

from proof.doubt.study import Row

EDGES = (0.0, 0.01, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 0.99, 1.0)
"""Of the bins of stated chances."""
FEWEST = 20
"""Fewer machines in a bin say nothing of it."""


@dataclass(frozen=True, slots=True)
class Bin:
    """Machines whose stated chance lies between two edges."""

    called: float
    """Mean of the chances stated."""
    seen: float
    """Part of them that really exceed."""
    machines: int
    low: float
    high: float
    """95 % bounds of the part seen (Clopper and Pearson, Biometrika 26 (1934) 404)."""


@dataclass(frozen=True, slots=True)
class Figures:
    """What a study found of one question."""

    machines: int
    stated: int
    """Machines of which something was stated: the others hang on something counted or missing."""
    covered: float
    low: float
    high: float
    """Exact 95 % bounds of the part covered."""
    below: float
    """Part of the truths that lie under the band."""
    bins: tuple[Bin, ...]
    p: float
    """Chance of bins at least so far off (chi-square) if all chances are true."""
    called: float
    seen: float
    """Means over all machines."""


def exact_bounds(hits: int, of: int) -> tuple[float, float]:
    """Clopper and Pearson's 95 % bounds of a part."""
    low = float(beta.ppf(0.025, hits, of - hits + 1)) if hits > 0 else 0.0
    high = float(beta.ppf(0.975, hits + 1, of - hits)) if hits < of else 1.0
    return low, high


def figures(rows: Sequence[Row]) -> Figures | None:
    """None where nothing was stated of any machine."""
    found = [row for row in rows if row.stated]
    if not found:
        return None
    inside = np.array([one.side == 0 for one in found])
    below = float(np.mean([one.side < 0 for one in found]))
    called = np.array([one.chance for one in found])
    over = np.array([one.over for one in found])
    bins = _bins(called, over)
    # A bin is tested against the chances stated in it: their mean, and the variance of as many throws.
    squares, count = 0.0, 0
    for low, high in pairwise(EDGES):
        here = _within(called, low, high)
        variance = float(np.sum(called[here] * (1 - called[here])))
        if variance < LEAST_VARIANCE:
            continue
        squares += float(np.sum(over[here]) - np.sum(called[here])) ** 2 / variance
        count += 1
    p = float(chi2.sf(squares, count)) if count else 1.0
    bounds = exact_bounds(int(inside.sum()), len(found))
    return Figures(
        len(rows), len(found), float(inside.mean()), *bounds, below, bins, p, float(called.mean()), float(over.mean())
    )


LEAST_VARIANCE = 2.0
"""Throws that are expected to vary by less than this say nothing by a chi-square."""


def _within(called: NDArray[np.float64], low: float, high: float) -> NDArray[np.bool_]:
    found: NDArray[np.bool_] = (called >= low) & ((called < high) | (high == 1.0))
    return found


def _bins(called: NDArray[np.float64], over: NDArray[np.bool_]) -> tuple[Bin, ...]:
    found = []
    for low, high in pairwise(EDGES):
        here = _within(called, low, high)
        n = int(here.sum())
        if n < FEWEST:
            continue
        bounds = exact_bounds(int(over[here].sum()), n)
        found.append(Bin(float(called[here].mean()), float(over[here].mean()), n, *bounds))
    return tuple(found)
