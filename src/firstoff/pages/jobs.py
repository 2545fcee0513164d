"""The jobs of the shop, worst first, with what each was answered last."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from firstoff.book.kept import KeptRun, Listed
from firstoff.facts.shop import load_shop
from firstoff.pages.frames import frame_of
from firstoff.pages.render import page
from firstoff.sheets.fact_words import age_words
from firstoff.verdict.words import duration
from firstoff.workflows import book

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True)
class JobRow:
    """One job in the list."""

    name: str
    answer: str | None
    """None where it was never examined."""
    when: str
    takes: str
    ran: int
    last_run: str


@router.get("/jobs")
def show(request: Request) -> HTMLResponse:
    """The page."""
    folder = request.app.state.folder
    here = book.shop_book(folder)
    book.notice(here)
    rows = job_rows(load_shop(folder).job_names, book.examinations(here), book.noted_runs(here), datetime.now())
    return HTMLResponse(page("jobs", frame_of(request, "jobs"), rows=rows, sentence=sentence(rows)))


def job_rows(
    names: tuple[str, ...], examined: tuple[Listed, ...], runs: tuple[KeptRun, ...], now: datetime
) -> tuple[JobRow, ...]:
    """A row for each job: those that were examined first, newest first."""
    newest: dict[str, Listed] = {}
    for one in examined:  # newest first
        newest.setdefault(one.job, one)
    rows = [_row(name, newest.get(name), [run for run in runs if run.job == name], now) for name in names]
    order = {one.job: number for number, one in enumerate(newest.values())}
    return tuple(sorted(rows, key=lambda row: order.get(row.name, len(order))))


def _row(name: str, last: Listed | None, runs: list[KeptRun], now: datetime) -> JobRow:
    when = "" if last is None else age_words((now - last.at).total_seconds() / 86400)
    return JobRow(
        name=name,
        answer=None if last is None else last.verdict,
        when="never examined" if last is None else "examined today" if when == "today" else f"examined {when} ago",
        takes="" if last is None or last.time_s is None else duration(last.time_s),
        ran=len(runs),
        last_run=runs[-1].note if runs else "",
    )


def sentence(rows: tuple[JobRow, ...]) -> str:
    """What the page says first."""
    if not rows:
        return "There are no jobs yet."
    never = sum(row.answer is None for row in rows)
    clear = sum(row.answer == "clear" for row in rows)
    told = [f"{clear} of {len(rows) - never} examined jobs are clear"] if len(rows) > never else []
    if never:
        told.append(f"{never} {'has' if never == 1 else 'have'} never been examined")
    return f"{'; '.join(told)}."[:1].upper() + f"{'; '.join(told)}."[1:]
