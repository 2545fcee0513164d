"""What a program does, told without any machine: counts, extents, tools, stops, offsets, and what it leaves on.

Pure functions of a `Reading`. Lengths are mm, or the file's own unit where it states none; times are seconds; speeds of a spindle are
1/min, negative counter-clockwise. What only a machine could tell (how long a rapid takes, how long a tool is) is not here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from firstoff.program.moves import NO_LENGTH, NOTE, PLANE_AXES, Flag, Kind, Reading, What
from firstoff.program.remarks import Remark, remarks_on
from firstoff.program.sight import AXES, FEED_KINDS, STANDING_MM, Sight, bare_text, look_at, system_name
from firstoff.program.tool_uses import FirstMove, Plunges, Point, Span, ToolUse, tool_uses

__all__ = [
    "Compensated",
    "Counts",
    "Extents",
    "FirstMove",
    "OffsetWritten",
    "Plunges",
    "RapidBelow",
    "Remark",
    "Stop",
    "Summary",
    "Time",
    "ToolUse",
    "summarise",
]


@dataclass(frozen=True, slots=True)
class Counts:
    """Executed blocks that name X, Y or Z. A cycle counts once a hole, its inner moves not at all; home and G53 are left out.

    So are bare axis words after G80 where nobody says whether the control moves for them.
    """

    rapid: int
    feed: int
    arc: int
    dwell: int
    cycle_holes: int
    helical: int
    """Arcs, of `arc`, that also move along their normal."""
    probe: int
    arcs_by_plane: tuple[int, int, int]
    """Of `arc`, those in G17, G18 and G19."""

    @property
    def motion(self) -> int:
        """All blocks that go somewhere."""
        return self.rapid + self.feed + self.arc + self.cycle_holes + self.probe


@dataclass(frozen=True, slots=True)
class Extents:
    """Tip path in the active work system: bulges of arcs and bottoms of cycles included, compensation not. None = never known."""

    unit: str
    """``mm``, or ``not stated``: the file's own."""
    x: Span | None
    y: Span | None
    z: Span | None


@dataclass(frozen=True, slots=True)
class Stop:
    """M0, M1 or M60, with what the line and the ones beside it say about it."""

    line: int
    code: str
    comment: str


@dataclass(frozen=True, slots=True)
class RapidBelow:
    """A rapid that goes sideways or down below work zero."""

    line: int
    z: float


@dataclass(frozen=True, slots=True)
class OffsetWritten:
    """A block that changes where the work is: ``G54`` .. ``G59.3``, ``G92``, ``G52`` or ``tool table``."""

    what: str
    line: int


@dataclass(frozen=True, slots=True)
class Compensated:
    """One stretch under radius compensation."""

    side: str
    """``left`` (G41) or ``right`` (G42)."""
    register: int
    on_line: int
    off_line: int | None
    """None = still on at the end."""
    lead_in: float | None
    """Length of the move that takes it up: it must be longer than the tool's radius (NISTIR 6556, B.5.3)."""
    lead_out: float | None


@dataclass(frozen=True, slots=True)
class Time:
    """A lower bound from the feeds as commanded and the dwells: rapids, ramps and changes need a machine."""

    feed_s: float
    dwell_s: float
    moves_without: int
    """Feed moves whose length or feed is not known: they count as nothing."""
    dwells_without: int

    @property
    def minutes(self) -> float:
        return (self.feed_s + self.dwell_s) / 60.0


@dataclass(frozen=True, slots=True)
class Summary:
    """What `firstoff read` says."""

    file: str
    lines: int
    blocks: int
    units: str
    counts: Counts
    extents: Extents
    tools: tuple[ToolUse, ...]
    selected: tuple[int, ...]
    """T numbers that are called, in the order of first call, changed in or not."""
    offsets_used: tuple[str, ...]
    offsets_written: tuple[OffsetWritten, ...]
    rapids_below_zero: tuple[RapidBelow, ...]
    """In the order of the program; empty is good."""
    stops: tuple[Stop, ...]
    compensated: tuple[Compensated, ...]
    time: Time | None
    """None where the unit of the feeds is not known."""
    left_on: tuple[str, ...]
    ended_by: str
    end: Point
    understood: bool
    """No fault and no open question."""
    smallest_radius: float | None
    """Of all arcs."""
    radius_mismatch: float | None
    """Greatest difference between the radii at the start and at the end of an arc."""
    remarks: tuple[Remark, ...]
    """What a careful reader would say aloud."""


