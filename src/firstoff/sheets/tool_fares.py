"""How each tool of the crib fares: what is known of its length and edge, as an answer with its reasons, and the page's first sentence."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from firstoff.changer.crib import Crib, Item
from firstoff.changer.drift import LengthDrift, Measured
from firstoff.changer.length_window import GUARD, LengthWindow, against_limit, length_window
from firstoff.changer.rack import Beside, Fit
from firstoff.facts.fact import Evidence, Fact
from firstoff.sheets.fact_words import age_words
from firstoff.verdict.question import Answer
from firstoff.verdict.words import ShopUnits, count, listed

NEAR_END = 1.0
"""Standard uncertainties: an edge is not clear once the chance that its life is used up passes 1 in 6, the part of a normal distribution
beyond one of them (JCGM 100:2008, table G.1). That this is where to begin to care is ours: lives are known to a quarter at best."""
WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
MOST_TOLD = 2
"""Kinds of trouble that the first sentence names."""


@dataclass(frozen=True, slots=True)
class LastReading:
    """The newest length of this grip against the one before it."""

    change_mm: float
    u_mm: float
    limit_mm: float
    """Of the window about the length before."""
    kept: bool | None
    """None: too near the limit to tell."""


@dataclass(frozen=True, slots=True)
class Fares:
    """What is said of one tool."""

    answer: Answer
    reasons: tuple[tuple[str, str], ...]
    """(kind, words), worst first."""
    last: LastReading | None


def last_reading(item: Item, drift: LengthDrift | None) -> LastReading | None:
    """What the last measurement found; None with fewer than two of this grip, or without a window."""
    if drift is None or item.window is None:
        return None
    # A step that nobody said a word of (a new edge, a new grip) begins the lengths anew, and is the very thing to be told.
    points = drift.points if drift.anew_mm is None else (*drift.earlier[-1:], *drift.points)
    if len(points) < 2:
        return None
    before, now = points[-2:]
    window = _window_about(before, item.window)
    change, u = now.length_mm - before.length_mm, math.hypot(before.u_mm, now.u_mm)
    return LastReading(change, u, window.limit_mm, against_limit(abs(change), window.limit_mm, GUARD * u))


def _window_about(one: Measured, now: LengthWindow) -> LengthWindow:
    return length_window(one.length_mm, one.u_mm, now.setter, now.wear_mm)


def measured(fact: Fact | None) -> bool:
    """Whether somebody measured it."""
    return fact is not None and fact.evidence in (Evidence.MEASURED, Evidence.LEARNED)


def fares(item: Item, crib: Crib, drift: LengthDrift | None, units: ShopUnits) -> Fares:
    """Unjudged where the length check could not judge it; care where something speaks against it; else clear."""
    last = last_reading(item, drift)
    unknown = _unknown(item)
    told = [*_against(item, last, units), *_beside(item, crib, units)]
    if told:
        return Fares(Answer.CARE, (*told, *unknown), last)
    return Fares(Answer.UNJUDGED if unknown else Answer.CLEAR, tuple(unknown), last)


def _unknown(item: Item) -> list[tuple[str, str]]:
    """Why nobody can judge its length."""
    lost = {fact.path.rsplit(".", 1)[-1] for fact in item.void}
    if not item.gripped and item.length is None:
        return [("loose", "in no holder")]
    if item.length is None:
        return [("regripped", "gripped anew, not measured since")] if "LF" in lost else [("never", "never measured")]
    if not measured(item.length):
        return [("never", f"length {item.length.evidence.value}, never measured")]
    if item.window is None:
        needs = listed(list(dict.fromkeys(_short(path) for path in item.window_needs)))
        return [("window", f"no length window: {needs} not known")]
    return []


_SHORT = {"repeatability": "setter repeatability", "drift": "setter drift", "wear_allowed": "wear allowed"}


def _short(path: str) -> str:
    last = path.rsplit(".", 1)[-1]
    return _SHORT.get(last, last)


def _against(item: Item, last: LastReading | None, units: ShopUnits) -> list[tuple[str, str]]:
    told = []
    if item.condition == "suspect":
        told.append(("suspect", "suspect: look at its edges"))
    if last is not None and last.kept is not True:
        way = "shorter" if last.change_mm < 0 else "longer"
        told.append(("moved", f"{units.fine(abs(last.change_mm))} {way} than before"))
    share = item.life_used
    if share is not None and share >= 1.0:
        told.append(("worn", "its life is used up"))
    elif item.life is not None and item.used_up is not None and _near_end(item.life, item.used_up):
        told.append(("near", "its life may be used up"))
    lost = [fact.path.rsplit(".", 1)[-1] for fact in item.void]
    if item.length is not None and lost:
        told.append(("void", f"gripped anew: {listed(lost)} void"))
    return told


def _near_end(life: Fact, used: Fact) -> bool:
    return life.value - used.value < NEAR_END * math.hypot(life.u, used.u)


def _beside(item: Item, crib: Crib, units: ShopUnits) -> list[tuple[str, str]]:
    told = []
    for pair in crib.clashes:
        other = _other(pair, item.name)
        if other is not None:
            told.append(("beside", _beside_words(pair, other, units)))
    for one in crib.alike:
        if item.name in (one.first, one.second):
            other_name = one.second if item.name == one.first else one.first
            told.append(("alike", f"the length check takes {other_name} for it"))
    return told


def _other(pair: Beside, name: str) -> tuple[str, int] | None:
    if pair.tool == name:
        return pair.other_tool, pair.other_pocket
    return (pair.tool, pair.pocket) if pair.other_tool == name else None


def _beside_words(pair: Beside, other: tuple[str, int], units: ShopUnits) -> str:
    name, pocket = other
    if pair.fit is Fit.CANNOT_TELL:
        return f"nobody can tell whether it fits beside {name} in {pocket}"
    if pair.room_mm < 0:
        return f"overlaps {name} in {pocket} by {units.length(-pair.room_mm)}"
    return f"only {units.length(pair.room_mm)} beside {name} in {pocket}"


# --- the first sentence -----------------------------------------------------------------------------------------------


def spelled(number: int) -> str:
    """Small numbers as words."""
    return WORDS[number] if number < len(WORDS) else str(number)


_CLAUSES = {
    "suspect": ("is suspect", "are suspect"),
    "moved": ("is not as long as it was", "are not as long as they were"),
    "beside": ("does not surely fit beside its neighbour", "do not surely fit beside their neighbours"),
    "never": ("has never been measured", "have never been measured"),
    "regripped": (
        "was gripped anew and not measured since",
        "were gripped anew and not measured since",
    ),
    "worn": ("is worn", "are worn"),
    "near": ("may be worn", "may be worn"),
    "alike": ("cannot be told from another by its length", "cannot be told apart by their lengths"),
    "void": ("was gripped anew", "were gripped anew"),
    "window": ("has no length window", "have no length windows"),
    "loose": ("is in no holder", "are in no holder"),
}
"""What the first sentence says, the gravest first."""
LENGTH_KINDS = ("moved", "never", "regripped", "window", "loose")


def first_sentence(crib: Crib, found: Mapping[str, Fares]) -> str:
    """The page's first sentence, of what is loaded."""
    if not crib.items:
        return "No tool is described yet."
    loaded = [item.name for item in crib.items if item.loaded]
    if not loaded:
        return f"{_capital(count(len(crib.items), 'tool'))}, none of them loaded."
    within = [name for name in loaded if not any(kind in LENGTH_KINDS for kind, _ in found[name].reasons)]
    told = [_within(len(within), len(loaded))]
    by_kind = {kind: [n for n in loaded if any(one == kind for one, _ in found[n].reasons)] for kind in _CLAUSES}
    named: set[str] = set()
    for kind, (one, many) in _CLAUSES.items():
        names = [name for name in by_kind[kind] if name not in named]
        if not names or len(told) > MOST_TOLD:
            continue
        named |= set(names)
        who = listed(names, 3) if len(names) <= 3 else spelled(len(names))
        told.append(f"{who} {one if len(names) == 1 else many}")
    return _capital("; ".join(told)) + "."


