"""Holding: statics worked out by hand for each kind, and what the last cut leaves loose."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.fact import FactSet, Shape
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.removal.swept import Piece
from firstoff.sheets.wording import minus
from firstoff.verdict.case import Case
from firstoff.verdict.cut_free import piece_words
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form
from firstoff.verdict.grips import HOLDING, Grip, Seat, area_grip, grip_of, push_of, turn_of
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import holding
from firstoff.verdict.words import two_figures

from .synthetic import ask, candidate, case_of, followed_case, move_of, number, stretch, told

Shop = Callable[..., Path]
VICE = {"force": 2000.0, "friction": 0.15, "grip_height": 6.0, "jaw_width": 40.0}
NUMBERS = {
    "vice": VICE,
    "clamps": {"force": 900.0, "friction": 0.2, "span": 30.0},
    "screws": {"force": 1500.0, "friction": 0.2, "span": 20.0},
    "tape": {"area": 1200.0, "strength": 0.2, "friction": 0.5, "span": 30.0},
    "glue": {"area": 800.0, "strength": 3.0, "friction": 0.2, "span": 20.0},
    "wax": {"area": 800.0, "strength": 1.0, "friction": 0.2, "span": 20.0},
    "vacuum": {"area": 1500.0, "pressure": 0.07, "friction": 0.3, "span": 30.0},
}


def held_by(kind: str, **changes: float) -> tuple[tuple[object, ...], dict[str, object]]:
    """Facts and words of one kind of holding, exact unless changed."""
    facts = tuple(number(f"{HOLDING}.{key}", value, unit="") for key, value in {**NUMBERS[kind], **changes}.items())
    words: dict[str, object] = {f"{HOLDING}.kind": kind}
    if kind in ("clamps", "screws"):
        words[f"{HOLDING}.count"] = 2
    return facts, words


def facts_of(kind: str) -> FactSet:
    facts, words = held_by(kind)
    return told(FactSet(), *facts, words=words)  # type: ignore[arg-type]


def grip(kind: str) -> Grip:
    made = grip_of(facts_of(kind).leaning(), kind, Seat(-10.0, (25.0, 15.0)))
    assert made is not None
    return made


def pull_n(kind: str) -> float:
    known = facts_of(kind)
    return math.exp(grip(kind).pull.at(lambda path: math.log(known.facts[path].value)))


def tips_nmm(kind: str) -> list[float]:
    known = facts_of(kind)
    return [math.exp(form.at(lambda path: math.log(known.facts[path].value))) for _, form in grip(kind).tips]


# By hand: 2·µ·F; n·F·µ; A·σ; A·p·µ (common practice: statics with friction).
PULLS = {
    "vice": 2 * 0.15 * 2000,
    "clamps": 2 * 900 * 0.2,
    "screws": 2 * 1500 * 0.2,
    "tape": 240.0,
    "glue": 2400.0,
    "wax": 800.0,
    "vacuum": 1500 * 0.07 * 0.3,
}
# By hand: F·g/2 and 2·µ·F·w/4; n·F·s/2; σ·A·s/6 (section modulus of a rectangle, b·s²/6); A·p·s/2.
TIPS = {
    "vice": [2000 * 3.0, 600 * 10.0],
    "clamps": [1800 * 15.0],
    "screws": [3000 * 10.0],
    "tape": [0.2 * (40 * 30**2 / 6)],
    "glue": [3.0 * (40 * 20**2 / 6)],
    "wax": [1.0 * (40 * 20**2 / 6)],
    "vacuum": [1500 * 0.07 * 15.0],
}


@pytest.mark.parametrize("kind", PULLS)
def test_a_grip_bears_what_statics_say(kind: str) -> None:
    assert pull_n(kind) == pytest.approx(PULLS[kind])
    assert tips_nmm(kind) == pytest.approx(TIPS[kind])


def test_a_vice_opens_before_rough_jaws_slip() -> None:
    facts, words = held_by("vice", friction=0.8)
    known = told(FactSet(), *facts, words=words)  # type: ignore[arg-type]
    made = grip_of(known.leaning(), "vice", Seat(-10.0, (25.0, 15.0)))
    assert made is not None
    assert math.exp(made.pull.at(lambda path: math.log(known.facts[path].value))) == pytest.approx(2000.0)


@given(
    force=st.tuples(*[st.floats(-200, 200)] * 3).filter(lambda f: math.hypot(*f) > 1),
    at=st.tuples(st.floats(-50, 50), st.floats(-50, 50), st.floats(-10, 30)),
    turn=st.floats(0, 6.28),
)
def test_turning_the_whole_job_about_the_vertical_changes_no_push(
    force: tuple[float, float, float], at: tuple[float, float, float], turn: float
) -> None:
    cosine, sine = math.cos(turn), math.sin(turn)

    def turned(v: tuple[float, float, float]) -> tuple[float, float, float]:
        return cosine * v[0] - sine * v[1], sine * v[0] + cosine * v[1], v[2]

    one = Grip("tape", grip("tape").pull, (), (0.0, 0.0, -10.0), None)
    size = math.hypot(*force)
    before, after = push_of(one, force, at, size), push_of(one, turned(force), turned(at), size)
    assert after.sideways_n == pytest.approx(before.sideways_n, abs=1e-6)
    assert after.moment_mm == pytest.approx(before.moment_mm, abs=1e-6)
    assert after.asked.const == pytest.approx(before.asked.const)


def test_a_force_downward_neither_slides_nor_tips() -> None:
    push = push_of(grip("vice"), (0.0, 0.0, -300.0), (40.0, 30.0, 0.0), 300.0)
    assert push.moment_mm == 0.0
    assert push.sideways_n == push.upward_n == 0.0
    assert math.exp(push.asked.const) * 300.0 < 1e-3


def test_a_lift_takes_its_part_of_what_rubs() -> None:
    # By hand: slides when sideways > µ·(N − lift), so as much as a pull of sideways + µ·lift.
    made = grip("clamps")
    push = push_of(made, (100.0, 0.0, 50.0), (0.0, 0.0, 0.0), 100.0)
    known = facts_of("clamps")
    asked = math.exp(push.asked.at(lambda path: math.log(known.facts[path].value))) * 100.0
    assert asked == pytest.approx(100 + 0.2 * 50)


def milled(shop: Shop, kind: str, force: tuple[float, float, float], lever: float = 1.0, **more: object) -> Case:
    """The small shop with one push while T1 cuts along Y."""
    facts, words = held_by(kind, **more.pop("changes", {}))  # type: ignore[arg-type]
    words |= more.pop("words", {})  # type: ignore[arg-type]
    extra = more.pop("extra", ())
    case = case_of(shop(), *facts, *extra, words=words)  # type: ignore[arg-type]
    move = move_of(case, "G1 Y30")
    size = math.hypot(*force)
    kc = (("model", 1.0),) if "model" in case.facts.facts else ()
    found = {Quantity.FORCE: (candidate(case, move, size, kc, force, lever_mm=lever),)}
    cut = {"stretches": (stretch(case, 1, "em6", found),), "lowest_mm": {move: -2.0}, "axial_mm": {move: 2.0}}
    return followed_case(case, **{**cut, **more})


@pytest.mark.parametrize("kind", PULLS)
def test_each_kind_holds_a_light_push_and_lets_a_heavy_one_go(shop: Shop, kind: str) -> None:
    light = ask(holding, milled(shop, kind, (PULLS[kind] * 0.02, 0.0, 0.0)))[1]
    assert light.answer is Answer.CLEAR, (light.why, light.needs)
    assert "Nothing is cut free" in light.why
    heavy = ask(holding, milled(shop, kind, (PULLS[kind] * 1.3, 0.0, 0.0)))[1]
    assert heavy.answer is Answer.STOP
    assert heavy.places
    assert heavy.do


@pytest.mark.parametrize(
    ("kind", "key"), [(kind, key) for kind, numbers in NUMBERS.items() for key in numbers if (kind, key) not in
                      {("tape", "friction"), ("glue", "friction"), ("wax", "friction")}]
)  # fmt: skip
def test_without_one_number_of_its_kind_nobody_can_say(shop: Shop, kind: str, key: str) -> None:
    case = milled(shop, kind, (1.0, 0.0, 0.0))
    gone = case_without(case, f"{HOLDING}.{key}")
    answered = ask(holding, gone)[1]
    assert answered.answer is Answer.UNJUDGED
    assert [need.fact for need in answered.needs] == [f"{HOLDING}.{key}"]


def case_without(case: Case, path: str) -> Case:
    return replace(case, facts=case.facts.without(path))


def test_a_push_high_over_a_shallow_grip_tips_the_part_before_it_slides(shop: Shop) -> None:
    # 200 N slides at 600 N only, but 30 mm above the middle of a 6 mm grip it asks 6 N·m of the 6 that either way bears.
    answered = ask(holding, milled(shop, "vice", (0.0, 200.0, 0.0), lever=25.0 + 2.0))[1]
    assert answered.answer is not Answer.CLEAR
    assert "tip it" in answered.why
    assert answered.demand is not None
    # centre of the grip: bottom −10 plus 3; force at Z −2 + 27; X 50 against the middle at 25 does not count for a level push.
    assert answered.demand.value == pytest.approx(200 * (25 + 7))


def test_forces_share_their_constant_and_the_odds_are_log_normal(shop: Shop) -> None:
    # P(D > C) at C = 2·D and u = 45 % of a log-normal D is 5.3 % (NUMERICS 1.4.1, closed form).
    model = number("model", 1.0, 0.45, "1", Shape.LOGNORMAL)
    changes = {"span": 1e6}  # so broad that it neither tips nor turns
    case = milled(shop, "glue", (1200.0, 0.0, 0.0), lever=-8.0, lowest_mm={}, extra=(model,), changes=changes)
    answered = ask(holding, case)[1]
    assert answered.any_chance == pytest.approx(0.053, abs=0.006)
    assert [share.fact for share in answered.doubt] == ["model"]


# --- the last cut -----------------------------------------------------------------------------------------------------------


def parted(shop: Shop, kind: str, said: str | None, *pieces: Piece, force: float = 5.0, **more: object) -> Case:
    words = {f"{HOLDING}.after_cut_free": said} if said is not None else {}
    case = milled(shop, kind, (force, 0.0, 0.0), words=words, surfaces={"pieces": pieces}, **more)
    return case if said is not None else case_without(case, f"{HOLDING}.after_cut_free")


def piece(case_move: int, volume: float = 6000.0, area: float = 700.0) -> Piece:
    return Piece(volume, -10.0, area, case_move, (25.0, 15.0))


def freed_at(shop: Shop) -> int:
    return move_of(case_of(shop()), "G1 X-5")


def test_a_piece_cut_free_with_nothing_said_cannot_be_judged(shop: Shop) -> None:
    answered = ask(holding, parted(shop, "vice", None, piece(freed_at(shop))))[1]
    assert answered.answer is Answer.UNJUDGED
    assert [need.fact for need in answered.needs] == [f"{HOLDING}.after_cut_free"]


def test_words_that_nobody_understands_hold_nothing(shop: Shop) -> None:
    answered = ask(holding, parted(shop, "vice", "it will be fine", piece(freed_at(shop))))[1]
    assert answered.answer is Answer.UNJUDGED
    assert "not understood" in answered.do


@pytest.mark.parametrize("said", ["nothing is cut free", "skin 0.2 mm", "tabs 4 x 3 mm x 0.5 mm"])
def test_a_piece_cut_free_against_the_jobs_own_word_is_a_stop_at_its_line(shop: Shop, said: str) -> None:
    move = freed_at(shop)
    case = parted(shop, "vice", said, piece(move))
    answered = ask(holding, case)[1]
    assert answered.answer is Answer.STOP
    assert int(case.moves.line[move]) in [place.place.line for place in answered.places]


def test_what_clamps_hold_at_the_rim_is_not_what_comes_free(shop: Shop) -> None:
    """A cap cut out of a clamped plate: the frame round it is larger and parted too, but it is held."""
    move = freed_at(shop)
    frame, cap = piece(move, 9000.0), replace(piece(move, 4000.0), at_rim=False, at_mm=(20.0, 12.0))
    for kind, said in (("clamps", "skin 0.3 mm"), ("clamps", "clamps"), ("screws", "screws"), ("vice", "vice")):
        answered = ask(holding, parted(shop, kind, said, frame, cap))[1]
        assert answered.answer is (Answer.STOP if said == "skin 0.3 mm" else Answer.CARE)
        assert "4 cm³ at X 20.0 mm" in answered.why
        assert "9 cm³" not in "".join(place.what for place in answered.places)
    # Where both halves reach the rim, either may be the one that is held.
    halves = ask(holding, parted(shop, "vice", "skin 0.3 mm", frame, piece(move, 4000.0)))[1]
    assert halves.answer is Answer.STOP


def test_tape_holds_a_piece_by_the_area_under_it(shop: Shop) -> None:
    move = freed_at(shop)
    wide = ask(holding, parted(shop, "tape", "tape", piece(move, area=700.0), force=20.0))[1]
    assert wide.answer is Answer.CLEAR, wide.why
    narrow = ask(holding, parted(shop, "tape", "tape", piece(move, area=80.0), force=20.0))[1]
    assert narrow.answer is Answer.STOP  # 16 N under it, a third of that at its rim
    assert "bears 5 N then" in narrow.why


@pytest.mark.parametrize("kind", ["tape", "vacuum"])
def test_a_parted_piece_is_pushed_at_its_rim(kind: str) -> None:
    """A disc of 10 mm radius, whose stress or friction under pull and turn together is summed over its area: by hand, on a grid.

    Stuck down: the greatest stress of P/A and P·R·R/J. Rubbing: the push at the rim at which friction, always across the way to some
    pole, balances it, for the best pole; what is reckoned must be no more (Goyal, Ruina and Papadopoulos 1991, from memory)."""
    radius, facts = 10.0, facts_of(kind)
    area = math.pi * radius**2
    made = area_grip(facts.leaning(), kind, Seat(-10.0, (25.0, 15.0)), area)
    assert made is not None
    bears = exponential(made.pull, facts)
    step = np.linspace(-radius, radius, 401)
    x, y = (one[np.hypot(*np.meshgrid(step, step)) <= radius] for one in np.meshgrid(step, step))
    each = area / x.size
    if kind == "tape":
        polar = float(np.sum(x**2 + y**2)) * each
        assert bears == pytest.approx(0.2 / (1 / area + radius**2 / polar), rel=0.01)
        return
    rubs = 0.07 * 0.3 * each
    # About a pole on the side away from the push, at X = -p: moment of all friction over the lever of a push along Y at X = R.
    slips = min(float(np.sum(np.hypot(x + pole, y))) * rubs / (radius + pole) for pole in np.linspace(0.0, 40.0, 81))
    assert slips * 0.75 < bears <= slips


def test_a_tall_piece_on_tape_tips_before_it_slides(shop: Shop) -> None:
    """By hand: 400 mm² of tape at 0.2 N/mm² bear 80 N, 27 at the rim, and 80·20/6 = 267 N·mm; 6 N at 68 mm above it ask 408."""
    move = freed_at(shop)
    low, high = (
        ask(holding, parted(shop, "tape", "tape", piece(move, area=400.0), force=6.0, lever=lever, lowest_mm={}))[1]
        for lever in (-7.0, 60.0)
    )
    assert low.answer is Answer.CLEAR, low.why
    assert high.answer is Answer.STOP
    assert "would tip a piece of about 6 cm³" in high.why


def test_a_loose_slug_is_care_with_its_line(shop: Shop) -> None:
    move = freed_at(shop)
    main, slug = piece(-1, 8000.0), piece(move, 200.0, 20.0)
    case = parted(shop, "tape", "tape", main, slug, force=20.0)
    answered = ask(holding, case)[1]
    assert answered.answer is Answer.CARE
    assert answered.places[0].place.line == int(case.moves.line[move])
    assert "it bears 1.3 N of the 20 N that push it. If it is the part, it is lost." in answered.why
    screwed = ask(holding, parted(shop, "screws", "screws", main, slug))[1]
    assert screwed.answer is Answer.CARE
    assert "loose" in screwed.why


def test_vacuum_leaks_once_the_cut_goes_through(shop: Shop) -> None:
    answered = ask(holding, parted(shop, "vacuum", "vacuum", piece(freed_at(shop), area=1400.0), force=1.0))[1]
    assert answered.answer is Answer.CARE
    assert "leaks" in answered.why


def test_a_skin_thinner_than_the_doubt_of_the_blank_is_no_skin(shop: Shop) -> None:
    """The blank's bottom lies at −10 ± 0.2 mm."""
    words = {"words": {f"{HOLDING}.after_cut_free": "skin 0.2 mm"}}
    case = milled(shop, "vice", (5.0, 0.0, 0.0), **words)
    deep = move_of(case, "G1 X-5")

    def skin(z: float) -> Answer:
        return ask(holding, followed_case(case, stretches=case.followed.loads.stretches, lowest_mm={deep: z}))[1].answer

    assert skin(-9.8) is Answer.CARE
    assert skin(-9.61) is Answer.CLEAR
    assert skin(-2.0) is Answer.CLEAR


