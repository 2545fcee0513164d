"""The book is a chain that is only ever added to, and everything else in it follows from the chain."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy.engine import Connection

from firstoff.book.chain import canonical, stamp_of
from firstoff.book.exporting import copy, export, take
from firstoff.book.opening import FORMAT, Book, open_book
from firstoff.book.page import page
from firstoff.book.reading import (
    entries,
    entry_at,
    history,
    kept_examination,
    known_facts,
    last_examinations,
    list_examinations,
    minutes_cut,
    moments,
    run_counts,
    runs,
    since,
    trials,
)
from firstoff.book.tables import INDEX, content, entry, examination, fact_change, metadata
from firstoff.book.verifying import verify
from firstoff.book.writing import put
from firstoff.errors import InputError
from firstoff.facts.change import changes

from .made import FIRST, add_examination, add_fact, add_run, add_trial, said

PATHS = ("machine.x", "machine.y", "tools.em6.LF")
DEEDS = st.lists(
    st.tuples(st.sampled_from(PATHS), st.one_of(st.none(), st.floats(-1e6, 1e6)), st.sampled_from(["", "lid"])),
    max_size=12,
)


def _quiet(_stage: str, _part: float) -> None:
    """Nobody is looking."""


@given(DEEDS)
@settings(max_examples=15, deadline=None)
def test_what_is_known_is_the_sum_of_all_changes_and_every_past_is_told(
    deeds: Sequence[tuple[str, float | None, str]],
) -> None:
    known: dict[str, dict[str, object]] = {}
    past: dict[tuple[str, str], list[object]] = {}
    with tempfile.TemporaryDirectory() as folder:
        book = open_book(Path(folder) / "book.sqlite", "mill")
        for day, (path, value, job) in enumerate(deeds):
            old, new = known.get(job, {}).get(path), None if value is None else said(value)
            if old is None and new is None:
                continue
            with book.writing() as connection:
                add_fact(connection, book, path, old, new, day=day, job=job)
            past.setdefault((job, path), []).append(new)
            known.setdefault(job, {})[path] = new
        with book.reading() as connection:
            now = {job: {path: one for path, one in facts.items() if one} for job, facts in known.items()}
            assert known_facts(connection, book) == {job: facts for job, facts in now.items() if facts}
            for (job, path), told in past.items():
                assert [one.new for one in history(connection, book, path, job)] == told
        assert verify(book).faults == ()


def filled(book: Book) -> Book:
    with book.writing() as connection:
        add_fact(connection, book, "machine.x", None, said(1.0), how="first")
        add_examination(connection, book, "lid", day=1)
    with book.writing() as connection:
        add_fact(connection, book, "machine.x", said(1.0), said(1.5), day=2)
        add_examination(connection, book, "lid", day=3, verdict="stop", value=1.5)
        add_examination(connection, book, "cap", day=3, verdict="care", value=1.5)
        add_run(connection, book, "lid", day=4)
        add_run(connection, book, "lid", day=5, outcome="broke")
        add_trial(connection, book, day=6)
    return book


def test_each_entry_follows_the_one_before(book: Book) -> None:
    with filled(book).reading() as connection:
        found = list(entries(connection))
    assert [one.number for one in found] == list(range(1, 9))
    assert [one.before for one in found] == ["", *(one.sha256 for one in found[:-1])]
    assert all(stamp_of(one) == one.sha256 for one in found)
    assert found[0].at == FIRST


def test_what_was_examined_is_found_again_as_it_was_kept(book: Book) -> None:
    with filled(book).reading() as connection:
        last = last_examinations(connection, book)
        assert [(one.job, one.record["verdict"], one.leaned["machine.x"]["value"]) for one in last] == [
            ("cap", "care", 1.5),
            ("lid", "stop", 1.5),
        ]
        listed = list_examinations(connection, book)
        assert [(one.job, one.verdict, one.risks["tool"], one.time_s) for one in listed] == [
            ("cap", "care", "care", 61.5),
            ("lid", "stop", "stop", 61.5),
            ("lid", "clear", "clear", 61.5),
        ]
        assert kept_examination(connection, book, listed[-1].number).leaned["machine.x"]["value"] == 1.0
        assert [one.number for one in list_examinations(connection, book, "cap")] == [listed[0].number]


def test_all_that_happened_is_told_in_a_word_from_a_day_on(book: Book) -> None:
    with filled(book).reading() as connection:
        found = moments(connection, book, FIRST)
        assert [(one.number, one.at, one.kind) for one in found] == [
            (one.number, one.at, one.kind) for one in entries(connection)
        ]
        words = {kind: [one.word for one in found if one.kind == kind] for kind in ("run", "examination")}
        assert words == {"run": ["good", "broke"], "examination": ["clear", "stop", "care"]}
        late = moments(connection, book, found[-1].at)
        assert late[-1] == found[-1]
        assert len(late) < len(found)


def test_runs_count_and_give_their_minutes(book: Book) -> None:
    with filled(book).reading() as connection:
        assert [(one.outcome, one.note) for one in runs(connection, book, "lid")] == [
            ("good", "good"),
            ("broke", "broke"),
        ]
        assert runs(connection, book, "cap") == ()
        assert run_counts(connection, book, FIRST + timedelta(days=300))["lid"] == 2
        assert run_counts(connection, book, FIRST + timedelta(days=369.5))["lid"] == 1
        assert minutes_cut(connection, book, "em6") == 3.0
        assert minutes_cut(connection, book, "em6", FIRST + timedelta(days=4.5)) == 1.5
        assert trials(connection, book, "machine.x")[0].readings == (1.0, 1.25)
        assert since(connection, book)["", "machine.x"] == FIRST + timedelta(days=2)


@pytest.mark.parametrize("table", [entry, content, *INDEX], ids=lambda table: table.name)
@pytest.mark.parametrize("deed", ["change", "drop"])
def test_nothing_in_it_can_be_changed_or_dropped(book: Book, table: sa.Table, deed: str) -> None:
    filled(book)
    column = list(table.columns)[-1]
    statement = table.update().values({column.name: sa.null()}) if deed == "change" else table.delete()
    with pytest.raises(InputError, match="only ever added to"), book.writing() as connection:
        connection.execute(statement)
    assert verify(book).faults == ()


@pytest.mark.parametrize(
    ("table", "row"),
    [
        (entry, {"number": 9, "at": "", "shop": "", "kind": "song", "who": "", "why": "", "body": "{}", "before": "a", "sha256": "c" * 64}),
        (entry, {"number": 9, "at": "", "shop": "", "kind": "run", "who": "", "why": "", "body": "{}", "before": "a", "sha256": "short"}),
        (entry, {"number": 0, "at": "", "shop": "", "kind": "run", "who": "", "why": "", "body": "{}", "before": "a", "sha256": "c" * 64}),
        (fact_change, {"entry": 1, "job": "", "path": "p", "how": "set", "old": None, "new": None}),
        (fact_change, {"entry": 99, "job": "", "path": "p", "how": "set", "old": None, "new": "1"}),
        (fact_change, {"entry": 1, "job": "", "path": "p", "how": "guessed", "old": None, "new": "1"}),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(book: Book, table: sa.Table, row: dict[str, object]) -> None:
    filled(book)
    with pytest.raises(InputError), book.writing() as connection:
        connection.execute(table.insert(), row)
    assert verify(book).faults == ()


def test_two_entries_never_follow_the_same_one(book: Book) -> None:
    filled(book)
    with book.reading() as connection:
        last = list(entries(connection))[-1]
    fork = replace(last, number=last.number + 1)  # follows the same one as the last does
    with pytest.raises(InputError), book.writing() as connection:
        put(connection, replace(fork, sha256=stamp_of(fork)))


def test_what_fails_half_way_leaves_nothing(book: Book) -> None:
    with suppress(RuntimeError), book.writing() as connection:
        add_fact(connection, book, "machine.x", None, said(1.0))
        raise RuntimeError
    assert verify(book).entries == 0


def _lie(connection: Connection, table: sa.Table) -> None:
    """Take away what guards a table, as somebody could who means it."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("SET session_replication_role = replica")
        return
    connection.connection.dbapi_connection.execute("PRAGMA foreign_keys = OFF")  # type: ignore[union-attr]
    for (name,) in connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'trigger'").all():
        if name.startswith(f"{table.name}_no"):
            connection.exec_driver_sql(f"DROP TRIGGER {name}")


