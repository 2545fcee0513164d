"""Nothing that would crash is called clear: single traps of the language, and random programs against a slow replay of their moves.

The replay shares nothing with the questions but the reading: it adds offsets, shifts and lengths itself, walks every move in steps of
0.1 mm and looks whether a disc of the body is inside a box, the tip is too deep, an axis is past its end or a rapid meets stock that
stands. It knows best estimates only; whatever it hits must be stop or unjudged.
"""

from __future__ import annotations

import math
import random
import re
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from firstoff.program.moves import NO_LENGTH, PLANE_AXES, Base, Kind, Reading
from firstoff.verdict.question import Answer

from .conftest import JOB, MACHINE, TOOLS, Examine

Points = NDArray[np.float64]
BoxMm = tuple[float, float, float, float, float]  # x low, x high, y low, y high, top
BEGIN = "%\nG21 G17 G40 G49 G90 G94 G80\nG54\nT1 M6\nS20000 M3\nG4 P3\nG0 X-5 Y-5\nG43 H1 Z10\n"
END = "G0 Z10\nM5\nM30\n%\n"
CLAMP = '[[fixture]]\nname = "clamp"\nbox = ["60 mm .. 70 mm", "-20 mm .. 30 mm", "-10 mm .. 8 mm"]\n'

TRAPS = [
    # what happens, blocks between BEGIN and END, question, what the job adds
    ("G28 goes home through the part", "Z4\nG28 X20 Y10 Z-1", "rapid_contact", ""),
    ("G30 goes where nobody said", "G91 G30 Z0\nG90", "travel", ""),
    ("the length is dropped", "Z4\nG49\nG1 Z-2 F500", "below", ""),
    ("H0 is no length", "G43 H0\nG0 Z4\nG1 Z-2 F500", "below", ""),
    ("the length of a longer tool stays on after the change", "Z4\nT2 M6\nG1 Z-2 F500", "tool", ""),
    ("a shorter length brings a rapid down", "G43.1 Z50\nG0 Z10", "rapid_contact", ""),
    ("G52 lowers everything", "G52 Z-10\nG0 Z4\nG1 Z-2 F500\nG52 Z0", "below", ""),
    ("G92 is said at the wrong height", "G92 Z20\nG0 Z4\nG92.1", "rapid_contact", ""),
    ("G91 counts from where it stands", "Z4\nG91\nG0 Z-5\nX20\nG90", "rapid_contact", ""),
    ("an arc bulges past the end of Y", "Z4\nG1 Y118 F900\nG3 X-15 I-5 J0", "travel", ""),
    ("an arc in ZX goes below", "Z4\nG18\nG1 Z2 F900\nG2 X25 I15 K0\nG3 X-5 I-15 K0\nG17", "below", ""),
    ("a helix turns down too often", "Z4\nG1 Z2 F900\nG3 I-5 J0 Z-11", "below", ""),
    ("G99 crosses a clamp at the R plane", "G99 G81 X40 Y10 Z-5 R4 F300\nX85\nG80", "rapid_contact", CLAMP),
    ("a straight rapid cuts a clamp's corner", "Z4\nX55 Y-40\nX80 Y0", "rapid_contact", CLAMP),
    ("a rapid in Y alone crosses a clamp", "X65 Y50\nZ6\nY-60", "rapid_contact", CLAMP),
    ("a rapid goes deeper than its own hole", "X20 Y10\nG1 Z-2 F300\nG0 Z4\nG0 Z-8", "rapid_contact", ""),
    ("a peck goes back beside its hole", "X20 Y10\nG1 Z-6 F300\nG0 Z4\nX30\nG0 Z-5.5", "rapid_contact", ""),
    (
        "a second zero is too far out",
        "Z10\nG55\nG0 X60",
        "travel",
        '[offset.G55]\nat = ["250 mm", "80 mm", "-100 mm"]\n',
    ),
    ("G53 drops the tool beside the part", "G53 G0 Z-50", "rapid_contact", ""),
    ("the rack is entered by the holder alone", "Z4\nX159 Y-20", "keep_out", ""),
]


@pytest.mark.parametrize(("blocks", "question", "more"), [row[1:] for row in TRAPS], ids=[row[0] for row in TRAPS])
def test_a_trap_of_the_language_is_never_clear(examine: Examine, blocks: str, question: str, more: str) -> None:
    changed = {"program": lambda _: f"{BEGIN}{blocks}\n{END}", "job": lambda text: text + more}
    answered = examine([question], **changed).answer(question)
    assert answered.answer in (Answer.STOP, Answer.UNJUDGED), (answered.why, answered.places)


