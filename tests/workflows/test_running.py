"""Examinations and runs are kept with the facts of their day, and the next examination says how the job ran."""

from __future__ import annotations

import json
import shutil
from datetime import timedelta
from pathlib import Path

import pytest

from firstoff.book.kept import RunSaid
from firstoff.book.reading import kept_examination, last_examinations
from firstoff.errors import InputError
from firstoff.facts.shop import load_shop
from firstoff.sheets.run_words import run_sentences
from firstoff.verdict.examination import Examination
from firstoff.workflows import Prepared, examination_json, judge, prepare
from firstoff.workflows.book import shop_book
from firstoff.workflows.facts import set_fact
from firstoff.workflows.running import Kept, keep_examination, note_run, try_to_keep

from .conftest import SOON

JOB = "cable-clip"


def _quiet(_stage: str, _part: float) -> None:
    """Nobody is looking."""


@pytest.fixture(scope="module")
def examined(laid_out: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Prepared, Examination]:
    """A shop with one job, examined but not kept."""
    folder = tmp_path_factory.mktemp("running") / "shop"
    shutil.copytree(
        laid_out, folder, ignore=lambda where, names: [n for n in names if Path(where).name == "jobs" and n != JOB]
    )
    prepared = prepare(JOB, shop=folder, now=SOON)
    return folder, prepared, judge(prepared)


@pytest.fixture
def shop(examined: tuple[Path, Prepared, Examination], tmp_path: Path) -> Path:
    """A shop of its own that holds this examination in a new book."""
    shutil.copytree(examined[0], tmp_path / "shop")
    return tmp_path / "shop"


def keep(shop: Path, examined: tuple[Path, Prepared, Examination]) -> Kept:
    here = prepare(JOB, shop=shop, now=SOON)
    for path in examined[1].job.facts.asked:  # type: ignore[attr-defined]
        here.job.facts.asked[path] = None  # type: ignore[attr-defined]
    kept = keep_examination(here, examined[2], JOB)
    assert kept is not None
    return kept


def test_an_examination_is_kept_as_it_is_published_with_what_it_leaned_on(
    shop: Path, examined: tuple[Path, Prepared, Examination]
) -> None:
    number = keep(shop, examined).number
    here = shop_book(shop)
    with here.book.reading() as connection:
        kept = kept_examination(connection, here.book, number)
        assert last_examinations(connection, here.book) == (kept,)
    published = json.loads(examination_json(examined[2]))
    assert kept.record == published
    assert kept.program_sha256 == published["program"]["sha256"]
    assert (kept.job, kept.argument, kept.at) == (JOB, f"jobs/{JOB}", SOON)
    for question in published["questions"]:
        assert set(question["leaned"]) <= {*kept.leaned, *(p for p in question["leaned"] if p.startswith("following."))}
    assert kept.leaned["machine.spindle.speed.high"]["unit"] == "1/s"


def said(shop: Path, note: str, days: int = 0) -> tuple[RunSaid, ...]:
    return note_run(JOB, note, shop=shop, now=SOON + timedelta(days=days), tell=_quiet).runs


def test_runs_that_went_well_count_while_tools_stick_outs_and_stock_are_the_same(
    shop: Path, examined: tuple[Path, Prepared, Examination]
) -> None:
    keep(shop, examined)
    said(shop, "good")
    two = said(shop, "good", 1)
    assert run_sentences(two) == (
        "It has run well twice with this program, these tools, stick-outs and stock, last on 15 Sep 2026.",
    )
    here = shop_book(shop)
    set_fact(here, "tools.em3.OHX", "20.2(3) mm", why="measured again")
    assert [one.alike for one in keep(shop, examined).runs] == [True, True]  # the same, as far as it was measured
    set_fact(here, "tools.em3.OHX", "24.0(3) mm", why="pulled out")
    runs = keep(shop, examined).runs
    assert [one.alike for one in runs] == [False, False]
    assert run_sentences(runs) == ("It has run well twice with another program, tool, stick-out or stock.",)


