"""Machine: does a rapid meet stock, fixture or table?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Part
from firstoff.facts.fact import Fact, Leaning
from firstoff.program.moves import Floats, Kind
from firstoff.removal.contact import STOCK
from firstoff.verdict.blank import DOUBTS
from firstoff.verdict.boxes import Box, Disc, blank_of, fixture_boxes, rectangle_gaps
from firstoff.verdict.case import Case, best
from firstoff.verdict.followed import GRID, Followed, followed
from firstoff.verdict.forms import Form, Scale, exact, of
from firstoff.verdict.fresh_stock import SAME_PLACE_MM, LowRapids, in_own_hole, sort_low_rapids
from firstoff.verdict.near import along_own_cut, ground_of, limits_of, met, stands_under, straight_down
from firstoff.verdict.needs import need
from firstoff.verdict.passing import RAPIDS, Pass, Placed, from_anywhere, nearest_passes, place_moves
from firstoff.verdict.positions import axis_in_work, tip_in_work
from firstoff.verdict.question import Along, Answer, Check, Counted, Finding, Limit, Need, Question, Risk
from firstoff.verdict.questions.keep_out import passes_and_needs, rapid_path
from firstoff.verdict.stock_frame import stock_frame_needs
from firstoff.verdict.tools import spindle_tool, tool_radius

QUESTION = Question("rapid_contact", Risk.MACHINE, "Does a rapid meet stock, fixture or table?")
UNDERCUTTING = ("tee", "lollipop")
"""Kinds that can stand under a ledge: for them straight up is no safe way out."""
AWAY = "Retract higher before this move, or come down beside the stock."


@dataclass(frozen=True, slots=True)
class Rapids:
    """The rapids of one tool, placed in the work frame by the tip."""

    tool: int
    name: str
    all: NDArray[np.bool_]
    """bool[N]: every rapid of this tool."""
    moves: NDArray[np.intp]
    """Those that can meet the blank: not straight up, not down the tool's own hole."""
    sideways: NDArray[np.bool_]
    down: NDArray[np.bool_]
    placed: Placed
    disc: Disc


def find(case: Case, facts: Leaning) -> Finding:
    """Rapids against the fixtures drawn, what stands highest, and the stock as it is cut by then."""
    told, unfollowed = followed(case, facts)
    drawn, blank = fixture_boxes(facts), blank_of(facts) if told is None else ground_of(told.likely.before)
    around = "job.around.highest_around"
    highest = facts.number_if_known(around) if drawn else facts.number(around)
    apart: list[Limit] = []
    over: list[Limit] = []
    counted: list[Counted] = []
    needs: list[Need] = [*case.lost, *unfollowed, *stock_frame_needs(case, facts)]
    if told is not None:
        needs += told.unplaced
        needs += [need(path) for path in told.body_missing if path.endswith(".DMM")]
        sideways, downward, along = _past_stock(case, facts, told)
        apart += sideways
        over += downward
        counted += along
    for rapids in _by_tool(case, facts):
        if told is None and blank is not None:  # what is certain to stop is told all the same
            passing, down, low = _past_blank(case, facts, rapids, blank, needs)
            apart += passing
            over += down
            counted += [_plunge(case, rapids, move) for move in low.solid]
        if told is not None:
            apart += _from_anywhere(case, facts, rapids, told, needs)
        if highest is not None:
            counts = _where_others_stand(facts, rapids, highest, blank, told)
            apart += _over_highest(case, facts, rapids, of(highest), counts)
        for box in drawn:
            passes = nearest_passes(case, rapids.placed, rapids.all, [rapids.disc], box, rapid_path(facts))
            needs += passes_and_needs(case, passes, box)
            apart += [_limit(case, box, each) for each in passes.nearest]
    checks = (
        Check(Scale.DIFFERENCE, "mm", tuple(apart), (), _clear(case, facts, (*apart, *over), told), clearance=True),
        Check(Scale.DIFFERENCE, "mm", tuple(over), (), ""),
        Check(Scale.COUNT, "", (), tuple(counted)),
    )
    return Finding(checks, tuple(dict.fromkeys(needs)))


def _clear(case: Case, facts: Leaning, limits: tuple[Limit, ...], told: Followed | None) -> str:
    gap = min((best(facts.facts, limit.capacity) for limit in limits), default=None)
    if gap is not None and (told is None or gap < told.cap_mm):
        return f"Every rapid passes what stands in its way by at least {case.units.length(gap)}."
    return (
        ""
        if told is None
        else f"No rapid comes nearer than {case.units.length(told.cap_mm)} to what stands in its way."
    )


