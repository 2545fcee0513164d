"""The machine's envelope in plan and from the side: travel, kept-out spaces, pockets, home, and one job as it stands in it; one scale, X aligned.

All places are in the machine frame: where the gauge point would be if it were there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstoff.facts.fact import FactSet
from firstoff.sheets.envelope_job import Drawn, JobIn, Span, job_plan, job_side, label
from firstoff.sheets.html_text import html
from firstoff.sheets.sheet_facts import box_of
from firstoff.sheets.wording import minus
from firstoff.verdict.words import MM_PER_INCH, ShopUnits

WIDE = 540.0
"""Of both drawings, px."""
LEFT, RIGHT, TOP, BOTTOM = 46.0, 14.0, 13.0, 36.0
HATCH = 9.0
LEAST_TALL = 150.0
"""Of the side, px: a table machine with little Z is still seen."""
POCKET_PX = 7.5
NOSE_MM = 22.0
"""Of the nose, over the gauge line: the rest is cut off."""
Box = tuple[Span, Span, Span]
KEY = (
    '<ul class="envelope-key" aria-hidden="true">'
    '<li><svg width="18" height="12" viewBox="0 0 18 12"><rect width="18" height="12" fill="url(#wall)"/></svg>end of travel</li>'
    '<li><svg width="18" height="12" viewBox="0 0 18 12"><rect class="zone" width="18" height="12"/></svg>keep out</li>'
    '<li><svg width="18" height="12" viewBox="0 0 18 12"><path class="reach" d="M1 1H17V11H1Z"/></svg>reach of the job</li>'
    '<li><svg width="12" height="12" viewBox="0 0 12 12"><path class="home" d="M1 2H10V11"/></svg>home</li></ul>'
)
DEFS = (
    '<svg class="defs" width="0" height="0" aria-hidden="true"><defs><pattern id="keep-out" width="3" height="3" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><path class="fine" d="M0 0V3" stroke-width="1"/></pattern></defs></svg>'
)


@dataclass(frozen=True, slots=True)
class Frame:
    """From mm to px: `x` of the machine to the right, the other axis upward."""

    across: Span
    upward: Span
    scale: float

    @property
    def tall(self) -> float:
        return TOP + BOTTOM + self.scale * (self.upward[1] - self.upward[0])

    @property
    def low(self) -> float:
        """Where the drawing ends and its rule begins."""
        return self.tall - BOTTOM

    def x(self, mm: float) -> float:
        return LEFT + self.scale * (mm - self.across[0])

    def y(self, mm: float) -> float:
        return TOP + self.scale * (self.upward[1] - mm)


@dataclass(frozen=True, slots=True)
class Zone:
    """A space kept out."""

    name: str
    box: Box


def envelope_svg(facts: FactSet, job: JobIn | None = None, units: ShopUnits | None = None) -> str:
    """Plan and side; a sentence where the travel is not known."""
    spans = [_span(facts, axis) for axis in "xyz"]
    if any(span is None for span in spans):
        missing = ", ".join(letter for letter, span in zip("XYZ", spans, strict=True) if span is None)
        return f'<p class="nothing">Where it can go is drawn once the travel is known; {missing} {"is" if len(missing) == 1 else "are"} missing.</p>'
    x, y, z = (span for span in spans if span is not None)
    units = units or ShopUnits(False)
    zones = zones_of(facts)
    across, deep = (_wide(axis, span, zones, job) for axis, span in ((0, x), (1, y)))
    scale = (WIDE - LEFT - RIGHT) / (across[1] - across[0])
    low = _wide(2, z, zones, job)[0]
    over = NOSE_MM if job is not None and job.segments else 10 / scale
    low = min(low, z[1] + over - LEAST_TALL / scale)
    plan, side = Frame(across, deep, scale), Frame(across, (low, z[1] + over), scale)
    return (
        f'<h3 class="view-name">Plan</h3>{_plan(plan, x, y, zones, facts, job, units)}'
        f'<h3 class="view-name">Side</h3>{_side(side, x, z, zones, job, units)}'
    )


def _span(facts: FactSet, axis: str) -> Span | None:
    low, high = (facts.facts.get(f"machine.axis.{axis}.travel.{end}") for end in ("low", "high"))
    return None if low is None or high is None or high.value <= low.value else (low.value, high.value)


def zones_of(facts: FactSet) -> list[Zone]:
    """The spaces kept out that are given as boxes."""
    names = dict.fromkeys(path.split(".")[2] for path in facts.under("machine.zone."))
    return [Zone(name, box) for name in names if (box := box_of(facts, f"machine.zone.{name}.box")) is not None]


def _wide(axis: int, span: Span, zones: list[Zone], job: JobIn | None) -> Span:
    """All that is to be seen on one axis."""
    spans = [span, *(zone.box[axis] for zone in zones), *(job.spans(axis) if job is not None else ())]
    return min(one[0] for one in spans), max(one[1] for one in spans)


def _plan(
    frame: Frame, x: Span, y: Span, zones: list[Zone], facts: FactSet, job: JobIn | None, units: ShopUnits
) -> str:
    left, top, right, low = frame.x(x[0]), frame.y(y[1]), frame.x(x[1]), frame.y(y[0])
    outer = f"M{left - HATCH:.1f} {top - HATCH:.1f}H{right + HATCH:.1f}V{low + HATCH:.1f}H{left - HATCH:.1f}Z"
    inner = f"M{left:.1f} {top:.1f}V{low:.1f}H{right:.1f}V{top:.1f}Z"
    parts = [
        f'<path d="{outer}{inner}" fill="url(#wall)" fill-rule="evenodd"/>',
        _rect("travel", left, top, right, low),
    ]
    pockets = _pockets(facts)
    parts += [_zone(frame, zone, 1, _holds(zone, pockets)) for zone in zones]
    parts += _drawn_pockets(frame, pockets)
    parts.append(_home(frame, facts, x, y))
    if job is not None:
        blocked = _free(frame, x, zones)[1]
        parts.append(job_plan(job, Drawn(frame.x, frame.y, left, blocked, top, low, (x, y, None))))
    parts.append(_rule(frame, "Y", units))
    return _drawing(frame, _words("Plan", x, "Y", y, zones, job, units), parts)


def _side(frame: Frame, x: Span, z: Span, zones: list[Zone], job: JobIn | None, units: ShopUnits) -> str:
    """From the front: the ends of X as walls, home as the line on top, and how low the gauge point itself goes."""
    left, right, top, low = frame.x(x[0]), frame.x(x[1]), frame.y(z[1]), frame.low
    parts = [_rect("ground", left, top, right, low)]
    parts += [
        f'<rect x="{at:.1f}" y="{top:.1f}" width="{HATCH:g}" height="{low - top:.1f}" fill="url(#wall)"/>'
        for at in (left - HATCH, right)
    ]
    free, deepest = _free(frame, x, zones), frame.y(z[0])
    if deepest < low - 1:
        parts.append(f'<path class="deepest" d="M{left:.1f} {deepest:.1f}H{right:.1f}"/>')
    middle = x[0] + 0.35 * (x[1] - x[0]), x[1] - 0.35 * (x[1] - x[0])
    for zone in zones:  # what stands before or behind the middle must not hide what is there
        seen_through = zone.box[0][0] < middle[1] and zone.box[0][1] > middle[0]
        parts.append(_before(frame, zone) if seen_through else _zone(frame, zone, 2, False))
    if deepest < low - 1:
        words = f"gauge line goes to Z {minus(units.length(z[0]))}"
        parts.append(label(free[0] + 6, deepest - 5, words, "start"))
    parts.append(f'<path class="ends" d="M{left:.1f} {low:.1f}V{top:.1f}H{right:.1f}V{low:.1f}"/>')
    if job is not None:
        parts.append(job_side(job, Drawn(frame.x, frame.y, *free, top, low, (x, None, None)), units))
    parts.append(_rule(frame, "Z", units))
    return _drawing(frame, _words("Side", x, "Z", z, zones, job, units), parts)


def _free(frame: Frame, x: Span, zones: list[Zone]) -> Span:
    """Where names have room between what is kept out at the ends of X, px."""
    middle = (x[0] + x[1]) / 2
    at_left = [zone.box[0][1] for zone in zones if zone.box[0][1] < middle]
    at_right = [zone.box[0][0] for zone in zones if zone.box[0][0] > middle]
    return frame.x(max([x[0], *at_left])), frame.x(min([x[1], *at_right]))


def _words(name: str, x: Span, letter: str, other: Span, zones: list[Zone], job: JobIn | None, units: ShopUnits) -> str:
    unit = "in" if units.inch else "mm"
    ends = [minus(_told(end, units)) for end in (*x, *other)]
    words = f"{name} of the machine: X {ends[0]} to {ends[1]} {unit}, {letter} {ends[2]} to {ends[3]} {unit}; kept out: {', '.join(zone.name for zone in zones) or 'nothing'}"
    if job is None:
        return words
    span = None if job.reach is None else job.reach[0 if letter == "X" else 1 if letter == "Y" else 2]
    far = [] if job.reach is None or job.reach[0] is None or span is None else [*job.reach[0], *span]
    if not far:
        return f"{words}; {job.name}: reach not known"
    told = [minus(_told(end, units)) for end in far]
    return f"{words}; {job.name} reaches X {told[0]} to {told[1]}, {letter} {told[2]} to {told[3]} {unit}"


def _told(mm: float, units: ShopUnits) -> str:
    return f"{mm / MM_PER_INCH:.2f}" if units.inch else f"{mm:.1f}".removesuffix(".0")


def _drawing(frame: Frame, words: str, parts: list[str]) -> str:
    return f'<svg class="envelope" role="img" aria-label="{html(words)}" viewBox="0 0 {WIDE:g} {frame.tall:.1f}">{"".join(parts)}</svg>'


def _rect(name: str, left: float, top: float, right: float, low: float) -> str:
    return f'<rect class="{name}" x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{low - top:.1f}"/>'


def _before(frame: Frame, zone: Zone) -> str:
    """A space kept out that stands before or behind all else: its outline alone."""
    left, right = frame.x(zone.box[0][0]), frame.x(zone.box[0][1])
    top, low = frame.y(zone.box[2][1]), frame.y(zone.box[2][0])
    return _rect("zone-before", left, top, right, low) + label(left + 6, top + 16, zone.name, "start")


def _zone(frame: Frame, zone: Zone, axis: int, holds_pockets: bool) -> str:
    """Finely hatched; its name inside where there is room, turned in a narrow one, else beside it; below or above a row of pockets."""
    left, right = frame.x(zone.box[0][0]), frame.x(zone.box[0][1])
    top, low = frame.y(zone.box[axis][1]), frame.y(zone.box[axis][0])
    drawn = _rect("zone-ground", left, top, right, low) + _rect("zone", left, top, right, low)
    room = 7.5 * len(zone.name) + 6
    middle = (top + low) / 2
    if low - top > max(room, 2 * (right - left)):
        x = left + 9 if right - left > 40 else (left + right) / 2  # beside the pockets of a rack
        return f'{drawn}<text class="name" x="{x:.1f}" y="{middle:.1f}" transform="rotate(-90 {x:.1f} {middle:.1f})">{html(zone.name)}</text>'
    if holds_pockets:
        inward = low + 15 if middle < frame.tall / 2 else top - 6
        return drawn + label(left + 4, inward, zone.name, "start")
    if right - left > room and low - top > 16:
        return f'{drawn}<text class="name" x="{(left + right) / 2:.1f}" y="{middle:.1f}">{html(zone.name)}</text>'
    inward = (left + right) / 2 < WIDE / 2
    x, anchor = (right + 6, "start") if inward else (left - 6, "end")
    return drawn + label(x, middle + 4, zone.name, anchor)


Pocket = tuple[str, float, float, bool]
"""Number, X and Y in mm, and whether a tool belongs into it."""


def _pockets(facts: FactSet) -> list[Pocket]:
    found = []
    for number in dict.fromkeys(path.split(".")[2] for path in facts.under("tools.pocket.")):
        at = [facts.facts.get(f"tools.pocket.{number}.at.{axis}") for axis in "xy"]
        if all(one is not None for one in at):
            x, y = (one.value for one in at if one is not None)
            found.append((number, x, y, f"tools.pocket.{number}.tool" in facts.settings))
    return found


def _holds(zone: Zone, pockets: list[Pocket]) -> bool:
    (x0, x1), (y0, y1), _ = zone.box
    return any(x0 <= x <= x1 and y0 <= y <= y1 for _, x, y, _ in pockets)


def _drawn_pockets(frame: Frame, pockets: list[Pocket]) -> list[str]:
    """The pockets as they stand: one with a tool is filled, an empty one dotted."""
    apart = min(
        (math.dist(one[1:3], other[1:3]) for index, one in enumerate(pockets) for other in pockets[:index]),
        default=math.inf,
    )
    r = min(POCKET_PX, max(0.45 * frame.scale * apart, 2.0))
    parts = []
    for number, at_x, at_y, filled in pockets:
        x, y = frame.x(at_x), frame.y(at_y)
        parts.append(
            f'<circle class="pocket {"filled" if filled else "empty"}" r="{r:.1f}" cx="{x:.1f}" cy="{y:.1f}"/>'
        )
        if r > 6:
            parts.append(f'<text class="number" x="{x:.1f}" y="{y + 3.8:.1f}">{html(number)}</text>')
    return parts


def _home(frame: Frame, facts: FactSet, x: Span, y: Span) -> str:
    """A corner at home: the stored position, else the machine's zero where it lies in the travel."""
    stored = [facts.facts.get(f"machine.home.G28.{axis}") for axis in "xy"]
    at = tuple(one.value for one in stored if one is not None) if all(stored) else (0.0, 0.0)
    if not (x[0] <= at[0] <= x[1] and y[0] <= at[1] <= y[1]):
        return ""
    left, top = frame.x(at[0]), frame.y(at[1])
    to_right = 1 if at[0] < (x[0] + x[1]) / 2 else -1
    down = 1 if at[1] > (y[0] + y[1]) / 2 else -1
    return f'<path class="home" d="M{left + 14 * to_right:.1f} {top + 2 * down:.1f}H{left + 2 * to_right:.1f}V{top + 14 * down:.1f}"/>'


