"""Examinations that the pages asked for: one at a time in a process of its own, so that pages stay quick and any of them can be stopped."""

from __future__ import annotations

import itertools
import multiprocessing
import threading
import time
from collections import OrderedDict
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from firstoff.errors import Fault, InputError
from firstoff.facts.job import Given
from firstoff.sheets.job_view import JobView
from firstoff.sheets.judged_rows import Judged
from firstoff.sheets.versions import Before
from firstoff.workflows.viewing import Wanted, sheet_of, view_job

MOST_VIEWS = 6
"""Views held in memory; a million blocks take about 60 MB."""
MOST_WAITING = 20
LONG_FROM, SHOWN_FROM = 0.1, 0.03
"""Part from which the program is followed, and part of it that must be done before anybody says how long the rest takes."""


@dataclass(slots=True)
class Work:
    """One examination that was asked for."""

    number: int
    job: str
    program: Path | None
    """Stands in for the job's own."""
    sheet: tuple[str, str] | None = None
    """Paper and units, where a set-up sheet is asked for instead of a view."""
    given: Given | None = None
    """What is known of a program that belongs to no job."""
    stage: str = "waiting its turn"
    part: float = 0.0
    began: float | None = None
    pace: tuple[float, float] | None = None
    """When the long part began, and how far it was then."""
    told: list[Judged] = field(default_factory=list)
    """Questions as they were judged, only ever added to."""
    own: JobView | None = None
    """The job as it was examined before: what this is held against."""
    view: JobView | None = None
    pdf: bytes | None = None
    faults: tuple[Fault, ...] = ()
    stopped: bool = False
    done: threading.Event = field(default_factory=threading.Event)

    @property
    def title(self) -> str:
        """What its page is called."""
        name = self.program.name if self.program is not None else ""
        return f"{self.job}: {name}" if self.job and name else self.job or name

    @property
    def state(self) -> str:
        """waiting, going, done, faults or stopped."""
        if not self.done.is_set():
            return "waiting" if self.began is None else "going"
        return "stopped" if self.stopped else "faults" if self.faults else "done"

    @property
    def left_s(self) -> float | None:
        """How long it may still take, from how far it came since the long part began."""
        if self.pace is None or self.part - self.pace[1] < SHOWN_FROM:
            return None
        return (time.monotonic() - self.pace[0]) * (1 - self.part) / (self.part - self.pace[1])

    @property
    def judged(self) -> dict[str, Judged]:
        """Questions that are judged by now."""
        return {one.id: one for one in list(self.told)}

    def went(self, stage: str, part: float, now: float) -> None:
        """How far it came."""
        self.stage, self.part = stage, part
        if part >= LONG_FROM and self.pace is None:
            self.pace = (now, part)


