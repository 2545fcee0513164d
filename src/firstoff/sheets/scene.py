"""What the turned picture of a job shows, as one block of bytes for a browser: stock as it is left, what stands around, the way by its margins,
the tools that go it, and the places of stop and care.

The block: a number of four bytes (little-endian), a JSON head of so many bytes filled up with spaces to a multiple of four, then the arrays
that the head names one after the other, each ``{name, type, count}``, each filled up to a multiple of four. Places are mm in the work frame.
"""

from __future__ import annotations

import json
import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import NO_TOOL
from firstoff.removal.field import NOTHING, Field
from firstoff.sheets.around_part import Solid, cylinder_of, jaws_of, solids_of
from firstoff.sheets.move_margins import margins_of
from firstoff.sheets.program_path import chords_of, way_of
from firstoff.sheets.scene_marks import Around, Mark, marks_of, points_by_move
from firstoff.sheets.sheet_facts import box_of
from firstoff.sheets.tool_outline import Outline, outline_of
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed

OFF_MM = 0.02
"""How far chords may leave an arc: finer cannot be seen on a screen."""
MOST_CELLS = 150
"""Cells along the longer side of the stock: more make no clearer picture and a slower one."""
MOST_POINTS = 20_000
"""Points that are drawn: a computer without a graphics processor turns so many in less than a second. Of a longer way every stretch of the
same length keeps its last point, and its worst margin."""
RAPID, JUMP = 8, 16
"""Bits beside the margin (0 to 4) of a point: the stretch to it is a rapid; no stretch leads to it."""
MOST_TOOLS = 250
"""Tools that are sent; what lies beyond has no row and is not drawn."""
TYPES = {np.dtype("<f4"): "f4", np.dtype("<u4"): "u4", np.dtype("u1"): "u1"}
Points = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Way:
    """The way as points: `at` f4[K, 3]; `time_s` f4[K]; `line` u4[K]; `mark` u1[K]: margin and bits; `tool` u1[K]: row of the tools that are
    sent, in the order of their numbers; `move` i4[K]. A stretch goes from each point to the next."""

    at: Points
    time_s: NDArray[np.float32]
    line: NDArray[np.uint32]
    mark: NDArray[np.uint8]
    tool: NDArray[np.uint8]
    move: NDArray[np.int32]


def scene_bytes(examination: Examination) -> bytes:
    """The block of one examination."""
    case, told = examination.case, examination.case.followed
    whole = way_points(examination)
    way = thinned(whole, MOST_POINTS)
    numbers = tool_numbers(case.moves.tool)
    outlines = {number: outline_of(examination.facts, number) for number in numbers}
    stock, solids = _stock(examination), _around(examination)
    around = Around(
        {number: one for number, one in outlines.items() if one is not None},
        solids,
        stock.box if stock is not None else None,
        points_by_move(whole.at, whole.move, (whole.mark & JUMP) > 0),
    )
    field = told.likely.after if isinstance(told, Followed) else None
    head: dict[str, object] = {
        "stock": None if stock is None else [list(span) for span in stock.box],
        "stock_round": stock is not None and stock.round,
        "solids": [_solid(one) for one in solids],
        "zero": _zero(examination),
        "tools": [_tool(number, outlines[number]) for number in numbers],
        "marks": [_mark(one) for one in marks_of(examination, around)],
        "total_s": None if case.timeline is None else float(case.timeline.start_s[-1]),
        "unknown": int(len(case.moves) - case.with_tool.sum()),
    }
    arrays: dict[str, NDArray[np.generic]] = {
        "at": way.at, "time": way.time_s, "line": way.line, "mark": way.mark, "tool": way.tool,
    }  # fmt: skip
    if field is not None:
        heights, head["surface"] = surface_of(field)
        arrays["heights"] = heights
    return packed(head, arrays)


def packed(head: dict[str, object], arrays: dict[str, NDArray[np.generic]]) -> bytes:
    """Head and arrays as one block."""
    told = [{"name": name, "type": TYPES[array.dtype], "count": int(array.size)} for name, array in arrays.items()]
    text = json.dumps({**head, "arrays": told}, allow_nan=False).encode()
    parts = [text + b" " * (-len(text) % 4)]
    for array in arrays.values():
        data = np.ascontiguousarray(array).tobytes()
        parts.append(data + b"\0" * (-len(data) % 4))
    return struct.pack("<I", len(parts[0])) + b"".join(parts)


