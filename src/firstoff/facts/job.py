"""A job: one program with what is known about its blank, tools, offsets and holding, from a job.toml or a command line."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from firstoff.errors import Fault, InputError
from firstoff.facts.check import check_job
from firstoff.facts.collect import Collected, collect
from firstoff.facts.derived import with_derived
from firstoff.facts.fact import FactSet
from firstoff.facts.lines import KeyPath
from firstoff.facts.materials import material_facts, material_names
from firstoff.facts.practice import practice_facts
from firstoff.facts.schema import JobFile
from firstoff.facts.shop import JOBS, MACHINE, Shop
from firstoff.facts.toml_file import FileRead, TomlFile, read_toml
from firstoff.facts.validate import validated

JOB = "job.toml"
COMMAND_LINE = "command line"
"""Where a fact of a bare program was read."""


@dataclass(frozen=True, slots=True)
class Job:
    """One job and every fact that its examination may lean on."""

    name: str
    folder: Path
    """Where the job's own files lie."""
    program: Path
    """The program's file; it exists."""
    shop: Shop
    facts: FactSet
    """The shop's facts, the job's, those of the shipped table for the job's material, and the rules of common practice that the shop does
    not write itself: one set an examination."""
    job: JobFile
    bare: bool
    """A program without a job.toml."""
    files: tuple[FileRead, ...] = ()
    """The job's own files that were read, with their stamps; the shop's are with the shop."""

    @property
    def tools(self) -> Mapping[int, str]:
        """What each T is meant to be."""
        return {int(number): name for number, name in (self.job.tools or {}).items()}


@dataclass(frozen=True, slots=True)
class Given:
    """What a command line says about a bare program, each as typed."""

    material: str | None = None
    stock: str | None = None
    """``box 0..80 0..50 -12..0 mm`` or ``cylinder 40 -20..0 mm``."""
    tools: tuple[str, ...] = ()
    """``3=NAME``, each."""
    offsets: tuple[str, ...] = ()
    """``G54=121.4(2) 88.1(2) -96.55(3) mm``, each."""
    holding: str | None = None
    """``vice force=2.4(5) kN friction=0.15``."""
    highest_around: str | None = None
    allowed_below: str | None = None
    touched_with: str | None = None
    """Tool whose tip set the work zero; goes with the offsets given."""

    @property
    def said(self) -> tuple[str, ...]:
        """Names of the options that were given."""
        return tuple(option for name, option in _OPTIONS.items() if getattr(self, name))


_OPTIONS = {
    "material": "--material",
    "stock": "--stock",
    "tools": "--tool",
    "offsets": "--offset",
    "holding": "--holding",
    "highest_around": "--highest-around",
    "allowed_below": "--allowed-below",
}
NOTHING = Given()


def load_job(argument: str | Path, shop: Shop, given: Given = NOTHING) -> Job:
    """The job that `argument` means: a folder with a job.toml, a job.toml, any other file as a bare program, else
    ``jobs/<argument>`` of the shop. Raises `InputError` with every fault found, or with the nearest names."""
    path = Path(argument)
    file = _job_file(path, shop)
    if file is None:
        return bare_job(path, shop, given)
    if given.said:
        do = f"Write it into {file}."
        raise InputError(Fault("these options are for a bare program", " ".join(given.said), do=do))
    name = _called(file, shop)
    toml = read_toml(file, name)
    return _job(toml, file.resolve().parent, file.resolve().parent.name, shop, bare=False)


def job_from(toml: TomlFile, folder: Path, shop: Shop) -> Job:
    """The job in `folder` whose job.toml says what `toml` says, in the folder or not yet. Raises `InputError` with every fault found."""
    return _job(toml, folder, folder.name, shop, bare=False)


def bare_job(program: Path, shop: Shop, given: Given = NOTHING) -> Job:
    """The job that has only a program and what the command line says; facts of it stand at the "command line"."""
    if not program.is_file():
        raise InputError(Fault("no such program", str(program), "an NC program or the name of a job"))
    if program.suffix.lower() == ".toml":
        raise InputError(
            Fault("this is a file of facts, not an NC program", str(program), "a job.toml, or an NC program")
        )
    faults: list[Fault] = []
    values: dict[str, object] = {"program": program.name}
    values.update(_parts(given, faults))
    if faults:
        raise InputError(*(replace(fault, file=COMMAND_LINE) for fault in faults))
    toml = TomlFile(COMMAND_LINE, values, {})
    return _job(toml, program.resolve().parent, program.stem, shop, bare=True)


