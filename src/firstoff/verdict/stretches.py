"""The followed program as questions about cutting ask for it: what could not be followed or reckoned is a need, never a silence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import leaned_assembly
from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.program.moves import NO_TOOL
from firstoff.verdict.case import Case, lost
from firstoff.verdict.followed import Followed, followed
from firstoff.verdict.question import Need
from firstoff.verdict.tools import spindle_tool


def cut_program(case: Case, facts: Leaning) -> tuple[Followed | None, list[Need]]:
    """The followed program, or None, with everything that stands between us and the whole of it."""
    told, needs = followed(case, facts)
    found = [*lost(case), *needs]
    if told is not None:
        found += _without_shape(case, facts, told)
    return told, found


def _without_shape(case: Case, facts: Leaning, told: Followed) -> list[Need]:
    """Tools that nobody has described: from their first move on the stock is not what was followed."""
    moves = list(told.likely.unfollowed)
    needs = []
    for tool in dict.fromkeys(int(case.moves.tool[move]) for move in moves):
        first = next(move for move in moves if case.moves.tool[move] == tool)
        line = int(case.moves.line[first])
        name = spindle_tool(facts, tool)
        before = len(facts.missing)
        if name is not None and (leaned_assembly(facts, name, nose=False) is not None or len(facts.missing) == before):
            how = f"From line {line} on nobody knows what {name} takes away: describe its shape in tools.toml."
            needs.append(Need(f"the shape of {name}", f"tools.toml [tool.{name}]", how))
    return needs


def with_loads(case: Case, facts: Leaning, told: Followed, needs: list[Need]) -> Iterator[Stretch]:
    """The stretches that take something away and whose loads are known; what the others lack is recorded."""
    for stretch in told.loads.stretches:
        for path in stretch.missing:
            facts.number(path)
        cuts = stretch.volume_mm3 > 0 or stretch.cutting_s > 0
        if stretch.missing or not cuts:
            continue
        if not any(stretch.candidates.values()):
            line = int(case.moves.line[stretch.first_move])
            how = f"What {stretch.name} costs from line {line} on could not be reckoned: watch it on the first run."
            needs.append(Need(f"the loads of {stretch.name}", f"{case.reading.file}:{line}", how))
            continue
        yield stretch


def candidates(stretch: Stretch, *quantities: Quantity) -> Iterator[Candidate]:
    """The candidates of one stretch for some quantities."""
    for quantity in quantities:
        yield from stretch.candidates.get(quantity, ())


def doubts_of(stretches: Iterable[Stretch]) -> tuple[str, ...]:
    """What the loads say of their own models, each thing once."""
    return tuple(dict.fromkeys(doubt for stretch in stretches for doubt in stretch.doubts))


def tools_in_order(case: Case, mask: NDArray[np.bool_]) -> list[int]:
    """T numbers of the moves in `mask`, in the order of first use."""
    tools = case.moves.tool[mask]
    _, first = np.unique(tools, return_index=True)
    return [int(tools[index]) for index in sorted(first)]


def tool_words(name: str, tool: int) -> str:
    """`T3 (em6)`; the name alone where the program calls no tool."""
    return name if tool == NO_TOOL else f"T{tool} ({name})"
