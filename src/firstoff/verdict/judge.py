"""From a finding to an answer: joint draws, thresholds by what is at risk, the budget of doubt."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr, stdtr, stdtrit

from firstoff.facts.fact import FactSet, Leaning, Shape
from firstoff.program.moves import Floats
from firstoff.verdict.draws import COUNT, draw, log_u, summed_variance
from firstoff.verdict.first_place import first_place, least_excess
from firstoff.verdict.followed import stands_for
from firstoff.verdict.forms import Form, Scale
from firstoff.verdict.question import (
    Answer,
    Answered,
    AnsweredPlace,
    Check,
    Counted,
    Finding,
    Limit,
    Measure,
    Place,
    Question,
    Risk,
    Share,
    worst,
)
from firstoff.verdict.words import odds

PlaceOf = Callable[[Place], tuple[str, float | None]]
OrderOf = Callable[[Place], float]

MOST_PLACES = 5
"""Places an answer shows (CONTRACTS, JSON)."""
MOST_DRAWN = 200
"""Limits of one check that are drawn."""
MOST_MARGINS = 20
"""Limits an answer keeps for "measure next"; beyond the worst twenty nothing is ever decided."""
NONLINEAR = 0.10
"""First-order and drawn half-widths that differ by more than this part are called not linear."""

DEFAULT_THRESHOLDS: dict[Risk, tuple[float, float]] = {
    Risk.MACHINE: (0.001, 0.01),
    Risk.TOOL: (0.05, 0.30),
    Risk.PART: (0.10, 0.50),
    Risk.TIME: (0.10, math.inf),  # time never stops a job
}
"""Chance above which the answer is care, and stop (CONTRACTS, [judgement])."""
CLEAR_AT_MM = 2.0
STOP_BELOW_MM = 0.5
"""Clearance after its doubt that is clear, and below which it is stop (CONTRACTS, [judgement] clearance)."""


@dataclass(frozen=True, slots=True)
class Thresholds:
    """What the shop calls care and stop for one question."""

    care_above: float
    stop_above: float
    clear_at_mm: float
    stop_below_mm: float
    asks_clearance: bool
    """The shop asks a clearance of this very question, whatever its checks say of themselves."""


def thresholds(question: Question, facts: FactSet) -> Thresholds:
    """Thresholds of a question: its own, else its risk's, else the defaults."""
    care, stop = DEFAULT_THRESHOLDS[question.risk]

    def told(key: str, default: float) -> float:
        # "tool" is a question and a risk: [judgement.tool] speaks of the risk, and the question has its own risk's thresholds.
        own = () if question.id in set(Risk) else (question.id,)
        for owner in (*own, question.risk.value):
            fact = facts.facts.get(f"machine.judgement.{owner}.{key}")
            if fact is not None:
                return fact.value
        return default

    def clearance(key: str, default: float) -> float:
        for owner in (question.id, "clearance"):
            fact = facts.facts.get(f"machine.judgement.{owner}.{key}")
            if fact is not None:
                return fact.value
        return default

    return Thresholds(
        told("care_above", care),
        math.inf if question.risk is Risk.TIME else told("stop_above", stop),
        clearance("clear_at", CLEAR_AT_MM),
        clearance("stop_below", STOP_BELOW_MM),
        f"machine.judgement.{question.id}.clear_at" in facts.facts,
    )


