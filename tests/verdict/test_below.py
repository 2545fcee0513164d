"""Below: the answer hangs on the tip alone; a followed program says whether it cuts there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from firstoff.verdict.followed import NotFollowed
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import below

from .conftest import swap
from .synthetic import ask, case_of, followed_case, move_of

Shop = Callable[..., Path]


def test_a_deep_tip_is_a_stop_whether_it_cuts_or_not_and_the_words_say_which(shop: Shop) -> None:
    case = case_of(shop(program=swap("G1 Z-2 F800", "G1 Z-12 F800")))
    deep = move_of(case, "G1 Z-12 F800")
    unfollowed = ask(below, replace(case, followed=NotFollowed((), ())))
    cutting = ask(below, followed_case(case, lowest_mm={deep: -12.0}))
    beside = ask(below, followed_case(case))
    assert {one[1].answer for one in (unfollowed, cutting, beside)} == {Answer.STOP}
    assert {one[1].demand for one in (unfollowed, cutting, beside)} == {unfollowed[1].demand}
    assert "goes to Z -12" in unfollowed[1].why
    assert "cuts to Z -12" in cutting[1].why
    assert "goes, cutting nothing, to Z -12" in beside[1].why


def test_what_is_too_wide_is_told_to_be_asked_elsewhere_once_the_stock_is_followed(shop: Shop) -> None:
    case = case_of(shop())
    assert any("not looked at" in note for note in ask(below, replace(case, followed=NotFollowed((), ())))[0].notes)
    assert any("target" in note for note in ask(below, followed_case(case))[0].notes)
