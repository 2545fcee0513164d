"""The shipped cutting constants, recomputed from the sources that stand beside them."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from firstoff.facts.materials import shipped_materials
from firstoff.facts.schema import Material, Source

TABLE = shipped_materials()[0]
SOURCED = {name: material for name, material in (TABLE.material or {}).items() if material.sources}
LEAST_SHARE = 0.25
"""A handbook constant keeps 25 % however well two tables agree (CONTRACTS, Quantity)."""
ROUNDING = 0.01
"""Values are printed to three figures."""


def specific_force(source: Source, h_mm: float) -> float:
    """kc in N/mm² that a source states at chip thickness `h_mm` (Kienzle 1952, or edge forces as Altintas writes them)."""
    if source.kc11 is not None and source.mc is not None:
        return source.kc11 * h_mm**-source.mc
    if source.Kt is not None and source.Ke is not None:
        return source.Kt + source.Ke / h_mm
    assert source.kc is not None
    return source.kc


def log_forces(material: Material) -> list[float]:
    assert material.kc is not None
    h_mm = material.kc.extra["at"].value
    return [math.log(specific_force(source, h_mm)) for source in material.sources or ()]


def spread(logs: list[float]) -> tuple[float, float]:
    mean = math.fsum(logs) / len(logs)
    return mean, math.sqrt(math.fsum((log - mean) ** 2 for log in logs) / (len(logs) - 1))


@pytest.mark.parametrize("name", SOURCED)
def test_constant_is_the_mean_of_its_sources(truth: Callable[..., None], name: str) -> None:
    material = SOURCED[name]
    assert material.kc is not None
    mean, sd = spread(log_forces(material))
    papers = TABLE.publication or {}
    cited = [
        papers[source.by].partition(":")[0] + (" (from memory)" if source.mark != "found" else "")
        for source in material.sources or ()
    ]
    what = f"kc of {name} at {material.kc.extra['at'].value} mm: geometric mean of {len(cited)} sources"
    titles = "; ".join(dict.fromkeys(cited))
    expected, got = math.exp(mean), material.kc.main.value
    truth(f"material-{name}", what, titles, expected, got, ROUNDING * expected, "N/mm²")
    assert material.kc.main.u / got >= max(sd, LEAST_SHARE) * (1 - ROUNDING)
    assert all(abs(log - math.log(got)) <= 2 * material.kc.main.u / got for log in log_forces(material))


def test_hidden_source_is_covered_by_the_others(truth: Callable[..., None]) -> None:
    """Each source in turn is hidden and must lie within two standard uncertainties of what the others would have stated."""
    covered = []
    for material in SOURCED.values():
        logs = log_forces(material)
        for number, hidden in enumerate(logs):
            others = logs[:number] + logs[number + 1 :]
            if len(others) < 2:
                continue
            mean, sd = spread(others)
            covered.append(abs(hidden - mean) <= 2 * max(sd, LEAST_SHARE))
    assert len(covered) > 50
    share = sum(covered) / len(covered)
    what = f"share of {len(covered)} hidden sources within 2 u of the others (normal: 0.95)"
    truth("material-hidden-source", what, "the publications named in materials.toml", 0.95, share, 0.05)


@pytest.mark.parametrize(
    ("name", "row", "expected"),
    [
        ("al-6061", "6061-T6", 394),
        ("al-6082", "6082-T6", 891),
        ("al-7075", "7075, carbide, dry", 1712),
        ("al-6082", "group 22", 1692),
        ("al-6082", "aluminium", 1338),
        ("al-6082", "Al-Mg", 749),
    ],
)
def test_spread_of_aluminium_is_four_fold(name: str, row: str, expected: float) -> None:
    """Values of kc at 0.05 mm worked out by hand from the same publications."""
    sources = [source for source in SOURCED[name].sources or () if (source.row or "").startswith(row)]
    assert specific_force(sources[0], 0.05) == pytest.approx(expected, rel=1e-3)
