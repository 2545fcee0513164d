"""From a candidate of the loads to a demand: the one way in which forces, chips and powers enter a question."""

from __future__ import annotations

import math

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate, Duty
from firstoff.verdict.forms import Form


def demand_of(candidate: Candidate, facts: Leaning) -> Form | None:
    """The logarithm of a candidate's value as a form: ln value + Σ exponent · (ln fact − ln best estimate).

    Leans on every fact in the candidate's exponents, none of which it can do without. None if one of them is not there (which is then
    recorded) or has no logarithm, or if the value is zero or not known: nothing that could be compared.
    """
    return log_form(candidate.value, candidate.exponents, facts)


def mean_power_of(duty: Duty, facts: Leaning) -> Form | None:
    """The logarithm of a window's mean power, as `demand_of`."""
    return log_form(duty.mean_power_w, duty.exponents, facts)


def rms_torque_of(duty: Duty, facts: Leaning) -> Form | None:
    """The logarithm of a window's root mean square torque, as `demand_of`."""
    return log_form(duty.rms_torque_nmm, duty.exponents, facts)


def log_form(value: float, exponents: tuple[tuple[str, float], ...], facts: Leaning) -> Form | None:
    """ln value, moved by each fact from its best estimate to its exponent; None as for `demand_of`."""
    if not (math.isfinite(value) and value > 0.0):
        return None
    form = Form(math.log(value))
    whole = True
    for path, exponent in exponents:
        fact = facts.number(path)
        if fact is None or fact.value <= 0.0:
            whole = False
        elif exponent != 0.0:
            form += Form(-exponent * math.log(fact.value), ((path, exponent),))
    return form if whole else None
