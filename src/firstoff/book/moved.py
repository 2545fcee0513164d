"""What moved between two examinations of one job, and why, from their published records (`firstoff.examination/1`) alone.

The question *today* is left out on both sides: it is about one morning.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from firstoff.book.stands import JUDGED_BY
from firstoff.facts.change import Change, Stated
from firstoff.facts.derived import TAKEN
from firstoff.verdict.question import Answer, Risk

Record = Mapping[str, Any]
LEFT_OUT = "today"
NOT_ASKED = "not asked"
"""Stands for the answer of a question that one of the two examinations did not ask."""
MOST_CAUSES = 4
"""Changed facts told of one question: more is a list, not a reason."""
BRINGS = 0.01
"""Share of the doubt from which a fact is one of those that an answer hangs on. Our own choice: it brings a tenth of the whole then."""
EXPLAINS = 3.0
"""Standard uncertainties of its own by which a margin must be moved by one fact until unnamed tools are no longer suspected. Our own choice."""
NAMED, NEAR, LITTLE, FAR = range(4)
"""How near a changed fact is to a moved answer: its worst place names it; it is of something that is named; it brings a little doubt; none."""
_SPOKEN = {
    "LF": r"length|long",
    "OHX": r"stands? out|stick-out",
    "DC": r"diameter|wide",
    "holder": r"holder",
    "condition": r"suspect|worn|condition",
    "run_out": r"run-out",
}
"""How sentences speak of some facts of a tool."""


@dataclass(frozen=True, slots=True)
class Cause:
    """A changed fact that a moved answer leans on."""

    change: Change
    moves: float | None
    """By how many of the answer's own standard uncertainties the change moves its margin, to first order; None where no share of the
    doubt tells it."""


@dataclass(frozen=True, slots=True)
class Held:
    """A demand against a capacity, as an examination found them at the worst place."""

    demand: float | None
    capacity: float | None
    unit: str
    chance: float | None
    """That any place exceeds."""


@dataclass(frozen=True, slots=True)
class QuestionMoved:
    """One question whose answer is not what it was."""

    id: str
    risk: str
    was: str
    now: str
    before: Held
    after: Held
    line: int
    """Where it is worst now (where it was worst, if nothing is left to see); 0 where no line is to blame."""
    text: str
    why: str
    do: str
    causes: tuple[Cause, ...]

    @property
    def worse(self) -> bool:
        return rank(self.now) > rank(self.was)


@dataclass(frozen=True, slots=True)
class Margin:
    """What the tightest ratio of one risk has left: capacity over demand at best estimates."""

    question: str
    left: float


@dataclass(frozen=True, slots=True)
class Moved:
    """One job, then and now."""

    verdict: tuple[str, str]
    risks: Mapping[str, tuple[str, str]]
    """Then and now, of all four risks."""
    questions: tuple[QuestionMoved, ...]
    """Those whose answer moved, worst first."""
    left: Mapping[str, tuple[float, float]]
    """Capacity over demand, then and now, of the questions that hold them as a ratio and that both asked."""
    chances: Mapping[str, tuple[float, float]]
    """That any place exceeds, then and now, of the questions that have such a chance on both sides."""
    margins: Mapping[str, tuple[Margin | None, Margin | None]]
    """The tightest of each risk."""
    time_s: tuple[float | None, float | None]
    """Of the program as it is written."""

    @property
    def worse(self) -> bool:
        """Some answer is worse than it was."""
        return any(one.worse for one in self.questions)

    @property
    def better(self) -> bool:
        """Some answer is better than it was, and none worse."""
        return bool(self.questions) and not self.worse


def rank(answer: str) -> int:
    """Clear < care < unjudged < stop; what nobody asks stands with clear: it stops nothing."""
    return 0 if answer == NOT_ASKED else Answer(answer).rank


def moved(then: Record, now: Record, changes: Sequence[Change]) -> Moved:
    """What moved between two records of one job; `changes` are the facts that differ between the two."""
    before, after = _questions(then), _questions(now)
    names = list(dict.fromkeys((*after, *before)))
    told = [
        _question(name, before.get(name), after.get(name), changes, [*_settling(then, name), *_settling(now, name)])
        for name in names
    ]
    questions = [one for one in told if one is not None]
    questions.sort(key=lambda one: (-(rank(one.now) - rank(one.was)), -rank(one.now), names.index(one.id)))
    risks = {risk.value: (_risk(before, risk), _risk(after, risk)) for risk in Risk}
    lefts = _left(before), _left(after)
    return Moved(
        verdict=(worst_of(one for one, _ in risks.values()), worst_of(one for _, one in risks.values())),
        risks=risks,
        questions=tuple(questions),
        left={name: (lefts[0][name], lefts[1][name]) for name in lefts[0] if name in lefts[1]},
        chances={
            name: (float(one["any"]), float(after[name]["any"]))
            for name, one in before.items()
            if name in after and one["any"] is not None and after[name]["any"] is not None
        },
        margins={risk.value: (margin(then, risk.value), margin(now, risk.value)) for risk in Risk},
        time_s=(_total(then), _total(now)),
    )


def worst_of(answers: Iterable[str]) -> str:
    """The worst of some answers; clear where there are none."""
    return max(answers, key=rank, default=Answer.CLEAR.value)


def verdict_of(record: Record) -> str:
    """The verdict of a record without the question that is left out."""
    return worst_of(_risk(_questions(record), risk) for risk in Risk)


def margin(record: Record, risk: str) -> Margin | None:
    """The tightest question of a risk that holds a demand against a capacity as a ratio; None where there is none."""
    questions = _questions(record)
    found = [Margin(name, left) for name, left in _left(questions).items() if questions[name]["risk"] == risk]
    return min(found, key=lambda one: one.left, default=None)


def _left(questions: Mapping[str, Any]) -> dict[str, float]:
    """Capacity over demand at best estimates, where a question holds them as a ratio."""
    return {
        name: one["capacity"]["value"] / one["demand"]["value"]
        for name, one in questions.items()
        if one["scale"] == "ratio" and one["demand"] and one["capacity"] and one["demand"]["value"] > 0.0
    }


def _questions(record: Record) -> dict[str, Any]:
    return {one["id"]: one for one in record["questions"] if one["id"] != LEFT_OUT}


def _risk(questions: Mapping[str, Any], risk: Risk) -> str:
    answers = [one["answer"] for one in questions.values() if one["risk"] == risk.value]
    return worst_of(answers) if answers else Answer.UNJUDGED.value


def _total(record: Record) -> float | None:
    time = record["time_s"]
    return None if time is None else float(time["total"])


def _question(
    name: str, before: Any, after: Any, changes: Sequence[Change], settling: Sequence[str]
) -> QuestionMoved | None:
    was = NOT_ASKED if before is None else str(before["answer"])
    now = NOT_ASKED if after is None else str(after["answer"])
    if was == now:
        return None
    told = after if after is not None else before
    place = next((one["places"][0] for one in (after, before) if one is not None and one["places"]), None)
    return QuestionMoved(
        id=name,
        risk=told["risk"],
        was=was,
        now=now,
        before=_held(before),
        after=_held(after),
        line=0 if place is None else int(place["line"]),
        text="" if place is None else str(place["text"]),
        why=str(told["why"]) if after is not None else "Nobody asks it now.",
        do=str(told["do"]) if after is not None else "",
        causes=causes(before, after, changes, settling),
    )


def _held(question: Any) -> Held:
    if question is None:
        return Held(None, None, "", None)
    demand, capacity = question["demand"], question["capacity"]
    unit = next((one["unit"] for one in (demand, capacity) if one), "")
    return Held(
        None if demand is None else demand["value"],
        None if capacity is None else capacity["value"],
        unit,
        question["any"],
    )


def causes(before: Any, after: Any, changes: Sequence[Change], settling: Iterable[str] = ()) -> tuple[Cause, ...]:
    """The changed facts that a question leans on, the nearest to its worst place first, then in the order of what they move; all changed
    facts where it leans on none of them. `settling`: facts that would settle what it counts.

    A fact that a rule took from others is told only where none of the others changed: the rule follows them.
    """
    told = [one for one in (before, after) if one is not None]
    leaned = {path for one in told for path in one["leaned"]}
    shares: dict[str, float] = {}
    for one in told:
        for doubt in one["doubt"]:
            shares[doubt["fact"]] = max(shares.get(doubt["fact"], 0.0), doubt["share"])
    ratio = any(one["scale"] == "ratio" for one in told)
    stated = [one for one in changes if not _taken(one)] or list(changes)
    mine = [one for one in stated if one.path in leaned] or [
        one for one in changes if one.path in leaned and _taken(one)
    ]
    always = [one for one in changes if one.path == JUDGED_BY and one not in mine]  # another version may move anything
    found = [Cause(one, _moves(one, shares.get(one.path), ratio)) for one in (mine or stated) if one not in always]
    spoken = _spoken_of(before, after, settling)
    far = {one.change.path: _far(one, shares.get(one.change.path, 0.0), spoken) for one in found}
    found = [one for one in found if not _passed_over(one, found, far, spoken)]
    found.sort(key=lambda one: (far[one.change.path], one.moves is None, -(one.moves or 0.0)))
    return (*found[: MOST_CAUSES - len(always)], *(Cause(one, None) for one in always))


@dataclass(frozen=True, slots=True)
class _Spoken:
    """What the worse of two answers says."""

    worst: str
    """Its sentence, and that of its worst place."""
    others: str
    """Those of its other places."""
    paths: frozenset[str]
    """Facts that it needs, or that would settle it."""
    counted: bool


def _spoken_of(before: Any, after: Any, settling: Iterable[str]) -> _Spoken:
    worse = max((one for one in (after, before) if one is not None), key=lambda one: rank(one["answer"]))
    places = [str(place.get("what", "")) for place in worse["places"]]
    needs = [str(need["fact"]) for need in worse.get("needs", ())]
    return _Spoken(
        worst=" ".join((worse["why"], *places[:1])),
        others=" ".join(places[1:]),
        paths=frozenset((*needs, *settling)),
        counted=worse["scale"] == "count",
    )


def _far(cause: Cause, share: float, spoken: _Spoken) -> int:
    """How near a changed fact is to what an answer says: the less, the nearer."""
    path = cause.change.path
    if path in spoken.paths or share >= BRINGS or (cause.moves or 0.0) >= 1.0:
        return NAMED
    subject = _subject(path)
    if _says(spoken.worst, subject):
        return NAMED if _says_fact(spoken.worst, cause.change) else NEAR
    return NEAR if _says(spoken.others, subject) else LITTLE if share > 0.0 else FAR


def _passed_over(cause: Cause, all_of: Sequence[Cause], far: Mapping[str, int], spoken: _Spoken) -> bool:
    """Whether nothing speaks for a changed fact and something else explains the answer: a count says what it counts, and a margin that one
    fact moves by far was not moved by another tool."""
    if far[cause.change.path] != FAR:
        return False
    if spoken.counted:
        return any(value != FAR for value in far.values())
    other_tool = cause.change.path.startswith("tools.") and _is_tool(cause.change.path)
    return other_tool and any((one.moves or 0.0) >= EXPLAINS for one in all_of)


def _is_tool(path: str) -> bool:
    return path.split(".")[1] not in ("pocket", "register", "setter")


def _subject(path: str) -> str:
    """What a fact is of, as sentences call it: ``em6``, ``pocket 3``, ``T3``, ``al-6082``, ``rack``, ``G54``, ``X``, ``spindle``."""
    root, _, rest = path.partition(".")
    parts = rest.split(".")
    if len(parts) > 1 and (root, parts[0]) == ("machine", "axis"):
        return parts[1].upper()
    if len(parts) > 1 and (root, parts[0]) in (("machine", "zone"), ("job", "offset")):
        return parts[1]
    if len(parts) > 1 and parts[0] == "pocket":
        return f"pocket {parts[1]}"
    if len(parts) > 1 and (root, parts[0]) == ("job", "tools"):
        return f"T{parts[1]}"
    return parts[0]


def _says(words: str, name: str) -> bool:
    """Whether a sentence holds a name as a word of its own: ``em3-long`` is not em3."""
    return bool(name) and re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", words) is not None


def _says_fact(words: str, change: Change) -> bool:
    """Whether a sentence that names what a fact is of speaks of the fact itself, or of what it says now or said before."""
    parts = change.path.split(".")
    spoken = _SPOKEN.get(parts[2] if len(parts) > 2 else parts[-1], re.escape(parts[-1].replace("_", " ")))
    settings = [str(said["setting"]) for said in (change.old, change.new) if said is not None and "setting" in said]
    return re.search(rf"\b(?:{spoken})\b", words) is not None or any(_says(words, said) for said in settings)


def _settling(record: Record, question: str) -> list[str]:
    """Facts that would settle a question, as a record tells what to do next."""
    return [str(one["fact"]) for one in record.get("next", ()) if question in one["questions"]]


def _taken(change: Change) -> bool:
    return all(said is None or str(said.get("note", "")).startswith(TAKEN) for said in (change.old, change.new))


def _moves(change: Change, share: float | None, ratio: bool) -> float | None:
    """First order: the part of the doubt that the fact brings is √share of the whole, and its step counts in its own u."""
    old, new = change.old, change.new
    if share is None or not _number(old) or not _number(new) or old is None or new is None:
        return None
    u = max(old["u"], new["u"])
    if not u > 0.0:
        return None
    if not ratio:
        return float(math.sqrt(share) * abs(new["value"] - old["value"]) / u)
    if not (old["value"] > 0.0 and new["value"] > 0.0):
        return None
    return float(math.sqrt(share) * abs(math.log(new["value"] / old["value"])) / (u / max(old["value"], new["value"])))


def _number(said: Stated | None) -> bool:
    return said is not None and "value" in said
