"""From the dotted path of a fact to the file and the key that hold it, by the models of `schema`."""

from __future__ import annotations

import difflib
import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from firstoff.errors import Fault, InputError
from firstoff.facts.check import OFFSETS
from firstoff.facts.collect import KEYED, SILENT, number_or_name
from firstoff.facts.lines import KeyPath
from firstoff.facts.materials import shipped_materials
from firstoff.facts.quantity import SAID_KEYS
from firstoff.facts.reads import Reads, unknown_key
from firstoff.facts.schema import JobFile, Machine, Materials, Table, Tools
from firstoff.facts.toml_file import read_toml
from firstoff.facts.validate import inner_table, keys_of

MODELS: dict[str, type[Table]] = {"machine": Machine, "tools": Tools, "materials": Materials, "job": JobFile}
"""The model of each file, by the first part of its facts' paths."""
_AXES = ("x", "y", "z")


@dataclass(frozen=True, slots=True)
class Spot:
    """What the schema says of one key."""

    sort: Literal["table", "names", "list", "value"]
    """A table of known keys, one of names that the shop gives, a list of tables, or anything that is one value."""
    table: type[Table] | None = None
    """The table itself, or that of each name or element."""
    reads: Reads | None = None
    """How the value is read, where it is a quantity."""

    @property
    def naming(self) -> str | None:
        """The key by which elements of this list are called."""
        return KEYED.get(self.table) if self.sort == "list" and self.table is not None else None

    def below(self, name: str | int) -> Spot | None:
        """What is said of a key of this one, or of an element; None where it is unknown."""
        if self.sort == "table" and self.table is not None:
            field = next((f for n, f in self.table.model_fields.items() if (f.alias or n) == name), None)
            return None if field is None else _spot(field)
        if self.sort in ("names", "list"):
            return Spot("value") if self.table is None else Spot("table", self.table)
        return Spot("value")


def _spot(field: Any) -> Spot:
    inner, held = inner_table(field.annotation)
    if inner is not None:
        sorts: dict[str, Literal["table", "names", "list"]] = {"one": "table", "names": "names", "list": "list"}
        return Spot(sorts[held], inner)
    if any(typing.get_origin(one) is dict for one in _inside(field.annotation)):
        return Spot("names")
    marks = (*field.metadata, *_inside(field.annotation))
    return Spot("value", None, next((mark for mark in marks if isinstance(mark, Reads)), None))


def _inside(annotation: Any) -> tuple[Any, ...]:
    """An annotation with everything that a union or a mark is made of."""
    if typing.get_origin(annotation) in (types.UnionType, typing.Union, typing.Annotated):
        return tuple(part for one in typing.get_args(annotation) for part in _inside(one))
    return (annotation,)


def model_of(file: str) -> Spot:
    """The whole of a shop's file, named relative to the shop. Raises `InputError` for a file that holds no facts."""
    root = "job" if file.startswith("jobs/") and file.endswith("/job.toml") else file.removesuffix(".toml")
    if root not in MODELS or (root == "job" and file.count("/") != 2):
        allowed = "machine.toml, tools.toml, materials.toml, jobs/NAME/job.toml"
        raise InputError(Fault("no such file of facts", file, allowed))
    return Spot("table", MODELS[root])


def key_of(shop_folder: Path, path: str, job: str | None = None) -> tuple[str, KeyPath]:
    """The file, relative to the shop, and the key whose value holds the fact at `path`.

    A range is one value: the key of ``machine.axis.x.travel.high`` is that of the range. A key that the file does not hold yet will do where
    the schema knows it; a name (of a tool, a zone, a pocket) must be there, unless the path ends with it. Paths below ``job`` need `job`.
    Raises `InputError` that names the nearest known key.
    """
    root = path.split(".")[0]
    if root not in MODELS:
        raise InputError(unknown_key(root, tuple(MODELS)))
    if root == "job" and job is None:
        raise InputError(Fault("a fact of which job", path, "the name of a job"))
    file = f"jobs/{job}/job.toml" if root == "job" else f"{root}.toml"
    there = (shop_folder / file).exists()
    if root == "job" and not there:
        raise InputError(
            Fault(
                "no such job",
                job or "",
                _nearest(job or "", [p.parent.name for p in shop_folder.glob("jobs/*/job.toml")]),
            )
        )
    values = read_toml(shop_folder / file, file).values if there else {}
    try:
        return file, key_within(values, root, path)
    except InputError as error:
        raise InputError(*(replace(fault, file=file) for fault in error.faults)) from None


def key_within(values: Mapping[str, object], root: str, path: str) -> KeyPath:
    """The key for `path`, which begins with `root`, in what the file of that root says. Raises `InputError` as `key_of` does."""
    parts = path.split(".")[1:]
    if not parts or "" in parts:
        raise InputError(Fault("this is no fact", path, "a path such as machine.axis.x.travel or tools.em6.LF"))
    return _key(_Walk(parts, (), Spot("table", MODELS[root]), values), root)


@dataclass(frozen=True, slots=True)
class _Walk:
    """How far a path is followed: parts still to go, the key so far, what the schema says of it and what the file holds there."""

    parts: list[str]
    key: KeyPath
    spot: Spot
    now: object

    def on(self, taken: int, name: str | int, now: object) -> _Walk:
        return _Walk(self.parts[taken:], (*self.key, name), self.spot.below(name) or Spot("value"), now)


