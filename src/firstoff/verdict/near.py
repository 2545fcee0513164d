"""Contacts that the sweep found, as limits: the gap with the doubt of everything that could open or close it.

The sweep went through two blanks. In the likely one the blank's own faces stay facts, and their doubt is a share of the gap's. In the largest
one they have been grown by twice their doubt already: there the faces add nothing more. A question is held against both.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Part
from firstoff.facts.fact import Leaning
from firstoff.motion.plan import CORNER_TOLERANCE
from firstoff.program.moves import NO_TOOL, Flag, Floats
from firstoff.removal.contact import STOCK, Certainty, certain
from firstoff.removal.field import LEAST_CUT_MM, NOTHING, Field
from firstoff.removal.swept import Contact
from firstoff.verdict.boxes import Box, fixture_names
from firstoff.verdict.case import STOCK_FACES, Case, best
from firstoff.verdict.followed import GRID, Followed
from firstoff.verdict.forms import Form, exact
from firstoff.verdict.positions import axis_in_work, tip_in_work
from firstoff.verdict.question import Limit
from firstoff.verdict.tools import spindle_tool

PART_WORDS = {
    Part.EDGE: "cutting edge",
    Part.NECK: "neck",
    Part.SHANK: "shank",
    Part.HOLDER: "holder",
    Part.NOSE: "nose",
}


@dataclass(frozen=True, slots=True)
class Met:
    """One contact of one sweep. `grown` = of the sweep through the largest blank."""

    contact: Contact
    grown: bool


def met(told: Followed, wanted: Callable[[Contact], bool]) -> list[Met]:
    """The wanted contacts of both sweeps."""
    pairs = ((told.likely, False), (told.largest, True))
    return [Met(one, grown) for swept, grown in pairs for one in swept.contacts if wanted(one)]


def ground_of(field: Field) -> Box | None:
    """The rectangle round a blank, whatever its shape, up to its top: what is beside it may be jaws; None if there is no blank."""
    rows, columns = np.nonzero(field.top > NOTHING)
    if not rows.size:
        return None
    grid, cell = field.grid, field.grid.cell_mm
    x_low, x_high = (grid.x0_mm + cell * int(k) for k in (columns.min(), columns.max() + 1))
    y_low, y_high = (grid.y0_mm + cell * int(k) for k in (rows.min(), rows.max() + 1))
    top = grid.z0_mm + float(field.top.max())
    return Box("the stock", (exact(x_low), exact(x_high), exact(y_low), exact(y_high), exact(top)))


def stands_under(field: Field, low: Floats, high: Floats) -> NDArray[np.bool_]:
    """bool[K]: the whole rectangle from `low` to `high` f8[K, 2] is ground that the blank stands on: nothing else can stand there."""
    grid = field.grid
    bare = np.zeros((grid.rows + 1, grid.columns + 1), dtype=np.int64)
    bare[1:, 1:] = np.cumsum(np.cumsum(field.top <= NOTHING, axis=0), axis=1)
    corner = np.array([grid.x0_mm, grid.y0_mm])
    # What is not known, and what reaches beyond the grid, counts as just outside.
    first, end = np.floor((low - corner) / grid.cell_mm), np.ceil((high - corner) / grid.cell_mm)
    inside: NDArray[np.bool_] = np.all((first >= 0) & (end <= [grid.columns, grid.rows]), axis=1)
    left, front = np.where(inside[:, None], first, 0.0).astype(np.int64).T
    right, back = np.where(inside[:, None], end, 0.0).astype(np.int64).T
    empty = bare[back, right] - bare[front, right] - bare[back, left] + bare[front, left]
    inside &= empty == 0
    return inside


def straight_down(case: Case, move: int) -> bool:
    """Whether a move goes along Z alone: X and Y stay the numbers, and the frames, that they were."""
    if move == 0:
        return False
    moves = case.moves
    stays = (moves.end_mm[move, :2] == moves.end_mm[move - 1, :2]) & (
        moves.frame[move, :2] == moves.frame[move - 1, :2]
    )
    return bool(stays.all())


def gap_form(case: Case, facts: Leaning, one: Met) -> Form:
    """The signed gap of a contact: its value from the sweep, its doubt from tool, offset, blank and grid."""
    contact = one.contact
    doubt = _upward(case, facts, one) if contact.upward else _sideways(case, facts, one)
    grid = facts.number_if_known(GRID)
    if grid is not None and contact.u_grid_mm > 0:
        doubt += Form(0.0, ((GRID, contact.u_grid_mm / grid.u),))
    gap = 0.0 if abs(contact.gap_mm) < LEAST_CUT_MM else contact.gap_mm  # below that it is the rounding of a height
    return doubt + (gap - best(facts.facts, doubt)) - _rounding(case, facts, contact)


def _rounding(case: Case, facts: Leaning, contact: Contact) -> Form:
    """How much nearer a rounded corner may bring it: the way goes inside its corners by no more than the control's tolerance, and what it
    cut stands as far inside, so that only what was there before counts. Where nobody knows the tolerance, corners are taken as sharp."""
    rounded = not case.moves.flags[contact.move] & Flag.EXACT_STOP
    before = contact.fresh or contact.against != STOCK
    return _if_known(facts, CORNER_TOLERANCE) if rounded and before else Form(0.0)


def along_own_cut(one: Met) -> bool:
    """Whether a part goes along what was cut, nearer to it than the grid can tell: it may touch, and goes nowhere into it."""
    return not one.contact.fresh and one.contact.against == STOCK and certain(one.contact) is Certainty.WITHIN_GRID


def _upward(case: Case, facts: Leaning, one: Met) -> Form:
    contact = one.contact
    name = spindle_tool(facts, contact.tool)
    tip = tip_in_work(case, facts, int(case.moves.frame[contact.move, 2]), contact.tool) or Form(0.0)
    above = Form(0.0)
    if contact.part is Part.HOLDER:
        above = _if_known(facts, f"tools.{name}.OHX")
    elif contact.part is Part.NOSE:
        above = _if_known(facts, f"tools.{name}.LF")
    if contact.against != STOCK:
        return tip + above - _fixture_doubt(facts, contact, "z.high", 1.0)
    if not contact.fresh:
        return tip + above - _maker(case, facts, contact, tip)
    return tip + above if one.grown else tip + above - _stock_face(facts, "z", "high")


def _maker(case: Case, facts: Leaning, contact: Contact, own: Form) -> Form:
    """The tip that cut the surface below: it lies as deep as that tool was long, in the same work system. Which tool it was is not kept:
    of those that fed before, the one whose length is least known stands for it."""
    fed = case.feeding[: contact.move] & (case.moves.tool[: contact.move] >= NO_TOOL)
    tools = [tool for tool in np.unique(case.moves.tool[: contact.move][fed]).tolist() if tool != contact.tool]
    lengths = {tool: facts.number_if_known(f"tools.{spindle_tool(facts, tool)}.LF") for tool in tools}
    known = [(fact.u, tool) for tool, fact in lengths.items() if fact is not None]
    if not known:
        return own
    tool = max(known)[1]
    last = int(np.flatnonzero(fed & (case.moves.tool[: contact.move] == tool))[-1])
    return tip_in_work(case, facts, int(case.moves.frame[last, 2]), tool) or own


def _sideways(case: Case, facts: Leaning, one: Met) -> Form:
    """The gap grows as the axis goes away from the place that is nearest, along the line between the two. A wall that was cut stands where
    the same zero put it: only the cutters' diameters could part the two, and their doubt is below the grid's."""
    contact = one.contact
    if contact.against == STOCK and not contact.fresh:
        return Form(0.0)
    away = [contact.tip_mm[axis] - contact.at_mm[axis] for axis in range(2)]
    way = math.hypot(*away) or 1.0
    form = Form(0.0)
    for axis in range(2):
        share = away[axis] / way
        origin = axis_in_work(case, facts, int(case.moves.frame[contact.move, axis]), axis)
        if origin is not None:
            form += origin.scaled(share)
    if contact.against != STOCK:
        for axis in range(2):
            form -= _fixture_doubt(facts, contact, "xy"[axis], away[axis] / way)
        return form - _fixture_doubt(facts, contact, "diameter", 0.5)
    if one.grown:
        return form
    axis = 0 if abs(away[0]) >= abs(away[1]) else 1
    end = "high" if away[axis] > 0 else "low"
    return form - _stock_face(facts, "xy"[axis], end).scaled(1.0 if end == "high" else -1.0)


def _fixture_doubt(facts: Leaning, contact: Contact, key: str, factor: float) -> Form:
    """The doubt of a round fixture's top, radius or place; one whose shape comes from a file has none stated."""
    number = next((number for number, name in fixture_names(facts).items() if name == contact.against), None)
    return _if_known(facts, f"job.fixture.{number}.cylinder.{key}").scaled(factor)


