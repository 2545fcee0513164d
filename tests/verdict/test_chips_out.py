"""Whether chips get away: each rule is clear where the trade says that it goes well, and stops far beyond; coolant at every cut."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from firstoff.verdict.case import Case
from firstoff.verdict.question import Answer, Answered
from firstoff.verdict.questions import chips_out

from .conftest import PROGRAM, swap
from .cut_by_hand import DRILL_AREA_MM2, ROUND, drilled, followed_by_hand, lines, per_move, small_case, usual
from .synthetic import ask, number, told

CLEAR, CARE, UNJUDGED, STOP = Answer.CLEAR, Answer.CARE, Answer.UNJUDGED, Answer.STOP
DC = 5.99
Shop = Callable[..., Path]


def line_of(text: str, nth: int = 1) -> int:
    return [number for number, line in enumerate(PROGRAM.splitlines(), 1) if line == text][nth - 1]


def judged(case: Case, **columns: dict[int, float]) -> Answered:
    return ask(chips_out, followed_by_hand(case, per_move(case, **{**usual(case), **columns})))[1]


@pytest.mark.parametrize(("times", "expected"), [(1.5, CLEAR), (1.9, CARE), (2.6, STOP)])
@pytest.mark.parametrize("wet", [True, False])
def test_slots_by_depth_over_diameter(shop: Shop, wet: bool, times: float, expected: Answer) -> None:
    """Slots to one diameter go well, to one and a half under flood (common practice)."""
    case = small_case(shop(program=swap("Z4\nM8", "Z4\nM8" if wet else "Z4\nM7")))
    times = times if wet else times / 1.5
    mills = lines(case, *ROUND)
    answered = judged(case, axial=dict.fromkeys(mills, times * DC), radial=dict.fromkeys(mills, DC))
    assert answered.answer is expected, answered.why
    narrow = judged(case, axial=dict.fromkeys(mills, times * DC), radial=dict.fromkeys(mills, 0.8 * DC))
    assert narrow.answer is CLEAR


@pytest.mark.parametrize(("times", "expected"), [(3.0, CLEAR), (3.6, CARE), (4.6, STOP)])
def test_a_hole_in_one_go(shop: Shop, times: float, expected: Answer) -> None:
    """Three diameters go well without pecking (common practice)."""
    case = small_case(shop())
    answered = judged(case, volume=usual(case)["volume"] | dict.fromkeys(drilled(case), times * 3.0 * DRILL_AREA_MM2))
    assert answered.answer is expected, answered.why
    if expected is not CLEAR:
        assert "in one go" in answered.why
        assert answered.places[0].place.line == line_of("G81 X10 Y10 Z-8 R4 F300")


def test_a_depth_that_is_told_from_a_volume_has_its_doubt(shop: Shop) -> None:
    """0.3 cells over the drill's diameter: more than what `proof/exactness` finds."""
    case = small_case(shop(), number("following.volume", 1.0, 0.1, ""))
    volume = usual(case)["volume"] | dict.fromkeys(drilled(case), 3.6 * 3.0 * DRILL_AREA_MM2)
    answered = judged(case, volume=volume)
    assert answered.answer is CARE
    cell = followed_by_hand(case).followed.likely.after.grid.cell_mm  # type: ignore[union-attr]
    diameter = case.facts.facts["tools.dr3.DC"].value
    power = dict(answered.margins[0].demand.terms)["following.volume"]
    assert power * 0.09975 == pytest.approx(0.3 * cell / diameter, rel=1e-3)  # 0.09975 = √ln(1 + 0.1²)


@pytest.mark.parametrize(
    ("cycle", "peck", "depth", "expected", "words"),
    [
        ("G83", 3.0, 24.0, CLEAR, ""),
        ("G83", 4.5, 24.0, CARE, "pecks"),
        ("G83", 5.5, 24.0, STOP, "pecks"),
        ("G83", 3.0, 30.0, CARE, "hole"),
        ("G83", 3.0, 40.0, STOP, "hole"),
        ("G73", 3.0, 24.0, STOP, "in one go"),
    ],
)
def test_pecks_and_deep_holes(shop: Shop, cycle: str, peck: float, depth: float, expected: Answer, words: str) -> None:
    """Pecks of one diameter deep down and holes of eight go well; a lift that only breaks the chip takes none out (common practice)."""
    drills = f"{cycle} X10 Y10 Z-{depth:g} R1 Q{peck:g} F300"
    case = small_case(shop(program=swap("G81 X10 Y10 Z-8 R4 F300", drills)))
    cut = {}
    for hole in range(3):
        reached = 0.0
        for move in [one for one in drilled(case) if case.moves.parent[one] == hole]:
            bottom = -float(case.moves.end_mm[move, 2])
            cut[move] = max(bottom - reached, 0.0) * DRILL_AREA_MM2
            reached = max(bottom, reached)
    answered = judged(case, volume=usual(case)["volume"] | cut)
    assert answered.answer is expected, answered.why
    assert words in answered.why


def test_coolant_through_the_drill_takes_the_rule_of_deep_holes_away(shop: Shop) -> None:
    case = small_case(shop(program=swap("G81 X10 Y10 Z-8 R4 F300", "G83 X10 Y10 Z-40 R1 Q3 F300")))
    cut = dict.fromkeys(drilled(case), 3.0 * DRILL_AREA_MM2)
    assert judged(case, volume=usual(case)["volume"] | cut).answer is STOP
    through = replace(case, facts=told(case.facts, words={"tools.dr3.coolant_through": True}))
    assert judged(through, volume=usual(through)["volume"] | cut).answer is CLEAR


