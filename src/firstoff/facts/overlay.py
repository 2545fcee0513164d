"""What if: facts laid over those of the shop's files before they are read, from a file of their own or a command line. No file is changed.

A what-if file names itself and says what would be otherwise, in tables named by file and key::

    name = "a stiffer holder for em6"
    remove = ["machine.frame.first_mode"]
    [tools.em6]
    holder_stiffness = { value = "25(3) N/µm", evidence = "plate" }
    [job.ask]
    target_band = "0.05 mm"

A table is laid over the table of its name key by key, a zone by its `name`, a pocket by its `number`, a line of the tool table by its `T`; any
other value takes the place of the old one, with its doubt and its evidence as written here. `[job...]` holds for every job.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from firstoff.errors import Fault, InputError
from firstoff.facts.collect import SILENT, number_or_name
from firstoff.facts.fact import Where
from firstoff.facts.keys import MODELS, Spot, key_within
from firstoff.facts.lines import KeyPath, line_of
from firstoff.facts.reads import unknown_key
from firstoff.facts.toml_file import TomlFile, read_toml
from firstoff.facts.validate import keys_of

NAME, REMOVE = "name", "remove"
SET = "--set"
KNOWN = (NAME, REMOVE, *MODELS)
ENDS = ("low", "high")
SEPARATOR = ".."
WHOLE = {"tool": ("kind", "DC", "LF"), "material": ("kc",), "zone": ("box",), "pocket": ("at",)}
"""What a thing that the shop does not have is told by at least; less than that is a name that was spelt wrong."""
_NAMING = {"tool": r"tools\.pocket\.\d+\.tool|job\.tools\.\d+", "material": r"job\.material"}
"""Facts that name a tool or a material: one that nothing of the what-if names is asked for by nobody."""
ALIKE = 0.6
"""From which likeness of two names on one is taken for the other spelt wrong: the usual cutoff of Python's difflib."""


@dataclass(frozen=True, slots=True)
class Set:
    """One fact as a command line says it."""

    path: str
    value: object

    @property
    def where(self) -> Where:
        return Where(f"{SET} {self.path}")


@dataclass(frozen=True, slots=True)
class LaidOver(TomlFile):
    """A file with a what-if over it: what the what-if says, or removes, has its place there."""

    over: Mapping[KeyPath, Where] = field(default_factory=dict)
    lines_over: Mapping[KeyPath, tuple[TomlFile, KeyPath]] = field(default_factory=dict)

    def where(self, path: KeyPath) -> Where:
        for length in range(len(path), 0, -1):
            key = path[:length]
            if key in self.over:
                return self.over[key]
            if key in self.lines_over:
                file, at = self.lines_over[key]
                return Where(file.name, line_of(file.lines, (*at, *path[length:])))
        return Where(self.name, line_of(self.lines, path))

    def fault(self, path: KeyPath, what: str, value: str = "", allowed: str = "", do: str = "") -> Fault:
        where = self.where(path)
        return Fault(what, value, allowed, where.file, where.line, do)


@dataclass(frozen=True, slots=True)
class Overlay:
    """Everything that would be otherwise."""

    name: str
    """What the change is called."""
    file: TomlFile | None = None
    sets: tuple[Set, ...] = ()

    def over(self, toml: TomlFile, root: str) -> TomlFile:
        """A shop's file, or a job's, as it would be; `root` is what its facts' paths begin with. Raises `InputError`."""
        laying = _Laying()
        values = dict(toml.values)
        if self.file is not None:
            part = self.file.values.get(root, {})
            if not isinstance(part, Mapping):
                raise InputError(self.file.fault((root,), f"{root}: this must be a table", str(part), f"[{root}. ...]"))
            values = _laid(values, part, root, laying, self.file)
            for number, path in enumerate(self._removed(root)):
                values = _without(values, root, path, self.file.where((REMOVE, number)), laying)
        for one in self.sets:
            if one.path.split(".")[0] == root:
                values = _with(values, root, one, laying)
        return LaidOver(toml.name, values, toml.lines, toml.read, laying.over, laying.lines_over)

    def speaks_of(self, root: str) -> bool:
        """Whether anything is said of a file."""
        said = self.file is not None and (root in self.file.values or any(self._removed(root)))
        return said or any(one.path.split(".")[0] == root for one in self.sets)

    def _removed(self, root: str) -> list[str]:
        paths = self.file.values.get(REMOVE, []) if self.file is not None else []
        return [path for path in paths if path.split(".")[0] == root] if isinstance(paths, list) else []


