"""The control's own tables of tools and offsets, read through a mapping and held against the shop.

Controls write these tables in their own ways; a small mapping file says how one of them is to be read. Nothing is changed: each difference is
told with its numbers, the most dangerous first, with what would make the two agree.
"""

from __future__ import annotations

import csv
import math
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

from firstoff.errors import Fault, InputError
from firstoff.facts.check import OFFSETS
from firstoff.facts.fact import Fact, FactSet
from firstoff.facts.units import unit_factor

TOOL_FIELDS = ("T", "H", "pocket", "length", "diameter", "radius")
OFFSET_FIELDS = ("name", "x", "y", "z")
DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "spaces": " "}
DOUBTS = 2.0
"""Standard uncertainties that two figures may lie apart and still agree."""
MOST_DOUBT_MM = 0.05
"""But never farther than this: what nobody has measured must not excuse a length that would reach the table (common practice)."""
Say = Callable[[str, str, str], None]
"""(key, what is wrong with it, what is allowed)"""
FINEST_MM, COARSEST_MM = 5e-4, 5e-3
"""Half of the last place that tables of controls show: micrometres at best, hundredths of a millimetre at worst (common practice). Zeros at the
end are often left out, so that one figure alone does not tell."""
_WORD = re.compile(r"([A-Za-z]+)\s*([+-]?(?:\d+\.?\d*|\.\d+))")


@dataclass(frozen=True, slots=True)
class Section:
    """How one table is read."""

    layout: Literal["columns", "words"]
    """Cells parted by a delimiter, or letters each with a number."""
    delimiter: str
    skip_lines: int
    comment: str
    """Lines that begin like this are skipped; empty = none."""
    fields: Mapping[str, str | int]
    """Column from 1, its name in the first line that is kept, or the letter of a word; by field."""
    factor: float
    """Lengths of the table times this are mm."""
    sign: float
    """-1 where the table has lengths downward negative."""
    add_mm: float
    """Added to each length: where they count from something else than the gauge line."""


@dataclass(frozen=True, slots=True)
class Mapped:
    """A mapping file."""

    tools: Section | None
    offsets: Section | None


@dataclass(frozen=True, slots=True)
class ControlLine:
    """One line of the control's tool table; lengths in mm, None where the table has none."""

    line: int
    T: int | None
    H: int | None
    pocket: int | None
    length_mm: float | None
    diameter_mm: float | None
    least_mm: float
    """Half of the last place that the table shows of lengths and diameters."""


@dataclass(frozen=True, slots=True)
class ControlOffset:
    """One line of the control's offset table, mm."""

    line: int
    name: str
    at_mm: tuple[float, float, float]
    least_mm: float


# --- the mapping ------------------------------------------------------------------------------------------------------


def mapping(text: str, file: str) -> Mapped:
    """Read a mapping file. Raises `InputError` with every fault."""
    try:
        said = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(Fault(f"not TOML: {error}", "", "", file)) from None
    faults = [Fault("unknown key", key, "[tools], [offsets]", file) for key in said if key not in ("tools", "offsets")]
    found = {}
    for name, known in (("tools", TOOL_FIELDS), ("offsets", OFFSET_FIELDS)):
        table = said.get(name)
        if table is None:
            continue
        if not isinstance(table, dict):
            faults.append(Fault(f"{name} must be a table", "", f"[{name}]", file))
            continue
        found[name] = _section(name, table, known, file, faults)
    if not found and not faults:
        faults.append(Fault("the mapping says nothing", "", "[tools] or [offsets]", file))
    if faults:
        raise InputError(*faults)
    return Mapped(found.get("tools"), found.get("offsets"))


