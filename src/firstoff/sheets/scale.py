"""The ruled scale as pure data: a demand held against a capacity, drawn so that right is nearer trouble.

The capacity, the *end stop*, lies at 74 % of the inner width on every scale, so that stops stand in one plumb line. An upper limit runs
up from zero at the left; a lower limit is turned round, its numerals run down towards the stop; so does *room*, the gap that is left where
demand and capacity are positions rather than sizes. What is missing is named, never drawn as zero.

Terminal and sheet draw the same `ScaleDrawing`; only the `Lettering` (how wide a figure is) differs. Positions are in the lettering's own
unit, from the left end of the rule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from firstoff.verdict.question import Answer

STOP_AT = 0.74
"""Share of the inner width at which every end stop stands."""
BAND_U = 2.0
"""The band reaches this many standard uncertainties each way (about 95 %, GUM G.1.3)."""
NO_STOP_RUNS_TO = 2.0
"""Where no stop is known the rule runs to this many times the demand."""
FEWEST_MAJORS, MOST_MAJORS = 3, 7
LEAST_MINOR = 3.0
"""Ticks nearer than this many units of a drawing run together (px on a sheet)."""
LEAST_MOVED = 1.0
"""Units of a drawing by which a stop must have moved to be drawn twice."""
NEARLY = 0.95
"""Of the least gap: majors that fall short of it by a rounding still count; their numerals are checked one by one."""
ROOM_FILLS = 0.95
"""Room and its band take at most this share of the rule on their side of the stop, so that the pointer never stands on an end."""


class Case(StrEnum):
    """What there is to draw."""

    HELD = "held"
    NO_STOP = "no stop"
    NO_DEMAND = "no demand"
    NOTHING = "nothing"
    COUNT = "count"


class Size(StrEnum):
    """The three lengths of tick."""

    MINOR = "minor"
    HALF = "half"
    MAJOR = "major"


@dataclass(frozen=True, slots=True)
class Lettering:
    """How much room figures take, in the drawing's unit: `advance` of one figure, least `gap` between two numerals, `margin` beside the rule
    at either end, least width of a `band`. `whole` places everything on whole units: character cells."""

    advance: float
    gap: float
    margin: float
    band: float
    whole: bool = False

    def wide(self, text: str) -> float:
        """Width of a text: in cells one each; on paper an m is as wide as two figures, and so on."""
        if self.whole:
            return len(text) * self.advance
        return self.advance * sum(_BROAD.get(letter, 1.0) for letter in text)

    def place(self, at: float) -> float:
        return float(math.floor(at + 0.5)) if self.whole else at


_BROAD = {"m": 1.6, "M": 1.6, "W": 1.6, "N": 1.3, "\u202f": 0.5, ".": 0.6, "/": 0.7, "i": 0.5}
CELLS = Lettering(advance=1.0, gap=1.0, margin=1.0, band=0.0, whole=True)
"""Character cells of a terminal."""
SHEET = Lettering(advance=6.9, gap=4.0, margin=9.0, band=4.0)
"""CSS px of the 12 px (9 pt) figures on a sheet, in the widest of the condensed fallback fonts."""


@dataclass(frozen=True, slots=True)
class Doubtful:
    """A number with its band: `low` and `high` lie `BAND_U` standard uncertainties away (or where the draws put them)."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Held:
    """What is held against what, in the unit that is shown."""

    pointer: Doubtful | None
    stop: Doubtful | None
    unit: str
    turned: bool = False
    """Numerals run down towards the stop: less is worse."""
    room: bool = False
    """The stop is where the room ends, at zero; beyond it the room is negative."""

    def same_rule(self, other: Held) -> bool:
        """Whether another can be drawn on the same rule."""
        return (self.unit, self.turned, self.room) == (other.unit, other.turned, other.room)


@dataclass(frozen=True, slots=True)
class Tick:
    at: float
    size: Size


