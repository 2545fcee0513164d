"""How far tool and wall give way: springs in series between the place where the edge makes the wall and the ground.

Each spring is a compliance in mm/N at best estimates with its exponents (d ln compliance / d ln fact), so that a bend is a form in
logarithms like the force that makes it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate
from firstoff.loads.deflection import Section, plate_compliance, rod_compliance
from firstoff.removal.swept import ThinWall
from firstoff.verdict.forms import Form

FRAME = "machine.frame.stiffness"
SPINDLE = "machine.spindle.stiffness"
STEP = 1e-4
"""Part of a fact that it is moved by for its exponent."""
WALL_BREADTH = 1.0
"""Breadth over height of a long wall that bears a push at the end of its top edge: half of what bears one far from the ends."""


@dataclass(frozen=True, slots=True)
class Spring:
    """One thing that gives way."""

    name: str
    mm_per_n: float
    exponents: tuple[tuple[str, float], ...]


def springs_at(facts: Leaning, name: str, candidate: Candidate) -> tuple[Spring, ...] | None:
    """Frame, spindle, holder and tool as the wall at a station feels them, in that order; None if a fact is missing."""
    normal = _across(candidate.way)
    found = [
        _frame(facts, normal),
        _stiff(facts, SPINDLE, "spindle"),
        _stiff(facts, f"tools.{name}.holder_stiffness", "holder"),
        _tool(facts, name, candidate.lever_mm),
    ]
    springs = tuple(spring for spring in found if spring is not None)
    return springs if len(springs) == len(found) else None


def wall_spring(facts: Leaning, name: str, wall: ThinWall, pushed: Candidate) -> Spring | None:
    """A thin wall as one cut pushes it: a plate that is held along its foot, as broad as what of it bears the push. It is as high as the cut
    is deep (or as it is itself, if that is less): what stands above the cut was there before, and its foot lies no lower than the tip. What
    is told is how far its top moves, where it moves most."""
    material = facts.setting("job.material")
    modulus = facts.number(f"materials.{material}.modulus") if material is not None else None
    if modulus is None:
        return None
    height = min(wall.height_mm, pushed.axial_mm)
    breadth = min(wall.length_mm, WALL_BREADTH * height)
    at = min(max(pushed.lever_mm, _highest_push(facts, name, height, pushed.radial_mm)), height)
    compliance = plate_compliance(height, wall.thickness_mm, breadth, modulus.value, push_mm=at)
    return Spring("thin wall", compliance, ((modulus.path, -1.0),))


def _highest_push(facts: Leaning, name: str, height_mm: float, radial_mm: float) -> float:
    """Height above the foot at which a cut pushes its wall when it pushes highest. A helix lets the edge go up along the cut, in it over a
    height of R·φ/tan(helix) at a time, φ its angle in the cut (Altintas, Manufacturing Automation, 2nd ed., ch. 2, from memory): the middle of
    that at the top, or of the whole height, where that is less. Of a helix that nobody knows: the top itself."""
    diameter, helix = facts.number(f"tools.{name}.DC"), facts.number_if_known(f"tools.{name}.FHA")
    if diameter is None or helix is None:
        return height_mm
    angle = math.acos(min(max(1.0 - 2.0 * radial_mm / diameter.value, -1.0), 1.0))
    rise = diameter.value / 2.0 * angle / math.tan(helix.value) if helix.value > 0.0 else height_mm
    return height_mm - min(rise, height_mm) / 2.0


def axial_spring(facts: Leaning) -> Spring | None:
    """What gives way along Z; tool and holder are stiff along their axis beside it."""
    return _frame(facts, (0.0, 0.0, 1.0))


def in_series(springs: Sequence[Spring], facts: Leaning) -> Form:
    """Logarithm of the compliance of all of them, mm/N."""
    total = sum(spring.mm_per_n for spring in springs)
    exponents: dict[str, float] = {}
    for spring in springs:
        for path, exponent in spring.exponents:
            exponents[path] = exponents.get(path, 0.0) + exponent * spring.mm_per_n / total
    known = facts.facts.facts
    at_best = sum(exponent * math.log(known[path].value) for path, exponent in exponents.items())
    return Form(math.log(total) - at_best, tuple(exponents.items()))


def softest(springs: Sequence[Spring]) -> str:
    """The one that gives most, in words that say whether it is most of all."""
    most = max(springs, key=lambda spring: spring.mm_per_n)
    half = 0.5 * sum(spring.mm_per_n for spring in springs)
    return f"most of it the {most.name}" if most.mm_per_n > half else f"the {most.name} more than the others"


def _across(way: tuple[float, float, float]) -> tuple[float, float, float]:
    """Level direction across the way, where the wall stands; any if the way is upright."""
    length = math.hypot(way[0], way[1])
    return (-way[1] / length, way[0] / length, 0.0) if length > 0 else (1.0, 0.0, 0.0)


def _stiff(facts: Leaning, path: str, name: str) -> Spring | None:
    fact = facts.number(path)
    return None if fact is None else Spring(name, 1.0 / fact.value, ((path, -1.0),))


def _frame(facts: Leaning, normal: tuple[float, float, float]) -> Spring | None:
    """The frame along one direction: one stiffness for all, or the three of the axes, of which those count that the direction has."""
    if FRAME in facts.facts.facts or not any(facts.facts.under(f"{FRAME}.")):
        return _stiff(facts, FRAME, "frame")
    shares = []
    for axis, part in zip("xyz", normal, strict=True):
        if abs(part) < NEGLIGIBLE:
            continue
        fact = facts.number(f"{FRAME}.{axis}")
        if fact is None:
            return None
        shares.append((fact.path, part * part / fact.value))
    total = sum(share for _, share in shares)
    return Spring("frame", total, tuple((path, -share / total) for path, share in shares))


NEGLIGIBLE = 0.03
"""A direction that has less than this of an axis does not bend it: a thousandth of the compliance."""


def _tool(facts: Leaning, name: str, lever_mm: float) -> Spring | None:
    """A rod held in the holder: fluted part, neck if it has one, shank, each with its own section."""

    def path(symbol: str) -> str:
        return f"tools.{name}.{symbol}"

    needed = {symbol: facts.number(path(symbol)) for symbol in ("modulus", "core_ratio", "DC", "OHX")}
    known = {symbol: facts.number_if_known(path(symbol)) for symbol in ("APMX", "DN", "LU", "DMM")}
    values = {symbol: fact.value for symbol, fact in {**needed, **known}.items() if fact is not None}
    if any(fact is None for fact in needed.values()):
        return None

    def compliance(at: Mapping[str, float]) -> float:
        return _rod(at, lever_mm)

    total = compliance(values)
    if total <= 0:
        return Spring("tool", 0.0, ())
    exponents = tuple((path(symbol), _exponent(compliance, values, symbol)) for symbol in values)
    return Spring("tool", total, tuple((where, one) for where, one in exponents if one != 0.0))


def _rod(at: Mapping[str, float], lever_mm: float) -> float:
    """mm/N at a push `lever_mm` above the tip."""
    out = at["OHX"]
    flutes = min(at.get("APMX", out), out)
    neck = min(max(at.get("LU", flutes), flutes), out)
    shank = at.get("DMM", at["DC"])
    sections = (
        Section(flutes, at["core_ratio"] * at["DC"]),
        Section(neck, at.get("DN", shank)),
        Section(out, shank),
    )
    return rod_compliance(sections, at["modulus"], lever_mm)


def _exponent(of: Callable[[Mapping[str, float]], float], values: Mapping[str, float], symbol: str) -> float:
    """d ln(of) / d ln(value), by a small step to either side."""
    more = of({**values, symbol: values[symbol] * (1 + STEP)})
    less = of({**values, symbol: values[symbol] * (1 - STEP)})
    exponent = (math.log(more) - math.log(less)) / (2 * STEP) if more > 0 and less > 0 else 0.0
    return exponent if abs(exponent) > STEP else 0.0


def as_length(log_form: Form, facts: Leaning) -> Form:
    """A length that is known in logarithms as one in mm, to first order about the best estimates."""
    known = facts.facts.facts
    value = math.exp(log_form.at(lambda path: math.log(known[path].value)))
    terms = tuple((path, value * exponent / known[path].value) for path, exponent in log_form.terms)
    return Form(value - sum(factor * known[path].value for path, factor in terms), terms)
