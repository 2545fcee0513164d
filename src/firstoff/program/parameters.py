"""What `#1`, `#<name>` and `#<_name>` hold while a program runs, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from firstoff.errors import FirstoffError

WHOLE_TOLERANCE = 1e-4
"""How far a value that must be whole may be off (NISTIR 6556, 3.3.2.1)."""
LAST_PARAMETER = 5399
"""Highest parameter a program may use (NISTIR 6556, 3.2.1)."""
MOST_PARAMETERS = 99_999
"""Highest number a macro dialect gives a variable (common practice)."""
LAST_LOCAL = {"macro": 33, "o-words": 30}
"""Parameters 1 to this belong to one call level (reference nc-language 12)."""

FAMILY_FACT = "machine.control.macro_family"


class Answers(Protocol):
    """What is asked of a control: the answer to one `[control]` key, None where neither the machine nor its base says."""

    def answer(self, key: str) -> object: ...


class CannotEvaluate(FirstoffError):
    """A value that cannot be worked out; `fact` names the missing fact if one would settle it."""

    def __init__(self, what: str, fact: str = "") -> None:
        self.what = what
        self.fact = fact
        super().__init__(what)


@dataclass(slots=True)
class Parameters:
    """What `#1`, `#<name>` and `#<_name>` hold while a program runs.

    A parameter that was never set is unknown, not zero: it may have been left by an earlier program. Only the locals of a
    macro call are known to be empty (undefined, None) until they are set. Numbers that belong to the control are unknown unless given.
    """

    family: str | None = None
    """``macro``, ``o-words`` or ``none`` (the report); None = nobody says."""
    version: int = 0
    """Counts every change of a value: the same version at the same place means the same way on."""
    _levels: list[dict[int, float | None]] = field(default_factory=lambda: [{}])
    _names: list[dict[str, float | None]] = field(default_factory=lambda: [{}])
    _shared: dict[int, float | None] = field(default_factory=dict)
    _shared_names: dict[str, float | None] = field(default_factory=dict)
    _given: dict[int, float] = field(default_factory=dict)
    _fresh: list[str] = field(default_factory=lambda: [""])
    """Family of the call that opened each level."""

    @classmethod
    def of(cls, control: Answers) -> Parameters:
        """Parameters as this control keeps them."""
        family = control.answer("macro_family")
        return cls(family=str(family) if family is not None else None)

    def give(self, number: int, value: float) -> None:
        """State a value that the control itself holds, such as #5220 or a home position."""
        self._given[number] = value

    def read(self, number: int) -> float | None:
        """The value of `#number`; None where it is known to be undefined.

        Raises `CannotEvaluate` where it was never set, or belongs to the control and was not given.
        """
        self._check(number)
        if number == 0:
            return None
        store = self._store(number)
        if number in store:
            return _known(store[number], f"#{number}")
        if number in self._given:
            return self._given[number]
        if self.belongs_to_control(number):
            raise CannotEvaluate(f"#{number} belongs to the control: its value is not in the program")
        if self._fresh[-1] == "macro" and number <= LAST_LOCAL["macro"]:
            return None
        if self._fresh[-1] == "o-words" and number <= LAST_LOCAL["o-words"]:
            raise CannotEvaluate(f"#{number} is read, but the call passes no value for it")
        raise CannotEvaluate(f"#{number} is read before it is set: it holds whatever an earlier program left there")

    def set(self, number: int, value: float | None) -> None:
        """Set `#number`; raises `CannotEvaluate` where the number is the control's own and setting it does who knows what."""
        self._check(number)
        if number == 0:
            raise CannotEvaluate("#0 cannot be set: it is the undefined value")
        if self.belongs_to_control(number):
            raise CannotEvaluate(f"#{number} belongs to the control: what setting it does is not followed")
        store = self._store(number)
        if number not in store or store[number] != value:
            self.version += 1
        store[number] = value

    def read_named(self, name: str) -> float | None:
        """The value of `#<name>`, or of the global `#<_name>`."""
        store = self._name_store(name)
        if name not in store:
            raise CannotEvaluate(f"#<{name}> is read before it is set, or belongs to the control")
        return _known(store[name], f"#<{name}>")

    def set_named(self, name: str, value: float | None) -> None:
        """Set `#<name>`, or the global `#<_name>`."""
        store = self._name_store(name)
        if name not in store or store[name] != value:
            self.version += 1
        store[name] = value

    def assign(self, target: int | str, value: float | None) -> None:
        """Set what `assignment_target` found."""
        if isinstance(target, str):
            self.set_named(target, value)
        else:
            self.set(target, value)

    def forget(self, target: int | str) -> None:
        """What `target` holds is not known any more: it was set to something that could not be worked out."""
        self.version += 1
        if isinstance(target, str):
            self._name_store(target)[target] = math.nan
        else:
            self._store(target)[target] = math.nan

    def exists(self, name: str) -> bool:
        """Whether `#<name>` was set by this program."""
        return name in self._name_store(name)

    def enter(self, arguments: Mapping[int, float | None], family: str) -> None:
        """Open a call level with locals of its own, of which `arguments` are set."""
        self._levels.append(dict(arguments))
        self._names.append({})
        self._fresh.append(family)
        self.version += 1

    def leave(self) -> None:
        """Close the level that `enter` opened: the caller's locals are back."""
        self._levels.pop()
        self._names.pop()
        self._fresh.pop()
        self.version += 1

    def numbered(self) -> dict[int, float]:
        """Every numbered parameter that the program set and that has a value, as seen from the present level."""
        return {
            n: v for n, v in sorted({**self._shared, **self._levels[-1]}.items()) if v is not None and not math.isnan(v)
        }

    def belongs_to_control(self, number: int) -> bool:
        """Whether `#number` is the control's own: positions, offsets, clock, alarms (NISTIR 6556, Table 2; macro dialects from 1000 on)."""
        if self.family in ("none", "o-words"):
            return 5061 <= number <= 5066 or 5161 <= number <= LAST_PARAMETER
        return number >= 1000

    def _check(self, number: int) -> None:
        report = self.family == "none"
        if not (1 if report else 0) <= number <= (LAST_PARAMETER if report else MOST_PARAMETERS):
            raise CannotEvaluate(f"#{number} is no parameter: 1 to {LAST_PARAMETER if report else MOST_PARAMETERS} are")

    def _store(self, number: int) -> dict[int, float | None]:
        last = LAST_LOCAL.get(self._fresh[-1], LAST_LOCAL["macro"])
        return self._levels[-1] if number <= last else self._shared

    def _name_store(self, name: str) -> dict[str, float | None]:
        return self._shared_names if name.startswith("_") else self._names[-1]


def _known(value: float | None, name: str) -> float | None:
    if value is not None and math.isnan(value):
        raise CannotEvaluate(f"{name} was set to something that could not be worked out")
    return value


def whole(value: float, what: str) -> int:
    """`value` as a whole number, if it is one within `WHOLE_TOLERANCE`; `what` names it in the complaint."""
    nearest = round(value)
    if abs(value - nearest) > WHOLE_TOLERANCE:
        raise CannotEvaluate(f"{what} must be a whole number, not {value:g}")
    return nearest
