"""Readings that cannot be those of a tool as the crib knows it: a slip of the pen, another edge, another cutter."""

from __future__ import annotations

import math
from collections.abc import Sequence

from firstoff.changer.crib import Crib, Item
from firstoff.errors import Fault, InputError

FARTHEST_MM = 15.0
"""From the length that stands, or from stick-out and holder height together: more is a slip or another tool (common practice: a re-seated
tool of the same holder moves by less)."""
MM_PER_INCH = 25.4


def refuse_unlikely(crib: Crib, item: Item, readings_mm: Sequence[float], *, inch: bool = False) -> None:
    """Raise `InputError` with every figure that the readings contradict: a tool in no holder at all, the length window where there is one, the length that stands, and
    stick-out with holder height, where they are known. Figures are told in inches with `inch`."""
    if not readings_mm or not all(math.isfinite(one) for one in readings_mm):
        return  # `mean_length` says what is wrong with these
    if not item.gripped and item.length is None:
        what = f"{item.name} is in no holder: it has no length from the gauge line"
        do = f"firstoff crib grip {item.name} HOLDER first; or --yes if it is in one that nobody has described."
        raise InputError(Fault(what, _length(readings_mm[0], inch), "a tool that is gripped", do=do))
    faults = [*_against_length(item, readings_mm, inch), *_against_parts(crib, item, readings_mm, inch)]
    if faults:
        raise InputError(*faults)


def _against_length(item: Item, readings_mm: Sequence[float], inch: bool) -> list[Fault]:
    """Outside the window, or too far from the length that stands."""
    if item.length is None:
        return []
    stands = item.length.value
    limit, named = FARTHEST_MM, "of the length that stands"
    if item.window is not None and item.window.limit_mm < FARTHEST_MM:
        limit, named = item.window.limit_mm, "its length window"
    far = max(readings_mm, key=lambda one: abs(one - stands))
    if abs(far - stands) <= limit:
        return []
    way = "shorter" if far < stands else "longer"
    what = f"{item.name} would be {_length(abs(far - stands), inch)} {way} than its {_length(stands, inch)}"
    allowed = f"{_length(stands - limit, inch)} to {_length(stands + limit, inch)}, {named}"
    grip = f"firstoff crib grip {item.name} {item.holder or 'HOLDER'}"
    do = f"Read it again; a new edge or another cutter: firstoff crib fresh {item.name}, or {grip}, first; or --yes if it really is so long."
    return [Fault(what, _length(far, inch), allowed, do=do)]


def _against_parts(crib: Crib, item: Item, readings_mm: Sequence[float], inch: bool) -> list[Fault]:
    """Too far from stick-out and holder height together, where both are known."""
    height = holder_height_mm(crib, item.name)
    if height is None or item.stick_out is None:
        return []
    parts = item.stick_out.value + height
    far = max(readings_mm, key=lambda one: abs(one - parts))
    if abs(far - parts) <= FARTHEST_MM:
        return []
    what = (
        f"{item.name} sticks out {_length(item.stick_out.value, inch)} of a holder of {_length(height, inch)}: together "
        f"{_length(parts, inch)}"
    )
    allowed = f"{_length(parts - FARTHEST_MM, inch)} to {_length(parts + FARTHEST_MM, inch)}"
    do = (
        f"Read it again; if stick-out or holder are wrong, mend OHX of {item.name} or the holder's steps in tools.toml first; "
        "or --yes if it really is so long."
    )
    return [Fault(what, _length(far, inch), allowed, do=do)]


def holder_height_mm(crib: Crib, name: str) -> float | None:
    """From the holder's lower end to the gauge line: all its steps; None where nobody has described them."""
    numbers, height, step = crib.facts.facts, 0.0, 0
    while f"tools.{name}.holder.{step}.diameter" in numbers:
        length = numbers.get(f"tools.{name}.holder.{step}.length")
        if length is None:
            return None
        height += length.value
        step += 1
    return height if step else None


def _length(mm: float, inch: bool) -> str:
    return f"{mm / MM_PER_INCH:.4f} in" if inch else f"{mm:.3f} mm"
