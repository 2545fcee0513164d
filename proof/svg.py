"""Plots as plain SVG text: panels with two axes, points with bars, lines."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

INK, GRID, BAND = "#1d2a33", "#d5dbe0", "#eef2f4"
COLOURS = ("#0b6e75", "#b4541a", "#5b4a9e", "#3d7d2f", "#a02f5c", "#7a6a10")
FONT = 'font-family="sans-serif"'


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis of a panel."""

    low: float
    high: float
    ticks: tuple[float, ...]
    label: str
    logarithmic: bool = False

    def part(self, value: float) -> float:
        """0..1 along the axis."""
        if self.logarithmic:
            value = max(value, self.low)
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)


@dataclass(frozen=True, slots=True)
class Panel:
    """A frame with two axes, w x h pixels, its upper left corner at (left, top)."""

    left: float
    top: float
    wide: float
    high: float
    x: Axis
    y: Axis
    title: str

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Pixels of a point."""
        return self.left + self.wide * self.x.part(x), self.top + self.high * (1.0 - self.y.part(y))

    def frame(self) -> str:
        """Axes, ticks, title."""
        rows = [
            f'<rect x="{self.left}" y="{self.top}" width="{self.wide}" height="{self.high}" fill="white" stroke="{GRID}"/>'
        ]
        base = self.top + self.high
        for tick in self.x.ticks:
            u, _ = self.at(tick, self.y.low)
            rows.append(_line(u, self.top, u, base, GRID))
            rows.append(text(u, base + 12, f"{tick:g}", 9, "middle"))
        for tick in self.y.ticks:
            _, v = self.at(self.x.low, tick)
            rows.append(_line(self.left, v, self.left + self.wide, v, GRID))
            rows.append(text(self.left - 4, v + 3, f"{tick:g}", 9, "end"))
        rows.append(text(self.left, self.top - 6, self.title, 11))
        rows.append(text(self.left + self.wide / 2, base + 26, self.x.label, 9, "middle"))
        if self.y.label:
            u, v = self.left - 32, self.top + self.high / 2
            rows.append(
                f'<text x="{u:.1f}" y="{v:.1f}" {FONT} font-size="9" fill="{INK}" text-anchor="middle" '
                f'transform="rotate(-90 {u:.1f} {v:.1f})">{escape(self.y.label)}</text>'
            )
        return "\n".join(rows)

    def line(self, points: Sequence[tuple[float, float]], colour: str, dashed: bool = False) -> str:
        """A line through points."""
        way = " ".join(f"{u:.1f},{v:.1f}" for u, v in (self.at(x, y) for x, y in points))
        dash = ' stroke-dasharray="4 3"' if dashed else ""
        return f'<polyline points="{way}" fill="none" stroke="{colour}" stroke-width="1.4"{dash}/>'

    def point(self, x: float, y: float, colour: str, bar: tuple[float, float] | None = None) -> str:
        """A point, with a bar from low to high."""
        u, v = self.at(x, y)
        drawn = f'<circle cx="{u:.1f}" cy="{v:.1f}" r="2.6" fill="{colour}"/>'
        if bar is None:
            return drawn
        low, high = (self.at(x, end)[1] for end in bar)
        return _line(u, low, u, high, colour) + drawn


def _line(u1: float, v1: float, u2: float, v2: float, colour: str) -> str:
    return f'<line x1="{u1:.1f}" y1="{v1:.1f}" x2="{u2:.1f}" y2="{v2:.1f}" stroke="{colour}"/>'


def text(u: float, v: float, words: str, size: int, anchor: str = "start") -> str:
    """Words at a place."""
    return f'<text x="{u:.1f}" y="{v:.1f}" {FONT} font-size="{size}" fill="{INK}" text-anchor="{anchor}">{escape(words)}</text>'


def picture(wide: float, high: float, parts: Sequence[str], says: str) -> str:
    """The whole SVG; `says` is read aloud where it cannot be seen."""
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {high:g}" width="{wide:g}" height="{high:g}" role="img">',
            f"<title>{escape(says)}</title>",
            f'<rect width="{wide:g}" height="{high:g}" fill="{BAND}"/>',
            *parts,
            "</svg>",
            "",
        ]
    )


def tiled(count: int, columns: int, wide: float, high: float, make: Callable[[int, float, float], str]) -> list[str]:
    """Panels in rows: `make(number, left, top)` draws one whose cell is wide x high pixels."""
    return [make(k, (k % columns) * wide, (k // columns) * high) for k in range(count)]
