"""Lay out the demo shop and examine its jobs, one line a job and the first one whole."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from rich.console import Console

from firstoff import workflows
from firstoff.demo.lay_out import lay_out
from firstoff.demo.mistakes import JobPlan
from firstoff.sheets.job_list import JobLine, print_jobs
from firstoff.verdict.examination import Examination
from firstoff.verdict.words import count


@dataclass(frozen=True, slots=True)
class DemoResult:
    """The demo shop as laid out, and what was found."""

    folder: Path
    jobs: tuple[tuple[JobPlan, Examination], ...]


def examine_demo(folder: Path, tell: workflows.Tell, now: datetime | None = None) -> DemoResult:
    """Lay the shop out and examine every job."""
    now = now or datetime.now()
    tell("laying out the demo shop", 0.0)
    plans = lay_out(folder, now)
    examined = []
    for number, plan in enumerate(plans):
        tell(f"examining {plan.name}", number / len(plans))
        examined.append((plan, workflows.examine_job(folder / "jobs" / plan.name, now=now)))
    return DemoResult(folder, tuple(examined))


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
    """Print the demo: its first job whole, then a line a job, then where to go on."""
    first, examination = result.jobs[0]
    workflows.show_examination(examination, console, first.name)
    lines = [JobLine(plan.name, found, _remark(plan)) for plan, found in result.jobs]
    folder = result.folder
    below = (
        f"The shop lies in {folder}; {folder}/README.txt says what to look at.",
        f"Next: firstoff examine {folder}/jobs/lid-wrong-length, then mend it and examine it again.",
    )
    print_jobs(f"The demo shop: {count(len(lines), 'job')}, each mistake with its mended twin", lines, console, below)


def _remark(plan: JobPlan) -> str:
    return f"{plan.story} (mended: {plan.twin})" if plan.twin else plan.story