def _section(name: str, table: Mapping[str, object], known: Sequence[str], file: str, faults: list[Fault]) -> Section:
    def fault(key: str, what: str, allowed: str) -> None:
        faults.append(Fault(f"[{name}] {key}: {what}", str(table.get(key, "")), allowed, file))

    own = ("layout", "delimiter", "skip_lines", "comment", "unit", "length_sign", "length_add", *known)
    for key in table:
        if key not in own:
            fault(key, "unknown key", ", ".join(own))
    layout = table.get("layout", "columns")
    if layout not in ("columns", "words"):
        fault("layout", "no such layout", "columns, words")
    delimiter = table.get("delimiter", "comma")
    if not isinstance(delimiter, str) or delimiter not in DELIMITERS:
        fault("delimiter", "no such delimiter", ", ".join(DELIMITERS))
    skip, comment = table.get("skip_lines", 0), table.get("comment", "")
    if isinstance(skip, bool) or not isinstance(skip, int) or not 0 <= skip <= 1000:
        fault("skip_lines", "this is no number of lines", "0 to 1000")
        skip = 0
    if not isinstance(comment, str):
        fault("comment", "this must be text", 'such as ";"')
    fields: dict[str, str | int] = {}
    for key in known:
        where = table.get(key)
        if where is None:
            continue
        if isinstance(where, bool) or not isinstance(where, str | int) or (isinstance(where, int) and where < 1):
            fault(key, "this names no column", "a column from 1, the name of one, or the letter of a word")
        else:
            fields[key] = where
    _asks(name, table, fields, faults, file)
    return Section(
        "words" if layout == "words" else "columns",
        DELIMITERS.get(str(delimiter), ","),
        skip,
        comment if isinstance(comment, str) else "",
        fields,
        _length(table, "unit", fault),
        _sign(table, fault),
        _added(table, fault),
    )


def _asks(name: str, table: Mapping[str, object], fields: Mapping[str, object], faults: list[Fault], file: str) -> None:
    """What a table cannot do without."""
    asked = [("T", "H")] if name == "tools" else [(one,) for one in OFFSET_FIELDS]
    for either in asked:
        if not any(one in fields for one in either):
            faults.append(
                Fault(f"[{name}] does not say where {' or '.join(either)} stands", "", f"{either[0]} = 1", file)
            )
    if "diameter" in table and "radius" in table:
        faults.append(Fault(f"[{name}] says diameter and radius", "", "one of them", file))


def _length(table: Mapping[str, object], key: str, fault: Say) -> float:
    unit = table.get(key, "mm")
    try:
        return unit_factor(str(unit), "length", str(unit))
    except InputError:
        fault(key, "this is no unit of length", "mm, in")
        return 1.0


def _sign(table: Mapping[str, object], fault: Say) -> float:
    sign = table.get("length_sign", "positive")
    if sign not in ("positive", "negative"):
        fault("length_sign", "no such sign", "positive, negative")
    return -1.0 if sign == "negative" else 1.0


def _added(table: Mapping[str, object], fault: Say) -> float:
    text = str(table.get("length_add", "0 mm"))
    number, _, unit = text.partition(" ")
    try:
        return float(number) * unit_factor(unit.strip(), "length", text)
    except (ValueError, InputError):
        fault("length_add", "this is no length", '"12.5 mm"')
        return 0.0


# --- the tables -------------------------------------------------------------------------------------------------------


def read_tools(text: str, how: Section, file: str) -> tuple[ControlLine, ...]:
    """The lines of the control's tool table that hold a tool: a line without T, or of length 0, is an empty one. Raises `InputError` with
    every cell that cannot be read."""
    faults: list[Fault] = []
    found = []
    rows = list(_rows(text, how, file))
    least = _least([cells.get(key, "") for _, cells in rows for key in ("length", "diameter", "radius")], how.factor)
    for line, cells in rows:
        whole = {key: _whole(cells.get(key, ""), key, file, line, faults) for key in ("T", "H", "pocket")}
        length = _number(cells.get("length", ""), "length", file, line, faults)
        across = _number(cells.get("diameter", cells.get("radius", "")), "diameter", file, line, faults)
        if (whole["T"] is None and whole["H"] is None) or (length is None and across is None) or length == 0.0:
            continue
        doubled = 2.0 if "radius" in cells else 1.0
        found.append(
            ControlLine(
                line,
                whole["T"],
                whole["H"],
                whole["pocket"],
                None if length is None else how.sign * length * how.factor + how.add_mm,
                None if across is None else doubled * across * how.factor,
                least,
            )
        )
    if faults:
        raise InputError(*faults)
    return tuple(found)


def read_offsets(text: str, how: Section, file: str) -> tuple[ControlOffset, ...]:
    """The work offsets of a control's table; lines that name none of G54 to G59.3 are skipped."""
    faults: list[Fault] = []
    found = []
    rows = list(_rows(text, how, file))
    least = _least([cells.get(axis, "") for _, cells in rows for axis in "xyz"], how.factor)
    for line, cells in rows:
        name = cells.get("name", "").strip().upper()
        name = name if name.startswith("G") else f"G{name}"
        if name not in OFFSETS:
            continue
        places = [_number(cells.get(axis, ""), axis, file, line, faults) for axis in "xyz"]
        known = [place for place in places if place is not None]
        if len(known) == 3:
            at = (known[0] * how.factor, known[1] * how.factor, known[2] * how.factor)
            found.append(ControlOffset(line, name, at, least))
    if faults:
        raise InputError(*faults)
    return tuple(found)


