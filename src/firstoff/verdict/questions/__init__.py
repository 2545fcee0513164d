"""One file a question, in the order in which they are put: machine first."""

from __future__ import annotations

from collections.abc import Callable

from firstoff.facts.fact import Leaning
from firstoff.verdict.case import Case
from firstoff.verdict.question import Finding, Question
from firstoff.verdict.questions import (
    below,
    body_contact,
    chip,
    chips_out,
    cuts,
    duty,
    feed,
    keep_out,
    leftovers,
    power,
    rapid_contact,
    reach,
    spindle,
    strength,
    today,
    tool,
    torque,
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
        cuts,
        reach,
        torque,
        power,
        duty,
        chip,
        strength,
        chips_out,
        feed,
    )
)

NOT_YET = {
    "holding": "needs cutting forces; not in this version",
}
"""Questions of CONTRACTS that this version cannot put: they are told as unjudged, never left out in silence."""

UNFOLLOWED = frozenset(("understood", "travel", "keep_out", "tool", "today", "feed"))
"""Questions that can be put without following the stock."""
