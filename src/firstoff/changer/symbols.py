"""Tools as a table of comma-separated values: a row a tool, a column a symbol of ISO 13399 with its unit in the header, and back.

``DC [mm]`` is a value, ``u(DC) [mm]`` its standard uncertainty, ``df(DC)``, ``evidence(DC)``, ``on(DC)``, ``shape(DC)`` and ``note(DC)`` what
else is said of it. Words stand under the plain name of their key. An empty cell says nothing. Columns that no tool fills are left out.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from firstoff.changer.crib import tool_names
from firstoff.errors import Fault, InputError
from firstoff.facts.edit import Edit
from firstoff.facts.fact import Evidence, Fact, FactSet, Shape
from firstoff.facts.quantity import LOGNORMAL_FROM, format_quantity
from firstoff.facts.units import unit_factor

FILE = "tools.toml"
NAME = "name"
LENGTHS = ("DC", "RE", "APMX", "TP", "DN", "LU", "DMM", "OHX", "LF")
ANGLES = ("FHA", "GAMF", "SIG", "KAPR")
SYMBOLS = ("DC", "RE", "ZEFP", "APMX", "FHA", "GAMF", "SIG", "KAPR", "TP", "DN", "LU", "DMM", "OHX", "LF")
"""Those of ISO 13399 that tools.toml has, in its order; ZEFP is a count and has no unit."""
WORDS = ("kind", "centre_cutting", "condition", "coating", "material")
SAID = ("u", "df", "evidence", "on", "shape", "note")
MOST_ROWS = 10_000
_HEADER = re.compile(
    r"(?:(?P<of>u|df|evidence|on|shape|note)\((?P<inner>\w+)\)|(?P<symbol>\w+))\s*(?:\[(?P<unit>[^\]]+)\])?$"
)


# --- out --------------------------------------------------------------------------------------------------------------


def tools_csv(facts: FactSet) -> str:
    """All tools of a shop, in the order of its file."""
    rows = [_row(facts, name) for name in tool_names(facts)]
    filled = {column for row in rows for column, cell in row.items() if cell}
    columns = [column for column in _columns() if column == NAME or column in filled]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([row.get(column, "") for column in columns] for row in rows)
    return text.getvalue()


def _columns() -> Iterator[str]:
    yield NAME
    yield from WORDS
    for symbol in SYMBOLS:
        unit = _unit(symbol)
        yield f"{symbol} [{unit}]" if unit else symbol
        for said in SAID if unit else ():
            yield f"{said}({symbol})" + (f" [{unit}]" if said == "u" else "")


def _unit(symbol: str) -> str:
    return "mm" if symbol in LENGTHS else "deg" if symbol in ANGLES else ""


def _row(facts: FactSet, name: str) -> dict[str, str]:
    row = {NAME: name}
    for word in (*WORDS, "ZEFP"):
        said = facts.settings.get(f"tools.{name}.{word}")
        if said is not None:
            row[word] = str(said.value).lower() if isinstance(said.value, bool) else str(said.value)
    for symbol in (*LENGTHS, *ANGLES):
        fact = facts.facts.get(f"tools.{name}.{symbol}")
        if fact is not None:
            row |= _cells(symbol, fact)
    return row


def _cells(symbol: str, fact: Fact) -> dict[str, str]:
    unit = _unit(symbol)
    factor = math.degrees(1.0) if unit == "deg" else 1.0
    cells = {f"{symbol} [{unit}]": _figure(fact.value * factor), f"evidence({symbol})": fact.evidence.value}
    if fact.u > 0:
        cells[f"u({symbol}) [{unit}]"] = _figure(fact.u * factor)
    if math.isfinite(fact.df):
        cells[f"df({symbol})"] = _figure(fact.df)
    if fact.on is not None:
        cells[f"on({symbol})"] = fact.on.isoformat()
    if fact.shape is not _usual_shape(symbol, fact.value, fact.u):
        cells[f"shape({symbol})"] = fact.shape.value
    if fact.note:
        cells[f"note({symbol})"] = fact.note
    return cells


def _usual_shape(symbol: str, value: float, u: float) -> Shape:
    """What a fact is drawn as where nobody says otherwise; angles may be negative."""
    positive = symbol in LENGTHS and value > 0
    return Shape.LOGNORMAL if positive and u > LOGNORMAL_FROM * value else Shape.NORMAL


def _figure(value: float) -> str:
    """The shortest decimal that reads back as the same number, without an exponent where one can be avoided."""
    text = repr(float(value))
    return text.removesuffix(".0") if "e" not in text else f"{value:.17f}".rstrip("0")


# --- in ---------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Column:
    """One column of the table: what it is of, and its unit."""

    key: str
    """A symbol or a word."""
    said: str
    """`value`, or one of `SAID`."""
    unit: str


def tool_edits(text: str, facts: FactSet, file: str, *, sure: bool = False) -> tuple[Edit, ...]:
    """The edits of tools.toml that make a shop say what the table says; none for what it says already. Raises `InputError` with every
    fault of the table, each with its line; among them, unless somebody is `sure`, each plain value that would make an assumed one of a
    measured one. Values are checked by the shop's own rules when the edits are made."""
    rows, decimal_comma = _table(text, file)
    faults: list[Fault] = []
    columns = [_column(cell, file, faults) for cell in rows[0]]
    if not any(one is not None and one.key == NAME for one in columns):
        faults.append(Fault(f'the table has no column "{NAME}"', "", "the tools' names", file, 1))
    if faults:
        raise InputError(*faults)
    edits: list[Edit] = []
    seen: dict[str, int] = {}
    for line, row in enumerate(rows[1:], 2):
        told = {one: cell for one, cell in zip(columns, row, strict=False) if one is not None}
        cells = {one: kept for one, cell in told.items() if (kept := cell if one.said == "note" else cell.strip())}
        name = next((cell for one, cell in cells.items() if one.key == NAME), "")
        if not any(cell.strip() for cell in row):
            continue
        if len(row) > len(columns):
            faults.append(Fault("the row is longer than the header", name, f"{len(columns)} cells", file, line))
        elif not name or name in seen:
            what = f"{name} stands there twice, first in line {seen[name]}" if name else "the row has no name"
            faults.append(Fault(what, name, "each tool once", file, line))
        else:
            row_edits = list(_edits(name, cells, facts, decimal_comma, (file, line), faults))
            edits += row_edits
            if not sure:
                faults += _losing_evidence(row_edits, facts, (file, line))
        seen.setdefault(name, line)
    if faults:
        raise InputError(*faults)
    return tuple(edits)


