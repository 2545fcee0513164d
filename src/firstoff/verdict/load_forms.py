"""From a candidate of the loads to a demand: the one way in which forces, chips and powers enter a question."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate, Duty
from firstoff.verdict.followed import OURS
from firstoff.verdict.forms import Form
from firstoff.verdict.question import Limit

ROUNDING = 1e-9
"""N, N·mm, W or mm below which a load is none."""
HELIX = ".FHA"
"""A tool whose helix nobody states is reckoned with straight edges, which push hardest at once: a load can do without it."""
STEEPEST = 100.0
"""No force, torque or chip goes with a greater power of any fact."""
STEP = 1e-4
"""Step of a logarithm that a gradient is taken over: far above rounding, far below any doubt."""


def demand_of(candidate: Candidate, facts: Leaning) -> Form | None:
    """The logarithm of a candidate's value as a form: ln value + Σ exponent · (ln fact − ln best estimate).

    Leans on every fact in the candidate's exponents, none of which it can do without (but for a tool's helix, and those of ours, `followed.OURS`). None if one of them is not there (which is then
    recorded) or has no logarithm, or if the value is zero or not known: nothing that could be compared.
    """
    return log_form(candidate.value, candidate.exponents, facts)


def mean_power_of(duty: Duty, facts: Leaning) -> Form | None:
    """The logarithm of a window's mean power, as `demand_of`."""
    return log_form(duty.mean_power_w, duty.exponents, facts)


def rms_torque_of(duty: Duty, facts: Leaning) -> Form | None:
    """The logarithm of a window's root mean square torque, as `demand_of`."""
    return log_form(duty.rms_torque_nmm, duty.torque_exponents, facts)


def is_nothing(value: float, exponents: tuple[tuple[str, float], ...] = ()) -> bool:
    """Whether a value is what rounding left of greater ones that cancel: side forces of a plunge, say. It has no logarithm worth the name,
    and no fact within its doubt makes anything of it."""
    return not value > ROUNDING or any(abs(exponent) > STEEPEST for _, exponent in exponents)


def log_form(value: float, exponents: tuple[tuple[str, float], ...], facts: Leaning) -> Form | None:
    """ln value, moved by each fact from its best estimate to its exponent; None as for `demand_of`."""
    if not math.isfinite(value) or is_nothing(value, exponents):
        return None
    const, terms = math.log(value), dict[str, float]()
    whole = True
    for path, exponent in exponents:
        spared = path.startswith(OURS) or path.endswith(HELIX)
        fact = facts.number_if_known(path) if spared else facts.number(path)
        if fact is None and spared:
            continue
        if fact is None or fact.value <= 0.0:
            whole = False
        elif exponent != 0.0:
            const -= exponent * math.log(fact.value)
            terms[path] = terms.get(path, 0.0) + exponent
    return Form(const, tuple(terms.items())) if whole else None


def log_best(form: Form, facts: Leaning) -> float:
    """A ratio form at best estimates: the value itself, not its logarithm."""
    return math.exp(form.at(lambda path: math.log(facts.facts.facts[path].value)))


def linearised(
    of_values: Callable[[Mapping[str, float]], float], paths: Collection[str], facts: Leaning, needed: bool = True
) -> Form | None:
    """The logarithm of a positive function of some facts, to first order in their logarithms.

    `of_values` takes best estimates by path. None if a fact is missing (which is recorded if they are `needed`), or if the function has
    no logarithm there.
    """
    look = facts.number if needed else facts.number_if_known
    known = {path: fact.value for path in paths if (fact := look(path)) is not None}
    if len(known) < len(set(paths)):
        return None
    centre = of_values(known)
    if not centre > 0.0:
        return None
    form = Form(math.log(centre))
    for path, value in known.items():
        if value <= 0.0 or facts.facts.facts[path].u == 0.0:
            continue
        more, less = (of_values({**known, path: value * math.exp(step)}) for step in (STEP, -STEP))
        if more > 0.0 and less > 0.0 and more != less:
            exponent = math.log(more / less) / (2 * STEP)
            form += Form(-exponent * math.log(value), ((path, exponent),))
    return form


def worst_of(limits: Iterable[Limit], facts: Leaning) -> Limit | None:
    """The limit of a ratio that is nearest to being exceeded, at best estimates."""
    return max(limits, key=lambda limit: log_best(limit.demand - limit.capacity, facts), default=None)
