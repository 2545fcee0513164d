"""Books damaged on purpose: whatever is shown afterwards is what was written, or it is told; `verify` finds every change of what is shown."""

from __future__ import annotations

import random
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from firstoff.book.opening import FILE, open_book
from firstoff.book.verifying import verify
from firstoff.errors import InputError
from proof.reliability.deeds import SHOP, Shown, Told, filled, shown, write

ENTRIES = 40
RUNS = 4
"""Random runs of bytes in each page, beside the page emptied and the page of another place."""


@dataclass
class Found:
    """What came of one sort of damage."""

    cases: int = 0
    came: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)

    def add(self, what: str, name: str) -> None:
        self.cases += 1
        self.came[what] += 1
        if what in WRONG:
            self.wrong.append(f"{name}: {what}")


UNTOUCHED = "nothing that is shown changed, and verify finds nothing"
FOUND = "all that is shown is as written; verify names the damage"
REFUSED = "not shown: a clear message instead; verify names the damage"
CHANGED = "a list shows something else; verify names the damage"
SILENT = "something else is shown and verify finds nothing"
BROKEN = "a fault of ours"
WRONG = (SILENT, BROKEN)


def judged(path: Path, before: Shown) -> tuple[str, str]:
    """Which of these a damaged book is, and more about it."""
    try:
        after = shown(path)
        faults = _verified(path)
    except Exception as error:  # what a user would see as a traceback
        return BROKEN, f"{type(error).__name__}: {error}"
    told = {name for name, one in after.items() if isinstance(one, Told)}
    other = [name for name, one in before.items() if name not in told and "open" not in told and after.get(name) != one]
    missing = [name for name in other if name not in after and "list" in told]
    changed = [name for name in other if name not in missing]
    if changed:
        return (CHANGED if faults else SILENT), ", ".join(changed)
    if not faults:
        return (SILENT if told else UNTOUCHED), ", ".join(sorted(told))
    return (REFUSED if told else FOUND), "; ".join(faults)


def _verified(path: Path) -> tuple[str, ...]:
    try:
        return verify(open_book(path, SHOP)).faults
    except InputError as error:
        return (str(error),)


