"""Cutter compensation of the replay: the way beside a contour, for lines and level arcs (NISTIR 6556, Appendix B; inside corners where the
offsets cross, as is common practice)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from proof.faults.steps import Flat, Step, turned

SMOOTH_RAD = 0.01


class AlarmAt(Exception):
    """The control stops at a line."""

    def __init__(self, line: int, why: str) -> None:
        super().__init__(why)
        self.line, self.why = line, why


def compensate(steps: list[Step], radius_of: Callable[[int], float | None]) -> list[Step]:
    """The steps with the tool beside the path where the program says so. Raises `AlarmAt`."""
    done: list[Step] = []
    at = 0
    while at < len(steps):
        if not (steps[at].side and steps[at].across):
            done.append(steps[at])
            at += 1
            continue
        run = _run(steps, at)
        done += _beside(steps, run, radius_of)
        after = next((n for n in range(run[-1] + 1, len(steps)) if steps[n].across), None)
        for n in range(run[-1] + 1, len(steps) if after is None else after):
            _shift(steps[n], done[-1].end[:2], both=True)
        if after is not None:
            _shift(steps[after], done[-1].end[:2], both=False)
        at = run[-1] + 1
    return done


def _run(steps: list[Step], at: int) -> list[int]:
    """Numbers of the steps in the plane that are under one side and register, beginning at `at`."""
    found = []
    for n in range(at, len(steps)):
        one = steps[n]
        if (one.side, one.register) != (steps[at].side, steps[at].register):
            break
        if one.across:
            found.append(n)
    return found


def _shift(step: Step, to: Flat, both: bool) -> None:
    """Let a step begin (and end, if it goes nowhere in the plane) at another place."""
    step.gauge = (_moved(step.gauge[0], step.start[:2], to), step.gauge[1])
    step.start = (*to, step.start[2])
    if both:
        step.gauge = (step.gauge[0], _moved(step.gauge[1], step.end[:2], to))
        step.end = (*to, step.end[2])


def _moved(gauge: tuple[float, float, float], was: Flat, to: Flat) -> tuple[float, float, float]:
    return gauge[0] + to[0] - was[0], gauge[1] + to[1] - was[1], gauge[2]


def _beside(steps: list[Step], run: list[int], radius_of: Callable[[int], float | None]) -> list[Step]:
    first = steps[run[0]]
    radius = radius_of(first.register)
    if radius is None:
        raise AlarmAt(first.line, f"D{first.register} holds no radius")
    if first.centre is not None:
        raise AlarmAt(first.line, "compensation cannot begin on an arc")
    if math.dist(first.start[:2], first.end[:2]) <= radius:
        raise AlarmAt(first.line, "the lead-in is shorter than the radius")
    sides = [_offset(steps[n], first.side * radius) for n in run]
    corners = _joints(sides, first.side, radius)
    sides[0] = replace(sides[0], start=first.start, gauge=first.gauge)
    out: list[Step] = []
    for n in range(run[0], run[-1] + 1):  # moves in Z alone go along
        if n in run:
            number = run.index(n)
            out += [*corners.get(number, ()), _settled(sides[number], steps[n])]
        else:
            _shift(steps[n], out[-1].end[:2], both=True)
            out.append(steps[n])
    return out


def _settled(moved: Step, was: Step) -> Step:
    """Gauge and angle brought to the new ends."""
    moved.gauge = (
        _moved(was.gauge[0], was.start[:2], moved.start[:2]),
        _moved(was.gauge[1], was.end[:2], moved.end[:2]),
    )
    if moved.centre is not None:
        moved.sweep = turned(moved.start[:2], moved.end[:2], moved.centre, was.sweep < 0)
    return moved


def _offset(step: Step, aside: float) -> Step:
    """The step moved to its left by `aside`."""
    if step.centre is None:
        way = (step.end[0] - step.start[0], step.end[1] - step.start[1])
        length = math.hypot(*way)
        x, y = -way[1] / length * aside, way[0] / length * aside
        start, end = (step.start[0] + x, step.start[1] + y), (step.end[0] + x, step.end[1] + y)
    else:
        radius = math.dist(step.start[:2], step.centre)
        now = radius - math.copysign(1.0, step.sweep) * aside
        if now < 1e-6:
            raise AlarmAt(step.line, "an inside arc is smaller than the cutter")
        start, end = (
            (
                step.centre[0] + (p[0] - step.centre[0]) * now / radius,
                step.centre[1] + (p[1] - step.centre[1]) * now / radius,
            )
            for p in (step.start, step.end)
        )
    return replace(step, start=(*start, step.start[2]), end=(*end, step.end[2]))


def _joints(sides: list[Step], side: int, radius: float) -> dict[int, list[Step]]:
    """Let neighbours meet; the arcs round outside corners by the number of the step that follows them."""
    corners: dict[int, list[Step]] = {}
    if len(sides) > 1:
        sides[0].end = (*sides[1].start[:2], sides[0].end[2])
    for number in range(2, len(sides)):
        before, after = sides[number - 1], sides[number]
        one, two = _heading(before, True), _heading(after, False)
        turn = math.atan2(one[0] * two[1] - one[1] * two[0], one[0] * two[0] + one[1] * two[1])
        if abs(turn) < SMOOTH_RAD:
            meet = ((before.end[0] + after.start[0]) / 2, (before.end[1] + after.start[1]) / 2)
        elif turn * side < 0:  # outside: roll round the corner
            corner = (before.end[0] + one[1] * side * radius, before.end[1] - one[0] * side * radius)
            arc = replace(after, start=before.end, end=(*after.start[:2], before.end[2]), centre=corner)
            arc.sweep = turned(before.end[:2], after.start[:2], corner, side > 0)
            arc.gauge = (before.gauge[1], before.gauge[1])
            corners[number] = [arc]
            continue
        else:
            meet = _crossing(before, after)
        before.end, after.start = (*meet, before.end[2]), (*meet, after.start[2])
    return corners


def _heading(step: Step, at_end: bool) -> Flat:
    """Unit direction of travel at an end; offsets keep it."""
    place = step.end if at_end else step.start
    if step.centre is None:
        x, y = step.end[0] - step.start[0], step.end[1] - step.start[1]
    else:
        turn = math.copysign(1.0, step.sweep)
        x, y = -turn * (place[1] - step.centre[1]), turn * (place[0] - step.centre[0])
    length = math.hypot(x, y)
    return x / length, y / length


def _crossing(one: Step, two: Step) -> Flat:
    """Where two offsets cross, nearest to their corner."""
    middle = ((one.end[0] + two.start[0]) / 2, (one.end[1] + two.start[1]) / 2)
    found = _crossings(one, two)
    if not found:
        raise AlarmAt(two.line, "the offsets at an inside corner do not cross")
    return min(found, key=lambda place: math.dist(place, middle))


def _crossings(one: Step, two: Step) -> list[Flat]:
    if one.centre is None and two.centre is None:
        (ax, ay), (bx, by) = _heading(one, True), _heading(two, False)
        across = ax * by - ay * bx
        if abs(across) < 1e-9:
            return []
        t = ((two.start[0] - one.start[0]) * by - (two.start[1] - one.start[1]) * bx) / across
        return [(one.start[0] + t * ax, one.start[1] + t * ay)]
    if one.centre is not None and two.centre is not None:
        return _circles(
            one.centre, math.dist(one.start[:2], one.centre), two.centre, math.dist(two.end[:2], two.centre)
        )
    line, arc = (one, two) if one.centre is None else (two, one)
    assert arc.centre is not None
    x, y = _heading(line, True)
    to = (arc.centre[0] - line.start[0], arc.centre[1] - line.start[1])
    along = to[0] * x + to[1] * y
    left = math.dist(arc.end[:2], arc.centre) ** 2 - (to[0] ** 2 + to[1] ** 2 - along**2)
    if left < 0:
        return []
    return [(line.start[0] + t * x, line.start[1] + t * y) for t in (along - math.sqrt(left), along + math.sqrt(left))]


def _circles(a: Flat, ra: float, b: Flat, rb: float) -> list[Flat]:
    apart = math.dist(a, b)
    if apart < 1e-9 or apart > ra + rb or apart < abs(ra - rb):
        return []
    along = (ra**2 - rb**2 + apart**2) / (2 * apart)
    high = math.sqrt(max(ra**2 - along**2, 0.0))
    x, y = (b[0] - a[0]) / apart, (b[1] - a[1]) / apart
    return [(a[0] + along * x - s * high * y, a[1] + along * y + s * high * x) for s in (1, -1)]
