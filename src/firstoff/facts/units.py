"""Units at the edges: what a shop writes becomes the internal unit here, and nowhere else.

Internal units: mm, s, N, N·mm, W, rad, mm/s, 1/s (turns, and frequencies), mm/s², mm/s³, N/mm (stiffness *and* force per
length of edge), N/mm² (stress, cutting constants *and* pressure, so 1 bar = 0.1 N/mm²), mm², N·mm·s² and 1 for ratios. The unit library is loaded at the first unit that is
read, with our own definitions (`data/units.txt`), never at import.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from firstoff.errors import Fault, InputError


@dataclass(frozen=True, slots=True)
class Dimension:
    """One sort of quantity: the unit it is kept in, and the greatest magnitude that anyone could mean."""

    noun: str
    internal: str
    """Label of the internal unit, as `Fact.unit` carries it."""
    library: str
    """The same unit in the unit library's spelling."""
    example: str
    greatest: float
    """In the internal unit; anything beyond is a slip of the pen, not a machine tool."""


DIMENSIONS: dict[str, Dimension] = {
    "length": Dimension("a length", "mm", "mm", "12.5(2) mm", 1e5),
    "area": Dimension("an area", "mm²", "mm**2", "400 mm^2", 1e8),
    "angle": Dimension("an angle", "rad", "rad", "38 deg", 6.3),
    "time": Dimension("a time", "s", "s", "9(2) s", 1e7),
    "speed": Dimension("a feed or speed", "mm/s", "mm/s", "14 m/min", 1e4),
    "acceleration": Dimension("an acceleration", "mm/s²", "mm/s**2", "3.1(3) m/s^2", 1e6),
    "jerk": Dimension("a jerk", "mm/s³", "mm/s**3", "80 m/s^3", 1e9),
    "rate": Dimension("a speed of rotation or a rate", "1/s", "1/s", "30000(150) 1/min", 1e5),
    "force": Dimension("a force", "N", "N", "2.4(5) kN", 1e6),
    "torque": Dimension("a torque", "N·mm", "N*mm", "0.44 N m", 1e8),
    "power": Dimension("a power", "W", "W", "1.10 kW", 1e6),
    "stiffness": Dimension("a stiffness", "N/mm", "N/mm", "9(3) N/µm", 1e8),
    "edge force": Dimension("a force per length of edge", "N/mm", "N/mm", "15(5) N/mm", 1e4),
    "inertia": Dimension("a moment of inertia", "N·mm·s²", "N*mm*s**2", "0.00012 kg m^2", 1e6),
    "frequency": Dimension("a frequency", "1/s", "1/s", "180(20) Hz", 1e5),
    "stress": Dimension("a stress or cutting constant", "N/mm²", "N/mm**2", "900(350) N/mm^2", 1e6),
    "pressure": Dimension("a pressure", "N/mm²", "N/mm**2", "6.1(1) bar", 1e4),
    "ratio": Dimension("a number without a unit, or a share", "1", "", "0.25(5), or 40 %", 1e6),
    "count": Dimension("a count", "1", "", "40", 1e9),
}

_SHARES = {"": 1.0, "1": 1.0, "%": 0.01, "percent": 0.01, "‰": 0.001, "ppm": 1e-6}
"""Units of a ratio: turns and angles are no ratios."""

_FREQUENCIES = {"hz": 1.0, "khz": 1e3}
"""Units of a frequency alone: on a spindle they are the supply's, not the speed (see `_HINTS`)."""

MET_MOST: dict[str, dict[str, float]] = {
    "length": {"mm": 1.0, "µm": 1e-3, "in": 25.4},
    "area": {"mm^2": 1.0},
    "angle": {"deg": math.pi / 180},
    "time": {"s": 1.0, "min": 60.0},
    "speed": {"m/min": 1000 / 60, "mm/min": 1 / 60},
    "acceleration": {"m/s^2": 1e3},
    "jerk": {"m/s^3": 1e3},
    "rate": {"1/min": 1 / 60, "1/s": 1.0},
    "force": {"N": 1.0, "kN": 1e3},
    "torque": {"N m": 1e3},
    "power": {"W": 1.0, "kW": 1e3},
    "stiffness": {"N/µm": 1e3},
    "edge force": {"N/mm": 1.0},
    "inertia": {"kg*mm^2": 1e-3},
    "stress": {"N/mm^2": 1.0, "GPa": 1e3},
    "pressure": {"bar": 0.1},
}
"""Factors of the units that shops write most, by dimension: for them the unit library is not loaded, which takes longer than all the reading.
A test holds them against it."""

_HINTS = {
    "hz": "Hz is the supply's frequency, which is not the speed: write 1/min",
    "g": "for an acceleration write m/s^2 (1 g = 9.81 m/s^2)",
    '"': "for inches write in",
}

_WORD = r"[A-Za-zµμ°%‰_]+"
_POWER = r"(?:(?:\^|\*\*)?-?[1-4]|[²³])?"
_UNIT = re.compile(rf"(?:1\s*/\s*)?{_WORD}{_POWER}(?:\s*(?:[*·⋅/]|\s)\s*{_WORD}{_POWER})*")


