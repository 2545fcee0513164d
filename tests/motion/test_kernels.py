"""The kernels: each curve against numerical integration, compiled against plain, one kind of arrays each."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from firstoff.motion import _kernels as kernels
from firstoff.motion import plan
from firstoff.motion.timeline import LimitedBy
from firstoff.path import _kernels as path_kernels
from firstoff.path.stations import stations
from tests.motion import paths, twin
from tests.path.ways import random_pieces

speeds = st.floats(0, 300)
accels = st.floats(50, 2e4)
jerks = st.floats(1e3, 1e7)
ways = st.floats(1e-3, 1e3)


def played(v: float, a: float, *phases: tuple[float, float]) -> tuple[float, float, float]:
    """Way, speed and acceleration after phases of (time, jerk), by numerical integration of the acceleration."""
    way = 0.0
    for span, jerk in phases:
        way += quad(lambda t, v=v, a=a, j=jerk: v + a * t + j * t * t / 2, 0, span)[0] if span > 0 else 0.0
        v, a = v + a * span + jerk * span**2 / 2, a + jerk * span
    return way, v, a


def test_the_numbers_of_rooms_agree() -> None:
    reasons = [member.name for member in LimitedBy]
    assert [getattr(kernels, name) for name in reasons] == [int(member) for member in LimitedBy]
    for name in ("RADIUS", "COSINE", "AXIAL_ACCEL", "AXIAL_JERK", "FASTEST", "STRAIGHT"):
        assert getattr(kernels, name) == getattr(path_kernels, name)


@given(speeds, st.floats(0, 1), st.floats(0, 300), accels, jerks)
@settings(deadline=None)
def test_a_rise_ends_where_it_aims(v: float, push: float, more: float, A: float, J: float) -> None:
    a = push * A
    u = v + 0.5 * a * a / J + more
    t1, t2, t3, way = kernels.rise_to(u, v, a, A, J)
    assert min(t1, t2, t3) >= 0
    assert a + J * t1 <= A * (1 + 1e-9)
    reached = played(v, a, (t1, J), (t2, 0.0), (t3, -J))
    assert reached[0] == pytest.approx(way, rel=1e-7, abs=1e-9)
    assert reached[1] == pytest.approx(u, rel=1e-7, abs=1e-9)
    assert reached[2] == pytest.approx(0, abs=1e-7 * A)


@given(speeds, st.floats(0, 300), accels, jerks)
@settings(deadline=None)
def test_a_ramp_covers_its_mean_speed(v: float, more: float, A: float, J: float) -> None:
    t1, t2, t3, way = kernels.rise_to(v + more, v, 0.0, A, J)
    assert way == pytest.approx((2 * v + more) / 2 * (t1 + t2 + t3), rel=1e-9)


@given(speeds, ways, accels, jerks)
@settings(deadline=None)
def test_reach_is_the_ramp_that_fills_its_way(v: float, way: float, A: float, J: float) -> None:
    u = kernels.reach(v, way, A, J)
    assert u >= v
    if u - v > 1e-6:
        assert kernels.rise_to(u, v, 0.0, A, J)[3] == pytest.approx(way, rel=1e-6)


@given(speeds, st.floats(0.01, 1), ways, accels, jerks)
@settings(deadline=None)
def test_reach_of_a_rise_under_way(v: float, push: float, way: float, A: float, J: float) -> None:
    a = push * A
    lowest = v + 0.5 * a * a / J
    way += kernels.rise_to(lowest, v, a, A, J)[3]
    u = kernels.reach_rising(v, a, way, 10 * lowest + 1e5, A, J)
    assert kernels.rise_to(u, v, a, A, J)[3] == pytest.approx(way, rel=1e-6)
    assert kernels.reach_rising(v, a, way, lowest, A, J) == lowest


@given(speeds, speeds, st.floats(1e-6, 1e3), accels, jerks)
@settings(deadline=None)
def test_the_top_between_two_speeds_fills_the_way(v0: float, v1: float, spare: float, A: float, J: float) -> None:
    way = kernels.rise_to(max(v0, v1), min(v0, v1), 0.0, A, J)[3] + spare
    u = kernels.top_between(v0, v1, way, A, J)
    assert u >= max(v0, v1)
    both = kernels.rise_to(u, v0, 0.0, A, J)[3] + kernels.rise_to(u, v1, 0.0, A, J)[3]
    assert both == pytest.approx(way, rel=1e-6, abs=1e-4)  # a speed next to v0 moves the way by sqrt of a float's step


@given(speeds, st.floats(0, 0.9), st.floats(0.01, 100), st.floats(0.01, 0.99), accels, jerks)
@settings(deadline=None)
def test_easing_passes_a_place_at_its_speed(
    v: float, push: float, more: float, part: float, A: float, J: float
) -> None:
    """Between easing fully (arriving without acceleration) and not at all, every way has one easing."""
    a = push * A
    u = v + more
    least = math.sqrt(max(a * a - 2 * J * more, 0.0)) if J * more < 0.5 * a * a else 0.0
    most = min(math.sqrt(a * a + 2 * J * more), A)
    far, near = kernels.eased(least, u, v, a, A, J)[3], kernels.eased(most, u, v, a, A, J)[3]
    way = near + part * (far - near)
    t1, t2, t3, end = kernels.pass_at(u, way, v, a, A, J)
    reached = played(v, a, (t1, J), (t2, 0.0), (t3, -J))
    assert reached[0] == pytest.approx(way, rel=1e-6, abs=1e-9)
    assert reached[1] == pytest.approx(u, rel=1e-6, abs=1e-9)
    assert reached[2] == pytest.approx(end, rel=1e-5, abs=1e-6 * A)


@given(st.floats(0, 100), st.floats(0, 1000), st.sampled_from([-1e4, 0.0, 1e4]), st.floats(0.01, 0.99))
@settings(deadline=None)
def test_time_of_way_undoes_the_way(v: float, a: float, j: float, part: float) -> None:
    longest = 0.05 if j >= 0 else max(a / 1e4, 1e-6)
    t = part * longest
    way = t * (v + t * (a / 2 + t * j / 6))
    if way > 1e-12:
        assert kernels.time_of_way(way, v, a, j, longest) == pytest.approx(t, rel=1e-6)


@given(st.floats(0.05, 1.0), st.floats(0.5, 100), accels, jerks, st.floats(1.001, 3))
@settings(deadline=None)
def test_what_an_arc_leaves_for_speeding_up_grows_with_its_limits(tier, radius, A, J, factor) -> None:
    bend = np.array([radius, 1.0, np.inf, np.inf, 0.0])
    accel, jerk = kernels.arc_limits(tier, A, J, bend)
    for more in (kernels.arc_limits(tier, A * factor, J, bend), kernels.arc_limits(tier, A, J * factor, bend)):
        assert more[0] >= accel
        assert more[1] >= jerk


@given(st.floats(0.05, 1.0), st.floats(0.5, 100), accels, jerks, st.floats(0.01, 1), st.floats(-1, 1), st.floats(-1, 1))
@settings(deadline=None)
def test_a_point_on_an_arc_stays_within_the_weaker_axis(tier, radius, A, J, part, push, twist) -> None:
    """Vectors of acceleration and jerk in polar coordinates, for any state an arc is allowed."""
    bend = np.array([radius, 1.0, np.inf, np.inf, 0.0])
    accel, jerk = kernels.arc_limits(tier, A, J, bend)
    fastest = min(math.sqrt(A * radius), (J * radius**2) ** (1 / 3))
    v = part * tier * fastest
    a = push * min(accel, math.sqrt(jerk * v))  # a ramp within the jerk from any lower speed
    j = twist * jerk
    assert math.hypot(a, v * v / radius) <= A * (1 + 1e-9)
    assert math.hypot(j - v**3 / radius**2, 3 * v * a / radius) <= J * (1 + 1e-9)


BANDS = np.array([[60.0, 2900.0, 5e4], [80.0, 2300.0, 3e4], [90.0, 1700.0, 1.7e4], [97.0, 1000.0, 6e3]])


def way_of_chain(v: float, top: float) -> tuple[float, float]:
    """(time, way) of the ramps of an arc's chain, by its pieces."""
    chain, joint = np.zeros((6, 8)), np.zeros(6, np.int64)
    count = kernels.chain_on_arc(v, top, BANDS, chain, joint)
    time = way = 0.0
    for n in range(count):
        assert chain[n, kernels.PLACE] == pytest.approx(way)
        aim = chain[n + 1, kernels.SPEED] if n + 1 < count else top
        t1, t2, t3, piece = kernels.rise_to(
            aim, chain[n, kernels.SPEED], 0.0, chain[n, kernels.ACCEL], chain[n, kernels.JERKED]
        )
        assert (t1, t2, t3) == pytest.approx(tuple(chain[n, kernels.JERKING : kernels.EASING + 1]))
        time, way = time + t1 + t2 + t3, way + piece
    return time, way


