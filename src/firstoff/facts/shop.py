"""The shop folder: finding it, reading it, and the shop that nobody has described yet."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from firstoff.errors import Fault, InputError
from firstoff.facts.check import check_machine, check_materials, check_tools
from firstoff.facts.collect import Collected, collect
from firstoff.facts.fact import FactSet
from firstoff.facts.overlay import Overlay
from firstoff.facts.schema import Machine, Materials, Tools
from firstoff.facts.toml_file import FileRead, TomlFile, read_toml
from firstoff.facts.validate import Model, validated

SHOP_VARIABLE = "FIRSTOFF_SHOP"
MACHINE, TOOLS, MATERIALS, JOBS = "machine.toml", "tools.toml", "materials.toml", "jobs"


@dataclass(frozen=True, slots=True)
class Shop:
    """A machine with its tools and materials, as the shop folder describes them now."""

    folder: Path | None
    """None for the shop that nobody has described."""
    name: str
    show: Literal["mm", "inch"]
    """Units that answers are shown in; facts are always in internal units."""
    facts: FactSet
    """``machine.*``, ``tools.*`` and the shop's own ``materials.*``."""
    machine: Machine
    tools: Tools
    materials: Materials
    files: tuple[FileRead, ...] = field(default=())
    """What was read, with its stamp, so that a later write can tell whether it still replaces that."""
    overlay: Overlay | None = None
    """A what-if that is laid over the files, jobs too."""

    @property
    def tool_names(self) -> tuple[str, ...]:
        return tuple(self.tools.tool or ())

    @property
    def job_names(self) -> tuple[str, ...]:
        """Names of the jobs in the folder, sorted."""
        if self.folder is None or not (self.folder / JOBS).is_dir():
            return ()
        return tuple(sorted(path.parent.name for path in (self.folder / JOBS).glob("*/job.toml")))


def find_shop(argument: Path | None = None, given: Path | None = None) -> Path | None:
    """The shop folder: `given`, else ``$FIRSTOFF_SHOP``, else the nearest one at or above `argument`, then above the current
    folder; None where there is none. Raises `InputError` if a folder that was named is no shop."""
    named = given if given is not None else Path(os.environ[SHOP_VARIABLE]) if os.environ.get(SHOP_VARIABLE) else None
    if named is not None:
        folder = named.parent if named.name == MACHINE and named.is_file() else named
        if not (folder / MACHINE).is_file():
            how = "--shop" if given is not None else SHOP_VARIABLE
            what = f"{how} names a folder without {MACHINE}" if folder.is_dir() else f"{how} names no folder"
            raise InputError(
                Fault(what, str(named), f"a folder that holds {MACHINE}", do="firstoff new DIR makes one.")
            )
        return folder.resolve()
    starts = [argument] if argument is not None and argument.exists() else []
    for start in (*starts, Path.cwd()):
        start = start.resolve()
        for folder in (start, *start.parents):
            if (folder / MACHINE).is_file():
                return folder
    return None


def load_shop(folder: Path, texts: Mapping[str, bytes] | None = None, *, overlay: Overlay | None = None) -> Shop:
    """Read the shop in `folder`. Only machine.toml must be there. Raises `InputError` with every fault of every file.

    `texts` holds what files that are about to be written will say, by name: it is read instead of what lies in the folder. `overlay` is laid
    over what the files say, and over every job of this shop.
    """
    texts = texts or {}
    faults: list[Fault] = []
    machine, machine_file = _load(folder / MACHINE, Machine, faults, texts.get(MACHINE), overlay)
    tools, tools_file = _load(folder / TOOLS, Tools, faults, texts.get(TOOLS), overlay)
    materials, materials_file = _load(folder / MATERIALS, Materials, faults, texts.get(MATERIALS), overlay)
    if machine is not None and machine_file is not None:
        faults += check_machine(machine, machine_file)
    if tools is not None and tools_file is not None:
        faults += check_tools(tools, tools_file)
    if materials is not None and materials_file is not None:
        faults += check_materials(materials, materials_file)
    if faults or machine is None:
        raise InputError(*faults)
    collected = Collected()
    files = [(machine, machine_file, "machine"), (tools, tools_file, "tools"), (materials, materials_file, "materials")]
    for model, file, root in files:
        if model is not None and file is not None:
            collect(root, model, file, collected)
    head = machine.shop
    return Shop(
        folder=folder.resolve(),
        name=(head.name if head and head.name else folder.resolve().name),
        show=(head.show if head and head.show else "mm"),
        facts=collected.fact_set(),
        machine=machine,
        tools=tools or Tools(),
        materials=materials or Materials(),
        files=tuple(file.read for _, file, _ in files if file is not None and file.read is not None),
        overlay=overlay,
    )


def no_shop() -> Shop:
    """The shop that nobody has described: no facts, so that everything a question needs is named as missing."""
    return Shop(None, "no machine described", "mm", FactSet(), Machine(), Tools(), Materials())


def digest(shop: Shop) -> str:
    """One stamp of all that was read: it changes when any file of the shop does."""
    total = hashlib.sha256()
    for file in shop.files:
        total.update(f"{file.path.name}\0{file.sha256}\n".encode())
    return total.hexdigest()


def _load(
    path: Path, model: type[Model], faults: list[Fault], text: bytes | None, overlay: Overlay | None
) -> tuple[Model | None, TomlFile | None]:
    root = path.stem
    there = text is not None or path.exists() or path.name == MACHINE
    if not there and (overlay is None or not overlay.speaks_of(root)):
        return None, None
    try:
        file = read_toml(path, path.name, text) if there else TomlFile(path.name, {}, {})
        file = file if overlay is None else overlay.over(file, root)
    except InputError as error:
        faults.extend(error.faults)
        return None, None
    return validated(model, file, faults), file
