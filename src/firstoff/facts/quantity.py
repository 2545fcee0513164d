"""Quantities as a shop writes them: ``VALUE[(DIGITS)][e±N] UNIT`` and the tables that say more.

The bracket is the concise notation of the GUM (JCGM 100:2008, 7.2.2): the standard uncertainty in the last digits of the
value. A bracket with a point in it is the GUM's other form, the uncertainty in the unit of the value: 0.80(0.05) = 0.80(5).
Number and bracket are split off here, before any unit library sees the text.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal
from enum import StrEnum
from typing import TypeVar

from firstoff.errors import Fault, InputError
from firstoff.facts.fact import Evidence, Shape
from firstoff.facts.units import DIMENSIONS, convert, unit_factor


@dataclass(frozen=True, slots=True)
class Kind:
    """What a key expects: its dimension, the row of `DEFAULT_DOUBT` that serves it, and what is possible at all."""

    dimension: str
    doubt: str = "other"
    lowest: float = -math.inf
    """Least value in the internal unit; a kind whose lowest is 0 or more is a *positive* fact."""
    highest: float = math.inf
    zero: bool = False
    """Whether `lowest` itself is allowed."""
    exact: bool = False
    """Something the shop decides: it has no doubt and its evidence is "set"."""

    @property
    def positive(self) -> bool:
        return self.lowest >= 0

    @property
    def allowed(self) -> str:
        dimension = DIMENSIONS[self.dimension]
        return f'{dimension.noun}{_span(self)} such as "{dimension.example}"'


def _span(kind: Kind) -> str:
    unit = "" if DIMENSIONS[kind.dimension].internal == "1" else f" {DIMENSIONS[kind.dimension].internal}"
    low = "" if kind.lowest == -math.inf else f" {'from' if kind.zero else 'above'} {kind.lowest:.6g}{unit}"
    high = "" if kind.highest == math.inf else f" up to {kind.highest:.6g}{unit}"
    return low + high


@dataclass(frozen=True, slots=True)
class Doubt:
    """A default standard uncertainty: absolute and/or a share of the value (the smaller serves), never below `floor`."""

    absolute: float = math.inf
    share: float = math.inf
    floor: float = 0.0

    def of(self, value: float) -> float:
        return max(min(self.absolute, self.share * abs(value)), self.floor)


_MICROMETRE, _DEGREE = 1e-3, math.pi / 180
DEFAULT_DOUBT: dict[str, dict[Evidence, Doubt]] = {
    # A position can be read off a drawing to half a millimetre, off a maker's drawing to a tenth.
    "place": {
        Evidence.ASSUMED: Doubt(absolute=0.5),
        Evidence.HANDBOOK: Doubt(absolute=0.5),
        Evidence.PLATE: Doubt(absolute=0.1),
    },
    # The same for sizes, but half a millimetre on a 0.4 mm cutter would be nonsense: there a quarter serves.
    "size": {
        Evidence.ASSUMED: Doubt(absolute=0.5, share=0.25, floor=_MICROMETRE),
        Evidence.HANDBOOK: Doubt(absolute=0.5, share=0.25, floor=_MICROMETRE),
        Evidence.PLATE: Doubt(absolute=0.1, share=0.10, floor=_MICROMETRE),
    },
    # What a maker grinds round: cutters are made to a few hundredths, and reground ones are measured or they are of no use.
    "ground": {
        Evidence.ASSUMED: Doubt(absolute=0.05, share=0.05, floor=_MICROMETRE),
        Evidence.HANDBOOK: Doubt(absolute=0.05, share=0.05, floor=_MICROMETRE),
        Evidence.PLATE: Doubt(absolute=0.02, share=0.02, floor=_MICROMETRE),
    },
    # Speeds, feeds and powers are regulated or rated; they rarely lie by more than a few per cent.
    "rate": {
        Evidence.ASSUMED: Doubt(share=0.05),
        Evidence.HANDBOOK: Doubt(share=0.05),
        Evidence.PLATE: Doubt(share=0.03),
    },
    # An angle of 0 deg is a number like any other: a share of it would make it exact. Helices and points come in steps of five degrees and
    # more, so who names one has it within a few (common practice).
    "angle": {
        Evidence.ASSUMED: Doubt(absolute=3 * _DEGREE, share=0.25, floor=_DEGREE),
        Evidence.HANDBOOK: Doubt(absolute=3 * _DEGREE, share=0.25, floor=_DEGREE),
        Evidence.PLATE: Doubt(absolute=_DEGREE, share=0.10, floor=_DEGREE / 2),
    },
    # Micrometres of run-out or edge radius, with the resolution of a shop's indicator as the floor.
    "fine": {
        Evidence.ASSUMED: Doubt(share=0.25, floor=_MICROMETRE),
        Evidence.HANDBOOK: Doubt(share=0.25, floor=_MICROMETRE),
        Evidence.PLATE: Doubt(share=0.10, floor=_MICROMETRE),
    },
    "other": {
        Evidence.ASSUMED: Doubt(share=0.25),
        Evidence.HANDBOOK: Doubt(share=0.25),
        Evidence.PLATE: Doubt(share=0.10),
    },
}
"""Standard uncertainty where none is stated, by sort of quantity and evidence, in internal units. `measured` and `learned`
have no default: whoever measured knows how well."""

LOGNORMAL_FROM = 0.15
"""Share of a positive fact's value from which its doubt is drawn log-normal: a normal one would begin to reach zero."""
GREATEST_SHARE = 2.0
"""A positive fact less certain than twice its value says nothing; more is a slip of the pen."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in its internal unit with all that is said about its doubt."""

    value: float
    u: float
    unit: str
    df: float = math.inf
    shape: Shape = Shape.NORMAL
    evidence: Evidence = Evidence.ASSUMED
    note: str = ""
    on: datetime | None = None
    stated: bool = True
    """Whether the uncertainty was stated rather than taken from `DEFAULT_DOUBT`."""


