"""Boxes, the revolved body that passes them, and the signed gap between the two.

The body is a stack of discs round the spindle axis, each taken as solid from its bottom upwards: what is above a disc is spindle.
A box is parted from a disc by one of five faces (four sides and the top); each face's gap is linear along a straight move, a + b·t. So

    least over t of the largest of the five  =  the largest of  min(a, a + b)  of one face
                                                and of  λ·a + (1 − λ)·a'  of two faces whose slopes cancel, λ·b + (1 − λ)·b' = 0

(duality of a linear program). Each term on the right is a lower bound of the gap *in every draw of the facts*, because t has dropped out of
it: the best of them is what reaches the verdict, and no point along the move has to be guessed.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Leaning
from firstoff.program.moves import Floats
from firstoff.verdict.forms import Form, of

FACE_AXIS = (0, 0, 1, 1, 2)
"""The axis that each face parts along: x low, x high, y low, y high, top."""
FACE_SIGN = (-1.0, 1.0, -1.0, 1.0, 1.0)
"""Whether the gap grows with the coordinate of the moving point."""
TOP_FACE = 4
PAIRS = tuple(permutations(range(5), 2))


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
    wanted = (("x", "low"), ("x", "high"), ("y", "low"), ("y", "high"), ("z", "high"))
    ends = [facts.number(f"{prefix}.{axis}.{end}") for axis, end in wanted]
    forms = tuple(of(end) for end in ends if end is not None)
    return Box(name, (forms[0], forms[1], forms[2], forms[3], forms[4])) if len(forms) == len(wanted) else None


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


def fixture_boxes(facts: Leaning) -> tuple[Box, ...]:
    """The fixtures that the job draws as boxes."""
    boxes = []
    for number, name in fixture_names(facts).items():
        if any(facts.facts.under(f"job.fixture.{number}.box.")):
            box = box_of(facts, f"job.fixture.{number}.box", name)
            if box is not None:
                boxes.append(box)
    return tuple(boxes)


def fixture_names(facts: Leaning) -> dict[str, str]:
    """Number, as paths have it, -> name of every fixture that the job draws, whatever its shape."""
    numbers = dict.fromkeys(path.split(".")[2] for path in facts.facts.under("job.fixture."))
    told = {number: facts.setting_if_known(f"job.fixture.{number}.name") for number in numbers}
    return {number: str(name or f"fixture {int(number) + 1}") for number, name in told.items()}


def face_gap(box: Box, face: int, coordinate: Form, disc: Disc) -> Form:
    """The gap of one face as a form; `coordinate` is the moving point's on `FACE_AXIS[face]`."""
    if face == 4:
        return coordinate + disc.bottom - box.faces[4]
    if face in (0, 2):
        return box.faces[face] - coordinate - disc.radius_mm
    return coordinate - disc.radius_mm - box.faces[face]


def point_gaps(points: Floats, faces: Floats, radius: float, bottom: float) -> Floats:
    """f8[N, 5] gap of each face for points f8[N, 3]; `faces` f8[5] at best estimates."""
    reach = np.array([radius, radius, radius, radius, -bottom])
    axes = np.array(FACE_AXIS)
    sign = np.array(FACE_SIGN)
    gaps: Floats = sign * (points[:, axes] - faces) - reach
    return gaps


def rectangle_gaps(low: Floats, high: Floats, faces: Floats, radius: float, bottom: float) -> Floats:
    """f8[N, 5] gap of each face for moves whose points lie between `low` and `high` f8[N, 3]: true whichever way they go."""
    return np.minimum(point_gaps(low, faces, radius, bottom), point_gaps(high, faces, radius, bottom))


@dataclass(frozen=True, slots=True)
class StraightGaps:
    """Lower bounds of the gap of straight moves: `value` f8[N] = `part`·first face + (1 − `part`)·second face."""

    value: Floats
    first: NDArray[np.intp]
    second: NDArray[np.intp]
    part: Floats


def straight_gaps(start: Floats, end: Floats) -> StraightGaps:
    """Best bound of each straight move from the face gaps f8[N, 5] at its start and at its end (see the module's head)."""
    slope = end - start
    single = np.minimum(start, end)
    first = np.argmax(single, axis=1)
    value = single[np.arange(len(single)), first]
    second, part = first.copy(), np.ones(len(value))
    for f, g in PAIRS:
        opposite = (slope[:, f] < 0) & (slope[:, g] > 0)
        share = np.divide(slope[:, g], slope[:, g] - slope[:, f], out=np.zeros(len(value)), where=opposite)
        bound = np.where(opposite, share * start[:, f] + (1 - share) * start[:, g], -np.inf)
        better = bound > value
        value = np.where(better, bound, value)
        first, second, part = np.where(better, f, first), np.where(better, g, second), np.where(better, share, part)
    return StraightGaps(value, first, second, part)
