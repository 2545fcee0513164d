"""The body that a tool makes with its holder and the spindle nose, as discs seen from the gauge point."""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.facts.fact import Leaning
from firstoff.verdict.boxes import Disc
from firstoff.verdict.forms import Form, of
from firstoff.verdict.tools import spindle_tool, tool_radius

NOSE = "machine.spindle.nose"


@dataclass(frozen=True, slots=True)
class Body:
    """Discs with bottoms measured from the gauge point (heights grow upwards: the tip lies at −LF).

    `stand_in` is there where the holder is not known: a disc as wide as the nose from the tip up, wider than any holder it can carry.
    What is clear of it is clear of the holder; what is not asks for `asks_for`.
    """

    tool: Disc
    above: tuple[Disc, ...]
    """Holder (where known) and nose."""
    stand_in: Disc | None
    asks_for: tuple[str, ...]


def body(facts: Leaning, tool: int) -> Body | None:
    """The body of a T number; None if its length or diameter, or the nose, is missing (which is recorded)."""
    name = spindle_tool(facts, tool)
    nose = nose_discs(facts)
    if name is None:
        return None
    radius, length = tool_radius(facts, name), facts.number(f"tools.{name}.LF")
    if radius is None or length is None or not nose:
        return None
    overhang = facts.number_if_known(f"tools.{name}.OHX")
    holder = _stack(facts, f"tools.{name}.holder", of(overhang) - of(length), "holder") if overhang is not None else []
    asks_for = () if holder else (f"tools.{name}.OHX",) if overhang is None else (f"tools.{name}.holder",)
    widest = max(disc.radius_mm for disc in nose)
    stand_in = None if holder else Disc("holder", widest, -of(length))
    return Body(Disc("tool", radius, -of(length)), (*holder, *nose), stand_in, asks_for)


def nose_discs(facts: Leaning) -> tuple[Disc, ...]:
    """The spindle nose from the gauge line up; empty (the missing fact is recorded) where nobody has described it."""
    discs = _stack(facts, NOSE, Form(0.0), "nose")
    if not discs:
        facts.number(f"{NOSE}.0.diameter")
    return tuple(discs)


def _stack(facts: Leaning, prefix: str, bottom: Form, name: str) -> list[Disc]:
    discs = []
    index = 0
    while (diameter := facts.number_if_known(f"{prefix}.{index}.diameter")) is not None:
        discs.append(Disc(name, diameter.value / 2, bottom))
        length = facts.number_if_known(f"{prefix}.{index}.length")
        if length is None:
            break
        bottom = bottom + of(length)
        index += 1
    return discs
