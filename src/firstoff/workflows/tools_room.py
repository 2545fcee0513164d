"""What the tools' page does: acts on one tool as a form tells them, what one tool has been through, and which jobs may run today."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from firstoff.book.reading import minutes_cut, trials
from firstoff.changer import crib_edits
from firstoff.changer.crib import Crib
from firstoff.changer.crib_edits import Done
from firstoff.changer.length_window import Checked, LengthWindow
from firstoff.changer.rack import free_pockets
from firstoff.errors import Fault, InputError
from firstoff.facts.change import Change
from firstoff.facts.shop import load_shop
from firstoff.workflows.book import ShopBook, examinations, last_changes, noted_runs
from firstoff.workflows.crib import check, do, take_length

MOST_READINGS = 60
MOST_JOBS = 12
"""For one day's plan."""


def act(shop: ShopBook, verb: str, tool: str, told: Mapping[str, str]) -> tuple[int, tuple[str, ...]]:
    """Do one thing to a tool as a form says it; (facts changed, what whoever did it must know). Raises `InputError` with nothing written."""
    why = told.get("why", "").strip()
    if verb == "length":
        readings, note = readings_in(shop, told.get("readings", "")), told.get("note", "")
        taken = take_length(shop, tool, readings, why=why, note=note, sure=told.get("sure") == "true")
        return len(taken.done.changed), taken.done.remarks
    make = _ACTS.get(verb)
    if make is None:
        raise InputError(Fault("nobody knows how to do this", verb, ", ".join(_ACTS)))
    now = datetime.now().replace(microsecond=0)
    done = do(shop, lambda crib: make(crib, tool, told, now), why or (f"{tool} broke" if verb == "broke" else ""))
    return len(done.changed), done.remarks


def look(shop: ShopBook, tool: str, readings: str) -> tuple[LengthWindow, Checked]:
    """Hold readings against the tool's window; nothing is written."""
    return check(shop.folder, tool, readings_in(shop, readings))


def _load(crib: Crib, tool: str, told: Mapping[str, str], _now: datetime) -> Done:
    return crib_edits.load(crib, tool, _number(told.get("pocket", ""), "pocket"))


def _unload(crib: Crib, tool: str, told: Mapping[str, str], _now: datetime) -> Done:
    pocket = crib.rack.pocket_of(tool)
    if pocket is None:
        raise InputError(Fault(f"{tool} is in no pocket", "", "a tool that stands in the rack"))
    return crib_edits.unload(crib, pocket, told.get("to", "").strip() or crib_edits.BENCH)


def _swap(crib: Crib, tool: str, told: Mapping[str, str], _now: datetime) -> Done:
    return crib_edits.swap(crib, tool, told.get("other", "").strip())


def _put(crib: Crib, tool: str, told: Mapping[str, str], _now: datetime) -> Done:
    to = told.get("to", "").strip()
    if not to:
        raise InputError(Fault("where it lies is not said", "", 'words, such as "drawer 2"'))
    return crib_edits.put(crib, tool, to)


def _spindle(crib: Crib, tool: str, _told: Mapping[str, str], _now: datetime) -> Done:
    if crib.rack.in_spindle == tool:
        return crib_edits.out_of_spindle(crib, None)
    return crib_edits.into_spindle(crib, tool)


def _grip(crib: Crib, tool: str, told: Mapping[str, str], now: datetime) -> Done:
    return crib_edits.grip(crib, tool, told.get("holder", ""), now, told.get("stick_out", "").strip() or None)


def _loosen(crib: Crib, tool: str, _told: Mapping[str, str], now: datetime) -> Done:
    return crib_edits.loosen(crib, tool, now)


def _broke(crib: Crib, tool: str, told: Mapping[str, str], now: datetime) -> Done:
    return crib_edits.broke(crib, tool, now.date(), told.get("why", "").strip())


