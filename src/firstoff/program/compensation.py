"""Radius compensation checked over the moves made under it (NISTIR 6556, 3.5.10 and Appendix B; common practice for inside corners).

Moves keep the programmed path: here it is only asked whether a cutter of the register's radius can follow it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from firstoff.program.moves import Arcs, Flag, Floats, Kind, Moves
from firstoff.program.reader import Reader

COMPENSATED = Flag.COMP_LEFT | Flag.COMP_RIGHT
STRAIGHT_RAD = 0.01
"""Two moves that turn by less than this meet without a corner (the report's own interpreter allows as much, from memory)."""
SLACK_MM = 1e-6
MOST_STANDING = 2
"""This many blocks without motion in the plane break the look-ahead of many controls (reference nc-language 9)."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Moves `rows` in the plane under compensation; `start` f8[N, 2], `end` f8[N, 2], tangents f8[N, 2] at both ends."""

    rows: np.ndarray[tuple[int], np.dtype[np.int64]]
    start: Floats
    end: Floats
    tangent_out: Floats
    """At the start of each move."""
    tangent_in: Floats
    """At its end."""
    length: Floats
    side: int
    """1 = left of the path, -1 = right."""
    register: int
    exit: int
    """Row of the first move in the plane after it, -1 if there is none."""


def check(reader: Reader, moves: Moves, arcs: Arcs) -> None:
    """Put what cannot be followed among the findings."""
    for stretch in stretches(moves, arcs):
        _check_ends(reader, moves, stretch)
        diameter = reader.start.diameters_mm.get(stretch.register)
        if diameter is None:
            line = int(moves.line[stretch.rows[0]])
            what = f"the path under D{stretch.register} is not checked: the diameter in that register is not given"
            reader.findings.depends_on(f"tools.register.D{stretch.register}", line, 1, _text(reader, line), what)
            continue
        side = stretch.side if diameter >= 0.0 else -stretch.side  # a negative diameter swaps sides (NISTIR 6556, B.4)
        _check_path(reader, moves, arcs, stretch, side, abs(diameter) / 2.0)


def corner_centre(corner: tuple[float, float], before: Floats, after: Floats, radius: float) -> tuple[float, float]:
    """Centre of the cutter at an inside corner, where the offset lines meet.

    `before` and `after` are unit directions; `radius` is positive where the cutter is left of the path.
    """
    normal_a = np.array([-before[1], before[0]])
    normal_b = np.array([-after[1], after[0]])
    centre = np.array(corner) + radius * (normal_a + normal_b) / (1.0 + float(normal_a @ normal_b))
    return float(centre[0]), float(centre[1])


def stretches(moves: Moves, arcs: Arcs) -> Iterator[Stretch]:
    """Every run of moves under one register and side that moves in the XY plane."""
    on = (moves.flags & COMPENSATED) != 0
    if not on.any():
        return
    moved = _moved_in_plane(moves)
    key = np.where(on, 1 + (moves.flags & COMPENSATED).astype(np.int64) * 100_000 + moves.comp_register, 0)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], key, [0]))))
    for first, after in pairwise(edges):
        if key[first] == 0:
            continue
        rows = first + np.flatnonzero(moved[first:after])
        if rows.size == 0 or rows[0] == 0:
            continue
        later = np.flatnonzero(moved[after:])
        yield _stretch(moves, arcs, rows, int(after + later[0]) if later.size else -1)


def _moved_in_plane(moves: Moves) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    moved = np.zeros(len(moves), np.bool_)
    moved[1:] = (np.abs(np.diff(moves.end_mm[:, :2], axis=0)) > SLACK_MM).any(axis=1)
    moved |= moves.kind == Kind.ARC
    moved &= moves.kind != Kind.DWELL
    return moved


def _stretch(moves: Moves, arcs: Arcs, rows: np.ndarray[tuple[int], np.dtype[np.int64]], leave: int) -> Stretch:
    start, end = moves.end_mm[rows - 1, :2], moves.end_mm[rows, :2]
    way = end - start
    chord = np.sqrt((way * way).sum(axis=1))
    with np.errstate(invalid="ignore", divide="ignore"):
        tangent_out = way / chord[:, None]
    tangent_in = tangent_out.copy()
    length = chord.copy()
    arc = moves.arc[rows]
    curved = arc >= 0
    centre, sweep = arcs.centre_mm[arc[curved]], arcs.sweep_rad[arc[curved]]
    turn = np.sign(sweep)[:, None]
    for tangent, point in ((tangent_out, start), (tangent_in, end)):
        ray = point[curved] - centre
        with np.errstate(invalid="ignore", divide="ignore"):
            tangent[curved] = turn * np.stack([-ray[:, 1], ray[:, 0]], axis=1) / np.linalg.norm(ray, axis=1)[:, None]
    length[curved] = arcs.radius_mm[arc[curved]] * np.abs(sweep)
    side = 1 if moves.flags[rows[0]] & Flag.COMP_LEFT else -1
    return Stretch(rows, start, end, tangent_out, tangent_in, length, side, int(moves.comp_register[rows[0]]), leave)


