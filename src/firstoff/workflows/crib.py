"""The tool crib: what is done to it by hand, lengths measured and checked, and how they have gone."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection

from firstoff.book.opening import Book
from firstoff.book.reading import history
from firstoff.book.writing import add
from firstoff.changer import crib_edits
from firstoff.changer.crib import Crib, Item, crib_of
from firstoff.changer.crib_edits import Done, MeanLength, mean_length
from firstoff.changer.drift import MOST_STEP_MM, LengthDrift, Measured, length_drift
from firstoff.changer.length_slip import refuse_unlikely
from firstoff.changer.length_window import Checked, LengthWindow, check_length, setter_of
from firstoff.errors import Fault, InputError
from firstoff.facts.change import Stated
from firstoff.facts.edit import change_shop
from firstoff.facts.fact import Fact
from firstoff.facts.shop import Shop, load_shop
from firstoff.verdict.words import MM_PER_INCH, ShopUnits
from firstoff.workflows import write_whole
from firstoff.workflows.book import JobChange, Noticed, ShopBook, record_files, writing


@dataclass(frozen=True, slots=True)
class CribChanged:
    """What was written, what was noticed before it, and what whoever does it by hand must know."""

    changed: tuple[JobChange, ...]
    noticed: Noticed
    remarks: tuple[str, ...]


def the_crib(folder: Path) -> Crib:
    """The crib of a shop folder as its files tell it now."""
    return crib_of(load_shop(folder).facts)


def do(shop: ShopBook, make: Callable[[Crib], Done], why: str = "") -> CribChanged:
    """Make a change of the crib under the book's lock: what it starts from is what it is written over. Raises `InputError`, with nothing
    written, where the change cannot be."""
    with writing(shop) as (connection, before):
        read = load_shop(shop.folder)
        done = make(crib_of(read.facts))
        if not done.edits:
            return CribChanged((), before, done.remarks)
        change_shop(shop.folder, done.edits, read=_stamps(read))
        return CribChanged(record_files(connection, shop, "set", why), before, done.remarks)


def _stamps(shop: Shop) -> dict[str, str]:
    return {file.path.name: file.sha256 for file in shop.files}


# --- lengths ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LengthTaken:
    """A measured length, what it was written over, and what the length check would have said of it."""

    done: CribChanged
    name: str
    mean: MeanLength
    before: Fact | None
    check: Checked | None
    """Against the length before; None where there was none to hold it against, or no window."""


def take_length(
    shop: ShopBook,
    name: str,
    readings: Sequence[float],
    *,
    why: str = "",
    note: str = "",
    at: datetime | None = None,
    sure: bool = False,
) -> LengthTaken:
    """Measure a tool: readings in the shop's unit, their mean written with its doubt (JCGM 100:2008, 4.2), the readings kept in the book.
    Raises `InputError`, with nothing written, for readings that cannot be those of this tool as it is known, unless somebody is `sure`."""
    when = (at or datetime.now()).replace(microsecond=0)
    with writing(shop) as (connection, noticed):
        read = load_shop(shop.folder)
        crib = crib_of(read.facts)
        item = _item(crib, name)
        setter = setter_of(crib.facts.leaning())
        values = in_mm(read, readings)
        if not sure:
            refuse_unlikely(crib, item, values, inch=read.show == "inch")
        mean = mean_length(values, setter)
        done = crib_edits.measured(crib, name, mean, when, note)
        change_shop(shop.folder, done.edits, read=_stamps(read))
        changed = record_files(connection, shop, "set", why)
        kept = {
            "path": f"tools.{name}.LF",
            "unit": "mm",
            "readings": list(mean.readings),
            "mean": mean.mean_mm,
            "u": mean.u_mm,
            "df": mean.df,
        }
        if len(mean.readings) > 1 and mean.df < float("inf"):
            add(connection, shop.book, "trial", kept, why=why)
    checked = check_length(item.window, mean.readings) if item.window is not None else None
    return LengthTaken(CribChanged(changed, noticed, ()), name, mean, item.length, checked)


def in_mm(shop: Shop, readings: Sequence[float]) -> tuple[float, ...]:
    """Readings in the shop's unit, as mm."""
    return tuple(one * (MM_PER_INCH if shop.show == "inch" else 1.0) for one in readings)


def readings_of(folder: Path, words: Sequence[str], command: str) -> tuple[float, ...]:
    """Readings as they were typed, in the shop's unit. Raises `InputError` for those that are no length, with `command` done rightly."""
    inch = load_shop(folder).show == "inch"
    found, wrong = [], []
    for word in words:
        try:
            value = float(word.replace(",", "."))
        except ValueError:
            value = math.nan
        found.append(value)
        if not 0 < value < math.inf:
            wrong.append(word)
    if wrong:
        unit, sample = ("in", "2.8076 2.8077") if inch else ("mm", "71.308 71.311")
        do = f"Such as: {command} {sample}"
        raise InputError(Fault("this is no length", " ".join(wrong), f"a number above 0 in {unit}", do=do))
    return tuple(found)