@dataclass(frozen=True, slots=True)
class Numeral:
    """`at` is the tick it belongs to, `left` where its first figure begins."""

    at: float
    left: float
    text: str


@dataclass(frozen=True, slots=True)
class Earlier:
    """Where things stood before, on the rule of how they stand now; drawn dashed."""

    pointer: float | None
    """None: not known, or off the rule."""
    band: tuple[float, float] | None
    off: bool
    stop: float | None
    """Only where it is another than now, and on the rule."""


@dataclass(frozen=True, slots=True)
class ScaleDrawing:
    """Everything that is drawn, in the lettering's unit from the left end of the rule."""

    case: Case
    answer: Answer
    width: float
    """Inner width; the drawing reaches one margin beyond it at either end."""
    end: float
    """Where the rule ends: the width, or the quantity's own end."""
    unit: str
    unit_left: float
    ticks: tuple[Tick, ...] = ()
    numerals: tuple[Numeral, ...] = ()
    pointer: float | None = None
    """None: not known, or off the rule."""
    open: bool = False
    """The pointer and its band are outlined: nothing answers it."""
    band: tuple[float, float] | None = None
    off: bool = False
    """The demand lies beyond the end of the rule."""
    stop: float | None = None
    slope: tuple[float, float] | None = None
    """Where the doubt of the stop begins and ends."""
    phrase: str = ""
    """What is missing."""
    shown: int = 0
    """For a count: how many."""
    earlier: Earlier | None = None

    @property
    def accent(self) -> bool:
        """Whether pointer and overlap are drawn in the accent: it is against you."""
        return self.answer in (Answer.CARE, Answer.STOP)

    @property
    def overlap(self) -> tuple[float, float] | None:
        """Where band and wall meet: the chance, seen."""
        if self.band is None or self.slope is None or self.case is not Case.HELD:
            return None
        low, high = max(self.band[0], self.slope[0]), min(self.band[1], self.end)
        return (low, high) if high > low else None


def draw_count(shown: int, answer: Answer, width: float) -> ScaleDrawing:
    """Things counted have no rule: only how many there are."""
    return ScaleDrawing(Case.COUNT, answer, width, width, "", width, shown=shown)


def draw_scale(
    held: Held | None,
    answer: Answer,
    width: float,
    lettering: Lettering,
    missing: str = "",
    before: Held | None = None,
) -> ScaleDrawing:
    """Draw one scale. `width` is the inner width; `missing` names the fact that is not there, for a drawing without either side.

    `before` is how it stood earlier: drawn too, dashed, where it is another and goes on the same rule (`Held.same_rule`); the
    rule then reaches over both.

    Raises `ValueError` if the width has no room for three numerals.
    """
    if width < 6 * lettering.advance:
        raise ValueError(f"width={width:g} must be at least {6 * lettering.advance:g} to hold three numerals")
    if held is None or (held.pointer is None and held.stop is None):
        return ScaleDrawing(
            Case.NOTHING, answer, width, width, "", width, phrase=missing or "nothing to hold against anything"
        )
    before = before if before is not None and before != held and held.same_rule(before) else None
    axis = _axis(held, before, width)
    unit_left = width + lettering.margin - lettering.wide(held.unit)
    majors, step = _majors(axis, lettering)
    case = Case.HELD
    if held.stop is None:
        case = Case.NO_STOP
    elif held.pointer is None:
        case = Case.NO_DEMAND
    pointer = axis.at(held.pointer.value) if held.pointer else None
    off = pointer is not None and pointer > axis.end + 1e-9
    stop = STOP_AT * width if held.stop else None
    return ScaleDrawing(
        case=case,
        answer=answer,
        width=width,
        end=lettering.place(axis.end),
        unit=held.unit,
        unit_left=unit_left,
        ticks=_ticks(axis, majors, step, lettering),
        numerals=_numerals(axis, majors, step, unit_left if held.unit else math.inf, lettering),
        pointer=None if pointer is None or off else lettering.place(max(pointer, 0.0)),
        open=case is Case.NO_STOP or (case is Case.HELD and answer is Answer.UNJUDGED),
        band=_reach(axis, held.pointer, lettering) if held.pointer else None,
        off=off,
        stop=None if stop is None else lettering.place(stop),
        slope=_slope(axis, held.stop, lettering) if held.stop else None,
        phrase={Case.NO_STOP: "no stop known", Case.NO_DEMAND: "no demand known"}.get(case, ""),
        earlier=None if before is None else _earlier(axis, before, stop, lettering),
    )


