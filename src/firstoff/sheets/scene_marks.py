"""The places of stop and care in the turned picture: where the tip stands there, what of it touches what, and two short lines that say so."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Part
from firstoff.facts.fact import FactSet
from firstoff.program.moves import Floats
from firstoff.removal.contact import STOCK
from firstoff.removal.swept import Contact
from firstoff.sheets.around_part import Box, Solid
from firstoff.sheets.held import held_of
from firstoff.sheets.tool_outline import Outline, part_span
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.verdict.question import Answer, Answered, AnsweredPlace
from firstoff.verdict.words import ShopUnits, odds, two_figures

MOST_MARKS = 400
"""Of a program that is wrong everywhere the worst and the first are enough: the table of the question names the others."""
SAMPLES = 65
"""Places along one rapid that are looked at for where it goes deepest into a fixture."""
TOUCHES_MM = 0.005
"""Less is the rounding of a program's third decimal."""
TOUCHING = ("rapid_contact", "body_contact", "reach", "keep_out")
"""Questions that may speak of what the tool and what carries it come near to."""
SAYS = {
    "travel": "End of travel",
    "keep_out": "Into a space kept free",
    "below": "Deeper than is allowed",
    "cuts": "Cuts air",
    "reach": "Reach of the edge",
    "torque": "Torque of the spindle",
    "power": "Power of the spindle",
    "duty": "Spindle, over minutes",
    "strength": "Stress in the tool",
    "chip": "Thickness of the chip",
    "chips_out": "Way out for the chips",
    "holding": "Hold on the stock",
    "size": "Wall or floor off its size",
    "step": "Step between two tools",
    "path_kept": "Path reached, off the path",
    "finish": "Roughness left",
    "feed": "Feed and time",
    "spindle": "Spindle at first contact",
    "tool": "Tool in the spindle",
    "leftovers": "Left on, or stopped",
    "understood": "Not understood",
    "target": "Off the target part",
}  # fmt: skip
"""The first line, where the place is no contact."""
GOES_IN = re.compile(
    r"(?:the )?(?P<who>.+?)(?: at rapid)? goes (?P<much>[\d.]+ \S+) into (?P<what>.+?)(?: at rapid)?(?: if .*)?\.?$"
)
ENTERS = re.compile(r"(?:the )?(?P<who>.+?) enters (?P<what>.+?) by (?P<much>[\d.]+ \S+?)\.?$")
PASSES = re.compile(
    r"(?:the )?(?P<who>.+?) passes (?:at rapid )?(?P<much>[\d.]+ \S+) (?P<where>(?:above|below) .+?)\.?$"
)
BESIDE = re.compile(r"(?:the )?(?P<who>tool) feeds beside the blank (?P<much>[\d.]+ \S+) (?P<where>.+?)\.?$")
RUBS = re.compile(r" is (?P<chip>[\d.]+ \S+) where it is thin; below (?P<least>[\d.]+ \S+) its edge rubs")
COMES_NEAR = re.compile(
    r"(?:the )?(?P<who>.+?)(?: at rapid)? passes (?P<what>.+?) at (?P<much>[\d.]+ \S+?)(?: .*)?\.?$"
)


@dataclass(frozen=True, slots=True)
class Fill:
    """What is filled: the tool between two heights over its tip, where it is inside of a solid."""

    box: Box
    round: bool
    low_mm: float
    high_mm: float


@dataclass(frozen=True, slots=True)
class Mark:
    """One place. `tip` is where the tip of the tool stands, mm in the work frame; `says` are two short lines, the second may be empty."""

    question: str
    answer: Answer
    line: int
    move: int
    tip: tuple[float, float, float]
    says: tuple[str, str]
    fills: tuple[Fill, ...]


@dataclass(frozen=True, slots=True)
class Around:
    """What a place is told with: outlines by T, solids that stand around, the blank's box, the way of each move as points f8[K, 3]."""

    outlines: dict[int, Outline]
    solids: Sequence[Solid]
    blank: Box | None
    points_of: Callable[[int], Floats]


def marks_of(examination: Examination, around: Around) -> list[Mark]:
    """Every place that is a stop or care and lies on the way, worst first; of one line and one question only the first that is named."""
    found: dict[tuple[str, int], Mark] = {}
    for answered in examination.answers:
        for place in _told_best(answered):
            key = (answered.question.id, place.place.line)
            if place.answer in (Answer.STOP, Answer.CARE) and key not in found and place.place.move >= 0:
                mark = _mark(examination, answered, place, around)
                if mark is not None:
                    found[key] = mark
    return sorted(found.values(), key=lambda one: one.answer is not Answer.STOP)[:MOST_MARKS]


