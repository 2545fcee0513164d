"""Texts that mistakes are put into: program lines that remember which line they were, and tables of the shop's files."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

INTEGERS = "GHTDSMN"
"""Letters whose numbers are written without a point."""


@dataclass(frozen=True, slots=True)
class Line:
    """A program line; `was` is its number in the clean program, None for a new one."""

    text: str
    was: int | None
    touched: bool = False


@dataclass(frozen=True, slots=True)
class Program:
    """A program under way to a faulty one. Places are indices from 0."""

    lines: tuple[Line, ...]

    @classmethod
    def of(cls, text: str) -> Program:
        return cls(tuple(Line(line, number) for number, line in enumerate(text.splitlines(), 1)))

    def put(self, at: int, text: str) -> Program:
        """Another text in place of a line."""
        return Program((*self.lines[:at], replace(self.lines[at], text=text, touched=True), *self.lines[at + 1 :]))

    def drop(self, at: int) -> Program:
        return Program((*self.lines[:at], *self.lines[at + 1 :]))

    def insert(self, at: int, text: str) -> Program:
        """A new line before the one at `at`."""
        return Program((*self.lines[:at], Line(text, None, True), *self.lines[at:]))

    def swap(self, at: int) -> Program:
        """Two neighbours in the other order."""
        one, two = (replace(self.lines[n], touched=True) for n in (at, at + 1))
        return Program((*self.lines[:at], two, one, *self.lines[at + 2 :]))

    def cut(self, at: int) -> Program:
        """Nothing from a line on."""
        kept = self.lines[:at]
        return Program((*kept[:-1], replace(kept[-1], touched=True)))

    @property
    def text(self) -> str:
        return "\n".join(line.text for line in self.lines) + "\n"

    @property
    def touched(self) -> tuple[int, ...]:
        """Numbers, from 1, of the lines that were written or moved."""
        return tuple(number for number, line in enumerate(self.lines, 1) if line.touched)

    @property
    def origin(self) -> tuple[int | None, ...]:
        return tuple(line.was for line in self.lines)


def word(line: str, letter: str) -> float | None:
    """The number behind a letter, outside of comments."""
    found = re.search(rf"{letter}([-+]?[0-9]*\.?[0-9]+)", _bare(line))
    return None if found is None else float(found[1])


def with_word(line: str, letter: str, value: float) -> str:
    """The line with another number behind a letter."""
    return re.sub(rf"{letter}[-+]?[0-9]*\.?[0-9]+", f"{letter}{written(letter, value)}", line, count=1)


def without_word(line: str, letter: str) -> str:
    return re.sub(rf"\s*{letter}[-+]?[0-9]*\.?[0-9]+", "", line, count=1).strip()


def written(letter: str, value: float) -> str:
    """A number as the writer would have it."""
    if letter in INTEGERS:
        return f"{value:g}"
    text = f"{value:.4f}".rstrip("0")
    return f"{text}0" if text.endswith(".") else text


def is_remark(line: str) -> bool:
    return not _bare(line).strip(" %")


def _bare(line: str) -> str:
    return re.sub(r"\([^()]*\)", "", line)


# --- tables -------------------------------------------------------------------------------------------------------------


def get_key(text: str, table: str, key: str) -> str:
    """The value of a key within the first table of that name, as written."""
    return _found(text, table, key)[2]


def set_key(text: str, table: str, key: str, value: str) -> str:
    """Another value for a key; it is added where the table has none. Raises `ValueError` where there is no such table."""
    try:
        lines, at, _ = _found(text, table, key)
        lines[at] = f"{key} = {value}"
    except KeyError:
        lines = text.splitlines()
        lines.insert(lines.index(f"[{table}]") + 1, f"{key} = {value}")
    return "\n".join(lines) + "\n"


def _found(text: str, table: str, key: str) -> tuple[list[str], int, str]:
    lines = text.splitlines()
    start = next((n for n, line in enumerate(lines) if line.split("#")[0].strip() == f"[{table}]"), None)
    if start is None:
        raise ValueError(f"no table [{table}]")
    for at in range(start + 1, len(lines)):
        if lines[at].startswith("["):
            break
        told = re.match(rf"{key}\s*=\s*(.*?)\s*(#.*)?$", lines[at])
        if told is not None:
            return lines, at, told[1]
    raise KeyError(key)


def set_pocket(text: str, number: int, tool: str) -> str:
    """Another tool in a pocket of tools.toml."""
    lines = text.splitlines()
    at = lines.index(f"number = {number}")
    lines[at + 1] = f'tool = "{tool}"'
    return "\n".join(lines) + "\n"
