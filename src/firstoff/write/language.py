"""How one control wants its programs spelt: the few choices that are the shop's, not the operation's."""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.errors import Fault, InputError
from firstoff.facts.fact import FactSet
from firstoff.program.control import Control

DECIMALS = {"mm": 4, "inch": 5}
"""Digits after the point: 0.0001 mm keeps rounded arcs far inside the report's 0.002 mm (NISTIR 6556, 3.5.3.2)."""
FEWEST_DECIMALS = {"mm": 3, "inch": 4}
"""With fewer, the two radii of a rounded arc can differ by more than the report allows."""
RE_ENTRY_MM = 0.3
"""Gap above the last depth at which a written-out peck feeds on (common practice)."""


@dataclass(frozen=True, slots=True)
class Language:
    """Spelling of a program. The defaults are legal in both bases of `firstoff.facts.control`."""

    units: str = "mm"
    """``mm`` or ``inch``."""
    decimals: int | None = None
    """Digits after the point of a coordinate; None = `DECIMALS`."""
    numbered: bool = False
    """N10, N20 … in front of blocks."""
    dwell_unit: str | None = None
    """What P of G4 counts, ``s`` or ``ms``; None = not known, and a program with a dwell is refused."""
    canned_pecks: bool = True
    """G83; else pecks are written out, because nobody knows how the control backs off."""
    path_mode: str | None = "G64"
    """``G61``, ``G61.1``, ``G64``, or None to leave the control as it is."""
    ends_with: str = "M30"
    """``M30`` or ``M2``."""

    @property
    def digits(self) -> int:
        return DECIMALS[self.units] if self.decimals is None else self.decimals

    @property
    def mm_per_unit(self) -> float:
        return 25.4 if self.units == "inch" else 1.0

    def checked(self) -> Language:
        """The language itself; raises `InputError` if something is not one of the allowed words."""
        faults = []
        for name, value, allowed in (
            ("units", self.units, ("mm", "inch")),
            ("dwell_unit", self.dwell_unit, (None, "s", "ms")),
            ("path_mode", self.path_mode, (None, "G61", "G61.1", "G64")),
            ("ends_with", self.ends_with, ("M30", "M2")),
        ):
            if value not in allowed:
                words = ", ".join(str(word) for word in allowed)
                faults.append(Fault(f"{name} is not a way of writing", str(value), words))
        fewest = FEWEST_DECIMALS.get(self.units, 0)
        if not faults and not fewest <= self.digits <= 6:
            faults.append(Fault("decimals", str(self.digits), f"{fewest} to 6, else arcs fall outside the tolerance"))
        if faults:
            raise InputError(*faults)
        return self


def language_of(facts: FactSet, units: str = "mm") -> Language:
    """The language of the machine whose facts these are.

    Where the machine does not say, its base does; where neither does, nothing is written that depends on it.
    """
    control = Control.of(facts)
    dwell = control.answer("dwell_p")
    return Language(
        units=units,
        dwell_unit=None if dwell is None else str(dwell),
        canned_pecks=control.answer("peck_back_off") is not None,
    ).checked()
