"""What is done to the crib by hand, as edits of tools.toml: nothing is written here, and what cannot be is refused with the numbers."""

from __future__ import annotations

import difflib
import math
import statistics
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from firstoff.changer.crib import Crib, Item, Whereabouts
from firstoff.changer.length_window import Setter, spread_limit
from firstoff.changer.rack import Beside, Fit, fit_into, free_pockets
from firstoff.errors import Fault, InputError
from firstoff.facts.edit import Edit
from firstoff.facts.fact import Evidence

FILE = "tools.toml"
BENCH = "bench"
MOST_MINUTES = 100_000.0
"""Two months of cutting: more is a slip."""


@dataclass(frozen=True, slots=True)
class Done:
    """Edits, with what whoever does this by hand must know."""

    edits: tuple[Edit, ...]
    remarks: tuple[str, ...] = ()


# --- where things are -------------------------------------------------------------------------------------------------


def load(crib: Crib, name: str, pocket: int) -> Done:
    """Put a tool into a pocket. Raises `InputError` where the pocket holds another, it clashes with a neighbour, or is in no holder."""
    item = _tool(crib, name)
    _pocket(crib, pocket)
    held = crib.rack.held.get(pocket)
    if held == name and item.where is Whereabouts.POCKET:
        return Done((), (f"{name} stands in pocket {pocket} already.",))
    _held_in_something(item)
    if held is not None and held != name:
        free = ", ".join(str(n) for n in free_pockets(crib.rack, name)) or "none"
        waits = " waits for its tool: it" if crib.rack.in_spindle == held else ""
        do = f"firstoff crib unload {pocket} first, or firstoff crib swap {name} {held}."
        raise InputError(
            Fault(f"pocket {pocket}{waits} holds {held}", name, f"an empty pocket that it fits in: {free}", do=do)
        )
    remarks = _fits(crib, name, pocket)
    edits = [Edit(FILE, ("pocket", item.pocket, "tool"), None)] if item.pocket not in (None, pocket) else []
    if held != name:
        edits.append(Edit(FILE, ("pocket", pocket, "tool"), name))
    return Done((*edits, *_left(item)), remarks)


def unload(crib: Crib, pocket: int, to: str = BENCH) -> Done:
    """Take out what stands in a pocket. A pocket whose tool is in the spindle no longer waits for it then."""
    _pocket(crib, pocket)
    held = crib.rack.held.get(pocket)
    if held is None:
        raise InputError(Fault(f"pocket {pocket} is empty", "", "a pocket that holds a tool"))
    edit = Edit(FILE, ("pocket", pocket, "tool"), None)
    if crib.rack.in_spindle == held:
        return Done((edit,), (f"{held} stays in the spindle; pocket {pocket} no longer waits for it.",))
    return Done((edit, _placed(held, to)))


def swap(crib: Crib, first: str, second: str) -> Done:
    """Let two tools change places: pocket, spindle or a place in words. What both leave behind fits together, or it is refused."""
    one, two = _tool(crib, first), _tool(crib, second)
    if first == second:
        raise InputError(Fault("a tool cannot change places with itself", first, "two tools"))
    moved = dict(crib.rack.held)
    for pocket, tool in ((one.pocket, second), (two.pocket, first)):
        if pocket is not None:
            moved[pocket] = tool
    after = replace(crib, rack=replace(crib.rack, held=moved))
    remarks: list[str] = []
    edits: list[Edit] = []
    for item, other in ((one, two), (two, one)):
        if item.loaded:
            _held_in_something(other)
        if item.pocket is not None:
            remarks += _fits(after, other.name, item.pocket)
            edits.append(Edit(FILE, ("pocket", item.pocket, "tool"), other.name))
        if item.where is Whereabouts.SPINDLE:
            edits.append(Edit(FILE, ("in_spindle",), other.name))
        edits += _moved_place(item, other)
    return Done(tuple(edits), tuple(dict.fromkeys(remarks)))


def into_spindle(crib: Crib, name: str) -> Done:
    """Say which tool is in the spindle; its pocket waits for it."""
    item = _tool(crib, name)
    now = crib.rack.in_spindle
    if now == name:
        return Done((), (f"{name} is in the spindle already.",))
    edits = [Edit(FILE, ("in_spindle",), name)]
    if item.place is not None:
        edits.append(Edit(FILE, ("tool", name, "place"), None))
    if now is not None and crib.rack.pocket_of(now) is None:
        edits.append(_placed(now, BENCH))
    return Done(tuple(edits))


