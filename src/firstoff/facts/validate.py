"""From the values of a TOML file to a model of `schema`, and from the library's errors to faults with file and line."""

from __future__ import annotations

import types
import typing
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from firstoff.errors import Fault
from firstoff.facts.quantity import shown
from firstoff.facts.reads import unknown_key
from firstoff.facts.schema import Table
from firstoff.facts.toml_file import TomlFile

Model = TypeVar("Model", bound=Table)


def validated(model: type[Model], file: TomlFile, faults: list[Fault]) -> Model | None:
    """The model that `file` fills, or None with everything wrong with it appended to `faults`, in the order of lines."""
    try:
        return model.model_validate(file.values)
    except ValidationError as error:
        found: list[Fault] = []
        for detail in error.errors(include_url=False):
            found.extend(_faults(model, file, detail))
        faults.extend(sorted(found, key=lambda fault: fault.line or 0))
        return None


def _faults(model: type[Table], file: TomlFile, detail: Any) -> list[Fault]:
    where = tuple(part for part in detail["loc"] if part != "[key]")
    if detail["type"] == "facts":
        return [_placed(file, (*where, *inside), fault) for inside, fault in detail["ctx"]["faults"]]
    return [_placed(file, where, _translated(model, where, detail))]


def _placed(file: TomlFile, where: tuple[str | int, ...], fault: Fault) -> Fault:
    name = _name(where)
    return file.fault(where, f"{name}: {fault.what}" if name else fault.what, fault.value, fault.allowed, fault.do)


def _name(where: tuple[str | int, ...]) -> str:
    """``axis.x.max_feed``; numbers of list elements count from 1, as people do."""
    text = ""
    for part in where:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


_SORTS = {
    "bool_type": "true or false, without quotes",
    "string_type": "text in quotes",
    "string_too_short": "text",
    "string_too_long": "text of at most 500 letters",
    "int_type": "a whole number without quotes",
    "model_type": "a table of its own keys",
    "dict_type": "a table",
    "tuple_type": "a list in [ ]",
    "too_short": "at least one",
}


def _translated(model: type[Table], where: tuple[str | int, ...], detail: Any) -> Fault:
    sort, written, context = detail["type"], shown(detail["input"]), detail.get("ctx", {})
    if sort == "extra_forbidden":
        return _unknown(model, where)
    if sort == "missing":
        return Fault("is missing", "", f"this table needs the key {where[-1]}")
    if sort == "literal_error":
        return _not_a_word(detail["input"], context["expected"])
    if sort == "string_pattern_mismatch":
        return Fault("the key must be a number", written, "a number, such as 3")
    if sort in ("greater_than_equal", "less_than_equal"):
        limit = context.get("ge", context.get("le"))
        return Fault("this number is impossible", written, f"{'from' if 'ge' in context else 'at most'} {limit}")
    if sort in _SORTS:
        return Fault(f"this must be {_SORTS[sort]}", written, _SORTS[sort])
    return Fault("this cannot be used", written, str(detail["msg"]))


_SAID_OTHERWISE = {
    "clockwise": "cw",
    "counterclockwise": "ccw",
    "anticlockwise": "ccw",
    "both": "cw",
    "endmill": "flat",
    "square": "flat",
    "ballnose": "ball",
    "radius": "bull",
    "vise": "vice",
    "clamp": "clamps",
    "screw": "screws",
}
"""Words of the trade for ours. A likeness of letters alone would send "clockwise" to "ccw"."""


SURE = 0.6
"""Likeness of letters (0..1) from which a word is offered: below it the guess is wrong as often as right."""


def _not_a_word(written: object, expected: str) -> Fault:
    """The fault for a word that is none of those allowed, with the one that was meant where that is sure."""
    import difflib

    words = [word.strip(" '") for word in expected.replace(" or ", ", ").split(",")]
    said = str(written).lower().replace("-", "").replace(" ", "").replace("_", "")
    meant = _SAID_OTHERWISE.get(said)
    if meant is None:
        near = difflib.get_close_matches(str(written), words, n=1, cutoff=SURE)
        meant = near[0] if near else None
    return Fault(
        "not one of its words", shown(written), ", ".join(words), do=f'Nearest: "{meant}".' if meant in words else ""
    )


def _unknown(model: type[Table], where: tuple[str | int, ...]) -> Fault:
    key = str(where[-1])
    if where[:2] == ("offset", "G59") and key in ("1", "2", "3"):
        return Fault("unknown key", key, f'names with a point need quotes: [offset."G59.{key}"]')
    table = _table_at(model, where[:-1])
    known = keys_of(table) if table else ()
    fault = unknown_key(key, known)
    homes = [path for path, keys in _all_tables(model) if key in keys]
    if homes and key not in known:
        return Fault(fault.what, key, f"{key} belongs under [{homes[0]}]")
    return fault


def keys_of(model: type[BaseModel]) -> tuple[str, ...]:
    """The keys that a table may hold, as they are written in the file."""
    return tuple(field.alias or name for name, field in model.model_fields.items())


def inner_table(annotation: Any) -> tuple[type[Table] | None, str]:
    """The table class inside a field's annotation, and how it is held: ``one``, ``list`` or ``names``; None if it holds none."""
    arguments = typing.get_args(annotation)
    origin = typing.get_origin(annotation)
    if origin in (types.UnionType, typing.Union, typing.Annotated):
        for argument in arguments:
            inner, held = inner_table(argument)
            if inner is not None:
                return inner, held
        return None, ""
    if origin is dict:
        return inner_table(arguments[1])[0], "names"
    if origin is tuple:
        return inner_table(arguments[0])[0], "list"
    if isinstance(annotation, type) and issubclass(annotation, Table):
        return annotation, "one"
    return None, ""


def _table_at(model: type[Table], where: tuple[str | int, ...]) -> type[Table] | None:
    table, rest = model, list(where)
    while rest:
        name = rest.pop(0)
        field = next((f for n, f in table.model_fields.items() if (f.alias or n) == name), None)
        inner, held = inner_table(field.annotation) if field else (None, "")
        if inner is None:
            return None
        if held in ("list", "names") and rest:
            rest.pop(0)
        table = inner
    return table


def _all_tables(model: type[Table], path: str = "") -> list[tuple[str, tuple[str, ...]]]:
    found = [(path, keys_of(model))] if path else []
    for name, field in model.model_fields.items():
        inner, held = inner_table(field.annotation)
        if inner is not None:
            step = f"{path}.{field.alias or name}" if path else (field.alias or name)
            found += _all_tables(inner, step + (".NAME" if held == "names" else ""))
    return found