def summarise(reading: Reading) -> Summary:
    """Tell what a program does, from its reading alone."""
    sight = look_at(reading)
    uses = tool_uses(sight)
    events = reading.events
    return Summary(
        file=reading.file,
        lines=reading.lines,
        blocks=reading.blocks,
        units=reading.units,
        counts=_counts(sight),
        extents=_extents(sight),
        tools=uses,
        selected=tuple(dict.fromkeys(event.number for event in events if event.what is What.TOOL_SELECT)),
        offsets_used=_offsets_used(sight),
        offsets_written=tuple(_offsets_written(reading)),
        rapids_below_zero=_rapids_below(sight),
        stops=tuple(_stops(reading)),
        compensated=tuple(_compensated(sight)),
        time=_time(sight) if reading.units != "not stated" else None,
        left_on=tuple(_left_on(reading)),
        ended_by=reading.final.ended_by,
        end=reading.end_mm,
        understood=all(problem.kind == NOTE for problem in reading.problems),
        smallest_radius=float(reading.arcs.radius_mm.min()) if reading.arcs.radius_mm.size else None,
        radius_mismatch=_radius_mismatch(reading),
        remarks=remarks_on(sight, uses),
    )


def _counts(sight: Sight) -> Counts:
    moves = sight.reading.moves
    alone = sight.working & (moves.parent < 0) & ~sight.doubtful

    def count(kind: Kind) -> int:
        return int(np.count_nonzero(alone & (moves.kind == kind)))

    arcs = alone & (moves.kind == Kind.ARC)
    dwell = int(np.count_nonzero((moves.kind == Kind.DWELL) & (moves.parent < 0)))
    rise = sight.reading.arcs.rise_mm[moves.arc[arcs]]
    holes = np.unique(moves.parent[moves.parent >= 0]).size
    planes = sight.reading.arcs.plane[moves.arc[arcs]]
    return Counts(
        rapid=count(Kind.RAPID),
        feed=count(Kind.FEED),
        arc=count(Kind.ARC),
        dwell=dwell,
        cycle_holes=int(holes),
        helical=int(np.count_nonzero(np.abs(rise) > STANDING_MM)),
        probe=count(Kind.PROBE),
        arcs_by_plane=(int((planes == 17).sum()), int((planes == 18).sum()), int((planes == 19).sum())),
    )


def _radius_mismatch(reading: Reading) -> float | None:
    moves, arcs = reading.moves, reading.arcs
    rows = np.flatnonzero(moves.arc >= 0)
    if not rows.size:
        return None
    arc = moves.arc[rows]
    axes = np.array([PLANE_AXES.get(plane, (0, 1, 2))[:2] for plane in range(20)])[arcs.plane[arc]]
    end = np.take_along_axis(moves.end_mm[rows], axes, axis=1)
    apart = np.abs(np.hypot(*(end - arcs.centre_mm[arc]).T) - arcs.radius_mm[arc])
    return float(np.nanmax(apart)) if np.isfinite(apart).any() else None


def _extents(sight: Sight) -> Extents:
    spans: list[Span | None] = []
    for axis in range(AXES):
        rows = sight.working & sight.known[:, axis]
        if rows.any():
            spans.append((float(np.nanmin(sight.low[rows, axis])), float(np.nanmax(sight.high[rows, axis]))))
        else:
            spans.append(None)
    unit = "not stated" if sight.reading.units == "not stated" else "mm"
    return Extents(unit, spans[0], spans[1], spans[2])


def _time(sight: Sight) -> Time:
    moves = sight.reading.moves
    feeding = np.isin(moves.kind, FEED_KINDS)
    with np.errstate(divide="ignore", invalid="ignore"):
        seconds = sight.length / moves.feed_mm_per_s
    usable = feeding & np.isfinite(seconds)
    dwells = moves.feed_mm_per_s[moves.kind == Kind.DWELL]
    return Time(
        feed_s=float(seconds[usable].sum()),
        dwell_s=float(np.nansum(dwells)),
        moves_without=int(np.count_nonzero(feeding & ~usable)),
        dwells_without=int(np.count_nonzero(np.isnan(dwells))),
    )