# --- rules ------------------------------------------------------------------------------------------------------------


def _rule(frame: Frame, letter: str, units: ShopUnits) -> str:
    """Both rules, ticked by 1, 2 or 5 in the shop's unit."""
    per = MM_PER_INCH if units.inch else 1.0
    unit = "in" if units.inch else "mm"
    step = _step((frame.across[1] - frame.across[0]) / per / 5)
    bottom, parts = frame.low + 14, []
    for value, major in _marks(frame.across, per, step):
        x = frame.x(value * per)
        parts.append(f'<path class="tick" d="M{x:.1f} {bottom:.1f}v{7 if major else 4}"/>')
        if major:
            parts.append(f'<text class="figure" x="{x:.1f}" y="{bottom + 19:.1f}">{minus(f"{value:g}")}</text>')
    for value, major in _marks(frame.upward, per, step):
        y = frame.y(value * per)
        parts.append(f'<path class="tick" d="M{LEFT - 14:.1f} {y:.1f}h{-7 if major else -4}"/>')
        if major and y > 22:
            parts.append(f'<text class="figure end" x="{LEFT - 24:.1f}" y="{y + 4:.1f}">{minus(f"{value:g}")}</text>')
    parts.append(
        f'<text class="unit" x="0" y="{bottom + 19:.1f}">X {unit}</text><text class="unit" x="0" y="10">{letter} {unit}</text>'
    )
    return "".join(parts)


def _marks(span: Span, per: float, step: float) -> list[tuple[float, bool]]:
    """(value, whether it is a major one)"""
    first, last = math.ceil(span[0] / per / step * 5 - 1e-9), math.floor(span[1] / per / step * 5 + 1e-9)
    return [(number * step / 5, number % 5 == 0) for number in range(first, last + 1)]


def _step(least: float) -> float:
    power = 10.0 ** math.floor(math.log10(least))
    return next(one * power for one in (1, 2, 5, 10) if one * power >= least * 0.999)
