"""Whether a kept examination still stands, without making it again: what it asked for, held against what is said now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from firstoff.book.kept import KeptExamination
from firstoff.facts.change import Change, Stated

TODAY = "machine.today."
"""Today's card is about one morning: only the question *today* asks for it, and a recheck leaves that question out."""


JUDGED_BY = "firstoff"
"""Stands among the facts leaned on: the version that judged, with the stamp of all code that a judgement can hang on."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why an examination has to be made again."""

    changes: tuple[Change, ...] = ()
    """Facts that say something else now, or nothing, or something for the first time."""
    files: tuple[str, ...] = ()
    """Files that are not what they were, or gone; the program under its own name."""

    @property
    def paths(self) -> tuple[str, ...]:
        return tuple(change.path for change in self.changes)


def stands(
    kept: KeptExamination, said_now: Mapping[str, Stated], files_now: Mapping[str, str], program_now: str
) -> Reason | None:
    """None where everything that the examination asked for is as it was; else what is not.

    `said_now` answers every path in `kept.leaned`, `files_now` every file in `kept.files`; what is not answered counts as changed. An
    examination is a function of what it asked for, so nothing else can move it.
    """
    changes = [change for path, was in kept.leaned.items() for change in _changed(path, was, said_now.get(path))]
    files = [file for file, stamp in kept.files.items() if files_now.get(file) != stamp]
    if program_now != kept.program_sha256:
        files.insert(0, str(kept.record["program"]["file"]))
    found = {change.path: change for change in changes}
    return Reason(tuple(found.values()), tuple(files)) if changes or files else None


def asks_for(kept: KeptExamination, path: str) -> bool:
    """Whether an examination asked for a fact, or went through a part of the tree that it lies in."""
    parts = path.split(".")
    return (
        path in kept.leaned
        or any(".".join(parts[:end]) + "." in kept.leaned for end in range(1, len(parts)))
        or "" in kept.leaned
    )


def _changed(path: str, was: Stated, now: Stated | None) -> list[Change]:
    if path.startswith(TODAY) or was == now:
        return []
    if path and not path.endswith("."):
        return [Change(path, was or None, now or None)]
    before, after = (list(said["setting"]) if said else [] for said in (was, now or {}))
    before, after = ([one for one in paths if not one.startswith(TODAY)] for paths in (before, after))
    gone = [Change(one, {"setting": "there"}, None) for one in before if one not in after]
    new = [Change(one, None, {"setting": "there"}) for one in after if one not in before]
    moved = [Change(path, was, now)] if before != after and not gone and not new else []
    return [*gone, *new, *moved]
