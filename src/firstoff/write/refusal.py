"""Parameters that cannot be cut are refused before anything is written, all of them together."""

from __future__ import annotations

import math

from firstoff.errors import Fault, InputError


class Refusal:
    """Collects what is wrong with the parameters of one operation; `settle` raises it as one `InputError`."""

    def __init__(self, operation: str) -> None:
        self._operation = operation
        self._faults: list[Fault] = []

    def unless(self, holds: bool, what: str, value: str, allowed: str) -> None:
        """Refuse unless `holds`."""
        if not holds:
            self._faults.append(Fault(f"{self._operation}: {what}", value, allowed))

    def positive(self, **values: float) -> None:
        """Each value, named with its unit (``feed_mm_per_min=900``), must be a number above zero."""
        for name, value in values.items():
            self.unless(math.isfinite(value) and value > 0, f"{name} must be above zero", f"{value:g}", "a number > 0")

    def not_negative(self, **values: float) -> None:
        """Each value must be a number, zero or above."""
        for name, value in values.items():
            self.unless(
                math.isfinite(value) and value >= 0, f"{name} must not be negative", f"{value:g}", "a number ≥ 0"
            )

    def finite(self, **values: float) -> None:
        """Each value must be a number."""
        for name, value in values.items():
            self.unless(math.isfinite(value), f"{name} must be a number", f"{value}", "a finite number")

    def at_most(self, what: str, value_mm: float, limit_mm: float, limit: str) -> None:
        """`value_mm` must not be above `limit_mm`, which `limit` explains."""
        self.unless(value_mm <= limit_mm, what, f"{value_mm:g} mm", f"at most {limit_mm:g} mm ({limit})")

    def settle(self) -> None:
        """Raise what was found, if anything."""
        if self._faults:
            raise InputError(*self._faults)
