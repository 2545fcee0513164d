"""What moved between two published records, worst first, and the changed facts that moved it."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from firstoff.book.moved import MOST_CAUSES, Margin, causes, margin, moved, rank, verdict_of
from firstoff.book.rechecked import Fastest, Recheck, Rechecked
from firstoff.book.stands import JUDGED_BY
from firstoff.facts.change import Change

ANSWERS = ("clear", "care", "unjudged", "stop")


def question(name: str, answer: str = "clear", risk: str = "tool", **other: Any) -> dict[str, Any]:
    return {
        "id": name, "risk": risk, "answer": answer, "demand": None, "capacity": None, "any": None, "scale": "ratio",
        "places": [], "why": f"{name} is {answer}", "do": "", "doubt": [], "leaned": [],
    } | other  # fmt: skip


def record(*questions: dict[str, Any], total: float | None = 60.0) -> dict[str, Any]:
    return {"questions": list(questions), "time_s": None if total is None else {"total": total}}


def number(value: float, u: float = 0.0, **other: Any) -> dict[str, Any]:
    return {"value": value, "u": u, "unit": "mm", "evidence": "measured", "note": ""} | other


def measure(value: float) -> dict[str, Any]:
    return {"value": value, "u": 0.0, "unit": "N", "low95": value, "high95": value}


CHANGE = Change("machine.spindle.stiffness", number(12, 1), number(8, 1))


def test_the_same_record_moves_nothing() -> None:
    one = record(question("power", "care"), question("size", "stop", "part"))
    found = moved(one, one, ())
    assert found.questions == ()
    assert not found.worse
    assert not found.better
    assert found.verdict == ("stop", "stop")


def test_worst_first() -> None:
    then = record(question("a"), question("b"), question("c", "care"), question("d", "stop"))
    now = record(question("a", "care"), question("b", "stop"), question("c"), question("d", "stop"))
    found = moved(then, now, (CHANGE,))
    assert [(one.id, one.was, one.now) for one in found.questions] == [
        ("b", "clear", "stop"), ("a", "clear", "care"), ("c", "care", "clear"),
    ]  # fmt: skip
    assert found.worse


def test_today_is_left_out_on_both_sides() -> None:
    then = record(question("today", "unjudged", "machine"), question("travel", risk="machine"))
    now = record(question("today", "stop", "machine"), question("travel", risk="machine"))
    found = moved(then, now, ())
    assert found.questions == ()
    assert found.risks["machine"] == ("clear", "clear")
    only_today = record(question("today", "clear", "machine"))
    assert moved(only_today, only_today, ()).risks["machine"] == ("unjudged", "unjudged")  # nobody looked at it


def test_a_question_that_is_no_longer_asked_is_told_and_is_not_worse() -> None:
    found = moved(record(question("finish", "care", "part")), record(), ())
    assert [(one.was, one.now, one.worse) for one in found.questions] == [("care", "not asked", False)]
    back = moved(record(), record(question("finish", "care", "part")), ())
    assert back.worse


@given(st.lists(st.sampled_from(ANSWERS), min_size=1, max_size=6), st.data())
def test_verdict_is_the_worst_of_all_risks(answers: list[str], data: st.DataObject) -> None:
    risks = [data.draw(st.sampled_from(("machine", "tool", "part", "time"))) for _ in answers]
    one = record(*(question(str(n), answer, risk) for n, (answer, risk) in enumerate(zip(answers, risks, strict=True))))
    silent = {"machine", "tool", "part", "time"} - set(risks)
    expected = max([*answers, *(["unjudged"] if silent else [])], key=ANSWERS.index)
    assert verdict_of(one) == expected


@given(st.sampled_from((*ANSWERS, "not asked")), st.sampled_from((*ANSWERS, "not asked")))
def test_worse_and_better_are_never_both(was: str, now: str) -> None:
    then = record(*([] if was == "not asked" else [question("a", was)]))
    after = record(*([] if now == "not asked" else [question("a", now)]))
    found = moved(then, after, ())
    assert not (found.worse and found.better)
    assert found.worse == (rank(now) > rank(was))


def test_the_tightest_ratio_is_the_margin() -> None:
    one = record(
        question("power", demand=measure(100), capacity=measure(150)),
        question("torque", demand=measure(2), capacity=measure(10)),
        question("reach", scale="difference", demand=measure(20), capacity=measure(21)),
        question("holding", risk="part", demand=measure(10), capacity=measure(11)),
    )
    assert margin(one, "tool") == Margin("power", 1.5)
    assert margin(one, "part") == Margin("holding", 1.1)
    assert margin(one, "machine") is None


def test_chances_of_what_both_asked() -> None:
    then = record(question("size", any=0.01), question("power", any=0.2), question("old", any=0.5), question("count"))
    now = record(question("size", any=0.001), question("power", any=None), question("count"))
    assert moved(then, now, ()).chances == {"size": (0.01, 0.001)}


def leaning(*paths: str, **other: Any) -> dict[str, Any]:
    return question("size", "care", "part", leaned=list(paths), **other)


def test_only_facts_that_the_question_leans_on_are_to_blame() -> None:
    other = Change("tools.em6.LF", number(70, 0.1), number(71, 0.1))
    found = causes(leaning("machine.spindle.stiffness"), None, (other, CHANGE))
    assert [one.change for one in found] == [CHANGE]
    assert found[0].moves is None


def test_all_are_told_where_it_names_none() -> None:
    assert [one.change for one in causes(leaning("a.b"), None, (CHANGE,))] == [CHANGE]


def test_what_moves_more_is_told_first() -> None:
    """Of a difference, the step of a fact counts in its own u, times the part of the doubt that it brings."""
    little = Change("a", number(10, 1), number(11, 1))
    much = Change("b", number(10, 1), number(13, 1))
    shares = [{"fact": "a", "share": 0.64}, {"fact": "b", "share": 0.36}]
    found = causes(
        leaning("a", "b", "c", doubt=shares, scale="difference"), None, (little, Change("c", None, number(1)), much)
    )
    assert [(one.change.path, one.moves) for one in found] == [("b", 0.6 * 3), ("a", 0.8 * 1), ("c", None)]


def test_of_a_ratio_the_logarithm_counts() -> None:
    step = Change("a", number(10, 1), number(20, 1))
    found = causes(leaning("a", doubt=[{"fact": "a", "share": 1.0}]), None, (step,))
    assert found[0].moves is not None
    assert math.isclose(found[0].moves, math.log(2) / (1 / 20))


def test_a_fact_taken_by_a_rule_follows_the_one_that_changed() -> None:
    rule = Change(
        "tools.em6.run_out",
        number(5, note="taken as that of the spindle"),
        number(6, note="taken as that of the spindle"),
    )
    both = causes(leaning("machine.spindle.stiffness", "tools.em6.run_out"), None, (rule, CHANGE))
    assert [one.change for one in both] == [CHANGE]
    assert [one.change for one in causes(leaning("tools.em6.run_out"), None, (rule,))] == [rule]


def setting(path: str, old: str, new: str) -> Change:
    return Change(path, {"setting": old}, {"setting": new})


EM3 = (
    Change("tools.em3.DC", number(3, 0.01), number(2.9, 0.01)),
    Change("tools.em3.LF", number(60, 0.01), number(59, 0.01)),
    Change("tools.em3.OHX", number(15, 0.3), number(14, 0.3)),
    setting("tools.em3.condition", "used", "suspect"),
)
EM6_LENGTH = Change("tools.em6.LF", number(71.3, 0.006), number(61.6, 0.1))
EM15_LENGTH = Change("tools.em15.LF", number(55, 0.006), number(54, 0.01))
GRIPPED = "em6 stands out 22.0 mm of a holder 49.0 mm high, which makes its length 9.7 mm more than the 61.6 mm that were measured."


def counted(*whats: str, **other: Any) -> dict[str, Any]:
    paths = [one.path for one in (*EM3, EM15_LENGTH, EM6_LENGTH)]
    places = [{"line": 1, "text": "T1 M6", "what": what, "do": ""} for what in whats]
    return question("tool", "care", "machine", scale="count", why=whats[0], places=places, leaned=paths, **other)


def paths_of(before: Any, after: Any, changes: tuple[Change, ...], settling: tuple[str, ...] = ()) -> list[str]:
    return [one.change.path for one in causes(before, after, changes, settling)]


def test_a_count_is_blamed_on_what_its_sentence_names() -> None:
    changed = (*EM3, EM15_LENGTH, EM6_LENGTH)
    assert paths_of(question("tool", scale="count"), counted(GRIPPED), changed) == ["tools.em6.LF"]
    marked = paths_of(question("tool", scale="count"), counted("em3 is marked suspect."), changed)
    assert marked[0] == "tools.em3.condition"
    assert not {"tools.em15.LF", "tools.em6.LF"} & set(marked)


def test_other_places_are_told_after_the_worst() -> None:
    found = paths_of(None, counted(GRIPPED, "em3 is marked suspect."), (EM3[3], EM15_LENGTH, EM6_LENGTH))
    assert found == ["tools.em6.LF", "tools.em3.condition"]


def test_an_answer_that_got_better_is_blamed_on_what_was_named() -> None:
    assert paths_of(counted(GRIPPED), question("tool", scale="count"), (*EM3, EM6_LENGTH)) == ["tools.em6.LF"]


def test_the_name_of_another_tool_is_not_the_name_of_this() -> None:
    after = counted("em3-long is marked suspect.")
    assert set(paths_of(None, after, (EM3[3], EM6_LENGTH))) == {"tools.em3.condition", "tools.em6.LF"}


def test_what_is_needed_or_would_settle_it_comes_first() -> None:
    changed = (*EM3, EM15_LENGTH)
    needed = counted("nobody knows", needs=[{"fact": "tools.em15.LF", "where": "", "how": ""}])
    assert paths_of(None, needed, changed)[0] == "tools.em15.LF"
    assert paths_of(None, counted("nobody knows"), changed, ("tools.em15.LF",))[0] == "tools.em15.LF"
    record_now = record(counted("nobody knows")) | {"next": [{"fact": "tools.em15.LF", "questions": ["tool"]}]}
    told = moved(record(question("tool", scale="count")), record_now, changed).questions[0]
    assert told.causes[0].change is EM15_LENGTH


def test_another_tool_without_a_share_is_not_blamed_where_one_fact_explains_all() -> None:
    changed = (*EM3, EM6_LENGTH, CHANGE)
    size = leaning(*(one.path for one in changed), scale="difference")
    known = {**size, "doubt": [{"fact": "tools.em6.LF", "share": 0.96}]}
    assert paths_of(None, known, changed) == ["tools.em6.LF", CHANGE.path]
    named = {**size, "places": [{"line": 1, "text": "", "what": "Line 1: T2 (em6) gives way."}]}
    assert paths_of(None, named, changed)[0] == "tools.em6.LF"  # nobody knows by how much: others may have moved it too
    assert len(paths_of(None, named, changed)) == MOST_CAUSES


@given(st.permutations((*EM3, EM15_LENGTH, EM6_LENGTH)))
def test_the_order_of_the_changes_does_not_choose_the_first(changed: list[Change]) -> None:
    assert paths_of(None, counted(GRIPPED), tuple(changed)) == ["tools.em6.LF"]
    assert paths_of(None, counted("em3 is marked suspect."), tuple(changed))[0] == "tools.em3.condition"


def test_another_version_may_move_anything() -> None:
    version = Change(JUDGED_BY, {"setting": "1 a"}, {"setting": "2 b"})
    many = tuple(Change(f"a.{n}", number(n), number(n + 1)) for n in range(9))
    found = causes(leaning(*(one.path for one in many)), None, (version, *many))
    assert len(found) == MOST_CAUSES
    assert found[-1].change is version


# ---- in sum --------------------------------------------------------------------------------------------------------


def job(
    name: str, then: dict[str, Any], now: dict[str, Any], runs: int = 0, up: tuple[float, float] | None = None
) -> Rechecked:
    fastest = None if up is None else (Fastest(up[0], {}), Fastest(up[1], {}))
    found = moved(then, now, ())
    return Rechecked(name, 1, datetime(2026, 9, 14), runs, found.verdict[0], True, None, found, fastest)


def test_a_year_counts_each_job_as_often_as_it_ran() -> None:
    quick, slow = record(question("a"), total=100.0), record(question("a"), total=130.0)
    jobs = (job("x", slow, quick, 10, (90.0, 80.0)), job("y", quick, slow, 2, (80.0, 85.0)))
    untouched = Rechecked("z", 1, datetime(2026, 9, 14), 99, "clear", False)
    found = Recheck("faster", (*jobs, untouched))
    assert found.bought_s(False) == 10 * 30.0 - 2 * 30.0
    assert found.bought_s(True) == 10 * 10.0 - 2 * 5.0
    assert Recheck("faster", (untouched,)).bought_s(False) is None
    unknown = job("u", record(question("a"), total=None), quick, 5)
    assert Recheck("faster", (unknown,)).bought_s(False) is None


def test_a_job_that_would_not_be_run_buys_nothing() -> None:
    clear, stop, unjudged = (record(question("a", answer), total=50.0) for answer in ("clear", "stop", "unjudged"))
    slow = record(question("a"), total=60.0)
    found = Recheck(
        "faster",
        tuple(job(name, slow, now, 3) for name, now in (("runs", clear), ("stops", stop), ("unsure", unjudged))),
    )
    assert [one.job for one in found.not_counted] == ["stops", "unsure"]
    assert found.bought_s(False) == 3 * 10.0


def test_jobs_stand_fall_get_better_or_cannot_be_told() -> None:
    clear, care, stop = (
        record(*(question("a", answer, risk) for risk in ("machine", "tool", "part", "time")))
        for answer in ("clear", "care", "stop")
    )
    gone = Rechecked("gone", 1, datetime(2026, 9, 14), 0, "clear", False, fault="no such program")
    jobs = (
        job("worse", clear, care),
        job("worst", clear, stop),
        job("better", stop, care),
        job("same", care, care),
        gone,
    )
    found = Recheck("", jobs)
    assert [one.job for one in found.fallen] == ["worst", "worse"]
    assert [one.job for one in found.better] == ["better"]
    assert [one.job for one in found.standing] == ["same"]
    assert [one.job for one in found.untold] == ["gone"]
    assert found.mixed == ()
    assert len(found.fallen) + len(found.better) + len(found.standing) + len(found.untold) == len(jobs)
    assert found.answer == "stop"
    assert Recheck("", (jobs[2], jobs[3])).answer == "clear"
    assert Recheck("", (gone,)).answer == "unjudged"


def test_from_stop_to_care_is_no_fall() -> None:
    """Though some answer is worse: the exit code still tells it."""
    risks = [question(risk, risk=risk) for risk in ("machine", "tool", "part", "time")]
    then = record(*risks, question("a", "stop"), question("b"))
    now = record(*risks, question("a"), question("b", "care"))
    found = Recheck("", (job("mixed", then, now),))
    assert [one.job for one in found.mixed] == ["mixed"]
    assert (found.fallen, found.better, found.standing) == ((), (), ())
    assert found.answer == "care"
    back = Recheck("", (job("fell", now, then),))
    assert [one.job for one in back.fallen] == ["fell"]
    assert back.mixed == ()
