"""A book to write in: a file, and where a server runs the same on the server."""

from __future__ import annotations

from pathlib import Path

import pytest

from firstoff.book.opening import Book, open_book

SHOP = "Test mill"


@pytest.fixture
def book(tmp_path: Path) -> Book:
    return open_book(tmp_path / "book.sqlite", SHOP)