def _fresh(crib: Crib, tool: str, _told: Mapping[str, str], now: datetime) -> Done:
    return crib_edits.fresh(crib, tool, now)


def _used(crib: Crib, tool: str, told: Mapping[str, str], _now: datetime) -> Done:
    text = told.get("minutes", "")
    return crib_edits.used(crib, {tool: _figure(text, "minutes")})


_ACTS: Mapping[str, Callable[[Crib, str, Mapping[str, str], datetime], Done]] = {
    "load": _load, "unload": _unload, "swap": _swap, "put": _put, "spindle": _spindle,
    "grip": _grip, "loosen": _loosen, "broke": _broke, "fresh": _fresh, "used": _used,
}  # fmt: skip


# --- what is typed ----------------------------------------------------------------------------------------------------

_COMMA = re.compile(r"[+-]?\d+,\d+")


def readings_in(shop: ShopBook, text: str) -> tuple[float, ...]:
    """Readings as somebody types them: parted by blanks, semicolons or commas with a blank; decimal point or comma."""
    unit = "in" if load_shop(shop.folder).show == "inch" else "mm"
    words = [word.strip(",") for word in re.split(r"[\s;]+", text.strip()) if word.strip(",")]
    kept = [word.removesuffix(unit) for word in words]
    found = tuple(_figure(word, "reading") for word in kept if word)
    if not found or len(found) > MOST_READINGS:
        raise InputError(
            Fault("these are no readings", text, f"1 to {MOST_READINGS} lengths in {unit}, with blanks between")
        )
    return found


def _figure(text: str, what: str) -> float:
    word = text.strip().replace("\N{MINUS SIGN}", "-")
    try:
        value = float(word.replace(",", ".") if _COMMA.fullmatch(word) else word)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(Fault(f"this is no {what}", text, "a number"))
    return value


def _number(text: str, what: str) -> int:
    if not text.strip().isdecimal() or len(text) > 6:
        raise InputError(Fault(f"this is no {what}", text, "its number"))
    return int(text)


# --- what one tool has been through -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Lived:
    """What the book knows of a tool."""

    changes: tuple[tuple[datetime, str, str, Change], ...]
    """(when, who, why, what), newest first."""
    readings: tuple[tuple[datetime, int, float, float], ...]
    """Measurements of its length: (when, readings, mean mm, u mm), newest first."""
    minutes: float
    """That it has cut in noted runs."""


def lived(shop: ShopBook, tool: str, most: int) -> Lived:
    """The newest of what a tool has been through."""
    with shop.book.reading() as connection:
        cut = minutes_cut(connection, shop.book, tool)
        kept = list(trials(connection, shop.book, f"tools.{tool}.LF"))
    read = tuple((one.at, len(one.readings), one.mean, one.u) for one in reversed(kept))[:most]
    return Lived(last_changes(shop, f"tools.{tool}.", most), read, cut)


def empty_pockets(crib: Crib, tool: str) -> tuple[tuple[int, bool], ...]:
    """Empty pockets, and the one that waits for the tool; whether it fits there."""
    fit = set(free_pockets(crib.rack, tool))
    own = crib.rack.pocket_of(tool) if crib.rack.in_spindle == tool else None
    return tuple((n, n in fit or n == own) for n in crib.rack.pockets if n not in crib.rack.held or n == own)


def jobs_lately(shop: ShopBook) -> tuple[tuple[str, datetime | None], ...]:
    """Names of the jobs with when each ran last: those that ran lately first, then those examined lately, then the others."""
    names = load_shop(shop.folder).job_names
    ran = {run.job: run.at for run in noted_runs(shop)}
    seen = {one.job: one.at for one in reversed(examinations(shop))}
    never = datetime.min

    def age(name: str) -> tuple[datetime, datetime]:
        return ran.get(name, never), seen.get(name, never)

    return tuple((name, ran.get(name)) for name in sorted(names, key=age, reverse=True))
