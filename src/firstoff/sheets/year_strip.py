"""A year of the shop on one rule of months: runs, examinations, changed facts and readings, each day a mark in its lane."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from firstoff.book.kept import Moment
from firstoff.sheets.fact_words import date_words
from firstoff.verdict.question import Answer
from firstoff.verdict.words import count

DAYS = 365
LANES = (("run", "runs", "run"), ("examination", "examinations", "examination"), ("facts", "changed facts", "change of facts"), ("trial", "readings", "reading"))  # fmt: skip
"""Kind of entry, name of its lane, one of them."""
AGAINST = {"run": {"rang", "size", "broke", "stopped"}, "examination": {Answer.STOP.value, Answer.CARE.value}}
"""Words that stand against the shop: their marks are tall and in the accent."""
LATELY_DAYS = 28
TALLEST = 5
"""Entries of one day from which its mark grows no further."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One day in one lane."""

    at: float
    """Share of the year, 0 to 1."""
    tall: float
    """Share of the lane."""
    against: bool
    newest: int
    """Number of the day's newest entry."""
    words: str


@dataclass(frozen=True, slots=True)
class Lane:
    kind: str
    name: str
    total: int
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class YearStrip:
    """Lanes over one rule: `months` are (share of the year, name) where each month begins."""

    lanes: tuple[Lane, ...]
    months: tuple[tuple[float, str], ...]


def year_strip(moments: Sequence[Moment], now: datetime) -> YearStrip:
    """The last `DAYS` days up to `now`. Lanes without a mark stay: nothing happened there, and that is told too."""
    first = now.date() - timedelta(days=DAYS - 1)
    lanes = []
    for kind, name, one in LANES:
        days: dict[date, list[Moment]] = defaultdict(list)
        for moment in moments:
            if moment.kind == kind and first <= moment.at.date() <= now.date():
                days[moment.at.date()].append(moment)
        marks = tuple(_mark(day, those, first, kind, one) for day, those in days.items())
        lanes.append(Lane(kind, name, sum(len(those) for those in days.values()), marks))
    return YearStrip(tuple(lanes), tuple(_months(first, now.date())))


def _mark(day: date, those: list[Moment], first: date, kind: str, one: str) -> Mark:
    against = [moment.word for moment in those if moment.word in AGAINST.get(kind, ())]
    tall = 0.35 + 0.65 * (min(len(those), TALLEST) - 1) / (TALLEST - 1)
    told = f"; {', '.join(dict.fromkeys(against))}" if against else ""
    words = f"{date_words(those[-1].at)}: {count(len(those), one)}{told}"
    return Mark(((day - first).days + 0.5) / DAYS, tall, bool(against), those[-1].number, words)


def _months(first: date, last: date) -> Iterable[tuple[float, str]]:
    """Each month that begins in the span; the year stands beside January."""
    year, month = first.year, first.month
    while True:
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
        begins = date(year, month, 1)
        if begins > last:
            return
        yield (begins - first).days / DAYS, f"{begins:%b}" + (f" {year}" if month == 1 else "")


def lately(moments: Sequence[Moment], now: datetime) -> str:
    """What the page says first: how the last weeks went."""
    recent = [one for one in moments if timedelta() <= now - one.at <= timedelta(days=LATELY_DAYS)]
    runs = [one for one in recent if one.kind == "run"]
    bad = [one for one in runs if one.word in AGAINST["run"]]
    changes = sum(one.kind == "facts" for one in recent)
    told = []
    if runs:
        good = len(runs) - len(bad)
        went = "all went well" if not bad else f"{good or 'none'} went well and {len(bad)} did not"
        told.append(f"{count(len(runs), 'run')} noted in four weeks: {went}")
    else:
        told.append("no run noted in four weeks")
    told.append(f"facts changed {count(changes, 'time')}" if changes else "no fact changed")
    said = "; ".join(told) + "."
    return said[:1].upper() + said[1:]
