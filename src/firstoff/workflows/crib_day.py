"""What to load into the rack for a row of jobs, and which holders to free for cutters that are in none."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from firstoff.changer.crib import Crib, crib_of
from firstoff.changer.loading import (
    MOST_JOBS_TO_ORDER,
    Freed,
    Holder,
    JobNeeds,
    Need,
    Placed,
    Plan,
    RackNow,
    best_order,
    cannot_serve,
    holders_to_free,
    least_changes,
    plan_loading,
)
from firstoff.changer.rack import Fit, Rack, beside
from firstoff.errors import Fault, InputError
from firstoff.facts.job import load_job
from firstoff.facts.shop import Shop

ORDER_SECONDS = 20.0
"""Longest search for a better order of the jobs; the order given is always solved to the end first."""


@dataclass(frozen=True, slots=True)
class Today:
    """What to do by hand for a row of jobs."""

    jobs: tuple[JobNeeds, ...]
    plan: Plan | None
    """None where the rack cannot serve them."""
    better: Plan | None
    """The same with the jobs in another order, where that saves changes."""
    order_proven: bool
    """Whether no order can save more than `better` does."""
    cannot: Mapping[str, str]
    """Jobs that no filling of the rack serves, and why."""
    freed: Freed
    """Holders for cutters that are in none."""
    costs: Mapping[str, str]
    """By tool that is torn down: what is void then."""
    remarks: tuple[str, ...]


def today(shop: Shop, jobs: Sequence[str]) -> Today:
    """What to load for these jobs, in this order, with the fewest changes by hand."""
    if len(set(jobs)) < len(jobs):
        raise InputError(Fault("a job is named twice", " ".join(jobs), "each once"))
    crib = crib_of(shop.facts)
    needs = tuple(_needs(shop, crib, job) for job in jobs)
    now = _rack_now(crib, needs)
    plan = plan_loading(now, needs)
    better, proven = _better_order(now, needs, plan)
    freed, costs, remarks = _freed(crib, needs)
    alone = () if plan is not None else cannot_serve(now, needs)
    cannot = {job.job: _why_not(now, job) for job in needs if job.job in alone}
    told = (*_not_fit_to_run(crib, needs), *_unknown_fits(crib.rack, plan), *remarks)
    return Today(needs, plan, better, proven, cannot, freed, costs, told)


def _why_not(now: RackNow, job: JobNeeds) -> str:
    """Why no filling of the rack serves a job."""
    nowhere = [f"T{need.number}" for need in job.needs if need.pocket is not None and need.pocket not in now.pockets]
    if nowhere:
        return f"the rack has no pocket for {', '.join(nowhere)}"
    if len(job.needs) > len(now.pockets):
        return f"{len(job.needs)} tools and {len(now.pockets)} pockets"
    return "neighbours that clash, or one tool at two T"


def _not_fit_to_run(crib: Crib, needs: Sequence[JobNeeds]) -> tuple[str, ...]:
    """What is to be done to tools before they run, wherever they stand: measured, looked at, or replaced."""
    told = []
    for name in dict.fromkeys(need.meant for job in needs for need in job.needs):
        item = crib.item(name)
        if item is None:
            continue
        if item.gripped and item.length is None:
            since = " since it was gripped anew" if item.void else ""
            told.append(f"Measure {name}: it has no length{since}.")
        if item.condition == "suspect":
            told.append(f"{name} is marked suspect: look at its edges first.")
        elif item.life_used is not None and item.life_used >= 1.0:
            others = f"; {' or '.join(item.sisters)} may stand in" if item.sisters else ""
            told.append(f"The edge of {name} has cut longer than it is expected to last{others}.")
    return tuple(told)


def _better_order(now: RackNow, needs: Sequence[JobNeeds], plan: Plan | None) -> tuple[Plan | None, bool]:
    """A plan that saves changes by another order, and whether there can be none that saves more."""
    if plan is None or len(needs) < 2 or plan.hand_changes <= least_changes(now, needs):
        return None, plan is not None
    if len(needs) > MOST_JOBS_TO_ORDER:
        return None, False
    best = best_order(now, needs, ORDER_SECONDS)
    if best is None:
        return None, False
    return (best if best.hand_changes < plan.hand_changes else None), best.proven


def _needs(shop: Shop, crib: Crib, job: str) -> JobNeeds:
    """The tools of a job; T names a pocket unless the control has a table of its own. T0 is the tool in the spindle, and needs no pocket."""
    means = shop.facts.settings.get("machine.control.t_means")
    by_pocket = means is None or means.value == "pocket"
    meant = load_job(job, shop).tools
    found = []
    for number, name in meant.items():
        item = crib.item(name)
        if number == 0 or item is None:
            continue
        found.append(Need(number, name, item.sisters, number if by_pocket else None))
    return JobNeeds(job, tuple(found))


def _rack_now(crib: Crib, needs: Sequence[JobNeeds]) -> RackNow:
    """The rack with every pair of tools that would clash, of those that may come to stand in it."""
    rack = crib.rack
    tools = dict.fromkeys((*rack.held.values(), *(tool for job in needs for need in job.needs for tool in need.tools)))
    known = [tool for tool in tools if tool in rack.bodies]
    widest = max((rack.bodies[tool].reach_mm for tool in known), default=0.0)
    clashes: set[tuple[Placed, Placed]] = set()
    for one, other in combinations([n for n in rack.pockets if n in rack.stands], 2):
        near = _near(rack, one, other, widest)
        for first in known if near else ():
            for second in known:
                pair = None if first == second else beside(rack, (one, first), (other, second))
                if pair is not None and pair.fit is Fit.CLASHES:
                    clashes.add(((one, first), (other, second)))
    return RackNow(rack.pockets, rack.held, frozenset(clashes))


def _near(rack: Rack, one: int, other: int, widest_mm: float) -> bool:
    """Whether two pockets are near enough for any two tools to meet."""
    a, b = rack.stands[one], rack.stands[other]
    apart = math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm)
    return apart <= 2 * widest_mm + (rack.gap_mm or 0.0)


def _unknown_fits(rack: Rack, plan: Plan | None) -> tuple[str, ...]:
    """What is put in by the plan without anybody knowing who it fits beside; what stands in its place already does."""
    stages = plan.stages if plan is not None else ()
    put = {change.tool for stage in stages for change in stage.changes if change.pocket is not None}
    lacking = {key: paths for key, paths in rack.missing.items() if key in put}
    unplaced = [key for key in rack.missing if key.startswith("pocket ")]
    told = [
        f"Nobody can tell whether {key} fits beside its neighbours: {', '.join(paths)} missing."
        for key, paths in lacking.items()
    ]
    if unplaced and put:
        told.append(f"Nobody can tell who fits beside whom at {', '.join(unplaced)}: its place (at) is missing.")
    return tuple(told)


def _freed(crib: Crib, needs: Sequence[JobNeeds]) -> tuple[Freed, dict[str, str], tuple[str, ...]]:
    """Holders for the meant tools that are in none; those that are needed today stay gripped."""
    meant = dict.fromkeys(need.meant for job in needs for need in job.needs)
    loose = [item for item in crib.items if item.name in meant and not item.gripped]
    shanks = {
        item.name: fact.value for item in loose if (fact := crib.facts.facts.get(f"tools.{item.name}.DMM")) is not None
    }
    remarks = [
        f"{item.name} is in no holder, and nobody says how thick its shank is: DMM."
        for item in loose
        if item.name not in shanks
    ]
    holders = [
        Holder(one.name, one.low_mm, one.high_mm, one.holds)
        for one in crib.holders
        if one.low_mm is not None and one.high_mm is not None
    ]
    if loose and len(holders) < len(crib.holders):
        unknown = [one.name for one in crib.holders if one.low_mm is None]
        remarks.append(f"Nobody says which shanks {', '.join(unknown)} grips: left out.")
    dear = frozenset(item.name for item in crib.items if item.loaded)
    freed = holders_to_free(shanks, holders, frozenset(meant), dear)
    costs = {one.torn: _cost(crib, one.torn) for one in freed.tear_downs if one.torn is not None}
    return freed, costs, tuple(remarks)


def _cost(crib: Crib, name: str) -> str:
    item = crib.item(name)
    lost = (
        []
        if item is None
        else [word for word, fact in (("length", item.length), ("stick-out", item.stick_out)) if fact]
    )
    return (
        f"{' and '.join(lost)} of {name} {'are' if len(lost) > 1 else 'is'} void then"
        if lost
        else f"{name} loses nothing that is known"
    )
