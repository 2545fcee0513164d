"""What the spindle can hold at a speed and for a time, from its curves of power: between two readings, never beyond them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

from firstoff.facts.fact import Fact, Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.verdict.draws import log_u, summed_variance
from firstoff.verdict.forms import Form, of
from firstoff.verdict.load_forms import demand_of, log_best
from firstoff.verdict.question import Need
from firstoff.verdict.words import speed

S1 = "machine.spindle.power_s1"
S6 = "machine.spindle.power_s6"
ALWAYS = "S1"
"""The rating of what it holds for ever."""
NO_LOAD = "machine.spindle.no_load"
INERTIA = "machine.spindle.inertia"
MOMENT_S = 1.0
"""A cut that lasts this long is what the questions of power and torque ask about: heat is the question of duty."""
SURE = 1.0
"""Standard uncertainties by which a rotor may be lighter than it is taken to be: the peak that is then missed lies below the twice and more
of its rating at which a motor pulls out."""
EVEN = 0.02
"""Part of its speed that a rotor may lose from edge to edge and still turn evenly: half of a motor's slip at its rating (common practice).
The drive then feels the mean of a turn."""
WITHIN = 4.0
"""Standard uncertainties within which it is in doubt whether a rotor turns evenly: no draw that counts lies beyond."""
SAME_SPEED = 1e-9
"""Rounding of turns a minute to turns a second."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One point of a curve."""

    turns_per_s: float
    power: Fact


def rated_curve(facts: Leaning) -> tuple[Reading, ...]:
    """The curve that the spindle holds for ever, needed: empty, with the missing fact recorded, where the shop gives none."""
    points = curve(facts, S1)
    for point in points:
        facts.number(point.power.path)
    if not points:
        facts.number(S1)
    return points


def curve(facts: Leaning, path: str) -> tuple[Reading, ...]:
    """The points of a curve, slowest first; empty where the shop gives none."""
    points: list[Reading] = []
    while (at := facts.number_if_known(f"{path}.{len(points)}.speed")) is not None:
        power = facts.number_if_known(f"{path}.{len(points)}.power")
        if power is None:
            break
        points.append(Reading(at.value, power))
    return tuple(points)


def power_at(points: tuple[Reading, ...], turns_per_s: float) -> Form | None:
    """The logarithm of the power at a speed, W: on a straight line between the readings on either side; None beyond them.

    A straight line is exact below the base speed (torque constant, power grows with speed) and above it (power constant).
    """
    for point in points:
        if abs(point.turns_per_s - turns_per_s) <= SAME_SPEED * max(point.turns_per_s, 1.0):
            return Form(0.0, ((point.power.path, 1.0),))
    for low, high in pairwise(points):
        if low.turns_per_s < turns_per_s < high.turns_per_s:
            part = (turns_per_s - low.turns_per_s) / (high.turns_per_s - low.turns_per_s)
            weights = ((1.0 - part) * low.power.value, part * high.power.value)
            total = sum(weights)
            form = Form(math.log(total))
            for weight, point in zip(weights, (low, high), strict=True):
                exponent = weight / total
                form += Form(-exponent * math.log(point.power.value), ((point.power.path, exponent),))
            return form
    return None


def torque_at(points: tuple[Reading, ...], turns_per_s: float) -> Form | None:
    """The logarithm of the torque at a speed, N·mm: P/(2πn); None beyond the readings."""
    power = power_at(points, turns_per_s)
    return None if power is None else power - math.log(2.0 * math.pi * turns_per_s) + math.log(1000.0)


def beyond(points: tuple[Reading, ...], turns_per_s: float, line: int) -> Need:
    """The need of a speed that the curve says nothing about."""
    if not turns_per_s > 0.0:
        return Need(f"the speed at line {line}", f"line {line}", f"Give line {line} a speed (S) before it cuts.")
    where = "below the lowest" if turns_per_s < points[0].turns_per_s else "above the highest"
    end = points[0] if turns_per_s < points[0].turns_per_s else points[-1]
    how = (
        f"Line {line} cuts at {speed(turns_per_s)}, {where} speed with a reading ({speed(end.turns_per_s)}): power is never guessed there. "
        "Add a point at that speed from the maker's curve or from a brake trial."
    )
    return Need(f"{S1} at {speed(turns_per_s)}", "machine.toml [spindle] power_s1", how)


_At = Callable[[tuple[Reading, ...], float], Form | None]


