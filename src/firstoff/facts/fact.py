"""Facts: values with evidence and doubt, and the set of them that one examination leans on.

Internal units: mm, s, N, N·mm, W, rad, mm/s, 1/s (turns of a spindle). See `firstoff.facts.units` for the edges.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum


class Evidence(StrEnum):
    """Where a value comes from; the order is that of growing trust in a value of the world."""

    ASSUMED = "assumed"
    HANDBOOK = "handbook"
    PLATE = "plate"
    MEASURED = "measured"
    LEARNED = "learned"
    SET = "set"  # decided by the shop itself: no doubt


class Shape(StrEnum):
    """The distribution that a fact's doubt is drawn from (JCGM 101:2008, 6.4)."""

    NORMAL = "normal"
    LOGNORMAL = "lognormal"
    UNIFORM = "uniform"


@dataclass(frozen=True, slots=True)
class Where:
    """The place in a user's file that a fact was read from; `line` counts from 1."""

    file: str = ""
    line: int | None = None

    def __str__(self) -> str:
        return f"{self.file}:{self.line}" if self.line else self.file


NOWHERE = Where()
RULE = Where("taken by a rule")
"""Where a fact comes from that nobody stated of it."""


@dataclass(frozen=True, slots=True)
class Fact:
    """A number with its standard uncertainty (GUM 2.3.1), degrees of freedom and evidence."""

    path: str
    """Dotted path, e.g. ``machine.axis.x.travel.high``; see `docs/facts.md` for all of them."""
    value: float
    u: float
    """Standard uncertainty in the fact's unit, never negative; 0 = exact."""
    unit: str
    """Internal unit, e.g. ``mm``."""
    df: float = math.inf
    shape: Shape = Shape.NORMAL
    evidence: Evidence = Evidence.ASSUMED
    note: str = ""
    on: datetime | None = None
    where: Where = NOWHERE
    rests_on: tuple[str, ...] = ()
    """Facts and settings that a rule took this one from, where nobody stated it: whoever leans on it leans on them."""


Word = str | bool | int | datetime | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Setting:
    """A fact that is a word, a yes or no, a count, a time or a list of words: it has no doubt, only presence."""

    path: str
    value: Word
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True)
class FactGroup:
    """Facts from one fit, whose doubts go together; those of facts in no group, and of two groups, are independent."""

    paths: tuple[str, ...]
    correlation: tuple[tuple[float, ...], ...]
    """Of the standard scores (GUM 5.2.2; of the logarithms where a fact is lognormal): symmetric, ones on its diagonal."""

    def between(self, first: str, second: str) -> float:
        """The correlation of two facts of the group."""
        return self.correlation[self.paths.index(first)][self.paths.index(second)]

    def only(self, paths: Collection[str]) -> FactGroup | None:
        """The group without all but `paths`; None where fewer than two are left."""
        kept = [place for place, path in enumerate(self.paths) if path in paths]
        if len(kept) < 2:
            return None
        rows = tuple(tuple(self.correlation[row][column] for column in kept) for row in kept)
        return FactGroup(tuple(self.paths[place] for place in kept), rows)


@dataclass(frozen=True, slots=True)
class FactSet:
    """All facts of one examination by dotted path; each uncertain number exists once.

    Two questions that lean on the same path share the same draw of it: that is what makes their chances joint.
    """

    facts: Mapping[str, Fact] = field(default_factory=dict)
    settings: Mapping[str, Setting] = field(default_factory=dict)
    groups: tuple[FactGroup, ...] = ()
    """Facts that are not independent of each other; no path stands in two of them."""

    def group_of(self, path: str) -> FactGroup | None:
        """The group that a fact belongs to, if any."""
        return next((group for group in self.groups if path in group.paths), None)

    def leaning(self) -> Leaning:
        """A view that hands out facts and records which were leaned on and which were missing."""
        return Leaning(self)

    def under(self, prefix: str) -> Iterator[str]:
        """Paths of facts and settings that begin with `prefix` (which ends in a dot), in file order."""
        for path in (*self.facts, *self.settings):
            if path.startswith(prefix):
                yield path

    def has(self, path: str) -> bool:
        return path in self.facts or path in self.settings

    def unasked(self) -> tuple[Mapping[str, Fact], Mapping[str, Setting]]:
        """Facts and settings for whoever only writes down what is there: no answer hangs on it, so it counts as asking for nothing."""
        return self.facts, self.settings

    def with_values(self, values: Mapping[str, float]) -> FactSet:
        """The same facts with other best estimates: how a hidden machine is made, and how a fact is moved by one u."""
        facts = dict(self.facts)
        for path, value in values.items():
            facts[path] = replace(facts[path], value=value)
        return FactSet(facts, self.settings, self.groups)

    def with_facts(self, added: Mapping[str, Fact], groups: tuple[FactGroup, ...] | None = None) -> FactSet:
        """The same facts and `added`, which take the place of those of their path; `groups` where they change."""
        return FactSet({**self.facts, **added}, self.settings, self.groups if groups is None else groups)

    def without(self, prefix: str) -> FactSet:
        """The same facts without `prefix` itself and everything below it."""

        def stays(path: str) -> bool:
            return path != prefix and not path.startswith(prefix + ".")

        left = {path: fact for path, fact in self.facts.items() if stays(path)}
        return FactSet(
            left,
            {path: setting for path, setting in self.settings.items() if stays(path)},
            tuple(kept for group in self.groups if (kept := group.only(left)) is not None),
        )


@dataclass(slots=True)
class Leaning:
    """Hands out facts of a `FactSet` and keeps the record: the recheck and "I can't say" both live on it."""

    facts: FactSet
    leaned: dict[str, None] = field(default_factory=dict)
    """Paths that were there and were used, in the order of first use."""
    needed: dict[str, None] = field(default_factory=dict)
    """Those of `leaned` that cannot be done without: take one away and the question says "I can't say"."""
    missing: dict[str, None] = field(default_factory=dict)
    """Paths that were needed and are not there."""

    def number(self, path: str) -> Fact | None:
        """The fact at `path`, needed: its absence is recorded as missing."""
        fact = self.facts.facts.get(path)
        self._need(path, fact is not None)
        self._lean_on_what_it_rests_on(fact)
        return fact

    def _lean_on_what_it_rests_on(self, fact: Fact | None) -> None:
        for path in fact.rests_on if fact is not None else ():
            if self.facts.has(path):
                self.leaned[path] = None

    def setting(self, path: str) -> Word | None:
        """The word at `path`, needed: its absence is recorded as missing."""
        setting = self.facts.settings.get(path)
        self._need(path, setting is not None)
        return None if setting is None else setting.value

    def _need(self, path: str, there: bool) -> None:
        if there:
            self.leaned[path] = None
            self.needed[path] = None
        else:
            self.missing[path] = None

    def number_if_known(self, path: str) -> Fact | None:
        """The fact at `path` if the shop knows it; doing without is fine and is no need."""
        fact = self.facts.facts.get(path)
        if fact is not None:
            self.leaned[path] = None
            self._lean_on_what_it_rests_on(fact)
        return fact

    def setting_if_known(self, path: str) -> Word | None:
        """The word at `path` if the shop knows it; doing without is fine and is no need."""
        setting = self.facts.settings.get(path)
        if setting is not None:
            self.leaned[path] = None
            return setting.value
        return None
