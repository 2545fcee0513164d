"""Facts that a rule gives: only for what the job uses, never over what a file says, and known for what they are."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from firstoff.facts.derived import RULE, is_taken, tools_of, with_derived
from firstoff.facts.fact import Evidence, Fact, FactSet, Setting, Shape
from firstoff.facts.job import load_job
from firstoff.facts.shop import load_shop

MATERIAL = ("model_factor", "axial_ratio", "min_chip_ratio", "modulus", "shear_strength")
TOOL = (
    "wear_factor", "core_ratio", "modulus", "strength", "edge_radius", "run_out", "holder_stiffness", "max_chip", "dead_diameter",
)  # fmt: skip


def facts(*numbers: Fact, **words: str | bool) -> FactSet:
    """Facts of a job that uses the tool ``t`` and the material ``al-9``; words are of the tool."""
    settings = {"job.tools.3": "t", "job.material": "al-9", "tools.t.kind": "flat"}
    settings.update({f"tools.t.{name}": word for name, word in words.items()})  # type: ignore[misc]
    return FactSet(
        {fact.path: fact for fact in (Fact("tools.t.DC", 6.0, 0.01, "mm"), *numbers)},
        {path: Setting(path, word) for path, word in settings.items()},
    )


def taken(known: FactSet) -> dict[str, Fact]:
    return {path: fact for path, fact in with_derived(known).facts.items() if is_taken(fact)}


def test_the_job_s_own_material_and_tools_get_all_of_them() -> None:
    found = taken(facts())
    assert set(found) == {f"materials.al-9.{name}" for name in MATERIAL} | {f"tools.t.{name}" for name in TOOL}
    for path, fact in found.items():
        assert fact.path == path
        assert fact.u > 0
        assert fact.value > 0
        assert fact.where == RULE
        assert fact.evidence in (Evidence.ASSUMED, Evidence.HANDBOOK)
        assert (fact.shape is Shape.LOGNORMAL) == (fact.u > 0.15 * fact.value or path.endswith("model_factor")) or (
            fact.shape is Shape.UNIFORM
        )


@pytest.mark.parametrize(
    "path", [*(f"materials.al-9.{name}" for name in MATERIAL), *(f"tools.t.{name}" for name in TOOL)]
)
def test_what_a_file_says_stands(path: str) -> None:
    said = Fact(path, 0.123, 0.01, "1", evidence=Evidence.MEASURED)
    assert with_derived(facts(said)).facts[path] is said


def test_tools_that_no_t_points_at_get_nothing() -> None:
    known = facts(Fact("tools.other.DC", 4.0, 0.1, "mm"), Fact("tools.held.DC", 3.0, 0.1, "mm"))
    known.settings["tools.pocket.7.tool"] = Setting("tools.pocket.7.tool", "held")  # type: ignore[index]
    known.settings["tools.pocket.8.tool"] = Setting("tools.pocket.8.tool", "undescribed")  # type: ignore[index]
    assert tools_of(known) == ("t", "held")
    assert {path.split(".")[1] for path in taken(known) if path.startswith("tools.")} == {"t", "held"}


def test_without_a_diameter_or_a_material_there_is_nothing_to_reckon_from() -> None:
    known = facts().without("tools.t.DC").without("job.material")
    names = {path.rsplit(".", 1)[1] for path in taken(known)}
    assert names == set(TOOL) - {"max_chip", "dead_diameter"}


@pytest.mark.parametrize(("evidence", "spread"), [("measured", 0.1), ("learned", 0.1), ("handbook", 0.3), (None, 0.3)])
def test_forces_are_foretold_better_where_kc_was_measured(evidence: str | None, spread: float) -> None:
    kc = Fact("materials.al-9.kc", 900.0, 90.0, "N/mm²", evidence=Evidence(evidence or "assumed"))
    factor = taken(facts(*([kc] if evidence else [])))["materials.al-9.model_factor"]
    assert (factor.value, factor.u, factor.shape) == (1.0, spread, Shape.LOGNORMAL)


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ({"condition": "new"}, {"wear_factor": (1.00, 0.03)}),
        ({"condition": "used"}, {"wear_factor": (1.15, 0.08)}),
        ({"condition": "suspect"}, {"wear_factor": (1.3, 0.2)}),
        ({}, {"wear_factor": (1.3, 0.2), "core_ratio": (0.8, 0.05), "holder_stiffness": (12e3, 6e3), "max_chip": (0.15, 0.06)}),
        ({"material": "carbide", "coating": "bright"}, {"modulus": (580e3, 30e3), "strength": (1800, 500), "edge_radius": (5e-3, 3e-3)}),
        ({"material": "solid carbide", "coating": "TiAlN"}, {"edge_radius": (8e-3, 4e-3)}),
        ({"material": "HSS-Co"}, {"modulus": (220e3, 10e3), "strength": (1200, 300), "edge_radius": (12e-3, 6e-3)}),
        ({"material": "carbide tip on steel"}, {"strength": (1500, 500), "edge_radius": (8e-3, 5e-3)}),
        ({"centre_cutting": False}, {"dead_diameter": (3.6, 0.9)}),
        ({"kind": "drill"}, {"core_ratio": (0.70, 0.07), "max_chip": (0.24, 0.096)}),
        ({"kind": "tap"}, {"core_ratio": (0.65, 0.07)}),
    ],
)  # fmt: skip
def test_each_rule(words: dict[str, str | bool], expected: dict[str, tuple[float, float]]) -> None:
    found = taken(facts(**words))
    for name, (value, u) in expected.items():
        fact = found[f"tools.t.{name}"]
        assert (fact.value, fact.u) == pytest.approx((value, u)), name


def test_an_unknown_stuff_spans_both_and_a_centre_that_cuts_has_no_dead_diameter() -> None:
    modulus = taken(facts())["tools.t.modulus"]
    low, high = (modulus.value + sign * math.sqrt(3) * modulus.u for sign in (-1, 1))
    assert modulus.shape is Shape.UNIFORM
    assert (low, high) == pytest.approx((200e3, 640e3))
    assert "tools.t.dead_diameter" not in taken(facts(centre_cutting=True))


def test_run_out_is_that_of_two_at_any_angle() -> None:
    spindle = Fact("machine.spindle.run_out", 3e-3, 1e-3, "mm")
    found = taken(facts(spindle))["tools.t.run_out"]
    rng = np.random.default_rng(7)
    a, b, angle = rng.normal(3e-3, 1e-3, 200_000), rng.normal(5e-3, 3e-3, 200_000), rng.uniform(0, 2 * np.pi, 200_000)
    drawn = np.sqrt(np.maximum(a**2 + b**2 + 2 * a * b * np.cos(angle), 0))
    assert found.value == pytest.approx(
        np.sqrt(np.mean(drawn**2)), rel=0.2
    )  # the rule leaves out the spreads' own squares
    assert found.u == pytest.approx(drawn.std(), rel=0.15)


@pytest.mark.parametrize(
    ("name", "modulus"),
    [("al-6082", 70e3), ("my_alu", 70e3), ("brass-ms58", 100e3), ("steel-c45", 208e3), ("stainless-316l", 197e3),
     ("ti-6al-4v", 113e3), ("iron-gjl-250", 110e3), ("pom", 2.8e3), ("gfrp-fr4", 20e3), ("cu-etp", 120e3)],
)  # fmt: skip
def test_elasticity_goes_by_the_family(name: str, modulus: float) -> None:
    known = facts()
    settings = {**known.settings, "job.material": Setting("job.material", name)}
    found = taken(FactSet(known.facts, settings))[f"materials.{name}.modulus"]
    assert found.value == modulus
    settings["job.material"] = Setting("job.material", "mystery")
    assert "materials.mystery.modulus" not in taken(FactSet(known.facts, settings))


def test_who_leans_on_a_rule_leans_on_what_it_came_from() -> None:
    known = with_derived(facts(condition="used"))
    leaning = known.leaning()
    leaning.number("tools.t.wear_factor")
    leaning.number_if_known("tools.t.max_chip")
    assert tuple(leaning.leaned) == (
        "tools.t.wear_factor",
        "tools.t.condition",
        "tools.t.max_chip",
        "tools.t.DC",
        "tools.t.kind",
    )
    assert tuple(leaning.needed) == ("tools.t.wear_factor",)


def test_a_loaded_job_has_them(full_shop: Path) -> None:
    known = load_job("first", load_shop(full_shop)).facts
    assert known.facts["tools.em6.core_ratio"].where.file == "tools.toml"
    assert not is_taken(known.facts["tools.em6.run_out"])
    (full_shop / "tools.toml").write_text('[tool.em6]\nDC = "6 mm"\nmaterial = "carbide"\n')
    known = load_job("first", load_shop(full_shop)).facts
    assert is_taken(known.facts["tools.em6.core_ratio"])
    assert known.facts["materials.al-6082.model_factor"].where.file == "materials.toml"
