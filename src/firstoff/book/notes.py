"""One line after a run: what it says, as far as it is understood. What is not understood is kept word for word and counts as nothing good."""

from __future__ import annotations

import re
from dataclasses import dataclass

MM_PER_INCH = 25.4
_GOOD = re.compile(
    r"(?:(?:all|part|run) )?(?:good|fine)(?: again| run| part| one| as ever)?(?:$|[.,;:!]| -)|ok(?:ay)?$|(?:went|ran) well(?:$|[.,;:!])"
)
_TAKEN_BACK = re.compile(r"\b(?:but|not|no|never|except|only|almost|until|bad|worn|late|less)\b|n't\b")
_RANG = re.compile(r"\b(?:rang|rings|ringing|chatter\w*|sang|howl\w*)\b")
_BROKE = re.compile(r"\b(?:broke|broken|snapped)\b")
_STOPPED = re.compile(r"\b(?:stopped|aborted|alarm|crash\w*|pulled out|slipped)\b")
_SIZE = re.compile(
    r"\bsize\s+(?P<off>[+\u2212-]?\d*[.,]?\d+)(?:\s*(?P<unit>mm|µm|um|in|thou)\b)?(?:\s+(?:on|at|in)\s+(?:the\s+)?(?P<where>[^.,;]+))?",
    re.IGNORECASE,
)
_DENIED = re.compile(
    r"\b(?:no|not|nothing|never|without|none|didn't|did not|hasn't|has not)\s+(?:\w+\s+)?"
    r"(?:broke|broken|snapped|rang|ring|rings|ringing|chatter\w*|sang|howl\w*|stopped|alarms?|slipped)\b"
)
"""What somebody says did not happen."""
_TOOL = re.compile(r"\bT(?P<number>\d{1,8})\b", re.IGNORECASE)
_LINE = re.compile(r"\bline\s+(?P<line>\d{1,8})\b")
_UNITS = {"mm": 1.0, "µm": 1e-3, "um": 1e-3, "in": MM_PER_INCH, "thou": MM_PER_INCH / 1000}


@dataclass(frozen=True, slots=True)
class Note:
    """A run note: the worst of what it says, and the numbers in it."""

    text: str
    outcome: str
    """good, rang, size, broke, stopped or other."""
    tool: int | None = None
    """The T that it names."""
    line: int | None = None
    off_mm: float | None = None
    """Size as made less size as drawn."""
    feature: str | None = None


def read_note(text: str, inch: bool = False) -> Note:
    """What a note says: ``good``, ``rang``, ``size +0.03 on the bore``, ``broke T3 at line 812``, ``stopped at line 40``, or other words.

    A number without a unit is in the shop's unit. Good is only what begins so and takes nothing back.
    """
    words = " ".join(text.split())
    low = words.lower()
    tool, line, size = _TOOL.search(words), _LINE.search(low), _SIZE.search(words)
    off = None
    if size is not None:
        number = size["off"].replace("\u2212", "-").replace(",", ".")
        off = float(number) * _UNITS[(size["unit"] or "").lower() or ("in" if inch else "mm")]
    return Note(
        text=words,
        outcome=_outcome(low, size is not None),
        tool=int(tool["number"]) if tool is not None else None,
        line=int(line["line"]) or None if line is not None else None,
        off_mm=off,
        feature=size["where"].strip() if size is not None and size["where"] else None,
    )


def _outcome(low: str, size: bool) -> str:
    """The worst that it says; what is denied ("did not ring") is left to a person."""
    low = _DENIED.sub("", low).strip(" .,;:-")
    denied = _TAKEN_BACK.search(low) is not None
    for outcome, pattern in (("broke", _BROKE), ("stopped", _STOPPED), ("rang", _RANG)):
        if pattern.search(low):
            return outcome
    if size:
        return "size"
    return "good" if _GOOD.match(low) and not denied else "other"
