"""Facts that every examination needs and that few shops state: taken by a rule, with the wide doubt that the rule has.

They are added when a job's facts are put together, and give way to whatever a file says. Their note begins with "taken as" and names the
rule, so that they show in budgets of doubt and can be measured like any other; nothing that is taken by a rule is ever missing. All are
common practice or from memory, and say which; section numbers are those of the reference notes on cutting.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping

from firstoff.facts.assembly import DEAD_SHARE, cuts_on_centre
from firstoff.facts.fact import RULE as RULE
from firstoff.facts.fact import Evidence, Fact, FactGroup, FactSet, Shape
from firstoff.facts.gripped import as_gripped
from firstoff.facts.quantity import DEFAULT_DOUBT, LOGNORMAL_FROM

TAKEN = "taken as"

ACCURACY = {True: 0.10, False: 0.30}
"""Spread of true over predicted force with kc measured on this machine, and without (section 11)."""
AXIAL_RATIO = (0.25, 0.15)
MIN_CHIP_RATIO = (0.30, 0.10)
"""Section 9: 0.14 to 0.43 for most materials."""
WEAR = {"new": (1.00, 0.03), "used": (1.15, 0.08), "suspect": (1.3, 0.2)}
"""By `condition`; a tool of unknown condition counts as suspect. Handbooks reckon 1.1 to 1.3 (section 1d, W)."""
CORE_RATIO = (0.80, 0.05)
"""Kops & Vo 1990 (section 5, from memory)."""
CARBIDE, STEEL = "carbide", "high-speed steel"
ELASTIC = {CARBIDE: (580e3, 30e3), STEEL: (220e3, 10e3)}
"""Modulus of elasticity of tools, N/mm² (section 5)."""
BEARS = {CARBIDE: (1800.0, 500.0), STEEL: (1200.0, 300.0)}
"""Bending stress that tools bear for long, N/mm²: about half of what micrograin carbide breaks at once under (3600), a third of the 3600 of
hardened high-speed steel; each turn bends a tool to and fro (from memory, fatigue of hard metals and of tool steels)."""
UNKNOWN_BEARS = (1500.0, 500.0)
TWISTED_CORE = {"drill": (0.70, 0.07), "tap": (0.65, 0.07)}
"""As `CORE_RATIO`, of what is twisted off. A tap twists off at about twice what its clutch is set to (M3 0.5, M4 1.2, M6 4, M8 8 N·m: common
practice): a rod of 0.65 DC at 1200 N/mm². A drill's two flutes leave about a quarter of a solid rod's stiffness in torsion."""
CHIP_SHARE = (0.025, 0.40)
"""Thickest chip over DC, and its relative spread (common practice)."""
DRILL_CHIP_SHARE = (0.04, 0.40)
"""The same of each lip of a drill: feeds to a twenty-fifth of DC a turn are usual in aluminium (common practice)."""
ROTOR = (1e-4, 0.6)
"""Moment of inertia of all that turns in a motor spindle, N·mm·s² a watt that it holds for ever (1 kW: 0.0001 kg m²), and its relative
spread: a rotor of 30 mm by 100 mm is 0.8 kW, one of 40 mm by 130 mm 2.2 kW (common practice)."""
HOLDER_STIFFNESS = (12e3, 6e3)
"""N/mm, small collets: a joint about halves the stiffness of tools up to 6 mm (section 5, low confidence)."""
EDGE_RADIUS = {"bright carbide": (5e-3, 3e-3), "coated carbide": (8e-3, 4e-3), STEEL: (12e-3, 6e-3), "": (8e-3, 5e-3)}
"""mm, by what the tool is made of and coated with (section 9); "" where neither is known."""
HOLDER_RUN_OUT = (5e-3, 3e-3)
SPINDLE_RUN_OUT = (4e-3, 3e-3)
"""mm; the spindle's only where it is not stated."""
DEAD_SPREAD = 0.25
FAMILIES: tuple[tuple[str, str, float, float], ...] = (
    (r"\bal\b|\balu|en-aw|en-ac", "aluminium", 70e3, 3e3),
    (r"stainless|\b(?:304|316)l?\b", "stainless steel", 197e3, 6e3),
    (r"steel|\bs235|\bc45|crmo", "steel", 208e3, 6e3),
    (r"brass|cuzn", "brass", 100e3, 6e3),
    (r"bronze|cusn", "bronze", 110e3, 8e3),
    (r"copper|\bcu\b", "copper", 120e3, 8e3),
    (r"titan|\bti\b", "titanium", 113e3, 4e3),
    (r"gjs|nodular", "nodular iron", 169e3, 8e3),
    (r"\biron|gjl", "grey iron", 110e3, 12e3),
    (r"\bmg\b|magnes", "magnesium", 45e3, 2e3),
    (r"\bpom\b|acetal", "POM", 2.8e3, 0.4e3),
    (r"pmma|acryl", "PMMA", 3.1e3, 0.4e3),
    (r"peek", "PEEK", 3.7e3, 0.4e3),
    (r"fr-?4\b|gfrp|g10\b", "glass laminate", 20e3, 4e3),
)
"""Words of a material's name, its family, modulus of elasticity and spread, N/mm² (from memory, handbook figures)."""


