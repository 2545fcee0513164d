"""The program followed through its stock, as questions see it: what was cut, what came near, what it costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import CutLoads
from firstoff.removal.contact import CAP_MM
from firstoff.removal.swept import Surfaces, Swept
from firstoff.verdict.case import Case
from firstoff.verdict.question import Need

if TYPE_CHECKING:
    from firstoff.removal.target import TargetCheck

OURS = "following."
"""Facts of ours, there only where a program was followed: nobody writes or measures them, and no answer needs them."""
GRID = "following.grid"
"""The doubt that the grid brings to a gap."""
STOCK = "job.stock."
BLANK = "following.blank."
"""Facts that loads go with where they go with a face of the blank: they move as that fact does (`blank_in_loads`)."""


def stands_for(path: str) -> str:
    """The fact that somebody can measure, for one of ours that moves with it."""
    return STOCK + path.removeprefix(BLANK) if path.startswith(BLANK) else path


@dataclass(frozen=True, slots=True)
class Followed:
    """`likely` goes through the blank at best estimates, `largest` through the blank grown by twice its doubt (contact is judged there),
    `smallest` through the blank shrunk by as much (clean-up is judged there). The same sweep where the blank has no doubt."""

    likely: Swept
    largest: Swept
    smallest: Swept
    surfaces: Surfaces
    loads: CutLoads | None
    """None where the feed reached is not known: `Case.timeline_missing` names the facts, and `loads_of` leans on them."""
    without: Mapping[int, Swept]
    """By T: the program followed as if this tool had broken unseen when it was called; on a coarser grid, for contact of later tools."""
    leaned: tuple[str, ...]
    """Facts that following leaned on and cannot do without."""
    used: tuple[str, ...] = ()
    """Facts that it used and could do without."""
    unplaced: tuple[Need, ...] = ()
    """First rapids that nobody can place: no question of contact is clear of them."""
    cap_mm: float = CAP_MM
    """Wider gaps were not looked for: none of them could matter, doubt and all."""
    body_missing: tuple[str, ...] = ()
    """Facts without which a shank, a holder or the nose is not there to be held against anything."""
    target: TargetCheck | None = None
    """The likely finished stock held against the target part, where the job names one and the band that it may lie off."""
    small_target: TargetCheck | None = None
    """The same of the smallest blank: what it lacks."""


@dataclass(frozen=True, slots=True)
class NotFollowed:
    """Why the program could not be followed: facts that are missing, or words that name another reason."""

    leaned: tuple[str, ...]
    missing: tuple[str, ...]
    needs: tuple[Need, ...] = ()
    used: tuple[str, ...] = ()


def followed(case: Case, facts: Leaning) -> tuple[Followed | None, tuple[Need, ...]]:
    """The followed program for one question, which from now on leans on all that following needed; None with the needs if it could
    not be followed (missing facts are recorded in `facts`)."""
    told = case.followed
    for path in (*told.leaned, *(told.missing if isinstance(told, NotFollowed) else ())):
        if path in facts.facts.settings:
            facts.setting(path)
        else:
            facts.number(path)
    for path in told.used:
        facts.leaned.setdefault(path, None)
    return (None, told.needs) if isinstance(told, NotFollowed) else (told, ())


def loads_of(case: Case, facts: Leaning) -> tuple[CutLoads | None, tuple[Need, ...]]:
    """What cutting costs, for one question; None with the needs where it is not known (missing facts are recorded in `facts`)."""
    told, needs = followed(case, facts)
    if told is None:
        return None, needs
    for path in case.timeline_missing:
        facts.number(path)
    return told.loads, ()
