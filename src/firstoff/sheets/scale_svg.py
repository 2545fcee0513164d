"""The ruled scale and the four marks as inline SVG: ink, ground and one red; shapes carry it through a grey copier.

Parts carry classes and no colours: `STYLE` gives them those of the page's own tokens (--ink, --ink2, --accent, --on-accent, --band,
--ground), so that one drawing serves on paper and at night.
"""

from __future__ import annotations

import math
from html import escape

from firstoff.sheets.scale import STOP_AT, Case, Earlier, ScaleDrawing, Size
from firstoff.verdict.question import Answer

INK, INK2 = "#101418", "#3c444b"
"""Of the printed sheet, for drawings that are only ever printed."""
HEIGHT, BASE = 42.0, 20.0
BAND_HIGH, WALL_HIGH = 10.0, 12.5
TICKS = {Size.MINOR: (4.2, 0.8), Size.HALF: (6.0, 1.0), Size.MAJOR: (8.5, 1.2)}
POINTS = 32
"""Points of a curve: a hump of 60 px is then drawn to a tenth of a px."""
APART = 1.5
"""Px between two pointers from which both are drawn."""

WALL = "url(#wall)"
DEFS = (
    '<svg class="defs" width="0" height="0" aria-hidden="true"><defs>'
    '<pattern id="wall" width="4.2" height="4.2" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<rect class="hatch-ground" width="4.2" height="4.2"/><line class="hatch" x1="0" y1="0" x2="0" y2="4.2" stroke-width="1.6"/>'
    "</pattern></defs></svg>"
)
"""Put once into a page: the 45° hatch that means no."""

STYLE = """
.hatch-ground { fill: var(--ground); } .hatch { stroke: var(--ink2); }
.scale .rule, .scale .post, .scale .dots { stroke: var(--ink); }
.scale .wall-edge { fill: none; stroke: var(--ink2); }
.scale .band { fill: var(--band); } .scale .band-open, .scale .box { fill: none; stroke: var(--ink); }
.scale .overlap, .scale .pointer { fill: var(--ink); } .scale .stem { stroke: var(--ink); }
.scale .pointer-open { fill: var(--ground); stroke: var(--ink); }
.scale.against .overlap, .scale.against .pointer { fill: var(--accent); } .scale.against .stem { stroke: var(--accent); }
.scale .earlier { fill: none; stroke: var(--ink); } .scale .earlier-stop { stroke: var(--ink2); }
.scale .off { stroke: var(--accent); } .scale .off-head { fill: var(--accent); }
.mark .ring { fill: none; stroke: var(--ink); } .mark .dot { fill: var(--ink); }
.mark .lozenge { fill: var(--ground); stroke: var(--accent); } .mark .block { fill: var(--accent); }
.mark .cross { fill: none; stroke: var(--on-accent); }
"""
"""For the style of every page that holds a scale or a mark."""


def scale_svg(drawing: ScaleDrawing, margin: float, label: str) -> str:
    """One scale, `drawing.width` + 2 · `margin` px wide. `label` is its text alternative. A count has no drawing."""
    if drawing.case is Case.COUNT:
        return ""
    wide = drawing.width + 2 * margin
    against = " against" if drawing.accent else ""
    return (
        f'<svg class="scale{against}" role="img" aria-label="{escape(label)}" width="{wide:g}" height="{HEIGHT:g}" '
        f'viewBox="{-margin:g} 0 {wide:g} {HEIGHT:g}">{scale_parts(drawing)}</svg>'
    )


def scale_parts(drawing: ScaleDrawing) -> str:
    """All that is drawn of a scale, to be put into an SVG: the left end of the rule lies at 0, its baseline at `BASE`."""
    return "".join([_nothing(drawing)] if drawing.case is Case.NOTHING else _parts(drawing))


def _parts(drawing: ScaleDrawing) -> list[str]:
    parts = []
    earlier = drawing.earlier
    if drawing.stop is not None and drawing.slope is not None:
        parts.append(_wall(drawing))
    if drawing.band is not None and not drawing.off:
        parts.append(_band(drawing))
        if drawing.overlap is not None:
            parts.append(_overlap(drawing))
    parts.append(_line(0, BASE, drawing.end, BASE, 1.3))
    parts += [_line(tick.at, BASE, tick.at, BASE + TICKS[tick.size][0], TICKS[tick.size][1]) for tick in drawing.ticks]
    parts += [_figure(numeral.left, numeral.text) for numeral in drawing.numerals]
    if drawing.unit:
        parts.append(
            f'<text x="{drawing.width + 9:.1f}" y="40.5" text-anchor="end" class="figure unit">{escape(drawing.unit)}</text>'
        )
    if drawing.stop is not None:
        parts.append(_line(drawing.stop, BASE - 15.5, drawing.stop, BASE + 1.5, 2.4, "post"))
    if earlier is not None:
        parts.append(_earlier(drawing, earlier))
    if drawing.off:
        parts.append(_off(drawing))
    if drawing.pointer is not None:
        parts.append(_pointer(drawing))
    if drawing.phrase:
        parts.append(_missing(drawing))
    return parts


