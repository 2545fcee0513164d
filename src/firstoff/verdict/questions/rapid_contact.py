"""Machine: does a rapid meet stock, fixture or table?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Fact, Leaning
from firstoff.program.moves import Floats, Kind
from firstoff.verdict.boxes import Box, Disc, box_of
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
from firstoff.verdict.passing import nearest_passes, place_moves
from firstoff.verdict.question import Answer, Check, Counted, Finding, Limit, Need, Question, Risk

QUESTION = Question("rapid_contact", Risk.MACHINE, "Does a rapid meet stock, fixture or table?", clearance=True)
RAPIDS = (Kind.RAPID, Kind.HOME)
SAME_PLACE_MM = 0.002
"""X and Y closer than the rounding of a program's third decimal are the same place."""
STOCK = "job.stock.box"
NOT_FOLLOWED = "Rapids below the top of the stock were held against what was cut before only roughly: the stock is not followed yet."


def find(case: Case, facts: Leaning) -> Finding:
    """Sideways rapids against what stands highest; rapids straight down against the stock top and against what was cut there."""
    highest = None if fixture_boxes(facts) else facts.number("job.around.highest_around")
    top = facts.number(f"{STOCK}.z.high")
    rapid = np.isin(case.moves.kind, [int(kind) for kind in RAPIDS]) & case.sure
    limits: list[Limit] = []
    counted: list[Counted] = []
    unsettled: list[int] = []
    for row, tool, moves in tip_groups(case, rapid):
        tip = tip_form(case, facts, row, tool)
        if tip is None or top is None:
            continue
        heights = _heights(case, moves, best(facts.facts, tip))
        sideways, down = _ways(case, moves)
        for standing, name in ((highest, "what stands highest"), (top, "the top of the stock")):
            if standing is None:
                continue
            safe = moves[sideways | down] if standing is top else moves[sideways]
            limits += _clearances(case, facts, safe, heights, moves, tip, standing, name, tool)
        low = moves[(sideways | down) & (heights < top.value)]
        fresh, other = _in_fresh_stock(case, facts, low, tool)
        counted += [_plunge(case, facts, move, tool) for move in fresh]
        unsettled += other
    limits = [
        limit for limit in limits if limit.place.move not in set(unsettled) | {item.place.move for item in counted}
    ]
    limits += _past_fixtures(case, facts, rapid)
    needs = [*lost(case)]
    if unsettled:
        line = int(case.moves.line[unsettled[0]])
        needs.append(Need("the stock as cut", f"line {line}", _unsettled_words(case, unsettled)))
    gap = min((limit.capacity.at(lambda path: case.facts.facts[path].value) for limit in limits), default=0.0)
    clear = f"Every rapid passes at least {case.units.length(gap)} above what stands in its way."
    checks = (Check(Scale.DIFFERENCE, "mm", tuple(limits), (), clear), Check(Scale.COUNT, "", (), tuple(counted)))
    return Finding(checks, tuple(needs), (NOT_FOLLOWED,) if unsettled else ())


def fixture_boxes(facts: Leaning) -> list[str]:
    """Prefixes of the fixture boxes the job draws."""
    numbers = dict.fromkeys(path.split(".")[2] for path in facts.facts.under("job.fixture."))
    return [f"job.fixture.{number}.box" for number in numbers]


def _heights(case: Case, moves: NDArray[np.intp], tip: float) -> Floats:
    """f8[M] lowest tip height of each rapid, its start included."""
    starts = np.maximum(moves - 1, 0)
    same_frame = (case.moves.frame[starts, 2] == case.moves.frame[moves, 2]) & (moves > 0)
    start = np.where(same_frame, case.moves.end_mm[starts, 2], np.inf)
    heights: Floats = np.fmin(case.low_mm[moves, 2], start) + tip
    return heights