class Draws:
    """The joint draws of one examination, made when first asked for."""

    def __init__(self, facts: FactSet) -> None:
        self.facts = facts
        self._plain: dict[str, Floats] = {}
        self._logs: dict[str, Floats] = {}

    def of(self, form: Form, scale: Scale) -> Floats:
        """f8[COUNT] draws of a form; where it may be another one, each where it holds."""
        total: Floats = np.full(COUNT, form.const)
        for path, factor in form.terms:
            total += factor * (self._log(path) if scale is Scale.RATIO else self._number(path))
        if form.other is not None:
            held = self.of(form.other.over, scale) > 0.0
            total = np.where(held, self.of(form.other.form, scale), total)
        return total

    def best(self, form: Form, scale: Scale) -> float:
        """The form at best estimates (a logarithm where the scale is a ratio)."""
        if scale is Scale.RATIO:
            return form.at(lambda path: math.log(self.facts.facts[path].value))
        return form.at(lambda path: self.facts.facts[path].value)

    def _number(self, path: str) -> Floats:
        if path not in self._plain:
            self._plain[path] = draw(self.facts, path)
        return self._plain[path]

    def _log(self, path: str) -> Floats:
        if path not in self._logs:
            # A draw at or below zero is a tail of an assumed shape, never a reading: a millionth of the value stands for it.
            floor = 1e-6 * abs(self.facts.facts[path].value)
            self._logs[path] = np.log(np.maximum(self._number(path), floor))
        return self._logs[path]


@dataclass(frozen=True, slots=True)
class _Judged:
    """One check with its answer."""

    check: Check
    answer: Answer
    chance: float | None
    any_chance: float | None
    ranked: tuple[Limit, ...]
    place_answers: tuple[Answer, ...]
    gap_left_mm: float | None = None
    """The gap of the worst place after its doubt, where gaps are judged."""


def by_line(place: Place) -> float:
    """The order of places where nobody knows their moves."""
    return float(place.line)


def judge(
    question: Question,
    finding: Finding,
    leaning: Leaning,
    draws: Draws,
    place_of: PlaceOf,
    order_of: OrderOf = by_line,
    needed_at: tuple[Counted, ...] = (),
) -> Answered:
    """Answer one question. `place_of` gives the program line's text and the time it begins at, for a place; `order_of` tells which of two
    places the program comes to first; `needed_at`: where what is missing is needed first."""
    limits = thresholds(question, draws.facts)
    judged = [_judge_check(check, limits, draws) for check in finding.checks]
    answer = worst([each.answer for each in judged])
    if finding.needs and answer is not Answer.STOP:
        answer = Answer.UNJUDGED
    told = max(judged, key=_worse, default=None)
    why, do = _words(answer, finding, judged, told)
    demand, capacity, shares, nonlinear = _measures(told, draws)
    places = _places(judged, draws, place_of)
    return Answered(
        question=question,
        answer=answer,
        scale=told.check.scale if told else Scale.COUNT,
        demand=demand,
        capacity=capacity,
        chance=told.chance if told else None,
        any_chance=told.any_chance if told else None,
        places=places,
        why=why,
        do=do,
        doubt=shares,
        needs=finding.needs,
        notes=finding.notes,
        leaned=tuple(leaning.leaned),
        needed=tuple(leaning.needed),
        margins=_margins(_told_first(judged, told)),
        by_clearance=told is not None and told.gap_left_mm is not None,
        settled_by=tuple(dict.fromkeys(item.fact for each in judged for item in each.check.counted if item.fact)),
        nonlinear=nonlinear,
        first=_first(judged, places, limits, draws, place_of, order_of, needed_at),
    )


def _worse(judged: _Judged) -> tuple[int, bool, float]:
    """By which of several checks is told: the worst answer; of the same, the first that has a chance. Where all are clear, and all say so, the
    likeliest."""
    nearest = (judged.any_chance or 0.0) if judged.answer is Answer.CLEAR else 0.0
    return judged.answer.rank, judged.check.scale is not Scale.COUNT, nearest


def _margins(judged: list[_Judged]) -> tuple[Limit, ...]:
    """What an answer keeps of its limits: not the ways to the moves that they stand for, which hold all that was followed."""
    return tuple(replace(limit, along=None) for each in judged for limit in each.ranked[:MOST_MARGINS])


