"""From the models of `schema` to facts and settings by dotted path, each with the place in the file that it came from."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from firstoff.facts.fact import Fact, FactSet, Setting, Where
from firstoff.facts.lines import KeyPath
from firstoff.facts.quantity import Quantity, Range
from firstoff.facts.reads import Axes, Constant, Rows
from firstoff.facts.schema import Pocket, Register, Source, Table, Zone
from firstoff.facts.toml_file import TomlFile

KEYED: dict[type[Table], str] = {Zone: "name", Pocket: "number", Register: "T"}
"""Elements of these lists are named by a key of theirs; all others by their number from 0."""

SILENT = {"machine": "shop", "tools": "tool", "materials": "material"}
"""The table of each file whose name is not part of a path: ``tools.em6.DC``, not ``tools.tool.em6.DC``."""


_PAPERS = "publication"
_NO_FACTS: tuple[type[Table], ...] = (Source,)
"""What a constant rests on is for reading, not for reckoning."""


@dataclass(slots=True)
class Collected:
    """Facts and settings on their way into a `FactSet`."""

    facts: dict[str, Fact] = field(default_factory=dict)
    settings: dict[str, Setting] = field(default_factory=dict)

    def fact_set(self) -> FactSet:
        return FactSet(self.facts, self.settings)

    def add(self, path: str, quantity: Quantity, where: Where) -> None:
        self.facts[path] = Fact(
            path, quantity.value, quantity.u, quantity.unit, quantity.df, quantity.shape, quantity.evidence,
            quantity.note, quantity.on, where,
        )  # fmt: skip


def collect(root: str, model: Table, file: TomlFile, into: Collected) -> None:
    """Add everything that `model` says to `into`, below the path `root` (``machine``, ``tools``, ``materials``, ``job``)."""
    for name, spec in type(model).model_fields.items():
        key = spec.alias or name
        if key == _PAPERS:
            continue
        path = root if SILENT.get(root) == key else f"{root}.{key}"
        _any(path, getattr(model, name), (key,), file, into)


def _any(path: str, value: object, key: KeyPath, file: TomlFile, into: Collected) -> None:
    where = file.where(key)
    if value is None:
        return
    if isinstance(value, Quantity):
        into.add(path, value, where)
    elif isinstance(value, Range):
        into.add(f"{path}.low", value.low, where)
        into.add(f"{path}.high", value.high, where)
    elif isinstance(value, Axes):
        for number, axis in enumerate("xyz"):
            _any(f"{path}.{axis}", getattr(value, axis), (*key, number), file, into)
    elif isinstance(value, Constant):
        into.add(path, value.main, where)
        for name, extra in value.extra.items():
            into.add(f"{path}.{name}", extra, file.where((*key, name)))
    elif isinstance(value, Rows):
        _rows(path, value, key, file, into)
    elif isinstance(value, Table):
        for name, spec in type(value).model_fields.items():
            written = spec.alias or name
            _any(f"{path}.{written}", getattr(value, name), (*key, written), file, into)
    elif isinstance(value, dict):
        for name, inner in value.items():
            _any(f"{path}.{number_or_name(name)}", inner, (*key, name), file, into)
    elif isinstance(value, tuple):
        _list(path, value, key, file, into)
    elif isinstance(value, str | bool | int | datetime):
        into.settings[path] = Setting(path, value, where)


def _rows(path: str, rows: Rows, key: KeyPath, file: TomlFile, into: Collected) -> None:
    for number, row in enumerate(rows.rows):
        for column, cell in zip(rows.columns, row, strict=True):
            into.add(f"{path}.{number}.{column}", cell, file.where((*key, number)))
    for name, extra in rows.extra.items():
        into.add(f"{path}.{name}", extra, file.where((*key, name)))


def _list(path: str, values: tuple[object, ...], key: KeyPath, file: TomlFile, into: Collected) -> None:
    if all(isinstance(value, str) for value in values):
        words = tuple(value for value in values if isinstance(value, str))
        into.settings[path] = Setting(path, words, file.where(key))
        return
    for number, value in enumerate(values):
        if isinstance(value, _NO_FACTS):
            continue
        naming = KEYED.get(type(value)) if isinstance(value, Table) else None
        name = getattr(value, naming) if naming else number
        _any(f"{path}.{name}", value, (*key, number), file, into)


def number_or_name(name: str) -> str:
    """Numbers are written without leading zeros in a path: T03 and T3 are one tool."""
    return str(int(name)) if name.isdecimal() else name
