"""Examinations made again, many at a time: in this process, in several, or on a cluster that the user names. The answers are the same.

Processes are started fresh and hold one pipe to us each, and nothing else: whoever ends (we, by an interrupt, or one of them, for want of
memory) leaves nothing behind, and the job that was being examined is told. A cluster gets the files of shop and job with each task, so
that its workers need no disk of ours.
"""

from __future__ import annotations

import os
import shutil
import signal
import tempfile
import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import chain, islice
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from pathlib import Path
from threading import Thread
from typing import Any

from firstoff.book.kept import KeptExamination
from firstoff.book.rechecked import UNKNOWN, Fastest
from firstoff.errors import Fault, InputError
from firstoff.facts.change import Change, all_stated, changes
from firstoff.facts.fact import FactSet
from firstoff.facts.overlay import Overlay
from firstoff.facts.shop import MACHINE, MATERIALS, TOOLS, load_shop
from firstoff.sheets.records import examination_record
from firstoff.workflows import Prepared, judge, prepare_job
from firstoff.workflows.keeping import AFTER, job_again, judged_by
from firstoff.workflows.raised import fastest

Record = Mapping[str, Any]
Say = Callable[[str], None]
"""(what is being done)"""
LARGEST_SHIPPED = 64_000_000
"""Bytes of one file that goes to a cluster: eight times the largest subprogram."""
AHEAD = 3
"""Tasks under way for each worker of a cluster: one that it does, and some on their way."""
ANSWER_WITHIN_S = 20
"""How long a cluster may take to answer at all."""


@dataclass(frozen=True, slots=True)
class Task:
    """One job to be examined again: as the shop stands now, as it would be under a what-if, or both."""

    number: int
    """By which whoever asks knows it again."""
    kept: KeptExamination
    shop: Path
    at: datetime
    now: bool
    """Whether it is to be examined as the shop stands now; else what was kept stands for that."""
    overlay: Overlay | None = None
    as_written: bool = False
    """Only the feeds as written: no higher ones are tried."""
    files: Mapping[str, bytes] = field(default_factory=dict)
    """The shop's and the job's files by path relative to the shop, where they go with the task."""


@dataclass(frozen=True, slots=True)
class Done:
    """What came of a task. `now` and `other` are records, None where they were not asked for; `fault` says why there is nothing."""

    now: Record | None = None
    other: Record | None = None
    fastest_now: Fastest = UNKNOWN
    fastest_other: Fastest = UNKNOWN
    changes: tuple[Change, ...] = ()
    """Facts of the job that the what-if makes others."""
    fault: str = ""


def run(task: Task) -> Done:
    """Do one task. What is wrong with its input, or with us, is told and stops nobody else."""
    try:
        return _shipped(task) if task.files else _run(task)
    except InputError as error:
        return Done(fault=str(error))
    except MemoryError:
        return Done(fault="there was not enough memory for it")
    except Exception as error:  # one job must not stop a thousand others
        return Done(fault=f"a fault of ours ({type(error).__name__}: {error})")


def _run(task: Task) -> Done:
    here = _prepared(task, None)
    now = record_of(here) if task.now else None
    base = now if now is not None else task.kept.record
    if task.overlay is None:
        return Done(now=now)
    there = _prepared(task, task.overlay)
    changed = changed_facts(here.job.facts, there.job.facts)
    other = record_of(there)
    if task.as_written:
        return Done(now, other, changes=changed)
    return Done(now, other, fastest(here, base), fastest(there, other), changed)


def _prepared(task: Task, overlay: Overlay | None) -> Prepared:
    job, base = job_again(task.kept, load_shop(task.shop, overlay=overlay))
    return prepare_job(job, base=base, now=task.at)


def record_of(prepared: Prepared) -> Record:
    """The published record of a prepared job."""
    return examination_record(judge(prepared)).model_dump(mode="json", by_alias=True)


def changed_facts(before: FactSet, after: FactSet) -> tuple[Change, ...]:
    """Facts that somebody states and that differ."""
    return changes(all_stated(before), all_stated(after))


