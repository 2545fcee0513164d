"""What a tool bears: stress at its weakest section from the side force on its edge, or from the torque of a drill or tap."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate
from firstoff.loads.deflection import Section, rod_stress
from firstoff.verdict.forms import Form
from firstoff.verdict.load_forms import demand_of, linearised, log_best

SHEAR = 16.0 / math.pi
"""Greatest shear stress of a round rod is T·16/(π·d³)."""
VON_MISES = math.sqrt(3.0)
"""Bending stress that tires a rod as much as a shear stress (von Mises)."""


@dataclass(frozen=True, slots=True)
class Place:
    """A place where a tool may break: in words, the fact that is its height above the tip, and those whose product is its diameter."""

    words: str
    height: str
    diameter: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stress:
    """The logarithm of the stress in N/mm² at the weakest section."""

    form: Form
    words: str
    value: float


def bending(candidate: Candidate, name: str, facts: Leaning) -> Stress | None:
    """Stress from the peak side force with its real lever, at the end of the flutes, at the end of a neck and at the holder, whichever is
    greatest. The core of the fluted part is a round rod of `core_ratio` of the diameter (Kops and Vo, CIRP Annals 39 (1990) 93, from
    memory, for its stiffness). None if a fact is missing, which is then recorded."""
    force = demand_of(candidate, facts)
    sections = _sections(name, facts)
    if force is None or not sections:
        return None
    found = []
    for section in sections:
        per_newton = _per_newton(section, candidate.lever_mm, facts)
        if per_newton is not None:
            form = force + per_newton
            found.append(Stress(form, section.words, candidate.value * log_best(per_newton, facts)))
    return max(found, key=lambda one: one.value, default=None)


def twisting(candidate: Candidate, name: str, facts: Leaning) -> Stress | None:
    """The same for a drill or a tap, from its torque: √3 times the shear stress 16·T/(π·d³) in its core."""
    torque = demand_of(candidate, facts)
    core = (f"tools.{name}.core_ratio", f"tools.{name}.DC")
    per_nmm = linearised(lambda of: VON_MISES * SHEAR / math.prod(of[path] for path in core) ** 3, core, facts)
    if torque is None or per_nmm is None:
        return None
    return Stress(torque + per_nmm, "in its core", candidate.value * log_best(per_nmm, facts))


def _sections(name: str, facts: Leaning) -> list[Place]:
    """The sections that are known; none, with what is missing recorded, where the fluted part or the overhang is not."""
    diameter, core = f"tools.{name}.DC", f"tools.{name}.core_ratio"
    overhang, flutes = f"tools.{name}.OHX", f"tools.{name}.APMX"
    shank, neck, neck_end = (f"tools.{name}.{symbol}" for symbol in ("DMM", "DN", "LU"))
    known = [facts.number(path) for path in (diameter, core, overhang)]
    if any(fact is None for fact in known):
        return []
    top = flutes if facts.number_if_known(flutes) is not None else overhang
    found = [Place("at the end of its flutes", top, (core, diameter))]
    if facts.number_if_known(neck) is not None and facts.number_if_known(neck_end) is not None:
        found.append(Place("at the end of its neck", neck_end, (neck,)))
    width = shank if facts.number_if_known(shank) is not None else diameter
    found.append(Place("at the holder", overhang, (width,)))
    return found


def _per_newton(section: Place, lever_mm: float, facts: Leaning) -> Form | None:
    """ln of the stress that one newton at `lever_mm` above the tip causes; None where the force acts above the section."""

    def stress(of: Mapping[str, float]) -> float:
        diameter = math.prod(of[path] for path in section.diameter)
        return rod_stress(1.0, lever_mm, Section(of[section.height], diameter))

    return linearised(stress, (section.height, *section.diameter), facts, needed=False)