@dataclass(frozen=True, slots=True)
class Range:
    """Two quantities, ``low .. high``."""

    low: Quantity
    high: Quantity


@dataclass(frozen=True, slots=True)
class Said:
    """What a table adds to its value: the rest of ``{ value, u, df, shape, evidence, note, on }``."""

    evidence: Evidence | None = None
    u: object = None
    """As written, still to be read."""
    half_width: object = None
    df: float = math.inf
    shape: Shape | None = None
    note: str = ""
    on: datetime | None = None


E = TypeVar("E", bound=StrEnum)

SAID_KEYS = ("value", "u", "half_width", "df", "shape", "evidence", "note", "on")
PLAIN = Said()

_NUMBER = re.compile(
    r"(?P<number>[+-]?(?:\d+(?:\.\d*)?|\.\d+))(?:\((?P<bracket>\d+(?:\.\d+)?|\.\d+)\))?(?:[eE](?P<power>[+-]?\d{1,3})(?!\w))?"
)
_GROUPS = re.compile(r"(?<=\d)[\u202f\u2009\u00a0](?=\d)")


def read_quantity(text: object, kind: Kind, said: Said = PLAIN) -> Quantity:
    """Read ``VALUE[(DIGITS)][e±N] UNIT`` (or a bare number where the kind has no unit).

    Raises `InputError` with one fault that names what is wrong, the value as written and what is allowed; file and line are
    the caller's to add.
    """
    number, bracket, unit, written = _split(text, kind)
    factor = unit_factor(unit, kind.dimension, written)
    value = convert(float(number), factor)
    _refuse_impossible(value, kind, written)
    stated = None if bracket is None else convert(float(bracket), factor)
    return _with_doubt(value, stated, kind, said, written)