def _check_ends(reader: Reader, moves: Moves, stretch: Stretch) -> None:
    """By custom compensation begins and ends on a straight move, and looks ahead only so far."""
    if reader.control.report:
        return
    first = int(stretch.rows[0])
    if moves.kind[first] == Kind.ARC:
        _fault(reader, moves, first, "radius compensation begins on an arc: write a straight lead-in")
    if stretch.exit >= 0 and moves.kind[stretch.exit] == Kind.ARC:
        _fault(reader, moves, stretch.exit, "radius compensation ends on an arc: write a straight lead-out")
    gaps = np.flatnonzero(np.diff(stretch.rows) > MOST_STANDING)
    if gaps.size:
        line = int(moves.line[stretch.rows[gaps[0]]])
        what = "under radius compensation several blocks in a row do not move in the plane: some controls lose sight of the next corner"
        reader.findings.note("compensation gap", line, 1, _text(reader, line), what)


def _check_path(reader: Reader, moves: Moves, arcs: Arcs, stretch: Stretch, side: int, radius: float) -> None:
    rows = stretch.rows
    before = stretch.tangent_in[:-1].copy()
    if moves.kind[rows[0]] != Kind.ARC:
        lead = float(stretch.length[0])
        if lead < radius - SLACK_MM:
            what = f"the lead-in is {lead:.4g} mm long, shorter than the cutter's radius of {radius:.4g} mm: the point would lie inside the cutter"
            _fault(reader, moves, int(rows[0]), what)
        elif reader.control.report and len(rows) > 1:
            before[0] = _turned(before[0], side * (math.pi / 2.0 - math.acos(min(1.0, radius / lead))))
    _check_corners(reader, moves, stretch, before, side, radius)
    curved = np.flatnonzero(moves.arc[rows] >= 0)
    arc = moves.arc[rows[curved]]
    small = (np.sign(arcs.sweep_rad[arc]) == side) & (arcs.radius_mm[arc] < radius - SLACK_MM)
    for at in np.flatnonzero(small):
        what = f"an inside arc of radius {arcs.radius_mm[arc[at]]:.4g} mm is smaller than the cutter's radius of {radius:.4g} mm"
        _fault(reader, moves, int(rows[curved[at]]), what)


def _check_corners(reader: Reader, moves: Moves, stretch: Stretch, before: Floats, side: int, radius: float) -> None:
    after = stretch.tangent_out[1:]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.arctan2(cross, (before * after).sum(axis=1))
    inside = np.flatnonzero(side * turn > STRAIGHT_RAD)
    if inside.size == 0 or radius <= SLACK_MM:
        return
    if reader.control.answer("comp_corner") != "intersect":
        for at in inside:
            _fault(
                reader,
                moves,
                int(stretch.rows[at + 1]),
                "a concave corner under radius compensation: this control refuses it",
            )
        return
    with np.errstate(over="ignore"):
        need = radius * np.tan(np.minimum(np.abs(turn[inside]), math.pi - 1e-9) / 2.0)
    short = np.fmin(stretch.length[inside], stretch.length[inside + 1])
    for at in inside[need > short + SLACK_MM]:
        what = f"the cutter of radius {radius:.4g} mm does not fit into this corner: one of its sides is too short"
        _fault(reader, moves, int(stretch.rows[at + 1]), what)


def _turned(direction: Floats, angle: float) -> Floats:
    cosine, sine = math.cos(angle), math.sin(angle)
    return np.array([cosine * direction[0] - sine * direction[1], sine * direction[0] + cosine * direction[1]])


def _fault(reader: Reader, moves: Moves, row: int, what: str) -> None:
    line = int(moves.line[row])
    reader.findings.fault(line, 1, _text(reader, line), what)


def _text(reader: Reader, line: int) -> str:
    return reader.text[line - 1].strip() if 1 <= line <= len(reader.text) else ""
