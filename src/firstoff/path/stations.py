"""Stations: places of the tip along the pieces, at most one step apart, in chunks of bounded size.

Lines are cut into equal steps, arcs and helices into equal angles, so close that a chord leaves the arc by at most a tenth of a step. A
step may be 5 % longer than asked, so that a block a hair too long is not cut in two. Short pieces that go the same way share a station;
it belongs to the piece at whose end it lies. No corner, no deepest vertex and no end is passed over by more than half a step.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstoff.path import _kernels as k
from firstoff.path.pieces import Pieces, Stations
from firstoff.program.moves import PLANE_AXES, Arcs, Floats

CHUNK = 200_000
"""Stations in memory at once: 10 MB."""


@dataclass(frozen=True, slots=True)
class Window:
    """Only pieces that come within `margin_mm` of this rectangle count (their boxes are compared, so a few too many do)."""

    x_low_mm: float
    x_high_mm: float
    y_low_mm: float
    y_high_mm: float
    margin_mm: float = 0.0


def stations(
    pieces: Pieces,
    step_mm: float | Floats,
    *,
    rapid_step_mm: float | None = None,
    dz_mm: float | Floats = math.inf,
    turn_rad: float | Floats = k.STRAIGHT_ON,
    chunk: int = CHUNK,
    window: Window | None = None,
    until_move: int | None = None,
) -> Iterator[Stations]:
    """Stations of all pieces in order, at most `chunk` at a time.

    `step_mm` for all or f8[P]. `rapid_step_mm`: step of rapids, else `step_mm`. `dz_mm`: greatest change of height between stations at feed, for all or f8[P] (flat
    tools on ramps). `turn_rad`: greatest turn over which short pieces share a station, for all or f8[P]. `window`: pieces wholly outside are left out. `until_move`: the last move that counts. Raises `ValueError` for
    steps and chunks that are not greater than 0.
    """
    if chunk < 1:
        raise ValueError(f"chunk={chunk} must be 1 or more")
    pieces = _sealed(pieces)
    count, lag = _count(pieces, step_mm, rapid_step_mm, dz_mm, turn_rad, window, until_move)
    return _chunks(pieces, count, lag, chunk)


def stations_of_pieces(
    pieces: Pieces,
    step_mm: float | Floats,
    *,
    rapid_step_mm: float | None = None,
    dz_mm: float | Floats = math.inf,
    turn_rad: float | Floats = k.STRAIGHT_ON,
    window: Window | None = None,
    until_move: int | None = None,
) -> NDArray[np.int64]:
    """i8[P]: how many stations each piece gets from `stations` with the same arguments."""
    return _count(_sealed(pieces), step_mm, rapid_step_mm, dz_mm, turn_rad, window, until_move)[0]


def lengths_of_pieces(pieces: Pieces) -> Floats:
    """f8[P] mm: length of each line, arc or helix."""
    length: Floats = np.linalg.norm(pieces.end_mm - pieces.start_mm, axis=1)
    rows = np.flatnonzero(pieces.arc >= 0)
    arc = pieces.arc[rows]
    around = 0.5 * sum(_radii(pieces, rows)) * pieces.arcs.sweep_rad[arc]
    length[rows] = np.hypot(around, pieces.arcs.rise_mm[arc])
    return length


def _sealed(pieces: Pieces) -> Pieces:
    """The same pieces as kernels take them: read-only, C-contiguous, of the types that `Pieces` states."""
    arcs = pieces.arcs
    return Pieces(
        _seal(pieces.move, np.int32),
        _seal(pieces.tool, np.int32),
        _seal(pieces.start_mm, np.float64),
        _seal(pieces.end_mm, np.float64),
        _seal(pieces.arc, np.int32),
        Arcs(
            _seal(arcs.centre_mm, np.float64),
            _seal(arcs.plane, np.uint8),
            _seal(arcs.radius_mm, np.float64),
            _seal(arcs.sweep_rad, np.float64),
            _seal(arcs.rise_mm, np.float64),
        ),
        _seal(pieces.rapid, np.bool_),
        _seal(pieces.ghost, np.bool_),
        pieces.unknown,
    )


def _seal(array: NDArray[Any], kind: type[np.generic]) -> NDArray[Any]:
    sealed = np.ascontiguousarray(array, dtype=kind).view()
    sealed.setflags(write=False)
    return sealed


def _count(
    pieces: Pieces,
    step_mm: float | Floats,
    rapid_step_mm: float | None,
    dz_mm: float | Floats,
    turn_rad: float | Floats,
    window: Window | None,
    until_move: int | None,
) -> tuple[NDArray[np.int64], Floats]:
    step, dz = _of_each("step_mm", step_mm, pieces), _of_each("dz_mm", dz_mm, pieces)
    straight = np.cos(np.minimum(_of_each("turn_rad", turn_rad, pieces), k.STRAIGHT_ON))
    if rapid_step_mm is not None:
        step = np.where(pieces.rapid, _of_each("rapid_step_mm", rapid_step_mm, pieces), step)
    if not np.isfinite(step).all():
        raise ValueError(f"step_mm={step[~np.isfinite(step)][0]} must be finite")
    wanted = np.ones(len(pieces), np.bool_) if window is None else _inside(pieces, window)
    if until_move is not None:
        wanted &= pieces.move <= until_move
    for array in (step, dz, straight, wanted):
        array.setflags(write=False)
    count, lag = np.empty(len(pieces), np.int64), np.empty(len(pieces))
    arcs = pieces.arcs
    k.count_stations(
        pieces.start_mm, pieces.end_mm, pieces.arc, arcs.centre_mm, arcs.plane, arcs.sweep_rad, arcs.rise_mm,
        pieces.tool, pieces.rapid, pieces.ghost, wanted, dz, step, straight, count, lag,
    )  # fmt: skip
    count.setflags(write=False)
    lag.setflags(write=False)
    return count, lag


def _of_each(name: str, given: float | Floats, pieces: Pieces) -> Floats:
    """f8[P] of one value for all or one each."""
    if np.ndim(given) == 0 and not given > 0:
        raise ValueError(f"{name}={given} must be greater than 0")
    each = np.full(len(pieces), given, dtype=np.float64) if np.ndim(given) == 0 else np.array(given, dtype=np.float64)
    if each.shape != (len(pieces),):
        raise ValueError(f"{name} has {each.size} values for {len(pieces)} pieces: one for all or one each")
    if not (each > 0).all():
        raise ValueError(f"{name}={each[~(each > 0)][0]} must be greater than 0")
    return each


def _chunks(pieces: Pieces, count: NDArray[np.int64], lag: Floats, chunk: int) -> Iterator[Stations]:
    arcs, left, piece, within = pieces.arcs, int(count.sum()), 0, 0
    while left > 0:
        size = min(left, chunk)
        of, tip = np.empty(size, np.int32), np.empty((size, 3))
        way, step = np.empty((size, 3), np.float32), np.empty(size, np.float32)
        piece, within = k.fill_stations(
            pieces.start_mm, pieces.end_mm, pieces.arc, arcs.centre_mm, arcs.plane, arcs.sweep_rad, arcs.rise_mm,
            count, lag, piece, within, of, tip, way, step,
        )  # fmt: skip
        left -= size
        one = Stations(of, pieces.move[of], tip, way, step, pieces.tool[of], pieces.rapid[of], pieces.ghost[of])
        for array in (of, one.move, tip, way, step, one.tool, one.rapid, one.ghost):
            array.setflags(write=False)
        yield one


def _inside(pieces: Pieces, window: Window) -> NDArray[np.bool_]:
    """bool[P]: the piece's box touches the window; an arc counts as its whole circle."""
    low, high = np.minimum(pieces.start_mm, pieces.end_mm)[:, :2], np.maximum(pieces.start_mm, pieces.end_mm)[:, :2]
    rows = np.flatnonzero(pieces.arc >= 0)
    radius = np.maximum(*_radii(pieces, rows))
    centre, plane = pieces.arcs.centre_mm[pieces.arc[rows]], pieces.arcs.plane[pieces.arc[rows]]
    for number, axes in PLANE_AXES.items():
        here = plane == number
        for part, axis in enumerate(axes[:2]):
            if axis < 2:
                low[rows[here], axis] = centre[here, part] - radius[here]
                high[rows[here], axis] = centre[here, part] + radius[here]
    margin = window.margin_mm
    inside = (low[:, 0] <= window.x_high_mm + margin) & (high[:, 0] >= window.x_low_mm - margin)
    inside &= (low[:, 1] <= window.y_high_mm + margin) & (high[:, 1] >= window.y_low_mm - margin)
    touches: NDArray[np.bool_] = inside
    return touches


def _radii(pieces: Pieces, rows: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """f8[K] distances of start and end of arcs from their centres."""
    axes = np.zeros((20, 2), np.intp)
    for number, (first, second, _) in PLANE_AXES.items():
        axes[number] = first, second
    arc = pieces.arc[rows]
    in_plane = axes[pieces.arcs.plane[arc]]
    centre = pieces.arcs.centre_mm[arc].reshape(-1, 2)
    start, end = (
        np.linalg.norm(np.take_along_axis(points[rows], in_plane, axis=1) - centre, axis=1)
        for points in (pieces.start_mm, pieces.end_mm)
    )
    return start, end