def test_another_program_is_another_program(shop: Path, examined: tuple[Path, Prepared, Examination]) -> None:
    said(shop, "good")
    program = shop / "jobs" / JOB / "program.nc"
    program.write_text(program.read_text() + "(one more line)\n")
    assert [one.alike for one in said(shop, "good", 1)] == [False, True]


def test_what_did_not_go_well_is_told_in_its_own_words_and_its_minutes_count(
    shop: Path, examined: tuple[Path, Prepared, Examination]
) -> None:
    keep(shop, examined)
    done = note_run(JOB, "broke T3 at line 12", shop=shop, now=SOON, tell=_quiet)
    assert (done.note.outcome, done.tool, done.note.line) == ("broke", examined[1].job.tools[3], 12)
    tools = json.loads(examination_json(examined[2]))["cut"]["tools"]
    assert done.minutes == {one["name"]: pytest.approx(one["cutting_s"] / 60) for one in tools}
    assert run_sentences(done.runs) == ("14 Sep 2026: broke T3 at line 12.",)


def test_a_run_tells_the_crib_what_its_edges_cut_and_which_one_broke(
    shop: Path, examined: tuple[Path, Prepared, Examination]
) -> None:
    keep(shop, examined)
    before = load_shop(shop).facts.facts["tools.em6.used_up"].value
    done = note_run(JOB, "good", shop=shop, now=SOON, tell=_quiet)
    facts = load_shop(shop).facts
    assert facts.facts["tools.em6.used_up"].value == pytest.approx(before + 60 * done.minutes["em6"], abs=0.1)
    then = note_run(JOB, "broke T3 at line 131", shop=shop, now=SOON, tell=_quiet)
    facts = load_shop(shop).facts
    assert facts.settings["tools.em3.condition"].value == "suspect"
    assert "broke T3 at line 131" in str(facts.settings["tools.em3.broke_why"].value)
    assert any("em3 is marked suspect" in remark for remark in then.remarks)
    assert any("em6" in remark and "Minutes cut" in remark for remark in done.remarks)
    assert facts.facts["tools.em6.used_up"].value == pytest.approx(before + 60 * done.minutes["em6"], abs=0.1)
    odd = note_run(JOB, "rang with T9 at line 99999", shop=shop, now=SOON, tell=_quiet).remarks
    assert any("no T9" in one for one in odd)
    assert any("none of them 99999" in one for one in odd)
    with pytest.raises(InputError, match="empty"):
        note_run(JOB, "  ", shop=shop, now=SOON, tell=_quiet)


def test_what_broke_is_told_however_much_was_noted_since(
    shop: Path, examined: tuple[Path, Prepared, Examination]
) -> None:
    for note in ("broke T3 at line 131", "rang", "words one", "words two", "words three", "words four"):
        runs = said(shop, note)
    told = run_sentences(runs)
    assert any("broke T3 at line 131" in one for one in told)
    assert any("words four" in one for one in told)
    assert not any("words three" in one for one in told)


def test_earlier_runs_are_in_the_next_record_and_not_in_the_kept_one(
    shop: Path, examined: tuple[Path, Prepared, Examination]
) -> None:
    said(shop, "rang")
    kept = keep(shop, examined)
    record = json.loads(examination_json(examined[2], kept.runs))
    assert record["runs"] == {
        "well_alike": 0,
        "well_otherwise": 0,
        "noted": [{"at": SOON.isoformat(), "outcome": "rang", "note": "rang", "alike": True}],
    }
    here = shop_book(shop)
    with here.book.reading() as connection:
        assert kept_examination(connection, here.book, kept.number).record["runs"] is None


def test_a_book_that_cannot_be_used_does_not_cost_the_answer(
    shop: Path, examined: tuple[Path, Prepared, Examination]
) -> None:
    (shop / "book.sqlite").write_text("no book")
    told = try_to_keep(prepare(JOB, shop=shop, now=SOON), examined[2], JOB, None, None)
    assert isinstance(told, InputError)
    assert "no book" in str(told)
    assert (shop / "book.sqlite").read_text() == "no book"