def way_points(examination: Examination) -> Way:
    """All that is drawn of the way: the end of each chord, and its beginning where the way does not go on from the last."""
    case = examination.case
    pieces = way_of(case)
    rapid = np.zeros(len(case.moves), dtype=np.bool_)
    rapid[pieces.move[pieces.rapid]] = True
    margins = margins_of(examination, rapid)
    starts = case.timeline.start_s if case.timeline is not None else None
    rows = np.searchsorted(tool_numbers(case.moves.tool), case.moves.tool).astype(np.uint8)
    at, line, mark, time, owner = [], [], [], [], []
    last = np.full(3, np.nan)
    for chords in chords_of(pieces, OFF_MM):
        if not len(chords.move):
            continue
        before = np.vstack([last, chords.end[:-1]])
        jumps = np.asarray(~(np.abs(before - chords.start) < 1e-6).all(axis=1))
        last = chords.end[-1]
        size = np.where(jumps, 2, 1)
        ends = np.cumsum(size) - 1
        points = np.empty((int(size.sum()), 3))
        points[ends] = chords.end
        points[ends[jumps] - 1] = chords.start[jumps]
        moves = np.repeat(chords.move, size)
        marks = np.repeat(margins[chords.move].astype(np.uint8) | (chords.rapid * np.uint8(RAPID)), size)
        marks[ends[jumps] - 1] |= JUMP
        at.append(points)
        line.append(case.moves.line[moves])
        mark.append(marks)
        owner.append(moves)
        time.append(_times(starts, moves, ends, jumps, chords.move))
    if not at:
        return Way(np.zeros((0, 3), "<f4"), *(np.zeros(0, kind) for kind in ("<f4", "<u4", "u1", "u1", "<i4")))
    made_by = np.concatenate(owner)
    return Way(
        np.concatenate(at).astype("<f4"),
        np.concatenate(time).astype("<f4"),
        np.concatenate(line).astype("<u4"),
        np.concatenate(mark).astype("u1"),
        rows[made_by],
        made_by.astype("<i4"),
    )


def tool_numbers(called: NDArray[np.integer]) -> list[int]:
    """The T numbers of a program, least first: the rows that points name. A program with more tools than a byte counts has none drawn."""
    numbers: list[int] = np.unique(called).tolist()
    return numbers[:MOST_TOOLS]


def thinned(way: Way, most: int) -> Way:
    """The way with about `most` points at most: its ends, jumps, and changes of tool and between feed and rapid stay, and each stretch has
    the worst margin of what it stands for."""
    count = way.mark.size
    if count <= most:
        return way
    step = np.linalg.norm(np.diff(way.at.astype(np.float64), axis=0, prepend=way.at[:1]), axis=1)
    jump = (way.mark & JUMP) > 0
    step[jump] = 0.0
    rapid = (way.mark & RAPID) > 0
    along = np.cumsum(step)
    fixed = jump.copy()
    fixed[:-1] |= jump[1:] | (rapid[1:] != rapid[:-1]) | (way.tool[1:] != way.tool[:-1])
    fixed[-1] = True
    keep = fixed
    every = max(along[-1] / most, 1e-9)
    while True:
        last = np.r_[np.floor(along[1:] / every) != np.floor(along[:-1] / every), True]
        keep = fixed | last
        if keep.sum() <= most or every > along[-1]:
            break
        every *= 1.5
    kept = np.flatnonzero(keep)
    begins = np.r_[0, kept[:-1] + 1]
    margin = np.maximum.reduceat(way.mark & 7, begins)
    mark = ((way.mark[kept] & ~np.uint8(7)) | margin).astype(np.uint8)
    return Way(way.at[kept], way.time_s[kept], way.line[kept], mark, way.tool[kept], way.move[kept])


def _times(
    starts: NDArray[np.float64] | None,
    moves: NDArray[np.integer],
    ends: NDArray[np.integer],
    jumps: NDArray[np.bool_],
    owners: NDArray[np.integer],
) -> NDArray[np.float64]:
    """Seconds at each point: the chords of one move share its time evenly."""
    if starts is None:
        return np.zeros(moves.size)
    first = np.r_[True, owners[1:] != owners[:-1]]
    group = np.cumsum(first) - 1
    count = np.bincount(group)
    number = np.arange(owners.size) - np.flatnonzero(first)[group]
    begin, end = starts[owners], starts[owners + 1]
    time = np.empty(moves.size)
    time[ends] = begin + (end - begin) * (number + 1) / count[group]
    time[ends[jumps] - 1] = begin[jumps] + ((end - begin) * number / count[group])[jumps]
    return time