def unit_factor(unit: str, dimension: str, text: str) -> float:
    """Multiply a value in `unit` by this to get the internal unit of `dimension`.

    Raises `InputError` with one fault (no file or line: the caller knows them) if the unit is missing, unknown or of another
    dimension; `text` is the whole value as written, for the message.
    """
    wanted = DIMENSIONS[dimension]
    allowed = f'{wanted.noun} such as "{wanted.example}"'
    if dimension in ("ratio", "count"):
        if unit in _SHARES and (dimension == "ratio" or unit == ""):
            return _SHARES[unit]
        raise InputError(Fault(f'"{unit}" does not fit: this is {wanted.noun}', text, allowed))
    if not unit:
        raise InputError(Fault("the unit is missing", text, allowed))
    if dimension == "frequency" and unit.lower() in _FREQUENCIES:
        return _FREQUENCIES[unit.lower()]
    if unit in MET_MOST.get(dimension, ()):
        return MET_MOST[dimension][unit]
    found = _parse(unit)
    if found is None:
        raise InputError(Fault(f'the unit "{unit}" is not known{_nearest(unit, dimension)}', text, allowed))
    factor, shape = found
    if shape != _shape_of(dimension):
        raise InputError(Fault(f'"{unit}" is {_noun(shape)}, not {wanted.noun}{_slip(unit)}', text, allowed))
    return _tidy(factor / _internal_factor(dimension))


def to_unit(value: float, dimension: str, unit: str) -> float:
    """`value` in the internal unit of `dimension`, told in `unit`: for outputs."""
    factor = unit_factor(unit, dimension, unit)
    inverse = 1 / factor
    return value * round(inverse) if _whole(inverse) else value / factor


def convert(number: float, factor: float) -> float:
    """`number * factor`, but dividing where the factor is one over a whole number, so that 30000 1/min is 500 1/s exactly."""
    inverse = 1 / factor
    return number / round(inverse) if _whole(inverse) else number * factor


def _whole(inverse: float) -> bool:
    return 1 < inverse < 1e15 and abs(inverse - round(inverse)) < 1e-12 * inverse


def _tidy(factor: float) -> float:
    """25.4 for an inch, not 25.400000000000002: a factor that is short in decimals is meant to be."""
    short = f"{factor:.12g}"
    return float(short) if abs(float(short) - factor) < 4e-16 * abs(factor) else factor


@cache
def _registry() -> Any:
    import pint  # takes a quarter of a second: only when a unit is really read

    with resources.as_file(resources.files("firstoff.facts") / "data" / "units.txt") as definitions:
        return pint.UnitRegistry(str(definitions), autoconvert_offset_to_baseunit=False)


@cache
def _parse(unit: str) -> tuple[float, str] | None:
    """Factor to the library's base units and dimensionality; None if the library does not know it."""
    if not _UNIT.fullmatch(unit):
        return None
    import pint

    registry = _registry()
    spelt = unit.replace("²", "**2").replace("³", "**3").replace("·", "*").replace("⋅", "*").replace("^", "**")
    spelt = re.sub(rf"({_WORD})(-?[1-4])\b", r"\1**\2", spelt)
    try:
        parsed = registry.parse_units(spelt)
        factor, _ = registry.get_base_units(parsed)
    except (pint.UndefinedUnitError, pint.DefinitionSyntaxError, ValueError):
        return None
    return float(factor), str(parsed.dimensionality)


@cache
def _shape_of(dimension: str) -> str:
    return str(_registry().parse_units(DIMENSIONS[dimension].library).dimensionality)


@cache
def _internal_factor(dimension: str) -> float:
    return float(_registry().get_base_units(_registry().parse_units(DIMENSIONS[dimension].library))[0])


def _noun(shape: str) -> str:
    for name, dimension in DIMENSIONS.items():
        if name not in ("ratio", "count") and _shape_of(name) == shape:
            return dimension.noun
    return {"[mass]": "a mass", "dimensionless": "a share or a count of turns"}.get(shape, f"of dimension {shape}")


COMMON_UNITS = tuple(
    unit
    for row in (
        "mm µm um cm m in inch thou mil ft mm^2 cm^2 deg rad arcmin s ms min h",
        "mm/s mm/min m/min m/s in/min ipm m/s^2 mm/s^2 m/s^3 mm/s^3 1/min rpm 1/s",
        "N kN kgf lbf Nm N·m N·mm Ncm W kW hp PS N/µm N/mm N/mm^2 MPa GPa Pa kPa bar psi % ppm",
    )
    for unit in row.split()
)
"""What is offered when a unit is not known."""


def _slip(unit: str) -> str:
    return f" ({_HINTS[unit.lower()]})" if unit.lower() in _HINTS else ""


def _nearest(unit: str, dimension: str) -> str:
    """A unit like the one written, of the wanted dimension if there is one."""
    if _slip(unit):
        return _slip(unit)
    fitting = [known for known in COMMON_UNITS if (found := _parse(known)) and found[1] == _shape_of(dimension)]
    for known in (fitting, COMMON_UNITS):
        near = [name for name in known if name.lower() == unit.lower()]
        near = near or difflib.get_close_matches(unit, known, n=1, cutoff=0.5)
        if near:
            return f'; nearest: "{near[0]}"'
    return ""
