"""Rules of the trade as facts: where as many cuts go wrong as go well, with the wide doubt that such a rule has.

A rule that a shop hears ("slots no deeper than the cutter is wide") is the place where trouble begins to be possible; what stands here is
where it is as likely as not, so that the chance of trouble at the rule itself is a few in a hundred. All are common practice, none was
looked up: a shop that knows its own machine writes its own under `[practice]` in machine.toml.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from firstoff.facts.fact import Fact, Where
from firstoff.facts.quantity import Kind, read_quantity

ROOT = "machine.practice"
SHIPPED = Where("shipped common practice")
"""Where a rule that the shop has not written itself comes from."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule, its value as a shop would write it."""

    meaning: str
    written: str
    note: str = ""
    """What is held to go well."""
    dimension: str = "ratio"

    @property
    def kind(self) -> Kind:
        return Kind(self.dimension, "other", 0.0)


RULES: Mapping[str, Rule] = {
    "air_share": Rule("share of a tool's time at feed in air that a right zero and a right blank do not give", "0.95(20)"),
    "first_bite": Rule("first bite of a tool over its usual one, by cross-section, at which something is not as meant", "10(4)"),
    "rubbing_time": Rule("longest run below the least chip that an edge bears", "10(4) s", "closing passes graze for a few seconds", "time"),
    "run_out_share": Rule(
        "run-out over feed per edge at which one edge of two no longer cuts", "1.0(2)", "by geometry 1 for two edges"
    ),
    "slot_depth": Rule(
        "depth of a slot over the cutter's diameter at which chips jam, without flood", "1.7(5)", "slots to one diameter go well"
    ),
    "slot_depth_flood": Rule("the same with flood", "2.5(7)", "slots to one and a half diameters go well under flood"),
    "drill_depth": Rule("depth over diameter that a drill can go without coming up", "5(1.5)", "three diameters go well"),
    "peck_depth": Rule(
        "length of a peck over diameter, deep in the hole, at which chips jam", "2.0(6)", "pecks of one diameter go well"
    ),
    "hole_depth": Rule(
        "depth of a hole over diameter at which a drill with no coolant through it fails however it pecks", "14(4)",
        "eight diameters go well",
    ),
    "helix_least": Rule(
        "width of a helix over the cutter's diameter below which its middle does not come away", "1.10(5)", "1.2 and wider goes well"
    ),
    "ramp_angle": Rule(
        "angle of a ramp into solid material at which a milling cutter jams", "9(3) deg", "5 degrees go well in aluminium", "angle"
    ),
    "plunge_depth": Rule(
        "depth over diameter that a milling cutter can go straight down into solid material", "1.00(35)", "half a diameter goes well"
    ),
    "roughness": Rule(
        "roughness found over what geometry alone leaves", "1.5(4)", "up to twice with a fresh edge where nothing welds to it"
    ),
}  # fmt: skip


@cache
def practice_facts() -> Mapping[str, Fact]:
    """Every rule as a fact by its path."""
    found = {}
    for name, rule in RULES.items():
        read = read_quantity(rule.written, rule.kind)
        note = f"common practice: {rule.note}" if rule.note else "common practice"
        path = f"{ROOT}.{name}"
        found[path] = Fact(path, read.value, read.u, read.unit, read.df, read.shape, read.evidence, note, None, SHIPPED)
    return found