@dataclass(frozen=True, slots=True)
class Newcomer:
    """A tool, material, zone or pocket that a what-if adds."""

    kind: str
    name: str
    said: Mapping[str, Any]
    key: KeyPath
    """Where the what-if says it."""


def newcomers(overlay: Overlay, there: Mapping[str, Sequence[str]]) -> tuple[Newcomer, ...]:
    """What a what-if's file adds to the names that the shop has, told by kind as in `WHOLE`. A command line cannot add any."""
    known = {kind: {str(number_or_name(name)) for name in names} for kind, names in there.items()}
    return tuple(one for one in _things(overlay) if str(number_or_name(one.name)) not in known[one.kind])


def strangers(overlay: Overlay, there: Mapping[str, Sequence[str]]) -> list[Fault]:
    """Names of a what-if that the shop does not have and that are no new thing either: half told, named by nothing, or a zone's name spelt wrong."""
    faults = []
    for one in newcomers(overlay, there):
        missing = [key for key in WHOLE[one.kind] if key not in one.said]
        unnamed = one.kind in _NAMING and one.name not in _named(overlay, one.kind)
        near = difflib.get_close_matches(one.name, there[one.kind], n=3, cutoff=0.3 if missing or unnamed else ALIKE)
        if missing or unnamed or (one.kind == "zone" and near):
            assert overlay.file is not None
            what = f"the what-if adds a {one.kind} {one.name} that the shop does not have"
            allowed = "nearest: " + ", ".join(near) if near else "one of: " + ", ".join(there[one.kind])
            faults.append(overlay.file.fault(one.key, what, "", allowed, _to_be_new(one.kind)))
    return faults


def _to_be_new(kind: str) -> str:
    whole = _listed(WHOLE[kind])
    if kind == "tool":
        return f"A new tool is told with {whole}, and put into a pocket, or into [job.tools], by the same what-if."
    if kind == "material":
        return f"A new material is told with {whole}, and named by [job] material in the same what-if."
    return f"A new {kind} is told with {whole}" + (" and a name unlike those there are." if kind == "zone" else ".")


def _listed(keys: Sequence[str]) -> str:
    """``kind, DC and LF``."""
    return ", ".join(keys[:-1]) + " and " + keys[-1] if len(keys) > 1 else keys[0]


def _things(overlay: Overlay) -> Iterator[Newcomer]:
    """All tools, materials, zones and pockets of a what-if's file."""
    values = overlay.file.values if overlay.file is not None else {}
    for root, kind in (("tools", "tool"), ("materials", "material")):
        part = _table(values.get(root))
        beneath = {name: said for name, said in part.items() if name not in keys_of(MODELS[root])}
        for key, names in (((root, kind), _table(part.get(kind))), ((root,), beneath)):
            for name, said in names.items():
                if isinstance(said, Mapping):
                    yield Newcomer(kind, name, said, (*key, name))
    for root, kind, naming in (("machine", "zone", "name"), ("tools", "pocket", "number")):
        elements = _table(values.get(root)).get(kind)
        for number, said in enumerate(elements if isinstance(elements, list) else []):
            if isinstance(said, Mapping) and naming in said:
                yield Newcomer(kind, str(said[naming]), said, (root, kind, number))


def _table(value: object) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}


