"""A sawn blank and a ground one: what the first pass costs hangs on how well the blank is known."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from firstoff.facts.fact import Fact, FactSet, Shape
from firstoff.loads.cut_loads import Quantity
from firstoff.removal.swept import PerMove
from firstoff.verdict.blank_in_loads import LOG_U, MOST, faces_of, growth_of, with_blank_facts
from firstoff.verdict.draws import draw
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed, stands_for
from firstoff.verdict.question import Answer

from .conftest import Examine, swap

TOP = "job.stock.box.z.high"
SHALLOW = swap("G1 Z-2 F800", "G1 Z-0.8 F800")
"""Down to 1 mm below the likely top: a layer that the doubt of a sawn face changes much."""
GROUND, SAWN = "0.200(10) mm", "0.2(5) mm"


def top(written: str) -> Callable[[str], str]:
    return swap("0.2(2) mm", written)


def weak(power_w: float) -> Callable[[str], str]:
    """A spindle with this power at every speed."""
    curve = f'power_s1 = [["3000 1/min", "{power_w / 1e3:.5f} kW"], ["28000 1/min", "{power_w / 1e3:.5f} kW"]]'
    return lambda text: text.replace(next(line for line in text.splitlines() if line.startswith("power_s1")), curve)


def share_of_top(found: Examination, question: str) -> float:
    return sum(one.share for one in found.answer(question).doubt if one.fact == TOP)


def first_pass(found: Examination, quantity: Quantity) -> dict[str, float]:
    """Exponents of the worst station of the mill."""
    told = found.case.followed
    assert isinstance(told, Followed)
    assert told.loads is not None
    return dict(told.loads.stretches[0].candidates[quantity][0].exponents)


def test_a_sawn_blank_and_a_ground_one(examine: Examine) -> None:
    ground, sawn = (examine(program=SHALLOW, job=top(written)) for written in (GROUND, SAWN))
    for question in ("power", "torque", "strength", "holding"):
        one, other = ground.answer(question), sawn.answer(question)
        assert share_of_top(sawn, question) > 0.05, (question, other.doubt)
        assert share_of_top(sawn, question) > 10 * share_of_top(ground, question), question
        assert other.demand is not None
        assert one.demand is not None
        assert other.demand.value == pytest.approx(one.demand.value, rel=0.05), question
        assert other.demand.high95 > 1.1 * one.demand.high95, question
        assert TOP in other.leaned, question


def test_the_worse_known_blank_has_the_worse_answer(examine: Examine) -> None:
    demand = examine(program=SHALLOW, job=top(GROUND)).answer("power").demand
    assert demand is not None
    enough = weak(1.02 * demand.high95)
    assert examine(program=SHALLOW, job=top(GROUND), machine=enough).answer("power").answer is Answer.CLEAR
    sawn = examine(program=SHALLOW, job=top(SAWN), machine=enough)
    assert sawn.answer("power").answer in (Answer.CARE, Answer.STOP)
    assert all(stands_for(one.fact) == one.fact for one in sawn.answer("power").doubt)


def test_the_power_is_what_the_larger_blank_costs(examine: Examine) -> None:
    """Reckoned anew with the top one u higher, a power of the first layer is that of the exponent, to what its logarithm bends."""
    likely = examine(program=SHALLOW, job=top(SAWN))
    higher = examine(program=SHALLOW, job=top("0.7(5) mm"))
    power = first_pass(likely, Quantity.POWER)["following.blank.box.z.high"]
    values = []
    for found in (likely, higher):
        told = found.case.followed
        assert isinstance(told, Followed)
        assert told.loads is not None
        values.append(told.loads.stretches[0].candidates[Quantity.POWER][0].value)
    assert math.exp(power * LOG_U) == pytest.approx(values[1] / values[0], rel=0.12)


def test_later_layers_and_holes_do_not_hang_on_the_top(examine: Examine) -> None:
    again = swap("G1 Y-5\nG0 Z10", "G1 Y-5\nG1 Z-3 F800\nG1 X50 F2000\nG1 Y30\nG0 Z10")
    told = examine(program=lambda text: again(SHALLOW(text)), job=top(SAWN)).case.followed
    assert isinstance(told, Followed)
    assert told.loads is not None
    mill, drill = told.loads.stretches
    worst = mill.candidates[Quantity.POWER][0]
    assert worst.axial_mm == pytest.approx(2.2, abs=0.05)
    assert "following.blank.box.z.high" not in dict(worst.exponents)
    for found in drill.candidates.values():
        assert not any(path.startswith("following.blank.") for one in found for path, _ in one.exponents)


# --- the parts --------------------------------------------------------------------------------------------------------


def per_move(axial: list[float], radial: list[float], lowest: list[float]) -> PerMove:
    four = np.float32
    none = np.zeros(len(axial), four)
    volume = np.array(axial) * np.array(radial)
    return PerMove(volume, np.array(axial, four), np.array(radial, four), none, none, np.array(lowest, four), none)


def test_growth_by_top_bottom_and_side() -> None:
    likely = per_move([1.0, 1.0, 2.0, 0.0, 0.01], [2.0, 2.0, 2.0, 0.0, 1.0], [-1.0, -1.0, -5.0, np.nan, 0.0])
    largest = per_move([1.5, 1.0, 2.5, 1.0, 9.0], [2.0, 3.0, 2.0, 1.0, 1.0], [-1.0, -1.0, -5.5, -1.0, 0.0])
    grown = growth_of(likely, largest)
    assert np.exp(grown.top) == pytest.approx([1.5, 1.0, 1.0, 1.0, MOST])
    assert np.exp(grown.bottom) == pytest.approx([1.0, 1.0, 1.25, 1.0, 1.0])
    assert np.exp(grown.side) == pytest.approx([1.0, 1.5, 1.0, 1.0, 1.0])


def test_our_fact_moves_with_the_face_though_the_face_lies_at_nothing() -> None:
    facts = with_blank_facts(
        FactSet({TOP: Fact(TOP, 0.0, 0.4, "mm"), "job.stock.box.x.low": Fact("job.stock.box.x.low", -1.0, 0.0, "mm")})
    )
    assert faces_of(facts) == {"z.high": (TOP, 1.0)}
    ours = facts.facts["following.blank.box.z.high"]
    assert (ours.value, ours.u, ours.shape) == (4.0, 0.4, Shape.LOGNORMAL)
    one, other = draw(facts, TOP), draw(facts, ours.path)
    together = np.corrcoef(np.log(other), one)[0, 1]
    assert together == pytest.approx(1.0, abs=1e-3)
    assert float(np.std(np.log(other))) == pytest.approx(LOG_U, rel=5e-3)