def _earlier(axis: _Axis, before: Held, stop: float | None, lettering: Lettering) -> Earlier:
    pointer = axis.at(before.pointer.value) if before.pointer else None
    off = pointer is not None and pointer > axis.end + 1e-9
    stood = axis.at(before.stop.value) if before.stop else None
    moved = stood is not None and 0.0 <= stood <= axis.end and (stop is None or abs(stood - stop) >= LEAST_MOVED)
    return Earlier(
        pointer=None if pointer is None or off else lettering.place(max(pointer, 0.0)),
        band=_reach(axis, before.pointer, lettering) if before.pointer else None,
        off=off,
        stop=lettering.place(stood) if stood is not None and moved else None,
    )


# --- the axis --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Axis:
    """A straight line from values to places: `left` is the value at 0, `per_unit` how far one unit of the value reaches (negative if turned)."""

    left: float
    per_unit: float
    end: float

    def at(self, value: float) -> float:
        return (value - self.left) * self.per_unit

    def value(self, at: float) -> float:
        return self.left + at / self.per_unit


def _axis(held: Held, before: Held | None, width: float) -> _Axis:
    # How it stood before is held against today's stop: only where the rule begins can differ for it.
    stood = None if before is None or before.pointer is None else replace(held, pointer=before.pointer)
    if held.stop is None:
        known = [abs(one.pointer.value) for one in (held, stood) if one is not None and one.pointer is not None]
        return _Axis(0.0, width / (NO_STOP_RUNS_TO * (max(known, default=0.0) or 1.0)), width)
    stop = held.stop.value
    if not held.turned:
        return _Axis(0.0, STOP_AT * width / stop, width)
    left_of = _room_left if held.room else _lower_left
    left = max(left_of(one) for one in (held, stood) if one is not None)
    per_unit = -STOP_AT * width / (left - stop)
    own_end = width if held.room else min(width, left * -per_unit)  # a size ends at zero, a gap goes on as an overlap
    return _Axis(left, per_unit, own_end)


def _room_left(held: Held) -> float:
    """Least of 1, 2, 5 × 10ⁿ that holds the room with its band before the stop, or the overlap behind it."""
    pointer, stop = held.pointer, held.stop
    wall = (1 - STOP_AT) / STOP_AT
    needs = [1e-3]
    if pointer is not None:
        needs += [pointer.high / ROOM_FILLS, -pointer.value / wall / ROOM_FILLS, (pointer.high - pointer.low) * 1.5]
    if stop is not None:
        needs.append((stop.high - stop.low) * 1.5)
    return _nice_above(max(needs), (1.0, 2.0, 5.0))


def _lower_left(held: Held) -> float:
    """Where a turned size begins: above the value and its band, and far enough above the stop for the wall to show."""
    stop = held.stop.value if held.stop else 1.0
    if held.pointer is None or held.pointer.value < stop:
        return _nice_above(2.5 * stop, (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0))
    return _nice_above(
        max(held.pointer.high / ROOM_FILLS, 1.2 * stop), (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)
    )


def _nice_above(value: float, mantissas: tuple[float, ...]) -> float:
    power = 10.0 ** math.floor(math.log10(value))
    for mantissa in mantissas:
        if mantissa * power >= value * (1 - 1e-12):
            return mantissa * power
    return 10.0 * power


# --- ticks and numerals ----------------------------------------------------------------------------------------------


