"""Two versions of a program against each other: how each question stood, and which lines are written otherwise."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from firstoff.sheets.held import held_of
from firstoff.sheets.scale import Held
from firstoff.sheets.wording import answer_line
from firstoff.verdict.examination import Examination

MOST_COMPARED = 20_000
"""Lines of either version up to which they are told one by one; beyond it only how many differ."""
MOST_BETWEEN = 4_000
"""Lines of either version between the first and the last that differ: telling which became which takes longer than their product."""
MOST_PLACES, MOST_OF_PLACE = 12, 6
"""Places that are told, and lines of each."""


@dataclass(frozen=True, slots=True)
class Stood:
    """One question as it stood."""

    answer: str
    said: str
    """The answer in as few words as possible."""
    held: Held | None


@dataclass(frozen=True, slots=True)
class Before:
    """What another version is held against."""

    stood: Mapping[str, Stood]
    """By question."""
    text: str
    """The program, its lines joined by line feeds: a million lines go through a pipe ten times as quickly in one piece."""

    @property
    def lines(self) -> list[str]:
        return self.text.split("\n") if self.text else []


@dataclass(frozen=True, slots=True)
class Written:
    """Lines that one version has where the other has others; numbers count from 1, and the other side may be empty."""

    was_from: int
    was: tuple[str, ...]
    now_from: int
    now: tuple[str, ...]
    left_out: int
    """Lines of this place that are not told."""


@dataclass(frozen=True, slots=True)
class Changes:
    """How two texts differ."""

    gone: int
    """Lines of the earlier one that the later one does not have there."""
    come: int
    places: tuple[Written, ...]
    left_out: int
    """Places that are not told."""
    counted_only: bool = False
    """They are too long to be told line by line; lines that only moved are then not counted."""


def stood(examination: Examination) -> dict[str, Stood]:
    """How each question stands, for a later version to be held against."""
    facts, units = examination.facts, examination.case.units
    return {
        one.question.id: Stood(one.answer.value, answer_line(one, facts), held_of(one, facts, units))
        for one in examination.answers
    }


def changes(was: Sequence[str], now: Sequence[str]) -> Changes:
    """Where two texts differ, line by line."""
    first, last = _same_ends(was, now)
    old, new = was[first : len(was) - last], now[first : len(now) - last]
    if max(len(was), len(now)) > MOST_COMPARED or max(len(old), len(new)) > MOST_BETWEEN:
        lost, won = Counter(old) - Counter(new), Counter(new) - Counter(old)
        return Changes(lost.total(), won.total(), (), 0, counted_only=True)
    blocks = [
        (first + i, old[i:j], first + k, new[k:m])
        for tag, i, j, k, m in difflib.SequenceMatcher(None, old, new).get_opcodes()
        if tag != "equal"
    ]
    return Changes(
        gone=sum(len(lines) for _, lines, _, _ in blocks),
        come=sum(len(lines) for _, _, _, lines in blocks),
        places=tuple(_written(*block) for block in blocks[:MOST_PLACES]),
        left_out=max(len(blocks) - MOST_PLACES, 0),
    )


def _same_ends(was: Sequence[str], now: Sequence[str]) -> tuple[int, int]:
    """How many lines are the same at the beginning, and how many of the rest at the end."""
    shorter = min(len(was), len(now))
    first = next((n for n in range(shorter) if was[n] != now[n]), shorter)
    rest = shorter - first
    last = next((n for n in range(rest) if was[-1 - n] != now[-1 - n]), rest)
    return first, last


def _written(was_at: int, was: Sequence[str], now_at: int, now: Sequence[str]) -> Written:
    left_out = max(len(was) - MOST_OF_PLACE, 0) + max(len(now) - MOST_OF_PLACE, 0)
    return Written(was_at + 1, tuple(was[:MOST_OF_PLACE]), now_at + 1, tuple(now[:MOST_OF_PLACE]), left_out)
