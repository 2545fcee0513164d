"""Cutter compensation made: the way of the tool's centre beside a programmed contour (NISTIR 6556, 3.5.10 and Appendix B; customary controls
meet inside corners where the offset lines cross).

Looking along the motion, G41 keeps the cutter left of the contour, G42 right of it. Lines shift sideways by the radius, arcs keep their
centre. Round an outside corner the cutter rolls about the programmed corner (Appendix B); at an inside corner both moves are cut short
where their offsets cross. Heights stay as programmed: a move that is cut short climbs on a shorter way. The first move ends beside its
programmed end, at right angles to what follows; the last one ends at right angles to itself, and the move after G40 starts there.

What a control would refuse is not made up: those moves are listed as refused. Only neighbours are looked at; where a contour comes back
upon itself farther on, the way is what a control would drive, not what would be right.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from firstoff.path.crossing import ROUNDING_MM, Curves, crossings, cut_at_end, cut_at_start
from firstoff.path.ways import Bools, Rows, Ways
from firstoff.program.compensation import COMPENSATED, SLACK_MM, STRAIGHT_RAD
from firstoff.program.moves import Arcs, Flag, Floats, Kind, Moves

SMOOTH_RAD = 1e-4
"""Moves that turn by less run on as one: their offsets are joined halfway. That leaves an offset arc of radius r by R²·1e-8 / 8r: nanometres."""
REVERSAL_RAD = 1e-6
"""A turn this near to half a turn leads back on the other side: the cutter rolls round the point."""
ROUNDED_MM = 0.01
"""Ends of two offsets that lie closer than this are one: an arc's numbers, rounded to the fourth decimal of an inch, part them by as much."""
NO_RADIUS_MM = 1e-6
"""An arc no larger than the cutter (by this much) leaves its centre standing."""
FOLLOWED = (Kind.RAPID, Kind.FEED, Kind.ARC)


@dataclass(frozen=True, slots=True)
class Corners:
    """Arcs round outside corners in XY, each before the move `move` i8[K]: `start`, `end` f8[K, 3], `arcs` one row each."""

    move: Rows
    start: Floats
    end: Floats
    arcs: Arcs


@dataclass(frozen=True, slots=True)
class Compensated:
    """Ways of the tool's centre. `refused` i8[K]: moves whose way cannot be made (register not known, inside arc too small, offsets that do
    not cross, a lead-in shorter than the radius or on an arc), NaN in `ways`. `corners.move` names every outside corner: another
    control may go to its point instead."""

    ways: Ways
    corners: Corners
    refused: Rows


@dataclass(frozen=True, slots=True)
class Contour:
    """Moves under compensation that go somewhere in X and Y, one row each: `rows` of `Moves`, whether they are the `first` and `last` of
    their run, `side` f8[K] (1 left, -1 right), `radius` f8[K], the programmed curves, and which cannot be followed on their own."""

    rows: Rows
    first: Bools
    last: Bools
    side: Floats
    radius: Floats
    programmed: Curves
    bad: Bools


@dataclass(frozen=True, slots=True)
class Joined:
    """Offsets cut at their corners: `start`, `end` f8[K, 2], what was cut off them `cut` f8[K] mm, the turn at the end of each f8[K],
    `rolls` bool[K]: round the corner at its end, and `bad` bool[K]."""

    start: Floats
    end: Floats
    cut: Floats
    turn: Floats
    rolls: Bools
    bad: Bools


def compensated(
    moves: Moves, ways: Ways, radii_mm: Mapping[int, float], comp_corner: str | None, base: str = "plain"
) -> Compensated:
    """The ways with compensation made.

    `ways` as programmed, arcs settled. `radii_mm` by D register; a negative one swaps sides (NISTIR 6556, B.4). `comp_corner`:
    ``intersect``, else inside corners are refused. `base`: ``rs274ngc`` leads in by the right triangle of Appendix B, anything else
    straight to the place at right angles to the next move.
    """
    if not ((moves.flags & COMPENSATED) != 0).any():
        return Compensated(ways, _no_corners(), np.zeros(0, np.intp))
    in_plane = _moves_in_plane(moves, ways)
    contour = _contour(moves, ways, in_plane, radii_mm)
    before = _moved_before(in_plane)
    offsets, bad = _offsets(contour, before, base == "rs274ngc")
    joined = _joined(replace(contour, bad=bad), offsets, comp_corner == "intersect")
    new = _carried(_cut_ways(ways, contour, offsets, joined), contour, joined, before, in_plane)
    return Compensated(new, _corners(new, contour, joined), contour.rows[joined.bad])


