"""What follows from how tools are gripped: the shape of a holder that is described once, and what a new grip makes void.

Done where facts are put together, so that every question sees it: a tool that names its holder and no steps of its own has the
holder's; a length, a stick-out, a gripped length or a run-out from before the tool was gripped anew is no fact of it any more.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

from firstoff.facts.fact import RULE, Fact, FactSet

RE_GRIPPED, HELD_IN = "re_gripped", "held_in"
VOIDED = ("LF", "OHX", "gripped", "run_out")
"""What a new grip changes."""


def as_gripped(facts: FactSet) -> FactSet:
    """The facts with what holders give to the tools in them, and without what was measured before a tool was gripped anew."""
    void = {fact.path for tool in _tools_with(facts, RE_GRIPPED) for fact in voided(facts, tool)}
    steps = {fact.path: fact for tool in _tools_with(facts, HELD_IN) for fact in _steps_of_its_holder(facts, tool)}
    if not void and not steps:
        return facts
    left = {path: fact for path, fact in facts.facts.items() if path not in void}
    groups = tuple(kept for group in facts.groups if (kept := group.only(left.keys())) is not None)
    return FactSet({**left, **steps}, facts.settings, groups)


def gripped_anew(facts: FactSet, tool: str) -> datetime | None:
    """When a tool was last gripped anew, where the shop says so."""
    said = facts.settings.get(f"tools.{tool}.{RE_GRIPPED}")
    return said.value if said is not None and isinstance(said.value, datetime) else None


def voided(facts: FactSet, tool: str) -> tuple[Fact, ...]:
    """The facts of a tool that are from before it was gripped anew: those with an earlier date, and those without any."""
    anew = gripped_anew(facts, tool)
    if anew is None:
        return ()
    known = [fact for symbol in VOIDED if (fact := facts.facts.get(f"tools.{tool}.{symbol}")) is not None]
    return tuple(fact for fact in known if fact.on is None or fact.on < anew)


def voided_by(facts: FactSet, path: str) -> datetime | None:
    """When the tool was gripped anew that a missing fact is of, where a new grip would make such a fact void."""
    parts = path.split(".")
    if len(parts) != 3 or parts[0] != "tools" or parts[2] not in VOIDED:
        return None
    return gripped_anew(facts, parts[1])


def moment(at: datetime) -> str:
    """A date, with its time where it has one."""
    return at.strftime("%Y-%m-%d" if (at.hour, at.minute, at.second) == (0, 0, 0) else "%Y-%m-%d %H:%M")


def _tools_with(facts: FactSet, key: str) -> Iterator[str]:
    for path in facts.settings:
        parts = path.split(".")
        if len(parts) == 3 and parts[0] == "tools" and parts[2] == key:
            yield parts[1]


def _steps_of_its_holder(facts: FactSet, tool: str) -> Iterator[Fact]:
    if f"tools.{tool}.holder.0.diameter" in facts.facts:
        return
    said = f"tools.{tool}.{HELD_IN}"
    holder = facts.settings[said].value
    at = f"tools.holder.{holder}.steps."
    for path in facts.under(at):
        fact = facts.facts[path]
        note = f"that of holder {holder}" + (f": {fact.note}" if fact.note else "")
        own = f"tools.{tool}.holder.{path.removeprefix(at)}"
        yield replace(fact, path=own, note=note, where=RULE, rests_on=(said, path))
