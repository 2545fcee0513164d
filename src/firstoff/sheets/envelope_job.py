"""One job in the machine's envelope: blank, what holds it, its zero, the reach of its program, and its longest tool at the top of the travel."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from firstoff.facts.assembly import Part, Segment
from firstoff.facts.fact import FactSet
from firstoff.sheets.around_part import Solid, cylinder_of, jaws_of, solids_of
from firstoff.sheets.html_text import html
from firstoff.sheets.sheet_facts import box_of
from firstoff.sheets.tool_outline import Outline, outline_of
from firstoff.sheets.wording import minus
from firstoff.verdict.words import ShopUnits

Span = tuple[float, float]
Box = tuple[Span, Span, Span]
Place = tuple[float, float, float]
APART = 19.0
"""From one name to the next, px."""
ARM, LEAST_ARM = 22.0, 7.0
"""From what is named to its name."""
LETTER = 7.6
"""Of a name on a tablet, where it is largest."""
JAW_PX = 5.0
MOST_NAMED = 3
"""Of the fixtures: many clamps would be a list."""


@dataclass(frozen=True, slots=True)
class JobIn:
    """A job in the machine frame, mm."""

    name: str
    zeros: Mapping[str, Place]
    stock: Box | None
    is_round: bool
    solids: tuple[Solid, ...]
    jaws: tuple[int, float] | None
    """Along X (0) or Y (1), and their top."""
    reach: tuple[Span | None, Span | None, Span | None] | None
    rapid_z: float | None
    tool: str = ""
    segments: tuple[Segment, ...] = field(default=())
    """Of its longest tool with what carries it, from the tip upward."""
    tip_mm: float = 0.0
    """From the gauge line to the tip."""

    def spans(self, axis: int) -> list[Span]:
        """All that is to be seen of it on an axis."""
        boxes = [*(solid.box for solid in self.solids), *([self.stock] if self.stock is not None else [])]
        reach = None if self.reach is None else self.reach[axis]
        return [*(box[axis] for box in boxes), *([reach] if reach is not None else [])]


@dataclass(frozen=True, slots=True)
class Drawn:
    """Where it is drawn: mm to px, and the room there is for names, px."""

    x: Callable[[float], float]
    y: Callable[[float], float]
    left: float
    right: float
    top: float
    low: float
    ends: tuple[Span | None, Span | None, Span | None] = (None, None, None)
    """Of the travel, mm, where a reach beyond it is to be seen."""


def job_in(
    name: str,
    facts: FactSet,
    zeros: Mapping[str, Place],
    stock_in: str,
    reach: tuple[Span | None, Span | None, Span | None] | None,
    rapid_z: float | None,
    tools: Sequence[int],
) -> JobIn:
    """Put a job into the machine frame; without the zero that its blank is written in, only its reach is left."""
    at = zeros.get(stock_in)
    box, round_box = box_of(facts, "job.stock.box"), cylinder_of(facts, "job.stock.cylinder")
    stock, is_round = box or round_box, box is None and round_box is not None
    jaws = jaws_of(facts, stock, is_round)
    longest = _longest(facts, tools)
    outline, length = longest if longest is not None else (None, 0.0)
    return JobIn(
        name,
        zeros,
        None if stock is None or at is None else _moved(stock, at),
        is_round,
        () if at is None else tuple(Solid(one.name, _moved(one.box, at), one.round) for one in solids_of(facts)),
        None if jaws is None or at is None else (jaws.along, jaws.top + at[2]),
        reach,
        rapid_z,
        "" if outline is None else outline.name,
        () if outline is None else outline.segments,
        length,
    )


def _moved(box: Box, at: Place) -> Box:
    x, y, z = ((low + at[axis], high + at[axis]) for axis, (low, high) in enumerate(box))
    return x, y, z


def _longest(facts: FactSet, tools: Sequence[int]) -> tuple[Outline, float] | None:
    """The longest of the job's tools that can be drawn."""
    found = []
    for number in tools:
        outline = outline_of(facts, number)
        length = facts.facts.get(f"tools.{outline.name}.LF") if outline is not None else None
        if outline is not None and length is not None:
            found.append((length.value, outline))
    if not found:
        return None
    length_mm, longest = max(found, key=lambda one: one[0])
    return longest, length_mm