HABITS = [
    ("home in Z first", "T1 M6\n", "G91 G28 Z0\nG90\nT1 M6\n"),
    ("up in machine coordinates first", "T1 M6\n", "G53 G0 Z0\nT1 M6\n"),
    ("home at the end", "M5\nM30", "M5\nG91 G28 Z0\nG28 X0 Y0\nG90\nM30"),
    ("the next tool is called early", "M8\nG1 Z-2", "T2\nM8\nG1 Z-2"),
    ("pecks in one's own hole", "G81 X10", "G83 Q2 X10"),
]


@pytest.mark.parametrize(("old", "new"), [row[1:] for row in HABITS], ids=[row[0] for row in HABITS])
def test_a_good_habit_rings_no_alarm(examine: Examine, old: str, new: str) -> None:
    examination = examine(program=lambda text: text.replace(old, new, 1))
    loud = {one.question.id: one.why for one in examination.answers if one.answer is not Answer.CLEAR}
    assert not loud


# --- random programs against a slow replay ------------------------------------------------------------------------------

RADII = {1: 3.0, 2: 1.5}
LENGTHS = {1: 64.15, 2: 71.02}
OVERHANGS = {1: 24.0, 2: 30.0}
HOLDER = ((8.0, 20.0), (12.5, 20.0))
STOCK: BoxMm = (-1.0, 51.0, -1.0, 31.0, 0.2)
TRAVEL = ((-1.0, 301.0), (-1.0, 201.0), (-121.0, 90.5))
LOWEST = -10.5
CELL_MM = 0.5
HOLES = ("G98 G81", "G99 G81", "G98 G83", "G99 G83")
STEP_MM = 0.1
ASKED = ("travel", "keep_out", "below", "rapid_contact", "body_contact")
TOUCH_MM = 0.05
"""Less than this is rounding, steps and cells."""


@dataclass
class Bench:
    """A machine and a job by plain numbers."""

    zeros: dict[int, tuple[float, float, float]]
    zone: BoxMm
    fixture: BoxMm
    nose: float

    def texts(self) -> dict[str, object]:
        """Changes of the small shop's texts that describe this bench."""

        def ranges(box: BoxMm, bottom: float) -> str:
            return f'["{box[0]:.2f}(1) mm .. {box[1]:.2f}(1) mm", "{box[2]:.2f}(1) mm .. {box[3]:.2f}(1) mm", "{bottom} mm .. {box[4]:.2f}(1) mm"]'

        def at(base: int) -> str:
            return "[" + ", ".join(f'"{value:.2f}(1) mm"' for value in self.zeros[base]) + "]"

        holder = 'OHX = "30.0(3) mm"\nholder = [["16 mm", "20 mm"], ["25 mm", "20 mm"]]'
        machine = re.sub(r"box = .*", f"box = {ranges(self.zone, -121)}", MACHINE).replace("0.5(2) mm", "90.5(2) mm")
        machine = machine.replace('"50 mm", "40 mm"', f'"{2 * self.nose:.1f} mm", "40 mm"')
        tools = TOOLS.replace('OHX = "30.0(3) mm"\nholder = [["16 mm", "20 mm"]]', holder).replace(
            "5.990(4)", "6.000(4)"
        )
        job = re.sub(r"at = .*", f"at = {at(Base.G54)}", JOB).replace('highest_around = "-3.0(2) mm"\n', "")
        job += f"[offset.G55]\nat = {at(Base.G55)}\n[[fixture]]\nbox = {ranges(self.fixture, -20)}\n"
        return {"machine": lambda _: machine, "tools": lambda _: tools, "job": lambda _: job}


def random_bench(dice: random.Random) -> Bench:
    def number(low: float, high: float) -> float:
        return round(dice.uniform(low, high), 1)

    zeros = {int(base): (number(20, 240), number(30, 160), number(-112, -80)) for base in (Base.G54, Base.G55)}
    zeros[int(Base.G28)] = (0.0, 200.0, 0.0)
    x, y, u, v = number(0, 280), number(0, 180), number(-40, 90), number(-30, 60)
    zone = (x, x + number(2, 30), y, y + number(2, 40), number(-110, -40))
    fixture = (u, u + number(3, 30), v, v + number(3, 30), number(-5, 15))
    return Bench(zeros, zone, fixture, dice.choice((5.0, 15.0, 25.0)))


