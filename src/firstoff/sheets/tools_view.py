"""The tools as their page shows them: the rack's pockets in order with what stands under each, and all that is not in the rack."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from firstoff.changer.crib import Crib, Item, Whereabouts
from firstoff.changer.drift import LengthDrift
from firstoff.changer.rack import Fit
from firstoff.facts.fact import Fact
from firstoff.facts.quantity import format_quantity
from firstoff.sheets.crib_list import age_of, length_words, what_words, where_words
from firstoff.sheets.fact_words import date_words
from firstoff.sheets.rack_picture import SPINDLE, Gauge, Hung, Pocket, gauge_of, hung, pocket_svg, rule_svg
from firstoff.sheets.rack_scales import LifeShown, WindowShown, life_svg, window_svg
from firstoff.sheets.tool_fares import Act, Fares, fares, first_act, first_sentence, last_measured, spelled
from firstoff.sheets.wording import minus
from firstoff.verdict.question import Answer
from firstoff.verdict.words import MM_PER_INCH, ShopUnits, listed, part

WIDE_ROW, TABLET_ROW, NARROW_ROW = 12, 8, 3
"""Most pockets in a row on a desktop, on a tablet and in a narrow window."""
WIDE_PX = 1310.0
"""Of a row on a desktop."""
FINE_MM = 0.1


@dataclass(frozen=True, slots=True)
class Cell:
    """One pocket, or the spindle, with what stands under it."""

    head: str
    """Pocket number, or ``spindle``."""
    tool: str | None
    away: bool
    """Its tool is in the spindle."""
    T: str
    answer: Answer | None
    reasons: tuple[str, ...]
    what: str
    length: str
    window: str
    window_words: str
    life: str
    life_words: str
    others: tuple[str, ...]
    """What may stand in, in words."""
    drawing: str
    label: str
    """All of it as one text."""


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """A tool that stands in no pocket and not in the spindle."""

    name: str
    where: str
    what: str
    answer: Answer
    reasons: tuple[str, ...]
    length: str
    age: str
    stick_out: str
    holder: str
    life: str


@dataclass(frozen=True, slots=True)
class HolderRow:
    name: str
    grips: str
    holds: str


@dataclass(frozen=True, slots=True)
class ToolsView:
    """Everything that the page shows of the crib."""

    sentence: str
    act: Act | None
    filled: str
    measured: str
    cells: tuple[Cell, ...]
    rule: str
    rows: tuple[int, int, int]
    """Pockets in a row: desktop, tablet, narrow."""
    elsewhere: tuple[Elsewhere, ...]
    holders: tuple[HolderRow, ...]


def tools_view(crib: Crib, drifts: Mapping[str, LengthDrift], units: ShopUnits, now: datetime) -> ToolsView:
    """The view of a crib."""
    found = {item.name: fares(item, crib, drifts.get(item.name), units) for item in crib.items}
    shapes = {item.name: hung(crib.facts, item.name) for item in crib.items}
    heads = _heads(crib)
    rows = _rows(len(heads))
    shown = [shapes.get(tool) for _, tool in heads if tool is not None]
    gauge = gauge_of(shown, min(WIDE_PX / max(rows[0], 1), 150.0))
    cells = tuple(_cell(crib, head, tool, n, shapes, found, gauge, units, now) for n, (head, tool) in enumerate(heads))
    apart = [item for item in crib.items if not item.loaded]
    return ToolsView(
        first_sentence(crib, found),
        first_act(crib, found),
        _filled(crib),
        last_measured(crib.items, now),
        cells,
        rule_svg(gauge),
        rows,
        tuple(_elsewhere(item, found[item.name], units, now) for item in apart),
        tuple(HolderRow(one.name, _grips(one.low_mm, one.high_mm, units), one.holds or "") for one in crib.holders),
    )


_ROUND = re.compile(r"(\.\d+)0\((\d)0\)")


def round_words(words: str) -> str:
    """71.3150(60) says no more than 71.315(6)."""
    return _ROUND.sub(r"\1(\2)", words)


def _heads(crib: Crib) -> list[tuple[str, str | None]]:
    """(number or spindle, tool), the spindle first where something is in it."""
    spindle = [(SPINDLE, crib.rack.in_spindle)] if crib.rack.in_spindle is not None else []
    return [*spindle, *((str(n), crib.rack.held.get(n)) for n in crib.rack.pockets)]


def _rows(number: int) -> tuple[int, int, int]:
    """As few rows as will do, filled alike."""

    def across(most: int) -> int:
        rows = max(math.ceil(number / most), 1)
        return max(math.ceil(number / rows), 1)

    return across(WIDE_ROW), across(TABLET_ROW), across(NARROW_ROW)


def _filled(crib: Crib) -> str:
    pockets, held = len(crib.rack.pockets), len(crib.rack.held)
    if not pockets:
        return "no pocket is described"
    if held == pockets:
        return f"all {spelled(pockets)} pockets filled"
    return f"{spelled(held)} of {spelled(pockets)} pockets filled"


def _cell(
    crib: Crib,
    head: str,
    tool: str | None,
    serial: int,
    shapes: Mapping[str, Hung | None],
    found: Mapping[str, Fares],
    gauge: Gauge,
    units: ShopUnits,
    now: datetime,
) -> Cell:
    spindle = head == SPINDLE
    away = not spindle and tool is not None and crib.rack.in_spindle == tool
    shape = shapes.get(tool) if tool is not None else None
    drawing = pocket_svg(
        Pocket(head, shape, tool is not None, away, _unknown(crib, tool), _misfit(crib, head)), gauge, serial
    )
    where = "spindle" if spindle else f"pocket {head}"
    item = crib.item(tool) if tool is not None else None
    if item is None or away:
        words = f"{where}: waits for {tool}" if away else f"{where}: empty" if tool is None else f"{where}: {tool}"
        return Cell(head, tool, away, "", None, (), "", "", "", "", "", "", (), drawing, words)
    fare = found[item.name]
    window, window_words = _window(item, fare, units, now)
    life, life_words = _life(item, fare)
    reasons = tuple(words for _, words in fare.reasons)
    what, length = _what(crib, item, units), _length(item, units)
    others = (f"{listed(list(item.sisters))} may stand in",) if item.sisters else ()
    told = [f"{where}: {item.name}", what, length, window_words, life_words, fare.answer.value, *reasons, *others]
    label = ", ".join(one for one in told if one)
    return Cell(
        head, item.name, False, _t_words(crib, item), fare.answer, reasons, what, length, window, window_words, life,
        life_words, others, drawing, label,
    )  # fmt: skip


def _unknown(crib: Crib, tool: str | None) -> str:
    item = crib.item(tool) if tool is not None else None
    return "no length" if item is not None and item.length is None else "no shape"


def _misfit(crib: Crib, head: str) -> str:
    """Whether the tool of the next pocket does not surely fit beside this one's."""
    numbers = [str(n) for n in crib.rack.pockets]
    after = dict(pairwise(numbers)).get(head)
    for pair in crib.clashes:
        if {str(pair.pocket), str(pair.other_pocket)} == {head, after}:
            return "clashes" if pair.fit is Fit.CLASHES else "cannot tell"
    return ""


