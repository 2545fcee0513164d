"""Moves placed in the machine: the programmed coordinates joined with offsets and lengths at their best estimates.

Motion plans on a `Track`; the verdict does not, because it keeps offsets and lengths as facts (`firstoff.verdict`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.program.bounds import by_frame, path_length
from firstoff.program.moves import NO_LENGTH, Arcs, Base, Floats, Frames, Moves


@dataclass(frozen=True, slots=True)
class Track:
    """`start_mm` and `end_mm` f8[N, 3]: gauge point in the machine frame (NaN where not known). `step_mm` f8[N, 3]: how far each
    axis goes, known also where two ends hang on the same unknown origin; NaN where not known. `length_mm` f8[N]: path length, arcs
    and helices true, 0 for dwells, NaN where the step is not known."""

    moves: Moves
    arcs: Arcs
    start_mm: Floats
    end_mm: Floats
    length_mm: Floats
    step_mm: Floats


def place(
    moves: Moves,
    arcs: Arcs,
    frames: Frames,
    origins_mm: Mapping[int, Sequence[float]],
    lengths_mm: Mapping[int, float],
) -> Track:
    """Join moves with origins (by `Base`, three numbers each, mm) and tool lengths (by H register, mm).

    A base or register that is not given makes the coordinates that hang on it NaN; `Base.MACHINE` is always zero.
    """
    origin = origin_table(frames, origins_mm, lengths_mm)
    end = moves.end_mm + by_frame(origin, moves)
    start = np.vstack([np.full((1, 3), np.nan), end[:-1]]) if len(moves) else end.copy()
    step = _steps(moves, frames, end - start)
    length = path_length(moves, arcs, step)
    return Track(moves, arcs, *(_frozen(one) for one in (start, end, length, step)))


def _steps(moves: Moves, frames: Frames, step: Floats) -> Floats:
    """Steps between machine positions, and between coordinates where both ends hang on the same origin, known or not."""
    if len(moves) < 2:
        return step
    hidden, axis = np.nonzero(np.isnan(step[1:]))
    now, before = moves.frame[hidden + 1, axis], moves.frame[hidden, axis]
    number, former = moves.end_mm[hidden + 1, axis], moves.end_mm[hidden, axis]
    same = (frames.base[now, axis] == frames.base[before, axis]) & (frames.base[now, axis] != Base.UNKNOWN)
    same &= (axis != 2) | (frames.length[now] == frames.length[before])
    shifted = number - former + frames.shift_mm[now, axis] - frames.shift_mm[before, axis]
    stays = (now == before) & ((number == former) | (np.isnan(number) & np.isnan(former)))
    # An axis that was not named has not moved, wherever it is.
    step[hidden + 1, axis] = np.where(stays, 0.0, np.where(same, shifted, np.nan))
    return step


def origin_table(frames: Frames, origins_mm: Mapping[int, Sequence[float]], lengths_mm: Mapping[int, float]) -> Floats:
    """f8[K, 3]: machine position of the gauge point at programmed zero, for each row of `frames`."""
    table = np.full((len(frames.length), 3), np.nan)
    for row in range(len(frames.length)):
        register = int(frames.length[row])
        for axis in range(3):
            base = int(frames.base[row, axis])
            origin = 0.0 if base == Base.MACHINE else origins_mm.get(base, (np.nan,) * 3)[axis]
            table[row, axis] = origin + frames.shift_mm[row, axis]
        if register != NO_LENGTH:
            table[row, 2] += lengths_mm.get(register, np.nan)
    return table


def _frozen(array: Floats) -> Floats:
    array = np.ascontiguousarray(array)
    array.setflags(write=False)
    return array
