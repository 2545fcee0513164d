"""Mistakes that stand in the shop's tables: the program is right, and what it meets, as the tables tell it, is another."""

from __future__ import annotations

import math
import random
import re

from proof.faults.edits import get_key, set_key, set_pocket
from proof.faults.kinds import Kind, Mistake, Scene, has_target

CONTACTS = ("rapid_contact", "body_contact")
CUTTING = ("reach", "torque", "power", "strength", "chip", "chips_out", "holding", "size")
ALIKE = {"em3": "em3-long", "em6": "em6-stub"}
Ends = tuple[float, float]


def _tables(words: str, scene: Scene, job: str | None = None, tools: str | None = None) -> Mistake:
    thing = "blank" if words.startswith(("blank", "zero")) else ""
    return Mistake(words, scene.program, job, tools, thing=thing)


def _any_tool(scene: Scene, dice: random.Random) -> str:
    return scene.bench.pockets[dice.choice(scene.pockets())].name


# --- tools ------------------------------------------------------------------------------------------------------------------


def rack_refilled(scene: Scene, dice: random.Random) -> Mistake | None:
    """Two tools have changed places in the rack, and the list says so."""
    one = dice.choice(scene.pockets())
    two = dice.choice([number for number in scene.bench.pockets if number != one])
    a, b = scene.bench.pockets[one].name, scene.bench.pockets[two].name
    tools = set_pocket(set_pocket(scene.tools, one, b), two, a)
    return _tables(f"pocket {one} holds {b}, pocket {two} {a}", scene, tools=tools)


def look_alike(scene: Scene, dice: random.Random) -> Mistake | None:
    """A tool that looks the same stands in the pocket, and the list says so."""
    mine = [number for number in scene.pockets() if scene.bench.pockets[number].name in ALIKE]
    if not mine:
        return None
    number = dice.choice(mine)
    name = ALIKE[scene.bench.pockets[number].name]
    tools = set_pocket(scene.tools, number, name)
    other = next(one for one, cutter in scene.bench.pockets.items() if cutter.name == name)
    tools = set_pocket(tools, other, scene.bench.pockets[number].name)
    return _tables(f"pocket {number} holds {name}", scene, tools=tools)


def re_gripped(scene: Scene, dice: random.Random) -> Mistake | None:
    """Taken out and gripped anew: the new overhang is written down, the length is the old one."""
    name = _any_tool(scene, dice)
    cutter = next(one for one in scene.bench.pockets.values() if one.name == name)
    by = dice.choice((-6.0, -4.0, -3.0, 3.0, 4.0, 6.0))
    out = cutter.overhang + by
    tools = set_key(scene.tools, f"tool.{name}", "OHX", f'"{out:.1f}(3) mm"')
    words, true = f"{name}: OHX {out:.1f}, not {cutter.overhang:.1f}, LF as it was", {name: cutter.length + by}
    return Mistake(words, scene.program, tools=tools, really=true)


def length_mistyped(scene: Scene, dice: random.Random) -> Mistake | None:
    """Two figures of a length changed over when it was written into the table and into the control."""
    name = _any_tool(scene, dice)
    cutter = next(one for one in scene.bench.pockets.values() if one.name == name)
    digits = re.findall(r"[0-9.]", f"{cutter.length:.3f}")
    places = [k for k in (0, 1) if digits[k].isdigit() and digits[k + 1].isdigit() and digits[k] != digits[k + 1]]
    places += [1] if not places else []
    k = dice.choice(places)
    second = k + 1 if digits[k + 1] != "." else k + 2
    digits[k], digits[second] = digits[second], digits[k]
    value = "".join(digits)
    if abs(float(value) - cutter.length) < 2.0:
        return None
    tools = set_key(scene.tools, f"tool.{name}", "LF", f'{{ value = "{value}(6) mm", evidence = "measured", df = 9 }}')
    words, true = f"{name}: LF {value}, not {cutter.length:.3f}", {name: cutter.length}
    return Mistake(words, scene.program, tools=tools, really=true)