def _majors(axis: _Axis, lettering: Lettering) -> tuple[list[float], float]:
    """Values of the major ticks and their step: the finest of 1, 2, 5 × 10ⁿ that gives 3 to 7 whose numerals do not touch."""
    one, other = axis.value(0.0), axis.value(axis.end)
    low, high = min(one, other), max(one, other)
    power = 10.0 ** (math.floor(math.log10(high - low)) - 1)
    best: tuple[list[float], float] | None = None
    for step in (m * power * p for p in (1.0, 10.0, 100.0) for m in (1.0, 2.0, 5.0)):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        values = [number * step for number in range(first, last + 1)]
        if len(values) > MOST_MAJORS:
            continue
        if best is not None and len(values) < FEWEST_MAJORS:
            break
        best = (values, step)
        widest = max((lettering.wide(numeral(value, step)) for value in values), default=0.0)
        if abs(step * axis.per_unit) >= widest + lettering.gap * NEARLY:
            break
    return best if best is not None else ([low, high], high - low)


def numeral(value: float, step: float) -> str:
    """A numeral with as many decimals as its step needs, minus by U+2212, groups of three by U+202F from five figures on."""
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    text = f"{abs(value):.{decimals}f}"
    whole, point, rest = text.partition(".")
    if len(whole) > 4:
        whole = f"{int(whole):,}".replace(",", "\u202f")
    return ("\u2212" if value < 0 and float(text) != 0 else "") + whole + point + rest


def _ticks(axis: _Axis, majors: list[float], step: float, lettering: Lettering) -> tuple[Tick, ...]:
    """Majors, and between them ten parts with a half, or five where ten would run together; none in character cells."""
    found = {round(axis.at(value), 9): Size.MAJOR for value in majors}
    parts = 10 if abs(step * axis.per_unit) / 10 >= LEAST_MINOR else 5
    if not lettering.whole and majors:
        for part in range(-parts, (len(majors) + 1) * parts + 1):
            at = round(axis.at(majors[0] + part * step / parts), 9)
            if -1e-6 <= at <= axis.end + 1e-6:
                found.setdefault(at, Size.HALF if parts == 10 and part % 5 == 0 else Size.MINOR)
    return tuple(Tick(lettering.place(at), size) for at, size in sorted(found.items()))


def _numerals(
    axis: _Axis, majors: list[float], step: float, unit_left: float, lettering: Lettering
) -> tuple[Numeral, ...]:
    """Numerals from left to right; one that would touch the unit or its neighbour is left out, never shrunk."""
    placed: list[Numeral] = []
    free_from = -lettering.margin
    for at, value in sorted((axis.at(value), value) for value in majors):
        text = numeral(value, step)
        wide = lettering.wide(text)
        tick = lettering.place(round(at, 9))
        left = lettering.place(
            max(tick - (wide - lettering.advance if lettering.whole else wide) / 2, -lettering.margin)
        )
        if left < free_from or left + wide + lettering.gap > unit_left or left + wide > axis.end + lettering.margin:
            continue
        placed.append(Numeral(tick, left, text))
        free_from = left + wide + lettering.gap
    return tuple(placed)


# --- bands -----------------------------------------------------------------------------------------------------------


def _reach(axis: _Axis, number: Doubtful, lettering: Lettering) -> tuple[float, float]:
    """The band on the rule, never narrower than its least width, cut at the ends of the rule."""
    ends = sorted((axis.at(number.low), axis.at(number.high)))
    middle = axis.at(number.value)
    low, high = min(ends[0], middle - lettering.band / 2), max(ends[1], middle + lettering.band / 2)
    return min(max(low, 0.0), axis.end), max(min(high, axis.end), 0.0)


def _slope(axis: _Axis, stop: Doubtful, lettering: Lettering) -> tuple[float, float]:
    low, high = sorted((axis.at(stop.low), axis.at(stop.high)))
    return lettering.place(max(low, 0.0)), lettering.place(min(high, axis.end))
