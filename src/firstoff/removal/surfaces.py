"""What is left at the end of a program: who made the walls, floors and slopes that still stand, and how the material hangs together.

Everything is read from the final heights and from `Swept.maker`, the move that lowered each cell last: of a wall that was cut in several
depths this is the deepest one, and `wall_makers` finds the others. Slivers of scrap have no surfaces. Walls and floors under an overhang are
not seen; what hangs together is.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Assembly
from firstoff.path.pieces import Pieces
from firstoff.path.stations import lengths_of_pieces
from firstoff.program.moves import Floats, Ints
from firstoff.removal.bodies_left import centre_mm, middle_cells, parted_by_undercut, pieces_left, regions, scrap_cells
from firstoff.removal.contact import stretches_of
from firstoff.removal.field import LEAST_CUT_MM, NOTHING, Grid
from firstoff.removal.profile import cutter, frozen
from firstoff.removal.scan import _kernels as kernels
from firstoff.removal.swept import Floor, Meeting, Surfaces, Swept, ThinWall
from firstoff.removal.wall_makers import makers_of_walls
from firstoff.removal.ways import Ways, ways_of

WALL_CELLS = 3.0
"""A wall is a step between two cells of at least this many cells' height: steeper than 72 degrees."""
LEAST_WALL_MM = 0.05
FLAT_END_MM = 0.05
"""A tool whose flat end is narrower than this makes no floors."""
LEAST_FLOOR_CELLS = 4
"""Smaller level spots are rests between passes."""
SAME_FLOOR_MM = 0.02
"""Two floors closer than this are meant to be one."""
THIN_MM = 3.0
SLENDER = 2.0
"""A wall is thin if it is at most `THIN_MM` thick and at least `SLENDER` times as high as thick."""
LEAST_THIN_HIGH_MM = 1.0
LEAST_LENGTH = 0.5
"""Walls shorter than this part of their thickness are the ends of others."""
SQUARE_CELLS = 4
"""Cells round a place of a wall that tell which way is square to it."""
TYPICAL = 0.9
"""Part of the places of a wall that are less slender than the one told of it: single cells of the grid do not count."""
FACED_MM = 2.0
"""A level pass this far below the blank's top at most may be facing."""
FACED_SHARE = 0.8
"""Part of the blank's plan that level passes of one tool at one height must cover to be facing."""
LOOKED_AT = 48
"""Places along each side of the blank where it is looked whether facing passes come by."""


def surfaces_of(swept: Swept, pieces: Pieces, assemblies: Mapping[int, Assembly], move_count: int) -> Surfaces:
    """What stands at the end. `assemblies` by T number, as in the sweep; `move_count` rows of `Moves`."""
    grid = swept.after.grid
    ways = ways_of(pieces, move_count, grid.z0_mm)
    scrap = scrap_cells(swept.after, swept.before)
    top, maker = frozen(np.where(scrap, np.float32(NOTHING), swept.after.top)), frozen(swept.maker)
    frame = frozen(np.array([grid.x0_mm, grid.y0_mm, grid.cell_mm, swept.after.bottom_mm - grid.z0_mm]))
    drop = max(WALL_CELLS * grid.cell_mm, LEAST_WALL_MM)
    kind = np.empty(top.shape, np.uint8)
    floors, slopes = np.zeros(move_count, np.uint8), np.zeros(move_count, np.uint8)
    level = frozen(_flat_ends(ways.tool, assemblies).astype(np.uint8))
    kernels.sort_cells(top, maker, ways.tip_mm, level, LEAST_CUT_MM, float(frame[3]), kind, floors, slopes)
    made, edges = _walls(top, maker, frame, drop, ways)
    walls_mm = makers_of_walls(swept, top, edges, ways, assemblies, made)
    sides = ((made & kernels.LEFT > 0) + 2 * (made & kernels.RIGHT > 0)).astype(np.int8)
    level_spots, labels = _floors(kind, maker, floors, ways, grid)
    return Surfaces(
        frozen(made > 0),
        frozen(floors > 0),
        frozen(slopes > 0),
        frozen(_side_steps(top, maker, kind, frame, drop, ways)),
        tuple(floor for floor in level_spots if floor is not None),
        _meetings(labels, level_spots, ways, grid.cell_mm),
        _thin_walls(top, maker, edges, frame, drop, grid),
        parted_by_undercut(
            pieces_left(swept.after, swept.maker, swept.before),
            swept.before,
            _last_undercut(swept, ways.tool, assemblies),
        ),
        untouched_top_mm2(swept, pieces, assemblies),
        frozen(sides),
        frozen(walls_mm),
    )


