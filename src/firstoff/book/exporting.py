"""The whole book in open formats, and back: JSON lines for the entries and contents, CSV of the index for those who only want to look.

``entries.jsonl`` has a line for each entry with all that it says; ``contents.jsonl`` a line ``{sha256, text}`` for each long content, its
text being JSON. These two are the book. The CSV files have a column for each column of the index, times in UTC, and can be thrown away.
"""

from __future__ import annotations

import csv
import json
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from firstoff.book.chain import GarbledError, canonical, packed, stamp, stamp_of, unpacked
from firstoff.book.kept import Entry
from firstoff.book.opening import Book, DamagedError, damaged_book, open_book, told
from firstoff.book.reading import entries
from firstoff.book.salvage import complete, leans_on, readable_contents, readable_entries
from firstoff.book.tables import INDEX, content, entry
from firstoff.book.writing import put
from firstoff.errors import Fault, InputError
from firstoff.interrupts import stop_if_asked, whole

ENTRIES, CONTENTS = "entries.jsonl", "contents.jsonl"
KEYS = ("number", "at", "shop", "kind", "who", "why", "body", "before", "sha256")
Tell = Callable[[str, float], None]


def export(book: Book, folder: Path, tell: Tell, *, damaged: bool = False) -> tuple[Path, ...]:
    """Write the book into a new folder, whole or not at all; returns the files. Raises `InputError` if the folder is there already.

    Of a damaged book that is a file, what can still be read is written, and then `InputError` says how much that is; `damaged` where that is
    known already.
    """
    folder = folder.resolve()
    if folder.exists():
        raise InputError(Fault("the folder is there already", str(folder), "a new folder"))
    if not folder.parent.is_dir():
        raise InputError(Fault("there is no such folder to write into", str(folder.parent)))
    damage: Fault | None = None
    with whole():
        part = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
        try:
            damage = _salvage(book, part, folder) if damaged else _export_or_salvage(book, part, folder, tell)
            part.chmod(0o755)
            part.rename(folder)
        finally:
            shutil.rmtree(part, ignore_errors=True)
    if damage is not None:
        raise DamagedError(damage)
    return tuple(sorted(folder.iterdir()))


def _export_or_salvage(book: Book, part: Path, folder: Path, tell: Tell) -> Fault | None:
    try:
        with book.reading() as connection:
            _export(connection, part, tell)
    except DamagedError:
        if book.shared:
            raise
        return _salvage(book, part, folder)
    return None


def export_at(place: Path | str, shop: str, folder: Path, tell: Tell) -> tuple[Path, ...]:
    """`export` of the book at a place; of a file that is too damaged to be opened as a book too, if anything can be read of it."""
    try:
        return export(open_book(place, shop), folder, tell)
    except DamagedError:
        if folder.exists() or not isinstance(place, Path):
            raise
        book = damaged_book(place, shop)
        with told(book.place), book.engine.connect() as connection:
            if next(readable_entries(connection), None) is None:
                raise
        return export(book, folder, tell, damaged=True)


def _export(connection: Connection, folder: Path, tell: Tell) -> None:
    tell("entries", 0.0)
    needed: set[str] = set()
    _lines(folder / ENTRIES, _each(entries(connection), needed))
    tell("contents", 0.3)
    _lines(folder / CONTENTS, _contents(connection, needed))
    if needed:
        raise GarbledError(f"{len(needed)} contents are not there")
    for number, table in enumerate(INDEX):
        tell(table.name, 0.6 + 0.4 * number / len(INDEX))
        _csv(folder / f"{table.name}.csv", connection, table)


def _salvage(book: Book, folder: Path, final: Path) -> Fault:
    """Write the two files that are the book, of what can still be read; the index follows from them."""
    for left in folder.iterdir():
        left.unlink()
    with told(book.place), book.engine.connect() as connection:
        connection.begin()  # ended by closing: a damaged book may refuse even that
        texts = dict(readable_contents(connection))
        found = complete(list(readable_entries(connection)), texts)
    _lines(folder / ENTRIES, (dict(zip(KEYS, _told(one), strict=True)) for one in found))
    _lines(folder / CONTENTS, ({"sha256": sha, "text": texts[sha]} for sha in sorted(texts)))
    read = f"{len(found)} entries and {len(texts)} contents could be read and are in {final}"
    last = f"entry {found[-1].number}" if found else "none"
    do = (
        "Move the damaged book away and let firstoff book take make a new one of this: it says if one is missing in between. "
        f"What came after the last one read ({last}) would be missing without a word: look at your last copy too."
    )
    return Fault(f"the book is damaged: {read}", file=book.place, do=do)


def _told(one: Entry) -> tuple[Any, ...]:
    return (one.number, one.utc, one.shop, one.kind, one.who, one.why, one.body, one.before, one.sha256)


def _lines(path: Path, values: Iterator[dict[str, Any]]) -> None:
    with path.open("w", encoding="utf-8", errors="surrogatepass", newline="\n") as file:
        for value in values:
            stop_if_asked()
            file.write(canonical(value) + "\n")


