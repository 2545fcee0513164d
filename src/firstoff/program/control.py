"""What the control of this machine does where controls differ: asked once per key, remembered for the recheck."""

from __future__ import annotations

from dataclasses import dataclass, field

from firstoff.errors import Fault, InputError
from firstoff.facts.control import CONTROL_KEYS
from firstoff.facts.fact import FactSet

PREFIX = "machine.control."
BASES = ("plain", "rs274ngc")
STILL = "nothing moves"
"""What `own_m_codes` says of a code that leaves every axis where it is."""


@dataclass(slots=True)
class Control:
    """Resolved `[control]` facts: the machine's answer where it has one, else what the base takes for granted.

    `used` keeps, in the order of first use, the paths of the answers that came from the machine: the reading leans on them.
    """

    base: str = "plain"
    said: dict[str, str | float] = field(default_factory=dict)
    """The machine's answers by key."""
    own_m_codes: dict[int, str] = field(default_factory=dict)
    """What the builder's M codes do, in the machine's words."""
    used: dict[str, None] = field(default_factory=dict)

    @classmethod
    def of(cls, facts: FactSet | None = None, base: str | None = None) -> Control:
        """The control of the machine described by `facts`; `base` holds where the machine names none.

        Raises `InputError` for a base that is none.
        """
        said: dict[str, str | float] = {}
        own: dict[int, str] = {}
        for path in facts.under(PREFIX) if facts is not None else ():
            key = path.removeprefix(PREFIX)
            if facts is None:
                continue
            if path in facts.facts:
                said[key] = facts.facts[path].value
            elif key.startswith("own_m_codes."):
                number = key.removeprefix("own_m_codes.")
                if number.isdecimal():
                    own[int(number)] = str(facts.settings[path].value)
            else:
                said[key] = str(facts.settings[path].value)
        chosen = str(said.get("base", base or "plain"))
        if chosen not in BASES:
            raise InputError(Fault("no such base of the language", chosen, " or ".join(BASES)))
        return cls(chosen, said, own, {PREFIX + "base": None} if "base" in said else {})

    @property
    def report(self) -> bool:
        """Whether the language is the report's, to the letter."""
        return self.base == "rs274ngc"

    def answer(self, key: str) -> str | float | None:
        """The answer to one key of `CONTROL_KEYS`; None where neither the machine nor its base says."""
        if key in self.said:
            self.used[PREFIX + key] = None
            return self.said[key]
        if key == "base":
            return self.base
        known = CONTROL_KEYS[key]
        return known.rs274ngc if self.report else known.plain

    def own_code(self, number: int) -> str | None:
        """What M`number` of the builder does, if the machine explains it."""
        words = self.own_m_codes.get(number)
        if words is not None:
            self.used[f"{PREFIX}own_m_codes.{number}"] = None
        return words


def path_of(key: str) -> str:
    """Dotted path of a `[control]` key, as a need names it."""
    return PREFIX + key
