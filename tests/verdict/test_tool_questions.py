"""The questions about the tools, on a program followed by hand: clear as it is meant, and the right answer when one thing is spoilt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from firstoff.facts.assembly import Part
from firstoff.facts.fact import Fact
from firstoff.loads.cut_loads import Duty, Quantity
from firstoff.verdict.case import Case
from firstoff.verdict.followed import NotFollowed
from firstoff.verdict.override import Band
from firstoff.verdict.question import Answer, Answered
from firstoff.verdict.questions import chip, chips_out, cuts, duty, power, reach, strength, torque

from .conftest import PROGRAM, swap
from .cut_by_hand import (
    ROUND,
    contact,
    drilled,
    followed_by_hand,
    light_loads,
    lines,
    load,
    per_move,
    rapids,
    small_case,
    stretch,
    swept,
    usual,
    without,
)
from .synthetic import ask, number, told

CLEAR, CARE, UNJUDGED, STOP = Answer.CLEAR, Answer.CARE, Answer.UNJUDGED, Answer.STOP
ALL = (cuts, reach, torque, power, duty, chip, strength, chips_out)
OF_LOADS = (torque, power, duty, chip, strength)


def summed(window_s: float, power_w: float, torque_nmm: float, move: int) -> Duty:
    """A duty whose hardest window is the same for power and torque."""
    return Duty(window_s, power_w, torque_nmm, 0.0, move, (), 0.0, move, ())


DUTY = summed(60.0, 60.0, 40.0, 0)
Shop = Callable[..., Path]


def line_of(text: str, nth: int = 1) -> int:
    return [number for number, line in enumerate(PROGRAM.splitlines(), 1) if line == text][nth - 1]


def answer(question: object, case: Case) -> Answered:
    return ask(question, case)[1]  # type: ignore[arg-type]


def saying(case: Case, words: dict[str, object]) -> Case:
    return replace(case, facts=told(case.facts, words=words))  # type: ignore[arg-type]


@pytest.fixture
def case(shop: Shop) -> Case:
    return small_case(shop())


@pytest.mark.parametrize("question", ALL, ids=lambda module: module.QUESTION.id)
def test_all_is_clear_as_it_is_meant_and_says_by_how_much(question: object, case: Case) -> None:
    answered = answer(question, followed_by_hand(case, duties=(DUTY,)))
    assert answered.answer is CLEAR, (answered.why, answered.needs)
    assert any(character.isdigit() for character in answered.why), answered.why


@pytest.mark.parametrize("question", ALL, ids=lambda module: module.QUESTION.id)
def test_what_was_not_followed_is_never_clear(question: object, case: Case) -> None:
    for not_told in (NotFollowed((), ()), NotFollowed((), ("tools.em6.kind",)), NotFollowed((), ("job.stock",))):
        answered = answer(question, replace(case, followed=not_told))
        assert answered.answer is UNJUDGED
        assert answered.needs


@pytest.mark.parametrize("question", OF_LOADS, ids=lambda module: module.QUESTION.id)
def test_loads_that_are_not_known_are_never_clear(question: object, case: Case) -> None:
    unknown = tuple(replace(one, candidates={}, missing=("materials.al-6082.kc",)) for one in light_loads(case))
    named = answer(question, followed_by_hand(without(case, "materials.al-6082.kc"), stretches=unknown))
    assert named.answer is UNJUDGED
    assert "materials.al-6082.kc" in {need.fact for need in named.needs}
    for stretches in ((), tuple(replace(one, candidates={}) for one in light_loads(case))):
        assert answer(question, followed_by_hand(case, stretches=stretches)).answer is UNJUDGED


@pytest.mark.parametrize("question", ALL, ids=lambda module: module.QUESTION.id)
def test_a_tool_without_a_shape_leaves_nothing_clear(question: object, case: Case) -> None:
    shapeless = without(case, "tools.dr3.kind")
    answered = answer(question, followed_by_hand(shapeless, duties=(DUTY,), unfollowed=(drilled(case)[0],)))
    assert answered.answer is UNJUDGED
    assert "tools.dr3.kind" in {need.fact for need in answered.needs}


# --- cuts ------------------------------------------------------------------------------------------------------------


def test_a_tool_that_cuts_air_below_the_top_is_stopped(case: Case) -> None:
    columns = usual(case)
    for move in lines(case, *ROUND):
        columns["volume"][move] = 0.0
    answered = answer(cuts, followed_by_hand(case, per_move(case, **columns)))
    assert answered.answer is STOP
    assert [place.place.line for place in answered.places] == [line_of("G1 Z-2 F800")]
    assert "T1 (em6)" in answered.why


def test_a_tool_that_never_comes_down_is_stopped(shop: Shop) -> None:
    high = small_case(shop(program=swap("G1 Z-2 F800", "G1 Z6 F800")))
    columns = usual(high)
    for move in lines(high, *ROUND):
        columns["volume"][move] = 0.0
    answered = answer(cuts, followed_by_hand(high, per_move(high, **columns)))
    assert answered.answer is STOP
    assert "never comes down" in answered.why


AGAIN = "G1 Y-5\n"
"""The end of T1's round; what is put after it is another pass."""


