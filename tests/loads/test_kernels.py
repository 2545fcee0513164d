"""The load kernels against plain sums, closed forms and laws of conservation."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.loads import _kernels as kernels
from firstoff.loads import constants as constants_module
from firstoff.loads.constants import Constants, law_table, shared_chips, worst_chip
from firstoff.loads.edge_shape import edge_shape
from firstoff.loads.tooling import Tooling, loads_at
from firstoff.removal.swept import ANGLES, RINGS, SLICES, Engagement
from tests.loads import by_hand, direct
from tests.motion.twin import plain

PLAIN = Constants(kc=1000.0, mc=0.0, at_mm=0.05, radial_ratio=0.3, axial_ratio=0.2)
KIENZLE = Constants(kc=900.0, mc=0.25, at_mm=0.05, radial_ratio=0.4, axial_ratio=0.25, edge_force=8.0, wear_factor=1.1)
TURNS = 400.0


def tooling(assembly, constants: Constants = PLAIN, clockwise: bool = True, top: float = 0.1) -> Tooling:
    turns = TURNS if clockwise else -TURNS
    return Tooling(assembly.name, assembly, edge_shape(assembly), assembly.edges, turns, constants, {}, top)


def reckoned(tool: Tooling, engagement: Engagement, fz: float, deep: bool = True) -> np.ndarray:
    """f8[K, COLUMNS] of all stations of an engagement."""
    rows = np.arange(len(engagement.stations))
    return loads_at(tool, tool.constants, rows, engagement, np.full(rows.size, fz), deep)


def random_side(rng: np.random.Generator, height: float = 5.0) -> np.ndarray:
    """An arc of material of one height, or of several."""
    low, high = sorted(rng.uniform(0.0, 180.0, 2))
    side = by_hand.arc_side(height, low, high)
    if rng.random() < 0.5:
        side *= np.repeat(rng.uniform(0.2, 1.0, 9), ANGLES // 9).astype(np.float32)
    return side


# --- run-out and the law of forces ------------------------------------------------------------------------------------------


@given(
    st.lists(st.floats(1e-6, 0.2), min_size=1, max_size=5),
    st.integers(1, 7),
    st.floats(0.0, 0.1),
    st.floats(0.0, 2 * math.pi),
)
def test_run_out_conserves_the_mean_chip(chips: list[float], edges: int, run_out: float, phase: float) -> None:
    chip = np.array(chips)
    own = shared_chips(chip, edges, run_out, phase)
    assert own.min() >= 0.0
    assert own.sum(axis=0) == pytest.approx(edges * chip, rel=1e-9)
    assert np.all(own <= edges * chip * (1 + 1e-9))


@settings(deadline=None)
@given(st.integers(2, 6), st.floats(1e-4, 0.05), st.floats(1e-3, 0.1))
def test_the_worst_edge_lies_between_an_even_share_and_all(edges: int, run_out: float, chip: float) -> None:
    worst = float(worst_chip(np.array([chip]), edges, run_out)[0])
    assert chip <= worst <= edges * chip * (1 + 1e-12)
    step = run_out * math.sin(math.pi / edges)
    """How far one edge can stand out before the next: the chord of two edges."""
    assert worst <= chip + max(step, 0.0) * edges / 2 + 1e-12 or worst == pytest.approx(edges * chip)


def test_run_out_greater_than_the_feed_leaves_all_to_one_edge() -> None:
    assert worst_chip(np.array([0.01]), 3, 0.2)[0] == pytest.approx(0.03)
    assert worst_chip(np.array([0.01]), 1, 0.2)[0] == 0.01


@pytest.mark.parametrize("run_out", [0.0, 0.004, 0.05])
@pytest.mark.parametrize("edges", [1, 2, 4])
def test_the_table_of_forces_errs_little(run_out: float, edges: int) -> None:
    """Interpolated between its rows against direct evaluation; the greatest difference above a thousandth of the top."""
    constants = replace(KIENZLE, run_out_mm=run_out, edge_force=0.0)
    top = 0.1
    law = law_table(constants, edges, top)
    chip = np.geomspace(top / 1000, top, 777)
    x = np.sqrt(chip / top) * (len(law) - 1)
    row = np.minimum(x.astype(int), len(law) - 2)
    part = (x - row)[:, None]
    found = law[row] + part * (law[row + 1] - law[row])
    off = 2 * math.pi / edges / constants_module.PHASES
    mean = np.mean(
        [direct.edge_forces(constants, own)[0] for k in range(constants_module.PHASES) for own in shared_chips(chip, edges, run_out, off * (k + 0.5))],
        axis=0,
    )  # fmt: skip
    worst = direct.edge_forces(constants, worst_chip(chip, edges, run_out))[0]
    errors = np.abs(found[:, kernels.MEAN] / mean - 1), np.abs(found[:, kernels.WORST] / worst - 1)
    print(
        f"table of forces, run-out {run_out}, {edges} edges: at most {errors[0].max():.1e} and {errors[1].max():.1e} off"
    )
    assert max(error.max() for error in errors) < 2e-3


# --- conservation -----------------------------------------------------------------------------------------------------------


def full_slope(assembly, high: float) -> np.ndarray:
    return np.linspace(0.0, high, SLICES + 1)


@given(
    st.integers(0, 10_000),
    st.sampled_from(["flat", "ball", "bull"]),
    st.floats(-0.9, 0.4),
    st.floats(0.0, 45.0),
    st.booleans(),
)
@settings(deadline=None, max_examples=60)
def test_work_is_force_by_volume(seed: int, kind: str, climb: float, helix: float, clockwise: bool) -> None:
    """With one cutting force for all chips and no edge force, the work over a step is kc times the volume that the edges sweep in it."""
    rng = np.random.default_rng(seed)
    assembly = {"flat": by_hand.flat(helix=helix, edges=3), "ball": by_hand.ball(helix=helix), "bull": by_hand.bull()}[
        kind
    ]
    way = np.array([math.cos(rng.uniform(0, 6)), math.sin(rng.uniform(0, 6)), 0.0])
    way = np.append(way[:2] / np.linalg.norm(way[:2]) * math.sqrt(1 - climb**2), climb)
    high = assembly.corner_mm * rng.uniform(0.1, 1.0)
    engagement = by_hand.engagement_of(
        [0], way, side=random_side(rng), slope=(rng.random((SLICES, ANGLES)) < 0.5) if kind != "flat" else None,
        slope_z=full_slope(assembly, high) if kind != "flat" else None, end=(rng.random((RINGS, 2 * ANGLES)) < 0.5) if climb < 0 else 0.0,
    )  # fmt: skip
    fz = 0.03
    tool = tooling(assembly, PLAIN, clockwise)
    out = reckoned(tool, engagement, fz)[0]
    feed = fz * tool.edges * TURNS
    per_mm = 2 * math.pi * TURNS * out[kernels.TORQUE] / feed
    assert per_mm == pytest.approx(PLAIN.kc * out[kernels.AREA], rel=1e-9)


@given(st.integers(0, 10_000), st.floats(5.0, 60.0), st.integers(1, 5))
@settings(deadline=None, max_examples=40)
def test_helix_moves_load_but_adds_none(seed: int, helix: float, edges: int) -> None:
    rng = np.random.default_rng(seed)
    engagement = by_hand.engagement_of([0], side=random_side(rng))
    straight = reckoned(tooling(by_hand.flat(edges=edges), KIENZLE), engagement, 0.03)[0]
    wound = reckoned(tooling(by_hand.flat(edges=edges, helix=helix), KIENZLE), engagement, 0.03)[0]
    for column in (kernels.TORQUE, kernels.FORCE_X, kernels.FORCE_Y, kernels.FORCE_Z, kernels.AREA):
        assert wound[column] == pytest.approx(straight[column], rel=1e-12)
    assert wound[kernels.PEAK_TORQUE] >= wound[kernels.TORQUE] * (1 - 1e-9)


@given(st.integers(0, 10_000), st.floats(0, 360))
@settings(deadline=None, max_examples=30)
def test_turning_the_way_turns_the_forces(seed: int, degrees: float) -> None:
    side = random_side(np.random.default_rng(seed))
    angle = math.radians(degrees)
    ways = np.array([[1.0, 0.0, -0.2], [math.cos(angle), math.sin(angle), -0.2]])
    out = reckoned(
        tooling(by_hand.flat(helix=30), KIENZLE), by_hand.engagement_of([0, 1], ways, side=side, end=1.0), 0.03
    )
    x, y = out[0, kernels.FORCE_X], out[0, kernels.FORCE_Y]
    turned = (x * math.cos(angle) - y * math.sin(angle), x * math.sin(angle) + y * math.cos(angle))
    assert out[1, kernels.FORCE_X : kernels.FORCE_Y + 1] == pytest.approx(turned, abs=1e-4)
    left_out = (
        kernels.FORCE_X,
        kernels.FORCE_Y,
        kernels.LEVER,
        kernels.PEAK_MC,
    )  # the last two: of several equal peaks, any
    others = [column for column in range(kernels.COLUMNS) if column not in left_out]
    assert out[1, others] == pytest.approx(out[0, others], rel=1e-5, abs=1e-9)


@given(st.integers(0, 10_000))
@settings(deadline=None, max_examples=30)
def test_a_mirrored_cutter_in_mirrored_stock_feels_the_same(seed: int) -> None:
    side = random_side(np.random.default_rng(seed))
    engagement = [by_hand.engagement_of([0], side=one, making=bit) for one, bit in ((side, 1), (side[::-1], 2))]
    right = reckoned(tooling(by_hand.flat(helix=30), KIENZLE), engagement[0], 0.03)[0]
    left = reckoned(tooling(by_hand.flat(helix=30), KIENZLE, clockwise=False), engagement[1], 0.03)[0]
    assert left[kernels.FORCE_Y] == pytest.approx(-right[kernels.FORCE_Y], rel=1e-9)
    same = [column for column in range(kernels.COLUMNS) if column != kernels.FORCE_Y]
    assert left[same] == pytest.approx(right[same], rel=1e-9, abs=1e-9)


# --- against plain sums -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("helix", [0.0, 20.0, 45.0])
@pytest.mark.parametrize(
    ("edges", "low", "high"), [(2, 143.0, 180.0), (3, 0.0, 60.0), (4, 0.0, 180.0), (1, 30.0, 150.0), (5, 90.0, 180.0)]
)
def test_a_flat_cutter_against_plain_sums(edges: int, low: float, high: float, helix: float) -> None:
    """Means within a thousandth; peaks of a turn within 4 %: places are 2 degrees wide, and where an edge enters a full chip at once the
    mean over its first place is what counts."""
    side = by_hand.arc_side(4.0, low, high)
    turn = direct.turn_flat(side.astype(float), 3.0, edges, helix, 0.03, KIENZLE)
    out = reckoned(
        tooling(by_hand.flat(edges=edges, helix=helix), KIENZLE), by_hand.engagement_of([0], side=side), 0.03
    )[0]
    assert out[kernels.TORQUE] == pytest.approx(turn.torque.mean(), rel=3e-3)
    for axis, column in enumerate((kernels.FORCE_X, kernels.FORCE_Y, kernels.FORCE_Z)):
        assert out[column] == pytest.approx(turn.force[:, axis].mean(), rel=3e-3, abs=0.02)
    print(
        f"{edges} edges, {low:g}..{high:g} deg, helix {helix:g}: peak torque {out[kernels.PEAK_TORQUE] / turn.torque.max() - 1:+.2%}, "
        f"peak force {out[kernels.PEAK_FORCE] / turn.peak - 1:+.2%}"
    )
    assert out[kernels.PEAK_TORQUE] == pytest.approx(turn.torque.max(), rel=0.04)
    assert out[kernels.PEAK_FORCE] == pytest.approx(turn.peak, rel=0.04)
    worst = int(np.hypot(turn.force[:, 0], turn.force[:, 1]).argmax())
    direction = turn.force[worst, :2] / turn.peak
    expected = float(turn.moment[worst] @ direction) / turn.peak
    assert 20.0 - out[kernels.LEVER] == pytest.approx(
        20.0 - expected, rel=0.03
    )  # what bends a tool that stands out 20 mm


def test_run_out_against_plain_sums() -> None:
    """The mean torque with run-out is the mean over all ways in which the edges may stand to it; the peak is that of the worst of them."""
    constants = replace(KIENZLE, run_out_mm=0.02)
    side = by_hand.arc_side(4.0, 120.0, 180.0)
    phases = (np.arange(15) + 0.3) * 2 * math.pi / 3 / 15
    turns = [
        direct.turn_flat(side.astype(float), 3.0, 3, 30.0, 0.02, constants, phase=phase, steps=360, discs=16)
        for phase in phases
    ]
    out = reckoned(tooling(by_hand.flat(edges=3, helix=30), constants), by_hand.engagement_of([0], side=side), 0.02)[0]
    assert out[kernels.TORQUE] == pytest.approx(np.mean([turn.torque.mean() for turn in turns]), rel=5e-3)
    assert out[kernels.PEAK_FORCE] == pytest.approx(max(turn.peak for turn in turns), rel=0.05)


def wall_force(turn: direct.Turn, steps: int, tangent: float, lag: float, sign: float) -> float:
    """Greatest force across the wall while an edge stands within a degree of the tangent, at any height (bottom position `tangent` ..
    + `lag`, degrees). At the tangent itself there is no chip any more, and no edge that cuts."""
    inside = 1.0 if tangent < 0 else -1.0
    first, last = (round((angle + inside) / 360 * steps) for angle in (tangent, tangent + lag))
    across = sign * turn.force[np.arange(first, last + 1) % steps, 1]
    return float(across[np.abs(across).argmax()])


@pytest.mark.parametrize("helix", [0.0, 30.0])
@pytest.mark.parametrize(
    ("low", "high", "left"), [(0.0, 37.0, True), (143.0, 180.0, False), (0.0, 180.0, True), (0.0, 180.0, False)]
)
def test_the_force_on_the_wall_against_plain_sums(low: float, high: float, left: bool, helix: float) -> None:
    """Up-milling makes its wall where the chip is nothing: the force there is a small part of the peak."""
    steps, side = 1440, by_hand.arc_side(6.0, low, high)
    turn = direct.turn_flat(side.astype(float), 3.0, 2, helix, 0.05, KIENZLE, steps=steps)
    lag = math.degrees(6.0 * math.tan(math.radians(helix)) / 3.0)
    # bottom angle 0 of the sums is straight ahead: an edge of a clockwise cutter entered 90 degrees before
    expected = wall_force(turn, steps, -90.0 if left else 90.0, lag, 1.0 if left else -1.0)
    engagement = by_hand.engagement_of([0], side=side, making=1 if left else 2)
    out = reckoned(tooling(by_hand.flat(edges=2, helix=helix), KIENZLE), engagement, 0.05)[0]
    assert out[kernels.WALL] == pytest.approx(expected, abs=0.04 * turn.peak)
    # its parts add up: the radial share and the edge share lie in it
    shallow = reckoned(tooling(by_hand.flat(edges=2, helix=helix), KIENZLE), engagement, 0.05, deep=False)[0]
    assert shallow[kernels.WALL] == pytest.approx(out[kernels.WALL], rel=1e-9)


def test_up_milling_hardly_pushes_its_wall() -> None:
    out = {}
    for name, low, high, bit in (("up", 0.0, 37.0, 1), ("down", 143.0, 180.0, 2)):
        engagement = by_hand.engagement_of([0], side=by_hand.arc_side(6.0, low, high), making=bit)
        out[name] = reckoned(tooling(by_hand.flat(edges=2, helix=30), KIENZLE), engagement, 0.05)[0]
    assert abs(out["up"][kernels.WALL]) < 0.6 * out["up"][kernels.PEAK_FORCE]
    assert out["down"][kernels.PEAK_FORCE] == pytest.approx(out["up"][kernels.PEAK_FORCE], rel=0.3)


# --- derivatives ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("column", ["TORQUE", "PEAK_FORCE", "WALL"])
def test_derivatives_to_mc(column: str) -> None:
    engagement = by_hand.engagement_of([0], side=by_hand.arc_side(5.0, 120.0, 180.0), making=2)
    of = {"TORQUE": "TORQUE_MC", "PEAK_FORCE": "PEAK_MC", "WALL": "WALL_MC"}[column]
    step = 1e-4

    def at(mc: float) -> np.ndarray:
        return reckoned(tooling(by_hand.flat(edges=3, helix=30), replace(KIENZLE, mc=mc)), engagement, 0.03)[0]

    slope = (at(0.25 + step) - at(0.25 - step))[getattr(kernels, column)] / (2 * step)
    assert at(0.25)[getattr(kernels, of)] == pytest.approx(slope, rel=1e-4)


def test_parts_of_the_force_on_the_wall() -> None:
    engagement = by_hand.engagement_of([0], side=by_hand.arc_side(5.0, 120.0, 180.0), making=2)
    run_out = replace(KIENZLE, run_out_mm=0.01)
    step = 1e-4

    def at(constants: Constants) -> np.ndarray:
        return reckoned(tooling(by_hand.flat(edges=3, helix=30), constants), engagement, 0.03)[0]

    base = at(run_out)
    for field, column in (
        ("radial_ratio", kernels.WALL_RADIAL),
        ("edge_force", kernels.WALL_EDGE),
        ("run_out_mm", kernels.WALL_RUN),
    ):
        value = getattr(run_out, field)
        moved = at(replace(run_out, **{field: value * (1 + step)}))
        expected = (moved - base)[kernels.WALL] / step
        assert base[column] == pytest.approx(
            expected, rel=0.1 if field == "run_out_mm" else 1e-3, abs=1e-3 * abs(base[kernels.WALL])
        )


# --- sloped edges ---------------------------------------------------------------------------------------------------------------


def test_a_ball_pushes_down_and_a_helix_lifts() -> None:
    z = np.linspace(0.0, 0.4, SLICES + 1)
    deep = np.zeros((SLICES, ANGLES), np.float32)
    deep[:, 20:70] = 1.0
    ball = reckoned(
        tooling(by_hand.ball(), replace(PLAIN, axial_ratio=0.0)),
        by_hand.engagement_of([0], slope=deep, slope_z=z),
        0.03,
    )[0]
    assert ball[kernels.FORCE_Z] < 0.0
    flat = reckoned(
        tooling(by_hand.flat(helix=30), PLAIN), by_hand.engagement_of([0], side=by_hand.arc_side(4, 0, 90)), 0.03
    )[0]
    assert flat[kernels.FORCE_Z] == pytest.approx(PLAIN.axial_ratio * flat[kernels.TORQUE] / 3.0, rel=1e-9)
    left = by_hand.flat(helix=-30)
    assert (
        reckoned(tooling(left, PLAIN), by_hand.engagement_of([0], side=by_hand.arc_side(4, 0, 90)), 0.03)[
            0, kernels.FORCE_Z
        ]
        < 0.0
    )


@pytest.mark.parametrize("kind", ["flat", "ball"])
def test_a_plunge_sweeps_its_disc(kind: str) -> None:
    """Straight down into solid stock the area seen along the way is the disc, whatever the shape of the end."""
    assembly = by_hand.flat() if kind == "flat" else by_hand.ball()
    z = None if kind == "flat" else np.linspace(0.0, 3.0, SLICES + 1)
    slope = None if kind == "flat" else np.ones((SLICES, ANGLES))
    end = np.ones((RINGS, 2 * ANGLES))
    if kind == "ball":
        end[:, ANGLES // 2 : ANGLES + ANGLES // 2] = 0.0  # the front half is in the slices
    out = reckoned(tooling(assembly), by_hand.engagement_of([0], (0, 0, -1), slope=slope, slope_z=z, end=end), 0.03)[0]
    assert out[kernels.AREA] == pytest.approx(math.pi * 9.0, rel=1e-3)
    assert np.hypot(out[kernels.FORCE_X], out[kernels.FORCE_Y]) < 0.05 * abs(out[kernels.FORCE_Z])


# --- kernels as such ---------------------------------------------------------------------------------------------------------------


def test_compiled_and_plain_agree() -> None:
    rng = np.random.default_rng(7)
    twin = plain(kernels)
    way = np.array([[1.0, 0, 0], [0.6, -0.7, -0.39], [0, 0, -1.0]], np.float32)
    assembly = by_hand.bull(edges=3)
    engagement = by_hand.engagement_of(
        [0, 1, 2], way, side=random_side(rng), slope=(rng.random((SLICES, ANGLES)) < 0.4), slope_z=np.linspace(0, 1.0, SLICES + 1),
        end=(rng.random((RINGS, 2 * ANGLES)) < 0.3), making=3,
    )  # fmt: skip
    tool = tooling(assembly, replace(KIENZLE, run_out_mm=0.01))
    fast = reckoned(tool, engagement, 0.03)
    original = kernels.station_loads
    try:
        kernels.station_loads = twin.station_loads
        slow = reckoned(tool, engagement, 0.03)
    finally:
        kernels.station_loads = original
    assert fast == pytest.approx(slow, rel=1e-9, abs=1e-12)


def test_a_whole_program_with_plain_kernels(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every kernel through the accumulator, compiled and not."""
    from tests.loads.test_accumulate import FACTS, added, in_lines, lines, part_of

    moves = lines(3)
    work = by_hand.work_of(moves, by_hand.timeline_of(moves, [10.0] * 3), by_hand.flat(helix=30), FACTS)
    engagement = in_lines(moves, by_hand.arc_side(5.0, 120.0, 180.0), making=6)
    few = part_of(engagement, np.arange(0, len(engagement.stations), 30))
    fast = added(work, few)
    twin = plain(kernels)
    for kernel in kernels.KERNELS:
        monkeypatch.setattr(kernels, kernel.__name__, getattr(twin, kernel.__name__))
    slow = added(work, few)
    assert slow.force_n == pytest.approx(fast.force_n, rel=1e-6)
    for one, other in zip(fast.stretches, slow.stretches, strict=True):
        assert (one.cutting_s, one.rubbing_s, one.longest_rub_s) == pytest.approx(
            (other.cutting_s, other.rubbing_s, other.longest_rub_s)
        )
        for quantity, kept in one.candidates.items():
            again = other.candidates[quantity]
            assert [c.value for c in kept] == pytest.approx([c.value for c in again], rel=1e-6), quantity
            assert [e for _, e in kept[0].exponents] == pytest.approx([e for _, e in again[0].exponents], abs=1e-5), (
                quantity
            )
    assert [d.mean_power_w for d in fast.duties] == pytest.approx([d.mean_power_w for d in slow.duties], rel=1e-9)


def test_the_numbers_of_rooms_agree() -> None:
    assert kernels.HALF == ANGLES
    assert kernels.DIRECTION.shape == (2 * ANGLES, 2)
    assert np.degrees(np.arctan2(*kernels.DIRECTION[0][::-1])) == pytest.approx(-179.0)
    assert np.degrees(np.arctan2(*kernels.WIDE[0][::-1])) == pytest.approx(-88.0)


def test_every_kernel_has_one_kind_of_arrays() -> None:
    from tests.loads.test_accumulate import run_all

    run_all()
    for kernel in kernels.KERNELS:
        assert len(kernel.signatures) == 1, kernel.__name__
