"""Situations: a tiny job each, whose limits lie near what is asked, and what of it stays known."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from firstoff.facts.fact import FactSet
from firstoff.verdict.forms import Scale
from firstoff.verdict.question import Limit
from proof.doubt import shops
from proof.doubt.held import Hand
from proof.doubt.hidden import WIDE, WIDER

World = Callable[[FactSet, Mapping[str, float]], FactSet]
"""(true facts, truth less reading by path) -> the facts of the program as it will really run."""


@dataclass(frozen=True, slots=True)
class Situation:
    """One job, the questions that are asked of it, and how its truth is made."""

    name: str
    about: str
    questions: tuple[str, ...]
    machine: str = shops.MACHINE
    tools: str = shops.TOOLS
    materials: str = shops.MATERIALS
    job: str = shops.JOB
    program: str = shops.SIDE
    known: tuple[str, ...] = ()
    """Patterns of facts that are not in doubt here."""
    world: World | None = None
    """None: the truth as it stands."""
    once: bool = False
    """Whether the stock is followed once for all machines, at nominal values: where what the sweep finds does not hang on what is in doubt."""
    wide: float = WIDE
    """Half-width of the range that true values are drawn from, in u."""
    fine: bool = False
    """Whether the truth is followed on cells a third as large: what the cells of the examination leave in doubt is then in doubt here too."""
    hands: Mapping[str, Hand] = field(default_factory=dict)
    """Truth that is worked out by hand, by question."""
    varied: Mapping[str, float] = field(default_factory=dict)
    """Facts that are known but differ from machine to machine, evenly by up to so much either way: where a doubt of what is cut moves no
    reading, the chance would else be the same in every machine."""
    other_files: Mapping[str, bytes] = field(default_factory=dict)
    """Files beside the job, by name."""


def changed(text: str, *swaps: tuple[str, str]) -> str:
    """A text with parts of it exchanged; each must be there."""
    for old, new in swaps:
        if old not in text:
            raise ValueError(f"{old!r} is not in the text")
        text = text.replace(old, new)
    return text


UNDER_TIP = ("job.stock.box.z.low", "job.stock.box.z.high", "job.around.highest_around", "job.around.allowed_below")
BESIDE = {axis: (f"job.stock.box.{axis}.low", f"job.stock.box.{axis}.high") for axis in "xy"}
LENGTH, ZERO = "tools.em6.LF", "job.offset.G54.at."


def as_cut(true: FactSet, errors: Mapping[str, float]) -> FactSet:
    """The world as one tool meets it. The registers hold what was read: a tool that is longer than its register comes as much lower, and a
    zero that lies higher than its register does the same. Both are as if all that stands there stood higher, and registers were right."""
    moved = {path: true.facts[path].value for path in true.facts}
    for path in (LENGTH, *(ZERO + axis for axis in "xyz")):
        moved[path] -= errors.get(path, 0.0)
    up = errors.get(LENGTH, 0.0) + errors.get(ZERO + "z", 0.0)
    for path in UNDER_TIP:
        moved[path] += up
    for axis, faces in BESIDE.items():
        for path in faces:
            moved[path] += errors.get(ZERO + axis, 0.0)
    return true.with_values(moved)


FACE = {"job.stock.box.y.low": 0.1}
"""The blank's face lies anywhere within a cell."""
WALL = """
[[feature]]
what = "front wall"
kind = "wall"
tol = "0.016 mm"
tool = 1
"""
BLANK = ("job.stock.*",)
"""A blank of known size is followed once, not three times; the situation *skin* has one in doubt."""


def _sign(limit: Limit, path: str) -> float:
    """Which way a limit goes with a fact; 0 where the fact has no part in it."""
    factors = dict((limit.demand - limit.capacity).terms)
    return 0.0 if factors.get(path, 0.0) == 0.0 else (1.0 if factors[path] > 0 else -1.0)


UM = 1000.0
DIAMETER = "tools.em6.DC"


def _wall_off(limit: Limit, scale: Scale, true: float, errors: Mapping[str, float], facts: FactSet) -> float:
    """The path was made for the diameter that was read: half of what it is off is left on the wall, or taken from it, µm. What gives way is
    in the examination of the truth; where the push alone is asked, the diameter has no other part in it."""
    del facts
    return true + (_sign(limit, DIAMETER) * UM / 2 * errors.get(DIAMETER, 0.0) if scale is Scale.DIFFERENCE else 0.0)