def _stock_face(facts: Leaning, axis: str, end: str) -> Form:
    """A face of the blank, whichever shape it has."""
    box = facts.number_if_known(f"job.stock.box.{axis}.{end}")
    if box is not None:
        return Form(0.0, ((box.path, 1.0),))
    faces = facts.number_if_known(STOCK_FACES)
    if faces is not None:
        return Form(0.0, ((faces.path, 1.0 if end == "high" else -1.0),))
    if axis == "z":
        return _if_known(facts, f"job.stock.cylinder.z.{end}")
    diameter = facts.number_if_known("job.stock.cylinder.diameter")
    return Form(0.0) if diameter is None else Form(0.0, ((diameter.path, 0.5 if end == "high" else -0.5),))


def _if_known(facts: Leaning, path: str) -> Form:
    fact = facts.number_if_known(path)
    return Form(0.0) if fact is None else Form(0.0, ((path, 1.0),))


def limits_of(case: Case, facts: Leaning, found: Iterable[Met], verb: str, do: str) -> list[Limit]:
    """A limit for each contact: gap as capacity, nothing as demand. `verb` says how it goes there, e.g. ``at rapid``."""
    limits = []
    for one in found:
        contact = one.contact
        place = case.place(contact.move)
        name, where = PART_WORDS[contact.part], _where(contact.against)
        blank = " if the blank is as large as it may be" if one.grown else ""
        length = case.units.length(abs(contact.gap_mm))
        tool = spindle_tool(facts, contact.tool)
        if contact.gap_mm < 0:
            what = f"Line {place.line}: the {name} of {tool} goes {length} into {where}{verb}{blank}."
        else:
            what = f"Line {place.line}: the {name} of {tool} passes {where} at {length}{verb}{blank}."
        limits.append(Limit(place, exact(0.0), gap_form(case, facts, one), what, do))
    return limits


def _where(against: str) -> str:
    return "the stock" if against == STOCK else against
