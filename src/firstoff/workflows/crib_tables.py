"""Tools in and out as a table, and the control's own tables held against the shop."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from firstoff.changer.control_table import (
    Difference,
    against_offsets,
    against_tools,
    mapping,
    read_offsets,
    read_tools,
)
from firstoff.changer.crib_edits import Done
from firstoff.changer.symbols import tool_edits, tools_csv
from firstoff.errors import Fault, InputError
from firstoff.facts.change import Change
from firstoff.facts.edit import Edit, change_shop
from firstoff.facts.gripped import as_gripped
from firstoff.facts.job import JOB, own_facts
from firstoff.facts.quantity import format_quantity
from firstoff.facts.shop import JOBS, MACHINE, MATERIALS, TOOLS, load_shop
from firstoff.interrupts import whole
from firstoff.workflows.book import ShopBook, notice
from firstoff.workflows.crib import CribChanged, do

GREATEST_TABLE = 4_000_000
"""Bytes of a table that is read: a rack's is some kilobytes."""


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


def import_tools(shop: ShopBook, table: Path, *, look: bool = False, why: str = "") -> CribChanged:
    """Set in tools.toml what a table says and the shop does not; with `look`, only say what would change."""
    text = _text(table)
    if not look:
        return do(shop, lambda _: Done(tool_edits(text, load_shop(shop.folder).facts, table.name)), why)
    noticed = notice(shop)
    edits = tool_edits(text, load_shop(shop.folder).facts, table.name)
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

    def set_words(self, one: Difference) -> tuple[str, ...]:
        """The command that makes the shop agree with the control; empty where there is none."""
        if not one.path:
            return ()
        own = ("--job", self.job) if one.path.startswith("job.") and self.job else ()
        if one.value_mm is None:
            return ("firstoff", "crib", "load", one.tool or "", str(one.control))
        value = format_quantity(round(one.value_mm, 6), 0.0, "mm")
        return ("firstoff", "set", one.path, value, *own)


def compare(folder: Path, how: Path, tools: Path | None, offsets: Path | None, job: str | None) -> Compared:
    """Hold the control's tool table, and its offsets for a job, against the shop. Raises `InputError` for what cannot be read."""
    said = mapping(_text(how), how.name)
    if tools is None and offsets is None:
        raise InputError(Fault("there is nothing to compare", "", "--tools FILE, or --offsets FILE with --job NAME"))
    lines = 0
    found: list[Difference] = []
    if tools is not None:
        if said.tools is None:
            raise InputError(Fault("the mapping does not say how a tool table is read", "", "[tools]", how.name))
        table = read_tools(_text(tools), said.tools, tools.name)
        lines += len(table)
        found += against_tools(table, as_gripped(load_shop(folder).facts))
    if offsets is not None:
        if said.offsets is None:
            raise InputError(Fault("the mapping does not say how an offset table is read", "", "[offsets]", how.name))
        if job is None:
            raise InputError(Fault("the offsets of which job", "", "--job NAME"))
        file = folder / JOBS / job / JOB
        if not file.is_file():
            raise InputError(Fault("no such job", job, "a name under jobs/"))
        rows = read_offsets(_text(offsets), said.offsets, offsets.name)
        lines += len(rows)
        found += against_offsets(rows, own_facts(file, f"{JOBS}/{job}/{JOB}"))
    found.sort(key=lambda one: (one.danger, -abs(one.apart_mm or 0.0)))
    return Compared(lines, tuple(found), job)


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
