"""Moves past boxes: the nearest passes of every disc of the body to a box, each with its gap as a form."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from firstoff.program.bounds import by_frame, rows_of
from firstoff.program.moves import PLANE_AXES, Floats, Kind
from firstoff.verdict.boxes import FACE_AXIS, Box, Disc, face_gap, point_gaps, rectangle_gaps, straight_gaps
from firstoff.verdict.case import Case, best
from firstoff.verdict.forms import Form, greatest
from firstoff.verdict.question import Along

NEAREST = 40
"""Passes of one disc at one box that are kept: beyond the nearest forty none is ever the worst in a draw."""
DOUBT = 2.0
"""Standard uncertainties that a face's gap is taken less by when faces are compared: the face that parts *surely* counts."""
FAR = 4.0
"""The same, beyond which a face is never the one that parts by most in a draw that counts."""
SAGITTA_MM = 0.02
"""Arcs are held against boxes as chords, each this near its arc, which is taken off."""
MOST_ARCS = 2000
"""Arcs near a box that are looked at chord by chord; the rest keep the gap of their rectangle, which is never too large."""
RUN, FIRST_RUNS, MANY = 256, 16, 20_000
"""Moves of one run whose bounds are looked at first, runs that are looked at closely at least, and moves up to which all are."""
SAME_MM = 1e-9
RAPIDS = (Kind.RAPID, Kind.HOME, Kind.MACHINE)

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


@dataclass(frozen=True, slots=True)
class Pass:
    """One move past one box: `gap` is a lower bound in every draw, `gap_mm` its best estimate."""

    move: int
    disc: Disc
    gap: Form
    gap_mm: float
    along: Callable[[], Along] | None = field(default=None, repr=False, compare=False)
    """Of the nearest pass of each disc: every move that comes near the box."""


@dataclass(frozen=True, slots=True)
class Passes:
    """The nearest passes, nearest first; moves that touch unless something is known; whether the way of rapids decides."""

    nearest: tuple[Pass, ...]
    unplaced: tuple[int, ...]
    """Moves with a coordinate that nobody knows, which no known face keeps clear."""
    path_decides: bool
    """A dog-leg would touch where a straight rapid would not, and nobody says which it is."""


def place_moves(case: Case, point_form: PointForm) -> Placed:
    """Place all moves by `point_form`; NaN where a fact is missing or a place is not known."""
    used = set(np.unique(case.moves.frame).tolist())
    origins = tuple(
        tuple(point_form(row, axis) if row in used else None for axis in range(3))
        for row in range(len(case.reading.frames.length))
    )
    numbers = np.array([[np.nan if form is None else best(case.facts, form) for form in row] for row in origins])
    shift = by_frame(numbers.reshape(-1, 3), case.moves)
    end = case.moves.end_mm + shift
    start = np.vstack([np.full((1, 3), np.nan), end[:-1]]) if len(end) else end
    # A start that is not known lies where nothing was judged; from there on the move itself is.
    low, high = np.fmin(case.low_mm + shift, start), np.fmax(case.high_mm + shift, start)
    unknown = np.isnan(end)
    low[unknown] = high[unknown] = np.nan
    return Placed(start, end, low, high, origins)


def from_anywhere(placed: Placed) -> Placed:
    """The same moves; those whose start nobody knows in X or Y may come from anywhere: there only what parts them on the other axes counts."""
    lost = np.isnan(placed.start)
    lost[:, 2] = False
    return replace(placed, low=np.where(lost, np.nan, placed.low), high=np.where(lost, np.nan, placed.high))


def nearest_passes(
    case: Case, placed: Placed, chosen: NDArray[np.bool_], discs: Iterable[Disc], box: Box, rapid_path: str | None
) -> Passes:
    """The nearest passes of the chosen moves. `rapid_path`: ``straight``, ``dog-leg`` or None where nobody says."""
    rows = np.flatnonzero(chosen)
    runs = _runs(case, placed, rows)
    found: list[Pass] = []
    unplaced: set[int] = set()
    path_decides = False
    for disc in discs:
        one = _nearest_of_disc(case, placed, runs, disc, box, rapid_path)
        found += _with_all(case, placed, runs, disc, box, rapid_path, one.nearest)
        unplaced |= set(one.unplaced)
        path_decides |= one.path_decides
    return Passes(tuple(sorted(found, key=lambda each: each.gap_mm)), tuple(sorted(unplaced)), path_decides)


def _with_all(
    case: Case, placed: Placed, runs: _Runs, disc: Disc, box: Box, rapid_path: str | None, nearest: tuple[Pass, ...]
) -> list[Pass]:
    """The passes of one disc, the nearest with all the moves that it stands for."""
    if not nearest:
        return []

    def along() -> Along:
        gaps = np.full(runs.rows.size, np.inf)
        _of_disc(case, placed, runs.rows, disc, box, rapid_path, gaps)
        near = np.flatnonzero(gaps < np.inf)
        return case.along(runs.rows[near], -gaps[near], -nearest[0].gap_mm)

    return [replace(nearest[0], along=along), *nearest[1:]]