def _rows(text: str, how: Section, file: str) -> Iterator[tuple[int, dict[str, str]]]:
    """Number and cells by field of each line that is kept."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    lines = list(enumerate(text.split("\n"), 1))[how.skip_lines :]
    kept = [(n, one) for n, one in lines if one.strip() and not (how.comment and one.strip().startswith(how.comment))]
    if how.layout == "words":
        for number, one in kept:
            body = one.split(how.comment)[0] if how.comment else one
            words = {letter.upper(): value for letter, value in _WORD.findall(body)}
            yield number, {key: words[str(at).upper()] for key, at in how.fields.items() if str(at).upper() in words}
        return
    named = any(isinstance(at, str) for at in how.fields.values())
    head = _split(kept[0], how, file) if named and kept else []
    places: dict[str, int] = {}
    for key, at in how.fields.items():
        if isinstance(at, int):
            places[key] = at - 1
        elif at in head:
            places[key] = head.index(at)
        else:
            where = kept[0][0] if kept else 1
            raise InputError(Fault(f"the table has no column for {key}", at, ", ".join(head), file, where))
    for number, one in kept[1:] if named else kept:
        cells = _split((number, one), how, file)
        yield number, {key: cells[place] for key, place in places.items() if place < len(cells)}


def _split(line: tuple[int, str], how: Section, file: str) -> list[str]:
    number, text = line
    if how.delimiter == " ":
        return text.split()
    try:
        return [cell.strip() for cell in next(csv.reader([text], delimiter=how.delimiter))]
    except csv.Error as error:
        raise InputError(Fault(f"the line cannot be parted: {error}", text.strip()[:60], "", file, number)) from None


def _number(cell: str, key: str, file: str, line: int, faults: list[Fault]) -> float | None:
    text = cell.strip().replace("\u2212", "-")
    if not text:
        return None
    if "," in text and "." not in text:
        text = text.replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        faults.append(Fault(f"{key} is no number", cell, "a number, or an empty cell", file, line))
        return None
    return value


def _whole(cell: str, key: str, file: str, line: int, faults: list[Fault]) -> int | None:
    text = cell.strip().upper().lstrip("THDP#")
    value = _number(text, key, file, line, faults)
    if value is None:
        return None
    if value != round(value) or value < 0:
        faults.append(Fault(f"{key} is no whole number", cell, "a number from 0", file, line))
        return None
    return round(value)


def _least(cells: Sequence[str], factor: float) -> float:
    """Half of the last place that the finest of the figures shows, mm."""
    decimals = max((len(cell.strip().replace(",", ".").partition(".")[2]) for cell in cells), default=0)
    return min(max(0.5 * 10.0**-decimals * factor, FINEST_MM), COARSEST_MM)


# --- held against the shop --------------------------------------------------------------------------------------------


class Danger(IntEnum):
    """What a difference can do; the order is that of telling."""

    OTHER_TOOL = 0
    """Another tool than the shop believes, or none: every figure of it is another's."""
    TOO_DEEP = 1
    """The tip goes lower than programmed."""
    TOO_HIGH = 2
    OTHER_ZERO = 3
    """The work zero lies elsewhere, sideways or above."""
    OTHER_SIZE = 4
    """Walls lie elsewhere where the control makes the radius good."""
    ONLY_ONE = 5
    """Only one of the two knows it."""

    @property
    def stops(self) -> bool:
        return self in (Danger.OTHER_TOOL, Danger.TOO_DEEP)


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that control and shop do not agree about."""

    danger: Danger
    what: str
    """`T3`, `G54 Z`."""
    tool: str | None
    control: float | int | None
    """mm, or a pocket's number."""
    shop: float | int | str | None
    apart_mm: float | None
    """Control less shop."""
    u_mm: float
    line: int
    """Of the control's table; 0 where it has none."""
    path: str = ""
    """The fact that would have to be set if the control is right."""
    value_mm: float | None = None
    """And what to."""


