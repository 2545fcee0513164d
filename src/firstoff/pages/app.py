"""The pages as one application: what is asked of it goes to `workflows` and comes back as a page, a part of one, or JSON."""

from __future__ import annotations

import tempfile
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import resources
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from fastapi.staticfiles import StaticFiles

from firstoff.errors import InputError, told_of
from firstoff.pages import api, history, job, jobs, machine, numbers, programs, tools
from firstoff.pages.desk import Desk
from firstoff.pages.door import COOKIE, SESSION_S, Door, Guard
from firstoff.pages.frames import frame_of
from firstoff.pages.render import Frame, page, tokens_css


def make_app(folder: Path, door: Door) -> FastAPI:
    """The application for one shop behind one door."""

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        with tempfile.TemporaryDirectory(prefix="firstoff-") as dropped:
            app.state.dropped = Path(dropped)
            yield
            app.state.desk.close()

    app = FastAPI(title="Firstoff", lifespan=life, docs_url=None, redoc_url=None, openapi_url="/api/openapi.json")
    app.state.folder, app.state.desk, app.state.door = folder, Desk(folder), door
    app.state.programs = {}
    app.add_middleware(Guard, door=door)
    app.mount("/static", StaticFiles(packages=[("firstoff.pages", "static")]), name="static")
    app.include_router(jobs.router)
    app.include_router(job.router)
    app.include_router(programs.router)
    for room in (machine, tools, history, numbers, api):
        app.include_router(room.router)
    app.add_exception_handler(InputError, _cannot_be_used)

    @app.get("/", include_in_schema=False)
    def first() -> Response:
        return RedirectResponse("/jobs", 303)

    @app.get("/static-made/tokens.css", include_in_schema=False)
    def tokens() -> Response:
        css = (resources.files("firstoff.sheets") / "examination_page.css").read_text(encoding="utf-8")
        body = "\n".join(line for line in css.splitlines() if not line.startswith("@font-face"))
        return Response(tokens_css() + body, media_type="text/css")

    @app.get("/enter", include_in_schema=False)
    def ask() -> Response:
        return HTMLResponse(page("enter", Frame("", "", False), refused=False))

    @app.post("/enter", include_in_schema=False)
    async def enter(request: Request) -> Response:
        form = await request.form()
        token = door.enter(request.client.host if request.client else "", str(form.get("password", "")))
        if token is None:
            return HTMLResponse(page("enter", Frame("", "", False), refused=True), 403)
        back = RedirectResponse("/jobs", 303)
        back.set_cookie(COOKIE, token, max_age=int(SESSION_S), httponly=True, samesite="strict")
        return back

    @app.post("/leave", include_in_schema=False)
    def leave(request: Request) -> Response:
        door.leave(request.cookies.get(COOKIE))
        back = RedirectResponse("/enter", 303)
        back.delete_cookie(COOKIE)
        return back

    return app


def _cannot_be_used(request: Request, error: Exception) -> Response:
    faults = error.faults if isinstance(error, InputError) else ()
    if request.url.path.startswith("/api/") or "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"faults": told_of(faults)}, 422)
    again = request.url.path if request.method == "GET" else ""
    try:
        frame = frame_of(request, "")
    except InputError:  # the shop itself cannot be read
        frame = Frame("", "", request.app.state.door.password_hash is not None)
    return HTMLResponse(page("faults", frame, faults=faults, again=again), 422)
