"""The questions about the part on a job that asks all of them: take a fact away, move a fact, and see what each answer makes of it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from firstoff import workflows
from firstoff.facts.fact import FactSet
from firstoff.verdict.examination import Examination
from firstoff.verdict.forms import Scale
from firstoff.verdict.judge import Draws
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import ALL
from tests.removal import solids

from .conftest import JOB, MACHINE, NOW, PROGRAM, TOOLS

PART = ("holding", "size", "step", "path_kept", "finish", "target")
ASKING = """
[[feature]]
what = "outside"
size = "48 mm"
tol = "0.2 mm"
tool = 1
[[feature]]
what = "step"
tol = "0.1 mm"
[[feature]]
what = "contour"
tol = "0.1 mm"
tool = 1
[ask]
finish_rz = "6 µm"
target_band = "0.8 mm"
"""
SECOND = """
[tool.em5]
kind = "flat"
DC = { value = "4.990(4) mm", evidence = "measured" }
RE = "0.3 mm"
ZEFP = 3
APMX = "12 mm"
DMM = "6 mm"
OHX = "22.0(3) mm"
LF = { value = "60.420(6) mm", evidence = "measured", df = 9 }
centre_cutting = true
FHA = "38 deg"
condition = "new"
edge_radius = { value = "4(1) µm", evidence = "measured" }
run_out = { value = "3(1) µm", evidence = "measured" }
holder = [["16 mm", "20 mm"], ["25 mm", "20 mm"]]
[[pocket]]
number = 3
tool = "em5"
"""
# The first tool cuts two sides down to −2, the second goes on with the floor of one of them.
AFTER = """T3 M6
S20000 M3
G4 P3
G0 X-8 Y26
G43 H3 Z10
Z4
M8
G1 Z-2 F800
G1 X20 F1200
G0 Z10
M9
M5
M30
%
"""


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> workflows.Prepared:
    folder = tmp_path_factory.mktemp("asking")
    job = folder / "jobs" / "plate"
    job.mkdir(parents=True)
    (folder / "machine.toml").write_text(MACHINE)
    (folder / "tools.toml").write_text(
        TOOLS.replace('DC = { value = "5.990(4) mm"', 'RE = "0.5 mm"\nDC = { value = "5.990(4) mm"') + SECOND
    )
    named = JOB.replace('program = "program.nc"', 'program = "program.nc"\ntarget = "part.stl"').replace(
        '2 = "dr3"', '3 = "em5"'
    )
    (job / "job.toml").write_text(named + ASKING)
    (job / "program.nc").write_text(PROGRAM[: PROGRAM.index("T2 M6")] + AFTER)
    blocks = [
        ((-0.5, -0.5, -9.5), (50.5, 30.5, -2.0)),
        ((-0.5, -0.5, -9.5), (47, 23.5, -0.1)),
        ((21.9, 23.0, -9.5), (47, 27, -0.1)),
    ]
    (job / "part.stl").write_bytes(solids.binary(np.concatenate([solids.block(*one) for one in blocks])))
    return workflows.prepare(job, now=NOW)


@pytest.fixture(scope="module")
def whole(prepared: workflows.Prepared) -> Examination:
    return workflows.judge(prepared)


def test_every_question_about_the_part_is_asked_and_answered(whole: Examination) -> None:
    answers = {one.question.id: one for one in whole.answers if one.question.id in PART}
    assert tuple(answers) == PART, whole.not_asked
    for name, one in answers.items():
        assert one.answer in (Answer.CLEAR, Answer.CARE), (name, one.why, one.needs)
        assert sum(share.share for share in one.doubt) == pytest.approx(1.0 if one.doubt else 0.0, abs=0.01)
    assert all(answers[name].doubt for name in ("holding", "size", "step", "finish"))


def test_a_fact_that_is_needed_and_gone_is_named_by_those_that_need_it_and_by_no_other(
    prepared: workflows.Prepared, whole: Examination
) -> None:
    """The stock is followed once: what following itself needs is looked at where following is tested."""
    before = {one.question.id: one for one in whole.answers if one.question.id in PART}
    told = whole.case.followed
    paths = {path for one in before.values() for path in (*one.needed, *one.leaned)} - set(told.leaned) - set(told.used)
    assert len(paths) > 20
    for path in sorted(paths):
        after = workflows.judge(prepared, whole.facts.without(path), PART, reuse=told)
        now = {one.question.id: one for one in after.answers}
        for name, one in before.items():
            if name not in now:
                assert path.startswith(("job.feature.", "job.ask.", "job.target")), (name, path)
            elif path in one.needed and not path.startswith("job.feature."):
                assert now[name].answer is Answer.UNJUDGED, (name, path, now[name].why)
                assert path in {need.fact for need in now[name].needs}, (name, path)
            elif path not in one.leaned:
                assert (now[name].answer, now[name].why) == (one.answer, one.why), (name, path)


MOVED = {
    "holding": ("job.holding.friction", "job.holding.force"),
    "size": ("machine.frame.stiffness", "machine.spindle.stiffness", "tools.em6.holder_stiffness", "tools.em6.OHX"),
    "finish": ("machine.practice.roughness", "tools.em6.RE"),
}


@pytest.mark.parametrize(("question", "path"), [(name, path) for name, paths in MOVED.items() for path in paths])
def test_moving_a_fact_moves_the_margin_as_its_exponent_says(
    prepared: workflows.Prepared, whole: Examination, question: str, path: str
) -> None:
    """Facts that the answer itself turns into a capacity or a bend; a hundredth of each, so that only the slope counts."""
    facts, told = whole.facts, whole.case.followed
    before = margins(workflows.judge(prepared, facts, [question], reuse=told), facts)
    moved = facts.with_values({path: facts.facts[path].value * 1.01})
    after = margins(workflows.judge(prepared, moved, [question], reuse=told), moved)
    asked = [(now - then, slope) for (then, slope), (now, _) in zip(before, after, strict=True) if path in slope]
    assert asked
    for step, slope in asked:
        fact = facts.facts[path]
        expected = slope[path] * (math.log(1.01) if slope["ratio"] else 0.01 * fact.value)
        assert step == pytest.approx(expected, rel=0.03, abs=1e-9)


def margins(examination: Examination, facts: FactSet) -> list[tuple[float, dict[str, float]]]:
    """(excess, its slopes) of every limit that the one question kept, in the order of its checks."""
    leaning = facts.leaning()
    question, find = next((one, find) for one, find in ALL if one.id == examination.answers[0].question.id)
    found = []
    for check in find(examination.case, leaning).checks:
        for limit in check.limits:
            form = limit.demand - limit.capacity
            slopes = {**dict(form.terms), "ratio": float(check.scale is Scale.RATIO)}
            found.append((Draws(facts).best(form, check.scale), slopes))
    assert question.id in PART
    return found
