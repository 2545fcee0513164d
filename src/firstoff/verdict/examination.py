"""An examination puts all questions to one case; its verdict is four answers, one a risk, and the worst of them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from firstoff.facts.fact import FactSet
from firstoff.verdict.case import Case
from firstoff.verdict.first_needed import first_needed
from firstoff.verdict.judge import Draws, judge
from firstoff.verdict.needs import need, why_void
from firstoff.verdict.next import Proposal, measure_next
from firstoff.verdict.question import Answer, Answered, Finding, Place, Risk, worst
from firstoff.verdict.questions import ALL, NOT_YET


@dataclass(frozen=True, slots=True)
class NotAsked:
    """A question that nobody asked (no tolerance, no finish), or that this version cannot put."""

    id: str
    why: str


@dataclass(frozen=True, slots=True)
class TimeSpent:
    """Seconds by what they go to; None where a fact is missing."""

    total: float
    cutting: float
    rapid: float
    changes: float
    dwell: float


@dataclass(frozen=True, slots=True)
class Examination:
    """Everything that was found out about one job."""

    case: Case
    facts: FactSet
    answers: tuple[Answered, ...]
    not_asked: tuple[NotAsked, ...]
    time: TimeSpent | None
    next: tuple[Proposal, ...]

    @property
    def verdict(self) -> Answer:
        return worst(list(self.risks.values()))

    @property
    def risks(self) -> dict[Risk, Answer]:
        """The answer for each risk; a risk that no question of this version looks at is unjudged."""
        found = {}
        for risk in Risk:
            answers = [answered.answer for answered in self.answers if answered.question.risk is risk]
            found[risk] = worst(answers) if answers else Answer.UNJUDGED
        return found

    def answer(self, question: str) -> Answered:
        """The answer to one question by its id."""
        for answered in self.answers:
            if answered.question.id == question:
                return answered
        raise KeyError(question)


Hear = Callable[[Answered, Case], None]
"""Told of each answer as it is found, with the case that it was found of. Advice may still change: `_cause_first`; the answer does not."""


NOTHING_KNOWN: Mapping[str, Answered] = {}


def unheard(_answered: Answered, _case: Case) -> None:
    """Nobody is listening."""


def examine(
    case: Case,
    time: TimeSpent | None,
    only: Collection[str] = (),
    hear: Hear = unheard,
    known: Mapping[str, Answered] = NOTHING_KNOWN,
) -> Examination:
    """Put every question to the case, or `only` those named. Questions are independent: they share nothing but the draws.

    `known`: those that were judged of this case already, by id; they are not put again.
    """
    draws = Draws(case.facts)

    def place_of(place: Place) -> tuple[str, float | None]:
        lines = case.reading.text
        text = lines[place.line - 1] if 0 < place.line <= len(lines) else ""
        starts = case.timeline.start_s if case.timeline is not None else None
        return text, float(starts[place.move]) if starts is not None and place.move >= 0 else None

    lines = case.moves.line
    after = np.maximum.accumulate(lines) if len(lines) else lines

    def order_of(place: Place) -> float:
        # A line that moves nothing stands before the first move of a later line.
        return float(place.move) if place.move >= 0 else float(np.searchsorted(after, place.line)) - 0.5

    answers = []
    not_asked = [NotAsked(name, why) for name, why in NOT_YET.items()]
    for question, find in ALL:
        if only and question.id not in only:
            continue
        if question.id in known:
            answers.append(known[question.id])
            continue
        leaning = case.facts.leaning()
        finding = find(case, leaning)
        if finding.not_asked:
            not_asked.append(NotAsked(question.id, finding.not_asked))
            continue
        needs = {each.fact: each for each in (*finding.needs, *(need(path) for path in leaning.missing))}
        needs = {fact: why_void(each, case.facts) for fact, each in needs.items()}
        complete = Finding(finding.checks, tuple(needs.values()), finding.notes)
        first = first_needed(case, needs.values())
        answers.append(judge(question, complete, leaning, draws, place_of, order_of, first))
        hear(answers[-1], case)
    answers = _cause_first(answers)
    return Examination(
        case, case.facts, tuple(answers), tuple(not_asked), time, measure_next(tuple(answers), case.facts)
    )


FOLLOWS_FROM_LENGTHS = ("travel", "keep_out", "rapid_contact", "body_contact", "below")
"""Questions about heights: a wrong length or tool shows in all of them, and no advice there mends it."""


def _cause_first(answers: list[Answered]) -> list[Answered]:
    """Where a tool or a length is wrong, advice about heights would lead away from the cause: it sends to the cause instead."""
    wrong = next((one for one in answers if one.question.id == "tool" and one.answer is Answer.STOP), None)
    if wrong is None or not wrong.places:
        return answers
    first = f"Mend line {wrong.places[0].place.line} first (the tool and its length): this may follow from it."
    told = []
    for one in answers:
        if one.question.id in FOLLOWS_FROM_LENGTHS and one.answer is Answer.STOP:
            places = tuple(replace(place, do=first if place.do else "") for place in one.places)
            one = replace(one, do=first, places=places)
        told.append(one)
    return told
