"""The machine's envelope in plan and from the side: travel, kept-out spaces, pockets, home; one scale, X aligned."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstoff.facts.fact import FactSet
from firstoff.sheets.html_text import html
from firstoff.sheets.sheet_facts import box_of
from firstoff.sheets.wording import minus

WIDE = 540.0
"""Of both drawings, px."""
LEFT, RIGHT, TOP, BOTTOM = 46.0, 16.0, 14.0, 34.0
HATCH = 9.0
Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Frame:
    """From mm to px: `x` of the machine to the right, the other axis upward."""

    across: Span
    upward: Span
    scale: float

    @property
    def tall(self) -> float:
        return TOP + BOTTOM + self.scale * (self.upward[1] - self.upward[0])

    def x(self, mm: float) -> float:
        return LEFT + self.scale * (mm - self.across[0])

    def y(self, mm: float) -> float:
        return TOP + self.scale * (self.upward[1] - mm)


def envelope_svg(facts: FactSet) -> str:
    """Plan and side; a sentence where the travel is not known."""
    spans = [_span(facts, axis) for axis in "xyz"]
    if any(span is None for span in spans):
        return '<p class="nothing">The travel of all three axes is not known yet; then the machine can be drawn.</p>'
    x, y, z = (span for span in spans if span is not None)
    zones = _zones(facts)
    low_z = min([z[0], *(box[2][0] for _, box in zones)])
    across = (min([x[0], *(box[0][0] for _, box in zones)]), max([x[1], *(box[0][1] for _, box in zones)]))
    deep = (min([y[0], *(box[1][0] for _, box in zones)]), max([y[1], *(box[1][1] for _, box in zones)]))
    scale = (WIDE - LEFT - RIGHT) / (across[1] - across[0])
    plan, side = Frame(across, deep, scale), Frame(across, (low_z, z[1] + 12 / scale), scale)
    return (
        f'<h3 class="view-name">Plan</h3>{_drawing(plan, x, y, zones, 1, "Y", facts)}'
        f'<h3 class="view-name">Side</h3>{_drawing(side, x, z, zones, 2, "Z", facts)}'
    )


def _span(facts: FactSet, axis: str) -> Span | None:
    low, high = (facts.facts.get(f"machine.axis.{axis}.travel.{end}") for end in ("low", "high"))
    return None if low is None or high is None else (low.value, high.value)


def _zones(facts: FactSet) -> list[tuple[str, tuple[Span, Span, Span]]]:
    names = dict.fromkeys(path.split(".")[2] for path in facts.under("machine.zone."))
    return [(name, box) for name in names if (box := box_of(facts, f"machine.zone.{name}.box")) is not None]


def _drawing(
    frame: Frame,
    x: Span,
    other: Span,
    zones: list[tuple[str, tuple[Span, Span, Span]]],
    axis: int,
    letter: str,
    facts: FactSet,
) -> str:
    box = (frame.x(x[0]), frame.y(other[1]), frame.x(x[1]) - frame.x(x[0]), frame.y(other[0]) - frame.y(other[1]))
    parts = [_travel(box)]
    parts += [_zone(frame, name, zone[0], zone[axis]) for name, zone in zones]
    parts += [_pocket(frame, number, place[0], place[axis], axis) for number, place in _pockets(facts)]
    parts.append(_home(frame, x, other))
    parts.append(_rule(frame, letter))
    words = f"{'Plan' if axis == 1 else 'Side'} of the machine: X {x[0]:g} to {x[1]:g} mm, {letter} {other[0]:g} to {other[1]:g} mm; kept out: {', '.join(name for name, _ in zones) or 'nothing'}"
    return f'<svg class="envelope" role="img" aria-label="{html(words)}" viewBox="0 0 {WIDE:g} {frame.tall:.1f}">{"".join(parts)}</svg>'


def _travel(box: tuple[float, float, float, float]) -> str:
    """The travel with its hatched border: beyond it the machine does not go."""
    left, top, wide, tall = box
    outer = (
        f"M{left - HATCH:.1f} {top - HATCH:.1f}h{wide + 2 * HATCH:.1f}v{tall + 2 * HATCH:.1f}h{-wide - 2 * HATCH:.1f}z"
    )
    inner = f"M{left:.1f} {top:.1f}v{tall:.1f}h{wide:.1f}v{-tall:.1f}z"
    return f'<path d="{outer}{inner}" fill="url(#wall)" fill-rule="evenodd"/><rect class="travel" x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{tall:.1f}"/>'


def _zone(frame: Frame, name: str, x: Span, other: Span) -> str:
    left, top = frame.x(x[0]), frame.y(other[1])
    wide, tall = frame.scale * (x[1] - x[0]), frame.scale * (other[1] - other[0])
    upright = tall > 2 * wide
    at = (left + (9 if upright else wide / 2), top + tall / 2)  # beside the pockets of a rack
    turned = f' transform="rotate(-90 {at[0]:.1f} {at[1]:.1f})"' if upright else ""
    return (
        f'<rect class="zone" x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{tall:.1f}"/>'
        f'<text class="name" x="{at[0]:.1f}" y="{at[1]:.1f}"{turned}>{html(name)}</text>'
    )


def _pockets(facts: FactSet) -> list[tuple[str, tuple[float, float, float]]]:
    found = []
    for number in dict.fromkeys(path.split(".")[2] for path in facts.under("tools.pocket.")):
        at = [facts.facts.get(f"tools.pocket.{number}.at.{axis}") for axis in "xyz"]
        if all(one is not None for one in at):
            x, y, z = (one.value for one in at if one is not None)
            found.append((number, (x, y, z)))
    return found


def _pocket(frame: Frame, number: str, x: float, other: float, axis: int) -> str:
    left, top = frame.x(x), frame.y(other)
    if axis == 2:
        return f'<path class="pocket" d="M{left - 5:.1f} {top:.1f}h10"/>'
    return f'<circle class="pocket" r="7.5" cx="{left:.1f}" cy="{top:.1f}"/><text class="number" x="{left:.1f}" y="{top + 3.8:.1f}">{html(number)}</text>'


def _home(frame: Frame, x: Span, other: Span) -> str:
    """The corner that home is in, where zero lies at an end of both travels."""
    if not (x[0] <= 0 <= x[1] and other[0] <= 0 <= other[1]):
        return ""
    left, top = frame.x(0.0), frame.y(0.0)
    return f'<path class="home" d="M{left - 7:.1f} {top:.1f}h14M{left:.1f} {top - 7:.1f}v14"/>'


def _rule(frame: Frame, letter: str) -> str:
    step = _step((frame.across[1] - frame.across[0]) / 5)
    parts = []
    bottom = frame.tall - BOTTOM + 16
    for value in _marks(frame.across, step / 5):
        major = math.isclose(value / step, round(value / step), abs_tol=1e-6)
        parts.append(f'<path class="tick" d="M{frame.x(value):.1f} {bottom:.1f}v{7 if major else 4}"/>')
        if major:
            parts.append(f'<text class="figure" x="{frame.x(value):.1f}" y="{bottom + 18:.1f}">{value:g}</text>')
    for value in _marks(frame.upward, step / 5):
        major = math.isclose(value / step, round(value / step), abs_tol=1e-6)
        parts.append(f'<path class="tick" d="M{LEFT - 16:.1f} {frame.y(value):.1f}h{-7 if major else -4}"/>')
        if major:
            words = minus(f"{value:g}")
            parts.append(f'<text class="figure end" x="{LEFT - 26:.1f}" y="{frame.y(value) + 4:.1f}">{words}</text>')
    parts.append(
        f'<text class="unit end" x="{WIDE:.1f}" y="{bottom + 18:.1f}">X mm</text><text class="unit" x="2" y="11">{letter} mm</text>'
    )
    return "".join(parts)


def _marks(span: Span, step: float) -> list[float]:
    first = math.ceil(span[0] / step - 1e-9)
    return [number * step for number in range(first, math.floor(span[1] / step + 1e-9) + 1)]


def _step(least: float) -> float:
    power = 10.0 ** math.floor(math.log10(least))
    return next(one * power for one in (1, 2, 5, 10) if one * power >= least)
