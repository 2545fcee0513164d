"""A kept examination stands as long as all that it asked for says the same, and no longer."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from firstoff.book.kept import KeptExamination
from firstoff.book.stands import TODAY, Reason, asks_for, stands
from firstoff.facts.change import Change

PATHS = ("machine.frame.stiffness", "tools.em6.LF", "tools.em3.LF", "job.material", "machine.show")
SAID = st.one_of(
    st.just({}),
    st.fixed_dictionaries({"value": st.floats(-9, 9), "u": st.floats(0, 1), "note": st.sampled_from(("", "read"))}),
    st.fixed_dictionaries({"setting": st.sampled_from(("a", "b", True, 3))}),
)
FILES = ("O2000.nc", "ring.stl", "./")


def kept(leaned: dict[str, Any], files: dict[str, str] | None = None) -> KeptExamination:
    record = {"program": {"file": "program.nc"}}
    return KeptExamination(1, datetime(2026, 9, 14), "j", "jobs/j", {}, "sha", leaned, frozenset(), files or {}, record)


@given(st.fixed_dictionaries(dict.fromkeys(PATHS, SAID)), st.fixed_dictionaries(dict.fromkeys(PATHS, SAID)))
def test_the_reason_names_all_that_differs_and_nothing_else(was: dict[str, Any], now: dict[str, Any]) -> None:
    reason = stands(kept(was), now, {}, "sha")
    different = {path for path in PATHS if was[path] != now[path]}
    assert (reason is None) == (not different)
    if reason is not None:
        assert set(reason.paths) == different
        for change in reason.changes:
            assert (change.old or {}) == was[change.path]
            assert (change.new or {}) == now[change.path]


@given(st.lists(st.sampled_from("abcdef"), unique=True), st.lists(st.sampled_from("abcdef"), unique=True))
def test_what_was_gone_through_must_hold_the_same(was: list[str], now: list[str]) -> None:
    before, after = ({"setting": [f"machine.zone.{name}" for name in names]} for names in (was, now))
    reason = stands(kept({"machine.zone.": before}), {"machine.zone.": after}, {}, "sha")
    assert (reason is None) == (was == now)
    if reason is not None and set(was) != set(now):
        assert {path.rpartition(".")[2] for path in reason.paths} == set(was) ^ set(now)


@given(
    st.dictionaries(st.sampled_from(FILES), st.sampled_from("xyz")),
    st.dictionaries(st.sampled_from(FILES), st.sampled_from("xyz")),
)
def test_files_and_program(was: dict[str, str], now: dict[str, str]) -> None:
    reason = stands(kept({}, was), {}, now, "sha")
    assert set(reason.files if reason else ()) == {file for file in was if now.get(file) != was[file]}
    assert stands(kept({}, was), {}, was, "another") == Reason((), ("program.nc",))


def test_what_is_not_answered_counts_as_changed() -> None:
    said = {"setting": "mm"}
    assert stands(kept({"machine.show": said}), {}, {}, "sha") == Reason((Change("machine.show", said, None),))


def test_todays_card_is_no_reason() -> None:
    one = kept({f"{TODAY}warm": {"value": 1}, "machine.": {"setting": [f"{TODAY}warm", "machine.show"]}})
    assert stands(one, {"machine.": {"setting": ["machine.show"]}}, {}, "sha") is None


def test_what_was_asked_for() -> None:
    one = kept({"tools.em6.LF": {}, "tools.pocket.": {"setting": []}})
    assert asks_for(one, "tools.em6.LF")
    assert asks_for(one, "tools.pocket.3.tool")
    assert not asks_for(one, "tools.em6.DC")
    assert not asks_for(one, "tools.pockets")
    assert asks_for(kept({"": {"setting": []}}), "anything.at.all")
