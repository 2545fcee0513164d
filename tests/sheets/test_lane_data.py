"""Lanes keep their peaks and lie under their limits; the relief shows what is deep, what is through, and what is not there."""

from __future__ import annotations

import base64
import struct
import zlib
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.removal.field import NOTHING, Field, Grid
from firstoff.sheets.job_view import SHARE_NOT_KNOWN, SHARE_STEPS, line_margins, share_steps
from firstoff.sheets.lane_data import COLUMNS, LIMIT_AT, Lane, Lanes, lanes_of, nearest_limit
from firstoff.sheets.lanes import lanes_html
from firstoff.sheets.move_margins import Margin, shares_of
from firstoff.sheets.relief import MOST_PX, png_url, relief_of
from firstoff.verdict.followed import Followed
from tests.sheets import hand_built as made
from tests.sheets import hand_followed as followed


def lanes(**changes: np.ndarray) -> Lanes:
    """Of the hand-built program, with some loads of the overview changed."""
    examination = followed.examination()
    told = examination.case.followed
    assert isinstance(told, Followed)
    assert told.loads is not None
    overview = replace(told.loads.overview, high={**told.loads.overview.high, **changes})
    case = replace(examination.case, followed=replace(told, loads=replace(told.loads, overview=overview)))
    found = lanes_of(replace(examination, case=case))
    assert found is not None
    return found


def lane(name: str, found: Lanes) -> Lane:
    return next(one for one in found.lanes if one.name == name)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, followed.BINS - 1), st.floats(1.0, 5000.0)), min_size=1, max_size=30))