def _flat_ends(tool: Ints, assemblies: Mapping[int, Assembly]) -> NDArray[np.bool_]:
    """bool[N]: moves of tools with a flat end."""
    flat = [number for number, one in assemblies.items() if cutter(one).flat_mm >= FLAT_END_MM]
    ends: NDArray[np.bool_] = np.isin(tool, np.array(flat, dtype=np.int32))
    return ends


def _last_undercut(swept: Swept, tool: Ints, assemblies: Mapping[int, Assembly]) -> int:
    """The last move by which an undercutting tool took anything away, or -1."""
    under = [number for number, one in assemblies.items() if one.undercuts]
    moves = np.flatnonzero(np.isin(tool, np.array(under, dtype=np.int32)) & (swept.moves.volume_mm3 > 0))
    return int(moves[-1]) if moves.size else -1


def _walls(
    top: NDArray[np.float32], maker: Ints, frame: Floats, drop: float, ways: Ways
) -> tuple[NDArray[np.uint8], Ints]:
    """u1[N] what walls each move made, and the feet of all walls."""
    made = np.zeros(len(ways.tool), np.uint8)
    count = kernels.find_walls(top, maker, frame, drop, *ways.lines, made, np.empty((0, 3), np.int32))
    edges = np.empty((count, 3), np.int32)
    if count:
        kernels.find_walls(top, maker, frame, drop, *ways.lines, made, edges)
    return made, edges