def read_range(text: object, kind: Kind, said: Said = PLAIN) -> Range:
    """Read ``"low .. high"``; the low end may leave its unit to the high end."""
    if not isinstance(text, str) or ".." not in text:
        raise InputError(Fault("this must be a range", shown(text), f'a range such as "{_range_example(kind)}"'))
    first, _, second = text.partition("..")
    unit = _split(second, kind)[2]
    if not _split(first, kind)[2] and unit:
        first = f"{first.strip()} {unit}"
    low, high = read_quantity(first, kind, said), read_quantity(second, kind, said)
    if not low.value < high.value:
        raise InputError(Fault("the low end is not below the high end", text.strip(), f'"{_range_example(kind)}"'))
    return Range(low, high)


def _range_example(kind: Kind) -> str:
    return {
        "length": "0 mm .. 263 mm",
        "rate": "4000 1/min .. 36000 1/min",
    }.get(kind.dimension, "LOW UNIT .. HIGH UNIT")


def read_said(table: Mapping[str, object]) -> Said:
    """The part of a table that is not its value; collects every fault in it."""
    faults: list[Fault] = []
    evidence = _word_of(Evidence, "evidence", table, faults)
    shape = _word_of(Shape, "shape", table, faults)
    df = table.get("df", math.inf)
    if isinstance(df, bool) or not isinstance(df, int | float) or not df >= 1:
        faults.append(Fault("df cannot be used", shown(df), "degrees of freedom, a number from 1"))
        df = math.inf
    note = table.get("note", "")
    if not isinstance(note, str):
        faults.append(Fault("note must be text", shown(note), 'text in quotes, such as "read off the drawing"'))
        note = ""
    on = None
    if "on" in table:
        try:
            on = read_moment(table["on"])
        except ValueError:
            faults.append(Fault("on is no date", shown(table["on"]), "a date such as 2026-05-04"))
    if "u" in table and "half_width" in table:
        faults.append(Fault("u and half_width say the same thing twice", "", "one of them"))
    if faults:
        raise InputError(*faults)
    return Said(evidence, table.get("u"), table.get("half_width"), float(df), shape, note, on)


def _word_of(words: type[E], key: str, table: Mapping[str, object], faults: list[Fault]) -> E | None:
    if key not in table:
        return None
    try:
        return words(str(table[key]))
    except ValueError:
        faults.append(Fault(f"{key} is not known", shown(table[key]), ", ".join(words)))
        return None


def read_moment(value: object) -> datetime:
    """A TOML date or time, or its text, as local time without a zone. Raises `ValueError` for anything else."""
    if isinstance(value, str):
        value = datetime.fromisoformat(value.strip())
    if isinstance(value, datetime):
        return value if value.tzinfo is None else value.astimezone().replace(tzinfo=None)
    if isinstance(value, date):
        return datetime(value.year, value.month, value.day)
    raise ValueError


def _split(text: object, kind: Kind) -> tuple[Decimal, Decimal | None, str, str]:
    """Number, uncertainty in the value's own unit (None if not stated), unit, and the text as written."""
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise InputError(Fault("this must be a quantity in quotes", shown(text), kind.allowed))
    if not isinstance(text, str):
        if kind.dimension not in ("ratio", "count"):
            raise InputError(Fault("the unit is missing", shown(text), kind.allowed))
        if not math.isfinite(text):
            raise InputError(Fault("this is not a number", shown(text), kind.allowed))
        text = repr(text)
    written = text.strip()
    plain = _GROUPS.sub("", written).replace("\u2212", "-")
    match = _NUMBER.match(plain)
    if match is None:
        raise InputError(Fault("there is no number", shown(text), kind.allowed))
    number, unit = match["number"], plain[match.end() :]
    if len(number) > 40 or abs(int(match["power"] or 0)) > 30:
        raise InputError(Fault("no such number was ever measured", shown(text), kind.allowed))
    if number == "1" and unit.startswith("/"):
        raise InputError(Fault("there is no number before the unit", shown(text), kind.allowed))
    _refuse_odd_rest(unit, written, kind)
    unit = unit.strip()
    power = Decimal(10) ** int(match["power"] or 0)
    bracket = None if match["bracket"] is None else _bracket(match["bracket"], number) * power
    return Decimal(number) * power, bracket, ("1" + unit if unit.startswith("/") else unit), written