# --- what is compensated ------------------------------------------------------------------------------------------------


def _moves_in_plane(moves: Moves, ways: Ways) -> Bools:
    """bool[N]: the move goes, or may go, somewhere in X and Y."""
    step = ways.end[:, :2] - ways.start[:, :2]
    stays = np.asarray((np.abs(step) <= SLACK_MM).all(axis=1))
    goes: Bools = (~stays | (moves.arc >= 0)) & (moves.kind != Kind.DWELL)
    return goes


def _moved_before(in_plane: Bools) -> Rows:
    """i8[N]: the last move in the plane before each move, -1 for none."""
    last = np.maximum.accumulate(np.where(in_plane, np.arange(in_plane.size), -1))
    return np.concatenate([np.array([-1], np.intp), last[:-1]])


def _contour(moves: Moves, ways: Ways, in_plane: Bools, radii_mm: Mapping[int, float]) -> Contour:
    on = (moves.flags & COMPENSATED) != 0
    key = np.where(on, 1 + (moves.flags & COMPENSATED).astype(np.int64) * 100_000 + moves.comp_register, 0)
    run = np.cumsum(np.diff(key, prepend=0) != 0)  # moves in Z alone do not part a run, another side or register does
    rows = np.flatnonzero(on & in_plane)
    first, last = np.ones(rows.size, np.bool_), np.ones(rows.size, np.bool_)
    first[1:] = last[:-1] = np.diff(run[rows]) != 0
    registers, which = np.unique(moves.comp_register[rows], return_inverse=True)
    radius = np.array([radii_mm.get(number, np.nan) for number in registers.tolist()])[which]
    side = np.where(moves.flags[rows] & Flag.COMP_LEFT, 1.0, -1.0) * np.where(radius < 0, -1.0, 1.0)
    curves = _curves(ways, rows)
    level = np.ones(rows.size, np.bool_)
    level[curves.curved] = ways.arcs.plane[ways.arc[rows[curves.curved]]] == 17
    known = np.isfinite(radius) & np.isfinite(curves.start).all(axis=1) & np.isfinite(curves.end).all(axis=1)
    plain = np.isin(moves.kind[rows], [int(kind) for kind in FOLLOWED]) & ((moves.flags[rows] & Flag.CYCLE) == 0)
    small = (np.sign(curves.sweep) == side) & (curves.radius < np.abs(radius) - SLACK_MM)
    return Contour(rows, first, last, side, np.abs(radius), curves, ~(level & known & plain) | small)


def _curves(ways: Ways, rows: Rows) -> Curves:
    start, end = ways.start[rows, :2], ways.end[rows, :2]
    out = _unit(end - start)
    back = out.copy()
    here = np.flatnonzero(ways.arc[rows] >= 0)
    arc = ways.arc[rows[here]]
    centre, radius, sweep = np.full((rows.size, 2), np.nan), np.full(rows.size, np.inf), np.zeros(rows.size)
    centre[here], radius[here], sweep[here] = (
        ways.arcs.centre_mm[arc],
        ways.arcs.radius_mm[arc],
        ways.arcs.sweep_rad[arc],
    )
    turn = np.sign(sweep[here])[:, None]
    out[here], back[here] = (turn * _left(_unit(point[here] - centre[here])) for point in (start, end))
    return Curves(start, end, out, back, centre, radius, sweep)


def _left(way: Floats) -> Floats:
    """f8[K, 2]: each vector turned a quarter to the left."""
    return np.stack([-way[:, 1], way[:, 0]], axis=1)


def _unit(way: Floats) -> Floats:
    with np.errstate(invalid="ignore", divide="ignore"):
        unit: Floats = way / np.linalg.norm(way, axis=1)[:, None]
    return unit


# --- offsets ------------------------------------------------------------------------------------------------------------


