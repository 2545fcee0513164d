"""Facts that note what is asked of them: all of it, and nothing that nobody asked."""

from __future__ import annotations

import pickle

import pytest

from firstoff.facts.change import all_stated
from firstoff.facts.fact import Fact, FactSet, Setting
from firstoff.facts.heard import NOT_THERE, HeardFacts, all_paths, hearing, said_of

FACTS = FactSet(
    {path: Fact(path, float(n), 0.1, "mm") for n, path in enumerate(("machine.a", "machine.b", "tools.em6.LF"))},
    {"job.material": Setting("job.material", "pom"), "machine.show": Setting("machine.show", "mm")},
)
ALWAYS = {"job.material", "materials.pom.kc_mc_correlation"}
"""What makes facts go together."""


@pytest.fixture
def heard() -> HeardFacts:
    return hearing(FACTS)


def asked(heard: HeardFacts) -> set[str]:
    return set(heard.asked) - ALWAYS


def test_every_way_of_asking_is_noted(heard: HeardFacts) -> None:
    assert heard.facts.get("machine.a") is FACTS.facts["machine.a"]
    assert heard.facts["machine.b"] is FACTS.facts["machine.b"]
    assert heard.facts.get("machine.c") is None
    assert "machine.d" not in heard.settings
    assert heard.has("machine.show")
    with pytest.raises(KeyError):
        heard.facts["machine.e"]
    assert asked(heard) == {"machine.a", "machine.b", "machine.c", "machine.d", "machine.e", "machine.show"}


def test_leaning_is_noted(heard: HeardFacts) -> None:
    leaning = heard.leaning()
    leaning.number("tools.em6.LF")
    leaning.setting_if_known("machine.nothing")
    assert asked(heard) == {"tools.em6.LF", "machine.nothing"}


def test_going_through_a_part_is_noted_and_going_through_all_is_everything(heard: HeardFacts) -> None:
    assert list(heard.under("machine.")) == ["machine.a", "machine.b", "machine.show"]
    assert asked(heard) == {"machine."}
    assert dict(heard.facts.items()) == FACTS.facts
    assert asked(heard) == {"machine.", "", *FACTS.facts}


def test_what_is_made_from_them_notes_into_the_same_place(heard: HeardFacts) -> None:
    more = heard.with_facts({"following.grid": Fact("following.grid", 1.0, 0.0, "mm")})
    moved = heard.with_values({"machine.a": 9.0})
    less = heard.without("machine.b")
    assert asked(heard) == set()
    assert more.facts["following.grid"].value == 1.0
    assert moved.facts["machine.a"].value == 9.0
    assert "machine.b" not in less.facts
    assert asked(heard) == {"following.grid", "machine.a", "machine.b"}


def test_writing_down_what_is_there_asks_for_nothing(heard: HeardFacts) -> None:
    assert all_stated(heard) == all_stated(FACTS)
    assert all_paths(heard) == all_paths(FACTS)
    assert asked(heard) == set()


def test_what_they_say(heard: HeardFacts) -> None:
    said = said_of(heard, {"machine.a": None, "machine.z": None, "machine.": None, "machine.show": None})
    assert said["machine.a"]["value"] == 0.0
    assert said["machine.z"] == NOT_THERE
    assert said["machine."] == {"setting": ["machine.a", "machine.b", "machine.show"]}
    assert said["machine.show"] == {"setting": "mm"}
    assert asked(heard) == set()


def test_they_can_be_sent_to_another_process(heard: HeardFacts) -> None:
    heard.facts.get("machine.a")
    there = pickle.loads(pickle.dumps(heard))
    assert there.facts["machine.b"] == FACTS.facts["machine.b"]
    assert asked(there) == {"machine.a", "machine.b"}
