"""Random programs that look like what people write: pockets in steps, slots, holes, ramps, helices, contours - and their slips."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace

import numpy as np

from .conftest import MACHINE
from .slow_mill import NOSE, Blank, Cutter, Fixture, Mill, Stock

SAFE = 6.0
DRAWN = Blank((0.0, 20.0), (0.0, 15.0), (-8.0, 0.0))
"""The blank that programs are written for."""


@dataclass
class Bench:
    """One random shop: what the job says, and the mill that runs the program."""

    mill: Mill
    blank: Blank
    second: tuple[float, float, float]
    """How far G55 lies from G54."""
    doubt: float
    """Standard uncertainty of the blank's sizes; 0 = the job states none."""
    zero: tuple[float, float, float]

    def texts(self) -> dict[str, object]:
        machine = MACHINE.replace('"50 mm", "40 mm"', f'"{2 * NOSE[0]:g} mm", "{NOSE[1]:g} mm"')
        old = 'rapid_path = "straight"\n'
        machine = machine.replace(
            old, "" if self.mill.rapid_path is None else f'rapid_path = "{self.mill.rapid_path}"\n'
        )
        tools = "".join(one.text() for one in self.mill.cutters.values())
        tools += "".join(f'[[pocket]]\nnumber = {n}\ntool = "{one.name}"\n' for n, one in self.mill.cutters.items())
        return {
            "machine": lambda _: machine,
            "tools": lambda _: tools,
            "job": lambda _: self.job(),
            "program": lambda _: self.mill.text(),
        }

    def job(self) -> str:
        def size(v: float) -> str:
            return f"{v:.3f}({round(1000 * self.doubt)})" if self.doubt else f"{v:.3f}"

        def ranged(*ends: tuple[float, float]) -> str:
            return ", ".join(f'"{size(a)} mm .. {size(b)} mm"' for a, b in ends)

        def at(x: float, y: float, z: float) -> str:
            return f'at = ["{x:.2f}(1) mm", "{y:.2f}(1) mm", "{z:.2f}(1) mm"]'

        x, y, z = self.zero
        blank = f"box = [{ranged(self.blank.x, self.blank.y, self.blank.z)}]"
        lines = ['program = "program.nc"', 'material = "al-6082"', "[tools]"]
        lines += [f'{n} = "{one.name}"' for n, one in self.mill.cutters.items()]
        lines += [
            "[offset.G54]",
            at(x, y, z),
            "[offset.G55]",
            at(*(a + b for a, b in zip(self.zero, self.second, strict=True))),
        ]
        lines += ["[stock]", blank, 'offset = "G54"', "[around]", f'allowed_below = "{self.blank.z[0] - 12:.1f} mm"']
        lines += [f'highest_around = "{self.blank.z[0] - 2:.1f} mm"']
        for fixture in self.mill.fixtures:
            low = f"{self.blank.z[0] - 5:.2f}(1) mm .. {fixture.top:.2f}(1) mm"
            if fixture.radius:
                lines += [
                    "[[fixture]]",
                    "[fixture.cylinder]",
                    f'diameter = "{2 * fixture.radius:.2f}(1) mm"',
                    f'z = "{low}"',
                ]
                lines += [f'x = "{sum(fixture.x) / 2:.2f}(1) mm"', f'y = "{sum(fixture.y) / 2:.2f}(1) mm"']
            else:
                ends = [f'"{a:.2f}(1) mm .. {b:.2f}(1) mm"' for a, b in (fixture.x, fixture.y)]
                lines += ["[[fixture]]", f'box = [{ends[0]}, {ends[1]}, "{low}"]']
        lines += [
            "[holding]",
            'kind = "vice"',
            'force = "6.0(5) kN"',
            'friction = "0.15(2)"',
            'grip_height = "3.0(2) mm"',
        ]
        lines += ['jaw_width = "20(1) mm"', 'after_cut_free = "nothing is cut free"', ""]
        return "\n".join(lines)


# --- a random shop -----------------------------------------------------------------------------------------------------------------------


