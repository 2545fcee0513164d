"""Each question: clear in the small shop, and the right answer at the right line when one thing is spoilt."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from firstoff import workflows
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import ALL

from .conftest import JOB, MACHINE, NOW, PROGRAM, Examine, swap

ONLY_IF_ASKED = ("size", "step", "path_kept", "finish", "target")
"""Questions that a job without features, finish and target does not ask."""
CLEAR, CARE, UNJUDGED, STOP = Answer.CLEAR, Answer.CARE, Answer.UNJUDGED, Answer.STOP


def line_of(text: str, nth: int = 1) -> int:
    """The line of the nth occurrence in the program."""
    lines = [number for number, line in enumerate(PROGRAM.splitlines(), 1) if line == text]
    return lines[nth - 1]


def test_the_small_shop_is_clear_in_every_question(examine: Examine) -> None:
    examination = examine()
    asked = {question.id: CLEAR for question, _ in ALL if question.id not in ONLY_IF_ASKED}
    assert {answered.question.id: answered.answer for answered in examination.answers} == asked, [
        (a.question.id, a.why, a.needs) for a in examination.answers if a.answer is not CLEAR
    ]


SPOILT = [
    # what is spoilt, file, old, new, question, answer, line (None: no line)
    ("zero too far right", "job", '"100.00(2) mm"', '"252.00(2) mm"', "travel", STOP, line_of("G1 X50 F2000")),
    ("zero almost too far", "job", '"100.00(2) mm"', '"249.8(2) mm"', "travel", STOP, line_of("G1 X50 F2000")),
    ("zero near the rack", "job", '"100.00(2) mm"', '"215.00(2) mm"', "keep_out", STOP, line_of("G1 X50 F2000")),
    ("too deep", "program", "G1 Z-2 F800", "G1 Z-12 F800", "below", STOP, line_of("G1 Z-2 F800")),
    ("drill through the table", "program", "Z-8 R4", "Z-18 R4", "below", STOP, line_of("G81 X10 Y10 Z-8 R4 F300")),
    ("low rapid", "program", "G1 Y-5\nG0 Z10", "G1 Y-5\nG0 Z0.8", "rapid_contact", STOP, None),
    ("down beside the stock, below the jaws", "program", "Z4\nM8", "Z-4\nM8", "rapid_contact", STOP, line_of("Z4")),
    (
        "rapid plunge into stock",
        "program",
        "G0 X10 Y10\nG43 H2 Z10",
        "G0 X25 Y15\nG43 H2 Z10\nG0 Z-3",
        "rapid_contact",
        STOP,
        line_of("G0 X10 Y10") + 2,
    ),
    ("wrong length", "program", "G43 H2 Z10", "G43 H1 Z10", "tool", STOP, line_of("G43 H2 Z10")),
    ("no length", "program", "G43 H2 Z10", "Z10", "tool", STOP, None),
    (
        "wrong tool in the pocket",
        "tools",
        'number = 2\ntool = "dr3"',
        'number = 2\ntool = "em4"',
        "tool",
        STOP,
        line_of("T2 M6"),
    ),
    (
        "length only assumed",
        "tools",
        '{ value = "64.150(6) mm", evidence = "measured", df = 9 }',
        '"64 mm"',
        "tool",
        CARE,
        line_of("T1 M6"),
    ),
    ("spindle never on", "program", "S20000 M3\nG4 P3", "S20000", "spindle", STOP, line_of("G1 X50 F2000") - 2),
    ("spindle backwards", "program", "S20000 M3", "S20000 M4", "spindle", STOP, line_of("G1 Z-2 F800")),
    ("too fast", "program", "S20000 M3", "S31000 M3", "spindle", STOP, line_of("G1 Z-2 F800")),
    ("too slow", "program", "S20000 M3", "S2000 M3", "spindle", STOP, line_of("G1 Z-2 F800")),
    (
        "not at speed",
        "program",
        "S20000 M3\nG4 P3\nG0 X-5 Y-5",
        "S20000 M3\nG0 X-5 Y-5",
        "spindle",
        STOP,
        line_of("G1 Z-2 F800") - 1,
    ),
    ("left turning", "program", "M9\nM5\nM30\n%", "M9\nM30\n%", "leftovers", CARE, None),
    ("coolant left on", "program", "M9\nM5\nM30\n%", "M5\nM30\n%", "leftovers", CARE, None),
    ("shift left", "program", "G80\nG54\n", "G80\nG54\nG92 X0\n", "leftovers", CARE, None),
    ("stops", "program", "G0 Z10\nM9\nM5\nT2 M6", "G0 Z10\nM9\nM5\nM0\nT2 M6", "leftovers", CARE, line_of("T2 M6")),
    (
        "offset written",
        "program",
        "G80\nG54\n",
        "G80\nG10 L2 P1 X100 Y80 Z-100\nG54\n",
        "leftovers",
        CARE,
        line_of("G54"),
    ),
    ("not homed", "machine", "homed = true", "homed = false", "today", STOP, None),
    ("pockets not seen", "machine", "pockets_seen = true", "pockets_seen = false", "today", CARE, None),
    ("unknown word", "program", "M8\nG1 Z-2", "M877\nG1 Z-2", "understood", UNJUDGED, line_of("M8")),
    (
        "a dwell in the wrong unit",
        "program",
        "S12000 M3\nG4 P3",
        "S12000 M3\nG4 P3000",
        "feed",
        CARE,
        line_of("S12000 M3") + 1,
    ),
    ("feed never reached", "machine", '"2.0(1) m/s^2"', '"0.02(1) m/s^2"', "feed", CARE, None),
]


@pytest.mark.parametrize(
    ("file", "old", "new", "question", "answer", "line"), [row[1:] for row in SPOILT], ids=[row[0] for row in SPOILT]
)
def test_one_thing_spoilt_is_found_by_its_question_at_its_line(
    examine: Examine, file: str, old: str, new: str, question: str, answer: Answer, line: int | None
) -> None:
    answered = examine([question], **{file: swap(old, new)}).answer(question)
    assert answered.answer is answer, (answered.why, answered.needs)
    if line is not None:
        assert line in [place.place.line for place in answered.places]
    if answer in (CARE, STOP):
        assert answered.why
        assert answered.do


def test_a_stale_card_is_no_card(shop: Callable[..., Path]) -> None:
    late = workflows.examine_job(shop(), now=NOW + timedelta(hours=20))
    assert late.answer("today").answer is UNJUDGED


def test_without_the_offset_only_the_span_is_judged(examine: Examine) -> None:
    gone = "\n".join(
        line for line in JOB.splitlines() if "offset" not in line and "at =" not in line and "zero =" not in line
    )
    answered = examine(job=lambda _: gone).answer("travel")
    assert answered.answer is UNJUDGED
    assert any("offset.G54" in need.fact for need in answered.needs)
    too_wide = examine(job=lambda _: gone, program=swap("G1 X50 F2000", "G1 X350 F2000")).answer("travel")
    assert too_wide.answer is STOP


def test_a_certain_stop_never_hides_behind_a_missing_fact(examine: Examine) -> None:
    gone = MACHINE.replace('travel = { value = "-1(1) mm .. 201(1) mm", evidence = "measured", df = 4 }\n', "")
    answered = examine(machine=lambda _: gone, job=swap('"100.00(2) mm"', '"252.00(2) mm"')).answer("travel")
    assert answered.answer is STOP
    assert any("axis.y.travel" in need.fact for need in answered.needs)


def test_nothing_is_clear_without_a_shop(shop: Callable[..., Path]) -> None:
    program = shop() / "program.nc"
    examination = workflows.examine_job(program, without_shop=True, now=NOW)
    clear = {answered.question.id for answered in examination.answers if answered.answer is CLEAR}
    assert clear <= {"understood", "leftovers"}
    assert examination.verdict is UNJUDGED


def test_a_round_blank_is_looked_at_like_a_square_one(examine: Examine) -> None:
    box = 'box = ["-1.0(3) mm .. 51.0(3) mm", "-1.0(3) mm .. 31.0(3) mm", "-10.0(2) mm .. 0.2(2) mm"]'
    round_blank = 'cylinder = { diameter = "60 mm", z = "-10 mm .. 0.2(2) mm", x = "25 mm", y = "15 mm" }'
    assert examine(job=swap(box, round_blank)).answer("rapid_contact").answer is CLEAR
    plunge = swap("G0 X10 Y10\nG43 H2 Z10", "G0 X25 Y15\nG43 H2 Z10\nG0 Z-3")
    assert examine(job=swap(box, round_blank), program=plunge).answer("rapid_contact").answer is STOP


def test_a_zero_touched_with_the_tip_needs_no_length(examine: Examine) -> None:
    one_tool = PROGRAM[: PROGRAM.index("T2 M6")].replace("G43 H1 Z10", "Z10") + "M30\n%\n"
    without = examine(program=lambda _: one_tool)
    assert without.answer("below").answer is STOP
    assert without.answer("tool").answer is CARE
    touched = swap('zero = "top, front left corner"', 'touched_with = "em6"')
    told = examine(program=lambda _: one_tool, job=touched)
    assert {name: told.answer(name).answer for name in ("below", "rapid_contact", "tool")} == dict.fromkeys(
        ("below", "rapid_contact", "tool"), CLEAR
    )
    drill = one_tool.replace("T1 M6", "T2 M6").replace("Z-2 F800", "Z-6 F800")
    wrong_tool = examine(program=lambda _: drill, job=touched)
    assert wrong_tool.answer("tool").answer is not CLEAR
    assert wrong_tool.answer("below").answer is STOP  # the drill is 7 mm longer than the tip that set the zero


def test_a_block_that_was_not_read_leaves_nothing_about_the_program_clear(examine: Examine) -> None:
    """What the block would have switched, called or moved nobody knows."""
    torn = examine(program=swap("S12000 M3\nG4 P3", "S12OOO M3\nG4 P3"))
    of_the_program = {question.id for question, _ in ALL} - {"today", *ONLY_IF_ASKED}
    assert all(torn.answer(name).answer in (UNJUDGED, STOP) for name in of_the_program), {
        name: torn.answer(name).answer for name in of_the_program
    }
