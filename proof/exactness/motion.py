"""Time: the plan against integration of its own jerk, and against the quickest motion that a general optimiser finds."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import cumulative_trapezoid

from firstoff.motion.plan import plan_motion
from firstoff.motion.sample import sample
from firstoff.motion.timeline import MotionLimits
from tests.motion.oracles import quickest_by_acceleration, quickest_by_jerk
from tests.motion.paths import limits, track

SEED = 20261128
INTEGRATED, BY_JERK, BY_ACCELERATION = 20, 8, 12
FINE = 200_000
"""Times at which a plan is integrated."""


@dataclass(frozen=True, slots=True)
class Moved:
    """One random path: the plan's time, the oracle's (s), or what integration is off by (mm at the end, mm/s at the worst)."""

    sort: str
    what: str
    planned_s: float
    oracle_s: float | None = None
    end_off_mm: float | None = None
    speed_off_mm_per_s: float | None = None

    @property
    def slower(self) -> float:
        """By how much the plan takes longer than the quickest motion, as a part."""
        return self.planned_s / self.oracle_s - 1.0 if self.oracle_s else math.nan


def integrated(number: int) -> Moved:
    """A line of sections with their own feeds, its acceleration added up twice from rest: it must end where the line ends, at rest."""
    generator = np.random.default_rng((SEED, 0, number))
    count = int(generator.integers(2, 7))
    lengths = generator.uniform(0.5, 25.0, count)
    speeds = generator.uniform(10.0, 150.0, count)
    accel, jerk = float(generator.uniform(1000, 6000)), float(10 ** generator.uniform(4.3, 5.3))
    one = track([(x, 0, 0) for x in np.cumsum(lengths)], feed=speeds.tolist())
    by = limits(1000, accel, jerk)
    planned = plan_motion(one, by).total_likely_s
    times = np.linspace(0.0, planned, FINE)
    told = sample(one, by, times)
    speed = cumulative_trapezoid(told.push, times, initial=0.0)
    way = cumulative_trapezoid(speed, times, initial=0.0)
    off = float(np.abs(speed - told.speed).max())
    return Moved(
        "integration", f"{count} sections, {lengths.sum():.0f} mm", planned, None, float(way[-1] - lengths.sum()), off
    )


def by_jerk(number: int) -> Moved:
    """A line of one to three sections with their own feeds, jerk limited."""
    generator = np.random.default_rng((SEED, 1, number))
    count = int(generator.integers(1, 4))
    lengths = generator.uniform(2.0, 15.0, count).tolist()
    speeds = generator.uniform(15.0, 90.0, count).tolist()
    accel, jerk = float(generator.uniform(1500, 5000)), float(10 ** generator.uniform(4.6, 5.2))
    line = plan_motion(track([(x, 0, 0) for x in np.cumsum(lengths)], feed=speeds), limits(1000, accel, jerk))
    best = quickest_by_jerk(lengths, speeds, accel, jerk, line.move_s[1:])
    return Moved("jerk limited line", f"{count} sections, {sum(lengths):.0f} mm", line.total_likely_s, best)


def by_acceleration(number: int) -> Moved:
    """A zigzag of lines with corners within a tolerance, speed and acceleration limited."""
    generator = np.random.default_rng((SEED, 2, number))
    count = int(generator.integers(3, 8))
    turns = np.radians(generator.uniform(20, 140, count - 1) * generator.choice([-1, 1], count - 1))
    sizes = generator.uniform(0.4, 10.0, count)
    feed, accel, tolerance = float(generator.uniform(40, 120)), float(generator.uniform(1500, 5000)), 0.02
    headings = np.concatenate([[0.0], np.cumsum(turns)])
    steps = np.column_stack([sizes * np.cos(headings), sizes * np.sin(headings), np.zeros(count)])
    by = MotionLimits((feed,) * 3, (accel,) * 3, (math.inf,) * 3, tolerance, 100, 1e9)
    got = plan_motion(track(np.cumsum(steps, axis=0), feed=feed), by).total_likely_s
    # Axes alike: along a line at an angle the axes together give more than one of them.
    wider = np.maximum(np.abs(np.cos(headings)), np.abs(np.sin(headings)))
    sections = [
        (float(s), float(min(feed, feed / w)), float(accel / w), 0.0) for s, w in zip(sizes, wider, strict=True)
    ]
    joints = []
    for k, turn in enumerate(turns):
        angles = headings[k] + np.linspace(0, turn, 721)
        across = accel / float(np.maximum(np.abs(np.sin(angles)), np.abs(np.cos(angles))).max())
        inside = math.sin((math.pi - abs(turn)) / 2)
        radius = min(tolerance * inside / (1 - inside), min(sizes[k], sizes[k + 1]) / 2 / math.tan(abs(turn) / 2))
        joints.append(math.sqrt(across * radius))
    best = quickest_by_acceleration(sections, joints)
    return Moved("acceleration limited zigzag", f"{count} lines, {sizes.sum():.0f} mm", got, best)


def study(integrations: int = INTEGRATED, jerks: int = BY_JERK, accelerations: int = BY_ACCELERATION) -> list[Moved]:
    """All random paths."""
    rows = [integrated(k) for k in range(integrations)]
    rows += [by_jerk(k) for k in range(jerks)]
    return rows + [by_acceleration(k) for k in range(accelerations)]