@pytest.mark.parametrize(
    ("table", "statement", "told"),
    [
        (entry, "UPDATE entry SET why = 'other' WHERE number = 3", "entry 3 is not what was written"),
        (entry, "UPDATE entry SET body = replace(body, '1.5', '1.6') WHERE number = 3", "entry 3 is not what was written"),
        (entry, "UPDATE entry SET at = '2027' WHERE number = 5", "entry 5 is not what was written"),
        (content, "UPDATE content SET body = x'00'", "contents are not what was kept"),
        (content, "DELETE FROM content", "contents are not there"),
        (fact_change, "UPDATE fact_change SET new = '2' WHERE entry = 3", "fact_change does not agree"),
        (fact_change, "DELETE FROM fact_change WHERE entry = 3", "fact_change does not agree"),
        (examination, "UPDATE examination SET verdict = 'clear' WHERE verdict = 'stop'", "examination does not agree"),
    ],
)  # fmt: skip
def test_a_change_past_the_guards_is_found(book: Book, table: sa.Table, statement: str, told: str) -> None:
    filled(book)
    with book.engine.connect() as connection:
        _lie(connection, table)
        connection.exec_driver_sql(statement if not book.shared else statement.replace("x'00'", "'\\x00'"))
        connection.commit()
    faults = verify(book).faults
    assert any(told.replace("contents are not there", "leans on a content") in fault for fault in faults), faults


