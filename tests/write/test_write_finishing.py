"""Ball finishing: closed forms on a dome, tolerance and cusps by brute force on a wave."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.errors import InputError
from firstoff.write.finishing import BallFinish, Surface, ball_finish, dome, step_over_mm, tip_at
from firstoff.write.tooling import Cut, Heights, Tool

from .tracing import extents, trace

B4 = Tool(7, "b4", 4.0)
CUT = Cut(1500.0, 400.0)
HEIGHTS = Heights(15.0, 4.0)


def wave(height: float, length: float) -> Surface:
    """Crests along both axes; greatest upward curvature about height·(2π/length)²."""
    k = 2 * math.pi / length
    return Surface(
        lambda x, y: height * math.cos(k * x) * math.cos(k * y) - height,
        lambda x, y: (-height * k * math.sin(k * x) * math.cos(k * y), -height * k * math.cos(k * x) * math.sin(k * y)),
    )


@given(st.floats(15, 80), st.floats(-9, 9), st.floats(-9, 9))
def test_the_tip_on_a_dome_lies_on_a_larger_dome(radius: float, x: float, y: float) -> None:
    # a ball of radius r rolling on a sphere of radius R keeps its centre at R + r from the sphere's
    tip = tip_at(dome((1.0, 2.0), 0.5, radius), 2.0, x, y)
    centre = (tip[0], tip[1], tip[2] + 2.0)
    assert math.dist(centre, (1.0, 2.0, 0.5 - radius)) == pytest.approx(radius + 2.0)


def test_the_path_on_a_dome_has_the_extents_of_the_closed_form() -> None:
    what = BallFinish(dome((0, 0), 0.0, 30.0), -8, 8, -6, 6, -2.0, 0.002, 0.01)
    steps = [step for step in trace(ball_finish(what, B4, CUT, HEIGHTS)) if step.kind == "feed"][
        1:
    ]  # without the plunge
    (x, y, z) = extents(steps)
    grown = 1 + 2.0 / 30.0
    assert x == pytest.approx((-8 * grown, 8 * grown))
    assert y == pytest.approx((-6 * grown, 6 * grown))
    # a row of contacts may pass beside the very top: less than cusp_mm below it
    assert -0.01 < z[1] <= 1e-12
    corner = math.sqrt(30**2 - 8**2 - 6**2)
    assert z[0] == pytest.approx(corner * grown - 30 - 2.0)


@given(st.floats(0.001, 0.02), st.floats(0.2, 0.8), st.floats(14, 30))
@settings(max_examples=12, deadline=None)
def test_no_point_of_the_path_leaves_the_surface_by_more_than_the_tolerance(
    tolerance: float, height: float, length: float
) -> None:
    surface = wave(height, length)
    what = BallFinish(surface, -10, 10, -3, 3, -3.0, tolerance, 0.03)
    steps = [step for step in trace(ball_finish(what, B4, CUT, HEIGHTS)) if step.kind == "feed"][1:]
    path = np.array([step.at(k / 5) for step in steps for k in range(5)])
    # gap between ball and surface, by brute force over a patch around each place
    patch = np.linspace(-1.6, 1.6, 81)
    k = 2 * math.pi / length
    chosen = path[:: max(1, len(path) // 150)]
    px, py = np.meshgrid(patch, patch)
    for tip in chosen:
        gx, gy = tip[0] + px, tip[1] + py
        gz = height * np.cos(k * gx) * np.cos(k * gy) - height
        gap = float((np.sqrt(px**2 + py**2 + (gz - tip[2] - 2.0) ** 2)).min()) - 2.0
        grid = 2 * (0.02**2) / (2 * 2.0)  # how far the nearest point of the patch can lie off the true one
        assert -tolerance - 1e-9 <= gap <= tolerance + grid


@given(st.floats(0.002, 0.05), st.floats(12, 200))
def test_cusps_between_two_rows_on_a_dome_stay_below_what_was_asked(cusp: float, radius: float) -> None:
    what = BallFinish(dome((0, 0), 0, radius), -4, 4, -5, 5, -9, 0.01, cusp)
    step = step_over_mm(what, 2.0)
    slope = 5 / math.sqrt(radius**2 - 25)
    # two contacts a step apart (seen from above) at the steepest place; the ridge is where both balls meet
    for y in (-5.0, -step / 2, 5.0 - step):
        one, two = (tip_at(what.surface, 2.0, 0.0, at) for at in (y, y + step))
        c1, c2 = np.array([one[1], one[2] + 2.0]), np.array([two[1], two[2] + 2.0])
        half = np.linalg.norm(c2 - c1) / 2
        middle, along = (c1 + c2) / 2, (c2 - c1) / (2 * half)
        ridge = middle - math.sqrt(4.0 - half**2) * np.array([-along[1], along[0]])
        left_standing = np.linalg.norm(ridge - np.array([0.0, -radius])) - radius
        assert 0 < left_standing <= cusp * 1.02 + 1e-9  # 2 %: to second order in the step
    assert step >= 2 * math.sqrt(2 * cusp * 2.0 / (1 + 2.0 / radius)) / math.sqrt(1 + slope**2) * 0.97


@pytest.mark.parametrize(
    ("radius", "step", "cusp"),
    [(3.0, 0.3, 0.0037523), (3.0, 0.5, 0.0104348), (1.5, 0.2, 0.0033370), (0.5, 0.1, 0.0025063)],
)
def test_cusps_on_a_flat_are_those_of_plane_geometry(radius: float, step: float, cusp: float) -> None:
    # h = R - sqrt(R² - s²/4): plane geometry, worked out apart from this project's code
    flat = Surface(lambda x, y: 0.0, lambda x, y: (0.0, 0.0))
    what = BallFinish(flat, 0, 10, 0, 10, -1, 0.01, cusp)
    assert step_over_mm(what, radius) == pytest.approx(step, rel=2e-5)


def test_rows_alternate_and_meet_along_the_surface() -> None:
    what = BallFinish(dome((0, 0), 0.0, 30.0), -8, 8, -6, 6, -2.0, 0.002, 0.01)
    steps = [step for step in trace(ball_finish(what, B4, CUT, HEIGHTS)) if step.kind == "feed"][1:]
    assert max(math.dist(step.start, step.end) for step in steps) < 6
    ys = [step.end[1] for step in steps]
    assert all(b >= a - 0.3 for a, b in itertools.pairwise(ys))


def test_a_finer_tolerance_takes_more_moves() -> None:
    def count(tolerance: float) -> int:
        return len(ball_finish(BallFinish(dome((0, 0), 0, 30), -8, 8, -6, 6, -2, tolerance, 0.01), B4, CUT, HEIGHTS))

    # chords of an arc: their number goes with one over the square root of the tolerance
    assert count(0.00005) > 1.5 * count(0.0002)


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        (BallFinish(wave(3.0, 12.0), -6, 6, -6, 6, -9, 0.01, 0.01), "hollow"),
        (BallFinish(dome((0, 0), 0, 6), -8, 8, -1, 1, -9, 0.01, 0.01), "steep or ends"),
        (BallFinish(dome((0, 0), 0, 30), -8, 8, -6, 6, -0.5, 0.01, 0.01), "below the bottom"),
        (BallFinish(dome((0, 0), 0, 30), -8, 8, -6, 6, -2, 0.0, 0.01), "tolerance_mm"),
        (BallFinish(dome((0, 0), 0, 30), -8, 8, -6, 6, -2, 0.01, 5.0), "cusp_mm"),
        (BallFinish(dome((0, 0), 0, 30), 8, -8, -6, 6, -2, 0.01, 0.01), "width_x_mm"),
        (BallFinish(dome((0, 0), 5.0, 30), -8, 8, -6, 6, -2, 0.01, 0.01), "approach_z_mm"),
    ],
)
def test_a_surface_that_cannot_be_finished_is_refused(wrong: BallFinish, told: str) -> None:
    with pytest.raises(InputError, match=told):
        ball_finish(wrong, B4, CUT, HEIGHTS)
