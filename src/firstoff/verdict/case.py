"""The case a question looks at: one reading, its timeline and the tools it calls; facts come beside it, through a `Leaning`.

Everything here is found once for all questions and holds best estimates only where time is concerned; positions stay forms in facts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Fact, FactSet, Leaning
from firstoff.motion.timeline import Timeline
from firstoff.path.track import arc_bounds
from firstoff.program.moves import (
    NO_LENGTH,
    NO_TOOL,
    SYSTEM_NAMES,
    Base,
    Flag,
    Floats,
    Kind,
    Moves,
    Reading,
)
from firstoff.verdict.forms import Form, of
from firstoff.verdict.question import Need, Place
from firstoff.verdict.words import ShopUnits

AXES = "xyz"
MOST_LOST = 3
"""Problems that an answer names as its need; the question "understood" lists them all."""
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
    slow: tuple[tuple[int, float], ...]
    """(move, seconds lost) of the moves that lose most, worst first."""
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
    bare: bool
    """No job file: the program alone, with whatever the command line told."""

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

    def line_place(self, line: int) -> Place:
        return Place(line)

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


def programmed_bounds(reading: Reading) -> tuple[Floats, Floats]:
    """Lowest and highest programmed coordinates of each move's end and arc bulge."""
    moves = reading.moves
    return arc_bounds(moves, reading.arcs, moves.end_mm, moves.end_mm)


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


# --- tools -----------------------------------------------------------------------------------------------------------


def meant_tool(facts: Leaning, number: int) -> str | None:
    """The tool that T is meant to be, by the job; needed."""
    return _name(facts.setting(f"job.tools.{number}"))


def loaded_tool(facts: Leaning, number: int) -> str | None:
    """The tool that stands where T points, if the shop knows."""
    means = facts.setting_if_known("machine.control.t_means") or "pocket"
    owner = "register" if means == "register" else "pocket"
    return _name(facts.setting_if_known(f"tools.{owner}.{number}.tool"))


def spindle_tool(facts: Leaning, number: int) -> str | None:
    """The tool really in the spindle when the program has called T: what stands in the pocket, else what is meant.

    A program that calls no tool runs with the one tool the job lists, or with the one it lists as 0.
    """
    if number == NO_TOOL:
        listed = list(facts.facts.under("job.tools."))
        return _name(facts.setting(listed[0] if len(listed) == 1 else "job.tools.0"))
    loaded = loaded_tool(facts, number)
    return loaded if loaded is not None else meant_tool(facts, number)


def register_tool(facts: Leaning, register: int) -> str | None:
    """The tool whose length stands in an H register."""
    means = facts.setting_if_known("machine.control.t_means") or "pocket"
    if means == "register":
        for path in facts.facts.under("tools.register."):
            if path.endswith(".H") and facts.setting_if_known(path) == register:
                return _name(facts.setting_if_known(path[: -len("H")] + "tool"))
    return spindle_tool(facts, register)


def tool_radius(facts: Leaning, name: str) -> float | None:
    """Best estimate of the greatest radius of edge and shank, mm; the diameter is needed."""
    diameter = facts.number(f"tools.{name}.DC")
    if diameter is None:
        return None
    shank = facts.number_if_known(f"tools.{name}.DMM")
    return max(diameter.value, shank.value if shank else 0.0) / 2


def _name(word: object) -> str | None:
    return word if isinstance(word, str) else None


# --- positions as forms ----------------------------------------------------------------------------------------------


def offset_path(base: int, axis: int) -> str:
    """Fact that holds the origin of a base on one axis."""
    if base in (Base.G28, Base.G30):
        return f"machine.home.{Base(base).name}.{AXES[axis]}"
    return f"job.offset.{SYSTEM_NAMES[base - 1]}.at.{AXES[axis]}"


def known_base(base: int) -> bool:
    """Whether a base is a place that facts can name."""
    return base not in (Base.START, Base.UNKNOWN)


def gauge_form(case: Case, facts: Leaning, row: int, axis: int) -> Form | None:
    """Machine position of the gauge point at programmed zero on one axis, or None (the missing fact is recorded).

    The tool length enters as a fact: whatever the tool measures, the register will hold.
    """
    frames = case.reading.frames
    base = int(frames.base[row, axis])
    form = Form(float(frames.shift_mm[row, axis]))
    if base != Base.MACHINE:
        offset = facts.number(offset_path(base, axis))
        if offset is None:
            return None
        form += of(offset)
    register = int(frames.length[row])
    if axis == 2 and register != NO_LENGTH:
        length = register_length(facts, register)
        if length is None:
            return None
        form += of(length)
    return form


def register_length(facts: Leaning, register: int) -> Fact | None:
    """The length fact that an H register holds, or None (the missing fact is recorded)."""
    name = register_tool(facts, register)
    return None if name is None else facts.number(f"tools.{name}.LF")


