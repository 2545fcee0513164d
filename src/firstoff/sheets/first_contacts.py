"""Where each tool first goes into the stock after it was called, and the line before it at which to stop and compare two numbers: the gap
that the eye sees, and the way in Z that the screen says is still to go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import Kind, What
from firstoff.removal.swept import FirstCut
from firstoff.sheets.sheet_facts import on_work
from firstoff.verdict.bites import calls_of
from firstoff.verdict.case import STOCK_TOPS, Case
from firstoff.verdict.followed import Followed
from firstoff.verdict.questions.tool import used_tools

STANDS_CLEAR_MM = 0.5
"""Less than this over the stock cannot be told from touching by eye (common practice); twice the doubt of the blank's top comes on top."""
SEEN_MM = 0.05
"""A doubt of the blank's top below this is not seen beside a tool."""


@dataclass(frozen=True, slots=True)
class Halt:
    """A line to stop after, and where the tip then stands: programmed X and Y, height in the work frame, mm."""

    line: int
    move: int
    x: float
    y: float
    z: float
    to_go: float | None
    """How far down the next block goes, mm: what the screen says is to go in Z when it has just begun. None if it does not go down."""
    cycle: bool = False
    """The next block is a canned cycle: `to_go` is that of its rapid to the R plane."""


@dataclass(frozen=True, slots=True)
class Meeting:
    """Where a tool first meets the stock, mm in the work frame, and its bite there. From the followed stock only."""

    x: float
    y: float
    deep: float
    wide: float


@dataclass(frozen=True, slots=True)
class Contact:
    """The first time a tool goes into the stock after it was called, at `line`."""

    tool: int
    line: int
    move: int
    surface: float | None
    """Height of the stock where it meets it, mm; without a followed stock the top of the blank, where that is given."""
    meeting: Meeting | None
    halt: Halt | None
    """The last line before it after which the tip still stands clear of the stock: the place to stop and look."""

    @property
    def gap(self) -> float | None:
        """How far the tip stands over the surface that it meets first, at the halt."""
        return None if self.halt is None or self.surface is None else self.halt.z - self.surface


@dataclass(frozen=True, slots=True)
class Call:
    """One time that a tool is called and feeds: `first` .. `last` are its moves."""

    tool: int
    first: int
    last: int
    again: bool
    """The same tool was called before."""
    change: int | None
    """Line of its change; None where the program changes no tool."""
    contact: Contact | None
    """None where it takes nothing away."""


def calls(case: Case) -> list[Call]:
    """Every call of every tool that feeds, in program order."""
    spans = [(first, last, tool) for tool in used_tools(case) for first, last in calls_of(case, tool)]
    found, seen = [], set()
    for first, last, tool in sorted(spans):
        if bool(case.feeding[first : last + 1].any()):
            found.append(Call(tool, first, last, tool in seen, _change(case, tool, first), _contact(case, first, last)))
            seen.add(tool)
    return found


def contacts(case: Case) -> list[Contact]:
    """The first contact of each call that has one."""
    return [call.contact for call in calls(case) if call.contact is not None]


@dataclass(frozen=True, slots=True)
class _Top:
    """Highest place of the blank, mm, and its standard uncertainty."""

    value: float
    u: float


def top_doubt(case: Case) -> float | None:
    """How far the top of the blank may be off, mm (two uncertainties); None where it is not given, or off by less than the eye sees."""
    top = _top(case)
    return 2 * top.u if top is not None and 2 * top.u >= SEEN_MM else None


def _top(case: Case) -> _Top | None:
    """As the job gives it; of a blank of another shape that was followed, that of its shape."""
    fact = next((case.facts.facts[path] for path in STOCK_TOPS if path in case.facts.facts), None)
    if fact is not None:
        return _Top(fact.value, fact.u)
    told = case.followed
    return _Top(told.likely.before.grid.z0_mm, 0.0) if isinstance(told, Followed) else None


