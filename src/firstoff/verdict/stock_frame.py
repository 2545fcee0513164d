"""The work system that stock, fixtures and `[around]` are written in."""

from __future__ import annotations

import numpy as np

from firstoff.facts.fact import FactSet, Leaning
from firstoff.program.moves import SYSTEM_NAMES, Base, Reading, What
from firstoff.verdict.case import Case
from firstoff.verdict.question import Need

STOCK_OFFSET = "job.stock.offset"


def stock_base(reading: Reading, facts: FactSet) -> int:
    """The system that the job names, else the only one it lists, else the first that the program uses."""
    named = facts.settings.get(STOCK_OFFSET)
    if named is not None and named.value in SYSTEM_NAMES:
        return SYSTEM_NAMES.index(str(named.value)) + 1
    listed = _listed(facts)
    if len(listed) == 1:
        return SYSTEM_NAMES.index(listed[0]) + 1
    for event in reading.events:
        if event.what is What.OFFSET_USED and Base.G54 <= event.number <= Base.G59_3:
            return event.number
    return int(Base.G54)


def stock_frame_needs(case: Case, facts: Leaning) -> tuple[Need, ...]:
    """Where a program uses several systems and the job lists several, it must say which one the blank is written in."""
    systems = np.unique(case.reading.frames.system[np.unique(case.moves.frame[:, 2])])
    used = [base for base in systems.tolist() if Base.G54 <= base <= Base.G59_3]
    if len(used) < 2 or len(_listed(facts.facts)) < 2:
        return ()
    if facts.setting(STOCK_OFFSET) is not None:
        return ()
    how = 'The program uses several work systems: write offset = "G54" into [stock], the one that blank and fixtures are measured in.'
    return (Need(STOCK_OFFSET, "job.toml [stock] offset", how),)


def _listed(facts: FactSet) -> list[str]:
    names = dict.fromkeys(
        path.removeprefix("job.offset.").rsplit(".at.", 1)[0]
        for path in facts.under("job.offset.")
        if path in facts.facts
    )
    return [name for name in names if name in SYSTEM_NAMES]