def _told_first(judged: list[_Judged], told: _Judged | None) -> list[_Judged]:
    """The check that is told before the others: what is measured next is worked out from it, and on its scale."""
    return judged if told is None else [told, *(each for each in judged if each is not told)]


def _judge_check(check: Check, limits: Thresholds, draws: Draws) -> _Judged:
    if check.scale is Scale.COUNT:
        ranked_answers = tuple(item.severity for item in check.counted)
        return _Judged(check, worst(list(ranked_answers)), None, None, (), ranked_answers)
    if not check.limits:
        return _Judged(check, Answer.CLEAR, None, None, (), ())
    near = _near_the_worst(check, draws)
    excess = np.array([_excess(limit, check.scale, draws) for limit in near])
    high = np.quantile(excess, 0.975, axis=1)
    order = sorted(range(len(near)), key=lambda i: (-high[i], near[i].place.line))
    chances = np.mean(excess > 0, axis=1)
    for i in order[:MOST_PLACES]:
        chances[i] = max(chances[i], _first_order_chance(near[i], check.scale, draws))
    any_chance = max(float(np.mean(excess.max(axis=0) > 0)), float(chances[order[0]]))
    clearance = check.scale is Scale.DIFFERENCE and (check.clearance or limits.asks_clearance)
    answers = [_capped(check, _answer(float(chances[i]), float(-high[i]), clearance, limits)) for i in order]
    overall = worst([*answers, _capped(check, _answer(any_chance, float(-high[order[0]]), clearance, limits))])
    ranked = tuple(near[i] for i in order)
    left = float(-high[order[0]]) if clearance else None
    return _Judged(check, overall, float(chances[order[0]]), any_chance, ranked, tuple(answers), left)


def _excess(limit: Limit, scale: Scale, draws: Draws) -> Floats:
    """f8[COUNT] draws of what a limit is exceeded by. Where it may be another one the worse of both counts: no answer is milder for a doubt
    of which holds."""
    form = limit.demand - limit.capacity
    drawn = draws.of(form, scale)
    return drawn if form.other is None else np.maximum(drawn, draws.of(form.alone(), scale))


def _near_the_worst(check: Check, draws: Draws) -> tuple[Limit, ...]:
    """The limits that can be worst in a draw: the most exceeded after four of their own uncertainties, two hundred at most."""
    if len(check.limits) <= MOST_DRAWN:
        return check.limits
    reach = []
    for limit in check.limits:
        form = limit.demand - limit.capacity
        parts = {path: factor * _u(path, check.scale, draws) for path, factor in form.terms}
        u = math.sqrt(summed_variance(draws.facts, parts))
        reach.append(draws.best(form, check.scale) + 4 * u)
    nearest = sorted(range(len(reach)), key=lambda i: -reach[i])[:MOST_DRAWN]
    return tuple(check.limits[i] for i in sorted(nearest))


def _u(path: str, scale: Scale, draws: Draws) -> float:
    fact = draws.facts.facts[path]
    return log_u(fact) if scale is Scale.RATIO else fact.u


def _first_order_chance(limit: Limit, scale: Scale, draws: Draws) -> float:
    """Chance by the t distribution of the form (GUM G.4): exact where all facts are normal, and finer than draws can be; else 0."""
    form = limit.demand - limit.capacity
    facts = [draws.facts.facts[path] for path, _ in form.terms]
    wanted = Shape.LOGNORMAL if scale is Scale.RATIO else Shape.NORMAL
    if any(fact.shape is not wanted for fact in facts if fact.u > 0):
        return 0.0
    _, u, df = budget(form, scale, draws)
    margin = draws.best(form, scale)
    if u == 0.0:
        return float(margin > 0)
    return float(stdtr(df, margin / u)) if math.isfinite(df) else float(ndtr(margin / u))


