"""Everything that can be wrong with what a user hands us.

Two kinds, never mixed: an `InputError` is about the user's files or command line and lists every fault found
(exit code 2); any other exception is a fault of ours (exit code 1).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that cannot be used, told so that the reader can mend it without asking."""

    what: str
    """What is wrong, e.g. ``max_feed has the wrong dimension``."""
    value: str = ""
    """The value as it was written, with its unit."""
    allowed: str = ""
    """What would be accepted, e.g. ``a speed such as "14 m/min"``."""
    file: str = ""
    line: int | None = None
    """Line in the file, counted from 1."""
    do: str = ""
    """What to do, if `allowed` does not say it already."""

    def __str__(self) -> str:
        where = self.file + (f":{self.line}" if self.line else "")
        parts = [f"{where}: " if where else "", self.what]
        if self.value:
            parts.append(f": {self.value}")
        if self.allowed:
            parts.append(f". Allowed: {self.allowed}")
        if self.do:
            parts.append(f". {self.do}")
        return "".join(parts)


def told_of(faults: Iterable[Fault]) -> list[dict[str, str | int | None]]:
    """Faults as other programs read them."""
    return [
        {"what": one.what, "value": one.value, "allowed": one.allowed, "file": one.file, "line": one.line, "do": one.do}
        for one in faults
    ]


class FirstoffError(Exception):
    """Base of everything this package raises on purpose."""


class InputError(FirstoffError):
    """What the user handed us cannot be used; `faults` holds all that was found, in file order."""

    def __init__(self, *faults: Fault) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


class Interrupted(FirstoffError):
    """The user asked us to stop; nothing half-written is left behind."""
