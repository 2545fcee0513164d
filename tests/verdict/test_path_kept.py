"""Path kept: corners under G64 and chords of curves, held against closed forms."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.facts.fact import FactSet
from firstoff.program.control import Control
from firstoff.program.reading import read_text
from firstoff.verdict.case import best
from firstoff.verdict.joints import tangents
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import path_kept

from .conftest import PROGRAM
from .synthetic import ask, case_of, followed_case, mask, move_of, number

CORNER = "machine.control.corner_tolerance"
Shop = Callable[..., Path]


def asked(shop: Shop, tol_mm: float, *more: object, program: str | None = None):  # type: ignore[no-untyped-def]
    folder = shop() if program is None else shop(program=lambda _: program)
    words = {"job.feature.0.what": "contour", "job.feature.0.tool": 1}
    return case_of(folder, number("job.feature.0.tol", tol_mm), *more, words=words)


def test_without_a_path_tolerance_nobody_asks(shop: Shop) -> None:
    finding, _ = ask(path_kept, case_of(shop()))
    assert "no path" in finding.not_asked


def test_a_corner_under_g64_is_rounded_by_the_tolerance_of_the_control(shop: Shop) -> None:
    # The small shop's control rounds by 20 µm; half of the tolerance is what a path may be off on either side.
    _, answered = ask(path_kept, asked(shop, 0.03))
    assert answered.answer is Answer.STOP
    assert answered.demand is not None
    assert answered.demand.value == pytest.approx(20.0)
    assert answered.capacity is not None
    assert answered.capacity.value == pytest.approx(15.0)
    assert "Line" in answered.why
    assert "20 µm" in answered.why
    _, wide = ask(path_kept, asked(shop, 0.12))
    assert wide.answer is Answer.CLEAR
    assert "60 µm either way" in wide.why


def test_exact_stop_keeps_every_corner(shop: Shop) -> None:
    case = asked(shop, 0.001, program=PROGRAM.replace("G54\n", "G54\nG61\n", 1))
    _, answered = ask(path_kept, case)
    assert answered.answer is Answer.CLEAR
    assert answered.needs == ()


def test_without_the_tolerance_of_the_control_nobody_can_say(shop: Shop) -> None:
    folder = shop(machine=lambda text: text.replace('corner_tolerance = "0.02 mm"\n', ""))
    words = {"job.feature.0.what": "contour"}
    _, answered = ask(path_kept, case_of(folder, number("job.feature.0.tol", 0.05), words=words))
    assert answered.answer is Answer.UNJUDGED
    assert [need.fact for need in answered.needs] == [CORNER]


def test_only_corners_beside_walls_that_stand_count(shop: Shop) -> None:
    case = asked(shop, 0.03)
    far = followed_case(case, surfaces={"wall_moves": mask(case)})
    assert ask(path_kept, far)[1].answer is Answer.CLEAR
    wall = mask(case, move_of(case, "G1 Y30"))
    assert ask(path_kept, followed_case(case, surfaces={"wall_moves": wall}))[1].answer is Answer.STOP


def test_a_way_round_an_outside_corner_may_be_rounded_where_the_part_has_ended(shop: Shop) -> None:
    # The way turns left at X50 Y30: with the part on its left, its corner lies R·tan(45°) = 3 mm before that of the way.
    case = asked(shop, 0.03)
    walls = mask(case, move_of(case, "G1 Y30"), move_of(case, "G1 X-5"))
    left, right = np.where(walls, 1, 0).astype(np.int8), np.where(walls, 2, 0).astype(np.int8)
    one = mask(case, move_of(case, "G1 X-5"))
    around = followed_case(case, surfaces={"wall_moves": walls & one, "wall_side": left})
    inside = followed_case(case, surfaces={"wall_moves": walls & one, "wall_side": right})
    assert ask(path_kept, inside)[1].answer is Answer.STOP
    # The corner at the end of the one wall is met by a move without a wall: it counts still.
    assert ask(path_kept, around)[1].answer is Answer.STOP
    outline = mask(case, *(move_of(case, text) for text in ("G1 X50 F2000", "G1 Y30", "G1 X-5", "G1 Y-5")))
    free = followed_case(case, surfaces={"wall_moves": outline, "wall_side": np.where(outline, 1, 0).astype(np.int8)})
    # All but the corner from the move down, which makes no wall, are outside corners.
    _, answered = ask(path_kept, free)
    lines = {place.place.line for place in answered.places}
    assert lines <= {int(case.moves.line[move_of(case, "G1 Z-2 F800")])}


def chords(radius: float, step_rad: float, many: int) -> str:
    angles = [step_rad * n for n in range(many + 1)]
    points = [f"G1 X{radius * math.cos(a):.6f} Y{radius * math.sin(a):.6f} F500" for a in angles]
    head, tail = PROGRAM.split("G1 X50 F2000\nG1 Y30\nG1 X-5\nG1 Y-5\n")
    return head + "\n".join(points) + "\n" + "G0 Z10\nG0 X-5 Y-5\n" + tail


def test_a_curve_cut_into_chords_is_left_by_their_sagitta(shop: Shop) -> None:
    radius, step = 10.0, 0.1
    case = asked(shop, 0.012, number(CORNER, 0.0), program=chords(radius, step, 12))
    case = followed_case(case, surfaces={"wall_moves": np.asarray(case.moves.kind == 1) & mask(case, *range(8, 19))})
    finding, answered = ask(path_kept, case)
    sagitta = radius * (1 - math.cos(step / 2))  # closed form of the circle segment
    found = [best(case.facts, one.demand) for one in finding.checks[0].limits if "curve" in one.what]
    assert found == [pytest.approx(sagitta * 1000, rel=1e-3)]
    assert answered.answer is Answer.STOP
    assert "arcs" in answered.do


@settings(max_examples=40, deadline=None)
@given(
    plane=st.sampled_from(["G17", "G18", "G19"]),
    way=st.sampled_from(["G2", "G3"]),
    centre=st.tuples(st.floats(-3, 3), st.floats(-3, 3)).filter(lambda c: math.hypot(*c) > 0.5),
    angle=st.floats(0.2, 5.5),
)
def test_directions_at_the_ends_of_an_arc_are_those_of_short_chords(
    plane: str, way: str, centre: tuple[float, float], angle: float
) -> None:
    """Against differences of points on the circle, made another way."""
    first, second, i, j = {"G17": ("X", "Y", "I", "J"), "G18": ("Z", "X", "K", "I"), "G19": ("Y", "Z", "J", "K")}[plane]
    axes = ["XYZ".index(first), "XYZ".index(second)]
    turn = angle if way == "G3" else -angle
    out = np.array([-centre[0], -centre[1]])

    def at(a: float) -> np.ndarray:
        c, s = math.cos(a), math.sin(a)
        return np.array(centre) + np.array([c * out[0] - s * out[1], s * out[0] + c * out[1]])

    end = at(turn)
    text = f"G21 G90 {plane}\nG1 X0 Y0 Z0 F100\n{way} {first}{end[0]:.9f} {second}{end[1]:.9f} {i}{centre[0]:.9f} {j}{centre[1]:.9f}\nM30\n"
    reading = read_text(text, "arc.nc", Control.of(FactSet(), "plain"))
    starts, ends, length = tangents(reading)
    small = 1e-5 * math.copysign(1.0, turn)
    for found, wanted in ((starts[1], at(small) - at(0.0)), (ends[1], at(turn) - at(turn - small))):
        assert found[axes] == pytest.approx(wanted / np.linalg.norm(wanted), abs=1e-4)
    assert length[1] == pytest.approx(angle * math.hypot(*centre), rel=1e-6)
