"""A book to write in: a file, and where a server can be started the same on the server."""

from __future__ import annotations

import os
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from firstoff.book.opening import Book, open_book

from .server import NO_SERVER, execute, programs, running

SHOP = "Test mill"
_numbers = count(1)


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """Address of a PostgreSQL server with one empty book in it, to be filled in with the name of a database. In CI there must be one."""
    found = programs()
    if found is None:
        if os.environ.get("CI"):
            pytest.fail(NO_SERVER)
        pytest.skip(NO_SERVER)
    with running(found) as address:
        execute(address.format("postgres"), "CREATE DATABASE empty")
        open_book(address.format("empty"), SHOP)
        yield address


@pytest.fixture
def place_on_server(server: str) -> str:
    """Address of a new and empty book."""
    name = f"book{next(_numbers)}"
    execute(server.format("postgres"), f"CREATE DATABASE {name} TEMPLATE empty")
    return server.format(name)


@pytest.fixture
def file_book(tmp_path: Path) -> Book:
    return open_book(tmp_path / "book.sqlite", SHOP)


@pytest.fixture(params=["file", "server"])
def book(request: pytest.FixtureRequest) -> Book:
    """The same test in a file and on a server."""
    if request.param == "server":
        return open_book(request.getfixturevalue("place_on_server"), SHOP)
    found: Book = request.getfixturevalue("file_book")
    return found