def short_overhang(scene: Scene, dice: random.Random) -> Mistake | None:
    """Pushed in further and measured anew: the holder comes down to the work."""
    name = _any_tool(scene, dice)
    cutter = next(one for one in scene.bench.pockets.values() if one.name == name)
    out = round(dice.uniform(2.0, 0.6 * cutter.overhang), 1)
    length = cutter.length - (cutter.overhang - out)
    tools = set_key(scene.tools, f"tool.{name}", "OHX", f'"{out:.1f}(1) mm"')
    tools = set_key(tools, f"tool.{name}", "APMX", f'"{min(cutter.flute, out - 0.2):.1f} mm"')
    tools = set_key(tools, f"tool.{name}", "LF", f'{{ value = "{length:.3f}(6) mm", evidence = "measured", df = 9 }}')
    return _tables(f"{name} stands out {out:.1f}, not {cutter.overhang:.1f}", scene, tools=tools)


def wide_holder(scene: Scene, dice: random.Random) -> Mistake | None:
    """Another holder, wide and long: it comes down beside the tool."""
    name = _any_tool(scene, dice)
    cutter = next(one for one in scene.bench.pockets.values() if one.name == name)
    out, across = round(dice.uniform(3.0, 0.7 * cutter.overhang), 1), dice.choice((32, 40, 50))
    rest = cutter.length - out
    tools = set_key(scene.tools, f"tool.{name}", "OHX", f'"{out:.1f}(1) mm"')
    tools = set_key(tools, f"tool.{name}", "APMX", f'"{min(cutter.flute, out - 0.2):.1f} mm"')
    tools = set_key(tools, f"tool.{name}", "holder", f'[["{across} mm", "{rest:.1f} mm"]]')
    return _tables(f"{name} in a holder of {across} mm, {out:.1f} out", scene, tools=tools)


def short_edge(scene: Scene, dice: random.Random) -> Mistake | None:
    name = _any_tool(scene, dice)
    edge = round(dice.uniform(0.5, 6.0), 1)
    cutter = next(one for one in scene.bench.pockets.values() if one.name == name)
    if edge >= cutter.flute:
        return None
    tools = set_key(scene.tools, f"tool.{name}", "APMX", f'"{edge:.1f} mm"')
    return _tables(f"{name}: edge {edge:.1f} long, not {cutter.flute:g}", scene, tools=tools)


def dead_centre(scene: Scene, dice: random.Random) -> Mistake | None:
    """A mill that does not cut on its centre does the work of one that does."""
    mills = [
        scene.bench.pockets[one] for one in scene.pockets() if scene.bench.pockets[one].kind in ("bull", "ball", "flat")
    ]
    cutter = dice.choice(mills)
    across = round(2 * cutter.radius * dice.uniform(0.4, 0.7), 1)
    tools = set_key(scene.tools, f"tool.{cutter.name}", "centre_cutting", "false")
    tools = set_key(tools, f"tool.{cutter.name}", "dead_diameter", f'"{across:.1f}(1) mm"')
    return _tables(f"{cutter.name} does not cut within {across:.1f} mm", scene, tools=tools)


def ground_down(scene: Scene, dice: random.Random) -> Mistake | None:
    """A reground tool, its new diameter in the table: the walls move by half of what is missing."""
    mills = [scene.bench.pockets[one] for one in scene.pockets() if scene.bench.pockets[one].kind == "bull"]
    mills = [one for one in mills if not one.dead]
    if not mills:
        return None
    cutter = dice.choice(mills)
    across = round(2 * cutter.radius - dice.uniform(1.2, 2.4), 2)
    tools = set_key(
        scene.tools, f"tool.{cutter.name}", "DC", f'{{ value = "{across:.3f}(4) mm", evidence = "measured", df = 5 }}'
    )
    return _tables(f"{cutter.name}: DC {across:.2f}, not {2 * cutter.radius:.2f}", scene, tools=tools)


# --- blank and zero -----------------------------------------------------------------------------------------------------------


def _box(scene: Scene, x: Ends, y: Ends, z: Ends) -> str:
    sides = ", ".join(f'"{low:.2f}(5) mm .. {high:.2f}(5) mm"' for low, high in (x, y, z))
    return set_key(scene.job, "stock", "box", f"[{sides}]")


def too_tall(scene: Scene, dice: random.Random) -> Mistake | None:
    x, y, (low, high) = scene.bench.work.blank
    more = round(dice.uniform(2.0, 9.0), 1)
    return _tables(f"blank {more:g} higher", scene, _box(scene, x, y, (low, high + more)))


