"""What hangs together when the program has ended: the part, the rest of the blank, slugs.

Columns hang together where they touch by a side; columns with hollows hang together only where what is solid in them overlaps.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from firstoff.program.moves import Floats, Ints
from firstoff.removal.field import LEAST_CUT_MM, NOTHING, Field, Grid
from firstoff.removal.growing import settled
from firstoff.removal.profile import frozen
from firstoff.removal.scan import _kernels as kernels
from firstoff.removal.swept import Piece

CRUMB_MM3 = 1.0
"""What is smaller hangs on by less than the grid shows, or flies off as a chip."""


SLIVER_MM, SLIVER_SHARE = 3.0, 0.25
"""A sliver is at most this wide, and of less than this part of the greatest body's volume: what a thin wall is, and what a slug is."""


@dataclass(frozen=True, slots=True)
class _Stretches:
    """What is solid, as upright stretches: cell f8[S] along rows, heights `low` to `high` above the grid's level, in columns with hollows
    several a cell. `body` i8[S] from 0."""

    cell: NDArray[np.int64]
    low: Floats
    high: Floats
    body: NDArray[np.int64]


def pieces_left(after: Field, maker: Ints, before: Field | None = None) -> tuple[Piece, ...]:
    """The bodies that stand at the end, largest first. `freed_by` of each is the move that parted it last from any other. With the blank
    `before` it is told which reach its rim."""
    after = settled(after)
    grid = after.grid
    solid = _stretches(after)
    if not solid.cell.size:
        return ()
    area = grid.cell_mm**2
    volume = np.bincount(solid.body, solid.high - solid.low) * area
    bottom = after.bottom_mm - grid.z0_mm
    held = np.bincount(solid.body, solid.low <= bottom + LEAST_CUT_MM) * area
    lowest = np.full(volume.size, np.inf)
    np.minimum.at(lowest, solid.body, solid.low)
    real = np.flatnonzero(volume >= CRUMB_MM3)
    number = np.full(volume.size, -1, np.int32)
    number[real] = np.arange(real.size)
    node = np.full(after.top.size, -1, np.int32)
    node[solid.cell[::-1]] = number[solid.body[::-1]]  # of a column that belongs to two, the lower one
    freed = _freed_by(node.reshape(maker.shape), solid, number, maker, real.size)
    label = (node + 1).reshape(maker.shape)
    middle = middle_cells(label, np.bincount(label.ravel(), minlength=real.size + 1))
    at_rim = np.unique(label[_rim(before)]) - 1 if before is not None else np.arange(real.size)
    pieces = []
    for nth, (body, move, middle_cell) in enumerate(zip(real.tolist(), freed.tolist(), middle[1:], strict=True)):
        low = float(lowest[body]) + grid.z0_mm
        at = middle_cell or divmod(int(solid.cell[solid.body == body][0]), grid.columns)  # wholly over another
        pieces.append(
            Piece(float(volume[body]), low, float(held[body]), move, centre_mm(grid, *at), bool(nth in at_rim))
        )
    return tuple(sorted(pieces, key=lambda piece: -piece.volume_mm3))


def _rim(before: Field) -> NDArray[np.bool_]:
    """bool[rows, columns]: the outermost cells of the blank seen from above; holes in it have no rim."""
    stock = ndimage.binary_fill_holes(before.top > NOTHING)
    rim: NDArray[np.bool_] = stock & ~ndimage.binary_erosion(stock)
    return rim