def _answer(chance: float, gap_after_doubt: float, clearance: bool, limits: Thresholds) -> Answer:
    if chance > limits.stop_above:
        return Answer.STOP
    if clearance:
        if gap_after_doubt < limits.stop_below_mm:
            return Answer.STOP
        if gap_after_doubt < limits.clear_at_mm:
            return Answer.CARE
    return Answer.CARE if chance > limits.care_above else Answer.CLEAR


def _capped(check: Check, answer: Answer) -> Answer:
    return min(answer, check.at_most, key=lambda one: one.rank)


def _measures(told: _Judged | None, draws: Draws) -> tuple[Measure | None, Measure | None, tuple[Share, ...], bool]:
    if told is None:
        return None, None, (), False
    if told.check.scale is Scale.COUNT:
        found = float(sum(item.severity is not Answer.CLEAR for item in told.check.counted))
        return _count_measure(found), _count_measure(0.0), (), False
    if not told.ranked:
        return None, None, (), False
    limit, scale, unit = told.ranked[0], told.check.scale, told.check.unit
    shares, u, df = budget(limit.demand - limit.capacity, scale, draws)
    drawn = draws.of(limit.demand - limit.capacity, scale)
    half_drawn = float(np.quantile(drawn, 0.975) - np.quantile(drawn, 0.025)) / 2
    half_linear = u * float(stdtrit(df, 0.975)) if u > 0 else 0.0
    nonlinear = abs(half_drawn - half_linear) > NONLINEAR * max(half_linear, 1e-12)
    return _measure(limit.demand, scale, unit, draws), _measure(limit.capacity, scale, unit, draws), shares, nonlinear


def _what_is_left(told: _Judged) -> str:
    """A gap that looks enough and is not: what is left of it after the doubt."""
    if not told.check.clearance or told.gap_left_mm is None:
        return ""
    return f" After its doubt {max(told.gap_left_mm, 0.0):.1f} mm are left." if told.gap_left_mm > -0.05 else ""


def _count_measure(value: float) -> Measure:
    return Measure(value, 0.0, "", value, value)


def _measure(form: Form, scale: Scale, unit: str, draws: Draws) -> Measure:
    _, u, _ = budget(form, scale, draws)
    best = draws.best(form, scale)
    sure = u == 0 and form.other is None
    low, high = (best, best) if sure else (float(q) for q in np.quantile(draws.of(form, scale), [0.025, 0.975]))
    if scale is Scale.RATIO:
        return Measure(math.exp(best), math.exp(best) * u, unit, math.exp(low), math.exp(high))
    return Measure(best, u, unit, low, high)


def budget(form: Form, scale: Scale, draws: Draws) -> tuple[tuple[Share, ...], float, float]:
    """Shares of variance, standard uncertainty and effective degrees of freedom of a form, by GUM 5.1, 5.2 and G.4.

    Facts of one group have one share together, under the first of them: apart, their shares would mean nothing. Together they count as one
    influence, too, with the fewest degrees of freedom of any: those of the fit, the same for all of its facts (Willink, Metrologia 44, 2007,
    340-349, result 2; from memory).
    """
    parts = {path: factor * one for path, factor in form.terms if (one := _u(path, scale, draws)) > 0.0}
    groups = [kept for group in draws.facts.groups if (kept := group.only(parts)) is not None]
    grouped = {path for group in groups for path in group.paths}
    influences = [
        (stands_for(path), part * part, _df((path,), draws)) for path, part in parts.items() if path not in grouped
    ]
    for group in groups:
        own = {path: parts[path] for path in group.paths}
        influences.append((group.paths[0], summed_variance(draws.facts, own), _df(group.paths, draws)))
    variance = math.fsum(one for _, one, _ in influences)
    if not variance > 0.0:
        return (), 0.0, math.inf  # nothing in doubt, or facts of one fit that cancel to the last digit
    shares = [Share(name, one / variance) for name, one, _ in influences]
    rest = sum(one.share * one.share / df for one, (*_, df) in zip(shares, influences, strict=True))
    shares.sort(key=lambda one: -one.share)
    return tuple(shares), math.sqrt(variance), 1.0 / rest if rest > 0.0 else math.inf


