"""A followed program made by hand: what removal and loads would have found, so that a question is tested by itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np

from firstoff import workflows
from firstoff.facts.fact import Evidence, Fact, FactSet, Setting, Shape, Word
from firstoff.loads.cut_loads import Candidate, CutLoads, Overview, Quantity, Stretch
from firstoff.removal.field import Field, Grid
from firstoff.removal.swept import FirstCut, PerMove, Surfaces, Swept
from firstoff.verdict.case import Case
from firstoff.verdict.followed import Followed
from firstoff.verdict.judge import Draws, judge
from firstoff.verdict.needs import need
from firstoff.verdict.question import Answered, Finding

from .conftest import NOW

BOTTOM_MM = -10.0
EXTENT_MM = (52.0, 32.0)
"""The blank of the small shop: 52 × 32 mm, from X-1 Y-1, 10.2 mm high."""


def number(path: str, value: float, u: float = 0.0, unit: str = "mm", shape: Shape = Shape.NORMAL) -> Fact:
    """A fact; exact unless told otherwise."""
    return Fact(path, value, u, unit, shape=shape, evidence=Evidence.MEASURED)


def told(facts: FactSet, *more: Fact, words: Mapping[str, Word] | None = None) -> FactSet:
    """The same facts and more."""
    settings = {path: Setting(path, word) for path, word in (words or {}).items()}
    return FactSet({**facts.facts, **{fact.path: fact for fact in more}}, {**facts.settings, **settings})


def case_of(folder: Path, *more: Fact, words: Mapping[str, Word] | None = None) -> Case:
    """The case of a job folder, with facts added; not followed yet."""
    prepared = workflows.prepare(folder, now=NOW)
    case, _, _ = workflows._case(prepared, told(prepared.job.facts, *more, words=words))
    return case


def followed_case(case: Case, **changes: object) -> Case:
    """The case followed through its stock: nothing stands, nothing is cut, except as `changes` (of `following`) say."""
    return replace(case, followed=following(case, **changes))


def following(
    case: Case,
    surfaces: Mapping[str, object] | None = None,
    stretches: tuple[Stretch, ...] = (),
    lowest_mm: Mapping[int, float] | None = None,
    axial_mm: Mapping[int, float] | None = None,
    first_cuts: tuple[FirstCut, ...] = (),
    leaned: tuple[str, ...] = (),
) -> Followed:
    count = len(case.moves)
    cut = {one.move for each in stretches for found in each.candidates.values() for one in found} | set(lowest_mm or {})
    swept = _swept(count, cut, lowest_mm or {}, axial_mm or {}, first_cuts)
    nothing = np.zeros(count, dtype=bool)
    plain: dict[str, object] = {
        "wall_moves": nothing,
        "floor_moves": nothing,
        "cusp_moves": nothing,
        "cusp_mm": np.zeros(count, np.float32),
        "floors": (),
        "meetings": (),
        "thin_walls": (),
        "pieces": (),
        "untouched_top_mm2": 0.0,
    }
    return Followed(
        swept, swept, swept, Surfaces(**{**plain, **(surfaces or {})}), _loads(count, stretches), {}, leaned
    )  # type: ignore[arg-type]


def _swept(
    count: int, cut: set[int], lowest: Mapping[int, float], axial: Mapping[int, float], first_cuts: tuple[FirstCut, ...]
) -> Swept:
    grid = Grid(-1.0, -1.0, 1.0, int(EXTENT_MM[0]), int(EXTENT_MM[1]), 0.2)
    field = Field(grid, np.zeros((grid.rows, grid.columns), np.float32), BOTTOM_MM, np.zeros((0, 4)))
    low = np.full(count, np.nan, np.float32)
    depth = np.zeros(count, np.float32)
    for move, value in lowest.items():
        low[move] = value
    for move, value in axial.items():
        depth[move] = value
    none = np.zeros(count, np.float32)
    volume = np.zeros(count)
    volume[list(cut)] = 1.0
    moves = PerMove(volume, depth, none, none, none, low, (volume > 0).astype(np.float32))
    return Swept(field, field, np.full((grid.rows, grid.columns), -1, np.int32), moves, (), first_cuts, 0.01, ())


def _loads(count: int, stretches: tuple[Stretch, ...]) -> CutLoads:
    none = np.zeros(count, np.float32)
    overview = Overview(np.zeros(1, np.float32), np.zeros(1, np.int32), np.zeros(1, np.int32), {}, {})
    return CutLoads(stretches, (), overview, none, none, none, 0.01)


def candidate(
    case: Case,
    move: int,
    value: float,
    exponents: tuple[tuple[str, float], ...] = (),
    force: tuple[float, float, float] = (0.0, 0.0, 0.0),
    **more: object,
) -> Candidate:
    """A station at the end of a move."""
    x, y, z = (float(one) for one in case.moves.end_mm[move])
    plain: dict[str, object] = {
        "turns_per_s": abs(float(case.moves.spindle_per_s[move])),
        "feed_mm_per_s": float(case.moves.feed_mm_per_s[move]),
        "chip_mm": 0.02,
        "axial_mm": 2.0,
        "radial_mm": 1.0,
        "force_n": force,
    }
    return Candidate(move, (x, y, z), value, exponents, **{**plain, **more})  # type: ignore[arg-type]


def stretch(
    case: Case,
    tool: int,
    name: str,
    candidates: dict[Quantity, tuple[Candidate, ...]],
    missing: tuple[str, ...] = (),
) -> Stretch:
    """All that one tool does."""
    mine = np.flatnonzero(case.moves.tool == tool)
    return Stretch(
        tool,
        name,
        int(mine[0]),
        int(mine[-1]),
        abs(float(case.moves.spindle_per_s[mine[-1]])),
        10.0,
        1.0,
        0.0,
        0.0,
        0.001,
        100.0,
        candidates,
        missing,
    )


def move_of(case: Case, text: str, nth: int = 1) -> int:
    """The number of the move that the nth line with this text makes."""
    lines = [number for number, line in enumerate(case.reading.text, 1) if line.strip() == text]
    return int(np.flatnonzero(case.moves.line == lines[nth - 1])[-1])


def mask(case: Case, *moves: int) -> np.ndarray:
    """bool[N], true for some moves."""
    found = np.zeros(len(case.moves), dtype=bool)
    found[list(moves)] = True
    return found


def ask(question: ModuleType, case: Case) -> tuple[Finding, Answered]:
    """Put one question to a case, as `examine` does."""
    leaning = case.facts.leaning()
    finding = question.find(case, leaning)
    needs = {each.fact: each for each in (*finding.needs, *(need(path) for path in leaning.missing))}
    complete = Finding(finding.checks, tuple(needs.values()), finding.notes, finding.not_asked)
    return complete, judge(question.QUESTION, complete, leaning, Draws(case.facts), lambda _: ("", None))