def _line(x1: float, y1: float, x2: float, y2: float, wide: float, part: str = "rule", dash: str = "") -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line class="{part}" x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke-width="{wide}"{dashes}/>'
    )


def _figure(left: float, text: str) -> str:
    return f'<text x="{left:.1f}" y="40.5" class="figure">{escape(text)}</text>'


def _hump(drawing: ScaleDrawing | Earlier, at: float) -> float:
    """Height of the band at a place, over the baseline."""
    if drawing.band is None or drawing.pointer is None:
        return 0.0
    half = (drawing.pointer - drawing.band[0]) if at <= drawing.pointer else (drawing.band[1] - drawing.pointer)
    t = 2.0 * abs(at - drawing.pointer) / max(half, 1e-9)
    return BAND_HIGH * max(0.0, (math.exp(-t * t / 2) - math.exp(-2.0)) / (1 - math.exp(-2.0)))


def _raised(drawing: ScaleDrawing, at: float) -> float:
    """Height of the wall: the probability that the stop has been passed, an S from where its doubt begins to where it ends."""
    if drawing.slope is None or drawing.stop is None:
        return 0.0
    low, high = drawing.slope
    if at >= high:
        return WALL_HIGH
    if at <= low:
        return 0.0
    share = (at - low) / (high - low)
    return WALL_HIGH * (3 - 2 * share) * share * share


def _curve(low: float, high: float) -> list[float]:
    return [low + (high - low) * n / POINTS for n in range(POINTS + 1)]


def _area(points: list[tuple[float, float]]) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in points)


def _wall(drawing: ScaleDrawing) -> str:
    low, high = drawing.slope or (0.0, 0.0)
    places = [*(_curve(low, high) if high > low else [high]), drawing.end]
    edge = [(at, BASE - _raised(drawing, at)) for at in places]
    shape = [(low, BASE), *edge, (drawing.end, BASE)]
    return (
        f'<polygon points="{_area(shape)}" fill="{WALL}"/>'
        f'<polyline class="wall-edge" points="{_area(edge)}" stroke-width="0.8"/>'
    )


def _band(drawing: ScaleDrawing) -> str:
    low, high = drawing.band or (0.0, 0.0)
    points = [(at, BASE - _hump(drawing, at)) for at in _curve(low, high)]
    if drawing.open:
        return f'<polyline class="band-open" points="{_area(points)}" stroke-width="1" stroke-dasharray="2 1.6"/>'
    return f'<polygon class="band" points="{_area([(low, BASE), *points, (high, BASE)])}"/>'


def _overlap(drawing: ScaleDrawing) -> str:
    low, high = drawing.overlap or (0.0, 0.0)
    points = [(at, BASE - min(_hump(drawing, at), _raised(drawing, at))) for at in _curve(low, high)]
    return f'<polygon class="overlap" points="{_area([(low, BASE), *points, (high, BASE)])}"/>'


def _pointer(drawing: ScaleDrawing) -> str:
    at = drawing.pointer or 0.0
    shape = _area([(at - 4.8, BASE - 18), (at + 4.8, BASE - 18), (at, BASE - 10.6)])
    head = f'<polygon class="pointer{"-open" if drawing.open else ""}" points="{shape}" stroke-width="{1.3 if drawing.open else 0}"/>'
    return head + _line(at, BASE - 10.6, at, BASE, 1.8, "stem")


def _off(drawing: ScaleDrawing) -> str:
    """Beyond the rule: a broken line with an arrowhead at its end, inside the wall."""
    end, y = drawing.end, BASE - 6.2
    begin = STOP_AT * drawing.width + (end - STOP_AT * drawing.width) * 0.45
    head = _area([(end, y), (end - 7, y - 4), (end - 7, y + 4)])
    return _line(begin, y, end - 7, y, 1.8, "off", "5 3") + f'<polygon class="off-head" points="{head}"/>'


