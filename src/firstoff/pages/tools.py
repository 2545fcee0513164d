"""The tools: the rack from the front, one tool with its lengths, facts and acts, what today's jobs need, and the control's own tables."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path, PurePath

from fastapi import APIRouter, Form, HTTPException, Query, Request, UploadFile
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from firstoff.changer.crib import Crib, Item, crib_of
from firstoff.changer.drift import LengthDrift, length_drift
from firstoff.changer.loading import Change as Moved
from firstoff.changer.loading import Plan, Stage
from firstoff.errors import Fault, InputError
from firstoff.facts.change import Change
from firstoff.facts.fact import Evidence
from firstoff.facts.shop import load_shop
from firstoff.pages.fact_rows import Row, not_stated, row_of
from firstoff.pages.frames import frame_of
from firstoff.pages.render import page, parts
from firstoff.sheets.crib_compared import at_the_control, difference_words
from firstoff.sheets.crib_list import change_words, checked_words, crib_remarks, drift_words
from firstoff.sheets.fact_words import date_words, fact_words
from firstoff.sheets.length_chart import length_chart
from firstoff.sheets.rack_picture import DEFS
from firstoff.sheets.tool_fares import fares
from firstoff.sheets.tools_view import broke_words, round_words, tools_view
from firstoff.sheets.wording import fact_name, without_paths
from firstoff.verdict.words import ShopUnits, count
from firstoff.workflows import book, crib, crib_day, crib_tables, tools_room
from firstoff.workflows.machine import KeyRow, key_rows

router = APIRouter(include_in_schema=False)
MOST_CHANGES = 10
JOBS_SHOWN = 8
CHART_WIDE, CHART_HIGH = 150.0, 50.0


@dataclass(frozen=True, slots=True)
class Chosen:
    """The tool that is looked at."""

    name: str
    answer: str
    reasons: tuple[str, ...]
    where: str
    in_pocket: int | None
    in_spindle: bool
    loaded: bool
    gripped: bool
    chart: str
    drift: str
    changes: tuple[tuple[str, str, str], ...]
    groups: tuple[tuple[str, tuple[Row, ...]], ...]
    """Its facts: (what they tell, rows)."""
    pockets: tuple[tuple[int, bool], ...]
    others: tuple[str, ...]
    holders: tuple[tuple[str, str], ...]
    """(name, what it grips now)"""
    broke: str
    cut: str
    measured: bool
    """There is a length that a reading can be held against."""


@dataclass(frozen=True, slots=True)
class Hand:
    """One thing that a hand does, and what says that it was done."""

    words: str
    tool: str
    verb: str
    pocket: int | None
    done: str


@dataclass(frozen=True, slots=True)
class Day:
    """What today's jobs need, in words."""

    sentence: str
    served: bool
    stages: tuple[tuple[str, tuple[Hand, ...], tuple[str, ...]], ...]
    """(job, what a hand does before it, who stands in for whom)"""
    grip: tuple[str, ...]
    cannot: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Held:
    """The control's tables held against the shop."""

    lines: int
    rows: tuple[tuple[str, bool, str, str, str], ...]
    """(what differs, whether it stops, where, if the control is right, if the shop is right)"""


@router.get("/tools")
def show(
    request: Request,
    tool: str = Query(default="", max_length=80),
    act: str = Query(default="", max_length=20),
    job: list[str] = Query(default=[]),  # noqa: B008 (a list is asked for like this)
) -> HTMLResponse:
    """The page."""
    jobs = tuple(dict.fromkeys(job))
    if len(jobs) > tools_room.MOST_JOBS:
        raise InputError(Fault("these are too many jobs for a day", str(len(jobs)), f"at most {tools_room.MOST_JOBS}"))
    return _page(request, tool, act, jobs)


