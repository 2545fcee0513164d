"""A mill that follows its own program through its own stock, slowly: what random programs are held against.

It writes the program and goes the way in one breath, and shares nothing with the package: no reading, no path, no removal. Stock is a plain
array of heights over cells of 0.2 mm; the tool goes in steps of 0.1 mm. Only what overlaps by more than `SURE_MM` is noted, so that neither
cells nor steps matter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Heights = NDArray[np.float64]

CELL_MM = 0.2
STEP_MM = 0.1
SURE_MM = 0.35
"""An overlap by more than this is one, whatever cells and steps may hide."""
TOP_OF_Z = 0.0
NOSE = (25.0, 40.0)
SPEEDS = (10.0, 10.0, 6.0)
"""Greatest feeds of the axes, m/min: on a dog-leg each axis runs at its own until it arrives."""
RISE = {"flat": 0, "bull": 1, "ball": 2, "drill": 3}


@dataclass(frozen=True)
class Cutter:
    """A tool by plain numbers; radii, and heights over the tip."""

    name: str
    kind: str
    radius: float
    corner: float
    edge_top: float
    neck: tuple[float, float] | None
    """Radius and upper end."""
    shank: float
    overhang: float
    length: float
    holder: tuple[tuple[float, float], ...]
    dead: float
    """Radius that nothing cuts within."""

    def rise(self, away: Points) -> Points:
        """Height of the cutting end over the tip at a distance from the axis."""
        if self.kind == "ball":
            return self.radius - np.sqrt(np.maximum(self.radius**2 - away**2, 0.0))
        if self.kind == "bull":
            into = np.clip(away - (self.radius - self.corner), 0.0, self.corner)
            return self.corner - np.sqrt(self.corner**2 - into**2)
        if self.kind == "drill":
            return away / math.tan(math.radians(70.0))
        return np.zeros_like(away)

    def discs(self) -> list[tuple[str, float, float]]:
        """(part, radius, bottom over the tip) of all that is above the edge."""
        body, bottom = [], self.edge_top
        if self.neck is not None:
            body.append(("neck", self.neck[0], bottom))
            bottom = self.neck[1]
        body.append(("shank", self.shank, bottom))
        bottom = self.overhang
        for radius, height in self.holder:
            body.append(("holder", radius, bottom))
            bottom += height
        body.append(("nose", NOSE[0], self.length))
        return body

    def text(self) -> str:
        rows = [
            f"[tool.{self.name}]",
            f'kind = "{self.kind}"',
            f'DC = "{2 * self.radius:.3f}(1) mm"',
            f'DMM = "{2 * self.shank:.2f}(1) mm"',
            f'APMX = "{self.edge_top:.2f}(1) mm"',
            f'OHX = "{self.overhang:.2f}(1) mm"',
            f'LF = {{ value = "{self.length:.3f}(6) mm", evidence = "measured", df = 9 }}',
            "ZEFP = 2",
            f"centre_cutting = {'true' if self.dead == 0 else 'false'}",
            'condition = "new"',
            'max_speed = "40000 1/min"',
            "holder = [" + ", ".join(f'["{2 * r:.1f} mm", "{h:.1f} mm"]' for r, h in self.holder) + "]",
        ]
        rows += [f'RE = "{self.corner:.2f} mm"'] if self.kind == "bull" else []
        rows += ['SIG = "140 deg"'] if self.kind == "drill" else []
        rows += [f'dead_diameter = "{2 * self.dead:.2f}(1) mm"'] if self.dead else []
        if self.neck is not None:
            rows += [f'DN = "{2 * self.neck[0]:.2f}(1) mm"', f'LU = "{self.neck[1]:.2f}(1) mm"']
        return "\n".join(rows) + "\n"


@dataclass(frozen=True)
class Blank:
    x: tuple[float, float]
    y: tuple[float, float]
    z: tuple[float, float]


@dataclass(frozen=True)
class Fixture:
    """A box, or a cylinder if `radius` is not 0; solid from its top down."""

    x: tuple[float, float]
    y: tuple[float, float]
    radius: float
    top: float


@dataclass
class Stock:
    """Heights at the centres of cells; −inf where there is none."""

    x: Points
    y: Points
    top: Heights
    bottom: float

    @staticmethod
    def of(blank: Blank) -> Stock:
        x = np.arange(blank.x[0] + CELL_MM / 2, blank.x[1], CELL_MM)
        y = np.arange(blank.y[0] + CELL_MM / 2, blank.y[1], CELL_MM)
        return Stock(x, y, np.full((len(y), len(x)), blank.z[1]), blank.z[0])

    def window(self, at: Points, reach: float) -> tuple[slice, slice, Points] | None:
        """Rows and columns within reach, and how far their centres are away."""
        left, right = np.searchsorted(self.x, (at[0] - reach, at[0] + reach))
        low, high = np.searchsorted(self.y, (at[1] - reach, at[1] + reach))
        if left >= right or low >= high:
            return None
        away = np.hypot(self.y[low:high, None] - at[1], self.x[left:right] - at[0])
        return slice(low, high), slice(left, right), away


@dataclass
class Mill:
    """Where it stands, what it has cut, what it has hit, and the program so far. Places are tips in the work frame of the stock."""

    cutters: dict[int, Cutter]
    stock: Stock
    fixtures: list[Fixture]
    rapid_path: str | None
    zero: tuple[float, float, float]
    """Machine position of the stock's work zero."""
    sloppy: float = 0.0
    """How often who wrote the program slips."""
    lines: list[str] = field(default_factory=list)
    hits: dict[str, str] = field(default_factory=dict)
    """Question -> what was hit first and at which line."""
    at: list[float] = field(default_factory=lambda: [math.nan, math.nan, math.nan])
    tool: int = 0
    shift: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    """Added to programmed coordinates: another work system, a wrong length."""
    absolute: bool = True
    taken: float = 0.0
    fed: bool = False

    # --- what the program says ---------------------------------------------------------------------------------------------------------

    def say(self, line: str) -> None:
        self.lines.append(line)

    def text(self) -> str:
        return "\n".join([*self.lines, ""])

    def _target(self, x: float | None, y: float | None, z: float | None) -> list[float]:
        told = (x, y, z)
        return [
            self.at[k] if told[k] is None else self.at[k] + told[k] if not self.absolute else told[k] + self.shift[k]  # type: ignore[operator]
            for k in range(3)
        ]

    @staticmethod
    def words(x: float | None, y: float | None, z: float | None) -> str:
        return "".join(f" {letter}{v:.3f}" for letter, v in zip("XYZ", (x, y, z), strict=True) if v is not None)

    def rapid(self, x: float | None = None, y: float | None = None, z: float | None = None) -> None:
        self.say("G0" + self.words(x, y, z))
        self.rapid_to(self._target(x, y, z))

    def feed(self, x: float | None = None, y: float | None = None, z: float | None = None, rate: float = 600) -> None:
        self.say("G1" + self.words(x, y, z) + f" F{rate:g}")
        self.feed_to(self._target(x, y, z))

    def arc(self, clockwise: bool, x: float, y: float, i: float, j: float, z: float | None = None) -> None:
        """XY arc or helix, absolute ends, centre from the start; a full circle where the end is the start."""
        self.say(f"G{2 if clockwise else 3}" + self.words(x, y, z) + f" I{i:.3f} J{j:.3f} F600")
        self.feed_along(self.arc_points(clockwise, self._target(x, y, z), i, j))

    def arc_points(self, clockwise: bool, end: list[float], i: float, j: float) -> Points:
        start = np.array(self.at)
        cx, cy = start[0] + i, start[1] + j
        radius = math.hypot(i, j)
        first, last = math.atan2(-j, -i), math.atan2(end[1] - cy, end[0] - cx)
        turn = (first - last if clockwise else last - first) % (2 * math.pi)
        turn = 2 * math.pi if turn < 1e-6 or turn > 2 * math.pi - 1e-6 else turn
        part = np.linspace(0.0, 1.0, max(int(turn * radius / STEP_MM), 8) + 1)
        angle = first + (-turn if clockwise else turn) * part
        points = np.empty((len(part), 3))
        points[:, 0], points[:, 1] = cx + radius * np.cos(angle), cy + radius * np.sin(angle)
        points[:, 2] = start[2] + (end[2] - start[2]) * part
        points[-1] = end
        return points

    # --- where it goes -----------------------------------------------------------------------------------------------------------------

    def rapid_to(self, end: list[float]) -> None:
        """Straight, on a dog-leg, or either."""
        known = not any(math.isnan(v) for v in (*self.at, *end))
        if known and self.tool:
            straight = between(np.array(self.at), np.array(end))
            ways = [straight] if self.rapid_path != "dog-leg" else []
            ways += [dog_leg(np.array(self.at), np.array(end))] if self.rapid_path != "straight" else []
            for way in ways:
                for point in way:
                    self._look(point, rapid=True)
            for point in ways[0]:
                self._cut(point)
        self.at = list(end)

    def feed_to(self, end: list[float]) -> None:
        self.feed_along(between(np.array(self.at), np.array(end)))

    def feed_along(self, points: Points) -> None:
        """Look before each step, then cut."""
        self.fed = True
        self._dead_centre(points)
        for point in points[1:]:
            self._look(point, rapid=False)
            self._flute(point)
            self.taken += self._cut(point)
        self.at = [float(v) for v in points[-1]]

    def call(self, tool: int) -> None:
        """M6 changes the tool and leaves everything else; whether the last tool took anything is noted."""
        self.done_with_tool()
        gauge = self.at[2] + self.cutters[self.tool].length if self.tool else TOP_OF_Z - self.zero[2]
        self.tool = tool
        self.at[2] = gauge - self.cutters[tool].length
        self.taken, self.fed = 0.0, False

    def done_with_tool(self) -> None:
        if self.tool and self.fed and self.taken == 0.0:
            self.note("cuts", "takes nothing")

    # --- what is met -------------------------------------------------------------------------------------------------------------------

    def note(self, question: str, what: str) -> None:
        self.hits.setdefault(question, f"line {len(self.lines)}: {what}")

    def _look(self, point: Points, rapid: bool) -> None:
        cutter = self.cutters[self.tool]
        if rapid and self._edge_in_stock(point, cutter):
            self.note("rapid_contact", "edge in stock")
        for part, radius, bottom in cutter.discs():
            if self._disc_in_stock(point, radius, bottom):
                owner = "body_contact" if part in ("holder", "nose") or not rapid else "rapid_body"
                self.note(owner, f"{part} in stock{' at rapid' if rapid else ''}")
        for part, radius, bottom in [("edge", cutter.radius, 0.0), *cutter.discs()]:
            if any(inside(each, point, radius, bottom) for each in self.fixtures):
                owner = (
                    "body_contact"
                    if part in ("holder", "nose") or not rapid
                    else "rapid_contact"
                    if part == "edge"
                    else "rapid_body"
                )
                self.note(owner, f"{part} in fixture{' at rapid' if rapid else ''}")

    def _edge_in_stock(self, point: Points, cutter: Cutter) -> bool:
        found = self.stock.window(point, cutter.radius - SURE_MM)
        if found is None:
            return False
        rows, columns, away = found
        under = point[2] + cutter.rise(np.minimum(away + SURE_MM, cutter.radius)) + SURE_MM
        return bool(((away < cutter.radius - SURE_MM) & (self.stock.top[rows, columns] > under)).any())

    def _disc_in_stock(self, point: Points, radius: float, bottom: float) -> bool:
        low = point[2] + bottom + SURE_MM
        if low >= self.stock.top.max(initial=-math.inf):
            return False
        found = self.stock.window(point, radius - SURE_MM)
        if found is None:
            return False
        rows, columns, away = found
        return bool(((away < radius - SURE_MM) & (self.stock.top[rows, columns] > low)).any())

    def _flute(self, point: Points) -> None:
        """Material that the edge meets higher than it reaches."""
        cutter = self.cutters[self.tool]
        high = point[2] + cutter.edge_top + SURE_MM
        if high >= self.stock.top.max(initial=-math.inf):
            return
        found = self.stock.window(point, cutter.radius)
        if found is None:
            return
        rows, columns, away = found
        if ((away < cutter.radius - 1e-6) & (self.stock.top[rows, columns] > high)).any():
            self.note("reach", "material above the edge")

    def _dead_centre(self, points: Points) -> None:
        """A plunge straight or nearly straight down onto stock."""
        cutter = self.cutters[self.tool]
        start, end = points[0], points[-1]
        fall, across = start[2] - end[2], math.hypot(*(end - start)[:2])
        if cutter.dead <= 0.4 or fall <= 0 or across > 1e-6:
            return
        found = self.stock.window(start, cutter.dead - 0.2)
        if found is None:
            return
        rows, columns, away = found
        if ((away < cutter.dead - 0.2) & (self.stock.top[rows, columns] > end[2] + SURE_MM)).any():
            self.note("reach", "dead centre")

    def _cut(self, point: Points) -> float:
        cutter, stock = self.cutters[self.tool], self.stock
        if point[2] >= stock.top.max(initial=-math.inf):
            return 0.0
        found = stock.window(point, cutter.radius)
        if found is None:
            return 0.0
        rows, columns, away = found
        here = stock.top[rows, columns]
        level = point[2] + cutter.rise(np.minimum(away, cutter.radius))
        takes = (away < cutter.radius) & (here > level)
        gone = float((here - np.maximum(level, stock.bottom))[takes].sum())
        here[takes] = np.where(level[takes] <= stock.bottom, -math.inf, level[takes])
        return gone


