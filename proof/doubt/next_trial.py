"""Does "measure next" name what settles most? What it names is tried on hidden machines, and so is every other trial there is.

A trial gives a reading of the truth with the doubt that its line in `verdict.needs` declares, of every fact that it covers; where the shop
knew better already, it keeps what it had. Then the job is examined anew, and the questions that are decided (clear or stop) are counted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from scipy.stats import binomtest, wilcoxon

from firstoff import workflows
from firstoff.facts.fact import Fact, FactSet, Shape
from firstoff.verdict.examination import Examination
from firstoff.verdict.needs import Trial, trial_for
from firstoff.verdict.question import Answer
from proof.doubt import shops
from proof.doubt.hidden import Machine, doubted, draw_machine
from proof.doubt.situations import Situation, as_cut, changed
from proof.doubt.study import laid_out

SEED = 20261127
ASKED = (
    "travel", "keep_out", "rapid_contact", "body_contact", "below", "spindle", "reach", "torque", "power", "chip", "strength", "holding",
    "size", "path_kept", "feed",
)  # fmt: skip
MAY_MISS = (
    "machine.spindle.run_up",
    "machine.frame.stiffness",
    "machine.spindle.stiffness",
    "machine.axis.x.travel.high",
    "machine.control.corner_tolerance",
    "materials.proof-bar.kc",
    "tools.em6.strength",
    "tools.em6.OHX",
    "tools.em6.APMX",
    "tools.em6.run_out",
    "job.holding.friction",
    "job.around.highest_around",
)
"""Facts of which a shop has not written some."""
MOST_MISSING = 2
SITUATION = Situation(
    "measure next",
    "the pass along a wall, everything as a new shop would know it",
    ASKED,
    machine=changed(
        shops.MACHINE,
        ("-1.0(4) mm .. 240.0(4) mm", "-1.0(8) mm .. 124.0(8) mm"),
        ('"1.60(10) s"', '"3.0(3) s"'),
        ('"200.0(3) mm .. 240 mm"', '"153.0(10) mm .. 240 mm"'),
        ('"0.0200(10) mm"', '"0.018(3) mm"'),
    ),
    tools=changed(shops.TOOLS, ("300(50)", "160(50)"), ("10.0(1) mm", "4.6(4) mm"), ('"4.0(5) µm"', '"4(2) µm"')),
    materials=changed(shops.MATERIALS, ("900(90)", "900(250)")),
    job=changed(shops.JOB, ('"300(30) N"', '"130(30) N"'), ('"0.15(2)"', '"0.15(3)"'), ('"-8.0(2) mm"', '"0.6(5) mm"'))
    + """
[[feature]]
what = "front wall"
kind = "wall"
tol = "0.022 mm"
tool = 1
[[feature]]
what = "outer path"
kind = "path"
tol = "0.044 mm"
""",
    program=changed(shops.SIDE, ("G1 X20 F1600\n", "G1 X17 F1600\nG1 Y12\n")),
    known=("job.stock.*", "tools.em6.holder.*", "machine.spindle.nose.*"),
    world=as_cut,
)


@dataclass(frozen=True, slots=True)
class Tried:
    """One trial on one machine."""

    machine: int
    trial: str
    """Its pattern in `verdict.needs`."""
    named: int
    """Its place among what is named, 0 first; -1 if it is not named."""
    minutes: float
    settled: int
    """Questions decided after it less those decided before."""

    @property
    def per_minute(self) -> float:
        return self.settled / self.minutes


def decided(examination: Examination) -> int:
    """Questions that are clear or stop."""
    return sum(one.answer in (Answer.CLEAR, Answer.STOP) for one in examination.answers)


def candidates(examination: Examination) -> dict[str, Trial]:
    """Every trial that could settle anything of what is not decided, by its pattern: of each fact that is missing there or in doubt."""
    found: dict[str, Trial] = {}
    known = examination.facts.facts
    for answered in examination.answers:
        if answered.answer in (Answer.CLEAR, Answer.STOP):
            continue
        doubtful = [path for path in answered.leaned if path in known and known[path].u > 0]
        for path in (*(need.fact for need in answered.needs), *answered.settled_by, *doubtful):
            if "." in path and " " not in path and not path.startswith("following."):
                trial = trial_for(path)
                found.setdefault(trial.pattern, trial)
    return found


def after(
    trial: Trial, read: FactSet, true: Mapping[str, Fact], paths: Iterable[str], generator: np.random.Generator
) -> FactSet:
    """The shop's facts once the trial has been made."""
    facts = dict(read.facts)
    for path in paths:
        if trial_for(path).pattern != trial.pattern:
            continue
        truth = true[path]
        u = trial.reach * abs(truth.value) if trial.relative else trial.reach
        had = facts.get(path)
        if had is not None and had.u <= u:
            continue
        value = truth.value + u * float(generator.standard_normal())
        if truth.value > 0 and not path.startswith(("machine.axis.", "job.offset.", "job.around.")):
            value = max(value, 0.05 * truth.value)
        facts[path] = replace(truth, value=value, u=u, shape=Shape.NORMAL, df=np.inf)
    return replace(read, facts=facts)