def _offsets(contour: Contour, before: Rows, triangle: bool) -> tuple[Curves, Bools]:
    """Every move shifted sideways, and the first of each run put where it really goes; which of them cannot be followed."""
    one = contour.programmed
    aside = (contour.side * contour.radius)[:, None]
    start, end = one.start + aside * _left(one.way_out), one.end + aside * _left(one.way_in)
    radius = np.where(one.curved, np.abs(one.radius - contour.side * np.sign(one.sweep) * contour.radius), np.inf)
    out, back, bad = one.way_out.copy(), one.way_in.copy(), contour.bad.copy()
    lead = np.flatnonzero(contour.first)
    place = np.searchsorted(contour.rows, before[contour.rows[lead]])
    place = np.minimum(place, contour.rows.size - 1)
    behind = (
        contour.rows[place] == before[contour.rows[lead]]
    )  # a run that was not led out: the cutter still stands aside
    begin = np.where(behind[:, None], end[place], one.start[lead])
    length = np.linalg.norm(one.end[lead] - begin, axis=1)
    bad[lead] |= one.curved[lead] | ~(length >= contour.radius[lead] - SLACK_MM)
    follows = ~contour.last[lead]
    after = np.minimum(lead + 1, contour.rows.size - 1)
    if triangle:
        finish = _right_triangle(begin, one.end[lead], contour.radius[lead], contour.side[lead])
        way = _unit(finish - begin)
        way = np.where(np.isfinite(way), way, out[lead])
    else:  # it ends where the next move begins, whatever the way there: no corner between them
        finish = np.where(follows[:, None], start[after], end[lead])
        way = np.where(follows[:, None], out[after], back[lead])
    start[lead], end[lead], out[lead], back[lead] = begin, finish, way, way
    return Curves(start, end, out, back, one.centre, radius, one.sweep), bad


def _right_triangle(begin: Floats, point: Floats, radius: Floats, side: Floats) -> Floats:
    """f8[K, 2]: where a straight way from `begin` touches the circle about `point` (NISTIR 6556, B.5)."""
    back = begin - point
    with np.errstate(invalid="ignore", divide="ignore"):
        cosine = np.minimum(radius / np.linalg.norm(back, axis=1), 1.0)
    sine = -side * np.sqrt(1.0 - cosine * cosine)
    touch: Floats = point + cosine[:, None] * (cosine[:, None] * back + sine[:, None] * _left(back))
    return touch


# --- corners ------------------------------------------------------------------------------------------------------------


def _joined(contour: Contour, offsets: Curves, intersect: bool) -> Joined:
    """Each offset cut, or the cutter rolled, at the corner at its end."""
    start, end, bad = offsets.start.copy(), offsets.end.copy(), contour.bad.copy()
    cut, turn = np.zeros(len(offsets)), np.zeros(len(offsets))
    rolls = np.zeros(len(offsets), np.bool_)
    a = np.flatnonzero(~contour.last & ~bad & ~np.append(bad[1:], True))
    turn[a] = _turns(offsets.way_in[a], offsets.way_out[a + 1])
    inward = contour.side[a] * turn[a]
    back = np.abs(turn[a]) > np.pi - REVERSAL_RAD
    turn[a[back]] = -contour.side[a[back]] * np.pi
    inside = (inward > SMOOTH_RAD) & ~back
    # Two lines are joined farther out, never nearer to the contour.
    chords = ~offsets.curved[a] & ~offsets.curved[a + 1]
    smooth = ~inside & (np.abs(turn[a]) <= np.where(chords, STRAIGHT_RAD, SMOOTH_RAD))
    rolls[a] = ~smooth & ~inside
    refused = np.zeros(a.size, np.bool_) if intersect else inside & (inward > STRAIGHT_RAD)
    join, meet = a[smooth], a[inside]
    met = crossings(offsets.at(meet), offsets.at(meet + 1))
    # Arcs that were drawn tangent and rounded may turn inward by a hair and not cross: their ends are one to within the rounding.
    hair = np.isnan(met[0][:, 0]) & (contour.radius[meet] * inward[inside] <= ROUNDED_MM)
    for one, halfway in zip(met, _halfway(contour, offsets, meet[hair]), strict=True):
        one[hair] = halfway
    for rows, (point, cut_before, cut_after) in ((join, _halfway(contour, offsets, join)), (meet, met)):
        end[rows], start[rows + 1] = point, point
        cut[rows] += cut_before
        cut[rows + 1] += cut_after
    refused[inside] |= np.isnan(end[meet, 0])
    bad[a[refused]] = bad[a[refused] + 1] = True
    with np.errstate(invalid="ignore"):
        gone = ~(cut <= offsets.span + ROUNDING_MM) & ~bad
    bad |= gone
    bad[1:] |= gone[:-1] & ~contour.last[:-1]
    bad[:-1] |= gone[1:] & ~contour.last[:-1]
    start[bad], end[bad] = np.nan, np.nan
    rolls &= ~bad & ~np.append(bad[1:], True)
    return Joined(start, end, cut, turn, rolls, bad)


