"""Cutting constants: the shop's own first, the shipped table for what the shop does not say."""

from __future__ import annotations

from functools import cache
from importlib import resources
from pathlib import Path

from firstoff.errors import Fault, InputError
from firstoff.facts.check import check_materials
from firstoff.facts.collect import Collected, collect
from firstoff.facts.fact import FactSet
from firstoff.facts.schema import Material, Materials
from firstoff.facts.toml_file import TomlFile, read_toml
from firstoff.facts.validate import validated

SHIPPED = "shipped materials.toml"
"""How the shipped table is called where a fact's place is shown."""


@cache
def shipped_materials() -> tuple[Materials, TomlFile]:
    """The table that comes with the package: constants with sources and spread, read by the same loader as a shop's own."""
    with resources.as_file(resources.files("firstoff.facts") / "data" / "materials.toml") as path:
        file = read_toml(Path(path), SHIPPED)
    faults: list[Fault] = []
    materials = validated(Materials, file, faults)
    if materials is not None:
        faults += check_materials(materials, file)
    if faults or materials is None:
        raise InputError(*faults)
    return materials, file


def material_names(own: Materials | None) -> tuple[str, ...]:
    """Every material that a job may name."""
    return tuple(dict.fromkeys((*((own.material or {}) if own else {}), *(shipped_materials()[0].material or {}))))


def material_facts(name: str, own: Materials | None) -> FactSet:
    """What the shipped table adds about `name`: the constants that the shop has not given itself.

    A shop that gives the material another temper gets nothing: constants belong to a temper.
    """
    shipped, file = shipped_materials()
    material = (shipped.material or {}).get(name)
    if material is None:
        return FactSet()
    mine = ((own.material or {}) if own else {}).get(name)
    if mine is not None:
        if mine.temper is not None and mine.temper != material.temper:
            return FactSet()
        given = _given(mine)
        apart = ("kc_mc_correlation",) if {"kc", "mc"} & set(given) else ()  # it belongs to the shipped pair alone
        material = material.model_copy(update=dict.fromkeys((*given, *apart)))
    collected = Collected()
    collect("materials", Materials.model_construct(material={name: material}), file, collected)
    return collected.fact_set()


def _given(material: Material) -> tuple[str, ...]:
    return tuple(key for key in type(material).model_fields if getattr(material, key) is not None)
