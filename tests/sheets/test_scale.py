"""The ruled scale: properties that hold for whatever is held against whatever."""

from __future__ import annotations

import math
import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.sheets.held import held_of, says, scale_of
from firstoff.sheets.scale import (
    CELLS,
    MOST_MAJORS,
    SHEET,
    STOP_AT,
    Case,
    Doubtful,
    Held,
    ScaleDrawing,
    Size,
    draw_scale,
    numeral,
)
from firstoff.sheets.scale_svg import scale_svg
from firstoff.verdict.question import Answer
from tests.sheets import hand_built as made

UNITS = ("mm", "µm", "in", "N", "1/min", "s", "times", "")


def doubtful(value: float, u: float) -> Doubtful:
    return Doubtful(value, value - 2 * u, value + 2 * u)


sizes = st.floats(1e-3, 1e6, allow_nan=False)
shares = st.floats(0.0, 0.4)
fonts = st.sampled_from([(CELLS, 24.0), (CELLS, 27.0), (CELLS, 43.0), (SHEET, 150.0), (SHEET, 182.0), (SHEET, 300.0)])
answers = st.sampled_from(list(Answer))


@st.composite
def helds(draw: st.DrawFn) -> Held:
    """An upper limit, a lower limit, or room, with either side in doubt or exact."""
    kind = draw(st.sampled_from(["upper", "lower", "room"]))
    stop, ratio = draw(sizes), draw(st.floats(0.01, 5.0))
    pointer = doubtful(stop * ratio, stop * ratio * draw(shares))
    unit = draw(st.sampled_from(UNITS))
    if kind == "room":
        gap = draw(st.floats(-1e4, 1e4))
        return Held(doubtful(gap, abs(gap) * draw(shares)), Doubtful(0.0, 0.0, 0.0), unit, turned=True, room=True)
    return Held(pointer, doubtful(stop, stop * draw(shares)), unit, turned=kind == "lower")


@given(helds(), answers, fonts)
def test_every_end_stop_stands_in_one_plumb_line(held, answer, font):
    lettering, width = font
    drawing = draw_scale(held, answer, width, lettering)
    assert drawing.stop == pytest.approx(STOP_AT * width, abs=0.5 if lettering.whole else 1e-9)


@given(helds(), answers, fonts)
def test_numerals_never_touch_each_other_or_the_unit(held, answer, font):
    lettering, width = font
    drawing = draw_scale(held, answer, width, lettering)
    for left, right in pairwise(drawing.numerals):
        assert left.left + lettering.wide(left.text) + lettering.gap <= right.left + 1e-6
    if drawing.numerals and drawing.unit:
        last = drawing.numerals[-1]
        assert last.left + lettering.wide(last.text) + lettering.gap <= drawing.unit_left + 1e-6
    assert all(one.left >= -lettering.margin - 1e-6 for one in drawing.numerals)


@given(helds(), answers, fonts)
def test_majors_step_by_one_two_or_five(held, answer, font):
    lettering, width = font
    drawing = draw_scale(held, answer, width, lettering)
    majors = [tick.at for tick in drawing.ticks if tick.size is Size.MAJOR]
    assert 1 <= len(majors) <= MOST_MAJORS
    for one, other in pairwise(drawing.numerals):
        steps = majors.index(other.at) - majors.index(one.at)  # more than one where a numeral was left out
        step = abs(value_of(other.text) - value_of(one.text)) / steps
        mantissa = step / 10 ** math.floor(math.log10(step) + 1e-9)
        assert any(math.isclose(mantissa, m, rel_tol=1e-6) for m in (1, 2, 5))


def value_of(text: str) -> float:
    return float(text.replace("\u2212", "-").replace("\u202f", ""))


@given(helds(), answers, fonts)
def test_numerals_run_up_or_where_turned_down(held, answer, font):
    lettering, width = font
    values = [value_of(one.text) for one in draw_scale(held, answer, width, lettering).numerals]
    assert values == sorted(values, reverse=held.turned)
    assert len(set(values)) == len(values)


