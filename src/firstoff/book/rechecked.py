"""What a recheck found: every job of the book, then and now, and what that is worth in a year."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from firstoff.book.moved import Margin, Moved, worst_of
from firstoff.book.stands import Reason
from firstoff.verdict.question import Answer


@dataclass(frozen=True, slots=True)
class Fastest:
    """The shortest time that feed overrides alone give; None where nobody knows."""

    time_s: float | None
    overrides: Mapping[str, int]
    """Override of each tool, %, by its T."""
    held_by: tuple[str, ...] = ()
    """Questions that more would make worse, beside the loads of the tools themselves."""


UNKNOWN = Fastest(None, {})


@dataclass(frozen=True, slots=True)
class Rechecked:
    """One job of the book, then and now; with a what-if, now and as it would be."""

    job: str
    number: int
    """Of the kept examination's entry."""
    at: datetime
    """When that was made."""
    runs: int
    """How often the job ran in the last year."""
    verdict: str
    """As it was, without the question *today*."""
    anew: bool
    """Whether it had to be examined again to tell."""
    reason: Reason | None = None
    """Why it had to be."""
    moved: Moved | None = None
    fastest: tuple[Fastest, Fastest] | None = None
    """With the overrides as high as nothing speaks against, now and as it would be."""
    now_first: Moved | None = None
    """With a what-if: how the shop as it stands now had moved it already since it was kept."""
    fault: str = ""
    """Why nothing can be told of it."""

    @property
    def stands(self) -> bool:
        """No answer is worse than it was."""
        return not self.fault and (self.moved is None or not self.moved.worse)

    @property
    def answer(self) -> str:
        """Clear where it stands, else the worst of the answers that got worse; unjudged where nothing can be told."""
        if self.fault:
            return "unjudged"
        return worst_of(one.now for one in (self.moved.questions if self.moved is not None else ()) if one.worse)

    @property
    def written(self) -> tuple[float | None, float | None]:
        """Seconds with the feeds as written, then and now; nothing where it was not examined again."""
        return self.moved.time_s if self.moved is not None else (None, None)

    @property
    def turned_up(self) -> tuple[float | None, float | None]:
        """Seconds with the overrides turned up."""
        return (None, None) if self.fastest is None else (self.fastest[0].time_s, self.fastest[1].time_s)


@dataclass(frozen=True, slots=True)
class Recheck:
    """All jobs asked for, in the order of their names."""

    what_if: str
    """Name of the what-if; empty where the shop as it stands now was asked."""
    jobs: tuple[Rechecked, ...]
    unasked: tuple[str, ...] = ()
    """Facts of the what-if that no job asks for."""

    as_written: bool = False
    """No higher feeds were tried."""
    added: tuple[str, ...] = ()
    """What the what-if adds that the shop does not have: ``tool em9``."""

    @property
    def answer(self) -> str:
        """The worst of the answers that got worse; clear where all stand."""
        return worst_of(job.answer for job in self.jobs)

    @property
    def fallen(self) -> tuple[Rechecked, ...]:
        """Jobs that no longer stand, worst first; not those that are better as a whole."""
        fallen = (job for job in self.jobs if not job.stands and not job.fault and not _lifted(job))
        return tuple(sorted(fallen, key=_badly, reverse=True))

    @property
    def mixed(self) -> tuple[Rechecked, ...]:
        """Jobs of which some answer is worse while the worst of all is better than it was: from stop to care, with a new care."""
        return tuple(job for job in self.jobs if not job.stands and not job.fault and _lifted(job))

    @property
    def better(self) -> tuple[Rechecked, ...]:
        """Jobs of which some answer is better and none worse."""
        return tuple(job for job in self.jobs if job.moved is not None and job.moved.better)

    @property
    def standing(self) -> tuple[Rechecked, ...]:
        """Jobs answered as before."""
        return tuple(job for job in self.jobs if job.stands and not (job.moved is not None and job.moved.better))

    @property
    def untold(self) -> tuple[Rechecked, ...]:
        """Jobs that could not be examined."""
        return tuple(job for job in self.jobs if job.fault)

    @property
    def not_counted(self) -> tuple[Rechecked, ...]:
        """Jobs that would not be run as they are: stopped, or no longer judged in something that was. They buy nothing until they are mended."""
        return tuple(
            job
            for job in self.jobs
            if job.moved is not None and (job.moved.verdict[1] == Answer.STOP or job.answer == Answer.UNJUDGED)
        )

    def bought_s(self, turned_up: bool) -> float | None:
        """Seconds a year that the change buys in all jobs (negative: costs), each as often as it ran in the last year; with the feeds as
        written, or with overrides turned up on both sides. None where no job tells; one that stands untouched buys nothing, and one that
        would not be run is not counted."""
        counted = [job for job in self.jobs if job not in self.not_counted]
        pairs = [(job.runs, *(job.turned_up if turned_up else job.written)) for job in counted]
        known = [runs * (now - other) for runs, now, other in pairs if now is not None and other is not None]
        return sum(known) if known else None

    def tightest(self, risk: str) -> tuple[tuple[str, Margin] | None, tuple[str, Margin] | None]:
        """(job, margin) that is tightest of all jobs that were examined again, now and as it would be."""
        sides: list[tuple[str, Margin] | None] = []
        for side in (0, 1):
            found = [
                (job.job, margin)
                for job in self.jobs
                if job.moved is not None and (margin := job.moved.margins[risk][side]) is not None
            ]
            sides.append(min(found, key=lambda one: one[1].left, default=None))
        return sides[0], sides[1]


def _lifted(job: Rechecked) -> bool:
    """Whether the worst of all answers of a job is better than it was."""
    return job.moved is not None and Answer(job.moved.verdict[1]).rank < Answer(job.moved.verdict[0]).rank


def _badly(job: Rechecked) -> tuple[int, int, int]:
    """How bad it is that a job no longer stands: its answer, how many got worse, how often it runs."""
    questions = job.moved.questions if job.moved is not None else ()
    return Answer(job.answer).rank, sum(one.worse for one in questions), job.runs
