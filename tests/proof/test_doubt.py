"""A sample of `make doubt`: the study finds what it must, in a true machine and in one whose doubt is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binomtest

from firstoff.facts.fact import Fact, FactGroup, FactSet, Shape
from proof.doubt import held_out, hidden, next_trial, write
from proof.doubt.figures import exact_bounds, figures
from proof.doubt.next_trial import Tried
from proof.doubt.situations import CLAMPS, FRAME, STEP, Situation
from proof.doubt.study import Row, run

MACHINES = 60
FALSE_ALARM = 0.001


def fact(value: float, u: float, **more: object) -> Fact:
    return Fact("some.length", value, u, "mm", **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("one", "covers"),
    [
        (fact(50.0, 1.0), 1.96),
        (fact(50.0, 1.0, df=4), 2.776),
        (fact(50.0, 1.0, df=2), 4.303),
        (fact(50.0, 20.0, shape=Shape.LOGNORMAL), 1.96),
        (fact(50.0, 1.0, shape=Shape.UNIFORM), 0.95 * 3**0.5),
    ],
)
def test_readings_lie_round_the_truth_as_they_say(one: Fact, covers: float) -> None:
    """By the factors of GUM, table G.2 (t for 95 %: 2.776 for 4, 4.303 for 2 degrees of freedom), and JCGM 101, 6.4.2 for a rectangle."""
    generator = np.random.default_rng(1)
    inside = 0
    for _ in range(4000):
        truth = hidden.true_value(one, generator)
        seen = hidden.reading_of(truth, float(generator.standard_normal()), generator)
        if one.shape is Shape.LOGNORMAL:
            inside += abs(np.log(truth.value / seen.value)) <= covers * hidden.spread_of_log(seen)
        else:
            inside += abs(truth.value - seen.value) <= covers * seen.u
    assert 0.94 <= inside / 4000 <= 0.96


def test_facts_of_one_fit_are_read_together() -> None:
    nominal = FactSet({path: replace(fact(10.0, 0.5), path=path) for path in "ab"})
    nominal = replace(nominal, groups=(FactGroup(("a", "b"), ((1.0, -0.8), (-0.8, 1.0))),))
    generator = np.random.default_rng(2)
    off = [hidden.draw_machine(nominal, "ab", {}, generator).errors for _ in range(2000)]
    assert np.corrcoef([one["a"] for one in off], [one["b"] for one in off])[0, 1] == pytest.approx(-0.8, abs=0.03)


def test_a_machine_knows_what_is_not_in_doubt() -> None:
    nominal = FactSet({path: replace(fact(10.0, 0.5), path=path) for path in "abc"})
    machine = hidden.draw_machine(nominal, "a", {"c": 1.0}, np.random.default_rng(3))
    assert machine.true.facts["b"] == machine.read.facts["b"] == replace(nominal.facts["b"], u=0.0)
    assert machine.true.facts["c"] == machine.read.facts["c"] != replace(nominal.facts["c"], u=0.0)
    assert machine.true.facts["a"].u == 0.0
    assert machine.true.facts["a"].value - machine.read.facts["a"].value == machine.errors["a"] != 0.0


@pytest.mark.parametrize("situation", [FRAME, CLAMPS, STEP], ids=lambda one: one.name)
def test_a_sample_is_covered(situation: Situation) -> None:
    for question, rows in run(situation, range(MACHINES)).items():
        found = figures(rows)
        assert found is not None
        assert found.stated > 0.8 * MACHINES, question
        assert binomtest(round(found.covered * found.stated), found.stated, 0.95).pvalue > FALSE_ALARM, question
        assert abs(found.called - found.seen) < 0.2, question


def test_a_doubt_that_is_too_small_is_found_out() -> None:
    """Axes read three times as badly as the shop writes: the study must not pass it."""

    def worse(true: FactSet, errors: Mapping[str, float]) -> FactSet:
        return true.with_values({path: true.facts[path].value + 2.0 * off for path, off in errors.items()})

    rows = run(replace(FRAME, questions=("travel",), world=worse), range(MACHINES))["travel"]
    found = figures(rows)
    assert found is not None
    assert found.high < 0.94


def test_figures_by_hand() -> None:
    rows = [Row(k, True, 0, 0.1, k % 10 == 0) for k in range(95)] + [Row(k, True, -1, 0.9, True) for k in range(5)]
    found = figures([*rows, Row(100, False)])
    assert found is not None
    assert (found.machines, found.stated, found.covered, found.below) == (101, 100, 0.95, 0.05)
    assert exact_bounds(95, 100) == pytest.approx((0.887165, 0.983571), abs=1e-5)  # Clopper and Pearson, by any table
    assert [(one.machines, one.called) for one in found.bins] == [(95, pytest.approx(0.1))]
    false = figures([Row(k, True, 0, 0.1, k % 2 == 0) for k in range(200)])
    assert false is not None
    assert false.p < 1e-6


def test_a_source_held_out_far_from_the_others_is_missed() -> None:
    rows = held_out.hold_out({"near": NEAR, "far": (*NEAR, replace(NEAR[0], name="far", cut=30 * NEAR[0].cut))})
    assert all(row.covered for row in rows if row.pool == "near")
    assert [row.source for row in rows if not row.covered] == ["far"]


NEAR = tuple(held_out.Law(f"source {k}", 900.0 + 60 * k, 0.22 + 0.01 * k) for k in range(5))


def test_what_is_named_is_held_against_the_others() -> None:
    rows = [Tried(k, "named", 0, 2.0, 1) for k in range(30)] + [Tried(k, "other", -1, 2.0, 0) for k in range(30)]
    told = {one.trial: one for one in next_trial.versus(rows)}
    assert (told["other"].better, told["other"].worse, told["other"].named_per_minute) == (30, 0, 0.5)
    assert told["other"].sign_p == pytest.approx(2 * 0.5**30)
    assert next_trial.SECOND not in told  # nothing was named second


def test_trials_are_made_as_they_declare() -> None:
    rows = next_trial.try_all(range(3))
    assert {row.machine for row in rows} <= {0, 1, 2}
    for machine in {row.machine for row in rows}:
        mine = [row for row in rows if row.machine == machine]
        assert sum(row.named == 0 for row in mine) == 1
        assert len(mine) > 5


def test_the_page_says_what_was_found(tmp_path: Path) -> None:
    rows = [[k, True, 0, 0.1, k % 10 == 0] for k in range(200)]
    write.write({"step": {"commit": "abc1234", "found": {"step": rows}}}, tmp_path)
    text = (tmp_path / "doubt.md").read_text()
    assert "| step | step | 200 of 200 | 100.00 % | 98.2 % to 100.0 % |" in text
    assert "abc1234" in text
    assert (tmp_path / "pictures" / "doubt-reliability.svg").read_text().startswith("<svg")
