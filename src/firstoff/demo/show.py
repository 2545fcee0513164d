"""Lay out the demo shop and examine its jobs, one line a job and the first one whole."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from rich.console import Console

from firstoff import workflows
from firstoff.demo.history import write_history
from firstoff.demo.lay_out import lay_out
from firstoff.demo.plans import JobPlan
from firstoff.sheets.job_list import JobLine, print_jobs
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import NotFollowed
from firstoff.verdict.words import count
from firstoff.workflows.running import keep_examination


@dataclass(frozen=True, slots=True)
class DemoResult:
    """The demo shop as laid out, and what was found."""

    folder: Path
    jobs: tuple[tuple[JobPlan, Examination], ...]


def examine_demo(
    folder: Path, tell: workflows.Tell, now: datetime | None = None, *, with_year: bool = False
) -> DemoResult:
    """Lay the shop out and examine every job; `with_year` gives it the book of its year, in which the good jobs are then kept."""
    now = now or datetime.now()
    tell("laying out the demo shop", 0.0)
    plans = lay_out(folder, now)
    if with_year:
        write_history(folder.expanduser().resolve(), now, tell)
    examined = []
    for number, plan in enumerate(plans):
        tell(f"examining {plan.name}", number / len(plans))
        job = folder / "jobs" / plan.name
        prepared = workflows.prepare(job, now=now + timedelta(hours=plan.hours_later))
        found = workflows.judge(prepared)
        if with_year and plan.twin is None:
            keep_examination(prepared, found, job)
        examined.append((plan, found if number == 0 else _lighter(found)))
    return DemoResult(folder, tuple(examined))


def _lighter(examination: Examination) -> Examination:
    """Without the stock that was followed: a list of many jobs shows their answers alone, and the stocks of all would fill the memory."""
    return replace(examination, case=replace(examination.case, followed=NotFollowed((), ())))


def demo_json(result: DemoResult) -> str:
    """The demo as JSON: one examination record a job."""
    jobs = [
        {
            "name": plan.name,
            "story": plan.story,
            "twin": plan.twin,
            "examination": json.loads(workflows.examination_json(examination)),
        }
        for plan, examination in result.jobs
    ]
    return json.dumps({"schema": "firstoff.demo/1", "folder": str(result.folder), "jobs": jobs}, indent=1)


def show_demo(result: DemoResult, console: Console) -> None:
    """Print the demo: its first job whole, then each good job with the mistakes that were made of it, then where to go on."""
    first, examination = result.jobs[0]
    workflows.show_examination(examination, console, first.name)
    folder = result.folder
    below = (
        f"The shop lies in {folder}; {folder}/README.txt says what to look at.",
        f"The shop has a year behind it: firstoff book runs --shop {folder}, firstoff fact tools.em6.LF --shop {folder}.",
        f"Next: firstoff examine {folder}/jobs/lid-wrong-length, then mend it and examine it again.",
    )
    good = [plan.name for plan, _ in result.jobs if plan.twin is None]
    for name in good:
        lines = [JobLine(plan.name, found, plan.story) for plan, found in result.jobs if name in (plan.name, plan.twin)]
        title = f"{name} and {count(len(lines) - 1, 'job')} made of it, each with one mistake or gap"
        print_jobs(title, lines, console, below if name == good[-1] else ())
