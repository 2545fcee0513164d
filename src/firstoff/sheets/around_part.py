"""What stands around the part, as facts draw it: fixtures, and the jaws of a vice where it is told which way they lie."""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.facts.fact import FactSet
from firstoff.sheets.sheet_facts import Span, box_of
from firstoff.verdict.boxes import fixture_names

Box = tuple[Span, Span, Span]
ALONG_MM, ALONG_SHARE = 0.3, 0.02
"""The jaws lie along the side of the blank that is as long as they hold, within this much or this share of it."""


@dataclass(frozen=True, slots=True)
class Solid:
    """A box, or the box round a cylinder along Z; mm, work frame."""

    name: str
    box: Box
    round: bool = False
    open: tuple[int, int] | None = None
    """Axis and end (0 low, 1 high) of a side where it goes on and nobody said how far."""

    @property
    def top(self) -> float:
        return self.box[2][1]


@dataclass(frozen=True, slots=True)
class Jaws:
    """The two jaws of a vice: they lie `along` X (0) or Y (1), and hold the blank up to `top`; mm, work frame."""

    along: int
    top: float


def solids_of(facts: FactSet) -> tuple[Solid, ...]:
    """The fixtures that are written as boxes or cylinders, in the order of the job."""
    found = []
    for number, name in fixture_names(facts.leaning()).items():
        prefix = f"job.fixture.{number}"
        box = box_of(facts, f"{prefix}.box")
        round_ = cylinder_of(facts, f"{prefix}.cylinder")
        if box is not None:
            found.append(Solid(name, box))
        elif round_ is not None:
            found.append(Solid(name, round_, True))
    return tuple(found)


def shapes_in_files(facts: FactSet) -> tuple[str, ...]:
    """Names of the fixtures whose shape is in a file: they are named, not drawn."""
    names = fixture_names(facts.leaning())
    return tuple(name for number, name in names.items() if f"job.fixture.{number}.stl" in facts.settings)


def cylinder_of(facts: FactSet, prefix: str) -> Box | None:
    """The box round a cylinder along Z; None if a number of it is missing."""
    diameter = facts.facts.get(f"{prefix}.diameter")
    low, high = (facts.facts.get(f"{prefix}.z.{end}") for end in ("low", "high"))
    if diameter is None or low is None or high is None:
        return None
    x, y = (fact.value if (fact := facts.facts.get(f"{prefix}.{axis}")) is not None else 0.0 for axis in "xy")
    r = diameter.value / 2
    return (x - r, x + r), (y - r, y + r), (low.value, high.value)


def jaws_of(facts: FactSet, stock: Box | None, is_round: bool) -> Jaws | None:
    """The jaws, where what is given says which way they lie: the blank must be as long one way as they hold, and not the other."""
    kind = facts.settings.get("job.holding.kind")
    grip, width = (facts.facts.get(f"job.holding.{key}") for key in ("grip_height", "jaw_width"))
    if stock is None or is_round or kind is None or kind.value != "vice" or grip is None or width is None:
        return None
    near = max(ALONG_MM, ALONG_SHARE * width.value, 2 * width.u)
    fits = [abs(stock[axis][1] - stock[axis][0] - width.value) <= near for axis in (0, 1)]
    if fits[0] == fits[1]:
        return None
    return Jaws(0 if fits[0] else 1, stock[2][0] + grip.value)
