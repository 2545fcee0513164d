"""Marks that a tool leaves on the finished surface by geometry: of the feed, of the side step, and where two depths of cut meet.

One edge stands out further than the others by more than a mark is deep, so it makes all of them, once a turn: f is the feed a turn. (A
mark of fz²/(4D) is a tenth of a micrometre; no small tool runs truer than that.)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Fact, Leaning
from firstoff.loads.cut_loads import Quantity, Stretch
from firstoff.program.bounds import starts_of_moves
from firstoff.program.moves import Floats
from firstoff.removal.swept import Surfaces
from firstoff.verdict.bending import in_series, springs_at
from firstoff.verdict.case import Case
from firstoff.verdict.forms import Form
from firstoff.verdict.load_forms import log_form
from firstoff.verdict.stretches import candidates

BALL_KINDS = ("ball", "lollipop")
SAME_MM = 1e-3
PASSES_SHARE = 0.25
"""Part of a tool's slopes that have a neighbour where it works over a surface in passes; corners and entries are far fewer."""
SAME_WAY_MM = 0.05
"""Ends of passes closer than this lie over one another."""
ANOTHER_DEPTH_MM = 0.05
SLOWER = "Lower F or raise S: half the feed a turn leaves a quarter of the mark."
NARROWER = "Half the side step leaves a quarter of the ridge."


@dataclass(frozen=True, slots=True)
class Mark:
    """The deepest mark of one sort that one tool leaves; `depth` is its logarithm in mm, `floor` whether it lies on a floor."""

    move: int
    depth: Form
    floor: bool
    words: str
    do: str


@dataclass(frozen=True, slots=True)
class Finisher:
    """A tool that made part of the finished surface. `round_by` is the fact that its corner's radius `corner_mm` hangs on: RE, or the
    diameter of a ball; None for a sharp corner. `per_turn_mm` f8[N]: feed a turn, NaN where not known."""

    tool: int
    name: str
    diameter: Fact
    round_by: Fact | None
    corner_mm: float
    per_turn_mm: Floats

    @property
    def is_ball(self) -> bool:
        """Whether its end is round from the axis outward."""
        return self.corner_mm >= self.diameter.value / 2 - SAME_MM


def finisher_of(case: Case, facts: Leaning, tool: int, name: str) -> Finisher | None:
    """None if the diameter is missing (which is then recorded)."""
    diameter = facts.number(f"tools.{name}.DC")
    if diameter is None:
        return None
    corner, radius = facts.number_if_known(f"tools.{name}.RE"), 0.0
    if facts.setting_if_known(f"tools.{name}.kind") in BALL_KINDS:
        corner, radius = diameter, diameter.value / 2
    elif corner is not None:
        radius = corner.value
    with np.errstate(divide="ignore", invalid="ignore"):
        per_turn = case.moves.feed_mm_per_s / np.abs(case.moves.spindle_per_s)
    known = np.where(np.isfinite(per_turn), per_turn, np.nan)
    return Finisher(tool, name, diameter, corner if radius > 0 else None, radius, known)


def marks_of(case: Case, facts: Leaning, by: Finisher, surfaces: Surfaces) -> list[Mark]:
    """The deepest mark on walls, on floors, along a surface made in passes, and between the passes."""
    mine, feed = case.moves.tool == by.tool, by.per_turn_mm
    found = [
        _deepest(
            facts, mine & surfaces.wall_moves, wall_mark(feed, by.diameter.value), by.diameter, "feed on a wall", SLOWER
        )
    ]
    if by.round_by is not None:
        along = corner_mark(feed, by.corner_mm)
        found.append(_deepest(facts, mine & surfaces.floor_moves, along, by.round_by, "feed on a floor", SLOWER, True))
        found.append(_deepest(facts, mine & surfaces.cusp_moves, along, by.round_by, "feed along a pass", SLOWER))
        step = surfaces.cusp_mm.astype(np.float64)
        between = ridge(
            step if by.is_ball else _in_passes(step, mine & surfaces.cusp_moves, by.corner_mm), by.corner_mm
        )
        found.append(
            _deepest(facts, mine & surfaces.cusp_moves, between, by.round_by, "ridge between two passes", NARROWER)
        )
    return [mark for mark in found if mark is not None]