def random_bench(dice: random.Random) -> Bench:
    cutters = {1: a_mill(dice, "one"), 2: dice.choice((a_drill, a_mill))(dice, "two"), 3: a_mill(dice, "three")}
    blank = DRAWN
    if dice.random() < 0.4:  # larger than the program thinks, or laid somewhere else
        grow = [round(dice.uniform(0, 2.5), 1) if dice.random() < 0.5 else 0.0 for _ in range(5)]
        blank = Blank((-grow[0], 20 + grow[1]), (-grow[2], 15 + grow[3]), (-8.0, grow[4]))
    fixtures = []
    if dice.random() < 0.4:
        x, y = dice.choice(((-6.0, 7.0), (26.0, 7.0), (10.0, -6.0), (10.0, 21.0)))
        half, top = round(dice.uniform(0.1, 3), 1), round(dice.uniform(-4, 8), 1)
        box = Fixture((x - half, x + half), (y - half, y + half), 0.0, top)
        fixtures.append(replace(box, radius=half) if dice.random() < 0.5 else box)
    zero = (100.0, 80.0, -110.0)
    path = dice.choice(("straight", "straight", "straight", "dog-leg", None))
    second = (round(dice.uniform(-6, 6), 1), round(dice.uniform(-6, 6), 1), round(dice.uniform(-3, 3), 1))
    mill = Mill(cutters, Stock.of(blank), fixtures, path, zero, sloppy=dice.choice((0.0, 0.05, 0.15, 0.4)))
    return Bench(mill, blank, second, dice.choice((0.0, 0.01, 0.05, 0.2)), zero)


def a_mill(dice: random.Random, name: str) -> Cutter:
    kind = dice.choice(("flat", "flat", "bull", "ball"))
    radius = dice.choice((1.0, 1.5, 2.0, 3.0, 4.0))
    edge = round(dice.uniform(max(1.5, radius), 9.0), 1)
    neck = None
    if dice.random() < 0.3:
        neck = (round(radius - dice.choice((0.0, 0.1, 0.2)), 2), round(edge + dice.uniform(1, 8), 1))
    shank = radius if dice.random() < 0.4 else max(radius, dice.choice((1.5, 2.0, 3.0, 4.0)))
    overhang = round(max(edge, neck[1] if neck else 0.0) + dice.uniform(0.5, 12), 1)
    dead = 0.0 if kind == "ball" or dice.random() < 0.6 else round(radius * dice.uniform(0.3, 0.6), 2)
    corner = round(radius * dice.uniform(0.15, 0.6), 2)
    return Cutter(
        name, kind, radius, corner, edge, neck, shank, overhang, a_length(dice, overhang), a_holder(dice), dead
    )


def a_drill(dice: random.Random, name: str) -> Cutter:
    radius = dice.choice((0.75, 1.0, 1.25, 1.5, 2.0))
    edge = round(dice.uniform(4, 14), 1)
    shank = dice.choice((radius, radius, max(radius, 3.0)))
    overhang = round(edge + dice.uniform(0.5, 12), 1)
    return Cutter(
        name, "drill", radius, 0.0, edge, None, shank, overhang, a_length(dice, overhang), a_holder(dice), 0.0
    )


def a_length(dice: random.Random, overhang: float) -> float:
    return round(overhang + dice.uniform(20, 45), 2)


def a_holder(dice: random.Random) -> tuple[tuple[float, float], ...]:
    first = round(dice.uniform(5, 10), 1)
    return ((first, round(dice.uniform(3, 10), 1)), (round(first + dice.uniform(1, 5), 1), 80.0))


# --- what people write -------------------------------------------------------------------------------------------------------------------


def random_program(dice: random.Random, bench: Bench) -> None:
    """Fills the mill of a bench."""
    mill = bench.mill
    for line in ("%", "G21 G17 G40 G49 G90 G94 G80", "G54", "G53 G0 Z0"):
        mill.say(line)
    order = dice.sample((1, 2, 3), dice.choice((1, 1, 2, 2, 3)))
    for number, tool in enumerate(order):
        change(dice, mill, tool, first=number == 0)
        for _ in range(dice.randint(1, 3)):
            dice.choice(DRILLING if mill.cutters[tool].kind == "drill" else MILLING)(dice, mill)
            if slip(dice, mill):
                dice.choice(SLIPS)(dice, bench)
    mill.done_with_tool()
    for line in ("M5", "M30", "%"):
        mill.say(line)


