"""Facts: showing one with its history, changing one in the file and in the book, listing them by age and doubt."""

from __future__ import annotations

import math
import re
import statistics
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from firstoff.book.kept import KeptTrial, Past
from firstoff.book.reading import history, since, trials
from firstoff.book.writing import add
from firstoff.errors import Fault, InputError
from firstoff.facts.change import Change, stated
from firstoff.facts.edit import Edit, change_shop, check_edits, key_of
from firstoff.facts.fact import Evidence, Fact, FactSet, Setting
from firstoff.facts.job import own_facts
from firstoff.facts.lines import KeyPath
from firstoff.facts.replace_file import Replacement, replace_files
from firstoff.facts.shop import JOBS, load_shop
from firstoff.facts.toml_file import read_toml
from firstoff.workflows.book import JobChange, Noticed, ShopBook, record_files, writing

FEWEST_READINGS = 2
"""A spread needs two."""


@dataclass(frozen=True, slots=True)
class Changed:
    """What a change did to the facts, and what was found edited by hand before it."""

    changed: tuple[JobChange, ...]
    noticed: Noticed


@dataclass(frozen=True, slots=True)
class Told:
    """What somebody says of a fact beside its value, each as typed; None where nothing is said."""

    u: str | None = None
    df: float | None = None
    evidence: str | None = None
    note: str | None = None
    on: str | None = None


NOTHING_TOLD = Told()


@dataclass(frozen=True, slots=True)
class FactShown:
    """One fact as it is now and as it was."""

    path: str
    now: Fact | Setting | None
    past: tuple[Past, ...]
    trials: tuple[KeptTrial, ...]


@dataclass(frozen=True, slots=True)
class FactLine:
    """One fact in a list."""

    fact: Fact
    since: datetime | None
    """When it was measured, where it says so; else since when the book knows it."""
    age_days: float | None
    width: float | None
    """Standard uncertainty over the value; None for a place, whose share of a coordinate says nothing."""


def change(shop: ShopBook, edits: Sequence[Edit], *, why: str = "") -> Changed:
    """Change the text files and record it, in one go: nobody else writes meanwhile.

    Raises `InputError`, with nothing changed, where the shop would no longer be one, or a file was saved by somebody else meanwhile.
    Ended between file and book, the change is found at the next command and recorded as one by hand.
    """
    with _both_or_neither(shop, edits), writing(shop) as (connection, before):
        change_shop(shop.folder, edits)
        return Changed(record_files(connection, shop, "set", why), before)


@contextmanager
def _both_or_neither(shop: ShopBook, edits: Sequence[Edit]) -> Iterator[None]:
    """Where the book cannot record what was written into the files, the files are put back as they were."""
    names = list(dict.fromkeys(edit.file for edit in edits))
    before = {name: _bytes(shop.folder / name) for name in names}
    try:
        yield
    except InputError:
        for name, old in before.items():
            now = _bytes(shop.folder / name)
            if now != old and old is not None:
                replace_files([Replacement((shop.folder / name).resolve(), now, old, name)])
        raise


def _bytes(path: Path) -> bytes | None:
    return path.read_bytes() if path.is_file() else None


def set_fact(
    shop: ShopBook, path: str, value: str, told: Told = NOTHING_TOLD, *, job: str | None = None, why: str = ""
) -> Changed:
    """Set one fact to what was typed. Raises `InputError` as `change` does, and where no such fact can be."""
    file, key = key_of(shop.folder, path, job)
    _refuse_shared(shop.folder, file, key, path)
    written = _written(value, told)
    edits = [Edit(file, key, written)]
    _refuse_lost_evidence(shop, path, edits, job)
    return change(shop, edits, why=why)


def check_fact(shop: ShopBook, path: str, value: str, told: Told = NOTHING_TOLD) -> tuple[Change, ...]:
    """What `set_fact` would change, with nothing written. Raises `InputError` as it would."""
    file, key = key_of(shop.folder, path, None)
    _refuse_shared(shop.folder, file, key, path)
    edits = [Edit(file, key, _written(value, told))]
    _refuse_lost_evidence(shop, path, edits, None)
    return check_edits(shop.folder, edits)


_NAMING = ("name", "number", "T")


def _refuse_shared(folder: Path, file: str, key: KeyPath, path: str) -> None:
    """One element of several that were measured together: its new value would carry the old evidence and date."""
    if not isinstance(key[-1], int) or not (folder / file).is_file():
        return
    found: object = read_toml(folder / file, file).values
    for part in key[:-1]:
        if isinstance(found, dict):
            found = found.get(str(part))
        elif isinstance(found, list):
            named = [one for one in found if isinstance(one, dict) and part in (one.get(name) for name in _NAMING)]
            found = named[0] if named else None
    whole = path.rpartition(".")[0]
    do = f"Set {whole} as a whole, with the evidence of its new values."
    if isinstance(found, dict):
        raise InputError(Fault("these values share their evidence and date", path, do=do, file=file))
    if not isinstance(found, list | None):
        raise InputError(Fault("this is one value for all of them", str(found), do=do, file=file))


