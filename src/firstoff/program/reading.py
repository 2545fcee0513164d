"""The door of this room: an NC program in, a frozen `Reading` out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from firstoff.errors import Fault, InputError
from firstoff.program.control import Control
from firstoff.program.drive import Driver
from firstoff.program.finish import finish
from firstoff.program.flow import Flow
from firstoff.program.moves import Reading
from firstoff.program.reader import Reader
from firstoff.program.sources import Sources
from firstoff.program.state import Start
from firstoff.program.text import as_text

__all__ = ["Start", "read_program", "read_text"]

NOWHERE = Start()


def read_program(
    path: Path, control: Control, start: Start = NOWHERE, folders: Sequence[Path] = (), *, fast: bool = True
) -> Reading:
    """Read the program in `path`; subprograms come from its own folder, then from `folders`.

    Raises `InputError` where the file cannot be read or is no text; everything else that is wrong is in `Reading.problems`.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise InputError(
            Fault("the program cannot be read", str(path), do=f"{reason}: check the name and the folder")
        ) from None
    return _read(raw, path.name, control, start, path, folders, fast)


def read_text(text: bytes | str, file: str, control: Control, start: Start = NOWHERE, *, fast: bool = True) -> Reading:
    """Read a program that is no file; `file` is what it is called. Subprograms must stand in the text itself.

    `fast=False` reads every line with Python, to the same result: tests hold the two together.
    """
    raw = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    return _read(raw, file, control, start, None, (), fast)


def _read(
    raw: bytes, file: str, control: Control, start: Start, path: Path | None, folders: Sequence[Path], fast: bool
) -> Reading:
    text = as_text(raw, file)
    reader = Reader(control, start, len(text.lines))
    reader.text = text.lines
    sources = Sources(file, text.lines, control, path, folders)
    flow = Flow(sources, control, reader.findings.problems)
    driver = Driver(reader, flow, text.data, fast)
    driver.run()
    return finish(reader, driver, text, file, raw)
