"""The rows that one entry puts into the tables that index the book: a pure function, so that they can be made again and compared."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

from firstoff.book.chain import canonical
from firstoff.book.kept import Entry
from firstoff.book.tables import (
    answer,
    examination,
    fact_change,
    file_seen,
    run,
    run_tool,
    trial,
)

Row = dict[str, Any]
Rows = dict[str, list[Row]]
"""By table name."""
ContentOf = Callable[[str], str]
"""The text of a content by its stamp."""


def rows(entry: Entry, content_of: ContentOf) -> Rows:
    """All rows of an entry. Raises `KeyError` where the entry's body does not hold what its kind asks for."""
    return _MAKERS[entry.kind](entry.number, entry.body, content_of)


def _facts(number: int, body: Mapping[str, Any], _content_of: ContentOf) -> Rows:
    return {
        file_seen.name: [{"entry": number, "file": file, "sha256": sha} for file, sha in body["files"].items()],
        fact_change.name: [
            {
                "entry": number,
                "job": change["job"],
                "path": change["path"],
                "how": body["how"],
                "old": _text(change["old"]),
                "new": _text(change["new"]),
            }
            for change in body["changes"]
        ],
    }


def _text(said: object) -> str | None:
    return None if said is None else canonical(said)


def _trial(number: int, body: Mapping[str, Any], _content_of: ContentOf) -> Rows:
    row = {"entry": number, **{key: body[key] for key in ("path", "unit", "mean", "u", "df")}}
    return {trial.name: [{**row, "readings": canonical(body["readings"])}]}


def _examination(number: int, body: Mapping[str, Any], content_of: ContentOf) -> Rows:
    record = json.loads(content_of(body["record"]))
    time = record["time_s"]
    row = {
        "entry": number,
        "job": body["job"],
        "argument": body["argument"],
        "program_file": record["program"]["file"],
        "program_sha256": body["program_sha256"],
        "verdict": record["verdict"],
        **record["risks"],
        "time_s": None if time is None else time["total"],
        **{key: body[key] for key in ("leaned", "present", "record")},
    }
    return {examination.name: [row], answer.name: [_answer(number, question) for question in record["questions"]]}


def _answer(number: int, question: Mapping[str, Any]) -> Row:
    demand, capacity, places = question["demand"], question["capacity"], question["places"]
    known = demand or capacity
    return {
        "entry": number,
        "question": question["id"],
        "risk": question["risk"],
        "answer": question["answer"],
        "chance": question["any"],
        "demand": None if demand is None else demand["value"],
        "capacity": None if capacity is None else capacity["value"],
        "unit": "" if known is None else known["unit"],
        "line": places[0]["line"] if places else None,
    }


def _run(number: int, body: Mapping[str, Any], _content_of: ContentOf) -> Rows:
    keys = ("job", "program_sha256", "outcome", "note", "tool", "line", "off_mm", "feature", "facts")
    return {
        run.name: [{"entry": number, **{key: body[key] for key in keys}}],
        run_tool.name: [
            {"entry": number, "tool": name, "minutes": minutes} for name, minutes in body["minutes"].items()
        ],
    }


_MAKERS: dict[str, Callable[[int, Mapping[str, Any], ContentOf], Rows]] = {
    "facts": _facts,
    "trial": _trial,
    "examination": _examination,
    "run": _run,
}
