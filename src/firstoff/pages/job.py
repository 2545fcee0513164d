"""One job: examined with live progress, then verdict, questions, picture, time line and program, all pointing at each other."""

from __future__ import annotations

import asyncio
import json
import shutil
import tempfile
from collections.abc import AsyncIterator
from pathlib import Path, PurePath
from typing import Literal

from fastapi import APIRouter, Form, HTTPException, Request, UploadFile
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response, StreamingResponse

from firstoff.errors import InputError
from firstoff.pages.against import against_of, outdated
from firstoff.pages.desk import Work
from firstoff.pages.frames import desk_of, frame_of, known_job, view_of, work_of
from firstoff.pages.render import page
from firstoff.sheets.judged_rows import waiting
from firstoff.verdict.question import Answer
from firstoff.workflows.running import note_run

router = APIRouter(include_in_schema=False)
EVERY_S = 0.15
"""Between two words on how far an examination came."""
MOST_DROPPED = 50
"""Programs that were sent and are still there: more than can be waited for."""
MOST_NAME = 80
"""Bytes of a file's name that are kept."""
MOST_LINES = 2000
"""Lines of a program that are sent at once."""


@router.get("/jobs/{job}")
def show(request: Request, job: str) -> Response:
    """The page of a job: what was found last, else its examination as it goes on."""
    desk = desk_of(request)
    known_job(request, job)
    work = desk.newest(job) or desk.ask(job)
    return _page(request, work)


@router.post("/jobs/{job}/examine")
def examine(request: Request, job: str) -> Response:
    """Examine it again."""
    known_job(request, job)
    work = desk_of(request).ask(job)
    return RedirectResponse(f"/examined/{work.number}", 303)


@router.post("/jobs/{job}/version")
async def version(request: Request, job: str, program: UploadFile) -> Response:
    """Look at another version of the job's program: it is examined with all the job's facts, and kept nowhere."""
    known_job(request, job)
    work = ask_version(request, job, await take_in(request, program))
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"at": f"/examined/{work.number}"})
    return RedirectResponse(f"/examined/{work.number}", 303)


def ask_version(request: Request, job: str, program: Path) -> Work:
    """Ask for another version; before it for the job's own program, where that was not examined as things stand now."""
    desk = desk_of(request)
    own = desk.newest(job)
    if own is None or own.view is None or outdated(request.app.state.folder, job, own.view):
        desk.ask(job)
    return desk.ask(job, program)


async def take_in(request: Request, program: UploadFile) -> Path:
    """A program that was sent, in a folder of its own outside the shop; of its name only the last part is kept. It is read, never run."""
    older = sorted(request.app.state.dropped.iterdir(), key=lambda folder: folder.stat().st_mtime)
    for folder in older[: max(len(older) - MOST_DROPPED, 0)]:
        shutil.rmtree(folder, ignore_errors=True)
    path = Path(tempfile.mkdtemp(dir=request.app.state.dropped)) / file_name(program.filename or "")
    with path.open("wb") as file:
        while part := await program.read(1 << 20):
            file.write(part)
    return path


def file_name(sent: str) -> str:
    """The last part of a name that was sent, as a file may be called: no signs that cannot be printed, its last `MOST_NAME` bytes."""
    name = "".join(letter for letter in PurePath(sent.replace("\\", "/")).name if letter.isprintable())
    return name.encode(errors="ignore")[-MOST_NAME:].decode(errors="ignore").lstrip(".") or "program.nc"


@router.post("/jobs/{job}/ran")
def ran(request: Request, job: str, note: str = Form(min_length=1, max_length=300)) -> Response:
    """Note how a run went."""
    known_job(request, job)
    note_run(job, note, shop=request.app.state.folder, tell=lambda _stage, _part: None)
    return RedirectResponse(f"/jobs/{job}", 303)


