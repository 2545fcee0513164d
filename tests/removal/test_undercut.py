"""Edges wider than what carries them: closed volumes, hollows against counting slices of a column, and what may be touched under a ledge."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.errors import InputError
from firstoff.facts.assembly import Assembly, Part
from firstoff.facts.profile import globe_end
from firstoff.path.pieces import Pieces
from firstoff.removal import _kernels as kernels
from firstoff.removal import contact as c
from firstoff.removal import undercut as u
from firstoff.removal.field import NOTHING, Field
from firstoff.removal.stock import frozen_field, volume_mm3
from firstoff.removal.swept import Swept
from tests.removal import bodies_by_hand as hand
from tests.removal.test_contact import block, followed, touching

E, N, S = Part.EDGE, Part.NECK, Part.SHANK


def tee(radius: float = 5.0, height: float = 3.0, neck: float = 2.0, kind: str = "tee") -> Assembly:
    points = ((radius, 0.0, E), (radius, height, E), (neck, height, E), (neck, 20.0, N), (4.0, 20.0, S), (4.0, 40.0, S))
    return hand.assembly(hand.profile(*points), 2 * radius, kind, height)


def lollipop(radius: float = 3.0, neck: float = 1.5) -> Assembly:
    outline = [(r, z, E) for r, z in globe_end(radius, neck, 0.002)[1:]]
    return hand.assembly(hand.profile(*outline, (neck, 25.0, N)), 2 * radius, "lollipop", None)


def through(z: float, y: float = 12.0, at_rapid: bool = False) -> list[tuple[hand.Point, bool]]:
    """From the left of the block to its right, and up beside it."""
    return [((-9.0, y, z), True), ((49.0, y, z), at_rapid), ((49.0, y, 9.0), True), ((-9.0, y, 9.0), True)]


def after(tool: Assembly, *ways: list[tuple[hand.Point, bool]], field: Field | None = None, threads: int = 1) -> Swept:
    pieces = hand.lines(*[one for way in ways for one in way], start=(-9.0, 12.0, 9.0))
    return followed(pieces, {1: tool}, field or block(), threads)


# ---- what is taken ---------------------------------------------------------------------------------------------------


def test_a_tee_leaves_a_ledge() -> None:
    """A slot of 10 x 3 mm at 5 mm depth, and the neck's own of 4 mm above it, 40 mm long."""
    swept = after(tee(), through(-8.0))
    expected = 40.0 * (10.0 * 3.0 + 4.0 * 5.0)
    walls = 2 * 40.0 * (3.0 + 5.0)
    assert swept.moves.volume_mm3.sum() == pytest.approx(expected, abs=0.5 * 0.2 * walls)
    assert volume_mm3(swept.before) - volume_mm3(swept.after) == pytest.approx(swept.moves.volume_mm3.sum(), rel=1e-6)
    y = swept.after.grid.y0_mm + (swept.after.gaps[:, 0] + 0.5) * 0.2 - 12.0
    assert swept.after.gaps[:, 2:] == pytest.approx(np.tile([-8.0, -5.0], (len(y), 1)))
    assert (np.abs(y) > 2.0).all()
    assert (np.abs(y) < 5.0).all()
    middle = swept.after.top[round((12.0 - swept.after.grid.y0_mm) / 0.2), 100]
    assert middle == pytest.approx(-8.0)


@given(st.integers(0, 2**31))
@settings(deadline=None, max_examples=150)
def test_hollows_are_what_is_left_out_of_a_column(seed: int) -> None:
    """Cuts between two heights, cuts from above, against a column of 400 slices of a tenth."""
    rng = np.random.default_rng(seed)
    top, maker = np.zeros((1, 1), np.float32), np.full((1, 1), -1, np.int32)
    hollow = u.no_hollows()
    box = np.array([0, 1, 0, 1])
    solid = np.ones(400, np.bool_)  # slice n lies between −(n + 1)/10 and −n/10
    for move in range(int(rng.integers(1, 9))):
        low, high = sorted(rng.integers(0, 401, 2).tolist(), reverse=True)
        found = np.zeros(kernels.FOUND)
        before, was = solid.sum(), (top.copy(), hollow.counts.copy(), hollow.spans.copy())
        if rng.random() < 0.3:
            level = min(np.float32(-low / 10), top[0, 0])
            found[kernels.VOLUME] = float(top[0, 0]) - max(float(level), -40.0) if top[0, 0] > level else 0.0
            top[0, 0] = level if level > -40.0 else NOTHING
            kernels._fall_into_hollows(0.5, 0.5, 0.6, box, -40.0, top, hollow.counts, hollow.spans, found)
            solid[:low] = False
        else:
            full = kernels._subtract(
                0, 0, -low / 10, -high / 10, box, -40.0, move, top, maker, hollow.counts, hollow.spans, found
            )
            if full:
                assert hollow.counts[0, 0] == kernels.GAPS
                assert all(np.array_equal(a, b) for a, b in zip(was, (top, hollow.counts, hollow.spans), strict=True))
                return
            solid[high:low] = False
        assert found[kernels.VOLUME] == pytest.approx((before - solid.sum()) / 10, abs=2e-3)
        assert _stretches(top, hollow) == pytest.approx(_by_slices(solid), abs=1e-4)


