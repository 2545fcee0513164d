"""What must fit together between the keys, tables and files of a shop: every misfit is a fault with its line."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

from firstoff.errors import Fault
from firstoff.facts.lines import KeyPath
from firstoff.facts.quantity import Quantity, shown
from firstoff.facts.schema import HOLDING_NUMBERS, JobFile, Machine, Materials, Table, Tool, Tools
from firstoff.facts.toml_file import TomlFile

NAME = re.compile(r"\w[\w+-]*")
"""Names of tools, materials and zones are one word: they become part of a path and are typed on a command line."""

OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
RESERVED = ("pocket", "register")
"""Words that no tool may be called: ``tools.pocket.3`` is a pocket."""

_RE_SLACK_MM = 1e-6
"""A ball cutter's RE is DC/2 to the last digit written; beyond this it is a slip."""


def check_machine(machine: Machine, file: TomlFile) -> list[Fault]:
    faults: list[Fault] = []
    zones = [zone.name for zone in machine.zone or ()]
    faults += _names(zones, [("zone", n, "name") for n in range(len(zones))], file, "zone")
    faults += _twice(zones, [("zone", n, "name") for n in range(len(zones))], file, "zone")
    if machine.spindle is not None and machine.spindle.directions:
        faults += _twice(machine.spindle.directions, [("spindle", "directions")] * 2, file, "direction")
    faults += _judgement(machine.judgement, file)
    return faults


def _judgement(judgement: Table | None, file: TomlFile) -> list[Fault]:
    faults: list[Fault] = []
    for name in type(judgement).model_fields if judgement is not None else ():
        table = getattr(judgement, name)
        for low, high, what in (
            ("care_above", "stop_above", "stop_above must not be below care_above"),
            ("stop_below", "clear_at", "clear_at must not be below stop_below"),
        ):
            first, second = getattr(table, low, None), getattr(table, high, None)
            if first is not None and second is not None and first.value > second.value:
                faults.append(
                    file.fault(
                        ("judgement", name, high), f"judgement.{name}: {what}", f"{second.value:g} < {first.value:g}"
                    )
                )
    return faults


def check_tools(tools: Tools, file: TomlFile) -> list[Fault]:
    named = tools.tool or {}
    faults = _names(named, [("tool", name) for name in named], file, "tool")
    for name, tool in named.items():
        if name in RESERVED:
            faults.append(file.fault(("tool", name), "this word is taken", name, f"any name but {', '.join(RESERVED)}"))
        faults += _tool(name, tool, file)
    pockets, lines = tools.pocket or (), tools.register_lines or ()
    places: list[KeyPath] = [("pocket", n) for n in range(len(pockets))]
    faults += _twice([pocket.number for pocket in pockets], [(*p, "number") for p in places], file, "pocket number")
    held = [(pocket.tool, (*place, "tool")) for pocket, place in zip(pockets, places, strict=True) if pocket.tool]
    faults += _twice([tool for tool, _ in held], [place for _, place in held], file, "tool in two pockets:")
    registers: list[KeyPath] = [("register", n) for n in range(len(lines))]
    faults += _twice([line.T for line in lines], [(*p, "T") for p in registers], file, "T in [[register]]")
    called = held + [(line.tool, (*place, "tool")) for line, place in zip(lines, registers, strict=True) if line.tool]
    for tool_name, place in called:
        if tool_name not in named:
            faults.append(
                file.fault(place, "no tool has this name", tool_name, _nearest(tool_name, named, "[tool.NAME]"))
            )
    return faults


def _tool(name: str, tool: Tool, file: TomlFile) -> list[Fault]:
    at = ("tool", name)
    faults: list[Fault] = []
    if tool.RE is not None and tool.DC is not None and tool.RE.value > tool.DC.value / 2 + _RE_SLACK_MM:
        faults.append(
            file.fault(
                (*at, "RE"),
                f"tool {name}: RE is more than half of DC",
                _mm(tool.RE),
                f"at most {tool.DC.value / 2:g} mm",
            )
        )
    if tool.gripped is not None and tool.OHX is not None and tool.LF is not None and tool.OHX.value > tool.LF.value:
        faults.append(
            file.fault((*at, "OHX"), f"tool {name}: OHX is longer than LF", _mm(tool.OHX), f"at most {_mm(tool.LF)}")
        )
    if tool.kind == "profile" and tool.profile is None:
        faults.append(
            file.fault(
                (*at, "kind"), f'tool {name}: kind "profile" needs the key profile', "", "profile = [[r, z], ...]"
            )
        )
    return faults