def slip(dice: random.Random, mill: Mill) -> bool:
    return dice.random() < mill.sloppy


def n(dice: random.Random, low: float, high: float, digits: int = 1) -> float:
    return round(dice.uniform(low, high), digits)


def a_place(dice: random.Random) -> tuple[float, float]:
    if dice.random() < 0.7:
        return n(dice, 2, 18), n(dice, 2, 13)
    return n(dice, -6, 26), n(dice, -6, 21)


def change(dice: random.Random, mill: Mill, tool: int, first: bool = False) -> None:
    if not first and not slip(dice, mill):
        mill.rapid(z=20)
    mill.say("M5")
    mill.say(f"T{tool} M6")
    mill.call(tool)
    mill.say("S12000 M3")
    mill.say("G4 P3")
    x, y = a_place(dice)
    mill.rapid(x, y)
    mill.say(f"G43 H{tool} Z{n(dice, 0.6, 3) if slip(dice, mill) else SAFE:g}")
    mill.lines[-1] = mill.lines[-1].replace("G43", "G0 G43")
    z = float(mill.lines[-1].split("Z")[1])
    mill.rapid_to([mill.at[0], mill.at[1], z + mill.shift[2]])


def low_height(dice: random.Random, mill: Mill) -> float:
    """Where rapids go: mostly above everything, at times through what may have been cut."""
    return dice.choice((3.0, 1.0, 0.6, n(dice, -5, 0), n(dice, -5, 0))) if slip(dice, mill) else SAFE


def come_down(dice: random.Random, mill: Mill, z: float) -> None:
    """From where it stands to a height in the stock: at feed, or at rapid part of the way."""
    if slip(dice, mill):
        mill.rapid(z=round(z + dice.choice((0.5, 1.0, 2.0, 6.0)), 3))
    elif dice.random() < 0.5 and mill.at[2] - mill.shift[2] > 2.5:
        mill.rapid(z=2.5)
    mill.feed(z=z, rate=200)


def pocket(dice: random.Random, mill: Mill) -> None:
    x0, y0 = n(dice, 3, 9), n(dice, 3, 6)
    x1, y1 = n(dice, x0 + 2, 17), n(dice, y0 + 1, 12)
    step, depth = n(dice, 0.5, 3), n(dice, 1, 7)
    mill.rapid(x0, y0)
    z, lifted = 0.0, dice.choice((0.5, 1.0, SAFE, 0.2))
    while z > -depth:
        former, z = z, round(max(z - step, -depth), 3)
        if former < 0:
            mill.rapid(z=round(former + lifted, 3) if slip(dice, mill) else max(former + lifted, 3.0))
            if not slip(dice, mill):
                mill.rapid(x0, y0)
                if dice.random() < 0.5:
                    mill.rapid(z=round(former + lifted, 3))
        style = dice.random()
        if style < 0.4:
            mill.feed(z=z, rate=200)
        elif style < 0.7:
            mill.feed(z=former + 0.2 if former < 0 else 0.5)
            mill.feed(x1, y0, z)
        else:
            if former < 0 and dice.random() < 0.5:
                mill.rapid(x0, y0)
                mill.rapid(z=round(former + n(dice, 0.3, 1.0), 3))
            mill.feed(x0, y0)
            mill.feed(z=z, rate=200)
        y, over = y0, round(1.2 * mill.cutters[mill.tool].radius, 2)
        while y < y1:
            mill.feed(x1 if mill.at[0] - mill.shift[0] < (x0 + x1) / 2 else x0, y)
            y = round(y + over, 3)
            if y < y1:
                mill.feed(y=y)
    leave(dice, mill)


def leave(dice: random.Random, mill: Mill) -> None:
    if not slip(dice, mill):
        mill.rapid(z=low_height(dice, mill))


def slot(dice: random.Random, mill: Mill) -> None:
    (x0, y0), (x1, y1) = a_place(dice), a_place(dice)
    z = n(dice, -6, -0.5)
    mill.rapid(x0, y0)
    come_down(dice, mill, z)
    mill.feed(x1, y1)
    if dice.random() < 0.4:  # back along it at rapid, lifted a little or not
        if dice.random() < 0.7:
            mill.rapid(z=round(z + dice.choice((0.1, 0.3, 1.0)), 3))
        mill.rapid(x0, y0)
        if dice.random() < 0.5:
            come_down(dice, mill, round(z - n(dice, 0.3, 2), 3))
            mill.feed(x1, y1)
    leave(dice, mill)