def _named(overlay: Overlay, kind: str) -> set[str]:
    """Tools that some pocket or job of a what-if names, or materials that its jobs do."""
    found = {str(one.value) for one in overlay.sets if re.fullmatch(_NAMING[kind], one.path)}
    job = _table(overlay.file.values.get("job")) if overlay.file is not None else {}
    if kind == "material":
        return found | {str(job.get("material"))}
    pockets = [one.said for one in _things(overlay) if one.kind == "pocket"]
    return (
        found | {str(said.get("tool")) for said in pockets} | {str(name) for name in _table(job.get("tools")).values()}
    )


def load_overlay(path: Path | None, sets: Sequence[str] = ()) -> Overlay:
    """A what-if from its file, from a command line (``PATH=VALUE``, each), or from both: the command line is laid over the file.

    Raises `InputError`; what does not fit the shop's files shows when it is laid over them.
    """
    spoken = tuple(_set(text) for text in sets)
    if path is None:
        return Overlay(", ".join(f"{one.path} = {one.value}" for one in spoken), None, spoken)
    file = read_toml(path, path.name)
    faults = [file.fault((key,), *_unknown(key)) for key in file.values if key not in KNOWN]
    if not isinstance(file.values.get(NAME, ""), str):
        faults.append(file.fault((NAME,), "name: this must be text in quotes", str(file.values[NAME]), 'name = "..."'))
    faults += _paths_to_remove(file)
    if faults:
        raise InputError(*sorted(faults, key=lambda fault: fault.line or 0))
    return Overlay(str(file.values.get(NAME, path.stem)), file, spoken)


def _unknown(key: str) -> tuple[str, str, str]:
    fault = unknown_key(key, KNOWN)
    return fault.what, fault.value, fault.allowed


def _paths_to_remove(file: TomlFile) -> list[Fault]:
    paths = file.values.get(REMOVE, [])
    allowed = 'a list of paths, such as ["machine.frame.first_mode"]'
    if not isinstance(paths, list) or not all(isinstance(path, str) for path in paths):
        return [file.fault((REMOVE,), f"{REMOVE}: this must be {allowed}", str(paths), allowed)]
    return [
        file.fault((REMOVE, number), f"{REMOVE}: no fact begins like this", path, ", ".join(MODELS))
        for number, path in enumerate(paths)
        if path.split(".")[0] not in MODELS
    ]


def _set(text: str) -> Set:
    path, equals, value = text.partition("=")
    path, value = path.strip(), value.strip()
    if not equals or not path or not value:
        allowed = 'PATH=VALUE, such as "machine.spindle.stiffness=20(2) N/µm"'
        raise InputError(Fault(f"{SET} cannot be read", text, allowed))
    root = path.split(".")[0]
    if root not in MODELS:
        raise InputError(replace(unknown_key(root, tuple(MODELS)), what=f"{SET}: no fact begins like this"))
    return Set(path, _as_toml(value))


def _as_toml(value: str) -> object:
    """TOML where it is TOML, else text: quotes need not be typed."""
    try:
        return tomllib.loads(f"value = {value}")["value"]
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        return value


Spoken = Mapping[str, tuple[KeyPath, Any]]
"""What is said of the keys of one table, each with its own place in the what-if."""


def _laid(
    values: dict[str, Any], part: Mapping[str, Any], root: str, laying: _Laying, file: TomlFile
) -> dict[str, Any]:
    """A file's values with a table of the what-if over them; its keys may be those of the file or of paths: ``tools.em6`` is ``tool.em6``."""
    whole, silent = Spot("table", MODELS[root]), SILENT.get(root)
    inner = whole.below(silent) if silent is not None else None
    spoken = {name: ((root, name), value) for name, value in part.items()}
    beneath: dict[str, tuple[KeyPath, Any]] = {}
    if inner is not None:
        known = keys_of(MODELS[root])
        beneath = {name: said for name, said in spoken.items() if name not in known and _fits(inner, name, said[1])}
    direct = {name: said for name, said in spoken.items() if name not in beneath}
    values = laying.merged(values, direct, whole, (), file)
    if beneath and inner is not None and silent is not None:
        values[silent] = laying.merged(values.get(silent, {}), beneath, inner, (silent,), file)
    return values


