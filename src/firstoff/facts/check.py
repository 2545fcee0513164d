"""What must fit together between the keys, tables and files of a shop: every misfit is a fault with its line."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Iterator
from itertools import pairwise

from firstoff.errors import Fault
from firstoff.facts.lines import KeyPath
from firstoff.facts.quantity import Quantity, shown
from firstoff.facts.schema import HOLDING_NUMBERS, JobFile, Machine, Materials, Table, Tool, Tools
from firstoff.facts.toml_file import TomlFile

NAME = re.compile(r"\w[\w+-]*")
"""Names of tools, materials and zones are one word: they become part of a path and are typed on a command line."""

OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
RESERVED = ("pocket", "register", "holder", "setter", "rack", "in_spindle")
"""Words that no tool may be called: ``tools.pocket.3`` is a pocket."""

_RE_SLACK_MM = 1e-6
"""A ball cutter's RE is DC/2 to the last digit written; beyond this it is a slip."""
_CONE_SLACK = 0.05
"""Part of its cone's height by which APMX of a chamfer cutter may lie below it: the last tenths are ground away."""
_SHARPEST, _BLUNTEST = math.radians(10), math.pi
"""Point angles of drills and chamfer cutters."""
_LEAST_LEAD = {"tapered": math.radians(45), "chamfer": math.radians(5)}
"""Least KAPR; a chamfer cutter's may not reach 90 deg, a tapered one's may."""


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
    faults += _in_two_pockets(tools, held, file)
    registers: list[KeyPath] = [("register", n) for n in range(len(lines))]
    faults += _twice([line.T for line in lines], [(*p, "T") for p in registers], file, "T in [[register]]")
    called = held + [(line.tool, (*place, "tool")) for line, place in zip(lines, registers, strict=True) if line.tool]
    for tool_name, place in called:
        if tool_name not in named:
            faults.append(
                file.fault(place, "no tool has this name", tool_name, _nearest(tool_name, named, "[tool.NAME]"))
            )
    return faults + _crib(tools, file)


def _in_two_pockets(tools: Tools, held: list[tuple[str, KeyPath]], file: TomlFile) -> list[Fault]:
    seen: dict[str, KeyPath] = {}
    faults: list[Fault] = []
    numbers = [pocket.number for pocket in tools.pocket or ()]
    for tool, place in held:
        if tool in seen:
            first, second = numbers[int(seen[tool][1])], numbers[int(place[1])]
            what = f"tool in two pockets: {tool} stands in {first} (line {file.where(seen[tool]).line}) and in {second}"
            faults.append(file.fault(place, what, "", "each tool once"))
        seen.setdefault(tool, place)
    return faults


def _crib(tools: Tools, file: TomlFile) -> list[Fault]:
    """Holders, sisters and the spindle: names that are there, one tool a holder. A pocket that names the tool in the spindle waits for it,
    and is no fault: that is where the tool goes back to."""
    named, holders = tools.tool or {}, tools.holder or {}
    faults = _names(holders, [("holder", name) for name in holders], file, "holder")
    gripped: dict[str, str] = {}
    for name, tool in named.items():
        at: KeyPath = ("tool", name)
        if tool.held_in is not None and tool.held_in not in holders:
            allowed = _nearest(tool.held_in, holders, "[holder.NAME]")
            faults.append(file.fault((*at, "held_in"), f"tool {name}: no holder has this name", tool.held_in, allowed))
        elif tool.held_in is not None and tool.held_in in gripped:
            other = gripped[tool.held_in]
            what = f"holder {tool.held_in} grips two tools: {other} (line {file.where(('tool', other, 'held_in')).line}) and {name}"
            faults.append(
                file.fault(
                    (*at, "held_in"), what, "", "each holder once", "Take held_in from the one that is out of it."
                )
            )
        elif tool.held_in is not None:
            gripped[tool.held_in] = name
            faults += _shank(name, tool, tools, file)
        for sister in tool.sister or ():
            if sister == name or sister not in named:
                what = f"tool {name}: it is its own sister" if sister == name else f"tool {name}: no tool has this name"
                others = [one for one in named if one != name]
                faults.append(file.fault((*at, "sister"), what, sister, _nearest(sister, others, "[tool.NAME]")))
    if tools.in_spindle is not None and tools.in_spindle not in named:
        allowed = _nearest(tools.in_spindle, named, "[tool.NAME]")
        faults.append(file.fault(("in_spindle",), "no tool has this name", tools.in_spindle, allowed))
    return faults


def _shank(name: str, tool: Tool, tools: Tools, file: TomlFile) -> list[Fault]:
    """A shank that its holder does not take, beyond what a gauge leaves in doubt."""
    grips = (tools.holder or {})[tool.held_in or ""].grips
    if grips is None or tool.DMM is None:
        return []
    low, high, doubt = grips.low.value, grips.high.value, 2 * tool.DMM.u + _RE_SLACK_MM
    if low - doubt <= tool.DMM.value <= high + doubt:
        return []
    what = f"tool {name}: holder {tool.held_in} does not take its shank"
    return [file.fault(("tool", name, "held_in"), what, _mm(tool.DMM), f"{low:g} mm to {high:g} mm")]


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
    return faults + [
        file.fault((*at, symbol), f"tool {name}: {what}", value, allowed)
        for symbol, what, value, allowed in _shape(tool)
    ]


