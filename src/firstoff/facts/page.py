"""`docs/facts.md`, made from the schema so that it cannot drift: ``python -m firstoff.facts.page > docs/facts.md``."""

from __future__ import annotations

import math
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pydantic.fields import FieldInfo

from firstoff.facts.control import CONTROL_KEYS
from firstoff.facts.derived import TAKEN, is_taken, with_derived
from firstoff.facts.fact import Evidence, Fact, FactSet, Setting
from firstoff.facts.quantity import DEFAULT_DOUBT, Doubt, Kind, format_quantity
from firstoff.facts.reads import Reads
from firstoff.facts.schema import HOLDING_NUMBERS, JobFile, Machine, Materials, Table, Tools
from firstoff.facts.units import COMMON_UNITS, DIMENSIONS
from firstoff.facts.validate import inner_table

_FILES: tuple[tuple[str, type[Table], str], ...] = (
    ("machine.toml", Machine, "paths begin with `machine.`; `[shop] name` is `machine.name`"),
    (
        "tools.toml",
        Tools,
        "paths: `tools.NAME.DC`, `tools.pocket.N.tool`, `tools.register.T.tool`, `tools.holder.NAME.steps`, `tools.setter.drift`, `tools.in_spindle`; how it is kept by command is in [crib.md](crib.md)",
    ),
    ("materials.toml", Materials, "paths: `materials.NAME.kc`"),
    ("jobs/NAME/job.toml", JobFile, "paths begin with `job.`; lists without a name are numbered from 0"),
)

_FORMS = {
    "one": "{}",
    "range": "range, {}",
    "place": "[X, Y, Z], {}",
    "box": "[X, Y, Z] of ranges, {}",
    "one or axes": "{}, or [X, Y, Z] of it",
}


@dataclass(frozen=True, slots=True)
class _Row:
    key: str
    value: str
    meaning: str
    doubt: str
    needed: bool


def facts_page() -> str:
    """The page: how a quantity is written, the default doubts, the units, and every key of the four files."""
    parts = [_HEAD, _doubts(), _units(), _taken(), _holding()]
    for name, model, paths in _FILES:
        parts.append(f"## {name}\n\n{paths}.\n")
        parts.extend(text for heading, table in _tables(model, "") if (text := _table(heading, table)))
    return "\n".join(parts)


_HEAD = """# Facts: what the shop folder may say

Made from `src/firstoff/facts/schema.py` by `python -m firstoff.facts.page > docs/facts.md`; a test compares the two.

A quantity is `VALUE[(DIGITS)][e±N] UNIT`: `"0.80(5) mm"` is 0.80 mm with a standard uncertainty of 0.05 mm (JCGM 100:2008,
7.2.2). Or a table: `{ value, u, half_width, df, shape, evidence, note, on }`.

| key | means |
|---|---|
| `value` | the quantity; a range, a place, a box or rows may stand here too, and the other keys then hold for all of it |
| `u` | standard uncertainty: `"5 %"` of the value, or a quantity; instead of the brackets |
| `half_width` | instead of `u`: the value lies within ± this, anywhere alike; u = half_width/√3 (JCGM 100:2008, 4.3.7) |
| `df` | degrees of freedom of `u`; infinite if left out |
| `shape` | `normal`; `lognormal` (taken by itself for a positive fact with u > 15 %); `uniform` |
| `evidence` | `assumed` (if left out), `handbook`, `plate`, `measured`, `learned`, `set` (decided by the shop: no doubt) |
| `note`, `on` | where it comes from, and when |

`measured` and `learned` must state their uncertainty. An uncertainty of zero is refused: what is exact is `set`. A range is
`"low .. high"`, two quantities. A list of rows is `[["20 mm", "24 mm"], ...]`.
"""


