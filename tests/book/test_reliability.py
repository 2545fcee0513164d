"""A little of what `make reliability` does a hundred times: nothing acknowledged is lost, nothing half is shown, verify is never silent."""

from __future__ import annotations

from pathlib import Path

import pytest

from firstoff.book.exporting import CONTENTS, ENTRIES, export, export_at, take
from firstoff.book.opening import FILE, Book, open_book
from firstoff.book.reading import entries
from firstoff.book.verifying import verify
from firstoff.errors import InputError
from proof.reliability import damage, disk, kills, together
from proof.reliability.deeds import SHOP, Told, filled, shown
from proof.reliability.kills import fresh

from .made import add_fact, said


def _quiet(_stage: str, _part: float) -> None:
    """Nobody is looking."""


@pytest.mark.parametrize("taken", [(), ("-shm",), ("-wal", "-shm")], ids=["all left", "index taken", "journal taken"])
@pytest.mark.parametrize("seconds", [0.0, 0.11])
def test_a_killed_writer_loses_nothing(tmp_path: Path, seconds: float, taken: tuple[str, ...]) -> None:
    assert kills.killed_while_writing(tmp_path, seconds, taken).wrong == ()


@pytest.mark.parametrize("seconds", [0.27, 0.33])
def test_killed_while_the_book_is_made(tmp_path: Path, seconds: float) -> None:
    assert kills.killed_while_made(tmp_path, seconds).wrong == ()


def test_killed_while_setting_facts_the_file_is_old_or_new_and_what_is_not_recorded_is_noticed(tmp_path: Path) -> None:
    found, _ = kills.killed_while_setting(tmp_path, 0.1)
    assert found.wrong == ()


def test_a_change_that_ended_between_file_and_book_is_noticed(tmp_path: Path) -> None:
    shop = kills.small_shop(tmp_path / "shop")
    path = shop / "tools.toml"
    path.write_text(path.read_text().replace("10000e-3", "10001e-3"))
    found, where = kills.look_at_shop(shop, 0)
    assert (found.wrong, where) == ((), "between file and book")


def test_no_damaged_page_is_shown_without_verify_naming_it(tmp_path: Path) -> None:
    found, pages = damage.pages_damaged(tmp_path, 20, entries=4, runs=1)
    assert found.wrong == []
    assert found.cases == 4 * pages
    assert found.came[damage.REFUSED] > pages, "most damage is refused"


def test_a_file_cut_off_is_refused(tmp_path: Path) -> None:
    assert damage.cut_short(tmp_path, 12, 21).came.keys() == {damage.REFUSED}


def test_a_torn_journal_shows_all_of_an_entry_or_none(tmp_path: Path) -> None:
    assert damage.journal_torn(tmp_path, 6000).came.keys() == {damage.UNTOUCHED}


def test_a_strange_journal_is_named(tmp_path: Path) -> None:
    assert damage.strange_journal(tmp_path).wrong == []


@pytest.mark.parametrize("kib", [64, 118, 301])
def test_a_full_disk_is_told_and_what_was_written_stays(tmp_path: Path, kib: int) -> None:
    found = disk.disk_full(fresh(tmp_path / "disk"), kib)
    if found is None:
        pytest.skip(disk.NO_DISK)
    assert found[0].wrong == ()
    assert found[1], "the disk was full"


def test_a_full_disk_while_setting_facts(tmp_path: Path) -> None:
    found = disk.disk_full_while_setting(fresh(tmp_path / "disk"), 260)
    if found is None:
        pytest.skip(disk.NO_DISK)
    assert found[0].wrong == ()
    assert "cannot be written" in found[1] or "nothing was recorded" in found[1]


def test_two_writers_at_once(tmp_path: Path) -> None:
    assert together.two_writers(tmp_path, 25) == (50, [])


def test_copies_while_somebody_writes(tmp_path: Path) -> None:
    made, _, wrong = together.copies(tmp_path, 40)
    assert wrong == []
    assert made > 1


def test_a_reader_delays_no_writer(tmp_path: Path) -> None:
    assert together.beside_a_reader(tmp_path) < 2.0


@pytest.mark.parametrize("name", [name for name in damage.NO_BOOKS if name != "an empty file"])
def test_what_is_no_book_is_told_and_left_alone(tmp_path: Path, name: str) -> None:
    path = tmp_path / FILE
    damage.NO_BOOKS[name](path)
    before = path.read_bytes() if path.is_file() else None
    (told,) = shown(path).values()
    assert isinstance(told, Told)
    assert FILE in told
    assert "othing was changed" in told
    assert before == (path.read_bytes() if path.is_file() else None)
    assert [one.name for one in tmp_path.iterdir()] == [FILE]


