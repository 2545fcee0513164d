"""A reading seen as a whole: how far each move reaches, where it begins, how long it is, and whether that is known."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from firstoff.program.bounds import Bools, lengths_of_moves, reach_of_moves, starts_of_moves
from firstoff.program.moves import SYSTEM_NAMES, Base, Flag, Floats, Kind, Moves, Reading

WORK_KINDS = (Kind.RAPID, Kind.FEED, Kind.ARC, Kind.PROBE, Kind.TAP)
"""Moves in the work frame; home and G53 are left out."""
FEED_KINDS = (Kind.FEED, Kind.ARC, Kind.TAP)
STANDING_MM = 1e-6
"""Less than this is no movement: a thousandth of the smallest increment any control moves."""
AXES = 3
AFTER_G80 = "machine.control.after_g80"
_COMMENT = re.compile(r"\([^)]*\)?|;.*")


@dataclass(frozen=True, slots=True)
class Sight:
    """A reading with what is worked out from all of its moves at once. Arrays have one row a move."""

    reading: Reading
    working: Bools
    """In the work frame, and no leg of a way home."""
    known: Bools
    """bool[N, 3]: the axis was given in a work system."""
    low: Floats
    high: Floats
    start: Floats
    length: Floats
    down: Bools
    """The move ends below where it began, and nowhere else."""
    doubtful: Bools
    """A block that moves nothing on some controls: axis words after G80, where nobody says what the control does with them."""


def look_at(reading: Reading) -> Sight:
    """Work out reach, start and length of every move."""
    moves = reading.moves
    low, high = reach_of_moves(moves, reading.arcs)
    base = reading.frames.base[moves.frame, np.arange(AXES)]
    known = (base >= Base.G54) & (base <= Base.G59_3) & np.isfinite(moves.end_mm)
    working = np.isin(moves.kind, WORK_KINDS)
    if len(moves) > 1:  # the leg of G28 to its programmed point goes home too
        to_home = (moves.kind[1:] == Kind.HOME) & (moves.line[1:] == moves.line[:-1]) & (moves.kind[:-1] == Kind.RAPID)
        working[:-1] &= ~to_home
    low, high = np.where(known, low, np.nan), np.where(known, high, np.nan)
    start = starts_of_moves(moves)
    length = lengths_of_moves(moves, reading.arcs)
    return Sight(reading, working, known, low, high, start, length, _straight_down(moves, start), _doubtful(reading))


def _straight_down(moves: Moves, start: Floats) -> Bools:
    moved = moves.end_mm - start
    down: Bools = (moved[:, 2] < -STANDING_MM) & (np.abs(moved[:, :2]) <= STANDING_MM).all(axis=1)
    return down


def _doubtful(reading: Reading) -> Bools:
    """Blocks that hang on `AFTER_G80`, told by their text: a rapid that is not sure and names no G code of its own."""
    moves = reading.moves
    doubtful = np.zeros(len(moves), bool)
    if any(problem.fact == AFTER_G80 for problem in reading.problems):
        unsure = (moves.kind == Kind.RAPID) & ((moves.flags & Flag.UNSURE) != 0) & (moves.parent < 0)
        for row in np.flatnonzero(unsure):
            doubtful[row] = "G" not in bare_text(reading.text[moves.line[row] - 1])
    return doubtful


def bare_text(text: str) -> str:
    """A line without its comments, in capitals."""
    return _COMMENT.sub("", text).upper()


def coolant_of(flags: int) -> str:
    """``off``, ``mist``, ``flood`` or ``both``."""
    return ("off", "mist", "flood", "both")[(1 if flags & Flag.MIST else 0) + (2 if flags & Flag.FLOOD else 0)]


def system_name(base: int) -> str:
    """``G54`` .. ``G59.3``, empty for what is no work system."""
    return SYSTEM_NAMES[base - Base.G54] if Base.G54 <= base <= Base.G59_3 else ""