def _side_steps(
    top: NDArray[np.float32], maker: Ints, kind: NDArray[np.uint8], frame: Floats, drop: float, ways: Ways
) -> NDArray[np.float32]:
    """f4[N] the middle one of all steps sideways from each move to its neighbours; 0 where it has none."""
    kind = frozen(kind)
    room = kernels.count_steps(maker, kind)
    of, step = np.empty(room, np.int32), np.empty(room, np.float32)
    count = kernels.find_steps(top, maker, kind, frame, drop, ways.stretch, *ways.lines, of, step)
    steps = np.zeros(len(ways.tool), np.float32)
    if count:
        ranked = np.sort(
            (of[:count].astype(np.int64) << 32) | step[:count].view(np.int32)
        )  # positive floats rank as their bits
        ends = np.concatenate([[0], np.flatnonzero(np.diff(ranked >> 32)) + 1, [count]])
        middle = ranked[(ends[:-1] + ends[1:]) // 2] & 0xFFFFFFFF
        steps[ranked[ends[:-1]] >> 32] = middle.astype(np.int32).view(np.float32)
    return steps


# --- floors ------------------------------------------------------------------------------------------------------------


def _floors(
    kind: NDArray[np.uint8], maker: Ints, floors: NDArray[np.uint8], ways: Ways, grid: Grid
) -> tuple[list[Floor | None], Ints]:
    """Level regions of one call of a tool at one height, by label from 1 (None where too small), and the labels of all cells."""
    moves = np.flatnonzero(floors)
    height = np.rint(ways.tip_mm[moves] / LEAST_CUT_MM).astype(np.int64)
    _, number = np.unique(height + (ways.stretch[moves].astype(np.int64) << 40), return_inverse=True)
    key_of = np.full(len(ways.tool) + 1, -1, np.int32)
    key_of[moves] = number.ravel()
    label, count = regions(np.where(kind == kernels.FLOOR, key_of[maker], -1))
    sizes = np.bincount(label.ravel(), minlength=count + 1)
    found: list[Floor | None] = []
    for region, at in enumerate(middle_cells(label, sizes)):
        if at is None or region == 0 or sizes[region] < LEAST_FLOOR_CELLS:
            found.append(None)
            continue
        move = int(maker[at])
        z, area = float(ways.tip_mm[move]) + grid.z0_mm, float(sizes[region]) * grid.cell_mm**2
        found.append(Floor(int(ways.tool[move]), z, area, move, centre_mm(grid, *at)))
    return found, label


def _meetings(label: Ints, floors: list[Floor | None], ways: Ways, cell_mm: float) -> tuple[Meeting, ...]:
    """Borders between floors of one height that different calls made.

    The length of a border is told by Crofton's formula from the steps over it in four directions, within 5 %.
    """
    height = np.array([np.nan if floor is None else floor.z_mm for floor in floors])
    stretch = np.array([-1 if floor is None else ways.stretch[floor.move] for floor in floors])
    crossed: dict[tuple[int, int], float] = {}
    for here, there, weight in (
        (label[:, :-1], label[:, 1:], 1.0),
        (label[:-1], label[1:], 1.0),
        (label[:-1, :-1], label[1:, 1:], math.sqrt(0.5)),
        (label[:-1, 1:], label[1:, :-1], math.sqrt(0.5)),
    ):
        differ = np.nonzero((here != there) & (here > 0) & (there > 0))
        one, other = here[differ], there[differ]
        meet = (stretch[one] != stretch[other]) & (np.abs(height[one] - height[other]) <= SAME_FLOOR_MM)
        pairs = np.sort(np.column_stack([one[meet], other[meet]]), axis=1)
        for pair, count in zip(*np.unique(pairs, axis=0, return_counts=True), strict=True):
            key = int(pair[0]), int(pair[1])
            crossed[key] = crossed.get(key, 0.0) + weight * float(count)
    found = []
    for (one_label, other_label), steps in crossed.items():
        first, second = floors[one_label], floors[other_label]
        if first is not None and second is not None:
            found.append(Meeting(first, second, steps * cell_mm * math.pi / 8.0))
    return tuple(sorted(found, key=lambda meeting: -meeting.along_mm))


# --- thin walls --------------------------------------------------------------------------------------------------------


def _thin_walls(
    top: NDArray[np.float32], maker: Ints, edges: Ints, frame: Floats, drop: float, grid: Grid
) -> tuple[ThinWall, ...]:
    """Thin material between two walls, one entry for each connected stretch of it, told by its most slender place."""
    count = len(edges)
    thick, high, by = np.empty(count, np.float32), np.empty(count, np.float32), np.empty(count, np.int32)
    at, thin = np.empty((count, 2)), np.zeros(top.shape, np.uint8)
    least = max(LEAST_THIN_HIGH_MM, drop)
    kernels.find_thin(
        top, maker, frozen(edges), frame, THIN_MM, SLENDER, least, SQUARE_CELLS, thick, high, by, at, thin
    )
    places = np.flatnonzero(thick > 0)
    if not places.size:
        return ()
    label, _ = regions(np.where(thin > 0, 0, -1))
    cells = np.bincount(label.ravel())
    owner = label[at[places, 1].astype(np.intp), at[places, 0].astype(np.intp)]
    slender = high[places] / thick[places]
    order = np.lexsort((slender, owner))
    places, owner = places[order], owner[order]
    walls = []
    for one in np.unique(owner[owner > 0]):
        mine = places[owner == one]
        told = mine[min(int(TYPICAL * mine.size), mine.size - 1)]
        length = float(cells[one]) * grid.cell_mm**2 / float(thick[mine].mean())
        if length < LEAST_LENGTH * float(thick[told]):
            continue
        where = centre_mm(grid, float(at[told, 1]) - 0.5, float(at[told, 0]) - 0.5)
        walls.append(ThinWall(float(thick[told]), float(high[told]), length, int(by[told]), where))
    return tuple(walls)


# --- clean-up ----------------------------------------------------------------------------------------------------------


def untouched_top_mm2(swept: Swept, pieces: Pieces, assemblies: Mapping[int, Assembly]) -> float:
    """Area of the blank's own top that nothing ever cut, inside the ground that was faced; 0 where nothing faces.

    Facing is what level passes of one call of a flat-ended tool at one height do, at most `FACED_MM` below the highest place of the blank
    or above it, if they go over `FACED_SHARE` of the blank's plan, whether they meet anything or not. Its ground is the rectangle round
    those passes. Ask it of the smallest blank too: a low blank is missed by passes that the likely one is cleaned up by.
    """
    before = swept.before
    stock = before.top > before.bottom_mm - before.grid.z0_mm + LEAST_CUT_MM
    if not stock.any():
        return 0.0
    ground = np.zeros(stock.shape, np.bool_)
    for box in _faced(swept, pieces, assemblies, stock):
        rows, columns = box
        ground[rows, columns] = True
    highest = float(before.top[stock].max())
    own = (swept.maker < 0) & stock & (before.top >= highest - FACED_MM)
    return float(np.count_nonzero(own & ground)) * before.grid.cell_mm**2


def _faced(
    swept: Swept, pieces: Pieces, assemblies: Mapping[int, Assembly], stock: NDArray[np.bool_]
) -> list[tuple[slice, slice]]:
    """Rows and columns of the ground of each facing."""
    grid = swept.before.grid
    highest = float(swept.before.top[stock].max()) + grid.z0_mm
    z = pieces.end_mm[:, 2]
    level = (np.abs(pieces.start_mm[:, 2] - z) <= LEAST_CUT_MM) & ~pieces.rapid & ~pieces.ghost
    level &= (np.abs(z - highest) <= FACED_MM) & _flat_ends(pieces.tool, assemblies)
    rows = np.flatnonzero(level)
    if not rows.size:
        return []
    depth = np.rint((z[rows] - highest + FACED_MM) / LEAST_CUT_MM).astype(np.int64)
    key = depth + (stretches_of(pieces)[0][rows].astype(np.int64) << 32)
    order = np.argsort(key, kind="stable")
    grounds = []
    for mine in np.split(rows[order], np.flatnonzero(np.diff(key[order])) + 1):
        radius = cutter(assemblies[int(pieces.tool[mine[0]])]).flat_mm
        ground = _ground(pieces, mine, radius, stock, grid)
        if ground is not None:
            grounds.append(ground)
    return grounds


def _ground(
    pieces: Pieces, rows: NDArray[np.intp], radius: float, stock: NDArray[np.bool_], grid: Grid
) -> tuple[slice, slice] | None:
    """The rectangle of cells round some level passes, or None if they leave too much of the blank's plan out."""
    swept = float(lengths_of_pieces(pieces)[rows].sum()) * 2.0 * radius + math.pi * radius**2
    if swept < FACED_SHARE * np.count_nonzero(stock) * grid.cell_mm**2:
        return None
    pitch = radius / 3.0
    places = _along(pieces, rows, pitch)
    marks = np.rint((places - places.min(axis=0)) / pitch).astype(np.int64)
    _, one_each = np.unique(marks[:, 0] + (marks[:, 1] << 32), return_index=True)
    if not _covers(places[one_each], radius, stock, grid):
        return None
    low, high = places.min(axis=0) - radius, places.max(axis=0) + radius
    r = np.floor((np.array([low[1], high[1]]) - grid.y0_mm) / grid.cell_mm)
    k = np.floor((np.array([low[0], high[0]]) - grid.x0_mm) / grid.cell_mm)
    return slice(max(int(r[0]), 0), max(int(r[1]) + 1, 0)), slice(max(int(k[0]), 0), max(int(k[1]) + 1, 0))


def _along(pieces: Pieces, rows: NDArray[np.intp], step_mm: float) -> Floats:
    """f8[K, 2] places along level pieces, no farther apart than `step_mm`."""
    start, end = pieces.start_mm[rows, :2], pieces.end_mm[rows, :2]
    arc = pieces.arc[rows]
    bent = arc >= 0
    sweep = np.where(bent, pieces.arcs.sweep_rad[np.maximum(arc, 0)], 0.0) if bent.any() else np.zeros(len(rows))
    centre = np.where(bent[:, None], pieces.arcs.centre_mm[np.maximum(arc, 0)], 0.0) if bent.any() else start
    length = np.where(bent, np.abs(sweep) * np.linalg.norm(start - centre, axis=1), np.linalg.norm(end - start, axis=1))
    counts = np.ceil(length / step_mm).astype(np.intp) + 1
    each = np.repeat(np.arange(len(rows)), counts)
    nth = np.arange(each.size) - np.repeat(np.cumsum(counts) - counts, counts)
    part = (nth / np.maximum(counts[each] - 1, 1))[:, None]
    straight = start[each] + part * (end - start)[each]
    angle = part[:, 0] * sweep[each]
    arm = (start - centre)[each]
    turned = np.column_stack(
        [
            arm[:, 0] * np.cos(angle) - arm[:, 1] * np.sin(angle),
            arm[:, 0] * np.sin(angle) + arm[:, 1] * np.cos(angle),
        ]
    )
    places: Floats = np.where(bent[each][:, None], centre[each] + turned, straight)
    return places


def _covers(places: Floats, radius: float, stock: NDArray[np.bool_], grid: Grid) -> bool:
    """Whether discs round the places cover enough of the blank, looked at in `LOOKED_AT` places a side."""
    rows, columns = np.flatnonzero(stock.any(axis=1)), np.flatnonzero(stock.any(axis=0))
    r = rows[np.linspace(0, rows.size - 1, LOOKED_AT).astype(np.intp)][:, None]
    k = columns[np.linspace(0, columns.size - 1, LOOKED_AT).astype(np.intp)][None, :]
    looked = np.argwhere(stock[r, k])
    centres = np.column_stack(
        [grid.x0_mm + (k[0, looked[:, 1]] + 0.5) * grid.cell_mm, grid.y0_mm + (r[looked[:, 0], 0] + 0.5) * grid.cell_mm]
    )
    from scipy.spatial import cKDTree  # takes longer to load than to ask: only where something faces

    away, _ = cKDTree(places).query(centres, distance_upper_bound=radius)
    return bool(np.isfinite(away).mean() >= FACED_SHARE)
