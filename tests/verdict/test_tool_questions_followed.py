"""The questions about the tools on the small shop followed for real: one thing spoilt is found at its line, and doubt moves as it says."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from firstoff import workflows
from firstoff.verdict.draws import log_u
from firstoff.verdict.followed import OURS
from firstoff.verdict.forms import Scale
from firstoff.verdict.judge import Draws
from firstoff.verdict.question import Answer, Answered

from .conftest import NOW, PROGRAM, Examine, swap

CLEAR, CARE, UNJUDGED, STOP = Answer.CLEAR, Answer.CARE, Answer.UNJUDGED, Answer.STOP
AROUND = "G1 X50 F2000\nG1 Y30\nG1 X-5\nG1 Y-5\n"
WEAK = 'power_s1 = [["3000 1/min", "0.01 kW"], ["20000 1/min", "0.05 kW"], ["28000 1/min", "0.05 kW"]]'
QUESTIONS = ("cuts", "reach", "torque", "power", "duty", "chip", "strength", "chips_out")


def line_of(text: str, nth: int = 1) -> int:
    return [number for number, line in enumerate(PROGRAM.splitlines(), 1) if line == text][nth - 1]


def power_of(machine: str) -> str:
    return next(line for line in machine.splitlines() if line.startswith("power_s1"))


SPOILT = [
    # what is spoilt, file, change, question, answer, line (None: any)
    ("goes round outside the blank", "program", swap(AROUND, "G1 X-6 F2000\nG1 Y30\n"), "cuts", STOP, line_of("G1 Z-2 F800")),
    ("stays above the blank", "program", swap("G1 Z-2 F800", "G1 Z3 F800"), "cuts", STOP, line_of("G1 Z-2 F800")),
    ("a pass in air before the pass that cuts", "program", swap("G1 Z-2 F800", "G1 Z1 F800\nX50 F2000\nG0 Z10\nX-5\nG1 Z-2 F800"), "cuts", CARE, line_of("G1 Z-2 F800")),
    ("an edge too short", "tools", swap('APMX = "14 mm"', 'APMX = "1.5 mm"'), "reach", STOP, None),
    ("a spindle too weak", "machine", lambda text: text.replace(power_of(text), WEAK), "torque", STOP, None),
    ("a spindle too weak", "machine", lambda text: text.replace(power_of(text), WEAK), "power", STOP, None),
    ("too slow a feed", "program", swap("F2000", "F60"), "chip", STOP, None),
    ("too quick a feed", "program", swap("F2000", "F9500"), "chip", STOP, None),
    ("a tool of glass", "tools", swap('kind = "flat"', 'kind = "flat"\nstrength = "110 N/mm^2"'), "strength", STOP, None),
    ("no coolant", "program", swap("Z4\nM8", "Z4"), "chips_out", CARE, line_of("G1 Y30") - 1),
    ("a stop that takes the coolant away", "program", swap("G1 Y30\n", "G1 Y30\nM9\nM0\n"), "chips_out", CARE, line_of("G1 Y30") + 3),
    ("a hole deeper than chips come out of", "tools", swap('DC = "3.0 mm"', 'DC = "1.0 mm"'), "chips_out", STOP, None),
]  # fmt: skip


@pytest.mark.parametrize(
    ("file", "change", "question", "answer", "line"),
    [row[1:] for row in SPOILT],
    ids=[f"{row[3]}: {row[0]}" for row in SPOILT],
)
def test_one_thing_spoilt_is_found(
    examine: Examine, file: str, change: Callable[[str], str], question: str, answer: Answer, line: int | None
) -> None:
    answered = examine(**{file: change}).answer(question)
    assert answered.answer is answer, (answered.why, answered.needs)
    assert answered.why
    assert answered.do
    if line is not None:
        assert line in [place.place.line for place in answered.places]


def test_a_tool_that_does_not_cut_in_the_middle_must_not_go_straight_down(examine: Examine) -> None:
    inside = swap("G0 X-5 Y-5", "G0 X20 Y12")
    straight = examine(program=inside, tools=swap("centre_cutting = true", "centre_cutting = false"))
    assert straight.answer("reach").answer is STOP
    assert straight.answer("reach").places[0].place.line == line_of("G1 Z-2 F800")
    assert examine(program=inside).answer("reach").answer is CLEAR
    unsaid = examine(program=inside, tools=swap("centre_cutting = true\n", "")).answer("reach")
    assert unsaid.answer is UNJUDGED
    assert [need.fact for need in unsaid.needs] == ["tools.em6.centre_cutting"]


def test_a_program_that_calls_no_tool_is_judged_or_asked_about_like_any_other(examine: Examine) -> None:
    """Its one tool stands in the spindle already: what it costs is never clear for want of a T."""
    one_tool = PROGRAM[: PROGRAM.index("T2 M6")].replace("G43 H1 Z10", "Z10").replace("T1 M6\n", "") + "M30\n%\n"
    touched = swap('zero = "top, front left corner"', 'touched_with = "em6"')
    weak = lambda text: text.replace(power_of(text), WEAK)  # noqa: E731
    told = examine(program=lambda _: one_tool, job=touched, machine=weak)
    for question in ("torque", "power"):
        assert told.answer(question).answer in (STOP, UNJUDGED), told.answer(question).why


@pytest.mark.parametrize("question", ["torque", "power", "strength"])
def test_moving_a_fact_by_one_u_moves_the_margin_by_its_share(question: str, shop: Callable[..., Path]) -> None:
    prepared = workflows.prepare(shop(), now=NOW)
    facts = prepared.job.facts
    whole = workflows.judge(prepared, only=[question])
    before = whole.answer(question)
    form = before.margins[0].demand - before.margins[0].capacity
    factors = dict(form.terms)
    written = [path for path in factors if not path.startswith(OURS)]
    moved = [path for path in written if abs(factors[path] * log_u(facts.facts[path])) > 0.03]
    assert len(moved) > 2, "a question without doubt tests nothing"
    for path in moved:
        step = 0.1 * log_u(facts.facts[path])
        other = facts.with_values({path: facts.facts[path].value * math.exp(step)})
        anew = workflows.judge(prepared, other, [question])
        by = excess(anew.answer(question), anew.facts) - excess(before, whole.facts)
        assert by == pytest.approx(factors[path] * step, rel=0.06, abs=2e-4), path


def excess(answered: Answered, facts: object) -> float:
    limit = answered.margins[0]
    return Draws(facts).best(limit.demand - limit.capacity, Scale.RATIO)  # type: ignore[arg-type]
