"""A program that was dropped on the list of jobs: another version of one of them, or one by itself. It is read, never run, and kept nowhere."""

from __future__ import annotations

import secrets
import shutil
from dataclasses import dataclass, field
from pathlib import Path

from fastapi import APIRouter, Form, HTTPException, Request, UploadFile
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from firstoff.errors import Fault
from firstoff.pages.frames import desk_of, frame_of, known_job
from firstoff.pages.job import ask_version, take_in
from firstoff.pages.render import page
from firstoff.workflows.by_itself import Seen, choices, given_of, refused, see

router = APIRouter(include_in_schema=False)
MOST_TYPED = 200
"""Letters of one field."""


@dataclass(slots=True)
class Dropped:
    """A program that was sent, and what was said of it."""

    token: str
    path: Path
    seen: Seen
    typed: dict[str, str] = field(default_factory=dict)


@router.post("/programs")
async def drop(request: Request, program: UploadFile) -> Response:
    """Take a program in and go on to its page. Raises `InputError` where it is no text."""
    path = await take_in(request, program)
    try:
        seen = await run_in_threadpool(see, request.app.state.folder, path)
    except Exception:
        shutil.rmtree(path.parent, ignore_errors=True)
        raise
    known: dict[str, Dropped] = request.app.state.programs
    token = secrets.token_urlsafe(9)
    known[token] = Dropped(token, path, seen)
    for gone in [one for one in known if not known[one].path.is_file()]:
        del known[gone]
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"at": f"/programs/{token}"})
    return RedirectResponse(f"/programs/{token}", 303)


@router.get("/programs/{token}")
def show(request: Request, token: str) -> Response:
    """What it is, and what may be said of it."""
    return _page(request, _dropped(request, token), {}, 200)


@router.post("/programs/{token}/version")
def version(request: Request, token: str, job: str = Form(max_length=200)) -> Response:
    """It is another version of a job."""
    dropped = _dropped(request, token)
    known_job(request, job)
    return RedirectResponse(f"/examined/{ask_version(request, job, dropped.path).number}", 303)


@router.post("/programs/{token}/examine")
async def examine(request: Request, token: str) -> Response:
    """It is by itself, with what is typed; what is left empty is not known."""
    dropped = _dropped(request, token)
    form = await request.form(max_files=0, max_fields=2 * len(dropped.seen.fields))
    said = {name: str(form.get(name, "")).strip() for name in dropped.seen.fields}
    dropped.typed = {name: text[:MOST_TYPED] for name, text in said.items() if text}
    faults = await run_in_threadpool(refused, request.app.state.folder, dropped.path, dropped.typed)
    if faults:
        return _page(request, dropped, faults, 422)
    work = desk_of(request).ask("", dropped.path, given=given_of(dropped.typed))
    return RedirectResponse(f"/examined/{work.number}", 303)


def _dropped(request: Request, token: str) -> Dropped:
    known: dict[str, Dropped] = request.app.state.programs
    if token not in known or not known[token].path.is_file():
        raise HTTPException(404, "This program is no longer here. Drop it on the list of jobs again.")
    return known[token]


def _page(request: Request, dropped: Dropped, faults: dict[str, Fault], status: int) -> Response:
    shown: dict[str, object] = {
        "dropped": dropped,
        "seen": dropped.seen,
        "choices": choices(request.app.state.folder),
        "faults": {},
    }
    shown["faults"] = {name: words_of(one) for name, one in faults.items()}
    return HTMLResponse(page("program_form", frame_of(request, "jobs"), **shown), status)


def words_of(fault: Fault) -> str:
    """What is wrong with a field, and what it takes: one or two sentences beside it."""
    what = fault.what[:1].upper() + fault.what[1:]
    told = f"{what}: {fault.value}." if fault.value else f"{what}."
    allowed = f" It takes {fault.allowed}." if fault.allowed else ""
    return told + (allowed or (f" {fault.do}" if fault.do else ""))
