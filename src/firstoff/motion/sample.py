"""Where the machine is at given times, how fast, and with what acceleration: the likely plan, for checking and for drawing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.motion.plan import LimitedPath, Pauses, Run, Shape, controls, path_of, run, shape_of
from firstoff.motion.timeline import MotionLimits
from firstoff.path.track import Track
from firstoff.program.moves import PLANE_AXES, Floats

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Samples:
    """States at times, one row each: `move` i8[K]; `at_mm` f8[K, 3] gauge point in the machine frame (NaN where not known), `velocity`
    f8[K, 3] mm/s, `acceleration` f8[K, 3] mm/s² along the programmed path, `speed`, `push` f8[K] speed and acceleration along it,
    `phase` i8[K] number of the phase of constant jerk (-1 at rest)."""

    move: Ints
    at_mm: Floats
    velocity: Floats
    acceleration: Floats
    speed: Floats
    push: Floats
    phase: Ints


def sample(track: Track, limits: MotionLimits, times_s: Floats, pauses: Pauses = ()) -> Samples:
    """The likely plan at the times given, from 0 (start of the program) to its end; outside, the machine rests at either end.

    The path is the programmed one: at a corner that is not stopped at, the velocity jumps in direction (see `plan`).
    """
    shape = shape_of(track, pauses)
    path = path_of(shape, limits)
    one = run(shape, path, controls(limits)[0], phases=True)
    times = np.asarray(times_s, float)
    move, within, moving = _find(shape, one, times)
    phase, way, speed, push = _along(one, within, moving)
    row = np.searchsorted(shape.moving, move)
    row = np.minimum(row, max(shape.moving.size - 1, 0))
    at, tangent, normal = _place(track, shape, path, row, way)
    velocity = speed[:, None] * tangent
    acceleration = push[:, None] * tangent + (speed**2)[:, None] * normal
    still = ~moving
    at[still] = np.where(move[still, None] > 0, track.end_mm[np.maximum(move[still] - 1, 0)], track.start_mm[0])
    velocity[still], acceleration[still] = 0.0, 0.0
    return Samples(move, at, velocity, acceleration, speed, push, phase)


def _find(shape: Shape, one: Run, times: Floats) -> tuple[Ints, Floats, NDArray[np.bool_]]:
    """Move under way (or about to begin), time along the path without pauses, and whether the machine moves."""
    count = len(shape.track.moves)
    seconds = shape.move_s.copy()
    begun = np.concatenate([[0.0], one.end_s[:-1]]) if one.end_s.size else np.zeros(0)
    seconds[shape.moving] = one.end_s - begun
    start = np.concatenate([[0.0], np.cumsum(seconds)]) + np.cumsum(shape.pause_s)
    move = np.clip(np.searchsorted(start, times, side="right") - 1, 0, max(count - 1, 0))
    path_begun = np.full(count, np.nan)
    path_begun[shape.moving] = begun
    since = times - start[move]
    moving = ~np.isnan(path_begun[move]) & (since >= 0) & (since <= seconds[move])
    after = (since > seconds[move]) & (move < count)
    return np.where(moving | ~after, move, move + 1), np.where(moving, path_begun[move] + since, 0.0), moving


def _along(one: Run, within: Floats, moving: NDArray[np.bool_]) -> tuple[Ints, Floats, Floats, Floats]:
    """Phase, way along the path, speed and acceleration at times along it."""
    if not len(one.phases):
        nought = np.zeros(within.size)
        return np.full(within.size, -1), nought, nought, nought
    phase = np.clip(np.searchsorted(one.phases[:, 0], within, side="right") - 1, 0, len(one.phases) - 1)
    begun, place, speed, push, jerk = one.phases[phase].T
    t = within - begun
    way = place + t * (speed + t * (push / 2 + t * jerk / 6))
    return (
        np.where(moving, phase, -1),
        way,
        np.where(moving, np.maximum(speed + t * (push + t * jerk / 2), 0.0), 0.0),
        np.where(moving, push + t * jerk, 0.0),
    )


def _place(track: Track, shape: Shape, path: LimitedPath, row: Ints, way: Floats) -> tuple[Floats, Floats, Floats]:
    """Position, direction and curvature vector (1/mm) at a way along the path, within moves given by their row."""
    if not shape.moving.size:
        nought = np.zeros((row.size, 3))
        return nought.copy(), nought.copy(), nought
    move = shape.moving[row]
    part = np.clip((way - path.place[row]) / path.length[row], 0.0, 1.0)
    at = track.start_mm[move] + part[:, None] * shape.step_mm[row]
    tangent = path.tangents[row, :3].copy()
    normal = np.zeros((row.size, 3))
    for number in np.flatnonzero(shape.arc[row] >= 0):
        one = row[number]
        arc = shape.arc[one]
        first, second, axis = PLANE_AXES[int(track.arcs.plane[arc])]
        radius, sweep = track.arcs.radius_mm[arc], track.arcs.sweep_rad[arc]
        centre = track.arcs.centre_mm[arc]
        final = np.arctan2(shape.end_mm[one, second] - centre[1], shape.end_mm[one, first] - centre[0])
        angle = final - (1 - part[number]) * sweep
        shift = track.end_mm[move[number]] - shape.end_mm[one]
        cosine, sense = path.bend[one, 1], np.sign(sweep)
        at[number, first] = centre[0] + radius * np.cos(angle) + shift[first]
        at[number, second] = centre[1] + radius * np.sin(angle) + shift[second]
        tangent[number, [first, second]] = sense * cosine * np.array([-np.sin(angle), np.cos(angle)])
        tangent[number, axis] = track.arcs.rise_mm[arc] / path.length[one]
        normal[number, [first, second]] = -(cosine**2) / radius * np.array([np.cos(angle), np.sin(angle)])
    return at, tangent, normal
