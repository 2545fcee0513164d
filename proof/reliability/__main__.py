"""`make reliability`: try everything on throw-away books and write docs/reliability.md; ends with 1 where anything was lost, half or silently wrong.

With a number, so many times as often (``python -m proof.reliability 0.1`` for a look).
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from proof.markdown import table
from proof.reliability import damage, disk, kills, together
from proof.reliability.commands import NOBODY, Said, page_spoilt, said, shop_with
from proof.reliability.damage import NO_BOOKS, Found
from proof.reliability.kills import WRITES, Killed, fresh, moments

PAGE = Path(__file__).parents[2] / "docs" / "reliability.md"
HEAD = f"""# What the book withstands

Written by `make reliability` (`proof/reliability/`), which does all of this to throw-away books and fails where an entry that was
acknowledged is gone, where half an entry is shown, or where `firstoff book verify` is silent about something that is shown wrong.
`tests/book/test_reliability.py` does a little of each at every `make test`.

An entry is *acknowledged* when the call that writes it has returned; a writer writes {WRITES} entries of four kinds, of up to seven pages.
"""
VERDICT = """Nothing half was shown, and `verify` was never silent. Nothing that was acknowledged was lost, but where pages were spoilt or the journal
was taken away from a book whose writer had just been killed in the middle of moving it: there the damage is told."""
NOT_TRIED = """
## Not tried

- The plug pulled: killing a process leaves what the system has not yet put on the disk. The database is told to wait for the disk at every
  write (synchronous = FULL), and whether the disk then keeps its word is the disk's.
