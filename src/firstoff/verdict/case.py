"""The case a question looks at: one reading, its timeline and the tools it calls; facts come beside it, through a `Leaning`.

Everything here is found once for all questions and holds best estimates only where time is concerned; positions stay forms in facts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import FactSet, Leaning
from firstoff.motion.summary import SlowRun
from firstoff.motion.timeline import Timeline
from firstoff.program.bounds import by_frame
from firstoff.program.moves import (
    FAULT,
    NO_LENGTH,
    NO_TOOL,
    SYSTEM_NAMES,
    Base,
    Flag,
    Floats,
    Kind,
    Moves,
    Problem,
    Reading,
)
from firstoff.verdict.forms import Form
from firstoff.verdict.question import Along, Need, Place
from firstoff.verdict.words import ShopUnits

if TYPE_CHECKING:
    from firstoff.verdict.followed import Followed, NotFollowed

AXES = "xyz"
BLOCK_DELETE = "machine.control.block_delete"
MOST_LOST = 3
"""Problems that an answer names as its need; the question "understood" lists them all."""
STOCK_TOPS = ("job.stock.box.z.high", "job.stock.cylinder.z.high")
STOCK_FACES = "job.stock.faces"
"""How far the faces of a blank from a file, or of what an earlier job left, lie off that shape."""
BODY_KINDS = (Kind.RAPID, Kind.FEED, Kind.ARC, Kind.PROBE, Kind.TAP, Kind.HOME, Kind.MACHINE)
FEED_KINDS = (Kind.FEED, Kind.ARC, Kind.TAP)


@dataclass(frozen=True, slots=True)
class Cutting:
    """How long cutting takes, s: at the feeds commanded, and at the feeds reached (quickest and slowest differ where a control fact is
    not known)."""

    commanded_s: float
    reached_s: float
    quickest_s: float
    slowest_s: float
    exponents: tuple[tuple[str, float], ...]
    """d ln(reached) / d ln(fact) for each motion fact, at best estimates."""
    slow: tuple[SlowRun, ...]
    """The runs of moves that lose most time, worst first."""
    bracketed_by: tuple[str, ...]
    """Unknown facts that part quickest from slowest."""


@dataclass(frozen=True, slots=True)
class Case:
    """One program in one shop, as every question sees it."""

    reading: Reading
    facts: FactSet
    now: datetime
    units: ShopUnits
    low_mm: Floats
    """f8[N, 3] lowest programmed coordinate of each move's end and arc (its start belongs to the move before)."""
    high_mm: Floats
    moving: NDArray[np.bool_]
    """bool[N]: the move goes somewhere (no dwell)."""
    feeding: NDArray[np.bool_]
    """bool[N]: made at feed, in the work frame."""
    sure: NDArray[np.bool_]
    """bool[N]: position is certain."""
    with_tool: NDArray[np.bool_]
    """bool[N]: a tool matters to this move. Before the first change nobody can say what is in the spindle; a program that only goes home
    until then asks nothing of it."""
    timeline: Timeline | None
    """None where a motion fact is missing."""
    timeline_missing: tuple[str, ...]
    """The motion facts that are missing."""
    cutting: Cutting | None
    stock_base: int
    """The work system that stock, fixtures and `[around]` are written in."""
    lost: tuple[Need, ...]
    """What stands between us and certain positions (`lost`)."""
    followed: Followed | NotFollowed
    """The program followed through its stock; questions ask for it by `firstoff.verdict.followed.followed`."""

    @property
    def moves(self) -> Moves:
        return self.reading.moves

    def place(self, move: int) -> Place:
        """The place of a move, with its programmed end in mm and its work system."""
        row = int(self.moves.frame[move, 2])
        system = int(self.reading.frames.system[row])
        x, y, z = (float(value) for value in self.moves.end_mm[move])
        at = None if np.isnan([x, y, z]).any() else (x, y, z)
        name = SYSTEM_NAMES[system - 1] if 1 <= system <= len(SYSTEM_NAMES) else ""
        return Place(int(self.moves.line[move]), move, at, name)

    def along(self, moves: NDArray[np.intp], exceeds: Floats, worst: float) -> Along:
        """Moves in program order that one limit stands for: what each exceeds on the limit's scale (to a constant), and what the worst does."""
        return Along(moves, worst - exceeds, self.place)

    def stock_system(self) -> str:
        return SYSTEM_NAMES[self.stock_base - 1]


