"""The machine and its facts: looked at, edited in their rows, and the card of the day."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from firstoff.facts.change import stated
from firstoff.facts.fact import Evidence, Fact, Setting
from firstoff.facts.shop import load_shop
from firstoff.pages.frames import frame_of
from firstoff.pages.render import page
from firstoff.sheets.envelope import envelope_svg
from firstoff.sheets.evidence_stamps import stamp_svg
from firstoff.sheets.fact_words import age_words, date_words, fact_words
from firstoff.sheets.wording import fact_name
from firstoff.verdict.words import ShopUnits
from firstoff.workflows import book, facts
from firstoff.workflows.machine import KeyRow, fill_card, key_rows, refuse_if_changed

router = APIRouter(include_in_schema=False)
GROUPS = (
    ("machine.axis.", "Axes"),
    ("machine.spindle.", "Spindle"),
    ("machine.frame.", "Frame"),
    ("machine.changer.", "Tool change"),
    ("machine.zone.", "Kept-out spaces"),
    ("machine.home.", "Stored positions"),
    ("machine.control.", "Control"),
    ("machine.judgement.", "When an answer is clear, care or stop"),
    ("machine.practice.", "Rules of the trade"),
)
LEFT_OUT = ("machine.today.", "machine.shop.")
TOLD_OF = {
    Evidence.ASSUMED: "nobody looked",
    Evidence.HANDBOOK: "from tables",
    Evidence.PLATE: "the maker says",
    Evidence.MEASURED: "a trial here",
    Evidence.LEARNED: "from runs here",
}
LONGEST_WORDS = 60
MOST_CHANGES = 8


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table, ready to be shown."""

    path: str
    name: str
    value: str
    evidence: str
    stamp: str
    age: str
    doubt_at: float | None
    """Share of the log rule from 0.01 to 100 %; None where there is no doubt."""
    doubt: str
    leaned_by: int
    written: str
    u: str
    note: str


@router.get("/machine")
def show(request: Request) -> HTMLResponse:
    """The page."""
    folder = request.app.state.folder
    here = book.shop_book(folder)
    book.notice(here)
    shop, now = load_shop(folder), datetime.now()
    rows = key_rows(here, "machine.", now)
    units = ShopUnits(shop.show == "inch")
    groups = [(words, [row_of(row, units) for row in rows if row.path.startswith(prefix)]) for prefix, words in GROUPS]
    return HTMLResponse(
        page(
            "machine",
            frame_of(request, "machine"),
            groups=[(words, told) for words, told in groups if told],
            evidence=_counts(rows),
            sentence=_sentence(rows),
            envelope=envelope_svg(shop.facts),
            card=_card(shop.facts.settings, shop.facts.facts, now),
            kinds=[one.value for one in Evidence],
            changes=_changes(here, units),
        )
    )


def row_of(row: KeyRow, units: ShopUnits) -> Row:
    """A key of a file as a row of a page."""
    evidence = row.evidence
    return Row(
        path=row.path,
        name=_capital(fact_name(row.path)),
        value=_value(row, units),
        evidence="" if evidence is None else evidence.value,
        stamp="" if evidence is None else stamp_svg(evidence),
        age=age_words(row.age_days) if row.age_days is not None else "",
        doubt_at=None if row.width is None else min(max(_log_share(row.width), 0.0), 1.0),
        doubt="" if row.width is None else f"{row.width:.2%}" if row.width < 0.01 else f"{row.width:.0%}",
        leaned_by=row.leaned_by,
        written=row.written,
        u=row.said.get("u", ""),
        note=row.said.get("note", ""),
    )


def _log_share(width: float) -> float:
    """0.01 % lies at 0, 100 % at 1."""
    return (math.log10(max(width, 1e-12)) + 4) / 4


