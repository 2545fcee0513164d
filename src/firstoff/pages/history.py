"""What happened: the book day by day, newest first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from typing import Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from firstoff.book.kept import Entry
from firstoff.facts.fact import Evidence
from firstoff.facts.shop import load_shop
from firstoff.pages.frames import frame_of
from firstoff.pages.render import page
from firstoff.sheets.evidence_stamps import stamp_svg
from firstoff.sheets.fact_words import date_words, fact_words
from firstoff.sheets.wording import fact_name, minus
from firstoff.sheets.year_strip import AGAINST, DAYS, lately, year_strip
from firstoff.verdict.words import ShopUnits, count
from firstoff.workflows import book

router = APIRouter(include_in_schema=False)
KINDS = (("", "all"), ("examination", "examinations"), ("run", "runs"), ("facts", "facts"), ("trial", "readings"))
AT_ONCE = 120
MOST_FACTS = 3
"""Changed facts that one line names."""


@dataclass(frozen=True, slots=True)
class Happened:
    """One line: what, by whom, with its answer where it is an examination."""

    number: int
    words: str
    who: str
    answer: str | None = None
    job: str = ""
    """The job it belongs to, if any."""
    sort: str = ""
    """good or against, for a run."""
    stamp: str = ""
    """Of the evidence that a changed fact has now."""


@router.get("/history")
def show(
    request: Request,
    kind: str = Query(default="", max_length=20),
    before: int | None = Query(default=None, ge=1),
) -> HTMLResponse:
    """The page."""
    folder = request.app.state.folder
    here = book.shop_book(folder)
    book.notice(here)
    known = {name for name, _ in KINDS}
    found = book.newest(here, AT_ONCE, before, kind if kind in known and kind else None)
    verdicts = book.verdicts_of(here, [one.number for one in found if one.kind == "examination"])
    shop, now = load_shop(folder), datetime.now()
    units = ShopUnits(shop.show == "inch")
    year = book.moments(here, now - timedelta(days=DAYS))
    return HTMLResponse(
        page(
            "history",
            frame_of(request, "history"),
            days=days(found, verdicts, units),
            kinds=KINDS,
            kind=kind,
            jobs=shop.job_names,
            older=found[-1].number if len(found) == AT_ONCE else None,
            before=before,
            strip=year_strip(year, now),
            sentence=lately(year, now),
        )
    )


def days(found: Sequence[Entry], verdicts: Mapping[int, str], units: ShopUnits) -> list[tuple[str, list[Happened]]]:
    """(day, what happened) newest first."""
    return [
        (day, [_happened(one, verdicts, units) for one in those])
        for day, those in groupby(found, key=lambda one: date_words(one.at))
    ]


def _happened(one: Entry, verdicts: Mapping[int, str], units: ShopUnits) -> Happened:
    body = one.body
    when = f"{one.at:%H:%M}"
    who = f"{when}, {one.who}" + (f": {one.why}" if one.why else "")
    if one.kind == "examination":
        return Happened(one.number, f"{body['job']} examined", when, verdicts.get(one.number), body["job"])
    if one.kind == "run":
        sort = "against" if body["outcome"] in AGAINST["run"] else "good"
        return Happened(one.number, f"{body['job']} ran: {minus(body['note'])}", who, None, body["job"], sort)
    if one.kind == "trial":
        words = f"{count(len(body['readings']), 'reading')} of {fact_name(body['path'])}: mean {body['mean']:.6g} {body['unit']}"
        return Happened(one.number, words, who, stamp=stamp_svg(Evidence.MEASURED))
    return Happened(one.number, _facts(body, units), who, stamp=_stamp(body))


def _stamp(body: Mapping[str, Any]) -> str:
    """Of the first changed fact that has evidence now; none for a first look at all of them."""
    found = [one["new"]["evidence"] for one in body["changes"] if one["new"] and "evidence" in one["new"]]
    return stamp_svg(Evidence(found[0])) if found and body["how"] != "first" else ""


def _facts(body: Mapping[str, object], units: ShopUnits) -> str:
    changed = body["changes"]
    if not isinstance(changed, list) or not changed:
        return "Files touched; no fact changed"
    if all(one["path"].startswith("machine.today.") for one in changed):
        return "The card of the day was filled in"
    if body["how"] == "first":
        return f"{count(len(changed), 'fact')} seen for the first time"
    told = []
    for one in changed[:MOST_FACTS]:
        job = f"{one['job']}: " if one["job"] else ""
        new, old = (fact_words(one["path"], one[key], units) for key in ("new", "old"))
        told.append(
            f"{job}{fact_name(one['path'])} {new}, was {old}"
            if one["new"]
            else f"{job}{fact_name(one['path'])} taken out"
        )
    more = f" and {len(changed) - MOST_FACTS} more" if len(changed) > MOST_FACTS else ""
    hand = ", edited in the file" if body["how"] == "by hand" else ""
    return "; ".join(told) + more + hand
