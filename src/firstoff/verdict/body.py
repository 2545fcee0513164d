"""The body that a tool makes with its holder and the spindle nose, as discs seen from the gauge point."""

from __future__ import annotations

from firstoff.facts.fact import Leaning
from firstoff.verdict.boxes import Disc
from firstoff.verdict.case import spindle_tool, tool_radius
from firstoff.verdict.forms import Form, of


def body(facts: Leaning, tool: int) -> tuple[Disc, ...] | None:
    """Discs of the tool, its holder (where known) and the nose, bottoms measured from the gauge point; None if a needed fact is missing.

    Needed: the tool's length and diameter, and the nose. Heights grow upwards, so the tip lies at −LF.
    """
    name = spindle_tool(facts, tool)
    nose = _stack(facts, "machine.spindle.nose", Form(0.0), "nose")
    if not nose:
        facts.number("machine.spindle.nose.0.diameter")
    if name is None:
        return None
    radius, length = tool_radius(facts, name), facts.number(f"tools.{name}.LF")
    if radius is None or length is None or not nose:
        return None
    discs = [Disc("tool", radius, -of(length)), *nose]
    overhang = facts.number_if_known(f"tools.{name}.OHX")
    if overhang is not None:
        discs += _stack(facts, f"tools.{name}.holder", of(overhang) - of(length), "holder")
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