def against_tools(lines: Sequence[ControlLine], facts: FactSet) -> tuple[Difference, ...]:
    """Every difference between the control's tool table and the shop, the most dangerous first, then the farthest apart."""
    found: list[Difference] = []
    told: set[str] = set()
    for line in lines:
        name = _tool_of(facts, line)
        what = f"T{line.T}" if line.T is not None else f"H{line.H}"
        if name is None:
            found.append(Difference(Danger.ONLY_ONE, what, None, line.length_mm, None, None, 0.0, line.line))
            continue
        told.add(name)
        found += _pocket(facts, line, what, name)
        found += _length_apart(facts, line, what, name)
        found += _size_apart(facts, line, what, name)
    for number, name in _loaded(facts).items():
        length = facts.facts.get(f"tools.{name}.LF")
        if name not in told:
            said = None if length is None else length.value
            found.append(Difference(Danger.ONLY_ONE, f"pocket {number}", name, None, said, None, 0.0, 0))
    return tuple(sorted(found, key=lambda one: (one.danger, -abs(one.apart_mm or 0.0), one.line)))


def _tool_of(facts: FactSet, line: ControlLine) -> str | None:
    """The tool that a line is of, by the shop: of the pocket that T names, or of the shop's copy of that line."""
    means = facts.settings.get("machine.control.t_means")
    number = line.T if line.T is not None else line.H
    if means is not None and means.value == "register":
        key = "T" if line.T is not None else "H"
        for path in facts.under("tools.register."):
            if path.endswith(f".{key}") and facts.settings[path].value == number:
                return _word(facts, f"{path.removesuffix(key)}tool")
        return None
    return _word(facts, f"tools.pocket.{number}.tool")


def _loaded(facts: FactSet) -> dict[str, str]:
    return {
        path.split(".")[2]: str(facts.settings[path].value)
        for path in facts.under("tools.pocket.")
        if path.endswith(".tool")
    }


def _pocket(facts: FactSet, line: ControlLine, what: str, name: str) -> list[Difference]:
    """The control believes a tool in another pocket than the shop does."""
    if line.pocket is None:
        return []
    own = next((number for number, tool in _loaded(facts).items() if tool == name), None)
    if own is not None and int(own) == line.pocket:
        return []
    path = f"tools.pocket.{line.pocket}.tool"
    return [
        Difference(Danger.OTHER_TOOL, what, name, line.pocket, int(own) if own else None, None, 0.0, line.line, path)
    ]


def _length_apart(facts: FactSet, line: ControlLine, what: str, name: str) -> list[Difference]:
    path = f"tools.{name}.LF"
    fact = facts.facts.get(path)
    if line.length_mm is None:
        return []
    if fact is None:
        return [
            Difference(Danger.ONLY_ONE, what, name, line.length_mm, None, None, 0.0, line.line, path, line.length_mm)
        ]
    apart = line.length_mm - fact.value
    if abs(apart) <= _doubt(fact, line.least_mm):
        return []
    danger = Danger.TOO_DEEP if apart < 0 else Danger.TOO_HIGH
    return [Difference(danger, what, name, line.length_mm, fact.value, apart, fact.u, line.line, path, line.length_mm)]


def _size_apart(facts: FactSet, line: ControlLine, what: str, name: str) -> list[Difference]:
    path = f"tools.{name}.DC"
    fact = facts.facts.get(path)
    if line.diameter_mm is None or line.diameter_mm == 0.0 or fact is None:
        return []
    apart = line.diameter_mm - fact.value
    if abs(apart) <= _doubt(fact, line.least_mm):
        return []
    value = line.diameter_mm
    return [Difference(Danger.OTHER_SIZE, what, name, value, fact.value, apart, fact.u, line.line, path, value)]


def against_offsets(offsets: Sequence[ControlOffset], facts: FactSet) -> tuple[Difference, ...]:
    """The same of the work offsets of a job; only those that the job has. A Z below the shop's goes too deep."""
    found = []
    for offset in offsets:
        for axis, value in zip("xyz", offset.at_mm, strict=True):
            path = f"job.offset.{offset.name}.at.{axis}"
            fact = facts.facts.get(path)
            if fact is None or abs(value - fact.value) <= _doubt(fact, offset.least_mm):
                continue
            apart = value - fact.value
            danger = Danger.TOO_DEEP if axis == "z" and apart < 0 else Danger.OTHER_ZERO
            what = f"{offset.name} {axis.upper()}"
            found.append(Difference(danger, what, None, value, fact.value, apart, fact.u, offset.line, path, value))
    return tuple(sorted(found, key=lambda one: (one.danger, -abs(one.apart_mm or 0.0), one.line)))


def _doubt(fact: Fact, least_mm: float) -> float:
    return math.hypot(min(DOUBTS * fact.u, MOST_DOUBT_MM), least_mm)


def _word(facts: FactSet, path: str) -> str | None:
    said = facts.settings.get(path)
    return said.value if said is not None and isinstance(said.value, str) else None
