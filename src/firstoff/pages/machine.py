"""The machine and its facts: looked at, edited in their rows, and the card of the day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from firstoff.book.kept import Past
from firstoff.errors import InputError
from firstoff.facts.fact import Evidence, Fact, Setting
from firstoff.facts.shop import MACHINE, Shop, load_shop
from firstoff.pages.fact_rows import NOT_STATED, Row, not_stated, row_of, short_name
from firstoff.pages.frames import frame_of
from firstoff.pages.machine_doubt import first_sentence
from firstoff.pages.render import page, parts
from firstoff.sheets.curve_svg import steps_svg
from firstoff.sheets.envelope import DEFS, KEY, envelope_svg
from firstoff.sheets.envelope_job import job_in
from firstoff.sheets.evidence_stamps import stamp_svg
from firstoff.sheets.fact_words import age_words, date_words, fact_parts, fact_words
from firstoff.sheets.html_text import html
from firstoff.sheets.wording import fact_name
from firstoff.verdict.words import ShopUnits
from firstoff.workflows import book, facts
from firstoff.workflows.doubt_today import doubt_shares, kept_now
from firstoff.workflows.machine import KeyRow, fill_card, key_rows, refuse_if_changed, written_now
from firstoff.workflows.machine_reach import job_place
from firstoff.workflows.tools_room import jobs_lately

router = APIRouter(include_in_schema=False)
GROUPS = (
    ("machine.axis.", "Axes"),
    ("machine.spindle.", "Spindle"),
    ("machine.frame.", "Frame"),
    ("machine.changer.", "Tool change"),
    ("machine.zone.", "Kept-out spaces, width × depth × height"),
    ("machine.home.", "Stored positions, X Y Z"),
    ("machine.control.", "Control"),
    ("machine.judgement.", "When an answer is clear, care or stop"),
    ("machine.practice.", "Rules of the trade"),
)
WANTED = (
    *((f"machine.axis.{axis}.travel", example) for axis, example in (("x", "0 mm .. 310 mm"), ("y", "0 mm .. 215 mm"), ("z", "-120 mm .. 0 mm"))),
    *((f"machine.axis.{axis}.{key}", example) for axis in "xyz" for key, example in (("max_feed", "12 m/min"), ("accel", "2.5 m/s^2"), ("jerk", "60 m/s^3"))),
    ("machine.spindle.speed", "5000 1/min .. 24000 1/min"),
    ("machine.spindle.directions", '["cw"]'),
    ("machine.spindle.power_s1", '[["5000 1/min", "0.2 kW"], ["24000 1/min", "0.8 kW"]]'),
    ("machine.spindle.run_up", "3(1) s"),
    ("machine.spindle.stiffness", "8(4) N/µm"),
    ("machine.spindle.nose", '[["60 mm", "45 mm"]]'),
    ("machine.frame.stiffness", "5(3) N/µm"),
    ("machine.changer.change_time", "15(5) s"),
)  # fmt: skip
"""Shown as not stated where nobody has said it, with an example, so that it can be said in its row."""
TOLD_OF = {
    Evidence.ASSUMED: "nobody looked",
    Evidence.HANDBOOK: "from tables",
    Evidence.PLATE: "the maker says",
    Evidence.MEASURED: "a trial here",
    Evidence.LEARNED: "from runs here",
}
MOST_CHANGES = 6


@router.get("/machine")
def show(
    request: Request,
    evidence: Annotated[str, Query(max_length=20)] = "",
    reach: Annotated[str, Query(max_length=200)] = "",
    opened: Annotated[str, Query(max_length=200, alias="open")] = "",
) -> HTMLResponse:
    """The page; all rows, or those of one `evidence`; the reach of a job; a row opened to be measured."""
    here = book.shop_book(request.app.state.folder)
    book.notice(here)
    shop, now = load_shop(here.folder), datetime.now()
    kept = kept_now(here)
    keys = key_rows(here, "machine.", now, kept)
    shares = doubt_shares(one.record for one in kept)
    units = ShopUnits(shop.show == "inch")
    said = first_sentence(keys, shares, bool(kept), shop.facts)
    groups = groups_of(keys, said.carry, units)
    jobs = [name for name, _ in jobs_lately(here)]
    newest = max((one for one in kept if one.job in jobs), key=lambda one: one.number, default=None)
    job = reach if reach in jobs else newest.job if newest is not None else ""
    return HTMLResponse(
        page(
            "machine",
            frame_of(request, "machine"),
            groups=groups,
            evidence=_counts(groups),
            chosen=evidence if evidence in [one.value for one in TOLD_OF] else "",
            opened=opened,
            said=said,
            read=f"{_stated(groups)} in {MACHINE}, read {now:%H:%M}",
            jobs=jobs,
            job=job,
            envelope=_envelope(shop, job, units),
            key=KEY,
            defs=DEFS,
            card=_card(shop.facts.settings, shop.facts.facts, now),
            kinds=[one.value for one in Evidence],
            changes=_changes(here, units, now),
            changed=book.count_of(here, "facts"),
        )
    )


@router.get("/machine/envelope")
def envelope(request: Request, reach: Annotated[str, Query(max_length=200)] = "") -> HTMLResponse:
    """Plan and side alone, with another job in them."""
    here = book.shop_book(request.app.state.folder)
    shop = load_shop(here.folder)
    known = {name for name, _ in jobs_lately(here)}
    return HTMLResponse(_envelope(shop, reach if reach in known else "", ShopUnits(shop.show == "inch")))


def _envelope(shop: Shop, name: str, units: ShopUnits) -> str:
    """The drawing; a job that cannot be read costs no drawing of the machine."""
    if not name:
        return envelope_svg(shop.facts, None, units)
    try:
        place = job_place(shop, name)
    except InputError:
        return envelope_svg(shop.facts, None, units) + '<p class="envelope-note">This job cannot be read.</p>'
    spans, rapid = (place.reach.spans, place.reach.rapid_z) if place.reach is not None else (None, None)
    job = job_in(name, place.facts, place.zeros, place.stock_in, spans, rapid, place.tools)
    note = f'<p class="envelope-note">No reach is drawn: {html(place.why_not)}.</p>' if place.why_not else ""
    return envelope_svg(shop.facts, job, units) + note


def groups_of(keys: Sequence[KeyRow], carry: Sequence[str], units: ShopUnits) -> list[tuple[str, list[Row]]]:
    """The rows under their headings, and what is wanted and not stated; names of spaces are told by what is kept out."""
    there = {key.path for key in keys}
    rows = [row_of(key, units, key.path in carry) for key in keys if not _is_name(key.path)]
    missing = [not_stated(path, example=example) for path, example in WANTED if path not in there]
    told = [
        (words, sorted((row for row in (*rows, *missing) if row.path.startswith(prefix)), key=_axis_first))
        for prefix, words in GROUPS
    ]
    return [(words, own) for words, own in told if own]


def _is_name(path: str) -> bool:
    return path.startswith("machine.zone.") and path.endswith(".name")


def _axis_first(row: Row) -> str:
    """Axes in their order; all others as they stand."""
    return ".".join(row.path.split(".")[:3]) if row.path.startswith("machine.axis.") else ""


def _stated(groups: Iterable[tuple[str, Sequence[Row]]]) -> str:
    number = sum(1 for _, rows in groups for row in rows if row.value != NOT_STATED)
    return f"{number or 'no'} fact{'' if number == 1 else 's'}"


def _counts(groups: Iterable[tuple[str, Sequence[Row]]]) -> list[tuple[str, str, int, str]]:
    """How many of the rows below each stamp stands in: what pressing it shows."""
    counts = Counter(row.evidence for _, rows in groups for row in rows)
    return [(one.value, stamp_svg(one), counts.get(one.value, 0), told) for one, told in TOLD_OF.items()]


@dataclass(frozen=True, slots=True)
class Card:
    """Today's card as it stands."""

    when: str
    fresh: bool
    homed: bool
    pockets_seen: bool
    warm: str
    air: str


