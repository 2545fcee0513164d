"""Thickness of chips and height of marks against closed forms and printed tables."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from firstoff.loads import _kernels as kernels
from firstoff.loads.constants import Constants, worst_chip
from firstoff.loads.edge_shape import edge_shape
from firstoff.loads.tooling import Tooling, loads_at
from firstoff.verdict.marks import corner_mark, ridge, wall_mark
from tests.loads import by_hand

Truth = Callable[..., None]
MEAN = "arc mean of the chip, 2·fz·ae/(D·φ) (Dijet 2018, p. 551; Ingersoll 2011, p. 451; table computed in the project's notes)"
MOST = (
    "thickest chip, 2·fz·√(q(1 - q)) up to half immersion, fz beyond (chip geometry; computed in the project's notes)"
)


def engaged(part: float, up: bool) -> np.ndarray:
    """Columns of the kernel for a cutter of 10 mm that takes a part of its diameter, 1 mm deep, one edge, force 1 a mm²."""
    arc = math.degrees(math.acos(1 - 2 * part))
    assembly = by_hand.flat(10.0, 1)
    constants = Constants(1.0, 0.0, 0.05, 0.0, 0.0)
    tool = Tooling("cutter", assembly, edge_shape(assembly), 1, 100.0, constants, {}, 0.1)
    side = by_hand.arc_side(1.0, 0.0, arc) if up else by_hand.arc_side(1.0, 180.0 - arc, 180.0)
    return loads_at(tool, constants, np.array([0]), by_hand.engagement_of([0], side=side), np.array([0.1]))[0]


@pytest.mark.parametrize(
    ("part", "mean", "most"),
    [
        (0.02, 0.14095, 0.28),
        (0.05, 0.22172, 0.43589),
        (0.10, 0.31080, 0.6),
        (0.20, 0.43136, 0.8),
        (0.25, 0.47746, 0.86603),
        (0.50, 0.63662, 1.0),
        (0.75, 0.71620, 1.0),
        (1.0, 0.63662, 1.0),
    ],
)
def test_chips_by_immersion(truth: Truth, part: float, mean: float, most: float) -> None:
    arc = math.acos(1 - 2 * part)
    for way in ("up", "down"):
        out = engaged(part, way == "up")
        got = out[kernels.TORQUE] * 2 * math.pi / (5.0 * arc * 0.1)  # mean force over the arc, of 1 N/mm², over fz
        truth(
            f"chip-mean-{part:g}-{way}",
            f"mean chip over feed per edge, ae/D {part:g}, {way}-milling",
            MEAN,
            mean,
            got,
            0.005 * mean,
        )
    # the thickest is told at the middle of a 2 degree bin, so it is off by up to a degree of turn
    truth(
        f"chip-most-{part:g}",
        f"thickest chip over feed per edge, ae/D {part:g}",
        MOST,
        most,
        float(engaged(part, True)[kernels.MOST]),
        0.018,
    )


@pytest.mark.parametrize(
    ("radius", "step", "height"), [(3, 0.3, 3.7523), (3, 0.5, 10.4348), (1.5, 0.2, 3.3370), (0.5, 0.1, 2.5063)]
)
def test_ridges_of_a_ball(truth: Truth, radius: float, step: float, height: float) -> None:
    source = "R - √(R² - s²/4) (tool maker's technical page prints it as R(1 - cos(asin(P/2R))); computed in the project's notes)"
    truth(
        f"chip-ridge-{radius:g}-{step:g}",
        f"ridge of a ball of radius {radius:g}, passes {step:g} apart",
        source,
        height,
        float(ridge(np.array([step]), radius)[0]) * 1000,
        6e-5,
        "µm",
    )


def test_marks_of_the_feed(truth: Truth) -> None:
    kyocera = "Kyocera, turning technical pages, 2016, p. 28: f²/(8·r), f 0.2, r 0.8"
    truth(
        "chip-corner-mark",
        "mark of a round corner",
        kyocera,
        6.25,
        float(corner_mark(np.array([0.2]), 0.8)[0]) * 1000,
        1e-9,
        "µm",
    )
    dormer = "Dormer Pramet, catalogue, 2021-22, p. 773, contour milling: fz²/(4·D)"
    truth(
        "chip-wall-mark-6",
        "mark on a wall, D 6, 0.05 mm",
        dormer,
        0.10417,
        float(wall_mark(np.array([0.05]), 6.0)[0]) * 1000,
        5e-6,
        "µm",
    )
    truth(
        "chip-wall-mark-10",
        "mark on a wall, D 10, 0.1 mm",
        dormer,
        0.25,
        float(wall_mark(np.array([0.1]), 10.0)[0]) * 1000,
        5e-6,
        "µm",
    )
    one = "Tungaloy, catalogue, 2020-21, p. L061: with run-out the mark is that of the feed a turn (in words); value from the form above"
    truth(
        "chip-wall-mark-run-out",
        "mark on a wall, D 10, three edges of 0.1 mm, one dominates",
        one,
        2.25,
        float(wall_mark(np.array([0.3]), 10.0)[0]) * 1000,
        5e-5,
        "µm",
    )


def test_the_true_path_of_an_edge(truth: Truth) -> None:
    """The kernel's chip against that between two true (trochoidal) paths: what the circle leaves out, at most 4 % beyond 15 degrees."""
    source = "Martellotti, Trans. ASME 63 (1941) 677, trochoidal path of an edge (from memory; computed in the project's notes)"
    assembly = by_hand.flat(10.0, 2)
    constants = Constants(1.0, 0.0, 0.05, 0.0, 0.0)
    tool = Tooling("cutter", assembly, edge_shape(assembly), 2, 100.0, constants, {}, 0.1)
    for degrees, true in ((15, 0.026645), (45, 0.070889), (90, 0.1), (135, 0.071535)):
        here = by_hand.engagement_of([0], side=by_hand.arc_side(1.0, degrees - 1.0, degrees + 1.0))
        got = 0.1 * float(loads_at(tool, constants, np.array([0]), here, np.array([0.1]))[0, kernels.MOST])
        what = f"chip at {degrees} deg, D 10, fz 0.1, two edges"
        truth(f"chip-trochoid-{degrees}", what, source, true, got, 0.04 * true, "mm")


@pytest.mark.parametrize(
    ("edges", "run_out", "fz", "most"),
    [(2, 0.005, 0.02, 0.025), (2, 0.05, 0.02, 0.04), (3, 0.1, 0.01, 0.03), (4, 0.0, 0.01, 0.01)],
)
def test_run_out_and_the_worst_edge(truth: Truth, edges: int, run_out: float, fz: float, most: float) -> None:
    source = "two edges differ by the reading of the indicator; no edge can take more than the feed a turn (Kline, DeVor, IJMTDR 23 (1983) 123, from memory)"
    got = float(worst_chip(np.array([fz]), edges, run_out)[0])
    truth(
        f"chip-run-out-{edges}-{run_out:g}",
        f"thickest chip of {edges} edges, fz {fz:g}, run-out {run_out:g}",
        source,
        most,
        got,
        1e-6,
        "mm",
    )
