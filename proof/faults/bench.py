"""The shop by plain numbers, read from its files by this package alone: what the replay knows of machine, tools and work.

Best values only; a replay has no doubts. Lengths in mm, speeds in 1/min, times in s, rapids in mm/s.
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass
from typing import Any

Span = tuple[float, float]
Box = tuple[Span, Span, Span]
Point = tuple[float, float, float]

_NUMBER = re.compile(r"\s*([-+]?[0-9]*\.?[0-9]+)(?:\([0-9]+\))?")
CCW = "ccw"


@dataclass(frozen=True, slots=True)
class Cutter:
    """A tool that may stand in the spindle; radii, and heights over the tip."""

    name: str
    kind: str
    radius: float
    corner: float
    point_deg: float
    """Included angle of a drill or a chamfer tool; 180 for others."""
    flute: float
    shank: float
    overhang: float
    length: float
    holder: tuple[tuple[float, float], ...]
    """Radius and height of each step, from the tool end upward."""
    dead: float
    """Radius that nothing cuts within."""
    top_speed: float

    def discs(self) -> list[tuple[float, float]]:
        """(radius, bottom over the tip) of shank and holder."""
        found = [(self.shank, self.flute)] if self.shank > self.radius + 0.05 else []
        bottom = self.overhang
        for radius, height in self.holder:
            found.append((radius, bottom))
            bottom += height
        return found


@dataclass(frozen=True, slots=True)
class Mill:
    """The machine."""

    travel: tuple[Span, Span, Span]
    rapid: Point
    speed: Span
    backwards: bool
    run_up: float
    nose: tuple[tuple[float, float], ...]
    """Radius and bottom over the gauge line."""
    zones: tuple[tuple[str, Box], ...]
    home: Point
    dog_leg: bool
    arc_slack: float


@dataclass(frozen=True, slots=True)
class Work:
    """The job: blank, fixtures, zeros, and which tool each pocket holds."""

    zeros: dict[int, Point]
    """54 to 59 -> machine position of the gauge point on work zero."""
    blank: Box
    fixtures: tuple[Box, ...]
    highest: float
    allowed: float
    target: bool
    part: float
    """Radius of the part about work zero, where the rest of the blank is scrap; infinite where there is no scrap."""


@dataclass(frozen=True, slots=True)
class Bench:
    """All three, and the tools by pocket."""

    mill: Mill
    work: Work
    pockets: dict[int, Cutter]


def bench_of(machine: str, tools: str, job: str) -> Bench:
    """From the texts of machine.toml, tools.toml and job.toml."""
    told = tomllib.loads(tools)
    cutters = {name: _cutter(name, one) for name, one in told["tool"].items() if "LF" in one and one["kind"] != "probe"}
    pockets = {one["number"]: cutters[one["tool"]] for one in told["pocket"] if one["tool"] in cutters}
    return Bench(_mill(tomllib.loads(machine)), _work(tomllib.loads(job)), pockets)


def number(told: Any) -> float:
    """The best value of a quantity as it is written."""
    if isinstance(told, dict):
        told = told["value"]
    if isinstance(told, (int, float)):
        return float(told)
    found = _NUMBER.match(told)
    if found is None:
        raise ValueError(f"no number in {told!r}")
    return float(found[1])


def span(told: Any) -> Span:
    """A range ``low .. high``."""
    if isinstance(told, dict):
        told = told["value"]
    low, high = told.split("..")
    return number(low), number(high)


def _box(told: Any) -> Box:
    x, y, z = (span(one) for one in told)
    return x, y, z


def _point(told: Any) -> Point:
    if isinstance(told, dict):
        told = told["value"]
    x, y, z = (number(one) for one in told)
    return x, y, z


def _cutter(name: str, told: dict[str, Any]) -> Cutter:
    kind = told["kind"]
    radius = number(told["DC"]) / 2
    corner = radius if kind == "ball" else number(told.get("RE", 0))
    middle = told.get("centre_cutting", True)
    return Cutter(
        name,
        kind,
        radius,
        corner,
        number(told.get("SIG", 180)),
        number(told["APMX"]),
        number(told["DMM"]) / 2,
        number(told["OHX"]),
        number(told["LF"]),
        tuple((number(across) / 2, number(high)) for across, high in told["holder"]),
        0.0 if middle else number(told["dead_diameter"]) / 2,
        number(told.get("max_speed", math.inf)),
    )


def _mill(told: dict[str, Any]) -> Mill:
    axes, control, spindle = told["axis"], told["control"], told["spindle"]
    x, y, z = (span(axes[axis]["travel"]) for axis in "xyz")
    rapids = [number(axes[axis]["max_feed"]) * 1000 / 60 for axis in "xyz"]  # m/min
    bottom, nose = 0.0, []
    for across, high in spindle["nose"]:
        nose.append((number(across) / 2, bottom))
        bottom += number(high)
    return Mill(
        (x, y, z),
        (rapids[0], rapids[1], rapids[2]),
        span(spindle["speed"]),
        CCW in spindle["directions"],
        number(spindle["run_up"]),
        tuple(nose),
        tuple((one["name"], _box(one["box"])) for one in told["zone"]),
        _point(told["home"]["G28"]),
        control["rapid_path"] != "straight",
        number(control["arc_tolerance"]),
    )


PARTED = {"ring.stl": 21.0}
"""Drawings of parts that are parted from their blank: what lies farther from zero, mm, is scrap."""
SECOND_ZERO = (31.0, -17.0, 4.0)
"""Where the shop's G55 lies beside its G54: an earlier job's, in no file."""


def _work(told: dict[str, Any]) -> Work:
    first = _point(told["offset"]["G54"]["at"])
    second = (first[0] + SECOND_ZERO[0], first[1] + SECOND_ZERO[1], first[2] + SECOND_ZERO[2])
    around = told["around"]
    return Work(
        {54: first, 55: second},
        _box(told["stock"]["box"]),
        tuple(_box(one["box"]) for one in told.get("fixture", ())),
        number(around["highest_around"]),
        number(around["allowed_below"]),
        "target" in told,
        PARTED.get(told.get("target", ""), math.inf),
    )