def _by_slices(solid: np.ndarray) -> list[float]:
    """Heights at which material begins and ends, from above."""
    changes = np.flatnonzero(np.diff(np.concatenate([[False], solid, [False]])))
    return [-one / 10 for one in changes.tolist()]


def _stretches(top: np.ndarray, hollow: u.Hollow) -> list[float]:
    if top[0, 0] <= -40.0:
        return []
    ends = [float(top[0, 0])]
    for n in range(int(hollow.counts[0, 0])):
        ends += [float(hollow.spans[0, 0, n, 1]), float(hollow.spans[0, 0, n, 0])]
    if ends[-1] <= -40.0 + 1e-4:
        return ends[:-1]
    return [*ends, -40.0]


def test_a_mill_from_above_falls_through_the_hollow() -> None:
    """A slot of 4 mm over the ledge, down to 6 mm: only the 5 mm of the ledge are taken, and the floor is the tee's."""
    ledge = after(tee(), through(-8.0)).after
    mill = hand.flat_mill(0.5)
    pieces = hand.lines(*through(-6.0, 15.5), start=(-9.0, 15.5, 9.0))
    swept = followed(pieces, {1: mill}, ledge)
    assert swept.moves.volume_mm3.sum() == pytest.approx(40.0 * 1.0 * 5.0, abs=0.5 * 0.2 * 2 * 40.0 * 5.0)
    row = round((15.5 - ledge.grid.y0_mm) / 0.2 - 0.5)
    assert swept.after.top[row, 100] == pytest.approx(-8.0)
    assert not ((swept.after.gaps[:, 0] == row) & (swept.after.gaps[:, 1] == 100)).any()
    assert volume_mm3(ledge) - volume_mm3(swept.after) == pytest.approx(swept.moves.volume_mm3.sum(), rel=1e-6)


def test_a_lollipop_leaves_the_hollow_of_its_ball() -> None:
    """Fed in from the side and back: across the way the hollow is a circle, |y| = √(R² − (z − R)²)."""
    swept = after(lollipop(), through(-9.0))
    grid = swept.after.grid
    here = swept.after.gaps[swept.after.gaps[:, 1] == 100]
    y = grid.y0_mm + (here[:, 0] + 0.5) * grid.cell_mm - 12.0
    for side in (2, 3):
        assert np.hypot(y, here[:, side] + 6.0) == pytest.approx(3.0, abs=0.004)
    assert len(y) == pytest.approx(2 * 1.5 / 0.2, abs=1)  # between the neck and the ball's side
    # The ball's section, and what lies over its lower half within the neck of 3 mm.
    z = np.linspace(-1.5, 1.5, 20001)
    ball = math.pi * 9.0 - np.trapezoid(2.0 * np.sqrt(9.0 - z**2), z)
    slot = np.trapezoid(6.0 + np.sqrt(9.0 - z**2), z)
    assert swept.moves.volume_mm3.sum() == pytest.approx(40.0 * (ball + slot), rel=0.02)


def test_one_hollow_too_many_is_a_fault() -> None:
    thin = tee(5.0, 0.5)
    ways = [through(-2.0 - n) for n in range(kernels.GAPS + 1)]
    assert after(thin, *ways[: kernels.GAPS]).after.gaps.size
    with pytest.raises(
        InputError, match=r"more hollows over one another than are followed: at X .* mm\. Allowed: at most 6"
    ):
        after(thin, *ways)


def test_hollows_come_in_and_go_out() -> None:
    once = after(tee(), through(-8.0)).after
    again = after(tee(), [((-9.0, 12.0, 9.0), True)], field=once).after
    assert np.array_equal(once.gaps, again.gaps)
    assert np.array_equal(once.top, again.top)
    tiles = u.hollows_of(once)
    assert len(tiles) > 1
    assert np.array_equal(u.gaps_of(tiles, once.grid), once.gaps)


