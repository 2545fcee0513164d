"""Demands and capacities as forms in facts: the only shape in which anything reaches the verdict.

On the scale *difference* a form is  const + Σ coefficient · fact,  on the scale *ratio* it is the logarithm,
ln value = const + Σ exponent · ln fact.  Sums and logarithms keep every share of doubt exact: the gradient is written in the form.

Where it is in doubt which of two sums holds (the nearer of two faces; the peak of a turn or its mean), a form carries the other one with
the form that decides between them: drawn, each holds where it does. Budgets and gradients are those of the sum it stands for.
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
    other: Other | None = None
    """What holds instead where that is so in a draw."""

    def __add__(self, other: Form | float) -> Form:
        """The sum. Raises `ValueError` where both are in doubt which sum they are: nothing here adds such two."""
        if not isinstance(other, Form):
            return Form(self.const + other, self.terms, _moved(self.other, other))
        if self.other is not None and other.other is not None:
            raise ValueError("two forms that each may be another one")
        kept = _moved(self.other, other) if self.other is not None else _moved(other.other, self)
        return Form(self.const + other.const, _joined(self.terms, other.terms), kept)

    def __sub__(self, other: Form | float) -> Form:
        return self + (-other)

    def __neg__(self) -> Form:
        return self.scaled(-1.0)

    def scaled(self, factor: float) -> Form:
        """The form times a number."""
        terms = tuple((path, factor * part) for path, part in self.terms if factor * part != 0.0)
        other = None if self.other is None else Other(self.other.over, self.other.form.scaled(factor))
        return Form(self.const * factor, terms, other)

    def alone(self) -> Form:
        """The sum that it stands for, whatever may hold instead."""
        return self if self.other is None else Form(self.const, self.terms)

    def unless(self, over: Form, form: Form) -> Form:
        """This form, or `form` where `over` comes out above nought. Raises `ValueError` if this one may be another already."""
        if self.other is not None:
            raise ValueError("a form that may be another one already")
        return Form(self.const, self.terms, Other(over, form))

    def at(self, value_of: Callable[[str], float]) -> float:
        """The sum that it stands for with a number for each fact (already a logarithm where the scale is a ratio)."""
        return self.const + sum(factor * value_of(path) for path, factor in self.terms)


@dataclass(frozen=True, slots=True)
class Other:
    """What holds instead of a form, wherever `over` comes out above nought in a draw of the facts. Both may be in doubt themselves."""

    over: Form
    form: Form


def greatest(first: Form, *others: Form) -> Form:
    """The greatest of plain forms in every draw, which stands for the first of them."""
    if not others:
        return first
    rest = greatest(*others)
    return first.unless(rest - first, rest)


def _moved(other: Other | None, by: Form | float) -> Other | None:
    return None if other is None else Other(other.over, other.form + by)


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
    return tuple([(path, factor) for path, factor in total.items() if factor != 0.0])
