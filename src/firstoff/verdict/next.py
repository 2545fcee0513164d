"""What to measure next: the trial that settles the most undecided questions per minute.

For a fact in doubt, the value of a trial is the growth of the chance that a question comes out decided (clear or stop for its
thresholds), with the margin that the trial will find still unknown (NUMERICS 1.4.6). For a missing fact it is the number of questions it
unblocks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import ndtr, ndtri, stdtrit

from firstoff.facts.fact import Fact, FactSet
from firstoff.verdict.draws import log_u, summed_variance
from firstoff.verdict.followed import OURS, stands_for
from firstoff.verdict.forms import Form, Scale
from firstoff.verdict.judge import Thresholds, thresholds
from firstoff.verdict.needs import Trial, trial_for
from firstoff.verdict.question import Answer, Answered

MOST = 3
"""Proposals shown: more is a list, not advice."""
NORMAL_95 = 1.96
GIVEN_BACK = 0.25
"""Relative difference from the chance of the draws within which margins taken one by one stand for all."""
SMALLEST = 1e-6
"""Chances below this are taken as it: the quantile of nothing is no number."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """One thing to measure: the fact (or facts, if one trial settles several), how, and what it would do."""

    fact: str
    how: str
    minutes: float
    questions: tuple[str, ...]
    doubt_removed: float
    """Share of the variance of the questions named that it takes away, 0..1; 1 for a fact that was missing."""
    settles: float
    """Questions it can be expected to settle."""
    nearer: tuple[str, ...] = ()
    """Questions that need it and still something else."""
    paths: tuple[str, ...] = ()
    """The facts in doubt that the trial narrows; none where it finds what is missing."""


@dataclass(frozen=True, slots=True)
class Narrowed:
    """How a question would stand after a trial that finds what is believed today: standard uncertainties as parts of those of today, and
    the chance that it goes over, None where it cannot be told from the margins alone."""

    demand: float
    capacity: float
    chance: float | None


def measure_next(answers: tuple[Answered, ...], facts: FactSet) -> tuple[Proposal, ...]:
    """Proposals, best first, by questions settled per minute."""
    missing: dict[Trial, list[tuple[str, str]]] = {}
    doubted: dict[Trial, list[str]] = {}
    for answered in answers:
        for need in answered.needs:
            if "." not in need.fact or " " in need.fact:
                continue  # a line to mend, or stock to follow: nothing that a trial could settle
            missing.setdefault(trial_for(need.fact), []).append((need.fact, answered.question.id))
        for fact in answered.settled_by:
            missing.setdefault(trial_for(fact), []).append((fact, answered.question.id))
        if answered.answer is Answer.CARE:
            for share in answered.doubt:
                group = facts.group_of(share.fact)
                for path in group.paths if group is not None else (share.fact,):
                    if not stands_for(path).startswith(OURS):  # cells that are too coarse are no matter of measuring
                        doubted.setdefault(trial_for(stands_for(path)), []).append(path)
    proposals = [_unblocks(trial, pairs, answers) for trial, pairs in missing.items()]
    proposals += [
        _narrows(trial, sorted(set(paths)), answers, facts) for trial, paths in doubted.items() if trial not in missing
    ]
    useful = [proposal for proposal in proposals if proposal.settles > 0]
    return tuple(sorted(useful, key=lambda one: (-one.settles / one.minutes, -one.doubt_removed, one.fact))[:MOST])


def _unblocks(trial: Trial, pairs: list[tuple[str, str]], answers: tuple[Answered, ...]) -> Proposal:
    facts = list(dict.fromkeys(fact for fact, _ in pairs))
    settled = 0.0
    questions: list[str] = []
    nearer: list[str] = []
    for answered in answers:
        needed = {need.fact for need in answered.needs} | set(answered.settled_by)
        if needed & set(facts):
            (questions if needed <= set(facts) else nearer).append(answered.question.id)
            settled += len(needed & set(facts)) / len(needed)
    return Proposal(_shared(facts), trial.how, trial.minutes, tuple(questions), 1.0, settled, tuple(nearer))


def _narrows(trial: Trial, paths: list[str], answers: tuple[Answered, ...], facts: FactSet) -> Proposal:
    settled, removed, weight = 0.0, 0.0, 0
    questions = []
    for answered in answers:
        if answered.answer is not Answer.CARE or answered.scale is Scale.COUNT or not answered.margins:
            continue
        gain, part = _gain(answered, trial, paths, facts)
        if part > 0:
            questions.append(answered.question.id)
            settled += gain
            removed += part
            weight += 1
    named = list(dict.fromkeys(map(stands_for, paths)))
    share = removed / weight if weight else 0.0
    return Proposal(_shared(named), trial.how, trial.minutes, tuple(questions), share, settled, paths=tuple(paths))


def _gain(answered: Answered, trial: Trial, paths: list[str], facts: FactSet) -> tuple[float, float]:
    """(chance that the question comes out decided, part of its variance removed) by one trial. Today it is not: it is care."""
    limit = answered.margins[0]
    form = limit.demand - limit.capacity
    ratio = answered.scale is Scale.RATIO
    before, after = _variances(form, ratio, trial, paths, facts)
    if before <= after:
        return 0.0, 0.0
    margin = _best(form, ratio, facts)
    limits = thresholds(answered.question, facts)
    return _decided(margin, before, after, limits, answered.by_clearance), 1.0 - after / before


def _variances(form: Form, ratio: bool, trial: Trial, paths: Sequence[str], facts: FactSet) -> tuple[float, float]:
    """Variance of a form today, and after a trial of `paths`."""
    now: dict[str, float] = {}
    then: dict[str, float] = {}
    for path, factor in form.terms:
        fact = facts.facts[path]
        u = (log_u(fact) if ratio else fact.u) * _widened(fact.df)
        now[path] = factor * u
        then[path] = factor * (min(u, _reach(trial, fact, ratio)) if path in paths else u)
    return summed_variance(facts, now), summed_variance(facts, then)


def _best(form: Form, ratio: bool, facts: FactSet) -> float:
    return form.at(lambda path: math.log(facts.facts[path].value) if ratio else facts.facts[path].value)


def narrowed(proposal: Proposal, answered: Answered, facts: FactSet) -> Narrowed | None:
    """How a question in doubt would stand after a trial; None where the trial does not narrow it."""
    if not proposal.paths or answered.scale is Scale.COUNT or not answered.margins:
        return None
    ratio, trial = answered.scale is Scale.RATIO, trial_for(stands_for(proposal.paths[0]))

    def part(form: Form) -> float:
        before, after = _variances(form, ratio, trial, proposal.paths, facts)
        return math.sqrt(after / before) if before > 0 else 1.0

    limit = answered.margins[0]
    if part(limit.demand - limit.capacity) >= 1.0:
        return None
    return Narrowed(part(limit.demand), part(limit.capacity), _chance_then(proposal, answered, facts, ratio, trial))


def _chance_then(proposal: Proposal, answered: Answered, facts: FactSet, ratio: bool, trial: Trial) -> float | None:
    """The chance that any margin is passed, all hanging on one doubt: the worst of those that it drives one way, and of those that it
    drives the other. None where margins hang on other facts too (they may be of another scale), or today's chance does not come out."""
    now, then, hang_on = [0.0, 0.0], [0.0, 0.0], set()
    for limit in answered.margins:
        form = limit.demand - limit.capacity
        if ratio and any(facts.facts[path].value <= 0 for path, _ in form.terms):
            return None
        before, after = _variances(form, ratio, trial, proposal.paths, facts)
        lead = max(form.terms, key=lambda term: abs(term[1]) * _doubt(facts.facts[term[0]], ratio), default=("", 0.0))
        hang_on.add((lead[0], frozenset(path for path, _ in limit.capacity.terms)))
        if after <= 0.0 or len(hang_on) > 1:
            return None
        side, margin = int(lead[1] > 0), _best(form, ratio, facts)
        now[side] = max(now[side], float(ndtr(margin / math.sqrt(before))))
        then[side] = max(then[side], float(ndtr(margin / math.sqrt(after))))
    known = answered.any_chance
    if known is None or abs(sum(now) - known) > GIVEN_BACK * known:
        return None
    return min(sum(then), 1.0)