def _earlier(drawing: ScaleDrawing, earlier: Earlier) -> str:
    """How it stood before, dashed and never filled: what is solid is how it stands now."""
    parts = []
    if earlier.stop is not None:
        parts.append(_line(earlier.stop, BASE - 15.5, earlier.stop, BASE, 1.4, "earlier-stop", "3 2"))
    if earlier.off:
        y = BASE - 14.2  # over the wall, clear of the arrow of now
        begin = STOP_AT * drawing.width + (drawing.end - STOP_AT * drawing.width) * 0.35
        head = _area([(drawing.end - 6, y - 3.4), (drawing.end, y), (drawing.end - 6, y + 3.4)])
        parts.append(_line(begin, y, drawing.end, y, 1.2, "earlier", "3 2.2"))
        parts.append(f'<polyline class="earlier" points="{head}" stroke-width="1.2"/>')
    elif earlier.pointer is not None:
        low, high = earlier.band or (earlier.pointer, earlier.pointer)
        at = earlier.pointer
        hump = _area([(place, BASE - _hump(earlier, place)) for place in _curve(low, high)])
        head = _area([(at - 4.3, BASE - 17.5), (at + 4.3, BASE - 17.5), (at, BASE - 10.8)])
        parts.append(f'<polyline class="earlier" points="{hump}" stroke-width="1.1" stroke-dasharray="3 2.2"/>')
        if drawing.pointer is None or abs(at - drawing.pointer) >= APART:
            parts.append(f'<polygon class="earlier" points="{head}" stroke-width="1" stroke-dasharray="2 1.4"/>')
            parts.append(_line(at, BASE - 10.6, at, BASE, 1.2, "earlier", "2.2 1.8"))
    return "".join(parts)


def _missing(drawing: ScaleDrawing) -> str:
    text = escape(drawing.phrase)
    if drawing.case is Case.NO_STOP:
        left = (drawing.pointer or 0.0) + 8
        middle = (left + drawing.end) / 2
        return (
            f'<rect class="box" x="{left:.1f}" y="{BASE - 14:.1f}" width="{drawing.end - left:.1f}" height="14" '
            f'stroke-width="1" stroke-dasharray="1.5 2.5"/><text x="{middle:.1f}" y="{BASE - 3.6:.1f}" text-anchor="middle" class="figure">{text}</text>'
        )
    stop = drawing.stop or drawing.end
    return (
        _line(0, BASE - 3, stop, BASE - 3, 1.4, "dots", "1.5 3")
        + f'<text x="{stop / 2:.1f}" y="{BASE - 6.5:.1f}" text-anchor="middle" class="figure">{text}</text>'
    )


def _nothing(drawing: ScaleDrawing) -> str:
    return (
        _line(0, BASE, drawing.width, BASE, 1.3, "rule", "5 4")
        + f'<text x="0" y="{BASE - 6:.1f}" class="figure">{escape(drawing.phrase)}</text>'
    )


# --- marks -----------------------------------------------------------------------------------------------------------

_MARKS = {
    Answer.CLEAR: (
        '<circle class="ring" cx="12" cy="12" r="9.8" stroke-width="1.9"/>'
        '<path class="ring" d="M7.4 12.4 L10.8 15.6 L16.6 8.8" stroke-width="1.9"/>'
    ),
    Answer.CARE: (
        '<path class="lozenge" d="M12 1.6 L22.4 12 L12 22.4 L1.6 12 Z" stroke-width="1.9" stroke-linejoin="miter"/>'
        '<path class="block" d="M1.6 12 L22.4 12 L12 22.4 Z"/>'
    ),
    Answer.STOP: (
        '<rect class="block" x="1.6" y="1.6" width="20.8" height="20.8"/>'
        '<path class="cross" d="M7.4 7.4 L16.6 16.6 M16.6 7.4 L7.4 16.6" stroke-width="3"/>'
    ),
    Answer.UNJUDGED: (
        '<circle class="ring" cx="12" cy="12" r="9.6" stroke-width="1.9" stroke-dasharray="3.35 2.68"/>'
        '<path class="ring" d="M9.2 9.9 A2.9 2.9 0 1 1 13.4 12.3 Q12 13 12 14.4" stroke-width="1.9"/>'
        '<rect class="dot" x="11" y="16" width="2" height="2"/>'
    ),
}


def mark_svg(answer: Answer, size: float, unit: str = "mm") -> str:
    """The mark of an answer; its word stands beside it, so it is hidden from readers."""
    return f'<svg class="mark" aria-hidden="true" viewBox="0 0 24 24" style="width:{size:g}{unit};height:{size:g}{unit}">{_MARKS[answer]}</svg>'