@pytest.mark.parametrize(
    ("more", "expected", "why"),
    [
        ("G0 Z10\nG1 Z-4\nX50\n", CARE, "a pass below the top"),
        ("G0 Z10\nG1 Z4\nX50\n", CARE, "a pass that comes down and goes across above the top"),
        ("G0 Z10\nG1 Z4\nG0 Z10\n", CLEAR, "it only comes down to be looked at"),
        ("G0 Z10\nG1 X50 Y30\nG0 Z12\n", CLEAR, "it only goes across on its way"),
        ("G0 Z10\nG2 X50 Y-5 R40\nG0 Z12\n", CARE, "an arc is no way through air"),
        ("Z-4\nX50\n", CLEAR, "one pass with what cuts"),
    ],
)
def test_of_several_passes_one_in_air_is_care(shop: Shop, more: str, expected: Answer, why: str) -> None:
    case = small_case(shop(program=swap(AGAIN, AGAIN + more)))
    answered = answer(cuts, followed_by_hand(case))
    assert answered.answer is expected, why
    if expected is CARE:
        assert "of 2 passes of T1 (em6), this one cuts nothing but air" in answered.why
        assert answered.places[0].place.line == line_of("G1 Y-5") + 2


def test_a_hole_where_nothing_stands_is_care_and_a_deep_one_in_many_pecks_is_one_pass(case: Case, shop: Shop) -> None:
    columns = usual(case)
    hole = drilled(case)[1]
    columns["volume"][hole] = 0.0
    answered = answer(cuts, followed_by_hand(case, per_move(case, **columns)))
    assert answered.answer is CARE
    assert "of 3 passes of T2 (dr3), this one cuts nothing but air" in answered.why
    pecking = small_case(shop(program=swap("G81 X10 Y10 Z-8 R4 F300", "G83 X10 Y10 Z-8 R4 Q1 F300")))
    columns = usual(pecking)
    last_of_hole = {int(pecking.moves.parent[move]): move for move in drilled(pecking)}
    columns["volume"].update({move: 0.0 for move in drilled(pecking) if move not in last_of_hole.values()})
    columns["share"] = dict.fromkeys(drilled(pecking), 1.0)  # the share in air is another check's
    answered = answer(cuts, followed_by_hand(pecking, per_move(pecking, **columns)))
    assert answered.answer is CLEAR, answered.why


def test_a_tool_called_again_for_nothing_is_found(shop: Shop) -> None:
    again = swap("M9\nM5\nM30", "T1 M6\nS20000 M3\nG43 H1 Z10\nG0 X-5 Y-5\nG1 Z-2 F800\nG1 Y30\nG0 Z10\nM9\nM5\nM30")
    twice = small_case(shop(program=again))
    columns = usual(twice)
    for move in lines(twice, "G1 Y30"):
        if move > drilled(twice)[0]:
            columns["volume"][move] = 0.0
    answered = answer(cuts, followed_by_hand(twice, per_move(twice, **columns)))
    assert answered.answer is STOP
    assert answered.places[0].place.line > line_of("T2 M6")