@router.get("/jobs/{job}/sheet.pdf")
def sheet(
    request: Request, job: str, paper: Literal["a4", "letter"] = "a4", units: Literal["", "mm", "inch"] = ""
) -> Response:
    """The set-up sheet, made of an examination of this moment."""
    known_job(request, job)
    work = desk_of(request).ask(job, sheet=(paper, units))
    if not work.done.wait(LONGEST_S):
        raise HTTPException(503, "The sheet takes too long; firstoff sheet makes it.")
    if work.faults:
        raise InputError(*work.faults)
    if work.pdf is None:
        raise HTTPException(409, "The sheet was stopped.")
    name = {"content-disposition": 'inline; filename="set-up-sheet.pdf"', "cache-control": "no-store"}
    return Response(work.pdf, media_type="application/pdf", headers=name)


LONGEST_S = 300.0
"""That somebody waits for a sheet."""


@router.get("/examined/{number}")
def show_work(request: Request, number: int) -> Response:
    """One examination, going on or done."""
    return _page(request, work_of(request, number))


@router.get("/examined/{number}/progress")
async def progress(request: Request, number: int) -> Response:
    """How far it came, as a stream of events, and each question as it is judged ("judged"); the last event is that it is done."""
    work = work_of(request, number)

    async def told() -> AsyncIterator[str]:
        heard = 0
        while not work.done.is_set():
            if await request.is_disconnected():
                return
            for one in work.told[heard:]:
                heard += 1
                yield _event({"id": one.id, "answer": one.answer, "html": one.html}, "judged")
            left = None if work.left_s is None else round(work.left_s, 1)
            yield _event({"state": work.state, "stage": work.stage, "part": round(work.part, 3), "left_s": left})
            await asyncio.sleep(EVERY_S)
        yield _event({"state": work.state, "stage": work.stage, "part": 1.0, "left_s": 0.0})

    return StreamingResponse(told(), media_type="text/event-stream", headers={"cache-control": "no-store"})


def _event(told: dict[str, object], name: str = "") -> str:
    return f"{f'event: {name}' + chr(10) if name else ''}data: {json.dumps(told)}\n\n"


@router.post("/examined/{number}/stop")
def stop(request: Request, number: int) -> Response:
    """Stop it; its page then says that nothing of it is kept."""
    desk_of(request).stop(work_of(request, number))
    return RedirectResponse(f"/examined/{number}", 303)


@router.post("/examined/{number}/again")
def again(request: Request, number: int) -> Response:
    """Examine the same once more: a version and a program by itself are still there as they came."""
    work = work_of(request, number)
    asked = desk_of(request).ask(work.job, work.program, given=work.given)
    return RedirectResponse(f"/examined/{asked.number}", 303)


@router.get("/examined/{number}/scene")
def scene(request: Request, number: int) -> Response:
    """The turned picture's block of bytes (`sheets.scene`)."""
    return Response(view_of(request, number).scene, media_type="application/octet-stream", headers=_FOR_EVER)


@router.get("/examined/{number}/margins")
def margins(request: Request, number: int) -> Response:
    """u1 a line of the program."""
    return Response(view_of(request, number).margins, media_type="application/octet-stream", headers=_FOR_EVER)


@router.get("/examined/{number}/lines")
def lines(request: Request, number: int, first: int = 1, count: int = 200) -> Response:
    """Lines of the program, from `first` on."""
    program = view_of(request, number).program
    start = max(first, 1) - 1
    return JSONResponse(list(program[start : start + min(max(count, 0), MOST_LINES)]), headers=_FOR_EVER)


_FOR_EVER = {"cache-control": "private, max-age=31536000, immutable"}
"""What was examined under a number never changes."""


def _page(request: Request, work: Work) -> Response:
    frame = frame_of(request, "jobs")
    if work.view is not None:
        against = against_of(work)
        known = request.app.state.programs.values()
        more = next((f"/programs/{one.token}" for one in known if one.path == work.program and work.given), "")
        shown = {"view": work.view, "lines": len(work.view.program), "against": against, "say_more": more}
        return HTMLResponse(page("job", frame, work=work, **shown))
    if work.faults:
        return HTMLResponse(page("faults", frame, faults=work.faults, work=work), 422)
    judged = sorted(work.judged.values(), key=lambda one: -Answer(one.answer).rank)
    shown = {"judged": judged, "judged_ids": {one.id for one in judged}, "waiting": waiting()}
    return HTMLResponse(page("examining", frame, work=work, **shown))