def _turns(before: Floats, after: Floats) -> Floats:
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn: Floats = np.arctan2(cross, (before * after).sum(axis=1))
    return turn


def _halfway(contour: Contour, offsets: Curves, a: Rows) -> tuple[Floats, Floats, Floats]:
    """(point, way cut off the move before, way cut off the move after) where two lines shifted sideways cross."""
    one, other = _left(offsets.way_in[a]), _left(offsets.way_out[a + 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        middle = (one + other) / (1.0 + (one * other).sum(axis=1))[:, None]
        point = contour.programmed.end[a] + (contour.side * contour.radius)[a][:, None] * middle
        cuts = cut_at_end(offsets.at(a), point, np.pi), cut_at_start(offsets.at(a + 1), point, np.pi)
    return point, *cuts


# --- back to moves ------------------------------------------------------------------------------------------------------


def _cut_ways(ways: Ways, contour: Contour, offsets: Curves, joined: Joined) -> Ways:
    """The ways with X and Y of compensated moves, and their arcs, as the cutter goes."""
    rows = contour.rows
    start, end, number = ways.start.copy(), ways.end.copy(), ways.arc.copy()
    start[rows, :2], end[rows, :2] = joined.start, joined.end
    here = np.flatnonzero(offsets.curved & ~joined.bad)
    arc = number[rows[here]]
    standing = offsets.radius[here] <= NO_RADIUS_MM
    radius, sweep = ways.arcs.radius_mm.copy(), ways.arcs.sweep_rad.copy()
    radius[arc] = np.linalg.norm(joined.start[here] - offsets.centre[here], axis=1)
    round_of = np.where(standing, 1.0, offsets.radius[here])
    sweep[arc] = np.sign(sweep[arc]) * (np.abs(sweep[arc]) - joined.cut[here] / round_of)
    number[rows[here[standing]]] = -1
    arcs = Arcs(ways.arcs.centre_mm, ways.arcs.plane, radius, sweep, ways.arcs.rise_mm)
    return Ways(start, end, number, arcs)


def _carried(ways: Ways, contour: Contour, joined: Joined, before: Rows, in_plane: Bools) -> Ways:
    """Moves in Z alone stay where the cutter stands aside; the next move in the plane starts from there."""
    aside = np.full((len(ways.start), 2), np.nan)
    aside[contour.rows] = joined.end
    mine = np.zeros(len(ways.start), np.bool_)
    mine[contour.rows] = True
    after = (before >= 0) & mine[before]
    start, end = ways.start.copy(), ways.end.copy()
    rows = np.flatnonzero(after & ~mine)
    start[rows, :2] = aside[before[rows]]
    rows = np.flatnonzero(after & ~in_plane)
    end[rows, :2] = aside[before[rows]]
    return replace(ways, start=start, end=end)


def _corners(ways: Ways, contour: Contour, joined: Joined) -> Corners:
    a = np.flatnonzero(joined.rolls & (contour.radius > 0))
    move = contour.rows[a + 1]
    height = ways.start[move, 2]
    centre, turn = contour.programmed.end[a], joined.turn[a]
    arcs = Arcs(centre, np.full(a.size, 17, np.uint8), contour.radius[a], turn, np.zeros(a.size))
    return Corners(move, np.column_stack([joined.end[a], height]), np.column_stack([joined.start[a + 1], height]), arcs)


def _no_corners() -> Corners:
    none = np.zeros(0)
    arcs = Arcs(np.zeros((0, 2)), np.zeros(0, np.uint8), none, none, none)
    return Corners(np.zeros(0, np.intp), np.zeros((0, 3)), np.zeros((0, 3)), arcs)