LOADS = ("torque", "power", "strength", "chip", "holding", "size")
SIDE = Situation(
    "side",
    "one pass along a wall, constants measured on the machine, kc and mc of one fit",
    LOADS,
    job=changed(shops.JOB, ('"300(30) N"', '"110(10) N"')) + WALL,
    tools=changed(shops.TOOLS, ("300(50)", "135(20)")),
    world=as_cut,
    known=(*BLANK, "machine.spindle.inertia"),
    hands={"size": _wall_off},
)
GRIP = replace(
    SIDE,
    name="side, wider truth",
    about="the same grip and pushes, their truth drawn from a range twice as wide",
    questions=("holding",),
    wide=WIDER,
)
CELLS = replace(
    SIDE,
    name="side, finer truth",
    about="the same, its truth followed on cells a third as large, the blank's face anywhere within a cell",
    fine=True,
    varied=FACE,
)
HELIX = replace(
    SIDE,
    name="side, helix in doubt",
    about="the same with a helix angle known to 5°, as it is where nobody measured it",
    questions=("torque", "strength", "holding", "size"),
    tools=changed(
        SIDE.tools,
        ('FHA = "30(1) deg"', 'FHA = "30(5) deg"'),
        ('"6.000(4) mm", evidence = "measured", df = 4', '"6.000(2) mm", evidence = "measured"'),
    ),
)
HANDBOOK = Situation(
    "handbook",
    "the same pass with handbook constants (40 % and more, lognormal): far from linear",
    LOADS,
    job=changed(shops.JOB, ('"300(30) N"', '"180(20) N"'), ("proof-bar", "al-6082")) + WALL.replace("0.016", "0.020"),
    tools=changed(shops.TOOLS, ("300(50)", "200(60)"), ('"4.0(5) µm"', '"5(3) µm"')),
    machine=changed(shops.MACHINE, ('"30(1) W"', '"45(2) W"'), ('"200(8) W"', '"300(12) W"')),
    world=as_cut,
    known=BLANK,
    hands={"size": _wall_off},
)
THIN = Situation(
    "thin chips",
    "a slow feed: chips near the least that cuts, run-out near the feed per edge",
    ("chip",),
    tools=changed(shops.TOOLS, ('max_chip = "0.040(6) mm"', 'max_chip = "0.2 mm"')),
    program=changed(shops.SIDE, ("F1600", "F140")),
    world=as_cut,
    known=BLANK,
)
SKIN = Situation(
    "skin",
    "a skin of 1 mm is faced off a blank whose faces are known to 0.1 mm",
    ("torque", "power", "holding"),
    machine=changed(shops.MACHINE, ('"30(1) W"', '"12.0(5) W"'), ('"200(8) W"', '"80(3) W"')),
    job=changed(shops.JOB, ('"300(30) N"', '"45(4) N"')),
    program=changed(shops.SIDE, ("Y-1.5", "Y0"), ("Z-4 F", "Z-0.8 F")),
    world=as_cut,
    known=("machine.spindle.inertia",),
    fine=True,
)
LONG = Situation(
    "long cut",
    "four passes: mean power and torque over windows of time",
    ("duty",),
    machine=changed(shops.MACHINE, ('"30(1) W"', '"9.0(4) W"'), ('"200(8) W"', '"60(3) W"')),
    program=changed(
        shops.SIDE,
        ("G1 X20 F1600\n", "".join(f"G1 X20 F1600\nG0 Z1\nG0 X-5 Y{1.5 * k}\nG1 Z-4 F3000\n" for k in range(3))),
    ),
    world=as_cut,
    known=BLANK,
)