def _doubts() -> str:
    rows = "".join(
        "| " + " | ".join([_SORTS[name], *(_doubt(row[kind], name == "angle") for kind in STATED_BY)]) + " |\n"
        for name, row in DEFAULT_DOUBT.items()
    )
    return (
        "## Doubt where none is stated\n\nStandard uncertainty, by sort of quantity and evidence (of two figures the smaller). Counts, everything under "
        '`[judgement]`, `[ask]` and `[[feature]]`, and `evidence = "set"` are exact.\n\n'
        f"| sort | assumed | handbook | plate |\n|---|---|---|---|\n{rows}"
    )


STATED_BY = (Evidence.ASSUMED, Evidence.HANDBOOK, Evidence.PLATE)
_SORTS = {
    "place": "position",
    "size": "size",
    "ground": "ground size of a tool (DC, RE, DN, DMM)",
    "rate": "speed or power",
    "angle": "angle",
    "fine": "fine length",
    "other": "everything else",
}


def _doubt(doubt: Doubt, angle: bool) -> str:
    floors = {0.0: "", 1e-3: ", at least 1 µm", math.pi / 180: ", at least 1 deg", math.pi / 360: ", at least 0.5 deg"}
    said = (
        [f"{math.degrees(doubt.absolute):g} deg" if angle else f"{doubt.absolute:g} mm"]
        if doubt.absolute < math.inf
        else []
    )
    said += [f"{doubt.share * 100:g} %"] if doubt.share < math.inf else []
    return " or ".join(said) + floors[doubt.floor]


def _units() -> str:
    rows = "".join(
        f"| {dimension.noun} | {dimension.internal} | `{dimension.example}` | {dimension.greatest:g} |\n"
        for dimension in DIMENSIONS.values()
    )
    return (
        "## Units\n\nEvery quantity is kept in one internal unit, and says its own at the edge: "
        + ", ".join(f"`{unit}`" for unit in COMMON_UNITS)
        + ", and `Hz` for a frequency. `1/min` and `rpm` are turns, not radians. Anything beyond the last column is taken for a slip and refused.\n\n"
        f"| | internal | example | greatest |\n|---|---|---|---|\n{rows}"
    )


RATED = "machine.spindle.power_s1.0.power"


def _taken() -> str:
    """The facts that a rule gives where no file states them, with the value for a tool of 6 mm in a material called ``alu``, in a spindle of
    1 kW."""
    words = {"job.tools.1": "NAME", "job.material": "alu", "tools.NAME.kind": "flat"}
    nobody = FactSet(
        {
            "tools.NAME.DC": Fact("tools.NAME.DC", 6.0, 0.01, "mm"),
            RATED: Fact(RATED, 1000.0, 50.0, "W"),
        },
        {path: Setting(path, word) for path, word in words.items()},
    )
    rows = "".join(
        f"| `{path.replace('.alu.', '.NAME.')}` | {format_quantity(fact.value, fact.u, fact.unit.removeprefix('1'))} | {fact.note.removeprefix(TAKEN).strip()} |\n"
        for path, fact in with_derived(nobody).facts.items()
        if is_taken(fact)
    )
    return (
        "## Taken by a rule\n\nFacts that an examination needs and that few shops state. Where no file says otherwise they are "
        'assumed with a wide doubt, their note begins with "taken as", and they show among the doubts like any other. Shown for a '
        "tool of 6 mm and a material called `alu` of which nothing else is known, in a spindle of 1 kW; condition, material and coating of the tool, "
        f"and whether kc was measured, narrow them.\n\n| path | value | taken as |\n|---|---|---|\n{rows}"
    )


def _holding() -> str:
    rows = "".join(
        f"| {kind} | {', '.join(f'`{name}`' for name in names)} |\n" for kind, names in HOLDING_NUMBERS.items()
    )
    return f"## Kinds of holding\n\n| kind | its numbers |\n|---|---|\n{rows}"


