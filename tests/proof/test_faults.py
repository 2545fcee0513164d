"""The study of seeded faults: its replay against what is plain by hand, and a fast sample of the study itself."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.verdict.question import Answer
from firstoff.verdict.questions import ALL
from proof.faults import bench as bench_module
from proof.faults import beside, outcome, stock, words
from proof.faults import replay as replay_module
from proof.faults import steps as steps_module
from proof.faults.all_kinds import KINDS
from proof.faults.bench import Bench, Box, Cutter, Mill, Work
from proof.faults.edits import Program, set_key, with_word, without_word, word
from proof.faults.kinds import Scene
from proof.faults.outcome import begins, differences, run
from proof.faults.page import wilson
from proof.faults.replay import replay
from proof.faults.shop import CleanShop, lay_out_all, scene
from proof.faults.steps import Step
from proof.faults.study import Clean, Found, examine_clean, study

MILL = Cutter("mill", "flat", 3.0, 0.0, 180.0, 10.0, 3.0, 20.0, 60.0, ((10.0, 40.0),), 0.0, 30000.0)
LONG = Cutter("long", "flat", 2.0, 0.0, 180.0, 12.0, 2.0, 30.0, 75.0, ((10.0, 45.0),), 1.0, 30000.0)
DRILL = Cutter("drill", "drill", 1.5, 0.0, 118.0, 25.0, 1.5, 30.0, 70.0, ((10.0, 40.0),), 0.0, 30000.0)
TRAVEL = ((0.0, 300.0), (0.0, 200.0), (-150.0, 0.0))


def bench(dog_leg: bool = False, fixtures: tuple[Box, ...] = ()) -> Bench:
    """A blank of 40 by 30 by 10 with zero at its top, front left; zero of the machine frame far above."""
    rack = ("rack", ((280.0, 300.0), (0.0, 200.0), (-150.0, -50.0)))
    mill = Mill(
        TRAVEL,
        (100.0, 50.0, 50.0),
        (3000.0, 24000.0),
        False,
        6.0,
        ((30.0, 0.0),),
        (rack,),
        (0.0, 200.0, 0.0),
        dog_leg,
        0.01,
    )
    work = Work(
        {54: (100.0, 80.0, -150.0)}, ((0.0, 40.0), (0.0, 30.0), (-10.0, 0.0)), fixtures, -6.0, -9.0, True, math.inf
    )
    return Bench(mill, work, {1: MILL, 2: LONG, 3: DRILL})


HEAD = ["G21 G17 G90 G94 G40 G80", "T1 M6", "G54 G90", "S12000 M3", "G4 P4.0", "G0 X-10.0 Y10.0", "G0 G43 Z5.0 H1"]
END = ["G0 Z20.0", "G53 G0 Z0.0", "M5", "M30"]


def steps(*blocks: str, head: list[str] = HEAD, dog_leg: bool = False) -> list[Step]:
    """What some blocks do after the head."""
    trace = replay([*head, *blocks], bench(dog_leg))
    assert trace.alarm is None, trace.alarm
    return [step for step in trace.steps if step.line > len(head)]


def test_the_replay_shares_no_code_with_the_package() -> None:
    for module in (bench_module, words, steps_module, beside, replay_module, stock, outcome):
        text = Path(str(module.__file__)).read_text(encoding="utf-8")
        assert "firstoff" not in text


# --- the control -----------------------------------------------------------------------------------------------------------


def test_the_tip_stands_where_the_program_says_with_its_own_length() -> None:
    (down,) = steps("Z-2.0")
    assert down.end == pytest.approx((-10.0, 10.0, -2.0))
    assert down.gauge[1] == pytest.approx((90.0, 90.0, -150.0 + 60.0 - 2.0))


@pytest.mark.parametrize(("register", "off"), [(2, 15.0), (0, -60.0)])
def test_another_length_shifts_the_tip_by_the_difference(register: int, off: float) -> None:
    head = [*HEAD[:-1], f"G0 G43 Z5.0 H{register}"]
    (down,) = steps("Z-2.0", head=head)
    assert down.end[2] == pytest.approx(-2.0 + off)


def test_inch_and_incremental() -> None:
    assert steps("G20 G0 X1.0")[0].end[0] == pytest.approx(25.4)
    assert steps("G91 G0 X4.0 Z-1.0")[0].end == pytest.approx((-6.0, 10.0, 4.0))


def test_home_goes_through_the_place_that_it_names() -> None:
    through, home = steps("G28 Z1.0")
    assert through.end[2] == pytest.approx(1.0)
    assert home.gauge[1] == pytest.approx((90.0, 90.0, 0.0))


@pytest.mark.parametrize("clockwise", [True, False])
def test_a_half_turn_is_as_long_as_half_a_circle_and_goes_its_way_round(clockwise: bool) -> None:
    (arc,) = steps(f"G{2 if clockwise else 3} X-2.0 Y10.0 I4.0 J0.0 F600.0")
    assert arc.length() == pytest.approx(4.0 * math.pi)
    assert math.copysign(1.0, arc.sweep) == (-1.0 if clockwise else 1.0)
    assert arc.seconds == pytest.approx(4.0 * math.pi / 10.0)


def test_pecks_are_as_deep_as_told_and_come_up_to_r_in_between() -> None:
    told = steps("G83 G99 X5.0 Y5.0 Z-7.0 R2.0 Q4.0 F300.0")
    feeds = [(round(step.start[2], 6), round(step.end[2], 6)) for step in told if step.kind == "feed"]
    assert feeds == [(2.0, -2.0), (-1.7, -6.0), (-5.7, -7.0)]
    assert told[-1].end[2] == pytest.approx(2.0)


def test_a_dog_leg_lets_each_axis_run_at_its_own_speed() -> None:
    first, second = steps("X30.0 Y20.0", dog_leg=True)
    assert first.end[:2] == pytest.approx((10.0, 20.0))  # Y needs 0.2 s for its ten, X goes twenty in that time
    assert second.end[:2] == pytest.approx((30.0, 20.0))
    (straight,) = steps("X30.0 Y20.0")
    assert straight.seconds == pytest.approx(first.seconds + second.seconds)


@pytest.mark.parametrize(
    "block",
    ["M52", "XO.0", "X1.0 X2.0", "G2 X5.0 Y5.0 F100.0", "G3 X0.0 Y10.0 I4.0 J0.0 F100.0", "G43 Z5.0", "G1 X5.0", "G55", "T8 M6"],
)  # fmt: skip
def test_what_a_control_stops_at_is_an_alarm(block: str) -> None:
    trace = replay([*HEAD, block, *END], bench())
    assert trace.alarm is not None
    assert trace.alarm[0] == len(HEAD) + 1
    assert trace.ended == "alarm"


# --- compensation ------------------------------------------------------------------------------------------------------------

LEAD = ["G0 X-10.0 Y-10.0", "G1 Z-1.0 F300.0", "G1 G41 X0.0 Y0.0 D1 F600.0"]


def test_the_tool_goes_beside_a_square_and_rolls_round_its_corners() -> None:
    """Up the left side of a square with the tool on its left: outside, so corners are rolled round."""
    told = steps(*LEAD, "Y20.0", "X20.0", "Y0.0", "G40 X40.0")
    feeds = [step for step in told if step.kind == "feed" and step.line > len(HEAD) + 3]
    assert feeds[0].start[:2] == pytest.approx((-3.0, 0.0))
    assert feeds[0].end[:2] == pytest.approx((-3.0, 20.0))
    assert feeds[1].centre == pytest.approx((0.0, 20.0))
    assert feeds[2].start[:2] == pytest.approx((0.0, 23.0))
    assert feeds[2].end[:2] == pytest.approx((20.0, 23.0))


def test_inside_corners_are_where_the_offsets_cross() -> None:
    told = steps(*LEAD[:2], "G1 G41 X20.0 Y0.0 D1 F600.0", "Y20.0", "X-5.0", "G40 X-20.0")
    up, left = [step for step in told if step.kind == "feed"][2:4]
    assert up.end[:2] == pytest.approx((17.0, 17.0))
    assert left.start[:2] == pytest.approx((17.0, 17.0))


def test_a_ring_cut_with_compensation_lies_a_radius_outside() -> None:
    told = steps(
        *LEAD[:2], "G1 G41 X20.0 Y0.0 D1 F600.0", "G3 X20.0 Y20.0 I0.0 J10.0", "X20.0 Y0.0 I0.0 J-10.0", "G40 G1 X40.0"
    )
    arcs = [step for step in told if step.centre is not None]
    assert [math.dist(step.start[:2], (20.0, 10.0)) for step in arcs] == pytest.approx([7.0, 7.0])


@pytest.mark.parametrize(
    "blocks",
    [["G0 X-1.0 Y0.0", *LEAD[1:]], [*LEAD[:2], "G1 G41 X0.0 Y0.0 D9 F600.0"], [*LEAD, "G3 X0.0 Y4.0 I0.0 J2.0"]],
    ids=["lead-in too short", "empty register", "inside arc too small"],
)
def test_what_cannot_be_followed_is_an_alarm(blocks: list[str]) -> None:
    assert replay([*HEAD, *blocks, "G1 Y20.0", *END], bench()).alarm is not None


# --- the work ------------------------------------------------------------------------------------------------------------------


def program(*blocks: str) -> list[str]:
    return [*HEAD, "M8", *blocks, *END]


def test_a_slot_takes_as_much_as_it_should() -> None:
    told = run(program("G1 Z-2.0 F300.0", "X50.0 F600.0"), bench())
    assert told.lines[len(HEAD) + 3].volume == pytest.approx(40 * 6 * 2, rel=0.02)


def test_a_hole_takes_as_much_as_its_cylinder_and_its_cone() -> None:
    lines = [line.replace("T1", "T3").replace("H1", "H3") for line in HEAD]
    told = run([*lines, "G81 G98 X10.0 Y10.0 Z-6.0 R2.0 F300.0", "G80", *END], bench())
    cone = 1.5 / math.tan(math.radians(59.0))
    hole = math.pi * 1.5**2 * (6.0 - cone + cone / 3)
    assert told.lines[len(HEAD) + 1].volume == pytest.approx(hole, rel=0.15)  # 32 cells of half a millimetre


HITS = [
    ("rapid", ("G0 X20.0", "Z-2.0")),
    ("below", ("G1 Z-9.5 F300.0",)),
    ("obstacle", ("G1 Z-7.0 F300.0",)),
    ("travel", ("G0 X250.0",)),
    ("zone", ("G53 G0 X290.0 Z-100.0",)),
]


@pytest.mark.parametrize(("harm", "blocks"), HITS, ids=[name for name, _ in HITS])
def test_what_is_hit_is_noted_at_its_line(harm: str, blocks: tuple[str, ...]) -> None:
    told = run(program(*blocks), bench())
    assert next(line for line, at in told.lines.items() if harm in at.harms) == len(HEAD) + 1 + len(blocks)


def test_a_holder_that_comes_down_beside_a_clamp_is_noted() -> None:
    clamp = ((12.0, 20.0), (0.0, 30.0), (0.0, 15.0))
    blocks = ("G0 X5.0", "G1 Z-6.0 F300.0")
    assert "body" in run(program(*blocks), bench(fixtures=(clamp,))).lines[len(HEAD) + 3].harms
    assert not run(program(*blocks), bench()).lines[len(HEAD) + 3].harms


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        ("S12000", "off"),
        ("S12000 M4", "backwards"),
        ("S30000 M3", "too fast"),
        ("S2000 M3", "too slow"),
        ("M3", "at no speed"),
    ],
)
def test_what_is_wrong_with_the_spindle_at_a_cut(words: str, wrong: str) -> None:
    lines = [words if line.startswith("S12000") else line for line in program("G1 Z-2.0 F300.0", "X20.0")]
    assert run(lines, bench()).lines[len(HEAD) + 3].spindle == wrong


def test_a_cut_before_the_spindle_is_at_speed() -> None:
    lines = [line for line in program("G1 Z-2.0 F6000.0", "X20.0") if not line.startswith("G4")]
    assert run(lines, bench()).lines[len(HEAD) + 2].spindle == "not at speed"


# --- differences ---------------------------------------------------------------------------------------------------------------

CUTS = program("G1 Z-2.0 F300.0", "X50.0 F600.0", "G0 Z5.0", "X-10.0 Y20.0", "G1 Z-2.0 F300.0", "X50.0 F600.0")


def differ(faulty: Program) -> dict[str, list[int]]:
    texts = [line.text for line in faulty.lines]
    return differences(run(CUTS, bench()), run(texts, bench()), faulty.origin)


def clean_program() -> Program:
    return Program.of("\n".join(CUTS))


def test_the_clean_program_differs_from_itself_in_nothing() -> None:
    assert differ(clean_program()) == {}
    assert differ(clean_program().insert(4, "(a remark)")) == {}
    assert differ(clean_program().put(2, "G54")) == {}  # G90 was said before: such a mistake does not count


def test_a_line_that_is_not_there_shows_at_the_next_one() -> None:
    told = differ(clean_program().drop(CUTS.index("X-10.0 Y20.0")))
    assert told["way"][0] == CUTS.index("X-10.0 Y20.0") + 1
    assert "shape" in told


def test_a_cut_begins_with_the_line_that_goes_down_to_it() -> None:
    told = run(CUTS, bench())
    assert begins(told, len(HEAD) + 3) == len(HEAD) + 2
    assert begins(told, len(HEAD) + 4) == len(HEAD) + 4


# --- texts -----------------------------------------------------------------------------------------------------------------------


@given(st.sampled_from("XYZIJF"), st.integers(-99999, 99999), st.integers(-99999, 99999))
def test_a_word_written_is_the_word_read(letter: str, before: int, after: int) -> None:
    line = with_word(f"G1 {letter}{before / 100:.2f} (X1.0)", letter, after / 100)
    assert word(line, letter) == pytest.approx(after / 100)
    assert word(without_word(line, letter), letter) is None


def test_a_key_is_changed_in_its_own_table_only() -> None:
    text = '[tool.a]\nLF = "1 mm"\n[tool.b]   # the other\nLF = "2 mm"  # read\nDC = "3 mm"\n'
    assert set_key(text, "tool.b", "LF", '"9 mm"') == text.replace('"2 mm"  # read', '"9 mm"')
    assert set_key(text, "tool.a", "RE", '"0 mm"').splitlines()[1] == 'RE = "0 mm"'


def test_the_interval_of_wilson() -> None:
    """Ends worked by hand from the formula: 25 of 25 gives 25 / (25 + 1.96²) at the low end, 0 of 10 gives 1.96² / (10 + 1.96²) at the high."""
    square = 1.959964**2
    assert wilson(25, 25)[0] == pytest.approx(25 / (25 + square))
    assert wilson(0, 10)[1] == pytest.approx(square / (10 + square))
    assert wilson(0, 0) == (0.0, 1.0)


# --- a sample of the study --------------------------------------------------------------------------------------------------------

MACHINE = "the demo's"
SAMPLE = ("wrong H", "no wait", "rapid through stock", "wrong pocket", "strange word", "looked at")


@pytest.fixture(scope="module")
def clean(tmp_path_factory: pytest.TempPathFactory) -> tuple[CleanShop, Clean]:
    folder = tmp_path_factory.mktemp("faults") / "shops"
    lay_out_all(folder)
    scenes: dict[tuple[str, str], Scene] = {("cable-clip", MACHINE): scene(folder, "cable-clip", MACHINE)}
    return CleanShop(folder, scenes), {place: examine_clean(folder, *place) for place in scenes}


def test_a_clean_program_is_clear_and_does_no_harm(clean: tuple[CleanShop, Clean]) -> None:
    shop, answers = clean
    assert set(answers["cable-clip", MACHINE].values()) == {"clear"}
    told = shop.scenes["cable-clip", MACHINE].clean
    assert told.trace.ended == "program end"
    assert not any(line.harms or line.spindle for line in told.lines.values())


@pytest.mark.parametrize("name", SAMPLE)
def test_a_mistake_is_caught_at_its_line(clean: tuple[CleanShop, Clean], name: str) -> None:
    kind = next(one for one in KINDS if one.id == name)
    found: Found = study(kind, *clean, wanted=1, seed=3)
    (fault,) = found.faults
    assert not found.broken
    assert fault.caught, fault
    assert set(fault.answers.values()) <= set(Answer) - {Answer.CLEAR}


def test_ids_are_one_each_and_questions_are_questions() -> None:
    assert len({kind.id for kind in KINDS}) == len(KINDS) >= 40
    assert {question for kind in KINDS for question in kind.asks} <= {question.id for question, _ in ALL}
