"""Hidden machines: the truth is drawn apart, the shop only ever sees readings of it; is the stated doubt true?

Each machine's true values are drawn first, widely; then what its shop writes down: a reading with the spread that it states (a mean of n
readings with its own standard deviation where degrees of freedom are few). The shop's facts are examined, and so is the truth, without doubt.
2000 machines, one seed, in minutes that every run of the suite has; `make doubt` (docs/doubt.md) has 4000 in each of 18 situations. This proves
the sums and the draws; that the *models* are true is for `tests/truth/`.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import chi2

from firstoff import workflows
from firstoff.facts.fact import Fact, FactSet, Shape
from firstoff.verdict.draws import log_u
from firstoff.verdict.examination import Examination
from firstoff.verdict.judge import Draws, judge
from firstoff.verdict.question import Answered, Finding
from firstoff.verdict.questions import feed

from ..once import alone
from .conftest import JOB, MACHINE, NOW, PROGRAM, TOOLS

MACHINES = 2000
SEED = 7
LOW, HIGH = 0.936, 0.964
"""Of 2000 machines with true 95 % coverage, 93.6..96.4 % holds but for 4 in 1000 seeds (exact binomial)."""

WIDE = 6.0
"""Half-width of the true values' range, in u."""
BINS = ((0.01, 0.05), (0.05, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 0.95), (0.95, 0.99))
FEWEST = 60
FULL_BINS = 4
FALSE_ALARM = 0.001
"""An honest tool fails the chi-square of all bins together once in a thousand seeds."""

# The corner tolerance is known to a twentieth here. With the quarter that an assumed one carries, cutting time is no longer linear in it and the
# stated band of the feed question is too wide: it then held the truth in 96.2 % of the machines.
# Near-undecided cases, where a wrong doubt would show: overrun near 0, clearance near 0, feed near its bound.
TEXTS = {
    "machine": MACHINE.replace('"2.0(1) m/s^2"', '"1.20(10) m/s^2"').replace('"0.02 mm"', '"0.0200(10) mm"'),
    "tools": TOOLS.replace("64.150(6) mm", "64.15(30) mm").replace("71.020(6) mm", "71.02(30) mm"),
    "job": JOB.replace('"100.00(2) mm"', '"250.2(3) mm"')
    .replace("0.2(2) mm", "-4.0(2) mm")
    .replace("-3.0(2) mm", "0.6(2) mm"),
}
LEANED = (
    "machine.axis.x.travel.high",
    "job.offset.G54.at.x",
    "tools.dr3.LF",
    "job.offset.G54.at.z",
    "job.around.highest_around",
    *(f"machine.axis.{axis}.{limit}" for axis in "xyz" for limit in ("max_feed", "accel", "jerk")),
    "machine.control.corner_tolerance",
    "machine.control.block_rate",
)
QUESTIONS = ("travel", "rapid_contact", "feed")
NONE = ("none of them",)
"""Asked of a case whose time alone is wanted: `timed` judges that by itself."""


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> workflows.Prepared:
    folder = tmp_path_factory.mktemp("hidden")
    job = folder / "jobs" / "plate"
    job.mkdir(parents=True)
    (folder / "machine.toml").write_text(TEXTS["machine"])
    (folder / "tools.toml").write_text(TEXTS["tools"])
    (job / "job.toml").write_text(TEXTS["job"])
    # The drill goes from hole to hole 0.4 mm above the clamps: a length 0.3 mm and a height 0.2 mm in doubt leave that open. Feeds are high, so
    # that the axes limit them.
    (job / "program.nc").write_text(
        PROGRAM.replace("Z-8 R4", "Z-8 R1.0")
        .replace("G81 X10", "G99 G81 X10")
        .replace("F2000", "F5500")
        .replace("F800", "F3000")
        .replace("F300", "F3000")
    )
    return workflows.prepare(job, now=NOW)


def true_value(fact: Fact, generator: np.random.Generator) -> Fact:
    """A true value, drawn evenly over a range far wider than the doubt: before it reads anything, the shop knows nothing."""
    reach = WIDE * (log_u(fact) if fact.shape is Shape.LOGNORMAL else fact.u / fact.value if fact.value else 0.0)
    even = generator.uniform(-1.0, 1.0)
    value = fact.value * math.exp(reach * even) if fact.shape is Shape.LOGNORMAL else fact.value + WIDE * fact.u * even
    return replace(fact, value=value, u=fact.u * value / fact.value if fact.shape is Shape.LOGNORMAL else fact.u)


def reading_of(truth: Fact, generator: np.random.Generator) -> Fact:
    """What the shop writes down about a true value: a mean of few readings with its own spread, or a value with a known one."""
    if truth.shape is Shape.LOGNORMAL:
        value = truth.value * math.exp(log_u(truth) * generator.standard_normal())
        return replace(truth, value=value, u=truth.u / truth.value * value)
    if math.isinf(truth.df):
        return replace(truth, value=truth.value + truth.u * generator.standard_normal())
    n = round(truth.df) + 1
    readings = truth.value + truth.u * math.sqrt(n) * generator.standard_normal(n)
    return replace(truth, value=float(readings.mean()), u=float(readings.std(ddof=1) / math.sqrt(n)))


