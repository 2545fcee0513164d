"""What is kept of an examination so that it can be told later whether it still holds: facts asked for, files read, who judged."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from firstoff import __version__
from firstoff.book.kept import KeptExamination
from firstoff.book.stands import JUDGED_BY
from firstoff.facts.change import Stated
from firstoff.facts.fact import FactSet
from firstoff.facts.heard import HeardFacts, all_paths, said_of
from firstoff.facts.job import Given, Job, load_job
from firstoff.facts.shop import JOBS, Shop
from firstoff.program.control import Control
from firstoff.program.sources import Sources
from firstoff.sheets.records import examination_record
from firstoff.verdict.examination import Examination
from firstoff.workflows import Prepared, job_of_shop, prepare_job

JUDGING_ROOMS = ("facts", "program", "path", "motion", "removal", "loads", "verdict", "sheets")
"""Rooms whose code, or shipped tables, make an answer or its record."""
BASE = "base"
"""Stands among what was given: the language that was named where no machine says."""
SHOP_ROOTS = ("machine.", "tools.", "materials.")


def kept_fields(
    prepared: Prepared,
    examination: Examination,
    argument: str | Path,
    given: Given | None = None,
    base: str | None = None,
) -> KeptExamination:
    """An examination that was just made, as it is kept; the book gives the number. Before pages or sheets are made of it, which ask for facts
    of their own."""
    record = examination_record(examination).model_dump(mode="json", by_alias=True)
    job = prepared.job
    return KeptExamination(
        number=0,
        at=prepared.now,
        job=job.program.name if job.bare else job.name,
        argument=_argument(job, argument),
        given=_given(given, base) if job.bare else {},
        program_sha256=prepared.reading.sha256,
        leaned=leaned_on(prepared),
        present=frozenset(all_paths(job.facts)),
        files=dict(sorted(_files(prepared).items())),
        record=record,
    )


def leaned_on(prepared: Prepared) -> dict[str, Stated]:
    """All that was asked of a job's facts until now with what they said (`said_of`), and who judged."""
    facts = prepared.job.facts
    everything = dict.fromkeys(("", *all_paths(facts)))
    asked = dict(facts.asked) if isinstance(facts, HeardFacts) else everything
    if facts.has(AFTER):  # the earlier job asks for facts in its own name: all of the shop may be among them
        asked |= dict.fromkeys((*SHOP_ROOTS, *(path for path in all_paths(facts) if path.startswith(SHOP_ROOTS))))
    return {JUDGED_BY: {"setting": judged_by()}, **said_of(facts, asked)}


AFTER = "job.stock.after"


@cache
def judged_by() -> str:
    """The version with the stamp of the code that judges."""
    total = hashlib.sha256()
    for room in JUDGING_ROOMS:
        for name, content in _sources(resources.files("firstoff") / room, room):
            total.update(f"{name}\0{len(content)}\n".encode())
            total.update(content)
    total.update((resources.files("firstoff") / "workflows" / "__init__.py").read_bytes())
    return f"{__version__} {total.hexdigest()[:16]}"


def _sources(folder: Traversable, name: str) -> Iterator[tuple[str, bytes]]:
    for item in sorted(folder.iterdir(), key=lambda one: one.name):
        if item.is_dir() and item.name != "__pycache__":
            yield from _sources(item, f"{name}/{item.name}")
        elif item.name.endswith((".py", ".toml")):
            yield f"{name}/{item.name}", item.read_bytes()


def facts_now(kept: KeptExamination, facts: FactSet) -> dict[str, Stated]:
    """What `facts` say now to all that an examination asked for, and who would judge."""
    return {
        JUDGED_BY: {"setting": judged_by()},
        **said_of(facts, {path: None for path in kept.leaned if path != JUDGED_BY}),
    }


def files_now(kept: KeptExamination, job: Job) -> dict[str, str]:
    """Stamps of the files that an examination read, as they are now; empty for one that cannot be read."""
    sources = Sources(job.program.name, (), Control.of(job.facts, _base(kept.given)), job.program)
    return {file: sources.stamp_again(_absolute(file, job.folder)) for file in kept.files}


def program_now(job: Job) -> str:
    """Stamp of the program as it is now; empty where it cannot be read."""
    try:
        return hashlib.sha256(job.program.read_bytes()).hexdigest()
    except OSError:
        return ""


def job_again(kept: KeptExamination, shop: Shop) -> tuple[Job, str | None]:
    """The job of a kept examination as it stands now, and the language that was named for it. Raises `InputError`."""
    given: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value for key, value in kept.given.items() if key != BASE
    }
    place = Path(kept.argument) if shop.folder is None else shop.folder / kept.argument
    return load_job(place, shop, Given(**given)), _base(kept.given)


def _base(given: Mapping[str, Any]) -> str | None:
    said = given.get(BASE)
    return None if said is None else str(said)


def _given(given: Given | None, base: str | None) -> dict[str, Any]:
    said = {
        key: list(value) if isinstance(value, tuple) else value
        for key, value in asdict(given or Given()).items()
        if value
    }
    return said if base is None else {**said, BASE: base}


def _argument(job: Job, argument: str | Path) -> str:
    """Where the job lies: relative to the shop where it is in it, else whole."""
    place = (Path(argument) if job.bare else job.folder).resolve()
    if job.shop.folder is not None and place.is_relative_to(job.shop.folder):
        return place.relative_to(job.shop.folder).as_posix()
    return str(place)


def _files(prepared: Prepared) -> dict[str, str]:
    """Files beside the program that were read, by path relative to the job's folder, with their stamps."""
    job = prepared.job
    found = {_relative(file, job.folder): stamp for file, stamp in prepared.reading.supplied}
    for file in _shapes(job.facts):
        found[file] = _stamp(job.folder / file)
    after = job.facts.settings.get(AFTER)
    if after is not None:
        found |= _files_before(prepared, str(after.value))
    return found


def _files_before(prepared: Prepared, name: str) -> dict[str, str]:
    """The files of the earlier job, whose end is this one's beginning."""
    shop, own = prepared.job.shop, prepared.job.folder
    other = prepare_job(load_job(job_of_shop(shop, name), shop), now=prepared.now)
    files = [other.job.folder / "job.toml", other.job.program]
    found = {_relative(str(file), own): _stamp(file) for file in files}
    for file, stamp in _files(other).items():
        found[_relative(_absolute(file, other.job.folder), own)] = stamp
    return found


def _shapes(facts: FactSet) -> Iterator[str]:
    for path in all_paths(facts):
        if path == "job.target" or (path.startswith(("job.stock.", "job.fixture.")) and path.endswith(".stl")):
            yield str(facts.settings[path].value)


def _relative(file: str, folder: Path) -> str:
    """By the job's folder where both lie in one shop folder or the file in the job's; else whole. A folder keeps its slash."""
    slash = "/" if file.endswith("/") else ""
    path, home = Path(file).resolve(), folder.resolve()
    inside = path.is_relative_to(home) or (home.parent.name == JOBS and path.is_relative_to(home.parent.parent))
    return Path(os.path.relpath(path, home) if inside else path).as_posix() + slash


def _absolute(file: str, folder: Path) -> str:
    return os.path.normpath(folder / file) + ("/" if file.endswith("/") else "")


def _stamp(file: Path) -> str:
    try:
        return hashlib.sha256(file.read_bytes()).hexdigest()
    except OSError:
        return ""