@dataclass(frozen=True, slots=True)
class _Runs:
    """Moves `rows` in runs of `RUN`; `low`, `high` f8[R, 3] their bounds (NaN where one of a run has a coordinate that nobody knows)."""

    rows: NDArray[np.intp]
    low: Floats
    high: Floats
    frames: NDArray[np.intp]
    """Frame rows that the moves have."""


def _runs(case: Case, placed: Placed, rows: NDArray[np.intp]) -> _Runs:
    if not rows.size:
        return _Runs(rows, np.empty((0, 3)), np.empty((0, 3)), rows)
    begins = np.arange(0, rows.size, RUN)
    low = np.minimum.reduceat(rows_of(placed.low, rows), begins)
    high = np.maximum.reduceat(rows_of(placed.high, rows), begins)
    return _Runs(rows, low, high, np.flatnonzero(np.bincount(rows_of(case.moves.frame, rows).ravel())))


def _nearest_of_disc(case: Case, placed: Placed, runs: _Runs, disc: Disc, box: Box, rapid_path: str | None) -> Passes:
    """`_of_disc` of all moves, reckoned only for runs that can be among the nearest: those whose bounds come nearer than the last that is kept.

    Runs that may touch, or have a coordinate that nobody knows, are always among them: all that asks for facts is.
    """
    if runs.rows.size <= MANY:
        return _of_disc(case, placed, runs.rows, disc, box, rapid_path)[0]
    faces = np.array([best(case.facts, face) for face in box.faces])
    most = DOUBT * _face_doubts(case, placed, disc, box)[runs.frames].max(axis=0)
    gaps = rectangle_gaps(runs.low, runs.high, faces, disc.radius_mm, best(case.facts, disc.bottom)) - most
    bound = np.where(np.isnan(gaps).any(axis=1), -np.inf, gaps.max(axis=1))
    order = np.argsort(bound, kind="stable")
    take = max(FIRST_RUNS, int(np.count_nonzero(bound < 0.0)))
    while True:
        taken = np.zeros(bound.size, np.bool_)
        taken[order[:take]] = True
        passes, last = _of_disc(case, placed, runs.rows[np.repeat(taken, RUN)[: runs.rows.size]], disc, box, rapid_path)
        if take >= bound.size:
            return passes
        if len(passes.nearest) == NEAREST and last < bound[order[take]] - SAME_MM:
            return passes
        take *= 4


def _of_disc(
    case: Case,
    placed: Placed,
    rows: NDArray[np.intp],
    disc: Disc,
    box: Box,
    rapid_path: str | None,
    each: Floats | None = None,
) -> tuple[Passes, float]:
    """The nearest passes, and the bound of the last of them. `each` f8[rows]: is given the best estimate of every gap, infinite where
    nothing is known."""
    if not rows.size:
        return Passes((), (), False), math.inf
    faces = np.array([best(case.facts, face) for face in box.faces])
    bottom, radius = best(case.facts, disc.bottom), disc.radius_mm
    less = DOUBT * _face_doubts(case, placed, disc, box)[case.moves.frame[rows][:, FACE_AXIS], np.arange(5)]
    apart = rectangle_gaps(placed.low[rows], placed.high[rows], faces, radius, bottom)
    gaps = np.where(np.isnan(apart), -np.inf, apart - less)
    first = np.argmax(gaps, axis=1)
    value = gaps[np.arange(len(rows)), first]
    second, part = first.copy(), np.ones(len(rows))
    whole = np.isfinite(placed.low[rows]).all(axis=1)
    unplaced = rows[~whole & (value < 0)]
    tight = whole & (value < 0) & np.isfinite(placed.start[rows]).all(axis=1)
    straight = tight & (case.moves.kind[rows] != Kind.ARC)
    decides = False
    if bool(straight.any()):
        here = np.flatnonzero(straight)
        ends = [
            point_gaps(points[rows[here]], faces, radius, bottom) - less[here] for points in (placed.start, placed.end)
        ]
        exact = straight_gaps(ends[0], ends[1])
        rapid = np.isin(case.moves.kind[rows[here]], [int(kind) for kind in RAPIDS])
        take = ~rapid if rapid_path == "dog-leg" else np.ones(len(here), dtype=bool)
        decides = rapid_path is None and bool((rapid & (exact.value > 0)).any())
        use = here[take]
        value[use], first[use], second[use], part[use] = (
            exact.value[take], exact.first[take], exact.second[take], exact.part[take],
        )  # fmt: skip
    chords = _chords(case, placed, rows, np.flatnonzero(tight & ~straight)[:MOST_ARCS], faces, disc, bottom, less)
    for index, (gap, face) in chords.items():
        value[index], first[index], second[index], part[index] = gap, face, face, 1.0
    keep = np.flatnonzero(whole | (value >= 0))
    if each is not None:
        at = np.arange(len(rows))
        each[keep] = (value + part * less[at, first] + (1.0 - part) * less[at, second])[keep]
    nearest = keep[np.argsort(value[keep], kind="stable")[:NEAREST]]
    passes = []
    for index in nearest.tolist():
        move = int(rows[index])
        f, g, share = int(first[index]), int(second[index]), float(part[index])
        form = _form(case, placed, move, box, disc, f).scaled(share)
        if share < 1.0:
            form += _form(case, placed, move, box, disc, g).scaled(1.0 - share)
        aim = float(value[index]) + share * float(less[index, f]) + (1.0 - share) * float(less[index, g])
        form += aim - best(case.facts, form)  # the bound's own best estimate: only its doubt comes from the faces
        if share == 1.0:
            form = _or_others(case, placed, move, box, disc, (f, form), apart[index], less[index])
        passes.append(Pass(move, disc, form, aim))
    last = float(value[nearest[-1]]) if nearest.size else math.inf
    return Passes(tuple(passes), tuple(unplaced.tolist()), decides), last


