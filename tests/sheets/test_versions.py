"""Two versions of a text against each other: whatever is told, the later one follows from it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from firstoff.sheets.versions import MOST_BETWEEN, MOST_COMPARED, MOST_OF_PLACE, MOST_PLACES, Changes, changes

texts = st.lists(st.sampled_from(["G0 Z5", "G1 X1", "G1 X2", "M8", "M30", ""]), max_size=14)


def rewritten(was: list[str], told: Changes) -> list[str]:
    """The earlier text with every place that is told written as the later one has it."""
    found = list(was)
    for place in reversed(told.places):
        at = place.was_from - 1
        assert found[at : at + len(place.was)] == list(place.was)
        found[at : at + len(place.was)] = place.now
    return found


@given(texts, texts)
def test_the_later_text_follows_from_the_earlier_and_what_is_told(was, now):
    told = changes(was, now)
    if told.left_out or any(place.left_out for place in told.places):
        return
    assert rewritten(was, told) == now
    for place in told.places:
        assert list(place.now) == now[place.now_from - 1 : place.now_from - 1 + len(place.now)]
    assert told.come - told.gone == len(now) - len(was)


@given(texts)
def test_the_same_text_has_no_changes(text):
    assert changes(text, text) == Changes(0, 0, (), 0)


def test_what_is_too_much_is_counted_and_said_to_be_left_out():
    was = [f"X{n}" for n in range(200)]
    now = [f"Y{n}" if n % 3 == 0 else line for n, line in enumerate(was)]
    told = changes(was, now)
    assert (told.gone, told.come, len(told.places), told.left_out) == (67, 67, MOST_PLACES, 67 - MOST_PLACES)
    block = changes(was, ["M30"])
    assert block.places[0].left_out == 200 - MOST_OF_PLACE


def test_a_long_program_is_counted_only_and_a_line_changed_in_a_long_one_is_still_told():
    long = [f"X{n}" for n in range(MOST_COMPARED + 1)]
    other = [*long[:-1], "M30"]
    assert changes(long, other) == Changes(1, 1, (), 0, counted_only=True)
    short = long[:-10]
    told = changes(short, [*short[:9000], "M0", *short[9000:]])
    assert (told.gone, told.come, told.places[0].now_from, told.places[0].now) == (0, 1, 9001, ("M0",))
    between = [f"Y{n}" for n in range(MOST_BETWEEN + 1)]
    assert changes(short, [*between, *short]).counted_only
