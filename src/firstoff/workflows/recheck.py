"""Which kept examinations still stand, as the shop is now or as it would be, and what moved where they do not."""

from __future__ import annotations

import difflib
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from rich.console import Console

from firstoff.book.kept import KeptExamination
from firstoff.book.moved import moved, verdict_of
from firstoff.book.reading import kept_examination, newest_examinations, run_counts
from firstoff.book.rechecked import Recheck, Rechecked
from firstoff.book.stands import Reason, asks_for, stands
from firstoff.errors import Fault, InputError
from firstoff.facts.job import JOB, Job
from firstoff.facts.materials import shipped_materials
from firstoff.facts.overlay import Overlay, load_overlay, newcomers, strangers
from firstoff.facts.reads import unknown_key
from firstoff.facts.schema import JobFile
from firstoff.facts.shop import Shop, load_shop
from firstoff.facts.toml_file import TomlFile
from firstoff.facts.validate import validated
from firstoff.sheets.recheck_list import print_recheck
from firstoff.sheets.recheck_record import recheck_record
from firstoff.verdict.words import ShopUnits
from firstoff.workflows import Tell
from firstoff.workflows.book import ShopBook
from firstoff.workflows.fleet import Done, Task, changed_facts, run_all
from firstoff.workflows.keeping import facts_now, files_now, job_again, program_now


@dataclass(frozen=True, slots=True)
class _Looked:
    """A kept examination held against the facts of today, before anything is examined."""

    kept: KeptExamination
    since: Reason | None = None
    """What changed since it was kept."""
    otherwise: Reason | None = None
    """What the what-if changes of what it leans on."""
    fault: str = ""


def what_if(file: Path | None, sets: Sequence[str]) -> Overlay | None:
    """What a command line says would be otherwise; None where it says nothing. Raises `InputError`."""
    return load_overlay(file, sets) if file is not None or sets else None


def show_recheck(found: Recheck, units: ShopUnits, console: Console) -> None:
    """Print a recheck for a person."""
    print_recheck(found, units, console)


def recheck_json(found: Recheck) -> str:
    """The published record as JSON text."""
    return recheck_record(found).model_dump_json(by_alias=True, indent=1)


def recheck_book(
    shop: ShopBook,
    names: Sequence[str] = (),
    overlay: Overlay | None = None,
    *,
    all_anew: bool = False,
    as_written: bool = False,
    processes: int | None = None,
    cluster: str | None = None,
    now: datetime | None = None,
    tell: Tell,
) -> Recheck:
    """Recheck the newest examination of every job in the book, or of the jobs named. Raises `InputError` for a name that is not in it."""
    at = now or datetime.now()
    with shop.book.reading() as connection:
        numbers = _named(newest_examinations(connection, shop.book), names)
        runs = run_counts(connection, shop.book, at)

    def kept() -> Iterator[KeptExamination]:
        for number in (
            numbers
        ):  # one at a time: thousands of them would fill the memory, and a long look would hold up who writes
            with shop.book.reading() as connection:
                one = kept_examination(connection, shop.book, number)
            yield one

    return recheck(
        kept(), shop.folder, overlay, count=len(numbers), runs=runs, all_anew=all_anew, as_written=as_written,
        processes=processes, cluster=cluster, now=at, tell=tell,
    )  # fmt: skip


def _named(newest: Mapping[str, int], names: Sequence[str]) -> list[int]:
    """Entries of the jobs named, of all where none is."""
    for name in names:
        if name not in newest:
            near = difflib.get_close_matches(name, newest, n=3, cutoff=0.3)
            allowed = "nearest: " + ", ".join(near) if near else "a job that was examined: firstoff examine keeps it"
            raise InputError(Fault("the book has no examination of this job", name, allowed))
    return [number for name, number in newest.items() if not names or name in names]


