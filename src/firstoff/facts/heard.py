"""Facts that note what is asked of them: every path that is looked up, there or not, and every part of the tree that is gone through.

A `Leaning` keeps what a question means to lean on, for whoever reads the answer. This keeps what was really read, by anybody between the
text of the program and the answer. An examination is reckoned from nothing else, so it comes out the same, to the last digit, as long as
everything that was asked still says the same (and the files are the same, and the code): `recheck` lives on that.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TypeVar, overload

from firstoff.facts.change import Stated, stated
from firstoff.facts.fact import Fact, FactGroup, FactSet, Setting

T = TypeVar("T")
D = TypeVar("D")
NOT_THERE: Stated = {}
"""What is kept of a path that was asked for and that nobody states."""


class Heard(Mapping[str, T]):
    """A mapping that notes in `asked` each path that is looked up; going through all of it counts as asking for everything ("")."""

    __slots__ = ("asked", "plain")

    def __init__(self, plain: Mapping[str, T], asked: dict[str, None]) -> None:
        self.plain, self.asked = plain, asked

    def __getitem__(self, path: str) -> T:
        self.asked[path] = None
        return self.plain[path]

    @overload
    def get(self, path: str, /) -> T | None: ...
    @overload
    def get(self, path: str, /, default: T | D) -> T | D: ...
    def get(self, path: str, /, default: D | None = None) -> T | D | None:
        self.asked[path] = None
        return self.plain.get(path, default)

    def __contains__(self, path: object) -> bool:
        if isinstance(path, str):
            self.asked[path] = None
        return path in self.plain

    def __iter__(self) -> Iterator[str]:
        self.asked[""] = None
        return iter(self.plain)

    def __len__(self) -> int:
        return len(self.plain)


@dataclass(frozen=True, slots=True)
class HeardFacts(FactSet):
    """A `FactSet` that notes what is asked of it, in one place with all that are made from it."""

    asked: dict[str, None] = field(default_factory=dict)
    """Paths asked for, and with a dot at their end the beginnings of paths that were gone through."""

    def under(self, prefix: str) -> Iterator[str]:
        self.asked[prefix] = None
        yield from (path for path in all_paths(self) if path.startswith(prefix))

    def unasked(self) -> tuple[Mapping[str, Fact], Mapping[str, Setting]]:
        return _plain(self.facts), _plain(self.settings)

    def with_values(self, values: Mapping[str, float]) -> FactSet:
        return self._like(FactSet(*self.unasked(), self.groups).with_values(values))

    def without(self, prefix: str) -> FactSet:
        return self._like(FactSet(*self.unasked(), self.groups).without(prefix))

    def _like(self, facts: FactSet) -> FactSet:
        """Others that note into the same place."""
        return HeardFacts(Heard(facts.facts, self.asked), Heard(facts.settings, self.asked), facts.groups, self.asked)

    def with_facts(self, added: Mapping[str, Fact], groups: tuple[FactGroup, ...] | None = None) -> FactSet:
        facts = Heard({**_plain(self.facts), **added}, self.asked)
        return HeardFacts(facts, self.settings, self.groups if groups is None else groups, self.asked)


def hearing(facts: FactSet) -> HeardFacts:
    """The same facts, noting from now on what is asked of them. What makes facts go together counts as asked for."""
    asked: dict[str, None] = {}
    material = facts.settings.get("job.material")
    if material is not None:
        asked["job.material"] = None
        asked[f"materials.{material.value}.kc_mc_correlation"] = None
    plain = Heard(_plain(facts.facts), asked), Heard(_plain(facts.settings), asked)
    return HeardFacts(*plain, facts.groups, asked)


def all_paths(facts: FactSet) -> tuple[str, ...]:
    """Paths of all facts and settings, in file order; asking for them asks for nothing that they say."""
    return (*_plain(facts.facts), *_plain(facts.settings))


def said_of(facts: FactSet, asked: Mapping[str, object]) -> dict[str, Stated]:
    """What `facts` say to everything in `asked`, by path in order of name: a fact or setting as JSON, `NOT_THERE`, or the paths that lie under a
    beginning that ends in a dot (or is empty: all of them)."""
    known: dict[str, Fact | Setting] = {**_plain(facts.facts), **_plain(facts.settings)}
    said: dict[str, Stated] = {}
    for path in sorted(asked):
        if path == "" or path.endswith("."):
            said[path] = {"setting": [one for one in known if one.startswith(path)]}
        else:
            said[path] = stated(known[path]) if path in known else NOT_THERE
    return said


def _plain(mapping: Mapping[str, T]) -> Mapping[str, T]:
    return mapping.plain if isinstance(mapping, Heard) else mapping
