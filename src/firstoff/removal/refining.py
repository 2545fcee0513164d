"""Contacts that hang on the grid, looked at again on cells a quarter as large: only the ground round the place, only what touched it by then."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from firstoff.facts.assembly import Assembly
from firstoff.path.pieces import Pieces
from firstoff.path.stations import Window, stations, stations_of_pieces
from firstoff.removal import _kernels as k
from firstoff.removal.bodies import PARTS
from firstoff.removal.contact import CAP_MM, STOCK, Asked, ask
from firstoff.removal.field import Field, Grid
from firstoff.removal.sweep import sweep
from firstoff.removal.swept import Contact

FINER = 4
MOST = 8
"""Contacts looked at again."""
MOST_CELLS = 4_000_000
MOST_STATIONS = 200_000
"""Of all places together: about a second. A place that more cells are needed for, or more stations than are left, keeps the doubt of the
coarse grid."""
ROUND_CELLS = 3.0
"""Coarse cells of ground beyond what the part can come near to."""
RISE_PER_STATION = 0.25
"""Cells that a tool may go down between two stations."""
GOLDEN = (3.0 - math.sqrt(5.0)) / 2.0
"""Part of a cell that the corner of the fine grid is off the place by, so that no wall lies along cells."""


def hangs_on_grid(contact: Contact, thresholds: Iterable[float]) -> bool:
    """Whether a threshold of the gap (mm) lies within what the grid leaves open."""
    half = contact.u_grid_mm * math.sqrt(3.0)
    return any(abs(contact.gap_mm - threshold) < half for threshold in thresholds)


def refined(
    contacts: Sequence[Contact],
    thresholds: Iterable[float],
    field_at: Callable[[Grid], Field],
    grid: Grid,
    pieces: Pieces,
    assemblies: Mapping[int, Assembly],
    most: int = MOST,
) -> tuple[Contact, ...]:
    """The contacts, those with the stock that hang on the grid replaced by what finer cells tell; at most `most`, the nearest first.

    `thresholds`: gaps (mm) that the verdict asks about; `field_at` lays the blank that the contacts were found in on another grid; `grid`: that
    they were found on. A place that is too large to be looked at again stays as it is.
    """
    limits = tuple(thresholds)
    hang = [n for n, one in enumerate(contacts) if one.against == STOCK and hangs_on_grid(one, limits)]
    found = list(contacts)
    if not hang:
        return tuple(found)
    asked = ask(pieces, assemblies, cap_mm=max(CAP_MM, *(2.0 * limit for limit in limits)))
    left = MOST_STATIONS
    for n in sorted(hang, key=lambda n: contacts[n].gap_mm)[:most]:
        again, used = _again(contacts[n], field_at, grid, pieces, assemblies, asked, left)
        found[n], left = again or contacts[n], left - used
    return tuple(found)


def _again(
    one: Contact,
    field_at: Callable[[Grid], Field],
    grid: Grid,
    pieces: Pieces,
    assemblies: Mapping[int, Assembly],
    asked: Asked,
    left: int,
) -> tuple[Contact | None, int]:
    """The same question on finer cells, and the stations it took; None where it would take more cells or stations than are left."""
    mine = (pieces.move == one.move) & (pieces.tool == one.tool)
    reach = float(asked.bodies.parts[int(asked.body[mine][0]) * PARTS + one.part, k.PART_REACH])
    far = reach + max(one.gap_mm, 0.0) + ROUND_CELLS * grid.cell_mm
    fine = _ground(one, far, grid)
    if fine.rows * fine.columns > MOST_CELLS:
        return None, 0
    ends = (fine.x0_mm, fine.x0_mm + fine.columns * fine.cell_mm, fine.y0_mm, fine.y0_mm + fine.rows * fine.cell_mm)
    window = Window(*ends, max(tool.diameter_mm for tool in assemblies.values()) / 2)
    rise = RISE_PER_STATION * fine.cell_mm
    step = fine.cell_mm
    count = int(stations_of_pieces(pieces, step, dz_mm=rise, window=window, until_move=one.move).sum())
    if count > left:
        return None, 0
    way = stations(pieces, step, dz_mm=rise, window=window, until_move=one.move)
    only = replace(asked, made=np.where(mine, asked.made, 0).astype(np.int32))
    swept = sweep(field_at(fine), way, assemblies, one.move + 1, asked=only)
    same = [
        told
        for told in swept.contacts
        if (told.move, told.tool, told.part, told.rapid) == (one.move, one.tool, one.part, one.rapid)
    ]
    return min(same, key=lambda told: told.gap_mm, default=None), count


def _ground(one: Contact, far: float, grid: Grid) -> Grid:
    """Fine cells round the tip where the part came nearest."""
    cell = grid.cell_mm / FINER
    side = math.ceil(2.0 * far / cell)
    x0, y0 = (one.tip_mm[axis] - far - GOLDEN * cell for axis in (0, 1))
    return Grid(x0, y0, cell, side, side, grid.z0_mm, f"cells of {cell:.3g} mm round a place that hung on the grid")