def _t_words(crib: Crib, item: Item) -> str:
    """The T that calls it: its pocket, or its line of the control's table."""
    means = crib.facts.settings.get("machine.control.t_means")
    if means is None or means.value == "pocket":
        return f"T{item.pocket}" if item.pocket is not None else ""
    lines = [path for path, said in crib.facts.settings.items() if path.startswith("tools.register.") and path.endswith(".tool") and said.value == item.name]  # fmt: skip
    return ", ".join(f"T{path.split('.')[2]}" for path in lines)


def _what(crib: Crib, item: Item, units: ShopUnits) -> str:
    edges = crib.facts.settings.get(f"tools.{item.name}.ZEFP")
    words = what_words(item, units)
    if edges is None or item.kind in ("drill", "probe", "tap"):
        return words
    return f"{words}, {edges.value}\N{NO-BREAK SPACE}edge{'' if edges.value == 1 else 's'}"


def _length(item: Item, units: ShopUnits) -> str:
    return "LF not known" if item.length is None else f"LF {round_words(length_words(item.length, units))}"


# --- the two rules ----------------------------------------------------------------------------------------------------


def _window(item: Item, fare: Fares, units: ShopUnits, now: datetime) -> tuple[str, str]:
    last = fare.last
    if item.length is None:
        return window_svg(WindowShown(None, None, 0.0, False), "", "", "No length"), "no length"
    limit = last.limit_mm if last is not None else item.window.limit_mm if item.window is not None else None
    age = age_of(item.length, now)
    set_words = f"set {age if age == 'today' else age + ' ago'}" if age and "assumed" not in age else "not measured"
    words = _signed(last.change_mm, last.u_mm, units) if last is not None else set_words
    if limit is None:
        return window_svg(WindowShown(None, 0.0, 0.0, False), "", "", words), "no window known"
    u = last.u_mm if last is not None else item.length.u
    low, high = (_stop_words(side * limit, units) for side in (-1, 1))
    against = last is not None and last.kept is not True
    label = f"Length window {low} to {high}; {words}"
    shown = WindowShown(limit, last.change_mm if last is not None else 0.0, u, against)
    return window_svg(shown, low, high, label), words


