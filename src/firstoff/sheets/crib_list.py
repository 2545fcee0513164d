"""The crib on a terminal: where each tool is and how it fares, what to load, what a length check found."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Protocol

from rich.console import Console
from rich.text import Text

from firstoff.changer.crib import Crib, Item, Whereabouts
from firstoff.changer.crib_edits import MeanLength
from firstoff.changer.drift import LengthDrift
from firstoff.changer.length_window import Checked, LengthWindow, Outcome
from firstoff.changer.loading import Change, Freed, JobNeeds, Plan
from firstoff.changer.rack import Beside, Fit
from firstoff.facts.change import stated
from firstoff.facts.fact import Evidence, Fact
from firstoff.facts.gripped import moment
from firstoff.facts.quantity import format_quantity
from firstoff.sheets.fact_words import age_words, date_words, fact_words
from firstoff.sheets.glyphs import ACCENT, PLAIN, QUIET, SAYS, STRONG
from firstoff.sheets.page import MARGIN, Page, padded
from firstoff.sheets.sheet_facts import KINDS
from firstoff.verdict.words import MM_PER_INCH, ShopUnits, count, listed, part

WHERE, NAME, LENGTH, AGE, OUT, HOLDER = 13, 20, 16, 11, 12, 10
"""Cells of the columns."""
TABLE_FROM = MARGIN + WHERE + NAME + LENGTH + AGE + OUT + HOLDER + 10
"""Narrower pages set a tool on two lines."""
USED_UP = 1.0


class TodayShown(Protocol):
    """What to do for today's jobs (`workflows.crib_day.Today`)."""

    @property
    def jobs(self) -> tuple[JobNeeds, ...]: ...
    @property
    def plan(self) -> Plan | None: ...
    @property
    def better(self) -> Plan | None: ...
    @property
    def order_proven(self) -> bool: ...
    @property
    def cannot(self) -> Mapping[str, str]: ...
    @property
    def freed(self) -> Freed: ...
    @property
    def costs(self) -> Mapping[str, str]: ...
    @property
    def remarks(self) -> tuple[str, ...]: ...


# --- the list ---------------------------------------------------------------------------------------------------------


def print_crib(crib: Crib, units: ShopUnits, now: datetime, console: Console) -> None:
    """All tools, those in the spindle and the rack first, then what is doubtful about them, then holders and empty pockets."""
    page = Page(console)
    loaded = sum(item.loaded for item in crib.items)
    page.heading(f"{count(len(crib.items), 'tool')}, {loaded} loaded")
    for item in sorted(crib.items, key=in_order):
        _item(page, item, units, now)
    page.gap()
    for sentence in crib_remarks(crib, units):
        page.say(sentence, MARGIN, SAYS)
    page.show()


def in_order(item: Item) -> tuple[int, int]:
    """Spindle, pockets by number, places, not said."""
    return list(Whereabouts).index(item.where), item.pocket if item.pocket is not None else -1


def where_words(item: Item) -> str:
    """`pocket 3`, `spindle`, the place in words, or that nobody says."""
    if item.where is Whereabouts.SPINDLE:
        return "spindle" + (f" ({item.pocket})" if item.pocket is not None else "")
    if item.where is Whereabouts.POCKET:
        return f"pocket {item.pocket}"
    return item.place or "not said"


def what_words(item: Item, units: ShopUnits) -> str:
    """`6 mm flat`."""
    kind = KINDS.get(item.kind or "", item.kind or "")
    if item.diameter is None:
        return kind
    size = item.diameter.value / (MM_PER_INCH if units.inch else 1.0)
    return f"{size:.3g} {'in' if units.inch else 'mm'} {kind}".strip()


def length_words(fact: Fact | None, units: ShopUnits) -> str:
    if fact is None:
        return "none"
    return fact_words(fact.path, stated(fact), units)


def age_of(fact: Fact | None, now: datetime) -> str:
    """How old a length is; whether anybody measured it."""
    if fact is None:
        return ""
    if fact.evidence not in (Evidence.MEASURED, Evidence.LEARNED):
        return fact.evidence.value
    return age_words(None if fact.on is None else max((now - fact.on).total_seconds() / 86400, 0.0))


