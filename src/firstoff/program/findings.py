"""What was found wrong, unsure or worth knowing while a program is read."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from firstoff.program.control import path_of
from firstoff.program.moves import DEPENDS, FAULT, NOTE, Problem

MOST_FAULTS = 1000
"""More are counted, not listed: by then the text is no program."""


class Findings:
    """Collects problems of both the text and its meaning; `problems` is the list that the flow writes to as well."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self._waiting: list[int] = []
        """Problems that lost a position which is not found again yet."""
        self._firsts: dict[object, int] = {}
        self._counts: dict[int, int] = defaultdict(lambda: 1)

    def fault(self, line: int, column: int, text: str, what: str, loses: bool = False) -> None:
        """Cannot be what was meant, or is not in the language. Told once, however often the program passes there."""
        self._tell((FAULT, line, column, what), Problem(line, column, text, what, FAULT), loses)

    def depends(self, line: int, column: int, text: str, what: str, key: str, loses: bool = False) -> None:
        """Two readings, and `key` of `[control]` would settle it. Told once, with a count, unless a position is lost by it."""
        self.depends_on(path_of(key), line, column, text, what, loses)

    def depends_on(self, fact: str, line: int, column: int, text: str, what: str, loses: bool = False) -> None:
        """As `depends`, for a fact that is no `[control]` key."""
        key = (*self.depends_key(fact), line) if loses else self.depends_key(fact)
        self._tell(key, Problem(line, column, text, what, DEPENDS, fact), loses)

    def note(self, kind: str, line: int, column: int, text: str, what: str, fact: str = "") -> None:
        """Read by custom: told once for each `kind`, with a count."""
        self._tell((NOTE, kind), Problem(line, column, text, what, NOTE, fact), False)

    @staticmethod
    def depends_key(fact: str) -> tuple[object, ...]:
        return DEPENDS, fact

    def loses_by(self, key: object) -> None:
        """The problem told under `key` has lost a position after all."""
        if key in self._firsts:
            self._waiting.append(self._firsts[key])

    def lost_by(self, index: int) -> None:
        """Problem number `index` lost a position."""
        self._waiting.append(index)

    def found(self, line: int) -> None:
        """Every axis is certain again, at the end of `line`."""
        for index in self._waiting:
            self.problems[index] = replace(self.problems[index], judged_again_from=line)
        self._waiting.clear()

    def finish(self) -> tuple[Problem, ...]:
        """All problems in the order of the text, counts told, what stayed lost marked so."""
        self.found(0)
        told = [self._counted(problem, self._counts.get(at, 1)) for at, problem in enumerate(self.problems)]
        return tuple(sorted(_bounded(_merged_notes(told)), key=lambda problem: (problem.line, problem.column)))

    def _tell(self, key: object, problem: Problem, loses: bool) -> None:
        index = self._firsts.setdefault(key, len(self.problems))
        if index == len(self.problems):
            self.problems.append(problem)
        else:
            self._counts[index] += 1
        if loses:
            self._waiting.append(index)

    @staticmethod
    def _counted(problem: Problem, times: int) -> Problem:
        return problem if times == 1 else replace(problem, what=f"{problem.what} ({times} times, first here)")


def _merged_notes(problems: list[Problem]) -> list[Problem]:
    """Notes that differ only behind a colon are one kind: told once, with a count."""
    kinds: dict[str, list[int]] = defaultdict(list)
    for at, problem in enumerate(problems):
        if problem.kind == NOTE and ": " in problem.what:
            kinds[problem.what.split(": ")[0]].append(at)
    dropped: set[int] = set()
    for places in kinds.values():
        if len(places) > 1:
            first = problems[places[0]]
            problems[places[0]] = replace(first, what=f"{first.what} ({len(places)} times, first here)")
            dropped.update(places[1:])
    return [problem for at, problem in enumerate(problems) if at not in dropped]


def _bounded(problems: list[Problem]) -> list[Problem]:
    faults = [at for at, problem in enumerate(problems) if problem.kind != NOTE]
    if len(faults) <= MOST_FAULTS:
        return problems
    last = problems[faults[MOST_FAULTS]]
    rest = set(faults[MOST_FAULTS:])
    what = f"{len(rest)} more problems from here on: this is hardly a program for this control"
    kept = [problem for at, problem in enumerate(problems) if at not in rest]
    return [*kept, Problem(last.line, last.column, last.text, what, FAULT, judged_again_from=0)]