def random_program(dice: random.Random) -> str:
    def n(low: float, high: float) -> float:
        return round(dice.uniform(low, high), 1)

    def change() -> list[str]:
        tool = dice.choice((1, 2))
        called = tool if dice.random() < 0.85 else 3 - tool
        return ["M5", f"T{tool} M6", "S12000 M3", "G4 P3", f"G43 H{called} Z{n(12, 40)}"]

    lines = ["%", "G21 G17 G40 G49 G90 G94 G80", dice.choice(("G54", "G54", "G55")), "G53 G0 Z0", *change()]
    for _ in range(dice.randint(4, 14)):
        x, y = (n(-8, 58), n(-8, 38)) if dice.random() < 0.7 else (n(-25, 130), n(-30, 60))
        lines += dice.choice(
            [
                [f"G0 X{x} Y{y}"],
                [f"G0 X{x} Y{y}"],
                [f"G0 X{x} Y{y} Z{n(3, 30)}"],
                [f"G0 Z{n(3, 30)}"],
                [f"G1 Z{n(-12, 2)} F600"],
                [f"G1 X{x} Y{y} F1200"],
                [f"G{dice.choice((2, 3))} I{n(-12, 12)} J{n(-12, 12)} Z{n(-6, 6)} F900"],
                ["G18", f"G{dice.choice((2, 3))} I{n(-8, 8)} K{n(3, 12)} F900", "G17"],
                ["G19", f"G{dice.choice((2, 3))} J{n(-8, 8)} K{n(3, 12)} F900", "G17"],
                [f"{dice.choice(HOLES)} X{x} Y{y} Z{n(-9, -2)} R{n(1.5, 5)} Q2 F300", "X20", "G80"],
                ["G91", f"G0 X{n(-15, 15)} Z{n(-4, 8)}", f"G1 Y{n(-10, 10)} F800", "G90"],
                [f"G52 X{n(-20, 20)} Z{n(-3, 3)}"],
                ["G52 X0 Z0"],
                [f"G92 X{n(-5, 5)} Z{n(5, 20)}"],
                ["G92.1"],
                [f"G28 X{x} Z{n(5, 30)}", f"G0 X{x} Y{y}", f"Z{n(5, 30)}"],
                ["G53 G0 Z0", f"G53 G0 X{n(0, 300)} Y{n(0, 200)}", f"G0 X{x} Y{y}", f"Z{n(5, 30)}"],
                [dice.choice(("G54", "G55")), f"G0 X{x} Y{y}", f"Z{n(5, 30)}"],
                ["G0 Z30", *change()],
            ]
        )
    return "\n".join([*lines, "G0 Z30", "M5", "M30", "%", ""])


def replay(reading: Reading, bench: Bench, stock_base: int) -> set[str]:
    """What is hit at best estimates: travel, keep_out, below, stock (by a rapid), fixture (by a rapid), fed (a feed into the fixture)."""
    hits: set[str] = set()
    moves, zero = reading.moves, np.array(bench.zeros[stock_base])
    stands = np.full((round((STOCK[1] - STOCK[0]) / CELL_MM), round((STOCK[3] - STOCK[2]) / CELL_MM)), STOCK[4])
    before = np.full(3, math.nan)
    for move in range(len(moves)):
        if moves.kind[move] == Kind.DWELL:
            continue
        end = np.array([machine_position(reading, bench, move, axis) for axis in range(3)])
        points = walk(reading, move, before, end)
        before = end
        for axis, (low, high) in enumerate(TRAVEL):
            here = points[np.isfinite(points[:, axis]), axis]
            if here.size and (here.min() < low - 1e-6 or here.max() > high + 1e-6):
                hits.add("travel")
        tool, points = int(moves.tool[move]), points[np.isfinite(points).all(axis=1)]
        if tool not in RADII or not len(points):
            continue
        rapid = moves.kind[move] in (Kind.RAPID, Kind.HOME, Kind.MACHINE)
        tip = points - zero - [0.0, 0.0, LENGTHS[tool]]
        if depth_inside(points, discs(tool, bench.nose), bench.zone) > TOUCH_MM:
            hits.add("keep_out")
        if tip[:, 2].min() < LOWEST - 1e-6:
            hits.add("below")
        if depth_inside(tip, [(RADII[tool], 0.0)], bench.fixture) > TOUCH_MM:
            hits.add("fixture" if rapid else "fed")
        straight_up = bool(np.all(np.abs(tip[-1, :2] - tip[0, :2]) < 1e-6) and tip[-1, 2] >= tip[0, 2])
        if cut(stands, tip, RADII[tool]) and rapid and not straight_up:
            hits.add("stock")
    return hits


def machine_position(reading: Reading, bench: Bench, move: int, axis: int) -> float:
    """Machine coordinate of the gauge point at the end of a move, NaN where its origin has no number."""
    row = int(reading.moves.frame[move, axis])
    base, register = int(reading.frames.base[row, axis]), int(reading.frames.length[row])
    origin = 0.0 if base == Base.MACHINE else bench.zeros.get(base, (math.nan,) * 3)[axis]
    length = LENGTHS.get(register, math.nan) if axis == 2 and register != NO_LENGTH else 0.0
    return float(reading.moves.end_mm[move, axis] + reading.frames.shift_mm[row, axis] + origin + length)


