"""Moves past boxes: the nearest passes of every disc of the body to every box, as limits."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.program.moves import Floats, Kind
from firstoff.verdict.boxes import FACE_AXIS, FACES, Box, Disc, Gap, face_gap, rectangle_gaps, straight_gap
from firstoff.verdict.case import Case, best
from firstoff.verdict.forms import Form

NEAREST = 40
"""Passes of one disc at one box that are kept as candidates: beyond the nearest forty none is ever the worst in a draw."""

PointForm = Callable[[int, int], Form | None]
"""(frame row, axis) -> the moving point's coordinate at programmed zero, or None (the missing fact has been recorded)."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Moves at best estimates: `start`, `end`, `low`, `high` f8[N, 3] (arcs included), and the origins they hang on by frame row and axis."""

    start: Floats
    end: Floats
    low: Floats
    high: Floats
    origins: tuple[tuple[Form | None, ...], ...]


def place_moves(case: Case, point_form: PointForm) -> Placed:
    """Place all moves by `point_form`; NaN where a fact is missing or a place is not known."""
    used = set(np.unique(case.moves.frame).tolist())
    origins = tuple(
        tuple(point_form(row, axis) if row in used else None for axis in range(3))
        for row in range(len(case.reading.frames.length))
    )
    numbers = np.array([[np.nan if form is None else best(case.facts, form) for form in row] for row in origins])
    shift = numbers.reshape(-1, 3)[case.moves.frame, np.arange(3)]
    end = case.moves.end_mm + shift
    start = np.vstack([np.full((1, 3), np.nan), end[:-1]]) if len(end) else end
    # A start that is not known lies where nothing was judged; from there on the move itself is.
    known_start = np.where(np.isnan(start), end, start)
    return Placed(
        start, end, np.fmin(case.low_mm + shift, known_start), np.fmax(case.high_mm + shift, known_start), origins
    )


def nearest_passes(
    case: Case, placed: Placed, chosen: NDArray[np.bool_], discs: Iterable[Disc], box: Box, straight: bool
) -> list[tuple[int, Disc, Gap]]:
    """(move, disc, gap) of the nearest passes of the chosen moves, nearest first. `straight`: rapids are known to go straight."""
    rows = np.flatnonzero(chosen & np.isfinite(placed.low).all(axis=1) & np.isfinite(placed.high).all(axis=1))
    if not rows.size:
        return []
    faces = [best(case.facts, face) for face in box.faces]
    passes = []
    for disc in discs:
        bottom = best(case.facts, disc.bottom)
        gaps = rectangle_gaps(placed.low[rows], placed.high[rows], faces, disc.radius_mm, bottom)
        for index in np.argsort(gaps.max(axis=1), kind="stable")[:NEAREST]:
            move = int(rows[index])
            passes.append((move, disc, _gap(case, placed, move, gaps[index], faces, bottom, disc, box, straight)))
    return sorted(passes, key=lambda one: one[2].value_mm)


def _gap(
    case: Case,
    placed: Placed,
    move: int,
    gaps: Floats,
    faces: list[float],
    bottom: float,
    disc: Disc,
    box: Box,
    straight: bool,
) -> Gap:
    face = int(np.argmax(gaps))
    value, straight_only = float(gaps[face]), False
    axis = FACE_AXIS[face]
    coordinate = float((placed.high if face in (0, 2) else placed.low)[move, axis])
    start, end = placed.start[move], placed.end[move]
    if value < 0 and case.moves.kind[move] != Kind.ARC and np.isfinite(start).all():
        along, along_face, fraction = straight_gap(start, end, faces, disc.radius_mm, bottom)
        if along > value:
            rapid = case.moves.kind[move] in (Kind.RAPID, Kind.HOME, Kind.MACHINE)
            straight_only = along > 0 and rapid and not straight
            face, value, axis = along_face, along, FACE_AXIS[along_face]
            coordinate = float(start[axis] + fraction * (end[axis] - start[axis]))
    origin = placed.origins[int(case.moves.frame[move, axis])][axis] or Form(0.0)
    form = face_gap(box, face, origin + (coordinate - best(case.facts, origin)), disc)
    # What lies between the points looked at along a straight move was taken off the value; it comes off the form too.
    return Gap(form + (value - best(case.facts, form)), value, FACES[face], straight_only)
