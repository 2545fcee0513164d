"""Text is now, the book is then: what is set, what was edited by hand, and that neither loses the other."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from firstoff.book.reading import entries
from firstoff.errors import InputError
from firstoff.facts.starter import new_shop
from firstoff.workflows.book import Noticed, ShopBook, notice, shop_book
from firstoff.workflows.facts import Told, fact_json, list_facts, set_fact, set_from_readings, show_fact

FEED = "machine.axis.x.max_feed"


@pytest.fixture
def shop(tmp_path: Path) -> ShopBook:
    new_shop(tmp_path / "shop")
    machine = tmp_path / "shop" / "machine.toml"
    machine.write_text('[axis.x]\nmax_feed = "9 m/min"   # by the stopwatch\n[frame]\n', encoding="utf-8")
    return shop_book(tmp_path / "shop")


def paths(noticed: Noticed) -> list[tuple[str, str]]:
    return [(job, change.path) for job, change in noticed.changed]


def hows(shop: ShopBook) -> list[str]:
    with shop.book.reading() as connection:
        return [one.body["how"] for one in entries(connection) if one.kind == "facts"]


def edit(shop: ShopBook, file: str, old: str, new: str) -> None:
    path = shop.folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_a_new_book_begins_with_all_facts_and_then_sees_no_change(shop: ShopBook) -> None:
    first = notice(shop)
    assert first.how == "first"
    assert ("", FEED) in paths(first)
    assert ("first", "job.program") in paths(first)
    assert notice(shop).changed == ()
    assert hows(shop) == ["first"]


def test_an_edit_by_hand_is_noticed_once_and_told_as_a_change_of_facts(shop: ShopBook) -> None:
    notice(shop)
    edit(shop, "machine.toml", '"9 m/min"', '"8 m/min"')
    found = notice(shop)
    assert found.how == "by hand"
    ((job, change),) = found.changed
    assert (job, change.path, change.old["value"], change.new["value"]) == ("", FEED, 150.0, pytest.approx(8000 / 60))  # type: ignore[index]
    assert notice(shop).changed == ()


def test_a_comment_changes_no_fact_and_is_not_looked_at_again(shop: ShopBook) -> None:
    notice(shop)
    edit(shop, "machine.toml", "by the stopwatch", "by the clock")
    assert notice(shop).changed == ()
    assert hows(shop) == ["first", "by hand"]
    assert notice(shop).changed == ()
    assert len(hows(shop)) == 2


def test_a_job_that_cannot_be_read_waits_until_it_can(shop: ShopBook) -> None:
    notice(shop)
    edit(shop, "jobs/first/job.toml", 'program = "', 'prgram = "')
    assert notice(shop).changed == ()
    edit(shop, "jobs/first/job.toml", 'prgram = "', 'program = "new-')
    assert paths(notice(shop)) == [("first", "job.program")]


def test_a_job_that_is_gone_is_noticed(shop: ShopBook) -> None:
    notice(shop)
    (shop.folder / "jobs" / "first" / "job.toml").unlink()
    found = notice(shop)
    assert found.changed
    assert all(job == "first" and change.new is None for job, change in found.changed)
    assert notice(shop).changed == ()


def test_setting_a_fact_edits_its_text_alone_and_records_old_new_who_and_why(shop: ShopBook) -> None:
    done = set_fact(shop, FEED, "7.5 m/min", why="it stalled")
    assert (
        shop.folder / "machine.toml"
    ).read_text() == '[axis.x]\nmax_feed = "7.5 m/min"   # by the stopwatch\n[frame]\n'
    assert [(job, change.path) for job, change in done.changed] == [("", FEED)]
    (shown,) = show_fact(shop, FEED)
    assert [(past.how, past.why) for past in shown.past] == [("first", ""), ("set", "it stalled")]
    assert shown.past[1].old == shown.past[0].new
    assert shown.now is not None
    assert shown.now.value == pytest.approx(125.0)
    assert notice(shop).changed == ()


def test_an_edit_by_hand_before_a_set_is_recorded_apart_from_it(shop: ShopBook) -> None:
    notice(shop)
    edit(shop, "machine.toml", "[frame]", '[frame]\nfirst_mode = "90 Hz"')
    done = set_fact(shop, FEED, "7 m/min")
    assert paths(done.noticed) == [("", "machine.frame.first_mode")]
    assert hows(shop) == ["first", "by hand", "set"]


def test_setting_what_it_says_already_records_nothing(shop: ShopBook) -> None:
    notice(shop)
    assert set_fact(shop, FEED, "9 m/min").changed == ()
    assert hows(shop) == ["first"]


@pytest.mark.parametrize(
    ("path", "value", "told"),
    [
        (FEED, "9 mm", Told()),
        (FEED, "fast", Told()),
        (FEED, "9 m/min", Told(evidence="measured")),
        (FEED, "9 m/min", Told(evidence="rumour")),
        (FEED, "9 m/min", Told(on="yesterday")),
        ("machine.axis.x.max_fed", "9 m/min", Told()),
        ("machine.nothing", "1", Told()),
        ("nothing", "1", Told()),
    ],
)
def test_what_cannot_be_a_fact_changes_neither_file_nor_book(shop: ShopBook, path: str, value: str, told: Told) -> None:
    notice(shop)
    before = (shop.folder / "machine.toml").read_bytes()
    with pytest.raises(InputError):
        set_fact(shop, path, value, told)
    assert (shop.folder / "machine.toml").read_bytes() == before
    assert hows(shop) == ["first"]


def test_one_end_of_what_shares_its_evidence_is_not_set_alone(shop: ShopBook) -> None:
    value = '{ value = ["8 N/µm", "7 N/µm", "9 N/µm"], u = "5 %", evidence = "measured", on = 2026-02-01 }'
    set_fact(shop, "machine.frame.stiffness", value)
    with pytest.raises(InputError, match="share their evidence"):
        set_fact(shop, "machine.frame.stiffness.x", "12 N/µm")
    set_fact(shop, "machine.home.G28", '["0 mm", "1 mm", "2 mm"]')
    ((_, change),) = set_fact(shop, "machine.home.G28.y", "3 mm").changed
    assert change.path == "machine.home.G28.y"


def test_one_value_for_all_axes_is_not_set_by_one_axis(shop: ShopBook) -> None:
    set_fact(shop, "machine.frame.stiffness", "8 N/µm")
    with pytest.raises(InputError, match="one value for all"):
        set_fact(shop, "machine.frame.stiffness.y", "9 N/µm")


def test_what_was_measured_never_becomes_assumed_in_passing(shop: ShopBook) -> None:
    set_fact(shop, FEED, "9.2(1) m/min", Told(evidence="measured"))
    with pytest.raises(InputError, match="--evidence"):
        set_fact(shop, FEED, "8 m/min")
    with pytest.raises(InputError, match="is a length, not a feed"):  # it is told first: evidence would not help
        set_fact(shop, FEED, "8 mm")
    set_fact(shop, FEED, "8 m/min", Told(evidence="assumed"))
    set_fact(shop, FEED, "7 m/min")


def test_what_cannot_be_recorded_is_not_written_either(shop: ShopBook) -> None:
    notice(shop)
    before = (shop.folder / "machine.toml").read_bytes()
    with shop.book.engine.connect() as connection:
        connection.exec_driver_sql(
            "CREATE TRIGGER full BEFORE INSERT ON fact_change BEGIN SELECT RAISE(ABORT, 'no room'); END"
        )
        connection.commit()
    with pytest.raises(InputError, match="no room"):
        set_fact(shop, FEED, "8 m/min")
    assert (shop.folder / "machine.toml").read_bytes() == before


def test_a_small_number_with_a_large_doubt_is_wide_and_a_place_has_no_share(shop: ShopBook) -> None:
    set_fact(shop, "machine.spindle.run_out", "2(1) µm")
    set_fact(shop, "machine.axis.x.travel", "0 mm .. 300 mm")
    lines = {line.fact.path: line.width for line in list_facts(shop, "doubt", datetime.now())}
    assert lines["machine.spindle.run_out"] == pytest.approx(0.5)
    assert lines["machine.axis.x.travel.high"] is None
    assert list_facts(shop, "doubt", datetime.now())[0].fact.path == "machine.spindle.run_out"


def test_readings_become_their_mean_with_the_doubt_of_a_mean(shop: ShopBook) -> None:
    # JCGM 100:2008 (GUM) 4.2.1 to 4.2.3: mean, s/sqrt(n), n - 1; four readings whose s is exactly 2: u is 1.
    set_from_readings(shop, "machine.changer.change_time", "11 13 9 11 s", why="stopwatch")
    (shown,) = show_fact(shop, "machine.changer.change_time")
    assert shown.now is not None
    fact = json.loads(json.dumps(fact_json([shown])))["facts"][0]
    s = (8 / 3) ** 0.5
    assert fact["now"]["value"] == pytest.approx(11.0, abs=1e-3)
    assert fact["now"]["u"] == pytest.approx(s / 2, rel=1e-2)
    assert (fact["now"]["df"], fact["now"]["evidence"]) == (3, "measured")
    assert fact["trials"][0]["readings"] == [11.0, 13.0, 9.0, 11.0]
    assert fact["trials"][0]["u"] == pytest.approx(s / 2)


@pytest.mark.parametrize("readings", ["11 s", "11 11 s", "s", "", "11 s 12 s", "11 x12 s"])
def test_readings_that_tell_no_spread_are_refused(shop: ShopBook, readings: str) -> None:
    with pytest.raises(InputError):
        set_from_readings(shop, "machine.changer.change_time", readings)


def test_facts_are_listed_by_age_by_doubt_and_by_evidence(shop: ShopBook) -> None:
    now = datetime.now()
    set_fact(
        shop,
        "machine.frame.first_mode",
        "90(1) Hz",
        Told(evidence="measured", on=(now - timedelta(days=40)).date().isoformat()),
    )
    ages = [line.age_days for line in list_facts(shop, "age", now)]
    assert ages == sorted(ages, key=lambda age: -(age or 0))
    assert list_facts(shop, "age", now)[0].fact.path == "machine.frame.first_mode"
    widths = [line.width for line in list_facts(shop, "doubt", now) if line.width is not None]
    assert widths == sorted(widths, reverse=True)
    assert list_facts(shop, "evidence", now)[-1].fact.evidence == "measured"
    with pytest.raises(InputError, match="age, doubt, evidence"):
        list_facts(shop, "colour", now)


def test_a_fact_that_nobody_stated_says_how_to_state_it(shop: ShopBook) -> None:
    with pytest.raises(InputError, match=r"firstoff set machine\.frame\.first_mode"):
        show_fact(shop, "machine.frame.first_mode")
    with pytest.raises(InputError, match="first_mode"):
        show_fact(shop, "machine.frame.first_mod")


def test_what_was_taken_out_still_has_its_past(shop: ShopBook) -> None:
    notice(shop)
    edit(shop, "machine.toml", 'max_feed = "9 m/min"   # by the stopwatch\n', "")
    notice(shop)
    (shown,) = show_fact(shop, FEED)
    assert shown.now is None
    assert [past.new is None for past in shown.past] == [False, True]


def test_a_book_elsewhere_is_named_by_the_environment(
    shop: ShopBook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FIRSTOFF_BOOK", str(tmp_path / "other.sqlite"))
    other = shop_book(shop.folder)
    assert notice(other).how == "first"
    assert re.search(r"other\.sqlite$", other.book.place)
    assert hows(shop) == []