# --- turning about the vertical, skin and tabs ---------------------------------------------------------------------------------


def test_a_push_beside_the_middle_turns_what_a_push_through_it_would_not(shop: Shop) -> None:
    """Two clamps of 900 N, friction 0.2, 30 mm apart, bear 360 N or 5.4 N·m; the push stands 29 mm beside the middle of the blank."""
    away = math.hypot(25.0, 15.0)
    just = 0.2 * 900 * 30 / (15.0 + away)  # S·s/2 + S·r = µ·F·s, by hand
    for part, answer in ((0.5, Answer.CLEAR), (1.2, Answer.STOP)):
        case = milled(shop, "clamps", (part * just, 0.0, 0.0), lever=-12.0, lowest_mm={})
        found = ask(holding, case)[1]
        assert found.answer is answer, found.why
    assert "turn it about the vertical" in found.why
    assert part * just < 360.0  # through the middle they would bear it


def exponential(form: Form, known: FactSet) -> float:
    return math.exp(form.at(lambda path: math.log(known.facts[path].value)))


@given(aside=st.floats(0.0, 60.0), push_n=st.floats(1.0, 500.0))
def test_a_push_farther_out_never_turns_less(aside: float, push_n: float) -> None:
    for kind in PULLS:
        made = grip(kind)
        push = push_of(made, (push_n, 0.0, 0.0), (0.0, 0.0, 0.0), push_n)
        known = facts_of(kind)
        asked = [turn_of(made, push, push_n, one) for one in (aside, aside + 1.0)]
        here, there = (exponential(one, known) for one in asked if one is not None)
        assert there > here


