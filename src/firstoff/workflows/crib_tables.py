"""Tools in and out as a table, and the control's own tables held against the shop."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from firstoff.changer.control_table import (
    Difference,
    against_offsets,
    against_tools,
    mapping,
    read_offsets,
    read_tools,
)
from firstoff.changer.crib import Crib, crib_of
from firstoff.changer.crib_edits import Done, load, swap
from firstoff.changer.symbols import tool_edits, tools_csv
from firstoff.errors import Fault, InputError
from firstoff.facts.change import Change
from firstoff.facts.edit import Edit, change_shop
from firstoff.facts.fact import Evidence, Fact, FactSet
from firstoff.facts.gripped import as_gripped
from firstoff.facts.job import JOB, own_facts
from firstoff.facts.quantity import format_quantity
from firstoff.facts.shop import JOBS, MACHINE, MATERIALS, TOOLS, load_shop
from firstoff.interrupts import whole
from firstoff.workflows.book import ShopBook, notice
from firstoff.workflows.crib import CribChanged, do

GREATEST_TABLE = 4_000_000
"""Bytes of a table that is read: a rack's is some kilobytes."""
LENGTH = ".LF"
"""What a fact's path ends with that is a tool's length: set by hand it would no longer be a measured one."""


def export_tools(folder: Path, out: Path | None) -> str:
    """All tools of a shop as comma-separated values; into a new file where one is named, whole or not at all."""
    text = tools_csv(load_shop(folder).facts)
    if out is not None:
        if out.exists():
            raise InputError(Fault("there is such a file already", str(out), "a new file"))
        if not out.resolve().parent.is_dir():
            raise InputError(Fault("there is no such folder to write into", str(out.parent)))
        part = out.with_name(f".{out.name}.{os.getpid()}")
        try:
            with whole():
                part.write_text(text, encoding="utf-8")
                part.replace(out)
        except OSError as error:
            part.unlink(missing_ok=True)
            raise InputError(Fault(f"cannot be written: {error.strerror or error}", str(out))) from None
    return text


def import_tools(shop: ShopBook, table: Path, *, look: bool = False, sure: bool = False, why: str = "") -> CribChanged:
    """Set in tools.toml what a table says and the shop does not; with `look`, only say what would change. What was measured is not replaced
    by a plain value unless somebody is `sure`."""
    text = _text(table)
    if not look:
        return do(shop, lambda _: Done(tool_edits(text, load_shop(shop.folder).facts, table.name, sure=sure)), why)
    noticed = notice(shop)
    edits = tool_edits(text, load_shop(shop.folder).facts, table.name, sure=sure)
    changed = _on_a_copy(shop.folder, edits) if edits else ()
    return CribChanged(tuple(("", one) for one in changed), noticed, ())


def _on_a_copy(folder: Path, edits: Sequence[Edit]) -> tuple[Change, ...]:
    """What edits would change: made, with every check, where nobody sees it."""
    with tempfile.TemporaryDirectory() as place:
        for name in (MACHINE, TOOLS, MATERIALS):
            if (folder / name).exists():
                shutil.copyfile(folder / name, Path(place) / name)
        return change_shop(Path(place), edits)


@dataclass(frozen=True, slots=True)
class Compared:
    """The control's tables held against the shop."""

    lines: int
    """Lines of the control's tables that say something."""
    differences: tuple[Difference, ...]
    job: str | None
    commands: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    """The command that makes the shop agree with the control, by the place of its difference in `differences`: none that would be refused, and
    none for a length, that is only ever measured again. What is set stands first, options after it."""

    def set_words(self, one: Difference) -> tuple[str, ...]:
        """The command that makes the shop agree with the control; empty where there is none."""
        return self.commands.get(self.differences.index(one), ())

    def typed(self, one: Difference) -> tuple[str, ...]:
        """The same as it is typed: options first, and nothing after them taken for one."""
        words = self.set_words(one)
        if words[:2] != ("firstoff", "set"):
            return words
        path, value, *own = words[2:]
        return (*words[:2], *own, *(("--",) if value.startswith("-") else ()), path, value)

    def measure_words(self, one: Difference) -> tuple[str, ...]:
        """The command that measures a length again; empty for what is no length."""
        if not one.path.endswith(LENGTH) or one.tool is None:
            return ()
        return ("firstoff", "crib", "length", one.tool, "READING...")


def _moves(crib: Crib, differences: Sequence[Difference]) -> dict[int, tuple[str, ...]]:
    """Commands that move tools to where the control has them. Each is tried first, on nothing that is written; two tools that are in each
    other's pockets change places once."""
    found: dict[int, tuple[str, ...]] = {}
    swapped: set[frozenset[str]] = set()
    for place, one in enumerate(differences):
        if not one.path or one.value_mm is not None or one.tool is None or not isinstance(one.control, int):
            continue
        held = crib.rack.held.get(one.control)
        pair = frozenset((one.tool, held or one.tool))
        if pair in swapped:
            continue
        with contextlib.suppress(InputError):
            if held in (None, one.tool):
                load(crib, one.tool, one.control)
                found[place] = ("firstoff", "crib", "load", one.tool, str(one.control))
            elif held is not None:
                swap(crib, one.tool, held)
                found[place] = ("firstoff", "crib", "swap", one.tool, held)
                swapped.add(pair)
    return found