def _refuse_lost_evidence(shop: ShopBook, path: str, edits: Sequence[Edit], job: str | None) -> None:
    """A value that was measured here never becomes an assumed one in passing."""
    if any(isinstance(edit.value, dict) and "evidence" in edit.value for edit in edits):
        return
    facts = _facts_now(shop, job).facts.values()
    measured = [fact for fact in facts if _at_or_below(fact.path, path) and fact.evidence in _FROM_HERE]
    if measured:
        check_edits(shop.folder, edits)  # what can be no such value at all is told first
        do = "Say its evidence too: measured, with the uncertainty of the new value, or assumed where nobody measured (--evidence)."
        raise InputError(
            Fault(f"this is {measured[0].evidence.value} now: say where the new value comes from", path, do=do)
        )


_FROM_HERE = (Evidence.MEASURED, Evidence.LEARNED)


def set_from_readings(
    shop: ShopBook, path: str, readings: str, told: Told = NOTHING_TOLD, *, job: str | None = None, why: str = ""
) -> Changed:
    """Set a fact to the mean of readings such as ``12.1 12.3 12.2 N/µm``: u = s/√n with n − 1 degrees of freedom (JCGM 100:2008, 4.2)."""
    values, unit = _readings(readings)
    mean, spread = statistics.fmean(values), statistics.stdev(values)
    if spread == 0:
        do = "Read it finer, or say its doubt with --u."
        raise InputError(Fault("all readings are alike: they tell no spread", readings, do=do))
    u = spread / math.sqrt(len(values))
    df = len(values) - 1
    digits = max(0, 2 - math.floor(math.log10(u)))
    table = _table(
        f"{mean:.{digits}f} {unit}".strip(),
        Told(told.u or f"{u:.3g} {unit}".strip(), told.df or df, "measured", told.note, told.on or _now()),
    )
    file, key = key_of(shop.folder, path, job)
    edits = [Edit(file, key, table)]
    with _both_or_neither(shop, edits), writing(shop) as (connection, before):
        change_shop(shop.folder, edits)
        changed = record_files(connection, shop, "set", why)
        body = {"path": path, "unit": unit, "readings": values, "mean": mean, "u": u, "df": float(df)}
        add(connection, shop.book, "trial", body, why=why)
    return Changed(changed, before)


def _now() -> str:
    """To the second: a length measured after a new grip of the same day must be told from one before."""
    return datetime.now().replace(microsecond=0).isoformat()


_READING = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)$")


def _readings(text: str) -> tuple[list[float], str]:
    """Numbers, then one unit."""
    parts = text.replace("\u2212", "-").replace(",", " ").split()
    count = next((index for index, part in enumerate(parts) if not _READING.match(part)), len(parts))
    unit = " ".join(parts[count:])
    if count < FEWEST_READINGS or any(_READING.match(part) for part in parts[count:]):
        allowed = 'at least two numbers and one unit, such as "12.1 12.3 12.2 N/µm"'
        raise InputError(Fault("these readings cannot be used", text, allowed))
    return [float(part) for part in parts[:count]], unit


def _written(value: str, told: Told) -> object:
    """What goes into the file: what was typed, as TOML where it is TOML, else as text; a table where more is told."""
    plain = _as_toml(value)
    if told == NOTHING_TOLD:
        return plain
    if isinstance(plain, dict):
        raise InputError(Fault("this says its doubt and evidence itself", value, "a plain value beside these options"))
    return _table(plain, told)


def _as_toml(value: str) -> object:
    try:
        return tomllib.loads(f"value = {value}")["value"]
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        return value


def _table(value: object, told: Told) -> dict[str, Any]:
    evidence = told.evidence
    on = told.on or (_now() if evidence in (Evidence.MEASURED, Evidence.LEARNED) else None)
    said: dict[str, Any] = {"value": value}
    for key, one in (("u", told.u), ("df", told.df), ("evidence", evidence), ("note", told.note)):
        if one is not None:
            said[key] = one
    if on is not None:
        try:
            said["on"] = date.fromisoformat(on) if len(on) == len("2026-05-04") else datetime.fromisoformat(on)
        except ValueError:
            raise InputError(Fault("--on is no date", on, "a date such as 2026-05-04")) from None
    return said