def recheck(
    kept: Iterable[KeptExamination],
    folder: Path,
    overlay: Overlay | None = None,
    *,
    count: int | None = None,
    runs: Mapping[str, int] | None = None,
    all_anew: bool = False,
    as_written: bool = False,
    processes: int | None = None,
    cluster: str | None = None,
    now: datetime | None = None,
    tell: Tell,
) -> Recheck:
    """Recheck kept examinations (`count` of them) against the shop in `folder`, or against it with a what-if laid over. Nothing is written.

    Only those are examined again that asked for something which is not what it was. `all_anew` examines all; `as_written` tries no higher
    feeds. Raises `InputError` where the shop, the what-if or the cluster cannot be used; what is wrong with one job is told with it.
    """
    tell("reading the shop", 0.0)
    if overlay is not None:
        _refuse_unknown(overlay)
    shop = load_shop(folder)
    there = _names_there(shop)
    if overlay is not None and (unknown := strangers(overlay, there)):
        raise InputError(*unknown)
    other = None if overlay is None else load_shop(folder, overlay=overlay)
    unasked = {} if other is None else dict.fromkeys(one.path for one in changed_facts(shop.facts, other.facts))
    at, ran = now or datetime.now(), runs or {}
    found: dict[int, Rechecked] = {}
    waiting: dict[int, _Looked] = {}

    def say(what: str) -> None:
        tell(what, len(found) / count if count else 0.0)

    def tasks() -> Iterator[Task]:
        for number, one in enumerate(kept):
            say("looking for what changed")
            looked = _look(one, shop, other)
            for path in [path for path in unasked if asks_for(one, path)]:
                del unasked[path]
            if looked.fault or not (all_anew or looked.since is not None or looked.otherwise is not None):
                found[number] = _told(looked, None, overlay, ran)
                continue
            waiting[number] = looked
            yield Task(number, one, folder, at, looked.since is not None or all_anew, overlay, as_written)

    for task, done in run_all(tasks(), processes or processes_here(), cluster, say):
        found[task.number] = _told(waiting.pop(task.number), done, overlay, ran)
    jobs = tuple(found[number] for number in sorted(found))
    added = () if overlay is None else tuple(f"{one.kind} {one.name}" for one in newcomers(overlay, there))
    return Recheck("" if overlay is None else overlay.name, jobs, tuple(unasked), as_written, added)


def _names_there(shop: Shop) -> dict[str, tuple[str, ...]]:
    """Names of the shop's things by their kind, as a what-if may call them."""
    return {
        "tool": shop.tool_names,
        "material": tuple({**(shop.materials.material or {}), **(shipped_materials()[0].material or {})}),
        "zone": tuple(one.name for one in shop.machine.zone or ()),
        "pocket": tuple(str(one.number) for one in shop.tools.pocket or ()),
    }


def _refuse_unknown(overlay: Overlay) -> None:
    """Raises `InputError` for a key that no job could have: else every job would tell it."""
    faults: list[Fault] = []
    try:
        validated(JobFile, overlay.over(TomlFile(JOB, {"program": "any"}, {}), "job"), faults)
    except InputError as error:
        faults += error.faults
    unknown = [fault for fault in faults if fault.what.endswith(unknown_key("", ("",)).what)]
    if unknown:
        raise InputError(*unknown)


def processes_here() -> int:
    """As many as there are processors to be had."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _look(kept: KeptExamination, shop: Shop, other: Shop | None) -> _Looked:
    """Hold what was kept against the shop, and against the what-if where the shop changed nothing."""
    try:
        since = _reason(kept, job_again(kept, shop)[0])
        otherwise = None
        if other is not None:
            job = job_again(kept, other)[0]
            otherwise = _reason(kept, job) if since is None else Reason()
    except InputError as error:
        return _Looked(kept, fault=str(error))
    return _Looked(kept, since, otherwise)


def _reason(kept: KeptExamination, job: Job) -> Reason | None:
    return stands(kept, facts_now(kept, job.facts), files_now(kept, job), program_now(job))


def _told(looked: _Looked, done: Done | None, overlay: Overlay | None, runs: Mapping[str, int]) -> Rechecked:
    kept = looked.kept
    found = Rechecked(
        job=kept.job,
        number=kept.number,
        at=kept.at,
        runs=runs.get(kept.job, 0),
        verdict=verdict_of(kept.record),
        anew=done is not None,
        reason=looked.since if overlay is None else looked.otherwise,
        fault=looked.fault or (done.fault if done is not None else ""),
    )
    if done is None or found.fault:
        return found
    since = looked.since.changes if looked.since is not None else ()
    if overlay is None:
        return found if done.now is None else replace(found, moved=moved(kept.record, done.now, since))
    if done.other is None:
        return found
    base = kept.record if done.now is None else done.now
    return replace(
        found,
        verdict=verdict_of(base),
        reason=Reason(done.changes),
        moved=moved(base, done.other, done.changes),
        fastest=(done.fastest_now, done.fastest_other),
        now_first=None if done.now is None else moved(kept.record, done.now, since),
    )
