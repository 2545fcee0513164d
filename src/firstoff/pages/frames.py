"""What every page of this shop needs: its frame, the desk, an examination by its number, a job by its name."""

from __future__ import annotations

from fastapi import HTTPException, Request

from firstoff.facts.shop import load_shop
from firstoff.pages.desk import Desk, Work
from firstoff.pages.render import Frame
from firstoff.sheets.job_view import JobView


def frame_of(request: Request, room: str) -> Frame:
    """The frame, with the shop's name as it is now."""
    state = request.app.state
    return Frame(room, load_shop(state.folder).name, state.door.password_hash is not None)


def desk_of(request: Request) -> Desk:
    """Where examinations are asked for."""
    desk: Desk = request.app.state.desk
    return desk


def work_of(request: Request, number: int) -> Work:
    """An examination that was asked for, as long as it is remembered; else 404."""
    work = desk_of(request).work(number)
    if work is None:
        raise HTTPException(404, "This examination is no longer here. Examine the job again.")
    return work


def view_of(request: Request, number: int) -> JobView:
    """What an examination found; 404 where it is not done."""
    view = work_of(request, number).view
    if view is None:
        raise HTTPException(404, "This examination is not done.")
    return view


def known_job(request: Request, job: str) -> None:
    """Only names of jobs of this shop: whatever else stands in an address is no path into the disk."""
    if job not in load_shop(request.app.state.folder).job_names:
        raise HTTPException(404, "There is no such job in this shop.")
