"""Machine: does a holder, a shank or the nose touch anything? And does a cutting edge meet a fixture?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Part
from firstoff.facts.fact import Fact, Leaning
from firstoff.program.moves import Floats
from firstoff.removal.contact import CAP_MM, STOCK
from firstoff.removal.swept import Contact
from firstoff.verdict.body import Body, body
from firstoff.verdict.boxes import Box, Disc, blank_of, fixture_boxes
from firstoff.verdict.case import Case, best
from firstoff.verdict.followed import followed
from firstoff.verdict.forms import Form, Scale, exact, of
from firstoff.verdict.near import ground_of, limits_of, met
from firstoff.verdict.needs import need
from firstoff.verdict.passing import Pass, Placed, from_anywhere, nearest_passes, place_moves
from firstoff.verdict.positions import axis_in_work, tip_in_work
from firstoff.verdict.question import Along, Check, Finding, Limit, Need, Question, Risk
from firstoff.verdict.questions.keep_out import holder_needs, passes_and_needs, rapid_path
from firstoff.verdict.stock_frame import stock_frame_needs

QUESTION = Question("body_contact", Risk.MACHINE, "Does a holder, shank or the nose touch anything?")
OUT = "Push the tool out further, take a slimmer holder, or clear the place with another tool first."


@dataclass(frozen=True, slots=True)
class Carried:
    """The moves of one tool, placed in the work frame by the tip, with the body that goes with it."""

    tool: int
    mine: NDArray[np.bool_]
    placed: Placed
    solid: Body
    """Bottoms told from the tip."""


def find(case: Case, facts: Leaning) -> Finding:
    """Every part above the edge, at every move, against fixtures and the stock as it is cut by then; the edge at feed against fixtures
    and what stands highest."""
    told, unfollowed = followed(case, facts)
    drawn, blank = fixture_boxes(facts), blank_of(facts) if told is None else ground_of(told.likely.before)
    highest = _standing_beside(facts)
    apart: list[Limit] = []
    touching: list[Limit] = []
    needs: list[Need] = [*case.lost, *unfollowed, *stock_frame_needs(case, facts)]
    if told is not None:
        needs += told.unplaced
        needs += [need(path) for path in told.body_missing]
        carried_ones = met(told, lambda one: one.part in (Part.HOLDER, Part.NOSE))
        apart += limits_of(case, facts, carried_ones, "", OUT)
        # Neck and shank run in what the edge has cleared: there no clearance is asked, only that nothing is met.
        slim = met(told, lambda one: not one.rapid and (one.part in (Part.NECK, Part.SHANK) or _edge_elsewhere(one)))
        touching += limits_of(case, facts, slim, "", OUT)
    for carried in _by_tool(case, facts):
        for box in drawn:
            passes = nearest_passes(case, carried.placed, carried.mine, carried.solid.above, box, rapid_path(facts))
            needs += passes_and_needs(case, passes, box)
            apart += [_limit(case, box, each) for each in passes.nearest]
            feeds = nearest_passes(
                case, carried.placed, carried.mine & case.feeding, [carried.solid.tool], box, rapid_path(facts)
            )
            touching += [_limit(case, box, each) for each in feeds.nearest]
        if blank is not None and highest is not None:
            touching += _over_highest(case, facts, carried, of(highest), blank)
        needs += holder_needs(
            case, facts, carried.placed, carried.mine, carried.solid, (*drawn, *([blank] if blank else []))
        )
    checks = (
        Check(
            Scale.DIFFERENCE,
            "mm",
            tuple(apart),
            (),
            _clear(case, facts, apart, CAP_MM if told is None else told.cap_mm),
            clearance=True,
        ),
        Check(Scale.DIFFERENCE, "mm", tuple(touching), (), ""),
    )
    return Finding(checks, tuple(dict.fromkeys(needs)))


def _edge_elsewhere(one: Contact) -> bool:
    """The edge at feed against anything but the stock."""
    return one.part is Part.EDGE and one.against != STOCK


def _clear(case: Case, facts: Leaning, apart: list[Limit], cap_mm: float) -> str:
    gap = min((best(facts.facts, limit.capacity) for limit in apart), default=cap_mm)
    if gap < cap_mm:
        return f"Holder and nose stay at least {case.units.length(gap)} from the stock and what holds it."
    return f"Holder and nose come no nearer than {case.units.length(cap_mm)} to the stock and what holds it."


def _standing_beside(facts: Leaning) -> Fact | None:
    """What stands highest, if it stands higher than the bottom of the blank: else nothing is there but what it lies on."""
    highest = facts.number_if_known("job.around.highest_around")
    bottoms = [facts.number_if_known(f"job.stock.{kind}.z.low") for kind in ("box", "cylinder")]
    bottom = next((one for one in bottoms if one is not None), None)
    if highest is None or bottom is None or highest.value > bottom.value:
        return highest
    return None


def _by_tool(case: Case, facts: Leaning) -> list[Carried]:
    found = []
    for tool in np.unique(case.moves.tool[case.moving & case.with_tool]).tolist():
        solid = body(facts, tool)
        if solid is None:
            continue

        def point(row: int, axis: int, tool: int = tool) -> Form | None:
            return tip_in_work(case, facts, row, tool) if axis == 2 else axis_in_work(case, facts, row, axis)

        mine = case.moving & case.sure & case.with_tool & (case.moves.tool == tool)
        length = -solid.tool.bottom  # bottoms are told from the gauge point; the point that moves here is the tip

        def from_tip(disc: Disc, length: Form = length) -> Disc:
            return Disc(disc.name, disc.radius_mm, disc.bottom + length)

        told = Body(
            from_tip(solid.tool),
            tuple(from_tip(disc) for disc in solid.above),
            None if solid.stand_in is None else from_tip(solid.stand_in),
            solid.asks_for,
        )
        found.append(Carried(tool, mine, from_anywhere(place_moves(case, point)), told))
    return found


def _over_highest(case: Case, facts: Leaning, carried: Carried, highest: Form, blank: Box) -> list[Limit]:
    """The lowest tip at feed beside the blank, where a jaw or clamp may stand, in each frame row."""
    x_low, x_high, y_low, y_high, _ = (best(facts.facts, face) for face in blank.faces)
    low, high = carried.placed.low, carried.placed.high
    over = (low[:, 0] >= x_low) & (high[:, 0] <= x_high) & (low[:, 1] >= y_low) & (high[:, 1] <= y_high)
    beside = np.flatnonzero(carried.mine & case.feeding & ~over & np.isfinite(low[:, 2]))
    limits = []
    rows = case.moves.frame[beside, 2]
    for row in np.unique(rows).tolist():
        here = beside[rows == row]
        move = int(here[np.argmin(low[here, 2])])
        tip = carried.placed.origins[row][2]
        if tip is None:
            continue
        gap = tip + (float(low[move, 2]) - best(facts.facts, tip)) - highest
        value, place = best(facts.facts, gap), case.place(move)
        where = f"{case.units.length(abs(value))} {'above' if value >= 0 else 'below'} what stands highest"
        what = f"Line {place.line}: the tool feeds beside the blank {where}."
        do = "Draw what stands there as a [[fixture]], or keep the cut above it."
        limits.append(Limit(place, exact(0.0), gap, what, do, _all_of(case, here, low[:, 2], move)))
    return limits


def _all_of(case: Case, moves: NDArray[np.intp], z: Floats, lowest: int) -> Callable[[], Along]:
    """Every move at feed of one tool in one frame row."""
    return lambda: case.along(moves, -z[moves], float(-z[lowest]))


def _limit(case: Case, box: Box, each: Pass) -> Limit:
    place, part = case.place(each.move), each.disc.name
    if each.gap_mm < 0:
        what = f"Line {place.line}: the {part} goes {case.units.length(-each.gap_mm)} into {box.name}."
    else:
        what = f"Line {place.line}: the {part} passes {box.name} at {case.units.length(each.gap_mm)}."
    do = f"Push the tool out further, keep further from {box.name}, or take a slimmer holder."
    return Limit(place, exact(0.0), each.gap, what, do, each.along)
