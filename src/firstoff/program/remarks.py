"""What a careful reader would say aloud about a program, machine unseen: habits, slips and things that only look like slips.

A remark is no problem: every word was understood. It says what stands there and what it usually means.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from firstoff.program.moves import NO_LENGTH, Kind, What
from firstoff.program.sight import FEED_KINDS, STANDING_MM, Sight, bare_text
from firstoff.program.tool_uses import ToolUse

Uses = tuple[ToolUse, ...]

FAST_RATIO = 3.0
"""A feed this many times the next lower one of the same tool is no cut: posts write it in place of rapids."""
MOST_LINES = 5
"""Lines named in one remark; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Remark:
    """`line` is the first place, None where the remark is about the whole."""

    line: int | None
    what: str


def remarks_on(sight: Sight, uses: Uses) -> tuple[Remark, ...]:
    """All remarks: about the whole first, then in the order of the text."""
    parts = (_tools, _registers, _spindle, _zero, _positioning, _holes, _holes_where_it_stands)
    found = [remark for part in parts for remark in part(sight, uses)]
    return tuple(sorted(found, key=lambda remark: remark.line or 0))


def _tools(sight: Sight, uses: Uses) -> Iterator[Remark]:
    selected = [event for event in sight.reading.events if event.what is What.TOOL_SELECT]
    changed = {use.number for use in uses if use.change_lines}
    for event in selected:
        if not changed:
            yield Remark(
                event.line,
                f"T{event.number} is called but nothing changes it in: an M6 is missing, or the control changes at T",
            )
    if not changed and not selected and uses:
        yield Remark(None, "no tool is called: it cuts with whatever is in the spindle")
    again = [use for use in uses if len(use.change_lines) > 1]
    if again:
        tools = ", ".join(f"T{use.number}" for use in again)
        lines = _lines(line for use in again for line in use.change_lines[1:])
        what = f"the tool that is in already is changed in again ({tools}; {lines}): a stop to do something by hand, or a slip"
        yield Remark(again[0].change_lines[1], what)


def _registers(sight: Sight, uses: Uses) -> Iterator[Remark]:
    """T, H and D are three different things; most programs keep them equal."""
    moves, frames = sight.reading.moves, sight.reading.frames
    feeding = np.isin(moves.kind, FEED_KINDS)
    bare = feeding & (frames.length[moves.frame[:, 2]] == NO_LENGTH)
    if feeding.any() and bool(bare[feeding].all()):
        yield Remark(None, "no length offset is ever used (G43): Z counts from where zero was set with each tool")
    elif bare.any():
        lines = _lines(moves.line[bare])
        yield Remark(int(moves.line[bare][0]), f"feeds without a length offset (G43) although others use one ({lines})")
    named = [use for use in uses if use.number is not None]
    for use in named:
        for letter, registers in (("H", use.lengths), ("D", use.radii)):
            for register in registers:
                if register != use.number:
                    yield Remark(use.line, f"T{use.number} runs with {letter}{register}")
    if len(named) > 1 and all(use.lengths == (use.number,) for use in named):
        yield Remark(None, f"H equals T at each of the {len(named)} tools")


def _spindle(sight: Sight, _uses: Uses) -> Iterator[Remark]:
    moves = sight.reading.moves
    feeding = np.isin(moves.kind, FEED_KINDS)
    still = feeding & (moves.spindle_per_s == 0.0)
    if still.any():
        lines = _lines(moves.line[still])
        yield Remark(int(moves.line[still][0]), f"feeds with the spindle stopped ({lines}): a touch-off if it is meant")
    started = [event for event in sight.reading.events if event.what is What.SPINDLE]
    if started and all(math.isnan(event.value) or event.value == 0.0 for event in started):
        yield Remark(started[0].line, "the spindle is started but no speed (S) is ever given")
    turning = 0
    for event in started:
        if turning and event.number and event.number != turning:
            yield Remark(
                event.line,
                f"the spindle is reversed by M{event.number} while it turns: where a stop is meant, M5 is the word",
            )
        turning = event.number
    if sight.reading.final.spindle != "off":
        yield Remark(
            None, "the spindle is never stopped" if not _stops_spindle(sight) else "the spindle still turns at the end"
        )


