"""Adding to the book: one entry at a time, each with the stamp of the one before."""

from __future__ import annotations

import getpass
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from firstoff.book.chain import GarbledError, canonical, entry_stamp, in_utc, packed, stamp, unpacked
from firstoff.book.kept import Entry
from firstoff.book.opening import Book
from firstoff.book.rows import rows
from firstoff.book.tables import INDEX, content, entry
from firstoff.facts.change import Change


def who() -> str:
    """Who is at the keyboard, as the system knows them."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "unknown"


def keep(connection: Connection, value: object) -> str:
    """Keep a long content once, whoever asks for it; returns its stamp."""
    text = canonical(value)
    sha = stamp(text)
    if connection.execute(sa.select(content.c.sha256).where(content.c.sha256 == sha)).first() is None:
        connection.execute(content.insert(), {"sha256": sha, "body": packed(text)})
    return sha


def content_text(connection: Connection, sha: str) -> str:
    """The text of a content. Raises `GarbledError` where it is not there, or not what its stamp says."""
    found = connection.execute(sa.select(content.c.body).where(content.c.sha256 == sha)).scalar()
    if found is None:
        raise GarbledError(f"content {sha[:12]} is not there")
    text = unpacked(found)
    if stamp(text) != sha:
        raise GarbledError(f"content {sha[:12]} is not what was kept")
    return text


def add(
    connection: Connection,
    book: Book,
    kind: str,
    body: Mapping[str, Any],
    *,
    why: str = "",
    at: datetime | None = None,
    by: str | None = None,
) -> Entry:
    """Add one entry inside of `Book.writing`; `at` is a local moment without a zone."""
    last = connection.execute(
        sa.select(entry.c.number, entry.c.sha256).order_by(entry.c.number.desc()).limit(1)
    ).first()
    number, before = (1, "") if last is None else (last.number + 1, last.sha256)
    moment = in_utc(at or datetime.now())
    person = _as_text(who() if by is None else by)
    why = _as_text(why)
    sha = entry_stamp(number, moment, book.shop, kind, person, why, body, before)
    added = Entry(number, moment, book.shop, kind, person, why, body, before, sha)
    put(connection, added)
    return added


def _as_text(typed: str) -> str:
    """What was typed, with a mark for what is no UTF-8: a reason is for people to read, and nothing may fail for it."""
    return typed.encode("utf-8", "replace").decode()


def put(connection: Connection, added: Entry) -> None:
    """Write an entry and its rows, as they are."""
    connection.execute(
        entry.insert(),
        {
            "number": added.number,
            "at": added.utc,
            "shop": added.shop,
            "kind": added.kind,
            "who": added.who,
            "why": added.why,
            "body": canonical(added.body),
            "before": added.before,
            "sha256": added.sha256,
        },
    )
    found = rows(added, lambda sha: content_text(connection, sha))
    for table in INDEX:
        if found.get(table.name):
            connection.execute(table.insert(), found[table.name])


def facts_body(how: str, files: Mapping[str, str], changed: Sequence[tuple[str, Change]]) -> dict[str, Any]:
    """The body of a `facts` entry: stamps of the files as they are now, and (job, change) of each fact; job is empty for the shop's own."""
    return {
        "how": how,
        "files": dict(files),
        "changes": [{"job": job, "path": one.path, "old": one.old, "new": one.new} for job, one in changed],
    }