@given(helds(), answers, fonts)
def test_the_pointer_is_on_the_side_of_the_stop_where_the_demand_is(held, answer, font):
    lettering, width = font
    drawing = draw_scale(held, answer, width, lettering)
    over = held.pointer.value < held.stop.value if held.turned else held.pointer.value > held.stop.value
    rounding = 1.0 if lettering.whole else 1e-6
    if drawing.off:
        assert over
        assert drawing.pointer is None
    elif over:
        assert drawing.pointer >= drawing.stop - rounding
    else:
        assert drawing.pointer <= drawing.stop + rounding
    for place in (drawing.pointer, *(drawing.band or ()), *(drawing.slope or ())):
        assert place is None or -1e-9 <= place <= width + 1e-9


@given(helds(), fonts)
def test_room_is_never_off_its_rule(held, font):
    lettering, width = font
    drawing = draw_scale(held, Answer.STOP, width, lettering)
    if held.room:
        assert not drawing.off
        assert drawing.end == pytest.approx(width)


@given(st.floats(1.36, 100), st.floats(0.0, 0.1), fonts)
def test_a_demand_beyond_the_end_is_an_arrow_and_the_rule_stays(ratio, share, font):
    lettering, width = font
    stop = doubtful(640.0, 25.0)
    far = draw_scale(Held(doubtful(640 * ratio, 640 * share), stop, "W"), Answer.STOP, width, lettering)
    near = draw_scale(Held(doubtful(320.0, 10.0), stop, "W"), Answer.CLEAR, width, lettering)
    assert far.off
    assert far.pointer is None
    assert [one.text for one in far.numerals] == [one.text for one in near.numerals]


@given(sizes, shares, fonts)
def test_without_a_stop_the_rule_runs_to_twice_the_demand(value, share, font):
    lettering, width = font
    drawing = draw_scale(Held(doubtful(value, value * share), None, "mm"), Answer.UNJUDGED, width, lettering)
    assert drawing.case is Case.NO_STOP
    assert drawing.stop is None
    assert drawing.open
    assert drawing.phrase == "no stop known"
    assert drawing.pointer == pytest.approx(width / 2, abs=0.5 if lettering.whole else 1e-6)


@given(sizes, shares, fonts, st.booleans())
def test_without_a_demand_stop_and_numerals_stay(value, share, font, turned):
    lettering, width = font
    drawing = draw_scale(Held(None, doubtful(value, value * share), "mm", turned), Answer.UNJUDGED, width, lettering)
    assert drawing.case is Case.NO_DEMAND
    assert drawing.pointer is None
    assert drawing.band is None
    assert drawing.numerals
    assert drawing.phrase == "no demand known"


def test_without_either_there_is_one_phrase_and_no_numerals():
    drawing = draw_scale(None, Answer.UNJUDGED, 27, CELLS, "missing: length of em6")
    assert drawing.case is Case.NOTHING
    assert drawing.numerals == ()
    assert drawing.phrase == "missing: length of em6"


@given(sizes, st.floats(0.1, 1.3))
def test_an_exact_demand_has_the_least_band(stop, ratio):
    drawing = draw_scale(Held(doubtful(stop * ratio, 0.0), doubtful(stop, 0.0), "mm"), Answer.CLEAR, 182, SHEET)
    low, high = drawing.band
    assert high - low == pytest.approx(SHEET.band, abs=SHEET.band / 2)  # half of it where it stands on an end
    assert drawing.slope[0] == drawing.slope[1] == pytest.approx(drawing.stop)


def test_an_upper_limit_begins_at_zero_and_a_size_turned_round_ends_there():
    upper = draw_scale(Held(doubtful(310, 60), doubtful(460, 90), "N"), Answer.CARE, 182, SHEET)
    assert value_of(upper.numerals[0].text) == 0
    assert upper.numerals[0].at == pytest.approx(0)
    lower = draw_scale(Held(doubtful(11.2, 1.5), doubtful(4.0, 0.5), "µm", turned=True), Answer.CLEAR, 182, SHEET)
    assert all(value_of(one.text) >= 0 for one in lower.numerals)