def _each(found: Iterator[Entry], needed: set[str]) -> Iterator[dict[str, Any]]:
    """Entries as they are written, noting the contents that they lean on."""
    for one in found:
        needed |= leans_on(one)
        yield dict(zip(KEYS, _told(one), strict=True))


def _contents(connection: Connection, needed: set[str]) -> Iterator[dict[str, Any]]:
    for row in connection.execute(sa.select(content).order_by(content.c.sha256)):
        text = unpacked(row.body)
        if stamp(text) != row.sha256:
            raise GarbledError(f"content {row.sha256[:12]} is not what was kept")
        needed.discard(row.sha256)
        yield {"sha256": row.sha256, "text": text}


def _csv(path: Path, connection: Connection, table: sa.Table) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["at", *(column.name for column in table.columns)])
        joined = sa.select(entry.c.at, table).join(entry, entry.c.number == table.c.entry)
        for row in connection.execute(joined.order_by(table.c.entry)):
            writer.writerow(["" if value is None else value for value in row])


def take(folder: Path, place: Path | str, shop: str, tell: Tell) -> Book:
    """Make a new book of what `export` wrote; every stamp is held against its content first.

    Raises `InputError`, with nothing made, where something is not as it was exported, or where the new book already holds entries.
    """
    tell("reading", 0.0)
    found = list(_read_entries(folder / ENTRIES))
    texts = dict(_read_contents(folder / CONTENTS))
    book = open_book(place, shop)
    with book.writing() as connection:
        if connection.execute(sa.select(sa.func.count()).select_from(entry)).scalar():
            raise InputError(Fault("this book already holds entries", file=book.place, allowed="a new book"))
        for sha, text in texts.items():
            connection.execute(content.insert(), {"sha256": sha, "body": packed(text)})
        for number, one in enumerate(found):
            if number % 100 == 0:
                stop_if_asked()
                tell("writing", 0.3 + 0.7 * number / max(len(found), 1))
            try:
                put(connection, one)
            except (KeyError, TypeError, ValueError):
                raise InputError(_not_exported(folder / ENTRIES, number + 1, "leans on what is not there")) from None
    return book


def _read(path: Path) -> Iterator[tuple[int, dict[str, Any]]]:
    try:
        with path.open(encoding="utf-8", errors="surrogatepass") as file:
            for number, line in enumerate(file, 1):
                value = json.loads(line)
                if not isinstance(value, dict):
                    raise ValueError
                yield number, value
    except OSError as error:
        raise InputError(Fault(f"cannot be read: {error.strerror or error}", file=str(path))) from None
    except (ValueError, RecursionError):
        raise InputError(Fault("this is not what firstoff book export wrote", file=str(path))) from None


def _read_entries(path: Path) -> Iterator[Entry]:
    before = ""
    for number, value in _read(path):
        if tuple(sorted(value)) != tuple(sorted(KEYS)):
            raise InputError(_not_exported(path, number, "has other keys than an entry"))
        one = Entry(*(value[key] for key in KEYS))
        if one.number != number or one.before != before or stamp_of(one) != one.sha256:
            raise InputError(_not_exported(path, number, "does not carry the stamp of what it says"))
        before = one.sha256
        yield one


def _read_contents(path: Path) -> Iterator[tuple[str, str]]:
    for number, value in _read(path):
        sha, text = value.get("sha256"), value.get("text")
        if not isinstance(text, str) or not isinstance(sha, str) or stamp(text) != sha:
            raise InputError(_not_exported(path, number, "does not carry the stamp of what it says"))
        yield sha, text


def _not_exported(path: Path, number: int, what: str) -> Fault:
    return Fault(f"a line {what}", "", "what firstoff book export wrote", str(path), number)


def copy(book: Book, path: Path, tell: Tell) -> None:
    """A copy of the book while it is in use, whole or not at all, by the database's own means. Raises `InputError` for a book on a server."""
    if book.shared:
        do = "Use firstoff book export, or the server's own means."
        raise InputError(Fault("a book on a server is not copied as a file", book.place, do=do))
    path = path.resolve()
    if path.exists():
        raise InputError(Fault("there is a file already", str(path), do="Name another file."))
    if not path.parent.is_dir():
        raise InputError(Fault("there is no such folder to write into", str(path.parent)))
    with whole():
        part = Path(tempfile.mkdtemp(prefix=f".{path.name}-", dir=path.parent))
        try:
            with told(book.place), book.engine.connect() as connection:
                _backed_up(connection, part / "book", tell)
            (part / "book").rename(path)
        finally:
            shutil.rmtree(part, ignore_errors=True)


def _backed_up(connection: Connection, path: Path, tell: Tell) -> None:
    raw = connection.connection.dbapi_connection
    if not isinstance(raw, sqlite3.Connection):
        raise TypeError("a book in a file is opened by sqlite3")

    def going(_status: int, left: int, total: int) -> None:
        stop_if_asked()
        tell("copying", 1 - left / max(total, 1))

    aside = sqlite3.connect(path, isolation_level=None)
    try:
        raw.backup(aside, pages=256, progress=going)
        aside.execute("PRAGMA journal_mode = DELETE").fetchall()  # one file, nothing beside it
    finally:
        aside.close()