def test_no_peak_is_lost_however_narrow(peaks):
    power = np.zeros(followed.BINS, dtype=np.float32)
    for where, value in peaks:
        power[where] = value
    found = lane("power", lanes(power_w=power))
    assert np.nanmax(found.values) == pytest.approx(float(power.max()))
    for where in np.flatnonzero(power):
        assert found.values[where * COLUMNS // followed.BINS] >= power[where] * (1 - 1e-6)
    assert (found.low <= found.high).all()


def test_a_limit_lies_at_the_same_height_for_every_tool_that_has_one():
    found = lane("power", lanes())
    assert found.peak is not None
    assert found.peak.at == pytest.approx(LIMIT_AT * followed.POWER_W / followed.LIMIT_W, rel=1e-6)
    assert found.high[found.peak.column] == pytest.approx(found.peak.at)
    spans = [(span.first, span.last) for span in found.limits]
    assert spans == [(4 * COLUMNS // 14, 8 * COLUMNS // 14 - 1 + (8 * COLUMNS % 14 > 0))]
    chip = lane("thickest chip", lanes())
    assert chip.peak is not None
    assert chip.peak.at == pytest.approx(LIMIT_AT * followed.CHIP_MM / followed.MOST_CHIP_MM, rel=1e-6)


def test_the_whisker_reaches_two_uncertainties_in_proportion():
    peak = lane("power", lanes()).peak
    assert peak is not None
    log_u = np.hypot(np.sqrt(np.log1p(0.2**2)), 0.1)  # kc is lognormal, the fit normal
    assert peak.high is not None
    assert peak.low is not None
    assert peak.high / peak.at == pytest.approx(np.exp(2 * log_u), rel=0.02)
    assert peak.at / peak.low == pytest.approx(np.exp(2 * log_u), rel=0.02)


def test_without_a_limit_none_is_drawn_and_the_words_say_so():
    force = lane("side force", lanes())
    assert force.limits == ()
    assert force.limit_words == "no limit is known"
    bend = lane("bend of tool", lanes())
    assert bend.limits == ()
    assert bend.limit_words.endswith("taken as stiff")


def test_what_is_not_known_is_named_and_never_drawn_as_nothing():
    found = lane("power", lanes())
    (span,) = found.unknown
    assert (span.first, span.last) == pytest.approx((11 * COLUMNS / 14, 12 * COLUMNS / 14), abs=2)
    assert 'class="lane-unknown" title="not known"' in lanes_html(followed.examination())


def test_the_feed_is_shown_where_one_is_asked_and_never_above_it():
    feed = lane("feed reached", lanes())
    assert feed.asked is not None
    assert (feed.high <= feed.asked + 1e-12).all()
    assert feed.high.max() == pytest.approx(LIMIT_AT * 38 / 40)
    assert feed.limits == ()


def test_the_nearest_limit_is_the_greatest_share_of_any_and_what_is_held_against_nothing_is_not_known():
    found = lanes()
    near = nearest_limit(found)
    power, chip = lane("power", found), lane("thickest chip", found)
    held = np.zeros(COLUMNS, dtype=bool)
    for span in (*power.limits, *chip.limits):
        held[span.first : span.last + 1] = True
    assert near.values[held] == pytest.approx(100 * np.maximum(power.high, chip.high)[held] / LIMIT_AT)
    lost = np.zeros(COLUMNS, dtype=bool)
    for span in near.unknown:
        lost[span.first : span.last + 1] = True
    for one in found.lanes:
        if one.asked is None:
            assert (lost | held | (one.high == 0)).all()  # never drawn as nothing
    assert near.limit_words == f"{near.values.max():.0f} % at most"


# --- beside each line of the program ---------------------------------------------------------------------------------


@given(st.floats(0, 3))
def test_a_share_is_never_told_as_less_and_never_on_the_wrong_side_of_the_limit(share):
    (steps,) = share_steps(np.array([share], dtype=np.float32)).tolist()
    assert steps < SHARE_NOT_KNOWN
    assert steps / SHARE_STEPS >= min(share, 1.5) - 1e-6
    assert (steps > SHARE_STEPS) == (np.float32(share) > 1 + 1e-6)
    assert share_steps(np.array([np.nan], dtype=np.float32)).tolist() == [SHARE_NOT_KNOWN]


def test_each_line_tells_its_margin_and_the_share_it_uses_in_one_byte():
    examination = followed.examination()
    told = np.frombuffer(line_margins(examination), dtype=np.uint8)
    moves = examination.case.moves
    shares, greatest = shares_of(examination), told >> 3
    assert told.size == len(examination.case.reading.text)
    for line in np.unique(moves.line[examination.case.moving]).tolist():
        here = shares[(moves.line == line) & examination.case.moving]
        assert greatest[line - 1] == share_steps(here).max()
        assert 1 <= told[line - 1] & 7 <= 1 + Margin.STOP
    assert float(shares[5]) >= followed.POWER_W / followed.LIMIT_W  # the move with the greatest power of all
    assert np.isnan(shares).any()  # the drill of which a length is missing


def test_no_lanes_without_loads_or_time():
    assert lanes_of(made.some_care()) is None
    assert "Missing" in lanes_html(made.nothing_known()) or "not followed" in lanes_html(made.nothing_known())


# --- relief ----------------------------------------------------------------------------------------------------------


def decoded(url: str) -> np.ndarray:
    """u1[rows, columns, 2] grey and alpha of a PNG that we wrote (ISO/IEC 15948: signature, IHDR, IDAT, IEND, a CRC each)."""
    data = base64.b64decode(url.removeprefix("data:image/png;base64,"))
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    at, chunks = 8, {}
    while at < len(data):
        (size,) = struct.unpack(">I", data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + size]
        assert struct.unpack(">I", data[at + 8 + size : at + 12 + size]) == (zlib.crc32(kind + body),)
        chunks[kind], at = body, at + 12 + size
    columns, rows, bits, colour = struct.unpack(">IIBB", chunks[b"IHDR"][:10])
    assert (bits, colour) == (8, 4)
    raw = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), np.uint8).reshape(rows, 1 + 2 * columns)
    assert (raw[:, 0] == 0).all()
    return raw[:, 1:].reshape(rows, columns, 2)


def test_the_relief_is_darker_the_deeper_and_lies_where_the_stock_does():
    field = followed.field(deep=True)
    relief = relief_of(field)
    alpha = decoded(relief.url)[::-1, :, 1]  # first row of the file is the farthest
    assert alpha.shape == (84, 132)
    assert relief.x == (-1.0, 65.0)
    assert relief.y == (-1.0, 41.0)
    face, groove, through, beside = alpha[30, 30], alpha[12, 50], alpha[62, 62], alpha[0, 0]
    assert (face, beside) == (0, 0)
    assert 0 < groove < 255
    assert through > groove
    assert alpha[7, 50] == 255  # the wall of the groove


@pytest.mark.parametrize("side", [1, 50, MOST_PX, MOST_PX + 1, 5 * MOST_PX])
def test_the_relief_stays_small(side):
    grid = Grid(0.0, 0.0, 0.1, side, 3, 0.0)
    top = np.zeros((3, side), dtype=np.float32)
    alpha = decoded(relief_of(Field(grid, top, -5.0, np.zeros((0, 4)))).url)
    assert max(alpha.shape) <= MOST_PX


def test_no_stock_is_nothing_to_see():
    top = np.full((4, 4), NOTHING, dtype=np.float32)
    relief = relief_of(Field(Grid(0.0, 0.0, 1.0, 4, 4, 0.0), top, -5.0, np.zeros((0, 4))))
    assert not decoded(relief.url)[..., 1].any()
    assert decoded(png_url(np.array([[0.0, 0.5, 1.0, 2.0]])))[0, :, 1].tolist() == [0, 128, 255, 255]