def _change(case: Case, tool: int, first: int) -> int | None:
    """Line of the last change to the tool before its first move."""
    lines = [
        event.line
        for event in case.reading.events
        if event.what is What.TOOL_CHANGE and event.number == tool and event.before <= first
    ]
    return lines[-1] if lines else None


def _contact(case: Case, first: int, last: int) -> Contact | None:
    told = case.followed
    if isinstance(told, Followed):
        cuts = [cut for cut in (*told.likely.first_cuts, *told.largest.first_cuts) if first <= cut.move <= last]
        return _followed(case, told, cuts[0]) if cuts else None
    return _by_height(case, first, last)


def _followed(case: Case, told: Followed, cut: FirstCut) -> Contact:
    """The likely blank comes first; what only the largest one meets is told as it meets that."""
    moves = told.likely.moves if told.likely.moves.volume_mm3[cut.move] > 0 else told.largest.moves
    meeting = Meeting(cut.tip_mm[0], cut.tip_mm[1], float(moves.axial_mm[cut.move]), float(moves.wide_mm[cut.move]))
    line = int(case.moves.line[cut.move])
    return Contact(cut.tool, line, cut.move, cut.height_mm, meeting, _halt(case, cut.move))


def _by_height(case: Case, first: int, last: int) -> Contact | None:
    """Without a followed stock: the first move that feeds below the top of the blank (below anything, where none is given)."""
    top = _top(case)
    mine = on_work(case) & case.feeding
    mine[:first] = False
    mine[last + 1 :] = False
    if top is not None:
        mine &= case.low_mm[:, 2] + _shift(case) < top.value
    rows = np.flatnonzero(mine)
    if not rows.size:
        return None
    move = int(rows[0])
    surface = top.value if top is not None else None
    return Contact(int(case.moves.tool[move]), int(case.moves.line[move]), move, surface, None, _halt(case, move))


def _shift(case: Case) -> NDArray[np.float64]:
    """f8[N] what a shift of the work frame adds to each programmed Z."""
    shift: NDArray[np.float64] = case.reading.frames.shift_mm[case.moves.frame[:, 2], 2]
    return shift


def _halt(case: Case, move: int) -> Halt | None:
    """The nearest line before `move` that ends with the tip clear of the stock, with the same tool."""
    moves, top, work = case.moves, _top(case), on_work(case)
    z = moves.end_mm[:, 2] + _shift(case)
    clear = None if top is None else top.value + STANDS_CLEAR_MM + 2 * top.u
    at = move - 1
    while at >= 0 and work[at] and moves.tool[at] == moves.tool[move]:
        own_line = moves.line[at] != moves.line[at + 1]
        if own_line and np.isfinite(z[at]) and (clear is None or z[at] >= clear):
            x, y = float(moves.end_mm[at, 0]), float(moves.end_mm[at, 1])
            return Halt(int(moves.line[at]), at, x, y, float(z[at]), *_to_go(case, at))
        at -= 1
    return None


def _to_go(case: Case, at: int) -> tuple[float | None, bool]:
    """(way down of the block after move `at`, whether that block is a cycle)."""
    moves = case.moves
    cycle = int(moves.parent[at + 1]) >= 0
    end = at + 1
    if cycle:  # its first way down is the rapid to R
        while end + 1 < len(moves) and moves.parent[end] == moves.parent[at + 1] and not _lower(case, end, at):
            end += 1
        if moves.kind[end] != Kind.RAPID:
            return None, True
    else:
        while end + 1 < len(moves) and moves.line[end + 1] == moves.line[at + 1]:
            end += 1
    same = moves.frame[end, 2] == moves.frame[at, 2]
    return (float(moves.end_mm[at, 2] - moves.end_mm[end, 2]) if same and _lower(case, end, at) else None), cycle


def _lower(case: Case, move: int, at: int) -> bool:
    return bool(case.moves.end_mm[move, 2] < case.moves.end_mm[at, 2])