def walk(reading: Reading, move: int, start: Points, end: Points) -> Points:
    """Points along a move, STEP_MM apart."""
    start = np.where(np.isnan(start), end, start)
    arc = int(reading.moves.arc[move])
    if arc < 0:
        steps = max(int(np.nanmax(np.abs(np.nan_to_num(end - start))) / STEP_MM), 1)
        return np.asarray(start + np.linspace(0.0, 1.0, steps + 1)[:, None] * (end - start))
    first, second, normal = PLANE_AXES[int(reading.arcs.plane[arc])]
    shift = end - reading.moves.end_mm[move]
    x, y = reading.arcs.centre_mm[arc] + shift[[first, second]]
    radius = math.hypot(start[first] - x, start[second] - y)
    sweep = float(reading.arcs.sweep_rad[arc])
    if math.isnan(radius * sweep):
        return np.array([start, end])
    part = np.linspace(0.0, 1.0, max(int(abs(sweep) * radius / STEP_MM), 8) + 1)
    angle = math.atan2(start[second] - y, start[first] - x) + sweep * part
    points = np.empty((len(part), 3))
    points[:, first], points[:, second] = x + radius * np.cos(angle), y + radius * np.sin(angle)
    points[:, normal] = start[normal] + (end[normal] - start[normal]) * part
    return points


def discs(tool: int, nose: float) -> list[tuple[float, float]]:
    """(radius, height of the bottom over the gauge point) of tool, holder and nose."""
    body, bottom = [(RADII[tool], -LENGTHS[tool])], OVERHANGS[tool] - LENGTHS[tool]
    for radius, length in HOLDER:
        body.append((radius, bottom))
        bottom += length
    return [*body, (nose, 0.0)]


def depth_inside(points: Points, body: list[tuple[float, float]], box: BoxMm) -> float:
    """How far some disc is inside the box at some point, by the nearest way out; negative where none is."""
    deepest = -math.inf
    for radius, bottom in body:
        away_x = np.clip(points[:, 0], box[0], box[1]) - points[:, 0]
        away_y = np.clip(points[:, 1], box[2], box[3]) - points[:, 1]
        out = np.minimum(radius - np.hypot(away_x, away_y), box[4] - points[:, 2] - bottom)
        deepest = max(deepest, float(out.max()))
    return deepest


def cut(stands: Points, tip: Points, radius: float) -> bool:
    """Take away what the tool meets; whether it met anything that stood."""
    met = False
    x = STOCK[0] + (np.arange(stands.shape[0]) + 0.5) * CELL_MM
    y = STOCK[2] + (np.arange(stands.shape[1]) + 0.5) * CELL_MM
    for point in tip[::2]:
        across, along = np.flatnonzero(np.abs(x - point[0]) < radius), np.flatnonzero(np.abs(y - point[1]) < radius)
        if point[2] >= STOCK[4] or not across.size or not along.size:
            continue
        window = np.ix_(across, along)
        inside = np.hypot((x[across] - point[0])[:, None], (y[along] - point[1])[None, :]) < radius - TOUCH_MM
        met = met or bool((stands[window][inside] > point[2] + TOUCH_MM).any())
        stands[window] = np.where(inside, np.minimum(stands[window], point[2]), stands[window])
    return met


@pytest.mark.parametrize("batch", range(4))
def test_what_a_slow_replay_hits_is_never_clear(examine: Examine, batch: int) -> None:
    hit = dict.fromkeys(ASKED, 0)
    for seed in range(40 * batch, 40 * batch + 40):
        dice = random.Random(seed)
        text, bench = random_program(dice), random_bench(dice)
        examination = examine(ASKED, program=lambda _, text=text: text, **bench.texts())
        hits = replay(examination.case.reading, bench, examination.case.stock_base)
        asked = {question for question in ("travel", "keep_out", "below") if question in hits}
        # A rapid out of what a feed went into is the feed's fault: holder, nose and edges at feed are a question of their own.
        if "stock" in hits or ("fixture" in hits and "fed" not in hits):
            asked.add("rapid_contact")
        if "fed" in hits:
            asked.add("body_contact")
        for question in asked:
            hit[question] += 1
            answered = examination.answer(question)
            assert answered.answer in (Answer.STOP, Answer.UNJUDGED), f"seed {seed}: {answered.why}\n{text}"
    assert min(hit.values()) > 0, f"a batch that hits nothing proves nothing: {hit}"
