"""A newcomer's first hours: the README's five lines, a starter shop, the demo, one program, help."""

from __future__ import annotations

import importlib
import json
import re
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import jsonschema
import pytest

from firstoff.demo import lay_out
from proof.bad_input.programs import PLATE

from .conftest import Run

ROOT = Path(__file__).parents[2]
SCHEMAS = {name: json.loads((ROOT / "docs/schema" / f"{name}-1.json").read_text()) for name in ("examination", "read")}


def fenced(readme: str, name: str) -> str:
    """The block of the README that stands under a line `name`:"""
    found = re.search(rf"`{re.escape(name)}`[^\n]*\n\n```[a-z]*\n(.*?)```", readme, re.DOTALL)
    if found is None:
        raise AssertionError(f"the README shows no {name}")
    return found[1]


def test_the_five_lines_of_the_readme_give_a_first_answer(started: Run, tmp_path: Path) -> None:
    readme = (ROOT / "README.md").read_text()
    for name in ("machine.toml", "tools.toml"):
        (tmp_path / name).write_text(fenced(readme, name))
    (tmp_path / "plate.nc").write_text(PLATE)
    command = fenced(readme, "plate.nc").replace("\\\n", " ")
    words = [word.strip('"') for word in re.findall(r'"[^"]*"|\S+', command)][1:]
    lines = sum(len(fenced(readme, name).strip().splitlines()) for name in ("machine.toml", "tools.toml"))
    assert lines + command.count(" --offset") + command.count(" --stock") <= 5
    done = started(*words, "--json")
    record = json.loads(done.stdout)
    jsonschema.validate(record, SCHEMAS["examination"])
    answers = {one["id"]: one["answer"] for one in record["questions"]}
    assert {name for name, answer in answers.items() if answer == "clear"} >= {
        "travel",
        "below",
        "rapid_contact",
        "leftovers",
    }
    assert done.returncode == 4
    assert record["next"], "it must say what to measure next"


def test_a_starter_shop_can_be_examined_at_once(firstoff: Run) -> None:
    assert firstoff("new", "mine").returncode == 0
    done = firstoff("examine", "mine/jobs/first")
    assert done.returncode == 4
    assert "I can't say" in done.stdout
    assert firstoff("new", "mine").returncode == 2


def test_the_demo_lays_out_a_shop_and_examines_its_jobs(
    firstoff: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The command with three of the jobs; `tests/demo` examines all of them, and holds their records against the schema."""
    laying_out = importlib.import_module("firstoff.demo.lay_out")
    monkeypatch.setattr(laying_out, "GOOD", [plan for plan in laying_out.GOOD if plan.name == "cable-clip"])
    mistakes = [one for one in laying_out.MISTAKES if one.name in ("clip-feed-slip", "clip-slow")]
    monkeypatch.setattr(laying_out, "MISTAKES", mistakes)
    done = firstoff("demo", "shop", "--json")
    assert done.returncode == 0
    jobs = json.loads(done.stdout)["jobs"]
    assert [job["name"] for job in jobs] == ["cable-clip", "clip-feed-slip", "clip-slow"]
    for job in jobs:
        jsonschema.validate(job["examination"], SCHEMAS["examination"])
    asked = {job["name"]: {q["answer"] for q in job["examination"]["questions"]} for job in jobs}
    assert {"clear"} in asked.values()
    assert any("stop" in answers for answers in asked.values())
    sheet = firstoff("sheet", "cable-clip", "--shop", "shop", "--html", "clip.html")
    assert sheet.returncode == 0
    assert "<html" in (tmp_path / "clip.html").read_text()
    twice = firstoff("examine", "--shop", "shop", "cable-clip", "clip-feed-slip")
    assert twice.returncode == 5


def test_read_needs_no_machine_and_its_record_keeps_to_its_schema(firstoff: Run, tmp_path: Path) -> None:
    (tmp_path / "plate.nc").write_text(PLATE)
    done = firstoff("read", "plate.nc", "--json", "--no-shop")
    record = json.loads(done.stdout)
    jsonschema.validate(record, SCHEMAS["read"])
    assert record["moves"] == {"rapid": 4, "feed": 5, "arc": 0, "dwell": 1, "cycle_holes": 0}
    assert record["tools"][0]["number"] == 1
    assert firstoff("read", "plate.nc").stdout


def test_json_is_stdout_alone_and_the_same_each_time(firstoff: Run, started: Run, tmp_path: Path) -> None:
    """Once in a process of its own, once in this one: words are hashed in another order there."""
    lay_out(tmp_path / "shop", datetime.now())
    one, two = (run("examine", "--shop", "shop", "clip-feed-slip", "--json") for run in (started, firstoff))
    assert json.loads(one.stdout) == json.loads(two.stdout)
    assert one.stderr == two.stderr == ""


def test_a_restart_goes_on_with_the_chosen_tool_and_can_be_examined(firstoff: Run, tmp_path: Path) -> None:
    lay_out(tmp_path / "shop", datetime.now())
    done = firstoff("restart", "logger-lid", "--shop", "shop", "--tool", "5", "--out", "from-5.nc")
    assert done.returncode == 0
    record = json.loads(firstoff("read", "from-5.nc", "--shop", "shop", "--json").stdout)
    assert record["tools"][0]["number"] == 5
    assert record["understood"]
    refused = firstoff("restart", "logger-lid", "--shop", "shop", "--tool", "77", "--out", "never.nc")
    assert refused.returncode == 2
    assert not (tmp_path / "never.nc").exists()


def test_help_loads_neither_numba_nor_scipy() -> None:
    code = (
        "import sys\nsys.argv = ['firstoff', '--help']\nfrom firstoff.cli import app\n"
        "app(standalone_mode=False)\n"
        "bad = {'numba', 'scipy', 'numpy', 'pint'} & set(sys.modules)\nsys.exit(f'loaded: {bad}' if bad else 0)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("command", ["examine", "read", "sheet", "restart", "new", "demo"])
def test_every_command_explains_itself_and_takes_json(firstoff: Run, command: str) -> None:
    done = firstoff(command, "--help")
    assert done.returncode == 0
    assert "--json" in done.stdout
