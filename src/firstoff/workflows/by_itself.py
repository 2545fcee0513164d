"""A program that belongs to no job: what can be seen of it, what may be said of it, and what of that cannot be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import get_args

from firstoff.errors import Fault, InputError
from firstoff.facts.job import Given, bare_job
from firstoff.facts.materials import material_names
from firstoff.facts.schema import Holding
from firstoff.facts.shop import Shop, load_shop
from firstoff.sheets.records import ReadRecord
from firstoff.verdict.tools import loaded_tool
from firstoff.verdict.words import ShopUnits, listed
from firstoff.workflows import read

TOOL, OFFSET = "tool.", "offset."
"""Fields that there may be several of: ``tool.3``, ``offset.G54``."""
PLAIN = ("material", "stock", "holding", "held_by", "highest_around", "allowed_below", "touched_with")
Typed = Mapping[str, str]
"""Field -> what was typed, with nothing empty in it."""
MOST_TOOLS = 200


@dataclass(frozen=True, slots=True)
class Called:
    """A tool that the program uses."""

    number: int
    """0: no T is called, it is in the spindle already."""
    line: int
    loaded: str
    """What stands there by the shop's own list; it is taken where nothing else is said."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What a program shows before anything is known of it."""

    lines: int
    understood: bool
    tools: tuple[Called, ...]
    offsets: tuple[str, ...]
    """Work systems that it uses."""
    way: str
    """Where its tip goes in its own axes, in a sentence; empty where nothing moves."""

    @property
    def fields(self) -> tuple[str, ...]:
        """Every field that its page has."""
        tools = [f"{TOOL}{one.number}" for one in self.tools]
        return (*PLAIN, *tools, *(f"{OFFSET}{name}" for name in self.offsets))


@dataclass(frozen=True, slots=True)
class Choices:
    """What the shop has to choose from."""

    jobs: tuple[str, ...]
    materials: tuple[str, ...]
    tools: tuple[str, ...]
    kinds: tuple[str, ...]
    """Ways of holding."""


def see(folder: Path, program: Path) -> Seen:
    """Read a program and say what it uses. Raises `InputError` where it is no program text."""
    record, known = read(program, shop=folder).record, load_shop(folder).facts.leaning()
    first = {one.number or 0: one.line for one in reversed(record.tools)}
    tools = [
        Called(number, first[number], (loaded_tool(known, number) or "") if number else "") for number in sorted(first)
    ]
    return Seen(
        lines=record.lines,
        understood=record.understood,
        tools=tuple(tools[:MOST_TOOLS]),
        offsets=tuple(name for name in record.offsets or () if name.startswith("G5")) or ("G54",),
        way=_way(record, folder),
    )


def _way(record: ReadRecord, folder: Path) -> str:
    show = load_shop(folder).facts.settings.get("machine.show")
    units, told = ShopUnits(show is not None and show.value == "inch"), []
    for axis in "xyz":
        span = getattr(record.extents, axis) if record.extents is not None else None
        if span is not None:
            known = record.extents is not None and record.extents.unit == "mm"
            low, high = (units.length(end) if known else f"{end:g}" for end in span)
            told.append(f"{axis.upper()} from {low} to {high}")
    return f"Its tip goes {listed(told)}.".replace("-", "\u2212") if told else ""


def choices(folder: Path) -> Choices:
    """What the shop has to choose from."""
    shop = load_shop(folder)
    kinds = get_args(Holding.model_fields["kind"].annotation)
    return Choices(shop.job_names, material_names(shop.materials), shop.tool_names, tuple(str(one) for one in kinds))


def given_of(typed: Typed) -> Given:
    """What a command line would say."""
    held = f"{typed.get('holding', '')} {typed.get('held_by', '')}".strip()
    return Given(
        material=typed.get("material"),
        stock=typed.get("stock"),
        tools=tuple(f"{name.removeprefix(TOOL)}={said}" for name, said in typed.items() if name.startswith(TOOL)),
        offsets=tuple(f"{name.removeprefix(OFFSET)}={said}" for name, said in typed.items() if name.startswith(OFFSET)),
        holding=held or None,
        highest_around=typed.get("highest_around"),
        allowed_below=typed.get("allowed_below"),
        touched_with=typed.get("touched_with"),
    )


def refused(folder: Path, program: Path, typed: Typed) -> dict[str, Fault]:
    """Field -> what is wrong with it, the first fault of each; "" where two that are fine by themselves do not go together."""
    shop = load_shop(folder)
    if not typed or _fault(shop, program, given_of(typed)) is None:
        return {}
    found = {}
    for name, said in typed.items():
        alone = {name: said}
        if name in ("holding", "held_by"):
            alone = {one: typed[one] for one in ("holding", "held_by") if one in typed}
        elif name == "touched_with":
            alone = {**{one: "0 0 0 mm" for one in typed if one.startswith(OFFSET)}, name: said}
        fault = _fault(shop, program, given_of(alone))
        if fault is not None:
            found[name] = fault
    if "holding" in found and "held_by" in found:
        del found["holding" if "holding" in typed else "held_by"]
    if not found:
        whole = _fault(shop, program, given_of(typed))
        return {"": whole} if whole is not None else {}
    return found


def _fault(shop: Shop, program: Path, given: Given) -> Fault | None:
    try:
        bare_job(program, shop, given)
    except InputError as error:
        first = error.faults[0]
        return replace(
            first, what=_without_place(first.what), allowed=first.allowed.removeprefix("G54="), file="", line=None
        )
    return None


def _without_place(what: str) -> str:
    """Without the option or the key that it would stand under in a file: here it stands beside its field."""
    first, colon, rest = what.partition(": ")
    if colon and " " not in first and ("." in first or first.startswith("T")):
        return rest
    return what.removeprefix("--")
