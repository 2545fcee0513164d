"""The jobs of the shop, worst first, with what each was answered last."""

from __future__ import annotations

from collections.abc import Mapping
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
NEVER = "not examined"
ORDER = ("stop", "care", "unjudged", "clear", NEVER)
FEW = 12
"""Jobs that are found without searching."""


@dataclass(frozen=True, slots=True)
class JobRow:
    """One job in the list."""

    name: str
    answer: str | None
    """None where it was never examined."""
    risks: str
    """What is not clear, by risk."""
    when: str
    takes: str
    ran: int
    last_run: str


@dataclass(frozen=True, slots=True)
class Count:
    """How many jobs were answered alike; choosing it shows only those."""

    answer: str
    number: int


@router.get("/jobs")
def show(request: Request) -> HTMLResponse:
    """The page."""
    folder = request.app.state.folder
    here = book.shop_book(folder)
    book.notice(here)
    rows = job_rows(load_shop(folder).job_names, book.examinations(here), book.noted_runs(here), datetime.now())
    shown = {"rows": rows, "sentence": sentence(rows), "counts": counts(rows), "searched": len(rows) > FEW}
    return HTMLResponse(page("jobs", frame_of(request, "jobs"), **shown))


def job_rows(
    names: tuple[str, ...], examined: tuple[Listed, ...], runs: tuple[KeptRun, ...], now: datetime
) -> tuple[JobRow, ...]:
    """A row for each job: the worst first, those never examined last; alike ones newest first."""
    newest: dict[str, Listed] = {}
    for one in examined:  # newest first
        newest.setdefault(one.job, one)
    rows = [_row(name, newest.get(name), [run for run in runs if run.job == name], now) for name in names]
    order = {one.job: number for number, one in enumerate(newest.values())}
    return tuple(sorted(rows, key=lambda row: (ORDER.index(row.answer or NEVER), order.get(row.name, len(order)))))


def counts(rows: tuple[JobRow, ...]) -> tuple[Count, ...]:
    """How many of each answer there are, worst first."""
    numbers = [Count(answer, sum((row.answer or NEVER) == answer for row in rows)) for answer in ORDER]
    return tuple(one for one in numbers if one.number)


def _row(name: str, last: Listed | None, runs: list[KeptRun], now: datetime) -> JobRow:
    when = "" if last is None else age_words((now - last.at).total_seconds() / 86400)
    return JobRow(
        name=name,
        answer=None if last is None else last.verdict,
        risks="" if last is None else _risks(last.risks),
        when="" if last is None else "examined today" if when == "today" else f"examined {when} ago",
        takes="" if last is None or last.time_s is None else duration(last.time_s),
        ran=len(runs),
        last_run=runs[-1].note if runs else "",
    )


def _risks(risks: Mapping[str, str]) -> str:
    """``machine, tool stop; part unjudged``: the worst first."""
    alike = {answer: [risk for risk, one in risks.items() if one == answer] for answer in ORDER if answer != "clear"}
    return "; ".join(f"{', '.join(names)} {answer}" for answer, names in alike.items() if names)


def sentence(rows: tuple[JobRow, ...]) -> str:
    """What the page says first."""
    if not rows:
        return "There are no jobs yet."
    told = [_told(one) for one in counts(rows)]
    if len(told) == 1:
        return f"{'The one job' if len(rows) == 1 else f'All {len(rows)} jobs'} {told[0].partition(' ')[2]}."
    return f"Of {len(rows)} jobs {', '.join(told[:-1])} and {told[-1]}."


def _told(one: Count) -> str:
    single = one.number == 1
    words = {
        "stop": "must not run",
        "care": "needs care" if single else "need care",
        "unjudged": "cannot be judged",
        NEVER: "was never examined" if single else "were never examined",
        "clear": "is clear" if single else "are clear",
    }
    return f"{one.number} {words[one.answer]}"