TWO_DEEP = "skin 0.3 mm"


def capped(shop: Shop, skin_mm: float, push_n: float, said: str = TWO_DEEP, **words: object) -> Case:
    """A cap of 12 x 12 mm within a cut that leaves a skin, in the clamped blank of the small shop."""
    strength = number("materials.al-6082.shear_strength", 100.0, unit="N/mm²")
    case = milled(shop, "clamps", (push_n, 0.0, 0.0), lever=-12.0, lowest_mm={}, extra=(strength,),
                  words={f"{HOLDING}.after_cut_free": said, **words}, changes={"force": 90000.0})  # fmt: skip
    told = case.followed
    assert isinstance(told, Followed)
    top, maker = told.likely.after.top.copy(), told.likely.maker.copy()
    move = move_of(case, "G1 Y30")
    low = np.float32(told.likely.after.bottom_mm - told.likely.after.grid.z0_mm + skin_mm)
    top[8:22, 18:32], maker[8:22, 18:32] = low, move
    top[9:21, 19:31], maker[9:21, 19:31] = 0.0, -1
    after = replace(told.likely.after, top=top)
    moves = told.likely.moves
    if said.startswith("tabs"):
        moves = replace(
            moves, lowest_mm=np.where(np.arange(len(moves.lowest_mm)) == move, -9.9, np.nan).astype(np.float32)
        )
    likely = replace(told.likely, after=after, maker=maker, moves=moves)
    return replace(case, followed=replace(told, likely=likely))