def face(dice: random.Random, mill: Mill) -> None:
    radius, z = mill.cutters[mill.tool].radius, n(dice, -1.5, 0.3)
    y = n(dice, -radius, 0)
    mill.rapid(round(-radius - n(dice, -1 if slip(dice, mill) else 0.5, 2), 2), y)
    mill.rapid(z=z) if slip(dice, mill) else mill.feed(z=z)
    right = round(20 + radius + 0.5, 2)
    while y < 15 + radius:
        mill.feed(right if mill.at[0] < 10 else round(-radius - 0.5, 2), y)
        y = round(y + 1.5 * radius, 2)
        mill.rapid(y=y) if slip(dice, mill) else mill.feed(y=y)
    leave(dice, mill)


def ramp(dice: random.Random, mill: Mill) -> None:
    (x0, y0), (x1, y1) = a_place(dice), a_place(dice)
    mill.rapid(x0, y0)
    z, depth = 0.5, n(dice, -6, -1)
    mill.feed(z=z)
    while z > depth:
        z = round(max(z - n(dice, 0.3, 2), depth), 3)
        mill.feed(x1, y1, z)
        x0, y0, x1, y1 = x1, y1, x0, y0
    mill.feed(x1, y1)
    leave(dice, mill)


def helix(dice: random.Random, mill: Mill) -> None:
    x, y = n(dice, 4, 16), n(dice, 4, 11)
    radius, depth = n(dice, 0.3, 3), n(dice, -6, -1)
    mill.rapid(round(x + radius, 3), y)
    if slip(dice, mill):
        mill.rapid(z=dice.choice((1.0, 0.3)))
    mill.feed(z=0.2)
    z, clockwise = 0.2, dice.random() < 0.5
    while z > depth:
        z = round(max(z - n(dice, 0.2, 1.5), depth), 3)
        mill.arc(clockwise, round(x + radius, 3), y, -radius, 0.0, z)
    mill.arc(clockwise, round(x + radius, 3), y, -radius, 0.0)
    if slip(dice, mill):
        mill.rapid(x, y)
    leave(dice, mill)


Place = tuple[float, float]


@dataclass(frozen=True)
class Round:
    """A rectangle gone round with the radius in D: corners in order, and on which side of them the tool's centre goes."""

    corners: tuple[Place, Place, Place, Place]
    outside: bool
    left: bool
    radius: float

    def ahead(self, k: int) -> Place:
        """Unit way of side k."""
        (x, y), (u, v) = self.corners[k % 4], self.corners[(k + 1) % 4]
        length = abs(u - x) + abs(v - y)
        return (u - x) / length, (v - y) / length

    def aside(self, k: int) -> Place:
        """From side k to the tool's centre."""
        x, y = self.ahead(k)
        r = self.radius if self.left else -self.radius
        return -y * r, x * r


def a_round(dice: random.Random, r: float) -> Round | None:
    """Outside clockwise or inside counter-clockwise with G41, the others with G42; None where the tool does not fit in."""
    outside = dice.random() < 0.6
    left = dice.random() < 0.5
    inset = n(dice, -1, 3) if outside else n(dice, 0.5, 2)
    x0, y0, x1, y1 = inset, inset, 20 - inset, 15 - inset
    clockwise = left == outside
    lead = (y1 - y0 if clockwise else x1 - x0) - 2 * r
    if not outside and (x1 - x0 < 2 * r + 3 or y1 - y0 < 2 * r + 3 or 2 * (r + 0.2) > lead):
        return None
    if clockwise:
        return Round(((x0, y0), (x0, y1), (x1, y1), (x1, y0)), outside, left, r)
    return Round(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), outside, left, r)


