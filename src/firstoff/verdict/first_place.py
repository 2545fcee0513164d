"""The first place of a program that is not clear: where the trouble begins, beside the place where it is worst.

A limit may stand for many moves that share its doubt (`Along`). Each of them exceeds less than the limit, by a number: so one look at the
limit's draws tells from which number on a move is clear, and the first move of the program below it is found in one pass over them all.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

import numpy as np

from firstoff.program.moves import Floats
from firstoff.verdict.forms import Scale
from firstoff.verdict.question import Answer, AnsweredPlace, Check, Counted, Limit, Place


class _Judged(Protocol):
    """What `judge` knows of one check once it is judged."""

    @property
    def check(self) -> Check: ...
    @property
    def ranked(self) -> tuple[Limit, ...]: ...
    @property
    def place_answers(self) -> tuple[Answer, ...]: ...


Reaches = Callable[[Check, Floats], float]
"""How much less than these draws of its excess a place may exceed and still not be clear."""
Drawn = Callable[[Limit, Scale], Floats]
"""Draws of what a limit is exceeded by."""


def first_place(
    judged: Sequence[_Judged],
    worst: AnsweredPlace | None,
    reaches: Reaches,
    drawn: Drawn,
    order_of: Callable[[Place], float],
    needed_at: Sequence[Counted] = (),
) -> tuple[Place, Limit | Counted, Answer] | None:
    """(place, what was found there or what it belongs to, the answer of that) of the first place that is not clear, be it only that a
    missing fact is needed there; None where that is the line of the worst place, or where no place is known."""
    found = [*_not_clear(judged, reaches, drawn), *((one.place, one, one.severity) for one in needed_at)]
    first = min(found, key=lambda one: order_of(one[0]), default=None)
    told = worst.place.line if worst is not None and worst.answer is not Answer.CLEAR else 0
    return None if first is None or first[0].line == told else first


def _not_clear(
    judged: Sequence[_Judged], reaches: Reaches, drawn: Drawn
) -> Iterator[tuple[Place, Limit | Counted, Answer]]:
    for each in judged:
        for limit, answer in zip(each.ranked, each.place_answers, strict=False):
            place = _first_along(limit, each.check, reaches, drawn) if answer is not Answer.CLEAR else None
            if place is not None and place.line > 0:
                yield place, limit, answer
        for item in each.check.counted:
            if item.severity is not Answer.CLEAR and item.place.line > 0:
                yield item.place, item, item.severity


def _first_along(limit: Limit, check: Check, reaches: Reaches, drawn: Drawn) -> Place | None:
    own = limit.place if limit.begins else None
    if limit.along is None:
        return own
    along = limit.along()
    past = along.less < reaches(check, drawn(limit, check.scale))
    return along.place(int(along.moves[int(np.argmax(past))])) if bool(past.any()) else own


def least_excess(excess: Floats, chance: float) -> float:
    """What may be taken off all draws so that more than this part of them still exceeds: no more than this number."""
    most = math.floor(chance * excess.size)  # more than so many draws must exceed
    return (
        float(np.partition(excess, excess.size - 1 - most)[excess.size - 1 - most]) if most < excess.size else -math.inf
    )
