"""The first sentence of the machine page: whose doubt carries most today, and the act beside it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from firstoff.facts.fact import Evidence, FactSet
from firstoff.sheets.wording import fact_name
from firstoff.verdict.words import listed
from firstoff.workflows.doubt_today import carriers
from firstoff.workflows.machine import KeyRow

HALF = 0.5
OWN_COUNTS = 0.1
"""From this share on the machine's own facts are worth a word beside another's."""
FIRST_WANTED = (
    *((f"machine.axis.{axis}.travel", f"{axis.upper()} travel") for axis in "xyz"),
    ("machine.spindle.speed", "spindle speed"),
    ("machine.spindle.power_s1", "spindle power"),
    ("machine.axis.x.max_feed", "greatest X feed"),
    ("machine.spindle.stiffness", "spindle stiffness"),
)
"""What a shop says first of its machine, in this order."""


@dataclass(frozen=True, slots=True)
class Said:
    """The sentence, the act, and the keys that carry most."""

    words: str
    act: str = ""
    href: str = ""
    carry: tuple[str, ...] = ()
    """Paths of the rows on this page that carry most of today's doubt: the only accent rows."""


def first_sentence(keys: Sequence[KeyRow], shares: Mapping[str, float], examined: bool, facts: FactSet) -> Said:
    """What is missing first; else whose doubt carries most; else that none does."""
    missing = [(path, name) for path, name in FIRST_WANTED if not facts.has(path) and not any(facts.under(f"{path}."))]
    if missing:
        return _begin(missing)
    if not examined:
        return Said("No job has been examined yet, so nobody can say which fact counts most.", "Examine a job", "/jobs")
    by_key = _of_keys(keys, shares)
    first = carriers(by_key)
    if not first:
        return Said("No fact's doubt comes near an answer today.")
    rows = {key.path: key for key in keys}
    own = tuple(path for path in first if path in rows)
    held = sum(by_key[path] for path in first)
    named = listed([_name(path) for path in first])
    words = f"{_capital(named)} {_carry(len(first))} most of today's doubt"
    if held < HALF:
        words = f"More of today's doubt lies in {named} than anywhere else"
    if own:
        return Said(f"{words}.", *_act(own[0], rows[own[0]].evidence), own)
    of_machine = {path: share for path, share in by_key.items() if path in rows}
    if sum(of_machine.values()) < OWN_COUNTS:
        return Said(f"{words}; this machine's own facts carry hardly any.", *_act(first[0], None))
    most = carriers(of_machine)
    return Said(
        f"{words}; of the machine's own it is {listed([_name(path) for path in most])}.",
        *_act(most[0], rows[most[0]].evidence),
        most,
    )


def _begin(missing: Sequence[tuple[str, str]]) -> Said:
    path, name = missing[0]
    travel = [one for one in missing if one[0].endswith(".travel")]
    if len(travel) == 3:
        words = "How far this machine can go is not known yet: write its travel first, off its plate or with a rule."
    elif travel:
        words = f"{listed([name for _, name in travel])} {'is' if len(travel) == 1 else 'are'} not known yet: write {'it' if len(travel) == 1 else 'them'} first."
    else:
        words = f"{_capital(listed([name for _, name in missing[:3]]))} {'is' if len(missing) == 1 else 'are'} not known yet."
    return Said(words, f"Write {name}", f"/machine?open={path}#{path}")


def _of_keys(keys: Sequence[KeyRow], shares: Mapping[str, float]) -> dict[str, float]:
    """Shares by what can be set: a row of this page, or a fact of a tool, a material or a job. Rules of the trade have no row and no trial."""
    found: dict[str, float] = {}
    held = {fact.path: key.path for key in keys for fact in key.facts}
    for fact, share in shares.items():
        path = held.get(fact, fact)
        if path in held.values() or re.match(r"(?:tools|materials|job)\.", path):
            found[path] = found.get(path, 0.0) + share
    return found


def _carry(count: int) -> str:
    return "carries" if count == 1 else "carry"


def _act(path: str, evidence: Evidence | None) -> tuple[str, str]:
    """(words, where): a row of this page is opened; a tool is looked at in its room."""
    root, name = path.split(".")[:2]
    if root == "machine":
        again = " again" if evidence in (Evidence.MEASURED, Evidence.LEARNED) else ""
        return f"Measure {fact_name(path).removeprefix('the ')}{again}", f"/machine?open={path}#{path}"
    if root == "tools":
        return f"Look at {name}", f"/tools?tool={quote(name)}#chosen"
    return ("Look at the jobs", "/jobs")


def _name(path: str) -> str:
    words = fact_name(path)
    return words if words.startswith(("the ", "what ", "G", "X ", "Y ", "Z ")) else f"the {words}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