def test_what_only_the_smallest_blank_leaves_uncut_is_care(case: Case) -> None:
    columns = usual(case)
    columns["volume"] = dict.fromkeys(drilled(case), 10.0)
    answered = answer(cuts, followed_by_hand(case, smallest=per_move(case, **columns)))
    assert answered.answer is CARE
    assert "as small as it may be" in answered.why


@pytest.mark.parametrize(("share", "expected"), [(0.5, CLEAR), (0.75, CARE), (0.95, CARE)])
def test_most_of_the_time_in_air_is_told(case: Case, share: float, expected: Answer) -> None:
    """It wastes time and breaks nothing: no share of it is a stop."""
    columns = usual(case)
    columns["share"] = dict.fromkeys([*lines(case, *ROUND), *drilled(case)], 1.0 - share)
    answered = answer(cuts, followed_by_hand(case, per_move(case, **columns)))
    assert answered.answer is expected, answered.why


@pytest.mark.parametrize(("times", "expected"), [(4.0, CLEAR), (6.5, CARE), (12.0, STOP)])
def test_a_first_bite_far_larger_than_usual_is_told(case: Case, times: float, expected: Answer) -> None:
    columns = usual(case)
    columns["radial"][lines(case, ROUND[0])[0]] = times
    answered = answer(cuts, followed_by_hand(case, per_move(case, **columns)))
    assert answered.answer is expected, answered.why
    if expected is not CLEAR:
        assert answered.places[0].place.line == line_of(ROUND[0])


def test_a_first_bite_hangs_on_the_top_of_the_blank_where_the_sweeps_differ(case: Case) -> None:
    likely, largest = usual(case), usual(case)
    first = lines(case, ROUND[0])[0]
    likely["axial"][first], largest["axial"][first] = 6.0, 6.4  # the top is 0.2 mm in doubt: twice that deeper
    both = followed_by_hand(case, per_move(case, **likely), per_move(case, **largest))
    terms = [dict(limit.demand.terms) for limit in answer(cuts, both).margins]
    slope = next(one["job.stock.box.z.high"] for one in terms if one)
    assert slope == pytest.approx((6.4 - 6.0) * 1.0 / (2 * 0.2), rel=1e-5)


def test_a_rapid_into_what_a_broken_tool_left_is_care(case: Case) -> None:
    hit = contact(case, rapids(case, 2)[-1], -0.8, rapid=True)
    moves = per_move(case, **{**usual(case), "volume": dict.fromkeys(drilled(case), 56.0)})
    answered = answer(cuts, followed_by_hand(case, broken={1: swept(case, moves, (hit,))}))
    assert answered.answer is CARE
    assert "T1 (em6) breaks unseen" in answered.why
    assert "T2 (dr3) goes at rapid into what it left" in answered.why


def test_a_larger_bite_after_a_break_is_a_note_unless_the_tool_is_suspect(case: Case) -> None:
    columns = usual(case, hole_mm=50.0)
    broken = {1: swept(case, per_move(case, **columns))}
    finding, answered = ask(cuts, followed_by_hand(case, broken=broken))
    assert answered.answer is CLEAR
    assert any("T2 (dr3) meets what it left" in note for note in finding.notes)
    suspect = saying(case, {"tools.em6.condition": "suspect"})
    assert answer(cuts, followed_by_hand(suspect, broken=broken)).answer is CARE


def test_nothing_breaks_unseen_across_a_stop(shop: Shop) -> None:
    seen = small_case(shop(program=swap("M5\nT2 M6", "M5\nM0\nT2 M6")))
    hit = contact(seen, rapids(seen, 2)[-1], -0.8, rapid=True)
    broken = {1: swept(seen, per_move(seen, **usual(seen)), (hit,))}
    finding, answered = ask(cuts, followed_by_hand(seen, broken=broken))
    assert answered.answer is CLEAR
    assert not finding.notes


# --- reach -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("depth", "expected"), [(9.0, CLEAR), (13.88, CARE), (14.3, STOP)])
def test_the_deepest_cut_is_held_against_the_edge(case: Case, depth: float, expected: Answer) -> None:
    answered = answer(reach, followed_by_hand(case, per_move(case, **usual(case, depth_mm=depth))))
    assert answered.answer is expected, answered.why


