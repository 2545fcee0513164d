"""The shop's book: where it lies, what it knows of the text files, and what is done with the whole of it."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy.engine import Connection

from firstoff.book.exporting import copy as copy
from firstoff.book.exporting import export_at
from firstoff.book.exporting import take as taken
from firstoff.book.kept import Entry, KeptRun, Listed, Moment
from firstoff.book.opening import FILE, Book, open_book
from firstoff.book.reading import (
    count_entries,
    entries,
    files_seen,
    known_facts,
    list_examinations,
    newest_entries,
    runs,
)
from firstoff.book.reading import last_changes as newest_changes
from firstoff.book.reading import moments as moments_since
from firstoff.book.verifying import verify as verify
from firstoff.book.writing import add, facts_body
from firstoff.errors import Fault, InputError
from firstoff.facts.change import Change, Stated, all_stated, changes
from firstoff.facts.job import JOB, own_facts
from firstoff.facts.shop import JOBS, MACHINE, MATERIALS, TOOLS, find_shop, load_shop
from firstoff.verdict.words import ShopUnits
from firstoff.workflows import Tell

BOOK_VARIABLE = "FIRSTOFF_BOOK"
"""Names the book where it is not beside the shop's files: a file, or ``postgresql://…``."""

JobChange = tuple[str, Change]
"""The job whose fact changed (empty for the shop's own), and what."""


@dataclass(frozen=True, slots=True)
class ShopBook:
    """A shop folder and its open book."""

    folder: Path
    book: Book


@dataclass(frozen=True, slots=True)
class Noticed:
    """What the files say that the book did not know yet."""

    how: str
    """first: the book is new; by hand: somebody edited the files."""
    changed: tuple[JobChange, ...]


def shop_book(shop: Path | None = None, argument: Path | None = None, *, must_be: bool = False) -> ShopBook:
    """The book of the shop that is meant, begun where there is none unless it `must_be` there. Raises `InputError` where there is no shop, or
    its book cannot be used."""
    folder = _folder(shop, argument)
    place = _place(folder)
    if must_be and isinstance(place, Path) and not place.exists():
        do = "firstoff examine begins one. If there was one, put back your last copy."
        raise InputError(Fault("there is no book here", str(place), do=do))
    return ShopBook(folder, open_book(_place(folder), load_shop(folder).name))


def _folder(shop: Path | None, argument: Path | None = None) -> Path:
    folder = find_shop(argument, shop)
    if folder is None:
        raise InputError(
            Fault(
                "there is no shop here",
                str(Path.cwd()),
                "--shop DIR, or a folder inside of one",
                do="firstoff new DIR makes one.",
            )
        )
    return folder


def _place(folder: Path) -> str | Path:
    return os.environ.get(BOOK_VARIABLE) or folder / FILE


def units_of(folder: Path) -> ShopUnits:
    """The units that a shop's answers are shown in."""
    return ShopUnits(load_shop(folder).show == "inch")


def notice(shop: ShopBook) -> Noticed:
    """Record what was edited by hand since the book last looked. Quick where nothing was: the files are only stamped."""
    with shop.book.reading() as connection:
        if not _unseen(connection, shop):
            return Noticed("by hand", ())
    with shop.book.writing() as connection:
        return noticed(connection, shop)


def noticed(connection: Connection, shop: ShopBook) -> Noticed:
    """`notice`, for who holds the right to write already."""
    new = not known_facts(connection, shop.book)
    how = "first" if new else "by hand"
    return Noticed(how, record_files(connection, shop, how))


def record_files(
    connection: Connection,
    shop: ShopBook,
    how: str,
    why: str = "",
    *,
    at: datetime | None = None,
    by: str | None = None,
) -> tuple[JobChange, ...]:
    """Add an entry that says how the files differ from what the book knows; none where they do not."""
    unseen = _unseen(connection, shop)
    if not unseen:
        return ()
    changed, stamps = _changed(shop, known_facts(connection, shop.book), unseen)
    if stamps:
        add(connection, shop.book, "facts", facts_body(how, stamps, changed), why=why, at=at, by=by)
    return changed