def _key(walk: _Walk, root: str) -> KeyPath:
    walk = _first(walk, root)
    while walk.parts:
        if walk.spot.sort == "table":
            walk = _known(walk)
        elif walk.spot.sort == "names":
            walk = _named(walk, root)
        elif walk.spot.sort == "list":
            walk = _element(walk)
        else:
            return _in_value(walk)
    return walk.key


def _first(walk: _Walk, root: str) -> _Walk:
    """Over the table whose name is no part of a path: ``tools.em6.DC`` is ``[tool.em6] DC``."""
    silent = SILENT.get(root)
    keys = keys_of(MODELS[root])
    if silent is None or (walk.parts[0] in keys and walk.parts[0] != silent):
        return walk
    inner = walk.spot.below(silent)
    if inner is None or inner.sort != "table" or inner.table is None:
        return walk.on(0, silent, _get(walk.now, silent))
    if walk.parts[0] not in keys_of(inner.table):
        raise InputError(unknown_key(walk.parts[0], (*(key for key in keys if key != silent), *keys_of(inner.table))))
    return walk.on(0, silent, _get(walk.now, silent))


def _known(walk: _Walk) -> _Walk:
    name = walk.parts[0]
    if walk.spot.below(name) is None:
        assert walk.spot.table is not None
        raise InputError(unknown_key(name, keys_of(walk.spot.table)))
    return walk.on(1, name, _get(walk.now, name))


def _named(walk: _Walk, root: str) -> _Walk:
    """A name that the shop gave; one with a point in it (G59.1) takes two parts."""
    there = {number_or_name(str(name)): str(name) for name in (walk.now if isinstance(walk.now, Mapping) else {})}
    known = _names_known(root, walk.key)
    for taken in (2, 1):
        name = number_or_name(".".join(walk.parts[:taken]))
        if len(walk.parts) >= taken and (name in there or name in known):
            return walk.on(taken, there.get(name, name), _get(walk.now, there.get(name, name)))
    name = walk.parts[0]
    if len(walk.parts) > 1 and walk.spot.table is not None:
        raise InputError(Fault(f"no such {walk.key[-1]}", name, _nearest(name, [*there, *known])))
    return walk.on(len(walk.parts), ".".join(walk.parts), None)


def _names_known(root: str, key: KeyPath) -> tuple[str, ...]:
    """Names that need not stand in the file to be meant."""
    if root == "materials":
        return tuple(shipped_materials()[0].material or ())
    return OFFSETS if key == ("offset",) else ()


def _element(walk: _Walk) -> _Walk:
    part, naming = walk.parts[0], walk.spot.naming
    elements = list(walk.now) if isinstance(walk.now, list) else []
    names = [_get(element, naming) if naming else number for number, element in enumerate(elements)]
    for name, element in zip(names, elements, strict=True):
        if str(name) == number_or_name(part):
            assert isinstance(name, str | int)
            return walk.on(1, name, element)
    new = naming == "name" or part.isdecimal()
    if len(walk.parts) > 1 or not new or (naming is None and int(part) != len(elements)):
        raise InputError(Fault(f"no such {walk.key[-1]}", part, _nearest(part, [str(name) for name in names])))
    return walk.on(1, part if naming == "name" else int(part), None)


def _in_value(walk: _Walk) -> KeyPath:
    """The key of a part of one value: an element of a place or of a list of rows has one of its own, the end of a range has none."""
    reads, parts = walk.spot.reads, walk.parts
    if reads is None:
        raise InputError(
            Fault("this is one value", ".".join([*map(str, walk.key), *parts]), ".".join(map(str, walk.key)))
        )
    extra = tuple(name for name, _ in reads.extra)
    columns = tuple(name for name, _ in reads.kinds)
    if len(parts) == 1 and parts[0] in (*SAID_KEYS, *extra):
        return (*walk.key, parts[0])
    if reads.form == "range" and len(parts) == 1 and parts[0] in ("low", "high"):
        return walk.key
    if reads.form in ("place", "one or axes") and len(parts) == 1 and parts[0] in _AXES:
        return (*walk.key, _AXES.index(parts[0]))
    if (
        reads.form == "box"
        and parts[0] in _AXES
        and (len(parts) == 1 or (len(parts) == 2 and parts[1] in ("low", "high")))
    ):
        return (*walk.key, _AXES.index(parts[0]))
    if reads.form == "rows" and parts[0].isdecimal() and (len(parts) == 1 or (len(parts) == 2 and parts[1] in columns)):
        return (*walk.key, int(parts[0]), *((columns.index(parts[1]),) if len(parts) == 2 else ()))
    forms = {"range": ("low", "high"), "place": _AXES, "box": _AXES, "one or axes": _AXES, "rows": ("0", *columns)}
    raise InputError(unknown_key(parts[-1], (*forms.get(reads.form, ()), *SAID_KEYS, *extra)))


def _get(table: object, name: str | int) -> Any:
    return table.get(name) if isinstance(table, Mapping) else None


def _nearest(name: str, known: list[str]) -> str:
    near = difflib.get_close_matches(name, known, n=3, cutoff=0.4)
    return "nearest: " + ", ".join(near) if near else "one of: " + (", ".join(known) or "none yet")