def contour(dice: random.Random, mill: Mill) -> None:
    """Round the blank's edge, or round a frame within it, under compensation."""
    if not mill.absolute:
        return
    r = mill.cutters[mill.tool].radius
    way = a_round(dice, r)
    if way is None:
        return
    z = n(dice, -6, -0.5)
    run = r + n(dice, 1.0, 3.0)
    (x, y), (dx, dy) = way.corners[0], way.ahead(0)
    if way.outside:  # in along the first side, from before its corner
        begin, first = (x - run * dx, y - run * dy), (x, y)
    else:  # in along the first side, from its middle
        begin = ((x + way.corners[1][0]) / 2, (y + way.corners[1][1]) / 2)
        first = (begin[0] + (r + 0.2) * dx, begin[1] + (r + 0.2) * dy)
    mill.rapid(*begin)
    come_down(dice, mill, z)
    mill.say(f"G{41 if way.left else 42} D{mill.tool} G1{mill.words(*first, None)} F600")
    centre_to(mill, first, way.aside(0))
    for k in range(4):
        at_corner(mill, way, k)
    if way.outside:
        dx, dy = way.ahead(3)
        end = (x + run * dx, y + run * dy)
    else:
        mill.say(mill.words(*begin, None).strip())
        centre_to(mill, begin, way.aside(0))
        end = (10.0, 7.5)
    mill.say("G40" + mill.words(*end, None))
    centre_to(mill, end, (0.0, 0.0))
    leave(dice, mill)


def at_corner(mill: Mill, way: Round, k: int) -> None:
    """Along side k to its end; outside round the corner on the tool's own radius, inside up to where the next side begins."""
    corner, own, following = way.corners[(k + 1) % 4], way.aside(k), way.aside(k + 1)
    mill.say(mill.words(*corner, None).strip())
    if not way.outside:
        centre_to(mill, corner, (own[0] + following[0], own[1] + following[1]))
        return
    centre_to(mill, corner, own)
    if k < 3:
        angle = math.atan2(own[1], own[0]) + np.linspace(0.0, -math.pi / 2 if way.left else math.pi / 2, 24)
        x, y = corner[0] + mill.shift[0], corner[1] + mill.shift[1]
        z = np.full(len(angle), mill.at[2])
        mill.feed_along(np.column_stack([x + way.radius * np.cos(angle), y + way.radius * np.sin(angle), z]))


def centre_to(mill: Mill, point: Place, aside: Place) -> None:
    """At feed to a place beside a programmed one."""
    mill.feed_to([point[0] + mill.shift[0] + aside[0], point[1] + mill.shift[1] + aside[1], mill.at[2]])


def holes(dice: random.Random, mill: Mill) -> None:
    """A cycle over several places."""
    if not mill.absolute:
        return
    peck, back = dice.random() < 0.5, dice.random() < 0.6
    low, bottom = n(dice, -4, 1) if slip(dice, mill) else 2.5, n(dice, -7.5, -4.5)
    step = n(dice, 0.8, 3)
    if slip(dice, mill):
        mill.rapid(z=dice.choice((SAFE, 2.0, 0.5, n(dice, -2, 2))))
    initial = mill.at[2] - mill.shift[2]
    for k in range(dice.randint(1, 4)):
        x, y = a_place(dice)
        if k == 0:
            word = f"G{98 if back else 99} G{83 if peck else 81} X{x} Y{y} Z{bottom} R{low}" + (
                f" Q{step}" if peck else ""
            )
            mill.say(word + " F200")
        else:
            mill.say(f"X{x} Y{y}")
        s = mill.shift
        if initial < low and k == 0:
            mill.rapid_to([mill.at[0], mill.at[1], low + s[2]])
        mill.rapid_to([x + s[0], y + s[1], mill.at[2]])
        mill.rapid_to([x + s[0], y + s[1], low + s[2]])
        z = low
        while z > bottom:
            former, z = z, max(z - (step if peck else 100), bottom)
            if former < low:
                mill.rapid_to([*mill.at[:2], former + 0.3 + s[2]])
            mill.feed_to([*mill.at[:2], z + s[2]])
            if peck:
                mill.rapid_to([*mill.at[:2], low + s[2]])
        mill.rapid_to([*mill.at[:2], max(initial, low) + s[2] if back else low + s[2]])
    mill.say("G80")
    if not slip(dice, mill):
        mill.rapid(z=SAFE)


# --- and their slips ---------------------------------------------------------------------------------------------------------------------