def _fits(inner: Spot, name: str, value: object) -> bool:
    return isinstance(value, Mapping) if inner.sort == "names" else inner.below(name) is not None


class _Laying:
    """Lays tables over each other and notes where each key that came over stands."""

    def __init__(self) -> None:
        self.over: dict[KeyPath, Where] = {}
        self.lines_over: dict[KeyPath, tuple[TomlFile, KeyPath]] = {}

    def merged(
        self, base: Mapping[str, Any], spoken: Spoken, spot: Spot, key: KeyPath, file: TomlFile
    ) -> dict[str, Any]:
        """A table with what is spoken over it."""
        result = dict(base)
        for said, (at, value) in spoken.items():
            name = _called(result, said) if spot.sort == "names" else said
            below = spot.below(name) or Spot("value")
            result[name] = self._one(result.get(name), value, below, (*key, name), file, at)
        return result

    def _one(self, base: Any, value: Any, spot: Spot, key: KeyPath, file: TomlFile, at: KeyPath) -> Any:
        if spot.sort in ("table", "names") and isinstance(value, Mapping) and isinstance(base, Mapping):
            spoken = {name: ((*at, name), inner) for name, inner in value.items()}
            return self.merged(base, spoken, spot, key, file)
        if spot.naming is not None and isinstance(value, list) and isinstance(base, list):
            return self._elements(base, value, spot, key, file, at)
        self.lines_over[key] = (file, at)
        return value

    def _elements(
        self, base: list[Any], value: list[Any], spot: Spot, key: KeyPath, file: TomlFile, at: KeyPath
    ) -> Any:
        result = list(base)
        for number, element in enumerate(value):
            place = _place_of(result, element, spot.naming or "")
            inner = spot.below(number) or Spot("value")
            if place is None:
                result.append(element)
                self.lines_over[(*key, len(result) - 1)] = (file, (*at, number))
            else:
                result[place] = self._one(result[place], element, inner, (*key, place), file, (*at, number))
        return result


def _called(table: Mapping[str, Any], name: str) -> str:
    """The key of a table of names that means the same: T03 is T3."""
    return next((key for key in table if number_or_name(key) == number_or_name(name)), name)


def _place_of(elements: Sequence[Any], element: Any, naming: str) -> int | None:
    wanted = element.get(naming) if isinstance(element, Mapping) else element
    names = [one.get(naming) if isinstance(one, Mapping) else None for one in elements]
    return next((place for place, name in enumerate(names) if name is not None and str(name) == str(wanted)), None)


# ---- one key -------------------------------------------------------------------------------------------------------


def _without(values: Mapping[str, Any], root: str, path: str, where: Where, laying: _Laying) -> dict[str, Any]:
    """The values without one key. A job that never had it is as good as one that lost it; of the shop's own it must be there."""
    try:
        key = key_within(values, root, path)
        found = _gone(values, key, Spot("table", MODELS[root]))
    except InputError as error:
        if root == "job":
            return dict(values)
        raise InputError(*(replace(one, file=where.file, line=where.line) for one in error.faults)) from None
    if found is None:
        if root == "job":
            return dict(values)
        raise InputError(Fault(f"{REMOVE}: the shop does not state this", path, "", where.file, where.line))
    laying.over[key] = where
    return dict(found)


def _gone(now: Any, key: KeyPath, spot: Spot) -> Any:
    """A copy of `now` without `key`; None where it is not there."""
    name = _step(now, key[0], spot)
    if name is None:
        return None
    copy = list(now) if isinstance(now, list) else dict(now)
    if len(key) == 1:
        del copy[name]
        return copy
    inner = _gone(copy[name], key[1:], spot.below(name) or Spot("value"))
    if inner is None:
        return None
    copy[name] = inner
    return copy