@given(st.floats(0, 96), st.floats(1e-3, 20))
@settings(deadline=None)
def test_reach_on_an_arc_fills_its_way_or_ends_with_the_bands(v: float, way: float) -> None:
    u = kernels.reach_on_arc(v, way, BANDS)
    assert v <= u <= BANDS[-1, 0]
    used = way_of_chain(v, u)[1]
    assert used <= way * (1 + 1e-6) + 1e-4
    if u < BANDS[-1, 0]:
        assert used == pytest.approx(way, rel=1e-6, abs=1e-4)


@given(st.floats(0, 97), st.floats(0, 97), st.floats(1e-3, 20), st.floats(1, 110))
@settings(deadline=None)
def test_the_top_of_an_arc_fills_its_way_or_is_capped(v0: float, v1: float, spare: float, most: float) -> None:
    most = max(most, v0, v1)
    way = way_of_chain(min(v0, v1), max(v0, v1))[1] + spare
    top = kernels.top_on_arc(v0, v1, way, most, BANDS)
    assert max(v0, v1) <= top <= most
    used = way_of_chain(v0, top)[1] + way_of_chain(v1, top)[1]
    assert used <= way + 1e-4
    if top < min(most, BANDS[-1, 0]):
        assert used == pytest.approx(way, rel=1e-6, abs=1e-4)


