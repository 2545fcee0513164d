"""Programs, tools, facts and engagement made by hand for the tests of loads."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from firstoff.facts.assembly import Assembly, Part, Segment
from firstoff.facts.fact import Fact, FactSet
from firstoff.loads.accumulate import Work
from firstoff.motion.timeline import Timeline
from firstoff.path.pieces import Pieces, Stations
from firstoff.program.moves import Arcs, Kind, Moves
from firstoff.removal.swept import ANGLES, RINGS, SLICES, Engagement

MATERIAL = "alloy"
NAME = "em6"


def flat(diameter: float = 6.0, edges: int = 2, helix: float = 0.0, high: float = 20.0, name: str = NAME) -> Assembly:
    """A flat cutter; helix in degrees."""
    r = diameter / 2
    segments = (Segment(Part.EDGE, 0.0, 0.0, r, 0.0), Segment(Part.EDGE, r, 0.0, r, high))
    return _assembly(name, "flat", segments, diameter, 0.0, high, edges, helix)


def ball(diameter: float = 6.0, edges: int = 2, helix: float = 0.0, high: float = 20.0, chords: int = 90) -> Assembly:
    """A ball cutter as chords of its quarter circle."""
    r = diameter / 2
    angle = np.linspace(0.0, math.pi / 2, chords + 1)
    radius, height = r * np.sin(angle), r * (1.0 - np.cos(angle))
    segments = [
        Segment(Part.EDGE, *map(float, four)) for four in zip(radius, height, radius[1:], height[1:], strict=False)
    ]
    segments.append(Segment(Part.EDGE, r, r, r, high))
    return _assembly("ball", "ball", tuple(segments), diameter, r, high, edges, helix)


def bull(diameter: float = 6.0, corner: float = 1.0, edges: int = 2, high: float = 20.0, chords: int = 60) -> Assembly:
    """A cutter with a corner radius."""
    r = diameter / 2
    angle = np.linspace(0.0, math.pi / 2, chords + 1)
    radius, height = r - corner + corner * np.sin(angle), corner * (1.0 - np.cos(angle))
    segments = [Segment(Part.EDGE, 0.0, 0.0, r - corner, 0.0)]
    segments += [
        Segment(Part.EDGE, *map(float, four)) for four in zip(radius, height, radius[1:], height[1:], strict=False)
    ]
    segments.append(Segment(Part.EDGE, r, corner, r, high))
    return _assembly("bull", "bull", tuple(segments), diameter, corner, high, edges, 0.0)


def drill(
    diameter: float = 6.0, point: float = 118.0, edges: int = 2, high: float = 30.0, name: str = NAME
) -> Assembly:
    """A drill with a point of so many degrees."""
    r = diameter / 2
    tall = r / math.tan(math.radians(point / 2))
    segments = (Segment(Part.EDGE, 0.0, 0.0, r, tall), Segment(Part.EDGE, r, tall, r, high))
    return _assembly(name, "drill", segments, diameter, 0.0, high, edges, 30.0)


def tap(diameter: float = 6.0, high: float = 15.0, name: str = NAME) -> Assembly:
    segments = (
        Segment(Part.EDGE, 0.0, 0.0, diameter / 2, 0.0),
        Segment(Part.EDGE, diameter / 2, 0.0, diameter / 2, high),
    )
    return _assembly(name, "tap", segments, diameter, 0.0, high, 3, 0.0)


def _assembly(
    name: str,
    kind: str,
    segments: tuple[Segment, ...],
    diameter: float,
    corner: float,
    high: float,
    edges: int,
    helix: float,
) -> Assembly:
    return Assembly(name, kind, segments, diameter, corner, high, edges, math.radians(helix), 60.0, 25.0, diameter, 0.0)


def facts(**values: float | tuple[float, float]) -> FactSet:
    """Facts of the material and of the tool `NAME`; a pair is (value, u). Names: kc, at, mc, radial_ratio, axial_ratio, edge_force,
    model_factor, min_chip_ratio of the material; the rest of the tool."""
    given: dict[str, float | tuple[float, float]] = {
        "kc": (900.0, 300.0), "at": 0.05, "mc": (0.25, 0.05), "radial_ratio": (0.4, 0.1), "axial_ratio": (0.25, 0.1), **values,
    }  # fmt: skip
    of_material = {"mc", "radial_ratio", "axial_ratio", "edge_force", "model_factor", "min_chip_ratio", "kc"}
    found = {}
    for name, value in given.items():
        number, u = value if isinstance(value, tuple) else (value, 0.0)
        path = f"materials.{MATERIAL}.{name}" if name in of_material else f"tools.{NAME}.{name}"
        if name == "at":
            path = f"materials.{MATERIAL}.kc.at"
        found[path] = Fact(path, number, u, "")
    return FactSet(found)


def moves_of(
    ends: Sequence[Sequence[float]], feed: float | Sequence[float] = 20.0, turns: float | Sequence[float] = 400.0,
    tool: int | Sequence[int] = 1, kind: Sequence[Kind] | None = None,
) -> Moves:  # fmt: skip
    """Feed moves to the given ends."""
    count = len(ends)

    def each(value: object, dtype: type) -> np.ndarray:
        return np.ascontiguousarray(np.broadcast_to(np.asarray(value, dtype), count))

    kinds = np.full(count, int(Kind.FEED), np.uint8) if kind is None else np.array([int(one) for one in kind], np.uint8)
    return Moves(
        kinds, np.asarray(ends, float), np.zeros((count, 3), np.int16), np.full(count, -1, np.int32), each(feed, float),
        each(turns, float), each(tool, np.int32), np.full(count, -1, np.int32), np.zeros(count, np.uint16),
        np.arange(1, count + 1, dtype=np.int32), np.full(count, -1, np.int32),
    )  # fmt: skip


def pieces_of(moves: Moves, start: Sequence[float] = (0.0, 0.0, 0.0)) -> Pieces:
    """The moves as straight pieces, from `start`."""
    count = len(moves)
    numbers = np.arange(count, dtype=np.int32)
    begin = np.vstack([np.asarray(start, float)[None], moves.end_mm[:-1]])
    none = np.empty(0)
    arcs = Arcs(np.empty((0, 2)), np.empty(0, np.uint8), none, none, none)
    return Pieces(
        numbers, moves.tool, begin, moves.end_mm, np.full(count, -1, np.int32), arcs, np.isin(moves.kind, [int(Kind.RAPID)]),
        np.zeros(count, bool), np.empty(0, np.int32),
    )  # fmt: skip


def timeline_of(moves: Moves, lengths: Sequence[float], low: float = 1.0, high: float = 1.0) -> Timeline:
    """Every move at its commanded feed; the bracket as parts of it."""
    feed, length = moves.feed_mm_per_s, np.asarray(lengths, float)
    seconds = length / feed
    start = np.concatenate([[0.0], np.cumsum(seconds)])
    count = len(moves)
    return Timeline(
        start, feed * low, feed, feed * high, np.zeros(count, np.uint8), float(start[-1]), float(start[-1]), float(start[-1]), (),
        seconds, np.zeros(count + 1), np.zeros(count, bool),
    )  # fmt: skip


def engagement_of(
    move: Sequence[int], way: Sequence[float] | np.ndarray = (1.0, 0.0, 0.0), step: float = 0.1, side: np.ndarray | float = 0.0,
    slope: np.ndarray | None = None, slope_z: np.ndarray | None = None, end: np.ndarray | float = 0.0,
    volume: float | np.ndarray = 1.0, axial: float = 0.0, radial: float = 0.0, making: int = 0, tool: int = 1,
) -> Engagement:  # fmt: skip
    """Stations of one chunk that all stand in material alike, or by rows where an array has them."""
    count = len(move)

    def filled(value: object, shape: tuple[int, ...], dtype: type = np.float32) -> np.ndarray:
        array = np.ascontiguousarray(np.broadcast_to(np.asarray(value, dtype), (count, *shape)))
        array.setflags(write=False)
        return array

    unit = np.asarray(way, float) / np.linalg.norm(way, axis=-1, keepdims=True)
    numbers = np.asarray(move, np.int32)
    stations = Stations(
        numbers, numbers, np.cumsum(filled(unit, (3,), np.float64) * step, axis=0), filled(unit, (3,)), filled(step, ()),
        filled(tool, (), np.int32), np.zeros(count, bool), np.zeros(count, bool),
    )  # fmt: skip
    return Engagement(
        stations,
        filled(side, (ANGLES,)),
        filled(0.0 if slope is None else slope, (SLICES, ANGLES)),
        filled(0.0 if slope_z is None else slope_z, (SLICES + 1,)),
        filled(end, (RINGS, 2 * ANGLES)),
        filled(volume, (), np.float64),
        filled(axial, ()),
        filled(radial, ()),
        filled(making, (), np.int8),
    )


def sealed(*arrays: np.ndarray) -> tuple[np.ndarray, ...]:
    """Arrays as kernels take them: contiguous and read-only."""
    found = tuple(np.ascontiguousarray(array).view() for array in arrays)
    for array in found:
        array.setflags(write=False)
    return found


def arc_side(height: float, low: float, high: float) -> np.ndarray:
    """f4[ANGLES] material of one height where an edge of a clockwise cutter has turned `low` .. `high` degrees since it came to the front
    half (the immersion angle of the textbooks: 0 where up-milling begins, 180 where down-milling ends)."""
    side = np.zeros(ANGLES, np.float32)
    for place in range(ANGLES):
        share = min(2.0 * place + 2.0, high) - max(2.0 * place, low)
        side[ANGLES - 1 - place] = height * max(0.0, share) / 2.0
    return side


def work_of(moves: Moves, timeline: Timeline, assembly: Assembly, given: FactSet, **more: object) -> Work:
    """Everything that loads are reckoned for, with one tool T1."""
    return Work(moves, timeline, pieces_of(moves), {1: assembly}, given, MATERIAL, **more)  # type: ignore[arg-type]
