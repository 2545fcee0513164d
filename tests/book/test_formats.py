"""A book of every format that was ever released can be read; one of a format to come is left alone."""

from __future__ import annotations

import shutil
import sqlite3
from datetime import datetime
from pathlib import Path

import pytest

from firstoff.book.exporting import CONTENTS, ENTRIES, export
from firstoff.book.opening import FORMAT, FORMATS, open_book
from firstoff.book.reading import history, last_examinations, runs, trials
from firstoff.book.verifying import verify
from firstoff.errors import InputError

SAMPLES = Path(__file__).parent / "samples"


def _quiet(_stage: str, _part: float) -> None:
    """Nobody is looking."""


@pytest.fixture(params=FORMATS)
def sample(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[str, Path]:
    """A copy of the book of one format."""
    shutil.copy(SAMPLES / f"{request.param}.sqlite", tmp_path / "book.sqlite")
    return request.param, tmp_path / "book.sqlite"


def test_it_is_whole_and_says_what_it_said(sample: tuple[str, Path], tmp_path: Path) -> None:
    released, path = sample
    book = open_book(path, "Test mill")
    assert verify(book).faults == ()
    export(book, tmp_path / "out", _quiet)
    for name in (ENTRIES, CONTENTS):
        assert (tmp_path / "out" / name).read_bytes() == (SAMPLES / released / name).read_bytes()


def test_its_facts_examinations_runs_and_readings_are_found(sample: tuple[str, Path]) -> None:
    book = open_book(sample[1], "Test mill")
    with book.reading() as connection:
        assert [(past.how, past.why) for past in history(connection, book, "machine.x")] == [
            ("first", "day 0"),
            ("set", "day 2"),
        ]
        assert [(one.job, one.record["verdict"]) for one in last_examinations(connection, book)] == [
            ("cap", "care"),
            ("lid", "stop"),
        ]
        assert [(one.job, one.outcome) for one in runs(connection, book)] == [("lid", "good"), ("lid", "broke")]
        assert trials(connection, book, "machine.x")[0].readings == (1.0, 1.25)
        assert runs(connection, book)[0].at.date() == datetime(2026, 3, 6).date()


def test_the_newest_format_is_the_last_released_one() -> None:
    assert FORMATS[-1] == FORMAT
    assert sorted(path.stem for path in SAMPLES.glob("*.sqlite")) == sorted(FORMATS)


def test_a_book_of_a_format_to_come_is_refused_and_not_touched(sample: tuple[str, Path]) -> None:
    raw = sqlite3.connect(sample[1])
    raw.execute("UPDATE alembic_version SET version_num = '0042'")
    raw.commit()
    raw.close()
    before = sample[1].read_bytes()
    with pytest.raises(InputError, match="newer Firstoff: format 0042"):
        open_book(sample[1], "Test mill")
    assert sample[1].read_bytes() == before


def test_another_programs_database_is_refused_and_not_touched(tmp_path: Path) -> None:
    raw = sqlite3.connect(tmp_path / "book.sqlite")
    raw.execute("CREATE TABLE song (words TEXT)")
    raw.commit()
    raw.close()
    before = (tmp_path / "book.sqlite").read_bytes()
    with pytest.raises(InputError, match="something else than a book: song"):
        open_book(tmp_path / "book.sqlite", "Test mill")
    assert (tmp_path / "book.sqlite").read_bytes() == before
