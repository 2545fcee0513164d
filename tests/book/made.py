"""Entries by hand, of every kind, small enough to be told apart by eye."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy.engine import Connection

from firstoff.book.kept import Entry
from firstoff.book.opening import Book
from firstoff.book.writing import add, facts_body, keep
from firstoff.facts.change import Change

FIRST = datetime(2026, 3, 2, 8, 0)


def said(value: float, u: float = 0.1) -> dict[str, Any]:
    return {
        "value": value, "u": u, "unit": "mm", "df": None, "shape": "normal", "evidence": "measured", "note": "", "on": None,
    }  # fmt: skip


def add_fact(
    connection: Connection,
    book: Book,
    path: str,
    old: object,
    new: object,
    *,
    day: int = 0,
    job: str = "",
    how: str = "set",
    why: str | None = None,
) -> Entry:
    body = facts_body(how, {"machine.toml": f"{day:064d}"}, [(job, Change(path, old, new))])
    return add(
        connection,
        book,
        "facts",
        body,
        why=f"day {day}" if why is None else why,
        at=FIRST + timedelta(days=day),
        by="someone",
    )


def record(verdict: str = "clear", chance: float | None = 0.25) -> dict[str, Any]:
    """As much of a published record as the index reads."""
    measure = {"value": 2.0, "u": 0.1, "unit": "N", "low95": 1.8, "high95": 2.2}
    question = {
        "id": "torque", "risk": "tool", "answer": verdict, "any": chance, "demand": measure, "capacity": None, "places": [{"line": 7}],
    }  # fmt: skip
    return {
        "program": {"file": "program.nc", "sha256": "b" * 64},
        "verdict": verdict,
        "risks": {"machine": "clear", "tool": verdict, "part": "clear", "time": "clear"},
        "questions": [question],
        "time_s": {"total": 61.5},
        "cut": {"tools": [{"name": "em6", "cutting_s": 90.0}]},
    }


def add_examination(
    connection: Connection, book: Book, job: str = "lid", *, day: int = 0, verdict: str = "clear", value: float = 1.0
) -> Entry:
    body = {
        "job": job,
        "argument": f"jobs/{job}",
        "given": {},
        "program_sha256": "b" * 64,
        "files": {},
        "leaned": keep(connection, {"machine.x": said(value)}),
        "present": keep(connection, ["machine.x"]),
        "record": keep(connection, record(verdict)),
    }
    return add(connection, book, "examination", body, at=FIRST + timedelta(days=day), by="someone")


def add_run(connection: Connection, book: Book, job: str = "lid", *, day: int = 0, outcome: str = "good") -> Entry:
    body = {
        "job": job, "program_sha256": "b" * 64, "outcome": outcome, "note": outcome, "tool": None, "line": None, "off_mm": None,
        "feature": None, "minutes": {"em6": 1.5}, "facts": keep(connection, {"machine.x": said(1.0)}),
    }  # fmt: skip
    return add(connection, book, "run", body, at=FIRST + timedelta(days=day), by="someone")


def add_trial(connection: Connection, book: Book, path: str = "machine.x", *, day: int = 0) -> Entry:
    body = {"path": path, "unit": "mm", "readings": [1.0, 1.25], "mean": 1.125, "u": 0.125, "df": 1.0}
    return add(connection, book, "trial", body, at=FIRST + timedelta(days=day), by="someone")
