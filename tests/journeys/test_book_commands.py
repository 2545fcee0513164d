"""The commands of the book, as a person types them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from .conftest import Run


@pytest.fixture
def shop(firstoff: Run, tmp_path: Path) -> Path:
    firstoff("new", "mine")
    return tmp_path / "mine"


def test_a_fact_is_set_shown_and_listed(firstoff: Run, shop: Path) -> None:
    done = firstoff(
        "set", "machine.frame.first_mode", "92(3) Hz", "--evidence", "measured", "--why", "tapped", "--shop", "mine"
    )
    assert done.returncode == 0
    assert "machine.frame.first_mode: not stated, now 92.0(30) Hz" in done.stdout
    assert "measured" in (shop / "machine.toml").read_text()
    shown = firstoff("fact", "machine.frame", "--shop", "mine")
    assert "92.0(30) Hz, measured" in shown.stdout
    assert "tapped" in shown.stdout
    record = json.loads(firstoff("fact", "machine.frame.first_mode", "--shop", "mine", "--json").stdout)
    assert [past["why"] for past in record["facts"][0]["past"]] == ["tapped"]
    listed = json.loads(firstoff("facts", "--by", "doubt", "--shop", "mine", "--json").stdout)
    assert "machine.frame.first_mode" in [one["path"] for one in listed["facts"]]
    assert "first_mode" in firstoff("facts", "--by", "age", "--shop", "mine").stdout


def test_a_refused_value_is_one_clear_fault(firstoff: Run, shop: Path) -> None:
    before = (shop / "machine.toml").read_bytes()
    done = firstoff("set", "machine.frame.first_mode", "92 mm", "--shop", "mine")
    assert done.returncode == 2
    assert "first_mode" in done.stderr
    assert "92 mm" in done.stderr
    assert (shop / "machine.toml").read_bytes() == before


def test_an_edit_by_hand_is_told_at_the_next_command(firstoff: Run, shop: Path) -> None:
    firstoff("examine", "mine/jobs/first")
    machine = shop / "machine.toml"
    machine.write_text(machine.read_text().replace("[changer]", '[changer]\nchange_time = "9(1) s"'))
    done = firstoff("examine", "mine/jobs/first")
    assert "machine.changer.change_time: not stated, now 9.0(10) s" in done.stderr
    assert "change_time" not in firstoff("examine", "mine/jobs/first").stderr


def test_an_examination_is_kept_listed_and_says_how_it_ran(firstoff: Run, shop: Path) -> None:
    assert firstoff("examine", "mine/jobs/first", "--no-book").returncode == 4
    assert not (shop / "book.sqlite").exists()
    firstoff("examine", "mine/jobs/first")
    assert firstoff("ran", "first", "good", "--shop", "mine").returncode == 0
    assert "It has run well once" in firstoff("examine", "mine/jobs/first").stdout
    record = json.loads(firstoff("examine", "mine/jobs/first", "--json").stdout)
    assert record["runs"]["well_alike"] == 1
    listed = json.loads(firstoff("book", "list", "--shop", "mine", "--json").stdout)["examinations"]
    assert [(one["job"], one["verdict"]) for one in listed] == [("first", "unjudged")] * 3
    assert "first" in firstoff("book", "list", "--shop", "mine").stdout
    assert json.loads(firstoff("book", "runs", "--shop", "mine", "--json").stdout)["runs"][0]["note"] == "good"
    assert "good" in firstoff("book", "runs", "--shop", "mine").stdout
    noted = json.loads(firstoff("ran", "first", "broke T1 at line 3", "--shop", "mine", "--json").stdout)
    assert (noted["outcome"], noted["line"]) == ("broke", 3)


def test_the_book_is_verified_copied_exported_and_taken_again(firstoff: Run, shop: Path, tmp_path: Path) -> None:
    firstoff("examine", "mine/jobs/first")
    assert firstoff("book", "verify", "--shop", "mine").returncode == 0
    assert firstoff("book", "copy", "copy.sqlite", "--shop", "mine").returncode == 0
    assert firstoff("book", "copy", "copy.sqlite", "--shop", "mine").returncode == 2
    assert "entries.jsonl" in firstoff("book", "export", "out", "--shop", "mine").stdout
    assert firstoff("book", "export", "out", "--shop", "mine").returncode == 2
    assert firstoff("book", "take", "out", "--shop", "mine").returncode == 2  # it has a book
    last = json.loads(firstoff("book", "verify", "--shop", "mine", "--json").stdout)["last"]
    (shop / "book.sqlite").rename(tmp_path / "old.sqlite")
    gone = firstoff("book", "verify", "--shop", "mine")
    assert gone.returncode == 2
    assert "no book here" in gone.stderr
    assert firstoff("book", "take", "out", "--shop", "mine").returncode == 0
    assert json.loads(firstoff("book", "verify", "--shop", "mine", "--json").stdout)["last"] == last


def test_a_damaged_book_costs_no_answer_and_is_told(firstoff: Run, shop: Path) -> None:
    firstoff("examine", "mine/jobs/first")
    book = shop / "book.sqlite"
    data = bytearray(book.read_bytes())
    data[4096:] = b"\x55" * (len(data) - 4096)
    book.write_bytes(data)
    done = firstoff("examine", "mine/jobs/first")
    assert done.returncode == 4
    assert "Not kept in the book." in done.stderr
    assert "copy" in done.stderr
    assert firstoff("book", "verify", "--shop", "mine").returncode == 2


@pytest.mark.parametrize("words", [("fact", "machine"), ("facts",), ("book", "list"), ("set", "machine.name", "x")])
def test_without_a_shop_there_is_no_book(firstoff: Run, words: tuple[str, ...]) -> None:
    done = firstoff(*words)
    assert done.returncode == 2
    assert "no shop" in done.stderr


def test_a_value_may_begin_with_a_minus(firstoff: Run, shop: Path) -> None:
    done = firstoff("set", "machine.axis.z.travel", "-120 mm .. 0 mm", "--evidence", "assumed", "--shop", "mine")
    assert done.returncode == 0
    assert "−120" in done.stdout
    assert (
        firstoff("set", "machine.axis.z.travel", "-1 mm .. 0 mm", "--evidense", "x", "--shop", "mine").returncode == 2
    )
