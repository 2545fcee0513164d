"""Lays out the demo shop in a folder: all of it or nothing, and never over anything that is not a demo shop as it was laid out."""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from importlib import resources
from pathlib import Path

from firstoff.demo.good import GOOD
from firstoff.demo.mistakes import MISTAKES_OF_MOVING
from firstoff.demo.mistakes_of_cutting import MISTAKES_OF_CUTTING
from firstoff.demo.plans import JobPlan, Mistake, edited
from firstoff.demo.programs import cable_clip, clamp_ring, logger_lid, sensor_cap, vent_plug, warming_up
from firstoff.demo.ring_shape import ring_stl
from firstoff.errors import Fault, InputError
from firstoff.facts.shop import load_shop
from firstoff.interrupts import stop_if_asked, whole
from firstoff.write.language import Language, language_of

LAID_OUT = ".laid-out.json"
"""Marks a folder as a demo shop; holds the stamp of every file that was laid out, so that a changed one is noticed."""
SHOP_FILES = ("machine.toml", "tools.toml", "materials.toml")
WHAT_IFS = ("what-if-spindle.toml", "what-if-holder.toml", "what-if-rack.toml")
"""Facts to be laid over the shop's by `firstoff recheck --what-if`."""
PROGRAMS: Mapping[str, Callable[[Language], str]] = {
    "logger-lid": logger_lid,
    "cable-clip": cable_clip,
    "sensor-cap": sensor_cap,
    "clamp-ring": clamp_ring,
    "vent-plug": vent_plug,
}


SHAPES: Mapping[str, Mapping[str, Callable[[], bytes]]] = {"clamp-ring": {"ring.stl": ring_stl}}
"""Files of shapes that a good job has beside it."""
MISTAKES: tuple[Mistake, ...] = (*MISTAKES_OF_MOVING, *MISTAKES_OF_CUTTING)


def lay_out(folder: Path, now: datetime) -> tuple[JobPlan, ...]:
    """Write the demo shop into `folder` with today's card dated `now`, and say what each job should show, in the order to look at.

    An earlier demo shop there is renewed; files that it did not lay out stay. Raises `InputError`, with nothing changed, if the folder is
    something else, or if a file of the demo was changed since.
    """
    folder = folder.expanduser().resolve()
    kept = _kept(folder)
    with whole():
        staging = _staging(folder)
        try:
            plans = _write(staging, now)
            for file in kept:
                stop_if_asked()
                (staging / file).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(folder / file, staging / file)
            _swap(staging, folder)
        finally:
            shutil.rmtree(staging, ignore_errors=True)
    return plans


def _write(folder: Path, now: datetime) -> tuple[JobPlan, ...]:
    files: dict[str, bytes] = {name: _dated(_template(name), now).encode() for name in SHOP_FILES}
    _save(folder, files)
    language = language_of(load_shop(folder).facts)  # the programs are written for the machine as its file describes it
    programs = {plan.name: PROGRAMS[plan.name](language) for plan in GOOD}
    plans: list[JobPlan] = []
    for plan in GOOD:
        files |= _job(plan.name, programs[plan.name], _template(f"{plan.name}.toml"), SHAPES.get(plan.name, {}))
        plans.append(plan)
    for mistake in MISTAKES:
        stop_if_asked()
        text = programs[mistake.twin] if mistake.written is None else mistake.written(language)
        program, line = edited(text, mistake.program)
        job, _ = edited(_template(f"{mistake.twin}.toml"), mistake.job)
        files |= _job(mistake.name, program, job, mistake.shapes or SHAPES.get(mistake.twin, {}))
        plans.append(JobPlan(mistake.name, mistake.story, mistake.expected, line, mistake.twin, mistake.hours_later))
    files |= {name: _template(name).encode() for name in WHAT_IFS}
    files["warm-up.nc"] = warming_up(language).encode()
    files["README.txt"] = _template("README.txt").replace("@JOBS@", _listed(plans)).encode()
    stamps = {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
    mark = json.dumps({"demo": "firstoff", "files": stamps}, indent=1) + "\n"
    _save(folder, {**files, LAID_OUT: mark.encode()})
    return tuple(plans)


def _job(name: str, program: str, job: str, shapes: Mapping[str, Callable[[], bytes]]) -> dict[str, bytes]:
    made = {f"jobs/{name}/{file}": shape() for file, shape in shapes.items()}
    return {f"jobs/{name}/program.nc": program.encode(), f"jobs/{name}/job.toml": job.encode(), **made}


def _save(folder: Path, files: Mapping[str, bytes]) -> None:
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def _template(name: str) -> str:
    return (resources.files("firstoff.demo") / "templates" / name).read_text(encoding="utf-8")


def _dated(text: str, now: datetime) -> str:
    days = {"@TODAY@": 0, "@LAST_WEEK@": 6, "@LAST_MONTH@": 33, "@LAST_SUMMER@": 118}
    for mark, ago in days.items():
        moment = (now - timedelta(days=ago)).replace(microsecond=0)
        text = text.replace(mark, moment.isoformat() if ago == 0 else moment.date().isoformat())
    return text


def _listed(plans: list[JobPlan]) -> str:
    width = max(len(plan.name) for plan in plans)
    return "\n".join(f"   {plan.name:<{width}}  {plan.story}" for plan in plans)


def _kept(folder: Path) -> tuple[Path, ...]:
    """Files of an earlier demo shop that are not ours and stay. Raises `InputError` if the folder must not be touched."""
    if not folder.exists():
        return ()
    if not folder.is_dir():
        raise InputError(Fault("this is a file", str(folder), "a folder that is empty or not there yet"))
    present = sorted(path.relative_to(folder) for path in folder.rglob("*") if not path.is_dir())
    if not present:
        return ()
    stamps = _stamps(folder)
    if stamps is None:
        allowed = "a folder that is empty, not there yet, or a demo shop"
        raise InputError(Fault("this folder holds something that is not a demo shop", str(folder), allowed))
    ours = [path for path in present if path.as_posix() in stamps]
    changed = [path for path in ours if _stamp(folder / path) != stamps[path.as_posix()]]
    if changed:
        names = ", ".join(path.as_posix() for path in changed)
        do = "Rename the folder to keep your changes, or name another one."
        raise InputError(Fault("files of this demo shop were changed since it was laid out", names, do=do))
    return tuple(path for path in present if path.as_posix() not in stamps and path.name != LAID_OUT)


def _stamps(folder: Path) -> dict[str, str] | None:
    try:
        said = json.loads((folder / LAID_OUT).read_text(encoding="utf-8"))
        return {str(name): str(stamp) for name, stamp in said["files"].items()} if said["demo"] == "firstoff" else None
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def _stamp(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _staging(folder: Path) -> Path:
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        return Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    except OSError as error:
        raise InputError(
            Fault("the folder cannot be made", str(folder), "a place you may write to", do=str(error))
        ) from error


def _swap(staging: Path, folder: Path) -> None:
    """Put the new folder in the old one's place; whatever happens, one of the two is there."""
    staging.chmod(0o755)
    if not folder.exists():
        staging.rename(folder)
        return
    aside = folder.with_name(f"{staging.name}-old")
    folder.rename(aside)
    try:
        staging.rename(folder)
    except BaseException:
        aside.rename(folder)
        raise
    shutil.rmtree(aside)
