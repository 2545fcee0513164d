"""The crib as the shop's files tell it: each tool with where it is, how it is gripped, how it fares, and what nobody knows of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from firstoff.changer.length_window import Alike, LengthWindow, alike, window_of
from firstoff.changer.rack import Beside, Rack, misfits, rack_of
from firstoff.facts.fact import Fact, FactSet
from firstoff.facts.gripped import HELD_IN, as_gripped, gripped_anew, voided

NOT_TOOLS = ("pocket", "register", "holder", "setter", "rack", "in_spindle")
"""What else stands below ``tools.`` in paths."""


class Whereabouts(StrEnum):
    """Where a tool can be."""

    SPINDLE = "spindle"
    POCKET = "pocket"
    PLACE = "place"
    NOT_SAID = "not said"


@dataclass(frozen=True, slots=True)
class Item:
    """One tool of the crib."""

    name: str
    kind: str | None
    diameter: Fact | None
    where: Whereabouts
    pocket: int | None
    """That it stands in, or that waits for it."""
    place: str | None
    """In words, where it is in no pocket."""
    length: Fact | None
    """LF; None where nobody measured it, or a new grip made it void."""
    stick_out: Fact | None
    void: tuple[Fact, ...]
    """What a new grip made void."""
    gripped_anew: datetime | None
    holder: str | None
    """The holder's name."""
    gripped: bool
    """In a holder at all: by name, or with steps of its own."""
    life: Fact | None
    used_up: Fact | None
    condition: str | None
    sisters: tuple[str, ...]
    broke: datetime | None
    broke_why: str | None
    window: LengthWindow | None
    window_needs: tuple[str, ...]
    """Facts that its length window lacks."""

    @property
    def life_used(self) -> float | None:
        """Share of the edge's life that is used up."""
        if self.life is None or self.used_up is None or self.life.value <= 0:
            return None
        return self.used_up.value / self.life.value

    @property
    def loaded(self) -> bool:
        return self.where in (Whereabouts.SPINDLE, Whereabouts.POCKET)


@dataclass(frozen=True, slots=True)
class HolderState:
    """One holder of the crib."""

    name: str
    low_mm: float | None
    high_mm: float | None
    """Shanks that it grips; None where nobody says."""
    holds: str | None
    described: bool
    """Whether its steps are known."""


@dataclass(frozen=True, slots=True)
class Crib:
    """All of it."""

    items: tuple[Item, ...]
    """In the order of the file."""
    holders: tuple[HolderState, ...]
    rack: Rack
    clashes: tuple[Beside, ...]
    """Tools in the rack that do not fit beside each other, or of which nobody can tell."""
    alike: tuple[Alike, ...]
    """Loaded tools that the length check cannot tell apart."""
    facts: FactSet
    """With what holders give, and without what is void."""

    def item(self, name: str) -> Item | None:
        return next((one for one in self.items if one.name == name), None)

    def holder(self, name: str) -> HolderState | None:
        return next((one for one in self.holders if one.name == name), None)


def crib_of(shop: FactSet) -> Crib:
    """The crib of a shop's own facts."""
    facts = as_gripped(shop)
    names = tool_names(facts)
    rack = rack_of(facts, names)
    items = tuple(_item(shop, facts, name, rack) for name in names)
    windows: Mapping[str, LengthWindow] = {
        one.name: one.window for one in items if one.loaded and one.window is not None
    }
    return Crib(items, _holders(facts), rack, misfits(rack), alike(windows), facts)


def tool_names(facts: FactSet) -> tuple[str, ...]:
    """Names of the tools that are described at all."""
    parts = (path.split(".") for path in facts.under("tools."))
    return tuple(dict.fromkeys(part[1] for part in parts if len(part) > 2 and part[1] not in NOT_TOOLS))


def _item(shop: FactSet, facts: FactSet, name: str, rack: Rack) -> Item:
    at = f"tools.{name}."
    numbers = facts.facts
    leaning = facts.leaning()
    window = window_of(leaning, name)
    pocket, place = rack.pocket_of(name), _word(facts, f"{at}place")
    return Item(
        name=name,
        kind=_word(facts, f"{at}kind"),
        diameter=numbers.get(f"{at}DC"),
        where=_where(rack, name, pocket, place),
        pocket=pocket,
        place=place,
        length=numbers.get(f"{at}LF"),
        stick_out=numbers.get(f"{at}OHX"),
        void=voided(shop, name),
        gripped_anew=gripped_anew(shop, name),
        holder=_word(facts, f"{at}{HELD_IN}"),
        gripped=f"{at}{HELD_IN}" in facts.settings or f"{at}holder.0.diameter" in numbers,
        life=numbers.get(f"{at}life"),
        used_up=numbers.get(f"{at}used_up"),
        condition=_word(facts, f"{at}condition"),
        sisters=_words(facts, f"{at}sister"),
        broke=_moment(facts, f"{at}broke"),
        broke_why=_word(facts, f"{at}broke_why"),
        window=window,
        window_needs=tuple(leaning.missing),
    )


def _where(rack: Rack, name: str, pocket: int | None, place: str | None) -> Whereabouts:
    if rack.in_spindle == name:
        return Whereabouts.SPINDLE
    if pocket is not None:
        return Whereabouts.POCKET
    return Whereabouts.PLACE if place is not None else Whereabouts.NOT_SAID


def _holders(facts: FactSet) -> tuple[HolderState, ...]:
    at = "tools.holder."
    holding = {
        str(facts.settings[path].value): path.split(".")[1]
        for path in facts.settings
        if path.startswith("tools.") and path.endswith(f".{HELD_IN}")
    }
    names = dict.fromkeys(path.split(".")[2] for path in facts.under(at))
    found = []
    for name in names:
        low, high = (facts.facts.get(f"{at}{name}.grips.{end}") for end in ("low", "high"))
        found.append(
            HolderState(
                name,
                low.value if low is not None else None,
                high.value if high is not None else None,
                holding.get(name),
                f"{at}{name}.steps.0.diameter" in facts.facts,
            )
        )
    return tuple(found)


def _word(facts: FactSet, path: str) -> str | None:
    said = facts.settings.get(path)
    return said.value if said is not None and isinstance(said.value, str) else None


def _words(facts: FactSet, path: str) -> tuple[str, ...]:
    said = facts.settings.get(path)
    return said.value if said is not None and isinstance(said.value, tuple) else ()


def _moment(facts: FactSet, path: str) -> datetime | None:
    said = facts.settings.get(path)
    return said.value if said is not None and isinstance(said.value, datetime) else None