def _past_stock(case: Case, facts: Leaning, told: Followed) -> tuple[list[Limit], list[Limit], list[Counted]]:
    """(sideways, straight down, along): gaps of rapids to the stock. Straight down ends in air that the next line feeds through: there no
    clearance is asked, only that it is air. Along what was just cut there is no gap to speak of."""
    # Holder and nose are held against fixtures with the body's other contacts.
    found = met(told, lambda one: one.rapid and (one.part not in (Part.HOLDER, Part.NOSE) or one.against == STOCK))
    along = [one for one in found if along_own_cut(one)]
    found = [one for one in found if one not in along]
    down = [one for one in found if one.contact.against == STOCK and straight_down(case, one.contact.move)]
    sideways = [one for one in found if one not in down]
    counted = [_along(case, facts, move) for move in dict.fromkeys(one.contact.move for one in along)]
    return limits_of(case, facts, sideways, " at rapid", AWAY), limits_of(case, facts, down, " at rapid", AWAY), counted


def _along(case: Case, facts: Leaning, move: int) -> Counted:
    place = case.place(move)
    name = spindle_tool(facts, int(case.moves.tool[move]))
    grid = facts.number_if_known(GRID)
    near = case.units.length(2 * grid.u) if grid is not None else "the grid"
    what = f"Line {place.line}: {name} goes at rapid along what has been cut, nearer than {near}: it may rub."
    return Counted(place, what, "Lift the tool a few tenths before this move, or make it at feed.", Answer.CARE)


def _by_tool(case: Case, facts: Leaning) -> list[Rapids]:
    rapid = np.isin(case.moves.kind, [int(kind) for kind in RAPIDS]) & case.sure & case.with_tool
    found = []
    for tool in np.unique(case.moves.tool[rapid]).tolist():
        name = spindle_tool(facts, tool)
        radius = tool_radius(facts, name) if name else None
        if name is None or radius is None:
            continue

        def point(row: int, axis: int, tool: int = tool) -> Form | None:
            return tip_in_work(case, facts, row, tool) if axis == 2 else axis_in_work(case, facts, row, axis)

        placed = from_anywhere(place_moves(case, point))
        mine = rapid & (case.moves.tool == tool)
        moves = np.flatnonzero(mine & np.isfinite(placed.low[:, 2]))
        sideways, down = _ways(placed, moves)
        if facts.setting_if_known(f"tools.{name}.kind") in UNDERCUTTING:
            sideways |= ~down
        down[down] = ~in_own_hole(case, moves[down])
        goes = sideways | down
        disc = Disc(name, radius, exact(0.0))
        found.append(Rapids(tool, name, mine, moves[goes], sideways[goes], down[goes], placed, disc))
    return found


