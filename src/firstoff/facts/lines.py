"""Where each key of a TOML text stands: the parser that reads the values tells no lines, so this scanner does.

It trusts that the text is valid TOML (it runs after the parser), never raises, and stops quietly where it loses its way: a
missing line number is a blemish, a wrong value would be a fault.
"""

from __future__ import annotations

import contextlib
import re
from dataclasses import dataclass
from typing import Literal

KeyPath = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SPACE = re.compile(r"[ \t]*")
_SPACE_AND_LINES = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SCALAR = re.compile(r"[^,\]}#\n]+")
_STRINGS = (
    re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}', re.DOTALL),
    re.compile(r"'''.*?'{3,5}", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]|\\.)*"'),
    re.compile(r"'[^'\n]*'"),
)


@dataclass(frozen=True, slots=True)
class Written:
    """Where one head, pair or element of a list stands, as offsets into the text."""

    path: KeyPath
    kind: Literal["head", "pair", "element"]
    within: KeyPath
    """The table or list that it stands in: of a pair below a head, the head's. A dotted pair stands in the table that it begins from."""
    inline: bool
    """Inside of braces or brackets rather than on lines of its own."""
    start: int
    """Its first character: of the key, of the head's bracket, of the element."""
    value: int
    """First character of its value; of a head, the one after its brackets."""
    end: int
    """The one after its value."""


class _LostError(Exception):
    """The scanner met something it does not know; what it has found so far still stands."""


def key_lines(text: str) -> dict[KeyPath, int]:
    """Line (from 1) of every table, key and array element, by path: names for keys, numbers from 0 for elements."""
    scanner = _Scanner(text)
    with contextlib.suppress(_LostError, RecursionError, IndexError):  # see the module's word on blemishes
        scanner.document()
    return scanner.lines


def written(text: str) -> list[Written]:
    """Every head, pair and element of a list, in the order of the text (line ends LF); all before the place where the scanner lost its way."""
    scanner = _Scanner(text)
    with contextlib.suppress(_LostError, RecursionError, IndexError):
        scanner.document()
    return sorted(scanner.written, key=lambda one: one.start)


def line_of(lines: dict[KeyPath, int], path: KeyPath) -> int | None:
    """Line of `path`, or of the nearest table or key around it."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1
        self.lines: dict[KeyPath, int] = {}
        self.counts: dict[KeyPath, int] = {}
        """Elements so far of each array of tables."""
        self.written: list[Written] = []

    def document(self) -> None:
        table: KeyPath = ()
        while True:
            self.take(_SPACE_AND_LINES)
            if self.at >= len(self.text):
                return
            if self.text.startswith("[", self.at):
                table = self.header()
            else:
                self.pair(table, inline=False)

    def header(self) -> KeyPath:
        double = self.text.startswith("[[", self.at)
        line, start = self.line, self.at
        self.at += 2 if double else 1
        names = self.key()
        self.expect("]]" if double else "]")
        path: KeyPath = ()
        for place, name in enumerate(names):
            path = (*path, name)
            self.lines.setdefault(path, line)
            if double and place == len(names) - 1:
                self.counts[path] = self.counts.get(path, -1) + 1
            if path in self.counts:
                path = (*path, self.counts[path])
        self.lines[path] = line
        self.written.append(Written(path, "head", path, False, start, self.at, self.at))
        return path

    def pair(self, table: KeyPath, *, inline: bool) -> None:
        line, start = self.line, self.at
        path = table
        for name in self.key():
            path = (*path, name)
            self.lines.setdefault(path, line)
        self.expect("=")
        self.take(_SPACE)
        value = self.at
        self.value(path)
        self.written.append(Written(path, "pair", table, inline, start, value, self.end()))

    def key(self) -> list[str]:
        names: list[str] = []
        while True:
            self.take(_SPACE)
            names.append(self.name())
            self.take(_SPACE)
            if not self.text.startswith(".", self.at):
                return names
            self.at += 1

    def name(self) -> str:
        if self.text[self.at] in "\"'":
            quoted = self.string()
            return _unescaped(quoted[1:-1]) if quoted[0] == '"' else quoted[1:-1]
        return self.take(_BARE) or self.lost()

    def value(self, path: KeyPath) -> None:
        first = self.text[self.at]
        if first in "\"'":
            self.string()
        elif first == "[":
            self.array(path)
        elif first == "{":
            self.inline_table(path)
        else:
            _ = self.take(_SCALAR) or self.lost()

    def array(self, path: KeyPath) -> None:
        self.at += 1
        element = 0
        while True:
            self.take(_SPACE_AND_LINES)
            if self.text[self.at] == "]":
                self.at += 1
                return
            if self.text[self.at] == ",":
                self.at += 1
                continue
            self.lines[(*path, element)] = self.line
            start = self.at
            self.value((*path, element))
            self.written.append(Written((*path, element), "element", path, True, start, start, self.end()))
            element += 1

    def inline_table(self, path: KeyPath) -> None:
        self.at += 1
        while True:
            self.take(_SPACE_AND_LINES)
            if self.text[self.at] == "}":
                self.at += 1
                return
            if self.text[self.at] == ",":
                self.at += 1
                continue
            self.pair(path, inline=True)

    def string(self) -> str:
        for pattern in _STRINGS:
            found = self.take(pattern)
            if found:
                return found
        return self.lost()

    def end(self) -> int:
        """Where the value that was just read ends: what lies between a number and the next mark is no part of it."""
        at = self.at
        while self.text[at - 1] in " \t\r":
            at -= 1
        return at

    def take(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            return ""
        self.at = match.end()
        self.line += match[0].count("\n")
        return match[0]

    def expect(self, mark: str) -> None:
        self.take(_SPACE)
        if not self.text.startswith(mark, self.at):
            self.lost()
        self.at += len(mark)

    def lost(self) -> str:
        raise _LostError


def _unescaped(text: str) -> str:
    """A quoted key as the parser sees it; only the escapes that anyone writes in a key."""
    if "\\" not in text:
        return text
    text = re.sub(r"\\u([0-9A-Fa-f]{4})|\\U([0-9A-Fa-f]{8})", lambda m: chr(int(m[1] or m[2], 16)), text)
    return re.sub(r"\\(.)", lambda m: {"t": "\t", "n": "\n", "r": "\r", "b": "\b", "f": "\f"}.get(m[1], m[1]), text)
