"""One hidden machine held against its examination: does the stated band hold the truth, and did what was said to be likely come true?"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.facts.fact import FactSet
from firstoff.verdict.examination import Examination
from firstoff.verdict.forms import Form, Scale
from firstoff.verdict.judge import Draws
from firstoff.verdict.question import Check, Limit
from firstoff.verdict.questions import ALL

FIND = {question.id: find for question, find in ALL}


@dataclass(frozen=True, slots=True)
class Stated:
    """What an examination states of one question: the check and the limit that it answers by."""

    check: int
    """Number of the check among the question's."""
    scale: Scale
    limit: Limit
    best: float
    """Demand less capacity at best estimates, a logarithm where they are a ratio."""
    low95: float
    high95: float
    chance: float
    """That any place exceeds."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One question of one machine."""

    stated: Stated
    true: float
    """Demand less capacity where it was stated, as it really is."""
    over: bool
    """Whether any place really exceeds."""


Hand = Callable[[Limit, Scale, float, Mapping[str, float], FactSet], float]
"""(a limit of the examined truth, its scale, its demand less capacity there, truth less reading by path, the true facts) -> the true
difference."""


def stated_of(examination: Examination, question: str) -> Stated | None:
    """None where the answer hangs on something counted or missing: nothing is then stated that could be true or not."""
    answered = examination.answer(question)
    if answered.demand is None or answered.capacity is None or answered.any_chance is None:
        return None
    draws = Draws(examination.facts)
    checks = checks_of(examination, question)
    for number, check in enumerate(checks):
        if check.scale is not answered.scale:
            continue
        for limit in check.limits:
            if limit in answered.margins and _is_measured(
                limit, check.scale, draws, answered.demand.value, answered.capacity.value
            ):
                drawn = draws.of(limit.demand - limit.capacity, check.scale)
                low, high = (float(one) for one in np.quantile(drawn, [0.025, 0.975]))
                best = draws.best(limit.demand - limit.capacity, check.scale)
                return Stated(number, check.scale, limit, best, low, high, answered.any_chance)
    return None


def _is_measured(limit: Limit, scale: Scale, draws: Draws, demand: float, capacity: float) -> bool:
    found = [draws.best(form, scale) for form in (limit.demand, limit.capacity)]
    if scale is Scale.RATIO:
        found = [math.exp(one) for one in found]
    return found == [demand, capacity]


def checks_of(examination: Examination, question: str) -> tuple[Check, ...]:
    """The checks of one question, as it found them."""
    return FIND[question](examination.case, examination.facts.leaning()).checks


def outcome(
    stated: Stated, question: str, real: Examination, errors: Mapping[str, float], hand: Hand | None
) -> Outcome | None:
    """What was stated against the truth; None where the examination of the truth no longer looks at such a place."""
    checks = checks_of(real, question)
    limits = checks[stated.check].limits if stated.check < len(checks) else ()
    if not limits:
        return None
    draws = Draws(real.facts)
    excess = {id(limit): draws.best(limit.demand - limit.capacity, stated.scale) for limit in limits}
    if hand is not None:
        excess = {id(limit): hand(limit, stated.scale, excess[id(limit)], errors, real.facts) for limit in limits}
    worst = max(excess.values())
    same = _same_place(stated.limit, limits)
    at = worst if same is None else excess[id(same)]
    return Outcome(stated, at, worst > 0)


def _same_place(stated: Limit, limits: Sequence[Limit]) -> Limit | None:
    """The limit of the true examination that says the same: of the same move, and going the same way with the same facts (too much left and
    too much taken are two limits of one move), in any of the sums that the stated one may be. Of several that do, the first is the nearest."""
    mine = [limit for limit in limits if limit.place.move == stated.place.move]
    ways = [_ways(form) for form in _sums(stated.demand - stated.capacity)]
    return max(
        mine, key=lambda limit: max(_alike(way, _ways(limit.demand - limit.capacity)) for way in ways), default=None
    )


def _sums(form: Form) -> list[Form]:
    """A form, and all that it may be instead."""
    return [form] if form.other is None else [form, *_sums(form.other.form)]


def _ways(form: Form) -> dict[str, float]:
    return {path: math.copysign(1.0, factor) for path, factor in form.terms}


def _alike(one: Mapping[str, float], other: Mapping[str, float]) -> float:
    return sum(one[path] * other[path] for path in one.keys() & other.keys())
