"""Twelve programs by strangers: what is not understood in them, and nothing else, is reported.

Expected values come from the table beside the programs (an independent scan and a careful reader), where this folder is present.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firstoff.program.control import Control
from firstoff.program.moves import NOTE, Flag, Kind, Reading
from firstoff.program.reading import read_program

PROGRAMS = Path(__file__).resolve().parents[3] / "shared" / "programs"
pytestmark = pytest.mark.skipif(not PROGRAMS.is_dir(), reason="the strangers' programs are not here")

QUESTIONS = {
    "01-hand-written-plate": ["g28_bare", "own_m_codes.31", "tools.register.D1", "tools.register.D2", "own_m_codes.33"],
    "02-inspection-plate": ["tools.register.D1"],
    "03-peck-drill": ["after_g80"],
    "04-radius-arcs": [],
    "05-tiny-arcs": [],
    "06-eight-drills": ["dwell_p"],
    "07-v-engraving": ["dwell_p"],
    "08-macro-bore": ["units_at_start", "tools.register.D1"],
    "09-bolt-circle-rotary": ["", "block_delete", ""],
    "10-no-units": ["dwell_p", "units_at_start"],
    "11-adaptive-plywood": [],
    "12-isolation": [],
}


def read(name: str, **said: str | float) -> Reading:
    control = Control.of()
    control.said.update(said)
    return read_program(PROGRAMS / f"{name}.nc", control)


def open_questions(reading: Reading) -> list[str]:
    return [problem.fact.removeprefix("machine.control.") for problem in reading.problems if problem.kind != NOTE]


@pytest.mark.parametrize("name", sorted(QUESTIONS))
def test_what_is_asked_and_what_is_a_fault(name: str) -> None:
    assert open_questions(read(name)) == QUESTIONS[name]


def test_the_plate_is_trusted_again_where_every_axis_was_given() -> None:
    reading = read("01-hand-written-plate")
    assert [problem.judged_again_from for problem in reading.problems if problem.line in (13, 14)] == [23, 23]
    sure = (reading.moves.flags & Flag.UNSURE) == 0
    assert reading.moves.line[~sure].max() == 23
    assert open_questions(read("01-hand-written-plate", g28_bare="direct"))[0] == "own_m_codes.31"


def test_answers_of_a_machine_settle_the_peck_drill() -> None:
    assert open_questions(read("03-peck-drill", after_g80="rapid")) == []


def test_arcs_a_hair_too_short_are_half_circles() -> None:
    reading = read("04-radius-arcs")
    note = next(problem for problem in reading.problems if "shorter than half" in problem.what)
    assert "(20 times" in note.what
    half = np.isclose(np.abs(reading.arcs.sweep_rad), np.pi, atol=0.0)
    assert half.sum() == 20


def test_radii_of_tiny_arcs_pass_an_absolute_tolerance() -> None:
    reading = read("05-tiny-arcs")
    assert len(reading.arcs.radius_mm) == 492
    assert reading.arcs.radius_mm.min() < 0.0005 * 25.4 * 1.01


def test_the_macro_beside_it_is_run_to_its_end() -> None:
    reading = read("08-macro-bore")
    helical = np.abs(reading.arcs.rise_mm) > 0
    assert (helical.sum(), len(helical)) == (11, 12)
    inside = reading.moves.line == 7
    assert reading.moves.end_mm[inside, 2].min() == pytest.approx(-10.0)
    passing = [problem for problem in reading.problems if "absolute mode first rapids" in problem.what]
    assert passing[0].line == 9
    assert reading.moves.kind[reading.moves.line == 9].tolist() == [Kind.RAPID, Kind.HOME]


def test_nothing_is_judged_after_a_rotary_axis() -> None:
    reading = read("09-bolt-circle-rotary")
    fault = next(problem for problem in reading.problems if "rotary" in problem.what)
    assert (fault.line, fault.judged_again_from) == (22, 0)
    assert (reading.moves.flags & Flag.UNSURE).all()
    assert len(np.unique(reading.moves.parent)) == 24 + 1
