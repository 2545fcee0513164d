"""Plan and side view of a set-up, to a stated scale: stock, what holds it, zero, how far cuts go and how low rapids pass.

Only what facts and program say is drawn, and to scale or not at all; what is missing is named instead.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from html import escape

from firstoff.facts.fact import FactSet
from firstoff.sheets.scale_svg import INK, INK2, WALL
from firstoff.sheets.sheet_facts import Reach, Span, box_of, fixtures
from firstoff.sheets.wording import amount
from firstoff.verdict.words import MM_PER_INCH, ShopUnits

SCALES = (
    *((up, f"{up:g}:1") for up in (10.0, 5.0, 4.0, 3.0, 2.0, 1.5, 1.0)),
    *((1 / down, f"1:{down:g}") for down in (1.5, 2.0, 3.0, 4.0, 5.0, 8.0, 10.0, 15.0, 20.0, 30.0, 50.0)),
)
"""Scales that can be checked with a steel rule, largest first. ISO 5455 prefers 1, 2, 5; those between keep small parts legible."""
TEXT_MM = 3.175
"""9 pt."""
LEFT, RIGHT, ABOVE, BETWEEN, BELOW = 27.0, 13.0, 7.0, 7.0, 3.4
"""Room on paper, mm: left of both views (the heights are told there), right of them (dimensions), above the plan, between the views,
below the side view."""
RAPID_LEAST, RAPID_MOST, RAPID_CLEAR = 5.5, 26.0, 2.0
"""Paper above the side view, mm: for a rapid height that is drawn broken, at most for a true one, and over its line."""
RUNG = 3.7
"""Least distance of two heights told beside the side view, mm."""
ON_EDGE_MM = 0.05
"""A zero nearer to an edge than this lies on it."""

Box = tuple[Span, Span, Span]


@dataclass(frozen=True, slots=True)
class Setting:
    """What there is to draw, mm in the work frame."""

    stock: Box | None
    round: tuple[float, float, float] | None
    """X, Y of the axis and the diameter of a round blank (its box is then `stock`)."""
    around: tuple[tuple[str, Box], ...]
    cut: Box | None
    rapid_z: float | None
    approach_z: float | None
    highest: float | None
    allowed: float | None
    zero_name: str
    depth: bool
    """Whether heights of the tip are told: programmed ones are not where it really goes while a length is wrong."""

    @property
    def missing(self) -> tuple[str, ...]:
        """What was not given, in words."""
        names = []
        if self.stock is None:
            names.append("the stock")
        if not self.around:
            names.append("what holds it")
        if self.cut is None:
            names.append("how far cuts go (no move has both a zero and a length)")
        return tuple(names)


@dataclass(frozen=True, slots=True)
class Picture:
    """`svg` is `height_mm` high; `scale` as it is written beside it."""

    svg: str
    scale: str
    height_mm: float


def setting_of(facts: FactSet, reach: Reach, zero_name: str, depth: bool = True) -> Setting:
    """What there is to draw, from facts and program."""
    stock, circle = box_of(facts, "job.stock.box"), None
    diameter = facts.facts.get("job.stock.cylinder.diameter")
    if stock is None and diameter is not None:
        ends = [facts.facts.get(f"job.stock.cylinder.z.{end}") for end in ("low", "high")]
        x, y = (facts.facts.get(f"job.stock.cylinder.{axis}") for axis in "xy")
        at, r = (x.value if x else 0.0, y.value if y else 0.0), diameter.value / 2
        if ends[0] is not None and ends[1] is not None:
            stock = ((at[0] - r, at[0] + r), (at[1] - r, at[1] + r), (ends[0].value, ends[1].value))
            circle = (at[0], at[1], diameter.value)
    highest, allowed = (facts.facts.get(f"job.around.{key}") for key in ("highest_around", "allowed_below"))
    return Setting(
        stock,
        circle,
        tuple(fixtures(facts)),
        reach.cut,
        reach.rapid_z if depth else None,
        reach.approach_z if depth else None,
        highest.value if highest else None,
        allowed.value if allowed else None,
        zero_name,
        depth,
    )


def draw_setting(setting: Setting, width_mm: float, height_mm: float, units: ShopUnits) -> Picture | None:
    """Both views in at most the given room, at the largest scale of `SCALES` that fits; None where there is nothing to draw, or no room."""
    boxes = [box for box in (setting.stock, setting.cut, *(box for _, box in setting.around)) if box is not None]
    if not boxes:
        return None
    low = [min(0.0, *(box[axis][0] for box in boxes)) for axis in range(3)]
    high = [max(0.0, *(box[axis][1] for box in boxes)) for axis in range(3)]
    if setting.allowed is not None:
        low[2] = min(low[2], setting.allowed)
    if setting.highest is not None:
        high[2] = max(high[2], setting.highest)
    for scale, name in SCALES:
        wide = (high[0] - low[0]) * scale + LEFT + RIGHT
        tall = (high[1] - low[1] + high[2] - low[2]) * scale + ABOVE + BETWEEN + BELOW
        rapid_room = _rapid_room(setting, high[2], scale, height_mm - tall)
        if wide <= width_mm and tall + rapid_room <= height_mm:
            views = _Views(
                setting, units, scale, (low[0], high[0]), (low[1], high[1]), (low[2], high[2]), width_mm, rapid_room
            )
            return Picture(views.svg(), name, views.height)
    return None


def _rapid_room(setting: Setting, top: float, scale: float, spare: float) -> float:
    """Paper above the side view for the rapid height: true where there is room for it, else as much as a broken one takes."""
    if setting.rapid_z is None or setting.rapid_z <= top:
        return RAPID_CLEAR
    true = (setting.rapid_z - top) * scale + RAPID_CLEAR
    return true if true <= min(spare, RAPID_MOST) else RAPID_LEAST


@dataclass(frozen=True, slots=True)
class _Views:
    setting: Setting
    units: ShopUnits
    scale: float
    x: Span
    y: Span
    z: Span
    width: float
    rapid_room: float

    # --- places on paper, mm -----------------------------------------------------------------------------------------

    @property
    def left(self) -> float:
        """The views stand in the middle of the room that is left over."""
        spare = self.width - LEFT - RIGHT - (self.x[1] - self.x[0]) * self.scale
        return LEFT + max(spare, 0.0) / 2

    @property
    def line_left(self) -> float:
        return self.px(self.x[0]) - 4

    @property
    def line_right(self) -> float:
        return self.px(self.x[1]) + 1.5

    @property
    def plan_bottom(self) -> float:
        return ABOVE + (self.y[1] - self.y[0]) * self.scale

    @property
    def side_top(self) -> float:
        return self.plan_bottom + BETWEEN + self.rapid_room

    @property
    def side_bottom(self) -> float:
        return self.side_top + (self.z[1] - self.z[0]) * self.scale

    @property
    def height(self) -> float:
        return self.side_bottom + BELOW

    def px(self, x: float) -> float:
        return self.left + (x - self.x[0]) * self.scale

    def py(self, y: float) -> float:
        return self.plan_bottom - (y - self.y[0]) * self.scale

    def pz(self, z: float) -> float:
        return self.side_bottom - (z - self.z[0]) * self.scale

    # --- drawing -----------------------------------------------------------------------------------------------------

    def svg(self) -> str:
        label = "Plan above, side view below, to scale: stock, what stands around it, zero, cuts and rapids."
        return (
            f'<svg class="picture" role="img" aria-label="{label}" style="width:{self.width:g}mm;height:{self.height:.1f}mm" '
            f'viewBox="0 0 {self.width:g} {self.height:.2f}">{"".join([*self._plan(), *self._side()])}</svg>'
        )

    def _plan(self) -> list[str]:
        stock = self.setting.stock
        parts = []
        top = stock[2][1] if stock is not None else 0.0
        under = [(n, box) for n, (_, box) in enumerate(self.setting.around, 1) if box[2][1] <= top]
        over = [(n, box) for n, (_, box) in enumerate(self.setting.around, 1) if box[2][1] > top]
        parts += [self._thing(n, box[0], (box[1][0], box[1][1]), self.py) for n, box in under]
        if stock is not None:
            parts.append(self._blank(stock))
        parts += [self._thing(n, box[0], (box[1][0], box[1][1]), self.py) for n, box in over]
        cut = self.setting.cut
        if cut is not None:
            parts.append(
                _rect(
                    self.px(cut[0][0]), self.py(cut[1][1]), self.px(cut[0][1]), self.py(cut[1][0]), "none", 0.3, "1.6 1"
                )
            )
        parts += self._plan_sizes()
        parts.append(self._zero(self.px(0), self.py(0), name=True))
        return parts + self._axes()

    def _blank(self, stock: Box) -> str:
        if self.setting.round is not None:
            x, y, diameter = self.setting.round
            r = diameter / 2 * self.scale
            return f'<circle cx="{self.px(x):.2f}" cy="{self.py(y):.2f}" r="{r:.2f}" fill="#eef0ee" stroke="{INK}" stroke-width="0.5"/>'
        return _rect(
            self.px(stock[0][0]), self.py(stock[1][1]), self.px(stock[0][1]), self.py(stock[1][0]), "#eef0ee", 0.5
        )

    def _plan_sizes(self) -> list[str]:
        stock = self.setting.stock
        if stock is None:
            return []
        (x0, x1), (y0, y1), _ = stock
        top, right = ABOVE - 4.5, self.px(self.x[1]) + 4.5
        parts = [
            _dimension(self.px(x0), top, self.px(x1), top, self._size(x1 - x0)),
            _dimension(right, self.py(y1), right, self.py(y0), self._size(y1 - y0)),
        ]
        below, beside = self.plan_bottom + 3.6, self.px(self.x[0]) - 4.2
        if min(abs(x0), abs(x1)) > ON_EDGE_MM:
            parts.append(_dimension(self.px(min(0.0, x0)), below, self.px(max(0.0, x0)), below, self._size(abs(x0))))
        if min(abs(y0), abs(y1)) > ON_EDGE_MM:
            parts.append(_dimension(beside, self.py(max(0.0, y0)), beside, self.py(min(0.0, y0)), self._size(abs(y0))))
        return parts

    def _side(self) -> list[str]:
        stock, parts = self.setting.stock, self._forbidden()
        front = stock[1][0] if stock is not None else 0.0
        behind = [(n, box) for n, (_, box) in enumerate(self.setting.around, 1) if box[1][0] >= front]
        before = [(n, box) for n, (_, box) in enumerate(self.setting.around, 1) if box[1][0] < front]
        parts += [self._thing(n, box[0], box[2], self.pz) for n, box in behind]
        if stock is not None:
            parts.append(
                _rect(
                    self.px(stock[0][0]),
                    self.pz(stock[2][1]),
                    self.px(stock[0][1]),
                    self.pz(stock[2][0]),
                    "#eef0ee",
                    0.5,
                )
            )
            right = self.px(self.x[1]) + 4.5
            parts.append(
                _dimension(
                    right, self.pz(stock[2][1]), right, self.pz(stock[2][0]), self._size(stock[2][1] - stock[2][0])
                )
            )
        parts += [self._thing(n, box[0], box[2], self.pz) for n, box in before]
        parts += self._heights()
        parts.append(self._zero(self.px(0), self.pz(0), name=False))
        return parts

    def _forbidden(self) -> list[str]:
        """Below the lowest allowed: hatch means no."""
        if self.setting.allowed is None:
            return []
        y = self.pz(self.setting.allowed)
        left, right = self.line_left, self.line_right
        hatch = f'<rect x="{left:.2f}" y="{y:.2f}" width="{right - left:.2f}" height="1.6" fill="{WALL_MM}"/>'
        return [hatch, _line(left, y, right, y, 0.3)]

    def _heights(self) -> list[str]:
        """The lines that heights are read from, and beside them what each is."""
        setting, parts = self.setting, []
        rungs: list[tuple[float, str]] = []
        if setting.rapid_z is not None:
            y, drawn = self._rapids(setting.rapid_z)
            parts += drawn
            rungs.append((y, f"traverse Z {self._z(setting.rapid_z)}"))
            if setting.approach_z is not None and setting.approach_z < setting.rapid_z:
                rungs.append((self.pz(setting.approach_z), f"approach Z {self._z(setting.approach_z)}"))
        if setting.highest is not None and not setting.around:
            y = self.pz(setting.highest)
            parts.append(_line(self.line_left, y, self.line_right, y, 0.3, "0.5 0.9"))
            rungs.append((y, f"clamps etc. up to Z {self._z(setting.highest)}"))
        if setting.cut is not None and setting.depth:
            y, (x0, x1) = self.pz(setting.cut[2][0]), setting.cut[0]
            parts.append(_line(self.px(x0), y, self.px(x1), y, 0.3, "1.6 1"))
            rungs.append((y, f"deepest Z {self._z(setting.cut[2][0])}"))
        if setting.allowed is not None:
            rungs.append((self.pz(setting.allowed), f"limit Z {self._z(setting.allowed)}"))
        return parts + self._ladder(rungs)

    def _ladder(self, rungs: list[tuple[float, str]]) -> list[str]:
        """Heights told one under the other at the left, each with a leader to its line."""
        ordered = sorted(rungs)
        places: list[float] = []
        for y, _ in ordered:
            places.append(max(y, places[-1] + RUNG) if places else y)
        over = max(0.0, (places[-1] - self.side_bottom - BELOW + 2) if places else 0.0)
        parts = []
        for (y, words), at in zip(ordered, places, strict=True):
            up, right = at - over, self.line_left
            leader = f"{right - 4:.2f},{up:.2f} {right - 3:.2f},{up:.2f} {right - 0.6:.2f},{y:.2f}"
            parts.append(f'<polyline points="{leader}" fill="none" stroke="{INK2}" stroke-width="0.2"/>')
            parts.append(_text(right - 4.6, up + 1.1, words, "end"))
        return parts

    def _rapids(self, rapid_z: float) -> tuple[float, list[str]]:
        """(where the line of the lowest rapid sideways is drawn, the line); broken where the true height does not fit."""
        highest, left, right = self.side_top - self.rapid_room + RAPID_CLEAR, self.line_left, self.line_right
        y = self.pz(rapid_z)
        if y >= highest - 1e-6:
            return y, [_line(left, y, right, y, 0.35, "3.4 1.2")]
        middle, x = (highest + self.side_top) / 2, right - 3
        jag = (
            f"{x:.2f},{highest:.2f} {x:.2f},{middle - 1.2:.2f} {x + 1.2:.2f},{middle - 0.4:.2f} "
            f"{x - 1.2:.2f},{middle + 0.4:.2f} {x:.2f},{middle + 1.2:.2f} {x:.2f},{self.side_top:.2f}"
        )
        broken = f'<polyline points="{jag}" fill="none" stroke="{INK}" stroke-width="0.25"/>'
        return highest, [_line(left, highest, right, highest, 0.35, "3.4 1.2"), broken]

    def _thing(self, number: int, across: Span, along: Span, to: Callable[[float], float]) -> str:
        """A numbered box; `to` places its second direction: `py` in the plan, `pz` in the side view."""
        x0, x1, y0, y1 = self.px(across[0]), self.px(across[1]), to(along[1]), to(along[0])
        return _rect(x0, y0, x1, y1, "#ffffff", 0.35) + _text(
            (x0 + x1) / 2, (y0 + y1) / 2 + 1.1, str(number), "middle", bold=True
        )

    def _zero(self, x: float, y: float, name: bool) -> str:
        r = 2.0
        quarters = (
            f'<path d="M{x:.2f} {y:.2f} L{x:.2f} {y - r:.2f} A{r} {r} 0 0 1 {x + r:.2f} {y:.2f} Z M{x:.2f} {y:.2f} L{x:.2f} {y + r:.2f} '
            f'A{r} {r} 0 0 1 {x - r:.2f} {y:.2f} Z" fill="{INK}"/>'
        )
        ring = f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{r}" fill="#ffffff" stroke="{INK}" stroke-width="0.35"/>'
        words = _text(x + r + 0.8, y + r + 2.2, self.setting.zero_name, bold=True) if name else ""
        return ring + quarters + words

    def _axes(self) -> list[str]:
        """Which way X and Y run, beside the plan."""
        x, y = self.left - 17, min(self.plan_bottom - 1, ABOVE + 8)  # high enough for the heights told below
        head_x = f"{x + 7:.2f},{y:.2f} {x + 5.4:.2f},{y - 0.8:.2f} {x + 5.4:.2f},{y + 0.8:.2f}"
        head_y = f"{x:.2f},{y - 7:.2f} {x - 0.8:.2f},{y - 5.4:.2f} {x + 0.8:.2f},{y - 5.4:.2f}"
        return [
            _line(x, y, x + 6, y, 0.35),
            _line(x, y, x, y - 6, 0.35),
            f'<polygon points="{head_x}" fill="{INK}"/><polygon points="{head_y}" fill="{INK}"/>',
            _text(x + 7.8, y + 1.1, "X"),
            _text(x, y - 7.8, "Y", "middle"),
        ]

    def _size(self, mm: float) -> str:
        return amount(mm / MM_PER_INCH if self.units.inch else round(mm, 2), 0, "")

    def _z(self, mm: float) -> str:
        return amount(round(mm / MM_PER_INCH, 4) if self.units.inch else round(mm, 2), 0, "")


# --- pieces ----------------------------------------------------------------------------------------------------------

WALL_MM = WALL.replace("wall", "wall-mm")
DEFS_MM = (
    '<svg class="defs" width="0" height="0" aria-hidden="true"><defs>'
    '<pattern id="wall-mm" width="1.1" height="1.1" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<rect width="1.1" height="1.1" fill="#ffffff"/><line x1="0" y1="0" x2="0" y2="1.1" stroke="{INK2}" stroke-width="0.4"/>'
    "</pattern></defs></svg>"
)
"""The hatch for drawings in mm."""


def _line(x1: float, y1: float, x2: float, y2: float, wide: float, dash: str = "", colour: str = INK) -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke="{colour}" stroke-width="{wide}"{dashes}/>'


def _rect(x0: float, y0: float, x1: float, y1: float, fill: str, wide: float, dash: str = "") -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<rect x="{x0:.2f}" y="{y0:.2f}" width="{max(x1 - x0, 0.1):.2f}" height="{max(y1 - y0, 0.1):.2f}" fill="{fill}" '
        f'stroke="{INK}" stroke-width="{wide}"{dashes}/>'
    )


def _text(x: float, y: float, words: str, anchor: str = "start", bold: bool = False) -> str:
    weight = ' font-weight="600"' if bold else ""
    return f'<text class="note" x="{x:.2f}" y="{y:.2f}" text-anchor="{anchor}"{weight}>{escape(words)}</text>'


def _dimension(x1: float, y1: float, x2: float, y2: float, words: str) -> str:
    """A dimension line with short bars at its ends and its figure in a gap; beside it where the line is too short."""
    upright = abs(x2 - x1) < 1e-6
    long, needed = max(abs(x2 - x1), abs(y2 - y1)), len(words) * 2.1 + 3
    bar = 1.2
    parts = [_line(x1, y1, x2, y2, 0.25, colour=INK2)]
    for x, y in ((x1, y1), (x2, y2)):
        parts.append(_line(x - bar, y, x + bar, y, 0.25) if upright else _line(x, y - bar, x, y + bar, 0.25))
    middle_x, middle_y = (x1 + x2) / 2, (y1 + y2) / 2
    if upright:
        room = long > TEXT_MM + 2
        parts.append(_text(middle_x if room else middle_x + 1.8, middle_y + 1.1, words, "middle" if room else "start"))
    elif long > needed:
        parts.append(_text(middle_x, middle_y + 1.1, words, "middle"))
    else:
        parts.append(_text(max(x1, x2) + 1.4, middle_y + 1.1, words))
    return "".join(parts)