def too_low(scene: Scene, dice: random.Random) -> Mistake | None:
    x, y, (low, high) = scene.bench.work.blank
    less = round(dice.uniform(0.6, 4.0), 1)
    return _tables(f"blank {less:g} lower", scene, _box(scene, x, y, (low, high - less)))


def too_narrow(scene: Scene, dice: random.Random) -> Mistake | None:
    x, y, z = scene.bench.work.blank
    less, side = round(dice.uniform(1.5, 6.0), 1), dice.randrange(4)
    ends = [[x[0], x[1]], [y[0], y[1]]]
    ends[side // 2][side % 2] += less if side % 2 == 0 else -less
    (a, b), (c, d) = ends
    return _tables(f"blank {less:g} narrower in {'XY'[side // 2]}", scene, _box(scene, (a, b), (c, d), z))


def too_wide(scene: Scene, dice: random.Random) -> Mistake | None:
    """Room for a lead-in that is no room: the tool comes down on the blank at rapid, or cuts far more than it should."""
    x, y, z = scene.bench.work.blank
    more = round(dice.uniform(4.0, 14.0), 1)
    return _tables(
        f"blank {more:g} wider all round", scene, _box(scene, (x[0] - more, x[1] + more), (y[0] - more, y[1] + more), z)
    )


def turned(scene: Scene, _: random.Random) -> Mistake | None:
    """Laid in turned by a quarter, touching the same corner or centred as it was."""
    x, y, z = scene.bench.work.blank
    middle = abs(x[0] + x[1]) < 1e-6
    if math.isclose(x[1] - x[0], y[1] - y[0]):
        return None
    box = _box(scene, y, x, z) if middle else _box(scene, (x[0], x[0] + y[1] - y[0]), (y[0], y[0] + x[1] - x[0]), z)
    return _tables("blank turned by a quarter", scene, box)


def other_corner(scene: Scene, dice: random.Random) -> Mistake | None:
    """Zero set on another corner, or on the middle, or on the bottom."""
    x, y, z = scene.bench.work.blank
    wide, deep, high = x[1] - x[0], y[1] - y[0], z[1] - z[0]
    by = dice.choice(((wide, 0, 0), (0, deep, 0), (wide, deep, 0), (wide / 2, deep / 2, 0), (0, 0, high)))
    sign = dice.choice((-1, 1))
    parts = [(low - sign * d, top - sign * d) for (low, top), d in zip((x, y, z), by, strict=True)]
    words = f"zero {sign * by[0]:g}, {sign * by[1]:g}, {sign * by[2]:g} beside"
    return _tables(words, scene, _box(scene, parts[0], parts[1], parts[2]))


# --- what stands round it -----------------------------------------------------------------------------------------------------


def high_jaws(scene: Scene, dice: random.Random) -> Mistake | None:
    high = scene.bench.work.highest + round(dice.uniform(2.0, 9.0), 1)
    value = f'{{ value = "{high:.1f}(1) mm", evidence = "measured" }}'
    return _tables(
        f"what stands round it reaches {high:.1f}", scene, set_key(scene.job, "around", "highest_around", value)
    )


def clamp_in_the_way(scene: Scene, dice: random.Random) -> Mistake | None:
    """One more clamp, drawn where a cut goes."""
    cuts = [step for step in scene.clean.trace.steps if step.kind == "feed" and scene.clean.at(step.line).volume > 0]
    x, y, _ = dice.choice(cuts).end
    top = scene.bench.work.blank[2][1]
    high = top + dice.choice((4.0, 6.0, 10.0))
    ends = ", ".join(f'"{a:.1f} mm .. {b:.1f} mm"' for a, b in ((x - 4, x + 4), (y - 4, y + 4), (top, high)))
    job = f'{scene.job}\n[[fixture]]\nname = "third clamp"\nbox = [{ends}]\n'
    return _tables(f"a clamp at X{x:.1f} Y{y:.1f} up to Z{high:.1f}", scene, job)


def other_station(scene: Scene, dice: random.Random) -> Mistake | None:
    """The work zero of another station of the table."""
    x, y, z = scene.bench.work.zeros[54]
    sign = dice.choice((-1.0, 1.0))
    x, y = dice.choice(((x + sign * dice.uniform(120, 200), y), (x, y + sign * dice.uniform(100, 160))))
    value = f'{{ value = ["{x:.2f}(2) mm", "{y:.2f}(2) mm", "{z:.2f}(2) mm"], evidence = "measured" }}'
    return _tables(f"G54 at X{x:.1f} Y{y:.1f}", scene, set_key(scene.job, "offset.G54", "at", value))


def zero_too_deep(scene: Scene, dice: random.Random) -> Mistake | None:
    """Z of the work zero from a lower set-up: the axis ends before the tool is down."""
    x, y, z = scene.bench.work.zeros[54]
    z -= round(dice.uniform(25.0, 60.0), 1)
    value = f'{{ value = ["{x:.2f}(2) mm", "{y:.2f}(2) mm", "{z:.2f}(2) mm"], evidence = "measured" }}'
    return _tables(f"G54 at Z{z:.1f}", scene, set_key(scene.job, "offset.G54", "at", value))


def materials_swapped(scene: Scene) -> str:
    """The job's other material; used where nothing can show it."""
    other = "pom" if "al-6082" in get_key(f"[job]\n{scene.job}", "job", "material") else "al-6082"
    return re.sub(r'^material = ".*"$', f'material = "{other}"', scene.job, flags=re.MULTILINE)


ANY = ("rapid", "obstacle", "body", "flute", "dead", "below")
KINDS = (
    Kind("wrong pocket", "the rack was filled otherwise, as its list says: T is not the tool that is meant", ("tool",), ("tool",), rack_refilled),
    Kind("look-alike", "a tool that looks the same stands in the pocket, as its list says", ("tool",), ("tool",), look_alike),
    Kind("re-gripped", "the overhang in the table is the new one, the length the old one", ("tool", *CONTACTS, "understood"), ("way",), re_gripped),
    Kind("length mistyped", "two figures of a length changed over: it no longer fits overhang and holder", ("tool", *CONTACTS, "below", "travel", "understood"), ("way",), length_mistyped),
    Kind("pushed in", "a tool stands out less than it should: its holder comes down to the work", (*CONTACTS, "reach"), ("body",), short_overhang),
    Kind("wide holder", "another holder, wide and low", (*CONTACTS, "reach"), ("body",), wide_holder),
    Kind("short edge", "the edge ends below the top of the cut", ("reach",), ("flute",), short_edge),
    Kind("dead centre", "a mill that does not cut on its centre does another's work", ("reach",), ("dead",), dead_centre),
    Kind("ground down", "a reground mill: the walls stand off", ("target", "cuts"), ("shape",), ground_down, has_target),
    Kind("blank too tall", "the blank is 2 to 9 mm higher", (*CONTACTS, *CUTTING, "cuts", "target"), (*ANY, "shape"), too_tall),
    Kind("blank too low", "the blank is 0.6 to 4 mm lower", ("cuts", "target"), ("air", "shape"), too_low, has_target),
    Kind("blank too narrow", "one side of the blank is short", ("target", "cuts"), ("shape", "air"), too_narrow, has_target),
    Kind("blank too wide", "the blank is 4 to 14 mm wider all round", (*CONTACTS, *CUTTING, "cuts", "target"), ANY, too_wide),
    Kind("blank turned", "laid in turned by a quarter", ("cuts", "target", *CONTACTS, *CUTTING), (*ANY, "air"), turned),
    Kind("zero elsewhere", "the zero is set on another corner, in the middle or at the bottom", ("cuts", "target", *CONTACTS, "below", *CUTTING), (*ANY, "air"), other_corner),
    Kind("jaws too high", "what stands round the blank is higher", CONTACTS, ("obstacle", "body"), high_jaws),
    Kind("clamp in the way", "one more clamp, where a cut goes", CONTACTS, ("obstacle", "body"), clamp_in_the_way),
    Kind("other station", "X or Y of the work zero from another station", ("travel", "keep_out"), ("travel", "zone"), other_station),
    Kind("zero too deep", "Z of the work zero from a lower set-up", ("travel",), ("travel",), zero_too_deep),
)  # fmt: skip