def out_of_spindle(crib: Crib, to: str | None) -> Done:
    """Say that the spindle is empty: its tool is back in the pocket that waits for it, else at a place."""
    now = crib.rack.in_spindle
    if now is None:
        raise InputError(Fault("nobody says that a tool is in the spindle", "", "in_spindle in tools.toml"))
    edits = [Edit(FILE, ("in_spindle",), None)]
    pocket = crib.rack.pocket_of(now)
    if to is None and pocket is not None:
        return Done(tuple(edits), (f"{now} is back in pocket {pocket}.",))
    if pocket is not None:
        edits.append(Edit(FILE, ("pocket", pocket, "tool"), None))
    return Done((*edits, _placed(now, to or BENCH)))


def put(crib: Crib, name: str, to: str) -> Done:
    """Say where a tool lies that is in no pocket and not in the spindle."""
    item = _tool(crib, name)
    if item.loaded:
        where = "the spindle" if item.where is Whereabouts.SPINDLE else f"pocket {item.pocket}"
        do = (
            f"firstoff crib unload {item.pocket} --to"
            if item.pocket is not None
            else "firstoff crib spindle --empty --to"
        )
        raise InputError(
            Fault(f"{name} is in {where}", to, "a tool that is in no pocket", do=f'{do} "{to}" takes it out.')
        )
    return Done((_placed(name, to),))


# --- how tools are held -----------------------------------------------------------------------------------------------


def grip(crib: Crib, name: str, holder: str, at: datetime, stick_out: str | None = None) -> Done:
    """Grip a tool anew, in a holder by name: its length and stick-out from before are void. Raises `InputError` where the holder is not
    there, grips another tool, or does not take the shank."""
    item = _tool(crib, name)
    state = crib.holder(holder)
    if state is None:
        names = [one.name for one in crib.holders]
        raise InputError(
            Fault("no holder has this name", holder, _nearest(holder, names) or "[holder.NAME] in tools.toml")
        )
    if state.holds not in (None, name):
        do = f"firstoff crib loosen {state.holds} takes it out; its length and stick-out are void then."
        free = (
            ", ".join(one.name for one in crib.holders if one.holds is None and _takes(crib, one.name, name)) or "none"
        )
        raise InputError(
            Fault(
                f"holder {holder} grips {state.holds}",
                name,
                f"a holder that is free and takes its shank: {free}",
                do=do,
            )
        )
    if _takes(crib, holder, name) is False:
        shank = crib.facts.facts[f"tools.{name}.DMM"].value
        raise InputError(
            Fault(
                f"holder {holder} does not take the shank of {name}",
                f"{shank:g} mm",
                f"{state.low_mm:g} mm to {state.high_mm:g} mm",
            )
        )
    own = f"tools.{name}.holder.0.diameter" in crib.facts.facts and item.holder is None
    edits = [Edit(FILE, ("tool", name, "holder"), None)] if own else []
    edits += [Edit(FILE, ("tool", name, "held_in"), holder), Edit(FILE, ("tool", name, "re_gripped"), at)]
    if stick_out is not None:
        measured = {"evidence": Evidence.MEASURED.value} if "(" in stick_out else {}
        edits.append(Edit(FILE, ("tool", name, "OHX"), {"value": stick_out, **measured, "on": at}))
    remarks = [_void_now(item, stick_out is None)]
    if own:
        remarks.append(f"The holder's steps that stood with {name} are taken out: those of {holder} hold now.")
    if not state.described:
        remarks.append(f"Nobody has measured holder {holder}: contact questions need its steps.")
    return Done(tuple(edits), tuple(one for one in remarks if one))


def loosen(crib: Crib, name: str, at: datetime) -> Done:
    """Take a tool out of its holder; the holder is free then. One that is loaded must come out of the rack first."""
    item = _tool(crib, name)
    if item.holder is None:
        raise InputError(Fault(f"nobody says which holder {name} is in", "", "a tool with held_in"))
    if item.loaded:
        where = "the spindle" if item.where is Whereabouts.SPINDLE else f"pocket {item.pocket}"
        raise InputError(Fault(f"{name} is in {where}", "", "a tool that is out of the rack", do="Unload it first."))
    edits = (Edit(FILE, ("tool", name, "held_in"), None), Edit(FILE, ("tool", name, "re_gripped"), at))
    return Done(edits, (f"Holder {item.holder} is free.", _void_now(item, True)))


def _void_now(item: Item, stick_out_too: bool) -> str:
    lost = [
        word
        for word, fact in (("length", item.length), ("stick-out", item.stick_out if stick_out_too else None))
        if fact
    ]
    return f"Void now: {' and '.join(lost)} of {item.name}. Measure again before it runs." if lost else ""