def _mm(quantity: Quantity) -> str:
    return f"{quantity.value:g} mm"


def check_materials(materials: Materials, file: TomlFile) -> list[Fault]:
    named = materials.material or {}
    faults = _names(named, [("material", name) for name in named], file, "material")
    for name, material in named.items():
        if material.kc is not None and "at" not in material.kc.extra:
            faults.append(
                file.fault(
                    ("material", name, "kc"),
                    f"material {name}: kc does not say at which chip thickness it holds",
                    f"{material.kc.main.value:g} N/mm²",
                    'kc = { value = "900(350) N/mm^2", at = "0.05 mm" }',
                )
            )
    return faults


def check_job(job: JobFile, file: TomlFile, tools: Iterable[str] | None, materials: Iterable[str]) -> list[Fault]:
    """`tools` are the names of the shop's tools, None where no shop lists any."""
    faults: list[Fault] = []
    if job.material is not None and job.material not in materials:
        do = "Name it in the shop's materials.toml, or choose a shipped one."
        faults.append(
            file.fault(
                ("material",),
                "no such material",
                job.material,
                _nearest(job.material, materials, "[material.NAME]"),
                do,
            )
        )
    meant = job.tools or {}
    faults += _twice([str(int(number)) for number in meant], [("tools", number) for number in meant], file, "T")
    for number, name in meant.items():
        if tools is not None and name not in tools:
            faults.append(
                file.fault(
                    ("tools", number),
                    f"T{number}: no tool has this name",
                    name,
                    _nearest(name, tools, "[tool.NAME] in tools.toml"),
                )
            )
    for name in job.offset or {}:
        if name not in OFFSETS:
            faults.append(file.fault(("offset", name), "no such work offset", name, ", ".join(OFFSETS)))
        touched = job.offset[name].touched_with if job.offset else None
        if touched is not None and tools is not None and touched not in tools:
            allowed = _nearest(touched, tools, "[tool.NAME] in tools.toml")
            faults.append(file.fault(("offset", name, "touched_with"), "no tool has this name", touched, allowed))
    numbers = {int(number) for number in meant}
    for place, feature in enumerate(job.feature or ()):
        if numbers and feature.tool is not None and feature.tool not in numbers:
            faults.append(
                file.fault(
                    ("feature", place, "tool"),
                    f"T{feature.tool} is not listed",
                    "",
                    "one of [tools]: " + ", ".join(f"T{n}" for n in sorted(numbers)),
                )
            )
    return faults + _stock(job, file) + _holding(job, file)


def _stock(job: JobFile, file: TomlFile) -> list[Fault]:
    if job.stock is None:
        return []
    given = [name for name in ("box", "cylinder", "stl", "after") if getattr(job.stock, name) is not None]
    if len(given) == 1:
        return []
    what = "stock is said in two ways" if given else "stock says nothing"
    return [file.fault(("stock",), what, ", ".join(given), "exactly one of box, cylinder, stl, after")]


def _holding(job: JobFile, file: TomlFile) -> list[Fault]:
    if job.holding is None:
        return []
    known = (*HOLDING_NUMBERS[job.holding.kind], "kind", "after_cut_free")
    return [
        file.fault(("holding", name), f"{name} does not belong to a {job.holding.kind}", "", ", ".join(known))
        for name in type(job.holding).model_fields
        if getattr(job.holding, name) is not None and name not in known
    ]


def _names(names: Iterable[str], places: list[KeyPath], file: TomlFile, what: str) -> list[Fault]:
    return [
        file.fault(place, f"the name of a {what} must be one word", shown(name), "letters, digits, - _ +")
        for name, place in zip(names, places, strict=True)
        if not NAME.fullmatch(name)
    ]


def _twice(values: Iterable[object], places: list[KeyPath], file: TomlFile, what: str) -> list[Fault]:
    seen: set[object] = set()
    faults: list[Fault] = []
    for value, place in zip(values, places, strict=False):
        if value in seen:
            faults.append(file.fault(place, f"{what} {value} stands there twice", "", "each once"))
        seen.add(value)
    return faults


def _nearest(name: str, known: Iterable[str], home: str) -> str:
    near = difflib.get_close_matches(name, list(known), n=3, cutoff=0.4)
    return "nearest: " + ", ".join(near) if near else f"a name given under {home}"
