"""Small drawings of one fact: a curve over speed, in a row and large; and what a value was over time, in steps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

from firstoff.sheets.html_text import html
from firstoff.sheets.wording import minus

SPARK_WIDE, SPARK_TALL = 76.0, 20.0
WIDE, TALL = 340.0, 150.0
LEFT, RIGHT, TOP, BOTTOM = 52.0, 14.0, 20.0, 26.0
Point = tuple[float, float]


def spark_svg(points: Sequence[Point]) -> str:
    """The course of a curve, from zero at the bottom; hidden from readers, the words beside it say its ends."""
    if len(points) < 2:
        return ""
    most_x, most_y = max(x for x, _ in points), max(max(y for _, y in points), 1e-12)
    least_x = min(x for x, _ in points)
    line = "L".join(
        f"{1 + (SPARK_WIDE - 2) * (x - least_x) / max(most_x - least_x, 1e-12):.1f} {SPARK_TALL - 2 - (SPARK_TALL - 5) * y / most_y:.1f}"
        for x, y in points
    )
    return (
        f'<svg class="spark" aria-hidden="true" width="{SPARK_WIDE:g}" height="{SPARK_TALL:g}" viewBox="0 0 {SPARK_WIDE:g} {SPARK_TALL:g}">'
        f'<path class="spark-base" d="M0 {SPARK_TALL - 1.5:g}H{SPARK_WIDE:g}"/><path class="spark-line" d="M{line}"/></svg>'
    )


def curve_svg(points: Sequence[tuple[float, float, float]], across: str, upward: str, label: str) -> str:
    """A curve with its rules: (x, y, standard uncertainty of y); whiskers are ±2u. Units stand at the ends of the rules."""
    if len(points) < 2:
        return ""
    most = max(y + 2 * u for _, y, u in points)
    first, last = min(x for x, _, _ in points), max(x for x, _, _ in points)
    x_of, y_of = _scales((first, last), (0.0, most))
    line = "L".join(f"{x_of(x):.1f} {y_of(y):.1f}" for x, y, _ in points)
    whiskers = "".join(f"M{x_of(x):.1f} {y_of(y - 2 * u):.1f}V{y_of(y + 2 * u):.1f}" for x, y, u in points if u > 0)
    dots = "".join(f'<circle class="dot" cx="{x_of(x):.1f}" cy="{y_of(y):.1f}" r="2.6"/>' for x, y, _ in points)
    ticks = [(x_of(x), f"{x:,.0f}".replace(",", "\u202f")) for x in _apart(x for x, _, _ in points)]
    parts = [_upright(0.0, most, y_of, upward), _flat(ticks, across)]
    parts.append(f'<path class="whisker" d="{whiskers}"/><path class="course" d="M{line}"/>{dots}')
    return _svg(parts, label)


def steps_svg(past: Sequence[tuple[datetime, float, float]], unit: str, label: str) -> str:
    """What a value was from when on: (moment, value, standard uncertainty); a grey band of ±2u stands round each step. Empty with fewer
    than three."""
    if len(past) < 3:
        return ""
    low, high = min(value - 2 * u for _, value, u in past), max(value + 2 * u for _, value, u in past)
    spare = 0.1 * (high - low) or abs(high) * 0.1 or 1.0
    begin, end = past[0][0], past[-1][0]
    length = max((end - begin).total_seconds(), 1.0)
    x_of, y_of = _scales((0.0, 1.12 * length), (low - spare, high + spare))
    starts = [(at - begin).total_seconds() for at, _, _ in past]
    ends = [*starts[1:], 1.12 * length]
    bands = "".join(
        f'<rect class="step-band" x="{x_of(start):.1f}" y="{y_of(value + 2 * u):.1f}" width="{x_of(stop) - x_of(start):.1f}" height="{y_of(value - 2 * u) - y_of(value + 2 * u):.1f}"/>'
        for (_, value, u), start, stop in zip(past, starts, ends, strict=True)
    )
    course = f"M{x_of(0):.1f} {y_of(past[0][1]):.1f}" + "".join(
        f"H{x_of(start):.1f}V{y_of(value):.1f}" for (_, value, _), start in zip(past, starts, strict=True)
    )
    ticks = [(x_of(0.0), f"{begin.day} {begin:%b %Y}"), (x_of(length), f"{end.day} {end:%b %Y}")]
    if ticks[1][0] - ticks[0][0] < 90:
        ticks = ticks[:1]
    parts = [
        _upright(low - spare, high + spare, y_of, unit),
        _flat(ticks, ""),
        bands,
        f'<path class="course" d="{course}H{x_of(1.12 * length):.1f}"/>',
    ]
    return _svg(parts, label)


class _Scale:
    def __init__(self, values: Point, places: Point) -> None:
        self.values, self.places = values, places

    def __call__(self, value: float) -> float:
        (low, high), (first, last) = self.values, self.places
        return first + (last - first) * (value - low) / ((high - low) or 1.0)


def _scales(across: Point, upward: Point) -> tuple[_Scale, _Scale]:
    return _Scale(across, (LEFT, WIDE - RIGHT)), _Scale(upward, (TALL - BOTTOM, TOP))


def _apart(values: object) -> list[float]:
    """Ends and what lies well between them."""
    ordered = sorted(set(values))  # type: ignore[call-overload]
    least = (ordered[-1] - ordered[0]) / 5
    kept = [ordered[0]]
    kept += [one for one in ordered[1:-1] if one - kept[-1] >= least and ordered[-1] - one >= least]
    return [*kept, ordered[-1]] if len(ordered) > 1 else kept


def _upright(low: float, high: float, y_of: _Scale, unit: str) -> str:
    power = 10.0 ** math.floor(math.log10((high - low) / 3))
    step = next(one * power for one in (1, 2, 5, 10) if one * power >= (high - low) / 3.001)
    parts = [f'<path class="rule" d="M{LEFT:g} {TOP:g}V{TALL - BOTTOM:g}"/>']
    for number in range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1):
        y = y_of(number * step)
        parts.append(f'<path class="tick" d="M{LEFT:g} {y:.1f}h-6"/>')
        parts.append(
            f'<text class="figure end" x="{LEFT - 9:g}" y="{y + 4:.1f}">{minus(f"{number * step:.6g}")}</text>'
        )
    parts.append(f'<text class="unit" x="{LEFT - 9:g}" y="{TOP - 9:g}">{html(unit)}</text>')
    return "".join(parts)


def _flat(ticks: Sequence[tuple[float, str]], unit: str) -> str:
    y = TALL - BOTTOM
    parts = [f'<path class="rule" d="M{LEFT:g} {y:g}H{WIDE - RIGHT:g}"/>']
    for x, words in ticks:
        parts.append(
            f'<path class="tick" d="M{x:.1f} {y:g}v6"/><text class="figure" x="{x:.1f}" y="{y + 19:g}">{html(words)}</text>'
        )
    if unit:
        parts.append(f'<text class="unit end" x="{WIDE:g}" y="{y - 6:g}">{html(unit)}</text>')
    return "".join(parts)


def _svg(parts: Sequence[str], label: str) -> str:
    return f'<svg class="fact-plot" role="img" aria-label="{html(label)}" viewBox="0 0 {WIDE:g} {TALL:g}" width="{WIDE:g}" height="{TALL:g}">{"".join(parts)}</svg>'