def _value(row: KeyRow, units: ShopUnits) -> str:
    """All that the key holds, short enough for a row."""
    if row.facts and len(row.facts) <= 3:
        told = [fact_words(fact.path, stated(fact), units) for fact in row.facts]
        last = [fact.path.rsplit(".", 1)[-1] for fact in row.facts]
        joint = " to " if last == ["low", "high"] else ", "
        return joint.join(told)
    words = row.written if row.facts else ", ".join(fact_words(one.path, stated(one), units) for one in row.settings)
    return words if len(words) <= LONGEST_WORDS else f"{len(row.facts)} numbers"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _counts(rows: Iterable[KeyRow]) -> list[tuple[str, str, int, str]]:
    counts = Counter(fact.evidence for row in rows if not row.path.startswith(LEFT_OUT) for fact in row.facts)
    return [(one.value, stamp_svg(one), counts.get(one, 0), told) for one, told in TOLD_OF.items()]


def _sentence(rows: tuple[KeyRow, ...]) -> str:
    """Whose doubt is widest among what jobs lean on."""
    leaned = [row for row in rows if row.leaned_by and row.width is not None and row.evidence is Evidence.ASSUMED]
    widest = sorted(leaned, key=lambda row: -(row.width or 0.0))[:2]
    if not widest:
        return "Nothing that a job leans on here is only assumed."
    names = " and ".join(fact_name(row.path) for row in widest)
    return _capital(
        f"{names} {'is' if len(widest) == 1 else 'are'} only assumed, and jobs lean on {'it' if len(widest) == 1 else 'them'}."
    )


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
    at = on.value if on is not None else None
    fresh = isinstance(at, datetime) and 0 <= (now - at.replace(tzinfo=None)).total_seconds() < SHIFT_H * 3600
    warm, air = known.get("machine.today.warm"), known.get("machine.today.air")
    return Card(
        when=f"{date_words(at)}, {at:%H:%M}" if isinstance(at, datetime) else "never",
        fresh=fresh,
        homed=bool(settings["machine.today.homed"].value) if "machine.today.homed" in settings else False,
        pockets_seen=bool(settings["machine.today.pockets_seen"].value)
        if "machine.today.pockets_seen" in settings
        else False,
        warm="" if warm is None else f"{warm.value / 60:g} min",
        air="" if air is None else f"{air.value * 10:g} bar",
    )


def _changes(here: book.ShopBook, units: ShopUnits) -> list[tuple[str, str, str]]:
    """The last changes of the machine's facts: date, what, who and why."""
    told = []
    for when, who, why, change in book.last_changes(here, "machine.", MOST_CHANGES):
        old, new = (fact_words(change.path, said, units) for said in (change.old, change.new))
        reason = f", {why}" if why else ""
        told.append((date_words(when), f"{_capital(fact_name(change.path))} {new}; was {old}", f"{who}{reason}"))
    return told


@router.post("/facts")
def set_fact(
    request: Request,
    path: str = Form(max_length=200),
    value: str = Form(max_length=4000),
    was: str = Form(default="", max_length=4000),
    u: str = Form(default="", max_length=60),
    evidence: str = Form(default="", max_length=20),
    note: str = Form(default="", max_length=400),
    why: str = Form(default="", max_length=400),
) -> Response:
    """Set one fact as its row was filled in; refused where somebody else changed it meanwhile."""
    here = book.shop_book(request.app.state.folder)
    refuse_if_changed(here, path, was)
    told = facts.Told(u or None, None, evidence or None, note or None, None)
    done = facts.set_fact(here, path, value, told, why=why)
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"changed": len(done.changed)})
    return RedirectResponse(f"/{path.partition('.')[0]}#{path}", 303)


@router.post("/machine/today")
def today(
    request: Request,
    homed: bool = Form(default=False),
    pockets_seen: bool = Form(default=False),
    warm: str = Form(default="", max_length=40),
    air: str = Form(default="", max_length=40),
) -> Response:
    """Fill in the card of the day."""
    fill_card(book.shop_book(request.app.state.folder), homed, warm, air, pockets_seen, datetime.now())
    return RedirectResponse("/machine", 303)
