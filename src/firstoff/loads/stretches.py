"""The program cut into stretches: one tool at one speed, from its call to the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.motion.summary import CUTTING
from firstoff.motion.timeline import Timeline
from firstoff.program.moves import Flag, Ints, Kind, Moves


@dataclass(frozen=True, slots=True)
class Span:
    """Moves `first` .. `last` are made with one tool at one speed (signed turns a second, NaN if never given)."""

    tool: int
    first: int
    last: int
    turns_per_s: float


def fed(moves: Moves) -> NDArray[np.bool_]:
    """bool[N]: made at feed."""
    at_feed: NDArray[np.bool_] = np.isin(moves.kind, [int(kind) for kind in CUTTING])
    at_feed |= (moves.kind == Kind.MACHINE) & ((moves.flags & Flag.FEEDING) != 0)
    return at_feed


def spans_of(moves: Moves) -> tuple[tuple[Span, ...], Ints]:
    """The stretches that go anywhere at feed, and i4[N] the stretch of each move (-1: none). A program may call no tool at all.

    A spindle that stops and starts again at its former speed goes on with the same stretch.
    """
    at_feed = np.flatnonzero(fed(moves))
    of = np.full(len(moves), -1, dtype=np.int32)
    if not at_feed.size:
        return (), of
    tool, speed = moves.tool[at_feed], np.nan_to_num(moves.spindle_per_s[at_feed], nan=-np.inf)
    called_anew = np.concatenate([[False], np.diff(np.cumsum(_calls(moves))[at_feed]) > 0])
    new = np.concatenate([[True], (tool[1:] != tool[:-1]) | (speed[1:] != speed[:-1])]) | called_anew
    firsts = np.flatnonzero(new)
    lasts = np.append(firsts[1:], at_feed.size) - 1
    spans = []
    for number, (first, last) in enumerate(zip(at_feed[firsts].tolist(), at_feed[lasts].tolist(), strict=True)):
        of[first : last + 1] = number
        spans.append(Span(int(moves.tool[first]), first, last, float(moves.spindle_per_s[first])))
    return tuple(spans), of


def _calls(moves: Moves) -> NDArray[np.int64]:
    """i8[N]: 1 where a tool was changed just before."""
    changed = np.zeros(len(moves), dtype=np.int64)
    changed[1:] = moves.tool[1:] != moves.tool[:-1]
    return changed


def fed_seconds(span: Span, moves: Moves, timeline: Timeline) -> float:
    """Time at feed within a stretch."""
    here = slice(span.first, span.last + 1)
    return float(np.sum(timeline.move_s[here][fed(moves)[here]]))
