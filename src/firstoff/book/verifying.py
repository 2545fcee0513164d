"""Is the book whole? The file itself, the chain of entries, every content, and the index made anew."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection
from sqlalchemy.exc import DBAPIError

from firstoff.book.chain import GarbledError, stamp, stamp_of, unpacked
from firstoff.book.kept import Entry
from firstoff.book.opening import Book, told
from firstoff.book.rows import Row, rows
from firstoff.book.tables import INDEX, content, entry

MOST_TOLD = 20
Tell = Callable[[str, float], None]


@dataclass(frozen=True, slots=True)
class Verified:
    """What was looked at, and what is wrong; nothing wrong means whole."""

    entries: int
    contents: int
    last: str
    """Stamp of the last entry: written down elsewhere, it proves later that nothing before it was changed or taken away."""
    faults: tuple[str, ...]


def verify(book: Book, tell: Tell = lambda _stage, _part: None) -> Verified:
    """Look at everything. Raises `InputError` only where the book cannot be opened at all."""
    faults: list[str] = []
    with told(book.place), book.engine.connect() as connection:
        connection.begin()  # ended by closing: a damaged book may refuse even that, and what was found is told all the same
        tell("the file", 0.0)
        faults += _file_faults(connection)
        tell("contents", 0.2)
        texts, bad = _guarded(faults, "contents", lambda: _contents(connection), ({}, 0))
        tell("entries", 0.4)
        found = _guarded(faults, "entries", lambda: _chain(connection, faults), [])
        tell("the index", 0.7)
        _guarded(faults, "the index", lambda: _index(connection, found, texts, faults), None)
    if bad:
        faults.append(f"{bad} of {len(texts) + bad} contents are not what was kept")
    named = (*faults[:MOST_TOLD], f"and {len(faults) - MOST_TOLD} more") if len(faults) > MOST_TOLD else tuple(faults)
    return Verified(len(found), len(texts), found[-1].sha256 if found else "", named)


def _guarded(faults: list[str], what: str, look: Callable[[], Any], instead: Any) -> Any:
    try:
        return look()
    except (DBAPIError, sqlite3.DatabaseError, KeyError, ValueError, TypeError) as error:
        said = str(getattr(error, "orig", error)).splitlines()[0]
        faults.append(f"{what} cannot be read: {said}")
        return instead


def _file_faults(connection: Connection) -> list[str]:
    if connection.dialect.name != "sqlite":
        return []
    faults: list[str] = []

    def look() -> None:
        for row in connection.exec_driver_sql("PRAGMA integrity_check").all():
            faults.extend([] if row[0] == "ok" else [str(row[0]).splitlines()[0]])
        for row in connection.exec_driver_sql("PRAGMA foreign_key_check").all():
            faults.append(f"a row of {row[0]} belongs to nothing")

    _guarded(faults, "the file", look, None)
    return faults


def _contents(connection: Connection) -> tuple[dict[str, str], int]:
    """Texts by stamp, and how many are not what their stamps say."""
    texts, bad = {}, 0
    for row in connection.execute(sa.select(content)):
        try:
            text = unpacked(row.body)
        except GarbledError:
            text = ""
        if stamp(text) == row.sha256:
            texts[row.sha256] = text
        else:
            bad += 1
    return texts, bad


def _chain(connection: Connection, faults: list[str]) -> list[Entry]:
    """The entries that can be read; each must carry its own stamp and that of the one before."""
    found: list[Entry] = []
    before, number = "", 0
    for row in connection.execute(sa.select(entry).order_by(entry.c.number)):
        number += 1
        if row.number != number:
            faults.append(f"entries {number} to {row.number - 1} are missing")
            number = row.number
        elif row.before != before:
            faults.append(f"entry {row.number} does not follow the one before it")
        before = row.sha256
        try:
            at = Entry(
                row.number, row.at, row.shop, row.kind, row.who, row.why, json.loads(row.body), row.before, row.sha256
            )
            if stamp_of(at) != at.sha256:
                raise ValueError
        except (ValueError, TypeError):
            faults.append(f"entry {row.number} is not what was written")
            continue
        found.append(at)
    return found


def _index(connection: Connection, found: list[Entry], texts: dict[str, str], faults: list[str]) -> None:
    """The rows of the index, made anew from the entries, must be those that are there."""
    wanted: dict[str, list[Row]] = {table.name: [] for table in INDEX}
    for at in found:
        try:
            for name, made in rows(at, lambda sha: texts[sha]).items():
                wanted[name] += made
        except (KeyError, ValueError, TypeError):
            faults.append(f"entry {at.number} leans on a content that is not there")
    for table in INDEX:
        there = [dict(row._mapping) for row in connection.execute(sa.select(table))]
        if _sorted(there, table) != _sorted(wanted[table.name], table):
            faults.append(f"the index {table.name} does not agree with the entries")


def _sorted(found: list[Row], table: sa.Table) -> list[tuple[Any, ...]]:
    names = [column.name for column in table.columns]
    keys = [column.name for column in table.primary_key]
    ordered = sorted(found, key=lambda row: tuple(row[key] for key in keys))
    return [tuple(row[name] for name in names) for row in ordered]
