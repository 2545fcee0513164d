"""Demands and capacities as forms in facts: the only shape in which anything reaches the verdict.

On the scale *difference* a form is  const + Σ coefficient · fact,  on the scale *ratio* it is the logarithm,
ln value = const + Σ exponent · ln fact.  Sums and logarithms keep every share of doubt exact: the gradient is written in the form.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from firstoff.facts.fact import Fact


class Scale(StrEnum):
    """How demand and capacity are compared."""

    RATIO = "ratio"
    DIFFERENCE = "difference"
    COUNT = "count"


@dataclass(frozen=True, slots=True)
class Form:
    """A constant and terms (fact path, coefficient or exponent); a path stands in it once."""

    const: float
    terms: tuple[tuple[str, float], ...] = ()

    def __add__(self, other: Form | float) -> Form:
        if isinstance(other, Form):
            return Form(self.const + other.const, _joined(self.terms, other.terms))
        return Form(self.const + other, self.terms)

    def __sub__(self, other: Form | float) -> Form:
        return self + (-other)

    def __neg__(self) -> Form:
        return Form(-self.const, tuple((path, -factor) for path, factor in self.terms))

    def scaled(self, factor: float) -> Form:
        """The form times a number."""
        return Form(
            self.const * factor, tuple((path, factor * part) for path, part in self.terms if factor * part != 0.0)
        )

    def at(self, value_of: Callable[[str], float]) -> float:
        """The form with a number for each fact (already a logarithm where the scale is a ratio)."""
        return self.const + sum(factor * value_of(path) for path, factor in self.terms)


def exact(value: float) -> Form:
    """A form without doubt."""
    return Form(value)


def of(fact: Fact, factor: float = 1.0) -> Form:
    """The form that is just this fact, times a factor (difference) or to a power (ratio)."""
    return Form(0.0, ((fact.path, factor),))


def log_exact(value: float) -> Form:
    """A ratio form without doubt; `value` must be positive."""
    return Form(math.log(value))


def _joined(
    first: tuple[tuple[str, float], ...], second: tuple[tuple[str, float], ...]
) -> tuple[tuple[str, float], ...]:
    total = dict(first)
    for path, factor in second:
        total[path] = total.get(path, 0.0) + factor
    return tuple((path, factor) for path, factor in total.items() if factor != 0.0)