def _within(number: int, loaded: int) -> str:
    if number == loaded and number > 1:
        return f"all {spelled(number)} loaded tools stand inside their length windows"
    within, of = (spelled(number), spelled(loaded)) if loaded < len(WORDS) else (str(number or "none"), str(loaded))
    if loaded == 1:
        return f"the one loaded tool stands {'inside its length window' if number else 'in no length window that is known'}"
    stands = "stands inside its length window" if number == 1 else "stand inside their length windows"
    return f"{'none' if not number else within} of {of} tools {stands}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


@dataclass(frozen=True, slots=True)
class Act:
    """The one thing to do first."""

    words: str
    tool: str
    form: str


def first_act(crib: Crib, found: Mapping[str, Fares]) -> Act | None:
    """What stands beside the sentence."""
    loaded = [item.name for item in crib.items if item.loaded]
    for kind, words, form in (
        ("suspect", "Put a fresh edge on {0}", "fresh"),
        ("moved", "Measure {0} again", "length"),
        ("never", "Measure {0}", "length"),
        ("regripped", "Measure {0}", "length"),
        ("worn", "Change the edge of {0}", "fresh"),
    ):
        for name in loaded:
            if any(one == kind for one, _ in found[name].reasons):
                return Act(words.format(name), name, form)
    return Act(f"Check the length of {loaded[0]}", loaded[0], "length") if loaded else None


def last_measured(items: Sequence[Item], now: datetime) -> str:
    """When a length was measured last."""
    lengths = [item.length for item in items if item.length is not None and measured(item.length)]
    dates = [length.on for length in lengths if length.on]
    if not dates:
        return "no length has a date" if lengths else "no length was ever measured"
    latest = max(dates)
    days = (now - latest).total_seconds() / 86400
    age = age_words(max(days, 0.0))
    return f"a length was last measured {age if age == 'today' else age + ' ago'}"
