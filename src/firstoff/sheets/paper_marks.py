"""The strokes of a drawing on paper: lines, boxes, figures and dimensions, all in millimetres of the print."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from firstoff.sheets.paper_text import SMALL, width_of
from firstoff.sheets.scale_svg import INK, INK2, WALL

TEXT_MM = 3.528
"""10 pt, as a PDF sets its notes; a page for a browser sets them in 9 pt of whatever font is there."""
PAPER, STOCK = "#ffffff", "#eef0ee"
WALL_MM = WALL.replace("wall", "wall-mm")
KEPT_OUT = "url(#kept-out-mm)"
DEFS_MM = (
    '<svg class="defs" width="0" height="0" aria-hidden="true"><defs>'
    '<pattern id="wall-mm" width="1.1" height="1.1" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<rect width="1.1" height="1.1" fill="{PAPER}"/><line x1="0" y1="0" x2="0" y2="1.1" stroke="{INK2}" stroke-width="0.4"/>'
    "</pattern>"
    '<pattern id="kept-out-mm" width="0.9" height="0.9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<line x1="0" y1="0" x2="0" y2="0.9" stroke="{INK2}" stroke-width="0.22"/>'
    "</pattern></defs></svg>"
)
"""The hatches for drawings in mm: beyond a limit; and, finer, where no tool may go."""
CLEAR = 0.7
"""Paper left free between a dimension line and its figure, mm."""

Box2 = tuple[float, float, float, float]
"""Left, top, right, bottom on paper."""


def letters_mm(words: str) -> float:
    """Width of a note in a drawing, at most: 9 pt of a browser's usual fonts are wider than 10 pt of the sheets' own condensed one."""
    return width_of(words, SMALL)


def line(x1: float, y1: float, x2: float, y2: float, wide: float, dash: str = "", colour: str = INK) -> str:
    return f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke="{colour}" stroke-width="{wide}"{_dashed(dash)}/>'


def rect(x0: float, y0: float, x1: float, y1: float, fill: str, wide: float, dash: str = "") -> str:
    stroke = f' stroke="{INK}" stroke-width="{wide}"{_dashed(dash)}' if wide else ""
    return f'<rect x="{x0:.2f}" y="{y0:.2f}" width="{max(x1 - x0, 0.1):.2f}" height="{max(y1 - y0, 0.1):.2f}" fill="{fill}"{stroke}/>'


def disc(x0: float, y0: float, x1: float, y1: float, fill: str, wide: float) -> str:
    """A circle in the box that goes round it."""
    return (
        f'<circle cx="{(x0 + x1) / 2:.2f}" cy="{(y0 + y1) / 2:.2f}" r="{abs(x1 - x0) / 2:.2f}" fill="{fill}" '
        f'stroke="{INK}" stroke-width="{wide}"/>'
    )


def strokes(lines: Iterable[Iterable[tuple[float, float]]], wide: float, dash: str = "", fill: str = "none") -> str:
    """Lines through places on paper, as one path."""
    data = "".join("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in one) for one in lines)
    return (
        f'<path d="{data}" fill="{fill}" fill-rule="evenodd" stroke="{INK}" stroke-width="{wide}"{_dashed(dash)}/>'
        if data
        else ""
    )


def text(x: float, y: float, words: str, anchor: str = "start", bold: bool = False) -> str:
    weight = ' font-weight="600"' if bold else ""
    return f'<text class="note" x="{x:.2f}" y="{y:.2f}" text-anchor="{anchor}"{weight}>{escape(words)}</text>'


@dataclass(frozen=True, slots=True)
class Dimension:
    """A dimension line with short bars at its ends and its figure in a gap; beside it where the line is too short: to the right, or to the
    left where it stands `left` of what it measures."""

    x1: float
    y1: float
    x2: float
    y2: float
    words: str
    left: bool = False

    @property
    def upright(self) -> bool:
        return abs(self.x2 - self.x1) < 1e-6

    @property
    def svg(self) -> str:
        bar = 1.2
        parts = [line(*ends, 0.25, colour=INK2) for ends in self._lines()]
        for x, y in ((self.x1, self.y1), (self.x2, self.y2)):
            parts.append(line(x - bar, y, x + bar, y, 0.25) if self.upright else line(x, y - bar, x, y + bar, 0.25))
        x, y, anchor = self._figure()
        return "".join([*parts, text(x, y, self.words, anchor, bold=True)])

    def _lines(self) -> list[Box2]:
        """The line, with a gap where its figure stands in it."""
        x, y, anchor = self._figure()
        if anchor != "middle":
            return [(self.x1, self.y1, self.x2, self.y2)]
        if self.upright:
            top, bottom = sorted((self.y1, self.y2))
            return [(x, top, x, y - TEXT_MM * 0.75 - CLEAR), (x, y + CLEAR, x, bottom)]
        left, right = sorted((self.x1, self.x2))
        half = letters_mm(self.words) / 2 + CLEAR
        return [(left, self.y1, x - half, self.y1), (x + half, self.y1, right, self.y1)]

    @property
    def box(self) -> Box2:
        """What line and figure cover."""
        x, y, anchor = self._figure()
        wide = letters_mm(self.words)
        start = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        xs, ys = (self.x1, self.x2, start, start + wide), (self.y1, self.y2, y - TEXT_MM, y)
        return min(xs), min(ys), max(xs), max(ys)

    def _figure(self) -> tuple[float, float, str]:
        x, y = (self.x1 + self.x2) / 2, (self.y1 + self.y2) / 2 + 1.1
        if self.upright:
            if abs(self.y2 - self.y1) > TEXT_MM + 3:
                return x, y, "middle"
            return (x - 1.8, y, "end") if self.left else (x + 1.8, y, "start")
        if abs(self.x2 - self.x1) > letters_mm(self.words) + 2 * CLEAR + 3:
            return x, y, "middle"
        return max(self.x1, self.x2) + 1.4, y, "start"


def _dashed(dash: str) -> str:
    return f' stroke-dasharray="{dash}"' if dash else ""
