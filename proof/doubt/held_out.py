"""Are the models' doubts wide enough? One published cutting source at a time is held out and taken for the truth.

The others make the constants as the shipped table makes them: the geometric mean of the specific cutting forces at a chip of 0.05 mm, the
spread between them (never below a quarter) as its doubt, and the mean of the exponents. A pass along a wall is examined with these, and with
the source that was held out: does the stated power hold it? Chips in that pass are 0.01 to 0.04 mm thick, thinner than most of the data.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from firstoff import workflows
from firstoff.facts.derived import ACCURACY
from firstoff.facts.fact import Fact, FactSet, Shape
from firstoff.facts.materials import shipped_materials
from firstoff.facts.schema import Source
from proof.doubt.situations import SIDE
from proof.doubt.study import laid_out

AT_MM = 0.05
LEAST_SPREAD = 0.25
"""Of a handbook constant (the shipped table's own rule)."""
LEAST_EXPONENT_SPREAD = 0.05
FEWEST = 4
"""A pool of fewer sources has no spread worth the name once one is out."""
MATERIAL = "proof-bar"
KC, MC, MODEL, EDGE = (f"materials.{MATERIAL}.{name}" for name in ("kc", "mc", "model_factor", "edge_force"))


@dataclass(frozen=True, slots=True)
class Law:
    """A source: kc(h) = cut·(h/0.05 mm)^-exponent + edge/h, N/mm²."""

    name: str
    cut: float
    exponent: float
    edge: float = 0.0

    @property
    def kc(self) -> float:
        """At a chip of 0.05 mm."""
        return self.cut + self.edge / AT_MM

    @property
    def slope(self) -> float:
        """Exponent of the whole there."""
        return (self.cut * self.exponent + self.edge / AT_MM) / self.kc


def kienzle(name: str, kc11: float, mc: float) -> Law:
    """A pair stated at a chip of 1 mm."""
    return Law(name, kc11 * AT_MM**-mc, mc)


ALUMINIUM = (
    Law("6061-T6, carbide (Chinese J. Mech. Eng. 34 (2021), table 5)", 243.77, 0.0, 7.53),
    Law("6082-T6, carbide (the same table)", 631.0, 0.0, 13.0),
    Law("7075, carbide (the same table, last row)", 1319.41, 0.0, 19.65),
    Law("7050-T7451 (Altintas, Manufacturing Automation, from memory)", 796.1, 0.0, 27.7),
    kienzle("group 22, hardened wrought (ISCAR, turning catalogue, 2017, p. 558)", 800.0, 0.25),
    kienzle("aluminium (Dietrich, Tschätsch, Praxis der Zerspantechnik, 2014)", 780.0, 0.18),
    kienzle("Al-Mg by feed per tooth (Mitsubishi Materials, cutting power for face milling)", 264.0, 0.348),
)
"""Section 1h of the reference notes on cutting: seven sources for wrought aluminium, a factor of 4.3 between them."""


@dataclass(frozen=True, slots=True)
class HeldOut:
    """One source against the others, mean power in W."""

    pool: str
    source: str
    kc: float
    others_kc: float
    true: float
    low95: float
    high95: float
    """With the doubt of the constants and of the force model, as the package states it."""
    bare_low95: float
    bare_high95: float
    """With the doubt of the constants alone."""

    @property
    def covered(self) -> bool:
        return self.low95 <= self.true <= self.high95

    @property
    def covered_bare(self) -> bool:
        return self.bare_low95 <= self.true <= self.bare_high95


def pools() -> dict[str, tuple[Law, ...]]:
    """Pools of sources by what they are of: section 1h, and every material of the shipped table with enough of them."""
    found: dict[str, tuple[Law, ...]] = {"wrought aluminium, section 1h": ALUMINIUM}
    table, _ = shipped_materials()
    titles = table.publication or {}
    for name, material in (table.material or {}).items():
        laws = tuple(_law(each, titles) for each in material.sources or ())
        if len(laws) >= FEWEST:
            found[name] = laws
    return found


def _law(source: Source, titles: Mapping[str, str]) -> Law:
    name = f"{source.row} ({titles[source.by].split(',')[0]}{', from memory' if source.mark != 'found' else ''})"
    if source.Kt is not None and source.Ke is not None:
        return Law(name, source.Kt, 0.0, source.Ke)
    if source.kc11 is not None and source.mc is not None:
        return kienzle(name, source.kc11, source.mc)
    if source.kc is None:
        raise ValueError(f"the source {name} has no constants")
    return Law(name, source.kc, MACHINERYS_SLOPE)


MACHINERYS_SLOPE = 0.196
"""Of the feed factors of Machinery's Handbook (reference notes on cutting, section 1d)."""


def hold_out(of: Mapping[str, Sequence[Law]] | None = None) -> list[HeldOut]:
    """Every source of every pool (`pools` if none are given), held out in turn."""
    rows = []
    with TemporaryDirectory() as name:
        prepared = laid_out(SIDE, Path(name), SIDE.program)
        nominal = prepared.job.facts
        exact = replace(nominal, facts={path: replace(fact, u=0.0) for path, fact in nominal.facts.items()}, groups=())
        for pool, laws in (pools() if of is None else of).items():
            for held in laws:
                others = [law for law in laws if law is not held]
                rows.append(_row(prepared, exact, pool, held, others))
    return rows


def _row(prepared: workflows.Prepared, exact: FactSet, pool: str, held: Law, others: Sequence[Law]) -> HeldOut:
    logs = np.log([law.kc for law in others])
    slopes = np.array([law.slope for law in others])
    kc, mc = math.exp(float(logs.mean())), float(slopes.mean())
    u_kc = kc * max(math.sqrt(math.expm1(float(logs.var(ddof=1)))), LEAST_SPREAD)
    u_mc = max(float(slopes.std(ddof=1)), LEAST_EXPONENT_SPREAD)
    stated = []
    for spread in (ACCURACY[False], 0.0):
        told = _with(exact, kc=(kc, u_kc), mc=(mc, u_mc), model=(1.0, spread))
        stated.append(workflows.judge(prepared, told, ("power",)).answer("power").demand)
    real = _with(exact, kc=(held.cut, 0.0), mc=(max(held.exponent, 1e-9), 0.0), model=(1.0, 0.0), edge=held.edge)
    true = workflows.judge(prepared, real, ("power",)).answer("power").demand
    whole, bare = stated
    if whole is None or bare is None or true is None:
        raise ValueError(f"nothing is stated of the power with {held.name}")
    return HeldOut(pool, held.name, held.kc, kc, true.value, whole.low95, whole.high95, bare.low95, bare.high95)


def _with(
    exact: FactSet,
    kc: tuple[float, float],
    mc: tuple[float, float],
    model: tuple[float, float],
    edge: float = 0.0,
) -> FactSet:
    facts = dict(exact.facts)
    for path, (value, u) in ((KC, kc), (MC, mc), (MODEL, model)):
        facts[path] = replace(facts[path], value=value, u=u, shape=Shape.LOGNORMAL if u > 0 else Shape.NORMAL)
    if edge > 0:
        facts[EDGE] = Fact(EDGE, edge, 0.0, "N/mm")
    return replace(exact, facts=facts)