def turns_evenly(facts: Leaning, stretch: Stretch) -> bool:
    """Whether the rotor loses next to no speed between one edge and the next: the work of an edge, 2π·T/z, against J·ω²."""
    uneven = unevenness(facts, stretch)
    if uneven is None:
        return False
    return log_best(uneven, facts) * math.exp(SURE * log_u(facts.facts.facts[INERTIA])) <= 1.0


def unevenness(facts: Leaning, stretch: Stretch) -> Form | None:
    """The logarithm of the work of an edge over the most at which the rotor still turns evenly; None where nobody knows its inertia, or no
    power is known of the stretch."""
    inertia = facts.number_if_known(INERTIA)
    powers = stretch.candidates.get(Quantity.POWER, ())
    omega = 2 * math.pi * abs(stretch.turns_per_s)
    if inertia is None or not powers or not omega > 0 or stretch.candidates.get(Quantity.TAP_TORQUE):
        return None
    mean = demand_of(mean_torque(max(powers, key=lambda each: each.value)), facts)
    if mean is None or not inertia.value > 0.0:
        return None
    edges = facts.setting_if_known(f"tools.{stretch.name}.ZEFP")
    an_edge = 2 * math.pi / (edges if isinstance(edges, int) else 1)
    return mean + math.log(an_edge / (EVEN * omega**2)) - of(inertia)


def in_doubt(facts: Leaning, uneven: Form) -> bool:
    """Whether a rotor may turn evenly or may not, for all that is known."""
    known = facts.facts
    parts = {path: factor * log_u(known.facts[path]) for path, factor in uneven.terms}
    return abs(math.log(log_best(uneven, facts))) < WITHIN * math.sqrt(summed_variance(known, parts))


def mean_torque(power: Candidate) -> Candidate:
    """The torque of a turn's mean, N·mm, of a station whose mean power is known, W: what the drive feels where the rotor evens a turn out."""
    return replace(power, value=power.value * 1000.0 / (2.0 * math.pi * abs(power.turns_per_s)))


@dataclass(frozen=True, slots=True)
class Holds:
    """What the spindle holds over a window: as a form, and by which rating."""

    form: Form
    rating: str

    @property
    def words(self) -> str:
        """Said after the figure where it is not the one that it holds for ever."""
        return "" if self.rating == ALWAYS else f" ({self.rating})"


def power_now(facts: Leaning, turns_per_s: float) -> Holds | None:
    """The logarithm of the power that it gives for a moment at a speed, W: that of its intermittent rating, where it has one there."""
    return power_over(facts, turns_per_s, MOMENT_S)


def torque_now(facts: Leaning, turns_per_s: float) -> Holds | None:
    """The logarithm of the torque that it gives for a moment at a speed, N·mm."""
    return torque_over(facts, turns_per_s, MOMENT_S)


def power_over(facts: Leaning, turns_per_s: float, window_s: float) -> Holds | None:
    """The logarithm of the mean power that the spindle holds over a window at a speed, W; None beyond its readings.

    S1 for ever. Inside one S6 cycle (IEC 60034-1: on for `on_share` of it, turning idle for the rest) a window may be loaded all through
    while it is no longer than the time on, and in proportion less beyond; the greater of both counts.
    """
    return _over(facts, power_at, turns_per_s, window_s, 1.0)


def torque_over(facts: Leaning, turns_per_s: float, window_s: float) -> Holds | None:
    """The logarithm of the root mean square torque that it holds over a window, N·mm; as `power_over`.

    Windings warm with the square of the torque: beyond the time on, the square is what goes down in proportion.
    """
    return _over(facts, torque_at, turns_per_s, window_s, 0.5)


def _over(facts: Leaning, at: _At, turns_per_s: float, window_s: float, power: float) -> Holds | None:
    always = at(rated_curve(facts), turns_per_s)
    if always is None:
        return None
    duty = at(curve(facts, S6), turns_per_s)
    share, cycle = facts.number_if_known(f"{S6}.on_share"), facts.number_if_known(f"{S6}.cycle")
    if duty is None or share is None or cycle is None or window_s > cycle.value:
        return Holds(always, ALWAYS)
    loaded_s = share.value * cycle.value
    duty += power * math.log(min(1.0, loaded_s / window_s))
    rating = f"S6, {share.value:.0%} of {cycle.value / 60:g} min"
    return Holds(duty, rating) if log_best(duty, facts) > log_best(always, facts) else Holds(always, ALWAYS)
