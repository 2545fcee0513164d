"""Opening the book: where it lies, which format it has, and every way in which that can fail, each with what to do."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError, OperationalError

from firstoff.book.chain import GarbledError
from firstoff.book.tables import FORMAT
from firstoff.errors import Fault, InputError

FILE = "book.sqlite"
"""The book of a shop, beside machine.toml."""
FORMATS = ("0001",)
"""All formats that were released, oldest first."""
ONLY_ADDED = "only ever added to"
"""What the guards of the tables say."""
PATIENCE_S = 10.0
"""How long to wait for another writer."""
_MOVE = "Move it away, or name another file; nothing was changed."
_LOCK = 0x46697273
"""Of a server's book: one writer at a time (any number that nobody else uses)."""


class DamagedError(InputError):
    """The book, or the part of it that was asked for, is not what was written."""


@dataclass(frozen=True, slots=True)
class Book:
    """An open book. Use `reading` and `writing`; nothing else touches the engine."""

    place: str
    """As shown to people: a file, or the address of a server without its password."""
    shop: str
    """The machine that is written for."""
    engine: Engine
    shared: bool
    """Several machines write into it: what is read is that of `shop` alone."""

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view of the book. Raises `InputError` where it cannot be read."""
        with told(self.place), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """The right to write, nobody else's meanwhile; all that is written in it is there, or nothing.

        When this returns, what was written is on the disk, and in the book's own file unless somebody was reading or that disk was full: then it
        lies in the journal beside it until the next writer moves it.
        """
        with told(self.place), self.engine.connect().execution_options(writes=True) as connection:
            with connection.begin():
                if self.shared:
                    connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_LOCK)))
                yield connection
            if not self.shared:
                connection.rollback()
                _settle(connection)


def open_book(place: Path | str, shop: str) -> Book:
    """The book at a file or at ``postgresql://…``, made if it is not there, brought to the newest format if it is older.

    Raises `InputError` if it is damaged, of a newer format, no book at all, or cannot be reached.
    """
    shared = isinstance(place, str) and "://" in place
    shown = re.sub(r"//[^@/]*@", "//…@", str(place)) if shared else str(place)
    with told(shown):
        engine = _server(str(place)) if shared else _file(Path(place))
        book = Book(shown, shop, engine, shared)
        _brought_up(book)
    return book


def damaged_book(path: Path, shop: str) -> Book:
    """A book that `open_book` refuses as damaged, for reading what can still be read of it; nothing can be written."""

    def connected() -> sqlite3.Connection:
        connection = sqlite3.connect(path, timeout=PATIENCE_S, isolation_level=None)
        connection.execute("PRAGMA writable_schema = ON")  # first: it bears a file that is shorter than its head says
        connection.execute("PRAGMA query_only = ON")
        return connection

    return Book(str(path), shop, sa.create_engine("sqlite://", creator=connected, poolclass=sa.NullPool), False)


def _server(url: str) -> Engine:
    if not url.startswith(("postgresql://", "postgres://")):
        raise InputError(Fault("no such kind of book", url.split("://")[0], "a file, or postgresql://…"))
    try:
        return sa.create_engine("postgresql+psycopg" + url[url.index("://") :], poolclass=sa.NullPool)
    except ModuleNotFoundError:
        raise InputError(
            Fault("a book on a server needs its driver", "psycopg", do='pip install "firstoff[fleet]"')
        ) from None


def _file(path: Path) -> Engine:
    if not path.parent.is_dir():
        raise InputError(Fault("there is no such folder", str(path.parent), "a folder for the book"))
    if path.exists() and _head(path) not in (b"", b"SQLite format 3\0"):
        raise InputError(Fault("this is no book", str(path), do=_MOVE))
    engine = sa.create_engine(
        "sqlite://", creator=lambda: _connected(path), poolclass=sa.NullPool
    )  # by a function: a path may hold any letter
    event.listen(engine, "begin", _begin)
    return engine


def _head(path: Path) -> bytes:
    """The first bytes of a file, by which the database knows its own; of what is no file, something else."""
    if not path.is_file():
        return b"no file"
    with path.open("rb") as file:
        return file.read(16)


def _connected(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, timeout=PATIENCE_S, isolation_level=None)
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _begin(connection: Connection) -> None:
    # The library's own way of starting late would let two writers read before either has the right to write.
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _settle(connection: Connection) -> None:
    """Move what was written from the journal into the book's own file; a reader or a full disk may delay it, and the next writer then does it."""
    raw = connection.connection.dbapi_connection
    if isinstance(raw, sqlite3.Connection):
        with suppress(sqlite3.Error):  # it is recorded, in the journal: to say otherwise would have it recorded twice
            raw.execute(
                "PRAGMA wal_checkpoint(PASSIVE)"
            ).fetchall()  # FULL would wait for whoever reads, ten seconds long


