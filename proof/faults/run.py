"""`make faults`: runs the whole study in two processes and writes docs/faults.md. Interrupted, it writes nothing."""

from __future__ import annotations

import argparse
import multiprocessing
import pickle
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from proof.faults.all_kinds import KINDS, UNDRAWN
from proof.faults.machines import MACHINES
from proof.faults.page import MANY, Told, page
from proof.faults.shop import NOT_MEASURED, CleanShop, job_names, lay_out_all, open_shop
from proof.faults.study import examine_clean, study
from proof.faults.unseen import KINDS as UNSEEN_KINDS
from proof.faults.unseen import tally

WORKERS = 2
FEW = 2
PAGE = Path(__file__).parents[2] / "docs" / "faults.md"


@dataclass(slots=True)
class Task:
    """One thing for a worker to do."""

    do: str
    """clean, kind or unseen."""
    name: str
    machine: str = ""
    wanted: int = 0
    seed: int = 0
    clean: Mapping[tuple[str, str], Mapping[str, str]] = field(default_factory=dict)


_FOLDER = Path()
_SHOP: list[CleanShop] = []


def _begin(folder: Path) -> None:
    """A worker leaves interrupts to its parent."""
    global _FOLDER
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _FOLDER = folder


def _work(task: Task) -> tuple[Task, Any]:
    if task.do == "clean":
        return task, examine_clean(_FOLDER, task.name, task.machine)
    if not _SHOP:
        _SHOP.append(open_shop(_FOLDER))
    if task.do == "unseen":
        kind = next(one for one in UNSEEN_KINDS if one.id == task.name)
        return task, tally(kind, _SHOP[0], task.wanted, task.seed)
    known = {kind.id: kind for kind in (*KINDS, UNDRAWN)}
    return task, study(known[task.name], _SHOP[0], task.clean, task.wanted, task.seed)


def main() -> int:
    """Parse the command line and run."""
    parser = argparse.ArgumentParser(
        prog="python -m proof.faults", description="Seeded faults: what an examination catches."
    )
    parser.add_argument("--few", action="store_true", help=f"{FEW} of each kind, printed and not written")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=[], metavar="KIND", help="some kinds, printed and not written")
    parser.add_argument("--keep", type=Path, default=None, help="a file that holds what is done, to go on from")
    parser.add_argument("--out", type=Path, default=None, help="write the page there")
    asked = parser.parse_args()
    wanted = FEW if asked.few else MANY
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "shops"
        lay_out_all(folder)
        pool = multiprocessing.get_context("spawn").Pool(WORKERS, _begin, (folder,))
        try:
            told = _run(pool.imap_unordered, wanted, asked.seed, asked.only, asked.keep)
        except KeyboardInterrupt:
            pool.terminate()
            print("\nInterrupted: nothing was written.", file=sys.stderr)
            return 130
        pool.terminate()
    text = page(told)
    out = asked.out if asked.out is not None else None if asked.few or asked.only else PAGE
    if out is None:
        print(text)
    else:
        out.write_text(text, encoding="utf-8")
        print(f"{out} written.", file=sys.stderr)
    return 0


def _run(
    go: Callable[..., Iterable[tuple[Task, Any]]], wanted: int, seed: int, only: list[str], keep: Path | None
) -> Told:
    pairs = [(job, machine) for job in (*job_names(), NOT_MEASURED) for machine in MACHINES]
    kept = _Kept(keep, wanted, seed)
    clean = {
        (task.name, task.machine): got for task, got in _told(go, [Task("clean", *pair) for pair in pairs], "clean")
    }
    asked = [kind for kind in KINDS if not only or kind.id in only]
    tasks = [Task("kind", kind.id, "", wanted, seed, clean) for kind in (*asked, UNDRAWN)]
    tasks += [Task("unseen", kind.id, "", wanted, seed) for kind in UNSEEN_KINDS]
    for task, result in _told(go, [task for task in tasks if task.name not in kept.done], "kinds"):
        kept.add(task.name, result)
    done = kept.done
    return Told(
        seed,
        wanted,
        clean,
        [done[kind.id] for kind in asked],
        done[UNDRAWN.id],
        [done[kind.id] for kind in UNSEEN_KINDS],
    )


class _Kept:
    """What is done already, in a file where one is named."""

    def __init__(self, file: Path | None, wanted: int, seed: int) -> None:
        self.file, self.key = file, (wanted, seed)
        self.done: dict[str, Any] = {}
        if file is not None and file.exists():
            key, done = pickle.loads(file.read_bytes())
            self.done = done if key == self.key else {}

    def add(self, name: str, result: Any) -> None:
        self.done[name] = result
        if self.file is not None:
            self.file.write_bytes(pickle.dumps((self.key, self.done)))


def _told(go: Callable[..., Iterable[tuple[Task, Any]]], tasks: list[Task], what: str) -> Iterable[tuple[Task, Any]]:
    """Results as they come, with how far it is and how long it may take still."""
    began = time.monotonic()
    for done, (task, got) in enumerate(go(_work, tasks), 1):
        gone = time.monotonic() - began
        left = gone / done * (len(tasks) - done)
        print(
            f"{what} {done}/{len(tasks)}, {_clock(gone)} gone, about {_clock(left)} left: {task.name}", file=sys.stderr
        )
        yield task, got


def _clock(seconds: float) -> str:
    return f"{int(seconds // 60)}:{int(seconds % 60):02d}"