def _shape(tool: Tool) -> Iterator[tuple[str, str, str, str]]:
    """Sizes of the cutting end that cannot be: the symbol, what is wrong, its value, and what is allowed."""
    if tool.SIG is not None and not _SHARPEST <= tool.SIG.value <= _BLUNTEST:
        yield "SIG", "no tool has this point angle", _deg(tool.SIG), "the whole angle of the point, 10 deg to 180 deg"
    least = _LEAST_LEAD.get(tool.kind or "", 0.0)
    if tool.KAPR is not None and not least < tool.KAPR.value <= math.pi / 2:
        allowed = f"above {math.degrees(least):.0f} deg up to 90 deg; 90 deg is an upright wall"
        yield "KAPR", "its edge cannot stand like this", _deg(tool.KAPR), allowed
    if tool.KAPR is not None and tool.kind == "chamfer" and tool.KAPR.value > math.radians(89):
        yield "KAPR", "an upright edge makes no chamfer", _deg(tool.KAPR), "45 deg for a 45 deg chamfer"
    yield from _shorter(tool)
    if tool.profile is not None:
        yield from _drawn(tool)


def _shorter(tool: Tool) -> Iterator[tuple[str, str, str, str]]:
    """Of two sizes, the one that must not be the greater."""
    necked = tool.kind in ("tee", "lollipop", "probe")
    pairs = (
        ("DN", tool.DN if necked else None, "DC", tool.DC, "its neck is not thinner than its edge"),
        ("dead_diameter", tool.dead_diameter, "DC", tool.DC, "dead_diameter is not below DC"),
        ("max_chip", tool.max_chip, "DC", tool.DC, "a chip as thick as the tool"),
        ("APMX", tool.APMX, "LU", tool.LU, "APMX is longer than LU"),
    )
    for symbol, small, other, great, what in pairs:
        if small is None or great is None:
            continue
        if small.value > great.value or (symbol != "APMX" and small.value == great.value):
            yield symbol, what, _mm(small), f"less than {other}, {_mm(great)}"
    if tool.kind == "tee" and tool.RE is not None and tool.APMX is not None and 2 * tool.RE.value > tool.APMX.value:
        yield "RE", "two corners are higher than the disc", _mm(tool.RE), f"at most {tool.APMX.value / 2:g} mm"
    if tool.kind == "chamfer" and tool.SIG is not None and tool.DC is not None and tool.APMX is not None:
        cone = tool.DC.value / 2 / math.tan(min(max(tool.SIG.value, _SHARPEST), math.pi / 2 * 1.9) / 2)
        if tool.APMX.value < (1 - _CONE_SLACK) * cone:
            what = "its cone is higher than APMX: it has no point"
            yield (
                "APMX",
                what,
                _mm(tool.APMX),
                f'at least {cone:.3g} mm, or kind = "profile" with the rows of a flat tip',
            )


def _drawn(tool: Tool) -> Iterator[tuple[str, str, str, str]]:
    rows = [(row[0].value, row[1].value) for row in tool.profile.rows] if tool.profile is not None else []
    written = ", ".join(f"[{r:g}, {z:g}]" for r, z in rows)
    if rows[0][1] > 0:
        yield "profile", "its profile does not begin at the tip", written, "z = 0 in its first row"
    if any(high[1] < low[1] for low, high in pairwise(rows)):
        yield "profile", "its profile goes down again", written, "rows from the tip upward"
    if tool.DC is not None and max(r for r, _ in rows) > tool.DC.value / 2 + _RE_SLACK_MM:
        yield "profile", "its profile is wider than DC", written, f"radii up to {tool.DC.value / 2:g} mm"


def _deg(quantity: Quantity) -> str:
    return f"{math.degrees(quantity.value):g} deg"


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
        if material.kc_mc_correlation is not None and (material.kc is None or material.mc is None):
            what = f"material {name}: kc_mc_correlation needs the keys kc and mc of the same fit"
            faults.append(file.fault(("material", name, "kc_mc_correlation"), what, "", "kc, mc and their correlation"))
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
    if job.ask is not None and job.ask.target_band is not None and job.target is None:
        what = "target_band needs the key target"
        faults.append(file.fault(("ask", "target_band"), what, "", 'target = "part.stl" at the top of the job'))
    return faults + _solids(job, file) + _holding(job, file)


def _solids(job: JobFile, file: TomlFile) -> list[Fault]:
    """Blank and fixtures are each told in exactly one way."""
    faults = [] if job.stock is None else _one_way(job.stock, ("stock",), ("box", "cylinder", "stl", "after"), file)
    if job.stock is not None and job.stock.faces is not None and (job.stock.stl or job.stock.after) is None:
        what = "faces is said of a blank from a file or of what another job leaves"
        faults.append(
            file.fault(("stock", "faces"), what, "", "write the doubt of each size of a box or a cylinder beside it")
        )
    for number, fixture in enumerate(job.fixture or ()):
        faults += _one_way(fixture, ("fixture", number), ("box", "cylinder", "stl"), file)
    return faults


def _one_way(solid: Table, place: KeyPath, ways: tuple[str, ...], file: TomlFile) -> list[Fault]:
    given = [name for name in ways if getattr(solid, name) is not None]
    if len(given) == 1:
        return []
    name = str(place[0]) if len(place) == 1 else f"{place[0]}[{int(place[1]) + 1}]"
    what = f"{name} is said in two ways" if given else f"{name} says nothing"
    return [file.fault(place, what, ", ".join(given), f"exactly one of {', '.join(ways)}")]


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
