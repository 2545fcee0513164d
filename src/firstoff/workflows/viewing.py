"""What the pages show of a job: examined, kept, and made ready to be sent."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from firstoff.errors import InputError
from firstoff.facts.job import load_job
from firstoff.facts.shop import load_shop
from firstoff.sheets.job_view import JobView, job_view
from firstoff.verdict.examination import Examination
from firstoff.workflows import Prepared, Tell, job_of_shop, judge, prepare_job, shown_in
from firstoff.workflows.running import Kept, keep_examination


def sheet_of(folder: Path, job: str, paper: str, units: str, now: datetime | None, tell: Tell) -> bytes:
    """Examine a job of a shop and make its set-up sheet as a PDF; `units` is mm, inch, or empty for the shop's own. Raises `InputError`."""
    from firstoff.sheets.setup_pdf import setup_sheet_pdf
    from firstoff.sheets.typst_paper import Paper

    tell("reading the shop", 0.0)
    shop = load_shop(folder)
    prepared = prepare_job(load_job(job_of_shop(shop, job), shop), now=now)
    examination = judge(prepared, tell=tell)
    keep_quietly(prepared, examination)
    shown = examination if not units else shown_in(prepared, examination, units)
    tell("setting the sheet", 0.95)
    return setup_sheet_pdf(shown, job, shop.name, prepared.now, Paper(paper))


def keep_quietly(prepared: Prepared, examination: Examination) -> Kept | None:
    """Keep an examination of a shop's job; a book that cannot be written costs no answer."""
    try:
        return keep_examination(prepared, examination, prepared.job.folder)
    except InputError:
        return None


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
    kept = keep_quietly(prepared, examination) if program is None else None
    tell("drawing", 0.95)
    title = job if program is None else f"{job}: {program.name}"
    return job_view(examination, title, shop.name, kept.runs if kept is not None else ())