def test_a_changed_entry_is_never_shown(book: Book) -> None:
    filled(book)
    with book.engine.connect() as connection:
        _lie(connection, entry)
        connection.exec_driver_sql("UPDATE entry SET body = replace(body, '1.5', '1.6') WHERE number = 3")
        connection.commit()
    with book.reading() as connection:
        with pytest.raises(InputError, match="not what was written"):
            history(connection, book, "machine.x")
        with pytest.raises(InputError, match="not what was written"):
            entry_at(connection, book, 3)


def test_an_export_makes_the_same_book_again(book: Book, tmp_path: Path) -> None:
    written = export(filled(book), tmp_path / "out", _quiet)
    assert {path.name for path in written} == {
        "entries.jsonl",
        "contents.jsonl",
        *(f"{table.name}.csv" for table in INDEX),
    }
    again = take(tmp_path / "out", tmp_path / "again.sqlite", book.shop, _quiet)
    assert verify(again) == verify(book)
    assert export(again, tmp_path / "out2", _quiet)
    for path in written:
        assert path.read_bytes() == (tmp_path / "out2" / path.name).read_bytes()


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("entries.jsonl", "day 2", "day 3"),
        ("entries.jsonl", '"kind":"run"', '"kind":"ran"'),
        ("entries.jsonl", '"number":', '"mumble":'),
        ("contents.jsonl", "torque", "power"),
        ("contents.jsonl", "{", ""),
    ],
)
def test_an_export_that_was_changed_is_refused_and_makes_nothing(
    book: Book, tmp_path: Path, file: str, old: str, new: str
) -> None:
    export(filled(book), tmp_path / "out", _quiet)
    path = tmp_path / "out" / file
    path.write_text(path.read_text().replace(old, new, 1))
    with pytest.raises(InputError):
        take(tmp_path / "out", tmp_path / "again.sqlite", book.shop, _quiet)
    assert not (tmp_path / "again.sqlite").exists() or verify(open_book(tmp_path / "again.sqlite", "mill")).entries == 0


def test_a_book_is_not_taken_over_another(file_book: Book, tmp_path: Path) -> None:
    book = file_book
    export(filled(book), tmp_path / "out", _quiet)
    with pytest.raises(InputError, match="already holds entries"):
        take(tmp_path / "out", Path(book.place), book.shop, _quiet)


def test_a_copy_is_the_whole_book_and_one_file(file_book: Book, tmp_path: Path) -> None:
    book = file_book
    copy(filled(book), tmp_path / "copy.sqlite", _quiet)
    other = tmp_path / "elsewhere"
    other.mkdir()
    shutil.move(tmp_path / "copy.sqlite", other / "book.sqlite")
    assert verify(open_book(other / "book.sqlite", book.shop)) == verify(book)
    with pytest.raises(InputError, match="a file already"):
        copy(book, other / "book.sqlite", _quiet)


def test_the_migrations_make_what_the_tables_say(book: Book) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    with book.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []
        assert context.get_current_revision() == FORMAT


def test_the_same_content_is_kept_once(book: Book) -> None:
    with filled(book).reading() as connection:
        contents = connection.execute(sa.select(sa.func.count()).select_from(content)).scalar()
    assert contents == 2 + 1 + 3 + 0  # two snapshots (one of them also the run's), the paths, a record for each verdict


@given(
    st.dictionaries(
        st.text(max_size=4), st.one_of(st.text(max_size=6), st.floats(allow_nan=False, allow_infinity=False), st.none())
    )
)
def test_canonical_text_does_not_hang_on_order_and_comes_back(value: dict[str, object]) -> None:
    text = canonical(value)
    assert json.loads(text) == value
    assert canonical(dict(reversed(list(value.items())))) == text


@given(st.dictionaries(st.sampled_from(PATHS), st.integers()), st.dictionaries(st.sampled_from(PATHS), st.integers()))
def test_changes_lead_from_one_state_to_the_other(before: dict[str, int], after: dict[str, int]) -> None:
    state = dict(before)
    for change in changes(before, after):  # type: ignore[arg-type]
        assert state.get(change.path) == change.old
        if change.new is None:
            del state[change.path]
        else:
            state[change.path] = change.new  # type: ignore[assignment]
    assert state == after


def test_the_page_of_the_book_is_made_from_its_tables() -> None:
    assert (Path(__file__).parents[2] / "docs" / "book.md").read_text(encoding="utf-8") == page()