def _or_others(
    case: Case, placed: Placed, move: int, box: Box, disc: Disc, told: tuple[int, Form], apart: Floats, less: Floats
) -> Form:
    """The gap of the face that parts them surely, with the other faces that may part them by more; `apart`, `less` f8[5] as the faces part the
    move's whole rectangle, and the doubt of that."""
    face, form = told
    least = best(case.facts, form) - FAR / DOUBT * less[face]
    others = []
    for other in np.flatnonzero(apart + FAR / DOUBT * less > least).tolist():
        if other != face:
            gap = _form(case, placed, move, box, disc, other)
            others.append(gap + float(apart[other]) - best(case.facts, gap))
    return greatest(form, *others)


def _form(case: Case, placed: Placed, move: int, box: Box, disc: Disc, face: int) -> Form:
    """The gap of one face with its doubt; its constant is set by the caller."""
    axis = FACE_AXIS[face]
    origin = placed.origins[int(case.moves.frame[move, axis])][axis] or Form(0.0)
    return face_gap(box, face, origin, disc)


def _face_doubts(case: Case, placed: Placed, disc: Disc, box: Box) -> Floats:
    """f8[K, 5] standard uncertainty of each face's gap, for each frame row."""
    doubts = np.zeros((len(placed.origins), 5))
    for row, origin in enumerate(placed.origins):
        for face, axis in enumerate(FACE_AXIS):
            form = face_gap(box, face, origin[axis] or Form(0.0), disc)
            doubts[row, face] = math.sqrt(sum((factor * case.facts.facts[path].u) ** 2 for path, factor in form.terms))
    return doubts


def _chords(
    case: Case,
    placed: Placed,
    rows: NDArray[np.intp],
    which: NDArray[np.intp],
    faces: Floats,
    disc: Disc,
    bottom: float,
    less: Floats,
) -> dict[int, tuple[float, int]]:
    """index -> (gap, face) of arcs, chord by chord: each chord is parted by one face, and its sagitta is taken off."""
    found = {}
    for index in which.tolist():
        points = arc_points(case, placed, int(rows[index]))
        gaps = point_gaps(points, faces, disc.radius_mm, bottom) - less[index]
        chord = np.minimum(gaps[:-1], gaps[1:]).max(axis=1)
        at = int(np.argmin(chord))
        face = int(np.argmax(np.minimum(gaps[at], gaps[at + 1])))
        found[index] = (float(chord[at]) - SAGITTA_MM, face)
    return found


def arc_points(case: Case, placed: Placed, move: int) -> Floats:
    """f8[M, 3] points along an arc, ends included, so close that each chord is within `SAGITTA_MM` of it."""
    arcs, arc = case.reading.arcs, int(case.moves.arc[move])
    one, two, along = PLANE_AXES[int(arcs.plane[arc])]
    radius, sweep = float(arcs.radius_mm[arc]), float(arcs.sweep_rad[arc])
    step = 2.0 * math.acos(max(1.0 - SAGITTA_MM / max(radius, SAGITTA_MM), -1.0))
    count = max(2, math.ceil(abs(sweep) / step) + 1)
    shift = placed.end[move] - case.moves.end_mm[move]
    centre = arcs.centre_mm[arc] + shift[[one, two]]
    end = placed.end[move]
    last = math.atan2(end[two] - centre[1], end[one] - centre[0])
    angle = last - sweep * np.linspace(1.0, 0.0, count)
    points = np.empty((count, 3))
    points[:, one] = centre[0] + radius * np.cos(angle)
    points[:, two] = centre[1] + radius * np.sin(angle)
    points[:, along] = end[along] - float(arcs.rise_mm[arc]) * np.linspace(1.0, 0.0, count)
    return points