def test_a_skin_bears_its_section(shop: Shop) -> None:
    """By hand: 48 mm round, at least π/4 of it, 0.3 mm thick, 100 N/mm²: 1131 N."""
    for push_n, answer in ((800.0, Answer.CLEAR), (1400.0, Answer.STOP)):
        finding, answered = ask(holding, capped(shop, 0.3, push_n))
        assert answered.answer is answer, answered.why
        bears = [limit.capacity for limit in finding.checks[0].limits if "skin" in limit.what]
        assert [math.exp(form.const) * 100.0 for form in bears] == pytest.approx([48 * math.pi / 4 * 30], rel=1e-3)
    assert "from here on a skin of 0.30 mm" in answered.why


def test_tabs_bear_their_sections(shop: Shop) -> None:
    """By hand: 4 tabs of 3 by 0.5 mm, 100 N/mm²: 600 N."""
    for push_n, answer in ((400.0, Answer.CLEAR), (700.0, Answer.STOP)):
        answered = ask(holding, capped(shop, 0.1, push_n, "tabs 4 x 3 mm x 0.5 mm"))[1]
        assert answered.answer is answer, answered.why
    assert "4 tabs" in answered.why


def test_a_skin_of_a_material_whose_strength_nobody_knows_is_not_judged(shop: Shop) -> None:
    answered = ask(holding, case_without(capped(shop, 0.3, 10.0), "materials.al-6082.shear_strength"))[1]
    assert answered.answer is Answer.UNJUDGED
    assert [need.fact for need in answered.needs] == ["materials.al-6082.shear_strength"]


