"""How one value of a shop file is read: the hinge between the models of `schema` and the quantities of `quantity`.

A value that cannot be used raises one library error that carries all its faults, each with its place inside the value.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

from pydantic import GetCoreSchemaHandler
from pydantic_core import PydanticCustomError, core_schema

from firstoff.errors import Fault, InputError
from firstoff.facts.quantity import (
    PLAIN,
    SAID_KEYS,
    Kind,
    Quantity,
    Range,
    Said,
    read_moment,
    read_quantity,
    read_range,
    read_said,
    shown,
)
from firstoff.facts.units import DIMENSIONS

T = TypeVar("T")
Path = tuple[str | int, ...]
Located = tuple[Path, Fault]
"""A fault and where inside the value it sits."""


@dataclass(frozen=True, slots=True)
class Axes:
    """One quantity an axis, in the order X, Y, Z (a place) or one range an axis (a box)."""

    x: Quantity | Range
    y: Quantity | Range
    z: Quantity | Range


@dataclass(frozen=True, slots=True)
class Rows:
    """A list of rows of quantities: the steps of a nose, a holder or a profile, or the points of a curve."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Quantity, ...], ...]
    extra: Mapping[str, Quantity]
    """What the table form adds beside its points, such as `on_share` of a duty curve."""


@dataclass(frozen=True, slots=True)
class Reads:
    """Marks a field: how its value is read and of what kind it is.

    `form`: ``one`` quantity, a ``range``, a ``place`` (three quantities), a ``box`` (three ranges), ``rows``, or ``one or axes``
    (one quantity for all axes alike, or three). Each may be given bare or as a table ``{ value, u, df, shape, evidence, note, on }``.
    """

    form: str
    kinds: tuple[tuple[str, Kind], ...]
    """Name and kind of each column; one unnamed column except for rows."""
    extra: tuple[tuple[str, Kind], ...] = ()
    """Further quantities that the table form may carry, e.g. `at` of a cutting constant."""
    rising: bool = False
    """Whether the first column of rows must rise."""

    @property
    def kind(self) -> Kind:
        return self.kinds[0][1]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self._validated)

    def _validated(self, raw: object) -> object:
        faults: list[Located] = []
        value = self.read(raw, faults)
        if faults:
            raise PydanticCustomError("facts", "cannot be used", {"faults": tuple(faults)})
        return value

    def read(self, raw: object, faults: list[Located]) -> object:
        """The value, or None with everything wrong with it appended to `faults`."""
        said = PLAIN
        at: tuple[str, ...] = ()
        extra: dict[str, Quantity] = {}
        if isinstance(raw, Mapping):
            said, extra, raw, at = self._table(raw, faults)
            if raw is None:
                return None
        if self.form == "one" or (self.form == "one or axes" and not isinstance(raw, list)):
            value = _caught(faults, at, read_quantity, raw, self.kind, said)
            return Constant(value, extra) if self.extra and isinstance(value, Quantity) else value
        if self.form == "range":
            return _caught(faults, at, read_range, raw, self.kind, said)
        if self.form == "rows":
            return self._rows(raw, said, extra, at, faults)
        return self._axes(raw, said, at, faults)

    def _table(
        self, table: Mapping[str, object], faults: list[Located]
    ) -> tuple[Said, dict[str, Quantity], object, tuple[str, ...]]:
        body = "points" if self.form == "rows" and "points" in table else "value"
        known = (
            *SAID_KEYS,
            *(name for name, _ in self.extra),
            *(("points",) if self.form == "rows" else ()),
        )
        for key in table:
            if key not in known:
                faults.append(((key,), unknown_key(key, known)))
        said = _caught(faults, (), read_said, table) or PLAIN
        extra = {}
        for name, kind in self.extra:
            if name in table:
                quantity = _caught(faults, (name,), read_quantity, table[name], kind)
                if quantity is not None:
                    extra[name] = quantity
        if body not in table:
            faults.append(((), Fault(f"{body} is missing", shown(dict(table)), f"{{ {body} = ... }}")))
            return said, extra, None, ()
        return said, extra, table[body], (body,)

    def _axes(self, raw: object, said: Said, at: tuple[str, ...], faults: list[Located]) -> Axes | None:
        allowed = {
            "place": '["121.4 mm", "88.1 mm", "-96.55 mm"]',
            "box": '["0 mm .. 64 mm", ...] for X, Y, Z',
        }.get(self.form, f'["{DIMENSIONS[self.kind.dimension].example}", ...] for X, Y, Z')
        if not isinstance(raw, list) or len(raw) != 3:
            faults.append((at, Fault("this must be a list of three, for X, Y and Z", shown(raw), allowed)))
            return None
        read: Callable[[object, Kind, Said], Quantity | Range] = read_range if self.form == "box" else read_quantity
        parts = [_caught(faults, (*at, number), read, part, self.kind, said) for number, part in enumerate(raw)]
        good = [part for part in parts if part is not None]
        return Axes(*good) if len(good) == 3 else None

    def _rows(
        self, raw: object, said: Said, extra: dict[str, Quantity], at: tuple[str, ...], faults: list[Located]
    ) -> Rows | None:
        names = tuple(name for name, _ in self.kinds)
        allowed = "a list of rows [" + ", ".join(names) + "]"
        if not isinstance(raw, list) or not raw:
            faults.append((at, Fault(f"this must be {allowed}", shown(raw), allowed)))
            return None
        rows: list[tuple[Quantity, ...]] = []
        for number, row in enumerate(raw):
            if not isinstance(row, list) or len(row) != len(names):
                faults.append(((*at, number), Fault(f"each row must be [{', '.join(names)}]", shown(row), allowed)))
                continue
            maybe = [
                _caught(faults, (*at, number, column), read_quantity, cell, kind, PLAIN if kind.exact else said)
                for column, (cell, (_, kind)) in enumerate(zip(row, self.kinds, strict=True))
            ]
            cells = [cell for cell in maybe if cell is not None]
            if len(cells) < len(names):
                continue
            if self.rising and rows and not cells[0].value > rows[-1][0].value:
                faults.append(
                    ((*at, number, 0), Fault(f"{names[0]} must rise from row to row", shown(row[0]), allowed))
                )
            rows.append(tuple(cells))
        return Rows(names, tuple(rows), extra)


@dataclass(frozen=True, slots=True)
class Constant:
    """A quantity with further quantities that belong to it, such as the chip thickness that a cutting constant holds at."""

    main: Quantity
    extra: Mapping[str, Quantity]


def _caught(faults: list[Located], at: Path, read: Callable[..., T], *given: Any) -> T | None:
    """`read(*given)`, or None with its faults noted as standing at `at`."""
    try:
        return read(*given)
    except InputError as error:
        faults.extend((at, fault) for fault in error.faults)
        return None


def unknown_key(key: str, known: tuple[str, ...]) -> Fault:
    """The fault for a key that is not known, with the nearest one that is."""
    by_case = {name.lower(): name for name in known}
    near = by_case.get(key.lower()) or next(iter(difflib.get_close_matches(key, known, n=1, cutoff=0.5)), None)
    allowed = f'nearest known: "{near}"' if near else "one of: " + ", ".join(known)
    return Fault("unknown key", key, allowed)


def _moment(raw: object) -> datetime:
    try:
        return read_moment(raw)
    except ValueError:
        fault = Fault("this is no date", shown(raw), "a date and time without quotes, such as 2026-05-04T07:40:00")
        raise PydanticCustomError("facts", "cannot be used", {"faults": (((), fault),)}) from None


class ReadsMoment:
    """Marks a field that is a date or a date with a time."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(_moment)
