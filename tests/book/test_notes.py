"""What one line after a run is taken to say. Whatever is not plainly good counts for nothing good."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.book.notes import Note, read_note
from firstoff.book.tables import OUTCOMES


@pytest.mark.parametrize(
    ("text", "note"),
    [
        ("good", Note("good", "good")),
        ("  Good,  chips  dry ", Note("Good, chips dry", "good")),
        ("good again", Note("good again", "good")),
        ("rang", Note("rang", "rang")),
        ("good, rang a little at T2", Note("good, rang a little at T2", "rang", tool=2)),
        ("size +0.03 on the bore", Note("size +0.03 on the bore", "size", off_mm=0.03, feature="bore")),
        ("size -12 µm on the Slot, T3", Note("size -12 µm on the Slot, T3", "size", tool=3, off_mm=-0.012, feature="Slot")),
        ("size \u22120,02 mm", Note("size \u22120,02 mm", "size", off_mm=-0.02)),
        ("broke T3 at line 812", Note("broke T3 at line 812", "broke", tool=3, line=812)),
        ("t3 snapped, line 40", Note("t3 snapped, line 40", "broke", tool=3, line=40)),
        ("stopped at line 12: no coolant", Note("stopped at line 12: no coolant", "stopped", line=12)),
        ("broke T1 after it rang", Note("broke T1 after it rang", "broke", tool=1)),
        ("not good", Note("not good", "other")),
        ("good but the floor is torn", Note("good but the floor is torn", "other")),
        ("good except for the burr", Note("good except for the burr", "other")),
        ("all good", Note("all good", "good")),
        ("good run", Note("good run", "good")),
        ("OK", Note("OK", "good")),
        ("went well", Note("went well", "good")),
        ("nothing broke, all good", Note("nothing broke, all good", "good")),
        ("no chatter, good", Note("no chatter, good", "good")),
        ("did not ring", Note("did not ring", "other")),
        ("nothing broke but it rang", Note("nothing broke but it rang", "rang")),
        ("goodness knows", Note("goodness knows", "other")),
        ("looked good", Note("looked good", "other")),
        ("", Note("", "other")),
    ],
)  # fmt: skip
def test_a_note_is_read(text: str, note: Note) -> None:
    assert read_note(text) == note


def test_a_bare_number_is_in_the_unit_of_the_shop() -> None:
    assert read_note("size +0.001 on the bore", inch=True).off_mm == pytest.approx(0.0254)
    assert read_note("size +0.03 mm on the bore", inch=True).off_mm == pytest.approx(0.03)


@given(st.text(max_size=80))
def test_any_note_is_kept_word_for_word(text: str) -> None:
    note = read_note(text)
    assert note.text == " ".join(text.split())
    assert note.outcome in OUTCOMES
    assert note.line is None or note.line >= 1


@given(
    st.sampled_from(["rang", "broke", "stopped", "snapped", "size +0.1"]),
    st.sampled_from(["good, ", "good; ", "good. ", ""]),
)
def test_the_worst_of_a_note_counts(bad: str, good: str) -> None:
    assert read_note(good + bad).outcome != "good"
