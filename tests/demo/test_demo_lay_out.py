"""The demo shop is laid out whole or not at all, loads without a fault, and each twin differs in its mistake alone."""

from __future__ import annotations

import difflib
import re
import tomllib
from datetime import datetime
from importlib import resources
from pathlib import Path

import pytest

from firstoff.demo import JobPlan, lay_out
from firstoff.demo.good import GOOD
from firstoff.demo.lay_out import MISTAKES, SHAPES
from firstoff.demo.plans import Edit, edited
from firstoff.errors import InputError
from firstoff.facts.job import load_job
from firstoff.facts.shop import load_shop

NOW = datetime(2026, 9, 14, 7, 40, 12)


@pytest.fixture(scope="module")
def laid_out(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[JobPlan, ...]]:
    folder = tmp_path_factory.mktemp("demo") / "shop"
    return folder, lay_out(folder, NOW)


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_shop_and_every_job_load_without_a_fault(laid_out: tuple[Path, tuple[JobPlan, ...]]) -> None:
    folder, plans = laid_out
    shop = load_shop(folder)
    assert len(shop.tool_names) == 12
    assert set(shop.job_names) == {plan.name for plan in plans}
    for plan in plans:
        job = load_job(plan.name, shop)
        assert job.program.is_file()
        assert set(job.tools.values()) <= set(shop.tool_names)


def test_tools_carry_a_mix_of_evidence_and_one_is_not_measured(laid_out: tuple[Path, tuple[JobPlan, ...]]) -> None:
    shop = load_shop(laid_out[0])
    kinds = {fact.evidence.value for path, fact in shop.facts.facts.items() if path.startswith("tools.")}
    assert kinds >= {"assumed", "plate", "measured"}
    assert [name for name in shop.tool_names if not shop.facts.has(f"tools.{name}.LF")] == ["em15", "em2"]


def test_the_card_of_the_day_is_dated_now(laid_out: tuple[Path, tuple[JobPlan, ...]]) -> None:
    machine = tomllib.loads((laid_out[0] / "machine.toml").read_text())
    assert machine["today"]["on"] == NOW
    assert machine["axis"]["x"]["travel"]["on"] < NOW.date()


def test_two_materials_and_both_kinds_of_answers_are_there() -> None:
    materials = {tomllib.loads(template(f"{plan.name}.toml"))["material"] for plan in GOOD}
    assert materials == {"al-6082", "pom"}
    assert set(GOOD[0].expected.values()) == {"clear"}
    assert "unjudged" in GOOD[-1].expected.values()
    assert len(MISTAKES) >= 35


def template(name: str) -> str:
    return (resources.files("firstoff.demo") / "templates" / name).read_text(encoding="utf-8")


def test_a_twin_differs_from_its_mistake_only_in_the_edited_lines(laid_out: tuple[Path, tuple[JobPlan, ...]]) -> None:
    folder, plans = laid_out
    by_name = {plan.name: plan for plan in plans}
    for mistake in MISTAKES:
        plan = by_name[mistake.name]
        assert plan.twin in {good.name for good in GOOD}
        changed = {}
        for file in ("program.nc", "job.toml"):
            ours, theirs = (
                (folder / "jobs" / name / file).read_text().splitlines() for name in (mistake.name, mistake.twin)
            )
            changed[file] = [line for line in difflib.ndiff(theirs, ours) if line[0] in "+-"]
        wanted = {"program.nc": mistake.program, "job.toml": mistake.job}
        for file, edits in wanted.items():
            lines = sum(1 if edit.put is None or edit.beside else 2 for edit in edits)
            if any(edit.until is not None for edit in edits):
                assert len(changed[file]) > lines  # a whole passage is gone
            elif mistake.written is None or file == "job.toml":
                assert len(changed[file]) == lines, (mistake.name, file, changed[file])
        assert (plan.mistake_line is None) == (not mistake.program)


def test_a_program_written_with_another_setting_differs_in_one_operation_alone(
    laid_out: tuple[Path, tuple[JobPlan, ...]],
) -> None:
    folder, _ = laid_out
    written = [mistake for mistake in MISTAKES if mistake.written is not None]
    assert written
    for mistake in written:
        ours, theirs = (
            (folder / "jobs" / name / "program.nc").read_text().splitlines() for name in (mistake.name, mistake.twin)
        )
        assert ours != theirs
        assert [line for line in ours if line.startswith(("(", "T", "S", "M"))] == [
            line for line in theirs if line.startswith(("(", "T", "S", "M"))
        ]


def test_shapes_lie_beside_the_jobs_that_name_them(laid_out: tuple[Path, tuple[JobPlan, ...]]) -> None:
    folder, _ = laid_out
    named = {"clamp-ring": SHAPES["clamp-ring"].keys()}
    named |= {mistake.name: (mistake.shapes or SHAPES.get(mistake.twin, {})).keys() for mistake in MISTAKES}
    for name, shapes in named.items():
        job = tomllib.loads((folder / "jobs" / name / "job.toml").read_text())
        assert {job["target"]} == set(shapes) if "target" in job else not shapes, name
        assert all((folder / "jobs" / name / shape).is_file() for shape in shapes)


def test_the_line_of_a_mistake_is_the_line_that_was_changed(laid_out: tuple[Path, tuple[JobPlan, ...]]) -> None:
    folder, plans = laid_out
    for plan, mistake in zip([plan for plan in plans if plan.twin], MISTAKES, strict=True):
        if plan.mistake_line is None:
            continue
        lines = (folder / "jobs" / plan.name / "program.nc").read_text().splitlines()
        put = mistake.program[-1].put
        if put is not None:
            assert lines[plan.mistake_line - 1] == put


