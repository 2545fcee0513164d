"""Writes the book of the demo shop: its year is told again in a copy of the shop, change by change, and each examination in it is really made
with the facts of its day."""

from __future__ import annotations

import shutil
import tempfile
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy.engine import Connection

from firstoff import workflows
from firstoff.book.notes import read_note
from firstoff.book.opening import FILE, open_book
from firstoff.demo.good import GOOD
from firstoff.demo.year import CHANGED, EXAMINED, FIRST_DAY, IDA, RAN, Changed, Ran
from firstoff.facts.edit import Edit, change_shop, key_of
from firstoff.facts.shop import JOBS, load_shop
from firstoff.interrupts import stop_if_asked, whole
from firstoff.workflows.book import ShopBook, record_files
from firstoff.workflows.keeping import kept_fields
from firstoff.workflows.running import put_examination, put_run

CARD = "machine.today.on"
MORNING_H = 7.6
"""Hour of the day that the card is filled in at; changes follow within the morning, runs after them."""


def write_history(folder: Path, now: datetime, tell: workflows.Tell) -> None:
    """Give the demo shop in `folder` its book, whole or not at all; a shop that has one keeps it."""
    if (folder / FILE).exists():
        return
    with whole(), tempfile.TemporaryDirectory(prefix=f".{folder.name}-", dir=folder.parent) as aside:
        past = Path(aside) / "shop"
        shutil.copytree(folder, past, ignore=_only_good_jobs)
        book = open_book(Path(aside) / FILE, load_shop(folder).name)
        _Year(ShopBook(past, book), now, tell).tell_again(folder)
        (Path(aside) / FILE).rename(folder / FILE)


def _only_good_jobs(where: str, names: list[str]) -> list[str]:
    good = [plan.name for plan in GOOD]
    return [name for name in names if name not in good] if Path(where).name == JOBS else []


class _Year:
    """The year as it goes on: a shop whose files are those of the day."""

    def __init__(self, shop: ShopBook, now: datetime, tell: workflows.Tell) -> None:
        self.shop, self.now, self.tell = shop, now, tell
        self.jobs = [plan.name for plan in GOOD if (shop.folder / JOBS / plan.name).is_dir()]
        self.prepared: dict[str, workflows.Prepared] = {}
        """Jobs as they were read since the last change."""

    def tell_again(self, folder: Path) -> None:
        """Day by day, then the shop as it is now."""
        becomes = list(self._backwards())
        with self._at(FIRST_DAY, 8.0) as (connection, at):
            record_files(connection, self.shop, "first", "the shop is described", at=at, by=IDA)
        days = sorted({one.days_ago for one in (*CHANGED, *RAN)} | set(EXAMINED), reverse=True)
        for number, day in enumerate(days):
            stop_if_asked()
            self.tell("telling the year again", number / len(days))
            for hour, (changed, values) in enumerate(becomes):
                if changed.days_ago == day:
                    self._change(changed, values, 8.0 + hour / 60)
            if day in EXAMINED:
                morning = self._moment(day, MORNING_H)
                self._card(morning, morning)
                for job in self.jobs:
                    self._examine(job, day)
            for ran in (one for one in RAN if one.days_ago == day and one.job in self.jobs):
                self._run(ran)
        self._card(load_shop(folder).facts.settings[CARD].value, self.now)
        with self.shop.book.writing() as connection:
            why = "the jobs with one mistake or gap each are laid out"
            record_files(connection, ShopBook(folder, self.shop.book), "first", why, at=self.now, by=IDA)

    def _moment(self, days_ago: int, hour: float) -> datetime:
        day = (self.now - timedelta(days=days_ago)).replace(hour=0, minute=0, second=0, microsecond=0)
        return day + timedelta(minutes=round(60 * hour))

    @contextmanager
    def _at(self, days_ago: int, hour: float) -> Iterator[tuple[Connection, datetime]]:
        with self.shop.book.writing() as connection:
            yield connection, self._moment(days_ago, hour)

    def _backwards(self) -> Iterator[tuple[Changed, dict[str, object]]]:
        """Undo all changes in the files, last first, and say what each fact became by each."""
        became = []
        for changed in reversed(CHANGED):
            keys = {path: key_of(self.shop.folder, path) for path in changed.was}
            became.append((changed, {path: self._written(*keys[path]) for path in changed.was}))
            edits = [
                Edit(*keys[path], None if text is None else tomllib.loads(f"value = {text}")["value"])
                for path, text in changed.was.items()
            ]
            change_shop(self.shop.folder, edits)
        return reversed(became)

    def _written(self, file: str, key: tuple[str | int, ...]) -> object:
        value: object = tomllib.loads((self.shop.folder / file).read_text(encoding="utf-8"))
        for part in key:
            value = value[str(part)] if isinstance(value, dict) else None
        return value

    def _change(self, changed: Changed, values: dict[str, object], hour: float) -> None:
        change_shop(self.shop.folder, [Edit(*key_of(self.shop.folder, path), value) for path, value in values.items()])
        self.prepared.clear()
        with self._at(changed.days_ago, hour) as (connection, at):
            record_files(connection, self.shop, "set", changed.why, at=at, by=changed.by)

    def _prepare(self, job: str, at: datetime) -> workflows.Prepared:
        if job not in self.prepared:
            self.prepared[job] = workflows.prepare(job, shop=self.shop.folder, now=at)
        return self.prepared[job]

    def _card(self, on: object, at: datetime) -> None:
        file, key = key_of(self.shop.folder, CARD)
        change_shop(self.shop.folder, [Edit(file, key, on)])
        with self.shop.book.writing() as connection:
            record_files(connection, self.shop, "set", "the card of the day", at=at, by=IDA)

    def _examine(self, job: str, day: int) -> None:
        with self._at(day, MORNING_H) as (connection, at):
            prepared = workflows.prepare(job, shop=self.shop.folder, now=at + timedelta(minutes=30))
            put_examination(connection, self.shop.book, kept_fields(prepared, workflows.judge(prepared), job))
        self.prepared.clear()

    def _run(self, ran: Ran) -> None:
        with self._at(ran.days_ago, 13.0) as (connection, at):
            prepared = self._prepare(ran.job, at)
            put_run(connection, self.shop.book, prepared, read_note(ran.note), at, by=ran.by)