def _refuse_odd_rest(rest: str, written: str, kind: Kind) -> None:
    """What may follow a number is a unit; the usual slips get their own sentence."""
    if re.match(r",\d", rest):
        raise InputError(Fault("a comma inside a number", written, kind.allowed, do="Write a point: 14.2, not 14,2."))
    if re.match(r"\s*(?:\+/-|±)", rest):
        raise InputError(
            Fault("± is not read", written, kind.allowed, do="Write the standard uncertainty in brackets: 12.5(2) mm.")
        )
    if re.match(r"\s*\(", rest):
        raise InputError(
            Fault("the bracket after the number cannot be read", written, "digits only, such as 12.5(2) mm")
        )
    if re.match(r"\s+[+-]?\.?\d", rest) and not re.match(r"\s+1\s*/", rest):
        raise InputError(
            Fault("two numbers", written, kind.allowed, do="Write 30000, not 30 000; for a range write LOW .. HIGH.")
        )


def _bracket(digits: str, number: str) -> Decimal:
    if "." in digits:
        return Decimal(digits)
    decimals = len(number.partition(".")[2])
    return Decimal(digits).scaleb(-decimals)


def _refuse_impossible(value: float, kind: Kind, written: str) -> None:
    greatest = DIMENSIONS[kind.dimension].greatest
    if not math.isfinite(value) or abs(value) > greatest:
        unit = DIMENSIONS[kind.dimension].internal
        raise InputError(Fault("this is beyond anything a machine tool has", written, f"at most {greatest:g} {unit}"))
    low_ok = value >= kind.lowest if kind.zero else value > kind.lowest
    if not low_ok or value > kind.highest:
        raise InputError(Fault("this value is impossible", written, kind.allowed))


def _with_doubt(value: float, stated: float | None, kind: Kind, said: Said, written: str) -> Quantity:
    evidence = said.evidence or (Evidence.SET if kind.exact else Evidence.ASSUMED)
    unit = DIMENSIONS[kind.dimension].internal
    if said.u is not None or said.half_width is not None:
        if stated is not None:
            raise InputError(Fault("the uncertainty is stated twice", written, "a bracket or u, not both"))
        stated = _read_u(said, value, kind)
    if kind.exact or evidence is Evidence.SET:
        if stated:
            raise InputError(
                Fault("what the shop sets itself has no doubt", written, "the value without an uncertainty")
            )
        return Quantity(value, 0.0, unit, math.inf, Shape.NORMAL, evidence, said.note, said.on)
    if stated is None:
        if evidence in (Evidence.MEASURED, Evidence.LEARNED):
            raise InputError(
                Fault(
                    f'evidence "{evidence}" without an uncertainty',
                    written,
                    f'the standard uncertainty in brackets or as u, such as "{DIMENSIONS[kind.dimension].example}"',
                )
            )
        u = 0.0 if kind.dimension == "count" else DEFAULT_DOUBT[kind.doubt][evidence].of(value)
    else:
        u = stated
        _refuse_odd_doubt(value, u, kind, written)
    return Quantity(
        value, u, unit, said.df, _shape(value, u, kind, said, written), evidence, said.note, said.on, stated is not None
    )


def _refuse_odd_doubt(value: float, u: float, kind: Kind, written: str) -> None:
    if u == 0:
        raise InputError(
            Fault(
                "an uncertainty of zero: nothing in the world is known exactly",
                written,
                'an uncertainty above zero, or evidence = "set" for what the shop decides itself',
            )
        )
    if kind.positive and value > 0 and u > GREATEST_SHARE * value:
        raise InputError(
            Fault(
                f"the uncertainty is {u / value:.0f} times the value",
                written,
                f"at most {GREATEST_SHARE:g} times the value (digits in brackets count in the value's last place)",
            )
        )
    if u > DIMENSIONS[kind.dimension].greatest:
        raise InputError(Fault("the uncertainty is beyond anything a machine tool has", written, kind.allowed))