def test_the_page_lists_what_is_laid_out() -> None:
    page = (Path(__file__).parents[2] / "docs" / "demo.md").read_text()
    rows = dict(re.findall(r"^\| `([\w-]+)` \| (.*) \|$", page, re.MULTILINE))
    assert set(rows) == {plan.name for plan in GOOD} | {mistake.name for mistake in MISTAKES}
    for mistake in MISTAKES:
        cells = [cell.strip() for cell in rows[mistake.name].split("|")]
        assert cells[0] == f"`{mistake.twin}`"
        assert dict(re.findall(r"(\w+): (\w+)", cells[3])) == dict(mistake.expected)


def test_the_readme_names_every_job(laid_out: tuple[Path, tuple[JobPlan, ...]]) -> None:
    text = (laid_out[0] / "README.txt").read_text()
    assert all(plan.name in text and plan.story in text for plan in laid_out[1])
    assert "@" not in text


def test_laying_out_twice_renews_the_shop_and_keeps_what_is_not_ours(tmp_path: Path) -> None:
    lay_out(tmp_path / "shop", NOW)
    first = contents(tmp_path / "shop")
    (tmp_path / "shop" / "book.sqlite").write_bytes(b"what happened")
    (tmp_path / "shop" / "jobs" / "mine").mkdir()
    (tmp_path / "shop" / "jobs" / "mine" / "job.toml").write_text('program = "x.nc"\n')
    lay_out(tmp_path / "shop", NOW.replace(day=15))
    second = contents(tmp_path / "shop")
    assert second.pop("book.sqlite") == b"what happened"
    assert second.pop("jobs/mine/job.toml") == b'program = "x.nc"\n'
    assert set(second) == set(first)
    changed = {name for name in first if first[name] != second[name]}
    assert changed == {"machine.toml", "tools.toml", "materials.toml", ".laid-out.json"}
    assert [path.name for path in tmp_path.iterdir()] == ["shop"]


def test_what_a_person_changed_is_never_overwritten(tmp_path: Path) -> None:
    lay_out(tmp_path / "shop", NOW)
    tools = tmp_path / "shop" / "tools.toml"
    tools.write_text(tools.read_text() + "# measured today\n")
    before = contents(tmp_path / "shop")
    with pytest.raises(InputError, match=r"tools\.toml"):
        lay_out(tmp_path / "shop", NOW)
    assert contents(tmp_path / "shop") == before
    assert [path.name for path in tmp_path.iterdir()] == ["shop"]


@pytest.mark.parametrize("mark", [None, "", "[]", '{"demo": "other", "files": {}}', '{"demo": "firstoff"}', "\x00\xff"])
def test_a_folder_that_is_something_else_is_left_alone(tmp_path: Path, mark: str | None) -> None:
    (tmp_path / "machine.toml").write_text("[shop]\n")
    if mark is not None:
        (tmp_path / ".laid-out.json").write_text(mark)
    before = contents(tmp_path)
    with pytest.raises(InputError, match="not a demo shop"):
        lay_out(tmp_path, NOW)
    assert contents(tmp_path) == before


def test_a_file_in_the_way_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "shop").write_text("a letter")
    with pytest.raises(InputError, match="this is a file"):
        lay_out(tmp_path / "shop", NOW)
    with pytest.raises(InputError):
        lay_out(tmp_path / "shop" / "below", NOW)
    assert (tmp_path / "shop").read_text() == "a letter"


def test_an_empty_folder_will_do(tmp_path: Path) -> None:
    (tmp_path / "shop").mkdir()
    lay_out(tmp_path / "shop", NOW)
    assert (tmp_path / "shop" / "machine.toml").is_file()


@pytest.mark.parametrize("step", ["rename", "write_bytes"])
def test_an_interruption_leaves_the_old_shop_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    lay_out(tmp_path / "shop", NOW)
    before = contents(tmp_path / "shop")
    real, count = getattr(Path, step), 0

    def interrupted(self: Path, *args: object, **kwargs: object) -> object:
        nonlocal count
        count += 1
        if count == {"rename": 2, "write_bytes": 9}[step]:
            raise KeyboardInterrupt
        return real(self, *args, **kwargs)

    monkeypatch.setattr(Path, step, interrupted)
    with pytest.raises(KeyboardInterrupt):
        lay_out(tmp_path / "shop", NOW.replace(day=20))
    monkeypatch.undo()
    assert contents(tmp_path / "shop") == before
    assert [path.name for path in tmp_path.iterdir()] == ["shop"]


def test_an_edit_that_finds_nothing_is_a_fault_of_ours() -> None:
    assert edited("a\nb\nc\n", (Edit("b", "B"),)) == ("a\nB\nc\n", 2)
    assert edited("a\nb\na\n", (Edit("a", None, "b"),)) == ("a\nb\n", 3)
    assert edited("a\nb\n", (Edit("b", "x", beside=True),)) == ("a\nx\nb\n", 2)
    assert edited("a\nb\nc\nd\n", (Edit("b", "x", until="d"),)) == ("a\nx\nd\n", 2)
    assert edited("a\nb\nc\nd\n", (Edit("b", None, until="d"),)) == ("a\nd\n", 2)
    with pytest.raises(ValueError, match="no line"):
        edited("a\n", (Edit("z", "y"),))
