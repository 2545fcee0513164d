"""The measured lengths of one tool over time, as a drawing on paper: what it has lost, between the two stops of its length check.

Height is the change since the first length of this grip, in µm; each point carries ±2u. The line is drawn solid where the drift is told
from none, broken where it is not. Lengths of grips before are open and stand apart: they are of another seat. All in mm of the print.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from html import escape

from firstoff.changer.drift import DAYS_A_MONTH, LengthDrift, Measured
from firstoff.changer.length_window import LengthWindow
from firstoff.sheets.paper_marks import WALL_MM, disc, line, rect
from firstoff.sheets.scale_svg import INK2
from firstoff.sheets.wording import minus
from firstoff.verdict.words import MM_PER_INCH, ShopUnits

LEFT, RIGHT, TOP, BOTTOM = 11.0, 2.5, 3.5, 6.5
"""Room for numerals round the drawing."""
DOT, OPEN = 0.75, 0.7
WALL_DEEP = 2.4
STOPS_WITHIN = 3.0
"""Stops farther off than this many times the spread of the points would make a flat line of them: they are then told in words only."""
FEW_TICKS = 4
BETWEEN_DATES = 24.0
"""Least room from one date to the next."""


@dataclass(frozen=True, slots=True)
class _Frame:
    """From days and µm (or thousandths of an inch) to places on paper."""

    first: datetime
    days: float
    low: float
    high: float
    width: float
    height: float

    def x(self, at: datetime) -> float:
        days = (at - self.first).total_seconds() / 86400
        return LEFT + (self.width - LEFT - RIGHT) * days / self.days

    def y(self, value: float) -> float:
        inner = self.height - TOP - BOTTOM
        return TOP + inner * (self.high - value) / (self.high - self.low)


def length_chart(
    drift: LengthDrift, window: LengthWindow | None, units: ShopUnits, width: float, height: float, label: str
) -> str:
    """The drawing, `width` by `height` mm; empty with fewer than two points. `label` is its text alternative."""
    if len(drift.points) < 2:
        return ""
    scale, unit = (1e3 / MM_PER_INCH, "thou") if units.inch else (1e3, "µm")
    zero = drift.points[0].length_mm

    def change(mm: float) -> float:
        return (mm - zero) * scale

    stops = () if window is None else (change(window.low_mm), change(window.high_mm))
    frame = _frame(drift, stops, scale, width, height)
    parts = [_stop(frame, stop, stop < 0) for stop in stops if frame.low <= stop <= frame.high]
    parts += [_rule(frame, unit), _dates(frame)]
    parts += [_point(frame, one, change(one.length_mm), scale, False) for one in drift.earlier if frame.first <= one.at]
    parts += [
        _trend(frame, drift, change),
        *(_point(frame, one, change(one.length_mm), scale, True) for one in drift.points),
    ]
    return (
        f'<svg class="lengths" role="img" aria-label="{escape(label)}" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">{"".join(parts)}</svg>'
    )


def _frame(drift: LengthDrift, stops: Sequence[float], scale: float, width: float, height: float) -> _Frame:
    zero = drift.points[0].length_mm
    ends = [(one.length_mm - zero + sign * 2 * one.u_mm) * scale for one in drift.points for sign in (-1, 1)]
    low, high = min(ends), max(ends)
    spread = max(high - low, 1e-6)
    for stop in stops:
        if low - STOPS_WITHIN * spread <= stop <= high + STOPS_WITHIN * spread:
            low, high = min(low, stop), max(high, stop)
    margin = 0.12 * (high - low)
    first, last = drift.points[0].at, drift.points[-1].at
    room = max((last - first).total_seconds() / 86400 * 0.04, 0.5)
    return _Frame(
        first - timedelta(days=room),
        (last - first).total_seconds() / 86400 + 2 * room,
        low - margin,
        high + margin,
        width,
        height,
    )


def _stop(frame: _Frame, value: float, below: bool) -> str:
    """A stop of the length check: a post along the whole width, hatched beyond."""
    y = frame.y(value)
    far = y + WALL_DEEP if below else y - WALL_DEEP
    hatch = rect(LEFT, min(y, far), frame.width - RIGHT, max(y, far), WALL_MM, 0)
    return hatch + line(LEFT, y, frame.width - RIGHT, y, 0.5)


def _rule(frame: _Frame, unit: str) -> str:
    """The upright rule: ticks at 1, 2 or 5, their numerals, and the unit above."""
    step = _step(frame.high - frame.low)
    at = math.ceil(frame.low / step) * step
    parts = [line(LEFT, TOP - 1.5, LEFT, frame.height - BOTTOM, 0.3)]
    while at <= frame.high + 1e-9:
        y = frame.y(at)
        parts.append(line(LEFT - 1.6, y, LEFT, y, 0.25))
        parts.append(_words(minus(f"{at + 0.0:.4g}" if abs(at) > 1e-9 else "0"), LEFT - 2.2, y + 1.1, "end"))
        at += step
    parts.append(_words(unit, LEFT - 2.2, TOP - 0.9, "end"))
    return "".join(parts)


def _step(span: float) -> float:
    """1, 2 or 5 times a power of ten, for about `FEW_TICKS` of them."""
    rough = span / FEW_TICKS
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * part for part in (1.0, 2.0, 5.0, 10.0) if power * part >= rough)


def _dates(frame: _Frame) -> str:
    """The rule of time, with as many dates as have room."""
    y = frame.height - BOTTOM
    right = frame.width - RIGHT
    parts = [line(LEFT, y, right, y, 0.3)]
    count = max(1, min(math.floor((right - LEFT) / BETWEEN_DATES), math.ceil(frame.days)))
    for number in range(count + 1):
        at = frame.first + timedelta(days=frame.days * number / count)
        x = LEFT + (right - LEFT) * number / count
        anchor = "start" if number == 0 else "end" if number == count else "middle"
        parts.append(line(x, y, x, y + 1.3, 0.25))
        parts.append(_words(f"{at.day} {at:%b}" + (f" {at:%Y}" if number in (0, count) else ""), x, y + 4.4, anchor))
    return "".join(parts)


def _point(frame: _Frame, one: Measured, value: float, scale: float, of_now: bool) -> str:
    x = frame.x(one.at)
    reach = 2 * one.u_mm * scale
    whisker = line(x, frame.y(value - reach), x, frame.y(value + reach), 0.2) if one.u_mm > 0 else ""
    y, r = frame.y(value), DOT if of_now else OPEN
    return whisker + disc(x - r, y - r, x + r, y + r, "#101418" if of_now else "#ffffff", 0.2)


def _trend(frame: _Frame, drift: LengthDrift, change: object) -> str:
    """The straight line through the points, over their own time."""
    if drift.slope_mm is None or drift.middle is None or drift.level_mm is None or not callable(change):
        return ""
    ends = []
    for at in (drift.points[0].at, drift.points[-1].at):
        months = (at - drift.middle).total_seconds() / 86400 / DAYS_A_MONTH
        ends.append((frame.x(at), frame.y(change(drift.level_mm + drift.slope_mm * months))))
    (x1, y1), (x2, y2) = ends
    return line(x1, y1, x2, y2, 0.35, "" if drift.tells else "1.4 1", INK2)


def _words(words: str, x: float, y: float, anchor: str) -> str:
    return f'<text class="note" x="{x:.2f}" y="{y:.2f}" text-anchor="{anchor}">{escape(words)}</text>'