def test_the_place_of_a_piece_is_told_as_other_lengths_are(shop: Shop) -> None:
    """A minus beside a letter is the program's; apart from it pages print it as a minus (`minus`)."""
    case = case_of(shop())
    words = piece_words(case, Piece(1200.0, -10.0, 80.0, 3, (-12.34, 0.5)))
    assert words == "a piece of about 1.2 cm³ at X -12.3 mm, Y 0.50 mm"
    assert "X \u221212.3 mm" in minus(words)


# --- what drills and taps ask, and what sticks out ---------------------------------------------------------------------------


def turned(shop: Shop, kind: str, found: dict[Quantity, float], at: tuple[float, float] = (25.0, 15.0), **changes: float) -> Case:  # fmt: skip
    """The small shop with the loads of a drill or a tap at one place."""
    facts, words = held_by(kind, **changes)
    case = case_of(shop(), *facts, words=words)  # type: ignore[arg-type]
    move = move_of(case, "G1 Y30")
    loads: dict[Quantity, tuple[Candidate, ...]] = {
        quantity: (replace(candidate(case, move, value), tip_mm=(*at, -5.0)),) for quantity, value in found.items()
    }
    return followed_case(case, stretches=(stretch(case, 1, "em6", loads),))


def test_a_drill_turns_a_small_part_on_vacuum_though_nothing_pushes_it(shop: Shop) -> None:
    """By hand: 1500 mm² at 0.07 N/mm² and friction 0.3 bear 31.5 N as a disc of 30 mm: 2/3·31.5·15 = 315 N·mm."""
    for torque, answer in ((60.0, Answer.CLEAR), (400.0, Answer.STOP)):
        found = ask(holding, turned(shop, "vacuum", {Quantity.TORQUE: torque, Quantity.DRILL_THRUST: 150.0}))[1]
        assert found.answer is answer, found.why
    assert "turns the part about the vertical with 0.40 N·m; the vacuum bears 0.32 N·m" in found.why