SHIFT_H = 12.0


def _card(settings: Mapping[str, Setting], known: Mapping[str, Fact], now: datetime) -> Card:
    on = settings.get("machine.today.on")
    at = on.value.replace(tzinfo=None) if on is not None and isinstance(on.value, datetime) else None
    age_s = (now - at).total_seconds() if at is not None else 0.0
    fresh = at is not None and 0 <= age_s < SHIFT_H * 3600
    warm, air = known.get("machine.today.warm"), known.get("machine.today.air")
    if at is None:
        when = "not filled in yet"
    elif fresh:
        when = f"fresh: filled in at {at:%H:%M}, holds until {at + timedelta(hours=SHIFT_H):%H:%M}"
    else:
        when = f"stale: filled in {date_words(at)}, {at:%H:%M}"
    return Card(
        when=when,
        fresh=fresh,
        homed=_yes(settings, "machine.today.homed"),
        pockets_seen=_yes(settings, "machine.today.pockets_seen"),
        warm="" if warm is None else f"{warm.value / 60:g} min",
        air="" if air is None else f"{air.value * 10:g} bar",
    )


def _yes(settings: Mapping[str, Setting], path: str) -> bool:
    return path in settings and bool(settings[path].value)


@dataclass(frozen=True, slots=True)
class Changed:
    """One of the last changes."""

    stamp: str
    when: str
    """How long ago."""
    on: str
    words: str
    who: str


