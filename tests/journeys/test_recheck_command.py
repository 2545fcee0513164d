"""`firstoff recheck` as a person types it: examined once, changed by hand, asked what if."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import pytest

from firstoff.demo import lay_out

from .conftest import Run


@pytest.fixture
def shop(tmp_path: Path, firstoff: Run, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop with one job in its book; it is examined in a tenth of a second."""
    folder = tmp_path / "shop"
    lay_out(folder, datetime(2026, 9, 14, 7, 40, 12))
    monkeypatch.chdir(folder)
    assert firstoff("examine", "vent-plug").returncode == 4
    return folder


def test_an_empty_book(tmp_path: Path, firstoff: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    lay_out(tmp_path / "shop", datetime(2026, 9, 14))
    monkeypatch.chdir(tmp_path / "shop")
    done = firstoff("recheck")
    assert (done.returncode, "firstoff examine" in done.stdout) == (0, True)


def test_what_stands_and_what_does_not(shop: Path, firstoff: Run) -> None:
    done = firstoff("recheck")
    assert done.returncode == 0
    assert "The one job stands." in done.stdout
    machine = shop / "machine.toml"
    machine.write_text(machine.read_text().replace(".. 27000(120) 1/min", ".. 20000(120) 1/min"))
    done = firstoff("recheck")
    assert done.returncode == 5
    assert "The one job no longer stands." in done.stdout
    assert "spindle: clear, then stop" in done.stdout
    assert "highest spindle speed: 27000(120) 1/min, then 20000(120) 1/min" in done.stdout
    assert "machine.spindle.speed.high" in done.stderr  # noticed and recorded, as by every command
    record = json.loads(firstoff("recheck", "--json").stdout)
    assert record["answer"] == "stop"
    assert {change["path"] for change in record["jobs"][0]["changes"]} == {"machine.spindle.speed.high"}
    assert firstoff("examine", "vent-plug").returncode == 5  # examined anew, it is what the next recheck begins from
    assert firstoff("recheck").returncode == 0


def test_what_if(shop: Path, firstoff: Run) -> None:
    Path("slow.toml").write_text(
        'name = "a slow spindle"\n[machine.spindle]\nspeed = "3000(30) 1/min .. 20000(120) 1/min"\n'
    )
    before = (shop / "machine.toml").read_bytes()
    done = firstoff("recheck", "vent-plug", "--what-if", "slow.toml", "--as-written")
    assert done.returncode == 5
    assert "The one job no longer stands with “a slow spindle”." in done.stdout
    assert "What it would buy" in done.stdout
    record = json.loads(firstoff("recheck", "--set", "machine.changer.change_time=7(1) s", "--json").stdout)
    job = record["jobs"][0]
    assert job["stands"]
    assert job["moved"]["time_now_s"] == pytest.approx(job["moved"]["time_was_s"] - 2 * 5.0)
    assert (shop / "machine.toml").read_bytes() == before


def test_what_cannot_be_used(shop: Path, firstoff: Run) -> None:
    Path("wrong.toml").write_text("[machine.spindle]\nspede = 3\n")
    Path("tool.toml").write_text('[tools.emm3]\nLF = "60(1) mm"\n')
    Path("zone.toml").write_text('[[machine.zone]]\nname = "rak"\n')
    for words, told in (
        (("no-such-job",), "the book has no examination of this job"),
        (("--what-if", "wrong.toml"), "wrong.toml:2"),
        (("--what-if", "none.toml"), "none.toml"),
        (("--what-if", "tool.toml"), "the what-if adds a tool emm3 that the shop does not have"),
        (("--what-if", "zone.toml"), "the what-if adds a zone rak that the shop does not have"),
        (("--set", "machine.spindle.speed"), "--set cannot be read"),
        (("--set", "machine.spindle.speed=3 mm"), "--set machine.spindle.speed"),
    ):
        done = firstoff("recheck", *words)
        assert done.returncode == 2, words
        assert told in " ".join(done.stderr.split()), words
        assert done.stdout == ""


def test_nothing_printed_runs_past_eighty_columns(shop: Path, firstoff: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    (shop / "tool.toml").write_text('[tools.emm3]\nLF = "60(1) mm"\n')
    speed = "machine.spindle.speed=3000(30) 1/min .. 20000(120) 1/min"
    told = [
        firstoff("recheck", *words) for words in ((), ("--set", speed), ("--what-if", "tool.toml"), ("no-such-job",))
    ]
    machine = shop / "machine.toml"
    machine.write_text(machine.read_text().replace(".. 27000(120) 1/min", ".. 20000(120) 1/min"))
    told.append(firstoff("recheck"))
    lines = [line for done in told for line in (done.stdout + done.stderr).splitlines()]
    assert len(lines) > 40
    assert [line for line in lines if len(line) > 80] == []
