"""What a job of the demo shop is: its name, its story, what its examination should say, and how a mistake differs from its twin."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from firstoff.write.language import Language


@dataclass(frozen=True, slots=True)
class Edit:
    """Change one line of a text: the first that begins with `find` after the line that reads `after` (or from the top).

    `put` takes its place; None takes it out. `beside` keeps the line and puts `put` before it. `until`: everything from the line to the one
    before the first that reads so goes with it.
    """

    find: str
    put: str | None
    after: str | None = None
    beside: bool = False
    until: str | None = None


@dataclass(frozen=True, slots=True)
class JobPlan:
    """One job of the demo shop and what its examination is expected to say."""

    name: str
    story: str
    expected: Mapping[str, str]
    """Question id -> answer; questions that are not named may answer anything but, in a good job, stop."""
    mistake_line: int | None = None
    """Line of program.nc (from 1) that the mistake is in; None where there is none, or where it is not in the program alone."""
    twin: str | None = None
    """The same job without the mistake."""
    hours_later: float = 0.0
    """Examined so long after the shop was laid out."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """A job that differs from a good one (`twin`) by a few edits, or by a program that was written with another setting."""

    name: str
    twin: str
    story: str
    expected: Mapping[str, str]
    program: tuple[Edit, ...] = ()
    """The last of them is the one an answer should point at."""
    job: tuple[Edit, ...] = field(default=())
    written: Callable[[Language], str] | None = None
    """Writes the whole program instead of the twin's."""
    shapes: Mapping[str, Callable[[], bytes]] = field(default_factory=lambda: MappingProxyType({}))
    """Files of shapes that the job has instead of its twin's, by name."""
    hours_later: float = 0.0


def says(**answers: str) -> Mapping[str, str]:
    """Answers by question."""
    return MappingProxyType(answers)


def edited(text: str, edits: tuple[Edit, ...]) -> tuple[str, int | None]:
    """The text after all edits, and the line number (from 1) of the last one. Raises `ValueError` if an edit finds nothing."""
    lines = text.splitlines()
    at: int | None = None
    for edit in edits:
        at = _find(lines, edit)
        if edit.until is not None:
            lines[at : lines.index(edit.until, at)] = [] if edit.put is None else [edit.put]
        elif edit.put is None:
            del lines[at]
        elif edit.beside:
            lines.insert(at, edit.put)
        else:
            lines[at] = lines[at].replace(edit.find, edit.put) if edit.put != lines[at] else lines[at]
    return "\n".join(lines) + "\n", None if at is None else at + 1


def _find(lines: list[str], edit: Edit) -> int:
    start = 0 if edit.after is None else lines.index(edit.after) + 1
    for at in range(start, len(lines)):
        if lines[at].startswith(edit.find):
            return at
    raise ValueError(f"no line reads {edit.find!r} after {edit.after!r}")