def test_a_hole_is_as_deep_as_all_that_was_drilled_of_it(case: Case) -> None:
    """Each station of a drill cuts a little; its flutes must clear the whole hole."""
    columns = {**usual(case, hole_mm=15.0), "axial": dict.fromkeys(drilled(case), 0.4)}
    answered = answer(reach, followed_by_hand(case, per_move(case, **columns)))
    assert answered.answer is STOP
    assert answered.demand is not None
    assert answered.demand.value == pytest.approx(15.0)


def test_material_above_the_edge_counts_from_its_top(case: Case) -> None:
    columns = {**usual(case), "above": {lines(case, ROUND[1])[0]: 1.5}}
    answered = answer(reach, followed_by_hand(case, per_move(case, **columns)))
    assert answered.answer is STOP
    assert answered.demand is not None
    assert answered.demand.value == pytest.approx(15.5)
    assert answered.places[0].place.line == line_of(ROUND[1])


def test_an_unknown_edge_length_or_centre_is_asked_for_where_it_decides(case: Case) -> None:
    answered = answer(reach, followed_by_hand(without(case, "tools.em6.APMX")))
    assert answered.answer is UNJUDGED
    assert [need.fact for need in answered.needs] == ["tools.em6.APMX"]
    unsaid = without(case, "tools.em6.centre_cutting")
    assert answer(reach, followed_by_hand(unsaid)).answer is CLEAR
    down = {**usual(case), "dead": {lines(case, ROUND[0])[0]: 0.5}}
    told = answer(reach, followed_by_hand(unsaid, per_move(case, **down)))
    assert told.answer is UNJUDGED
    assert [need.fact for need in told.needs] == ["tools.em6.centre_cutting"]


@pytest.mark.parametrize(("deep", "expected"), [(0.05, CARE), (0.5, STOP)])
def test_a_centre_that_does_not_cut_must_not_go_down(case: Case, deep: float, expected: Answer) -> None:
    dead = saying(case, {"tools.em6.centre_cutting": False})
    columns = {**usual(case), "dead": {lines(case, ROUND[0])[0]: deep}}
    answered = answer(reach, followed_by_hand(dead, per_move(dead, **columns)))
    assert answered.answer is expected
    assert "with its middle, which does not cut" in answered.why


@pytest.mark.parametrize(("gap", "expected"), [(1.0, CLEAR), (0.0, CARE), (-0.4, STOP)])
def test_a_shank_at_feed_must_not_meet_the_stock(case: Case, gap: float, expected: Answer) -> None:
    touch = contact(case, lines(case, ROUND[2])[0], gap, Part.SHANK)
    assert answer(reach, followed_by_hand(case, contacts=(touch,))).answer is expected


LIGHT_ROTOR = number("machine.spindle.inertia", 1e-4, 1e-5, "N·mm·s²")


# --- spindle ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("torque_nmm", "expected"), [(300.0, CLEAR), (425.0, CARE), (500.0, STOP)])
def test_torque_is_held_against_the_curve_at_the_speed(shop: Shop, torque_nmm: float, expected: Answer) -> None:
    """At 20 000 1/min, on the line from 180 W at 4000 to 1100 W at 24 000: 916 W, 437 N·mm. The rotor is too light to even out a turn."""
    case = small_case(shop(), LIGHT_ROTOR)
    mill = lines(case, ROUND[0])[0]
    more = {**light_loads(case)[0].candidates, Quantity.TORQUE: (load(case, mill, torque_nmm),)}
    answered = answer(torque, followed_by_hand(case, stretches=(stretch(case, 1, more), light_loads(case)[1])))
    assert answered.answer is expected, answered.why
    assert answered.capacity is not None
    assert answered.capacity.value == pytest.approx(0.43736, rel=1e-4)


def test_a_heavy_rotor_carries_the_peaks_of_a_turn_over(shop: Shop) -> None:
    """600 N·mm at the peak of a turn, 400 W in the mean (191 N·mm): an edge takes 0.4 J. At 20 000 1/min a rotor of 2e-4 kg m²
    has 439 J and hardly feels it; one of 1e-7 kg m² has 0.2 J."""
    for inertia, expected in ((0.2, CLEAR), (1e-4, STOP)):
        case = small_case(shop(), number("machine.spindle.inertia", inertia, 0.1 * inertia, "N·mm·s²"))
        mill = lines(case, ROUND[0])[0]
        more = {Quantity.TORQUE: (load(case, mill, 600.0),), Quantity.POWER: (load(case, mill, 400.0),)}
        stretches = (stretch(case, 1, {**light_loads(case)[0].candidates, **more}), light_loads(case)[1])
        answered = answer(torque, followed_by_hand(case, stretches=stretches))
        assert answered.answer is expected, answered.why
        if expected is CLEAR:
            assert "0.19 N·m of 0.44 N·m" in answered.why