def _changes(here: book.ShopBook, units: ShopUnits, now: datetime) -> list[Changed]:
    """The last changes of the machine's facts but for today's card, which changes each morning."""
    told = []
    for when, who, why, change in book.last_changes(here, "machine.", 8 * MOST_CHANGES):
        if change.path.startswith("machine.today."):
            continue
        new = change.new or {}
        evidence = Evidence(new["evidence"]) if "evidence" in new else Evidence.SET
        words = _capital(fact_name(change.path))
        if change.new is None:
            words += f" taken out; was {fact_words(change.path, change.old, units)}"
        else:
            words += f" {fact_words(change.path, change.new, units)}"
            words += f"; was {fact_words(change.path, change.old, units)}" if change.old is not None else ""
        days = (now - when).total_seconds() / 86400
        ago = "today" if days < 1 else f"{age_words(days)} ago"
        told.append(Changed(stamp_svg(evidence), ago, date_words(when), words, who + (f", {why}" if why else "")))
    return told[:MOST_CHANGES]


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


# --- one fact ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class WasThen:
    """One entry of a fact's past."""

    on: str
    words: str
    how: str
    who: str


@router.get("/facts/past")
def past(request: Request, path: Annotated[str, Query(max_length=200)]) -> HTMLResponse:
    """What a fact was, newest first, as a part of a page."""
    here = book.shop_book(request.app.state.folder)
    units = book.units_of(here.folder)
    shown = facts.show_fact(here, path)
    alone = len(shown) == 1
    entries: dict[int, list[tuple[str, Past]]] = {}
    for fact in shown:
        for one in fact.past:
            entries.setdefault(one.entry, []).append(("" if alone else _end(fact.path, path), one))
    told = [_then(entries[number], path, units) for number in sorted(entries, reverse=True)]
    return HTMLResponse(parts("fact_past", past=told, plot=_steps(shown[0], units) if alone else ""))


def _then(entry: Sequence[tuple[str, Past]], path: str, units: ShopUnits) -> WasThen:
    """All that one entry said of a key."""
    one = entry[0][1]
    there = [one for one in entry if one[1].new is not None] or entry  # one value may become three, and be gone itself
    words = [f"{end} {fact_words(f'{path}.{end}', said.new, units)}".strip() for end, said in there]
    how = {"first": "first seen", "by hand": "edited in the file"}.get(one.how, "")
    return WasThen(
        f"{date_words(one.at)}, {one.at:%H:%M}", ", ".join(words), how, one.who + (f", {one.why}" if one.why else "")
    )


def _end(path: str, root: str) -> str:
    """What of a key it is: ``low``, ``X``, ``power``; the number of a point says nothing."""
    rest = [one for one in path.removeprefix(root).strip(".").split(".") if not one.isdecimal()]
    words = " ".join(rest).replace("_", " ")
    return words.upper() if len(words) == 1 else words


