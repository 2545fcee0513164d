"""How far the feed override of each tool may be turned down and up before something is more likely past its limit than a shop allows."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from scipy.special import ndtri

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.program.moves import NO_TOOL
from firstoff.verdict.draws import log_u, summed_variance
from firstoff.verdict.forms import Form, of
from firstoff.verdict.judge import thresholds
from firstoff.verdict.load_forms import demand_of, log_best
from firstoff.verdict.question import Question
from firstoff.verdict.spindle_curve import S1, curve, power_now, torque_now, turns_evenly
from firstoff.verdict.stretches import candidates
from firstoff.verdict.tool_stress import bending, twisting

STEPS = 0.05
"""Overrides are told in steps of five per cent, towards 100 %: knobs have no finer ones (common practice)."""
HIGHEST = 2.0
"""No knob goes further than 200 % (common practice)."""
LEAST_EXPONENT = 0.05
"""A load that grows by less than this power of the feed does not limit the override."""
FED_BY_PITCH = "tap"


@dataclass(frozen=True, slots=True)
class Band:
    """Overrides from `low` to `high`, 1 = 100 %; None where nothing limits it. `low` may lie above `high`: then no override serves."""

    tool: int
    name: str
    low: float | None
    high: float | None
    why_low: str = ""
    why_high: str = ""

    @property
    def words(self) -> str:
        who = self.name if self.tool == NO_TOOL else f"T{self.tool}"
        if self.low is not None and self.high is not None:
            if self.low > self.high:
                return f"{who} has no feed override that is right for both its {self.why_low} and its {self.why_high}."
            low, high = f"{self.low * 100:.0f}", f"{self.high * 100:.0f}"
            if low == high:
                return f"{who} can take no feed override but {low} %."
            return f"{who} can take the feed override from {low} to {high} %."
        if self.low is not None:
            return f"{who} can take the feed override down to {self.low * 100:.0f} %."
        return f"{who} can take the feed override up to {self.high * 100:.0f} %." if self.high is not None else ""


def override_bands(facts: Leaning, question: Question, stretches: list[Stretch]) -> tuple[Band, ...]:
    """A band for each tool, in program order, at the chance that the shop calls care for `question`; what is missing limits nothing."""
    k = -float(ndtri(min(max(thresholds(question, facts.facts).care_above, 1e-6), 0.5)))
    bands: dict[tuple[int, str], Band] = {}
    for stretch in stretches:
        if facts.setting_if_known(f"tools.{stretch.name}.kind") == FED_BY_PITCH:
            continue
        who = (stretch.tool, stretch.name)
        former = bands.get(who, Band(*who, None, None))
        bands[who] = _narrowed(former, _band(facts, stretch, k))
    return tuple(bands.values())


def _narrowed(first: Band, second: Band) -> Band:
    low = max(
        (band for band in (first, second) if band.low is not None), key=lambda band: band.low or 0.0, default=first
    )
    high = min(
        (band for band in (first, second) if band.high is not None), key=lambda band: band.high or 0.0, default=first
    )
    return Band(first.tool, first.name, low.low, high.high, low.why_low, high.why_high)


def _band(facts: Leaning, stretch: Stretch, k: float) -> Band:
    known = facts.facts.leaning()
    ceilings = [
        (math.exp((-_margin(known, over) - k * _u(known, over)) / each.feed_exponent), why)
        for each, over, why in _loads(known, stretch)
        if each.feed_exponent > LEAST_EXPONENT
    ]
    floors = [
        (math.exp((_margin(known, over) + k * _u(known, over)) / each.feed_exponent), why)
        for each, over, why in _thin(known, stretch)
        if each.feed_exponent > LEAST_EXPONENT
    ]
    facts.leaned.update(known.leaned)
    high, why_high = min(ceilings, default=(math.inf, ""))
    low, why_low = max(floors, default=(0.0, ""))
    return Band(
        stretch.tool,
        stretch.name,
        _up(low) if low > 0.0 else None,
        min(_down(high), HIGHEST) if math.isfinite(high) else None,
        why_low,
        why_high,
    )


def _up(override: float) -> float:
    return math.ceil(override / STEPS - 1e-9) * STEPS


def _down(override: float) -> float:
    return math.floor(override / STEPS + 1e-9) * STEPS


def _loads(facts: Leaning, stretch: Stretch) -> Iterator[tuple[Candidate, Form, str]]:
    """(candidate, logarithm of demand over capacity, what it is) of everything that grows with the feed."""
    points, speed = curve(facts, S1), abs(stretch.turns_per_s)
    holds = (torque_now(facts, speed), power_now(facts, speed)) if points and speed > 0 else (None, None)
    torque, power = (None if one is None else one.form for one in holds)
    for each in () if turns_evenly(facts, stretch) else candidates(stretch, Quantity.TORQUE):
        yield from _over(each, demand_of(each, facts), torque, "torque")
    for each in candidates(stretch, Quantity.POWER):
        yield from _over(each, demand_of(each, facts), power, "power")
    most = facts.number_if_known(f"tools.{stretch.name}.max_chip")
    for each in candidates(stretch, Quantity.CHIP):
        yield from _over(each, demand_of(each, facts), None if most is None else of(most), "thickest chip")
    strength = facts.number_if_known(f"tools.{stretch.name}.strength")
    if strength is None:
        return
    turned = facts.setting_if_known(f"tools.{stretch.name}.kind") == "drill"
    for each in candidates(stretch, Quantity.TORQUE if turned else Quantity.BENDING):
        stress = (twisting if turned else bending)(each, stretch.name, facts)
        yield from _over(each, None if stress is None else stress.form, of(strength), "strength")


def _thin(facts: Leaning, stretch: Stretch) -> Iterator[tuple[Candidate, Form, str]]:
    """(candidate, logarithm of the least chip over its own, what it is): a lower feed makes it thinner."""
    material = facts.setting_if_known("job.material")
    radius = facts.number_if_known(f"tools.{stretch.name}.edge_radius")
    ratio = facts.number_if_known(f"materials.{material}.min_chip_ratio")
    if radius is None or ratio is None:
        return
    for each in candidates(stretch, Quantity.THIN):
        yield from _over(each, of(radius) + of(ratio), demand_of(each, facts), "thinnest chip")


def _over(
    each: Candidate, demand: Form | None, capacity: Form | None, why: str
) -> Iterator[tuple[Candidate, Form, str]]:
    if demand is not None and capacity is not None:
        yield each, demand - capacity, why


def _margin(facts: Leaning, over: Form) -> float:
    return math.log(log_best(over, facts))


def _u(facts: Leaning, over: Form) -> float:
    known = facts.facts
    return math.sqrt(summed_variance(known, {path: factor * log_u(known.facts[path]) for path, factor in over.terms}))
