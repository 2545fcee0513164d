"""Boxes, the revolved body that passes them, and the signed gap between the two as a form in facts.

The body is a stack of discs round the spindle axis, each taken as solid from its bottom upwards: what is above a disc is spindle.
A box is parted from a disc by one of five faces (four sides and the top); the gap is the largest of the five, a form in the facts of
that face alone. For a straight move the gap is least where the largest of the five is least; a dog-leg stays inside the rectangle
of its ends, so the rectangle's gap holds for both ways of going (DESIGN 5, removal; NUMERICS 1.1.15).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.facts.fact import Leaning
from firstoff.program.moves import Floats
from firstoff.verdict.forms import Form, of

FACES = ("x low", "x high", "y low", "y high", "top")
STEPS_ALONG = 129
"""Points looked at along a straight move that no single face keeps clear of a box; the gap between two of them can be smaller by at
most half a step, which is taken off."""


@dataclass(frozen=True, slots=True)
class Disc:
    """Part of the body: `radius_mm` from `bottom` (a form: height over the point that moves) upwards."""

    name: str
    radius_mm: float
    bottom: Form


@dataclass(frozen=True, slots=True)
class Box:
    """A box with a form for each face used: x low, x high, y low, y high, top."""

    name: str
    faces: tuple[Form, Form, Form, Form, Form]


def box_of(facts: Leaning, prefix: str, name: str) -> Box | None:
    """The box written at `prefix` (``…box``), or None (the missing fact is recorded)."""
    ends = [
        facts.number(f"{prefix}.{axis}.{end}")
        for axis, end in (("x", "low"), ("x", "high"), ("y", "low"), ("y", "high"), ("z", "high"))
    ]
    if any(end is None for end in ends):
        return None
    forms = tuple(of(end) for end in ends if end is not None)
    return Box(name, (forms[0], forms[1], forms[2], forms[3], forms[4]))


def blank_of(facts: Leaning) -> Box | None:
    """The blank: its box, or the box round its cylinder; None (the missing fact is recorded) where neither is written."""
    if not any(facts.facts.under("job.stock.cylinder.")):
        return box_of(facts, "job.stock.box", "the stock")
    diameter, top = facts.number("job.stock.cylinder.diameter"), facts.number("job.stock.cylinder.z.high")
    if diameter is None or top is None:
        return None
    faces = []
    for axis in ("x", "y"):
        centre = facts.number_if_known(f"job.stock.cylinder.{axis}")
        middle = of(centre) if centre is not None else Form(0.0)
        faces += [middle - of(diameter, 0.5), middle + of(diameter, 0.5)]
    return Box("the stock", (faces[0], faces[1], faces[2], faces[3], of(top)))


@dataclass(frozen=True, slots=True)
class Gap:
    """The least gap between a move and a box: `form` in facts, at `fraction` of the way, parted by `face`."""

    form: Form
    value_mm: float
    face: str
    straight_only: bool
    """Clear only if the move goes straight; a dog-leg could touch."""


def rectangle_gaps(low: Floats, high: Floats, faces: Sequence[float], radius: float, bottom: float) -> Floats:
    """f8[N, 5] gap of each face for moves whose points lie between `low` and `high` f8[N, 3]."""
    x_low, x_high, y_low, y_high, top = faces
    return np.stack(
        [
            x_low - (high[:, 0] + radius),
            (low[:, 0] - radius) - x_high,
            y_low - (high[:, 1] + radius),
            (low[:, 1] - radius) - y_high,
            low[:, 2] + bottom - top,
        ],
        axis=1,
    )


def straight_gap(
    start: Floats, end: Floats, faces: Sequence[float], radius: float, bottom: float
) -> tuple[float, int, float]:
    """(gap, face, fraction of the way) of a straight move, less half a step for what lies between two points looked at."""
    fraction = np.linspace(0.0, 1.0, STEPS_ALONG)
    points = start + fraction[:, None] * (end - start)
    gaps = rectangle_gaps(points, points, faces, radius, bottom)
    largest = gaps.max(axis=1)
    at = int(np.argmin(largest))
    slack = float(np.linalg.norm(end - start)) / (STEPS_ALONG - 1) / 2
    return float(largest[at]) - slack, int(np.argmax(gaps[at])), float(fraction[at])


FACE_AXIS = (0, 0, 1, 1, 2)
"""The axis that each face parts along."""


def face_gap(box: Box, face: int, coordinate: Form, disc: Disc) -> Form:
    """The gap of one face as a form; `coordinate` is the moving point's on `FACE_AXIS[face]`."""
    if face == 4:
        return coordinate + disc.bottom - box.faces[4]
    if face in (0, 2):
        return box.faces[face] - coordinate - disc.radius_mm
    return coordinate - disc.radius_mm - box.faces[face]