def _steps(fact: facts.FactShown, units: ShopUnits) -> str:
    """Its values over time, all in the unit of the newest; nothing where one was a word."""
    said = [(one.at, one.new) for one in fact.past if one.new is not None]
    if len(said) < 3 or any("setting" in new for _, new in said):
        return ""
    _, unit = fact_parts(fact.path, said[-1][1], units)
    value = float(said[-1][1]["value"])
    number = float(
        fact_parts(fact.path, {**said[-1][1], "u": 0.0}, units)[0].replace("\u202f", "").replace("\u2212", "-")
    )
    factor = number / value if value else 1.0
    course = [(at, new["value"] * factor, new["u"] * factor) for at, new in said]
    words = f"{short_name(fact.path)} over time: " + ", ".join(
        f"{value:.4g} {unit} from {date_words(at)}" for at, value, _ in course
    )
    return steps_svg(course, unit, words)


Text = Annotated[str, Form(max_length=4000)]
Short = Annotated[str, Form(max_length=400)]


@router.post("/facts")
def set_fact(
    request: Request,
    path: Annotated[str, Form(max_length=200)],
    value: Text,
    was: Text = "",
    u: Annotated[str, Form(max_length=60)] = "",
    evidence: Annotated[str, Form(max_length=20)] = "",
    note: Short = "",
    why: Short = "",
) -> Response:
    """Set one fact as its row was filled in; refused where somebody else changed it meanwhile."""
    here = book.shop_book(request.app.state.folder)
    as_json = "application/json" in request.headers.get("accept", "")
    try:
        refuse_if_changed(here, path, was)
    except InputError as error:
        if not as_json:
            raise
        told = [{"what": fault.what, "value": fault.value, "do": fault.do} for fault in error.faults]
        return JSONResponse({"faults": told, "now": written_now(here, path)}, 422)
    done = facts.set_fact(here, path, value, facts.Told(u or None, None, evidence or None, note or None, None), why=why)
    if as_json:
        return JSONResponse({"changed": len(done.changed)})
    return RedirectResponse(f"/{path.partition('.')[0]}#{path}", 303)


@router.post("/facts/check")
def check(
    request: Request,
    path: Annotated[str, Form(max_length=200)],
    value: Text,
    u: Annotated[str, Form(max_length=60)] = "",
    evidence: Annotated[str, Form(max_length=20)] = "",
    note: Short = "",
) -> JSONResponse:
    """Say how a value would be understood, or why it cannot be; nothing is written."""
    here = book.shop_book(request.app.state.folder)
    units = book.units_of(here.folder)
    try:
        found = facts.check_fact(here, path, value, facts.Told(u or None, None, evidence or None, note or None, None))
    except InputError as error:
        told = [{"what": one.what, "value": one.value, "allowed": one.allowed, "do": one.do} for one in error.faults]
        return JSONResponse({"faults": told})
    own = [change for change in found if change.path == path or change.path.startswith(f"{path}.")][:3]
    told_words = []
    for change in own:
        words = fact_words(change.path, change.new, units)
        said = change.new or {}
        width = said["u"] / abs(said["value"]) if said.get("u") and said.get("value") else None
        words += f", {said['evidence']}" if "evidence" in said else ""
        told_words.append(words + (f", doubt {100 * width:.2g} %" if width else ""))
    return JSONResponse({"says": "Read as " + "; ".join(told_words) + "." if own else "This is what it says now."})


@router.post("/machine/today")
def today(
    request: Request,
    homed: Annotated[bool, Form()] = False,
    pockets_seen: Annotated[bool, Form()] = False,
    warm: Annotated[str, Form(max_length=40)] = "",
    air: Annotated[str, Form(max_length=40)] = "",
) -> Response:
    """Fill in the card of the day."""
    fill_card(book.shop_book(request.app.state.folder), homed, warm, air, pockets_seen, datetime.now())
    return RedirectResponse("/machine", 303)
