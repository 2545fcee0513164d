"""A recheck examines again what may have moved and nothing else; one process, two and a cluster find the same."""

from __future__ import annotations

import json
import os
import pickle
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from firstoff import workflows
from firstoff.book.kept import KeptExamination
from firstoff.book.rechecked import Recheck
from firstoff.errors import InputError
from firstoff.facts.change import all_stated, changes
from firstoff.facts.job import load_job
from firstoff.facts.overlay import Overlay, load_overlay
from firstoff.facts.shop import load_shop
from firstoff.facts.toml_file import TomlFile
from firstoff.verdict.words import ShopUnits
from firstoff.workflows import fleet, prepare
from firstoff.workflows import recheck as rechecking
from firstoff.workflows.fleet import Done, Task, run, run_all, shipped_files
from firstoff.workflows.keeping import kept_fields
from firstoff.workflows.raised import fastest, with_overrides
from firstoff.workflows.recheck import recheck

from .conftest import SOON

QUICK, CUT = "vent-plug", "cable-clip"
"""The first is not followed through its stock, the second is."""
SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "schema" / "recheck-1.json").read_text())
SLOWER = load_overlay(None, ("machine.spindle.speed=3000(30) 1/min .. 20000(120) 1/min",))
FROM_FILE = Overlay(
    "slower", TomlFile("slower.toml", {"machine": {"spindle": {"speed": "3000(30) 1/min .. 20000(120) 1/min"}}}, {})
)


def silent(*_: object) -> None:
    pass


def run_in_order(tasks: list[Task], processes: int, cluster: str | None, tell: Callable[[str], None]) -> list[Done]:
    """What came of each task, in their order."""
    done = {task.number: one for task, one in run_all(tasks, processes, cluster, tell)}
    return [done[task.number] for task in tasks]


def keep(shop: Path, name: str) -> KeptExamination:
    argument = shop / "jobs" / name
    prepared = prepare(argument, now=SOON)
    return kept_fields(prepared, workflows.judge(prepared), argument)


@pytest.fixture(scope="module")
def kept(laid_out: Path) -> tuple[KeptExamination, ...]:
    return tuple(keep(laid_out, name) for name in (CUT, QUICK))


@pytest.fixture
def shop(laid_out: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(laid_out, tmp_path / "shop"))


def checked(kept: tuple[KeptExamination, ...], shop: Path, overlay: Overlay | None = None, **other: Any) -> Recheck:
    return recheck(kept, shop, overlay, **{"now": SOON, "tell": silent, "processes": 1, "as_written": True} | other)


