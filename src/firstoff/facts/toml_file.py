"""Reading one TOML file: bytes, text, values, and the line of every key; every way it can fail is one clear fault."""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

from firstoff.errors import Fault, InputError
from firstoff.facts.fact import Where
from firstoff.facts.lines import KeyPath, key_lines, line_of

GREATEST_FILE = 4_000_000
"""Bytes; a shop file is some kilobytes, so anything beyond is not one."""


@dataclass(frozen=True, slots=True)
class FileRead:
    """A file that was read and the stamp of what was read: a later write replaces it only if the stamp still holds."""

    path: Path
    sha256: str


@dataclass(frozen=True, slots=True)
class TomlFile:
    """What one file says."""

    name: str
    """How the file is called in messages: relative to the shop where possible."""
    values: dict[str, object]
    lines: dict[KeyPath, int]
    read: FileRead | None = None

    def where(self, path: KeyPath) -> Where:
        return Where(self.name, line_of(self.lines, path))

    def fault(self, path: KeyPath, what: str, value: str = "", allowed: str = "", do: str = "") -> Fault:
        return Fault(what, value, allowed, self.name, line_of(self.lines, path), do)


def read_toml(path: Path, name: str = "", data: bytes | None = None) -> TomlFile:
    """Read `path`, or `data` as what it is about to hold; raises `InputError` with exactly one fault if it is not TOML text in UTF-8."""
    name = name or str(path)
    if data is None:
        data = _data(path, name)
    text = _text(data, name)
    return TomlFile(name, _values(text, name), key_lines(text), FileRead(path, hashlib.sha256(data).hexdigest()))


def _data(path: Path, name: str) -> bytes:
    try:
        if path.stat().st_size > GREATEST_FILE:
            raise InputError(Fault("the file is too big for a shop file", f"{path.stat().st_size} bytes", "4 MB", name))
        return path.read_bytes()
    except OSError as error:
        raise InputError(Fault(f"cannot be read: {error.strerror or error}", file=name)) from None


def _text(data: bytes, name: str) -> str:
    utf8 = "text in UTF-8 (plain ASCII is fine)"
    save = "Save it again as UTF-8."
    if not data.strip():
        raise InputError(Fault("the file is empty", file=name, do="Write at least one line, or delete the file."))
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise InputError(Fault("the file is UTF-16 text", "", utf8, name, 1, save))
    if b"\0" in data:
        line = data[: data.index(b"\0")].count(b"\n") + 1
        half = data[1::2].count(0) > len(data) // 4 or data[0::2].count(0) > len(data) // 4
        what = "the file is UTF-16 text" if half else "the file holds NUL bytes: it is no text"
        raise InputError(Fault(what, "", utf8, name, line, save if half else ""))
    try:
        text = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(
            Fault("not text in UTF-8", f"byte 0x{data[error.start]:02x}", utf8, name, line, save)
        ) from None
    text = text.replace("\r\n", "\n")
    if "\r" in text:
        line = text[: text.index("\r")].count("\n") + 1
        do = "Save it again with ordinary line ends."
        raise InputError(Fault("a line ends in a bare CR", "", "line ends LF or CR LF", name, line, do))
    return text


def _values(text: str, name: str) -> dict[str, object]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line = _error_line(str(error), text)
        what = re.sub(r" \(at .*\)$", "", str(error)).rstrip(".")
        shown = text.split("\n")[line - 1].strip()[:60] if line <= text.count("\n") + 1 else ""
        raise InputError(Fault(f"not TOML: {_plain(what)}", shown, _allowed(what), name, line)) from None
    except (RecursionError, ValueError):  # thousands of nested brackets, or a number of thousands of digits
        raise InputError(Fault("not a shop file: nested too deep or a number too long", file=name)) from None


def _error_line(message: str, text: str) -> int:
    at = re.search(r"at line (\d+)", message)
    return int(at[1]) if at else len(text.rstrip("\n").split("\n"))


def _plain(what: str) -> str:
    """The parser's words, in lower case and in the words of someone who edits a file."""
    if "Cannot overwrite" in what or "twice" in what:
        return "the same key or table stands there twice"
    if what == "Invalid value":
        return "a value is missing or not in quotes"
    return what[:1].lower() + what[1:]


def _allowed(what: str) -> str:
    if what == "Invalid value":
        return 'key = "text in quotes", a number, true, false, a date, or a [list]'
    if "Expected '='" in what or "Invalid statement" in what:
        return "one key = value a line, or a [table] head"
    return ""