def label(x: float, y: float, words: str, anchor: str = "middle", kind: str = "said") -> str:
    """Words set in clear paper."""
    return f'<text class="{kind}" text-anchor="{anchor}" x="{x:.1f}" y="{y:.1f}">{html(words)}</text>'


# --- plan -------------------------------------------------------------------------------------------------------------


def job_plan(job: JobIn, drawn: Drawn) -> str:
    """The job seen from above, with names that do not cross."""
    parts = []
    if job.stock is not None:
        parts.append(_outline("stock", job.stock, job.is_round, drawn))
        parts += [_strip(*corners) for corners in _jaws_above(job, drawn)]
    parts += [_outline("solid", solid.box, solid.round, drawn) for solid in job.solids]
    if job.reach is not None and job.reach[0] is not None and job.reach[1] is not None:
        (x0, x1), (y0, y1) = job.reach[0], job.reach[1]
        against = past_end(job, drawn.ends)
        parts.append(_reach(drawn.x(x0), drawn.y(y1), drawn.x(x1), drawn.y(y0), against))
    parts += _named(_anchors(job, drawn), drawn)
    parts += [_zero(drawn, at) for at in job.zeros.values()]
    return "".join(parts)


@dataclass(frozen=True, slots=True)
class Anchor:
    """What gets a name: its left and right edge, its height, and on which side the name is to stand, px."""

    left: float
    right: float
    y: float
    words: str
    to_left: bool


def _anchors(job: JobIn, drawn: Drawn) -> list[Anchor]:
    edges = [(drawn.x(low), drawn.x(high)) for low, high in job.spans(0)]
    middle = (min(low for low, _ in edges) + max(high for _, high in edges)) / 2 if edges else 0.0
    found = [Anchor(drawn.x(at[0]), drawn.x(at[0]), drawn.y(at[1]), name, True) for name, at in job.zeros.items()]
    if job.reach is not None and job.reach[0] is not None and job.reach[1] is not None:
        (x0, x1), (y0, y1) = job.reach[0], job.reach[1]
        parts_down = min(14.0, (drawn.y(y0) - drawn.y(y1)) / 2)
        words = f"reach of {job.name}" + (", past the end" if past_end(job, drawn.ends) else "")
        found.append(Anchor(drawn.x(x0), drawn.x(x1), drawn.y(y1) + parts_down, words, False))
    for one in job.solids[:MOST_NAMED]:
        left, right = drawn.x(one.box[0][0]), drawn.x(one.box[0][1])
        found.append(Anchor(left, right, drawn.y(sum(one.box[1]) / 2), one.name, (left + right) / 2 < middle - 1))
    if job.jaws is not None and job.stock is not None:
        left, top, right, low = _jaws_above(job, drawn)[-1]
        found.append(Anchor(left, right, (top + low) / 2, "jaws", False))
    return found


def _outline(kind: str, box: Box, is_round: bool, drawn: Drawn) -> str:
    x0, x1, y0, y1 = drawn.x(box[0][0]), drawn.x(box[0][1]), drawn.y(box[1][1]), drawn.y(box[1][0])
    if is_round:
        return f'<ellipse class="{kind}" cx="{(x0 + x1) / 2:.1f}" cy="{(y0 + y1) / 2:.1f}" rx="{(x1 - x0) / 2:.1f}" ry="{(y1 - y0) / 2:.1f}"/>'
    return f'<rect class="{kind}" x="{x0:.1f}" y="{y0:.1f}" width="{x1 - x0:.1f}" height="{y1 - y0:.1f}"/>'


def _jaws_above(job: JobIn, drawn: Drawn) -> list[tuple[float, float, float, float]]:
    """A strip along both sides that are held: how thick the jaws are nobody said, so each is a face, not a block."""
    if job.jaws is None or job.stock is None:
        return []
    x0, x1 = drawn.x(job.stock[0][0]), drawn.x(job.stock[0][1])
    y0, y1 = drawn.y(job.stock[1][1]), drawn.y(job.stock[1][0])
    if job.jaws[0] == 0:
        return [(x0, y0 - JAW_PX, x1, y0), (x0, y1, x1, y1 + JAW_PX)]
    return [(x0 - JAW_PX, y0, x0, y1), (x1, y0, x1 + JAW_PX, y1)]


