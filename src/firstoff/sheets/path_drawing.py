"""From a way of any length to a bounded number of strokes: what falls on the same stroke is drawn once, in its worst margin."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.path.pieces import Pieces
from firstoff.program.moves import Floats
from firstoff.sheets.move_margins import Margin
from firstoff.sheets.program_path import chords_of

FINEST = 0.25
"""Grid that ends of strokes lie on, in units of the picture (px at its planned width): finer cannot be seen."""
COARSER = 1.5
"""By how much the grid grows where there are still too many strokes."""
STRAIGHT, PASSES = 0.05, 12
"""A point this near to the straight line past it (in units of the picture) is left out, in so many rounds at most: together they move
the path by less than its own width."""
MOST_STROKES = 25_000
"""Strokes of one picture; about 250 kB."""
WIDEST, CROWDED = 3.4, 0.06
"""Width of the widest stroke (LOOK, 2), and the part of the picture above which strokes of that width run into each other."""
Keys = NDArray[np.int64]
_BITS = 21
_HALF = 1 << (_BITS - 1)
"""Places are kept as whole numbers of the grid in 21 bits each, two of them a key: a million either way."""


@dataclass(frozen=True, slots=True)
class View:
    """X and Y of the work frame to the picture: x = (X − x0)·scale, y = (y1 − Y)·scale; `wide`, `tall` of the picture."""

    x0: float
    y1: float
    scale: float
    wide: float
    tall: float

    def at(self, x: float, y: float) -> tuple[float, float]:
        return (x - self.x0) * self.scale, (self.y1 - y) * self.scale


@dataclass(frozen=True, slots=True)
class Strokes:
    """Path data of one kind of stroke, in grid units."""

    margin: Margin
    rapid: bool
    data: str


@dataclass(frozen=True, slots=True)
class PathDrawing:
    """`strokes`, those drawn last in front. `grid` is the unit of their numbers, in units of the picture. `moves` were laid out, `count`
    strokes are drawn. `crowded`: so many wide strokes lie so close that they must be drawn narrower to be told apart."""

    strokes: tuple[Strokes, ...]
    grid: float
    count: int
    moves: int
    crowded: bool


def draw_path(pieces: Pieces, margins: NDArray[np.int8], view: View) -> PathDrawing:
    """The way of all pieces as strokes. `margins` i1[N] by move."""
    start, end, rank = _laid_out(pieces, margins, view)
    grid = FINEST
    first, last, ranks = _merged(_on_grid(start, grid), _on_grid(end, grid), rank)
    while len(first) > MOST_STROKES:
        grid *= COARSER
        first, last, ranks = _merged(_on_grid(start, grid), _on_grid(end, grid), rank)
    strokes = tuple(_strokes(first, last, ranks))
    moves = int(np.unique(pieces.move).size)
    return PathDrawing(
        strokes, grid, len(first), moves, _crowded(grid * (last - first).astype(np.float64), ranks, view)
    )


def _crowded(way: Floats, rank: NDArray[np.int8], view: View) -> bool:
    """Whether wide strokes would cover more than `CROWDED` of the picture at their full width."""
    wide = (rank >= 2 * Margin.CARE) & (rank % 2 == 1)
    covered = float(np.hypot(way[wide, 0], way[wide, 1]).sum()) * WIDEST
    return covered > CROWDED * view.wide * view.tall


def _laid_out(pieces: Pieces, margins: NDArray[np.int8], view: View) -> tuple[Floats, Floats, NDArray[np.int8]]:
    """All strokes that can be seen: f8[K, 2] both ends in units of the picture, and their rank (margin, a rapid before a feed)."""
    kept: list[tuple[Floats, Floats, NDArray[np.int8]]] = []
    for chords in chords_of(pieces, 0.5 * FINEST / view.scale):
        start, end = _in_picture(chords.start, view), _in_picture(chords.end, view)
        rank = (2 * margins[chords.move] + ~chords.rapid).astype(np.int8)
        goes = (np.abs(end - start) > 1e-9).any(axis=1) | (chords.upright & ~chords.rapid)
        goes &= _seen(start, end, view)
        kept.append(_straightened(start[goes], end[goes], rank[goes]))
    if not kept:
        none = np.zeros((0, 2))
        return none, none, np.zeros(0, dtype=np.int8)
    start, end, rank = (np.concatenate(parts) for parts in zip(*kept, strict=True))
    return start, end, rank


def _in_picture(points: Floats, view: View) -> Floats:
    return np.stack([(points[:, 0] - view.x0) * view.scale, (view.y1 - points[:, 1]) * view.scale], axis=1)


def _seen(start: Floats, end: Floats, view: View) -> NDArray[np.bool_]:
    """Strokes whose box meets the picture."""
    low, high = np.minimum(start, end), np.maximum(start, end)
    return np.asarray(((high >= 0) & (low <= np.array([view.wide, view.tall]))).all(axis=1))


def _straightened(start: Floats, end: Floats, rank: NDArray[np.int8]) -> tuple[Floats, Floats, NDArray[np.int8]]:
    """Strokes that go straight on, joined two by two, until hardly any are left to join."""
    for number in range(PASSES):
        size = len(rank)
        one = np.arange(number % 2, size - 1, 2)
        two = one + 1
        joins = (rank[one] == rank[two]) & (end[one] == start[two]).all(axis=1)
        way, bend = end[two] - start[one], end[one] - start[one]
        long = np.hypot(way[:, 0], way[:, 1])
        beside = np.abs(way[:, 0] * bend[:, 1] - way[:, 1] * bend[:, 0])
        onward = ((way * bend).sum(axis=1) >= 0) & ((way * (way - bend)).sum(axis=1) >= 0)
        joins &= onward & (beside <= STRAIGHT * long) & (long > 0)
        if not joins.any():
            if number:
                break
            continue
        keep = np.ones(size, dtype=np.bool_)
        keep[two[joins]] = False
        end = end.copy()
        end[one[joins]] = end[two[joins]]
        start, end, rank = start[keep], end[keep], rank[keep]
    return start, end, rank


def _on_grid(points: Floats, grid: float) -> Keys:
    return np.rint(np.clip(points / grid, -_HALF + 1, _HALF - 1)).astype(np.int64)


def _merged(first: Keys, last: Keys, rank: NDArray[np.int8]) -> tuple[Keys, Keys, NDArray[np.int8]]:
    """Each stroke once, whichever way it was gone, in its worst rank; in the order in which strokes first come."""
    one, other = _packed(first), _packed(last)
    low, high = np.minimum(one, other), np.maximum(one, other)
    number = np.arange(low.size)
    order = np.lexsort((number, -rank, high, low))  # an end that coarser steps brought to its start stays as a dot
    low, high = low[order], high[order]
    fresh = np.ones(low.size, dtype=np.bool_)
    fresh[1:] = (low[1:] != low[:-1]) | (high[1:] != high[:-1])
    keep = np.sort(order[fresh])
    return first[keep], last[keep], rank[keep]


def _packed(points: Keys) -> Keys:
    return ((points[:, 0] + _HALF) << _BITS) | (points[:, 1] + _HALF)


def _strokes(first: Keys, last: Keys, rank: NDArray[np.int8]) -> Iterator[Strokes]:
    for one in range(2 * len(Margin)):
        mine = rank == one
        if mine.any():
            yield Strokes(Margin(one // 2), one % 2 == 0, _data(first[mine], last[mine]))


def _data(first: Keys, last: Keys) -> str:
    """Strokes that go on from each other as one line; a stroke of no length is a dot."""
    parts: list[str] = []
    x, y, command = None, None, ""
    for (x0, y0), (x1, y1) in zip(first.tolist(), last.tolist(), strict=True):
        if (x0, y0) != (x, y):
            parts.append(f"M{x0} {y0}")
            command = ""
        parts.append(f"{command or 'l'}{x1 - x0} {y1 - y0}")
        command, x, y = " ", x1, y1
    return "".join(parts)
