"""The two small rules under a pocket: the window of a tool's length check, and how much of its edge's life is used.

Both are drawn as the ruled scale is: right is nearer trouble, hatched is no, a band stands for doubt (±2u), what is missing is dotted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstoff.sheets.html_text import html
from firstoff.sheets.scale_svg import WALL

WIDE, HALF, BASE = 128.0, 58.0, 20.0
STOP_SHARE = 0.7
"""Both stops of a window stand at this share of half its width (LOOK, 3)."""
LIFE_STOP = 0.74 * (WIDE - 12)
LEFT = 6.0
BAND_HIGH, WALL_HIGH, LEAST_BAND = 10.0, 12.5, 2.0
POINTS = 20


@dataclass(frozen=True, slots=True)
class WindowShown:
    """What is drawn of a length window; mm."""

    limit_mm: float | None
    """The tool may be found so much shorter, or longer; None where nobody knows."""
    found_mm: float | None
    """Last reading less the length that it was held against; None where there is no reading."""
    u_mm: float
    against: bool


def window_svg(one: WindowShown, low: str, high: str, label: str) -> str:
    """Two stops with zero in the middle; `low` and `high` are the numerals of the stops."""
    middle = WIDE / 2
    parts = []
    if one.limit_mm is not None and one.limit_mm > 0:
        stop = STOP_SHARE * HALF
        parts += [_wall(LEFT, middle - stop), _wall(middle + stop, WIDE - LEFT)]
    if one.found_mm is not None and one.limit_mm:
        parts.append(_found(one, middle))
    elif one.found_mm is not None:
        parts.append(_pointer(middle, "pointer-open"))
    dash = "" if one.found_mm is not None else ' stroke-dasharray="1.5 3"'
    parts.append(f'<path class="rule" d="M{LEFT:g} {BASE:g}H{WIDE - LEFT:g}" stroke-width="1.3"{dash}/>')
    if one.limit_mm:
        parts += [_ticks(middle), _numerals(low, high, middle)]
    return _drawing(parts, one.against, label, 44)


def _ticks(middle: float) -> str:
    stop = STOP_SHARE * HALF
    marks = [(0.0, 8.5), *((side * stop * n / 5, 6.0 if n == 5 else 4.2) for side in (-1, 1) for n in range(1, 6))]
    ticks = "".join(
        f'<path class="rule" d="M{middle + at:.1f} {BASE:g}v{tall:g}" stroke-width="0.9"/>' for at, tall in marks
    )
    posts = "".join(
        f'<path class="post" d="M{middle + side * stop:.1f} {BASE - 15.5:g}V{BASE + 1.5:g}" stroke-width="2.4"/>'
        for side in (-1, 1)
    )
    return ticks + posts


def _numerals(low: str, high: str, middle: float) -> str:
    stop = STOP_SHARE * HALF
    return "".join(
        f'<text class="figure" x="{middle + side * stop:.1f}" y="40.5" text-anchor="middle">{html(words)}</text>'
        for side, words in ((-1, low), (1, high))
    )


def _found(one: WindowShown, middle: float) -> str:
    scale = STOP_SHARE * HALF / (one.limit_mm or 1.0)
    at = middle + (one.found_mm or 0.0) * scale
    if not LEFT + 5 <= at <= WIDE - LEFT - 5:
        side = 1 if at > middle else -1
        end = WIDE - LEFT if side > 0 else LEFT
        return (
            f'<path class="off" d="M{end - side * 18:g} {BASE - 6:g}h{side * 11:g}" stroke-width="1.8" stroke-dasharray="4 2.5"/>'
            f'<path class="off-head" d="M{end:g} {BASE - 6:g}l{-side * 7:g} -4v8z"/>'
        )
    half = max(2 * one.u_mm * scale, LEAST_BAND)
    return _hump(at, half) + _pointer(at, "pointer")


def _hump(at: float, half: float) -> str:
    """From −2u to +2u, kept on the rule."""
    points = []
    for n in range(POINTS + 1):
        t = 4 * n / POINTS - 2
        x = min(max(at + half * t / 2, LEFT), WIDE - LEFT)
        height = BAND_HIGH * (math.exp(-t * t / 2) - math.exp(-2)) / (1 - math.exp(-2))
        points.append(f"{x:.1f},{BASE - max(height, 0.0):.2f}")
    return f'<polygon class="band" points="{" ".join(points)}"/>'


def _pointer(at: float, name: str) -> str:
    y = BASE - 18
    return (
        f'<path class="{name}" d="M{at - 4.8:.1f} {y:g}h9.6l-4.8 7.4z" stroke-width="{1.3 if name != "pointer" else 0}"/>'
        f'<path class="stem" d="M{at:.1f} {BASE - 10.6:g}V{BASE:g}" stroke-width="1.8"/>'
    )


def _wall(x0: float, x1: float) -> str:
    return f'<rect x="{x0:.1f}" y="{BASE - WALL_HIGH:g}" width="{x1 - x0:.1f}" height="{WALL_HIGH:g}" fill="{WALL}"/>'


@dataclass(frozen=True, slots=True)
class LifeShown:
    """What is drawn of an edge's life, s."""

    used: float | None
    used_u: float
    life: float | None
    life_u: float
    against: bool