def between(start: Points, end: Points) -> Points:
    """Points on a line, ends included."""
    count = max(math.ceil(float(np.linalg.norm(end - start)) / STEP_MM), 1)
    return np.asarray(start + np.linspace(0.0, 1.0, count + 1)[:, None] * (end - start))


def dog_leg(start: Points, end: Points) -> Points:
    """Each axis runs at its own speed until it arrives."""
    way = end - start
    times = np.abs(way) / np.array(SPEEDS)
    whole = float(times.max())
    if whole == 0.0:
        return np.array([start, end])
    count = max(math.ceil(float(np.abs(way).sum()) / STEP_MM), 1)
    clock = np.linspace(0.0, whole, count + 1)[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(times > 0, np.minimum(clock / times, 1.0), 1.0)
    return np.asarray(start + share * way)


def inside(fixture: Fixture, point: Points, radius: float, bottom: float) -> bool:
    """Whether a disc of the body is in a fixture by more than `SURE_MM`."""
    if point[2] + bottom > fixture.top - SURE_MM:
        return False
    if fixture.radius:
        x, y = sum(fixture.x) / 2, sum(fixture.y) / 2
        return math.hypot(point[0] - x, point[1] - y) < fixture.radius + radius - SURE_MM
    x = point[0] - min(max(point[0], fixture.x[0]), fixture.x[1])
    y = point[1] - min(max(point[1], fixture.y[0]), fixture.y[1])
    return math.hypot(x, y) < radius - SURE_MM
