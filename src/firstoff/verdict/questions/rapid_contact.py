"""Machine: does a rapid meet stock, fixture or table?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Fact, Leaning
from firstoff.program.moves import Kind
from firstoff.verdict.boxes import Box, Disc, blank_of, box_of, rectangle_gaps
from firstoff.verdict.case import (
    Case,
    best,
    known_base,
    lost,
    spindle_tool,
    tip_form,
    tip_groups,
    tool_radius,
    work_form,
)
from firstoff.verdict.forms import Form, Scale, exact, of
from firstoff.verdict.fresh_stock import SAME_PLACE_MM, LowRapids, in_own_hole, sort_low_rapids
from firstoff.verdict.passing import Placed, nearest_passes, place_moves
from firstoff.verdict.question import Answer, Check, Counted, Finding, Limit, Need, Question, Risk

QUESTION = Question("rapid_contact", Risk.MACHINE, "Does a rapid meet stock, fixture or table?", clearance=True)
RAPIDS = (Kind.RAPID, Kind.HOME, Kind.MACHINE)
NOT_FOLLOWED = "The stock is not followed yet: a rapid below its top is clear only in the same tool's own hole."


@dataclass(frozen=True, slots=True)
class Rapids:
    """The rapids of one tool, placed in the work frame: rows of `moves`, and which way each goes."""

    tool: int
    name: str
    moves: NDArray[np.intp]
    sideways: NDArray[np.bool_]
    down: NDArray[np.bool_]
    placed: Placed
    disc: Disc


def find(case: Case, facts: Leaning) -> Finding:
    """Every rapid that does not go straight up: against what stands highest (or the fixtures drawn), and against the blank."""
    drawn = fixture_boxes(facts)
    highest = None if drawn else facts.number("job.around.highest_around")
    blank = blank_of(facts)
    limits: list[Limit] = []
    counted: list[Counted] = []
    unsettled: list[int] = []
    for rapids in _by_tool(case, facts):
        if blank is not None:
            clear_of, low = _past_blank(case, facts, rapids, blank)
            limits += clear_of
            counted += [_plunge(case, rapids, move) for move in low.solid]
            unsettled += low.unsettled
        if highest is not None:
            limits += _over_highest(case, facts, rapids, highest, blank)
        limits += _past_boxes(case, facts, rapids, drawn)
    needs = [*lost(case)]
    if unsettled:
        line = int(case.moves.line[min(unsettled)])
        needs.append(Need("the stock as cut", f"line {line}", _unsettled_words(case, unsettled)))
    gap = min((best(facts.facts, limit.capacity) for limit in limits), default=0.0)
    clear = f"Every rapid passes what stands in its way by at least {case.units.length(gap)}." if limits else ""
    checks = (Check(Scale.DIFFERENCE, "mm", tuple(limits), (), clear), Check(Scale.COUNT, "", (), tuple(counted)))
    return Finding(checks, tuple(needs), (NOT_FOLLOWED,) if unsettled else ())


def fixture_boxes(facts: Leaning) -> tuple[Box, ...]:
    """The fixtures that the job draws."""
    numbers = dict.fromkeys(path.split(".")[2] for path in facts.facts.under("job.fixture."))
    named = ((number, facts.setting_if_known(f"job.fixture.{number}.name")) for number in numbers)
    boxes = (
        box_of(facts, f"job.fixture.{number}.box", str(name or f"fixture {int(number) + 1}")) for number, name in named
    )
    return tuple(box for box in boxes if box is not None)


def _by_tool(case: Case, facts: Leaning) -> list[Rapids]:
    """Rapids of each tool, without those straight up (they leave what they stood in) and those down the tool's own hole."""
    rapid = np.isin(case.moves.kind, [int(kind) for kind in RAPIDS]) & case.sure & case.with_tool
    found = []
    for tool in dict.fromkeys(tool for _, tool, _ in tip_groups(case, rapid)):
        name = spindle_tool(facts, tool)
        radius = tool_radius(facts, name) if name else None
        if name is None or radius is None:
            continue

        def point(row: int, axis: int, tool: int = tool) -> Form | None:
            if not known_base(int(case.reading.frames.base[row, axis])):
                return None
            return tip_form(case, facts, row, tool) if axis == 2 else work_form(case, facts, row, axis)

        placed = place_moves(case, point)
        mine = np.flatnonzero(rapid & (case.moves.tool == tool) & np.isfinite(placed.low[:, 2]))
        sideways, down = _ways(placed, mine)
        down[down] = ~in_own_hole(case, mine[down])
        goes = sideways | down
        found.append(Rapids(tool, name, mine[goes], sideways[goes], down[goes], placed, Disc(name, radius, exact(0.0))))
    return found


