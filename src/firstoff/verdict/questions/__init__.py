"""One file a question, in the order in which they are put: machine first."""

from __future__ import annotations

from collections.abc import Callable

from firstoff.facts.fact import Leaning
from firstoff.verdict.case import Case
from firstoff.verdict.question import Finding, Question
from firstoff.verdict.questions import (
    below,
    body_contact,
    feed,
    keep_out,
    leftovers,
    rapid_contact,
    spindle,
    today,
    tool,
    travel,
    understood,
)

Find = Callable[[Case, Leaning], Finding]

ALL: tuple[tuple[Question, Find], ...] = tuple(
    (module.QUESTION, module.find)
    for module in (
        understood,
        travel,
        keep_out,
        rapid_contact,
        body_contact,
        below,
        tool,
        spindle,
        leftovers,
        today,
        feed,
    )
)

NOT_YET = {
    "cuts": "needs the stock to be followed; not in this version",
    "reach": "needs the stock to be followed; not in this version",
    "torque": "needs cutting forces; not in this version",
    "power": "needs cutting forces; not in this version",
    "duty": "needs cutting forces; not in this version",
    "chip": "needs the chip thickness; not in this version",
    "strength": "needs cutting forces; not in this version",
    "chips_out": "needs the stock to be followed; not in this version",
    "holding": "needs cutting forces; not in this version",
}
"""Questions of CONTRACTS that this version cannot put: they are told as unjudged, never left out in silence."""
