"""The lines from the drawing that a job gives, as the questions about the part ask for them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from firstoff.facts.fact import Fact, Leaning

ACROSS = frozenset({"bore", "pocket", "slot", "outside"})
"""Measured across two walls: what each of them is off counts twice."""
WALLS = ACROSS | {"wall"}
FLOORS = frozenset({"floor"})
STEPS = frozenset({"step"})
PATHS = frozenset({"path", "profile", "contour"})


@dataclass(frozen=True, slots=True)
class Toleranced:
    """One `[[feature]]` with a tolerance."""

    path: str
    """``job.feature.N``."""
    what: str
    kinds: frozenset[str]
    """The kinds asked for that `what` names."""
    tol: Fact
    """Whole width, mm."""
    size: Fact | None
    tool: int | None
    """T that makes it; None where the job does not say: any."""

    def made_by(self, tool: int) -> bool:
        return self.tool is None or self.tool == tool


def toleranced(facts: Leaning, kinds: Collection[str]) -> tuple[Toleranced, ...]:
    """The features of the kinds asked for that give a tolerance, in the job's order. One without a tolerance asks nothing."""
    found = []
    for path in dict.fromkeys(path.rsplit(".", 1)[0] for path in facts.facts.under("job.feature.")):
        told = facts.facts.settings.get(f"{path}.what")
        what = str(told.value) if told is not None else ""
        named = frozenset(kinds) & frozenset(what.lower().split())
        if not named or not facts.facts.has(f"{path}.tol"):
            continue
        facts.setting(f"{path}.what")
        tol, tool = facts.number(f"{path}.tol"), facts.setting_if_known(f"{path}.tool")
        if tol is not None:
            size = facts.number_if_known(f"{path}.size")
            found.append(Toleranced(path, what, named, tol, size, tool if isinstance(tool, int) else None))
    return tuple(found)
