"""Several at once: two writers, copies while somebody writes, a reader that does not delay a writer."""

from __future__ import annotations

import subprocess
import time
from pathlib import Path

from firstoff.book.exporting import copy
from firstoff.book.opening import FILE, open_book
from firstoff.book.reading import entries
from firstoff.book.verifying import verify
from proof.reliability.deeds import SHOP, as_written, filled, write
from proof.reliability.kills import start

APART = 1000
"""Between the numbers of two writers."""


def two_writers(folder: Path, count: int) -> tuple[int, list[str]]:
    """Two processes write `count` entries each into one book; returns how many are in it and what is wrong."""
    path = folder / FILE
    book = filled(path, 0)
    both = [start("book", path, first, count) for first in (0, APART)]
    said = [process.communicate() for process in both]
    wrong = [
        f"a writer ended with {one.returncode}: {told[1].decode()}"
        for one, told in zip(both, said, strict=True)
        if one.returncode
    ]
    acknowledged = dict(line.split() for out, _ in said for line in out.decode().splitlines() if line != "ready")
    with book.reading() as connection:
        found = list(entries(connection))
    there = {one.why: one.sha256 for one in found}
    wrong += [f"entry {number} is lost" for number, sha in acknowledged.items() if there.get(number) != sha]
    wrong += [f"entry {one.number} is not what was written" for one in found if not as_written(one)]
    wrong += verify(book).faults
    if len(found) != 2 * count:
        wrong.append(f"{len(found)} entries, not {2 * count}")
    return len(found), wrong


def copies(folder: Path, count: int) -> tuple[int, int, list[str]]:
    """Copy a book again and again while a process writes `count` entries into it; copies, those that caught it half way, and what is wrong."""
    path = folder / FILE
    filled(path, 8)
    writer = start("book", path, 8, count)
    made: list[Path] = []
    while writer.poll() is None and len(made) < 100:
        to = folder / f"copy{len(made)}.sqlite"
        copy(open_book(path, SHOP), to, lambda _stage, _part: None)
        made.append(to)
        time.sleep(0.02)
    writer.communicate()
    with open_book(path, SHOP).reading() as connection:
        whole = [one.sha256 for one in entries(connection)]
    wrong: list[str] = []
    lengths = []
    for one in made:
        copied = open_book(one, SHOP)
        wrong += verify(copied).faults
        with copied.reading() as connection:
            found = [entry.sha256 for entry in entries(connection)]
        if found != whole[: len(found)] or len(found) < 8:
            wrong.append(f"{one.name} is not how the book began")
        lengths.append(len(found))
    if len(whole) != 8 + count:
        wrong.append(f"{len(whole)} entries, not {8 + count}")
    return len(made), sum(1 for length in lengths if 8 < length < 8 + count), wrong


def beside_a_reader(folder: Path) -> float:
    """Seconds that a write takes while somebody else reads and does not end."""
    book = filled(folder / FILE, 8)
    with book.reading() as reader:
        list(entries(reader))
        began = time.perf_counter()
        with book.writing() as connection:
            write(connection, book, 8)
        return time.perf_counter() - began


def mounted(folder: Path, kib: int) -> bool:
    """Whether a disk of so many KiB could be mounted at `folder`; that needs root."""
    command = ["mount", "-t", "tmpfs", "-o", f"size={kib}k", "tmpfs", str(folder)]
    try:
        return subprocess.run(command, capture_output=True, check=False).returncode == 0
    except OSError:
        return False