def show_fact(shop: ShopBook, path: str, job: str | None = None) -> tuple[FactShown, ...]:
    """The fact at `path` and those below it, each with its past. Raises `InputError` where nothing is, was or could be there."""
    facts = _facts_now(shop, job)
    with shop.book.reading() as connection:
        known = {one for where, one in since(connection, shop.book) if where == (job or "")}
        here = [one for one in (*facts.facts, *facts.settings) if _at_or_below(one, path)]
        gone = sorted(one for one in known if _at_or_below(one, path) and not facts.has(one))
        shown = tuple(
            FactShown(
                one,
                facts.facts.get(one) or facts.settings.get(one),
                history(connection, shop.book, one, job or ""),
                trials(connection, shop.book, one) if not job else (),
            )
            for one in (*here, *gone)
        )
    if not shown:
        key_of(shop.folder, path, job)  # tells the nearest known key, where there is no such key
        raise InputError(Fault("nobody has stated this fact", path, do=f'firstoff set {path} "VALUE" states it.'))
    return shown


def _at_or_below(one: str, path: str) -> bool:
    return one == path or one.startswith(path + ".")


def _facts_now(shop: ShopBook, job: str | None) -> FactSet:
    if not job:
        return load_shop(shop.folder).facts
    file = f"{JOBS}/{job}/job.toml"
    return own_facts(shop.folder / file, file)


ORDERS = ("age", "doubt", "evidence")


def list_facts(shop: ShopBook, by: str, now: datetime) -> tuple[FactLine, ...]:
    """The shop's own uncertain facts: oldest first, widest first, or never measured first. What the shop set itself has no doubt and is left out."""
    if by not in ORDERS:
        raise InputError(Fault("facts are not listed by this", by, ", ".join(ORDERS)))
    facts = load_shop(shop.folder).facts
    with shop.book.reading() as connection:
        seen = {path: at for (job, path), at in since(connection, shop.book).items() if not job}
    lines = [_line(fact, seen, now) for fact in facts.facts.values() if fact.evidence is not Evidence.SET]
    trust = list(Evidence)
    keys: Mapping[str, Any] = {
        "age": lambda line: -(line.age_days or 0.0),
        "doubt": lambda line: (line.width is None, -(line.fact.u if line.width is None else line.width)),
        "evidence": lambda line: (trust.index(line.fact.evidence), -(line.width or 0.0)),
    }
    return tuple(sorted(lines, key=keys[by]))


def _line(fact: Fact, seen: Mapping[str, datetime], now: datetime) -> FactLine:
    at = fact.on or seen.get(fact.path)
    age = None if at is None else max((now - at).total_seconds() / 86400, 0.0)
    place = _PLACE.search(fact.path) is not None or not fact.value
    return FactLine(fact, at, age, None if place else fact.u / abs(fact.value))


_PLACE = re.compile(r"\.(?:travel|box|at|G28|G30|highest_around|allowed_below)(?:\.|$)")


def fact_json(shown: Sequence[FactShown]) -> dict[str, Any]:
    """`firstoff fact --json`."""
    return {
        "schema": "firstoff.fact/1",
        "facts": [
            {
                "path": one.path,
                "now": None if one.now is None else stated(one.now),
                "where": "" if one.now is None else str(one.now.where),
                "past": [
                    {
                        "entry": past.entry,
                        "at": past.at.isoformat(),
                        "who": past.who,
                        "how": past.how,
                        "why": past.why,
                        "old": past.old,
                        "new": past.new,
                    }
                    for past in one.past
                ],
                "trials": [
                    {
                        "entry": each.number,
                        "at": each.at.isoformat(),
                        "unit": each.unit,
                        "readings": each.readings,
                        "mean": each.mean,
                        "u": each.u,
                        "df": each.df,
                    }
                    for each in one.trials
                ],
            }
            for one in shown
        ],
    }


def changed_json(done: Changed) -> dict[str, Any]:
    """`firstoff set --json`."""
    return {
        "schema": "firstoff.set/1",
        "changed": [
            {"job": job or None, "path": one.path, "old": one.old, "new": one.new} for job, one in done.changed
        ],
        "noticed": [
            {"job": job or None, "path": one.path, "old": one.old, "new": one.new} for job, one in done.noticed.changed
        ]
        if done.noticed.how != "first"
        else [],
    }


def lines_json(lines: Sequence[FactLine]) -> dict[str, Any]:
    """`firstoff facts --json`."""
    return {
        "schema": "firstoff.facts/1",
        "facts": [
            {
                "path": line.fact.path,
                **stated(line.fact),
                "since": None if line.since is None else line.since.isoformat(),
                "age_days": line.age_days,
                "width": line.width,
            }
            for line in lines
        ],
    }
