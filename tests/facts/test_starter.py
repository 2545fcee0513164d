"""The starter shop: it loads, every example line in it loads, it names every key, and it overwrites nothing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from firstoff.errors import InputError
from firstoff.facts.control import CONTROL_KEYS
from firstoff.facts.job import load_job
from firstoff.facts.practice import practice_facts
from firstoff.facts.schema import JobFile, Machine, Materials, Table, Tools
from firstoff.facts.shop import load_shop
from firstoff.facts.starter import new_shop, starter_text
from firstoff.facts.validate import inner_table, keys_of


def test_it_loads_and_invents_nothing(tmp_path: Path) -> None:
    written = new_shop(tmp_path / "shop")
    assert sorted(path.relative_to(tmp_path / "shop").as_posix() for path in written) == [
        "jobs/first/job.toml",
        "jobs/first/program.nc",
        "machine.toml",
        "materials.toml",
        "tools.toml",
    ]
    facts = load_job("first", load_shop(tmp_path / "shop")).facts
    assert set(facts.facts) == set(practice_facts())  # rules of the trade are nobody's shop
    assert set(facts.settings) == {"machine.name", "job.program"}


def test_every_example_line_loads(full_shop: Path) -> None:
    facts = load_job("first", load_shop(full_shop)).facts
    assert len(facts.facts) > 100
    assert {f"machine.control.{name}" for name in CONTROL_KEYS} <= {*facts.facts, *facts.settings}


@pytest.mark.parametrize("name", ["machine.toml", "tools.toml", "materials.toml", "job.toml"])
def test_each_example_line_loads_alone(tmp_path: Path, name: str) -> None:
    """Somebody takes away one # at a time: each line must be good without the others (a table's own head aside)."""
    new_shop(tmp_path / "shop")
    path = next((tmp_path / "shop").rglob(name))
    lines = path.read_text().split("\n")
    for number, line in enumerate(lines):
        if not re.match(r"#\S", line) or line.startswith("#["):
            continue
        head = next((n for n in range(number, -1, -1) if lines[n].lstrip("#").startswith("[")), None)
        tried = [text[1:] if n in (number, head) and text.startswith("#") else text for n, text in enumerate(lines)]
        path.write_text("\n".join(tried))
        try:
            load_job("first", load_shop(tmp_path / "shop"))
        except InputError as error:
            allowed = (
                "is missing",
                "does not say",
                "no tool has this name",
                "no holder has this name",
                "needs the key",
                "says nothing",
            )
            if not all(any(words in fault.what for words in allowed) for fault in error.faults):
                pytest.fail(f"{line}: {error}")


def all_keys(model: type[Table]) -> set[str]:
    keys = set(keys_of(model))
    for field in model.model_fields.values():
        inner, _ = inner_table(field.annotation)
        if inner is not None:
            keys |= all_keys(inner)
    return keys


def test_every_key_is_shown() -> None:
    texts = "\n".join(starter_text(name) for name in ("machine.toml", "tools.toml", "materials.toml", "job.toml"))
    sources = {
        "publication",
        "sources",
        "by",
        "row",
        "kc11",
        "Kt",
        "Ke",
        "Kr",
        "Kre",
        "Ka",
        "Kae",
        "over",
        "mark",
    }  # of the shipped table
    from firstoff.facts.judgement import QUESTIONS

    for key in (
        set().union(*(all_keys(model) for model in (Machine, Tools, Materials, JobFile))) - sources - set(QUESTIONS)
    ):
        assert re.search(rf"\b{re.escape(key)}\b", texts), key


@pytest.mark.parametrize("what", ["file", "folder", "link"])
def test_it_overwrites_nothing(tmp_path: Path, what: str) -> None:
    target = tmp_path / "shop"
    if what == "file":
        target.write_text("mine")
    else:
        (tmp_path / "other").mkdir()
        (tmp_path / "other" / "mine.txt").write_text("mine")
        (tmp_path / "other").rename(target) if what == "folder" else target.symlink_to(tmp_path / "other")
    with pytest.raises(InputError, match="there is") as caught:
        new_shop(target)
    assert str(target) in str(caught.value)
    assert (target if what == "file" else target / "mine.txt").read_text() == "mine"
    assert not list(tmp_path.glob(".shop-*"))


def test_an_empty_folder_is_filled_and_stays_the_same_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "shop").mkdir()
    monkeypatch.chdir(tmp_path / "shop")
    assert len(new_shop(Path())) == 5
    assert Path("machine.toml").is_file()  # seen from where somebody stands
    assert Path("jobs/first/job.toml").is_file()
    assert not list(tmp_path.glob(".shop-*"))


def test_an_empty_folder_that_cannot_be_filled_stays_empty(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "shop").mkdir()
    replace = Path.replace

    def refused(part: Path, target: Path) -> Path:
        if part.name == "materials.toml" and Path(target).parent == tmp_path / "shop":
            raise OSError(28, "No space left on device")
        return replace(part, target)

    monkeypatch.setattr(Path, "replace", refused)
    with pytest.raises(InputError, match="cannot be written"):
        new_shop(tmp_path / "shop")
    assert not list((tmp_path / "shop").iterdir())


def test_an_interruption_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(name: str) -> str:
        if name == "materials.toml":
            raise KeyboardInterrupt
        return "text"

    monkeypatch.setattr("firstoff.facts.starter.starter_text", interrupted)
    with pytest.raises(KeyboardInterrupt):
        new_shop(tmp_path / "shop")
    assert not list(tmp_path.iterdir())


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="cannot be made"):
        new_shop(tmp_path / "file" / "shop")
