"""Bad input: one clear answer that names the place, exit 2 or 4, never a traceback, never clear."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from proof.bad_input.programs import PLATE

from .conftest import Run

PROGRAMS: dict[str, tuple[bytes, int, str]] = {
    # name: bytes, exit code of `read`, words that must be in the answer
    "cut short in a word": (PLATE.encode()[:150] + b"G1 X", 4, "line"),
    "binary": (bytes(range(256)) * 40, 2, "text"),
    "empty": (b"", 2, "empty"),
    "only blank lines": (b"\n\n  \n", 2, ""),
    "UTF-16": (PLATE.encode("utf-16"), 2, "UTF-16"),
    "carriage returns alone": (PLATE.replace("\n", "\r").encode(), 2, "CR"),
    "missing subprogram": (b"O1\nG21 G90\nM98 P7777\nM30\n", 4, "7777"),
    "endless loop": (b"O1\nG21 G90\nN10 G0 X1\nGOTO 10\nM30\n", 4, "line"),
    "endless recursion": (b"O1\nG21\nM98 P2\nM30\nO2\nM98 P2\nM99\n", 4, "line"),
    "1e300": (b"G21 G90\nG0 X1e300\nM30\n", 4, "line"),
    "400 digits": (b"G21 G90\nG0 X" + b"9" * 400 + b"\nM30\n", 4, ""),
    "a number that is none": (b"G21 G90\nG0 Xnan\nM30\n", 4, "line"),
    "letter O for zero": (b"G21 G9O\nG0 X1O\nM30\n", 4, "line"),
    "minus from a word processor": ("G21 G90\nG0 Z−5\nM30\n".encode(), 4, "line"),
    "conflict markers": (b"G21 G90\n<<<<<<< HEAD\nG0 X1\n=======\nG0 X2\n>>>>>>> b\nM30\n", 4, "line"),
    "arc that cannot be": (b"G21 G90 G17\nG0 X0 Y0\nG2 X10 Y0 I1 J0 F100\nM30\n", 4, "line"),
    "unknown code": (b"G21 G90\nG0 X1\nM777\nM30\n", 4, "M777"),
}


@pytest.mark.parametrize("name", PROGRAMS)
def test_a_bad_program_is_answered_at_its_place(name: str, firstoff: Run, tmp_path: Path) -> None:
    data, code, words = PROGRAMS[name]
    (tmp_path / "bad.nc").write_bytes(data)
    read = firstoff("read", "bad.nc")
    assert read.returncode == code, read.stdout + read.stderr
    told = read.stdout + read.stderr
    assert words.lower() in told.lower()
    assert "bad.nc" in told
    examined = firstoff("examine", "bad.nc", "--json")
    assert examined.returncode in (2, 4, 5)
    if examined.returncode != 2:
        answers = {one["id"]: one["answer"] for one in json.loads(examined.stdout)["questions"]}
        assert answers["understood"] != "clear"


def test_a_bad_program_ends_a_process_with_its_code(started: Run, tmp_path: Path) -> None:
    (tmp_path / "bad.nc").write_bytes(PROGRAMS["binary"][0])
    done = started("read", "bad.nc")
    assert (done.returncode, done.stdout) == (2, "")
    assert "bad.nc" in done.stderr


def test_what_is_refused_is_json_for_whoever_asks_for_json(firstoff: Run, tmp_path: Path) -> None:
    (tmp_path / "machine.toml").write_text('[axis.x]\nmax_feed = "3 kg"\n')
    (tmp_path / "plate.nc").write_text(PLATE)
    done = firstoff("examine", "plate.nc", "--json")
    (fault,) = json.loads(done.stdout)["faults"]
    assert (done.returncode, fault["file"], fault["line"], fault["value"]) == (2, "machine.toml", 2, "3 kg")
    assert "3 kg" in done.stderr


SHOPS = {
    "unknown key": ('[axis.x]\ntravl = "0 mm .. 300 mm"\n', ["machine.toml:2", "travel"]),
    "wrong dimension": ('[axis.x]\ntravel = "0 s .. 300 s"\n', ["machine.toml:2", "mm"]),
    "no unit": ('[axis.x]\nmax_feed = "10"\n', ["machine.toml:2"]),
    "absurd": ('[axis.x]\nmax_feed = "-3 m/min"\n', ["machine.toml:2"]),
    "not TOML": ("[axis.x\ntravel = 3\n", ["machine.toml:1"]),
    "two at once": ('[axis.x]\ntravl = 1\nmax_feed = "3 kg"\n', ["machine.toml:2", "machine.toml:3"]),
}


@pytest.mark.parametrize("name", SHOPS)
def test_a_bad_shop_is_answered_with_file_line_and_what_is_allowed(name: str, firstoff: Run, tmp_path: Path) -> None:
    text, words = SHOPS[name]
    (tmp_path / "machine.toml").write_text(text)
    (tmp_path / "plate.nc").write_text(PLATE)
    done = firstoff("examine", "plate.nc")
    assert done.returncode == 2
    assert done.stdout == ""
    for word in words:
        assert word in done.stderr


@pytest.mark.parametrize(
    "words",
    [["examine", "nowhere"], ["read", "nowhere.nc"], ["examine", "x.nc", "--base", "klingon"], ["sing"], ["read"]],
)
def test_a_bad_command_line_is_exit_2(words: list[str], firstoff: Run, tmp_path: Path) -> None:
    (tmp_path / "x.nc").write_text(PLATE)
    done = firstoff(*words)
    assert done.returncode == 2
    assert done.stderr


@pytest.mark.parametrize(
    ("program", "what"),
    [
        ("G21 G90\n" + "G0 X1\nX2\n" * 60 + "M30\n", "122 lines"),
        ("O1\nG21 G90\nM98 P2 L200\nM30\nO2\nG0 X1\nM99\n", "moves"),
    ],
)
def test_a_program_too_long_to_be_examined_is_refused_and_can_still_be_read(
    program: str, what: str, firstoff: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("firstoff.workflows.LONGEST", 100)
    (tmp_path / "long.nc").write_text(program)
    done = firstoff("examine", "long.nc", "--no-shop")
    assert done.returncode == 2
    said = " ".join(done.stderr.split())
    assert "too long to be examined" in said
    assert what in said
    assert firstoff("read", "long.nc").returncode in (0, 4)


def test_a_file_of_zeros_is_no_text(firstoff: Run, tmp_path: Path) -> None:
    (tmp_path / "zeros.nc").write_bytes(bytes(4096))
    done = firstoff("read", "zeros.nc")
    assert done.returncode == 2
    assert "4096 bytes, all of them zero" in " ".join(done.stderr.split())
    assert "UTF-16" not in done.stderr


def test_a_sheet_that_cannot_be_written_leaves_the_old_one(firstoff: Run, tmp_path: Path) -> None:
    (tmp_path / "plate.nc").write_text(PLATE)
    done = firstoff("sheet", "plate.nc", "--html", "no/such/folder/a.html")
    assert done.returncode == 2
    assert "no/such/folder" in done.stderr


def test_an_interrupt_is_obeyed_and_leaves_nothing_half_written(tmp_path: Path) -> None:
    lines = ["G21 G90 G17", "G0 Z5"] + [f"#1=[{n}*0.001] G1 X#1 Y{n % 7} F500" for n in range(400_000)] + ["M30"]
    (tmp_path / "long.nc").write_text("\n".join(lines))
    command = [sys.executable, "-m", "firstoff.cli", "sheet", "long.nc", "--html", "long.html", "--no-shop"]
    command.remove("--no-shop")
    with subprocess.Popen(command, cwd=tmp_path, stderr=subprocess.PIPE, text=True, env={**os.environ}) as running:
        try:
            time.sleep(4.0)
            assert running.poll() is None, "the program is too short for this test"
            running.send_signal(signal.SIGINT)
            _, told = running.communicate(timeout=10)
        finally:
            running.kill()  # nothing where it has ended; else no later test is told of it
    assert running.returncode == 130
    assert "Traceback" not in told
    assert sorted(path.name for path in tmp_path.iterdir()) == ["long.nc"]
