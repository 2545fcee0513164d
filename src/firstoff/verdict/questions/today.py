"""Machine: is it fit to run today?"""

from __future__ import annotations

from datetime import datetime, timedelta

from firstoff.facts.fact import Leaning
from firstoff.verdict.case import Case
from firstoff.verdict.forms import Scale
from firstoff.verdict.question import Answer, Check, Counted, Finding, Place, Question, Risk
from firstoff.verdict.words import duration

QUESTION = Question("today", Risk.MACHINE, "Is the machine fit to run today?")
SHIFT = timedelta(hours=10)
"""A card older than a shift is no card (common practice: look again each morning)."""

CARD = "machine.today"


def find(case: Case, facts: Leaning) -> Finding:
    """Every line of today's card must be there, fresh and yes."""
    counted: list[Counted] = []
    nowhere = Place(0)
    written = facts.setting(f"{CARD}.on")
    if isinstance(written, datetime):
        now = case.now.astimezone() if written.tzinfo else case.now.replace(tzinfo=None)
        age = now - written
        if age > SHIFT:
            old = duration(age.total_seconds())
            counted.append(
                Counted(
                    nowhere,
                    f"Today's card is {old} old.",
                    "Look at the machine again and date the card.",
                    Answer.UNJUDGED,
                )
            )
        elif age < -timedelta(minutes=5):
            counted.append(
                Counted(
                    nowhere,
                    "Today's card is dated in the future.",
                    "Check the clock and date the card.",
                    Answer.UNJUDGED,
                )
            )
    yes_or_no = (
        (
            "homed",
            "The axes are not homed since the last emergency stop.",
            "Home them before anything else.",
            Answer.STOP,
        ),
        (
            "pockets_seen",
            "Nobody has looked at the pockets today.",
            "Hold the pocket list against the rack.",
            Answer.CARE,
        ),
    )
    for key, what, do, severity in yes_or_no:
        if facts.setting(f"{CARD}.{key}") is False:
            counted.append(Counted(nowhere, what, do, severity))
    warm = facts.number(f"{CARD}.warm")
    if warm is not None and warm.value <= 0:
        counted.append(Counted(nowhere, "The spindle has not been warmed up.", "Run the warm-up program.", Answer.CARE))
    air = facts.number(f"{CARD}.air")
    if air is not None and air.value - 2 * air.u <= 0:
        counted.append(
            Counted(
                nowhere,
                "There is no air pressure.",
                "Open the air, or find the leak; clamps and changer need it.",
                Answer.STOP,
            )
        )
    clear = "Homed, warm, air read and pockets seen on today's card."
    return Finding((Check(Scale.COUNT, "", (), tuple(counted), clear),))
