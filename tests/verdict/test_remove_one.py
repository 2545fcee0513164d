"""Take one fact away: exactly the questions that name it say "I can't say"; every other answer stays as it was."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import tomlkit

from firstoff import workflows
from firstoff.errors import InputError
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer

from .conftest import JOB, MACHINE, NOW, TOOLS

Key = tuple[str | int, ...]
TEXTS = {"machine": MACHINE, "tools": TOOLS, "job": JOB}


def keys_of(value: object, at: Key = ()) -> Iterator[Key]:
    """Every key of a TOML text that can be taken away: tables, elements of lists of tables, and values."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield (*at, key)
            if not (isinstance(inner, dict) and "value" in inner):
                yield from keys_of(inner, (*at, key))
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for number, inner in enumerate(value):
            yield (*at, number)
            yield from keys_of(inner, (*at, number))


def without(text: str, key: Key) -> str:
    """The text with one key taken away."""
    document = tomlkit.parse(text)
    inner: object = document
    for part in key[:-1]:
        inner = inner[part]  # type: ignore[index]
    del inner[key[-1]]  # type: ignore[attr-defined]
    return tomlkit.dumps(document)


CASES = [(file, key) for file, text in TEXTS.items() for key in keys_of(tomlkit.parse(text).unwrap())]
NEVER = {
    ("job", ("program",)): "the loader cannot do without it",
    ("machine", ("control", "base")): "plain is what is taken where nothing is said",
    ("machine", ("zone", 0)): "an empty list of zones says that there are none",
}


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Examination:
    return examine_with(tmp_path_factory.mktemp("whole"), TEXTS)


def examine_with(folder: Path, texts: dict[str, str]) -> Examination:
    from .conftest import PROGRAM

    job = folder / "jobs" / "plate"
    job.mkdir(parents=True, exist_ok=True)
    (folder / "machine.toml").write_text(texts["machine"])
    (folder / "tools.toml").write_text(texts["tools"])
    (job / "job.toml").write_text(texts["job"])
    (job / "program.nc").write_text(PROGRAM)
    return workflows.examine_job(job, now=NOW)


@pytest.mark.parametrize(("file", "key"), CASES, ids=[f"{file}:{'.'.join(map(str, key))}" for file, key in CASES])
def test_taking_one_fact_away_moves_exactly_the_questions_that_name_it(
    file: str, key: Key, whole: Examination, tmp_path: Path
) -> None:
    if (file, key) in NEVER:
        pytest.skip(NEVER[file, key])
    try:
        after = examine_with(tmp_path, {**TEXTS, file: without(TEXTS[file], key)})
    except InputError as error:
        # A key that another key leans on (a pocket's number) is told at once, with its place.
        if not all(fault.file for fault in error.faults):
            pytest.fail(f"a fault without its file: {error}")
        return
    here, there = paths_of(whole), paths_of(after)
    gone = here - there
    for before, now in zip(whole.answers, after.answers, strict=True):
        named = any(covers(need.fact, path) for need in now.needs for path in gone)
        needed = gone & set(before.needed)
        if needed:
            assert named, f"{before.question.id} needed {sorted(needed)} and does not name it: {now.needs}"
        if named:
            assert now.answer in (Answer.UNJUDGED, Answer.STOP), before.question.id
            assert now.why.startswith("I can't say") or now.answer is Answer.STOP
        elif not gone & set(before.leaned):
            assert now.answer is before.answer, (before.question.id, now.why, now.needs)


def paths_of(examination: Examination) -> set[str]:
    return set(examination.facts.facts) | set(examination.facts.settings)


def covers(need: str, path: str) -> bool:
    return path == need or path.startswith(need + ".")


def test_every_need_names_its_file_and_a_way_to_get_it(tmp_path: Path) -> None:
    bare = examine_with(tmp_path, {"machine": "[shop]\n", "tools": "[tool.a]\n", "job": 'program = "program.nc"\n'})
    needs = [need for answered in bare.answers for need in answered.needs]
    assert needs
    for need in needs:
        assert ".toml" in need.where
        assert need.how.endswith(".")
