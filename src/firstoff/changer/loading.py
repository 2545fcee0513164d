"""What to load for today's jobs with the fewest changes by hand, exactly; and which holders to free for cutters that are in none.

A change by hand is one tool put into a pocket or moved to another. The jobs run in the order given; each needs its tools in
pockets while it runs, some in one pocket of their own where T names a pocket. Without neighbours that clash and without pockets
of their own, the least number is that of "keep the tool that is needed soonest" (Tang & Denardo, Models arising from a flexible
manufacturing machine, part I: minimization of the number of tool switches, Operations Research 36 (1988) 767-777, from memory);
in general it is a choice of yes and no for each job, pocket and tool, solved to the end by HiGHS.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp
from scipy.sparse import coo_array

MOST_JOBS_TO_ORDER = 6
SECONDS = 60.0
"""Longest search of one answer; beyond it the best that was found is told as not proven."""

Floats = NDArray[np.float64]
Placed = tuple[int, str]
"""A tool in a pocket."""


@dataclass(frozen=True, slots=True)
class Need:
    """One T of a job: the tool that is meant, those that may stand in for it, and the pocket that T names, if it names one."""

    number: int
    meant: str
    sisters: tuple[str, ...] = ()
    pocket: int | None = None

    @property
    def tools(self) -> tuple[str, ...]:
        return (self.meant, *self.sisters)


@dataclass(frozen=True, slots=True)
class JobNeeds:
    """What one job needs in the rack while it runs."""

    job: str
    needs: tuple[Need, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that a hand does before a job: a tool put in (`was` None), moved, or taken out (`pocket` None)."""

    tool: str
    pocket: int | None
    was: int | None


@dataclass(frozen=True, slots=True)
class Stage:
    """One job with what a hand does before it."""

    job: str
    changes: tuple[Change, ...]
    """Taken out first, then put in and moved."""
    rack: Mapping[int, str]
    """Tool by pocket while it runs."""
    stand_in: Mapping[int, str]
    """Sisters by the T that they stand in at."""


@dataclass(frozen=True, slots=True)
class Plan:
    """The stages of a day, in order, with the fewest changes by hand."""

    stages: tuple[Stage, ...]
    hand_changes: int
    proven: bool
    """Whether nothing better can exist; False only where the time for the search ran out."""


@dataclass(frozen=True, slots=True)
class RackNow:
    """Pockets, what is in them, and pairs that do not fit beside each other."""

    pockets: tuple[int, ...]
    held: Mapping[int, str]
    clashes: frozenset[tuple[Placed, Placed]] = field(default_factory=frozenset)

    def clash(self, one: Placed, other: Placed) -> bool:
        return (one, other) in self.clashes or (other, one) in self.clashes


def plan_loading(rack: RackNow, jobs: Sequence[JobNeeds], seconds: float = SECONDS) -> Plan | None:
    """The plan with the fewest changes by hand; among those, with the fewest sisters standing in, then the fewest tools taken out.
    None where no filling of the rack serves every job."""
    return _planned(rack, jobs, seconds, ordered=True)


def best_order(rack: RackNow, jobs: Sequence[JobNeeds], seconds: float = SECONDS) -> Plan | None:
    """The same with the order of the jobs free too. Raises `ValueError` for more than `MOST_JOBS_TO_ORDER` jobs."""
    if len(jobs) > MOST_JOBS_TO_ORDER:
        raise ValueError(f"{len(jobs)} jobs, at most {MOST_JOBS_TO_ORDER}")
    return _planned(rack, jobs, seconds, ordered=False)


def least_changes(rack: RackNow, jobs: Sequence[JobNeeds]) -> int:
    """Changes that no order and no plan can save: tools that nothing stands in for and that are not in the rack."""
    alone = {need.meant for job in jobs for need in job.needs if not need.sisters}
    return len(alone - set(rack.held.values()))


