"""What the picture of a set-up shows: stock, what holds it, zero, how far cuts go, what is left, and how low rapids pass.

Only what facts and program say is drawn, and to scale or not at all; what is missing is named instead. Where the stock was followed, thin
lines show what is left of it, and dots where each tool first cuts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from firstoff.facts.fact import FactSet
from firstoff.removal.field import Field
from firstoff.sheets.around_part import Box, Jaws, Solid, cylinder_of, jaws_of, shapes_in_files, solids_of
from firstoff.sheets.cut_outline import Line, Outline, blank_outline, outline_of
from firstoff.sheets.first_contacts import Contact, contacts
from firstoff.sheets.sheet_facts import Reach, box_of, reach
from firstoff.sheets.tool_runs import called
from firstoff.verdict.case import Case
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.verdict.question import Answer
from firstoff.verdict.words import listed

UNDER = ("tape", "glue", "wax", "vacuum")
"""Ways of holding that stand nowhere: there is nothing to draw."""
HELD_BY = {"vice": "jaws", "clamps": "clamps", "screws": "screws"}
"""What stands highest around the part, by how it is held."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What there is to draw, mm in the work frame."""

    stock: Box | None
    round: tuple[float, float, float] | None
    """X, Y of the axis and the diameter of a round blank (its box is then `stock`)."""
    around: tuple[Solid, ...]
    jaws: Jaws | None
    in_files: tuple[str, ...]
    """Names of fixtures whose shape is in a file."""
    cut: Box | None
    rapid_z: float | None
    approach_z: float | None
    highest: float | None
    held_by: str
    """How the part is held; empty where nobody says."""
    allowed: float | None
    zero_name: str
    depth: bool
    """Whether heights of the tip are told: programmed ones are not where it really goes while a length is wrong."""
    outline: Outline | None = None
    blank: tuple[Line, ...] = ()
    """Loops round a blank that is neither a box nor round."""
    first: tuple[tuple[str, float, float], ...] = ()
    """(tool, X, Y) where each first cuts."""

    @property
    def missing(self) -> tuple[str, ...]:
        """What was not given, in words."""
        names = []
        if self.stock is None:
            names.append("the stock")
        if not self.around and not self.in_files and self.jaws is None and self.held_by not in UNDER:
            names.append("what holds it")
        if self.cut is None:
            names.append("how far cuts go (no move has both a zero and a length)")
        return tuple(names)

    @property
    def caption(self) -> str:
        """What the numbers are, and what was not given."""
        told = [", ".join(f"{number} {solid.name}" for number, solid in enumerate(self.around, 1))]
        if self.in_files:
            told.append(f"not drawn, shape in a file: {listed(list(self.in_files))}")
        if self.missing:
            told.append(f"not given, so not drawn: {listed(list(self.missing))}")
        if self.outline is None and self.cut is not None:
            told.append(f"dashed: way of the tool's centre{', rapids' if self.depth else '; depths are not told'}")
        return "; ".join(part for part in told if part)

    @property
    def highest_name(self) -> str:
        """What `highest` is the height of."""
        return HELD_BY.get(self.held_by, "all around")


def setting_of_sheet(examination: Examination) -> Setting:
    """What the sheet of an examination draws: no depths where it says stop, for then they may not be where the tip goes."""
    case = examination.case
    depth = examination.verdict is not Answer.STOP
    return with_cuts(setting_of(examination.facts, reach(case), case.stock_system(), depth), case)


def setting_of(facts: FactSet, goes: Reach, zero_name: str, depth: bool = True) -> Setting:
    """What there is to draw, from facts and program."""
    stock, circle = box_of(facts, "job.stock.box"), None
    if stock is None:
        stock = cylinder_of(facts, "job.stock.cylinder")
        if stock is not None:
            (x0, x1), (y0, y1), _ = stock
            circle = ((x0 + x1) / 2, (y0 + y1) / 2, x1 - x0)
    highest, allowed = (facts.facts.get(f"job.around.{key}") for key in ("highest_around", "allowed_below"))
    kind = facts.settings.get("job.holding.kind")
    return Setting(
        stock,
        circle,
        solids_of(facts),
        jaws_of(facts, stock, circle is not None),
        shapes_in_files(facts),
        goes.cut,
        goes.rapid_z if depth else None,
        goes.approach_z if depth else None,
        highest.value if highest else None,
        str(kind.value) if kind is not None else "",
        allowed.value if allowed else None,
        zero_name,
        depth,
    )


def with_cuts(setting: Setting, case: Case) -> Setting:
    """The same with what following the stock adds: a blank of any shape, what is left of it, first cuts. Cuts only where depths are told."""
    told = case.followed
    if not isinstance(told, Followed):
        return setting
    before = told.likely.before
    if setting.stock is None:
        blank = blank_outline(before)
        setting = replace(setting, stock=_extent(before, blank), blank=blank)
    if not setting.depth:
        return setting
    outline = outline_of(before, told.likely.after, told.surfaces)
    return replace(setting, outline=outline, first=tuple(_first(one) for one in contacts(case) if one.meeting))


def _first(contact: Contact) -> tuple[str, float, float]:
    meeting = contact.meeting
    assert meeting is not None  # `with_cuts` asks for those that have one
    return called(contact.tool), meeting.x, meeting.y


def _extent(before: Field, blank: tuple[Line, ...]) -> Box | None:
    if not blank:
        return None
    spans = [
        (min(float(loop[:, k].min()) for loop in blank), max(float(loop[:, k].max()) for loop in blank)) for k in (0, 1)
    ]
    return spans[0], spans[1], (before.bottom_mm, before.grid.z0_mm)
