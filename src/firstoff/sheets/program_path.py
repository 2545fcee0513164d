"""The way of the tool's tip seen from above: placed as far as facts say where it is, whether or not the stock could be followed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Leaning
from firstoff.path.pieces import Pieces
from firstoff.path.placing import pieces_of
from firstoff.program.control import Control
from firstoff.program.moves import PLANE_AXES, Arcs, Floats, Ints
from firstoff.verdict.case import Case
from firstoff.verdict.forms import Form
from firstoff.verdict.passing import place_moves
from firstoff.verdict.positions import axis_in_work, tip_in_work
from firstoff.verdict.tools import register_tool

PIECES_AT_A_TIME = 100_000
MOST_CHORDS = 256
"""Of one arc."""


@dataclass(frozen=True, slots=True)
class Chords:
    """Straight stretches of the way: `start`, `end` f8[K, 3], mm in the work frame of the stock; `move` i4[K]; `rapid` bool[K];
    `upright` bool[K]: goes only up or down."""

    start: Floats
    end: Floats
    move: Ints
    rapid: NDArray[np.bool_]
    upright: NDArray[np.bool_]


def way_of(case: Case) -> Pieces:
    """The pieces of every move whose X and Y are known. A height that nobody knows counts as zero: from above it does not matter."""
    facts = case.facts.leaning()
    start, end = (np.full((len(case.moves), 3), np.nan) for _ in range(2))
    for tool in np.unique(case.moves.tool[case.moving & case.with_tool]).tolist():
        mine = case.with_tool & (case.moves.tool == tool)
        placed = place_moves(case, _Point(case, facts, tool))
        start[mine], end[mine] = placed.start[mine], placed.end[mine]
    for ends in (start, end):
        ends[np.isfinite(ends[:, :2]).all(axis=1) & np.isnan(ends[:, 2]), 2] = 0.0
    control = Control.of(facts.facts)
    corner = control.answer("comp_corner")
    return pieces_of(
        case.moves,
        case.reading.arcs,
        start,
        end,
        rapid_path="straight",
        radii_mm=_radii(case, facts),
        comp_corner=corner if isinstance(corner, str) else None,
        base=control.base,
    )


@dataclass(frozen=True, slots=True)
class _Point:
    """Where the tip is at programmed zero, with one tool in the spindle."""

    case: Case
    facts: Leaning
    tool: int

    def __call__(self, row: int, axis: int) -> Form | None:
        if axis == 2:
            return tip_in_work(self.case, self.facts, row, self.tool)
        return axis_in_work(self.case, self.facts, row, axis)


def _radii(case: Case, facts: Leaning) -> dict[int, float]:
    """Cutter radius by D register, of those whose tool is known."""
    registers = case.moves.comp_register
    radii = {}
    for register in np.unique(registers[registers >= 0]).tolist():
        fact = facts.facts.facts.get(f"tools.{register_tool(facts, register)}.DC")
        if fact is not None:
            radii[register] = fact.value / 2
    return radii


def chords_of(pieces: Pieces, off_mm: float) -> Iterator[Chords]:
    """The way as straight stretches that leave its arcs by at most `off_mm`, so many pieces at a time."""
    for first in range(0, len(pieces), PIECES_AT_A_TIME):
        rows = np.arange(first, min(first + PIECES_AT_A_TIME, len(pieces)))
        rows = rows[~pieces.ghost[rows]]
        lines, arcs = rows[pieces.arc[rows] < 0], rows[pieces.arc[rows] >= 0]
        start, end, owner = pieces.start_mm[lines], pieces.end_mm[lines], lines
        if arcs.size:
            begun, ended, of = _arc_chords(pieces, arcs, off_mm)
            start, end = np.vstack([start, begun]), np.vstack([end, ended])
            owner = np.concatenate([lines, of])
            order = np.argsort(owner, kind="stable")
            start, end, owner = start[order], end[order], owner[order]
        flat = np.abs(pieces.end_mm[owner, :2] - pieces.start_mm[owner, :2]).max(axis=1, initial=0.0) < 1e-3
        upright = flat & (pieces.arc[owner] < 0)
        yield Chords(start, end, pieces.move[owner], pieces.rapid[owner], upright)


def _arc_chords(pieces: Pieces, rows: NDArray[np.intp], off_mm: float) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """(starts, ends, piece) of the chords of arcs."""
    arcs, which = pieces.arcs, pieces.arc[rows]
    radius, sweep = arcs.radius_mm[which], arcs.sweep_rad[which]
    step = 2.0 * np.arccos(np.maximum(1.0 - off_mm / np.maximum(radius, off_mm), 0.0))
    count = np.clip(np.ceil(np.abs(sweep) / np.maximum(step, 1e-3)), 1, MOST_CHORDS).astype(np.int64)
    owner = np.repeat(np.arange(rows.size), count)
    number = np.arange(owner.size) - np.repeat(np.cumsum(count) - count, count)
    begin = _on_arc(pieces, rows, arcs, owner, number / count[owner])
    finish = _on_arc(pieces, rows, arcs, owner, (number + 1) / count[owner])
    return begin, finish, rows[owner]


def _on_arc(pieces: Pieces, rows: NDArray[np.intp], arcs: Arcs, owner: NDArray[np.intp], share: Floats) -> Floats:
    """f8[K, 3] at a share of the sweep of each arc."""
    which = pieces.arc[rows][owner]
    point = np.empty((owner.size, 3))
    for plane, (one, two, along) in PLANE_AXES.items():
        mine = arcs.plane[which] == plane
        if not mine.any():
            continue
        start = pieces.start_mm[rows[owner[mine]]]
        centre, radius = arcs.centre_mm[which[mine]], arcs.radius_mm[which[mine]]
        first = np.arctan2(start[:, two] - centre[:, 1], start[:, one] - centre[:, 0])
        angle = first + arcs.sweep_rad[which[mine]] * share[mine]
        point[mine, one] = centre[:, 0] + radius * np.cos(angle)
        point[mine, two] = centre[:, 1] + radius * np.sin(angle)
        point[mine, along] = start[:, along] + arcs.rise_mm[which[mine]] * share[mine]
    return point


def ends_of_moves(pieces: Pieces, count: int) -> Floats:
    """f8[count, 2] where each move ends, X and Y; NaN for a move that has no piece."""
    ends = np.full((count, 2), math.nan)
    ends[pieces.move] = pieces.end_mm[:, :2]
    return ends