def cannot_serve(rack: RackNow, jobs: Sequence[JobNeeds]) -> tuple[str, ...]:
    """The jobs that no filling of the rack serves, each alone."""
    return tuple(job.job for job in jobs if plan_loading(RackNow(rack.pockets, {}, rack.clashes), [job]) is None)


def _planned(rack: RackNow, jobs: Sequence[JobNeeds], seconds: float, *, ordered: bool) -> Plan | None:
    """First without saying where the tools that fit anywhere stand; only if they then find no pockets, with a pocket for each from the
    start. The first is the easier question, so its number of changes is never beaten."""
    for everywhere in (False, True):
        model = _Model(rack, jobs, ordered=ordered, everywhere=everywhere)
        fewest, proven = model.solve(model.puts(), seconds)
        if fewest is None:
            return None
        changes = round(float(model.puts() @ fewest))
        neat, _ = model.solve(model.neatness(), seconds, most_changes=changes)
        for chosen in (neat, fewest):
            plan = None if chosen is None else model.plan(chosen, changes, proven)
            if plan is not None:
                return plan
    return None


class _Model:
    """The choice as a mixed-integer programme. Columns, each 0 or 1:

    ``there`` (stage, (pocket, tool)): it stands there. ``stays`` (stage, (pocket, tool)): a tool that fits anywhere still stands where it
    was. ``in`` (stage, tool): such a tool has been put in, no matter where. ``put`` (stage, of what): by hand, before that stage.
    ``serves`` (stage, job, need, tool). ``runs`` (stage, job), where the order is free.
    """

    def __init__(self, rack: RackNow, jobs: Sequence[JobNeeds], *, ordered: bool, everywhere: bool) -> None:
        self.rack, self.jobs, self.ordered = rack, tuple(jobs), ordered
        self.stages = range(len(self.jobs))
        self.columns: dict[tuple[object, ...], int] = {}
        self.rows: list[tuple[dict[int, float], float, float]] = []
        needs = [need for job in self.jobs for need in job.needs]
        named = {tool for need in needs if need.pocket is not None for tool in need.tools}
        clashing = {tool for pair in rack.clashes for _, tool in pair}
        wanted = dict.fromkeys(tool for need in needs for tool in need.tools)
        known = dict.fromkeys((*rack.held.values(), *wanted))
        self.anywhere = tuple(t for t in known if not everywhere and t not in named and t not in clashing)
        self.places = self._places(needs)
        self.stay = tuple(one for one in rack.held.items() if one[1] in self.anywhere)
        self.newly = tuple(tool for tool in self.anywhere if tool in wanted)
        self._fill()
        self._serve()

    def _places(self, needs: Sequence[Need]) -> tuple[Placed, ...]:
        """Every (pocket, tool) worth a thought of the tools whose place matters: where one is now, and where a job may want it. To park one
        elsewhere saves nothing."""
        found = {one for one in self.rack.held.items() if one[1] not in self.anywhere}
        for need in needs:
            pockets = self.rack.pockets if need.pocket is None else (need.pocket,)
            found |= {(p, t) for p in pockets if p in self.rack.pockets for t in need.tools if t not in self.anywhere}
        order = {pocket: place for place, pocket in enumerate(self.rack.pockets)}
        return tuple(sorted(found, key=lambda one: (order.get(one[0], -1), one[1])))

    def _column(self, *key: object) -> int:
        return self.columns.setdefault(key, len(self.columns))

    def _row(self, terms: Mapping[int, float], low: float, high: float) -> None:
        self.rows.append((dict(terms), low, high))

    def _standing(self, stage: int, tool: str, pocket: int | None = None) -> list[int]:
        """Columns that say that a tool is in the rack, or in one pocket of it."""
        found = [
            self._column("there", stage, one) for one in self.places if one[1] == tool and pocket in (None, one[0])
        ]
        if pocket is None:
            found += [self._column("stays", stage, one) for one in self.stay if one[1] == tool]
            found += [self._column("in", stage, tool)] if tool in self.newly else []
        return found

    # --- what must hold -----------------------------------------------------------------------------------------------

    def _fill(self) -> None:
        """One tool a pocket, one pocket a tool, no more tools than pockets, no clashes."""
        clashing = [pair for pair in itertools.combinations(self.places, 2) if self.rack.clash(*pair)]
        pockets = dict.fromkeys(one[0] for one in (*self.places, *self.stay))
        tools = dict.fromkeys((*(one[1] for one in self.places), *self.anywhere))
        for stage in self.stages:
            for pocket in pockets:
                told = [self._column("there", stage, one) for one in self.places if one[0] == pocket]
                told += [self._column("stays", stage, one) for one in self.stay if one[0] == pocket]
                self._row(dict.fromkeys(told, 1.0), 0, 1)
            everything = []
            for tool in tools:
                told = self._standing(stage, tool)
                everything += told
                self._row(dict.fromkeys(told, 1.0), 0, 1)
            self._row(dict.fromkeys(everything, 1.0), 0, len(self.rack.pockets))
            for one, other in clashing:
                pair = (self._column("there", stage, one), self._column("there", stage, other))
                self._row(dict.fromkeys(pair, 1.0), 0, 1)
            self._from_before(stage)

    def _from_before(self, stage: int) -> None:
        """What is there and was not there before has been put; what no longer stays never stays again."""
        now = set(self.rack.held.items())
        for key in [*(("there", one) for one in self.places), *(("in", tool) for tool in self.newly)]:
            what, of = key
            terms = {self._column(what, stage, of): 1.0, self._column("put", stage, of): -1.0}
            if stage > 0:
                terms[self._column(what, stage - 1, of)] = -1.0
            self._row(terms, -np.inf, 1.0 if stage == 0 and of in now else 0.0)
        for one in self.stay if stage > 0 else ():
            terms = {self._column("stays", stage, one): 1.0, self._column("stays", stage - 1, one): -1.0}
            self._row(terms, -np.inf, 0.0)

    def _serve(self) -> None:
        """Each need of the job that runs has a tool of its own, which is in the rack, in the pocket that T names."""
        for stage in self.stages:
            running = [stage] if self.ordered else list(self.stages)
            for job in running:
                self._serve_job(stage, job)
            if not self.ordered:
                self._row({self._column("runs", stage, job): 1.0 for job in running}, 1, 1)
        for job in self.stages if not self.ordered else ():
            self._row({self._column("runs", stage, job): 1.0 for stage in self.stages}, 1, 1)

    def _serve_job(self, stage: int, job: int) -> None:
        needs = _distinct(self.jobs[job].needs)
        for number, need in enumerate(needs):
            serving = {}
            for tool in need.tools:
                column = self._column("serves", stage, job, number, tool)
                serving[column] = 1.0
                standing = self._standing(stage, tool, need.pocket)
                self._row({column: 1.0, **dict.fromkeys(standing, -1.0)}, -np.inf, 0.0)
            if self.ordered:
                self._row(serving, 1, 1)
            else:
                self._row({**serving, self._column("runs", stage, job): -1.0}, 0, 0)
        for tool in dict.fromkeys(tool for need in needs for tool in need.tools):
            told = [self._column("serves", stage, job, n, tool) for n, need in enumerate(needs) if tool in need.tools]
            if len(told) > 1:
                self._row(dict.fromkeys(told, 1.0), 0, 1)

    # --- what it costs ------------------------------------------------------------------------------------------------

    def puts(self) -> Floats:
        return np.array([1.0 if key[0] == "put" else 0.0 for key in self.columns])

    def neatness(self) -> Floats:
        """Sisters that stand in, then tools taken out: the fewer are there at each stage, the more were taken out."""
        size = len(self.rack.pockets) * len(self.jobs) + 1
        cost = np.zeros(len(self.columns))
        for key, column in self.columns.items():
            if key[0] == "serves":
                needs = _distinct(self.jobs[_number(key[2])].needs)
                cost[column] = 0.0 if needs[_number(key[3])].meant == key[4] else size
            elif key[0] in ("there", "stays", "in"):
                cost[column] = -1.0
        return cost

    def solve(self, cost: Floats, seconds: float, most_changes: int | None = None) -> tuple[Floats | None, bool]:
        """(the choice, whether it is proven the best); None where there is none."""
        rows = list(self.rows)
        if most_changes is not None:
            rows.append(({int(column): 1.0 for column in np.flatnonzero(self.puts())}, 0, most_changes))
        if not self.columns:
            return np.zeros(0), True
        matrix = coo_array(
            (
                np.array([value for terms, _, _ in rows for value in terms.values()]),
                (
                    np.array([n for n, (terms, _, _) in enumerate(rows) for _ in terms]),
                    np.array([column for terms, _, _ in rows for column in terms]),
                ),
            ),
            shape=(len(rows), len(self.columns)),
        )
        limits = LinearConstraint(matrix, [low for _, low, _ in rows], [high for _, _, high in rows])
        whole = np.array([0 if key[0] == "put" else 1 for key in self.columns])  # a put follows from what is there
        found = milp(
            cost,
            integrality=whole,
            bounds=Bounds(0, 1),
            constraints=limits,
            options={"mip_rel_gap": 0.0, "time_limit": seconds},
        )
        return (None if found.x is None else np.round(found.x)), found.status == 0

    # --- what it means ------------------------------------------------------------------------------------------------

    def plan(self, chosen: Floats, changes: int, proven: bool) -> Plan | None:
        """The stages; None where the tools that fit anywhere find no pockets that nobody else wants while they are there."""
        racks = self._with_pockets(chosen)
        if racks is None:
            return None
        stages = []
        before: Mapping[int, str] = dict(self.rack.held)
        for stage, rack in enumerate(racks):
            job = stage
            if not self.ordered:
                job = next(j for j in self.stages if chosen[self._column("runs", stage, j)] > 0.5)
            stages.append(Stage(self.jobs[job].job, _changes(before, rack), rack, self._stand_in(chosen, stage, job)))
            before = rack
        return Plan(tuple(stages), changes, proven)

    def _with_pockets(self, chosen: Floats) -> list[dict[int, str]] | None:
        """The rack at each stage; a tool that was put in without a place gets a pocket that is free for as long as it is in."""
        racks: list[dict[int, str]] = []
        for stage in self.stages:
            standing = [one for one in self.places if chosen[self._column("there", stage, one)] > 0.5]
            standing += [one for one in self.stay if chosen[self._column("stays", stage, one)] > 0.5]
            racks.append(dict(standing))
        spans = [
            (first, last, tool)
            for tool in self.newly
            for first, last in _spans([chosen[self._column("in", stage, tool)] > 0.5 for stage in self.stages])
        ]
        if not spans:
            return racks
        given = _pockets_for(spans, [set(self.rack.pockets) - set(rack) for rack in racks])
        if given is None:
            return None
        for (first, last, tool), pocket in zip(spans, given, strict=True):
            for stage in range(first, last + 1):
                racks[stage][pocket] = tool
        return racks

    def _stand_in(self, chosen: Floats, stage: int, job: int) -> dict[int, str]:
        return {
            need.number: tool
            for number, need in enumerate(_distinct(self.jobs[job].needs))
            for tool in need.sisters
            if chosen[self._column("serves", stage, job, number, tool)] > 0.5
        }