def test_overlap_is_where_band_and_wall_meet():
    drawing = draw_scale(Held(doubtful(14.2, 4.6), doubtful(20.0, 0.5), "µm"), Answer.CARE, 182, SHEET)
    low, high = drawing.overlap
    assert low == pytest.approx(STOP_AT * 182 * 19.0 / 20.0)
    assert high == pytest.approx(STOP_AT * 182 * 23.4 / 20.0)
    assert drawing.accent
    apart = draw_scale(Held(doubtful(8.0, 1.0), doubtful(20.0, 0.5), "µm"), Answer.CLEAR, 182, SHEET)
    assert apart.overlap is None
    assert not apart.accent


def test_too_narrow_a_rule_is_refused_with_the_least_that_serves():
    with pytest.raises(ValueError, match="width=3 must be at least 6"):
        draw_scale(Held(doubtful(1, 0), doubtful(2, 0), "mm"), Answer.CLEAR, 3, CELLS)


@pytest.mark.parametrize(
    ("value", "step", "text"),
    [
        (0.0, 5.0, "0"),
        (-2.0, 1.0, "\u22122"),
        (0.25, 0.05, "0.25"),
        (30000.0, 5000.0, "30\u202f000"),
        (-0.0, 0.1, "0.0"),
    ],
)
def test_numerals_are_written_as_the_shop_reads_them(value, step, text):
    assert numeral(value, step) == text


# --- from answers ----------------------------------------------------------------------------------------------------


def test_room_is_read_from_a_gap_and_from_an_overrun_alike():
    units, facts = made.case().units, made.facts()
    gap = held_of(made.room_care(), facts, units)
    assert (gap.pointer.value, gap.stop.value, gap.room, gap.turned) == (1.6, 0.0, True, True)
    over = held_of(made.difference_stop(), facts, units)
    assert over.pointer.value == pytest.approx(-3.6)


def test_a_lower_limit_is_told_from_an_upper_one():
    units, facts = made.case().units, made.facts()
    lower = held_of(made.clear_lower(), facts, units)
    assert (lower.turned, lower.pointer.value, lower.stop.value) == (True, 5.0, 2.4)
    upper = held_of(made.ratio_care(), facts, units)
    assert (upper.turned, upper.pointer.value, upper.stop.value) == (False, 35800.0, 36000.0)


def test_an_inch_shop_reads_inches():
    units = made.case(inch=True).units
    held = held_of(made.room_care(), made.facts(), units)
    assert held.unit == "in"
    assert held.pointer.value == pytest.approx(1.6 / 25.4)


def test_a_count_has_no_rule_but_the_count():
    drawing: ScaleDrawing = scale_of(made.counted_stop(), made.facts(), made.case().units, 27, CELLS)
    assert drawing.case is Case.COUNT
    assert drawing.shown == 1
    assert drawing.ticks == ()


def test_the_text_alternative_says_all_that_is_drawn():
    units, facts = made.case().units, made.facts()
    assert says(made.part_care(), facts, units) == (
        "Demand 14.2 µm, uncertainty 4.6. Stop at 20 µm, uncertainty 0.5. Care: 1 in 10: it goes over."
    )
    assert "No stop known." in says(made.unjudged_no_stop(), facts, units)
    assert "No demand known." in says(made.unjudged_no_demand(), facts, units)


@st.composite
def both(draw: st.DrawFn) -> tuple[Held, Held]:
    """The same limit, now and before."""
    now = draw(helds())
    ratio = draw(st.floats(0.1, 4.0))
    assert now.pointer is not None
    before = Held(
        doubtful(now.pointer.value * ratio, abs(now.pointer.value) * draw(shares)),
        now.stop,
        now.unit,
        now.turned,
        now.room,
    )
    return now, before