def _stops_spindle(sight: Sight) -> bool:
    return any(event.what is What.SPINDLE and event.number == 0 for event in sight.reading.events)


def _zero(_sight: Sight, uses: Uses) -> Iterator[Remark]:
    deepest = [use.deepest_z for use in uses if use.deepest_z is not None]
    if deepest and min(deepest) >= -STANDING_MM:
        lowest = round(min(deepest), 4) + 0.0
        yield Remark(
            None, f"nothing is cut below work zero (lowest Z {lowest:g}): zero is the table, or the part lies above it"
        )


def _positioning(sight: Sight, uses: Uses) -> Iterator[Remark]:
    """Straight moves at a feed far above the tool's others."""
    moves = sight.reading.moves
    for use in uses:
        rows = np.arange(*use.rows)
        straight = rows[(moves.kind[rows] == Kind.FEED) & (moves.parent[rows] < 0)]
        feeding = rows[np.isin(moves.kind[rows], FEED_KINDS)]
        feeds = np.unique(np.round(moves.feed_mm_per_s[feeding][np.isfinite(moves.feed_mm_per_s[feeding])], 9))
        if feeds.size < 2 or feeds[-1] < FAST_RATIO * feeds[-2]:
            continue
        fast = straight[np.abs(moves.feed_mm_per_s[straight] - feeds[-1]) <= 1e-6]
        if fast.size == np.count_nonzero(np.abs(moves.feed_mm_per_s[feeding] - feeds[-1]) <= 1e-6):
            times = feeds[-1] / feeds[-2]
            moved = "1 straight feed move runs" if fast.size == 1 else f"{fast.size} straight feed moves run"
            what = f"{moved} {times:.0f} times faster than any other of this tool, in place of a rapid"
            yield Remark(int(moves.line[fast[0]]), what)


def _holes(sight: Sight, uses: Uses) -> Iterator[Remark]:
    """Cycles whose bottom lies above work zero while other things are cut below it."""
    moves = sight.reading.moves
    inside = (moves.parent >= 0) & sight.known[:, 2] & np.isin(moves.kind, FEED_KINDS)
    if not inside.any():
        return
    rows = np.flatnonzero(inside)
    bottom = np.full(int(moves.parent.max()) + 1, np.inf)
    np.minimum.at(bottom, moves.parent[rows], moves.end_mm[rows, 2])
    above = rows[bottom[moves.parent[rows]] > STANDING_MM]
    below = min((use.deepest_z for use in uses if use.deepest_z is not None), default=0.0) < -STANDING_MM
    if above.size and below:
        yield Remark(
            int(moves.line[above[0]]),
            f"holes end above work zero ({_lines(moves.line[above])}): R, Z or their parameters may be swapped",
        )


def _holes_where_it_stands(sight: Sight, _uses: Uses) -> Iterator[Remark]:
    """A cycle block without X and Y drills where the tool is."""
    moves = sight.reading.moves
    lines = dict.fromkeys(int(line) for line in moves.line[moves.parent >= 0])
    here = [line for line in lines if not set("XY#") & set(bare_text(sight.reading.text[line - 1]))]
    if here:
        yield Remark(here[0], f"cycles without X and Y drill where the tool stands ({_lines(here)})")


def _lines(lines: Iterable[int]) -> str:
    distinct = list(dict.fromkeys(int(line) for line in lines))
    shown = ", ".join(str(line) for line in distinct[:MOST_LINES])
    word = "line" if len(distinct) == 1 else "lines"
    more = len(distinct) - MOST_LINES
    return f"{word} {shown}" + (f" and {more} more" if more > 0 else "")
