"""The lanes along the program as part of a page: tool brackets at the top, one lane a load, one rule of time at the bottom.

Each lane is drawn 600 columns wide and stretched to the page; words and figures lie over it as text, placed by parts of its width.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from firstoff.loads.cut_loads import Quantity, Stretch
from firstoff.sheets.html_text import html
from firstoff.sheets.lane_data import COLUMNS, LIMIT_AT, Column, Lane, Lanes, LimitSpan, lanes_of, nearest_limit
from firstoff.sheets.stretch_limits import Held, held_limits, peak_of
from firstoff.sheets.wording import amount, clock, fact_name
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.verdict.stretches import tool_words
from firstoff.verdict.words import listed

TALL = 100.0
"""Height of a lane in its own units."""
EDGE = 0.025
"""Least height of the dark part of a bar, a share of the lane: the edge that the eye follows."""
CHARACTERS = 48
"""Letters that fit over the whole time on a narrow page: a tool's bracket tells its number and name, or its number, where they have room."""
ROOM_FOR_WORDS = 0.15
"""Share of the time from which a span has room for two words."""
MOST_NUMERALS, LAST_NUMERAL = 8, 0.93
"""Numerals of the rule of time, and the share of it from which there is room for the unit alone."""
IN_SECONDS_BELOW = 180.0
MINUTE = 60.0


@dataclass(frozen=True, slots=True)
class LanesHtml:
    """The lanes; all of them in one strip (empty where there are none); and what is to be read with them: how they are drawn, and a table."""

    lanes: str
    nearest: str
    table: str


def lanes_html(examination: Examination) -> str:
    """The lanes with what is to be read with them, or one sentence that says why there are none."""
    made = lanes_parts(examination)
    if not made.nearest:
        return made.lanes
    table = f'<details class="lanes-table"><summary>The same as a table</summary>{made.table}</details>'
    return f'{made.lanes}<p class="lanes-read" hidden></p>{TOLD}{table if made.table else ""}'


TOLD = (
    '<p class="lanes-told">Peaks are kept: light is the greatest in a column, dark its spread. Each tool is held against its own limit. '
    "Forces are best estimates; the bar at the peak reaches two standard uncertainties each way.</p>"
)


def lanes_parts(examination: Examination) -> LanesHtml:
    """The lanes for a page that places their parts itself."""
    lanes = lanes_of(examination)
    if lanes is None:
        return LanesHtml(f'<p class="nothing">{html(_why_none(examination))}</p>', "", "")
    names = {tool.tool: _tool_name(examination, tool.tool) for tool in lanes.tools}
    shown = [lane for lane in lanes.lanes if lane.peak is not None or lane.unknown or lane.asked is not None]
    nothing = (
        "" if len(shown) > 1 else '<p class="nothing">No tool takes anything away, so there is no load to show.</p>'
    )
    rows = "".join(_lane(lane) for lane in shown)
    nearest = _box(lanes, names, _lane(nearest_limit(lanes)), "lanes lanes-nearest")
    return LanesHtml(nothing + _box(lanes, names, rows, "lanes"), nearest, _table(examination))


def _box(lanes: Lanes, names: dict[int, str], rows: str, sort: str) -> str:
    """Lanes between the brackets of the tools and the rule of time, with the index of the moment."""
    return (
        f'<div class="{sort}" data-total="{lanes.total_s:.1f}" data-lines="{html(_lines(lanes))}" data-tools="{html(_tools_data(lanes))}">'
        f"{_brackets(lanes, names)}{rows}{_time_rule(lanes.total_s)}"
        '<div class="lanes-index" hidden><i class="index-grip"></i><b class="index-told"></b></div></div>'
    )


def _why_none(examination: Examination) -> str:
    told, missing = examination.case.followed, examination.case.timeline_missing
    if not isinstance(told, Followed):
        named = [fact_name(one) for one in (*told.missing, *(need.fact for need in told.needs))]
        because = f" Missing: {listed(list(dict.fromkeys(named)), 3)}." if named else ""
        return f"The stock was not followed, so what the cuts cost is not known.{because}"
    if missing:
        return f"What the cuts cost is not known. Missing: {listed([fact_name(path) for path in missing], 3)}."
    return "Nothing takes any time here."


def _tool_name(examination: Examination, tool: int) -> str:
    told = examination.case.followed
    loads = told.loads if isinstance(told, Followed) else None
    return next((stretch.name for stretch in (loads.stretches if loads else ()) if stretch.tool == tool), "")


# --- one lane --------------------------------------------------------------------------------------------------------


