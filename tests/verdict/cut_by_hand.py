"""The small shop's program as if it had been followed: what each move cuts, written down by hand.

T1 (em6) goes round the blank at 2 mm deep in lines 13 to 16; T2 (dr3) drills three holes 8 mm deep.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import pi
from pathlib import Path

import numpy as np

from firstoff.facts.assembly import Part
from firstoff.facts.fact import Fact, Shape
from firstoff.facts.practice import practice_facts
from firstoff.loads.cut_loads import Candidate, CutLoads, Duty, Overview, Quantity, Stretch
from firstoff.program.moves import Kind
from firstoff.removal.field import Field, Grid
from firstoff.removal.swept import Contact, FirstCut, PerMove, Surfaces, Swept
from firstoff.verdict.case import Case
from firstoff.verdict.followed import Followed

from .synthetic import case_of, number

ROUND = ("G1 X50 F2000", "G1 Y30", "G1 X-5", "G1 Y-5")
"""The program lines of T1 that cut."""
DRILL_AREA_MM2 = pi / 4 * 3.0**2
OF_A_TOOL: tuple[Fact, ...] = tuple(
    fact
    for name in ("em6", "dr3")
    for fact in (
        number(f"tools.{name}.strength", 2500.0, 500.0, "N/mm²", Shape.LOGNORMAL),
        number(f"tools.{name}.core_ratio", 0.8, 0.04, "1"),
        number(f"tools.{name}.max_chip", 0.15, 0.03, "mm", Shape.LOGNORMAL),
        number(f"tools.{name}.edge_radius", 0.005, 0.001, "mm", Shape.LOGNORMAL),
        number(f"tools.{name}.run_out", 0.006, 0.002, "mm", Shape.LOGNORMAL),
        number(f"tools.{name}.APMX", 14.0, 0.1),
    )
)
TOOL_FACTS: tuple[Fact, ...] = (
    *OF_A_TOOL,
    number("tools.dr3.DC", 3.0, 0.01),
    number("materials.al-6082.min_chip_ratio", 0.3, 0.06, "1", Shape.LOGNORMAL),
    number("machine.spindle.power_s1.0.speed", 4000 / 60, 0.0, "1/s"),
    number("machine.spindle.power_s1.0.power", 180.0, 6.0, "W"),
    number("machine.spindle.power_s1.1.speed", 24000 / 60, 0.0, "1/s"),
    number("machine.spindle.power_s1.1.power", 1100.0, 30.0, "W"),
    number("machine.spindle.power_s1.2.speed", 36000 / 60, 0.0, "1/s"),
    number("machine.spindle.power_s1.2.power", 1100.0, 30.0, "W"),
)


def small_case(folder: Path, *more: Fact, words: Mapping[str, object] | None = None) -> Case:
    """The small shop's case, not followed, with every fact that questions about tools ask for."""
    return case_of(folder, *practice_facts().values(), *TOOL_FACTS, *more, words=words)  # type: ignore[arg-type]


def without(case: Case, *paths: str) -> Case:
    """The same case without some facts."""
    facts = case.facts
    for path in paths:
        facts = facts.without(path)
    return replace(case, facts=facts)


def lines(case: Case, *texts: str) -> list[int]:
    """Moves that cut at feed in the program lines with these texts."""
    numbers = {n for n, line in enumerate(case.reading.text, 1) if line.strip() in texts}
    mine = np.isin(case.moves.line, list(numbers)) & case.feeding
    return [int(move) for move in np.flatnonzero(mine)]


def drilled(case: Case) -> list[int]:
    """Feed moves of the drill."""
    return [int(move) for move in np.flatnonzero(case.feeding & (case.moves.tool == 2))]


def per_move(case: Case, **columns: Mapping[int, float]) -> PerMove:
    """What each move did; what is not said is nothing. A move with volume cuts all of its way."""
    count = len(case.moves)

    def column(name: str, plain: float = 0.0) -> np.ndarray:
        values = np.full(count, plain)
        for move, value in columns.get(name, {}).items():
            values[move] = value
        return values

    volume = column("volume")
    share = column("share", np.nan)
    share = np.where(np.isnan(share), volume > 0, share)
    four = np.float32
    return PerMove(
        volume, column("axial").astype(four), column("radial").astype(four), column("above").astype(four),
        column("dead").astype(four), column("lowest", np.nan).astype(four), share.astype(four),
    )  # fmt: skip


def usual(
    case: Case, depth_mm: float = 2.0, width_mm: float = 1.0, hole_mm: float = 8.0
) -> dict[str, dict[int, float]]:
    """Columns of `per_move` as the small program is meant."""
    mills, drills = lines(case, *ROUND), drilled(case)
    return {
        "volume": dict.fromkeys(mills, 90.0) | dict.fromkeys(drills, hole_mm * DRILL_AREA_MM2),
        "axial": dict.fromkeys(mills, depth_mm) | dict.fromkeys(drills, hole_mm),
        "radial": dict.fromkeys(mills, width_mm) | dict.fromkeys(drills, 3.0),
    }


