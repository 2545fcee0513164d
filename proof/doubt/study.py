"""Many hidden machines of one situation, examined through `workflows` as the shop has them and as they are."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from firstoff import workflows
from firstoff.verdict.questions import UNFOLLOWED
from proof.doubt import shops
from proof.doubt.held import Outcome, outcome, stated_of
from proof.doubt.hidden import doubted, draw_machine
from proof.doubt.situations import Situation

NOW = datetime(2026, 5, 4, 9, 30)
SEED = 20261126


@dataclass(frozen=True, slots=True)
class Row:
    """One question of one machine."""

    machine: int
    stated: bool
    """Whether a band was stated, and the truth has such a place."""
    side: int = 0
    """Where the truth lies: -1 below the band, 0 in it, 1 above it."""
    chance: float = 0.0
    """As stated."""
    over: bool = False
    """Whether any place really goes over."""


def _row(machine: int, found: Outcome | None) -> Row:
    if found is None:
        return Row(machine, False)
    stated = found.stated
    side = -1 if found.true < stated.low95 else 1 if found.true > stated.high95 else 0
    return Row(machine, True, side, stated.chance, found.over)


def laid_out(situation: Situation, folder: Path, program: str) -> workflows.Prepared:
    """The situation's shop with a program, written to a folder and read."""
    job = folder / "jobs" / "plate"
    job.mkdir(parents=True)
    (folder / "machine.toml").write_text(situation.machine)
    (folder / "tools.toml").write_text(situation.tools)
    (folder / "materials.toml").write_text(situation.materials)
    (job / "job.toml").write_text(situation.job)
    (job / "program.nc").write_text(program)
    for name, content in situation.other_files.items():
        (job / name).write_bytes(content)
    return workflows.prepare(job, now=NOW)


def true_program(situation: Situation) -> str:
    """The program with what makes the cells fine."""
    body, end = situation.program.removesuffix(shops.TAIL), shops.TAIL
    return body + shops.FINE_CELLS + end


def run(situation: Situation, machines: Sequence[int]) -> dict[str, list[Row]]:
    """Rows by question of the machines with these numbers; each has its own seed, so that any part of them can be drawn again."""
    with TemporaryDirectory() as name:
        prepared = laid_out(situation, Path(name) / "read", situation.program)
        really = laid_out(situation, Path(name) / "true", true_program(situation)) if situation.fine else prepared
        nominal = prepared.job.facts
        first = workflows.judge(prepared, only=situation.questions)
        reuse = first.case.followed if situation.once else None
        leaned = [path for question in situation.questions for path in first.answer(question).leaned]
        paths = doubted(nominal, leaned, situation.known)
        rows: dict[str, list[Row]] = {question: [] for question in situation.questions}
        # Of the truth only what the questions find is wanted (`held.checks_of`), not the draws that judge it.
        cheapest = "understood" if UNFOLLOWED.issuperset(situation.questions) else "leftovers"
        for number in machines:
            machine = draw_machine(
                nominal, paths, situation.varied, np.random.default_rng((SEED, number)), situation.wide
            )
            stated = workflows.judge(prepared, machine.read, situation.questions, reuse=reuse)
            as_is = machine.true if situation.world is None else situation.world(machine.true, machine.errors)
            real = workflows.judge(really, as_is, (cheapest,), reuse=reuse)
            for question in situation.questions:
                said = stated_of(stated, question)
                hand = situation.hands.get(question)
                found = None if said is None else outcome(said, question, real, machine.errors, hand)
                rows[question].append(_row(number, found))
    return rows


def run_all(situation: Situation, machines: range, processes: int) -> dict[str, list[Row]]:
    """The machines, shared out to processes; the same rows whatever their number."""
    parts = [machines[k::processes] for k in range(processes)]
    if processes == 1:
        return run(situation, parts[0])
    rows: dict[str, list[Row]] = {question: [] for question in situation.questions}
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        for part in pool.map(run, [situation] * processes, parts):
            for question, found in part.items():
                rows[question] += found
    return {question: sorted(found, key=lambda row: row.machine) for question, found in rows.items()}
