"""`make exactness`: docs/exactness.md and its plot."""

from __future__ import annotations

import argparse
import math
from collections.abc import Sequence
from pathlib import Path

from proof import svg
from proof.exactness import grids, motion, solids
from proof.exactness.grids import CELLS, DIAMETER, OWN, POSES, WORDS, Row
from proof.exactness.motion import Moved
from proof.exactness.solids import CELL, Solid
from proof.markdown import table

DOCS = Path(__file__).parents[2] / "docs"
PLOT = Path("pictures") / "exactness.svg"
GOAL = 0.7


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m proof.exactness", description=__doc__)
    parser.add_argument("--poses", type=int, default=POSES, help="random poses on each grid (default %(default)s)")
    parser.add_argument(
        "--programs", type=int, default=solids.PROGRAMS, help="programs against solids (default %(default)s)"
    )
    given = parser.parse_args()
    rows = grids.study(given.poses)
    programs = solids.study(given.programs)
    moved = motion.study()
    (DOCS / PLOT.parent).mkdir(exist_ok=True)
    (DOCS / PLOT).write_text(plot(rows))
    (DOCS / "exactness.md").write_text(page(rows, programs, moved, given.poses))


def page(rows: Sequence[Row], programs: Sequence[Solid], moved: Sequence[Moved], poses: int) -> str:
    """The whole page."""
    off = [one.depth_mm for one in programs]
    told = [
        TOP.format(poses=poses, least=1e3 * CELLS[-1], most=1e3 * CELLS[0]),
        "",
        *table(grid_rows(rows)),
        "",
        f"![Errors against the size of the cells]({PLOT})",
        "",
        *NOTES,
        "",
        SOLIDS.format(n=len(programs), cell=CELL, sides=solids.SIDES),
        "",
        *table(solid_rows(programs)),
        "",
        f"In all: rms {100 * _rms([one.off for one in programs]):.2f} % of the volume, or a layer of {1e3 * _rms(off):.1f} µm over what was "
        f"cut; worst {100 * max(abs(one.off) for one in programs):.2f} % and {1e3 * max(map(abs, off)):.1f} µm, of cells of {1e3 * CELL:.0f} µm.",
        "",
        MOTION,
        "",
        *table(moved_rows(moved)),
        "",
        *_moved_words(moved),
    ]
    return "\n".join(told) + "\n"


def _rms(values: Sequence[float]) -> float:
    return math.sqrt(sum(one * one for one in values) / len(values))


def grid_rows(rows: Sequence[Row]) -> list[list[str]]:
    per_d = [f"D/{DIAMETER / cell:.0f} ({1e3 * cell:.0f} µm)" for cell in CELLS]
    told = [
        [
            "rms error of",
            *per_d,
            "slope",
            "goal ≥ 0.7",
            f"mean error at D/{DIAMETER / CELLS[OWN]:.0f}",
            "u stated there",
            "rms over u",
        ]
    ]
    for row in rows:
        words, unit, many = WORDS[row.name]
        stated = "-" if row.stated is None else f"{many * row.stated:.3g} {unit}"
        over = "-" if row.stated is None else f"{row.rms[OWN] / row.stated:.2f}"
        met = "met" if row.slope >= GOAL else f"{row.slope - GOAL:+.2f}"
        rms = [f"{many * one:.3g} {unit}" for one in row.rms]
        told.append([words, *rms, f"{row.slope:.2f}", met, f"{many * row.mean:+.3g} {unit}", stated, over])
    return told


def plot(rows: Sequence[Row]) -> str:
    """ln(rms) over ln(cell), each quantity against what it is at the coarsest grid."""
    x = svg.Axis(CELLS[-1] * 0.9, CELLS[0] * 1.1, (0.1, 0.2, 0.4), "size of the cells, mm", logarithmic=True)
    y = svg.Axis(0.08, 1.6, (0.1, 0.2, 0.5, 1.0), "rms error over that at D/15", logarithmic=True)
    panel = svg.Panel(60, 30, 420, 320, x, y, "Errors fall with the cells")
    parts = [panel.frame(), panel.line([(CELLS[-1], CELLS[-1] / CELLS[0]), (CELLS[0], 1.0)], svg.INK, dashed=True)]
    parts.append(svg.text(500, 48, "dashed: slope 1", 10))
    for k, row in enumerate(rows):
        colour = svg.COLOURS[k]
        points = [(cell, one / row.rms[0]) for cell, one in zip(CELLS, row.rms, strict=True)]
        parts.append(panel.line(points, colour))
        parts += [panel.point(cell, one, colour) for cell, one in points]
        parts.append(f'<rect x="500" y="{62 + 20 * k}" width="10" height="10" fill="{colour}"/>')
        parts.append(svg.text(516, 71 + 20 * k, f"{WORDS[row.name][0]}: {row.slope:.2f}", 10))
    return svg.picture(700, 400, parts, "Root mean square errors against the size of the cells, six quantities")