ZIGZAG = "".join(f"G1 X{2 * k} Y{-1.5 - k % 2} F{{feed}}\n" for k in range(1, 11)).format(feed=2600)
FRAME_KNOWN = ("machine.changer.*", "machine.spindle.*")
FRAME = Situation(
    "frame",
    "the machine frame: ends of travel, a kept-out rack, axes that limit the feed",
    ("travel", "keep_out", "feed"),
    job=changed(shops.JOB, ('"100.00(2) mm"', '"171.0(3) mm"')),
    machine=changed(
        shops.MACHINE,
        ("-1.0(4) mm .. 240.0(4) mm", "-1.0(4) mm .. 191.0(4) mm"),
        ("200.0(3)", "216.2(3)"),
        ("-40.0(3) mm", "-10.0(3) mm"),
    ),
    program=changed(shops.SIDE, ("G1 X20 F1600\n", ZIGZAG)),
    known=FRAME_KNOWN,
)


CORNER = replace(
    FRAME,
    name="corner",
    about="the nose passes a corner of the rack that it could enter by either of two faces",
    questions=("keep_out",),
    machine=changed(FRAME.machine, ("-10.0(3) mm", "-40.0(3) mm")),
    wide=WIDER,
)


def _over_clamps(limit: Limit, scale: Scale, true: float, errors: Mapping[str, float], facts: FactSet) -> float:
    """A rapid comes back in front of the blank, over the clamps: what is left there by plain heights."""
    del limit, scale, true, errors
    return facts.facts["job.around.highest_around"].value - RAPID_Z


RAPID_Z = -7.6
CLAMPS = Situation(
    "clamps",
    "a rapid over clamps, and the lowest tip there is",
    ("rapid_contact", "below"),
    job=changed(shops.JOB, ('allowed_below = "-9.5 mm"', f'allowed_below = "{RAPID_Z} mm"')),
    program=changed(
        shops.SIDE, ("Z-4 F800", "Z-7 F800"), ("G1 X20 F1600\n", f"G1 X20 F1600\nG0 Y-14 Z{RAPID_Z}\nG0 X-5\n")
    ),
    world=as_cut,
    known=BLANK,
    hands={"rapid_contact": _over_clamps},
    varied={"job.around.allowed_below": 0.15},
    once=True,
)
HOLDER = Situation(
    "holder",
    "a tool that stands out little further than its cut is deep",
    ("body_contact",),
    tools=changed(shops.TOOLS, ('"24.0(3) mm"', '"8.2(3) mm"'), ('"6.00(1) mm"', '"6.00 mm"')),
    program=changed(shops.SIDE, ("Z-4 F800", "Z-8 F800")),
    world=as_cut,
    known=(*BLANK, "tools.em6.holder.*"),
)
EDGE = Situation(
    "edge",
    "the length of the edge and the first bite, in a blank whose size is in doubt",
    ("reach", "cuts"),
    tools=changed(shops.TOOLS, ("10.0(1) mm", "7.2(1) mm")),
    program=changed(shops.SIDE, ("Z-4 F800", "Z-7 F800"), ("X20 F1600", "X200 F1600")),
    world=as_cut,
)


def _floor_off(limit: Limit, scale: Scale, true: float, errors: Mapping[str, float], facts: FactSet) -> float:
    """A floor lies lower than it should by what the tool is too long and the zero too high; what the cut lifts is in the examination of the
    truth. µm."""
    del facts, scale
    lower = errors.get(LENGTH, 0.0) + errors.get(ZERO + "z", 0.0)
    return true + _sign(limit, LENGTH) * UM * lower


def _step_off(limit: Limit, scale: Scale, true: float, errors: Mapping[str, float], facts: FactSet) -> float:
    """Two floors part by the difference of two errors of length, µm."""
    del facts, scale
    return true + _sign(limit, LENGTH) * UM * (errors.get(LENGTH, 0.0) - errors.get("tools.em4.LF", 0.0))


def _target_off(limit: Limit, scale: Scale, true: float, errors: Mapping[str, float], facts: FactSet) -> float:
    """As a floor, mm, against the band; what the sweep finds off is nothing here, or a rounding."""
    del true, scale
    lower = errors.get(LENGTH, 0.0) + errors.get(ZERO + "z", 0.0)
    return _sign(limit, LENGTH) * lower - facts.facts["job.ask.target_band"].value


