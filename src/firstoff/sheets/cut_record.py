"""What leaves as JSON of a program that was followed through its stock: grid, tools, first cuts, contacts, bodies left."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

import numpy as np
from pydantic import BaseModel, ConfigDict

from firstoff.facts.assembly import Part
from firstoff.program.moves import NO_TOOL
from firstoff.removal.swept import Contact, Piece, Swept
from firstoff.sheets.tool_runs import Knob, Run, knobs_of, tool_runs
from firstoff.verdict.case import Case
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.verdict.tools import spindle_tool

Point = tuple[float, float, float]


class CutPart(BaseModel):
    """A frozen part of a record; a key that is not in the schema is a fault of ours."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class GridRecord(CutPart):
    """Cells that the stock was followed on."""

    cell_mm: float
    columns: int
    rows: int
    u_gap_mm: float
    """Standard uncertainty that the cells bring to a gap, unless it was looked at again on finer ones."""
    why: str


class OverrideRecord(CutPart):
    """Feed override that a tool can take; null where nothing limits it. Low above high: none serves."""

    low_percent: int | None
    high_percent: int | None
    known: bool
    """False where its loads are not known."""
    fixed: bool
    """Fed by its pitch: no override acts."""


class CutToolRecord(CutPart):
    """One tool over all its calls."""

    tool: int | None
    name: str | None
    cutting_s: float | None
    """Time in which it takes something away."""
    called_s: float | None
    """Time from its changes to the next ones, the changes included."""
    override: OverrideRecord
    removed_mm3: float
    """From the likely blank."""
    removed_most_mm3: float
    """From the largest blank."""
    removed_least_mm3: float
    """From the smallest blank."""


class FirstCutRecord(CutPart):
    """Where a tool first goes into the stock after a call; line null where it takes nothing away."""

    tool: int | None
    change_line: int | None
    line: int | None
    move: int | None
    tip_xy_mm: tuple[float, float] | None
    surface_z_mm: float | None
    axial_mm: float | None
    radial_mm: float | None
    halt_line: int | None
    """The last line before it after which the tip still stands clear of the stock."""
    halt_gap_mm: float | None
    """How far the tip then stands over the stock."""
    to_go_z_mm: float | None
    """How far down the next block goes from there."""


class ContactRecord(CutPart):
    """How near one part of a tool came to stock or a fixture, in the largest blank: the least of one tool's stretch. Box fixtures are
    held against every move draw by draw and stand in the question's own places."""

    tool: int | None
    part: Literal["edge", "neck", "shank", "holder", "nose"]
    against: str
    gap_mm: float
    """Negative: into it."""
    u_grid_mm: float
    rapid: bool
    line: int
    move: int
    tip_mm: Point
    at_mm: Point


class BodyLeftRecord(CutPart):
    """A body that the last cut leaves."""

    volume_mm3: float
    lowest_z_mm: float
    held_area_mm2: float
    freed_by_line: int | None
    """Line that parted it from the rest; null if nothing was parted."""
    at_xy_mm: tuple[float, float]


class CutRecord(CutPart):
    """A program followed through its stock. Places are in the work frame of the stock; `move` counts from 0 over all moves."""

    grid: GridRecord
    residual: float
    """Largest relative difference between volume taken and area swept: what the grid costs."""
    tools: tuple[CutToolRecord, ...]
    first_cuts: tuple[FirstCutRecord, ...]
    contacts: tuple[ContactRecord, ...]
    bodies_left: tuple[BodyLeftRecord, ...]


def cut_record(examination: Examination) -> CutRecord | None:
    """What following found; None where the program was not followed."""
    case, told = examination.case, examination.case.followed
    if not isinstance(told, Followed):
        return None
    grid, runs = told.likely.before.grid, tool_runs(case)
    return CutRecord(
        grid=GridRecord(
            cell_mm=grid.cell_mm,
            columns=grid.columns,
            rows=grid.rows,
            u_gap_mm=grid.half_diagonal_mm / math.sqrt(3),
            why=grid.why,
        ),
        residual=told.likely.residual,
        tools=tuple(_tools(case, told, runs)),
        first_cuts=tuple(_first_cut(run) for run in runs),
        contacts=tuple(_contact(case, one) for one in told.largest.contacts),
        bodies_left=tuple(_body(case, one) for one in told.surfaces.pieces),
    )


def _tools(case: Case, told: Followed, runs: list[Run]) -> Iterator[CutToolRecord]:
    """By T, in the order of first use."""
    knobs, facts = knobs_of(case), case.facts.leaning()
    for tool in dict.fromkeys(run.tool for run in runs):
        mine = [run for run in runs if run.tool == tool]
        yield CutToolRecord(
            tool=_number(tool),
            name=spindle_tool(facts, tool),
            cutting_s=_seconds([run.cutting_min for run in mine]),
            called_s=_seconds([run.whole_min for run in mine]),
            override=_override(knobs.get(tool, Knob(judged=False))),
            removed_mm3=_removed(case, told.likely, tool),
            removed_most_mm3=_removed(case, told.largest, tool),
            removed_least_mm3=_removed(case, told.smallest, tool),
        )


def _removed(case: Case, swept: Swept, tool: int) -> float:
    return float(np.sum(swept.moves.volume_mm3[case.moves.tool == tool]))


def _seconds(minutes: list[float | None]) -> float | None:
    known = [one for one in minutes if one is not None]
    return 60 * sum(known) if len(known) == len(minutes) else None


def _override(knob: Knob) -> OverrideRecord:
    return OverrideRecord(low_percent=knob.low, high_percent=knob.high, known=knob.judged, fixed=knob.fixed)


def _first_cut(run: Run) -> FirstCutRecord:
    contact = run.call.contact
    meeting, halt = (None, None) if contact is None else (contact.meeting, contact.halt)
    return FirstCutRecord(
        tool=_number(run.tool),
        change_line=run.call.change,
        line=None if contact is None else contact.line,
        move=None if contact is None else contact.move,
        tip_xy_mm=None if meeting is None else (meeting.x, meeting.y),
        surface_z_mm=None if contact is None else contact.surface,
        axial_mm=None if meeting is None else meeting.deep,
        radial_mm=None if meeting is None else meeting.wide,
        halt_line=None if halt is None else halt.line,
        halt_gap_mm=None if contact is None else contact.gap,
        to_go_z_mm=None if halt is None else halt.to_go,
    )


def _contact(case: Case, one: Contact) -> ContactRecord:
    return ContactRecord(
        tool=_number(one.tool),
        part=_PARTS[one.part],
        against=one.against,
        gap_mm=one.gap_mm,
        u_grid_mm=one.u_grid_mm,
        rapid=one.rapid,
        line=int(case.moves.line[one.move]),
        move=one.move,
        tip_mm=one.tip_mm,
        at_mm=one.at_mm,
    )


_PARTS: dict[Part, Literal["edge", "neck", "shank", "holder", "nose"]] = {
    Part.EDGE: "edge",
    Part.NECK: "neck",
    Part.SHANK: "shank",
    Part.HOLDER: "holder",
    Part.NOSE: "nose",
}


def _body(case: Case, piece: Piece) -> BodyLeftRecord:
    return BodyLeftRecord(
        volume_mm3=piece.volume_mm3,
        lowest_z_mm=piece.lowest_mm,
        held_area_mm2=piece.held_area_mm2,
        freed_by_line=int(case.moves.line[piece.freed_by]) if piece.freed_by >= 0 else None,
        at_xy_mm=piece.at_mm,
    )


def _number(tool: int) -> int | None:
    return None if tool == NO_TOOL else tool