def test_a_cut_that_another_tool_went_over_turns_from_where_it_was(shop: Shop) -> None:
    """Nothing is left of what T1 cut, and its greatest push is kept in the middle of the blank; but it cut along X 50, to 30 mm from there."""
    made = milled(shop, "clamps", (150.0, 0.0, 0.0), lever=-12.0, lowest_mm={})
    told = made.followed
    assert isinstance(told, Followed)
    assert told.loads is not None
    (stretch_of,) = told.loads.stretches
    middle = {
        quantity: tuple(replace(one, tip_mm=(25.0, 15.0, -2.0)) for one in found)
        for quantity, found in stretch_of.candidates.items()
    }
    loads = replace(told.loads, stretches=(replace(stretch_of, candidates=middle),))
    answered = ask(holding, replace(made, followed=replace(told, loads=loads)))[1]
    assert answered.answer is Answer.STOP
    assert "up to 29.7 mm beside the middle of the blank" in answered.why


def test_a_tap_turns_what_is_taped_down(shop: Shop) -> None:
    """By hand: σ·A·s·√2/6 = 0.2·1200·30·√2/6 = 1697 N·mm."""
    for torque, answer in ((300.0, Answer.CLEAR), (2200.0, Answer.STOP)):
        found = ask(holding, turned(shop, "tape", {Quantity.TAP_TORQUE: torque}))[1]
        assert found.answer is answer, found.why


def test_the_torque_of_a_milling_cutter_is_in_its_push(shop: Shop) -> None:
    assert ask(holding, turned(shop, "vacuum", {Quantity.TORQUE: 400.0}))[1].answer is Answer.CLEAR