def _in_passes(step_mm: Floats, slopes: NDArray[np.bool_], corner_mm: float) -> Floats:
    """Side steps of a tool with a flat end that are passes over one surface: most of its slopes are then passes beside one another. Where few
    are, they are fillets that meet, and turns of a helix over one another; so are those further apart than both rounds are wide."""
    beside = slopes & (step_mm > 0)
    if np.count_nonzero(beside) < PASSES_SHARE * np.count_nonzero(slopes):
        return np.zeros_like(step_mm)
    return np.where(step_mm < 2 * corner_mm, step_mm, 0.0)


def wall_mark(feed_mm: Floats, diameter_mm: float) -> Floats:
    """f²/(4·D): height of the marks of the feed on a wall (contour milling; reference notes, section 4)."""
    return feed_mm**2 / (4 * diameter_mm)


def corner_mark(feed_mm: Floats, corner_mm: float) -> Floats:
    """f²/(8·r): height of the marks that a round corner leaves (as in turning; reference notes, section 4)."""
    return feed_mm**2 / (8 * corner_mm)


def ridge(step_mm: Floats, radius_mm: float) -> Floats:
    """R − √(R² − s²/4): height of the ridge between two passes of a ball or a round corner (circle geometry; reference notes, section 4);
    as high as the radius where the step is wider than the circle."""
    half = np.minimum(step_mm / 2, radius_mm)
    return half**2 / (radius_mm + np.sqrt(radius_mm**2 - half**2))


def _deepest(
    facts: Leaning, where: NDArray[np.bool_], depth: Floats, radius: Fact, words: str, do: str, floor: bool = False
) -> Mark | None:
    """The deepest of the marks where they are known; all of them go with the inverse of one radius (of a ridge, to first order)."""
    known = np.flatnonzero(where & (depth > 0))
    if not known.size:
        return None
    move = int(known[np.argmax(depth[known])])
    form = log_form(float(depth[move]), ((radius.path, -1.0),), facts)
    return None if form is None else Mark(move, form, floor, words, do)


def in_depths(case: Case, walls: NDArray[np.bool_], lowest_mm: NDArray[np.float32]) -> bool:
    """Whether a wall was made in more than one depth: its tool has cut along the same way at another height. Ways that go down (a helix, a
    ramp) are no depth of their own: they end where the level cut that follows takes the wall, and leave no step that runs round it."""
    if not bool(walls.any()):
        return False
    fall = np.abs(starts_of_moves(case.moves)[:, 2] - case.moves.end_mm[:, 2])
    level = ~(fall > ANOTHER_DEPTH_MM)
    mine = level & np.isfinite(lowest_mm) & np.isin(case.moves.tool, np.unique(case.moves.tool[walls]))
    ends = np.rint(np.nan_to_num(case.moves.end_mm[:, :2]) / SAME_WAY_MM).astype(np.int64)
    place = ends[:, 0] * (1 << 32) + ends[:, 1]
    rows = np.flatnonzero(mine & np.isin(place, place[walls]))
    if not rows.size:
        return False
    rows = rows[np.argsort(place[rows], kind="stable")]
    begins = np.flatnonzero(np.concatenate([[True], np.diff(place[rows]) != 0]))
    heights = lowest_mm[rows]
    spread = np.maximum.reduceat(heights, begins) - np.minimum.reduceat(heights, begins)
    return bool((spread > ANOTHER_DEPTH_MM).any())


def bend_on_wall(facts: Leaning, by: Finisher, made: Sequence[Stretch]) -> tuple[int, float] | None:
    """(move, mm) of the greatest bend while the tool makes a wall, at best estimates. Where two depths of cut meet, the wall shows at most
    this as a step: how much of it each depth shares, nobody knows. None where nothing pushes or a fact is missing."""
    known = facts.facts.facts
    worst: tuple[int, float] | None = None
    for candidate in (one for stretch in made if stretch.tool == by.tool for one in candidates(stretch, Quantity.WALL)):
        force = log_form(abs(candidate.value), candidate.exponents, facts)
        springs = springs_at(facts, by.name, candidate)
        if force is None or springs is None:
            continue
        bend = math.exp((force + in_series(springs, facts)).at(lambda path: math.log(known[path].value)))
        if worst is None or bend > worst[1]:
            worst = candidate.move, bend
    return worst
