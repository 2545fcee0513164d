"""What is written into a book under trial: entries of every kind that follow from their number alone, and all that the book shows of them."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy.engine import Connection

from firstoff.book.kept import Entry
from firstoff.book.opening import Book, open_book
from firstoff.book.reading import (
    entries,
    history,
    kept_examination,
    known_facts,
    list_examinations,
    minutes_cut,
    runs,
    since,
    trials,
)
from firstoff.book.writing import add, facts_body, keep
from firstoff.errors import InputError
from firstoff.facts.change import Change

SHOP = "Trial mill"
FIRST = datetime(2026, 3, 2, 8, 0)
_KINDS = ("facts", "trial", "examination", "run")


def _noise(number: int, letters: int) -> str:
    """Text that no packer makes shorter than half, so that an entry fills several pages."""
    parts = (hashlib.sha256(f"{number} {part}".encode()).hexdigest() for part in range(letters // 64 + 1))
    return "".join(parts)[:letters]


def _said(value: float) -> dict[str, Any]:
    return {
        "value": value, "u": 0.25, "unit": "mm", "df": None, "shape": "normal", "evidence": "measured", "note": "", "on": None,
    }  # fmt: skip


def contents_of(number: int) -> dict[str, Any]:
    """The long contents of an entry, by name."""
    kind = _KINDS[number % 4]
    if kind == "examination":
        return {
            "leaned": {"machine.x": _said(float(number))},
            "present": ["machine.x", f"tools.t{number}.LF"],
            "record": _record(number),
        }
    return {"facts": {"machine.x": _said(float(number))}} if kind == "run" else {}


def _record(number: int) -> dict[str, Any]:
    """As much of a published record as the index reads, and as long as a short one."""
    measure = {"value": float(number), "u": 0.5, "unit": "N", "low95": 1.0, "high95": 2.0}
    question = {
        "id": "torque", "risk": "tool", "answer": "care", "any": 0.25, "demand": measure, "capacity": None, "places": [{"line": 7}],
    }  # fmt: skip
    return {
        "program": {"file": "program.nc", "sha256": "b" * 64},
        "verdict": "care",
        "risks": {"machine": "clear", "tool": "care", "part": "clear", "time": "clear"},
        "questions": [question],
        "time_s": {"total": 60.0 + number},
        "note": _noise(number, 12_000),
    }


def _body(number: int, stamps: dict[str, str]) -> dict[str, Any]:
    kind, job = _KINDS[number % 4], f"job{number % 3}"
    if kind == "facts":
        change = Change(f"tools.t{number % 12}.LF", None, _said(float(number)))
        return facts_body("set", {"tools.toml": f"{number:064d}"}, [("", change)])
    if kind == "trial":
        return {
            "path": "machine.x",
            "unit": "mm",
            "readings": [float(number), number + 0.25],
            "mean": number + 0.125,
            "u": 0.125,
            "df": 1.0,
        }
    if kind == "examination":
        given = {"job": job, "argument": f"jobs/{job}", "given": {}, "program_sha256": "b" * 64, "files": {}}
        return given | stamps
    note = {
        "job": job,
        "program_sha256": "b" * 64,
        "outcome": "good",
        "note": f"good, {number}",
        "minutes": {"em6": 1.5},
    }
    return note | dict.fromkeys(("tool", "line", "off_mm", "feature")) | stamps


def write(connection: Connection, book: Book, number: int) -> Entry:
    """Add the entry of that number, inside of `Book.writing`."""
    stamps = {name: keep(connection, value) for name, value in contents_of(number).items()}
    at = FIRST + timedelta(minutes=number)
    return add(connection, book, _KINDS[number % 4], _body(number, stamps), why=str(number), at=at, by="trial")


def as_written(entry: Entry) -> bool:
    """Whether an entry says what its number (kept as its reason) says it must."""
    number = int(entry.why)
    stamps = {name: entry.body[name] for name in contents_of(number)}
    return entry.kind == _KINDS[number % 4] and entry.body == _body(number, stamps)


def filled(path: Path, count: int) -> Book:
    """A new book with so many entries, written in one go."""
    book = open_book(path, SHOP)
    with book.writing() as connection:
        for number in range(count):
            write(connection, book, number)
    return book


Shown = dict[str, object]
"""What each way of asking gave: its answer, or the word that it cannot be had."""


class Told(str):
    """A clear fault instead of an answer."""

    __slots__ = ()


def shown(path: Path) -> Shown:
    """Everything that a book shows. Anything but a clear fault is raised: it would be a traceback on somebody's screen."""
    try:
        book = open_book(path, SHOP)
    except InputError as error:
        return {"open": Told(error)}
    ways: dict[str, Callable[[Connection], object]] = {
        "entries": lambda connection: list(entries(connection)),
        "facts": lambda connection: known_facts(connection, book),
        "since": lambda connection: since(connection, book),
        "trials": lambda connection: trials(connection, book, "machine.x"),
        "list": lambda connection: list_examinations(connection, book),
        "runs": lambda connection: runs(connection, book),
        "minutes": lambda connection: minutes_cut(connection, book, "em6"),
    }
    ways |= {f"history {n}": lambda connection, n=n: history(connection, book, f"tools.t{n}.LF") for n in (0, 4, 8)}  # type: ignore[misc]
    found = {name: _asked(book, ask) for name, ask in ways.items()}
    listed = found["list"]
    for one in listed if isinstance(listed, tuple) else ():
        found[f"examination {one.number}"] = _asked(
            book,
            lambda connection, number=one.number: kept_examination(connection, book, number),  # type: ignore[misc]
        )
    return found


def _asked(book: Book, ask: Callable[[Connection], object]) -> object:
    try:
        with book.reading() as connection:
            return ask(connection)
    except InputError as error:
        return Told(error)
