"""Facts as a record keeps them, and what differs between two states of a shop.

A record of a fact holds what was said of it and nothing of where it stood: moving a line in a file changes no fact.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from firstoff.facts.derived import RULE
from firstoff.facts.fact import Evidence, Fact, FactSet, Setting, Shape

Stated = Mapping[str, Any]
"""One fact or setting as JSON: ``{value, u, unit, df, shape, evidence, note, on}``, or ``{setting}``."""


@dataclass(frozen=True, slots=True)
class Change:
    """One fact that is not what it was; `old` is None where it is new, `new` where it is gone."""

    path: str
    old: Stated | None
    new: Stated | None


def stated(fact: Fact | Setting) -> Stated:
    """A fact or setting as JSON; an infinite number of degrees of freedom is null."""
    if isinstance(fact, Setting):
        value = fact.value
        if isinstance(value, datetime):
            return {"setting": value.isoformat()}
        return {"setting": list(value) if isinstance(value, tuple) else value}
    return {
        "value": fact.value,
        "u": fact.u,
        "unit": fact.unit,
        "df": None if math.isinf(fact.df) else fact.df,
        "shape": fact.shape.value,
        "evidence": fact.evidence.value,
        "note": fact.note,
        "on": None if fact.on is None else fact.on.isoformat(),
    }


def fact_of(path: str, said: Stated) -> Fact:
    """The fact that `stated` told of. Raises `KeyError` for a setting."""
    return Fact(
        path,
        said["value"],
        said["u"],
        said["unit"],
        math.inf if said["df"] is None else said["df"],
        Shape(said["shape"]),
        Evidence(said["evidence"]),
        said["note"],
        None if said["on"] is None else datetime.fromisoformat(said["on"]),
    )


def all_stated(facts: FactSet) -> dict[str, Stated]:
    """Every fact and setting of a set that somebody wrote, by path; those taken by a rule follow from them and are left out."""
    known, settings = facts.unasked()
    told = {path: stated(fact) for path, fact in known.items() if fact.where != RULE}
    return told | {path: stated(setting) for path, setting in settings.items()}


def changes(before: Mapping[str, Stated], after: Mapping[str, Stated]) -> tuple[Change, ...]:
    """What differs, in the order of `after`, then what is gone."""
    found = [Change(path, before.get(path), said) for path, said in after.items() if before.get(path) != said]
    return (*found, *(Change(path, said, None) for path, said in before.items() if path not in after))