def move_masks(moves: Moves) -> tuple[NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_]]:
    """(moving, feeding, sure) of each move."""
    moving = np.isin(moves.kind, [int(kind) for kind in BODY_KINDS])
    feeding = np.isin(moves.kind, [int(kind) for kind in FEED_KINDS])
    sure = (moves.flags & Flag.UNSURE) == 0
    return moving, feeding, sure


def tool_matters(moves: Moves) -> NDArray[np.bool_]:
    """bool[N]: all but homing and G53 moves before the first tool of a program that calls one."""
    if not bool((moves.tool != NO_TOOL).any()):
        return np.ones(len(moves), dtype=bool)
    going_home = np.isin(moves.kind, [int(Kind.HOME), int(Kind.MACHINE), int(Kind.DWELL)])
    matters: NDArray[np.bool_] = (moves.tool != NO_TOOL) | ~going_home
    return matters


CORNER_REACH = 1.5
"""How far, in radii, the tool's centre can stray from a compensated path: one radius along it, √2 round an outside corner of 90 degrees
where the control goes to the point, and a little for sharper ones."""


def widen_compensated(
    reading: Reading, low: Floats, high: Floats, diameters_mm: Mapping[int, float]
) -> tuple[Floats, Floats]:
    """Bounds in X and Y with room for the radius of compensated moves: where exactly the centre goes is the control's to work out."""
    registers = reading.moves.comp_register
    if not bool((registers >= 0).any()):
        return low, high
    reach = np.zeros(len(reading.moves))
    for register in np.unique(registers[registers >= 0]).tolist():
        reach[registers == register] = CORNER_REACH * abs(diameters_mm.get(register, 0.0)) / 2
    widened = np.column_stack([reach, reach, np.zeros(len(reach))])
    return low - widened, high + widened


# --- places worth looking at ------------------------------------------------------------------------------------------


def extremes(case: Case, mask: NDArray[np.bool_], axis: int, highest: bool) -> Iterator[tuple[int, int, float]]:
    """(frame row, move, programmed value) of the farthest move on one axis, for each frame row that `mask` touches.

    Within one frame row every move carries the same doubt, so the farthest is the worst for every draw.
    """
    rows = case.moves.frame[:, axis]
    values = case.high_mm[:, axis] if highest else case.low_mm[:, axis]
    usable = mask & np.isfinite(values)
    for row in np.unique(rows[usable]):
        here = np.flatnonzero(usable & (rows == row))
        at = here[np.argmax(values[here])] if highest else here[np.argmin(values[here])]
        yield int(row), int(at), float(values[at])


def tip_groups(case: Case, mask: NDArray[np.bool_]) -> Iterator[tuple[int, int, NDArray[np.intp]]]:
    """(Z frame row, tool number, moves) of the moves in `mask` whose Z is a number."""
    rows, tools = case.moves.frame[:, 2], case.moves.tool
    usable = np.flatnonzero(mask & np.isfinite(case.low_mm[:, 2]))
    if not usable.size:
        return
    pairs = (rows[usable].astype(np.int64) << 32) + tools[usable]
    for pair in np.unique(pairs):
        here = usable[pairs == pair]
        yield int(rows[here[0]]), int(tools[here[0]]), here


def best(facts: FactSet, form: Form) -> float:
    """A difference form at best estimates."""
    return form.at(lambda path: facts.facts[path].value)


