"""The rack: what stands in it, and who fits beside whom.

A tool hangs in its pocket with its gauge point at the pocket's place, a body of revolution about an upright axis. Two of them fit
where, at every height that both have body at, their radii and the gap that the rack asks leave room between the two axes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import combinations

from firstoff.facts.assembly import assembly_of
from firstoff.facts.fact import FactSet

POCKET = "tools.pocket."
GAP = "tools.rack.gap"
IN_SPINDLE = "tools.in_spindle"
DOUBTS = 2.0
"""Standard uncertainties that room must leave where no gap is stated that covers them."""


class Fit(StrEnum):
    """Whether two tools can stand beside each other."""

    FITS = "fits"
    CLASHES = "does not fit"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True)
class Body:
    """What stands in a pocket, from the gauge line downward."""

    tool: str
    outline: tuple[tuple[float, float, float, float], ...]
    """Stretches (r0, z0, r1, z1) with z0 <= z1; heights from the gauge line, negative below it, mm."""
    u_mm: float
    """Of a radius."""

    @property
    def reach_mm(self) -> float:
        return max(max(r0, r1) for r0, _, r1, _ in self.outline)

    def radius_at(self, height: float) -> float:
        """Greatest radius at a height; 0 where it has no body."""
        radii = [0.0]
        for r0, z0, r1, z1 in self.outline:
            if z0 <= height <= z1:
                share = (height - z0) / (z1 - z0) if z1 > z0 else 0.0
                radii.append(max(r0, r1) if z1 == z0 else r0 + share * (r1 - r0))
        return max(radii)


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a pocket holds a gauge point, machine frame."""

    x_mm: float
    y_mm: float
    z_mm: float
    u_mm: float
    """Of X and Y, the greater."""


@dataclass(frozen=True, slots=True)
class Beside:
    """Two tools in two pockets, with the numbers of the height where they are nearest."""

    pocket: int
    tool: str
    other_pocket: int
    other_tool: str
    apart_mm: float
    """Between the two axes."""
    radius_mm: float
    other_radius_mm: float
    height_mm: float
    """Z of the nearest place, machine frame."""
    gap_mm: float
    """Least room that the rack asks."""
    u_mm: float
    fit: Fit

    @property
    def room_mm(self) -> float:
        """Room between the two bodies; negative where they would overlap."""
        return self.apart_mm - self.radius_mm - self.other_radius_mm


@dataclass(frozen=True, slots=True)
class Rack:
    """A rack as the shop's files describe it."""

    pockets: tuple[int, ...]
    """Numbers, in the order of the file."""
    held: Mapping[int, str]
    """Tool by pocket, the one that is in the spindle now among them where a pocket waits for it."""
    stands: Mapping[int, Stand]
    """Pockets whose place is known."""
    bodies: Mapping[str, Body]
    """Tools whose body is known."""
    gap_mm: float | None
    """Least room between two bodies; None where the shop asks none."""
    in_spindle: str | None
    missing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """By tool, the facts without which nobody knows how wide it is; by ``pocket N``, the place that nobody gave."""

    def pocket_of(self, tool: str) -> int | None:
        return next((number for number, held in self.held.items() if held == tool), None)


def rack_of(facts: FactSet, tools: Iterable[str] = ()) -> Rack:
    """The rack with the bodies of what stands in it and of `tools` that may come to stand in it."""
    numbers = list(dict.fromkeys(int(path.split(".")[2]) for path in facts.under(POCKET)))
    held = {n: str(facts.settings[f"{POCKET}{n}.tool"].value) for n in numbers if f"{POCKET}{n}.tool" in facts.settings}
    missing: dict[str, tuple[str, ...]] = {}
    bodies: dict[str, Body] = {}
    for tool in dict.fromkeys((*held.values(), *tools)):
        body, lacking = body_of(facts, tool)
        if body is None:
            missing[tool] = lacking
        else:
            bodies[tool] = body
    stands = {}
    for number in numbers:
        stand = _stand(facts, number)
        if stand is None:
            missing[f"pocket {number}"] = (f"{POCKET}{number}.at",)
        else:
            stands[number] = stand
    gap, spindle = facts.facts.get(GAP), facts.settings.get(IN_SPINDLE)
    return Rack(
        tuple(numbers),
        held,
        stands,
        bodies,
        gap.value if gap is not None else None,
        str(spindle.value) if spindle is not None else None,
        missing,
    )


def _stand(facts: FactSet, number: int) -> Stand | None:
    axes = [facts.facts.get(f"{POCKET}{number}.at.{axis}") for axis in "xyz"]
    x, y, z = axes
    if x is None or y is None or z is None:
        return None
    return Stand(x.value, y.value, z.value, max(x.u, y.u))


