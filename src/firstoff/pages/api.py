"""For other programs: the same JSON as the commands' ``--json``, under /api, described at /api/openapi.json."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from firstoff.facts.shop import load_shop
from firstoff.pages.desk import Work
from firstoff.pages.frames import desk_of, known_job, view_of, work_of
from firstoff.verdict.question import Answer
from firstoff.workflows import book, crib, facts
from firstoff.workflows.crib_day import today
from firstoff.workflows.crib_json import crib_json, drifts_json, today_json
from firstoff.workflows.machine import refuse_if_changed
from firstoff.workflows.running import note_run
from firstoff.workflows.tools_room import MOST_JOBS

router = APIRouter(prefix="/api", tags=["firstoff"])
NotThere: dict[int | str, dict[str, Any]] = {404: {"description": "There is no such thing in this shop."}}
Refused: dict[int | str, dict[str, Any]] = {422: {"description": "It cannot be used; `faults` or `detail` says why."}}


class Body(BaseModel):
    """What is sent: no keys but these."""

    model_config = ConfigDict(extra="forbid")


class FactBody(Body):
    """A fact to be set."""

    value: str = Field(min_length=1, max_length=4000, description='As in the file: "8.9(4) N/µm".')
    was: str | None = Field(
        default=None, max_length=4000, description="What the file says now; refused where it says something else."
    )
    u: str | None = Field(default=None, max_length=60)
    df: float | None = Field(default=None, ge=1)
    evidence: str | None = Field(default=None, max_length=20)
    note: str | None = Field(default=None, max_length=400)
    why: str = Field(default="", max_length=400)


class NoteBody(Body):
    """One line after a run."""

    note: str = Field(min_length=1, max_length=300)


class AnswerTold(BaseModel):
    """One question that is judged."""

    id: str
    answer: Answer


class WorkTold(BaseModel):
    """An examination that was asked for."""

    number: int
    job: str
    state: str = Field(description="waiting, going, done, faults or stopped")
    part: float
    left_s: float | None
    answers: list[AnswerTold] = Field(description="Questions as they were judged; once it is done the record has all.")
    faults: list[str]


@router.get("/jobs")
def jobs(request: Request) -> list[str]:
    """Names of the shop's jobs."""
    return list(load_shop(request.app.state.folder).job_names)


@router.post("/jobs/{job}/examination", status_code=202, responses={**NotThere, **Refused})
def ask(request: Request, job: str) -> WorkTold:
    """Ask for the examination of a job; ask after it under its number."""
    known_job(request, job)
    return _told(desk_of(request).ask(job))


@router.get("/examinations/{number}", responses={**NotThere, **Refused})
def work(request: Request, number: int) -> WorkTold:
    """How far an examination came."""
    return _told(work_of(request, number))


@router.get("/examinations/{number}/record", responses={**NotThere, **Refused})
def record(request: Request, number: int) -> Response:
    """The published record of an examination that is done (docs/schema/examination-1.json)."""
    return Response(view_of(request, number).record_json, media_type="application/json")


@router.delete("/examinations/{number}", status_code=204, responses={**NotThere, **Refused})
def stop(request: Request, number: int) -> Response:
    """Stop an examination; one that is done stays."""
    desk_of(request).stop(work_of(request, number))
    return Response(status_code=204)


@router.get("/facts", responses=Refused)
def list_facts(request: Request, by: Literal["age", "doubt", "evidence"] = "evidence") -> dict[str, Any]:
    """Facts with a doubt: by age, doubt or evidence."""
    return facts.lines_json(facts.list_facts(_shop(request), by, datetime.now()))


@router.get("/facts/{path}", responses={**NotThere, **Refused})
def one_fact(request: Request, path: str) -> dict[str, Any]:
    """A fact, or all below a path, with history."""
    return facts.fact_json(facts.show_fact(_shop(request), path))


@router.put("/facts/{path}", responses={**NotThere, **Refused})
def set_fact(request: Request, path: str, body: FactBody) -> dict[str, Any]:
    """Set a fact in its file and record it."""
    here = _shop(request)
    if body.was is not None:
        refuse_if_changed(here, path, body.was)
    told = facts.Told(body.u, body.df, body.evidence, body.note)
    return facts.changed_json(facts.set_fact(here, path, body.value, told, why=body.why))


@router.get("/book/examinations", responses=Refused)
def examinations(request: Request, most: int = Query(default=100, ge=1, le=10_000)) -> dict[str, Any]:
    """What was examined, newest first."""
    return book.listed_json(book.examinations(_shop(request), None, most))


@router.get("/book/runs", responses=Refused)
def runs(request: Request) -> dict[str, Any]:
    """What was noted after runs, oldest first."""
    return book.runs_json(book.noted_runs(_shop(request)))


@router.post("/jobs/{job}/runs", status_code=201, responses={**NotThere, **Refused})
def note(request: Request, job: str, body: NoteBody) -> dict[str, Any]:
    """Note how a run went."""
    known_job(request, job)
    done = note_run(job, body.note, shop=request.app.state.folder, tell=lambda _stage, _part: None)
    return {"entry": done.number, "outcome": done.note.outcome, "note": done.note.text}


@router.get("/crib", responses=Refused)
def list_crib(request: Request) -> dict[str, Any]:
    """Where all tools and holders are, what may stand in and for how long."""
    return crib_json(crib.the_crib(_shop(request).folder))


@router.get("/crib/today", responses={**NotThere, **Refused})
def plan_day(
    request: Request,
    job: Annotated[list[str], Query(min_length=1, max_length=MOST_JOBS, description="Today's jobs, in order.")],
) -> dict[str, Any]:
    """What to load for today's jobs with the fewest changes by hand."""
    for name in job:
        known_job(request, name)
    return today_json(today(load_shop(_shop(request).folder), job))


@router.get("/crib/drift", responses=Refused)
def drift(request: Request) -> dict[str, Any]:
    """How measured lengths have gone since the last grip."""
    return drifts_json(crib.drifts(_shop(request), ()))


def _told(work: Work) -> WorkTold:
    return WorkTold(
        number=work.number,
        job=work.job,
        state=work.state,
        part=round(work.part, 3),
        left_s=work.left_s,
        answers=[AnswerTold(id=one.id, answer=Answer(one.answer)) for one in work.judged.values()],
        faults=[str(fault) for fault in work.faults],
    )


def _shop(request: Request) -> book.ShopBook:
    here = book.shop_book(request.app.state.folder)
    book.notice(here)
    return here
