"""What the command says where the book is none, is of the future, is damaged, or may not be written."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from firstoff.book.opening import FILE
from proof.reliability.damage import NO_BOOKS
from proof.reliability.deeds import filled
from proof.reliability.kills import SMALL_SHOP

BAD_INPUT = 2
NOBODY = 65534


@dataclass(frozen=True)
class Said:
    """The answer of one command."""

    exit: int
    words: str
    unchanged: bool
    """Whether the file of the book is as it was before."""

    @property
    def wrong(self) -> list[str]:
        """A traceback, or an exit code that is none of ours."""
        found = ["a traceback"] if "Traceback" in self.words else []
        return found + ([] if self.exit in (0, BAD_INPUT) else [f"exit code {self.exit}"])


def said(folder: Path, *words: str, user: int | None = None) -> Said:
    """Run the command in a shop and say what came of it."""
    before = _data(folder)
    environment = {name: value for name, value in os.environ.items() if not name.startswith("FIRSTOFF")}
    done = subprocess.run(
        [sys.executable, "-m", "firstoff.cli", *words, "--shop", str(folder)],
        env={**environment, "COLUMNS": "200", "NO_COLOR": "1"},
        cwd=folder,
        user=user,
        capture_output=True,
        text=True,
        check=False,
    )
    told = " ".join(f"{done.stderr} {done.stdout}".split()).replace(str(folder) + "/", "")
    return Said(done.returncode, told, _data(folder) == before)


def _data(folder: Path) -> bytes:
    path = folder / FILE
    return path.read_bytes() if path.is_file() else b""


def shop_with(folder: Path, name: str) -> Path:
    """A shop whose book is the one of `NO_BOOKS` that is named, or a good one."""
    folder.mkdir()
    for file, text in SMALL_SHOP.items():
        (folder / file).write_text(text)
    NO_BOOKS.get(name, lambda path: filled(path, 8))(folder / FILE)
    return folder


def page_spoilt(folder: Path, page: int) -> None:
    """Empty one page of a book."""
    data = bytearray((folder / FILE).read_bytes())
    data[page * 4096 : (page + 1) * 4096] = bytes(4096)
    (folder / FILE).write_bytes(data)