def scrap_cells(after: Field, before: Field) -> NDArray[np.bool_]:
    """bool[rows, columns]: slivers that the program parts from the rest, and crumbs: bodies far smaller than the greatest one that are
    nowhere wider than `SLIVER_MM` seen from above. Wider slugs may be the part, for all that heights tell. Bodies under overhangs are not
    looked at."""
    none = np.zeros(after.top.shape, np.bool_)
    after, before = settled(after), settled(before)
    label, volume = _columns_of_bodies(after)
    if len(after.gaps) or len(before.gaps) or volume.size - 1 <= _columns_of_bodies(before)[1].size - 1:
        return none
    cell = after.grid.cell_mm
    for one in np.flatnonzero(volume < SLIVER_SHARE * volume.max())[1:].tolist():
        mine = label == one
        rows, columns = np.flatnonzero(mine.any(axis=1)), np.flatnonzero(mine.any(axis=0))
        box = mine[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
        wide = 2.0 * cell * float(ndimage.distance_transform_edt(np.pad(box, 1)).max())
        if wide <= SLIVER_MM or volume[one] < CRUMB_MM3:
            none |= mine
    return none


def _columns_of_bodies(field: Field) -> tuple[Ints, Floats]:
    """Labels from 1 of what stands together seen from above (0 nothing), and the volume of each by label (0 for nothing), mm³."""
    high = field.top.astype(np.float64) - (field.bottom_mm - field.grid.z0_mm)
    label, count = regions(np.where(high > LEAST_CUT_MM, 0, -1))
    weight = np.where(label > 0, high, 0.0).ravel()
    volume: Floats = np.bincount(label.ravel(), weight, count + 1).astype(np.float64)
    volume *= field.grid.cell_mm**2
    return label, volume


def parted_by_undercut(pieces: tuple[Piece, ...], before: Field, move: int) -> tuple[Piece, ...]:
    """The same pieces; those that no cut from above parted, in a blank that had fewer bodies, were parted by an undercut: at the latest by
    `move`, the last that an undercutting tool made (-1: none did)."""
    if move < 0 or all(piece.freed_by >= 0 for piece in pieces):
        return pieces
    if len(pieces) <= len(pieces_left(before, np.full(before.top.shape, -1, np.int32))):
        return pieces
    return tuple(piece if piece.freed_by >= 0 else replace(piece, freed_by=move) for piece in pieces)


def regions(key: Ints) -> tuple[Ints, int]:
    """Regions of cells that touch by a side and have the same key (below 0: none): labels from 1, and how many."""
    label = np.empty(key.shape, np.int32)
    count = kernels.label_equal(frozen(key.astype(np.int32)), np.empty(key.size + 1, np.int32), label)
    return label, count


def middle_cells(label: Ints, counts: NDArray[np.int64]) -> list[tuple[int, int] | None]:
    """For each label from 0 a cell in the midst of its cells in order; `counts` i8[L + 1] how many it has."""
    cell = np.empty(counts.size, np.int64)
    kernels.find_middles(frozen(label), counts // 2, cell)
    return [None if at < 0 else divmod(at, label.shape[1]) for at in cell.tolist()]


def centre_mm(grid: Grid, row: float, column: float) -> tuple[float, float]:
    """X and Y of a cell's centre."""
    return grid.x0_mm + (column + 0.5) * grid.cell_mm, grid.y0_mm + (row + 0.5) * grid.cell_mm


def _stretches(field: Field) -> _Stretches:
    bottom = field.bottom_mm - field.grid.z0_mm
    solid = field.top > bottom + LEAST_CUT_MM
    hollow = np.zeros(solid.shape, np.bool_)
    if len(field.gaps):
        hollow[field.gaps[:, 0].astype(np.intp), field.gaps[:, 1].astype(np.intp)] = True
    label, count = regions(np.where(solid & ~hollow, 0, -1))
    cell = np.flatnonzero(label.ravel())
    body = label.ravel()[cell].astype(np.int64) - 1
    high = field.top.ravel()[cell].astype(np.float64)
    low = np.full(cell.size, bottom)
    if not len(field.gaps):
        return _Stretches(cell, low, high, body)
    cells, lows, highs = _between_hollows(field, solid & hollow)
    more = count + np.arange(cells.size)
    whole = _Stretches(
        np.concatenate((cell, cells)),
        np.concatenate((low, lows)),
        np.concatenate((high, highs)),
        np.concatenate((body, more)),
    )
    return _joined(whole, count + cells.size, field.grid.columns, solid.size)


def _between_hollows(field: Field, columns: NDArray[np.bool_]) -> tuple[NDArray[np.int64], Floats, Floats]:
    """The solid stretches of columns with hollows, upward."""
    cell = np.flatnonzero(columns.ravel())
    gap_cell = (field.gaps[:, 0] * field.grid.columns + field.gaps[:, 1]).astype(np.int64)
    bottom = np.full(cell.size, field.bottom_mm - field.grid.z0_mm)
    cells = np.concatenate([cell, gap_cell])
    starts, ends = (
        np.concatenate([bottom, field.gaps[:, 3]]),
        np.concatenate([field.gaps[:, 2], field.top.ravel()[cell]]),
    )
    end_cells = np.concatenate([gap_cell, cell])
    start_order, end_order = np.lexsort((starts, cells)), np.lexsort((ends, end_cells))
    lows, highs = starts[start_order], ends[end_order]
    real = highs - lows > LEAST_CUT_MM
    return cells[start_order][real], lows[real], highs[real]


def _joined(solid: _Stretches, nodes: int, columns: int, cells: int) -> _Stretches:
    """Stretches of neighbouring columns that overlap made one body."""
    order = np.lexsort((solid.low, solid.cell))
    cell, body = solid.cell[order], solid.body[order]
    low, high = solid.low[order], solid.high[order]
    starts = np.searchsorted(cell, np.arange(cells + 1))
    one_side, other_side = [body], [body]
    for step, inner in ((1, cell % columns < columns - 1), (columns, cell < cells - columns)):
        here = np.flatnonzero(inner)
        first, last = starts[cell[here] + step], starts[cell[here] + step + 1]
        for nth in range(int((last - first).max(initial=0))):
            rows = here[first + nth < last]
            there = (first + nth)[first + nth < last]
            touch = (low[rows] < high[there]) & (low[there] < high[rows])
            one_side.append(body[rows[touch]])
            other_side.append(body[there[touch]])
    one, other = np.concatenate(one_side), np.concatenate(other_side)
    # Only here: few stocks hang over, and the solver takes longer to load than to run.
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    graph = coo_array((np.ones(one.size, np.int8), (one, other)), shape=(nodes, nodes))
    _, whole = connected_components(graph, directed=False)
    return _Stretches(cell, low, high, whole[body].astype(np.int64))


def _freed_by(node: Ints, solid: _Stretches, number: Ints, maker: Ints, pieces: int) -> Ints:
    freed = np.full(pieces, -1, np.int32)
    if pieces < 2:
        return freed
    crumbs = np.unique(solid.cell[number[solid.body] < 0])
    stands = np.zeros(node.size, np.bool_)
    stands[solid.cell] = True
    through = np.flatnonzero((maker.ravel() >= 0) & ~stands)
    through = through[np.argsort(-maker.ravel()[through].astype(np.int64), kind="stable")]
    order = np.concatenate([crumbs, through]).astype(np.int64)
    work = np.empty(pieces + order.size, np.int32), np.empty(pieces + order.size, np.int32)
    kernels.find_parting(frozen(order), frozen(maker), pieces, node.copy(), *work, freed)
    return freed