TWO_FLOORS = (
    shops.HEAD
    + """G0 X-5 Y1
G43 H1 Z10
Z4
G1 Z-2 F800
G1 X20 F1200
G0 Z10
M5
T2 M6
S20000 M3
G4 P3
G0 X-4 Y6
G43 H2 Z10
Z4
G1 Z-2 F800
G1 X20 F1200
G0 Z10
"""
    + shops.TAIL
)
STEP = Situation(
    "step",
    "two tools make one floor",
    ("step",),
    program=TWO_FLOORS,
    job=shops.JOB
    + """
[[feature]]
what = "floor step"
kind = "step"
tol = "0.016 mm"
""",
    tools=changed(shops.TOOLS, ("58.400(6) mm", "58.400(4) mm")),
    known=BLANK,
    world=as_cut,
    hands={"step": _step_off},
    varied={"job.feature.0.tol": 0.012},
    once=True,
)
SURE_STEP = replace(
    STEP,
    name="step, lengths well known",
    about="the same with lengths from many readings",
    tools=changed(
        STEP.tools,
        ('"64.150(6) mm", evidence = "measured", df = 4', '"64.150(6) mm", evidence = "measured"'),
        ('"58.400(4) mm", evidence = "measured", df = 2', '"58.400(4) mm", evidence = "measured"'),
    ),
)
FLOOR = Situation(
    "floor",
    "the depth of a floor",
    ("size",),
    job=changed(shops.JOB, ('"-100.00(3) mm"', '"-100.000(5) mm"'))
    + """
[[feature]]
what = "floor"
kind = "floor"
tol = "0.024 mm"
tool = 1
""",
    known=BLANK,
    world=as_cut,
    hands={"size": _floor_off},
    varied={"job.feature.0.tol": 0.018},
    once=True,
)
FINISH = Situation(
    "finish",
    "a round corner's marks, a corner rounded by the control, a spindle that may not be at speed yet",
    ("finish", "path_kept", "spindle"),
    program=changed(
        shops.SIDE, ("G4 P3\n", "G4 P1.36\n"), ("G1 X20 F1600\n", "G1 X13 F1600\nG1 Y12\n"), ("Z-4 F800", "Z-4 F3000")
    ),
    tools=changed(
        shops.TOOLS, ('kind = "flat"\nDC = { value = "6', 'kind = "bull"\nRE = "0.50(3) mm"\nDC = { value = "6')
    ),
    job=shops.JOB
    + """
[[feature]]
what = "outer path"
kind = "path"
tol = "0.040 mm"
[ask]
finish_rz = "2.4 µm"
""",
    known=BLANK,
    world=as_cut,
    once=True,
)


def box_stl(low: tuple[float, float, float], high: tuple[float, float, float]) -> bytes:
    """A box as an STL of twelve triangles, in text."""
    corners = [[(low, high)[k >> axis & 1][axis] for axis in range(3)] for k in range(8)]
    faces = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5))
    rows = ["solid target"]
    for a, b, c, d in faces:
        for triangle in ((a, b, c), (a, c, d)):
            rows += ["facet normal 0 0 0", "outer loop"]
            rows += ["vertex " + " ".join(f"{value:.6f}" for value in corners[k]) for k in triangle]
            rows += ["endloop", "endfacet"]
    return "\n".join([*rows, "endsolid target", ""]).encode()


TARGET = Situation(
    "target",
    "a floor over the whole blank, held against the target part",
    ("target",),
    program=changed(
        shops.SIDE, ("Y-1.5", "Y1"), ("Z-4 F", "Z-2 F"), ("G1 X20 F1600\n", "G1 X20 F1600\nG1 Y6\nG1 X-5\n")
    ),
    job=changed(
        shops.JOB,
        ('"-100.00(3) mm"', '"-100.00(15) mm"'),
        ('material = "proof-bar"\n', 'material = "proof-bar"\ntarget = "target.stl"\n'),
    )
    + """
[ask]
target_band = "0.36 mm"
""",
    known=BLANK,
    world=as_cut,
    hands={"target": _target_off},
    varied={"job.ask.target_band": 0.15},
    other_files={"target.stl": box_stl((0.0, 0.0, -9.0), (15.0, 8.0, -2.0))},
    once=True,
)
ALL = (
    SIDE,
    GRIP,
    CELLS,
    HELIX,
    HANDBOOK,
    SKIN,
    THIN,
    LONG,
    FRAME,
    CORNER,
    CLAMPS,
    HOLDER,
    EDGE,
    STEP,
    SURE_STEP,
    FLOOR,
    FINISH,
    TARGET,
)