def life_svg(one: LifeShown, label: str) -> str:
    """Used from the left; the life is the stop at 74 %, its wall as steep as it is sure."""
    end = WIDE - LEFT
    parts = []
    if one.life:
        scale = LIFE_STOP / one.life
        parts.append(_life_wall(LEFT + LIFE_STOP, 2 * one.life_u * scale, end))
        if one.used is not None:
            parts.append(_used(LEFT + one.used * scale, end))
        ticks = "".join(
            f'<path class="rule" d="M{LEFT + LIFE_STOP * n / 10:.1f} {BASE:g}v{6 if n % 5 == 0 else 3.5:g}" stroke-width="0.8"/>'
            for n in range(14)
            if LEFT + LIFE_STOP * n / 10 <= end
        )
        parts.append(ticks)
    elif one.used is not None:
        parts.append(_pointer(LEFT + 0.37 * (WIDE - 12), "pointer-open"))
    dash = "" if one.life else ' stroke-dasharray="1.5 3"'
    parts.append(f'<path class="rule" d="M{LEFT:g} {BASE:g}H{end:g}" stroke-width="1.3"{dash}/>')
    if one.life:
        at = LEFT + LIFE_STOP
        parts.append(f'<path class="post" d="M{at:.1f} {BASE - 15.5:g}V{BASE + 1.5:g}" stroke-width="2.4"/>')
        if one.used is not None:
            where = LEFT + one.used * LIFE_STOP / one.life
            if where <= end - 5:
                parts.append(_pointer(where, "pointer"))
            else:
                parts.append(f'<path class="off-head" d="M{end:g} {BASE - 12:g}l-7 -4v8z"/>')
    return _drawing(parts, one.against, label, 28)


def _used(at: float, end: float) -> str:
    return f'<rect class="used" x="{LEFT:g}" y="{BASE - 6:g}" width="{max(min(at, end) - LEFT, 0.0):.1f}" height="6"/>'


def _life_wall(stop: float, half: float, end: float) -> str:
    """An S from −2u to +2u."""
    low, high = max(stop - half, LEFT), min(stop + half, end)
    shares = [n / POINTS for n in range(POINTS + 1)]
    edge = [f"{low + (high - low) * one:.1f},{BASE - WALL_HIGH * one * one * (3 - 2 * one):.2f}" for one in shares]
    edge.append(f"{end:g},{BASE - WALL_HIGH:g}")
    shape = " ".join([f"{low:.1f},{BASE:g}", *edge, f"{end:g},{BASE:g}"])
    return f'<polygon points="{shape}" fill="{WALL}"/><polyline class="wall-edge" points="{" ".join(edge)}" stroke-width="0.8"/>'


def _drawing(parts: list[str], against: bool, label: str, tall: float) -> str:
    name = "scale small-scale against" if against else "scale small-scale"
    return f'<svg class="{name}" role="img" aria-label="{html(label)}" viewBox="0 0 {WIDE:g} {tall:g}">{"".join(parts)}</svg>'