def _takes(crib: Crib, holder: str, name: str) -> bool | None:
    """Whether a holder takes a tool's shank; None where nobody says."""
    state, shank = crib.holder(holder), crib.facts.facts.get(f"tools.{name}.DMM")
    if state is None or shank is None or state.low_mm is None or state.high_mm is None:
        return None
    return state.low_mm - 2 * shank.u <= shank.value <= state.high_mm + 2 * shank.u


# --- what is measured and what happened -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MeanLength:
    """A length from readings (JCGM 100:2008, 4.2), mm."""

    readings: tuple[float, ...]
    mean_mm: float
    u_mm: float
    df: float
    pooled: bool
    """The setter's repeatability was taken together with the spread of these readings (JCGM 100:2008, 4.2.4)."""


def mean_length(readings_mm: Sequence[float], setter: Setter | None) -> MeanLength:
    """Mean and standard uncertainty: s/√n of these readings with n − 1 degrees of freedom, pooled with the setter's repeatability where it is
    known; one reading alone has the setter's. Raises `InputError` where readings part by more than the setter's can, or tell no spread."""
    values = tuple(float(one) for one in readings_mm)
    count = len(values)
    if count == 0 or not all(math.isfinite(one) for one in values):
        raise InputError(Fault("these readings cannot be used", " ".join(map(str, readings_mm)), "one or more lengths"))
    apart = max(values) - min(values)
    if setter is not None and apart > spread_limit(setter, count):
        most = spread_limit(setter, count)
        do = "Clean setter and tool, seat it again, and read it anew; if they part again, the setter repeats worse than it says."
        raise InputError(
            Fault(
                f"the readings part by {apart:.4g} mm", _shown(values), f"at most {most:.2g} mm with this setter", do=do
            )
        )
    s = statistics.stdev(values) if count > 1 else 0.0
    if setter is None and s == 0.0:
        what = "one reading tells no spread" if count == 1 else "all readings are alike: they tell no spread"
        do = "Read it at least twice and finer, or describe the setter: [setter] repeatability in tools.toml."
        raise InputError(Fault(what, _shown(values), do=do))
    if setter is None:
        return MeanLength(values, statistics.fmean(values), s / math.sqrt(count), count - 1, False)
    if math.isinf(setter.df):
        spread, df = setter.repeatability_mm, math.inf
    else:
        df = setter.df + count - 1
        spread = math.sqrt((setter.df * setter.repeatability_mm**2 + (count - 1) * s**2) / df)
    return MeanLength(values, statistics.fmean(values), spread / math.sqrt(count), df, True)


def measured(crib: Crib, name: str, mean: MeanLength, at: datetime, note: str = "") -> Done:
    """Write a measured length."""
    _tool(crib, name)
    places = max(0, 2 - math.floor(math.log10(mean.u_mm))) if mean.u_mm > 0 else 4
    said: dict[str, object] = {
        "value": f"{mean.mean_mm:.{places}f} mm",
        "u": f"{mean.u_mm:.4g} mm",
        "evidence": Evidence.MEASURED.value,
        "on": at,
    }
    if math.isfinite(mean.df):
        said["df"] = max(math.floor(mean.df), 1)
    if note:
        said["note"] = note
    return Done((Edit(FILE, ("tool", name, "LF"), said),))


def broke(crib: Crib, name: str, on: date, why: str) -> Done:
    """Note that a tool broke: its edge is suspect until somebody puts in a new one."""
    _tool(crib, name)
    edits = [Edit(FILE, ("tool", name, "broke"), on), Edit(FILE, ("tool", name, "condition"), "suspect")]
    if why:
        edits.append(Edit(FILE, ("tool", name, "broke_why"), why))
    return Done(tuple(edits), (f"{name} is marked suspect; firstoff crib fresh {name} says that a new edge is in.",))


def used(crib: Crib, minutes: Mapping[str, float]) -> Done:
    """Add minutes of cutting to what edges have cut."""
    edits, remarks = [], []
    for name, more in minutes.items():
        item = _tool(crib, name)
        if not 0 < more < MOST_MINUTES:
            raise InputError(Fault("no edge cuts for so long", f"{more:g} min", f"above 0, below {MOST_MINUTES:g} min"))
        if item.used_up is None and item.condition != "new":
            remarks.append(f"Nobody said what the edge of {name} had cut before: its minutes count from now.")
        before = 0.0 if item.used_up is None else item.used_up.value / 60
        total = round(before + more, 3)
        edits.append(Edit(FILE, ("tool", name, "used_up"), f"{total:.10g} min"))
        if item.condition == "new":
            edits.append(Edit(FILE, ("tool", name, "condition"), "used"))
        if item.life is not None and total * 60 >= item.life.value:
            others = f" {' or '.join(item.sisters)} may stand in." if item.sisters else ""
            remarks.append(f"The edge of {name} has cut longer than it is expected to last.{others}")
    return Done(tuple(edits), tuple(remarks))