def try_all(machines: Sequence[int]) -> list[Tried]:
    """Every trial on every machine on which something is named; each fact's reading is drawn anew for each trial."""
    found: list[Tried] = []
    with TemporaryDirectory() as name:
        prepared = laid_out(SITUATION, Path(name), SITUATION.program)
        nominal = prepared.job.facts
        leaned = [path for answered in workflows.judge(prepared, only=ASKED).answers for path in answered.leaned]
        paths = doubted(nominal, leaned, SITUATION.known)
        for number in machines:
            generator = np.random.default_rng((SEED, number))
            machine = draw_machine(nominal, paths, {}, generator)
            found += _on(prepared, number, machine, paths, generator)
    return found


def _on(
    prepared: workflows.Prepared, number: int, machine: Machine, paths: Sequence[str], generator: np.random.Generator
) -> list[Tried]:
    missing = generator.choice(MAY_MISS, int(generator.integers(0, MOST_MISSING + 1)), replace=False)
    read = machine.read
    for path in missing.tolist():
        read = read.without(path)
    before = workflows.judge(prepared, read, ASKED)
    if not before.next:
        return []
    named, count = [one.how for one in before.next], decided(before)
    rows = []
    for pattern, trial in candidates(before).items():
        facts = after(trial, read, machine.true.facts, paths, generator)
        settled = decided(workflows.judge(prepared, facts, ASKED)) - count
        place = named.index(trial.how) if trial.how in named else -1
        rows.append(Tried(number, pattern, place, trial.minutes, settled))
    return rows if any(row.named == 0 for row in rows) else []


def tried(count: int, processes: int) -> list[Tried]:
    """`try_all` of so many machines, shared out to processes."""
    parts = [range(k, count, processes) for k in range(processes)]
    if processes == 1:
        return try_all(parts[0])
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        return [row for part in pool.map(try_all, parts) for row in part]


@dataclass(frozen=True, slots=True)
class Versus:
    """What is named against one other trial, over the machines on which both could be made and the other was not named."""

    trial: str
    machines: int
    named_per_minute: float
    other_per_minute: float
    better: int
    worse: int
    sign_p: float
    """Two-sided sign test."""
    rank_p: float
    """Two-sided Wilcoxon signed-rank test."""


FEWEST = 20
ALL = "all others of the machine, their mean"
RANDOM = "one other of the machine, drawn"
SECOND = "what is named second"


def versus(rows: Sequence[Tried]) -> list[Versus]:
    """Against the mean of all others, and against each that could be made on enough machines; those most like it first."""
    by_machine: dict[int, list[Tried]] = {}
    for row in rows:
        by_machine.setdefault(row.machine, []).append(row)
    pairs: dict[str, list[tuple[float, float]]] = {ALL: [], RANDOM: [], SECOND: []}
    for number, mine in by_machine.items():
        named = next(row for row in mine if row.named == 0)
        others = [row for row in mine if row.named != 0]
        if not others:
            continue
        rates = [row.per_minute for row in others]
        pairs[ALL].append((named.per_minute, float(np.mean(rates))))
        drawn = int(np.random.default_rng((SEED, number, 1)).integers(len(rates)))
        pairs[RANDOM].append((named.per_minute, rates[drawn]))
        pairs[SECOND] += [(named.per_minute, row.per_minute) for row in others if row.named == 1]
        for row in others:
            pairs.setdefault(row.trial, []).append((named.per_minute, row.per_minute))
    kept = [_versus(trial, both) for trial, both in pairs.items() if len(both) >= FEWEST]
    first = [one for one in kept if one.trial in (ALL, RANDOM, SECOND)]
    rest = [one for one in kept if one not in first]
    return [*first, *sorted(rest, key=lambda one: one.named_per_minute - one.other_per_minute)]


def _versus(trial: str, both: Sequence[tuple[float, float]]) -> Versus:
    ours, theirs = np.array(both).T
    better, worse = int(np.sum(ours > theirs)), int(np.sum(ours < theirs))
    apart = ours != theirs
    sign = float(binomtest(better, better + worse).pvalue) if better + worse else 1.0
    rank = float(wilcoxon(ours[apart], theirs[apart]).pvalue) if apart.sum() >= FEWEST else float("nan")
    return Versus(trial, len(both), float(ours.mean()), float(theirs.mean()), better, worse, sign, rank)