@pytest.mark.parametrize("seed", range(12))
def test_compiled_is_plain(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same sums in the same order; only the roots of two libraries may differ in the last place."""
    rng = np.random.default_rng(seed)
    track = paths.random_track(rng, 15) if seed % 2 else paths.random_lines(rng, 20, 0.05)
    limits = paths.random_limits(rng, full=seed % 3 == 0)
    compiled = plan.plan_motion(track, limits)
    monkeypatch.setattr(plan, "kernels", twin.plain_motion())
    monkeypatch.setattr(plan, "path_kernels", twin.plain_path())
    slow = plan.plan_motion(track, limits)
    assert slow.start_s == pytest.approx(compiled.start_s, rel=1e-12)
    assert np.array_equal(slow.limited_by, compiled.limited_by)


def test_each_kernel_is_compiled_for_one_kind_of_arrays() -> None:
    rng = np.random.default_rng(5)
    for full in (False, True):
        plan.plan_motion(paths.random_track(rng, 30), paths.random_limits(rng, full))
    plan.plan_motion(paths.random_lines(rng, 30, 0.02), paths.limits(tolerance=None, ahead=None, rate=None))
    list(stations(random_pieces(rng, 30), 0.5))
    for kernel in (*kernels.KERNELS, *path_kernels.KERNELS):
        assert len(kernel.signatures) == 1, kernel.__name__