SHEAR: dict[str, tuple[float, float]] = {
    "aluminium": (100.0, 40.0), "stainless steel": (350.0, 100.0), "steel": (280.0, 80.0), "brass": (200.0, 60.0),
    "bronze": (200.0, 60.0), "copper": (150.0, 40.0), "titanium": (350.0, 120.0), "nodular iron": (330.0, 80.0),
    "grey iron": (200.0, 60.0), "magnesium": (130.0, 40.0), "POM": (55.0, 12.0), "PMMA": (45.0, 15.0), "PEEK": (55.0, 12.0),
    "glass laminate": (80.0, 30.0),
}  # fmt: skip
"""Shear strength by family and its spread, N/mm²: handbook figures from memory, of the softer tempers (aluminium from 55 annealed to 200
hardened; metals as a rule bear 0.6 to 0.8 of their tensile strength in shear)."""


def with_derived(facts: FactSet) -> FactSet:
    """The facts of a job with those added that a rule gives for its material and its tools, where no file states them."""
    facts = as_gripped(facts)
    added: dict[str, Fact] = {}
    material = facts.settings.get("job.material")
    if material is not None:
        added.update((fact.path, fact) for fact in _of_material(facts, str(material.value)))
    for name in tools_of(facts):
        added.update((fact.path, fact) for fact in _of_tool(facts, name))
    added.update((fact.path, fact) for fact in _of_spindle(facts))
    added.update((fact.path, fact) for fact in _of_blank(facts))
    known = {**facts.facts, **{path: fact for path, fact in added.items() if path not in facts.facts}}
    return FactSet(known, facts.settings, _groups(known, str(material.value)) if material is not None else ())


def _groups(facts: Mapping[str, Fact], material: str) -> tuple[FactGroup, ...]:
    """kc and mc of one fit go together; stated inside their data, as they must be, they hardly do (0 where nothing is said)."""
    kc, mc, said = (f"materials.{material}.{name}" for name in ("kc", "mc", "kc_mc_correlation"))
    if not {kc, mc, said} <= facts.keys() or facts[said].value == 0.0:
        return ()
    correlation = facts[said].value
    return (FactGroup((kc, mc), ((1.0, correlation), (correlation, 1.0))),)


def is_taken(fact: Fact) -> bool:
    """Whether nobody stated the fact: a rule gave it."""
    return fact.note.startswith(TAKEN)


def tools_of(facts: FactSet) -> tuple[str, ...]:
    """Names of the described tools that a job may put to work: those it lists, and those that stand where a T points."""
    called = (
        str(setting.value)
        for path, setting in facts.settings.items()
        if path.startswith("job.tools.")
        or path.endswith(".touched_with")
        or (path.startswith(("tools.pocket.", "tools.register.")) and path.endswith(".tool"))
    )
    return tuple(name for name in dict.fromkeys(called) if any(facts.under(f"tools.{name}.")))