def _tables(model: type[Table], heading: str) -> Iterator[tuple[str, type[Table]]]:
    """Each table of a file with its heading as TOML writes it, outer before inner."""
    yield heading or "at the top of the file", model
    for name, field in model.model_fields.items():
        inner, held = inner_table(field.annotation)
        if inner is None:
            continue
        path = f"{heading.strip('[]')}.{field.alias or name}".lstrip(".")
        if path in ("axis.y", "axis.z") or (
            path.startswith("judgement.") and path.count(".") == 1 and path not in _SHOWN
        ):
            continue
        head = f"[[{path}]]" if held == "list" else f"[{path}.NAME]" if held == "names" else f"[{path}]"
        yield from _tables(inner, head)


_SHOWN = ("judgement.machine", "judgement.time", "judgement.clearance", "judgement.finish")
"""Thresholds come in these four patterns; every question's own table is like that of finish."""


def _table(heading: str, model: type[Table]) -> str:
    rows = [row for row in _rows(model) if row.value]
    if not rows:
        return ""
    lines = "".join(
        f"| `{row.key}`{' (needed)' if row.needed else ''} | {row.value} | {row.meaning} | {row.doubt} |\n"
        for row in rows
    )
    title = heading if " " in heading else f"`{heading}`"
    return f"### {title}\n\n| key | value | means | doubted as |\n|---|---|---|---|\n{lines}"


def _rows(model: type[Table]) -> Iterator[_Row]:
    for name, field in model.model_fields.items():
        inner, _ = inner_table(field.annotation)
        meaning = field.description or ""
        if inner is not None and (inner.__name__ != "Source"):
            continue
        value, doubt = _value(name, field)
        yield _Row(field.alias or name, value, meaning, doubt, field.is_required())


def _value(name: str, field: FieldInfo) -> tuple[str, str]:
    reads = next((mark for mark in (*field.metadata, *_marks(field.annotation)) if isinstance(mark, Reads)), None)
    if reads is None:
        return _plain_value(name, field.annotation), ""
    if reads.form == "rows":
        columns = ", ".join(f"{column} ({_noun(kind)})" for column, kind in reads.kinds)
        extra = "".join(f"; {column} ({_noun(kind)})" for column, kind in reads.extra)
        kind = reads.kinds[-1][1]
        return f"rows of [{columns}]{extra}", _default(kind)
    extra = "".join(f"; `{column}`: {_noun(kind)}" for column, kind in reads.extra)
    return _FORMS[reads.form].format(_noun(reads.kind)) + extra, _default(reads.kind)


def _noun(kind: Kind) -> str:
    return DIMENSIONS[kind.dimension].noun.split(" ", 1)[1] + (" above 0" if kind.lowest == 0 and not kind.zero else "")


def _default(kind: Kind) -> str:
    if kind.exact or kind.dimension == "count":
        return "exact"
    return _SORTS[kind.doubt]


def _plain_value(name: str, annotation: Any) -> str:
    control = CONTROL_KEYS.get(name)
    words = _words(annotation)
    if words and "tuple[" in str(annotation):
        return "list of " + " ".join(f"`{word}`" for word in words)
    if words:
        listed = " ".join(f"`{word}`" for word in words)
        taken = f"; if left out: `{control.plain}`" if control is not None and control.plain else ""
        return f"{listed}{taken}"
    text = str(annotation)
    for mark, value in (
        ("datetime", "date and time"),
        ("Source", "list of tables"),
        ("bool", "true or false"),
        ("dict[", "table of KEY = text"),
        ("tuple[", "list of text"),
        ("int", "whole number"),
        ("str", "text"),
    ):
        if mark in text:
            return value
    return "number"


def _marks(annotation: Any) -> Iterator[Any]:
    """Everything that `Annotated` adds, however deep."""
    for argument in typing.get_args(annotation):
        if typing.get_origin(argument) is typing.Annotated:
            yield from typing.get_args(argument)[1:]
        yield from _marks(argument)


def _words(annotation: Any) -> tuple[str, ...]:
    if typing.get_origin(annotation) is typing.Literal:
        return tuple(str(word) for word in typing.get_args(annotation))
    for argument in typing.get_args(annotation):
        words = _words(argument)
        if words:
            return words
    return ()


if __name__ == "__main__":
    print(facts_page(), end="")
