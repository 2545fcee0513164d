"""Joint draws of facts: one column a fact, shared by all questions (JCGM 101:2008, 6.4).

Each path has its own seeded stream, so that taking one fact away changes no draw of another. Each column is stratified (one
point in each of N equal slices of probability, in random order), which makes its mean and spread nearly exact.
"""

from __future__ import annotations

import math
import zlib
from functools import lru_cache

import numpy as np
from scipy.special import ndtri, stdtrit

from firstoff.facts.fact import Fact, Shape
from firstoff.program.moves import Floats

COUNT = 4000
"""Draws: a chance of 1 in 1000 is then four of them, and nothing finer is ever said."""
SEED = 20260504
"""Fixed, so that the same facts always give the same chance."""


def draw_one(fact: Fact) -> Floats:
    """f8[COUNT] draws of one fact: t for few degrees of freedom (JCGM 101, 6.4.9.3), log-t where the shape is lognormal."""
    if fact.u == 0.0:
        return np.full(COUNT, fact.value)
    if fact.shape is Shape.UNIFORM:
        half_width = math.sqrt(3.0) * fact.u
        return fact.value + half_width * (2.0 * _even(fact.path) - 1.0)
    standard = _standard(fact.path, fact.df)
    if fact.shape is Shape.LOGNORMAL:
        return fact.value * np.exp(log_u(fact) * standard)
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