def _lane(lane: Lane) -> str:
    words = f"{lane.name}: {lane.peak_words}, {lane.limit_words}"
    return (
        f'<div class="lane"><div class="lane-words"><b>{html(lane.name)}</b><span class="lane-peak">{html(lane.peak_words)}</span>'
        f'<span class="lane-limit-words">{html(lane.limit_words)}</span></div>'
        f'<div class="lane-plot" role="img" aria-label="{html(words)}" data-name="{html(lane.name)}" data-unit="{html(lane.unit)}" '
        f'data-values="{html(_values(lane.values))}">'
        f"{''.join(_hatch(span) for span in lane.limits)}{_bars(lane)}{''.join(_not_known(span) for span in lane.unknown)}{_peak(lane)}</div></div>"
    )


def _place(span: LimitSpan) -> str:
    return f"left:{span.first / COLUMNS:.2%};width:{(span.last + 1 - span.first) / COLUMNS:.2%}"


def _hatch(span: LimitSpan) -> str:
    hatch = (
        '<svg width="100%" height="100%" aria-hidden="true"><rect width="100%" height="100%" fill="url(#wall)"/></svg>'
    )
    return f'<div class="lane-limit" style="{_place(span)};height:{1 - LIMIT_AT:.0%}">{hatch}</div>'


def _not_known(span: LimitSpan) -> str:
    words = "not known" if span.last + 1 - span.first > ROOM_FOR_WORDS * COLUMNS else ""
    return f'<div class="lane-unknown" title="not known" style="{_place(span)}"><span>{words}</span></div>'


def _bars(lane: Lane) -> str:
    floor = np.maximum(np.minimum(lane.low, lane.high - EDGE), 0.0)
    parts = [
        f'<path class="bar-light" d="{_area(lane.high)}"/>',
        f'<path class="bar-dark" d="{_band(floor, lane.high)}"/>',
    ]
    over = _over(lane)
    if over:
        parts.append(f'<path class="bar-over" d="{over}"/>')
    if lane.asked is not None:
        parts.append(f'<path class="lane-asked" d="{_step_line(lane.asked)}"/>')
    return f'<svg class="lane-svg" viewBox="0 0 {COLUMNS} {TALL:g}" preserveAspectRatio="none" aria-hidden="true">{"".join(parts)}</svg>'


def _y(height: float) -> str:
    return f"{TALL * (1 - min(height, 1.0)):.4g}"


def _runs(*columns: Column) -> Iterator[tuple[int, int, tuple[str, ...]]]:
    """(first column, one past the last, heights) of columns that look alike."""
    rows = [tuple(_y(float(value)) for value in row) for row in zip(*columns, strict=True)]
    at = 0
    for key, group in groupby(rows):
        wide = sum(1 for _ in group)
        yield at, at + wide, key
        at += wide


def _area(high: Column) -> str:
    steps = "".join(f"V{top}H{end}" for _, end, (top,) in _runs(high))
    return f"M0 {TALL:g}{steps}V{TALL:g}Z"


def _band(low: Column, high: Column) -> str:
    return "".join(
        f"M{begin} {top}H{end}V{bottom}H{begin}Z" for begin, end, (bottom, top) in _runs(low, high) if bottom != top
    )


def _over(lane: Lane) -> str:
    """What passes a limit that is known."""
    tops = np.full(COLUMNS, LIMIT_AT)
    for span in lane.limits:
        here = slice(span.first, span.last + 1)
        tops[here] = np.maximum(lane.high[here], LIMIT_AT)
    return _band(np.full(COLUMNS, LIMIT_AT), tops)


def _step_line(height: Column) -> str:
    """A line only where something is asked."""
    parts, drawing = [], False
    for begin, end, (top,) in _runs(height):
        if float(top) >= TALL:
            drawing = False
            continue
        parts.append(f"V{top}H{end}" if drawing else f"M{begin} {top}H{end}")
        drawing = True
    return "".join(parts)


def _peak(lane: Lane) -> str:
    peak = lane.peak
    if peak is None:
        return ""
    left = f"left:{(peak.column + 0.5) / COLUMNS:.2%}"
    parts = []
    if peak.low is not None and peak.high is not None and peak.high > peak.low:
        low, high = (min(max(at, 0.0), 1.0) for at in (peak.low, peak.high))
        against = " against" if lane.limits and peak.high > LIMIT_AT else ""
        parts.append(f'<i class="whisker{against}" style="{left};bottom:{low:.1%};height:{high - low:.1%}"></i>')
    parts.append(f'<i class="peak" style="{left};bottom:{min(peak.at, 1.0):.1%}"></i>')
    return "".join(parts)


