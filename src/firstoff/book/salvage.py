"""What can still be read of a damaged book: entry by entry and content by content, each only if it carries the stamp of what it says."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection
from sqlalchemy.exc import DBAPIError

from firstoff.book.chain import GarbledError, stamp, unpacked
from firstoff.book.kept import Entry
from firstoff.book.reading import held
from firstoff.book.tables import entry

_GAP = 5000
"""So many numbers in a row that cannot be read are taken for the end."""
_LEANS_ON = {"examination": ("leaned", "present", "record"), "run": ("facts",)}
"""The contents that entries of a kind name in their body."""
_UNREADABLE = (DBAPIError, sqlite3.DatabaseError, GarbledError, UnicodeDecodeError)


def readable_entries(connection: Connection) -> Iterator[Entry]:
    """The entries that are as they were written, in order."""
    number, last = 1, 0
    while number <= last + _GAP:
        row = _row(connection, sa.select(entry).where(entry.c.number == number))
        try:
            if row is not None:
                yield held(row)
        except _UNREADABLE:
            pass
        last = number if row is not None else last
        number += 1


def readable_contents(connection: Connection) -> Iterator[tuple[str, str]]:
    """Stamp and text of the contents that are what was kept, in the order in which they lie in the file (only in a book that is a file)."""
    number, last = 1, 0
    while number <= last + _GAP:
        found = _row(connection, sa.text("SELECT sha256, body FROM content WHERE rowid = :number"), number=number)
        last = number if found is not None else last
        number += 1
        if found is None:
            continue
        try:
            text = unpacked(found.body)
        except _UNREADABLE:
            continue
        if stamp(text) == found.sha256:
            yield found.sha256, text


def leans_on(one: Entry) -> set[str]:
    """Stamps of the contents that an entry names."""
    return {str(one.body.get(key)) for key in _LEANS_ON.get(one.kind, ())}


def complete(found: list[Entry], texts: Mapping[str, str]) -> list[Entry]:
    """Without the last entries whose contents are not there: a write that was half way when its journal was lost."""
    last = len(found)
    while last and not leans_on(found[last - 1]) <= texts.keys():
        last -= 1
    return found[:last]


def _row(connection: Connection, query: sa.Executable, **given: object) -> Any:
    try:
        return connection.execute(query, given).first()
    except _UNREADABLE:
        return None