def check(folder: Path, name: str, readings: Sequence[float]) -> tuple[LengthWindow, Checked]:
    """Hold readings against the length window of a tool. Raises `InputError` that names the facts it lacks."""
    read = load_shop(folder)
    item = _item(crib_of(read.facts), name)
    if item.window is None:
        needs = dict.fromkeys(item.window_needs)
        do = " ".join(_what_states(item, path) for path in needs)
        raise InputError(Fault(f"{name} has no length window", "", f"these facts: {', '.join(needs)}", do=do))
    return item.window, check_length(item.window, in_mm(read, readings))


def _what_states(item: Item, path: str) -> str:
    """The command that states a fact which a length window lacks."""
    if path.endswith(".LF"):
        anew = "It was gripped anew: " if path in [fact.path for fact in item.void] else ""
        if not item.gripped:
            anew = f"It is in no holder: firstoff crib grip {item.name} HOLDER first. "
        return f"{anew}firstoff crib length {item.name} READING... measures it."
    samples = {"repeatability": "2.0(2) µm", "drift": "8(1) µm"}
    told = samples.get(path.rsplit(".", 1)[1], "0.02 mm")
    return f'firstoff set {path} "{told}" states it (with your figure).'


def _item(crib: Crib, name: str) -> Item:
    item = crib.item(name)
    if item is None:
        raise InputError(Fault("no tool has this name", name, ", ".join(one.name for one in crib.items)))
    return item


def drifts(shop: ShopBook, names: Sequence[str] = ()) -> dict[str, LengthDrift]:
    """The measured lengths of tools over time, from the book; of all tools that have any where none is named."""
    crib = the_crib(shop.folder)
    for name in names:
        _item(crib, name)
    wanted = names or [item.name for item in crib.items]
    found = {}
    with shop.book.reading() as connection:
        for name in wanted:
            lengths = history(connection, shop.book, f"tools.{name}.LF")
            records = [one for past in lengths if (one := _measured(past.new, past.at)) is not None]
            if records or names:
                wear = crib.facts.facts.get(f"tools.{name}.wear_allowed")
                step = MOST_STEP_MM if wear is None else wear.value + 2 * wear.u
                found[name] = length_drift(records, _begun_anew(connection, shop.book, name), step)
    return found


def _begun_anew(connection: Connection, book: Book, name: str) -> list[datetime]:
    """When a tool was gripped anew, broke, got a new or newly ground edge, or had its minutes of cutting set back."""
    at = f"tools.{name}."
    grips = history(connection, book, f"{at}re_gripped")
    found = [datetime.fromisoformat(str(past.new["setting"])) for past in grips if past.new is not None]
    for past in history(connection, book, f"{at}broke"):
        if past.new is not None:
            day = datetime.fromisoformat(str(past.new["setting"]))
            found.append(past.at if past.at.date() == day.date() else day)
    for past in history(connection, book, f"{at}condition"):
        edge = "" if past.new is None else past.new.get("setting")
        if past.old is not None and edge == "new":
            found.append(past.at)
    for past in history(connection, book, f"{at}used_up"):
        if past.old is not None and past.new is not None and float(past.new["value"]) < float(past.old["value"]):
            found.append(past.at)
    return found


def _measured(said: Stated | None, at: datetime) -> Measured | None:
    """A length as a point in time; what was only assumed is none."""
    if said is None or said.get("evidence") not in ("measured", "learned"):
        return None
    on = said.get("on")
    return Measured(datetime.fromisoformat(str(on)) if on else at, float(said["value"]), float(said["u"]))


def write_crib_page(shop: ShopBook, html: Path, now: datetime) -> None:
    """Write the crib with its lengths over time as one HTML page to print, whole or not at all."""
    from firstoff.sheets.crib_page import MARK, crib_page

    read = load_shop(shop.folder)
    page = crib_page(crib_of(read.facts), drifts(shop), read.name, ShopUnits(read.show == "inch"), now)
    write_whole(html, page, MARK)


def write_tool_list(folder: Path, pdf: Path, now: datetime, paper: str = "a4") -> None:
    """Write the crib as a PDF to print, whole or not at all. `paper`: a4 or letter."""
    from firstoff.sheets.crib_page import MARK
    from firstoff.sheets.tool_list_pdf import tool_list_pdf
    from firstoff.sheets.typst_paper import Paper

    read = load_shop(folder)
    units = ShopUnits(read.show == "inch")
    write_whole(pdf, tool_list_pdf(crib_of(read.facts), read.name, units, now, Paper(paper)), MARK)


def write_labels(folder: Path, pdf: Path, now: datetime, paper: str = "a4") -> int:
    """Write a label for every tool as a PDF to cut; returns how many."""
    from firstoff.sheets.labels_pdf import MARK, labels_pdf
    from firstoff.sheets.typst_paper import Paper

    read = load_shop(folder)
    crib = crib_of(read.facts)
    write_whole(pdf, labels_pdf(crib, ShopUnits(read.show == "inch"), now, Paper(paper)), MARK)
    return len(crib.items)
