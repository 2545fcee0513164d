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
    finish,
    holding,
    keep_out,
    leftovers,
    path_kept,
    power,
    rapid_contact,
    reach,
    size,
    spindle,
    step,
    strength,
    target,
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
        holding,
        size,
        step,
        path_kept,
        finish,
        target,
        feed,
    )
)

NOT_YET: dict[str, str] = {}
"""Questions of CONTRACTS that this version cannot put: they are told as unjudged, never left out in silence."""

UNFOLLOWED = frozenset(("understood", "travel", "keep_out", "tool", "today", "feed"))
"""Questions that can be put without following the stock."""
