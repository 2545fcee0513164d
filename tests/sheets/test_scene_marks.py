"""Places of stop and care in the picture: where the tool stands there, what it stands in, and two short lines."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.assembly import Part, Segment
from firstoff.facts.fact import FactSet
from firstoff.sheets.around_part import Solid
from firstoff.sheets.question_rows import looked_at
from firstoff.sheets.scene_marks import callout, contact_lines, deepest, points_by_move, touched
from firstoff.sheets.tool_outline import Outline
from firstoff.verdict.forms import Scale
from firstoff.verdict.question import Answer, Answered, AnsweredPlace, Measure, Place, Question, Risk
from firstoff.verdict.words import ShopUnits

ROD = Outline(
    2,
    "em",
    (
        Segment(Part.EDGE, 0.0, 0.0, 2.0, 0.0),
        Segment(Part.EDGE, 2.0, 0.0, 2.0, 10.0),
        Segment(Part.HOLDER, 2.0, 10.0, 8.0, 10.0),
        Segment(Part.HOLDER, 8.0, 10.0, 8.0, 30.0),
    ),
    False,
)
CLAMP = Solid("clamp", ((20.0, 30.0), (-5.0, 5.0), (0.0, 12.0)))
PIN = Solid("pin", ((-30.0, -20.0), (-5.0, 5.0), (0.0, 12.0)), True)


def names(tip: tuple[float, float, float]) -> list[bool]:
    return [fill.round for fill in touched(ROD, tip, (CLAMP, PIN))]


def test_the_holder_stands_in_what_the_edge_passes() -> None:
    assert names((17.0, 0.0, 3.0)) == []  # the holder is above it
    assert names((17.0, 0.0, 1.0)) == [False]  # its rim is 1 mm inside
    assert names((11.9, 0.0, 1.0)) == []
    assert names((-17.0, 0.0, 1.0)) == [True]
    assert names((-19.0, 9.0, 1.0)) == [True]
    assert names((-15.5, 11.0, 1.0)) == []  # beside the round pin; a box round it would be met


@given(st.floats(-60, 60), st.floats(-60, 60), st.floats(-5, 15))
def test_what_stands_in_a_box_has_a_point_in_it(x: float, y: float, z: float) -> None:
    """Held against points of the tool's surface: none lies in a solid that is not told, but by what is not counted."""
    told = bool(touched(ROD, (x, y, z), (CLAMP,)))
    turn = np.linspace(0, 2 * np.pi, 73)
    radii, heights = np.meshgrid(np.linspace(0, 1, 9), np.linspace(0, 30, 61))
    wide = radii * np.where(heights < 10, 2.0, 8.0)
    px, py = x + wide[..., None] * np.cos(turn), y + wide[..., None] * np.sin(turn)
    pz = np.broadcast_to((z + heights)[..., None], px.shape)
    inside = (np.abs(px - 25) < 4.99) & (np.abs(py) < 4.99) & (pz > 0.01) & (pz < 11.99)
    assert told or not inside.any()


def test_a_rapid_that_goes_through_a_clamp_stands_in_its_middle() -> None:
    tip = deepest(ROD, np.array([[25.0, -40.0, 5.0], [25.0, 40.0, 5.0]]), (CLAMP,))
    assert tip == pytest.approx((25.0, 0.0, 5.0), abs=1.5)
    clear = np.array([[60.0, -40.0, 5.0], [60.0, 40.0, 5.0]])
    assert deepest(ROD, clear, (CLAMP,)) == (60.0, 40.0, 5.0)


def test_the_way_of_a_move_begins_where_the_last_one_ended() -> None:
    at = np.arange(15, dtype="<f4").reshape(5, 3)
    of = points_by_move(at, np.array([0, 0, 1, 3, 3]), np.array([True, False, False, True, False]))
    assert of(1).tolist() == [[3, 4, 5], [6, 7, 8]]
    assert of(3).tolist() == [[9, 10, 11], [12, 13, 14]]  # it begins with a jump
    assert of(2).shape == (0, 3)


@pytest.mark.parametrize(
    ("sentence", "lines"),
    [
        ("dr25 at rapid goes 2.5 mm into left clamp.", ("dr25 meets left clamp", "2.5 mm into it, at rapid")),
        ("the shank of em3 goes 0.19 mm into the stock.", ("Shank of em3 meets the stock", "0.19 mm into it")),
        ("the edge of em6 goes 3.0 mm into the stock at rapid if the blank is as large as it may be.",
         ("Edge of em6 meets the stock", "3.0 mm into it, at rapid")),
        ("em6 passes at rapid 1.1 mm below what stands highest.", ("em6 too low at rapid", "1.1 mm below what stands highest")),
        ("the tool feeds beside the blank 2.2 mm below what stands highest.",
         ("Tool too low beside the blank", "2.2 mm below what stands highest")),
        ("the holder enters rack by 29.0 mm.", ("Holder enters rack", "by 29.0 mm")),
        ("the holder passes right clamp at 2.3 mm.", ("Holder near right clamp", "2.3 mm between them")),
    ],
)  # fmt: skip
def test_a_contact_is_said_in_two_short_lines(sentence: str, lines: tuple[str, str]) -> None:
    assert contact_lines(sentence) == lines


def test_another_sentence_is_no_contact() -> None:
    assert contact_lines("the program stops (M0).") is None


NO_FACTS = FactSet()


def told(question: str, unit: str, demand: float, capacity: float, what: str, chance: float | None = 1.0) -> Answered:
    place = AnsweredPlace(Place(7), "G1 X1", None, demand, what, "", Answer.CARE)
    sides = (Measure(one, 0.0, unit, one, one) for one in (demand, capacity))
    asked = Question(question, Risk.TOOL, "?")
    return Answered(asked, Answer.CARE, Scale.RATIO, *sides, chance, chance, (place,), what, "")


@pytest.mark.parametrize(
    ("answered", "second"),
    [
        (told("power", "W", 1200.0, 930.0, "Line 7: it needs 1200 W."), "1200 W of 930 W"),
        (told("size", "µm", 0.6, 60.0, "Line 7: 0.6 µm too much.", 1 / 3), "0.6 µm of 60 µm, 1 in 3 over"),
        (told("chip", "µm", 1.4, 1.9, "Line 7: the chip of T2 (em6) is 1.9 µm where it is thin; below 1.4 µm its edge rubs."),
         "1.9 µm; rubs below 1.4 µm"),
        (told("holding", "N", 49.0, 45.0, "Line 7: em3 pushes with 45 N sideways and pulls up with 20 N; the vice bears 45 N."),
         "together 49 N of 45 N"),
    ],
)  # fmt: skip
def test_the_second_line_agrees_with_the_sentence_and_the_scale(answered: Answered, second: str) -> None:
    assert callout(answered, answered.places[0], NO_FACTS, ShopUnits(inch=False))[1] == second


def test_what_is_missing_is_shown_where_it_is_first_needed() -> None:
    known = told("travel", "mm", 3.0, 5.0, "Line 7: near.")
    needed = replace(known.places[0], place=Place(45))
    assert looked_at(replace(known, first=needed)) == 7
    assert looked_at(replace(known, answer=Answer.UNJUDGED, first=needed)) == 45
