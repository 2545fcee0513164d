"""The book with ten thousand examinations in it: listing them, finding each job's newest, keeping one more, verifying all."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy.engine import Connection

from firstoff.book.opening import Book, open_book
from firstoff.book.reading import last_examinations, list_examinations
from firstoff.book.verifying import verify
from firstoff.book.writing import add, keep

KEPT, JOBS, QUESTIONS, FACTS = 10_000, 60, 25, 150
BEGAN = datetime(2026, 1, 5, 8)


def rows() -> list[tuple[str, str]]:
    """Figures of a book as large as a shop fills in some years."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "book.sqlite"
        book = open_book(place, "bench")
        with book.writing() as connection:
            for number in range(KEPT):
                _examined(connection, book, number)
        listed = _best(lambda: _read(place, list_examinations))
        newest = _best(lambda: _read(place, last_examinations))
        kept = _best(lambda: _one_more(place))
        began = time.perf_counter()
        faults = verify(book).faults
        verified = time.perf_counter() - began
        size = place.stat().st_size / 1e6
    if faults:
        raise SystemExit(f"the book of the bench is damaged: {faults}")
    return [
        (f"list {KEPT:,} kept examinations, book opened for it ({size:.0f} MB)", f"{listed:.2f} s"),
        (f"the newest of each of {JOBS} jobs, whole, stamps held", f"{newest:.2f} s"),
        ("keep one more, on the disk when it returns", f"{1000 * kept:.0f} ms"),
        (f"verify all {KEPT:,}", f"{verified:.1f} s"),
    ]


def _best(do: Callable[[], object]) -> float:
    taken = []
    for _ in range(3):
        began = time.perf_counter()
        do()
        taken.append(time.perf_counter() - began)
    return min(taken)


def _read(place: Path, ask: Callable[[Connection, Book], object]) -> object:
    book = open_book(place, "bench")
    with book.reading() as connection:
        return ask(connection, book)


def _one_more(place: Path) -> None:
    book = open_book(place, "bench")
    with book.writing() as connection:
        _examined(connection, book, KEPT)


def _examined(connection: Connection, book: Book, number: int) -> None:
    job, day = f"job-{number % JOBS}", number // JOBS
    fact = {
        "value": 1.0 + day,
        "u": 0.1,
        "unit": "mm",
        "df": None,
        "shape": "normal",
        "evidence": "measured",
        "note": "",
        "on": None,
    }
    body = {
        "job": job, "argument": f"jobs/{job}", "given": {}, "program_sha256": f"{number % JOBS:064d}", "files": {},
        "leaned": keep(connection, {f"machine.fact.{one}": fact for one in range(FACTS)}),
        "present": keep(connection, [f"machine.fact.{one}" for one in range(3 * FACTS)]),
        "record": keep(connection, _record(number)),
    }  # fmt: skip
    add(connection, book, "examination", body, at=BEGAN + timedelta(days=day))


def _record(number: int) -> dict[str, Any]:
    measure = {"value": 1.0 + number, "u": 0.1, "unit": "N", "low95": 0.8, "high95": 1.2}
    question = {
        "risk": "tool",
        "answer": "clear",
        "any": 0.001,
        "demand": measure,
        "capacity": measure,
        "places": [{"line": 7}],
    }
    return {
        "program": {"file": "program.nc", "sha256": "b" * 64},
        "verdict": "clear",
        "risks": dict.fromkeys(("machine", "tool", "part", "time"), "clear"),
        "questions": [{"id": f"question-{one}", **question} for one in range(QUESTIONS)],
        "time_s": {"total": 61.5},
        "cut": None,
    }