def _ways(case: Case, moves: NDArray[np.intp]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """(sideways, straight down) of each rapid. One that goes straight up leaves what it stood in and meets nothing."""
    starts = np.maximum(moves - 1, 0)
    delta = case.moves.end_mm[moves] - case.moves.end_mm[starts]
    moved = np.abs(delta[:, :2]) > SAME_PLACE_MM
    # An axis whose frame changed, or whose start is not known, counts as moving.
    unknown = ~np.isfinite(delta) | (case.moves.frame[moves] != case.moves.frame[starts])
    sideways = (moved | unknown[:, :2]).any(axis=1)
    return sideways, ~sideways & ((delta[:, 2] < 0) | unknown[:, 2])


def _clearances(
    case: Case,
    facts: Leaning,
    chosen: NDArray[np.intp],
    heights: Floats,
    moves: NDArray[np.intp],
    tip: Form,
    standing: Fact,
    name: str,
    tool: int,
) -> list[Limit]:
    """The lowest of the chosen rapids over one thing that stands."""
    if not chosen.size:
        return []
    own = heights[np.isin(moves, chosen)]
    move = int(chosen[np.argmin(own)])
    gap = tip + (float(own.min()) - best(facts.facts, tip)) - of(standing)
    value, place = best(facts.facts, gap), case.place(move)
    who = spindle_tool(facts, tool)
    passes = f"passes {case.units.length(value)} above" if value >= 0 else f"passes {case.units.length(-value)} below"
    what = f"Line {place.line}: {who} at rapid {passes} {name}."
    do = f"Retract at least {case.units.length(max(2.0 - value, 0.0) + 1.0)} higher before this move, or measure what stands there."
    return [Limit(place, exact(0.0), gap, what, do)]


def _in_fresh_stock(case: Case, facts: Leaning, low: NDArray[np.intp], tool: int) -> tuple[list[int], list[int]]:
    """(rapids that end in stock nobody has cut, rapids that need the stock to be followed) of rapids below the stock top.

    Fresh for certain: the tool's axis ends inside the blank and no cut before it, at or below its height, came as near as the two radii
    together. Settled as free: straight down where the same tool has fed to that depth at the same place before.
    """
    edges = [facts.number_if_known(f"{STOCK}.{axis}.{end}") for axis in "xy" for end in ("low", "high")]
    name = spindle_tool(facts, tool)
    radius = tool_radius(facts, name) if name else None
    fresh: list[int] = []
    unsettled: list[int] = []
    for move in low.tolist():
        x, y, z = case.moves.end_mm[move]
        nearest, own = _nearest_cut(case, move, x, y, z)
        if own <= SAME_PLACE_MM:
            continue
        known = radius is not None and all(edge is not None for edge in edges)
        inside = known and edges[0].value <= x <= edges[1].value and edges[2].value <= y <= edges[3].value  # type: ignore[union-attr]
        if inside and radius is not None and nearest > 2 * max(radius, _widest(case, facts)):
            fresh.append(move)
        else:
            unsettled.append(move)
    return fresh, unsettled


def _widest(case: Case, facts: Leaning) -> float:
    """Greatest radius of the tools that cut anything, mm."""
    names = {spindle_tool(facts, int(tool)) for tool in np.unique(case.moves.tool[case.feeding])}
    return max((tool_radius(facts, name) or 0.0 for name in names if name), default=0.0)


def _nearest_cut(case: Case, move: int, x: float, y: float, z: float) -> tuple[float, float]:
    """(distance in X Y to any cut before this move at or below Z, the same for cuts straight down by the same tool)."""
    moves = case.moves
    before = np.flatnonzero(case.feeding[:move] & (case.low_mm[:move, 2] <= z + SAME_PLACE_MM))
    if not before.size:
        return np.inf, np.inf
    low = np.fmin(case.low_mm[before, :2], moves.end_mm[np.maximum(before - 1, 0), :2])
    high = np.fmax(case.high_mm[before, :2], moves.end_mm[np.maximum(before - 1, 0), :2])
    point = np.array([x, y])
    away = np.linalg.norm(np.maximum(np.maximum(low - point, point - high), 0.0), axis=1)
    at_end = np.linalg.norm(moves.end_mm[before, :2] - point, axis=1)
    mine = moves.tool[before] == moves.tool[move]
    own = at_end[mine].min() if mine.any() else np.inf
    return float(np.nanmin(away)), float(own)


def _plunge(case: Case, facts: Leaning, move: int, tool: int) -> Counted:
    place = case.place(move)
    z = case.units.length(float(case.moves.end_mm[move, 2]))
    what = f"Line {place.line}: {spindle_tool(facts, tool)} goes at rapid to Z {z} where nothing has been cut: it meets solid stock."
    return Counted(place, what, "Change G0 to G1 with a feed, or retract higher first.", Answer.STOP)


def _unsettled_words(case: Case, moves: list[int]) -> str:
    lines = sorted({int(case.moves.line[move]) for move in moves})
    more = f" and {len(lines) - 1} more" if len(lines) > 1 else ""
    return f"Line {lines[0]}{more}: a rapid goes below the top of the stock where other cuts were made. Watch it on the first run, at low override."


def _past_fixtures(case: Case, facts: Leaning, rapid: NDArray[np.bool_]) -> list[Limit]:
    """The tool of every rapid against each fixture box, in the work frame."""
    prefixes = fixture_boxes(facts)
    limits: list[Limit] = []
    if not prefixes:
        return limits
    straight = facts.setting_if_known("machine.control.rapid_path") == "straight"
    boxes = [
        box
        for number, prefix in enumerate(prefixes)
        if (box := box_of(facts, prefix, f"fixture {number + 1}")) is not None
    ]
    for tool in np.unique(case.moves.tool[rapid]).tolist():
        name = spindle_tool(facts, tool)
        radius = tool_radius(facts, name) if name else None
        if radius is None:
            continue

        def point(row: int, axis: int, tool: int = tool) -> Form | None:
            if not known_base(int(case.reading.frames.base[row, axis])):
                return None
            return tip_form(case, facts, row, tool) if axis == 2 else work_form(case, facts, row, axis)

        placed = place_moves(case, point)
        disc = Disc("tool", radius, exact(0.0))
        chosen = rapid & (case.moves.tool == tool)
        for box in boxes:
            limits += [
                _past(case, box, move, gap.form, gap.value_mm, str(name))
                for move, _, gap in nearest_passes(case, placed, chosen, [disc], box, straight)
            ]
    return limits


def _past(case: Case, box: Box, move: int, gap: Form, value: float, name: str) -> Limit:
    place = case.place(move)
    verb = (
        f"passes {box.name} at {case.units.length(value)}"
        if value >= 0
        else f"goes {case.units.length(-value)} into {box.name}"
    )
    return Limit(
        place,
        exact(0.0),
        gap,
        f"Line {place.line}: {name} at rapid {verb}.",
        f"Retract above {box.name} before this move.",
    )
