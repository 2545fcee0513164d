"""What each tool's stretch is held against: its worst load beside the limit of it, with the doubt of both, for lanes and path.

The questions judge; here only the same forms are read again, stretch by stretch, because an answer keeps no more than its worst places.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from firstoff.facts.fact import FactSet, Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.verdict.bending import in_series, springs_at
from firstoff.verdict.draws import log_u, summed_variance
from firstoff.verdict.forms import Form, of
from firstoff.verdict.load_forms import demand_of
from firstoff.verdict.spindle_curve import S1, curve, mean_torque, power_now, torque_now, turns_evenly
from firstoff.verdict.stretches import candidates
from firstoff.verdict.tool_stress import bending, twisting

TURNED = ("drill", "tap")
"""Kinds that break by being twisted off."""


@dataclass(frozen=True, slots=True)
class Held:
    """The candidate of a stretch that comes nearest to the limit of a question. `value` is its load and `limit` the load at the limit, in
    internal units; `log_u` the standard uncertainty of ln(load / limit), `own_u` that of ln(load) alone."""

    question: str
    move: int
    value: float
    limit: float
    log_u: float
    own_u: float

    @property
    def log_share(self) -> float:
        return math.log(self.value / self.limit)


@dataclass(frozen=True, slots=True)
class Peak:
    """The greatest load of one quantity in a stretch, and the standard uncertainty of its logarithm; None where it is not known."""

    move: int
    value: float
    own_u: float | None


def held_limits(stretch: Stretch, facts: FactSet) -> dict[str, Held]:
    """By question (torque, power, chip, strength): what a stretch comes nearest to; a question without limit or load is left out."""
    leaning = facts.leaning()
    found: dict[str, Held] = {}
    for question, each, demand, over in _pairs(stretch, leaning):
        share = math.exp(_best(over, facts))
        held = Held(
            question, each.move, each.value, each.value / share, log_doubt(over, facts), log_doubt(demand, facts)
        )
        if question not in found or held.log_share > found[question].log_share:
            found[question] = held
    return found


def _pairs(stretch: Stretch, facts: Leaning) -> Iterator[tuple[str, Candidate, Form, Form]]:
    """(question, candidate, its logarithm, that of demand over capacity)."""
    points, speed = curve(facts, S1), abs(stretch.turns_per_s)
    most = facts.number_if_known(f"tools.{stretch.name}.max_chip")
    torque, power = (torque_now(facts, speed), power_now(facts, speed)) if points and speed > 0 else (None, None)
    peaks = candidates(stretch, Quantity.TORQUE, Quantity.TAP_TORQUE)
    turning = map(mean_torque, candidates(stretch, Quantity.POWER)) if turns_evenly(facts, stretch) else peaks
    against = (
        ("torque", turning, None if torque is None else torque.form),
        ("power", candidates(stretch, Quantity.POWER), None if power is None else power.form),
        ("chip", candidates(stretch, Quantity.CHIP), None if most is None else of(most)),
    )
    for question, loads, capacity in against:
        for each in loads:
            demand = demand_of(each, facts)
            if capacity is not None and demand is not None:
                yield question, each, demand, demand - capacity
    yield from _stresses(stretch, facts)


def _stresses(stretch: Stretch, facts: Leaning) -> Iterator[tuple[str, Candidate, Form, Form]]:
    strength = facts.number_if_known(f"tools.{stretch.name}.strength")
    if strength is None:
        return
    turned = facts.setting_if_known(f"tools.{stretch.name}.kind") in TURNED
    for each in candidates(stretch, *((Quantity.TORQUE, Quantity.TAP_TORQUE) if turned else (Quantity.BENDING,))):
        stress, demand = (twisting if turned else bending)(each, stretch.name, facts), demand_of(each, facts)
        if stress is not None and demand is not None:
            yield "strength", each, demand, stress.form - of(strength)


def peak_of(stretch: Stretch, quantity: Quantity, facts: FactSet) -> Peak | None:
    """The greatest candidate of a quantity."""
    leaning = facts.leaning()
    best = max(candidates(stretch, quantity), key=lambda one: one.value, default=None)
    if best is None:
        return None
    demand = demand_of(best, leaning)
    return Peak(best.move, best.value, None if demand is None else log_doubt(demand, facts))


@dataclass(frozen=True, slots=True)
class Bend:
    """What is known of the greatest bend of a stretch: the standard uncertainty of its logarithm, or the springs (frame, spindle, holder,
    tool) that nobody measured, which then count as stiff."""

    log_u: float | None
    stiff: tuple[str, ...]


def bend_of(stretch: Stretch, facts: FactSet) -> Bend:
    """How well the greatest bend is known."""
    leaning = facts.leaning()
    best = max(candidates(stretch, Quantity.BENDING), key=lambda one: one.value, default=None)
    demand = None if best is None else demand_of(best, leaning)
    if best is None or demand is None:
        return Bend(None, ())
    springs = springs_at(leaning, stretch.name, best)
    if springs is None:
        return Bend(None, tuple(dict.fromkeys(_SPRING.get(path.split(".")[1], "tool") for path in leaning.missing)))
    return Bend(log_doubt(demand + in_series(springs, leaning), facts), ())


_SPRING = {"frame": "frame", "spindle": "spindle"}
"""What gives way, by the second part of its fact's path; all else is the tool in its holder."""


def log_doubt(form: Form, facts: FactSet) -> float:
    """Standard uncertainty of a ratio form, to first order (GUM 5.1.2)."""
    return math.sqrt(summed_variance(facts, {path: factor * log_u(facts.facts[path]) for path, factor in form.terms}))


def _best(form: Form, facts: FactSet) -> float:
    return form.at(lambda path: math.log(facts.facts[path].value))