def solid_rows(programs: Sequence[Solid]) -> list[list[str]]:
    told = [
        [
            "tool",
            "moves",
            "by solids, mm³",
            "by cells, mm³",
            "off",
            "as a layer over the cut",
            "worst 5 mm window, as the sweep tells it",
        ]
    ]
    for one in programs:
        told.append(
            [
                one.kind,
                str(one.moves),
                f"{one.exact:.2f}",
                f"{one.found:.2f}",
                f"{100 * one.off:+.2f} %",
                f"{1e3 * one.depth_mm:+.1f} µm",
                f"{100 * one.residual:.1f} %",
            ]
        )
    return told


def moved_rows(moved: Sequence[Moved]) -> list[list[str]]:
    told = [["path", "", "planned, s", "quickest by the optimiser, s", "slower by"]]
    for one in moved:
        if one.oracle_s is not None:
            told.append(
                [one.sort, one.what, f"{one.planned_s:.4f}", f"{one.oracle_s:.4f}", f"{100 * one.slower:+.2f} %"]
            )
    return told


def _moved_words(moved: Sequence[Moved]) -> list[str]:
    found = [one for one in moved if one.end_off_mm is not None and one.speed_off_mm_per_s is not None]
    end = max(abs(one.end_off_mm or 0.0) for one in found)
    speed = max(abs(one.speed_off_mm_per_s or 0.0) for one in found)
    return [
        f"**Integration.** {len(found)} random lines of sections with their own feeds: the plan's acceleration, added up twice from rest over "
        f"{motion.FINE:,} steps, ends within {1e6 * end:.2f} nm of the line's end, and its speed is never further off than {speed:.1e} mm/s."
    ]


TOP = """# How exact are the numbers?

Written by `make exactness` (`proof/exactness/`): the stock followed on cells, the loads reckoned from it, and the motion plan, each
against something exact.

## Cells

A flat mill of 6 mm clears one side of a straight edge and takes a pass of a quarter of its diameter, 2 mm deep, along it; a body of 5 mm
radius goes along an upright wall. {poses} random places and angles on the cells, five grids of {least:.0f} to {most:.0f} µm. Width, angle and
torque are looked at station by station in the middle 8 mm of the pass. Truth: closed forms (arccos(1 - 2·ae/D) for the angle; for the torque the
integral of Kienzle's law over it) and exact polygons (shapely) for volume and time in the cut. The slope is that of ln(rms) over ln(cell)."""
NOTES = (
    "**What is in each answer's doubt.** The width of a cut is known to cell/√12, and loads have that in theirs as the fact `following.width`, to the power that "
    "they go with it. A gap sideways has cell/√6 as `following.grid` or as its contact's own doubt. "
    "The angle enters answers through the thickest chip, which has its doubt with the width's in `following.width`, and through the loads. A volume enters "
    "an answer where a drill's or a plunge's depth is told from it (`chips_out`, `reach`): `following.volume`, 0.3 cells over the diameter. Time in the cut enters "
    "one as the longest time that an edge rubs (`chip`): `following.time`, 0.8·√(D·cell) of way at both ends together. Loads are scaled up to the volume, never "
    "down: the range that this leaves is in `following.width`, and the volume's own error is far below it.",
    "",
    "**Gaps** are told from the near edge of a cell and over a whole way, so the nearest of many cells counts: they come out too small, "
    "by about half a cell, and never by more than cell/√2. rms over u is above 1 for that reason; it errs towards care. A gap on which an answer hangs is "
    "looked at again on cells a quarter as large (`removal/refining.py`).",
    "",
    "**Time in the cut** falls more slowly than the cell: a round tool meets stock with slivers thinner than a cell, and leaves it so. A sliver of width "
    "w is as long as √(D·w), so what is missed at either end goes with the root of the cell, and the slope can only be 0.5. It is about half a millimetre of "
    "way at either end, and comes out too short; more samples would not find it, only smaller cells. It is `following.time` where an answer hangs on it. "
    "The slope in the table is better than that for a reason that is no merit: stations lie a cell apart on the four coarser grids and two and a half cells "
    "on the finest (`removal/grid.py`), where a sliver is then counted for longer. With a station in each cell it was 0.56.",
)
SOLIDS = """## Random programs against solids

{n} programs of six to twelve straight moves up, down and along in a block of 20 x 18 x 5 mm, five kinds of tools, followed on cells of {cell:g} mm; the
same by mesh booleans (manifold3d): the hull of the tool at both ends of each move, {sides} sides of the circle's area, taken from the block."""
MOTION = """## Motion

The quickest motion there is, found by linear programs (scipy's HiGHS) that know nothing of the plan: for jerk-limited lines a search over the
times of their sections, for zigzags with corners exact up to its grid. The optimiser works on a grid of its own and comes out up to 1.3 %
too slow: that is what "-1 %" means."""

if __name__ == "__main__":
    main()
