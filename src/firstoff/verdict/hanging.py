"""What hangs on by a skin or by tabs at the last cut, and what these bear: their section times the shear strength of the material.

A skin under a cut that goes round a body bears a pull sideways and upward alike by shear along the whole of its edge (a plate that is punched
out, common practice: force = perimeter · thickness · shear strength); where the pull is along the skin it is pulled or pressed instead, and
bears more. A push above the skin folds a body over one of its edges, about which the far side of its skin alone is counted: a quarter of
all that the skin bears, at the breadth of the body. Tabs bear by their sections side by side; where they stand is not known, so nothing is
said of folding over on them. That the skin may be thinner than it looks, or cut through, is judged by itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from firstoff.facts.fact import Leaning
from firstoff.facts.held import AfterCutFree
from firstoff.removal.field import LEAST_CUT_MM, NOTHING
from firstoff.verdict.case import Case
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form

SKIN_TIMES = 2.0
"""What is thicker than this many times the skin that the job speaks of is no skin."""
LEAST_BODY_MM3 = 1.0
FAR_SIDE = 0.25
"""Of the edge of a square body, the part that lies at its breadth from the edge about which it folds; of a longer one, more."""
EDGE_SHARE = math.pi / 4
"""True length of an edge over the count of cells' sides along it, at the least: 1 along the axes of the grid, π/4 on the mean of all
directions (Crofton; from memory)."""


@dataclass(frozen=True, slots=True)
class Hanging:
    """One body, or several together, that nothing else holds. `bears` is the logarithm of N; `move` made the skin or the cut beside the
    tabs last."""

    move: int
    section_mm2: float
    bears: Form
    words: str
    breadth_mm: float = 0.0
    """Of a body on a skin: the widest circle that goes into it. 0 = not known."""

    @property
    def folds(self) -> Form | None:
        """Logarithm of the moment that it bears about its edge, N·mm."""
        return self.bears + math.log(FAR_SIDE * self.breadth_mm) if self.breadth_mm > 0.0 else None


def hanging(case: Case, facts: Leaning, told: Followed, held: AfterCutFree) -> tuple[Hanging, ...]:
    """What hangs on; the shear strength of the material is asked for only where something does."""
    found = _by_skin(case, told, held) if held.by == "skin" else _by_tabs(case, told, held)
    if not found:
        return ()
    material = facts.setting("job.material")
    strength = facts.number(f"materials.{material}.shear_strength") if material is not None else None
    if strength is None:
        return ()
    return tuple(
        Hanging(move, section, Form(math.log(section), ((strength.path, 1.0),)), words, breadth)
        for move, section, words, breadth in found
        if section > 0.0
    )


def _by_skin(case: Case, told: Followed, held: AfterCutFree) -> list[tuple[int, float, str, float]]:
    """Bodies within the cut: (move, section, words, breadth) of each, from the thickness along their edges."""
    after, maker, before = told.likely.after, told.likely.maker, told.likely.before
    thick = after.top.astype(np.float64) - (after.bottom_mm - after.grid.z0_mm)
    skin = (thick > LEAST_CUT_MM) & (thick <= SKIN_TIMES * (held.thick_mm or 0.0)) & (maker >= 0)
    if not skin.any():
        return []
    body = (thick > LEAST_CUT_MM) & ~skin
    label, count = ndimage.label(body)
    stock = ndimage.binary_fill_holes(before.top > NOTHING)
    at_rim = set(np.unique(label[stock & ~ndimage.binary_erosion(stock)]).tolist())
    cell, found = after.grid.cell_mm, []
    for one in range(1, count + 1):
        mine = label == one
        if one in at_rim or float(thick[mine].sum()) * cell**2 < LEAST_BODY_MM3:
            continue
        edges, sides = _edges(mine, skin)
        if not edges.size:
            continue
        left = float(thick.ravel()[edges].mean())
        section = EDGE_SHARE * sides * cell * left
        words = (
            f"a skin of {case.units.length(left)} round a body of {float(thick[mine].sum()) * cell**2 / 1000:.2g} cm³"
        )
        breadth = 2.0 * cell * float(ndimage.distance_transform_edt(np.pad(mine, 1)).max())
        found.append((int(maker.ravel()[edges].max()), section, words, breadth))
    return found


def _edges(body: NDArray[np.bool_], skin: NDArray[np.bool_]) -> tuple[NDArray[np.intp], int]:
    """Cells of the skin beside a body (numbered along rows, once for each side that they share), and how many sides that is."""
    cells = []
    for axis in (0, 1):
        for step in (1, -1):
            beside = np.roll(body, step, axis)
            beside[(0 if step == 1 else -1,) if axis == 0 else (slice(None), 0 if step == 1 else -1)] = False
            cells.append(np.flatnonzero(beside & skin))
    edges = np.concatenate(cells)
    return edges, int(edges.size)


def _by_tabs(case: Case, told: Followed, held: AfterCutFree) -> list[tuple[int, float, str, float]]:
    """Tabs as the job writes them: their sections side by side, under the last cut that goes as deep as they are thick."""
    if held.count is None or held.wide_mm is None or held.thick_mm is None:
        return []
    lowest = told.likely.moves.lowest_mm
    deep = np.flatnonzero(lowest <= told.likely.after.bottom_mm + held.thick_mm + LEAST_CUT_MM)
    if not deep.size:
        return []
    section = held.count * held.wide_mm * held.thick_mm
    size = f"{case.units.length(held.wide_mm)} x {case.units.length(held.thick_mm)}"
    return [(int(deep[-1]), section, f"{held.count} tabs of {size}", 0.0)]
