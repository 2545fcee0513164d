"""The texts a program is made of: its own file and the subprograms supplied beside it.

A called program is looked for in the calling file, in the main file, among the files of the main file's folder, and last in the folders of
`[control] program_folders`. A file answers to its first O number, or, without one, to its stem: ``O3003``, ``3003`` or
``08-O3003``. What is found twice is not found.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from firstoff.errors import FirstoffError
from firstoff.program.language import parse_line
from firstoff.program.parameters import Answers

LARGEST_FILE = 8_000_000
"""Bytes: a subprogram of a quarter of a million blocks; anything larger beside a program is no subprogram of its."""
MOST_FILES = 2000
"""Files looked at in one folder: more is an archive, in which the wrong program is as near as the right one."""
HEAD = 4096
"""Bytes in which a file shows its first O number, and whether it is text at all."""

_LINE_END = re.compile(r"\r\n|\n|\r")
_O_LINE = re.compile(r"[ \t]*/?[ \t0-9]*(?:N[ \t0-9]*)?[O:][ \t]*[0-9]", re.IGNORECASE)
_STEM = re.compile(r"(?:.*[^A-Z0-9])?O0*([0-9]{1,8})|0*([0-9]{1,8})", re.IGNORECASE)


class NotSupplied(FirstoffError):
    """A called program that is not there, or there twice; `what` says which and what to do."""

    def __init__(self, what: str) -> None:
        self.what = what
        super().__init__(what)


@dataclass(frozen=True, slots=True)
class Source:
    """One text. `number` 0 is the main program; `lines` without line ends."""

    number: int
    name: str
    lines: tuple[str, ...]
    sha256: str


@dataclass(frozen=True, slots=True)
class Entry:
    """Where a called program begins: line number (from 1) in `source`."""

    source: Source
    line: int


def split_lines(text: str) -> tuple[str, ...]:
    """Lines without their ends; a last line end opens no further line."""
    lines = _LINE_END.split(text)
    if lines and lines[-1] == "":
        lines.pop()
    return tuple(lines)


class Sources:
    """The main text and every subprogram that was called so far."""

    def __init__(self, name: str, lines: Sequence[str], control: Answers, path: Path | None = None, folders: Sequence[Path] = ()) -> None:  # fmt: skip
        """`path` is the main file's, if it is one; `folders` are those of `[control] program_folders`."""
        digest = hashlib.sha256("\n".join(lines).encode("utf-8", "surrogateescape")).hexdigest() if path is None else ""
        self.main = Source(0, name, tuple(lines), digest)
        self.all: list[Source] = [self.main]
        self._control = control
        self._path = path.resolve() if path is not None else None
        own = [self._path.parent] if self._path is not None else []
        self._folders = own + [folder for folder in folders if folder.resolve() not in own]
        self._loaded: dict[Path, Source] = {}
        self._programs: dict[int, list[tuple[int, int]]] = {}
        self._heads: dict[Path, list[_Head]] = {}
        self.stamps: dict[str, str] = {}
        """Stamp of each file that a call was answered from, and of each folder that was looked through for one (with a slash at its end:
        which files answer to which calls): as long as all are the same, so is the program."""

    def programs(self, source: Source) -> list[tuple[int, int]]:
        """(number, line) of every program that begins in `source`, in order."""
        if source.number not in self._programs:
            self._programs[source.number] = list(_programs_in(source.lines, self._control))
        return self._programs[source.number]

    def program(self, number: int, caller: Source) -> Entry:
        """Where program `number` begins. Raises `NotSupplied`."""
        for source in (caller, self.main) if caller is not self.main else (self.main,):
            lines = [line for n, line in self.programs(source) if n == number]
            if len(lines) > 1:
                places = " and ".join(str(line) for line in lines)
                raise NotSupplied(f"O{number} begins more than once in {source.name} (lines {places}): leave one")
            if lines:
                return Entry(source, lines[0])
        source = self._file(f"O{number}", lambda head: head.number == number)
        lines = [line for n, line in self.programs(source) if n == number]
        return Entry(source, lines[0] if lines else 1)

    def named(self, name: str) -> Source:
        """The file that holds the o-word subprogram `name`: the one whose stem it is. Raises `NotSupplied`."""
        return self._file(f"o<{name}>" if not name.isdecimal() else f"o{name}", lambda head: head.answers_to(name))

    def _file(self, label: str, wanted: object) -> Source:
        for folder in self._folders:
            found = [head for head in self._folder(folder) if wanted(head)]  # type: ignore[operator]
            texts = {head.path: self._load(head.path) for head in found}
            self.stamps.update((str(path), source.sha256) for path, source in texts.items())
            if len({source.sha256 for source in texts.values()}) > 1:
                names = " and ".join(sorted(path.name for path in texts))
                raise NotSupplied(f"{label} is in more than one file ({names}), and they differ: leave one")
            if texts:
                return self._keep(min(texts), texts[min(texts)])
        raise NotSupplied(
            f"{label} is not supplied: put its file beside this program, or name its folder in [control] program_folders"
        )

    def _keep(self, path: Path, source: Source) -> Source:
        if path not in self._loaded:
            self._loaded[path] = Source(len(self.all), source.name, source.lines, source.sha256)
            self.all.append(self._loaded[path])
        return self._loaded[path]

    def _load(self, path: Path) -> Source:
        if path in self._loaded:
            return self._loaded[path]
        try:
            data = path.read_bytes()
        except OSError as error:
            raise NotSupplied(f"{path.name} cannot be read: {error.strerror}") from None
        return Source(-1, path.name, split_lines(_decode(data)), hashlib.sha256(data).hexdigest())

    def _folder(self, folder: Path) -> list[_Head]:
        if folder not in self._heads:
            self.stamps[f"{folder}/"] = ""
            self._heads[folder] = list(self._look_into(folder))
            self.stamps[f"{folder}/"] = _stamp_of(self._heads[folder])
        return self._heads[folder]

    def stamp_again(self, file: str) -> str:
        """What `stamps` says of a file or folder as it is now; empty where it cannot be read."""
        try:
            return (
                _stamp_of(self._look_into(Path(file)))
                if file.endswith("/")
                else hashlib.sha256(Path(file).read_bytes()).hexdigest()
            )
        except (NotSupplied, OSError):
            return ""

    def _look_into(self, folder: Path) -> Iterator[_Head]:
        try:
            paths = sorted(path for path in folder.iterdir() if path.is_file())
        except OSError as error:
            raise NotSupplied(f"the folder {folder} cannot be read: {error.strerror}") from None
        if len(paths) > MOST_FILES:
            raise NotSupplied(f"the folder {folder} holds more than {MOST_FILES} files: name a smaller one")
        for path in paths:
            if path.resolve() != self._path:
                head = _head_of(path, self._control)
                if head is not None:
                    yield head