@router.get("/tools/{tool}/chosen")
def one(request: Request, tool: str, act: str = Query(default="", max_length=20)) -> HTMLResponse:
    """The parts of the page that are of one tool: sent when it is chosen, so that the rack need not be drawn again."""
    here = book.shop_book(request.app.state.folder)
    book.notice(here)
    shop, now = load_shop(here.folder), datetime.now()
    units, found = ShopUnits(shop.show == "inch"), crib_of(shop.facts)
    if found.item(tool) is None:
        raise HTTPException(404, "There is no such tool in this shop.")
    shown = _chosen(here, found, tool, _drifts(request, here).get(tool, length_drift(())), units, now)
    return HTMLResponse(parts("tool_chosen", chosen=shown, said="", **_of_acts(units, act)))


def _drifts(request: Request, here: book.ShopBook) -> Mapping[str, LengthDrift]:
    """All measured lengths over time, read anew once anything was written into the book: it only ever grows."""
    newest = book.newest(here, 1)
    number = newest[0].number if newest else 0
    kept: tuple[int, Mapping[str, LengthDrift]] | None = getattr(request.app.state, "lengths", None)
    if kept is None or kept[0] != number:
        kept = (number, crib.drifts(here))
        request.app.state.lengths = kept
    return kept[1]


def _of_acts(units: ShopUnits, act: str) -> dict[str, object]:
    return {"open_act": act, "kinds": [one.value for one in Evidence], "unit": "inches" if units.inch else "mm"}


def _page(
    request: Request, tool: str, act: str = "", jobs: tuple[str, ...] = (), held: Held | None = None, said: str = ""
) -> HTMLResponse:
    here = book.shop_book(request.app.state.folder)
    book.notice(here)
    shop, now = load_shop(here.folder), datetime.now()
    units, found, drifts = ShopUnits(shop.show == "inch"), crib_of(shop.facts), _drifts(request, here)
    view = tools_view(found, drifts, units, now)
    name = tool if found.item(tool) is not None else ""
    if not name:
        name = view.act.tool if view.act is not None else next((item.name for item in found.items), "")
    return HTMLResponse(
        page(
            "tools",
            frame_of(request, "tools"),
            view=view,
            remarks=[one.replace(": no wear_allowed.", ": no wear allowed.") for one in crib_remarks(found, units)],
            chosen=_chosen(here, found, name, drifts.get(name, length_drift(())), units, now) if name else None,
            **_of_acts(units, act),
            jobs=[(job, f"ran {date_words(at)}" if at is not None else "") for job, at in tools_room.jobs_lately(here)],
            jobs_shown=JOBS_SHOWN,
            asked=jobs,
            day=_day(crib_day.today(shop, jobs)) if jobs else None,
            held=held,
            said=said,
            defs=DEFS,
        )
    )


def _chosen(here: book.ShopBook, found: Crib, name: str, drift: LengthDrift, units: ShopUnits, now: datetime) -> Chosen:
    item = found.item(name)
    assert item is not None
    fare, past = fares(item, found, drift, units), tools_room.lived(here, name, MOST_CHANGES)
    window = item.window if item.length is not None else None
    words = drift_words(name, drift, units)
    return Chosen(
        name,
        fare.answer.value,
        tuple(words for _, words in fare.reasons),
        item.place or "",
        item.pocket,
        found.rack.in_spindle == name,
        item.loaded,
        item.gripped,
        length_chart(drift, window, units, CHART_WIDE, CHART_HIGH, words),
        words,
        tuple(_change(one, name, units) for one in past.changes),
        _groups(_rows(here, item, units, now)),
        tools_room.empty_pockets(found, name),
        tuple(one.name for one in found.items if one.name != name),
        tuple((one.name, one.holds or "") for one in found.holders),
        broke_words(item),
        f"{past.minutes:.0f} min in noted runs" if past.minutes else "",
        item.length is not None,
    )