@pytest.fixture
def nothing_is_examined(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("examined again")

    monkeypatch.setattr(fleet, "run", refuse)


@pytest.mark.usefixtures("nothing_is_examined")
def test_nothing_is_examined_where_nothing_changed(kept: tuple[KeptExamination, ...], laid_out: Path) -> None:
    found = checked(kept, laid_out)
    assert [(job.job, job.stands, job.anew) for job in found.jobs] == [(CUT, True, False), (QUICK, True, False)]
    assert found.answer == "clear"


@pytest.mark.usefixtures("nothing_is_examined")
def test_nothing_is_examined_for_a_what_if_that_no_job_asks_for(
    kept: tuple[KeptExamination, ...], laid_out: Path
) -> None:
    overlay = load_overlay(None, ("tools.dr42.OHX=28.0(3) mm",))
    found = checked(kept, laid_out, overlay)
    assert not any(job.anew for job in found.jobs)
    assert found.unasked == ("tools.dr42.OHX",)


def test_what_moved_is_what_an_examination_finds(kept: tuple[KeptExamination, ...], shop: Path) -> None:
    machine = shop / "machine.toml"
    machine.write_text(
        machine.read_text().replace("3000(30) 1/min .. 27000(120) 1/min", "3000(30) 1/min .. 20000(120) 1/min")
    )
    found = checked(kept, shop)
    assert [job.anew for job in found.jobs] == [True, True]
    for job in found.jobs:
        assert job.moved is not None
        record = json.loads(workflows.examination_json(workflows.examine_job(shop / "jobs" / job.job, now=SOON)))
        spindle = next(one for one in record["questions"] if one["id"] == "spindle")
        told = next(one for one in job.moved.questions if one.id == "spindle")
        assert (told.was, told.now) == ("clear", spindle["answer"]) == ("clear", "stop")
        assert told.line == spindle["places"][0]["line"]
        assert {cause.change.path for cause in told.causes} == {"machine.spindle.speed.high"}
    assert found.answer == "stop"


def test_a_what_if_finds_what_the_changed_shop_would(
    kept: tuple[KeptExamination, ...], shop: Path, laid_out: Path
) -> None:
    machine = shop / "machine.toml"
    machine.write_text(
        machine.read_text().replace("3000(30) 1/min .. 27000(120) 1/min", "3000(30) 1/min .. 20000(120) 1/min")
    )
    real, imagined = checked(kept, shop), checked(kept, laid_out, SLOWER)
    for one, other in zip(real.jobs, imagined.jobs, strict=True):
        assert one.moved is not None
        assert other.moved is not None
        assert one.moved.questions[0].after == other.moved.questions[0].after
        assert one.moved.time_s == other.moved.time_s
    assert (laid_out / "machine.toml").read_text() != machine.read_text()


def test_a_what_if_is_held_against_the_shop_as_it_stands_now(kept: tuple[KeptExamination, ...], shop: Path) -> None:
    """What was kept no longer stands: it is examined anew first, and what moved already is told apart."""
    machine = shop / "machine.toml"
    machine.write_text(
        machine.read_text().replace("3000(30) 1/min .. 27000(120) 1/min", "3000(30) 1/min .. 20000(120) 1/min")
    )
    back = load_overlay(None, ("machine.spindle.speed=3000(30) 1/min .. 27000(120) 1/min",))
    job = checked(kept[1:], shop, back).jobs[0]
    assert job.verdict == "stop"
    assert job.moved is not None
    assert job.moved.better
    assert job.now_first is not None
    assert job.now_first.worse


def test_a_job_that_is_gone_is_told_and_stops_nobody(kept: tuple[KeptExamination, ...], shop: Path) -> None:
    shutil.rmtree(shop / "jobs" / CUT)
    found = checked(kept, shop, SLOWER)
    assert "cable-clip" in found.jobs[0].fault
    assert not found.jobs[0].stands
    assert found.jobs[1].moved is not None
    assert found.answer == "stop"


def test_a_what_if_that_cannot_be_used_is_refused_before_anything(
    kept: tuple[KeptExamination, ...], laid_out: Path
) -> None:
    with pytest.raises(InputError, match="stifness"):
        checked(kept, laid_out, load_overlay(None, ("machine.spindle.stifness=3 N/µm",)))


@pytest.mark.parametrize(
    "overlay",
    [
        load_overlay(None, ("job.holding.frictoin=0.2(1)",)),
        Overlay("x", TomlFile("x.toml", {"job": {"holding": {"frictoin": "0.2(1)"}}}, {})),
    ],
)
def test_a_key_that_no_job_could_have_is_refused_once(laid_out: Path, overlay: Overlay) -> None:
    with pytest.raises(InputError, match=r"unknown key: frictoin.*friction"):
        checked((), laid_out, overlay)


@pytest.mark.usefixtures("nothing_is_examined")
@pytest.mark.parametrize("root", [{"tool": {"emm3": {"LF": "60(1) mm"}}}, {"emm3": {"LF": "60(1) mm"}}])
def test_a_tool_spelt_wrong_is_refused_before_anything(
    kept: tuple[KeptExamination, ...], laid_out: Path, root: dict[str, Any]
) -> None:
    overlay = Overlay("x", TomlFile("x.toml", {"tools": root}, {}))
    with pytest.raises(InputError, match=r"adds a tool emm3 that the shop does not have.*nearest: em3"):
        checked(kept, laid_out, overlay)


def test_a_new_tool_in_a_pocket_is_tried_and_told_first(kept: tuple[KeptExamination, ...], laid_out: Path) -> None:
    tool = {"kind": "flat", "DC": "9.00(1) mm", "LF": "70.0(1) mm"}
    values: dict[str, object] = {"tools": {"em9": tool, "pocket": [{"number": 1, "tool": "em9"}]}}
    found = checked(kept[1:], laid_out, Overlay("x", TomlFile("x.toml", values, {})))
    assert found.added == ("tool em9",)
    assert not found.jobs[0].fault
    assert page_of(found, 80).splitlines()[1].strip() == "The what-if adds what the shop does not have: tool em9."


def page_of(found: Recheck, width: int) -> str:
    """What a terminal of that width shows."""
    from io import StringIO

    from rich.console import Console

    out = StringIO()
    rechecking.show_recheck(found, ShopUnits(False), Console(file=out, width=width))
    return out.getvalue()


def test_a_fact_of_jobs_may_lack_the_rest_of_its_table(kept: tuple[KeptExamination, ...], laid_out: Path) -> None:
    found = checked(kept[1:], laid_out, load_overlay(None, ("job.holding.friction=0.3(1)",)))
    assert not found.jobs[0].fault


def test_all_examines_even_what_stands(kept: tuple[KeptExamination, ...], laid_out: Path) -> None:
    found = checked(kept[1:], laid_out, all_anew=True)
    assert found.jobs[0].anew
    assert found.jobs[0].stands
    assert found.jobs[0].moved is not None
    assert found.jobs[0].moved.questions == ()


def test_the_record_keeps_to_its_schema_and_the_page_to_its_width(
    kept: tuple[KeptExamination, ...], laid_out: Path
) -> None:
    from io import StringIO

    from rich.console import Console

    found = checked(kept, laid_out, SLOWER)
    record = json.loads(rechecking.recheck_json(found))
    jsonschema.validate(record, SCHEMA)
    assert [job["stands"] for job in record["jobs"]] == [False, False]
    for width in (44, 120, 80):
        out = StringIO()
        rechecking.show_recheck(found, ShopUnits(False), Console(file=out, width=width))
        text = out.getvalue()
        assert all(len(line) <= width for line in text.splitlines())
        assert "2 min 26 s" in text
    assert "2 of 2 jobs no longer stand with “machine.spindle.speed =" in text.replace("\n ", " ")
    assert "highest spindle speed: 27000(120) 1/min, then 20000(120) 1/min" in " ".join(text.split())
    for word in ("safe", "error", "warning", "!"):
        assert word not in text.lower()


@pytest.mark.parametrize("name", ["spindle", "holder", "rack"])
def test_the_what_ifs_of_the_demo_can_be_laid_over_it(laid_out: Path, name: str) -> None:
    with resources.as_file(resources.files("firstoff.demo") / "templates" / f"what-if-{name}.toml") as file:
        overlay = load_overlay(file)
        facts = load_shop(laid_out, overlay=overlay).facts
    assert changes(all_stated(load_shop(laid_out).facts), all_stated(facts))
    assert not overlay.name.endswith(".")  # it stands in quotation marks inside of a sentence


def test_the_what_if_of_the_page_can_be_laid_over_the_demo(laid_out: Path, tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "docs" / "recheck.md").read_text(encoding="utf-8")
    file = tmp_path / "what-if.toml"
    file.write_text(text.split("```toml\n")[1].split("```")[0], encoding="utf-8")
    shop = load_shop(laid_out, overlay=load_overlay(file))
    assert "machine.frame.first_mode" not in shop.facts.facts
    assert load_job(laid_out / "jobs" / CUT, shop).facts.facts["job.holding.friction"].value == 0.2


def test_a_spindle_that_is_slower_at_the_top_stops_the_job_that_asks_for_more(
    kept: tuple[KeptExamination, ...], laid_out: Path
) -> None:
    with resources.as_file(resources.files("firstoff.demo") / "templates" / "what-if-spindle.toml") as file:
        found = checked(kept[1:], laid_out, load_overlay(file))
    assert [job.job for job in found.fallen] == [QUICK]
    assert found.answer == "stop"


# ---- higher feeds --------------------------------------------------------------------------------------------------


def test_overrides_raise_the_feeds_they_act_on_and_nothing_else(laid_out: Path) -> None:
    prepared = prepare(laid_out / "jobs" / CUT, now=SOON)
    before, after = prepared.reading.moves, with_overrides(prepared, {2: 1.5}).reading.moves
    raised = after.feed_mm_per_s != before.feed_mm_per_s
    raised &= ~((after.feed_mm_per_s != after.feed_mm_per_s) & (before.feed_mm_per_s != before.feed_mm_per_s))
    assert raised.any()
    assert set(before.tool[raised].tolist()) == {2}
    assert (after.feed_mm_per_s[raised] == 1.5 * before.feed_mm_per_s[raised]).all()


def test_the_fastest_is_never_slower_and_makes_no_answer_worse(
    kept: tuple[KeptExamination, ...], laid_out: Path
) -> None:
    prepared = prepare(laid_out / "jobs" / CUT, now=SOON)
    record = kept[0].record
    found = fastest(prepared, record)
    assert found.time_s is not None
    assert found.time_s < record["time_s"]["total"]
    overrides = {int(tool[1:]): percent / 100 for tool, percent in found.overrides.items()}
    again = json.loads(workflows.examination_json(workflows.judge(with_overrides(prepared, overrides))))
    assert again["time_s"]["total"] == found.time_s
    answers = {one["id"]: one["answer"] for one in record["questions"] if one["risk"] != "time"}
    assert {one["id"]: one["answer"] for one in again["questions"] if one["id"] in answers} == answers
    assert found.held_by  # this drawing's tolerances hold the feed before the tools do


def test_nobody_knows_how_fast_where_nothing_was_followed(kept: tuple[KeptExamination, ...], laid_out: Path) -> None:
    assert fastest(prepare(laid_out / "jobs" / QUICK, now=SOON), kept[1].record).time_s is None


# ---- processes and clusters ----------------------------------------------------------------------------------------


def same_tasks(kept: tuple[KeptExamination, ...], shop: Path) -> list[Task]:
    gone = replace(kept[1], job="gone", argument="jobs/gone")
    four = (kept[0], kept[0], gone, kept[1])
    return [Task(number, one, shop, SOON, True, FROM_FILE, True) for number, one in enumerate(four)]


@pytest.fixture(scope="module")
def alone(kept: tuple[KeptExamination, ...], laid_out: Path) -> list[Done]:
    """What one process finds."""
    found = run_in_order(same_tasks(kept, laid_out), 1, None, silent)
    assert [bool(one.fault) for one in found] == [False, False, True, False]
    assert found[0] == found[1]
    assert found[0].other is not None
    return found


def test_files_that_go_with_a_task_are_all_it_needs(
    kept: tuple[KeptExamination, ...], laid_out: Path, tmp_path: Path
) -> None:
    task = Task(0, kept[1], laid_out, SOON, True, SLOWER, True)
    files = shipped_files(task)
    assert files is not None
    assert set(files) == {
        "machine.toml",
        "tools.toml",
        "materials.toml",
        f"jobs/{QUICK}/job.toml",
        f"jobs/{QUICK}/program.nc",
    }
    elsewhere = replace(task, shop=tmp_path / "not there", files=files)
    assert run(elsewhere) == run(task)
    outside = replace(task, kept=replace(kept[1], argument=str(tmp_path / "program.nc")))
    assert shipped_files(outside) is None


def test_two_processes_find_what_one_does_and_one_that_is_ended_from_outside_stops_nobody(
    kept: tuple[KeptExamination, ...], laid_out: Path, alone: list[Done]
) -> None:
    ended: list[int] = []

    def end_one(_stage: str) -> None:
        if not ended:
            until(
                lambda: len(children_of(os.getpid())) == 2
            )  # both have a task now; none can have done it before it is loaded
            ended.append(children_of(os.getpid())[0])
            os.kill(ended[0], signal.SIGKILL)

    found = run_in_order(same_tasks(kept, laid_out), 2, None, end_one)
    assert ended
    others = [number for number, one in enumerate(found) if "ended from outside" not in one.fault]
    assert len(others) == 3
    assert {0, 1} & set(others)
    assert [found[number] for number in others] == [alone[number] for number in others]


def children_of(parent: int) -> list[int]:
    """Processes that examine for us, by number; the one that tracks resources is none of them."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rsplit(")", 1)[1].split()
            words = stat.with_name("cmdline").read_bytes()
        except OSError:
            continue
        if int(fields[1]) == parent and fields[0] != "Z" and b"spawn_main" in words:
            found.append(int(stat.parent.name))
    return sorted(found)


LONG = """
import sys
from datetime import datetime
from pathlib import Path
from firstoff import interrupts
from firstoff.workflows.fleet import Task, run_all
import pickle

if __name__ == "__main__":
    interrupts.obey()
    kept, shop = pickle.loads(Path(sys.argv[1]).read_bytes())
    tasks = [Task(number, kept, Path(shop), datetime(2026, 9, 14, 8), True, None, True) for number in range(400)]
    for _ in run_all(tasks, 2, None, lambda stage: print(stage, flush=True)):
        pass
"""


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="tells processes by /proc")
def test_an_interrupt_ends_all_and_leaves_nothing(
    kept: tuple[KeptExamination, ...], laid_out: Path, tmp_path: Path
) -> None:
    """It ends us without a word to the others: they see that we are gone, as they would after a crash."""
    script, data = tmp_path / "long.py", tmp_path / "data"
    script.write_text(LONG)
    data.write_bytes(pickle.dumps((kept[1], str(laid_out))))
    running = subprocess.Popen(
        [sys.executable, str(script), str(data)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=tmp_path,
    )
    try:
        assert running.stdout is not None
        running.stdout.readline()
        until(lambda: len(children_of(running.pid)) == 2)
        children = children_of(running.pid)
        running.send_signal(signal.SIGINT)
        _, said = running.communicate(timeout=20)
    finally:
        running.kill()
    assert running.returncode == 130
    assert said == "Stopped. Nothing half-written was left.\n"
    until(lambda: not any(is_running(child) for child in children))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["data", "long.py"]


def is_running(process: int) -> bool:
    """Whether a process is there and not only waits to be counted out."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


def until(true: Callable[[], bool], seconds: float = 15.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


@pytest.fixture(scope="module")
def cluster() -> Iterator[str]:
    distributed = pytest.importorskip("distributed", reason="needs the fleet extra")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as made:
        yield made.scheduler_address


def test_a_cluster_finds_what_one_process_does(
    kept: tuple[KeptExamination, ...], laid_out: Path, cluster: str, alone: list[Done]
) -> None:
    assert run_in_order(same_tasks(kept, laid_out)[1:], 1, cluster, silent) == alone[1:]


def test_a_cluster_that_judges_otherwise_is_refused(
    kept: tuple[KeptExamination, ...], laid_out: Path, cluster: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fleet, "judged_by_us", lambda: "another")
    with pytest.raises(InputError, match="judge otherwise"):
        run_in_order(same_tasks(kept, laid_out), 1, cluster, silent)


def test_no_cluster_there(kept: tuple[KeptExamination, ...], laid_out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed", reason="needs the fleet extra")
    monkeypatch.setattr(fleet, "ANSWER_WITHIN_S", 0.5)
    with pytest.raises(InputError, match="no cluster answers there"):
        run_in_order(same_tasks(kept, laid_out), 1, "tcp://127.0.0.1:9", silent)