def pages_damaged(folder: Path, seed: int, entries: int = ENTRIES, runs: int = RUNS) -> tuple[Found, int]:
    """Damage every page of a small book in several ways, one at a time; also how many pages it has."""
    draw = random.Random(seed)
    whole = folder / "whole.sqlite"
    filled(whole, entries)
    before, data = shown(whole), whole.read_bytes()
    size = int.from_bytes(data[16:18], "big") or 65536
    found = Found()
    path = folder / FILE
    for page in range(len(data) // size):
        for name, spoilt in _spoilt(data[page * size : (page + 1) * size], data, size, draw, runs):
            path.write_bytes(data[: page * size] + spoilt + data[(page + 1) * size :])
            found.add(judged(path, before)[0], f"page {page + 1}, {name}")
            _clear(path)
    return found, len(data) // size


def _spoilt(page: bytes, data: bytes, size: int, draw: random.Random, runs: int) -> Iterator[tuple[str, bytes]]:
    for _ in range(runs):
        length = draw.randint(1, 64)
        at = draw.randrange(size - length)
        yield f"{length} bytes from {at}", page[:at] + draw.randbytes(length) + page[at + length :]
    at = draw.randrange(size)
    yield f"a bit of byte {at}", page[:at] + bytes([page[at] ^ 1 << draw.randrange(8)]) + page[at + 1 :]
    yield "emptied", bytes(size)
    other = draw.randrange(len(data) // size)
    yield f"that of page {other + 1}", data[other * size : (other + 1) * size]


def cut_short(folder: Path, count: int, seed: int) -> Found:
    """Cut a book's file off at random places, as a copy that broke off would be."""
    draw = random.Random(seed)
    whole, path = folder / "whole.sqlite", folder / FILE
    filled(whole, ENTRIES)
    before, data = shown(whole), whole.read_bytes()
    found = Found()
    for _ in range(count):
        length = draw.randrange(1, len(data))
        path.write_bytes(data[:length])
        found.add(judged(path, before)[0], f"cut at {length}")
        _clear(path)
    return found


def _clear(path: Path) -> None:
    for ending in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + ending).unlink(missing_ok=True)


# ---- journals ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Journal:
    """A book as it lies while a writer holds what it wrote in the journal: the file, and the journal beside it."""

    before: bytes
    """The file before anything of the journal was moved into it."""
    after: bytes
    """The file once all of it is."""
    journal: bytes


def journal(folder: Path, count: int, more: int, first: int = 0) -> tuple[Journal, Shown, Shown]:
    """A book of `count` entries with `more` in its journal, and what it shows without and with them."""
    path = folder / "journal.sqlite"
    _clear(path)
    book = filled(path, 0)
    with book.writing() as connection:
        for number in range(first, first + count):
            write(connection, book, number)
    before, without = path.read_bytes(), shown(path)
    holder = sqlite3.connect(path)
    holder.execute("PRAGMA journal_mode = WAL").fetchall()
    holder.execute("BEGIN").fetchall()
    holder.execute("SELECT count(*) FROM entry").fetchall()  # who reads keeps the journal from being moved
    try:
        with book.writing() as connection:
            for number in range(first + count, first + count + more):
                write(connection, book, number)
        beside = path.with_name(path.name + "-wal").read_bytes()
        assert path.read_bytes() == before
    finally:
        holder.close()
    with book.writing():
        pass
    return Journal(before, path.read_bytes(), beside), without, shown(path)


def journal_torn(folder: Path, step: int) -> Found:
    """Cut the journal off at every `step` bytes: the book shows the entries before it or all of them, never a part."""
    laid, without, with_all = journal(folder, 6, 1)
    found = Found()
    path = folder / FILE
    for length in range(0, len(laid.journal) + 1, step):
        path.write_bytes(laid.before)
        path.with_name(path.name + "-wal").write_bytes(laid.journal[:length])
        states = [judged(path, one)[0] for one in (without, with_all)]
        found.add(UNTOUCHED if UNTOUCHED in states else states[0], f"journal of {length} bytes")
        _clear(path)
    return found


def strange_journal(folder: Path) -> Found:
    """The journal of another book beside this one."""
    (folder / "other").mkdir()
    laid, _, _ = journal(folder / "other", 9, 2, first=100)
    found = Found()
    path = folder / FILE
    for count in (0, 1, 5, 20, ENTRIES):
        _clear(path)
        filled(path, count)
        before = shown(path)
        path.with_name(path.name + "-wal").write_bytes(laid.journal)
        found.add(judged(path, before)[0], f"a book of {count}")
    _clear(path)
    return found


# ---- no books ----------------------------------------------------------------------------------------------------------


def _future(path: Path) -> None:
    filled(path, 4)
    raw = sqlite3.connect(path)
    raw.execute("UPDATE alembic_version SET version_num = '0917'")
    raw.commit()
    raw.close()


def _another(path: Path) -> None:
    raw = sqlite3.connect(path)
    raw.execute("CREATE TABLE songs (title TEXT)")
    raw.commit()
    raw.close()


def _text(path: Path) -> None:
    path.write_text("number,at,shop\n1,2026-03-02,mill\n")


def _empty(path: Path) -> None:
    path.write_bytes(b"")


def _folder(path: Path) -> None:
    path.mkdir()


def _blank(path: Path) -> None:
    path.write_bytes(bytes(8192))


NO_BOOKS: dict[str, Callable[[Path], None]] = {
    "a book of a newer format": _future,
    "a database of something else": _another,
    "a text file": _text,
    "a file of zeros": _blank,
    "a folder": _folder,
    "an empty file": _empty,
}