@pytest.mark.parametrize(("times", "expected"), [(0.5, CLEAR), (0.7, CARE), (1.2, STOP)])
def test_a_milling_cutter_straight_down(shop: Shop, times: float, expected: Answer) -> None:
    """Half a diameter goes well (common practice)."""
    case = small_case(shop())
    down = lines(case, "G1 Z-2 F800")[0]
    volume = times * DC * math.pi / 4 * DC**2
    answered = judged(case, volume={**usual(case)["volume"], down: volume})
    assert answered.answer is expected, answered.why
    if expected is not CLEAR:
        assert answered.places[0].place.line == line_of("G1 Z-2 F800")


@pytest.mark.parametrize(("degrees", "expected"), [(5.0, CLEAR), (6.5, CARE), (9.0, STOP)])
def test_ramps_by_their_angle(shop: Shop, degrees: float, expected: Answer) -> None:
    """5 degrees go well (common practice); a ramp beside the stock is none."""
    run = 3.0 / math.tan(math.radians(degrees))
    ramp = f"G1 X0 F800\nG1 X{run:.4f} Z1"
    case = small_case(shop(program=swap("G1 Z-2 F800", ramp)))
    move = lines(case, ramp.splitlines()[1])[0]
    cut = {**usual(case)["volume"], move: 20.0}
    answered = judged(
        case, volume=cut, radial={**usual(case)["radial"], move: DC}, axial={**usual(case)["axial"], move: 2.0}
    )
    assert answered.answer is expected, answered.why
    beside = judged(case, volume=cut, radial={**usual(case)["radial"], move: 0.1 * DC})
    assert beside.answer is CLEAR


@pytest.mark.parametrize(
    ("width", "expected"), [(1.05, STOP), (1.16, CARE), (1.3, CLEAR), (1.9, CLEAR), (2.2, CARE), (3.0, CLEAR)]
)
def test_a_helix_by_its_width_over_the_diameter(shop: Shop, width: float, expected: Answer) -> None:
    """1.2 to 2 times the diameter go well; just above 2 a thin pin stays in the middle (common practice, and geometry)."""
    radius = (width - 1.0) * DC / 2
    helix = f"G3 X{10 - radius:.4f} Y10 Z3.95 I{-radius:.4f} J0\nG3 X{10 - radius:.4f} Y10 Z3.9 I{radius:.4f} J0"
    case = small_case(shop(program=swap("G1 Z-2 F800", f"G1 X{10 + radius:.4f} Y10 F800\n{helix}")))
    moves = lines(case, *helix.splitlines())
    cut = {**usual(case)["volume"], **dict.fromkeys(moves, 5.0)}
    solid = {**usual(case)["radial"], **dict.fromkeys(moves, DC)}
    answered = judged(case, volume=cut, radial=solid, axial={**usual(case)["axial"], **dict.fromkeys(moves, 0.05)})
    assert answered.answer is expected, answered.why


# --- coolant ---------------------------------------------------------------------------------------------------------


def dry(case: Case) -> Answered:
    return judged(case)


def test_a_tool_that_meets_the_stock_dry_is_told(shop: Shop) -> None:
    answered = dry(small_case(shop(program=swap("Z4\nM8", "Z4"))))
    assert answered.answer is CARE
    assert answered.places[0].place.line == line_of(ROUND[0]) - 1
    assert "meets the stock with no coolant on" in answered.why
    assert answered.do == f"Write M8 before line {line_of(ROUND[0]) - 1}."


def test_after_a_stop_the_coolant_must_come_on_again(shop: Shop) -> None:
    stopped = swap("G1 Y30\nG1 X-5", "G1 Y30\nM9\nM0\nG1 X-5")
    answered = dry(small_case(shop(program=stopped)))
    assert answered.answer is CARE
    assert f"after the stop at line {line_of('G1 Y30') + 2}" in answered.why
    again = swap("G1 Y30\nG1 X-5", "G1 Y30\nM9\nM0\nM8\nG1 X-5")
    assert dry(small_case(shop(program=again))).answer is CLEAR


def test_what_welds_to_the_edge_is_stopped_dry(shop: Shop) -> None:
    words = {"materials.al-6082.welds_to_edge": "yes"}
    assert dry(small_case(shop(program=swap("Z4\nM8", "Z4")), words=words)).answer is STOP
    assert dry(small_case(shop(), words=words)).answer is CLEAR


@pytest.mark.parametrize(
    ("serves", "word", "expected"),
    [
        (("dry",), "", CLEAR),
        (("dry",), "\nM8", CARE),
        (("air",), "\nM7", CLEAR),
        (("air",), "", CARE),
        (("mist", "flood"), "\nM8", CLEAR),
    ],
)
def test_only_what_serves_counts(shop: Shop, serves: tuple[str, ...], word: str, expected: Answer) -> None:
    program = swap("M8", word.strip() or "(nothing)", once=False)
    case = small_case(shop(program=program), words={"materials.al-6082.coolant": serves})
    assert dry(case).answer is expected


def test_without_the_material_nobody_knows_what_it_asks_for(shop: Shop) -> None:
    answered = dry(small_case(shop(job=swap('material = "al-6082"\n', ""))))
    assert answered.answer is UNJUDGED
    assert [need.fact for need in answered.needs] == ["job.material"]


def test_a_shop_may_write_its_own_rule(shop: Shop) -> None:
    careful = number("machine.practice.slot_depth_flood", 0.5, 0.05, "1")
    case = small_case(shop(), careful)
    mills = lines(case, *ROUND)
    answered = judged(case, axial=dict.fromkeys(mills, DC), radial=dict.fromkeys(mills, DC))
    assert answered.answer is STOP