def _doubt(fact: Fact, ratio: bool) -> float:
    return log_u(fact) if ratio else fact.u


def _widened(df: float) -> float:
    """By how much few degrees of freedom widen a 95 % band: a mean of three readings is worth less than its u says."""
    return float(stdtrit(df, 0.975)) / NORMAL_95 if math.isfinite(df) else 1.0


def _reach(trial: Trial, fact: Fact, ratio: bool) -> float:
    if trial.relative:
        return trial.reach if ratio else trial.reach * abs(fact.value)
    return trial.reach / abs(fact.value) if ratio else trial.reach


def _decided(margin: float, before: float, after: float, limits: Thresholds, by_clearance: bool) -> float:
    """Chance that the margin found decides: it is N(margin, before − after) today, and has the doubt `after` then.

    Clear needs the margin below −(clearance + 2u) where a clearance is asked, else below −k·u with k from the chance that is care; stop
    needs it surely over.
    """
    moves_by, left = math.sqrt(before - after), math.sqrt(after)
    k = -float(ndtri(min(max(limits.care_above, SMALLEST), 0.5)))
    clear_below = -(limits.clear_at_mm + NORMAL_95 * left) if by_clearance else -k * left
    return float(ndtr((clear_below - margin) / moves_by) + ndtr((margin - k * left) / moves_by))


def _shared(paths: list[str]) -> str:
    """One name for several facts of one trial: the path they share, else the first with a count."""
    if len(paths) == 1:
        return paths[0]
    parts = [path.split(".") for path in paths]
    common = []
    for level in zip(*parts, strict=False):
        if len(set(level)) > 1:
            break
        common.append(level[0])
    return ".".join(common) if len(common) > 1 else f"{paths[0]} and {len(paths) - 1} more"