def body_of(facts: FactSet, tool: str) -> tuple[Body | None, tuple[str, ...]]:
    """What a tool is from the gauge line down, and where that is not known the facts that are missing."""
    made, _, missing = assembly_of(facts, tool, nose=False)
    if made is None or made.length_mm is None or made.body_missing:
        return None, tuple(dict.fromkeys((*missing, *(made.body_missing if made is not None else ()))))
    length = made.length_mm
    outline = tuple(
        (one.r0_mm, one.z0_mm - length, one.r1_mm, one.z1_mm - length)
        if one.z0_mm <= one.z1_mm
        else (one.r1_mm, one.z1_mm - length, one.r0_mm, one.z0_mm - length)
        for one in made.segments
    )
    widths = [fact.u / 2 for path, fact in facts.facts.items() if _is_width(path, tool)]
    return Body(tool, outline, max(widths, default=0.0)), ()


def _is_width(path: str, tool: str) -> bool:
    at = f"tools.{tool}."
    return path in (f"{at}DC", f"{at}DMM") or (path.startswith(f"{at}holder.") and path.endswith(".diameter"))


def beside(rack: Rack, first: tuple[int, str], second: tuple[int, str]) -> Beside | None:
    """How two tools, each (pocket, name), stand beside each other; None where a place or a body is not known."""
    places = rack.stands.get(first[0]), rack.stands.get(second[0])
    bodies = rack.bodies.get(first[1]), rack.bodies.get(second[1])
    if places[0] is None or places[1] is None or bodies[0] is None or bodies[1] is None:
        return None
    apart = math.hypot(places[0].x_mm - places[1].x_mm, places[0].y_mm - places[1].y_mm)
    height, radius, other = _nearest((bodies[0], places[0].z_mm), (bodies[1], places[1].z_mm))
    u = math.hypot(places[0].u_mm, places[1].u_mm, bodies[0].u_mm, bodies[1].u_mm)
    room = apart - radius - other
    gap = rack.gap_mm if rack.gap_mm is not None else 0.0
    if radius == 0.0 or other == 0.0:
        fit = Fit.FITS
    elif room < gap or room < 0:
        fit = Fit.CLASHES
    elif rack.gap_mm is None and room < DOUBTS * u:
        fit = Fit.CANNOT_TELL
    else:
        fit = Fit.FITS
    return Beside(*first, *second, apart, radius, other, height, gap, u, fit)


def _nearest(first: tuple[Body, float], second: tuple[Body, float]) -> tuple[float, float, float]:
    """(height, radius, other radius) where the two radii sum to most. Both are straight between their corners, so one of the corners it is."""
    corners = sorted({z + at for body, at in (first, second) for _, low, _, high in body.outline for z in (low, high)})
    found = (corners[0], 0.0, 0.0)
    for height in corners:
        radii = first[0].radius_at(height - first[1]), second[0].radius_at(height - second[1])
        if min(radii) > 0 and sum(radii) > found[1] + found[2]:
            found = (height, *radii)
    return found


def misfits(rack: Rack) -> tuple[Beside, ...]:
    """Pairs of tools in the rack that do not fit beside each other, or of which nobody can tell; nearest first."""
    pairs = (beside(rack, one, other) for one, other in combinations(rack.held.items(), 2))
    found = [pair for pair in pairs if pair is not None and pair.fit is not Fit.FITS]
    return tuple(sorted(found, key=lambda pair: pair.room_mm - pair.gap_mm))


def fit_into(rack: Rack, tool: str, pocket: int) -> tuple[Beside, ...]:
    """How `tool` would stand in `pocket` beside everything that stays where it is; only what does not surely fit, nearest first."""
    others = [(n, name) for n, name in rack.held.items() if n != pocket and name != tool]
    pairs = (beside(rack, (pocket, tool), other) for other in others)
    found = [pair for pair in pairs if pair is not None and pair.fit is not Fit.FITS]
    return tuple(sorted(found, key=lambda pair: pair.room_mm - pair.gap_mm))


def free_pockets(rack: Rack, tool: str | None = None) -> tuple[int, ...]:
    """Numbers of empty pockets, and with a `tool` those of them that it does not clash in. A pocket that waits for the tool in the spindle
    is not empty."""
    empty = [number for number in rack.pockets if number not in rack.held]
    if tool is None:
        return tuple(empty)
    return tuple(n for n in empty if all(one.fit is not Fit.CLASHES for one in fit_into(rack, tool, n)))