def _ways(placed: Placed, moves: NDArray[np.intp]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """(sideways, straight down) of each rapid. From a place that is not known, a move to a known one goes sideways, and down."""
    delta = placed.end[moves] - placed.start[moves]
    from_unknown = np.isnan(placed.start[moves]) & np.isfinite(placed.end[moves])
    moved = (np.abs(delta[:, :2]) > SAME_PLACE_MM) | from_unknown[:, :2]
    sideways = moved[:, 0] | moved[:, 1]
    return sideways, ~sideways & ((delta[:, 2] < 0) | from_unknown[:, 2])


def _past_blank(case: Case, facts: Leaning, rapids: Rapids, blank: Box) -> tuple[list[Limit], LowRapids]:
    """Clearances to the blank, and the rapids whose tool overlaps it, sorted."""
    faces = [best(facts.facts, face) for face in blank.faces]
    low, high = rapids.placed.low[rapids.moves], rapids.placed.high[rapids.moves]
    gaps = rectangle_gaps(low, high, faces, rapids.disc.radius_mm, 0.0)
    # A coordinate that is not known parts nothing: only known faces can.
    largest = np.where(np.isnan(gaps), -np.inf, gaps).max(axis=1)
    overlaps = largest < 0
    chosen = np.zeros(len(case.moves), dtype=bool)
    chosen[rapids.moves[~overlaps]] = True
    straight = facts.setting_if_known("machine.control.rapid_path") == "straight"
    passes = nearest_passes(case, rapids.placed, chosen, [rapids.disc], blank, straight)
    limits = [_past(case, blank, move, gap.form, gap.value_mm, rapids.name) for move, _, gap in passes]
    sorted_low = sort_low_rapids(
        case,
        facts,
        rapids.moves[overlaps],
        rapids.tool,
        (faces[0], faces[1], faces[2], faces[3]),
    )
    return limits, sorted_low


def _over_highest(case: Case, facts: Leaning, rapids: Rapids, highest: Fact, blank: Box | None) -> list[Limit]:
    """The lowest sideways rapid over what stands highest; also straight down beside the blank, where a jaw or clamp may stand."""
    beside = rapids.sideways.copy()
    if blank is not None:
        x_low, x_high, y_low, y_high, _ = (best(facts.facts, face) for face in blank.faces)
        x, y = rapids.placed.end[rapids.moves, 0], rapids.placed.end[rapids.moves, 1]
        over = (x_low <= x) & (x <= x_high) & (y_low <= y) & (y <= y_high)
        beside |= rapids.down & ~over
    moves = rapids.moves[beside]
    if not moves.size:
        return []
    heights = rapids.placed.low[moves, 2]
    move = int(moves[np.argmin(heights)])
    row = int(case.moves.frame[move, 2])
    tip = rapids.placed.origins[row][2] or Form(0.0)
    gap = tip + (float(heights.min()) - best(facts.facts, tip)) - of(highest)
    value, place = best(facts.facts, gap), case.place(move)
    where = f"{case.units.length(abs(value))} {'above' if value >= 0 else 'below'} what stands highest"
    what = f"Line {place.line}: {rapids.name} passes at rapid {where}."
    do = f"Retract {case.units.length(max(2.0 - value, 0.0) + 1.0)} higher before this move, or measure what stands there."
    return [Limit(place, exact(0.0), gap, what, do)]


def _past_boxes(case: Case, facts: Leaning, rapids: Rapids, boxes: tuple[Box, ...]) -> list[Limit]:
    """The tool of every rapid against each fixture drawn."""
    if not boxes:
        return []
    straight = facts.setting_if_known("machine.control.rapid_path") == "straight"
    chosen = np.zeros(len(case.moves), dtype=bool)
    chosen[rapids.moves] = True
    limits = []
    for box in boxes:
        passes = nearest_passes(case, rapids.placed, chosen, [rapids.disc], box, straight)
        limits += [_past(case, box, move, gap.form, gap.value_mm, rapids.name) for move, _, gap in passes]
    return limits


def _past(case: Case, box: Box, move: int, gap: Form, value: float, name: str) -> Limit:
    place = case.place(move)
    verb = (
        f"passes {box.name} at {case.units.length(value)}"
        if value >= 0
        else f"goes {case.units.length(-value)} into {box.name}"
    )
    do = f"Retract higher before this move, or keep further from {box.name}."
    return Limit(place, exact(0.0), gap, f"Line {place.line}: {name} at rapid {verb}.", do)


def _plunge(case: Case, rapids: Rapids, move: int) -> Counted:
    place = case.place(move)
    z = case.units.length(float(rapids.placed.low[move, 2]))
    what = f"Line {place.line}: {rapids.name} goes at rapid to Z {z} where nothing has been cut: it meets solid stock."
    return Counted(place, what, "Change G0 to G1 with a feed, or retract higher first.", Answer.STOP)


def _unsettled_words(case: Case, moves: list[int]) -> str:
    lines = sorted({int(case.moves.line[move]) for move in moves})
    more = f" and {len(lines) - 1} more" if len(lines) > 1 else ""
    return (
        f"Line {lines[0]}{more}: a rapid goes below the top of the stock where other cuts were made. "
        "Watch it on the first run, at low override."
    )