def _small(units: ShopUnits) -> tuple[str, float]:
    return ("thou", 1e3 / MM_PER_INCH) if units.inch else ("µm", 1e3)


def _signed(mm: float, u_mm: float, units: ShopUnits) -> str:
    unit, factor = _small(units) if abs(mm) < FINE_MM else (("in", 1 / MM_PER_INCH) if units.inch else ("mm", 1.0))
    words = round_words(format_quantity(mm * factor, u_mm * factor, unit))
    return minus(words if words.startswith("-") else f"+{words}")


def _stop_words(mm: float, units: ShopUnits) -> str:
    unit, factor = _small(units) if abs(mm) < FINE_MM else (("in", 1 / MM_PER_INCH) if units.inch else ("mm", 1.0))
    figure = (
        f"{mm * factor:+.0f}"
        if abs(mm * factor) >= 10
        else f"{mm * factor:+.1f}"
        if unit in ("µm", "thou")
        else f"{mm * factor:+.2f}"
    )
    return minus(figure) + (f" {unit}" if mm > 0 else "")


def _life(item: Item, fare: Fares) -> tuple[str, str]:
    life, used = item.life, item.used_up
    words = _life_words(life, used)
    if item.kind == "probe":
        return "", ""
    against = any(kind in ("worn", "near") for kind, _ in fare.reasons)
    shown = LifeShown(
        used.value if used is not None else None,
        used.u if used is not None else 0.0,
        life.value if life is not None else None,
        life.u if life is not None else 0.0,
        against,
    )
    return life_svg(shown, f"Life: {words}"), words


def _life_words(life: Fact | None, used: Fact | None) -> str:
    if life is None and used is None:
        return "life not known"
    if life is None or used is None:
        known = life if life is not None else used
        assert known is not None
        return f"{format_quantity(known.value / 60, known.u / 60, 'min')} {'of life' if used is None else 'cut'}"
    return f"{used.value / 60:.3g} of {round_words(format_quantity(life.value / 60, life.u / 60, 'min'))}"


# --- what is not in the rack ------------------------------------------------------------------------------------------


def _elsewhere(item: Item, fare: Fares, units: ShopUnits, now: datetime) -> Elsewhere:
    used = item.life_used
    return Elsewhere(
        item.name,
        "nobody says" if item.where is Whereabouts.NOT_SAID else where_words(item),
        what_words(item, units),
        fare.answer,
        tuple(words for _, words in fare.reasons),
        "not known" if item.length is None else round_words(length_words(item.length, units)),
        age_of(item.length, now),
        "" if item.stick_out is None else round_words(length_words(item.stick_out, units)),
        item.holder or ("" if item.gripped else "none"),
        "" if used is None else f"{part(used)} used",
    )


def _grips(low: float | None, high: float | None, units: ShopUnits) -> str:
    if low is None or high is None:
        return "nobody says"
    unit, factor = ("in", 1 / MM_PER_INCH) if units.inch else ("mm", 1.0)
    return f"{low * factor:.3g} to {high * factor:.3g} {unit}"


def broke_words(item: Item) -> str:
    """When it broke last, and why."""
    if item.broke is None:
        return ""
    return f"broke {date_words(item.broke)}" + (f", {item.broke_why}" if item.broke_why else "")