def _item(page: Page, item: Item, units: ShopUnits, now: datetime) -> None:
    bad = item.length is None
    where = padded(page.text(page.crop(where_words(item), WHERE - 1)), WHERE)
    name = padded(page.text(page.crop(item.name, NAME - 1), STRONG), NAME)
    length = padded(page.text(length_words(item.length, units), ACCENT if bad else PLAIN), LENGTH)
    age = padded(page.text(age_of(item.length, now), QUIET), AGE)
    out = padded(page.text("" if item.stick_out is None else length_words(item.stick_out, units)), OUT)
    holder = padded(page.text(page.crop(item.holder or ("" if item.gripped else "no holder"), HOLDER - 1)), HOLDER)
    state = page.text(_state(item), ACCENT if _spent(item) else PLAIN)
    if page.width >= TABLE_FROM:
        page.put(Text(" " * MARGIN), where, name, length, age, out, holder, state)
    else:
        page.put(Text(" " * MARGIN), where, name, length)
        stands = out.plain.strip()
        said = (age_of(item.length, now), f"{stands} out" if stands else "", holder.plain.strip(), _state(item))
        page.say(", ".join(one for one in said if one), MARGIN + WHERE, ACCENT if _spent(item) else PLAIN)
    told = [what_words(item, units), *notes_of(item, units)]
    page.say("; ".join(one for one in told if one), MARGIN + WHERE, QUIET)


def _spent(item: Item) -> bool:
    return item.condition == "suspect" or (item.life_used or 0.0) >= USED_UP


def _state(item: Item) -> str:
    used = "" if item.life_used is None else f"{part(item.life_used)} used"
    return ", ".join(one for one in (item.condition or "", used) if one)


def notes_of(item: Item, units: ShopUnits) -> list[str]:
    """What else is to be known of a tool, a phrase each."""
    told = []
    if item.void:
        symbols = listed([fact.path.rsplit(".", 1)[1] for fact in item.void])
        told.append(f"gripped anew on {moment(item.gripped_anew) if item.gripped_anew else ''}: {symbols} void")
    if item.window is not None:
        told.append(f"passes from {_length(item.window.low_mm, units)} to {_length(item.window.high_mm, units)}")
    if item.sisters:
        told.append(f"{listed(list(item.sisters))} may stand in")
    if item.broke is not None:
        told.append(f"broke {date_words(item.broke)}" + (f", {item.broke_why}" if item.broke_why else ""))
    return told


def crib_remarks(crib: Crib, units: ShopUnits) -> list[str]:
    """What is doubtful about the rack as a whole, and what is free."""
    told = [beside_words(pair, units) for pair in crib.clashes if pair.fit is Fit.CLASHES]
    told += near_words([pair for pair in crib.clashes if pair.fit is Fit.CANNOT_TELL], units)
    for pair in crib.alike:
        told.append(
            f"The length check cannot tell {pair.first} from {pair.second}: {units.fine(pair.apart_mm)} apart, and it needs "
            f"{units.fine(pair.needed_mm)}."
        )
    told += _no_window(crib)
    free = [str(number) for number in crib.rack.pockets if number not in crib.rack.held]
    if crib.rack.pockets:
        told.append(f"Empty pockets: {listed(free, 12) if free else 'none'}.")
    if crib.holders:
        idle = [one.name for one in crib.holders if one.holds is None]
        told.append(f"Free holders: {listed(idle, 12) if idle else 'none'}.")
    return told


def _no_window(crib: Crib) -> list[str]:
    """Loaded tools whose length no check can judge, and why; said of the setter alone where that is not described."""
    loaded = [item for item in crib.items if item.loaded]
    if any(path.startswith("tools.setter.") for item in loaded for path in item.window_needs):
        return [
            "No length can be checked: nobody has described the setter ([setter] repeatability and drift in tools.toml)."
        ]
    found: dict[str, list[str]] = {}
    for item in loaded:
        for path in item.window_needs:
            found.setdefault(path.rsplit(".", 1)[-1], []).append(item.name)
    return [f"No length window for {listed(names, 8)}: no {symbol}." for symbol, names in found.items()]


def beside_words(pair: Beside, units: ShopUnits) -> str:
    """Two tools that do not fit beside each other, with the numbers."""
    who = f"{pair.tool} in pocket {pair.pocket} and {pair.other_tool} in pocket {pair.other_pocket}"
    radii = f"{units.length(pair.radius_mm)} and {units.length(pair.other_radius_mm)} of radius on {units.length(pair.apart_mm)}"
    room = "overlap by" if pair.room_mm < 0 else "leave only"
    asked = f"; the rack asks {units.length(pair.gap_mm)}" if pair.gap_mm > 0 else ""
    return f"{who} do not fit: {radii} {room} {units.length(abs(pair.room_mm))}{asked}."


