"""Hidden machines: what is true, and what their shop writes down about it.

The true value of a fact is drawn first, evenly over a range far wider than its doubt (evenly in the logarithm where the doubt is one of
factors): before it reads anything, a shop knows nothing. What it then writes down is a reading: the truth with an error whose spread it
states, or, where degrees of freedom are few, the mean of a few readings with the spread found in them. Their true spread is then drawn
too, evenly in its logarithm: a few readings speak for all spreads that they may have, and draws from t are exact for these together
(JCGM 101:2008, 6.4.9), not for each. Nothing here uses the package's draws.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase

import numpy as np

from firstoff.facts.fact import Fact, FactSet, Shape

WIDE = 6.0
"""Half-width of the true values' range, in u, where one or two facts decide."""
WIDER = 12.0
"""The same where a sum of many decides: a sum of even ranges is even only far within them."""
OTHER_SPREAD = 4.0
"""The true spread of few readings lies within this factor of the nominal one."""
WIDEST_PART = 1.0 / 6.0
"""But beyond this part of a length or a force nobody writes down a mean."""
LEAST = 4.5
"""No true length, force or friction is drawn below this many u: nobody writes down a reading at or below nought."""


@dataclass(frozen=True, slots=True)
class Machine:
    """One hidden machine: the same facts three times."""

    true: FactSet
    """As they are, without doubt."""
    read: FactSet
    """As the shop has them: readings with their stated doubt."""
    errors: Mapping[str, float]
    """By path: truth less reading."""


def doubted(facts: FactSet, leaned: Iterable[str], known: Iterable[str]) -> tuple[str, ...]:
    """The facts in doubt among `leaned`, but for those that match a pattern of `known`."""
    patterns = tuple(known)
    paths = (path for path in dict.fromkeys(leaned) if path in facts.facts and facts.facts[path].u > 0)
    return tuple(path for path in paths if not any(fnmatchcase(path, pattern) for pattern in patterns))


def draw_machine(
    nominal: FactSet,
    paths: Iterable[str],
    varied: Mapping[str, float],
    generator: np.random.Generator,
    wide: float = WIDE,
) -> Machine:
    """A machine whose `paths` are in doubt; all other facts are known exactly, and those `varied` are known otherwise in each machine."""
    exact = {path: replace(fact, u=0.0) for path, fact in nominal.facts.items()}
    for path, by in varied.items():
        exact[path] = replace(exact[path], value=exact[path].value + by * float(generator.uniform(-1.0, 1.0)))
    true, read = dict(exact), dict(exact)
    errors = {}
    scores = _scores(nominal, tuple(paths), generator)
    for path, score in scores.items():
        truth = true_value(nominal.facts[path], generator, wide)
        seen = reading_of(truth, score, generator)
        true[path], read[path] = replace(truth, u=0.0), seen
        errors[path] = truth.value - seen.value
    groups = tuple(kept for group in nominal.groups if (kept := group.only(errors)) is not None)
    return Machine(FactSet(true, nominal.settings), FactSet(read, nominal.settings, groups), errors)


def _scores(nominal: FactSet, paths: tuple[str, ...], generator: np.random.Generator) -> dict[str, float]:
    """Standard normal errors of the readings; those of one fit go together as their group says."""
    scores = {path: float(score) for path, score in zip(paths, generator.standard_normal(len(paths)), strict=True)}
    for whole in nominal.groups:
        group = whole.only(scores)
        if group is None:
            continue
        mixed = generator.multivariate_normal(np.zeros(len(group.paths)), np.array(group.correlation))
        scores |= {path: float(score) for path, score in zip(group.paths, mixed, strict=True)}
    return scores


def true_value(fact: Fact, generator: np.random.Generator, wide: float = WIDE) -> Fact:
    """A true value, drawn evenly over a range far wider than the doubt; u is that of the readings to come."""
    fact = _with_true_spread(fact, generator)
    even = float(generator.uniform(-1.0, 1.0))
    if fact.shape is Shape.LOGNORMAL:
        value = fact.value * math.exp(wide * spread_of_log(fact) * even)
        return replace(fact, value=value, u=fact.u * value / fact.value)
    low, high = fact.value - wide * fact.u, fact.value + wide * fact.u
    if not _is_place(fact.path):
        low = max(low, min(LEAST * fact.u, fact.value))
    return replace(fact, value=low + (high - low) * (even + 1.0) / 2.0)


def _with_true_spread(fact: Fact, generator: np.random.Generator) -> Fact:
    if math.isinf(fact.df):
        return fact
    u = fact.u * OTHER_SPREAD ** float(generator.uniform(-1.0, 1.0))
    if not _is_place(fact.path):
        u = min(u, max(WIDEST_PART * fact.value, fact.u))
    return replace(fact, u=u)


def _is_place(path: str) -> bool:
    """Places may lie on either side of nought."""
    return path.startswith(
        ("machine.axis.", "job.offset.", "job.stock.", "job.around.", "job.fixture.", "machine.zone.")
    )


def spread_of_log(fact: Fact) -> float:
    """Standard deviation of ln(fact) of a lognormal with this mean-to-spread ratio (JCGM 101: √ln(1 + (u/value)²))."""
    return math.sqrt(math.log1p((fact.u / fact.value) ** 2))


def reading_of(truth: Fact, score: float, generator: np.random.Generator) -> Fact:
    """What the shop writes down: a value with a known spread, or the mean of few readings with their own."""
    if truth.shape is Shape.UNIFORM:
        return replace(truth, value=truth.value + math.sqrt(3.0) * truth.u * float(generator.uniform(-1.0, 1.0)))
    in_logs = truth.shape is Shape.LOGNORMAL
    spread = spread_of_log(truth) if in_logs else truth.u
    centre = math.log(truth.value) if in_logs else truth.value
    if math.isinf(truth.df):
        mean, found = centre + spread * score, spread
    else:
        n = round(truth.df) + 1
        readings = centre + spread * math.sqrt(n) * generator.standard_normal(n)
        mean, found = float(readings.mean()), float(readings.std(ddof=1)) / math.sqrt(n)
    if not in_logs:
        return replace(truth, value=mean, u=found)
    value = math.exp(mean)
    return replace(truth, value=value, u=value * math.sqrt(math.expm1(found**2)))
