"""The shipped table: what it promises about every material in it."""

from __future__ import annotations

import pytest

from firstoff.facts.derived import family_of
from firstoff.facts.fact import Evidence
from firstoff.facts.materials import material_facts, material_names, shipped_materials
from firstoff.facts.schema import Material

TABLE, FILE = shipped_materials()
MATERIALS = TABLE.material or {}


def test_at_least_twelve() -> None:
    assert len(MATERIALS) >= 12
    assert material_names(None) == tuple(MATERIALS)


@pytest.mark.parametrize("name", MATERIALS)
def test_every_material_is_whole(name: str) -> None:
    material = MATERIALS[name]
    for key in ("temper", "kc", "mc", "radial_ratio", "modulus", "welds_to_edge", "coolant"):
        assert getattr(material, key) is not None, key
    facts = material_facts(name, None).facts
    keys = ["kc", "kc.at", "mc", "radial_ratio", "modulus", *(["axial_ratio"] if material.axial_ratio else [])]
    assert set(facts) == {f"materials.{name}.{key}" for key in keys}
    assert all(fact.where.line for fact in facts.values())
    assert all(fact.note for path, fact in facts.items() if not path.endswith(".at"))


@pytest.mark.parametrize("name", MATERIALS)
def test_without_a_source_the_evidence_is_assumed_and_wide(name: str) -> None:
    material = MATERIALS[name]
    kc = _kc(material)
    found = [source for source in material.sources or () if source.mark == "found"]
    assert (kc.evidence is Evidence.HANDBOOK) == bool(found)
    assert kc.evidence in (Evidence.HANDBOOK, Evidence.ASSUMED)
    assert kc.u / kc.value >= (0.25 if found else 0.5)
    assert kc.stated


@pytest.mark.parametrize("name", MATERIALS)
def test_the_axial_ratio_is_that_of_the_sources_that_measured_it(name: str) -> None:
    material = MATERIALS[name]
    assert material.kc is not None
    h = material.kc.extra["at"].value
    found = [
        (source.Ka + source.Kae / h) / (source.Kt + source.Ke / h)
        for source in material.sources or ()
        if source.Ka is not None and source.Kae is not None and source.Kt is not None and source.Ke is not None
    ]
    assert bool(found) == (material.axial_ratio is not None)
    if material.axial_ratio is not None:
        assert material.axial_ratio.value == pytest.approx(sum(found) / len(found), abs=0.01)
        assert all(abs(ratio - material.axial_ratio.value) <= 2 * material.axial_ratio.u for ratio in found)


@pytest.mark.parametrize("name", MATERIALS)
def test_the_elasticity_is_that_of_its_family(name: str) -> None:
    """Two lists from memory, made apart: the shipped figure lies within the family's spread."""
    modulus, family = MATERIALS[name].modulus, family_of(name)
    assert modulus is not None
    assert family is not None
    assert abs(modulus.value - family[1]) <= 1.1 * family[2]


def test_every_source_is_a_publication_of_the_list() -> None:
    used = {source.by for material in MATERIALS.values() for source in material.sources or ()}
    assert used == set(TABLE.publication or {})


def _kc(material: Material):  # type: ignore[no-untyped-def]
    assert material.kc is not None
    return material.kc.main