def _table(text: str, file: str) -> tuple[list[list[str]], bool]:
    """Rows of cells, and whether numbers may have a decimal comma: where cells are parted by something else."""
    text = text.removeprefix("\ufeff")
    head = text.split("\n", 1)[0]
    parted = next((mark for mark in (",", ";", "\t") if mark in head), ",")
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=parted, strict=True))
    except csv.Error as error:
        raise InputError(Fault(f"not a table of comma-separated values: {error}", "", "", file)) from None
    if not rows or not any(cell.strip() for cell in rows[0]):
        raise InputError(Fault("the table is empty", "", "a header and a row a tool", file, 1))
    if len(rows) > MOST_ROWS:
        raise InputError(Fault("the table is too long", f"{len(rows)} rows", f"up to {MOST_ROWS}", file))
    return rows, parted != ","


def _column(cell: str, file: str, faults: list[Fault]) -> _Column | None:
    found = _HEADER.fullmatch(cell.strip())
    key = "" if found is None else found["inner"] or found["symbol"] or ""
    said = "value" if found is None else found["of"] or "value"
    unit = "" if found is None else (found["unit"] or "").strip()
    if found is None or key not in (NAME, *WORDS, *SYMBOLS) or (said != "value" and not _unit(key)):
        allowed = f"{NAME}, {', '.join(WORDS)}, symbols with a unit such as DC [mm], u(DC) [mm], on(DC)"
        faults.append(Fault("no such column", cell.strip(), allowed, file, 1))
        return None
    if _unit(key) and said in ("value", "u"):
        try:
            unit_factor(unit, "length" if key in LENGTHS else "angle", cell.strip())
        except InputError:
            allowed = "a length such as mm or in" if key in LENGTHS else "an angle such as deg"
            faults.append(Fault("the column says no such unit", cell.strip(), allowed, file, 1))
    elif unit:
        faults.append(Fault("this column has no unit", cell.strip(), key, file, 1))
    return _Column(key, said, unit)


def _edits(
    name: str,
    cells: Mapping[_Column, str],
    facts: FactSet,
    decimal_comma: bool,
    at: tuple[str, int],
    faults: list[Fault],
) -> Iterator[Edit]:
    by_key: dict[str, dict[str, tuple[str, str]]] = {}
    for column, cell in cells.items():
        by_key.setdefault(column.key, {})[column.said] = (cell, column.unit)
    for key, told in by_key.items():
        if key == NAME:
            continue
        try:
            value = _value(key, told, decimal_comma)
        except (ValueError, InputError) as error:
            shown = error.faults[0].what if isinstance(error, InputError) else f"{name}: {key} cannot be read"
            faults.append(Fault(shown, " ".join(cell for cell, _ in told.values()), "", *at))
            continue
        if not _says_already(facts, f"tools.{name}.{key}", key, value):
            yield Edit(FILE, ("tool", name, key), value)


