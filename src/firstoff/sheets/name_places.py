"""Where a name has room in a drawing: beside its mark, off what stands there already, and off lines; all in mm of paper."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from firstoff.sheets.paper_marks import Box2

STEP_MM, LINE_COST, AWAY, AWAY_COST = 0.5, 0.12, (0.0, 1.2, 2.4), 0.35
"""How lines are counted that a name would cover; how far from its mark it may stand, and what that costs."""
NAME_CLEAR = 0.5
"""Paper left free round a name."""


def around(x: float, y: float, half_wide: float, half_tall: float) -> Box2:
    return x - half_wide, y - half_tall, x + half_wide, y + half_tall


def label_box(x: float, y: float, wide: float) -> Box2:
    """Box of a note whose baseline begins at (x, y)."""
    return x, y - 2.6, x + wide, y + 0.2


def along(loop: NDArray[np.float64]) -> NDArray[np.float64]:
    """f8[K, 2]: places along a line, no further apart than `STEP_MM`."""
    steps = np.maximum(np.ceil(np.hypot(*np.diff(loop, axis=0).T) / STEP_MM).astype(int), 1)
    parts = [np.linspace(a, b, n, endpoint=False) for a, b, n in zip(loop[:-1], loop[1:], steps.tolist(), strict=True)]
    return np.concatenate([*parts, loop[-1:]])


def free_place(
    x: float, y: float, wide: float, clear: float, taken: list[Box2], lines: NDArray[np.float64]
) -> tuple[float, float]:
    """Beside a mark of radius `clear`: the place at which a note covers least of what is taken, then fewest lines, then the nearest."""

    def cost(place: tuple[float, float, float]) -> float:
        box = label_box(place[0], place[1], wide)
        near = (lines > np.array(box[:2]) - NAME_CLEAR) & (lines < np.array(box[2:]) + NAME_CLEAR)
        return sum(shared(box, one) for one in taken) + LINE_COST * float(near.all(axis=1).sum()) + place[2] * AWAY_COST

    places = []
    for away in AWAY:
        off = clear + 0.35 + away
        across = (x + off, x - wide - off, x - wide / 2)
        heights = (y + 2.2 + clear + away, y - clear - 0.05 - away, y + 1.1)
        places += [(px, py, away) for py, px in product(heights, across) if px != x - wide / 2 or py != y + 1.1]
    best = min(places, key=cost)
    return best[0], best[1]


def shared(a: Box2, b: Box2) -> float:
    """Area that two boxes share, mm²."""
    return max(0.0, min(a[2], b[2]) - max(a[0], b[0])) * max(0.0, min(a[3], b[3]) - max(a[1], b[1]))
