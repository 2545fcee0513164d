"""The work under the replay: a coarse map of heights in cells of half a millimetre, cut by each step in its turn, and what is touched."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from proof.faults.bench import Bench, Box, Cutter, Span
from proof.faults.steps import Flat, Step

Heights = NDArray[np.float64]
CELL_MM = 0.5
BESIDE_MM = 25.0
"""The map reaches this far beyond the blank."""
SURE_MM = 0.2
"""What overlaps by less, upward or sideways, is not noted: cells hide as much."""
LEVEL_MM = 0.1
"""A way that goes down is followed in steps of this height."""
TURN_RAD = math.pi / 6
LEAST_MM3 = 0.3
DEAD_MM, DEAD_RAMP_MM = 0.25, 0.5
"""Material under a dead centre that counts, straight down and on a ramp: on a ramp the steps of its way leave some."""
NOTHING = -1e6
WORTH_MM2 = 15.0
"""A piece smaller than this is a crumb."""


@dataclass(slots=True)
class Touched:
    """What one step did to the work; depths of overlap in mm, 0 where nothing was touched."""

    volume: float = 0.0
    deep: float = 0.0
    """Height of material along the tool where it cut."""
    rapid: float = 0.0
    obstacle: float = 0.0
    """Edge in a fixture, or beside the blank below what stands highest."""
    body: float = 0.0
    flute: float = 0.0
    """Material above the edge."""
    dead: float = 0.0
    below: float = 0.0
    freed: bool = False


class Stock:
    """The blank on the table, with what stands round it."""

    def __init__(self, bench: Bench, frame: Box | None = None) -> None:
        """`frame`: the blank that the map is laid round, where maps are to be compared."""
        work = bench.work
        (x_from, x_to), (y_from, y_to), _ = frame or work.blank
        (x_low, x_high), (y_low, y_high), (self.bottom, top) = work.blank
        self.x = np.arange(x_from - BESIDE_MM + CELL_MM / 2, x_to + BESIDE_MM, CELL_MM)
        self.y = np.arange(y_from - BESIDE_MM + CELL_MM / 2, y_to + BESIDE_MM, CELL_MM)
        inside = _within(self.y, (y_low, y_high))[:, None] & _within(self.x, (x_low, x_high))
        self.top: Heights = np.where(inside, top, NOTHING)
        self.maker = np.zeros(inside.shape, np.int32)
        """Line that cut each cell last, 0 where nobody did."""
        # What reaches no higher than the blank's bottom is what it lies on: `allowed` speaks for that.
        beside = work.highest if work.highest > self.bottom else NOTHING
        self.solid: Heights = np.where(inside, NOTHING, beside)
        for x, y, z in work.fixtures:
            here = _within(self.y, y)[:, None] & _within(self.x, x)
            self.solid[here] = np.maximum(self.solid[here], z[1])
        self.highest = max(top, float(self.solid.max()))
        self.allowed = work.allowed
        self.nose = bench.mill.nose
        self.pieces = 1
        self.through = False

    def take(self, step: Step) -> Touched:
        """Let one step go through the work."""
        told = Touched()
        cutter = step.state.cutter
        if cutter is None or step.kind not in ("rapid", "feed") or not np.isfinite([*step.start, *step.end]).all():
            return told
        told.below = max(0.0, self.allowed - min(step.start[2], step.end[2]) - SURE_MM)
        self.through = False
        for part in _levels(step):
            self._level(step, part, cutter, told)
        if self.through:
            pieces = self._count()
            told.freed = pieces > self.pieces
            self.pieces = max(pieces, self.pieces)
        return told

    def _level(self, step: Step, part: _Part, cutter: Cutter, told: Touched) -> None:
        if part.z > self.highest and part.z > self.allowed:
            return
        window = self._window(part, cutter.radius)
        if window is not None:
            self._edge(step, part, cutter, told, window)
        self._body(part, cutter, told)

    def _edge(self, step: Step, part: _Part, cutter: Cutter, told: Touched, window: _Window) -> None:
        away = _away(part, self.x[window[1]], self.y[window[0]])
        under = part.z + _rise(cutter, away)
        before = self.top[window]
        over = np.where(away <= cutter.radius, before - under, 0.0)
        well_in = away <= cutter.radius - SURE_MM
        if step.kind == "rapid":
            told.rapid = max(told.rapid, _most(over[well_in & (over > SURE_MM)]))
        blocked = (self.solid[window] - under)[well_in]
        told.obstacle = max(told.obstacle, _most(blocked[blocked > SURE_MM]))
        cut = over > 0
        if not cut.any():
            return
        told.volume += float(over[cut].sum()) * CELL_MM**2
        high = np.minimum(before[cut] - part.z, before[cut] - self.bottom)
        told.deep = max(told.deep, float(high.max()))
        told.flute = max(told.flute, float(high.max()) - cutter.flute - SURE_MM, 0.0)
        if cutter.dead and part.falls:
            least = DEAD_MM if part.a == part.b else DEAD_RAMP_MM
            told.dead = max(told.dead, _most(over[(away < cutter.dead) & (over > least)]))
        self.through |= bool((under[cut] <= self.bottom + 0.05).any())
        self.top[window] = np.where(cut, under, before)
        self.maker[window][cut] = step.line

    def _body(self, part: _Part, cutter: Cutter, told: Touched) -> None:
        discs = [*cutter.discs(), *((radius, cutter.length + bottom) for radius, bottom in self.nose)]
        for radius, bottom in discs:
            if part.z + bottom >= self.highest - SURE_MM:
                continue
            window = self._window(part, radius)
            if window is None:
                continue
            here = _away(part, self.x[window[1]], self.y[window[0]]) <= radius - SURE_MM
            high = np.maximum(self.top[window], self.solid[window])[here]
            told.body = max(told.body, _most(high - part.z - bottom), 0.0)
        told.body = told.body if told.body > SURE_MM else 0.0

    def _window(self, part: _Part, radius: float) -> _Window | None:
        rows = _slice(self.y, part.y[0] - radius, part.y[1] + radius)
        columns = _slice(self.x, part.x[0] - radius, part.x[1] + radius)
        return None if rows.start >= rows.stop or columns.start >= columns.stop else (rows, columns)

    def _count(self) -> int:
        labels, count = ndimage.label(self.top > self.bottom + 0.05)
        sizes = np.bincount(labels.ravel())[1:] * CELL_MM**2
        return int((sizes > WORTH_MM2).sum()) if count else 0


_Window = tuple[slice, slice]


@dataclass(frozen=True, slots=True)
class _Part:
    """A bit of way at one height; `a` to `b`, about `centre` where it is an arc."""

    a: Flat
    b: Flat
    z: float
    falls: bool
    x: Span
    y: Span
    centre: Flat | None = None
    from_rad: float = 0.0
    sweep: float = 0.0


def _levels(step: Step) -> list[_Part]:
    """The step as level bits, each at its lower end."""
    fall = step.end[2] - step.start[2]
    across = step.centre is not None or math.dist(step.start[:2], step.end[:2]) > 1e-9
    count = 1
    if across and abs(fall) > 1e-9:
        count = min(400, max(math.ceil(abs(fall) / LEVEL_MM), math.ceil(abs(step.sweep) / TURN_RAD)))
    return [_bit(step, k / count, (k + 1) / count, fall) for k in range(count)]


def _bit(step: Step, one: float, two: float, fall: float) -> _Part:
    z = step.start[2] + fall * (two if fall < 0 else one)
    if step.centre is None:
        a, b = (
            (
                step.start[0] + t * (step.end[0] - step.start[0]),
                step.start[1] + t * (step.end[1] - step.start[1]),
            )
            for t in (one, two)
        )
        return _Part(a, b, z, fall < 0, _ends(a[0], b[0]), _ends(a[1], b[1]))
    (x, y), radius = step.centre, math.dist(step.start[:2], step.centre)
    first = math.atan2(step.start[1] - y, step.start[0] - x)
    begin, sweep = first + one * step.sweep, (two - one) * step.sweep
    a, b = ((x + radius * math.cos(t), y + radius * math.sin(t)) for t in (begin, begin + sweep))
    # The whole circle's window: cells that the arc does not reach are told by their distance.
    return _Part(a, b, z, fall < 0, (x - radius, x + radius), (y - radius, y + radius), step.centre, begin, sweep)


def _ends(a: float, b: float) -> Span:
    return min(a, b), max(a, b)


def _away(part: _Part, x: Heights, y: Heights) -> Heights:
    """f8[rows, columns] distance in plan from the way."""
    dx, dy = x[None, :] - part.a[0], y[:, None] - part.a[1]
    if part.centre is None:
        wx, wy = part.b[0] - part.a[0], part.b[1] - part.a[1]
        square = wx * wx + wy * wy
        if square < 1e-18:
            return np.hypot(dx, dy)
        along = np.clip((dx * wx + dy * wy) / square, 0.0, 1.0)
        return np.asarray(np.hypot(dx - along * wx, dy - along * wy))
    cx, cy = x[None, :] - part.centre[0], y[:, None] - part.centre[1]
    radius = math.dist(part.a, part.centre)
    turn = (np.arctan2(cy, cx) - part.from_rad) * math.copysign(1.0, part.sweep) % (2 * math.pi)
    ends = np.minimum(np.hypot(dx, dy), np.hypot(x[None, :] - part.b[0], y[:, None] - part.b[1]))
    return np.where(turn <= abs(part.sweep), np.abs(np.hypot(cx, cy) - radius), ends)


def _rise(cutter: Cutter, away: Heights) -> Heights:
    """Height of the cutting end over the tip at a distance from the axis."""
    if cutter.kind in ("drill", "chamfer"):
        return away / math.tan(math.radians(cutter.point_deg / 2))
    into = np.clip(away - (cutter.radius - cutter.corner), 0.0, cutter.corner)
    return cutter.corner - np.sqrt(cutter.corner**2 - into**2)


def _within(places: Heights, ends: Span) -> NDArray[np.bool_]:
    return (places > ends[0]) & (places < ends[1])


def _slice(places: Heights, low: float, high: float) -> slice:
    return slice(int(np.searchsorted(places, low)), int(np.searchsorted(places, high)))


def _most(values: Heights) -> float:
    return float(values.max()) if values.size else 0.0