def _strip(x0: float, y0: float, x1: float, y1: float) -> str:
    return f'<rect class="jaw" x="{x0:.1f}" y="{y0:.1f}" width="{x1 - x0:.1f}" height="{y1 - y0:.1f}"/>'


def past_end(job: JobIn, ends: tuple[Span | None, Span | None, Span | None]) -> bool:
    """Whether the reach goes past an end of X or Y. (Z is the tip's: its end hangs on the length of each tool.)"""
    if job.reach is None:
        return False
    pairs = [
        (span, end) for span, end in zip(job.reach[:2], ends[:2], strict=True) if span is not None and end is not None
    ]
    return any(span[0] < end[0] or span[1] > end[1] for span, end in pairs)


def _reach(x0: float, y0: float, x1: float, y1: float, against: bool) -> str:
    kind = "reach against" if against else "reach"
    return f'<path class="{kind}" d="M{x0:.1f} {y0:.1f}H{x1:.1f}V{y1:.1f}H{x0:.1f}Z"/>'


def _named(anchors: Sequence[Anchor], drawn: Drawn) -> list[str]:
    """Names in a column on either side of the job, in the order of what they name, so that no leader crosses another."""
    if not anchors:
        return []
    left, right = min(one.left for one in anchors), max(one.right for one in anchors)
    to_left, to_right = ([one for one in anchors if one.to_left is side] for side in (True, False))
    if right + LEAST_ARM > _room(to_right, drawn):
        to_left, to_right = [*to_left, *to_right], []
    if left - ARM - _longest_of(to_left) < drawn.left:
        to_left, to_right = [], [*to_left, *to_right]
    column = max(min(right + ARM, _room(to_right, drawn)), right + LEAST_ARM)
    return [*_column(to_left, left - ARM, "end", drawn), *_column(to_right, column, "start", drawn)]


def _room(anchors: Sequence[Anchor], drawn: Drawn) -> float:
    """Where the longest of these names must begin at the latest."""
    return drawn.right - 4 - _longest_of(anchors)


def _longest_of(anchors: Sequence[Anchor]) -> float:
    return LETTER * max((len(one.words) for one in anchors), default=0)


def _column(anchors: Sequence[Anchor], column: float, side: str, drawn: Drawn) -> list[str]:
    ordered = sorted(anchors, key=lambda one: one.y)
    if not ordered:
        return []
    tall = APART * (len(ordered) - 1)
    first = sum(one.y for one in ordered) / len(ordered) - tall / 2 + (APART if side == "end" and not tall else 0.0)
    first = max(drawn.top + 14, min(first, drawn.low - 6 - tall))
    parts = []
    for number, one in enumerate(ordered):
        at = first + APART * number
        x, end = (one.left, column + 4) if side == "end" else (one.right, column - 4)
        if (end - x) * (1 if side == "start" else -1) > 0:
            parts.append(f'<path class="leader" d="M{x:.1f} {one.y:.1f}L{end:.1f} {at:.1f}"/>')
        parts.append(label(column, at + 4.5, one.words, side))
    return parts


def _zero(drawn: Drawn, at: Place) -> str:
    """The quartered mark of a work zero."""
    x, y, r = drawn.x(at[0]), drawn.y(at[1]), 6.0
    return (
        f'<circle class="zero-ground" cx="{x:.1f}" cy="{y:.1f}" r="{r:g}"/>'
        f'<path class="zero" d="M{x:.1f} {y:.1f}v{-r:g}a{r:g} {r:g} 0 0 1 {r:g} {r:g}zM{x:.1f} {y:.1f}v{r:g}a{r:g} {r:g} 0 0 1 {-r:g} {-r:g}z"/>'
    )


# --- side -------------------------------------------------------------------------------------------------------------