def run_all(tasks: Iterable[Task], processes: int, cluster: str | None, tell: Say) -> Iterator[tuple[Task, Done]]:
    """All tasks with what came of each, as they are done. A task is asked for when somebody is free to do it."""
    if cluster is not None:
        yield from _on_cluster(tasks, cluster, tell)
        return
    waiting = iter(tasks)
    first = list(islice(waiting, 2))
    if processes > 1 and len(first) > 1:
        yield from _in_processes(chain(first, waiting), processes, tell)
        return
    for task in chain(first, waiting):  # for one alone no process is worth its start
        tell(f"examining {task.kept.job}")
        yield task, run(task)


# ---- processes -----------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Worker:
    """A process with what it is doing."""

    process: SpawnProcess
    line: Connection
    task: Task | None = None


def _in_processes(tasks: Iterable[Task], most: int, tell: Say) -> Iterator[tuple[Task, Done]]:
    waiting = iter(tasks)
    with _workers_here() as workers:
        while True:
            _give_out(waiting, workers, most)
            busy = {worker.line: worker for worker in workers if worker.task is not None}
            if not busy:
                return
            tell("examining " + ", ".join(worker.task.kept.job for worker in busy.values() if worker.task is not None))
            for line in wait(list(busy)):
                worker = busy[line]  # type: ignore[index]
                task, worker.task = worker.task, None
                assert task is not None
                try:
                    yield task, worker.line.recv()
                except (EOFError, OSError):
                    workers.remove(worker)
                    yield task, Done(fault="its process was ended from outside: there may not be memory enough")


def _give_out(waiting: Iterator[Task], workers: list[_Worker], most: int) -> None:
    """A task to everybody who has none, and to new ones as long as there are tasks and room for more."""
    while True:
        free = next((worker for worker in workers if worker.task is None), None)
        if free is None and len(workers) >= most:
            return
        task = next(waiting, None)
        if task is None:
            return
        if free is None:
            free = _start()
            workers.append(free)
        free.task = task
        with suppress(OSError):  # it has ended: reading from it tells
            free.line.send(task)


@contextmanager
def _workers_here() -> Iterator[list[_Worker]]:
    """Processes that were started, all of them ended at the end."""
    workers: list[_Worker] = []
    try:
        yield workers
    finally:
        for worker in workers:
            worker.line.close()
            if worker.task is not None:
                worker.process.kill()
        for worker in workers:
            worker.process.join()


