"""What is examined against how it stood: another version of a program against the job's own, or a job against itself before facts changed."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from firstoff.book.moved import QuestionMoved, moved
from firstoff.pages.desk import Work
from firstoff.sheets.job_view import JobView
from firstoff.sheets.versions import Changes
from firstoff.sheets.wording import clock
from firstoff.verdict.question import Answer
from firstoff.verdict.words import count

DASHED = "On the scales dashed is before and solid is now, each at its own worst place."
FEW_PLACES = 4
"""Changed places up to which they stand open."""


@dataclass(frozen=True, slots=True)
class Group:
    """Answers that moved alike."""

    was: str
    now: str
    ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Against:
    """Both, in words."""

    own: JobView
    labels: tuple[str, str]
    groups: tuple[Group, ...]
    sentence: str
    took: str
    takes: str
    written: str
    few: bool


def against_of(work: Work) -> Against | None:
    """What is answered otherwise than before; None where nothing was examined before, or a job stands as it stood."""
    own, view = work.own, work.view
    if own is None or view is None or view.changes is None:
        return None
    itself = work.program is None
    if itself and own.stood == view.stood and not view.changes.places:
        return None
    found = moved(json.loads(own.record_json), json.loads(view.record_json), ())
    took, takes = (clock(time) if time is not None else "" for time in found.time_s)
    return Against(
        own=own,
        labels=(f"at {own.at:%H:%M}", "now") if itself else ("as it stands", "this version"),
        groups=grouped(found.questions),
        sentence=_sentence(found.questions),
        took=took,
        takes=takes,
        written=written(view.changes),
        few=len(view.changes.places) <= FEW_PLACES and view.changes.left_out == 0,
    )


def grouped(questions: tuple[QuestionMoved, ...]) -> tuple[Group, ...]:
    """Moved answers in their order, those that moved alike together."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in questions:
        found.setdefault((one.was, one.now), []).append(one.id)
    return tuple(Group(was, now, tuple(ids)) for (was, now), ids in found.items())


def _sentence(questions: tuple[QuestionMoved, ...]) -> str:
    if not questions:
        return f"Every answer is what it was. {DASHED}"
    unjudged = sum(one.now == Answer.UNJUDGED.value for one in questions)
    worse = sum(one.worse and one.now != Answer.UNJUDGED.value for one in questions)
    better = len(questions) - worse - unjudged
    numbers = ((worse, "worse"), (better, "better"), (unjudged, "cannot be judged any more"))
    return f"{count(len(questions), 'answer')} moved: {', '.join(f'{number} {word}' for number, word in numbers if number)}. {DASHED}"


def written(changes: Changes) -> str:
    """What is written otherwise, in a sentence; some line is."""
    told = [
        f"{count(number, 'line')} {word}" for number, word in ((changes.gone, "gone"), (changes.come, "new")) if number
    ]
    more = (
        ". They are too long to be told line by line; lines that only moved are not counted"
        if changes.counted_only
        else ""
    )
    return f"{' and '.join(told)}{more}."


def outdated(folder: Path, job: str, view: JobView) -> bool:
    """Whether a file of the shop or of the job was written after a view was made: then it is no longer how things stand."""
    files = [*folder.glob("*.toml"), *(folder / "jobs" / job).iterdir()]
    return any(file.stat().st_mtime > view.at.timestamp() for file in files if file.is_file())
