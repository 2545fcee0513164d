"""What the pages show of a job: examined, kept, and made ready to be sent."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from firstoff.errors import InputError
from firstoff.facts.job import load_job
from firstoff.facts.shop import load_shop
from firstoff.sheets.job_view import JobView, job_view
from firstoff.workflows import Tell, job_of_shop, judge, prepare_job
from firstoff.workflows.running import Kept, keep_examination


def view_job(folder: Path, job: str, program: Path | None, now: datetime | None, tell: Tell) -> JobView:
    """Examine a job of a shop and make its view. Another `program` may stand in for its own: it is then looked at and not kept.

    Raises `InputError` where the job cannot be used; a book that cannot be written costs no answer.
    """
    tell("reading the shop", 0.0)
    shop = load_shop(folder)
    named = load_job(job_of_shop(shop, job), shop)
    if program is not None:
        named = replace(named, program=program)
    tell("reading the program", 0.1)
    prepared = prepare_job(named, now=now)
    examination = judge(prepared, tell=tell)
    kept: Kept | None = None
    if program is None:
        try:
            kept = keep_examination(prepared, examination, named.folder)
        except InputError:
            kept = None
    tell("drawing", 0.95)
    title = job if program is None else f"{job}: {program.name}"
    return job_view(examination, title, shop.name, kept.runs if kept is not None else ())
