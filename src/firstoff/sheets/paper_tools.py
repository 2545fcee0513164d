"""The table of tools of the PDF sheet: where each stands and who it is, its length with the window, what this job takes of its life."""

from __future__ import annotations

from typing import Any

from firstoff.facts.fact import FactSet
from firstoff.sheets.rack_scales import LifeShown, life_svg
from firstoff.sheets.sheet_facts import ToolRow
from firstoff.sheets.tool_tables import tool_cells
from firstoff.sheets.typst_paper import Drawing
from firstoff.verdict.words import ShopUnits

NOT_EDGES = ("probe",)
"""Kinds that do not wear by cutting."""
MINUTE = 60.0
LETTERS = (30, 9)
"""Of what a tool looks like and of its registers: these are cut, numbers never are."""
WIDE = (10.5, 8.5, 56.0, 16.5, 20.5, 13.5, 11.5, 9.0, 23.5, 10.5)
"""Widths of the columns in `heads`, mm: they fill the column of 180."""


def heads(units: ShopUnits, tick: bool) -> list[str]:
    """Names of the columns."""
    unit = "in" if units.inch else "mm"
    names = ["pocket", "T", f"tool ({unit})", "out OHX", "length LF", "window", "H, D", "min", "life used"]
    return [*names, *(["in"] if tick else [])]


def widths(tick: bool) -> list[float]:
    """Of the columns, mm."""
    if tick:
        return [*WIDE]
    return [one * sum(WIDE) / sum(WIDE[:-1]) for one in WIDE[:-1]]


def row(one: ToolRow, facts: FactSet, units: ShopUnits, name_letters: int, speeds: bool) -> dict[str, Any]:
    """A tool as the template sets it: `speeds` adds a line with its spindle speeds and feeds."""
    cells = [words for _, words in tool_cells(one, units, (name_letters, *LETTERS))]
    pocket, tool, name, looks, out, length, window, registers, turns, feeds = cells
    return {
        "pocket": pocket,
        "tool": tool,
        "name": name,
        "looks": looks,
        "speeds": f"S {turns}, F {feeds}" if speeds else "",
        "figures": [out, length, window, registers, "–" if one.minutes is None else f"{one.minutes:.1f}"],
        "life": _life(facts, one),
    }


def _life(facts: FactSet, one: ToolRow) -> Drawing | str:
    """The small rule of its edge's life, dotted where nobody knows; empty for what does not wear."""
    kind = facts.settings.get(f"tools.{one.name}.kind")
    if kind is not None and kind.value in NOT_EDGES:
        return ""
    life, used = (facts.facts.get(f"tools.{one.name}.{key}") for key in ("life", "used_up"))
    over = life is not None and used is not None and used.value + (one.minutes or 0.0) * MINUTE > life.value
    shown = LifeShown(
        None if used is None else used.value,
        0.0 if used is None else used.u,
        None if life is None else life.value,
        0.0 if life is None else life.u,
        over,
    )
    return Drawing(life_svg(shown, "life used"))
