"""Where both layers write moves, arcs and events while a program is read."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstoff.program import _kernels as k
from firstoff.program.moves import Arcs, Event, Kind, Moves, What
from firstoff.program.state import State

MOVE_COLUMNS: tuple[tuple[str, type, int], ...] = (
    ("kind", np.uint8, 1),
    ("end_mm", np.float64, 3),
    ("frame", np.int16, 3),
    ("arc", np.int32, 1),
    ("feed_mm_per_s", np.float64, 1),
    ("spindle_per_s", np.float64, 1),
    ("tool", np.int32, 1),
    ("comp_register", np.int32, 1),
    ("flags", np.uint16, 1),
    ("line", np.int32, 1),
    ("parent", np.int32, 1),
)
"""Field of `Moves`, type, width; the kernel takes the columns in this order."""
ARC_COLUMNS: tuple[tuple[str, type, int], ...] = (
    ("centre_mm", np.float64, 2),
    ("plane", np.uint8, 1),
    ("radius_mm", np.float64, 1),
    ("sweep_rad", np.float64, 1),
    ("rise_mm", np.float64, 1),
)
FEWEST_ROWS = 64


class Record:
    """Growing columns of moves and arcs, and the list of events."""

    def __init__(self, state: State, rows: int) -> None:
        self._state = state
        self.moves = _columns(MOVE_COLUMNS, max(rows, FEWEST_ROWS))
        self.arcs = _columns(ARC_COLUMNS, FEWEST_ROWS)
        self.events: list[Event] = []

    def grow(self) -> None:
        """Double what is full."""
        whole = self._state.whole
        if whole[k.MOVES] >= len(self.moves[0]):
            self.moves = _doubled(self.moves)
        if whole[k.ARCS] >= len(self.arcs[0]):
            self.arcs = _doubled(self.arcs)

    def event(self, what: What, line: int, number: int = 0, value: float = 0.0, text: str = "") -> None:
        self.events.append(Event(what, self._state.moves, line, number, value, text))

    def arc(self, geometry: NDArray[np.float64], rise_mm: float) -> int:
        """Add an arc in the plane in force; `geometry` as the kernel's arc functions fill it."""
        self.grow()
        state = self._state
        row = int(state.whole[k.ARCS])
        state.whole[k.ARCS] += 1
        centre, plane, radius, sweep, rise = self.arcs
        centre[row] = geometry[: k.RADIUS]
        plane[row] = state.plane
        radius[row] = geometry[k.RADIUS]
        sweep[row] = geometry[k.SWEEP]
        rise[row] = rise_mm
        return row

    def move(self, kind: Kind, arc: int, feed: float, spindle: float, flags: int, line: int, parent: int) -> None:
        """Add a move that ends where the state stands."""
        self.grow()
        whole, real = self._state.whole, self._state.real
        row = int(whole[k.MOVES])
        whole[k.MOVES] += 1
        columns = self.moves
        columns[0][row] = kind
        columns[1][row] = real[k.X : k.Z + 1]
        columns[2][row] = whole[k.X_FRAME : k.Z_FRAME + 1]
        columns[3][row] = arc
        columns[4][row] = feed
        columns[5][row] = spindle
        columns[6][row] = whole[k.TOOL]
        columns[7][row] = whole[k.COMP_REGISTER]
        columns[8][row] = flags
        columns[9][row] = line
        columns[10][row] = parent

    def frozen_moves(self) -> Moves:
        return Moves(**_frozen(MOVE_COLUMNS, self.moves, self._state.moves))

    def frozen_arcs(self) -> Arcs:
        return Arcs(**_frozen(ARC_COLUMNS, self.arcs, int(self._state.whole[k.ARCS])))


def _columns(columns: tuple[tuple[str, type, int], ...], rows: int) -> tuple[NDArray[Any], ...]:
    return tuple(np.empty(rows if width == 1 else (rows, width), dtype) for _, dtype, width in columns)


def _doubled(columns: tuple[NDArray[Any], ...]) -> tuple[NDArray[Any], ...]:
    grown = tuple(np.empty((2 * len(old), *old.shape[1:]), old.dtype) for old in columns)
    for new, old in zip(grown, columns, strict=True):
        new[: len(old)] = old
    return grown


def _frozen(
    columns: tuple[tuple[str, type, int], ...], arrays: tuple[NDArray[Any], ...], rows: int
) -> dict[str, NDArray[Any]]:
    """The rows written, read-only; a view if the columns are nearly full, else a copy that lets the rest go."""
    frozen: dict[str, NDArray[Any]] = {}
    for (name, _, _), array in zip(columns, arrays, strict=True):
        kept = array[:rows] if 2 * rows >= len(array) else array[:rows].copy()
        kept.setflags(write=False)
        frozen[name] = kept
    return frozen
