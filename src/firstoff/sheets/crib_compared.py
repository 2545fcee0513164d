"""The control's own tables held against the shop, on a terminal: the most dangerous difference first."""

from __future__ import annotations

import shlex
from typing import Protocol

from rich.console import Console
from rich.text import Text

from firstoff.changer.control_table import Danger, Difference
from firstoff.sheets.glyphs import ACCENT, PLAIN, QUIET, SAYS, STRONG
from firstoff.sheets.page import MARGIN, Page
from firstoff.verdict.words import MM_PER_INCH, ShopUnits, count


class ComparedShown(Protocol):
    """What was found (`workflows.crib_tables.Compared`)."""

    @property
    def lines(self) -> int: ...
    @property
    def differences(self) -> tuple[Difference, ...]: ...
    def typed(self, one: Difference, /) -> tuple[str, ...]: ...
    def measure_words(self, one: Difference, /) -> tuple[str, ...]: ...


def print_compared(found: ComparedShown, units: ShopUnits, console: Console) -> None:
    """Each difference with its numbers, and what would make the two agree. Nothing was changed."""
    page = Page(console)
    number = len(found.differences)
    title = f"{count(number, 'difference')} in {count(found.lines, 'line')} of the control"
    page.heading(title if number else f"Control and shop agree: {count(found.lines, 'line')}")
    for one in found.differences:
        page.gap()
        style = ACCENT + STRONG if one.danger.stops else STRONG
        page.say(difference_words(one, units), MARGIN + 3, style, first=Text(" - "))
        if one.line:
            page.say(f"line {one.line} of the control's table", MARGIN + 3, QUIET)
        words, measure = found.typed(one), found.measure_words(one)
        if words:
            page.say(f"If the control is right: {as_typed(words)}", MARGIN + 3, PLAIN)
            if "--evidence" in words:
                page.say(
                    "Its doubt is the shop's from before: type another if this was measured otherwise.",
                    MARGIN + 3,
                    SAYS,
                )
        if measure:
            page.say(f"If the control is right: measure it again: {as_typed(measure)}", MARGIN + 3, PLAIN)
        told = at_the_control(one, units)
        if told:
            page.say(told, MARGIN + 3, SAYS)
    page.show()


def as_typed(words: tuple[str, ...]) -> str:
    """A command as it is typed: what holds a blank in quotes that every shell knows."""
    return " ".join(
        f'"{word}"' if " " in word and not set(word) & set('"$`\\!') else shlex.quote(word) for word in words
    )


def difference_words(one: Difference, units: ShopUnits) -> str:
    """One difference as a sentence with its numbers."""
    who = one.what + (f" ({one.tool})" if one.tool else "")
    control, shop = (_figure(value, units) for value in (one.control, one.shop))
    if one.danger is Danger.OTHER_TOOL:
        there = f"pocket {one.shop}" if one.shop is not None else "no pocket"
        return f"{who}: the control has it in pocket {one.control}, the shop in {there}."
    if one.danger is Danger.ONLY_ONE:
        if one.tool is None:
            return f"{who}: the control has a tool of {control} there, the shop none."
        return f"{who}: {'the control' if one.control is None else 'the shop'} has no length of it; {'the shop says ' + shop if one.control is None else 'the control says ' + control}."
    apart = units.fine(abs(one.apart_mm or 0.0))
    effect = {
        Danger.TOO_DEEP: f"the tip would go {apart} too deep",
        Danger.TOO_HIGH: f"the tip stays {apart} too high",
        Danger.OTHER_ZERO: f"{apart} apart",
        Danger.OTHER_SIZE: f"{apart} apart across, half of it at each wall",
    }[one.danger]
    return f"{who}: {control} in the control, {shop} in the shop: {effect}."


def _figure(value: float | int | str | None, units: ShopUnits) -> str:
    if not isinstance(value, int | float):
        return "none" if value is None else str(value)
    return f"{value / MM_PER_INCH:.4f} in" if units.inch else f"{value:.3f} mm"


def at_the_control(one: Difference, units: ShopUnits) -> str:
    """What to write at the control if the shop is right."""
    if one.apart_mm is not None:
        return f"If the shop is right: write {_figure(one.shop, units)} at the control, by the control's own sign and zero."
    if one.danger is Danger.OTHER_TOOL and one.shop is not None:
        return f"If the shop is right: write pocket {one.shop} at the control."
    return ""
