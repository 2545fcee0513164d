"""What the lanes along the program show, as numbers: per column the greatest and the least, each tool against its own limit.

Heights are shares of a lane. Where a limit is known for a tool's stretch it lies at `LIMIT_AT` and loads are told as a part of it, so
that nearness to trouble compares from tool to tool; where none is known, loads only compare with each other.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.loads.cut_loads import CutLoads, Overview, Quantity, Stretch
from firstoff.motion.timeline import Timeline
from firstoff.sheets.stretch_limits import Held, bend_of, held_limits, peak_of
from firstoff.sheets.wording import amount
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.verdict.words import MM_PER_INCH, listed

LIMIT_AT = 0.80
"""Share of a lane's height at which every limit lies."""
UNLIMITED_AT = 0.60
"""The greatest load of a lane without limits."""
COLUMNS = 600
"""Columns of a lane: about one a px on a desktop page."""
WHISKER_U = 2.0
COMMANDED, REACHED = "commanded_mm_per_s", "feed_mm_per_s"
SIDEWAYS = ("force_n", "bend_mm")
"""Loads that the lips of a drill and the edges of a tap balance among themselves."""
Column = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Peak:
    """The worst column of a lane: its height, and how far two standard uncertainties reach; None where they are not known."""

    column: int
    at: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class LimitSpan:
    """Columns `first` .. `last` over which a limit is known."""

    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Lane:
    """One lane. `high`, `low` f8[COLUMNS]: heights. `asked` f8[COLUMNS] is drawn as a line (feeds commanded)."""

    name: str
    peak_words: str
    limit_words: str
    values: Column
    """The greatest of each column in `unit`."""
    unit: str
    high: Column
    low: Column
    limits: tuple[LimitSpan, ...]
    unknown: tuple[LimitSpan, ...]
    """Columns in which this load is not known."""
    peak: Peak | None
    asked: Column | None = None


@dataclass(frozen=True, slots=True)
class ToolSpan:
    """One use of a tool, as shares of the whole time."""

    tool: int
    begin: float
    end: float


@dataclass(frozen=True, slots=True)
class Lanes:
    """All lanes over one time. `line` i4[COLUMNS]: the program line under way."""

    total_s: float
    lanes: tuple[Lane, ...]
    tools: tuple[ToolSpan, ...]
    line: NDArray[np.int32]


def nearest_limit(lanes: Lanes) -> Lane:
    """All lanes in one: the greatest share used of any limit at each moment. What cuts and is held against nothing is not known."""
    share, held = np.zeros(COLUMNS), np.zeros(COLUMNS, dtype=np.bool_)
    loaded, lost = np.zeros(COLUMNS, dtype=np.bool_), np.zeros(COLUMNS, dtype=np.bool_)
    for lane in lanes.lanes:
        if lane.asked is not None:
            continue  # a feed is no load
        here = np.zeros(COLUMNS, dtype=np.bool_)
        for span in lane.limits:
            here[span.first : span.last + 1] = True
        share = np.where(here, np.maximum(share, lane.high / LIMIT_AT), share)
        held |= here
        loaded |= lane.high > 0
        for span in lane.unknown:
            lost[span.first : span.last + 1] = True
    most = float(share.max())
    column = int(np.argmax(share))
    words = f"{most * 100:.0f} % at most" if held.any() else "no limit is known"
    unknown = _runs(lost | (loaded & ~held))
    return Lane(
        "nearest limit",
        "share used",
        words,
        share * 100,
        "%",
        share * LIMIT_AT,
        share * LIMIT_AT,
        _runs(held),
        unknown,
        Peak(column, most * LIMIT_AT, None, None) if most > 0 else None,
    )


@dataclass(frozen=True, slots=True)
class _Sort:
    """One sort of load: its key in the overview, the quantity of its peak, and its unit as it is told."""

    name: str
    key: str
    quantity: Quantity
    unit: str
    factor: float