def _values(values: Column) -> str:
    return ",".join(f"{value:.3g}" for value in values)


# --- brackets and time -----------------------------------------------------------------------------------------------


def _brackets(lanes: Lanes, names: dict[int, str]) -> str:
    parts = []
    for tool in lanes.tools:
        share = tool.end - tool.begin
        both = (f"T{tool.tool} {names.get(tool.tool, '')}".strip(), f"T{tool.tool}", "")
        words = next(one for one in both if len(one) <= share * CHARACTERS)
        parts.append(
            f'<div class="bracket" style="left:{tool.begin:.2%};width:{share:.2%}" title="T{tool.tool} {html(names.get(tool.tool, ""))}">'
            f"<span>{html(words)}</span></div>"
        )
    return (
        f'<div class="lane lane-tools"><div class="lane-words"></div><div class="brackets">{"".join(parts)}</div></div>'
    )


def _time_rule(total_s: float) -> str:
    unit, name = (1.0, "s") if total_s < IN_SECONDS_BELOW else (MINUTE, "min")
    total = total_s / unit
    power = 10.0 ** math.floor(math.log10(total / MOST_NUMERALS))
    step = next(m * power for m in (1.0, 2.0, 5.0, 10.0) if total / (m * power) <= MOST_NUMERALS)
    ticks = []
    for number in range(int(total / step * 10) + 1):
        at = number * step / 10 / total * COLUMNS
        ticks.append(f"M{at:.2f} 0v{8.5 if number % 10 == 0 else 6 if number % 5 == 0 else 4.2}")
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    numerals = "".join(
        f'<span style="left:{number * step / total:.2%}">{number * step:.{decimals}f}</span>'
        for number in range(int(total / step) + 1)
        if number * step / total < LAST_NUMERAL
    )
    return (
        '<div class="lane lane-time"><div class="lane-words"></div><div class="time-rule" aria-hidden="true">'
        f'<svg class="lane-svg" viewBox="0 0 {COLUMNS} 10" preserveAspectRatio="none"><path class="time-ticks" d="M0 0H{COLUMNS}{"".join(ticks)}"/></svg>'
        f'{numerals}<span class="time-unit">{name}</span></div></div>'
    )


def _lines(lanes: Lanes) -> str:
    return ",".join(str(number) for number in lanes.line.tolist())


def _tools_data(lanes: Lanes) -> str:
    return json.dumps([[tool.tool, round(tool.begin, 4), round(tool.end, 4)] for tool in lanes.tools])


# --- the same as a table ---------------------------------------------------------------------------------------------


def _table(examination: Examination) -> str:
    """The lanes for those who read rather than look: one row a tool's stretch."""
    told = examination.case.followed
    loads = told.loads if isinstance(told, Followed) else None
    if loads is None:
        return ""
    rows = "".join(_row(examination, stretch) for stretch in loads.stretches)
    head = "<tr><th>tool</th><th>from line</th><th>cutting</th><th>power</th><th>side force</th><th>thickest chip</th><th>nearest limit</th></tr>"
    return f'<div class="wide"><table>{head}{rows}</table></div>'


def _row(examination: Examination, stretch: Stretch) -> str:
    facts, line = examination.facts, int(examination.case.moves.line[stretch.first_move])
    cells = [tool_words(stretch.name, stretch.tool), str(line), clock(stretch.cutting_s)]
    if stretch.missing:
        named = listed([fact_name(path) for path in stretch.missing], 2)
        return f'<tr>{"".join(f"<td>{html(cell)}</td>" for cell in cells)}<td colspan="4">not known: {html(named)}</td></tr>'
    for quantity, unit, factor in (
        (Quantity.POWER, "W", 1.0),
        (Quantity.BENDING, "N", 1.0),
        (Quantity.CHIP, "µm", 1e3),
    ):
        peak = peak_of(stretch, quantity, facts)
        doubt = (peak.own_u or 0.0) * peak.value * factor if peak else 0.0
        cells.append(amount(peak.value * factor, doubt, unit) if peak is not None else "none")
    nearest = max(held_limits(stretch, facts).values(), key=lambda held: held.log_share, default=None)
    cells.append(_nearest(nearest))
    return f"<tr>{''.join(f'<td>{html(cell)}</td>' for cell in cells)}</tr>"


def _nearest(held: Held | None) -> str:
    return "none is known" if held is None else f"{held.question}, {held.value / held.limit * 100:.0f} % of it"