def _told_best(answered: Answered) -> list[AnsweredPlace]:
    """The places of one question, worst first; of what is as bad, what goes into something says more than what is only too low."""
    return sorted(answered.places, key=lambda one: (-one.answer.rank, " into " not in one.what))


def _mark(examination: Examination, answered: Answered, place: AnsweredPlace, around: Around) -> Mark | None:
    move, case = place.place.move, examination.case
    points = around.points_of(move)
    if not len(points):
        return None
    outline = around.outlines.get(int(case.moves.tool[move]))
    tip = _triple(points[-1])
    fills: Sequence[Fill] = ()
    if answered.question.id in TOUCHING:
        tip, fills = _touching(examination, place, outline, points, around)
    says = callout(answered, place, examination.facts, case.units)
    return Mark(answered.question.id, place.answer, place.place.line, move, tip, says, tuple(fills))


def _triple(point: Floats) -> tuple[float, float, float]:
    x, y, z = (float(value) for value in point)
    return x, y, z


def _touching(
    examination: Examination, place: AnsweredPlace, outline: Outline | None, points: Floats, around: Around
) -> tuple[tuple[float, float, float], Sequence[Fill]]:
    """(tip, fills) of a contact: where the sweep met the stock, else where the move goes deepest into a fixture."""
    met = _met(examination, place)
    if met is not None and outline is not None and around.blank is not None:
        return met.tip_mm, _in_stock(met, outline, around.blank)
    if outline is None:
        return _triple(points[-1]), ()
    solids = [
        one for one in around.solids if one.name in place.what
    ] or around.solids  # a move may meet two; one is spoken of
    tip = deepest(outline, points, solids)
    return tip, touched(outline, tip, solids)


def _met(examination: Examination, place: AnsweredPlace) -> Contact | None:
    """The contact with the stock that a place speaks of: the deepest of its move, of the part that it names."""
    told = examination.case.followed
    if not isinstance(told, Followed) or "into the stock" not in place.what:
        return None
    mine = [
        one
        for swept in (told.likely, told.largest)
        for one in swept.contacts
        if one.move == place.place.move and one.against == STOCK and one.gap_mm < 0
    ]
    return min(mine, key=lambda one: one.gap_mm, default=None)


def _in_stock(met: Contact, outline: Outline, blank: Box) -> tuple[Fill, ...]:
    span = part_span(outline, met.part)
    if span is None:
        return ()
    top = met.at_mm[2] if met.at_mm[2] > met.tip_mm[2] + span[0] else blank[2][1]
    low = span[0] if met.part is not Part.EDGE else 0.0
    return (Fill((blank[0], blank[1], (blank[2][0], top)), False, low, span[1]),)