def test_a_stock_with_more_hollows_than_are_kept_is_a_fault() -> None:
    gaps = np.array([[0, 0, -2.0 * n - 1.5, -2.0 * n - 1.0] for n in range(kernels.GAPS + 1)])
    with pytest.raises(InputError, match="more hollows"):
        u.hollows_of(frozen_field(hand.grid(1.0, 2, 2), np.zeros((2, 2), np.float32), -40.0, gaps))


def test_tools_that_do_not_undercut_leave_no_hollows() -> None:
    swept = after(hand.flat_mill(), through(-8.0))
    assert swept.after.gaps.shape == (0, 4)


def test_two_threads_leave_what_one_leaves() -> None:
    ways = [through(-8.0), through(-7.0, 14.0), through(-11.5, 11.0)]
    one, two = (after(tee(), *ways, threads=threads) for threads in (1, 2))
    assert np.array_equal(one.after.top, two.after.top)
    assert np.array_equal(one.after.gaps, two.after.gaps)
    assert np.array_equal(one.moves.volume_mm3, two.moves.volume_mm3)
    assert one.contacts == two.contacts


# ---- what is touched -------------------------------------------------------------------------------------------------


def opened() -> Pieces:
    """A slot of 5 mm, as deep as the tee will go, by a mill."""
    return hand.lines(*through(-8.0), start=(-9.0, 12.0, 9.0), tool=2)


TOOLS = {1: tee(), 2: hand.flat_mill(2.5, 12.0, 2.5)}


def under_the_ledge(*then: tuple[hand.Point, bool]) -> Pieces:
    way = (((-9.0, 12.0, -8.0), True), ((20.0, 12.0, -8.0), False), *then)
    return hand.joined([opened(), hand.lines(*way, start=(-9.0, 12.0, 9.0), first_move=4)])


def test_a_tee_may_not_go_up_at_rapid_under_its_ledge() -> None:
    swept = followed(under_the_ledge(((20.0, 12.0, 9.0), True)), TOOLS, block())
    assert touching(swept) == [(6, Part.EDGE, True)]
    worst = min(swept.contacts, key=lambda one: one.gap_mm)
    assert worst.gap_mm == pytest.approx(
        -2.5, abs=0.3
    )  # the ledge covers 2.5 mm of the disc: it gets off sideways, forward


def test_a_tee_may_go_back_at_rapid_through_its_own_slot() -> None:
    swept = followed(under_the_ledge(((-9.0, 12.0, -8.0), True), ((-9.0, 12.0, 9.0), True)), TOOLS, block())
    assert not touching(swept)
    mine = [one for one in swept.contacts if one.part is Part.EDGE and one.tool == 1]
    edge = min(mine, key=lambda one: one.gap_mm)
    assert c.certain(edge) is c.Certainty.WITHIN_GRID


@pytest.mark.parametrize(("rise", "hits"), [(1.0, False), (2.5, True)])
def test_a_rapid_in_a_higher_slot_knows_its_roof(rise: float, hits: bool) -> None:
    """A slot widened to 5 mm height by two passes, then crossed at rapid by the disc of 3 mm, raised."""
    way = [*through(-8.0), *through(-6.0), ((-9.0, 12.0, -8.0 + rise), True), ((49.0, 12.0, -8.0 + rise), True)]
    tees = hand.lines(*way, start=(-9.0, 12.0, 9.0), first_move=4)
    swept = followed(hand.joined([opened(), tees]), TOOLS, block())
    assert touching(swept) == ([(13, Part.EDGE, True)] if hits else [])
    if hits:
        [found] = [one for one in swept.contacts if c.certain(one) is c.Certainty.HIT]
        assert found.gap_mm == pytest.approx(-0.5, abs=1e-4)
        assert found.upward


def test_a_tee_needs_an_open_slot_for_its_neck() -> None:
    solid = followed(hand.lines(*through(-8.0), start=(-9.0, 12.0, 9.0)), TOOLS, block())
    assert touching(solid) == [(1, Part.NECK, False)]


def test_the_shank_of_a_tee_touches_the_ledge() -> None:
    """Deeper than the neck is long: the shank of 8 mm is driven 2 mm into the ledge, of which the open slot leaves 1.5 mm beside it."""
    short = hand.assembly(
        hand.profile((5.0, 0.0, E), (5.0, 3.0, E), (2.0, 3.0, E), (2.0, 6.0, N), (4.0, 6.0, S), (4.0, 40.0, S)), 10.0, "tee", 3.0
    )  # fmt: skip
    swept = followed(under_the_ledge(), {**TOOLS, 1: short}, block())
    assert touching(swept) == [(5, Part.SHANK, False)]
    [one] = [one for one in swept.contacts if c.certain(one) is c.Certainty.HIT]
    assert one.gap_mm == pytest.approx(-1.5, abs=0.15)
    assert not one.upward