def tip_form(case: Case, facts: Leaning, row: int, tool: int) -> Form | None:
    """Height of the tool tip at programmed Z zero, in the work frame of stock and fixtures, or None (the missing fact is recorded).

    The register holds a number; the tool has a length: the register enters at its best estimate, the tool as a fact. A tool that was
    measured wrongly is wrong by its doubt even though both carry the same name.
    """
    frames = case.reading.frames
    name = spindle_tool(facts, tool)
    if name is None:
        return None
    if (
        int(frames.length[row]) == NO_LENGTH
        and int(frames.base[row, 2]) == case.stock_base
        and touched_with(facts, case.stock_base) == name
    ):
        return Form(float(frames.shift_mm[row, 2]))  # the very tip that set the zero: no length is needed
    length = facts.number(f"tools.{name}.LF")
    if length is None:
        return None
    base = int(frames.base[row, 2])
    form = Form(float(frames.shift_mm[row, 2])) - of(length)
    register = int(frames.length[row])
    touched = touched_with(facts, base) if register == NO_LENGTH else None
    if touched is not None:
        # Zero was set with this tip: its length is in the offset already, and a tool held against itself leaves no doubt.
        set_with = facts.number(f"tools.{touched}.LF")
        if set_with is None:
            return None
        form += of(set_with)
    if register != NO_LENGTH:
        held = register_length(facts, register)
        if held is None:
            return None
        form += held.value
    if base != case.stock_base:
        if base != Base.MACHINE:
            own = facts.number(offset_path(base, 2))
            if own is None:
                return None
            form += of(own)
        stock = facts.number(offset_path(case.stock_base, 2))
        if stock is None:
            return None
        form -= of(stock)
    return form


def touched_with(facts: Leaning, base: int) -> str | None:
    """The tool whose tip set the zero of a work system, where the job says so: for programs that call no length."""
    if not Base.G54 <= base <= Base.G59_3:
        return None
    return _name(facts.setting_if_known(f"job.offset.{SYSTEM_NAMES[base - 1]}.touched_with"))


def work_form(case: Case, facts: Leaning, row: int, axis: int) -> Form | None:
    """X or Y of the spindle axis at programmed zero, in the work frame of stock and fixtures."""
    frames = case.reading.frames
    base = int(frames.base[row, axis])
    form = Form(float(frames.shift_mm[row, axis]))
    if base == case.stock_base:
        return form
    if base != Base.MACHINE:
        own = facts.number(offset_path(base, axis))
        if own is None:
            return None
        form += of(own)
    stock = facts.number(offset_path(case.stock_base, axis))
    return None if stock is None else form - of(stock)


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
    """(Z frame row, tool number, moves) of the moves in `mask` whose Z hangs on a known place."""
    rows, tools = case.moves.frame[:, 2], case.moves.tool
    bases = case.reading.frames.base[:, 2]
    known = np.array([known_base(int(base)) for base in bases], dtype=bool)
    usable = np.flatnonzero(mask & known[rows] & np.isfinite(case.low_mm[:, 2]))
    if not usable.size:
        return
    pairs = np.stack([rows[usable].astype(np.int64), tools[usable].astype(np.int64)], axis=1)
    for row, tool in np.unique(pairs, axis=0):
        yield int(row), int(tool), usable[(pairs[:, 0] == row) & (pairs[:, 1] == tool)]


def best(facts: FactSet, form: Form) -> float:
    """A difference form at best estimates."""
    return form.at(lambda path: facts.facts[path].value)


def lost(case: Case) -> tuple[Need, ...]:
    """What stands between us and certain positions: one need for each problem that lost them."""
    if bool(case.sure.all()):
        return ()
    needs = []
    for problem in case.reading.problems:
        if problem.judged_again_from is not None:
            until = f"until line {problem.judged_again_from}" if problem.judged_again_from else "to the end"
            name = problem.fact or f"line {problem.line} ({problem.text.strip()[:40]})"
            how = f"Position is not known from line {problem.line} {until}. {problem.what}"
            needs.append(Need(name, f"{case.reading.file}:{problem.line}", how))
    return tuple(needs[:MOST_LOST])


def below_safe_height(case: Case, facts: Leaning) -> NDArray[np.bool_]:
    """bool[N]: feed moves that go below whatever stands highest (clamps, stock), by their programmed Z.

    Where nothing says how high things stand, or no length acts, every feed move counts: it may be a cut.
    """
    tops = [
        fact.value
        for path in ("job.around.highest_around", "job.stock.box.z.high", "job.stock.cylinder.z.high")
        if (fact := facts.number_if_known(path)) is not None
    ]
    if not tops:
        return case.feeding.copy()
    frames, rows = case.reading.frames, case.moves.frame[:, 2]
    plain = (frames.base[rows, 2] == case.stock_base) & (frames.length[rows] != NO_LENGTH)
    above = plain & (case.low_mm[:, 2] + frames.shift_mm[rows, 2] >= max(tops))
    below: NDArray[np.bool_] = case.feeding & ~above
    return below