def surface_of(field: Field) -> tuple[Points, dict[str, object]]:
    """(heights f4[rows · columns] by rows, how they lie): Z of the work frame, far below everything where there is no stock. The highest of a
    block is kept, so that thin walls stand."""
    grid = field.grid
    step = max(1, -(-max(grid.rows, grid.columns) // MOST_CELLS))
    rows, columns = (-(-count // step) for count in (grid.rows, grid.columns))
    beyond = ((0, rows * step - grid.rows), (0, columns * step - grid.columns))
    top = np.pad(field.top, beyond, constant_values=NOTHING)
    high = top.reshape(rows, step, columns, step).max(axis=(1, 3))
    heights: Points = np.where(high > NOTHING / 2, high + np.float32(grid.z0_mm), NOTHING).astype("<f4").ravel()
    cell = grid.cell_mm * step
    lies: dict[str, object] = {
        "x0": grid.x0_mm, "y0": grid.y0_mm, "cell": cell, "rows": rows, "columns": columns, "bottom": field.bottom_mm,
        "nothing": float(NOTHING),
    }  # fmt: skip
    return heights, lies


def _stock(examination: Examination) -> Solid | None:
    """The blank as the job writes it."""
    box = box_of(examination.facts, "job.stock.box")
    if box is not None:
        return Solid("stock", box)
    round_ = cylinder_of(examination.facts, "job.stock.cylinder")
    return None if round_ is None else Solid("stock", round_, True)


def _around(examination: Examination) -> list[Solid]:
    """Fixtures, and the jaws where it is known how they lie."""
    found = list(solids_of(examination.facts))
    stock = box_of(examination.facts, "job.stock.box")
    jaws = jaws_of(examination.facts, stock, False)
    if jaws is not None and stock is not None:
        found += list(_jaw_solids(jaws.along, jaws.top, stock))
    return found


JAW_MM = 12.0
"""How far jaws are drawn, where nobody told how thick they are: they stay open there."""


JAW_BELOW_MM = 2.0
"""How far jaws are drawn below the blank."""


def _jaw_solids(along: int, top: float, stock: tuple[tuple[float, float], ...]) -> list[Solid]:
    across = 1 - along
    found = []
    for side, name in ((0, "fixed jaw"), (1, "moving jaw")):
        edge = stock[across][side]
        span = (edge - JAW_MM, edge) if side == 0 else (edge, edge + JAW_MM)
        sides = (stock[0], span) if along == 0 else (span, stock[1])
        found.append(Solid(name, (sides[0], sides[1], (stock[2][0] - JAW_BELOW_MM, top)), False, (across, side)))
    return found


def _solid(one: Solid) -> dict[str, object]:
    return {"name": one.name, "box": [list(span) for span in one.box], "round": one.round, "open": one.open}


def _zero(examination: Examination) -> str:
    """Name of the offset that the drawing's zero is."""
    names = {path.split(".")[2] for path in examination.facts.facts if path.startswith("job.offset.")}
    return min(names) if names else ""


def _tool(number: int, outline: Outline | None) -> dict[str, object]:
    """One tool: its outline as rows of (part, r, z, r, z) from the tip up; no rows where it is not known."""
    if outline is None:
        return {"number": None if number == NO_TOOL else number, "name": "", "outline": [], "goes_on": False}
    rows = [
        [int(one.part), *(round(value, 4) for value in (one.r0_mm, one.z0_mm, one.r1_mm, one.z1_mm))]
        for one in outline.segments
    ]
    told = None if number == NO_TOOL else number
    return {
        "number": told,
        "name": outline.name,
        "outline": rows,
        "goes_on": outline.goes_on,
        "edges": outline.edges,
        "helix": outline.helix_rad,
    }


def _mark(one: Mark) -> dict[str, object]:
    """One place of stop or care."""
    fills = [
        {"box": [list(span) for span in fill.box], "round": fill.round, "low": fill.low_mm, "high": fill.high_mm}
        for fill in one.fills
    ]
    return {
        "question": one.question, "answer": one.answer.value, "line": one.line, "at": list(one.tip), "says": list(one.says), "fills": fills,
    }  # fmt: skip