def _taken(
    path: str,
    value: float,
    u: float,
    unit: str,
    why: str,
    rests_on: tuple[str, ...] = (),
    shape: Shape | None = None,
    evidence: Evidence = Evidence.ASSUMED,
) -> Fact:
    if shape is None:
        shape = Shape.LOGNORMAL if u > LOGNORMAL_FROM * value else Shape.NORMAL
    note = f"{TAKEN} {why}"
    return Fact(path, value, u, unit, shape=shape, evidence=evidence, note=note, where=RULE, rests_on=rests_on)


# ---- material ------------------------------------------------------------------------------------------------------


def _of_material(facts: FactSet, name: str) -> Iterator[Fact]:
    at = f"materials.{name}."
    kc = facts.facts.get(f"{at}kc")
    known = kc is not None and kc.evidence in (Evidence.MEASURED, Evidence.LEARNED)
    spread = ACCURACY[known]
    why = f"1 within {100 * spread:.0f} %: kc was {'' if known else 'not '}measured on this machine"
    yield _taken(f"{at}model_factor", 1.0, spread, "1", why, (f"{at}kc",), Shape.LOGNORMAL)
    yield _taken(f"{at}axial_ratio", *AXIAL_RATIO, "1", "a quarter: common practice for helical edges")
    yield _taken(f"{at}min_chip_ratio", *MIN_CHIP_RATIO, "1", "what is found for most materials: 0.14 to 0.43")
    family = family_of(name)
    if family is not None:
        words, modulus, u = family
        yield _taken(f"{at}modulus", modulus, u, "N/mm²", f"that of {words}: from memory", evidence=Evidence.HANDBOOK)
        bears, spread = SHEAR[words]
        why = f"that of soft {words}: from memory"
        yield _taken(f"{at}shear_strength", bears, spread, "N/mm²", why, evidence=Evidence.HANDBOOK)


def family_of(name: str) -> tuple[str, float, float] | None:
    """The family that a material's name tells, with its modulus of elasticity and spread, N/mm²; None where it tells none."""
    spelt = name.lower().replace("_", "-")
    for pattern, words, modulus, u in FAMILIES:
        if re.search(pattern, spelt):
            return words, modulus, u
    return None


# ---- blank ---------------------------------------------------------------------------------------------------------


def _of_blank(facts: FactSet) -> Iterator[Fact]:
    """A shape from a file, or from an earlier job clamped anew, is a position like any other that comes without its doubt."""
    for way, of_what in (
        ("stl", "the shape in its file"),
        ("after", "what the earlier job leaves, as it is clamped now"),
    ):
        if f"job.stock.{way}" in facts.settings:
            u = DEFAULT_DOUBT["place"][Evidence.ASSUMED].of(0.0)
            why = f"{of_what}, within half a millimetre: nobody says how far its faces lie off"
            yield _taken("job.stock.faces", 0.0, u, "mm", why, (f"job.stock.{way}",), Shape.NORMAL)


# ---- spindle -------------------------------------------------------------------------------------------------------


def _of_spindle(facts: FactSet) -> Iterator[Fact]:
    powers = [fact for path, fact in facts.facts.items() if path.startswith(RATED) and path.endswith(".power")]
    most = max(powers, key=lambda fact: fact.value, default=None)
    if most is not None and most.value > 0.0:
        a_watt, spread = ROTOR
        value = a_watt * most.value
        why = "0.0001 kg m² a kW that the spindle holds: common practice for motor spindles"
        yield _taken("machine.spindle.inertia", value, spread * value, "N·mm·s²", why, (most.path,))


RATED = "machine.spindle.power_s1."


# ---- tools ---------------------------------------------------------------------------------------------------------