def _distinct(needs: Sequence[Need]) -> tuple[Need, ...]:
    """Two lines of the control's table may name one tool in one pocket: that is one need."""
    return tuple({(need.meant, need.pocket): need for need in needs}.values())


def _number(part: object) -> int:
    return part if isinstance(part, int) else -1


def _spans(present: Sequence[bool]) -> list[tuple[int, int]]:
    """(first, last) of each unbroken run."""
    edges = np.diff(np.concatenate([[False], present, [False]]).astype(int))
    return list(zip(np.flatnonzero(edges == 1).tolist(), (np.flatnonzero(edges == -1) - 1).tolist(), strict=True))


def _pockets_for(spans: Sequence[tuple[int, int, str]], free: Sequence[set[int]]) -> list[int] | None:
    """A pocket for each span of stages, free all through and given to nobody else meanwhile; None where there is no such choice."""
    choices = [(n, p) for n, (a, b, _) in enumerate(spans) for p in sorted(set.intersection(*free[a : b + 1]))]
    rows: dict[object, list[int]] = {("span", n): [] for n in range(len(spans))}
    for column, (n, pocket) in enumerate(choices):
        rows[("span", n)].append(column)
        for stage in range(spans[n][0], spans[n][1] + 1):
            rows.setdefault((stage, pocket), []).append(column)
    if not all(rows[("span", n)] for n in range(len(spans))):
        return None
    at = np.array([(row, column) for row, columns in enumerate(rows.values()) for column in columns])
    matrix = coo_array((np.ones(len(at)), (at[:, 0], at[:, 1])), shape=(len(rows), len(choices)))
    low = [1.0 if isinstance(key, tuple) and key[0] == "span" else 0.0 for key in rows]
    found = milp(
        np.zeros(len(choices)),
        integrality=1,
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(matrix, low, np.ones(len(rows))),
        options={"time_limit": SECONDS},
    )
    if found.x is None:
        return None
    given = {n: pocket for column, (n, pocket) in enumerate(choices) if found.x[column] > 0.5}
    return [given[n] for n in range(len(spans))]