def _start() -> _Worker:
    """A fresh process that obeys us alone: an interrupt from the keyboard goes to us, and it ends when we do."""
    context = get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(theirs,), daemon=True)
    with _interrupts_held():
        process.start()
    theirs.close()
    return _Worker(process, ours)


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """What is started meanwhile never hears of interrupts; we hear of them a moment later."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _serve(line: Connection) -> None:
    Thread(target=_end_with_parent, daemon=True).start()
    with suppress(EOFError, OSError):
        while True:
            line.send(run(line.recv()))


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
    os._exit(0)


# ---- a cluster -----------------------------------------------------------------------------------------------------


def _on_cluster(tasks: Iterable[Task], address: str, tell: Say) -> Iterator[tuple[Task, Done]]:
    """A few tasks a worker are under way at a time, so that a thousand programs are never on their way at once. Tasks whose files lie outside
    of the shop are done here: the cluster would not find them."""
    waiting = iter(tasks)
    with _client(address) as (client, as_completed):
        most = AHEAD * _workers(client, address)
        under_way: dict[Any, Task] = {}
        answers = as_completed()
        while True:
            while len(under_way) < most and (task := next(waiting, None)) is not None:
                files = shipped_files(task)
                if files is None:
                    yield task, run(task)
                    continue
                future = _sent(client, replace(task, files=files))
                under_way[future] = task
                answers.add(future)
            if not under_way:
                return
            tell(f"examining on {address}")
            future = next(answers)
            yield under_way.pop(future), _result(future)


def _sent(client: Any, task: Task) -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # that a long program makes a large task is no news to anybody
        return client.submit(run, task, pure=False)


def _result(future: Any) -> Done:
    try:
        result = future.result()
    except Exception as error:  # whatever a cluster may say of a lost worker
        return Done(fault=f"the cluster did not finish it ({type(error).__name__})")
    return result if isinstance(result, Done) else Done(fault="the cluster gave no answer")


@contextmanager
def _client(address: str) -> Iterator[tuple[Any, Callable[..., Any]]]:
    try:
        from distributed import Client, as_completed
    except ImportError:
        do = "Install it: pip install 'firstoff[fleet]'."
        raise InputError(Fault("a cluster needs the fleet extra, which is not installed", address, do=do)) from None
    try:
        client: Any = Client(address, timeout=ANSWER_WITHIN_S, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        do = "Start its scheduler, or leave --cluster out."
        raise InputError(Fault("no cluster answers there", address, f"{error or 'tcp://HOST:PORT'}", do=do)) from None
    try:
        with client.as_current():
            yield client, as_completed
    finally:
        client.close()


def judged_by_us() -> str:
    """The version of this process."""
    return judged_by()


def _workers(client: Any, address: str) -> int:
    """How many there are. Raises `InputError` where there is none, or one would judge otherwise than we do."""
    do = "Install the same version of Firstoff with every worker."
    try:
        versions = client.run(judged_by)
    except Exception as error:  # a worker without Firstoff cannot even read what it is asked
        raise InputError(
            Fault("a worker of the cluster cannot judge", type(error).__name__, file=address, do=do)
        ) from None
    if not versions:
        raise InputError(Fault("the cluster has no workers", address, do="Start at least one."))
    ours = judged_by_us()
    others = sorted({str(version) for version in versions.values()} - {ours})
    if others:
        raise InputError(Fault("workers of the cluster judge otherwise", ", ".join(others), ours, address, do=do))
    return len(versions)


def shipped_files(task: Task) -> Mapping[str, bytes] | None:
    """All that a task reads, by path relative to the shop; None where something lies outside of it, or is too big."""
    shop = task.shop.resolve()
    if Path(task.kept.argument).is_absolute() or any(Path(file).is_absolute() for file in task.kept.files):
        return None
    folders = {_folder_of(shop, task.kept.argument)}
    for overlay in (None,) if task.overlay is None else (None, task.overlay):
        try:
            job, _ = job_again(task.kept, load_shop(task.shop, overlay=overlay))
        except InputError:
            return None  # it is told here, with the names that lie here
        folders |= {job.folder, *_named_folders(job.facts, job.folder)}
        folders |= _folders_before(job.facts, shop)
    if not all(folder.is_relative_to(shop) for folder in folders):
        return None
    files = [shop / name for name in (MACHINE, TOOLS, MATERIALS)]
    files += [path for folder in sorted(folders) if folder.is_dir() for path in sorted(folder.iterdir())]
    files = [path for path in files if path.is_file() and path.suffix != ".sqlite"]
    if any(path.stat().st_size > LARGEST_SHIPPED for path in files):
        return None
    return {path.relative_to(shop).as_posix(): path.read_bytes() for path in files}


def _folder_of(shop: Path, argument: str) -> Path:
    place = (shop / argument).resolve()
    return place if place.is_dir() else place.parent


def _named_folders(facts: FactSet, home: Path) -> set[Path]:
    said = facts.settings.get("machine.control.program_folders")
    names = said.value if said is not None and isinstance(said.value, tuple) else ()
    return {(home / name).resolve() for name in names}


def _folders_before(facts: FactSet, shop: Path) -> set[Path]:
    """Folders of the jobs whose end is this one's blank: all jobs' where there is one, for they may wait for each other in a row."""
    return {path.parent for path in shop.glob("jobs/*/job.toml")} if facts.has(AFTER) else set()


def _own_folder() -> str | None:
    """The folder that a worker of a cluster has for itself, which is taken away with it however it ends; None elsewhere."""
    try:
        from distributed import get_worker

        return str(get_worker().local_directory)
    except (ImportError, ValueError):
        return None


def _shipped(task: Task) -> Done:
    """Lay the files out for as long as it takes, and leave nothing."""
    home = Path(tempfile.mkdtemp(prefix="firstoff-", dir=_own_folder()))
    try:
        for name, content in task.files.items():
            path = home / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        done = run(replace(task, shop=home, files={}))
        return replace(done, fault=done.fault.replace(str(home.resolve()), str(task.shop)))
    finally:
        shutil.rmtree(home, ignore_errors=True)