def _sets(
    folder: Path, job: str | None, facts: FactSet, differences: Sequence[Difference]
) -> dict[int, tuple[str, ...]]:
    """Commands that set a diameter or a place of the work zero. What was measured keeps its evidence and its doubt, to be read before it is
    typed; what shares both with its neighbours is set with them."""
    found: dict[int, tuple[str, ...]] = {}
    said = {one.path: one.value_mm for one in differences if one.value_mm is not None}
    for place, one in enumerate(differences):
        if one.value_mm is None or not one.path or one.path.endswith(LENGTH):
            continue
        of_job = one.path.startswith("job.")
        path, fact = one.path, facts.facts[one.path]
        value = _figure_of(one.value_mm, fact)
        if of_job and job is not None and _as_one(folder, job, one.path):
            path = one.path.rpartition(".")[0]
            every = [facts.facts[f"{path}.{axis}"] for axis in "xyz"]
            value = ", ".join(f'"{_figure_of(said.get(each.path, each.value), each)}"' for each in every)
            value = f"[{value}]"
        evidence = () if fact.evidence is Evidence.ASSUMED else ("--evidence", fact.evidence.value)
        own = ("--job", job) if of_job and job is not None else ()
        found[place] = ("firstoff", "set", path, value, *own, *evidence)
    return found


def _figure_of(value_mm: float, fact: Fact) -> str:
    """A value with the doubt that the shop has of what it would replace; without any where nobody measured it."""
    u_mm = 0.0 if fact.evidence in (Evidence.ASSUMED, Evidence.SET) else fact.u
    return format_quantity(round(value_mm, 6), u_mm, "mm")


def _as_one(folder: Path, job: str, path: str) -> bool:
    """Whether a job says evidence and date of a place once for x, y and z."""
    name = path.split(".")[2]
    said = tomllib.loads(_text(folder / JOBS / job / JOB)).get("offset", {}).get(name, {})
    return isinstance(said.get("at"), dict)


def compare(folder: Path, how: Path, tools: Path | None, offsets: Path | None, job: str | None) -> Compared:
    """Hold the control's tool table, and its offsets for a job, against the shop. Raises `InputError` for what cannot be read."""
    said = mapping(_text(how), how.name)
    if tools is None and offsets is None:
        raise InputError(Fault("there is nothing to compare", "", "--tools FILE, or --offsets FILE with --job NAME"))
    facts = load_shop(folder).facts
    own = FactSet()
    lines = 0
    found: list[Difference] = []
    if tools is not None:
        if said.tools is None:
            raise InputError(Fault("the mapping does not say how a tool table is read", "", "[tools]", how.name))
        table = read_tools(_text(tools), said.tools, tools.name)
        _refuse_unread(table, "lines with T or H and a length or a diameter other than 0", tools.name, "[tools]")
        lines += len(table)
        found += against_tools(table, as_gripped(facts))
    if offsets is not None:
        if said.offsets is None:
            raise InputError(Fault("the mapping does not say how an offset table is read", "", "[offsets]", how.name))
        if job is None:
            raise InputError(Fault("the offsets of which job", "", "--job NAME"))
        file = folder / JOBS / job / JOB
        if not file.is_file():
            raise InputError(Fault("no such job", job, "a name under jobs/"))
        rows = read_offsets(_text(offsets), said.offsets, offsets.name)
        _refuse_unread(rows, "lines that name one of G54 to G59.3, with x, y and z", offsets.name, "[offsets]")
        lines += len(rows)
        own = own_facts(file, f"{JOBS}/{job}/{JOB}")
        found += against_offsets(rows, own)
    found.sort(key=lambda one: (one.danger, -abs(one.apart_mm or 0.0)))
    every = replace(facts, facts={**facts.facts, **own.facts})
    return Compared(lines, tuple(found), job, _moves(crib_of(facts), found) | _sets(folder, job, every, found))


def _refuse_unread(rows: Sequence[object], needs: str, file: str, section: str) -> None:
    """A table of which nothing could be read says nothing, least of all that all tools are gone."""
    if not rows:
        do = f"Look at {section} of the mapping: layout, delimiter, skip_lines, and where each figure stands."
        raise InputError(Fault("no line could be read with this mapping", "", needs, file, do=do))


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > GREATEST_TABLE:
            raise InputError(
                Fault("the file is too big for a table", f"{path.stat().st_size} bytes", "4 MB", str(path))
            )
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(Fault("not text in UTF-8", "", "text in UTF-8", str(path))) from None
    except OSError as error:
        raise InputError(Fault(f"cannot be read: {error.strerror or error}", file=str(path))) from None