@pytest.mark.parametrize(("inertia", "told"), [(7e-3, "mean"), (4e-3, "peak")])
def test_where_a_rotor_may_or_may_not_turn_evenly_peak_and_mean_both_count(
    shop: Shop, inertia: float, told: str
) -> None:
    """As above: it turns evenly from 4.6e-3 N·mm·s² on, 0.4 J over 0.02 · (2094 rad/s)². 7e-3 less its u (a quarter) is more, 4e-3 less;
    either may be on the other side. No answer is milder than that of the torque that is told, alone."""
    alone = {"mean": 0.0, "peak": 1.0}[told]
    case = small_case(shop(), number("machine.spindle.inertia", inertia, 0.25 * inertia, "N·mm·s²"))
    mill = lines(case, ROUND[0])[0]
    more = {Quantity.TORQUE: (load(case, mill, 600.0),), Quantity.POWER: (load(case, mill, 400.0),)}
    stretches = (stretch(case, 1, {**light_loads(case)[0].candidates, **more}), light_loads(case)[1])
    answered = answer(torque, followed_by_hand(case, stretches=stretches))
    assert answered.demand is not None
    assert answered.any_chance is not None
    assert answered.demand.value == pytest.approx({"mean": 0.191, "peak": 0.6}[told], rel=1e-2)
    assert answered.demand.low95 < 0.25
    assert answered.demand.high95 > 0.55
    assert answered.any_chance >= alone - 0.01
    assert answered.any_chance > 0.02


@pytest.mark.parametrize("question", [torque, power, duty], ids=["torque", "power", "duty"])
@pytest.mark.parametrize(("speed", "side"), [(2000.0, "below the lowest"), (40000.0, "above the highest")])
def test_beyond_the_readings_nothing_is_guessed(shop: Shop, question: object, speed: float, side: str) -> None:
    odd = small_case(shop(program=swap("S20000 M3", f"S{speed:.0f} M3")))
    answered = answer(question, followed_by_hand(odd, duties=(DUTY,)))
    assert answered.answer is UNJUDGED
    assert side in answered.needs[0].how


@pytest.mark.parametrize(("watts", "expected"), [(600.0, CLEAR), (950.0, STOP)])
def test_power_is_held_against_the_curve(case: Case, watts: float, expected: Answer) -> None:
    mill = lines(case, ROUND[0])[0]
    more = {**light_loads(case)[0].candidates, Quantity.POWER: (load(case, mill, watts),)}
    answered = answer(power, followed_by_hand(case, stretches=(stretch(case, 1, more), light_loads(case)[1])))
    assert answered.answer is expected, answered.why


def test_doubt_of_the_cutting_constant_comes_through(case: Case) -> None:
    mill, kc = lines(case, ROUND[0])[0], "materials.al-6082.kc"
    more = {**light_loads(case)[0].candidates, Quantity.POWER: (load(case, mill, 700.0, {kc: 1.0}),)}
    answered = answer(power, followed_by_hand(case, stretches=(stretch(case, 1, more), light_loads(case)[1])))
    assert answered.answer is CARE
    assert answered.doubt[0].fact == kc
    assert kc in answered.needed


S6: tuple[Fact, ...] = (
    number("machine.spindle.power_s6.0.speed", 20000 / 60, 0.0, "1/s"),
    number("machine.spindle.power_s6.0.power", 1400.0, 40.0, "W"),
    number("machine.spindle.power_s6.on_share", 0.4, 0.0, "1"),
    number("machine.spindle.power_s6.cycle", 600.0, 0.0, "s"),
)


