"""Asking the book: what a fact was, what was examined, what happened."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from firstoff.book.chain import GarbledError, from_json, in_utc, stamp_of
from firstoff.book.kept import Entry, KeptExamination, KeptRun, KeptTrial, Listed, Moment, Past
from firstoff.book.opening import Book
from firstoff.book.tables import entry, examination, fact_change, file_seen, run, run_tool, trial
from firstoff.book.writing import content_text
from firstoff.errors import Fault, InputError
from firstoff.facts.change import Change, Stated

Query = sa.Select[Any]


def _own(book: Book, query: Query) -> Query:
    """Only what belongs to this machine, where several write into one book; `query` must name the entry table."""
    return query.where(entry.c.shop == book.shop) if book.shared else query


def _entry(row: Any) -> Entry:
    return Entry(row.number, row.at, row.shop, row.kind, row.who, row.why, from_json(row.body), row.before, row.sha256)


def entries(connection: Connection, after: int = 0) -> Iterator[Entry]:
    """All entries from `after` on, of all machines, in order. Raises `GarbledError` at one that does not carry the stamp of what it says."""
    query = sa.select(entry).where(entry.c.number > after).order_by(entry.c.number)
    for row in connection.execution_options(yield_per=500).execute(query):
        yield held(row)


def held(row: Any) -> Entry:
    """The entry of a row, held against its stamp. Raises `GarbledError`."""
    found = _entry(row)
    try:
        whole = stamp_of(found) == found.sha256
    except (ValueError, TypeError):
        whole = False
    if not whole:
        raise GarbledError(f"entry {row.number} is not what was written")
    return found


def newest_entries(
    connection: Connection, book: Book, most: int, before: int | None = None, kind: str | None = None
) -> tuple[Entry, ...]:
    """Entries of this machine, newest first, each held against its stamp: those before a number, of one kind where one is named."""
    query = _own(book, sa.select(entry).order_by(entry.c.number.desc()).limit(most))
    if before is not None:
        query = query.where(entry.c.number < before)
    if kind is not None:
        query = query.where(entry.c.kind == kind)
    found = []
    for row in connection.execute(query).all():
        try:
            found.append(held(row))
        except GarbledError:
            raise InputError(_not_as_written(row.number, book)) from None
    return tuple(found)


def moments(connection: Connection, book: Book, after: datetime) -> tuple[Moment, ...]:
    """All that happened on this machine since `after` (local time), oldest first; stamps are not looked at."""
    query = _own(
        book,
        sa.select(entry.c.number, entry.c.at, entry.c.kind, examination.c.verdict, run.c.outcome)
        .outerjoin(examination, examination.c.entry == entry.c.number)
        .outerjoin(run, run.c.entry == entry.c.number)
        .where(entry.c.at >= in_utc(after))
        .order_by(entry.c.number),
    )
    return tuple(
        Moment(row.number, _local(row.at), row.kind, row.verdict or row.outcome or "")
        for row in connection.execute(query)
    )


def count_entries(connection: Connection, book: Book, kind: str) -> int:
    """How many entries of one kind this machine has."""
    query = _own(book, sa.select(sa.func.count()).select_from(entry).where(entry.c.kind == kind))
    return int(connection.execute(query).scalar_one())


def entry_at(connection: Connection, book: Book, number: int) -> Entry:
    """One entry, held against its stamp. Raises `InputError` where it is not there or not what was written."""
    row = connection.execute(sa.select(entry).where(entry.c.number == number)).first()
    if row is None:
        raise InputError(Fault("there is no such entry in the book", str(number), file=book.place))
    try:
        return held(row)
    except GarbledError:
        raise InputError(_not_as_written(number, book)) from None


def _not_as_written(number: int, book: Book) -> Fault:
    do = "firstoff book verify tells what else; put back your last copy."
    return Fault("an entry of the book is not what was written", f"entry {number}", file=book.place, do=do)


# ---- facts ---------------------------------------------------------------------------------------------------------


def known_facts(connection: Connection, book: Book) -> dict[str, dict[str, Stated]]:
    """All facts as the book last knew them: by job (empty for the shop's own) and path."""
    newest = _own(
        book,
        sa.select(fact_change.c.job, fact_change.c.path, sa.func.max(fact_change.c.entry).label("entry"))
        .join(entry, entry.c.number == fact_change.c.entry)
        .group_by(fact_change.c.job, fact_change.c.path),
    ).subquery()
    query = sa.select(fact_change.c.job, fact_change.c.path, fact_change.c.new).join(
        newest,
        sa.and_(
            fact_change.c.entry == newest.c.entry,
            fact_change.c.job == newest.c.job,
            fact_change.c.path == newest.c.path,
        ),
    )
    found: dict[str, dict[str, Stated]] = {}
    for row in connection.execute(query):
        if row.new is not None:
            found.setdefault(row.job, {})[row.path] = from_json(row.new)
    return found


def files_seen(connection: Connection, book: Book) -> dict[str, str]:
    """Stamps of the shop's files as the book last saw them."""
    query = _own(
        book,
        sa.select(file_seen.c.file, file_seen.c.sha256)
        .join(entry, entry.c.number == file_seen.c.entry)
        .order_by(file_seen.c.entry),
    )
    return {row.file: row.sha256 for row in connection.execute(query)}


def history(connection: Connection, book: Book, path: str, job: str = "") -> tuple[Past, ...]:
    """All that a fact was, oldest first, each held against the stamp of its entry; facts below `path` are not told."""
    query = _own(
        book,
        sa.select(fact_change, entry.c.number)
        .join(entry, entry.c.number == fact_change.c.entry)
        .where(fact_change.c.job == job, fact_change.c.path == path)
        .order_by(fact_change.c.entry),
    )
    found = []
    for row in connection.execute(query).all():
        at = entry_at(connection, book, row.number)
        said = next((one for one in at.body["changes"] if one["job"] == job and one["path"] == path), None)
        if said is None:
            raise InputError(_not_as_written(row.number, book))
        found.append(Past(at.number, at.at, at.who, at.body["how"], at.why, said["old"], said["new"]))
    return tuple(found)


def since(connection: Connection, book: Book) -> dict[tuple[str, str], datetime]:
    """When each fact last changed, by job and path."""
    query = _own(
        book,
        sa.select(fact_change.c.job, fact_change.c.path, sa.func.max(entry.c.at).label("at"))
        .join(entry, entry.c.number == fact_change.c.entry)
        .group_by(fact_change.c.job, fact_change.c.path),
    )
    return {(row.job, row.path): _local(row.at) for row in connection.execute(query)}


def last_changes(
    connection: Connection, book: Book, prefix: str, most: int
) -> tuple[tuple[datetime, str, str, Change], ...]:
    """The newest changes of facts whose path begins with `prefix`, but not what was seen for the first time: (when, who, why, change)."""
    query = _own(
        book,
        sa.select(fact_change, entry.c.at, entry.c.who, entry.c.why)
        .join(entry, entry.c.number == fact_change.c.entry)
        .where(
            fact_change.c.job == "",
            fact_change.c.path.startswith(prefix, autoescape=True),
            fact_change.c.how != "first",
        )
        .order_by(fact_change.c.entry.desc(), fact_change.c.path)
        .limit(most),
    )
    return tuple(
        (_local(row.at), row.who, row.why, Change(row.path, _told(row.old), _told(row.new)))
        for row in connection.execute(query)
    )


def _told(text: str | None) -> Stated | None:
    return None if text is None else from_json(text)


def trials(connection: Connection, book: Book, path: str) -> tuple[KeptTrial, ...]:
    """All readings of one fact, oldest first."""
    query = _own(
        book,
        sa.select(trial, entry.c.at)
        .join(entry, entry.c.number == trial.c.entry)
        .where(trial.c.path == path)
        .order_by(trial.c.entry),
    )
    return tuple(
        KeptTrial(row.entry, _local(row.at), row.path, row.unit, _list(row.readings), row.mean, row.u, row.df)
        for row in connection.execute(query)
    )


# ---- examinations --------------------------------------------------------------------------------------------------


def list_examinations(
    connection: Connection, book: Book, job: str | None = None, most: int | None = None
) -> tuple[Listed, ...]:
    """Kept examinations, newest first, at most `most`; of one job where one is named."""
    columns = [examination.c[name] for name in ("entry", "job", "program_sha256", "verdict", *RISKS, "time_s")]
    query = _own(book, sa.select(entry.c.at, *columns).join(entry, entry.c.number == examination.c.entry))
    if job is not None:
        query = query.where(examination.c.job == job)
    return tuple(
        Listed(
            row.entry, _local(row.at), row.job, row.program_sha256, row.verdict,
            {risk: row._mapping[risk] for risk in RISKS}, row.time_s,
        )
        for row in connection.execute(query.order_by(examination.c.entry.desc()).limit(most))
    )  # fmt: skip


RISKS = ("machine", "tool", "part", "time")


def newest_examinations(connection: Connection, book: Book) -> dict[str, int]:
    """Entry of the newest examination of each job, by its name, in the order of names."""
    newest = _own(
        book,
        sa.select(examination.c.job, sa.func.max(examination.c.entry).label("entry"))
        .join(entry, entry.c.number == examination.c.entry)
        .group_by(examination.c.job),
    )
    return dict(sorted((row.job, row.entry) for row in connection.execute(newest)))


def last_examinations(connection: Connection, book: Book) -> tuple[KeptExamination, ...]:
    """The newest examination of each job, in the order of their names. Raises `InputError` where one is not what was kept."""
    return tuple(
        kept_examination(connection, book, number) for number in newest_examinations(connection, book).values()
    )


def kept_examination(connection: Connection, book: Book, number: int) -> KeptExamination:
    """One examination, its contents held against their stamps. Raises `InputError` where it is not what was kept."""
    at = entry_at(connection, book, number)
    if at.kind != "examination":
        raise InputError(Fault("this entry is no examination", f"entry {number}, {at.kind}", file=book.place))
    body = at.body
    try:
        leaned, present, record = (
            from_json(content_text(connection, body[key])) for key in ("leaned", "present", "record")
        )
    except (KeyError, GarbledError):
        raise InputError(_not_as_written(number, book)) from None
    return KeptExamination(
        at.number, at.at, body["job"], body["argument"], body["given"], body["program_sha256"],
        leaned, frozenset(present), body["files"], record,
    )  # fmt: skip


# ---- runs ----------------------------------------------------------------------------------------------------------


def runs(connection: Connection, book: Book, job: str | None = None) -> tuple[KeptRun, ...]:
    """All run notes, oldest first; of one job where one is named."""
    query = _own(book, sa.select(run, entry.c.at, entry.c.who).join(entry, entry.c.number == run.c.entry))
    if job is not None:
        query = query.where(run.c.job == job)
    return tuple(
        KeptRun(
            row.entry, _local(row.at), row.who, row.job, row.program_sha256, row.outcome, row.note,
            row.tool, row.line, row.off_mm, row.feature, row.facts,
        )
        for row in connection.execute(query.order_by(run.c.entry))
    )  # fmt: skip


def run_counts(connection: Connection, book: Book, now: datetime, days: float = 365.0) -> Counter[str]:
    """How often each job ran in the last `days`."""
    return Counter(one.job for one in runs(connection, book) if now - one.at <= timedelta(days=days))


def minutes_cut(connection: Connection, book: Book, tool: str, after: datetime | None = None) -> float:
    """Minutes that a tool has cut in the runs that were noted, from a moment on."""
    query = _own(
        book,
        sa.select(run_tool.c.minutes, entry.c.at)
        .join(entry, entry.c.number == run_tool.c.entry)
        .where(run_tool.c.tool == tool),
    )
    found = connection.execute(query)
    return math.fsum(row.minutes for row in found if after is None or _local(row.at) >= after)


def _list(text: object) -> tuple[Any, ...]:
    found = from_json(text)
    if not isinstance(found, list):
        raise GarbledError("a text is not what was written")
    return tuple(found)


def _local(at: object) -> datetime:
    try:
        return datetime.fromisoformat(str(at).removesuffix("Z") + "+00:00").astimezone().replace(tzinfo=None)
    except (ValueError, OverflowError):
        raise GarbledError("a time is not what was written") from None
