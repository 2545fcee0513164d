"""What a book on a PostgreSQL server must do beyond what every book does (the other tests of this folder run on it too)."""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest
import sqlalchemy as sa

from firstoff.book.exporting import export, take
from firstoff.book.opening import Book, open_book
from firstoff.book.reading import entries, history, known_facts, list_examinations, runs
from firstoff.book.tables import INDEX, content, entry
from firstoff.book.verifying import verify
from firstoff.cli import main as command
from firstoff.errors import InputError

from .conftest import SHOP
from .made import add_examination, add_fact, add_run, said
from .server import execute

WRITER = """
import sys
from firstoff.book.opening import open_book
from tests.book.made import add_fact, add_examination, said
book = open_book(sys.argv[1], sys.argv[2])
for number in range(int(sys.argv[3])):
    with book.writing() as connection:
        add_fact(connection, book, f"machine.{sys.argv[2]}", None, said(float(number)), day=number)
        entry = add_examination(connection, book, sys.argv[2], day=number, value=float(number))
    print(entry.number, entry.sha256, flush=True)
"""
ROOT = Path(__file__).parents[2]


def _quiet(_stage: str, _part: float) -> None:
    """Nobody is looking."""


def test_two_machines_write_at_once_and_the_chain_is_whole(place_on_server: str) -> None:
    names, count = ("left", "right"), 30
    both = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, place_on_server, name, str(count)],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            text=True,
        )
        for name in names
    ]
    acknowledged = [line.split() for process in both for line in process.communicate(timeout=60)[0].splitlines()]
    assert [process.returncode for process in both] == [0, 0]
    books = [open_book(place_on_server, name) for name in names]
    assert verify(books[0]).faults == ()
    with books[0].reading() as connection:
        found = list(entries(connection))
    assert [one.number for one in found] == list(range(1, 4 * count + 1))
    there = {one.number: one.sha256 for one in found}
    assert len(acknowledged) == 2 * count
    assert all(there[int(number)] == sha for number, sha in acknowledged)
    turns = [one.shop for one in found]
    assert sum(left != right for left, right in pairwise(turns)) > 2, "they wrote at once"


def test_each_machine_is_told_of_its_own_and_verify_looks_at_all(place_on_server: str) -> None:
    left, right = (open_book(place_on_server, name) for name in ("left", "right"))
    for book, value in ((left, 1.0), (right, 2.0)):
        with book.writing() as connection:
            add_fact(connection, book, "machine.x", None, said(value))
            add_examination(connection, book, "lid")
            add_run(connection, book, "lid")
    for book, value in ((left, 1.0), (right, 2.0)):
        with book.reading() as connection:
            assert known_facts(connection, book)[""]["machine.x"]["value"] == value
            assert [one.new["value"] for one in history(connection, book, "machine.x") if one.new] == [value]
            assert len(list_examinations(connection, book)) == len(runs(connection, book)) == 1
    assert verify(left).entries == verify(right).entries == 6


@pytest.mark.parametrize("table", [entry, content, *INDEX], ids=lambda table: table.name)
def test_no_table_can_be_emptied(place_on_server: str, table: sa.Table) -> None:
    """The one deed that triggers of a file know nothing of."""
    book = open_book(place_on_server, SHOP)
    with book.writing() as connection:
        add_run(connection, book)
    with (
        pytest.raises(InputError, match="refuses this, nothing was recorded: the book is only ever added to"),
        book.writing() as connection,
    ):
        connection.exec_driver_sql(f"TRUNCATE {table.name} CASCADE")
    assert verify(book).entries == 1


def test_a_book_moves_from_a_file_to_a_server_and_back(file_book: Book, place_on_server: str, tmp_path: Path) -> None:
    with file_book.writing() as connection:
        for day in range(5):
            add_fact(connection, file_book, "machine.x", None, said(float(day)), day=day)
            add_examination(connection, file_book, day=day)
            add_run(connection, file_book, day=day)
    export(file_book, tmp_path / "out", _quiet)
    served = take(tmp_path / "out", place_on_server, SHOP, _quiet)
    assert verify(served) == verify(file_book)
    written = export(served, tmp_path / "out2", _quiet)
    for path in written:
        assert path.read_bytes() == (tmp_path / "out" / path.name).read_bytes()
    with pytest.raises(InputError, match="already holds entries"):
        take(tmp_path / "out", place_on_server, SHOP, _quiet)


def test_a_new_book_is_made_once_though_two_open_it_at_once(server: str) -> None:
    execute(server.format("postgres"), "CREATE DATABASE fresh")
    opener = "import sys; from firstoff.book.opening import open_book; open_book(sys.argv[1], 'mill')"
    both = [
        subprocess.Popen([sys.executable, "-c", opener, server.format("fresh")], stderr=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    told = [process.communicate(timeout=60)[1] for process in both]
    assert [process.returncode for process in both] == [0, 0], told
    assert verify(open_book(server.format("fresh"), SHOP)).faults == ()


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("nothere", 'the book cannot be reached: .*database "nothere" does not exist'),
        ("empty&port=1", "the book cannot be reached"),
    ],
)
def test_a_server_that_cannot_be_reached_is_told_without_the_password(server: str, name: str, told: str) -> None:
    place = server.format(name.partition("&")[0]).replace("book@", "book:secret@") + ("&port=1" if "&" in name else "")
    with pytest.raises(InputError, match=told) as caught:
        open_book(place, SHOP)
    assert "secret" not in str(caught.value)


def test_a_database_of_something_else_keeps_its_tables(server: str) -> None:
    """A server's database may serve others too: the book takes its place beside them."""
    execute(server.format("postgres"), "CREATE DATABASE shared")
    execute(server.format("shared"), "CREATE TABLE songs (title TEXT)")
    book = open_book(server.format("shared"), SHOP)
    with book.writing() as connection:
        add_run(connection, book)
        assert connection.exec_driver_sql("SELECT count(*) FROM songs").scalar() == 0
    assert verify(book).faults == ()


def test_text_that_a_server_cannot_hold_is_refused(place_on_server: str) -> None:
    book = open_book(place_on_server, SHOP)
    with pytest.raises(InputError, match="the book refuses this, nothing was recorded"), book.writing() as connection:
        add_fact(connection, book, "machine.x\0", None, said(1.0))
    assert verify(book).entries == 0


def test_the_command_uses_the_server_that_it_is_told(
    place_on_server: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "machine.toml").write_text('[shop]\nname = "Left mill"\n[axis.x]\ntravel = "0 .. 300 mm"\n')
    monkeypatch.setenv("FIRSTOFF_BOOK", place_on_server)
    monkeypatch.chdir(tmp_path)
    for words in (("set", "machine.axis.x.travel", "0 .. 290 mm", "--why", "new stop"), ("book", "verify")):
        monkeypatch.setattr(sys, "argv", ["firstoff", *words])
        with pytest.raises(SystemExit) as ended:
            command()
        assert ended.value.code in (0, None), capsys.readouterr()
    assert "whole: 2 entries" in " ".join(capsys.readouterr().out.split())
    assert not (tmp_path / "book.sqlite").exists()
