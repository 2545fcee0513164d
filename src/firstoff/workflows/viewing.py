"""What the pages show of a job: examined, kept, and made ready to be sent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from firstoff.errors import InputError
from firstoff.facts.job import Given, Job, bare_job, load_job
from firstoff.facts.shop import Shop, load_shop
from firstoff.sheets.job_view import JobView, job_view
from firstoff.sheets.judged_rows import Judged, judged
from firstoff.sheets.versions import Before
from firstoff.verdict.examination import Examination
from firstoff.workflows import Prepared, Tell, job_of_shop, judge, prepare_job, shown_in
from firstoff.workflows.running import Kept, keep_examination


def _unheard(_judged: Judged) -> None:
    """Nobody is listening."""


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


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be examined and shown."""

    job: str
    """Empty for a program that belongs to no job."""
    program: Path | None = None
    """Stands in for the job's own, or is by itself."""
    given: Given | None = None
    """What is known of a program by itself."""
    before: Before | None = None
    """What another version is held against."""


def view_job(
    folder: Path, wanted: Wanted, now: datetime | None, tell: Tell, hear: Callable[[Judged], None] = _unheard
) -> JobView:
    """Examine a job of a shop and make its view. Another program is looked at and not kept. `hear` is told of each question as it is
    judged, from two threads.

    Raises `InputError` where the job cannot be used; a book that cannot be written costs no answer.
    """
    tell("reading the shop", 0.0)
    shop = load_shop(folder)
    job = _loaded(shop, wanted)
    tell("reading the program", 0.05)
    prepared = prepare_job(job, now=now)
    examination = judge(prepared, tell=tell, hear=lambda answered, case: hear(judged(answered, case)))
    kept = keep_quietly(prepared, examination) if wanted.program is None else None
    tell("drawing", 0.95)
    name = wanted.program.name if wanted.program is not None else ""
    title = f"{wanted.job}: {name}" if wanted.job and name else wanted.job or name
    runs = kept.runs if kept is not None else ()
    return job_view(examination, title, shop.name, runs, wanted.before, looked_at_only=wanted.program is not None)


def _loaded(shop: Shop, wanted: Wanted) -> Job:
    if wanted.given is not None and wanted.program is not None:
        return bare_job(wanted.program, shop, wanted.given)
    job = load_job(job_of_shop(shop, wanted.job), shop)
    return job if wanted.program is None else replace(job, program=wanted.program)
