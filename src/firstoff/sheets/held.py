"""From an answer to what its scale holds against what: an upper limit, a lower limit turned round, or the room that is left."""

from __future__ import annotations

import math

from firstoff.facts.fact import FactSet
from firstoff.sheets.scale import BAND_U, Doubtful, Held, Lettering, ScaleDrawing, draw_count, draw_scale
from firstoff.sheets.wording import amount, fact_name, odds_of
from firstoff.verdict.forms import Form, Scale
from firstoff.verdict.question import Answered, Limit, Measure
from firstoff.verdict.words import MM_PER_INCH, ShopUnits

Z95 = 1.96
"""Half-width of 95 % of a normal distribution in standard deviations: turns drawn limits into a band of `BAND_U`."""
SAME = 1e-6
"""Relative difference below which a limit is the one whose numbers an answer shows."""


def held_of(answered: Answered, facts: FactSet, units: ShopUnits) -> Held | None:
    """What an answer holds against what, in the shop's units; None for things counted and where neither side is known."""
    demand, capacity = answered.demand, answered.capacity
    if answered.scale is Scale.COUNT or (demand is None and capacity is None):
        return None
    unit, factor = _shown_unit(demand or capacity, units)
    if demand is None or capacity is None:
        return Held(_doubtful(demand, factor), _doubtful(capacity, factor), unit)
    if capacity.value <= 0 or demand.value < 0 or (demand.value == 0 and demand.u == 0):
        return Held(_room(demand, capacity, factor), _scaled(_room_stop(demand, capacity), factor), unit, True, True)
    if _is_lower_limit(answered, facts):
        return Held(_doubtful(capacity, factor), _doubtful(demand, factor), unit, turned=True)
    return Held(_doubtful(demand, factor), _doubtful(capacity, factor), unit)


def scale_of(
    answered: Answered,
    facts: FactSet,
    units: ShopUnits,
    width: float,
    lettering: Lettering,
    before: Held | None = None,
) -> ScaleDrawing:
    """The drawing of one answer, `width` wide; `before` is how it stood earlier (`held_of`)."""
    if answered.scale is Scale.COUNT and answered.demand is not None:
        return draw_count(round(answered.demand.value), answered.answer, width)
    missing = f"missing: {fact_name(answered.needs[0].fact)}" if answered.needs else "nothing asks it"
    return draw_scale(held_of(answered, facts, units), answered.answer, width, lettering, missing, before)


def says(answered: Answered, facts: FactSet, units: ShopUnits, before: Held | None = None) -> str:
    """The text alternative of a scale: demand, stop, answer and chance, in words; and how it stood `before`."""
    held = held_of(answered, facts, units)
    odds = odds_of(answered)
    end = f"{answered.answer.value.capitalize()}{': ' + odds if odds else ''}."
    if held is None:
        return end
    name = "Room" if held.room else "Demand"
    parts = [
        f"{name} {_told(held.pointer, held.unit)}." if held.pointer else "No demand known.",
        f"Stop at {_told(held.stop, held.unit)}." if held.stop else "No stop known.",
    ]
    if before is not None and before != held and held.same_rule(before) and before.pointer is not None:
        parts.append(f"Before: {_told(before.pointer, before.unit)}.")
    return " ".join([*parts, end])


def _is_lower_limit(answered: Answered, facts: FactSet) -> bool:
    """Whether the demand is a bare fact (a lowest speed, a run-up) that what the program says, exactly, must reach."""
    for limit in answered.margins:
        if _shows(limit, answered, facts):
            terms = limit.demand.terms
            return len(terms) == 1 and terms[0][1] == 1.0 and not limit.capacity.terms
    return False


def _shows(limit: Limit, answered: Answered, facts: FactSet) -> bool:
    """Whether a limit is the one whose numbers the answer shows."""
    demand, capacity = answered.demand, answered.capacity
    if demand is None or capacity is None:
        return False
    return _agrees(limit.demand, demand.value, answered.scale, facts) and _agrees(
        limit.capacity, capacity.value, answered.scale, facts
    )


def _agrees(form: Form, value: float, scale: Scale, facts: FactSet) -> bool:
    if any(path not in facts.facts for path, _ in form.terms):
        return False
    if scale is Scale.RATIO:
        best = math.exp(form.at(lambda path: math.log(facts.facts[path].value)))
    else:
        best = form.at(lambda path: facts.facts[path].value)
    return abs(best - value) <= SAME * max(abs(value), 1.0)


def _shown_unit(measure: Measure | None, units: ShopUnits) -> tuple[str, float]:
    if measure is None:
        return "", 1.0
    if units.inch and measure.unit == "mm":
        return "in", 1.0 / MM_PER_INCH
    if units.inch and measure.unit == "µm":
        return "thou", 1e-3 / MM_PER_INCH * 1e3
    return measure.unit or "times", 1.0


def _doubtful(measure: Measure | None, factor: float) -> Doubtful | None:
    return None if measure is None else _scaled(_band(measure), factor)


def _band(measure: Measure) -> Doubtful:
    """The band of a measure: the 95 % of the draws widened to `BAND_U`, each side by itself, so that an unsymmetrical one stays so."""
    widen = BAND_U / Z95
    return Doubtful(
        measure.value,
        measure.value - widen * max(measure.value - measure.low95, 0.0),
        measure.value + widen * max(measure.high95 - measure.value, 0.0),
    )


def _scaled(number: Doubtful, factor: float) -> Doubtful:
    return Doubtful(number.value * factor, number.low * factor, number.high * factor)


def _room(demand: Measure, capacity: Measure, factor: float) -> Doubtful:
    """Room = capacity − demand. Its band is that of the side that is in doubt; where both are, that of the demand."""
    value = capacity.value - demand.value
    if demand.u > 0:
        band = _band(demand)
        return _scaled(Doubtful(value, capacity.value - band.high, capacity.value - band.low), factor)
    band = _band(capacity)
    return _scaled(Doubtful(value, band.low - demand.value, band.high - demand.value), factor)


def _room_stop(demand: Measure, capacity: Measure) -> Doubtful:
    """Zero, with the doubt of the capacity where the demand's doubt is already the band's."""
    if demand.u == 0 or capacity.u == 0:
        return Doubtful(0.0, 0.0, 0.0)
    band = _band(capacity)
    return Doubtful(0.0, band.low - capacity.value, band.high - capacity.value)


def _told(number: Doubtful | None, unit: str) -> str:
    if number is None:
        return "not known"
    u = (number.high - number.low) / (2 * BAND_U)
    return amount(number.value, 0.0, unit) + (f", uncertainty {amount(u, 0.0, '')}" if u > 0 else "")
