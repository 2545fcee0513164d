"""Quickest motions by another way: linear programs of a general optimiser (scipy's HiGHS), independent of the plan.

`quickest_by_acceleration` is exact up to its grid: with q = v² along the path, limits of acceleration are linear in q, and the greatest
q everywhere is also the quickest. `quickest_by_jerk` fixes the time spent in each section, asks a linear program whether a jerk exists that
goes its way under its caps, and searches the times that just allow it.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import linprog, minimize
from scipy.sparse import coo_matrix


def quickest_by_acceleration(
    sections: list[tuple[float, float, float, float]], joints: list[float], per: int = 150
) -> float:
    """Least time, s, rest to rest. sections: (length, greatest speed, acceleration, radius or 0 for a line); joints: greatest speed
    at the joints between. On an arc acceleration along and v²/r across share one circle, here a polygon around it."""
    count = 1 + per * len(sections)
    cap = np.full(count, np.inf)
    rows: list[int] = []
    columns: list[int] = []
    values: list[float] = []
    bounds: list[float] = []

    def add(terms: dict[int, float], most: float) -> None:
        for column, value in terms.items():
            rows.append(len(bounds))
            columns.append(column)
            values.append(value)
        bounds.append(most)

    steps = []
    for number, (length, speed, accel, radius) in enumerate(sections):
        first = number * per
        fastest = min(speed, math.sqrt(accel * radius)) if radius else speed
        cap[first : first + per + 1] = np.minimum(cap[first : first + per + 1], fastest**2)
        step = np.diff((1 - np.cos(np.linspace(0, np.pi, per + 1))) / 2 * length)  # fine at both ends
        steps.append(step)
        for k in range(per):
            at = first + k
            if not radius:
                add({at + 1: 1.0, at: -1.0}, 2 * accel * step[k])
                add({at + 1: -1.0, at: 1.0}, 2 * accel * step[k])
                continue
            for angle in np.linspace(-np.pi / 2, np.pi / 2, 61):
                across = math.cos(angle) / (2 * radius * accel)
                along = math.sin(angle) / (2 * step[k] * accel)
                add({at + 1: across + along, at: across - along}, 1.0)
    for number, speed in enumerate(joints):
        cap[(number + 1) * per] = min(cap[(number + 1) * per], speed**2)
    cap[0] = cap[-1] = 0.0
    scale = float(cap.max())
    matrix = coo_matrix((values, (rows, columns)), shape=(len(bounds), count)).tocsr() * scale
    found = linprog(-np.ones(count), A_ub=matrix, b_ub=bounds, bounds=[(0, one / scale) for one in cap], method="highs")
    speed_at = np.sqrt(np.maximum(found.x, 0) * scale)
    return float(np.sum(2 * np.concatenate(steps) / (speed_at[1:] + speed_at[:-1])))


def quickest_by_jerk(
    lengths: list[float], speeds: list[float], accel: float, jerk: float, guess: np.ndarray, per: int = 16
) -> float:
    """Least time, s, along a line of sections with their own greatest speed, rest to rest; `guess` f8[n] times of the sections."""

    def excess(logs: np.ndarray) -> float:
        times = np.exp(logs)
        return float(times.sum() + 100 * guess.sum() * _least_breach(times, lengths, speeds, accel, jerk, per))

    logs = np.log(guess * 1.03)
    for _ in range(3):
        corner = np.vstack([logs, logs + 0.03 * np.diag(np.where(np.arange(logs.size) % 2, -1, 1))])
        options = {"xatol": 1e-5, "fatol": 1e-7, "maxfev": 120, "initial_simplex": corner}
        logs = minimize(excess, logs, method="Nelder-Mead", options=options).x
    if _least_breach(np.exp(logs), lengths, speeds, accel, jerk, per) > 1e-7:
        raise AssertionError("the search for the quickest motion ended outside what is allowed")
    return float(np.exp(logs).sum())


def _least_breach(
    times: np.ndarray, lengths: list[float], speeds: list[float], accel: float, jerk: float, per: int
) -> float:
    """Least part by which caps and ends must be missed if the sections take these times; jerk is constant in each of `per` spans."""
    sections = len(lengths)
    count = per * sections
    parts = np.diff((1 - np.cos(np.linspace(0, np.pi, per + 1))) / 2)  # fine where a section begins and ends
    span = np.concatenate([one * parts for one in times])
    a_end = np.tril(np.broadcast_to(span, (count, count)))  # every state is a linear map of the jerks
    a_begin = np.vstack([np.zeros(count), a_end[:-1]])
    v_end = np.cumsum(a_begin * span[:, None] + np.diag(span**2 / 2), axis=0)
    v_begin = np.vstack([np.zeros(count), v_end[:-1]])
    s_end = np.cumsum(v_begin * span[:, None] + a_begin * (span**2 / 2)[:, None] + np.diag(span**3 / 6), axis=0)
    v_mid = v_begin + a_begin * (span / 2)[:, None] + np.diag(span**2 / 8)
    ends = np.arange(1, sections + 1) * per - 1
    cap = np.repeat(np.array(speeds, float), per)
    cap_end = cap.copy()
    cap_end[ends[:-1]] = np.minimum(speeds[:-1], speeds[1:])
    unit = max(speeds)
    exact = np.vstack([s_end[ends] / sum(lengths), v_end[-1:] / unit, a_end[-1:] / accel])
    asked = np.concatenate([np.cumsum(lengths) / sum(lengths), [0.0, 0.0]])
    below = np.vstack([v_end / unit, v_mid / unit, -v_end / unit, a_end / accel, -a_end / accel, exact, -exact])
    most = np.concatenate([cap_end / unit, cap / unit, np.zeros(count), np.ones(2 * count), asked, -asked])
    table = np.hstack([below, -np.ones((len(below), 1))])
    goal = np.append(np.zeros(count), 1.0)
    found = linprog(goal, A_ub=table, b_ub=most, bounds=[(-jerk, jerk)] * count + [(0, None)], method="highs")
    return float(found.fun) if found.status == 0 else 1e3