def _losing_evidence(edits: Sequence[Edit], facts: FactSet, at: tuple[str, int]) -> Iterator[Fault]:
    """What was measured and would be only assumed: the table gives another value, and does not say where it is from."""
    for edit in edits:
        _, name, key = edit.key
        fact = facts.facts.get(f"tools.{name}.{key}")
        if fact is None or not isinstance(edit.value, dict) or "evidence" in edit.value or not _from_here(fact):
            continue
        column = f"evidence({key})" + (f" and u({key})" if "u" not in edit.value else "")
        was = format_quantity(*_in_unit(str(key), fact), _unit(str(key)))
        what = f"{name}: {key} is {was}, {fact.evidence.value}, and would be only assumed"
        allowed = f"a table that also says {column}"
        do = "Say where the new value is from, leave the cell empty, or --yes to let its evidence go."
        yield Fault(what, str(edit.value["value"]), allowed, *at, do=do)


def _from_here(fact: Fact) -> bool:
    return fact.evidence in (Evidence.MEASURED, Evidence.LEARNED)


def _in_unit(key: str, fact: Fact) -> tuple[float, float]:
    """Value and doubt in mm or degrees."""
    factor = math.degrees(1.0) if key in ANGLES else 1.0
    return fact.value * factor, fact.u * factor


def _value(key: str, told: Mapping[str, tuple[str, str]], decimal_comma: bool) -> object:
    """What goes into the file. Raises `ValueError` or `InputError` for what cannot be read."""
    cell, unit = told.get("value", ("", ""))
    if not cell:
        raise InputError(Fault(f"{key} has a doubt or a date but no value"))
    if key == "ZEFP":
        return int(cell)
    if key == "centre_cutting":
        if cell.lower() not in ("true", "false"):
            raise ValueError
        return cell.lower() == "true"
    if key in WORDS:
        return cell
    said: dict[str, object] = {"value": f"{_number(cell, decimal_comma)} {unit}"}
    if "u" in told:
        said["u"] = f"{_number(told['u'][0], decimal_comma)} {told['u'][1]}"
    if "df" in told:
        said["df"] = float(_number(told["df"][0], decimal_comma))
    for word in ("evidence", "shape", "note"):
        if word in told:
            said[word] = told[word][0]
    if "on" in told:
        said["on"] = _moment(told["on"][0])
    return said


def _number(cell: str, decimal_comma: bool) -> str:
    text = cell.replace("\u2212", "-")
    if decimal_comma and "." not in text:
        text = text.replace(",", ".")
    if not math.isfinite(float(text)):
        raise ValueError
    return text


def _moment(cell: str) -> date | datetime:
    return date.fromisoformat(cell) if len(cell) == len("2026-05-04") else datetime.fromisoformat(cell)


def _says_already(facts: FactSet, path: str, key: str, value: object) -> bool:
    """Whether the shop says so already: a word, or each figure that the table gives, to a billionth."""
    said = facts.settings.get(path)
    if not isinstance(value, dict):
        return said is not None and said.value == value
    fact = facts.facts.get(path)
    if fact is None:
        return False
    now = _as_said(key, fact)
    plain = _plain(key, value)
    if "evidence" not in value and _from_here(fact):
        del plain["evidence"]  # the same value again is no reason to think less of it
    return all(_same(now.get(part), one) for part, one in plain.items())


def _as_said(key: str, fact: Fact) -> dict[str, object]:
    factor = math.degrees(1.0) if key in ANGLES else 1.0
    return {
        "value": fact.value * factor,
        "u": fact.u * factor,
        "df": fact.df,
        "evidence": fact.evidence.value,
        "shape": fact.shape.value,
        "note": fact.note,
        "on": fact.on,
    }


def _plain(key: str, value: Mapping[str, object]) -> dict[str, object]:
    """What a cell says, in mm or degrees, and the evidence that it has where the table names none."""
    told: dict[str, object] = {"evidence": Evidence.ASSUMED.value}
    for part, one in value.items():
        if part in ("value", "u"):
            number, _, unit = str(one).partition(" ")
            factor = unit_factor(unit, "length" if key in LENGTHS else "angle", str(one))
            told[part] = float(number) * factor * (math.degrees(1.0) if key in ANGLES else 1.0)
        elif part == "on":
            told[part] = (
                one
                if isinstance(one, datetime)
                else datetime(one.year, one.month, one.day)
                if isinstance(one, date)
                else one
            )
        else:
            told[part] = one
    return told


def _same(now: object, told: object) -> bool:
    if isinstance(now, float) and isinstance(told, int | float):
        return math.isclose(now, told, rel_tol=1e-9, abs_tol=1e-12)
    return now == told
