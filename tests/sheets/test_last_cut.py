"""What the sheet says of the last cut, of what it is unsure, and how it fits words into their room."""

from __future__ import annotations

from dataclasses import replace
from html import unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.fact import Setting
from firstoff.removal.swept import Piece
from firstoff.sheets.last_cut import last_cut_words
from firstoff.sheets.open_doubts import doubt_blocks, least_height
from firstoff.sheets.paper_text import ADVANCE, SMALL, USUAL, fitted, lines_of, width_of
from firstoff.verdict.case import Case
from firstoff.verdict.words import ShopUnits
from tests.sheets import hand_built as made
from tests.sheets import hand_cut

PART = Piece(7700.0, 0.0, 960.0, 7, (0.0, 0.0))
SLUG = Piece(850.0, 0.0, 106.0, 5, (20.0, 20.0))
SMALL_SLUG = Piece(815.0, 0.0, 102.0, 6, (20.0, -20.0))
REST = Piece(30_000.0, -14.0, 2400.0, -1, (32.0, 20.0))


def case_of(said: str, *pieces: Piece, inch: bool = False) -> Case:
    case = hand_cut.examination(pieces=pieces).case
    path = "job.holding.after_cut_free"
    settings = {**case.facts.settings, **({path: Setting(path, said)} if said else {})}
    return replace(case, facts=replace(case.facts, settings=settings), units=ShopUnits(inch))


@pytest.mark.parametrize(
    ("said", "pieces", "words"),
    [
        ("", (REST,), "At the last cut nothing comes free."),
        ("nothing is cut free", (REST,), "At the last cut nothing comes free."),
        ("skin 0.3 mm", (REST,), "At the last cut nothing comes free: skin 0.3 mm."),
        ("tape", (PART,), "Cut free: the part (7.7 cm³) at line 13. Then held by: tape, 9.6 cm² under the part."),
        ("", (PART,), "Cut free: the part (7.7 cm³) at line 13. What holds them then is not written down."),
        (
            "tape", (PART, SLUG, SMALL_SLUG),
            "Cut free: the part (7.7 cm³) at line 13 and 2 slugs (0.81 to 0.85 cm³) at lines 11 to 12. "
            "Then held by: tape, 9.6 cm² under the part and 1 cm² under the least slug.",
        ),
        ("screws", (REST, PART), "Cut free: the part (7.7 cm³) at line 13. Then held by: screws."),
        ("skin 0.3 mm", (PART,), "Cut free: the part (7.7 cm³) at line 13. But the job says: skin 0.3 mm."),
        ("two wedges", (PART,), "Cut free: the part (7.7 cm³) at line 13. Then held by: two wedges."),
    ],
)  # fmt: skip
def test_what_comes_free_and_what_holds_it(said, pieces, words):
    assert last_cut_words(case_of(said, *pieces)) == words


def test_a_shop_in_inches_and_a_program_that_nobody_followed():
    assert "(0.47 in³)" in last_cut_words(case_of("tape", PART, inch=True))
    assert "1.5 in² under the part" in last_cut_words(case_of("tape", PART, inch=True))
    assert last_cut_words(made.case()) == "What holds it at the last cut is not written down."
    path = "job.holding.after_cut_free"
    known = made.facts()
    taped = replace(known, settings={**known.settings, path: Setting(path, "tape")})
    assert last_cut_words(made.case(taped)) == "At the last cut: tape (the job's word)."


# --- what it is unsure of --------------------------------------------------------------------------------------------


@given(st.floats(0, 200))
def test_doubts_never_take_more_room_than_there_is(room):
    for examination in (made.every_kind(), made.some_care(), hand_cut.unjudged(), made.overfull(), made.all_clear()):
        assert sum(block.height for block in doubt_blocks(examination, room, 53.0)) <= max(room, 0.0) + 1e-9


def test_with_the_least_room_everything_is_at_least_named():
    for examination in (made.every_kind(), made.some_care(), made.overfull()):
        least = least_height(examination, 53.0)
        assert doubt_blocks(examination, least, 53.0)
        assert not doubt_blocks(examination, least - 0.1, 53.0)


def test_answers_that_wait_for_one_fact_are_told_together():
    examination = hand_cut.unjudged()
    html = unescape("".join(block.html for block in doubt_blocks(examination, 200.0, 53.0)))
    assert html.count("APMX of em6 not known") == 1
    assert "so I can't say: travel, kept-out spaces" in html
    assert html.index("stops and leftovers") < html.index("not known")  # care before unjudged
    short = "".join(block.html for block in doubt_blocks(examination, 30.0, 53.0))
    assert "11 answers for want of" in short


def test_where_only_facts_are_missing_the_verdict_has_said_so():
    unjudged = replace(hand_cut.unjudged(), answers=(made.clear_count(), made.unjudged_no_stop()))
    assert least_height(unjudged, 53.0) == 0.0
    assert least_height(made.some_care(), 53.0) > 0.0


# --- words in their room ---------------------------------------------------------------------------------------------


@given(st.text(alphabet=st.characters(min_codepoint=32, max_codepoint=0x2FF), max_size=60), st.floats(3, 90))
def test_fitted_words_fit(words, room):
    said = fitted(words, room)
    assert width_of(said, SMALL) <= max(room, width_of("…", SMALL))
    if not said.endswith("…"):
        assert lines_of(said, room + 1, SMALL) == 1


def test_program_text_is_cut_by_letters_that_are_all_as_wide():
    assert fitted("G21 G17 G40", 30.0, 1.92) == "G21 G17 G40"
    assert fitted("G21 G17 G40", 15.0, 1.92) == "G21 G1…"


def test_advances_are_in_order():
    assert ADVANCE["i"] < ADVANCE["t"] < ADVANCE["s"] < USUAL < ADVANCE["w"] < ADVANCE["m"] < ADVANCE["W"]
    assert not set(ADVANCE) & set("abdeghnopqu0123456789")
