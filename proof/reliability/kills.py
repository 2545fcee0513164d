"""Writers killed at random moments: what was acknowledged must be there, nothing half, and the next write must work."""

from __future__ import annotations

import random
import re
import shutil
import signal
import subprocess
import sys
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from firstoff.book.exporting import export_at, take
from firstoff.book.kept import Entry
from firstoff.book.opening import FILE, open_book
from firstoff.book.reading import entries, history, known_facts
from firstoff.book.verifying import verify
from firstoff.errors import InputError
from firstoff.facts.change import all_stated
from firstoff.facts.shop import load_shop
from firstoff.workflows.book import notice, shop_book
from firstoff.workflows.facts import set_fact
from proof.reliability.deeds import SHOP, as_written, filled, write
from proof.reliability.writer import FACT, stick_out

WRITES = 200
CALLS = "pwrite64,write,fdatasync,fsync,ftruncate,unlink"
"""System calls that put something on the disk or take it away."""
ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Killed:
    """What one killed writer had acknowledged, and what of it went wrong; nothing wrong means an empty tuple."""

    acknowledged: int
    more: int
    """Entries that are there whole although the writer was killed before it could say so."""
    wrong: tuple[str, ...]
    damaged: bool = False
    """The book was told as damaged."""
    saved: bool = False
    """Of a damaged book, all that was acknowledged could be exported and taken into a new one."""


def start(kind: str, place: Path, first: int, count: int) -> subprocess.Popen[bytes]:
    """A writer in a process of its own. Its words are not buffered here: to read one line of them must not swallow the next."""
    command = [sys.executable, "-m", "proof.reliability.writer", kind, str(place), str(first), str(count)]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, bufsize=0)


def kill_after(process: subprocess.Popen[bytes], seconds: float, *, ready: bool = True) -> list[tuple[int, str]]:
    """Kill a writer some time after it is ready (or after its start); returns what it had acknowledged in whole lines."""
    assert process.stdout is not None
    if ready:
        process.stdout.readline()
    time.sleep(seconds)
    process.send_signal(signal.SIGKILL)
    return _lines(process.communicate()[0].decode())


def _lines(out: str) -> list[tuple[int, str]]:
    lines = [line.split() for line in out.splitlines(keepends=True) if line.endswith("\n")]
    return [(int(line[0]), line[1]) for line in lines if len(line) == 2]


def pace(folder: Path) -> tuple[float, float]:
    """Seconds from a writer's start until its new book is made, and seconds that all writes take then: for choosing moments among them."""
    began = time.perf_counter()
    process = start("book", folder / "pace.sqlite", 0, WRITES)
    assert process.stdout is not None
    process.stdout.readline()
    ready = time.perf_counter()
    process.communicate()
    return ready - began, time.perf_counter() - ready


def killed_while_writing(folder: Path, seconds: float, taken: tuple[str, ...] = ()) -> Killed:
    """Kill a writer of an empty book so long after it began; take away files that the database keeps beside it; look at it."""
    path = folder / FILE
    filled(path, 0)
    acknowledged = kill_after(start("book", path, 0, WRITES), seconds)
    take_away(path, taken)
    return look_without_journal(path, acknowledged) if taken else look_at_book(path, acknowledged)