def near_words(pairs: Sequence[Beside], units: ShopUnits) -> list[str]:
    """Neighbours that are nearer than they are known to be: the nearest, and how many more."""
    if not pairs:
        return []
    pair = pairs[0]
    more = f" So may {count(len(pairs) - 1, 'other pair')}." if len(pairs) > 1 else ""
    return [
        f"{pair.tool} in pocket {pair.pocket} and {pair.other_tool} in pocket {pair.other_pocket} may touch: {units.length(pair.room_mm)} "
        f"between them, known to {units.length(pair.u_mm)}.{more} Measured places of the pockets settle it, or a gap that the rack asks ([rack] gap)."
    ]


def _length(mm: float, units: ShopUnits) -> str:
    """A length that is held against a setter: µm count."""
    return f"{mm / MM_PER_INCH:.4f} in" if units.inch else f"{mm:.3f} mm"


# --- lengths ----------------------------------------------------------------------------------------------------------


def print_taken(
    name: str, mean: MeanLength, before: Fact | None, check: Checked | None, units: ShopUnits, console: Console
) -> None:
    """A length that was measured, and what it was before."""
    page = Page(console)
    factor, unit = (1 / MM_PER_INCH, "in") if units.inch else (1.0, "mm")
    said = format_quantity(mean.mean_mm * factor, mean.u_mm * factor, unit)
    df = "" if math.isinf(mean.df) else f", {count(math.floor(mean.df), 'degree')} of freedom"
    basis = " with the setter's own repeatability" if mean.pooled else ""
    page.say(f"{name} is {said} long, from {count(len(mean.readings), 'reading')}{basis}{df}.", MARGIN, SAYS + STRONG)
    if before is not None:
        less = before.value - mean.mean_mm
        way = "shorter" if less > 0 else "longer"
        page.say(f"That is {units.fine(abs(less))} {way} than the {length_words(before, units)} before.", MARGIN)
    if check is not None and check.outcome is not Outcome.INTACT:
        page.say(f"The length check says {check.outcome}: {check.why}.", MARGIN, ACCENT)
    page.show()


def print_checked(name: str, window: LengthWindow, found: Checked, units: ShopUnits, console: Console) -> None:
    """What a length check found, with its numbers."""
    page = Page(console)
    first, *others = checked_words(name, window, found, units)
    page.say(first, MARGIN, (PLAIN if found.outcome is Outcome.INTACT else ACCENT) + STRONG)
    for words in others:
        page.say(words, MARGIN)
    page.show()


def checked_words(name: str, window: LengthWindow, found: Checked, units: ShopUnits) -> list[str]:
    """What a length check found, then its numbers where it had a reading."""
    told = [f"{found.outcome.value.capitalize()}: {found.why}."]
    if not math.isnan(found.shorter_mm):
        way = "shorter" if found.shorter_mm >= 0 else "longer"
        told.append(
            f"{name} is {units.fine(abs(found.shorter_mm))} {way} than its {_length(window.expected_mm, units)}, doubt "
            f"{units.fine(found.u_mm)}. Limit {units.fine(window.limit_mm)}; nearer to it than {units.fine(found.guard_mm)} nobody can tell. "
            f"A break of {units.fine(window.surely_seen_mm)} or more is surely seen."
        )
    return told


def drift_words(name: str, drift: LengthDrift, units: ShopUnits) -> str:
    """`em6 gets shorter by 3.1(8) µm a month.`"""
    return _slope_words(name, drift, units) + _anew_words(drift, units)


def _slope_words(name: str, drift: LengthDrift, units: ShopUnits) -> str:
    number = count(len(drift.points), "length")
    if drift.too_close:
        days = (drift.points[-1].at - drift.points[0].at).total_seconds() / 86400
        return f"{name}: {number} in {count(max(round(days), 1), 'day')}, too few, too close together to tell a drift."
    if drift.slope_mm is None or drift.u_mm is None:
        return f"{name}: {number} since its last grip; two of different days tell a drift."
    per_unit, unit = (1e3 / MM_PER_INCH, "thou") if units.inch else (1e3, "µm")
    rate = format_quantity(abs(drift.slope_mm) * per_unit, drift.u_mm * per_unit, unit)
    if not drift.tells:
        return f"{name}: no drift that its {number} can tell, {rate} a month."
    way = "shorter" if drift.slope_mm < 0 else "longer"
    return f"{name} gets {way} by {rate} a month, from {number}."