def _ways(placed: Placed, moves: NDArray[np.intp]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """(sideways, straight down) of each rapid. From a place that is not known, a move to a known one goes sideways, and down."""
    delta = placed.end[moves] - placed.start[moves]
    from_unknown = np.isnan(placed.start[moves]) & np.isfinite(placed.end[moves])
    moved = (np.abs(delta[:, :2]) > SAME_PLACE_MM) | from_unknown[:, :2]
    sideways = moved[:, 0] | moved[:, 1]
    return sideways, ~sideways & ((delta[:, 2] < 0) | from_unknown[:, 2])


def _past_blank(
    case: Case, facts: Leaning, rapids: Rapids, blank: Box, needs: list[Need]
) -> tuple[list[Limit], list[Limit], LowRapids]:
    """Clearances of sideways rapids, gaps of those straight down over the blank, and the rapids whose tool overlaps it, sorted.

    Straight down over the blank ends in air that the next line feeds through: there no clearance is asked, only that it is air.
    """
    faces = np.array([best(facts.facts, face) for face in blank.faces])
    gaps = rectangle_gaps(
        rapids.placed.low[rapids.moves], rapids.placed.high[rapids.moves], faces, rapids.disc.radius_mm, 0.0
    )
    overlaps = np.where(np.isnan(gaps), -np.inf, gaps).max(axis=1) < 0  # a coordinate that is not known parts nothing

    def passing(which: NDArray[np.bool_]) -> list[Limit]:
        chosen = np.zeros(len(case.moves), dtype=bool)
        chosen[rapids.moves[which & ~overlaps]] = True
        passes = nearest_passes(case, rapids.placed, chosen, [rapids.disc], blank, rapid_path(facts))
        needs.extend(passes_and_needs(case, passes, blank))
        return [_limit(case, blank, each) for each in passes.nearest]

    low = sort_low_rapids(
        case,
        facts,
        rapids.moves[overlaps],
        rapids.tool,
        (float(faces[0]), float(faces[1]), float(faces[2]), float(faces[3])),
    )
    return passing(rapids.sideways), passing(~rapids.sideways), low


def _from_anywhere(case: Case, facts: Leaning, rapids: Rapids, told: Followed, needs: list[Need]) -> list[Limit]:
    """Clearance over the largest blank of rapids that come from a place nobody knows: no sweep has seen them."""
    ground, placed = ground_of(told.largest.before), rapids.placed
    lost = rapids.all & np.isnan(placed.low[:, :2]).any(axis=1) & np.isfinite(placed.low[:, 2])
    if ground is None or not bool(lost.any()):
        return []
    passes = nearest_passes(case, placed, lost, [rapids.disc], ground, rapid_path(facts))
    needs += passes_and_needs(case, passes, ground)
    return [_limit(case, ground, each) for each in passes.nearest]


def _where_others_stand(
    facts: Leaning, rapids: Rapids, highest: Fact, blank: Box | None, told: Followed | None
) -> NDArray[np.bool_]:
    """bool[M]: rapids that may pass what stands highest: sideways, or straight down beside the blank where a jaw may stand. What is lower than
    the blank stands beside it: a way that stays over ground where the blank stands, in a pocket of it, passes nothing else."""
    counts = rapids.sideways.copy()
    if blank is None:
        return counts
    x_low, x_high, y_low, y_high, top = (best(facts.facts, face) for face in blank.faces)
    x, y = rapids.placed.end[rapids.moves, 0], rapids.placed.end[rapids.moves, 1]
    over = (x_low <= x) & (x <= x_high) & (y_low <= y) & (y <= y_high)
    counts |= rapids.down & ~over
    if told is not None and highest.value + DOUBTS * highest.u < top:
        low, high = (ends[rapids.moves, :2] for ends in (rapids.placed.low, rapids.placed.high))
        reach = rapids.disc.radius_mm
        counts &= ~stands_under(told.smallest.before, low - reach, high + reach)
    return counts


def _over_highest(case: Case, facts: Leaning, rapids: Rapids, highest: Form, counts: NDArray[np.bool_]) -> list[Limit]:
    """In each frame row, the lowest of the rapids that count over what stands highest."""
    moves = rapids.moves[counts]
    rows = case.moves.frame[moves, 2]
    limits = []
    for row in np.unique(rows).tolist():
        here = moves[rows == row]
        move = int(here[np.argmin(rapids.placed.low[here, 2])])
        tip = rapids.placed.origins[row][2]
        if tip is None:
            continue
        gap = tip + (float(rapids.placed.low[move, 2]) - best(facts.facts, tip)) - highest
        value, place = best(facts.facts, gap), case.place(move)
        where = f"{case.units.length(abs(value))} {'above' if value >= 0 else 'below'} what stands highest"
        what = f"Line {place.line}: {rapids.name} passes at rapid {where}."
        do = f"Retract {case.units.length(max(2.0 - value, 0.0) + 1.0)} higher before this move, or measure what stands there."
        limits.append(Limit(place, exact(0.0), gap, what, do, _all_of(case, here, rapids.placed.low[:, 2], move)))
    return limits


def _all_of(case: Case, moves: NDArray[np.intp], z: Floats, lowest: int) -> Callable[[], Along]:
    """Every rapid that counts in one frame row."""
    return lambda: case.along(moves, -z[moves], float(-z[lowest]))


def _limit(case: Case, box: Box, each: Pass) -> Limit:
    place, name, value = case.place(each.move), each.disc.name, each.gap_mm
    verb = (
        f"passes {box.name} at {case.units.length(value)}"
        if value >= 0
        else f"goes {case.units.length(-value)} into {box.name}"
    )
    do = f"Retract higher before this move, or keep further from {box.name}."
    return Limit(place, exact(0.0), each.gap, f"Line {place.line}: {name} at rapid {verb}.", do, each.along)


def _plunge(case: Case, rapids: Rapids, move: int) -> Counted:
    place = case.place(move)
    z = case.units.length(float(rapids.placed.low[move, 2]))
    what = f"Line {place.line}: {rapids.name} goes at rapid to Z {z} where nothing has been cut: it meets solid stock."
    if case.moves.kind[move] == Kind.RAPID and "G28" not in case.reading.text[place.line - 1].upper():
        do = "Go down at feed (in a ramp or beside the blank if the tool does not cut at its centre), or stay higher."
    else:
        do = "Going home passes through the point it names: write G53 G0 Z0, or G91 G28 Z0 and then G90."
    return Counted(place, what, do, Answer.STOP)
