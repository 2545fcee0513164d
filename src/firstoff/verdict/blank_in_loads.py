"""What the doubt of the blank does to the loads of the cuts that meet its own faces.

Loads are reckoned in the likely blank. The sweep through the largest one, with every face moved out by twice its doubt, tells for each move
how much deeper and wider its cut may be; spread over those two standard uncertainties, that is the power to which the load goes with the face.
Force and torque are taken to go with depth and width in proportion, the thickest chip with the root of the width: the first is an upper bound
(a helix and a wide cut level the peak off), the second what a narrow cut does.

A face may lie at 0 mm, which has no logarithm. So each face with doubt has a fact of ours beside it, ten times its u, known to u, that moves
exactly with it (correlation 1): the draws and the trials of the face are those of the loads.

Left out: duty over windows of time, the loads of moves that cut nothing in the likely blank (said in words where they may be the worst).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from firstoff.facts.fact import Fact, FactGroup, FactSet, Shape
from firstoff.loads.cut_loads import Candidate, CutLoads, Quantity, Stretch
from firstoff.program.moves import Floats, Ints
from firstoff.removal.stock import Extent
from firstoff.removal.swept import PerMove
from firstoff.verdict.blank import DOUBTS
from firstoff.verdict.case import STOCK_FACES
from firstoff.verdict.followed import BLANK, STOCK

TIMES_U = 10.0
LOG_U = math.sqrt(math.log1p(1.0 / TIMES_U**2))
MOST = 20.0
"""Times that a cut may be deeper or wider than the likely one and still say by how much: beyond that it is simply not known."""
SIDES = ("x.low", "x.high", "y.low", "y.high")
DEEPER = {
    Quantity.TORQUE: 1.0, Quantity.POWER: 1.0, Quantity.BENDING: 1.0, Quantity.FORCE: 1.0, Quantity.THRUST: 1.0, Quantity.LIFT: 1.0,
    Quantity.WALL: 1.0, Quantity.FLOOR: 1.0,
}  # fmt: skip
"""Power of the depth of cut that each goes with."""
WIDER = {**DEEPER, Quantity.CHIP: 0.5, Quantity.THIN: 0.5}
"""The same of the width."""
HOLES = (Quantity.DRILL_THRUST, Quantity.TAP_TORQUE)


@dataclass(frozen=True, slots=True)
class Growth:
    """How much more each move cuts in the largest blank, f8[N], logarithms, never negative: by the top, by the bottom, by a side."""

    top: Floats
    bottom: Floats
    side: Floats


def faces_of(facts: FactSet) -> dict[str, tuple[str, float]]:
    """Face (``z.high``) -> path of its fact and +1 where the blank grows with it, of those that are in doubt."""
    found: dict[str, tuple[str, float]] = {}
    for face in (*SIDES, "z.low", "z.high"):
        outward = 1.0 if face.endswith("high") else -1.0
        choices = (
            (f"{STOCK}box.{face}", outward),
            (f"{STOCK}cylinder.{face}", outward),
            (f"{STOCK}cylinder.diameter", 1.0),
            (STOCK_FACES, 1.0),
        )
        for path, sign in choices:
            fact = facts.facts.get(path)
            if fact is not None and (face[0] != "z" or not path.endswith("diameter")):
                if fact.u > 0.0:
                    found[face] = path, sign
                break
    return found


def beside(path: str) -> str:
    """The fact of ours that moves with a face of the blank."""
    return BLANK + path.removeprefix(STOCK)


def with_blank_facts(facts: FactSet) -> FactSet:
    """The facts with those that loads go with beside the faces of the blank."""
    added: dict[str, Fact] = {}
    groups = list(facts.groups)
    for path in dict.fromkeys(path for path, _ in faces_of(facts).values()):
        face = facts.facts[path]
        made = Fact(
            beside(path),
            TIMES_U * face.u,
            face.u,
            "mm",
            face.df,
            Shape.LOGNORMAL,
            face.evidence,
            face.note,
            rests_on=(path,),
        )
        added[made.path] = made
        if facts.group_of(path) is None:
            groups.append(FactGroup((path, made.path), ((1.0, 1.0), (1.0, 1.0))))
    return facts.with_facts(added, tuple(groups))


def growth_of(likely: PerMove, largest: PerMove) -> Growth:
    """From the two sweeps. 0 of moves that cut nothing in the likely blank."""
    deep, deeper = (one.axial_mm.astype(np.float64) for one in (likely, largest))
    wide = likely.radial_mm.astype(np.float64)
    wider = wide + np.maximum(largest.compared_mm.astype(np.float64) - likely.compared_mm, 0.0)
    below = np.maximum(np.nan_to_num(likely.lowest_mm.astype(np.float64) - largest.lowest_mm), 0.0)
    above = np.maximum(deeper - deep - below, 0.0)
    return Growth(_log_ratio(deep + above, deep), _log_ratio(deep + below, deep), _log_ratio(wider, wide))


def _log_ratio(more: Floats, less: Floats) -> Floats:
    ratio = np.divide(more, less, out=np.ones(less.size), where=less > 0.0)
    return np.asarray(np.log(np.clip(ratio, 1.0, MOST)))


def with_blank(
    loads: CutLoads, facts: FactSet, extent: Extent, likely: PerMove, largest: PerMove, line: Ints
) -> CutLoads:
    """The loads with the blank among what they go with; `extent` of the likely blank."""
    faces = faces_of(facts)
    if not faces or largest is likely:
        return loads
    growth = growth_of(likely, largest)
    stretches = tuple(_stretch(one, faces, growth, extent, likely, largest, line) for one in loads.stretches)
    return replace(loads, stretches=stretches)


def _stretch(
    stretch: Stretch,
    faces: Mapping[str, tuple[str, float]],
    growth: Growth,
    extent: Extent,
    likely: PerMove,
    largest: PerMove,
    line: Ints,
) -> Stretch:
    if any(quantity in stretch.candidates for quantity in HOLES):
        return stretch  # thrust and torque of a hole do not hang on how deep it is
    candidates = {
        quantity: tuple(_leaning(one, quantity, faces, growth, extent) for one in found)
        for quantity, found in stretch.candidates.items()
    }
    return replace(
        stretch, candidates=candidates, doubts=(*stretch.doubts, *_only_if_larger(stretch, likely, largest, line))
    )


def _leaning(
    one: Candidate, quantity: Quantity, faces: Mapping[str, tuple[str, float]], growth: Growth, extent: Extent
) -> Candidate:
    powers: dict[str, float] = {}
    for face, log_ratio, by in _grown(one, faces, growth, extent):
        power = (DEEPER if face[0] == "z" else WIDER).get(quantity, 0.0) * by * log_ratio / (DOUBTS * LOG_U)
        if power != 0.0:
            path = beside(faces[face][0])
            powers[path] = powers.get(path, 0.0) + power
    return replace(one, exponents=(*one.exponents, *powers.items())) if powers else one


def _grown(
    one: Candidate, faces: Mapping[str, tuple[str, float]], growth: Growth, extent: Extent
) -> Iterator[tuple[str, float, float]]:
    """(face, logarithm of how much more is cut, way that its fact goes) of the faces that a station's cut hangs on. Of the sides that which it
    stands nearest to."""
    for face, grown in (("z.high", growth.top), ("z.low", growth.bottom)):
        if face in faces:
            yield face, float(grown[one.move]), faces[face][1]
    x, y = one.tip_mm[:2]
    away = {
        "x.low": abs(x - extent.x_low), "x.high": abs(x - extent.x_high), "y.low": abs(y - extent.y_low), "y.high": abs(y - extent.y_high),
    }  # fmt: skip
    sides = [side for side in SIDES if side in faces]
    if sides:
        side = min(sides, key=lambda each: away[each])
        yield side, float(growth.side[one.move]), faces[side][1]


def _only_if_larger(stretch: Stretch, likely: PerMove, largest: PerMove, line: Ints) -> tuple[str, ...]:
    """A move that cuts nothing in the likely blank and, in the largest, more than any does in the likely one."""
    here = slice(stretch.first_move, stretch.last_move + 1)
    cuts = likely.volume_mm3[here] > 0
    most = float(np.max((likely.axial_mm[here] * likely.radial_mm[here])[cuts], initial=0.0))
    more = largest.axial_mm[here] * largest.compared_mm[here]
    new = np.flatnonzero(~cuts & (largest.volume_mm3[here] > 0) & (more > most))
    if not new.size:
        return ()
    first = int(line[stretch.first_move + new[0]])
    return (
        f"Line {first} cuts nothing if the blank is as large as it likely is, and more than any other if it is as large as it may be: what that "
        "would cost is in no figure here.",
    )
