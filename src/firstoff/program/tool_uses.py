"""What each tool of a program is asked to do: registers, feeds, speeds, depth, plunges, first motion."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from firstoff.program.bounds import Bools
from firstoff.program.moves import NO_LENGTH, Floats, Kind, Reading, What
from firstoff.program.sight import FEED_KINDS, Sight, coolant_of

Span = tuple[float, float]
Point = tuple[float | None, float | None, float | None]
Rows = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class FirstMove:
    """The first motion after a tool change."""

    line: int
    kind: str
    """``rapid``, ``feed``, ``arc``, ``probe``, ``tap``, ``home`` or ``machine``."""
    to: Point
    """Programmed end; None where an axis has not been given yet."""


@dataclass(frozen=True, slots=True)
class Plunges:
    """Feed moves straight down, outside cycles."""

    count: int
    deepest: float | None
    line: int | None
    """Where the deepest is."""


@dataclass(frozen=True, slots=True)
class ToolUse:
    """What happens between one tool change and the next to another tool."""

    number: int | None
    """T number; None where no tool was called before these moves."""
    line: int
    """Line of the change; of the first move where there is none."""
    change_lines: tuple[int, ...]
    """All changes to this tool in a row: more than one is a second stop for the same tool."""
    lengths: tuple[int, ...]
    """H registers, in the order of first use."""
    radii: tuple[int, ...]
    """D registers under compensation."""
    feeds_per_min: Span | None
    """Lowest and highest feed, mm/min (or own unit); of feed-per-turn moves at the programmed speed."""
    speeds_per_min: tuple[float | None, ...]
    """Distinct speeds while moving at feed, in the order of first use: 1/min, negative counter-clockwise, 0 stopped, None unknown."""
    deepest_z: float | None
    deepest_line: int | None
    plunges: Plunges
    first_move: FirstMove | None
    coolant_at_first_feed: str | None
    """``off``, ``mist``, ``flood``, ``both``; None where it never feeds."""
    rapid_length: float
    feed_length: float
    holes: int
    rows: tuple[int, int]
    """First row of `Moves`, and the row after the last."""

    @property
    def rapid_share(self) -> float | None:
        """Share of the way that is made at rapid; None where it goes nowhere."""
        total = self.rapid_length + self.feed_length
        return self.rapid_length / total if total > 0.0 else None


@dataclass(slots=True)
class _Stretch:
    number: int | None
    first: int
    lines: list[int]
    lengths: list[int]
    last: int = 0


def _stretches(reading: Reading) -> list[_Stretch]:
    """Rows of moves from one tool to the next; what comes before the first change counts if it feeds, or if there is no change."""
    count = len(reading.moves)
    found = [_Stretch(None, 0, [], [])]
    for event in reading.events:
        now = found[-1]
        if event.what is What.TOOL_CHANGE and event.number == now.number:
            now.lines.append(event.line)
        elif event.what is What.TOOL_CHANGE:
            found.append(_Stretch(event.number, event.before, [event.line], []))
        elif event.what is What.LENGTH and event.number not in (NO_LENGTH, *now.lengths):
            now.lengths.append(event.number)
    for stretch, following in pairwise(found):
        stretch.last = following.first
    found[-1].last = count
    kinds = reading.moves.kind[: found[0].last]
    if len(found) > 1 and not np.isin(kinds, FEED_KINDS).any():
        del found[0]
    return found


def tool_uses(sight: Sight) -> tuple[ToolUse, ...]:
    return tuple(
        _use(sight, stretch) for stretch in _stretches(sight.reading) if stretch.lines or stretch.last > stretch.first
    )


def _use(sight: Sight, stretch: _Stretch) -> ToolUse:
    moves = sight.reading.moves
    rows = np.arange(stretch.first, stretch.last)
    working = rows[sight.working[rows]]
    feeding = rows[np.isin(moves.kind[rows], FEED_KINDS)]
    cutting = feeding[sight.known[feeding, 2]]
    deepest = int(cutting[np.argmin(sight.low[cutting, 2])]) if cutting.size else None
    feeds = moves.feed_mm_per_s[feeding] * 60.0
    feeds = feeds[np.isfinite(feeds)]
    registers = moves.comp_register[rows]
    line = stretch.lines[0] if stretch.lines else int(moves.line[rows[0]])
    rapids = working[moves.kind[working] == Kind.RAPID]
    return ToolUse(
        number=stretch.number,
        line=line,
        change_lines=tuple(stretch.lines),
        lengths=tuple(stretch.lengths),
        radii=tuple(dict.fromkeys(int(d) for d in registers[registers >= 0])),
        feeds_per_min=(float(feeds.min()), float(feeds.max())) if feeds.size else None,
        speeds_per_min=_speeds(moves.spindle_per_s[feeding[~_tapping_out(sight, feeding)]]),
        deepest_z=None if deepest is None else float(sight.low[deepest, 2]),
        deepest_line=None if deepest is None else int(moves.line[deepest]),
        plunges=_plunges(sight, feeding),
        first_move=_first_move(sight, rows),
        coolant_at_first_feed=coolant_of(int(moves.flags[feeding[0]])) if feeding.size else None,
        rapid_length=float(np.nansum(sight.length[rapids])),
        feed_length=float(np.nansum(sight.length[feeding])),
        holes=int(np.unique(moves.parent[rows][moves.parent[rows] >= 0]).size),
        rows=(stretch.first, stretch.last),
    )


def _tapping_out(sight: Sight, rows: Rows) -> Bools:
    """The way out of a tapped hole turns backwards, which is no speed that the program asks for."""
    moves = sight.reading.moves
    tapping = (moves.kind == Kind.TAP) & (moves.parent >= 0)
    out = np.zeros(len(moves), bool)
    out[1:] = tapping[1:] & tapping[:-1] & (moves.parent[1:] == moves.parent[:-1])
    return out[rows]


def _speeds(per_s: Floats) -> tuple[float | None, ...]:
    values, first = np.unique(per_s, return_index=True)
    ordered = values[np.argsort(first)]
    return tuple(None if math.isnan(value) else round(float(value) * 60.0, 6) for value in ordered)


def _plunges(sight: Sight, feeding: Rows) -> Plunges:
    moves = sight.reading.moves
    own = feeding[(moves.parent[feeding] < 0) & (moves.kind[feeding] == Kind.FEED)]
    rows = own[sight.down[own]]
    if not rows.size:
        return Plunges(0, None, None)
    deepest = int(rows[np.argmin(moves.end_mm[rows, 2])])
    return Plunges(int(rows.size), float(moves.end_mm[deepest, 2]), int(moves.line[deepest]))


def _first_move(sight: Sight, rows: Rows) -> FirstMove | None:
    moves = sight.reading.moves
    going = rows[moves.kind[rows] != Kind.DWELL]
    if not going.size:
        return None
    row = int(going[0])
    kind = Kind(int(moves.kind[row])).name.lower()
    known = sight.known[row] if sight.working[row] else np.isfinite(moves.end_mm[row])
    x, y, z = (float(v) if k else None for v, k in zip(moves.end_mm[row], known, strict=True))
    return FirstMove(int(moves.line[row]), kind, (x, y, z))