def _changes(before: Mapping[int, str], after: Mapping[int, str]) -> tuple[Change, ...]:
    was, now = ({tool: pocket for pocket, tool in rack.items()} for rack in (before, after))
    out = [Change(tool, None, pocket) for tool, pocket in was.items() if tool not in now]
    put = [Change(tool, pocket, was.get(tool)) for tool, pocket in now.items() if was.get(tool) != pocket]
    return (*out, *put)


# --- holders ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Holder:
    """A holder: the shanks it grips, and the tool that is in it now."""

    name: str
    low_mm: float
    high_mm: float
    holds: str | None = None


@dataclass(frozen=True, slots=True)
class TearDown:
    """One assembly taken apart for another cutter."""

    holder: str
    cutter: str
    """What goes into the holder."""
    torn: str | None
    """The tool that comes out; None where the holder was free."""


@dataclass(frozen=True, slots=True)
class Freed:
    """What to take apart; `unserved` are cutters that no holder can be had for."""

    gripped: tuple[TearDown, ...]
    unserved: tuple[str, ...]

    @property
    def tear_downs(self) -> tuple[TearDown, ...]:
        return tuple(one for one in self.gripped if one.torn is not None)


def holders_to_free(
    cutters: Mapping[str, float], holders: Sequence[Holder], kept: frozenset[str], dear: frozenset[str] = frozenset()
) -> Freed:
    """Which holder each cutter (name to shank diameter, mm) goes into with the fewest tear-downs, as many cutters as can be served at all.

    Tools in `kept` are needed today and stay gripped; of the others those in `dear` (loaded, or gripped with care) are torn down last.
    Exact: an assignment of least cost (Kuhn 1955; scipy.optimize.linear_sum_assignment).
    """
    names = list(cutters)
    if not names:
        return Freed((), ())
    tear = 2.0 * (len(names) + 1)
    without = tear * (len(names) + 1)
    cost = np.full((len(names), len(holders) + len(names)), without)
    for row, name in enumerate(names):
        for column, holder in enumerate(holders):
            if holder.low_mm <= cutters[name] <= holder.high_mm and holder.holds not in kept:
                cost[row, column] = 0.0 if holder.holds is None else tear + (1.0 if holder.holds in dear else 0.0)
    rows, columns = linear_sum_assignment(cost)
    gripped, unserved = [], []
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        if cost[row, column] >= without:
            unserved.append(names[row])
        else:
            gripped.append(TearDown(holders[column].name, names[row], holders[column].holds))
    return Freed(tuple(gripped), tuple(unserved))