def fresh(crib: Crib, name: str, at: datetime) -> Done:
    """A new cutter of the same name is in: no minutes, new edge, gripped anew."""
    item = _tool(crib, name)
    edits = (
        Edit(FILE, ("tool", name, "condition"), "new"),
        Edit(FILE, ("tool", name, "used_up"), "0 min"),
        Edit(FILE, ("tool", name, "re_gripped"), at),
    )
    remarks = [_void_now(item, True)]
    measured_size = item.diameter is not None and item.diameter.evidence is Evidence.MEASURED
    if measured_size:
        remarks.append(f"DC was measured on the edge before: firstoff set tools.{name}.DC says what this one is.")
    return Done(edits, tuple(one for one in remarks if one))


# --- what all of them ask ---------------------------------------------------------------------------------------------


def _tool(crib: Crib, name: str) -> Item:
    item = crib.item(name)
    if item is None:
        names = [one.name for one in crib.items]
        raise InputError(Fault("no tool has this name", name, _nearest(name, names) or "[tool.NAME] in tools.toml"))
    return item


def _held_in_something(item: Item) -> None:
    """Raise `InputError` for a bare cutter: no pocket holds it. One whose length from the gauge line stands is in a holder that nobody has
    described."""
    if not item.gripped and item.length is None:
        do = f"firstoff crib grip {item.name} HOLDER first."
        raise InputError(Fault(f"{item.name} is in no holder", "", "a tool that is gripped", do=do))


def _pocket(crib: Crib, number: int) -> None:
    if number not in crib.rack.pockets:
        numbers = ", ".join(str(n) for n in crib.rack.pockets) or "none yet: [[pocket]] in tools.toml"
        raise InputError(Fault("the rack has no such pocket", str(number), numbers))


def _fits(crib: Crib, name: str, pocket: int) -> tuple[str, ...]:
    """Remarks on neighbours that are near; raises `InputError` where one clashes."""
    found = fit_into(crib.rack, name, pocket)
    clashing = [one for one in found if one.fit is Fit.CLASHES]
    if clashing:
        free = ", ".join(str(n) for n in free_pockets(crib.rack, name)) or "none"
        raise InputError(*(_clash(one, free) for one in clashing))
    lacking: Collection[str] = crib.rack.missing.get(name, ()) or crib.rack.missing.get(f"pocket {pocket}", ())
    remarks = [
        f"Look whether {one.tool} touches {one.other_tool} in pocket {one.other_pocket}: {one.room_mm:.1f} mm between them, known to "
        f"{one.u_mm:.1f} mm."
        for one in found[:1]
    ]
    if lacking:
        remarks.append(f"Nobody can tell whether it fits beside its neighbours: {', '.join(lacking)} missing.")
    return tuple(remarks)


def _clash(one: Beside, free: str) -> Fault:
    what = (
        f"{one.tool} does not fit into pocket {one.pocket} beside {one.other_tool} in pocket {one.other_pocket}: radii of {one.radius_mm:.1f} mm "
        f"and {one.other_radius_mm:.1f} mm at Z {one.height_mm:.0f} mm leave {one.room_mm:.1f} mm of the {one.apart_mm:.1f} mm between the pockets"
    )
    return Fault(what, "", f"{one.gap_mm:.1f} mm of room at least; pockets that it fits in: {free}")


def _placed(name: str, to: str) -> Edit:
    return Edit(FILE, ("tool", name, "place"), to)


def _left(item: Item) -> tuple[Edit, ...]:
    """What is no longer so once a tool stands in a pocket."""
    edits = [Edit(FILE, ("tool", item.name, "place"), None)] if item.place is not None else []
    return (*edits, *([Edit(FILE, ("in_spindle",), None)] if item.where is Whereabouts.SPINDLE else []))


def _moved_place(item: Item, other: Item) -> tuple[Edit, ...]:
    """Where `other` lies now that it is where `item` was."""
    new = item.place if item.where is Whereabouts.PLACE else None
    if item.where is Whereabouts.NOT_SAID and other.loaded:
        new = BENCH
    return () if new == other.place else (Edit(FILE, ("tool", other.name, "place"), new),)


def _shown(values: Sequence[float]) -> str:
    return " ".join(f"{one:g}" for one in values)


def _nearest(name: str, known: Sequence[str]) -> str:
    near = difflib.get_close_matches(name, known, n=3, cutoff=0.4)
    return "nearest: " + ", ".join(near) if near else ", ".join(known)
