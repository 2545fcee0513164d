"""The blank of a job: its shape at best estimates, how far each face may be off, and the facts it was read from."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from firstoff.facts.fact import Leaning
from firstoff.removal.field import Field
from firstoff.removal.shape import read_shape
from firstoff.removal.stock import (
    Blank,
    BoxBlank,
    CylinderBlank,
    Extent,
    Faces,
    LeftBlank,
    ShapeBlank,
    all_faces,
    grown,
)

DOUBTS = 2.0
"""Standard uncertainties by which the largest and the smallest blank differ from the likely one: 95 % of blanks lie between them."""
Left = Callable[[str], Field]
"""What an earlier job leaves, by its name."""


def blank_of_job(facts: Leaning, folder: Path, left: Left) -> tuple[Blank, Faces] | None:
    """The blank and the doubt of its faces, or None (what is missing is recorded). `folder` is the job's: files are named from there."""
    after = facts.setting_if_known("job.stock.after")
    if isinstance(after, str):
        facts.setting("job.stock.after")
        return _with_faces(facts, LeftBlank(left(after)))
    file = facts.setting_if_known("job.stock.stl")
    if isinstance(file, str):
        facts.setting("job.stock.stl")
        return _with_faces(facts, ShapeBlank(read_shape(folder / file)))
    if any(facts.facts.under("job.stock.cylinder.")):
        return _cylinder(facts)
    return _box(facts)


def _with_faces(facts: Leaning, blank: LeftBlank | ShapeBlank) -> tuple[Blank, Faces] | None:
    """The shape with its faces where the job says that they lie, and their doubt."""
    faces = facts.number("job.stock.faces")
    return None if faces is None else (grown(blank, all_faces(faces.value)), all_faces(DOUBTS * faces.u))


def _box(facts: Leaning) -> tuple[Blank, Faces] | None:
    ends = [facts.number(f"job.stock.box.{axis}.{end}") for axis in "xyz" for end in ("low", "high")]
    known = [end for end in ends if end is not None]
    if len(known) < len(ends):
        return None
    extent = Extent(*(end.value for end in known))
    return BoxBlank(extent), Faces(*(DOUBTS * end.u for end in known))


def _cylinder(facts: Leaning) -> tuple[Blank, Faces] | None:
    diameter = facts.number("job.stock.cylinder.diameter")
    low, high = (facts.number(f"job.stock.cylinder.z.{end}") for end in ("low", "high"))
    if diameter is None or low is None or high is None:
        return None
    x, y = (facts.number_if_known(f"job.stock.cylinder.{axis}") for axis in "xy")
    middle = [0.0 if centre is None else centre.value for centre in (x, y)]
    side = DOUBTS * (diameter.u / 2 + max(0.0 if centre is None else centre.u for centre in (x, y)))
    blank = CylinderBlank(middle[0], middle[1], diameter.value / 2, low.value, high.value)
    return blank, Faces(side, side, side, side, DOUBTS * low.u, DOUBTS * high.u)


def inward(faces: Faces) -> Faces:
    """The same faces moved the other way."""
    return Faces(-faces.x_low, -faces.x_high, -faces.y_low, -faces.y_high, -faces.z_low, -faces.z_high)