def deepest(outline: Outline, points: Floats, solids: Sequence[Solid]) -> tuple[float, float, float]:
    """Where along a way f8[K, 3] the tool goes deepest into what stands around; its end where it touches nothing."""
    if len(points) > 1:
        share = np.linspace(0.0, 1.0, SAMPLES)[:, None]
        ways = [begin + share * (end - begin) for begin, end in pairwise(points)]
        points = np.vstack(ways)
    into = _into(outline, points, solids)
    # Of a long contact the middle: its edges are where it begins and ends.
    worst = np.flatnonzero(into > max(into.max(initial=0.0) - TOUCHES_MM, TOUCHES_MM))
    return _triple(points[worst[len(worst) // 2]] if worst.size else points[-1])


def _into(outline: Outline, points: Floats, solids: Sequence[Solid]) -> Floats:
    """f8[K] how deep the outline stands in the solids with its tip at each point, mm; 0 where it stands clear."""
    depth = np.zeros(len(points))
    for solid in solids:
        beside = _beside(solid, points)
        for one in outline.segments:
            high, low = points[:, 2] + one.z1_mm - solid.box[2][0], solid.box[2][1] - points[:, 2] - one.z0_mm
            aside = max(one.r0_mm, one.r1_mm) - beside
            depth = np.maximum(depth, np.minimum(np.minimum(high, low), aside))
    return depth


def _beside(solid: Solid, points: Floats) -> Floats:
    """f8[K] how far the axis passes beside a solid, seen from above; negative inside a cylinder."""
    (x0, x1), (y0, y1), _ = solid.box
    x, y = points[:, 0], points[:, 1]
    if solid.round:
        away: Floats = np.hypot(x - (x0 + x1) / 2, y - (y0 + y1) / 2) - (x1 - x0) / 2
        return away
    outside: Floats = np.hypot(np.maximum(np.maximum(x0 - x, x - x1), 0.0), np.maximum(np.maximum(y0 - y, y - y1), 0.0))
    return outside


def touched(outline: Outline, tip: tuple[float, float, float], solids: Iterable[Solid]) -> tuple[Fill, ...]:
    """The solids that the drawn tool stands in, each with all of the tool."""
    at = np.array([tip])
    top = max(one.z1_mm for one in outline.segments)
    inside: list[Fill] = []
    for solid in solids:
        if _into(outline, at, [solid])[0] > TOUCHES_MM:
            inside.append(Fill(solid.box, solid.round, 0.0, top))
    return tuple(inside)


# --- two lines --------------------------------------------------------------------------------------------------------


def callout(answered: Answered, place: AnsweredPlace, facts: FactSet, units: ShopUnits) -> tuple[str, str]:
    """What, and by how much."""
    sentence = re.sub(r"^Line \d+: ", "", place.what).replace("the cutting edge", "the edge")
    if answered.question.id in TOUCHING:
        told = contact_lines(sentence)
        if told is not None:
            return told
    first = SAYS.get(answered.question.id, answered.question.asks)
    if rubs := RUBS.search(sentence):
        return first, f"{rubs['chip']}; rubs below {rubs['least']}"
    together = "together " if " sideways and pulls up " in sentence else ""  # the sentence tells the two parts
    much = _by_how_much(answered, place, facts, units)
    return first, f"{together}{much}" if much else ""


def contact_lines(sentence: str) -> tuple[str, str] | None:
    """The two lines of a sentence about a contact; None where it is none that these questions say."""
    rapid = ", at rapid" if "at rapid" in sentence else ""
    if goes := GOES_IN.match(sentence):
        return _capital(f"{goes['who']} meets {goes['what']}"), f"{goes['much']} into it{rapid}"
    if enters := ENTERS.match(sentence):
        return _capital(f"{enters['who']} enters {enters['what']}"), f"by {enters['much']}"
    if over := PASSES.match(sentence) or BESIDE.match(sentence):
        return _capital(
            f"{over['who']} too low{' at rapid' if rapid else ' beside the blank'}"
        ), f"{over['much']} {over['where']}"
    if near := COMES_NEAR.match(sentence):
        return _capital(f"{near['who']} near {near['what']}"), f"{near['much']} between them{rapid}"
    return None


def _by_how_much(answered: Answered, place: AnsweredPlace, facts: FactSet, units: ShopUnits) -> str:
    """The demand at this place, and what it is held against where that is the same here: at the place that is worst. As on its scale what must
    be reached comes last; and what is against you only because of its doubt says how likely it goes over."""
    unit = answered.demand.unit if answered.demand is not None else ""
    if place.demand is None or not math.isfinite(place.demand) or not unit:
        return ""
    if answered.places[0] is not place or answered.capacity is None or answered.capacity.value == 0:
        return _figure(place.demand, unit, units)
    held = held_of(answered, facts, units)
    lower = held is not None and held.turned and not held.room
    pair = (place.demand, answered.capacity.value)
    first, last = reversed(pair) if lower else pair
    doubt = f", {odds(answered.chance)} over" if not lower and first < last and answered.chance else ""
    return f"{_figure(first, unit, units)} of {_figure(last, unit, units)}{doubt}"


def _figure(value: float, unit: str, units: ShopUnits) -> str:
    if unit == "mm":
        return units.length(value)
    if unit == "µm":
        return units.fine(value / 1000)
    return f"{two_figures(value)} {unit}".replace("-", "\u2212")


def _capital(words: str) -> str:
    """A capital, where a word begins: names of tools are written as the shop writes them."""
    first = words.split(" ", 1)[0]
    return words[:1].upper() + words[1:] if first.isalpha() else words


def points_by_move(
    at: NDArray[np.float32], move: NDArray[np.integer], jump: NDArray[np.bool_]
) -> Callable[[int], Floats]:
    """A function that gives the points of one move's way f8[K, 3] with the point it begins at; empty where it has none. `at` f[N, 3] by
    `move` i[N] in order, `jump` bool[N] as in `scene.Way`."""

    def of(wanted: int) -> Floats:
        mine = np.flatnonzero(move == wanted)
        if not mine.size:
            return np.empty((0, 3))
        first = int(mine[0])
        begins = first - 1 if first and not jump[first] else first
        return np.asarray(at[begins : int(mine[-1]) + 1], dtype=np.float64)

    return of