def _job_file(path: Path, shop: Shop) -> Path | None:
    """The job.toml that is meant, or None for a bare program."""
    if path.is_file():
        return path if path.name == JOB else None
    if (path / JOB).is_file():
        return path / JOB
    if shop.folder is not None and (shop.folder / JOBS / path / JOB).is_file():
        return shop.folder / JOBS / path / JOB
    if (path / MACHINE).is_file():
        names = ", ".join(sorted(one.parent.name for one in (path / JOBS).glob("*/job.toml"))) or "none yet"
        raise InputError(Fault("this is a shop, not a job", str(path), f"one of its jobs: {names}"))
    near = difflib.get_close_matches(str(path), _could_be_meant(path, shop), n=3, cutoff=0.3)
    what = f"this folder holds no {JOB}" if path.is_dir() else "no such job or program"
    known = (
        "nearest: " + ", ".join(near)
        if near
        else "a folder with a job.toml, an NC program, or a name under jobs/ of the shop"
    )
    raise InputError(Fault(what, str(path), known))


def _could_be_meant(path: Path, shop: Shop) -> list[str]:
    beside = [str(path.parent / other.name) for other in path.parent.iterdir()] if path.parent.is_dir() else []
    return [*shop.job_names, *beside]


def _called(file: Path, shop: Shop) -> str:
    """The job file's name in messages: relative to the shop if it lies inside."""
    if shop.folder is not None and file.resolve().is_relative_to(shop.folder):
        return str(file.resolve().relative_to(shop.folder))
    return str(file)


def _job(toml: TomlFile, folder: Path, name: str, shop: Shop, *, bare: bool) -> Job:
    faults: list[Fault] = []
    toml = toml if shop.overlay is None else shop.overlay.over(toml, "job")
    model = validated(JobFile, toml, faults)
    if model is None:
        raise InputError(*faults)
    tools = None if shop.folder is None or shop.tools.tool is None else shop.tool_names
    faults += check_job(model, toml, tools, material_names(shop.materials))
    program = folder / model.program
    if not program.is_file():
        near = difflib.get_close_matches(model.program, [other.name for other in folder.iterdir()], n=3, cutoff=0.3)
        allowed = "nearest: " + ", ".join(near) if near else "a file beside job.toml"
        faults.append(toml.fault(("program",), "no such program", model.program, allowed))
    faults += [*_shape_files(model, toml, folder), *_job_before(model, toml, folder, shop)]
    if faults:
        raise InputError(*sorted(faults, key=lambda fault: fault.line or 0))
    return Job(
        name=name,
        folder=folder,
        program=program,
        shop=shop,
        facts=_facts(model, toml, shop),
        job=model,
        bare=bare,
        files=(toml.read,) if toml.read is not None else (),
    )


def _shape_files(model: JobFile, toml: TomlFile, folder: Path) -> list[Fault]:
    """Files of shapes that are not there."""
    named: list[tuple[KeyPath, str | None]] = [(("target",), model.target)]
    if model.stock is not None:
        named.append((("stock", "stl"), model.stock.stl))
    named += [(("fixture", number, "stl"), fixture.stl) for number, fixture in enumerate(model.fixture or ())]
    return [
        toml.fault(place, "no such file", name, "an STL file beside job.toml")
        for place, name in named
        if name is not None and not (folder / name).is_file()
    ]


def _job_before(model: JobFile, toml: TomlFile, folder: Path, shop: Shop) -> list[Fault]:
    """The job that leaves this one's blank must be there, and must not wait for this one itself."""
    after = model.stock.after if model.stock is not None else None
    if after is None:
        return []
    place: KeyPath = ("stock", "after")
    if after == folder.name:
        return [toml.fault(place, "a job cannot follow itself", after, "another job's name")]
    if shop.folder is None:
        return []
    if after not in shop.job_names:
        near = difflib.get_close_matches(after, shop.job_names, n=3, cutoff=0.3)
        allowed = "nearest: " + ", ".join(near) if near else "a name under jobs/"
        return [toml.fault(place, "no such job", after, allowed)]
    chain = [folder.name]
    name: str | None = after
    while name is not None and name not in chain:
        chain.append(name)
        name = _blank_from(shop.folder / JOBS / name / JOB)
    if name is None:
        return []
    return [
        toml.fault(place, "these jobs wait for each other", " after ".join([*chain, name]), "a first job with a blank")
    ]


def _blank_from(file: Path) -> str | None:
    """The job that another job's blank comes from; its own faults are told when it is examined itself."""
    try:
        stock = read_toml(file).values.get("stock")
    except InputError:
        return None
    after = stock.get("after") if isinstance(stock, dict) else None
    return after if isinstance(after, str) else None


def own_facts(file: Path, name: str) -> FactSet:
    """What a job.toml itself says, whether its files are there or not. Raises `InputError` where it cannot be read."""
    toml = read_toml(file, name)
    faults: list[Fault] = []
    model = validated(JobFile, toml, faults)
    if model is None:
        raise InputError(*faults)
    collected = Collected()
    collect("job", model, toml, collected)
    return collected.fact_set()


