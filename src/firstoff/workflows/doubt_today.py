"""Which facts carry today's doubt: the shares of doubt in the newest examination of each job, weighed by how near they are to an answer."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from firstoff.book.kept import KeptExamination
from firstoff.book.reading import last_examinations
from firstoff.workflows.book import ShopBook

NOT_CLEAR = ("care", "stop")
CLEAR_WEIGHS = 0.2
"""What a question weighs, against one that doubt has turned to care, that is just still clear."""
HARDLY_DECADES = 6.0
"""A chance of one in a million weighs nothing."""
MOST_NAMED = 3
BESIDE = 0.5
"""A fact is named beside the first where it carries at least this share of what the first one carries."""


def weight(answer: str, chance: float | None) -> float:
    """What the doubt of one question counts: 1 where the answer is care or stop and a chance says so; less the smaller the chance is, and
    nothing where no chance was found (what is missing is not doubt)."""
    if chance is None or chance <= 0:
        return 0.0
    if answer in NOT_CLEAR:
        return 1.0
    return CLEAR_WEIGHS * max(0.0, 1 + math.log10(chance) / HARDLY_DECADES)


def doubt_shares(records: Iterable[Mapping[str, Any]]) -> dict[str, float]:
    """Fact -> its share of all doubt in these records (`firstoff.examination/1`), greatest first; empty where there is none."""
    found: dict[str, float] = {}
    for record in records:
        for question in record["questions"]:
            much = weight(str(question["answer"]), question["any"])
            for one in question["doubt"] if much else ():
                found[one["fact"]] = found.get(one["fact"], 0.0) + much * float(one["share"])
    whole = math.fsum(found.values())
    order = sorted(found, key=lambda fact: (-found[fact], fact))
    return {fact: found[fact] / whole for fact in order} if whole > 0 else {}


def carriers(shares: Mapping[str, float]) -> tuple[str, ...]:
    """The few keys that carry most: the first, and those that come near it."""
    ordered = sorted(shares, key=lambda one: (-shares[one], one))
    if not ordered or shares[ordered[0]] <= 0:
        return ()
    least = BESIDE * shares[ordered[0]]
    return tuple(one for one in ordered if shares[one] >= least)[:MOST_NAMED]


def kept_now(shop: ShopBook) -> tuple[KeptExamination, ...]:
    """The newest examination of each job."""
    with shop.book.reading() as connection:
        return last_examinations(connection, shop.book)