class Desk:
    """Takes requests, works them off in order, and keeps the newest views."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._numbers = itertools.count(1)
        self._works: OrderedDict[int, Work] = OrderedDict()
        self._views: OrderedDict[str, int] = OrderedDict()
        """Job -> the newest finished work on its own program."""
        self._lock = threading.Lock()
        self._asked = threading.Semaphore(0)
        self._waiting: list[Work] = []
        self._going: Work | None = None
        self._process: multiprocessing.process.BaseProcess | None = None
        self._pipe: Connection | None = None
        threading.Thread(target=self._work_off, name="desk", daemon=True).start()

    def ask(
        self,
        job: str,
        program: Path | None = None,
        sheet: tuple[str, str] | None = None,
        given: Given | None = None,
    ) -> Work:
        """Ask for an examination, or a sheet; one that asks for the same and still waits or goes is joined. `given` with a program that
        belongs to no job."""
        with self._lock:
            for work in (*self._waiting, *([self._going] if self._going else [])):
                if (work.job, work.program, work.sheet, work.given) == (job, program, sheet, given):
                    return work
            if len(self._waiting) >= MOST_WAITING:
                raise InputError(Fault("too many examinations wait", str(MOST_WAITING), do="Wait until some are done."))
            work = Work(next(self._numbers), job, program, sheet, given)
            self._works[work.number] = work
            self._waiting.append(work)
        self._asked.release()
        return work

    def work(self, number: int) -> Work | None:
        """A work by its number, as long as it is remembered."""
        return self._works.get(number)

    def newest(self, job: str) -> Work | None:
        """The newest finished work on a job's own program."""
        number = self._views.get(job)
        return None if number is None else self._works.get(number)

    def stop(self, work: Work) -> None:
        """Stop it, whatever it is doing; nothing of it is kept."""
        with self._lock:
            if work.done.is_set():
                return
            work.stopped = True
            if work in self._waiting:
                self._waiting.remove(work)
                work.done.set()
            elif self._going is work and self._process is not None:
                self._process.kill()

    def close(self) -> None:
        """End the process."""
        if self._process is not None:
            self._process.kill()

    # --- the thread ---------------------------------------------------------------------------------------------------

    def _work_off(self) -> None:
        while True:
            self._asked.acquire()
            with self._lock:
                if not self._waiting:
                    continue  # it was stopped before its turn
                work = self._going = self._waiting.pop(0)
            work.began = time.monotonic()
            try:
                self._examine(work)
            except (EOFError, OSError):
                self._process = None
                if not work.stopped:
                    work.faults = (Fault("the examination ended without an answer", do="Examine it again."),)
            with self._lock:
                self._going = None
                if work.view is not None and work.program is None:
                    self._views[work.job] = work.number
                self._forget()
            work.done.set()

    def _examine(self, work: Work) -> None:
        pipe = self._worker()
        if work.stopped:
            return
        own = self.newest(work.job) if work.given is None and work.sheet is None else None
        work.own = own.view if own is not None else None
        before = None if work.own is None else Before(work.own.stood, "\n".join(work.own.program))
        pipe.send((self.folder, Wanted(work.job, work.program, work.given, before), work.sheet))
        while True:
            kind, told = pipe.recv()
            if kind == "part":
                stage, part = told
                work.went(stage, part, time.monotonic())
            elif kind == "judged":
                work.told.append(told)
            elif kind == "view":
                work.view = told
                return
            elif kind == "pdf":
                work.pdf = told
                return
            else:
                work.faults = told
                return

    def _worker(self) -> Connection:
        if self._process is None or not self._process.is_alive() or self._pipe is None:
            context = multiprocessing.get_context("spawn")
            pipe, other = context.Pipe()
            process = context.Process(target=_serve, args=(other,), name="examining", daemon=True)
            process.start()
            other.close()
            self._pipe, self._process = pipe, process  # only now can it be stopped
        return self._pipe

    def _forget(self) -> None:
        """All but the newest views."""
        kept = [number for number, work in self._works.items() if work.view is not None or work.pdf is not None]
        for number in kept[:-MOST_VIEWS]:
            del self._works[number]
            self._views = OrderedDict((job, one) for job, one in self._views.items() if one != number)


def _serve(pipe: Connection) -> None:
    """The process: one request after the other."""
    turn = threading.Lock()

    def send(told: tuple[str, Any]) -> None:
        with turn:  # questions are told of from two threads
            pipe.send(told)

    while True:
        try:
            folder, wanted, sheet = pipe.recv()
        except EOFError:
            return
        told: tuple[str, Any]
        last = ["", 0.0]

        def tell(stage: str, part: float, last: list[Any] = last) -> None:
            now = time.monotonic()
            if stage != last[0] or now - last[1] > 0.1:
                last[:] = [stage, now]
                send(("part", (stage, part)))

        try:
            if sheet is None:
                told = ("view", view_job(folder, wanted, None, tell, lambda one: send(("judged", one))))
            else:
                told = ("pdf", sheet_of(folder, wanted.job, sheet[0], sheet[1], None, tell))
        except InputError as error:
            told = ("faults", error.faults)
        except Exception as error:  # whatever it is, the page must hear of it and the process must live on
            what = f"a fault of ours ({type(error).__name__}: {error}); nothing was judged"
            told = (
                "faults",
                (Fault(what, do="Run firstoff examine with FIRSTOFF_TRACEBACK=1 and send us what it says."),),
            )
        try:
            send(told)
        except OSError:  # nobody is there any more
            return