SYMBOLS = {
    "LF": "length", "OHX": "stick-out", "DC": "diameter", "RE": "corner radius", "ZEFP": "edges", "APMX": "usable depth",
    "FHA": "helix angle", "GAMF": "rake", "DMM": "shank", "SIG": "point angle", "KAPR": "lead angle", "TP": "pitch", "DN": "neck",
    "LU": "usable length", "held_in": "holder by name", "holder": "holder's steps", "run_out": "run-out", "used_up": "life used",
    "sister": "may stand in for it", "re_gripped": "gripped anew", "broke_why": "why it broke", "max_speed": "greatest speed",
    "gripped": "gripped length",
}  # fmt: skip
"""A symbol of ISO 13399 beside its name, and keys in words."""
GROUPS = (
    ("Its length and how it is held", ("LF", "OHX", "wear_allowed", "held_in", "holder", "gripped", "re_gripped", "run_out", "holder_stiffness", "place")),
    ("Its edge", ("condition", "life", "used_up", "sister", "broke", "broke_why", "edge_radius", "max_speed", "coating", "material")),
    ("Its shape", ()),
)  # fmt: skip
"""The last takes all others."""
WANTED = ("LF", "OHX", "wear_allowed", "life", "used_up", "condition", "DC", "ZEFP", "APMX", "DMM")
WANTED_OF_PROBE = ("LF", "OHX", "wear_allowed", "DC", "DN", "stylus", "DMM")
"""What is shown as not stated where it is, so that it can be said."""


def _rows(here: book.ShopBook, item: Item, units: ShopUnits, now: datetime) -> tuple[Row, ...]:
    """What the file says of a tool, and what it does not."""
    said = tuple(_row(row, item.name, units) for row in key_rows(here, f"tools.{item.name}.", now))
    there = {_last(row.path) for row in said}
    wanted = WANTED_OF_PROBE if item.kind == "probe" else WANTED
    return (*said, *(not_stated(f"tools.{item.name}.{key}", _name(key, "")) for key in wanted if key not in there))


def _name(key: str, otherwise: str) -> str:
    """A symbol of ISO 13399 with its name; any other key in words."""
    words = SYMBOLS.get(key, otherwise or key.replace("_", " "))
    return f"{key} {words}" if key.isupper() else words[:1].upper() + words[1:]


def _groups(rows: tuple[Row, ...]) -> tuple[tuple[str, tuple[Row, ...]], ...]:
    """What is looked at most first."""
    told = {key for _, keys in GROUPS for key in keys}
    found = []
    for words, keys in GROUPS:
        own = (
            [row for row in rows if _last(row.path) in keys] if keys else [r for r in rows if _last(r.path) not in told]
        )
        order = {key: number for number, key in enumerate(keys)}
        found.append((words, tuple(sorted(own, key=lambda row: order.get(_last(row.path), 0)))))
    return tuple((words, own) for words, own in found if own)


def _last(path: str) -> str:
    return path.split(".")[2]


def _row(key: KeyRow, tool: str, units: ShopUnits) -> Row:
    """Told by its symbol and its name; the tool's own stands over all of them already."""
    row, last = row_of(key, units), _last(key.path)
    name = _name(last, row.name.removesuffix(f" of {tool}"))
    if last in ("life", "used_up"):
        return replace(row, name=name, value=key.written, unit="")
    moment = key.settings[0].value if len(key.settings) == 1 else None
    if isinstance(moment, datetime):
        return replace(
            row, name=name, value=date_words(moment) + (f", {moment:%H:%M}" if moment.hour or moment.minute else "")
        )
    if last == "holder":
        return replace(row, name=name, value=_steps(key), unit="mm")
    return replace(row, name=name, value=round_words(row.value))


def _steps(key: KeyRow) -> str:
    """Steps of a holder as widths and lengths, from the tool end upward."""
    sizes = [fact.value for fact in key.facts]
    return ", ".join(
        f"\N{LATIN CAPITAL LETTER O WITH STROKE}{wide:g} × {long:g}"
        for wide, long in zip(sizes[::2], sizes[1::2], strict=False)
    )


def _change(one: tuple[datetime, str, str, Change], tool: str, units: ShopUnits) -> tuple[str, str, str]:
    when, who, why, change = one
    path, old, new = change.path, change.old, change.new
    name = fact_name(path).removesuffix(f" of {tool}")
    if new is None:
        words = f"{name} taken out; was {fact_words(path, old, units)}"
    else:
        words = f"{name} {fact_words(path, new, units)}" + (f"; was {fact_words(path, old, units)}" if old else "")
    return date_words(when), round_words(words[:1].upper() + words[1:]), who + (f", {why}" if why else "")


