"""Facts of the good demo jobs taken away, one after the other: exactly the questions that name one say "I can't say".

Following the stock anew for every fact would take an hour, so:

- questions that do not follow the stock: every fact that they lean on of the shortest job, where no other question may move either; of the other
  good jobs one of each kind that the same questions lean on;
- facts that follow-up questions use and following itself does not (holding, tolerances, ratings, rules of practice ...): all of the two
  short jobs, judged on the stock as it was followed;
- facts that following cannot do without: all of the shortest job; it is then not followed, and says so;
- facts that following uses and can do without, or that only change what it finds: a choice of each kind, followed anew.
"""

from __future__ import annotations

import pytest

from firstoff import workflows
from firstoff.demo.asked import kind_of
from firstoff.demo.good import GOOD
from firstoff.facts.fact import FactSet
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import OURS, Followed
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import UNFOLLOWED

from .conftest import DemoShop

READ_WITH = ("machine.control.", "job.tools.", "tools.pocket.", "tools.register.")
"""Facts that the reading itself leans on: they are taken away in files, in tests/verdict/test_remove_one.py."""
LISTED = (
    "machine.zone.",
    "job.fixture.",
    "machine.spindle.power_s1.",
    "machine.spindle.power_s6.",
    "machine.spindle.no_load.",
)
"""Elements of lists and points of curves: one fewer is a statement of its own, and a part of one alone cannot be written."""
ASKS = ("job.feature.", "job.ask.finish", "job.target")
"""What a job asks of its part: taken away, a question asks less or nothing. Not so the tolerance of a feature that stays listed."""
SHORT = ("cable-clip", "clamp-ring")
FOLLOWED_ANEW = (
    "machine.axis.x.accel",
    "machine.spindle.nose.0.diameter",
    "tools.em3.OHX",
    "tools.em6.APMX",
    "tools.em6.ZEFP",
    "tools.face16.centre_cutting",
    "materials.al-6082.kc",
    "materials.al-6082.radial_ratio",
)


class Whole:
    """One good job with nothing taken away."""

    def __init__(self, shop: DemoShop, name: str) -> None:
        self.prepared = shop.prepared(name)
        self.examination = shop.whole(name)

    @property
    def followed(self) -> Followed:
        told = self.examination.case.followed
        assert isinstance(told, Followed)
        return told

    def leaning_on(self, path: str) -> list[str]:
        return [one.question.id for one in self.examination.answers if path in one.leaned]

    def without(self, path: str) -> FactSet:
        return self.prepared.job.facts.without(path)

    def check_on_the_same_stock(self, path: str) -> None:
        """Judge the questions that lean on a fact without it."""
        only = self.leaning_on(path)
        check(path, self.examination, workflows.judge(self.prepared, self.without(path), only, reuse=self.followed))


@pytest.fixture(scope="module")
def wholes(shop: DemoShop) -> dict[str, Whole]:
    return {name: Whole(shop, name) for name in SHORT}


@pytest.mark.parametrize("name", [plan.name for plan in GOOD])
def test_every_fact_of_the_questions_that_do_not_follow_the_stock(name: str, shop: DemoShop) -> None:
    prepared = shop.prepared(name)
    whole = workflows.judge(prepared, only=UNFOLLOWED)
    leaned = sorted({path for one in whole.answers for path in one.leaned if may_be_taken(path)})
    assert len(leaned) > 30
    leaning = {path: tuple(one.question.id for one in whole.answers if path in one.leaned) for path in leaned}
    one_of_each = {(kind_of(path), leaning[path]): path for path in leaned}
    for path in leaned if name == SHORT[0] else one_of_each.values():
        only = UNFOLLOWED if name == SHORT[0] else leaning[path]
        check(path, whole, workflows.judge(prepared, prepared.job.facts.without(path), only))


@pytest.mark.parametrize("name", SHORT)
def test_every_fact_that_only_judging_uses(name: str, wholes: dict[str, Whole]) -> None:
    whole = wholes[name]
    by_following = {*whole.followed.leaned, *whole.followed.used}
    leaned = {path for one in whole.examination.answers if one.question.id not in UNFOLLOWED for path in one.leaned}
    mine = sorted(path for path in leaned - by_following if may_be_taken(path) and not path.startswith("materials."))
    assert len(mine) > 40
    for path in mine:
        whole.check_on_the_same_stock(path)


def test_every_fact_that_following_cannot_do_without(wholes: dict[str, Whole]) -> None:
    whole = wholes["cable-clip"]
    needed = [path for path in whole.followed.leaned if may_be_taken(path)]
    assert len(needed) > 20
    for path in needed:
        after = workflows.judge(whole.prepared, whole.without(path))
        assert not isinstance(after.case.followed, Followed), path
        check(path, whole.examination, after)


@pytest.mark.parametrize("path", FOLLOWED_ANEW)
def test_a_fact_that_following_uses(path: str, wholes: dict[str, Whole]) -> None:
    whole = wholes["cable-clip"]
    assert whole.leaning_on(path), "nothing leans on it: choose another"
    check(path, whole.examination, workflows.judge(whole.prepared, whole.without(path)))


def may_be_taken(path: str) -> bool:
    asked = path.startswith(ASKS) and not path.endswith(".tol")
    return not asked and not path.startswith((OURS, *READ_WITH, *LISTED))


def check(path: str, whole: Examination, after: Examination) -> None:
    asked = {one.question.id: one for one in after.answers}
    for before in whole.answers:
        now = asked.get(before.question.id)
        if now is None:
            continue
        named = any(path == need.fact for need in now.needs)
        if path in before.needed:
            assert named, f"{before.question.id} needed {path} and does not name it: {now.needs}"
        if named:
            assert now.answer in (Answer.UNJUDGED, Answer.STOP), (path, before.question.id)
        elif path not in before.leaned:
            assert now.answer is before.answer, (path, before.question.id, now.why)