def wander(dice: random.Random, bench: Bench) -> None:
    mill = bench.mill
    if dice.random() < 0.5:
        mill.rapid(z=low_height(dice, mill))
    x, y = a_place(dice)
    dice.choice(
        (
            lambda: mill.rapid(x, y),
            lambda: mill.rapid(x, y, low_height(dice, mill)),
            lambda: mill.rapid(x),
            lambda: mill.rapid(y=y),
        )
    )()


def steps(dice: random.Random, bench: Bench) -> None:
    """G91."""
    mill = bench.mill
    mill.say("G91")
    mill.absolute = False
    for _ in range(dice.randint(1, 3)):
        dice.choice(
            (
                lambda: mill.rapid(n(dice, -4, 4), n(dice, -4, 4)),
                lambda: mill.rapid(z=n(dice, -2, 3)),
                lambda: mill.feed(n(dice, -4, 4), n(dice, -4, 4), rate=500),
                lambda: mill.feed(z=n(dice, -1.5, 0.5), rate=200),
            )
        )()
    mill.say("G90")
    mill.absolute = True


def home(dice: random.Random, bench: Bench) -> None:
    """G28 through a point between; then back over the part."""
    mill = bench.mill
    top = -mill.zero[2] - mill.cutters[mill.tool].length
    if dice.random() < 0.5:
        mill.say("G91 G28 Z0")
        mill.rapid_to([mill.at[0], mill.at[1], top])
        mill.say("G90")
    else:
        z = dice.choice((SAFE, n(dice, -4, 3)))
        mill.say(f"G28 Z{z}")
        mill.rapid_to([mill.at[0], mill.at[1], z + mill.shift[2]])
        mill.rapid_to([mill.at[0], mill.at[1], top])
    x, y = a_place(dice)
    mill.rapid(x, y)
    mill.rapid(z=dice.choice((SAFE, 1.0)))


def other_zero(dice: random.Random, bench: Bench) -> None:
    """G55, for a while."""
    mill = bench.mill
    if any(mill.shift):
        mill.say("G54")
        mill.shift = [0.0, 0.0, 0.0]
    else:
        mill.say("G55")
        mill.shift = list(bench.second)
    x, y = a_place(dice)
    mill.rapid(x, y, SAFE + 4)


def shifted(dice: random.Random, bench: Bench) -> None:
    """G52 forgotten or meant."""
    mill = bench.mill
    if any(mill.shift):
        return
    dx, dz = n(dice, -3, 3), n(dice, -1.5, 1.5)
    mill.say(f"G52 X{dx} Z{dz}")
    mill.shift = [dx, 0.0, dz]
    x, y = a_place(dice)
    mill.rapid(x, y, dice.choice((SAFE, 2.0)))
    dice.choice((slot, ramp, helix))(dice, mill) if mill.cutters[mill.tool].kind != "drill" else holes(dice, mill)
    mill.say("G52 X0 Z0")
    mill.shift = [0.0, 0.0, 0.0]
    mill.rapid(z=SAFE + 2)


def wrong_length(dice: random.Random, bench: Bench) -> None:
    """G43 with another tool's register."""
    mill = bench.mill
    other = dice.choice([one for one in mill.cutters if one != mill.tool])
    dz = mill.cutters[other].length - mill.cutters[mill.tool].length
    if abs(dz) > 25:
        return
    z = n(dice, max(1.0, -dz - 4), max(8.0, -dz + 6))
    mill.say(f"G0 G43 H{other} Z{z}")
    mill.rapid_to([mill.at[0], mill.at[1], z + mill.shift[2] + dz])
    x, y = a_place(dice)
    mill.say(f"G0 X{x:.3f} Y{y:.3f}")
    mill.rapid_to([x + mill.shift[0], y + mill.shift[1], mill.at[2]])
    mill.say(f"G0 G43 H{mill.tool} Z{SAFE}")
    mill.rapid_to([mill.at[0], mill.at[1], SAFE + mill.shift[2]])


MILLING = (pocket, pocket, slot, slot, face, ramp, helix, contour, holes)
DRILLING = (holes,)
SLIPS = (wander, wander, wander, steps, home, other_zero, shifted, wrong_length)