# --- acts -------------------------------------------------------------------------------------------------------------


@router.post("/tools/{tool}")
def do(
    request: Request,
    tool: str,
    verb: str = Form(max_length=20),
    readings: str = Form(default="", max_length=2000),
    note: str = Form(default="", max_length=400),
    pocket: str = Form(default="", max_length=10),
    to: str = Form(default="", max_length=200),
    other: str = Form(default="", max_length=80),
    holder: str = Form(default="", max_length=80),
    stick_out: str = Form(default="", max_length=60),
    minutes: str = Form(default="", max_length=20),
    sure: str = Form(default="", max_length=8),
    why: str = Form(default="", max_length=400),
) -> Response:
    """Do one thing to a tool; what cannot be done says why, and nothing is written."""
    here = book.shop_book(request.app.state.folder)
    plain = "application/json" not in request.headers.get("accept", "")
    if verb == "check":
        with _as_on_page():
            window, found = tools_room.look(here, tool, readings)
        said = " ".join(checked_words(tool, window, found, book.units_of(here.folder)))
        return _page(request, tool, "length", said=said) if plain else JSONResponse({"changed": 0, "said": said})
    told = {
        "readings": readings, "note": note, "pocket": pocket, "to": to, "other": other, "holder": holder,
        "stick_out": stick_out, "minutes": minutes, "sure": sure, "why": why,
    }  # fmt: skip
    with _as_on_page():
        changed, remarks = tools_room.act(here, verb, tool, told)
    if plain:
        return RedirectResponse(f"/tools?tool={tool}", 303)
    return JSONResponse({"changed": changed, "said": " ".join(on_page(one) for one in remarks)})


@contextmanager
def _as_on_page() -> Iterator[None]:
    """What cannot be done says what to do here, not at a terminal."""
    try:
        yield
    except InputError as error:
        raise InputError(*(replace(one, do=on_page(one.do)) for one in error.faults)) from None


_COMMANDS = (
    (r"firstoff crib unload (\d+) first, or firstoff crib swap (\S+) ([^\s.]+)", r"Take out what stands in pocket \1 first, or let \2 and \3 change places"),
    (r"firstoff crib unload (\d+) --to (.+) takes it out", r"Take it out of pocket \1 first"),
    (r"firstoff crib spindle --empty --to (.+) takes it out", r"Take it out of the spindle first"),
    (r"firstoff crib fresh (\S+) says", r"A fresh edge on \1 says"),
    (r"firstoff crib loosen (\S+) takes it out", r"Loosening \1 takes it out"),
    (r"firstoff crib length (\S+) READING\.\.\. measures it", r"Record a length of \1"),
    (r"firstoff crib fresh (\S+), or firstoff crib grip \S+ \S+, first; or --yes if it really is so long", r"say so first (Fresh edge, Grip), or that it really is so long"),
    (r"firstoff set tools\.(\S+)\.(\w+) says", r"The fact \2 of \1 says"),
)  # fmt: skip


def on_page(words: str) -> str:
    """Advice that names a command, as somebody at the page does the same."""
    for command, said in _COMMANDS:
        words = re.sub(command, said, words)
    return without_paths(words)


# --- today ------------------------------------------------------------------------------------------------------------


def _day(found: crib_day.Today) -> Day:
    plan = found.better or found.plan
    grip = [
        f"{one.cutter} into holder {one.holder}"
        + (f", which now grips {one.torn}: {found.costs.get(one.torn, '')}" if one.torn is not None else "")
        + "."
        for one in found.freed.gripped
    ]
    grip += [f"No holder can be had for {name}." for name in found.freed.unserved]
    remarks = list(found.remarks)
    if found.better is not None and found.plan is not None:
        saved = found.plan.hand_changes - found.better.hand_changes
        remarks.insert(0, f"In this order it takes {count(saved, 'change')} less than in the one asked for.")
    if plan is not None and not (plan.proven and found.order_proven):
        remarks.append("Whether fewer would do was not searched to the end.")
    return Day(
        _day_sentence(plan),
        plan is not None,
        tuple(_stage(one, found) for one in (plan.stages if plan is not None else ())),
        tuple(grip),
        tuple(found.cannot.items()),
        tuple(on_page(one) for one in remarks),
    )


