"""The edge as removal sees it: true to the segments, never falling outward, and the tables true to the edge."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.facts.assembly import CHORD_MM, Assembly, Part, Segment
from firstoff.removal import _kernels as kernels
from firstoff.removal.profile import FINE_MM, Cutter, cutter, ring_radii, slice_radii, tables
from firstoff.removal.swept import RINGS, SLICES
from tests.removal import cutting as by

TOOLS = {
    "flat": by.flat(),
    "bull": by.bull(),
    "ball": by.ball(),
    "chamfer": by.cone(45),
    "taper": by.cone(3, 1.0),
    "drill": by.cone(59, 0.0, kind="drill"),
}


def at(one: Cutter, r: np.ndarray) -> np.ndarray:
    return np.interp(r, one.r_mm, one.z_mm)


def test_a_ball_is_a_ball_within_its_chords() -> None:
    r = np.linspace(0, 3, 1001)
    off = np.hypot(r, 3 - at(cutter(by.ball()), r)) - 3
    assert -CHORD_MM * 1.01 <= off.min() < -0.5 * CHORD_MM  # from inside only
    assert off.max() < 1e-8


@pytest.mark.parametrize(
    ("name", "flat", "side_from"),
    [
        ("flat", 3.0, 0.0),
        ("bull", 2.0, 1.0),
        ("ball", 0.0, 3.0),
        ("chamfer", 0.1, 2.9),
        ("drill", 0.0, 3 / math.tan(math.radians(59))),
    ],
)
def test_where_the_slope_begins_and_ends(name: str, flat: float, side_from: float) -> None:
    one = cutter(TOOLS[name])
    assert (one.flat_mm, one.side_from_mm, one.radius_mm) == pytest.approx((flat, side_from, 3.0))


profiles = st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(-0.4, 1.0)), min_size=1, max_size=7)


@given(profiles, st.floats(0.1, 2.0))
@settings(deadline=None)
def test_the_lower_side_is_the_lowest_edge_at_or_beyond_each_radius(
    steps: list[tuple[float, float]], last: float
) -> None:
    """Any chain outward, hollows and steps among them, against looking at every point of it."""
    r = np.concatenate([[0.0], np.cumsum([dr for dr, _ in steps]), [sum(dr for dr, _ in steps) + last]])
    z = np.concatenate([[0.0], np.abs(np.cumsum([dz for _, dz in steps])), [0.7]])
    segments = tuple(Segment(Part.EDGE, *map(float, (r[k], z[k], r[k + 1], z[k + 1]))) for k in range(len(r) - 1))
    one = cutter(Assembly("any", "flat", segments, 2 * r[-1], 0.0, None, 2, 0.0, None, None, 2 * r[-1], 0.0))
    assert (np.diff(one.r_mm) >= 0).all()
    assert (np.diff(one.z_mm) >= -1e-9).all()
    part = np.linspace(0, 1, 41)
    all_r = np.concatenate([r[k] + part * (r[k + 1] - r[k]) for k in range(len(r) - 1)])
    all_z = np.concatenate([z[k] + part * (z[k + 1] - z[k]) for k in range(len(r) - 1)])
    for tried in np.linspace(0.01, r[-1] * 0.999, 17):
        beyond = np.append(np.interp(tried, r, z), all_z[all_r >= tried])
        reach = (
            float(np.max(np.abs(np.diff(z)), initial=0.0)) / 40 + 1e-9
        )  # what lies between two places that were looked at
        if np.abs(r - tried).min() > 1e-6:  # at a step both heights are right
            assert beyond.min() - reach <= at(one, np.array([tried]))[0] <= beyond.min() + 1e-6


@pytest.mark.parametrize("name", TOOLS)
@pytest.mark.parametrize("cell", [0.05, 0.3])
def test_kernel_heights_are_those_of_the_edge(name: str, cell: float) -> None:
    one = cutter(TOOLS[name])
    t = tables([cutter(TOOLS["bull"]), one], cell)
    r = np.sort(np.concatenate([np.linspace(0, one.radius_mm, 501), one.r_mm]))
    exact = np.array([kernels._height(x / cell, 1, t.cutters, t.knots, t.first) for x in r])
    quick = np.array([kernels._surface((x / cell) ** 2, 1, t.cutters, t.fine, t.knots, t.first) for x in r])
    assert exact == pytest.approx(at(one, r), abs=1e-8)
    assert np.abs(quick - at(one, r)).max() <= 2 * FINE_MM
    true = (t.cutters[1, kernels.FINE_TO] - t.cutters[1, kernels.FINE_FROM]) / (one.radius_mm / cell) ** 2
    assert true > 0.75  # else the table is no use


@pytest.mark.parametrize("name", ["bull", "ball", "chamfer", "taper", "drill"])
def test_reach_slices_and_rings_lie_on_the_edge(name: str) -> None:
    one, cell = cutter(TOOLS[name]), 0.1
    t = tables([one], cell)
    out, rings = np.empty((2 * SLICES + 1, 2)), np.empty((RINGS + 1, 2))
    for height in np.linspace(0.01, one.side_from_mm * 1.2, 13):
        inside = min(height, one.side_from_mm)
        reach = kernels._reach(height, 0, t.cutters, t.knots) * cell
        assert at(one, np.array([reach]))[0] == pytest.approx(inside, abs=1e-6)
        kernels.slices(height, 0, cell, t.cutters, t.knots, out)
        assert at(one, out[:, 0] * cell) == pytest.approx(out[:, 1], abs=1e-6)
        assert slice_radii(one, out[::2, 1]) == pytest.approx(out[::2, 0] * cell, abs=1e-6)
        assert inside - 1e-9 <= out[-1, 1] <= one.side_from_mm + 1e-9
        assert out[-1, 0] * cell <= reach + 4 * cell  # no farther than slices narrower than a cell ask for
        kernels.ring_bounds(height, 0, t.cutters, t.knots, t.first, rings)
        assert ring_radii(one, inside) == pytest.approx(rings[:, 0] * cell, abs=1e-6)


def test_an_assembly_without_an_edge_is_our_fault() -> None:
    with pytest.raises(ValueError, match="has no edge"):
        cutter(Assembly("shank", "flat", (Segment(Part.SHANK, 0, 0, 3, 0),), 6, 0, None, 2, 0, None, None, 6, 0))


def test_kernels_and_types_count_alike() -> None:
    from firstoff.removal import field, swept

    assert (kernels.ANGLES, kernels.SLICES, kernels.RINGS) == (swept.ANGLES, swept.SLICES, swept.RINGS)
    assert (kernels.NOTHING, kernels.LEAST) == (field.NOTHING, field.LEAST_CUT_MM)