@dataclass(frozen=True, slots=True)
class _Head:
    """What a file answers to."""

    path: Path
    number: int | None

    def answers_to(self, name: str) -> bool:
        stem = self.path.stem.lower()
        return stem == name or (name.isdecimal() and stem == f"o{name}")


def _stamp_of(heads: Iterable[_Head]) -> str:
    told = "\n".join(f"{head.path.name}\0{head.number}" for head in heads)
    return hashlib.sha256(told.encode("utf-8", "surrogateescape")).hexdigest()


def _head_of(path: Path, control: Answers) -> _Head | None:
    """None for what is no plain text of sensible size."""
    try:
        if not 0 < path.stat().st_size <= LARGEST_FILE:
            return None
        with path.open("rb") as file:
            data = file.read(HEAD)
    except OSError:
        return None
    if b"\0" in data:
        return None
    first = next(_programs_in(split_lines(_decode(data)), control), None)
    if first is not None:
        return _Head(path, first[0])
    stem = _STEM.fullmatch(path.stem)
    return _Head(path, int(stem[1] or stem[2]) if stem else None)


def _programs_in(lines: Sequence[str], control: Answers) -> Iterator[tuple[int, int]]:
    for at, text in enumerate(lines, 1):
        if _O_LINE.match(text):
            jump = parse_line(text, at, control)[0].jump
            if jump is not None and jump.verb == "program" and isinstance(jump.label, float):
                yield round(jump.label), at


def _decode(data: bytes) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")  # every byte is a character: what fits nowhere is reported where it stands
