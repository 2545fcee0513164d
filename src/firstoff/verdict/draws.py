"""Joint draws of facts: one column a fact, shared by all questions (JCGM 101:2008, 6.4).

Each path has its own seeded stream, so that taking one fact away changes no draw of another. Each column is stratified (one
point in each of N equal slices of probability, in random order), which makes its mean and spread nearly exact. Facts of one group
keep their columns and only change the order of the draws in them, so that their standard scores go together as the group says (a
Gaussian copula): each fact's own distribution stays what it was, whatever its shape.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtrit

from firstoff.facts.fact import Fact, FactGroup, FactSet, Shape
from firstoff.program.moves import Floats

COUNT = 4000
"""Draws: a chance of 1 in 1000 is then four of them, and nothing finer is ever said."""
SEED = 20260504
"""Fixed, so that the same facts always give the same chance."""


def draw(facts: FactSet, path: str) -> Floats:
    """f8[COUNT] draws of one fact of a set, in the order that its group asks for."""
    group = facts.group_of(path)
    drawn = draw_one(facts.facts[path])
    return drawn if group is None or facts.facts[path].u == 0.0 else drawn[_order(group, path)]


def summed_variance(facts: FactSet, parts: Mapping[str, float]) -> float:
    """Variance of a sum of facts, each with its signed standard uncertainty in it (GUM 5.2.2)."""
    total = sum(part**2 for part in parts.values())
    for group in facts.groups:
        inside = [path for path in group.paths if path in parts]
        for place, first in enumerate(inside):
            for second in inside[place + 1 :]:
                total += 2 * group.between(first, second) * parts[first] * parts[second]
    return max(total, 0.0)


BEYOND_ANYTHING = 300.0
"""Natural logarithm of a factor that leaves everything else behind and is still a number: the tail of two readings (one degree of freedom)
reaches further than numbers do."""


def draw_one(fact: Fact) -> Floats:
    """f8[COUNT] draws of one fact: t for few degrees of freedom (JCGM 101, 6.4.9.3), log-t where the shape is lognormal."""
    if fact.u == 0.0:
        return np.full(COUNT, fact.value)
    if fact.shape is Shape.UNIFORM:
        half_width = math.sqrt(3.0) * fact.u
        return fact.value + half_width * (2.0 * _even(fact.path) - 1.0)
    standard = _standard(fact.path, fact.df)
    if fact.shape is Shape.LOGNORMAL:
        return fact.value * np.exp(np.minimum(log_u(fact) * standard, BEYOND_ANYTHING))
    return fact.value + fact.u * standard


def log_u(fact: Fact) -> float:
    """Standard deviation of ln(fact): √ln(1 + (u/value)²) for a lognormal, u/value to first order else."""
    if fact.shape is Shape.LOGNORMAL:
        return math.sqrt(math.log1p((fact.u / fact.value) ** 2))
    return abs(fact.u / fact.value)


@lru_cache(maxsize=4096)
def _even(path: str) -> Floats:
    generator = np.random.default_rng((SEED, zlib.crc32(path.encode())))
    even: Floats = (generator.permutation(COUNT) + generator.random(COUNT)) / COUNT
    even.setflags(write=False)
    return even


@lru_cache(maxsize=4096)
def _standard(path: str, df: float) -> Floats:
    even = _even(path)
    standard: Floats = ndtri(even) if math.isinf(df) else stdtrit(df, even)
    standard.setflags(write=False)
    return standard


@lru_cache(maxsize=256)
def _order(group: FactGroup, path: str) -> NDArray[np.intp]:
    """i8[COUNT]: which of a fact's own draws stands where, so that its ranks are those of correlated normal scores (its own, in the
    first fact of the group)."""
    place = group.paths.index(path)
    scores = np.stack([ndtri(_even(each)) for each in group.paths[: place + 1]])
    mixed = lower_triangle(group)[place, : place + 1] @ scores
    order = np.empty(COUNT, dtype=np.intp)
    order[np.argsort(mixed, kind="stable")] = np.argsort(_even(path), kind="stable")
    order.setflags(write=False)
    return order


def lower_triangle(group: FactGroup) -> Floats:
    """f8[n, n] L with L·Lᵀ = correlation (Cholesky); facts that follow from others get a zero on the diagonal.

    Raises `ValueError` if no facts can be correlated like this.
    """
    wanted = np.array(group.correlation, dtype=float)
    lower: Floats = np.zeros_like(wanted)
    for row in range(len(wanted)):
        for column in range(row + 1):
            rest = wanted[row, column] - lower[row, :column] @ lower[column, :column]
            if row == column:
                lower[row, row] = math.sqrt(max(rest, 0.0))
            elif lower[column, column] > SINGULAR:
                lower[row, column] = rest / lower[column, column]
    if not np.allclose(lower @ lower.T, wanted, atol=1e-6):
        raise ValueError(f"no facts can go together like this: {group}")
    return lower


SINGULAR = 1e-9
"""Below this, what is left of a fact's own doubt beside the others' is rounding."""