def lanes_of(examination: Examination) -> Lanes | None:
    """The lanes, or None where the loads are not known or take no time."""
    told, line = examination.case.followed, examination.case.timeline
    loads = told.loads if isinstance(told, Followed) else None
    if loads is None or line is None or not loads.overview.time_s.size:
        return None
    spans = [_columns(stretch, line) for stretch in loads.stretches]
    held = [held_limits(stretch, examination.facts) for stretch in loads.stretches]
    fine = ("thou", 1e3 / MM_PER_INCH) if examination.case.units.inch else ("µm", 1e3)
    sorts = (
        _Sort("power", "power_w", Quantity.POWER, "W", 1.0),
        _Sort("side force", "force_n", Quantity.BENDING, "N", 1.0),
        _Sort("bend of tool", "bend_mm", Quantity.BENDING, *fine),
        _Sort("thickest chip", "chip_mm", Quantity.CHIP, *fine),
    )
    lanes = [_lane(sort, examination, loads, spans, held) for sort in sorts]
    lanes.append(_feed_lane(loads.overview, examination.case.units.inch))
    per_column = np.minimum(np.arange(COLUMNS) * loads.overview.line.size // COLUMNS, loads.overview.line.size - 1)
    return Lanes(float(line.start_s[-1]), tuple(lanes), _tools(examination, line), loads.overview.line[per_column])


def _columns(stretch: Stretch, line: Timeline) -> LimitSpan:
    """The columns of a stretch's time."""
    total = float(line.start_s[-1])
    begin, end = float(line.start_s[stretch.first_move]), float(line.start_s[stretch.last_move + 1])
    first = min(int(begin / total * COLUMNS), COLUMNS - 1)
    return LimitSpan(first, max(first, min(math.ceil(end / total * COLUMNS) - 1, COLUMNS - 1)))


def _lane(
    sort: _Sort, examination: Examination, loads: CutLoads, spans: list[LimitSpan], held: list[dict[str, Held]]
) -> Lane:
    high, low = _by_column(loads.overview, sort.key)
    if sort.key in SIDEWAYS:
        for span, stretch in zip(spans, loads.stretches, strict=True):
            if not stretch.missing and Quantity.BENDING not in stretch.candidates:
                high[span.first : span.last + 1] = low[span.first : span.last + 1] = 0.0
    unknown = _runs(np.isnan(high))
    high, low = np.nan_to_num(high), np.nan_to_num(low)
    limits = [_limit(sort, found, loads) for found in held]
    scale = np.zeros(COLUMNS)
    for span, (limit, _) in zip(spans, limits, strict=True):
        if limit is not None:
            scale[span.first : span.last + 1] = LIMIT_AT / limit
    free = scale == 0
    greatest = float(np.max(high[free], initial=0.0))
    scale[free] = UNLIMITED_AT / greatest if greatest > 0 else 0.0
    limited = tuple(span for span, (limit, _) in zip(spans, limits, strict=True) if limit is not None)
    column = _worst(high, scale, limited)
    peak = _peak(sort, examination, loads, spans, column, high, scale)
    words = ("nothing cut", "")
    if column is not None:
        words = _words(sort, examination, loads, spans, limits, column, float(high[column]))
    return Lane(
        sort.name, words[0], words[1], high * sort.factor, sort.unit, high * scale, low * scale, limited, unknown, peak
    )


def _runs(which: NDArray[np.bool_]) -> tuple[LimitSpan, ...]:
    """Where columns are so, one after the other."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], which, [False]])))
    return tuple(LimitSpan(int(first), int(end) - 1) for first, end in edges.reshape(-1, 2))


def _by_column(overview: Overview, key: str) -> tuple[Column, Column]:
    """Greatest and least of a load in each column, NaN where it is not known; the least of the greatest where bins hold nothing else."""
    high = overview.high[key].astype(np.float64)
    low = overview.low[key].astype(np.float64) if key in overview.low else high
    edges = np.arange(COLUMNS) * high.size // COLUMNS
    if high.size < COLUMNS:
        return high[edges], low[edges]
    return np.fmax.reduceat(high, edges), np.fmin.reduceat(low, edges)


def _limit(sort: _Sort, held: Mapping[str, Held], loads: CutLoads) -> tuple[float | None, str]:
    """(the load at which the nearest limit of a stretch lies, what gives way there)."""
    if sort.key == "power_w" and "power" in held:
        return held["power"].limit, ""
    if sort.key == "chip_mm" and "chip" in held:
        return held["chip"].limit, ""
    if sort.key != "force_n":
        return None, ""
    found = []
    for question, words in (("torque", "spindle torque"), ("strength", "the tool breaks")):
        if question in held:
            force = float(loads.force_n[held[question].move])  # torque and stress grow with it
            if math.isfinite(force) and force > 0:
                found.append((force * held[question].limit / held[question].value, words))
    return min(found, default=(None, ""))


def _worst(high: Column, scale: Column, limited: tuple[LimitSpan, ...]) -> int | None:
    """The column nearest to its limit; where no limit is known, that of the greatest load."""
    share = high * scale
    within = np.zeros(COLUMNS, dtype=np.bool_)
    for span in limited:
        within[span.first : span.last + 1] = True
    chosen = np.where(within, share, -1.0) if bool((within & (high > 0)).any()) else share
    column = int(np.argmax(chosen))
    return column if high[column] > 0 else None


def _stretch_at(spans: list[LimitSpan], column: int) -> int | None:
    return next((n for n, span in enumerate(spans) if span.first <= column <= span.last), None)


def _log_u(sort: _Sort, examination: Examination, stretch: Stretch) -> float | None:
    if sort.key == "bend_mm":
        return bend_of(stretch, examination.facts).log_u
    found = peak_of(stretch, sort.quantity, examination.facts)
    return None if found is None else found.own_u


def _peak(
    sort: _Sort,
    examination: Examination,
    loads: CutLoads,
    spans: list[LimitSpan],
    column: int | None,
    high: Column,
    scale: Column,
) -> Peak | None:
    if column is None:
        return None
    at = float(high[column] * scale[column])
    number = _stretch_at(spans, column)
    log_u = None if number is None else _log_u(sort, examination, loads.stretches[number])
    if log_u is None:
        return Peak(column, at, None, None)
    return Peak(column, at, at * math.exp(-WHISKER_U * log_u), at * math.exp(WHISKER_U * log_u))


def _words(
    sort: _Sort,
    examination: Examination,
    loads: CutLoads,
    spans: list[LimitSpan],
    limits: list[tuple[float | None, str]],
    column: int,
    value: float,
) -> tuple[str, str]:
    """(the peak with its doubt, the limit it is held against)."""
    number = _stretch_at(spans, column)
    log_u = None if number is None else _log_u(sort, examination, loads.stretches[number])
    told = _told(value, 0.0 if log_u is None else log_u, sort)
    limit, why = limits[number] if number is not None else (None, "")
    if limit is not None:
        return told, f"of {_told(limit, 0.0, sort)}" + (f": {why}" if why else "")
    stiff = (
        bend_of(loads.stretches[number], examination.facts).stiff
        if sort.key == "bend_mm" and number is not None
        else ()
    )
    return told, f"{listed(list(stiff))} taken as stiff" if stiff else "no limit is known"


def _told(value: float, log_u: float, sort: _Sort) -> str:
    unit, shown = sort.unit, value * sort.factor
    if unit in ("W", "N") and shown >= 1000:
        unit, shown = f"k{unit}", shown / 1000
    return amount(shown if log_u else _three(shown), shown * log_u, unit)


def _three(value: float) -> float:
    """Three figures: nobody knows a limit better."""
    return round(value, 2 - math.floor(math.log10(abs(value)))) if value else 0.0


def _feed_lane(overview: Overview, inch: bool) -> Lane:
    """The feed reached, with the feed commanded as a line; both only where a feed is commanded, so that rapids do not dwarf it."""
    commanded, quickest, slowest = overview.high[COMMANDED], overview.high[REACHED], overview.low[REACHED]
    cuts = commanded > 0
    reached = Overview(
        overview.time_s,
        overview.line,
        overview.tool,
        {REACHED: np.where(cuts, np.minimum(quickest, commanded), 0), COMMANDED: np.where(cuts, commanded, 0)},
        {REACHED: np.where(cuts, np.minimum(slowest, commanded), 0)},
    )
    asked, _ = _by_column(reached, COMMANDED)
    high, low = _by_column(reached, REACHED)
    top = float(asked.max(initial=0.0))
    scale = LIMIT_AT / top if top > 0 else 0.0
    unit, factor = ("in/min", 60 / MM_PER_INCH) if inch else ("mm/min", 60.0)
    told = amount(_three(top * factor), 0.0, unit) if top > 0 else "no feed"
    return Lane(
        "feed reached",
        told,
        "at most; dashed: as asked",
        high * factor,
        unit,
        high * scale,
        low * scale,
        (),
        (),
        None,
        asked * scale,
    )


def _tools(examination: Examination, line: Timeline) -> tuple[ToolSpan, ...]:
    """From each call of a tool to the next."""
    tool, total = examination.case.moves.tool, float(line.start_s[-1])
    firsts = np.flatnonzero(np.concatenate([[True], tool[1:] != tool[:-1]]))
    ends = np.append(firsts[1:], tool.size)
    spans = []
    for first, end in zip(firsts.tolist(), ends.tolist(), strict=True):
        begin, finish = float(line.start_s[first]) / total, float(line.start_s[end]) / total
        if tool[first] >= 0 and finish > begin:
            spans.append(ToolSpan(int(tool[first]), begin, finish))
    return tuple(spans)
