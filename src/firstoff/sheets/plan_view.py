"""The plan on the page of an examination: stock, what stands around it, what is left of it, the path by its margins, places with words.

Everything is drawn to one scale. Words and figures lie over the drawing as text of the page, placed by parts of its width and height, so
that they keep their size on every screen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import FactSet
from firstoff.path.pieces import Pieces
from firstoff.path.placing import made_at_rapid
from firstoff.removal.field import NOTHING, Field
from firstoff.removal.swept import Contact
from firstoff.sheets.html_text import html
from firstoff.sheets.move_margins import ON_THE_WAY, Margin, margins_of
from firstoff.sheets.path_drawing import FINEST, PathDrawing, View, draw_path
from firstoff.sheets.program_path import ends_of_moves, way_of
from firstoff.sheets.relief import Relief, relief_of
from firstoff.sheets.scale import numeral
from firstoff.sheets.scale_svg import mark_svg
from firstoff.sheets.sheet_facts import box_of
from firstoff.sheets.wording import TOPICS, answer_line, in_order
from firstoff.verdict.boxes import fixture_names
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.verdict.question import Answer, Answered, AnsweredPlace
from firstoff.verdict.words import MM_PER_INCH, listed

Span = tuple[float, float]
WIDE, TALLEST = 640.0, 470.0
"""Of the drawing, in its own units: px on a desktop page."""
LEFT, RIGHT, TOP, BOTTOM = 46.0, 22.0, 20.0, 46.0
"""Room round what is drawn, for the rules and their figures."""
FAR = 2.0
"""A path that reaches further than this many times the stock and what holds it is cut off at the edge of the picture."""
NEAR_MM = 20.0
"""A zero no further than this beside what is drawn is drawn too."""
MOST_MARKS = 4
NUMERAL_ROOM, MINOR_ROOM = 46.0, 4.0
"""Least distance of two numerals, and of two ticks, on a rule."""
LEGEND = {
    Margin.AMPLE: "ample",
    Margin.LESS: "less",
    Margin.NOT_KNOWN: "not known",
    Margin.CARE: "care",
    Margin.STOP: "stop",
}


@dataclass(frozen=True, slots=True)
class Solid:
    """Something that stands around the part, seen from above."""

    name: str
    x: Span
    y: Span
    top: float
    round: bool


@dataclass(frozen=True, slots=True)
class Mark:
    """A place that an answer names: where, and in words."""

    answered: Answered
    place: AnsweredPlace
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Plan:
    """All that is drawn, mm in the work frame."""

    stock: Solid | None
    solids: tuple[Solid, ...]
    relief: Relief | None
    pieces: Pieces
    margins: NDArray[np.int8]
    marks: tuple[Mark, ...]
    zero: str


def plan_html(examination: Examination) -> str:
    """The picture with its words; one sentence where there is nothing to draw."""
    plan = _plan(examination)
    view = _view(plan)
    if view is None:
        return '<p class="nothing">Neither the stock nor a place of the path is known: there is nothing to draw.</p>'
    drawing = draw_path(plan.pieces, plan.margins, view)
    inch = examination.case.units.inch
    svg = _svg(plan, view, drawing, inch, _label(plan, drawing))
    return (
        f'<div class="plan">{_marks(plan, view, examination.facts)}'
        f'<div class="plan-drawing">{svg}{_words(plan, view, inch)}</div></div>{_legend(drawing)}{_told(examination, plan, view, drawing)}'
    )


# --- what there is to draw -------------------------------------------------------------------------------------------


def _plan(examination: Examination) -> Plan:
    case, facts = examination.case, examination.facts
    told = case.followed
    field = told.likely.after if isinstance(told, Followed) else None
    blank = _blank(facts)
    if blank is None and isinstance(told, Followed):
        blank = _extent(told.likely.before)
    pieces = way_of(case)
    return Plan(
        blank,
        _solids(facts),
        relief_of(field) if field is not None else None,
        pieces,
        margins_of(examination, made_at_rapid(case.moves)),
        _places(examination, pieces),
        case.stock_system(),
    )


def _blank(facts: FactSet) -> Solid | None:
    """The stock as the job gives it; None where it comes from a file or another job."""
    return _solid_at(facts, "job.stock", "stock")


def _extent(field: Field) -> Solid | None:
    """The box round the stock that was followed."""
    rows, columns = np.nonzero(field.top > NOTHING / 2)
    if not rows.size:
        return None
    grid = field.grid
    x = (grid.x0_mm + float(columns.min()) * grid.cell_mm, grid.x0_mm + (float(columns.max()) + 1) * grid.cell_mm)
    y = (grid.y0_mm + float(rows.min()) * grid.cell_mm, grid.y0_mm + (float(rows.max()) + 1) * grid.cell_mm)
    return Solid("stock", x, y, grid.z0_mm, False)


def _solids(facts: FactSet) -> tuple[Solid, ...]:
    names = fixture_names(facts.leaning())
    found = [_solid_at(facts, f"job.fixture.{number}", name) for number, name in names.items()]
    return tuple(solid for solid in found if solid is not None)


def _solid_at(facts: FactSet, prefix: str, name: str) -> Solid | None:
    """A box or an upright cylinder at best estimates."""
    box = box_of(facts, f"{prefix}.box")
    if box is not None:
        return Solid(name, box[0], box[1], box[2][1], False)
    known = facts.facts
    diameter, top = known.get(f"{prefix}.cylinder.diameter"), known.get(f"{prefix}.cylinder.z.high")
    if diameter is None or top is None:
        return None
    x, y = (fact.value if (fact := known.get(f"{prefix}.cylinder.{axis}")) is not None else 0.0 for axis in "xy")
    r = diameter.value / 2
    return Solid(name, (x - r, x + r), (y - r, y + r), top.value, True)


def _undrawn(facts: FactSet) -> list[str]:
    """Fixtures whose shape is in a file."""
    return [name for number, name in fixture_names(facts.leaning()).items() if facts.has(f"job.fixture.{number}.stl")]


def _places(examination: Examination, pieces: Pieces) -> tuple[Mark, ...]:
    """The worst place of each answer that is care or stop and lies on the way, worst answers first."""
    ends = ends_of_moves(pieces, len(examination.case.moves))
    told = examination.case.followed
    near = {one.move: one for one in told.largest.contacts} if isinstance(told, Followed) else {}
    solids = _solids(examination.facts)
    found = []
    for answered in in_order(examination.answers):
        if answered.question.id not in ON_THE_WAY:
            continue
        for place in answered.places:
            move = place.place.move
            if place.answer not in (Answer.CARE, Answer.STOP) or not 0 <= move < len(ends):
                continue
            x, y = float(ends[move, 0]), float(ends[move, 1])
            if answered.question.id in ("rapid_contact", "body_contact"):
                x, y = _touched(place, near.get(move), ends, solids)
            if math.isfinite(x) and math.isfinite(y):
                found.append(Mark(answered, place, x, y))
                break
    return tuple(found[:MOST_MARKS])


ALONG = np.linspace(0.0, 1.0, 65)
"""Places of a move that are held against fixtures."""


def _touched(
    place: AnsweredPlace, contact: Contact | None, ends: NDArray[np.float64], solids: tuple[Solid, ...]
) -> tuple[float, float]:
    """Where a gap is least: at the cell of the followed contact, if the answer tells of the same thing; else where the way of the move
    comes nearest to a fixture; else at its end."""
    if contact is not None and (contact.against in place.what or not solids):
        return contact.at_mm[0], contact.at_mm[1]
    move = place.place.move
    end = ends[move, :2]
    start = ends[move - 1, :2] if move > 0 and np.isfinite(ends[move - 1, :2]).all() else end
    way = start + ALONG[:, None] * (end - start)
    away = [np.hypot(_beyond(way[:, 0], solid.x), _beyond(way[:, 1], solid.y)) for solid in solids]
    nearest = way[int(np.argmin(np.min(away, axis=0)))] if away and np.isfinite(end).all() else end
    return float(nearest[0]), float(nearest[1])


def _beyond(at: NDArray[np.float64], span: Span) -> NDArray[np.float64]:
    """How far places lie outside a span, on one axis; 0 within."""
    outside: NDArray[np.float64] = np.maximum(np.maximum(span[0] - at, at - span[1]), 0.0)
    return outside


# --- the view --------------------------------------------------------------------------------------------------------


def _bounds(plan: Plan) -> tuple[Span, Span] | None:
    """X and Y of stock, solids and a path that does not go too far, with the zero if it is near; None where nothing is placed."""
    boxes = [(solid.x, solid.y) for solid in (plan.stock, *plan.solids) if solid is not None]
    feeds = ~plan.pieces.rapid & ~plan.pieces.ghost
    if not boxes and not feeds.any():
        return None
    spans = [_bound([box[axis] for box in boxes], plan.pieces, feeds, axis) for axis in range(2)]
    return spans[0], spans[1]


def _bound(boxes: list[Span], pieces: Pieces, feeds: NDArray[np.bool_], axis: int) -> Span:
    low, high = min((box[0] for box in boxes), default=math.inf), max((box[1] for box in boxes), default=-math.inf)
    if feeds.any():
        ends = np.concatenate([pieces.start_mm[feeds, axis], pieces.end_mm[feeds, axis]])
        beyond = (FAR - 1) / 2 * (high - low) if boxes else math.inf
        low, high = min(low, max(float(ends.min()), low - beyond)), max(high, min(float(ends.max()), high + beyond))
    near = low < NEAR_MM and high > -NEAR_MM
    return (min(low, 0.0), max(high, 0.0)) if near else (low, high)


def _view(plan: Plan) -> View | None:
    """The largest scale at which everything fits."""
    bounds = _bounds(plan)
    if bounds is None:
        return None
    (x0, x1), (y0, y1) = bounds
    dx, dy = max(x1 - x0, 1.0), max(y1 - y0, 1.0)
    scale = min((WIDE - LEFT - RIGHT) / dx, (TALLEST - TOP - BOTTOM) / dy)
    spare = (WIDE - LEFT - RIGHT - dx * scale) / 2
    return View(x0 - (LEFT + spare) / scale, y1 + TOP / scale, scale, WIDE, dy * scale + TOP + BOTTOM)


def _ruled(plan: Plan) -> tuple[Span, ...]:
    """What the rules in X and Y run along: the stock, or all that is drawn where no stock is known."""
    return (plan.stock.x, plan.stock.y) if plan.stock is not None else _bounds(plan) or ()


def _inside(view: View, x: float, y: float) -> bool:
    return 0 <= x <= view.wide and 0 <= y <= view.tall


# --- the drawing -----------------------------------------------------------------------------------------------------


def _svg(plan: Plan, view: View, drawing: PathDrawing, inch: bool, label: str) -> str:
    stock, top = plan.stock, plan.stock.top if plan.stock is not None else 0.0
    parts = [_shape(view, solid, "solid") for solid in plan.solids if solid.top <= top]
    if stock is not None:
        parts.append(_shape(view, stock, "stock-face"))
    if plan.relief is not None:
        parts.append(_image(view, plan.relief))
    if stock is not None:
        parts.append(_shape(view, stock, "stock-edge"))
    parts += [_rule(span, axis, view, inch) for axis, span in enumerate(_ruled(plan))]
    strokes = "".join(
        f'<path class="{"rapid " if one.rapid else ""}{_part(one.margin)}" d="{one.data}"/>' for one in drawing.strokes
    )
    crowded = " way-crowded" if drawing.crowded else ""
    parts.append(f'<g class="way{crowded}" transform="scale({drawing.grid:g})">{strokes}</g>')
    parts += [_shape(view, solid, "solid") for solid in plan.solids if solid.top > top]
    parts += _leaders(plan, view)
    return f'<svg class="plan-svg" role="img" aria-label="{html(label)}" viewBox="0 0 {view.wide:g} {view.tall:.1f}">{"".join(parts)}</svg>'


def _part(margin: Margin) -> str:
    """Class of the strokes of a margin."""
    return "m-" + margin.name.lower().replace("_", "-")


def _shape(view: View, solid: Solid, part: str) -> str:
    (left, low), (right, high) = view.at(solid.x[0], solid.y[0]), view.at(solid.x[1], solid.y[1])
    if solid.round:
        middle = f'cx="{(left + right) / 2:.1f}" cy="{(low + high) / 2:.1f}"'
        return f'<ellipse class="{part}" {middle} rx="{(right - left) / 2:.1f}" ry="{(low - high) / 2:.1f}"/>'
    return f'<rect class="{part}" x="{left:.1f}" y="{high:.1f}" width="{right - left:.1f}" height="{low - high:.1f}"/>'


def _image(view: View, relief: Relief) -> str:
    (left, low), (right, high) = view.at(relief.x[0], relief.y[0]), view.at(relief.x[1], relief.y[1])
    return (
        f'<image class="relief" x="{left:.2f}" y="{high:.2f}" width="{right - left:.2f}" height="{low - high:.2f}" '
        f'preserveAspectRatio="none" href="{relief.url}"/>'
    )


def _steps(view: View, inch: bool) -> tuple[float, float, float]:
    """(mm between numerals, mm between ticks, mm of the unit told)."""
    unit = MM_PER_INCH if inch else 1.0
    per_unit = view.scale * unit
    power = 10.0 ** math.floor(math.log10(NUMERAL_ROOM / per_unit))
    major = next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power * per_unit >= NUMERAL_ROOM)
    parts = 10 if major * per_unit / 10 >= MINOR_ROOM else 5
    return major * unit, major * unit / parts, unit


def _ticks(span: Span, step: float) -> list[int]:
    return list(range(math.ceil(span[0] / step - 1e-9), math.floor(span[1] / step + 1e-9) + 1))


def _rule(span: Span, axis: int, view: View, inch: bool) -> str:
    """A ruled edge along the stock: below it for X, at its left for Y."""
    major, minor, _ = _steps(view, inch)
    every = round(major / minor)
    along = [view.at(at, at)[axis] for at in span]
    base = _base(view, axis)
    marks = [_segment(axis, base, along[0], along[1])]
    for number in _ticks(span, minor):
        at = view.at(number * minor, number * minor)[axis]
        length = 8.5 if number % every == 0 else 6.0 if every == 10 and number % 5 == 0 else 4.2
        marks.append(f"M{at:.1f} {base:.1f}v{length}" if axis == 0 else f"M{base:.1f} {at:.1f}h-{length}")
    return f'<path class="plan-rule" d="{"".join(marks)}"/>'


def _segment(axis: int, base: float, first: float, last: float) -> str:
    return f"M{first:.1f} {base:.1f}H{last:.1f}" if axis == 0 else f"M{base:.1f} {first:.1f}V{last:.1f}"


def _base(view: View, axis: int) -> float:
    """Where the rule lies: at the edge of the picture, clear of the path."""
    return view.tall - BOTTOM + 16 if axis == 0 else LEFT - 12


def _leaders(plan: Plan, view: View) -> list[str]:
    """From the words above the drawing to the places."""
    ordered, (slots, count) = _by_place(plan.marks, view), _slots(plan.marks, view)
    parts = []
    for slot, mark in zip(slots, ordered, strict=True):
        seen = _inside(view, *view.at(mark.x, mark.y))
        x, y = _within(view, mark)
        left = (slot / count) * view.wide + 9
        line = f'points="{left:.1f},0 {left:.1f},8 {x:.1f},{y:.1f}"'
        parts.append(f'<polyline class="leader-halo" {line}/><polyline class="leader" {line}/>')
        parts.append(f'<circle class="place{"" if seen else " place-off"}" cx="{x:.1f}" cy="{y:.1f}" r="5.5"/>')
    return parts


def _within(view: View, mark: Mark) -> tuple[float, float]:
    """The place of a mark, or the edge of the picture nearest to it."""
    x, y = view.at(mark.x, mark.y)
    return min(max(x, 4.0), view.wide - 4), min(max(y, 14.0), view.tall - 4)


def _by_place(marks: tuple[Mark, ...], view: View) -> list[Mark]:
    """From left to right, so that leaders do not cross."""
    return sorted(marks, key=lambda mark: _within(view, mark)[0])


LEAST_SLOTS = 3
"""Columns that the words above the drawing have at least: one or two stand over their places, not at the other end of the picture."""


def _slots(marks: tuple[Mark, ...], view: View) -> tuple[list[int], int]:
    """(column of each mark from left to right, number of columns): as near over its place as those beside it leave room."""
    count = max(len(marks), LEAST_SLOTS)
    slots: list[int] = []
    for number, mark in enumerate(_by_place(marks, view)):
        over = int(_within(view, mark)[0] / view.wide * count)
        least = slots[-1] + 1 if slots else 0
        slots.append(min(max(over, least), count - len(marks) + number))
    return slots, count


# --- words -----------------------------------------------------------------------------------------------------------


def _marks(plan: Plan, view: View, facts: FactSet) -> str:
    if not plan.marks:
        return ""
    items = []
    slots, columns = _slots(plan.marks, view)
    for slot, mark in zip(slots, _by_place(plan.marks, view), strict=True):
        topic = TOPICS.get(mark.answered.question.id, mark.answered.question.id)
        away = "" if _inside(view, *view.at(mark.x, mark.y)) else ", beyond the picture"
        items.append(
            f'<li style="grid-column:{slot + 1}">'
            + f"{mark_svg(mark.place.answer, 16, 'px')}<span><b>line {mark.place.place.line}, {html(topic)}</b>"
            f"<span>{html(answer_line(mark.answered, facts))}{away}</span></span></li>"
        )
    return f'<ol class="plan-marks" style="grid-template-columns:repeat({columns},minmax(0,1fr))">{"".join(items)}</ol>'


def _at(view: View, x: float, y: float) -> str:
    return f'style="left:{x / view.wide:.2%};top:{y / view.tall:.2%}"'


def _words(plan: Plan, view: View, inch: bool) -> str:
    parts = []
    for solid in plan.solids:
        x, y = view.at(sum(solid.x) / 2, sum(solid.y) / 2)
        parts.append(f'<span class="plan-name" {_at(view, x, y)}>{html(solid.name)}</span>')
    for axis, span in enumerate(_ruled(plan)):
        parts += _numerals(span, axis, view, inch)
    x, y = view.at(0.0, 0.0)
    if _inside(view, x, y):
        parts.append(f'<span class="plan-zero" {_at(view, x, y)}>{ZERO}<b>{html(plan.zero)}</b></span>')
    return f'<div class="plan-words" aria-hidden="true">{"".join(parts)}</div>'


ZERO = (
    '<svg viewBox="-10 -10 20 20" width="18" height="18"><circle class="zero-ground" r="8.5"/>'
    '<path class="zero-quarter" d="M0 0V-8.5A8.5 8.5 0 0 1 8.5 0ZM0 0V8.5A8.5 8.5 0 0 1 -8.5 0Z"/><circle class="zero-ring" r="8.5"/></svg>'
)
"""The quartered mark of a work zero."""


def _numerals(span: Span, axis: int, view: View, inch: bool) -> list[str]:
    major, _, unit = _steps(view, inch)
    base = _base(view, axis)
    parts = []
    ticks = _ticks(span, major)
    for number in ticks:
        text = numeral(number * major / unit, major / unit)
        if axis == 0 and number == ticks[-1]:
            text += " in" if inch else " mm"
        at = view.at(number * major, number * major)[axis]
        x, y = (at, base + 9) if axis == 0 else (base - 10, at)
        parts.append(f'<span class="plan-numeral-{"xy"[axis]}" {_at(view, x, y)}>{text}</span>')
    return parts


def _legend(drawing: PathDrawing) -> str:
    shown = {one.margin for one in drawing.strokes if not one.rapid}
    items = [
        f"<li>{_sample(_part(margin), drawing.crowded)}{LEGEND[margin]}</li>"
        for margin in (Margin.AMPLE, Margin.LESS, Margin.CARE, Margin.STOP, Margin.NOT_KNOWN)
        if margin is not Margin.NOT_KNOWN or margin in shown
    ]
    if any(one.rapid for one in drawing.strokes):
        items.append(f"<li>{_sample('rapid m-ample', False)}rapid</li>")
    return f'<ul class="plan-legend" aria-label="Margin of each move">{"".join(items)}</ul>'


def _sample(part: str, crowded: bool) -> str:
    return f'<svg class="way{" way-crowded" if crowded else ""}" width="26" height="10" viewBox="0 0 26 10" aria-hidden="true"><path class="{part}" d="M1 5h24"/></svg>'


def _told(examination: Examination, plan: Plan, view: View, drawing: PathDrawing) -> str:
    """What the picture leaves out or cannot show."""
    said = ["Margin: the chance that a move passes a limit of spindle, tool or chip, and what answers say of a place."]
    if not isinstance(examination.case.followed, Followed):
        said.append("The stock was not followed, so no margin is known.")
    if drawing.grid > FINEST:
        said.append(
            f"Drawn in steps of {examination.case.units.length(drawing.grid / view.scale)}; where passes fall together the worst is shown."
        )
    else:
        said.append("Where passes lie over each other the worst is shown.")
    if examination.case.feeding[plan.pieces.unknown].any():
        said.append("Cuts that nobody can place are not drawn.")
    files = _undrawn(examination.facts)
    if files:
        said.append(f"Not drawn, its shape is in a file: {listed(files)}.")
    if plan.stock is not None and not plan.solids and not files:
        said.append("The job describes no fixture, so none is drawn.")
    return f'<p class="plan-told">{html(" ".join(said))}</p>'


def _label(plan: Plan, drawing: PathDrawing) -> str:
    """The text alternative."""
    size = ""
    if plan.stock is not None:
        size = " Stock {:.0f} by {:.0f} mm.".format(*(high - low for low, high in (plan.stock.x, plan.stock.y)))
    around = f" Around it: {listed([solid.name for solid in plan.solids], 6)}." if plan.solids else ""
    counts = np.bincount(plan.margins[np.unique(plan.pieces.move)], minlength=len(Margin))
    told = ", ".join(f"{int(counts[margin])} {LEGEND[margin]}" for margin in Margin if counts[margin])
    marks = "; ".join(
        f"line {mark.place.place.line}, {TOPICS.get(mark.answered.question.id, mark.answered.question.id)}, {mark.place.answer.value}"
        for mark in plan.marks
    )
    return f"Plan, seen from above.{size}{around} Path of {drawing.moves} moves by margin: {told or 'none placed'}.{f' Places: {marks}.' if marks else ''}"