def test_a_drill_beyond_the_end_of_the_jaws_tips_the_part(shop: Shop) -> None:
    """Jaws that hold 20 mm of a blank of 52: at X 49, 24 mm beside its middle, 14 mm beyond their end. By hand: 2·µ·F·w/4 = 3000 N·mm, so
    214 N tip it there, and nothing does between the jaws."""
    loads = {Quantity.THRUST: 260.0, Quantity.DRILL_THRUST: 260.0}
    beyond = ask(holding, turned(shop, "vice", loads, (49.0, 15.0), jaw_width=20.0))[1]
    assert beyond.answer is Answer.STOP
    assert (
        "pushes down with 260 N, 14.0 mm beyond the end of the jaws: 3.6 N·m would tip it along the jaws" in beyond.why
    )
    assert ask(holding, turned(shop, "vice", loads, (33.0, 15.0), jaw_width=20.0))[1].answer is Answer.CLEAR
    assert ask(holding, turned(shop, "clamps", loads, (49.0, 15.0)))[1].answer is Answer.CLEAR  # it lies on the table


def test_jaws_longer_than_the_blank_hold_no_more_of_it() -> None:
    """The blank is 52 mm long: jaws of 200 mm hold what jaws of 52 hold."""

    def moments(width: float) -> list[float]:
        facts, words = held_by("vice", jaw_width=width)
        known = told(FactSet(), *facts, words=words)  # type: ignore[arg-type]
        made = grip_of(known.leaning(), "vice", Seat(-10.0, (25.0, 15.0), 52.0, 32.0))
        assert made is not None
        assert made.turn is not None
        push = push_of(made, (100.0, 0.0, 0.0), (0.0, 0.0, 0.0), 100.0)
        asked = turn_of(made, push, 100.0, 30.0)
        assert asked is not None
        return [exponential(form, known) for form in (*(form for _, form in made.tips), made.turn, asked)]

    assert moments(200.0) == pytest.approx(moments(52.0))
    assert moments(40.0)[1] == pytest.approx(600 * 10.0)


def test_a_bar_clamped_at_both_ends_tips_over_its_long_edge() -> None:
    """Two clamps of 900 N, 110 mm apart on a bar 20 mm wide: by hand 1800 N at 10 mm from its edge, not at 55."""
    facts, words = held_by("clamps", span=110.0)
    known = told(FactSet(), *facts, words=words)  # type: ignore[arg-type]
    made = grip_of(known.leaning(), "clamps", Seat(-10.0, (60.0, 10.0), 120.0, 20.0))
    assert made is not None
    assert exponential(made.tips[0][1], known) == pytest.approx(1800 * 10.0)


def test_a_body_on_a_skin_folds_before_it_is_torn_off(shop: Shop) -> None:
    """By hand: the skin bears 1131 N in all (see above); a push of 400 N 12 mm above it asks 4.8 N·m of a quarter of that at 12 mm, 3.4."""
    case = capped(shop, 0.3, 400.0)
    assert ask(holding, case)[1].answer is Answer.CLEAR
    high = replace(case, followed=raised(case, 16.0))
    answered = ask(holding, high)[1]
    assert answered.answer is Answer.STOP
    assert "4.8 N·m that would fold it over; it bears about 3.4 N·m" in answered.why


def raised(case: Case, by_mm: float) -> Followed:
    """The same pushes, higher up."""
    told = case.followed
    assert isinstance(told, Followed)
    assert told.loads is not None

    def higher(one: Stretch) -> Stretch:
        return replace(one, candidates={
            quantity: tuple(replace(each, lever_mm=each.lever_mm + by_mm) for each in found)
            for quantity, found in one.candidates.items()
        })  # fmt: skip

    return replace(told, loads=replace(told.loads, stretches=tuple(higher(one) for one in told.loads.stretches)))


def test_two_figures_are_two_where_a_figure_rounds_up() -> None:
    said = [two_figures(value) for value in (9.94, 9.96, 0.0999, 99.6, 1.0, 0.0)]
    assert said == ["9.9", "10", "0.10", "100", "1.0", "0"]


def test_what_holds_it_tells_of_tipping_too(shop: Shop) -> None:
    """A vice that bears 600 N and 6 N·m either way, pushed with 20 N 30 mm above the middle of its grip: 30 and 10 times."""
    why = ask(holding, milled(shop, "vice", (0.0, 20.0, 0.0), lever=23.0 + 2.0))[1].why
    assert "at least 30 times the greatest push and 10 times what would tip or turn it" in why
