"""Plan and front view of a set-up, to a stated scale that can be checked with a steel rule."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from firstoff.sheets import paper_marks as mark
from firstoff.sheets.around_part import Box, Solid
from firstoff.sheets.cut_outline import Line
from firstoff.sheets.name_places import along, around, free_place, label_box, shared
from firstoff.sheets.paper_marks import KEPT_OUT, PAPER, STOCK, WALL_MM, Box2, Dimension, letters_mm
from firstoff.sheets.scale_svg import INK, INK2
from firstoff.sheets.sheet_facts import Span
from firstoff.sheets.sheet_picture import Setting
from firstoff.sheets.wording import amount
from firstoff.verdict.words import MM_PER_INCH, ShopUnits

SCALES = (
    *((up, f"{up:g}:1") for up in (10.0, 5.0, 4.0, 3.0, 2.0, 1.5, 1.0)),
    *((1 / down, f"1:{down:g}") for down in (1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 8.0, 10.0, 15.0, 20.0, 30.0, 50.0)),
)
"""Scales that can be checked with a steel rule, largest first. ISO 5455 prefers 1, 2, 5; those between keep small parts legible."""
LADDER, RIGHT, ABOVE, BETWEEN, BELOW = 16.0, 4.5, 6.4, 7.0, 3.2
"""Room on paper, mm: least at the left of both views (the heights are told there), right of them at least to the dimension lines, above
the plan, between the views, below the front view."""
LEADER = 6.0
"""From the words of a height to the views, mm of paper."""
RAPID_LEAST, RAPID_MOST, RAPID_CLEAR = 4.6, 26.0, 1.8
"""Paper above the front view, mm: for a rapid height that is drawn broken, at most for a true one, and over its line."""
RAPIDS = ("traverse", "approach")
RUNG = 4.1
"""Least distance of two heights told beside the front view, mm."""
ON_EDGE_MM = 0.05
"""A zero nearer to an edge than this lies on it."""
FAR, LEAST_TALL_MM = 0.8, 8.0
"""A level further from what is drawn than this many times its height is told, not drawn: it would take all the room."""
JAW, THIN_JAW, JAW_NAME, JAW_NAME_AT = 4.2, 1.5, "jaw", 0.8
"""How deep a jaw is drawn, mm of paper (open at its back: its own thickness nobody gave), and how deep without its name, where the views
are then larger; what it is called, and where along it."""
ZERO_R = 2.0
"""Radius of the mark of a work zero, mm of paper."""
DASHED_COUNTS = 8
"""So many times as much as a whole line: no name stands on a dashed one."""
DOT, SAME_DOT = 0.6, 1.1
"""Radius of the dot at a first cut, and the distance within which two are one, mm of paper."""


@dataclass(frozen=True, slots=True)
class Picture:
    """`svg` is `height_mm` high; `scale` as it is written beside it."""

    svg: str
    scale: str
    height_mm: float


def draw_setting(setting: Setting, width_mm: float, height_mm: float, units: ShopUnits) -> Picture | None:
    """Both views in at most the given room, at the largest scale of `SCALES` that fits; None where there is nothing to draw, or no room."""
    boxes = [
        box for box in (setting.stock, _cuts(setting), *(solid.box for solid in setting.around)) if box is not None
    ]
    if not boxes:
        return None
    low = [min(0.0, *(box[axis][0] for box in boxes)) for axis in range(3)]
    high = [max(0.0, *(box[axis][1] for box in boxes)) for axis in range(3)]
    for _, *place in setting.first:
        for axis, at in enumerate(place):
            low[axis], high[axis] = min(low[axis], at), max(high[axis], at)
    far = FAR * max(high[2] - low[2], LEAST_TALL_MM)
    seen = low[2] - far, high[2] + far
    for level in (setting.allowed, setting.highest):
        if level is not None and seen[0] <= level <= seen[1]:
            low[2], high[2] = min(low[2], level), max(high[2], level)
    left = max(LADDER, LEADER + max((letters_mm(words) for words, _ in _rungs(setting, units)), default=0.0))
    for (scale, name), deep in product(SCALES, (JAW, THIN_JAW)):
        jaw_wide, jaw_tall = _jaw_room(setting, deep)
        right = _right_room(setting, scale, units)
        wide = (high[0] - low[0]) * scale + left + right + 2 * jaw_wide
        tall = (high[1] - low[1] + high[2] - low[2]) * scale + ABOVE + BETWEEN + BELOW + 2 * jaw_tall
        rapid_room = _rapid_room(setting, high[2], scale, height_mm - tall)
        if wide <= width_mm and tall + rapid_room <= height_mm:
            spans = ((low[0], high[0]), (low[1], high[1]), (low[2], high[2]))
            views = _Views(setting, units, scale, *spans, width_mm, left, right, rapid_room, deep)
            return Picture(views.svg(), name, views.height)
    return None


def _out_mm(setting: Setting, units: ShopUnits) -> float:
    """How far out upright dimension lines stand, mm of paper: clear of the views with the figures that stand in them."""
    if setting.stock is None:
        return RIGHT
    _, (y0, y1), (z0, z1) = setting.stock
    widest = max(letters_mm(_told_size(mm, units)) for mm in (y1 - y0, z1 - z0, min(abs(y0), abs(y1))))
    return max(RIGHT, widest / 2 + 2.4)


def _right_room(setting: Setting, scale: float, units: ShopUnits) -> float:
    """Paper that the dimensions at the right take."""
    if setting.stock is None:
        return RIGHT
    _, (y0, y1), (z0, z1) = setting.stock
    sizes = (Dimension(0.0, 0.0, 0.0, mm * scale, _told_size(mm, units)) for mm in (y1 - y0, z1 - z0))
    return _out_mm(setting, units) + max(size.box[2] for size in sizes) + 0.5


def _told_size(mm: float, units: ShopUnits) -> str:
    return amount(mm / MM_PER_INCH if units.inch else round(mm, 2), 0, "")


def _jaw_room(setting: Setting, deep: float) -> tuple[float, float]:
    """Paper that each jaw takes beside the plan, and above and below it."""
    if setting.jaws is None:
        return 0.0, 0.0
    return (0.0, deep) if setting.jaws.along == 0 else (deep, 0.0)


def _cuts(setting: Setting) -> Box | None:
    """How far cuts reach, where that is drawn: not in height where no depths are told."""
    if setting.outline is not None or setting.cut is None:
        return None
    return setting.cut if setting.depth else (setting.cut[0], setting.cut[1], (0.0, 0.0))


def _rapid_room(setting: Setting, top: float, scale: float, spare: float) -> float:
    """Paper above the front view for the rapid height: true where there is room for it, else as much as a broken one takes."""
    if setting.rapid_z is None or setting.rapid_z <= top:
        return RAPID_CLEAR
    true = (setting.rapid_z - top) * scale + RAPID_CLEAR
    return true if true <= min(spare, RAPID_MOST) else RAPID_LEAST


def _told_z(mm: float, units: ShopUnits) -> str:
    return amount(round(mm / MM_PER_INCH, 4) if units.inch else round(mm, 2), 0, "")


def _rungs(setting: Setting, units: ShopUnits) -> list[tuple[str, float]]:
    """(words, Z) of the heights that are told beside the front view."""
    rungs: list[tuple[str, float | None]] = [(RAPIDS[0], setting.rapid_z)]
    if setting.rapid_z is not None and setting.approach_z is not None and setting.approach_z < setting.rapid_z:
        rungs.append((RAPIDS[1], setting.approach_z))
    if _tells_highest(setting):
        rungs.append((f"{setting.highest_name} up to", setting.highest))
    if setting.cut is not None and setting.depth:
        rungs.append(("deepest", setting.cut[2][0]))
    rungs.append(("limit", setting.allowed))
    return [(f"{name} Z {_told_z(z, units)}", z) for name, z in rungs if z is not None]


def _tells_highest(setting: Setting) -> bool:
    """Whether a line says how high things stand: not where what stands there is drawn itself."""
    drawn = max((solid.top for solid in setting.around), default=None)
    return setting.highest is not None and (drawn is None or setting.highest > drawn + ON_EDGE_MM)


@dataclass(frozen=True, slots=True)
class _Views:
    setting: Setting
    units: ShopUnits
    scale: float
    x: Span
    y: Span
    z: Span
    width: float
    ladder: float
    beside: float
    rapid_room: float
    jaw: float

    # --- places on paper, mm -----------------------------------------------------------------------------------------

    @property
    def out(self) -> float:
        return _out_mm(self.setting, self.units)

    @property
    def jaw_wide(self) -> float:
        return _jaw_room(self.setting, self.jaw)[0]

    @property
    def jaw_tall(self) -> float:
        return _jaw_room(self.setting, self.jaw)[1]

    @property
    def left(self) -> float:
        """The views stand in the middle of the room that is left over."""
        spare = self.width - self.ladder - self.beside - 2 * self.jaw_wide - (self.x[1] - self.x[0]) * self.scale
        return self.ladder + self.jaw_wide + max(spare, 0.0) / 2

    @property
    def line_left(self) -> float:
        return self.px(self.x[0]) - 2.4 - self.jaw_wide

    @property
    def line_right(self) -> float:
        return self.px(self.x[1]) + 1.5 + self.jaw_wide

    @property
    def plan_bottom(self) -> float:
        return ABOVE + self.jaw_tall + (self.y[1] - self.y[0]) * self.scale

    @property
    def front_top(self) -> float:
        return self.plan_bottom + self.jaw_tall + BETWEEN + self.rapid_room

    @property
    def front_bottom(self) -> float:
        return self.front_top + (self.z[1] - self.z[0]) * self.scale

    @property
    def height(self) -> float:
        return self.front_bottom + BELOW

    def px(self, x: float) -> float:
        return self.left + (x - self.x[0]) * self.scale

    def py(self, y: float) -> float:
        return self.plan_bottom - (y - self.y[0]) * self.scale

    def pz(self, z: float) -> float:
        return self.front_bottom - (z - self.z[0]) * self.scale

    # --- plan --------------------------------------------------------------------------------------------------------

    def svg(self) -> str:
        label = "Plan above, front view below, to scale: stock, what stands around it, zero, what is cut and how low rapids pass."
        return (
            f'<svg class="picture" role="img" aria-label="{label}" style="width:{self.width:g}mm;height:{self.height:.1f}mm" '
            f'viewBox="0 0 {self.width:g} {self.height:.2f}">{"".join([*self._plan(), *self._front()])}</svg>'
        )

    def _plan(self) -> list[str]:
        setting, stock = self.setting, self.setting.stock
        top = stock[2][1] if stock is not None else 0.0
        numbered = list(enumerate(setting.around, 1))
        parts = [self._seen_above(n, solid) for n, solid in numbered if solid.top <= top]
        if stock is not None:
            parts += [*self._jaws_above(stock), *self._blank(stock)]
        if setting.outline is not None:
            parts.append(mark.strokes((self._on_plan(loop) for loop in setting.outline.plan), 0.2))
        parts += [self._seen_above(n, solid) for n, solid in numbered if solid.top > top]
        if setting.cut is not None and setting.outline is None:
            (x0, x1), (y0, y1), _ = setting.cut
            parts.append(mark.rect(self.px(x0), self.py(y1), self.px(x1), self.py(y0), "none", 0.3, "1.6 1"))
        sizes = self._plan_sizes()
        parts += [size.svg for size in sizes]
        return [*parts, *self._jaw_names(), *self._named([size.box for size in sizes]), *self._axes()]

    def _on_plan(self, loop: Line) -> list[tuple[float, float]]:
        return [(self.px(x), self.py(y)) for x, y in loop.tolist()]

    def _blank(self, stock: Box) -> list[str]:
        (x0, x1), (y0, y1), _ = stock
        corners = self.px(x0), self.py(y1), self.px(x1), self.py(y0)
        if self.setting.blank:
            return [mark.strokes((self._on_plan(loop) for loop in self.setting.blank), 0.5, fill=STOCK)]
        return [(mark.disc if self.setting.round is not None else mark.rect)(*corners, STOCK, 0.5)]

    def _jaws_above(self, stock: Box) -> list[str]:
        """A hatched strip along both sides that are held."""
        jaws = self.setting.jaws
        if jaws is None:
            return []
        strips = self._jaw_strips(stock)
        x0, y0, x1, y1 = self._on_paper(stock)
        faces = [(x0, y0, x1, y0), (x0, y1, x1, y1)] if jaws.along == 0 else [(x0, y0, x0, y1), (x1, y0, x1, y1)]
        parts = [mark.rect(*strip, KEPT_OUT, 0.0) for strip in strips]
        parts += [mark.line(*face, 0.5) for face in faces]
        return parts

    def _jaw_strips(self, stock: Box) -> list[Box2]:
        """Both jaws on paper, seen from above."""
        jaws = self.setting.jaws
        x0, y0, x1, y1 = self._on_paper(stock)
        if jaws is None:
            return []
        if jaws.along == 0:
            return [(x0, y0 - self.jaw, x1, y0), (x0, y1, x1, y1 + self.jaw)]
        return [(x0 - self.jaw, y0, x0, y1), (x1, y0, x1 + self.jaw, y1)]

    def _jaw_names(self) -> list[str]:
        strips = self._jaw_strips(self.setting.stock) if self.setting.stock is not None else []
        return [self._jaw_name(strip) for strip in strips]

    def _jaw_name(self, strip: Box2) -> str:
        """Its name in clear paper, where a strip is wide enough."""
        half = letters_mm(JAW_NAME) / 2 + mark.CLEAR
        x, y = strip[0] + (strip[2] - strip[0]) * JAW_NAME_AT, (strip[1] + strip[3]) / 2
        if strip[2] - strip[0] < 2 * half or self.jaw < JAW:
            return ""
        return mark.rect(x - half, strip[1] + 0.3, x + half, strip[3] - 0.3, PAPER, 0.0) + mark.text(
            x, y + 1.1, JAW_NAME, "middle"
        )

    def _plan_sizes(self) -> list[Dimension]:
        stock = self.setting.stock
        if stock is None:
            return []
        (x0, x1), (y0, y1), _ = stock
        top, right = ABOVE - 4.0, self.px(self.x[1]) + self.out + self.jaw_wide
        sizes = [
            Dimension(self.px(x0), top, self.px(x1), top, self._size(x1 - x0)),
            Dimension(right, self.py(y1), right, self.py(y0), self._size(y1 - y0)),
        ]
        below, beside = self.plan_bottom + self.jaw_tall + 4.0, self.px(self.x[0]) - self.out - self.jaw_wide
        if min(abs(x0), abs(x1)) > ON_EDGE_MM:
            ends = self.px(min(0.0, x0)), self.px(max(0.0, x0))
            sizes.append(Dimension(ends[0], below, ends[1], below, self._size(abs(x0))))
        if min(abs(y0), abs(y1)) > ON_EDGE_MM:
            low, high = self.py(max(0.0, y0)), self.py(min(0.0, y0))
            sizes.append(Dimension(beside, low, beside, high, self._size(abs(y0)), left=True))
        return sizes

    def _named(self, taken: list[Box2]) -> list[str]:
        """Zero and first cuts, each with its name where nothing else stands: `taken` is what does already."""
        zero = self.px(0), self.py(0)
        places: list[tuple[float, float, list[str]]] = []
        for tool, x, y in self.setting.first:
            at = self.px(x), self.py(y)
            near = next((one for one in places if abs(one[0] - at[0]) + abs(one[1] - at[1]) < SAME_DOT), None)
            if near is None:
                places.append((*at, [tool]))
            elif tool not in near[2]:
                near[2].append(tool)
        taken = [
            *taken, around(*zero, ZERO_R, ZERO_R), *(around(x, y, DOT, DOT) for x, y, _ in places), *self._kept_clear(),
        ]  # fmt: skip
        lines = self._lines_of_plan()
        parts = [self._zero(*zero)]
        for x, y, words, clear in (
            (*zero, self.setting.zero_name, ZERO_R),
            *((x, y, ", ".join(tools), DOT) for x, y, tools in places),
        ):
            lx, ly = free_place(x, y, letters_mm(words), clear, taken, lines)
            taken.append(label_box(lx, ly, letters_mm(words)))
            if clear == DOT:
                parts.append(
                    f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{DOT}" fill="{INK}" stroke="{PAPER}" stroke-width="0.25"/>'
                )
            parts.append(mark.text(lx, ly, words, bold=True))
        return parts

    def _kept_clear(self) -> list[Box2]:
        """Where no name of the plan may stand: the front view with the line of the rapids over it, what is beside the paper, names of jaws."""
        under = self.plan_bottom + self.jaw_tall + 4.6
        boxes = [
            (0.0, under, self.width, self.height), (-self.width, 0.0, 0.0, self.height), (self.width, 0.0, 2 * self.width, self.height),
            (0.0, -20.0, self.width, 0.0), *(self._on_paper(one.box) for one in self.setting.around),
        ]  # fmt: skip
        stock = self.setting.stock
        for strip in self._jaw_strips(stock) if stock is not None else []:
            x, half = strip[0] + (strip[2] - strip[0]) * JAW_NAME_AT, letters_mm(JAW_NAME) / 2 + 4
            boxes.append((x - half, strip[1], x + half, strip[3]) if self.jaw_tall else strip)
        return boxes

    def _lines_of_plan(self) -> NDArray[np.float64]:
        """f8[K, 2]: places on paper along the lines of the plan; a name that covers few of them is read best."""
        loops = [np.array(self._on_plan(loop)) for loop in (self.setting.outline.plan if self.setting.outline else ())]
        if self.setting.stock is not None:
            x0, y0, x1, y1 = self._on_paper(self.setting.stock)
            loops.append(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]))
        if self.setting.cut is not None and self.setting.outline is None:
            (x0, x1), (y0, y1), _ = self.setting.cut
            dashed = self._on_plan(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]))
            loops += [np.array(dashed)] * DASHED_COUNTS
        return np.concatenate([along(loop) for loop in loops]) if loops else np.empty((0, 2))

    # --- front view --------------------------------------------------------------------------------------------------

    def _front(self) -> list[str]:
        setting, stock = self.setting, self.setting.stock
        parts = self._forbidden()
        front = stock[1][0] if stock is not None else 0.0
        numbered = list(enumerate(setting.around, 1))
        parts += [self._seen_before(n, solid) for n, solid in numbered if solid.box[1][0] >= front]
        if stock is not None:
            (x0, x1), _, (z0, z1) = stock
            parts.append(mark.rect(self.px(x0), self.pz(z1), self.px(x1), self.pz(z0), STOCK, 0.5))
            parts += self._left_over()
            parts += self._jaws_before(stock)
            right = self.px(self.x[1]) + self.out + self.jaw_wide
            parts.append(Dimension(right, self.pz(z1), right, self.pz(z0), self._size(z1 - z0)).svg)
        parts += [self._seen_before(n, solid) for n, solid in numbered if solid.box[1][0] < front]
        parts += self._heights()
        parts.append(self._zero(self.px(0), self.pz(0)))
        return parts

    def _left_over(self) -> list[str]:
        """What is left: its outline from the front, and hollows behind it dashed."""
        outline = self.setting.outline
        if outline is None:
            return []
        front, hidden = (
            [[(self.px(x), self.pz(z)) for x, z in one.tolist()] for one in lines]
            for lines in (outline.front, outline.hidden)
        )
        return [mark.strokes(front, 0.2), mark.strokes(hidden, 0.2, "0.9 0.6")]

    def _jaws_before(self, stock: Box) -> list[str]:
        jaws = self.setting.jaws
        if jaws is None:
            return []
        x0, x1, top, bottom = self.px(stock[0][0]), self.px(stock[0][1]), self.pz(jaws.top), self.pz(stock[2][0])
        if jaws.along == 0:
            return [mark.rect(x0, top, x1, bottom, KEPT_OUT, 0.0), mark.line(x0, top, x1, top, 0.3)]
        return [
            mark.rect(*strip, KEPT_OUT, 0.0)
            for strip in ((x0 - self.jaw, top, x0, bottom), (x1, top, x1 + self.jaw, bottom))
        ]

    def _forbidden(self) -> list[str]:
        """Below the lowest allowed: hatch means no."""
        if self.setting.allowed is None or not self._seen(self.setting.allowed):
            return []
        y = self.pz(self.setting.allowed)
        left, right = self.line_left, self.line_right
        return [mark.rect(left, y, right, y + 1.6, WALL_MM, 0.0), mark.line(left, y, right, y, 0.3)]

    def _heights(self) -> list[str]:
        """The lines that heights are read from, and beside them what each is."""
        setting, parts = self.setting, []
        broken = self.pz(0)
        if setting.rapid_z is not None:
            broken, drawn = self._rapids(setting.rapid_z)
            parts += drawn
        highest = setting.highest
        if _tells_highest(setting) and highest is not None and setting.jaws is None and self._seen(highest):
            y = self.pz(highest)
            parts.append(mark.line(self.line_left, y, self.line_right, y, 0.3, "0.5 0.9"))
        if setting.cut is not None and setting.depth and setting.outline is None:
            y, (x0, x1) = self.pz(setting.cut[2][0]), setting.cut[0]
            parts.append(mark.line(self.px(x0), y, self.px(x1), y, 0.3, "1.6 1"))
        rungs: list[tuple[float, str, int]] = []
        for words, z in _rungs(setting, self.units):
            y, beyond = self.pz(z), 0
            if words.startswith(RAPIDS):
                y = broken if words.startswith(RAPIDS[0]) else max(y, broken + 0.01)
            elif not self._seen(z):
                beyond = 1 if z < self.z[0] else -1
                y = self.pz(self.z[0] if z < self.z[0] else self.z[1])
            rungs.append((y, words, beyond))
        return parts + self._ladder(rungs)

    def _seen(self, z: float) -> bool:
        """Whether a height lies in what is drawn."""
        return self.z[0] - 1e-6 <= z <= self.z[1] + 1e-6

    def _ladder(self, rungs: list[tuple[float, str, int]]) -> list[str]:
        """Heights told one under the other at the left, each with a leader to its line; one that lies further down (1) or up (-1) than is
        drawn has an arrowhead that way instead."""
        ordered = sorted(rungs)
        places: list[float] = []
        for y, *_ in ordered:
            places.append(max(y, places[-1] + RUNG) if places else y)
        over = max(0.0, (places[-1] - self.front_bottom - BELOW + 2) if places else 0.0)
        parts = []
        for (y, words, beyond), at in zip(ordered, places, strict=True):
            up, right = at - over, self.line_left
            if beyond:
                tip, base = up + 1.4 * beyond, up - 0.4 * beyond
                head = f"{right - 2.4:.2f},{base:.2f} {right - 0.8:.2f},{base:.2f} {right - 1.6:.2f},{tip:.2f}"
                parts.append(f'<polygon class="beyond" points="{head}" fill="{INK}"/>')
            else:
                leader = f"{right - 2.8:.2f},{up:.2f} {right - 2.2:.2f},{up:.2f} {right - 0.4:.2f},{y:.2f} {right + 1:.2f},{y:.2f}"
                parts.append(f'<polyline points="{leader}" fill="none" stroke="{INK2}" stroke-width="0.2"/>')
            parts.append(mark.text(right - 3.4, up + 1.1, words, "end"))
        return parts

    def _rapids(self, rapid_z: float) -> tuple[float, list[str]]:
        """(where the line of the lowest rapid sideways is drawn, the line); broken where the true height does not fit."""
        highest, left, right = self.front_top - self.rapid_room + RAPID_CLEAR, self.line_left, self.line_right
        y = self.pz(rapid_z)
        if y >= highest - 1e-6:
            return y, [mark.line(left, y, right, y, 0.35, "3.4 1.2")]
        middle, x = (highest + self.front_top) / 2, right - 3
        jag = (
            f"{x:.2f},{highest:.2f} {x:.2f},{middle - 1.0:.2f} {x + 1.2:.2f},{middle - 0.4:.2f} "
            f"{x - 1.2:.2f},{middle + 0.4:.2f} {x:.2f},{middle + 1.0:.2f} {x:.2f},{self.front_top:.2f}"
        )
        broken = f'<polyline points="{jag}" fill="none" stroke="{INK}" stroke-width="0.25"/>'
        return highest, [mark.line(left, highest, right, highest, 0.35, "3.4 1.2"), broken]

    # --- both --------------------------------------------------------------------------------------------------------

    def _on_paper(self, box: Box) -> Box2:
        """A box seen from above."""
        return self.px(box[0][0]), self.py(box[1][1]), self.px(box[0][1]), self.py(box[1][0])

    def _seen_above(self, number: int, solid: Solid) -> str:
        """A numbered solid in the plan; its number stands where nothing higher covers it."""
        corners = self._on_paper(solid.box)
        over = [self._on_paper(one.box) for one in self.setting.around if one.top > solid.top]
        shape = (mark.disc if solid.round else mark.rect)(*corners, PAPER, 0.35)
        words, wide = str(number), letters_mm(str(number))
        places = [
            (corners[0] + (corners[2] - corners[0]) * across - wide / 2, (corners[1] + corners[3]) / 2 + 1.1)
            for across in (0.5, 0.2, 0.8)
        ]
        x, y = min(places, key=lambda place: sum(shared(label_box(place[0], place[1], wide), box) for box in over))
        return shape + mark.text(x, y, words, bold=True)

    def _seen_before(self, number: int, solid: Solid) -> str:
        """The same in the front view; low ones have their number in the plan alone."""
        (x0, x1), (z0, z1) = solid.box[0], solid.box[2]
        corners = self.px(x0), self.pz(z1), self.px(x1), self.pz(z0)
        shape = mark.rect(*corners, PAPER, 0.35)
        if corners[3] - corners[1] < mark.TEXT_MM + 0.4:
            return shape
        return shape + mark.text(
            (corners[0] + corners[2]) / 2, (corners[1] + corners[3]) / 2 + 1.1, str(number), "middle", bold=True
        )

    def _zero(self, x: float, y: float) -> str:
        r = ZERO_R
        quarters = (
            f'<path d="M{x:.2f} {y:.2f} L{x:.2f} {y - r:.2f} A{r} {r} 0 0 1 {x + r:.2f} {y:.2f} Z M{x:.2f} {y:.2f} L{x:.2f} {y + r:.2f} '
            f'A{r} {r} 0 0 1 {x - r:.2f} {y:.2f} Z" fill="{INK}"/>'
        )
        ring = f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{r}" fill="{PAPER}" stroke="{INK}" stroke-width="0.35"/>'
        return ring + quarters

    def _axes(self) -> list[str]:
        """Which way X and Y run, beside the plan."""
        x, y = self.left - 17, min(self.plan_bottom - 1, ABOVE + 8)  # high enough for the heights told below
        head_x = f"{x + 7:.2f},{y:.2f} {x + 5.4:.2f},{y - 0.8:.2f} {x + 5.4:.2f},{y + 0.8:.2f}"
        head_y = f"{x:.2f},{y - 7:.2f} {x - 0.8:.2f},{y - 5.4:.2f} {x + 0.8:.2f},{y - 5.4:.2f}"
        return [
            mark.line(x, y, x + 6, y, 0.35),
            mark.line(x, y, x, y - 6, 0.35),
            f'<polygon points="{head_x}" fill="{INK}"/><polygon points="{head_y}" fill="{INK}"/>',
            mark.text(x + 7.8, y + 1.1, "X"),
            mark.text(x, y - 7.8, "Y", "middle"),
        ]

    def _size(self, mm: float) -> str:
        return _told_size(mm, self.units)