- Network drives: locks on them are often none. Keep the book on a disk of the machine it is used on, or on a PostgreSQL server.
- The journal (`book.sqlite-wal`) is part of the book while it is there. Do not take it away, and never put another's beside it: see above.
"""
Row = tuple[str, int, str]


class Page:
    """Rows of the page, with what was wrong."""

    def __init__(self, folder: Path, share: float) -> None:
        self.folder, self.share = folder, share
        self.wrong: list[str] = []
        self.parts: list[str] = []
        self.began = time.perf_counter()

    def times(self, count: int) -> int:
        return max(2, round(count * self.share))

    def room(self) -> Path:
        return fresh(self.folder / "room")

    def section(self, title: str, rows: Iterator[Row]) -> None:
        told = [("what was done", "times", "what came of it")]
        for what, count, came in rows:
            print(f"{time.perf_counter() - self.began:5.0f} s  {what}: {count}: {came}", file=sys.stderr)
            told.append((what, str(count), came))
        self.parts.append("\n".join(["", f"## {title}", "", *table(told)]))

    def hold(self, what: str, faults: Sequence[str]) -> None:
        for fault in faults:
            self.wrong.append(f"{what}: {fault}")
            print(self.wrong[-1], file=sys.stderr)

    def killed(self, what: str, found: Sequence[Killed]) -> Row:
        """A row about killed writers."""
        for one in found:
            self.hold(what, one.wrong)
        acknowledged, bad = sum(one.acknowledged for one in found), sum(1 for one in found if one.wrong)
        damaged = [one for one in found if one.damaged]
        came = f"{acknowledged} entries acknowledged, " + (f"**{bad} books wrong**" if bad else "none lost, none half")
        if damaged and not bad:
            saved, whole = sum(one.saved for one in damaged), len(found) - len(damaged)
            came = (
                f"{acknowledged} entries acknowledged; {whole} books whole, none lost, none half; {len(damaged)} damaged, each told so: "
                f"export and take gave all that was acknowledged of {saved}, and not of {len(damaged) - saved}"
            )
        return what, len(found), came

    def damaged(self, what: str, found: Found) -> Row:
        """A row about damaged books."""
        self.hold(what, found.wrong)
        return what, found.cases, "; ".join(f"{count} × {came}" for came, count in found.came.most_common())


def _killed(page: Page) -> Iterator[Row]:
    ready, seconds = kills.pace(page.room())
    for what, seed, taken in (
        ("a writer killed (SIGKILL) at a random moment", 1, ()),
        ("the same, then the journal taken away", 2, ("-wal",)),
        ("the same, then the journal's index taken away", 3, ("-shm",)),
        ("the same, then both", 4, ("-wal", "-shm")),
    ):
        count = page.times(100 if seed == 1 else 40)
        found = [kills.killed_while_writing(page.room(), at, taken) for at in moments(count, seconds, seed)]
        yield page.killed(what, found)
    found = [kills.killed_while_made(page.room(), at) for at in moments(page.times(60), 1.2 * ready, 5)]
    yield page.killed("killed while the book is made", found)
    caught: Counter[str] = Counter()
    settings = []
    for at in moments(page.times(60), 2 * seconds, 6):
        one, where = kills.killed_while_setting(page.room(), at)
        settings.append(one)
        caught[where] += 1
    what, count, came = page.killed("killed while setting facts, in the text file and in the book", settings)
    between = caught["between file and book"]
    yield (
        what,
        count,
        f"{came}; the file old or new, never half; {between} caught between file and book, each noticed at the next command",
    )
    if shutil.which("strace"):
        for taken in ((), ("-wal",)):
            yield page.killed(*_at_every_call(page, taken))


def _at_every_call(page: Page, taken: tuple[str, ...]) -> tuple[str, list[Killed]]:
    found: list[Killed] = []
    step = max(1, round(1 / page.share))
    number = 1
    while (one := kills.killed_at_call(page.room(), number, taken)) is not None:
        found.append(one)
        number += step
    what = "killed at each system call that puts something on the disk, one after the other, four entries long"
    return what + (", then the journal taken away" if taken else ""), found


def _disks(page: Page) -> Iterator[Row]:
    found = [one for size in disk.sizes(page.times(60), 7) if (one := disk.disk_full(page.room(), size)) is not None]
    if not found:
        yield "a disk that is full", 0, disk.NO_DISK
        return
    what, count, came = page.killed("disks of 60 to 1400 KiB written full, then made larger", [one for one, _ in found])
    full = sum(1 for _, told in found if told)
    yield what, count, f"{came}; {full} were full and said so, and the next write worked"
    tried = (disk.disk_full_while_setting(page.room(), size) for size in disk.sizes(page.times(20), 8))
    both = [pair for pair in tried if pair is not None]
    what, count, came = page.killed(
        "the same while setting facts, in the text file and in the book", [one for one, _ in both]
    )
    yield what, count, f"{came}; {sum(1 for _, told in both if told)} were full and said so"


def _damaged(page: Page) -> Iterator[Row]:
    found, pages = damage.pages_damaged(page.room(), 9)
    yield page.damaged(f"each of the {pages} pages of a book of {damage.ENTRIES} entries spoilt in seven ways", found)
    yield page.damaged("the file cut off", damage.cut_short(page.room(), page.times(200), 10))
    yield page.damaged(
        "the journal cut off, at every KiB: before its entry or after it", damage.journal_torn(page.room(), 1024)
    )
    yield page.damaged("the journal of another book beside it", damage.strange_journal(page.room()))


def _together(page: Page) -> Iterator[Row]:
    rounds = page.times(5)
    count = 0
    for _ in range(rounds):
        entries, wrong = together.two_writers(page.room(), WRITES)
        page.hold("two writers", wrong)
        count += entries
    yield (
        f"two processes write {WRITES} entries each",
        rounds,
        f"{count} entries, the chain whole" if not page.wrong else "**wrong**",
    )
    made, half_way, wrong = together.copies(page.room(), WRITES)
    page.hold("copies", wrong)
    yield (
        f"copies while {WRITES} entries are written",
        made,
        f"each is whole and is how the book began; {half_way} caught it in between",
    )
    slowest = max(together.beside_a_reader(page.room()) for _ in range(page.times(20)))
    page.hold("beside a reader", [f"a write took {slowest:.1f} s"] if slowest > 2 else [])
    yield "a write while somebody reads and does not end", page.times(20), f"the slowest took {1000 * slowest:.0f} ms"


def _commands(page: Page) -> Iterator[Row]:
    for name in NO_BOOKS:
        yield _answered(page, name, said(shop_with(page.room() / "shop", name), "book", "verify"))
    if os.geteuid() == 0:
        with tempfile.TemporaryDirectory() as place:
            Path(place).chmod(0o755)
            folder = shop_with(Path(place) / "shop", "a folder that may not be written")
            folder.chmod(0o555)
            yield _answered(page, "a folder that may not be written", _as_nobody(folder))
    for number in (0, 4):
        folder = shop_with(page.room() / "shop", "a good one")
        page_spoilt(folder, number)
        yield _answered(page, f"page {number + 1} of a book emptied", said(folder, "book", "verify"))


def _as_nobody(folder: Path) -> Said:
    """The answer to somebody who may not write; in this process, since nobody else may read its interpreter."""
    from firstoff.errors import InputError
    from firstoff.workflows.book import notice, shop_book

    os.seteuid(NOBODY)
    try:
        notice(shop_book(folder))
        return Said(0, "written all the same", False)
    except InputError as error:
        return Said(2, str(error).replace(str(folder) + "/", ""), True)
    finally:
        os.seteuid(0)


def _answered(page: Page, name: str, answer: Said) -> Row:
    page.hold(name, [*answer.wrong, *([] if answer.exit == 0 or answer.unchanged else ["the file was changed"])])
    words = answer.words.removeprefix("1 thing in the input cannot be used. ").replace("|", "\\|")
    return name, 1, f"exit {answer.exit}: {words[:260]}"


def main(share: float) -> int:
    """All of it, `share` times as often as for the page."""
    sections: dict[str, Callable[[Page], Iterator[Row]]] = {
        "Killed": _killed,
        "Disks": _disks,
        "Damage": _damaged,
        "Several at once": _together,
        "What the command says": _commands,
    }
    with tempfile.TemporaryDirectory() as name:
        page = Page(Path(name), share)
        for title, rows in sections.items():
            page.section(title, rows(page))
    verdict = "**Something was wrong.**" if page.wrong else VERDICT
    if share == 1:
        PAGE.write_text(HEAD + f"\n{verdict}\n" + "\n".join(page.parts) + "\n" + NOT_TRIED)
    return 1 if page.wrong else 0


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else 1.0))