def _brought_up(book: Book) -> None:
    with book.reading() as connection:
        found = _format_of(connection, book.place)
    _refuse_unknown(found, book.place)
    if not book.shared:
        _keep_a_journal(book)  # only now: what is not ours must not even be touched
    if found == FORMAT:
        return
    with book.writing() as connection:
        now = _format_of(connection, book.place)  # another may have done it while we waited
        _refuse_unknown(now, book.place)
        if now != FORMAT:
            _migrate(connection)


def _keep_a_journal(book: Book) -> None:
    """The write-ahead journal is a property of the file; a copy comes without it."""
    with book.engine.connect() as connection:
        raw = connection.connection.dbapi_connection
        if isinstance(raw, sqlite3.Connection) and raw.execute("PRAGMA journal_mode").fetchone() != ("wal",):
            raw.execute("PRAGMA journal_mode = WAL").fetchall()


def _format_of(connection: Connection, place: str) -> str:
    """Empty for a new book. Raises `InputError` where the file holds tables that are not ours."""
    names = sa.inspect(connection).get_table_names()
    if "alembic_version" not in names:
        if names and connection.dialect.name == "sqlite":
            what = "this file holds something else than a book"
            raise InputError(Fault(what, ", ".join(names)[:60], file=place, do=_MOVE))
        return ""
    found = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalars().all()
    if len(found) != 1:
        raise GarbledError("it does not say of which format it is")
    return str(found[0])


def _refuse_unknown(found: str, place: str) -> None:
    if found and found not in FORMATS:
        do = "Use that Firstoff, or install the newest one. Nothing was changed."
        raise InputError(
            Fault("this book was written by a newer Firstoff", f"format {found}", f"up to {FORMAT}", place, do=do)
        )


def _migrate(connection: Connection) -> None:
    from alembic import command  # a quarter of a second that only a new or an old book costs
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", "firstoff.book:migrations")
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    command.upgrade(config, FORMAT)


@contextmanager
def told(place: str) -> Iterator[None]:
    """What the database says, as one clear fault."""
    try:
        yield
    except OperationalError as error:
        raise _operational(str(error.orig), place) from None
    except IntegrityError as error:
        raise InputError(_refused(str(error.orig), place)) from None
    except DataError as error:
        raise InputError(_refused(str(error.orig), place)) from None
    except DBAPIError as error:
        if ONLY_ADDED in str(error.orig):
            raise InputError(_refused(str(error.orig), place)) from None
        raise DamagedError(_damaged(str(error.orig), place)) from None
    except sqlite3.OperationalError as error:
        raise _operational(str(error), place) from None
    except GarbledError as error:
        raise DamagedError(_damaged(str(error), place)) from None
    except UnicodeDecodeError:  # the names of tables, or the database's own word on them
        raise DamagedError(_damaged("its text cannot be read", place)) from None
    except UnicodeEncodeError as error:
        what = "this cannot be kept, nothing was recorded: it is not UTF-8 text"
        raise InputError(Fault(what, ascii(error.object[:60]), file=place)) from None
    except sqlite3.DatabaseError as error:
        raise DamagedError(_damaged(str(error), place)) from None


def _operational(said: str, place: str) -> InputError:
    said = said.strip().splitlines()[0] if said.strip() else "no reason given"
    if any(word in said for word in ("malformed", "not a database", "no such table", "no such column")):
        return DamagedError(_damaged(said, place))
    return InputError(_in_the_way(said, place))


def _in_the_way(said: str, place: str) -> Fault:
    if "locked" in said or "busy" in said:
        do = "Wait for the other Firstoff to finish and do it again."
        return Fault(
            f"another has been writing to the book for {PATIENCE_S:.0f} s; nothing was recorded", file=place, do=do
        )
    if "full" in said or "disk I/O" in said:
        return Fault(f"nothing was recorded: {said}", file=place, do="Make room on the disk and do it again.")
    if "readonly" in said or "unable to open" in said:
        return Fault(f"the book cannot be written: {said}", file=place, do="See who may write to the folder.")
    return Fault(f"the book cannot be reached: {said}", file=place)


def _refused(said: str, place: str) -> Fault:
    return Fault(f"the book refuses this, nothing was recorded: {said.strip().splitlines()[0]}", file=place)


def _damaged(said: str, place: str) -> Fault:
    do = (
        "Nothing was changed. Put back your last copy (firstoff book copy makes one), "
        "or write what can still be read with firstoff book export."
    )
    return Fault(f"the book is damaged: {said.strip().splitlines()[0]}", file=place, do=do)