def _page_emptied(path: Path, holding: bytes) -> None:
    """Empty the first page that holds these bytes."""
    data = bytearray(path.read_bytes())
    page = data.index(holding) // 4096
    data[page * 4096 : (page + 1) * 4096] = bytes(4096)
    path.write_bytes(data)


def test_of_a_damaged_index_everything_comes_out_again(tmp_path: Path) -> None:
    book = filled(tmp_path / FILE, 20)
    with book.reading() as connection:
        before = list(entries(connection))
    _page_emptied(tmp_path / FILE, b"job0jobs/job0")  # the table of examinations
    assert verify(book).faults
    with pytest.raises(InputError, match="the book is damaged: 20 entries and 20 contents could be read"):
        export(book, tmp_path / "out", _quiet)
    again = take(tmp_path / "out", tmp_path / "again.sqlite", SHOP, _quiet)
    assert verify(again).faults == ()
    with again.reading() as connection:
        assert list(entries(connection)) == before


def test_of_damaged_entries_the_others_come_out_and_the_gap_is_named(tmp_path: Path) -> None:
    book = filled(tmp_path / FILE, 20)
    with book.engine.connect() as connection:
        connection.exec_driver_sql("DROP TRIGGER entry_no_update")
        connection.exec_driver_sql("UPDATE entry SET why = 'other' WHERE number = 7")
        connection.commit()
    with pytest.raises(InputError, match="19 entries"):
        export(book, tmp_path / "out", _quiet)
    assert len((tmp_path / "out" / ENTRIES).read_text().splitlines()) == 19
    assert (tmp_path / "out" / CONTENTS).exists()
    with pytest.raises(InputError, match=rf"{ENTRIES}:7"):
        take(tmp_path / "out", tmp_path / "again.sqlite", SHOP, _quiet)


def test_what_is_no_text_is_told_and_a_reason_is_kept_with_a_mark(book: Book) -> None:
    with book.writing() as connection:
        add_fact(connection, book, "machine.x", None, said(1.0), why="new stop \udcff")
    with book.reading() as connection:
        assert [one.why for one in entries(connection)] == ["new stop ?"]
    with pytest.raises(InputError, match="nothing was recorded: it is not UTF-8 text"), book.writing() as connection:
        add_fact(connection, book, "machine.x\udcff", None, said(1.0))
    assert verify(book).entries == 1


def test_a_file_too_damaged_to_be_opened_still_gives_what_it_holds(tmp_path: Path) -> None:
    """As a journal taken away in the middle leaves it: the head speaks of pages that were never moved."""
    path = tmp_path / FILE
    book = filled(path, 20)
    with book.reading() as connection:
        before = list(entries(connection))
    data = bytearray(path.read_bytes())
    data[28:32] = (len(data) // 4096 + 3).to_bytes(4, "big")  # size in pages: SQLite's file format, 1.3.7
    path.write_bytes(data)
    with pytest.raises(InputError, match="the book is damaged"):
        open_book(path, SHOP)
    with pytest.raises(InputError, match="20 entries and 20 contents could be read"):
        export_at(path, SHOP, tmp_path / "out", _quiet)
    with take(tmp_path / "out", tmp_path / "again.sqlite", SHOP, _quiet).reading() as connection:
        assert list(entries(connection)) == before


def test_what_nothing_can_be_read_of_is_not_exported(tmp_path: Path) -> None:
    path = tmp_path / FILE
    filled(path, 4)
    path.write_bytes(path.read_bytes()[:5000])
    with pytest.raises(InputError, match="the book is damaged"):
        export_at(path, SHOP, tmp_path / "out", _quiet)
    assert [one.name for one in tmp_path.iterdir()] == [FILE]


@pytest.mark.parametrize(("last", "left"), [(True, 6), (False, 8)])
def test_contents_that_are_gone_are_missed(tmp_path: Path, last: bool, left: int) -> None:
    """A last entry without its contents was half written and is left out; one before it stays, and take names it."""
    path = tmp_path / FILE
    book = filled(path, 7 if last else 8)
    with book.reading() as connection:
        stamp = list(entries(connection))[6].body["record"]
    with book.engine.connect() as connection:
        connection.connection.dbapi_connection.execute("PRAGMA foreign_keys = OFF")  # type: ignore[union-attr]
        connection.exec_driver_sql("DROP TRIGGER content_no_delete")
        connection.exec_driver_sql(f"DELETE FROM content WHERE sha256 = '{stamp}'")
        connection.commit()
    with pytest.raises(InputError, match=f"{left} entries"):
        export(book, tmp_path / "out", _quiet)
    if last:
        assert verify(take(tmp_path / "out", tmp_path / "again.sqlite", SHOP, _quiet)).faults == ()
    else:
        with pytest.raises(InputError, match=rf"{ENTRIES}:7: .*leans on what is not there"):
            take(tmp_path / "out", tmp_path / "again.sqlite", SHOP, _quiet)