def _df(paths: Sequence[str], draws: Draws) -> float:
    return min(draws.facts.facts[path].df for path in paths)


def _places(judged: list[_Judged], draws: Draws, place_of: PlaceOf) -> tuple[AnsweredPlace, ...]:
    found: list[AnsweredPlace] = []
    for each in sorted(judged, key=lambda one: -one.answer.rank):
        for limit, answer in zip(each.ranked, each.place_answers, strict=False):
            found.append(
                _answered(limit, answer, draws.best(limit.demand, each.check.scale), each.check.scale, place_of)
            )
        for item in sorted(each.check.counted, key=lambda one: (-one.severity.rank, one.place.line)):
            found.append(_answered(item, item.severity, None, each.check.scale, place_of))
    found.sort(key=lambda place: -place.answer.rank)
    seen: set[tuple[int, str]] = set()
    distinct = []
    for place in found:
        key = (place.place.line, place.what)
        if place.place.line > 0 and key not in seen:
            seen.add(key)
            distinct.append(place)
    return tuple(distinct[:MOST_PLACES])


def _first(
    judged: list[_Judged],
    places: tuple[AnsweredPlace, ...],
    limits: Thresholds,
    draws: Draws,
    place_of: PlaceOf,
    order_of: OrderOf,
    needed_at: tuple[Counted, ...],
) -> AnsweredPlace | None:
    """The first place that is not clear, where that is another line than the worst; one of `places` where it is told there."""

    def reaches(check: Check, excess: Floats) -> float:
        less = least_excess(excess, limits.care_above)
        clearance = check.scale is Scale.DIFFERENCE and (check.clearance or limits.asks_clearance)
        return max(less, limits.clear_at_mm + float(np.quantile(excess, 0.975))) if clearance else less

    def drawn(limit: Limit, scale: Scale) -> Floats:
        return _excess(limit, scale, draws)

    found = first_place(judged, places[0] if places else None, reaches, drawn, order_of, needed_at)
    if found is None:
        return None
    place, item, answer = found
    told = [one for one in places if one.place.line == place.line and one.answer is not Answer.CLEAR]
    if told:
        return told[0]
    own = place == item.place
    text, time_s = place_of(place)
    what = item.what if own else f"Line {place.line}: past the limit here already."
    return AnsweredPlace(place, text, time_s, None, what, item.do if own else "", answer)


def _answered(
    item: Limit | Counted,
    answer: Answer,
    best: float | None,
    scale: Scale,
    place_of: PlaceOf,
) -> AnsweredPlace:
    text, time_s = place_of(item.place) if item.place.line > 0 else ("", None)
    demand = math.exp(best) if best is not None and scale is Scale.RATIO else best
    return AnsweredPlace(item.place, text, time_s, demand, item.what, item.do, answer)


def _words(answer: Answer, finding: Finding, judged: list[_Judged], told: _Judged | None) -> tuple[str, str]:
    if answer is Answer.UNJUDGED and finding.needs:
        first = finding.needs[0]
        if first.fact.startswith("line "):
            return f"I can't say: {first.fact} is not understood.", first.how
        return f"I can't say: {first.fact} is missing.", first.how
    if told is None:
        return "Nothing in this program asks it.", ""
    if answer is Answer.CLEAR:
        return " ".join(each.check.clear for each in judged if each.check.clear), ""
    if told.check.scale is Scale.COUNT:
        item = max(told.check.counted, key=lambda one: (one.severity.rank, -one.place.line))
        return item.what, item.do
    limit = told.ranked[0]
    left = _what_is_left(told)
    if left:
        return limit.what + left, limit.do
    chance = f" Chance that it goes over: {odds(told.any_chance)}." if told.any_chance is not None else ""
    return limit.what + chance, limit.do
