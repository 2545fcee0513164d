"""A year of the shop on one rule."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.book.kept import Moment
from firstoff.sheets.year_strip import AGAINST, DAYS, lately, year_strip

NOW = datetime(2026, 9, 14, 7, 40)
KINDS = {"run": ["good", "rang", "broke"], "examination": ["clear", "stop"], "facts": [""], "trial": [""]}
MOMENTS = st.lists(
    st.sampled_from([(kind, word) for kind, words in KINDS.items() for word in words]).flatmap(
        lambda one: st.builds(
            Moment,
            st.integers(1, 9999),
            st.datetimes(NOW - timedelta(days=500), NOW),
            st.just(one[0]),
            st.just(one[1]),
        )
    ),
    max_size=40,
)


@given(MOMENTS)
def test_every_moment_of_the_year_is_counted_once_and_every_mark_lies_on_the_rule(moments: list[Moment]) -> None:
    moments = sorted(moments, key=lambda one: one.at)
    strip = year_strip(moments, NOW)
    this_year = [one for one in moments if one.at.date() > (NOW - timedelta(days=DAYS)).date()]
    assert sum(lane.total for lane in strip.lanes) == len(this_year)
    for lane in strip.lanes:
        days = {one.at.date() for one in this_year if one.kind == lane.kind}
        assert len(lane.marks) == len(days)
        assert all(0 <= mark.at <= 1 and 0 < mark.tall <= 1 for mark in lane.marks)
        bad = {one.at.date() for one in this_year if one.kind == lane.kind and one.word in AGAINST.get(lane.kind, ())}
        assert sum(mark.against for mark in lane.marks) == len(bad)


def test_months_stand_where_they_begin_and_the_year_beside_january() -> None:
    months = year_strip([], NOW).months
    assert [name for _, name in months][:5] == ["Oct", "Nov", "Dec", "Jan 2026", "Feb"]
    first = (NOW - timedelta(days=DAYS - 1)).date()  # 15 September 2025, so that October begins 16 days on
    assert months[0][0] == pytest.approx(((NOW.replace(year=2025, month=10, day=1)).date() - first).days / DAYS)


def run(word: str, days_ago: float) -> Moment:
    return Moment(1, NOW - timedelta(days=days_ago), "run", word)


@pytest.mark.parametrize(
    ("moments", "said"),
    [
        ([], "No run noted in four weeks; no fact changed."),
        ([run("good", 3), run("good", 40)], "1 run noted in four weeks: all went well; no fact changed."),
        ([run("good", 3), run("rang", 4)], "2 runs noted in four weeks: 1 went well and 1 did not; no fact changed."),
        ([run("broke", 4)], "1 run noted in four weeks: none went well and 1 did not; no fact changed."),
        ([Moment(1, NOW, "facts", "")], "No run noted in four weeks; facts changed 1 time."),
    ],
)
def test_the_last_weeks_are_said_first(moments: list[Moment], said: str) -> None:
    assert lately(moments, NOW) == said