def test_a_short_window_may_use_the_rating_for_it(shop: Shop) -> None:
    """1200 W over a minute: more than the 916 W of S1, less than the 1400 W of S6 40 %."""
    rated, plain = small_case(shop(), *S6), small_case(shop())
    mills = (light_loads(rated)[0],)
    minute = (summed(60.0, 1200.0, 400.0, lines(rated, ROUND[0])[0]),)
    assert answer(duty, followed_by_hand(plain, stretches=mills, duties=minute)).answer is STOP
    only_mill = {**usual(rated), "volume": dict.fromkeys(lines(rated, *ROUND), 90.0)}
    answered = answer(duty, followed_by_hand(rated, per_move(rated, **only_mill), stretches=mills, duties=minute))
    assert answered.answer is CLEAR, (answered.why, answered.needs)
    hour = (summed(3600.0, 1200.0, 400.0, lines(rated, ROUND[0])[0]),)
    longer = answer(duty, followed_by_hand(rated, per_move(rated, **only_mill), stretches=mills, duties=hour))
    assert longer.answer is STOP
    assert "(S1)" in longer.why


def test_a_duty_that_nobody_added_up_is_not_clear(case: Case) -> None:
    assert answer(duty, followed_by_hand(case, duties=())).answer is UNJUDGED


# --- chip and strength -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("quantity", "chip_mm", "expected"),
    [
        (Quantity.CHIP, 0.08, CLEAR),
        (Quantity.CHIP, 0.12, CARE),
        (Quantity.CHIP, 0.16, STOP),
        (Quantity.THIN, 0.004, CLEAR),
        (Quantity.THIN, 0.0021, CARE),
        (Quantity.THIN, 0.0012, STOP),
    ],
)
def test_the_chip_must_be_neither_too_thick_nor_too_thin(
    case: Case, quantity: Quantity, chip_mm: float, expected: Answer
) -> None:
    """The edge takes 0.15 mm; rubbing begins at 0.3 of its 5 µm radius."""
    more = {**light_loads(case)[0].candidates, quantity: (load(case, lines(case, ROUND[0])[0], chip_mm),)}
    answered = answer(chip, followed_by_hand(case, stretches=(stretch(case, 1, more), light_loads(case)[1])))
    assert answered.answer is expected, answered.why


@pytest.mark.parametrize(("seconds", "expected"), [(4.0, CLEAR), (6.0, CARE), (20.0, STOP)])
def test_a_long_run_of_rubbing_is_told(case: Case, seconds: float, expected: Answer) -> None:
    mill, drill = light_loads(case)
    rubs = replace(mill, longest_rub_s=seconds, rubbing_s=seconds)
    assert answer(chip, followed_by_hand(case, stretches=(rubs, drill))).answer is expected


def test_the_time_of_rubbing_has_the_doubt_of_where_it_begins_and_ends(shop: Shop) -> None:
    """√(5.99 · cell) of way, 0.8 times, of the way that it rubs over at its feed (`proof/exactness`)."""
    case = small_case(shop(), number("following.time", 1.0, 0.1, ""))
    mill, drill = light_loads(case)
    [thin] = mill.candidates[Quantity.THIN]
    followed = followed_by_hand(case, stretches=(replace(mill, longest_rub_s=20.0, rubbing_s=20.0), drill))
    told = answer(chip, followed)
    power = dict(told.margins[0].demand.terms)["following.time"]
    cell = followed.followed.likely.after.grid.cell_mm  # type: ignore[union-attr]
    missed = 0.8 * (case.facts.facts["tools.em6.DC"].value * cell) ** 0.5 / (20.0 * thin.feed_mm_per_s)
    assert power * 0.09975 == pytest.approx(missed, rel=1e-3)  # 0.09975 = √ln(1 + 0.1²)


@pytest.mark.parametrize(("run_out", "expected"), [(0.006, CLEAR), (0.028, CARE), (0.06, CARE)])
def test_run_out_that_takes_the_chip_from_an_edge_is_told(shop: Shop, run_out: float, expected: Answer) -> None:
    """2000 mm/min at 20 000 1/min over three edges is 33 µm each; of 39 µm run-out one edge stands out by 33. Then the others cut alone: their chip
    and force are judged for themselves, and small cutters run like this every day (common practice)."""
    off = small_case(shop(), number("tools.em6.run_out", run_out, 0.1 * run_out))
    answered = answer(chip, followed_by_hand(off))
    assert answered.answer is expected, answered.why