def lost(reading: Reading, moving: NDArray[np.bool_], sure: NDArray[np.bool_]) -> tuple[Need, ...]:
    """What stands between us and certain positions, a need each: problems that lost them, a start that nobody knows, a missing unit."""
    needs = []
    for problem in reading.problems:
        if problem.judged_again_from is not None:
            until = f"until line {problem.judged_again_from}" if problem.judged_again_from else "to the end"
            name = problem.fact or f"line {problem.line} ({problem.text.strip()[:40]})"
            how = f"Position is not known from line {problem.line} {until}. {problem.what}"
            needs.append(Need(name, f"{reading.file}:{problem.line}", how))
        elif problem.fact == BLOCK_DELETE:
            needs.append(Need(problem.fact, "machine.toml [control]", problem.what))
        elif problem.kind == FAULT:
            needs.append(_unread(reading, problem))
    if reading.units == "not stated" and bool(moving.any()):
        how = "Nothing says whether its numbers are mm or inch: write G21 or G20 at its head, or units_at_start."
        needs.append(Need("machine.control.units_at_start", "machine.toml [control]", how))
    needs += _unknown_start(reading, sure)
    if not needs and not bool(sure.all()):
        line = int(reading.moves.line[np.argmin(sure)])
        needs.append(
            Need(
                f"line {line}",
                f"{reading.file}:{line}",
                "From here on position is not certain: see what was not understood.",
            )
        )
    return tuple(dict.fromkeys(needs))[:MOST_LOST]


def unread(case: Case) -> tuple[Need, ...]:
    """Blocks that were not understood. They were not run either, so what they would have switched, changed or called nobody knows."""
    faults = [problem for problem in case.reading.problems if problem.kind == FAULT]
    return tuple(dict.fromkeys(_unread(case.reading, problem) for problem in faults[:MOST_LOST]))


def _unread(reading: Reading, problem: Problem) -> Need:
    return Need(f"line {problem.line}", f"{reading.file}:{problem.line}", problem.what)


def _unknown_start(reading: Reading, sure: NDArray[np.bool_]) -> list[Need]:
    """Moves that count from wherever the machine happens to stand."""
    moves = reading.moves
    move, axis = np.nonzero(by_frame(reading.frames.base == Base.START, moves) & sure[:, None])
    before = np.where(move > 0, moves.end_mm[move - 1, axis], 0.0)
    counts = np.flatnonzero(moves.end_mm[move, axis] != before)
    if not counts.size:
        return []
    first = counts[0]
    line, letter = int(moves.line[move[first]]), AXES[axis[first]].upper()
    how = f"Line {line} moves {letter} from wherever the machine stands: give {letter} a place in G90 before it."
    return [Need("where the machine stands at the start", f"{reading.file}:{line}", how)]


def stock_top_mm(case: Case, facts: Leaning) -> float | None:
    """A height that the blank surely does not reach, work frame: as the job writes it, or the top of the largest blank that was followed;
    None where nobody knows."""
    stock = [fact for path in STOCK_TOPS if (fact := facts.number_if_known(path)) is not None]
    if stock:
        return max(fact.value + 2 * fact.u for fact in stock)
    largest = getattr(case.followed, "largest", None)
    if largest is None or facts.number_if_known(STOCK_FACES) is None:
        return None
    field = largest.before
    top: float = field.grid.z0_mm + float(field.top.max())
    return top


def below_safe_height(case: Case, facts: Leaning) -> NDArray[np.bool_]:
    """bool[N]: feed moves that may meet something: not surely above whatever stands highest (clamps and stock), by their programmed Z.

    Where the stock's top is not known, or no length acts, every feed move counts: it may be a cut.
    """
    stock = stock_top_mm(case, facts)
    around = facts.number_if_known("job.around.highest_around")
    if stock is None:
        return case.feeding.copy()
    safe = stock if around is None else max(stock, around.value + 2 * around.u)
    frames, rows = case.reading.frames, case.moves.frame[:, 2]
    plain = (frames.base[rows, 2] == case.stock_base) & (frames.length[rows] != NO_LENGTH)
    above = plain & (case.low_mm[:, 2] + frames.shift_mm[rows, 2] >= safe)
    below: NDArray[np.bool_] = case.feeding & ~above
    return below
