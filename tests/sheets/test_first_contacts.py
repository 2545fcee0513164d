"""First contact of each call of a tool, and the two numbers that are compared at the line before it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.fact import Setting
from firstoff.program.moves import NO_LENGTH, Kind, Moves, Reading
from firstoff.sheets.first_contacts import calls, contacts, top_doubt
from firstoff.sheets.tool_tables import coarse
from firstoff.verdict.case import Case
from firstoff.verdict.words import ShopUnits
from tests.sheets import hand_built as made
from tests.sheets import hand_cut, hand_followed

CLEAR = 0.4 + 0.5 + 2 * 0.4
"""Top of the hand-built blank, half a millimetre, twice the doubt of the top."""


def changed(read: Reading, **columns: np.ndarray) -> Reading:
    moves = read.moves
    names = ("kind", "end_mm", "frame", "arc", "feed_mm_per_s", "spindle_per_s", "tool", "comp_register", "flags", "line", "parent")  # fmt: skip
    return replace(read, moves=Moves(**{name: columns.get(name, getattr(moves, name)) for name in names}))


def followed(read: Reading | None = None, **told: object) -> Case:
    read = read or made.reading()
    return replace(made.case(hand_followed.facts(), read), followed=hand_cut.followed(read, **told))


def test_without_a_followed_stock_the_top_of_the_blank_is_what_counts():
    first, second = contacts(made.case())
    assert (first.tool, first.line, first.surface, first.meeting) == (3, 10, 0.4, None)
    assert first.halt is not None
    assert (first.halt.line, first.halt.z, first.halt.to_go, first.gap) == (9, 2.0, 6.0, pytest.approx(1.6))
    assert second.halt is not None
    assert (second.tool, second.line, second.halt.line, second.halt.z, second.halt.to_go) == (5, 20, 19, 25.0, 37.0)


def test_a_followed_stock_says_where_the_tool_really_meets_it():
    first, second = contacts(followed())
    assert (first.line, first.surface) == (11, 0.4)  # beside the blank it goes down in air; the side is what it meets
    assert first.meeting is not None
    assert (first.meeting.x, first.meeting.y) == (-2.0, 5.0)
    assert (first.meeting.deep, first.meeting.wide) == (
        pytest.approx(4.4),
        6.0,
    )  # of the whole move, as the answer tells it
    assert first.halt is not None
    assert (first.halt.line, first.halt.to_go) == (9, 6.0)
    assert (second.surface, second.gap) == (0.0, 25.0)  # the ground that is left there, not the blank's own top


def test_what_only_the_largest_blank_meets_is_told_as_it_meets_that():
    early = replace(hand_cut.HOLE, tip_mm=(20.0, 20.0, 0.7), height_mm=1.2)
    first, second = contacts(followed(cuts=(hand_cut.GROOVE,), largest=(hand_cut.GROOVE, early)))
    assert (first.tool, second.tool, second.surface) == (3, 5, 1.2)
    assert [call.contact for call in calls(followed(cuts=(hand_cut.GROOVE,)))][1] is None


def test_a_halt_stands_clear_of_the_largest_blank():
    read = made.reading()
    ends = read.moves.end_mm.copy()
    ends[3, 2] = CLEAR - 0.01
    first, _ = contacts(made.case(read=changed(read, end_mm=ends)))
    assert first.halt is not None
    assert (first.halt.line, first.halt.z) == (8, 25.0)
    ends[3, 2] = CLEAR
    first, _ = contacts(made.case(read=changed(read, end_mm=ends)))
    assert first.halt is not None
    assert first.halt.line == 9


def test_a_shift_of_the_frame_moves_the_gap_but_not_what_the_screen_says_is_to_go():
    read = made.reading()
    shift = read.frames.shift_mm.copy()
    shift[1, 2] = 1.5
    first, _ = contacts(made.case(read=replace(read, frames=replace(read.frames, shift_mm=shift))))
    assert first.halt is not None
    assert (first.halt.z, first.halt.to_go, first.gap) == (3.5, 6.0, pytest.approx(3.1))


def test_the_block_that_comes_next_is_told_whole():
    read = made.reading()
    lines, ends = read.moves.line.copy(), read.moves.end_mm.copy()
    lines[5], ends[5, 2] = 10, -6.0  # the control's one block is two moves of ours
    first, _ = contacts(made.case(read=changed(read, line=lines, end_mm=ends)))
    assert first.halt is not None
    assert first.halt.to_go == 8.0


def test_of_a_cycle_the_rapid_to_r_is_told():
    read = made.reading()
    kind, ends, parent = read.moves.kind.copy(), read.moves.end_mm.copy(), read.moves.parent.copy()
    frame, line = read.moves.frame.copy(), read.moves.line.copy()
    kind[12], ends[12], frame[12], line[11:13], parent[11:13] = Kind.FEED, (20.0, 20.0, -12.0), frame[11], 20, 0
    kind[11], ends[11] = Kind.RAPID, (20.0, 20.0, 3.0)
    _, second = contacts(made.case(read=changed(read, kind=kind, end_mm=ends, frame=frame, line=line, parent=parent)))
    assert second.halt is not None
    assert (second.halt.line, second.halt.to_go, second.halt.cycle) == (19, 22.0, True)


def test_each_call_of_a_tool_has_its_own_first_contact():
    read = made.reading()
    tool = read.moves.tool.copy()
    tool[6:] = [5, 5, 5, 3, 3, 3, 3, 3]
    assert [(call.tool, call.again) for call in calls(made.case(read=changed(read, tool=tool)))] == [
        (3, False), (5, False), (3, True),
    ]  # fmt: skip


def test_a_tool_that_touched_the_zero_needs_no_length():
    read = made.reading()
    bare = replace(read.frames, length=np.full(3, NO_LENGTH, dtype=np.int32))
    known = made.facts()
    touched = Setting("job.offset.G54.touched_with", "em6")
    assert contacts(made.case(read=replace(read, frames=bare))) == []
    case = made.case(replace(known, settings={**known.settings, touched.path: touched}), replace(read, frames=bare))
    assert [contact.tool for contact in contacts(case)] == [3]


def test_the_doubt_of_the_top_is_told_where_it_can_be_seen():
    assert top_doubt(made.case()) == pytest.approx(0.8)
    known = made.facts()
    sure = known.with_values({})
    top = replace(known.facts["job.stock.box.z.high"], u=0.01)
    assert top_doubt(made.case(replace(sure, facts={**known.facts, top.path: top}))) is None


@given(st.lists(st.floats(-20, 40), min_size=4, max_size=4), st.floats(-3, 3))
def test_a_halt_is_always_clear_and_always_before(heights, shift):
    read = made.reading()
    ends, shifts = read.moves.end_mm.copy(), read.frames.shift_mm.copy()
    ends[2:6, 2], shifts[1, 2] = heights, shift
    read = changed(replace(read, frames=replace(read.frames, shift_mm=shifts)), end_mm=ends)
    for contact in contacts(made.case(read=read)):
        halt = contact.halt
        if halt is None:
            continue
        assert halt.move < contact.move
        assert halt.z >= CLEAR - 1e-9
        assert contact.gap is not None
        assert contact.gap >= CLEAR - 0.4 - 1e-9
        assert halt.to_go is None or halt.to_go > 0
        between = read.moves.end_mm[halt.move + 1 : contact.move, 2] + shift
        assert contact.tool != 3 or not (between >= CLEAR).any()  # no later line would have done


@pytest.mark.parametrize(
    ("mm", "inch", "words"),
    [(2.7000000001, False, "2.7"), (-1.0, False, "−1.0"), (0.004, False, "0"), (37.454, False, "37.45"), (-0.001, True, "0"),
     (69.93, True, "2.753"), (5.08, True, "0.20"), (8.0, False, "8.0")],
)  # fmt: skip
def test_places_are_told_as_a_screen_is_read(mm, inch, words):
    assert coarse(mm, ShopUnits(inch)) == words