@pytest.fixture(scope="module")
def outcomes(prepared: workflows.Prepared, shared_folder: Path) -> dict[str, np.ndarray]:
    """Question -> f8[MACHINES, 3]: inside the 95 % band (0/1), stated chance, really over (0/1). Worked out by the worker that asks first."""
    file = shared_folder / "hidden-machines.npz"
    with alone(file):
        if not file.exists():
            np.savez(file, **drawn(prepared))
    with np.load(file) as found:
        return dict(found)


def drawn(prepared: workflows.Prepared) -> dict[str, np.ndarray]:
    nominal = prepared.job.facts
    # The limits near their edge here hang on what stands around, not on the stock: it is followed once, for all machines.
    followed = workflows.judge(prepared).case.followed
    generator = np.random.default_rng(SEED)
    rows: dict[str, list[tuple[float, float, float]]] = {question: [] for question in QUESTIONS}
    for _ in range(MACHINES):
        truth, seen = dict(nominal.facts), dict(nominal.facts)
        for path in LEANED:
            truth[path] = true_value(nominal.facts[path], generator)
            seen[path] = reading_of(truth[path], generator)
        exact = {path: replace(fact, u=0.0) for path, fact in truth.items()}
        real = workflows.judge(prepared, FactSet(exact, nominal.settings), NONE, reuse=followed)
        stated = workflows.judge(prepared, FactSet(seen, nominal.settings), ("travel", "rapid_contact"), reuse=followed)
        for question in ("travel", "rapid_contact"):
            demand, capacity = true_demand(question, truth, seen)
            rows[question].append(outcome(stated.answer(question), demand, capacity))
        rows["feed"].append(outcome(timed(stated), *true_time(real)))
    return {question: np.array(row, dtype=float) for question, row in rows.items()}


def true_demand(question: str, truth: dict[str, Fact], seen: dict[str, Fact]) -> tuple[float, float]:
    """(demand, capacity) of travel and depth as they really are, worked out by hand."""
    if question == "travel":  # the farthest X of the program is 50
        return truth["job.offset.G54.at.x"].value + 50.0 - truth["machine.axis.x.travel.high"].value, 0.0
    tip = 1.0  # the R plane; registers hold what was read, and drill, zero and blank are as they truly are
    for path in ("tools.dr3.LF", "job.offset.G54.at.z"):
        tip += seen[path].value - truth[path].value
    return truth["job.around.highest_around"].value - tip, 0.0


def timed(examined: Examination) -> Answered:
    """What *feed* says of the time alone: where an axis is asked for too much as well, it may tell that."""
    found, leaning, draws = (
        feed.find(examined.case, examined.facts.leaning()),
        examined.facts.leaning(),
        Draws(examined.facts),
    )
    return judge(feed.QUESTION, Finding(found.checks[:1]), leaning, draws, lambda _: ("", None))


def true_time(real: Examination) -> tuple[float, float]:
    """(demand, capacity) by the plan with true limits."""
    measured = timed(real)
    if measured.demand is None or measured.capacity is None:
        raise AssertionError(measured.why)
    return measured.demand.value, measured.capacity.value


def outcome(stated: Answered, true: float, capacity: float) -> tuple[float, float, float]:
    if stated.demand is None or stated.capacity is None or stated.any_chance is None:
        raise AssertionError((stated.why, stated.needs))
    low, high = stated.demand.low95, stated.demand.high95
    if stated.demand.u == 0.0:  # a gap: the demand is nought, the doubt is all in the capacity
        low, high = -stated.capacity.high95, -stated.capacity.low95
    return float(low <= true <= high), stated.any_chance, float(true > capacity)


@pytest.mark.parametrize("question", QUESTIONS)
def test_the_stated_doubt_and_chance_are_true(question: str, outcomes: dict[str, np.ndarray]) -> None:
    """The 95 % band holds the truth 95 times in 100, and of the machines called 10 % about 10 % exceed."""
    found = outcomes[question]
    covered = found[:, 0].mean()
    assert LOW <= covered <= HIGH, f"{question}: {covered:.4f} of {MACHINES}"
    chance, over = found[:, 1], found[:, 2]
    squares, told = [], []
    for low, high in BINS:
        here = (chance >= low) & (chance < high)
        if here.sum() < FEWEST:
            continue
        called, seen = chance[here].mean(), over[here].mean()
        squares.append((seen - called) ** 2 / (called * (1 - called) / here.sum()))
        told.append(f"called {called:.3f}: {seen:.3f} of {here.sum()}")
    assert len(squares) >= FULL_BINS, f"only {len(squares)} bins are full enough to say anything"
    assert chi2.sf(sum(squares), len(squares)) > FALSE_ALARM, "; ".join(told)
