"""An examination hangs on what is kept of it as leaned on, and on nothing else: the heart of the recheck."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from firstoff import workflows
from firstoff.book.kept import KeptExamination
from firstoff.book.stands import TODAY, Reason, stands
from firstoff.demo.good import GOOD
from firstoff.facts.fact import Fact, FactSet, Setting, Word
from firstoff.facts.heard import HeardFacts, all_paths, said_of
from firstoff.facts.shop import load_shop
from firstoff.sheets.records import examination_record
from firstoff.workflows import prepare, prepare_job
from firstoff.workflows.keeping import facts_now, files_now, job_again, judged_by, kept_fields, program_now

from .conftest import SOON

SMALL = "vent-plug"
"""Examined in a tenth of a second: it is not followed."""


def moved_fact(fact: Fact) -> Fact:
    return replace(fact, value=fact.value + 3 * fact.u + 0.07 * abs(fact.value) + 0.01, u=1.5 * fact.u + 1e-3)


def moved_setting(setting: Setting) -> Setting:
    value: Word = setting.value
    if isinstance(value, bool):
        value = not value
    elif isinstance(value, int):
        value = value + 7
    elif isinstance(value, str):
        value = value + "-other"
    elif isinstance(value, tuple):
        value = (*value, "other")
    else:
        value = value + timedelta(days=9)
    return replace(setting, value=value)


def all_moved(facts: FactSet, stay: set[str]) -> FactSet:
    """Everything that is not to stay says something else."""
    known = {path: fact if path in stay else moved_fact(fact) for path, fact in facts.facts.items()}
    words = {path: one if path in stay else moved_setting(one) for path, one in facts.settings.items()}
    return FactSet(known, words, facts.groups)


def record_of(prepared: workflows.Prepared) -> dict[str, Any]:
    return examination_record(workflows.judge(prepared)).model_dump(mode="json", by_alias=True)


@pytest.mark.parametrize("name", [plan.name for plan in GOOD if plan.name != "logger-lid"])
def test_nothing_that_was_not_asked_for_moves_an_examination(laid_out: Path, name: str) -> None:
    """All of it at once: every other fact is moved, the rest is taken away (where its absence was not asked for), tools of other jobs, their
    pockets and materials among them. The longest job is left out here; what it asks for, cable-clip asks for too."""
    prepared = prepare(laid_out / "jobs" / name, now=SOON)
    before = record_of(prepared)
    facts = prepared.job.facts
    assert isinstance(facts, HeardFacts)
    asked = dict(facts.asked)
    assert "" not in asked  # else everything counts as leaned on, and nothing is shown here
    gone_through = tuple(path for path in asked if path.endswith("."))
    others = [path for path in all_paths(facts) if path not in asked]
    assert len(others) > 100
    gone = {path for path in others[::2] if not path.startswith(gone_through)}
    assert len(gone) > 30
    plain = FactSet(facts.facts.plain, facts.settings.plain, facts.groups)
    moved = all_moved(plain, set(asked))
    known = {path: fact for path, fact in moved.facts.items() if path not in gone}
    words = {path: one for path, one in moved.settings.items() if path not in gone}
    other = FactSet(known, words, facts.groups)
    assert said_of(other, asked) == said_of(facts, asked)
    assert record_of(prepare_job(replace(prepared.job, facts=other), now=SOON)) == before


# ---- whether a kept examination stands -----------------------------------------------------------------------------


@pytest.fixture
def shop(laid_out: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(laid_out, tmp_path / "shop"))


def keep(shop: Path, name: str = SMALL) -> KeptExamination:
    argument = shop / "jobs" / name
    prepared = prepare(argument, now=SOON)
    kept = kept_fields(prepared, workflows.judge(prepared), argument)
    return through_text(kept)


def through_text(kept: KeptExamination) -> KeptExamination:
    """As it comes back from a book that writes JSON."""
    leaned, record = json.loads(json.dumps(kept.leaned)), json.loads(json.dumps(kept.record))
    return replace(kept, leaned=leaned, record=record, given=json.loads(json.dumps(kept.given)))


def why_not(kept: KeptExamination, shop: Path) -> Reason | None:
    job, _ = job_again(kept, load_shop(shop))
    return stands(kept, facts_now(kept, job.facts), files_now(kept, job), program_now(job))


def edit(file: Path, old: str, new: str) -> None:
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new, 1))


def test_what_is_as_it_was_stands(shop: Path) -> None:
    kept = keep(shop)
    assert kept.argument == f"jobs/{SMALL}"
    assert why_not(kept, shop) is None
    with (shop / "machine.toml").open("a") as file:
        file.write("\n# a word that says nothing\n")
    assert why_not(kept, shop) is None


def test_another_place_for_the_shop_is_no_reason(shop: Path, tmp_path: Path) -> None:
    kept = keep(shop)
    assert why_not(kept, Path(shutil.copytree(shop, tmp_path / "elsewhere"))) is None


@pytest.mark.parametrize("name", [SMALL, "cable-clip"])
def test_nothing_but_the_question_today_asks_for_the_card(laid_out: Path, name: str) -> None:
    prepared = prepare(laid_out / "jobs" / name, now=SOON)
    without = replace(prepared.job, facts=prepared.job.facts.without("machine.today"))
    before, after = record_of(prepared), record_of(prepare_job(without, now=SOON + timedelta(days=400)))
    for record in (before, after):
        record["questions"] = [one for one in record["questions"] if one["id"] != "today"]
        for about_today in ("next", "verdict", "risks"):
            del record[about_today]
    assert after == before


def test_today_is_left_out(shop: Path) -> None:
    kept = keep(shop)
    assert any(path.startswith(TODAY) for path in kept.leaned)
    edit(shop / "machine.toml", "2026-09-14T07:40:12", "2026-09-15T07:21:00")
    assert why_not(kept, shop) is None


def test_a_changed_program_is_a_reason(shop: Path) -> None:
    kept = keep(shop)
    program = shop / "jobs" / SMALL / "program.nc"
    program.write_text(program.read_text() + "\n")
    assert why_not(kept, shop) == Reason((), ("program.nc",))


def test_a_fact_leaned_on_is_a_reason_with_what_it_was(shop: Path) -> None:
    kept = keep(shop)
    prepared = prepare(shop / "jobs" / SMALL, now=SOON)
    path = "machine.axis.x.travel.high"
    other = replace(prepared.job.facts.facts[path], value=12.0)
    facts = FactSet({**prepared.job.facts.facts, path: other}, prepared.job.facts.settings)
    reason = stands(kept, facts_now(kept, facts), files_now(kept, prepared.job), kept.program_sha256)
    assert reason is not None
    assert reason.paths == (path,)
    assert reason.changes[0].new["value"] == 12.0


def test_a_fact_that_was_asked_for_in_vain_is_a_reason_once_it_is_there(shop: Path) -> None:
    kept = keep(shop)
    in_vain = [path for path, said in kept.leaned.items() if not said]
    assert "machine.judgement.machine.care_above" in in_vain
    edit(shop / "machine.toml", "[spindle]", "[judgement.machine]\ncare_above = 0.0005\n[spindle]")
    reason = why_not(kept, shop)
    assert reason is not None
    assert reason.paths == ("machine.judgement.machine.care_above",)
    assert reason.changes[0].old is None


def test_a_new_zone_is_a_reason(shop: Path) -> None:
    kept = keep(shop)
    zone = '\n[[zone]]\nname = "pump"\nbox = ["0 mm .. 10 mm", "0 mm .. 10 mm", "-10 mm .. 0 mm"]\n'
    with (shop / "machine.toml").open("a") as file:
        file.write(zone)
    reason = why_not(kept, shop)
    assert reason is not None
    assert all(path.startswith("machine.zone.pump.") for path in reason.paths)


def test_a_tool_in_a_pocket_is_a_reason_and_a_drawer_is_none(shop: Path) -> None:
    """A look-alike may stand in the rack: what is in a pocket was asked for. A tool in no pocket was not."""
    kept = keep(shop)
    with (shop / "tools.toml").open("a") as file:
        file.write('\n[tool.spare]\nkind = "flat"\nDC = "1.5 mm"\n')
    assert why_not(kept, shop) is None
    with (shop / "tools.toml").open("a") as file:
        file.write('\n[[pocket]]\nnumber = 77\ntool = "spare"\n')
    reason = why_not(kept, shop)
    assert reason is not None
    assert any(path.startswith("tools.pocket.77.") for path in reason.paths)


def test_another_version_of_firstoff_is_a_reason(shop: Path) -> None:
    kept = keep(shop)
    assert judged_by() == kept.leaned["firstoff"]["setting"]
    older = replace(kept, leaned={**kept.leaned, "firstoff": {"setting": "0.0.1 0123456789abcdef"}})
    reason = why_not(older, shop)
    assert reason is not None
    assert reason.paths == ("firstoff",)


CALLS = "%\nO1000\nG21 G90 G17 G54\nT5 M6\nG0 G43 H5 Z50.\nM98 P2000\nM30\n%\n"
CALLED = "O2000\nG0 X1.\nM99\n"


def calling(shop: Path) -> tuple[Path, KeptExamination]:
    folder = shop / "jobs" / "calling"
    folder.mkdir()
    (folder / "job.toml").write_text('program = "main.nc"\n')
    (folder / "main.nc").write_text(CALLS)
    (folder / "O2000.nc").write_text(CALLED)
    return folder, keep(shop, "calling")


def test_a_changed_subprogram_is_a_reason(shop: Path) -> None:
    folder, kept = calling(shop)
    assert set(kept.files) == {"O2000.nc", "./"}
    assert why_not(kept, shop) is None
    (folder / "O2000.nc").write_text(CALLED.replace("X1.", "X2."))
    assert why_not(kept, shop) == Reason((), ("O2000.nc",))


def test_a_second_file_that_answers_the_same_call_is_a_reason(shop: Path) -> None:
    folder, kept = calling(shop)
    (folder / "aside.nc").write_text(CALLED.replace("X1.", "X2."))
    assert why_not(kept, shop) == Reason((), ("./",))


def test_a_shape_and_the_job_before_are_files_that_were_read(shop: Path) -> None:
    ring = keep(shop, "clamp-ring")
    assert "ring.stl" in ring.files or not (shop / "jobs" / "clamp-ring" / "ring.stl").exists()
    folder = shop / "jobs" / "second"
    folder.mkdir()
    (folder / "program.nc").write_text((shop / "jobs" / "logger-lid" / "program.nc").read_text())
    text = (shop / "jobs" / "logger-lid" / "job.toml").read_text()
    lines, inside = [], False
    for line in text.splitlines():
        inside = line.startswith("[stock]") or (inside and not line.startswith("["))
        lines += ['[stock]\nafter = "logger-lid"'] if line.startswith("[stock]") else [] if inside else [line]
    (folder / "job.toml").write_text("\n".join(lines) + "\n")
    prepared = prepare(folder, now=SOON)
    examination = workflows.judge(prepared, only=["understood"])  # following is not what this asks
    kept = through_text(kept_fields(prepared, examination, folder))
    assert set(kept.files) == {"../logger-lid/job.toml", "../logger-lid/program.nc"}
    assert why_not(kept, shop) is None
    # Any fact of the shop may be among those that the earlier job asks for.
    with (shop / "tools.toml").open("a") as file:
        file.write('\n[tool.spare]\nkind = "flat"\nDC = "1.5 mm"\n')
    reason = why_not(kept, shop)
    assert reason is not None
    assert "tools.spare.DC" in reason.paths


def test_a_bare_program_is_done_again_as_it_was_given(shop: Path) -> None:
    program = shop / "warm-up.nc"
    given = workflows.Given(material="pom", tools=("5=em3",), offsets=("G54=121.4 88.1 -96.5 mm",))
    prepared = prepare(program, given=given, base="plain", now=SOON)
    kept = through_text(kept_fields(prepared, workflows.judge(prepared), program, given, "plain"))
    assert (kept.job, kept.argument) == ("warm-up.nc", "warm-up.nc")
    job, base = job_again(kept, load_shop(shop))
    assert base == "plain"
    assert stands(kept, facts_now(kept, job.facts), files_now(kept, job), program_now(job)) is None
    again = prepare_job(job, base=base, now=SOON)
    assert record_of(again) == kept.record


def test_kept_is_dated_as_it_was_examined(shop: Path) -> None:
    assert keep(shop).at == SOON
    assert isinstance(keep(shop).at, datetime)