def _with(values: Mapping[str, Any], root: str, one: Set, laying: _Laying) -> dict[str, Any]:
    """The values with one that a command line sets."""
    where = one.where
    try:
        key = key_within(values, root, one.path)
        found = _put(values, key, one, Spot("table", MODELS[root]))
    except InputError as error:
        raise InputError(*(replace(fault, file=where.file) for fault in error.faults)) from None
    place: KeyPath = _in_places(values, key, Spot("table", MODELS[root]))
    laying.over[place] = where
    return dict(found)


def _put(now: Any, key: KeyPath, one: Set, spot: Spot) -> Any:
    if not key:
        return _ended(now, one, spot)
    if spot.sort == "value":
        return _inside(now, key, one)
    name = _step(now, key[0], spot)
    inner = spot.below(key[0]) or Spot("value")
    if isinstance(now, list):
        old = None if name is None else now[name]
        made = _put(old if old is not None else {spot.naming: key[0]}, key[1:], one, inner)
        return [*now, made] if name is None else [*now[:name], made, *now[name + 1 :]]
    table = dict(now) if isinstance(now, Mapping) else {}
    old = table.get(key[0])
    empty: Any = [] if inner.sort == "list" else {}
    table[key[0]] = _put(empty if old is None and len(key) > 1 and inner.sort != "value" else old, key[1:], one, inner)
    return table


def _ended(old: Any, one: Set, spot: Spot) -> Any:
    """What is said; where it is one end of a range, the range with that end."""
    end = one.path.rsplit(".", 1)[-1]
    if end not in ENDS or spot.reads is None or spot.reads.form != "range":
        return one.value
    return _with_end(old, end, one)


def _with_end(old: Any, end: str, one: Set) -> Any:
    text = old.get("value") if isinstance(old, Mapping) else old
    parts = str(text).split(SEPARATOR) if isinstance(text, str) else []
    if len(parts) != 2 or not isinstance(one.value, str):
        allowed = 'both ends: "LOW .. HIGH"'
        raise InputError(Fault("one end of this range cannot be set by itself", str(one.value), allowed))
    parts[ENDS.index(end)] = one.value
    made = f"{parts[0].strip()} {SEPARATOR} {parts[1].strip()}"
    return {**old, "value": made} if isinstance(old, Mapping) else made


def _inside(now: Any, key: KeyPath, one: Set) -> Any:
    """A value of several parts with one of them set: an axis of a place, a cell of a row, the doubt of a table."""
    name = key[0]
    if isinstance(name, str):
        table = dict(now) if isinstance(now, Mapping) else {"value": now}
        table[name] = one.value
        return table
    if isinstance(now, Mapping):
        body = "points" if "points" in now else "value"
        return {**now, body: _inside(now.get(body), key, one)}
    if not isinstance(now, list) or not 0 <= name < len(now):
        raise InputError(Fault("there is no such part to set", one.path, do="Set the whole value."))
    end = one.path.rsplit(".", 1)[-1]
    made = _inside(now[name], key[1:], one) if len(key) > 1 else one.value
    if len(key) == 1 and end in ENDS and isinstance(now[name], str):
        made = _with_end(now[name], end, one)
    return [*now[:name], made, *now[name + 1 :]]


def _in_places(values: Any, key: KeyPath, spot: Spot) -> KeyPath:
    """A key with elements by their place in the list instead of their name; a new one comes last. As far as files tell lines."""
    found: list[str | int] = []
    now = values
    for part in key:
        if spot.sort == "value":
            break
        step = _step(now, part, spot)
        found.append(len(now) if step is None and isinstance(now, list) else part if step is None else step)
        now = None if step is None else now[step]
        spot = spot.below(part) or Spot("value")
    return tuple(found)


def _step(now: Any, part: str | int, spot: Spot) -> Any:
    """The key or place in `now` of one part of a key; None where it is not there."""
    if isinstance(now, list):
        if spot.naming is not None:
            return _place_of(now, {spot.naming: part}, spot.naming)
        return part if isinstance(part, int) and part < len(now) else None
    return part if isinstance(now, Mapping) and part in now else None
