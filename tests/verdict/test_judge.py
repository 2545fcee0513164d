"""From forms to answers: thresholds, the order of answers, the budget, and the joint chance of many places."""

from __future__ import annotations

import pytest

from firstoff.facts.fact import Evidence, Fact, FactSet
from firstoff.verdict.forms import Form, Scale, exact, of
from firstoff.verdict.judge import Draws, judge, thresholds
from firstoff.verdict.question import Answer, Check, Counted, Finding, Limit, Need, Place, Question, Risk, worst

MACHINE = Question("travel", Risk.MACHINE, "Does it fit?")
PART = Question("size", Risk.PART, "Is it on size?")
TIME = Question("feed", Risk.TIME, "How long?")


def facts(*given: Fact) -> FactSet:
    return FactSet({fact.path: fact for fact in given})


def answer(question: Question, known: FactSet, *limits: Limit, scale: Scale = Scale.DIFFERENCE):  # type: ignore[no-untyped-def]
    finding = Finding((Check(scale, "mm", limits),))
    return judge(question, finding, known.leaning(), Draws(known), lambda _: ("", None))


def limit(demand: Form, capacity: Form, line: int = 1) -> Limit:
    return Limit(Place(line), demand, capacity, f"Line {line}.", "Mend it.")


def test_the_order_of_answers_is_clear_care_unjudged_stop() -> None:
    assert worst([Answer.CLEAR, Answer.CARE]) is Answer.CARE
    assert worst([Answer.CARE, Answer.UNJUDGED]) is Answer.UNJUDGED
    assert worst([Answer.UNJUDGED, Answer.STOP]) is Answer.STOP


@pytest.mark.parametrize(
    ("margin", "question", "expected"),
    [
        (4.0, MACHINE, Answer.CLEAR),
        (2.8, MACHINE, Answer.CARE),  # 1 in 390: above 1 in 1000, below 1 in 100
        (2.0, MACHINE, Answer.STOP),
        (2.0, PART, Answer.CLEAR),
        (1.0, PART, Answer.CARE),
        (-0.1, PART, Answer.STOP),
        (-5.0, TIME, Answer.CARE),  # time never stops a job
    ],
)
def test_thresholds_go_by_what_is_at_risk(margin: float, question: Question, expected: Answer) -> None:
    known = facts(Fact("a", 0.0, 1.0, "mm"))
    assert answer(question, known, limit(of(known.facts["a"]), exact(margin))).answer is expected


def test_a_shop_sets_its_own_thresholds_and_the_risk_tool_is_not_the_question_tool() -> None:
    known = facts(
        Fact("machine.judgement.tool.care_above", 0.05, 0.0, "1", evidence=Evidence.SET),
        Fact("machine.judgement.travel.care_above", 0.2, 0.0, "1", evidence=Evidence.SET),
    )
    assert thresholds(Question("tool", Risk.MACHINE, "Right tool?"), known).care_above == 0.001
    assert thresholds(Question("power", Risk.TOOL, "Enough power?"), known).care_above == 0.05
    assert thresholds(MACHINE, known).care_above == 0.2


def test_two_hundred_places_that_share_one_doubt_are_one_chance() -> None:
    # NUMERICS 1.4.2: treating 200 moves as independent turns 10 % into certainty.
    known = facts(Fact("shared", 0.0, 1.0, "mm"))
    form = of(known.facts["shared"])
    one = answer(PART, known, limit(form, exact(1.2816)))
    many = answer(PART, known, *(limit(form, exact(1.2816), line) for line in range(1, 201)))
    assert one.any_chance == pytest.approx(0.10, abs=0.005)
    assert many.any_chance == one.any_chance


def test_a_fact_on_both_sides_cancels() -> None:
    known = facts(Fact("offset", 5.0, 3.0, "mm"), Fact("gap", 1.0, 0.1, "mm"))
    form = of(known.facts["offset"])
    found = answer(MACHINE, known, limit(form, form + of(known.facts["gap"])))
    assert [share.fact for share in found.doubt] == ["gap"]
    assert found.answer is Answer.CLEAR


def test_ratios_are_judged_in_logarithms() -> None:
    # P(D > C) at C = 2 D, u = 45 % of a lognormal D: 5.3 % (NUMERICS 1.4.1); a normal would say 1.3 %.
    from firstoff.facts.fact import Shape

    known = facts(Fact("d", 1.0, 0.45, "1", shape=Shape.LOGNORMAL))
    import math

    found = answer(PART, known, limit(of(known.facts["d"]), exact(math.log(2.0))), scale=Scale.RATIO)
    assert found.any_chance == pytest.approx(0.053, abs=0.005)


def test_a_missing_fact_never_hides_a_stop_and_a_count_has_no_chance() -> None:
    need = (Need("x", "machine.toml", "Measure it."),)
    bad = Check(Scale.COUNT, "", (), (Counted(Place(3), "Wrong tool.", "Change it.", Answer.STOP),))
    known = facts()
    stopped = judge(MACHINE, Finding((bad,), need), known.leaning(), Draws(known), lambda _: ("", None))
    assert stopped.answer is Answer.STOP
    assert stopped.chance is None
    assert stopped.needs == need
    unjudged = judge(MACHINE, Finding((), need), known.leaning(), Draws(known), lambda _: ("", None))
    assert unjudged.answer is Answer.UNJUDGED
    assert unjudged.why.startswith("I can't say")


def test_a_doubt_of_which_of_two_holds_makes_no_answer_milder_and_widens_the_band() -> None:
    """10(1) against 8 is over by two u; in half of the draws 4 holds instead, as b is above 0 or not."""
    known = facts(Fact("a", 10.0, 1.0, "mm"), Fact("b", 0.0, 1.0, "mm"))
    plain, four, over = of(known.facts["a"]), exact(4.0), of(known.facts["b"])
    question = Question("any", Risk.TOOL, "")
    sure = answer(question, known, limit(plain, exact(8.0)))
    either = answer(question, known, limit(plain.unless(over, four), exact(8.0)))
    assert either.answer is sure.answer is Answer.STOP
    assert either.any_chance == sure.any_chance
    assert sure.demand.low95 == pytest.approx(10.0 - 1.96, abs=0.05)
    assert either.demand.low95 == 4.0
    turned = answer(question, known, limit(four.unless(over, plain), exact(8.0)))
    assert turned.demand.value == 4.0
    assert turned.any_chance == pytest.approx(
        0.5 * 0.977, abs=0.02
    )  # P(z < 2) = 0.977 by tables of the normal distribution


def test_of_checks_that_are_all_clear_the_likeliest_is_told() -> None:
    known = facts(Fact("a", 10.0, 1.0, "mm"))
    near, nearer = (limit(of(known.facts["a"]), exact(value)) for value in (15.0, 14.0))
    checks = tuple(Check(Scale.DIFFERENCE, "mm", (one,)) for one in (near, nearer, near))
    told = judge(Question("any", Risk.PART, ""), Finding(checks), known.leaning(), Draws(known), lambda _: ("", None))
    assert told.capacity is not None
    assert told.capacity.value == 14.0