def _stamps(folder: Path) -> dict[str, str]:
    """Stamps of the text files of a shop, by name relative to its folder."""
    jobs = sorted((folder / JOBS).glob(f"*/{JOB}"))
    files = [path for path in (folder / MACHINE, folder / TOOLS, folder / MATERIALS, *jobs) if path.is_file()]
    return {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def _unseen(connection: Connection, shop: ShopBook) -> dict[str, str]:
    """Files whose stamp the book does not know; an empty stamp where a file is gone."""
    seen, now = files_seen(connection, shop.book), _stamps(shop.folder)
    gone = {file: "" for file, sha in seen.items() if sha and file not in now}
    return {file: sha for file, sha in now.items() if seen.get(file) != sha} | gone


def _changed(
    shop: ShopBook, known: Mapping[str, Mapping[str, Stated]], unseen: Mapping[str, str]
) -> tuple[tuple[JobChange, ...], dict[str, str]]:
    """Facts that differ, and the stamps of the files that could be read. A job that cannot be read waits until it can."""
    found: list[JobChange] = []
    stamps: dict[str, str] = {}
    own = [file for file in unseen if not file.startswith(f"{JOBS}/")]
    if own:
        facts = all_stated(load_shop(shop.folder).facts)
        found += [("", change) for change in changes(known.get("", {}), facts)]
        stamps |= {file: unseen[file] for file in own}
    for file in (file for file in unseen if file.startswith(f"{JOBS}/")):
        job = Path(file).parent.name
        try:
            facts = all_stated(own_facts(shop.folder / file, file)) if unseen[file] else {}
        except InputError:
            continue
        found += [(job, change) for change in changes(known.get(job, {}), facts)]
        stamps[file] = unseen[file]
    return tuple(found), stamps


@contextmanager
def writing(shop: ShopBook) -> Iterator[tuple[Connection, Noticed]]:
    """The right to write in book and files; edits by hand are recorded first, so that what is written next is told apart from them."""
    with shop.book.writing() as connection:
        yield connection, noticed(connection, shop)


# ---- the whole of it -----------------------------------------------------------------------------------------------


def examinations(shop: ShopBook, job: str | None = None, most: int | None = None) -> tuple[Listed, ...]:
    """What was examined, newest first, at most `most`."""
    with shop.book.reading() as connection:
        return list_examinations(connection, shop.book, job, most)


def noted_runs(shop: ShopBook, job: str | None = None) -> tuple[KeptRun, ...]:
    """What was noted after runs, oldest first."""
    with shop.book.reading() as connection:
        return runs(connection, shop.book, job)


def newest(shop: ShopBook, most: int, before: int | None = None, kind: str | None = None) -> tuple[Entry, ...]:
    """Entries, newest first."""
    with shop.book.reading() as connection:
        return newest_entries(connection, shop.book, most, before, kind)


def moments(shop: ShopBook, after: datetime) -> tuple[Moment, ...]:
    """All that happened since `after`, oldest first."""
    with shop.book.reading() as connection:
        return moments_since(connection, shop.book, after)


def verdicts_of(shop: ShopBook, numbers: Sequence[int]) -> dict[int, str]:
    """The verdicts of examinations by the numbers of their entries."""
    wanted = set(numbers)
    with shop.book.reading() as connection:
        return {one.number: one.verdict for one in list_examinations(connection, shop.book) if one.number in wanted}


def count_of(shop: ShopBook, kind: str) -> int:
    """How many entries of one kind there are."""
    with shop.book.reading() as connection:
        return count_entries(connection, shop.book, kind)


def last_changes(shop: ShopBook, prefix: str, most: int) -> tuple[tuple[datetime, str, str, Change], ...]:
    """The newest changes of facts below `prefix`: when, who, why, and what."""
    with shop.book.reading() as connection:
        return newest_changes(connection, shop.book, prefix, most)


def export(folder: Path, shop: Path | None, tell: Tell) -> tuple[Path, ...]:
    """Write the shop's book into a new folder. Of a damaged one, what can still be read is written, and then `InputError` says how much that is."""
    home = _folder(shop)
    return export_at(_place(home), load_shop(home).name, folder, tell)


def take(folder: Path, shop: Path | None, tell: Tell) -> int:
    """Make the shop's book of an export; returns how many entries it has."""
    home = _folder(shop)
    book = taken(folder, _place(home), load_shop(home).name, tell)
    with book.reading() as connection:
        return sum(1 for _ in entries(connection))


def listed_json(found: Sequence[Listed]) -> dict[str, object]:
    """`firstoff book list --json`."""
    return {"schema": "firstoff.examinations/1", "examinations": [_plain(one) for one in found]}


def runs_json(found: Sequence[KeptRun]) -> dict[str, object]:
    """`firstoff book runs --json`."""
    return {"schema": "firstoff.runs/1", "runs": [_plain(one) for one in found]}


def _plain(one: Listed | KeptRun) -> dict[str, object]:
    return {**asdict(one), "at": one.at.isoformat()}