def _facts(model: JobFile, toml: TomlFile, shop: Shop) -> FactSet:
    collected = Collected({**practice_facts(), **shop.facts.facts}, dict(shop.facts.settings))
    if model.material is not None:
        shipped = material_facts(model.material, shop.materials)
        collected.facts.update(shipped.facts)
        collected.settings.update(shipped.settings)
    collect("job", model, toml, collected)
    return with_derived(collected.fact_set())


# ---- what a command line says --------------------------------------------------------------------------------------

_SPAN = re.compile(r"(\S+?)\s*\.\.\s*(\S+)")
_BOX = "box 0..80 0..50 -12..0 mm"
_OFFSET = "G54=121.40(2) 88.10(2) -96.55(3) mm"
_HOLDING = "vice force=2.4(5) kN friction=0.15"


def _parts(given: Given, faults: list[Fault]) -> dict[str, object]:
    """The same values as a job.toml would hold; the loader then checks them like any other."""
    parts: dict[str, object] = {}
    if given.material is not None:
        parts["material"] = given.material
    tools = dict(_pairs(given.tools, "--tool", "3=NAME", faults))
    if tools:
        parts["tools"] = tools
    offsets = {}
    for name, text in _pairs(given.offsets, "--offset", _OFFSET, faults):
        place = _place(text, faults)
        if place:
            offsets[name.upper()] = {
                "at": place,
                **({"touched_with": given.touched_with} if given.touched_with else {}),
            }
    if offsets:
        parts["offset"] = offsets
    if given.stock is not None:
        parts["stock"] = _stock(given.stock, faults)
    if given.holding is not None:
        parts["holding"] = _holding(given.holding, faults)
    around = {
        name: value for name in ("highest_around", "allowed_below") if (value := getattr(given, name)) is not None
    }
    if around:
        parts["around"] = around
    return parts


def _pairs(texts: Iterable[str], option: str, allowed: str, faults: list[Fault]) -> list[tuple[str, str]]:
    pairs: list[tuple[str, str]] = []
    for text in texts:
        name, equals, value = text.partition("=")
        if not equals or not name.strip() or not value.strip():
            faults.append(Fault(f"{option} cannot be read", text, allowed))
            continue
        if name.strip().upper() in (seen.upper() for seen, _ in pairs):
            faults.append(Fault(f"{option} {name.strip()} is given twice", text, "each once"))
        pairs.append((name.strip().lstrip("T").lstrip("t") if option == "--tool" else name.strip(), value.strip()))
    return pairs


def _place(text: str, faults: list[Fault]) -> list[str] | None:
    """Three numbers and one unit, or three quantities; brackets and commas between them are fine."""
    parts = [part for part in re.split(r"[,\[\]\"']+|\s+", text) if part]
    if len(parts) == 4:
        return [f"{number} {parts[3]}" for number in parts[:3]]
    if len(parts) == 6:
        return [f"{parts[i]} {parts[i + 1]}" for i in (0, 2, 4)]
    faults.append(Fault("--offset cannot be read", text, _OFFSET))
    return None


def _stock(text: str, faults: list[Fault]) -> dict[str, object]:
    kind, _, rest = text.strip().partition(" ")
    spans = _SPAN.findall(rest)
    unit = rest.rsplit(" ", 1)[-1]
    ranges = [f"{low} {unit} .. {high} {unit}" for low, high in spans]
    if kind == "box" and len(spans) == 3 and not _SPAN.search(unit):
        return {"box": ranges}
    cylinder = re.match(r"\s*(\S+)\s", rest)
    if kind == "cylinder" and len(spans) == 1 and cylinder and ".." not in cylinder[1]:
        return {"cylinder": {"diameter": f"{cylinder[1]} {unit}", "z": ranges[0]}}
    faults.append(Fault("--stock cannot be read", text, f'"{_BOX}" or "cylinder 40 -20..0 mm"'))
    return {}


def _holding(text: str, faults: list[Fault]) -> dict[str, object]:
    kind, _, rest = text.strip().partition(" ")
    holding: dict[str, object] = {"kind": kind.rstrip(",")}
    parts = re.split(r"[,;\s]+(?=\w+\s*=)", " " + rest)
    for part in (part for part in parts if part.strip()):
        name, equals, value = part.partition("=")
        if not equals:
            faults.append(Fault("--holding cannot be read", text, _HOLDING))
            return {"kind": kind}
        name, value = name.strip(), value.strip().rstrip(",;")
        holding[name] = int(value) if name == "count" and value.isdecimal() else value
    return holding
