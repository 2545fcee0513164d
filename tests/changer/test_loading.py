"""What to load with the fewest changes by hand: against every filling of small racks, and against the rule of the trade's literature."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.changer.loading import (
    Holder,
    JobNeeds,
    Need,
    Plan,
    RackNow,
    best_order,
    cannot_serve,
    holders_to_free,
    least_changes,
    plan_loading,
)

TOOLS = "abcd"
POCKETS = (1, 2, 3)

needs = st.builds(
    Need,
    st.just(0),
    st.sampled_from(TOOLS),
    st.lists(st.sampled_from(TOOLS), max_size=1).map(tuple),
    st.one_of(st.none(), st.none(), st.sampled_from(POCKETS)),
)


@st.composite
def jobs_of(draw: st.DrawFn, most: int = 3) -> list[JobNeeds]:
    found = []
    for number in range(draw(st.integers(1, most))):
        chosen = draw(st.lists(needs, min_size=1, max_size=3, unique_by=lambda one: one.meant))
        numbered = tuple(
            Need(n, one.meant, tuple(t for t in one.sisters if t != one.meant), one.pocket)
            for n, one in enumerate(chosen)
        )
        found.append(JobNeeds(f"job{number}", numbered))
    return found


@st.composite
def racks(draw: st.DrawFn) -> RackNow:
    held = dict(zip(draw(st.permutations(POCKETS)), draw(st.lists(st.sampled_from(TOOLS), max_size=3, unique=True))))  # noqa: B905
    every = [((p, a), (q, b)) for p, q in ((1, 2), (2, 3)) for a in TOOLS for b in TOOLS if a != b]
    clashes = draw(st.sets(st.sampled_from(every), max_size=4))
    return RackNow(POCKETS, held, frozenset(clashes))


def fillings(rack: RackNow, tools: Sequence[str]) -> Iterator[dict[int, str]]:
    for chosen in itertools.product(("", *tools), repeat=len(rack.pockets)):
        standing = [tool for tool in chosen if tool]
        held = {p: tool for p, tool in zip(rack.pockets, chosen, strict=True) if tool}
        if len(set(standing)) == len(standing) and not any(
            rack.clash(*pair) for pair in itertools.combinations(held.items(), 2)
        ):
            yield held


def serves(rack: Mapping[int, str], job: JobNeeds) -> bool:
    where = {tool: pocket for pocket, tool in rack.items()}
    distinct = list({(need.meant, need.pocket): need for need in job.needs}.values())
    return any(
        len(set(chosen)) == len(chosen)
        and all(t in where and need.pocket in (None, where[t]) for t, need in zip(chosen, distinct, strict=True))
        for chosen in itertools.product(*(need.tools for need in distinct))
    )


def puts(before: Mapping[int, str], after: Mapping[int, str]) -> int:
    return sum(before.get(pocket) != tool for pocket, tool in after.items())


def by_trying(rack: RackNow, jobs: Sequence[JobNeeds]) -> float:
    return by_trying_these(rack, jobs, tuple(TOOLS))


def by_trying_these(rack: RackNow, jobs: Sequence[JobNeeds], tools: tuple[str, ...]) -> float:
    """Fewest changes of all sequences of fillings, stage by stage."""
    reached: dict[tuple[tuple[int, str], ...], float] = {tuple(sorted(rack.held.items())): 0.0}
    every = list(fillings(rack, tools))
    for job in jobs:
        good = [one for one in every if serves(one, job)]
        reached = {
            tuple(sorted(one.items())): min((cost + puts(dict(was), one) for was, cost in reached.items()))
            for one in good
        }
        if not reached:
            return math.inf
    return min(reached.values())


def hold(plan: Plan, rack: RackNow, jobs: Mapping[str, JobNeeds]) -> None:
    """A plan does what it says: every job is served, nothing clashes, and its changes lead from one filling to the next."""
    now = dict(rack.held)
    total = 0
    for stage in plan.stages:
        for change in stage.changes:
            if change.was is not None:
                assert now.pop(change.was) == change.tool or change.pocket is not None
        now = {pocket: tool for pocket, tool in now.items() if tool not in {c.tool for c in stage.changes}}
        for change in stage.changes:
            if change.pocket is not None:
                assert change.pocket not in now
                now[change.pocket] = change.tool
                total += 1
        assert now == dict(stage.rack)
        assert serves(stage.rack, jobs[stage.job])
        assert not any(rack.clash(*pair) for pair in itertools.combinations(stage.rack.items(), 2))
    assert total == plan.hand_changes


@settings(deadline=None, max_examples=50)
@given(racks(), jobs_of())
def test_no_plan_needs_fewer_changes(rack: RackNow, jobs: list[JobNeeds]) -> None:
    expected = by_trying(rack, jobs)
    plan = plan_loading(rack, jobs)
    if plan is None:
        assert math.isinf(expected)
        return
    assert plan.proven
    assert plan.hand_changes == expected
    assert plan.hand_changes >= least_changes(rack, jobs)
    assert [stage.job for stage in plan.stages] == [job.job for job in jobs]
    hold(plan, rack, {job.job: job for job in jobs})


@settings(deadline=None, max_examples=15)
@given(racks(), jobs_of(most=3))
def test_no_order_needs_fewer_changes(rack: RackNow, jobs: list[JobNeeds]) -> None:
    expected = min(by_trying(rack, order) for order in itertools.permutations(jobs))
    plan = best_order(rack, jobs)
    if plan is None:
        assert math.isinf(expected)
        return
    assert plan.hand_changes == expected
    assert sorted(stage.job for stage in plan.stages) == sorted(job.job for job in jobs)
    hold(plan, rack, {job.job: job for job in jobs})


def keep_soonest(size: int, held: Sequence[str], jobs: Sequence[frozenset[str]]) -> int:
    """The rule of Tang & Denardo 1988: take in what the job needs, and where there is no room put away what is needed latest."""
    magazine, switches = set(held), 0
    for at, job in enumerate(jobs):
        for tool in sorted(job - magazine):
            if len(magazine) >= size:

                def next_use(one: str, at: int = at) -> float:
                    return next((n for n, later in enumerate(jobs[at:], at) if one in later), math.inf)

                magazine.remove(max(sorted(magazine - job), key=next_use))
            magazine.add(tool)
            switches += 1
    return switches


@settings(deadline=None, max_examples=25)
@given(st.data())
def test_without_neighbours_it_is_the_rule_of_keeping_what_is_needed_soonest(data: st.DataObject) -> None:
    """Eight pockets, up to fourteen tools, eight jobs: too many to try out."""
    size = data.draw(st.integers(3, 8))
    tools = [f"t{n}" for n in range(14)]
    jobs = data.draw(st.lists(st.frozensets(st.sampled_from(tools), min_size=1, max_size=size), min_size=1, max_size=8))
    held = data.draw(st.lists(st.sampled_from(tools), max_size=size, unique=True))
    rack = RackNow(tuple(range(1, size + 1)), dict(enumerate(held, 1)))
    wanted = [JobNeeds(f"job{n}", tuple(Need(k, t) for k, t in enumerate(sorted(job)))) for n, job in enumerate(jobs)]
    plan = plan_loading(rack, wanted)
    assert plan is not None
    assert plan.hand_changes == keep_soonest(size, held, jobs)


def test_a_day_by_hand() -> None:
    """Three pockets, T names a pocket: em6 waits in its own while dr3 and ch90 share one; the wide face mill needs its neighbour gone."""
    clashes = frozenset({((2, "face"), (1, "em6")), ((2, "face"), (3, "dr3"))})
    rack = RackNow((1, 2, 3), {1: "em6", 3: "dr3"}, clashes)
    jobs = [
        JobNeeds("plate", (Need(1, "em6", (), 1), Need(3, "dr3", (), 3))),
        JobNeeds("block", (Need(2, "face", (), 2),)),
        JobNeeds("lid", (Need(1, "em6", ("em6-stub",), 1), Need(3, "ch90", (), 3))),
    ]
    plan = plan_loading(rack, jobs)
    assert plan is not None
    told = [{(c.tool, c.was, c.pocket) for c in stage.changes} for stage in plan.stages]
    assert told[0] == set()
    assert {("em6", 1, None), ("dr3", 3, None), ("face", None, 2)} <= told[1]
    assert {("face", 2, None), ("em6", None, 1)} <= told[2]
    assert ("ch90", None, 3) in told[1] | told[2]
    assert plan.hand_changes == 3
    assert all(not stage.stand_in for stage in plan.stages)
    better = best_order(rack, jobs)
    assert better is not None
    assert better.hand_changes == 2
    assert [stage.job for stage in better.stages][-1] == "block"


def test_a_tool_that_fits_anywhere_may_still_have_to_move() -> None:
    """Two pockets, and each job wants another of them for a tool of its own: the third tool is in the way once."""
    rack = RackNow((1, 2), {})
    jobs = [
        JobNeeds("one", (Need(1, "left", (), 1), Need(9, "any"))),
        JobNeeds("two", (Need(2, "right", (), 2), Need(9, "any"))),
    ]
    plan = plan_loading(rack, jobs)
    assert plan is not None
    assert (plan.hand_changes, plan.proven) == (4, True)
    assert plan.hand_changes == by_trying_these(rack, jobs, ("left", "right", "any"))
    hold(plan, rack, {job.job: job for job in jobs})


def test_a_sister_stands_in_only_where_it_saves_a_change() -> None:
    need = Need(1, "em6", ("em6-b",))
    saves = plan_loading(RackNow((1, 2), {2: "em6-b"}), [JobNeeds("one", (need,))])
    assert saves is not None
    assert (saves.hand_changes, saves.stages[0].stand_in) == (0, {1: "em6-b"})
    same = plan_loading(RackNow((1, 2), {1: "em6", 2: "em6-b"}), [JobNeeds("one", (need,))])
    assert same is not None
    assert (same.hand_changes, same.stages[0].stand_in) == (0, {})


def test_what_cannot_be_loaded_is_named() -> None:
    rack = RackNow((1, 2), {})
    jobs = [
        JobNeeds("fits", (Need(1, "a"), Need(2, "b"))),
        JobNeeds("three", (Need(1, "a"), Need(2, "b"), Need(3, "c"))),
        JobNeeds("elsewhere", (Need(9, "a", (), 9),)),
    ]
    assert plan_loading(rack, jobs) is None
    assert cannot_serve(rack, jobs) == ("three", "elsewhere")
    with pytest.raises(ValueError, match="7 jobs, at most 6"):
        best_order(rack, [jobs[0]] * 7)


# --- holders ----------------------------------------------------------------------------------------------------------


def freed_by_trying(cutters: Mapping[str, float], holders: Sequence[Holder], kept: frozenset[str]) -> tuple[int, int]:
    """(unserved, torn down) at best, of every way to give out holders."""
    best = (len(cutters) + 1, 0)
    choices = [*range(len(holders)), *([-1] * len(cutters))]
    for chosen in set(itertools.permutations(choices, len(cutters))):
        taken = [(d, holders[c]) for d, c in zip(cutters.values(), chosen, strict=True) if c >= 0]
        if all(one.low_mm <= d <= one.high_mm and one.holds not in kept for d, one in taken):
            torn = sum(one.holds is not None for _, one in taken)
            best = min(best, (len(cutters) - len(taken), torn))
    return best


@settings(deadline=None, max_examples=40)
@given(
    st.dictionaries(st.sampled_from(["p", "q", "r"]), st.sampled_from([3.0, 4.0, 6.0])),
    st.lists(st.tuples(st.sampled_from([(2.5, 3.0), (3.0, 6.0), (5.5, 6.0)]), st.booleans()), max_size=4),
    st.sets(st.sampled_from(["t0", "t1", "t2", "t3"])),
)
def test_no_fewer_holders_could_be_torn_down(
    cutters: dict[str, float], described: list[tuple[tuple[float, float], bool]], kept: set[str]
) -> None:
    holders = [Holder(f"h{n}", *grips, f"t{n}" if full else None) for n, (grips, full) in enumerate(described)]
    freed = holders_to_free(cutters, holders, frozenset(kept))
    assert (len(freed.unserved), len(freed.tear_downs)) == freed_by_trying(cutters, holders, frozenset(kept))
    assert len({one.holder for one in freed.gripped}) == len(freed.gripped)
    assert {one.cutter for one in freed.gripped} | set(freed.unserved) == set(cutters)
    assert not {one.torn for one in freed.gripped} & kept


def test_what_is_dear_is_torn_down_last() -> None:
    holders = [Holder("one", 5.5, 6.0, "loaded"), Holder("two", 5.5, 6.0, "drawer")]
    freed = holders_to_free({"new": 6.0}, holders, frozenset(), frozenset({"loaded"}))
    assert [(one.holder, one.torn) for one in freed.tear_downs] == [("two", "drawer")]
