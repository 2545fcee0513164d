"""Rules of the trade about chips that cannot get away, as limits: slots, holes, helices, ramps and plunges against the cutter's diameter."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Fact, Leaning
from firstoff.loads.grid_doubt import VOLUME, volume_power
from firstoff.program.moves import Flag, Floats
from firstoff.removal.swept import PerMove, Swept
from firstoff.verdict.bites import Depths, cut_moves
from firstoff.verdict.case import Case
from firstoff.verdict.forms import Form, log_exact, of
from firstoff.verdict.load_forms import log_form
from firstoff.verdict.question import Along, Answer, Counted, Limit
from firstoff.verdict.stretches import tool_words
from firstoff.verdict.tools import spindle_tool

PRACTICE = "machine.practice"
FULL_WIDTH = 0.9
"""Part of the diameter from which a cut is a slot: grid and rounding take a little off the full width."""
INTO_SOLID = 0.5
"""Part of the diameter from which a cut that goes down meets solid material, not a strip beside it."""
DEEP_RAMP = 0.25
"""Part of the diameter below which a layer is so thin that chips find their way out of it however steeply it is entered, and a way down
so short that it is no ramp."""
HALF_TURN = math.pi
"""Arcs that go down by less than this are ramps along a curve, not a helix."""
DEEP = 3.0
"""Diameters below which pecks must be short: above it chips still find their way out (common practice)."""
PIN_BELOW = 2.5
"""Widths over the diameter up to which the pin that a helix leaves is thinner than half the cutter and may break off into it."""
SAME_HOLE_MM = 1e-3
LN_DEGREES = math.log(180.0 / math.pi)


@dataclass(frozen=True, slots=True)
class Ruled:
    """A limit with the name of the rule that is its capacity."""

    rule: str
    limit: Limit


@dataclass(frozen=True, slots=True)
class Cutter:
    """One tool of the program with what it cut."""

    tool: int
    name: str
    diameter: Fact
    cut: PerMove
    down: Depths
    through: bool
    """Coolant comes out of it."""
    cell_mm: float
    """Of the cells that what it cut was counted on."""

    @property
    def who(self) -> str:
        return tool_words(self.name, self.tool)

    def solid(self, case: Case) -> NDArray[np.intp]:
        """Its moves that cut at least half its width."""
        moves = cut_moves(case, self.cut, self.tool)
        return moves[self.cut.radial_mm[moves] >= INTO_SOLID * self.diameter.value]


def cutter_of(case: Case, facts: Leaning, tool: int, swept: Swept, down: Depths) -> Cutter | None:
    """A tool of the program with what it cut in one sweep; None if it cut nothing, or if its name or diameter is missing (which is recorded)."""
    name, cut = spindle_tool(facts, tool), swept.moves
    if name is None or not cut_moves(case, cut, tool).size:
        return None
    diameter = facts.number(f"tools.{name}.DC")
    through = facts.setting_if_known(f"tools.{name}.coolant_through") is True
    return None if diameter is None else Cutter(tool, name, diameter, cut, down, through, swept.after.grid.cell_mm)


def _limit(
    facts: Leaning,
    cutter: Cutter,
    place_what: tuple[Case, int, str],
    times: float,
    rule: str,
    do: str,
    all_of: tuple[NDArray[np.intp], Floats],
    counted: float = 0.0,
) -> list[Ruled]:
    """The ratio of a length to the diameter against a rule. `all_of`: the moves that it is the greatest of, and their lengths, mm; `counted`: the
    power of the doubt of a volume where the length comes from one."""
    case, move, what = place_what
    allowed = facts.number(f"{PRACTICE}.{rule}")
    demand = log_form(times, ((cutter.diameter.path, -1.0), *(((VOLUME, counted),) if counted else ())), facts)
    place = case.place(move)
    words = f"Line {place.line}: {cutter.who} {what}."
    return (
        [Ruled(rule, Limit(place, demand, of(allowed), words, do, _along(case, *all_of)))]
        if demand is not None and allowed is not None
        else []
    )


def _along(case: Case, moves: NDArray[np.intp], values: Floats) -> Callable[[], Along]:
    """All moves whose greatest value a ratio is made of, in program order."""

    def along() -> Along:
        order = np.argsort(moves, kind="stable")
        logs = np.log(np.maximum(values[order], 1e-12))
        return case.along(moves[order], logs, float(logs.max()))

    return along


def slots(case: Case, facts: Leaning, cutter: Cutter) -> list[Ruled]:
    """The deepest cut at full width, with flood and without."""
    moves = cutter.solid(case)
    full = moves[(cutter.cut.radial_mm[moves] >= FULL_WIDTH * cutter.diameter.value) & ~cutter.down.plunging[moves]]
    wet = (case.moves.flags[full] & Flag.FLOOD) != 0
    limits: list[Ruled] = []
    for group, rule in ((full[wet], "slot_depth_flood"), (full[~wet], "slot_depth")):
        if group.size:
            move = int(group[np.argmax(cutter.cut.axial_mm[group])])
            depth = float(cutter.cut.axial_mm[move])
            times = depth / cutter.diameter.value
            what = f"cuts a slot {case.units.length(depth)} deep, {times:.1f} times its diameter"
            do = "Take the slot in more passes, or narrower ones with room beside the cutter."
            held = "slot_depth_flood" if cutter.through else rule
            deep = cutter.cut.axial_mm[group].astype(np.float64)
            limits += _limit(facts, cutter, (case, move, what), times, held, do, (group, deep))
    return limits


def plunges(case: Case, facts: Leaning, cutter: Cutter) -> list[Ruled]:
    """The deepest way straight down of a milling cutter, by the material that it takes away on it."""
    moves = cut_moves(case, cutter.cut, cutter.tool)
    moves = moves[cutter.down.plunging[moves]]
    if not moves.size:
        return []
    lengths = _lengths(cutter, moves)
    at = int(np.argmax(lengths))
    times = float(lengths[at]) / cutter.diameter.value
    what = f"goes straight down {case.units.length(float(lengths[at]))} into solid material, {times:.1f} times its diameter"
    do = "Go in by a ramp or a helix, drill first, or begin beside the stock."
    told = case, int(moves[at]), what
    return _limit(facts, cutter, told, times, "plunge_depth", do, (moves, lengths), _of_volume(cutter))


def _lengths(cutter: Cutter, moves: NDArray[np.intp]) -> Floats:
    """How far into new material each move goes: what it takes away over the area of its own circle, mm."""
    lengths: Floats = cutter.cut.volume_mm3[moves] / (math.pi / 4 * cutter.diameter.value**2)
    return lengths


def _of_volume(cutter: Cutter) -> float:
    """The power of the doubt of volumes that these lengths go with."""
    return volume_power(cutter.cell_mm, cutter.diameter.value)


def ramps(case: Case, facts: Leaning, cutter: Cutter) -> list[Ruled]:
    """The steepest way down into solid material, straight or round: runs that go down at feed by enough to matter, to a layer that is
    worth the name."""
    allowed = facts.number(f"{PRACTICE}.ramp_angle")
    first, fall, across, deep = _runs_down(case, cutter)
    counts = np.minimum(fall, deep) >= DEEP_RAMP * cutter.diameter.value
    if allowed is None or not bool(counts.any()):
        return []
    angles = np.where(counts, np.arctan2(fall, across), 0.0)
    at, steepest = int(first[np.argmax(angles)]), float(angles.max())
    place = case.place(at)
    what = f"Line {place.line}: {cutter.who} goes down into solid material at {math.degrees(steepest):.1f}°."
    do = "Make the ramp longer, or go down in a helix of several turns."
    return [
        Ruled(
            "ramp_angle",
            Limit(
                place, log_exact(steepest) + LN_DEGREES, of(allowed) + LN_DEGREES, what, do, _along(case, first, angles)
            ),
        ),
    ]


def _runs_down(case: Case, cutter: Cutter) -> tuple[NDArray[np.intp], Floats, Floats, Floats]:
    """(first move, way down, way across, greatest depth of cut) of each unbroken run of moves that go down aslant into solid material."""
    moves = cutter.solid(case)
    moves = moves[(cutter.down.fall_mm[moves] > 0) & ~cutter.down.plunging[moves]]
    if not moves.size:
        return moves, np.empty(0), np.empty(0), np.empty(0)
    starts = np.flatnonzero(np.append(True, np.diff(moves) > 1))
    fall = np.add.reduceat(cutter.down.fall_mm[moves], starts)
    across = np.add.reduceat(cutter.down.across_mm[moves], starts)
    return moves[starts], fall, across, np.maximum.reduceat(cutter.cut.axial_mm[moves].astype(np.float64), starts)


def helices(case: Case, facts: Leaning, cutter: Cutter) -> tuple[list[Ruled], list[Counted]]:
    """The narrowest helix into solid material against the least that clears its middle; helices that leave a thin pin."""
    moves, arcs = cutter.solid(case), case.reading.arcs
    moves = moves[(cutter.down.fall_mm[moves] > 0) & (case.moves.arc[moves] >= 0)]
    rows = case.moves.arc[moves]
    turning = (arcs.plane[rows] == 17) & (np.abs(arcs.sweep_rad[rows]) >= HALF_TURN)
    moves, rows = moves[turning], rows[turning]
    if not moves.size:
        return [], []
    across = 2 * arcs.radius_mm[rows] + cutter.diameter.value
    times = across / cutter.diameter.value
    return _narrow(case, facts, cutter, moves, across), _pins(case, cutter, moves, times)


def _narrow(case: Case, facts: Leaning, cutter: Cutter, moves: NDArray[np.intp], across: Floats) -> list[Ruled]:
    at = int(np.argmin(across))
    width, least = float(across[at]), facts.number(f"{PRACTICE}.helix_least")
    # The width grows with the cutter: only the way of its axis is sure.
    share = cutter.diameter.value / width
    capacity = log_form(width / cutter.diameter.value, ((cutter.diameter.path, share - 1.0),), facts)
    if least is None or capacity is None:
        return []
    place = case.place(int(moves[at]))
    what = (
        f"Line {place.line}: {cutter.who} goes down in a helix {case.units.length(width)} wide, "
        f"{width / cutter.diameter.value:.2f} times its diameter."
    )
    do = "Make the helix 1.2 to 1.8 times as wide as the cutter, or drill first."
    return [Ruled("helix_least", Limit(place, of(least), capacity, what, do, _along(case, moves, 1.0 / across)))]


def _pins(case: Case, cutter: Cutter, moves: NDArray[np.intp], times: Floats) -> list[Counted]:
    thin = np.flatnonzero((times > 2.0) & (times < PIN_BELOW))
    if not thin.size:
        return []
    at = int(thin[np.argmin(times[thin])])
    place, pin = case.place(int(moves[at])), (float(times[at]) - 2.0) * cutter.diameter.value
    what = f"Line {place.line}: the helix of {cutter.who} leaves a pin {case.units.length(pin)} thick in its middle."
    return [Counted(place, what, "Make the helix less than twice as wide as the cutter.", Answer.CARE)]


# --- holes -----------------------------------------------------------------------------------------------------------


def with_volume(facts: Leaning, cutter: Cutter, length_mm: float) -> Form:
    """A length, mm, that comes from a volume, with what cells leave of that."""
    power = 0.0 if facts.number_if_known(VOLUME) is None else _of_volume(cutter) * length_mm
    return Form(length_mm - power, ((VOLUME, power),) if power else ())


def deepest_hole(case: Case, cutter: Cutter) -> tuple[float, int] | None:
    """(depth in mm, first move) of the deepest way straight down of any tool; None if it never goes down so."""
    depths = [(sum(hole.length_mm), hole.moves[0]) for hole in holes(case, cutter)]
    return max(depths, default=None)


@dataclass(frozen=True, slots=True)
class Hole:
    """One hole of a drill: for each go (from coming in to coming out again) its first move, the depth at its start and its length, mm."""

    moves: tuple[int, ...]
    from_mm: tuple[float, ...]
    length_mm: tuple[float, ...]


def holes(case: Case, cutter: Cutter) -> Iterator[Hole]:
    """The holes that a tool makes straight down, by what it takes away at each place in X and Y."""
    moves = cut_moves(case, cutter.cut, cutter.tool)
    moves = moves[cutter.down.plunging[moves]]
    if not moves.size:
        return
    at = case.moves.end_mm[moves, :2]
    new = np.append(True, (np.abs(np.diff(at, axis=0)) > SAME_HOLE_MM).any(axis=1))
    lengths = _lengths(cutter, moves)
    for first, last in zip(np.flatnonzero(new), np.append(np.flatnonzero(new)[1:], moves.size), strict=True):
        yield _hole(case, moves[first:last], lengths[first:last], cutter.down)


def _hole(case: Case, moves: NDArray[np.intp], lengths: Floats, down: Depths) -> Hole:
    """A go ends where the drill comes up to the mouth of the hole; a short lift breaks the chip and leaves it in there."""
    z = case.moves.end_mm[:, 2]
    mouth = float(z[moves[0]] + min(down.fall_mm[moves[0]], lengths[0]))
    firsts, starts, goes, gone, former = [], [], [], 0.0, None
    for move, length in zip(moves.tolist(), lengths.tolist(), strict=True):
        out = former is None or float(np.nanmax(z[former : move + 1])) >= mouth - SAME_HOLE_MM
        if out:
            firsts.append(move)
            starts.append(gone)
            goes.append(0.0)
        goes[-1] += length
        gone += length
        former = move
    return Hole(tuple(firsts), tuple(starts), tuple(goes))


def drilling(case: Case, facts: Leaning, cutter: Cutter) -> list[Ruled]:
    """The longest go near the top, the longest peck deep down, and the deepest hole, against their rules."""
    diameter = cutter.diameter.value
    seen: dict[str, list[tuple[float, int]]] = {}

    def see(rule: str, length: float, move: int) -> None:
        seen.setdefault(rule, []).append((length, move))

    for hole in holes(case, cutter):
        for move, start, length in zip(hole.moves, hole.from_mm, hole.length_mm, strict=True):
            see("peck_depth" if start >= DEEP * diameter else "drill_depth", length, move)
        if not cutter.through:
            see("hole_depth", sum(hole.length_mm), hole.moves[0])
    says = {
        "drill_depth": (
            "drills {} in one go",
            "Peck (G83), a diameter or less at a time, with the drill all the way out between.",
        ),
        "peck_depth": ("pecks {} at a time deep in the hole", "Shorten the pecks (Q) to a diameter or less."),
        "hole_depth": ("drills a hole {} deep", "Drill from both sides, or take a drill with coolant through it."),
    }
    limits: list[Ruled] = []
    for rule, goes in seen.items():
        length, move = max(goes, key=lambda one: one[0])
        if length <= 0.0:
            continue
        words, do = says[rule]
        times = length / diameter
        what = f"{words.format(case.units.length(length))}, {times:.1f} times its diameter"
        all_of = np.array([one for _, one in goes], np.intp), np.array([one for one, _ in goes])
        limits += _limit(facts, cutter, (case, move, what), times, rule, do, all_of, _of_volume(cutter))
    return limits
