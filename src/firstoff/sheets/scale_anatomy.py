"""The ruled scale explained: one drawn large with its parts named, and a small one of each case. Drawn by what draws all others."""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.sheets.html_text import html
from firstoff.sheets.scale import SHEET, Doubtful, Held, ScaleDrawing, draw_scale
from firstoff.sheets.scale_svg import BASE, HEIGHT, mark_svg, scale_parts, scale_svg
from firstoff.verdict.question import Answer

LARGE = 2.3
"""How much the explained scale is larger than those of a page."""
RULE = 300.0
ABOVE, BELOW, SIDE = 96.0, 78.0, 64.0
"""Room for names round the explained scale, px."""
SMALL = 232.0


@dataclass(frozen=True, slots=True)
class ScaleCase:
    """One case with what it means."""

    answer: str
    mark: str
    means: str
    svg: str


@dataclass(frozen=True, slots=True)
class _Name:
    """A part's name: in bold and plainly, what it points at, and where its words stand (px of the whole drawing)."""

    part: str
    means: str
    to: tuple[float, float]
    at: tuple[float, float]
    anchor: str = "start"


def _about(value: float, u: float) -> Doubtful:
    return Doubtful(value, value - 2 * u, value + 2 * u)


def anatomy_svg() -> str:
    """A demand of 14.2(46) µm held against 20.0(5) µm, its parts named."""
    drawing = draw_scale(Held(_about(14.2, 4.6), _about(20.0, 0.5), "µm"), Answer.CARE, RULE, SHEET)
    wide, tall = 2 * SIDE + LARGE * (RULE + 2 * SHEET.margin), ABOVE + BELOW + LARGE * HEIGHT
    names = "".join(_named(one) for one in _names(drawing))
    label = "A ruled scale with its parts named: pointer, band, end stop, its slope, the hatched wall, ticks and the overlap"
    return (
        f'<svg class="anatomy" role="img" aria-label="{label}" viewBox="0 0 {wide:.0f} {tall:.0f}">'
        f'<g class="scale against" transform="translate({SIDE + LARGE * SHEET.margin:.1f} {ABOVE:.1f}) scale({LARGE})">{scale_parts(drawing)}</g>{names}</svg>'
    )


def _across(at: float) -> float:
    """From a place along the rule to px of the whole drawing."""
    return SIDE + LARGE * (SHEET.margin + at)


def _down(at: float) -> float:
    return ABOVE + LARGE * at


def _names(drawing: ScaleDrawing) -> list[_Name]:
    band, slope, pointer, stop = drawing.band, drawing.slope, drawing.pointer, drawing.stop
    if band is None or slope is None or pointer is None or stop is None:
        raise ValueError("the explained scale must have both a demand and a capacity")
    x, y = _across, _down
    tick = next(one.at for one in drawing.ticks if one.at > 0.1 * RULE)
    low = ABOVE + LARGE * HEIGHT + 30
    return [
        _Name("band", "two uncertainties to each side", (x(band[0] + 0.3 * (pointer - band[0])), y(BASE - 3)), (x(band[0]) - 20, ABOVE - 26), "end"),
        _Name("pointer", "the demand, best estimate", (x(pointer), y(BASE - 18)), (x(pointer) - 40, ABOVE - 62), "end"),
        _Name("end stop", "the capacity", (x(stop), y(BASE - 15.5)), (x(stop) - 30, ABOVE - 44), "end"),
        _Name("its slope", "how surely it has been passed", (x(slope[1]), y(BASE - 11)), (x(slope[1]) + 26, ABOVE - 62)),
        _Name("forbidden", "hatched", (x(0.5 * (slope[1] + drawing.end)), y(BASE - 8)), (x(drawing.end) - 34, ABOVE - 14)),
        _Name("ticks", "parts, halves and figures", (x(tick), y(BASE + 5)), (x(tick) + 26, low)),
        _Name("overlap, in red", "the chance, seen", (x(stop - 2.5), y(BASE - 0.8)), (x(stop) - 90, low), "end"),
    ]  # fmt: skip


def _named(name: _Name) -> str:
    (x, y), (left, base) = name.to, name.at
    begin = left - 6 if name.anchor == "start" else left + 6
    turn = begin - 10 if name.anchor == "start" else begin + 10
    return (
        f'<path class="leader-plain" d="M{begin:.1f} {base - 4:.1f}H{turn:.1f}L{x:.1f} {y:.1f}"/>'
        f'<text class="name" x="{left:.1f}" y="{base:.1f}" text-anchor="{name.anchor}">{html(name.part)}</text>'
        f'<text class="means" x="{left:.1f}" y="{base + 18:.1f}" text-anchor="{name.anchor}">{html(name.means)}</text>'
    )


_CASES = (
    (Answer.CLEAR, "daylight between band and stop", Held(_about(452, 48), _about(640, 25), "W"), None),
    (Answer.CARE, "the band leans on the stop", Held(_about(310, 60), _about(460, 90), "N"), None),
    (Answer.STOP, "the pointer stands behind the stop", Held(_about(25.6, 0.3), _about(22.0, 0.1), "mm"), None),
    (Answer.STOP, "off the rule: the value stands in the words", Held(_about(61.0, 0.4), _about(22.0, 0.1), "mm"), None),
    (Answer.UNJUDGED, "no capacity known: an open pointer", Held(_about(2.8, 0.06), None, "mm"), None),
    (Answer.UNJUDGED, "no demand known: a dotted line", Held(None, _about(20, 0.5), "µm"), None),
    (Answer.CLEAR, "must stay above: the numerals run down", Held(_about(11.2, 1.5), _about(4.0, 1.0), "µm", turned=True), None),
    (Answer.CLEAR, "as it stood before, dashed, and as it stands", Held(_about(14.2, 2.0), _about(20, 0.5), "µm"), Held(_about(14.2, 4.6), _about(20, 0.5), "µm")),
)  # fmt: skip


def scale_cases() -> list[ScaleCase]:
    """Every way that a scale can look."""
    found = []
    for answer, means, held, before in _CASES:
        drawing = draw_scale(held, answer, SMALL, SHEET, before=before)
        found.append(
            ScaleCase(
                answer.value, mark_svg(answer, 20, "px"), means, scale_svg(drawing, SHEET.margin, f"{answer}: {means}")
            )
        )
    return found