def _day_sentence(plan: Plan | None) -> str:
    if plan is None:
        return "The rack cannot serve these jobs."
    if plan.hand_changes:
        return f"{count(plan.hand_changes, 'change')} by hand."
    out = any(stage.changes for stage in plan.stages)
    return "No tool is put in or moved; something must come out." if out else "Nothing needs to be changed by hand."


def _stage(one: Stage, found: crib_day.Today) -> tuple[str, tuple[Hand, ...], tuple[str, ...]]:
    meant = {need.number: need.meant for job in found.jobs if job.job == one.job for need in job.needs}
    stands = tuple(
        f"{sister} stands in for {meant.get(number, '')}: write it at {number} in the job's [tools] and examine it again."
        for number, sister in one.stand_in.items()
    )
    return one.job, tuple(_hand(change) for change in one.changes), stands


def _hand(one: Moved) -> Hand:
    if one.pocket is None:
        return Hand(change_words(one), one.tool, "unload", None, f"{one.tool} is out")
    return Hand(change_words(one), one.tool, "load", one.pocket, f"{one.tool} is in {one.pocket}")


# --- the control's own tables -----------------------------------------------------------------------------------------


@router.post("/tools/control/compare")
def compare(
    request: Request,
    mapping: UploadFile,
    tools: UploadFile | None = None,
    offsets: UploadFile | None = None,
    job: str = Form(default="", max_length=200),
) -> HTMLResponse:
    """Hold the control's tables against the shop. They are read as text, kept nowhere, and nothing is changed."""
    folder: Path = request.app.state.folder
    if job and job not in load_shop(folder).job_names:
        raise InputError(Fault("no such job", job, "a job of this shop"))
    with tempfile.TemporaryDirectory(dir=request.app.state.dropped) as place:
        how, first, second = (
            _kept(Path(place), name, sent)
            for name, sent in (("mapping", mapping), ("tools", tools), ("offsets", offsets))
        )
        if how is None:
            raise InputError(Fault("there is no mapping", "", "a mapping file: how the control's tables are read"))
        if first is None and second is None:
            raise InputError(
                Fault("there is no table to compare", "", "the control's tool table, or its offsets with their job")
            )
        found = crib_tables.compare(folder, how, first, second, job or None)
    return _page(request, "", held=_held(found, book.units_of(folder)))


def _kept(place: Path, part: str, sent: UploadFile | None) -> Path | None:
    """A file as it was sent, under its own last name, in a folder that goes away; None where none was chosen."""
    if sent is None or not sent.filename:
        return None
    data = sent.file.read(crib_tables.GREATEST_TABLE + 1)
    if len(data) > crib_tables.GREATEST_TABLE:
        raise InputError(Fault("the file is too big for a table", "", "4 MB", sent.filename[-80:]))
    folder = place / part
    folder.mkdir()
    path = folder / (PurePath(sent.filename.replace("\\", "/")).name.lstrip(".")[-80:] or part)
    path.write_bytes(data)
    return path


def _held(found: crib_tables.Compared, units: ShopUnits) -> Held:
    rows = tuple(
        (
            difference_words(one, units),
            one.danger.stops,
            f"line {one.line} of the control's table" if one.line else "",
            _set_words(found.set_words(one)),
            at_the_control(one, units),
        )
        for one in found.differences
    )
    return Held(found.lines, rows)


def _set_words(command: tuple[str, ...]) -> str:
    """What would make the shop agree, as somebody at the page does it."""
    if command[:3] == ("firstoff", "crib", "load"):
        return f"If the control is right: load {command[3]} into pocket {command[4]}."
    if command[:3] == ("firstoff", "crib", "swap"):
        return f"If the control is right: let {command[3]} and {command[4]} change places."
    if command[:2] == ("firstoff", "set"):
        path, value = command[-2:]  # options stand before them
        return f"If the control is right: set the {fact_name(path)} to {value}."
    return ""