def _of_tool(facts: FactSet, name: str) -> Iterator[Fact]:
    at = f"tools.{name}."
    condition = facts.settings.get(f"{at}condition")
    state = str(condition.value) if condition is not None else ""
    why = f"that of a {state} edge" if state else "that of a suspect edge: nobody says what state it is in"
    yield _taken(f"{at}wear_factor", *WEAR.get(state, WEAR["suspect"]), "1", why, (f"{at}condition",))
    kind = facts.settings.get(f"{at}kind")
    sort = str(kind.value) if kind is not None else ""
    core = TWISTED_CORE.get(sort, CORE_RATIO)
    yield _taken(
        f"{at}core_ratio", *core, "1", f"a rod of {core[0]:g} DC: common practice for fluted parts", (f"{at}kind",)
    )
    yield from _by_what_it_is_made_of(facts, at)
    yield _run_out(facts, at)
    yield _taken(f"{at}holder_stiffness", *HOLDER_STIFFNESS, "N/mm", "that of a small collet: hardly more than a guess")
    diameter = facts.facts.get(f"{at}DC")
    if diameter is None:
        return
    share, spread = DRILL_CHIP_SHARE if sort == "drill" else CHIP_SHARE
    chip = share * diameter.value
    why = f"{share:g} of DC: common practice"
    yield _taken(f"{at}max_chip", chip, spread * chip, "mm", why, (f"{at}DC", f"{at}kind"))
    if not cuts_on_centre(facts.leaning(), name, sort):
        dead = DEAD_SHARE * diameter.value
        why = f"{DEAD_SHARE:g} of DC: common practice where its centre does not cut"
        yield _taken(f"{at}dead_diameter", dead, DEAD_SPREAD * dead, "mm", why, (f"{at}DC", f"{at}centre_cutting"))


def _by_what_it_is_made_of(facts: FactSet, at: str) -> Iterator[Fact]:
    stuff, rests_on = _stuff(facts, at), (f"{at}material",)
    if stuff is None:
        low, high = (mean + sign * 2 * u for sign, (mean, u) in ((-1, ELASTIC[STEEL]), (1, ELASTIC[CARBIDE])))
        why = "anything from high-speed steel to carbide: nobody says what it is made of"
        half_width = (high - low) / 2
        modulus = (low + half_width, half_width / math.sqrt(3))
        yield _taken(f"{at}modulus", *modulus, "N/mm²", why, rests_on, Shape.UNIFORM)
        yield _taken(f"{at}strength", *UNKNOWN_BEARS, "N/mm²", why, rests_on)
    else:
        why = f"that of {stuff}: from memory"
        yield _taken(f"{at}modulus", *ELASTIC[stuff], "N/mm²", why, rests_on, evidence=Evidence.HANDBOOK)
        yield _taken(f"{at}strength", *BEARS[stuff], "N/mm²", f"that of {stuff} that bends at every turn", rests_on)
    kind = _edge_kind(facts, at, stuff)
    why = f"that of a {kind} edge" if kind else "that of an edge of which neither material nor coating is stated"
    yield _taken(f"{at}edge_radius", *EDGE_RADIUS[kind], "mm", why, (*rests_on, f"{at}coating"))


def _stuff(facts: FactSet, at: str) -> str | None:
    """Carbide or high-speed steel; None where the words name neither, or both."""
    said = facts.settings.get(f"{at}material")
    words = str(said.value).lower() if said is not None else ""
    carbide = re.search(r"carbide|hard ?metal", words) is not None
    steel = re.search(r"steel|hss", words) is not None
    return None if carbide == steel else CARBIDE if carbide else STEEL


def _edge_kind(facts: FactSet, at: str, stuff: str | None) -> str:
    said = facts.settings.get(f"{at}coating")
    if stuff == STEEL:
        return STEEL
    if stuff is None or said is None:
        return ""
    plain = re.search(r"bright|uncoated|none|polished", str(said.value).lower()) is not None
    return f"{'bright' if plain else 'coated'} carbide"


def _run_out(facts: FactSet, at: str) -> Fact:
    """Two run-outs at an angle that nobody knows: r² = a² + b² + 2ab·cos, whose mean is a² + b² and whose spread is √2·ab."""
    spindle = facts.facts.get("machine.spindle.run_out")
    a, u_a = (spindle.value, spindle.u) if spindle is not None else SPINDLE_RUN_OUT
    b, u_b = HOLDER_RUN_OUT
    both = math.hypot(a, b)
    u = math.sqrt((a * u_a) ** 2 + (b * u_b) ** 2 + (a * b) ** 2 / 2) / both
    why = "that of the spindle and 5 µm of a holder, at an angle that nobody knows"
    return _taken(f"{at}run_out", both, u, "mm", why, ("machine.spindle.run_out",))