def job_side(job: JobIn, drawn: Drawn, units: ShopUnits) -> str:
    """The job seen from the front, its longest tool over it at the top of the travel."""
    parts = []
    if job.stock is not None:
        parts.append(_seen("stock", job.stock, drawn))
        parts += _jaws_before(job, drawn)
    parts += [_seen("solid", solid.box, drawn) for solid in job.solids]
    span = job.reach
    if span is not None and span[0] is not None and span[2] is not None:
        parts.append(
            _reach(
                drawn.x(span[0][0]),
                drawn.y(span[2][1]),
                drawn.x(span[0][1]),
                drawn.y(span[2][0]),
                past_end(job, drawn.ends),
            )
        )
    if job.rapid_z is not None:
        y = drawn.y(job.rapid_z)
        parts.append(f'<path class="rapids" d="M{drawn.left:.1f} {y:.1f}H{drawn.right:.1f}"/>')
        words = f"rapids above this, Z {minus(units.length(job.rapid_z))}"
        parts.append(label(drawn.right - 5, y - 5, words, "end"))
    if job.segments:
        parts.append(_tool(job, drawn))
    return "".join(parts)


def _seen(kind: str, box: Box, drawn: Drawn) -> str:
    x0, x1, y0, y1 = drawn.x(box[0][0]), drawn.x(box[0][1]), drawn.y(box[2][1]), drawn.y(box[2][0])
    return f'<rect class="{kind}" x="{x0:.1f}" y="{y0:.1f}" width="{x1 - x0:.1f}" height="{y1 - y0:.1f}"/>'


def _jaws_before(job: JobIn, drawn: Drawn) -> list[str]:
    if job.jaws is None or job.stock is None:
        return []
    along, top = job.jaws
    x0, x1 = drawn.x(job.stock[0][0]), drawn.x(job.stock[0][1])
    y0, y1 = drawn.y(top), drawn.y(job.stock[2][0])
    if along == 0:
        return [_strip(x0, y0, x1, y1)]
    return [_strip(x0 - JAW_PX, y0, x0, y1), _strip(x1, y0, x1 + JAW_PX, y1)]


def _tool(job: JobIn, drawn: Drawn) -> str:
    """The longest tool with its gauge line at the top of the travel, over the middle of the job: what it leaves of the way down."""
    middle = _middle(job)
    per = abs(drawn.x(1.0) - drawn.x(0.0))
    x, tip = drawn.x(middle), drawn.top + per * job.tip_mm
    ceiling = 3.0
    parts = []
    for one in job.segments:
        low, high = tip - per * one.z0_mm, tip - per * one.z1_mm
        if low <= ceiling + 4:
            continue
        r0, r1 = per * one.r0_mm, per * one.r1_mm
        if high < ceiling:  # it goes on: cut off with a broken line
            high = ceiling
            parts.append(f'<path class="goes-on" d="M{x - r1 - 5:.1f} {high:.1f}H{x + r1 + 5:.1f}"/>')
            parts.append(
                f'<path class="body-cut" d="M{x - r1:.1f} {high:.1f}L{x - r0:.1f} {low:.1f}H{x + r0:.1f}L{x + r1:.1f} {high:.1f}"/>'
            )
            continue
        kind = "edge" if one.part is Part.EDGE else "body"
        parts.append(
            f'<path class="{kind}" d="M{x - r0:.1f} {low:.1f}L{x - r1:.1f} {high:.1f}H{x + r1:.1f}L{x + r0:.1f} {low:.1f}Z"/>'
        )
    wide = max((per * one.r1_mm for one in job.segments if per * one.z1_mm < tip - drawn.top), default=6.0)
    words = f"{job.tool}, the longest"
    if x + wide + 8 + LETTER * len(words) < drawn.right:
        parts.append(label(x + wide + 8, (drawn.top + tip) / 2 + 4, words, "start"))
    else:
        parts.append(label(x - wide - 8, (drawn.top + tip) / 2 + 4, words, "end"))
    return "".join(parts)


def _middle(job: JobIn) -> float:
    span = job.reach[0] if job.reach is not None and job.reach[0] is not None else None
    if span is None:
        span = (
            job.stock[0] if job.stock is not None else next(((at[0], at[0]) for at in job.zeros.values()), (0.0, 0.0))
        )
    return sum(span) / 2
