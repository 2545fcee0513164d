"""The followed program as questions about cutting ask for it: what could not be followed or reckoned is a need, never a silence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from firstoff.facts.assembly import leaned_assembly
from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.program.moves import NO_TOOL
from firstoff.verdict.case import Case
from firstoff.verdict.followed import Followed, followed, loads_of
from firstoff.verdict.question import Need
from firstoff.verdict.tools import spindle_tool


def cut_program(case: Case, facts: Leaning) -> tuple[Followed | None, list[Need]]:
    """The followed program, or None, with everything that stands between us and the whole of it."""
    told, needs = followed(case, facts)
    found = [*case.lost, *needs]
    if told is not None:
        found += _without_shape(case, facts, told)
    elif not found and not facts.missing:
        found.append(Need("the stock as cut", case.reading.file, "The stock was not followed: run it in air first."))
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


def with_loads(case: Case, facts: Leaning, told: Followed, needs: list[Need]) -> list[Stretch]:
    """The stretches that take something away and whose loads are known; what the others lack is recorded in `facts` or added to `needs`."""
    loads, _ = loads_of(case, facts)
    if loads is None:
        if not case.timeline_missing:
            needs.append(_not_reckoned(case, 0))
        return []
    found = []
    covered = np.zeros(len(case.moves), dtype=bool)
    for stretch in loads.stretches:
        covered[stretch.first_move : stretch.last_move + 1] = True
        if not bool((told.likely.moves.volume_mm3[stretch.first_move : stretch.last_move + 1] > 0).any()):
            continue
        for missing in stretch.missing:
            if " " in missing:
                needs.append(_unsaid(case, stretch, missing))
            else:
                facts.number(missing)
        if not stretch.missing and any(stretch.candidates.values()):
            found.append(stretch)
        elif not stretch.missing:
            needs.append(_not_reckoned(case, stretch.first_move))
    left_out = np.flatnonzero((told.likely.moves.volume_mm3 > 0) & case.feeding & ~covered)
    if left_out.size:
        needs.append(_not_reckoned(case, int(left_out[0])))
    return found


def _unsaid(case: Case, stretch: Stretch, missing: str) -> Need:
    """What the program itself does not say, or a tool that nobody has described."""
    line = int(case.moves.line[stretch.first_move])
    how = f"What the cuts from line {line} on cost hangs on it: {missing} is not known."
    return Need(missing, f"{case.reading.file}:{line}", how)


def _not_reckoned(case: Case, move: int) -> Need:
    line = int(case.moves.line[move])
    how = f"What the cut at line {line} costs could not be reckoned: run it in air first, then at a low override."
    return Need(f"the loads at line {line}", f"{case.reading.file}:{line}", how)


def candidates(stretch: Stretch, *quantities: Quantity) -> Iterator[Candidate]:
    """The candidates of one stretch for some quantities."""
    for quantity in quantities:
        yield from stretch.candidates.get(quantity, ())


def asked(case: Case, stretch: Stretch, needs: list[Need], *quantities: Quantity) -> list[Candidate]:
    """The same, of a stretch that must have some: where there are none, that is a need."""
    found = list(candidates(stretch, *quantities))
    if not found:
        needs.append(_not_reckoned(case, stretch.first_move))
    return found


def doubts_of(stretches: Iterable[Stretch]) -> tuple[str, ...]:
    """What the loads say of their own models, by tool, each thing once."""
    told = (f"{stretch.name}: {doubt[:1].lower()}{doubt[1:]}" for stretch in stretches for doubt in stretch.doubts)
    return tuple(dict.fromkeys(told))


def drills(stretch: Stretch) -> bool:
    """Whether it drills: its depth and width at a moment say nothing that anybody could change."""
    return Quantity.DRILL_THRUST in stretch.candidates


def taps(stretch: Stretch) -> bool:
    return Quantity.TAP_TORQUE in stretch.candidates


def with_less(stretch: Stretch) -> str:
    """What to do to load a tool less. A tap takes what its pitch and its core hole leave it, whatever it is fed (common practice)."""
    if taps(stretch):
        return "Drill the core hole larger"
    return "Feed less here, drill a smaller hole first" if drills(stretch) else "Take less depth, width or feed here"


def tool_words(name: str, tool: int) -> str:
    """`T3 (em6)`; the name alone where the program calls no tool."""
    return name if tool == NO_TOOL else f"T{tool} ({name})"
