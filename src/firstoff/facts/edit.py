"""Changing facts in the shop's files: in place, only if the shop that results can be read, only if the files still are the ones that were read.

Two processes of ours never change one folder at once (a lock on the folder itself, where the system has one); an editor that saves in
between is noticed and its text put back. A process that is killed leaves the old file or the new one, and at most a hidden part that the
next change takes away.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from firstoff.errors import Fault, InputError
from firstoff.facts.change import Change, Stated, all_stated, changes
from firstoff.facts.collect import Collected, collect
from firstoff.facts.fact import FactSet
from firstoff.facts.job import job_from
from firstoff.facts.keys import key_of as key_of
from firstoff.facts.keys import model_of
from firstoff.facts.lines import KeyPath
from firstoff.facts.replace_file import CHANGED, Replacement, folders_locked, replace_files
from firstoff.facts.rewrite import rewritten
from firstoff.facts.schema import JobFile
from firstoff.facts.shop import JOBS, MACHINE, MATERIALS, TOOLS, load_shop
from firstoff.facts.toml_file import TomlFile, read_toml
from firstoff.facts.validate import validated

_BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class Edit:
    """One key of one file to be set or removed."""

    file: str
    """Relative to the shop: ``machine.toml``, ``tools.toml``, ``materials.toml``, ``jobs/NAME/job.toml``."""
    key: KeyPath
    """As in the file; a zone is called by its name, a pocket by its number, a line of the tool table by its T, other elements by their place."""
    value: object | None
    """Text, number, truth, date, list or table as TOML has them; None removes the key, and the table or element with all that is in it."""


@dataclass(frozen=True, slots=True)
class _Old:
    """A file as it was read; None for one that is not there."""

    name: str
    path: Path
    data: bytes | None

    @property
    def sha256(self) -> str:
        return "" if self.data is None else hashlib.sha256(self.data).hexdigest()


def change_shop(folder: Path, edits: Sequence[Edit], *, read: Mapping[str, str] | None = None) -> tuple[Change, ...]:
    """Make all `edits` and return what they changed of the facts; paths of a job's facts begin with ``job``.

    `read` gives the sha256 (hex) that files must still have, by name; the empty one means "not there". All edits are made in memory and the
    shop that results is read and checked first. Raises `InputError` with nothing written if it has a fault, if a file is not the one that
    was read, or if one cannot be written; if the second of two files cannot be written, the first is put back as it was. Only a process that is killed
    between two files leaves one written and the other not: each of them is whole, and the difference shows as a change by hand.
    """
    names, jobs = _files_of(edits)
    with folders_locked({(folder / name).resolve().parent for name in names}):
        olds = {name: _read(folder, name) for name in dict.fromkeys((*_OF_SHOP, *names, *(read or {})))}
        _refuse_changed(olds, read or {})
        before = _stated(folder, {}, jobs, checked=False)
        news = _edited(olds, edits)
        after = _stated(folder, news, jobs, checked=True)
        replacements = [
            Replacement(olds[name].path, olds[name].data, new, name)
            for name, new in news.items()
            if new != olds[name].data
        ]
        replace_files(replacements)
    return changes(before, after)


def check_edits(folder: Path, edits: Sequence[Edit]) -> tuple[Change, ...]:
    """Raise `InputError` as `change_shop` would for what `edits` say, and write nothing; else what they would change."""
    names, jobs = _files_of(edits)
    olds = {name: _read(folder, name) for name in dict.fromkeys((*_OF_SHOP, *names))}
    after = _stated(folder, _edited(olds, edits), jobs, checked=True)
    return changes(_stated(folder, {}, jobs, checked=False), after)


_OF_SHOP = (MACHINE, TOOLS, MATERIALS)


def _files_of(edits: Sequence[Edit]) -> tuple[list[str], list[str]]:
    """(files that are edited, those of them that are a job's); one job at most."""
    names = list(dict.fromkeys(edit.file for edit in edits))
    for name in names:
        model_of(name)
    jobs = [name for name in names if name.startswith(f"{JOBS}/")]
    if len(jobs) > 1:
        raise InputError(Fault("one change is of one job at most", ", ".join(jobs), "the edits of one job.toml"))
    return names, jobs


def _read(folder: Path, name: str) -> _Old:
    path = folder / name
    try:
        return _Old(name, path.resolve(), path.read_bytes())
    except FileNotFoundError:
        if name in (TOOLS, MATERIALS):
            return _Old(name, path.resolve(), None)
        raise InputError(Fault("no such file", file=name)) from None
    except OSError as error:
        raise InputError(Fault(f"cannot be read: {error.strerror or error}", file=name)) from None


def _refuse_changed(olds: Mapping[str, _Old], read: Mapping[str, str]) -> None:
    faults = [Fault(CHANGED, file=name) for name, sha256 in read.items() if olds[name].sha256 != sha256]
    if faults:
        raise InputError(*faults)


def _edited(olds: Mapping[str, _Old], edits: Sequence[Edit]) -> dict[str, bytes]:
    """The new text of each file that is edited. Edits of one file are made in their order."""
    news: dict[str, bytes] = {}
    for edit in edits:
        data = news.get(edit.file, olds[edit.file].data or b"")
        bom = _BOM if data.startswith(_BOM) else b""
        text = data.removeprefix(bom).decode()
        try:
            text = rewritten(text, model_of(edit.file), edit.key, edit.value)
        except InputError as error:
            raise InputError(
                *(Fault(f.what, f.value, f.allowed, edit.file, f.line, f.do) for f in error.faults)
            ) from None
        news[edit.file] = bom + text.encode()
    return {name: new for name, new in news.items() if new or olds[name].data is not None}


def _stated(folder: Path, texts: Mapping[str, bytes], jobs: list[str], *, checked: bool) -> dict[str, Stated]:
    """All facts of the shop and of the job, with some files' text taken from memory; every fault is raised, of the job where it is `checked`."""
    shop = load_shop(folder, texts)
    told = all_stated(shop.facts)
    for name in jobs:
        toml = read_toml(folder / name, name, texts.get(name))
        if checked:
            job_from(toml, (folder / name).resolve().parent, shop)
        told |= all_stated(_own_facts(toml))
    return told


def _own_facts(toml: TomlFile) -> FactSet:
    faults: list[Fault] = []
    model = validated(JobFile, toml, faults)
    if model is None:
        raise InputError(*faults)
    collected = Collected()
    collect("job", model, toml, collected)
    return collected.fact_set()