@pytest.mark.parametrize(
    "fact", ["tools.em6.max_chip", "tools.em6.edge_radius", "tools.em6.run_out", "materials.al-6082.min_chip_ratio"]
)
def test_what_the_chip_hangs_on_is_asked_for(case: Case, fact: str) -> None:
    answered = answer(chip, followed_by_hand(without(case, fact)))
    assert answered.answer is UNJUDGED
    assert [need.fact for need in answered.needs] == [fact]


def test_the_override_band_is_said_for_each_tool(shop: Shop) -> None:
    """Chip 40 of 150(30) µm and 20 over 1.5(4) µm for T1; T2's torque of 355 N·mm may grow until 436(10) is reached."""
    case = small_case(shop(), LIGHT_ROTOR)
    mill, drill = light_loads(case)
    harder = replace(drill, candidates={**drill.candidates, Quantity.TORQUE: (load(case, drilled(case)[0], 355.0),)})
    why = answer(chip, followed_by_hand(case, stretches=(mill, harder))).why
    assert "T1 can take the feed override from 15 to 200 %." in why
    # At 12000 1/min 548 W, 436 N·mm; less 1.645 of their 2.3 %, over 355: 1.18, told in steps of 5 %.
    assert "T2 can take the feed override from 10 to 115 %." in why


@pytest.mark.parametrize(("force", "expected"), [(400.0, CLEAR), (1700.0, CARE), (2600.0, STOP)])
def test_the_tool_must_bear_its_peak_force(case: Case, force: float, expected: Answer) -> None:
    """One newton 1.5 mm above the tip: 12.5 mm to the end of the flutes, a core of 0.8 × 5.99 mm, 1.157 N/mm²."""
    more = {
        **light_loads(case)[0].candidates,
        Quantity.BENDING: (load(case, lines(case, ROUND[0])[0], force, lever_mm=1.5),),
    }
    answered = answer(strength, followed_by_hand(case, stretches=(stretch(case, 1, more), light_loads(case)[1])))
    assert answered.answer is expected, answered.why
    assert answered.demand is not None
    assert answered.demand.value == pytest.approx(1.1571 * force, rel=1e-3)


@pytest.mark.parametrize("fact", ["tools.em6.strength", "tools.em6.core_ratio", "tools.em6.OHX"])
def test_what_strength_hangs_on_is_asked_for(case: Case, fact: str) -> None:
    answered = answer(strength, followed_by_hand(without(case, fact)))
    assert answered.answer is UNJUDGED
    assert [need.fact for need in answered.needs] == [fact]


def test_a_force_beyond_the_overhang_is_not_clear(case: Case) -> None:
    more = {
        **light_loads(case)[0].candidates,
        Quantity.BENDING: (load(case, lines(case, ROUND[0])[0], 40.0, lever_mm=30.0),),
    }
    answered = answer(strength, followed_by_hand(case, stretches=(stretch(case, 1, more), light_loads(case)[1])))
    assert answered.answer is UNJUDGED


@pytest.mark.parametrize(("pitch", "expected"), [(0.025, CLEAR), (0.5, STOP)])
def test_a_tap_must_be_fed_its_pitch_a_turn(case: Case, pitch: float, expected: Answer) -> None:
    """300 mm/min at 12 000 1/min is 25 µm a turn."""
    tapping = saying(replace(case, facts=told(case.facts, number("tools.dr3.TP", pitch))), {"tools.dr3.kind": "tap"})
    at = drilled(tapping)[0]
    taps = stretch(
        tapping, 2, {Quantity.TAP_TORQUE: (load(tapping, at, 40.0),), Quantity.POWER: (load(tapping, at, 50.0),)}
    )
    answered = answer(strength, followed_by_hand(tapping, stretches=(light_loads(tapping)[0], taps)))
    assert answered.answer is expected, (answered.why, answered.needs)


def test_a_band_of_one_override_is_no_range() -> None:
    assert Band(2, "em6", 0.65, 0.65).words == "T2 can take no feed override but 65 %."
    assert Band(2, "em6", 0.65, 0.70).words == "T2 can take the feed override from 65 to 70 %."