@given(both(), answers, fonts)
def test_before_stands_on_the_same_rule_where_it_would_stand_by_itself(pair, answer, font):
    lettering, width = font
    now, before = pair
    drawing = draw_scale(now, answer, width, lettering, before=before)
    earlier = drawing.earlier
    if before == now:
        assert earlier is None  # nothing is drawn twice
        return
    assert earlier is not None
    assert earlier.off == (earlier.pointer is None)
    assert drawing.stop == pytest.approx(STOP_AT * width, abs=0.5 if lettering.whole else 1e-9)
    if not earlier.off:
        assert 0.0 <= earlier.pointer <= drawing.end + 0.5
        # now and before are read off the same numerals
        swapped = draw_scale(before, answer, width, lettering, before=now)
        assert swapped.numerals == drawing.numerals
        assert swapped.pointer == pytest.approx(earlier.pointer)
    if not now.turned:
        assert earlier.off == (before.pointer.value / before.stop.value > 1 / STOP_AT + 1e-9)


@given(both(), answers)
def test_right_stays_nearer_trouble_with_two_pointers(pair, answer):
    now, before = pair
    drawing = draw_scale(now, answer, 232.0, SHEET, before=before)
    if drawing.earlier is None or drawing.pointer is None or drawing.earlier.pointer is None:
        return
    worse = now.pointer.value - before.pointer.value if not now.turned else before.pointer.value - now.pointer.value
    step = drawing.pointer - drawing.earlier.pointer
    assert step * worse >= -1e-6 * abs(worse) * 232


def test_what_cannot_stand_on_the_same_rule_is_left_out():
    now = Held(doubtful(3, 0.1), doubtful(5, 0.1), "N")
    for before in (
        Held(doubtful(3, 0.1), doubtful(5, 0.1), "mm"),
        Held(doubtful(3, 0.1), doubtful(5, 0.1), "N", turned=True),
        None,
    ):
        assert draw_scale(now, Answer.CLEAR, 232.0, SHEET, before=before) == draw_scale(now, Answer.CLEAR, 232.0, SHEET)


def test_a_stop_that_moved_is_drawn_where_it_stood():
    now, before = (Held(doubtful(3, 0.1), doubtful(stop, 0.1), "N") for stop in (5, 4))
    drawing = draw_scale(now, Answer.CLEAR, 250.0, SHEET, before=before)
    assert drawing.earlier.stop == pytest.approx(0.8 * STOP_AT * 250.0)
    assert draw_scale(now, Answer.CLEAR, 250.0, SHEET, before=now).earlier is None


def test_before_is_dashed_and_now_is_solid():
    now = Held(doubtful(14, 2), doubtful(20, 0.2), "µm")
    before = Held(doubtful(14, 4), doubtful(20, 0.2), "µm")
    plain = scale_svg(draw_scale(now, Answer.CLEAR, 232.0, SHEET), SHEET.margin, "")
    drawn = scale_svg(draw_scale(now, Answer.CLEAR, 232.0, SHEET, before=before), SHEET.margin, "")
    assert "earlier" not in plain
    dashed = re.findall(r'<(?:polyline|polygon|line) class="earlier"[^>]*>', drawn)
    assert len(dashed) == 1  # one pointer is enough where both stand at one place: the band alone moved
    moved = scale_svg(
        draw_scale(now, Answer.CLEAR, 232.0, SHEET, before=Held(doubtful(9, 1), now.stop, "µm")), SHEET.margin, ""
    )
    dashed += re.findall(r'<(?:polyline|polygon|line) class="earlier"[^>]*>', moved)
    assert len(dashed) == 4
    assert all("stroke-dasharray" in part for part in dashed)
    off = scale_svg(
        draw_scale(now, Answer.CLEAR, 232.0, SHEET, before=Held(doubtful(90, 1), now.stop, "µm")), SHEET.margin, ""
    )
    assert off.count('class="earlier"') == 2