def first_cut(case: Case, move: int) -> FirstCut:
    tool = int(case.moves.tool[move])
    called = int(np.flatnonzero(case.moves.tool == tool)[0])
    x, y, z = (float(value) for value in case.moves.end_mm[move])
    return FirstCut(tool, called, move, (x, y, z), 2.0, 1.0, 0.2)


def swept(case: Case, moves: PerMove, contacts: tuple[Contact, ...] = (), unfollowed: tuple[int, ...] = ()) -> Swept:
    """A sweep in which each tool first cuts where it first takes anything away."""
    grid = Grid(-1.0, -1.0, 0.1, 4, 4, 0.2)
    field = Field(grid, np.zeros((4, 4), np.float32), -10.0, np.zeros((0, 4)))
    firsts = []
    for tool in np.unique(case.moves.tool[moves.volume_mm3 > 0]).tolist():
        firsts.append(first_cut(case, int(np.flatnonzero((moves.volume_mm3 > 0) & (case.moves.tool == tool))[0])))
    maker = np.full((4, 4), -1, np.int32)
    return Swept(field, field, maker, moves, contacts, tuple(firsts), 0.01, unfollowed)


def contact(case: Case, move: int, gap_mm: float, part: Part = Part.EDGE, rapid: bool = False) -> Contact:
    x, y, z = (float(value) for value in case.moves.end_mm[move])
    return Contact(
        move, int(case.moves.tool[move]), part, "stock", gap_mm, 0.03, False, False, rapid, (x, y, z), (x, y, z)
    )


def load(
    case: Case,
    move: int,
    value: float,
    exponents: Mapping[str, float] | None = None,
    lever_mm: float = 0.0,
    chip_mm: float = 0.02,
) -> Candidate:
    x, y, z = (float(one) for one in case.moves.end_mm[move])
    speed, feed = abs(float(case.moves.spindle_per_s[move])), float(case.moves.feed_mm_per_s[move])
    return Candidate(move, (x, y, z), value, tuple((exponents or {}).items()), speed, feed, chip_mm, 2.0, 1.0, lever_mm)


def stretch(case: Case, tool: int, loads: Mapping[Quantity, tuple[Candidate, ...]], **changes: object) -> Stretch:
    """One tool from its call to the end of its moves, cutting for 10 s."""
    mine = np.flatnonzero(case.moves.tool == tool)
    name = {1: "em6", 2: "dr3"}[tool]
    speed = abs(float(case.moves.spindle_per_s[mine[-1]])) or abs(float(np.max(case.moves.spindle_per_s[mine])))
    plain = Stretch(
        tool, name, int(mine[0]), int(mine[-1]), speed, 10.0, 2.0, 0.0, 0.0, 0.0015, 360.0, dict(loads), ()
    )  # fmt: skip
    return replace(plain, **changes)  # type: ignore[arg-type]


def light_loads(case: Case) -> tuple[Stretch, ...]:
    """Stretches of both tools that nothing has to fear."""
    mill, drill = lines(case, ROUND[0])[0], drilled(case)[0]
    milled = {
        Quantity.TORQUE: (load(case, mill, 60.0),),
        Quantity.POWER: (load(case, mill, 100.0),),
        Quantity.BENDING: (load(case, mill, 40.0, lever_mm=1.5),),
        Quantity.CHIP: (load(case, mill, 0.04),),
        Quantity.THIN: (load(case, mill, 0.02),),
    }
    bored = {
        Quantity.TORQUE: (load(case, drill, 40.0),),
        Quantity.POWER: (load(case, drill, 50.0),),
        Quantity.CHIP: (load(case, drill, 0.05),),
        Quantity.THIN: (load(case, drill, 0.03),),
    }
    return stretch(case, 1, milled), stretch(case, 2, bored)


def followed_by_hand(
    case: Case,
    likely: PerMove | None = None,
    largest: PerMove | None = None,
    smallest: PerMove | None = None,
    *,
    contacts: tuple[Contact, ...] = (),
    stretches: tuple[Stretch, ...] | None = None,
    duties: tuple[Duty, ...] = (),
    broken: Mapping[int, Swept] | None = None,
    unfollowed: tuple[int, ...] = (),
) -> Case:
    """The case with its program followed as told; the usual cuts and light loads where nothing is said."""
    likely = likely or per_move(case, **usual(case))
    sweeps = [swept(case, moves or likely, contacts, unfollowed) for moves in (likely, largest, smallest)]
    count = len(case.moves)
    nothing, none = np.zeros(count, dtype=bool), np.zeros(count, np.float32)
    surfaces = Surfaces(nothing, nothing, nothing, none, (), (), (), (), 0.0)
    overview = Overview(np.zeros(1, np.float32), np.zeros(1, np.int32), np.zeros(1, np.int32), {}, {})
    loads = CutLoads(light_loads(case) if stretches is None else stretches, duties, overview, none, none, none, 0.01)
    told = Followed(sweeps[0], sweeps[1], sweeps[2], surfaces, loads, broken or {}, ("job.stock.box.z.high",))
    return replace(case, followed=told)


def rapids(case: Case, tool: int) -> list[int]:
    return [int(move) for move in np.flatnonzero((case.moves.kind == Kind.RAPID) & (case.moves.tool == tool))]