def _anew_words(drift: LengthDrift, units: ShopUnits) -> str:
    """That a step begins another edge or another grip which nobody told."""
    if drift.anew_mm is None:
        return ""
    words = units.fine(abs(drift.anew_mm))
    way = "shorter" if drift.anew_mm < 0 else "longer"
    return f" It begins anew on {date_words(drift.points[0].at)}: {words} {way}, a new edge or another grip that nobody told."


def print_drifts(found: Mapping[str, LengthDrift], units: ShopUnits, console: Console) -> None:
    """How lengths have gone, a sentence a tool and its points."""
    page = Page(console)
    page.heading(f"Lengths of {count(len(found), 'tool')}" if found else "The book knows no measured length yet")
    for name, drift in found.items():
        page.gap()
        page.say(drift_words(name, drift, units), MARGIN, STRONG if drift.tells else PLAIN)
        for one in drift.points:
            factor, unit = (1 / MM_PER_INCH, "in") if units.inch else (1.0, "mm")
            row = padded(page.text(date_words(one.at), QUIET), 14)
            row.append_text(page.text(format_quantity(one.length_mm * factor, one.u_mm * factor, unit)))
            page.put(Text(" " * (MARGIN + 2)), row)
        if drift.earlier:
            page.say(f"{count(len(drift.earlier), 'length')} from before it began anew.", MARGIN + 2, QUIET)
    page.show()


# --- today ------------------------------------------------------------------------------------------------------------


def print_today(found: TodayShown, console: Console) -> None:
    """What a hand does before each job; a better order where there is one; holders to free first."""
    page = Page(console)
    _freed(page, found)
    if found.plan is None:
        page.say("The rack cannot serve these jobs.", MARGIN, SAYS + STRONG)
        for job, why in found.cannot.items():
            page.say(f"{job}, even alone: {why}.", MARGIN + 2)
        if not found.cannot:
            page.say("Each fits alone, but not one after the other with what stays in.", MARGIN + 2)
    else:
        _plan(page, found.plan, found.jobs)
    if found.better is not None and found.plan is not None:
        page.gap()
        saved = found.plan.hand_changes - found.better.hand_changes
        order = ", ".join(stage.job for stage in found.better.stages)
        page.say(f"In the order {order} it takes {saved} less.", MARGIN, SAYS + STRONG)
    if not found.order_proven and found.plan is not None:
        page.say("Whether another order saves changes was not searched to the end.", MARGIN, QUIET)
    page.gap()
    for sentence in found.remarks:
        page.say(sentence, MARGIN, SAYS)
    page.show()


def _freed(page: Page, found: TodayShown) -> None:
    if not found.freed.gripped and not found.freed.unserved:
        return
    page.heading("Grip first")
    for one in found.freed.gripped:
        torn = "" if one.torn is None else f", which now grips {one.torn}: {found.costs.get(one.torn, '')}"
        page.say(f"{one.cutter} into holder {one.holder}{torn}.", MARGIN)
    for name in found.freed.unserved:
        page.say(
            f"No holder can be had for {name}: none that takes its shank is free or can be freed today.", MARGIN, ACCENT
        )
    page.gap()


def _plan(page: Page, plan: Plan, jobs: Sequence[JobNeeds]) -> None:
    page.heading(f"{count(plan.hand_changes, 'change')} by hand")
    for stage in plan.stages:
        page.gap()
        page.say(stage.job, MARGIN, STRONG)
        if not stage.changes:
            page.say("Nothing to change.", MARGIN + 2, QUIET)
        for change in stage.changes:
            page.say(change_words(change), MARGIN + 2)
        meant = {need.number: need.meant for job in jobs if job.job == stage.job for need in job.needs}
        for number, sister in stage.stand_in.items():
            page.say(
                f"{sister} stands in for {meant.get(number, '')}: write it at {number} in the job's [tools] and examine it again.",
                MARGIN + 2,
                SAYS,
            )
    if not plan.proven:
        page.say("The search was not ended: fewer may do.", MARGIN, QUIET)


def change_words(change: Change) -> str:
    """One thing that a hand does."""
    if change.pocket is None:
        return f"Take {change.tool} out of pocket {change.was}."
    if change.was is not None:
        return f"Move {change.tool} from pocket {change.was} to {change.pocket}."
    return f"Put {change.tool} into pocket {change.pocket}."


def print_remarks(remarks: Sequence[str], console: Console) -> None:
    """What whoever does it by hand must know."""
    page = Page(console)
    for sentence in remarks:
        page.say(sentence, MARGIN, SAYS)
    page.show()