def _rapids_below(sight: Sight) -> tuple[RapidBelow, ...]:
    """Rapids outside cycles with an end below zero, unless they only go straight up."""
    moves = sight.reading.moves
    z = np.where(sight.known[:, 2], moves.end_mm[:, 2], np.nan)
    lowest = np.fmin(z, np.where(sight.known[:, 2], sight.start[:, 2], np.nan))
    moved = np.abs(moves.end_mm - sight.start)
    sideways = (np.nan_to_num(moved[:, 0], nan=1.0) > STANDING_MM) | (np.nan_to_num(moved[:, 1], nan=1.0) > STANDING_MM)
    down = ~(moves.end_mm[:, 2] > sight.start[:, 2])
    rapid = sight.working & (moves.kind == Kind.RAPID) & (moves.parent < 0)
    rows = np.flatnonzero(rapid & (lowest < -STANDING_MM) & (sideways | down))
    return tuple(RapidBelow(int(moves.line[row]), float(lowest[row])) for row in rows)


# --- offsets, stops, compensation, leftovers --------------------------------------------------------------------------


def _offsets_used(sight: Sight) -> tuple[str, ...]:
    """Systems that the program names or moves in, in order of first use."""
    reading = sight.reading
    named = [event.number for event in reading.events if event.what is What.OFFSET_USED]
    systems = reading.frames.system[reading.moves.frame[sight.working & sight.known.any(axis=1)].max(axis=1, initial=0)]
    values, first = np.unique(systems, return_index=True)
    moved_in = [int(value) for value in values[np.argsort(first)]]
    return tuple(name for base in dict.fromkeys([*named, *moved_in]) if (name := system_name(base)))


def _offsets_written(reading: Reading) -> Iterator[OffsetWritten]:
    for event in reading.events:
        if event.what is What.OFFSET_WRITTEN:
            yield OffsetWritten(system_name(event.number) or "work offset", event.line)
        elif event.what is What.SHIFT and event.value:
            yield OffsetWritten(f"G{event.number}", event.line)
        elif event.what is What.TABLE_WRITTEN:
            yield OffsetWritten("tool table", event.line)


def _stops(reading: Reading) -> Iterator[Stop]:
    for event in reading.events:
        if event.what in (What.STOP, What.OPTIONAL_STOP):
            code = "M1" if event.what is What.OPTIONAL_STOP else f"M{event.number}"
            yield Stop(event.line, code, event.text or _comment_beside(reading, event.line))


def _comment_beside(reading: Reading, line: int) -> str:
    """The comment of a line, or of the line after or before it that holds nothing else."""
    for at in (line, line + 1, line - 1):
        text = reading.text[at - 1] if 1 <= at <= len(reading.text) else ""
        comment = text[len(text.split("(")[0].split(";")[0]) :].strip("(); \t\r")
        if comment and (at == line or not bare_text(text).strip()):
            return comment
    return ""


def _compensated(sight: Sight) -> Iterator[Compensated]:
    moves = sight.reading.moves
    on = (moves.flags & (Flag.COMP_LEFT | Flag.COMP_RIGHT)) != 0
    on &= moves.kind != Kind.DWELL
    changes = np.flatnonzero(np.diff(np.concatenate(([False], on, [False])).astype(np.int8)))
    for first, after in zip(changes[::2], changes[1::2], strict=True):
        left = bool(moves.flags[first] & Flag.COMP_LEFT)
        ended = after < len(moves)
        yield Compensated(
            side="left" if left else "right",
            register=int(moves.comp_register[first]),
            on_line=int(moves.line[first]),
            off_line=int(moves.line[after]) if ended else None,
            lead_in=_number(sight.length[first]),
            lead_out=_number(sight.length[after]) if ended else None,
        )


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _left_on(reading: Reading) -> Iterator[str]:
    final = reading.final
    if final.spindle != "off":
        yield {"cw": "spindle, clockwise (M3)", "ccw": "spindle, counter-clockwise (M4)"}[final.spindle]
    if final.coolant != "off":
        yield f"coolant: {final.coolant}"
    if final.comp != "G40":
        yield f"radius compensation ({final.comp})"
    if final.distance == "G91":
        yield "incremental distances (G91)"
    if final.feed_mode not in ("G94", ""):
        yield f"feed mode {final.feed_mode}"
    if final.plane not in ("G17", ""):
        yield f"plane {final.plane}"
    if final.shift_left:
        yield "a shifted zero (G92 or G52)"
    if not final.overrides:
        yield "overrides locked (M49)"
    if final.length != NO_LENGTH:
        yield f"length offset H{final.length}"