def _shape(value: float, u: float, kind: Kind, said: Said, written: str) -> Shape:
    if said.half_width is not None and said.shape not in (None, Shape.UNIFORM):
        raise InputError(Fault(f"half_width does not go with shape {said.shape}", written, 'shape = "uniform", or u'))
    if said.half_width is not None:
        return Shape.UNIFORM
    if said.shape is Shape.LOGNORMAL and not value > 0:
        raise InputError(Fault("a lognormal value must be above zero", written, 'shape = "normal"'))
    if said.shape is not None:
        return said.shape
    return Shape.LOGNORMAL if kind.positive and value > 0 and u > LOGNORMAL_FROM * value else Shape.NORMAL


def _read_u(said: Said, value: float, kind: Kind) -> float:
    """`u`, or `half_width` / √3 (GUM 4.3.7: the standard uncertainty of a rectangular distribution), internal unit."""
    text = said.u if said.u is not None else said.half_width
    key = "u" if said.u is not None else "half_width"
    allowed = f'a share such as "5 %" or {DIMENSIONS[kind.dimension].noun}'
    share = Kind("ratio")
    try:
        is_share = isinstance(text, str) and text.strip().endswith(("%", "‰", "ppm"))
        number, bracket, unit, written = _split(
            text, share if is_share or kind.dimension in ("ratio", "count") else kind
        )
        if is_share:
            u = float(number) * unit_factor(unit, "ratio", written) * abs(value)
        else:
            u = convert(float(number), unit_factor(unit, kind.dimension, written))
    except InputError as error:
        raise InputError(*(Fault(f"{key}: {fault.what}", fault.value, allowed) for fault in error.faults)) from None
    if bracket is not None or not (math.isfinite(u) and u >= 0):
        raise InputError(Fault(f"{key} must be one number above zero", shown(text), allowed))
    return u / math.sqrt(3) if key == "half_width" else u


def shown(value: object) -> str:
    """A value as it stood in the file, short enough for one line."""
    if isinstance(value, bool):
        return str(value).lower()
    text = f'"{value}"' if isinstance(value, str) else str(value)
    text = "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)
    return text if len(text) <= 60 else text[:57] + "..."


def format_quantity(value: float, u: float, unit: str) -> str:
    """Value, uncertainty and unit in the GUM's concise notation (JCGM 100:2008, 7.2.2 and 7.2.6): two significant digits of
    `u`, the value to the same place: ``14.2(46) µm``. All three in `unit`; `u` = 0 gives the bare value, NaN "unknown".

    Plain ASCII digits and minus sign: digit groups and typography are the outputs' business.
    """
    if math.isnan(value) or math.isnan(u):
        return f"unknown {unit}".strip()
    if u <= 0 or math.isinf(u) or math.isinf(value):
        return f"{_plain(value)} {unit}".strip()
    exponent = _last_place(u)
    place = Decimal(1).scaleb(exponent)
    rounded = Decimal(repr(value)).quantize(place, ROUND_HALF_EVEN)
    digits = Decimal(repr(u)).quantize(place, ROUND_HALF_EVEN)
    if exponent < 0:
        return f"{rounded:f}({int(digits.scaleb(-exponent))}) {unit}".strip()
    return f"{int(rounded)}({int(digits)}) {unit}".strip()


def _last_place(u: float) -> int:
    """Exponent of the place where two significant digits of `u` end, after rounding (0.0996 -> 0.10, so -2)."""
    exact = Decimal(repr(u))
    exponent = exact.adjusted() - 1
    return (
        exponent + 1
        if exact.quantize(Decimal(1).scaleb(exponent), ROUND_HALF_EVEN).adjusted() > exact.adjusted()
        else exponent
    )


def _plain(value: float) -> str:
    return f"{value:.10g}" if 1e-4 <= abs(value) < 1e10 or value == 0 else f"{value:.6g}"