def killed_at_call(folder: Path, number: int, taken: tuple[str, ...] = ()) -> Killed | None:
    """Kill a writer of four entries at its so-manieth call that writes to the disk; None where it makes fewer. Needs strace."""
    path = folder / FILE
    book = filled(path, 4)
    with book.reading() as connection:
        before = [(int(one.why), one.sha256) for one in entries(connection)]
    kill = ("-o", str(folder / "trace"), "-e", f"trace={CALLS}", "-e", f"inject={CALLS}:signal=SIGKILL:when={number}")
    writer = (sys.executable, "-m", "proof.reliability.writer", "book", str(path), "4", "4")
    done = subprocess.run(("strace", "-f", *kill, *writer), cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode == 0:
        return None
    take_away(path, taken)
    acknowledged = before + _lines(done.stdout)
    return look_without_journal(path, acknowledged) if taken else look_at_book(path, acknowledged)


def killed_while_made(folder: Path, seconds: float) -> Killed:
    """Kill a writer so long after its start, while it makes the book or writes the first entries."""
    path = folder / FILE
    return look_at_book(path, kill_after(start("book", path, 0, WRITES), seconds, ready=False))


def look_at_book(path: Path, acknowledged: list[tuple[int, str]]) -> Killed:
    """Hold a book against what was acknowledged, and write on."""
    wrong: list[str] = []
    more = 0
    try:
        book = open_book(path, SHOP)
        wrong += verify(book).faults
        with book.reading() as connection:
            found = list(entries(connection))
        wrong += _differing(found, acknowledged)
        more = len(found) - len(acknowledged)
        if more not in (0, 1):
            wrong.append(f"{more} entries more than were acknowledged")
        with book.writing() as connection:
            added = write(connection, book, len(found))
        if added.number != len(found) + 1:
            wrong.append(f"the next entry has the number {added.number}")
        wrong += verify(book).faults
    except InputError as error:
        wrong.append(f"refused: {error}")
    return Killed(len(acknowledged), more, tuple(wrong))


def _differing(found: list[Entry], acknowledged: list[tuple[int, str]]) -> list[str]:
    there = {int(one.why): one.sha256 for one in found}
    lost = [f"entry {number} is lost" for number, sha in acknowledged if there.get(number) != sha]
    return lost + [f"entry {one.number} is not what was written" for one in found if not as_written(one)]


def look_without_journal(path: Path, acknowledged: list[tuple[int, str]]) -> Killed:
    """The same for a book whose journal was taken away: all that was acknowledged is there, or `verify` says that the book is damaged."""
    try:
        faults = verify(open_book(path, SHOP)).faults
    except InputError as error:
        faults = (str(error),)
    if not faults:
        return look_at_book(path, acknowledged)
    return Killed(len(acknowledged), 0, (), damaged=True, saved=not _salvaged(path, acknowledged))


def _salvaged(path: Path, acknowledged: list[tuple[int, str]]) -> list[str]:
    """What is missing of a damaged book after an export and a new book made of it."""
    folder = path.parent
    try:
        with suppress(InputError):  # it says how much could be read
            export_at(path, SHOP, folder / "export", _quiet)
        book = take(folder / "export", folder / "new.sqlite", SHOP, _quiet)
        with book.reading() as connection:
            return [*_differing(list(entries(connection)), acknowledged), *verify(book).faults]
    except InputError as error:
        return [str(error)]


def _quiet(_stage: str, _part: float) -> None:
    """Nobody is looking."""


def take_away(path: Path, endings: tuple[str, ...]) -> None:
    """Take away files that the database keeps beside the book."""
    for ending in endings:
        path.with_name(path.name + ending).unlink(missing_ok=True)


SMALL_SHOP = {
    "machine.toml": '[shop]\nname = "Trial mill"\n\n[axis.x]\ntravel = "0 .. 300 mm"\n',
    "tools.toml": '# one tool\n[tool.em6]\nkind = "flat"\nOHX = "10000e-3 mm"   # out of the nut\nDC  = "6 mm"\n',
}
_TOOLS = re.compile(r'# one tool\n\[tool\.em6\]\nkind = "flat"\nOHX = "(\d+)e-3 mm"   # out of the nut\nDC  = "6 mm"\n')


def small_shop(folder: Path) -> Path:
    """A shop of two short files, with its book."""
    folder.mkdir()
    for name, text in SMALL_SHOP.items():
        (folder / name).write_text(text)
    notice(shop_book(folder))
    return folder


def killed_while_setting(folder: Path, seconds: float) -> tuple[Killed, str]:
    """Kill a process that sets a fact, in the file and in the book; tells too where between the two it was caught."""
    shop = small_shop(folder / "shop")
    acknowledged = [number for number, _ in kill_after(start("shop", shop, 1, WRITES), seconds)]
    return look_at_shop(shop, acknowledged[-1] if acknowledged else 0)


def look_at_shop(folder: Path, acknowledged: int) -> tuple[Killed, str]:
    """The file must be the last one acknowledged or the next, whole; what the book does not know of it must be noticed as a change by hand."""
    wrong: list[str] = []
    text = _TOOLS.fullmatch((folder / "tools.toml").read_text())
    if text is None:
        return Killed(acknowledged, 0, ("the file is half written",)), ""
    in_file = int(text[1]) - 10_000
    shop = shop_book(folder)
    wrong += verify(shop.book).faults
    with shop.book.reading() as connection:
        past = history(connection, shop.book, FACT)
    in_book = max([int(one.why) for one in past if one.how == "set"], default=0)
    if in_file not in (acknowledged, acknowledged + 1) or in_book not in (acknowledged, acknowledged + 1):
        wrong.append(f"{acknowledged} was acknowledged; the file holds {in_file}, the book {in_book}")
    found = notice(shop)
    between = in_file == in_book + 1
    if between != ([change.path for _, change in found.changed] == [FACT]):
        wrong.append("what was written and not recorded was not noticed")
    with shop.book.reading() as connection:
        if known_facts(connection, shop.book).get("") != all_stated(load_shop(folder).facts):
            wrong.append("book and files differ after a look")
    set_fact(shop, FACT, stick_out(WRITES + 1))
    wrong += verify(shop.book).faults
    left = sorted(one.name for one in folder.iterdir())
    if left != [FILE, *sorted(SMALL_SHOP)]:
        wrong.append(f"left behind: {', '.join(left)}")
    where = "between file and book" if between else "in between writes"
    return Killed(acknowledged, in_book - acknowledged, tuple(wrong)), where


def moments(count: int, longest: float, seed: int) -> list[float]:
    """Random moments in seconds, the same at every run of the same seed."""
    draw = random.Random(seed)
    return [draw.uniform(0.0, longest) for _ in range(count)]


def fresh(folder: Path) -> Path:
    """An empty folder, whatever was there."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder
